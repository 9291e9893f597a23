"""Free convection of moist air in a flat gap of any inclination, with heat and vapour at both faces."""

from __future__ import annotations

import math
from typing import Final

from numba import njit

from welkinwell.constants import (
    DRY_AIR_MOLAR_MASS,
    DRY_AIR_SPECIFIC_HEAT,
    GAS_CONSTANT,
    GRAVITY,
    MOLAR_MASS_RATIO,
    VAPOUR_SPECIFIC_HEAT,
    WATER_MOLAR_MASS,
)
from welkinwell.moist_air.transport import transport_with_slopes, vapour_diffusivity
from welkinwell.transfer.smooth_bounds import positive_part, softly_bounded

ROUNDING: Final = 0.05  # half width, in Nusselt numbers, of the rounded corners of the correlations
LEWIS_CUBE_ROOT: Final = 0.951  # (alpha/D)^(1/3) of vapour in air at 25 °C, where alpha/D = 0.86
SIXTY_DEGREES: Final = math.pi / 3.0
_LIGHTNESS: Final = 1.0 - MOLAR_MASS_RATIO
_MOLAR_HEAT_AIR: Final = DRY_AIR_MOLAR_MASS * DRY_AIR_SPECIFIC_HEAT
_MOLAR_HEAT_VAPOUR: Final = WATER_MOLAR_MASS * VAPOUR_SPECIFIC_HEAT


@njit(cache=True)
def tilted_nusselt(rayleigh: float, inclination: float) -> tuple[float, float]:
    """Nusselt number of a wide tilted gap heated from below.

    Nu = 1 + 1.44 [1 - 1708/x]+ (1 - 1708 sin(1.8 b)^1.6/x) + [(x/5830)^(1/3) - 1]+, x = Ra cos b,
    the corners of []+ rounded over 0.05 (at most 0.02 too high there).

    rayleigh: on the gap width, above zero, fitted to 1e5 [1]
    inclination: from horizontal, 0 to pi/3 [rad]
    returns: Nusselt number [1], slope to rayleigh [1]
    source: Hollands1976; width over length below 1/12
    """
    cosine = math.cos(inclination)
    x = max(rayleigh * cosine, 1.0)
    if x < 1000.0:  # far below onset, rounding included
        return 1.0, 0.0
    sine = max(math.sin(1.8 * inclination), 0.0) ** 1.6
    ratio = 1708.0 / x
    onset, onset_slope = positive_part(1.0 - ratio, ROUNDING)
    damped = 1.0 - ratio * sine
    root = (x / 5830.0) ** (1.0 / 3.0)
    turbulent, turbulent_slope = positive_part(root - 1.0, ROUNDING)
    by_x = 1.44 * (onset_slope * damped + onset * sine) * ratio / x + turbulent_slope * root / (3.0 * x)
    return 1.0 + 1.44 * onset * damped + turbulent, by_x * cosine


@njit(cache=True)
def vertical_nusselt(rayleigh: float) -> tuple[float, float]:
    """Nusselt number of a tall vertical gap.

    Nu = max(0.0605 Ra^(1/3), [1 + (0.104 Ra^0.293/(1 + (6310/Ra)^1.36))^3]^(1/3)); the third branch
    of the source, 0.242 (Ra/A)^0.272, falls below these for aspect ratios A of 40 and more.

    rayleigh: on the gap width, above zero, fitted to 2e7 [1]
    returns: Nusselt number [1], slope to rayleigh [1]
    source: Elsherbiny1982
    """
    ra = max(rayleigh, 1.0)
    if rayleigh <= 1.0:
        return 1.0, 0.0
    inverse = (6310.0 / ra) ** 1.36
    part = 0.104 * ra**0.293 / (1.0 + inverse)
    part_slope = part / ra * (0.293 + 1.36 * inverse / (1.0 + inverse))
    cube = part * part * part
    laminar = (1.0 + cube) ** (1.0 / 3.0)
    laminar_slope = part * part * part_slope / (laminar * laminar)
    turbulent = 0.0605 * ra ** (1.0 / 3.0)
    excess, weight = positive_part(turbulent - laminar, ROUNDING)
    return laminar + excess, laminar_slope + weight * (turbulent / (3.0 * ra) - laminar_slope)


@njit(cache=True)
def enclosure_nusselt(rayleigh: float, inclination: float) -> tuple[float, float]:
    """Nusselt number of a wide flat gap of any inclination.

    0 to 60 degrees: tilted_nusselt; 60 to 90: linear in the angle to vertical_nusselt;
    90 to 180 (light surface on top): 1 + (Nu_90 - 1) sin b.

    rayleigh: on the gap width; negative means that the other surface is the lighter one, which is the
        same gap at pi - inclination [1]
    inclination: 0 light surface below, pi/2 vertical, pi light surface above; held to 0 to pi [rad]
    returns: Nusselt number, at least 1 [1], slope to rayleigh [1]
    source: Hollands1976, Elsherbiny1982, Arnold1976
    """
    angle = min(max(inclination, 0.0), math.pi)
    sign = 1.0
    if rayleigh < 0.0:
        angle = math.pi - angle
        sign = -1.0
    size = min(abs(rayleigh), 1e12)
    if size <= 1.0 or angle >= math.pi:
        return 1.0, 0.0
    if angle <= SIXTY_DEGREES:
        value, slope = tilted_nusselt(size, angle)
    elif angle < 0.5 * math.pi:
        low, low_slope = tilted_nusselt(size, SIXTY_DEGREES)
        high, high_slope = vertical_nusselt(size)
        share = (angle - SIXTY_DEGREES) / (0.5 * math.pi - SIXTY_DEGREES)
        value = low + share * (high - low)
        slope = low_slope + share * (high_slope - low_slope)
    else:
        value, slope = vertical_nusselt(size)
        sine = math.sin(angle)
        value = 1.0 + (value - 1.0) * sine
        slope *= sine
    if abs(rayleigh) > 1e12:
        slope = 0.0
    return value, sign * slope


@njit(cache=True)
def virtual_temperature(temperature: float, mole_fraction: float) -> tuple[float, float, float]:
    """Temperature of the dry air that is as light as moist air, T_v = T/(1 - (1 - e) x).

    temperature: [K]
    mole_fraction: of vapour, below 1 [1]
    returns: virtual temperature [K], slope to temperature [1], slope to mole fraction [K]
    source: ideal gas
    """
    inverse = 1.0 / (1.0 - _LIGHTNESS * mole_fraction)
    return temperature * inverse, inverse, temperature * _LIGHTNESS * inverse * inverse


@njit(cache=True)
def _heaviness(temperature: float, mole_fraction: float, pressure: float) -> tuple[float, float, float]:
    """rho C/(mu k), i.e. 1/(nu alpha), with its slopes to temperature and mole fraction."""
    mu, mu_t, mu_x, k, k_t, k_x = transport_with_slopes(temperature, mole_fraction)
    molar = pressure / (GAS_CONSTANT * temperature)
    mass = DRY_AIR_MOLAR_MASS * (1.0 - _LIGHTNESS * mole_fraction)
    heat = _MOLAR_HEAT_AIR + mole_fraction * (_MOLAR_HEAT_VAPOUR - _MOLAR_HEAT_AIR)
    value = molar * molar * mass * heat / (mu * k)
    by_temperature = value * (-2.0 / temperature - mu_t / mu - k_t / k)
    by_fraction = value * (
        -DRY_AIR_MOLAR_MASS * _LIGHTNESS / mass
        + (_MOLAR_HEAT_VAPOUR - _MOLAR_HEAT_AIR) / heat
        - mu_x / mu
        - k_x / k
    )
    return value, by_temperature, by_fraction


@njit(cache=True)
def moist_rayleigh(
    temperature_1: float,
    temperature_2: float,
    vapour_pressure_1: float,
    vapour_pressure_2: float,
    pressure: float,
    gap: float,
) -> tuple[float, float, float, float, float]:
    """Rayleigh number of a gap of moist air between two surfaces, signed.

    Ra = g L^3 2 (T_v1 - T_v2)/(T_v1 + T_v2) rho C/(mu k), the buoyancy being exactly
    2 (rho_2 - rho_1)/(rho_1 + rho_2); properties at the mean temperature and mean vapour pressure, and
    their derivatives included. Positive: the air at surface 1 is the lighter.

    temperature_1: [K], bounded softly outside 150 to 500
    temperature_2: [K], as temperature_1
    vapour_pressure_1: [Pa], bounded softly outside -0.02 to 0.95 of the pressure
    vapour_pressure_2: [Pa], as vapour_pressure_1
    pressure: total pressure [Pa]
    gap: width [m]
    returns: Rayleigh number [1], its slopes to both temperatures [1/K] and both vapour pressures [1/Pa]
    source: definition; virtual temperature from the ideal gas
    """
    total = max(pressure, 1.0)
    t1, t1_slope = softly_bounded(temperature_1, 150.0, 500.0, 50.0)
    t2, t2_slope = softly_bounded(temperature_2, 150.0, 500.0, 50.0)
    x1, x1_slope = softly_bounded(vapour_pressure_1 / total, -0.02, 0.95, 0.04)
    x2, x2_slope = softly_bounded(vapour_pressure_2 / total, -0.02, 0.95, 0.04)
    v1, v1_t, v1_x = virtual_temperature(t1, x1)
    v2, v2_t, v2_x = virtual_temperature(t2, x2)
    cube = GRAVITY * max(gap, 0.0) ** 3
    heavy, heavy_t, heavy_x = _heaviness(0.5 * (t1 + t2), 0.5 * (x1 + x2), total)
    total_v = v1 + v2
    lift = 2.0 * (v1 - v2) / total_v
    lift_1 = 4.0 * v2 / (total_v * total_v)  # to T_v1; to T_v2 it is -4 v1/(v1 + v2)^2
    lift_2 = -4.0 * v1 / (total_v * total_v)
    by_t1 = cube * (lift_1 * v1_t * heavy + 0.5 * lift * heavy_t) * t1_slope
    by_t2 = cube * (lift_2 * v2_t * heavy + 0.5 * lift * heavy_t) * t2_slope
    by_p1 = cube * (lift_1 * v1_x * heavy + 0.5 * lift * heavy_x) * x1_slope / total
    by_p2 = cube * (lift_2 * v2_x * heavy + 0.5 * lift * heavy_x) * x2_slope / total
    return cube * lift * heavy, by_t1, by_t2, by_p1, by_p2


@njit(cache=True)
def gap_coefficients(
    temperature_1: float,
    temperature_2: float,
    vapour_pressure_1: float,
    vapour_pressure_2: float,
    pressure: float,
    gap: float,
    inclination: float,
) -> tuple[tuple[float, float, float, float, float], tuple[float, float, float, float, float], float, float]:
    """Heat and mass transfer coefficients across a gap of moist air, heat Nu k/L and mass Sh D/L.

    Sh = 1 + (Nu - 1) Le^(1/3), Le = 0.86: exact for still air, the analogy of Chilton and Colburn for
    the convective part.

    temperature_1: [K]
    temperature_2: [K]
    vapour_pressure_1: [Pa]
    vapour_pressure_2: [Pa]
    pressure: total pressure [Pa]
    gap: width [m]
    inclination: 0 if surface 1 lies below surface 2, pi/2 vertical, pi if surface 1 is on top [rad]
    returns: heat coefficient and its slopes to T_1, T_2, p_1, p_2 [W/(m2 K), per K, per Pa];
        mass coefficient and the same slopes [m/s, per K, per Pa]; Nusselt number [1]; Rayleigh number [1]
    source: moist_rayleigh, enclosure_nusselt, Massman1998, Chilton1934
    """
    total = max(pressure, 1.0)
    width = max(gap, 1e-6)
    ra, ra_t1, ra_t2, ra_p1, ra_p2 = moist_rayleigh(
        temperature_1, temperature_2, vapour_pressure_1, vapour_pressure_2, total, width
    )
    nu, nu_ra = enclosure_nusselt(ra, inclination)
    t1, t1_slope = softly_bounded(temperature_1, 150.0, 500.0, 50.0)
    t2, t2_slope = softly_bounded(temperature_2, 150.0, 500.0, 50.0)
    x1, x1_slope = softly_bounded(vapour_pressure_1 / total, -0.02, 0.95, 0.04)
    x2, x2_slope = softly_bounded(vapour_pressure_2 / total, -0.02, 0.95, 0.04)
    mean = 0.5 * (t1 + t2)
    _, _, _, k, k_t, k_x = transport_with_slopes(mean, 0.5 * (x1 + x2))
    d = vapour_diffusivity(mean, total)
    d_t = 1.81 * d / mean
    sh, sh_ra = 1.0 + (nu - 1.0) * LEWIS_CUBE_ROOT, nu_ra * LEWIS_CUBE_ROOT
    heat = (
        nu * k / width,
        (nu_ra * ra_t1 * k + 0.5 * nu * k_t * t1_slope) / width,
        (nu_ra * ra_t2 * k + 0.5 * nu * k_t * t2_slope) / width,
        (nu_ra * ra_p1 * k + 0.5 * nu * k_x * x1_slope / total) / width,
        (nu_ra * ra_p2 * k + 0.5 * nu * k_x * x2_slope / total) / width,
    )
    mass = (
        sh * d / width,
        (sh_ra * ra_t1 * d + 0.5 * sh * d_t * t1_slope) / width,
        (sh_ra * ra_t2 * d + 0.5 * sh * d_t * t2_slope) / width,
        sh_ra * ra_p1 * d / width,
        sh_ra * ra_p2 * d / width,
    )
    return heat, mass, nu, ra
