"""Air through a bed of grains: pressure drop, and heat and mass transfer to the grains."""

from __future__ import annotations

import math

from welkinwell.compiled import njit


@njit(cache=True)
def ergun_gradient(
    velocity: float, diameter: float, porosity: float, density: float, viscosity: float
) -> tuple[float, float]:
    """Pressure drop per length of a packed bed.

    dp/dx = 150 mu (1 - e)^2 u/(e^3 d^2) + 1.75 (1 - e) rho |u| u/(e^3 d).

    velocity: superficial [m/s]
    diameter: of the grains (times sphericity) [m]
    porosity: between the grains, held within 0.01 to 1 [1]
    density: of the air [kg/m3]
    viscosity: of the air [Pa s]
    returns: pressure drop [Pa/m], slope to velocity [Pa s/m2]
    source: Ergun1952; 1 < Re/(1 - e) < 2500, bed wider than 10 grains
    """
    viscous, inertial = _ergun_factors(diameter, porosity, density, viscosity)
    return velocity * (viscous + inertial * abs(velocity)), viscous + 2.0 * inertial * abs(velocity)


@njit(cache=True)
def ergun_velocity(
    gradient: float, diameter: float, porosity: float, density: float, viscosity: float
) -> float:
    """Superficial velocity that a pressure gradient drives, the inverse of ergun_gradient.

    gradient: [Pa/m]
    diameter: of the grains [m]
    porosity: [1]
    density: of the air [kg/m3]
    viscosity: of the air [Pa s]
    returns: superficial velocity [m/s]
    source: Ergun1952
    """
    viscous, inertial = _ergun_factors(diameter, porosity, density, viscosity)
    size = abs(gradient)
    # the root of a u^2 + b u = c in the form that does not cancel
    return 2.0 * gradient / (viscous + math.sqrt(viscous * viscous + 4.0 * inertial * size))


@njit(cache=True)
def _ergun_factors(diameter: float, porosity: float, density: float, viscosity: float) -> tuple[float, float]:
    """Coefficients of velocity and of velocity squared."""
    e = min(max(porosity, 0.01), 1.0)
    d = max(diameter, 1e-9)
    solid = 1.0 - e
    cube = e * e * e
    viscous = 150.0 * max(viscosity, 1e-9) * max(solid * solid, 1e-12) / (cube * d * d)
    return viscous, 1.75 * solid * max(density, 0.0) / (cube * d)


@njit(cache=True)
def wakao_nusselt(reynolds: float, prandtl: float) -> float:
    """Nusselt number of a grain in a bed, 2 + 1.1 Re^0.6 Pr^(1/3); Sherwood with Schmidt for Prandtl.

    reynolds: rho u d/mu with the superficial velocity; its size counts [1]
    prandtl: or Schmidt number [1]
    returns: Nusselt (Sherwood) number [1]
    source: Wakao1979, Wakao1978; 15 (mass: 3) < Re < 8500 (10,000), porosity about 0.4
    """
    return 2.0 + 1.1 * abs(reynolds) ** 0.6 * max(prandtl, 0.0) ** (1.0 / 3.0)


@njit(cache=True)
def grain_surface(diameter: float, porosity: float) -> float:
    """Surface of spheres per volume of bed, 6 (1 - e)/d.

    diameter: [m]
    porosity: between the grains [1]
    returns: surface per volume [1/m]
    source: geometry
    """
    return 6.0 * (1.0 - min(max(porosity, 0.0), 1.0)) / max(diameter, 1e-9)
