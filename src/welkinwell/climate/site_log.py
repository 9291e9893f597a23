"""A user's own log of temperature and humidity at the site: read, checked, averaged to hours."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from welkinwell.climate.columns import in_si
from welkinwell.climate.moisture import saturation_pressures
from welkinwell.climate.table import (
    column_map,
    columns_to_read,
    find_columns,
    map_column,
    means_of,
    step_of,
    wrong_marks,
)
from welkinwell.climate.weather_file import delimited_columns, open_weather
from welkinwell.errors import ClimateError, FileError, Problem, nearest_name

LOG_VARIABLES = ("temperature", "dew_point", "relative_humidity", "vapour_pressure")
OPTIONS = ("columns", "utc_offset", "clock", "delimiter", "time_format", "missing")


def read_site_log(path: str | Path, **options: Any) -> xr.Dataset:
    """Read a log of temperature and humidity from a table.

    path: of the table, plain or .gz; options: columns, a mapping of time, temperature and one of dew_point,
    relative_humidity or vapour_pressure to `column name [unit]`; utc_offset of the site's standard time [h];
    clock: local (default) or UTC; delimiter, time_format and missing as for a table of weather.
    Returns hourly means on `time` (UTC, middle of the hour, the log's own dates) of temperature [K] and
    vapour_pressure [Pa], with attribute utc_offset [h] and content_hash. Hours with a relative humidity
    above 110 % are refused; up to it they are clipped to saturation.
    """
    text = open_weather(path)
    utc_offset = _checked(text.path.name, options)
    names, start, delimiter = find_columns(text, options)
    named = column_map(text, start, names, options)
    width = max(names.index(column) for column, _ in named.values()) + 1
    wanted = columns_to_read(text, names, named, options, utc_offset)
    lines, columns = delimited_columns(text, start + 1, width, "the log", wanted, delimiter)
    instants = columns.pop("time")
    seconds, order = step_of(text, instants, lines)
    values = {
        v: in_si(text, column, lines, map_column(v, *named[v], seconds, options))[order]
        for v, column in columns.items()
    }
    number = np.floor(instants[order] / 3600.0 + 0.5 * (seconds == 3600.0)).astype(np.int64)
    hours, place_of = np.unique(number, return_inverse=True)
    temperature = means_of(values["temperature"], place_of, hours.size, 3600.0 / seconds)
    vapour = means_of(_vapour(text.path.name, values), place_of, hours.size, 3600.0 / seconds)
    middle = hours * 3600.0 + (0.0 if seconds == 3600.0 else 1800.0) - utc_offset * 3600.0
    known = ~np.isnan(temperature) & ~np.isnan(vapour)
    return xr.Dataset(
        {
            "temperature": ("time", temperature[known], {"units": "K"}),
            "vapour_pressure": ("time", vapour[known], {"units": "Pa"}),
        },
        coords={"time": (middle[known] * 1e9).astype(np.int64).view("datetime64[ns]")},
        attrs={"utc_offset": utc_offset, "content_hash": text.content_hash, "source": text.path.name},
    )


def _checked(name: str, options: dict[str, Any]) -> float:
    problems = [
        Problem(f"{name}, option", repr(o), "an option of the log reader", nearest_name(o, OPTIONS))
        for o in options
        if o not in OPTIONS
    ]
    columns = options.get("columns")
    if not isinstance(columns, dict) or not all(isinstance(c, str) for c in columns.values()):
        raise FileError([*problems, Problem(name, repr(columns), "columns: variable = `name [unit]`")])
    problems += [
        Problem(f"{name}, columns", repr(c), "a variable of a log", nearest_name(c, LOG_VARIABLES))
        for c in columns
        if c not in ("time", *LOG_VARIABLES)
    ]
    if not {"time", "temperature"} <= set(columns) or not set(LOG_VARIABLES[1:]) & set(columns):
        problems.append(
            Problem(f"{name}, columns", repr(sorted(columns)), "time, temperature and a humidity")
        )
    problems += [
        Problem(f"{name}, {o}", repr(given), expected) for o, given, expected in wrong_marks(options)
    ]
    offset = options.get("utc_offset")
    if isinstance(offset, bool) or not isinstance(offset, (int, float)) or not -12 <= offset <= 14:
        problems.append(Problem(f"{name}, utc_offset", repr(offset), "hours from -12 to 14"))
    if problems:
        raise FileError(problems)
    return float(options["utc_offset"])


def _vapour(name: str, values: dict[str, np.ndarray]) -> np.ndarray:
    """Give the vapour pressure of a log's rows [Pa]."""
    saturated = saturation_pressures(values["temperature"])
    if "vapour_pressure" in values:
        vapour = values["vapour_pressure"]
    elif "dew_point" in values:
        vapour = saturation_pressures(values["dew_point"])
    else:
        vapour = values["relative_humidity"] * saturated
    beyond = vapour > 1.1 * saturated
    if np.count_nonzero(beyond) > 0.01 * beyond.size:
        given = f"{np.count_nonzero(beyond)} rows above 110 % relative humidity"
        raise ClimateError(Problem(name, given, "at most 1 % of rows", "Check the units of the column map."))
    return np.where(beyond | (vapour <= 0.0), np.nan, np.minimum(vapour, saturated))
