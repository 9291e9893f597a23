"""A device like that of a claim: the fields that the claim gives, the rest its kind's defaults, each named.

What the claim leaves out is listed with the values that are believed, so that each can be tried in turn.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np

from welkinwell.declare import check, declared_fields
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.liquid_desiccant.harvester import BRINES
from welkinwell.quantities import as_text
from welkinwell.quantities import plain as plain_number
from welkinwell.sorbents.sorbent import Sorbent, sorbent
from welkinwell.studies.check_claim import RANGES, WORDS
from welkinwell.studies.claim import Claim

DEFAULT_SORBENT: Final = "silica_gel_regular_density"
DEFAULT_BRINE: Final = "licl_brine"
OTHER_SORBENTS: Final = ("aluminium_fumarate", "mof_801")  # tried where a claim names none
OTHER_BRINES: Final = ("cacl2_brine",)
APERTURE_KINDS: Final = ("passive_box", "two_stage_box", "hybrid", "liquid_desiccant", "dew_condenser")
HOTTEST_TRIED: Final = 393.15  # K; the sheet's service temperature where that is lower
RECOVERY: Final = 0.6  # effectiveness of a coil's air-to-air exchanger (common practice, no source)
DAY: Final = 86400.0
# Lowest and highest of what a claim may leave out of its device (common practice, no source)
BOX_MASSES: Final = (2.0, 15.0)  # kg/m2
CYCLES: Final = (4.0, 48.0)  # a day, of an active bed
TURNS: Final = (5.0 / 3600.0, 40.0 / 3600.0)  # 1/s, of a wheel
SHARES_OF_CARNOT: Final = (0.25, 0.55)  # of a coil's compressor
COATED: Final = {"form": "channels"}


@dataclass(frozen=True)
class Likeness:
    """A device like that of a claim.

    assumed: what was taken because the claim does not state it; left: what the claim states and the device
    does not have, both in words; mass_known: whether its sorbent per m2 follows from the claim.
    """

    design: Any
    material: Sorbent | None
    assumed: tuple[str, ...]
    left: tuple[str, ...]
    mass_known: bool = False

    @property
    def kind(self) -> str:
        """Kind of harvester."""
        return str(self.design.kind)

    @property
    def words(self) -> str:
        """Say in a few words what it is."""
        title = KINDS[self.kind].short_title
        if self.material is None:
            return title
        basis = KINDS[self.kind].basis
        mass = plain_number(self.design.sorbent_mass)
        return f"{title} with {mass} kg of {self.material.name} per m2 of {basis}"


@dataclass(frozen=True)
class Option:
    """One value of a condition: in words, with the claim and the changes of the design that make it."""

    words: str
    claim: Claim
    mass: float | None = None  # kg/m2
    changes: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Condition:
    """Something that a claim leaves out, and the values that are believed, at least one beside the usual."""

    words: str
    options: tuple[Option, ...]


class _Notes:
    """What was assumed and what was left while a design was made."""

    def __init__(self) -> None:
        self.assumed: list[str] = []
        self.left: list[str] = []
        self.mass_known = False


def kind_of(claim: Claim) -> str:
    """Give the kind that a claim speaks of, or the commonest that its fields point to."""
    if claim.kind != "not stated":
        return claim.kind
    if claim.sorbent is not None and sorbent(claim.sorbent).family == BRINES:
        return "liquid_desiccant"
    if claim.joules_of_electricity and claim.sun is None and claim.heat is None:
        sorbs = (claim.sorbent, claim.sorbent_mass, claim.swing, claim.per_kg)
        return "cooling_coil" if all(x is None for x in sorbs) else "active_bed"
    return "passive_box"


def likeness(claim: Claim, mass: float | None = None, changes: Mapping[str, Any] | None = None) -> Likeness:
    """Make a device like that of a claim; raises InputError where none can be made of it.

    mass: dry sorbent to take instead of what follows from the claim [kg/m2]; changes: fields of the design
    to set last, SI.
    """
    notes = _Notes()
    kind = kind_of(claim)
    if claim.kind == "not stated":
        notes.assumed.append(f"kind: {KINDS[kind].short_title}")
    material = _material(claim, kind, notes)
    design = _MAKERS[kind](claim, material, mass, notes)
    if changes:
        design = replace(design, **changes)
        if changes == COATED and material is not None:
            filled = material.bulk_density * design.sorbent_layer.volume
            design = replace(design, sorbent_mass=filled)
    _condenser(claim, design, notes)
    check(design)
    return Likeness(design, material, tuple(notes.assumed), tuple(notes.left), notes.mass_known)


def flat(design: Any) -> Any:
    """Lay what takes the sun level: a claim's sun is that on its own m2. A dew sheet keeps its slope."""
    if design.kind == "dew_condenser" or not hasattr(design, "tilt"):
        return design
    return replace(design, tilt=0.0)


def left_out(claim: Claim, like: Likeness) -> list[Condition]:
    """List what a claim leaves out and a simulation needs, with the values that are believed."""
    found = [_air(claim, name) for name in ("temperature", "relative_humidity", "sun")]
    found += [_sorbents(claim, like), _masses(claim, like), *_OWN.get(like.kind, _none)(claim, like)]
    if not takes_sun(like.design):
        found = [one for one in found if one is None or one.words != WORDS["sun"]]
    return [one for one in found if one is not None]


def takes_sun(design: Any) -> bool:
    """Whether the sun drives a device."""
    if design.kind == "liquid_desiccant":
        return bool(design.regenerator == "solar_still")
    if design.kind == "active_bed":
        return bool(design.heat_by == "solar")
    return design.kind in ("passive_box", "two_stage_box", "hybrid")


def _material(claim: Claim, kind: str, notes: _Notes) -> Sorbent | None:
    if not KINDS[kind].takes_sorbent:
        return None
    if claim.sorbent is not None:
        return sorbent(claim.sorbent)
    found = sorbent(DEFAULT_BRINE if kind == "liquid_desiccant" else DEFAULT_SORBENT)
    notes.assumed.append(f"sorbent: {found.name}")
    return found


def _mass(claim: Claim, plain: Any, mass: float | None, notes: _Notes) -> float:
    """Dry sorbent per m2 of basis area [kg/m2]: given, or from the claim, or the kind's default."""
    if mass is not None:
        return mass
    stated = None
    if claim.sorbent_mass is not None and claim.area is not None:
        stated = claim.sorbent_mass / claim.area
    elif claim.per_m2 is not None and claim.per_kg is not None:
        stated = claim.per_m2 / claim.per_kg
    if stated is None:
        notes.assumed.append(f"{plain_number(plain.sorbent_mass)} kg/m2 of dry sorbent")
        return float(plain.sorbent_mass)
    notes.mass_known = True
    return stated * (plain.footprint_ratio if claim.area_is == "footprint" else 1.0)


def _layered(claim: Claim, material: Any, mass: float | None, notes: _Notes, kind: str) -> Any:
    """A box of a kind with layers of the default thickness, of as much area as the mass takes."""
    plain = KINDS[kind].load()()
    kilograms = _mass(claim, plain, mass, notes)
    area = declared_fields(type(plain))["bed_area"]
    layers = kilograms / (material.bulk_density * plain.layer_thickness)
    bed = float(np.clip(layers, area.low, area.high))
    notes.assumed.append(f"layers of {as_text(plain.layer_thickness, 'mm')}")
    return replace(plain, sorbent_mass=kilograms, bed_area=bed)


def _passive_box(claim: Claim, material: Any, mass: float | None, notes: _Notes) -> Any:
    found = _layered(claim, material, mass, notes, "passive_box")
    _one_cycle(claim, notes)
    room = found.layer_thickness * found.bed_area
    return replace(found, gap_air_volume=min(max(found.gap_air_volume, room), 2.0))


def _two_stage_box(claim: Claim, material: Any, mass: float | None, notes: _Notes) -> Any:
    found = _layered(claim, material, mass, notes, "two_stage_box")
    _one_cycle(claim, notes)
    room = found.layer_thickness * found.bed_area
    return replace(found, gap_air_volume=min(max(found.gap_air_volume, 0.5 * room), 2.0))


def _hybrid(claim: Claim, material: Any, mass: float | None, notes: _Notes) -> Any:
    found = _layered(claim, material, mass, notes, "hybrid")
    _one_cycle(claim, notes)
    top_up = {"solar": "none", "resistance": "resistance", "heat_pump": "heat_pump"}.get(claim.heat_by)
    if top_up is None:
        top_up = found.top_up
        notes.assumed.append("topped up by a heat pump")
    return replace(found, top_up=top_up)


def _active_bed(claim: Claim, material: Any, mass: float | None, notes: _Notes) -> Any:
    plain = KINDS["active_bed"].load()()
    kilograms = material.bulk_density * plain.bed_depth if mass is None else mass
    notes.assumed.append(f"grains {as_text(plain.bed_depth, 'mm')} deep")
    heat_by = _heat_by(claim, notes)
    changes: dict[str, Any] = {"sorbent_mass": kilograms, "heat_by": heat_by}
    if heat_by == "heat_pump" and claim.condenser == "cooled":
        changes["heat_pump_source"] = "condenser"
    if claim.cycles_per_day is not None:
        half = float(np.clip(0.5 * DAY / claim.cycles_per_day, 60.0, DAY))
        changes |= {"uptake_length": half, "release_length": half}
    elif heat_by == "solar":
        changes["operation"] = "sun"
    else:
        notes.assumed.append(
            f"{plain_number(DAY / (plain.uptake_length + plain.release_length))} cycles a day"
        )
    hot = _release(claim, material, notes)
    if hot is not None and heat_by == "waste_heat":
        changes["waste_heat_temperature"] = hot
    elif hot is not None:
        changes["release_temperature"] = hot
    return replace(plain, **changes)


def _desiccant_wheel(claim: Claim, material: Any, mass: float | None, notes: _Notes) -> Any:
    plain = KINDS["desiccant_wheel"].load()()
    changes: dict[str, Any] = {"sorbent_mass": plain.sorbent_mass if mass is None else mass}
    if claim.cycles_per_day is not None:
        turns = claim.cycles_per_day / DAY
        known = declared_fields(type(plain))["wheel_revolutions"]
        changes["wheel_revolutions"] = float(np.clip(turns, known.low, known.high))
    else:
        notes.assumed.append(f"{plain_number(plain.wheel_revolutions * 3600.0)} turns an hour")
    heat_by = _heat_by(claim, notes)
    if heat_by in ("solar", "waste_heat"):
        notes.left.append("the wheel's air is heated by a resistance of as much heat")
        heat_by = "resistance"
    changes["heat_by"] = heat_by
    if heat_by == "heat_pump" and claim.condenser == "cooled":
        changes["heat_pump_source"] = "condenser"
    hot = _release(claim, material, notes)
    if hot is not None:
        changes["regeneration_temperature"] = hot
    return replace(plain, **changes)


def _cooling_coil(claim: Claim, material: Any, mass: float | None, notes: _Notes) -> Any:
    plain = KINDS["cooling_coil"].load()()
    cooling = claim.cooling
    if cooling == "not stated":
        cooling = plain.cooling
        notes.assumed.append("a compressor")
    if cooling == "vapour_compression":
        notes.assumed.append(f"{100.0 * plain.second_law:.0f} % of Carnot's performance")
    return replace(plain, cooling=cooling, recovery=RECOVERY if claim.heat_recovery else 0.0)


def _dew_condenser(claim: Claim, material: Any, mass: float | None, notes: _Notes) -> Any:
    notes.assumed.append("nights as warm and as damp as the air that is stated, under a clear sky")
    return KINDS["dew_condenser"].load()()


def _liquid_desiccant(claim: Claim, material: Any, mass: float | None, notes: _Notes) -> Any:
    plain = KINDS["liquid_desiccant"].load()()
    kilograms = _mass(claim, plain, mass, notes)
    scale = kilograms / plain.salt_mass
    found = replace(
        plain,
        salt_mass=kilograms,
        still_salt=min(plain.still_salt, 0.5 * kilograms),
        store_volume=plain.store_volume * scale,
    )
    if claim.heat_by == "waste_heat" or claim.heat is not None:
        found = replace(found, regenerator="heated_film", operation="clock")
        if claim.heat_temperature is None:
            notes.assumed.append(f"heat at {as_text(found.heat_temperature, 'degC')}")
        else:
            found = replace(found, heat_temperature=claim.heat_temperature)
    return found


_MAKERS: Final[Mapping[str, Callable[[Claim, Any, float | None, _Notes], Any]]] = {
    "passive_box": _passive_box,
    "two_stage_box": _two_stage_box,
    "active_bed": _active_bed,
    "desiccant_wheel": _desiccant_wheel,
    "cooling_coil": _cooling_coil,
    "dew_condenser": _dew_condenser,
    "liquid_desiccant": _liquid_desiccant,
    "hybrid": _hybrid,
}


def _one_cycle(claim: Claim, notes: _Notes) -> None:
    if (claim.cycles_per_day or 1.0) > 1.2:
        notes.left.append(
            f"{plain_number(claim.cycles_per_day)} cycles a day: this one goes with the sun, once"
        )


def _heat_by(claim: Claim, notes: _Notes) -> str:
    """What heats a bed: as stated, or from the energies that are."""
    if claim.heat_by != "not stated":
        return claim.heat_by
    found = "resistance"
    if claim.heat is not None:
        found = "waste_heat"
    elif claim.sun is not None and not claim.joules_of_electricity:
        found = "solar"
    notes.assumed.append(f"heated by {_HEATERS[found]}")
    return found


_HEATERS: Final = {
    "resistance": "a resistance",
    "waste_heat": "heat from elsewhere",
    "solar": "a solar collector",
    "heat_pump": "a heat pump",
}


def _release(claim: Claim, material: Sorbent, notes: _Notes) -> float | None:
    """Temperature to which the bed is heated, no more than its sheet stands [K]; None for the default."""
    if claim.heat_temperature is None:
        hot = min(material.service_temperature - 5.0, 363.15)
        notes.assumed.append(f"heated to {as_text(hot, 'degC', 3)}")
        return None
    if claim.heat_temperature > material.service_temperature:
        most = as_text(material.service_temperature, "degC", 3)
        notes.left.append(f"{as_text(claim.heat_temperature, 'degC', 3)}: {material.name} stands {most}")
    return min(claim.heat_temperature, material.service_temperature)


def _condenser(claim: Claim, design: Any, notes: _Notes) -> None:
    cooled = claim.condenser == "cooled" or claim.condenser_temperature is not None
    if cooled and design.kind != "dew_condenser" and getattr(design, "heat_pump_source", "") != "condenser":
        notes.left.append("its condenser is cooled by the outdoor air")


def _air(claim: Claim, name: str) -> Condition | None:
    if getattr(claim, name) is not None:
        return None
    unit = declared_fields(Claim)[name].unit
    low, _, high = RANGES[name]
    given: list[dict[str, Any]] = [{name: low}, {name: high}]
    return Condition(
        WORDS[name],
        tuple(
            Option(_told(value, unit), replace(claim, **change))
            for value, change in zip((low, high), given, strict=True)
        ),
    )


def _told(value: float, unit: str) -> str:
    return f"{plain_number(100.0 * value)} %" if unit == "1" else as_text(value, unit, 3)


def _sorbents(claim: Claim, like: Likeness) -> Condition | None:
    if like.material is None or claim.sorbent is not None:
        return None
    others = OTHER_BRINES if like.kind == "liquid_desiccant" else OTHER_SORBENTS
    return Condition(
        "sorbent", tuple(Option(sorbent(name).name, replace(claim, sorbent=name)) for name in others)
    )


def _masses(claim: Claim, like: Likeness) -> Condition | None:
    if like.kind not in ("passive_box", "two_stage_box", "hybrid") or like.mass_known:
        return None
    options = tuple(Option(f"{mass:g} kg/m2", claim, mass=mass) for mass in BOX_MASSES)
    return Condition("dry sorbent per m2", options)


def _cycles(claim: Claim, like: Likeness) -> list[Condition | None]:
    """Of an active bed."""
    coated = [Option("channels coated 0.5 mm thick", claim, changes=COATED)]
    free = claim.cycles_per_day is None and like.design.operation == "cycles"
    if free:
        often = replace(claim, cycles_per_day=CYCLES[1])
        coated.append(Option(f"the same, {CYCLES[1]:g} cycles a day", often, changes=COATED))
    found: list[Condition | None] = [Condition("form of the bed", tuple(coated))]
    if free:
        found.append(
            Condition(
                WORDS["cycles_per_day"],
                tuple(Option(f"{n:g}", replace(claim, cycles_per_day=n)) for n in CYCLES),
            )
        )
    return [*found, _heats(claim, like), _heaters(claim, like)]


def _turns(claim: Claim, like: Likeness) -> list[Condition | None]:
    """Of a wheel."""
    found: list[Condition | None] = [_heats(claim, like), _heaters(claim, like)]
    if claim.cycles_per_day is None:
        options = tuple(
            Option(f"{n * 3600.0:g} an hour", claim, changes={"wheel_revolutions": n}) for n in TURNS
        )
        found.append(Condition("turns of the wheel", options))
    return found


def _heats(claim: Claim, like: Likeness) -> Condition | None:
    if claim.heat_temperature is not None or like.material is None or like.design.heat_by == "solar":
        return None
    hottest = min(like.material.service_temperature, HOTTEST_TRIED)
    options = tuple(
        Option(as_text(hot, "degC", 3), replace(claim, heat_temperature=hot))
        for hot in (RANGES["heat_temperature"][0], hottest)
    )
    return Condition(WORDS["heat_temperature"], options)


def _heaters(claim: Claim, like: Likeness) -> Condition | None:
    if claim.heat_by != "not stated" or like.design.heat_by != "resistance":
        return None
    return Condition("what heats it", (Option(_HEATERS["heat_pump"], replace(claim, heat_by="heat_pump")),))


def _coils(claim: Claim, like: Likeness) -> list[Condition | None]:
    """Of a cooling coil."""
    found: list[Condition | None] = []
    if like.design.cooling == "vapour_compression":
        options = tuple(
            Option(f"{100.0 * share:.0f} %", claim, changes={"second_law": share})
            for share in SHARES_OF_CARNOT
        )
        found.append(Condition("share of Carnot's performance", options))
    if claim.cooling == "not stated":
        option = Option("thermoelectric modules", replace(claim, cooling="thermoelectric"))
        found.append(Condition("what makes the cold", (option,)))
    if not claim.heat_recovery:
        option = Option(f"{100.0 * RECOVERY:.0f} % of the way", replace(claim, heat_recovery=True))
        found.append(Condition(WORDS["heat_recovery"], (option,)))
    return found


def _none(claim: Claim, like: Likeness) -> list[Condition | None]:
    return []


_OWN: Final[Mapping[str, Callable[[Claim, Likeness], list[Condition | None]]]] = {
    "active_bed": _cycles,
    "desiccant_wheel": _turns,
    "cooling_coil": _coils,
}
