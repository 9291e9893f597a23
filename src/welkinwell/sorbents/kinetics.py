"""Uptake by a linear driving force with an Arrhenius rate.

dq/dt = k (q_equilibrium - q),   k = F D0 exp(-Ea / (R T)) / L^2   (Glueckauf1955)
F = 15 for grains of radius L; F = 3 for a slab of thickness L open on one side, for which 3 D / L^2
matches the slab's mean uptake in the same way. Film and layer resistances outside the grain stand in
series in the bed. For a slab the rate already covers the way through the layer. Rates that follow the
loading, and two branches, are in `uptake`.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.compiled import njit
from welkinwell.constants import GAS_CONSTANT
from welkinwell.kernels.marks import written_out
from welkinwell.sorbents.row import (
    RATE_BY_LOADING,
    RATE_BY_POTENTIAL,
    RATE_CONSTANT,
    SLOT_ACTIVATION_ENERGY,
    SLOT_DIFFUSION_LENGTH,
    SLOT_DIFFUSIVITY,
    SLOT_LOADING_EXPONENT,
    SLOT_RATE_LAW,
    SLOT_SHAPE_FACTOR,
    SLOT_SWELLING,
)

SHAPE_FACTORS: Final = {"sphere": 15.0, "slab": 3.0}


def fill_kinetics(
    row: NDArray[np.float64], shape: str, diffusivity: float, activation_energy: float, length: float
) -> None:
    """Write the kinetics into a row.

    Args: row [1]; shape: a key of SHAPE_FACTORS; diffusivity: D0 [m2/s]; activation_energy: Ea [J/mol];
    length: grain radius or slab thickness L [m].
    """
    row[SLOT_SHAPE_FACTOR] = SHAPE_FACTORS[shape]
    row[SLOT_DIFFUSIVITY] = diffusivity
    row[SLOT_ACTIVATION_ENERGY] = activation_energy
    row[SLOT_DIFFUSION_LENGTH] = length


def fill_rate_law(
    row: NDArray[np.float64], by_potential: bool, loading_exponent: float, swelling: float
) -> None:
    """Write into a row how the rate follows the loading (`uptake`).

    Args: row [1]; by_potential: whether the distance in potential drives; loading_exponent: c [1]; swelling:
    v, dry volumes gained for each kg/kg [1].
    """
    row[SLOT_LOADING_EXPONENT] = loading_exponent
    row[SLOT_SWELLING] = swelling
    by_loading = RATE_BY_LOADING if loading_exponent or swelling else RATE_CONSTANT
    row[SLOT_RATE_LAW] = RATE_BY_POTENTIAL if by_potential else by_loading


@written_out
@njit(cache=True)
def uptake_rate(row, T):
    """Return the linear-driving-force rate k = F D0 exp(-Ea / (R T)) / L^2.

    Args: row [1]; T [K]. Returns: k [1/s].
    """
    length = row[SLOT_DIFFUSION_LENGTH]
    diffusivity = row[SLOT_DIFFUSIVITY] * math.exp(-row[SLOT_ACTIVATION_ENERGY] / (GAS_CONSTANT * T))
    return row[SLOT_SHAPE_FACTOR] * diffusivity / (length * length)
