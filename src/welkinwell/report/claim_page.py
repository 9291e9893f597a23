"""The verdict on a claim as a page: the answer, each bound beside the claim, what is missing, what it becomes."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from welkinwell.declare import declared_fields
from welkinwell.harvesters.claimed import WORDS
from welkinwell.quantities import as_text, plain
from welkinwell.report import charts, tables
from welkinwell.report.citations import References, reference
from welkinwell.report.page import Drawer, write_page, write_summary
from welkinwell.report.tables import Table
from welkinwell.studies.check_claim import Verdict, taken
from welkinwell.studies.claim import Claim, stated
from welkinwell.writing import together

BANNERS = {
    "impossible": "Impossible",
    "possible only if": "Hangs on what is not stated",
    "possible": "Possible",
    "cannot be judged": "Cannot be judged",
}
FIGURE_WORDS = {
    "litres_per_m2_day": ("litres per m² and day", "L/m²"),
    "litres_per_kg_day": ("litres per kg and day", "L/kg"),
    "electricity_kwh_per_litre": ("electricity", "kWh/L"),
    "cycles_needed_per_day": ("cycles a day that it takes", ""),
    "sorbent_mass_implied_kg": ("dry sorbent that it implies", "kg"),
    "mean_power_watt": ("mean electric power that it implies", "W"),
    "latent_efficiency": ("latent heat of the litres over the sun", ""),
    "least_work_kwh_per_litre": ("least work of the first drop in its air", "kWh/L"),
    "second_law_efficiency": ("least work over what goes in", ""),
}

DEVICE_UNITS = {
    "litres_per_m2_day": "L/m2 a day",
    "litres_per_kg_day": "L/kg a day",
    "litres_per_kwh": "L/kWh",
    "litres_per_kwh_of_heat": "L per kWh of heat",
}


@together()
def write_claim_page(verdict: Verdict, folder: Path) -> Path:
    """Write claim.html, summary.json and the charts; returns the page's path."""
    with charts.quick_charts():
        drawer = Drawer(folder / "charts")
        references = References()
        context = {
            "claim": verdict.claim,
            "verdict": verdict,
            "banner": BANNERS[verdict.verdict],
            "beside": drawer(beside_bounds(verdict)) if verdict.held else None,
            "moves": drawer(what_moves(verdict)) if verdict.missing else None,
            "bounds": _bounds(verdict, references),
            "stated": _stated(verdict.claim),
            "figures": _figures(verdict),
            "beside_device": _device(verdict),
            "at_site": _site(verdict),
            "tried": _tried(verdict),
            "beside_chart": drawer(beside_simulated(verdict)) if _tried(verdict) else None,
        }
        context["references"] = references.listed()
        write_summary(verdict.as_data(), folder)
        return write_page("claim.html.jinja", context, folder / "claim.html")


def beside_bounds(verdict: Verdict) -> charts.Figure:
    """The claim over each bound on a logarithmic axis; 1 is the bound itself."""
    import altair as alt

    rows = [
        {
            "name": _printed(one.bound.name),
            "ratio": max(min(one.ratio, 1e6), 1e-6),
            "sort": "bound on stated conditions" if not one.assumed else "with something assumed",
            "text": f"{plain(one.ratio)}",
        }
        for one in verdict.held
    ]
    names, kinds = (
        [str(row["name"]) for row in rows],
        ["bound on stated conditions", "with something assumed"],
    )
    low = 10.0 ** math.floor(math.log10(min(float(str(row["ratio"])) for row in rows)))
    high = max(10.0, max(float(str(row["ratio"])) for row in rows) * 2.0)
    x = alt.X("ratio:Q", title="claimed over allowed, logarithmic; right of the line passes the bound",
              scale=alt.Scale(type="log", domain=[min(low, 0.1), high], nice=False),
              axis=alt.Axis(values=[10.0**k for k in range(-6, 7)], format="~g"))  # fmt: skip
    base = alt.Chart(charts._data(rows)).encode(
        y=alt.Y("name:N", sort=names, title=None,
                axis=alt.Axis(labelLimit=320, ticks=False, domain=False, labelPadding=7, grid=True)),
        x=x,
    )  # fmt: skip
    legend = alt.Legend(title=None, orient="top", symbolSize=110)
    marks = base.mark_point(filled=True, size=120, opacity=1).encode(
        color=alt.Color(
            "sort:N", legend=legend, scale=alt.Scale(domain=kinds, range=[charts.DARK, charts.LIGHT])
        ),
        shape=alt.Shape("sort:N", legend=legend, scale=alt.Scale(domain=kinds, range=["circle", "square"])),
    )
    near = "datum.ratio > 0.4 && datum.ratio < 1"  # its label would lie across the line
    right = base.transform_filter(f"!({near})").mark_text(align="left", dx=9, color=charts.INK)
    left = base.transform_filter(near).mark_text(align="right", dx=-9, color=charts.INK)
    labels = alt.layer(right.encode(text="text:N"), left.encode(text="text:N"))
    chart = alt.layer(_line(), marks, labels).properties(width=charts.WIDE - 330, height=30 * len(rows))
    said = "; ".join(f"{row['name']} {row['text']}" for row in rows)
    return charts.Figure(
        "claim_beside_bounds", "The claim over each bound: above 1 it passes that bound",
        f"Points on a logarithmic axis, claimed over allowed. {said}.", charts._finished(chart),
    )  # fmt: skip


def what_moves(verdict: Verdict) -> charts.Figure:
    """For each missing condition the claim over its nearest bound at both ends of its range."""
    import altair as alt

    shown = [one for one in verdict.missing if math.isfinite(one.moves)][:8]
    rows: list[dict[str, Any]] = []
    for one in shown:
        low, high = sorted((one.ratio_low, one.ratio_high))
        rows.append(
            {
                "name": _missing_words(one),
                "low": max(low, 1e-6),
                "high": high,
                "text": f"factor {plain(one.moves)}",
            }
        )
    names = [str(row["name"]) for row in rows]
    lowest = 10.0 ** math.floor(math.log10(min(float(str(row["low"])) for row in rows)))
    highest = max(10.0, max(float(str(row["high"])) for row in rows) * 3.0)
    scale = alt.Scale(type="log", domain=[min(lowest, 0.1), highest], nice=False)
    axis = alt.Axis(values=[10.0**k for k in range(-6, 7)], format="~g")
    base = alt.Chart(charts._data(rows)).encode(
        y=alt.Y("name:N", sort=names, title=None,
                axis=alt.Axis(labelLimit=360, ticks=False, domain=False, labelPadding=7)),
    )  # fmt: skip
    spans = base.mark_rule(strokeWidth=7, color=charts.LIGHT).encode(
        x=alt.X("low:Q", scale=scale, axis=axis, title="claimed over the nearest bound, logarithmic"),
        x2="high:Q",
    )
    labels = base.mark_text(align="left", dx=7, color=charts.INK).encode(
        x=alt.X("high:Q", scale=scale), text="text:N"
    )
    chart = alt.layer(_line(), spans, labels).properties(width=charts.WIDE - 370, height=30 * len(rows))
    said = "; ".join(f"{row['name']}: {plain(row['low'])} to {plain(row['high'])}" for row in rows)
    return charts.Figure(
        "claim_missing", "What is not stated, tried over its range: how far each would move the claim against its nearest bound",
        f"Bars on a logarithmic axis. {said}.", charts._finished(chart),
    )  # fmt: skip


def beside_simulated(verdict: Verdict) -> charts.Figure:
    """The simulated figure with each condition that is left out at its other values, and the claim as a line."""
    import altair as alt

    tried = verdict.there["tried"]
    usual = verdict.there["figures"].get(tried["figure"], 0.0)
    unit = _printed(DEVICE_UNITS[tried["figure"]])
    rows = [
        {"name": _printed(row["condition"]), "value": one["simulated"], "at": _printed(one["value"])}
        for row in tried["conditions"]
        for one in row["values"]
        if one["simulated"] is not None
    ]
    names = list(dict.fromkeys(row["name"] for row in rows))
    spans = [{"name": name, "low": min([usual, *own]), "high": max([usual, *own])}
             for name in names if (own := [row["value"] for row in rows if row["name"] == name])]  # fmt: skip
    claimed = next(
        (one["claimed"] for one in verdict.there["compared"] if one["figure"] == tried["figure"]), None
    )
    highest = max([usual, *(row["value"] for row in rows)])
    domain = [0.0, max(1.25 * max(highest, claimed or 0.0), 1e-3)]
    x = alt.X("value:Q", title=f"{unit}, simulated", scale=alt.Scale(domain=domain, nice=False))
    y = alt.Y("name:N", sort=names, title=None,
              axis=alt.Axis(labelLimit=300, ticks=False, domain=False, labelPadding=7, grid=True))  # fmt: skip
    bars = alt.Chart(charts._data(spans)).mark_rule(strokeWidth=7, color=charts.LIGHT).encode(
        y=y, x=alt.X("low:Q", scale=x["scale"], title=x["title"]), x2="high:Q")  # fmt: skip
    points = alt.Chart(charts._data(rows)).mark_point(filled=True, size=80, opacity=1, color=charts.DARK).encode(
        y=y, x=x, tooltip="at:N")  # fmt: skip
    lines = [{"value": usual, "what": "simulated, all as usual"}]
    lines += [] if claimed is None else [{"value": claimed, "what": "claimed"}]
    sorts = [line["what"] for line in lines]
    rules = alt.Chart(charts._data(lines)).mark_rule(strokeWidth=2).encode(
        x=x,
        color=alt.Color("what:N", legend=alt.Legend(title=None, orient="top", labelLimit=260),
                        scale=alt.Scale(domain=sorts, range=[charts.DARK, charts.WARM][: len(sorts)])),
        strokeDash=alt.StrokeDash("what:N", legend=None, scale=alt.Scale(domain=sorts, range=[[2, 2], [5, 3]])),
    )  # fmt: skip
    chart = alt.layer(bars, points, rules).properties(width=charts.WIDE - 310, height=30 * max(len(names), 1))
    said = "; ".join(f"{row['name']} {row['at']}: {plain(row['value'])}" for row in rows)
    return charts.Figure(
        "claim_simulated", "Such a device simulated in the claim's air, with what is not stated at its believed values",
        f"Bars from {plain(usual)} {unit}, all as usual. {said}.", charts._finished(chart),
    )  # fmt: skip


def _line() -> Any:
    import altair as alt

    return (
        alt.Chart(charts._data([{"one": 1.0}]))
        .mark_rule(color=charts.WARM, strokeWidth=2, strokeDash=[5, 3])
        .encode(x="one:Q")
    )


def _missing_words(one: Any) -> str:
    if one.field == "area_is":
        return "area: from that claimed to its whole footprint"
    entry = declared_fields(Claim)[one.field]
    if entry.kind == "count":
        return f"{WORDS[one.field]}, {one.low:g} to {one.high:g}"
    low, high = (as_text(x, entry.unit, 3) for x in (one.low, one.high))
    return _printed(f"{WORDS[one.field]}, {low} to {high}")


def _bounds(verdict: Verdict, references: References) -> Table | None:
    rows = []
    for one in verdict.held:
        keys = [key.strip() for key in one.bound.source.split(",")]
        known = all(reference(key) != key for key in keys)
        source = ", ".join(f"[{references.number(key)}]" for key in keys) if known else one.bound.source
        assumed = ", ".join(taken(name) for name in one.assumed) or "nothing"
        rows.append(
            (
                one.bound.name, tables.number(one.claimed), tables.number(one.bound.value), one.bound.unit,
                "passed" if one.passes else "kept", one.bound.formula, assumed, source,
            )
        )  # fmt: skip
    if not rows:
        return None
    notes = " ".join(dict.fromkeys(f"{h.bound.name}: {h.bound.note}" for h in verdict.held if h.bound.note))
    return Table(
        "The claim beside each bound",
        ("Bound", "Claimed", "Allowed", "Unit", "It is", "Made of", "Assumed", "From"),
        rows, frozenset({0, 3, 4, 5, 6, 7}), notes,
    )  # fmt: skip


def _stated(claim: Claim) -> Table:
    known = declared_fields(Claim)
    rows = [
        (known[name].sentence, _value(value, known[name].unit, known[name].kind))
        for name, value in stated(claim).items()
        if name not in ("name", "source")
    ]
    return Table("What the claim states", ("", ""), rows, frozenset({0, 1}))


def _value(value: Any, unit: str, kind: str) -> str:
    if kind == "quantity":
        return as_text(value, unit, 4)
    return "yes" if value is True else str(value).replace("_", " ")


def _figures(verdict: Verdict) -> Table | None:
    rows = [
        (FIGURE_WORDS[key][0], f"{tables.number(value)} {FIGURE_WORDS[key][1]}".strip())
        for key, value in verdict.figures.items()
    ]
    return Table("What follows from it", ("", ""), rows, frozenset({0, 1})) if rows else None


def said_of_device(verdict: Verdict) -> list[str]:
    """Say what a simulated device gives in the claim's air and what the claim becomes at the place."""
    return [*_device(verdict), *_site(verdict)]


def _device(verdict: Verdict) -> list[str]:
    found = verdict.there
    if not found:
        return []
    if "note" in found:
        return [found["note"]]
    figures, basis = found["figures"], found["basis"]
    given = [f"{tables.litres(figures['litres_per_m2_day'])} L a day per m2 of {basis}"]
    given += [
        f"{tables.number(figures[name], 3)} {DEVICE_UNITS[name]}"
        for name in ("litres_per_kg_day", "litres_per_kwh")
        if name in figures
    ]
    said = [
        f"Such a device ({found['device']}), simulated day after day in the claim's air, gives {', '.join(given)}."
    ]
    if found["assumed"]:
        said.append("Not stated and taken as usual for its kind: " + ", ".join(found["assumed"]) + ".")
    if found["left"]:
        said.append("Stated, but not so in the simulation: " + ", ".join(found["left"]) + ".")
    said += [_beside(one) for one in found["compared"]]
    if not found["compared"] and "area_for_the_claim" in found:
        said.append(f"For the litres claimed it takes {plain(found['area_for_the_claim'])} m2 of {basis}.")
    return [*said, *_tried_in_words(found)]


def _beside(one: dict[str, Any]) -> str:
    unit = DEVICE_UNITS[one["figure"]]
    claimed = f"Claimed {tables.number(one['claimed'], 3)} {unit}"
    if one["claimed_over_simulated"] is None:
        return f"{claimed}; simulated none."
    return f"{claimed}: {plain(one['claimed_over_simulated'], 2)} times the simulated."


def _tried_in_words(found: dict[str, Any]) -> list[str]:
    """Name the conditions that move the simulated figure most."""
    tried = found["tried"]
    usual = found["figures"].get(tried["figure"], 0.0)
    parts = []
    for row in tried["conditions"][:3]:
        ends = [
            f"{tables.number(v, 3)} at {x['value']}"
            for x in row["values"]
            if (v := x["simulated"]) is not None
        ]
        if ends:
            parts.append(f"{row['condition']}, {' and '.join(ends)}")
    if not parts:
        return []
    unit = DEVICE_UNITS[tried["figure"]]
    return [
        f"What the claim leaves out moves the simulated {tables.number(usual, 3)} {unit} to: {'; '.join(parts)}."
    ]


def _tried(verdict: Verdict) -> Table | None:
    """The simulated figure with each condition that is left out at its other values."""
    found = verdict.there
    if not found.get("tried", {}).get("conditions"):
        return None
    tried = found["tried"]
    rows = [
        (row["condition"], one["value"], tables.number(one["simulated"], 3))
        if one["simulated"] is not None
        else (row["condition"], one["value"], "cannot be made so")
        for row in tried["conditions"]
        for one in row["values"]
    ]
    unit = DEVICE_UNITS[tried["figure"]]
    usual = tables.number(found["figures"].get(tried["figure"]), 3)
    return Table(
        "What is not stated, tried in the simulation", ("Condition", "At", unit), rows, frozenset({0, 1}),
        f"One at a time, the others as taken, which gives {usual} {unit}. The values are those believed "
        "(common practice, no source).",
    )  # fmt: skip


def _site(verdict: Verdict) -> list[str]:
    found = verdict.here
    if not found:
        return []
    scaled = found.get("scaled", {})
    said = []
    device = found.get("simulated")
    if device is not None:
        figures = device["figures"]
        given = [f"{tables.litres(figures['litres_per_m2_day'])} L a day per m2 of {device['basis']}"]
        if "litres_per_kg_day" in figures:
            given.append(f"{tables.number(figures['litres_per_kg_day'], 3)} L/kg a day")
        if "litres_per_kwh" in figures:
            given.append(f"{tables.number(figures['litres_per_kwh'], 3)} L/kWh")
        said.append(
            f"The same device, simulated through the year at {found['site']}, gives {', '.join(given)}."
        )
    if "year" in scaled:
        months = scaled["by_month"]
        low, high = (charts.MONTHS[months.index(pick(months))] for pick in (min, max))
        unit = scaled["unit"].replace("L/(m2 day)", "L/m2 a day").replace("L/(kg day)", "L/kg a day")
        said.append(
            f"The claim carried to {found['site']} becomes {plain(scaled['year'])} {unit} over the year instead of "
            f"{plain(scaled['claimed'])}: from {plain(min(months))} in {low} to {plain(max(months))} in {high}. "
            f"A screening figure ({scaled['rule']})."
        )
        if scaled["unsure"]:
            said.append(
                f"Between the claim's air and the site the simulated figure changes by a factor of "
                f"{plain(scaled['site_over_claim'], 2)}: so far a ratio of simulations is unsure."
            )
    elif "note" in scaled:
        said.append(scaled["note"])
    return said


def _printed(text: str) -> str:
    return text.replace("degC", "°C").replace("m2", "m²")
