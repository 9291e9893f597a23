"""A year in twelve weeks: from each month the run of real days that is most like the month.

Where many designs are compared, the days are chosen first. A few reference beds are simulated through the
whole year; of all runs of four consecutive days inside a month, the one is taken in which their litres a
day, and the day's sun, temperature and vapour pressure, lie nearest to the month's means. The day before
each run is simulated too, so that the bed forgets the seam, and is not counted. All days are real and in
order; nothing is scaled. What the choice costs is measured in docs/validation/rank_sites.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.harvesters.air import Surroundings, surroundings
from welkinwell.year import DAYS_IN_MONTH

LENGTH: Final = 4  # days counted in each month
_MONTH_OF_DAY: Final = np.repeat(np.arange(12), DAYS_IN_MONTH)


@dataclass(frozen=True)
class Days:
    """Days of a site, in order.

    site: their surroundings; month: of each day, from 0, shape (days,); counted: whether the day counts,
    shape (days,).
    """

    site: Surroundings
    month: NDArray[np.int64]
    counted: NDArray[np.bool_]

    def monthly(self, hourly: NDArray[np.float64]) -> NDArray[np.float64]:
        """Sum an hourly amount over each month, a month's days standing for the whole month.

        Args: hourly, shape (24 days,) [X]. Returns: shape (12,) [X in the month]; over a whole year the
        plain sums.
        """
        daily = hourly.reshape(-1, 24).sum(axis=1)
        means = [daily[self.counted & (self.month == m)].mean() for m in range(12)]
        return np.array(means) * DAYS_IN_MONTH


def whole_year(site: Surroundings) -> Days:
    """Give all days of a site's year.

    Args: site: surroundings of 365 days. Returns: the days, all counted.
    """
    return Days(site, _MONTH_OF_DAY, np.ones(_MONTH_OF_DAY.size, dtype=bool))


def typical_weeks(site: Surroundings, daily_litres: NDArray[np.float64], length: int = LENGTH) -> Days:
    """Choose a run of days for each month, and prepare their surroundings.

    Args: site: surroundings of 365 days; daily_litres: of the reference beds, shape (365, beds) [L/m2];
    length: days counted in each month [1], at most 27.
    Returns: the days, the first of each month's run not counted.
    """
    weather = _daily_weather(site.climate)
    firsts = np.concatenate([[0], np.cumsum(DAYS_IN_MONTH)])
    chosen: list[int] = []
    for m in range(12):
        month = slice(firsts[m], firsts[m + 1])
        start = firsts[m] + _most_like(daily_litres[month], weather[month], length)
        chosen += range(start - 1, start + length)  # the last day of the year stands before the first
    days = np.array(chosen) % _MONTH_OF_DAY.size
    hours = (days[:, None] * 24 + np.arange(24)).ravel()
    counted = np.tile(np.arange(length + 1) > 0, 12)
    month_of_day = np.repeat(np.arange(12), length + 1)
    return Days(surroundings(site.climate.isel(time=hours)), month_of_day, counted)


def _daily_weather(climate: xr.Dataset) -> NDArray[np.float64]:
    """Mean sun, temperature and vapour pressure of each day, shape (days, 3)."""
    names = ("ghi", "temperature", "vapour_pressure")
    return np.column_stack([climate[name].values.reshape(-1, 24).mean(axis=1) for name in names])


def _most_like(litres: NDArray[np.float64], weather: NDArray[np.float64], length: int) -> int:
    """Day on which the run begins whose means miss the month's least.

    Litres are measured by the month's litres, weather by a twentieth of its spread from day to day, so that
    it decides only between runs of much the same litres.
    """
    litres = litres / np.maximum(litres.mean(axis=0), 1e-3)
    spread = np.maximum(weather.std(axis=0), 1e-6 * np.abs(weather.mean(axis=0)) + 1e-9)
    scaled = np.column_stack([litres - litres.mean(axis=0), 0.05 * (weather - weather.mean(axis=0)) / spread])
    runs = np.lib.stride_tricks.sliding_window_view(scaled, length, axis=0)
    return int(np.argmin((runs.mean(axis=2) ** 2).sum(axis=1)))
