"""Charts of the studies: the loss ladder, draws, what the doubt is made of, fronts, and changes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from welkinwell.quantities import litres_on
from welkinwell.report import charts
from welkinwell.studies.bias import Carried
from welkinwell.studies.compare import Comparison
from welkinwell.studies.losses import LossLadder
from welkinwell.studies.optimise import Limits, Tried
from welkinwell.studies.reach import Reach
from welkinwell.studies.uncertainty import Draws
from welkinwell.studies.variance_shares import VarianceShares

Floats = NDArray[np.float64]
YEARS, LEFT = "weather year", "left over"
LONGEST_NAME = 26  # letters of a change beside its bar
GROUPS = ("sorbent", "heat and mass transfer", "weather", "upkeep")


def loss_waterfall(ladder: LossLadder, basis: str) -> charts.Figure:
    """From the ideal device down to delivered litres: bars that hang from each other."""
    import altair as alt

    rows: list[dict[str, Any]] = []
    names: list[str] = []

    def bar(name: str, low: float, high: float, kind: str, text: str) -> None:
        names.append(name)
        rows.append({"name": name, "a": min(low, high), "b": max(low, high), "kind": kind, "text": text})

    digits = 2 if ladder.ideal >= 1.0 else 3  # dew comes in hundredths of a litre
    bar("Without any of these losses", 0.0, ladder.ideal, "litres", f"{ladder.ideal:.{digits}f}")
    level = ladder.ideal
    for step in ladder.steps:
        below = level - step.in_sequence
        kind = "lost" if step.in_sequence >= 0.0 else "gained"
        bar(step.name, level, below, kind, f"{-step.in_sequence:+.{digits}f}")
        level = below
    bar("Collected", 0.0, ladder.collected, "litres", f"{ladder.collected:.{digits}f}")
    level = ladder.collected
    for name, loss in ladder.after:
        bar(name, level, level - loss, "lost", f"{-loss:+.{digits}f}")
        level -= loss
    bar("Delivered", 0.0, ladder.delivered, "litres", f"{ladder.delivered:.{digits}f}")
    kinds = ["litres", "lost", "gained"]
    y = alt.Y("name:N", sort=names, title=None, axis=alt.Axis(labelLimit=330, ticks=False, domain=False))
    base = alt.Chart(charts._data(rows)).encode(y=y)
    bars = base.mark_bar(height=15).encode(
        x=alt.X("a:Q", title=litres_on(basis, "²"), scale=alt.Scale(zero=True)),
        x2="b:Q",
        color=alt.Color(
            "kind:N", sort=kinds, title=None, legend=alt.Legend(orient="top"),
            scale=alt.Scale(domain=kinds, range=[charts.DARK, charts.WARM, charts.LIGHT]),
        ),
    )  # fmt: skip
    labels = base.mark_text(align="left", dx=5, color=charts.INK).encode(x="b:Q", text="text:N")
    chart = alt.layer(bars, labels).properties(width=charts.WIDE - 300, height=24 * len(rows))
    said = "; ".join(f"{step.name} {step.in_sequence:.2f}" for step in ladder.steps)
    return charts.Figure(
        "loss_ladder",
        "Where the litres go: losses switched on one after another, from the ideal device to people",
        f"A waterfall in {litres_on(basis)}, from {ladder.ideal:.2f} down to {ladder.collected:.2f} collected and "
        f"{ladder.delivered:.2f} delivered. Lost: {said}.",
        charts._finished(chart),
    )


def shares_of_losses(ladder: LossLadder, basis: str) -> charts.Figure:
    """Shapley shares of the losses, the largest first."""
    entries = sorted(ladder.steps, key=lambda step: -step.shapley)
    return charts.account_bars(
        "loss_shares",
        "What each loss takes when all orders count alike (Shapley shares; they add up)",
        litres_on(basis, "²"),
        [("loss", step.name, step.shapley) for step in entries],
    )


def draws_by_month(draws: Draws, now: Floats, basis: str) -> charts.Figure:
    """Litres by month: the band that holds 80 % of the draws, its middle, and the case as simulated."""
    import altair as alt

    low, middle, high = (np.nanquantile(draws.by_month, q, axis=0) for q in (0.1, 0.5, 0.9))
    rows = [
        {"month": charts.MONTHS[m], "low": float(low[m]), "middle": float(middle[m]), "high": float(high[m]),
         "now": float(now[m])}
        for m in range(12)
    ]  # fmt: skip
    base = alt.Chart(charts._data(rows)).encode(x=charts._month_axis())
    y = alt.Y("low:Q", title=litres_on(basis, "²"), scale=alt.Scale(zero=True))
    bars = base.mark_bar(size=30, color=charts.LIGHT).encode(y=y, y2="high:Q")
    ticks = base.mark_tick(color=charts.DARK, thickness=3, size=30).encode(y="middle:Q")
    points = base.mark_point(filled=True, size=60, color=charts.INK, shape="diamond", opacity=1).encode(
        y="now:Q"
    )
    chart = alt.layer(bars, ticks, points).properties(width=charts.WIDE - 80, height=190)
    said = ", ".join(f"{charts.MONTHS[m]} {low[m]:.2f} to {high[m]:.2f}" for m in range(12))
    return charts.Figure(
        "draws_by_month",
        "Litres by month: bars hold 80 % of the draws, dark lines their middle, diamonds the case as simulated",
        f"Exceeded in 90 % to exceeded in 10 % of the draws, in {litres_on(basis)}: {said}.",
        charts._finished(chart),
    )


def exceedance(draws: Draws, now: float, basis: str) -> charts.Figure:
    """Share of the draws that exceed a yield, with the case as simulated."""
    import altair as alt

    values = np.sort(draws.litres[np.isfinite(draws.litres)])
    share = 100.0 * (1.0 - (np.arange(values.size) + 0.5) / values.size)
    rows = [{"x": float(x), "y": float(y)} for x, y in zip(values, share, strict=True)]
    marks = [
        {
            "x": float(np.quantile(values, 1.0 - q)),
            "y": 100.0 * q,
            "text": f"{np.quantile(values, 1.0 - q):.2f}",
        }
        for q in (0.9, 0.5, 0.1)
    ]
    x = alt.X(
        "x:Q", title=f"{litres_on(basis, '²')}, mean of the year", scale=alt.Scale(zero=False, nice=True)
    )
    y = alt.Y("y:Q", title="exceeded in so many % of draws", scale=alt.Scale(domain=[0, 100]))
    line = alt.Chart(charts._data(rows)).mark_line(color=charts.DARK, strokeWidth=2).encode(x=x, y=y)
    points = (
        alt.Chart(charts._data(marks))
        .mark_point(filled=True, size=70, color=charts.DARK, opacity=1)
        .encode(x=x, y=y)
    )
    labels = (
        alt.Chart(charts._data(marks))
        .mark_text(align="left", dx=9, dy=-3, color=charts.INK)
        .encode(x=x, y=y, text="text:N")
    )
    rule = (
        alt.Chart(charts._data([{"x": now}])).mark_rule(strokeDash=[5, 3], color=charts.INK).encode(x="x:Q")
    )
    chart = alt.layer(rule, line, points, labels).properties(width=charts.WIDE - 80, height=210)
    return charts.Figure(
        "exceedance",
        "How often a yield is exceeded when all doubts are drawn; dashed: the case as simulated",
        f"A falling curve, in {litres_on(basis)}. " + "; ".join(f"{m['x']:.2f} are exceeded in {m['y']:.0f} % of draws" for m in marks)
        + f". The case as simulated gives {now:.2f}.",
        charts._finished(chart),
    )  # fmt: skip


def parameter_bars(
    entries: Sequence[tuple[str, str, float]], caption: str, unit: str, key: str
) -> charts.Figure:
    """Bars of doubts by group: (group, name, amount)."""
    groups = [group for group in GROUPS if any(of == group for of, _, _ in entries)]
    return charts.account_bars(key, caption, unit, entries, groups)


def share_bars(shares: VarianceShares) -> charts.Figure:
    """Share of the variance that each doubt makes, with half-widths at 95 %, and what is left over."""
    import altair as alt

    entries = [(parameter.of, parameter.name, share, half) for parameter, share, half in shares.parts]
    if shares.between_years > 0.0:
        entries.append((YEARS, "Which weather year it is", shares.between_years, 0.0))
    entries.append((LEFT, "Of no doubt by itself", shares.rest, 0.0))
    rows = [
        {
            "of": of, "name": name, "share": 100.0 * max(share, 0.0),
            "low": 100.0 * max(share - half, 0.0), "high": 100.0 * max(share + half, 0.0),
            "text": f"{100.0 * max(share, 0.0):.0f}" + (f" ± {100.0 * half:.0f}" if half > 0.0 else ""),
        }
        for of, name, share, half in entries
    ]  # fmt: skip
    groups = [group for group in (*GROUPS, YEARS, LEFT) if any(row["of"] == group for row in rows)]
    colours = {
        **dict(zip(GROUPS, (charts.LIGHT, charts.DARK, charts.WARM, charts.PALE), strict=True)),
        YEARS: charts.INK, LEFT: charts.FAINT,
    }  # fmt: skip
    y = alt.Y(
        "name:N", sort=[str(row["name"]) for row in rows], title=None,
        axis=alt.Axis(labelLimit=320, ticks=False, domain=False, labelPadding=7),
    )  # fmt: skip
    base = alt.Chart(charts._data(rows)).encode(y=y)
    bars = base.mark_bar(height=14).encode(
        x=alt.X("share:Q", title="% of the variance of the litres", scale=alt.Scale(zero=True, domainMin=0)),
        color=alt.Color(
            "of:N", sort=groups, scale=alt.Scale(domain=groups, range=[colours[group] for group in groups]),
            legend=alt.Legend(title=None, orient="top", columns=3),
        ),
    )  # fmt: skip
    widths = base.mark_rule(color=charts.INK, strokeWidth=1.5).encode(x="low:Q", x2="high:Q")
    labels = base.mark_text(align="left", dx=6, color=charts.INK).encode(x="high:Q", text="text:N")
    chart = alt.layer(bars, widths, labels).properties(width=charts.WIDE - 260, height=22 * len(rows))
    return charts.Figure(
        "doubt_shares",
        "What the doubt is made of: share of the variance of the litres that each doubt makes by itself; thin lines: "
        "half-widths at 95 %",
        "Bars, in % of the variance: " + "; ".join(f"{row['name']} {row['text']}" for row in rows) + ".",
        charts._finished(chart),
    )  # fmt: skip


def two_intervals(draws: tuple[float, float], carried: Carried, now: float, basis: str) -> charts.Figure:
    """The middle 80 % of the draws, and of the draws with published misses as one more doubt."""
    import altair as alt

    open_end = not np.isfinite(carried.top)
    # without an end and without a bound the bar is cut where it can still be seen beside the other
    seen = max(draws[1], carried.low) if carried.low_known else draws[1]
    top = 3.0 * seen if open_end else carried.top
    # without a low end the bar begins where that of the draws does, and its label says so
    low = carried.low if carried.low_known else min(draws[0], top)
    end = (
        "without end" if open_end else f"{top:.2f}" + (", a bound" if carried.high > carried.ceiling else "")
    )
    rows = [
        {"name": "What is drawn", "low": draws[0], "high": draws[1], "of": "draws",
         "text": f"{draws[0]:.2f} to {draws[1]:.2f}"},
        {"name": "With the misses of published tests", "low": low, "high": top, "of": "suggested, no correction",
         "text": f"{carried.low:.2f} to {end}" if carried.low_known else f"low end not known, to {end}"},
    ]  # fmt: skip
    names, kinds = [str(row["name"]) for row in rows], [str(row["of"]) for row in rows]
    y = alt.Y("name:N", sort=names, title=None, axis=alt.Axis(labelLimit=330, ticks=False, domain=False))
    base = alt.Chart(charts._data(rows)).encode(y=y)
    x = alt.X(
        "low:Q", title=f"{litres_on(basis, '²')}, mean of the year", scale=alt.Scale(zero=True, nice=True)
    )
    bars = base.mark_bar(height=16).encode(
        x=x, x2="high:Q",
        color=alt.Color(
            "of:N", sort=kinds, scale=alt.Scale(domain=kinds, range=[charts.DARK, charts.PALE]),
            legend=alt.Legend(title=None, orient="top"),
        ),
    )  # fmt: skip
    labels = base.mark_text(align="left", dx=6, color=charts.INK).encode(x="high:Q", text="text:N")
    rule = (
        alt.Chart(charts._data([{"x": now}])).mark_rule(strokeDash=[5, 3], color=charts.INK).encode(x="x:Q")
    )
    chart = alt.layer(bars, rule, labels).properties(width=charts.WIDE - 380, height=70)
    return charts.Figure(
        "published_misses",
        "Middle 80 % of the draws, and what published tests of the kind suggest when their misses are one more doubt; "
        "dashed: the case as simulated, which stays where it is",
        f"Bars, in {litres_on(basis)}: " + "; ".join(f"{row['name']} {row['text']}" for row in rows) + f". As simulated {now:.2f}.",
        charts._finished(chart),
    )  # fmt: skip


def comparison_bars(found: Comparison) -> charts.Figure:
    """Litres a day of each entry, with the range that holds 80 % of the draws."""
    import altair as alt

    rows = []
    for one in found.entries:
        area = one.entry.design.basis_area * one.entry.design.modules
        row: dict[str, Any] = {"name": one.entry.name, "litres": float(one.figures["litres_per_day"])}
        if one.draws is not None:
            values = one.draws.litres[np.isfinite(one.draws.litres)] * area
            if values.size:
                row |= {"low": float(np.quantile(values, 0.1)), "high": float(np.quantile(values, 0.9))}
        rows.append(row)
    names = [one.entry.name for one in found.entries]
    y = alt.Y("name:N", sort=names, title=None, axis=alt.Axis(labelLimit=330, ticks=False, domain=False))
    base = alt.Chart(charts._data(rows)).encode(y=y)
    bars = base.mark_bar(height=16, color=charts.LIGHT).encode(
        x=alt.X("litres:Q", title="L/day collected, all modules", scale=alt.Scale(zero=True))
    )
    layers: list[Any] = [bars]
    if found.entries[0].draws is not None:
        layers.append(base.mark_rule(color=charts.INK, strokeWidth=2).encode(x="low:Q", x2="high:Q"))
    chart = alt.layer(*layers).properties(width=charts.WIDE - 300, height=30 * len(rows))
    said = "; ".join(f"{row['name']} {row['litres']:.1f}" for row in rows)
    return charts.Figure(
        "comparison",
        "Litres a day of each" + ("; the dark lines hold 80 % of the draws" if len(layers) > 1 else ""),
        f"Bars, in L/day: {said}.",
        charts._finished(chart),
    )


def front_chart(
    tried: Sequence[Tried],
    kept: Sequence[Tried],
    against: str,
    best: Tried,
    limits: Limits,
    title: str,
    basis: str,
) -> charts.Figure:
    """Every design that was simulated, the front, and the best under the limits.

    tried: those simulated alike, in the same days; against: key of the figure on the axis, title: its words.
    """
    import altair as alt

    def rows(of: Sequence[Tried], sort: str = "") -> list[dict[str, Any]]:
        return [
            {"x": float(t.numbers[against] or 0.0), "y": float(t.numbers["litres"] or 0.0),
             "sort": sort or (broken if limits.broken(t.numbers) > 0.0 else whole)}
            for t in of
            if t.numbers.get(against) is not None
        ]  # fmt: skip

    whole, broken = "tried", "breaks a limit"
    edge, top = "no other gives more for less", "the best found"
    kinds = [whole, broken, edge, top] if limits.of else [whole, edge, top]
    looks = {
        whole: (charts.LIGHT, "circle"),
        broken: (charts.FAINT, "cross"),
        edge: (charts.DARK, "circle"),
        top: (charts.WARM, "diamond"),
    }
    legend = alt.Legend(title=None, orient="top", symbolSize=70, labelLimit=250)
    x = alt.X("x:Q", title=title, scale=alt.Scale(zero=False))
    y = alt.Y("y:Q", title=litres_on(basis, "²"), scale=alt.Scale(zero=True))
    shared: dict[str, Any] = {
        "x": x,
        "y": y,
        "color": alt.Color(
            "sort:N", scale=alt.Scale(domain=kinds, range=[looks[k][0] for k in kinds]), legend=legend
        ),
        "shape": alt.Shape(
            "sort:N", scale=alt.Scale(domain=kinds, range=[looks[k][1] for k in kinds]), legend=legend
        ),
    }
    cloud = alt.Chart(charts._data(rows(tried))).mark_point(size=14, filled=True, opacity=0.8)
    points = alt.Chart(charts._data(rows(kept, edge))).mark_point(size=45, filled=True, opacity=1)
    line = alt.Chart(charts._data(rows(kept, edge))).mark_line(color=charts.DARK, strokeWidth=2)
    star = alt.Chart(charts._data(rows([best], top))).mark_point(size=170, filled=True, opacity=1)
    layers = [cloud.encode(**shared), line.encode(x=x, y=y), points.encode(**shared), star.encode(**shared)]
    chart = alt.layer(*layers).properties(width=charts.WIDE - 80, height=260)
    breaking = sum(limits.broken(t.numbers) > 0.0 for t in tried)
    return charts.Figure(
        "front",
        f"Designs simulated, those that no other beats (line), and the best found; litres against {title}",
        f"{len(tried)} dots, {breaking} of which break a limit; the line holds {len(kept)} designs; the best gives "
        f"{best.numbers['litres']:.2f} {litres_on(basis)}.",
        charts._finished(chart),
    )


def changes(found: Reach) -> charts.Figure:
    """What each change of the answer would give by itself, against now and the target."""
    scale, shown = found.aim.scale, found.moved[:10]
    entries = [("now", "As the case has it", scale * found.now)]
    entries += [
        # a short name, so that both values can be read; the table has it whole
        ("one change alone", f"{_short_name(entry.variable.name)}: {' to '.join(entry.texts)}", scale * entry.alone)
        for entry in shown
    ]  # fmt: skip
    if found.swapped and found.others:
        entries.insert(
            1, ("one change alone", f"Sorbent: {_short_name(found.swapped)}", scale * found.others[0].got)
        )
    entries.append(("all together", "All changes together", scale * found.got))
    return charts.account_bars(
        "changes", f"What each change gives alone, and all together; the target is {found.aim.text(found.target)}",
        found.aim.unit, entries,
    )  # fmt: skip


def _short_name(name: str) -> str:
    """The first words of a name, up to its bracket, or to a comma behind more than one word."""
    head = name.split(" (", maxsplit=1)[0]
    first = head.split(",", maxsplit=1)[0]
    head = first if " " in first else head
    if len(head) <= LONGEST_NAME:
        return head
    return " ".join(head[:LONGEST_NAME].split(" ")[:-1]) + " …"
