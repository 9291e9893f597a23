"""Where a liquid desiccant meets the air: gas side, liquid side, and the air that runs short.

Coefficients of wetted channels and of packings from dimensionless groups, for numbers made once from a
design; `passing_air` is what the march itself calls. docs/theory/liquid_desiccant.md, section 3.
"""

from __future__ import annotations

import math
from typing import Final

from welkinwell.compiled import njit
from welkinwell.constants import GRAVITY
from welkinwell.kernels.marks import written_out

LAMINAR_SHERWOOD: Final = 7.54  # fully developed between parallel plates at even state (Bergman2011)
STILL_AIR: Final = 1e-9  # m3/(m2 s), so that air at rest divides nothing
SMALL_PACKING: Final = 0.015  # m, below which Onda1968 takes 2.00 in place of 5.23


def film_thickness(load: float, viscosity: float, density: float, steepness: float = 1.0) -> float:
    """Thickness of a laminar film falling on a wall, delta = (3 mu G/(rho^2 g sin b))^(1/3).

    load: flow per width of wall G [kg/(m s)]
    viscosity: of the liquid [Pa s]
    density: of the liquid [kg/m3]
    steepness: sine of the wall's slope [1]
    returns: thickness [m]
    source: Nusselt1916; laminar, 4 G/mu below about 20 without ripples (Bird2002, section 2.2)
    """
    return (3.0 * viscosity * load / (density * density * GRAVITY * steepness)) ** (1.0 / 3.0)


def film_surface_speed(load: float, viscosity: float, density: float, steepness: float = 1.0) -> float:
    """Speed of the surface of such a film, 3/2 of its mean G/(rho delta).

    load: [kg/(m s)]
    viscosity: [Pa s]
    density: [kg/m3]
    steepness: sine of the wall's slope [1]
    returns: speed [m/s]
    source: Bird2002 (section 2.2)
    """
    return 1.5 * load / (density * film_thickness(load, viscosity, density, steepness))


def penetration_coefficient(diffusivity: float, contact_time: float) -> float:
    """Liquid-side coefficient of a surface that is renewed after a time, k = 2 sqrt(D/(pi t)).

    diffusivity: of water in the solution [m2/s]
    contact_time: between two mixings [s]
    returns: coefficient [m/s]
    source: Higbie1935
    """
    return 2.0 * math.sqrt(diffusivity / (math.pi * contact_time))


def channel_coefficients(gap: float, diffusivity: float, kinematic: float) -> tuple[float, float]:
    """Gas side of flat wetted channels: still part and factor of speed^0.8, k = (a^3 + (b u^0.8)^3)^(1/3).

    Laminar Sh = 7.54 and turbulent Sh = 0.023 Re^0.8 Sc^0.4, both on the hydraulic diameter 2 gap; cubes
    added, so that the two meet smoothly (at Re about 2,000).

    gap: between two wetted walls [m]
    diffusivity: of vapour in air [m2/s]
    kinematic: viscosity of air [m2/s]
    returns: a [m/s], b [m/s per (m/s)^0.8]
    source: Bergman2011 (table 8.1 and equation 8.60, by the analogy of heat and mass)
    """
    hydraulic = 2.0 * gap
    turbulent = 0.023 * (hydraulic / kinematic) ** 0.8 * (kinematic / diffusivity) ** 0.4
    return LAMINAR_SHERWOOD * diffusivity / hydraulic, turbulent * diffusivity / hydraulic


def packing_gas_coefficient(
    speed: float, surface: float, size: float, diffusivity: float, kinematic: float
) -> float:
    """Gas side of a random packing, k = C a D (u/(a nu))^0.7 Sc^(1/3) (a d)^-2.

    speed: of the air over the empty cross section u [m/s]
    surface: dry surface per volume a [1/m]
    size: nominal size of a piece d [m]; C is 5.23, or 2.00 below 15 mm
    diffusivity: of vapour in air D [m2/s]
    kinematic: viscosity of air nu [m2/s]
    returns: coefficient, proportional to speed^0.7 [m/s]
    source: Onda1968
    """
    factor = 5.23 if size >= SMALL_PACKING else 2.0
    reynolds = speed / (surface * kinematic)
    schmidt = kinematic / diffusivity
    return factor * surface * diffusivity * reynolds**0.7 * schmidt ** (1.0 / 3.0) / (surface * size) ** 2


def packing_wetted_share(
    flux: float, surface: float, viscosity: float, density: float, tension: float, critical: float
) -> float:
    """Wetted share of a packing, 1 - exp(-1.45 (s_c/s)^0.75 Re^0.1 Fr^-0.05 We^0.2).

    flux: of the liquid over the empty cross section L [kg/(m2 s)]
    surface: per volume a [1/m]
    viscosity: of the liquid [Pa s]
    density: of the liquid [kg/m3]
    tension: surface tension of the liquid [N/m]
    critical: of the packing's material (ceramic 0.061, steel 0.075, polyethylene 0.033) [N/m]
    returns: share [1]
    source: Onda1968
    """
    reynolds = flux / (surface * viscosity)
    froude = flux * flux * surface / (density * density * GRAVITY)
    weber = flux * flux / (density * tension * surface)
    group = 1.45 * (critical / tension) ** 0.75 * reynolds**0.1 * froude**-0.05 * weber**0.2
    return 1.0 - math.exp(-group)


def packing_liquid_factor(
    flux: float, wetted: float, surface: float, size: float, viscosity: float, density: float
) -> float:
    """Liquid side of a random packing, over sqrt(D).

    k (rho/(mu g))^(1/3) = 0.0051 Re_w^(2/3) Sc^-1/2 (a d)^0.4.

    flux: of the liquid [kg/(m2 s)]
    wetted: surface per volume [1/m]
    surface: dry, per volume [1/m]
    size: of a piece [m]
    viscosity: of the liquid [Pa s]
    density: of the liquid [kg/m3]
    returns: k/sqrt(D) [1/s^(1/2)]
    source: Onda1968
    """
    reynolds = flux / (wetted * viscosity)
    by_schmidt = math.sqrt(density / viscosity)  # Sc^-1/2 without sqrt(D)
    scale = (viscosity * GRAVITY / density) ** (1.0 / 3.0)
    return 0.0051 * reynolds ** (2.0 / 3.0) * by_schmidt * (surface * size) ** 0.4 * scale


@written_out
@njit(cache=True)
def passing_air(conductance, air_flow):
    """Conductance as seen from the air before it comes in, V (1 - exp(-K/V)): the air runs short.

    conductance: coefficient times area K [m3/(m2 s)]; air_flow: V [m3/(m2 s)], never below STILL_AIR.
    Returns the conductance [m3/(m2 s)]: K where there is much air, V where there is little.
    """
    flow = max(air_flow, STILL_AIR)
    return -flow * math.expm1(-conductance / flow)
