"""Columns of a weather year that do not move: through the year, for days on end, or for some hours."""

from __future__ import annotations

import numpy as np

from welkinwell.climate.gaps import runs
from welkinwell.climate.hourly import FileYear
from welkinwell.errors import Problem
from welkinwell.moist_air.altitude import pressure_at_altitude

CONSTANT_HOURS = 6  # identical hours in a row that smell of a filler
MANY_CALMS = 0.05  # share of hours
# What a public converter puts where a file has nothing: 6 C, dew point 3 C, 50 %, 2.5 m/s.
FILLERS = {"temperature": 279.15, "dew_point": 276.15, "relative_humidity": 0.5, "wind_speed": 2.5}
# Hours that a column may stand at one value. Chosen from 45 untouched files, whose longest are 32, 27, 20,
# 31, 8, 37 and 13 h (temperature, dew point, humidity, pressure, sun, wind, longwave): about twice that.
LONGEST_STAND = {
    "temperature": 72,
    "dew_point": 72,
    "relative_humidity": 48,
    "vapour_pressure": 72,
    "pressure": 72,
    "ghi": 24,
    "dni": 24,
    "dhi": 24,
    "wind_speed": 96,
    "sky_longwave": 48,
}
FOG = 0.95  # relative humidity above which a column may stand for days: 76 h at 99 % in an untouched file
LABELS = {
    "ghi": "global horizontal sun",
    "dni": "direct normal sun",
    "dhi": "diffuse horizontal sun",
    "pressure": "station pressure",
}
ZERO_MAY_LAST = ("ghi", "dni", "dhi", "wind_speed", "precipitation")  # nights, overcast days, calms
# Share by which a year's mean pressure may be off the standard atmosphere's: -1.4 to +1.5 % in 45 untouched
# files. Over 2 % (170 m) is a note, over 4 % a warning.
UNUSUAL_PRESSURE, PRESSURE_OF_ELEVATION = 0.02, 0.04


def label_of(name: str) -> str:
    """Give a column's name as people say it.

    name: of the variable.
    """
    return LABELS.get(name, name.replace("_", " "))


def shown(name: str, value: float) -> str:
    """Write one value with its unit.

    name: of the variable; value: SI.
    """
    if name in ("temperature", "dew_point"):
        return f"{value - 273.15:.1f} C"
    if name in ("relative_humidity", "cloud_cover"):
        return f"{100 * value:.0f} %"
    unit = {"pressure": "Pa", "vapour_pressure": "Pa", "wind_speed": "m/s"}.get(name, "W/m2")
    return f"{value:.0f} {unit}" if unit != "m/s" else f"{value:.1f} {unit}"


def moves(column: np.ndarray | None) -> bool:
    """Tell whether a column has values and more than one of them.

    column: any unit, NaN where missing.
    """
    known = column[~np.isnan(column)] if column is not None else np.zeros(0)
    return known.size > 0 and float(np.ptp(known)) > 1e-9 * max(1.0, float(np.abs(known).max()))


def tell_stuck_columns(year: FileYear) -> None:
    """Tell of columns with one value through the year, and of long spells at one value.

    year: with its rows on the nominal year, before any repair. Pressure at one value near that of the
    elevation, a usual way to fill it, and long spells of pressure or wind (coarse steps) or fog are notes.
    """
    for name in (*LONGEST_STAND, "cloud_cover", "precipitation"):
        column = year.values.get(name)
        if column is None or np.count_nonzero(~np.isnan(column)) < 24:
            continue
        if moves(column):
            _tell_spell(year, name, column)
        elif not (name in ZERO_MAY_LAST[:3] + ZERO_MAY_LAST[4:] and np.nanmax(column) == 0.0):
            _tell_constant(year, name, float(np.nanmax(column)))


def _tell_constant(year: FileYear, name: str, value: float) -> None:
    where = f"{year.text.path.name}, {label_of(name)}"
    if name == "pressure":
        standard = pressure_at_altitude(year.elevation)
        if abs(value / standard - 1.0) < PRESSURE_OF_ELEVATION:
            year.note(
                "pressure_filled",
                Problem(
                    where,
                    f"{value:.0f} Pa in every hour",
                    "pressure that changes with the weather",
                    f"It is near the {standard:.0f} Pa of {year.elevation:.0f} m, so it was probably "
                    "filled in; this is usual and moves the litres little.",
                ),
            )
            return
    tell = year.note if name == "cloud_cover" else year.warn
    tell(
        "stuck_column",
        Problem(
            where,
            f"{shown(name, value)} in every hour of the year",
            "a value that changes with the hour",
            "Take a fresh copy, or leave the column out.",
        ),
    )


def _tell_spell(year: FileYear, name: str, column: np.ndarray) -> None:
    limit = LONGEST_STAND.get(name)
    if limit is None:
        return
    same = np.concatenate(([False], np.diff(column) == 0.0))
    if name in ZERO_MAY_LAST:
        same &= column > 0.0
    if name == "relative_humidity":
        same &= column < 0.995  # fog lasts
    found = [(a - 1, b) for a, b in runs(same) if b - a + 1 > limit]
    if not found:
        return
    first, last = max(found, key=lambda ab: ab[1] - ab[0])
    damp = name == "relative_humidity" and column[first] > FOG  # an instrument's own cap in fog
    tell = year.note if damp or name in ("pressure", "wind_speed") else year.warn
    tell(
        "stuck_spell",
        Problem(
            year.at(first, label_of(name)),
            f"{shown(name, float(column[first]))} for {last - first} hours on end"
            + (f", and {len(found) - 1} more such spells" if len(found) > 1 else ""),
            f"at most {limit} hours at one value",
            "The instrument or the converter may have stopped, or the column is in coarse steps; look at "
            "these rows.",
        ),
    )


def tell_constant_runs(year: FileYear) -> None:
    """Warn of runs of one value over some hours: what converters put where a value was missing.

    year: with its rows on the nominal year, before any repair.
    """
    for name in FILLERS:
        column = year.values.get(name)
        if column is None or np.isnan(column).all():
            continue
        same = np.concatenate(([False], np.diff(column) == 0.0))
        if name == "wind_speed":
            same &= column > 0.0  # calms are told apart
        if name == "relative_humidity":
            same &= column < 0.995  # fog lasts
        found = [(a - 1, b) for a, b in runs(same) if b - a + 1 >= CONSTANT_HOURS]
        if found:
            hours = sum(b - a for a, b in found)
            longest = max(found, key=lambda ab: ab[1] - ab[0])
            year.warn(
                "constant_run",
                f"{hours} hours of {name.replace('_', ' ')} stand in {len(found)} runs of 6 or more "
                f"identical hours (longest {longest[1] - longest[0]} h from {year.at(longest[0])})"
                f"{_filler(name, column, found)}.",
            )


def _filler(name: str, column: np.ndarray, found: list[tuple[int, int]]) -> str:
    at_filler = sum(b - a for a, b in found if abs(column[a] - FILLERS[name]) < 1e-6)
    if at_filler > 0.5 * sum(b - a for a, b in found):
        return f"; {at_filler} h of them at a value that converters put in for missing ones"
    steps = np.abs(np.diff(column[~np.isnan(column)]))
    coarse = 0.004 if name == "relative_humidity" else 0.4
    few = np.mean((steps > coarse) | (steps == 0.0)) > 0.99
    return "; the column is in coarse steps, which alone can do it" if few else "; it may be a filler"


def tell_calms(year: FileYear) -> None:
    """Warn of many hours without wind.

    year: with wind whole.
    """
    share = float(np.mean(year.values["wind_speed"] == 0.0))
    if share > MANY_CALMS:
        year.warn(
            "calms", f"wind is 0 in {100 * share:.0f} % of hours: instruments stall below about 0.5 m/s."
        )
