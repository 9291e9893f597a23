"""How a claim of a desiccant wheel is read."""

from dataclasses import replace
from typing import Any, Final

import numpy as np

from welkinwell.declare import declared_fields
from welkinwell.harvesters.claimed import (
    DAY,
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
from welkinwell.harvesters.desiccant_wheel.design import DesiccantWheel
from welkinwell.quantities import plain

TURNS: Final = (5.0 / 3600.0, 40.0 / 3600.0)  # 1/s, lowest and highest (common practice, no source)


def _make(claim: Any, material: Any, mass: float | None, notes: Notes) -> DesiccantWheel:
    usual = DesiccantWheel()
    changes: dict[str, Any] = {"sorbent_mass": usual.sorbent_mass if mass is None else mass}
    if claim.cycles_per_day is not None:
        turns = claim.cycles_per_day / DAY
        known = declared_fields(DesiccantWheel)["wheel_revolutions"]
        changes["wheel_revolutions"] = float(np.clip(turns, known.low, known.high))
    else:
        notes.assumed.append(f"{plain(usual.wheel_revolutions * 3600.0)} turns an hour")
    heat_by = claimed_heater(claim, notes)
    if heat_by in ("solar", "waste_heat"):
        notes.left.append("the wheel's air is heated by a resistance of as much heat")
        heat_by = "resistance"
    changes["heat_by"] = heat_by
    if heat_by == "heat_pump" and claim.condenser == "cooled":
        changes["heat_pump_source"] = "condenser"
    hot = claimed_release(claim, material, notes)
    if hot is not None:
        changes["regeneration_temperature"] = hot
    return replace(usual, **changes)


def _conditions(claim: Any, like: Any) -> list[Condition | None]:
    found = [release_temperatures(claim, like), other_heaters(claim, like)]
    if claim.cycles_per_day is None:
        options = tuple(
            Option(f"{n * 3600.0:g} an hour", claim, changes={"wheel_revolutions": n}) for n in TURNS
        )
        found.append(Condition("turns of the wheel", options))
    return found


CLAIMED: Final = ClaimedKind(_make, _conditions, more_than_stated=heat_or_power)
