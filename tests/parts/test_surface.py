"""Outer surfaces and radiation: handbook coefficients and radiation worked out by hand."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.parts.surface import (
    free_convection_constants,
    longwave_loss,
    radiation_between,
    surface_coefficient,
)


def test_wind_coefficient_is_watmuffs():
    """2.8 + 3.0 V (Watmuff1977): 8.8 W/(m2 K) at 2 m/s, without free convection when nothing is warmer."""
    design = PassiveBox()
    forced = design.wind_constant + design.wind_slope * 2.0
    assert surface_coefficient(forced, 300.0, 300.0, 3.0, 1.0)[0] == pytest.approx(8.8, rel=1e-12)


@pytest.mark.parametrize(
    ("tilt", "faces_up", "hot", "coefficient"),
    [
        # ASHRAE Fundamentals, turbulent free convection in air: vertical 1.31, hot facing up 1.52;
        # stably stratified, 0.76 in Walton1983. Times the cube root of the temperature difference.
        (math.pi / 2, True, True, 1.31),
        (math.pi / 2, True, False, 1.31),
        (math.pi / 2, False, True, 1.31),
        (0.0, True, True, 1.52),
        (0.0, True, False, 0.76),
        (0.0, False, True, 0.76),
        (0.0, False, False, 1.52),
    ],
)
def test_free_convection_as_the_handbook_has_it(tilt, faces_up, hot, coefficient):
    when_hot, when_cold = free_convection_constants(tilt, faces_up)
    rise = 20.0 if hot else -20.0
    found = surface_coefficient(1e-3, 300.0 + rise, 300.0, when_hot, when_cold)[0]
    assert found == pytest.approx(coefficient * 20.0 ** (1 / 3), rel=0.01)


def test_cubes_of_wind_and_free_convection_add():
    """Forced 8.8 and free 1.509 x 20^(1/3) = 4.097: cbrt(681.5 + 68.8) = 9.087 (by hand)."""
    hot, cold = free_convection_constants(0.0, True)
    assert surface_coefficient(8.8, 320.0, 300.0, hot, cold)[0] == pytest.approx(9.087, rel=1e-3)


def test_radiation_by_hand():
    """300 K black: 459.30 W/m2. Between 350 and 300 K at 0.5: 0.5 x 5.670374e-8 x 6.90625e9 = 195.81."""
    assert longwave_loss(1.0, 300.0, 250.0, 0.0, 1.0)[0] == pytest.approx(459.30, rel=1e-5)
    assert longwave_loss(0.9, 300.0, 300.0, 459.3003, 0.3)[0] == pytest.approx(0.0, abs=1e-4)
    assert longwave_loss(0.8, 300.0, 300.0, 359.3003, 0.25)[0] == pytest.approx(0.8 * 0.25 * 100.0, rel=1e-6)
    assert radiation_between(0.5, 350.0, 300.0)[0] == pytest.approx(195.81, rel=1e-4)


@given(
    T=st.floats(220.0, 420.0),
    T_air=st.floats(230.0, 330.0),
    forced=st.floats(0.5, 60.0),
    c=st.floats(0.1, 4.0),
)
@settings(deadline=None, derandomize=True, max_examples=150)
def test_slopes(T, T_air, forced, c):
    def difference(function, x, step=1e-3):
        return (function(x + step) - function(x - step)) / (2.0 * step)

    def coefficient(x):
        return surface_coefficient(forced, x, T_air, c, 0.5 * c)[0]

    assert surface_coefficient(forced, T, T_air, c, 0.5 * c)[1] == pytest.approx(
        difference(coefficient, T, 1e-4), rel=1e-5, abs=2e-4
    )
    assert longwave_loss(0.9, T, T_air, 300.0, 0.5)[1] == pytest.approx(
        difference(lambda x: longwave_loss(0.9, x, T_air, 300.0, 0.5)[0], T), rel=1e-7
    )
    _, by_1, by_2 = radiation_between(0.5, T, T_air)
    assert by_1 == pytest.approx(difference(lambda x: radiation_between(0.5, x, T_air)[0], T), rel=1e-7)
    assert by_2 == pytest.approx(difference(lambda x: radiation_between(0.5, T, x)[0], T_air), rel=1e-7)
