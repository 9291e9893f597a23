"""Bounds as charts and tables: of a place by month, and of one harvester from the loosest to its litres."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from welkinwell.harvesters.kinds import KINDS, kinds_bound_by
from welkinwell.limits.bound import PLANE, SUN_AND_SKY, Bound
from welkinwell.limits.day_bounds import CONDENSER_LIFTS
from welkinwell.quantities import litres_on, plain
from welkinwell.report import charts, tables
from welkinwell.report.citations import References, reference
from welkinwell.report.page import Drawer, write_page, write_summary
from welkinwell.report.tables import Table
from welkinwell.writing import together

if TYPE_CHECKING:
    from welkinwell.studies.bounds import HarvesterLimits, SiteLimits


@together()
def write_limits_page(limits: SiteLimits, folder: Path) -> Path:
    """Write limits.html, summary.json and the charts of a place's bounds; returns the page's path."""
    with charts.quick_charts():
        drawer = Drawer(folder / "charts")
        references = References()
        given, summary = limits.given, limits.summary
        context = {
            "summary": summary,
            "headline": limits.headline,
            "given": given,
            "months": drawer(bounds_by_month(limits.bounds)),
            "bounds": bounds_table(limits.bounds, references, PLANE),
            "energies": _energies(summary),
            "release": _release(limits),
            "weather_table": tables.weather_table(limits.climate),
        }
        context["references"] = references.listed()
        write_summary(summary, folder)
        return write_page("limits.html.jinja", context, folder / "limits.html")


def harvester_context(
    limits: HarvesterLimits, key: str, drawer: Drawer, references: References
) -> dict[str, Any]:
    """What the report's section on the limits of one harvester shows."""
    return {
        "sentence": distance_in_words(limits),
        "chart": drawer(distance(limits, key)),
        "table": bounds_table(limits.bounds, references, KINDS[limits.kind].basis),
    }


def distance_in_words(limits: HarvesterLimits) -> str:
    """Say how far the litres are from the lowest bound that binds, and which it is."""
    lowest = limits.tightest
    if lowest is None or not math.isfinite(limits.share):
        return "No bound can be given for this harvester here."
    unit = litres_on(KINDS[limits.kind].basis)
    said = (
        f"It collects {tables.litres(limits.collected)} {unit}. The lowest bound that binds it is "
        f"{tables.litres(lowest.value)} ({lowest.name}): the litres are {plain(100 * limits.share, 2)} % of it."
    )
    release = limits.least_release_temperature
    if math.isfinite(release):
        said += (
            f" With the state in which its bed takes up and its condenser as simulated, no sorbent with its step just "
            f"there gives off water below {release - 273.15:.0f} degC."
        )
    return said


def bounds_by_month(bounds: list[Bound]) -> charts.Figure:
    """Bounds of a place by month on a logarithmic axis."""
    import altair as alt

    drawn = [bound for bound in bounds if any(math.isfinite(x) and x > 0.0 for x in bound.by_month)]
    shown = sorted(drawn, key=lambda bound: -float(np.nanmean(bound.by_month)))
    names = [_printed(bound.name) for bound in shown]
    rows = [
        {
            "month": charts.MONTHS[m],
            # nothing where there is no bound: the line has a gap there
            "litres": float(value) if math.isfinite(value) and value > 0.0 else None,
            "bound": _printed(bound.name),
        }
        for bound in shown
        for m, value in enumerate(bound.by_month)
    ]
    legend = alt.Legend(title=None, orient="right", symbolSize=110, labelLimit=330, rowPadding=7)
    shared: dict[str, Any] = {"sort": names, "legend": legend}
    base = alt.Chart(charts._data(rows)).encode(
        x=charts._month_axis(),
        y=alt.Y(
            "litres:Q", title=litres_on(PLANE, "²"), scale=alt.Scale(type="log", nice=True),
            axis=alt.Axis(values=[0.1, 0.3, 1, 3, 10, 30, 100, 300, 1000, 3000, 10000], format="~g"),
        ),
        color=alt.Color("bound:N", scale=alt.Scale(domain=names, range=charts._first(_COLOURS, names)), **shared),
        strokeDash=alt.StrokeDash(
            "bound:N", sort=names, legend=None,
            scale=alt.Scale(domain=names, range=charts._first(_DASHES, names)),
        ),
        shape=alt.Shape("bound:N", scale=alt.Scale(domain=names, range=charts._first(_SHAPES, names)), **shared),
    )  # fmt: skip
    chart = alt.layer(base.mark_line(strokeWidth=2), base.mark_point(filled=True, size=42, opacity=1))
    said = "; ".join(f"{bound.name}: {_span(bound.by_month)}" for bound in shown)
    return charts.Figure(
        "bounds_by_month",
        "What no device driven by sun, sky and air can pass: litres a day from each m² of the plane that takes the sun, by month (logarithmic)",
        f"Lines by month on a logarithmic axis, in {litres_on(PLANE, '²')}. {said}.",
        charts._finished(chart.properties(width=charts.WIDE - 300, height=300)),
    )


def distance(limits: HarvesterLimits, key: str) -> charts.Figure:
    """Bounds of a harvester from the loosest to the tightest, and its litres, on a logarithmic axis."""
    import altair as alt

    entries = [
        (_printed(bound.name), bound.value, "bound" if limits.kind in bound.binds else "for comparison")
        for bound in limits.bounds
        if math.isfinite(bound.value) and bound.value > 0.0
    ]
    entries.append(("collected, as simulated", limits.collected, "litres"))
    entries = sorted((entry for entry in entries if entry[1] > 0.0), key=lambda entry: -entry[1])
    names, kinds = [name for name, _, _ in entries], ["bound", "for comparison", "litres"]
    rows = [
        {"name": name, "litres": float(x), "sort": kind, "text": tables.number(x)}
        for name, x, kind in entries
    ]
    unit = litres_on(KINDS[limits.kind].basis, "²")
    lowest = 10 ** math.floor(math.log10(min((x for _, x, _ in entries), default=1.0)))
    highest = max((x for _, x, _ in entries), default=1.0)
    base = alt.Chart(charts._data(rows)).encode(
        y=alt.Y("name:N", sort=names, title=None,
                axis=alt.Axis(labelLimit=340, ticks=False, domain=False, labelPadding=7, grid=True)),
        x=alt.X("litres:Q", title=f"{unit}, logarithmic",
                scale=alt.Scale(type="log", domain=[lowest, highest * 2.5], nice=False),
                axis=alt.Axis(values=[10.0**k for k in range(-4, 6)], format="~g")),
    )  # fmt: skip
    marks = base.mark_point(filled=True, size=110, opacity=1).encode(
        color=alt.Color("sort:N", title=None, legend=alt.Legend(orient="top", symbolSize=110),
                        scale=alt.Scale(domain=kinds, range=[charts.DARK, charts.LIGHT, charts.WARM])),
        shape=alt.Shape("sort:N", title=None, legend=alt.Legend(orient="top", symbolSize=110),
                        scale=alt.Scale(domain=kinds, range=["circle", "square", "diamond"])),
    )  # fmt: skip
    labels = base.mark_text(align="left", dx=9, color=charts.INK).encode(text="text:N")
    said = "; ".join(f"{name} {tables.number(x)}" for name, x, _ in entries)
    return charts.Figure(
        f"{key}_limits",
        "How far from the limit: bounds and litres, mean of the year",
        f"Points on a logarithmic axis, in {unit}. {said}.",
        charts._finished(alt.layer(marks, labels).properties(width=charts.WIDE - 340, height=26 * len(rows))),
    )


def bounds_table(bounds: list[Bound], references: References, area: str) -> Table:
    """Every bound with its value, what it is made of, what it binds and where it comes from."""
    rows = [
        (
            bound.name,
            tables.number(bound.value),
            bound.formula,
            _binds(bound.binds),
            _source(bound, references),
        )
        for bound in sorted(bounds, key=lambda bound: -bound.value)
    ]
    notes = "\n".join(dict.fromkeys(f"{b.name}: {b.note}" for b in bounds if b.note))
    return Table(
        "The bounds, mean of the year",
        ("Bound", litres_on(area, "²"), "Made of", "Binds", "From"),
        rows,
        frozenset({0, 2, 3, 4}),
        _printed(notes),
    )


def _energies(summary: dict[str, Any]) -> Table:
    found = summary["kwh_per_m2_day"]
    names = {
        "sun_on_plane": "sun on the plane",
        "sky_cooling": "heat that a black surface at air temperature loses to the sky",
        "sky_exergy": "work that the cold sky could yield",
        "swing_exergy": "work that the swing between warm and cool hours could yield",
    }
    rows = [(words, tables.number(found[key], 3)) for key, words in names.items()]
    return Table("What a day offers, mean of the year", ("", "kWh/m²"), rows)


def _release(limits: SiteLimits) -> Table:
    heads = tuple(
        "condenser at the day's mean air" if lift == 0.0 else f"{lift:.0f} K above it"
        for lift in CONDENSER_LIFTS
    )
    rows = [
        (charts.MONTHS[m], *(f"{T - 273.15:.0f}" if math.isfinite(T) else "none" for T in limits.release[m]))
        for m in range(12)
    ]
    return Table(
        "Least release temperature, °C (screening)", ("Month", *heads), rows,
        note="Of a sorbent whose step lies just at the mean night air. A bed that never gets this hot gives nothing, "
        "whatever the sorbent.",
    )  # fmt: skip


def _binds(kinds: tuple[str, ...]) -> str:
    if not kinds:
        return "see the note"
    if set(kinds) == set(KINDS):
        return "every kind"
    if set(kinds) == set(kinds_bound_by(SUN_AND_SKY)):
        return "every kind driven by sun, sky and air alone"
    return ", ".join(KINDS[kind].short_title for kind in kinds)


def _source(bound: Bound, references: References) -> str:
    """Numbers of the sources in sources.bib; words where it rests on a law."""
    keys = [key.strip() for key in bound.source.split(",")]
    if all(reference(key) != key for key in keys):
        return ", ".join(f"[{references.number(key)}]" for key in keys)
    return bound.source


def _printed(name: str) -> str:
    return name.replace("degC", "°C")


def _span(values: tuple[float, ...]) -> str:
    finite = np.array([x for x in values if math.isfinite(x)])
    return f"{plain(finite.min())} to {plain(finite.max())}"


_COLOURS = (charts.DARK, "#4f7fa8", "#8a8f2e", charts.WARM, "#7d5a8c", charts.INK, charts.LIGHT)
_DASHES = ([1, 0], [6, 3], [2, 2], [8, 3, 2, 3], [12, 3], [1, 0], [4, 1])
_SHAPES = ("circle", "square", "triangle-up", "diamond", "cross", "triangle-down", "circle")
