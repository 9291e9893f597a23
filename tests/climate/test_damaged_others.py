"""Damaged NSRDB, PVGIS, TMY files: a valid year or a refusal, as with EPW."""

import gzip
import random
from pathlib import Path

import pvlib
import pytest

from welkinwell.climate import read_climate
from welkinwell.climate.hourly import check_climate
from welkinwell.errors import ClimateError, FileError

HERE = Path(__file__).parent
FILES = {
    "nsrdb": HERE.parents[1] / "examples/weather/desert_daggett_california_tmy.csv.gz",
    "pvgis-csv": HERE / "data/pvgis_45N_8E_tmy.csv.gz",
    "pvgis-json": HERE / "data/pvgis_45N_8E_tmy.json.gz",
    "tmy3": Path(pvlib.__file__).parent / "data/723170TYA.CSV",
    "tmy2": Path(pvlib.__file__).parent / "data/12839.tm2",
}
WORDS = (b"x", b"", b"nan", b"inf", b"-9999", b"1e9", b"null", b'"', b"[]")


def damaged(content, seed):
    rng = random.Random(seed)
    kind = seed % 5
    if kind == 0:
        return content[: rng.randrange(len(content))]
    if kind == 1:
        spoilt = bytearray(content)
        for _ in range(rng.choice([1, 5, 50])):
            spoilt[rng.randrange(len(spoilt))] = rng.randrange(32, 127)
        return bytes(spoilt)
    lines = content.split(b"\n")
    at = rng.randrange(min(len(lines), 20 if kind == 2 else 10**6))
    if kind == 4:
        return b"\n".join(lines[:at] + lines[at + rng.choice([1, 30, 700]) :])
    cells = lines[at].split(b",")
    cells[rng.randrange(len(cells))] = rng.choice(WORDS)
    lines[at] = b",".join(cells)
    return b"\n".join(lines)


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize("kind", FILES)
def test_a_damaged_file_is_a_valid_year_or_a_refusal(kind, seed, tmp_path):
    content = FILES[kind].read_bytes()
    content = gzip.decompress(content) if content[:2] == b"\x1f\x8b" else content
    path = tmp_path / "spoilt.dat"
    path.write_bytes(damaged(content, seed))
    try:
        climate = read_climate(path)
    except (ClimateError, FileError) as refusal:
        assert all("spoilt.dat" in p.where and p.expected for p in refusal.problems)
    else:
        check_climate(climate)
