"""The rounded maximum and the soft bound are once differentiable, monotone and finite."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.transfer.smooth_bounds import positive_part, softly_bounded

STEADY = settings(deadline=None, derandomize=True, max_examples=200)
ANY = st.floats(allow_nan=False, allow_infinity=False)


def test_positive_part_is_exact_outside_its_corner():
    assert positive_part(-0.2, 0.1) == (0.0, 0.0)
    assert positive_part(0.2, 0.1) == (0.2, 1.0)
    assert positive_part(0.0, 0.1)[0] == pytest.approx(0.025)


def test_bound_is_exact_inside():
    assert softly_bounded(3.0, 1.0, 5.0, 2.0) == (3.0, 1.0)
    assert softly_bounded(1e300, 1.0, 5.0, 2.0)[0] == pytest.approx(7.0)
    assert softly_bounded(-1e300, 1.0, 5.0, 2.0)[0] == pytest.approx(-1.0)


@STEADY
@given(st.floats(-20.0, 20.0))
def test_slopes_against_differences(value):
    h = 1e-6
    for function, rest in ((positive_part, (1.0,)), (softly_bounded, (-3.0, 5.0, 2.0))):
        expected = (function(value + h, *rest)[0] - function(value - h, *rest)[0]) / (2 * h)
        assert function(value, *rest)[1] == pytest.approx(expected, abs=2e-6)


@STEADY
@given(ANY)
def test_never_nan(value):
    assert all(math.isfinite(x) for x in positive_part(value, 0.05))
    bounded, slope = softly_bounded(value, 150.0, 500.0, 50.0)
    assert 100.0 <= bounded <= 550.0 and 0.0 <= slope <= 1.0
