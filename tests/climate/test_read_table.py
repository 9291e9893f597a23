"""A real year written out as a table of one's own, in other units and clocks, must come back the same."""

import gzip
import io
import json
import re

import numpy as np
import pandas as pd
import pytest

from welkinwell.climate import read_climate
from welkinwell.climate.hourly import check_climate
from welkinwell.errors import ClimateError

PLACE = {"latitude": 34.85, "longitude": -116.78, "elevation": 561.0, "utc_offset": -8.0}


@pytest.fixture(scope="module")
def desert(weather):
    return read_climate(weather / "desert_daggett_california_tmy.csv.gz")


@pytest.fixture(scope="module")
def source(weather):
    """The desert's table with its calendar in one year, as a logger would have it."""
    text = gzip.decompress((weather / "desert_daggett_california_tmy.csv.gz").read_bytes()).decode()
    table = pd.read_csv(io.StringIO(text), skiprows=2)
    calendar = table[["Year", "Month", "Day", "Hour", "Minute"]].assign(Year=2023)
    return table.assign(when=pd.to_datetime(calendar))


def write(tmp_path, frame, separator=",", preface=""):
    path = tmp_path / "own.csv"
    path.write_text(preface + frame.to_csv(index=False, sep=separator))
    return path


def assert_same(climate, desert, rtol=1e-9):
    check_climate(climate)
    for name in ("temperature", "vapour_pressure", "pressure", "ghi", "dni", "dhi", "wind_speed"):
        np.testing.assert_allclose(
            climate[name].values, desert[name].values, rtol=rtol, atol=1e-9, err_msg=name
        )
    np.testing.assert_array_equal(climate["time"].values, desert["time"].values)
    assert climate.attrs["instant_offset"] == desert.attrs["instant_offset"]


def test_other_units_and_a_semicolon(tmp_path, source, desert):
    own = pd.DataFrame(
        {
            "when": source["when"].dt.strftime("%Y-%m-%dT%H:%M"),
            "T": source["Temperature"] * 1.8 + 32.0,
            "dew": source["Dew Point"],
            "p": source["Pressure"] / 10.0,
            "G": source["GHI"] * 3600e-6,
            "B": source["DNI"] / 1000.0,
            "D": source["DHI"],
            "V": source["Wind Speed"] * 3.6,
        }
    )
    path = write(tmp_path, own, ";", preface="station of my own\n\n")
    climate = read_climate(
        path,
        stamp="middle",
        wind_height=3.0,
        columns={
            "time": "when",
            "temperature": "T [degF]",
            "dew_point": "dew [degC]",
            "pressure": "p [kPa]",
            "ghi": "G [MJ/m2]",
            "dni": "B [kW/m2]",
            "dhi": "D [W/m2]",
            "wind_speed": "V [km/h]",
        },
        **PLACE,
    )
    assert_same(climate, desert)
    assert climate.attrs["wind_height"] == 3.0
    assert set(climate["source_year"].values) == {2023}


COLUMNS = {
    "time": "when",
    "temperature": "Temperature [C]",
    "dew_point": "Dew Point [C]",
    "pressure": "Pressure [mbar]",
    "ghi": "GHI [W/m2]",
    "dni": "DNI [W/m2]",
    "dhi": "DHI [W/m2]",
    "wind_speed": "Wind Speed [m/s]",
}


def test_stamps_in_utc_and_with_their_own_offset(tmp_path, source, desert):
    utc = source["when"] + pd.Timedelta(hours=8)
    for words, clock in (
        (utc.dt.strftime("%Y-%m-%d %H:%M"), "UTC"),
        (source["when"].dt.strftime("%Y-%m-%d %H:%M-08:00"), "local"),
    ):
        path = write(tmp_path, source.assign(when=words))
        climate = read_climate(path, stamp="middle", clock=clock, columns=COLUMNS, **PLACE)
        assert_same(climate, desert)


def test_a_time_format_of_ones_own(tmp_path, source, desert):
    path = write(tmp_path, source.assign(when=source["when"].dt.strftime("%d/%m/%Y %H.%M")))
    climate = read_climate(path, stamp="middle", time_format="%d/%m/%Y %H.%M", columns=COLUMNS, **PLACE)
    assert_same(climate, desert)


def test_ten_minute_rows_are_averaged(tmp_path, source, desert):
    """Six rows an hour, stamped at their end, temperature spread symmetrically about the hour's."""
    hours = source["when"] - pd.Timedelta(minutes=30)
    parts = []
    for k in range(6):
        part = source.assign(when=hours + pd.Timedelta(minutes=10 * (k + 1)))
        parts.append(part.assign(Temperature=source["Temperature"] + (k - 2.5)))
    own = pd.concat(parts).sort_values("when")
    own["when"] = own["when"].dt.strftime("%Y-%m-%dT%H:%M")
    # a day's worth of scattered rows lost: the hour's mean is of the others
    climate = read_climate(write(tmp_path, own), stamp="end", columns=COLUMNS, **PLACE)
    assert_same(climate, desert)


def test_relative_humidity_alone_and_global_alone(tmp_path, source, desert):
    """The humidity comes back through one saturation formula; direct and diffuse come from Erbs1982."""
    from welkinwell.climate.moisture import saturation_pressures

    humidity = 100.0 * desert["vapour_pressure"].values / saturation_pressures(desert["temperature"].values)
    own = source.assign(when=source["when"].dt.strftime("%Y-%m-%dT%H:%M"), RH=humidity)
    columns = {k: v for k, v in COLUMNS.items() if k not in ("dew_point", "dni", "dhi", "pressure")}
    climate = read_climate(
        write(tmp_path, own), stamp="middle", columns=columns | {"relative_humidity": "RH [%]"}, **PLACE
    )
    np.testing.assert_allclose(climate["vapour_pressure"].values, desert["vapour_pressure"].values, rtol=1e-9)
    assert climate["dhi"].attrs["how"] == "modelled"
    assert climate["pressure"].attrs["how"] == "modelled"
    names = {w.split(":")[0] for w in json.loads(climate.attrs["warnings"])}
    assert {"sun_modelled", "pressure_modelled", "wind_height"} <= names
    # Erbs's split of a desert's year: right within a fifth of the diffuse that the satellite saw
    assert float(climate["dhi"].mean()) == pytest.approx(float(desert["dhi"].mean()), rel=0.2)


def test_erbs_split_is_that_of_pvlib(desert):
    import pvlib

    from welkinwell.climate.sunlight import erbs_diffuse_share
    from welkinwell.sky.sun import sun_path

    path = sun_path(34.85, -116.78, 561.0, desert["time"].values, 1)
    high = path.up > 0.1
    ghi, extra = desert["ghi"].values[high], path.extraterrestrial[high]
    share = erbs_diffuse_share(ghi, extra * path.up[high])
    days = ((desert["time"].values[high] - np.datetime64("2019-01-01")) // np.timedelta64(1, "D")).astype(
        int
    ) + 1
    expected = pvlib.irradiance.erbs(ghi, np.degrees(path.zenith[high]), days)
    assert np.abs(share * ghi - expected["dhi"]).max() < 0.02 * ghi.max()


def test_two_years_need_a_choice(tmp_path, source):
    both = pd.concat(
        [
            source,
            source.assign(
                when=source["when"] + pd.DateOffset(years=2), Temperature=source["Temperature"] + 1.0
            ),
        ]
    )
    both["when"] = both["when"].dt.strftime("%Y-%m-%dT%H:%M")
    path = write(tmp_path, both)
    from welkinwell.errors import ClimateError

    with pytest.raises(ClimateError, match=r"whole years \[2023, 2025\].*year="):
        read_climate(path, stamp="middle", columns=COLUMNS, **PLACE)
    later = read_climate(path, stamp="middle", columns=COLUMNS, year=2025, **PLACE)
    earlier = read_climate(path, stamp="middle", columns=COLUMNS, year=2023, **PLACE)
    assert float((later["temperature"] - earlier["temperature"]).mean()) == pytest.approx(1.0)


def test_where_the_stamp_stands_moves_the_hour_and_the_instant(tmp_path, source):
    """The same rows called `start`, `middle` and `end`: the sun's hour moves, the air's instant does not."""
    whole = source.assign(when=(source["when"] - pd.Timedelta(minutes=30)).dt.strftime("%Y-%m-%dT%H:%M"))
    path = write(tmp_path, whole)
    instants = []
    for stamp, offset in (("start", 0.0), ("middle", 1800.0)):
        climate = read_climate(path, stamp=stamp, columns=COLUMNS, **PLACE)
        assert climate.attrs["instant_offset"] == offset
        hottest = int(np.argmax(climate["temperature"].values))
        at = climate["time"].values[hottest] + np.timedelta64(int(offset), "s")
        instants.append(at)
        told = any(w.startswith("sun_clock") for w in json.loads(climate.attrs["warnings"]))
        assert told == (stamp == "middle")  # half an hour off, and the sun tells it
    assert instants[0] == instants[1]


def test_codes_and_how_and_a_year_from_july_to_june(tmp_path, source, desert):
    """-9999 is missing where it is named; a year that starts in July lands on the same nominal hours."""
    own = source.copy()
    own.loc[own["when"].dt.month < 7, "when"] += pd.DateOffset(years=1)  # January to June of 2024
    own = own.sort_values("when")
    own["when"] = own["when"].dt.strftime("%Y-%m-%dT%H:%M")
    own.iloc[1000, own.columns.get_loc("Temperature")] = -9999
    path = write(tmp_path, own, "|")
    climate = read_climate(
        path,
        stamp="middle",
        delimiter="|",
        missing=(-9999,),
        how={"temperature": "measured"},
        columns=COLUMNS,
        **PLACE,
    )
    off = climate["temperature"].values - desert["temperature"].values
    assert np.count_nonzero(np.abs(off) > 1e-9) <= 1
    assert json.loads(climate.attrs["repairs"])["temperature_interpolated"] == 1
    assert climate["temperature"].attrs["how"] == "measured"
    assert climate["ghi"].attrs["how"] == "unknown"
    assert set(climate["source_year"].values) == {2023, 2024}


@pytest.mark.parametrize(
    ("unit", "cell", "range_"), [("degC", 75, "-93.15 to 61.85"), ("degF", 150, "-135.67 to 143.33")]
)
def test_the_range_of_a_column_stands_in_its_own_unit(tmp_path, unit, cell, range_):
    """180 to 335 K by the table of quantities; the row that is beyond is named."""
    when = pd.date_range("2023-01-01", periods=8760, freq="h").strftime("%Y-%m-%dT%H:%M")
    own = pd.DataFrame({"when": when, "T": 20.0, "RH": 40.0, "G": 0.0, "V": 2.0})
    own.loc[5, "T"] = cell
    columns = {
        "time": "when",
        "temperature": f"T [{unit}]",
        "relative_humidity": "RH [%]",
        "ghi": "G [W/m2]",
        "wind_speed": "V [m/s]",
    }
    with pytest.raises(ClimateError, match=re.escape(f"own.csv, line 7, T: got {cell} {unit}")) as error:
        read_climate(write(tmp_path, own), **PLACE, stamp="end", columns=columns)
    low, high = (float(word) for word in re.search(r"expected (\S+) to (\S+) ", str(error.value)).groups())
    assert (low, high) == pytest.approx(tuple(map(float, range_.split(" to "))), abs=0.1)
