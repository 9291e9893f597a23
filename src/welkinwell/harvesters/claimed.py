"""How a claim of a kind is read: the device that stands for it, and what the kind takes in.

Each kind's answers stand in `claim` in its folder, under the name CLAIMED; here are the parts that kinds
share, and the conditions that a claim may leave out with the values that are believed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any, Final

import numpy as np

from welkinwell.declare import declared_fields
from welkinwell.harvesters.kinds import KINDS
from welkinwell.quantities import as_text
from welkinwell.quantities import plain as plain_number
from welkinwell.sorbents.sorbent import Sorbent

DAY: Final = 86400.0
SORPTION, COOLING, DEW = "sorption", "cooling", "dew"  # ways in which a kind takes water from the air
SORBENTS: Final = ("silica_gel_regular_density", "aluminium_fumarate", "mof_801")  # taken first, tried after
BOX_MASSES: Final = (2.0, 15.0)  # kg/m2 of sorbent, lowest and highest (common practice, no source)
HOTTEST_TRIED: Final = 393.15  # K; the sheet's service temperature where that is lower
HEATERS: Final = {
    "resistance": "a resistance",
    "waste_heat": "heat from elsewhere",
    "solar": "a solar collector",
    "heat_pump": "a heat pump",
}
# Conditions that a claim may leave out: lowest, middle, highest believed, in SI (common practice, no source)
RANGES: Final[dict[str, tuple[float, float, float]]] = {
    "temperature": (283.15, 298.15, 313.15),
    "relative_humidity": (0.1, 0.5, 0.9),
    "sun": (3e3 / 24, 6e3 / 24, 8e3 / 24),
    "electricity": (0.2e9 * 3.6, 1.0e9 * 3.6, 5.0e9 * 3.6),
    "heat": (0.7e9 * 3.6, 1.5e9 * 3.6, 5.0e9 * 3.6),
    "heat_temperature": (333.15, 363.15, 423.15),
    "condenser_temperature": (278.15, 303.15, 333.15),
    "swing": (0.05, 0.3, 1.5),
    "cycles_per_day": (1.0, 5.0, 24.0),
    "effects": (1.0, 1.0, 4.0),
}
WORDS: Final = {
    "temperature": "temperature of the air",
    "relative_humidity": "relative humidity of the air",
    "sun": "sun on the area",
    "electricity": "electricity for a litre",
    "heat": "heat for a litre",
    "heat_temperature": "temperature of the heat",
    "condenser_temperature": "temperature of the condenser",
    "swing": "water given off in one cycle",
    "cycles_per_day": "cycles in a day",
    "effects": "times that the heat of condensation is used",
    "area_is": "which area: absorber, aperture or footprint",
    "heat_recovery": "heat recovery from the cold air",
    "other_energy": "other energy than what is stated",
    "cold": "cold of the sky or of cooler hours",
    "stores": "mass that keeps the cold of cooler hours",
    "heat_pump": "machine that moves heat",
    "solar_cells": "sun turned into electricity",
    "salt": "salt whose crystals dissolve",
    "moving_potential": "sorbent whose potential moves with temperature",
    "better_sorbent": "sorbent better than its data sheet",
}


class Notes:
    """What was assumed and what was left while a design was made; mass_known: whether the claim gives it."""

    def __init__(self) -> None:
        self.assumed: list[str] = []
        self.left: list[str] = []
        self.mass_known = False


@dataclass(frozen=True)
class Option:
    """One value of a condition: in words, with the claim and the changes of the design that make it."""

    words: str
    claim: Any
    mass: float | None = None  # kg/m2
    changes: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Condition:
    """Something that a claim leaves out, and the values that are believed, at least one beside the usual."""

    words: str
    options: tuple[Option, ...]


def nothing_else(claim: Any, like: Any) -> list[Condition | None]:
    """Say that a kind has no conditions of its own."""
    return []


def as_claimed(claim: Any) -> int:
    """Give how often a claim uses the heat of condensation, once where it does not say."""
    return int(claim.effects or 1)


def always_more(claim: Any) -> bool:
    """Say that other energy than electricity and heat may go in: sun or sky, or nobody knows what."""
    return True


@dataclass(frozen=True)
class ClaimedKind:
    """A kind as its claims are read.

    make(claim, material, mass, notes): the design that stands for a claim; conditions(claim, like): what of
    its own a claim leaves out; way: SORPTION, COOLING or DEW; sorbents: sheets taken where none is named,
    the first at first; family: of the sheets that this kind alone holds; once_a_day: one cycle by the sun,
    with no other energy; passive: takes nothing but sun and sky; sun_driven: whether a claim that states no
    energy is taken to run on the sun, or under_the_sky: on sun or sky, whatever it says; aperture: its m2
    take sun or sky and stand in the wind; sun_drives(design): whether the sun drives such a design;
    effects(claim): how often the heat of condensation is used; more_than_stated(claim): whether energy beyond
    the electricity and heat that are stated may go in; condenser_asked: whether published devices of the kind
    were often cooled from outside.
    """

    make: Callable[[Any, Any, float | None, Notes], Any]
    conditions: Callable[[Any, Any], list[Condition | None]] = nothing_else
    way: str = SORPTION
    sorbents: tuple[str, ...] = SORBENTS
    family: str = ""
    once_a_day: bool = False
    passive: bool = False
    sun_driven: bool = False
    under_the_sky: bool = False
    aperture: bool = False
    sun_drives: Callable[[Any], bool] = lambda design: False
    effects: Callable[[Any], int] = as_claimed
    more_than_stated: Callable[[Any], bool] = always_more
    condenser_asked: bool = False


def _no_design(claim: Any, material: Any, mass: float | None, notes: Notes) -> Any:
    raise ValueError("a claim that states no kind has no design of its own")


# A claim that states no kind: it may be anything.
ANY_KIND: Final = ClaimedKind(_no_design, under_the_sky=True, condenser_asked=True)


@cache
def claimed_kinds() -> tuple[str, ...]:
    """List the kinds that a claim may be of."""
    return tuple(kind for kind, one in KINDS.items() if one.has("claim"))


def claimed(kind: str) -> ClaimedKind:
    """Give how claims of a kind are read; of any kind where it is none."""
    if kind not in claimed_kinds():
        return ANY_KIND
    found: ClaimedKind = KINDS[kind].part("claim").CLAIMED
    return found


def claimed_mass(claim: Any, usual: float, footprint_ratio: float, mass: float | None, notes: Notes) -> float:
    """Dry sorbent per m2 of basis area [kg/m2]: given, or from the claim, or the kind's usual."""
    if mass is not None:
        return mass
    stated = None
    if claim.sorbent_mass is not None and claim.area is not None:
        stated = claim.sorbent_mass / claim.area
    elif claim.per_m2 is not None and claim.per_kg is not None:
        stated = claim.per_m2 / claim.per_kg
    if stated is None:
        notes.assumed.append(f"{plain_number(usual)} kg/m2 of dry sorbent")
        return float(usual)
    notes.mass_known = True
    return stated * (footprint_ratio if claim.area_is == "footprint" else 1.0)


def layered_box(claim: Any, material: Sorbent, mass: float | None, notes: Notes, plain: Any) -> Any:
    """Give a box layers of the usual thickness, of as much area as the mass takes; it cycles once a day."""
    kilograms = claimed_mass(claim, plain.sorbent_mass, plain.footprint_ratio, mass, notes)
    area = declared_fields(type(plain))["bed_area"]
    layers = kilograms / (material.bulk_density * plain.layer_thickness)
    bed = float(np.clip(layers, area.low, area.high))
    notes.assumed.append(f"layers of {as_text(plain.layer_thickness, 'mm')}")
    if (claim.cycles_per_day or 1.0) > 1.2:
        often = plain_number(claim.cycles_per_day)
        notes.left.append(f"{often} cycles a day: this one goes with the sun, once")
    return replace(plain, sorbent_mass=kilograms, bed_area=bed)


def claimed_heater(claim: Any, notes: Notes) -> str:
    """What heats a bed: as stated, or from the energies that are."""
    if claim.heat_by != "not stated":
        return str(claim.heat_by)
    found = "resistance"
    if claim.heat is not None:
        found = "waste_heat"
    elif claim.sun is not None and not claim.joules_of_electricity:
        found = "solar"
    notes.assumed.append(f"heated by {HEATERS[found]}")
    return found


def claimed_release(claim: Any, material: Sorbent, notes: Notes) -> float | None:
    """Temperature to which the bed is heated, no more than its sheet stands [K]; None for the default."""
    if claim.heat_temperature is None:
        hot = min(material.service_temperature - 5.0, 363.15)
        notes.assumed.append(f"heated to {as_text(hot, 'degC', 3)}")
        return None
    if claim.heat_temperature > material.service_temperature:
        most = as_text(material.service_temperature, "degC", 3)
        notes.left.append(f"{as_text(claim.heat_temperature, 'degC', 3)}: {material.name} stands {most}")
    return float(min(claim.heat_temperature, material.service_temperature))


def heat_or_power(claim: Any) -> bool:
    """Whether energy beyond what is stated may go into a bed that lives on heat and electricity."""
    heated = claim.heat is not None or claim.heat_by in ("resistance", "heat_pump")
    return not heated or claim.joules_of_electricity is None


def masses_of_a_box(claim: Any, like: Any) -> list[Condition | None]:
    """Amounts of sorbent that a claim of a box leaves open."""
    if like.mass_known:
        return []
    options = tuple(Option(f"{mass:g} kg/m2", claim, mass=mass) for mass in BOX_MASSES)
    return [Condition("dry sorbent per m2", options)]


def release_temperatures(claim: Any, like: Any) -> Condition | None:
    """Temperatures of the heat that a claim leaves open."""
    if claim.heat_temperature is not None or like.material is None or like.design.heat_by == "solar":
        return None
    hottest = min(like.material.service_temperature, HOTTEST_TRIED)
    options = tuple(
        Option(as_text(hot, "degC", 3), replace(claim, heat_temperature=hot))
        for hot in (RANGES["heat_temperature"][0], hottest)
    )
    return Condition(WORDS["heat_temperature"], options)


def other_heaters(claim: Any, like: Any) -> Condition | None:
    """What else may heat a bed that a claim does not say it of."""
    if claim.heat_by != "not stated" or like.design.heat_by != "resistance":
        return None
    return Condition("what heats it", (Option(HEATERS["heat_pump"], replace(claim, heat_by="heat_pump")),))
