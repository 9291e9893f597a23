"""The acceptance test on the page of a monitored or planned plant: the litres that pass, day by day."""

from __future__ import annotations

from typing import Any

import numpy as np

from welkinwell.report import charts
from welkinwell.report.page import Drawer
from welkinwell.report.tables import Table
from welkinwell.studies.acceptance import LONGEST, Acceptance


def acceptance_section(test: Acceptance, draw: Drawer) -> dict[str, Any]:
    """Words, picture and table of a test."""
    low, middle, high = test.band
    over = "the days of the log" if test.days else f"the first {test.band_days} days"
    words = [
        test.words,
        f"Over {over}: {middle:.1f} L a day in half of the draws of what is in doubt about the design, {low:.1f} exceeded in "
        f"90 % and {high:.1f} in 10 %.",
        "Read the litres at the same hour each day, start with an empty gutter and a clean cover, and log sun, air temperature "
        "and humidity at the site: without them the weather of the file stands in, and its error counts.",
    ]
    if not test.days:
        words.insert(
            1,
            "The litres above are those of the file's weather on these dates. The test is judged on the weather that comes: the "
            "log is simulated, and the same shares of what the model then gives pass or fail.",
        )
    parts: list[Any] = [draw(litres_that_pass(test))] if test.expected_by_day.size else []
    return {
        "heading": "Acceptance test",
        "parts": [*parts, *_table_of_litres(test), _uncertainty(test)],
        "words": words,
    }


def litres_that_pass(test: Acceptance) -> charts.Figure:
    """Litres since the first day against days: where the test passes, fails, or is too short to say."""
    import altair as alt

    rows = _rows(test)
    top = 1.08 * max([row["pass"] for row in rows if row["day"] >= 3] + [row["expected"] for row in rows])
    for row in rows:
        row["top"], row["pass"] = top, min(row["pass"], top)
    x = alt.X("day:Q", title=f"days that count, {test.dates}", scale=alt.Scale(nice=False, zero=False),
              axis=alt.Axis(format="d", tickMinStep=1, grid=False))  # fmt: skip
    y = alt.Scale(domain=[0.0, top], nice=False)
    title = "litres since the first day"
    zones = ["pass", "too short to say", "fail"]
    colours = [charts.LIGHT, "#d9d5c9", charts.WARM]
    fields = [
        {"day": row["day"], "what": zone, "low": row[low], "high": row[high]}
        for zone, low, high in zip(zones, ("pass", "fail", "none"), ("top", "pass", "fail"), strict=True)
        for row in rows
    ]
    areas = alt.Chart(charts._data(fields)).mark_area(opacity=0.45).encode(
        x=x, y=alt.Y("low:Q", scale=y, title=title), y2="high:Q",
        color=alt.Color("what:N", sort=zones, title=None, scale=alt.Scale(domain=zones, range=colours),
                        legend=alt.Legend(orient="top")),
    )  # fmt: skip
    lines = [("expected", "the model, in this weather", [5, 3])]
    lines += [("measured", "measured", [1, 0])] if test.measured_by_day.size else []
    names = [name for _, name, _ in lines]
    points = [{"day": row["day"], "line": name, "litres": row[key]} for key, name, _ in lines for row in rows]
    drawn = alt.Chart(charts._data(points)).mark_line(color=charts.INK, strokeWidth=2).encode(
        x=x, y=alt.Y("litres:Q", scale=y, title=title),
        strokeDash=alt.StrokeDash("line:N", sort=names, title=None, legend=alt.Legend(orient="top", labelLimit=260),
                                  scale=alt.Scale(domain=names, range=[dash for _, _, dash in lines])),
    )  # fmt: skip
    chart = alt.layer(areas, drawn).properties(width=charts.WIDE - 80, height=230)
    said = "; ".join(
        f"after {n} days less than {fails:.0f} L fails and {passes:.0f} L passes"
        for n in _shown_days(test) for fails, passes, _ in [test.litres_that(n)]
    )  # fmt: skip
    return charts.Figure(
        "acceptance", "The litres that pass: the verdict is the field in which the last day's sum lies",
        f"Fields against days. {said}.", charts._finished(chart),
    )  # fmt: skip


def _rows(test: Acceptance) -> list[dict[str, float]]:
    measured = np.cumsum(test.measured_by_day)
    rows = []
    for n in range(1, test.expected_by_day.size + 1):
        fails, passes, expected = test.litres_that(n)
        row = {"day": float(n), "none": 0.0, "fail": fails, "pass": passes, "expected": expected}
        if measured.size:
            row["measured"] = float(measured[n - 1])
        rows.append(row)
    return rows


def _shown_days(test: Acceptance) -> list[int]:
    """A few lengths of the test: by weeks, and its own."""
    whole = test.expected_by_day.size
    return sorted({n for n in (7, 14, 28, 56) if n < whole} | {whole})


def _table_of_litres(test: Acceptance) -> list[Table]:
    if not test.expected_by_day.size:
        return []
    rows = []
    for n in _shown_days(test):
        fails, passes, expected = test.litres_that(n)
        last = test.last_day(n)
        row = (f"{n}", f"{last.day} {last:%B}", f"{expected:.4g}", f"{fails:.4g}", f"{passes:.4g}")
        rows.append((*row, f"{test.measured_by_day[:n].sum():.4g}") if test.days else row)
    heads = (
        "Days that count",
        "Last day",
        "Expected, L",
        "Less than this fails, L",
        "This or more passes, L",
    )
    first = f"{test.first.day} {test.first:%B}" + (f" {test.first:%Y}" if test.days else "")
    return [
        Table(
            "Litres that pass and fail", (*heads, "Measured, L") if test.days else heads, rows, frozenset({1}),
            f"From {first} on, in the weather of {test.weather}. Passing takes {test.promised:.2f} of the expected litres and "
            "1.645 standard uncertainties of the ratio more; failing, as many less.",
        )
    ]  # fmt: skip


def _uncertainty(test: Acceptance) -> Table:
    spread = test.spread
    rows = [
        ("Meter of the litres, constant", f"{100 * spread.meter:.1f} %", "to be calibrated before the test")
    ]
    rows += [
        (f"Weather: {key}", f"{100 * part:.1f} %", words) for key, (part, words) in spread.by_weather.items()
    ]
    rows.append(
        ("One day by itself", f"{100 * spread.day:.1f} %", "divided by the square root of the days" if test.days else
         "planned, from common practice; divided by the square root of the days")
    )  # fmt: skip
    length = f"{test.planned} days" if test.planned else f"more than {LONGEST} days"
    return Table(
        "What makes the ratio of measured to expected litres uncertain (standard uncertainty)",
        ("What", "Share", "How it is known"), rows, frozenset({0, 2}),
        f"Length of test in which a plant that does as its model passes 9 times of 10: {length}.",
    )  # fmt: skip
