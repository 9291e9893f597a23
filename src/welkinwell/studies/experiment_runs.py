"""One draw of a published experiment, simulated: from its conditions to the figures that were published.

A run gives figures by quantity, in the published unit. What a protocol asks for and no kind can do is left
out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import FREEZING_POINT
from welkinwell.errors import InputError, SolverError
from welkinwell.harvesters.air import SUN_PLANE, AirRecord
from welkinwell.harvesters.harvester import Accounts, Bucketed
from welkinwell.harvesters.kinds import KINDS, harvester_of
from welkinwell.moist_air import latent_heat, saturation_pressure
from welkinwell.numerics.march import MarchResult
from welkinwell.simulate import TOLERANCES, Prepared, march_year
from welkinwell.sky.plane import CoverOptics
from welkinwell.sorbents.row import ROW_LENGTH
from welkinwell.sorbents.sorbent import Sorbent, sorbent
from welkinwell.studies.experiment_designs import mapped_design
from welkinwell.studies.experiment_weather import (
    NIGHT_BLOCK,
    Plane,
    day_air,
    night_air,
    steady_air,
    uptake_air,
)
from welkinwell.studies.experiments import Experiment

TOLERANCE: Final = TOLERANCES["normal"]
MOST_DAYS: Final = 60  # that a day is repeated
REPEATS: Final = 1e-3  # relative change of a day's water at which it repeats itself
LEAST_CHANGE: Final = 1e-4  # kg/m2, below which a change of a day's water means nothing
DEW_NIGHT: Final = 0.01  # mm, from which a night counts as one that gave dew (common practice, no source)
RELEASE_SHARE: Final = 0.01  # of the best hour's condensate, from which an hour counts as one of release
NEARLY_FULL: Final = 0.01  # of the first hour's uptake: the protocol of the six boxes
EVENING: Final = 18  # h
EMPTIED: Final = 0.01  # relative humidity that empties a bed before uptake alone is followed (assumed)
STEADY_HOURS: Final = 24
WAYS: Final[Mapping[str, tuple[str, ...]]] = {
    "taken up": ("water_taken_up",),
    "condensed": ("water_condensed",),
    "dried from surfaces again": ("water_reevaporated",),
    "leaked, vented or blown out": ("water_leaked", "water_vented", "water_exhausted"),
    "given back to the open air": ("water_released_open",),
}

# Figures of a case that its drawn conditions do not describe, by case and place in its list of figures.
OTHER_CONDITIONS: Final[Mapping[tuple[str, int], str]] = {
    ("desert_window_panel", 1): "the conditions that are drawn are those of the best day, not of the worst",
}


@dataclass(frozen=True)
class DrawResult:
    """Figures of one draw, by quantity [published unit].

    left_out: words not represented, with the reason; water: where a day's water went, for the reason of a
    miss [kg/m2 of the kind's basis].
    """

    figures: Mapping[str, float]
    left_out: Mapping[str, str] = field(default_factory=dict)
    water: Mapping[str, float] = field(default_factory=dict)


def run_draw(experiment: Experiment, given: Mapping[str, Any], number: int) -> DrawResult:
    """Simulate one draw.

    Args: experiment; given: its drawn conditions [SI]; number: of the draw, which seeds its nights [1].
    Returns: the figures; raises InputError where the draw makes no possible device, SolverError where the
    march cannot finish.
    """
    material = sorbent(given["sorbent"]) if "sorbent" in given else None
    if experiment.weather == "equilibrium":
        return _equilibrium(given, material)
    return _RUNS[experiment.kind](experiment, given, material, number)


def _equilibrium(given: Mapping[str, Any], material: Sorbent | None) -> DrawResult:
    """Loading at the air's state less loading at the release temperature and the same vapour pressure."""
    assert material is not None
    T, hot, rh = given["air_temperature"], given["release_temperature"], given["relative_humidity"]
    hot_humidity = rh * float(saturation_pressure(T)) / float(saturation_pressure(hot))
    swing = float(material.loading(T, rh)) - float(material.release_loading(hot, hot_humidity))
    return DrawResult({"litres_per_kg_swing": swing})


def _passive_box(
    experiment: Experiment, given: Mapping[str, Any], material: Sorbent | None, _: int
) -> DrawResult:
    """One day repeated until it repeats itself."""
    assert material is not None
    mapped = mapped_design("passive_box", given, material)
    design = mapped.design
    plane = Plane(
        design.tilt,
        CoverOptics(design.glazing_thickness, design.glazing_refractive_index, design.glazing_extinction),
        design.absorber_absorptance,
        design.soiling,
        design.device_height,
        design.terrain,
        design.shelter,
    )
    air = day_air(given, plane)
    if any(figure.quantity == "hours_to_saturation" for figure in experiment.figures):
        hours = _hours_to_saturation(_ready(design, material, uptake_air(air, EVENING, EMPTIED)))
        return DrawResult({"hours_to_saturation": hours}, mapped.left_out)
    ready = _ready(design, material, air)
    water = _repeated(ready)
    litres = float(water["water_collected"].sum())
    figures = {
        "litres_per_m2_day": litres,
        "litres_per_kg_day": litres / design.sorbent_mass,
        "litres_per_day": litres * design.aperture_area,
        "thermal_efficiency": _efficiency(water, air),
    }
    if "dry_sorbent" in given:
        figures["grams_per_day"] = 1000.0 * litres / design.sorbent_mass * given["dry_sorbent"]
    return DrawResult(figures, mapped.left_out, _ways(water))


def _ways(water: Mapping[str, NDArray[np.float64]]) -> dict[str, float]:
    """Sum a day's water by the words of WAYS [kg/m2]."""
    return {
        words: sum(float(water[name].sum()) for name in names if name in water)
        for words, names in WAYS.items()
    }


def _efficiency(water: Mapping[str, NDArray[np.float64]], air: AirRecord) -> float:
    """Latent heat of the day's water over the sun on the aperture in the hours of release [1]."""
    condensed = water["water_condensed"]
    hours = condensed > RELEASE_SHARE * condensed.max()
    plane = air.nodes[:, SUN_PLANE]
    sun = 0.25 * (plane[0:-1:2] + 2.0 * plane[1::2] + plane[2::2]) * 3600.0
    if not sun[hours].sum() > 0.0:
        return 0.0
    heat = float(latent_heat(FREEZING_POINT + 25.0))
    return float(water["water_collected"].sum()) * heat / float(sun[hours].sum())


def _hours_to_saturation(ready: Prepared) -> float:
    """Hours from the evening until a hundredth of the first hour's uptake is left, at most a day [h]."""
    water = _accounts(ready, march_year(ready, tolerance=TOLERANCE)[1]).water
    uptake = (water["water_taken_up"][0] - water["water_released_open"][0])[24:]
    done = np.flatnonzero(uptake[1:] < NEARLY_FULL * uptake[0])
    return float(done[0] + 1) if done.size else float(uptake.size)


def _dew_condenser(
    experiment: Experiment, given: Mapping[str, Any], _: Sorbent | None, number: int
) -> DrawResult:
    """One night after another, or the steady state of one hour."""
    mapped = mapped_design("dew_condenser", given)
    if experiment.weather == "steady":
        ready = _ready(mapped.design, None, steady_air(given, STEADY_HOURS))
        water = _accounts(ready, march_year(ready, tolerance=TOLERANCE)[1]).water
        rate = float(water["water_collected"][0][-1])
        return DrawResult({"grams_per_m2_hour": 1000.0 * rate}, mapped.left_out)
    air, rainy = night_air(given, number)
    ready = _ready(mapped.design, None, air)
    hourly = _accounts(ready, march_year(ready, tolerance=TOLERANCE)[1]).water["water_collected"][0]
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


def _ready(design: Any, material: Sorbent | None, air: AirRecord) -> Prepared:
    """Bring a design and a record that was made by hand together, as simulate.prepare does for a site."""
    harvester = harvester_of(design)
    design, material = harvester.fitted(design, material)
    row = np.zeros(ROW_LENGTH) if material is None else material.row
    numbers = harvester.numbers(design, material, air.pressure)
    return Prepared(harvester, design, material, air, harvester.plan(design, air), numbers, row)


def _accounts(ready: Prepared, result: MarchResult) -> Accounts:
    return ready.harvester.accounts(Bucketed(ready.harvester.kind, ready.design, result.flows))


def _repeated(ready: Prepared) -> dict[str, NDArray[np.float64]]:
    """March a one-day record until its water repeats itself; gives the last day's water by hour [kg/m2]."""
    before, state = -1.0, None
    for _ in range(MOST_DAYS):
        _, result = march_year(ready, tolerance=TOLERANCE, start=state)
        state = result.state
        water = {name: entry[0] for name, entry in _accounts(ready, result).water.items()}
        litres = float(water["water_collected"].sum())
        if abs(litres - before) < max(REPEATS * litres, LEAST_CHANGE):
            break
        before = litres
    return water


_RUNS: Final[Mapping[str, Callable[..., DrawResult]]] = {
    "passive_box": _passive_box,
    "dew_condenser": _dew_condenser,
}
REFUSALS: Final = (InputError, SolverError)


def cannot_run(experiment: Experiment) -> str:
    """Say why a case cannot be predicted, or nothing."""
    if experiment.weather == "equilibrium" or experiment.kind in _RUNS:
        return ""
    if experiment.kind not in KINDS:
        return f"the kind is not built yet ({experiment.kind})"
    return "no simulation of this protocol yet"
