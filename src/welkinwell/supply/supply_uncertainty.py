"""How sure a plant's cost and verdict are: its water drawn as the litres were, its prices drawn beside.

The days of a draw's year are those of the case's year, each month's water multiplied by what the draw gave
in that month over what the case gave: sun and cloud come in the same order. Prices are drawn each by itself
(`cost`), one set for each draw of the litres. A verdict of a draw takes its own cost and its own share of the
demand, and other water at its central price.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import DAYS_IN_MONTH
from welkinwell.supply.cost import SEED, LitreCost, litre_carbon, price_draws, priced, two_sided
from welkinwell.supply.plant import PlantSupply
from welkinwell.supply.tank import share_met, tank_steps
from welkinwell.supply.verdict import GOOD_DAYS, LEAST_SHARE, NO, NOT_THIS, YES, Verdict, money

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Standing:
    """A plant as it stands: delivered [L/day], cost [money/L], carbon [kg/L], shares met [1]."""

    delivered: float
    cost: float | None
    carbon: float | None
    days_met: float
    demand_met: float


@dataclass(frozen=True)
class SupplyUncertainty:
    """A plant in the draws of its litres, arrays of shape (draws,).

    cost: of a delivered litre with drawn prices, nan without a litre [money/L]; by_litres: the same at the
    central prices; days_met, demand_met: shares of days and of the demand [1]; stands: share of the draws in
    which the verdict of the case would be given again, None where it weighs intervals; cheaper: other water
    that is there, and the share of draws in which a litre of it costs less; delivered [L/day]; carbon: of a
    delivered litre with drawn factors, nan without a litre [kg/L]; now: the plant as it stands.
    """

    currency: str
    cost: Floats
    by_litres: Floats
    days_met: Floats
    demand_met: Floats
    stands: float | None
    cheaper: list[tuple[str, float]]
    delivered: Floats
    carbon: Floats
    now: Standing

    @property
    def share_that_supplies(self) -> float:
        """Share of the draws in which the whole demand is drawn on nine days in ten or more [1]."""
        return float((self.days_met >= GOOD_DAYS).mean()) if self.days_met.size else 0.0

    def words(self) -> list[str]:
        """Say how sure cost, supply and verdict are."""
        if not self.days_met.size:
            return ["No draw could be simulated, so nothing tells how sure cost and supply are."]
        low, middle, high = _exceeded(self.cost)
        dry = float(np.isnan(self.cost).mean())
        said = []
        if low is None or middle is None or high is None:
            said.append("In no draw a litre is delivered.")
        else:
            said.append(
                f"With litres and prices in doubt a delivered litre costs {money(low)}, {money(middle)} and "
                f"{money(high)} {self.currency}: exceeded in 90, 50 and 10 % of the draws"
                + (f" that deliver any; {_percent(dry)} of the draws deliver none." if dry > 0.0 else ".")
            )
        said.append(
            f"In {_percent(self.share_that_supplies)} of the draws the whole demand is met on nine days in "
            "ten or more."
        )
        said += [f"{name} water costs less in {_percent(share)} of them." for name, share in self.cheaper[:1]]
        if self.stands is not None:
            said.append(f"The verdict is the same in {_percent(self.stands)} of the draws.")
        return said

    def as_data(self) -> dict[str, Any]:
        """Give all of it as JSON-ready data."""
        return {
            "currency": self.currency,
            "cost_per_delivered_litre_exceeded_in": _named(self.cost),
            "the_same_at_central_prices": _named(self.by_litres),
            "share_of_days_met_exceeded_in": _named(self.days_met),
            "share_of_demand_met_exceeded_in": _named(self.demand_met),
            "litres_delivered_per_day_exceeded_in": _named(self.delivered),
            "carbon_kg_per_delivered_litre_exceeded_in": _named(self.carbon),
            "share_of_draws_that_meet_nine_days_in_ten": self.share_that_supplies,
            "share_of_draws_with_the_same_verdict": self.stands,
            "other_water_cheaper_in": dict(self.cheaper),
            "words": self.words(),
        }


def supply_uncertainty(
    supply: PlantSupply,
    cost: LitreCost,
    verdict: Verdict,
    case_by_month: Floats,
    by_month: Floats,
    electricity: Floats,
    whose: Mapping[str, str] | None = None,
    numbers: NDArray[np.int64] | None = None,
) -> SupplyUncertainty:
    """Put a plant through the draws of its litres.

    supply, cost, verdict: of the case as it stands; case_by_month: its litres in each month, shape (12,);
    by_month: those of the draws, shape (draws, 12) [the same unit], draws that failed left out; electricity:
    of the devices in each draw, shape (draws,) [kWh/year]; whose: see `cost.price_draws`; numbers: places of
    these draws among all, shape (draws,), so that plants compared draw by draw pay the same prices.
    """
    month = np.repeat(np.arange(12), DAYS_IN_MONTH)
    ratio = np.divide(by_month, case_by_month, out=np.zeros_like(by_month), where=case_by_month > 0.0)
    inflow = supply.net.by_day()[:, None] * ratio.T[month]
    drawn, _, missing, _ = tank_steps(inflow, supply.demand, np.full(by_month.shape[0], supply.volume))
    demand_met = drawn.sum(axis=0) / max(float(supply.demand.sum()), 1e-12)
    centre = {name: entry.value for name, entry in cost.rows.items()}
    prices = price_draws(cost.rows, whose)
    # one chance for the factors of all materials: low together or high together, as in `litre_carbon`
    chance = np.random.default_rng(SEED).permutation(len(prices)) / len(prices)
    places = np.arange(by_month.shape[0]) if numbers is None else numbers
    found = []
    for number, place in enumerate(places):
        size = replace(
            cost.size,
            net=float(inflow[:, number].sum()),
            delivered=float(drawn[:, number].sum()),
            electricity=float(electricity[number]),
        )
        of_draw = int(place) % len(prices)
        found.append((
            _or_nan(priced(size, prices[of_draw]).per_litre),
            _or_nan(priced(size, centre).per_litre),
            _between(litre_carbon(size, prices[of_draw]), float(chance[of_draw])),
        ))  # fmt: skip
    costs = np.array(found, dtype=float).reshape(-1, 3)
    there = [other for other in verdict.compared if other.there]
    paid = np.where(np.isfinite(costs[:, 0]), costs[:, 0], np.inf)
    cheaper = [(other.name, float((other.central < paid).mean())) for other in there if paid.size]
    return SupplyUncertainty(
        cost.currency,
        costs[:, 0],
        costs[:, 1],
        share_met(missing, supply.demand),
        demand_met,
        _stands(verdict.decision, paid, demand_met, [other.central for other in there]),
        cheaper,
        drawn.sum(axis=0) / supply.demand.size,
        costs[:, 2],
        as_it_stands(supply, cost),
    )


def as_it_stands(supply: PlantSupply, cost: LitreCost) -> Standing:
    """Give the figures of a plant in the year of its case, nothing drawn."""
    return Standing(
        float(supply.daily.delivered.mean()),
        cost.central.per_litre,
        cost.carbon[1] if cost.carbon is not None else None,
        supply.daily.share_of_days_met,
        float(supply.daily.delivered.sum() / max(float(supply.demand.sum()), 1e-12)),
    )


def _between(ends: tuple[float, float, float] | None, chance: float) -> float:
    """Turn a chance into a value between low and high, the central one its median; nan without values."""
    if ends is None:
        return float("nan")
    low, central, high = ends
    middle = (central - low) / (high - low) if high > low else 0.5
    return low + (high - low) * float(two_sided(np.array(chance), middle))


def _stands(decision: str, cost: Floats, met: Floats, others: Sequence[float]) -> float | None:
    """Share of the draws that end as the case does: no, not this design, or yes."""
    dearer = cost > min(others) if others else ~np.isfinite(cost)
    given = np.where(dearer, NO, np.where(met < LEAST_SHARE, NOT_THIS, YES))
    return float((given == decision).mean()) if decision in (NO, NOT_THIS, YES) and cost.size else None


def _exceeded(values: Floats) -> tuple[float | None, float | None, float | None]:
    good = values[np.isfinite(values)]
    if good.size == 0:
        return None, None, None
    low, middle, high = (float(x) for x in np.quantile(good, [0.1, 0.5, 0.9]))
    return low, middle, high


def _named(values: Floats) -> dict[str, float | None]:
    return dict(zip(("90 %", "50 %", "10 %"), _exceeded(values), strict=True))


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else value


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"
