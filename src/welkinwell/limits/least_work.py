"""Least work of taking water out of air, and the exergy of sunlight."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from welkinwell.constants import GAS_CONSTANT, WATER_GAS_CONSTANT, WATER_MOLAR_MASS

SUN_TEMPERATURE: Final = 5772.0  # K, IAU 2015 nominal effective temperature


def least_work(temperature: Any, relative_humidity: Any) -> Any:
    """Least work to take the first drop of water from air, to liquid at the same temperature.

    w = (R T / M) ln(1 / RH): vanishing recovery, ideal vapour.
    temperature [K]; relative_humidity over liquid [1]. Returns [J/kg], not below zero. Source: Kim2020.
    """
    humidity = np.minimum(relative_humidity, 1.0)
    return -WATER_GAS_CONSTANT * np.asarray(temperature) * np.log(humidity)


def least_work_at_recovery(
    temperature: Any, vapour_pressure: Any, saturation: Any, pressure: Any, recovery: Any
) -> Any:
    """Least work when a share of the vapour of the processed air is taken, dry air included.

    w M/(R T) = [F(x2) - F(x1)]/(x1 - x2), F(x) = x ln x - (1 + x) ln(1 + x) + x ln(P/p_sat), x the mole
    ratio of vapour to dry air, x2 = (1 - recovery) x1.
    temperature [K]; vapour_pressure, saturation, pressure [Pa]; recovery in (0, 1) [1]. Returns [J/kg].
    Source: exact for an ideal mixture; worked figures in Kim2020.
    """
    first = np.asarray(vapour_pressure) / (np.asarray(pressure) - vapour_pressure)
    last = (1.0 - np.asarray(recovery)) * first

    def free(x: Any) -> Any:
        return x * np.log(x) - (1.0 + x) * np.log1p(x) + x * np.log(np.asarray(pressure) / saturation)

    return (
        GAS_CONSTANT
        * np.asarray(temperature)
        / WATER_MOLAR_MASS
        * (free(last) - free(first))
        / (first - last)
    )


def solar_exergy_factor(surroundings: Any) -> Any:
    """Exergy over energy of undiluted sunlight: 1 - (4/3) x + x^4/3, x = T0/T_sun.

    surroundings: T0 [K]. Returns [1]. Source: Petela1964.
    """
    x = np.asarray(surroundings) / SUN_TEMPERATURE
    return 1.0 - 4.0 / 3.0 * x + x**4 / 3.0
