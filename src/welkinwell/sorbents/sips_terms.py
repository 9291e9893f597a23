"""SipsT, the standard form for solids: a sum of Sips terms in the adsorption potential.

    q(A, T)     = sum_k q_k / (1 + exp((A - A_k(T)) / s_k)),   A_k(T) = A_k + beta_k (T - 298.15 K)
    Omega(A, T) = sum_k q_k s_k ln(1 + exp(-(A - A_k(T)) / s_k)),   q = -dOmega/dA

One term is the Sips isotherm (Sips1948) in relative humidity with exponent R T / s_k and half
filling at exp(-A_k / R T); beta shifts the potential of half filling with temperature. The form is
smooth and rising in humidity everywhere, also above saturation (A < 0), and its heat is analytic:
isosteric heat = latent heat + (A - T (dA/dT)_q) / M_w with (dA/dT)_q the mean of beta_k weighted by
q_k f_k (1 - f_k) / s_k. Parameters in the row, four a term from SLOT_PARAMETERS on:
q_k [kg/kg], A_k [J/mol], s_k [J/mol], beta_k [J/(mol K)].
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.compiled import njit
from welkinwell.constants import WATER_MOLAR_MASS
from welkinwell.sorbents.row import FORM_SIPS_TERMS, PARAMETERS_END, SLOT_COUNT, SLOT_FORM, SLOT_PARAMETERS

REFERENCE_TEMPERATURE: Final = 298.15  # K, where A_k(T) = A_k
LARGEST_COUNT: Final = (PARAMETERS_END - SLOT_PARAMETERS) // 4
DRIEST: Final = 1e-12  # share of the capacity below which, and below whose complement, loadings are clipped


def fill_row(row: NDArray[np.float64], terms: Iterable[tuple[float, float, float, float]]) -> None:
    """Write the terms into a row.

    Args: row [1]; terms: (q_k [kg/kg], A_k [J/mol], s_k [J/mol], beta_k [J/(mol K)]) for each term.
    """
    numbers = np.asarray(list(terms), dtype=np.float64)
    row[SLOT_FORM] = FORM_SIPS_TERMS
    row[SLOT_COUNT] = len(numbers)
    row[SLOT_PARAMETERS : SLOT_PARAMETERS + numbers.size] = numbers.ravel()


@njit(cache=True)
def sorbed_state(row, A, T):
    """Return loading, its two slopes, the excess enthalpy and its slope.

    E = -(A q + Omega - T dOmega/dT) / M_w with dOmega/dT = sum q_k f_k beta_k at constant A.
    Args: row [1]; A: adsorption potential R T ln(p_sat/p) [J/mol]; T [K].
    Returns: q [kg/kg], dq/dA [kg mol/(kg J)], dq/dT [1/K], E [J/kg dry], dE/dT at constant A [J/(kg K)].
    """
    loading = 0.0
    loading_A = 0.0
    loading_T = 0.0
    omega = 0.0
    omega_T = 0.0
    omega_TT = 0.0
    slot = SLOT_PARAMETERS
    for _ in range(int(row[SLOT_COUNT])):
        capacity = row[slot]
        width = row[slot + 2]
        beta = row[slot + 3]
        u = (A - row[slot + 1] - beta * (T - REFERENCE_TEMPERATURE)) / width
        e = math.exp(-abs(u))  # never overflows
        share = 1.0 / (1.0 + e)
        fraction = e * share if u > 0.0 else share
        filled = capacity * fraction
        slope = capacity * e * share * share / width
        loading += filled
        loading_A -= slope
        loading_T += slope * beta
        omega += capacity * width * (math.log1p(e) - min(u, 0.0))
        omega_T += filled * beta
        omega_TT += slope * beta * beta
        slot += 4
    enthalpy = -(A * loading + omega - T * omega_T) / WATER_MOLAR_MASS
    enthalpy_T = -(A * loading_T - T * omega_TT) / WATER_MOLAR_MASS
    return loading, loading_A, loading_T, enthalpy, enthalpy_T


@njit(cache=True)
def largest_loading(row, T):
    """Return the sum of the capacities, which the loading approaches far above saturation.

    Args: row [1]; T [K], without effect. Returns: loading [kg/kg].
    """
    total = 0.0
    for k in range(int(row[SLOT_COUNT])):
        total += row[SLOT_PARAMETERS + 4 * k]
    return total


@njit(cache=True)
def _filled_and_empty(row, A, T):
    """Return filled, unfilled capacity and -dq/dA, each without cancellation."""
    filled = 0.0
    unfilled = 0.0
    slope = 0.0
    slot = SLOT_PARAMETERS
    for _ in range(int(row[SLOT_COUNT])):
        u = (A - row[slot + 1] - row[slot + 3] * (T - REFERENCE_TEMPERATURE)) / row[slot + 2]
        e = math.exp(-abs(u))
        share = 1.0 / (1.0 + e)
        if u > 0.0:
            filled += row[slot] * e * share
            unfilled += row[slot] * share
        else:
            filled += row[slot] * share
            unfilled += row[slot] * e * share
        slope += row[slot] * e * share * share / row[slot + 2]
        slot += 4
    return filled, unfilled, slope


@njit(cache=True)
def potential_at_loading(row, q, T, guess):
    """Return the potential at which the form holds a loading.

    Newton on logit(q / sum q_k), which is a straight line for one term and close to one for several,
    inside the bracket in which every single term is filled to that share.
    Args: row [1]; q: loading, clipped into the open range [kg/kg]; T [K]; guess: A [J/mol].
    Returns: A [J/mol].
    """
    total = largest_loading(row, T)
    q = min(max(q, DRIEST * total), (1.0 - DRIEST) * total)
    goal = math.log(q / (total - q))
    low = math.inf
    high = -math.inf
    slot = SLOT_PARAMETERS
    for _ in range(int(row[SLOT_COUNT])):
        alone = row[slot + 1] + row[slot + 3] * (T - REFERENCE_TEMPERATURE) - row[slot + 2] * goal
        low = min(low, alone)
        high = max(high, alone)
        slot += 4
    A = min(max(guess, low), high)
    last = math.inf
    for _ in range(100):
        filled, unfilled, slope = _filled_and_empty(row, A, T)
        if filled <= 0.0 or unfilled <= 0.0:
            A = 0.5 * (low + high)
            continue
        miss = math.log(filled / unfilled) - goal
        if miss > 0.0:
            low = A
        else:
            high = A
        new = A + miss * filled * unfilled / (slope * total)
        if not (low <= new <= high) or abs(miss) > 0.5 * last:
            new = 0.5 * (low + high)  # halve where Newton creeps; elsewhere it would throw its nearness away
        last = abs(miss)
        if abs(new - A) <= 1e-13 * (abs(A) + 1000.0):
            return new
        A = new
    return A
