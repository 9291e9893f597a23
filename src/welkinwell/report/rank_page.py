"""The page of a ranking: one picture of all isotherms, bars, months, reasons and doubts."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np

from welkinwell.constants import GAS_CONSTANT
from welkinwell.moist_air import latent_heat
from welkinwell.ranking import PlaceRanked, RankAnswer, caveats
from welkinwell.report import charts, rank_charts
from welkinwell.report.citations import References
from welkinwell.report.page import Drawer, unique_keys, write_page, write_summary
from welkinwell.report.tables import Table, celsius, number
from welkinwell.sorbents.sips_terms import REFERENCE_TEMPERATURE
from welkinwell.studies.rank import EQUAL_MASS, EQUAL_VOLUME, GOOD_ENOUGH, NUDGE, REASONS
from welkinwell.studies.typical_weeks import LENGTH
from welkinwell.studies.wanted_isotherm import BODY, CAPACITY
from welkinwell.writing import together


@together()
def write_rank_page(answer: RankAnswer, folder: Path) -> Path:
    """Write rank.html, summary.json and the charts; the page stands alone.

    Args: answer; folder. Returns: the path of the page.
    """
    with charts.quick_charts():
        drawer = Drawer(folder / "charts")
        references = References()
        references.numbers(answer.summary["citations"])
        keys = unique_keys([place.place.name for place in answer.places])
        names = [place.place.name for place in answer.places]
        context: dict[str, Any] = {
            "title": names[0] if len(names) == 1 else f"{len(names)} places",
            "headlines": answer.headline.splitlines(),
            "count": len(answer.places[0].entries),
            "masses": ", ".join(f"{mass:g}" for mass in answer.masses),
            "ladder": _ladder_words(answer.whole_years),
            "places": [_place(found, key, drawer) for found, key in zip(answer.places, keys, strict=True)],
            "overview": drawer(_overview(answer)) if len(names) > 1 else None,
            "notes": _notes(answer),
            "references": references.listed(),
        }
        write_summary(answer.summary, folder)
        return write_page("rank.html.jinja", context, folder / "rank.html")


def _ladder_words(whole_years: bool) -> str:
    if whole_years:
        return "Every mass runs through the whole year."
    return f"The masses are compared on {LENGTH} consecutive real days of each month."


def _place(found: PlaceRanked, key: str, drawer: Drawer) -> dict[str, Any]:
    name, entries = found.place.name, found.entries
    reasons = dict.fromkeys(entry.reason for entry in entries)
    return {
        "key": key,
        "name": name,
        "box": f"{found.place.box}, of the case" if found.place.box else "the standard passive box",
        "source": str(found.place.climate.attrs["source"]),
        "points": drawer(rank_charts.working_points(key, name, entries)),
        "bars": drawer(rank_charts.ranking_bars(key, name, entries)),
        "months": drawer(rank_charts.litres_by_month(key, name, entries)),
        "ladders": drawer(rank_charts.ladders(key, name, entries)),
        "table": _table(found),
        "doubts": _caveats(found),
        "wanted": _wanted(found, key, drawer),
        "reasons": [(reason, REASONS[reason]) for reason in REASONS if reason in reasons],
    }


def _wanted(found: PlaceRanked, key: str, drawer: Drawer) -> dict[str, Any] | None:
    """The isotherm that the place wants: figures, words and a table beside the nearest sheets."""
    one, name = found.wanted, found.place.name
    if one is None:
        return None
    entries = {entry.sorbent.key: entry for entry in found.entries}
    latent = float(latent_heat(REFERENCE_TEMPERATURE)) / 1e3
    rows = [
        (
            "wanted",
            f"{one.potential:.0f}",
            f"{one.humidity:.2f}",
            f"{one.isosteric_heat / 1e3 / latent:.2f}",
            f"{one.mass:.1f}",
            f"{one.litres_per_m2_day:.2f}",
            "",
        )
    ]
    for sheet, miss in one.nearest:
        entry = entries[sheet]
        half = 0.5 * float(entry.sorbent.loading(REFERENCE_TEMPERATURE, 0.9))
        heat = float(entry.sorbent.isosteric_heat(REFERENCE_TEMPERATURE, half)) / 1e3
        rows.append(
            (
                entry.sorbent.name,
                f"{entry.half_potential:.0f}",
                f"{math.exp(-entry.half_potential / (GAS_CONSTANT * REFERENCE_TEMPERATURE)):.2f}",
                f"{heat / latent:.2f}",
                f"{entry.best.mass:g}",
                f"{entry.best_on_ladder.litres_per_m2_day:.2f}",
                f"{miss:.2f}",
            )
        )
    columns = (
        "Isotherm", "half full at, J/mol", "at humidity", "heat over latent", "kg/m²", "L a day per m² of aperture", "Difference",
    )  # fmt: skip
    note = (
        "On the typical weeks, wanted and sheets alike. Difference: of the shares filled, mean over the potential. "
        f"The made-up solid holds {CAPACITY:g} kg/kg and has body and rate of a framework powder ({BODY})."
    )
    bounds = " and ".join(one.at_bound)
    return {
        "words": (
            f"Half full at relative humidity {one.humidity:.2f} and 25 degC ({one.potential:.0f} J/mol), a step "
            f"{one.width:.0f} J/mol wide, and {one.isosteric_heat / 1e3:.0f} kJ per kg of water would give "
            f"{one.litres_per_m2_day:.2f} L a day per m2 of aperture at {one.mass:.1f} kg/m2."
            + (f" The search ended at the bound that was set for: {bounds}." if bounds else "")
        ),
        "curve": drawer(rank_charts.wanted_curve(key, name, one, found.entries)),
        "slices": drawer(rank_charts.wanted_slices(key, name, one)),
        "table": Table("The wanted isotherm and the nearest sheets", columns, rows, frozenset({0}), note),
    }


def _table(found: PlaceRanked) -> Table:
    rows = []
    for place, entry in enumerate(found.entries, start=1):
        best = entry.best
        rows.append(
            (
                f"{place}. {entry.sorbent.name}",
                f"{best.litres_per_m2_day:.2f}",
                f"{best.mass:g}",
                number(1000.0 * best.thickness, 2),
                number(best.litres_per_kg_day, 2),
                f"{best.night_loading:.2f}",
                f"{best.day_loading:.2f}",
                celsius(best.day[0]).split(".")[0],
                "none" if entry.release_temperature is None else f"{entry.release_temperature - 273.15:.0f}",
                number(best.heat_kwh_per_litre, 2),
                entry.reason,
            )
        )
    columns = (
        "Sheet", "L a day per m² of aperture", "kg/m²", "mm", "L/kg a day", "night, kg/kg", "day, kg/kg", "bed by day, °C",
        "release, °C", "heat, kWh/L", "Why",
    )  # fmt: skip
    note = (
        "Night and day: mean of each day's highest and lowest loading. Bed by day: when it is emptiest. Release: "
        "bed temperature at which nine tenths of the night's water would have gone to this condenser. Heat: what "
        "reached the closed bed, per litre."
    )
    return Table("At the best mass of each", columns, rows, frozenset({0, 10}), note)


def _caveats(found: PlaceRanked) -> Table:
    rows = []
    for entry in found.entries:
        said = caveats(entry)
        ladder = entry.best_on_ladder.litres_per_m2_day
        year = entry.best.litres_per_m2_day
        miss = f"{100.0 * (ladder / year - 1.0):+.1f} %" if year > 1e-3 else "none"
        rows.append((entry.sorbent.name, miss, "; ".join(said) or "nothing named"))
    columns = ("Sheet", "Ladder over year", "Doubts")
    note = "Ladder over year: litres of the best mass on the days of the ladder, against the whole year."
    return Table("Doubts about each", columns, rows, frozenset({0, 2}), note)


def _overview(answer: RankAnswer) -> charts.Figure:
    """Sheets by places, ordered by their mean share of each place's best."""
    by_place = [
        {entry.sorbent.name: entry.best.litres_per_m2_day for entry in place.entries}
        for place in answer.places
    ]
    names = list(dict.fromkeys(name for litres in by_place for name in litres))
    table = np.array([[litres.get(name, np.nan) for litres in by_place] for name in names])
    order = np.argsort(-np.nanmean(table / np.nanmax(table, axis=0), axis=1))
    return rank_charts.litres_by_place(
        [place.place.name for place in answer.places], [names[i] for i in order], table[order]
    )


def _notes(answer: RankAnswer) -> list[str]:
    """What a reader needs to judge the ranking."""
    chosen = (
        "Every mass ran through the whole year."
        if answer.whole_years
        else f"The days of the ladder are, in each month, the {LENGTH} consecutive real days on which three "
        "reference beds come nearest to their litres of the whole month; equal mass and equal volume are read "
        "from the ladder. `--whole-years` runs every mass through the whole year instead."
    )
    return [
        chosen,
        f"Equal mass: {EQUAL_MASS:g} kg/m2. Equal volume: {1000 * EQUAL_VOLUME:g} L of bed per m2 of aperture, "
        "between the rungs on a monotone curve.",
        f"Close: at least {100 * GOOD_ENOUGH:.0f} % of the best. Why the others lose is read from the bed's own "
        f"nights and days: what it would swing there with its isotherm moved by {NUDGE:.0f} J/mol either way, how "
        "far its grains stay behind its surface, and what the vent lost.",
        "A sheet that loses brine on more than one day in twenty, or gets more than 5 degC hotter than it "
        "stands, keeps its place in the list but is never called best.",
        "Brines are taken as still films of their thickness. A box that holds a liquid needs trays or wicks, and "
        "nothing of it may reach the water.",
        "Cost, ageing and leaching are on the page of each sheet (`welkinwell sorbents NAME -o DIR`). Water for "
        "drinking must be tested.",
    ]
