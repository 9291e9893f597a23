"""Uptake by a linear driving force with an Arrhenius rate.

dq/dt = k (q_equilibrium - q),   k = F D0 exp(-Ea / (R T)) / L^2   (Glueckauf1955)
F = 15 for grains of radius L; F = 3 for a slab of thickness L open on one side, for which 3 D / L^2
matches the slab's mean uptake in the same way. Film and layer resistances outside the grain stand in
series in the bed. For a slab the rate already covers the way through the layer.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from welkinwell.constants import GAS_CONSTANT
from welkinwell.sorbents.row import (
    SLOT_ACTIVATION_ENERGY,
    SLOT_DIFFUSION_LENGTH,
    SLOT_DIFFUSIVITY,
    SLOT_SHAPE_FACTOR,
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


@njit(cache=True)
def uptake_rate(row, T):
    """Return the linear-driving-force rate k = F D0 exp(-Ea / (R T)) / L^2.

    Args: row [1]; T [K]. Returns: k [1/s].
    """
    length = row[SLOT_DIFFUSION_LENGTH]
    diffusivity = row[SLOT_DIFFUSIVITY] * math.exp(-row[SLOT_ACTIVATION_ENERGY] / (GAS_CONSTANT * T))
    return row[SLOT_SHAPE_FACTOR] * diffusivity / (length * length)
