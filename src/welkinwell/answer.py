"""From a case to everything that is shown of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from welkinwell.case import Case, HarvesterCase
from welkinwell.climate.hourly import site_entry, weather_entry
from welkinwell.climate.survey import survey
from welkinwell.harvesters.air import Surroundings, surroundings
from welkinwell.harvesters.study import study_of
from welkinwell.plants.answered import HarvesterAnswer, layered_litres, wants_cells
from welkinwell.plants.full_study import FullStudy
from welkinwell.plants.plant import simulate_plant
from welkinwell.plants.summary import MONTHS, case_summary, in_order
from welkinwell.quantities import litres_on, plain
from welkinwell.site_weather import case_climate, further_climate, place_climate
from welkinwell.studies.effort import (
    BESIDE,
    READING,
    compile_kind,
    getting_ready,
    is_compiled,
    many_years,
    stages,
    whole_year,
)
from welkinwell.studies.limiting import EasedStep, limiting_steps
from welkinwell.studies.runner import Progress
from welkinwell.year import DAYS_IN_MONTH, SCHEMA_VERSION


@dataclass(frozen=True)
class Answer:
    """A case answered: the site, and each harvester.

    left_out: what a quick answer does without, in words; studies: of each harvester, where there are any.
    """

    case: Case
    climate: xr.Dataset
    survey: xr.Dataset
    harvesters: list[HarvesterAnswer]
    left_out: tuple[str, ...] = ()
    studies: tuple[FullStudy, ...] = ()

    @cached_property
    def summary(self) -> dict[str, Any]:
        """All of it as JSON-ready data."""
        return case_summary(self.case, self.climate, self.harvesters, self.left_out, self.studies)

    @cached_property
    def headline(self) -> str:
        """Whether to build, then one sentence a harvester: litres, and what they mean for the demand."""
        return _headline(self.case, self.harvesters)

    @property
    def best(self) -> HarvesterAnswer:
        """The harvester that is most worth building."""
        return self.in_order[0]

    @property
    def in_order(self) -> list[HarvesterAnswer]:
        """The harvesters, the one most worth building first: the order of every comparison."""
        return in_order(self.harvesters)


@dataclass(frozen=True)
class SiteAnswer:
    """What a harvester sees at a place."""

    climate: xr.Dataset
    survey: xr.Dataset
    summary: dict[str, Any]
    headline: str


def answer_case(case: Case, progress: Progress | None = None, quick: bool = False) -> Answer:
    """Simulate every harvester of a case and say what it means for the demand.

    quick: leave out what needs more than one simulated year a harvester, see `left_out_by_quick`.
    """
    efforts = _efforts(case, quick)
    reading, *of_each, end = stages(progress, READING, *map(sum, efforts), 0.0)
    reading("Reading the weather", 0.0)
    climate = case_climate(case)
    site = surroundings(climate)
    further = [
        (path.name, surroundings(further_climate(case, climate, path)))
        for path in (() if quick else case.further_weather)
    ]
    planes = [entry.design for entry in case.harvesters if sun_plane(entry.design)]
    if planes:
        looked = survey(climate, tilt=planes[0].tilt, azimuth=planes[0].azimuth(site.latitude))
    else:
        looked = survey(climate)
    found = [
        _answered(case, entry, site, further, stages(stage, *parts), quick)
        for entry, stage, parts in zip(case.harvesters, of_each, efforts, strict=True)
    ]
    end("Done", 1.0)
    left_out = left_out_by_quick(case) if quick else ()
    return Answer(case, climate, looked, found, left_out)


def left_out_by_quick(case: Case) -> tuple[str, ...]:
    """Say what a quick answer of a case does without: all that needs more than one year a harvester.

    A plant with its own electricity is still simulated again with the hours that lack some, since the litres
    themselves hang on that.
    """
    years = len(case.further_weather)
    further = (f"the {years} further weather years" if years > 1 else "the further weather year",)
    return (
        "what limits the litres",
        "how sure the litres are (the interval, and where the litres go)",
        *(further if years else ()),
        *(("what a bed computed in layers gives",) if any(map(wants_cells, case.harvesters)) else ()),
    )


def answer_effort(case: Case, quick: bool = False) -> float:
    """Effort of answering a case [s]."""
    return READING + sum(map(sum, _efforts(case, quick)))


def _efforts(case: Case, quick: bool) -> list[list[float]]:
    """Efforts of getting ready, of the year, of what limits it and of all else, for each harvester [s]."""
    ready = getting_ready([one.design for one in case.harvesters])
    years = 2.0 if case.power is not None else 1.0  # once more without what its own electricity lacks
    further = 0.0 if quick else years * len(case.further_weather)
    found = []
    for first, one in zip(ready, case.harvesters, strict=True):
        design, material = one.design, one.sorbent
        easings = 0 if quick else len(study_of(one.kind).easings)
        found.append(
            [
                first,
                years * whole_year(design, material),
                many_years(easings, design, material),
                BESIDE + many_years(further, design, material, cores=1),
            ]
        )
    return found


def sun_plane(design: Any) -> bool:
    """Whether a design has a plane that takes the sun as its drive."""
    return study_of(design.kind).sun_plane(design)


def answer_site(path: Path, progress: Progress | None = None, columns: Path | None = None) -> SiteAnswer:
    """Read a weather file, or the site of a case, and say what a harvester sees there.

    columns: TOML file or case that describes a plain table's columns, or a log that corrects the file.
    """
    if progress is not None:
        progress("Reading the weather", 0.0)
    climate = place_climate(path, columns)
    looked = survey(climate)
    if progress is not None:
        progress("Done", 1.0)
    night = looked["night_vapour_pressure"].values
    sun = looked["sun_on_plane"].values
    summary = {
        "schema_version": SCHEMA_VERSION,
        "site": site_entry(climate),
        "weather": weather_entry(climate),
        "by_month": {
            name: [None if not np.isfinite(x) else float(x) for x in looked[name].values]
            for name in looked.data_vars
            if looked[name].dims == ("month",)
        },
    }
    headline = (
        f"{climate.attrs['site']}: night vapour pressure {night.min() / 1000:.2f} to "
        f"{night.max() / 1000:.2f} kPa by month, sun on a tilted plane {sun.min():.1f} to {sun.max():.1f} "
        "kWh/m2 a day."
    )
    return SiteAnswer(climate, looked, summary, headline)


def _answered(
    case: Case,
    entry: HarvesterCase,
    unshaded: Surroundings,
    further: Sequence[tuple[str, Surroundings]],
    parts: Sequence[Progress],
    quick: bool,
) -> HarvesterAnswer:
    ready, simulating, limiting, rest = parts
    ready(f"{'Loading' if is_compiled(entry.design) else 'Compiling'} the kind of {entry.name}", 0.0)
    compile_kind(entry.design, entry.sorbent, unshaded)
    simulating(f"Simulating {entry.name}", 0.0)
    plant = simulate_plant(case, entry, unshaded, further)
    relaxed: list[EasedStep] = []
    if not quick:
        limiting(f"What limits {entry.name}", 0.0)
        tell = partial(limiting, f"What limits {entry.name}")
        relaxed = limiting_steps(entry.design, entry.sorbent, plant.site, tell)
    rest(f"Tank, cost and safety of {entry.name}", 0.0)
    return HarvesterAnswer(plant, relaxed, None if quick else layered_litres(entry, plant.site))


def _headline(case: Case, found: list[HarvesterAnswer]) -> str:
    """Whether to build, then one sentence a harvester: litres, and what they mean for the demand."""
    lines = [in_order(found)[0].decision.verdict.sentence]
    for one in found:
        numbers = one.figures
        if numbers["litres_per_day"] <= 0.0:
            lines.append(f"{one.case.name}: no water at all in this weather year.")
            continue
        worst = numbers["litres_by_month"][one.worst_month] / DAYS_IN_MONTH[one.worst_month]
        lines.append(
            f"{one.case.name}: {numbers['litres_per_day']:.1f} L/day collected "
            f"({plain(numbers['litres_per_m2_day'])} {litres_on(one.year.attrs['basis'])}; worst month "
            f"{MONTHS[one.worst_month]}, {worst:.1f} L/day). Of {case.demand.asked} L/day asked for, "
            f"{100 * numbers['share_of_demand_met']:.0f} % is met, all of it on "
            f"{100 * numbers['share_of_days_met']:.0f} % of days."
        )
    return "\n".join(lines)
