"""The row of numbers that stands for one sorbent inside the compiled march.

A sorbent is a float64 array of ROW_LENGTH numbers: the form of its isotherm, its kinetics and the
form's own parameters. A new data sheet is a new row, so it never recompiles anything. The rate is
scaled by scaling the diffusivity slot; a grain or layer size is changed in the length slot.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

ROW_LENGTH: Final = 56
PARAMETERS_END: Final = 54

SLOT_FORM: Final = 0  # which form (FORM_...), a whole number
SLOT_COUNT: Final = 1  # number of terms of the form, a whole number
SLOT_SHAPE_FACTOR: Final = 2  # F of the linear driving force: 15 sphere, 3 one-sided slab [1]
SLOT_DIFFUSIVITY: Final = 3  # D0, diffusivity at infinite temperature [m2/s]
SLOT_ACTIVATION_ENERGY: Final = 4  # Ea [J/mol]
SLOT_DIFFUSION_LENGTH: Final = 5  # grain radius, or thickness of a slab wetted on one side [m]
SLOT_HYSTERESIS: Final = 6  # width w: release follows q(A - w), one heat surface serves both [J/mol]
SLOT_RATE_LAW: Final = 7  # what drives the uptake (RATE_...), a whole number
SLOT_PARAMETERS: Final = 8  # the form's own parameters, up to PARAMETERS_END
SLOT_LOADING_EXPONENT: Final = 54  # c of D = D(T) exp(c w / (1 + w)) [1]
SLOT_SWELLING: Final = 55  # v of the layer's thickness L (1 + v w) [1]

RATE_CONSTANT: Final = 0  # k(T) times the distance from equilibrium in loading
RATE_BY_LOADING: Final = 1  # k(T, w) times the same
RATE_BY_POTENTIAL: Final = 2  # k(T, w) w times the distance in potential over R T (Darken)

FORM_SIPS_TERMS: Final = 0
FORM_TOTH: Final = 1
FORM_DUBININ_ASTAKHOV: Final = 2
FORM_SIPS_SITES: Final = 3  # dual-site Sips and dual-site Langmuir
FORM_GAB: Final = 4
FORM_FREUNDLICH: Final = 5
FORM_SALT_HYDRATES: Final = 6


def empty_row() -> NDArray[np.float64]:
    """Return a row of zeros to be filled by a form and by the kinetics.

    Returns: row [1], shape (ROW_LENGTH,).
    """
    return np.zeros(ROW_LENGTH)
