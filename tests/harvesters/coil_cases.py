"""Cooling machines and steady air that several tests share."""

import numpy as np
from scipy.optimize import fsolve

from welkinwell.harvesters.cooling_coil.design import CoolingCoil
from welkinwell.harvesters.cooling_coil.flows import COOLING_COIL, coil_numbers
from welkinwell.moist_air import dew_point, saturation_pressure

ZERO = 273.15
# A small thermoelectric device: slow air, few fins, many modules on a large heat sink
THERMOELECTRIC = {
    "cooling": "thermoelectric",
    "face_velocity": 0.3,
    "fin_area": 20.0,
    "refrigerant_conductance": 2000.0,
    "module_conductance": 60.0,
    "current_share": 0.25,
    "condenser_conductance": 1500.0,
    "condenser_air_ratio": 6.0,
    "run_above_dew_point": 283.15,
    "control_power": 5.0,
}


def still_air(celsius, humidity, pressure=101325.0):
    """Surroundings, shape (9,), at a temperature and humidity [1]."""
    T = celsius + ZERO
    return np.array([T, humidity * float(saturation_pressure(T)), pressure, 0.0, 350.0, 0.0, 0.0, 0.0, 0.0])


def flows_at(y, air, numbers, mode=1):
    phi, slopes = np.zeros(13), np.zeros((13, 4))
    COOLING_COIL.fill_flows(np.asarray(y, float), air, mode, numbers, np.zeros(1), True, phi, slopes)
    return {flow.name: float(value) for flow, value in zip(COOLING_COIL.flows, phi, strict=True)}


def steady(design, celsius, humidity, pressure=101325.0):
    """Where a wet machine settles: evaporating, coil and rejection temperature [K], and its flows there."""
    numbers = coil_numbers(design, None, pressure)
    air = still_air(celsius, humidity, pressure)

    def miss(T):
        f = flows_at([*T, numbers.holdup], air, numbers)
        latent = f["air_vapour_to_coil"] - f["air_to_coil"] * 4186.0 * (T[1] - ZERO)
        return [
            f["coil_to_evaporator"] - f["pumped_heat"],
            f["air_heat_to_coil"] + latent - f["coil_to_evaporator"],
            f["pumped_heat"] + f["cooling_power"] - f["rejected_heat"],
        ]

    cold = min(float(dew_point(air[0], humidity)), air[0]) - 5.0
    for start in ([cold - 4.0, cold, air[0] + 15.0], [cold + 4.0, cold + 4.5, numbers.highest + 3.0]):
        T, _, done, words = fsolve(miss, start, full_output=True, xtol=1e-12)
        if done == 1:
            break
    assert done == 1, words
    return T, flows_at([*T, numbers.holdup], air, numbers)


def litres_per_kwh(flows):
    power = sum(
        flows[name] for name in ("cooling_power", "coil_fan_power", "condenser_fan_power", "control_power")
    )
    return flows["air_to_coil"] * 3.6e6 / power


DEFAULT = CoolingCoil()
