"""Whether a layer of sorbent can exist: mass, thickness and area against its density as installed.

Asked once, where a design meets its sorbent (`simulation.prepare`, the reading of a case). Above `densest` a
layer is refused; outside `usual` a note names the value that would fit and the forms that may be declared.
The choice and its sources: docs/decisions/0011-layers-that-can-exist.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from welkinwell.declare import choice, declared_fields
from welkinwell.errors import Problem
from welkinwell.quantities import as_text

LIGHTEST: Final = 10.0  # kg/m3, below any foam or aerogel that holds together (value from memory)
DENSEST: Final = 2500.0  # kg/m3 of dry sorbent: solid silica and salts without any pore (value from memory)
DENSEST_PACKING: Final = math.pi / math.sqrt(18.0)  # of equal spheres, 0.7405, Hales2005
LOOSEST_OF_BULK: Final = 0.5  # of the sheet's bulk density; common practice, no source
TIGHTEST_OF_BULK: Final = 1.3  # of the sheet's bulk density; common practice, no source
FULL_AT: Final = (298.15, 0.9)  # K and relative humidity at which pores count as full of water (Gurvich1915)
WATER_DENSITY: Final = 997.0  # kg/m3 at 25 degC
ROUNDING: Final = 1e-6
FORMS: Final = {
    "grains": "loose grains or powder",
    "coating": "a coating bound to its carrier",
    "pellets": "pellets or granules pressed from the powder",
    "carrier": "a sorbent in a carrier with air-filled pores (felt, foam, honeycomb)",
}


def form_field() -> Any:
    """Declare the form of a layer, which says what densities are usual; the litres do not change with it."""
    words = "; ".join(f"{form}: {meaning}" for form, meaning in FORMS.items())
    return choice(tuple(FORMS), f"Form of the sorbent layer, which says how dense it may be ({words})", None)


@dataclass(frozen=True)
class SorbentLayer:
    """A layer as its design declares it: mass [kg/m2], thickness [m] and area [1] per m2 of basis.

    fields: of the design, for mass, thickness and area (the last empty where the area is the basis itself);
    form: as declared or as the kind has it, else None; noun: what people call it; basis: what its m2 are.
    """

    mass: float
    thickness: float
    area: float
    fields: tuple[str, str, str]
    form: str | None
    noun: str = "layer"
    basis: str = "aperture"

    @property
    def volume(self) -> float:
        """Volume per m2 of basis [m3/m2]."""
        return self.thickness * self.area

    @property
    def density(self) -> float:
        """Dry sorbent over the volume of the layer, voids and carrier counted in [kg/m3]."""
        return self.mass / self.volume


@dataclass(frozen=True)
class DensityLimit:
    """The most that a layer may weigh [kg/m3], and why."""

    density: float
    why: str


def layer_of(design: Any) -> SorbentLayer | None:
    """Give the sorbent layer of a design; None for kinds without one."""
    return getattr(design, "sorbent_layer", None)


def plain_problems(layer: SorbentLayer) -> list[Problem]:
    """Refuse what no sorbent could be: lighter than any foam, or denser than stone."""
    if LIGHTEST <= layer.density <= DENSEST:
        return []
    *others, last = (name for name in layer.fields if name)
    return [
        Problem(
            layer.fields[0],
            f"{layer.mass:.3g} kg/m2 in {layer.volume * 1e3:.3g} L/m2 of {layer.noun} "
            f"({layer.density:.0f} kg/m3)",
            f"a {layer.noun} of {LIGHTEST:.0f} to {DENSEST:.0f} kg/m3",
            f"Bring {', '.join(others)} and {last} into line.",
        )
    ]


def layer_problems(design: Any, sorbent: Any) -> list[Problem]:
    """Refuse a layer that cannot exist: more sorbent than its volume can hold.

    Args: design; sorbent: None for kinds that take none. Returns: what is wrong, empty where it can be built.
    """
    layer = layer_of(design)
    if layer is None or sorbent is None:
        return []
    limit = densest(sorbent)
    if layer.density <= limit.density * (1.0 + ROUNDING):
        return []
    return [
        Problem(
            layer.fields[0],
            _as_built(design, layer),
            f"at most {limit.density:,.0f} kg/m3 of {sorbent.name}: {limit.why}",
            f"At {_fitting_words(sorbent)} {_one_that_fits(design, layer, sorbent)}.",
        )
    ]


def layer_notes(design: Any, sorbent: Any) -> list[str]:
    """Say of a layer that can exist but is unusual what would fit, and which form it may be declared as."""
    layer = layer_of(design)
    if layer is None or sorbent is None or layer_problems(design, sorbent):
        return []
    low, high = usual(sorbent, layer.form)
    if low * (1.0 - ROUNDING) <= layer.density <= high * (1.0 + ROUNDING):
        return []
    times = layer.density / sorbent.bulk_density
    declared = f" as {FORMS[layer.form]}" if layer.form else ""
    said = (
        f"{_as_built(design, layer)} is {times:.2g} times the bulk density of {sorbent.name}; "
        f"usual{declared} are {low:,.0f} to {high:,.0f} kg/m3. At {_fitting_words(sorbent)} "
        f"{_one_that_fits(design, layer, sorbent)}."
    )
    fitting = [
        f'"{form}" ({low:,.0f} to {high:,.0f} kg/m3, {FORMS[form]})'
        for form in FORMS
        if form != layer.form
        for low, high in [usual(sorbent, form)]
        if low <= layer.density <= high
    ]
    if fitting:
        said += f" If it is meant so, declare its form: layer_form = {' or '.join(fitting)}."
    elif layer.form is None:
        said += " No declared form (layer_form) is so light or so dense."
    return [said]


def usual(sorbent: Any, form: str | None = None) -> tuple[float, float]:
    """Give the densities that are usual for a sorbent in a form [kg/m3].

    Half of the sheet's bulk density to 1.3 times it (common practice, no source). A coating may be as dense
    as the sheet's grain; pellets as such grains in the densest packing; a carrier may be as light as a foam.
    A sorbent without voids (gel) swells: its thickness may be stated dry, or as it is when full of water.
    """
    low, high = LOOSEST_OF_BULK * sorbent.bulk_density, TIGHTEST_OF_BULK * sorbent.bulk_density
    if form == "coating":
        high = max(high, sorbent.grain_density)
    elif form == "pellets":
        high = max(high, DENSEST_PACKING * sorbent.grain_density)
    elif form == "carrier":
        low = LIGHTEST
    if _without_voids(sorbent) and not _is_brine(sorbent):
        held = float(sorbent.loading(*FULL_AT))
        low = min(low, 1.0 / (1.0 / sorbent.grain_density + held / WATER_DENSITY))
    return low, min(high, densest(sorbent).density)


def densest(sorbent: Any) -> DensityLimit:
    """Give the density that no layer of a sorbent can pass [kg/m3], and why.

    A bed of particles: 0.74 of the skeletal density, as if they were spheres of one size without any pore. A
    gel without voids: the dry solid itself. A brine: its salt in the strongest solution of the cycle.
    """
    if _is_brine(sorbent):
        return _strongest_brine(sorbent)
    solid, stated = skeletal_density(sorbent)
    if _without_voids(sorbent):
        return DensityLimit(solid, "its own solid without any void")
    known = f"its skeletal density, {solid:,.0f} kg/m3"
    if not stated:
        known += " (its sheet gives none: estimated from its grains less the pores that water fills)"
    return DensityLimit(DENSEST_PACKING * solid, f"0.74, the densest packing of equal spheres, of {known}")


def skeletal_density(sorbent: Any) -> tuple[float, bool]:
    """Give the density of the solid without any pore [kg/m3], and whether the sheet states it.

    Where it does not: grains less the pores that water fills at 25 degC and relative humidity 0.9 (the rule
    of Gurvich1915: pores hold what they take up as liquid), at most DENSEST. Pores that stay dry there make
    it too light, so it is held where no layer is refused that is no denser than its own grains.
    """
    if sorbent.skeletal_density is not None:
        return sorbent.skeletal_density, True
    if _without_voids(sorbent):
        return sorbent.grain_density, True
    filled = float(sorbent.loading(*FULL_AT)) / WATER_DENSITY
    left = max(1.0 / sorbent.grain_density - filled, 1.0 / DENSEST)
    return max(1.0 / left, sorbent.grain_density / DENSEST_PACKING), False


def _without_voids(sorbent: Any) -> bool:
    return bool(sorbent.layer_porosity <= 0.0)


def _is_brine(sorbent: Any) -> bool:
    return _without_voids(sorbent) and {"brine.density", "brine.salt_fraction"} <= set(sorbent.sheet.numbers)


def _strongest_brine(sorbent: Any) -> DensityLimit:
    """Dry salt in a volume of brine that is saturated at the hottest practical release.

    The volume of salt and water adds up, with the salt's own share taken from the sheet's density.
    """
    value = sorbent.sheet.value
    share, density = value("brine.salt_fraction"), value("brine.density")
    salt = (1.0 / density - (1.0 - share) / WATER_DENSITY) / share  # m3 that one kg of salt adds
    hottest = sorbent.regeneration_range[1]
    water = float(sorbent.saturated_loading(hottest))
    if water <= 0.0:
        return DensityLimit(DENSEST, "denser than any salt")
    strength = f"{1.0 / (1.0 + water):.2f} salt, saturated at {hottest - 273.15:.0f} degC"
    better = sorbent.bulk_density / value("solid.bulk_density")  # a study may count it as more of it
    return DensityLimit(
        better / (salt + water / WATER_DENSITY), f"its salt in the strongest brine of the cycle ({strength})"
    )


def _fitting_words(sorbent: Any) -> str:
    of = "its working strength" if _is_brine(sorbent) else "its bulk density"
    return f"{of}, {sorbent.bulk_density:,.0f} kg/m3 of dry {'salt' if _is_brine(sorbent) else 'sorbent'},"


def _as_built(design: Any, layer: SorbentLayer) -> str:
    mass, thickness = (_written(design, name) for name in layer.fields[:2])
    on = "" if not layer.fields[2] else f" on {layer.area:.3g} m2"
    return f"{mass} in {thickness}{on} per m2 of {layer.basis} ({layer.density:,.0f} kg/m3)"


def _one_that_fits(design: Any, layer: SorbentLayer, sorbent: Any) -> str:
    """Name, for each of mass, thickness and area, the value with which the others would fit."""
    ratio = layer.density / sorbent.bulk_density
    mass, thickness, area = layer.fields
    options = [_option(design, mass, 1.0 / ratio), _option(design, thickness, ratio)]
    options += [_option(design, area, ratio)] if area else []
    return f"one of these would fit: {_listed(options)}"


def _option(design: Any, name: str, times: float) -> str:
    entry, value = declared_fields(type(design))[name], times * getattr(design, name)
    beyond = "" if entry.low <= value <= entry.high else " (beyond what the field takes)"
    return f"{name} = {as_text(value, entry.unit, 3)}{beyond}"


def _written(design: Any, name: str) -> str:
    return as_text(getattr(design, name), declared_fields(type(design))[name].unit, 3)


def _listed(options: Sequence[str]) -> str:
    return f"{', '.join(options[:-1])} or {options[-1]}"
