"""Uptake where it is more than k(T) (q - w): two branches, and rates that follow the loading.

With A_w the potential at which the uptake branch holds w, q(A_w) = w, and A that of the vapour,
    dw/dt = k(T, w) (q(B) - w),   B = A_w + g(A - A_w).

Hysteresis. Uptake follows q(A), release follows q(A - width): the branches differ in pressure only and
share one enthalpy surface, that of uptake. Between them water is neither taken up nor given off,
    g(x) = s [softplus((x - width)/s - 3) - softplus(-x/s - 3)],   s = 0.01 width,
which is nothing inside the band and x or x - width outside. The tails are exponential, since any sharper
corner makes a solver chatter: between a decoupled and a coupled pore lies a factor of a thousand in g'. With
the corners 3 s outside, litres meet those of a sharp band to 0.3 %. Paths inside the band are straight, from
branch to branch; those of a real solid are rounder. Without hysteresis g(x) = x and B = A.

Rates. k(T, w) = F D0 exp(-Ea / (R T)) exp(c w / (1 + w)) / (L^2 (1 + v w)^2): the diffusivity grows with
the share of water in the sorbent, by exp(c) from dry to all water (the exponential law of Crank1975), and
a layer that swells by v of its dry volume for each kg/kg is the thicker way. By potential,
    dw/dt = k(T, w) (w + q(B))/2 (A_w - B) / (R T),
the driving force is that of Darken1948: near equilibrium it is k G (q - w) with the thermodynamic factor
G = d ln p / d ln w of the sheet's own isotherm, below one on a step and far above one where the sorbent is
full. D0 is then the corrected diffusivity, at G = 1.
"""

from __future__ import annotations

import math
from typing import Final

from welkinwell.compiled import njit
from welkinwell.constants import GAS_CONSTANT
from welkinwell.sorbents.kinetics import uptake_rate
from welkinwell.sorbents.potential import potential_at_loading, sorbed_state
from welkinwell.sorbents.row import (
    RATE_BY_POTENTIAL,
    SLOT_ACTIVATION_ENERGY,
    SLOT_HYSTERESIS,
    SLOT_LOADING_EXPONENT,
    SLOT_RATE_LAW,
    SLOT_SWELLING,
)

CORNER: Final = 0.01  # s over the width of the hysteresis; numerical width
OUTWARD: Final = 3.0  # by how many s the corners lie outside, so that both branches are met; the same


@njit(cache=True)
def between_branches(x, width):
    """Return how far the vapour lies beyond the nearer branch, g(x), and its slope.

    Args: x: A - A_w [J/mol]; width: of the hysteresis [J/mol].
    Returns: g [J/mol]: negative where water is taken up, positive where it is given off; slope [1].
    """
    if width <= 0.0:
        return x, 1.0
    s = CORNER * width
    up, up_x = _softplus(-x / s - OUTWARD)
    down, down_x = _softplus((x - width) / s - OUTWARD)
    return s * (down - up), down_x + up_x


@njit(cache=True)
def _softplus(z):
    """Return ln(1 + exp(z)) and its slope."""
    e = math.exp(-abs(z))
    slope = 1.0 / (1.0 + e)
    return max(z, 0.0) + math.log1p(e), slope if z > 0.0 else e * slope


@njit(cache=True)
def rate_at_loading(row, T, w):
    """Return k(T, w) and its slopes; `uptake_rate` where the sheet names neither exponent nor swelling.

    Args: row [1]; T [K]; w: loading [kg/kg]. Returns: k [1/s], in T [1/(s K)], in w [1/s].
    """
    k = uptake_rate(row, T)
    held = max(w, 0.0)
    wet = 1.0 + held
    thick = 1.0 + row[SLOT_SWELLING] * held
    k *= math.exp(row[SLOT_LOADING_EXPONENT] * held / wet) / (thick * thick)
    by_w = row[SLOT_LOADING_EXPONENT] / (wet * wet) - 2.0 * row[SLOT_SWELLING] / thick
    return k, k * row[SLOT_ACTIVATION_ENERGY] / (GAS_CONSTANT * T * T), k * by_w if w > 0.0 else 0.0


@njit(cache=True)
def rate_near_equilibrium(row, T, w):
    """Return the k of dw/dt = k (q - w) for a small distance, with the thermodynamic factor by potential.

    Args: row [1]; T [K]; w: loading [kg/kg]. Returns: k [1/s].
    """
    k = rate_at_loading(row, T, w)[0]
    if row[SLOT_RATE_LAW] == RATE_BY_POTENTIAL:
        A = potential_at_loading(row, w, T, 3000.0)
        k *= w / (GAS_CONSTANT * T * max(-sorbed_state(row, A, T)[1], 1e-30))
    return k


@njit(cache=True)
def uptake(row, A, T, w):
    """Return the uptake dw/dt and its slopes for a row with hysteresis or a rate law.

    Args: row [1]; A: potential of the vapour in the pores [J/mol]; T [K]; w: loading [kg/kg].
    Returns: dw/dt [1/s], in A [mol/(J s)], in T at constant A [1/(s K)], in w [1/s].
    """
    k, k_T, k_w = rate_at_loading(row, T, w)
    A_w = potential_at_loading(row, w, T, A)
    held, h_A, h_T, _, _ = sorbed_state(row, A_w, T)
    steep = h_A < -1e-30
    # a loading that the form cannot hold is clipped, and then no longer moves A_w
    A_w_w = 1.0 / h_A if steep and abs(held - w) < 1e-9 * (1.0 + abs(w)) else 0.0
    A_w_T = -h_T / h_A if steep else 0.0
    g, g_x = between_branches(A - A_w, row[SLOT_HYSTERESIS])
    B = A_w + g
    # slopes of B in A, T and w
    B_T = (1.0 - g_x) * A_w_T
    B_w = (1.0 - g_x) * A_w_w
    q, q_A, q_T, _, _ = sorbed_state(row, B, T)
    if row[SLOT_RATE_LAW] == RATE_BY_POTENTIAL:
        per = 1.0 / (GAS_CONSTANT * T)
        mean = 0.5 * (max(w, 0.0) + q)
        drive = -mean * g * per
        by_A = -(0.5 * q_A * g_x * g + mean * g_x) * per
        by_T = -(0.5 * (q_T + q_A * B_T) * g - mean * g_x * A_w_T) * per - drive / T
        by_w = -(0.5 * ((1.0 if w > 0.0 else 0.0) + q_A * B_w) * g - mean * g_x * A_w_w) * per
    else:
        drive = q - w
        by_A = q_A * g_x
        by_T = q_T + q_A * B_T
        by_w = q_A * B_w - 1.0
    return k * drive, k * by_A, k_T * drive + k * by_T, k_w * drive + k * by_w
