"""How long the decision commands take on the starter case, and whether the search finds a known optimum.

    python -m benchmarks.decide_speed                # all; writes benchmarks/results/decide_speed.json
    python -m benchmarks.decide_speed uncertainty    # one: uncertainty, layered, losses, grid, optimise

Compiled code is warm before the clock starts. Processor seconds are what the job costs over all its threads;
on two free cores it lasts a little more than half of them. The wall clock is given with the machine's load,
since others may have worked on it at the same time.
"""

from __future__ import annotations

import itertools
import json
import os
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from welkinwell.case import read_case
from welkinwell.plants.best_design import best_of
from welkinwell.plants.losses import losses_of
from welkinwell.plants.one_plant import plant_of
from welkinwell.plants.plant import Plant
from welkinwell.plants.uncertainty import uncertainty_of
from welkinwell.sorbents.sorbent import sheet_names
from welkinwell.studies.optimise import Search, best_design
from welkinwell.studies.variables import variables_of

RESULTS: Final = Path(__file__).parent / "results" / "decide_speed.json"
CASE: Final = Path(__file__).parents[1] / "examples" / "tern_hollow" / "case.toml"
DRAWS: Final = 1000
SHARES: Final = tuple(i / 8.0 for i in range(9))
GRID: Final = ("layer_thickness", "condenser_outer_area")


def timed(job: Callable[[], Any]) -> tuple[Any, dict[str, float]]:
    """Do a job; what it gives, and how long it took."""
    processor, wall = time.process_time(), time.perf_counter()
    found = job()
    return found, {
        "processor_seconds": round(time.process_time() - processor, 1),
        "wall_seconds": round(time.perf_counter() - wall, 1),
        "load_of_the_machine": round(os.getloadavg()[0], 1),
        "cores": os.cpu_count() or 1,
    }


def layered(about: Plant) -> dict[str, Any]:
    """The same draws with the bed in layers."""
    deep = replace(about.entry, design=replace(about.entry.design, depth="layered"))
    return uncertainty(plant_of(replace(about.case, harvesters=(deep,))))


def losses(about: Plant) -> dict[str, Any]:
    """The whole loss ladder, every set of losses through the year."""
    losses_of(about)  # warm
    found, spent = timed(lambda: losses_of(about))
    return {**spent, "losses": len(found.steps), "ideal": found.ideal, "collected": found.collected}


def uncertainty(about: Plant) -> dict[str, Any]:
    """1,000 draws with everything that the command shows of them."""
    uncertainty_of(about, 16)  # warm
    found, spent = timed(lambda: uncertainty_of(about, DRAWS))
    return {
        **spent,
        "draws": DRAWS,
        "litres_exceeded_in": found.draws.exceeded(),
        "days": found.draws.tie.words if found.draws.tie else "every draw through the year",
    }


def grid(about: Plant) -> dict[str, Any]:
    """Two sizes: a grid of years by brute force, and the search in the same box."""
    design, material = about.entry.design, about.entry.sorbent
    variables = [v for v in variables_of(design) if v.key in GRID]
    brute = Search(design, [material], about.site, variables)
    name = next(iter(brute.sorbents))
    tried = [brute.tried(name, point, True) for point in itertools.product(SHARES, repeat=len(variables))]
    top = max(tried, key=lambda t: float(t.numbers["litres"] or 0.0))
    again = Search(design, [material], about.site, variables)
    found, spent = timed(lambda: best_design(again))
    return {
        **spent,
        "sizes": list(GRID),
        "grid_points": len(tried),
        "best_of_the_grid": {"litres": top.numbers["litres"], "values": list(top.values)},
        "best_of_the_search": {"litres": found.best.numbers["litres"], "values": list(found.best.values)},
        "designs_simulated": len(found.tried),
    }


def optimise(about: Plant) -> dict[str, Any]:
    """All six sizes and all data sheets."""
    found, spent = timed(lambda: best_of(about, sorbents=["all"]))
    best = found.best.best
    return {
        **spent,
        "sheets": len(sheet_names()),
        "variables": [v.key for v in found.search.variables],
        "designs_simulated": len(found.best.tried),
        "best": {"sorbent": best.sorbent, "values": list(best.values), "figures": dict(best.numbers)},
    }


PARTS: Final = {
    "uncertainty": uncertainty,
    "layered": layered,
    "losses": losses,
    "grid": grid,
    "optimise": optimise,
}


def main(arguments: list[str]) -> None:
    """Measure the parts that are asked for, all without a name, and write them beside those known."""
    if unknown := [name for name in arguments if name not in PARTS]:
        raise SystemExit(f"{', '.join(unknown)}: expected {', '.join(PARTS)}")
    about = plant_of(read_case(CASE))
    known = json.loads(RESULTS.read_text()) if RESULTS.is_file() else {}
    for name in arguments or list(PARTS):
        known[name] = {"date": f"{datetime.now(UTC):%Y-%m-%d}", **PARTS[name](about)}
        print(json.dumps({name: known[name]}, indent=1), flush=True)
        RESULTS.write_text(json.dumps(known, indent=1) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
