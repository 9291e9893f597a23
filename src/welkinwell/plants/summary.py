"""The summary of an answered case: made once from what was found, and never changed afterwards."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import xarray as xr

from welkinwell.case import Case
from welkinwell.climate.hourly import site_entry, weather_entry
from welkinwell.plants.answered import HarvesterAnswer
from welkinwell.plants.full_study import FullStudy
from welkinwell.supply.decision import decision_summary
from welkinwell.supply.verdict import DECISIONS, verdict_summary
from welkinwell.year import SCHEMA_VERSION, water_account

MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def case_summary(
    case: Case,
    climate: xr.Dataset,
    found: Sequence[HarvesterAnswer],
    left_out: Sequence[str] = (),
    studies: Sequence[FullStudy] = (),
) -> dict[str, Any]:
    """Give the summary; studies: of each harvester in the same order, or none."""
    best = in_order(found)[0]
    of_each: Sequence[FullStudy | None] = studies or [None] * len(found)
    return {
        "schema_version": SCHEMA_VERSION,
        "case": case.name,
        "note": case.note,
        "site": {**site_entry(climate), "name": case.site.name},
        "weather": weather_entry(climate),
        "demand_litres_per_day": case.demand.litres_per_day,
        "tank_litres": case.tank.volume * 1000.0 if case.tank else None,
        "verdict": {"harvester": best.case.name, **verdict_summary(best.decision.verdict)},
        "harvesters": [
            {**_of_harvester(one), **_of_study(one, study)} for one, study in zip(found, of_each, strict=True)
        ],
        "version": found[0].year.attrs["version"],
        "citations": sorted({key for one in found for key in json.loads(one.year.attrs["citations"])}),
        "left_out": list(left_out),
    }


def _of_harvester(one: HarvesterAnswer) -> dict[str, Any]:
    attributes = one.year.attrs
    return {
        "name": one.case.name,
        "kind": one.case.kind,
        "area_basis": attributes["basis"],
        "depth": attributes["depth"] or None,
        "layered_litres_per_m2_day": one.layered,
        "sorbent": one.case.sorbent_name or None,
        **one.figures,
        **decision_summary(one.supply, one.decision),
        "worst_month": MONTHS[one.worst_month] if one.figures["litres_per_day"] > 0.0 else None,
        "water_account_kg_per_m2": water_account(one.year),
        "limiting_step_by_month": [key for key, _ in one.limits] or None,
        "power": one.power.as_data() if one.power else None,
        "hours_without_power": attributes["hours_without_power"],
        "limits": one.bounds.as_data(),
        "safeguards": one.safety.as_data(),
        "highest_bed_temperature_celsius": _celsius(attributes.get("highest_bed_temperature")),
        "condenser_over_air_kelvin": _finite(attributes["condenser_excess"]),
        "water_outside_temperature_range": attributes["water_outside_temperature_range"],
        "water_outside_potential_range": attributes["water_outside_potential_range"],
        "warnings": one.warnings,
    }


def _of_study(one: HarvesterAnswer, study: FullStudy | None) -> dict[str, Any]:
    """What `run --full` adds: without what the harvester's entry says already."""
    if study is None:
        return {}
    head = set(one.plant.head)
    drawn = {key: value for key, value in study.uncertainty.as_data().items() if key not in head}
    return {"uncertainty": drawn, "losses": study.losses.as_data()}


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _celsius(kelvin: float | None) -> float | None:
    return None if kelvin is None else kelvin - 273.15


def in_order(found: Sequence[HarvesterAnswer]) -> list[HarvesterAnswer]:
    """Sort by what is worth building; of equals the one that meets most comes first, then the cheapest."""

    def rank(one: HarvesterAnswer) -> tuple[int, float, float]:
        price = one.decision.cost.central.per_litre
        met = round(one.figures["share_of_demand_met"], 3)
        return (
            DECISIONS.index(one.decision.verdict.decision),
            met,
            -price if price is not None else -np.inf,
        )

    return sorted(found, key=rank, reverse=True)
