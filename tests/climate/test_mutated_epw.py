"""A hundred damaged EPW files: each gives a valid year with warnings, or one clear refusal."""

import gzip
import json
import random
import re

import pytest

from welkinwell.climate import read_climate
from welkinwell.climate.hourly import check_climate
from welkinwell.errors import ClimateError, FileError

ROWS = 8  # header lines before the data


def cell(rng, lines, new, column=None, count=1):
    """Put something into cells of the data rows."""
    for _ in range(count):
        i = rng.randrange(ROWS, len(lines))
        row = lines[i].split(",")
        row[rng.randrange(len(row)) if column is None else column] = new
        lines[i] = ",".join(row)
    return lines


def header(lines, position, new, line=0):
    row = lines[line].split(",")
    row[position] = new
    lines[line] = ",".join(row)
    return lines


def whole_column(lines, column, change):
    for i in range(ROWS, len(lines)):
        row = lines[i].split(",")
        row[column] = change(row[column])
        lines[i] = ",".join(row)
    return lines


def without_field(lines, column):
    return lines[:ROWS] + [
        ",".join(c for k, c in enumerate(line.split(",")) if k != column) for line in lines[ROWS:]
    ]


def swapped(lines, a, b):
    out = lines[:ROWS]
    for line in lines[ROWS:]:
        row = line.split(",")
        row[a], row[b] = row[b], row[a]
        out.append(",".join(row))
    return out


DATA = (6, 7, 8, 9, 12, 13, 14, 15, 21)
LINE_MUTATIONS = (
    lambda r, ls: cell(r, ls, r.choice(["abc", "--", "1,5", "12.3.4", "n/a", "#REF!"]), r.choice(DATA)),
    lambda r, ls: cell(r, ls, r.choice(["nan", "", " ", "NaN"]), r.choice(DATA), 20),
    lambda r, ls: cell(r, ls, r.choice(["inf", "-inf", "1e400", "1e30"]), r.choice(DATA)),
    lambda r, ls: cell(r, ls, r.choice(["-9999", "99999999", "1e9", "-500"]), r.choice(DATA), 3),
    lambda r, ls: cell(r, ls, r.choice(["99.9", "999", "9999"]), r.choice(DATA), 300),
    lambda r, ls: cell(r, ls, r.choice(["x", "-1", "1e9", "nan", ""]), None, 5),
    lambda r, ls: cell(r, ls, r.choice(["0", "13", "-3", "x", "2.5", ""]), 1),
    lambda r, ls: cell(r, ls, r.choice(["0", "32", "31", "x"]), 2, 4),
    lambda r, ls: cell(r, ls, r.choice(["0", "25", "24", "-1", "1.5"]), 3),
    lambda r, ls: cell(r, ls, r.choice(["0", "99999", "-1", "year"]), 0),
    lambda r, ls: ls[: r.randrange(ROWS, len(ls))],
    lambda r, ls: [*ls[:-1], ls[-1][: r.randrange(len(ls[-1]))]],
    lambda r, ls: ls[: (k := r.randrange(ROWS, len(ls)))] + ls[k + r.choice([1, 5, 40, 500]) :],
    lambda r, ls: [*ls, *ls[-r.choice([1, 24, 8760]) :]],
    lambda r, ls: ls[:ROWS] + r.sample(ls[ROWS:], len(ls) - ROWS),
    lambda r, ls: ls[: (k := r.randrange(ROWS))] + ls[k + 1 :],
    lambda r, ls: ls[ROWS:],
    lambda r, ls: ls[:ROWS],
    lambda r, ls: header(ls, r.choice([6, 7, 8, 9]), r.choice(["", "north", "999", "-999", "nan", "1e9"])),
    lambda r, ls: header(ls, 8, str(r.choice([-12, -5, 0, 7, 12]))),
    lambda r, ls: header(ls, 7, str(r.choice([104.65, 0.0, 170.0]))),
    lambda r, ls: header(header(ls, 6, "-104.65"), 7, "39.83"),
    lambda r, ls: header(ls, 2, r.choice(["4", "60", "x"]), 7),
    lambda r, ls: header(ls, 0, r.choice(["LOC", "", "location", "\x00LOCATION"])),
    lambda r, ls: whole_column(ls, 6, lambda c: f"{float(c) * 1.8 + 32:.1f}"),
    lambda r, ls: whole_column(ls, 6, lambda c: f"{float(c) + 273.15:.2f}"),
    lambda r, ls: whole_column(ls, 8, lambda c: f"{float(c) / 100:.3f}"),
    lambda r, ls: whole_column(ls, 9, lambda c: f"{float(c) / r.choice([100, 1000]):.2f}"),
    lambda r, ls: whole_column(ls, r.choice(DATA), lambda c: r.choice(["99.9", "999"])),
    lambda r, ls: whole_column(ls, 13, lambda c: f"{float(c) * 3.6:.0f}"),
    lambda r, ls: without_field(ls, r.randrange(0, 24)),
    lambda r, ls: swapped(ls, 6, 7),
    lambda r, ls: swapped(ls, 13, 14),
    lambda r, ls: swapped(ls, 1, 2),
    lambda r, ls: [line.replace(",", ";") for line in ls],
    lambda r, ls: [line.replace(".", ",") for line in ls],
    lambda r, ls: [*ls[:200], '"' + ls[200], *ls[201:]],
    lambda r, ls: [line if i < ROWS else line.split(",", 6)[0] for i, line in enumerate(ls)],
)


def raw_bytes(rng, content):
    kind = rng.randrange(5)
    if kind == 0:
        return content[: rng.randrange(len(content))]
    if kind == 1:
        spoilt = bytearray(content)
        for _ in range(rng.choice([1, 10, 1000])):
            spoilt[rng.randrange(len(spoilt))] = rng.randrange(256)
        return bytes(spoilt)
    if kind == 2:
        packed = gzip.compress(content, 1)
        return packed[: rng.randrange(3, len(packed))]
    if kind == 3:
        packed = bytearray(gzip.compress(content, 1))
        packed[rng.randrange(20, len(packed))] ^= 0xFF
        return bytes(packed)
    return content.decode().encode("utf-16")


def mutated(seed, lines):
    rng = random.Random(seed)
    if seed % 10 == 9:
        return raw_bytes(rng, "\n".join(lines).encode())
    change = LINE_MUTATIONS[seed % len(LINE_MUTATIONS)] if seed < 60 else rng.choice(LINE_MUTATIONS)
    return "\n".join(change(rng, list(lines))).encode()


def outcome(path):
    """Read the file; give the climate or the refusal. Any other exception fails the test by itself."""
    try:
        return read_climate(path), None
    except (ClimateError, FileError) as refusal:
        return None, refusal


@pytest.mark.parametrize("seed", range(100))
def test_a_damaged_file_is_a_valid_year_or_one_clear_refusal(seed, tmp_path, denver_lines):
    path = tmp_path / "spoilt.epw"
    path.write_bytes(mutated(seed, denver_lines))
    climate, refusal = outcome(path)
    if refusal is None:
        check_climate(climate)
        assert json.loads(climate.attrs["warnings"])
        return
    for problem in refusal.problems:
        assert "spoilt.epw" in problem.where
        assert problem.given and problem.expected
        words = str(problem)
        assert "\n" not in words and len(words) < 500
        assert not re.search(r"Traceback|NoneType|<class|numpy|object at", words)


def test_the_mutations_do_both(tmp_path, denver_lines):
    """The hundred are not all refused and not all accepted, or this file would prove nothing."""
    refused = 0
    for seed in range(0, 100, 4):
        path = tmp_path / f"{seed}.epw"
        path.write_bytes(mutated(seed, denver_lines))
        refused += outcome(path)[1] is not None
    assert 5 <= refused <= 22
