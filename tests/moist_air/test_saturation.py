"""Saturation over liquid and ice against printed values, against each other and against differences."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.constants import FREEZING_POINT, WATER_GAS_CONSTANT
from welkinwell.moist_air import saturation as sat

ZERO = FREEZING_POINT
STEADY = settings(deadline=None, derandomize=True, max_examples=300)
ANY = st.floats(allow_nan=False, allow_infinity=False)

# t [°C], p [Pa], latent heat [kJ/kg]: IAPWS-95, computed with CoolProp 8.0.0
IAPWS_95 = [
    (0.01, 611.655, 2500.92),
    (5, 872.575, 2489.04),
    (10, 1228.199, 2477.19),
    (15, 1705.793, 2465.35),
    (20, 2339.318, 2453.52),
    (25, 3169.929, 2441.68),
    (30, 4246.971, 2429.81),
    (35, 5629.016, 2417.92),
    (40, 7384.938, 2405.98),
    (50, 12351.95, 2381.95),
    (60, 19946.43, 2357.66),
    (80, 47414.47, 2308.00),
    (100, 101418.0, 2256.40),
    (120, 198674.4, 2202.11),
    (150, 476164.5, 2113.75),
]

# t [°C], p [Pa]: IAPWS R14-08, its release formula evaluated with the iapws package
OVER_ICE = [
    (0, 611.153),
    (-5, 401.741),
    (-10, 259.874),
    (-15, 165.274),
    (-20, 103.239),
    (-30, 38.005),
    (-40, 12.841),
    (-50, 3.938),
]


def murphy_and_koop(t):
    """Equation 10 of Murphy and Koop (2005), written apart from the package."""
    return math.exp(
        54.842763
        - 6763.22 / t
        - 4.210 * math.log(t)
        + 0.000367 * t
        + math.tanh(0.0415 * (t - 218.8)) * (53.878 - 1331.22 / t - 9.44523 * math.log(t) + 0.014025 * t)
    )


@pytest.mark.parametrize(("celsius", "pressure", "heat"), IAPWS_95)
def test_printed_values_over_liquid(celsius, pressure, heat):
    assert sat.saturation_pressure(ZERO + celsius) == pytest.approx(pressure, rel=5e-4)
    assert sat.latent_heat(ZERO + celsius) == pytest.approx(heat * 1e3, rel=1e-3)


@pytest.mark.parametrize(("celsius", "pressure"), OVER_ICE)
def test_printed_values_over_ice(celsius, pressure):
    assert sat.ice_saturation_pressure(ZERO + celsius) == pytest.approx(pressure, rel=2e-4)


def test_check_value_of_the_ice_release():
    # IAPWS R14-08(2011), computer-program verification: p(230 K) = 8.94735 Pa
    assert sat.ice_saturation_pressure(230.0) == pytest.approx(8.94735, rel=1e-6)


@pytest.mark.parametrize("celsius", np.arange(-50.0, 0.1, 2.5))
def test_supercooled_water_is_murphy_and_koops(celsius):
    assert sat.saturation_pressure(ZERO + celsius) == pytest.approx(murphy_and_koop(ZERO + celsius), rel=1e-4)


def test_printed_supercooled_values():
    # Murphy and Koop form evaluated apart: -10 °C 286.45 Pa, -20 °C 125.50 Pa
    assert sat.saturation_pressure(ZERO - 10.0) == pytest.approx(286.45, rel=1e-4)
    assert sat.saturation_pressure(ZERO - 20.0) == pytest.approx(125.50, rel=1e-4)


@pytest.mark.parametrize(
    ("celsius", "share"), [(-55.0, 0.003), (-60.0, 0.011), (-70.0, 0.042), (-80.0, 0.087)]
)
def test_extension_below_minus_50_is_as_good_as_the_docs_say(celsius, share):
    assert sat.saturation_pressure(ZERO + celsius) == pytest.approx(
        murphy_and_koop(ZERO + celsius), rel=share
    )


def test_liquid_and_ice_meet_at_the_triple_point():
    assert sat.saturation_pressure(273.16) == pytest.approx(611.657, rel=1e-6)
    assert sat.ice_saturation_pressure(273.16) == pytest.approx(611.657, rel=1e-9)
    assert sat.ice_saturation_pressure(263.15) < sat.saturation_pressure(263.15)


@pytest.mark.parametrize("function", [sat.log_saturation_pressure, sat.log_ice_saturation_pressure])
@pytest.mark.parametrize("t", [150.0, 200.0, 240.0, 260.0, 272.0, 274.0, 300.0, 350.0, 450.0, 590.0, 650.0])
def test_slopes_against_differences(function, t):
    h = 1e-3
    difference = (function(t + h)[0] - function(t - h)[0]) / (2.0 * h)
    assert function(t)[1] == pytest.approx(difference, rel=1e-7)


@pytest.mark.parametrize("t", [FREEZING_POINT, sat.LOWEST_FITTED, sat.HIGHEST_FITTED])
def test_slope_is_one_sided_difference_on_both_sides_of_a_seam(t):
    for function, slope in (
        (sat.saturation_pressure, sat.saturation_pressure_slope),
        (
            lambda x: sat.saturation_pressure_and_slope(x)[0],
            lambda x: sat.saturation_pressure_and_slope(x)[1],
        ),
    ):
        for side in (-1.0, 1.0):
            h = side * 1e-3
            # second-order one-sided difference
            difference = (-3.0 * function(t) + 4.0 * function(t + h) - function(t + 2.0 * h)) / (2.0 * h)
            assert slope(t) == pytest.approx(difference, rel=1e-6)


def test_ice_slope_on_both_sides_of_its_seam():
    t = sat.HIGHEST_OVER_ICE
    below, above = sat.ice_saturation_pressure_slope(t - 1e-9), sat.ice_saturation_pressure_slope(t + 1e-9)
    assert below == pytest.approx(above, rel=1e-8)
    h = 1e-3
    difference = (sat.ice_saturation_pressure(t + h) - sat.ice_saturation_pressure(t - h)) / (2.0 * h)
    assert above == pytest.approx(difference, rel=1e-5)


@pytest.mark.parametrize("celsius", np.arange(-30.0, 41.0, 5.0))
def test_clausius_and_clapeyron_agree(celsius):
    t = ZERO + celsius
    heat = WATER_GAS_CONSTANT * t * t * sat.log_saturation_pressure(t)[1]
    # the ideal gas leaves out 0.4 % of compressibility at 40 °C
    assert sat.latent_heat(t) == pytest.approx(heat, rel=5e-3 if celsius > 20 else 2e-3)


@pytest.mark.parametrize("celsius", np.arange(-60.0, 0.1, 10.0))
def test_sublimation_heat_is_the_slope_of_the_ice_curve(celsius):
    t = ZERO + celsius
    heat = WATER_GAS_CONSTANT * t * t * sat.log_ice_saturation_pressure(t)[1]
    assert sat.sublimation_heat(t) == pytest.approx(heat, rel=1e-3)


def test_latent_heat_has_no_jump_at_freezing():
    h = 1e-4
    below = (sat.latent_heat(ZERO) - sat.latent_heat(ZERO - h)) / h
    above = (sat.latent_heat(ZERO + h) - sat.latent_heat(ZERO)) / h
    assert below == pytest.approx(above, rel=1e-4)


@STEADY
@given(st.floats(25.0, 900.0))
def test_dew_point_is_the_exact_inverse(t):
    assert sat.dew_point_from_pressure(sat.saturation_pressure(t)) == pytest.approx(t, rel=1e-9)


@STEADY
@given(st.floats(25.0, 400.0))
def test_frost_point_is_the_exact_inverse(t):
    assert sat.frost_point_from_pressure(sat.ice_saturation_pressure(t)) == pytest.approx(t, rel=1e-9)


@STEADY
@given(st.floats(100.0, 700.0), st.floats(1e-3, 50.0))
def test_saturation_rises(t, step):
    assert sat.saturation_pressure(t + step) > sat.saturation_pressure(t)
    assert sat.ice_saturation_pressure(t + step) > sat.ice_saturation_pressure(t)


@STEADY
@given(ANY, ANY)
def test_never_nan(t, p):
    for function in (
        sat.saturation_pressure,
        sat.saturation_pressure_slope,
        sat.ice_saturation_pressure,
        sat.ice_saturation_pressure_slope,
        sat.latent_heat,
        sat.sublimation_heat,
        sat.dew_point_from_pressure,
        sat.frost_point_from_pressure,
    ):
        assert not math.isnan(function(t))
    assert 0.9 < sat.enhancement_factor(t, p) < 1.1


def test_no_transcendental_call_is_added_to_the_hot_path():
    # one square root in the curve and one exponential around it: the kernels pay for every one
    text = Path(sat.__file__).read_text()
    curve = text[text.index("def _liquid_curve") : text.index("def _ice_curve")]
    assert curve.count("math.") == 1
    pair = text[text.index("def saturation_pressure_and_slope") : text.index("def saturation_pressure(")]
    assert pair.count("math.") == 1
