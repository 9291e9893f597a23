"""Humid air against printed values, against its own definitions, and there and back."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.constants import FREEZING_POINT
from welkinwell.moist_air import humidity as hum
from welkinwell.moist_air import saturation as sat

ZERO = FREEZING_POINT
STEADY = settings(deadline=None, derandomize=True, max_examples=300)
ANY = st.floats(allow_nan=False, allow_infinity=False)
AIR = st.tuples(st.floats(233.15, 353.15), st.floats(0.001, 1.0), st.floats(50e3, 102e3))

# t [°C], RH [%], p [kPa], then CoolProp 8.0.0 HAPropsSI (real gas) and psychrolib 2.5.0 (ideal gas):
# w real, w ideal, h real [kJ/kg], v real [m3/kg], dew point real, wet bulb real, wet bulb ideal [°C],
# absolute humidity real [g/m3]
PRINTED = [
    (5, 80, 101.325, 0.0043322, 0.0043141, 15.899, 0.79301, 1.842, 3.585, 3.588, 5.4629),
    (15, 30, 101.325, 0.0031700, 0.0031564, 23.101, 0.82010, None, 7.229, 7.242, 3.8654),
    (15, 90, 101.325, 0.0096079, 0.0095663, 39.372, 0.82852, 13.375, 14.009, 14.010, 11.5965),
    (20, 50, 101.325, 0.0072937, 0.0072617, 38.623, 0.83986, 9.274, 13.776, 13.783, 8.6844),
    (25, 20, 101.325, 0.0039326, 0.0039151, 35.164, 0.84968, 0.506, 12.496, 12.513, 4.6284),
    (25, 50, 101.325, 0.0099257, 0.0098810, 50.424, 0.85779, 13.867, 17.883, 17.889, 11.5713),
    (25, 100, 101.325, 0.0201734, 0.0200811, 76.505, 0.87164, 25.000, 25.000, 25.000, 23.1441),
    (30, 10, 101.325, 0.0026293, 0.0026172, 36.902, 0.86217, None, 13.213, 13.234, 3.0496),
    (30, 60, 101.325, 0.0161164, 0.0160409, 71.365, 0.88073, 21.391, 23.810, 23.812, 18.2989),
    (35, 15, 101.325, 0.0052502, 0.0052252, 48.683, 0.88009, 4.536, 17.422, 17.438, 5.9656),
    (40, 10, 101.325, 0.0045882, 0.0045653, 52.061, 0.89347, 2.641, 18.548, 18.566, 5.1352),
    (40, 70, 101.325, 0.0336045, 0.0334296, 126.730, 0.93469, 33.474, 34.635, 34.633, 35.9525),
    (45, 5, 101.325, 0.0029737, 0.0029582, 52.967, 0.90543, None, 18.878, 18.901, 3.2843),
    (60, 20, 101.325, 0.0256441, 0.0254867, 127.374, 0.98252, 28.939, 34.927, 34.920, 26.1003),
    (80, 10, 101.325, 0.0307160, 0.0305304, 161.954, 1.04977, 31.955, 39.789, 39.783, 29.2598),
    (5, 80, 84.0, 0.0052301, 0.0052113, 18.199, 0.95803, 1.842, 3.440, 3.443, 5.4592),
    (20, 50, 84.0, 0.0088147, 0.0087806, 42.525, 1.01559, 9.275, 13.323, 13.330, 8.6794),
    (25, 20, 84.0, 0.0047475, 0.0047287, 37.280, 1.02631, 0.508, 11.534, 11.549, 4.6258),
    (25, 100, 84.0, 0.0244853, 0.0243852, 87.525, 1.05853, 25.000, 25.000, 25.000, 23.1314),
    (30, 60, 84.0, 0.0195350, 0.0194528, 80.143, 1.06812, 21.392, 23.504, 23.505, 18.2892),
    (35, 15, 84.0, 0.0063411, 0.0063138, 51.519, 1.06350, 4.538, 16.291, 16.305, 5.9624),
    (40, 10, 84.0, 0.0055402, 0.0055153, 54.550, 1.07942, 2.643, 17.221, 17.237, 5.1326),
    (45, 5, 84.0, 0.0035888, 0.0035719, 54.592, 1.09328, None, 17.276, 17.296, 3.2826),
]


@pytest.mark.parametrize("row", PRINTED)
def test_printed_values(row):
    celsius, percent, kilopascal, w, w_ideal, h, v, dew, wet, wet_ideal, absolute = row
    t, rh, p = ZERO + celsius, percent / 100.0, kilopascal * 1e3
    assert hum.humidity_ratio(t, rh, p) == pytest.approx(w_ideal, rel=5e-4)
    assert hum.humidity_ratio(t, rh, p) == pytest.approx(w, rel=7e-3)
    assert hum.enhanced_humidity_ratio(t, rh, p) == pytest.approx(w, rel=5e-4)
    assert hum.enthalpy(t, w) == pytest.approx(h * 1e3, abs=500.0)
    assert (1.0 + w) / hum.density(t, w, p) == pytest.approx(v, rel=1e-3)
    assert hum.vapour_density(t, hum.vapour_pressure(t, rh)) * 1e3 == pytest.approx(absolute, rel=7e-3)
    assert hum.wet_bulb(t, rh, p) == pytest.approx(ZERO + wet, abs=0.05)
    assert hum.wet_bulb(t, rh, p) == pytest.approx(ZERO + wet_ideal, abs=0.01)
    assert hum.enhanced_wet_bulb(t, rh, p) == pytest.approx(ZERO + wet, abs=0.05)
    if dew is not None:  # below 0 °C the library means the frost point
        assert hum.enhanced_dew_point(t, rh, p) == pytest.approx(ZERO + dew, abs=0.03)
        assert hum.dew_point(t, rh) == pytest.approx(ZERO + dew, abs=0.07 if celsius > 50 else 0.03)


def test_saturated_air_of_the_ashrae_table():
    # ASHRAE Fundamentals table of moist air at 25 °C, value from memory: w 0.02017, h 76.5, v 0.8717
    w = hum.enhanced_humidity_ratio(ZERO + 25.0, 1.0, 101325.0)
    assert w == pytest.approx(0.02017, rel=1e-3)
    assert hum.enthalpy(ZERO + 25.0, w) == pytest.approx(76.5e3, rel=5e-3)
    assert (1.0 + w) / hum.density(ZERO + 25.0, w, 101325.0) == pytest.approx(0.8717, rel=1e-3)


def test_printed_frozen_wet_bulb():
    # -5 °C, 60 % over ice, 101.325 kPa: wet bulb -6.797 °C (CoolProp), -6.791 °C (psychrolib)
    over_liquid = 0.6 * sat.ice_saturation_pressure(268.15) / sat.saturation_pressure(268.15)
    assert hum.ice_bulb(268.15, over_liquid, 101325.0) == pytest.approx(ZERO - 6.797, abs=0.05)
    assert hum.frost_point(268.15, over_liquid) == pytest.approx(ZERO - 10.846, abs=0.03)


def test_enhancement_factor_of_the_printed_table():
    # from CoolProp's w at saturation, 101.325 and 84 kPa; its 0 °C row (1.00420, 1.00357) is over ice and
    # 1.0e-4 higher, at 0.02 °C it gives 1.00410 and 1.00348
    for celsius, sea, high in (
        (0.02, 1.00410, 1.00348),
        (20, 1.00413, 1.00361),
        (40, 1.00476, 1.00428),
        (60, 1.00580, 1.00521),
    ):
        assert sat.enhancement_factor(ZERO + celsius, 101325.0) == pytest.approx(sea, abs=5e-5)
        assert sat.enhancement_factor(ZERO + celsius, 84000.0) == pytest.approx(high, abs=5e-5)


@STEADY
@given(AIR)
def test_humidity_there_and_back(state):
    t, rh, p = state
    assert hum.relative_humidity(t, hum.humidity_ratio(t, rh, p), p) == pytest.approx(rh, rel=1e-9)
    enhanced = hum.enhanced_humidity_ratio(t, rh, p)
    assert hum.enhanced_relative_humidity(t, enhanced, p) == pytest.approx(rh, rel=1e-9)
    assert hum.humidity_from_dew_point(t, hum.dew_point(t, rh)) == pytest.approx(rh, rel=1e-9)
    w = hum.humidity_ratio(t, rh, p)
    assert hum.temperature_from_enthalpy(hum.enthalpy(t, w), w) == pytest.approx(t, rel=1e-12)
    partial = hum.vapour_pressure(t, rh)
    assert hum.density(t, w, p) == pytest.approx(hum.density_from_pressure(t, partial, p), rel=1e-9)


@STEADY
@given(st.floats(-10.0, 500.0))
def test_mole_fraction_there_and_back_also_outside_its_range(w):
    assert hum.ratio_from_mole_fraction(hum.mole_fraction_from_ratio(w)) == pytest.approx(w, rel=1e-9)


@STEADY
@given(AIR)
def test_wet_bulb_closes_its_balance(state):
    t, rh, p = state
    w, bulb = hum.humidity_ratio(t, rh, p), hum.wet_bulb(t, rh, p)
    saturated = hum.humidity_ratio(bulb, 1.0, p)
    made_up = (saturated - w) * 4186.0 * (bulb - ZERO)
    after = hum.enthalpy(bulb, saturated)
    assert hum.enthalpy(t, w) + made_up == pytest.approx(after, abs=1e-6 * (1e4 + abs(after)))
    assert hum.dew_point(t, rh) - 1e-9 <= bulb <= t + 1e-9


@STEADY
@given(st.floats(233.15, 290.0), st.floats(0.001, 1.0), st.floats(50e3, 102e3))
def test_ice_bulb_closes_its_balance_or_melts(t, rh, p):
    w, bulb = hum.humidity_ratio(t, rh, p), hum.ice_bulb(t, rh, p)
    assert bulb <= ZERO
    if bulb < ZERO:
        saturated = hum.humidity_ratio_from_pressure(sat.ice_saturation_pressure(bulb), p)
        made_up = (saturated - w) * (2096.7 * (bulb - ZERO) - 3.336e5)
        after = hum.enthalpy(bulb, saturated)
        assert hum.enthalpy(t, w) + made_up == pytest.approx(after, abs=1e-6 * (1e4 + abs(after)))


@pytest.mark.parametrize("p", [54e3, 101325.0])
def test_bulbs_of_saturated_air_are_the_air(p):
    assert hum.wet_bulb(300.0, 1.0, p) == pytest.approx(300.0, abs=1e-8)
    over_liquid = sat.ice_saturation_pressure(263.15) / sat.saturation_pressure(263.15)
    assert hum.ice_bulb(263.15, over_liquid, p) == pytest.approx(263.15, abs=1e-7)


def test_iced_wick_is_warmer_than_a_supercooled_one_in_humid_frost():
    # ice has the lower vapour pressure, so less evaporates
    assert hum.ice_bulb(263.15, 0.8, 101325.0) > hum.wet_bulb(263.15, 0.8, 101325.0)


def test_humid_air_is_light():
    assert hum.density(300.0, 0.02, 1e5) < hum.density(300.0, 0.0, 1e5)


def test_relative_humidity_is_over_liquid_below_freezing():
    # at -20 °C saturation over ice is 82 % over liquid: the trap of weather files
    w = hum.humidity_ratio_from_pressure(sat.ice_saturation_pressure(253.15), 101325.0)
    assert hum.relative_humidity(253.15, w, 101325.0) == pytest.approx(103.25 / 125.50, rel=1e-3)


@STEADY
@given(ANY, ANY, ANY)
def test_never_nan(a, b, c):
    for function in (hum.wet_bulb, hum.ice_bulb, hum.enhanced_wet_bulb):
        assert math.isfinite(function(a, b, c))
    assert not math.isnan(hum.enhanced_dew_point(a, b, c))
    for function in (hum.dew_point, hum.frost_point):
        assert not math.isnan(function(a, b))
    small = [max(-1e6, min(1e6, x)) for x in (a, b, c)]
    for function in (hum.humidity_ratio, hum.relative_humidity, hum.density, hum.enhanced_humidity_ratio):
        assert math.isfinite(function(*small))
