"""Brines: water activity, density, specific heat, heat of dilution and the crystallisation line.

Lithium and calcium chloride by Conde2004; lithium bromide, magnesium chloride and potassium formate have
only a solubility line here; their activity stands as points beside their sheets. Conde's published heat of
dilution is not the Clausius-Clapeyron slope of his vapour pressure (they differ by up to 50 kJ per kg of
water), so loadings and heats both come from the vapour pressure, and the gap is printed by the tests.
Not Conde's: below a salt fraction of 0.05 his activity does not tend to one (0.996 at 0.001); use `pitzer`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from numba import njit

from welkinwell.constants import WATER_GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.moist_air.liquid_water import liquid_density, liquid_specific_heat
from welkinwell.moist_air.saturation import saturation_pressure

CRITICAL_TEMPERATURE: Final = 647.226  # K, as Conde2004 uses it
LEAST_SALT: Final = 0.02
MOST_SALT: Final = 0.60


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
# Cubics in molality of log10(p / kPa) = A + B / T + C / T^2 for lithium chloride, from one open library
PATIL: Final = (
    (7.323355, -0.0623661, 0.0061613, -0.0001042),
    (-1718.157, 8.2255, -2.2131, 0.0246),
    (-97575.68, 3839.979, -421.429, 16.731),
)
LITHIUM_CHLORIDE_PRESSURE: Final = (0.28, 4.30, 0.60, 0.21, 5.10, 0.49, 0.362, -4.75, -0.40, 0.03)


@njit(cache=True)
def water_activity(salt, T, pressure=LITHIUM_CHLORIDE_PRESSURE):
    """Return vapour pressure of a brine over that of water, by Conde2004.

    a_w = pi_25(xi) (A + B theta), theta = T / 647.226 K, A = 2 - [1 + (xi/pi0)^pi1]^pi2,
    B = [1 + (xi/pi3)^pi4]^pi5 - 1, pi_25 = 1 - [1 + (xi/pi6)^pi7]^pi8 - pi9 exp(-(xi - 0.1)^2 / 0.005).
    Fitted range: up to the solubility limit; below xi = 0.05 it does not tend to 1 (0.996 at 0.001).
    Args: salt: mass fraction xi of salt in the brine [1]; T [K]; pressure: pi_0 to pi_9 of the salt,
    lithium chloride by default [1]. Returns: water activity [1].
    """
    theta = T / CRITICAL_TEMPERATURE
    a = 2.0 - (1.0 + (salt / pressure[0]) ** pressure[1]) ** pressure[2]
    b = (1.0 + (salt / pressure[3]) ** pressure[4]) ** pressure[5] - 1.0
    dip = pressure[9] * math.exp(-((salt - 0.1) ** 2) / 0.005)
    at_25 = 1.0 - (1.0 + (salt / pressure[6]) ** pressure[7]) ** pressure[8] - dip
    return at_25 * (a + b * theta)


def patil_water_activity(m: float, T: float) -> float:
    """Return the water activity of lithium chloride brine by Patil1990, 10^(A + B/T + C/T^2) / p_sat.

    A, B and C are cubics in the molality. Fitted from 3 to 18.5 mol/kg and 30 to 70 C. At 25 C it is within
    0.5 % of the osmotic tables from 3 to 10 mol/kg, where Conde2004 is up to 4 % high; the sheets rest on
    Conde2004 all the same, which reaches from -10 to 100 C and below 3 mol/kg.
    Args: m: molality [mol/kg]; T [K]. Returns: water activity [1].
    """
    a, b, c = (sum(x * m**k for k, x in enumerate(row)) for row in PATIL)
    return float(1e3 * 10.0 ** (a + b / T + c / (T * T)) / saturation_pressure(T))


@njit(cache=True)
def water_per_salt(relative_humidity, T, pressure=LITHIUM_CHLORIDE_PRESSURE):
    """Return kg of water that a kg of salt holds as brine in equilibrium with air.

    r = (1 - xi) / xi with a_w(xi, T) = RH by bisection; without crystals (below the crystallisation line the
    brine is supersaturated and only metastable).
    Args: relative_humidity [1]; T [K]; pressure: as in `water_activity` [1].
    Returns: water per salt [kg/kg].
    """
    low = LEAST_SALT
    high = MOST_SALT
    for _ in range(60):
        middle = 0.5 * (low + high)
        if water_activity(middle, T, pressure) > relative_humidity:
            low = middle
        else:
            high = middle
    salt = 0.5 * (low + high)
    return (1.0 - salt) / salt


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


def published_dilution_heat(salt: str, fraction: float, T: float) -> float:
    """Return Conde's own heat of dilution, only to compare with the slope of the activity.

    (H5 + H6 theta) [1 + (Z / H1)^H2]^H3, Z = xi / (H4 - xi).
    Args: salt; fraction: xi [1]; T [K]. Returns: heat [J/kg of water absorbed].
    """
    h1, h2, h3, h4, h5, h6 = _conde(salt).dilution
    z = fraction / (h4 - fraction)
    return 1e3 * (h5 + h6 * T / CRITICAL_TEMPERATURE) * (1.0 + (z / h1) ** h2) ** h3


def activity_slope_heat(salt: str, fraction: float, T: float) -> float:
    """Return the heat of dilution that belongs to the vapour pressure, R_w T^2 d(ln a_w)/dT at constant xi.

    Args: salt; fraction: xi [1]; T [K]. Returns: heat [J/kg of water absorbed].
    """
    pressure = _conde(salt).pressure
    low, high = (math.log(water_activity(fraction, T + step, pressure)) for step in (-0.01, 0.01))
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
    conde = SALTS[salt].conde
    if conde is None:
        return None
    return float(water_activity(solubility(salt, T), T, conde.pressure))


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


def _conde(salt: str) -> Conde:
    found = SALTS[salt].conde
    if found is None:
        raise KeyError(f"Conde2004 does not treat {salt}")
    return found
