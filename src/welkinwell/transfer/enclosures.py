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
_LOG_6310: Final = math.log(6310.0)
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
    return tilted_nusselt_at(rayleigh, *tilt_factors(inclination))


@njit(cache=True)
def tilt_factors(inclination: float) -> tuple[float, float]:
    """Give what tilted_nusselt needs of an inclination: cos b and sin(1.8 b)^1.6, for a gap that keeps it.

    inclination: from horizontal, 0 to pi/3 [rad]
    returns: cosine [1], damping [1]
    source: Hollands1976
    """
    return math.cos(inclination), max(math.sin(1.8 * inclination), 0.0) ** 1.6


@njit(cache=True)
def tilted_nusselt_at(rayleigh: float, cosine: float, damping: float) -> tuple[float, float]:
    """Nusselt number of tilted_nusselt, from the factors of its inclination.

    rayleigh: on the gap width, above zero [1]
    cosine, damping: from tilt_factors [1]
    returns: Nusselt number [1], slope to rayleigh [1]
    source: Hollands1976
    """
    x = max(rayleigh * cosine, 1.0)
    if x < 1000.0:  # far below onset, rounding included
        return 1.0, 0.0
    sine = damping
    ratio = 1708.0 / x
    onset, onset_slope = positive_part(1.0 - ratio, ROUNDING)
    damped = 1.0 - ratio * sine
    root = math.exp(math.log(x / 5830.0) / 3.0)
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
    log_ra = math.log(ra)
    inverse = math.exp(1.36 * (_LOG_6310 - log_ra))
    part = 0.104 * math.exp(0.293 * log_ra) / (1.0 + inverse)
    part_slope = part / ra * (0.293 + 1.36 * inverse / (1.0 + inverse))
    cube = part * part * part
    laminar = math.exp(math.log1p(cube) / 3.0)
    laminar_slope = part * part * part_slope / (laminar * laminar)
    turbulent = 0.0605 * math.exp(log_ra / 3.0)
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
def _moist_gap(
    temperature_1: float,
    temperature_2: float,
    vapour_pressure_1: float,
    vapour_pressure_2: float,
    pressure: float,
    gap: float,
) -> tuple[
    tuple[float, float, float, float, float],
    tuple[float, float, float, float, float],
    float,
    tuple[float, float],
]:
    """Rayleigh number and conductivity with slopes to T_1, T_2, p_1, p_2; mean temperature and its slopes."""
    t1, t1_slope = softly_bounded(temperature_1, 150.0, 500.0, 50.0)
    t2, t2_slope = softly_bounded(temperature_2, 150.0, 500.0, 50.0)
    x1, x1_slope = softly_bounded(vapour_pressure_1 / pressure, -0.02, 0.95, 0.04)
    x2, x2_slope = softly_bounded(vapour_pressure_2 / pressure, -0.02, 0.95, 0.04)
    half_t1, half_t2 = 0.5 * t1_slope, 0.5 * t2_slope
    half_x1, half_x2 = 0.5 * x1_slope / pressure, 0.5 * x2_slope / pressure
    mean, share = 0.5 * (t1 + t2), 0.5 * (x1 + x2)

    mu, mu_t, mu_x, k, k_t, k_x = transport_with_slopes(mean, share)
    molar = pressure / (GAS_CONSTANT * mean)
    mass = DRY_AIR_MOLAR_MASS * (1.0 - _LIGHTNESS * share)
    heat = _MOLAR_HEAT_AIR + share * (_MOLAR_HEAT_VAPOUR - _MOLAR_HEAT_AIR)
    # rho C/(mu k), i.e. 1/(nu alpha), and the slopes of its logarithm
    heavy = GRAVITY * gap * gap * gap * molar * molar * mass * heat / (mu * k)
    log_t = -2.0 / mean - mu_t / mu - k_t / k
    log_x = (
        -DRY_AIR_MOLAR_MASS * _LIGHTNESS / mass
        + (_MOLAR_HEAT_VAPOUR - _MOLAR_HEAT_AIR) / heat
        - mu_x / mu
        - k_x / k
    )
    v1, v1_t, v1_x = virtual_temperature(t1, x1)
    v2, v2_t, v2_x = virtual_temperature(t2, x2)
    total = v1 + v2
    rayleigh = heavy * 2.0 * (v1 - v2) / total
    by_v1, by_v2 = 4.0 * heavy * v2 / (total * total), -4.0 * heavy * v1 / (total * total)
    rayleigh_and_slopes = (
        rayleigh,
        2.0 * by_v1 * v1_t * half_t1 + rayleigh * log_t * half_t1,
        2.0 * by_v2 * v2_t * half_t2 + rayleigh * log_t * half_t2,
        2.0 * by_v1 * v1_x * half_x1 + rayleigh * log_x * half_x1,
        2.0 * by_v2 * v2_x * half_x2 + rayleigh * log_x * half_x2,
    )
    conductivity = (k, k_t * half_t1, k_t * half_t2, k_x * half_x1, k_x * half_x2)
    return rayleigh_and_slopes, conductivity, mean, (half_t1, half_t2)


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
    pressure: total pressure, held within 1 to 1e7 [Pa]
    gap: width, held within 1e-6 to 100 [m]
    returns: Rayleigh number [1], its slopes to both temperatures [1/K] and both vapour pressures [1/Pa]
    source: definition; virtual temperature from the ideal gas
    """
    total, width = min(max(pressure, 1.0), 1e7), min(max(gap, 1e-6), 100.0)
    return _moist_gap(temperature_1, temperature_2, vapour_pressure_1, vapour_pressure_2, total, width)[0]


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
    pressure: total pressure, held within 1 to 1e7 [Pa]
    gap: width, held within 1e-6 to 100 [m]
    inclination: 0 if surface 1 lies below surface 2, pi/2 vertical, pi if surface 1 is on top [rad]
    returns: heat coefficient and its slopes to T_1, T_2, p_1, p_2 [W/(m2 K), per K, per Pa];
        mass coefficient and the same slopes [m/s, per K, per Pa]; Nusselt number [1]; Rayleigh number [1]
    source: moist_rayleigh, enclosure_nusselt, Massman1998, Chilton1934
    """
    total, width = min(max(pressure, 1.0), 1e7), min(max(gap, 1e-6), 100.0)
    ra, k, mean, halves = _moist_gap(
        temperature_1, temperature_2, vapour_pressure_1, vapour_pressure_2, total, width
    )
    nu, nu_ra = enclosure_nusselt(ra[0], inclination)
    steep = nu_ra * k[0] / width
    still = nu / width
    heat = (
        still * k[0],
        steep * ra[1] + still * k[1],
        steep * ra[2] + still * k[2],
        steep * ra[3] + still * k[3],
        steep * ra[4] + still * k[4],
    )
    d = vapour_diffusivity(mean, total) / width
    sherwood = 1.0 + (nu - 1.0) * LEWIS_CUBE_ROOT
    steep = nu_ra * LEWIS_CUBE_ROOT * d
    still = sherwood * 1.81 * d / mean
    mass = (
        sherwood * d,
        steep * ra[1] + still * halves[0],
        steep * ra[2] + still * halves[1],
        steep * ra[3],
        steep * ra[4],
    )
    return heat, mass, nu, ra[0]
