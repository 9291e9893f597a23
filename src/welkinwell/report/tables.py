"""The tables of the reports: rows of text, ready to print."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import xarray as xr

from welkinwell.answer import Answer
from welkinwell.declare import declared_fields
from welkinwell.harvesters.study import study_of
from welkinwell.plants.answered import HarvesterAnswer
from welkinwell.quantities import NONE, as_text, from_si, litres_on, number, plain
from welkinwell.report.accounts import HeatAccount, water_ways
from welkinwell.report.charts import MONTHS
from welkinwell.report.citations import References
from welkinwell.sorbents.sheet import FORM_RULES, FORM_TABLES, NO_SOURCE, RULES, Number, source_keys
from welkinwell.studies.limiting import EasedStep
from welkinwell.supply.power import CITATIONS
from welkinwell.year import DAYS_IN_MONTH

LEAST_GAIN: Final = 0.005  # share of the month's litres below which nothing is called a gain

# What each key of `year.CITATIONS` and of the other rooms stands for in a run.
MODELS: Final = (
    ("Saturation pressure and properties of water", ("Wagner2002", "Murphy2005")),
    ("Saturation pressure over ice", ("IAPWS_R14_08",)),
    ("Diffusion of vapour in air", ("Massman1998",)),
    ("Sun on a tilted plane: diffuse light of the sky", ("Hay1980",)),
    ("Sun through the glass and onto the absorber", ("Duffie2013", "Brandemuehl1980")),
    ("Heat and vapour across the gaps", ("Hollands1976",)),
    ("Wind on glass and condenser", ("Watmuff1977",)),
    ("Free convection outside, in still air", ("Walton1983",)),
    ("Least work of separating water from air", ("Kim2020",)),
    ("Exergy of sunlight", ("Petela1964",)),
    ("Integration through the year", ("Sandu1997",)),
    ("Tank: yield after spillage", ("Fewkes2000",)),
)
BED_MODELS: Final = {
    "lumped": (
        "Sorbent layer of a passive box, lumped depth: one temperature, one loading, one resistance of the"
        ' layer. Good for thin layers; depth = "layered" computes thick ones',
        ("Bruggeman1935",),
    ),
    "layered": (
        "Sorbent layer of a passive box, layered depth: cells from its carrier to its open face, each with"
        " temperature, loading and pore vapour",
        ("Pollard1948", "Mason1983", "Bruggeman1935"),
    ),
}


MODELS_OF_COVERS: Final = ("Sun through the glass and onto the absorber", "Heat and vapour across the gaps")


@dataclass(frozen=True)
class Table:
    """A table: caption, column heads, rows of text. The first column heads its row.

    text_columns: numbers of the columns that hold words and are set to the left; the others hold figures.
    """

    caption: str
    columns: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    text_columns: frozenset[int] = field(default_factory=lambda: frozenset({0}))
    note: str = ""


def litres(value: float | None) -> str:
    """Write litres a day: one digit after the point, two below 10."""
    if value is None or not math.isfinite(value):
        return NONE
    return f"{value:,.1f}" if abs(value) >= 10.0 or value == 0.0 else f"{value:.2f}"


def litres_per_area(values: Sequence[float], areas: Sequence[str]) -> tuple[str, list[str]]:
    """Write a column of litres a day per m2, its head and its cells: only what has the same area is compared.

    values [L/(m2 day)]; areas: what the m2 of each are. Where they differ, every cell says which.
    """
    if len(set(areas)) <= 1:
        return litres_on(areas[0] if areas else "area", "²"), [litres(value) for value in values]
    cells = [f"{litres(value)} ({area})" for value, area in zip(values, areas, strict=True)]
    return "L a day per m², each of its own area", cells


def celsius(kelvin: float) -> str:
    """Write a temperature in degC with one digit after the point."""
    return f"{kelvin - 273.15:.1f}" if math.isfinite(kelvin) else NONE


def percent(share: float | None, digits: int = 0) -> str:
    """Write a share in percent."""
    if share is None or not math.isfinite(share):
        return NONE
    text = f"{100.0 * share:.{digits}f}"
    # Never round what falls short up to the whole.
    if digits == 0 and text == "100" and share < 1.0:
        text = f"{math.floor(1000.0 * share) / 10.0:.1f}"
    return f"{text}\u00a0%"


def comparison(answer: Answer) -> Table:
    """Compare the harvesters of a case, the one most worth building first."""
    ours, rows = answer.in_order, []
    per_m2, each = litres_per_area(
        [one.figures["litres_per_m2_day"] for one in ours], [one.year.attrs["basis"] for one in ours]
    )
    for one, on_area in zip(ours, each, strict=True):
        found = one.figures
        worst = found["litres_by_month"][one.worst_month] / DAYS_IN_MONTH[one.worst_month]
        rows.append(
            (
                one.case.name,
                litres(found["litres_per_day"]),
                f"{litres(worst)} ({MONTHS[one.worst_month]})" if found["litres_per_day"] > 0.0 else NONE,
                litres(found["litres_delivered_per_day"]),
                percent(found["share_of_demand_met"]),
                percent(found["share_of_days_met"]),
                on_area,
                litres(found["litres_per_kg_day"]),
            )
        )
    return Table(
        "The harvesters of this case compared, all modules of each",
        (
            "Harvester", "Collected, L/day", "Worst month, L/day", "Delivered, L/day", "Demand met",
            "Days met in full", per_m2, "L/kg of sorbent a day",
        ),
        rows,
    )  # fmt: skip


def litres_told_apart(one: HarvesterAnswer, demand: float) -> Table:
    """From vapour taken up to litres delivered, each with its definition."""
    scale = one.year.attrs["basis_area"] * one.year.attrs["modules"] / one.year.attrs["days"]
    found = one.figures
    taken, _ = water_ways(one.year)
    return Table(
        "Litres a day, all modules, and what each word means",
        ("Litres", "L/day", "Meaning"),
        [
            ("Taken up", litres(taken * scale), "vapour and dew taken from the open air"),
            ("Condensed", litres(found["litres_condensed_per_day"]),
             "turned to liquid on cold surfaces; some dries again"),
            ("Collected", litres(found["litres_per_day"]), "run off into the gutter; this is what L/day means"),
            ("Net", litres(one.supply.net_per_day),
             "left after drips, first flush, treatment, samples and outages; this reaches the tank"),
            ("Delivered", litres(found["litres_delivered_per_day"]), "drawn from the tank to meet the demand"),
            ("Spilled", litres(found["litres_spilled_per_day"]),
             "net water that came while the tank was full, or without a tank was more than is asked for"),
            ("Asked for", litres(demand), "the demand of the case"),
        ],
        frozenset({0, 2}),
    )  # fmt: skip


def by_month(one: HarvesterAnswer, delivered: np.ndarray, demand: np.ndarray) -> Table:
    """Litres of each month, and a day's mean; the months add up to the year. demand: by month [L/day]."""
    months = np.array(one.figures["litres_by_month"])
    days = np.array(DAYS_IN_MONTH)
    names = {entry.key: entry.name for entry in one.relaxed}
    rows = [
        (
            MONTHS[m],
            f"{months[m]:,.1f}",
            litres(months[m] / days[m]),
            litres(delivered[m] / days[m]),
            _met(delivered[m], demand[m] * days[m]),
            *(_limit(one.limits[m], names) if one.limits else ()),
        )
        for m in range(12)
    ]
    rows.append(
        ("Year", f"{months.sum():,.1f}", litres(float(months.sum()) / 365.0),
         litres(float(delivered.sum()) / 365.0), _met(float(delivered.sum()), float(demand @ days)),
         *(("", "") if one.limits else ()))
    )  # fmt: skip
    columns = ("Month", "Collected, L", "Collected, L/day", "Delivered, L/day", "Demand met")
    if not one.limits:
        return Table("Litres by month, all modules", columns, rows, frozenset({0}))
    return Table(
        "Litres by month, all modules, and what limits them",
        (*columns, "What limits", "Gain"),
        rows,
        frozenset({0, 5}),
        "Gain: litres added in the month when that one thing is made easier, as the chart says.",
    )


def _met(delivered: float, asked: float) -> str:
    return percent(min(delivered / asked, 1.0)) if asked > 0.0 else "nothing asked for"


def _limit(limit: tuple[str, float], words: Mapping[str, str]) -> tuple[str, str]:
    """What limits a month, in the words given for each key, and the gain."""
    key, gain = limit
    if gain < LEAST_GAIN or not math.isfinite(gain):
        return "nothing that was tried", ""
    # Where the month itself gives almost nothing a percentage says nothing.
    return words[key], f"+{100.0 * gain:.0f} %" if gain < 10.0 else "many times"


def limits_in_words(limits: Sequence[tuple[str, float]], kind: str) -> list[str]:
    """Say what limits a kind, one sentence for each run of months with the same reason."""
    words = study_of(kind).why()
    runs: list[list[Any]] = []
    for month, limit in enumerate(limits):
        reason = _limit(limit, words)[0]
        if runs and runs[-1][2] == reason:
            runs[-1][1] = month
        else:
            runs.append([month, month, reason])
    said = []
    for first, last, reason in runs:
        when = MONTHS[first] if first == last else f"{MONTHS[first]} to {MONTHS[last]}"
        whole = first == 0 and last == 11
        said.append(f"{'All year' if whole else when}: {reason}.")
    return said


def gains(relaxed: Sequence[EasedStep], litres_per_day: float) -> list[tuple[str, str, float]]:
    """What each easing adds over the year [L/day], the largest first."""
    entries = [(entry.name, entry.how, entry.litres_per_day - litres_per_day) for entry in relaxed]
    return sorted(entries, key=lambda entry: -entry[2])


def heat_table(account: HeatAccount, sun: float, caption: str, basis: str) -> Table:
    """An account of heat, with shares of the sun on the aperture, or of what came in where no sun drives it."""
    whole = sun if sun > 0.0 else account.total_in

    def share(amount: float) -> str:
        return percent(amount / whole, 1) if whole > 0.0 else NONE

    rows = [(name, side, number(amount), share(amount)) for side, name, amount in account.entries]
    nothing = abs(account.stored) < 1e-6 * account.total_in
    rows.append(
        ("Change of stored heat (in less out)", "left", "0" if nothing else number(account.stored, 2), "")
    )
    return Table(
        caption,
        (
            "Way",
            "Side",
            f"kWh/m² of {basis} in the year",
            "Share of the sun on the aperture" if sun > 0.0 else "Share of what came in",
        ),
        rows,
        frozenset({0, 1}),
    )


def water_table(one: HarvesterAnswer) -> Table:
    """Where the water taken up went."""
    taken, ways = water_ways(one.year)
    area = one.year.attrs["basis_area"] * one.year.attrs["modules"]

    def row(name: str, amount: float) -> tuple[str, ...]:
        amount = 0.0 if abs(amount) < 5e-4 else amount
        share = percent(amount / taken, 1) if taken > 0.0 else NONE
        return (name, number(amount), number(amount * area), share)

    rows = [row("Taken up from the open air", taken), *(row(name, amount) for name, amount in ways)]
    return Table(
        "Where the water went in the year",
        ("Way", f"L/m² of {one.year.attrs['basis']}", "L, all modules", "Share of what was taken up"),
        rows,
    )


def efforts(answer: Answer) -> Table:
    """What a litre costs in sun and heat, and how near to the limits it comes."""
    names = (
        ("sun_kwh_per_litre", "Sun on the aperture, kWh/L", number),
        ("heat_kwh_per_litre", "Heat reaching the bed for release, kWh/L", number),
        ("electricity_kwh_per_litre", "Electricity, kWh/L", number),
        ("latent_efficiency", "Latent efficiency: latent heat of the litres over the sun", _percent_1),
        (
            "second_law_efficiency",
            "Second-law efficiency: least work over exergy of sun, electricity, heat, cold sky and swing",
            _percent_2,
        ),
        ("litres_per_m2_footprint_day", "L/m² of ground a day, spacing included", number),
    )
    rows = [(words, *(show(one.figures[key]) for one in answer.harvesters)) for key, words, show in names]
    rows[3:3] = _electricity_rows(answer)
    rows.append(
        (
            "Hottest bed, °C",
            *(number(_hottest_bed(one)) for one in answer.harvesters),
        )
    )
    rows.append(
        (
            "Condenser above the air while it works, K",
            *(number(_finite(one.year.attrs["condenser_excess"])) for one in answer.harvesters),
        )
    )
    # a row that no kind of the case knows is left out; one that is empty this year stays
    unknown = set()
    if not any(one.year.attrs["takes_sun"] for one in answer.harvesters):
        unknown |= {names[0][1], names[3][1]}
    if not any("release_heat" in one.year for one in answer.harvesters):
        unknown.add(names[1][1])
    if all(_hottest_bed(one) is None for one in answer.harvesters):
        unknown.add("Hottest bed, °C")
    if all(_finite(one.year.attrs["condenser_excess"]) is None for one in answer.harvesters):
        unknown.add("Condenser above the air while it works, K")
    told = [row for row in rows if row[0] not in unknown]
    return Table("Effort and efficiency", ("Figure", *_names(answer)), told)


def _electricity_rows(answer: Answer) -> list[tuple[str, ...]]:
    """Electricity for a litre by consumer, and that of a field year where the design has a multiplier."""

    def per_litre(one: HarvesterAnswer, name: str) -> float | None:
        litres = float(one.year["water_collected"].sum())
        return float(one.year[name].sum()) / (3.6e6 * litres) if name in one.year and litres > 0.0 else None

    def in_the_field(one: HarvesterAnswer) -> float | None:
        by, steadily = getattr(one.case.design, "field_multiplier", None), per_litre(one, "electricity")
        return None if by is None or steadily is None else by * steadily

    found = dict.fromkeys(
        str(name) for one in answer.harvesters for name in one.year if str(name).startswith("electricity_")
    )
    rows = []
    for name in found:
        consumer = name.removeprefix("electricity_").replace("_", " ")
        values = (number(per_litre(one, name)) for one in answer.harvesters)
        rows.append((f"of it {consumer}, kWh/L", *values))
    if any(hasattr(one.case.design, "field_multiplier") for one in answer.harvesters):
        words = "Electricity of a year in the field, kWh/L: the simulated one times field_multiplier"
        rows.append((words, *(number(in_the_field(one)) for one in answer.harvesters)))
    return rows


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _hottest_bed(one: HarvesterAnswer) -> float | None:
    kelvin = one.year.attrs.get("highest_bed_temperature")
    return None if kelvin is None else kelvin - 273.15


def _percent_1(share: float | None) -> str:
    return percent(share, 1)


def _percent_2(share: float | None) -> str:
    return percent(share, 2)


def balances(answer: Answer) -> Table:
    """How the year's balances close, and how the march worked."""
    rows = [
        ("Water that the balance cannot find, over the water taken up", *_column(answer, "water_residual_relative")),
        ("Energy that the balance cannot find, over the sun and work that went in", *_column(answer, "energy_residual_relative")),
        ("Largest difference between a flow and its recomputation", *_column(answer, "largest_flow_difference")),
        ("Steps in the year", *(f"{one.year.attrs['steps']:,}" for one in answer.harvesters)),
        ("Steps repeated smaller", *(f"{one.year.attrs['rejected_steps']:,}" for one in answer.harvesters)),
        ("Accuracy asked for", *(str(one.year.attrs["accuracy"]) for one in answer.harvesters)),
    ]  # fmt: skip
    return Table("The balance of the year", ("Check", *_names(answer)), rows)


def _column(answer: Answer, key: str) -> tuple[str, ...]:
    return tuple(f"{one.figures['balance'][key]:.1e}" for one in answer.harvesters)


def _names(answer: Answer) -> tuple[str, ...]:
    return tuple(one.case.name for one in answer.harvesters)


def design_table(answer: Answer, kind: str) -> Table:
    """Every field of a kind with the value that each harvester has; says whether the case set it."""
    ours = [one for one in answer.harvesters if one.case.kind == kind]
    used = [one.plant.simulated_design for one in ours]
    rows = []
    for name, entry in declared_fields(type(ours[0].case.design)).items():
        cells = []
        for one, design in zip(ours, used, strict=True):
            value = getattr(design, name)
            if value is None:
                cells.append("none (default)")
                continue
            written = as_text(value, entry.unit) if entry.kind == "quantity" else _word(value)
            if name in one.case.given:
                came = "case"
            elif getattr(one.case.design, name) is None:
                came = "worked out"
            else:
                came = "default"
            cells.append(f"{written} ({came})")
        rows.append((entry.sentence, *cells))
    return Table(
        "Every number of the devices, as simulated, and whether the case set it",
        ("Field", *(one.case.name for one in ours)),
        rows,
    )


def _word(value: Any) -> str:
    return {True: "yes", False: "no"}.get(value, str(value)) if isinstance(value, bool) else str(value)


# What the numbers of a form mean together; A = R T ln(1/RH), t = T - 298.15 K (docs/theory/sorbents.md)
FORM_WORDS: Final = {
    "sips_terms": "Isotherm: a sum of smooth steps in the potential A = R T ln(1/RH), each q/(1 + exp((A - A_k)/s_k)) "
    "with A_k moving by beta_k per kelvin.",
    "toth": "Isotherm: Tóth, q = q_s b p/(1 + (b p)^n)^(1/n), with b = b0 exp(Q/T) and n = n0 + c/T.",
    "dubinin_astakhov": "Isotherm: Dubinin-Astakhov, q = W exp(-(A/E)^n) in the potential A = R T ln(1/RH).",
    "dual_site_langmuir": "Isotherm: Langmuir on several kinds of places, each w b p/(1 + b p) with b = b_i exp(Q/RT).",
    "dual_site_sips": "Isotherm: Sips on several kinds of places, each w (b p)^n/(1 + (b p)^n).",
    "gab": "Isotherm: GAB, q = w C K a/((1 - K a)(1 - K a + C K a)), a the relative humidity.",
    "freundlich": "Isotherm: Freundlich, q = a(T) RH^b(T), a and b cubics of the temperature.",
    "salt_hydrates": "Isotherm: dry salt, its hydrates, and its solution (smooth steps in A = R T ln(1/RH)); the one with "
    "the greatest potential is stable, so the loading steps from hydrate to hydrate and to solution; what carries the "
    "salt adds its own water.",
}  # fmt: skip


def form_words(sorbent: Any) -> str:
    """Say in a sentence what form of isotherm a sheet has, so that its numbers can be read."""
    return FORM_WORDS[sorbent.sheet.texts["isotherm.form"]]


def sheet_table(sorbent: Any, references: References) -> Table:
    """Every number of a sorbent's data sheet with its spread, source, and whether the source was seen.

    The form's own numbers come first, then what is common to all sheets.
    """
    sheet = sorbent.sheet
    form = sheet.texts["isotherm.form"]
    own = [key for key in sheet.numbers if key.removeprefix("isotherm.") in FORM_RULES[form]]
    rest = [key for key in sheet.numbers if key not in own]
    rows = [_sheet_row(_sentence(key, form), sheet.numbers[key], references) for key in own]
    for name, (rules, _, _) in FORM_TABLES.get(form, {}).items():
        word = name.removesuffix("s")
        for i, entry in enumerate(sheet.tables.get(name, ()), start=1):
            rows += [
                _sheet_row(f"Isotherm, {word} {i}: {rules[key].sentence}", value, references)
                for key, value in entry.items()
            ]
    rows += [_sheet_row(_sentence(key, form), sheet.numbers[key], references) for key in rest]
    return Table(
        f"Data sheet: {sorbent.name}",
        ("Number", "Value", "Between", "Source", "How", "Seen", "Where in the source"),
        rows,
        frozenset({0, 3, 4, 5, 6}),
        "Seen: whether these figures were read in the source itself, second-hand, or come from memory.",
    )


def _sentence(key: str, form: str) -> str:
    room, _, name = key.partition(".")
    rule = RULES.get(key) or FORM_RULES[form].get(name)
    words = f"{name.replace('_', ' ')}" + (f": {rule.sentence}" if rule else "")
    return f"{room.capitalize()}, {words}"


def _sheet_row(words: str, value: Number, references: References) -> tuple[str, ...]:
    source = NONE if value.source == NO_SOURCE else f"[{references.number(value.source)}]"
    between = f"{_plain(value.low, value.unit)} to {_plain(value.high, value.unit)}"
    where = f"{value.where}. {value.note}." if value.note else value.where
    return (words, value.text, between, source, value.how, value.seen, where)


def _plain(value: float, unit: str) -> str:
    shown = value if unit == "USD/kg" else from_si(value, unit)
    return f"{shown:.6g}" if 1e-3 <= abs(shown) < 1e6 else f"{shown:.3g}"


def memory_share(sorbent: Any) -> tuple[int, int]:
    """Count the numbers of a sheet that come from memory, and all of them."""
    sheet = sorbent.sheet
    entries = [entry for table in sheet.tables.values() for entry in table]
    numbers = [*sheet.numbers.values(), *(value for entry in entries for value in entry.values())]
    return sum(value.seen == "memory" for value in numbers), len(numbers)


def doubts(answer: Answer) -> Table:
    """The doubts whose size is known; none of them is carried to the litres in this version."""
    rows: list[tuple[str, ...]] = [
        (
            "Weather",
            "one year of hours",
            "litres differ from year to year; another year's file shows by how much",
        ),
    ]
    seen = set()
    for one in answer.harvesters:
        sorbent = one.case.sorbent
        if sorbent is None or sorbent.key in seen:
            continue
        seen.add(sorbent.key)
        rows += _sorbent_doubts(sorbent)
    for one in answer.harvesters:
        if one.case.sorbent is None:
            continue
        outside = one.year.attrs["water_outside_temperature_range"]
        drier = one.year.attrs["water_outside_potential_range"]
        rows.append(
            (
                f"{one.case.name}: litres beyond the measured points of the sheet",
                f"{percent(outside, 1)} by temperature, {percent(drier, 1)} by humidity",
                "condensed in hours with the bed outside the measured range, where the isotherm is extended",
            )
        )
    rows += [
        ("Heat transfer to wind, free convection in gaps", "about ±20 % to ±30 %",
         "usual scatter of such formulas: value from memory"),
        ("Fouling, ageing, workmanship", "not modelled", "a device in use gives less than a new one"),
    ]  # fmt: skip
    return Table(
        "Known doubts and their size",
        ("Doubt", "Size", "Remark"),
        rows,
        frozenset({0, 1, 2}),
    )


def _sorbent_doubts(sorbent: Any) -> list[tuple[str, ...]]:
    memory, total = memory_share(sorbent)
    sheet = sorbent.sheet
    rows: list[tuple[str, ...]] = [
        (f"{sorbent.name}: numbers from memory", f"{memory} of {total}", "marked in its data sheet below"),
    ]
    spread = sheet.numbers.get("isotherm.sample_spread")
    if spread:
        rows.append(
            (f"{sorbent.name}: loading from sample to sample", f"±{percent(spread.value)}", spread.where)
        )
    rate = sheet.numbers["kinetics.diffusivity"]
    rows.append(
        (
            f"{sorbent.name}: rate of uptake",
            f"{plain(rate.low / rate.value, 2)} to {plain(rate.high / rate.value, 2)} times the value used",
            f"seen: {rate.seen}; {rate.where}",
        )
    )
    return rows


def model_table(
    references: References,
    longwave: str,
    glass: bool = True,
    depths: Collection[str] = (),
    off_grid: bool = False,
) -> Table:
    """What is computed by which published model; longwave: the climate's words on the sky's radiation.

    glass: whether a device of the case has a cover; what concerns covers alone is left out otherwise; depths: to
    which sorbent layers were computed; off_grid: whether solar modules and battery were sized.
    """
    models = [each for each in MODELS if glass or each[0] not in MODELS_OF_COVERS]
    more = [model for depth, model in BED_MODELS.items() if depth in depths]
    if off_grid:
        more.append(("Solar modules, inverter and share of energy unserved", CITATIONS))
    return _cited(references, [*models, *more, *_longwave_model(longwave)])


def site_model_table(references: References, longwave: str) -> Table:
    """The models behind the survey of a site."""
    return _cited(references, [*(MODELS[i] for i in (0, 3)), *_longwave_model(longwave)])


def _longwave_model(words: str) -> list[tuple[str, tuple[str, ...]]]:
    """The model of the sky's longwave radiation, with the sources that its own words name."""
    keys = tuple(key for key in re.findall(r"[A-Z][a-z]+\d{4}", words) if key in source_keys())
    said = re.sub(r"([A-Z][a-z]+)(\d{4})", r"\1 \2", words) or "unknown"
    return [(f"Longwave radiation of the sky: {said}", keys)]


def _cited(references: References, models: Sequence[tuple[str, Sequence[str]]]) -> Table:
    rows = [(words, ", ".join(f"[{n}]" for n in references.numbers(keys)) or NONE) for words, keys in models]
    return Table("Models and where they are published", ("What", "Source"), rows, frozenset({0, 1}))


def weather_table(climate: xr.Dataset) -> Table:
    """What the weather file gives: each variable, and how it was got."""
    rows = []
    for name, variable in climate.data_vars.items():
        values, unit = variable.values, variable.attrs.get("units", "")
        low, mean, high = float(values.min()), float(values.mean()), float(values.max())
        if unit == "K":
            low, mean, high, unit = low - 273.15, mean - 273.15, high - 273.15, "°C"
        elif unit == "kg/(m2 s)":
            low, mean, high, unit = 3600.0 * low, 3600.0 * mean, 3600.0 * high, "mm/h"
        rows.append(
            (
                variable.attrs.get("long_name", str(name)),
                unit.replace("m2", "m²"),
                number(low),
                number(mean),
                number(high),
                variable.attrs.get("how", "unknown"),
            )
        )
    return Table(
        "The weather file: lowest, mean and highest hour of each variable, and how it was got",
        ("Variable", "Unit", "Lowest", "Mean", "Highest", "How got"),
        rows,
        frozenset({0, 1, 5}),
    )


def site_months(survey: xr.Dataset) -> Table:
    """The site by month: night and day air, dew point, sun and night cooling."""
    rows = []
    for m in range(12):
        night, day = survey.isel(month=m), survey.isel(month=m)
        rows.append(
            (
                MONTHS[m],
                celsius(float(night["night_temperature"])),
                celsius(float(day["day_temperature"])),
                percent(float(night["night_relative_humidity"])),
                percent(float(day["day_relative_humidity"])),
                number(float(night["night_vapour_pressure"]) / 1000.0),
                celsius(float(night["dew_point"])),
                number(float(day["sun_on_plane"])),
                number(float(night["night_cooling"])),
                number(float(night["dark_hours"])),
            )
        )
    return Table(
        "The site by month",
        (
            "Month", "Night air, °C", "Day air, °C", "Night humidity", "Day humidity", "Night vapour, kPa",
            "Dew point, °C", "Sun on the plane, kWh/m² a day", "Night cooling, W/m²", "Dark hours a day",
        ),
        rows,
    )  # fmt: skip


def regeneration(survey: xr.Dataset) -> Table:
    """The relative humidity that a hot bed meets, by bed and condenser temperature."""
    table = survey["regeneration_humidity"].values
    beds = survey["bed_temperature"].values - 273.15
    condensers = survey["condenser_temperature"].values - 273.15
    rows = [
        (f"Bed at {bed:.0f}\u00a0°C", *(percent(float(x), 1) for x in row))
        for bed, row in zip(beds, table, strict=True)
    ]
    return Table(
        "Relative humidity that a hot bed meets while its vapour condenses elsewhere",
        ("", *(f"Condenser at {t:.0f}\u00a0°C" for t in condensers)),
        rows,
        note="What a sorbent still holds at this humidity and its own temperature, it does not give off.",
    )
