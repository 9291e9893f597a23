"""The reports: one HTML file that stands alone, with its figures as data beside it."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from welkinwell.answer import Answer, SiteAnswer, sun_plane
from welkinwell.case import explained
from welkinwell.harvesters.kinds import KINDS, harvester_of
from welkinwell.plants.answered import HarvesterAnswer
from welkinwell.plants.full_study import FullStudy
from welkinwell.report import charts, tables
from welkinwell.report.accounts import heat_of, sun_on_aperture, water_ways
from welkinwell.report.citations import References
from welkinwell.report.days import common_scales, date_of_day, day_at_quantile, day_series, first_hour
from welkinwell.report.page import Drawer, unique_keys, write_page, write_summary
from welkinwell.studies.effort import stages
from welkinwell.studies.runner import Progress
from welkinwell.studies.safety import holds_refrigerant
from welkinwell.writing import together
from welkinwell.year import DAYS_IN_MONTH, save_year

Floats = NDArray[np.float64]


@together()
def write_report(
    answer: Answer,
    folder: Path,
    progress: Progress | None = None,
) -> Path:
    """Write report.html, summary.json, the years as netCDF and the charts; returns the report's path."""
    with charts.quick_charts():
        return _write_report(answer, Path(folder), progress)


def _write_report(answer: Answer, folder: Path, progress: Progress | None) -> Path:
    from welkinwell.report.safeguards_section import section_context, write_safeguards
    from welkinwell.report.supply_section import assumptions_context, verdict_context

    drawer = Drawer(folder / "charts")
    references = References()
    references.numbers(answer.summary["citations"])
    keys = unique_keys([one.case.name for one in answer.harvesters])
    of_each: Sequence[FullStudy | None] = answer.studies or [None] * len(keys)
    *drawing, others = stages(progress, *[1.0] * len(keys), 1.0)
    context = {
        "case": answer.case,
        "summary": answer.summary,
        "hero": _hero(answer),
        "sections": [
            {
                **_harvester_section(answer, one, key, drawer, references, tell),
                "studied": _studied(study, key, drawer),
            }
            for one, key, study, tell in zip(answer.harvesters, keys, of_each, drawing, strict=True)
        ],
        "interval": _interval(answer),
        "left_out": answer.left_out,
        "comparison": tables.comparison(answer),
        "months_chart": drawer(_months_chart(answer)),
        "efforts": tables.efforts(answer),
        "doubts": tables.doubts(answer),
        "balances": tables.balances(answer),
        "designs": [
            (KINDS[kind].title, tables.design_table(answer, kind))
            for kind in dict.fromkeys(one.case.kind for one in answer.harvesters)
        ],
        "sheets": _sheets(answer, references),
        "models": tables.model_table(
            references,
            str(answer.climate.attrs.get("longwave_model", "")),
            _traits(answer)["glass"],
            {one.year.attrs["depth"] for one in answer.harvesters},
            _traits(answer)["battery"],
        ),
        "hottest": _hottest(answer),
        "machines": any(holds_refrigerant(one.case.design) for one in answer.harvesters),
        "traits": _traits(answer),
        "explained": [line for line in explained(answer.case) if line.startswith(("Demand", "Tank", "Note"))],
        **_site_context(answer.climate, answer.survey, drawer),
        **section_context(answer, drawer),
    }
    others("Writing the report", 0.5)
    context["verdict"] = _drawn(verdict_context(answer), drawer)
    context |= assumptions_context(answer, references)
    write_safeguards(answer, folder, drawer)
    context["references"] = references.listed()
    for one, key in zip(answer.harvesters, keys, strict=True):
        save_year(one.year, folder / ("year.nc" if len(keys) == 1 else f"year_{key}.nc"))
    write_summary(answer.summary, folder)
    return write_page("report.html.jinja", context, folder / "report.html")


@together()
def write_site_report(answer: SiteAnswer, folder: Path) -> Path:
    """Write site.html, summary.json and the charts of a place; returns the page's path."""
    with charts.quick_charts():
        return _write_site_report(answer, Path(folder))


def _write_site_report(answer: SiteAnswer, folder: Path) -> Path:
    drawer = Drawer(folder / "charts")
    references = References()
    context = {
        "summary": answer.summary,
        "headline": answer.headline,
        "models": tables.site_model_table(references, str(answer.climate.attrs.get("longwave_model", ""))),
        **_site_context(answer.climate, answer.survey, drawer),
    }
    context["references"] = references.listed()
    write_summary(answer.summary, folder)
    return write_page("site.html.jinja", context, folder / "site.html")


def _studied(study: FullStudy | None, key: str, drawer: Drawer) -> dict[str, Any] | None:
    """Doubts and losses of one harvester, as its section shows them."""
    if study is None:
        return None
    from welkinwell.report.decision_pages import losses_in_a_report, uncertainty_in_a_report

    return {
        "doubts": uncertainty_in_a_report(study.uncertainty, key, drawer),
        "losses": losses_in_a_report(study.losses, study.uncertainty.about.basis, key, drawer),
    }


def _interval(answer: Answer) -> str:
    """The spread of the best harvester's litres in words; empty where the doubts were not drawn."""
    if not answer.studies:
        return ""
    number = next(i for i, one in enumerate(answer.harvesters) if one is answer.best)
    area = answer.best.year.attrs["basis_area"] * answer.best.year.attrs["modules"]
    found = answer.studies[number].uncertainty.draws.exceeded()
    low, middle, high = (tables.litres((found[share] or 0.0) * area) for share in ("90 %", "50 %", "10 %"))
    return (
        f"With everything in doubt drawn at once, {low} L/day are exceeded in 90 % of the draws, {middle} in half of "
        f"them and {high} in 10 %."
    )


def _drawn(context: dict[str, Any], drawer: Drawer) -> dict[str, Any]:
    """Draw what is a figure in a section's context."""
    return {
        name: drawer(value) if isinstance(value, charts.Figure) else value for name, value in context.items()
    }


def _hero(answer: Answer) -> dict[str, Any]:
    """The answer in one sentence and four figures: of the harvester most worth building."""
    best = answer.best
    found = best.figures
    worst = found["litres_by_month"][best.worst_month] / DAYS_IN_MONTH[best.worst_month]
    most = max(round(one.figures["share_of_demand_met"], 3) for one in answer.harvesters)
    serves = round(found["share_of_demand_met"], 3) >= most
    return {
        "name": best.case.name,
        "why": "serves the demand best" if serves else "is the one most worth building",
        "collected": found["litres_per_day"],
        "delivered": found["litres_delivered_per_day"],
        "per_m2": found["litres_per_m2_day"],
        "basis": best.year.attrs["basis"],
        "area": best.year.attrs["basis_area"] * best.year.attrs["modules"],
        "worst": worst,
        "worst_month": _MONTH_NAMES[best.worst_month] if found["litres_per_day"] > 0.0 else "every month",
        "any": found["litres_per_day"] > 0.0,
        "worst_share": _over(worst, float(answer.case.demand.months[best.worst_month])),
        "met": found["share_of_demand_met"],
        "days_met": found["share_of_days_met"],
        "sentence": _verdict(answer, best, worst),
        "warnings": _shared_warnings(answer),
    }


_MONTH_NAMES = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip


def _verdict(answer: Answer, best: HarvesterAnswer, worst: float) -> str:
    """Say in plain words what the litres mean for the demand."""
    found, demand = best.figures, answer.case.demand
    if found["litres_per_day"] <= 0.0:
        return "No water at all: none of the harvesters of this case gives a drop in this weather year."
    met = found["share_of_demand_met"]
    if found["share_of_days_met"] >= 1.0:
        first = f"In this weather year it meets the whole demand of {demand.asked} L/day on every day."
    else:
        first = (
            f"In this weather year it meets {tables.percent(met)} of the {demand.asked} L/day asked for, "
            f"all of it on {tables.percent(found['share_of_days_met'])} of days; the longest run of short days "
            f"is {found['longest_shortfall_days']}."
        )
    month = _MONTH_NAMES[best.worst_month]
    enough = float(best.supply.net_by_month[best.worst_month]) >= float(demand.months[best.worst_month])
    against = "covers" if enough else "does not cover"
    second = f"In the worst month, {month}, it collects {tables.litres(worst)} L/day, which after losses {against} the demand by itself"
    if answer.case.tank is None:
        return f"{first} {second}.{_kept_without_a_tank(best)}"
    if not enough and found["share_of_days_met"] >= 1.0:
        lowest = tables.number(float(best.tank.stored.min()), 2)
        second += f": the tank bridges the gap, and holds {lowest} L at its lowest"
    return f"{first} {second}."


def _kept_without_a_tank(best: HarvesterAnswer) -> str:
    """Say that days are met only because water is taken as kept; empty where each day brings its own."""
    peak = best.supply.peak.volume
    if best.figures["share_of_days_met"] < 1.0 or peak == 0.0:
        return ""
    size = f" of at least {peak:,.0f} L above the tap" if peak is not None else ""
    return (
        " Every day is met only because the case has no tank and water is taken as kept without limit: that would "
        f"take a tank{size}, which is not priced."
    )


def _over(part: float, whole: float) -> float | None:
    return part / whole if whole > 0.0 else None


def _shared_warnings(answer: Answer) -> list[str]:
    """Warnings that change the answer itself and so stand beside it."""
    sunless = float(answer.climate["ghi"].max()) <= 0.0 and float(answer.climate["dni"].max()) <= 0.0
    if not sunless:
        return []
    return ["There is no sun at all in this weather file: no bed is ever heated, so there is no water."]


def _months_chart(answer: Answer) -> charts.Figure:
    days = np.array(DAYS_IN_MONTH)
    return charts.litres_of_harvesters(
        [one.case.name for one in answer.harvesters],
        [np.array(one.figures["litres_by_month"]) / days for one in answer.harvesters],
        answer.case.demand.months,
    )


def _harvester_section(
    answer: Answer, one: HarvesterAnswer, key: str, drawer: Drawer, references: References, tell: Progress
) -> dict[str, Any]:
    """All that the report shows of one harvester."""
    tell(f"Writing of {one.case.name}", 0.0)
    from welkinwell.report.limits_section import harvester_context
    from welkinwell.report.supply_section import supply_context

    demand = answer.case.demand
    days = np.array(DAYS_IN_MONTH)
    delivered = np.array([part.sum() for part in np.split(one.tank.delivered, np.cumsum(days)[:-1])])
    collected = np.array(one.figures["litres_by_month"])
    clock = first_hour(one.year, float(answer.climate.attrs["utc_offset"]))
    area = one.year.attrs["basis_area"] * one.year.attrs["modules"]
    hourly = (one.year["water_collected"].values * area).reshape(-1, 24)
    return {
        "key": key,
        "name": one.case.name,
        "answer": one,
        "warnings": [words for words in one.warnings if words not in _cautions(one)],
        "cautions": _cautions(one),
        "basis": one.year.attrs["basis"],
        "area": area,
        "sorbent_mass": one.year.attrs["sorbent_mass"] * area,
        "told_apart": tables.litres_told_apart(one, demand.litres_per_day),
        "months": drawer(charts.litres_by_month(key, collected / days, delivered / days, demand.months)),
        "month_table": tables.by_month(one, delivered, demand.months),
        "hours": drawer(charts.litres_by_hour_and_day(key, hourly, clock)),
        "days": _days(one, key, clock, drawer),
        "layer": _layer(one, key, drawer),
        **_heat(one, key, drawer),
        **_water(one, key, drawer),
        **_tank(answer, one, key, drawer),
        "limits": tables.limits_in_words(one.limits, one.case.kind) if one.relaxed else [],
        "supply": supply_context(answer, one, key, drawer),
        "distance": harvester_context(one.bounds, key, drawer, references),
        "gains": drawer(
            charts.gains_when_relaxed(key, tables.gains(one.relaxed, one.figures["litres_per_day"]))
        )
        if one.relaxed
        else None,
    }


def _cautions(one: HarvesterAnswer) -> list[str]:
    return list(one.case.sorbent.cautions) if one.case.sorbent is not None else []


def _traits(answer: Answer) -> dict[str, bool]:
    """What the cautions and the words of a case depend on."""
    found, designs = answer.harvesters, [one.case.design for one in answer.harvesters]
    glass = any(hasattr(design, "glazing_thickness") for design in designs)
    return {
        "glass": glass,
        "hot": glass
        or any("release_heat" in one.year or holds_refrigerant(one.case.design) for one in found),
        "tilted": any(hasattr(design, "tilt") for design in designs),
        "plane": any(sun_plane(design) for design in designs),
        "electric": any(float(one.year["electricity"].sum()) > 0.0 for one in found),
        "battery": any(one.power is not None for one in found),
        "sunny": any(bool(one.year.attrs["takes_sun"]) for one in found),
        "heated": any("release_heat" in one.year for one in found),
    }


def _hottest(answer: Answer) -> float:
    """The hottest that any part of any device became [degC]."""
    kelvin = [
        value
        for one in answer.harvesters
        for name, value in one.year.attrs.items()
        if name.startswith("highest_") and name.endswith("_temperature")
    ]
    return max(kelvin) - 273.15


def _days(one: HarvesterAnswer, key: str, clock: float, drawer: Drawer) -> list[dict[str, Any]]:
    """A good day and a bad day: those nearest to the 90 % and 10 % quantiles of the days' litres."""
    litres = one.daily_litres
    chosen = []
    for words, share in (("Good day", 0.9), ("Bad day", 0.1)):
        day = day_at_quantile(litres, share)
        title = f"{words}, {date_of_day(day)}: {tables.litres(float(litres[day]))} L collected"
        chosen.append((words, day_series(one.year, day, clock, title)))
    scales = common_scales([series for _, series in chosen])
    return [
        drawer(charts.day_in_detail(f"{key}_{words.lower().replace(' ', '_')}", series, scales))
        for words, series in chosen
    ]


def _layer(one: HarvesterAnswer, key: str, drawer: Drawer) -> dict[str, Any] | None:
    """How far into a layered bed day and night reach; None where the bed has one loading."""
    profile = json.loads(one.year.attrs.get("layer_profile", "{}"))
    if not profile:
        return None
    design = one.plant.simulated_design
    swing = np.array(profile["fullest"]) - np.array(profile["emptiest"])
    outer = swing[swing.size // 2 :].sum()
    return {
        "figure": drawer(
            charts.loading_through_the_layer(key, profile, 1e3 * design.layer_thickness / design.open_faces)
        ),
        "cells": swing.size,
        "outer": float(outer / swing.sum()) if swing.sum() > 0.0 else None,
    }


def _heat(one: HarvesterAnswer, key: str, drawer: Drawer) -> dict[str, Any]:
    """The heat accounts of the parts that the kind names: bars of the first, a table of each."""
    takes_sun = bool(one.year.attrs["takes_sun"])
    sun = sun_on_aperture(one.year) if takes_sun else None
    parts = harvester_of(one.case.design).heat_parts
    basis = one.year.attrs["basis"]
    accounts = [(part, heat_of(one.year, unknown)) for unknown, part in parts.items()]
    drawn = [
        drawer(
            charts.account_bars(
                f"{key}_heat",
                f"Heat into the {part} and out of it in the year, kWh/m² of {basis}",
                f"kWh/m² of {basis} in the year",
                account.entries,
            )
        )
        for part, account in accounts[:1]
        if account.entries
    ]
    return {
        "sun": sun,
        "heat_chart": drawn[0] if drawn else None,
        "heat_tables": [
            tables.heat_table(account, sun["total"] if sun else 0.0, f"The {part}'s heat in the year", basis)
            for part, account in accounts
        ],
    }  # fmt: skip


def _water(one: HarvesterAnswer, key: str, drawer: Drawer) -> dict[str, Any]:
    _, ways = water_ways(one.year)
    entries = [("water", name, max(amount, 0.0)) for name, amount in ways if amount > 5e-4]
    unit = f"L/m² of {one.year.attrs['basis']}"
    chart = charts.account_bars(
        f"{key}_water", f"Where the water taken up went in the year, {unit}", f"{unit} in the year", entries
    )
    return {
        "water_chart": drawer(chart) if entries else None,
        "water_table": tables.water_table(one),
    }


def _tank(answer: Answer, one: HarvesterAnswer, key: str, drawer: Drawer) -> dict[str, Any]:
    if answer.case.tank is None:
        return {"tank": None}
    volume = answer.case.tank.usable * 1000.0
    return {"tank": drawer(charts.tank_through_the_year(key, one.tank.stored, one.tank.missing, volume))}


def _sheets(answer: Answer, references: References) -> list[dict[str, Any]]:
    """The data sheet of every sorbent of the case, once."""
    found: dict[str, dict[str, Any]] = {}
    for one in answer.harvesters:
        sorbent = one.case.sorbent
        if sorbent is None or sorbent.key in found:
            continue
        memory, total = tables.memory_share(sorbent)
        texts = sorbent.sheet.texts
        found[sorbent.key] = {
            "name": sorbent.name,
            "sample": texts.get("sample", ""),
            "rules": [tables.form_words(sorbent)]
            + [texts[key] for key in ("range.rule", "kinetics.rule", "use.ageing") if key in texts],
            "memory": memory,
            "total": total,
            "table": tables.sheet_table(sorbent, references),
            "cautions": [*sorbent.cautions, *sorbent.leaching],
        }
    return list(found.values())


def _site_context(climate: Any, survey: Any, drawer: Drawer) -> dict[str, Any]:
    """Charts and tables of the place, the same in both reports."""
    months = {name: survey[name].values for name in survey.data_vars if survey[name].dims == ("month",)}
    figures = [
        charts.month_and_hour_map(
            "site_temperature", "Air temperature by month and hour", "°C",
            survey["temperature"].values - 273.15, charts.HEAT_RAMP,
        ),
        charts.month_and_hour_map(
            "site_humidity", "Relative humidity by month and hour", "%",
            100.0 * survey["relative_humidity"].values, charts.WATER_RAMP,
        ),
        charts.lines_by_month(
            "site_vapour", "Vapour pressure by night and by day", "kPa",
            {
                "night (sun below the horizon)": months["night_vapour_pressure"] / 1000.0,
                "day": months["day_vapour_pressure"] / 1000.0,
            },
        ),
        charts.lines_by_month(
            "site_sun", "Sun by month", "kWh/m² a day",
            {
                "on the tilted plane": months["sun_on_plane"],
                "of this, direct": months["sun_direct_on_plane"],
                "on the level": months["sun_on_level"],
            },
        ),
        charts.lines_by_month(
            "site_cooling", "Night cooling of a black level surface at air temperature", "W/m²",
            {"clear sky": months["night_cooling_clear"], "sky as it was": months["night_cooling"]},
        ),
        charts.lines_by_month(
            "site_night_air", "Night air: temperature and dew point", "°C",
            {
                "night air": months["night_temperature"] - 273.15,
                "dew point, all hours": months["dew_point"] - 273.15,
            },
        ),
    ]  # fmt: skip
    return {
        "site_charts": [drawer(figure) for figure in figures],
        "site_months": tables.site_months(survey),
        "regeneration": tables.regeneration(survey),
        "weather_table": tables.weather_table(climate),
        "plane": {
            "tilt": math.degrees(survey.attrs["tilt"]),
            "azimuth": math.degrees(survey.attrs["azimuth"]),
        },
    }
