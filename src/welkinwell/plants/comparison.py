"""Every harvester of one case or several beside each other, at one place or several."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from welkinwell.case import Case, HarvesterCase
from welkinwell.harvesters.air import Surroundings, surroundings
from welkinwell.plants.plant import Plant, in_its_rows, simulate_plant
from welkinwell.plants.uncertainty import plant_in_the_draws
from welkinwell.site_weather import case_climate, descriptions_for, place_climate, with_cuts
from welkinwell.studies.compare import Comparison, Entry, compare
from welkinwell.studies.compare import Plant as ComparedPlant
from welkinwell.studies.effort import getting_ready, many_years, stages, whole_year
from welkinwell.studies.runner import Progress, run_all
from welkinwell.studies.uncertainty import Draws, years_of_draws
from welkinwell.supply.parts_list import parts_list
from welkinwell.supply.supply_uncertainty import as_it_stands


def comparison_of(
    cases: Sequence[Case],
    *,
    weather: Sequence[Path] = (),
    columns: Sequence[Path] = (),
    draws: int = 64,
    seed: int = 1,
    progress: Progress | None = None,
) -> Comparison:
    """Compare every harvester of one case or several, and where weather files are given, in each of them.

    columns: TOML files that describe plain tables among them, one for all or one for each in order.
    """
    described = descriptions_for(weather, columns)
    entries: list[Entry] = []
    of: list[tuple[Case, HarvesterCase, Surroundings]] = []
    names: set[str] = set()
    for case in cases:
        places = _places(case, weather, described)
        for place, file, unshaded in places:
            for one in case.harvesters:
                name = one.name if len(cases) == 1 else f"{case.name}: {one.name}"
                name = name if len(places) == 1 else f"{name}, {place}"
                while name in names:
                    name += " (again)"
                names.add(name)
                site, _ = in_its_rows(case, one, unshaded)
                entries.append(Entry(name, one.design, one.sorbent, site, place, str(file.resolve())))
                of.append((case, one, unshaded))
    simulating, comparing = _stages(entries, draws, progress)
    simulating("Simulating", 0.0)
    plants = run_all(
        lambda number: simulate_plant(*of[number], name=entries[number].name),
        range(len(entries)),
        progress=lambda share: simulating("Simulating", share),
        efforts=[_a_year(entry) for entry in entries],
    )
    simulated = [
        replace(entry, year=plant.year, site=plant.site) for entry, plant in zip(entries, plants, strict=True)
    ]
    return compare(
        simulated, draws=draws, seed=seed, plants=lambda number, drawn: _in_draws(plants[number], drawn),
        progress=comparing,
    )  # fmt: skip


def _places(
    case: Case, weather: Sequence[Path], described: Sequence[Any]
) -> list[tuple[str, Path, Surroundings]]:
    """Name, file and surroundings of a case's own place and of each further weather file."""
    found = [(case.site.name, case.weather_path, case_climate(case))]
    found += [
        (path.name.split(".")[0].replace("_", " "), path, with_cuts(case, place_climate(path, told)))
        for path, told in zip(weather, described, strict=True)
    ]
    return [(name, path, surroundings(climate)) for name, path, climate in found]


def _a_year(entry: Entry) -> float:
    """Effort of a year on one of the cores [s]."""
    return whole_year(entry.design, entry.sorbent) / (os.cpu_count() or 1)


def _stages(entries: Sequence[Entry], draws: int, progress: Progress | None) -> list[Progress]:
    """Cut the progress into simulating and comparing."""
    ready = sum(getting_ready([one.design for one in entries]))
    drawn = [many_years(years_of_draws(draws) + 1, one.design, one.sorbent) for one in entries]
    return stages(progress, ready + sum(map(_a_year, entries)), sum(drawn))


def _in_draws(plant: Plant, drawn: Draws | None) -> ComparedPlant:
    """Cost, supply and mass of a plant, with their spread where there are draws."""
    sure = None if drawn is None else plant_in_the_draws(plant, drawn)
    now = sure.now if sure is not None else as_it_stands(plant.supply, plant.decision.cost)
    area = float(plant.design.basis_area * plant.design.modules)
    parts = parts_list(asdict(plant.design), area, plant.design.modules, 0.0)
    mass = sum(part.mass or 0.0 for part in parts)
    return ComparedPlant(now, sure, mass, plant.case.cost.currency)
