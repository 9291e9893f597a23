"""Water activity and mean ionic activity of dilute to moderate brines at 25 C, by Pitzer's equations.

    phi - 1 = |z z'| f + m (2 nu+ nu- / nu) B + m^2 (2 (nu+ nu-)^1.5 / nu) C_phi
    f = -A sqrt(I) / (1 + b sqrt(I)),   B = beta0 + beta1 exp(-alpha sqrt(I)),   ln a_w = -nu m M_w phi
Both activities come from one excess energy, so Gibbs-Duhem holds: d ln a_w = -m M_w d ln a_salt.
Parameters: May2011, calcium chloride Moller1988 (both read second-hand); equations: Pitzer1973.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from welkinwell.constants import WATER_MOLAR_MASS

DEBYE_HUECKEL: Final = 0.3915  # A_phi at 25 C [(kg/mol)^0.5]
B: Final = 1.2
ALPHA: Final = 2.0


@dataclass(frozen=True)
class Electrolyte:
    """Pitzer parameters of one salt, number of ions each, and the highest molality of the fit [mol/kg]."""

    beta0: float
    beta1: float
    c_phi: float
    highest: float
    cations: int = 1
    anions: int = 1

    @property
    def charge_product(self) -> int:
        """|z+ z-| of an electrically neutral salt whose other ion is single."""
        return max(self.cations, self.anions)


ELECTROLYTES: Final[Mapping[str, Electrolyte]] = {
    "sodium_chloride": Electrolyte(0.07831, 0.2677, 0.000864, 6.15),
    "lithium_chloride": Electrolyte(0.1516, 0.2975, 0.003227, 8.5),
    "calcium_chloride": Electrolyte(0.305320, 1.708132, 0.00214216, 5.0, anions=2),  # Moller1988 at 25 C
    "magnesium_chloride": Electrolyte(0.3553, 1.644, 0.005098, 5.9, anions=2),
    "lithium_bromide": Electrolyte(0.1842, 0.2363, 0.003333, 11.0),
    "potassium_chloride": Electrolyte(0.04874, 0.2215, -0.00098, 5.0),
    "potassium_carbonate": Electrolyte(0.1305, 1.606, 0.00024, 8.1, cations=2),
}


def osmotic_coefficient(salt: str, m: float) -> float:
    """Return the osmotic coefficient at 25 C.

    Args: salt: a key of ELECTROLYTES; m: molality [mol/kg]. Returns: phi [1].
    """
    e = ELECTROLYTES[salt]
    nu, product = e.cations + e.anions, e.cations * e.anions
    root = math.sqrt(_ionic_strength(e, m))
    f = -DEBYE_HUECKEL * root / (1.0 + B * root)
    b = e.beta0 + e.beta1 * math.exp(-ALPHA * root)
    return 1.0 + e.charge_product * f + m * 2.0 * product / nu * b + m * m * 2.0 * product**1.5 / nu * e.c_phi


def water_activity(salt: str, m: float) -> float:
    """Return the water activity at 25 C, exp(-nu m M_w phi).

    Args: salt: a key of ELECTROLYTES; m: molality [mol/kg]. Returns: water activity [1].
    """
    e = ELECTROLYTES[salt]
    return math.exp(-(e.cations + e.anions) * m * WATER_MOLAR_MASS * osmotic_coefficient(salt, m))


def mean_activity_coefficient(salt: str, m: float) -> float:
    """Return the mean ionic activity coefficient at 25 C.

    Args: salt: a key of ELECTROLYTES; m: molality [mol/kg]. Returns: gamma [1].
    """
    e = ELECTROLYTES[salt]
    nu, product = e.cations + e.anions, e.cations * e.anions
    strength = _ionic_strength(e, m)
    root = math.sqrt(strength)
    f = -DEBYE_HUECKEL * (root / (1.0 + B * root) + 2.0 / B * math.log(1.0 + B * root))
    y = ALPHA * root
    b = 2.0 * e.beta0 + 2.0 * e.beta1 / (y * y) * (1.0 - (1.0 + y - 0.5 * y * y) * math.exp(-y))
    third = m * m * 2.0 * product**1.5 / nu * 1.5 * e.c_phi
    return math.exp(e.charge_product * f + m * 2.0 * product / nu * b + third)


def _ionic_strength(e: Electrolyte, m: float) -> float:
    # a single ion of charge n goes with n ions of charge one
    return 0.5 * m * (e.charge_product**2 + e.charge_product)
