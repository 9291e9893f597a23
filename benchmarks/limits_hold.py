"""Bounds against weather and simulation: reversible limit of four places, 1,000 random boxes.

    python -m benchmarks.limits_hold            # prints, and writes benchmarks/results/limits_hold.json
    python -m benchmarks.limits_hold --quick    # 40 boxes; writes nothing

docs/validation/limits.md explains the figures.
"""

from __future__ import annotations

import json
import math
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from welkinwell.climate import read_climate
from welkinwell.declare import check, declared_fields
from welkinwell.errors import InputError, SolverError
from welkinwell.harvesters.air import Surroundings, surroundings
from welkinwell.harvesters.passive_box import PassiveBox
from welkinwell.limits import solar_bounds as solar
from welkinwell.limits.day_bounds import DayBounds, days_of
from welkinwell.limits.least_work import least_work, least_work_at_recovery
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulate import simulate
from welkinwell.sorbents.sorbent import sheet_names, sorbent
from welkinwell.studies.bounds import limits_of_harvester

RESULTS: Final = Path(__file__).parent / "results" / "limits_hold.json"
WEATHER: Final = Path(__file__).parents[1] / "examples" / "weather"
PLACES: Final = ("coast", "desert", "highland", "tropics")
SEED: Final = 20
BOXES: Final = 1000
# Spans of the draws: sizes that somebody might build, some of them foolish
SPANS: Final = {
    "sorbent_mass": (0.5, 30.0), "layer_thickness": (0.3e-3, 20e-3), "bed_area": (0.5, 12.0),
    "bed_effectiveness": (0.2, 1.0), "absorber_emissivity": (0.05, 0.95), "condenser_outer_area": (0.5, 12.0),
    "condenser_sky_view": (0.0, 0.9), "rear_gap": (10e-3, 150e-3), "gap_air_volume": (0.03, 0.5),
    "leak": (1e-6, 5.0 / 3600.0), "edge_loss": (0.1, 5.0), "shelter": (0.1, 1.0), "bed_metal": (0.5, 20.0),
    "condenser_holdup": (0.005, 0.3), "tilt": (0.02, 1.5), "close_above": (1.0, 300.0),
}  # fmt: skip
OPTIONS: Final[dict[str, tuple[Any, ...]]] = {
    "condenser_position": ("below", "above", "beside"),
    "gap_circulation": ("stratified", "inclined"),
    "release_face": ("rear", "rear", "both", "front"),
    "operation": ("sun", "sun", "clock", "pressure"),
    "open_faces": (1, 2),
}


def place(name: str) -> Surroundings:
    """Weather of one of the four example places."""
    return surroundings(read_climate(next(WEATHER.glob(f"{name}*.gz"))))


def random_box(rng: np.random.Generator) -> PassiveBox:
    """A box that passes its own checks, drawn evenly in the logarithm of each size."""
    known = declared_fields(PassiveBox)
    while True:
        sizes = {
            name: math.exp(rng.uniform(math.log(max(low, 1e-9)), math.log(high)))
            for name, (low, high) in SPANS.items()
        }
        words = {name: options[rng.integers(len(options))] for name, options in OPTIONS.items()}
        sealed = words["release_face"] == "rear" and bool(rng.integers(2))
        design = replace(PassiveBox(), **sizes, **words, front_gap_sealed=sealed)
        assert set(sizes) <= set(known)
        try:
            check(design)
        except InputError:
            continue
        return design


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


def closest(site: Surroundings, count: int, rng: np.random.Generator) -> list[dict[str, Any]]:
    """Litres over each bound for random boxes with random sorbents; boxes that cannot run are left out."""
    found = []
    for _ in range(count):
        design, material = random_box(rng), sorbent(rng.choice(sheet_names()))
        try:
            year = simulate(design, material, site, accuracy="fast", audit=False)
        except SolverError:
            continue
        limits = limits_of_harvester(design, material, year, site.climate)
        shares = {
            bound.key: limits.collected / bound.value
            for bound in limits.bounds
            if limits.kind in bound.binds and math.isfinite(bound.value)
        }
        found.append({"sorbent": material.key, "litres": limits.collected, **shares})
    return found


def main(arguments: list[str]) -> None:
    """Print both parts; write them unless asked to be quick."""
    quick = "--quick" in arguments
    count = 40 if quick else BOXES
    rng = np.random.default_rng(SEED)
    result: dict[str, Any] = {"reversible": {}, "boxes": {}}
    for name in PLACES:
        site = place(name)
        result["reversible"][name] = reversible_at(site)
        boxes = closest(site, count // len(PLACES), rng)
        keys = sorted({key for box in boxes for key in box} - {"sorbent", "litres"})
        result["boxes"][name] = {
            "ran": len(boxes),
            "largest litres, L/m2 a day": max(box["litres"] for box in boxes),
            **{f"largest share of {k}": max(box[k] for box in boxes if k in box) for k in keys},
        }
        print(name, json.dumps({k: v[name] for k, v in result.items()}, indent=1))
    if not quick:
        RESULTS.write_text(json.dumps(result, indent=2) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
