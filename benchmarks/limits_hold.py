"""Bounds and ladders against weather and simulation: four places, 1,000 random designs.

    python -m benchmarks.limits_hold                   # prints, and writes results/limits_hold.json
    python -m benchmarks.limits_hold --quick           # a design of each kind at each place; writes nothing
    python -m benchmarks.limits_hold dew_condenser     # one kind, or "reversible"; the others are kept

Each design runs through a whole year against the bounds that bind its kind, and through four days of it with
every set of its losses switched off, for a ladder with shares. It goes on where it was stopped;
docs/validation/limits.md explains the figures.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import numpy as np

from benchmarks.random_designs import random_device
from welkinwell.climate import read_climate
from welkinwell.errors import SolverError
from welkinwell.harvesters.air import Surroundings, surroundings
from welkinwell.harvesters.kinds import KINDS
from welkinwell.limits import solar_bounds as solar
from welkinwell.limits.day_bounds import DayBounds, days_of
from welkinwell.limits.least_work import least_work, least_work_at_recovery
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulation import simulate, simulate_prepared
from welkinwell.studies.bounds import limits_of_harvester
from welkinwell.studies.losses import loss_ladder
from welkinwell.studies.runner import run_all

RESULTS: Final = Path(__file__).parent / "results" / "limits_hold.json"
WEATHER: Final = Path(__file__).parents[1] / "examples" / "weather"
PLACES: Final = ("coast", "desert", "highland", "tropics")
SEED: Final = 20
# 1,000 in all, spread over the places; fewer of the kinds whose years take seconds
DESIGNS: Final = {
    "passive_box": 400, "two_stage_box": 100, "active_bed": 12, "desiccant_wheel": 12,
    "liquid_desiccant": 60, "hybrid": 60, "cooling_coil": 178, "dew_condenser": 178,
}  # fmt: skip
DAYS: Final = 4  # of a ladder, after as many as bring the device into its routine


def place(name: str) -> Surroundings:
    """Weather of one of the four example places."""
    return surroundings(read_climate(next(WEATHER.glob(f"{name}*.gz"))))


def reversible_at(site: Surroundings) -> dict[str, float]:
    """Litres per m2 and day of the exergy of sunlight alone, for several readings of the least work."""
    days = days_of(site.climate, DayBounds())
    sun = days["sun_on_plane"].values
    climate = site.climate
    T = climate["temperature"].values.reshape(-1, 24).mean(axis=1)
    p = climate["vapour_pressure"].values.reshape(-1, 24).mean(axis=1)
    pressure = climate["pressure"].values.reshape(-1, 24).mean(axis=1)
    saturation = saturation_pressure(T)
    mean_first = least_work(T, np.minimum(p / saturation, 0.999))
    mean_half = least_work_at_recovery(T, np.minimum(p, 0.999 * saturation), saturation, pressure, 0.5)
    best_half = days["least_work_at_recovery"].values
    litres = {
        "mean air, first drop": solar.reversible_solar_water(sun, T, mean_first),
        "mean air, half recovered": solar.reversible_solar_water(sun, T, mean_half),
        "best hour, half recovered": solar.reversible_solar_water(sun, T, best_half),
    }
    found = {"sun, kWh/m2 a day": float(sun.mean()) / 3.6e6}
    for name, values in litres.items():
        found[f"{name}: median"] = float(np.median(values))
        found[f"{name}: share of days above 100 L/m2"] = float((values > 100.0).mean())
    return found


def held(kind: str, where: str, number: int) -> dict[str, Any]:
    """One random design: its litres over each bound that binds it, and its ladder through four days.

    Without litres where its year could not be simulated, without a ladder where its days could not.
    """
    rng = np.random.default_rng([SEED, list(KINDS).index(kind), PLACES.index(where), number])
    site = _place(where)
    refused: list[str] = []
    ready = random_device(kind, site, rng, refused)
    found: dict[str, Any] = {"sorbent": ready.sorbent.key if ready.sorbent else None, "refused": refused}
    try:
        year = simulate_prepared(ready, site, accuracy="fast", audit=False)
    except SolverError as error:
        return {**found, "stopped": str(error)}
    limits = limits_of_harvester(ready.design, ready.sorbent, year, site.climate)
    binding = [b for b in limits.bounds if kind in b.binds and math.isfinite(b.value)]
    found["litres"] = limits.collected
    found["shares"] = {b.key: limits.collected / b.value for b in binding if b.value > 0.0}
    found["impossible"] = [b.key for b in binding if limits.collected > b.value]
    first = 24 * int(rng.integers(365 - DAYS))
    days = surroundings(site.climate.isel(time=slice(first, first + 24 * DAYS)))
    try:
        ladder = loss_ladder(ready.design, ready.sorbent, days)
    except SolverError as error:
        return {**found, "ladder_stopped": str(error)}
    lost = ladder.ideal - ladder.collected
    size = max(abs(ladder.ideal), abs(ladder.collected), 1e-3)
    negative = [s for s in ladder.steps if min(s.in_sequence, s.shapley) < 0.0]
    alone = simulate(ready.design, ready.sorbent, days, keep="year", accuracy="screening", audit=False)
    litres = float(alone["water_collected"].values.sum()) / DAYS
    return {
        **found,
        "ideal": ladder.ideal,
        "left_out": [f"{name}: {reason}" for name, reason in ladder.left_out],
        "sequence_misses": abs(sum(s.in_sequence for s in ladder.steps) - lost) / size,
        "shares_miss": abs(sum(s.shapley for s in ladder.steps) - lost) / size,
        "alone_misses": abs(ladder.collected - litres) / size,
        "negative": len(negative),
        "without_reason": sum(not s.reason for s in negative),
    }


def of_kind(kind: str, count: int) -> dict[str, Any]:
    """All random designs of a kind, at the places in turn, and the largest of what was found."""
    tasks = [(kind, PLACES[i % len(PLACES)], i // len(PLACES)) for i in range(count)]
    told = _told(kind)
    designs = run_all(lambda task: held(*task), tasks, progress=told)
    ran = [d for d in designs if "litres" in d]
    laddered = [d for d in ran if "ideal" in d]
    keys = sorted({key for d in ran for key in d["shares"]})
    return {
        "date": f"{datetime.now(UTC):%Y-%m-%d}",
        "designs": count,
        "ran": len(ran),
        "stopped": [d["stopped"] for d in designs if "stopped" in d],
        "cannot be built, drawn again": [words for d in designs for words in d["refused"]],
        "most litres, L/m2 a day": max(d["litres"] for d in ran),
        "above a bound": sum(bool(d["impossible"]) for d in ran),
        "largest share of a bound": {k: max(d["shares"][k] for d in ran if k in d["shares"]) for k in keys},
        "median share of the tightest": float(np.median([max(d["shares"].values()) for d in ran])),
        "ladders": len(laddered),
        "ladders that stopped": [d["ladder_stopped"] for d in ran if "ladder_stopped" in d],
        "ladders without one of the losses": sum(bool(d["left_out"]) for d in laddered),
        "left out": [one for d in laddered for one in d["left_out"]],
        "largest miss of a ladder": _largest(laddered, "sequence_misses"),
        "largest miss of the shares": _largest(laddered, "shares_miss"),
        "largest miss of the design in its ladder": _largest(laddered, "alone_misses"),
        "negative losses": sum(d["negative"] for d in laddered),
        "negative losses without a reason": sum(d["without_reason"] for d in laddered),
    }


def _largest(designs: Sequence[dict[str, Any]], key: str) -> float:
    return max(d[key] for d in designs)


_PLACES: dict[str, Surroundings] = {}


def _place(name: str) -> Surroundings:
    if name not in _PLACES:
        _PLACES[name] = place(name)
    return _PLACES[name]


def _told(kind: str) -> Any:
    def tell(share: float) -> None:
        print(f"\r{kind} {100.0 * share:3.0f} %", end="", file=sys.stderr, flush=True)

    return tell


def main(arguments: list[str]) -> None:
    """Do what is named, all without a name, and write each part when it is done unless asked to be quick."""
    quick = "--quick" in arguments
    names = [a for a in arguments if a != "--quick"]
    known = ["reversible", *KINDS]
    if unknown := [name for name in names if name not in known]:
        raise SystemExit(f"{', '.join(unknown)}: expected {', '.join(known)}")
    kept: dict[str, Any] = json.loads(RESULTS.read_text()) if RESULTS.is_file() else {}
    found = {name: part for name, part in kept.items() if name in known}
    for name in names or known:
        if name == "reversible":
            part: Any = {where: reversible_at(_place(where)) for where in PLACES}
        else:
            part = of_kind(name, len(PLACES) if quick else DESIGNS[name])
        print(f"\r{name}", json.dumps(part, indent=1), flush=True)
        found[name] = part
        if not quick:
            RESULTS.write_text(json.dumps(found, indent=2) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
