"""Cycle lengths of an active bed that are best for the hour, from a table that is worked out beforehand.

The policy: for a few states of the outdoor air, each pair of an uptake and a release length is marched in
steady air until its cycles repeat, and the pair with the most water an hour is kept. Through the year each
cycle takes the pair of the state that is nearest to the air at its start. A real controller could hold the
same table. It looks at water alone, not at electricity.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.harvesters.air import TEMPERATURE, VAPOUR_PRESSURE, AirRecord
from welkinwell.harvesters.operation import Schedule
from welkinwell.moist_air import saturation_pressure

UPTAKES: Final = tuple(60.0 * minutes for minutes in (15, 30, 45, 60, 80, 120, 180, 300))  # s
RELEASES: Final = tuple(60.0 * minutes for minutes in (15, 30, 45, 60, 80, 120, 180))  # s
TEMPERATURE_SHARES: Final = (0.1, 0.5, 0.9)  # quantiles of the record, between which states lie
HUMIDITY_SHARES: Final = (0.05, 0.275, 0.5, 0.725, 0.95)
UPTAKE, RELEASE = 1, 0

# Water that condenses in steady air [kg/(m2 s)]: of temperature [K], vapour pressure [Pa], both lengths [s].
WaterRate = Callable[[float, float, float, float], float]


@dataclass(frozen=True)
class CycleTable:
    """Best lengths by state of the air.

    temperatures [K], humidities [1]: of the states, shapes (n,) and (m,); uptake, release: best lengths,
    shape (n, m) [s]; rate: water condensed with them, shape (n, m) [kg/(m2 s)].
    """

    temperatures: NDArray[np.float64]
    humidities: NDArray[np.float64]
    uptake: NDArray[np.float64]
    release: NDArray[np.float64]
    rate: NDArray[np.float64]

    def lengths(self, temperature: float, humidity: float) -> tuple[float, float]:
        """Give the lengths [s] of the nearest state; temperature [K], humidity [1]."""
        row = int(np.argmin(np.abs(self.temperatures - temperature)))
        column = int(np.argmin(np.abs(self.humidities - humidity)))
        return float(self.uptake[row, column]), float(self.release[row, column])


def cycle_table(air: AirRecord, water_rate: WaterRate) -> CycleTable:
    """Work out the best lengths for the states that a record of the air holds."""
    T, humidity = _states(air)
    temperatures = np.unique(np.quantile(T, TEMPERATURE_SHARES))
    humidities = np.unique(np.quantile(humidity, HUMIDITY_SHARES))
    shape = (temperatures.size, humidities.size)
    uptake, release, rate = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    for row, column in np.ndindex(shape):
        hot, share = float(temperatures[row]), float(humidities[column])
        vapour = share * float(saturation_pressure(hot))
        found = [(water_rate(hot, vapour, up, out), up, out) for up, out in product(UPTAKES, RELEASES)]
        rate[row, column], uptake[row, column], release[row, column] = max(found)
    return CycleTable(temperatures, humidities, uptake, release, rate)


def best_cycles(air: AirRecord, table: CycleTable) -> Schedule:
    """Lay cycles through a record, each with the lengths of the air at its start."""
    T, humidity = _states(air)
    last = air.hours * 3600.0
    times, modes, now = [], [], 0.0
    while now < last:
        node = int(now // air.spacing)
        up, out = table.lengths(float(T[node]), float(humidity[node]))
        times += [now, now + up]
        modes += [UPTAKE, RELEASE]
        now += up + out
    within = np.array(times) < last
    return Schedule(np.array(times)[within], np.array(modes, dtype=np.int64)[within])


def _states(air: AirRecord) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Temperature [K] and relative humidity [1] at the nodes of a record."""
    T = air.nodes[:, TEMPERATURE]
    return T, air.nodes[:, VAPOUR_PRESSURE] / saturation_pressure(T)
