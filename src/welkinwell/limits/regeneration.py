"""How hot a bed must at least become before its vapour condenses at all."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from scipy.optimize import brentq

from welkinwell.constants import GAS_CONSTANT
from welkinwell.moist_air import saturation_pressure

HOTTEST: Final = 640.0  # K, just below the critical point of water: no root beyond


def potential(temperature: Any, relative_humidity: Any) -> Any:
    """Adsorption potential of air: A = R T ln(1 / RH).

    temperature [K]; relative_humidity [1]. Returns [J/mol].
    """
    return -GAS_CONSTANT * np.asarray(temperature) * np.log(np.minimum(relative_humidity, 1.0))


def least_release_temperature(uptake_potential: Any, condenser: Any) -> Any:
    """Lowest temperature of release of a sorbent with its step just where it takes up.

    Solves R T ln(p_sat(T) / p_sat(Tc)) = A: the potential does not move with temperature, the step is ideal
    and the vapour as dry as the condenser makes it. None that takes up at this potential releases below it.
    uptake_potential: A at the end of uptake [J/mol]; condenser: Tc [K]; arrays broadcast.
    Returns [K]; nan where even the hottest does not suffice. Source: Kim2020.
    """
    potentials, condensers = np.broadcast_arrays(
        np.asarray(uptake_potential, dtype=np.float64), np.asarray(condenser, dtype=np.float64)
    )
    found = [_solved(float(A), float(T)) for A, T in zip(potentials.ravel(), condensers.ravel(), strict=True)]
    return np.array(found).reshape(potentials.shape)[()]


def release_temperature_from_ambient(temperature: Any, relative_humidity: Any, condenser: Any) -> Any:
    """Screening figure of the least release temperature: uptake from the outdoor air as it is.

    temperature [K], relative_humidity [1]: of the air; condenser: its temperature [K]. Returns [K].
    """
    return least_release_temperature(potential(temperature, relative_humidity), condenser)


def weighted_potential(bed_temperature: Any, bed_vapour_pressure: Any, uptake: Any) -> float:
    """Potential of a simulated bed while it takes up, weighted by what it takes up.

    bed_temperature [K], bed_vapour_pressure [Pa], uptake [kg/m2], by hour. Returns [J/mol]; nan where nothing
    is taken up.
    """
    weight = np.maximum(np.asarray(uptake), 0.0)
    if weight.sum() <= 0.0:
        return float("nan")
    humidity = np.asarray(bed_vapour_pressure) / saturation_pressure(bed_temperature)
    potentials = potential(bed_temperature, np.maximum(humidity, 1e-9))
    return float((weight * potentials).sum() / weight.sum())


def _solved(A: float, condenser: float) -> float:
    start = float(saturation_pressure(condenser))

    def miss(T: float) -> float:
        return GAS_CONSTANT * T * float(np.log(saturation_pressure(T) / start)) - A

    if not A >= 0.0 or miss(HOTTEST) < 0.0:
        return float("nan")
    return condenser if A == 0.0 else float(brentq(miss, condenser, HOTTEST, xtol=1e-6))
