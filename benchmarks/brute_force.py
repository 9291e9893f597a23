"""Whether the search finds what brute force finds: six sizes of the starter box, free and under a budget.

    python -m benchmarks.brute_force            # writes benchmarks/results/brute_force.json (25 minutes)
    python -m benchmarks.brute_force --quick    # three sizes at four levels; prints, writes nothing

Every design of a grid over the six sizes runs through the same days as in `optimise`. Round the best of the
grid all 3^6 neighbours are tried at half the step, as long as one of them is better, then at a quarter, and
so on. Under the budget, a design that costs too much is brought down to the budget by a thinner layer, since
the best lies on the edge. The best few are simulated through the whole year, as `optimise` does with its own.
Designs are kept line by line in a folder for temporary files: a run that was stopped goes on where it was.
"""

from __future__ import annotations

import itertools
import json
import os
import platform
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import numpy as np

from welkinwell.case import read_case
from welkinwell.plants.one_plant import plant_of
from welkinwell.plants.plant import Plant
from welkinwell.plants.prices import own_figures
from welkinwell.studies.optimise import FINALISTS, Limits, Search, Tried, best_design
from welkinwell.studies.runner import run_all
from welkinwell.studies.variables import variables_of

RESULTS: Final = Path(__file__).parent / "results" / "brute_force.json"
CASE: Final = Path(__file__).parents[1] / "examples" / "tern_hollow" / "case.toml"
LEVELS: Final = 5
HALVINGS: Final = 4  # of the grid's step round the best
QUICK: Final = ("layer_thickness", "bed_area", "condenser_outer_area")
GIVES_WAY: Final = "layer_thickness"  # what is made smaller to keep a budget
CHUNK: Final = 250  # designs between two lines of progress

Shares = tuple[float, ...]


@dataclass(frozen=True)
class Found:
    """What brute force found: the best by days, the best through the year, designs simulated by days."""

    by_days: Tried
    through_the_year: Tried
    designs: int


class BruteForce:
    """A grid over the variables of a search, and its refinement, under a limit on what is known unbuilt."""

    def __init__(self, search: Search, limits: Limits, say: Callable[[str], None] = print) -> None:
        self.search, self.limits, self.say = search, limits, say
        self.sorbent = next(iter(search.sorbents))
        keys = [variable.key for variable in search.variables]
        self.gives_way = keys.index(GIVES_WAY)
        self.seen: dict[Shares, Tried] = {}

    def on_the_limit(self, shares: Sequence[float]) -> Shares | None:
        """Give a design inside the limits: itself, or with a thinner layer; None where none does."""

        def with_layer(share: float) -> Shares:
            row = list(shares)
            row[self.gives_way] = share
            return tuple(row)

        def inside(row: Shares) -> bool:
            return self.limits.broken(self.search.built(self.sorbent, row)) == 0.0

        row = with_layer(shares[self.gives_way])
        if not self.limits.of or inside(row):
            return row
        if not inside(with_layer(0.0)):
            return None
        low, high = 0.0, shares[self.gives_way]
        for _ in range(40):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if inside(with_layer(middle)) else (low, middle)
        return with_layer(low)

    def best_of(self, points: Iterable[Sequence[float]], about: str) -> Tried:
        """Simulate all points that can be brought inside the limits; the best so far."""
        rows = dict.fromkeys(row for point in points if (row := self.on_the_limit(point)) is not None)
        new = [row for row in rows if row not in self.seen]
        begun = time.perf_counter()
        for first in range(0, len(new), CHUNK):
            part = new[first : first + CHUNK]
            found = run_all(lambda row: self.search.tried(self.sorbent, row), part)
            self.seen.update(zip(part, found, strict=True))
            done = min(first + CHUNK, len(new))
            left = (time.perf_counter() - begun) * (len(new) - done) / done
            self.say(f"{about}: {done} of {len(new)} designs, {left:.0f} s to go")
        return min(self.seen.values(), key=_cost)

    def solve(self, levels: int = LEVELS, halvings: int = HALVINGS) -> Found:
        """Grid; all neighbours of the best at half the step as long as one is better; at a quarter; so on."""
        count = len(self.search.variables)
        even = [float(x) for x in np.linspace(0.0, 1.0, levels)]
        best = self.best_of(itertools.product(even, repeat=count), f"grid of {levels} to the {count}")
        step = 1.0 / (levels - 1)
        for _ in range(halvings):
            step /= 2.0
            while True:
                centre = self.search.shares_of(best)
                moves = np.array(list(itertools.product((-step, 0.0, step), repeat=count)))
                around = np.clip(centre + moves, 0.0, 1.0)
                further = self.best_of(
                    [tuple(row) for row in around.tolist()], f"round the best, step {step:g}"
                )
                gained = _cost(best) - _cost(further)
                best = further
                if gained <= 1e-4 * abs(_cost(best)):
                    break
        finalists = sorted(self.seen.values(), key=_cost)[:FINALISTS]
        years = run_all(lambda t: self.search.tried(self.sorbent, self.search.shares_of(t), True), finalists)
        return Found(best, min(years, key=_cost), len(self.seen))


def _cost(tried: Tried) -> float:
    return -float(tried.numbers["litres"] or 0.0)


def search_of(
    about: Plant, keys: Sequence[str] = (), limits: Limits | None = None, record: Path | None = None
) -> Search:
    """Search in the case's box with its own sorbent, over all sizes of the kind or those that are named."""
    design = about.entry.design
    variables = [v for v in variables_of(design) if not keys or v.key in keys]
    return Search(
        design, [about.entry.sorbent], about.site, variables, limits=limits, record=record,
        own_figures=own_figures(about),
    )  # fmt: skip


def budget_of_the_case(search: Search) -> float:
    """What the design as it stands costs to start, its mass filled in from layer and area [money]."""
    material = next(iter(search.sorbents.values()))
    shares = [v.share(v.now(search.design, material)) for v in search.variables]
    budget = search.built(next(iter(search.sorbents)), shares)["budget"]
    assert budget is not None
    return budget


def held_against_it(brute: Search, truth: Found, again: Search) -> dict[str, Any]:
    """Search with `optimise` in the same box, and say how far its best lies from that of brute force."""
    begun = time.perf_counter()
    found = best_design(again)
    spent = time.perf_counter() - begun
    name = found.best.sorbent
    same_days = again.tried(name, again.shares_of(found.best))
    ours, theirs = brute.shares_of(truth.through_the_year), again.shares_of(found.best)
    keys = [v.key for v in brute.variables]
    year, days = (float(t.numbers["litres"] or 0.0) for t in (truth.through_the_year, truth.by_days))
    return {
        "brute_force": {
            "designs_by_days": truth.designs,
            "litres_by_days": days,
            "litres_through_the_year": year,
            "values": dict(zip(keys, truth.through_the_year.values, strict=True)),
            "figures": dict(truth.through_the_year.numbers),
        },
        "search": {
            "designs": len(found.tried),
            "wall_seconds": round(spent, 1),
            "litres_by_days": same_days.numbers["litres"],
            "litres_through_the_year": found.best.numbers["litres"],
            "values": dict(zip(keys, found.best.values, strict=True)),
            "figures": dict(found.best.numbers),
        },
        "litres_of_the_search_over_brute_force": {
            "through_the_year": float(found.best.numbers["litres"] or 0.0) / year,
            "by_days": float(same_days.numbers["litres"] or 0.0) / days,
        },
        "apart_in_shares_of_the_range": {
            key: round(float(x), 4) for key, x in zip(keys, np.abs(ours - theirs), strict=True)
        },
    }


def compared(
    about: Plant,
    keys: Sequence[str],
    levels: int,
    halvings: int,
    record: Path | None,
    say: Callable[[str], None],
) -> dict[str, Any]:
    """Both tasks: most litres, and most litres for no more money than the design as it stands."""
    result: dict[str, Any] = {}
    brute = search_of(about, keys, record=record)
    budget = budget_of_the_case(brute)
    tasks = {"free": Limits(), "budget_of_the_case": Limits({"budget": (None, budget)})}
    for name, limits in tasks.items():
        say(name)
        truth = BruteForce(brute, limits, say).solve(levels, halvings)
        result[name] = {
            "limits": {key: most for key, (_, most) in limits.of.items()},
            **held_against_it(brute, truth, search_of(about, keys, limits)),
        }
    return result


def machine() -> str:
    """Give the machine in general words."""
    return f"{os.cpu_count()} cores, {platform.machine()}, {platform.system()}, shared with other work"


def main(arguments: list[str]) -> None:
    """Print what was found; write it unless asked to be quick."""
    quick = "--quick" in arguments
    about = plant_of(read_case(CASE))
    begun = time.perf_counter()

    def say(line: str) -> None:
        print(line, flush=True)

    record = Path(tempfile.gettempdir()) / "welkinwell_brute_force" / "designs.jsonl"
    result = (
        compared(about, QUICK, 4, 1, None, say)
        if quick
        else compared(about, (), LEVELS, HALVINGS, record, say)
    )
    result = {
        "date": f"{datetime.now(UTC):%Y-%m-%d}",
        "machine": machine(),
        "case": about.case.name,
        "harvester": about.entry.name,
        "wall_seconds": round(time.perf_counter() - begun),
        **result,
    }
    print(json.dumps(result, indent=1))
    if not quick:
        RESULTS.write_text(json.dumps(result, indent=1) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
