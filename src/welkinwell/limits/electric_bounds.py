"""Least electricity of a machine that cools air until water falls out."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import minimize_scalar

from welkinwell.moist_air import (
    dew_point,
    enthalpy,
    humidity_ratio,
    latent_heat,
    liquid_specific_heat,
)


class CoilHeat(NamedTuple):
    """What a coil takes out of air, per kg of water: latent, total [J/kg]; recovery [1]."""

    latent: float
    total: float
    recovery: float


def lift_work(cold: Any, hot: Any) -> Any:
    """Least work to lift a unit of heat from a cold to a hot temperature: Th/Tc - 1, by Carnot.

    cold, hot [K]. Returns [J/J].
    """
    return np.asarray(hot) / cold - 1.0


def dew_point_work(temperature: Any, relative_humidity: Any) -> Any:
    """Least work of cooling air to its dew point, all sensible heat recovered: h_fg (T0/Td - 1).

    temperature: T0 [K]; relative_humidity [1]. Returns [J/kg]. Source: Carnot; first drop only.
    """
    dew = dew_point(temperature, np.minimum(relative_humidity, 1.0))
    return latent_heat(dew) * np.maximum(lift_work(dew, temperature), 0.0)


def coil_heat(
    temperature: float, relative_humidity: float, pressure: float, coil: float, bypass: float = 0.0
) -> CoilHeat:
    """Heat that a coil takes from air, by apparatus dew point and bypass factor.

    temperature [K], relative_humidity [1], pressure [Pa]: of the air; coil: its temperature, below the dew
    point [K]; bypass: share of the air that passes it untouched [1]. Source: ASHRAE2017, from memory.
    """
    entering = float(humidity_ratio(temperature, relative_humidity, pressure))
    saturated = float(humidity_ratio(coil, 1.0, pressure))
    leaving = saturated + bypass * (entering - saturated)
    out = coil + bypass * (temperature - coil)
    water = entering - leaving
    drained = water * float(liquid_specific_heat(coil)) * (coil - 273.15)
    total = float(enthalpy(temperature, entering)) - float(enthalpy(out, leaving)) - drained
    vapour = (float(enthalpy(temperature, 1.0)) - float(enthalpy(temperature, 0.0))) * water
    return CoilHeat((vapour - drained) / water, total / water, water / entering)


def plain_coil_work(temperature: float, relative_humidity: float, pressure: float) -> float:
    """Least work of a coil that lets its cold air go, at the coil temperature that costs least.

    min over Tc of q(Tc) (T0/Tc - 1), q latent and sensible heat of a kg, no air bypassing.
    temperature: T0 [K]; relative_humidity [1]; pressure [Pa]. Returns [J/kg]; infinite where nothing
    condenses above -60 degC. Source: Carnot and an energy balance.
    """
    dew = float(dew_point(temperature, min(relative_humidity, 1.0)))
    lowest = max(dew - 60.0, 213.15)
    if dew - lowest < 0.1:
        return float("inf")

    def work(coil: float) -> float:
        return coil_heat(temperature, relative_humidity, pressure, coil).total * float(
            lift_work(coil, temperature)
        )

    return float(minimize_scalar(work, bounds=(lowest, dew - 1e-3), method="bounded").fun)
