"""Fans: the power that a pressure drop asks for, and how the drop follows speed and density of the air.

All of a fan's electricity ends as heat in its air stream when motor and wheel sit in it. Equations:
docs/theory/cooling_coil.md, 4.
"""

from __future__ import annotations

from typing import Final

from welkinwell.compiled import njit
from welkinwell.constants import DRY_AIR_SPECIFIC_HEAT, STANDARD_PRESSURE
from welkinwell.kernels.marks import written_out

REFERENCE_DENSITY: Final = 1.2  # kg/m3, of standard air, for which pressure drops are stated (ASHRAE2017)


@written_out
@njit(cache=True)
def fan_power(volume_flow: float, pressure_rise: float, efficiency: float) -> float:
    """Electric power of a fan, V dp/eta.

    volume_flow: [m3/s], or per m2 of anything [m3/(m2 s)]
    pressure_rise: total pressure that the fan makes [Pa]
    efficiency: of fan, drive and motor together, read as at least 0.01 [1]
    returns: power [W], or per m2 of the same [W/m2]
    source: definition of total efficiency, ASHRAE2017
    """
    return volume_flow * pressure_rise / max(efficiency, 0.01)


@written_out
@njit(cache=True)
def pressure_drop(
    velocity: float, rated_velocity: float, rated_drop: float, exponent: float, density: float
) -> float:
    """Pressure drop at another speed and density than it is stated for, dp_r (v/v_r)^n (rho/1.2)^(n-1).

    A friction factor that falls as Re^(n-2) gives both exponents: n = 1 for laminar flow, where density does
    not matter, 2 for orifices, about 1.7 to 1.8 for finned coils (value from memory).

    velocity: below zero read as zero [m/s]
    rated_velocity: [m/s]
    rated_drop: in air of 1.2 kg/m3 [Pa]
    exponent: n, 1 to 2 [1]
    density: of the air [kg/m3]
    returns: pressure drop [Pa]
    source: similarity of ducts, Bergman2011 (chapter 8)
    """
    thin = max(density, 1e-3) / REFERENCE_DENSITY
    share = max(velocity, 0.0) / max(rated_velocity, 1e-6)
    return rated_drop * share**exponent * thin ** (exponent - 1.0)


@njit(cache=True)
def fan_temperature_rise(pressure_rise: float, efficiency: float, density: float) -> float:
    """Warming of the air by a fan whose motor sits in the stream, dp/(eta rho c_p).

    pressure_rise: [Pa]
    efficiency: of fan, drive and motor together [1]
    density: of the air [kg/m3]
    returns: temperature rise [K]
    source: energy balance
    """
    return pressure_rise / (max(efficiency, 0.01) * max(density, 1e-3) * DRY_AIR_SPECIFIC_HEAT)


@njit(cache=True)
def speed_law_power(power: float, share: float, pressure: float) -> float:
    """Power of the same fan in the same duct at another speed and site, P s^3 (p/p_0).

    power: at full speed and sea level [W]
    share: of full speed [1]
    pressure: of the site [Pa]
    returns: power [W]
    source: fan laws, ASHRAE2017
    """
    return power * share * share * share * pressure / STANDARD_PRESSURE
