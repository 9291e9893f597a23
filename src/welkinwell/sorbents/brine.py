"""Equilibrium of lithium chloride brine, from which salt sorbents get their loading.

Conde2004 gives the vapour pressure of the brine relative to water. Its heat of dilution is not the
Clausius-Clapeyron slope of that pressure (they differ by up to 40 kJ per kg of water), so only the
pressure is used here and the heat follows from it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from numba import njit

from welkinwell.constants import GAS_CONSTANT
from welkinwell.sorbents.row import empty_row
from welkinwell.sorbents.sips_terms import fill_row, sorbed_state

CRITICAL_TEMPERATURE: Final = 647.226  # K, as Conde2004 uses it
# Conde2004, table 3, pi_0 .. pi_9 for lithium chloride (read in two independent encodings)
PI: Final = (0.28, 4.30, 0.60, 0.21, 5.10, 0.49, 0.362, -4.75, -0.40, 0.03)
LEAST_SALT: Final = 0.02
MOST_SALT: Final = 0.60
GEL_SALT_SHARE: Final = 0.94
GEL_HOST_TERMS: Final = ((0.8517, -3000.0, 4689.0, -28.5), (2.0, -918.0, 847.0, -0.1))


@njit(cache=True)
def water_activity(salt, T):
    """Return vapour pressure of lithium chloride brine over that of water, by Conde2004.

    a_w = pi_25(xi) (A + B theta), theta = T / 647.226 K, A = 2 - [1 + (xi/pi0)^pi1]^pi2,
    B = [1 + (xi/pi3)^pi4]^pi5 - 1, pi_25 = 1 - [1 + (xi/pi6)^pi7]^pi8 - pi9 exp(-(xi - 0.1)^2 / 0.005).
    Fitted range: up to the solubility limit; below xi = 0.05 it does not tend to 1 (0.996 at 0.001).
    Args: salt: mass fraction xi of salt in the brine [1]; T [K]. Returns: water activity [1].
    """
    theta = T / CRITICAL_TEMPERATURE
    a = 2.0 - (1.0 + (salt / PI[0]) ** PI[1]) ** PI[2]
    b = (1.0 + (salt / PI[3]) ** PI[4]) ** PI[5] - 1.0
    dip = PI[9] * math.exp(-((salt - 0.1) ** 2) / 0.005)
    at_25 = 1.0 - (1.0 + (salt / PI[6]) ** PI[7]) ** PI[8] - dip
    return at_25 * (a + b * theta)


@njit(cache=True)
def water_per_salt(relative_humidity, T):
    """Return kg of water that a kg of lithium chloride holds as brine in equilibrium with air.

    r = (1 - xi) / xi with a_w(xi, T) = RH by bisection; without crystals (below RH 0.11 the brine is
    supersaturated and only metastable).
    Args: relative_humidity [1]; T [K]. Returns: water per salt [kg/kg].
    """
    low = LEAST_SALT
    high = MOST_SALT
    for _ in range(60):
        middle = 0.5 * (low + high)
        if water_activity(middle, T) > relative_humidity:
            low = middle
        else:
            high = middle
    salt = 0.5 * (low + high)
    return (1.0 - salt) / salt


def gel_loading(
    relative_humidity: float,
    T: float,
    salt_share: float = GEL_SALT_SHARE,
    host_terms: Sequence[tuple[float, float, float, float]] = GEL_HOST_TERMS,
) -> float:
    """Return what a gel of lithium chloride and polymer holds: q = f r(RH, T) + (1 - f) q_host(RH, T).

    f = 0.94 meets both loadings of Graeber2023 (1.79 at RH 0.30, 3.86 at 0.70) to 1 %; the host is the
    polyacrylate of Sultan2015, a stand-in for polyacrylamide that adds under 1 %.
    Args: relative_humidity [1]; T [K]; salt_share: f, salt in the dry gel [1]; host_terms: Sips terms of
    the polymer (q_k [kg/kg], A_k [J/mol], s_k [J/mol], beta_k [J/(mol K)]).
    Returns: loading [kg/kg dry].
    """
    potential = -GAS_CONSTANT * T * math.log(relative_humidity)
    row = empty_row()
    fill_row(row, host_terms)
    host = sorbed_state(row, potential, T)[0]
    return salt_share * water_per_salt(relative_humidity, T) + (1.0 - salt_share) * host
