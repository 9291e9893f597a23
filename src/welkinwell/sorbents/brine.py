"""Brines: water activity, density, specific heat, heat of dilution and the crystallisation line.

Lithium and calcium chloride: water activity from the osmotic tables at 25 C and the heat of dilution, the
other properties by Conde2004; lithium bromide, magnesium chloride and potassium formate have only a
solubility line here; their activity stands as points beside their sheets. Conde's own vapour pressure is up
to 5 % from the tables, and its slope in temperature is not his published heat of dilution (up to 50 kJ per
kg of water apart), which calorimetry and Moller1988 support; it is kept to compare with.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from welkinwell.constants import WATER_GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.moist_air.liquid_water import liquid_density, liquid_specific_heat
from welkinwell.sorbents.osmotic import ROOM, osmotic_coefficient

CRITICAL_TEMPERATURE: Final = 647.226  # K, as Conde2004 uses it
LEAST_SALT: Final = 0.005
MOST_SALT: Final = 0.75
IONS: Final = {"lithium_chloride": 2, "calcium_chloride": 3}  # of one formula unit


@dataclass(frozen=True)
class Conde:
    """Coefficients of Conde2004 for one salt, as read in two independent encodings.

    pressure: pi_0 to pi_9; density: of powers of xi/(1 - xi); specific_heat: A, B, C, D, E of f1 and the
    salt fraction above which D + E xi holds; dilution: H1 to H6.
    """

    pressure: tuple[float, ...]
    density: tuple[float, ...]
    specific_heat: tuple[float, ...]
    dilution: tuple[float, ...]


@dataclass(frozen=True)
class Salt:
    """One salt: molar mass [kg/mol], what crystallises from its brine, and where.

    solubility: rows (coldest T [K], A0, A1, A2) of theta = A0 + A1 xi + A2 xi^2 from cold to hot, or
    rows (T [K], saturated salt fraction [1]) between which is interpolated when `table` is true.
    """

    name: str
    molar_mass: float
    solubility: tuple[tuple[float, ...], ...]
    table: bool = False
    conde: Conde | None = None


# The solubility coefficients are recalled; they reproduce five transition temperatures within 0.1 K and
# three solubilities within 0.003 (tests/published/test_brines.py)
SALTS: Final[Mapping[str, Salt]] = {
    "lithium_chloride": Salt(
        "lithium chloride",
        0.042394,
        (
            (0.0, -0.315220, 2.882480, -2.624330),  # dihydrate
            (292.28, -1.312310, 6.177670, -5.034790),  # monohydrate
            (367.05, -1.356800, 3.448540, 0.0),  # anhydrous
        ),
        conde=Conde(
            (0.28, 4.30, 0.60, 0.21, 5.10, 0.49, 0.362, -4.75, -0.40, 0.03),
            (1.0, 0.540966, -0.303792, 0.100791),
            (1.43980, -1.24317, -0.12070, 0.12825, 0.62934, 0.31),
            (0.845, -1.965, -2.265, 0.6, 169.105, 457.850),
        ),
    ),
    "calcium_chloride": Salt(
        "calcium chloride",
        0.11098,
        (
            (0.0, -0.378950, 3.456900, -3.531310),  # hexahydrate
            (302.30, -0.519970, 3.400970, -2.851290),  # tetrahydrate
            (318.2, -2.385836, 8.084829, -5.303476),  # dihydrate
            (449.45, -2.807560, 4.678250, 0.0),  # monohydrate
        ),
        conde=Conde(
            (0.31, 3.698, 0.60, 0.231, 4.584, 0.49, 0.478, -5.20, -0.40, 0.018),
            (1.0, 0.836014, -0.436300, 0.105642),
            (1.63799, -1.69002, 1.05124, 0.0, 0.0, 1.0),
            (0.855, -1.965, -2.265, 0.8, -955.690, 3011.974),
        ),
    ),
    "lithium_bromide": Salt(  # Duvall2001
        "lithium bromide",
        0.086845,
        (
            (283.15, 0.601),
            (293.15, 0.627),
            (298.15, 0.643),
            (303.15, 0.659),
            (313.15, 0.678),
            (333.15, 0.690),
        ),
        table=True,
    ),
    "magnesium_chloride": Salt(  # 5.8 mol/kg at 25 C; the rest recalled
        "magnesium chloride",
        0.095211,
        ((273.15, 0.346), (298.15, 0.356), (333.15, 0.379), (373.15, 0.423)),
        table=True,
    ),
    "potassium_formate": Salt(  # 76 to 77 % by mass at 20 to 25 C, recalled; no line in temperature is known
        "potassium formate",
        0.084116,
        ((293.15, 0.76), (298.15, 0.77)),
        table=True,
    ),
}


def water_activity(salt: str, fraction: float, T: float) -> float:
    """Return vapour pressure of a brine over that of water.

    The osmotic coefficient at 25 C (`osmotic`) carried to T by the heat of dilution (Conde2004's, which rests
    on calorimetry), as Clausius and Clapeyron ask:
        ln a_w(T) = -nu m M_w phi + integral from 298.15 K to T of dh / (R_w T^2) dT,
    with dh = (H5 + H6 theta) g(xi) in closed form. Range: 0 to 100 C, to the solubility line and, for
    metastable brine, beyond it. Against Patil1990 (lithium chloride, 30 to 70 C) it is within 1.5 %.
    Args: salt: lithium_chloride or calcium_chloride; fraction: xi [1]; T [K]. Returns: water activity [1].
    """
    m = molality(salt, fraction)
    ions = IONS[salt]
    *_, h5, h6 = _conde(salt).dilution
    growth = h5 * (1.0 / ROOM - 1.0 / T) + h6 / CRITICAL_TEMPERATURE * math.log(T / ROOM)
    carried = 1e3 * growth * _dilution_shape(salt, fraction) / WATER_GAS_CONSTANT
    return math.exp(carried - ions * m * WATER_MOLAR_MASS * osmotic_coefficient(salt, m))


def conde_water_activity(salt: str, fraction: float, T: float) -> float:
    """Return the water activity by Conde2004's vapour pressure, only to compare with.

    a_w = pi_25(xi) (A + B theta), theta = T / 647.226 K, A = 2 - [1 + (xi/pi0)^pi1]^pi2,
    B = [1 + (xi/pi3)^pi4]^pi5 - 1, pi_25 = 1 - [1 + (xi/pi6)^pi7]^pi8 - pi9 exp(-(xi - 0.1)^2 / 0.005).
    Fitted range: up to the solubility limit; below xi = 0.05 it does not tend to 1 (0.996 at 0.001).
    Args: salt: lithium_chloride or calcium_chloride; fraction: xi [1]; T [K]. Returns: water activity [1].
    """
    pi = _conde(salt).pressure
    a = 2.0 - (1.0 + (fraction / pi[0]) ** pi[1]) ** pi[2]
    b = (1.0 + (fraction / pi[3]) ** pi[4]) ** pi[5] - 1.0
    dip = pi[9] * math.exp(-((fraction - 0.1) ** 2) / 0.005)
    at_25 = 1.0 - (1.0 + (fraction / pi[6]) ** pi[7]) ** pi[8] - dip
    return at_25 * (a + b * T / CRITICAL_TEMPERATURE)


def water_per_salt(salt: str, relative_humidity: float, T: float) -> float:
    """Return kg of water that a kg of salt holds as brine in equilibrium with air.

    r = (1 - xi) / xi with a_w(xi, T) = RH by bisection; without crystals (below the crystallisation line the
    brine is supersaturated and only metastable).
    Args: salt: lithium_chloride or calcium_chloride; relative_humidity [1]; T [K].
    Returns: water per salt [kg/kg].
    """
    low, high = LEAST_SALT, MOST_SALT
    for _ in range(50):
        middle = 0.5 * (low + high)
        if water_activity(salt, middle, T) > relative_humidity:
            low = middle
        else:
            high = middle
    fraction = 0.5 * (low + high)
    return (1.0 - fraction) / fraction


def density(salt: str, fraction: float, T: float) -> float:
    """Return the density of a brine, rho_w(T) sum rho_i [xi / (1 - xi)]^i (Conde2004).

    Args: salt: lithium_chloride or calcium_chloride; fraction: xi [1]; T [K]. Returns: density [kg/m3].
    """
    ratio = fraction / (1.0 - fraction)
    powers = _conde(salt).density
    return liquid_density(T) * sum(c * ratio**k for k, c in enumerate(powers))


def specific_heat(salt: str, fraction: float, T: float) -> float:
    """Return the specific heat of a brine, c_w(T) [1 - f1(xi) f2(T)] (Conde2004, on IAPWS water).

    f2 = 58.5225 t^0.02 - 105.6343 t^0.04 + 47.7948 t^0.06, t = T / 228 K - 1.
    Args: salt; fraction: xi [1]; T [K]. Returns: specific heat [J/(kg K)].
    """
    a, b, c, d, e, edge = _conde(salt).specific_heat
    xi = fraction
    f1 = xi * (a + xi * (b + xi * c)) if xi <= edge else d + e * xi
    t = T / 228.0 - 1.0
    f2 = 58.5225 * t**0.02 - 105.6343 * t**0.04 + 47.7948 * t**0.06
    return liquid_specific_heat(T) * (1.0 - f1 * f2)


def dilution_heat(salt: str, fraction: float, T: float) -> float:
    """Return the differential heat of dilution, (H5 + H6 theta) g(xi), g = [1 + (Z / H1)^H2]^H3 (Conde2004).

    Z = xi / (H4 - xi). Args: salt; fraction: xi [1]; T [K]. Returns: heat [J/kg of water absorbed].
    """
    *_, h5, h6 = _conde(salt).dilution
    return 1e3 * (h5 + h6 * T / CRITICAL_TEMPERATURE) * _dilution_shape(salt, fraction)


def conde_slope_heat(salt: str, fraction: float, T: float) -> float:
    """Return the heat of dilution that Conde's vapour pressure asks for, R_w T^2 d(ln a_w)/dT, to compare.

    Args: salt; fraction: xi [1]; T [K]. Returns: heat [J/kg of water absorbed].
    """
    low, high = (math.log(conde_water_activity(salt, fraction, T + step)) for step in (-0.01, 0.01))
    return WATER_GAS_CONSTANT * T * T * (high - low) / 0.02


def solubility(salt: str, T: float) -> float:
    """Return the salt fraction at which crystals form.

    By Conde2004 the smaller root xi of theta = A0 + A1 xi + A2 xi^2 on the branch of the temperature; for
    the others a table, held constant outside.
    Args: salt: a key of SALTS; T [K]. Returns: salt fraction [1].
    """
    entry = SALTS[salt]
    rows = entry.solubility
    if entry.table:
        for (t0, x0), (t1, x1) in pairwise(rows):
            if T < t1:
                return x0 + (x1 - x0) * max(T - t0, 0.0) / (t1 - t0)
        return rows[-1][1]
    branch = [row for row in rows if T >= row[0]][-1]
    return branch_solubility(branch, T)


def branch_solubility(branch: tuple[float, ...], T: float) -> float:
    """Return the salt fraction in equilibrium with one hydrate, also where another is stable.

    Args: branch: a row of Salt.solubility; T [K]. Returns: salt fraction [1].
    """
    _, a0, a1, a2 = branch
    rest = a0 - T / CRITICAL_TEMPERATURE
    if a2 == 0.0:
        return -rest / a1
    inside = max(
        a1 * a1 - 4.0 * a2 * rest, 0.0
    )  # beyond the melting point of the hydrate: its own composition
    return 2.0 * -rest / (a1 + math.sqrt(inside))


def crystallisation_humidity(salt: str, T: float) -> float | None:
    """Return the relative humidity over saturated brine; below it crystals form.

    Args: salt: a key of SALTS; T [K]. Returns: relative humidity [1], None where no activity is known here.
    """
    if SALTS[salt].conde is None:
        return None
    return water_activity(salt, solubility(salt, T), T)


def molality(salt: str, fraction: float) -> float:
    """Return moles of salt per kg of water.

    Args: salt: a key of SALTS; fraction: xi [1]. Returns: molality [mol/kg].
    """
    return fraction / (1.0 - fraction) / SALTS[salt].molar_mass


def hydrate_water(salt: str, moles: float) -> float:
    """Return the water of a hydrate per kg of anhydrous salt.

    Args: salt: a key of SALTS; moles: of water in a mole of hydrate [1]. Returns: water [kg/kg].
    """
    return moles * WATER_MOLAR_MASS / SALTS[salt].molar_mass


def _dilution_shape(salt: str, fraction: float) -> float:
    h1, h2, h3, h4, _, _ = _conde(salt).dilution
    fraction = min(fraction, 0.999 * h4)  # at H4 the heat has reached its largest value
    z = fraction / (h4 - fraction)
    return float((1.0 + (z / h1) ** h2) ** h3)


def _conde(salt: str) -> Conde:
    found = SALTS[salt].conde
    if found is None:
        raise KeyError(f"Conde2004 does not treat {salt}")
    return found
