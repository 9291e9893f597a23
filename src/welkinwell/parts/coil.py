"""A finned coil that cools moist air: bypass factor, sensible and latent exchange, frost between the fins.

The fins have one effective surface temperature (the apparatus dew point of the trade); the share of the air
that leaves as it came is the bypass factor, exp(-NTU). Equations: docs/theory/cooling_coil.md, 2.
"""

from __future__ import annotations

import math
from typing import Final

from welkinwell.compiled import njit
from welkinwell.constants import (
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    LATENT_HEAT_AT_FREEZING,
    MOLAR_MASS_RATIO,
    VAPOUR_SPECIFIC_HEAT,
)
from welkinwell.kernels.marks import written_out
from welkinwell.transfer.smooth_bounds import positive_part

LEWIS_FACTOR: Final = 0.905  # Le^(2/3) of vapour in air at 25 C (Bergman2011, value from memory)
FROST_DENSITY: Final = 300.0  # kg/m3, of frost an hour old; 100 to 600 (value from memory)
HIGHEST_SHARE: Final = 0.9  # of vapour in the air, above which humidity ratios are not followed
RECOVERY_ROUNDING: Final = 0.5  # K, over which an air-to-air exchanger stops short of the dew point


@written_out
@njit(cache=True)
def ratio_of(pressure_of_vapour: float, pressure: float) -> float:
    """Humidity ratio of a vapour pressure, 0.622 p/(P - p), p held within -0.1 P to 0.9 P.

    pressure_of_vapour, pressure: [Pa]
    returns: humidity ratio [kg/kg dry air]
    source: ASHRAE2017 (chapter 1)
    """
    held = min(max(pressure_of_vapour, -0.1 * pressure), HIGHEST_SHARE * pressure)
    return MOLAR_MASS_RATIO * held / (pressure - held)


@written_out
@njit(cache=True)
def bypass_factors(conductance: float, air_flow: float, humidity_ratio: float) -> tuple[float, float]:
    """Shares of the air that pass the coil as they came, for heat and for vapour.

    exp(-NTU) with NTU = h A/(m c_p), and exp(-NTU/Le^(2/3)).

    conductance: h A [W/K], or per m2 of anything
    air_flow: dry air [kg/s], or per m2 of the same
    humidity_ratio: [kg/kg]
    returns: bypass factor for heat [1], for vapour [1]
    source: Chilton1934; bypass factor, ASHRAE2017
    """
    rate = air_flow * (DRY_AIR_SPECIFIC_HEAT + humidity_ratio * VAPOUR_SPECIFIC_HEAT)
    units = min(conductance / max(rate, 1e-12), 500.0)
    return math.exp(-units), math.exp(-units / LEWIS_FACTOR)


@written_out
@njit(cache=True)
def coil_exchange(
    air_flow: float,
    temperature: float,
    humidity_ratio: float,
    surface: float,
    surface_ratio: float,
    bypass_heat: float,
    bypass_vapour: float,
    working_share: float,
) -> tuple[float, float, float, float, float]:
    """What a coil takes from air: sensible heat, vapour and its heat; and how the air leaves.

    The air's enthalpy falls by exactly the two heats: the sensible one counts the air as it leaves, the
    vapour brings L_0 + c_v (T - 273.15 K) of the air as it comes.

    air_flow: dry air [kg/s], or per m2 of anything
    temperature, humidity_ratio: of the air as it comes [K], [kg/kg]
    surface, surface_ratio: temperature of the fins [K], saturation humidity ratio at it [kg/kg]
    bypass_heat, bypass_vapour: as bypass_factors gives them [1]
    working_share: of the fins that exchange vapour [1]
    returns: sensible heat [W], vapour [kg/s], heat of the vapour [W], leaving temperature [K], leaving
        humidity ratio [kg/kg]
    source: apparatus dew point method, ASHRAE2017; energy balance
    """
    vapour = air_flow * (1.0 - bypass_vapour) * (humidity_ratio - surface_ratio) * working_share
    leaving_ratio = humidity_ratio - vapour / air_flow if air_flow > 0.0 else humidity_ratio
    drop = (1.0 - bypass_heat) * (temperature - surface)
    sensible = air_flow * (DRY_AIR_SPECIFIC_HEAT + leaving_ratio * VAPOUR_SPECIFIC_HEAT) * drop
    lift = LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (temperature - FREEZING_POINT)
    return sensible, vapour, vapour * lift, temperature - drop, leaving_ratio


@written_out
@njit(cache=True)
def precooled(
    temperature: float, dew_point: float, surface: float, bypass: float, effectiveness: float
) -> float:
    """Temperature of the air behind an air-to-air exchanger whose cold side is what leaves the coil.

    T_i = (T_a (1 - e) + e T_c (1 - b))/(1 - e b), stopped at the dew point: the exchanger does not condense.

    temperature, dew_point: of the outdoor air [K]
    surface: of the coil's fins [K]
    bypass: bypass factor for heat [1]
    effectiveness: e, equal flows [1]
    returns: temperature at the coil [K]
    source: definition of effectiveness, Bergman2011 (chapter 11)
    """
    if effectiveness <= 0.0:
        return temperature
    inlet = temperature * (1.0 - effectiveness) + effectiveness * surface * (1.0 - bypass)
    fall = temperature - inlet / (1.0 - effectiveness * bypass)
    beyond, _ = positive_part(fall - (temperature - dew_point), RECOVERY_ROUNDING)
    return temperature - fall + beyond


@written_out
@njit(cache=True)
def frost_free_share(frost: float, fin_gap: float) -> float:
    """Share of the gap between fins that frost leaves, 1/(1 + 2 d/g), d = frost/density.

    frost: ice per m2 of fin surface [kg/m2]
    fin_gap: g [m]
    returns: share [1]; for thin frost 1 - 2 d/g
    source: geometry; density of frost from memory
    """
    return 1.0 / (1.0 + 2.0 * max(frost, 0.0) / (FROST_DENSITY * fin_gap))
