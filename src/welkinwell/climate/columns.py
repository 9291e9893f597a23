"""Columns of a weather file: what each holds, its unit, its missing codes and its believable range."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from welkinwell.climate.weather_file import Cells, WeatherText, numbers
from welkinwell.errors import ClimateError, Problem

# A year can do without these: the audit takes impossible values of theirs as missing.
NOT_NEEDED = (
    *("precipitation", "precipitation_hours", "albedo", "cloud_cover", "total_cloud", "opaque_cloud"),
    *("cloud_type", "clear_sky"),
)


@dataclass(frozen=True)
class Column:
    """One column of a file format; SI value = (cell + offset) * factor.

    name: the variable here; label: the format's name for it; unit: the file's; low, high: range that is
    believed, in the file's unit; missing: codes that mean no value.
    """

    name: str
    label: str
    unit: str
    low: float
    high: float
    missing: tuple[float, ...] = ()
    factor: float = 1.0
    offset: float = 0.0


def read_column(text: WeatherText, cells: Cells, lines: Sequence[int], column: Column) -> np.ndarray:
    """Read one column into SI; missing codes and blanks become NaN.

    cells: as written; lines: the line index of each [1]; column: what it holds.
    Returns SI values; ClimateError names line, column, value and range of the first impossible cell.
    """
    return in_si(text, numbers(text, cells, lines, column.label), lines, column)


def in_si(text: WeatherText, values: np.ndarray, lines: Sequence[int], column: Column) -> np.ndarray:
    """Turn numbers of one column into SI; missing codes become NaN.

    values: in the file's unit; lines: the line index of each [1]; column: what it holds.
    Returns SI values, or raises as `read_column` does.
    """
    for code in column.missing:
        values[np.abs(values - code) < 1e-6 * max(1.0, abs(code))] = np.nan
    if column.name not in NOT_NEEDED:
        refuse_outside(text, values, lines, column)
    return (values + column.offset) * column.factor


def refuse_outside(text: WeatherText, values: np.ndarray, lines: Sequence[int], column: Column) -> None:
    """Refuse a column that holds an impossible number; NaN passes.

    values: in the file's unit; lines: line index of each [1]; column: its range.
    """
    bad = np.flatnonzero((values < column.low) | (values > column.high))
    if not bad.size:
        return
    first = int(bad[0])
    unit = "" if column.unit == "1" else f" {column.unit}"
    more = f" (and {bad.size - 1} more such rows)" if bad.size > 1 else ""
    codes = f", or {column.missing[0]:g} for missing" if column.missing else ""
    raise ClimateError(
        Problem(
            text.at(lines[first], column.label),
            f"{values[first]:g}{unit}{more}",
            f"{column.low:g} to {column.high:g}{unit}{codes}",
            "Mend the row or take a fresh copy.",
        )
    )
