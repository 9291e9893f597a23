"""A weather year moved to where the device stands: corrected by a log of one's own, or to its altitude."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import numpy as np
import xarray as xr

from welkinwell.climate.hourly import DAYS_BEFORE_MONTH, DAYS_IN_MONTH, HOURS, check_climate
from welkinwell.climate.moisture import dew_points, saturation_pressures
from welkinwell.climate.night_sky import hour_means, modelled_longwave
from welkinwell.errors import ClimateError, Problem
from welkinwell.moist_air.altitude import pressure_at_altitude
from welkinwell.quantities import from_si

SHORTEST_LOG = 28  # days
FULL_DAY = 20  # hours of a day that must be logged for it to count
SPREAD_RANGE = (0.5, 2.0)  # of the ratio of spreads; beyond, the log and the file are two climates
TEMPERATURE_LAPSE = 6.5e-3  # K/m, mean of the lower atmosphere; monthly 4.4 to 8.2 K/km, Liston2006
VAPOUR_LAPSE = 3.75e-4  # 1/m, middle of the monthly 0.33 to 0.42 per km, Liston2006 (from memory)
FARTHEST_MOVE = 1500.0  # m; beyond, a lapse rate is not a climate
FREEZING = 273.15


def _same(values: np.ndarray) -> np.ndarray:
    return values


_SCALES: dict[str, tuple[Any, Any]] = {"temperature": (_same, _same), "vapour_pressure": (np.log, np.exp)}
_RULE = ("spread_ratio", "file_course", "log_course")


def correct_by_log(climate: xr.Dataset, log: xr.Dataset, like: xr.Dataset | None = None) -> xr.Dataset:
    """Correct a year's temperature and humidity by a log of at least 28 days from the site.

    For temperature x = T, for humidity x = ln p_v, over the calendar hours that the log covers:
        x' = m_log(h) + s (x - m_file(h)),
    m(h) the mean at the hour of day h (mean and two harmonics), s the spread of the log about its m over that
    of the file about its own, within 0.5 to 2. The same shift and s are used in every season. Vapour pressure
    is capped at saturation. The sky's longwave is scaled by what its model makes of the new air. The sun,
    wind and pressure are left alone.

    climate: of the climate contract; log: of read_site_log, temperature [K] and vapour_pressure [Pa] on
    `time` (UTC); like: another year of the place that the log has corrected, whose m and s are used (if not
    given, they are found in this year). Returns a new Dataset whose attribute `log_correction` holds the
    rule's numbers and what it leaves: mean and quantile errors over the log's days. ClimateError for a log of
    under 28 days.
    """
    days = _whole_days(log, float(climate.attrs["utc_offset"]))
    window, file_hour, log_hour = _in_the_log(climate, log)
    rules = None if like is None else json.loads(like.attrs["log_correction"])
    out = climate.copy(deep=True)
    told: dict[str, Any] = {
        "days": days,
        "hours": int(log.sizes["time"]),
        "log": str(log.attrs.get("source", "")),
        "log_hash": str(log.attrs.get("content_hash", "")),
    }
    for name, (to_scale, back) in _SCALES.items():
        x_file, x_log = to_scale(climate[name].values), to_scale(log[name].values)
        rule = _rule(x_file, window, file_hour, x_log, log_hour) if rules is None else rules[name]
        m_file, m_log = _course(rule["file_course"], file_hour), _course(rule["log_course"], file_hour)
        moved = back(m_log + rule["spread_ratio"] * (x_file - m_file))
        shift = float(np.mean((moved - climate[name].values)[window]))
        told[name] = {"shift": shift, **{key: rule[key] for key in _RULE}}
        out[name] = climate[name].copy(data=moved)
    capped = _cap_humidity(out)
    for name in _SCALES:
        told[name] |= _residuals(out[name].values[window], log[name].values)
        told[name] |= _means(climate[name].values, out[name].values, log[name].values, window)
    rescale_longwave(climate, out)
    words = _log_words(told, climate, log)
    return stamped(
        out, words, {"log_humidity_clipped": capped}, f"log {log.attrs.get('content_hash', '')}", told
    )


def _rule(
    x_file: np.ndarray, window: np.ndarray, file_hour: np.ndarray, x_log: np.ndarray, log_hour: np.ndarray
) -> dict[str, Any]:
    """Find the courses of the day and the ratio of spreads, on the scale of x."""
    file_course, log_course = _daily_course(x_file[window], file_hour[window]), _daily_course(x_log, log_hour)
    spread = _spread(
        x_file[window] - _course(file_course, file_hour[window]), x_log - _course(log_course, log_hour)
    )
    return {"spread_ratio": spread, "file_course": file_course, "log_course": log_course}


def _in_the_log(climate: xr.Dataset, log: xr.Dataset) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Give which hours of the year the log's calendar covers, and the hours of day of both [h]."""
    utc_offset = float(climate.attrs["utc_offset"])
    log_day, log_hour = _local_clock(log["time"].values, utc_offset)
    middle = climate["time"].values + np.timedelta64(round(climate.attrs["instant_offset"] * 1e9), "ns")
    file_day, file_hour = _local_clock(middle, utc_offset)
    return np.isin(_slot(file_day, file_hour), _slot(log_day, log_hour)), file_hour, log_hour


def _means(file: np.ndarray, corrected: np.ndarray, log: np.ndarray, window: np.ndarray) -> dict[str, float]:
    """Give the means over the log's calendar and over the year [SI]."""
    return {
        "file_mean": float(file[window].mean()),
        "log_mean": float(log.mean()),
        "year_mean_before": float(file.mean()),
        "year_mean_after": float(corrected.mean()),
    }


def move_to_altitude(
    climate: xr.Dataset,
    elevation: float,
    temperature_lapse: float = TEMPERATURE_LAPSE,
    vapour_lapse: float = VAPOUR_LAPSE,
) -> xr.Dataset:
    """Move a year from its station's altitude to that of the site.

    T' = T - a dz; p_v' = p_v exp(-b dz), at most saturation; p' = p P(z') / P(z), P the standard atmosphere.
    Relative humidity is not kept: it would be wrong by dz times the difference of the two lapses. The sun
    and the wind are left alone; the sky's longwave follows its model.

    climate: of the climate contract; elevation: of the site [m]; temperature_lapse: a [K/m];
    vapour_lapse: b [1/m]. Returns a new Dataset. Liston2006. ClimateError beyond 1,500 m.
    """
    rise = float(elevation) - float(climate.attrs["elevation"])
    if not -450.0 <= elevation <= 5500.0 or abs(rise) > FARTHEST_MOVE:
        raise ClimateError(
            Problem(
                "elevation",
                f"{elevation:g} m from a station at {climate.attrs['elevation']:g} m",
                f"within {FARTHEST_MOVE:g} m of the station and from -450 to 5500 m",
                "Find a nearer weather file.",
            )
        )
    out = climate.copy(deep=True)
    ratio = pressure_at_altitude(float(elevation)) / pressure_at_altitude(float(climate.attrs["elevation"]))
    out["temperature"] = climate["temperature"].copy(
        data=climate["temperature"].values - temperature_lapse * rise
    )
    vapour = climate["vapour_pressure"].values * np.exp(-vapour_lapse * rise)
    out["vapour_pressure"] = climate["vapour_pressure"].copy(data=vapour)
    out["pressure"] = climate["pressure"].copy(data=climate["pressure"].values * ratio)
    capped = _cap_humidity(out)
    rescale_longwave(climate, out)
    out.attrs["elevation"] = float(elevation)
    words = (
        f"moved_altitude: temperature, vapour pressure and pressure were moved by {rise:+.0f} m "
        f"({1e3 * temperature_lapse:g} K/km, {1e3 * vapour_lapse:g} per km); monthly lapses range "
        "from 4.4 to 8.2 K/km."
    )
    return stamped(
        out,
        words,
        {"moved_humidity_clipped": capped},
        f"elevation {elevation:g} {temperature_lapse} {vapour_lapse}",
    )


def _local_clock(times: np.ndarray, utc_offset: float) -> tuple[np.ndarray, np.ndarray]:
    """Give day of a leapless year [0 to 364] and hour of day [h] on the site's clock."""
    local = times.astype("datetime64[ns]") + np.timedelta64(round(utc_offset * 3.6e12), "ns")
    day = local.astype("datetime64[D]")
    month = local.astype("datetime64[M]")
    number = month.astype(int) % 12
    in_month = np.minimum((day - month).astype(int), DAYS_IN_MONTH[number] - 1)  # 29 February as the 28th
    return DAYS_BEFORE_MONTH[number] + in_month, (local - day).astype(np.int64) / 3.6e12


def _slot(day: np.ndarray, hour: np.ndarray) -> np.ndarray:
    """Number the hours of the leapless year, to the nearest [1]."""
    return np.floor(day * 24 + hour + 0.5).astype(int) % HOURS


def _whole_days(log: xr.Dataset, utc_offset: float) -> int:
    """Count the log's days with at least 20 hours; refuse fewer than 28."""
    local = log["time"].values + np.timedelta64(round(utc_offset * 3.6e12), "ns")
    _, counts = np.unique(local.astype("datetime64[D]"), return_counts=True)
    days = int(np.count_nonzero(counts >= FULL_DAY))
    if days < SHORTEST_LOG:
        raise ClimateError(
            Problem(
                f"log {log.attrs.get('source', '')}".strip(),
                f"{days} days with at least {FULL_DAY} hours",
                f"at least {SHORTEST_LOG}",
                "Log on; a few days tell the weather, not the place.",
            )
        )
    return days


def _basis(hours: np.ndarray) -> np.ndarray:
    turn = 2.0 * np.pi * hours / 24.0
    return np.stack(
        (np.ones_like(turn), np.cos(turn), np.sin(turn), np.cos(2 * turn), np.sin(2 * turn)), axis=-1
    )


def _daily_course(values: np.ndarray, hour: np.ndarray) -> list[float]:
    """Fit mean and two harmonics of the day: five numbers in the unit of the values; hour: of day [h]."""
    return [float(one) for one in np.linalg.lstsq(_basis(hour), values, rcond=None)[0]]


def _course(fitted: list[float], hour: np.ndarray) -> np.ndarray:
    """Give the fitted course at hours of day [h], in the unit that was fitted."""
    return _basis(hour) @ np.array(fitted)


def _spread(file: np.ndarray, log: np.ndarray) -> float:
    return float(np.clip(log.std() / max(file.std(), 1e-9), *SPREAD_RANGE))


def _cap_humidity(climate: xr.Dataset) -> int:
    saturated = saturation_pressures(climate["temperature"].values)
    vapour = climate["vapour_pressure"].values
    over = vapour > saturated
    climate["vapour_pressure"] = climate["vapour_pressure"].copy(data=np.where(over, saturated, vapour))
    return int(np.count_nonzero(over))


def rescale_longwave(before: xr.Dataset, after: xr.Dataset) -> None:
    """Scale the sky's longwave by what its model makes of the changed air."""
    cloud = before["cloud_cover"].values if "cloud_cover" in before else np.zeros(HOURS)
    offset = float(before.attrs["instant_offset"])

    def model(climate: xr.Dataset) -> np.ndarray:
        temperature = hour_means(climate["temperature"].values, offset)
        return modelled_longwave(temperature, hour_means(climate["vapour_pressure"].values, offset), cloud)

    after["sky_longwave"] = before["sky_longwave"].copy(
        data=before["sky_longwave"].values * model(after) / model(before)
    )


def _residuals(corrected: np.ndarray, log: np.ndarray) -> dict[str, float]:
    """Give what the correction leaves over the log's days: mean error and root mean square of quantiles."""
    levels = np.linspace(0.05, 0.95, 19)
    gap = np.quantile(corrected, levels) - np.quantile(log, levels)
    return {
        "mean_left": float(corrected.mean() - log.mean()),
        "quantiles_left": float(np.sqrt(np.mean(gap**2))),
    }


def _log_words(told: dict[str, Any], climate: xr.Dataset, log: xr.Dataset) -> str:
    years = np.unique(log["time"].values.astype("datetime64[Y]").astype(int) + 1970)
    same = np.isin(np.unique(climate["source_year"].values), years).all()
    shift = dew_points(np.array([log["vapour_pressure"].values.mean()]))[0] - FREEZING
    weather = (
        "" if same else "; the log's year is not the file's, so its weather went into the correction as well"
    )
    warm, wet = told["temperature"], told["vapour_pressure"]
    return (
        f"log_correction: {told['days']} days of log moved temperature by {warm['shift']:+.2f} K and vapour "
        f"pressure by {wet['shift']:+.0f} Pa over its days (mean dew point of the log {shift:.1f} C); left: "
        f"{warm['quantiles_left']:.2f} K and {wet['quantiles_left']:.0f} Pa rms over quantiles; the same "
        f"shift is used in seasons that were not logged{weather}."
    )


def correction_lines(climate: xr.Dataset) -> list[str]:
    """Say what a log's correction did to a year, variable by variable, in a practitioner's units.

    climate: of correct_by_log.
    """
    told = json.loads(climate.attrs["log_correction"])
    lines = [f"{told['days']} days of {told['log']}; means over the calendar days that it covers:"]
    rows = (("temperature", "degC", "K", 1.0), ("vapour_pressure", "hPa", "hPa", 100.0))
    for name, unit, step, size in rows:
        one, words = told[name], name.replace("_", " ")
        file, log = from_si(one["file_mean"], unit), from_si(one["log_mean"], unit)
        before, after = from_si(one["year_mean_before"], unit), from_si(one["year_mean_after"], unit)
        lines += [
            f"{words}: file {file:.2f} {unit}, log {log:.2f} {unit}; "
            f"the file's bias is {file - log:+.2f} {step}",
            f"  mean of the year from {before:.2f} to {after:.2f} {unit}, swings times "
            f"{one['spread_ratio']:.2f}; left: {one['quantiles_left'] / size:.2f} {step} rms over quantiles",
        ]
    dew = [
        float(dew_points(np.array([told["vapour_pressure"][f"{who}_mean"]]))[0]) for who in ("file", "log")
    ]
    lines.append(f"dew point of the mean vapour pressure: the file's bias is {dew[0] - dew[1]:+.2f} K")
    return lines


def stamped(
    climate: xr.Dataset, words: str, repairs: dict[str, int], seed: str, told: dict[str, Any] | None = None
) -> xr.Dataset:
    """Write down what was done, and change the hash: this is no longer the file's weather."""
    attrs = climate.attrs
    attrs["warnings"] = json.dumps([*json.loads(attrs["warnings"]), words])
    counts = json.loads(attrs["repairs"]) | {name: count for name, count in repairs.items() if count}
    attrs["repairs"] = json.dumps(counts, sort_keys=True)
    attrs["content_hash"] = hashlib.sha256(f"{attrs['content_hash']} {seed}".encode()).hexdigest()
    if told is not None:
        attrs["log_correction"] = json.dumps(told, sort_keys=True)
    check_climate(climate)
    return climate
