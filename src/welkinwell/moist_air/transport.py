"""Transport properties of moist air: viscosity, conductivity, diffusivity of vapour, specific heat."""

from __future__ import annotations

import math
from typing import Final

from welkinwell.compiled import njit
from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_MOLAR_MASS,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    MOLAR_MASS_RATIO,
    STANDARD_PRESSURE,
    VAPOUR_SPECIFIC_HEAT,
    WATER_MOLAR_MASS,
)
from welkinwell.moist_air.humidity import mole_fraction_from_ratio

# Transport formulas read colder and hotter arguments as these.
COLDEST_GAS: Final = 100.0  # K
HOTTEST_GAS: Final = 1000.0  # K

_MASS_QUARTER: Final = MOLAR_MASS_RATIO**0.25
_AIR_WILKE: Final = 1.0 / math.sqrt(8.0 * (1.0 + 1.0 / MOLAR_MASS_RATIO))
_VAPOUR_WILKE: Final = 1.0 / math.sqrt(8.0 * (1.0 + MOLAR_MASS_RATIO))


@njit(cache=True)
def dry_air_viscosity(temperature: float) -> float:
    """Dynamic viscosity of dry air, 1.53468773e-6 sqrt(T)/(1 + 139.751161/T - 2871.16298/T^2).

    temperature: [K], fitted from 220 to 400 within 0.012 %
    returns: viscosity [Pa s]
    source: Lemmon2004 (values computed with CoolProp), fit of this project
    """
    inverse = 1.0 / min(max(temperature, COLDEST_GAS), HOTTEST_GAS)
    return 1.53468773e-6 / (math.sqrt(inverse) * (1.0 + inverse * (139.751161 - 2871.16298 * inverse)))


@njit(cache=True)
def dry_air_conductivity(temperature: float) -> float:
    """Thermal conductivity of dry air, 2.48292205e-3 sqrt(T)/(1 + 208.768361/T - 5937.38747/T^2).

    temperature: [K], fitted from 220 to 400 within 0.03 %
    returns: conductivity [W/(m K)]
    source: Lemmon2004 (values computed with CoolProp), fit of this project
    """
    inverse = 1.0 / min(max(temperature, COLDEST_GAS), HOTTEST_GAS)
    return 2.48292205e-3 / (math.sqrt(inverse) * (1.0 + inverse * (208.768361 - 5937.38747 * inverse)))


@njit(cache=True)
def vapour_viscosity(temperature: float) -> float:
    """Dynamic viscosity of dilute water vapour, quadratic in T/300.

    temperature: [K], fitted from 273 to 400 within 0.17 %
    returns: viscosity [Pa s]
    source: IAPWS_R12_08 (values computed with CoolProp at 50 Pa), fit of this project
    """
    x = min(max(temperature, COLDEST_GAS), HOTTEST_GAS) / 300.0
    return 3.23574759e-6 + x * (3.36266122e-6 + 3.17604286e-6 * x)


@njit(cache=True)
def vapour_conductivity(temperature: float) -> float:
    """Thermal conductivity of dilute water vapour, quadratic in T/300.

    temperature: [K], fitted from 273 to 400 within 0.06 %
    returns: conductivity [W/(m K)]
    source: IAPWS_R15_11 (values computed with CoolProp at 50 Pa), fit of this project
    """
    x = min(max(temperature, COLDEST_GAS), HOTTEST_GAS) / 300.0
    return 5.54551e-3 + x * (5.07226e-3 + 7.94884e-3 * x)


@njit(cache=True)
def _mixed(
    mole_fraction: float, air_viscosity: float, vapour_viscosity: float, air: float, vapour: float
) -> float:
    """Wilke's weights, for viscosity and (Mason and Saxena) for conductivity alike."""
    x = min(max(mole_fraction, 0.0), 1.0)
    ratio = math.sqrt(air_viscosity / vapour_viscosity)
    air_in_vapour = (1.0 + ratio * _MASS_QUARTER) ** 2 * _AIR_WILKE
    vapour_in_air = (1.0 + 1.0 / (ratio * _MASS_QUARTER)) ** 2 * _VAPOUR_WILKE
    dry = 1.0 - x
    return dry * air / (dry + x * air_in_vapour) + x * vapour / (x + dry * vapour_in_air)


@njit(cache=True)
def viscosity_of_mixture(temperature: float, mole_fraction: float) -> float:
    """Dynamic viscosity of moist air from the mole fraction of vapour, Wilke's rule.

    temperature: [K]
    mole_fraction: of vapour, held within 0 to 1 [1]
    returns: viscosity [Pa s]
    source: Wilke1950
    """
    air, vapour = dry_air_viscosity(temperature), vapour_viscosity(temperature)
    return _mixed(mole_fraction, air, vapour, air, vapour)


@njit(cache=True)
def conductivity_of_mixture(temperature: float, mole_fraction: float) -> float:
    """Thermal conductivity of moist air from the mole fraction of vapour, Mason and Saxena's rule.

    temperature: [K]
    mole_fraction: of vapour, held within 0 to 1 [1]
    returns: conductivity [W/(m K)]
    source: Mason1958, with Wilke's weights
    """
    air, vapour = dry_air_viscosity(temperature), vapour_viscosity(temperature)
    air_conductivity = dry_air_conductivity(temperature)
    return _mixed(mole_fraction, air, vapour, air_conductivity, vapour_conductivity(temperature))


@njit(cache=True)
def viscosity(temperature: float, humidity_ratio: float) -> float:
    """Dynamic viscosity of moist air.

    temperature: [K], 220 to 400
    humidity_ratio: vapour per dry air [kg/kg]
    returns: viscosity [Pa s]
    source: Lemmon2004, IAPWS_R12_08, Wilke1950; 1 % dry, 2 % humid
    """
    return viscosity_of_mixture(temperature, mole_fraction_from_ratio(humidity_ratio))


@njit(cache=True)
def conductivity(temperature: float, humidity_ratio: float) -> float:
    """Thermal conductivity of moist air.

    temperature: [K], 220 to 400
    humidity_ratio: vapour per dry air [kg/kg]
    returns: conductivity [W/(m K)]
    source: Lemmon2004, IAPWS_R15_11, Mason1958; 1 % dry, 2 % humid
    """
    return conductivity_of_mixture(temperature, mole_fraction_from_ratio(humidity_ratio))


@njit(cache=True)
def vapour_diffusivity(temperature: float, pressure: float) -> float:
    """Diffusivity of water vapour in air, 2.178e-5 (T/273.15)^1.81 (101325/p).

    temperature: [K], published for 0 to 100 °C
    pressure: total pressure [Pa]
    returns: diffusivity, published correlations spread over 5 % [m2/s]
    source: Massman1998
    """
    bounded = min(max(temperature, COLDEST_GAS), HOTTEST_GAS)
    grown = math.exp(1.81 * math.log(bounded / FREEZING_POINT))  # faster than the power
    return 2.178e-5 * grown * STANDARD_PRESSURE / max(pressure, 1.0)


@njit(cache=True)
def specific_heat(humidity_ratio: float) -> float:
    """Specific heat of moist air at constant pressure per kg of the mixture, (c_a + w c_v)/(1 + w).

    humidity_ratio: vapour per dry air, not below zero [kg/kg]
    returns: specific heat [J/(kg K)]
    source: constants.py
    """
    w = max(humidity_ratio, 0.0)
    return (DRY_AIR_SPECIFIC_HEAT + w * VAPOUR_SPECIFIC_HEAT) / (1.0 + w)


@njit(cache=True)
def thermal_diffusivity(temperature: float, humidity_ratio: float, pressure: float) -> float:
    """Thermal diffusivity of moist air, k/(rho c_p).

    temperature: [K]
    humidity_ratio: vapour per dry air [kg/kg]
    pressure: total pressure [Pa]
    returns: diffusivity [m2/s]
    source: definition
    """
    w = max(humidity_ratio, 0.0)
    bounded = max(temperature, COLDEST_GAS)
    absolute = DRY_AIR_GAS_CONSTANT * bounded * (1.0 + w / MOLAR_MASS_RATIO)
    heat_capacity = max(pressure, 1.0) * (DRY_AIR_SPECIFIC_HEAT + w * VAPOUR_SPECIFIC_HEAT) / absolute
    return conductivity(bounded, w) / heat_capacity


@njit(cache=True)
def molar_mass(mole_fraction: float) -> float:
    """Molar mass of moist air, M_a - x (M_a - M_w).

    mole_fraction: of vapour [1]
    returns: molar mass [kg/mol]
    source: definition
    """
    return DRY_AIR_MOLAR_MASS - mole_fraction * (DRY_AIR_MOLAR_MASS - WATER_MOLAR_MASS)
