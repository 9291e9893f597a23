"""Text files that a user hands in: opened, unpacked, decoded and split within bounds.

Every reader of TOML, CSV, AIF or weather opens its file here, so that no file ends in a traceback,
stands still or fills the memory: each refusal is an InputError that names file, line and what is expected.
"""

from __future__ import annotations

import csv
import datetime
import gzip
import hashlib
import io
import re
import stat
import tomllib
import zlib
from collections.abc import Iterator
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, BinaryIO, Final

from welkinwell.errors import FileError, InputError, Problem

LARGEST_TEXT: Final = 150_000_000  # characters; a year of one-minute rows has half of it
MOST_LINES: Final = 1_100_000  # two years of one-minute rows
LONGEST_LINE: Final = 10_000_000  # characters; JSON may stand in one line
LONGEST_ROW: Final = 100_000  # characters of a row of a table
MOST_CELLS: Final = 2_000  # of a row
LONGEST_TITLE: Final = 200  # characters of a column's title
LARGEST_TOML: Final = 500_000  # bytes; the largest of ours has 40,000
MOST_VALUES: Final = 10_000  # in a TOML file
MOST_LEVELS: Final = 20  # of tables and lists within each other
LONGEST_TEXT: Final = 10_000  # characters of one text in a TOML file
MOST_DIGITS: Final = 19  # of a whole number, as 64 bits hold
_QUOTES: Final = 'Text and values with units stand in quotes, as in volume = "300 L".'
_TITLE: Final = re.compile(r"[A-Za-z_ ]+")


def why_no_file(path: Path) -> str:
    """Say in words why no file can be read at a path; empty where a file lies there."""
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return "no such file"
    except (OSError, ValueError) as error:
        if isinstance(error, PermissionError):
            return f"a file that cannot be read ({error.strerror})"
        reason = (error.strerror if isinstance(error, OSError) else None) or str(error)
        return f"a path that cannot be used ({reason})"
    if stat.S_ISDIR(mode):
        return "a folder"
    return "" if stat.S_ISREG(mode) else "neither a file nor a folder"


def names_in(folder: Path) -> list[str]:
    """List what lies in a folder, to offer a near name; nothing where it cannot be listed."""
    try:
        return [entry.name for entry in folder.iterdir()]
    except (OSError, ValueError):
        return []


def require_file(path: Path, expected: str, advice: str = "") -> None:
    """Refuse with a FileError what is no file.

    path: as given; expected: what should lie there; advice: what to do.
    """
    if reason := why_no_file(path):
        raise FileError(Problem(str(path), reason, expected, advice))


def read_lines(path: Path, expected: str, advice: str = "", any_bytes: bool = False) -> tuple[list[str], str]:
    """Read the lines of a file, plain or .gz, and stop where it is too much.

    path: of the file; expected: what it should be; advice: what to do where nothing lies there; any_bytes:
    whether text that is no UTF-8 is read as Latin-1, in which every byte is a letter.
    Returns the lines without their ends, and the sha256 of the file's bytes, hex; or raises FileError.
    """
    require_file(path, expected, advice)
    try:
        with path.open("rb") as file:
            if path.stat().st_size > LARGEST_TEXT:
                given = f"{path.stat().st_size} bytes"
                raise FileError(Problem(str(path), given, f"{expected}, at most {LARGEST_TEXT} bytes"))
            content_hash = hashlib.file_digest(file, "sha256").hexdigest()
            try:
                lines = list(_lines(file, path, expected, "utf-8-sig"))
            except UnicodeDecodeError:
                if not any_bytes:
                    raise FileError(_no_utf8(file, path, expected)) from None
                lines = list(_lines(file, path, expected, "latin-1"))
    except OSError as error:
        raise FileError(Problem(str(path), _unreadable(error), expected)) from None
    if not any(line.strip() for line in lines):
        raise FileError(Problem(str(path), "an empty file", expected))
    return lines, content_hash


def _lines(file: BinaryIO, path: Path, expected: str, encoding: str) -> Iterator[str]:
    file.seek(0)
    packed = file.read(2) == b"\x1f\x8b"
    file.seek(0)
    unpacked: Any = gzip.GzipFile(fileobj=file) if packed else file
    text = io.TextIOWrapper(io.BufferedReader(unpacked), encoding=encoding)
    size = number = 0
    try:
        for line in iter(lambda: text.readline(LONGEST_LINE + 1), ""):
            number += 1
            size += len(line)
            if problem := _too_much(path, number, size, line, expected):
                raise FileError(problem)
            yield line.removesuffix("\n")
    except (gzip.BadGzipFile, EOFError, zlib.error) as error:
        given = f"a damaged gzip file ({error})"
        raise FileError(Problem(str(path), given, "a whole one", "Fetch it again.")) from None
    finally:
        text.detach().detach()  # the file stays open: it may be read again in another encoding


def _too_much(path: Path, number: int, size: int, line: str, expected: str) -> Problem | None:
    """Find a line, or so many of them, as no file of data has. number: of the line; size: of all so far."""
    place = f"{path.name}, line {number}"
    if "\0" in line:
        return _nul(place, expected)
    if len(line) > LONGEST_LINE:
        given = f"a line of more than {LONGEST_LINE} characters"
        return Problem(place, given, f"{expected}, its lines of at most {LONGEST_LINE} characters")
    if number > MOST_LINES:
        return Problem(
            str(path), f"over {MOST_LINES} lines", f"at most {MOST_LINES}, two years by the minute"
        )
    if size > LARGEST_TEXT:
        return Problem(str(path), f"over {LARGEST_TEXT} characters", f"at most {LARGEST_TEXT} characters")
    return None


def _nul(place: str, expected: str) -> Problem:
    advice = "It is a binary file, or saved as UTF-16: save it as UTF-8."
    return Problem(place, "a NUL character", f"{expected}, a text file (plain or .gz)", advice)


def _no_utf8(file: BinaryIO, path: Path, expected: str) -> Problem:
    """Name the first line that is no UTF-8."""
    for number, line in enumerate(_lines(file, path, expected, "latin-1"), start=1):
        try:
            line.encode("latin-1").decode("utf-8")
        except UnicodeDecodeError as error:
            return _odd_byte(f"{path.name}, line {number}", ord(line[error.start]), expected)
    return Problem(str(path), "text that is no UTF-8", f"{expected}, UTF-8 text", "Save it as UTF-8.")


def _odd_byte(place: str, byte: int, expected: str) -> Problem:
    given = f"a file that is not text: the byte {byte:#04x} is no UTF-8"
    return Problem(place, given, f"{expected}, UTF-8 text", "Save it as UTF-8.")


def _unreadable(error: OSError) -> str:
    return f"a file that cannot be read ({error.strerror or error})"


def read_toml(
    path: Path | Traversable, expected: str, advice: str = "", refusal: type[InputError] = FileError
) -> dict[str, Any]:
    """Read a TOML file of the user's.

    path: of the file; expected: what it should be; advice: what to do where nothing lies there; refusal: the
    error that tells of bad content. Returns its tables.
    """
    return parse_toml(read_toml_text(path, expected, advice), path.name, expected, refusal)


def read_toml_text(path: Path | Traversable, expected: str, advice: str = "") -> str:
    """Read the text of a TOML file as it stands, with plain line ends; FileError where it is no text."""
    if isinstance(path, Path):
        require_file(path, expected, advice)
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_TOML + 1)
            size = len(content) + (0 if len(content) <= LARGEST_TOML else file.seek(0, 2) - len(content))
    except OSError as error:
        raise FileError(Problem(str(path), _unreadable(error), expected)) from None
    if size > LARGEST_TOML:
        raise FileError(Problem(str(path), f"{size} bytes", f"{expected}, at most {LARGEST_TOML} bytes"))
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise FileError(_odd_byte(f"{path.name}, line {line}", content[error.start], expected)) from None
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise FileError(_nul(f"{path.name}, line {line}", expected))
    return text.replace("\r\n", "\n").replace("\r", "\n")


def parse_toml(text: str, file: str, expected: str, refusal: type[InputError] = FileError) -> dict[str, Any]:
    """Turn TOML text into tables; what the parser or a reader would stumble over is refused.

    text: of the file; file: its name, for messages; expected: what it should be; refusal: the error.
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise refusal(Problem(file, f"text that is not TOML: {error}", expected, _QUOTES)) from None
    except RecursionError:
        raise refusal(_too_deep(_where(text, file, r"[\[{]"))) from None
    except ValueError:  # Python refuses to turn thousands of digits into a number
        digits = max(re.findall(r"[0-9][0-9_]{18,}", text), key=len, default="")
        line = text[: text.find(digits)].count("\n") + 1
        many = sum(letter != "_" for letter in digits)
        given = f"a whole number of {many} digits"
        raise refusal(Problem(f"{file}, line {line}", given, f"at most {MOST_DIGITS} digits")) from None
    if problem := _beyond_bounds(tables, text, file):
        raise refusal(problem)
    return tables


def _where(text: str, file: str, marks: str) -> str:
    """Name the line that has most of some marks."""
    lines = text.split("\n")
    most = max(range(len(lines)), key=lambda i: len(re.findall(marks, lines[i])))
    return f"{file}, line {most + 1}"


def _too_deep(place: str) -> Problem:
    return Problem(place, "tables or lists in too many levels", f"at most {MOST_LEVELS} levels")


def _beyond_bounds(tables: dict[str, Any], text: str, file: str) -> Problem | None:
    """Find what no reader should meet: whole numbers past 64 bits, endless texts, levels and values."""
    values, waiting = 0, [("", tables, 0)]
    while waiting:
        place, value, level = waiting.pop()
        values += 1
        where = f"{file}, {place}"
        if level > MOST_LEVELS:
            return _too_deep(_where(text, file, r"[\[{.]"))
        if isinstance(value, dict):
            long = next((key for key in value if len(key) > LONGEST_TITLE), None)
            if long is not None:
                return Problem(
                    where.removesuffix(", "),
                    f"the key {long!r}",
                    f"keys of at most {LONGEST_TITLE} characters",
                )
            waiting += [(f"{place}.{key}".lstrip("."), inner, level + 1) for key, inner in value.items()]
        elif isinstance(value, list):
            waiting += [(f"{place}[{i}]", inner, level + 1) for i, inner in enumerate(value)]
        elif isinstance(value, int) and not -(2**63) <= value < 2**63:
            return Problem(where, "a whole number of more than 64 bits", f"at most {MOST_DIGITS} digits")
        elif isinstance(value, str) and len(value) > LONGEST_TEXT:
            given = f"a text of {len(value)} characters"
            return Problem(where, given, f"at most {LONGEST_TEXT} characters")
    if values - 1 > MOST_VALUES:
        return Problem(file, f"{values - 1} values", f"at most {MOST_VALUES} values")
    return None


def split_row(line: str, delimiter: str = ",") -> list[str]:
    """Split one row of a table into cells; ValueError says in words what is wrong and what is expected.

    line: without its end; delimiter: one character.
    """
    if len(line) > LONGEST_ROW:
        raise RowError(f"a row of {len(line)} characters", f"at most {LONGEST_ROW}")
    if '"' not in line:
        cells = line.split(delimiter)
    else:
        try:
            cells = next(csv.reader([line], delimiter=delimiter, strict=True), [])
        except csv.Error:
            given = "a quote that is not closed, or letters after one"
            raise RowError(given, "cells with a quote at both ends or none") from None
    if len(cells) > MOST_CELLS:
        raise RowError(f"{len(cells)} cells", f"at most {MOST_CELLS}")
    return cells


class RowError(ValueError):
    """A row that cannot be split. given: what it is; expected: what it should be."""

    def __init__(self, given: str, expected: str):
        self.given, self.expected = given, expected
        super().__init__(f"{given}; expected {expected}")

    def at(self, place: str) -> Problem:
        """Say where the row stands."""
        return Problem(place, self.given, self.expected)


def title_and_unit(title: str) -> tuple[str, str]:
    """Split a column's title such as `Relative humidity [%]`.

    Returns the name in small letters with underscores, empty where it has other characters, and the unit,
    empty where there is none.
    """
    plain, unit = title.strip(), ""
    if len(plain) > LONGEST_TITLE:
        return "", ""
    if plain.endswith("]"):
        plain, _, unit = plain[:-1].partition("[")
    name = plain.strip()
    if not _TITLE.fullmatch(name):
        return "", ""
    return name.lower().replace(" ", "_"), unit.strip()


def on_clock(stamp: datetime.datetime, utc_offset: float) -> datetime.datetime:
    """Put a time with an offset of its own on a site's standard time, without one; others stay.

    utc_offset: of the site [h]. ValueError where the calendar ends.
    """
    if stamp.tzinfo is None:
        return stamp
    try:
        zulu = stamp.astimezone(datetime.UTC).replace(tzinfo=None)
        return zulu + datetime.timedelta(hours=utc_offset)
    except OverflowError:
        raise ValueError(f"{stamp.isoformat()} is at the end of the calendar") from None
