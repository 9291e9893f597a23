"""Vapour moving through air to a surface, the heat that goes with it, and the liquid film."""

from __future__ import annotations

import math
from typing import Final

from welkinwell.compiled import njit
from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    GRAVITY,
    LATENT_HEAT_AT_FREEZING,
    LIQUID_SPECIFIC_HEAT,
    WATER_GAS_CONSTANT,
)
from welkinwell.kernels.marks import gives_slopes, written_out
from welkinwell.moist_air.liquid_water import liquid_conductivity, liquid_density, liquid_viscosity
from welkinwell.moist_air.saturation import latent_heat, saturation_pressure
from welkinwell.moist_air.transport import dry_air_conductivity, vapour_diffusivity

HIGHEST_SHARE: Final = 0.9  # of vapour in the total pressure; above, the logarithm goes on as its tangent
NUSSELT_FACTOR: Final = 2.0 * math.sqrt(2.0) / 3.0  # the mean of the film over its length
_EDGE_LOG: Final = -math.log(1.0 - HIGHEST_SHARE)


@gives_slopes("mole_fraction")
@njit(cache=True)
def stefan_potential(mole_fraction: float) -> tuple[float, float]:
    """Driving potential of vapour through still air, -ln(1 - x).

    mole_fraction: of vapour; above 0.9 the tangent is followed; below zero the formula holds [1]
    returns: potential [1], slope [1]
    source: Stefan's law of one-sided diffusion
    """
    if mole_fraction > HIGHEST_SHARE:
        steep = 1.0 / (1.0 - HIGHEST_SHARE)
        return _EDGE_LOG + steep * (mole_fraction - HIGHEST_SHARE), steep
    return -math.log1p(-mole_fraction), 1.0 / (1.0 - mole_fraction)


@written_out
@njit(cache=True)
def stefan_flow(
    coefficient: float, temperature: float, pressure_from: float, pressure_to: float, pressure: float
) -> float:
    """Vapour flow between two surfaces through air that does not move with it.

    m = k P M_w/(R T) ln((P - p_to)/(P - p_from)), continued straight above 0.9 P.

    coefficient: mass transfer coefficient k [m/s]
    temperature: mean of the gap [K]
    pressure_from: vapour pressure where the vapour leaves [Pa]
    pressure_to: vapour pressure where it arrives [Pa]
    pressure: total pressure [Pa]
    returns: flow [kg/(m2 s)]
    source: Stefan's law, Bird2002 (section 18.2)
    """
    total = max(pressure, 1.0)
    start = stefan_potential(pressure_from / total)[0]
    end = stefan_potential(pressure_to / total)[0]
    scale = coefficient / (WATER_GAS_CONSTANT * max(temperature, 20.0))
    return scale * total * (start - end)


@njit(cache=True)
def lewis_mass_coefficient(heat_coefficient: float, temperature: float, pressure: float) -> float:
    """Mass transfer coefficient of a boundary layer, h_m = h/(rho c_p Le^(2/3)), Le = alpha/D.

    heat_coefficient: convection only, of the same surface [W/(m2 K)]
    temperature: of the film [K]
    pressure: total pressure [Pa]
    returns: mass transfer coefficient, proportional to heat_coefficient [m/s]
    source: Chilton1934, for dry air and low flow
    """
    total = max(pressure, 1.0)
    bounded = min(max(temperature, 100.0), 1000.0)
    volumetric = total * DRY_AIR_SPECIFIC_HEAT / (DRY_AIR_GAS_CONSTANT * bounded)
    lewis = dry_air_conductivity(bounded) / (volumetric * vapour_diffusivity(bounded, total))
    return heat_coefficient / (volumetric * lewis ** (2.0 / 3.0))


@gives_slopes("ratio")
@njit(cache=True)
def vapour_heat_factor(ratio: float) -> tuple[float, float]:
    """Factor on sensible conduction across a gap that vapour crosses, (a/2)/tanh(a/2).

    Holds when the vapour's enthalpy is counted at the mean temperature of the two surfaces; even in a.

    ratio: a = m c_v/h, flow times specific heat of vapour over heat coefficient [1]
    returns: factor, at least 1 [1], slope to ratio [1]
    source: Ackermann1937, derived in docs/theory/transfer.md
    """
    half = 0.5 * ratio
    square = half * half
    if square < 1e-4:
        # y coth y = 1 + y^2/3 - y^4/45 + ..., relative error below 2 y^6/945
        return 1.0 + square * (1.0 / 3.0 - square / 45.0), half * (1.0 / 3.0 - square * 2.0 / 45.0)
    if abs(half) > 50.0:
        return abs(half), math.copysign(0.5, ratio)
    slope_of = math.tanh(half)
    sine = math.sinh(half)
    return half / slope_of, 0.5 * (1.0 / slope_of - half / (sine * sine))


@njit(cache=True)
def film_condensation(
    saturation_temperature: float, wall_temperature: float, length: float, inclination: float
) -> float:
    """Heat coefficient of a laminar film of pure steam condensing on a plate.

    h = (2 sqrt(2)/3) [g sin(b) rho_l (rho_l - rho_v) L' k^3/(mu length dT)]^(1/4), L' = L + 0.68 c_l dT;
    liquid properties at the mean temperature. Air in the vapour makes this irrelevant: see stefan_flow.

    saturation_temperature: [K]
    wall_temperature: below saturation; the difference is read as at least 0.001 K [K]
    length: along the fall [m]
    inclination: of the plate from horizontal [rad]
    returns: heat coefficient, mean over the length [W/(m2 K)]
    source: Nusselt1916; laminar, 4 Gamma/mu < 30; waves add 15 to 20 % up to 1800
    """
    difference = max(saturation_temperature - wall_temperature, 1e-3)
    film = 0.5 * (saturation_temperature + wall_temperature)
    liquid = liquid_density(film)
    bounded = min(max(saturation_temperature, 150.0), 600.0)
    vapour = saturation_pressure(bounded) / (WATER_GAS_CONSTANT * bounded)
    heat = max(latent_heat(bounded), 0.1 * LATENT_HEAT_AT_FREEZING)
    heat += 0.68 * LIQUID_SPECIFIC_HEAT * min(difference, 1000.0)
    fall = GRAVITY * max(math.sin(inclination), 0.0)
    conduct = liquid_conductivity(film)
    strength = fall * liquid * max(liquid - vapour, 0.0) * heat * conduct * conduct * conduct
    return NUSSELT_FACTOR * (strength / (liquid_viscosity(film) * max(length, 1e-6) * difference)) ** 0.25


@njit(cache=True)
def film_reynolds(flow: float, length: float, temperature: float) -> float:
    """Reynolds number of a falling film, 4 Gamma/mu, Gamma = flow times length.

    flow: condensation [kg/(m2 s)]
    length: along the fall [m]
    temperature: of the film [K]
    returns: Reynolds number; laminar below 30, wavy to 1800 [1]
    source: Nusselt1916
    """
    return 4.0 * flow * length / liquid_viscosity(temperature)
