"""Saturation of water vapour over liquid and over ice, and the way back from pressure to temperature.

Over liquid: the auxiliary vapour-pressure equation of Wagner and Pruss, which below 0 °C is bent by a
quartic onto the supercooled curve of Murphy and Koop (2005). One square root and one exponential.
Over ice: IAPWS R14-08. Outside their ranges both are continued once-differentiably, never to NaN.
"""

from __future__ import annotations

import math
from typing import Final

from welkinwell.compiled import njit
from welkinwell.constants import FREEZING_POINT, TRIPLE_POINT
from welkinwell.kernels.marks import gives_slopes

CRITICAL_TEMPERATURE: Final = 647.096  # K, IAPWS
CRITICAL_PRESSURE: Final = 22.064e6  # Pa, IAPWS
TRIPLE_PRESSURE: Final = 611.657  # Pa, IAPWS R14-08

LOG_CRITICAL_PRESSURE: Final = math.log(CRITICAL_PRESSURE)
LOG_TRIPLE_PRESSURE: Final = math.log(TRIPLE_PRESSURE)

LOWEST_FITTED: Final = 223.15  # K, below: constant latent heat (ln p linear in 1/T)
HIGHEST_FITTED: Final = 600.0  # K, above: p linear in T
HIGHEST_OVER_ICE: Final = 283.15  # K, above: constant sublimation heat
COLDEST: Final = 20.0  # K, colder arguments are read as this
HOTTEST: Final = 1e6  # K, hotter arguments are read as this, so that nothing overflows


def _liquid_curve(temperature: float) -> tuple[float, float]:
    """Wagner and Pruss, with the supercooled bend; returns ln p and d(ln p)/dT."""
    tau = 1.0 - temperature / 647.096
    root = math.sqrt(tau)
    square = tau * tau
    cube_root = square * tau * root
    # powers 1, 1.5, 3, 3.5, 4 and 7.5 of tau, in Horner order
    power = tau * (
        -7.85951783
        + 1.84408259 * root
        + square * (-11.7866497 + 22.6807411 * root + tau * (-15.9618719 + 1.80122502 * cube_root))
    )
    power_slope = (
        -7.85951783
        + 2.766123885 * root
        + square * (-35.3599491 + 79.38259385 * root + tau * (-63.8474876 + 13.50918765 * cube_root))
    )
    below = min(temperature - FREEZING_POINT, 0.0) / 100.0
    bend = below * below * (-0.0632698122 + below * (-0.382734452 - 0.838973969 * below))
    bend_slope = 0.01 * below * (-0.1265396244 + below * (-1.148203356 - 3.355895876 * below))
    inverse = 1.0 / temperature
    value = LOG_CRITICAL_PRESSURE + CRITICAL_TEMPERATURE * inverse * power + bend
    slope = -inverse * (CRITICAL_TEMPERATURE * inverse * power + power_slope) + bend_slope
    return value, slope


def _ice_curve(temperature: float) -> tuple[float, float]:
    """IAPWS R14-08 equation 6; returns ln p and d(ln p)/dT."""
    theta = temperature / TRIPLE_POINT
    log_theta = math.log(theta)
    first = -21.2144006 * math.exp(0.00333333333 * log_theta)
    second = 27.3203819 * math.exp(1.20666667 * log_theta)
    third = -6.10598130 * math.exp(1.70333333 * log_theta)
    value = LOG_TRIPLE_PRESSURE + (first + second + third) / theta
    slope = (-0.99666666667 * first + 0.20666667 * second + 0.70333333 * third) / (theta * temperature)
    return value, slope


_LIQUID_LOW, _LIQUID_LOW_SLOPE = _liquid_curve(LOWEST_FITTED)
_LIQUID_HIGH, _LIQUID_HIGH_SLOPE = _liquid_curve(HIGHEST_FITTED)
_LIQUID_HIGH_PRESSURE: Final = math.exp(_LIQUID_HIGH)
_ICE_HIGH, _ICE_HIGH_SLOPE = _ice_curve(HIGHEST_OVER_ICE)
# ln p = ln p_edge + B (1/T_edge - 1/T) with the slope of the edge
_LIQUID_LOW_B: Final = _LIQUID_LOW_SLOPE * LOWEST_FITTED**2
_ICE_HIGH_B: Final = _ICE_HIGH_SLOPE * HIGHEST_OVER_ICE**2

liquid_curve = njit(cache=True)(_liquid_curve)
ice_curve = njit(cache=True)(_ice_curve)


@gives_slopes("temperature")
@njit(cache=True)
def log_saturation_pressure(temperature: float) -> tuple[float, float]:
    """Natural logarithm of the saturation pressure over liquid water, and its slope.

    ln(p/p_c) = (T_c/T)(a1 t + a2 t^1.5 + a3 t^3 + a4 t^3.5 + a5 t^4 + a6 t^7.5), t = 1 - T/T_c,
    plus c2 d^2 + c3 d^3 + c4 d^4 with d = min(T - 273.15, 0)/100, fitted to Murphy and Koop (2005).

    temperature: [K], fitted from 223.15 to 600; colder: constant latent heat; hotter: p linear in T
    returns: ln(p/Pa) [1], its slope [1/K]
    source: Wagner1993, Wagner2002 (auxiliary equation 2.5), Murphy2005 (equation 10)
    """
    if temperature < LOWEST_FITTED:
        bounded = max(temperature, COLDEST)
        value = _LIQUID_LOW + _LIQUID_LOW_B * (1.0 / LOWEST_FITTED - 1.0 / bounded)
        slope = _LIQUID_LOW_B / (bounded * bounded) if temperature > COLDEST else 0.0
        return value, slope
    if temperature > HIGHEST_FITTED:
        growth = 1.0 + _LIQUID_HIGH_SLOPE * (min(temperature, HOTTEST) - HIGHEST_FITTED)
        slope = _LIQUID_HIGH_SLOPE / growth if temperature < HOTTEST else 0.0
        return _LIQUID_HIGH + math.log(growth), slope
    return liquid_curve(temperature)


@gives_slopes("temperature")
@njit(cache=True)
def saturation_pressure_and_slope(temperature: float) -> tuple[float, float]:
    """Saturation pressure over liquid water and its slope, at the price of one.

    temperature: [K]
    returns: pressure [Pa], slope [Pa/K]
    source: see log_saturation_pressure
    """
    if temperature > HIGHEST_FITTED:
        growth = 1.0 + _LIQUID_HIGH_SLOPE * (min(temperature, HOTTEST) - HIGHEST_FITTED)
        slope = _LIQUID_HIGH_PRESSURE * _LIQUID_HIGH_SLOPE if temperature < HOTTEST else 0.0
        return _LIQUID_HIGH_PRESSURE * growth, slope
    value, slope = log_saturation_pressure(temperature)
    pressure = math.exp(value)
    return pressure, pressure * slope


@njit(cache=True)
def saturation_pressure(temperature: float) -> float:
    """Saturation pressure over liquid water, supercooled below 0 °C.

    Wagner and Pruss auxiliary equation above 0 °C, bent onto Murphy and Koop below.

    temperature: [K], 223.15 to 600; continued smoothly outside
    returns: pressure [Pa]
    source: Wagner2002, Murphy2005
    """
    return saturation_pressure_and_slope(temperature)[0]


@njit(cache=True)
def saturation_pressure_slope(temperature: float) -> float:
    """Slope of the saturation pressure over liquid water.

    temperature: [K]
    returns: dp/dT [Pa/K]
    source: see saturation_pressure
    """
    return saturation_pressure_and_slope(temperature)[1]


@njit(cache=True)
def log_ice_saturation_pressure(temperature: float) -> tuple[float, float]:
    """Natural logarithm of the saturation pressure over ice, and its slope.

    ln(p/p_t) = (1/q) sum a_i q^b_i, q = T/T_t.

    temperature: [K], 50 to 273.16; continued to 283.15, then with constant sublimation heat
    returns: ln(p/Pa) [1], its slope [1/K]
    source: IAPWS_R14_08
    """
    if temperature < COLDEST:
        return ice_curve(COLDEST)[0], 0.0
    if temperature > HIGHEST_OVER_ICE:
        value = _ICE_HIGH + _ICE_HIGH_B * (1.0 / HIGHEST_OVER_ICE - 1.0 / temperature)
        return value, _ICE_HIGH_B / (temperature * temperature)
    return ice_curve(temperature)


@njit(cache=True)
def ice_saturation_pressure_and_slope(temperature: float) -> tuple[float, float]:
    """Saturation pressure over ice and its slope.

    temperature: [K]
    returns: pressure [Pa], slope [Pa/K]
    source: IAPWS_R14_08
    """
    value, slope = log_ice_saturation_pressure(temperature)
    pressure = math.exp(value)
    return pressure, pressure * slope


@njit(cache=True)
def ice_saturation_pressure(temperature: float) -> float:
    """Saturation (sublimation) pressure over ice.

    temperature: [K], 50 to 273.16
    returns: pressure [Pa]
    source: IAPWS_R14_08
    """
    return ice_saturation_pressure_and_slope(temperature)[0]


@njit(cache=True)
def ice_saturation_pressure_slope(temperature: float) -> float:
    """Slope of the saturation pressure over ice.

    temperature: [K], 50 to 273.16
    returns: dp/dT [Pa/K]
    source: IAPWS_R14_08
    """
    return ice_saturation_pressure_and_slope(temperature)[1]


@njit(cache=True)
def latent_heat(temperature: float) -> float:
    """Latent heat of vaporisation of liquid water, supercooled below 0 °C.

    Quartic in t/100 fitted to IAPWS-95 (0.01 to 150 °C, within 0.003 %); below 0 °C plus
    d^2 (e2 + e3 d + e4 d^2) fitted to Murphy and Koop (-40 to 0 °C, within 0.02 %).
    The heat balances of the harvesters use the linear surface of constants.py instead.

    temperature: [K], 233.15 to 423.15; straight outside
    returns: heat [J/kg]
    source: Wagner2002 (values computed with CoolProp), Murphy2005 (equation 9)
    """
    inside = min(max(temperature, 233.15), 423.15)
    x = (inside - FREEZING_POINT) / 100.0
    d = min(x, 0.0)
    value = 2500872.05 + x * (-236773.38 + x * (2204.07834 + x * (-7802.31702 - 2088.05967 * x)))
    slope = -236773.38 + x * (4408.15668 + x * (-23406.95106 - 8352.23868 * x))
    value += d * d * (12023.103 + d * (165591.027 + 814200.309 * d))
    slope += d * (24046.206 + d * (496773.081 + 3256801.236 * d))
    return value + slope * (temperature - inside) / 100.0


@njit(cache=True)
def sublimation_heat(temperature: float) -> float:
    """Heat of sublimation of ice.

    (46782.5 + 35.8925 T - 0.07414 T^2 + 541.5 exp(-(T/123.75)^2)) J/mol, over the molar mass.

    temperature: [K], 30 to 273.16; held outside
    returns: heat [J/kg]
    source: Murphy2005 (equation 5, constants from memory; checked against the slope of R14-08)
    """
    inside = min(max(temperature, 30.0), TRIPLE_POINT)
    scaled = inside / 123.75
    molar = 46782.5 + 35.8925 * inside - 0.07414 * inside * inside + 541.5 * math.exp(-scaled * scaled)
    return molar / 0.018015268


@njit(cache=True)
def dew_point_from_pressure(vapour_pressure: float) -> float:
    """Temperature at which liquid water is in equilibrium with a vapour pressure.

    Newton's method in 1/T on ln p, to round-off.

    vapour_pressure: [Pa]; at or below zero the coldest representable dew point (20 K) is returned
    returns: dew point over liquid, also below 0 °C [K]
    source: inverse of saturation_pressure
    """
    if vapour_pressure >= _LIQUID_HIGH_PRESSURE:
        return HIGHEST_FITTED + (vapour_pressure / _LIQUID_HIGH_PRESSURE - 1.0) / _LIQUID_HIGH_SLOPE
    target = math.log(max(vapour_pressure, 1e-300))
    if target <= _LIQUID_LOW:
        return max(1.0 / (1.0 / LOWEST_FITTED - (target - _LIQUID_LOW) / _LIQUID_LOW_B), COLDEST)
    magnus = target - 6.4155
    temperature = min(max(273.15 + 243.12 * magnus / (17.62 - magnus), LOWEST_FITTED), HIGHEST_FITTED)
    for _ in range(20):
        value, slope = liquid_curve(temperature)
        miss = value - target
        guess = 1.0 / (1.0 / temperature + miss / (temperature * temperature * slope))
        temperature = min(max(guess, LOWEST_FITTED), HIGHEST_FITTED)
        if abs(miss) < 1e-9:  # quadratic: the step just made ends at round-off
            break
    return temperature


@njit(cache=True)
def frost_point_from_pressure(vapour_pressure: float) -> float:
    """Temperature at which ice is in equilibrium with a vapour pressure.

    Newton's method in 1/T on ln p, to round-off. Meaningful up to the triple point, 611.657 Pa.

    vapour_pressure: [Pa]; at or below zero the coldest representable frost point (20 K) is returned
    returns: frost point [K]
    source: inverse of ice_saturation_pressure
    """
    target = math.log(max(vapour_pressure, 1e-300))
    if target >= _ICE_HIGH:
        room = max(1.0 / HIGHEST_OVER_ICE - (target - _ICE_HIGH) / _ICE_HIGH_B, 1e-3)
        return 1.0 / room
    temperature = min(max(6139.0 / (28.88 - target), COLDEST), HIGHEST_OVER_ICE)
    for _ in range(30):
        value, slope = ice_curve(temperature)
        miss = value - target
        room = max(1.0 / temperature + miss / (temperature * temperature * slope), 1e-3)
        temperature = min(max(1.0 / room, COLDEST), HIGHEST_OVER_ICE)
        if abs(miss) < 1e-9:
            break
    return temperature


@njit(cache=True)
def enhancement_factor(temperature: float, pressure: float) -> float:
    """Ratio of the saturated partial pressure in real moist air to that of pure water.

    ln f = (p - p_s)[A(t) + x B(t) + p C(t)], x = p_s/p: the form that the second virial coefficients
    give, with polynomials in t/100 fitted to 461 points of the real-gas model of ASHRAE RP-1485
    (0 to 80 °C, 50 to 102 kPa, x < 0.9; within 2.1e-5).

    temperature: [K], held outside 223.15 to 373.15
    pressure: total pressure [Pa], held outside 10 to 150 kPa
    returns: enhancement factor [1]
    source: Herrmann2009 (values computed with CoolProp), fit of this project
    """
    bounded = min(max(temperature, 223.15), 373.15)
    total = min(max(pressure, 1.0e4), 1.5e5)
    saturated = min(saturation_pressure(bounded), total)
    u = (bounded - FREEZING_POINT) / 100.0
    x = saturated / total
    dry = 0.0040658164 + u * (-0.0035607403 + u * (-0.00044310529 + 0.0016295 * u))
    wet = 0.058938109 + u * (-0.074539334 + 0.030064809 * u)
    compressed = -0.00036745258 + 0.00069192969 * u
    return math.exp(1e-5 * (total - saturated) * (dry + x * wet + 1e-5 * total * compressed))
