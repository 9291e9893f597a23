"""Published tests of radiative dew condensers."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from welkinwell.harvesters.published import STEADY_HOURS, Bench, DrawResult, Fields, Given, PublishedTests
from welkinwell.harvesters.published_weather import NIGHT_BLOCK, night_air, steady_air
from welkinwell.sorbents.sorbent import Sorbent

DEW_NIGHT: Final = 0.01  # mm, from which a night counts as one that gave dew (common practice, no source)
LEAST_HOLDUP: Final = 0.001  # kg/m2, the least that a dew condenser may declare


def _maps(given: Given, usual: Any, sorbent: Any) -> Fields:
    """Rename; the shelter is in the wind of the record; a stated coefficient replaces the wind's."""
    names = {
        "sheet_area": "sheet_area",
        "sheet_tilt": "tilt",
        "sheet_emissivity": "emissivity",
        "sheet_sky_view": "sky_view",
        "back_conductance": "back_loss",
    }
    values = {field: given[word] for word, field in names.items() if word in given}
    used = [word for word in names if word in given]
    reasons: dict[str, str] = {}
    if "sheet_holdup" in given:
        values["holdup"] = max(given["sheet_holdup"], LEAST_HOLDUP)
        used.append("sheet_holdup")
    if "surface_coefficient" in given:
        values |= {"wind_constant": given["surface_coefficient"], "wind_slope": 0.0}
        used.append("surface_coefficient")
    return Fields(values, (*used, "sheet_shelter"), reasons)


def _run(experiment: Any, given: Given, _: Sorbent | None, number: int, bench: Bench) -> DrawResult:
    """One night after another, or the steady state of one hour."""
    mapped = bench.mapped("dew_condenser", given)
    if experiment.weather == "steady":
        accounts, _flows = bench.run(mapped.design, None, steady_air(given, STEADY_HOURS))
        rate = float(accounts.water["water_collected"][0][-1])
        return DrawResult({"grams_per_m2_hour": 1000.0 * rate}, mapped.left_out)
    air, rainy = night_air(given, number)
    hourly = bench.run(mapped.design, None, air)[0].water["water_collected"][0]
    nights = np.where(rainy, 0.0, hourly.reshape(-1, NIGHT_BLOCK).sum(axis=1))
    gave = nights[nights > DEW_NIGHT]
    figures = {
        "mm_total": float(nights.sum()),
        "mm_per_year": float(nights.mean() * 365.0),
        "mm_per_dew_night": float(gave.mean()) if gave.size else 0.0,
        "mm_best_night": float(nights.max()),
        "share_of_dew_nights": gave.size / nights.size,
    }
    return DrawResult(figures, mapped.left_out)


PUBLISHED: Final = PublishedTests(_maps, _run, "dew condenser", place=5)
