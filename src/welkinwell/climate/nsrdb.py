"""NSRDB csv files (two header lines, then columns): satellite sun, snapshots at the stamp.

The clock is the header's `Time Zone` (0 for UTC). Stamps stand in the middle of the interval that a row
speaks for: the file's own zenith angle and the closure of its three sun columns prove it
(docs/theory/climate.md). Half-hourly files are averaged to hours.
"""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np

from welkinwell.climate.columns import Column, read_column
from welkinwell.climate.hourly import FileYear
from welkinwell.climate.weather_file import (
    Take,
    WeatherText,
    delimited_columns,
    header_cells,
    header_number,
    whole_numbers,
)
from welkinwell.errors import ClimateError, FileError, Problem

COLUMNS = {
    "Temperature": Column("temperature", "Temperature", "C", -70, 60, (-9999,), offset=273.15),
    "Dew Point": Column("dew_point", "Dew Point", "C", -100, 41, (-9999,), offset=273.15),
    "Relative Humidity": Column(
        "relative_humidity", "Relative Humidity", "%", -5, 200, (-9999,), factor=0.01
    ),
    "Pressure": Column("pressure", "Pressure", "mbar", 450, 1100, (-9999,), factor=100.0),
    "GHI": Column("ghi", "GHI", "W/m2", -20, 1500, (-9999,)),
    "DNI": Column("dni", "DNI", "W/m2", -20, 1300, (-9999,)),
    "DHI": Column("dhi", "DHI", "W/m2", -20, 1000, (-9999,)),
    "Clearsky GHI": Column("clear_sky", "Clearsky GHI", "W/m2", -20, 1500, (-9999,)),
    "Wind Speed": Column("wind_speed", "Wind Speed", "m/s", 0, 70, (-9999,)),
    "Surface Albedo": Column("albedo", "Surface Albedo", "1", 0, 1, (-9999,)),
    "Cloud Type": Column("cloud_type", "Cloud Type", "1", -15, 12, (-9999, -15)),
}
CLOCK = ("Year", "Month", "Day", "Hour", "Minute")
NEEDED = ("Temperature", "GHI", "DNI", "DHI", "Wind Speed")
# Cover as the sky's longwave sees it: 0 and 1 are clear, 2 to 6, 8 and 9 opaque, 7 cirrus, high and cold,
# with the share of an opaque cloud's effect that its height leaves (0.3 against 0.78, see sky/longwave.py).
CLOUD_OF_TYPE = {0: 0.0, 1: 0.0, 2: 1.0, 3: 1.0, 4: 1.0, 5: 1.0, 6: 1.0, 7: 0.38, 8: 1.0, 9: 1.0}


def is_nsrdb(text: WeatherText) -> bool:
    """Tell whether a text is an NSRDB csv by its first words.

    text: the file.
    """
    return text.lines[0].startswith("Source,Location ID")


def read_nsrdb(text: WeatherText) -> FileYear:
    """Read an NSRDB csv as it stands, before the audit.

    text: the file.
    Returns the year in SI; FileError or ClimateError names line, field, value and range.
    """
    head = _header(text)
    lines, values = _rows(text)
    clock = {name: values.pop(name) for name in CLOCK}
    per_hour, first_minute = _rows_per_hour(text, clock["Minute"], lines)
    hourly = {n: _hour_means(v, per_hour) for n, v in values.items() if n != "cloud_type"}
    if "cloud_type" in values:
        hourly["cloud_cover"] = _hour_means(_cloud(values["cloud_type"]), per_hour)
    kept = slice(None, None, per_hour)
    year, month, day, hour = (clock[n][kept] for n in ("Year", "Month", "Day", "Hour"))
    return FileYear(
        text=text,
        kind="NSRDB",
        lines=np.array(lines)[kept],
        year=year,
        month=month,
        day=day,
        hour=hour,
        start_shift=60.0 * first_minute - 1800.0 / per_hour,
        instant_offset=1800.0,
        clear_sky_ghi=hourly.pop("clear_sky", None),
        values=hourly,
        how=dict.fromkeys(hourly, "modelled"),
        typical=bool(np.unique(year).size > 2),
        **head,
    )


def _header(text: WeatherText) -> dict[str, Any]:
    if len(text.lines) < 4:
        raise FileError(Problem(text.path.name, f"{len(text.lines)} lines", "an NSRDB csv with 8763 lines"))
    keys, cells = header_cells(text, 0), header_cells(text, 1)
    head = dict(zip(keys, cells, strict=False))

    def number(key: str, low: float, high: float) -> float:
        if key not in head:
            raise FileError(Problem(text.at(1, key), "nothing", "a value under that heading"))
        return header_number(text, head[key], 1, key, low, high)

    words = [head.get(k, "-").strip().removeprefix("b'").strip("'") for k in ("City", "State", "Country")]
    zone = number("Time Zone", -12, 14)
    return {
        "site": ", ".join(w for w in words if w.strip(" -"))
        or f"NSRDB location {head.get('Location ID', '')}".strip(),
        "latitude": number("Latitude", -90, 90),
        "longitude": number("Longitude", -180, 180),
        "elevation": number("Elevation", -450, 5500),
        "file_zone": zone,
        "utc_offset": number("Local Time Zone", -12, 14) if "Local Time Zone" in head else zone,
        "source": f"NSRDB location {head.get('Location ID', '?')}, {head.get('Version', '?')} (Sengupta2018)",
        "licence": "National Solar Radiation Database, free with attribution",
    }


def _rows(text: WeatherText) -> tuple[list[int], dict[str, np.ndarray]]:
    names = header_cells(text, 2)
    absent = [n for n in (*CLOCK, *NEEDED) if n not in names]
    if absent:
        raise FileError(Problem(text.at(2), "no column " + ", ".join(absent), "the columns of an NSRDB csv"))
    if "Dew Point" not in names and "Relative Humidity" not in names:
        raise FileError(Problem(text.at(2), "no humidity", "a column Dew Point or Relative Humidity"))
    width = max(names.index(n) for n in names if n) + 1
    wanted: dict[str, tuple[int, Take]] = {
        name: (names.index(name), partial(whole_numbers, text, field=name)) for name in CLOCK
    }
    wanted |= {
        c.name: (names.index(n), partial(read_column, text, column=c))
        for n, c in COLUMNS.items()
        if n in names
    }
    return delimited_columns(text, 3, width, "an NSRDB csv", wanted)


def _rows_per_hour(text: WeatherText, minute: np.ndarray, lines: list[int]) -> tuple[int, float]:
    """Find how many rows make an hour and the first one's minute."""
    found = np.unique(minute)
    steps = np.diff(found)
    if found.size > 60 or minute.min() < 0 or minute.max() > 59 or (steps.size and np.ptp(steps) > 0):
        odd = int(np.argmax(minute != np.median(minute)))
        raise ClimateError(
            Problem(text.at(lines[odd], "Minute"), f"{minute[odd]:g}", "evenly spaced minutes, 0 to 59")
        )
    if minute.size % found.size or not np.array_equal(minute, np.tile(found, minute.size // found.size)):
        expected = np.resize(found, minute.size)
        odd = int(np.argmax(minute != expected))
        raise ClimateError(
            Problem(
                text.at(lines[odd], "Minute"), f"{minute[odd]:g}", f"{expected[odd]:g}, as the rows before"
            )
        )
    return int(found.size), float(found[0])


def _hour_means(column: np.ndarray, per_hour: int) -> np.ndarray:
    return column if per_hour == 1 else column.reshape(-1, per_hour).mean(axis=1)


def _cloud(cloud_type: np.ndarray) -> np.ndarray:
    """Give the cover of each cloud type [1]; unknown, dust and smoke are missing."""
    cover = np.full(cloud_type.size, np.nan)
    for kind, share in CLOUD_OF_TYPE.items():
        cover[cloud_type == kind] = share
    return cover
