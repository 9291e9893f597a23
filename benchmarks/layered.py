"""The layered box by the march and by library solvers: `python -m benchmarks.layered` (about 10 minutes).

Prints the work-precision curve, the thickness and the cells, and writes benchmarks/results/layered.json.
The balances that the library solvers integrate are written apart from the march, in
tests/referees/layered_box_reference.py: for SciPy over NumPy arrays of cells, with states side by side for
its differences (`vectorized`), and compiled for LSODA and CVODE. All start in the same state, run the same
days and restart at changes of mode only. Seconds are those of the processor. `--days 3` tries things and
writes nothing. `--sheets` runs both depths of every sheet with pores and nothing else (10 minutes of the
processor), writes `by_sheet` into the same file, bed by bed, so that a run that was cut off goes on where it
was (take `by_sheet` out to begin anew), and prints the ranges of `harvesters/layer_depth.py`.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import os
import platform
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib import metadata
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from benchmarks.march import PACKAGES, Timing, loosest

ROOT = Path(__file__).resolve().parents[1]
RESULTS = ROOT / "benchmarks" / "results" / "layered.json"
WEATHER = "coast_western_australia_2020.csv.gz"
SHEET = "silica_gel_regular_density"
DAYS = 20
LEAST_ERROR = 0.005  # percent; a smaller difference of the litres is luck
RTOLS_BDF = (3e-3, 2e-3, 1e-3, 5e-4, 3e-4, 1e-4)
RTOLS = (3e-3, 1e-3, 5e-4, 3e-4, 1e-4, 1e-5)
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
        """Prepare the default box, its start and both texts of the reference."""
        from welkinwell.harvesters.passive_box.design import PassiveBox
        from welkinwell.harvesters.passive_box.layered_flows import CELLS
        from welkinwell.simulation import march_year, prepare
        from welkinwell.sorbents.sorbent import sorbent

        self.cells = CELLS
        self.ready = prepare(PassiveBox(depth="layered"), sorbent(SHEET), site_of("coast"))
        self.start, _ = march_year(self.ready, tolerance=1e-5, keep="year", last_hour=24 * self.days)
        self.reference, self.solvers = referee("layered_box_reference"), referee("passive_box_reference")
        case = (self.ready.design, self.ready.sorbent, self.ready.air, self.cells)
        self.arrays = self.reference.Balances(*case)
        self.compiled = self.reference.Balances(*case, compiled=True)
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

    def library(self, solver: str, advance: Callable[..., Any], balances: Any, rtol: float) -> Timing:
        """Time a library solver over the same days, restarted at changes of mode."""
        y = self.reference.start_of(self.start.y, self.start.A, self.cells)
        atol = rtol * self.reference.scales(self.cells)
        litres, begin = 0.0, time.process_time()
        for t0, t1, mode in self.solvers.stretches(self.ready.plan, 0.0, 86400.0 * self.days):
            y[-1] = 0.0
            y = np.array(advance(balances.slope[mode], t0, t1, y, rtol, atol, [])[0])
            litres += y[-1]
        return self.note(solver, rtol, time.process_time() - begin, litres)

    def note(self, solver: str, tolerance: float, seconds: float, litres: float) -> Timing:
        """Keep and print a run; the first one is the truth."""
        if not np.isfinite(self.truth):
            self.truth = litres
        off = 100.0 * (litres / self.truth - 1.0)
        timing = Timing(solver, tolerance, seconds * 365 / self.days, litres / self.days, off, float("nan"))
        self.runs.append(timing)
        print(f"{solver:<34} {tolerance:8.0e} {timing.seconds:10.3f} {off:+9.4f}", flush=True)
        return timing


def bdf_over_arrays(sparsity: Any = None) -> Callable[..., Any]:
    """SciPy's BDF, its Jacobian from states side by side, or from few where it knows the zeros."""

    def advance(f: Any, t0: float, t1: float, y: Any, rtol: float, atol: Any, _: Any) -> Any:
        from scipy.integrate import BDF

        solver = BDF(f, t0, y, t1, rtol=rtol, atol=atol, vectorized=True, jac_sparsity=sparsity)
        while solver.status == "running":
            solver.step()
        if solver.status == "failed":
            raise RuntimeError(f"BDF failed at {solver.t:.6g} s")
        return (solver.y,)

    return advance


def sparsity_of(bench: Bench) -> Any:
    """Which slopes depend on which unknowns: each is moved at a state of the first days, in both modes."""
    from scipy.sparse import csc_matrix

    y = bench.reference.start_of(bench.start.y, bench.start.A, bench.cells)
    y = y + 0.01 * bench.reference.scales(bench.cells)
    pattern = np.zeros((y.size, y.size))
    for mode in (0, 1):
        for t in (12.0 * 3600.0, 36.0 * 3600.0):
            at = bench.arrays.slope[mode](t, y)
            for i in range(y.size):
                moved = y.copy()
                moved[i] += 1e-3 * bench.reference.scales(bench.cells)[i]
                pattern[:, i] += bench.arrays.slope[mode](t, moved) != at
    return csc_matrix(pattern != 0.0)


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
    lsoda, cvode = (bench.solvers.advance_with(name) for name in ("odeint", "CVODE"))
    bench.library("SciPy LSODA, compiled", lsoda, bench.compiled, 1e-9)
    bench.library("SUNDIALS CVODE, compiled", cvode, bench.compiled, 1e-8)
    bench.march(1e-3, repeats=1)
    ours = {tolerance: bench.march(tolerance) for tolerance in TOLERANCES}
    best, compiled_runs = [], []
    for solver, advance in (("SciPy LSODA, compiled", lsoda), ("SUNDIALS CVODE, compiled", cvode)):
        tried = [bench.library(solver, advance, bench.compiled, rtol) for rtol in RTOLS]
        best.append(loosest(tried))
        compiled_runs += tried
    quickest = min(best, key=lambda run: run.seconds)
    bdf_runs = {}
    for name, advance in (("vectorised", bdf_over_arrays()), ("sparse", bdf_over_arrays(sparsity_of(bench)))):
        solver = f"SciPy BDF, NumPy, {name}"
        bdf_runs[name] = [bench.library(solver, advance, bench.arrays, rtol) for rtol in RTOLS_BDF]
    bdf = [loosest(tried) for tried in bdf_runs.values()]
    chosen, equal = bench.march(3e-3), loosest(list(ours.values()))
    report = {
        "machine": f"{os.cpu_count()}-core {platform.machine()} machine",
        "load_average": round(os.getloadavg()[0], 2),
        "versions": {name: metadata.version(name) for name in PACKAGES}
        | {"python": platform.python_version()},
        "case": f"default passive box, depth layered, {bench.cells} cells, {SHEET}, {WEATHER}",
        "days": days,
        "truth": "SciPy LSODA, compiled, rtol 1e-9, the same days",
        "seconds_a_year": chosen.seconds,
        "march_tolerance": chosen.tolerance,
        "litres_difference_percent": chosen.difference,
        "loosest_march_tolerance": equal.tolerance,
        "loosest_litres_difference_percent": equal.difference,
        "ratio_to_bdf_vectorised_at_equal_error": at_equal_error(bdf_runs["vectorised"], chosen),
        "ratio_to_compiled_at_equal_error": at_equal_error(compiled_runs, chosen),
        "ratio_to_bdf_vectorised": bdf[0].seconds / chosen.seconds,
        "ratio_to_bdf_vectorised_both_at_loosest": bdf[0].seconds / equal.seconds,
        "bdf_rtol": bdf[0].tolerance,
        "ratio_to_bdf_sparse": bdf[1].seconds / chosen.seconds,
        "compiled_solver": quickest.solver,
        "compiled_rtol": quickest.tolerance,
        "ratio_to_compiled": quickest.seconds / chosen.seconds,
        "ratio_to_compiled_both_at_loosest": quickest.seconds / equal.seconds,
        "work_precision": [
            {name: value for name, value in vars(run).items() if name != "worst_day"} for run in bench.runs
        ],
    }
    print()
    for name in ("seconds_a_year", "ratio_to_bdf_vectorised", "ratio_to_bdf_sparse", "ratio_to_compiled"):
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


def referee(name: str) -> ModuleType:
    """Load one of the texts of tests/referees."""
    place = ROOT / "tests" / "referees" / f"{name}.py"
    found = importlib.util.spec_from_file_location(name, place)
    assert found is not None and found.loader is not None
    module = importlib.util.module_from_spec(found)
    sys.modules[name] = module
    found.loader.exec_module(module)
    return module


def _seconds(work: Callable[[], Any]) -> float:
    begin = time.process_time()
    work()
    return time.process_time() - begin


if __name__ == "__main__":
    main()
