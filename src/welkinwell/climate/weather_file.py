"""The text of a weather file: opened, hashed, split into lines, with errors that a user can act on."""

from __future__ import annotations

import csv
import gzip
import hashlib
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from welkinwell.errors import ClimateError, FileError, Problem

LARGEST_FILE = 200_000_000  # bytes of text; a year of one-minute rows is a third of it


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

    path: of the file. Returns its text; FileError when it is missing, unreadable, empty or not text.
    """
    file = Path(path)
    if not file.is_file():
        kind = "a folder" if file.is_dir() else "nothing there"
        raise FileError(Problem(str(file), kind, "a weather file", "Check the path and the spelling."))
    try:
        content = file.read_bytes()
    except OSError as error:
        raise FileError(Problem(str(file), error.strerror or str(error), "a readable file")) from None
    content_hash = hashlib.sha256(content).hexdigest()
    text = _decoded(_unpacked(content, file), file)
    return WeatherText(file, tuple(text.splitlines()), content_hash)


def _unpacked(content: bytes, file: Path) -> bytes:
    if content[:2] != b"\x1f\x8b":
        return content
    try:
        unpacked = gzip.decompress(content)
    except (OSError, EOFError, zlib.error) as error:
        raise FileError(
            Problem(str(file), f"a damaged gzip file ({error})", "a whole one", "Fetch it again.")
        ) from None
    return unpacked


def _decoded(content: bytes, file: Path) -> str:
    if not content.strip():
        raise FileError(Problem(str(file), "an empty file", "a weather file"))
    if len(content) > LARGEST_FILE:
        raise FileError(Problem(str(file), f"{len(content)} bytes", f"at most {LARGEST_FILE} bytes of text"))
    if b"\x00" in content[:4096]:
        raise FileError(Problem(str(file), "a binary file", "a text file (plain or .gz)"))
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("latin-1")  # every byte is a letter; place names are often so written


def numbers(text: WeatherText, cells: Sequence[str], lines: Sequence[int], field: str) -> np.ndarray:
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


def delimited_rows(
    text: WeatherText, first: int, least: int, kind: str, delimiter: str = ","
) -> tuple[list[int], list[list[str]]]:
    """Split a file's rows into cells; blank lines are passed over.

    text: the file; first: index of the first row [1]; least: fields that a row must have [1]; kind: of
    file, for messages. Returns the line index of each row and its cells.
    """
    lines = [i for i in range(first, len(text.lines)) if text.lines[i].strip()]
    if not lines:
        raise ClimateError(Problem(text.path.name, "no data rows", f"the rows of {kind}"))
    try:
        rows = list(csv.reader((text.lines[i] for i in lines), delimiter=delimiter))
    except csv.Error as error:
        raise ClimateError(
            Problem(text.path.name, f"rows that cannot be split ({error})", "plain rows")
        ) from None
    if len(rows) != len(lines):
        raise ClimateError(Problem(text.path.name, "a quoted field that runs over line ends", "plain rows"))
    for line, row in zip(lines, rows, strict=True):
        if len(row) < least:
            raise ClimateError(
                Problem(
                    text.at(line),
                    f"{len(row)} fields",
                    f"at least {least}, as a row of {kind} has",
                    "The file may be cut short.",
                )
            )
    return lines, rows


def header_cells(text: WeatherText, line: int) -> list[str]:
    """Split a header line into stripped cells; none where the line is absent or cannot be split.

    line: index [1].
    """
    if line >= len(text.lines):
        return []
    try:
        return [cell.strip() for cell in next(csv.reader([text.lines[line]]), [])]
    except csv.Error:
        return []


def whole_numbers(text: WeatherText, cells: Sequence[str], lines: Sequence[int], field: str) -> np.ndarray:
    """Turn a column of a clock into whole numbers; blanks are refused.

    cells: as written; lines: line index of each [1]; field: its name. Returns integers.
    """
    values = numbers(text, cells, lines, field)
    odd = np.flatnonzero(~(values == np.round(values)) | (np.abs(values) > 1e9))
    if odd.size:
        first = int(odd[0])
        raise ClimateError(Problem(text.at(lines[first], field), repr(cells[first]), "a whole number"))
    return values.astype(int)
