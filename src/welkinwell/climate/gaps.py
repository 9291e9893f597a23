"""Filling of missing hours by stated rules, and the refusal of files that miss too much."""

from __future__ import annotations

import numpy as np

SHORT_GAP = 6  # hours; a straight line across more would cut off a day's peak
LARGEST_SHARE = 0.05  # of the year's hours; more is no longer this place's weather
FARTHEST_DAY = 15  # days; beyond, the season is another


def missing_share(values: np.ndarray) -> float:
    """Give the share of hours without a value [1].

    values: any unit, NaN where missing.
    """
    return float(np.mean(np.isnan(values)))


def filled(values: np.ndarray, straight: bool = True) -> tuple[np.ndarray, int, int]:
    """Fill a year's missing hours.

    Rule: a gap of at most 6 h by a straight line between its neighbours (if `straight`); a longer one, or
    one at the year's ends, by the mean of the same hour on the nearest day before and after that has
    a value, at most 15 days away.

    values: a year of hours, any unit, NaN where missing; straight: False for sun and rain, which a line
    would put into the night. Returns the filled copy, the hours filled by a line and those filled from
    other days; what no rule reaches stays NaN.
    """
    out = values.copy()
    gap = np.isnan(values)
    if not gap.any():
        return out, 0, 0
    lines = 0
    if straight:
        for first, last in runs(gap):
            if last - first <= SHORT_GAP and first > 0 and last < values.size:
                steps = np.arange(1, last - first + 1) / (last - first + 1)
                out[first:last] = values[first - 1] + steps * (values[last] - values[first - 1])
                lines += last - first
    rest = np.flatnonzero(np.isnan(out))
    for hour in rest:
        out[hour] = _same_hour_of_other_days(values, int(hour))
    return out, lines, int(rest.size - np.count_nonzero(np.isnan(out)))


def runs(mask: np.ndarray) -> list[tuple[int, int]]:
    """List the stretches where a mask holds, as (first, one past the last) indices [1].

    mask: of booleans.
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _same_hour_of_other_days(values: np.ndarray, hour: int) -> float:
    found = []
    for sign in (-1, 1):
        for days in range(1, FARTHEST_DAY + 1):
            other = hour + sign * 24 * days
            if 0 <= other < values.size and not np.isnan(values[other]):
                found.append(values[other])
                break
    return float(np.mean(found)) if found else float("nan")
