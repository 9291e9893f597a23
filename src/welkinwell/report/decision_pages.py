"""Pages of the studies of a case, each with its answer first, its pictures, and its figures as data beside it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from welkinwell.harvesters.kinds import KINDS
from welkinwell.plants.best_design import BestDesign
from welkinwell.plants.plant import Plant
from welkinwell.plants.uncertainty import PlantUncertainty
from welkinwell.quantities import litres_on, plain
from welkinwell.report import charts
from welkinwell.report import decision_charts as drawn
from welkinwell.report.citations import References
from welkinwell.report.limits_section import distance
from welkinwell.report.page import Drawer, write_page, write_summary
from welkinwell.report.tables import Table, limits_in_words, litres, litres_per_area, number, percent
from welkinwell.studies.bias import bias_of
from welkinwell.studies.compare import Comparison
from welkinwell.studies.gradient import Slope
from welkinwell.studies.losses import LossLadder
from welkinwell.studies.optimise import FIGURES
from welkinwell.studies.reach import Reach
from welkinwell.studies.variance_shares import BALANCE, needed_draws
from welkinwell.supply.verdict import money
from welkinwell.writing import together, write_text
from welkinwell.year import DAYS_IN_MONTH, monthly


@together()
def write_losses(about: Plant, ladder: LossLadder, months: Sequence[tuple[str, float]], folder: Path) -> Path:
    """Write losses.html, summary.json and charts; returns the page's path.

    months: what limits each month, its key and the gain over the month's litres.
    """
    draw = Drawer(folder / "charts")
    losses = _loss_table(ladder, about.basis)
    bounds = _bounds_above(about, ladder)
    shares = [draw(drawn.shares_of_losses(ladder, about.basis))] if ladder.steps else []
    headline = f"{about.entry.name}: {ladder.collected:.2f} {litres_on(about.basis)} are collected. "
    if ladder.steps:
        headline += f"Without the losses of the design they would be {ladder.ideal:.2f}. "
    headline += ladder.most_of_it()
    sections: list[dict[str, Any]] = [
        {"heading": "Shares", "parts": [*shares, losses], "words": [
            "A loss by itself depends on what else is lost: a warm condenser hardly matters to a bed that is empty. The "
            "ladder switches the losses on in the order shown; the shares average each loss over all orders, so that "
            "they do not depend on it. A negative loss is one without which the device would collect less: its reason stands beside it."]},
        {"heading": "Bounds above the ladder", "parts": [draw(distance(about.bounds, "own")), bounds], "words": [
            "Bounds of the place hold for every device of this kind here, of any size or of any that a search may take. "
            "Bounds of the design hold for it as it stands, its glass, bed and night air; the ladder's ideal has other "
            "ones and may pass them. Those marked as not binding are for comparison."]},
        {"heading": "What limits each month", "parts": [], "words": limits_in_words(months, about.entry.kind)},
    ]  # fmt: skip
    limiting = [key for key, _ in months]
    summary = {**about.head, **ladder.as_data(), "limiting_step_by_month": limiting, "headline": headline}
    return _page(about, "Where the litres go", headline, [draw(drawn.loss_waterfall(ladder, about.basis))], sections,
                 summary, folder, "losses.html", ("Shapley1953",))  # fmt: skip


def _bounds_above(about: Plant, ladder: LossLadder) -> Table:
    """Bounds of the place and of the design, each with the lowest of those so far that bind the kind."""
    kind, of_place = about.entry.kind, {name for name, _, _ in ladder.bounds}
    own = [b for b in about.bounds.bounds if b.name not in of_place]
    # what a device takes in beside the sun on its m2 moves its reversible limit: such a bound is its own
    as_driven = {b.name for b in about.bounds.bounds if b.binds == (kind,)}
    rows, lowest = [], math.inf
    for name, value, binds in (
        *((name, value, True) for name, value, _ in ladder.bounds),
        *((b.name, b.value, kind in b.binds) for b in sorted(own, key=lambda b: -b.value)),
    ):
        lowest = min(lowest, value) if binds else lowest
        of = "the design" if binds else "not binding here"
        if name in of_place:
            of = "the energy that this design takes in" if name in as_driven else "the place"
        rows.append((name, of, number(value), number(lowest)))
    return Table(
        f"What physics allows, {litres_on(about.basis, '²')}",
        ("Bound", "Of", "Bound", "Lowest so far"),
        rows,
        frozenset({0, 1}),
    )


def _loss_table(ladder: LossLadder, basis: str) -> Table:
    """Each loss in the ladder's order and as its share over all orders."""
    rows = [
        (step.name, step.how, f"{step.in_sequence:.3f}", f"{step.shapley:.3f}", step.reason)
        for step in ladder.steps
    ]
    return Table(
        f"The losses, in {litres_on(basis, '²')}: in the order of the ladder, and as shares over all orders",
        ("Loss", "Switched off by", "In this order", "Shapley share", "Why it is negative, where it is"),
        rows, frozenset({0, 1, 4}),
        f"Both columns add up to {ladder.ideal - ladder.collected:.3f}: from {ladder.ideal:.3f} without any of them to "
        f"{ladder.collected:.3f} as designed."
        + "".join(f" Left out: {name.lower()}; {reason}." for name, reason in ladder.left_out),
    )  # fmt: skip


@together()
def write_uncertainty(found: PlantUncertainty, folder: Path) -> Path:
    """Write uncertainty.html, summary.json and charts; returns the page's path."""
    about, draws = found.about, found.draws
    draw = Drawer(folder / "charts")
    now = monthly(about.year, "water_collected") / np.array(DAYS_IN_MONTH)
    parts = _parameter_parts(found, "", draw)
    words = [
        f"{draws.litres.size} draws of {len(draws.parameters)} doubts at once, each simulated; seed "
        f"{draws.seed}. {draws.failed} could not be simulated. "
        + ("Each ran through the whole year." if draws.tie is None else draws.tie.words)
        + (
            f" {found.shares.words}"
            if found.shares is not None
            else f" What each doubt takes of the variance needs {needed_draws(len(draws.parameters))} draws or more, and is "
            "left out here."
        ),
        "The ranges are what is known today: many are common practice and not measurements. Measure what stands at the "
        "top of the picture first.",
    ]
    sections = [
        {
            "heading": "What that means for cost and supply",
            "parts": [_interval_table(found)],
            "words": [*found.plant.words(), *_years(found)],
        },
        {"heading": "What published tests say", "parts": _carried(found, draw), "words": found.cautions},
        {"heading": "What the doubt is made of", "parts": parts, "words": words},
    ]
    litres_now = float(found.about.head["litres_per_m2_day"])
    lead = [
        draw(drawn.exceedance(draws, litres_now, about.basis)),
        draw(drawn.draws_by_month(draws, now, about.basis)),
    ]
    return _page(about, "How sure the litres are", found.headline, lead, sections, found.as_data(), folder,
                 "uncertainty.html", _sources_of_shares(found))  # fmt: skip


def _interval_table(found: PlantUncertainty) -> Table:
    """Every figure that was drawn, as simulated and as exceeded in 90, 50 and 10 % of the draws."""

    def written(value: float | None, unit: str) -> str:
        return "–" if value is None else percent(value) if unit == "1" else number(value)

    rows = [
        (name, "" if unit == "1" else unit.replace("m2", "m²"), written(now, unit),
         *(written(x, unit) for x in by_share.values()))
        for name, unit, now, by_share in found.intervals()
    ]  # fmt: skip
    return Table(
        "Every figure that was drawn, and what is exceeded in 90, 50 and 10 % of the draws",
        ("Figure", "Unit", "As simulated", "In 90 %", "In 50 %", "In 10 %"), rows, frozenset({0, 1}),
        "Costs with prices drawn beside the litres; carbon with its factors. Nothing else is in this interval: see what "
        "published tests say.",
    )  # fmt: skip


def _carried(found: PlantUncertainty, draw: Drawer, key: str = "") -> list[Any]:
    """The interval of the draws, and under it the one with published misses as one more doubt."""
    if found.carried is None:
        return []
    low, _, high = found.draws.exceeded().values()
    if low is None or high is None:
        return []
    now = float(found.about.head["litres_per_m2_day"])
    return [draw(_keyed(drawn.two_intervals((low, high), found.carried, now, found.about.basis), key))]


def _sources_of_shares(found: PlantUncertainty) -> tuple[str, ...]:
    if found.shares is None:
        return ()
    other = (
        ("Tarantola2006",)
        if BALANCE in (found.shares.by, found.shares.check and found.shares.check.by)
        else ()
    )
    return ("MacKinnon1985", *other)


def _years(found: PlantUncertainty) -> list[str]:
    """What each of several weather years gives."""
    return [
        f"In {name}: " + ", ".join(number(x) for x in by_share.values())
        + f" {litres_on(found.about.basis, '²')} are exceeded in 90, 50 and 10 % of the draws of that year."
        for name, by_share in found.by_year()
    ]  # fmt: skip


def uncertainty_in_a_report(found: PlantUncertainty, key: str, draw: Drawer) -> dict[str, Any]:
    """What a report shows of a harvester's doubts: the curve of the draws and what the doubt is made of."""
    now = float(found.about.head["litres_per_m2_day"])
    curve = draw(_keyed(drawn.exceedance(found.draws, now, found.about.basis), key))
    said = " ".join([found.headline, *found.plant.words(), found.caution])
    parts = [curve, _interval_table(found), *_carried(found, draw, key), *_parameter_parts(found, key, draw)]
    return {"headline": said, "parts": parts}


def losses_in_a_report(ladder: LossLadder, basis: str, key: str, draw: Drawer) -> list[Any]:
    """What a report shows of a harvester's losses."""
    return [draw(_keyed(drawn.loss_waterfall(ladder, basis), key)), _loss_table(ladder, basis)]


def _keyed(figure: charts.Figure, key: str) -> charts.Figure:
    """Give a figure a name of its own among those of several harvesters."""
    return replace(figure, key=f"{key}_{figure.key}") if key else figure


def _parameter_parts(found: PlantUncertainty, key: str, draw: Drawer) -> list[Any]:
    """Bars of what the doubt is made of, and the table of all doubts."""
    draws = found.draws
    slopes = {parameter.key: slope for parameter, slope in found.slopes}
    shares = {} if found.shares is None else {d.key: (s, h) for d, s, h in found.shares.parts}
    order = list(shares) or [parameter.key for parameter, _ in found.slopes]
    rows = [
        (parameter.name, parameter.of, parameter.in_words(), _share_words(*shares.get(parameter.key, (None, 0.0))),
         _slope_words(slopes[parameter.key]), parameter.source)
        for parameter in sorted(draws.parameters, key=lambda parameter: order.index(parameter.key))
    ]  # fmt: skip
    table = Table(
        "What is in doubt, how wide, how much of the variance it makes with its half-width at 95 %, and what one standard "
        "deviation of it does to the litres",
        ("Doubt", "Of", "Range of the middle 80 %", "Share of the variance", "Litres for one standard deviation", "Source"),
        rows, frozenset({0, 1, 2, 5}),
    )  # fmt: skip
    parts: list[Any] = []
    if found.shares is not None:
        parts.append(draw(_keyed(drawn.share_bars(found.shares), key)))
    parts.append(draw(_keyed(drawn.parameter_bars(
        [(parameter.of, parameter.name, abs(100.0 * slope.share)) for parameter, slope in found.slopes if not slope.failed],
        "Change of the litres for one standard deviation of each doubt, by size, %", "% of the litres", "doubt_slopes",
    ), key)))  # fmt: skip
    return [*parts, table]


def _share_words(share: float | None, half: float) -> str:
    return "–" if share is None else f"{100.0 * max(share, 0.0):.0f} ± {100.0 * half:.0f} %"


def _slope_words(slope: Slope) -> str:
    """A slope as a share of the litres, with what is wrong with it."""
    said = slope.in_words()
    if slope.failed:
        return said
    return f"{100.0 * slope.share:+.1f} %" + (f" ({said})" if said else "")


def _compared(found: Comparison) -> Table:
    """All entries on the same figures; the litres of the draws where they were drawn."""
    drawn_too = found.entries[0].draws is not None
    bases = [one.basis for one in found.entries]
    per_area, each = litres_per_area([one.figures["litres_per_m2_day"] for one in found.entries], bases)
    heads = [
        "Harvester", "L/day", per_area, "L/m² of ground a day", "L/kg", "Electricity, kWh/L", "Heat, kWh/L",
        "Second-law efficiency",
    ]  # fmt: skip
    if drawn_too:
        heads.insert(3, "of it exceeded in 90 / 50 / 10 % of draws")
    rows = []
    for one, on_area in zip(found.entries, each, strict=True):
        f = one.figures
        cells = [
            one.entry.name, litres(f["litres_per_day"]), on_area,
            litres(f["litres_per_m2_footprint_day"]), litres(f["litres_per_kg_day"]),
            number(f["electricity_kwh_per_litre"]), number(f["heat_kwh_per_litre"]),
            percent(f["second_law_efficiency"], 2),
        ]  # fmt: skip
        if one.draws is not None:
            cells.insert(3, " / ".join(_or_dash(value) for value in one.draws.exceeded().values()))
        rows.append(tuple(cells))
    return Table("All of them on the same figures", tuple(heads), rows)


def _plants_compared(found: Comparison) -> Table:
    """The plants side by side: as simulated, and what is exceeded in 90, 50 and 10 % of the draws."""

    def cell(
        now: float | None, drawn_too: dict[str, float | None] | None, words: Callable[[float], str]
    ) -> str:
        told = "–" if now is None else words(now)
        if drawn_too is None:
            return told
        return f"{told} (" + " / ".join("–" if x is None else words(x) for x in drawn_too.values()) + ")"

    rows = []
    for one in found.entries:
        plant, data = one.plant, one.plant_data()
        if plant is None or data is None:
            continue
        cells = [
            cell(data[key]["as_simulated"], data[key]["exceeded_in"], words)
            for key, words in (
                ("litres_delivered_per_day", litres), ("share_of_days_met", percent),
                ("cost_per_delivered_litre", money), ("carbon_kg_per_delivered_litre", number),
            )
        ]  # fmt: skip
        rows.append((one.entry.name, *cells, f"{plant.mass:,.0f}"))
    currencies = ", ".join(
        dict.fromkeys(one.plant.currency for one in found.entries if one.plant is not None)
    )
    drawn_too = found.entries[0].draws is not None
    return Table(
        "Each as a plant with the tank and the demand of its case"
        + (": as simulated, and in brackets what is exceeded in 90 / 50 / 10 % of the draws" if drawn_too else ""),
        ("Harvester", "Delivered, L/day", "Days on which all is met", f"A delivered litre, {currencies}",
         "Carbon, kg/L", "Dry mass without tank, kg"),
        rows, frozenset({0}),
        "Prices and factors of carbon are drawn beside the litres: those of a sorbent or of a kind by themselves, all "
        "others alike for all. The mass is that of the design and is not drawn." if drawn_too else "",
    )  # fmt: skip


PLANT_WORDS = {
    "delivered": "delivers more", "days_met": "meets the demand on more days", "demand_met": "meets more of the demand",
    "cost": "has the cheaper delivered litre", "carbon": "has less carbon in a delivered litre",
}  # fmt: skip


def _plant_leads(found: Comparison) -> Table:
    """How often each plant is the better one, figure by figure."""
    return Table(
        "How often each is better than the next as a plant, draw by draw",
        ("Harvester and figure", "Than", "In so many draws", "As good in"),
        [(f"{lead.of} {PLANT_WORDS[lead.figure]}", lead.over, percent(lead.better), percent(lead.same))
         for lead in found.of_plants],
        frozenset({0, 1}),
    )  # fmt: skip


@together()
def write_comparison(names: Sequence[str], notes: Sequence[str], found: Comparison, folder: Path) -> Path:
    """Write compare.html, summary.json and charts; returns the page's path."""
    draw = Drawer(folder / "charts")
    table = _compared(found)
    pairs = Table(
        "How often each gives more than the next, draw by draw",
        ("Harvester", "Gives more than", "In so many draws", "As much in"),
        [(one.of, one.over, _share(one.better), _share(one.same)) for one in found.leads], frozenset({0, 1}),
    )  # fmt: skip
    months = draw(charts.litres_of_harvesters(
        [one.entry.name for one in found.entries[:6]],
        [one.by_month * one.entry.design.basis_area * one.entry.design.modules for one in found.entries[:6]], np.zeros(12),
    ))  # fmt: skip
    sections: list[dict[str, Any]] = []
    if found.entries[0].plant is not None:
        parts = [_plants_compared(found)]
        if found.of_plants:
            parts.append(_plant_leads(found))
        sections.append({"heading": "As plants", "parts": parts, "words": []})
    sections.append({"heading": "By month", "parts": [months], "words": []})
    kinds = dict.fromkeys(one.entry.design.kind for one in found.entries)
    if found.leads:
        words = [
            f"{KINDS[kind].title.capitalize()}: "
            + (bias.words if (bias := bias_of(kind)) else "no published test judges the water of this kind.")
            for kind in kinds
        ]
        sections.append({"heading": "What the draws do not hold", "parts": [], "words": words})
    if found.leads:
        sections.append({"heading": "How sure the order is", "parts": [pairs], "words": [
            found.drawn_together]})  # fmt: skip
    context = {
        "kicker": "Side by side", "title": "Compared: " + ", ".join(names),
        "note": " ".join(dict.fromkeys(note for note in notes if note)), "headline": found.verdict,
        "lead": [draw(drawn.comparison_bars(found)), table], "sections": sections, "references": [],
    }  # fmt: skip
    write_summary({"schema_version": 1, "cases": list(names), **found.as_data()}, folder)
    return write_page("study.html.jinja", context, folder / "compare.html")


def _of_case(words: str, about: Plant) -> str:
    """Name the currency and the area in the words of a figure."""
    named = words.replace("money", about.case.cost.currency).replace("its area", about.basis)
    return named.replace("m2", "m²")


@together()
def write_best(found: BestDesign, folder: Path) -> Path:
    """Write optimise.html, summary.json, charts and the best design as lines for a case; returns the page's path."""
    draw = Drawer(folder / "charts")
    search, best = found.search, found.best
    currency = found.about.case.cost.currency
    values = Table(
        "The best design found",
        ("What", "Value", "Range searched"),
        [(v.name, v.text(x), f"{v.text(v.low)} to {v.text(v.high)}")
         for v, x in zip(search.variables, best.best.values, strict=True)]
        + [("Sorbent", best.best.sorbent or "none", ", ".join(n or "none" for n in search.sorbents))]
        + [(_of_case(words, found.about), number(best.best.numbers.get(key)), "") for key, words in FIGURES.items()],
        frozenset({0, 1, 2}),
    )  # fmt: skip
    order = Table(
        "The sorbents at the same scattered designs, best of each",
        (
            "Sorbent",
            f"{litres_on(found.about.basis, '²')}, less what breaks the limits"
            if search.objective == "litres"
            else f"{currency} per litre",
        ),
        [(name or "none", "no water" if value is None else number(abs(value))) for name, value in best.order],
    )
    lines = "\n".join(
        f'{v.key} = "{v.text(x, 6)}"' for v, x in zip(search.variables, best.best.values, strict=True)
    )
    mass = best.best.numbers.get("mass")
    if mass:
        lines += f'\nsorbent_mass = "{mass:.4g} kg/m2"'
    if best.best.sorbent:
        lines = f'sorbent = "{best.best.sorbent}"\n' + lines
    write_text(folder / "best_design.toml", lines + "\n")
    days = [t for t in best.tried if not t.whole]
    chart = drawn.front_chart(
        days or best.tried, found.front, found.against, best.best, search.limits,
        _of_case(FIGURES[found.against], found.about), found.about.basis,
    )  # fmt: skip
    binding = [
        f"It stands at the limit of {number(end)} {_of_case(FIGURES[key], found.about)}: with a wider one more may be had."
        for key, end in search.limits.binding(best.best.numbers)
    ]
    at_an_end = [
        f"{v.name} stands at the end of what was searched, {v.text(x)}."
        for v, x in zip(search.variables, best.best.values, strict=True)
        if min(abs(x - v.low), abs(v.high - x)) <= 1e-3 * (v.high - v.low)
    ]
    sections: list[dict[str, Any]] = [
        {"heading": "The design", "parts": [values], "words": [
            *binding, *at_an_end, *search.left_out(),
            "best_design.toml beside this page holds it as lines for a [[harvester]] table. Run it as a case before "
            "anything is built: the search uses a coarser accuracy. The dots are litres of some days of each month, the "
            "line and the best those of the whole year."]},
    ]  # fmt: skip
    if len(best.order) > 1:
        sections.append({"heading": "Sorbents", "parts": [order], "words": []})
    return _page(found.about, "The best design found", found.headline, [draw(chart)], sections, found.as_data(),
                 folder, "optimise.html", ())  # fmt: skip


@together()
def write_reach(about: Plant, found: Reach, folder: Path) -> Path:
    """Write reach.html, summary.json and the chart; returns the page's path."""
    draw = Drawer(folder / "charts")
    aim = found.aim
    changes = Table(
        "The change, the plant first, then the largest",
        ("What", "Of", "From", "To", f"{aim.unit} with this alone"),
        [(m.variable.name, m.variable.of, *m.texts, aim.number(m.alone))
         for m in found.moved],
        frozenset({0, 1, 2, 3}),
    )  # fmt: skip
    others = Table(
        "Another sorbent in the design as it stands, its bed as full",
        ("Sorbent", aim.unit, "Reaches the target"),
        [(one.name, aim.number(one.got), "yes" if one.reaches else "no") for one in found.others],
        frozenset({0, 2}),
    )
    words = []
    if found.moved:
        words.append(
            "The shortest change: the sum of squared shares of each range is as small as the search could make it, and "
            "no part of it can be left out. How many modules and which tank are tried before any size. A change of the "
            "material is a wish for the laboratory, not something that can be ordered; it is priced as the sorbent is now."
        )
    if found.swapped:
        words.append(f"Each change alone is told with {found.swapped} in the bed.")
    if found.mass is not None:
        words.append(
            f"The dry sorbent follows the size of its bed: {plain(found.mass[0])} to {plain(found.mass[1])} kg/m²."
        )
    if found.bound is not None:
        words.append(
            f"{found.bound.name}: {found.bound.formula} ({found.bound.source}). See docs/theory/limits.md."
        )
    parts = [table for table, rows in ((changes, found.moved), (others, found.others)) if rows]
    heading = "What forbids it" if found.bound is not None else "What would have to change"
    sections = [{"heading": heading, "parts": parts, "words": [*words, found.untried]}]
    summary = {**about.head, **found.as_data()}
    lead = [draw(drawn.changes(found))] if found.moved else []
    return _page(about, f"What {aim.text(found.target)} would take", found.words, lead, sections, summary, folder,
                 "reach.html", ())  # fmt: skip


def _page(
    about: Plant,
    title: str,
    headline: str,
    lead: list[Any],
    sections: list[dict[str, Any]],
    summary: dict[str, Any],
    folder: Path,
    name: str,
    sources: Sequence[str],
) -> Path:
    references = References()
    references.numbers(sources)
    context = {
        "kicker": f"{about.entry.name}, {about.case.site.name}",
        "title": title,
        "note": about.case.note,
        "headline": headline,
        "lead": lead,
        "sections": sections,
        "references": references.listed() if sources else [],
    }
    write_summary(summary, folder)
    return write_page("study.html.jinja", context, folder / name)


def _share(value: float) -> str:
    return percent(value) if np.isfinite(value) else "–"


def _or_dash(value: float | None) -> str:
    return "–" if value is None else f"{value:.2f}"
