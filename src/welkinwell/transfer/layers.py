"""Vapour diffusing into a porous layer."""

from __future__ import annotations

import math

from welkinwell.compiled import njit
from welkinwell.constants import GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.moist_air.transport import vapour_diffusivity


@njit(cache=True)
def knudsen_diffusivity(pore_radius: float, temperature: float) -> float:
    """Diffusivity of vapour in a pore narrower than its free path, (2/3) r sqrt(8 R T/(pi M)).

    pore_radius: [m]
    temperature: [K]
    returns: diffusivity, the same as 97 r sqrt(T/M) with M in g/mol [m2/s]
    source: kinetic theory, Mason1983
    """
    bounded = min(max(temperature, 1.0), 1e6)
    speed = math.sqrt(8.0 * GAS_CONSTANT * bounded / (math.pi * WATER_MOLAR_MASS))
    return 2.0 / 3.0 * max(pore_radius, 0.0) * speed


@njit(cache=True)
def pore_diffusivity(pore_radius: float, temperature: float, pressure: float) -> float:
    """Diffusivity of vapour in an air-filled pore, 1/D_p = 1/D_K + 1/D_m.

    pore_radius: [m]
    temperature: [K]
    pressure: total pressure [Pa]
    returns: diffusivity [m2/s]
    source: Bosanquet's rule, Pollard1948
    """
    knudsen = max(knudsen_diffusivity(pore_radius, temperature), 1e-30)
    molecular = vapour_diffusivity(temperature, pressure)
    return 1.0 / (1.0 / knudsen + 1.0 / molecular)


@njit(cache=True)
def effective_diffusivity(pore_radius: float, porosity: float, temperature: float, pressure: float) -> float:
    """Diffusivity of vapour in a porous layer per its whole cross-section, e^(3/2) D_p.

    pore_radius: of the pores that carry the vapour (between grains: a third of the grain) [m]
    porosity: of those pores, held within 0 to 1 [1]
    temperature: [K]
    pressure: total pressure [Pa]
    returns: effective diffusivity; tortuosity of 2 to 4 instead of e^(-1/2) lowers it by half or more [m2/s]
    source: Bruggeman1935
    """
    return min(max(porosity, 0.0), 1.0) ** 1.5 * pore_diffusivity(pore_radius, temperature, pressure)


@njit(cache=True)
def layer_resistance(thickness: float, effective_diffusivity: float) -> float:
    """Resistance of a layer to uptake from one side, against its mean vapour density, L/(3 D_e).

    With uptake spread evenly the profile is a parabola, whose surface value exceeds its mean by
    flow L/(3 D_e); derived in docs/theory/transfer.md.

    thickness: [m]
    effective_diffusivity: [m2/s]
    returns: resistance [s/m]
    source: linear driving force of a slab, derived in docs/theory/transfer.md
    """
    return max(thickness, 0.0) / (3.0 * max(effective_diffusivity, 1e-30))


@njit(cache=True)
def front_time(
    thickness: float, bulk_density: float, swing: float, effective_diffusivity: float, difference: float
) -> float:
    """Time in which a sharp uptake front crosses a layer, L^2 rho_b dq/(2 D_e dc).

    thickness: [m]
    bulk_density: dry [kg/m3]
    swing: loading taken up behind the front [kg/kg]
    effective_diffusivity: [m2/s]
    difference: of vapour density between surface and front, read as at least 1e-12 [kg/m3]
    returns: time [s]
    source: shrinking-core balance with quasi-steady diffusion
    """
    drive = 2.0 * max(effective_diffusivity, 1e-30) * max(difference, 1e-12)
    return thickness * thickness * bulk_density * swing / drive


@njit(cache=True)
def warming_time(thickness: float, conductivity: float, volumetric_heat: float) -> float:
    """Time scale in which heat crosses a layer, L^2 rho c/k.

    thickness: [m]
    conductivity: [W/(m K)]
    volumetric_heat: [J/(m3 K)]
    returns: time [s]
    source: dimensional analysis of the heat equation
    """
    return thickness * thickness * volumetric_heat / max(conductivity, 1e-12)
