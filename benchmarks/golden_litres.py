"""Litres of 200 random designs, kept so that a change of code that should move none can be held against them.

    python -m benchmarks.golden_litres            # simulates them anew and prints what moved, by kind
    python -m benchmarks.golden_litres --record   # draws them anew, writes results/golden_litres.json

The designs are written down with their litres, since a draw depends on the order of a design's fields. Ten
days of weather each, at a tolerance at which the scheme's own error has gone, and at the default one.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import fields
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import numpy as np

from benchmarks.random_designs import random_device
from welkinwell.climate import read_climate
from welkinwell.errors import SolverError
from welkinwell.harvesters.air import Surroundings, surroundings
from welkinwell.harvesters.harvester import Bucketed
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.layer_depth import has_layered_depth
from welkinwell.simulation import march_year, prepare, tolerance_of
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.runner import run_all

RESULTS: Final = Path(__file__).parent / "results" / "golden_litres.json"
WEATHER: Final = Path(__file__).parents[1] / "examples" / "weather"
PLACES: Final = ("coast", "desert", "highland", "tropics")
SEED: Final = 12
A_KIND: Final = 25
DAYS: Final = 10
TIGHT: Final = 1e-6
LEAST: Final = 1e-3  # kg/m2 a day, below which a difference is judged by this
LAYERED: Final = "passive_box, layered"


def drawn(kind: str, number: int) -> dict[str, Any]:
    """One random design of a kind at a place, as it is written down."""
    where = PLACES[number % len(PLACES)]
    layered = kind == LAYERED
    listed = "passive_box" if layered else kind
    rng = np.random.default_rng([SEED, list(KINDS).index(listed), int(layered), number])
    first = 24 * int(rng.integers(365 - DAYS))
    site = days_at(where, first)
    while True:
        ready = random_device(listed, site, rng)
        if not layered or has_layered_depth(ready.design, ready.sorbent):
            break
    given = {f.name: getattr(ready.design, f.name) for f in fields(ready.design)}
    if layered:
        given["depth"] = "layered"
    return {
        "kind": listed,
        "place": where,
        "first_hour": first,
        "sorbent": ready.sorbent.key if ready.sorbent else None,
        "design": given,
    }


def days_at(where: str, first: int) -> Surroundings:
    """Give ten days of weather at one of the example places, from an hour of the year on."""
    year = read_climate(next(WEATHER.glob(f"{where}*.gz")))
    return surroundings(year.isel(time=slice(first, first + 24 * DAYS)))


def litres(entry: dict[str, Any]) -> dict[str, float | str]:
    """Litres per m2 and day of a written-down design at both tolerances; words where it cannot be marched."""
    design = KINDS[entry["kind"]].load()(**entry["design"])
    material = sorbent(entry["sorbent"]) if entry["sorbent"] else None
    ready = prepare(design, material, days_at(entry["place"], entry["first_hour"]))
    found: dict[str, float | str] = {}
    for name, tolerance in (("tight", TIGHT), ("default", tolerance_of(ready, "normal"))):
        try:
            _, result = march_year(ready, tolerance=tolerance, keep="year")
        except SolverError as error:
            found[name] = str(error)
            continue
        run = Bucketed(ready.harvester.kind, ready.design, result.flows)
        found[name] = float(ready.harvester.accounts(run).water["water_collected"][0].sum()) / DAYS
    return found


def moved(old: float | str, new: float | str) -> float:
    """Relative difference of litres; infinite where one of two marches stops."""
    if isinstance(old, str) or isinstance(new, str):
        return 0.0 if isinstance(old, str) and isinstance(new, str) else float("inf")
    return abs(new - old) / max(abs(old), LEAST)


def table(entries: Sequence[dict[str, Any]], anew: Sequence[dict[str, Any]]) -> str:
    """What moved, a line a kind: designs, median and largest difference at each tolerance."""
    lines = ["kind                   designs   at 1e-6: median   largest   default: median   largest"]
    groups = {name: name for name in (*KINDS, LAYERED)}
    for group in groups:
        pairs = [(e, a) for e, a in zip(entries, anew, strict=True) if e["group"] == group]
        if not pairs:
            continue
        cells = []
        for name in ("tight", "default"):
            differences = [moved(e["litres"][name], a[name]) for e, a in pairs]
            cells += [f"{np.median(differences):.1e}", f"{max(differences):.1e}"]
        lines.append(
            f"{group:22} {len(pairs):7}   {cells[0]:>15}   {cells[1]:>7}   {cells[2]:>15}   {cells[3]:>7}"
        )
    for e, a in zip(entries, anew, strict=True):
        for name, limit in (("tight", 1e-6), ("default", 5e-4)):
            if (d := moved(e["litres"][name], a[name])) > limit:
                lines.append(
                    f"  {e['group']} {e['number']}, {e['sorbent']}, {name}: "
                    f"{e['litres'][name]} -> {a[name]} ({d:.1e})"
                )
    return "\n".join(lines)


def main(arguments: Sequence[str]) -> None:
    """Record the designs with their litres, or simulate the recorded ones anew and print what moved."""
    if "--record" in arguments:
        entries = [
            {"group": kind, "number": i, **drawn(kind, i)}
            for kind in (*KINDS, LAYERED)
            for i in range(A_KIND)
        ]
        for entry, found in zip(entries, run_all(litres, entries, progress=_told), strict=True):
            entry["litres"] = found
        kept = {"date": f"{datetime.now(UTC):%Y-%m-%d}", "seed": SEED, "days": DAYS, "designs": entries}
        RESULTS.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
        print(f"\nwrote {RESULTS.name}")
        return
    entries = json.loads(RESULTS.read_text(encoding="utf-8"))["designs"]
    if arguments:
        entries = [entry for entry in entries if entry["group"] in arguments]
    anew = run_all(litres, entries, progress=_told)
    print("\n" + table(entries, anew))


def _told(share: float) -> None:
    print(f"\r{share:5.0%}", end="", file=sys.stderr, flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
