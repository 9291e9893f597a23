"""How much water the air, its boundary layer and the sorbent can hand over, whatever the energy."""

from __future__ import annotations

from typing import Any

import numpy as np

from welkinwell.constants import DRY_AIR_SPECIFIC_HEAT
from welkinwell.moist_air import (
    density,
    humidity_ratio_from_pressure,
    thermal_diffusivity,
    vapour_density,
    vapour_diffusivity,
)


def air_supply(temperature: Any, vapour_pressure: Any, air_volume: Any, recovery: Any = 1.0) -> Any:
    """Water in the air that passes through a device: rho_v V r.

    temperature [K], vapour_pressure [Pa]: of the air; air_volume: V that passes [m3] (or per m2);
    recovery: r, share of the vapour that is taken [1]. Returns [kg] (or per m2). Source: water balance.
    """
    return vapour_density(temperature, vapour_pressure) * np.asarray(air_volume) * recovery


def air_for_a_litre(temperature: Any, vapour_pressure: Any, recovery: Any = 1.0) -> Any:
    """Air that must pass for a kg of water: 1 / (rho_v r).

    temperature [K]; vapour_pressure [Pa]; recovery [1]. Returns [m3/kg]. Source: water balance.
    """
    return 1.0 / (vapour_density(temperature, vapour_pressure) * np.asarray(recovery))


def inventory(sorbent_mass: Any, swing: Any, cycles: Any = 1.0) -> Any:
    """Water that a sorbent can carry: m dx n.

    sorbent_mass: m, dry [kg] (or per m2); swing: dx, largest difference of loading [kg/kg]; cycles: n in a
    day [1]. Returns [kg] a day (or per m2). Source: water balance.
    """
    return np.asarray(sorbent_mass) * swing * cycles


def mass_transfer_coefficient(
    heat_transfer: Any, temperature: Any, vapour_pressure: Any, pressure: Any
) -> Any:
    """Speed at which a boundary layer lets vapour through: h / (rho c_p Le^(2/3)), Le = a / D.

    heat_transfer: h of the same surface [W/(m2 K)]; temperature [K], vapour_pressure, pressure [Pa]: of the
    air. Returns [m/s]. Source: Chilton1934.
    """
    ratio = humidity_ratio_from_pressure(vapour_pressure, pressure)
    capacity = density(temperature, ratio, pressure) * DRY_AIR_SPECIFIC_HEAT
    lewis = thermal_diffusivity(temperature, ratio, pressure) / vapour_diffusivity(temperature, pressure)
    return np.asarray(heat_transfer) / (capacity * lewis ** (2.0 / 3.0))


def boundary_layer(
    transfer: Any,
    temperature: Any,
    vapour_pressure: Any,
    surface_pressure: Any,
    seconds: Any,
    area: Any = 1.0,
) -> Any:
    """Water that crosses the boundary layer of an exposed face: h_m (rho_v - rho_s) t A.

    transfer: h_m [m/s]; temperature: of the air [K]; vapour_pressure, surface_pressure: in the air and over
    the sorbent, 0 for a sorbent without limit [Pa]; seconds: t that the face lies open [s]; area: A of the
    face (1 for a figure per m2) [m2]. Returns [kg] (or per m2). Source: Chilton1934.
    """
    difference = np.maximum(np.asarray(vapour_pressure) - surface_pressure, 0.0)
    return np.asarray(transfer) * vapour_density(temperature, difference) * seconds * area
