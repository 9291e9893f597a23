"""Real weather written in every format that the readers know, so that a fault can be planted in any of them.

The rows are those of the file as read; only their clock is fitted to the format. Where a format puts the air
at another place in its hour than the source did, the nearest row is taken (at most half an hour off, all
columns of the air alike). Where the source's hours do not start on the hour, the longitude is moved by as
much, so that the sun stays right.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np
import pvlib

from welkinwell.climate import read_climate
from welkinwell.climate.hourly import DAYS_IN_MONTH
from welkinwell.climate.moisture import dew_points, saturation_pressures

ROOT: Final = Path(__file__).parents[1]
PVLIB: Final = Path(pvlib.__file__).parent / "data"
PLACES: Final = {
    "coast": ROOT / "examples" / "weather" / "coast_western_australia_2020.csv.gz",
    "desert": ROOT / "examples" / "weather" / "desert_daggett_california_tmy.csv.gz",
    "highland": ROOT / "examples" / "weather" / "highland_denver_colorado_tmy3.epw.gz",
    "tropics": ROOT / "examples" / "weather" / "tropics_kuala_lumpur_2020.csv.gz",
    "plain of the Po": ROOT / "tests" / "climate" / "data" / "pvgis_45N_8E_tmy.csv.gz",
    "Miami": PVLIB / "12839.tm2",
    "Greensboro": PVLIB / "723170TYA.CSV",
    "Sand Point": PVLIB / "703165TY.csv",
}
HUMIDITY: Final = ("relative_humidity", "dew_point", "vapour_pressure")
SUN: Final = ("ghi", "dni", "dhi")
HOURS: Final = 8760


@dataclass(frozen=True)
class Rows:
    """A year of rows from local midnight of 1 January, in everyday units.

    columns: temperature and dew_point [C], relative_humidity [%], vapour_pressure and pressure [Pa], ghi, dni
    and dhi [W/m2], wind_speed [m/s]; latitude, longitude [deg]; elevation [m]; zone [h]; years: of each row.
    """

    columns: dict[str, np.ndarray]
    latitude: float
    longitude: float
    elevation: float
    zone: int
    years: np.ndarray


@dataclass(frozen=True)
class Format:
    """One way to write a year.

    write: rows and the columns to write, to text; air_at: where in the hour the air stands [h]; humidity,
    sun: choices of columns that such files carry; ending: of the file's name; options: for read_climate.
    """

    write: Callable[[Rows, tuple[str, ...]], str]
    air_at: float
    humidity: tuple[tuple[str, ...], ...]
    sun: tuple[tuple[str, ...], ...]
    ending: str
    options: Callable[[Rows, tuple[str, ...]], dict[str, Any]] = lambda rows, names: {}


@cache
def rows_of(place: str, air_at: float) -> Rows:
    """Read a place and put its air where a format has it in the hour [h]."""
    climate = read_climate(PLACES[place])
    about = climate.attrs
    zone = round(about["utc_offset"])
    start = float((climate["time"].values[0] - np.datetime64("2019-01-01")) / np.timedelta64(1, "h")) + zone
    later = -round(air_at - about["instant_offset"] / 3600.0)
    T, vapour = (np.roll(climate[name].values, later) for name in ("temperature", "vapour_pressure"))
    columns = {
        "temperature": T - 273.15,
        "dew_point": dew_points(vapour) - 273.15,
        "relative_humidity": 100.0 * vapour / saturation_pressures(T),
        "vapour_pressure": vapour,
        **{name: np.roll(climate[name].values, later) for name in ("pressure", "wind_speed")},
        **{name: climate[name].values for name in SUN},
    }
    return Rows(
        columns,
        about["latitude"],
        about["longitude"] + 15.0 * start,
        about["elevation"],
        zone,
        climate["source_year"].values,
    )


def clock() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Month, day and hour (0 to 23) of each row of a year without 29 February."""
    month = np.repeat(np.arange(1, 13), np.array(DAYS_IN_MONTH) * 24)
    day = np.concatenate([np.repeat(np.arange(1, days + 1), 24) for days in DAYS_IN_MONTH])
    return month, day, np.tile(np.arange(24), 365)


def _lines(*head: str, rows: list[str]) -> str:
    return "\n".join([*head, *rows]) + "\n"


def _epw(rows: Rows, names: tuple[str, ...]) -> str:
    c = rows.columns
    head = [
        f"LOCATION,A place,-,-,rewritten,0,{rows.latitude:.3f},{rows.longitude:.3f},{rows.zone},"
        f"{rows.elevation:g}",
        *("DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0"),
        *("HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0", "COMMENTS 1,", "COMMENTS 2,"),
        "DATA PERIODS,1,1,Data,Sunday,1/1,12/31",
    ]
    month, day, hour = clock()
    body = [
        f"{rows.years[i]},{month[i]},{day[i]},{hour[i] + 1},0,{'?9' * 21},{c['temperature'][i]:.1f},"
        f"{c['dew_point'][i]:.1f},{c['relative_humidity'][i]:.0f},{c['pressure'][i]:.0f},0,0,9999,"
        f"{c['ghi'][i]:.0f},{c['dni'][i]:.0f},{c['dhi'][i]:.0f},0,0,0,0,0,{c['wind_speed'][i]:.1f},99,99,9999,99999,"
        "9,999999999,999,0.999,999,99,999,999,99"
        for i in range(HOURS)
    ]
    return _lines(*head, rows=body)


def _tmy3(rows: Rows, names: tuple[str, ...]) -> str:
    c = rows.columns
    titles = (
        "Date (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),DNI (W/m^2),DHI (W/m^2),Dry-bulb (C),Dew-point (C),"
        "RHum (%),Pressure (mbar),Wspd (m/s)"
    )
    month, day, hour = clock()
    body = [
        f"{month[i]:02d}/{day[i]:02d}/{rows.years[i]},{hour[i] + 1:02d}:00,{c['ghi'][i]:.0f},"
        f"{c['dni'][i]:.0f},{c['dhi'][i]:.0f},{c['temperature'][i]:.1f},{c['dew_point'][i]:.1f},{c['relative_humidity'][i]:.0f},"
        f"{c['pressure'][i] / 100:.0f},{c['wind_speed'][i]:.1f}"
        for i in range(HOURS)
    ]
    head = f'0,"A PLACE",XX,{rows.zone:.1f},{rows.latitude:.3f},{rows.longitude:.3f},{rows.elevation:.0f}'
    return _lines(head, titles, rows=body)


def _tmy2(rows: Rows, names: tuple[str, ...]) -> str:
    c = rows.columns

    def degrees(value: float, signs: str, width: int) -> str:
        minutes = round(abs(value) * 60.0)
        return f"{signs[value < 0]} {minutes // 60:{width}d} {minutes % 60:2d}"

    head = (
        f" 00000 {'A PLACE':22s} XX{rows.zone:4d} {degrees(rows.latitude, 'NS', 2)} "
        f"{degrees(rows.longitude, 'EW', 3)} {rows.elevation:5.0f}"
    )
    month, day, hour = clock()
    body = [
        f" {rows.years[i] % 100:02d}{month[i]:02d}{day[i]:02d}{hour[i] + 1:02d}00000000"
        f"{c['ghi'][i]:04.0f}A0{c['dni'][i]:04.0f}A0{c['dhi'][i]:04.0f}A0" + "0000?0" * 4 + "99?999?9"
        f"{10 * c['temperature'][i]:4.0f}A7{10 * c['dew_point'][i]:4.0f}A7{c['relative_humidity'][i]:3.0f}A7"
        f"{c['pressure'][i] / 100:4.0f}A7000A7{10 * c['wind_speed'][i]:3.0f}A7" + "9" * 43
        for i in range(HOURS)
    ]
    return _lines(head, rows=body)


def _pvgis_place(rows: Rows) -> tuple[float, float, float]:
    """Latitude, longitude and elevation; the stamp stands in the middle of the hour, half an hour early."""
    return round(rows.latitude, 3), round(rows.longitude + 7.5, 3), rows.elevation


def _pvgis_rows(rows: Rows) -> list[dict[str, Any]]:
    month, day, hour = clock()
    c = {name: np.roll(column, -rows.zone) for name, column in rows.columns.items()}
    years = np.roll(rows.years, -rows.zone)
    return [
        {
            "time(UTC)": f"{years[i]}{month[i]:02d}{day[i]:02d}:{hour[i]:02d}00",
            "T2m": round(float(c["temperature"][i]), 2),
            "RH": round(float(c["relative_humidity"][i]), 2),
            "G(h)": round(float(c["ghi"][i]), 2),
            "Gb(n)": round(float(c["dni"][i]), 2),
            "Gd(h)": round(float(c["dhi"][i]), 2),
            "WS10m": round(float(c["wind_speed"][i]), 2),
            "SP": round(float(c["pressure"][i])),
        }
        for i in range(HOURS)
    ]


def _pvgis_csv(rows: Rows, names: tuple[str, ...]) -> str:
    table = _pvgis_rows(rows)
    latitude, longitude, elevation = _pvgis_place(rows)
    head = (
        f"Latitude (decimal degrees): {latitude}",
        f"Longitude (decimal degrees): {longitude}",
        f"Elevation (m): {elevation:.1f}",
        "Irradiance Time Offset (h): 0.0",
        ",".join(table[0]),
    )
    return _lines(*head, rows=[",".join(str(cell) for cell in row.values()) for row in table])


def _pvgis_json(rows: Rows, names: tuple[str, ...]) -> str:
    location = dict(zip(("latitude", "longitude", "elevation"), _pvgis_place(rows), strict=True))
    location["irradiance_time_offset"] = 0.0
    return json.dumps({"inputs": {"location": location}, "outputs": {"tmy_hourly": _pvgis_rows(rows)}})


def _nsrdb(rows: Rows, names: tuple[str, ...]) -> str:
    c = rows.columns
    titles = {"dew_point": ("Dew Point", ".1f"), "relative_humidity": ("Relative Humidity", ".2f")}
    chosen = [titles[name] + (c[name],) for name in names if name in titles]
    month, day, hour = clock()
    body = [
        f"{rows.years[i]},{month[i]},{day[i]},{hour[i]},30,{c['temperature'][i]:.1f},{c['ghi'][i]:.0f},"
        f"{c['dni'][i]:.0f},{c['dhi'][i]:.0f},{c['wind_speed'][i]:.1f},{c['pressure'][i] / 100:.0f},"
        + ",".join(f"{column[i]:{form}}" for _, form, column in chosen)
        for i in range(HOURS)
    ]
    return _lines(
        "Source,Location ID,City,State,Country,Latitude,Longitude,Time Zone,Elevation,Local Time Zone",
        f"NSRDB,0,-,-,-,{rows.latitude:.3f},{rows.longitude:.3f},{rows.zone},{rows.elevation:.0f},{rows.zone}",
        "Year,Month,Day,Hour,Minute,Temperature,GHI,DNI,DHI,Wind Speed,Pressure,"
        + ",".join(title for title, _, _ in chosen),
        rows=body,
    )


TABLE: Final = {
    "temperature": ("air [degC]", ".2f"),
    "relative_humidity": ("RH [%]", ".1f"),
    "dew_point": ("dew [degC]", ".2f"),
    "vapour_pressure": ("vapour [Pa]", ".0f"),
    "pressure": ("barometer [Pa]", ".0f"),
    "ghi": ("sun [W/m2]", ".1f"),
    "dni": ("direct [W/m2]", ".1f"),
    "dhi": ("diffuse [W/m2]", ".1f"),
    "wind_speed": ("wind [m/s]", ".1f"),
}


def _table_names(names: tuple[str, ...]) -> list[str]:
    return [n for n in TABLE if n in names or n in ("temperature", "pressure", "wind_speed")]


def _table(rows: Rows, names: tuple[str, ...]) -> str:
    chosen = [(TABLE[n][0].partition(" [")[0], TABLE[n][1], rows.columns[n]) for n in _table_names(names)]
    ends = np.datetime64("2019-01-01T01:00") + np.arange(HOURS) * np.timedelta64(60, "m")
    body = [
        f"{ends[i]}," + ",".join(f"{column[i]:{form}}" for _, form, column in chosen) for i in range(HOURS)
    ]
    return _lines("when," + ",".join(title for title, _, _ in chosen), rows=body)


def _table_options(rows: Rows, names: tuple[str, ...]) -> dict[str, Any]:
    return {
        "columns": {"time": "when"} | {n: TABLE[n][0] for n in _table_names(names)},
        "latitude": rows.latitude,
        "longitude": rows.longitude,
        "elevation": rows.elevation,
        "utc_offset": rows.zone,
        "stamp": "end",
    }


_PAIR: Final = (("relative_humidity", "dew_point"),)
_RH: Final = (("relative_humidity",),)
_WHOLE_SUN: Final = (SUN,)
FORMATS: Final = {
    "EPW": Format(_epw, 1.0, _PAIR, _WHOLE_SUN, ".epw"),
    "TMY3": Format(_tmy3, 1.0, _PAIR, _WHOLE_SUN, ".csv"),
    "TMY2": Format(_tmy2, 1.0, _PAIR, _WHOLE_SUN, ".tm2"),
    "PVGIS CSV": Format(_pvgis_csv, 0.5, _RH, _WHOLE_SUN, ".csv"),
    "PVGIS JSON": Format(_pvgis_json, 0.5, _RH, _WHOLE_SUN, ".json"),
    "NSRDB": Format(_nsrdb, 0.5, (("dew_point",), *_RH, *_PAIR), _WHOLE_SUN, ".csv"),
    "plain CSV": Format(
        _table,
        1.0,
        tuple((name,) for name in HUMIDITY),
        (("ghi",), ("ghi", "dhi"), SUN),
        ".csv",
        _table_options,
    ),
}


def with_columns(rows: Rows, changed: dict[str, np.ndarray]) -> Rows:
    """Give the same rows with some columns replaced."""
    return replace(rows, columns=rows.columns | changed)
