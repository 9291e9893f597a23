"""From a case to everything that is shown of it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.case import Case, HarvesterCase, bed_notes
from welkinwell.climate.hourly import site_entry, weather_entry
from welkinwell.climate.survey import survey
from welkinwell.constants import WATER_GAS_CONSTANT
from welkinwell.errors import SolverError
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.kinds import KINDS, harvester_of
from welkinwell.harvesters.layer_depth import has_layered_depth, too_deep
from welkinwell.harvesters.study import study_of
from welkinwell.quantities import litres_on, plain
from welkinwell.simulation import simulate
from welkinwell.site_weather import case_climate, further_climate, place_climate
from welkinwell.sky.sun import climate_sun_path
from welkinwell.studies.bounds import HarvesterLimits, limits_of_harvester
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
from welkinwell.studies.limiting import (
    Relaxed,
    limit_by_month,
    limiting_steps,
    not_eased,
)
from welkinwell.studies.off_grid import (
    HarvesterOffGrid,
    cost_off_grid,
    in_another_year,
    off_grid,
    off_grid_warnings,
    own_power,
)
from welkinwell.studies.runner import Progress
from welkinwell.studies.safety import Safety, safety_of
from welkinwell.supply.decision import Decision, decision, decision_summary, standing
from welkinwell.supply.field import FieldShade, field_shade
from welkinwell.supply.plant import PlantSupply, plant_supply
from welkinwell.supply.tank import TankYear
from welkinwell.supply.verdict import DECISIONS, verdict_summary
from welkinwell.year import DAYS_IN_MONTH, SCHEMA_VERSION, daily, figures, water_account

MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class HarvesterAnswer:
    """One harvester's year and what it means for the demand.

    year: the hourly Dataset; figures: as in the summary; tank: by day, in litres; relaxed, limits: what
    holds the litres back, and its name and gain by month, both empty where that was left out; warnings:
    sentences; bounds: what it cannot pass;
    safety: what can hurt people, and the lists against it; power: its own electricity, if the case wants it.
    layered: litres with the bed in cells, where it is too deep to be computed as one [L/(m2 day)].
    """

    case: HarvesterCase
    year: xr.Dataset
    figures: dict[str, Any]
    tank: TankYear
    relaxed: list[Relaxed]
    limits: list[tuple[str, float]]
    warnings: list[str]
    supply: PlantSupply
    decision: Decision
    bounds: HarvesterLimits
    safety: Safety
    power: HarvesterOffGrid | None = None
    layered: float | None = None

    @property
    def daily_litres(self) -> NDArray[np.float64]:
        """Litres collected on each day by all modules."""
        area = self.year.attrs["basis_area"] * self.year.attrs["modules"]
        return daily(self.year, "water_collected") * area

    @property
    def worst_month(self) -> int:
        """Month with the fewest litres a day, from 0."""
        return int(np.argmin(np.array(self.figures["litres_by_month"]) / DAYS_IN_MONTH))


@dataclass(frozen=True)
class Answer:
    """A case answered: the site, and each harvester; left_out: what a quick answer does without, in words."""

    case: Case
    climate: xr.Dataset
    survey: xr.Dataset
    harvesters: list[HarvesterAnswer]
    summary: dict[str, Any]
    headline: str
    left_out: tuple[str, ...] = ()

    @property
    def best(self) -> HarvesterAnswer:
        """The harvester that is most worth building."""
        return self.in_order[0]

    @property
    def in_order(self) -> list[HarvesterAnswer]:
        """The harvesters, the one most worth building first: the order of every comparison."""
        return _in_order(self.harvesters)


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
        _answer_harvester(case, entry, site, further, stages(stage, *parts), quick)
        for entry, stage, parts in zip(case.harvesters, of_each, efforts, strict=True)
    ]
    end("Done", 1.0)
    left_out = left_out_by_quick(case) if quick else ()
    summary = {**_summary(case, climate, found), "left_out": list(left_out)}
    return Answer(case, climate, looked, found, summary, _headline(case, found), left_out)


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
        *(("what a bed computed in layers gives",) if any(map(_wants_cells, case.harvesters)) else ()),
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


def _answer_harvester(
    case: Case,
    entry: HarvesterCase,
    site: Any,
    further: Sequence[tuple[str, Any]],
    parts: Sequence[Progress],
    quick: bool,
) -> HarvesterAnswer:
    ready, simulating, limiting, rest = parts
    unshaded = site
    site, shade = in_its_rows(case, entry, site)
    ready(f"{'Loading' if is_compiled(entry.design) else 'Compiling'} the kind of {entry.name}", 0.0)
    compile_kind(entry.design, entry.sorbent, site)
    simulating(f"Simulating {entry.name}", 0.0)
    year = simulate(entry.design, entry.sorbent, site, name=entry.name)
    power = off_grid(case, entry, year, site, unshaded)
    if power is not None and power.year is not None and power.site is not None:
        year, site = power.year, power.site  # what people get is what the plant's own electricity can drive
    found = figures(year)
    relaxed: list[Relaxed] = []
    if not quick:
        limiting(f"What limits {entry.name}", 0.0)
        relaxed = limiting_steps(
            entry.design, entry.sorbent, site, lambda share: limiting(f"What limits {entry.name}", share)
        )
    rest(f"Tank, cost and safety of {entry.name}", 0.0)
    supply = supply_of(case, year, _water_of_further_years(case, entry, further, power))
    tank = supply.daily
    days = tank.delivered.size
    found["litres_delivered_per_day"] = float(tank.delivered.sum()) / days
    found["litres_spilled_per_day"] = supply.spilled_per_day
    found["share_of_days_met"] = tank.share_of_days_met
    found["share_of_demand_met"] = tank.share_of_demand_met
    found["longest_shortfall_days"] = tank.longest_shortfall
    limits = limit_by_month(relaxed, np.array(found["litres_by_month"])) if relaxed else []
    layered = None if quick else layered_litres(entry, site)
    told = _in_cells(found["litres_per_m2_day"], layered, year.attrs["basis"])
    warnings = [*_warnings(entry, year, told), *off_grid_warnings(power, case.cost), *supply.warnings]
    if relaxed and (words := not_eased(relaxed, entry.kind)):
        warnings.append(words)
    bounds = limits_of_harvester(entry.design, entry.sorbent, year, site.climate)
    decided = decision_of(case, entry, year, found, supply, shade, power)
    safety = safety_of(case, entry, year, site, found["litres_delivered_per_day"])
    warnings += safety.sound.warnings(entry.name)
    return HarvesterAnswer(
        entry, year, found, tank, relaxed, limits, warnings, supply, decided, bounds, safety, power,
        layered,
    )  # fmt: skip


def _water_of_further_years(
    case: Case,
    entry: HarvesterCase,
    further: Sequence[tuple[str, Any]],
    power: HarvesterOffGrid | None,
) -> list[tuple[str, NDArray[np.float64]]]:
    """Simulate a harvester in further weather years; name and hourly water of each [kg/m2]."""
    found = []
    for name, site in further:
        met = as_it_meets(case, entry, site, power)
        year = simulate(entry.design, entry.sorbent, met, name=entry.name, accuracy="fast", audit=False)
        found.append((name, year["water_collected"].values))
    return found


def as_it_meets(case: Case, entry: HarvesterCase, site: Any, power: HarvesterOffGrid | None) -> Any:
    """Give a further year's surroundings as a harvester meets them: in its rows, on its own electricity."""
    in_rows, _ = in_its_rows(case, entry, site)
    return in_rows if power is None else in_another_year(power, entry, in_rows, site)


def supply_of(
    case: Case, year: xr.Dataset, further: Sequence[tuple[str, NDArray[np.float64]]] = ()
) -> PlantSupply:
    """Follow a year's water through collection, treatment and tank.

    further: name and hourly water of further weather years, shape (hours,) each [kg/m2].
    """
    return plant_supply(
        year["water_collected"].values,
        year.attrs["basis_area"],
        year.attrs["modules"],
        case.demand,
        case.tank.usable * 1000.0 if case.tank else None,
        case.collection,
        case.treatment,
        further,
        case.weather_path.name,
    )


def decision_of(
    case: Case,
    entry: HarvesterCase,
    year: xr.Dataset,
    found: dict[str, Any],
    supply: PlantSupply,
    shade: FieldShade | None,
    power: HarvesterOffGrid | None,
) -> Decision:
    """Price a harvester's litres and say whether to build it; power: its own electricity."""
    area, modules = year.attrs["basis_area"], year.attrs["modules"]
    electricity = (found["electricity_kwh_per_litre"] or 0.0) * found["litres_per_day"]
    vapour = year["vapour_pressure"].values / (WATER_GAS_CONSTANT * year["temperature"].values)
    stand = standing(
        case.field,
        supply,
        modules,
        area,
        year.attrs["footprint_ratio"],
        year["water_taken_up"].values,
        year["wind_at_device"].values,
        vapour,
        shade,
    )
    return decision(
        supply,
        case.demand,
        json.loads(year.attrs["design"]),
        area,
        modules,
        entry.sorbent,
        entry.kind,
        electricity,
        case.tank.volume * 1000.0 if case.tank else 0.0,
        case.treatment.samples_per_year,
        cost_off_grid(case.cost, power),
        case.alternatives,
        stand,
        year.attrs["basis"],
        own_power(case.cost, power),
    )


def in_its_rows(case: Case, entry: HarvesterCase, site: Any) -> tuple[Any, FieldShade | None]:
    """Give the sun that a mean row of the field sees: rows shade each other's beam and sky.

    The ground taken per aperture is the distance of rows over their slant length. The shaded sun is
    simulated, so a yield that falls faster than the light does so here too.
    """
    if case.field.arranged != "rows" or case.field.rows == 1:
        return site, None
    climate, design = site.climate, entry.design
    if KINDS[entry.kind].basis != "aperture":
        return site, None  # the ground per m2 is then no distance of rows
    tilt, azimuth = design.tilt, design.azimuth(site.latitude)
    path = climate_sun_path(climate, per_hour=1)
    facing = np.sin(tilt) * (path.east * np.sin(azimuth) + path.north * np.cos(azimuth))
    beam = climate["dni"].values * np.maximum(facing + np.cos(tilt) * path.up, 0.0)
    diffuse = climate["dhi"].values * 0.5 * (1.0 + np.cos(tilt))
    sun = (path.east, path.north, path.up)
    shade = field_shade(sun, beam, diffuse, tilt, azimuth, design.footprint_ratio, case.field.rows)
    scattered = climate["dhi"] * (1.0 - shade.diffuse)
    direct = (climate["ghi"] - climate["dhi"]).clip(min=0.0) * (1.0 - shade.beam_lost)
    shaded = climate.assign(
        ghi=direct + scattered, dhi=scattered, dni=climate["dni"] * (1.0 - shade.beam_lost)
    ).assign_attrs(climate.attrs)
    return surroundings(shaded), shade


def _in_order(found: list[HarvesterAnswer]) -> list[HarvesterAnswer]:
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


def layered_litres(entry: HarvesterCase, site: Any) -> float | None:
    """Litres of the same box with its bed in cells, where it is too deep to be computed as one [L/(m2 day)].

    None where the bed is thin enough, knows no layered depth, or the march cannot finish.
    """
    design, sorbent = entry.design, entry.sorbent
    if not _wants_cells(entry):
        return None
    design = replace(design, depth="layered")
    try:
        year = simulate(design, sorbent, site, name=entry.name, keep="months", accuracy="fast", audit=False)
    except SolverError:
        return None
    return float(figures(year)["litres_per_m2_day"])


def _wants_cells(entry: HarvesterCase) -> bool:
    """Whether a bed computed as one is too deep for it, and its kind can compute it in cells."""
    design, sorbent = entry.design, entry.sorbent
    return sorbent is not None and too_deep(design, sorbent) and has_layered_depth(design, sorbent)


def _in_cells(lumped: float, layered: float | None, area: str) -> str:
    """Say what the bed in cells gives; empty where it was not simulated."""
    if layered is None:
        return ""
    change = f" ({100.0 * (layered / lumped - 1.0):+.0f} %)" if lumped > 0.0 else ""
    return (
        f'With depth = "layered" the same box gives {plain(layered)} instead of {plain(lumped)} '
        f"{litres_on(area)}{change}: set it in the case."
    )


def _warnings(entry: HarvesterCase, year: xr.Dataset, layered: str) -> list[str]:
    """Sentences on what went beyond a limit, and the sorbent's cautions; layered: as in `bed_notes`."""
    said = []
    driven = json.loads(year.attrs["supplied_heat"])
    if year.attrs["takes_sun"] and not driven and float(year["sun_on_plane"].max()) <= 0.0:
        said.append("No sun at all in this weather file: the bed is never heated, so there is no water.")
    vented = float(year["water_vented"].sum()) if "water_vented" in year else 0.0
    if vented > 0.02 * max(float(year["water_collected"].sum()), 1e-9):
        said.append(
            f"The over-temperature vent loses {vented:.0f} L of vapour a year from each m2 of "
            f"{year.attrs['basis']}: the bed is heated faster than vapour can reach the condenser."
        )
    said += [*bed_notes(entry, layered), *harvester_of(entry.design).notes(entry.design, entry.sorbent, year)]
    return said + (_sorbent_warnings(entry.sorbent, year) if entry.sorbent is not None else [])


def _sorbent_warnings(sorbent: Any, year: xr.Dataset) -> list[str]:
    """Sentences on what the sorbent met beyond its limits, and its own cautions."""
    said = []
    hottest = year.attrs.get("highest_bed_temperature", 0.0)
    limit = sorbent.service_temperature
    if hottest > limit:
        said.append(
            f"The bed reaches {hottest - 273.15:.0f} degC, above the {limit - 273.15:.0f} degC that "
            f"{sorbent.name} stands."
        )
    elif hottest > limit - 10.0:
        said.append(
            f"The bed reaches {hottest - 273.15:.0f} degC, close to the {limit - 273.15:.0f} degC that "
            f"{sorbent.name} stands; the vent must work."
        )
    said += _brine_warnings(sorbent, year)
    for key, words in (("temperature", "temperatures"), ("potential", "humidities")):
        share = year.attrs[f"water_outside_{key}_range"]
        if share > 0.01:
            said.append(
                f"{100 * share:.0f} % of the water rests on {words} beyond the measured points of "
                f"{sorbent.name}."
            )
    return said + list(sorbent.cautions)


def _brine_warnings(sorbent: Any, year: xr.Dataset) -> list[str]:
    """Sentences on brine that left its host, and on solution where there should be crystals."""
    said = []
    if (hours := year.attrs.get("hours_above_leak_humidity", 0.0)) > 0.0:
        humid = float(np.max(year["bed_vapour_pressure"].values / _saturation(year)))
        said.append(
            f"ALARM: for {hours:.0f} hours a year {sorbent.name} meets relative humidities above "
            f"{100 * sorbent.leak_humidity:.0f} % (up to {100 * min(humid, 1.0):.0f} %), where it can lose "
            f"brine into the water: at most {plain(year.attrs['brine_lost_bound'], 2)} kg/m2 of brine with "
            f"{plain(year.attrs['salt_lost_bound'], 2)} kg/m2 of salt a year. Close the box in "
            "such hours, or take another sorbent."
        )
    collected = max(float(year["water_collected"].sum()), 1e-9)
    if (hours := year.attrs.get("hours_with_crystals", 0.0)) > 0.0:
        share = min(year.attrs["water_with_crystals"] / collected, 1.0)
        said.append(
            f"For {hours:.0f} hours a year crystals stand in {sorbent.name}: its salt is then partly or "
            f"wholly solid and holds no more water than its hydrate. Up to {100 * share:.0f} % of the "
            "water was given off in such hours. A fixed layer dissolves them again by night; in pipes and "
            "sprays they block."
        )
    if (hours := year.attrs.get("hours_beyond_crystallisation", 0.0)) > 0.0:
        share = min(year.attrs["water_beyond_crystallisation"] / collected, 1.0)
        said.append(
            f"For {hours:.0f} hours a year {sorbent.name} is drier than its crystallisation line and is "
            f"still taken as a solution; up to {100 * share:.0f} % of the water rests on that. Crystals "
            "would keep some of it and slow the next uptake; in pipes and sprays they block."
        )
    return said


def _saturation(year: xr.Dataset) -> Any:
    from welkinwell.moist_air import saturation_pressure

    return saturation_pressure(year["bed_temperature"].values)


def _summary(case: Case, climate: xr.Dataset, found: list[HarvesterAnswer]) -> dict[str, Any]:
    best = _in_order(found)[0]
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
            {
                "name": one.case.name,
                "kind": one.case.kind,
                "area_basis": one.year.attrs["basis"],
                "depth": one.year.attrs["depth"] or None,
                "layered_litres_per_m2_day": one.layered,
                "sorbent": one.case.sorbent_name or None,
                **one.figures,
                **decision_summary(one.supply, one.decision),
                "worst_month": MONTHS[one.worst_month] if one.figures["litres_per_day"] > 0.0 else None,
                "water_account_kg_per_m2": water_account(one.year),
                "limiting_step_by_month": [key for key, _ in one.limits] or None,
                "power": one.power.as_data() if one.power else None,
                "hours_without_power": one.year.attrs["hours_without_power"],
                "limits": one.bounds.as_data(),
                "safeguards": one.safety.as_data(),
                "highest_bed_temperature_celsius": _celsius(one.year.attrs.get("highest_bed_temperature")),
                "condenser_over_air_kelvin": _finite(one.year.attrs["condenser_excess"]),
                "water_outside_temperature_range": one.year.attrs["water_outside_temperature_range"],
                "water_outside_potential_range": one.year.attrs["water_outside_potential_range"],
                "warnings": one.warnings,
            }
            for one in found
        ],
        "version": found[0].year.attrs["version"],
        "citations": sorted({key for one in found for key in json.loads(one.year.attrs["citations"])}),
    }


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _celsius(kelvin: float | None) -> float | None:
    return None if kelvin is None else kelvin - 273.15


def _headline(case: Case, found: list[HarvesterAnswer]) -> str:
    """Whether to build, then one sentence a harvester: litres, and what they mean for the demand."""
    lines = [_in_order(found)[0].decision.verdict.sentence]
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
