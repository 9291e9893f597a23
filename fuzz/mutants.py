"""Mutants of a sane file: cells, keys, values and lines changed as its form has them, and bytes at random."""

from __future__ import annotations

import gzip
import json
import random
import re
from collections.abc import Callable
from typing import Any, Final

LARGEST: Final = 10_000_000  # bytes of a mutant
OF_BYTES: Final = 0.15  # share of mutants that know nothing of the form
PACKED: Final = 0.05  # share that is handed over as .gz
CELLS: Final = (
    "", " ", "0", "-1", "1e999", "-1e999", "nan", "inf", "1e-320", "1e308", "12.3.4", "--", "n/a", "#REF!",
    "1,5", "1_000", "٣", "½", "0x10", "99.9", "9999", "-9900", "999999", "1e15", "3.5", "2021-02-30",
    "2021-13-01T00:00", "2020-02-29T00:00", "0001-01-01T00:00+14:00", "9999-12-31",
    "9999-12-31T23:59-12:00", "2021-01-01T00:00Z", "2021-W05-1", "24:00", "00:00", "12/31/1999",
    "02/29/2000", "20180101:0000", "20181301:2500", "\"", "\"a\"", "\"a,b\"", "'", ";", "\t", "\\",
    "\u2028", "\u202e", "\x1b[2J", "é", "😀", "T [degC]", "[]", "{}", "null", "true", "9" * 30, "9" * 400,
    "x" * 300, " " * 300,
)  # fmt: skip
VALUES: Final = (
    "0", "-1", "1e999", "nan", "-inf", "1.5", "true", '""', '" "', "[]", "{}", "[[]]", '["a"]', "[1, 2, 3]",
    "{a = 1}", "[{}]", "[[1], [2]]", '"nan"', '"1e999 kg"', '"5"', '"5 m^9^9"', '"-3 degC"', '"1e400"',
    '"1,5 kg"', '"5 %"', '"5 parsec"', '"5 kg/"', '"0 m"', '"1 m 2"', '"none"', '"NONE"', '"../.."', '"/"',
    '"/dev/zero"', '"case.toml"', '"~"', '"a\\u0000b"', '"é"', '"😀"', '"\\u001b[2J"', "2021-01-01",
    "2021-01-01T00:00:00Z", "07:32:00", "9" * 19, "-" + "9" * 25, "9" * 5000, "0x" + "f" * 200,
    "[" * 300 + "]" * 300, '"' + "x" * 3000 + '"', '"' + "y/" * 300 + '"', '"' + " " * 3000 + '"', "0.5",
    "1e-300", "1e300", '"1e300 kg"', '"1e-300 mm"',
)  # fmt: skip
UNITS: Final = (
    "kg", "m2", "degC", "K", "%", "1", "W/(m2 K)", "L/day", "USD", "EUR/kg", "m^2^2", "kg/kg", "mol/kg",
    "mmol/g", "Pa", "mbar", "torr", "s", "", "furlong", "kg m", "1/s", "J/mol", "kJ/kg", "[", "degF",
    "mm/hour", "L/(m2 day)",
)  # fmt: skip
JSON: Final = (
    None,
    True,
    0,
    -1,
    1.5,
    1e308,
    "",
    "x",
    "nan",
    "1e999",
    [],
    {},
    [1],
    {"a": 1},
    "20180101:0000",
    "😀",
)
BYTES: Final = (
    b"\x00", b"\xff", b"\xfe\xff", b"\xef\xbb\xbf", b"\x1f\x8b", b"\r", b"\r\n", b"\n\n", b"\x85", b"\x0c",
    b"\xc3", b"\xed\xa0\x80", b'"', b"'", b"[", b"{", b"#", b",", b"=", b"%", b"\\", b"1e999", b"-",
    b"\x1a",
)  # fmt: skip
PAIR: Final = re.compile(r"^(\s*[\w.\"-]+\s*=\s*)(.*)$")
INNER: Final = re.compile(r"(\w+ = )(\"[^\"]*\"|[^,{}\[\]\"]+|\[[^\]]*\])")
_WITH_UNIT: Final = re.compile(r'"(-?[\d.]+) ?([^"]*)"')


def mutant(rng: random.Random, seed: bytes, form: str) -> bytes:
    """Damage a sane file in one to four places.

    rng: decides all; seed: the file; form: rows, fixed, toml, json, words. Returns at most LARGEST bytes.
    """
    count = rng.choice((1, 1, 1, 2, 2, 3, 4))
    if rng.random() < OF_BYTES:
        found = seed
        for _ in range(count):
            found = _of_bytes(rng, found)
    else:
        found = _FORMS[form](rng, seed, count)
    if rng.random() < PACKED:
        found = gzip.compress(found, 1)
        if rng.random() < 0.3:
            found = _of_bytes(rng, found)
    return found[:LARGEST]


def _of_bytes(rng: random.Random, content: bytes) -> bytes:
    size = max(len(content), 1)
    a, b = sorted((rng.randrange(size), min(size, rng.randrange(size) + 1)))
    short = content[a : a + rng.randrange(1, 40)]
    kind = rng.randrange(8)
    if kind == 0:
        return content[:a]
    if kind == 1:
        return content[:a] + content[b:]
    if kind == 2:
        return content[:a] + rng.choice(BYTES) + content[a:]
    if kind == 3:
        return content[:a] + bytes([rng.randrange(256)]) + content[a + 1 :]
    if kind == 4:
        return content[:a] + short * rng.choice((2, 30, 1000, 50_000)) + content[a:]
    if kind == 5:
        return content[:b] + content[a:b] + content[b:]
    if kind == 6:
        return content[:a] + rng.choice(BYTES) * rng.choice((1, 50, 5000)) + content[a + 1 :]
    return content[a:] + content[:a]


def _lines(rng: random.Random, lines: list[str]) -> None:
    """Change the order and number of lines in place."""
    i, j = rng.randrange(len(lines)), rng.randrange(len(lines))
    kind = rng.randrange(7)
    if kind == 0 and len(lines) > 1:
        del lines[i]
    elif kind == 1:
        lines.insert(j, lines[i])
    elif kind == 2:
        lines[i], lines[j] = lines[j], lines[i]
    elif kind == 3:
        lines.insert(i, rng.choice(("", "# a note", ",", '"', " ", "\t", "end", "[", "=", "x" * 2000)))
    elif kind == 4 and len(lines) > 1:
        del lines[max(i, 1) :]
    elif kind == 5:
        lines[i:i] = [lines[i]] * rng.choice((2, 50, 3000))
    else:
        lines[i] = lines[i] * rng.choice((2, 100))


def _text(content: bytes) -> str:
    return content.decode("utf-8", errors="replace")


def _of_rows(rng: random.Random, content: bytes, count: int) -> bytes:
    """Cells, columns and headings of a table with commas."""
    lines = _text(content).splitlines()
    heading = min(20, max(range(min(20, len(lines))), key=lambda i: lines[i].count(","), default=0))
    for _ in range(count):
        kind = rng.random()
        # headings are few and easily broken: most changes go to the rows
        i = rng.randrange(len(lines)) if rng.random() < 0.85 else rng.randrange(min(3, len(lines)))
        row = lines[i].split(",")
        k = rng.randrange(len(row))
        if kind < 0.5:
            row[k] = rng.choice(CELLS) if rng.random() < 0.9 else row[k] + rng.choice(CELLS)
            lines[i] = ",".join(row)
        elif kind < 0.58:
            del row[k]
            lines[i] = ",".join(row)
        elif kind < 0.63:
            lines[i] = ",".join([*row[:k], rng.choice(CELLS), *row[k:]])
        elif kind < 0.83:
            _column(rng, lines, heading + 1)
        elif kind < 0.85:
            mark = rng.choice((";", "\t", "|"))
            lines = [line.replace(",", mark) for line in lines]
        else:
            _lines(rng, lines)
    return rng.choice(("\n", "\n", "\n", "\r\n", "\r")).join(lines).encode()


def _column(rng: random.Random, lines: list[str], first: int) -> None:
    """Change one column through all rows: one value, scaled, moved, left out or swapped with another."""
    if first >= len(lines):
        return
    width = lines[first].count(",") + 1
    k, other = rng.randrange(width), rng.randrange(width)
    cells = [line.split(",") for line in lines[first:]]
    whole = [row for row in cells if len(row) > max(k, other)]
    kind, word = rng.randrange(5), rng.choice(CELLS)
    factor = rng.choice((0.5, 0.0, -1.0, 1000.0, 1e300))
    moved = [row[k] for row in whole[3:] + whole[:3]]
    for row, late in zip(whole, moved, strict=True):
        if kind == 0:
            row[k] = word
        elif kind == 1:
            row[k] = _scaled(row[k], factor)
        elif kind == 2:
            row[k] = late
        elif kind == 3:
            row[k], row[other] = row[other], row[k]
        else:
            del row[k]
    lines[first:] = [",".join(row) for row in cells]


def _scaled(cell: str, factor: float) -> str:
    try:
        return f"{float(cell) * factor:g}"
    except ValueError:
        return cell


def _of_fixed(rng: random.Random, content: bytes, count: int) -> bytes:
    """Characters at fixed places of a line."""
    lines = _text(content).splitlines()
    for _ in range(count):
        i = rng.randrange(len(lines)) if rng.random() < 0.9 else 0
        line = lines[i]
        k = rng.randrange(max(len(line), 1))
        kind, size = rng.random(), rng.choice((1, 2, 4))
        if kind < 0.5:
            word = rng.choice(("9999", "    ", "0000", "-999", "abcd", "1e99", "٣٣٣٣", "?0?0", "\x1b[2J"))
            lines[i] = line[:k] + word[:size] + line[k + size :]
        elif kind < 0.6:
            lines[i] = line[:k] + rng.choice(CELLS) + line[k:]
        elif kind < 0.7:
            lines[i] = line[:k] + line[k + size :]
        elif kind < 0.85:
            word = rng.choice(("9999", "    ", "0000", "zzzz"))
            lines[1:] = [line[:k] + word + line[k + 4 :] for line in lines[1:]]
        else:
            _lines(rng, lines)
    return "\n".join(lines).encode()


def _of_toml(rng: random.Random, content: bytes, count: int) -> bytes:
    """Keys, values, units and tables of a TOML file."""
    lines = _text(content).splitlines()
    for _ in range(count):
        pairs = [i for i, line in enumerate(lines) if PAIR.match(line)]
        kind = rng.random()
        if not pairs or kind > 0.9:
            _lines(rng, lines)
            continue
        i = rng.choice(pairs)
        match = PAIR.match(lines[i])
        assert match is not None
        key, value = match.groups()
        if kind < 0.3:
            lines[i] = key + rng.choice(VALUES)
        elif kind < 0.5 and "{" in value and (inner := list(INNER.finditer(value))):
            part = rng.choice(inner)
            new = part.group(1) + rng.choice(VALUES) if rng.random() < 0.8 else "zzz = 1"
            lines[i] = key + value[: part.start()] + new + value[part.end() :]
        elif kind < 0.6:
            lines[i] = key + _WITH_UNIT.sub(lambda m: f'"{m.group(1)} {rng.choice(UNITS)}"', value)
        elif kind < 0.7:
            lines[i] = key + re.sub(
                r"\d+", lambda m: rng.choice(("0", "1", "9", "1000000", m.group(0))), value
            )
        elif kind < 0.78:
            other = PAIR.match(lines[rng.choice(pairs)])
            assert other is not None
            lines[i] = key + other.group(2)
        elif kind < 0.84:
            lines[i] = rng.choice(("x", "a.b", '""', '"é"')) + key.lstrip() + value
        else:
            lines[i] = key + rng.choice((f"[{value}]", f"{{a = {value}}}", f"[{value}, {value}]"))
    return "\n".join(lines).encode()


def _of_json(rng: random.Random, content: bytes, count: int) -> bytes:
    """Nodes of a JSON file."""
    tree = json.loads(content)
    for _ in range(count):
        place: Any = tree
        for _ in range(9):
            keys = list(place) if isinstance(place, dict) else list(range(len(place)))
            if not keys:
                break
            key = rng.choice(keys)
            if not isinstance(place[key], (dict, list)) or rng.random() < 0.03:
                _node(rng, place, key)
                break
            place = place[key]
    return json.dumps(tree).encode()


def _node(rng: random.Random, place: Any, key: Any) -> None:
    kind = rng.random()
    if kind < 0.7:
        place[key] = rng.choice(JSON)
    elif kind < 0.85:
        del place[key]
    elif isinstance(place, dict):
        place[f"{key}x"] = place.pop(key)
    else:
        place.insert(key, place[key])


def _of_words(rng: random.Random, content: bytes, count: int) -> bytes:
    """Words between blanks, and lines."""
    lines = _text(content).splitlines()
    for _ in range(count):
        i = rng.randrange(len(lines))
        row = lines[i].split(" ")
        if rng.random() < 0.6:
            row[rng.randrange(len(row))] = rng.choice(
                (*CELLS, *UNITS, "loop_", "data_", "?", ".", "_exptl_temperature")
            )
            lines[i] = " ".join(row)
        else:
            _lines(rng, lines)
    return "\n".join(lines).encode()


_FORMS: Final[dict[str, Callable[[random.Random, bytes, int], bytes]]] = {
    "rows": _of_rows, "fixed": _of_fixed, "toml": _of_toml, "json": _of_json, "words": _of_words,
}  # fmt: skip
