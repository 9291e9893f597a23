"""Compile the march of every kind before the tests start: one process a kind, as many at once as there are cores.

`python -m tests.warm`. Test workers then find the compiled code in the folder of its content, instead of each
compiling the same kinds at the same time.
"""

import os
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from welkinwell import compile_cache

ROOT = Path(__file__).parents[1]
# Those that take longest first, so that none of them is left alone at the end.
KINDS = (
    "desiccant_wheel",
    "two_stage_box",
    "layered_box",
    "liquid_desiccant",
    "hybrid",
    "active_bed",
    "passive_box",
    "cooling_coil",
    "dew_condenser",
)


def compile_kind(kind: str) -> None:
    """March a day of the kind's design in the example case; a layered box is a passive box with a depth."""
    from dataclasses import replace

    from welkinwell.case import read_case
    from welkinwell.climate import read_climate
    from welkinwell.harvesters.air import surroundings
    from welkinwell.simulation import march_year, prepare

    case = read_case(ROOT / "examples" / "tern_hollow" / "all_kinds.toml")
    layered = kind == "layered_box"
    one = next(each for each in case.harvesters if each.kind == ("passive_box" if layered else kind))
    design = replace(one.design, depth="layered") if layered else one.design
    ready = prepare(design, one.sorbent, surroundings(read_climate(case.weather_path)))
    march_year(ready, tolerance=3e-3, last_hour=24, record=True)


def compile_all() -> None:
    """Compile what is not there yet, and say what was."""
    begun = time.monotonic()
    cold = [kind for kind in KINDS if not compile_cache.is_warm(kind)]

    def run(kind: str) -> None:
        subprocess.run([sys.executable, "-m", "tests.warm", kind], cwd=ROOT, check=True)
        print(f"compiled {kind} ({time.monotonic() - begun:.0f} s)", flush=True)

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(run, cold))


if __name__ == "__main__":
    compile_kind(sys.argv[1]) if len(sys.argv) > 1 else compile_all()
