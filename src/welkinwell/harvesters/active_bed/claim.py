"""How a claim of an active bed is read."""

from dataclasses import replace
from typing import Any, Final

import numpy as np

from welkinwell.harvesters.active_bed.design import ActiveBed
from welkinwell.harvesters.claimed import (
    DAY,
    WORDS,
    ClaimedKind,
    Condition,
    Notes,
    Option,
    claimed_heater,
    claimed_release,
    heat_or_power,
    other_heaters,
    release_temperatures,
)
from welkinwell.quantities import as_text, plain

CYCLES: Final = (4.0, 48.0)  # a day, lowest and highest (common practice, no source)
COATED: Final = {"form": "channels"}


def _make(claim: Any, material: Any, mass: float | None, notes: Notes) -> ActiveBed:
    usual = ActiveBed()
    kilograms = material.bulk_density * usual.bed_depth if mass is None else mass
    notes.assumed.append(f"grains {as_text(usual.bed_depth, 'mm')} deep")
    heat_by = claimed_heater(claim, notes)
    changes: dict[str, Any] = {"sorbent_mass": kilograms, "heat_by": heat_by}
    if heat_by == "heat_pump" and claim.condenser == "cooled":
        changes["heat_pump_source"] = "condenser"
    if claim.cycles_per_day is not None:
        half = float(np.clip(0.5 * DAY / claim.cycles_per_day, 60.0, DAY))
        changes |= {"uptake_length": half, "release_length": half}
    elif heat_by == "solar":
        changes["operation"] = "sun"
    else:
        notes.assumed.append(f"{plain(DAY / (usual.uptake_length + usual.release_length))} cycles a day")
    hot = claimed_release(claim, material, notes)
    if hot is not None and heat_by == "waste_heat":
        changes["waste_heat_temperature"] = hot
    elif hot is not None:
        changes["release_temperature"] = hot
    return replace(usual, **changes)


def _conditions(claim: Any, like: Any) -> list[Condition | None]:
    # a coating fills its channels
    volume = replace(like.design, **COATED).sorbent_layer.volume
    coated = {**COATED, "sorbent_mass": like.material.bulk_density * volume}
    options = [Option("channels coated 0.5 mm thick", claim, changes=coated)]
    free = claim.cycles_per_day is None and like.design.operation == "cycles"
    if free:
        often = replace(claim, cycles_per_day=CYCLES[1])
        options.append(Option(f"the same, {CYCLES[1]:g} cycles a day", often, changes=coated))
    found: list[Condition | None] = [Condition("form of the bed", tuple(options))]
    if free:
        cycles = tuple(Option(f"{n:g}", replace(claim, cycles_per_day=n)) for n in CYCLES)
        found.append(Condition(WORDS["cycles_per_day"], cycles))
    return [*found, release_temperatures(claim, like), other_heaters(claim, like)]


def _sun_drives(design: ActiveBed) -> bool:
    return design.heat_by == "solar"


CLAIMED: Final = ClaimedKind(
    _make, _conditions, sun_drives=_sun_drives, more_than_stated=heat_or_power, condenser_asked=True
)
