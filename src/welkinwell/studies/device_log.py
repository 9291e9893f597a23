"""What a built device wrote down: read from CSV, checked, and set beside its model, reading by reading.

Columns carry their unit in the header, as in `time,litres [L],bed_temperature [degC],sun [W/m2]`. A row
speaks of one reading: `time` is the site's standard time of it (ISO 8601; a date alone is the end of that
day), `litres` what all modules gave since the row before. Empty cells are missing values. A log with other
columns is described in TOML, as [device_log] (welkinwell.climate.column_map).
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.climate.column_guess import device_block
from welkinwell.climate.column_map import DeviceColumns
from welkinwell.climate.stamps import instants_of
from welkinwell.climate.sunlight import erbs_diffuse_share
from welkinwell.climate.table import column_unit, described, without_codes
from welkinwell.climate.weather_file import WeatherText, open_weather
from welkinwell.errors import MOST_PROBLEMS, FileError, Problem, nearest_name
from welkinwell.moist_air import saturation_pressure
from welkinwell.quantities import Scale, from_si, scale
from welkinwell.sky.sun import climate_sun_path
from welkinwell.text_file import RowError, on_clock, read_lines, split_row, title_and_unit

Floats = NDArray[np.float64]

# column: (kind of unit, lowest, highest in SI, range in words)
COLUMNS: Final = {
    "litres": ("m3", 0.0, 1e3, "0 to 1,000,000 L"),
    "bed_temperature": ("K", 223.15, 573.15, "-50 to 300 degC"),
    "condenser_temperature": ("K", 223.15, 473.15, "-50 to 200 degC"),
    "glazing_temperature": ("K", 223.15, 473.15, "-50 to 200 degC"),
    "air_temperature": ("K", 213.15, 333.15, "-60 to 60 degC"),
    "relative_humidity": ("1", 0.0, 1.1, "0 to 1.1 (a fraction, or % in the header)"),
    "sun": ("W/m2", -20.0, 1800.0, "-20 to 1800 W/m2, global on the horizontal"),
}
EVERYDAY: Final = {"m3": "L", "K": "degC", "1": "%", "W/m2": "W/m2"}  # units in which a person reads them
INSIDE: Final = ("bed_temperature", "condenser_temperature", "glazing_temperature")
OF_THE_WEATHER: Final = ("air_temperature", "relative_humidity", "sun")
EXAMPLE: Final = "time,litres [L],bed_temperature [degC]"
LONGEST_STEP: Final = 36.0 * 3600.0  # s; between readings further apart nobody knows what was emptied
EARLIEST: Final = 1900
LATEST: Final = 2200  # years of a log
LEAST_DAYS: Final = 7
MOST_DAYS: Final = 365
WHOLE_DAY: Final = 20.0 * 3600.0  # s of a day that must be read for the day to count
SUN_HOURS: Final = (10.0, 16.0)  # standard time between which temperatures are averaged
LEAST_READINGS: Final = 3  # of a temperature within those hours
LOWEST_SUN: Final = 0.052  # sine of 3 degrees; lower, a small error in time makes a wild direct sun


@dataclass(frozen=True)
class DeviceLog:
    """The readings of a device on the calendar of its model, which has no 29 February.

    file: its name; first: date of the first day; first_day: its place in the model's year (0: 1 January);
    days: whole days that the log spans; at: instant of each reading [s] since that first day began, shape
    (n,); since: the instant from which its litres count [s], nan where unknown; values: column to SI values,
    nan where missing; warnings: what was left out.
    """

    file: str
    first: datetime.date
    first_day: int
    days: int
    at: Floats
    since: Floats
    values: Mapping[str, Floats]
    warnings: tuple[str, ...] = ()

    @property
    def litres(self) -> Floats:
        """Litres of each reading [L]."""
        return 1000.0 * self.values["litres"]

    @property
    def day(self) -> NDArray[np.int64]:
        """The day to which each reading's litres belong: that of the middle of its interval, shape (n,)."""
        middle = np.where(np.isfinite(self.since), 0.5 * (self.at + self.since), self.at)
        return np.clip(middle // 86400.0, 0, self.days - 1).astype(np.int64)

    def date(self, day: int) -> datetime.date:
        """The date of a day of the log (0: its first)."""
        return later(self.first, day)

    def first_reading(self) -> str:
        """Say what the first reading was understood to be, on the site's standard time."""
        begun = datetime.datetime.combine(self.first, datetime.time())
        when = begun + datetime.timedelta(seconds=round(float(self.at[0])))
        told = [f"{when:%Y-%m-%d %H:%M} local standard time"]
        for name in (column for column in COLUMNS if column in self.values):
            values = self.values[name]
            unit = EVERYDAY[COLUMNS[name][0]]
            read = "missing" if math.isnan(values[0]) else f"{from_si(float(values[0]), unit):.4g} {unit}"
            told.append(f"{name.replace('_', ' ')} {read}")
        return ", ".join(told)

    def daily_litres(self, at_hours: Floats) -> tuple[Floats, Floats]:
        """Litres measured and modelled by day [L], nan where less than 20 h of the day were read.

        at_hours: litres that the model gave in each hour of the log's days, shape (24 x days,).
        """
        known = np.isfinite(self.values["litres"]) & np.isfinite(self.since)
        edges = np.arange(at_hours.size + 1) * 3600.0
        total = np.concatenate([[0.0], np.cumsum(at_hours)])
        modelled = np.interp(self.at, edges, total) - np.interp(self.since, edges, total)
        day, seconds = self.day, np.where(known, self.at - self.since, 0.0)

        def summed(values: Floats) -> Floats:
            return np.bincount(day, np.where(known, values, 0.0), self.days).astype(np.float64)

        whole = summed(seconds) >= WHOLE_DAY
        return (
            np.where(whole, summed(self.litres), np.nan),
            np.where(whole, summed(modelled), np.nan),
        )

    def sunny_mean(self, name: str, at_hours: Floats | None = None) -> Floats:
        """Mean of a temperature between 10 and 16 h of each day [K], nan with fewer than three readings.

        at_hours: the model's value at the end of each hour, shape (24 x days,), read at the log's own
        instants; the log's own values where none is given.
        """
        values = self.values[name]
        hour = (self.at % 86400.0) / 3600.0
        use = np.isfinite(values) & (hour >= SUN_HOURS[0]) & (hour <= SUN_HOURS[1])
        if at_hours is not None:
            values = np.interp(self.at, (np.arange(at_hours.size) + 1.0) * 3600.0, at_hours)
        day = np.clip(self.at // 86400.0, 0, self.days - 1).astype(np.int64)[use]
        count = np.bincount(day, minlength=self.days)
        total = np.bincount(day, values[use], self.days)
        return np.where(count >= LEAST_READINGS, total / np.maximum(count, 1), np.nan)


def read_device_log(
    path: str | Path, utc_offset: float = 0.0, columns: DeviceColumns | None = None
) -> DeviceLog:
    """Read a log of a built device from CSV; a FileError holds every problem.

    path: of the file; utc_offset: of the site's standard time [h], for stamps that carry an offset of their
    own; columns: which column is what, where the log has other columns than those of this module.
    """
    file = Path(path)
    if columns is not None:
        return _described_log(open_weather(file), utc_offset, columns)
    lines = [
        (number, line)
        for number, line in enumerate(read_lines(file, "a readable CSV file")[0], start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise FileError(Problem(file.name, "an empty file", f"a header such as {EXAMPLE}, then readings"))
    try:
        titles, found = _columns(file.name, *lines[0])
    except FileError as error:
        raise _with_a_proposal(error, file, lines[0][1]) from None
    stamps, rows, numbers = [], [], []
    problems: list[Problem | str] = []
    for number, line in lines[1:]:
        if len(problems) > MOST_PROBLEMS:
            break
        try:
            cells = split_row(line)
        except RowError as error:
            problems.append(error.at(f"{file.name}: line {number}"))
            continue
        if len(cells) != len(titles):
            problems.append(Problem(f"{file.name}: line {number}", line.strip(), f"{len(titles)} values"))
            continue
        clock = f"{file.name}: line {number}, column 'time'"
        stamps.append(_stamp(clock, cells[found["time"][0]], utc_offset, problems))
        rows.append([
            _value(f"{file.name}: line {number}, column {titles[place]!r}", name, titles[place], unit,
                   cells[place], problems)
            for name, (place, unit) in found.items() if name != "time"
        ])  # fmt: skip
        numbers.append(number)
    if problems:
        raise FileError(problems)
    table = np.array(rows, dtype=np.float64).reshape(len(rows), len(found) - 1)
    names = [name for name in found if name != "time"]
    return _on_the_calendar(file.name, stamps, numbers, dict(zip(names, table.T, strict=True)))


def _with_a_proposal(error: FileError, file: Path, header: str) -> FileError:
    """Propose a description for a log without columns of the names that are known here."""
    try:
        titles = [title.split("[")[0].strip().lower() for title in split_row(header)]
    except RowError:
        return error
    block = "" if {"time", "litres"} <= set(titles) else device_block(open_weather(file))
    *first, last = error.problems
    if not block or not isinstance(last, Problem):
        return error
    advice = (
        f"{last.advice} A log with columns of its own is described: paste this into the case (or into a file "
        f"of its own, given with --columns) and look through it:\n\n{block}\n"
    )
    return FileError([*first, replace(last, advice=advice.strip(" "))])


def _described_log(text: WeatherText, utc_offset: float, columns: DeviceColumns) -> DeviceLog:
    """Read a log whose columns are described."""
    options = columns.written()
    table = described(text, options, "the log")
    lines = table.lines
    instants = instants_of(text, table.stamps, lines, options, utc_offset)
    if _dates_alone(columns, table.stamps):
        instants = instants + 86400.0  # a date alone is the end of that day
    problems: list[Problem | str] = []
    values: dict[str, Floats] = {}
    for name, written in table.numbers.items():
        title, unit = table.named[name]
        read = without_codes(written, columns.missing)
        factor, offset = column_unit(name, title, unit, 3600.0, COLUMNS[name][0])
        si = (read + offset) * factor
        _, low, high, words = COLUMNS[name]
        for bad in np.flatnonzero((si < low) | (si > high))[:5]:
            problems.append(Problem(text.at(lines[bad], title), f"{read[bad]:.10g} {unit}", words))
        values[name] = si
    if problems:
        raise FileError(problems)
    warnings: list[str] = []
    if columns.running_total:
        values["litres"] = _since_the_row_before(values["litres"], warnings)
    epoch = datetime.datetime(1970, 1, 1)
    moments: list[datetime.datetime | None] = [
        epoch + datetime.timedelta(seconds=float(one)) for one in instants
    ]
    log = _on_the_calendar(text.path.name, moments, [line + 1 for line in lines], values)
    return replace(log, warnings=(*warnings, *log.warnings))


def _dates_alone(columns: DeviceColumns, stamps: list[str]) -> bool:
    if columns.date is not None:
        return False
    if columns.time_format is not None:
        return not re.search(r"%[HIcXT]", columns.time_format)
    return all(len(stamp) <= len("2024-01-31") for stamp in stamps)


def _since_the_row_before(total: Floats, warnings: list[str]) -> Floats:
    """Turn a meter's running total [m3] into what came since the row before; a fall is a reset."""
    since = np.concatenate([[np.nan], np.diff(total)])
    resets = since < 0.0
    if resets.any():
        warnings.append(
            f"The running total fell {int(resets.sum())} times: the meter was set back, and the litres of "
            "those rows do not count."
        )
    return np.where(resets, np.nan, since)


def on_the_logs_weather(climate: xr.Dataset, log: DeviceLog) -> tuple[xr.Dataset, tuple[str, ...]]:
    """Lay what the log knows of the weather over a weather year.

    Hours with a reading take the mean of theirs: air temperature, vapour pressure (from the relative humidity
    and the air temperature of the hour), and global sun, split into direct and diffuse by Erbs1982. The sky's
    longwave keeps its effective emissivity: it goes with the fourth power of the air temperature. All else
    stays as filed. Returns the year and the names of what was replaced.
    """
    hours = climate.sizes["time"]
    place = (24 * log.first_day + np.arange(24 * log.days)) % hours
    means = {name: _hourly(log, name) for name in OF_THE_WEATHER if name in log.values}
    known = {name: np.isfinite(mean) for name, mean in means.items() if np.isfinite(mean).any()}
    if not known:
        return climate, ()
    values = {str(name): climate[name].values.copy() for name in climate.data_vars}
    filed = values["temperature"].copy()
    if "air_temperature" in known:
        use = known["air_temperature"]
        values["temperature"][place[use]] = means["air_temperature"][use]
        values["sky_longwave"] *= (values["temperature"] / filed) ** 4
    if "relative_humidity" in known:
        use = known["relative_humidity"]
        warm = values["temperature"][place[use]]
        values["vapour_pressure"][place[use]] = np.minimum(
            means["relative_humidity"][use], 1.0
        ) * saturation_pressure(warm)
    values["vapour_pressure"] = np.minimum(
        values["vapour_pressure"], saturation_pressure(values["temperature"])
    )
    if "sun" in known:
        _lay_sun(climate, values, place[known["sun"]], np.maximum(means["sun"][known["sun"]], 0.0))
    data = {name: (climate[name].dims, column, climate[name].attrs) for name, column in values.items()}
    return climate.assign(data), tuple(known)


def _lay_sun(climate: xr.Dataset, values: dict[str, Floats], place: NDArray[np.int64], sun: Floats) -> None:
    path = climate_sun_path(climate, per_hour=1)
    up = np.where(path.lit_fraction > 0.0, path.up, 0.0) * path.lit_fraction
    up, beyond = up[place], path.extraterrestrial[place]
    diffuse = sun * erbs_diffuse_share(sun, beyond * up)
    direct = np.minimum((sun - diffuse) / np.maximum(up, LOWEST_SUN), beyond)
    lit = up > 0.0
    values["ghi"][place] = np.where(lit, sun, 0.0)
    values["dhi"][place] = np.where(lit, diffuse, 0.0)
    values["dni"][place] = np.where(lit, direct, 0.0)


def _hourly(log: DeviceLog, name: str) -> Floats:
    """Mean of the readings within each hour; a reading at the full hour ends the hour before."""
    values = log.values[name]
    use = np.isfinite(values)
    hour = np.clip(np.ceil(log.at[use] / 3600.0) - 1, 0, 24 * log.days - 1).astype(np.int64)
    count = np.bincount(hour, minlength=24 * log.days)
    total = np.bincount(hour, values[use], 24 * log.days)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _columns(file: str, number: int, header: str) -> tuple[list[str], dict[str, tuple[int, Scale | None]]]:
    """Return all titles, and place and unit of each known column; other columns are skipped."""
    try:
        titles = [title.strip() for title in split_row(header)]
    except RowError as error:
        raise FileError(error.at(f"{file}: line {number}")) from None
    found: dict[str, tuple[int, Scale | None]] = {}
    problems: list[Problem | str] = []
    for place, title in enumerate(titles):
        name, unit = title_and_unit(title)
        where = f"{file}: line {number}, column {title!r}"
        if name in found:
            problems.append(Problem(where, "a second column of that name", "each once"))
        elif name == "time":
            found[name] = (place, None)
        elif name in COLUMNS:
            kind = COLUMNS[name][0]
            try:
                known = scale(unit) if unit else None
            except ValueError:
                known = None
            if known is None or known.dimensions != scale(kind).dimensions:
                example = {"K": "degC", "m3": "L"}.get(kind, kind)
                problems.append(
                    Problem(where, repr(unit) if unit else "no unit", f"a unit as in '{name} [{example}]'")
                )
            else:
                found[name] = (place, known)
        elif advice := nearest_name(name, ["time", *COLUMNS]):
            problems.append(Problem(where, "an unknown column", ", ".join(["time", *COLUMNS]), advice))
    for need in ("time", "litres"):
        if need not in found and not problems:
            problems.append(
                Problem(f"{file}: line {number}", header.strip(), f"a column {need}, as in {EXAMPLE}")
            )
    if problems:
        raise FileError(problems)
    return titles, found


def _stamp(
    where: str, cell: str, utc_offset: float, problems: list[Problem | str]
) -> datetime.datetime | None:
    text = cell.strip()
    try:
        stamp = on_clock(datetime.datetime.fromisoformat(text), utc_offset)
        if not EARLIEST <= stamp.year <= LATEST:
            raise ValueError(f"the year {stamp.year}")
    except ValueError:
        expected = f"a time as 2024-01-31T23:00 (ISO 8601), from {EARLIEST} to {LATEST}"
        problems.append(Problem(where, repr(text), expected))
        return None
    return stamp + datetime.timedelta(days=1) if len(text) <= len("2024-01-31") else stamp


def _value(
    where: str, name: str, title: str, unit: Scale | None, cell: str, problems: list[Problem | str]
) -> float:
    _, low, high, words = COLUMNS[name]
    text = cell.strip()
    if not text:
        return math.nan
    try:
        number = float(text)
    except ValueError:
        problems.append(Problem(where, repr(text), f"a number or nothing: {words}"))
        return math.nan
    assert unit is not None
    value = number * unit.factor + unit.offset
    if not (math.isfinite(value) and low <= value <= high):
        problems.append(Problem(where, text, words))
        return math.nan
    return value


def _on_the_calendar(
    file: str, stamps: list[datetime.datetime | None], lines: list[int], values: dict[str, Floats]
) -> DeviceLog:
    times = [stamp for stamp in stamps if stamp is not None]
    problems: list[Problem | str] = []
    problems += [
        Problem(f"{file}: line {lines[i + 1]}, column 'time'", f"{b:%Y-%m-%d %H:%M}",
                f"a time after {a:%Y-%m-%d %H:%M}",
                "Rows stand in order of time, in standard time without summer time.")
        for i, (a, b) in enumerate(pairwise(times)) if b <= a
    ][:5]  # fmt: skip
    if problems or len(times) < LEAST_DAYS:
        raise FileError(
            problems or Problem(file, f"{len(times)} readings", f"at least {LEAST_DAYS} days of readings")
        )
    seconds = np.array([(stamp - times[0]).total_seconds() for stamp in times])
    step = float(np.median(np.diff(seconds)))
    since = np.concatenate([[-step], seconds[:-1]])
    gaps = seconds - since > LONGEST_STEP
    begin = times[0] - datetime.timedelta(seconds=min(step, LONGEST_STEP))
    began = begin.date()
    leap = np.array(
        [(stamp - datetime.timedelta(seconds=1)).date().timetuple()[1:3] == (2, 29) for stamp in times]
    )
    skipped = np.array([_leap_days(began, stamp) for stamp in times])
    offset = (times[0] - datetime.datetime.combine(began, datetime.time())).total_seconds()
    at = offset + seconds - 86400.0 * skipped
    since = offset + since - 86400.0 * np.concatenate([skipped[:1], skipped[:-1]])
    since[gaps | (since < 0.0) | (since >= at)] = np.nan
    keep = ~leap
    days = math.ceil(float(at[keep][-1]) / 86400.0) if keep.any() else 0
    if not LEAST_DAYS <= days <= MOST_DAYS:
        raise FileError(Problem(file, f"{days} days", f"{LEAST_DAYS} to {MOST_DAYS} days",
                                "Cut a longer log; each year is judged by itself."))  # fmt: skip
    warnings = []
    if gaps.any():
        warnings.append(
            f"{int(gaps.sum())} readings came more than 36 h after the one before; their litres do not count."
        )
    if leap.any():
        warnings.append("29 February was left out: the model's year has none.")
    # the readings of a 29 February are dropped: what is left of a log that begins there begins on 1 March
    first = datetime.date(began.year, 3, 1) if (began.month, began.day) == (2, 29) else began
    nominal = datetime.date(2021, first.month, first.day)
    return DeviceLog(
        file, first, (nominal - datetime.date(2021, 1, 1)).days, days, at[keep], since[keep],
        {name: column[keep] for name, column in values.items()}, tuple(warnings),
    )  # fmt: skip


def _leap_days(first: datetime.date, stamp: datetime.datetime) -> int:
    """How many 29 February lie wholly between a day's beginning and an instant."""
    return sum(
        first <= datetime.date(year, 2, 29) and datetime.datetime(year, 3, 1) <= stamp
        for year in range(first.year, stamp.year + 1)
        if year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    )


def later(first: datetime.date, days: int) -> datetime.date:
    """The date so many days later on a calendar without 29 February."""
    day = first
    for _ in range(days):
        day += datetime.timedelta(days=1)
        if (day.month, day.day) == (2, 29):
            day += datetime.timedelta(days=1)
    return day
