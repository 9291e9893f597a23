"""Slopes of the year's litres against slopes extrapolated at a tight tolerance: ten parameters, twenty cases.

    python -m benchmarks.gradients            # prints, and writes benchmarks/results/gradients.json
    python -m benchmarks.gradients --quick    # two cases, three parameters each; writes nothing
    python -m benchmarks.gradients --from 14  # goes on at a case, those before it kept from the written file

Both sides use the same march; what is tested is the size of the step and the tolerance that
`studies.gradient` takes, with switches by clock, sun and state. The other slope comes from central
differences over four, two and one steps at a tenth of its tolerance, extrapolated (Richardson1911).
"""

from __future__ import annotations

import json
import math
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import numpy as np

from welkinwell.climate import read_climate
from welkinwell.harvesters.air import Surroundings, surroundings
from welkinwell.harvesters.kinds import KINDS
from welkinwell.simulation import Prepared, prepare
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.gradient import (
    NEGLIGIBLE,
    TOLERANCE,
    Parameter,
    Slope,
    gradient,
    of_uncertain,
    of_variables,
)
from welkinwell.studies.uncertain_parameters import uncertain_parameters_of
from welkinwell.studies.variables import field, variables_of

RESULTS: Final = Path(__file__).parent / "results" / "gradients.json"
WEATHER: Final = Path(__file__).parents[1] / "examples" / "weather"
SEED: Final = 5
PARAMETERS: Final = 10
TIGHT: Final = 0.1 * TOLERANCE
WIDER: Final = (4.0, 2.0, 1.0)  # steps of the extrapolation, in steps of the slope that is tested
SETTLED: Final = 1e-2  # by which the last two extrapolations may differ
AIMS: Final = {"median": 1e-3, "worst": 1e-2}

SILICA, GEL, ZEOLITE = "silica_gel_regular_density", "polyacrylate", "zeolite_13x"
# kind, place, sorbent, fields, fields of the schedule that move as well: (name, low, high)
CASES: Final[tuple[tuple[str, str, str, dict[str, Any], tuple[tuple[str, float, float], ...]], ...]] = (
    ("passive_box", "coast", SILICA, {}, (("close_above", 10.0, 300.0),)),
    ("passive_box", "desert", SILICA, {}, (("close_above", 10.0, 300.0),)),
    ("passive_box", "tropics", SILICA, {"operation": "clock"}, (("open_at", 54000.0, 75600.0),)),
    ("passive_box", "highland", SILICA, {"operation": "pressure"}, (("pressure_ratio", 0.5, 1.0),)),
    ("passive_box", "desert", SILICA, {"operation": "pressure"}, (("pressure_ratio", 0.5, 1.0),)),
    ("passive_box", "coast", "silica_gel_type_a", {"sorbent_mass": 10.0}, ()),
    ("passive_box", "highland", "mof_801", {}, ()),
    ("passive_box", "tropics", "mof_801", {"release_face": "both", "front_gap_sealed": False}, ()),
    ("passive_box", "desert", "mof_303", {"bed_effectiveness": 0.5}, (("close_above", 10.0, 300.0),)),
    ("passive_box", "coast", ZEOLITE, {}, ()),
    ("passive_box", "tropics", GEL, {}, ()),
    ("passive_box", "highland", "uio_66", {"operation": "clock"}, (("close_at", 18000.0, 36000.0),)),
    ("dew_condenser", "coast", "", {}, (("close_above", 5.0, 100.0),)),
    ("dew_condenser", "highland", "", {"operation": "clock"}, (("open_at", 54000.0, 79200.0),)),
    ("cooling_coil", "tropics", "", {}, (("run_above_dew_point", 275.0, 290.0),)),
    ("cooling_coil", "coast", "", {}, (("run_above_dew_point", 275.0, 290.0),)),
    ("active_bed", "desert", SILICA, {}, (("uptake_length", 1800.0, 7200.0),)),
    ("active_bed", "coast", SILICA, {"operation": "clock"}, (("open_at", 54000.0, 79200.0),)),
    ("liquid_desiccant", "tropics", "licl_brine", {}, ()),
    ("hybrid", "highland", SILICA, {}, (("close_above", 10.0, 300.0),)),
)  # fmt: skip


def place(name: str) -> Surroundings:
    """Weather of one of the example places."""
    return surroundings(read_climate(next(WEATHER.glob(f"{name}*.gz"))))


def case_of(number: int) -> tuple[str, Prepared, list[Parameter]]:
    """Give one case: its name, the harvester, and all parameters that may be drawn, the schedule's first."""
    kind, where, material, fields, moving = CASES[number]
    site = place(where)
    design = KINDS[kind].load()(**fields)
    stuff = sorbent(material) if material else None
    base = prepare(design, stuff, site)
    extra = [field(design, *entry) for entry in moving]
    found = of_variables(design, stuff, site, [*extra, *variables_of(design)])
    found += of_uncertain(base, uncertain_parameters_of(base.design, base.sorbent))
    words = " ".join(f"{key}={value}" for key, value in fields.items())
    return f"{kind} {where} {material} {words}".strip(), base, found


def chosen(parameters: list[Parameter], scheduled: int, count: int, seed: int) -> list[Parameter]:
    """Draw parameters, those of the schedule always among them."""
    rng = np.random.default_rng(seed)
    rest = rng.permutation(len(parameters) - scheduled)[: count - scheduled] + scheduled
    return [*parameters[:scheduled], *(parameters[i] for i in sorted(rest))]


def extrapolated(base: Prepared, parameters: list[Parameter]) -> list[list[Slope]]:
    """Slopes over each of the wider steps, for every parameter."""
    table = []
    for wider in WIDER:
        moved = [Parameter(p.key, p.name, p.unit, wider * p.step, p.moved) for p in parameters]
        table.append(gradient(base, moved, tolerance=TIGHT, weak=0.0))
    return [list(steps) for steps in zip(*table, strict=True)]


def judged(slope: Slope, steps: list[Slope]) -> dict[str, Any]:
    """Hold one slope against the extrapolated one, over the days whose schedule flips in none of them."""
    said: dict[str, Any] = {"parameter": slope.parameter.key, "slope": slope.value, "said": slope.in_words()}
    if slope.failed or any(one.failed for one in steps):
        return {**said, "left_out": "could not be simulated"}
    steady = ~np.any([one.flips for one in (slope, *steps)], axis=0)
    far, middle, near = (float(one.by_day[steady].sum()) for one in steps)
    first, second = (4.0 * middle - far) / 3.0, (4.0 * near - middle) / 3.0
    true, value = (16.0 * second - first) / 15.0, float(slope.by_day[steady].sum())
    said |= {"days_left_out": int((~steady).sum()), "extrapolated": true, "value": value}
    if abs(true) < NEGLIGIBLE * slope.litres:
        return {**said, "left_out": "as good as no slope"}
    if abs(second - first) > SETTLED * abs(true):
        return {**said, "left_out": "the extrapolation does not settle"}
    error = abs(value - true)
    return {**said, "error": error / abs(true)}


def one_case(number: int, count: int = PARAMETERS) -> dict[str, Any]:
    """Slopes of one case beside the extrapolated ones."""
    name, base, parameters = case_of(number)
    drawn = chosen(parameters, len(CASES[number][4]), count, SEED + number)
    began = time.process_time()
    slopes = gradient(base, drawn)
    spent = time.process_time() - began
    entries = [judged(s, t) for s, t in zip(slopes, extrapolated(base, drawn), strict=True)]
    return {"case": name, "litres": slopes[0].litres, "processor_seconds": spent, "parameters": entries}


def summary(cases: list[dict[str, Any]]) -> dict[str, Any]:
    """Median and worst errors over all cases, and how many slopes could not be judged."""
    entries = [entry for case in cases for entry in case["parameters"]]
    errors = np.array([entry["error"] for entry in entries if "error" in entry])
    reasons = [entry["left_out"] for entry in entries if "error" not in entry]
    return {
        "slopes": len(entries),
        "judged": int(errors.size),
        "median_error": float(np.median(errors)),
        "share_within_1e-3": float((errors <= AIMS["median"]).mean()),
        "worst_error": float(errors.max()),
        "share_within_1e-2": float((errors <= AIMS["worst"]).mean()),
        "said_to_flip_or_bend": sum(bool(entry["said"]) for entry in entries),
        "not_judged": {reason: reasons.count(reason) for reason in sorted(set(reasons))},
        "processor_seconds": math.fsum(case["processor_seconds"] for case in cases),
    }


def main(arguments: list[str]) -> None:
    """Print every case and the summary; write them unless asked to be quick."""
    quick = "--quick" in arguments
    first = int(arguments[arguments.index("--from") + 1]) if "--from" in arguments else 0
    cases = json.loads(RESULTS.read_text())["cases"][:first] if first else []
    for number in (0, 12) if quick else range(first, len(CASES)):
        cases.append(one_case(number, 3 if quick else PARAMETERS))
        print(json.dumps(cases[-1], indent=1), flush=True)
        found = {"date": f"{datetime.now(UTC):%Y-%m-%d}", "aims": AIMS, **summary(cases), "cases": cases}
        if not quick:  # written after every case, so that a run that was stopped goes on
            RESULTS.write_text(json.dumps(found, indent=1) + "\n")
    print(json.dumps({key: value for key, value in found.items() if key != "cases"}, indent=1))


if __name__ == "__main__":
    main(sys.argv[1:])
