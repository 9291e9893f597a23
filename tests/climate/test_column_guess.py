"""A block for an unknown table: guessed from headings as loggers write them, and it works once filled in."""

import re
import tomllib

import numpy as np
import pandas as pd
import pytest

from welkinwell.climate import read_climate
from welkinwell.climate.column_guess import FILL_IN, device_block, guessed, weather_block
from welkinwell.climate.column_map import (
    DeviceColumns,
    LogCorrection,
    WeatherColumns,
    read_description,
    read_form,
)
from welkinwell.climate.weather_file import open_weather
from welkinwell.errors import FileError


@pytest.fixture(scope="module")
def desert(weather):
    return read_climate(weather / "desert_daggett_california_tmy.csv.gz")


@pytest.fixture(scope="module")
def hours(weather):
    table = pd.read_csv(weather / "desert_daggett_california_tmy.csv.gz", skiprows=2)
    when = pd.to_datetime(table[["Year", "Month", "Day", "Hour", "Minute"]].assign(Year=2023))
    return table.set_index(when)


def logger(hours, titles, stamp, when="when", **more):
    """The desert's year under a logger's headings; titles: of temperature, dew point, sun and wind."""
    names = ("Temperature", "Dew Point", "GHI", "Wind Speed")
    own = hours[list(names)].rename(columns=dict(zip(names, titles, strict=True)))
    own.insert(0, when, hours.index.strftime(stamp))
    return own.to_csv(index=False, **more)


def filled_in(block, stamp="middle"):
    for key, value in (("deg", "34.85"), ("deg", "-116.78"), ("m", "561"), ("h", "-8")):
        block = block.replace(f"{FILL_IN} {key}", f"{value} {key}", 1)
    return block.replace('stamp = "end"', f'stamp = "{stamp}"')


LOGGERS = {
    "english": lambda h: logger(
        h, ("Temp, °C", "Dew Point, °C", "Solar Radiation, W/m²", "Wind Speed, m/s"), "%m/%d/%y %I:%M:%S %p",
        "Date Time, GMT-08:00",
    ),
    "title above": lambda h: '"Plot Title: 1"\n'
    + logger(h, ("Temp (°C)", "DewPt (°C)", "Solar (W/m2)", "Wind (m/s)"), "%Y-%m-%d %H:%M"),
    "german": lambda h: "Station;;;;\n"
    + logger(
        h, ("Lufttemperatur [°C]", "Taupunkt [°C]", "Globalstrahlung [W/m²]", "Windgeschwindigkeit [m/s]"),
        "%d.%m.%Y %H:%M", "Datum/Zeit", sep=";", decimal=",",
    ),
    "tabs": lambda h: logger(
        h, ("T_Air_C_Avg", "TDew_C dew", "SlrW_Avg", "WS_ms_Avg"), "%d/%m/%Y %H:%M", "TIMESTAMP", sep="\t"
    ),
    "iso with offset": lambda h: logger(
        h, ("air temperature", "dew point", "GHI", "wind"), "%Y-%m-%dT%H:%M:00-08:00", "time"
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", LOGGERS)
def test_the_block_works_once_the_place_is_filled_in(tmp_path, hours, desert, kind):
    path = tmp_path / "station.csv"
    path.write_text(LOGGERS[kind](hours), encoding="utf-8")
    with pytest.raises(FileError) as told:
        read_climate(path)
    words = str(told.value)
    assert "It looks like a table of your own. Paste this into the case below [site]" in words
    block = "[site.columns]" + words.split("[site.columns]", 1)[1]
    assert block.count(f'"{FILL_IN}') == 4
    (tmp_path / "station.toml").write_text(filled_in(block), encoding="utf-8")
    columns = read_description(tmp_path / "station.toml").columns
    climate = read_climate(path, **columns.options())
    for name in ("temperature", "vapour_pressure", "ghi", "wind_speed"):
        np.testing.assert_allclose(climate[name].values, desert[name].values, atol=1e-9, err_msg=name)


def test_what_is_left_blank_is_told(tmp_path, hours):
    path = tmp_path / "station.csv"
    path.write_text(LOGGERS["english"](hours), encoding="utf-8")
    problems = []
    table = tomllib.loads(weather_block(open_weather(path))[1])["site"]["columns"]
    assert table["clock"] == "UTC-08:00"
    assert read_form(WeatherColumns, table, "case.toml, [site.columns]", problems) is None
    assert sorted(re.search(r"\], (\w+): got", str(one)).group(1) for one in problems) == [
        "elevation", "latitude", "longitude", "utc_offset",
    ]  # fmt: skip


def test_units_in_a_line_below_and_codes_for_no_value(tmp_path, hours):
    body = logger(hours, ("AirTC_Avg", "DewPt", "SlrW", "WS"), "%Y-%m-%d %H:%M:%S", "TIMESTAMP").split(
        "\n", 1
    )
    rows = body[1].splitlines()
    rows[5] = rows[5].replace(rows[5].split(",")[1], "NAN", 1)
    rows[9] = ",".join([rows[9].split(",")[0], "-6999", *rows[9].split(",")[2:]])
    text = "\n".join(
        ['"TOP","station",1,2,x', body[0], "TS,Deg C,Deg F,kW/m2,km/h", ",Avg,Avg,Avg,Avg", *rows]
    )
    path = tmp_path / "station.dat"
    path.write_text(text)
    table = tomllib.loads(weather_block(open_weather(path))[1])["site"]["columns"]
    assert table["skip_lines"] == 2
    assert table["missing"] == ["-6999", "NAN"]
    assert table["temperature"] == "AirTC_Avg [degC]"
    assert table["dew_point"] == "DewPt [degF]"
    assert table["ghi"] == "SlrW [kW/m2]"
    assert table["wind_speed"] == "WS [km/h]"


def test_units_by_the_size_of_the_values_are_marked(tmp_path, hours):
    own = pd.DataFrame({
        "Date": hours.index.strftime("%d/%m/%Y"), "Time": hours.index.strftime("%H:%M"),
        "Outdoor Temperature": hours["Temperature"] * 1.8 + 32.0, "Humidity": 40.0,
        "Pressure": hours["Pressure"] / 10.0, "Wind Speed": 2.0, "Wind Gust": 3.0, "Wind Direction": 180,
        "Solar": 10.0, "Rain": 0.0, "Indoor Temperature": 70.0,
    })  # fmt: skip
    path = tmp_path / "station.csv"
    own.to_csv(path, index=False)
    block = weather_block(open_weather(path))[1]
    table = tomllib.loads(block)["site"]["columns"]
    assert (table["date"], table["time"], table["time_format"]) == ("Date", "Time", "%d/%m/%Y %H:%M")
    expected = {
        "temperature": "Outdoor Temperature [degF]", "relative_humidity": "Humidity [%]",
        "pressure": "Pressure [kPa]", "wind_speed": "Wind Speed [m/s]", "ghi": "Solar [W/m2]",
        "precipitation": "Rain [mm]",
    }  # fmt: skip
    assert {name: table[name] for name in expected} == expected
    assert block.count("guessed from the size of the values") == len(expected)


def test_day_and_month_that_could_be_swapped_are_marked(tmp_path):
    stamps = pd.date_range("2023-04-05", periods=60, freq="10min").strftime("%d/%m/%Y %H:%M")
    frame = pd.DataFrame({"time": stamps, "temp": 20.0, "rh": 40.0, "ghi": 1.0, "wind": 1.0})
    frame.to_csv(tmp_path / "log.csv", index=False)
    assert (
        "day and month could be the other way round" in weather_block(open_weather(tmp_path / "log.csv"))[1]
    )
    frame["time"] = pd.date_range("2023-04-05", periods=60, freq="D").strftime("%m/%d/%Y 00:00")
    frame.to_csv(tmp_path / "log.csv", index=False)
    block = weather_block(open_weather(tmp_path / "log.csv"))[1]
    assert "the other way round" not in block and '"%m/%d/%Y %H:%M"' in block


def test_summer_time_shows_in_an_hour_that_comes_twice(tmp_path):
    utc = pd.date_range("2023-10-28", periods=60, freq="h", tz="UTC")
    stamps = utc.tz_convert("Europe/Madrid").strftime("%Y-%m-%d %H:%M")
    pd.DataFrame({"time": stamps, "temp": 20.0, "rh": 40.0, "ghi": 1.0, "wind": 1.0}).to_csv(
        tmp_path / "log.csv", index=False
    )
    block = weather_block(open_weather(tmp_path / "log.csv"))[1]
    assert f'clock = "{FILL_IN}"' in block and "an hour comes twice" in block


def test_a_table_without_wind_says_so(tmp_path):
    stamps = pd.date_range("2023-10-28", periods=60, freq="h").strftime("%Y-%m-%d %H:%M")
    pd.DataFrame({"time": stamps, "temp": 20.0, "rh": 40.0, "ghi": 1.0}).to_csv(
        tmp_path / "log.csv", index=False
    )
    words, block = weather_block(open_weather(tmp_path / "log.csv"))
    assert "No column of it was known as wind speed." in words
    assert re.search(r"# wind_speed = +# needed", block)


def test_a_log_of_air_alone_is_proposed_as_a_correction(tmp_path):
    stamps = pd.date_range("2023-10-28", periods=60, freq="10min").strftime("%d.%m.%Y %H:%M")
    pd.DataFrame({"Zeit": stamps, "Temp °C": 20.5, "Feuchte %": 40.5}).to_csv(
        tmp_path / "log.csv", index=False, sep=";", decimal=","
    )
    words, block = weather_block(open_weather(tmp_path / "log.csv"))
    assert "can correct a weather file of the place" in words
    problems = []
    table = tomllib.loads(block)["site"]["correction"]
    found = read_form(LogCorrection, table, "[site.correction]", problems)
    assert problems == [] and found.log == "log.csv"
    assert found.named() == {
        "time": "Zeit", "temperature": "Temp °C [degC]", "relative_humidity": "Feuchte % [%]",
    }  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        "hello world\n1,2,3\n", "a,b\n1,2\n", "time,temp\n", "when,colour\n2023-01-01 00:00,red\n",
        "\x01,\x02\n", '"unclosed,temp\n2023-01-01 00:00,1\n', "time;temp\n2023-13-45 99:99;1\n",
        "time,temp\n" + "9" * 200000 + ",1\n", "," * 3000, "a;b;c\n;;\n1:1;2;3\n",
    ],
)  # fmt: skip
def test_what_is_no_table_gets_no_block_and_no_traceback(tmp_path, text):
    path = tmp_path / "odd.csv"
    path.write_text(text)
    assert weather_block(open_weather(path)) == ("", "")
    assert device_block(open_weather(path)) == ""


def test_a_device_log_is_guessed(tmp_path):
    stamps = pd.date_range("2023-10-28", periods=60, freq="h").strftime("%d.%m.%Y %H:%M")
    pd.DataFrame({
        "Zeit": stamps, "Wasserzähler (L)": np.arange(60) * 0.25, "Bed T1 (°C)": 60.0, "Cond. (°C)": 30.0,
        "Amb. (°C)": 25.0, "RH (%)": 30.0, "Pyranometer (W/m2)": 500.0,
    }).to_csv(tmp_path / "log.csv", index=False, sep=";", decimal=",")  # fmt: skip
    block = device_block(open_weather(tmp_path / "log.csv"))
    problems = []
    found = read_form(DeviceColumns, tomllib.loads(block)["device_log"], "[device_log]", problems)
    assert problems == []
    assert found.running_total and found.decimal == "comma" and found.time_format == "%d.%m.%Y %H:%M"
    assert found.named() == {
        "time": "Zeit", "litres": "Wasserzähler (L) [L]", "bed_temperature": "Bed T1 (°C) [degC]",
        "condenser_temperature": "Cond. (°C) [degC]", "air_temperature": "Amb. (°C) [degC]",
        "relative_humidity": "RH (%) [%]", "sun": "Pyranometer (W/m2) [W/m2]",
    }  # fmt: skip


def test_a_guess_reads_nothing_by_itself(tmp_path, hours):
    path = tmp_path / "station.csv"
    path.write_text(LOGGERS["english"](hours), encoding="utf-8")
    assert guessed(open_weather(path)) is not None
    with pytest.raises(FileError):
        read_climate(path)
