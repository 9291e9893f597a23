"""Hours without electricity: when they are, and what a device does in them.

A cut is given by the hour and laid over the weather year, so that every study of a case meets it. In it a
device is its design with everything electric off (`Harvester.unpowered`): fans, pumps, compressors and
heaters stop, dampers shut by their springs or stay, and the state goes on by itself. After it the device
waits for its restart delay, may blow outdoor air through for a while, and goes on as planned.
docs/theory/power_cuts.md.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from welkinwell.declare import choice, declared_fields, quantity, read_fields, unknown_keys, words
from welkinwell.errors import FileError, Problem
from welkinwell.harvesters.operation import OPEN, Schedule
from welkinwell.text_file import read_lines

if TYPE_CHECKING:
    import xarray as xr

VARIABLE: Final = "power_off"
YEAR_HOURS: Final = 8760
_SPAN: Final = re.compile(r"\s*(\d{1,2})(?::00)?\s*-\s*(\d{1,2})(?::00)?\s*")
STAYS: Final = -2  # a mode that is the one in which the cut finds the device


class Unpowered(NamedTuple):
    """A design with everything electric off.

    design: its fields; place: mode into which the dampers spring, None where the mode goes on as planned;
    dampers: whether there are dampers that could stay.
    """

    design: Any
    place: int | None
    dampers: bool = False


@dataclass(frozen=True)
class PowerCuts:
    """The [power_cuts] table: when there is no electricity, and how a device comes back. SI inside.

    daily: spans of local standard time as (first hour, hour after the last); months: 1 to 12, empty for all;
    given: one flag for each hour of the weather year where a file gives them.
    """

    file: str | None = words(
        "Hours without electricity as text: one 0 or 1 a line for each hour of the weather year", default=None
    )
    restart_delay: float = quantity(
        "min", "Time for which a device stays off when electricity is back (compressors: 3 to 5)",
        default=5.0, low=0.0, high=1440.0,
    )  # fmt: skip
    purge: float = quantity(
        "min", "Outdoor air blown through bed or box after that, before it goes on as planned",
        default=0.0, low=0.0, high=1440.0,
    )  # fmt: skip
    dampers: str = choice(
        ("shut", "stay"), "What dampers do without electricity: shut by springs, or stay", default="shut"
    )
    daily: tuple[tuple[int, int], ...] = ()
    months: tuple[int, ...] = ()
    given: NDArray[np.bool_] | None = None

    @property
    def any(self) -> bool:
        """Whether hours are named at all."""
        return bool(self.daily) or self.given is not None

    def hours(self, climate: xr.Dataset) -> NDArray[np.bool_]:
        """Hours of a weather year without electricity, shape (hours,)."""
        count = climate.sizes["time"]
        off = np.zeros(count, dtype=bool)
        if self.given is not None:
            off |= self.given[:count]
        if self.daily:
            offset = np.timedelta64(round(float(climate.attrs["utc_offset"]) * 3600.0), "s")
            local = climate["time"].values + offset
            clock = (local - local.astype("datetime64[D]")) / np.timedelta64(1, "h")
            month = local.astype("datetime64[M]").astype(int) % 12 + 1
            wanted = np.isin(month, self.months) if self.months else np.ones(count, dtype=bool)
            for first, last in self.daily:
                between = (clock >= first) & (clock < last)
                if first >= last:
                    between = (clock >= first) | (clock < last)
                off |= between & wanted
        return off


def read_power_cuts(table: Any, folder: Path, where: str, problems: list[Problem]) -> PowerCuts | None:
    """Read the [power_cuts] table; adds what is wrong with it to problems, and is then None.

    folder: where the case lies; where: file and table, for the messages.
    """
    if not isinstance(table, Mapping):
        problems.append(Problem(where, repr(table), "a table"))
        return None
    fields = declared_fields(PowerCuts)
    found = unknown_keys(table, [*fields, "daily", "months"], where)
    cuts, wrong = read_fields(PowerCuts, {key: table[key] for key in table if key in fields}, where)
    found += wrong
    daily = _read_daily(table.get("daily", []), f"{where}, daily", found)
    months = _read_months(table.get("months", []), f"{where}, months", found)
    given = None
    if cuts is not None and cuts.file is not None:
        given = _read_hours(folder / cuts.file, cuts.file, f"{where}, file", found)
    problems += found
    if found or cuts is None:
        return None
    return replace(cuts, daily=daily, months=months, given=given)


def _read_daily(given: Any, where: str, problems: list[Problem]) -> tuple[tuple[int, int], ...]:
    expected = 'spans of whole hours of local standard time, as in ["18:00-22:00"]'
    spans = []
    for text in given if isinstance(given, list) else [given]:
        match = _SPAN.fullmatch(text) if isinstance(text, str) else None
        hours = tuple(int(part) for part in match.groups()) if match else (99, 99)
        if max(hours) > 24 or hours[0] == hours[1]:
            problems.append(Problem(where, repr(text), expected))
        else:
            spans.append((hours[0] % 24, hours[1]))
    return tuple(spans)


def _read_months(given: Any, where: str, problems: list[Problem]) -> tuple[int, ...]:
    entries = given if isinstance(given, list) else [given]
    good = [m for m in entries if isinstance(m, int) and not isinstance(m, bool) and 1 <= m <= 12]
    if len(good) != len(entries):
        problems.append(Problem(where, repr(given), "months as numbers from 1 to 12, as in [6, 7, 8]"))
    return tuple(good)


def _read_hours(path: Path, name: str, where: str, problems: list[Problem]) -> NDArray[np.bool_] | None:
    expected = f"a text file with one 0 or 1 a line (1: no electricity) for {YEAR_HOURS} hours"
    try:
        lines = [line.strip() for line in read_lines(path, expected)[0] if line.strip()]
    except FileError as error:
        told = error.problems[0]
        reason = told.given if isinstance(told, Problem) else told
        problems.append(Problem(where, f"{name!r}, which cannot be read: {reason}", expected))
        return None
    if lines and lines[0] not in ("0", "1"):
        lines = lines[1:]  # a heading
    wrong = next((number for number, line in enumerate(lines, 1) if line not in ("0", "1")), None)
    if wrong is not None:
        problems.append(Problem(where, f"{lines[wrong - 1][:20]!r} in hour {wrong} of {name!r}", expected))
        return None
    if len(lines) != YEAR_HOURS:
        problems.append(Problem(where, f"{len(lines)} hours in {name!r}", expected))
        return None
    return np.array([line == "1" for line in lines])


def with_power_cuts(
    climate: xr.Dataset,
    off: NDArray[np.bool_],
    *,
    restart_delay: float = 300.0,
    purge: float = 0.0,
    dampers: str = "shut",
) -> xr.Dataset:
    """Lay hours without electricity over a weather year.

    climate: the weather year; off: shape (hours,); restart_delay, purge [s]; dampers: shut or stay [name].
    Returns a new Dataset.
    """
    told = {"units": "1", "restart_delay": restart_delay, "purge": purge, "dampers": dampers}
    return climate.assign({VARIABLE: ("time", off.astype(np.float64), told)})


def without_power_cuts(climate: xr.Dataset) -> xr.Dataset:
    """Take the hours without electricity off a weather year; returns a new Dataset."""
    return climate.drop_vars(VARIABLE, errors="ignore")


class CutTimes(NamedTuple):
    """When a device is off, and how it comes back.

    spells: begin and end of each time off, the restart delay in it, shape (n, 2) [s]; purge [s]; stay:
    whether dampers stay where they are.
    """

    spells: NDArray[np.float64]
    purge: float
    stay: bool


@dataclass(frozen=True)
class Outage:
    """What a prepared device does without electricity.

    design, numbers: with everything electric off; times: of the cuts; plan: the schedule with the cuts laid
    over it.
    """

    design: Any
    numbers: Any
    times: CutTimes
    plan: Schedule

    @property
    def spells(self) -> NDArray[np.float64]:
        """Begin and end of each time off [s], shape (n, 2)."""
        return self.times.spells

    def holds(self, times: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether the device is off at times [s], shape (n,)."""
        return _within(self.spells, times)


def spells_of(climate: xr.Dataset) -> NDArray[np.float64]:
    """Begin and end of each time off [s from the first hour], shape (n, 2); empty without cuts."""
    if VARIABLE not in climate:
        return np.zeros((0, 2))
    off = climate[VARIABLE].values > 0.5
    edges = np.flatnonzero(np.diff(np.concatenate([[False], off, [False]]).astype(np.int8)))
    spells = edges.reshape(-1, 2) * 3600.0
    spells[:, 1] += float(climate[VARIABLE].attrs.get("restart_delay", 0.0))
    kept: list[list[float]] = []
    for begin, end in spells:
        if kept and begin <= kept[-1][1]:
            kept[-1][1] = max(kept[-1][1], end)
        else:
            kept.append([begin, end])
    found = np.array(kept).reshape(-1, 2)
    return np.minimum(found, off.size * 3600.0)


def cut_times(climate: xr.Dataset) -> CutTimes:
    """Read the cuts that are laid over a weather year; without spells where there are none."""
    told = climate[VARIABLE].attrs if VARIABLE in climate else {}
    return CutTimes(spells_of(climate), float(told.get("purge", 0.0)), told.get("dampers") == "stay")


def laid_over(plan: Schedule, times_off: CutTimes, last: float, off: Unpowered) -> Schedule:
    """Lay the cuts over a schedule: the dampers' place while they last, then a purge, then the plan.

    last: end of the record [s].
    """
    spells = times_off.spells
    purge = times_off.purge if off.dampers else 0.0
    place = STAYS if off.dampers and times_off.stay else off.place
    times = np.unique(np.concatenate([plan.switch_times, spells.ravel(), spells[:, 1] + purge]))
    times = times[(times >= 0.0) & (times < last)]
    modes = plan.switch_modes[np.searchsorted(plan.switch_times, times, side="right") - 1].copy()
    after = np.column_stack([spells[:, 1], spells[:, 1] + purge])
    modes[_within(after, times)] = OPEN
    if place is not None:
        modes[_within(spells, times)] = place
    return Schedule(times, modes)


def _within(spells: NDArray[np.float64], times: NDArray[np.float64]) -> NDArray[np.bool_]:
    if spells.shape[0] == 0:
        return np.zeros(times.shape, dtype=bool)
    before = np.searchsorted(spells[:, 0], times, side="right") - 1
    return (before >= 0) & (times < spells[np.maximum(before, 0), 1])
