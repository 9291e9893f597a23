"""The charts of the reports, one definition each, and their drawing as SVG or PNG.

A chart is an Altair object, so that the same definition serves a notebook, a page and a file. Colours differ in
lightness and lines in their dashes, so that each chart reads in grey. Every figure carries its text alternative.
"""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.quantities import plain
from welkinwell.writing import write_bytes, write_text

Floats = NDArray[np.float64]

MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
# Built into the renderer, and metric twins of the other three: text takes the same room on every machine.
FONT: Final = "Liberation Sans, Arial, Helvetica, sans-serif"
LEGEND_LETTERS: Final = 100  # that fit beside each other above a chart
INK: Final = "#1d2b33"
FAINT: Final = "#5b6a72"
DARK, WARM, LIGHT, PALE = "#12385c", "#b4511d", "#4f9d97", "#c9d3d6"
SERIES: Final = (DARK, WARM, LIGHT, "#7d5a8c", "#8a8f2e", "#333333")
DASHES: Final = ([1, 0], [6, 3], [2, 2], [8, 3, 2, 3], [12, 3], [4, 1])
SHAPES: Final = ("circle", "square", "triangle-up", "diamond", "cross", "triangle-down")
# Lightness falls evenly from paper to ink in both, so that a grey print keeps the order.
WATER_RAMP: Final = ["#f3f5f3", "#a9c6d0", "#5c93a8", "#21597a", "#0b2a45"]
HEAT_RAMP: Final = ["#f6f1e7", "#e3b787", "#c0763f", "#833d1d", "#431a0c"]
WIDE: Final = 700
HALF: Final = 345
MAP_SCALE: Final = 2.0  # pixels of a PNG for each pixel of the page
# Whole pixels for each cell of 365 days by 24 hours: sharp, and a tenth of the size.
MAP_WIDTH, MAP_HEIGHT = 365 * 3 / MAP_SCALE, 24 * 16 / MAP_SCALE


@dataclass(frozen=True)
class Figure:
    """A chart with its caption and its text alternative.

    key: file name without ending; drawn as PNG where raster is true (many small cells), otherwise as SVG.
    """

    key: str
    caption: str
    alternative: str
    chart: Any
    raster: bool = False


@contextmanager
def quick_charts() -> Iterator[None]:
    """Make and draw charts without checking each against the schema, half of the time; the tests do check."""
    from altair.utils.schemapi import debug_mode

    with debug_mode(False):
        yield


def embedded(figure: Figure, folder: Path) -> str:
    """Draw a figure, leave it in the folder as a file, and return it as HTML that needs no other file."""
    import vl_convert

    spec = figure.chart.to_dict()
    if figure.raster:
        png = vl_convert.vegalite_to_png(spec, scale=MAP_SCALE)
        write_bytes(folder / f"{figure.key}.png", png)
        data = base64.b64encode(png).decode("ascii")
        width, height = (round(side / MAP_SCALE) for side in _png_size(png))
        return (
            f'<img src="data:image/png;base64,{data}" width="{width}" height="{height}" style="max-width:{width}px" '
            f'alt="{escape(figure.alternative)}">'
        )
    drawn = vl_convert.vegalite_to_svg(spec)
    described = _described(drawn, figure)
    write_text(folder / f"{figure.key}.svg", described)
    # Within HTML the namespaces are understood, and a page without any address is easily seen to ask for none.
    return re.sub(r' xmlns(:\w+)?="[^"]*"', "", described)


def _png_size(png: bytes) -> tuple[int, int]:
    """Width and height from the header of a PNG."""
    return int.from_bytes(png[16:20], "big"), int.from_bytes(png[20:24], "big")


def _described(svg: str, figure: Figure) -> str:
    """Give an SVG a title, a description, and names of its own for what it refers to."""
    svg = svg[svg.index("<svg") :]
    # The renderer counts its names through a process; ours are counted through the figure, so that the same
    # chart is always the same text and two charts in one page never share a name.
    names = list(dict.fromkeys(re.findall(r'\bid="([^"]+)"', svg)))
    ours = {name: f"{figure.key}-{number}" for number, name in enumerate(names)}
    svg = re.sub(r'(\bid="|url\(#)([^")]+)', lambda found: found[1] + ours.get(found[2], found[2]), svg)
    size = re.search(r'width="([\d.]+)" height="([\d.]+)"', svg)
    style = f' style="max-width:{float(size.group(1)):.0f}px"' if size else ""
    title, words = f"{figure.key}-title", f"{figure.key}-words"
    opening = f'<svg role="img" aria-labelledby="{title}" aria-describedby="{words}"{style}'
    head_end = svg.index(">") + 1
    head = svg[:head_end].replace("<svg", opening, 1).replace(' class="marks"', "")
    labels = (
        f'<title id="{title}">{escape(figure.caption)}</title>'
        f'<desc id="{words}">{escape(figure.alternative)}</desc>'
    )
    spoken = r' aria-(?!labelledby|describedby)[a-z]+="[^"]*"'
    # One picture with one text: what the renderer says of single marks would be read out mark by mark
    silent = re.sub(rf'{spoken}| role="graphics-[a-z]+"', "", svg[head_end:])
    return re.sub(spoken, "", head) + labels + silent


def litres_of_harvesters(names: Sequence[str], by_month: Sequence[Floats], demand: Floats) -> Figure:
    """Litres a day collected in each month by every harvester of a case, with the demand [L/day]."""
    import altair as alt

    rows = [
        {"month": MONTHS[m], "litres": float(values[m]), "harvester": name}
        for name, values in zip(names, by_month, strict=True)
        for m in range(12)
    ]
    base = alt.Chart(_data(rows)).encode(
        x=_month_axis(),
        y=alt.Y("litres:Q", title="L/day", scale=alt.Scale(zero=True)),
        color=_colours("harvester", names),
    )
    lines = base.mark_line(strokeWidth=2).encode(
        strokeDash=alt.StrokeDash(
            "harvester:N", sort=list(names), scale=alt.Scale(domain=list(names), range=_first(DASHES, names))
        )
    )
    points = base.mark_point(size=45, filled=True, opacity=1).encode(
        shape=alt.Shape(
            "harvester:N", sort=list(names), scale=alt.Scale(domain=list(names), range=_first(SHAPES, names))
        )
    )
    chart = alt.layer(*_demand_line(demand), lines, points).properties(width=WIDE - 80, height=165)
    said = "; ".join(
        f"{name}: from {values.min():.1f} in {MONTHS[int(values.argmin())]} to {values.max():.1f} in "
        f"{MONTHS[int(values.argmax())]}"
        for name, values in zip(names, by_month, strict=True)
    )
    return Figure(
        "litres_of_harvesters",
        "Litres a day collected in each month, all modules",
        f"Lines by month. {said} L/day. {_demand_words(demand)}",
        _finished(chart),
    )


def litres_by_month(key: str, collected: Floats, delivered: Floats, demand: Floats) -> Figure:
    """Litres a day in each month: bars collected, diamonds delivered, line asked for [L/day]."""
    import altair as alt

    rows = [
        {"month": MONTHS[m], "kind": kind, "litres": float(values[m])}
        for kind, values in (("collected", collected), ("delivered", delivered))
        for m in range(12)
    ]
    kinds = ["collected", "delivered"]
    legend = alt.Legend(orient="top", title=None, symbolSize=130)
    base = alt.Chart(_data(rows)).encode(
        x=_month_axis(),
        y=alt.Y("litres:Q", title="L/day"),
        color=alt.Color("kind:N", scale=alt.Scale(domain=kinds, range=[LIGHT, INK]), legend=legend),
        shape=alt.Shape("kind:N", scale=alt.Scale(domain=kinds, range=["square", "diamond"]), legend=legend),
    )
    bars = base.transform_filter("datum.kind == 'collected'").mark_bar(size=32)
    marks = base.transform_filter("datum.kind == 'delivered'").mark_point(
        filled=True, size=90, stroke="white", strokeWidth=1, opacity=1
    )
    chart = alt.layer(bars, *_demand_line(demand), marks).properties(width=WIDE - 80, height=180)
    said = ", ".join(f"{MONTHS[m]} {collected[m]:.1f}" for m in range(12))
    return Figure(
        f"{key}_litres_by_month",
        "Litres a day by month: bars collected, diamonds delivered, dashed line asked for",
        f"Collected, in L/day: {said}. {_demand_words(demand)}",
        _finished(chart),
    )


def litres_by_hour_and_day(key: str, litres: Floats, first_hour: float) -> Figure:
    """Litres collected in each hour of each day, shape (days, 24) [L]; first_hour: clock at column 0 [h]."""
    import altair as alt

    days, hours = np.meshgrid(np.arange(litres.shape[0]), np.arange(24), indexing="ij")
    start = (hours + first_hour) % 24
    rows = [
        {
            "d": int(d),
            "d2": int(d) + 1,
            "h": float(h),
            "h2": min(float(h) + 1.0, 24.0),
            "v": round(float(v), 4),
        }
        for d, h, v in zip(days.ravel(), start.ravel(), litres.ravel(), strict=True)
        if v > 0.0  # the paper of the map stands for no water
    ]
    largest = max(float(litres.max()), 0.0)
    chart = (
        alt.Chart(_data(rows))
        .mark_rect(stroke=None)
        .encode(
            x=alt.X(
                "d:Q",
                title=None,
                scale=alt.Scale(domain=[0, 365], nice=False),
                axis=_day_axis(),
            ),
            x2="d2:Q",
            y=alt.Y(
                "h:Q",
                title="hour of the local standard day",
                scale=alt.Scale(domain=[0, 24], nice=False),
                axis=alt.Axis(values=[0, 6, 12, 18, 24], grid=False),
            ),
            y2="h2:Q",
            color=alt.Color(
                "v:Q",
                title="L in the hour",
                scale=alt.Scale(range=WATER_RAMP, interpolate="lab", domain=[0, largest or 1.0]),
            ),
        )
        .properties(width=MAP_WIDTH, height=MAP_HEIGHT, view=alt.ViewConfig(fill=WATER_RAMP[0]))
    )
    mean = litres.mean(axis=0)
    peak = (int(mean.argmax()) + first_hour) % 24
    said = (
        f"Most water runs off in the hour from {_clock(peak)}; the largest hour of the year gives {largest:.2f} L."
        if largest > 0.0
        else "No water in any hour."
    )
    return Figure(
        f"{key}_hours", "Litres collected in each hour of the year, all modules", f"A map of days and hours. {said}",
        _finished(chart), raster=True,
    )  # fmt: skip


@dataclass(frozen=True)
class DaySeries:
    """One day in detail, hour by hour from the noon before.

    hour: end of each hour, relative to midnight [h]; means: names of the series that are means or sums over
    the hour and stand at its middle; the others are values at the hour's end. temperatures, water: series by
    name [degC], [g/m2 in the hour]; loading [kg/kg], None without a sorbent; sun [W/m2]; open_hours: (start,
    end) of the spans in which the device is open.
    """

    title: str
    hour: Floats
    temperatures: dict[str, Floats]
    loading: Floats | None
    water: dict[str, Floats]
    sun: Floats
    open_hours: list[tuple[float, float]]
    means: tuple[str, ...] = ("air", "dew point", "sun", "taken up", "condensed", "collected")


@dataclass(frozen=True)
class DayScales:
    """The common ends of the axes of several days, so that they compare at a glance."""

    temperature: tuple[float, float]
    loading: float
    water: float
    sun: float


def day_in_detail(key: str, day: DaySeries, scales: DayScales) -> Figure:
    """Sun, temperatures, loading and water of one day, under each other."""
    import altair as alt

    sun = _day_lines(day, {"sun": day.sun}, "Sun on the device, W/m²", (0.0, scales.sun), 60)
    heat = _day_lines(day, day.temperatures, "Temperature, °C", scales.temperature, 150)
    panels = [sun, heat]
    if day.loading is not None:
        panels.append(
            _day_lines(
                day, {"loading": day.loading}, "Water in the sorbent, kg/kg dry", (0.0, scales.loading), 70
            )
        )
    panels.append(_day_lines(day, day.water, "Water, g/m² in the hour", (0.0, scales.water), 110, last=True))
    chart = alt.vconcat(*panels, spacing=8).resolve_scale(color="independent", strokeDash="independent")
    said = [
        f"the {name} from {values.min():.0f} to {values.max():.0f} °C"
        for name, values in day.temperatures.items()
        if name not in day.means
    ]
    swing = ""
    if day.loading is not None:
        swing = f" the loading goes from {day.loading.max():.2f} down to {day.loading.min():.2f} kg/kg;"
    collected = float(np.sum(day.water["collected"][-24:]))
    return Figure(
        key,
        day.title,
        f"{'Four' if day.loading is not None else 'Three'} panels on one time axis from noon of the day before to the "
        f"end of the day. Temperatures: {', '.join(said)};{swing} {collected:.0f} g/m² of water are collected on the day.",
        _finished(chart),
    )


def _day_lines(
    day: DaySeries,
    series: dict[str, Floats],
    title: str,
    ends: tuple[float, float],
    height: int,
    last: bool = False,
) -> Any:
    """One panel of a day: lines over grey spans in which the box is open."""
    import altair as alt

    names = list(series)
    rows = [
        {"hour": float(h), "value": round(float(v), 5), "series": name}
        for name, values in series.items()
        for h, v in zip(day.hour - (0.5 if name in day.means else 0.0), values, strict=True)
    ]
    axis = alt.Axis(
        values=[-12, -6, 0, 6, 12, 18, 24],
        labelExpr="(datum.value + 24) % 24",
        labels=last,
        ticks=last,
        grid=True,
    )
    x = alt.X(
        "hour:Q",
        title="hour of the local standard day; grey: open to the air" if last else None,
        scale=alt.Scale(domain=[-12, 24], nice=False),
        axis=axis,
    )
    several = len(names) > 1
    style = alt.Legend(title=None, orient="top", columns=5, symbolSize=220) if several else None
    lines = (
        alt.Chart(_data(rows))
        .mark_line(strokeWidth=1.8, clip=True)
        .encode(
            x=x,
            y=alt.Y(
                "value:Q",
                title=None,
                scale=alt.Scale(domain=list(ends), nice=False),
                axis=alt.Axis(tickCount=height // 28, minExtent=34),
            ),
            color=alt.Color(
                "series:N",
                sort=names,
                scale=alt.Scale(domain=names, range=_first(SERIES, names)),
                legend=style,
            ),
            strokeDash=alt.StrokeDash(
                "series:N",
                sort=names,
                scale=alt.Scale(domain=names, range=_first(DASHES, names)),
                legend=style,
            ),
        )
    )
    spans = _data([{"a": a, "b": b} for a, b in day.open_hours])
    grey = (
        alt.Chart(spans)
        .mark_rect(color="#e4e8ea", clip=True)
        .encode(x=alt.X("a:Q", scale=alt.Scale(domain=[-12, 24], nice=False)), x2="b:Q")
    )
    heading = alt.TitleParams(title, anchor="start", fontSize=12, fontWeight="normal", color=INK, offset=4)
    return alt.layer(grey, lines).properties(width=HALF - 10, height=height, title=heading)


def account_bars(
    key: str,
    caption: str,
    unit: str,
    entries: Sequence[tuple[str, str, float]],
    sides: Sequence[str] = (),
) -> Figure:
    """Bars of an account: (side, name, amount), in the order given; sides: their order, if not that."""
    import altair as alt

    sides = list(sides) or list(dict.fromkeys(side for side, _, _ in entries))
    rows = [
        {
            "side": side,
            "name": name,
            "amount": float(amount),
            "text": _short(amount),
            "right": max(amount, 0.0),
        }
        for side, name, amount in entries
    ]
    lowest = min((float(amount) for _, _, amount in entries), default=0.0)
    names = [name for _, name, _ in entries]
    base = alt.Chart(_data(rows)).encode(
        y=alt.Y(
            "name:N",
            sort=names,
            title=None,
            axis=alt.Axis(labelLimit=320, ticks=False, domain=False, labelPadding=7),
        ),
        x=alt.X("amount:Q", title=unit, scale=alt.Scale(zero=True, domainMin=min(lowest, 0.0), nice=True)),
    )
    bars = base.mark_bar(height=14).encode(
        color=alt.Color(
            "side:N",
            sort=sides,
            scale=alt.Scale(domain=sides, range=_first((LIGHT, DARK, WARM, PALE), sides)),
            legend=alt.Legend(title=None, orient="top") if len(sides) > 1 else None,
        )
    )
    labels = base.mark_text(align="left", dx=4, color=INK).encode(x="right:Q", text="text:N")
    chart = alt.layer(bars, labels).properties(width=WIDE - 260, height=22 * len(rows))
    said = "; ".join(
        f"{side + ': ' if len(sides) > 1 else ''}{name} {_short(x)}" for side, name, x in entries
    )
    return Figure(key, caption, f"Bars, in {unit}. {said}.", _finished(chart))


def loading_through_the_layer(key: str, profile: dict[str, Sequence[float]], thickness: float) -> Figure:
    """Loading from the carrier to the open face at the fullest and the emptiest hour of the day [kg/kg].

    thickness: of the layer from its carrier to an open face [mm].
    """
    import altair as alt

    names = {"fullest": "fullest hour of the day", "emptiest": "emptiest hour of the day"}
    rows = [
        {
            "depth": round((i + 0.5) * thickness / len(values), 4),
            "loading": round(value, 5),
            "hour": names[hour],
        }
        for hour, values in profile.items()
        for i, value in enumerate(values)
    ]
    lines = (
        alt.Chart(_data(rows))
        .mark_line(strokeWidth=2, point=alt.OverlayMarkDef(size=22))
        .encode(
            x=alt.X(
                "depth:Q",
                title="mm from the carrier (left) to the open face (right)",
                scale=alt.Scale(domain=[0, thickness], nice=False),
            ),
            y=alt.Y("loading:Q", title="Water in the sorbent, kg/kg dry", scale=alt.Scale(zero=True)),
            color=_colours("hour", list(names.values())),
        )
    )
    full, empty = profile["fullest"], profile["emptiest"]
    return Figure(
        f"{key}_layer",
        "Water through the sorbent layer, mean of all days",
        f"Two lines from the carrier to the open face of a layer of {thickness:g} mm. Fullest hour: from {full[0]:.3f} "
        f"to {full[-1]:.3f} kg/kg; emptiest hour: from {empty[0]:.3f} to {empty[-1]:.3f} kg/kg.",
        _finished(lines.properties(width=WIDE, height=170)),
    )


def tank_through_the_year(key: str, stored: Floats, missing: Floats, volume: float) -> Figure:
    """Litres in the tank at the end of each day, and days on which the demand was not met [L]."""
    import altair as alt

    rows = [
        {"day": d + 0.5, "stored": round(float(s), 2), "missing": round(float(m), 3)}
        for d, (s, m) in enumerate(zip(stored, missing, strict=True))
    ]
    x = alt.X("day:Q", title=None, scale=alt.Scale(domain=[0, 365], nice=False), axis=_day_axis())
    data = _data(rows)
    area = (
        alt.Chart(data)
        .mark_area(color=PALE, line={"color": DARK, "strokeWidth": 1.5})
        .encode(
            x=x, y=alt.Y("stored:Q", title="L in the tank", scale=alt.Scale(domain=[0, volume], nice=False))
        )
    )
    full = alt.Chart(_data([{"v": volume}])).mark_rule(strokeDash=[4, 3], color=FAINT).encode(y="v:Q")
    short = (
        alt.Chart(data)
        .transform_filter("datum.missing > 1e-9")
        .mark_tick(color=WARM, thickness=1.5, size=14, orient="vertical")
        .encode(x=x, y=alt.value(147))
    )
    chart = alt.layer(area, full, short).properties(width=WIDE, height=155)
    count = int(np.sum(missing > 1e-9))
    return Figure(
        f"{key}_tank",
        "Water in the tank at the end of each day"
        + ("; brown ticks: days on which the demand was not met" if count else ""),
        f"From {stored.min():.0f} to {stored.max():.0f} L of {volume:.0f} L; the demand is not met on {count} days.",
        _finished(chart),
    )


def modules_against_tank(
    key: str, modules: Any, volumes: dict[float, Floats], own_modules: int, own_tank: float | None
) -> Figure:
    """The least tank for each number of modules and share of days met [L], and the plant as it is."""
    import altair as alt

    names = {share: f"{100 * share:g} % of days" for share in volumes}
    rows = [
        {"modules": int(count), "tank": round(float(volume), 1), "share": names[share]}
        for share, column in volumes.items()
        for count, volume in zip(modules, column, strict=True)
        if np.isfinite(volume)
    ]
    shown = list(names.values())
    base = alt.Chart(_data(rows)).encode(
        x=alt.X(
            "modules:Q",
            title="modules",
            scale=alt.Scale(zero=False, nice=True),
            axis=alt.Axis(values=sorted({int(count) for count in modules}), format="d"),
        ),
        y=alt.Y(
            "tank:Q",
            title="tank above its tap, L",
            scale=alt.Scale(type="log", nice=False),
            axis=alt.Axis(
                values=_round_steps(
                    [*(float(v) for c in volumes.values() for v in c if np.isfinite(v)), own_tank or 0.0]
                ),
                format="~s",
            ),
        ),
        color=_colours("share", shown),
    )
    lines = base.mark_line(strokeWidth=2).encode(
        strokeDash=alt.StrokeDash(
            "share:N", sort=shown, scale=alt.Scale(domain=shown, range=_first(DASHES, shown)), legend=None
        )
    )
    points = base.mark_point(size=40, filled=True, opacity=1)
    layers = [lines, points]
    if own_tank is not None:
        here = _data([{"modules": own_modules, "tank": own_tank, "text": "as drawn"}])
        mark = alt.Chart(here).encode(x="modules:Q", y="tank:Q")
        layers.append(mark.mark_point(shape="cross", size=150, filled=True, color=INK, opacity=1))
        layers.append(mark.mark_text(align="left", dx=10, color=INK).encode(text="text:N"))
    chart = alt.layer(*layers).properties(width=WIDE - 80, height=200)
    said = "; ".join(
        f"for {names[share]}: "
        + (
            ", ".join(
                f"{int(n)} modules {v:.0f} L" for n, v in zip(modules, column, strict=True) if np.isfinite(v)
            )
            or "no number that was tried"
        )
        for share, column in volumes.items()
    )
    drawn = "" if own_tank is None else f" As drawn: {own_modules} modules and {own_tank:.0f} L."
    return Figure(
        f"{key}_modules_and_tank",
        "Modules against tank: what together meets a share of the days (yield after spillage)",
        f"Lines by number of modules. {said}.{drawn}",
        _finished(chart),
    )


def modules_and_battery(
    key: str, curves: dict[float, tuple[Floats, Floats]], own: tuple[float, float], drawn: bool
) -> Figure:
    """Area of solar modules [m2] against battery [kWh] for shares of energy unserved, and the pair taken."""
    import altair as alt

    names = {share: f"{100 * share:g} % unserved" for share in curves}
    rows = [
        {"area": float(area), "battery": max(float(battery), 1e-3), "share": names[share]}
        for share, (areas, batteries) in curves.items()
        for area, battery in zip(areas, batteries, strict=True)
        if np.isfinite(battery)
    ]
    shown = list(names.values())
    log = alt.Scale(type="log", nice=False)
    ticks = _round_steps([*(float(b) for _, column in curves.values() for b in column if b > 0.0), own[1]])
    areas = _round_steps([*(float(a) for column, _ in curves.values() for a in column), own[0]])
    base = alt.Chart(_data(rows)).encode(
        x=alt.X("area:Q", title="solar modules, m²", scale=log, axis=alt.Axis(values=areas, format="~g")),
        y=alt.Y("battery:Q", title="battery, kWh", scale=log, axis=alt.Axis(values=ticks, format="~g")),
        color=_colours("share", shown),
    )
    lines = base.mark_line(strokeWidth=2).encode(
        strokeDash=alt.StrokeDash(
            "share:N", sort=shown, scale=alt.Scale(domain=shown, range=_first(DASHES, shown)), legend=None
        )
    )
    layers = [lines, base.mark_point(size=30, filled=True, opacity=1)]
    if own[0] > 0.0 and own[1] > 0.0:
        words = "as drawn" if drawn else "taken"
        mark = alt.Chart(_data([{"area": own[0], "battery": own[1], "text": words}])).encode(
            x="area:Q", y="battery:Q"
        )
        layers.append(mark.mark_point(shape="cross", size=150, filled=True, color=INK, opacity=1))
        # below and left of the mark: the curves fall from top left to bottom right, so that corner is empty
        layers.append(
            mark.mark_text(align="right", dx=-9, dy=12, color=INK, fontWeight="bold").encode(text="text:N")
        )
    chart = alt.layer(*layers).properties(width=WIDE - 80, height=220)
    said = "; ".join(
        f"{names[share]}: "
        + (
            ", ".join(
                f"{plain(a)} m² {plain(b)} kWh"
                for a, b in zip(areas_, batteries, strict=True)
                if np.isfinite(b)
            )
            or "no pair that was tried"
        )
        for share, (areas_, batteries) in curves.items()
    )
    return Figure(
        f"{key}_modules_and_battery",
        "Solar modules against battery: what together leaves no more than a share of the energy unserved",
        f"Lines by area, both scales logarithmic. {said}. Taken: {plain(own[0])} m² and {plain(own[1])} kWh.",
        _finished(chart),
    )


def unserved_by_month(key: str, unserved: Floats, asked: Floats) -> Figure:
    """Electricity asked for and missing in each month [kWh]."""
    import altair as alt

    rows = [
        {"month": month, "kwh": float(value), "what": what}
        for what, values in (("served", asked - unserved), ("missing", unserved))
        for month, value in zip(MONTHS, values, strict=True)
    ]
    names = ["served", "missing"]
    colour = alt.Color(
        "what:N",
        sort=names,
        title=None,
        scale=alt.Scale(domain=names, range=[PALE, WARM]),
        legend=alt.Legend(orient="top", symbolSize=90, symbolStrokeWidth=0),
    )
    bars = (
        alt.Chart(_data(rows))
        .mark_bar()
        .encode(
            x=_month_axis(),
            y=alt.Y("kwh:Q", title="kWh in the month"),
            color=colour,
            order=alt.Order("what:N", sort="descending"),
        )
    )
    said = ", ".join(
        f"{month} {plain(x)} of {plain(a)}" for month, x, a in zip(MONTHS, unserved, asked, strict=True)
    )
    return Figure(
        f"{key}_unserved",
        "Electricity that sun and battery serve, and that is missing",
        f"Bars by month, kWh missing of kWh asked for: {said}.",
        _finished(bars.properties(width=WIDE - 80, height=140)),
    )


def _round_steps(values: Sequence[float]) -> list[float]:
    """Ticks 1, 2, 5 in every ten that hold the positive values."""
    positive = [value for value in values if value > 0.0] or [1.0]
    low, high = int(np.floor(np.log10(min(positive)))), int(np.ceil(np.log10(max(positive))))
    return [step * 10.0**power for power in range(low, high + 1) for step in (1.0, 2.0, 5.0)]


def prices_on_one_scale(
    key: str, currency: str, entries: Sequence[tuple[str, float, float, float, bool]]
) -> Figure:
    """Prices a litre with their ranges on one logarithmic scale: (name, low, central, high, ours)."""
    import altair as alt

    from welkinwell.supply.verdict import money

    least = 1e-5
    rows = [
        {"name": name, "low": max(low, least), "central": max(central, least), "high": max(high, least),
         "ours": ours, "text": money(central)}
        for name, low, central, high, ours in entries
    ]  # fmt: skip
    names = [str(row["name"]) for row in rows]
    y = alt.Y("name:N", sort=names, title=None, axis=alt.Axis(labelLimit=320, ticks=False, domain=False))
    scale = alt.Scale(type="log", nice=True)
    base = alt.Chart(_data(rows)).encode(
        y=y, color=alt.condition("datum.ours", alt.value(WARM), alt.value(DARK))
    )
    title = f"{currency} a litre, each line ten times the last"
    decades = [10.0**power for power in range(-5, 6)]
    spans = base.mark_rule(strokeWidth=5, opacity=0.35).encode(
        x=alt.X("low:Q", title=title, scale=scale, axis=alt.Axis(values=decades, format="~g")), x2="high:Q"
    )
    dots = base.mark_point(filled=True, size=80, opacity=1).encode(x=alt.X("central:Q", scale=scale))
    labels = base.mark_text(align="left", dx=7, dy=-9).encode(
        x=alt.X("central:Q", scale=scale), text="text:N"
    )
    chart = alt.layer(spans, dots, labels).properties(width=WIDE - 200, height=30 * len(rows))
    said = "; ".join(
        f"{name} {money(central)} ({money(low)} to {money(high)})" for name, low, central, high, _ in entries
    )
    return Figure(
        key,
        "A litre of this plant beside other water: central price and range",
        f"Dots on bars, in {currency} a litre, logarithmic. {said}.",
        _finished(chart),
    )


def gains_when_relaxed(key: str, entries: Sequence[tuple[str, str, float]]) -> Figure:
    """What each easing would add: (what, how, L/day), in the order given."""
    import altair as alt

    rows = [
        {
            "name": f"{what}: {how}",
            "gain": float(gain),
            "text": _signed(gain),
            "right": max(float(gain), 0.0),
        }
        for what, how, gain in entries
    ]
    names = [str(row["name"]) for row in rows]
    amounts = [gain for _, _, gain in entries]
    low, high = min(0.0, *amounts), max(0.1, *amounts)
    base = alt.Chart(_data(rows)).encode(
        y=alt.Y(
            "name:N",
            sort=names,
            title=None,
            axis=alt.Axis(labelLimit=430, ticks=False, domain=False, labelPadding=7),
        ),
        x=alt.X(
            "gain:Q",
            title="gain, L/day",
            scale=alt.Scale(domain=[low, high], nice=False),
            axis=alt.Axis(tickCount=5),
        ),
    )
    labels = base.mark_text(align="left", dx=4, color=INK).encode(x="right:Q", text="text:N")
    chart = alt.layer(base.mark_bar(height=14, color=DARK), labels).properties(
        width=WIDE - 330, height=22 * len(rows)
    )
    said = "; ".join(f"{what} ({how}) {_signed(gain)}" for what, how, gain in entries)
    return Figure(
        f"{key}_gains",
        "Litres a day gained when one thing at a time is made easier",
        f"Bars, in L/day. {said}.",
        _finished(chart),
    )


def month_and_hour_map(key: str, caption: str, unit: str, table: Floats, ramp: Sequence[str]) -> Figure:
    """A quantity by month and hour of the local standard day, shape (12, 24)."""
    import altair as alt

    rows = [
        # A hair too large: the next cell covers it, so that no paper shows between cells.
        {"m": m, "m2": m + 1.05, "h": h, "h2": h + 1.05, "v": round(float(table[m, h]), 4)}
        for m in range(12)
        for h in range(24)
        if np.isfinite(table[m, h])
    ]
    names = " : ".join(f"datum.value < {m + 1} ? '{name}'" for m, name in enumerate(MONTHS))
    chart = (
        alt.Chart(_data(rows))
        .mark_rect(clip=True)
        .encode(
            x=alt.X(
                "h:Q",
                title="hour of the local standard day",
                scale=alt.Scale(domain=[0, 24], nice=False),
                axis=alt.Axis(values=[0, 6, 12, 18, 24], grid=False),
            ),
            x2="h2:Q",
            y=alt.Y(
                "m:Q",
                title=None,
                scale=alt.Scale(domain=[0, 12], nice=False, reverse=True),
                axis=alt.Axis(
                    values=[m + 0.5 for m in range(12)], labelExpr=f"{names} : ''", grid=False, ticks=False
                ),
            ),
            y2="m2:Q",
            color=alt.Color(
                "v:Q",
                title=unit,
                scale=alt.Scale(range=list(ramp), interpolate="lab", zero=False),
                legend=alt.Legend(type="gradient", orient="right", gradientLength=150),
            ),
        )
        .properties(width=HALF - 95, height=216)
    )
    low, high = (
        np.unravel_index(np.nanargmin(table), table.shape),
        np.unravel_index(np.nanargmax(table), table.shape),
    )
    said = (
        f"Lowest {plain(table[low])} {unit} in {MONTHS[int(low[0])]} at {_clock(int(low[1]))}, highest "
        f"{plain(table[high])} {unit} in {MONTHS[int(high[0])]} at {_clock(int(high[1]))}."
    )
    return Figure(key, caption, f"A map of months and hours. {said}", _finished(chart))


def lines_by_month(key: str, caption: str, unit: str, series: dict[str, Floats]) -> Figure:
    """A few quantities of one unit by month."""
    import altair as alt

    names = list(series)
    rows = [
        {"month": MONTHS[m], "value": float(values[m]), "series": name}
        for name, values in series.items()
        for m in range(12)
        if np.isfinite(values[m])
    ]
    base = alt.Chart(_data(rows)).encode(
        x=_month_axis(), y=alt.Y("value:Q", title=unit, scale=alt.Scale(zero=True))
    )
    legend = alt.Legend(title=None, orient="top", columns=1, symbolSize=200, labelLimit=320)
    domain: dict[str, Any] = {"sort": names, "legend": legend}
    encoded = base.encode(
        color=alt.Color("series:N", scale=alt.Scale(domain=names, range=_first(SERIES, names)), **domain),
        strokeDash=alt.StrokeDash(
            "series:N", scale=alt.Scale(domain=names, range=_first(DASHES, names)), **domain
        ),
    )
    chart = encoded.mark_line(strokeWidth=2).properties(width=HALF - 30, height=160)
    said = "; ".join(
        f"{name}: {np.nanmin(values):.3g} to {np.nanmax(values):.3g}"
        for name, values in series.items()
        if np.isfinite(values).any()
    )
    return Figure(key, caption, f"Lines by month, in {unit}. {said}.", _finished(chart))


def _data(rows: list[dict[str, Any]]) -> Any:
    """Rows as one JSON text: Altair copies a chart's data many times, and a text costs nothing to copy."""
    import altair as alt

    return alt.Data(values=json.dumps(rows), format=alt.DataFormat(type="json"))


def _month_axis() -> Any:
    import altair as alt

    return alt.X("month:O", sort=list(MONTHS), title=None, axis=alt.Axis(labelAngle=0, grid=False))


def _day_axis() -> Any:
    """Months written at the middle of their days."""
    import altair as alt

    ends = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])
    cases = " : ".join(f"datum.value < {e + 20} ? '{m}'" for e, m in zip(ends[:-1], MONTHS, strict=False))
    return alt.Axis(values=[int(e) + 15 for e in ends], labelExpr=f"{cases} : 'Dec'", ticks=False, grid=False)


def _demand_line(demand: Floats) -> list[Any]:
    """A line across for an even demand, a dash over each month for one that changes; by month [L/day]."""
    import altair as alt

    low, high = float(np.min(demand)), float(np.max(demand))
    if high <= 0.0:  # nothing is asked for
        return []
    text = alt.Chart(_data([{"demand": float(demand[-1]), "text": f"asked for: {_asked(demand)}"}]))
    label = text.mark_text(align="left", dx=5, color=INK).encode(
        x=alt.value(WIDE - 80), y="demand:Q", text="text:N"
    )
    if high - low <= 1e-9 * high:
        line = alt.Chart(_data([{"demand": high}])).mark_rule(strokeDash=[5, 4], color=INK, strokeWidth=1.3)
        return [line.encode(y="demand:Q"), label]
    rows = [{"month": month, "demand": float(x)} for month, x in zip(MONTHS, demand, strict=True)]
    ticks = alt.Chart(_data(rows)).mark_tick(orient="horizontal", size=46, thickness=1.6, color=INK)
    return [ticks.encode(x=_month_axis(), y="demand:Q"), label]


def _asked(demand: Floats) -> str:
    low, high = float(np.min(demand)), float(np.max(demand))
    return _litres(high) if high - low <= 1e-9 * high else f"{_litres(low)} to {_litres(high)}"


def _litres(value: float) -> str:
    return f"{value:,.0f}" if value >= 1000.0 else f"{round(value, 1):g}"


def _demand_words(demand: Floats) -> str:
    return f"The demand is {_asked(demand)} L/day." if float(np.max(demand)) > 0.0 else ""


def _colours(field: str, names: Sequence[str]) -> Any:
    import altair as alt

    return alt.Color(
        f"{field}:N",
        sort=list(names),
        title=None,
        scale=alt.Scale(domain=list(names), range=_first(SERIES, names)),
        legend=alt.Legend(
            orient="top",
            symbolSize=90,
            symbolStrokeWidth=0,
            labelLimit=300,
            columns=max(1, LEGEND_LETTERS // max(len(name) for name in names)),
        )
        if len(names) > 1
        else None,
    )


def _first(options: Sequence[Any], names: Sequence[str]) -> list[Any]:
    """As many options as names, starting over when they run out."""
    return [options[i % len(options)] for i in range(len(names))]


def _finished(chart: Any) -> Any:
    """Lay the house style over a chart; no requests, no animation, no labels for assistive tools inside."""
    return (
        chart.configure(font=FONT, background="white", aria=False, padding=4)
        .configure_view(stroke=None)
        .configure_axis(
            labelColor=INK, titleColor=INK, titleFontWeight="normal", labelFontSize=12, titleFontSize=12,
            gridColor="#e3e7e9", domainColor=FAINT, tickColor=FAINT,
        )
        .configure_legend(labelColor=INK, titleColor=INK, titleFontWeight="normal", labelFontSize=12,
                          titleFontSize=12)
        .configure_text(fontSize=12)
    )  # fmt: skip


def _clock(hour: float) -> str:
    minutes = round(hour * 60)
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"


def _signed(gain: float) -> str:
    return "0.0" if abs(gain) < 0.05 else f"{gain:+.1f}"


def _short(amount: float) -> str:
    return f"{amount:,.0f}" if abs(amount) >= 100.0 else f"{plain(amount)}"
