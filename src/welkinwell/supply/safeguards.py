"""What may reach the water, what it is held to, what can hurt people: lists that follow from what is
installed.

Common practice as data (library/water_limits.toml, library/hazards.toml), chosen by what is installed.
Never a certificate: the codes of the place and licensed practice rule over every line.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.supply.parts_list import FRAME_MASS

Floats = NDArray[np.float64]

DRINKING: Final = ("drinking", "drinking and cooking", "household")
GROWTH_BAND: Final = (293.15, 318.15)  # K, in which Legionella grow (common practice, value from memory)
TANK_DAYS: Final = 2.0  # days that a tank's water lags behind the air (assumed, no source)
SUN_ON_TANK: Final = 10.0  # K by which a tank in the sun is warmer than the air (assumed, no source)
GLASS_DENSITY: Final = 2500.0  # kg/m3, soda-lime glass (value from memory)
GUSTS: Final = (20.0, 30.0, 40.0, 50.0)  # m/s
AIR_DENSITY: Final = 1.2  # kg/m3, cold air at sea level: on the safe side higher up
# g/mol; ions of the salt; limiting molar conductivity, S cm2/mol at 25 C (values from memory)
MOLAR: Final = {
    "lithium_chloride": (42.394, {"lithium": 6.94, "chloride": 35.453}, 38.66 + 76.31),
    "calcium_chloride": (110.98, {"calcium": 40.078, "chloride": 70.906}, 2 * (59.47 + 76.31)),
    "magnesium_chloride": (95.211, {"magnesium": 24.305, "chloride": 70.906}, 2 * (53.0 + 76.31)),
    "lithium_bromide": (86.845, {"lithium": 6.94, "bromide": 79.904}, 38.66 + 78.1),
}


@dataclass(frozen=True)
class Installation:
    """What is installed and what for, as far as water and people are concerned.

    kind: of harvester; of_kind: traits that all of its devices have; sorbent, family, salt, leaching: as its
    sheet has them, empty without a sorbent;
    leak_humidity: above which brine leaves its host [1]; purpose: of the water; litres_per_day: delivered
    [L/day]; tank: volume, None without one [L]; tank_shaded; takes_sun; electric: whether electricity is
    used; coldest: lowest outdoor temperature of the year [K]; own_power: solar modules and battery;
    compressor: whether a circuit holds refrigerant, None where only the kind is known.
    """

    kind: str
    of_kind: tuple[str, ...] = ()
    sorbent: str = ""
    family: str = ""
    salt: str = ""
    leaching: tuple[str, ...] = ()
    leak_humidity: float = 1.0
    purpose: str = "drinking"
    litres_per_day: float = 0.0
    tank: float | None = None
    tank_shaded: bool = True
    takes_sun: bool = False
    electric: bool = False
    coldest: float = 293.15
    own_power: bool = False
    compressor: bool | None = None


@dataclass(frozen=True)
class WaterLimit:
    """A parameter of water and what it is held to; value None where no guideline is known.

    sort: health, provisional, practicable, taste, operation or none; low: a lower end where there is one;
    edition, source: of the guideline; seen: whether the figure was read there or recalled.
    """

    key: str
    name: str
    sort: str
    seen: str
    words: tuple[str, ...]
    note: str
    edition: str
    source: str
    value: float | None = None
    unit: str = ""
    low: float | None = None
    screening: float | None = None

    @property
    def held_to(self) -> str:
        """The figure in words."""
        if self.value is None:
            return (
                "no guideline value"
                if self.screening is None
                else f"none; screening {self.screening:g} {self.unit}".rstrip()
            )
        if self.key == "e_coli":
            return "none in 100 mL"
        range_ = f"{self.low:g} to {self.value:g}" if self.low is not None else f"{self.value:g}"
        return f"{range_} {self.unit}".rstrip()


@dataclass(frozen=True)
class Carried:
    """Something that may reach the water: from where, what, and by which way."""

    title: str
    words: str
    parameters: tuple[str, ...]


@dataclass(frozen=True)
class Listed:
    """One entry of a list: title, danger or words, items, and parameters that it acts against."""

    key: str
    title: str
    words: str
    items: tuple[str, ...] = ()
    against: tuple[str, ...] = ()


@dataclass(frozen=True)
class Safeguards:
    """Every list for one installation."""

    installation: Installation
    carried: list[Carried]
    tests: list[WaterLimit]
    treatments: list[Listed]
    hazards: list[Listed]
    survey: list[Listed]
    commissioning: list[Listed]
    monitoring: list[Listed]


def safeguards(installation: Installation) -> Safeguards:
    """Choose what concerns an installation."""
    traits = traits_of(installation)
    carried = what_may_reach_the_water(installation)
    wanted = {key for one in carried for key in one.parameters}
    if installation.purpose in DRINKING:
        wanted |= {"chlorine", "calcium_magnesium", "legionella"}
    tests = [limit for key, limit in water_limits().items() if key in wanted]
    treatments = [
        _listed(entry, "words", "")
        for entry in _chosen("treatment", traits)
        if wanted & set(entry["against"])
    ]
    return Safeguards(
        installation,
        carried,
        tests,
        treatments,
        [_listed(entry, "danger", "measures") for entry in _chosen("hazard", traits)],
        [_listed(entry, "", "items") for entry in _chosen("survey", traits)],
        [_listed(entry, "", "items") for entry in _chosen("commissioning", traits)],
        [_listed(entry, "", "items") for entry in _chosen("monitoring", traits)],
    )


def listed_order(group: str) -> list[str]:
    """Titles of one group of hazards.toml in its order, which is the order of work."""
    return [entry.get("title", entry.get("every", "")) for entry in _library("hazards.toml")[group]]


def traits_of(installation: Installation) -> frozenset[str]:
    """Name what the lists ask for: kind, sun, glass, heater, electricity, refrigerant, rotor, "
    "sorbent, salt, ..."""
    salt = installation.salt
    found = {installation.kind, *installation.of_kind}
    found |= {"sun", "glass"} if installation.takes_sun else set()
    found |= {"electricity"} if installation.electric else set()
    if installation.compressor is not None:
        found = found | {"refrigerant"} if installation.compressor else found - {"refrigerant"}
    found |= {"battery", "electricity"} if installation.own_power else set()
    found |= {"sorbent"} if installation.sorbent else set()
    found |= {"salt", salt} if salt or "salt" in installation.family else set()
    if salt.startswith("lithium") or any("lithium" in words.lower() for words in installation.leaching):
        found |= {"lithium", "salt"}
    found |= {"frost"} if installation.coldest < 275.15 else set()
    found |= {"drinking"} if installation.purpose in DRINKING else set()
    return frozenset(found - {""})


def what_may_reach_the_water(installation: Installation) -> list[Carried]:
    """List the ways into the water: the sorbent's own leachates first, then parts, tank and air."""
    found = []
    for words in installation.leaching:
        said = f" {words.lower()} "
        keys = [k for k, limit in water_limits().items() if any(_says(said, w) for w in limit.words)]
        found.append(Carried(f"Sorbent: {installation.sorbent}", words, tuple(keys)))
    for entry in _chosen("reaches_water", traits_of(installation)):
        found.append(Carried(entry["title"], entry["words"], tuple(entry["parameters"])))
    return found


def _says(sentence: str, word: str) -> bool:
    """Whether a word begins somewhere in a sentence (so that lead is not found in leads to ...)."""
    return f" {word}" in sentence.replace(";", " ").replace(",", " ").replace("(", " ").replace("-", " ")


@lru_cache(maxsize=1)
def water_limits() -> Mapping[str, WaterLimit]:
    """Read library/water_limits.toml."""
    table = _library("water_limits.toml")
    names = ("key", "name", "sort", "seen", "note", "value", "unit", "low", "screening")
    found = {}
    for row in table["parameter"]:
        fields: dict[str, Any] = {name: row[name] for name in names if name in row}
        if "screening_unit" in row:
            fields["unit"] = row["screening_unit"]
        found[row["key"]] = WaterLimit(
            **fields,
            words=tuple(row["words"]),
            edition=table["edition"],
            source=row.get("source", table["source"]),
        )
    return found


def tank_water(air_temperature: Any, shaded: bool) -> Floats:
    """Daily temperature of the water in a tank that stands outdoors: a screening figure.

    The day's mean air, with a lag of two days, 10 K warmer in the sun (both assumed, no source); the year
    closes on itself. air_temperature: hourly, whole days [K]; shaded: whether the tank stands in the shade.
    Returns one value a day [K].
    """
    days = np.asarray(air_temperature, dtype=np.float64).reshape(-1, 24).mean(axis=1)
    share = 1.0 - np.exp(-1.0 / TANK_DAYS)
    water = float(days.mean())
    for day in days[-30:]:
        water += share * (day - water)
    found = np.empty(days.size)
    for number, day in enumerate(days):
        water += share * (day - water)
        found[number] = water
    return found + (0.0 if shaded else SUN_ON_TANK)


def growth_share(water_temperature: Any) -> float:
    """Share of days on which a tank's water lies where Legionella grow, 20 to 45 degC.

    water_temperature: by day [K]. Returns [1].
    """
    low, high = GROWTH_BAND
    T = np.asarray(water_temperature)
    return float(((low <= T) & (high >= T)).mean())


def wind_force(gust: Any, air_density: float = AIR_DENSITY) -> Any:
    """Wind pressure of a gust on a plate that faces it: rho v^2 / 2.

    gust: v [m/s]; air_density: rho [kg/m3]. Returns [N/m2]; a code's shape factors and safety come on top.
    """
    return 0.5 * air_density * np.asarray(gust) ** 2


def module_load(
    glass_thickness: float,
    sorbent: float,
    water: float,
    metal: float,
    condenser: float,
    frame: float = FRAME_MASS,
) -> dict[str, float]:
    """Weight of a box on its base, per m2 of aperture, part by part [kg/m2].

    glass_thickness [m]; sorbent: dry, water: held at its wettest, metal: absorber and fins, condenser,
    frame: frame, back and seals [kg/m2].
    """
    parts = {
        "glass": GLASS_DENSITY * glass_thickness,
        "dry sorbent": sorbent,
        "water held at its wettest": water,
        "absorber and fins": metal,
        "condenser": condenser,
        "case, insulation and seals (assumed)": frame,
    }
    return {**parts, "together": sum(parts.values())}


def calcite_use(litres: float, calcium: float = 40e-6) -> float:
    """Calcite that a mineral bed gives to the water in a day: litres times calcium times 100.09/40.08.

    litres: a day [L]; calcium: wanted [kg/L]. Returns [kg]. Source: molar masses.
    """
    return litres * calcium * 100.09 / 40.078


def chlorine_to_breakpoint(ammonium: float) -> float:
    """Chlorine that ammonium eats before any stays free: 3 Cl2 for 2 NH3.

    ammonium: NH4+ in the water [kg/L]. Returns [kg/L]. Practice takes a fifth more. Source: stoichiometry.
    """
    return ammonium * 3.0 * 70.906 / (2.0 * 18.039)


def ion_in_water(salt: str, ion: str, salt_in_water: float) -> float:
    """Ion that carried salt brings.

    salt, ion: names; salt_in_water [kg/L]. Returns [kg/L]. Source: molar masses.
    """
    whole, ions, _ = MOLAR[salt]
    return salt_in_water * ions[ion] / whole


def conductivity_of_salt(salt: str, salt_in_water: float) -> float:
    """Conductivity that carried salt adds to clean water at 25 degC, at great dilution.

    salt: name; salt_in_water [kg/L]. Returns [S/m]. Source: limiting molar conductivities (from memory).
    """
    whole, _, molar = MOLAR[salt]
    return salt_in_water * 1e6 / whole * molar * 1e-4  # mol/m3 times S m2/mol


def _chosen(group: str, traits: frozenset[str]) -> Iterable[Mapping[str, Any]]:
    for entry in _library("hazards.toml")[group]:
        needs = entry["needs"]
        if not needs or any(set(group_) <= traits for group_ in needs):
            yield entry


def _listed(entry: Mapping[str, Any], words: str, items: str) -> Listed:
    return Listed(
        entry.get("key", ""),
        entry.get("title", entry.get("every", "")),
        entry[words] if words else "",
        tuple(entry[items]) if items else (),
        tuple(entry.get("against", ())),
    )


@lru_cache(maxsize=2)
def _library(name: str) -> Mapping[str, Any]:
    text = resources.files("welkinwell").joinpath("library", name).read_text(encoding="utf-8")
    return tomllib.loads(text)
