"""Faults planted in weather files against the audit: how many are read without a word, and false alarms.

    python -m benchmarks.audit_faults                 # 100 files a format; writes results/audit_faults.json
    python -m benchmarks.audit_faults --seed 1000     # 100 others of each; writes nothing
    python -m benchmarks.audit_faults --also FOLDER   # untouched files of a folder too; writes nothing

Real years of eight places (weather_formats.py) are written in every format that the readers know. In each
file one thing is wrong: humidity, pressure or sun is scaled by half, held at its mean through the year, or
moved by 3 h, in one of its columns or in all of them. A dew point is halved as the number of degrees that
stands in the file, or as the vapour that it means. A file passes without a word when it is read and no
warning and no note names what was changed that is not said, with other figures, of the same file unchanged.

False alarms: what the audit says of untouched files, the repository's own and those that pvlib ships.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import re
import tempfile
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np

from benchmarks.weather_formats import FORMATS, PLACES, Rows, rows_of, with_columns
from welkinwell.climate import read_climate
from welkinwell.climate.moisture import dew_points, saturation_pressures
from welkinwell.errors import InputError

RESULTS: Final = Path(__file__).parent / "results" / "audit_faults.json"
FILES: Final = 100
SUBJECTS: Final = ("humidity", "pressure", "sun")
FAULTS: Final = ("half", "constant", "moved")
# Words by which a message names a subject: ours, and the headings of the formats
NAMES: Final = {
    "humidity": r"humid|dew|vapour|damp|\bRH",
    "pressure": r"(?<!vapour )pressure|barometer|\bSP\b",
    "sun": r"\bsun|global|direct|diffuse|radiation|\bG[HBD]|D[NH]I|G\(h\)",
}


@dataclass(frozen=True)
class Planted:
    """One file with one fault: format, place, columns that the file has, what was done to which of them."""

    format: str
    place: str
    humidity: tuple[str, ...]
    sun: tuple[str, ...]
    subject: str
    fault: str
    columns: tuple[str, ...]
    way: str


def planted(form: str, seed: int) -> Planted:
    """Draw a file of a format; subject and fault go round, the rest is drawn."""
    rng = np.random.default_rng([sorted(FORMATS).index(form), seed])
    subject, fault = SUBJECTS[seed % 3], FAULTS[seed // 3 % 3]
    places = [p for p in PLACES if not (p == "Sand Point" and subject == "pressure")]  # it has none to spoil
    humidity = FORMATS[form].humidity[rng.integers(len(FORMATS[form].humidity))]
    sun = FORMATS[form].sun[rng.integers(len(FORMATS[form].sun))]
    there = {"humidity": humidity, "pressure": ("pressure",), "sun": sun}[subject]
    choices = [there] if len(there) == 1 else [there, *((name,) for name in there)]
    ways = {"half": ("vapour", "number"), "moved": ("+3", "-3"), "constant": ("mean",)}[fault]
    return Planted(
        form,
        places[rng.integers(len(places))],
        humidity,
        sun,
        subject,
        fault,
        choices[rng.integers(len(choices))],
        ways[rng.integers(len(ways))],
    )


def spoilt(rows: Rows, one: Planted) -> Rows:
    """Plant the fault."""
    changed = {}
    for name in one.columns:
        column = rows.columns[name]
        if one.fault == "moved":
            changed[name] = np.roll(column, int(one.way))
        elif one.fault == "constant":
            changed[name] = np.full(column.size, column.mean())
        elif name == "dew_point" and (one.way == "vapour" or len(one.columns) > 1):
            changed[name] = dew_points(0.5 * saturation_pressures(column + 273.15)) - 273.15
        else:
            changed[name] = 0.5 * column
    return with_columns(rows, changed)


def words_of(path: Path, options: dict[str, Any]) -> list[tuple[str, str]]:
    """Read a file; give what is said of it as (refusal, warning or note; sentence)."""
    try:
        about = read_climate(path, **options).attrs
    except InputError as refusal:
        return [("refusal", str(refusal))]
    return [("warning", w) for w in json.loads(about["warnings"])] + [
        ("note", w) for w in json.loads(about["notes"])
    ]


def _bare(words: str) -> str:
    """Take the figures and the month's name out of a sentence."""
    return re.sub(r" in [A-Z][a-z]+\b", "", re.sub(r"[-+]?\d[\d.]*", "", words))


def _read(rows: Rows, one: Planted) -> list[tuple[str, str]]:
    form = FORMATS[one.format]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"site{form.ending}"
        names = one.humidity + one.sun
        path.write_text(form.write(rows, names), encoding="utf-8")
        return words_of(path, form.options(rows, names))


@cache
def _usual(form: str, place: str, humidity: tuple[str, ...], sun: tuple[str, ...]) -> frozenset[str]:
    """What is said of the same file unchanged, without figures."""
    plain = Planted(form, place, humidity, sun, "", "", (), "")
    return frozenset(_bare(words) for _, words in _read(rows_of(place, FORMATS[form].air_at), plain))


def told(form: str, seed: int) -> tuple[Planted, list[tuple[str, str]]]:
    """Plant one fault and give the new words that name its subject."""
    one = planted(form, seed)
    usual = _usual(form, one.place, one.humidity, one.sun)
    found = _read(spoilt(rows_of(one.place, FORMATS[form].air_at), one), one)
    return one, [
        (level, words)
        for level, words in found
        if _bare(words) not in usual and re.search(NAMES[one.subject], words, re.IGNORECASE)
    ]


def untouched(also: Path | None) -> dict[str, dict[str, list[str]]]:
    """Give the names of all warnings and notes on untouched files, sorted by file."""
    files = [*PLACES.values(), *(PLACES["plain of the Po"].parent).glob("pvgis*")]
    files += sorted(also.iterdir()) if also else []
    found: dict[str, dict[str, list[str]]] = {}
    for path in sorted(set(files), key=lambda p: p.name):
        said = words_of(path, {})
        if said[0][0] == "refusal" and "first line of a weather file" in said[0][1]:
            continue
        found[path.name] = {
            level: sorted(words.partition(":")[0] for kind, words in said if kind == level)
            for level in ("refusal", "warning", "note")
        }
    return found


def _record(form: str, seed: int) -> dict[str, Any]:
    one, found = told(form, seed)
    words = [[level, level if level == "refusal" else w.partition(":")[0]] for level, w in found]
    return asdict(one) | {"seed": seed, "words": words}


def _names(record: dict[str, Any]) -> set[str]:
    return {name for _, name in record["words"]}


def _level(record: dict[str, Any]) -> str:
    levels = {level for level, _ in record["words"]}
    return next((level for level in ("refusal", "warning", "note") if level in levels), "nothing")


def _print(results: dict[str, Any]) -> None:
    print(f"{'format':12s}{'files':>6s}{'refused':>9s}{'warned':>8s}{'noted':>7s}{'no word':>9s}")
    for form, counts in results["formats"].items():
        levels = [counts.get(k, 0) for k in ("refusal", "warning", "note", "nothing")]
        print(f"{form:12s}{sum(levels):6d}{levels[0]:9d}{levels[1]:8d}{levels[2]:7d}{levels[3]:9d}")
    print("told by:", results["told by"])
    print("told by nothing else than:", results["told by one name"])
    for one in results["without a word"]:
        print("without a word:", one)
    for name, said in results["untouched files"].items():
        print(f"{name}: " + "; ".join(f"{level} {', '.join(said[level])}" for level in said if said[level]))


def main() -> None:
    """Plant, read, count, print and write."""
    asked = argparse.ArgumentParser(description="Faults planted in weather files against the audit.")
    asked.add_argument("--seed", type=int, default=0, help="first seed; another than 0 writes nothing")
    asked.add_argument("--also", type=Path, help="folder of more untouched files; writes nothing")
    args = asked.parse_args()
    jobs = [(form, args.seed + k) for form in FORMATS for k in range(FILES)]
    began = time.perf_counter()
    with ProcessPoolExecutor(os.cpu_count(), multiprocessing.get_context("spawn")) as pool:
        records = list(pool.map(_record, *zip(*jobs, strict=True), chunksize=25))
    results = {
        "machine": f"{os.cpu_count()} processor cores, shared with other work",
        "wall_seconds": round(time.perf_counter() - began),
        "formats": {
            form: dict(Counter(_level(r) for r in records if r["format"] == form)) for form in FORMATS
        },
        "told by": dict(Counter(name for r in records for name in _names(r)).most_common()),
        "told by one name": dict(Counter(next(iter(n)) for r in records if len(n := _names(r)) == 1)),
        "without a word": [r for r in records if not r["words"]],
        "untouched files": untouched(args.also),
    }
    if args.seed == 0 and args.also is None:
        RESULTS.write_text(json.dumps(results, indent=1) + "\n", encoding="utf-8")
    _print(results)


if __name__ == "__main__":
    main()
