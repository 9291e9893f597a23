"""From uptake curves to a rate: a linear driving force for each curve, and Arrhenius over temperatures.

    q(t) = q_end - (q_end - q_0) exp(-k t),   ln k = ln k_0 - Ea / (R T)
Each curve is fitted for q_0, q_end and k by least squares (scipy); the rates of several temperatures give Ea,
weighted by their errors, and with one temperature Ea is assumed. Said when the curve is not of this kind:
a misfit that drifts, an end that was not reached, a rate that differs between curves of one temperature.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import GAS_CONSTANT
from welkinwell.sorbents.lab_data import UptakeCurve

Array = NDArray[np.float64]
ASSUMED_ENERGY: Final = 25000.0  # J/mol, of one temperature; order of magnitude, no source
ASSUMED_SPREAD: Final = 12500.0  # J/mol


@dataclass(frozen=True)
class Rate:
    """The rate k0 exp(-Ea / R T): k at 298.15 K [1/s], its relative error [1], Ea and its error [J/mol].

    measured_energy: false where Ea was assumed; rates: (T [K], k [1/s], relative error [1]) of each curve.
    """

    rate: float
    rate_error: float
    energy: float
    energy_error: float
    measured_energy: bool
    rates: tuple[tuple[float, float, float], ...]
    warnings: tuple[str, ...]

    def diffusivity(self, shape_factor: float, length: float) -> float:
        """Give D0 of a grain of radius L with this rate, k0 L^2 / F.

        Args: shape_factor: F, 15 for a sphere [1]; length: L [m]. Returns: D0 [m2/s].
        """
        k0 = self.rate * math.exp(self.energy / (GAS_CONSTANT * 298.15))
        return k0 * length * length / shape_factor


def fit_uptake(curves: Sequence[UptakeCurve]) -> Rate:
    """Fit a rate to uptake curves.

    Args: curves. Returns: the rate with its doubt and warnings.
    """
    warnings: list[str] = []
    rates = []
    for number, curve in enumerate(curves, start=1):
        k, error, said = _one_curve(curve)
        rates.append((curve.temperature, k, error))
        warnings += [f"Curve {number} ({curve.temperature - 273.15:.0f} degC): {words}" for words in said]
    x = np.array([1.0 / 298.15 - 1.0 / T for T, _, _ in rates]) / GAS_CONSTANT
    y = np.array([math.log(k) for _, k, _ in rates])
    weight = 1.0 / np.array([max(error, 0.01) for _, _, error in rates])
    measured = float(np.ptp([T for T, _, _ in rates])) > 3.0
    if not measured:
        mean = float(np.average(y - ASSUMED_ENERGY * x, weights=weight**2))
        spread = float(np.std(y)) if len(y) > 1 else 0.0
        error = math.hypot(1.0 / math.sqrt(float(np.sum(weight**2))), spread)
        warnings.append("Uptake at one temperature only: the activation energy is assumed.")
        return Rate(
            math.exp(mean), error, ASSUMED_ENERGY, ASSUMED_SPREAD, False, tuple(rates), tuple(warnings)
        )
    design = np.column_stack([np.ones_like(x), x]) * weight[:, None]
    solution, *_ = np.linalg.lstsq(design, y * weight, rcond=None)
    misses = design @ solution - y * weight
    scale = max(float(misses @ misses) / max(len(y) - 2, 1), 1.0)
    covariance = np.linalg.inv(design.T @ design) * scale
    if scale > 9.0:
        warnings.append(
            "The rates of the curves differ by more than their errors: the uptake may depend on the loading."
        )
    errors = np.sqrt(np.diag(covariance))
    return Rate(
        math.exp(float(solution[0])),
        float(errors[0]),
        float(solution[1]),
        float(errors[1]),
        True,
        tuple(rates),
        tuple(warnings),
    )


def _one_curve(curve: UptakeCurve) -> tuple[float, float, list[str]]:
    """Return k [1/s], its relative error [1] and what is to be said of the curve."""
    from scipy.optimize import least_squares

    t = curve.time - curve.time[0]
    q = curve.loading
    rise = float(q[-1] - q[0])
    share = (q - q[0]) / rise if rise else np.zeros_like(q)
    half = float(np.interp(0.5, np.maximum.accumulate(share), t)) if rise else float(t[-1])
    start = np.array([q[0], q[-1], math.log(0.693 / max(half, 1e-3 * max(float(t[-1]), 1e-9)))])

    def model(x: Array) -> Array:
        return x[1] - (x[1] - x[0]) * np.exp(-math.exp(min(max(x[2], -40.0), 20.0)) * t)

    found = least_squares(lambda x: model(x) - q, start, method="lm", x_scale=np.maximum(np.abs(start), 1e-6))
    freedom = max(q.size - 3, 1)
    covariance = np.linalg.pinv(found.jac.T @ found.jac) * 2.0 * found.cost / freedom
    error = math.sqrt(max(float(covariance[2, 2]), 0.0))
    said = []
    misses = q - model(found.x)
    span = max(abs(rise), 1e-12)
    size = float(np.mean(misses**2))
    together = float(np.mean(misses[1:] * misses[:-1])) / max(size, 1e-300)
    if math.sqrt(size) > 0.01 * span and together > 0.6:
        said.append("the curve is not that of a linear driving force (its misfit keeps its sign for long).")
    if abs(found.x[1] - q[-1]) > 0.1 * span:
        said.append("the uptake was stopped before its end; the rate rests on where it would have gone.")
    late = t > 0.8 * t[-1]
    if late.sum() >= 5 and math.exp(float(found.x[2])) * float(t[-1]) > 6.0:
        line, spread = np.polyfit(t[late] - t[-1], q[late], 1, cov=True)
        change = abs(float(line[0])) * float(t[-1] - t[late][0])
        if change > 0.01 * span and abs(float(line[0])) > 4.0 * math.sqrt(float(spread[0, 0])):
            said.append("drift: the loading still changes when the rate says that it has settled.")
    return math.exp(float(found.x[2])), error, said
