"""Outer surfaces: heat to moving air and radiation to the surroundings. Values with slopes."""

from __future__ import annotations

import math

from welkinwell.compiled import njit
from welkinwell.constants import STEFAN_BOLTZMANN
from welkinwell.kernels.marks import gives_slopes
from welkinwell.transfer.plates import buoyancy_factors


@gives_slopes("T_surface")
@njit(cache=True)
def surface_coefficient(forced, T_surface, T_air, when_hot, when_cold):
    """Return the coefficient of a surface in wind with a free-convection floor, and its slope.

    h = cbrt(forced^3 + c^3 dT^2/sqrt(dT^2 + 1 K2)): the cubes of forced and free convection add, and
    free convection is c |dT|^(1/3), rounded within a kelvin of zero.
    forced: coefficient without free convection [W/(m2 K)]; T_surface, T_air [K];
    when_hot, when_cold: c^3 for a surface hotter or colder than the air [(W/(m2 K))^3/K].
    returns: h [W/(m2 K)], dh/dT_surface [W/(m2 K2)].
    """
    difference = T_surface - T_air
    cubed = when_hot if difference > 0.0 else when_cold
    square = difference * difference
    root = math.sqrt(square + 1.0)
    h = (forced * forced * forced + cubed * square / root) ** (1.0 / 3.0)
    slope = cubed * difference * (square + 2.0) / (root * root * root)
    return h, slope / (3.0 * h * h)


@njit(cache=True)
def free_convection_constants(tilt, faces_up):
    """Return c^3 of free convection for a plate hotter and colder than the air [(W/(m2 K))^3/K].

    The factors of transfer.plates.buoyancy_factors, times |dT|^(1/3) (Walton1983).
    tilt [rad]; faces_up: whether the surface looks upwards.
    """
    unstable, stable = buoyancy_factors(tilt)
    if faces_up:
        return unstable**3, stable**3
    return stable**3, unstable**3


@gives_slopes("T")
@njit(cache=True)
def longwave_loss(emissivity, T, T_air, sky_longwave, sky_view):
    """Return the net longwave loss to sky and surroundings at air temperature, and its slope.

    Returns [W/m2], [W/(m2 K)]. emissivity [1]; T, T_air [K]; sky_longwave [W/m2]; sky_view: share of the
    view that is sky [1].
    """
    cube = STEFAN_BOLTZMANN * T * T * T
    square = T_air * T_air
    surroundings = sky_view * sky_longwave + (1.0 - sky_view) * STEFAN_BOLTZMANN * square * square
    return emissivity * (cube * T - surroundings), emissivity * 4.0 * cube


@gives_slopes("T_1", "T_2")
@njit(cache=True)
def radiation_between(emissivity, T_1, T_2):
    """Return the radiation from 1 to 2 [W/m2] and its slopes [W/(m2 K)] in T_1 and T_2 [K].

    emissivity: effective, of the pair [1].
    """
    c = emissivity * STEFAN_BOLTZMANN
    cube_1 = T_1 * T_1 * T_1
    cube_2 = T_2 * T_2 * T_2
    return c * (cube_1 * T_1 - cube_2 * T_2), 4.0 * c * cube_1, -4.0 * c * cube_2
