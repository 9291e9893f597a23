"""Predicted against published: the table, the pictures, the page, and the page of the documentation."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from welkinwell.harvesters.published import kinds_with_tests
from welkinwell.report import charts
from welkinwell.report.citations import References
from welkinwell.report.page import Drawer, write_page
from welkinwell.report.tables import Table, number
from welkinwell.studies.experiment_designs import CHANGES
from welkinwell.studies.experiments import Experiment, library_experiments
from welkinwell.studies.validate import Row, as_json, met, published_tests
from welkinwell.writing import together, write_text

COLUMNS: Final = ("case", "figure", "published", "predicted", "10 to 90 %", "error", "within", "inside")
COLOURS: Final = (*charts.SERIES, "#a63a6b")  # one more than the house has, for the seventh kind
MARKS: Final = (*charts.SHAPES, "triangle-right")
JSON_NAME: Final = "validation.json"
MARKDOWN_NAME: Final = "predicted_against_published.md"
SHORT_NAME: Final = "published_tests.json"


@together()
def write_validation(rows: Sequence[Row], folder: Path) -> Path:
    """Write validation.html and its charts, validation.json, published_tests.json and the page in Markdown.

    Args: rows; folder. Returns: the path of the page.
    """
    write_text(folder / JSON_NAME, as_json(rows))
    write_text(folder / MARKDOWN_NAME, markdown(rows))
    write_text(folder / SHORT_NAME, published_tests(rows))
    with charts.quick_charts():
        drawer = Drawer(folder / "charts")
        references = References()
        predicted = [row for row in rows if row.predicted is not None]
        context: dict[str, Any] = {
            "headline": headline(rows),
            "opening": OPENING,
            "draws": max(row.draws for row in rows),
            "ratios": drawer(ratio_chart(predicted)) if predicted else None,
            "scatter": drawer(scatter_chart(predicted)) if predicted else None,
            "table_of_figures": _table(rows, references),
            "reasons": [(_figure_name(row), row.reason) for row in rows if row.reason],
            "left_out": _left_out(rows),
            "changes": _changes(),
        }
        context["references"] = references.listed()
        return write_page("validation.html.jinja", context, folder / "validation.html")


OPENING: Final = (
    "How far can you trust the litres? Here the simulation stands beside published tests. The list of tests,"
    " their conditions and tolerances were fixed before the first prediction, and nothing was moved to agree."
    " Few sources give their devices and weather in full: what is not known is drawn from a range, and the median"
    " of the draws is the prediction. A figure that agrees under wide ranges proves little; one that is missed"
    " under all of them says that something is wrong or missing. No figure is a guarantee."
)


def cells(row: Row) -> tuple[str, ...]:
    """Write a row as the cells of COLUMNS."""
    relation = "≥ " if row.relation == ">=" else ""
    name = _quantity(row) + ("" if row.judged else " (beside)")
    if row.predicted is None or row.low is None or row.high is None or row.error is None:
        found = ("none", "", "")
    else:
        found = (
            number(row.predicted),
            f"{number(row.low)} to {number(row.high)}",
            f"{100 * row.error:+.0f} %",
        )
    verdict = "not predicted" if row.predicted is None else "yes" if row.inside else "no"
    published = f"{relation}{number(row.published)}"
    return (row.case, name, published, *found, f"{100 * row.tolerance:.0f} %", verdict)


def headline(rows: Sequence[Row]) -> str:
    """Say how many cases are met, of those that count and of all."""
    said = met(rows)
    counted = {row.case for row in rows if row.counts}
    water = {row.case for row in rows if row.counts and row.gives_water}
    parts = []
    for cases, words in ((counted, "cases that count"), (set(said) - counted, "others")):
        if cases:
            tried = [case for case in cases if said[case] is not None]
            parts.append(
                f"of {len(cases)} {words} {len(tried)} are predicted and {sum(bool(said[c]) for c in tried)} met"
            )
    kinds = {row.kind for row in rows if row.case in water and said[row.case] is not None}
    text = "; ".join(parts)
    return (
        f"{text[0].upper()}{text[1:]}. Counted devices that gave water are predicted over {len(kinds)} kinds."
    )


def ratio_chart(rows: Sequence[Row]) -> charts.Figure:
    """Draw predicted over published for every figure, with the draws and the tolerance."""
    names = _names(rows)
    data = [
        {
            "name": name,
            "kind": kinds_with_tests()[row.kind],
            "ratio": _floor(row.predicted, row),
            "low": _floor(row.low, row),
            "high": _floor(row.high, row),
            "from": 1.0 - row.tolerance,
            "to": 1.0 + row.tolerance if row.relation == "=" else 20.0,
            "judged": "judged" if row.judged and row.counts else "beside or not counted",
        }
        for name, row in zip(names, rows, strict=True)
    ]
    kinds = list(dict.fromkeys(kinds_with_tests()[row.kind] for row in rows))
    said = "; ".join(
        f"{_figure_name(row)}: {row.predicted:g} against {row.published:g} {row.unit}" for row in rows
    )
    return charts.Figure(
        "predicted_over_published",
        "Predicted over published for each figure: the mark is the median of the draws, the line goes from their 10th"
        " to their 90th percentile, the pale band is the tolerance. Faint: figures shown beside and cases that do not"
        " count. What lies beyond the scale stands at its end",
        f"{said}.",
        charts._finished(_ratios(data, kinds)),
    )


def _ratios(data: list[dict[str, Any]], kinds: Sequence[str]) -> Any:
    """Bands of the tolerances with the draws and their medians on a logarithmic axis."""
    import altair as alt

    base = alt.Chart(charts._data(data)).encode(
        y=alt.Y(
            "name:N",
            sort=[one["name"] for one in data],
            title=None,
            axis=alt.Axis(labelLimit=330, labelPadding=9, grid=False, ticks=False),
        )
    )
    scale = alt.Scale(type="log", domain=[0.05, 20.0], clamp=True)
    axis = alt.Axis(values=[0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20], format="~g")
    colour = alt.Color(
        "kind:N",
        scale=alt.Scale(domain=kinds, range=charts._first(COLOURS, kinds)),
        legend=alt.Legend(title=None, orient="top", columns=4, labelLimit=260),
    )
    shape = alt.Shape("kind:N", scale=alt.Scale(domain=kinds, range=charts._first(MARKS, kinds)), legend=None)
    fill = alt.Opacity(
        "judged:N",
        scale=alt.Scale(domain=["judged", "beside or not counted"], range=[1.0, 0.45]),
        legend=None,
    )
    x = alt.X("ratio:Q", scale=scale, axis=axis, title="predicted over published")
    band = base.mark_bar(color="#e6e2d6", height=13).encode(x=alt.X("from:Q", scale=scale), x2="to:Q")
    spans = base.mark_rule(strokeWidth=1.8).encode(
        x=alt.X("low:Q", scale=scale), x2="high:Q", color=colour, opacity=fill
    )
    points = base.mark_point(filled=True, size=70, stroke="white", strokeWidth=0.7).encode(
        x=x, color=colour, shape=shape, opacity=fill
    )
    one = (
        alt.Chart(charts._data([{"x": 1.0}]))
        .mark_rule(color=charts.INK, strokeWidth=1)
        .encode(x=alt.X("x:Q", scale=scale))
    )
    return alt.layer(band, one, spans, points).properties(width=400, height=alt.Step(19))


def scatter_chart(rows: Sequence[Row]) -> charts.Figure:
    """Draw predicted against published on logarithmic axes, with bars for the draws."""
    shown = [row for row in rows if row.predicted]
    data = [
        {
            "kind": kinds_with_tests()[row.kind],
            "x": row.published,
            "y": row.predicted,
            "low": max(row.low or 0.0, row.published * 0.02),
            "high": row.high,
            "case": row.case,
        }
        for row in shown
    ]
    kinds = list(dict.fromkeys(kinds_with_tests()[row.kind] for row in shown))
    said = "; ".join(
        f"{_figure_name(row)}: published {row.published:g}, predicted {row.predicted:g}" for row in shown
    )
    return charts.Figure(
        "predicted_against_published",
        "Published against predicted on logarithmic axes, each figure in its own unit: bars from the 10th to the 90th"
        " percentile of the draws; on the solid line both are equal, the dotted lines are 50 % away",
        f"{said}.",
        charts._finished(_scattered(data, kinds)),
    )


def _scattered(data: list[dict[str, Any]], kinds: Sequence[str]) -> Any:
    """Points with the bars of their draws, over the lines of equality and of half more or less."""
    import altair as alt

    smallest = 10.0**-2
    largest = 10.0**3
    scale = alt.Scale(type="log", domain=[smallest, largest], nice=False, clamp=True)
    axis = alt.Axis(values=[0.01, 0.1, 1, 10, 100, 1000], format="~g")
    base = alt.Chart(charts._data(data)).encode(
        x=alt.X("x:Q", scale=scale, axis=axis, title="published, each in its own unit"),
        color=alt.Color(
            "kind:N",
            scale=alt.Scale(domain=kinds, range=charts._first(COLOURS, kinds)),
            legend=alt.Legend(title=None, orient="top", columns=4, labelLimit=260),
        ),
    )
    ends = (
        ("equal", 1.0, smallest, largest),
        ("half", 0.5, 2.0 * smallest, largest),
        ("half more", 1.5, smallest, largest / 1.5),
    )
    lines = [{"x": x, "y": x * factor, "line": name} for name, factor, *pair in ends for x in pair]
    guides = (
        alt.Chart(charts._data(lines))
        .mark_line(clip=True, color=charts.FAINT, strokeWidth=1)
        .encode(
            x=alt.X("x:Q", scale=scale),
            y=alt.Y("y:Q", scale=scale),
            detail="line:N",
            strokeDash=alt.StrokeDash(
                "line:N",
                scale=alt.Scale(domain=["equal", "half", "half more"], range=[[1, 0], [3, 3], [3, 3]]),
                legend=None,
            ),
        )
    )
    spans = base.mark_rule(strokeWidth=1.4).encode(
        y=alt.Y("low:Q", scale=scale, axis=axis, title="predicted, in the same unit"), y2="high:Q"
    )
    points = base.mark_point(filled=True, size=75, opacity=1, stroke="white", strokeWidth=0.8).encode(
        y=alt.Y("y:Q", scale=scale),
        shape=alt.Shape(
            "kind:N", scale=alt.Scale(domain=kinds, range=charts._first(MARKS, kinds)), legend=None
        ),
    )
    return alt.layer(guides, spans, points).properties(width=560, height=440)


def markdown(rows: Sequence[Row]) -> str:
    """Write the page of the documentation."""
    draws = max(row.draws for row in rows)
    lines = [
        "# Predicted against published",
        "",
        OPENING,
        "",
        "Written, like `benchmarks/results/validation.json` and what `src/welkinwell/library/published_tests.json` holds"
        " of it, by `welkinwell validate -o DIR`. The list, its ranges and its rules stand in"
        " [experiments.md](experiments.md).",
        "",
        f"**{headline(rows)}**",
        "",
        f"Median of {draws} draws of the conditions (Latin hypercube, seed 1), with their 10th and 90th percentile;"
        " *error* is predicted over published, less one; *within* is the tolerance. A case is met when every judged"
        " figure is inside. *Beside*: shown, not judged.",
        "",
    ]
    said = met(rows)
    by_case = {experiment.case: experiment for experiment in library_experiments()}
    for counts, title in ((True, "Cases that count"), (False, "Cases that do not count")):
        own = [row for row in rows if row.counts is counts]
        if not own:
            continue
        lines += [f"## {title}", ""]
        lines += [
            "| " + " | ".join((*COLUMNS, "case met", "source")) + " |",
            "|---" * (len(COLUMNS) + 2) + "|",
        ]
        for row in own:
            verdict = {None: "not predicted", True: "yes", False: "no"}[said[row.case]]
            lines.append("| " + " | ".join((f"`{row.case}`", *cells(row)[1:], verdict, row.source)) + " |")
        lines.append("")
        if not counts:
            lines += ["Why they do not count:", ""]
            lines += [f"- `{case}`: {_why(by_case[case])}" for case in dict.fromkeys(row.case for row in own)]
            lines.append("")
    missed = [row for row in rows if row.reason]
    if missed:
        lines += ["## What is missed or not predicted, and why", ""]
        lines += [f"- `{row.case}`, {row.quantity}: {row.reason}." for row in missed]
        lines.append("")
    left_out = _left_out(rows)
    if left_out:
        lines += ["## Not represented", "", "Words of a case that its simulation does not take up:", ""]
        lines += [f"- `{case}`: {words}." for case, words in left_out]
        lines.append("")
    lines += ["## Changes", ""]
    lines += [f"- {text}" for text in _changes()] or [
        "No mapping was changed after a prediction had been seen, and nothing in the list."
    ]
    return "\n".join(lines) + "\n"


def _table(rows: Sequence[Row], references: References) -> Table:
    said = met(rows)
    listed = []
    for row in rows:
        verdict = {None: "not predicted", True: "yes", False: "no"}[said[row.case]]
        source = f"[{references.number(row.source)}]"
        listed.append((*cells(row), "yes" if row.counts else "no", verdict, source))
    return Table(
        "Every figure of the list",
        (*COLUMNS, "counts", "case met", "source"),
        listed,
        frozenset({0, 1, 7, 8, 9}),
        "Error: predicted over published, less one. Within: the tolerance. Beside: shown, not judged.",
    )


def _why(experiment: Experiment) -> str:
    return experiment.reason


def _left_out(rows: Sequence[Row]) -> list[tuple[str, str]]:
    found = {}
    for row in rows:
        if row.left_out:
            found[row.case] = "; ".join(f"{word} ({reason})" for word, reason in row.left_out.items())
    return list(found.items())


def _changes() -> list[str]:
    return [
        f"`{c.case}`, {c.quantity}: {c.what} Error before {_percent(c.before)}, after {_percent(c.after)}."
        for c in CHANGES
    ]


def _percent(error: float | None) -> str:
    return "none (not predicted)" if error is None else f"{100 * error:+.0f} %"


def _quantity(row: Row) -> str:
    return row.quantity if row.unit == "1" else f"{row.quantity}, {row.unit}"


def _names(rows: Sequence[Row]) -> list[str]:
    """Name every figure, and number those that a case gives of one quantity."""
    names: list[str] = []
    for row in rows:
        name = _figure_name(row)
        before = sum(other == name or other.startswith(f"{name} (") for other in names)
        names.append(f"{name} ({before + 1})" if before else name)
    return names


def _figure_name(row: Row) -> str:
    return f"{row.case}, {row.quantity.replace('_', ' ')}"


def _floor(value: float | None, row: Row) -> float:
    """Predicted over published, held to the scale so that a zero has a place on it."""
    return min(max((value or 0.0) / row.published, 0.05), 20.0)
