"""The tank by a hand-worked fortnight and by what must hold for any tank."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.supply.tank import tank_year

INFLOW = np.array([12.0, 8, 5, 3, 4, 9, 14, 15, 10, 6])
DEMAND = np.full(10, 8.0)


def test_ten_days_by_hand():
    """A tank that never spills: drawn from what stood there in the morning, the day's water after it.

    The year runs twice, so it starts with what the first round left: 14 L. Round one stores 12, 12, 9, 4,
    4, 9, 15, 22, 24, 22 L; round two from 22: 26, 26, 23, 18, 14, 15, 21, 28, 30, 28 L, all demand met.
    """
    found = tank_year(INFLOW, DEMAND, 1000.0)
    assert found.stored.tolist() == [26, 26, 23, 18, 14, 15, 21, 28, 30, 28]
    assert found.delivered.tolist() == DEMAND.tolist()
    assert found.share_of_days_met == 1.0
    assert found.longest_shortfall == 0


def test_a_dry_tank_by_hand():
    """3 L a day against 8 L: every morning holds yesterday's 3 L; 5 L are missing every day."""
    found = tank_year(np.full(6, 3.0), np.full(6, 8.0), 1000.0)
    assert found.delivered.tolist() == [3.0] * 6
    assert found.missing.tolist() == [5.0] * 6
    assert found.share_of_days_met == 0.0
    assert found.share_of_demand_met == pytest.approx(3.0 / 8.0)
    assert found.longest_shortfall == 6


def test_shares_and_runs_are_counted():
    """Eight litres on every third day feed the day after it and no other (by hand)."""
    found = tank_year(np.tile([8.0, 0.0, 0.0], 4), np.full(12, 8.0), 100.0)
    assert found.delivered.tolist() == [0.0, 8.0, 0.0] * 4
    assert found.share_of_days_met == pytest.approx(1.0 / 3.0)
    assert found.longest_shortfall == 2


def test_yield_comes_after_spillage():
    """10 L tank, 6 L in and 4 L out every day (by hand): the full tank takes 4 L of the day's 6 before people
    draw 4 L of it, so it ends each day at 6 L, spills 2 L and delivers 4 L; it is never full in the evening.
    """
    found = tank_year(np.full(8, 6.0), np.full(8, 4.0), 10.0)
    assert found.stored.tolist() == [6.0] * 8
    assert found.spilled.tolist() == [2.0] * 8
    assert found.delivered.tolist() == [4.0] * 8


def test_no_demand_is_met():
    found = tank_year(np.ones(5), np.zeros(5), 2.0)
    assert found.share_of_demand_met == 1.0
    assert found.stored.tolist() == [2.0] * 5


days = st.lists(st.tuples(st.floats(0.0, 50.0), st.floats(0.0, 50.0)), min_size=1, max_size=60)


@given(days=days, volume=st.floats(0.0, 500.0))
@settings(deadline=None, derandomize=True, max_examples=200)
def test_water_is_kept_and_the_tank_is_never_below_empty_or_above_full(days, volume):
    inflow, demand = (np.array(column) for column in zip(*days, strict=True))
    found = tank_year(inflow, demand, volume)
    assert np.all(found.stored >= 0.0)
    assert np.all(found.stored <= volume * (1 + 1e-12))
    assert np.all(found.delivered >= 0.0)
    assert np.all(found.spilled >= -1e-9)
    assert np.all(found.missing >= 0.0)
    assert found.delivered + found.missing == pytest.approx(demand)
    # each day's water: what stood there and came in was delivered, spilled or kept
    before = found.stored[:-1]
    rest = before + inflow[1:] - found.delivered[1:] - found.spilled[1:]
    assert found.stored[1:] == pytest.approx(rest, abs=1e-9)


@given(days=days, volume=st.floats(0.0, 200.0), more=st.floats(0.0, 200.0))
@settings(deadline=None, derandomize=True, max_examples=100)
def test_a_larger_tank_never_delivers_less(days, volume, more):
    inflow, demand = (np.array(column) for column in zip(*days, strict=True))
    small, large = tank_year(inflow, demand, volume), tank_year(inflow, demand, volume + more)
    assert large.delivered.sum() >= small.delivered.sum() - 1e-9
