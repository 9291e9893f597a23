"""The first row of a described table, as it was understood: what a person can hold against the file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from welkinwell.climate.table import STAMPS, TableRows, air_of, table_rows
from welkinwell.climate.weather_file import open_weather
from welkinwell.quantities import from_si, variables

# Units in which a practitioner reads each variable; the others stay as they are in SI.
EVERYDAY = {
    "temperature": "degC",
    "dew_point": "degC",
    "relative_humidity": "%",
    "vapour_pressure": "hPa",
    "pressure": "hPa",
    "albedo": "%",
    "cloud_cover": "%",
}


@dataclass(frozen=True)
class Cell:
    """One cell as written and as understood: value in SI, nan where it is a missing value."""

    variable: str
    column: str
    written: str
    value: float

    def everyday(self) -> str:
        """The value in a practitioner's unit."""
        if np.isnan(self.value):
            return "missing"
        if self.variable == "precipitation":
            return f"{3600.0 * self.value:.4g} mm/h"
        unit = EVERYDAY.get(self.variable, variables()[self.variable].unit)
        return f"{from_si(self.value, unit):.4g} {unit}"


@dataclass(frozen=True)
class FirstRow:
    """The first row of a table.

    line: counted from 1; rows: of the table; seconds: between rows [s]; utc_offset: of the site's standard
    time [h]; at: the stamp as an instant of UTC; span: the interval that it speaks for, in UTC, None for a
    log of instants; air: whether temperature, humidity and wind are `instant` or `mean` in a row.
    """

    file: str
    line: int
    stamp: str
    rows: int
    seconds: float
    utc_offset: float
    at: np.datetime64
    span: tuple[np.datetime64, np.datetime64] | None
    air: str
    cells: tuple[Cell, ...]

    def lines(self) -> list[str]:
        """Say it in plain words, line by line."""
        zone = f"local standard time (UTC{self.utc_offset:+g})"
        told = [
            f"{self.rows} rows, {self.seconds / 60.0:g} minutes apart; the first, line {self.line}, is "
            f"stamped {self.stamp!r}:",
            f"  {_clock(self._local(self.at))} {zone}, {_clock(self.at)} UTC",
        ]
        if self.span is not None:
            begin, end = self.span
            local = f"{_clock(self._local(begin))} to {_clock(self._local(end))} {zone}"
            told.append(f"  it speaks for {local}, {_clock(begin)} to {_clock(end)} UTC")
            told.append(
                "  all its values are taken as means over that time"
                if self.air == "mean"
                else "  its sun is taken as a mean over that time, the rest as read at the stamp"
            )
        width = max(len(variables()[cell.variable].long_name) for cell in self.cells)
        return told + [
            f"  {variables()[cell.variable].long_name:<{width}}  {cell.everyday():<12} "
            f"from {cell.written!r} in {cell.column!r}"
            for cell in self.cells
        ]

    def _local(self, instant: np.datetime64) -> np.datetime64:
        return instant + np.timedelta64(round(self.utc_offset * 3600.0), "s")

    def as_data(self) -> dict[str, Any]:
        """The same, JSON-ready; values in SI."""
        return {
            "file": self.file,
            "line": self.line,
            "stamp": self.stamp,
            "rows": self.rows,
            "minutes_between_rows": self.seconds / 60.0,
            "utc": str(self.at),
            "air": self.air,
            "interval_utc": None if self.span is None else [str(one) for one in self.span],
            "values": {
                cell.variable: {
                    "column": cell.column,
                    "written": cell.written,
                    "value": None if np.isnan(cell.value) else cell.value,
                    "unit": variables()[cell.variable].unit,
                }
                for cell in self.cells
            },
        }


def _clock(instant: np.datetime64) -> str:
    return str(instant.astype("datetime64[s]")).replace("T", " ").removesuffix(":00")


def first_row(path: str | Path, options: dict[str, Any], kind: str = "the table") -> FirstRow:
    """Read a described table's first row as the readers take it.

    path: of the file; options: of the table reader or of the log reader; kind: of table, for messages.
    """
    text = open_weather(path)
    utc_offset = float(options["utc_offset"])
    rows = table_rows(text, options, utc_offset, kind)
    at = _utc(rows.instants[0], utc_offset)
    span, air = None, "instant"
    if "stamp" in options:
        begin = rows.instants[0] - STAMPS[options["stamp"]] * rows.seconds
        air = air_of(options, rows.seconds)
        span = (_utc(begin, utc_offset), _utc(begin + rows.seconds, utc_offset))
    cells = [_cell(rows, variable, options) for variable in rows.table.numbers]
    return FirstRow(
        text.path.name, rows.table.lines[0] + 1, rows.table.stamps[0], len(rows.table.lines), rows.seconds,
        utc_offset, at, span, air, tuple(cells),
    )  # fmt: skip


def _utc(instant: float, utc_offset: float) -> np.datetime64:
    return np.datetime64(round(instant - utc_offset * 3600.0), "s")


def _cell(rows: TableRows, variable: str, options: dict[str, Any]) -> Cell:
    written = rows.table.first[variable]
    if options.get("decimal") == "comma":
        written = written.replace(".", ",")
    return Cell(variable, rows.table.named[variable][0], written, float(rows.in_si(variable, options, 1)[0]))
