"""Heat pumps by vapour compression: what they pump and what it costs, between two temperatures.

Work from a second-law efficiency; capacity from the swept volume of a compressor whose suction gas thins
with the evaporating temperature. The two are held against reference equations of state in the tests.
Equations: docs/theory/cooling_coil.md, 3.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from welkinwell.compiled import njit
from welkinwell.constants import FREEZING_POINT
from welkinwell.kernels.marks import written_out
from welkinwell.transfer.smooth_bounds import positive_part

LEAST_LIFT: Final = 8.0  # K; no compressor works on less pressure difference (value from memory)
LIFT_ROUNDING: Final = 4.0  # K
CLEARANCE: Final = 0.04  # share of the swept volume left at the top of the stroke (value from memory)
EXPANSION: Final = 1.1  # exponent at which that gas expands again (value from memory)
COLDEST: Final = 200.0  # K, colder sides are read as this
HOTTEST: Final = 400.0  # K, hotter sides are read as this
LEAST_SHARE: Final = 0.02  # of volumetric efficiency and of refrigerating effect, where they would vanish


class Refrigerant(NamedTuple):
    """Saturation of a refrigerant in four numbers: ln p falls with b/T, enthalpies are straight lines.

    pressure_slope: b [K]; latent: heat of evaporation at 0 degC [J/kg]; vapour_slope, liquid_slope: rise of
    the saturated enthalpies with temperature [J/(kg K)].
    """

    pressure_slope: float
    latent: float
    vapour_slope: float
    liquid_slope: float


# From the reference equations of state as CoolProp evaluates them (Bell2014): b between 5 and 45 C, latent
# heat at 0 C, vapour enthalpy from -15 to 15 C, liquid enthalpy from 25 to 55 C.
REFRIGERANTS: Final = {
    "R134a": Refrigerant(2653.0, 198600.0, 581.0, 1497.0),
    "R290": Refrigerant(2265.0, 374900.0, 1099.0, 2904.0),
    "R600a": Refrigerant(2599.0, 354300.0, 1341.0, 2542.0),
    "R32": Refrigerant(2384.0, 315300.0, 178.0, 2123.0),
}


@written_out
@njit(cache=True)
def cooling_cop(cold: float, hot: float, second_law: float) -> float:
    """Heat taken from the cold side per work, eta T_c/(T_h - T_c).

    The lift is rounded so that it never falls below about LEAST_LIFT.

    cold: temperature at which heat is taken, evaporating [K]
    hot: temperature at which heat is given, condensing [K]
    second_law: share of the reversible performance, 0.25 to 0.40 in small and 0.40 to 0.55 in large
        machines (value from memory) [1]
    returns: coefficient of performance for cooling; one more for heating [1]
    source: Carnot; second-law efficiency by definition, Stoecker1982
    """
    return second_law * cold / lift(cold, hot)


@written_out
@njit(cache=True)
def heating_cop(cold: float, hot: float, second_law: float) -> float:
    """Heat given to the hot side per work: that of the cold side and the work itself, cooling_cop + 1.

    cold: temperature at which heat is taken, evaporating [K]
    hot: temperature at which heat is given, condensing [K]
    second_law: share of the reversible performance for cooling [1]
    returns: coefficient of performance for heating [1]
    source: first law
    """
    return cooling_cop(cold, hot, second_law) + 1.0


@written_out
@njit(cache=True)
def lift(cold: float, hot: float) -> float:
    """Temperature lift, rounded so that it never falls below LEAST_LIFT.

    cold, hot: [K]
    returns: lift [K]
    source: definition
    """
    above, _ = positive_part(hot - cold - LEAST_LIFT, LIFT_ROUNDING)
    return LEAST_LIFT + above


@written_out
@njit(cache=True)
def swept_capacity(
    cold: float,
    hot: float,
    pressure_slope: float,
    latent: float,
    vapour_slope: float,
    liquid_slope: float,
) -> float:
    """Cooling capacity of a fixed swept volume, to a constant: suction density x filling x effect.

    Density p/T with ln p = -b/T; filling 1 + c - c (p_h/p_c)^(1/n) (clearance c); effect = saturated vapour
    enthalpy at the cold side less liquid enthalpy at the hot side. Only ratios of it mean anything: divide by
    its value where the capacity is known.

    cold: evaporating temperature [K]
    hot: condensing temperature [K]
    pressure_slope: b [K]
    latent: heat of evaporation at 0 degC [J/kg]
    vapour_slope, liquid_slope: rise of the saturated enthalpies [J/(kg K)]
    returns: capacity, to a constant [J/(kg K)]
    source: Stoecker1982 (chapter 11: volumetric efficiency by clearance)
    """
    T_c = min(max(cold, COLDEST), HOTTEST)
    T_h = min(max(hot, COLDEST), HOTTEST)
    ratio = math.exp(pressure_slope * (1.0 / T_c - 1.0 / T_h) / EXPANSION)
    filling, _ = positive_part(1.0 + CLEARANCE - CLEARANCE * ratio - LEAST_SHARE, LEAST_SHARE)
    effect = latent + vapour_slope * (T_c - FREEZING_POINT) - liquid_slope * (T_h - FREEZING_POINT)
    kept, _ = positive_part(effect / latent - LEAST_SHARE, LEAST_SHARE)
    density = math.exp(pressure_slope * (1.0 / FREEZING_POINT - 1.0 / T_c)) / T_c
    return density * (filling + LEAST_SHARE) * (kept + LEAST_SHARE) * latent


def capacity_constant(capacity: float, cold: float, hot: float, refrigerant: Refrigerant) -> float:
    """What swept_capacity is to be multiplied with so that a compressor has its rated capacity.

    capacity: at the rating, in watts or watts per m2 of anything [W]
    cold, hot: evaporating and condensing temperature of the rating [K]
    refrigerant: one of REFRIGERANTS [tuple]
    returns: constant [W kg K/J]
    source: definition
    """
    return capacity / swept_capacity(cold, hot, *refrigerant)
