"""The text of a weather file: opened, hashed, split into lines, with errors that a user can act on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from welkinwell.errors import ClimateError, Problem
from welkinwell.text_file import RowError, read_lines, split_row

Cells = Sequence[str] | np.ndarray  # one column as written
BLOCK = 10_000  # rows that are split before their cells become numbers; a year of hours is one


@dataclass(frozen=True)
class WeatherText:
    """A weather file as lines of text.

    path: as the user gave it; lines: without line ends; content_hash: sha256 of the file's bytes, hex;
    row_word: what messages call a line, where the rows are not lines.
    """

    path: Path
    lines: tuple[str, ...]
    content_hash: str
    row_word: str = "line"

    def at(self, line: int, field: str = "") -> str:
        """Say where something stands, as messages show it.

        line: index from 0 [1]; field: the column's name. Returns words.
        """
        place = f"{self.path.name}, {self.row_word} {line + 1}"
        return f"{place}, {field}" if field else place


def open_weather(path: str | Path) -> WeatherText:
    """Read a weather file, plain or .gz, into lines.

    path: of the file. Returns its text; FileError when it is missing, unreadable, empty, too large, no text.
    """
    file = Path(path)
    advice = "Check the path and the spelling."
    lines, content_hash = read_lines(file, "a weather file", advice, any_bytes=True)
    return WeatherText(file, tuple(lines), content_hash)


def numbers(text: WeatherText, cells: Cells, lines: Sequence[int], field: str) -> np.ndarray:
    """Turn a column of cells into numbers; blanks are NaN.

    text: the file; cells: the column's cells; lines: the line index of each [1]; field: the column's
    name for messages. Returns an array in the file's unit.
    """
    try:
        values = np.array(cells, dtype=float)
    except ValueError:
        values = np.array([_number(text, c, n, field) for c, n in zip(cells, lines, strict=True)])
    if np.isinf(values).any():
        bad = int(np.flatnonzero(np.isinf(values))[0])
        raise ClimateError(Problem(text.at(lines[bad], field), cells[bad], "a finite number"))
    return values


def _number(text: WeatherText, cell: str, line: int, field: str) -> float:
    stripped = cell.strip()
    if not stripped:
        return float("nan")
    try:
        return float(stripped)
    except ValueError:
        raise ClimateError(
            Problem(text.at(line, field), repr(cell), "a number", "Mend the cell or take a fresh copy.")
        ) from None


def header_number(text: WeatherText, cell: str, line: int, field: str, low: float, high: float) -> float:
    """Read one number of a header and check its range.

    cell: as written; line: index [1]; field: its name; low, high: the allowed range, same unit as the cell.
    Returns the number in that unit.
    """
    value = _number(text, cell, line, field)
    if not low <= value <= high:
        raise ClimateError(Problem(text.at(line, field), repr(cell), f"a number from {low:g} to {high:g}"))
    return value


Take = Callable[[list[str], list[int]], np.ndarray]


def delimited_columns(
    text: WeatherText,
    first: int,
    least: int,
    kind: str,
    wanted: Mapping[str, tuple[int, Take]],
    delimiter: str = ",",
    most: int | None = None,
) -> tuple[list[int], dict[str, np.ndarray]]:
    """Split a file's rows into cells and turn the wanted ones into arrays, a block of rows at a time.

    text: the file; first: index of the first row [1]; blank lines are passed over; least: fields that a row
    must have [1]; kind: of file, for messages; wanted: by name, the place of a cell in its row [1] and what
    turns cells and their line indices into an array; a cell beyond the end of its row is blank; most: cells
    after so many must be blank [1], where given.
    Returns the line index of each row and the arrays.
    """
    lines: list[int] = []
    found: dict[str, list[np.ndarray]] = {name: [] for name in wanted}
    for numbers_of_lines, rows in _blocks(text, first, (least, most), kind, delimiter):
        for name, (place, take) in wanted.items():
            cells = [row[place] if place < len(row) else "" for row in rows]
            found[name].append(take(cells, numbers_of_lines))
        lines += numbers_of_lines
    return lines, {name: np.concatenate(parts) for name, parts in found.items()}


def _blocks(
    text: WeatherText, first: int, cells: tuple[int, int | None], kind: str, delimiter: str
) -> Iterator[tuple[list[int], list[list[str]]]]:
    lines = [i for i in range(first, len(text.lines)) if text.lines[i].strip()]
    if not lines:
        raise ClimateError(Problem(text.path.name, "no data rows", f"the rows of {kind}"))
    for start in range(0, len(lines), BLOCK):
        block = lines[start : start + BLOCK]
        yield block, [_row(text, line, cells, kind, delimiter) for line in block]


def _row(text: WeatherText, line: int, cells: tuple[int, int | None], kind: str, delimiter: str) -> list[str]:
    least, most = cells
    try:
        row = split_row(text.lines[line], delimiter)
    except RowError as error:
        raise ClimateError(error.at(text.at(line))) from None
    if len(row) < least:
        expected = f"at least {least}, as a row of {kind} has"
        raise ClimateError(
            Problem(text.at(line), f"{len(row)} fields", expected, "The file may be cut short.")
        )
    if most is not None and any(cell.strip() for cell in row[most:]):
        advice = "Is a decimal comma taken for a delimiter? Such numbers must stand in quotes."
        raise ClimateError(
            Problem(text.at(line), f"{len(row)} fields", f"{most}, as the heading has", advice)
        )
    return row


def header_cells(text: WeatherText, line: int, delimiter: str = ",") -> list[str]:
    """Split a header line into stripped cells; none where the line is absent or cannot be split.

    line: index [1].
    """
    if line >= len(text.lines):
        return []
    try:
        return [cell.strip() for cell in split_row(text.lines[line], delimiter)]
    except RowError:
        return []


def whole_numbers(text: WeatherText, cells: Cells, lines: Sequence[int], field: str) -> np.ndarray:
    """Turn a column of a clock into whole numbers; blanks are refused.

    cells: as written; lines: line index of each [1]; field: its name. Returns integers.
    """
    values = numbers(text, cells, lines, field)
    odd = np.flatnonzero(~(values == np.round(values)) | (np.abs(values) > 1e9))
    if odd.size:
        first = int(odd[0])
        raise ClimateError(Problem(text.at(lines[first], field), repr(cells[first]), "a whole number"))
    return values.astype(int)


def as_written(cells: list[str], lines: list[int]) -> np.ndarray:
    """Keep a column of words; for `delimited_columns`."""
    return np.array(cells, dtype=object)
