"""The layered box by the march and by library solvers: `python -m benchmarks.layered` (about 10 minutes).

Prints the work-precision curve, the thickness and the cells, and writes benchmarks/results/layered.json.
The library solvers integrate the same compiled flows as the march (benchmarks/library_solvers.py). All start
in the same state, run the same days and restart at changes of mode only. Seconds are those of the processor.
`--days 3` tries things and writes nothing. `--sheets` runs both depths of every sheet with pores and nothing
else (10 minutes of the processor), writes `by_sheet` into the same file, bed by bed, so that a run that was
cut off goes on where it was (take `by_sheet` out to begin anew), and prints the ranges of
`harvesters/layer_depth.py`.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib import metadata
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.library_solvers import CompiledBalances, daily_litres
from benchmarks.march import PACKAGES, Timing, loosest

ROOT = Path(__file__).resolve().parents[1]
RESULTS = ROOT / "benchmarks" / "results" / "layered.json"
WEATHER = "coast_western_australia_2020.csv.gz"
SHEET = "silica_gel_regular_density"
DAYS = 20
LEAST_ERROR = 0.005  # percent; a smaller difference of the litres is luck
RTOLS = (3e-3, 1e-3, 5e-4, 3e-4, 1e-4, 1e-5)
METHODS = ("LSODA", "CVODE", "BDF")
TOLERANCES = (3e-2, 1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 1e-5)
THICKNESSES = (0.25e-3, 0.5e-3, 1e-3, 3e-3, 6e-3, 10e-3, 20e-3)
NUMBERS = (8, 12, 16, 24)
DEPTHS_OF_SHEETS = (1e-3, 3e-3, 6e-3, 10e-3, 20e-3, 40e-3)
PLACES = ("coast", "desert")
SHARES = (0.125, 0.4, 1.0, 2.0, 8.0, 1000.0)  # of the time for uptake, ends of the ranges
LEAST_LITRES = 0.05  # L/m2 a day, below which a ratio of litres means nothing
BEDS = (
    (SHEET, 3e-3, "coast"),
    (SHEET, 10e-3, "coast"),
    ("mof_303", 3e-3, "desert"),
    ("mof_303", 10e-3, "desert"),
    ("aluminium_fumarate", 5e-3, "coast"),
)


@dataclass
class Bench:
    """One case on some days, and every run of it."""

    days: int

    def __post_init__(self) -> None:
        """Prepare the default box, its start and its balances for library solvers."""
        from welkinwell.harvesters.passive_box.design import PassiveBox
        from welkinwell.harvesters.passive_box.layered_flows import CELLS
        from welkinwell.simulation import march_year, prepare
        from welkinwell.sorbents.sorbent import sorbent

        self.cells = CELLS
        self.ready = prepare(PassiveBox(depth="layered"), sorbent(SHEET), site_of("coast"))
        self.start, _ = march_year(self.ready, tolerance=1e-5, keep="year", last_hour=24 * self.days)
        self.balances = CompiledBalances(self.ready)
        self.truth = float("nan")
        self.runs: list[Timing] = []

    def march(self, tolerance: float, repeats: int = 5) -> Timing:
        """Time the march; the median of some runs."""
        from welkinwell.simulation import march_year

        given = {"tolerance": tolerance, "keep": "year", "last_hour": 24 * self.days, "start": self.start}
        _, result = march_year(self.ready, **given)
        spent = [_seconds(lambda: march_year(self.ready, **given)) for _ in range(repeats)]
        litres = result.flows.sum(axis=(0, 1))[self.ready.harvester.kind.flow_number("collected")]
        return self.note("welkinwell", tolerance, float(np.median(spent)), float(litres))

    def library(self, method: str, rtol: float) -> Timing:
        """Time a library solver over the same days, restarted at changes of mode."""
        begin = time.process_time()
        litres = daily_litres(self.balances, self.start, self.days, method, rtol).sum()
        return self.note(method, rtol, time.process_time() - begin, float(litres))

    def note(self, solver: str, tolerance: float, seconds: float, litres: float) -> Timing:
        """Keep and print a run; the first one is the truth."""
        if not np.isfinite(self.truth):
            self.truth = litres
        off = 100.0 * (litres / self.truth - 1.0)
        timing = Timing(solver, tolerance, seconds * 365 / self.days, litres / self.days, off, float("nan"))
        self.runs.append(timing)
        print(f"{solver:<34} {tolerance:8.0e} {timing.seconds:10.3f} {off:+9.4f}", flush=True)
        return timing


def by_thickness() -> list[dict[str, float]]:
    """Litres of both depths with the layer's thickness alone changed, the density kept [L/m2 a day]."""
    from welkinwell.harvesters.passive_box.design import PassiveBox
    from welkinwell.simulation import march_year, prepare
    from welkinwell.sorbents.sorbent import sorbent

    found = []
    for thickness in THICKNESSES:
        one = {"thickness_mm": thickness * 1e3}
        for depth in ("lumped", "layered"):
            design = PassiveBox(depth=depth, layer_thickness=thickness, sorbent_mass=8.0 * thickness / 3e-3)
            ready = prepare(design, sorbent(SHEET), site_of("coast"))
            _, result = march_year(ready, tolerance=1e-3, keep="year")
            collected = ready.harvester.kind.flow_number("collected")
            one[depth] = float(result.flows.sum(axis=(0, 1))[collected]) / 365.0
        print(f"{one['thickness_mm']:6.2f} mm   lumped {one['lumped']:.3f}   layered {one['layered']:.3f}")
        found.append(one)
    return found


def by_cells() -> list[dict[str, Any]]:
    """Litres by the number of cells [L/m2 a day]; each number is compiled once."""
    from welkinwell.harvesters.passive_box.design import PassiveBox
    from welkinwell.harvesters.passive_box.layered_harvester import layered_harvester
    from welkinwell.simulation import march_year, prepare
    from welkinwell.sorbents.sorbent import sorbent

    found = []
    for cells in NUMBERS:
        harvester = layered_harvester(cells)
        litres = []
        for key, thickness, place in BEDS:
            material = sorbent(key)
            mass = material.bulk_density * thickness * 4.0
            design = PassiveBox(depth="layered", layer_thickness=thickness, sorbent_mass=mass)
            ready = prepare(design, material, site_of(place))
            numbers = harvester.numbers(ready.design, ready.sorbent, ready.air.pressure)
            ready = replace(ready, harvester=harvester, numbers=numbers)
            _, result = march_year(ready, tolerance=1e-3, keep="year")
            litres.append(
                float(result.flows.sum(axis=(0, 1))[harvester.kind.flow_number("collected")]) / 365.0
            )
        print(f"{cells:4d} cells   " + "   ".join(f"{value:.4f}" for value in litres), flush=True)
        found.append({"cells": cells, "litres_per_m2_day": litres})
    return found


def by_sheet() -> list[dict[str, Any]]:
    """Litres of both depths of every sheet with pores at its bulk density [L/m2 a day]."""
    from welkinwell.harvesters.layer_depth import filling_time, has_layered_depth, uptake_time
    from welkinwell.harvesters.passive_box.design import PassiveBox
    from welkinwell.simulation import march_year, prepare
    from welkinwell.sorbents.sorbent import sheet_names, sorbent

    kept = json.loads(RESULTS.read_text())
    found: list[dict[str, Any]] = kept.setdefault("by_sheet", [])
    known = {(one["place"], one["sheet"], one["thickness_mm"]) for one in found}
    for place in PLACES:
        site = site_of(place)
        for key in sheet_names():
            material = sorbent(key)
            if not has_layered_depth(PassiveBox(), material):
                continue
            for thickness in DEPTHS_OF_SHEETS:
                mass = material.bulk_density * thickness * 4.0
                one: dict[str, Any] = {"place": place, "sheet": key, "thickness_mm": 1e3 * thickness}
                if tuple(one.values()) in known:
                    continue
                for depth in ("lumped", "layered"):
                    design = PassiveBox(depth=depth, layer_thickness=thickness, sorbent_mass=mass)
                    ready = prepare(design, material, site)
                    _, result = march_year(ready, tolerance=3e-3, keep="year")
                    collected = ready.harvester.kind.flow_number("collected")
                    one[depth] = float(result.flows.sum(axis=(0, 1))[collected]) / 365.0
                time_to_fill = filling_time(design, material)
                assert time_to_fill is not None
                one["time_to_fill_over_uptake"] = time_to_fill / uptake_time(design)
                found.append(one)
                RESULTS.write_text(json.dumps(kept, indent=1) + "\n")
                print(" ".join(f"{x:.4g}" if isinstance(x, float) else x for x in one.values()), flush=True)
    return found


def ranges(rows: list[dict[str, Any]]) -> list[dict[str, float]]:
    """How far the layered litres lie from the lumped ones, by time to fill over time for uptake."""
    found, low = [], 0.0
    for high in SHARES:
        own = [
            one["layered"] / one["lumped"] - 1.0
            for one in rows
            if low < one["time_to_fill_over_uptake"] <= high and one["lumped"] > LEAST_LITRES
        ]
        least, middle, most = (float(np.quantile(own, share)) for share in (0.0, 0.5, 1.0))
        found.append({"up_to": high, "beds": len(own), "least": least, "median": middle, "most": most})
        print(f"up to {high:7.3f}: {len(own):3d} beds {least:+.3f} {middle:+.3f} {most:+.3f}")
        low = high
    return found


def main() -> None:
    """Run everything, print the tables, write the file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sheets", action="store_true", help="both depths of every sheet, and nothing else")
    parser.add_argument(
        "--days", type=int, default=DAYS, help="days from 1 January; other than 20 writes nothing"
    )
    given = parser.parse_args()
    if given.sheets:
        rows = by_sheet()
        kept = json.loads(RESULTS.read_text()) | {"ranges": ranges(rows)}
        RESULTS.write_text(json.dumps(kept, indent=1) + "\n")
        return
    days = given.days
    begin = time.process_time()
    bench = Bench(days)
    first = time.process_time() - begin
    print(f"first {days} days with what had to be compiled: {first:.1f} s")
    print(f"{'solver':<34} {'tol':>8} {'s a year':>10} {'off, %':>9}")
    for method in METHODS:  # each hands its arrays over in its own way, so each compiles once
        daily_litres(bench.balances, bench.start, 1, method, 1e-3)
    bench.library("LSODA", 1e-9)
    bench.library("CVODE", 1e-8)
    bench.march(1e-3, repeats=1)
    ours = {tolerance: bench.march(tolerance) for tolerance in TOLERANCES}
    runs = {method: [bench.library(method, rtol) for rtol in RTOLS] for method in METHODS}
    close = {method: loosest(tried) for method, tried in runs.items()}
    quickest, bdf = min(close.values(), key=lambda run: run.seconds), close["BDF"]
    chosen, equal = bench.march(3e-3), loosest(list(ours.values()))
    report = {
        "machine": f"{os.cpu_count()}-core {platform.machine()} machine",
        "load_average": round(os.getloadavg()[0], 2),
        "versions": {name: metadata.version(name) for name in PACKAGES}
        | {"python": platform.python_version()},
        "case": f"default passive box, depth layered, {bench.cells} cells, {SHEET}, {WEATHER}",
        "days": days,
        "truth": "SciPy LSODA, rtol 1e-9, the same days",
        "seconds_a_year": chosen.seconds,
        "march_tolerance": chosen.tolerance,
        "litres_difference_percent": chosen.difference,
        "loosest_march_tolerance": equal.tolerance,
        "loosest_litres_difference_percent": equal.difference,
        "ratio_to_bdf_at_equal_error": at_equal_error(runs["BDF"], chosen),
        "ratio_to_quickest_at_equal_error": at_equal_error(
            [run for tried in runs.values() for run in tried], chosen
        ),
        "ratio_to_bdf": bdf.seconds / chosen.seconds,
        "ratio_to_bdf_both_at_loosest": bdf.seconds / equal.seconds,
        "bdf_rtol": bdf.tolerance,
        "quickest_solver": quickest.solver,
        "quickest_rtol": quickest.tolerance,
        "ratio_to_quickest": quickest.seconds / chosen.seconds,
        "ratio_to_quickest_both_at_loosest": quickest.seconds / equal.seconds,
        "work_precision": [
            {name: value for name, value in vars(run).items() if name != "worst_day"} for run in bench.runs
        ],
    }
    print()
    for name in ("seconds_a_year", "ratio_to_bdf", "ratio_to_quickest"):
        print(f"{name:<34} {report[name]:.2f}")
    for name, value in report.items():
        if "equal_error" in name or "loosest" in name:
            print(f"{name:<40} {value}")
    if days != DAYS:
        return
    report["by_thickness"] = by_thickness()
    report["by_cells"] = by_cells()
    report |= {key: json.loads(RESULTS.read_text())[key] for key in ("by_sheet", "ranges")}
    RESULTS.write_text(json.dumps(report, indent=1) + "\n")
    print(f"written: {RESULTS.relative_to(ROOT)}")


def at_equal_error(tried: list[Timing], ours: Timing) -> float | None:
    """Seconds of the quickest run that is off by no more than ours, over our seconds; None without one."""
    close = [run.seconds for run in tried if abs(run.difference) <= max(abs(ours.difference), LEAST_ERROR)]
    return min(close) / ours.seconds if close else None


def site_of(place: str) -> Any:
    """Give the surroundings at one of the places of examples/weather."""
    from welkinwell.climate import read_climate
    from welkinwell.harvesters.air import surroundings

    return surroundings(read_climate(next((ROOT / "examples" / "weather").glob(f"{place}*.gz"))))


def _seconds(work: Callable[[], Any]) -> float:
    begin = time.process_time()
    work()
    return time.process_time() - begin


if __name__ == "__main__":
    main()
