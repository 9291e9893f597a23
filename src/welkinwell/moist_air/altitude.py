"""Air pressure and height."""

from __future__ import annotations

import math

from welkinwell.compiled import njit
from welkinwell.constants import DRY_AIR_GAS_CONSTANT, GRAVITY, STANDARD_PRESSURE


@njit(cache=True)
def pressure_at_altitude(altitude: float) -> float:
    """Pressure of the standard atmosphere, 101325 (1 - 2.25577e-5 z)^5.2559.

    altitude: above sea level [m], -5,000 to 11,000; held outside
    returns: pressure [Pa]
    source: ASHRAE2017 (chapter 1, equation 3)
    """
    z = min(max(altitude, -5000.0), 11000.0)
    return STANDARD_PRESSURE * (1.0 - 2.25577e-5 * z) ** 5.2559


@njit(cache=True)
def altitude_at_pressure(pressure: float) -> float:
    """Altitude of the standard atmosphere that has this pressure, the inverse of pressure_at_altitude.

    pressure: [Pa]
    returns: altitude, held within -5,000 to 11,000 [m]
    source: ASHRAE2017 (chapter 1, equation 3)
    """
    z = (1.0 - (max(pressure, 1.0) / STANDARD_PRESSURE) ** (1.0 / 5.2559)) / 2.25577e-5
    return min(max(z, -5000.0), 11000.0)


@njit(cache=True)
def carried_pressure(pressure: float, temperature: float, from_altitude: float, to_altitude: float) -> float:
    """Pressure carried from one height to another nearby, p exp(-g dz/(R_a T)).

    pressure: at from_altitude [Pa]
    temperature: mean of the layer between [K]
    from_altitude: [m]
    to_altitude: [m]
    returns: pressure at to_altitude [Pa]
    source: hydrostatic balance
    """
    exponent = -GRAVITY * (to_altitude - from_altitude) / (DRY_AIR_GAS_CONSTANT * max(temperature, 100.0))
    return pressure * math.exp(min(max(exponent, -3.0), 3.0))
