"""Outdoor convection against worked examples and differences."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.errors import InputError
from welkinwell.transfer import plates

STEADY = settings(deadline=None, derandomize=True, max_examples=200)
ANY = st.floats(allow_nan=False, allow_infinity=False)


def test_watmuff():
    assert plates.wind_coefficient(2.0, plates.WATMUFF_CONSTANT, plates.WATMUFF_SLOPE) == pytest.approx(8.8)
    assert plates.wind_coefficient(-1.0, 2.8, 3.0) == pytest.approx(2.8)


def test_windward_plate():
    # worked example, computed apart: 2 m/s on 1 x 1 m: 7.2 W/(m2 K)
    assert plates.windward_plate(2.0, 1.0, 298.15, 101325.0) == pytest.approx(7.2, abs=0.05)


def test_thin_air():
    """By hand at 70 kPa: 0.6908 and, to the power 2/3, 0.7815."""
    assert plates.thin_air_factors(101325.0) == (1.0, 1.0)
    assert plates.thin_air_factors(70000.0) == pytest.approx((0.6908, 0.7815), abs=1e-4)


@pytest.mark.parametrize("wind", [1.0, 2.0, 4.0])
def test_thin_air_is_a_slower_wind(wind):
    """A plate whose law is no straight line at all (Sparrow1979, Re^0.5) obeys the same similarity."""
    by_wind, _ = plates.thin_air_factors(70000.0)
    thin = plates.windward_plate(wind, 1.0, 298.15, 70000.0)
    assert thin == pytest.approx(plates.windward_plate(by_wind * wind, 1.0, 298.15, 101325.0), rel=1e-3)


def test_tilted_plate():
    # worked example, computed apart: 20 K, 20 degrees: 4.06 W/(m2 K)
    assert plates.free_convection(20.0, math.radians(20.0))[0] == pytest.approx(4.06, abs=0.01)


def test_free_convection_by_the_published_forms():
    for degrees in (0.0, 30.0, 60.0, 90.0):
        cosine = math.cos(math.radians(degrees))
        for size in (5.0, 20.0, 60.0):
            lively = 9.482 * size ** (1 / 3) / (7.283 - cosine)
            calm = 1.810 * size ** (1 / 3) / (1.382 + cosine)
            for tilt, sign, expected in (
                (degrees, 1.0, lively),
                (degrees, -1.0, calm),
                (180.0 - degrees, 1.0, calm),
                (180.0 - degrees, -1.0, lively),
            ):
                found = plates.free_convection(sign * size, math.radians(tilt))[0]
                assert found == pytest.approx(expected, rel=3e-3 if degrees < 90.0 else 7e-3)


def test_vertical_plate():
    # 1.31 dT^(1/3), the third of the published forms
    assert plates.free_convection(10.0, math.pi / 2)[0] == pytest.approx(1.31 * 10 ** (1 / 3), rel=7e-3)


@STEADY
@given(st.floats(-300.0, 300.0), st.floats(0.0, math.pi))
def test_slope_of_free_convection_against_differences(dt, tilt):
    h = 1e-4
    expected = (plates.free_convection(dt + h, tilt)[0] - plates.free_convection(dt - h, tilt)[0]) / (2 * h)
    assert plates.free_convection(dt, tilt)[1] == pytest.approx(expected, rel=1e-5, abs=1e-7)


@STEADY
@given(st.floats(0.01, 100.0), st.floats(0.01, 100.0))
def test_mixed_convection(forced, free):
    value, by_forced, by_free = plates.mixed(forced, free)
    assert value == pytest.approx((forced**3 + free**3) ** (1 / 3), rel=1e-9)
    h = 1e-5
    expected = (plates.mixed(forced + h, free)[0] - plates.mixed(forced - h, free)[0]) / (2 * h)
    assert by_forced == pytest.approx(expected, rel=1e-4, abs=1e-6)
    expected = (plates.mixed(forced, free + h)[0] - plates.mixed(forced, free - h)[0]) / (2 * h)
    assert by_free == pytest.approx(expected, rel=1e-4, abs=1e-6)
    assert max(forced, free) <= value * (1 + 1e-12) <= (forced + free) * (1 + 1e-9)


def test_mixed_convection_at_nothing():
    assert plates.mixed(0.0, 0.0) == pytest.approx((0.0, 0.0, 0.0), abs=1e-5)


def test_wind_at_a_device():
    # worked example, computed apart: 3 m/s at 10 m in the open, city roof at 5 m: 1.07 m/s; h 12 becomes 6
    wind = plates.wind_at_height(3.0, 10.0, 5.0, "city")
    assert wind == pytest.approx(1.07, abs=0.005)
    assert plates.wind_coefficient(wind, 2.8, 3.0) == pytest.approx(6.0, abs=0.05)
    assert plates.wind_at_height(3.0, 10.0, 10.0, "open") == pytest.approx(3.0)


def test_unknown_terrain_is_told_the_nearest():
    with pytest.raises(InputError, match=r"'suburbs'.*open, suburb, city.*Did you mean 'suburb'"):
        plates.wind_factor(10.0, 2.0, "suburbs")


@STEADY
@given(ANY, ANY, ANY, ANY)
def test_never_nan(a, b, c, d):
    assert all(math.isfinite(x) for x in plates.free_convection(a, b))
    assert all(math.isfinite(x) for x in plates.mixed(a, b))
    assert not math.isnan(plates.windward_plate(a, b, c, d))
