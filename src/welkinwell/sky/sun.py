"""Where the sun stands inside each hour, whatever the design (pvlib does the astronomy)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SOLAR_CONSTANT: Final = 1361.0  # W/m2 at one astronomical unit, Kopp2011
REFRACTION_TEMPERATURE: Final = 285.15  # K; 20 K more moves sunrise by 10 s
DELTA_T: Final = 69.0  # s between terrestrial and universal time; ten seconds more move nothing visible
TURN_RATE: Final = 2.0 * math.pi / 86400.0  # rad/s, hour angle of the mean sun


@dataclass(frozen=True, eq=False)
class SunPath:
    """Positions of the sun in every sub-interval of the hours, shape (hours * per_hour,).

    The position is that at the midpoint of the sub-interval, or at the midpoint of its sunlit part
    where the sun rises or sets. Refraction is included: the sun is up when its centre appears above a
    level horizon.

    zenith: apparent angle from the vertical [rad]; azimuth: clockwise from north [rad];
    extraterrestrial: irradiance normal to the beam outside the atmosphere [W/m2];
    lit_fraction: share of the sub-interval with the sun up [1]; east, north, up: the unit vector to
    the sun [1]; per_hour: sub-intervals in an hour [1].
    """

    zenith: Floats
    azimuth: Floats
    extraterrestrial: Floats
    lit_fraction: Floats
    east: Floats
    north: Floats
    up: Floats
    per_hour: int

    @property
    def hours(self) -> int:
        """Count the hours covered [1]."""
        return self.zenith.size // self.per_hour


def sun_path(
    latitude: float, longitude: float, elevation: float, times_utc: Any, per_hour: int = 2
) -> SunPath:
    """Give the sun's path through hours that start at the given instants, in any order.

    latitude: north positive, as weather files and maps give it [degree]; longitude: east positive
    [degree]; elevation: above the sea [m]; times_utc: starts of the hours, UTC, anything that NumPy
    reads as datetime64; per_hour: sub-intervals in each hour [1].
    Returns a SunPath. Solar position algorithm of Reda2004 through pvlib; sunrise inside a
    sub-interval from its declination, which moves by less than 0.004 degrees in a quarter of an hour.
    """
    from pvlib.atmosphere import alt2pres

    pressure = float(alt2pres(elevation))
    length = 3600.0 / per_hour
    starts = np.asarray(times_utc, dtype="datetime64[ns]").astype(np.int64) / 1e9
    middles = (starts[:, None] + length * (np.arange(per_hour) + 0.5)).ravel()

    true_zenith, zenith, azimuth = _positions(middles, latitude, longitude, elevation, pressure)
    fraction, shift = _sunlit_part(
        true_zenith, azimuth, math.radians(latitude), length, _horizon_dip(pressure)
    )
    partial = np.flatnonzero((fraction > 0.0) & (fraction < 1.0))
    if partial.size:
        lit = middles[partial] + shift[partial]
        _, zenith[partial], azimuth[partial] = _positions(lit, latitude, longitude, elevation, pressure)
    # A grazing sun, up for a second of arithmetic: no cosine to divide by, hence no light.
    fraction = np.where(np.cos(zenith) > 0.0, fraction, 0.0)

    return SunPath(
        zenith=zenith,
        azimuth=azimuth,
        extraterrestrial=extraterrestrial_irradiance(middles),
        lit_fraction=fraction,
        east=np.sin(zenith) * np.sin(azimuth),
        north=np.sin(zenith) * np.cos(azimuth),
        up=np.cos(zenith),
        per_hour=per_hour,
    )


def climate_sun_path(climate: Any, per_hour: int = 2) -> SunPath:
    """Give the sun's path through a weather year, from the place in its attributes.

    climate: the weather Dataset, with time and attributes latitude [degree], longitude [degree] and
    elevation [m]; per_hour: sub-intervals in each hour [1]. Returns a SunPath.
    """
    place = climate.attrs
    return sun_path(
        place["latitude"], place["longitude"], place["elevation"], climate["time"].values, per_hour
    )


def extraterrestrial_irradiance(unix_seconds: Floats) -> Floats:
    """Give the irradiance normal to the beam outside the atmosphere, with the distance to the sun.

    S (1.00011 + 0.034221 cos B + 0.00128 sin B + 0.000719 cos 2B + 0.000077 sin 2B), B the day angle.

    unix_seconds: instants, UTC [s]. Returns the irradiance [W/m2]. Spencer1971.
    """
    instants = np.asarray(unix_seconds * 1e9, dtype=np.int64).view("datetime64[ns]")
    day = (instants - instants.astype("datetime64[Y]")) / np.timedelta64(1, "D")
    angle = 2.0 * math.pi * np.floor(day) / 365.0
    return SOLAR_CONSTANT * (
        1.00011
        + 0.034221 * np.cos(angle)
        + 0.00128 * np.sin(angle)
        + 0.000719 * np.cos(2.0 * angle)
        + 0.000077 * np.sin(2.0 * angle)
    )


def _positions(
    unix_seconds: Floats, latitude: float, longitude: float, elevation: float, pressure: float
) -> tuple[Floats, Floats, Floats]:
    """Ask pvlib for true zenith, apparent zenith and azimuth [rad] at instants [s], place in degrees."""
    import pandas as pd
    from pvlib.solarposition import spa_python

    table = spa_python(
        pd.DatetimeIndex((unix_seconds * 1e9).astype(np.int64), tz="UTC"),
        latitude,
        longitude,
        altitude=elevation,
        pressure=pressure,
        temperature=REFRACTION_TEMPERATURE - 273.15,
        delta_t=DELTA_T,
    )
    columns = ("zenith", "apparent_zenith", "azimuth")
    true_zenith, zenith, azimuth = (np.radians(table[c].to_numpy(dtype=np.float64)) for c in columns)
    return true_zenith, zenith, azimuth


def _horizon_dip(pressure: float) -> float:
    """Give the true elevation [rad, negative] of a sun whose centre appears on the horizon.

    Fixed point of e = -R(e), R = (P / 1010 hPa) (283 / T) 1.02' / tan(e + 10.3 / (e + 5.11)), degrees.
    Reda2004, eq. 42.
    """
    elevation = 0.0
    scale = pressure / 101000.0 * 283.0 / REFRACTION_TEMPERATURE * 1.02 / 60.0
    for _ in range(60):
        elevation = -scale / math.tan(math.radians(elevation + 10.3 / (elevation + 5.11)))
    return math.radians(elevation)


def _sunlit_part(
    true_zenith: Floats, azimuth: Floats, latitude: float, length: float, dip: float
) -> tuple[Floats, Floats]:
    """Give the sunlit share [1] of each sub-interval and how far [s] its midpoint lies from the middle.

    sin(elevation) = a + b cos(hour angle) with the declination held over the sub-interval; where the
    sun sets and rises again inside one (polar nights) the longer part gives the midpoint.
    """
    sine, cosine = math.sin(latitude), math.cos(latitude)
    up, north = np.cos(true_zenith), np.sin(true_zenith) * np.cos(azimuth)
    west = -np.sin(true_zenith) * np.sin(azimuth)
    toward_equator = cosine * up - sine * north  # cos(declination) cos(hour angle)
    hour_angle = np.arctan2(west, toward_equator)
    offset = sine * (sine * up + cosine * north)
    amplitude = np.maximum(cosine * np.hypot(west, toward_equator), 1e-12)
    half_day = np.arccos(np.clip((math.sin(dip) - offset) / amplitude, -1.0, 1.0))

    half = 0.5 * length * TURN_RATE
    total, longest, middle = (np.zeros_like(hour_angle) for _ in range(3))
    for turn in (-2.0 * math.pi, 0.0, 2.0 * math.pi):
        begin = np.maximum(hour_angle - half, turn - half_day)
        end = np.minimum(hour_angle + half, turn + half_day)
        span = np.maximum(end - begin, 0.0)
        total += span
        middle = np.where(span > longest, 0.5 * (begin + end) - hour_angle, middle)
        longest = np.maximum(longest, span)
    fraction = total / (2.0 * half)
    fraction = np.where(fraction > 1.0 - 1e-9, 1.0, fraction)
    return fraction, middle / TURN_RATE
