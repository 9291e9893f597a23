"""What a device meets of a weather year: surroundings at nodes half an hour apart, linear between them.

Temperature, vapour pressure, pressure and wind are linear between the file's instants; radiation and rain
keep the integral of every hour. The record is made before the march; the device's own tilt, cover and
shelter are in it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.sky.plane import CoverOptics, absorbed_sun, linear_nodes, plane_sun, sub_hourly
from welkinwell.sky.reflectors import Reflectors, with_reflectors
from welkinwell.sky.sun import SunPath, climate_sun_path
from welkinwell.transfer.plates import wind_at_height

if TYPE_CHECKING:
    import xarray as xr

COLUMNS: Final = (
    "temperature",
    "vapour_pressure",
    "pressure",
    "wind",
    "longwave",
    "sun_absorber",
    "sun_glazing",
    "sun_plane",
    "rain",
)
TEMPERATURE, VAPOUR_PRESSURE, PRESSURE, WIND, LONGWAVE, SUN_ABSORBER, SUN_GLAZING, SUN_PLANE, RAIN = range(9)
PER_HOUR: Final = 2
SPACING: Final = 1800.0  # s
DEFAULT_ALBEDO: Final = 0.2  # of bare ground, common practice


@dataclass(frozen=True)
class AirRecord:
    """Surroundings of one device through the year.

    nodes: shape (2 x hours + 1, 9), columns as in COLUMNS, SI; spacing [s]; pressure: mean of the site [Pa];
    local_start: local standard time at the first node [s]; rainy: hours with rain, shape (hours,), or None
    where the file has no rain.
    """

    nodes: NDArray[np.float64]
    spacing: float
    pressure: float
    local_start: float
    rainy: NDArray[np.bool_] | None

    @property
    def hours(self) -> int:
        """Number of hours in the record."""
        return (self.nodes.shape[0] - 1) // PER_HOUR


@dataclass(frozen=True)
class Surroundings:
    """The part of a record that no design changes, made once for a site.

    instants: temperature, vapour pressure, pressure, wind at weather-station height, longwave and rain at
    the nodes; path, sun: for the sun on any plane.
    """

    climate: xr.Dataset
    path: SunPath
    horizontal: Any
    albedo: NDArray[np.float64]
    instants: NDArray[np.float64]

    @property
    def latitude(self) -> float:
        """Latitude of the site [rad]."""
        return math.radians(float(self.climate.attrs["latitude"]))


def surroundings(climate: xr.Dataset) -> Surroundings:
    """Prepare a weather year for any number of devices."""
    path = climate_sun_path(climate, per_hour=PER_HOUR)
    horizontal = sub_hourly(climate, path)
    offset = float(climate.attrs["instant_offset"])
    hours = climate.sizes["time"]
    seconds = np.arange(hours * PER_HOUR + 1) * SPACING
    columns = [
        _between_instants(climate[name].values, offset, seconds)
        for name in ("temperature", "vapour_pressure", "pressure", "wind_speed")
    ]
    columns.append(_hourly_mean_nodes(climate["sky_longwave"].values))
    rain = climate["precipitation"].values if "precipitation" in climate else np.zeros(hours)
    columns.append(_hourly_mean_nodes(rain))
    albedo = np.full(hours, DEFAULT_ALBEDO)
    if "albedo" in climate:
        given = climate["albedo"].values
        albedo = np.where(np.isfinite(given) & (given > 0.0) & (given < 1.0), given, DEFAULT_ALBEDO)
    return Surroundings(climate, path, horizontal, albedo, np.column_stack(columns))


def device_air(
    site: Surroundings,
    *,
    tilt: float,
    azimuth: float,
    cover: CoverOptics | None,
    absorptance: float,
    soiling: float,
    device_height: float,
    terrain: str,
    shelter: float,
    reflectors: Reflectors | None = None,
) -> AirRecord:
    """Make the record of one device: sun on its plane and through its cover, wind at its height.

    cover: None for a bare plane, which absorbs its share of all the sun on it; tilt, azimuth [rad];
    absorptance, soiling, shelter [1]; device_height [m]; reflectors: round the plane, None for none.
    """
    climate = site.climate
    sun = plane_sun(site.horizontal, site.path, tilt, azimuth, site.albedo)
    if reflectors is not None:
        sun = with_reflectors(sun, reflectors)
    plane = sun.beam + sun.circumsolar + sun.sky_diffuse + sun.ground
    if cover is None:
        absorber, glazing = absorptance * plane, np.zeros_like(plane)
    else:
        absorber, glazing = absorbed_sun(sun, cover, absorptance)
    nodes = np.empty((site.instants.shape[0], len(COLUMNS)))
    nodes[:, :3] = site.instants[:, :3]
    factor = wind_at_height(1.0, float(climate.attrs["wind_height"]), device_height, terrain)
    nodes[:, WIND] = site.instants[:, 3] * factor * shelter
    nodes[:, LONGWAVE] = site.instants[:, 4]
    nodes[:, SUN_ABSORBER] = linear_nodes(absorber * (1.0 - soiling), PER_HOUR)
    nodes[:, SUN_GLAZING] = linear_nodes(glazing, PER_HOUR)
    nodes[:, SUN_PLANE] = linear_nodes(plane, PER_HOUR)
    nodes[:, RAIN] = site.instants[:, 5]
    rainy = None
    if "precipitation" in climate:
        rainy = climate["precipitation"].values > 0.0
    start = climate["time"].values[0]
    utc = float((start - start.astype("datetime64[D]")) / np.timedelta64(1, "s"))
    return AirRecord(
        nodes=nodes,
        spacing=SPACING,
        pressure=float(climate["pressure"].mean()),
        local_start=(utc + 3600.0 * float(climate.attrs["utc_offset"])) % 86400.0,
        rainy=rainy,
    )


def _between_instants(values: NDArray[np.float64], offset: float, seconds: Any) -> NDArray[np.float64]:
    """Interpolate instants, `offset` seconds into each hour, onto nodes; the year closes on itself."""
    hours = values.size
    at = np.arange(-1, hours + 1) * 3600.0 + offset
    around = np.concatenate([values[-1:], values, values[:1]])
    return np.interp(seconds, at, around)


def _hourly_mean_nodes(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give nodes whose integral over each hour is the file's."""
    return linear_nodes(np.repeat(np.maximum(values, 0.0), PER_HOUR), PER_HOUR)
