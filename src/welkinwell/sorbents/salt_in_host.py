"""Salt in a host that carries it: gels and pore solids, and the humidity at which brine leaves them.

    q = f r_salt(RH, T) + (1 - f) q_host(RH, T)
with f the share of salt in the dry composite. The host only adds its own water; pores shift the lower
hydrates of a salt strongly and its solution hardly (abstracts of the field), so this bound holds for the
solution. Brine leaves a pore host when its volume passes that of the pores,
    f (1 + r) / rho_brine <= v_pore (1 - f).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from welkinwell.constants import GAS_CONSTANT
from welkinwell.sorbents.brine import density, water_per_salt
from welkinwell.sorbents.row import empty_row
from welkinwell.sorbents.sips_terms import fill_row, sorbed_state

GEL_SALT_SHARE: Final = 0.93
GEL_HOST_TERMS: Final = ((0.8517, -3000.0, 4689.0, -28.5), (2.0, -918.0, 847.0, -0.1))


def composite_loading(
    relative_humidity: float,
    T: float,
    salt_share: float,
    host_terms: Sequence[tuple[float, float, float, float]],
    salt: str,
) -> float:
    """Return what a composite holds, q = f r(RH, T) + (1 - f) q_host(RH, T), without crystals.

    Args: relative_humidity [1]; T [K]; salt_share: f, salt in the dry composite [1]; host_terms: Sips
    terms of the host (q_k [kg/kg], A_k [J/mol], s_k [J/mol], beta_k [J/(mol K)]); salt: lithium_chloride or
    calcium_chloride.
    Returns: loading [kg/kg dry].
    """
    potential = -GAS_CONSTANT * T * math.log(relative_humidity)
    row = empty_row()
    fill_row(row, host_terms)
    host = sorbed_state(row, potential, T)[0]
    return salt_share * water_per_salt(salt, relative_humidity, T) + (1.0 - salt_share) * host


def gel_loading(
    relative_humidity: float,
    T: float,
    salt_share: float = GEL_SALT_SHARE,
    salt: str = "lithium_chloride",
) -> float:
    """Return what a salt gel holds; the host is the polyacrylate of Sultan2015, a stand-in for any polymer.

    The share of 0.93 is that of Graeber2023, whose loadings of lithium chloride (1.79 at RH 0.30, 3.86 at
    0.70) it meets to 2 %; the host adds under 1 % there.
    Args: relative_humidity [1]; T [K]; salt_share: f [1]; salt: as above.
    Returns: loading [kg/kg dry].
    """
    return composite_loading(relative_humidity, T, salt_share, GEL_HOST_TERMS, salt)


def leak_humidity(salt: str, salt_share: float, pore_volume: float, T: float) -> float:
    """Return the relative humidity at which the brine fills the pores, beyond which it is lost.

    Solves f (1 + r) / rho_brine(r) = v_pore (1 - f) for r and gives the activity at it, by bisection.
    Args: salt: lithium_chloride or calcium_chloride; salt_share: f [1]; pore_volume: of the host before
    filling [m3/kg of host]; T [K]. Returns: relative humidity [1].
    """
    low, high = 0.02, 0.98
    for _ in range(60):
        middle = 0.5 * (low + high)
        r = water_per_salt(salt, middle, T)
        volume = salt_share * (1.0 + r) / density(salt, 1.0 / (1.0 + r), T)
        if volume < pore_volume * (1.0 - salt_share):
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
