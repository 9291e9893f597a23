"""Many modules in a field: spacing and shade, air that neighbours have dried, failures and spares."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from welkinwell.declare import choice, count, quantity

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Field:
    """The [field] table: how the modules stand. SI inside."""

    rows: int = count("Rows, one behind the other, all facing alike", default=1, low=1, high=10000)
    slant_length: float = quantity(
        "m", "Length of a row's aperture along its slope", default=2.0, low=0.05, high=50
    )
    arranged: str = choice(
        ("rows", "apart"), "In rows, or so far apart that none shades another", default="apart"
    )
    module_availability: float = quantity(
        "1", "Share of the time in which one module works", default=0.95, low=0.05, high=1
    )
    confidence: float = quantity(
        "1", "Wanted chance that enough modules work at a time", default=0.9, low=0.5, high=0.9999
    )
    mixing_height: float = quantity(
        "m",
        "Height over which passing air is taken to mix, for the dried-air bound",
        default=2.0,
        low=0.2,
        high=200,
    )


# ---------------------------------------------------------------- shade
def profile_angle(east: Floats, north: Floats, up: Floats, azimuth: float) -> Floats:
    """Give the sun's height seen in the vertical plane across the rows [rad].

    tan(profile) = up / (component of the sun towards which the rows face); over 90 degrees when the sun
    stands behind the rows.

    east, north, up: unit vector to the sun, any one shape [1]; azimuth: direction that the rows face,
    clockwise from north [rad]. Geometry.
    """
    ahead = east * math.sin(azimuth) + north * math.cos(azimuth)
    return np.arctan2(up, ahead)


def shaded_share(profile: Floats, tilt: float, pitch_ratio: float) -> Floats:
    """Give the share of a row's slope that the row before it shades.

    s = 1 - (P / L) sin(a) / sin(a + b), between 0 and 1; long rows, flat ground. With the sun behind the
    aperture's plane there is no beam to lose, and 0 is given.

    profile: profile angle of the sun, any shape [rad]; tilt: slope b of the rows [rad]; pitch_ratio: distance
    of rows P over slant length L [1]. Passias1984.
    """
    over_plane = np.sin(profile + tilt)
    lit = (over_plane > 1e-9) & (np.sin(profile) > 0.0)
    share = 1.0 - pitch_ratio * np.sin(profile) / np.where(lit, over_plane, 1.0)
    return np.where(lit, np.clip(share, 0.0, 1.0), 0.0)


def sky_lost(tilt: float, pitch_ratio: float, points: int = 200) -> float:
    """Give the share of the sky's diffuse light that the row before takes from a row, mean over its slope.

    A point of the slope sees nothing below its masking angle m, tan m = (height left above it) / (distance
    to the top of the row before), so its view of the sky falls from (1 + cos b) / 2 to (1 + cos(b + m)) / 2.
    Isotropic sky.

    tilt: slope b [rad]; pitch_ratio: P / L [1]; points along the slope [1]. Returns the share lost [1].
    Passias1984.
    """
    height = (np.arange(points) + 0.5) / points
    reach = (1.0 - height) * math.sin(tilt)
    away = pitch_ratio - (1.0 - height) * math.cos(tilt)
    mask = np.arctan2(reach, away)
    whole = 0.5 * (1.0 + math.cos(tilt))
    left = 0.5 * (1.0 + np.cos(tilt + mask))
    return float(1.0 - left.mean() / whole)


@dataclass(frozen=True)
class FieldShade:
    """What rows lose to each other: by hour, and in the sum of the record, means over all rows.

    beam_lost: share of the beam by hour [1]; beam, diffuse: shares of the record's beam and diffuse light
    lost [1]; total: share of all light on the aperture lost [1].
    """

    beam_lost: Floats
    beam: float
    diffuse: float
    total: float


def field_shade(
    sun: tuple[Floats, Floats, Floats],
    beam_on_plane: Floats,
    diffuse_on_plane: Floats,
    tilt: float,
    azimuth: float,
    pitch_ratio: float,
    rows: int,
) -> FieldShade:
    """Give the light that rows take from each other; the first row is free.

    sun: east, north and up of the unit vector to the sun, (hours,) each [1]; beam_on_plane, diffuse_on_plane:
    on the unshaded aperture, (hours,) [W/m2]; tilt, azimuth of the rows [rad]; pitch_ratio: distance of rows
    over slant length [1]; rows [1]. The bed is one thermal body, so the loss is taken as proportional to the
    shaded share. Returns a FieldShade.
    """
    behind = (rows - 1) / rows
    lost = behind * shaded_share(profile_angle(*sun, azimuth), tilt, pitch_ratio)
    beam_all, diffuse_all = float(beam_on_plane.sum()), float(diffuse_on_plane.sum())
    beam = float((lost * beam_on_plane).sum()) / beam_all if beam_all > 0.0 else 0.0
    diffuse = behind * sky_lost(tilt, pitch_ratio)
    light = beam_all + diffuse_all
    total = (beam * beam_all + diffuse * diffuse_all) / light if light > 0.0 else 0.0
    return FieldShade(lost, beam, diffuse, total)


def pitch_for_noon(tilt: float, profile: float) -> float:
    """Give the pitch ratio at which a row just misses the next with the sun at a profile angle.

    P / L = cos(b) + sin(b) / tan(profile). tilt b, profile [rad]. Geometry.
    """
    return math.cos(tilt) + math.sin(tilt) / math.tan(profile)


# ---------------------------------------------------------------- air
def dried_air(uptake: Floats, wind: Floats, vapour_density: Floats, fetch: float, height: float) -> Floats:
    """Bound how much drier the air is at the far end of a field than before it.

    A box of air of the mixing height crosses the field: fall / density = uptake fetch / (wind height
    density), at most 1. Nothing is mixed in from above, so with a mixing height at that of the devices it is
    a bound; a growing mixed layer lets far less happen.

    uptake: water taken from the air per ground area, (hours,) [kg/(m2 s)]; wind: at the device [m/s];
    vapour_density [kg/m3]; fetch: length of the field along the wind [m]; height [m]. Returns the share of
    the vapour taken, (hours,) [1]. Mass balance.
    """
    passing = np.maximum(wind, 1e-3) * height * np.maximum(vapour_density, 1e-9)
    return np.clip(np.maximum(uptake, 0.0) * fetch / passing, 0.0, 1.0)


# ---------------------------------------------------------------- failures
def steady_availability(between_failures: float, repair: float) -> float:
    """Give the share of time in which a module works: MTBF / (MTBF + MTTR).

    between_failures, repair: mean times [same unit]. Textbook of reliability.
    """
    return between_failures / (between_failures + repair)


def chance_enough_work(modules: int, needed: int, availability: float) -> float:
    """Give the chance that at least so many of a plant's modules work at one time.

    sum over k >= needed of C(n, k) a^k (1 - a)^(n - k): modules fail independently of each other. A storm,
    dust or a missing part hits many at once, so this flatters. Binomial distribution.

    modules n, needed [1]; availability a of each [1]. Returns the chance [1].
    """
    from scipy.special import bdtrc

    if needed <= 0:
        return 1.0
    return float(bdtrc(needed - 1, modules, availability)) if needed <= modules else 0.0


def modules_with_spares(needed: int, availability: float, confidence: float) -> int:
    """Give the least number of modules of which at least so many work with a wanted chance.

    needed: modules that must work [1]; availability of each [1]; confidence: wanted chance [1]. Returns the
    number to install [1].
    """
    low, high = needed, max(needed, 1)
    while chance_enough_work(high, needed, availability) < confidence:
        low, high = high, 2 * high
    while low < high:
        middle = (low + high) // 2
        if chance_enough_work(middle, needed, availability) >= confidence:
            high = middle
        else:
            low = middle + 1
    return high
