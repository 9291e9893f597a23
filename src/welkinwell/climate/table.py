"""A plain table of one's own: any columns, with a map that says what they are and in which units.

    read_climate("log.csv", latitude=31.5, longitude=35.0, elevation=200.0, utc_offset=2.0, stamp="end",
                 columns={"time": "when", "temperature": "T [degC]", "relative_humidity": "RH [%]",
                          "ghi": "sun [W/m2]", "wind_speed": "wind [m/s]"})

A cell of the map is the column's name followed by its unit in square brackets. Rows may be an hour apart or
an even part of one; they are averaged to hours. `welkinwell.climate.column_map` reads the same from TOML.
"""

from __future__ import annotations

import datetime
import hashlib
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from welkinwell.climate.columns import Column, in_si
from welkinwell.climate.hourly import FileYear
from welkinwell.climate.stamps import clock_problem, instants_of, step_of
from welkinwell.climate.weather_file import (
    Take,
    WeatherText,
    as_written,
    delimited_columns,
    header_cells,
    numbers,
)
from welkinwell.errors import ClimateError, FileError, Problem, QuantityError, nearest_name
from welkinwell.quantities import scale, variables
from welkinwell.text_file import LONGEST_TITLE, split_row

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
STAMP_COLUMNS = ("time", "date")
AIR = ("instant", "mean")
DECIMALS = ("point", "comma")
MOST_SKIPPED = 20  # lines between the heading and the first row
WRITTEN = ("columns", "clock", "delimiter", "decimal", "skip_lines", "time_format", "missing")
OPTIONS = (*WRITTEN, "stamp", "air", "year", "how", "site", "source", "licence", "wind_height", *PLACES)
_NAMED = re.compile(r"(.*?)\s*(?:\[([^\[\]]*)\])?\s*")
_DECIMAL_COMMA = re.compile(r"\s*[+-]?\d+,\d+\s*")


@dataclass(frozen=True)
class Described:
    """The described columns of a table as they are written.

    named: column's name and unit by variable; lines: index of each row's line [1]; stamps: of each row, the
    date before the time where it stands apart; numbers: of each row by variable, blanks nan [its own unit];
    first: cells of the first row by variable, as written.
    """

    named: dict[str, tuple[str, str]]
    lines: list[int]
    stamps: list[str]
    numbers: dict[str, np.ndarray]
    first: dict[str, str]


@dataclass(frozen=True)
class TableRows:
    """A table's rows put in time.

    table: its columns as written; instants: of the rows as stamped, on the site's standard time since 1970
    [s]; seconds: between rows [s]; order: of the rows in time [1].
    """

    text: WeatherText
    table: Described
    instants: np.ndarray
    seconds: float
    order: np.ndarray

    def in_si(self, variable: str, options: dict[str, Any], most: int | None = None) -> np.ndarray:
        """Give a variable of the rows as they stand in the file [SI].

        options: `missing`; most: so many rows alone are read and judged [1], all where None.
        """
        column = map_column(variable, *self.table.named[variable], self.seconds, options)
        return in_si(self.text, self.table.numbers[variable][:most].copy(), self.table.lines[:most], column)

    def values(self, options: dict[str, Any]) -> dict[str, np.ndarray]:
        """Give every variable of every row in order of time [SI]; options: `missing`."""
        return {name: self.in_si(name, options)[self.order] for name in self.table.numbers}


def read_table(text: WeatherText, **options: Any) -> FileYear:
    """Read a table of one's own as it stands, before the audit.

    text: the file; options: columns, a mapping of variable to `column name [unit]` with `time` among them,
    and `date` where the day has a column of its own; latitude [deg], longitude [deg], elevation [m] and
    utc_offset [h] of the site's standard time; stamp: start, middle or end of the interval that a row speaks
    for; air: `instant` where temperature, humidity and wind were read at the stamp, `mean` where they are
    means of the interval (if not given: instants in hourly rows, means in shorter ones); clock: `local`
    (standard time), `UTC`, `UTC+02:00` or a time zone with summer time, where stamps carry no offset of their
    own; delimiter (found if not given); decimal: `point` or `comma`; skip_lines between heading and rows [1];
    time_format (strftime codes, else ISO 8601); year, where the table holds several; missing: codes for no
    value, numbers [the column's unit] or text; how: a mapping of variable to measured, modelled or unknown;
    wind_height [m]; site, source, licence.
    Returns the year in SI; every wrong option is told at once.
    """
    place = _checked_options(text, options)
    rows = table_rows(text, options, place["utc_offset"])
    values = rows.values(options)
    starts = rows.instants[rows.order] - STAMPS[options["stamp"]] * rows.seconds
    lines = np.array(rows.table.lines)[rows.order]
    return _hours(_as_described(text, options), starts, lines, values, rows.seconds, options, place)


def _as_described(text: WeatherText, options: dict[str, Any]) -> WeatherText:
    """Let the hash tell the description too: another reading of the same file is other weather."""
    told = json.dumps(options, sort_keys=True, default=str)
    mixed = hashlib.sha256(f"{text.content_hash} {told}".encode()).hexdigest()
    return replace(text, content_hash=mixed)


def table_rows(
    text: WeatherText, options: dict[str, Any], utc_offset: float, kind: str = "the table"
) -> TableRows:
    """Read a table's described columns and put its rows in time.

    text: the file; options: columns and how it is written, as read_table has them; utc_offset: of the site
    [h]; kind: of table, for messages.
    """
    table = described(text, options, kind)
    instants = instants_of(text, table.stamps, table.lines, options, utc_offset)
    seconds, order = step_of(text, instants, table.lines)
    return TableRows(text, table, instants, seconds, order)


def without_codes(values: np.ndarray, missing: Sequence[Any]) -> np.ndarray:
    """Turn the codes for no value into nan.

    values: in the column's own unit; missing: codes, those that are numbers [its unit].
    """
    for code in (one for one in map(_number, missing) if one is not None):
        values = np.where(values == code, np.nan, values)
    return values


def described(text: WeatherText, options: dict[str, Any], kind: str) -> Described:
    """Read the described columns as they are written, a block of rows at a time.

    text, options, kind: as table_rows has them.
    """
    names, start, delimiter = find_columns(text, options)
    named = named_columns(text, start, names, options)
    place = {variable: names.index(column) for variable, (column, _) in named.items()}
    wanted = {
        variable: (place[variable], as_written if variable in STAMP_COLUMNS else _taker(text, name, options))
        for variable, (name, _) in named.items()
    }
    first = start + 1 + options.get("skip_lines", 0)
    lines, columns = delimited_columns(
        text, first, max(place.values()) + 1, kind, wanted, delimiter, most=len(names)
    )
    row = split_row(text.lines[lines[0]], delimiter)
    stamps = [columns[name] for name in ("date", "time") if name in named]
    return Described(
        named,
        lines,
        [" ".join(cell.strip() for cell in cells) for cells in zip(*stamps, strict=True)],
        {variable: columns[variable] for variable in named if variable not in STAMP_COLUMNS},
        {variable: row[place[variable]].strip() for variable in named},
    )


def _taker(text: WeatherText, name: str, options: dict[str, Any]) -> Take:
    """Give what turns cells of a column into numbers: decimal commas as points, text codes as blanks."""
    comma = options.get("decimal", "point") == "comma"
    blanks = {code for code in options.get("missing", ()) if isinstance(code, str)}

    def take(cells: list[str], lines: list[int]) -> np.ndarray:
        plain = [cell.strip() for cell in cells]
        if comma:
            plain = [cell.replace(",", ".") for cell in plain]
        else:
            _refuse_decimal_comma(text, plain, lines, name)
        return numbers(text, ["" if cell in blanks else cell for cell in plain], lines, name)

    return take


def _refuse_decimal_comma(text: WeatherText, cells: list[str], lines: list[int], name: str) -> None:
    found = next((i for i, cell in enumerate(cells) if "," in cell and _DECIMAL_COMMA.fullmatch(cell)), None)
    if found is not None:
        expected = 'a number with a decimal point, or decimal = "comma" in the description of the columns'
        raise ClimateError(Problem(text.at(lines[found], name), repr(cells[found]), expected))


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
        if name not in (*STAMP_COLUMNS, *VARIABLES):
            wrong("columns", name, "a variable of the weather year", nearest_name(name, VARIABLES))
    for need in ("time", "temperature", "wind_speed"):
        if need not in columns:
            wrong("columns", sorted(columns), f"{need} among them")
    if not {"dew_point", "relative_humidity", "vapour_pressure"} & set(columns):
        wrong("columns", sorted(columns), "dew_point, relative_humidity or vapour_pressure among them")
    if options.get("stamp") not in STAMPS:
        wrong("stamp", options.get("stamp"), "start, middle or end: of the interval that a row speaks for")
    if options.get("air", "mean") not in AIR:
        wrong("air", options["air"], " or ".join(AIR))
    problems += written_problems(text.path.name, options)
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


def written_problems(name: str, options: dict[str, Any]) -> list[Problem]:
    """Say what is wrong with the options that tell how a table is written."""
    found = [Problem(f"{name}, {one}", repr(given), expected) for one, given, expected in _marks(options)]
    clock = clock_problem(options.get("clock", "local"), f"{name}, clock")
    if clock is not None:
        found.append(clock)
    if options.get("decimal", "point") not in DECIMALS:
        found.append(Problem(f"{name}, decimal", repr(options["decimal"]), " or ".join(DECIMALS)))
    skip = options.get("skip_lines", 0)
    if isinstance(skip, bool) or not isinstance(skip, int) or not 0 <= skip <= MOST_SKIPPED:
        expected = f"a whole number from 0 to {MOST_SKIPPED}"
        found.append(Problem(f"{name}, skip_lines", repr(skip), expected))
    return found


def _marks(options: dict[str, Any]) -> list[tuple[str, Any, str]]:
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
    if not isinstance(codes, (list, tuple)) or not all(type(code) in (int, float, str) for code in codes):
        found.append(("missing", codes, "a list of numbers or texts that mean no value"))
    return found


def split_name(named: str) -> tuple[str, str]:
    """Split `name [unit]`."""
    match = _NAMED.fullmatch(named) if len(named) <= LONGEST_TITLE else None
    return (match.group(1), match.group(2) or "") if match else (named, "")


def find_columns(text: WeatherText, options: dict[str, Any]) -> tuple[list[str], int, str]:
    """Find the line of column names: the first that holds the time column's name.

    text: the file; options: with `columns` and perhaps `delimiter`. Returns names, line index and delimiter.
    """
    whole = options["columns"]["time"].strip()
    marks = [options["delimiter"]] if "delimiter" in options else [",", ";", "\t"]
    for i in range(min(len(text.lines), 100)):
        for mark in marks:
            names = header_cells(text, i, mark)
            if len(names) > 1 and (whole in names or split_name(whole)[0] in names):
                return names, i, mark
    advice = f"Columns are parted by {options['delimiter']!r} as said." if "delimiter" in options else ""
    raise FileError(
        Problem(
            f"{text.path.name}, columns, time", repr(whole),
            "a name in a heading line of the first 100 lines", advice,
        )
    )  # fmt: skip


def named_columns(
    text: WeatherText, line: int, names: list[str], options: dict[str, Any]
) -> dict[str, tuple[str, str]]:
    """Give the column's name and unit for each variable of the map; unknown names are refused.

    text: the file; line: index of the heading [1]; names: its cells; options: with `columns`. A heading that
    is written just as the map has it, unit and all, is taken whole.
    """
    named = {}
    for variable, column in options["columns"].items():
        name, unit = split_name(column)
        named[variable] = (column.strip() if column.strip() in names else name, unit)
    problems = []
    for name in sorted({column for column, _ in named.values()}):
        if names.count(name) > 1:
            given = f"{names.count(name)} columns {name!r}"
            problems.append(Problem(text.at(line), given, "each name once", "Rename one in the heading."))
        elif name not in names:
            known = ", ".join(repr(one) for one in names[:20] if one)
            near = nearest_name(name, names)
            problems.append(Problem(text.at(line), f"no column {name!r}", f"one of {known}", near))
    if problems:
        raise FileError(problems)
    return named


def map_column(variable: str, name: str, unit: str, seconds: float, options: dict[str, Any]) -> Column:
    """Turn a name and a unit into a column with its range in that unit.

    variable: of the weather year; name, unit: of the map; seconds: between rows [s]; options: `missing`.
    """
    row = variables()[variable]
    factor, offset = column_unit(variable, name, unit, seconds)
    low, high = sorted((row.low / factor - offset, row.high / factor - offset))
    if variable == "relative_humidity":
        low, high = -0.05 / factor, 2.0 / factor
    elif variable in ("ghi", "dni", "dhi"):
        low = -20.0 / factor
    missing = tuple(code for code in map(_number, options.get("missing", ())) if code is not None)
    return Column(variable, name, unit or "1", low, high, missing, factor, offset)


def _number(code: Any) -> float | None:
    try:
        return float(code)
    except (TypeError, ValueError):
        return None


def column_unit(
    variable: str, name: str, unit: str, seconds: float, si_unit: str | None = None
) -> tuple[float, float]:
    """Give factor and offset with SI = (cell + offset) * factor; FileError where the unit is of another kind.

    variable, name, unit: of the map; seconds: between rows, of sums over a row [s]; si_unit: what is wanted,
    that of the weather year if not given.
    """
    si_unit = si_unit or variables()[variable].unit
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
    keep = _one_year(text, number, options)
    left_out = np.unique(number[~keep]).size
    number, lines = number[keep], lines[keep]
    values = {name: column[keep] for name, column in values.items()}
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
        instant_offset=instant_offset(options, seconds),
        values=means,
        how=how,
        source=str(options.get("source", f"table {text.path.name}")),
        licence="the user's own",
        utc_offset=place["utc_offset"],
        latitude=place["latitude"],
        longitude=place["longitude"],
        elevation=place["elevation"],
    )
    if left_out:
        year.warn("beyond_a_year", f"{left_out} hours of the table are not of the year that was taken.")
    if "wind_height" not in options:
        year.warn("wind_height", "the height of the wind instrument is not given; 10 m was taken.")
    return year


def instant_offset(options: dict[str, Any], seconds: float) -> float:
    """Give where in the hour the mean of its rows' air stands [s]; seconds: between rows [s]."""
    off_middle = STAMPS[options["stamp"]] - 0.5 if air_of(options, seconds) == "instant" else 0.0
    return 1800.0 + off_middle * seconds


def air_of(options: dict[str, Any], seconds: float) -> str:
    """Say whether a row's air was read at its stamp (`instant`) or is a `mean`; seconds: between rows [s]."""
    return options.get("air") or ("instant" if seconds == 3600.0 else "mean")


def means_of(column: np.ndarray, place_of: np.ndarray, hours: int, rows_an_hour: float) -> np.ndarray:
    """Average the rows of each hour; an hour with fewer than half of its rows is missing.

    column: any unit; place_of: hour of each row [1]; hours: count [1]; rows_an_hour: when whole [1].
    Returns the means, same unit.
    """
    known = ~np.isnan(column)
    count = np.bincount(place_of[known], minlength=hours)
    total = np.bincount(place_of[known], weights=column[known], minlength=hours)
    return np.where(count >= 0.5 * rows_an_hour, total / np.maximum(count, 1), np.nan)


def _one_year(text: WeatherText, number: np.ndarray, options: dict[str, Any]) -> np.ndarray:
    """Say which rows to keep, that they be one year, where the table holds more.

    number: hour of each row since 1970 on the site's clock [1]; options: `year`. Returns a flag a row.
    """
    years = number.astype("datetime64[h]").astype("datetime64[Y]").astype(int) + 1970
    wanted = options.get("year")
    hours = np.unique(number).size
    if wanted is None and hours > 8784:
        found = [int(y) for y in np.unique(years) if np.unique(number[years == y]).size >= 0.95 * 8760]
        if len(found) != 1:
            advice = f"Choose with year={found[0]}." if found else "Cut the table to twelve months in a row."
            given = f"{hours} hours with whole years {found or 'none'}"
            raise ClimateError(Problem(text.path.name, given, "one year", advice))
        wanted = found[0]
    if wanted is None:
        return _without_overlap(number)
    keep = years == wanted
    if not keep.any():
        raise ClimateError(Problem(f"{text.path.name}, year", str(wanted), f"{years.min()} to {years.max()}"))
    return keep


def _without_overlap(number: np.ndarray) -> np.ndarray:
    """Leave out what a year's table holds twice: stamped at the end, its first row is of the year before.

    number: hour of each row since 1970 [1]. Of an hour of the calendar that comes in two years, within a day
    of the table's ends, the one with more rows is kept. Returns a flag a row.
    """
    hours, rows = np.unique(number, return_counts=True)
    days = hours.astype("datetime64[h]").astype("datetime64[D]").astype(str)
    of_year: dict[tuple[str, int], tuple[int, int]] = {}
    doubtful: set[int] = set()
    for hour, count, day in zip(hours.tolist(), rows.tolist(), days.tolist(), strict=True):
        key = (day[5:], hour % 24)
        if key in of_year:
            other, others = of_year[key]
            doubtful.add(other if others <= count else hour)
        of_year[key] = (hour, count)
    return np.ones(number.size, dtype=bool) if len(doubtful) > 24 else ~np.isin(number, list(doubtful))
