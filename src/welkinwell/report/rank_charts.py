"""The pictures of a ranking: isotherms with the place's nights and days on them, bars, months, places."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from welkinwell.moist_air import saturation_pressure
from welkinwell.report.charts import (
    DARK,
    DASHES,
    FAINT,
    HALF,
    INK,
    LIGHT,
    MONTHS,
    SERIES,
    SHAPES,
    WARM,
    WATER_RAMP,
    WIDE,
    Figure,
    Floats,
    _data,
    _finished,
    _first,
)
from welkinwell.studies.rank import EQUAL_MASS, EQUAL_VOLUME, Ranked, is_brine, unfit
from welkinwell.studies.wanted_isotherm import Wanted, made_up, shares_filled
from welkinwell.year import DAYS_IN_MONTH

PANELS: Final = 5  # in a row
PANEL: Final = (112, 78)
GIVEN: Final = "#9ecfca"
UNFIT: Final = "#b9c2c6"
HUMIDITIES: Final = np.concatenate([np.linspace(0.0, 0.1, 14), np.linspace(0.12, 0.95, 42)])
BAND: Final = "what a mean day brings out"
NIGHT: Final = "fullest, by night"
DAY: Final = "emptiest, by day"
LETTER: Final = 6.5  # px, a usual letter of a head
HEAD_LINE: Final = 13  # px


def working_points(key: str, place: str, entries: Sequence[Ranked]) -> Figure:
    """Draw each sheet's isotherm with the bed's nights and days on it, the most water first."""
    import altair as alt

    titles = [_title(number, entry) for number, entry in enumerate(entries, start=1)]
    rows: list[dict[str, Any]] = []
    for title, entry in zip(titles, entries, strict=True):
        rows += _panel(title, entry)
    chart = (
        alt.layer(*_points_on_isotherms(), data=_data(rows))
        .properties(width=PANEL[0], height=PANEL[1])
        .facet(
            facet=alt.Facet(
                "title:N",
                sort=titles,
                title=None,
                header=alt.Header(
                    labelExpr="split(datum.label, '|')", labelFontSize=10.5, labelColor=INK, labelAnchor="start",
                    labelLimit=158, labelPadding=4,
                ),
            ),
            columns=PANELS,
            spacing={"row": 12, "column": 12},
        )
        .resolve_scale(y="independent")
    )  # fmt: skip
    said = "; ".join(
        f"{entry.sorbent.name}: {entry.best.night_loading:.2f} kg/kg at {_percent(entry.best.night)} by night, "
        f"{entry.best.day_loading:.2f} at {_percent(entry.best.day)} by day"
        for entry in entries
    )
    return Figure(
        f"{key}_working_points",
        f"{place}: how much each sorbent holds (kg of water per kg dry, up) against the relative humidity at its "
        "surface (across). Solid: at night's temperature, dashed: at day's; bars through the points: four days "
        "in five",
        f"One panel a sheet. {said}.",
        _finished(chart),
    )


def _points_on_isotherms() -> list[Any]:
    """Layers of one panel: the band of humidities, both isotherms, spans and points."""
    import altair as alt

    base = alt.Chart().encode(
        x=alt.X(
            "x:Q",
            title="relative humidity",
            scale=alt.Scale(domain=[0, 1], nice=False),
            axis=alt.Axis(values=[0, 0.5, 1], format="%", grid=False, titleFontSize=10.5, labelFontSize=10.5),
        ),
        y=alt.Y(
            "y:Q",
            title=None,
            axis=alt.Axis(tickCount=3, grid=False, minExtent=28, maxExtent=28, labelFontSize=10.5),
            scale=alt.Scale(zero=True, nice=False),
        ),
    )
    kinds = [NIGHT, DAY, BAND]
    legend = alt.Legend(
        orient="top", title=None, symbolSize=110, symbolStrokeWidth=0, columns=3, labelLimit=300
    )
    colour = alt.Color("kind:N", scale=alt.Scale(domain=kinds, range=[DARK, WARM, GIVEN]), legend=legend)
    shape = alt.Shape(
        "kind:N", scale=alt.Scale(domain=kinds, range=["circle", "diamond", "square"]), legend=legend
    )
    band = (
        base.transform_filter("datum.mark == 'band'")
        .mark_rect(opacity=0.75)
        .encode(x=alt.X("x:Q"), x2="x2:Q", y2="y2:Q", color=colour)
    )
    curves = [
        base.transform_filter(f"datum.mark == '{name}'")
        .mark_line(strokeWidth=width, color=colour_of, strokeDash=dash, clip=True)
        .encode(order="x:Q")
        for name, width, colour_of, dash in (
            ("night line", 1.8, INK, [1, 0]),
            ("day line", 1.2, FAINT, [3, 2]),
        )
    ]
    spans = (
        base.transform_filter("datum.mark == 'span'")
        .mark_rule(strokeWidth=1.4)
        .encode(x2="x2:Q", color=colour)
    )
    points = (
        base.transform_filter("datum.mark == 'point'")
        .mark_point(filled=True, size=62, opacity=1, stroke="white", strokeWidth=0.8)
        .encode(color=colour, shape=shape)
    )
    return [band, *curves, spans, points]


def _title(number: int, entry: Ranked) -> str:
    name = entry.sorbent.name.split(",")
    short = (
        name[0]
        if name[-1].strip() in ("powder", "granules", "pellets", "granules and powder")
        else ",".join(name)
    )
    return f"{number}. {short}|{entry.best.litres_per_m2_day:.2f} L/m² · {entry.reason}"


def _panel(title: str, entry: Ranked) -> list[dict[str, Any]]:
    best, sorbent = entry.best, entry.sorbent
    top = _top(entry)
    rows: list[dict[str, Any]] = []
    for mark, (T, _) in (("night line", best.night), ("day line", best.day)):
        loadings = np.asarray(sorbent.loading(T, np.maximum(HUMIDITIES, 1e-6)))
        rows += [
            {"title": title, "mark": mark, "x": round(float(x), 4), "y": round(float(y), 5)}
            for x, y in zip(HUMIDITIES, loadings, strict=True)
            if y <= top
        ]
    low, high = best.day_loading, best.night_loading
    rows.append({"title": title, "mark": "band", "kind": BAND, "x": 0.0, "x2": 1.0, "y": low, "y2": high})
    points = ((NIGHT, best.night, best.night_spread, high), (DAY, best.day, best.day_spread, low))
    for kind, point, spread, held in points:
        rows.append(
            {"title": title, "mark": "span", "kind": kind, "x": spread[0], "x2": spread[1], "y": held}
        )
        rows.append({"title": title, "mark": "point", "kind": kind, "x": _humidity(point), "y": held})
    return rows


def _top(entry: Ranked) -> float:
    """Where a panel ends: brines would take up without end."""
    full = float(entry.sorbent.loading(entry.best.night[0], 0.95))
    return min(full, 2.0 * entry.best.night_loading) if is_brine(entry.sorbent) else full


def _humidity(point: tuple[float, float]) -> float:
    T, p = point
    return float(min(p / saturation_pressure(T), 1.0))


def _percent(point: tuple[float, float]) -> str:
    return f"{100 * _humidity(point):.0f} %"


def ranking_bars(key: str, place: str, entries: Sequence[Ranked]) -> Figure:
    """Draw litres a day at the best mass as bars, at equal mass and equal volume as marks."""
    kinds = ["best mass, whole year", "brine runs out of it, or too hot: not usable so"]
    marks = [f"at {EQUAL_MASS:g} kg/m²", f"at {1000 * EQUAL_VOLUME:g} L of bed per m²"]
    rows = [
        {
            "name": entry.sorbent.name,
            "litres": entry.best.litres_per_m2_day,
            "kind": kinds[unfit(entry) is not None],
            "text": f"{entry.best.litres_per_m2_day:.2f} at {entry.best.mass:g} kg/m²",
            "why": entry.reason,
        }
        for entry in entries
    ]
    points = [
        {"name": entry.sorbent.name, "litres": value, "mark": mark}
        for entry in entries
        for mark, value in zip(marks, (entry.litres_at_equal_mass, entry.litres_at_equal_volume), strict=True)
    ]
    said = "; ".join(f"{row['name']} {row['text']} ({row['why']})" for row in rows)
    return Figure(
        f"{key}_ranking",
        f"{place}: litres a day, each sorbent at its own best mass; dots and diamonds: all at the same mass, and "
        "all in the same volume",
        f"Bars, in L a day per m2 of aperture. {said}.",
        _finished(_bars_and_marks(rows, points, kinds, marks)),
    )


def _bars_and_marks(
    rows: list[dict[str, Any]],
    points: list[dict[str, Any]],
    kinds: Sequence[str],
    marks: Sequence[str],
) -> Any:
    """Bars of the rows with their words at the right, and the marks of the points over them."""
    import altair as alt

    y = alt.Y(
        "name:N",
        sort=[row["name"] for row in rows],
        title=None,
        axis=alt.Axis(labelLimit=230, ticks=False, domain=False, labelPadding=7),
    )
    x = alt.X(
        "litres:Q",
        title="L a day per m² of aperture",
        scale=alt.Scale(domain=[0, 1.02 * (max(row["litres"] for row in rows) or 1.0)], nice=False),
        axis=alt.Axis(tickCount=5),
    )
    legend = alt.Legend(title=None, orient="top", columns=2, labelLimit=330)
    base = alt.Chart(_data(rows)).encode(y=y)
    bars = base.mark_bar(height=13).encode(
        x=x, color=alt.Color("kind:N", scale=alt.Scale(domain=kinds, range=[LIGHT, UNFIT]), legend=legend)
    )
    edge = WIDE - 425
    text = base.mark_text(align="left", dx=8).encode(x=alt.value(edge), text="text:N")
    why = base.mark_text(align="left", dx=140, color=FAINT).encode(x=alt.value(edge), text="why:N")
    ticks = (
        alt.Chart(_data(points))
        .mark_point(size=48, filled=True, opacity=1, stroke="white", strokeWidth=0.7)
        .encode(
            y=y,
            x=x,
            shape=alt.Shape(
                "mark:N", scale=alt.Scale(domain=marks, range=["circle", "diamond"]), legend=legend
            ),
            fill=alt.Fill("mark:N", scale=alt.Scale(domain=marks, range=[DARK, WARM]), legend=legend),
        )
    )
    return (
        alt.layer(bars, ticks, text, why)
        .resolve_scale(color="independent", fill="independent", shape="independent")
        .properties(width=edge, height=19 * len(rows))
    )


def litres_by_month(key: str, place: str, entries: Sequence[Ranked]) -> Figure:
    """Draw litres a day by month of every sheet at its best mass, as a table of shaded cells."""
    names = [entry.sorbent.name for entry in entries]
    table = np.array([entry.best.litres_by_month / DAYS_IN_MONTH for entry in entries])
    said = "; ".join(
        f"{name} from {row.min():.2f} in {MONTHS[int(row.argmin())]} to {row.max():.2f} in {MONTHS[int(row.argmax())]}"
        for name, row in zip(names, table, strict=True)
    )
    return Figure(
        f"{key}_months",
        f"{place}: L a day per m² of aperture in each month, best mass",
        f"A table of sheets and months. {said}.",
        _cells(names, MONTHS, table, 38),
    )


def litres_by_place(places: Sequence[str], names: Sequence[str], table: Floats) -> Figure:
    """Draw litres a day of every sheet at every place, shape (sheets, places) [L/(m2 day)], as shaded cells."""
    said = "; ".join(
        f"{name}: " + ", ".join(f"{place} {value:.2f}" for place, value in zip(places, row, strict=True))
        for name, row in zip(names, table, strict=True)
    )
    width = min(110, 460 // len(places))
    heads = ["|".join(textwrap.wrap(place, max(round(width / LETTER), 6))) for place in places]
    return Figure(
        "places",
        "L a day per m² of aperture at each place, each sorbent at its own best mass; shades within a place",
        f"A table of sheets and places. {said}.",
        _cells(names, heads, table, width, by_column=True),
    )


def _cells(
    names: Sequence[str], columns: Sequence[str], table: Floats, width: int, by_column: bool = False
) -> Any:
    """A table of numbers on shaded cells; NaN stays empty. Heads are numbered, so that two may be alike."""
    import altair as alt

    most = np.nanmax(table, axis=0) if by_column else np.full(len(columns), np.nanmax(table))
    rows = [
        {
            "name": name, "column": column, "share": float(value / max(top, 1e-9)), "text": f"{value:.2f}",
        }
        for name, line in zip(names, table, strict=True)
        for column, (value, top) in enumerate(zip(line, most, strict=True))
        if np.isfinite(value)
    ]  # fmt: skip
    base = alt.Chart(_data(rows)).encode(
        x=alt.X(
            "column:O",
            title=None,
            scale=alt.Scale(domain=list(range(len(columns)))),
            axis=alt.Axis(
                orient="top",
                labelAngle=0,
                labelExpr=f"split({json.dumps(list(columns), ensure_ascii=False)}[datum.value], '|')",
                # lines grow downwards from here: room for the head that has most
                labelBaseline="top",
                labelLineHeight=HEAD_LINE,
                labelPadding=HEAD_LINE * max(head.count("|") + 1 for head in columns),
                ticks=False,
                domain=False,
                labelLimit=width,
                grid=False,
            ),
        ),
        y=alt.Y(
            "name:N",
            sort=list(names),
            title=None,
            axis=alt.Axis(labelLimit=230, ticks=False, domain=False, labelPadding=7, grid=False),
        ),
    )
    cells = base.mark_rect(stroke="white", strokeWidth=1).encode(
        color=alt.Color(
            "share:Q", legend=None, scale=alt.Scale(range=WATER_RAMP, interpolate="lab", domain=[0, 1.0])
        )
    )
    text = base.mark_text(fontSize=10.5).encode(
        text="text:N", color=alt.condition("datum.share > 0.5", alt.value("white"), alt.value(INK))
    )
    return _finished(alt.layer(cells, text).properties(width=width * len(columns), height=19 * len(names)))


def ladders(key: str, place: str, entries: Sequence[Ranked]) -> Figure:
    """Draw litres a day against mass of the five best and of the least."""
    import altair as alt

    chosen = [*entries[:5], *entries[5:][-1:]]
    names = [entry.sorbent.name for entry in chosen]
    rows = [
        {"name": entry.sorbent.name, "mass": rung.mass, "litres": rung.litres_per_m2_day}
        for entry in chosen
        for rung in entry.rungs
    ]
    legend = alt.Legend(title=None, orient="right", symbolSize=160, labelLimit=200)
    domain: dict[str, Any] = {"sort": names, "legend": legend}
    base = alt.Chart(_data(rows)).encode(
        x=alt.X(
            "mass:Q", title="kg of dry sorbent per m² of aperture", scale=alt.Scale(type="log"),
            axis=alt.Axis(values=sorted({rung.mass for entry in chosen for rung in entry.rungs}), grid=False),
        ),
        y=alt.Y("litres:Q", title="L a day per m² of aperture", scale=alt.Scale(zero=True)),
        color=alt.Color("name:N", scale=alt.Scale(domain=names, range=_first(SERIES, names)), **domain),
    )  # fmt: skip
    lines = base.mark_line(strokeWidth=1.8).encode(
        strokeDash=alt.StrokeDash(
            "name:N", scale=alt.Scale(domain=names, range=_first(DASHES, names)), **domain
        )
    )
    points = base.mark_point(filled=True, size=40, opacity=1).encode(
        shape=alt.Shape("name:N", scale=alt.Scale(domain=names, range=_first(SHAPES, names)), **domain)
    )
    chart = alt.layer(lines, points).properties(width=WIDE - 270, height=190)
    said = "; ".join(f"{entry.sorbent.name} most at {entry.best_on_ladder.mass:g} kg/m2" for entry in chosen)
    return Figure(
        f"{key}_ladders",
        f"{place}: litres a day against the mass in the box, five best and the least",
        f"Lines. {said}.",
        _finished(chart),
    )


NAMES: Final = {
    "potential": "potential of half filling, J/mol",
    "width": "width, J/mol",
    "heat": "heat over the latent heat, J/mol",
    "mass": "mass, kg/m²",
}


def wanted_curve(key: str, place: str, wanted: Wanted, entries: Sequence[Ranked]) -> Figure:
    """Draw the share filled of the wanted isotherm beside the nearest sheets, with its night and day."""
    import altair as alt

    near = [next(e.sorbent for e in entries if e.sorbent.key == name) for name, _ in wanted.nearest]
    made = made_up(wanted.potential, wanted.width, wanted.heat)
    names = ["wanted", *(one.name for one in near)]
    rows = [
        {"name": name, "x": round(float(x), 4), "y": round(float(y), 4)}
        for name, one in zip(names, (made, *near), strict=True)
        for x, y in zip(HUMIDITIES[1:], shares_filled(one, HUMIDITIES[1:]), strict=True)
        if y <= 1.1
    ]
    legend = alt.Legend(title=None, orient="top", columns=1, symbolSize=200, labelLimit=300)
    domain: dict[str, Any] = {"sort": names, "legend": legend}
    lines = (
        alt.Chart(_data(rows))
        .mark_line(strokeWidth=2)
        .encode(
            x=alt.X(
                "x:Q",
                title="relative humidity at 25 °C",
                scale=alt.Scale(domain=[0, 1], nice=False),
                axis=alt.Axis(format="%"),
            ),
            y=alt.Y("y:Q", title="share filled (of that at 90 %)"),
            color=alt.Color("name:N", scale=alt.Scale(domain=names, range=_first(SERIES, names)), **domain),
            strokeDash=alt.StrokeDash(
                "name:N", scale=alt.Scale(domain=names, range=_first(DASHES, names)), **domain
            ),
        )
    )
    chart = lines.properties(width=HALF - 40, height=230)
    return Figure(
        f"{key}_wanted",
        f"{place}: the isotherm that would give the most water, and the nearest sheets",
        f"Lines. Half full at relative humidity {wanted.humidity:.2f}; nearest: {', '.join(names[1:])}.",
        _finished(chart),
    )


def wanted_slices(key: str, place: str, wanted: Wanted) -> Figure:
    """Draw litres with one number of the wanted isotherm moved at a time."""
    import altair as alt

    panels = []
    most = wanted.litres_per_m2_day or 1.0  # a place without sun
    for name, (values, litres) in wanted.slices.items():
        rows = [{"x": float(x), "y": float(y)} for x, y in zip(values, litres, strict=True)]
        at = [{"x": float(getattr(wanted, name)), "y": wanted.litres_per_m2_day}]
        base = alt.Chart(_data(rows)).encode(
            x=alt.X(
                "x:Q", title=NAMES[name], scale=alt.Scale(zero=False, nice=False), axis=alt.Axis(tickCount=4)
            ),
            y=alt.Y(
                "y:Q",
                title=None,
                scale=alt.Scale(domain=[0.75 * most, 1.02 * most], nice=False),
                axis=alt.Axis(tickCount=4),
            ),
        )
        point = alt.Chart(_data(at)).mark_point(filled=True, size=70, color=WARM, opacity=1)
        panels.append(
            alt.layer(
                base.mark_line(color=DARK, clip=True),
                base.mark_point(filled=True, size=22, color=DARK, opacity=1, clip=True),
                point.encode(x="x:Q", y="y:Q"),
            ).properties(width=118, height=90)
        )
    chart = alt.vconcat(alt.hconcat(*panels[:2]), alt.hconcat(*panels[2:]))
    said = "; ".join(
        f"{name} {values.min():.0f} to {values.max():.0f}: {litres.min():.2f} to {litres.max():.2f} L a day per m2 of aperture"
        for name, (values, litres) in wanted.slices.items()
    )
    return Figure(
        f"{key}_wanted_slices",
        f"{place}: L a day per m² of aperture with one number moved at a time; brown: what was found",
        f"Four panels. {said}.",
        _finished(chart),
    )
