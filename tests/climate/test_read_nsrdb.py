"""NSRDB csv files against pvlib's reading and against the zenith angle that stands in the file."""

import csv
import gzip
import io
import json

import numpy as np
import pandas as pd
import pvlib
import pytest

from welkinwell.climate import read_climate
from welkinwell.climate.hourly import check_climate
from welkinwell.sky.sun import sun_path

FILES = {
    "coast_western_australia_2020.csv.gz": 8,
    "desert_daggett_california_tmy.csv.gz": -8,
    "tropics_kuala_lumpur_2020.csv.gz": 8,
}


def table_of(path):
    text = gzip.decompress(path.read_bytes()).decode()
    return pd.read_csv(io.StringIO(text), skiprows=2), next(csv.DictReader(io.StringIO(text)))


@pytest.mark.parametrize("name", FILES)
def test_sums_and_extremes_are_the_files(weather, name):
    climate = read_climate(weather / name)
    table, _ = table_of(weather / name)
    check_climate(climate)
    for variable, column in (("ghi", "GHI"), ("dni", "DNI"), ("dhi", "DHI")):
        assert float(climate[variable].sum()) == float(table[column].sum()), variable
    assert sorted(climate["temperature"].values) == pytest.approx(
        sorted(table["Temperature"] + 273.15), abs=1e-9
    )
    assert sorted(climate["pressure"].values) == pytest.approx(sorted(table["Pressure"] * 100.0), abs=1e-6)
    assert climate.attrs["utc_offset"] == FILES[name]


@pytest.mark.parametrize("name", ["coast_western_australia_2020.csv.gz", "tropics_kuala_lumpur_2020.csv.gz"])
def test_hours_are_centred_on_the_files_own_sun(weather, name):
    """The file's zenith angle at the stamp is that of the middle of our hour (0.3 degrees: nominal year)."""
    climate = read_climate(weather / name)
    table, _ = table_of(weather / name)
    path = sun_path(
        climate.attrs["latitude"],
        climate.attrs["longitude"],
        climate.attrs["elevation"],
        climate["time"].values,
        1,
    )
    by_row = dict(
        zip(
            zip(table["Month"], table["Day"], table["Hour"], strict=True),
            table["Solar Zenith Angle"],
            strict=True,
        )
    )
    zone = 8 if "coast" in name else 0  # the coast's file is in local time, the tropics' in UTC
    stamps = pd.DatetimeIndex(climate["time"].values) + pd.Timedelta(minutes=30) + pd.Timedelta(hours=zone)
    expected = np.array([by_row[(t.month, t.day, t.hour)] for t in stamps])
    high = (expected < 85.0) & (path.lit_fraction == 1.0)
    off = np.degrees(path.zenith[high]) - expected[high]
    assert np.abs(off).max() < 0.35
    assert np.abs(off.mean()) < 0.05


def test_as_pvlib_reads_it(weather, tmp_path):
    """Order, clock and values of a file in local time, against pvlib's reader for these files."""
    plain = tmp_path / "desert.csv"
    plain.write_bytes(gzip.decompress((weather / "desert_daggett_california_tmy.csv.gz").read_bytes()))
    expected, meta = pvlib.iotools.read_nsrdb_psm4(plain, map_variables=True)
    climate = read_climate(plain)
    np.testing.assert_array_equal(climate["ghi"].values, expected["ghi"].to_numpy(float))
    np.testing.assert_allclose(climate["temperature"].values, expected["temp_air"].to_numpy(float) + 273.15)
    assert meta["latitude"] == climate.attrs["latitude"]
    first = expected.index[0].tz_convert("UTC") - pd.Timedelta(minutes=30)
    start = pd.Timestamp(climate["time"].values[0], tz="UTC")
    assert (first.month, first.day, first.hour, first.minute) == (
        start.month,
        start.day,
        start.hour,
        start.minute,
    )


def test_a_file_in_utc_starts_at_local_midnight(weather):
    climate = read_climate(weather / "tropics_kuala_lumpur_2020.csv.gz")
    table, _ = table_of(weather / "tropics_kuala_lumpur_2020.csv.gz")
    local = climate["time"].values[0] + np.timedelta64(8, "h")
    assert local == np.datetime64("2019-01-01T00:30")
    row = table[(table.Month == 12) & (table.Day == 31) & (table.Hour == 17)].iloc[0]
    assert float(climate["temperature"][0]) == pytest.approx(row["Temperature"] + 273.15)
    hottest = (pd.DatetimeIndex(climate["time"].values) + pd.Timedelta(hours=8.5)).hour
    by_hour = pd.Series(climate["temperature"].values).groupby(hottest).mean()
    assert 12 <= by_hour.idxmax() <= 16


def test_half_hours_are_averaged_to_hours(weather, tmp_path):
    """Half hours of T - 1 and T + 1 give T, in an hour that starts 15 minutes before its first row."""
    lines = (
        gzip.decompress((weather / "desert_daggett_california_tmy.csv.gz").read_bytes()).decode().splitlines()
    )
    names = lines[2].split(",")
    minute, temperature = names.index("Minute"), names.index("Temperature")
    out = lines[:3]
    for line in lines[3:]:
        row = line.split(",")
        for stamp, shift in (("0", -1.0), ("30", 1.0)):
            half = list(row)
            half[minute], half[temperature] = stamp, str(float(row[temperature]) + shift)
            out.append(",".join(half))
    path = tmp_path / "half.csv"
    path.write_text("\n".join(out) + "\n")
    halves, whole = read_climate(path), read_climate(weather / "desert_daggett_california_tmy.csv.gz")
    # the halves' hour starts at a quarter to, so the first whole one after midnight is the second row's
    np.testing.assert_allclose(np.roll(halves["temperature"].values, 1), whole["temperature"].values)
    np.testing.assert_allclose(float(halves["ghi"].sum()), float(whole["ghi"].sum()))
    assert halves["time"].values[0] == np.datetime64("2019-01-01T08:45")
    assert halves.attrs["instant_offset"] == 1800.0


def test_cloud_types_become_cover(weather):
    climate = read_climate(weather / "coast_western_australia_2020.csv.gz")
    table, _ = table_of(weather / "coast_western_australia_2020.csv.gz")
    clear = table["Cloud Type"].isin([0, 1]).mean()
    opaque = table["Cloud Type"].isin([2, 3, 4, 5, 6, 8, 9]).mean()
    assert float((climate["cloud_cover"] == 0.0).mean()) == pytest.approx(clear, abs=0.01)
    assert float((climate["cloud_cover"] == 1.0).mean()) == pytest.approx(opaque, abs=0.01)


def test_integer_dew_points_are_told(weather):
    warnings = json.loads(read_climate(weather / "desert_daggett_california_tmy.csv.gz").attrs["warnings"])
    assert any(w.startswith("coarse_humidity:") for w in warnings)
    assert any(w.startswith("modelled_humidity:") for w in warnings)
