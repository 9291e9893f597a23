"""Freundlich in relative humidity, the form of early chiller papers, with a potential.

    q = a(T) h^b(T),   h = p / p_sat = exp(-A / R T),   a and b cubic in T
    Omega(A, T) = (R T a / b) h^b

It has no plateau and, for b < 1, an infinite slope in humidity at zero; in A it is smooth. Above
saturation it would grow without bound as an exponential, so for A < 0 the loading goes on as a straight
line in A with the slope that it has at A = 0. With constant a and b the isosteric heat is the latent
heat at every loading, which is less than any real gel needs. Cubics in T hold only in the range to which
they were fitted; T is clipped into that range for a and b, so outside it they are constant.
Parameters in the row from SLOT_PARAMETERS on: a0..a3, b0..b3 [1, 1/K, 1/K2, 1/K3], lowest, highest T [K].
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.compiled import njit
from welkinwell.constants import GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.sorbents.row import FORM_FREUNDLICH, SLOT_COUNT, SLOT_FORM, SLOT_PARAMETERS

WETTEST: Final = -5000.0  # J/mol; the loading here counts as the largest
DRIEST: Final = 1e-12


def fill_row(
    row: NDArray[np.float64],
    prefactor: Sequence[float],
    exponent: Sequence[float],
    lowest: float,
    highest: float,
) -> None:
    """Write the parameters into a row.

    Args: row [1]; prefactor: a0 to a3 of a(T) [kg/kg, T in K]; exponent: b0 to b3 of b(T)
    [1, T in K]; lowest, highest: temperatures within which both cubics hold [K].
    """
    row[SLOT_FORM] = FORM_FREUNDLICH
    row[SLOT_COUNT] = 1
    row[SLOT_PARAMETERS : SLOT_PARAMETERS + 8] = (*prefactor, *exponent)
    row[SLOT_PARAMETERS + 8] = lowest
    row[SLOT_PARAMETERS + 9] = highest


@njit(cache=True)
def _cubic(row, slot, T):
    """Return a cubic of the row with its first two slopes, constant outside its range."""
    inside = min(max(T, row[SLOT_PARAMETERS + 8]), row[SLOT_PARAMETERS + 9])
    value = row[slot] + inside * (row[slot + 1] + inside * (row[slot + 2] + inside * row[slot + 3]))
    if inside != T:
        return value, 0.0, 0.0
    slope = row[slot + 1] + T * (2.0 * row[slot + 2] + T * 3.0 * row[slot + 3])
    return value, slope, 2.0 * row[slot + 2] + 6.0 * T * row[slot + 3]


@njit(cache=True)
def sorbed_state(row, A, T):
    """Return loading, its two slopes, the excess enthalpy and its slope (see `potential.sorbed_state`).

    With k(T) = b / (R T): q = a e^(-k A), Omega = (a / k) e^(-k A); for A < 0 Taylor's first two terms of q.
    Args: row [1]; A [J/mol]; T [K].
    Returns: q [kg/kg], dq/dA [kg mol/(kg J)], dq/dT [1/K], E [J/kg dry], dE/dT at constant A [J/(kg K)].
    """
    a, a_T, a_TT = _cubic(row, SLOT_PARAMETERS, T)
    b, b_T, b_TT = _cubic(row, SLOT_PARAMETERS + 4, T)
    RT = GAS_CONSTANT * T
    k = b / RT
    k_T = (b_T - b / T) / RT
    k_TT = (b_TT - 2.0 * (b_T - b / T) / T) / RT
    s = a / k
    s_T = (a_T - s * k_T) / k
    s_TT = (a_TT - 2.0 * s_T * k_T - s * k_TT) / k
    if A < 0.0:
        # Omega = s - A a + A^2 a k / 2
        v_T = a_T * k + a * k_T
        v_TT = a_TT * k + 2.0 * a_T * k_T + a * k_TT
        q = a - A * a * k
        q_A = -a * k
        q_T = a_T - A * v_T
        omega = s - A * (a - 0.5 * A * a * k)
        omega_T = s_T - A * (a_T - 0.5 * A * v_T)
        omega_TT = s_TT - A * (a_TT - 0.5 * A * v_TT)
    else:
        h = math.exp(-k * A)
        q = a * h
        q_A = -k * q
        q_T = (a_T - a * A * k_T) * h
        omega = s * h
        omega_T = (s_T - s * A * k_T) * h
        omega_TT = (s_TT - 2.0 * s_T * A * k_T - s * A * k_TT + s * A * A * k_T * k_T) * h
    enthalpy = -(A * q + omega - T * omega_T) / WATER_MOLAR_MASS
    enthalpy_T = -(A * q_T - T * omega_TT) / WATER_MOLAR_MASS
    return q, q_A, q_T, enthalpy, enthalpy_T


@njit(cache=True)
def largest_loading(row, T):
    """Return the loading on the straight line far above saturation (A = -5000 J/mol), for scaling.

    Args: row [1]; T [K]. Returns: loading [kg/kg].
    """
    return sorbed_state(row, WETTEST, T)[0]


@njit(cache=True)
def potential_at_loading(row, q, T, guess):
    """Return the potential at a loading, A = (R T / b) ln(a / q), or on the straight line above saturation.

    Args: row [1]; q: loading, clipped into the open range [kg/kg]; T [K]; guess: not needed [J/mol].
    Returns: A [J/mol].
    """
    a = _cubic(row, SLOT_PARAMETERS, T)[0]
    k = _cubic(row, SLOT_PARAMETERS + 4, T)[0] / (GAS_CONSTANT * T)
    q = min(max(q, DRIEST * a), (1.0 - DRIEST) * largest_loading(row, T))
    if q > a:
        return (a - q) / (a * k)
    return -math.log(q / a) / k
