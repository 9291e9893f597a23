"""Do the bands of `fit` hold what they promise: seeded synthetic laboratories with 2 % noise.

Each trial draws a true sorbent (two Sips terms and one shift, as steps of real frameworks), measures it at
three temperatures with an error of 2 % of each loading, and gives the points to the whole of `fit`, which
chooses the form too. Counted: how often the 95 % bands of loading and heat at states within the points hold
the truth, and how wide they are against the information bound (the Cramer-Rao width with the true form and
the true noise). Parameters are counted where `fit` chose the true form.
Run: python -m benchmarks.fit_coverage
"""

from __future__ import annotations

import json
import math
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

from welkinwell.moist_air.saturation import saturation_pressure
from welkinwell.sorbents import sips_terms
from welkinwell.sorbents.lab_data import LabPoints
from welkinwell.sorbents.lab_fit import fit_lab_points, isosteric_heat
from welkinwell.sorbents.potential import sorbed_state
from welkinwell.sorbents.row import empty_row

NOISE = 0.02
TRIALS = 1000
SEED = 20
TEMPERATURES = (298.15, 313.15, 333.15)
HUMIDITIES = (0.01, 0.02, 0.04, 0.06, 0.08, 0.10, 0.13, 0.16, 0.19, 0.22, 0.25, 0.28, 0.32, 0.36, 0.40, 0.46)
HUMIDITIES = (*HUMIDITIES, 0.52, 0.60, 0.70, 0.80, 0.90)
STATES = ((298.15, 0.05), (298.15, 0.2), (298.15, 0.4), (313.15, 0.3), (333.15, 0.15), (333.15, 0.6))
SHARES = (0.2, 0.4, 0.6, 0.8)  # of the loading at relative humidity 0.8 and 25 C, where the heat is asked for
OUT = Path(__file__).parent / "results" / "fit_coverage.json"
R = 8.314462618
TRUE_FORM = "2 Sips terms, one shift"


def true_row(x: np.ndarray) -> np.ndarray:
    """Return the row of (q1, A1, s1, q2, A2, s2, beta)."""
    row = empty_row()
    sips_terms.fill_row(row, [(x[0], x[1], x[2], x[6]), (x[3], x[4], x[5], x[6])])
    return row


def draw(rng: np.random.Generator) -> np.ndarray:
    """Return a true sorbent: a step and a slow rise, both moved by one shift."""
    q1, q2 = rng.uniform(0.12, 0.4), rng.uniform(0.08, 0.25)
    A1, A2 = rng.uniform(2500.0, 6500.0), rng.uniform(800.0, 3000.0)
    return np.array(
        [q1, A1, rng.uniform(180.0, 500.0), q2, A2, rng.uniform(1500.0, 3000.0), rng.uniform(-20.0, -2.0)]
    )


def figures(row: np.ndarray, loadings: list[float]) -> np.ndarray:
    """Return the loadings at STATES and the heats at given loadings, 40 C."""
    of_q = [sorbed_state(row, -R * T * math.log(rh), T)[0] for T, rh in STATES]
    return np.array([*of_q, *(isosteric_heat(row, 313.15, q) for q in loadings)])


def one_trial(seed: int) -> dict[str, Any]:
    """Return what one synthetic laboratory found: whether each figure was held, and its relative width."""
    rng = np.random.default_rng([SEED, seed])
    x = draw(rng)
    row = true_row(x)
    T = np.repeat(TEMPERATURES, len(HUMIDITIES))
    rh = np.tile(HUMIDITIES, len(TEMPERATURES))
    A = -R * T * np.log(rh)
    exact = np.array([sorbed_state(row, a, t)[0] for a, t in zip(A, T, strict=True)])
    measured = exact * (1.0 + NOISE * rng.standard_normal(exact.size))
    pressure = rh * np.array([saturation_pressure(t) for t in T])
    points = LabPoints(T, pressure, measured, np.zeros(T.size, dtype=bool), ("trial",))
    full = sorbed_state(row, -R * 298.15 * math.log(0.8), 298.15)[0]
    loadings = [share * full for share in SHARES]
    truth = figures(row, loadings)
    fit = fit_lab_points(points)
    bands = [fit.loading_band(t, -R * t * math.log(h)) for t, h in STATES]
    bands += [fit.heat_band(313.15, q) for q in loadings]
    bound = 2.0 * 1.96 * _bound(x, A, T, exact, loadings)
    held = [low <= value <= high for (low, high), value in zip(bands, truth, strict=True)]
    width = [(high - low) / b for (low, high), b in zip(bands, bound, strict=True)]
    found: dict[str, Any] = {"form": fit.best.candidate.name, "held": held, "width": width}
    if found["form"] == TRUE_FORM:
        found["parameters"] = _parameters_held(fit, x)
    return found


def _slopes(of, x: np.ndarray) -> np.ndarray:
    columns = []
    for k in range(x.size):
        step = 1e-5 * max(abs(x[k]), 1e-2)
        up, down = x.copy(), x.copy()
        up[k] += step
        down[k] -= step
        columns.append((of(up) - of(down)) / (2.0 * step))
    return np.array(columns).T


def _bound(
    x: np.ndarray, A: np.ndarray, T: np.ndarray, exact: np.ndarray, loadings: list[float]
) -> np.ndarray:
    """Return the Cramer-Rao standard deviation of each figure, with the true form and the true noise."""

    def model(y: np.ndarray) -> np.ndarray:
        row = true_row(y)
        return np.array([sorbed_state(row, a, t)[0] for a, t in zip(A, T, strict=True)])

    scaled = _slopes(model, x) / (NOISE * exact)[:, None]
    covariance = np.linalg.inv(scaled.T @ scaled)
    gradient = _slopes(lambda y: figures(true_row(y), loadings), x)
    return np.sqrt(np.einsum("ij,jk,ik->i", gradient, covariance, gradient))


def _parameters_held(fit, x: np.ndarray) -> list[bool]:
    from scipy.stats import t as student

    factor = student.ppf(0.975, fit.best.freedom)
    parts = {part.key: part for part in fit.parts}
    order = sorted((0, 1), key=lambda k: parts[f"terms[{k}].width"].value)
    keys = [f"terms[{k}].{name}" for k in order for name in ("capacity", "potential", "width")]
    keys.append(f"terms[{order[0]}].slope")
    return [
        bool(abs(parts[key].value - true) <= factor * parts[key].error)
        for key, true in zip(keys, x, strict=True)
    ]


def study(trials: int, first: int = 0) -> dict[str, Any]:
    """Return coverage and width over seeded trials."""
    found = [one_trial(seed) for seed in range(first, first + trials)]
    held = np.array([one["held"] for one in found])
    width = np.array([one["width"] for one in found])
    number = len(STATES)
    parameters = np.array([one["parameters"] for one in found if "parameters" in one])
    forms = sorted({one["form"] for one in found})
    return {
        "trials": trials,
        "noise": NOISE,
        "coverage_of_loading": float(held[:, :number].mean()),
        "coverage_of_heat": float(held[:, number:].mean()),
        "coverage": float(held.mean()),
        "coverage_by_figure": [round(float(v), 4) for v in held.mean(axis=0)],
        "coverage_of_parameters": float(parameters.mean()) if parameters.size else None,
        "median_width_over_bound": float(np.median(width)),
        "median_width_of_loading": float(np.median(width[:, :number])),
        "median_width_of_heat": float(np.median(width[:, number:])),
        "forms": {form: sum(one["form"] == form for one in found) for form in forms},
    }


def main() -> None:
    """Run the study and write it."""
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else TRIALS
    began = time.perf_counter()
    report = study(trials)
    report["seconds"] = round(time.perf_counter() - began, 1)
    print(json.dumps(report, indent=2))
    if trials == TRIALS:
        OUT.parent.mkdir(exist_ok=True)
        OUT.write_text(json.dumps(report, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
