"""TMY3 and TMY2 files that pvlib ships, against pvlib's reading of them."""

import json
from pathlib import Path

import numpy as np
import pvlib
import pytest

from welkinwell.climate import read_climate
from welkinwell.climate.hourly import check_climate

PVLIB = Path(pvlib.__file__).parent / "data"


@pytest.mark.parametrize("name", ["723170TYA.CSV", "703165TY.csv"])
def test_tmy3_as_pvlib_reads_it(name):
    climate = read_climate(PVLIB / name)
    table, meta = pvlib.iotools.read_tmy3(PVLIB / name, map_variables=True)
    check_climate(climate)
    np.testing.assert_allclose(climate["temperature"].values, table["temp_air"].to_numpy(float) + 273.15)
    np.testing.assert_allclose(climate["wind_speed"].values, table["wind_speed"].to_numpy(float))
    np.testing.assert_allclose(climate["pressure"].values, table["pressure"].to_numpy(float) * 100.0)
    for variable in ("ghi", "dni", "dhi"):
        assert float(climate[variable].sum()) == float(table[variable].sum()), variable
        np.testing.assert_array_equal(climate[variable].values, table[variable].to_numpy(float))
    assert climate.attrs["latitude"] == meta["latitude"]
    assert climate.attrs["elevation"] == meta["altitude"]
    assert climate.attrs["instant_offset"] == 3600.0


def test_tmy3_clock_is_that_of_pvlib():
    """pvlib stamps a row by its end in local standard time; ours by its start in UTC."""
    climate = read_climate(PVLIB / "723170TYA.CSV")
    table, _ = pvlib.iotools.read_tmy3(PVLIB / "723170TYA.CSV", coerce_year=2019)
    end = table.index[100].tz_convert("UTC").tz_localize(None)
    assert climate["time"].values[100] + np.timedelta64(1, "h") == np.datetime64(end)


def test_tmy3_rain_is_found_and_impossible_rain_is_not_believed():
    """500 mm in one hour stands in the file with a source flag for estimated: it is taken as missing."""
    climate = read_climate(PVLIB / "723170TYA.CSV")
    table, _ = pvlib.iotools.read_tmy3(PVLIB / "723170TYA.CSV")
    depth = table["Lprecip depth (mm)"].to_numpy(float)
    hours = table["Lprecip quantity (hr)"].to_numpy(float)
    wild = (depth > 360.0) & (hours <= 1.0)
    assert json.loads(climate.attrs["repairs"])["precipitation_beyond_range"] == wild.sum() > 0
    total = float(climate["precipitation"].sum()) * 3600.0
    assert total == pytest.approx(depth[(depth > 0.0) & ~wild].sum(), rel=1e-9)
    assert climate["vapour_pressure"].attrs["how"] == "measured"


def test_tmy2_as_pvlib_reads_it():
    climate = read_climate(PVLIB / "12839.tm2")
    table, meta = pvlib.iotools.read_tmy2(PVLIB / "12839.tm2")
    check_climate(climate)
    np.testing.assert_allclose(
        climate["temperature"].values, table["DryBulb"].to_numpy(float) / 10.0 + 273.15
    )
    np.testing.assert_allclose(climate["wind_speed"].values, table["Wspd"].to_numpy(float) / 10.0)
    np.testing.assert_allclose(climate["pressure"].values, table["Pressure"].to_numpy(float) * 100.0)
    np.testing.assert_allclose(climate["cloud_cover"].values, table["OpqCld"].to_numpy(float) / 10.0)
    np.testing.assert_array_equal(climate["ghi"].values, table["GHI"].to_numpy(float))
    np.testing.assert_array_equal(climate["dni"].values, table["DNI"].to_numpy(float))
    assert climate.attrs["latitude"] == pytest.approx(meta["latitude"])
    assert climate.attrs["longitude"] == pytest.approx(meta["longitude"])
    assert climate["source_year"].values[0] == 1962
    assert climate["temperature"].attrs["how"] == "measured"


def test_tmy2_diffuse_above_global_is_set_to_global_and_counted():
    climate = read_climate(PVLIB / "12839.tm2")
    table, _ = pvlib.iotools.read_tmy2(PVLIB / "12839.tm2")
    over = table["DHI"].to_numpy() > table["GHI"].to_numpy()
    assert json.loads(climate.attrs["repairs"])["diffuse_clipped"] == over.sum()
    assert float(climate["dhi"].sum()) == np.minimum(table["DHI"], table["GHI"]).sum()
