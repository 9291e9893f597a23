"""Sips sites in pressure, the published form of many two-regime solids, with a potential.

    q = sum_i w_i x_i / (1 + x_i),   x_i = (b_i p)^n_i,   b_i = b_i0 exp[(Q_i / R)(1/T - 1/T0)]
    n_i(T) = n_i0 + alpha_i (1 - T0/T),   T0 = 298.15 K
    Omega(A, T) = R T sum_i (w_i / n_i) ln(1 + x_i),   p = p_sat(T) exp(-A / R T)

In publications n is often written 1/eta. Two sites of exponent one are the dual-site Langmuir form
(`dual_site_langmuir`). The form stays finite and rising above saturation; towards zero pressure it
follows p^n, which is Henry's law only for n = 1. Since it is written in p, a Q_i near the latent heat
or below moves the loading at constant relative humidity: refuse such sets by their heat.
Parameters in the row, five a site from SLOT_PARAMETERS on:
w_i [kg/kg], ln(b_i0 Pa) [1], Q_i [J/mol], n_i0 [1], alpha_i [1].
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.compiled import njit
from welkinwell.constants import GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.sorbents.row import FORM_SIPS_SITES, PARAMETERS_END, SLOT_COUNT, SLOT_FORM, SLOT_PARAMETERS
from welkinwell.sorbents.saturation_curve import log_saturation_terms

REFERENCE_TEMPERATURE: Final = 298.15  # K, T0
LARGEST_COUNT: Final = (PARAMETERS_END - SLOT_PARAMETERS) // 5
SMALLEST_EXPONENT: Final = 0.02
DRIEST: Final = 1e-12


def fill_row(row: NDArray[np.float64], sites: Iterable[tuple[float, float, float, float, float]]) -> None:
    """Write the sites into a row.

    Args: row [1]; sites: (w [kg/kg], b0 at 298.15 K [1/Pa], Q [J/mol], n0 [1], alpha [1]) for each site.
    """
    numbers = np.asarray(list(sites), dtype=np.float64)
    numbers[:, 1] = np.log(numbers[:, 1])
    row[SLOT_FORM] = FORM_SIPS_SITES
    row[SLOT_COUNT] = len(numbers)
    row[SLOT_PARAMETERS : SLOT_PARAMETERS + numbers.size] = numbers.ravel()


@njit(cache=True)
def sorbed_state(row, A, T):
    """Return loading, its two slopes, the excess enthalpy and its slope (see `potential.sorbed_state`).

    With f(L, n) = ln(1 + e^(n L)) / n and L = ln(b p): Omega = R T sum w f, q = sum w df/dL.
    Args: row [1]; A [J/mol]; T [K].
    Returns: q [kg/kg], dq/dA [kg mol/(kg J)], dq/dT [1/K], E [J/kg dry], dE/dT at constant A [J/(kg K)].
    """
    log_p, p_T, p_TT = log_saturation_terms(T)
    RT = GAS_CONSTANT * T
    AR = A / GAS_CONSTANT
    loading = 0.0
    loading_A = 0.0
    loading_T = 0.0
    omega = 0.0
    omega_T = 0.0
    omega_TT = 0.0
    slot = SLOT_PARAMETERS
    for _ in range(int(row[SLOT_COUNT])):
        w = row[slot]
        Q = row[slot + 2] / GAS_CONSTANT
        alpha = row[slot + 4]
        n = row[slot + 3] + alpha * (1.0 - REFERENCE_TEMPERATURE / T)
        n_T = alpha * REFERENCE_TEMPERATURE / (T * T)
        n_TT = -2.0 * n_T / T
        if n < SMALLEST_EXPONENT:
            n = SMALLEST_EXPONENT
            n_T = 0.0
            n_TT = 0.0
        L = row[slot + 1] + Q * (1.0 / T - 1.0 / REFERENCE_TEMPERATURE) + log_p - AR / T
        L_T = p_T - (Q - AR) / (T * T)
        L_TT = p_TT + 2.0 * (Q - AR) / (T * T * T)
        y = n * L
        e = math.exp(-abs(y))
        share = 1.0 / (1.0 + e)
        filled = share if y > 0.0 else e * share
        bend = e * share * share
        soft = max(y, 0.0) + math.log1p(e)
        f_n = (filled * y - soft) / (n * n)
        f_nn = bend * L * L / n - 2.0 * f_n / n
        f_T = filled * L_T + f_n * n_T
        f_TT = n * bend * L_T * L_T + 2.0 * bend * L * L_T * n_T + f_nn * n_T * n_T
        f_TT += filled * L_TT + f_n * n_TT
        loading += w * filled
        loading_A -= w * n * bend / RT
        loading_T += w * (n * bend * L_T + bend * L * n_T)
        omega += RT * w * soft / n
        omega_T += w * (GAS_CONSTANT * soft / n + RT * f_T)
        omega_TT += w * (2.0 * GAS_CONSTANT * f_T + RT * f_TT)
        slot += 5
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
        total += row[SLOT_PARAMETERS + 5 * k]
    return total


@njit(cache=True)
def potential_at_loading(row, q, T, guess):
    """Return the potential at a loading, by Newton on logit(q / sum w) within the single sites' bracket.

    Args: row [1]; q: loading, clipped into the open range [kg/kg]; T [K]; guess: A [J/mol].
    Returns: A [J/mol].
    """
    total = largest_loading(row, T)
    q = min(max(q, DRIEST * total), (1.0 - DRIEST) * total)
    goal = math.log(q / (total - q))
    log_p = log_saturation_terms(T)[0]
    RT = GAS_CONSTANT * T
    low = math.inf
    high = -math.inf
    slot = SLOT_PARAMETERS
    for _ in range(int(row[SLOT_COUNT])):
        Q = row[slot + 2] / GAS_CONSTANT
        log_b = row[slot + 1] + Q * (1.0 / T - 1.0 / REFERENCE_TEMPERATURE)
        n = max(row[slot + 3] + row[slot + 4] * (1.0 - REFERENCE_TEMPERATURE / T), SMALLEST_EXPONENT)
        alone = RT * (log_b + log_p - goal / n)
        low = min(low, alone)
        high = max(high, alone)
        slot += 5
    A = min(max(guess, low), high)
    last = math.inf
    for _ in range(100):
        filled = 0.0
        unfilled = 0.0
        slope = 0.0
        slot = SLOT_PARAMETERS
        for _ in range(int(row[SLOT_COUNT])):
            Q = row[slot + 2] / GAS_CONSTANT
            log_b = row[slot + 1] + Q * (1.0 / T - 1.0 / REFERENCE_TEMPERATURE)
            n = max(row[slot + 3] + row[slot + 4] * (1.0 - REFERENCE_TEMPERATURE / T), SMALLEST_EXPONENT)
            y = n * (log_b + log_p - A / RT)
            e = math.exp(-abs(y))
            share = 1.0 / (1.0 + e)
            filled += row[slot] * (share if y > 0.0 else e * share)
            unfilled += row[slot] * (e * share if y > 0.0 else share)
            slope += row[slot] * n * e * share * share / RT
            slot += 5
        if filled <= 0.0 or unfilled <= 0.0 or slope <= 0.0:
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
