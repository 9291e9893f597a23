"""Humid air: the ways to say how much vapour is in it, and what it weighs and holds.

Ideal gases; relative humidity is over liquid water, also below 0 °C. The `enhanced_` functions add the
real-gas enhancement factor. Enthalpy is per kg of dry air, on the constant-specific-heat surface of
constants.py, with liquid water at 0 °C and dry air at 0 °C as zero.
"""

from __future__ import annotations

from typing import Final

from welkinwell.compiled import njit
from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    FUSION_HEAT,
    LATENT_HEAT_AT_FREEZING,
    LIQUID_SPECIFIC_HEAT,
    MOLAR_MASS_RATIO,
    VAPOUR_SPECIFIC_HEAT,
    WATER_GAS_CONSTANT,
)
from welkinwell.moist_air.saturation import (
    COLDEST,
    dew_point_from_pressure,
    enhancement_factor,
    frost_point_from_pressure,
    ice_saturation_pressure_and_slope,
    saturation_pressure,
    saturation_pressure_and_slope,
)

ICE_SPECIFIC_HEAT: Final = 2096.7  # J/(kg K), IAPWS R10-06 at the melting point, value from memory
WETTEST: Final = 1e6  # kg/kg, humidity ratios above are read as this by the wet bulbs
HIGHEST_MOLE_FRACTION: Final = 0.99  # above it the humidity ratio is continued by its tangent


@njit(cache=True)
def vapour_pressure(temperature: float, relative_humidity: float) -> float:
    """Partial pressure of vapour, p_v = RH p_s(T).

    temperature: [K]
    relative_humidity: over liquid water [1]
    returns: vapour pressure [Pa]
    source: definition
    """
    return relative_humidity * saturation_pressure(temperature)


@njit(cache=True)
def ratio_from_mole_fraction(mole_fraction: float) -> float:
    """Humidity ratio from the mole fraction of vapour, w = e x/(1 - x).

    mole_fraction: [1]; above 0.99 and below 0 the tangent is followed
    returns: vapour per dry air [kg/kg]
    source: definition, e = M_w/M_a
    """
    if mole_fraction <= 0.0:
        return MOLAR_MASS_RATIO * mole_fraction
    if mole_fraction > HIGHEST_MOLE_FRACTION:
        rest = 1.0 - HIGHEST_MOLE_FRACTION
        tangent = (mole_fraction - HIGHEST_MOLE_FRACTION) / (rest * rest)
        return MOLAR_MASS_RATIO * (HIGHEST_MOLE_FRACTION / rest + tangent)
    return MOLAR_MASS_RATIO * mole_fraction / (1.0 - mole_fraction)


@njit(cache=True)
def mole_fraction_from_ratio(humidity_ratio: float) -> float:
    """Mole fraction of vapour from the humidity ratio, x = w/(e + w).

    humidity_ratio: [kg/kg]
    returns: mole fraction, the exact inverse of ratio_from_mole_fraction [1]
    source: definition
    """
    scaled = humidity_ratio / MOLAR_MASS_RATIO
    rest = 1.0 - HIGHEST_MOLE_FRACTION
    edge = HIGHEST_MOLE_FRACTION / rest
    if scaled <= 0.0:
        return scaled
    if scaled > edge:
        return HIGHEST_MOLE_FRACTION + (scaled - edge) * rest * rest
    return scaled / (1.0 + scaled)


@njit(cache=True)
def vapour_pressure_from_ratio(humidity_ratio: float, pressure: float) -> float:
    """Partial pressure of vapour from the humidity ratio, p_v = p w/(e + w).

    humidity_ratio: vapour per dry air [kg/kg]
    pressure: total pressure [Pa]
    returns: vapour pressure [Pa]
    source: definition
    """
    return pressure * mole_fraction_from_ratio(humidity_ratio)


@njit(cache=True)
def humidity_ratio_from_pressure(vapour_pressure: float, pressure: float) -> float:
    """Humidity ratio from the partial pressure, w = e p_v/(p - p_v).

    vapour_pressure: [Pa]
    pressure: total pressure [Pa]
    returns: vapour per dry air [kg/kg]
    source: definition
    """
    return ratio_from_mole_fraction(vapour_pressure / max(pressure, 1.0))


@njit(cache=True)
def humidity_ratio(temperature: float, relative_humidity: float, pressure: float) -> float:
    """Humidity ratio of ideal moist air, w = e RH p_s/(p - RH p_s).

    temperature: [K]
    relative_humidity: over liquid water [1]
    pressure: total pressure [Pa]; meant for vapour below 0.9 of it
    returns: vapour per dry air [kg/kg]
    source: definition; the real-gas value is about 0.4 % higher, see enhanced_humidity_ratio
    """
    return humidity_ratio_from_pressure(vapour_pressure(temperature, relative_humidity), pressure)


@njit(cache=True)
def enhanced_humidity_ratio(temperature: float, relative_humidity: float, pressure: float) -> float:
    """Humidity ratio of real moist air, w = e RH f p_s/(p - RH f p_s).

    temperature: [K], 0 to 80 °C for 0.1 %
    relative_humidity: over liquid water [1]
    pressure: total pressure [Pa], 50 to 102 kPa for 0.1 %; meant for vapour below 0.9 of it
    returns: vapour per dry air [kg/kg]
    source: Herrmann2009 through enhancement_factor
    """
    partial = vapour_pressure(temperature, relative_humidity) * enhancement_factor(temperature, pressure)
    return humidity_ratio_from_pressure(partial, pressure)


@njit(cache=True)
def relative_humidity(temperature: float, humidity_ratio: float, pressure: float) -> float:
    """Relative humidity over liquid water of ideal moist air, the inverse of humidity_ratio.

    temperature: [K]
    humidity_ratio: vapour per dry air [kg/kg]
    pressure: total pressure [Pa]
    returns: relative humidity over liquid water, also below 0 °C [1]
    source: definition
    """
    return vapour_pressure_from_ratio(humidity_ratio, pressure) / saturation_pressure(temperature)


@njit(cache=True)
def enhanced_relative_humidity(temperature: float, humidity_ratio: float, pressure: float) -> float:
    """Relative humidity over liquid water of real moist air, the inverse of enhanced_humidity_ratio.

    temperature: [K]
    humidity_ratio: vapour per dry air [kg/kg]
    pressure: total pressure [Pa]
    returns: relative humidity over liquid water [1]
    source: Herrmann2009 through enhancement_factor
    """
    return relative_humidity(temperature, humidity_ratio, pressure) / enhancement_factor(
        temperature, pressure
    )


@njit(cache=True)
def dew_point(temperature: float, relative_humidity: float) -> float:
    """Dew point over liquid water, also below 0 °C, where p_s(T_d) = RH p_s(T).

    temperature: [K]
    relative_humidity: over liquid water [1]; at or below zero the coldest dew point (20 K) is returned
    returns: dew point [K]
    source: inverse of saturation_pressure
    """
    return dew_point_from_pressure(vapour_pressure(temperature, relative_humidity))


@njit(cache=True)
def enhanced_dew_point(temperature: float, relative_humidity: float, pressure: float) -> float:
    """Dew point of real moist air over liquid water, where f(T_d) p_s(T_d) = RH f(T) p_s(T).

    At most 0.07 K (80 °C air) above dew_point: the enhancement factor hardly changes with temperature.

    temperature: [K]
    relative_humidity: over liquid water [1]
    pressure: total pressure [Pa]
    returns: dew point [K]
    source: Herrmann2009 through enhancement_factor
    """
    partial = vapour_pressure(temperature, relative_humidity) * enhancement_factor(temperature, pressure)
    dew = dew_point_from_pressure(partial)
    for _ in range(30):  # contracts more than tenfold a turn
        following = dew_point_from_pressure(partial / enhancement_factor(dew, pressure))
        if abs(following - dew) < 1e-12 * dew:
            return following
        dew = following
    return dew


@njit(cache=True)
def frost_point(temperature: float, relative_humidity: float) -> float:
    """Frost point, where p_ice(T_f) = RH p_s(T); meaningful up to the triple point.

    temperature: [K]
    relative_humidity: over liquid water [1]
    returns: frost point [K]
    source: inverse of ice_saturation_pressure
    """
    return frost_point_from_pressure(vapour_pressure(temperature, relative_humidity))


@njit(cache=True)
def humidity_from_dew_point(temperature: float, dew_point: float) -> float:
    """Relative humidity over liquid water from a dew point over liquid, RH = p_s(T_d)/p_s(T).

    temperature: [K]
    dew_point: [K]
    returns: relative humidity [1]
    source: definition
    """
    return saturation_pressure(dew_point) / max(saturation_pressure(temperature), 1e-300)


@njit(cache=True)
def enthalpy(temperature: float, humidity_ratio: float) -> float:
    """Enthalpy of moist air per dry air, h = c_a t + w (L_0 + c_v t), t = T - 273.15.

    temperature: [K]
    humidity_ratio: vapour per dry air [kg/kg]
    returns: enthalpy, zero for dry air and for liquid water at 0 °C [J/kg]
    source: constants.py; within 0.5 kJ/kg or 0.5 % of Herrmann2009, 0 to 80 °C
    """
    t = temperature - FREEZING_POINT
    return DRY_AIR_SPECIFIC_HEAT * t + humidity_ratio * (LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * t)


@njit(cache=True)
def temperature_from_enthalpy(enthalpy: float, humidity_ratio: float) -> float:
    """Temperature of moist air from its enthalpy, the inverse of enthalpy.

    enthalpy: per dry air [J/kg]
    humidity_ratio: vapour per dry air [kg/kg], not below zero
    returns: temperature [K]
    source: definition
    """
    w = max(humidity_ratio, 0.0)
    sensible = enthalpy - w * LATENT_HEAT_AT_FREEZING
    return FREEZING_POINT + sensible / (DRY_AIR_SPECIFIC_HEAT + w * VAPOUR_SPECIFIC_HEAT)


@njit(cache=True)
def density(temperature: float, humidity_ratio: float, pressure: float) -> float:
    """Density of moist air, vapour included, rho = p (1 + w)/(R_a T (1 + w/e)).

    temperature: [K]
    humidity_ratio: vapour per dry air [kg/kg], not below zero
    pressure: total pressure [Pa]
    returns: density [kg/m3]
    source: ideal gas
    """
    w = max(humidity_ratio, 0.0)
    absolute = DRY_AIR_GAS_CONSTANT * max(temperature, COLDEST)
    return pressure * (1.0 + w) / (absolute * (1.0 + w / MOLAR_MASS_RATIO))


@njit(cache=True)
def density_from_pressure(temperature: float, vapour_pressure: float, pressure: float) -> float:
    """Density of moist air from its vapour pressure, rho = (p - (1 - e) p_v)/(R_a T).

    temperature: [K]
    vapour_pressure: [Pa]
    pressure: total pressure [Pa]
    returns: density [kg/m3]
    source: ideal gas
    """
    dry_equivalent = pressure - (1.0 - MOLAR_MASS_RATIO) * vapour_pressure
    return dry_equivalent / (DRY_AIR_GAS_CONSTANT * max(temperature, COLDEST))


@njit(cache=True)
def vapour_density(temperature: float, vapour_pressure: float) -> float:
    """Mass of vapour in a volume (absolute humidity), p_v/(R_w T).

    temperature: [K]
    vapour_pressure: [Pa]
    returns: vapour density [kg/m3]
    source: ideal gas
    """
    return vapour_pressure / (WATER_GAS_CONSTANT * max(temperature, COLDEST))


@njit(cache=True)
def _bulb_miss(
    bulb: float, temperature: float, humidity_ratio: float, pressure: float, over_ice: bool, enhanced: bool
) -> tuple[float, float]:
    """Adiabatic saturation, multiplied by (p - p_s)/p so that it stays finite at boiling; and its slope."""
    t = bulb - FREEZING_POINT
    if over_ice:
        saturated, slope = ice_saturation_pressure_and_slope(bulb)
        condensed, condensed_slope = ICE_SPECIFIC_HEAT * t - FUSION_HEAT, ICE_SPECIFIC_HEAT
    else:
        saturated, slope = saturation_pressure_and_slope(bulb)
        condensed, condensed_slope = LIQUID_SPECIFIC_HEAT * t, LIQUID_SPECIFIC_HEAT
    factor = 1.0
    if enhanced:  # its own slope, 1e-4 of the other, is left to the iteration
        factor = enhancement_factor(bulb, pressure)
    x, x_slope = factor * saturated / pressure, factor * slope / pressure
    heat = LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * t - condensed
    heat_slope = VAPOUR_SPECIFIC_HEAT - condensed_slope
    given = DRY_AIR_SPECIFIC_HEAT * (temperature - bulb) + humidity_ratio * (
        LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (temperature - FREEZING_POINT) - condensed
    )
    given_slope = -DRY_AIR_SPECIFIC_HEAT - humidity_ratio * condensed_slope
    miss = MOLAR_MASS_RATIO * x * heat - (1.0 - x) * given
    miss_slope = (
        MOLAR_MASS_RATIO * (x_slope * heat + x * heat_slope) + x_slope * given - (1.0 - x) * given_slope
    )
    return miss, miss_slope


@njit(cache=True)
def _bulb(
    temperature: float, humidity_ratio: float, pressure: float, over_ice: bool, enhanced: bool
) -> float:
    """Root of _bulb_miss between the dew (frost) point and the air, by bracketed Newton."""
    partial = vapour_pressure_from_ratio(humidity_ratio, pressure)
    if enhanced:
        partial *= 0.98  # at least as low as with any enhancement factor, so that the bracket holds
    if over_ice:
        dew = frost_point_from_pressure(partial)
    else:
        dew = dew_point_from_pressure(partial)
    low, high = min(dew, temperature), max(dew, temperature)
    if enhanced:
        high += 1.0
    guess = low + 0.4 * (high - low)
    for count in range(100):
        miss, slope = _bulb_miss(guess, temperature, humidity_ratio, pressure, over_ice, enhanced)
        if miss > 0.0:
            high = guess
        else:
            low = guess
        step = -miss / slope if slope > 0.0 else high - low
        following = guess + step
        if count % 8 == 7 or not low <= following <= high:
            following = 0.5 * (low + high)
        if abs(following - guess) < 1e-12 * guess:
            return following
        guess = following
    return guess


@njit(cache=True)
def wet_bulb(temperature: float, relative_humidity: float, pressure: float) -> float:
    """Thermodynamic wet bulb of ideal moist air over liquid water, also below 0 °C.

    Adiabatic saturation: h(T, w) + (w_s - w) h_l(T*) = h(T*, w_s), w_s saturated at T*.

    temperature: [K], held outside 150 to 600
    relative_humidity: over liquid water [1]
    pressure: total pressure [Pa]
    returns: wet-bulb temperature [K]
    source: ASHRAE2017 (chapter 1, definition of the thermodynamic wet bulb)
    """
    warm = min(max(temperature, 150.0), 600.0)
    total = min(max(pressure, 1.0), 1e9)
    humid = min(max(humidity_ratio(warm, relative_humidity, total), 0.0), WETTEST)
    return _bulb(warm, humid, total, False, False)


@njit(cache=True)
def enhanced_wet_bulb(temperature: float, relative_humidity: float, pressure: float) -> float:
    """Thermodynamic wet bulb of real moist air over liquid water: wet_bulb with the enhancement factor.

    temperature: [K], held outside 150 to 600
    relative_humidity: over liquid water [1]
    pressure: total pressure [Pa]
    returns: wet-bulb temperature [K]
    source: ASHRAE2017 (chapter 1), Herrmann2009 through enhancement_factor
    """
    warm = min(max(temperature, 150.0), 600.0)
    total = min(max(pressure, 1.0), 1e9)
    humid = min(max(enhanced_humidity_ratio(warm, relative_humidity, total), 0.0), WETTEST)
    return _bulb(warm, humid, total, False, True)


@njit(cache=True)
def ice_bulb(temperature: float, relative_humidity: float, pressure: float) -> float:
    """Thermodynamic wet bulb of an iced wick.

    Adiabatic saturation with ice: h(T, w) + (w_s - w) h_i(T*) = h(T*, w_s). Where the root lies above
    0 °C the ice melts, and 0 °C is returned.

    temperature: [K], held outside 150 to 600
    relative_humidity: over liquid water [1]
    pressure: total pressure [Pa]
    returns: ice-bulb temperature, at most 273.15 [K]
    source: ASHRAE2017 (chapter 1)
    """
    warm = min(max(temperature, 150.0), 600.0)
    total = min(max(pressure, 1.0), 1e9)
    humid = min(max(humidity_ratio(warm, relative_humidity, total), 0.0), WETTEST)
    if _bulb_miss(FREEZING_POINT, warm, humid, total, True, False)[0] <= 0.0:
        return FREEZING_POINT
    return _bulb(warm, humid, total, True, False)
