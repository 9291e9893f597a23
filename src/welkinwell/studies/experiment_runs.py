"""One draw of a published experiment, simulated: from its conditions to the figures that were published.

A run gives figures by quantity, in the published unit. What a protocol asks for and no kind can do is left
out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.errors import InputError, SolverError
from welkinwell.harvesters.air import AirRecord
from welkinwell.harvesters.harvester import Accounts, Bucketed
from welkinwell.harvesters.kinds import KINDS, harvester_of
from welkinwell.harvesters.published import Bench, DrawResult, kinds_with_tests, published
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulation import TOLERANCES, Prepared, march_year
from welkinwell.sorbents.row import ROW_LENGTH
from welkinwell.sorbents.sorbent import Sorbent, sorbent
from welkinwell.studies.experiment_designs import mapped_design
from welkinwell.studies.experiments import Experiment

TOLERANCE: Final = TOLERANCES["normal"]
MOST_DAYS: Final = 60  # that a day is repeated
REPEATS: Final = 1e-3  # relative change of a day's water at which it repeats itself
LEAST_CHANGE: Final = 1e-4  # kg/m2, below which a change of a day's water means nothing
NO_PROTOCOL: Final[Mapping[str, str]] = {
    "radiative_skin_sorbent": "no kind takes up vapour on a sheet that itself cools towards the sky",
    "thermoelectric_cleared": "drops on a cold plate, and clearing them, are outside what is built",
}

# Figures of a case that its drawn conditions do not describe, by case and place in its list of figures.
OTHER_CONDITIONS: Final[Mapping[tuple[str, int], str]] = {
    ("packed_bed_dryer", 1): "the exchanger that recovers heat is not simulated",
    ("desert_window_panel", 1): "the conditions that are drawn are those of the best day, not of the worst",
}


def run_draw(experiment: Experiment, given: Mapping[str, Any], number: int) -> DrawResult:
    """Simulate one draw.

    Args: experiment; given: its drawn conditions [SI]; number: of the draw, which seeds its nights [1].
    Returns: the figures; raises InputError where the draw makes no possible device, SolverError where the
    march cannot finish.
    """
    material = sorbent(given["sorbent"]) if "sorbent" in given else None
    hottest = given.get("release_temperature", 0.0)
    if material is not None and hottest > material.service_temperature:
        # what a test was run at, its sorbent stood, whatever the sheet advises for years of service
        material = replace(material, service_temperature=hottest)
    if experiment.weather == "equilibrium":
        return _equilibrium(given, material)
    run = published(experiment.kind).run
    assert run is not None
    return run(experiment, given, material, number, BENCH)


def _equilibrium(given: Mapping[str, Any], material: Sorbent | None) -> DrawResult:
    """Loading at the air's state less loading at the release temperature and the same vapour pressure."""
    assert material is not None
    T, hot, rh = given["air_temperature"], given["release_temperature"], given["relative_humidity"]
    hot_humidity = rh * float(saturation_pressure(T)) / float(saturation_pressure(hot))
    swing = float(material.loading(T, rh)) - float(material.release_loading(hot, hot_humidity))
    return DrawResult({"litres_per_kg_swing": swing})


def _ready(design: Any, material: Sorbent | None, air: AirRecord) -> Prepared:
    """Bring a design and a record that was made by hand together, as simulate.prepare does for a site."""
    harvester = harvester_of(design)
    design, material = harvester.fitted(design, material)
    row = np.zeros(ROW_LENGTH) if material is None else material.row
    numbers = harvester.numbers(design, material, air.pressure)
    return Prepared(harvester, design, material, air, harvester.plan(design, air), numbers, row)


def _run(
    design: Any, material: Sorbent | None, air: AirRecord
) -> tuple[Accounts, dict[str, NDArray[np.float64]]]:
    """March a record; gives the accounts and each flow by hour, as `Bench` has it."""
    ready = _ready(design, material, air)
    result = march_year(ready, tolerance=TOLERANCE)[1]
    kind = ready.harvester.kind
    hourly = result.flows.sum(axis=1)
    flows = {flow.name: hourly[:, number] for number, flow in enumerate(kind.flows)}
    return ready.harvester.accounts(Bucketed(kind, ready.design, result.flows)), flows


def _repeated(design: Any, material: Sorbent | None, air: AirRecord) -> dict[str, NDArray[np.float64]]:
    """March a one-day record until its water repeats itself; gives the last day's water by hour [kg/m2]."""
    ready = _ready(design, material, air)
    before, state = -1.0, None
    for _ in range(MOST_DAYS):
        _, result = march_year(ready, tolerance=TOLERANCE, start=state)
        state = result.state
        accounts = ready.harvester.accounts(Bucketed(ready.harvester.kind, ready.design, result.flows))
        water = {name: entry[0] for name, entry in accounts.water.items()}
        litres = float(water["water_collected"].sum())
        if abs(litres - before) < max(REPEATS * litres, LEAST_CHANGE):
            break
        before = litres
    return water


BENCH: Final = Bench(mapped_design, _run, _repeated)
REFUSALS: Final = (InputError, SolverError)


def cannot_run(experiment: Experiment) -> str:
    """Say why a case cannot be predicted, or nothing."""
    if experiment.case in NO_PROTOCOL:
        return NO_PROTOCOL[experiment.case]
    if experiment.weather == "equilibrium" or experiment.kind in kinds_with_tests():
        return ""
    if experiment.kind not in KINDS:
        return f"the kind is not built yet ({experiment.kind})"
    return "no simulation of this protocol yet"
