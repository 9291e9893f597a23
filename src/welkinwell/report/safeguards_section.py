"""Safeguards as a section of the report and as an annex page: what to fear, test, treat, watch and sign."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from welkinwell.answer import Answer
from welkinwell.report import charts, tables
from welkinwell.report.citations import References
from welkinwell.report.page import Drawer, write_page
from welkinwell.report.tables import Table
from welkinwell.studies.safety import Safety
from welkinwell.supply import safeguards as guards
from welkinwell.supply.sound_level import CITATIONS

SORTS = {
    "health": "guideline value for health",
    "provisional": "guideline value, provisional or hard to keep",
    "practicable": "what treatment can keep",
    "taste": "taste, smell or stains",
    "operation": "for treatment to work",
    "none": "none known",
}
BURNS = 324.15  # K: 51 degC, any material within a minute (ISO13732, from memory)


def write_safeguards(answer: Answer, folder: Path, drawer: Drawer) -> Path:
    """Write safeguards.html, the annex for those who build, test and run; returns its path."""
    references = References()
    edition = next(iter(guards.water_limits().values()))
    context = {
        "case": answer.case,
        "edition": edition.edition,
        "carried": _carried(answer),
        "sound": _sound(answer, references),
        "load": _load_table(answer),
        "lithium": [(one.case.name, said) for one in answer.harvesters if (said := _lithium(one.safety))],
        "tests": _tests(answer, references),
        "survey": _lists(answer, "survey"),
        "commissioning": _lists(answer, "commissioning"),
        "monitoring": _monitoring(answer),
        "hazards": _lists(answer, "hazards"),
        "treatments": _lists(answer, "treatments"),
        **section_context(answer, drawer),
    }
    references.number("ISO13732")
    context["references"] = references.listed()
    return write_page("safeguards.html.jinja", context, folder / "safeguards.html")


def section_context(answer: Answer, drawer: Drawer) -> dict[str, Any]:
    """What the report itself shows of safety: figures, temperatures and the tank."""
    return {
        "safety_table": _figures(answer),
        "heat_chart": drawer(temperatures(answer)) if _any_heat(answer) else None,
        "tank_chart": drawer(tank_water(answer)) if _any_tank(answer) else None,
    }


def temperatures(answer: Answer) -> charts.Figure:
    """How hot bed and glass get: in the year, dry and left alone, beside what stands it."""
    import altair as alt

    sorts = ["hottest in the year", "vent opens", "sorbent stands", "dry, shut and vent stuck", "glass, then"]
    rows = []
    for one in answer.harvesters:
        safety = one.safety
        found = {
            "hottest in the year": safety.highest_bed,
            "vent opens": safety.vent,
            "sorbent stands": safety.service,
            "dry, shut and vent stuck": safety.stagnation.bed if safety.stagnation else math.nan,
            "glass, then": safety.stagnation.glass if safety.stagnation else math.nan,
        }
        rows += [
            {"name": one.case.name, "sort": sort, "T": round(T - 273.15, 1)}
            for sort, T in found.items()
            if math.isfinite(T)
        ]
    names = list(dict.fromkeys(str(row["name"]) for row in rows))
    legend = alt.Legend(title=None, orient="top", columns=3, symbolSize=120, labelLimit=260)
    base = (
        alt.Chart(charts._data(rows))
        .mark_point(filled=True, size=130, opacity=1)
        .encode(
            y=alt.Y("name:N", sort=names, title=None,
                    axis=alt.Axis(labelLimit=260, ticks=False, domain=False, labelPadding=7, grid=True)),
            x=alt.X("T:Q", title="°C", scale=alt.Scale(zero=False, domainMin=40)),
            color=alt.Color("sort:N", legend=legend, sort=sorts,
                            scale=alt.Scale(domain=sorts, range=[charts.DARK, "#8a8f2e", charts.LIGHT, charts.WARM, "#7d5a8c"])),
            shape=alt.Shape("sort:N", legend=legend, sort=sorts,
                            scale=alt.Scale(domain=sorts, range=["circle", "triangle-up", "square", "diamond", "cross"])),
        )
    )  # fmt: skip
    burns = charts._data([{"T": BURNS - 273.15, "text": "burns within a minute"}])
    line = alt.Chart(burns).mark_rule(color=charts.INK, strokeDash=[4, 3]).encode(x="T:Q")
    chart = alt.layer(line, base).properties(width=charts.WIDE - 260, height=40 + 34 * len(names))
    said = "; ".join(f"{row['name']}, {row['sort']}: {row['T']:.0f} °C" for row in rows)
    return charts.Figure(
        "safety_temperatures",
        "How hot it gets, and what stands it; dashed: 51 °C, at which any material burns skin within a minute",
        f"Points on a temperature axis. {said}.", charts._finished(chart),
    )  # fmt: skip


def tank_water(answer: Answer) -> charts.Figure:
    """Water in the tank through the year with the band in which Legionella grow."""
    import altair as alt

    water = next(one.safety.tank_water for one in answer.harvesters if one.safety.tank_water.size) - 273.15
    rows = [{"d": day, "T": round(float(T), 2)} for day, T in enumerate(water)]
    low, high = (T - 273.15 for T in guards.GROWTH_BAND)
    bottom, top = min(0.0, float(water.min()) - 2.0), max(float(water.max()) + 3.0, 30.0)
    band = (
        alt.Chart(charts._data([{"low": low, "high": min(high, top), "d": 0, "d2": 365}]))
        .mark_rect(color=charts.WARM, opacity=0.16)
        .encode(y="low:Q", y2="high:Q", x="d:Q", x2="d2:Q")
    )
    line = (
        alt.Chart(charts._data(rows))
        .mark_line(color=charts.DARK, strokeWidth=1.8)
        .encode(
            x=alt.X("d:Q", title=None, scale=alt.Scale(domain=[0, 365], nice=False), axis=charts._day_axis()),
            y=alt.Y("T:Q", title="°C", scale=alt.Scale(domain=[bottom, top], nice=False)),
        )
    )
    share = guards.growth_share(water + 273.15)
    chart = alt.layer(band, line).properties(width=charts.WIDE - 80, height=150)
    return charts.Figure(
        "safety_tank_water",
        "Water in the tank through the year (screening); shaded: 20 to 45 °C, in which Legionella grow",
        f"A line by day from {water.min():.0f} to {water.max():.0f} °C; {100 * share:.0f} % of days lie in the band.",
        charts._finished(chart),
    )  # fmt: skip


def _any_heat(answer: Answer) -> bool:
    return any(math.isfinite(one.safety.highest_bed) or one.safety.stagnation for one in answer.harvesters)


def _any_tank(answer: Answer) -> bool:
    return any(one.safety.tank_water.size for one in answer.harvesters)


def _figures(answer: Answer) -> Table:
    """The figures of safety, one column a harvester."""
    rows = []
    safeties = [one.safety for one in answer.harvesters]

    def row(words: str, of: Any) -> None:
        cells = tuple(of(safety) for safety in safeties)
        if any(cell != tables.NONE for cell in cells):
            rows.append((words, *cells))

    row("Bed, hottest in the year, °C", lambda s: _celsius(s.highest_bed))
    row(
        "Bed, dry, shut by day, vent stuck, °C",
        lambda s: _celsius(s.stagnation.bed if s.stagnation else math.nan),
    )
    row("Glass, then, °C", lambda s: _celsius(s.stagnation.glass if s.stagnation else math.nan))
    row("Vent begins to open at, °C", lambda s: _celsius(s.vent))
    row("Sorbent stands, °C", lambda s: _celsius(s.service))
    row(
        "Hours with the bed above its leak humidity",
        lambda s: tables.percent(s.wet_share) if s.wet_share else tables.NONE,
    )
    row("Weight on its base, wet, kg per m² of aperture", _load)
    row("Wind pressure at 40 m/s, kN/m²", lambda s: tables.number(float(guards.wind_force(40.0)) / 1000.0, 2))
    row("Hours of frost in the year", lambda s: f"{s.frost_hours}")
    row(
        "Tank water, warmest day, °C",
        lambda s: _celsius(float(s.tank_water.max())) if s.tank_water.size else tables.NONE,
    )
    row(
        "Days with tank water at 20 to 45 °C",
        lambda s: tables.percent(s.growth_share) if s.tank_water.size else tables.NONE,
    )
    row("Days that the tank's water stands, when full", lambda s: tables.number(s.turnover, 2))
    row("Sound at the nearest bed", lambda s: s.sound.words())
    row("Calcite for minerals, g a day", lambda s: tables.number(1000.0 * s.calcite, 2))
    notes = {
        "Dry and shut: simulated through the year with a dry bed, clean glass and a stuck vent; a clearer or stiller day "
        "than any of this year goes higher.": any(safety.stagnation for safety in safeties),
        "Weight: glass, bed, condenser, and 10 kg/m² of case, insulation and seals assumed.": any(
            safety.load for safety in safeties
        ),
        "Tank water: the air's mean with a lag of two days, 10 K warmer in the sun (assumed).": _any_tank(
            answer
        ),
    }
    return Table(
        "Figures for safety (screening)", ("", *(one.case.name for one in answer.harvesters)), rows,
        note=" ".join(said for said, has_its_row in notes.items() if has_its_row),
    )  # fmt: skip


def _sound(answer: Answer, references: References) -> Table | None:
    """What makes noise in a module of each harvester, and where each level comes from."""
    loud = [one for one in answer.harvesters if not one.safety.sound.silent]
    if not loud:
        return None
    rows = [
        (one.case.name, source.noise.name, f"{source.level:.0f}", source.basis)
        for one in loud
        for source in one.safety.sound.sources
    ]
    place = answer.case.sound
    cited = ", ".join(f"[{references.number(key)}]" for key in CITATIONS)
    return Table(
        "Sound power level of what makes noise in one module, dB(A)",
        ("Harvester", "Source", "dB(A)", "From where"),
        rows,
        frozenset({0, 1, 3}),
        f"Spread to the nearest bed, {place.distance:g} m away; all modules stand at that distance. The limit of "
        f"{place.night_limit:g} dB(A) there at night is the case's or, by default, the WHO's guideline for the year's "
        "mean outside. Estimates are good to 5 dB at best, and a tone is heard through them: take the maker's sound "
        f"power level into [sound], and the limit of the place. {cited}",
    )


def _carried(answer: Answer) -> Table:
    """What may reach the water of each harvester, what several share once."""
    limits = guards.water_limits()
    by_row: dict[tuple[str, str, str], list[str]] = {}
    for one in answer.harvesters:
        for carried in one.safety.lists.carried:
            named = "; ".join(limits[k].name for k in carried.parameters) or "not known by name"
            by_row.setdefault((carried.title, carried.words, named), []).append(one.case.name)
    count = len(answer.harvesters)
    rows = [
        (*row, "all" if len(names) == count else ", ".join(names))
        for row, names in sorted(by_row.items(), key=lambda entry: not entry[0][0].startswith("Sorbent"))
    ]
    heads = ("From", "How", "Test for", "Harvester")
    return Table("What may reach the water", heads, rows, frozenset({0, 1, 2, 3}))


def _lithium(safety: Safety) -> str:
    salt = safety.lists.installation.salt
    if salt != "lithium_chloride":
        return ""
    per_mg = guards.ion_in_water(salt, "lithium", 1e-6) * 1e9
    trip = guards.conductivity_of_salt(salt, 1e-6) * 1e4
    return (
        f"1 mg/L of lithium chloride brings {per_mg:.0f} ug/L of lithium and {trip:.1f} uS/cm. The screening level of 10 ug/L "
        f"is reached by {10.0 / per_mg:.3f} mg/L, which changes the conductivity by {10.0 / per_mg * trip:.2f} uS/cm: too "
        "little for a meter to see. A conductivity trip finds gross leaks only; lithium must be tested in a laboratory."
    )


def _load_table(answer: Answer) -> Table | None:
    """Weight of each box on its base, part by part."""
    boxes = [one for one in answer.harvesters if one.safety.load]
    if not boxes:
        return None
    parts = list(boxes[0].safety.load)
    rows = [(part, *(tables.number(one.safety.load[part], 3) for one in boxes)) for part in parts]
    winds = ", ".join(f"{float(guards.wind_force(v)) / 1000:.2f} at {v:.0f} m/s" for v in guards.GUSTS)
    return Table(
        "Weight on the base, kg per m² of aperture", ("", *(one.case.name for one in boxes)), rows,
        note=f"Wind pressure on a plate that faces it, kN/m² before any shape factor or safety of the code: {winds}.",
    )  # fmt: skip


def _tests(answer: Answer, references: References) -> Table:
    """Every parameter to test for in this case, with the figure that it is held to."""
    wanted: dict[str, guards.WaterLimit] = {}
    for one in answer.harvesters:
        wanted |= {limit.key: limit for limit in one.safety.lists.tests}
    order = list(guards.water_limits())
    rows = [
        (
            limit.name, limit.held_to, SORTS[limit.sort], limit.seen,
            f"[{references.number(limit.source)}]" if limit.value is not None or limit.screening is not None else "", limit.note,
        )
        for limit in sorted(wanted.values(), key=lambda limit: order.index(limit.key))
    ]  # fmt: skip
    return Table(
        "What to test for", ("Parameter", "Held to", "What kind of figure", "Seen", "From", "Note"), rows,
        frozenset({0, 1, 2, 3, 4, 5}),
    )  # fmt: skip


def _lists(answer: Answer, name: str) -> list[guards.Listed]:
    """One list over all harvesters of the case, each entry once."""
    found: dict[str, guards.Listed] = {}
    for one in answer.harvesters:
        for entry in getattr(one.safety.lists, name):
            found.setdefault(entry.title, entry)
    order = guards.listed_order(name.removesuffix("s"))
    return sorted(found.values(), key=lambda entry: order.index(entry.title))


def _monitoring(answer: Answer) -> Table:
    rows: list[tuple[str, str]] = []
    for one in answer.harvesters:
        rows += [(f"Every {entry.title}" if entry.title != "event" else "After an event", item)
                 for entry in one.safety.lists.monitoring for item in entry.items]  # fmt: skip
    unique: Sequence[tuple[str, ...]] = list(dict.fromkeys(rows))
    spans = ("day", "week", "month", "quarter", "half-year", "year")
    rank = {f"Every {span}": number for number, span in enumerate(spans)}
    ordered = sorted(unique, key=lambda row: rank.get(row[0], len(spans)))
    return Table(
        "Monitoring plan", ("When", "What", "Who"), [(*row, "") for row in ordered], frozenset({0, 1, 2})
    )


def _celsius(kelvin: float) -> str:
    return f"{kelvin - 273.15:.0f}" if np.isfinite(kelvin) else tables.NONE


def _load(safety: Safety) -> str:
    return tables.number(safety.load["together"], 2) if safety.load else tables.NONE
