"""A device-year by the march and by library solvers: `python -m benchmarks.march` (about 12 minutes).

Prints the work-precision curve and writes benchmarks/results/march.json. The library solvers integrate the
same compiled flows as the march, from the same start (benchmarks/library_solvers.py). Single runs are timed
in seconds of the processor (all use one core), the batch and the processes by the clock on the wall.
`--days 30` runs a part of the year, to try things, and writes nothing.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import metadata
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.library_solvers import CompiledBalances, daily_litres
from benchmarks.random_designs import ordinary_box

ROOT = Path(__file__).resolve().parents[1]
RESULTS = ROOT / "benchmarks" / "results" / "march.json"
WEATHER = "coast_western_australia_2020.csv.gz"
SHEET = "silica_gel_regular_density"
CLOSE_ENOUGH = 0.2  # percent of the year's litres
BATCH = 1000
RTOLS = (3e-3, 1e-3, 5e-4, 3e-4, 1e-4, 1e-5)
METHODS = {"LSODA": RTOLS, "CVODE": RTOLS, "Radau": (1e-2, 3e-3, 1e-3), "BDF": RTOLS}
TOLERANCES_MARCH = (1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 1e-5)
PACKAGES = ("numpy", "scipy", "numba", "xarray", "scikit-sundae")


@dataclass(frozen=True)
class Timing:
    """One run: who, at what tolerance, how long [s a year], and how far from the truth [%]."""

    solver: str
    tolerance: float
    seconds: float
    litres: float
    difference: float
    worst_day: float

    def line(self) -> str:
        """Return the run as a row of the table."""
        return (
            f"{self.solver:<34} {self.tolerance:8.0e} {self.seconds:9.3f} {self.litres:9.3f} "
            f"{self.difference:+9.4f} {self.worst_day:9.3f}"
        )


HEAD = f"{'solver':<34} {'rtol':>8} {'s a year':>9} {'litres/m2':>9} {'off %':>9} {'day off %':>9}"


class Bench:
    """The case, the truth, and every run so far."""

    def __init__(self, days: int):
        from welkinwell.climate import read_climate
        from welkinwell.harvesters.air import surroundings
        from welkinwell.harvesters.passive_box.design import PassiveBox
        from welkinwell.simulation import march_year, prepare
        from welkinwell.sorbents.sorbent import sorbent

        self.days = days
        self.site = surroundings(read_climate(_weather()))
        self.sorbent = sorbent(SHEET)
        self.ready = prepare(PassiveBox(), self.sorbent, self.site)
        self.start, _ = march_year(self.ready, tolerance=1e-5, keep="year", last_hour=24 * days)
        self.balances = CompiledBalances(self.ready)
        self.truth = np.zeros(0)
        self.runs: list[Timing] = []

    def library(self, method: str, rtol: float, repeats: int = 1) -> Timing:
        """Time a library solver on the kind's compiled flows; the best of the repeats."""
        best, found = float("inf"), np.zeros(0)
        for _ in range(repeats):
            begin = time.process_time()
            with _silence():
                found = daily_litres(self.balances, self.start, self.days, method, rtol)
            best = min(best, time.process_time() - begin)
        return self._note(f"{_whose(method)} {method}", rtol, best, found)

    def march(self, tolerance: float, repeats: int = 7) -> Timing:
        """Time the march; the median of the repeats."""
        from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX
        from welkinwell.simulation import march_year

        given: dict[str, Any] = {"tolerance": tolerance, "last_hour": 24 * self.days, "start": self.start}
        _, result = march_year(self.ready, keep="hours", **given)
        flows = result.flows.sum(axis=1)
        hourly = sum(flows[:, PASSIVE_BOX.flow_number(n)] for n in ("collected", "glazing_drained"))
        spent = [_seconds(lambda: march_year(self.ready, keep="year", **given)) for _ in range(repeats)]
        return self._note(
            "welkinwell", tolerance, float(np.median(spent)), hourly.reshape(-1, 24).sum(axis=1)
        )

    def _note(self, solver: str, tolerance: float, seconds: float, daily: Any) -> Timing:
        if not self.truth.size:
            self.truth = daily
        litres, true = float(np.sum(daily)), float(np.sum(self.truth))
        worst = float(np.max(np.abs(daily - self.truth)) / np.mean(self.truth))
        timing = Timing(
            solver, tolerance, seconds * 365 / self.days, litres, 100.0 * (litres / true - 1.0), 100.0 * worst
        )
        self.runs.append(timing)
        print(timing.line(), flush=True)
        return timing


def loosest(runs: list[Timing]) -> Timing:
    """Return the run at the loosest tolerance from which on every tighter one is close enough, too."""
    chosen = None
    for run in sorted(runs, key=lambda r: r.tolerance):
        if abs(run.difference) > CLOSE_ENOUGH:
            break
        chosen = run
    if chosen is None:
        raise RuntimeError(f"no run of {runs[0].solver} came within {CLOSE_ENOUGH} %")
    return chosen


def main() -> None:
    """Run everything, print the table, write the file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--days", type=int, default=365, help="days from 1 January; below 365 nothing is written"
    )
    days = parser.parse_args().days
    cold, warm = processes()
    bench = Bench(days)
    with _silence():  # each method hands its arrays over in its own way, so each compiles once
        for method in METHODS:
            daily_litres(bench.balances, bench.start, 1, method, 1e-3)
    print(HEAD)
    bench.library("Radau", 1e-8)
    bench.library("LSODA", 1e-9)
    ours = {tolerance: bench.march(tolerance) for tolerance in TOLERANCES_MARCH}
    best, bdf = library_runs(bench)
    chosen = bench.march(_normal())  # again, beside the solvers it is held against
    equal = loosest(list(ours.values()))
    batch, screening = (device_years_per_second(bench, t) for t in (_normal(), _loosest_offered()))
    report = {
        "machine": f"{os.cpu_count()}-core {platform.machine()} machine",
        "load_average": round(os.getloadavg()[0], 2),
        "versions": {name: metadata.version(name) for name in PACKAGES}
        | {"python": platform.python_version()},
        "case": f"default passive box, {SHEET}, {WEATHER}",
        "ratio_to_bdf": bdf.seconds / chosen.seconds,
        "ratio_to_quickest": best.seconds / chosen.seconds,
        "litres_difference_percent": chosen.difference,
        "worst_day_difference_percent_of_mean_day": chosen.worst_day,
        "device_years_per_second_batch": batch,
        "batch_designs": BATCH,
        "device_years_per_second_batch_loosest_offered": screening,
        "loosest_offered_tolerance": _loosest_offered(),
        "ratio_to_bdf_both_at_loosest": bdf.seconds / equal.seconds,
        "ratio_to_quickest_both_at_loosest": best.seconds / equal.seconds,
        "loosest_march_tolerance": equal.tolerance,
        "seconds_warm": chosen.seconds,
        "march_tolerance": chosen.tolerance,
        "seconds_compile": cold["total"] - warm["total"],
        "seconds_first_process": cold["total"],
        "seconds_second_process": warm["total"],
        "second_process": warm["stages"],
        "seconds_bdf": bdf.seconds,
        "bdf_rtol": bdf.tolerance,
        "bdf_litres_difference_percent": bdf.difference,
        "quickest_solver": best.solver,
        "quickest_rtol": best.tolerance,
        "seconds_quickest": best.seconds,
        "truth": "SciPy Radau, rtol 1e-8, the full year",
        "work_precision": [vars(run) for run in bench.runs],
    }
    show(report, ours)
    if days == 365:
        RESULTS.parent.mkdir(exist_ok=True)
        RESULTS.write_text(json.dumps(report, indent=1) + "\n")
        print(f"written: {RESULTS.relative_to(ROOT)}")


def library_runs(bench: Bench) -> tuple[Timing, Timing]:
    """Return the quickest run that is close enough among library solvers, and that of BDF."""
    close = {
        method: loosest([bench.library(method, rtol) for rtol in rtols]) for method, rtols in METHODS.items()
    }
    quickest = min(close, key=lambda method: close[method].seconds)
    best, bdf = (bench.library(method, close[method].tolerance, repeats=3) for method in (quickest, "BDF"))
    return best, bdf


def device_years_per_second(bench: Bench, tolerance: float) -> float:
    """Time a batch of random designs on one site, each prepared, marched and reduced to its litres."""
    from welkinwell.harvesters.layer_density import layer_problems
    from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX
    from welkinwell.simulation import march_year, prepare
    from welkinwell.studies.runner import run_all

    rng = np.random.default_rng(1)
    size = BATCH if bench.days == 365 else BATCH // 20
    drawn = (ordinary_box(rng) for _ in range(100 * size))
    designs = list(islice((box for box in drawn if not layer_problems(box, bench.sorbent)), size))
    collected = PASSIVE_BOX.flow_number("collected")

    def litres(design: Any) -> float:
        ready = prepare(design, bench.sorbent, bench.site)
        _, result = march_year(ready, tolerance=tolerance, keep="year")
        return float(result.flows.sum(axis=(0, 1))[collected])

    begin = time.perf_counter()
    found = run_all(litres, designs)
    spent = time.perf_counter() - begin
    assert np.all(np.isfinite(found))
    return size / spent


CHILD = """
import json, sys, time
begin = last = time.perf_counter()
stages = {}
def done(stage):
    global last
    now = time.perf_counter(); stages[stage] = round(now - last, 3); last = now
import numpy; done("import numpy")
import numba; done("import numba")
import pandas; done("import pandas")
import xarray; done("import xarray")
from welkinwell.climate import read_climate
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.simulation import simulate
from welkinwell.sorbents.sorbent import sorbent
done("import welkinwell")
climate = read_climate(sys.argv[1]); done("read the weather file")
material = sorbent(sys.argv[2]); done("read the data sheet")
site = surroundings(climate); done("sun and sky")
year = simulate(PassiveBox(), material, site); done("simulate, balance included")
print(json.dumps(stages))
"""


def processes() -> tuple[dict[str, Any], dict[str, Any]]:
    """Time a process from its start to its first year, without compiled code on disk and then with it."""
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {"NUMBA_CACHE_DIR": folder}
        cold = _process(environment)
        warm = min((_process(environment) for _ in range(3)), key=lambda run: run["total"])
    return cold, warm


def _process(environment: dict[str, str]) -> dict[str, Any]:
    command = [sys.executable, "-c", CHILD, str(_weather()), SHEET]
    begin = time.perf_counter()
    said = subprocess.run(command, env=environment, check=True, capture_output=True, text=True)
    return {"total": time.perf_counter() - begin, "stages": json.loads(said.stdout.splitlines()[-1])}


def show(report: dict[str, Any], ours: dict[float, Timing]) -> None:
    """Print what was found in words."""
    print()
    print(
        f"one device-year, warm          {report['seconds_warm']:.4f} s at {report['march_tolerance']:.0e},"
    )
    print(
        f"  litres                       {report['litres_difference_percent']:+.3f} % from {report['truth']},"
        f" worst day {report['worst_day_difference_percent_of_mean_day']:.2f} % of a mean day"
    )
    print(
        f"SciPy BDF                      {report['seconds_bdf']:.2f} s at {report['bdf_rtol']:.0e}"
        f" ({report['bdf_litres_difference_percent']:+.3f} %): {report['ratio_to_bdf']:.0f} times as long"
    )
    print(
        f"{report['quickest_solver']:<30} {report['seconds_quickest']:.2f} s at"
        f" {report['quickest_rtol']:.0e}: {report['ratio_to_quickest']:.0f} times as long"
    )
    print(
        f"batch of {report['batch_designs']} designs          {report['device_years_per_second_batch']:.0f}"
        f" device-years a second on {os.cpu_count()} cores"
        f" ({report['device_years_per_second_batch_loosest_offered']:.0f} at"
        f" {report['loosest_offered_tolerance']:.0e})"
    )
    print(
        f"both at their loosest          within {CLOSE_ENOUGH} % of the litres:"
        f" {report['ratio_to_bdf_both_at_loosest']:.0f} and {report['ratio_to_quickest_both_at_loosest']:.0f}"
        f" times as long (ours at {report['loosest_march_tolerance']:.0e})"
    )
    print(f"compiling                      {report['seconds_compile']:.1f} s, once for each version")
    print(f"second process to first year   {report['seconds_second_process']:.2f} s:")
    for stage, seconds in report["second_process"].items():
        print(f"  {stage:<28} {seconds:.2f}")
    tight = ours[min(ours)]
    print(f"the march at {tight.tolerance:.0e} is {tight.difference:+.5f} % from the truth")


def _normal() -> float:
    from welkinwell.simulation import TOLERANCES

    return TOLERANCES["normal"]


def _loosest_offered() -> float:
    from welkinwell.simulation import TOLERANCES

    return max(TOLERANCES.values())


def _whose(method: str) -> str:
    return "SUNDIALS" if method == "CVODE" else "SciPy"


def _weather() -> Path:
    return ROOT / "examples" / "weather" / WEATHER


def _seconds(work: Callable[[], Any]) -> float:
    """Return the processor's seconds: one core at work, whoever else uses the machine."""
    begin = time.process_time()
    work()
    return time.process_time() - begin


@contextmanager
def _silence() -> Iterator[None]:
    """Keep a solver's complaints, written past Python, off the table; it restarts after them."""
    sys.stderr.flush()
    kept = os.dup(2)
    with Path(os.devnull).open("w") as nowhere:
        os.dup2(nowhere.fileno(), 2)
        try:
            yield
        finally:
            os.dup2(kept, 2)
            os.close(kept)


if __name__ == "__main__":
    main()
