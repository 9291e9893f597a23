"""Whether to build: the litres, the area and the cost of a plant against other ways to get water."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from welkinwell.quantities import number, plain
from welkinwell.supply.cost import Alternative, BreakEven, LitreCost, break_even
from welkinwell.supply.demand import Demand, demand_warnings
from welkinwell.supply.plant import OPEN_TANK, PlantSupply

LEAST_SHARE: Final = 0.5  # of the demand: below, the design as drawn is no supply; judgement
GOOD_DAYS: Final = 0.9  # share of days met from which a design is called a supply; judgement

NO: Final = "do not build"
NOT_THIS: Final = "do not build this design"
ELSEWHERE: Final = "do not build where other water can be had"
CLOSE: Final = "too close to call"
YES: Final = "worth building"
DECISIONS: Final = (NO, NOT_THIS, ELSEWHERE, CLOSE, YES)


@dataclass(frozen=True)
class Compared:
    """One other way to get water beside the plant's litre [money/L].

    says: "cheaper", "dearer" or "about the same" than a litre of the plant, by whether their intervals part.
    """

    name: str
    low: float
    central: float
    high: float
    there: bool | None
    given: bool
    says: str
    source: str
    even: BreakEven


@dataclass(frozen=True)
class Verdict:
    """Whether to build, said first and plainly.

    decision: one of this module's five; sentence: the decision in a sentence; reasons: more sentences;
    area_per_person, area_needed: aperture at which the worst month, and the year's mean, gives the demand
    [m2], None without water (per person also None without people).
    """

    decision: str
    sentence: str
    reasons: list[str]
    compared: list[Compared]
    area_per_person: float | None
    area_per_person_worst_month: float | None
    area_needed: float | None
    area_needed_worst_month: float | None
    doubts: list[str] = field(default_factory=list)


def verdict(
    demand: Demand,
    supply: PlantSupply,
    cost: LitreCost,
    alternatives: Sequence[Alternative],
    area: float,
    basis: str = "aperture",
) -> Verdict:
    """Say whether to build. area: of all modules [m2]; basis: what these m2 are (aperture, bed face)."""
    mean, worst = _area_needed(demand, supply, area)
    each = demand.litres_per_person
    share = each / demand.litres_per_day if each is not None else None  # of the demand, for one person
    compared = compare(cost, alternatives)
    decision, sentence = _decided(supply, cost, compared)
    reasons = [*_reasons(demand, supply, cost, mean, worst, area, basis), *_fit(supply, decision, compared)]
    return Verdict(
        decision,
        sentence,
        reasons,
        compared,
        mean * share if mean is not None and share is not None else None,
        worst * share if worst is not None and share is not None else None,
        mean,
        worst,
        demand_warnings(demand),
    )


def _area_needed(demand: Demand, supply: PlantSupply, area: float) -> tuple[float | None, float | None]:
    """Give the aperture whose net water equals the demand, over the year and in the worst month [m2]."""
    net = supply.net_per_day
    mean = area * demand.litres_per_day / net if net > 0.0 else None
    got = supply.net_by_month
    if np.any((got <= 0.0) & (demand.months > 0.0)):
        return mean, None
    shares = demand.months[got > 0.0] / got[got > 0.0]
    return mean, area * float(shares.max(initial=0.0)) if mean is not None else None


def compare(cost: LitreCost, alternatives: Sequence[Alternative]) -> list[Compared]:
    """Hold a litre of the plant against each other way, the cheapest first."""
    found = []
    for other in alternatives:
        low, central, high = (x / 1000.0 for x in (other.price.low, other.price.value, other.price.high))
        if cost.low is None or cost.high is None or high < cost.low:
            says = "cheaper"
        elif low > cost.high:
            says = "dearer"
        else:
            says = "about the same"
        found.append(
            Compared(
                other.name, low, central, high, other.there, other.price.given, says,
                other.price.provenance(), break_even(cost, central),
            )
        )  # fmt: skip
    return sorted(found, key=lambda entry: entry.central)


def _decided(supply: PlantSupply, cost: LitreCost, compared: Sequence[Compared]) -> tuple[str, str]:
    """Choose: no water, surely cheaper water, too little water, close, cheaper if to be had, or yes."""
    per_litre = cost.central.per_litre
    if per_litre is None:
        return NO, "Do not build: this plant delivers no water in this weather year."
    price = f"{money(per_litre)} {cost.currency}"
    there = [other for other in compared if other.there]
    cheaper = [other for other in there if other.says == "cheaper"]
    if cheaper:
        return NO, _cheaper_sentence(cheaper[0], per_litre, cost.currency)
    met = supply.daily.share_of_demand_met
    if met < LEAST_SHARE:
        return NOT_THIS, (
            f"Do not build this design: it delivers {_percent(met)} of the water asked for. "
            "The area that would do is told below."
        )
    close = [other for other in there if other.says == "about the same"]
    if close:
        return CLOSE, (
            f"Too close to call: a delivered litre costs about {price}, {close[0].name} water "
            f"{money(close[0].central)}, and their intervals overlap. Firm prices of your own decide."
        )
    unknown = _unknown_and_cheaper(compared)
    if unknown:
        return ELSEWHERE, (
            f"Do not build where {_listed(unknown)} water can be had: a litre delivered by this plant "
            f"costs about {price}, and published prices are lower. It can pay only where there is none."
        )
    less = "less than any other water that the case says is there" if there else "and no other water is there"
    return YES, f"Worth building on these figures: a delivered litre costs about {price}, {less}."


def _unknown_and_cheaper(compared: Sequence[Compared]) -> list[str]:
    """Name the other water of which the case says nothing and that published prices make cheaper."""
    return [other.name for other in compared if other.there is None and other.says == "cheaper"]


def _cheaper_sentence(best: Compared, per_litre: float, currency: str) -> str:
    times = per_litre / best.central if best.central > 0.0 else 1.0
    more = f", {times:,.0f} times as much" if times >= 2.0 else ""
    return (
        f"Do not build: {best.name} water is there at {money(best.central)} {currency} a litre, and a litre "
        f"delivered by this plant costs {money(per_litre)} {currency}{more}."
    )


def _reasons(
    demand: Demand,
    supply: PlantSupply,
    cost: LitreCost,
    mean: float | None,
    worst: float | None,
    area: float,
    basis: str,
) -> list[str]:
    """Say the area, then the cost, each in a sentence or two."""
    said = []
    if mean is not None:
        tail = f", {plain(worst)} m² to cover the worst month by itself" if worst is not None else ""
        each = demand.litres_per_person
        person = (
            f"{plain(each)} L/day for one person take {plain(mean * each / demand.litres_per_day, 2)} m². "
            if each
            else ""
        )
        said.append(
            f"{person}The demand of {demand.asked} L/day takes {plain(mean)} m² of {basis} by the "
            f"year's mean{tail}; the plant has {plain(area)} m²."
        )
    central = cost.central.per_litre
    if cost.low is not None and cost.high is not None and central is not None:
        said.append(
            f"A delivered litre costs {money(cost.low)} to {money(cost.high)} {cost.currency} (exceeded in "
            f"90 and 10 % of draws of the prices, the litres taken as certain; {money(central)} at the "
            f"central prices); {_shares(cost)}."
        )
        said += _undrawn(supply, cost)
    return said


def _undrawn(supply: PlantSupply, cost: LitreCost) -> list[str]:
    """Say that much of the water is paid for and not drawn."""
    undrawn = 1.0 - supply.delivered_per_day / supply.net_per_day
    if undrawn < 0.2:
        return []
    why = "the tank is full or the demand small" if supply.volume < OPEN_TANK else "the demand is small"
    return [
        f"{_percent(undrawn)} of the net water is not drawn, because {why}: a "
        f"litre that reaches the tank costs {money(cost.central.per_net_litre or 0.0)} {cost.currency}."
    ]


def _shares(cost: LitreCost) -> str:
    """Say what makes up most of a litre's cost."""
    total = cost.central.per_litre or 1.0
    top = sorted(cost.central.parts.items(), key=lambda entry: -entry[1])[:3]
    return "most of it " + ", ".join(f"{name} ({_percent(value / total)})" for name, value in top)


def _fit(supply: PlantSupply, decision: str, compared: Sequence[Compared]) -> list[str]:
    """Say how far the plant meets its demand, what would do, and what other water may be cheaper."""
    if decision == NO:
        met = supply.daily.share_of_demand_met
        return [f"As drawn it meets {_percent(met)} of the demand."] if met < GOOD_DAYS else []
    said = []
    unknown = _unknown_and_cheaper(compared)
    if decision == NOT_THIS and unknown:
        said.append(f"Published prices of {_listed(unknown)} water are lower than this plant's.")
    days = supply.daily.share_of_days_met
    if days < GOOD_DAYS:
        said.append(f"As drawn it meets the whole demand on {_percent(days)} of days; {_enough(supply)}.")
    return said


def _enough(supply: PlantSupply) -> str:
    """Name the fewest modules with a tank that meet nine days in ten."""
    volumes = supply.area.volume[GOOD_DAYS]
    for count, volume in zip(supply.area.modules, volumes, strict=True):
        if math.isfinite(volume):
            return f"{count} modules with {volume:,.0f} L above the tap would meet {_percent(GOOD_DAYS)}"
    return f"no number of modules that was tried would meet {_percent(GOOD_DAYS)}"


def money(value: float) -> str:
    """Write a price with so many digits that count."""
    return number(value, 2)


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def verdict_summary(found: Verdict) -> dict[str, Any]:
    """Give a verdict as it stands in the summary."""
    return {
        "decision": found.decision,
        "sentence": found.sentence,
        "reasons": found.reasons,
        "doubts": found.doubts,
        "aperture_per_person_m2": found.area_per_person,
        "aperture_per_person_worst_month_m2": found.area_per_person_worst_month,
        "aperture_needed_m2": found.area_needed,
        "aperture_needed_worst_month_m2": found.area_needed_worst_month,
        "alternatives": [
            {
                "name": other.name,
                "per_litre": {"low": other.low, "central": other.central, "high": other.high},
                "there": other.there,
                "from": "case" if other.given else "published default",
                "says": other.says,
                "source": other.source,
                "break_even_litres_per_day": other.even.litres_per_day,
                "break_even_device_price": other.even.device_price,
            }
            for other in found.compared
        ],
    }
