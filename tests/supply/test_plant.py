"""What of a plant's water is drawn, and what is left over without a tank."""

import numpy as np
import pytest

from welkinwell.supply.demand import read_demand
from welkinwell.supply.net_water import Collection, Treatment
from welkinwell.supply.plant import plant_supply


def untanked(hours, wanted):
    problems = []
    demand = read_demand({"litres_per_day": f"{wanted} L/day"}, "case.toml, [demand]", problems)
    assert problems == []
    return plant_supply(hours.ravel(), 1.0, 1, demand, None, Collection(), Treatment())


def test_all_that_is_drawn_leaves_nothing_over_and_never_less_than_nothing():
    """Means of the same litres, summed in another order, differ by rounding: it is no water at the tap."""
    rng = np.random.default_rng(1)
    found = [untanked(rng.uniform(0.0, 0.1, (365, 24)), 100.0) for _ in range(20)]
    assert all(0.0 <= one.spilled_per_day < 1e-12 for one in found)
    assert (
        min(one.net_per_day - one.delivered_per_day for one in found) < 0.0
    )  # rounding alone, in one of them


def test_what_is_not_drawn_without_a_tank_is_left_over():
    """24 L collected a day, 3 % dripped, 1 % of the rest washes filters, 95 % of the time: 2 L drawn."""
    supply = untanked(np.ones((365, 24)), 2.0)
    assert supply.spilled_per_day == pytest.approx(supply.net_per_day - 2.0)
    assert supply.spilled_per_day == pytest.approx(24.0 * 0.97 * 0.99 * 0.95 - 2.0, abs=0.05)
