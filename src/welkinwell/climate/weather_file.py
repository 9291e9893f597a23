"""The text of a weather file: opened, hashed, split into lines, with errors that a user can act on."""

from __future__ import annotations

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

    path: as the user gave it; lines: without line ends; content_hash: sha256 of the file's bytes, hex.
    """

    path: Path
    lines: tuple[str, ...]
    content_hash: str

    def at(self, line: int, field: str = "") -> str:
        """Say where something stands, as messages show it.

        line: index from 0 [1]; field: the column's name. Returns words.
        """
        place = f"{self.path.name}, line {line + 1}"
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


def numbers(
    text: WeatherText, cells: Sequence[str], lines: Sequence[int], field: str, whole: bool = False
) -> np.ndarray:
    """Turn a column of cells into numbers; blanks are NaN.

    text: the file; cells: the column's cells; lines: the line index of each [1]; field: the column's
    name for messages; whole: must be whole numbers. Returns an array in the file's unit.
    """
    try:
        values = np.array(cells, dtype=float)
    except ValueError:
        values = np.array([_number(text, c, n, field) for c, n in zip(cells, lines, strict=True)])
    if np.isinf(values).any():
        bad = int(np.flatnonzero(np.isinf(values))[0])
        raise ClimateError(Problem(text.at(lines[bad], field), cells[bad], "a finite number"))
    if whole and not np.array_equal(values, np.round(values)):
        bad = int(np.flatnonzero(~(values == np.round(values)))[0])
        raise ClimateError(Problem(text.at(lines[bad], field), repr(cells[bad]), "a whole number"))
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
