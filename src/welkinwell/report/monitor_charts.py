"""Charts of a monitored device: performance ratio by day, what explains the gap, and the weeks ahead."""

from __future__ import annotations

from typing import Any

import numpy as np

from welkinwell.report import charts
from welkinwell.studies.monitor import Monitored


def ratio_by_day(found: Monitored) -> charts.Figure:
    """Litres measured over litres of the model by day, its mean of seven days, and the heaviest explanation."""
    import altair as alt

    ratio = found.by_day
    with np.errstate(invalid="ignore", divide="ignore"):
        explained = np.where(np.isfinite(ratio), found.explained / found.expected, np.nan)
    dates = [found.log.date(i).isoformat() for i in range(found.log.days)]
    points: list[dict[str, Any]] = [
        {"date": dates[i], "ratio": float(ratio[i])} for i in np.flatnonzero(np.isfinite(ratio))
    ]
    top = max([1.3, *(point["ratio"] * 1.05 for point in points)])
    lines: list[dict[str, Any]] = [
        {"date": date, "ratio": 1.0, "what": "the model as built"} for date in dates
    ]
    what = ["the model as built"]
    if found.blamed is not None:
        name = found.blamed.name.split(":")[0].lower()
        what.append(f"the model with: {name}")
        lines += [
            {"date": dates[i], "ratio": float(explained[i]), "what": what[1]}
            for i in np.flatnonzero(np.isfinite(explained))
        ]
    x = alt.X("date:T", title=None, axis=alt.Axis(format="%d %b", grid=False, tickCount=8))
    y = alt.Y(
        "ratio:Q", title="litres, measured / modelled", scale=alt.Scale(domain=[0, min(top, 2.5)], clamp=True)
    )
    dots = alt.Chart(charts._data(points)).mark_point(
        filled=True, size=34, color=charts.LIGHT, opacity=1
    ).encode(x=x, y=y)  # fmt: skip
    drawn = alt.Chart(charts._data(lines)).mark_line(strokeWidth=2).encode(
        x=x, y=y,
        color=alt.Color("what:N", sort=what, title=None, legend=alt.Legend(orient="top", labelLimit=500),
                        scale=alt.Scale(domain=what, range=[charts.INK, charts.WARM][: len(what)])),
        strokeDash=alt.StrokeDash("what:N", sort=what, legend=None,
                                  scale=alt.Scale(domain=what, range=[[5, 3], [1, 0]][: len(what)])),
    )  # fmt: skip
    chart = alt.layer(drawn, dots).properties(width=charts.WIDE - 80, height=210)
    low, high = (float(np.nanquantile(ratio, q)) for q in (0.1, 0.9))
    return charts.Figure(
        "ratio_by_day",
        "How the device does by day: litres measured over litres that its model gives for the same day (dots)",
        f"Dots for {len(points)} days; the middle 80 % of them lie between {low:.2f} and {high:.2f}, all together make "
        f"{found.ratio:.2f}.",
        charts._finished(chart),
    )


def weights(found: Monitored) -> charts.Figure:
    """Weight of each explanation in %."""
    entries = [("weight", one.name, round(100.0 * one.weight, 1)) for one in found.explanations]
    return charts.account_bars(
        "weights", "How much weight each explanation carries, one at a time, %", "% of the weight", entries
    )


def weeks_ahead(found: Monitored) -> charts.Figure:
    """Litres of each week ahead in typical weather, with the band that holds 90 %, and those of a sound device."""
    import altair as alt

    rows: list[dict[str, Any]] = [
        {"week": f"{found.log.date(found.log.days + week.first):%d %b}", "litres": week.litres, "low": week.low,
         "high": week.high, "sound": week.sound}
        for week in found.weeks
    ]  # fmt: skip
    order = [row["week"] for row in rows]
    base = alt.Chart(charts._data(rows)).encode(
        x=alt.X("week:O", sort=order, title="week that begins on", axis=alt.Axis(labelAngle=0, grid=False))
    )
    bars = base.mark_bar(size=26, color=charts.LIGHT).encode(
        y=alt.Y("low:Q", title="L in the week", scale=alt.Scale(zero=True)), y2="high:Q"
    )
    ticks = base.mark_tick(color=charts.DARK, thickness=3, size=26).encode(y="litres:Q")
    sound = base.mark_point(filled=True, size=60, color=charts.INK, shape="diamond", opacity=1).encode(
        y="sound:Q"
    )
    chart = alt.layer(bars, ticks, sound).properties(width=charts.WIDE - 80, height=190)
    said = ", ".join(
        f"{row['week']} {row['litres']:.0f} ({row['low']:.0f} to {row['high']:.0f})" for row in rows
    )
    return charts.Figure(
        "weeks_ahead",
        "The weeks ahead in typical weather: bars hold 90 %, dark lines are the middle, diamonds a device that does as "
        "its model",
        f"Litres by week: {said}.",
        charts._finished(chart),
    )
