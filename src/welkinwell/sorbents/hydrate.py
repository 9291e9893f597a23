"""Salts with hydrates, deliquescence and solution, alone or in a host: the stable phase wins.

Each phase has its own potential per kg of dry salt,
    anhydrous salt   Omega = 0
    a hydrate        Omega = g_h(T) - q_h A,                q_h = n M_w / M_salt, fixed water
    the solution     Omega = g_s(T) + sum_k q_k s_k ln(1 + exp(-(A - A_k(T)) / s_k))   (Sips terms)
and the stable one is that with the greatest potential (the least free energy). Hydrate steps and
deliquescence are where two are equal. The maximum is smoothed,
    Omega(A, T) = e ln sum_i exp(Omega_i / e) - e ln(1 + exp(g_s / e)) + host terms,
the second part taking away what the smoothing leaves where all is dry,
so that loading q = sum_i share_i q_i rises everywhere and all slopes exist; a step of size dq then has
the form of one Sips term of width e / dq. Its 12 to 88 % rise takes 4 e / (R T dq) of the humidity itself:
1 % RH or less at a step near 0.3 for e = 8 J/mol. Equilibrium is always the stable phase: a real salt
may stay liquid below its deliquescence for hours, and some lower hydrates form slowly.
g(T) = g0 + g1 t + g2 t^2 with t = T - 298.15 K. In the row from SLOT_PARAMETERS on: number of hydrates,
number of host terms, e [J/mol], g of the solution (3); then SLOT_COUNT solution terms of four numbers
(q_k, A_k, s_k, beta_k), hydrates of four (q_h [kg/kg], g0 [J/mol], g1 [J/(mol K)], g2 [J/(mol K2)]; each
g is per mole of water and per kg of water per kg of salt), host terms of four.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.compiled import njit
from welkinwell.constants import WATER_MOLAR_MASS
from welkinwell.sorbents import sips_terms
from welkinwell.sorbents.row import FORM_SALT_HYDRATES, PARAMETERS_END, SLOT_COUNT, SLOT_FORM, SLOT_PARAMETERS

REFERENCE_TEMPERATURE: Final = 298.15  # K
SLOT_OFFSET_CURVE: Final = SLOT_PARAMETERS + 5  # g2 of the solution [J/(mol K2)]
FIRST_GROUP: Final = SLOT_PARAMETERS + 6
LARGEST_COUNT: Final = (PARAMETERS_END - FIRST_GROUP) // 4  # solution terms, hydrates and host terms together
DRIEST: Final = 1e-12

Four = tuple[float, float, float, float]


def fill_row(
    row: NDArray[np.float64],
    solution: Sequence[Four],
    solution_offset: tuple[float, float, float],
    hydrates: Sequence[Four],
    smoothing: float,
    host: Sequence[Four] = (),
) -> None:
    """Write a salt into a row.

    Args: row [1]; solution: Sips terms (q_k [kg/kg], A_k [J/mol], s_k [J/mol], beta_k [J/(mol K)]);
    solution_offset: g0 [J/mol], g1 [J/(mol K)], g2 [J/(mol K2)]; hydrates: (q_h [kg/kg], g0, g1, g2);
    smoothing: e [J/mol]; host: Sips terms of what carries the salt.
    """
    groups = [*solution, *hydrates, *host]
    if len(groups) > LARGEST_COUNT:
        raise ValueError(f"{len(groups)} groups; a row holds {LARGEST_COUNT}")
    row[SLOT_FORM] = FORM_SALT_HYDRATES
    row[SLOT_COUNT] = len(solution)
    row[SLOT_PARAMETERS:FIRST_GROUP] = (len(hydrates), len(host), smoothing, *solution_offset)
    row[FIRST_GROUP : FIRST_GROUP + 4 * len(groups)] = np.asarray(groups, dtype=np.float64).ravel()


@njit(cache=True)
def _sum_of_terms(row, slot, count, A, T):
    """Return the potential of Sips terms and its slopes: omega, q, omega_T, q_A, q_T, omega_TT."""
    omega = 0.0
    q = 0.0
    omega_T = 0.0
    q_A = 0.0
    q_T = 0.0
    omega_TT = 0.0
    t = T - REFERENCE_TEMPERATURE
    for _ in range(count):
        width = row[slot + 2]
        beta = row[slot + 3]
        u = (A - row[slot + 1] - beta * t) / width
        e = math.exp(-abs(u))
        share = 1.0 / (1.0 + e)
        filled = row[slot] * (e * share if u > 0.0 else share)
        slope = row[slot] * e * share * share / width
        omega += row[slot] * width * (math.log1p(e) - min(u, 0.0))
        q += filled
        omega_T += filled * beta
        q_A -= slope
        q_T += slope * beta
        omega_TT += slope * beta * beta
        slot += 4
    return omega, q, omega_T, q_A, q_T, omega_TT


@njit(cache=True)
def _above_dry(g, e):
    """Return the smoothed maximum of g and 0 over a width e, and its slope in g."""
    kept = math.exp(-abs(g) / e)
    return e * math.log1p(kept) + max(g, 0.0), (1.0 if g > 0.0 else kept) / (1.0 + kept)


@njit(cache=True)
def _highest_phase(row, slot, hydrates, A, t, top):
    """Return the highest of `top` and the potentials of the hydrates that begin at a slot."""
    for _ in range(hydrates):
        top = max(top, row[slot + 1] + t * (row[slot + 2] + t * row[slot + 3]) - row[slot] * A)
        slot += 4
    return top


@njit(cache=True)
def sorbed_state(row, A, T):
    """Return loading, its two slopes, the excess enthalpy and its slope (see `potential.sorbed_state`).

    Slopes of the smoothed maximum: the mean of the phases' slopes by share, and for the second ones their
    covariance over e besides.
    Args: row [1]; A [J/mol]; T [K].
    Returns: q [kg/kg], dq/dA [kg mol/(kg J)], dq/dT [1/K], E [J/kg dry], dE/dT at constant A [J/(kg K)].
    """
    t = T - REFERENCE_TEMPERATURE
    count = int(row[SLOT_COUNT])
    hydrates = int(row[SLOT_PARAMETERS])
    hosts = int(row[SLOT_PARAMETERS + 1])
    e = row[SLOT_PARAMETERS + 2]
    g1 = row[SLOT_PARAMETERS + 4]
    g2 = row[SLOT_PARAMETERS + 5]
    top, q_s, top_T, s_A, s_T, s_TT = _sum_of_terms(row, FIRST_GROUP, count, A, T)
    top += row[SLOT_PARAMETERS + 3] + t * (g1 + t * g2)
    top_T += g1 + 2.0 * g2 * t
    s_TT += 2.0 * g2
    solution = top
    # what the smoothed maximum keeps of the solution where there is no water: dry salt holds no excess
    g_s = row[SLOT_PARAMETERS + 3] + t * (g1 + t * g2)
    g_T = g1 + 2.0 * g2 * t
    dry, dry_share = _above_dry(g_s, e)
    slot = FIRST_GROUP + 4 * count
    top = _highest_phase(row, slot, hydrates, A, t, max(top, 0.0))
    # the solution, then the anhydrous salt, then the hydrates
    x = math.exp((solution - top) / e)
    total = x + math.exp(-top / e)
    q = x * q_s
    w_T = x * top_T
    qq = x * q_s * q_s
    qT = x * q_s * top_T
    TT = x * top_T * top_T
    q_A = x * s_A
    q_T = x * s_T
    omega_TT = x * s_TT
    for _ in range(hydrates):
        water = row[slot]
        slope = row[slot + 2] + 2.0 * t * row[slot + 3]
        x = math.exp((row[slot + 1] + t * (row[slot + 2] + t * row[slot + 3]) - water * A - top) / e)
        total += x
        q += x * water
        w_T += x * slope
        qq += x * water * water
        qT += x * water * slope
        TT += x * slope * slope
        omega_TT += x * 2.0 * row[slot + 3]
        slot += 4
    q /= total
    w_T /= total
    omega = top + e * math.log(total) - dry
    q_A = q_A / total - max(qq / total - q * q, 0.0) / e
    q_T = q_T / total + (q * w_T * -1.0 + qT / total) / e
    omega_TT = omega_TT / total + (TT / total - w_T * w_T) / e
    w_T -= dry_share * g_T
    omega_TT -= dry_share * (2.0 * g2 + (1.0 - dry_share) * g_T * g_T / e)
    if hosts > 0:
        h_O, h_q, h_T, h_A, h_qT, h_TT = _sum_of_terms(row, slot, hosts, A, T)
        omega += h_O
        q += h_q
        w_T += h_T
        q_A += h_A
        q_T += h_qT
        omega_TT += h_TT
    enthalpy = -(A * q + omega - T * w_T) / WATER_MOLAR_MASS
    enthalpy_T = -(A * q_T - T * omega_TT) / WATER_MOLAR_MASS
    return q, q_A, q_T, enthalpy, enthalpy_T


@njit(cache=True)
def saturation_potential(row, T):
    """Return the potential at which the solution is saturated: as much of it as of the best solid.

    By bisection in A, since the solution holds more water than every solid that it can meet.
    Args: row [1]; T [K]. Returns: A [J/mol].
    """
    t = T - REFERENCE_TEMPERATURE
    count = int(row[SLOT_COUNT])
    offset = row[SLOT_PARAMETERS + 3] + t * (row[SLOT_PARAMETERS + 4] + t * row[SLOT_PARAMETERS + 5])
    low = 0.0
    high = 30000.0
    for _ in range(60):
        A = 0.5 * (low + high)
        solid = 0.0
        slot = FIRST_GROUP + 4 * count
        for _ in range(int(row[SLOT_PARAMETERS])):
            solid = max(solid, row[slot + 1] + t * (row[slot + 2] + t * row[slot + 3]) - row[slot] * A)
            slot += 4
        if offset + _sum_of_terms(row, FIRST_GROUP, count, A, T)[0] > solid:
            low = A
        else:
            high = A
    return 0.5 * (low + high)


def solution_row(row: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the row of the solution alone, with what its host holds: metastable where crystals form.

    Args: row: of a salt with hydrates [1]. Returns: row of Sips terms with the same kinetics [1].
    """
    count, hydrates = int(row[SLOT_COUNT]), int(row[SLOT_PARAMETERS])
    hosts = int(row[SLOT_PARAMETERS + 1])
    groups = row[FIRST_GROUP:PARAMETERS_END]
    terms = [*range(count), *range(count + hydrates, count + hydrates + hosts)]
    made = row.copy()
    made[SLOT_PARAMETERS:PARAMETERS_END] = 0.0
    sips_terms.fill_row(made, [tuple(groups[4 * k : 4 * k + 4]) for k in terms])
    made.flags.writeable = False
    return made


@njit(cache=True)
def largest_loading(row, T):
    """Return the sum of the capacities of solution and host, approached far above saturation.

    Args: row [1]; T [K], without effect. Returns: loading [kg/kg].
    """
    count = int(row[SLOT_COUNT])
    hydrates = int(row[SLOT_PARAMETERS])
    total = 0.0
    for k in range(count):
        total += row[FIRST_GROUP + 4 * k]
    for k in range(int(row[SLOT_PARAMETERS + 1])):
        total += row[FIRST_GROUP + 4 * (count + hydrates + k)]
    return total


@njit(cache=True)
def potential_at_loading(row, q, T, guess):
    """Return the potential at a loading, by Newton on ln(q / (total - q)) in a growing bracket.

    Args: row [1]; q: loading, clipped into the open range [kg/kg]; T [K]; guess: A [J/mol].
    Returns: A [J/mol].
    """
    total = largest_loading(row, T)
    q = min(max(q, DRIEST * total), (1.0 - DRIEST) * total)
    goal = math.log(q / (total - q))
    A = min(max(guess, -2e4), 1e5)
    low = -math.inf
    high = math.inf
    stride = 500.0
    last = math.inf
    for _ in range(200):
        found, slope = sorbed_state(row, A, T)[:2]
        rest = total - found
        if found <= 0.0:
            miss = -math.inf
        elif rest <= 0.0:
            miss = math.inf
        else:
            miss = math.log(found / rest) - goal
        if miss > 0.0:
            low = A
        else:
            high = A
        if low == -math.inf or high == math.inf:
            new = A + stride if miss > 0.0 else A - stride
            stride *= 2.0
        else:
            new = math.inf
            if slope < 0.0 and math.isfinite(miss):
                new = A - miss * found * rest / (slope * total)
            if not (low < new < high) or abs(miss) > 0.5 * last:
                new = 0.5 * (low + high)  # steps and plateaus alternate, so halving is often needed
            if abs(new - A) <= 2e-14 * (abs(A) + 1000.0) or high - low <= 1e-13 * (abs(A) + 1000.0):
                return new
        last = abs(miss)
        A = new
    return A
