"""EPW files against pvlib's reading of the same files."""

import gzip
import io
import json

import numpy as np
import psychrolib
import pvlib
import pytest

from welkinwell.climate import read_climate
from welkinwell.climate.hourly import check_climate


@pytest.fixture(scope="module")
def denver(weather):
    return read_climate(weather / "highland_denver_colorado_tmy3.epw.gz")


@pytest.fixture(scope="module")
def referee(weather):
    text = gzip.decompress((weather / "highland_denver_colorado_tmy3.epw.gz").read_bytes()).decode()
    return pvlib.iotools.read_epw(io.StringIO(text))


def test_keeps_the_contract(denver, weather):
    import hashlib

    check_climate(denver)
    file_bytes = (weather / "highland_denver_colorado_tmy3.epw.gz").read_bytes()
    assert denver.attrs["content_hash"] == hashlib.sha256(file_bytes).hexdigest()
    assert denver.sizes["time"] == 8760
    assert denver["temperature"].dtype == np.float64
    assert np.issubdtype(denver["time"].dtype, np.datetime64)


def test_every_hour_as_pvlib_reads_it(denver, referee):
    table, meta = referee
    same = {
        "temperature": table["temp_air"] + 273.15,
        "pressure": table["atmospheric_pressure"],
        "ghi": table["ghi"],
        "dni": table["dni"],
        "wind_speed": table["wind_speed"],
        "sky_longwave": table["ghi_infrared"],
        "albedo": table["albedo"],
        "cloud_cover": table["opaque_sky_cover"] / 10.0,
    }
    for name, expected in same.items():
        np.testing.assert_allclose(denver[name].values, expected.to_numpy(float), rtol=1e-12, err_msg=name)
    assert denver.attrs["latitude"] == meta["latitude"]
    assert denver.attrs["longitude"] == meta["longitude"]
    assert denver.attrs["elevation"] == meta["altitude"]
    assert denver.attrs["utc_offset"] == meta["TZ"]


def test_sun_of_the_year_is_the_files_exactly(denver, referee):
    table, _ = referee
    for name in ("ghi", "dni", "dhi"):
        assert float(denver[name].sum()) == float(table[name].sum()), name


def test_vapour_pressure_against_psychrolib(denver, referee):
    """Above freezing, where psychrolib's saturation is over liquid too: dew point to vapour pressure."""
    table, _ = referee
    psychrolib.SetUnitSystem(psychrolib.SI)
    dew = table["temp_dew"].to_numpy(float)
    rows = np.flatnonzero((dew > 0.5) & (dew < table["temp_air"].to_numpy(float)))[::40]
    expected = [psychrolib.GetSatVapPres(float(dew[i])) for i in rows]
    np.testing.assert_allclose(denver["vapour_pressure"].values[rows], expected, rtol=5e-4)


def test_hour_one_is_the_hour_that_starts_at_local_midnight(denver):
    assert denver["time"].values[0] == np.datetime64("2019-01-01T07:00:00")
    assert denver.attrs["instant_offset"] == 3600.0
    assert int(denver["source_year"][0]) == 1995


def test_the_sun_stands_where_the_file_says(denver):
    """Hours with strong direct sun have the sun up at their middle; none shines deep in the night."""
    middles = denver["time"].values + np.timedelta64(30, "m")
    import pandas as pd

    zenith = pvlib.solarposition.get_solarposition(pd.DatetimeIndex(middles, tz="UTC"), 39.83, -104.65)[
        "zenith"
    ]
    assert np.all(zenith.to_numpy()[denver["dni"].values > 200.0] < 91.0)
    assert float(denver["ghi"].values[zenith.to_numpy() > 96.0].max()) == 0.0


def test_pvgis_epw_puts_sun_and_air_where_the_csv_does(data):
    """The satellite's snapshot is 0.1761 h after the stamp of temperature, in both formats."""
    from_epw = read_climate(data / "pvgis_45N_8E_tmy.epw.gz")
    from_csv = read_climate(data / "pvgis_45N_8E_tmy.csv.gz")
    gap = from_epw["time"].values - from_csv["time"].values
    assert abs(int(gap.astype(np.int64).max())) < 1e9
    assert from_epw.attrs["instant_offset"] == pytest.approx(from_csv.attrs["instant_offset"], abs=1.0)
    for name in ("temperature", "ghi", "dhi", "sky_longwave", "pressure"):
        np.testing.assert_allclose(from_epw[name].values, from_csv[name].values, rtol=1e-12, err_msg=name)
    assert from_epw["ghi"].attrs["how"] == "modelled"


def test_denver_longwave_is_told_to_be_computed(denver):
    names = [w.split(":")[0] for w in json.loads(denver.attrs["warnings"])]
    assert "longwave_synthetic" in names
    assert denver["sky_longwave"].attrs["how"] == "modelled"
    assert "typical_year" in names


def test_both_sets_of_missing_codes_are_missing(epw):
    """99.9 and 999 C, 9999 and 99999 Wh/m2: filled and counted, never data."""

    def change(lines):
        for k, (index, code) in enumerate(
            ((6, "99.9"), (7, "99.9"), (6, "999"), (7, "999"), (12, "99999"), (21, "999"), (9, "999999"))
        ):
            row = lines[8 + 400 + 30 * k].split(",")
            row[index] = code
            if index == 7:
                row[8] = "999"
            lines[8 + 400 + 30 * k] = ",".join(row)
        return lines

    climate = read_climate(epw(change))
    repairs = json.loads(climate.attrs["repairs"])
    assert repairs["temperature_interpolated"] == 2
    assert repairs["vapour_pressure_interpolated"] == 2
    assert repairs["wind_speed_interpolated"] == 1
    assert repairs["pressure_interpolated"] == 1
    assert repairs["sky_longwave_modelled"] == 1
    assert float(climate["temperature"].max()) < 315.0


def test_rain_over_six_hours_is_spread_and_kept(epw):
    def change(lines):
        for i in range(8, len(lines)):
            row = lines[i].split(",")
            row[33], row[34] = ("12.0", "6") if i == 8 + 1000 else ("0.0", "1")
            lines[i] = ",".join(row)
        return lines

    rain = read_climate(epw(change))["precipitation"].values * 3600.0
    assert rain.sum() == pytest.approx(12.0)
    np.testing.assert_allclose(rain[995:1001], 2.0)


def test_leap_day_is_dropped_and_counted(epw):
    def change(lines):
        last = 8 + 24 * 59
        extra = []
        for line in lines[last - 24 : last]:
            row = line.split(",")
            row[2] = "29"
            extra.append(",".join(row))
        return lines[:last] + extra + lines[last:]

    climate = read_climate(epw(change))
    assert json.loads(climate.attrs["repairs"])["leap_day_hours_dropped"] == 24
    assert climate.sizes["time"] == 8760


def test_rows_out_of_order_are_sorted(epw, denver):
    climate = read_climate(epw(lambda lines: lines[:8] + lines[5000:] + lines[2000:5000] + lines[8:2000]))
    np.testing.assert_array_equal(climate["temperature"].values, denver["temperature"].values)
    assert any(w.startswith("row_order:") for w in json.loads(climate.attrs["warnings"]))
