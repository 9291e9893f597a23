"""From a case to what a decision needs: losses, doubts, a comparison, the best design, a way to a target."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import numpy as np
import xarray as xr

from welkinwell.answer import (
    Answer,
    as_it_meets,
    decision_of,
    in_its_rows,
    supply_of,
)
from welkinwell.case import Case, HarvesterCase
from welkinwell.climate.column_map import DeviceColumns
from welkinwell.climate.declared_air import AirState, declared_air
from welkinwell.climate.hourly import site_entry, weather_entry
from welkinwell.errors import InputError, Problem, nearest_name
from welkinwell.harvesters.air import Surroundings, surroundings
from welkinwell.harvesters.power_cuts import VARIABLE as POWER_OFF
from welkinwell.harvesters.size_bounds import Place
from welkinwell.harvesters.study import study_of
from welkinwell.harvesters.uncertain_parameters import UncertainParameter
from welkinwell.limits.bound import Bound
from welkinwell.quantities import litres_on
from welkinwell.simulation import simulate
from welkinwell.site_weather import (
    case_climate,
    descriptions_for,
    further_climate,
    place_climate,
    with_cuts,
)
from welkinwell.sorbents.sorbent import Sorbent, sheet_names, sorbent
from welkinwell.studies.acceptance import Acceptance, acceptance
from welkinwell.studies.bias import Bias, Carried, bias_of, carry
from welkinwell.studies.bounds import (
    HarvesterLimits,
    bounds_of_any_size,
    carried_once_a_day,
    limits_of_harvester,
)
from welkinwell.studies.compare import Comparison, Entry, Plant, compare
from welkinwell.studies.device_log import on_the_logs_weather, read_device_log
from welkinwell.studies.effort import (
    READING,
    compile_kind,
    getting_ready,
    is_compiled,
    many_years,
    stages,
    whole_year,
)
from welkinwell.studies.gradient import Slope
from welkinwell.studies.limiting import limit_by_month, limiting_steps
from welkinwell.studies.losses import LossLadder, loss_ladder
from welkinwell.studies.monitor import Accuracy, Monitored, known_weather, monitor
from welkinwell.studies.off_grid import HarvesterOffGrid, cost_off_grid, off_grid, own_power, plant_load
from welkinwell.studies.optimise import (
    Best,
    Limits,
    Search,
    Tried,
    best_design,
    evolve_front,
    front,
    needs_pymoo,
    through_the_year,
)
from welkinwell.studies.plant_figures import PlantFigures
from welkinwell.studies.reach import LITRES, Aim, Reach, reach, variables_of_reach
from welkinwell.studies.runner import Progress, run_all
from welkinwell.studies.shares_of_doubt import DoubtShares, shares_of_doubt
from welkinwell.studies.targets import (
    cost_aim,
    cost_bound,
    days_aim,
    days_bound,
    is_of_plant,
    plant_variables,
)
from welkinwell.studies.uncertainty import Draws, draw, elasticities, years_of_draws, years_of_slopes
from welkinwell.studies.variables import Variable, from_text, variables_of
from welkinwell.supply.parts_list import parts_list
from welkinwell.supply.power import HOUR, KWH
from welkinwell.supply.sureness import Sureness, as_it_stands, sureness
from welkinwell.supply.verdict import money
from welkinwell.year import DAYS_IN_MONTH, SCHEMA_VERSION, figures, monthly

# Bounds that no size, sorbent or condition of a device of their kind changes.
# Assumptions of the cost of which plants with another sorbent, or of another kind, have draws of their own.
OF_ITS_OWN: Final = (
    "sorbent_price", "sorbent_life", "sorbent_ageing", "device_price", "module_price", "plant_life",
)  # fmt: skip
OF_THE_PLACE: Final = ("reversible", "heat")
LIQUID: Final = "liquid desiccant"  # family of a sheet
AREAS: Final = ("aperture_area", "face_area", "coil_face", "sheet_area")  # of a module, by kind


@dataclass(frozen=True)
class Asked:
    """One harvester of a case, simulated as it stands, that a study asks about."""

    case: Case
    entry: HarvesterCase
    climate: xr.Dataset
    site: Surroundings
    year: xr.Dataset
    bounds: HarvesterLimits
    power: HarvesterOffGrid | None = None  # its own electricity; year and site are then with what it lacks

    @property
    def head(self) -> dict[str, Any]:
        """What the summary of any study begins with."""
        return {
            "schema_version": SCHEMA_VERSION,
            "case": self.case.name,
            "note": self.case.note,
            "site": {**site_entry(self.climate), "name": self.case.site.name},
            "weather": weather_entry(self.climate),
            "harvester": self.entry.name,
            "kind": self.entry.kind,
            "sorbent": self.entry.sorbent_name or None,
            "area_basis": self.basis,
            "litres_per_m2_day": figures(self.year)["litres_per_m2_day"],
        }

    @property
    def basis(self) -> str:
        """What the m2 are that the litres of its kind are counted on."""
        return str(self.year.attrs["basis"])


@dataclass(frozen=True)
class Doubtful:
    """Draws of one harvester with what its doubt is made of; shares: None with too few draws."""

    asked: Asked
    draws: Draws
    shares: DoubtShares | None
    slopes: list[tuple[UncertainParameter, Slope]]
    plant: Sureness
    headline: str
    bias: Bias | None = None
    years: tuple[str, ...] = ()

    def by_year(self) -> list[tuple[str, dict[str, float | None]]]:
        """Litres exceeded in 90, 50 and 10 % of the draws of each weather year; empty with one year."""
        of_year = self.draws.of_year
        if of_year is None:
            return []
        return [
            (name, self.draws.exceeded(self.draws.litres[of_year == number]))
            for number, name in enumerate(self.years)
        ]

    @property
    def caution(self) -> str:
        """What published tests of the kind say of its predictions."""
        return " ".join(self.cautions)

    @property
    def cautions(self) -> list[str]:
        """The caution by paragraphs: what the tests say, and what follows with their misses drawn."""
        if self.bias is None:
            return ["No published test judges the water of this kind."]
        if (carried := self.carried) is not None:
            return [self.bias.words, carried.words]
        return [
            self.bias.words,
            "So few misses are told and not drawn as a doubt: their spread is not known.",
        ]

    @property
    def carried(self) -> Carried | None:
        """Interval of the litres with published misses as one more doubt [L/m2/day]; None with too few."""
        lowest = self.asked.bounds.tightest
        ceiling = lowest.value if lowest is not None else float("nan")
        return carry(self.bias, self.draws.litres, ceiling, self.draws.seed)

    def intervals(self) -> list[tuple[str, str, float | None, dict[str, float | None]]]:
        """Every figure drawn: name, unit, as simulated, and exceeded in 90, 50 and 10 % of the draws.

        Of kinds that use no heat or no electricity these are left out.
        """
        now, plant, draws = figures(self.asked.year), self.plant, self.draws
        of_year = [
            ("Litres", litres_on(self.asked.basis), now["litres_per_m2_day"], draws.litres),
            ("Heat", "kWh/L", now["heat_kwh_per_litre"], draws.heat),
            ("Electricity", "kWh/L", now["electricity_kwh_per_litre"], draws.electricity),
        ]
        of_plant = [
            ("Delivered", "L/day", plant.now.delivered, plant.delivered),
            ("Cost of a delivered litre", f"{plant.currency}/L", plant.now.cost, plant.cost),
            ("Days on which all is met", "1", plant.now.days_met, plant.days_met),
            ("Share of the demand met", "1", plant.now.demand_met, plant.demand_met),
            ("Carbon of a delivered litre", "kg/L", plant.now.carbon, plant.carbon),
        ]
        return [
            (name, unit, as_simulated, draws.exceeded(values))
            for name, unit, as_simulated, values in (*of_year, *of_plant)
            if as_simulated or float(np.nansum(np.abs(values))) > 0.0
        ]

    def as_data(self) -> dict[str, Any]:
        """Give the summary."""
        slopes = {doubt.key: slope for doubt, slope in self.slopes}
        found, carried = self.shares, self.carried
        shares = {} if found is None else {d.key: (share, half) for d, share, half in found.parts}
        return {
            **self.asked.head,
            "draws": int(self.draws.litres.size),
            "failed_draws": self.draws.failed,
            "short_year": None if self.draws.tie is None else asdict(self.draws.tie),
            "seed": self.draws.seed,
            "exceeded_in": {
                "litres_per_m2_day": self.draws.exceeded(),
                "heat_kwh_per_litre": self.draws.exceeded(self.draws.heat),
                "electricity_kwh_per_litre": self.draws.exceeded(self.draws.electricity),
            },
            "plant": self.plant.as_data(),
            "published_tests": None if self.bias is None else self.bias.as_data(),
            "with_published_misses": None if carried is None else carried.as_data(),
            "litres_per_m2_day_by_weather_year": dict(self.by_year()),
            "exceeded_in_by_month": [
                self.draws.exceeded(self.draws.by_month[:, month]) for month in range(12)
            ],
            "doubts": [
                {
                    "key": doubt.key,
                    "name": doubt.name,
                    "of": doubt.of,
                    "range_of_80_percent": doubt.in_words(),
                    "source": doubt.source,
                    "share_of_variance": shares.get(doubt.key, (None, None))[0],
                    "half_width_95_percent": shares.get(doubt.key, (None, None))[1],
                    "litres_per_standard_deviation": _number_or_none(slopes[doubt.key].share),
                    "slope_said": slopes[doubt.key].in_words() or None,
                }
                for doubt in self.draws.doubts
            ],
            "shares_of_variance": None
            if found is None
            else {
                "by": found.by,
                "draws": found.draws,
                "not_explained": found.rest,
                "between_weather_years": found.between_years,
                "agree_with_the_other_way": None if found.check is None else found.agreeing,
                "words": found.words,
            },
            "headline": self.headline,
        }


@dataclass(frozen=True)
class Studied:
    """What `run --full` adds to one harvester: its doubts and its losses."""

    doubts: Doubtful
    losses: LossLadder


@dataclass(frozen=True)
class Optimised:
    """The best design found for one harvester of a case, and the front of litres against a second figure."""

    asked: Asked
    search: Search
    best: Best
    against: str
    front: list[Tried]
    headline: str

    def as_data(self) -> dict[str, Any]:
        """Give the summary."""

        def written(tried: Tried) -> dict[str, Any]:
            return {
                "sorbent": tried.sorbent or None,
                **{
                    v.key: v.text(value) for v, value in zip(self.search.variables, tried.values, strict=True)
                },
                "figures": dict(tried.numbers),
            }

        return {
            **self.asked.head,
            "best": written(self.best.best),
            "designs_simulated": _simulated(self.best),
            "left_out": self.search.left_out(),
            "sorbents_at_first": [
                {"sorbent": name or None, "litres_per_m2_day": value} for name, value in self.best.order
            ],
            "limits": dict(self.search.limits.of),
            "front_against": self.against,
            "front": [written(tried) for tried in self.front],
            "headline": self.headline,
        }


@dataclass(frozen=True)
class Watched:
    """A built device held against its model, or an acceptance test that is only planned (found: None)."""

    asked: Asked
    found: Monitored | None
    test: Acceptance | None
    headline: str

    def as_data(self) -> dict[str, Any]:
        """Give the summary."""
        data: dict[str, Any] = {**self.asked.head, "headline": self.headline}
        if self.found is not None:
            data |= _log_data(self.found)
        if self.test is not None:
            data["acceptance"] = _test_data(self.test)
        return data


def asked(
    case: Case, name: str | None = None, progress: Progress | None = None, air: AirState | None = None
) -> Asked:
    """Simulate one harvester of a case as it stands; the first where no name is given.

    air: a declared state laid over the weather, None for the weather as it is.
    """
    entry = _chosen(case, name)
    reading, ready, simulating = stages(progress, *_asked_efforts(entry))
    reading("Reading the weather", 0.0)
    climate = case_climate(case)
    if air is not None:
        climate = declared_air(climate, air)
    unshaded = surroundings(climate)
    site, _ = in_its_rows(case, entry, unshaded)
    ready(f"{'Loading' if is_compiled(entry.design) else 'Compiling'} the kind of {entry.name}", 0.0)
    compile_kind(entry.design, entry.sorbent, site)
    simulating(f"Simulating {entry.name}", 0.0)
    year = simulate(entry.design, entry.sorbent, site, name=entry.name)
    power = off_grid(case, entry, year, site, unshaded)
    if power is not None and power.year is not None and power.site is not None:
        year, site = power.year, power.site
    bounds = limits_of_harvester(entry.design, entry.sorbent, year, climate)
    return Asked(case, entry, climate, site, year, bounds, power)


def _asked_efforts(entry: HarvesterCase) -> list[float]:
    """Efforts of reading the weather, getting the kind ready and simulating the year [s]."""
    return [READING, *getting_ready([entry.design]), whole_year(entry.design, entry.sorbent)]


def asked_then(
    progress: Progress | None, case: Case, name: str | None, years: Callable[[HarvesterCase], float]
) -> tuple[Progress, Progress]:
    """Cut a study's progress into that of `asked` and that of all that follows, of so many quick years."""
    entry = _chosen(case, name)
    after = many_years(years(entry), entry.design, entry.sorbent)
    first, rest = stages(progress, sum(_asked_efforts(entry)), after)
    return first, rest


def years_of_losses(entry: HarvesterCase) -> float:
    """Years that `losses_of` simulates for a harvester, and `limiting_of` after it."""
    study = study_of(entry.kind)
    return 2.0 ** len(study.losses) + len(study.easings)


def years_of_doubts(entry: HarvesterCase, draws: int) -> float:
    """Years that `doubts_of_case` simulates for a harvester, in quick ones."""
    return years_of_draws(draws) + years_of_slopes(entry.design, entry.sorbent)


def studies_effort(entry: HarvesterCase, draws: int) -> float:
    """Effort of `studied` for one harvester [s]."""
    return sum(_studies_efforts(entry, draws))


def _studies_efforts(entry: HarvesterCase, draws: int) -> tuple[float, float]:
    years = years_of_doubts(entry, draws), years_of_losses(entry)
    first, second = (many_years(number, entry.design, entry.sorbent) for number in years)
    return first, second


def studied(answer: Answer, draws: int = 256, progress: Progress | None = None) -> list[Studied]:
    """Study every harvester of an answered case; the summary of the answer gains what is found."""
    unshaded = surroundings(answer.climate)
    found = []
    parts = stages(progress, *(studies_effort(one.case, draws) for one in answer.harvesters))
    for number, (one, part) in enumerate(zip(answer.harvesters, parts, strict=True)):
        named = _named(part, one.case.name)
        of_doubts, of_losses = stages(named, *_studies_efforts(one.case, draws))
        cut = one.power.site if one.power is not None else None
        site = cut or in_its_rows(answer.case, one.case, unshaded)[0]
        about = Asked(answer.case, one.case, answer.climate, site, one.year, one.bounds, one.power)
        doubts = doubts_of_case(about, draws, progress=of_doubts)
        losses = losses_of(about, of_losses)
        found.append(Studied(doubts, losses))
        head = set(about.head)
        entry = answer.summary["harvesters"][number]
        entry["uncertainty"] = {k: v for k, v in doubts.as_data().items() if k not in head}
        entry["losses"] = losses.as_data()
    return found


def losses_of(about: Asked, progress: Progress | None = None) -> LossLadder:
    """Lay out the losses of a harvester, from the bounds of its place to the litres delivered."""
    tell = progress or (lambda what, share: None)
    kind = about.entry.kind
    binding = [b for b in about.bounds.bounds if b.key in OF_THE_PLACE and kind in b.binds]
    design, own = about.entry.design, about.entry.sorbent
    variables = variables_of(design)
    place = Place(about.climate, design, variables)
    binding += [
        replace(bound, name=f"{bound.name}, any size within the search's ranges")
        for bound in bounds_of_any_size(design, own, place, variables)
    ]
    return loss_ladder(
        about.entry.design,
        about.entry.sorbent,
        about.site,
        binding,
        _after_the_gutter(about),
        lambda share: tell("Switching losses off, all ways", share),
    )


def limiting_of(about: Asked) -> list[tuple[str, float]]:
    """Name what limits a harvester in each month, and the gain over the month's litres if it were easier."""
    design, material, site = about.entry.design, about.entry.sorbent, about.site
    return limit_by_month(
        limiting_steps(design, material, site), np.array(figures(about.year)["litres_by_month"])
    )


def doubts_of_case(
    about: Asked,
    draws: int = 256,
    seed: int = 1,
    progress: Progress | None = None,
    weather: Sequence[Path] = (),
) -> Doubtful:
    """Draw everything in doubt about a harvester, and find what the doubt is made of.

    weather: files of further years of the site, the case's own if none; every draw meets one of all years.
    """
    design, material, site = about.entry.design, about.entry.sorbent, about.site
    drawing, sloping = stages(progress, years_of_draws(draws), years_of_slopes(design, material))
    drawing("Drawing", 0.0)
    weather = weather or about.case.further_weather
    drawn = draw(
        design, material, site, draws=draws, seed=seed,
        years=[_further_site(about, path) for path in weather],
        progress=lambda share: drawing("Drawing", share),
    )  # fmt: skip
    sloping("One doubt at a time", 0.0)
    slopes = elasticities(
        design, material, site, progress=lambda share: sloping("One doubt at a time", share)
    )
    shares = shares_of_doubt(drawn)
    now = figures(about.year)["litres_per_m2_day"]
    found = drawn.exceeded()
    plant = plant_in_the_draws(about, drawn)
    headline = (
        f"{about.entry.name}: {now:.2f} {litres_on(about.basis)} as simulated; with what is in doubt, "
        f"{_number(found['90 %'])} are exceeded in 90 % of the draws, {_number(found['50 %'])} in half "
        f"of them and {_number(found['10 %'])} in 10 %."
    )
    names = (about.case.weather_path.name, *(path.name for path in weather)) if weather else ()
    return Doubtful(about, drawn, shares, slopes, plant, headline, bias_of(about.entry.kind), names)


def _further_site(about: Asked, path: Path) -> Surroundings:
    """Read a further year of a harvester's site, as it meets it."""
    site = surroundings(further_climate(about.case, about.climate, path))
    return as_it_meets(about.case, about.entry, site, about.power)


def plant_in_the_draws(about: Asked, drawn: Draws) -> Sureness:
    """Say how sure cost, supply and verdict of a harvester's plant are, from the draws of its litres."""
    return _in_the_draws(about.case, about.entry, about.year, about.power, drawn)


def _in_the_draws(
    case: Case, entry: HarvesterCase, year: xr.Dataset, power: HarvesterOffGrid | None, drawn: Draws
) -> Sureness:
    supply = supply_of(case, year)
    decided = decision_of(case, entry, year, figures(year), supply, None, power)
    good = np.isfinite(drawn.litres)
    area = float(year.attrs["basis_area"] * year.attrs["modules"])
    used = np.nan_to_num(drawn.electricity[good]) * drawn.litres[good] * 365.0 * area
    now = monthly(year, "water_collected") / np.array(DAYS_IN_MONTH)
    # what a sorbent or a kind costs and lasts is its own; the rest all plants pay alike
    goods = entry.sorbent.key if entry.sorbent else ""
    whose = {name: goods if name.startswith("sorbent_") else entry.kind for name in OF_ITS_OWN}
    return sureness(
        supply, decided.cost, decided.verdict, now, drawn.by_month[good], used, whose, np.flatnonzero(good)
    )


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
        places = [(case.site.name, case.weather_path, case_climate(case))]
        places += [
            (path.name.split(".")[0].replace("_", " "), path, with_cuts(case, place_climate(path, told)))
            for path, told in zip(weather, described, strict=True)
        ]
        for place, file, climate in places:
            unshaded = surroundings(climate)
            for one in case.harvesters:
                site, _ = in_its_rows(case, one, unshaded)
                name = one.name if len(cases) == 1 else f"{case.name}: {one.name}"
                name = name if len(places) == 1 else f"{name}, {place}"
                while name in names:
                    name += " (again)"
                names.add(name)
                met = str(file.resolve())
                entries.append(Entry(name, one.design, one.sorbent, site, place, met))
                of.append((case, one, unshaded))

    def year_of(number: int) -> tuple[Entry, HarvesterOffGrid | None]:
        entry, (case, one, unshaded) = entries[number], of[number]
        year = simulate(entry.design, entry.sorbent, entry.site, name=entry.name)
        power = off_grid(case, one, year, entry.site, unshaded)
        if power is not None and power.year is not None and power.site is not None:
            return replace(entry, year=power.year, site=power.site), power
        return replace(entry, year=year), power

    cores = os.cpu_count() or 1
    years = [whole_year(one.design, one.sorbent) / cores for one in entries]
    ready = sum(getting_ready([one.design for one in entries]))
    drawn_years = [many_years(years_of_draws(draws) + 1, one.design, one.sorbent) for one in entries]
    simulating, comparing = stages(progress, ready + sum(years), sum(drawn_years))
    simulating("Simulating", 0.0)
    simulated = run_all(
        year_of, range(len(entries)), progress=lambda share: simulating("Simulating", share), efforts=years
    )

    def plant(number: int, drawn: Draws | None) -> Plant:
        (entry, power), (case, one, _) = simulated[number], of[number]
        assert entry.year is not None
        sure = None if drawn is None else _in_the_draws(case, one, entry.year, power, drawn)
        if sure is None:
            supply = supply_of(case, entry.year)
            cost = decision_of(case, one, entry.year, figures(entry.year), supply, None, power).cost
        now = sure.now if sure is not None else as_it_stands(supply, cost)
        area = float(one.design.basis_area * one.design.modules)
        parts = parts_list(asdict(one.design), area, one.design.modules, 0.0)
        mass = sum(part.mass or 0.0 for part in parts)
        return Plant(now, sure, mass, case.cost.currency)

    return compare(
        [entry for entry, _ in simulated], draws=draws, seed=seed, plants=plant,
        progress=comparing,
    )  # fmt: skip


def best_of(
    about: Asked,
    *,
    vary: Sequence[str] = (),
    sorbents: Sequence[str] = (),
    limits: Limits | None = None,
    objective: str = "litres",
    against: str = "mass",
    record: Path | None = None,
    seed: int = 1,
    progress: Progress | None = None,
) -> Optimised:
    """Search the best design for a harvester's place.

    sorbents: names of sheets, "all", or its own where none are given; objective: "litres", or "cost" for the
    cheapest litre; against: the second figure of the front, by its key in `optimise.FIGURES`.
    """
    if against == "electricity":
        needs_pymoo()
    design = about.entry.design
    variables = [from_text(design, text) for text in vary] or variables_of(design)
    own = about.entry.sorbent
    if own is None or not sorbents:
        materials = [own]
    else:
        names = sheet_names() if list(sorbents) == ["all"] else sorbents
        materials = [sorbent(name) for name in names]
    _refuse_forbidden(about, materials, variables, limits or Limits())
    search = Search(
        design, materials, about.site, variables, limits=limits, record=record, objective=objective,
        own_figures=own_figures(about),
    )  # fmt: skip
    best = best_design(search, seed=seed, progress=progress)
    if against == "electricity" and best.best.numbers["electricity"]:
        edge = evolve_front(search, best.best.sorbent, against, seed=seed, progress=progress)
    else:
        edge = front([t for t in best.tried if not t.whole], against, search.limits)
    edge = through_the_year(search, edge, against)
    now = figures(about.year)["litres_per_m2_day"]
    got = float(best.best.numbers["litres"] or 0.0)
    cheapest = ""
    if objective == "cost" and (per_litre := best.best.numbers.get("cost")) is not None:
        cheapest = f"at {money(per_litre)} {about.case.cost.currency} a litre, the least, "
    headline = (
        f"{got:.2f} {litres_on(about.basis)} {cheapest}is the best that was found, against {now:.2f} as the "
        "case has it"
        + (f", with {best.sorbent.name}" if best.sorbent is not None else "")
        + f"; {_simulated(best)} designs were simulated. A search finds good designs and proves nothing."
    )
    return Optimised(about, search, best, against, edge, headline)


def _simulated(best: Best) -> int:
    """How many designs of a search were simulated: those that cannot be built were not."""
    return sum(not one.refused for one in best.tried)


def _refuse_forbidden(
    about: Asked, materials: Sequence[Sorbent | None], variables: Sequence[Variable], limits: Limits
) -> None:
    """Refuse limits that no size and no sorbent of a search can keep, before it begins."""
    least, (_, mass) = limits.of.get("litres", (None, None))[0], limits.of.get("mass", (None, None))
    if least is None:
        return
    design, own = about.entry.design, about.entry.sorbent
    place = Place(about.climate, design, variables)
    loosest: Bound | None = None
    for one in materials:
        found = bounds_of_any_size(design, own, place, variables, one)
        if mass is not None and own is not None:
            carried = carried_once_a_day(design, own, place, variables, mass, one)
            found += [carried] if carried is not None else []
        lowest = min(found, key=lambda bound: bound.value)
        if lowest.value >= least:
            return
        loosest = lowest if loosest is None or lowest.value > loosest.value else loosest
    if loosest is not None:
        raise InputError(
            Problem(
                "limits", limits.in_words(), f"at most {loosest.value:.2f} {litres_on(about.basis)} here",
                f"Forbidden by {loosest.name}.",
            )
        )  # fmt: skip


def reach_of(
    about: Asked,
    target: float,
    *,
    of: str = "litres",
    vary: Sequence[str] = (),
    sorbents: Sequence[str] = ("all",),
    progress: Progress | None = None,
) -> Reach:
    """Find what a target would take.

    target: [L/m2/day], for of="cost" [money per delivered litre], for of="days" the share of days met [1];
    vary: fields with ranges, and "modules=..", "tank=.." for targets on cost and days; sorbents: sheets to
    try beside its own, "all", or none.
    """
    tell = progress or (lambda what, share: None)
    design, own = about.entry.design, about.entry.sorbent
    sizes = [text for text in vary if of == "litres" or not is_of_plant(text)]
    variables = [from_text(design, text) for text in sizes] or variables_of_reach(design, own)
    others: list[Sorbent] = []
    if own is not None and sorbents:
        others = [sorbent(name) for name in (sheet_names() if list(sorbents) == ["all"] else sorbents)]
    aim = _aim(about, of, [text for text in vary if text not in sizes])
    now = aim.of(design, own, about.year, [one.now(design, own) for one in aim.plant])
    # a liquid needs trays or wicks: another device, not another filling
    others = [
        one for one in others
        if own is not None and one.key != own.key and (one.family == LIQUID) == (own.family == LIQUID)
    ]  # fmt: skip
    standing = Place(about.climate, design)
    return reach(
        design, own, about.site, target, aim=aim, variables=variables, sorbents=others, now=now,
        bounds=_forbidding(about, aim, Place(about.climate, design, variables), variables),
        bounds_with=lambda one: _forbidding(about, aim, standing, (), one),
        progress=lambda share: tell("Looking for the shortest change", share),
    )  # fmt: skip


def _forbidding(
    about: Asked, aim: Aim, place: Place, variables: Sequence[Variable], instead: Sorbent | None = None
) -> list[Bound]:
    """Bounds on an aim that no size within the ranges passes."""
    case, design, own = about.case, about.entry.design, about.entry.sorbent
    found = bounds_of_any_size(design, own, place, variables, instead)
    if aim.key == LITRES.key:
        return found
    if any(one.key in AREAS for one in variables):
        return []  # the plant's area is open
    if not aim.less:
        return [days_bound(case, design, aim, one) for one in found]
    held = instead or own
    rows = cost_off_grid(case.cost, about.power).for_plant(held, about.entry.kind)
    prices = {name: row.value for name, row in rows.items()}
    return [cost_bound(case, design, aim, one, own, held, variables, prices) for one in found]


def _aim(about: Asked, of: str, plant: Sequence[str]) -> Aim:
    """What a target of `reach_of` is set on."""
    if of == "litres":
        return replace(LITRES, unit=litres_on(about.basis, "²"))
    changes = plant_variables(about.case, about.entry.design, plant)
    if of == "days":
        return days_aim(about.case, changes)
    return cost_aim(about.case, changes, own_figures(about))


def own_figures(about: Asked) -> PlantFigures:
    """Give what a design weighs, costs and how loud it is, at the prices and the place of its case."""
    case, power = about.case, about.power
    plant_kwh = beside = 0.0
    if power is not None and case.power is not None:
        # of the year that the plant can drive, as the designs of a search are simulated in it
        plant_kwh = float(plant_load(about.year, case.power.supply).sum()) * HOUR / KWH
        beside = case.power.supply.other_load * 365.0 * 24.0 / 1000.0
    return PlantFigures(
        about.entry.kind, cost_off_grid(case.cost, power), own_power(case.cost, power), plant_kwh, beside,
        case.tank.volume * 1000.0 if case.tank else 0.0, case.treatment.samples_per_year, case.sound,
    )  # fmt: skip


def watched(
    about: Asked,
    log: Path,
    *,
    weeks: int = 8,
    promised: float | None = None,
    calibrated: bool = False,
    meter: float = 0.03,
    columns: DeviceColumns | None = None,
    progress: Progress | None = None,
) -> Watched:
    """Hold the log of a built device against its model; promised: share [1] of an acceptance test.

    calibrated: whether the coefficients are beyond doubt; meter: constant error of the litres' meter [1];
    columns: which column of the log is what, those of the case if not given.
    """
    tell = progress or (lambda what, share: None)
    design, material = about.entry.design, about.entry.sorbent
    readings = read_device_log(
        log, float(about.climate.attrs["utc_offset"]), columns or about.case.device_log
    )
    climate, replaced = on_the_logs_weather(about.climate, readings)
    if POWER_OFF in about.site.climate:  # the hours without electricity stay
        climate = climate.assign({POWER_OFF: about.site.climate[POWER_OFF]})
    # what the log says of the sun is of open ground: the rows shade it after
    site = in_its_rows(about.case, about.entry, surroundings(climate))[0] if replaced else about.site
    share = 0.9 if promised is None else 0.6
    found = monitor(
        design, material, site, readings, typical=about.site, weather=replaced, weeks=weeks,
        known=known_weather(about.climate, readings, replaced), calibrated=calibrated,
        accuracy=Accuracy(meter=meter),
        progress=lambda done: tell("Simulating what may explain the gap", 0.1 + (share - 0.1) * done),
    )  # fmt: skip
    test = None
    if promised is not None:
        test = acceptance(
            design, material, site, monitored=found, promised=promised, meter=meter,
            weather_file=Path(about.case.site.weather).name,
            progress=lambda done: tell("Judging the test", share + (1.0 - share) * done),
        )  # fmt: skip
    return Watched(about, found, test, _watched_words(about, found))


def planned_test(
    about: Asked,
    first_day: int = 0,
    promised: float = 0.8,
    meter: float = 0.03,
    progress: Progress | None = None,
) -> Watched:
    """Plan an acceptance test from a day of the year on (0: 1 January); promised, meter: shares [1]."""
    tell = progress or (lambda what, share: None)
    test = acceptance(
        about.entry.design, about.entry.sorbent, about.site,
        first_day=first_day, promised=promised, meter=meter, weather_file=Path(about.case.site.weather).name,
        progress=lambda done: tell("Simulating the test", done),
    )  # fmt: skip
    return Watched(about, None, test, f"{about.entry.name}: {test.words}")


def _watched_words(about: Asked, found: Monitored) -> str:
    blamed, count = found.blamed, int(found.used.sum())
    name = about.entry.name
    head = f"{name} gave {found.ratio:.2f} of the litres that its model gives for these {count} days."
    if blamed is None:
        return f"{head} Nothing needs to be blamed: that lies within what instruments and doubts leave open."
    if found.clear:
        weight = "over 99" if blamed.weight > 0.99 else f"{100.0 * blamed.weight:.0f}"
        return (
            f"{head} What explains the gap best, with {weight} % of the weight: {blamed.name}; {blamed.now}."
        )
    told = [one for one in found.explanations if one.weight >= 0.5 * (1.0 - blamed.weight)]
    rivals = " / ".join(f"{one.name} ({100.0 * one.weight:.0f} %)" for one in told)
    return f"{head} The log cannot tell apart: {rivals}. More days, or more thermometers, would."


def _log_data(found: Monitored) -> dict[str, Any]:
    days = [
        {"date": found.log.date(int(i)).isoformat(), "measured_litres": float(found.measured[i]),
         "expected_litres": float(found.expected[i]), "explained_litres": float(found.explained[i])}
        for i in np.flatnonzero(found.used)
    ]  # fmt: skip
    blamed = found.blamed
    return {
        "log": found.log.file,
        "warnings": list(found.log.warnings),
        "weather_from_the_log": list(found.weather),
        "temperatures_used": list(found.channels),
        "days_used": int(found.used.sum()),
        "performance_ratio": found.ratio,
        "blamed": None if blamed is None else blamed.key,
        "explanations": [
            {
                "key": one.key,
                "name": one.name,
                "weight": one.weight,
                "value": None if one.explanation is None else one.value,
                "interval_90_percent": None if one.explanation is None else [one.low, one.high],
                "ends_where_tried_ends": one.held,
                "unit": None if one.explanation is None else one.explanation.unit,
                "recalibrated": one.now,
                "misfit": one.misfit,
                "criterion": one.criterion,
            }
            for one in found.explanations
        ],
        "coefficients": [
            {"key": one.doubt.key, "name": one.doubt.name, "of": one.doubt.of,
             "before_80_percent": one.doubt.in_words(),
             "after": one.value, "after_90_percent": list(one.interval), "unit": one.doubt.unit}
            for one in found.learned
        ],
        "weather_known": list(found.known),
        "scatter_raised": dict(found.scatter),
        "resemblance_of_days": found.resemblance,
        "days": days,
        "weeks_ahead": [
            {"first": found.log.date(found.log.days + week.first).isoformat(), "litres": week.litres,
             "interval_90_percent": [week.low, week.high], "sound_litres": week.sound}
            for week in found.weeks
        ],
    }  # fmt: skip


def _test_data(test: Acceptance) -> dict[str, Any]:
    logged = test.days > 0
    return {
        "promised_share": test.promised,
        "verdict": test.verdict or None,
        "words": test.words,
        "planned_days": test.planned,
        "days": test.days,
        **_litres_of_test(test),
        "measured_litres": test.measured if logged else None,
        "expected_litres": test.expected if logged else None,
        "ratio": test.ratio if logged else None,
        "standard_uncertainty": test.u if logged else None,
        "litres_per_day_exceeded_in": dict(zip(("90 %", "50 %", "10 %"), test.band, strict=True)),
        "shares": {
            "meter": test.spread.meter,
            "day": test.spread.scatter,
            "resemblance_of_days": test.spread.resemblance,
            **{key: part for key, (part, _) in test.spread.by_weather.items()},
        },
    }


def _litres_of_test(test: Acceptance) -> dict[str, Any]:
    """Dates, weather and the litres that pass and fail: of the log, or of the planned days."""
    logged, length = test.days > 0, test.length
    form = "%Y-%m-%d" if logged else "%m-%d"
    found: dict[str, Any] = {"weather": test.weather, "first_day": test.first.strftime(form)}
    if not length:
        return {**found, "last_day": None, "passes_from_litres": None, "fails_below_litres": None}
    fails, passes, expected = test.litres_that(length)
    return {
        **found,
        "last_day": test.last_day(length).strftime(form),
        "expected_litres_of_test": expected,
        "passes_from_litres": passes,
        "fails_below_litres": fails,
    }


def _named(tell: Progress, name: str) -> Progress:
    """Say of which harvester the steps are that are told."""

    def told(what: str, share: float) -> None:
        tell(f"{name}: {what.lower()}", share)

    return told


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


def _after_the_gutter(about: Asked) -> list[tuple[str, float]]:
    """What is lost between gutter and people, in L per m2 of basis area and day."""
    case, year = about.case, about.year
    supply = supply_of(case, year)
    area = year.attrs["basis_area"] * year.attrs["modules"]
    chain = supply.net.chain()
    lost = [(_words(name), (before - after) / area) for (_, before), (name, after) in pairwise(chain)]
    delivered = float(supply.daily.delivered.sum()) / supply.daily.delivered.size
    lost = [(name, loss) for name, loss in lost if loss > 0.0]
    return [*lost, ("Spilled, or left in the tank", (chain[-1][1] - delivered) / area)]


def _words(step: str) -> str:
    return {
        "after_drips": "Drips past gutter and joints",
        "after_first_flush": "First flush",
        "after_treatment": "Rejects and backwash",
        "after_samples": "Samples",
        "net": "Outages",
    }[step]


def _number_or_none(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _number(value: float | None) -> str:
    return "none" if value is None or not np.isfinite(value) else f"{value:.2f}"
