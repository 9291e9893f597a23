"""What the report shows of supply, cost and the decision: tables and charts ready for its pages."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from welkinwell.constants import DAYS_IN_MONTH
from welkinwell.declare import declared_fields
from welkinwell.quantities import as_text, plain
from welkinwell.report import charts, tables
from welkinwell.report.tables import NONE, Table
from welkinwell.supply.cost import SORBENT_KEYS, priced_by_piece
from welkinwell.supply.net_water import WHY
from welkinwell.supply.plant import OPEN_TANK
from welkinwell.supply.power import HOUR, KWH, PRICE_KEYS
from welkinwell.supply.verdict import money

if TYPE_CHECKING:
    from collections.abc import Callable

    from welkinwell.answer import Answer
    from welkinwell.plants.answered import HarvesterAnswer
    from welkinwell.report.citations import References
    from welkinwell.supply.money import Assumption
    from welkinwell.supply.tank import WeatherYears
    from welkinwell.supply.verdict import Compared

CHAIN_WORDS: Final = {
    "collected": ("Collected", "run off into the gutter"),
    "after_drips": ("After drips", "gutter, hose and joints"),
    "after_first_flush": ("After the first flush", "the day's first water, let go"),
    "after_treatment": ("After treatment", "rejects and filter backwash"),
    "after_samples": ("After samples", "taken for tests"),
    "net": ("Net: reaches the tank", "outages of the plant"),
}
SWINGS: Final = 8
MODULE_MASS: Final = 12.0  # kg/m2 of solar modules without a frame of their own; common practice, no source
BATTERY_MASS: Final = 10.0  # kg/kWh of lithium iron phosphate with its case; common practice, no source
DECISION_STYLE: Final = {
    "do not build": "no",
    "do not build this design": "no",
    "do not build where other water can be had": "no",
    "too close to call": "close",
    "worth building": "yes",
}


def verdict_context(answer: Answer) -> dict[str, Any]:
    """What stands at the top: the decision, its reasons, and the table of other water."""
    best = answer.best
    found = best.decision.verdict
    return {
        "style": DECISION_STYLE[found.decision],
        "sentence": found.sentence,
        "reasons": found.reasons,
        "doubts": found.doubts,
        "name": best.case.name,
        "costs": harvester_costs(answer),
        "others": other_water(best),
        "chart": other_water_chart(best),
    }


def supply_context(
    answer: Answer, one: HarvesterAnswer, key: str, drawer: Callable[[charts.Figure], dict[str, Any]]
) -> dict[str, Any]:
    """What the section of one harvester shows of its supply."""
    cost = one.decision.cost
    priced = cost.central.per_litre is not None
    return {
        "chain": chain_table(answer, one),
        "reckonings": reckonings(one),
        "tank": drawer(charts.modules_against_tank(key, *_curve(one))),
        "tank_words": tank_words(one),
        "cost_words": cost_words(one),
        "cost_chart": drawer(_cost_chart(one, key)) if priced else None,
        "swings": swings_table(one) if priced and cost.swings else None,
        "parts": parts_table(one),
        "power": power_context(one, key, drawer),
        "field_words": field_words(answer, one),
    }


def assumptions_context(answer: Answer, references: References) -> dict[str, Any]:
    """Every price and loss that the answer rests on, and whose figure it is."""
    return {
        "net_assumptions": net_assumptions(answer),
        "price_assumptions": price_assumptions(answer, references),
    }


# ---------------------------------------------------------------- tables
def chain_table(answer: Answer, one: HarvesterAnswer) -> Table:
    """From the gutter to the people, step by step."""
    chain = one.supply.net.chain()
    first = chain[0][1]
    rows, before = [], first
    for name, litres in chain:
        words, what = CHAIN_WORDS[name]
        lost = before - litres
        rows.append((words, tables.litres(litres), _lost(lost, name), _share(litres, first), what))
        before = litres
    spilled = one.figures["litres_spilled_per_day"]
    delivered = one.supply.delivered_per_day
    rows.append(
        ("Delivered: drawn from the tank", tables.litres(delivered), _lost(spilled, "delivered"),
         _share(delivered, first), "spilled while the tank was full" if _has_tank(one) else
         "more than is asked for; the case has no tank, and what is left of a day counts as kept")
    )  # fmt: skip
    return Table(
        "From the gutter to the people, L/day",
        ("Step", "Left, L/day", "Lost, L/day", "Of what is collected", "Lost to"),
        rows,
        frozenset({0, 4}),
    )


def _has_tank(one: HarvesterAnswer) -> bool:
    return one.supply.volume < OPEN_TANK


def _lost(litres: float, name: str) -> str:
    if name == "collected":
        return ""
    return "0" if abs(litres) < 5e-4 else tables.number(litres, 2)


def _share(litres: float, first: float) -> str:
    return tables.percent(litres / first) if first > 0.0 else NONE


def reckonings(one: HarvesterAnswer) -> Table:
    """The same tank by day, by hour, and in resampled years."""
    supply, years = one.supply, one.supply.years
    low, middle, high = np.quantile(years.share_of_days_met, [0.1, 0.5, 0.9])
    some, half, most = np.quantile(years.share_of_demand_met, [0.1, 0.5, 0.9])
    hours = supply.hourly
    rows = [
        ("By day, yield after spillage (counts above)", tables.percent(supply.daily.share_of_days_met),
         tables.percent(supply.daily.share_of_demand_met), f"{supply.daily.longest_shortfall} days",
         "cautious: a day's water is drawn the next day"),
        ("By day, yield before spillage", tables.percent(supply.before.share_of_days_met),
         tables.percent(supply.before.share_of_demand_met), f"{supply.before.longest_shortfall} days",
         "bold: a day's water is there all day"),
        ("By hour, yield after spillage", tables.percent(supply.hourly_days_met),
         tables.percent(hours.share_of_demand_met), f"{hours.longest_shortfall} hours",
         "with the hours of the demand; the better one for a small tank"),
        ("50 resampled years with outages, by day", f"{tables.percent(float(low))} / {tables.percent(float(middle))} / "
         f"{tables.percent(float(high))}", f"{tables.percent(float(some))} / {tables.percent(float(half))} / "
         f"{tables.percent(float(most))}", f"{int(years.longest_shortfall.max())} days",
         "exceeded in 90, 50 and 10 % of years; the longest of all"),
    ]  # fmt: skip
    if supply.record is not None:
        rows += _weather_years(supply.record)
    ways = "four" if supply.record is None else "five"
    return Table(
        f"The demand met, reckoned in {ways} ways",
        ("Reckoning", "Days met in full", "Demand met", "Longest shortfall", "Remark"),
        rows,
        frozenset({0, 4}),
        "Resampled years put weeks of this one weather year into a new order within their season, and the plant "
        "fails for days on end; the other rows take outages as a mean share. They show what another order would do, "
        "not what a drier year would do: "
        + (
            "that takes weather of several years (further_years in [site])."
            if supply.record is None
            else f"that the last {len(supply.record.names) + 1} rows show, weather year after weather year with what "
            "is stored carried over."
        ),
    )


def _weather_years(record: WeatherYears) -> list[tuple[str, str, str, str, str]]:
    """Several weather years one after another: all of them, and each by itself."""
    peak = "no tank is large enough for all of it" if record.peak is None else (
        f"{record.peak:,.0f} L above the tap would do for all of it"
    )  # fmt: skip
    whole = (
        f"{len(record.names)} weather years in a row, by day", tables.percent(float(record.share_of_days_met.mean())),
        tables.percent(float(record.share_of_demand_met.mean())), f"{record.longest} days", peak,
    )  # fmt: skip
    each = zip(
        record.names, record.share_of_days_met, record.share_of_demand_met, record.longest_shortfall,
        record.litres_per_day, strict=True,
    )  # fmt: skip
    return [whole] + [
        (f"of these: {name}", tables.percent(float(days)), tables.percent(float(demand)), f"{int(longest)} days",
         f"{tables.litres(float(litres))} L net a day")
        for name, days, demand, longest, litres in each
    ]  # fmt: skip


def tank_words(one: HarvesterAnswer) -> list[str]:
    """Say what tank the demand would take."""
    peak = one.supply.peak.volume
    if peak is None:
        return [
            "The plant's net water of the year is less than the demand: no tank, however large, meets it in full."
        ]
    return [
        f"With so many modules, {peak:,.0f} L above the tap would be the least for no shortfall in this one year "
        "(sequent peak, its own water drawn on the day). It says nothing of another year."
    ]


def _curve(one: HarvesterAnswer) -> tuple[Any, dict[float, Any], int, float | None]:
    area = one.supply.area
    own = one.supply.volume if _has_tank(one) else None
    return area.modules, area.volume, one.case.modules, own


def cost_words(one: HarvesterAnswer) -> list[str]:
    """Say in a few sentences what a litre costs and how that was got."""
    cost = one.decision.cost
    central = cost.central
    if central.per_litre is None or cost.low is None or cost.median is None or cost.high is None:
        return ["No litre is delivered, so it has no price."]
    own = sum(entry.given for entry in cost.rows.values())
    said = [
        f"{money(central.per_litre)} {cost.currency} a delivered litre at the central prices; "
        f"{money(cost.low)}, {money(cost.median)} and {money(cost.high)} {cost.currency} are exceeded in 90, 50 and "
        f"10 % of draws in which every price varies by itself within its range. The litres are taken as certain, so "
        "the true doubt is wider.",
        f"To start: {central.capital:,.0f} {cost.currency}; in each year: {central.yearly:,.0f} {cost.currency}"
        + _renewals(one)
        + ".",
        f"Of the {len(cost.rows)} prices and lives {own or 'none'} "
        f"{'is' if own <= 1 else 'are'} the case's own; the others are assumptions, most of them without a source (see the assumptions). Set your own in [cost].",
    ]
    if cost.carbon:
        low, middle, high = cost.carbon
        said.append(
            f"Carbon: about {1000 * middle:.0f} g CO2-equivalent a delivered litre (between {1000 * low:.0f} and "
            f"{1000 * high:.0f} g over the range of published factors), from materials and electricity."
        )
    return said


def _renewals(one: HarvesterAnswer) -> str:
    """Say how often sorbent and battery are replaced, where there are any."""
    cost = one.decision.cost
    years, said = cost.rows["plant_life"].value, ""
    if cost.size.sorbent_mass > 0.0:
        said += _renewal("sorbent", cost.central.replacements, years)
    if cost.size.own_power is not None:
        said += _renewal("battery", cost.central.battery_replacements, years)
    return said


def _renewal(what: str, number: int, years: float) -> str:
    if number == 0:
        return f"; the {what} lasts the plant's {years:g} years"
    times = {1: "once", 2: "twice"}.get(number, f"{number} times")
    return f"; the {what} is replaced {times} in {years:g} years"


def _of_basis(words: str, basis: str) -> str:
    """A price's sentence for a kind whose m2 are no aperture."""
    return words.replace("per m2 of aperture", f"per m2 of {basis}").replace("of aperture", f"of {basis}")


def swings_table(one: HarvesterAnswer) -> Table:
    """The prices that matter most, each at its low and its high with the others at the centre."""
    cost = one.decision.cost
    rows = [
        (
            _of_basis(entry.sentence, one.year.attrs["basis"]),
            f"{plain(entry.low)} to {plain(entry.high)} {_unit(entry)}".rstrip(),
            money(min(at_low, at_high)), money(max(at_low, at_high)), tables.NONE if entry.given else "assumption",
        )
        for entry, at_low, at_high in cost.swings[:SWINGS]
    ]  # fmt: skip
    rows = [(*row[:4], "the case" if row[4] == NONE else row[4]) for row in rows]
    return Table(
        "What moves the cost of a litre most: one number at a time over its range",
        ("Number", "Range", f"Least, {cost.currency}/L", f"Most, {cost.currency}/L", "Whose range"),
        rows,
        frozenset({0, 1, 4}),
    )


def _unit(entry: Assumption) -> str:
    if entry.unit == "1":
        return ""
    return "years" if entry.unit == "year" else entry.unit.replace("m2", "m²").replace("m3", "m³")


def parts_table(one: HarvesterAnswer) -> Table:
    """Areas and masses of what has to be bought."""
    parts = one.decision.parts
    rows = [
        (
            part.name, str(part.number), tables.number(part.area) if part.area else "",
            f"{part.mass:,.0f}" if part.mass else "", part.remark,
        )
        for part in parts
    ]  # fmt: skip
    total = sum(part.mass or 0.0 for part in parts)
    rows.append(("All", "", "", f"{total:,.0f}", "without water"))
    return Table(
        "Parts list, all modules together",
        ("Part", "Number", "Area, m²", "Mass, kg", "Remark"),
        rows,
        frozenset({0, 4}),
        "For a first order of size; what the design does not say (frames, anchors, pipes, actuators) is a lump or "
        "missing.",
    )


def field_words(answer: Answer, one: HarvesterAnswer) -> list[str]:
    """Say what the modules do to each other, and how many spares a wanted chance takes."""
    stand, field = one.decision.standing, answer.case.field
    said = []
    if stand.shade is not None:
        said.append(
            f"In {field.rows} rows, {plain(one.year.attrs['footprint_ratio'], 2)} slant lengths apart, a mean row loses "
            f"{tables.percent(stand.shade.beam, 1)} of the beam and {tables.percent(stand.shade.diffuse, 1)} of the "
            "diffuse light to the row before it; the litres above are simulated with that shade."
        )
    else:
        said.append(
            "The modules are taken to stand apart, so that none shades another ([field] says otherwise)."
        )
    said.append(
        f"The field takes at most {tables.percent(stand.dried, 1)} of the vapour that passes over it while it takes "
        f"up water ({tables.percent(stand.dried_highest, 1)} in its highest hour): a bound, with no air mixed in from "
        f"above {field.mixing_height:g} m. The simulation gives every module fresh air."
    )
    if stand.needed is not None and stand.chance is not None:
        said.append(
            f"{stand.needed} working module{' meets' if stand.needed == 1 else 's meet'} the demand by the year's mean. "
            f"With each working {tables.percent(field.module_availability)} of the time, the {one.case.modules} installed "
            f"give{'s' if one.case.modules == 1 else ''} enough at "
            f"{tables.percent(stand.chance)} of times; {stand.installed_for_confidence} would give it at "
            f"{tables.percent(field.confidence)} (failures taken as independent, which flatters)."
        )
    return said


def other_water(one: HarvesterAnswer) -> Table:
    """Other ways to get water beside this plant's litre."""
    currency = one.decision.cost.currency
    each = "a module" if priced_by_piece(one.decision.cost.rows) else "a m²"
    rows = [
        (
            other.name, _price_range(other), _there(other), other.says, _even_litres(other), _even_device(other),
            other.source,
        )
        for other in one.decision.verdict.compared
    ]  # fmt: skip
    return Table(
        f"Other water beside a litre of this plant, {currency} a litre",
        ("Water", f"{currency}/L", "Is it there?", "Than this plant", "Break-even, L/day",
         f"Break-even device, {currency} {each}", "Whose price"),
        rows,
        frozenset({0, 2, 3, 6}),
        "Break-even: the litres a day that this plant would have to deliver, or the price that its devices would "
        "have to have, for a litre to cost as much. Prices of single places and years: set your own in "
        "[alternatives].",
    )  # fmt: skip


def harvester_costs(answer: Answer) -> Table:
    """What a litre of each harvester costs, side by side."""
    rows = []
    for one in answer.harvesters:
        cost, found = one.decision.cost, one.decision.verdict
        central = cost.central
        if central.per_litre is None or cost.low is None or cost.high is None:
            rows.append((one.case.name, NONE, NONE, *_outlay(one), NONE, NONE, found.decision))
            continue
        area = found.area_per_person if found.area_per_person is not None else found.area_needed
        rows.append(
            (
                one.case.name, money(central.per_litre), f"{money(cost.low)} to {money(cost.high)}", *_outlay(one),
                tables.number(area, 2), tables.number(1000.0 * cost.carbon[1], 2) if cost.carbon else NONE,
                found.decision,
            )
        )  # fmt: skip
    currency = answer.harvesters[0].decision.cost.currency
    person = "a person" if answer.case.demand.litres_per_person else "for the demand"
    return Table(
        "The harvesters of this case by cost",
        ("Harvester", f"{currency} a delivered litre", "In 90 and 10 % of draws above", f"To start, {currency}",
         f"Each year, {currency}", f"m² {person}", "g CO2-equivalent a litre", "Decision"),
        rows,
        frozenset({0, 7}),
    )  # fmt: skip


def _outlay(one: HarvesterAnswer) -> tuple[str, str]:
    central = one.decision.cost.central
    return f"{central.capital:,.0f}", f"{central.yearly:,.0f}"


def _price_range(other: Compared) -> str:
    if other.high <= other.low:
        return money(other.central)
    return f"{money(other.central)} ({money(other.low)} to {money(other.high)})"


def _there(other: Compared) -> str:
    return {True: "yes", False: "no", None: "not said"}[other.there]


def _even_litres(other: Compared) -> str:
    litres = other.even.litres_per_day
    return NONE if litres is None else f"{litres:,.0f}" if litres >= 10.0 else tables.number(litres, 2)


def _even_device(other: Compared) -> str:
    price = other.even.device_price
    return "not even free" if price is None else money(price)


def net_assumptions(answer: Answer) -> Table:
    """The losses between gutter and tank: value, whose, why."""
    rows = []
    for name, table in (("collection", answer.case.collection), ("treatment", answer.case.treatment)):
        for key, entry in declared_fields(type(table)).items():
            value = getattr(table, key)
            written = as_text(value, entry.unit) if entry.kind == "quantity" else str(value)
            default = entry.default
            rows.append(
                (entry.sentence, written, f"[{name}]", "case" if value != default else "default", WHY[key])
            )
    return Table(
        "Losses between gutter and tank",
        ("Loss", "Value", "Table", "Whose", "Why the default is what it is"),
        rows,
        frozenset({0, 1, 2, 3, 4}),
    )


def price_assumptions(answer: Answer, references: References) -> Table:
    """Every price and life that the cost rests on."""
    rows = []
    first = answer.harvesters[0].decision.cost
    seen: set[object] = set()
    for one in answer.harvesters:
        for name, entry in one.decision.cost.rows.items():
            numbers = (name, entry.value, entry.low, entry.high)
            if name in (*SORBENT_KEYS, *PRICE_KEYS) or numbers in seen:
                continue  # sorbents and own electricity follow below
            whose = f" ({one.case.name})" if name in seen else ""  # a kind may have its own price
            seen |= {name, numbers}
            words = _of_basis(entry.sentence, one.year.attrs["basis"])
            rows.append(_price_row(words + whose, entry, references))
    if answer.case.power is not None:
        rows += [_price_row(entry.sentence, entry, references) for entry in answer.case.power.prices.values()]
    for one in answer.harvesters:
        sorbent = one.case.sorbent
        if sorbent is None or sorbent.key in seen:
            continue
        seen.add(sorbent.key)
        for name in SORBENT_KEYS:
            entry = one.decision.cost.rows[name]
            rows.append(_price_row(f"{sorbent.name}: {entry.sentence.lower()}", entry, references))
    return Table(
        f"Prices and lives, {first.currency}",
        ("Number", "Central", "Between", "Unit", "Whose, and from where"),
        rows,
        frozenset({0, 3, 4}),
    )


def _price_row(words: str, entry: Assumption, references: References) -> tuple[str, ...]:
    source = f" [{references.number(entry.source)}]" if entry.source else ""
    between = "" if entry.high <= entry.low else f"{plain(entry.low)} to {plain(entry.high)}"
    return (words, f"{plain(entry.value)}", between, _unit(entry), entry.provenance() + source)


def power_context(
    one: HarvesterAnswer, key: str, drawer: Callable[[charts.Figure], dict[str, Any]]
) -> dict[str, Any] | None:
    """Electricity off the grid, for harvesters of a case that asks for it."""
    plant = one.power
    if plant is None:
        return None
    found = plant.found
    parts = np.split(found.load, np.cumsum(DAYS_IN_MONTH)[:-1] * 24)
    asked = np.array([part.sum() * HOUR / KWH for part in parts])
    curves = {share: (areas, batteries / KWH) for share, (areas, batteries) in found.curves.items()}
    own = (found.pair.area, found.pair.battery / KWH)
    return {
        "table": power_table(one),
        "words": power_words(one),
        "curve": drawer(charts.modules_and_battery(key, curves, own, not any(found.sized))),
        "months": drawer(charts.unserved_by_month(key, found.unserved_by_month / KWH, asked)),
    }


def power_table(one: HarvesterAnswer) -> Table:
    """What the plant's own electricity is made of, and what it does."""
    assert one.power is not None
    plant = one.power
    found, currency = plant.found, one.decision.cost.currency
    low, value, high = (found.per_kwh(end) for end in ("low", "value", "high"))
    sized = {True: "sized here", False: "the case"}
    price = (
        "" if value is None or low is None or high is None else f"{money(low)} to {money(high)} {currency}"
    )
    rows = [
        ("Solar modules", f"{tables.number(found.pair.area)} m²",
         f"{plain(found.peak_power / 1000.0)} kW peak, about {MODULE_MASS * found.pair.area:,.0f} kg; {sized[found.sized[0]]}"),
        ("Battery", f"{plain(found.pair.battery / KWH)} kWh",
         f"about {BATTERY_MASS * found.pair.battery / KWH:,.0f} kg; {sized[found.sized[1]]}"),
        ("Inverter", f"{plain(found.inverter / 1000.0)} kW", "for the mean of the highest hour: motors and compressors start with several times that"),
        ("Electricity asked for", f"{found.energy / KWH:,.0f} kWh a year", f"{plain(found.load.mean())} W in the mean"),
        ("Missing", tables.percent(found.unserved_share, 2), f"of the energy, in {int(found.dark.sum())} hours of the year"),
        ("Sun that nothing takes", f"{found.year.spilled.sum() / KWH:,.0f} kWh a year", "while the battery is full"),
        ("To start", f"{found.capital:,.0f} {currency}", "modules, battery and inverter at central prices"),
        ("A served kWh", f"{money(value)} {currency}" if value is not None else NONE, price),
        ("Litres collected with the plant off in those hours", f"{plain(plant.litres_with_cuts)} L/day",
         f"what headline, cost and days met take; {plain(plant.litres_per_day)} L/day with all its electricity"),
    ]  # fmt: skip
    return Table("Electricity off the grid", ("What", "How much", "Remark"), rows, frozenset({0, 2}))


def power_words(one: HarvesterAnswer) -> list[str]:
    """Say how it was worked out and what it leaves out."""
    assert one.power is not None
    plant, found = one.power, one.power.found
    way = "cheapest" if found.choices.supply.choose == "least cost" else "smallest in area"
    said = []
    if any(found.sized):
        said.append(
            f"The pair taken is the {way} of those tried that leaves no more than "
            f"{plain(100.0 * found.choices.supply.unserved)} % of the year's electricity unserved."
        )
    said.append(
        "Hour by hour: the sun on the modules, their temperature and losses, a battery between its floor and full, "
        "the inverter at its part load. One weather year: another has longer dull spells. Left out: starting "
        "currents, the battery's temperature and ageing, shade on the modules."
    )
    if found.dark.any():
        said.append(
            "The plant was simulated once more, off for the whole of every hour that lacks any electricity (dampers, "
            f"delay and restart as in [power_cuts]): it loses {tables.percent(plant.litres_lost, 1)} of its litres. "
            f"That year asks for electricity at other hours and would itself lack some in {plant.still_dark} hours "
            f"({tables.percent(plant.still_unserved, 2)} of its energy)."
        )
    cost = one.decision.cost
    if cost.size.own_power is not None:
        said.append(
            "Modules, battery and inverter are in what the plant costs to start, and in the cost of a litre below with "
            "their upkeep and with each bought anew at the end of its life; no kWh is paid for beside them. The price of "
            "a served kWh above spreads each over its own life and serves to compare with a grid."
        )
    else:
        price = cost.rows["electricity_price"]
        said.append(
            f"The case sets a price of electricity ({money(price.value)} {price.unit}): the cost of a litre below takes "
            "it for each kWh, and modules, battery and inverter are not counted beside it."
        )
    said.append(
        "Electricity beside water, and batteries: fuses at the battery, residual-current protection, a dry, cool and "
        "vented place for the battery, no bare terminals; the code of the place and a licensed electrician decide."
    )
    return said


# ---------------------------------------------------------------- charts
def _cost_chart(one: HarvesterAnswer, key: str) -> charts.Figure:
    cost = one.decision.cost
    parts = sorted(
        ((name, value) for name, value in cost.central.parts.items() if abs(value) > 1e-9),
        key=lambda p: -p[1],
    )
    unit = f"{cost.currency} a delivered litre"
    total = cost.central.per_litre or math.nan
    return charts.account_bars(
        f"{key}_cost",
        f"What a delivered litre costs, part by part: {money(total)} {cost.currency} at the central prices",
        unit,
        [("cost", name.capitalize(), value) for name, value in parts],
    )


def other_water_chart(one: HarvesterAnswer) -> charts.Figure | None:
    """The plant's litre and other water on one scale, if there is a litre."""
    cost = one.decision.cost
    if cost.low is None or cost.high is None or cost.central.per_litre is None:
        return None
    rows = [("this plant", cost.low, cost.central.per_litre, cost.high, True)]
    rows += [
        (f"{o.name}{'' if o.there is not False else ' (not there)'}", o.low, o.central, o.high, False)
        for o in one.decision.verdict.compared
        if o.central > 0.0
    ]
    return charts.prices_on_one_scale("other_water", cost.currency, rows)
