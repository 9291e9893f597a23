"""Compile the march of every kind before the tests start: one process a kind, as many at once as cores.

`python -m tests.warm`. Test workers then find the compiled code in the folder of its content, instead of each
compiling the same kinds at the same time.
"""

import os
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

from welkinwell import compile_cache
from welkinwell.case import read_case
from welkinwell.climate import read_climate
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.kinds import LISTED, harvester_of
from welkinwell.simulation import march_year, prepare

ROOT = Path(__file__).parents[1]
# Those that take longest first, so that none of them is left alone at the end.
KINDS = (
    "desiccant_wheel",
    "passive_box layered",
    "passive_box",
    "two_stage_box",
    "liquid_desiccant",
    "active_bed",
    "hybrid",
    "cooling_coil",
    "basin_still",
    "dew_condenser",
)


def listed(case, name):
    """Design and sorbent of the case's harvester of a kind, its bed in layers where the name says so.

    The plain design of a kind that no case can have.
    """
    kind, *depth = name.split()
    one = next((each for each in case.harvesters if each.kind == kind), None)
    if one is None:
        return LISTED[kind].load()(), None
    return replace(one.design, depth="layered") if depth else one.design, one.sorbent


def compile_one(case, name) -> None:
    """March a day of it."""
    design, material = listed(case, name)
    ready = prepare(design, material, surroundings(read_climate(case.weather_path)))
    march_year(ready, tolerance=3e-3, last_hour=24, record=True)


def compile_all(case) -> None:
    """Compile what is not there yet, each kind in a process of its own, and say so."""
    begun = time.monotonic()
    cold = [
        name for name in KINDS if not compile_cache.is_warm(harvester_of(listed(case, name)[0]).kind.name)
    ]

    def run(name: str) -> None:
        subprocess.run([sys.executable, "-m", "tests.warm", name], cwd=ROOT, check=True)
        print(f"compiled {name} ({time.monotonic() - begun:.0f} s)", flush=True)

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(run, cold))


if __name__ == "__main__":
    all_kinds = read_case(ROOT / "examples" / "tern_hollow" / "all_kinds.toml")
    compile_one(all_kinds, sys.argv[1]) if len(sys.argv) > 1 else compile_all(all_kinds)
