"""Cloud cover and the sky's longwave, where a weather file has none or one that cannot be."""

from __future__ import annotations

import math

import numpy as np

from welkinwell.climate.gaps import LARGEST_SHARE, filled, missing_share
from welkinwell.climate.hourly import FileYear
from welkinwell.climate.moisture import dew_points
from welkinwell.compiled import njit
from welkinwell.sky import longwave
from welkinwell.sky.sun import SunPath

LOWEST_EMISSIVITY, HIGHEST_EMISSIVITY = 0.55, 1.05  # L / (sigma T^4) that a sky can have
LOW_SUN = math.sin(math.radians(10.0))  # below, a clear sky's sun is known too badly to tell clouds
CLEAREST = 0.95  # quantile of the clearness in 31 days that is taken as the cloudless sky


@njit(cache=True)
def modelled_longwave(temperature: np.ndarray, vapour_pressure: np.ndarray, cloud: np.ndarray) -> np.ndarray:
    """Give the sky's longwave for each hour [W/m2] by the model of welkinwell.sky.longwave.

    temperature: [K]; vapour_pressure: [Pa]; cloud: opaque cover [1].
    """
    out = np.empty_like(temperature)
    for i in range(temperature.size):
        out[i] = longwave.sky_longwave(temperature[i], vapour_pressure[i], cloud[i])
    return out


def hour_means(values: np.ndarray, instant_offset: float) -> np.ndarray:
    """Give the mean over each hour of a curve that runs straight between the instants.

    f^2/2 v[i-1] + (f (1 - f/2) + g (1 - g/2)) v[i] + g^2/2 v[i+1]; f: the instant's place, g = 1 - f.

    values: at the instants, any unit, the year closed on itself; instant_offset: after the hour's start [s].
    Returns the means, same unit.
    """
    f = instant_offset / 3600.0
    g = 1.0 - f
    own = f * (1.0 - 0.5 * f) + g * (1.0 - 0.5 * g)
    return 0.5 * f * f * np.roll(values, 1) + own * values + 0.5 * g * g * np.roll(values, -1)


def cloud_from_clearness(clearness: np.ndarray) -> np.ndarray:
    """Turn the sun's clearness into the cloud cover that the longwave sees: 1 - k.

    clearness: global over that of a cloudless sky k [1]. Returns the cover, a fraction [1]. Less than an
    observer's cover, since thin cloud counts little. Crawford1999 (made for this use).
    """
    return 1.0 - np.clip(clearness, 0.0, 1.0)


def cloudless_sun(up: np.ndarray) -> np.ndarray:
    """Give the global sun under a cloudless sky, 1098 s exp(-0.059 / s) [W/m2].

    up: sine of the sun's height s, above 0 [1]. Haurwitz1945 (constants from memory).
    """
    return 1098.0 * up * np.exp(-0.059 / up)


def clearness(ghi: np.ndarray, path: SunPath, clear_sky: np.ndarray | None = None) -> np.ndarray:
    """Give global over the global of a cloudless sky [1]; NaN with the sun below 10 degrees.

    Cloudless sun: the file's own where it has one, else that of Haurwitz1945, scaled so that the 95 %
    quantile of the 31 days around is 1, within 0.85 to 1.2 of the formula: dust and altitude are not clouds.

    ghi: hour's mean [W/m2]; path: the sun in the hours; clear_sky: the file's cloudless global [W/m2].
    """
    high = (path.up >= LOW_SUN) & (path.lit_fraction > 0.0)
    up = np.where(high, path.up, 1.0)
    if clear_sky is not None:
        return np.where(high & (clear_sky > 10.0), ghi / np.maximum(clear_sky, 10.0), np.nan)
    raw = np.where(high, ghi / cloudless_sun(up), np.nan)
    return raw / np.repeat(np.clip(_clearest(raw), 0.85, 1.2), 24)


def _clearest(raw: np.ndarray) -> np.ndarray:
    """Give for each day the clearness of the clearest hours of the 31 days around [1]."""
    days = raw.reshape(-1, 24)
    wrapped = np.concatenate((days[-15:], days, days[:15]))
    windows = np.lib.stride_tricks.sliding_window_view(wrapped, 31, axis=0).reshape(days.shape[0], -1)
    known = ~np.isnan(windows).all(axis=1)
    out = np.ones(days.shape[0])
    out[known] = np.nanquantile(windows[known], CLEAREST, axis=1)
    return out


def complete_cloud(year: FileYear, path: SunPath) -> str:
    """Make the cloud cover whole, in place, and say in words where it comes from.

    Where the file has none it is estimated from the clearness of the sun; nights lie on a straight line
    between the last and the first hour with the sun above 10 degrees.

    year: with clean sun; path: the sun in its hours.
    """
    cloud = year.values.get("cloud_cover")
    if cloud is not None and missing_share(cloud) <= LARGEST_SHARE:
        cloud, straight, copied = filled(cloud)
        year.count("cloud_cover_filled", straight + copied)
        if not np.isnan(cloud).any():
            year.values["cloud_cover"] = np.clip(cloud, 0.0, 1.0)
            return "cloud cover of the file"
    cover = cloud_from_clearness(clearness(year.values["ghi"], path, year.clear_sky_ghi))
    known = np.flatnonzero(~np.isnan(cover))
    if known.size < 300:
        year.warn(
            "cloud_unknown", "cloud cover is missing and too little sun tells it; half cover was taken."
        )
        year.values["cloud_cover"] = np.full(cover.size, 0.5)
    else:
        year.values["cloud_cover"] = np.interp(np.arange(cover.size), known, cover[known], period=cover.size)
        year.warn(
            "cloud_modelled",
            "cloud cover is missing; it was estimated from the sun's clearness (Crawford1999).",
        )
    year.how["cloud_cover"] = "modelled"
    return "cloud cover from the sun's clearness"


def complete_longwave(year: FileYear, path: SunPath) -> str:
    """Make the sky's longwave whole, in place; return the model's name or `file`.

    Hours whose L / (sigma T^4) is outside 0.55 to 1.05 are not believed. Hours not believed or missing are
    computed (Prata1996, Martin1984); with more than half of them, all are.

    year: with temperature, vapour pressure and sun whole; path: the sun in its hours.
    """
    temperature, vapour_pressure = year.values["temperature"], year.values["vapour_pressure"]
    given = year.values.get("sky_longwave", np.full(temperature.size, np.nan))
    emissivity = given / (longwave.STEFAN_BOLTZMANN * temperature**4)
    odd = (emissivity < LOWEST_EMISSIVITY) | (emissivity > HIGHEST_EMISSIVITY)
    lost = np.isnan(given) | odd
    if odd.any():
        year.warn(
            "longwave_range",
            f"{np.count_nonzero(odd)} hours of longwave are outside 0.55 to 1.05 of a black sky at air "
            "temperature; they were computed instead.",
        )
    if not lost.any():
        _tell_synthetic(year, given)
        return "file"
    words = complete_cloud(year, path)
    model = modelled_longwave(
        hour_means(temperature, year.instant_offset),
        hour_means(vapour_pressure, year.instant_offset),
        year.values["cloud_cover"],
    )
    whole_year = np.count_nonzero(lost) > 0.5 * lost.size
    year.values["sky_longwave"] = model if whole_year else np.where(lost, model, given)
    name = f"Prata1996 clear sky, Martin1984 clouds, {words}"
    if whole_year:
        year.how["sky_longwave"] = "modelled"
        year.warn("longwave_modelled", f"the sky's longwave is missing; it was computed ({name}).")
        return name
    year.count("sky_longwave_modelled", int(np.count_nonzero(lost)))
    _tell_synthetic(year, given)
    return f"file; {np.count_nonzero(lost)} hours by {name}"


def _tell_synthetic(year: FileYear, given: np.ndarray) -> None:
    """Warn where the file's longwave is a formula of its own dew point and sky cover, not a measurement."""
    cloud = year.values.get("cloud_cover")
    if cloud is None:
        return
    tenths = 10.0 * cloud
    with np.errstate(invalid="ignore"):
        clear = 0.787 + 0.764 * np.log(dew_points(year.values["vapour_pressure"]) / 273.0)
        formula = (
            clear
            * (1.0 + tenths * (0.0224 + tenths * (-0.0035 + tenths * 0.00028)))
            * longwave.STEFAN_BOLTZMANN
            * year.values["temperature"] ** 4
        )
        near = np.mean(np.abs(given - formula) < 0.02 * formula)
    if near > 0.8:
        year.how["sky_longwave"] = "modelled"
        year.warn(
            "longwave_synthetic",
            f"{100 * near:.0f} % of the file's longwave follows Clark1978 with Walton1983 from its own "
            "dew point and sky cover: it was computed, not measured.",
        )
