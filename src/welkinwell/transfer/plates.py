"""Convection between outdoor air and a plate: wind, buoyancy, both, and the wind at the plate."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from welkinwell.compiled import njit
from welkinwell.constants import STANDARD_PRESSURE
from welkinwell.errors import InputError, Problem, nearest_name
from welkinwell.moist_air.humidity import density
from welkinwell.moist_air.transport import conductivity, specific_heat, viscosity

WATMUFF_CONSTANT: Final = 2.8  # W/(m2 K), Watmuff1977, convection only
WATMUFF_SLOPE: Final = 3.0  # W s/(m3 K), Watmuff1977, 0 to 7 m/s
STILL_AIR: Final = 0.25  # K, temperature difference below which buoyancy is rounded


class Terrain(NamedTuple):
    """Power law of the wind over one kind of ground: exponent [1] and layer thickness [m]."""

    exponent: float
    layer: float


# ASHRAE2017 chapter 24: three of its four terrain categories
TERRAINS: Final = {
    "open": Terrain(0.14, 270.0),
    "suburb": Terrain(0.22, 370.0),
    "city": Terrain(0.33, 460.0),
}


def wind_factor(from_height: float, to_height: float, terrain: str, station_terrain: str = "open") -> float:
    """Wind at a device over wind at the weather station, (d_s/z_s)^a_s (z/d)^a.

    from_height: of the station's anemometer [m]
    to_height: of the device [m], read as at least 0.1
    terrain: around the device, a key of TERRAINS [name]
    station_terrain: around the station [name]
    returns: factor [1]
    source: ASHRAE2017 (chapter 24)
    """
    station, site = terrain_named(station_terrain), terrain_named(terrain)
    over_ground = max(from_height, 0.1) / station.layer
    return (1.0 / over_ground) ** station.exponent * (max(to_height, 0.1) / site.layer) ** site.exponent


def wind_at_height(wind: float, from_height: float, to_height: float, terrain: str) -> float:
    """Wind at a device from the wind at a station in open country.

    wind: at the station; a number or an array [m/s]
    from_height: of the station's anemometer [m]
    to_height: of the device [m]
    terrain: around the device, a key of TERRAINS [name]
    returns: wind at the device [m/s]
    source: ASHRAE2017 (chapter 24)
    """
    return wind * wind_factor(from_height, to_height, terrain)


def terrain_named(name: str) -> Terrain:
    """Look a terrain up.

    name: a key of TERRAINS [name]
    returns: exponent [1] and layer thickness [m]
    source: ASHRAE2017 (chapter 24)
    """
    if name not in TERRAINS:
        known = ", ".join(TERRAINS)
        raise InputError(Problem("terrain", repr(name), f"one of {known}", nearest_name(name, TERRAINS)))
    return TERRAINS[name]


@njit(cache=True)
def wind_coefficient(wind: float, constant: float, slope: float) -> float:
    """Heat coefficient of a plate in the wind, h = constant + slope V.

    wind: at the plate, below zero read as zero [m/s]
    constant: WATMUFF_CONSTANT by default [W/(m2 K)]
    slope: WATMUFF_SLOPE by default [W s/(m3 K)]
    returns: heat coefficient, convection only, plus or minus 30 % [W/(m2 K)]
    source: Watmuff1977; 0 to 7 m/s
    """
    return constant + slope * max(wind, 0.0)


def thin_air_factors(pressure: float) -> tuple[float, float]:
    """Bring a plate's coefficients from sea level to a site: factors of the wind term and of buoyancy.

    The wind acts through the Reynolds number alone, so thin air of speed V does what dense air does at
    V rho/rho_0, whatever the exponent: the slope of a + b V goes as density. Turbulent free convection,
    Nu ~ Ra^(1/3) and Ra ~ rho^2, goes as density^(2/3). At equal temperature density is as pressure.

    pressure: mean of the site [Pa]
    returns: p/p_0 for wind and (p/p_0)^(2/3) for buoyancy, p_0 = 101,325 Pa [1]
    source: Bergman2011 (chapters 6 and 9: similarity of boundary layers)
    """
    thin = max(pressure, 1.0) / STANDARD_PRESSURE
    return thin, thin ** (2.0 / 3.0)


@njit(cache=True)
def windward_plate(wind: float, length: float, temperature: float, pressure: float) -> float:
    """Heat coefficient of a rectangular plate that faces the wind, Nu = 0.86 Re^(1/2) Pr^(1/3).

    wind: [m/s]
    length: four times area over perimeter [m]
    temperature: of the film [K]
    pressure: [Pa]
    returns: heat coefficient [W/(m2 K)]
    source: Sparrow1979; 2e4 < Re < 9e4
    """
    size = max(length, 1e-6)
    mu, k = viscosity(temperature, 0.0), conductivity(temperature, 0.0)
    reynolds = density(temperature, 0.0, max(pressure, 1.0)) * max(wind, 0.0) * size / mu
    prandtl = specific_heat(0.0) * mu / k
    return 0.86 * math.sqrt(reynolds) * prandtl ** (1.0 / 3.0) * k / size


@njit(cache=True)
def buoyancy_factors(tilt: float) -> tuple[float, float]:
    """Factors of |dT|^(1/3) at a tilted face: unstable (warm side up or cold side down) and stable.

    tilt: of the face, from horizontal [rad]
    returns: 9.482/(7.283 - |cos s|) and 1.810/(1.382 + |cos s|) [W/(m2 K^(4/3))]
    source: Walton1983
    """
    steep = abs(math.cos(tilt))
    return 9.482 / (7.283 - steep), 1.810 / (1.382 + steep)


@njit(cache=True)
def free_convection(difference: float, tilt: float) -> tuple[float, float]:
    """Heat coefficient of buoyancy at a tilted face.

    h = 9.482 |dT|^(1/3)/(7.283 - |cos s|) when the warm side looks up or the cold side down,
    1.810 |dT|^(1/3)/(1.382 + |cos s|) when it is stable; |dT| is read as sqrt(dT^2 + 0.25^2 K2), and
    the two are blended over the same width, so that the coefficient is smooth through zero.

    difference: surface minus air temperature [K], bounded softly outside -500 to 500
    tilt: of the face's outward normal from the zenith: 0 looks up, pi looks down [rad]
    returns: heat coefficient [W/(m2 K)], slope to difference [W/(m2 K2)]
    source: Walton1983 (after the ASHRAE tables for horizontal and vertical plates)
    """
    dt, dt_slope = softly_bounded_difference(difference)
    cosine = math.cos(tilt)
    lively, calm = buoyancy_factors(tilt)
    positive, negative = (lively, calm) if cosine >= 0.0 else (calm, lively)
    size = math.sqrt(dt * dt + STILL_AIR * STILL_AIR)
    side = dt / size
    side_slope = STILL_AIR * STILL_AIR / (size * size * size)
    factor = 0.5 * (positive * (1.0 + side) + negative * (1.0 - side))
    factor_slope = 0.5 * (positive - negative) * side_slope
    root = size ** (1.0 / 3.0)
    root_slope = root * side / (3.0 * size)
    return factor * root, (factor_slope * root + factor * root_slope) * dt_slope


@njit(cache=True)
def softly_bounded_difference(difference: float) -> tuple[float, float]:
    """Temperature difference as it is within 500 K, approaching 600 K outside.

    difference: [K]
    returns: bounded difference [K], slope [1]
    source: definition
    """
    size = abs(difference)
    if size <= 500.0:
        return difference, 1.0
    shrink = 1.0 / (1.0 + (size - 500.0) / 100.0)
    return math.copysign(600.0 - 100.0 * shrink, difference), shrink * shrink


@njit(cache=True)
def mixed(forced: float, free: float) -> tuple[float, float, float]:
    """Forced and free convection together, h = (h_f^3 + h_n^3)^(1/3).

    forced: heat coefficient of the wind, below zero read as zero [W/(m2 K)]
    free: heat coefficient of buoyancy, below zero read as zero [W/(m2 K)]
    returns: heat coefficient [W/(m2 K)], slope to forced [1], slope to free [1]
    source: Churchill1977 (exponent 3)
    """
    a, b = min(max(forced, 0.0), 1e60), min(max(free, 0.0), 1e60)
    value = (a * a * a + b * b * b + 1e-18) ** (1.0 / 3.0)
    square = value * value
    return value, a * a / square, b * b / square
