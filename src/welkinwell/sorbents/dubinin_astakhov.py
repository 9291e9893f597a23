"""Dubinin-Astakhov (DubininAstakhov1971), the published form of many gels and zeolites.

    q = W exp(-(A/E)^n),   Omega = (W E / n) Gamma(1/n, (A/E)^n),   W = W0, or W0 rho(T) where W0 is a volume

At A = 0 the published form has no slope (n > 1) and none of it exists above saturation, so A is
replaced by A' = (A + sqrt(A^2 + delta^2)) / 2 with delta = 50 J/mol, which is A + 0.6 J/mol at 1000 J/mol.
The loading stays smooth and rising everywhere, and Omega stays closed, since dA = (1 + delta^2/(4 A'^2)) dA':
    Omega = (W E / n) [Gamma(1/n, y) + (delta / 2E)^2 Gamma(-1/n, y)],   y = (A'/E)^n.
At fixed A the loading depends on temperature through rho only. Fitted range: as the sheet says; n from
1.05 to 20. Parameters in the row from SLOT_PARAMETERS on: W0 [kg/kg or m3/kg], E [J/mol], n [1],
volumetric [0 or 1].
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.compiled import njit
from welkinwell.constants import WATER_MOLAR_MASS
from welkinwell.sorbents.row import FORM_DUBININ_ASTAKHOV, SLOT_COUNT, SLOT_FORM, SLOT_PARAMETERS

SMOOTHING: Final = 50.0  # J/mol, delta above; a choice of ours, 2 % in relative humidity at saturation
SMALLEST_EXPONENT: Final = 1.05
LARGEST_EXPONENT: Final = 20.0
DRIEST: Final = 1e-12

# Density of the sorbed liquid, taken as that of water: a quintic in t = T - 273.15 K fitted to
# IAPWS-95 saturated liquid from 0 to 150 C within 0.006 % [kg/m3]; smooth, so that heats are too
DENSITY: Final = (9.99844181e2, 5.03965464e-2, -7.58873302e-3, 4.63341897e-5, -2.08949641e-7, 3.92177124e-10)


def fill_row(
    row: NDArray[np.float64], capacity: float, energy: float, exponent: float, volumetric: bool
) -> None:
    """Write the parameters into a row.

    Args: row [1]; capacity: W0 [kg/kg, or m3/kg when volumetric]; energy: E [J/mol]; exponent: n [1];
    volumetric: whether W0 is a volume filled with liquid water.
    """
    row[SLOT_FORM] = FORM_DUBININ_ASTAKHOV
    row[SLOT_COUNT] = 1
    row[SLOT_PARAMETERS : SLOT_PARAMETERS + 4] = capacity, energy, exponent, float(volumetric)


@njit(cache=True)
def upper_gamma(s, y):
    """Return the upper incomplete gamma function Gamma(s, y) for s > 0.

    Series for y < s + 1, continued fraction beyond (Abramowitz1964, 6.5.29 and 6.5.31).
    Args: s [1]; y >= 0 [1]. Returns: Gamma(s, y) [1].
    """
    if y < s + 1.0:
        if y <= 0.0:
            return math.gamma(s)
        term = 1.0 / s
        total = term
        for k in range(1, 200):
            term *= y / (s + k)
            total += term
            if term < 1e-17 * total:
                break
        return math.gamma(s) - total * math.exp(s * math.log(y) - y)
    if y > 700.0:
        return 0.0
    b = y + 1.0 - s
    c = 1e300
    d = 1.0 / b
    h = d
    for k in range(1, 200):
        a = -k * (k - s)
        b += 2.0
        d = 1.0 / (a * d + b)
        c = b + a / c
        h *= d * c
        if abs(d * c - 1.0) < 1e-16:
            break
    return h * math.exp(s * math.log(y) - y)


@njit(cache=True)
def _capacity(row, T):
    """Return W and its first two slopes in temperature."""
    W = row[SLOT_PARAMETERS]
    if row[SLOT_PARAMETERS + 3] == 0.0:
        return W, 0.0, 0.0
    t = T - 273.15
    c0, c1, c2, c3, c4, c5 = DENSITY
    density = c0 + t * (c1 + t * (c2 + t * (c3 + t * (c4 + t * c5))))
    slope = c1 + t * (2.0 * c2 + t * (3.0 * c3 + t * (4.0 * c4 + t * 5.0 * c5)))
    curve = 2.0 * c2 + t * (6.0 * c3 + t * (12.0 * c4 + t * 20.0 * c5))
    return W * density, W * slope, W * curve


@njit(cache=True)
def sorbed_state(row, A, T):
    """Return loading, its two slopes, the excess enthalpy and its slope (see `potential.sorbed_state`).

    Args: row [1]; A [J/mol]; T [K].
    Returns: q [kg/kg], dq/dA [kg mol/(kg J)], dq/dT [1/K], E [J/kg dry], dE/dT at constant A [J/(kg K)].
    """
    W, W_T, W_TT = _capacity(row, T)
    energy = row[SLOT_PARAMETERS + 1]
    n = row[SLOT_PARAMETERS + 2]
    s = 1.0 / n
    root = math.sqrt(A * A + SMOOTHING * SMOOTHING)
    # the second way avoids cancellation far above saturation
    soft = 0.5 * (A + root) if A > 0.0 else 0.5 * SMOOTHING * SMOOTHING / (root - A)
    y = math.exp(min(n * math.log(soft / energy), 700.0))
    shape = math.exp(-min(y, 745.0))
    shape_A = -shape * n * y / root  # dA'/dA = A' / root
    bend = n * (math.exp(-s * math.log(y) - min(y, 745.0)) - upper_gamma(1.0 - s, y))
    ratio = 0.5 * SMOOTHING / energy
    area = energy * s * (upper_gamma(s, y) + ratio * ratio * bend)
    loading = W * shape
    loading_T = W_T * shape
    enthalpy = -(A * loading + W * area - T * W_T * area) / WATER_MOLAR_MASS
    enthalpy_T = -(A * loading_T - T * W_TT * area) / WATER_MOLAR_MASS
    return loading, W * shape_A, loading_T, enthalpy, enthalpy_T


@njit(cache=True)
def largest_loading(row, T):
    """Return W, which the loading approaches far above saturation.

    Args: row [1]; T [K]. Returns: loading [kg/kg].
    """
    return _capacity(row, T)[0]


@njit(cache=True)
def potential_at_loading(row, q, T, guess):
    """Return the potential at a loading: A' = E (ln(W/q))^(1/n), A = A' - delta^2 / (4 A').

    Args: row [1]; q: loading, clipped into the open range [kg/kg]; T [K]; guess: not needed [J/mol].
    Returns: A [J/mol].
    """
    W = _capacity(row, T)[0]
    share = min(max(q / W, DRIEST), 1.0 - DRIEST)
    soft = row[SLOT_PARAMETERS + 1] * (-math.log(share)) ** (1.0 / row[SLOT_PARAMETERS + 2])
    return soft - 0.25 * SMOOTHING * SMOOTHING / soft
