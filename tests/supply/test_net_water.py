"""Net water by hand, and what must hold for any plant."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.supply.net_water import STEPS, WHY, Collection, Treatment, net_water

NONE = Treatment(rejects=0.0, backwash=0.0, samples_per_year=0, sample_volume=0.0, availability=1.0)


def test_one_day_by_hand():
    """10 L on 10 m2 in two hours: 10 % drip (9 L), 0.1 mm of flush takes 1 L of the first hour's 3.6 L, half
    is rejected (4 L), a quarter of that washes filters (3 L), 2 L are sampled on the year's middle day (1 L),
    80 % of the time it works (0.8 L)."""
    year = np.zeros((365, 24))
    year[182, 10], year[182, 11] = 4.0, 6.0
    found = net_water(
        year.ravel(),
        10.0,
        Collection(drips=0.1, first_flush=1e-4),
        Treatment(rejects=0.5, backwash=0.25, samples_per_year=1, sample_volume=0.002, availability=0.8),
    )
    by_hand = (10.0, 9.0, 8.0, 3.0, 1.0, 0.8)
    assert [name for name, _ in found.chain()] == list(STEPS)
    assert [litres * 365.0 for _, litres in found.chain()] == pytest.approx(by_hand)
    flushed = found.after_first_flush.reshape(365, 24)[182]
    assert (flushed[10], flushed[11]) == pytest.approx((2.6, 5.4))
    sampled = found.after_samples.reshape(365, 24)[182]
    assert (sampled[10], sampled[11]) == pytest.approx((0.0, 1.0))


def test_a_sample_waits_for_water():
    """Due on day 182, dry until day 200: taken there; a day with less than the sample gives what it has."""
    days = np.zeros(365)
    days[200], days[201] = 1.5, 5.0
    found = net_water(
        days,
        1.0,
        Collection(drips=0.0),
        Treatment(backwash=0.0, samples_per_year=1, availability=1.0),
        per_day=1,
    )
    assert (found.net[200], found.net[201]) == pytest.approx((0.0, 4.5))


def test_the_flush_takes_no_more_than_there_is():
    days = np.tile([0.05, 0.0, 3.0], 10)
    found = net_water(days, 2.0, Collection(drips=0.0, first_flush=1e-4), NONE, per_day=1)
    assert found.net.reshape(-1, 3)[0].tolist() == pytest.approx([0.0, 0.0, 2.8])


def test_every_default_says_why():
    from welkinwell.declare import declared_fields

    assert set(WHY) == {*declared_fields(Collection), *declared_fields(Treatment)}


share = st.floats(0.0, 0.9)


@given(
    water=st.lists(st.floats(0.0, 20.0), min_size=24, max_size=24),
    drips=share, flush=st.floats(0.0, 0.005), rejects=share, backwash=st.floats(0.0, 0.5),
    samples=st.integers(0, 365), volume=st.floats(0.0, 0.1), works=st.floats(0.05, 1.0),
)  # fmt: skip
@settings(deadline=None, derandomize=True, max_examples=100)
def test_each_step_leaves_no_more_than_the_one_before(
    water, drips, flush, rejects, backwash, samples, volume, works
):
    year = np.tile(np.array(water), 20)
    found = net_water(
        year, 5.0, Collection(drips=drips, first_flush=flush),
        Treatment(
            rejects=rejects, backwash=backwash, samples_per_year=samples, sample_volume=volume,
            availability=works,
        ),
    )  # fmt: skip
    steps = [getattr(found, name) for name in STEPS]
    for before, after in pairwise(steps):
        assert np.all(after <= before + 1e-9)
        assert np.all(after >= -1e-9)
