"""Sun path against pvlib at other instants, against brute force at the horizon, and its speed."""

import math

import numpy as np
import pandas as pd
import pvlib
import pytest

from welkinwell.sky.sun import extraterrestrial_irradiance, sun_path

YEAR = np.datetime64("2021-01-01T00", "ns") + np.arange(8760) * np.timedelta64(1, "h")


def pvlib_position(times, latitude, longitude, elevation):
    return pvlib.solarposition.get_solarposition(
        pd.DatetimeIndex(times, tz="UTC"), latitude, longitude, altitude=elevation, method="ephemeris"
    )


@pytest.mark.parametrize(
    "place", [(24.4, 54.6, 5.0), (-23.7, -70.4, 135.0), (0.0, 0.0, 0.0), (68.0, 20.0, 500.0)]
)
def test_positions_agree_with_a_second_algorithm(place):
    # pvlib's "ephemeris" is another algorithm, good to about 0.01 degree.
    path = sun_path(*place, YEAR, 2)
    middles = np.repeat(YEAR, 2) + np.tile([900, 2700], 8760) * np.timedelta64(1, "s")
    other = pvlib_position(middles, *place)
    whole = path.lit_fraction == 1.0
    apparent = np.degrees(path.zenith)
    high = whole & (apparent < 80)
    assert np.abs(apparent - other["zenith"].to_numpy())[high].max() < 0.11  # refraction at 80 is 0.09
    assert np.abs(apparent - other["apparent_zenith"].to_numpy())[high].max() < 0.02
    turned = np.degrees(path.azimuth) - other["azimuth"].to_numpy()
    seen = np.abs((turned + 180) % 360 - 180) * np.sin(path.zenith)
    assert seen[high].max() < 0.02


@pytest.mark.parametrize("latitude", [0.0, 36.0, -33.0, 60.0, 69.0])
@pytest.mark.parametrize("per_hour", [1, 2, 4])
def test_lit_fraction_agrees_with_the_sun_sampled_every_five_seconds(latitude, per_hour):
    hours = np.concatenate([YEAR[day * 24 : day * 24 + 24] for day in (0, 79, 146, 171, 265)])
    path = sun_path(latitude, 15.0, 100.0, hours, per_hour)
    fine = (hours[:, None] + (np.arange(720) * 5 + 2.5) * np.timedelta64(1, "s").astype("m8[ns]")).ravel()
    pressure = pvlib.atmosphere.alt2pres(100.0)
    position = pvlib.solarposition.get_solarposition(
        pd.DatetimeIndex(fine, tz="UTC"), latitude, 15.0, altitude=100.0, pressure=pressure
    )
    up = (position["apparent_elevation"].to_numpy() > 0).reshape(path.lit_fraction.size, -1).mean(axis=1)
    sampling = 5 * per_hour / 3600  # one sample more or less
    assert np.abs(path.lit_fraction - up).max() < 0.001 + sampling
    assert (path.up[path.lit_fraction > 0] > 0).all()
    assert ((path.lit_fraction >= 0) & (path.lit_fraction <= 1)).all()


def test_poles_have_half_a_year_of_day():
    for latitude in (90.0, -90.0):
        path = sun_path(latitude, 0.0, 0.0, YEAR, 2)
        assert 0.48 < path.lit_fraction.mean() < 0.53
        assert ((path.lit_fraction > 0) & (path.lit_fraction < 1)).sum() < 60


def test_unit_vector_belongs_to_the_angles():
    path = sun_path(35.0, 51.0, 1200.0, YEAR[:200], 3)
    assert path.hours == 200
    assert path.east**2 + path.north**2 + path.up**2 == pytest.approx(np.ones(600), abs=1e-14)
    assert np.arctan2(path.east, path.north) % (2 * math.pi) == pytest.approx(path.azimuth % (2 * math.pi))


def test_hours_may_stand_in_any_order():
    mixed = YEAR[[4000, 12, 8000, 12]]
    path = sun_path(30.0, 35.0, 0.0, mixed, 2)
    for place, hour in enumerate(mixed):
        alone = sun_path(30.0, 35.0, 0.0, [hour], 2)
        assert path.zenith[2 * place : 2 * place + 2] == pytest.approx(alone.zenith, abs=1e-12)


def test_extraterrestrial_agrees_with_pvlib():
    seconds = YEAR.astype(np.int64) / 1e9
    other = pvlib.irradiance.get_extra_radiation(
        pd.DatetimeIndex(YEAR, tz="UTC"), solar_constant=1361.0, method="spencer"
    )
    assert extraterrestrial_irradiance(seconds) == pytest.approx(other.to_numpy(), rel=1e-12)
    assert extraterrestrial_irradiance(seconds).mean() == pytest.approx(1361.0, rel=1e-3)
