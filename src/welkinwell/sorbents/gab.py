"""GAB (Guggenheim, Anderson, de Boer), the published form of foods, gels and polymers, with a potential.

    q = w C K a / ((1 - K a)(1 - K a + C K a)),   a = p / p_sat = exp(-A / R T)
    Omega(A, T) = R T w [ln(1 - K a + C K a) - ln(1 - K a)]
    C = C0 exp[(D_C / R)(1/T - 1/T0)],   K = K0 exp[(D_K / R)(1/T - 1/T0)],   T0 = 298.15 K

Singular at a = 1/K, above saturation: there is no finite potential beyond. It is bounded here at
saturation: for A < 0 the loading goes on as a straight line in A with the slope that it has at A = 0, so
value, slope and heat are continuous and only the second slope jumps. K must stay below 0.98, or the
slope at saturation is not worth the name. Parameters in the row from SLOT_PARAMETERS on: w [kg/kg],
ln C0 [1], D_C [J/mol], ln K0 [1], D_K [J/mol].
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.compiled import njit
from welkinwell.constants import GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.sorbents.row import FORM_GAB, SLOT_COUNT, SLOT_FORM, SLOT_PARAMETERS

REFERENCE_TEMPERATURE: Final = 298.15  # K, T0
LARGEST_K: Final = 0.98
WETTEST: Final = -5000.0  # J/mol; the loading here counts as the largest
DRIEST: Final = 1e-12


def fill_row(
    row: NDArray[np.float64],
    monolayer: float,
    affinity: float,
    affinity_energy: float,
    multilayer: float,
    multilayer_energy: float,
) -> None:
    """Write the parameters into a row.

    Args: row [1]; monolayer: w [kg/kg]; affinity: C at 298.15 K [1]; affinity_energy: D_C [J/mol];
    multilayer: K at 298.15 K [1]; multilayer_energy: D_K [J/mol].
    """
    row[SLOT_FORM] = FORM_GAB
    row[SLOT_COUNT] = 1
    row[SLOT_PARAMETERS : SLOT_PARAMETERS + 5] = (
        monolayer,
        math.log(affinity),
        affinity_energy,
        math.log(multilayer),
        multilayer_energy,
    )


@njit(cache=True)
def _state_below(row, A, T):
    """Return q with slopes (q_A, q_AA, q_T, q_AT, q_TT, q_ATT) and Omega with two slopes in T, for A >= 0."""
    w = row[SLOT_PARAMETERS]
    R = GAS_CONSTANT
    inverse = 1.0 / T - 1.0 / REFERENCE_TEMPERATURE
    C = math.exp(row[SLOT_PARAMETERS + 1] + row[SLOT_PARAMETERS + 2] / R * inverse)
    X = math.exp(row[SLOT_PARAMETERS + 3] + row[SLOT_PARAMETERS + 4] / R * inverse - A / (R * T))
    # u = ln X and c = ln C as functions of (A, T)
    u_A = -1.0 / (R * T)
    u_AT = 1.0 / (R * T * T)
    u_ATT = -2.0 / (R * T * T * T)
    u_T = (A - row[SLOT_PARAMETERS + 4]) / (R * T * T)
    u_TT = -2.0 * u_T / T
    c_T = -row[SLOT_PARAMETERS + 2] / (R * T * T)
    c_TT = -2.0 * c_T / T
    P = 1.0 / (1.0 - X)
    Z = 1.0 / (1.0 - X + C * X)
    # g = q / w = dG/du = C X P Z with G = ln(1 - X + C X) - ln(1 - X)
    G = math.log1p(C * X * P)
    g = C * X * P * Z
    # r = d ln g / du, its own slopes, and the slopes of ln g in c
    r = 1.0 + X * P - (C - 1.0) * X * Z
    r_u = X * P * P - (C - 1.0) * X * Z * Z
    r_uu = X * P * P * (1.0 + 2.0 * X * P) - (C - 1.0) * X * Z * Z * (1.0 - 2.0 * (C - 1.0) * X * Z)
    m = (1.0 - X) * Z  # d ln g / dc = 1 - C X Z
    m_u = -C * X * Z * Z
    m_c = -(1.0 - X) * C * X * Z * Z
    m_uu = m_u * (1.0 - 2.0 * (C - 1.0) * X * Z)
    m_uc = m_u * (1.0 - 2.0 * C * X * Z)
    G_c = C * X * Z
    G_cc = C * X * (1.0 - X) * Z * Z
    G_uc = g * m
    D = r * u_T + m * c_T  # d ln g / dT at constant A
    D_A = (r_u * u_T + m_u * c_T) * u_A + r * u_AT
    D_T = r_u * u_T * u_T + 2.0 * m_u * u_T * c_T + m_c * c_T * c_T + r * u_TT + m * c_TT
    D_AT = ((r_uu * u_T + m_uu * c_T) * u_T + (m_uu * u_T + m_uc * c_T) * c_T + r_u * u_TT + m_u * c_TT) * u_A
    D_AT += (r_u * u_T + m_u * c_T) * u_AT + (r_u * u_T + m_u * c_T) * u_AT + r * u_ATT
    q = w * g
    E = r * u_A
    q_A = q * E
    q_AA = q * (E * E + r_u * u_A * u_A)
    q_T = q * D
    q_AT = q * (E * D + D_A)
    q_TT = q * (D * D + D_T)
    q_ATT = q * (E * (D * D + D_T) + 2.0 * D * D_A + D_AT)
    G_T = g * u_T + G_c * c_T
    G_TT = g * (r * u_T * u_T + u_TT) + 2.0 * G_uc * u_T * c_T + G_cc * c_T * c_T + G_c * c_TT
    omega = R * T * w * G
    omega_T = R * w * (G + T * G_T)
    omega_TT = R * w * (2.0 * G_T + T * G_TT)
    return q, q_A, q_AA, q_T, q_AT, q_TT, q_ATT, omega, omega_T, omega_TT


@njit(cache=True)
def sorbed_state(row, A, T):
    """Return loading, its two slopes, the excess enthalpy and its slope (see `potential.sorbed_state`).

    Args: row [1]; A [J/mol]; T [K].
    Returns: q [kg/kg], dq/dA [kg mol/(kg J)], dq/dT [1/K], E [J/kg dry], dE/dT at constant A [J/(kg K)].
    """
    q, q_A, _, q_T, q_AT, q_TT, q_ATT, omega, omega_T, omega_TT = _state_below(row, max(A, 0.0), T)
    if A < 0.0:
        omega = omega - A * (q + 0.5 * A * q_A)
        omega_T = omega_T - A * (q_T + 0.5 * A * q_AT)
        omega_TT = omega_TT - A * (q_TT + 0.5 * A * q_ATT)
        q = q + A * q_A
        q_T = q_T + A * q_AT
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
    """Return the potential at a loading: the root of a quadratic in K a, or on the line above saturation.

    With t = q / w: (1 - C) t X^2 + ((C - 2) t - C) X + t = 0.
    Args: row [1]; q: loading, clipped into the open range [kg/kg]; T [K]; guess: not needed [J/mol].
    Returns: A [J/mol].
    """
    w = row[SLOT_PARAMETERS]
    q = min(max(q, DRIEST * w), (1.0 - DRIEST) * largest_loading(row, T))
    wet, slope = sorbed_state(row, 0.0, T)[:2]
    if q > wet:
        return (q - wet) / slope
    inverse = 1.0 / T - 1.0 / REFERENCE_TEMPERATURE
    C = math.exp(row[SLOT_PARAMETERS + 1] + row[SLOT_PARAMETERS + 2] / GAS_CONSTANT * inverse)
    log_K = row[SLOT_PARAMETERS + 3] + row[SLOT_PARAMETERS + 4] / GAS_CONSTANT * inverse
    t = q / w
    b = C + (2.0 - C) * t  # positive for the wanted root
    root = math.sqrt(b * b + 4.0 * (C - 1.0) * t * t)
    X = 2.0 * t / (b + root) if b > 0.0 else (root - b) / (2.0 * (C - 1.0) * t)
    return GAS_CONSTANT * T * (log_K - math.log(X))
