"""Nusselt numbers of a flat gap of any inclination. What a gap of moist air carries: parts.gap."""

from __future__ import annotations

import math
from typing import Final

from welkinwell.compiled import njit
from welkinwell.transfer.smooth_bounds import positive_part

ROUNDING: Final = 0.05  # half width, in Nusselt numbers, of the rounded corners of the correlations
SIXTY_DEGREES: Final = math.pi / 3.0
_LOG_6310: Final = math.log(6310.0)


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
