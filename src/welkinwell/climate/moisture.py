"""Vapour pressure of a weather year from its dew points and relative humidities, and their agreement.

One saturation formula, over liquid water also below 0 °C, as weather services report humidity.
"""

from __future__ import annotations

import math

import numpy as np

from welkinwell.climate.hourly import FileYear
from welkinwell.compiled import njit
from welkinwell.errors import ClimateError, Problem
from welkinwell.moist_air.saturation import dew_point_from_pressure, saturation_pressure

SLIGHT_EXCESS = 0.5  # K, dew point above air: rounding and two instruments
HIGHEST_HUMIDITY = 1.1  # relative, what the EPW format allows
LARGEST_SHARE_BEYOND = 0.01  # of hours beyond either; more is a wrong column, not a wrong sensor
DISAGREEMENT = 0.05  # relative humidity; above it the pair of columns tells two stories


@njit(cache=True)
def saturation_pressures(temperature: np.ndarray) -> np.ndarray:
    """Give the saturation pressure over water for each hour [Pa]; NaN stays NaN.

    temperature: [K].
    """
    out = np.empty_like(temperature)
    for i in range(temperature.size):
        out[i] = saturation_pressure(temperature[i])
    return out


@njit(cache=True)
def dew_points(vapour_pressure: np.ndarray) -> np.ndarray:
    """Give the dew point over water for each hour [K]; NaN stays NaN.

    vapour_pressure: [Pa].
    """
    out = np.empty_like(vapour_pressure)
    for i in range(vapour_pressure.size):
        pressure = vapour_pressure[i]
        out[i] = dew_point_from_pressure(pressure) if not math.isnan(pressure) else np.nan
    return out


def reconcile(year: FileYear) -> np.ndarray:
    """Make one vapour pressure of the file's humidity columns [Pa]; NaN where none can be trusted.

    Dew point is preferred, relative humidity fills in. A dew point above the air by at most 0.5 K and a
    relative humidity of 100 to 110 % are clipped to saturation and counted; beyond, the value is missing,
    and more than 1 % of hours beyond is refused. A relative humidity of zero or less is missing.

    year: its temperature [K] is whole (gaps filled). Mutates its warnings and repairs.
    """
    temperature = year.values["temperature"]
    saturated = saturation_pressures(temperature)
    empty = np.full_like(temperature, np.nan)
    from_dew = _from_dew_point(year, year.values.get("dew_point", empty), temperature)
    from_humidity = _from_relative_humidity(year, year.values.get("relative_humidity", empty), saturated)
    direct = year.values.get("vapour_pressure", empty)
    if not np.isnan(direct).all():
        from_dew = _clipped(year, direct, saturated)
    both = ~np.isnan(from_dew) & ~np.isnan(from_humidity)
    _report_disagreement(year, (from_dew - from_humidity)[both] / saturated[both])
    lent = np.count_nonzero(np.isnan(from_dew) & ~np.isnan(from_humidity))
    if 0 < lent < from_dew.size and not np.isnan(from_dew).all():
        year.count("dew_point_from_humidity", int(lent))
    return np.where(np.isnan(from_dew), from_humidity, from_dew)


def _from_dew_point(year: FileYear, dew_point: np.ndarray, temperature: np.ndarray) -> np.ndarray:
    excess = dew_point - temperature
    _refuse_if_many(
        year,
        excess > SLIGHT_EXCESS,
        "dew point",
        "above the air temperature by more than 0.5 K",
        "at or below the air temperature",
    )
    return _clip_slight(
        year, saturation_pressures(dew_point), saturation_pressures(temperature), excess > 0.0,
        excess > SLIGHT_EXCESS, "dew point above the air temperature by at most 0.5 K",
    )  # fmt: skip


def _from_relative_humidity(year: FileYear, humidity: np.ndarray, saturated: np.ndarray) -> np.ndarray:
    _refuse_if_many(
        year, humidity > HIGHEST_HUMIDITY, "relative humidity", "above 110 %", "0 to 100 %, at most 110 %"
    )
    none = humidity <= 0.0
    if none.any():
        year.count("zero_humidity_missing", int(np.count_nonzero(none)))
        year.warn(
            "zero_humidity", f"{np.count_nonzero(none)} hours with a relative humidity of 0 are missing."
        )
    wet = np.where(none, np.nan, humidity) * saturated
    return _clip_slight(
        year, wet, saturated, humidity > 1.0, humidity > HIGHEST_HUMIDITY, "relative humidity of 100 to 110 %"
    )


def _clipped(year: FileYear, vapour_pressure: np.ndarray, saturated: np.ndarray) -> np.ndarray:
    beyond = vapour_pressure > HIGHEST_HUMIDITY * saturated
    _refuse_if_many(year, beyond, "vapour pressure", "over 1.1 of saturation", "at most saturation")
    over = vapour_pressure > saturated
    return _clip_slight(year, vapour_pressure, saturated, over, beyond, "vapour pressure above saturation")


def _clip_slight(
    year: FileYear,
    vapour: np.ndarray,
    saturated: np.ndarray,
    over: np.ndarray,
    beyond: np.ndarray,
    words: str,
) -> np.ndarray:
    slight, lost = int(np.count_nonzero(over & ~beyond)), int(np.count_nonzero(beyond))
    if slight:
        year.count("humidity_clipped", slight)
        year.warn("humidity_pair", f"{slight} hours with a {words} were set to saturation.")
    if lost:
        year.count("humidity_refused", lost)
        year.warn("humidity_beyond", f"{lost} hours with more than a {words} were taken as missing.")
    return np.where(beyond, np.nan, np.where(over, saturated, vapour))


def _refuse_if_many(year: FileYear, beyond: np.ndarray, label: str, given: str, expected: str) -> None:
    share = np.count_nonzero(beyond) / beyond.size
    if share <= LARGEST_SHARE_BEYOND:
        return
    first = int(np.flatnonzero(beyond)[0])
    raise ClimateError(
        Problem(
            year.at(first, label),
            f"{label} {given} in {100 * share:.1f} % of hours (first here)",
            f"{expected}, with at most 1 % of hours beyond",
            "A column or a unit is probably mistaken.",
        )
    )


def _report_disagreement(year: FileYear, difference: np.ndarray) -> None:
    many = int(np.count_nonzero(np.abs(difference) > DISAGREEMENT))
    if many:
        year.warn(
            "humidity_pair",
            f"in {many} hours dew point and relative humidity differ by over 5 points of relative humidity "
            f"(mean {100 * difference.mean():+.1f}); the dew point was used.",
        )
