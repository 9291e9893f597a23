"""A year corrected by a log, or moved in altitude, against years with a known answer."""

import json

import numpy as np
import pandas as pd
import psychrolib
import pytest
import xarray as xr

from welkinwell.climate import read_climate
from welkinwell.climate.hourly import check_climate
from welkinwell.climate.moisture import saturation_pressures
from welkinwell.climate.relocate import correct_by_log, move_to_altitude
from welkinwell.climate.site_log import read_site_log
from welkinwell.errors import ClimateError, FileError

DAY = 24


@pytest.fixture(scope="module")
def coast(weather):
    return read_climate(weather / "coast_western_australia_2020.csv.gz")


def log_from(climate, first_day, days, temperature=lambda t: t, vapour=lambda e: e):
    """What a logger would have written at a site whose air follows the file's by a known rule."""
    part = slice(first_day * DAY, (first_day + days) * DAY)
    instants = climate["time"].values[part] + np.timedelta64(int(climate.attrs["instant_offset"]), "s")
    return xr.Dataset(
        {
            "temperature": ("time", temperature(climate["temperature"].values[part])),
            "vapour_pressure": ("time", vapour(climate["vapour_pressure"].values[part])),
        },
        coords={"time": instants},
        attrs={"utc_offset": climate.attrs["utc_offset"], "source": "log", "content_hash": "abc"},
    )


def test_a_log_that_agrees_changes_nothing(coast):
    corrected = correct_by_log(coast, log_from(coast, 100, 40))
    np.testing.assert_allclose(corrected["temperature"].values, coast["temperature"].values, atol=1e-9)
    np.testing.assert_allclose(
        corrected["vapour_pressure"].values, coast["vapour_pressure"].values, rtol=1e-9
    )
    np.testing.assert_allclose(corrected["sky_longwave"].values, coast["sky_longwave"].values, rtol=1e-9)


def test_a_known_bias_is_found_in_every_season(coast):
    """A site 2 K warmer with 0.8 of the vapour: the whole year follows, not only the logged month."""
    log = log_from(coast, 100, 30, lambda t: t + 2.0, lambda e: 0.8 * e)
    corrected = correct_by_log(coast, log)
    check_climate(corrected)
    np.testing.assert_allclose(corrected["temperature"].values, coast["temperature"].values + 2.0, atol=1e-6)
    np.testing.assert_allclose(
        corrected["vapour_pressure"].values, 0.8 * coast["vapour_pressure"].values, rtol=1e-6
    )
    told = json.loads(corrected.attrs["log_correction"])
    assert told["days"] == 30
    assert told["temperature"]["shift"] == pytest.approx(2.0)
    assert told["temperature"]["quantiles_left"] < 1e-6
    assert abs(told["vapour_pressure"]["mean_left"]) < 1e-6


def test_a_smaller_daily_swing_is_found(coast):
    """A site by the water: the day's swing halved about the mean by hour, the synoptic part kept."""
    part = coast["temperature"].values[100 * DAY : 140 * DAY]
    hour = np.arange(40 * DAY) % 24
    course = np.array([part[hour == h].mean() for h in range(24)])[hour]
    log = log_from(coast, 100, 40, lambda t: t - 0.5 * (course - course.mean()))
    corrected = correct_by_log(coast, log)
    inside = corrected["temperature"].values[100 * DAY : 140 * DAY]
    swing = np.ptp([inside[hour == h].mean() for h in range(24)])
    was = np.ptp([part[hour == h].mean() for h in range(24)])
    assert swing == pytest.approx(0.5 * was, rel=0.05)


def test_what_is_left_is_stated(coast):
    """A log whose errors no shift can mend: the residual says so instead of hiding it."""
    rng = np.random.default_rng(7)
    log = log_from(coast, 60, 60, lambda t: t + 1.0 + rng.gumbel(0.0, 4.0, t.size))
    told = json.loads(correct_by_log(coast, log).attrs["log_correction"])
    assert told["temperature"]["quantiles_left"] > 0.2
    assert abs(told["temperature"]["mean_left"]) < 0.2


def test_humidity_is_capped_at_saturation_and_counted(coast):
    corrected = correct_by_log(coast, log_from(coast, 100, 30, lambda t: t - 4.0, lambda e: e))
    saturated = saturation_pressures(corrected["temperature"].values)
    assert np.all(corrected["vapour_pressure"].values <= saturated * (1.0 + 1e-12))
    assert json.loads(corrected.attrs["repairs"])["log_humidity_clipped"] > 0


def test_the_file_is_not_touched_and_the_hash_is_new(coast):
    before = coast.copy(deep=True)
    corrected = correct_by_log(coast, log_from(coast, 100, 30, lambda t: t + 1.0))
    xr.testing.assert_identical(coast, before)
    assert corrected.attrs["content_hash"] != coast.attrs["content_hash"]
    assert any(w.startswith("log_correction:") for w in json.loads(corrected.attrs["warnings"]))


def test_under_28_days_is_refused(coast):
    with pytest.raises(ClimateError, match="27 days with at least 20 hours; expected at least 28"):
        correct_by_log(coast, log_from(coast, 100, 27))


def test_another_years_weather_is_owned_up_to(coast):
    log = log_from(coast, 100, 30, lambda t: t + 1.0)
    assert "the log's year is not the file's" in correct_by_log(coast, log).attrs["warnings"]
    years = log["time"].values + (np.datetime64("2020-01-01") - np.datetime64("2019-01-01"))
    same = correct_by_log(coast, log.assign_coords(time=years))
    assert "the log's year is not the file's" not in same.attrs["warnings"]


def test_a_log_file_is_read_and_averaged(tmp_path, coast):
    """Ten-minute rows in local time, relative humidity in percent, against psychrolib."""
    stamps = pd.date_range("2024-03-01", periods=6 * 24 * 30, freq="10min")
    warm = 25.0 + 5.0 * np.sin(np.arange(stamps.size) / 144.0 * 2.0 * np.pi)
    table = pd.DataFrame({"t": stamps.strftime("%Y-%m-%d %H:%M"), "air": warm, "RH": 40.0})
    path = tmp_path / "log.csv"
    table.to_csv(path, index=False)
    log = read_site_log(
        path,
        utc_offset=8.0,
        columns={"time": "t", "temperature": "air [degC]", "relative_humidity": "RH [%]"},
    )
    assert log.sizes["time"] == 24 * 30
    assert log["time"].values[0] == np.datetime64("2024-02-29T16:30")
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = np.mean([0.4 * psychrolib.GetSatVapPres(float(t)) for t in warm[:6]])
    assert float(log["vapour_pressure"][0]) == pytest.approx(expected, rel=5e-4)
    assert json.loads(correct_by_log(coast, log).attrs["log_correction"])["days"] == 30


def test_a_wrong_log_map_is_told(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("t,air\n2024-01-01T00:00,20\n")
    with pytest.raises(FileError) as told:
        read_site_log(path, utc_offset=30, columns={"time": "t", "temperatur": "air [degC]"}, timeformat="x")
    words = str(told.value)
    for part in (
        "'temperatur'",
        "Did you mean 'temperature'?",
        "utc_offset",
        "'timeformat'",
        "Did you mean 'time_format'?",
    ):
        assert part in words


def test_a_move_of_300_m(coast):
    """T - 6.5 K/km; p_v exp(-0.375 per km); pressure with the standard atmosphere."""
    moved = move_to_altitude(coast, 383.0)
    check_climate(moved)
    free = moved["vapour_pressure"].values < 0.999 * saturation_pressures(moved["temperature"].values)
    np.testing.assert_allclose(moved["temperature"].values, coast["temperature"].values - 1.95)
    ratio = moved["vapour_pressure"].values[free] / coast["vapour_pressure"].values[free]
    np.testing.assert_allclose(ratio, np.exp(-0.375 * 0.3))
    assert free.mean() > 0.9
    dense = moved["pressure"].values / coast["pressure"].values
    np.testing.assert_allclose(dense, ((1 - 2.25577e-5 * 383) / (1 - 2.25577e-5 * 83)) ** 5.25588, rtol=1e-5)
    assert moved.attrs["elevation"] == 383.0
    assert float((moved["sky_longwave"] - coast["sky_longwave"]).mean()) < -8.0
    np.testing.assert_array_equal(moved["ghi"].values, coast["ghi"].values)


def test_up_and_down_again(coast):
    there = move_to_altitude(coast, 200.0)
    back = move_to_altitude(there, 83.0)
    np.testing.assert_allclose(back["temperature"].values, coast["temperature"].values)
    np.testing.assert_allclose(back["pressure"].values, coast["pressure"].values)
    assert back.attrs["content_hash"] != coast.attrs["content_hash"]


def test_too_far_up_is_refused(coast):
    with pytest.raises(ClimateError, match="within 1500 m of the station"):
        move_to_altitude(coast, 1700.0)
