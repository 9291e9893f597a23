"""From a case to everything that is shown of it."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.case import Case, HarvesterCase, bed_notes
from welkinwell.climate import read_climate
from welkinwell.climate.hourly import site_entry, weather_entry
from welkinwell.climate.relocate import move_to_altitude
from welkinwell.climate.survey import survey
from welkinwell.constants import WATER_GAS_CONSTANT
from welkinwell.errors import CaseError, ClimateError, InputError, Problem, SolverError
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.kinds import KINDS, harvester_of
from welkinwell.harvesters.layer_depth import has_layered_depth, too_deep
from welkinwell.harvesters.power_cuts import with_power_cuts
from welkinwell.simulate import simulate
from welkinwell.sky.sun import climate_sun_path
from welkinwell.studies.bounds import HarvesterLimits, limits_of_harvester
from welkinwell.studies.limiting import Relaxed, limit_by_month, limiting_steps, not_eased
from welkinwell.studies.off_grid import (
    HarvesterOffGrid,
    cost_off_grid,
    in_another_year,
    off_grid,
    off_grid_warnings,
    own_power,
)
from welkinwell.studies.safety import Safety, safety_of
from welkinwell.supply.decision import Decision, decision, decision_summary, standing
from welkinwell.supply.field import FieldShade, field_shade
from welkinwell.supply.plant import PlantSupply, plant_supply
from welkinwell.supply.tank import TankYear
from welkinwell.supply.verdict import DECISIONS, verdict_summary
from welkinwell.year import DAYS_IN_MONTH, SCHEMA_VERSION, daily, figures, water_account

Progress = Callable[[str, float], None]
SAME_PLACE: Final = 0.1  # degrees within which a weather file is one of the case's site
MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class HarvesterAnswer:
    """One harvester's year and what it means for the demand.

    year: the hourly Dataset; figures: as in the summary; tank: by day, in litres; relaxed, limits: what
    holds the litres back, and its name and gain by month; warnings: sentences; bounds: what it cannot pass;
    safety: what can hurt people, and the lists against it; power: its own electricity, if the case wants it;
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
    """A case answered: the site, and each harvester."""

    case: Case
    climate: xr.Dataset
    survey: xr.Dataset
    harvesters: list[HarvesterAnswer]
    summary: dict[str, Any]
    headline: str

    @property
    def best(self) -> HarvesterAnswer:
        """The harvester that is most worth building."""
        return _best(self.harvesters)


@dataclass(frozen=True)
class SiteAnswer:
    """What a harvester sees at a place."""

    climate: xr.Dataset
    survey: xr.Dataset
    summary: dict[str, Any]
    headline: str


def answer_case(case: Case, progress: Progress | None = None) -> Answer:
    """Simulate every harvester of a case and say what it means for the demand."""
    tell = progress or (lambda what, share: None)
    tell("Reading the weather", 0.0)
    climate = case_climate(case)
    site = surroundings(climate)
    further = [
        (path.name, surroundings(further_climate(case, climate, path))) for path in case.further_weather
    ]
    planes = [entry.design for entry in case.harvesters if sun_plane(entry.design)]
    if planes:
        looked = survey(climate, tilt=planes[0].tilt, azimuth=planes[0].azimuth(site.latitude))
    else:
        looked = survey(climate)
    found = []
    count = len(case.harvesters)
    for number, entry in enumerate(case.harvesters):
        base = 0.1 + 0.9 * number / count
        tell(f"Simulating {entry.name}", base)
        found.append(_answer_harvester(case, entry, site, further, tell, base, 0.9 / count))
    tell("Done", 1.0)
    summary = _summary(case, climate, found)
    return Answer(case, climate, looked, found, summary, _headline(case, found))


def sun_plane(design: Any) -> bool:
    """Whether a design has a plane that takes the sun as its drive."""
    if design.kind == "active_bed":
        return bool(design.heat_by == "solar")
    return hasattr(design, "azimuth") and design.kind != "dew_condenser"


def answer_site(path: Path, progress: Progress | None = None) -> SiteAnswer:
    """Read a weather file and say what a harvester sees there."""
    if progress is not None:
        progress("Reading the weather", 0.0)
    climate = read_climate(path)
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


def case_climate(case: Case) -> xr.Dataset:
    """Read the case's weather and lay the case's own site figures over it."""
    climate = read_climate(case.weather_path)
    degrees = {"latitude": case.site.latitude, "longitude": case.site.longitude}
    given = {name: float(np.degrees(value)) for name, value in degrees.items() if value is not None}
    return as_at_the_site(case, climate.assign_attrs(site=case.site.name, **given))


def as_at_the_site(case: Case, climate: xr.Dataset) -> xr.Dataset:
    """Bring a weather year to the case's altitude, ground and hours without electricity."""
    site = case.site
    if site.elevation is not None and site.elevation != float(climate.attrs["elevation"]):
        try:
            climate = move_to_altitude(climate, site.elevation)
        except ClimateError as error:
            problem = error.problems[0]
            if isinstance(problem, Problem):
                problem = replace(problem, where=f"{case.path.name}, [site], elevation")
            raise CaseError(problem) from error
    if site.albedo is not None:
        climate["albedo"] = ("time", np.full(climate.sizes["time"], site.albedo))
    return with_cuts(case, climate)


def further_climate(case: Case, climate: xr.Dataset, path: Path) -> xr.Dataset:
    """Read another weather year of the case's site; refuses one of another place."""
    found = read_climate(path)
    for name in ("latitude", "longitude"):
        here, there = float(climate.attrs[name]), float(found.attrs[name])
        if abs(here - there) > SAME_PLACE:
            raise InputError(
                Problem(f"{path}, {name}", f"{there:.3f} deg", f"the case's site, {here:.3f} deg")
            )
    kept = {name: climate.attrs[name] for name in ("site", "latitude", "longitude")}
    return as_at_the_site(case, found.assign_attrs(kept))


def with_cuts(case: Case, climate: xr.Dataset) -> xr.Dataset:
    """Lay the case's hours without electricity over its weather."""
    cuts = case.power_cuts
    if cuts is None or not cuts.any:
        return climate
    return with_power_cuts(
        climate,
        cuts.hours(climate),
        restart_delay=cuts.restart_delay,
        purge=cuts.purge,
        dampers=cuts.dampers,
    )


def _answer_harvester(
    case: Case,
    entry: HarvesterCase,
    site: Any,
    further: Sequence[tuple[str, Any]],
    tell: Progress,
    base: float,
    span: float,
) -> HarvesterAnswer:
    unshaded = site
    site, shade = in_its_rows(case, entry, site)
    year = simulate(entry.design, entry.sorbent, site, name=entry.name)
    power = off_grid(case, entry, year, site, unshaded)
    if power is not None and power.year is not None and power.site is not None:
        year, site = power.year, power.site  # what people get is what the plant's own electricity can drive
    found = figures(year)
    relaxed = limiting_steps(
        entry.design,
        entry.sorbent,
        site,
        lambda share: tell(f"What limits {entry.name}", base + span * (0.3 + 0.7 * share)),
    )
    supply = supply_of(case, year, _water_of_further_years(case, entry, further, power))
    tank = supply.daily
    days = tank.delivered.size
    found["litres_delivered_per_day"] = float(tank.delivered.sum()) / days
    found["litres_spilled_per_day"] = supply.spilled_per_day
    found["share_of_days_met"] = tank.share_of_days_met
    found["share_of_demand_met"] = tank.share_of_demand_met
    found["longest_shortfall_days"] = tank.longest_shortfall
    limits = limit_by_month(relaxed, np.array(found["litres_by_month"]))
    layered = layered_litres(entry, site)
    told = _in_cells(found["litres_per_m2_day"], layered)
    warnings = [*_warnings(entry, year, told), *off_grid_warnings(power, case.cost), *supply.warnings]
    if words := not_eased(relaxed, entry.kind):
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
        entry.sorbent.key if entry.sorbent else "",
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


def _best(found: list[HarvesterAnswer]) -> HarvesterAnswer:
    """Give the harvester most worth building; of equals the one that meets most, then the cheapest."""

    def rank(one: HarvesterAnswer) -> tuple[int, float, float]:
        price = one.decision.cost.central.per_litre
        met = round(one.figures["share_of_demand_met"], 3)
        return (
            DECISIONS.index(one.decision.verdict.decision),
            met,
            -price if price is not None else -np.inf,
        )

    return max(found, key=rank)


def layered_litres(entry: HarvesterCase, site: Any) -> float | None:
    """Litres of the same box with its bed in cells, where it is too deep to be computed as one [L/(m2 day)].

    None where the bed is thin enough, knows no layered depth, or the march cannot finish.
    """
    design, sorbent = entry.design, entry.sorbent
    if sorbent is None or not too_deep(design, sorbent) or not has_layered_depth(design, sorbent):
        return None
    design = replace(design, depth="layered")
    try:
        year = simulate(design, sorbent, site, name=entry.name, keep="months", accuracy="fast", audit=False)
    except SolverError:
        return None
    return float(figures(year)["litres_per_m2_day"])


def _in_cells(lumped: float, layered: float | None) -> str:
    """Say what the bed in cells gives; empty where it was not simulated."""
    if layered is None:
        return ""
    change = f" ({100.0 * (layered / lumped - 1.0):+.0f} %)" if lumped > 0.0 else ""
    return (
        f'With depth = "layered" the same box gives {layered:.3g} L/m2 a day instead of '
        f"{lumped:.3g}{change}: set it in the case."
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
            f"The over-temperature vent loses {vented:.0f} L/m2 of vapour a year: the bed gets more heat "
            "than the way to the condenser can use."
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
            f"brine into the water: at most {year.attrs['brine_lost_bound']:.2g} kg/m2 of brine with "
            f"{year.attrs['salt_lost_bound']:.2g} kg/m2 of salt a year. Close the box in such hours, or take "
            "another sorbent."
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
    return {
        "schema_version": SCHEMA_VERSION,
        "case": case.name,
        "note": case.note,
        "site": {**site_entry(climate), "name": case.site.name},
        "weather": weather_entry(climate),
        "demand_litres_per_day": case.demand.litres_per_day,
        "tank_litres": case.tank.volume * 1000.0 if case.tank else None,
        "verdict": {"harvester": _best(found).case.name, **verdict_summary(_best(found).decision.verdict)},
        "harvesters": [
            {
                "name": one.case.name,
                "kind": one.case.kind,
                "depth": one.year.attrs["depth"] or None,
                "layered_litres_per_m2_day": one.layered,
                "sorbent": one.case.sorbent_name or None,
                **one.figures,
                **decision_summary(one.supply, one.decision),
                "worst_month": MONTHS[one.worst_month] if one.figures["litres_per_day"] > 0.0 else None,
                "water_account_kg_per_m2": water_account(one.year),
                "limiting_step_by_month": [key for key, _ in one.limits],
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
    lines = [_best(found).decision.verdict.sentence]
    for one in found:
        numbers = one.figures
        if numbers["litres_per_day"] <= 0.0:
            lines.append(f"{one.case.name}: no water at all in this weather year.")
            continue
        worst = numbers["litres_by_month"][one.worst_month] / DAYS_IN_MONTH[one.worst_month]
        lines.append(
            f"{one.case.name}: {numbers['litres_per_day']:.1f} L/day collected "
            f"({numbers['litres_per_m2_day']:.2f} L/m2/day; worst month {MONTHS[one.worst_month]}, "
            f"{worst:.1f} L/day). Of {case.demand.asked} L/day asked for, "
            f"{100 * numbers['share_of_demand_met']:.0f} % is met, all of it on "
            f"{100 * numbers['share_of_days_met']:.0f} % of days."
        )
    return "\n".join(lines)
