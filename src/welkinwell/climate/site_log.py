"""A user's own log of temperature and humidity at the site: read, checked, averaged to hours."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from welkinwell.climate.moisture import saturation_pressures
from welkinwell.climate.table import STAMP_COLUMNS, WRITTEN, means_of, table_rows, written_problems
from welkinwell.climate.weather_file import open_weather
from welkinwell.errors import ClimateError, FileError, Problem, nearest_name

LOG_VARIABLES = ("temperature", "dew_point", "relative_humidity", "vapour_pressure")
OPTIONS = (*WRITTEN, "utc_offset")


def read_site_log(path: str | Path, **options: Any) -> xr.Dataset:
    """Read a log of temperature and humidity from a table.

    path: of the table, plain or .gz; options: columns, a mapping of time, temperature and one of dew_point,
    relative_humidity or vapour_pressure to `column name [unit]`; utc_offset of the site's standard time [h];
    clock, delimiter, decimal, skip_lines, time_format and missing as for a table of weather.
    Returns hourly means on `time` (UTC, middle of the hour, the log's own dates) of temperature [K] and
    vapour_pressure [Pa], with attribute utc_offset [h] and content_hash. Hours with a relative humidity
    above 110 % are refused; up to it they are clipped to saturation.
    """
    text = open_weather(path)
    utc_offset = _checked(text.path.name, options)
    table = table_rows(text, options, utc_offset, "the log")
    seconds, order, instants = table.seconds, table.order, table.instants
    values = table.values(options)
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
        if c not in (*STAMP_COLUMNS, *LOG_VARIABLES)
    ]
    problems += written_problems(name, options)
    if not {"time", "temperature"} <= set(columns) or not set(LOG_VARIABLES[1:]) & set(columns):
        problems.append(
            Problem(f"{name}, columns", repr(sorted(columns)), "time, temperature and a humidity")
        )
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
