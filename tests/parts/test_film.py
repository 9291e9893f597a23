"""Films of water: values from the definitions in docs/theory/passive_box.md and printed vapour pressures."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from welkinwell.parts.film import (
    ALL_LIQUID,
    DEW_BAND,
    DRAIN_TIME,
    FREEZING_SPAN,
    HALF_WETTED,
    drained,
    film_enthalpy,
    film_pressure,
    ice_share,
    smooth_step,
    wetted_share,
    working_share,
)

ZERO = 273.15
steady = settings(deadline=None, derandomize=True, max_examples=150)


def slope(function, x, step):
    """Fourth-order central difference."""
    a, b, c, d = (function(x + k * step) for k in (-2, -1, 1, 2))
    return (a - 8.0 * b + 8.0 * c - d) / (12.0 * step)


def test_half_of_a_surface_is_wet_under_two_grams():
    """z2/(1 + z2): 1/2 at the half point, 0.8 at twice, 0.2 at half of it (by hand)."""
    assert wetted_share(HALF_WETTED)[0] == 0.5
    assert wetted_share(2 * HALF_WETTED)[0] == pytest.approx(0.8, rel=1e-12)
    assert wetted_share(0.5 * HALF_WETTED)[0] == pytest.approx(0.2, rel=1e-12)
    # a film that a step has taken below zero counts the other way, so that it fills again
    assert wetted_share(-HALF_WETTED)[0] == -0.5
    assert wetted_share(0.0) == (0.0, 0.0)


def test_step_by_hand():
    assert smooth_step(0.5) == pytest.approx((0.5, 1.5))
    assert smooth_step(0.25)[0] == pytest.approx(5.0 / 32.0)


def test_a_dry_surface_condenses_in_full_and_does_not_evaporate():
    assert working_share(DEW_BAND, 0.0)[0] == 1.0
    assert working_share(5.0 * DEW_BAND, 0.0)[0] == 1.0
    assert working_share(-1.0, 0.0)[0] == 0.0
    assert working_share(-1000.0, HALF_WETTED)[0] == 0.5  # evaporates where it is wet
    assert working_share(0.5 * DEW_BAND, HALF_WETTED)[0] == pytest.approx(0.75)


def test_films_freeze_over_half_a_kelvin():
    assert ice_share(ZERO - FREEZING_SPAN)[0] == pytest.approx(0.5, abs=1e-15)
    assert ice_share(ZERO - 1.5)[0] > 0.9999
    assert ice_share(ZERO + 1.0)[0] < 5e-5
    # tanh is cut at +2 K: what is dropped there
    assert 0.5 * (1.0 - np.tanh(2.25 / 0.25)) < 2e-8


def test_vapour_pressures_over_ice_and_water_as_printed():
    """ASHRAE Fundamentals 2017 table 3 (IAPWS): 20 C 2339.2 Pa, -10 C over ice 259.9, -20 C 103.2."""
    assert film_pressure(293.15)[0] == pytest.approx(2339.2, rel=5e-4)
    assert film_pressure(263.15)[0] == pytest.approx(259.9, rel=5e-4)
    assert film_pressure(253.15)[0] == pytest.approx(103.2, rel=1e-3)


def test_ice_holds_less_heat_by_the_heat_of_fusion():
    """-10 C: 4186 x -10 - 333,600 (one specific heat for ice and water, as the theory page says)."""
    assert film_enthalpy(263.15)[0] == pytest.approx(-41860.0 - 333600.0, rel=1e-9)
    assert film_enthalpy(283.15)[0] == pytest.approx(41860.0, rel=1e-12)


def test_what_stands_above_the_hold_up_runs_off_in_two_minutes_and_ice_stays():
    assert drained(0.18, 0.08, 290.0)[0] == pytest.approx(0.1 / DRAIN_TIME)
    assert drained(0.07, 0.08, 290.0)[0] == 0.0
    assert drained(1.0, 0.08, ZERO - 3.0)[0] < 1e-9 * drained(1.0, 0.08, 290.0)[0]


@given(T=st.floats(200.0, 400.0))
@steady
def test_slopes_in_temperature(T):
    assume(abs(T - ALL_LIQUID) > 2e-3)  # where the last ten-millionth of ice is dropped
    assert film_enthalpy(T)[1] == pytest.approx(
        slope(lambda x: film_enthalpy(x)[0], T, 2e-3), rel=1e-6, abs=1e-2
    )
    assert film_pressure(T)[1] == pytest.approx(slope(lambda x: film_pressure(x)[0], T, 2e-3), rel=1e-6)
    share, by_T, by_TT = ice_share(T)
    assert 0.0 <= share <= 1.0
    assert by_T == pytest.approx(slope(lambda x: ice_share(x)[0], T, 2e-3), rel=1e-6, abs=1e-7)
    assert by_TT == pytest.approx(slope(lambda x: ice_share(x)[1], T, 2e-3), rel=1e-6, abs=1e-6)
    by_difference = slope(lambda x: drained(0.5, 0.08, x)[0], T, 2e-3)
    assert drained(0.5, 0.08, T)[2] == pytest.approx(by_difference, rel=1e-6, abs=1e-9)


@given(film=st.floats(-0.01, 0.3), excess=st.floats(-100.0, 100.0))
@steady
def test_slopes_in_film_and_excess(film, excess):
    near = {"rel": 1e-4, "abs": 2e-3}  # curvature jumps at dry and at the band's ends
    assert wetted_share(film)[1] == pytest.approx(slope(lambda x: wetted_share(x)[0], film, 1e-9), **near)
    share, by_excess, by_film = working_share(excess, film)
    assert -1.0 <= share <= 1.0 and (film < 0.0 or share >= 0.0)
    assert by_excess == pytest.approx(slope(lambda x: working_share(x, film)[0], excess, 1e-4), **near)
    assert by_film == pytest.approx(slope(lambda x: working_share(excess, x)[0], film, 1e-9), **near)
    by_difference = slope(lambda x: drained(x, 0.08, 300.0)[0], film, 1e-7)
    assert drained(film, 0.08, 300.0)[1] == pytest.approx(by_difference, rel=1e-4, abs=1e-6)
