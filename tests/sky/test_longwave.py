"""Longwave of the sky against published examples and the physical bounds of each formula."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.sky import longwave as lw

SIGMA = 5.670374419e-8


def magnus_hpa(celsius):
    """Vapour pressure at a dew point (Magnus, WMO-No. 8), kept apart from the project's own formula."""
    return 6.112 * math.exp(17.62 * celsius / (243.12 + celsius))


def magnus_ice_hpa(celsius):
    """Vapour pressure at a frost point (Magnus over ice, WMO-No. 8)."""
    return 6.112 * math.exp(22.46 * celsius / (272.62 + celsius))


def test_clark_allen_meets_the_printed_example():
    # Building-simulation engineering reference: 20 C air, 10 C dew point, clear: 0.815 and 340.6 W/m2.
    emissivity = lw.clark_allen(283.15)
    assert emissivity == pytest.approx(0.815, abs=5e-4)
    assert emissivity * lw.black_body(293.15) == pytest.approx(340.6, rel=2.5e-3)  # it rounds 293.15 K


# Columns computed apart from this code: air C, dew point C, then nine emissivities.
COMPARISON = [
    (5, -10, 0.662, 0.759, 0.732, 0.625, 0.678, 0.725, 0.636, 0.705, 0.744, 115),
    (15, 10, 0.774, 0.815, 0.808, 0.748, 0.782, 0.778, 0.790, 0.794, 0.781, 88),
    (25, 14, 0.804, 0.826, 0.823, 0.780, 0.809, 0.832, 0.816, 0.816, 0.839, 88),
    (25, 20, 0.852, 0.841, 0.846, 0.834, 0.855, 0.832, 0.862, 0.858, 0.839, 66),
    (30, 5, 0.741, 0.801, 0.789, 0.712, 0.751, 0.861, 0.747, 0.762, 0.870, 124),
    (30, 25, 0.897, 0.854, 0.865, 0.886, 0.899, 0.861, 0.898, 0.890, 0.870, 50),
]


@pytest.mark.parametrize("row", COMPARISON, ids=lambda r: f"{r[0]}C-dew{r[1]}C")
def test_models_meet_the_comparison_table(row):
    air, dew, *expected, net = row
    # The table's author took -10 C as a frost point: its vapour pressure is that over ice.
    T, Td, p = air + 273.15, dew + 273.15, 100 * (magnus_ice_hpa(dew) if dew < 0 else magnus_hpa(dew))
    computed = [
        lw.berdahl_martin(Td),
        lw.clark_allen(Td),
        lw.berger(Td),
        lw.brunt(p, 0.52, 0.065),
        lw.brunt(p, 0.589, 0.055),
        lw.swinbank(T),
        lw.brutsaert(T, p),
        lw.prata(T, p),
        lw.idso_jackson(T),
    ]
    assert computed == pytest.approx(expected, abs=1.6e-3)
    longwave = lw.berdahl_martin(Td) * lw.black_body(T)
    assert lw.net_cooling(T, longwave, 1.0) == pytest.approx(net, abs=0.7)


def test_dilley_obrien_agrees_with_prata_within_the_stated_spread():
    for air, dew, *_ in COMPARISON:
        T, p = air + 273.15, 100 * magnus_hpa(dew)
        assert lw.dilley_obrien(T, p) == pytest.approx(lw.prata(T, p), abs=0.05)


def test_walton_polynomial_at_half_and_full_cover():
    assert lw.walton_cloud_multiplier(0.5) == pytest.approx(1.0595, abs=1e-12)
    assert lw.walton_cloud_multiplier(1.0) == pytest.approx(1.154, abs=1e-12)


def test_cloud_base_at_two_kilometres_gives_the_factor_in_use():
    assert pytest.approx(0.784, abs=6e-4) == lw.CLOUD_FACTOR


def test_berdahl_martin_shift_at_solar_midnight_and_noon():
    assert lw.berdahl_martin_shift(0.0, 1e5) == pytest.approx(0.013)
    assert lw.berdahl_martin_shift(12.0, 8e4) == pytest.approx(-0.013 - 0.024)


@settings(deadline=None, derandomize=True, max_examples=200)
@given(
    st.floats(240, 325),
    st.floats(1e-3, 1.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
)
def test_sky_is_between_the_emissivity_bounds_and_grows_with_cloud(T, rh, cover, more):
    p = rh * 100 * magnus_hpa(T - 273.15)
    clear = lw.sky_longwave(T, p, 0.0)
    assert lw.EMISSIVITY_RANGE[0] < lw.sky_emissivity(clear, T) < 1.0
    low, high = sorted((cover, more))
    assert clear <= lw.sky_longwave(T, p, low) <= lw.sky_longwave(T, p, high) <= lw.black_body(T)
    assert lw.sky_longwave(T, p, 7.0) == lw.sky_longwave(T, p, 1.0)


def test_sky_temperature_undoes_the_black_body():
    for T in np.linspace(200, 330, 14):
        assert lw.sky_temperature(lw.black_body(T)) == pytest.approx(T, rel=1e-14)
    assert lw.sky_temperature(-1.0) == 0.0


def test_net_cooling_vanishes_when_the_surface_matches_the_sky():
    assert lw.net_cooling(lw.sky_temperature(300.0), 300.0, 0.9) == pytest.approx(0.0, abs=1e-10)
    assert lw.net_cooling(300.0, 300.0, 0.5) == pytest.approx(0.5 * (SIGMA * 300.0**4 - 300.0))


def test_sky_view():
    assert lw.sky_view(0.0) == 1.0
    assert lw.sky_view(math.pi / 2) == pytest.approx(0.5)
