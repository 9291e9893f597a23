"""Toth (Toth1971), the published form of zeolites, given a potential so that heat and loading agree.

    q = q_s theta,   theta = x / (1 + x^n)^(1/n),   x = b p,   b = b0 exp(Q / T),   n = n0 + c / T
    Omega(A, T) = R T q_s I,   I = integral of theta d(ln x) from 0 to x = K(Y, a) / n
    K(Y, a) = integral of sigma(y)^a dy from -infinity to Y,   Y = n ln x, a = 1/n, sigma = 1/(1 + e^-y)

With p = p_sat(T) exp(-A / R T) the form becomes one in (A, T). K and its slopes in a are integrated by
Gauss-Legendre quadrature: below y = -2 in w with sigma = sigma_0 w^(6/a), above in y, and beyond y = 32 the
integrand is 1. The quadrature error is below 1e-11 of K for n from 0.07 to 1 (1e-10 at 0.03),
so q = -dOmega/dA holds to that. Costs about ten Sips terms. Far above saturation the loading tends to q_s.
Parameters in the row from SLOT_PARAMETERS on: q_s [kg/kg], ln(b0 Pa) [1], Q [K], n0 [1], c [K].
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.compiled import njit
from welkinwell.constants import GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.moist_air.saturation import log_saturation_pressure
from welkinwell.sorbents.row import FORM_TOTH, SLOT_COUNT, SLOT_FORM, SLOT_PARAMETERS

SMALLEST_EXPONENT: Final = 0.03
LARGEST_EXPONENT: Final = 1.0  # steeper forms would need a finer quadrature
DRIEST: Final = 1e-12
_POWER: Final = 6.0
_EDGE: Final = -2.0  # from here on the integral runs in y, in panels up to 2, 10 and the level
_LEVEL: Final = 32.0  # beyond, 1 - sigma is below 2e-14
_RAW_NODES, _RAW_WEIGHTS = np.polynomial.legendre.leggauss(16)
_NODES: Final = tuple(0.5 * (_RAW_NODES + 1.0))
_WEIGHTS: Final = tuple(0.5 * _RAW_WEIGHTS)
_LOG_NODES: Final = tuple(np.log(0.5 * (_RAW_NODES + 1.0)))


def fill_row(
    row: NDArray[np.float64],
    saturation: float,
    affinity: float,
    energy: float,
    exponent: float,
    exponent_slope: float,
) -> None:
    """Write the parameters into a row.

    Args: row [1]; saturation: q_s [kg/kg]; affinity: b0 [1/Pa]; energy: Q [K]; exponent: n0 [1];
    exponent_slope: c [K].
    """
    row[SLOT_FORM] = FORM_TOTH
    row[SLOT_COUNT] = 1
    row[SLOT_PARAMETERS : SLOT_PARAMETERS + 5] = (
        saturation,
        math.log(affinity),
        energy,
        exponent,
        exponent_slope,
    )


@njit(cache=True)
def _softplus(y):
    return max(y, 0.0) + math.log1p(math.exp(-abs(y)))


@njit(cache=True)
def sigmoid_integrals(Y, a):
    """Return K(Y, a) = integral of sigma^a to Y, with its first and second slope in a.

    Args: Y [1]; a > 0 [1]. Returns: K, dK/da, d2K/da2 [1].
    """
    low = min(Y, _EDGE)
    k = _POWER / a
    log_edge = -_softplus(-low)
    front = k * math.exp(a * log_edge)
    K = 0.0
    K_a = 0.0
    K_aa = 0.0
    for i in range(16):
        log_sigma = log_edge + k * _LOG_NODES[i]
        part = _WEIGHTS[i] * _NODES[i] ** 5 * front / (-math.expm1(log_sigma))
        K += part
        K_a += part * log_sigma
        K_aa += part * log_sigma * log_sigma
    if Y > _EDGE:
        begin = _EDGE
        for panel in range(3):
            end = min(Y, 2.0 if panel == 0 else (10.0 if panel == 1 else _LEVEL))
            if end <= begin:
                break
            for i in range(16):
                log_sigma = -math.log1p(math.exp(-(begin + (end - begin) * _NODES[i])))
                part = (end - begin) * _WEIGHTS[i] * math.exp(a * log_sigma)
                K += part
                K_a += part * log_sigma
                K_aa += part * log_sigma * log_sigma
            begin = end
        K += max(Y - _LEVEL, 0.0)
    return K, K_a, K_aa


@njit(cache=True)
def _log_pressure_terms(row, A, T):
    """Return ln x = ln(b p) with its slopes L_T and L_TT at constant A."""
    log_p, slope = log_saturation_pressure(T)
    step = 0.003
    curve = (log_saturation_pressure(T + step)[1] - log_saturation_pressure(T - step)[1]) / (2.0 * step)
    Q = row[SLOT_PARAMETERS + 2]
    AR = A / GAS_CONSTANT
    L = row[SLOT_PARAMETERS + 1] + log_p + (Q - AR) / T
    L_T = slope - (Q - AR) / (T * T)
    L_TT = curve + 2.0 * (Q - AR) / (T * T * T)
    return L, L_T, L_TT


@njit(cache=True)
def sorbed_state(row, A, T):
    """Return loading, its two slopes, the excess enthalpy and its slope (see `potential.sorbed_state`).

    Args: row [1]; A [J/mol]; T [K].
    Returns: q [kg/kg], dq/dA [kg mol/(kg J)], dq/dT [1/K], E [J/kg dry], dE/dT at constant A [J/(kg K)].
    """
    saturation = row[SLOT_PARAMETERS]
    c = row[SLOT_PARAMETERS + 4]
    n = row[SLOT_PARAMETERS + 3] + c / T
    n_T = -c / (T * T)
    n_TT = 2.0 * c / (T * T * T)
    L, L_T, L_TT = _log_pressure_terms(row, A, T)
    Y = n * L
    K, K_a, K_aa = sigmoid_integrals(Y, 1.0 / n)
    log_v = -_softplus(-Y)  # v = theta^n = sigma(Y)
    rest = math.exp(-_softplus(Y))  # 1 - v
    theta = math.exp(log_v / n)
    theta_L = theta * rest
    theta_n = theta * (rest * L / n - log_v / (n * n))
    # slopes of I(L, n) = K(n L, 1/n) / n; the slope in L is theta itself
    K_n = theta * L - K_a / (n * n)
    K_an = theta * log_v * L - K_aa / (n * n)
    integral = K / n
    I_n = -K / (n * n) + K_n / n
    I_nn = 2.0 * K / n**3 - K_n / n**2 - theta * L / n**2 + theta_n * L / n + 3.0 * K_a / n**4 - K_an / n**3
    I_T = theta * L_T + I_n * n_T
    theta_T = theta_L * L_T + theta_n * n_T
    I_TT = theta_T * L_T + theta * L_TT + (theta_n * L_T + I_nn * n_T) * n_T + I_n * n_TT
    RT = GAS_CONSTANT * T
    omega = RT * integral
    omega_T = GAS_CONSTANT * integral + RT * I_T
    omega_TT = 2.0 * GAS_CONSTANT * I_T + RT * I_TT
    loading = saturation * theta
    loading_T = saturation * theta_T
    enthalpy = -(A * loading + saturation * (omega - T * omega_T)) / WATER_MOLAR_MASS
    enthalpy_T = -(A * loading_T - T * saturation * omega_TT) / WATER_MOLAR_MASS
    return loading, -saturation * theta_L / RT, loading_T, enthalpy, enthalpy_T


@njit(cache=True)
def largest_loading(row, T):
    """Return q_s, which the loading approaches far above saturation.

    Args: row [1]; T [K], without effect. Returns: loading [kg/kg].
    """
    return row[SLOT_PARAMETERS]


@njit(cache=True)
def potential_at_loading(row, q, T, guess):
    """Return the potential at a loading: ln x = ln theta - ln(1 - theta^n) / n.

    Args: row [1]; q: loading, clipped into the open range [kg/kg]; T [K]; guess: not needed [J/mol].
    Returns: A [J/mol].
    """
    n = row[SLOT_PARAMETERS + 3] + row[SLOT_PARAMETERS + 4] / T
    log_theta = math.log(min(max(q / row[SLOT_PARAMETERS], DRIEST), 1.0 - DRIEST))
    L = log_theta - math.log(-math.expm1(n * log_theta)) / n
    at_saturation = _log_pressure_terms(row, 0.0, T)[0]
    return GAS_CONSTANT * T * (at_saturation - L)
