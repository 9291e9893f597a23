"""Which column is what, told in TOML: read, refused in words, and the year that comes out of it."""

import json

import numpy as np
import pandas as pd
import pytest

from welkinwell.climate import read_climate
from welkinwell.climate.column_map import (
    DeviceColumns,
    LogCorrection,
    WeatherColumns,
    read_description,
    read_device_columns,
    read_form,
)
from welkinwell.climate.first_row import first_row
from welkinwell.errors import ClimateError, FileError, InputError

STATION = {
    "latitude": "34.85 deg",
    "longitude": "-116.78 deg",
    "elevation": "561 m",
    "utc_offset": "-8 h",
    "time": "when",
    "stamp": "middle",
    "temperature": "T [degC]",
    "dew_point": "dew [degC]",
    "ghi": "G [W/m2]",
    "dni": "B [W/m2]",
    "dhi": "D [W/m2]",
    "pressure": "p [hPa]",
    "wind_speed": "V [m/s]",
}


@pytest.fixture(scope="module")
def desert(weather):
    return read_climate(weather / "desert_daggett_california_tmy.csv.gz")


@pytest.fixture(scope="module")
def hours(weather):
    """The desert's columns in one calendar year, by instant of local standard time."""
    table = pd.read_csv(weather / "desert_daggett_california_tmy.csv.gz", skiprows=2)
    when = pd.to_datetime(table[["Year", "Month", "Day", "Hour", "Minute"]].assign(Year=2023))
    columns = {
        "Temperature": "T", "Dew Point": "dew", "GHI": "G", "DNI": "B", "DHI": "D", "Pressure": "p",
        "Wind Speed": "V",
    }  # fmt: skip
    return table[list(columns)].rename(columns=columns).set_index(when)


def columns_of(**changes):
    problems = []
    given = {name: value for name, value in (STATION | changes).items() if value is not None}
    found = read_form(WeatherColumns, given, "case.toml, [site.columns]", problems)
    assert problems == [], [str(one) for one in problems]
    return found


def written(path, frame, stamps, separator=",", **more):
    frame.assign(when=stamps).to_csv(path, index=False, sep=separator, **more)
    return path


def assert_same(climate, desert, rtol=1e-9):
    for name in ("temperature", "vapour_pressure", "pressure", "ghi", "dni", "dhi", "wind_speed"):
        np.testing.assert_allclose(
            climate[name].values, desert[name].values, rtol=rtol, atol=1e-9, err_msg=name
        )
    np.testing.assert_array_equal(climate["time"].values, desert["time"].values)


def test_the_description_gives_the_year_of_the_file_that_it_was_made_from(tmp_path, hours, desert):
    path = written(tmp_path / "own.csv", hours, hours.index.strftime("%Y-%m-%dT%H:%M"))
    assert_same(read_climate(path, **columns_of().options()), desert)


@pytest.mark.parametrize("clock", ["UTC", "UTC-09:30", "America/Los_Angeles"])
def test_the_clock_of_the_stamps(tmp_path, hours, desert, clock):
    """The same instants on three clocks, one of them with summer time, are the same year."""
    utc = (hours.index + pd.Timedelta(hours=8)).tz_localize("UTC")
    ahead = {"UTC": "UTC", "UTC-09:30": "-09:30"}.get(clock, clock)
    stamps = utc.tz_convert(ahead).strftime("%Y-%m-%d %H:%M")
    path = written(tmp_path / "own.csv", hours, stamps)
    assert_same(read_climate(path, **columns_of(clock=clock).options()), desert)
    if clock == "America/Los_Angeles":
        assert len(set(stamps)) < len(stamps)
        with pytest.raises(ClimateError, match="name the time zone"):
            read_climate(path, **columns_of().options())


def test_decimal_commas_a_line_of_units_a_date_of_its_own_and_codes(tmp_path, hours, desert):
    bend = int(np.abs(np.diff(hours["T"], 2)).argmax()) + 1  # where a straight line misses the most
    own = hours.assign(T=hours["T"].where(np.arange(8760) != bend, -9999.0))
    own.insert(0, "day", hours.index.strftime("%d.%m.%Y"))
    body = own.assign(when=hours.index.strftime("%H:%M")).to_csv(
        index=False, sep=";", decimal=",", na_rep="---"
    )
    head, rest = body.split("\n", 1)
    path = tmp_path / "own.csv"
    path.write_text(
        f"my station;;;\n{head}\n;degC;degC;W/m2;W/m2;W/m2;hPa;m/s;\n;Avg;Avg;Avg;Avg;Avg;Avg;Avg;\n{rest}"
    )
    more = {
        "date": "day", "time_format": "%d.%m.%Y %H:%M", "decimal": "comma", "skip_lines": 2,
        "missing": [-9999, "---"], "delimiter": ";", "measured": ["temperature"], "modelled": ["ghi"],
        "wind_height": "2 m", "source": "my own station", "licence": "mine",
    }  # fmt: skip
    climate = read_climate(path, **columns_of(**more).options())
    off = np.abs(climate["temperature"].values - desert["temperature"].values) > 1e-9
    assert np.flatnonzero(off).tolist() == [bend]
    assert json.loads(climate.attrs["repairs"])["temperature_interpolated"] == 1
    assert (climate["temperature"].attrs["how"], climate["ghi"].attrs["how"]) == ("measured", "modelled")
    assert (climate.attrs["wind_height"], climate.attrs["source"]) == (2.0, "my own station")
    assert climate.attrs["licence"] == "mine"


def test_instants_and_means_of_rows(tmp_path, hours):
    """Hourly rows at the end of their hour: air read at the stamp stands at 3600 s, a mean at 1800 s."""
    stamps = (hours.index + pd.Timedelta(minutes=30)).strftime("%Y-%m-%d %H:%M")
    path = written(tmp_path / "own.csv", hours, stamps)
    for air, offset in ((None, 3600.0), ("instant", 3600.0), ("mean", 1800.0)):
        climate = read_climate(path, **columns_of(stamp="end", air=air).options())
        assert climate.attrs["instant_offset"] == offset
        assert not any(w.startswith("sun_clock") for w in json.loads(climate.attrs["warnings"]))


@pytest.mark.parametrize("minutes", [10, 30])
def test_rows_shorter_than_an_hour(tmp_path, hours, desert, minutes):
    """A year of rows stamped at their end is averaged; instants stand half a row after the middle."""
    count = 60 // minutes
    begin = hours.index - pd.Timedelta(minutes=30)
    parts = [
        hours.set_index(begin + pd.Timedelta(minutes=minutes * (k + 1))).assign(
            T=hours["T"].values + k - (count - 1) / 2
        )
        for k in range(count)
    ]  # fmt: skip
    own = pd.concat(parts).sort_index()
    path = written(tmp_path / "own.csv", own, own.index.strftime("%Y-%m-%d %H:%M"))
    climate = read_climate(path, **columns_of(stamp="end").options())
    assert_same(climate, desert)
    assert climate.attrs["instant_offset"] == 1800.0
    instants = read_climate(path, **columns_of(stamp="end", air="instant").options())
    assert instants.attrs["instant_offset"] == 1800.0 + 30.0 * minutes


def test_a_calendar_year_stamped_at_the_end_has_one_row_of_the_year_before(tmp_path, hours, desert):
    """From 1 January 00:00 to 31 December 23:30: the first row is of the December before."""
    begin = hours.index - pd.Timedelta(minutes=30)
    own = pd.concat([hours.set_index(begin), hours.set_index(begin + pd.Timedelta(minutes=30))]).sort_index()
    path = written(tmp_path / "own.csv", own, own.index.strftime("%Y-%m-%d %H:%M"))
    climate = read_climate(path, **columns_of(stamp="end").options())
    assert climate.sizes["time"] == 8760
    told = json.loads(climate.attrs["warnings"])
    assert any(w.startswith("beyond_a_year: 1 hours") for w in told)


def test_a_year_across_two_calendar_years_and_a_leap_year(tmp_path, hours, desert):
    """From July to June, and a leap year with its 29 February: the same nominal hours."""
    moved = hours.copy()
    moved.index = hours.index.where(hours.index.month >= 7, hours.index + pd.DateOffset(years=1))
    moved = moved.sort_index()
    path = written(tmp_path / "own.csv", moved, moved.index.strftime("%Y-%m-%d %H:%M"))
    assert_same(read_climate(path, **columns_of().options()), desert)
    leap = hours.copy()
    leap.index = hours.index + pd.DateOffset(years=1)
    extra = leap[(leap.index.month == 2) & (leap.index.day == 28)]
    leap = pd.concat([leap, extra.set_index(extra.index + pd.Timedelta(days=1))]).sort_index()
    path = written(tmp_path / "leap.csv", leap, leap.index.strftime("%Y-%m-%d %H:%M"))
    climate = read_climate(path, **columns_of().options())
    assert_same(climate, desert)
    assert json.loads(climate.attrs["repairs"])["leap_day_hours_dropped"] == 24


def test_thirteen_months_are_told_to_be_cut(tmp_path, hours):
    moved = pd.concat([hours, hours[:720].set_index(hours.index[:720] + pd.DateOffset(years=1))])
    moved.index = moved.index + pd.Timedelta(days=100)
    path = written(tmp_path / "own.csv", moved, moved.index.strftime("%Y-%m-%d %H:%M"))
    with pytest.raises(ClimateError, match="Cut the table to twelve months in a row"):
        read_climate(path, **columns_of().options())


def test_another_description_of_the_same_file_is_other_weather(tmp_path, hours):
    stamps = (hours.index + pd.Timedelta(minutes=30)).strftime("%Y-%m-%d %H:%M")
    path = written(tmp_path / "own.csv", hours, stamps)
    hashes = {read_climate(path, **columns_of(stamp="end", air=a).options()).attrs["content_hash"]
              for a in ("instant", "mean", "mean")}  # fmt: skip
    assert len(hashes) == 2


def test_the_first_row_is_shown_as_understood(tmp_path):
    path = tmp_path / "own.csv"
    path.write_text(
        "when;T;RH;sun;wind;rain\n01.07.2023 14:10;21,5;48;0,9;3,6;0,2\n"
        "01.07.2023 14:20;21,6;-9;0,9;3,6;0,0\n"
    )
    columns = columns_of(
        clock="America/Los_Angeles", time_format="%d.%m.%Y %H:%M", decimal="comma", stamp="end",
        temperature="T [degC]", dew_point=None, relative_humidity="RH [%]", ghi="sun [kW/m2]", dni=None,
        dhi=None, pressure=None, wind_speed="wind [km/h]", precipitation="rain [mm]",
    )  # fmt: skip
    row = first_row(path, columns.options())
    told = "\n".join(" ".join(line.split()) for line in row.lines())
    for words in (
        "2 rows, 10 minutes apart; the first, line 2, is stamped '01.07.2023 14:10'",
        "2023-07-01 13:10 local standard time (UTC-8), 2023-07-01 21:10 UTC",
        "it speaks for 2023-07-01 13:00 to 2023-07-01 13:10 local",
        "all its values are taken as means over that time",
        "21.5 degC from '21,5' in 'T'",
        "48 % from '48' in 'RH'",
        "900 W/m2 from '0,9' in 'sun'",
        "1 m/s from '3,6' in 'wind'",
        "1.2 mm/h from '0,2' in 'rain'",
    ):
        assert words in told, words
    at_stamp = first_row(path, columns.options() | {"air": "instant"}).lines()
    assert "  its sun is taken as a mean over that time, the rest as read at the stamp" in at_stamp
    data = json.loads(json.dumps(row.as_data(), allow_nan=False))
    assert data["utc"] == "2023-07-01T21:10:00" and data["values"]["temperature"]["value"] == pytest.approx(
        294.65
    )


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"stamp": "ende"}, "stamp: got 'ende'; expected one of 'start', 'middle', 'end'. Did you mean"),
        ({"stamp": None}, "stamp: got nothing; expected one of 'start', 'middle', 'end'"),
        ({"air": "average"}, "air: got 'average'; expected one of 'instant', 'mean'"),
        ({"latitude": "95 deg"}, "latitude: got '95 deg'; expected a number with its unit"),
        ({"latitude": 34.85}, "latitude: got 34.85; expected a number with its unit"),
        ({"utc_offset": "15 h"}, "utc_offset: got '15 h'; expected a number with its unit"),
        ({"elevation": "9000 m"}, "elevation: got '9000 m'"),
        ({"wind_height": "0 m"}, "wind_height: got '0 m'"),
        ({"year": "2023"}, "year: got '2023'; expected a whole number, from 1800 to 2200"),
        ({"delimiter": "comma"}, "delimiter: got 'comma'; expected one of ',', ';', 'tab', '|'"),
        ({"decimal": ","}, "decimal: got ','; expected one of 'point', 'comma'"),
        ({"skip_lines": 50}, "skip_lines: got 50; expected a whole number, from 0 to 20"),
        ({"missing": -9999}, "missing: got -9999; expected a list of texts"),
        ({"missing": [True]}, "missing: got [True]; expected a list of texts"),
        ({"clock": "summer"}, "clock: got 'summer'; expected local, UTC, UTC+02:00, or a time zone"),
        ({"temperature": "T"}, "temperature: got 'T'; expected the column's name, then its unit in square"),
        ({"temperature": "T [kg]"}, "temperature: got T [kg]; expected a unit of K"),
        ({"temperature": 3}, "temperature: got 3; expected text"),
        ({"temperature": None}, "temperature: got nothing"),
        ({"wind_speed": "V [W/m2]"}, "wind_speed: got V [W/m2]; expected a unit of m/s"),
        ({"dew_point": None}, "humidity: got no column; expected one of dew_point, relative_humidity"),
        ({"ghi": None, "dhi": None}, "sun: got no column; expected ghi, or dni and dhi"),
        ({"modelled": ["gih"]}, "modelled: got 'gih'; expected a variable of this table. Did you mean"),
        ({"temprature": "T [degC]"}, "the key 'temprature'"),
        ({"time_format": ""}, "time_format: got ''; expected text"),
        ({"source": 7}, "source: got 7; expected text"),
    ],
)  # fmt: skip
def test_a_wrong_description_names_the_key_the_value_and_what_is_allowed(changes, words):
    problems = []
    given = {name: value for name, value in (STATION | changes).items() if value is not None}
    assert read_form(WeatherColumns, given, "case.toml, [site.columns]", problems) is None
    told = "\n".join(map(str, problems))
    assert words in told and "case.toml, [site.columns]" in told, told


@pytest.mark.parametrize(
    ("text", "changes", "words"),
    [
        ("when;T;V\n2023-01-01 00:00;21,5;1\n", {}, "own.csv, line 2, T: got '21,5'; expected a number with"),
        ("when,T,V\n2023-01-01 00:00,21,5,1\n", {"decimal": "comma"}, "line 2: got 4 fields; expected 3, as"),
        ("when,T,T,V\n2023-01-01 00:00,1,2,3\n", {}, "line 1: got 2 columns 'T'; expected each name once"),
        ("when,Temp,V\n2023-01-01 00:00,1,2\n", {}, "no column 'T'; expected one of 'when', 'Temp', 'V'"),
        ("zeit,T,V\n2023-01-01 00:00,1,2\n", {}, "own.csv, columns, time: got 'when'; expected a name in"),
        ("when,T,V\n1.1.2023,1,2\n", {}, "line 2, time: got '1.1.2023'; expected a time as 2024-01-31T23:00"),
        ("when,T,V\n", {}, "no data rows"),
    ],
)  # fmt: skip
def test_a_table_that_is_not_as_described_is_told(tmp_path, text, changes, words):
    path = tmp_path / "own.csv"
    path.write_text(text)
    columns = columns_of(dew_point="T [degC]", ghi="V [W/m2]", dni=None, dhi=None, pressure=None, **changes)
    with pytest.raises(InputError) as told:
        read_climate(path, **columns.options())
    assert words in str(told.value)


def described(path, **tables):
    lines = []
    for name, table in tables.items():
        lines.append(f"[{name.replace('_', '.', 1)}]" if name != "device_log" else "[device_log]")
        lines += [f"{key} = {json.dumps(value)}" for key, value in table.items()]
    path.write_text("\n".join(lines) + "\n")
    return path


def test_a_description_takes_the_place_of_site_where_it_has_none(tmp_path):
    bare = {key: value for key, value in STATION.items() if key not in ("latitude", "longitude", "elevation")}
    site = {"name": "Here", "latitude": "30 deg", "longitude": "20 deg", "elevation": "5 m"}
    path = described(tmp_path / "own.toml", site=site, site_columns=bare)
    told = read_description(path)
    options = told.columns.options()
    assert (options["latitude"], options["longitude"], options["elevation"]) == pytest.approx(
        (30.0, 20.0, 5.0)
    )
    assert told.site == "Here"
    with pytest.raises(InputError, match=r"own.toml, \[site.columns\], latitude: got nothing"):
        read_description(described(path, site_columns=bare))
    with pytest.raises(InputError, match=r"own.toml, \[site\], latitude: got '95 deg'"):
        read_description(described(path, site=site | {"latitude": "95 deg"}, site_columns=bare))


def test_a_file_that_is_no_description_is_told(tmp_path):
    path = tmp_path / "own.toml"
    with pytest.raises(FileError, match=r"nowhere.toml: got no such file; expected a TOML file"):
        read_description(tmp_path / "nowhere.toml")
    path.write_text("[site]\nname = 'x'\n")
    with pytest.raises(
        FileError, match=r"a file with neither; expected \[site.columns\] or \[site.correction\]"
    ):
        read_description(path)
    with pytest.raises(FileError, match=r"a file without it; expected \[device_log\]"):
        read_device_columns(path)
    path.write_text("[site.columns\n")
    with pytest.raises(FileError, match="text that is not TOML"):
        read_description(path)
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(FileError, match="a file that is not text: the byte"):
        read_description(path)
    path.write_text("site = 3\n")
    with pytest.raises(FileError, match="a file with neither"):
        read_description(path)
    path.write_text("[site]\ncolumns = 3\n")
    with pytest.raises(InputError, match="got 3; expected a table that says which column is what"):
        read_description(path)


def test_logs_say_what_they_lack(tmp_path):
    log = {"log": "log.csv", "time": "t", "temperature": "T [degC]"}
    path = described(tmp_path / "own.toml", site_correction=log)
    with pytest.raises(InputError, match="humidity: got no column"):
        read_description(path)
    path = described(path, site_correction=log | {"relative_humidity": "RH [%]"})
    with pytest.raises(InputError, match=r"'log\.csv', which is not there; expected a log of the site's air"):
        read_description(path)
    (tmp_path / "log.csv").write_text("t,T,RH\n")
    assert isinstance(read_description(path).correction, LogCorrection)
    device = {"time": "t", "litres": "water [kg/h]"}
    with pytest.raises(InputError, match="litres: got water"):
        read_device_columns(described(path, device_log=device))
    found = read_device_columns(described(path, device_log=device | {"litres": "water [mL]"}))
    assert isinstance(found, DeviceColumns) and found.named() == {"time": "t", "litres": "water [mL]"}
