"""The one harvester of a case that a study is asked about, chosen by name and simulated as it stands."""

from __future__ import annotations

from collections.abc import Callable

from welkinwell.case import Case, HarvesterCase
from welkinwell.climate.declared_air import AirState, declared_air
from welkinwell.errors import InputError, Problem, nearest_name
from welkinwell.harvesters.air import surroundings
from welkinwell.plants.plant import Plant, simulate_plant
from welkinwell.site_weather import case_climate
from welkinwell.studies.effort import (
    READING,
    compile_kind,
    getting_ready,
    is_compiled,
    many_years,
    stages,
    whole_year,
)
from welkinwell.studies.runner import Progress


def plant_of(
    case: Case, name: str | None = None, progress: Progress | None = None, air: AirState | None = None
) -> Plant:
    """Simulate one harvester of a case as it stands; the first where no name is given.

    air: a declared state laid over the weather, None for the weather as it is.
    """
    entry = _chosen(case, name)
    reading, ready, simulating = stages(progress, *_efforts(entry))
    reading("Reading the weather", 0.0)
    climate = case_climate(case)
    if air is not None:
        climate = declared_air(climate, air)
    unshaded = surroundings(climate)
    ready(f"{'Loading' if is_compiled(entry.design) else 'Compiling'} the kind of {entry.name}", 0.0)
    compile_kind(entry.design, entry.sorbent, unshaded)
    simulating(f"Simulating {entry.name}", 0.0)
    return simulate_plant(case, entry, unshaded)


def _efforts(entry: HarvesterCase) -> list[float]:
    """Efforts of reading the weather, getting the kind ready and simulating the year [s]."""
    return [READING, *getting_ready([entry.design]), whole_year(entry.design, entry.sorbent)]


def plant_then(
    progress: Progress | None, case: Case, name: str | None, years: Callable[[HarvesterCase], float]
) -> tuple[Progress, Progress]:
    """Cut a study's progress into that of `plant_of` and that of all that follows, of so many quick years."""
    entry = _chosen(case, name)
    after = many_years(years(entry), entry.design, entry.sorbent)
    first, rest = stages(progress, sum(_efforts(entry)), after)
    return first, rest


def _chosen(case: Case, name: str | None) -> HarvesterCase:
    if name is None:
        return case.harvesters[0]
    names = [one.name for one in case.harvesters]
    for one in case.harvesters:
        if one.name == name:
            return one
    raise InputError(
        Problem("harvester", repr(name), "one of " + ", ".join(names), nearest_name(name, names))
    )
