"""The filling rules: a line across short gaps, the same hour of other days across long ones."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.climate.gaps import filled, missing_share, runs


def year():
    hours = np.arange(8760)
    return 20.0 + 8.0 * np.sin(2.0 * np.pi * hours / 24.0) + 5.0 * np.sin(2.0 * np.pi * hours / 8760.0)


def test_six_hours_are_a_straight_line_and_seven_are_not():
    values = year()
    values[1000:1006] = np.nan
    out, straight, copied = filled(values)
    np.testing.assert_allclose(out[999:1007], np.linspace(values[999], values[1006], 8))
    assert (straight, copied) == (6, 0)
    values[2000:2007] = np.nan
    out, straight, copied = filled(values)
    assert (straight, copied) == (6, 7)
    np.testing.assert_allclose(out[2000:2007], 0.5 * (values[1976:1983] + values[2024:2031]))


def test_a_gap_of_days_takes_the_nearest_days():
    values = year()
    values[4800 : 4800 + 72] = np.nan
    out, _, copied = filled(values)
    assert copied == 72
    hour = 4800 + 30
    assert out[hour] == pytest.approx(0.5 * (values[hour - 48] + values[hour + 48]))
    assert np.abs(out - year()).max() < 0.2


def test_ends_of_the_year_are_filled_from_one_side():
    values = year()
    values[:5] = np.nan
    values[-3:] = np.nan
    out, straight, copied = filled(values)
    assert (straight, copied) == (0, 8)
    np.testing.assert_array_equal(out[:5], values[24:29])


def test_more_than_fifteen_days_stay_missing():
    values = year()
    values[3000 : 3000 + 24 * 40] = np.nan
    out, _, _ = filled(values)
    assert np.isnan(out[3000 + 24 * 20])
    assert not np.isnan(out[3000 + 24])


@settings(deadline=None, derandomize=True, max_examples=60)
@given(st.lists(st.tuples(st.integers(0, 8759), st.integers(1, 40)), max_size=12), st.booleans())
def test_what_is_there_stays_and_what_is_filled_is_within_the_years_range(gaps, straight):
    values = year()
    for first, length in gaps:
        values[first : first + length] = np.nan
    known = ~np.isnan(values)
    out, line, copied = filled(values, straight)
    np.testing.assert_array_equal(out[known], values[known])
    assert line + copied == np.count_nonzero(~known) == round(8760 * missing_share(values))
    assert out.min() >= np.nanmin(values) and out.max() <= np.nanmax(values)
    assert line == 0 or straight


@settings(deadline=None, derandomize=True, max_examples=60)
@given(st.lists(st.booleans(), max_size=60))
def test_runs_cover_the_mask_exactly(mask):
    mask = np.array(mask, dtype=bool)
    again = np.zeros_like(mask)
    for first, last in runs(mask):
        assert mask[first:last].all()
        again[first:last] = True
    np.testing.assert_array_equal(again, mask)
