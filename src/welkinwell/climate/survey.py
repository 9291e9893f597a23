"""What a water harvester meets at a place: air, vapour, sun and night sky by month and hour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.constants import STEFAN_BOLTZMANN
from welkinwell.moist_air import dew_point_from_pressure, saturation_pressure
from welkinwell.sky.longwave import prata
from welkinwell.sky.plane import plane_sun
from welkinwell.sky.sun import SunPath, climate_sun_path

Floats = NDArray[np.float64]


BED_TEMPERATURES: Final = tuple(273.15 + t for t in (50.0, 60.0, 65.0, 70.0, 80.0, 90.0, 100.0, 120.0))
CONDENSER_TEMPERATURES: Final = tuple(273.15 + t for t in (20.0, 25.0, 30.0, 35.0, 40.0, 45.0))
DEFAULT_TILT: Final = math.radians(30.0)
DEFAULT_ALBEDO: Final = 0.2  # of bare ground, common practice
PER_HOUR: Final = 2


def survey(
    climate: xr.Dataset,
    tilt: float = DEFAULT_TILT,
    azimuth: float | None = None,
    bed_temperatures: Sequence[float] = BED_TEMPERATURES,
    condenser_temperatures: Sequence[float] = CONDENSER_TEMPERATURES,
) -> xr.Dataset:
    """Give what a harvester sees at a place, by month, by hour of the local standard day, and in tables.

    Night is every instant with the sun below the horizon. Radiative cooling is of a level black surface at
    air temperature over whole dark hours: sigma T^4 - L with the file's longwave L, and
    (1 - e0) sigma T^4 with Prata's clear sky e0. Regeneration: p_sat(condenser) / p_sat(bed).

    climate: the weather Dataset; tilt: of the plane whose sun is shown [rad]; azimuth: that it faces,
    clockwise from north, towards the equator if None [rad]; bed_temperatures, condenser_temperatures: of
    the regeneration table [K].
    Returns a Dataset on month, hour, bed_temperature and condenser_temperature; without meaning (no night
    in a polar month) a value is NaN. Prata1996, Hay1980.
    """
    if azimuth is None:
        azimuth = math.pi if climate.attrs["latitude"] >= 0.0 else 0.0
    path = climate_sun_path(climate, PER_HOUR)
    out = xr.Dataset(
        coords={
            "month": ("month", np.arange(1, 13), _about("1", "Month of the local standard year")),
            "hour": ("hour", np.arange(24), _about("1", _hour_name(climate))),
        }
    )
    _put_air(out, climate, path)
    _put_sun(out, climate, path, tilt, azimuth)
    _put_cooling(out, climate, path)
    _put_regeneration(out, bed_temperatures, condenser_temperatures)
    keep = ("site", "latitude", "longitude", "elevation", "utc_offset", "source", "licence", "content_hash")
    out.attrs = {name: climate.attrs[name] for name in keep if name in climate.attrs}
    out.attrs |= {"tilt": float(tilt), "azimuth": float(azimuth)}
    return out


def regeneration_humidity(bed_temperature: Any, condenser_temperature: Any) -> Any:
    """Give the relative humidity that a bed meets while its vapour condenses elsewhere.

    p_sat(Tc) / p_sat(Tb): the vapour is no drier than the condenser makes it. What the bed still holds at
    this humidity and its own temperature, it does not give off.

    bed_temperature: Tb [K]; condenser_temperature: Tc [K]; arrays broadcast.
    Returns the relative humidity over liquid water [1], above 1 where the condenser is the warmer.
    """
    return saturation_pressure(condenser_temperature) / saturation_pressure(bed_temperature)


def _put_air(out: xr.Dataset, climate: xr.Dataset, path: SunPath) -> None:
    """Add temperature, humidity, vapour and dew point; instants are filed under the month they stand in."""
    month, hour = _local(climate, float(climate.attrs["instant_offset"]))
    temperature, vapour = climate["temperature"].values, climate["vapour_pressure"].values
    humidity = vapour / saturation_pressure(temperature)
    dew_point = dew_point_from_pressure(vapour)
    everything = np.ones(month.size)
    night = _dark_at_instant(climate, path).astype(np.float64)

    cells = month * 24 + hour
    tables = {
        "temperature": (temperature, "K", "Air temperature by month and hour"),
        "relative_humidity": (humidity, "1", "Relative humidity over liquid water by month and hour"),
        "vapour_pressure": (vapour, "Pa", "Vapour pressure by month and hour"),
    }
    for name, (values, unit, words) in tables.items():
        table = _mean(values, cells, everything, 288).reshape(12, 24)
        out[name] = (("month", "hour"), table, _about(unit, words))
    months = {
        "night_vapour_pressure": (vapour, night, "Pa", "Vapour pressure, sun below the horizon"),
        "day_vapour_pressure": (vapour, 1.0 - night, "Pa", "Vapour pressure, sun above the horizon"),
        "night_relative_humidity": (humidity, night, "1", "Relative humidity, sun below the horizon"),
        "day_relative_humidity": (humidity, 1.0 - night, "1", "Relative humidity, sun above the horizon"),
        "night_temperature": (temperature, night, "K", "Air temperature, sun below the horizon"),
        "day_temperature": (temperature, 1.0 - night, "K", "Air temperature, sun above the horizon"),
        "dew_point": (dew_point, everything, "K", "Mean of the hours' dew points"),
    }
    for name, (values, weight, unit, words) in months.items():
        out[name] = ("month", _mean(values, month, weight, 12), _about(unit, words))


def _put_sun(out: xr.Dataset, climate: xr.Dataset, path: SunPath, tilt: float, azimuth: float) -> None:
    """Add the sun on the plane and on the level, in kWh per m2 and day."""
    albedo: Any = DEFAULT_ALBEDO
    if "albedo" in climate:
        given = climate["albedo"].values
        albedo = np.where((given > 0.0) & (given < 1.0), given, DEFAULT_ALBEDO)
    plane = plane_sun(climate, path, tilt, azimuth, albedo)
    month, _ = _local(climate, 0.0)
    series = {
        "sun_on_plane": (plane.total, "Sun on the tilted plane"),
        "sun_direct_on_plane": (plane.beam + plane.circumsolar, "Of this, from the sun's direction"),
        "sun_on_level": (plane.horizontal.global_horizontal, "Sun on a level plane"),
    }
    for name, (values, words) in series.items():
        hours = values.reshape(-1, path.per_hour).mean(axis=1)
        daily = _mean(hours, month, np.ones(month.size), 12) * 24.0 / 1000.0
        out[name] = ("month", daily, _about("kWh/(m2 day)", words))


def _put_cooling(out: xr.Dataset, climate: xr.Dataset, path: SunPath) -> None:
    """Add clear-sky and actual net cooling of a black surface over the dark hours."""
    month, _ = _local(climate, 0.0)
    night = (path.lit_fraction.reshape(-1, path.per_hour).max(axis=1) == 0.0).astype(np.float64)
    temperature = _mid_hour(climate["temperature"].values, climate)
    vapour = _mid_hour(climate["vapour_pressure"].values, climate)
    black = STEFAN_BOLTZMANN * temperature**4
    clear = np.array([1.0 - prata(t, p) for t, p in zip(temperature, vapour, strict=True)]) * black
    actual = black - climate["sky_longwave"].values
    series = {
        "night_cooling_clear": (clear, "Night cooling of a black level surface under a clear sky"),
        "night_cooling": (actual, "Night cooling of a black level surface under the sky as it was"),
    }
    for name, (values, words) in series.items():
        out[name] = ("month", _mean(values, month, night, 12), _about("W/m2", words))
    length = np.bincount(month, night, 12) / np.maximum(np.bincount(month, minlength=12), 1) * 24.0
    out["dark_hours"] = ("month", length, _about("h/day", "Whole hours of a day with no sun in the sky"))


def _put_regeneration(out: xr.Dataset, beds: Sequence[float], condensers: Sequence[float]) -> None:
    """Add the regeneration table."""
    bed, condenser = np.asarray(beds, dtype=np.float64), np.asarray(condensers, dtype=np.float64)
    out.coords["bed_temperature"] = ("bed_temperature", bed, _about("K", "Bed temperature"))
    out.coords["condenser_temperature"] = (
        "condenser_temperature",
        condenser,
        _about("K", "Condenser temperature"),
    )
    out["regeneration_humidity"] = (
        ("bed_temperature", "condenser_temperature"),
        regeneration_humidity(bed[:, None], condenser[None, :]),
        _about("1", "Relative humidity that a bed meets while it gives off water"),
    )


def _about(units: str, long_name: str) -> dict[str, str]:
    """Give the attributes that every variable carries."""
    return {"units": units, "long_name": long_name}


def _mean(values: Floats, cell: NDArray[np.int64], weight: Floats, cells: int) -> Floats:
    """Give the weighted mean of the values in each cell; NaN where a cell has no weight."""
    total = np.bincount(cell, weight, cells)
    summed = np.bincount(cell, weight * values, cells)
    return np.where(total > 0.0, summed / np.where(total > 0.0, total, 1.0), np.nan)


def _local(climate: xr.Dataset, shift: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Give month (0 to 11) and hour of the local standard clock, `shift` seconds into each hour."""
    seconds = round(float(climate.attrs["utc_offset"]) * 3600.0 + shift)
    local = climate["time"].values.astype("datetime64[s]") + np.timedelta64(seconds, "s")
    month = local.astype("datetime64[M]").astype(np.int64) % 12
    hour = (local - local.astype("datetime64[D]")).astype(np.int64) // 3600
    return month, hour


def _hour_name(climate: xr.Dataset) -> str:
    """Say what the hour coordinate means: the instants stand at different minutes in different files."""
    seconds = round(float(climate.attrs["utc_offset"]) * 3600.0 + float(climate.attrs["instant_offset"]))
    start = climate["time"].values[0]
    past = (int((start - start.astype("datetime64[h]")) / np.timedelta64(1, "s")) + seconds) % 3600 // 60
    return f"Hour of the local standard day; values stand at {past:02d} min past"


def _dark_at_instant(climate: xr.Dataset, path: SunPath) -> NDArray[np.bool_]:
    """Tell for each hour whether the sun is below the horizon at its instant."""
    position = float(climate.attrs["instant_offset"]) / 3600.0 * path.per_hour
    after = np.roll(path.lit_fraction, -math.floor(position))[:: path.per_hour]
    if position != math.floor(position):
        return after < 0.5
    # On an edge the sun is up when it fills the sub-interval on one side.
    before = np.roll(path.lit_fraction, 1 - math.floor(position))[:: path.per_hour]
    return np.maximum(before, after) < 1.0


def _mid_hour(values: Floats, climate: xr.Dataset) -> Floats:
    """Give instants' values at the middle of the hour, by a straight line; the year closes on itself."""
    late = float(climate.attrs["instant_offset"]) / 3600.0 - 0.5
    neighbour = np.roll(values, 1) if late > 0.0 else np.roll(values, -1)
    return values + abs(late) * (neighbour - values)
