"""The stamps of a table's rows as instants: formats, and clocks with and without summer time.

A clock is `local` (the site's standard time), `UTC`, hours ahead of it such as `UTC+02:00`, or a time zone
such as `Europe/Madrid`, whose summer time the stamps follow.
"""

from __future__ import annotations

import datetime
import re
import zoneinfo
from typing import Any

import numpy as np

from welkinwell.climate.weather_file import WeatherText
from welkinwell.errors import ClimateError, FileError, Problem, nearest_name

CLOCKS = "local, UTC, UTC+02:00, or a time zone with summer time such as Europe/Madrid"
ISO = "a time as 2024-01-31T23:00 (ISO 8601), or time_format"
_AHEAD = re.compile(r"(?:UTC|GMT)\s*([+-])(\d{1,2})(?::?([0-5]\d))?", re.IGNORECASE)
_EPOCH = datetime.datetime(1970, 1, 1)


def clock_problem(clock: Any, where: str) -> Problem | None:
    """Say what is wrong with a clock as a user names it, or None."""
    if isinstance(clock, str) and (_hours_ahead(clock, 0.0) is not None or _zone(clock) is not None):
        return None
    near = ""
    if isinstance(clock, str):
        near = nearest_name(clock, ("local", "UTC", *zoneinfo.available_timezones()))
    return Problem(where, repr(clock), CLOCKS, near)


def _hours_ahead(clock: str, utc_offset: float) -> float | None:
    """Give the hours by which a clock without summer time is ahead of UTC; None where it is another."""
    if clock == "local":
        return utc_offset
    if clock.upper() in ("UTC", "GMT"):
        return 0.0
    match = _AHEAD.fullmatch(clock.strip())
    if match is None or int(match.group(2)) > 14:
        return None
    hours = int(match.group(2)) + int(match.group(3) or 0) / 60.0
    return hours if match.group(1) == "+" else -hours


def _zone(clock: str) -> zoneinfo.ZoneInfo | None:
    try:
        return zoneinfo.ZoneInfo(clock)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        return None


def parsed_stamp(cell: str, time_format: str | None) -> datetime.datetime | None:
    """Read one stamp as written; None where it is none. time_format: strftime codes, else ISO 8601."""
    try:
        if time_format:
            return datetime.datetime.strptime(cell.strip(), time_format)
        return datetime.datetime.fromisoformat(cell.strip())
    except (ValueError, TypeError, OverflowError, re.error):
        return None


def instants_of(
    text: WeatherText, cells: list[str], lines: list[int], options: dict[str, Any], utc_offset: float
) -> np.ndarray:
    """Give each stamp as seconds on the site's standard time since 1970 [s].

    text, cells, lines: the time column; options: time_format and clock; utc_offset: of the site [h].
    An hour that a clock with summer time shows twice is taken by the order of the rows.
    """
    pattern, clock = options.get("time_format"), options.get("clock", "local")
    ahead = _hours_ahead(clock, utc_offset)
    zone = None if ahead is not None else _zone(clock)
    shift = utc_offset * 3600.0
    out = np.empty(len(cells))
    before = -np.inf
    for i, cell in enumerate(cells):
        stamp = parsed_stamp(cell, pattern)
        if stamp is None:
            expected = f"a time as {pattern}" if pattern else ISO
            raise ClimateError(Problem(text.at(lines[i], "time"), repr(cell), expected))
        if i == 0 and zone is not None:
            _check_zone(text, clock, zone, stamp, utc_offset)
        before = out[i] = _utc_seconds(stamp, ahead, zone, before - shift) + shift
    return out


def _utc_seconds(
    stamp: datetime.datetime, ahead: float | None, zone: zoneinfo.ZoneInfo | None, before: float
) -> float:
    """Give a stamp in seconds of UTC; before: that of the row before [s]."""
    naive = (stamp.replace(tzinfo=None) - _EPOCH).total_seconds()
    if stamp.tzinfo is None and zone is None:
        return naive - (ahead or 0.0) * 3600.0
    dated = stamp if stamp.tzinfo is not None else stamp.replace(tzinfo=zone)
    offset = dated.utcoffset() or datetime.timedelta()
    seconds = naive - offset.total_seconds()
    later = dated.replace(fold=1).utcoffset()
    if (
        later is not None and later != offset and seconds <= before
    ):  # the hour comes a second time, in standard time
        return naive - later.total_seconds()
    return seconds


def _check_zone(
    text: WeatherText, clock: str, zone: zoneinfo.ZoneInfo, stamp: datetime.datetime, utc_offset: float
) -> None:
    """Refuse a zone whose standard time is not the site's."""
    both = [datetime.datetime(stamp.year, month, 1, tzinfo=zone).utcoffset() for month in (1, 7)]
    standard = min(one.total_seconds() / 3600.0 for one in both if one is not None)
    if abs(standard - utc_offset) > 0.01:
        raise FileError(
            Problem(
                f"{text.path.name}, clock",
                f"{clock!r}, whose standard time is {standard:+g} h from UTC",
                f"the standard time of the site, utc_offset {utc_offset:+g} h",
                "One of the two is wrong.",
            )
        )


def step_of(text: WeatherText, instants: np.ndarray, lines: list[int]) -> tuple[float, np.ndarray]:
    """Give the time between rows [s] and the rows' order in time.

    text, lines: for messages; instants: of the rows [s].
    """
    order = np.argsort(instants, kind="stable")
    gaps = np.diff(instants[order])
    if gaps.size and gaps.min() == 0.0:
        line = lines[int(order[int(np.argmin(gaps)) + 1])]
        raise ClimateError(
            Problem(text.at(line, "time"), "a time that came before", "every time once",
                    "Use standard time or UTC, not summer time; where the stamps follow it, name the time "
                    'zone, as in clock = "Europe/Madrid".')
        )  # fmt: skip
    seconds = float(np.median(gaps)) if gaps.size else 0.0
    if not 0.0 < seconds <= 3600.0 or 3600.0 % seconds:
        raise ClimateError(
            Problem(text.path.name, f"rows {seconds / 60:g} minutes apart", "an hour or an even part of one",
                    "Longer steps hide nights and noons; find hourly data.")
        )  # fmt: skip
    return seconds, order
