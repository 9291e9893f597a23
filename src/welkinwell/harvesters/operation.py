"""When a box opens and closes: by the clock, by the sun, or by what its bed can take up.

Clock and sun rules are worked out beforehand as roots of the piecewise linear surroundings; the pressure
rule needs the device's own state and is decided inside the march.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.harvesters.air import PER_HOUR, SUN_PLANE, AirRecord

CLOSED: Final = 0
OPEN: Final = 1
BY_STATE: Final = -1
SHORTEST_STAY: Final = 60.0  # s, a shorter stay in a mode is dropped


@dataclass(frozen=True)
class Schedule:
    """Modes through the record: times of the switches [s], the first at 0, and the mode from each on.

    A mode of BY_STATE leaves the decision to the device.
    """

    switch_times: NDArray[np.float64]
    switch_modes: NDArray[np.int64]


def schedule(design: object, air: AirRecord) -> Schedule:
    """Work out the schedule of a design in its surroundings, from its operation fields.

    operation: "sun", "clock", "always" (open round the clock), or any other name for a rule on the state.
    """
    rule = design.operation  # type: ignore[attr-defined]
    if rule == "sun":
        times, modes = _by_sun(air, design.close_above)  # type: ignore[attr-defined]
    elif rule == "clock":
        times, modes = _by_clock(air, design.open_at, design.close_at)  # type: ignore[attr-defined]
    else:
        times, modes = np.array([0.0]), np.array([OPEN if rule == "always" else BY_STATE])
    if design.closed_in_rain and air.rainy is not None:  # type: ignore[attr-defined]
        times, modes = _closed_while(times, modes, air.rainy)
    return _tidied(times, modes)


def segments(
    plan: Schedule, air: AirRecord, first_hour: int, last_hour: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Cut hours [first, last) at the nodes of the record and at the switches.

    Returns start [s], end [s], node before, mode and hour of each segment.
    """
    nodes = np.arange(first_hour * PER_HOUR, last_hour * PER_HOUR + 1) * air.spacing
    inside = (plan.switch_times > nodes[0]) & (plan.switch_times < nodes[-1])
    edges = np.union1d(nodes, plan.switch_times[inside])
    # a switch within a millisecond of a node happens at the node
    keep = np.concatenate([[True], np.diff(edges) > 1e-3])
    edges = edges[keep]
    edges[-1] = nodes[-1]
    starts, ends = edges[:-1], edges[1:]
    middle_time = 0.5 * (starts + ends)
    node = (middle_time / air.spacing).astype(np.int64)
    mode = plan.switch_modes[np.searchsorted(plan.switch_times, middle_time, side="right") - 1]
    return starts, ends, node, mode.astype(np.int64), (middle_time / 3600.0).astype(np.int64)


def _by_sun(air: AirRecord, threshold: float) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Closed while the sun on the aperture is above the threshold [W/m2]."""
    sun = air.nodes[:, SUN_PLANE] - threshold
    below, above = sun[:-1], sun[1:]
    crossing = np.flatnonzero((below > 0.0) != (above > 0.0))
    share = below[crossing] / (below[crossing] - above[crossing])
    times = np.concatenate([[0.0], (crossing + share) * air.spacing])
    modes = np.concatenate(
        [[CLOSED if sun[0] > 0.0 else OPEN], np.where(above[crossing] > 0.0, CLOSED, OPEN)]
    )
    return times, modes


def _by_clock(
    air: AirRecord, open_at: float, close_at: float
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Open from one local standard time [s] of every day to another."""
    days = np.arange(-1, air.hours // 24 + 2) * 86400.0 - air.local_start
    times = np.concatenate([days + open_at, days + close_at])
    modes = np.concatenate([np.full(days.size, OPEN), np.full(days.size, CLOSED)])
    order = np.argsort(times, kind="stable")
    times, modes = times[order], modes[order]
    first = modes[times <= 0.0][-1]
    within = (times > 0.0) & (times < air.hours * 3600.0)
    return np.concatenate([[0.0], times[within]]), np.concatenate([[first], modes[within]])


def _closed_while(
    times: NDArray[np.float64], modes: NDArray[np.int64], rainy: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Overlay closed hours on a schedule."""
    if not rainy.any():
        return times, modes
    edges = np.flatnonzero(np.diff(rainy.astype(np.int8))) + 1
    rain_times = np.concatenate([[0.0], edges * 3600.0])
    rain_on = np.concatenate([rainy[:1], rainy[edges]])
    merged = np.unique(np.concatenate([times, rain_times]))
    plain = modes[np.searchsorted(times, merged, side="right") - 1]
    wet = rain_on[np.searchsorted(rain_times, merged, side="right") - 1]
    return merged, np.where(wet, CLOSED, plain)


def _tidied(times: NDArray[np.float64], modes: NDArray[np.int64]) -> Schedule:
    """Drop switches that change nothing and stays shorter than a minute."""
    kept_times = [float(times[0])]
    kept_modes = [int(modes[0])]
    for t, mode in zip(times[1:], modes[1:], strict=True):
        if mode == kept_modes[-1]:
            continue
        if t - kept_times[-1] < SHORTEST_STAY and len(kept_times) > 1:
            kept_times.pop()
            kept_modes.pop()
            if kept_modes[-1] == mode:
                continue
        kept_times.append(float(t))
        kept_modes.append(int(mode))
    return Schedule(np.array(kept_times), np.array(kept_modes, dtype=np.int64))
