"""A sorbent as the rest of the package sees it: its row of numbers, its solid, its limits and its sheet."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.errors import FileError, Problem, SheetError, nearest_name
from welkinwell.moist_air.saturation import latent_heat as _latent_heat
from welkinwell.moist_air.saturation import saturation_pressure as _saturation_pressure
from welkinwell.quantities import scale
from welkinwell.sorbents import (
    brine,
    dual_site_langmuir,
    dual_site_sips,
    dubinin_astakhov,
    freundlich,
    gab,
    hydrate,
    sips_terms,
    toth,
)
from welkinwell.sorbents.kinetics import fill_kinetics, fill_rate_law
from welkinwell.sorbents.potential import potential_at_loading as _potential_at_loading
from welkinwell.sorbents.potential import sorbed_state as _sorbed_state
from welkinwell.sorbents.row import (
    FORM_SALT_HYDRATES,
    SLOT_DIFFUSION_LENGTH,
    SLOT_DIFFUSIVITY,
    SLOT_FORM,
    SLOT_HYSTERESIS,
    empty_row,
)
from welkinwell.sorbents.sheet import Sheet, read_sheet
from welkinwell.sorbents.uptake import rate_near_equilibrium as _rate_near_equilibrium
from welkinwell.text_file import why_no_file

LEAST_HEAT_RATIO: Final = 0.98  # isosteric over latent heat, below which a sheet must give its reason
DRIEST_HUMIDITY: Final = 1e-12


@dataclass(frozen=True, eq=False)
class Sorbent:
    """One sorbent: SI numbers ready for the march, and the sheet that they come from.

    key, name, family: as in the sheet; row: numbers of isotherm and kinetics (see `row`) [1];
    dry_specific_heat [J/(kg K)]; grain_density and bulk_density: dry mass over volume [kg/m3];
    skeletal_density: the same of the solid without any pore, None where the sheet gives none [kg/m3];
    layer_porosity: open share between grains [1]; layer_conductivity: dry [W/(m K)];
    grain_radius: or slab thickness [m]; temperature_range and potential_range: of the measured points
    [K], [J/mol]; extrapolation_spread: spread of the potential for each kelvin outside [J/(mol K)];
    regeneration_range: practical release temperatures [K]; service_temperature: never exceeded [K];
    hysteresis_width: the release branch holds q(A - width), zero when one branch serves both [J/mol];
    salt: whose crystallisation line holds, or empty;
    phases: row with its crystals, None where no crystals form by the sheet [1];
    leak_humidity: above which brine leaves the sorbent, 1 when never [1]; price [USD/kg];
    rate_covers_layer: whether the rate includes the way through the whole layer (a slab), so that no
    layer resistance is added; cautions, leaching: sentences; sources: keys of sources.bib; sheet: as read.
    """

    key: str
    name: str
    family: str
    row: NDArray[np.float64] = field(repr=False)
    dry_specific_heat: float
    grain_density: float
    bulk_density: float
    skeletal_density: float | None
    layer_porosity: float
    layer_conductivity: float
    grain_radius: float
    temperature_range: tuple[float, float]
    potential_range: tuple[float, float]
    extrapolation_spread: float
    regeneration_range: tuple[float, float]
    service_temperature: float
    hysteresis_width: float
    salt: str
    phases: NDArray[np.float64] | None = field(repr=False)
    leak_humidity: float
    price: float
    rate_covers_layer: bool
    cautions: tuple[str, ...]
    leaching: tuple[str, ...]
    sources: tuple[str, ...]
    sheet: Sheet = field(repr=False)

    def __post_init__(self) -> None:
        """Keep the row from being changed: one that can be would be compiled for once more."""
        if self.row.flags.writeable:
            row = self.row.copy()
            row.flags.writeable = False
            object.__setattr__(self, "row", row)

    def loading(self, T: Any, rh: Any) -> Any:
        """Return the loading in equilibrium with air.

        Args: T [K]; rh: relative humidity over liquid water [1]. Arrays, xarray or numbers.
        Returns: loading [kg/kg dry].
        """
        return _spread_over(_over_arrays(_loading_face), self.row, T, rh)

    def pressure(self, T: Any, loading: Any) -> Any:
        """Return the vapour pressure in equilibrium with a loading, p = p_sat(T) exp(-A / R T).

        Args: T [K]; loading [kg/kg dry]. Returns: vapour pressure [Pa].
        """
        return _spread_over(_over_arrays(_pressure_face), self.row, T, loading)

    def isosteric_heat(self, T: Any, loading: Any) -> Any:
        """Return the isosteric heat, h_fg + (A - T (dA/dT)_q) / M_w: the slope of the sheet's own isotherm.

        Args: T [K]; loading [kg/kg dry]. Returns: heat [J/kg of water].
        """
        return _spread_over(_over_arrays(_isosteric_heat_face), self.row, T, loading)

    def rate(self, T: Any, loading: Any = 0.0) -> Any:
        """Return the rate near equilibrium, k = F D0 exp(-Ea / (R T)) / L^2 with what the loading does to it.

        Args: T [K]; loading, without effect where the sheet states no law [kg/kg dry]. Returns: k [1/s].
        """
        return _spread_over(_over_arrays(_rate_face), self.row, T, loading)

    def release_loading(self, T: Any, rh: Any) -> Any:
        """Return the loading in equilibrium with air on the way out: that of `loading` without hysteresis.

        Args: T [K]; rh [1]. Returns: loading [kg/kg dry].
        """
        return self.loading(T, rh * np.exp(self.row[SLOT_HYSTERESIS] / (GAS_CONSTANT * T)))

    def crystallisation_humidity(self, T: float) -> float:
        """Return the relative humidity below which crystals form in its brine, 0 when there is none.

        Where a solid and the solution of the sheet are equally stable. For a sheet without crystals, the
        activity of its brine at the solubility line; where none is known, the figure of the sheet at 25 C.
        Args: T [K]. Returns: relative humidity [1].
        """
        if self.phases is not None:
            return math.exp(-float(hydrate.saturation_potential(self.phases, T)) / (GAS_CONSTANT * T))
        line = brine.crystallisation_humidity(self.salt, T) if self.salt else None
        if line is not None:
            return line
        number = self.sheet.numbers.get("brine.crystallisation_humidity")
        return number.value if number else 0.0

    def saturated_loading(self, T: float) -> float:
        """Return the loading of its saturated solution, under which crystals form; 0 when there are none.

        Args: T [K]. Returns: loading [kg/kg dry].
        """
        line = self.crystallisation_humidity(T)
        return float(self.as_solution().loading(T, line)) if line > 0.0 else 0.0

    def as_solution(self) -> Sorbent:
        """Return the sorbent with all its salt dissolved, metastable below the crystallisation line.

        The solution has no crystals to measure its heat from: what the curvature of its offset adds to the
        heat capacity at 298.15 K, 2 T g2 / M_w, goes into the dry specific heat, which is apparent then.
        Returns: the sorbent; itself where no crystals form.
        """
        if self.phases is None or self.row[SLOT_FORM] != FORM_SALT_HYDRATES:
            return self
        curve = float(self.row[hydrate.SLOT_OFFSET_CURVE])
        extra = 2.0 * hydrate.REFERENCE_TEMPERATURE * curve / WATER_MOLAR_MASS
        return replace(
            self, row=hydrate.solution_row(self.row), dry_specific_heat=self.dry_specific_heat + extra
        )

    def potential(self, T: Any, rh: Any) -> Any:
        """Return the adsorption potential A = R T ln(1 / rh).

        Args: T [K]; rh [1]. Returns: A [J/mol].
        """
        return -GAS_CONSTANT * T * np.log(rh)

    def in_layer(self, thickness: float) -> Sorbent:
        """Return the sorbent in a layer of another thickness: a slab's rate follows it, grains do not.

        Args: thickness of the layer, open on one side [m]. Returns: the sorbent.
        """
        if not self.rate_covers_layer:
            return self
        return replace(self, row=self.adjusted_row(length=thickness), grain_radius=thickness)

    def of_grain(self, radius: float) -> Sorbent:
        """Return the sorbent in grains of another radius: the rate falls with its square (Glueckauf1955).

        Args: radius [m]. Returns: the sorbent; a slab stays as it is, see `in_layer`.
        """
        if self.rate_covers_layer:
            return self
        return replace(self, row=self.adjusted_row(length=radius), grain_radius=radius)

    def refitted(self, values: Mapping[str, float]) -> Sorbent:
        """Return it with other numbers of its isotherm; the sheet's own words and spreads stay.

        Args: values: by key below isotherm, as "terms[0].capacity" or "monolayer", each in SI [SI].
        Returns: the sorbent; its rate and all else as it was.
        """
        sheet = self.sheet.with_values(values)
        row = self.row.copy()
        _fill_isotherm(row, sheet)
        return replace(self, sheet=sheet, row=row)

    def adjusted_row(self, rate_factor: float = 1.0, length: float | None = None) -> NDArray[np.float64]:
        """Return a copy of the row with a scaled rate or another grain radius or slab thickness.

        Args: rate_factor: multiplies the rate [1]; length: grain radius or slab thickness [m].
        Returns: row [1].
        """
        row = self.row.copy()
        row[SLOT_DIFFUSIVITY] *= rate_factor
        if length is not None:
            row[SLOT_DIFFUSION_LENGTH] = length
        row.flags.writeable = False
        return row


def sheet_names() -> tuple[str, ...]:
    """Return the names of the sheets that come with the package."""
    found = (entry.name for entry in _library().iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in found if name.endswith(".toml")))


def sorbent(name_or_path: str | Path) -> Sorbent:
    """Load a sorbent by the name of its sheet, or from the path of a sheet of your own.

    Args: name_or_path. Returns: the sorbent; a SheetError says what is wrong with the name or the sheet.
    """
    text = str(name_or_path)
    if text in sheet_names():
        return _from_library(text)
    path = Path(name_or_path)
    reason = why_no_file(path)
    if path.suffix == ".toml" or reason != "no such file":
        if reason:
            advice = "There is no such file." if reason == "no such file" else f"It is {reason}."
            raise FileError(Problem("sorbent", repr(text), "the path of a TOML data sheet", advice))
        return build_sorbent(read_sheet(path))
    names = sheet_names()
    advice = nearest_name(text, names)
    raise SheetError(
        Problem("sorbent", repr(text), "the path of a sheet, or one of " + ", ".join(names), advice)
    )


def points_path(name: str) -> Traversable:
    """Return the place of a CSV file of points that a sheet names.

    Args: name of the file. Returns: its place in the library.
    """
    return _library().joinpath("points", name)


def build_sorbent(sheet: Sheet, check_heat: bool = True) -> Sorbent:
    """Turn a checked sheet into a sorbent, and refuse heats that the sheet does not explain.

    Args: sheet; check_heat: false for sheets of the library, whose heats the tests check, which saves
    the compilation. Returns: the sorbent.
    """
    value = sheet.value
    row = empty_row()
    _fill_isotherm(row, sheet)
    shape = sheet.texts["kinetics.shape"]
    length = value("kinetics.length")
    fill_kinetics(row, shape, value("kinetics.diffusivity"), value("kinetics.activation_energy"), length)
    exponent, swelling = (
        sheet.numbers[f"kinetics.{key}"].value if f"kinetics.{key}" in sheet.numbers else 0.0
        for key in ("loading_exponent", "swelling")
    )
    fill_rate_law(row, sheet.texts.get("kinetics.driving") == "potential", exponent, swelling)
    hysteresis = sheet.numbers.get("isotherm.hysteresis_width")
    row[SLOT_HYSTERESIS] = hysteresis.value if hysteresis else 0.0
    leak = sheet.numbers.get("use.leak_humidity")
    skeleton = sheet.numbers.get("solid.skeletal_density")
    made = Sorbent(
        key=sheet.texts["key"],
        name=sheet.texts["name"],
        family=sheet.texts["family"],
        row=row,
        dry_specific_heat=value("solid.dry_specific_heat"),
        grain_density=value("solid.grain_density"),
        bulk_density=value("solid.bulk_density"),
        skeletal_density=skeleton.value if skeleton else None,
        layer_porosity=value("solid.layer_porosity"),
        layer_conductivity=value("solid.layer_conductivity"),
        grain_radius=length,
        temperature_range=(value("range.lowest_temperature"), value("range.highest_temperature")),
        potential_range=(value("range.lowest_potential"), value("range.highest_potential")),
        extrapolation_spread=value("range.extrapolation_spread"),
        regeneration_range=(value("use.regeneration_low"), value("use.regeneration_high")),
        service_temperature=value("use.service_temperature"),
        hysteresis_width=float(row[SLOT_HYSTERESIS]),
        salt=sheet.texts.get("brine.salt", ""),
        phases=row if row[SLOT_FORM] == FORM_SALT_HYDRATES else None,
        leak_humidity=leak.value if leak else 1.0,
        price=value("cost.price"),
        rate_covers_layer=shape == "slab",
        cautions=sheet.lists["cautions"],
        leaching=sheet.lists["hazards.leaching"],
        sources=sheet.sources,
        sheet=sheet,
    )
    if check_heat:
        _refuse_unexplained_heat(made)
    return made


def lowest_heat_ratio(found: Sorbent) -> tuple[float, float, float]:
    """Return the lowest isosteric over latent heat in the working range, and where it is.

    The working range spans the measured potentials, from 5 C to the top of the practical release
    temperatures, where the loading is above 1 % of its value at the wettest point.
    Args: found. Returns: ratio [1], T [K], A [J/mol].
    """
    low, high = found.potential_range
    worst = (math.inf, 0.0, 0.0)
    for T in np.linspace(278.15, max(found.regeneration_range[1], 300.0), 12):
        full = _sorbed_state(found.row, low, T)[0]
        for A in np.linspace(low, high, 60):
            q, q_A, q_T, _, _ = _sorbed_state(found.row, A, T)
            if q < 0.01 * full or q_A == 0.0:
                continue
            ratio = 1.0 + (A + T * q_T / q_A) / (WATER_MOLAR_MASS * _latent_heat(T))
            worst = min(worst, (float(ratio), float(T), float(A)))
    return worst


def _refuse_unexplained_heat(found: Sorbent) -> None:
    ratio, T, A = lowest_heat_ratio(found)
    if ratio >= LEAST_HEAT_RATIO or "isotherm.low_heat_reason" in found.sheet.texts:
        return
    raise SheetError(
        Problem(
            f"{found.sheet.file}: isotherm",
            f"a heat of {ratio:.2f} times the latent heat at {T - 273.15:.0f} degC and {A:.0f} J/mol",
            f"at least {LEAST_HEAT_RATIO} in the working range",
            "Lower the temperature shift, or give isotherm.low_heat_reason.",
        )
    )


def _fill_isotherm(row: NDArray[np.float64], sheet: Sheet) -> None:
    form = sheet.texts["isotherm.form"]
    number = sheet.numbers

    def table(name: str) -> list[tuple[float, ...]]:
        return [tuple(part.value for part in entry.values()) for entry in sheet.tables.get(name, ())]

    def value(name: str) -> float:
        return number[f"isotherm.{name}"].value

    if form == "sips_terms":
        sips_terms.fill_row(row, table("terms"))  # type: ignore[arg-type]
    elif form == "toth":
        parts = ("saturation", "affinity", "energy", "exponent", "exponent_slope")
        toth.fill_row(row, *map(value, parts))
    elif form == "dubinin_astakhov":
        volumetric = scale(number["isotherm.capacity"].unit).dimensions != "dimensionless"
        dubinin_astakhov.fill_row(row, value("capacity"), value("energy"), value("exponent"), volumetric)
    elif form == "dual_site_langmuir":
        dual_site_langmuir.fill_row(row, table("sites"))  # type: ignore[arg-type]
    elif form == "dual_site_sips":
        dual_site_sips.fill_row(row, table("sites"))  # type: ignore[arg-type]
    elif form == "gab":
        parts = ("monolayer", "affinity", "affinity_energy", "multilayer", "multilayer_energy")
        gab.fill_row(row, *map(value, parts))
    elif form == "freundlich":
        powers = ("", "_1", "_2", "_3")
        prefactor, exponent = (
            [value(of + power) if f"isotherm.{of}{power}" in number else 0.0 for power in powers]
            for of in ("prefactor", "exponent")
        )
        lowest, highest = (number[f"range.{end}_temperature"].value for end in ("lowest", "highest"))
        freundlich.fill_row(row, prefactor, exponent, lowest, highest)
    else:
        offset = tuple(value("solution_offset" + power) for power in ("", "_slope", "_curve"))
        solution, hydrates, host = (table(name) for name in ("terms", "hydrates", "host"))
        hydrate.fill_row(row, solution, offset, hydrates, value("smoothing"), host)  # type: ignore[arg-type]


@lru_cache(maxsize=32)
def _from_library(name: str) -> Sorbent:
    return build_sorbent(read_sheet(_library().joinpath(f"{name}.toml")), check_heat=False)


def _library() -> Traversable:
    return resources.files("welkinwell").joinpath("library", "sorbents")


def _spread_over(face: Any, row: NDArray[np.float64], first: Any, second: Any) -> Any:
    """Call a face on numbers and arrays; labelled arrays keep their labels."""
    if hasattr(first, "dims") or hasattr(second, "dims"):
        import xarray

        def call(a: Any, b: Any) -> Any:
            return face(row, a, b)

        return xarray.apply_ufunc(call, first, second, dask="parallelized", output_dtypes=[float])
    return face(row, first, second)


def _loading_face(row, T, rh, result):
    A = -GAS_CONSTANT * T * math.log(max(rh, DRIEST_HUMIDITY))
    result[0] = _sorbed_state(row, A, T)[0]


def _pressure_face(row, T, q, result):
    A = _potential_at_loading(row, q, T, 3000.0)
    result[0] = _saturation_pressure(T) * math.exp(-A / (GAS_CONSTANT * T))


def _isosteric_heat_face(row, T, q, result):
    A = _potential_at_loading(row, q, T, 3000.0)
    state = _sorbed_state(row, A, T)
    result[0] = _latent_heat(T) + (A + T * state[2] / state[1]) / WATER_MOLAR_MASS


def _rate_face(row, T, q, result):
    result[0] = _rate_near_equilibrium(row, T, q)


@cache
def _over_arrays(face: Callable[..., None]) -> Any:
    """Compile a function over arrays when it is first asked for."""
    from welkinwell.compiled import generalised

    return generalised(face, "void(float64[:], float64, float64, float64[:])", "(n),(),()->()")
