"""One PVGIS typical year in CSV and JSON, against pvlib's reading and against each other."""

import gzip
import json

import numpy as np
import pvlib
import pytest

from welkinwell.climate import read_climate
from welkinwell.climate.hourly import check_climate


@pytest.fixture(scope="module")
def from_csv(data):
    return read_climate(data / "pvgis_45N_8E_tmy.csv.gz")


@pytest.fixture(scope="module")
def referee(data, tmp_path_factory):
    plain = tmp_path_factory.mktemp("pvgis") / "tmy.csv"
    plain.write_bytes(gzip.decompress((data / "pvgis_45N_8E_tmy.csv.gz").read_bytes()))
    return pvlib.iotools.read_pvgis_tmy(plain, pvgis_format="csv", map_variables=True)[0]


def test_sums_are_the_files(from_csv, referee):
    check_climate(from_csv)
    for name in ("ghi", "dni", "dhi"):
        assert float(from_csv[name].sum()) == pytest.approx(float(referee[name].sum()), rel=1e-14), name
    assert float(from_csv["sky_longwave"].sum()) == pytest.approx(float(referee["IR(h)"].sum()), rel=1e-14)


def test_the_year_is_rolled_to_local_midnight_and_nothing_else(from_csv, referee):
    """The snapshot of 00:00 UTC speaks for 00:41 to 01:41 at 8 E, the first hour that starts on 1 January."""
    np.testing.assert_allclose(from_csv["temperature"].values, referee["temp_air"].to_numpy(float) + 273.15)
    local = from_csv["time"].values[0] + np.timedelta64(1, "h")
    assert np.datetime64("2019-01-01T00:00") <= local < np.datetime64("2019-01-01T01:00")
    assert from_csv["source_year"].values[0] == 2018  # January's year


def test_global_direct_and_diffuse_close_at_the_middle_of_the_hour(from_csv):
    """Proof that the snapshot stands where the header says: G = Gd + Gb cos z there and only there."""
    import pandas as pd

    def misfit(minutes):
        at = pd.DatetimeIndex(from_csv["time"].values, tz="UTC") + pd.Timedelta(minutes=minutes)
        zenith = pvlib.solarposition.get_solarposition(at, 45.0, 8.0, 250.0)["zenith"].to_numpy()
        up = np.maximum(np.cos(np.radians(zenith)), 0.0)
        return np.abs(from_csv["ghi"].values - from_csv["dhi"].values - from_csv["dni"].values * up).mean()

    assert misfit(30.0) < 0.6
    assert misfit(20.0) > 3.0 * misfit(30.0)
    assert misfit(40.0) > 3.0 * misfit(30.0)


def test_air_stands_at_the_stamp(from_csv):
    """The stamps are whole hours of UTC; the sun's hour starts half an hour before its snapshot."""
    instants = from_csv["time"].values + np.timedelta64(round(from_csv.attrs["instant_offset"] * 1e9), "ns")
    seconds = instants.astype("datetime64[ns]").astype(np.int64) % 3_600_000_000_000
    assert np.all(seconds == 0)


def test_json_is_the_csv(from_csv, data):
    from_json = read_climate(data / "pvgis_45N_8E_tmy.json.gz")
    for name in from_csv:
        np.testing.assert_array_equal(from_json[name].values, from_csv[name].values, err_msg=str(name))
    np.testing.assert_array_equal(from_json["time"].values, from_csv["time"].values)
    assert from_json.attrs["elevation"] == from_csv.attrs["elevation"] == 250.0


def test_a_time_zone_can_be_given(data, from_csv):
    other = read_climate(data / "pvgis_45N_8E_tmy.csv.gz", utc_offset=5.5)
    np.testing.assert_array_equal(np.roll(other["ghi"].values, -5), from_csv["ghi"].values)
    assert other.attrs["utc_offset"] == 5.5
    local = other["time"].values[0] + np.timedelta64(330, "m")
    assert np.datetime64("2019-01-01T00:00") <= local < np.datetime64("2019-01-01T01:00")
    assert float(other["ghi"].sum()) == pytest.approx(float(from_csv["ghi"].sum()), rel=1e-14)
    assert not any(w.startswith("local_time") for w in json.loads(other.attrs["warnings"]))
    assert any(w.startswith("local_time") for w in json.loads(from_csv.attrs["warnings"]))
