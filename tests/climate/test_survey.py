"""The survey of a place against pandas on a real year, a made-up year with known answers, and a table."""

import math
from importlib.resources import files

import numpy as np
import pandas as pd
import pvlib
import pytest
import xarray as xr

from welkinwell.climate import read_climate
from welkinwell.climate.survey import regeneration_humidity, survey

SIGMA = 5.670374419e-8


@pytest.fixture(scope="module")
def coast():
    """The real coastal year that the package ships (Western Australia, half-past instants)."""
    return read_climate(files("welkinwell") / "library/weather/coast_western_australia_2020.csv.gz")


@pytest.fixture(scope="module")
def coast_survey(coast):
    return survey(coast)


def made_up(latitude=30.0, utc_offset=0.0, instant_offset=0.0, longwave=300.0):
    """A year whose temperature is 280 K plus the local hour of the instant, with 1,000 Pa of vapour."""
    start = np.datetime64("2019-01-01T00", "ns") - np.timedelta64(round(utc_offset * 3600), "s")
    time = start + np.arange(8760) * np.timedelta64(1, "h")
    clock = (np.arange(8760) + instant_offset / 3600.0) % 24.0
    flat = np.ones(8760)
    columns = {
        "temperature": 280.0 + clock,
        "vapour_pressure": 1000.0 * flat,
        "ghi": 0.0 * flat,
        "dhi": 0.0 * flat,
        "dni": 0.0 * flat,
        "sky_longwave": longwave * flat,
    }
    place = {"latitude": latitude, "longitude": utc_offset * 15.0, "elevation": 0.0}
    return xr.Dataset(
        {name: ("time", values) for name, values in columns.items()},
        coords={"time": time},
        attrs=place | {"utc_offset": utc_offset, "instant_offset": instant_offset, "site": "made up"},
    )


# Percent, bed down and condenser across, from a reference equation of state (CoolProp).
BEDS = [50, 60, 65, 70, 80, 90, 100, 120]
CONDENSERS = [20, 25, 30, 35, 40, 45]
TABLE = [
    [18.9, 25.7, 34.4, 45.6, 59.8, 77.7],
    [11.7, 15.9, 21.3, 28.2, 37.0, 48.1],
    [9.3, 12.7, 17.0, 22.5, 29.5, 38.3],
    [7.5, 10.2, 13.6, 18.0, 23.7, 30.8],
    [4.9, 6.7, 9.0, 11.9, 15.6, 20.2],
    [3.3, 4.5, 6.1, 8.0, 10.5, 13.7],
    [2.3, 3.1, 4.2, 5.6, 7.3, 9.5],
    [1.2, 1.6, 2.1, 2.8, 3.7, 4.8],
]


def test_regeneration_table_meets_the_reference(coast_survey):
    table = coast_survey["regeneration_humidity"]
    assert table.dims == ("bed_temperature", "condenser_temperature")
    assert (table["bed_temperature"] - 273.15).values == pytest.approx(BEDS)
    assert (table["condenser_temperature"] - 273.15).values == pytest.approx(CONDENSERS)
    assert 100 * table.values == pytest.approx(np.array(TABLE), abs=0.0501)


def test_regeneration_at_chosen_temperatures():
    chosen = survey(made_up(), bed_temperatures=[330.0], condenser_temperatures=[300.0, 330.0])
    assert chosen["regeneration_humidity"].values[0, 1] == pytest.approx(1.0, rel=1e-12)
    assert chosen["regeneration_humidity"].values[0, 0] == regeneration_humidity(330.0, 300.0)


def test_air_tables_agree_with_pandas(coast, coast_survey):
    local = pd.DatetimeIndex(coast["time"].values) + pd.Timedelta(hours=8.5)
    table = pd.DataFrame(
        {
            "month": local.month,
            "hour": local.hour,
            "temperature": coast["temperature"].values,
            "vapour_pressure": coast["vapour_pressure"].values,
        }
    )
    for name in ("temperature", "vapour_pressure"):
        expected = table.pivot_table(name, "month", "hour").to_numpy()
        assert coast_survey[name].values == pytest.approx(expected, rel=1e-12)
    # Night by a second algorithm for the sun: geometric height of the centre at the instants.
    instants = pd.DatetimeIndex(coast["time"].values, tz="UTC") + pd.Timedelta(minutes=30)
    sun = pvlib.solarposition.get_solarposition(instants, coast.latitude, coast.longitude)
    night = sun["apparent_elevation"].to_numpy() < 0
    nights = table[night].groupby("month")["vapour_pressure"].mean().to_numpy()
    days = table[~night].groupby("month")["vapour_pressure"].mean().to_numpy()
    assert coast_survey["night_vapour_pressure"].values == pytest.approx(nights, rel=1e-9)
    assert coast_survey["day_vapour_pressure"].values == pytest.approx(days, rel=1e-9)


def test_humidity_and_dew_point_agree_with_psychrolib(coast, coast_survey):
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    # Over water: psychrolib goes over ice below its triple point, and this coast never freezes.
    assert coast["temperature"].min() > 273.2
    t, p = coast["temperature"].values - 273.15, coast["vapour_pressure"].values
    local = pd.DatetimeIndex(coast["time"].values) + pd.Timedelta(hours=8.5)
    january = np.asarray(local.month) == 1
    dew = [psychrolib.GetTDewPointFromVapPres(a, b) for a, b in zip(t[january], p[january], strict=True)]
    assert coast_survey["dew_point"].values[0] - 273.15 == pytest.approx(np.mean(dew), abs=0.05)
    noon = january & (np.asarray(local.hour) == 12)
    humidity = [psychrolib.GetRelHumFromVapPres(a, b) for a, b in zip(t[noon], p[noon], strict=True)]
    assert coast_survey["relative_humidity"].values[0, 12] == pytest.approx(np.mean(humidity), rel=1e-3)


def test_sun_agrees_with_the_file_and_pvlib(coast, coast_survey):
    days = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    level = coast_survey["sun_on_level"].values
    assert (level * days).sum() == pytest.approx(coast["ghi"].values.sum() / 1000, rel=1e-12)
    middle = pd.DatetimeIndex(coast["time"].values, tz="UTC") + pd.Timedelta(minutes=30)
    sun = pvlib.solarposition.get_solarposition(middle, coast.latitude, coast.longitude)
    dni_extra = pvlib.irradiance.get_extra_radiation(middle, solar_constant=1361.0)
    albedo = coast["albedo"].values if "albedo" in coast else 0.2
    plane = pvlib.irradiance.get_total_irradiance(
        30.0,
        0.0,
        sun["apparent_zenith"].to_numpy(),
        sun["azimuth"].to_numpy(),
        coast["dni"].values,
        coast["ghi"].values,
        coast["dhi"].values,
        dni_extra=dni_extra.to_numpy(),
        albedo=albedo,
        model="haydavies",
    )["poa_global"]
    # pvlib takes one sun position an hour and the file's own beam; whole-year sums differ a little.
    yearly = (coast_survey["sun_on_plane"].values * days).sum()
    assert yearly == pytest.approx(np.nansum(plane) / 1000, rel=0.01)
    assert (coast_survey["sun_direct_on_plane"] < coast_survey["sun_on_plane"]).all()


def test_plane_faces_the_equator_unless_told(coast_survey, coast):
    assert coast_survey.attrs["azimuth"] == 0.0
    assert survey(made_up(latitude=30.0)).attrs["azimuth"] == math.pi
    winter = 5
    steep = survey(coast, tilt=math.radians(55.0))["sun_on_plane"].values[winter]
    away = survey(coast, tilt=math.radians(55.0), azimuth=math.pi)["sun_on_plane"].values[winter]
    assert steep > coast_survey["sun_on_level"].values[winter] > away


@pytest.mark.parametrize("utc_offset", [0.0, -8.0, 5.5, 12.75])
@pytest.mark.parametrize("instant_offset", [0.0, 1800.0, 3600.0])
def test_hours_are_those_of_the_local_clock(utc_offset, instant_offset):
    table = survey(made_up(utc_offset=utc_offset, instant_offset=instant_offset))
    part = (instant_offset / 3600.0) % 1.0
    expected = np.tile(280.0 + np.arange(24) + part, (12, 1))
    assert table["temperature"].values == pytest.approx(expected, rel=1e-12)
    assert table["hour"].attrs["long_name"].endswith(f"{round(60 * part):02d} min past")


@pytest.mark.parametrize("instant_offset", [0.0, 1800.0, 3600.0])
def test_cooling_of_a_known_sky(instant_offset):
    # On the equator the sun of March rises 2 to 8 min after 6 and sets before 18:15: hours 0 to 5 and 19
    # to 23 are dark. T at mid-hour is 280.5 + clock, but 291.5 where the saw tooth falls at midnight.
    table = survey(made_up(latitude=0.0, instant_offset=instant_offset)).sel(month=3)
    mid = 280.5 + np.r_[0:6, 19:24]
    if instant_offset != 1800.0:
        mid[-1] = 291.5
    assert table["dark_hours"].item() == 11.0
    assert table["night_cooling"].item() == pytest.approx((SIGMA * mid**4).mean() - 300.0, rel=1e-10)
    water = 46.5 * 10.0 / mid
    clear = ((1 + water) * np.exp(-np.sqrt(1.2 + 3 * water)) * SIGMA * mid**4).mean()
    assert table["night_cooling_clear"].item() == pytest.approx(clear, rel=1e-10)


def test_clear_sky_cools_more_than_the_sky_as_it_was(coast, coast_survey):
    assert coast.attrs["longwave_model"] != "file"  # so both come from the same clear sky
    assert (coast_survey["night_cooling_clear"] >= coast_survey["night_cooling"]).all()
    assert coast_survey["night_cooling_clear"].min() > 40.0
    assert coast_survey["night_cooling_clear"].max() < 130.0


def test_polar_months_without_night_have_no_night_values():
    table = survey(made_up(latitude=75.0))
    june = table.sel(month=6)
    for name in ("night_vapour_pressure", "night_cooling", "night_cooling_clear"):
        assert np.isnan(june[name].item())
    assert june["dark_hours"].item() == 0.0
    assert np.isnan(table.sel(month=12)["day_vapour_pressure"].item())
    assert table.sel(month=12)["night_vapour_pressure"].item() == pytest.approx(1000.0)


def test_every_variable_says_its_unit_and_name(coast, coast_survey):
    before = coast.copy(deep=True)
    survey(coast)
    assert coast.identical(before)
    for name, variable in coast_survey.variables.items():
        assert variable.attrs["units"], name
        assert variable.attrs["long_name"], name
    assert coast_survey.attrs["content_hash"] == coast.attrs["content_hash"]
