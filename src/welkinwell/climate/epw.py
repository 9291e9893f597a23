"""EPW files: local standard time, hour 1 is 00:00 to 01:00, sun summed over it, the rest at its end.

Layout after the format's public data dictionary. Two sets of missing codes circulate (99.9 or 999 for
temperatures, 9999 or 99999 for the sun); both are read as missing.
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
    as_written,
    delimited_columns,
    header_cells,
    header_number,
    whole_numbers,
)
from welkinwell.errors import ClimateError, FileError, Problem

COLUMNS = {
    6: Column("temperature", "dry bulb temperature", "C", -70, 60, (99.9, 999, 9999), offset=273.15),
    7: Column("dew_point", "dew point temperature", "C", -100, 41, (99.9, 999, 9999), offset=273.15),
    8: Column("relative_humidity", "relative humidity", "%", -5, 200, (999, 9999), factor=0.01),
    9: Column("pressure", "atmospheric station pressure", "Pa", 45000, 110000, (999999,)),
    12: Column("sky_longwave", "horizontal infrared radiation", "Wh/m2", 50, 700, (9999, 99999, 999999, 0)),
    13: Column("ghi", "global horizontal radiation", "Wh/m2", -20, 1500, (9999, 99999, 999999)),
    14: Column("dni", "direct normal radiation", "Wh/m2", -20, 1300, (9999, 99999, 999999)),
    15: Column("dhi", "diffuse horizontal radiation", "Wh/m2", -20, 1000, (9999, 99999, 999999)),
    21: Column("wind_speed", "wind speed", "m/s", 0, 70, (999, 999.9, 9999)),
    22: Column("total_cloud", "total sky cover", "tenths", 0, 10, (99,), factor=0.1),
    23: Column("opaque_cloud", "opaque sky cover", "tenths", 0, 10, (99,), factor=0.1),
    32: Column("albedo", "albedo", "1", 0, 1, (999, 9999, 99)),
    33: Column("precipitation", "liquid precipitation depth", "mm", 0, 1500, (999, 9999), factor=1 / 3600.0),
    34: Column("precipitation_hours", "liquid precipitation quantity", "h", 0, 99, (99, 999)),
}
# Pairs of source and uncertainty letters in the sixth field, in order.
FLAG_ORDER = (
    *("temperature", "dew_point", "relative_humidity", "pressure", "sky_longwave", "ghi", "dni", "dhi"),
    *("", "", "", "", "", "wind_speed", "total_cloud", "opaque_cloud"),
)
# Letters of the TMY2 manual: sun A to D measured or derived from a measurement, E to I modelled; the
# rest A as received, B to D interpolated, E to G estimated. Marion1995 (from memory).
SUN_FLAGS = dict.fromkeys("ABCD", "measured") | dict.fromkeys("EFGHI", "modelled")
OTHER_FLAGS = {"A": "measured"} | dict.fromkeys("BCD", "filled") | dict.fromkeys("EFG", "modelled")
SUN = ("ghi", "dni", "dhi", "sky_longwave")
LEAST_FIELDS = 24
CLOCK = ("year", "month", "day", "hour")


def is_epw(text: WeatherText) -> bool:
    """Tell whether a text is an EPW file by its first word.

    text: the file.
    """
    return text.lines[0].upper().startswith("LOCATION,")


def read_epw(text: WeatherText) -> FileYear:
    """Read an EPW file as it stands, before the audit.

    text: the file.
    Returns the year in SI; FileError or ClimateError names line, field, value and range.
    """
    place = _location(text)
    lines, columns = _rows(text)
    clock = {name: columns.pop(name) for name in CLOCK}
    how = _how(list(columns.pop("flags")))
    warnings: list[str] = []
    offset = _sun_offset(text, how)
    return FileYear(
        text=text,
        kind="EPW",
        lines=np.array(lines),
        start_shift=0.0 if offset is None else 3600.0 * (0.5 + offset),
        instant_offset=3600.0 if offset is None else 3600.0 * (0.5 - offset),
        year=clock["year"],
        month=clock["month"],
        day=clock["day"],
        hour=clock["hour"] - 1,
        values=_with_rain_and_cloud(columns, how, warnings),
        how=how,
        warnings=warnings,
        licence="not stated in the file",
        source=f"EPW file, data source {place.pop('source') or 'not stated'}",
        **place,
    )


def _location(text: WeatherText) -> dict[str, Any]:
    cells = header_cells(text, 0)
    if len(cells) < 10:
        raise FileError(
            Problem(text.at(0), f"{len(cells)} fields", "LOCATION with 10 fields (an EPW file's first line)")
        )
    zone = header_number(text, cells[8], 0, "time zone", -12, 14)
    words = [c for c in cells[1:4] if c.strip(" -") and c.lower() != "unknown"]
    return {
        "site": ", ".join(words) or f"{cells[6]}, {cells[7]}",
        "source": cells[4].strip(),
        "latitude": header_number(text, cells[6], 0, "latitude", -90, 90),
        "longitude": header_number(text, cells[7], 0, "longitude", -180, 180),
        "file_zone": zone,
        "utc_offset": zone,
        "elevation": header_number(text, cells[9], 0, "elevation", -450, 5500),
    }


def _rows(text: WeatherText) -> tuple[list[int], dict[str, np.ndarray]]:
    start = next((i for i, s in enumerate(text.lines[:60]) if s.upper().startswith("DATA PERIODS")), None)
    if start is None:
        raise FileError(
            Problem(
                text.path.name, "no line DATA PERIODS", "an EPW file's eight header lines", "Is it whole?"
            )
        )
    periods = text.lines[start].split(",")
    if len(periods) > 2 and periods[2].strip() not in ("1", ""):
        raise ClimateError(
            Problem(text.at(start, "records per hour"), repr(periods[2]), "1", "Average it to hours first.")
        )
    wanted: dict[str, tuple[int, Take]] = {
        name: (i, partial(whole_numbers, text, field=name)) for i, name in enumerate(CLOCK)
    }
    wanted["flags"] = (5, as_written)
    wanted |= {c.name: (i, partial(read_column, text, column=c)) for i, c in COLUMNS.items()}
    return delimited_columns(text, start + 1, LEAST_FIELDS, "an EPW file", wanted)


def _how(flags: list[str]) -> dict[str, str]:
    """Say for each variable how most of its hours were got, from the source letters."""
    how = {}
    for i, name in enumerate(FLAG_ORDER):
        letters = [f[2 * i : 2 * i + 1] for f in flags]
        how[name] = how_of_most(letters, name in SUN)
    return how


def how_of_most(letters: list[str], sun: bool) -> str:
    """Say how most hours of a variable were got, from the source letters.

    letters: one an hour; sun: whether it is a sun column, whose nights (marked ?) do not count.
    Returns measured, modelled, filled or unknown.
    """
    day = [letter for letter in letters if letter not in "?*0 "] if sun else letters
    found, counts = np.unique(np.array(day or ["?"]), return_counts=True)
    return (SUN_FLAGS if sun else OTHER_FLAGS).get(str(found[np.argmax(counts)]), "unknown")


def _sun_offset(text: WeatherText, how: dict[str, str]) -> float | None:
    """Give the time of satellite snapshots after the row's own stamp [h], where the header states it.

    Whole hours are dropped: -0.8239 is 0.1761 h past the stamp of temperature, since only there global,
    direct and diffuse close (docs/theory/climate.md).
    """
    for line in text.lines[:8]:
        if "Irradiance Time Offset" in line:
            try:
                offset = float(line.rsplit(":", 1)[1].strip().strip('"').rstrip(","))
            except ValueError:
                return None
            how.update({name: "modelled" for name in how})
            return (offset + 0.5) % 1.0 - 0.5 if abs(offset) <= 2 else None
    return None


def _with_rain_and_cloud(
    values: dict[str, np.ndarray], how: dict[str, str], warnings: list[str]
) -> dict[str, np.ndarray]:
    opaque, total = values.pop("opaque_cloud"), values.pop("total_cloud")
    few = np.isnan(opaque).mean() > 0.05 and np.isnan(total).mean() < np.isnan(opaque).mean()
    values["cloud_cover"] = total if few else opaque
    how["cloud_cover"] = how["total_cloud" if few else "opaque_cloud"]
    if few:
        warnings.append(
            "total_cloud_cover: opaque cover is missing; total cover, which counts thin cloud, was used."
        )
    hours = values.pop("precipitation_hours", None)
    if hours is not None and "precipitation" in values:
        values["precipitation"] = spread_rain(values["precipitation"], hours)
    return values


def spread_rain(rain: np.ndarray, hours: np.ndarray) -> np.ndarray:
    """Spread a depth reported for several hours evenly over the rows that it covers.

    rain: at the row that reports it [kg/(m2 s) if it fell in one hour]; hours: that it covers [1].
    Returns the mean of each row, same unit.
    """
    out = np.where(np.isnan(hours) | (hours <= 1) | np.isnan(rain), rain, 0.0)
    for i in np.flatnonzero((hours > 1) & (rain > 0)):
        first = max(0, int(i) - int(hours[i]) + 1)
        out[first : i + 1] += rain[i] / (i + 1 - first)
    return out
