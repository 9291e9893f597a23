"""Properties of liquid water near atmospheric pressure."""

from __future__ import annotations

import math

from welkinwell.compiled import njit
from welkinwell.constants import FREEZING_POINT


@njit(cache=True)
def liquid_density(temperature: float) -> float:
    """Density of liquid water, Kell's rational polynomial in t [°C].

    temperature: [K], -30 to 150 °C; held outside
    returns: density [kg/m3]
    source: Kell1975
    """
    t = min(max(temperature - FREEZING_POINT, -30.0), 150.0)
    top = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - 280.54253e-12 * t)))
    )
    return top / (1.0 + 16.879850e-3 * t)


@njit(cache=True)
def liquid_specific_heat(temperature: float) -> float:
    """Specific heat of liquid water at constant pressure, quintic in t/100.

    The heat balances of the harvesters use the constant of constants.py instead.

    temperature: [K], fitted from 0 to 150 °C within 0.05 %; followed to -20 °C unchecked, held outside
    returns: specific heat [J/(kg K)]
    source: Wagner2002 (values computed with CoolProp), fit of this project
    """
    x = min(max(temperature - FREEZING_POINT, -20.0), 150.0) / 100.0
    return 4218.17967 + x * (
        -284.094958 + x * (728.28555 + x * (-835.399902 + x * (495.632187 - 107.214276 * x)))
    )


@njit(cache=True)
def liquid_viscosity(temperature: float) -> float:
    """Dynamic viscosity of liquid water, 1e-6 sum a_i (T/300)^b_i.

    temperature: [K], 253.15 to 383.15; held outside
    returns: viscosity [Pa s]
    source: IAPWS_SR6_08
    """
    log_scaled = math.log(min(max(temperature, 253.15), 383.15) / 300.0)
    return 1e-6 * (
        280.68 * math.exp(-1.9 * log_scaled)
        + 511.45 * math.exp(-7.7 * log_scaled)
        + 61.131 * math.exp(-19.6 * log_scaled)
        + 0.45903 * math.exp(-40.0 * log_scaled)
    )


@njit(cache=True)
def liquid_conductivity(temperature: float) -> float:
    """Thermal conductivity of liquid water, sum c_i (T/300)^d_i.

    temperature: [K], 273.15 to 383.15; held outside
    returns: conductivity [W/(m K)]
    source: IAPWS_SR6_08
    """
    log_scaled = math.log(min(max(temperature, 273.15), 383.15) / 300.0)
    return (
        1.6630 * math.exp(-1.15 * log_scaled)
        - 1.7781 * math.exp(-3.4 * log_scaled)
        + 1.1567 * math.exp(-6.0 * log_scaled)
        - 0.432115 * math.exp(-7.6 * log_scaled)
    )
