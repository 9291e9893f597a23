"""A plain table of one's own: any columns, with a map that says what they are and in which units.

    read_climate("log.csv", latitude=31.5, longitude=35.0, elevation=200.0, utc_offset=2.0, stamp="end",
                 columns={"time": "when", "temperature": "T [degC]", "relative_humidity": "RH [%]",
                          "ghi": "sun [W/m2]", "wind_speed": "wind [m/s]"})

A cell of the map is the column's name followed by its unit in square brackets. Rows may be an hour apart or
an even part of one; they are averaged to hours.
"""

from __future__ import annotations

import datetime
import re
from functools import partial
from typing import Any

import numpy as np

from welkinwell.climate.columns import Column, in_si
from welkinwell.climate.hourly import FileYear
from welkinwell.climate.weather_file import Take, WeatherText, delimited_columns, header_cells, numbers
from welkinwell.errors import ClimateError, FileError, Problem, QuantityError, nearest_name
from welkinwell.quantities import scale, variables
from welkinwell.text_file import LONGEST_TITLE, on_clock

VARIABLES = (
    *("temperature", "dew_point", "relative_humidity", "vapour_pressure", "pressure", "ghi", "dni", "dhi"),
    *("wind_speed", "sky_longwave", "precipitation", "albedo", "cloud_cover"),
)
# Sums over the row's own interval, turned into means by its length; and covers in parts of the sky.
SUMS = {"J/m2": 1.0, "kJ/m2": 1e3, "MJ/m2": 1e6, "Wh/m2": 3600.0, "kWh/m2": 3.6e6, "mm": 1.0, "kg/m2": 1.0}
SKY_PARTS = {"tenths": 0.1, "oktas": 0.125}
PER_AREA = ("ghi", "dni", "dhi", "sky_longwave")
STAMPS = {"start": 0.0, "middle": 0.5, "end": 1.0}
PLACES = {"latitude": (-90, 90), "longitude": (-180, 180), "elevation": (-450, 5500), "utc_offset": (-12, 14)}
OPTIONS = (
    *("columns", "stamp", "clock", "delimiter", "time_format", "year", "missing", "how", "site", "source"),
    *("licence", "wind_height", *PLACES),
)
_NAMED = re.compile(r"(.*?)\s*(?:\[([^\[\]]*)\])?\s*")


def read_table(text: WeatherText, **options: Any) -> FileYear:
    """Read a table of one's own as it stands, before the audit.

    text: the file; options: columns, a mapping of variable to `column name [unit]` with `time` among them;
    latitude [deg], longitude [deg], elevation [m] and utc_offset [h] of the site's standard time; stamp:
    start, middle or end of the interval that a row speaks for; clock: `local` (standard time) or `UTC`,
    where stamps carry no offset of their own; delimiter (found if not given); time_format (strftime codes,
    else ISO 8601); year, where the table holds several; missing: codes for no value [the column's unit]; how:
    a mapping of variable to measured, modelled or unknown; wind_height [m]; site, source, licence.
    Returns the year in SI; every wrong option is told at once.
    """
    place = _checked_options(text, options)
    names, start, delimiter = find_columns(text, options)
    named = column_map(text, start, names, options)
    width = max(names.index(c) for c, _ in named.values()) + 1
    wanted = columns_to_read(text, names, named, options, place["utc_offset"])
    lines, columns = delimited_columns(text, start + 1, width, "the table", wanted, delimiter)
    instants = columns.pop("time")
    seconds, order = step_of(text, instants, lines)
    values = {
        v: in_si(text, column, lines, map_column(v, *named[v], seconds, options))[order]
        for v, column in columns.items()
    }
    starts = instants[order] - STAMPS[options.get("stamp", "")] * seconds
    return _hours(text, starts, np.array(lines)[order], values, seconds, options, place)


def columns_to_read(
    text: WeatherText,
    names: list[str],
    named: dict[str, tuple[str, str]],
    options: dict[str, Any],
    utc_offset: float,
) -> dict[str, tuple[int, Take]]:
    """Say where each column of the map stands and how its cells are read: instants [s] and plain numbers.

    text: the file; names: of its columns; named: name and unit by variable; options: of the clock;
    utc_offset: of the site [h].
    """
    wanted: dict[str, tuple[int, Take]] = {
        variable: (names.index(name), partial(numbers, text, field=name))
        for variable, (name, _) in named.items()
    }
    stamps = partial(instants_of, text, options=options, utc_offset=utc_offset)
    return wanted | {"time": (wanted["time"][0], stamps)}


def _checked_options(text: WeatherText, options: dict[str, Any]) -> dict[str, float]:
    """Check the options; tell everything that is wrong with them at once."""
    problems: list[Problem | str] = []

    def wrong(where: str, given: Any, expected: str, advice: str = "") -> None:
        problems.append(Problem(f"{text.path.name}, {where}", repr(given), expected, advice))

    for name in options:
        if name not in OPTIONS:
            wrong("option", name, "an option of the table reader", nearest_name(name, OPTIONS))
    columns = options.get("columns")
    if not isinstance(columns, dict) or not all(isinstance(c, str) for c in columns.values()):
        raise FileError(
            [*problems, Problem(text.path.name, repr(columns), "columns: variable = `name [unit]`")]
        )
    for name in columns:
        if name not in ("time", *VARIABLES):
            wrong("columns", name, "a variable of the weather year", nearest_name(name, VARIABLES))
    for need in ("time", "temperature", "wind_speed"):
        if need not in columns:
            wrong("columns", sorted(columns), f"{need} among them")
    if not {"dew_point", "relative_humidity", "vapour_pressure"} & set(columns):
        wrong("columns", sorted(columns), "dew_point, relative_humidity or vapour_pressure among them")
    if options.get("stamp") not in STAMPS:
        wrong("stamp", options.get("stamp"), "start, middle or end: of the interval that a row speaks for")
    if options.get("clock", "local") not in ("local", "UTC"):
        wrong("clock", options.get("clock"), "local or UTC")
    for name, given, expected in wrong_marks(options):
        wrong(name, given, expected)
    place = {}
    for name, (low, high) in PLACES.items():
        value = options.get(name)
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
            wrong(name, value, f"a number from {low} to {high}")
        else:
            place[name] = float(value)
    if problems:
        raise FileError(problems)
    return place


def wrong_marks(options: dict[str, Any]) -> list[tuple[str, Any, str]]:
    """List what is wrong with delimiter, time_format and missing: name, what is given, what is expected."""
    found = []
    mark = options.get("delimiter", ",")
    if not isinstance(mark, str) or len(mark) != 1 or mark in '"\r\n':
        found.append(("delimiter", mark, "one character between cells"))
    pattern = options.get("time_format", "%Y")
    try:
        datetime.datetime.strptime("", pattern)
    except (TypeError, re.error):
        found.append(("time_format", pattern, "codes as in %d.%m.%Y %H:%M, each once"))
    except ValueError as error:
        if "directive" in str(error) or "stray" in str(error):
            found.append(("time_format", pattern, "codes as in %d.%m.%Y %H:%M"))
    codes = options.get("missing", ())
    plain = (int, float)
    if not isinstance(codes, (list, tuple)) or not all(type(code) in plain for code in codes):
        found.append(("missing", codes, "a list of numbers that mean no value"))
    return found


def _split(named: str) -> tuple[str, str]:
    """Split `name [unit]`."""
    match = _NAMED.fullmatch(named) if len(named) <= LONGEST_TITLE else None
    return (match.group(1), match.group(2) or "") if match else (named, "")


def find_columns(text: WeatherText, options: dict[str, Any]) -> tuple[list[str], int, str]:
    """Find the line of column names: the first that holds the time column's name.

    text: the file; options: with `columns` and perhaps `delimiter`. Returns names, line index and delimiter.
    """
    time = _split(options["columns"]["time"])[0]
    marks = [options["delimiter"]] if "delimiter" in options else [",", ";", "\t"]
    for i in range(min(len(text.lines), 100)):
        for mark in marks:
            names = header_cells(text, i, mark)
            if time in names and len(names) > 1:
                return names, i, mark
    raise FileError(
        Problem(
            f"{text.path.name}, columns, time", repr(time), "a name in a heading line of the first 100 lines"
        )
    )


def column_map(
    text: WeatherText, line: int, names: list[str], options: dict[str, Any]
) -> dict[str, tuple[str, str]]:
    """Give the column's name and unit for each variable of the map; unknown names are refused.

    text: the file; line: index of the heading [1]; names: its cells; options: with `columns`.
    """
    named = {variable: _split(column) for variable, column in options["columns"].items()}
    problems = [
        Problem(
            text.at(line), f"no column {name!r}", "the names of the column map", nearest_name(name, names)
        )
        for name in sorted({column for column, _ in named.values()})
        if name not in names
    ]
    if problems:
        raise FileError(problems)
    return named


def map_column(variable: str, name: str, unit: str, seconds: float, options: dict[str, Any]) -> Column:
    """Turn a name and a unit into a column with its range in that unit.

    variable: of the weather year; name, unit: of the map; seconds: between rows [s]; options: `missing`.
    """
    row = variables()[variable]
    factor, offset = _to_si(variable, name, unit, seconds, row.unit)
    low, high = sorted((row.low / factor - offset, row.high / factor - offset))
    if variable == "relative_humidity":
        low, high = -0.05 / factor, 2.0 / factor
    elif variable in ("ghi", "dni", "dhi"):
        low = -20.0 / factor
    missing = tuple(float(code) for code in options.get("missing", ()))
    return Column(variable, name, unit or "1", low, high, missing, factor, offset)


def _to_si(variable: str, name: str, unit: str, seconds: float, si_unit: str) -> tuple[float, float]:
    """Give factor and offset with SI = (cell + offset) * factor."""
    sums = variable in PER_AREA or variable == "precipitation"
    if sums and unit in SUMS and (unit in ("mm", "kg/m2")) == (variable == "precipitation"):
        return SUMS[unit] / seconds, 0.0
    if variable == "cloud_cover" and unit in SKY_PARTS:
        return SKY_PARTS[unit], 0.0
    if variable == "precipitation" and unit in ("mm/h", "mm/hour"):
        return 1.0 / 3600.0, 0.0
    spelled = {"C": "degC", "F": "degF", "°C": "degC"}.get(unit, unit) if si_unit == "K" else unit
    try:
        found, wanted = scale(spelled or "1"), scale(si_unit)
    except (ValueError, QuantityError):
        found, wanted = None, scale(si_unit)
    if found is None or found.dimensions != wanted.dimensions or (si_unit != "1" and not unit):
        more = f", or a sum over the row: {', '.join(SUMS)}" if sums else ""
        raise FileError(
            Problem(
                f"columns, {variable}", f"{name} [{unit}]", f"a unit of {si_unit} in square brackets{more}"
            )
        )
    return found.factor, found.offset / found.factor


def instants_of(
    text: WeatherText, cells: list[str], lines: list[int], options: dict[str, Any], utc_offset: float
) -> np.ndarray:
    """Give each stamp as seconds on the site's standard time since 1970 [s].

    text, cells, lines: the time column; options: time_format and clock; utc_offset: of the site [h].
    """
    pattern = options.get("time_format")
    ahead = 0.0 if options.get("clock", "local") == "local" else utc_offset * 3600.0
    out = np.empty(len(cells))
    epoch = datetime.datetime(1970, 1, 1)
    for i, cell in enumerate(cells):
        try:
            stamp = (
                datetime.datetime.strptime(cell.strip(), pattern)
                if pattern
                else datetime.datetime.fromisoformat(cell.strip())
            )
            local = on_clock(stamp, utc_offset)
        except ValueError:
            expected = (
                f"a time as {pattern}" if pattern else "a time as 2024-01-31T23:00 (ISO 8601), or time_format"
            )
            raise ClimateError(Problem(text.at(lines[i], "time"), repr(cell), expected)) from None
        out[i] = (local - epoch).total_seconds() + (ahead if stamp.tzinfo is None else 0.0)
    return out


def step_of(text: WeatherText, instants: np.ndarray, lines: list[int]) -> tuple[float, np.ndarray]:
    """Give the time between rows [s] and the rows' order in time.

    text, lines: for messages; instants: of the rows [s].
    """
    order = np.argsort(instants, kind="stable")
    gaps = np.diff(instants[order])
    if gaps.size and gaps.min() == 0.0:
        line = lines[int(order[int(np.argmin(gaps)) + 1])]
        raise ClimateError(
            Problem(text.at(line, "time"), "a time that came before", "every time once",
                    "Use standard time or UTC, not summer time.")
        )  # fmt: skip
    seconds = float(np.median(gaps)) if gaps.size else 0.0
    if not 0.0 < seconds <= 3600.0 or 3600.0 % seconds:
        raise ClimateError(
            Problem(text.path.name, f"rows {seconds / 60:g} minutes apart", "an hour or an even part of one",
                    "Longer steps hide nights and noons; find hourly data.")
        )  # fmt: skip
    return seconds, order


def _hours(
    text: WeatherText,
    starts: np.ndarray,
    lines: np.ndarray,
    values: dict[str, np.ndarray],
    seconds: float,
    options: dict[str, Any],
    place: dict[str, float],
) -> FileYear:
    """Average rows to hours and put them on the site's clock."""
    phase = float(np.median(starts % 3600.0)) if seconds == 3600.0 else 0.0
    number = np.floor((starts - phase) / 3600.0).astype(np.int64)
    number, lines, values = _one_year(text, number, lines, values, options)
    hours, first, place_of = np.unique(number, return_index=True, return_inverse=True)
    means = {
        name: means_of(column, place_of, hours.size, 3600.0 / seconds) for name, column in values.items()
    }
    clock = hours.astype("datetime64[h]")
    months = clock.astype("datetime64[M]")
    how = dict.fromkeys([*values], "unknown") | dict(options.get("how", {}))
    year = FileYear(
        text=text,
        kind="table",
        site=text.path.name,
        file_zone=place["utc_offset"],
        year=clock.astype("datetime64[Y]").astype(int) + 1970,
        month=months.astype(int) % 12 + 1,
        day=(clock.astype("datetime64[D]") - months).astype(int) + 1,
        hour=(hours % 24).astype(int),
        lines=lines[first],
        start_shift=phase,
        instant_offset=1800.0 if seconds < 3600.0 else 3600.0 * STAMPS[options["stamp"]],
        values=means,
        how=how,
        source=str(options.get("source", f"table {text.path.name}")),
        licence="the user's own",
        utc_offset=place["utc_offset"],
        latitude=place["latitude"],
        longitude=place["longitude"],
        elevation=place["elevation"],
    )
    if "wind_height" not in options:
        year.warn("wind_height", "the height of the wind instrument is not given; 10 m was taken.")
    return year


def means_of(column: np.ndarray, place_of: np.ndarray, hours: int, rows_an_hour: float) -> np.ndarray:
    """Average the rows of each hour; an hour with fewer than half of its rows is missing.

    column: any unit; place_of: hour of each row [1]; hours: count [1]; rows_an_hour: when whole [1].
    Returns the means, same unit.
    """
    known = ~np.isnan(column)
    count = np.bincount(place_of[known], minlength=hours)
    total = np.bincount(place_of[known], weights=column[known], minlength=hours)
    return np.where(count >= 0.5 * rows_an_hour, total / np.maximum(count, 1), np.nan)


def _one_year(
    text: WeatherText,
    number: np.ndarray,
    lines: np.ndarray,
    values: dict[str, np.ndarray],
    options: dict[str, Any],
) -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Keep one year of rows where the table holds more."""
    years = number.astype("datetime64[h]").astype("datetime64[Y]").astype(int) + 1970
    wanted = options.get("year")
    if wanted is None and np.unique(number).size > 8784:
        found = [int(y) for y in np.unique(years) if np.unique(number[years == y]).size >= 0.95 * 8760]
        if len(found) != 1:
            given = f"{np.unique(number).size} hours with whole years {found or 'none'}"
            raise ClimateError(Problem(text.path.name, given, "one year", "Choose with year=."))
        wanted = found[0]
    if wanted is None:
        return number, lines, values
    keep = years == wanted
    if not keep.any():
        raise ClimateError(Problem(f"{text.path.name}, year", str(wanted), f"{years.min()} to {years.max()}"))
    return number[keep], lines[keep], {name: column[keep] for name, column in values.items()}
