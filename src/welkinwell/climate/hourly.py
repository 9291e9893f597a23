"""The one shape of a weather year, whatever file it came from.

A Dataset on `time`: 8,760 hours of a nominal year that has no 29 February, each stamped by its start in
UTC. The first hour is the first that starts at or after local midnight of 1 January in the site's
standard time, so that every 24 hours are one local day. Radiation is the mean over the hour; temperature,
humidity, pressure and wind stand at `instant_offset` seconds after the hour's start. Hours start where
the file's samples put them: a satellite's snapshot at half past, or on the hour, is the mean of the hour
around it, so starts need not be whole hours in UTC.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from welkinwell import constants
from welkinwell.climate.weather_file import WeatherText
from welkinwell.errors import ClimateError, Problem
from welkinwell.quantities import variables

if TYPE_CHECKING:  # it takes longer to load than all else that a case needs
    import xarray as xr

NOMINAL_YEAR = 2019  # any year without a 29 February; the sun's place differs by 0.1 degree at most
HOURS = 8760
DAYS_BEFORE_MONTH = np.array([0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334])
DAYS_IN_MONTH = np.array(constants.DAYS_IN_MONTH)

REQUIRED = ("temperature", "vapour_pressure", "pressure", "ghi", "dni", "dhi", "wind_speed", "sky_longwave")
OPTIONAL = ("precipitation", "albedo", "cloud_cover")
HOW = ("measured", "modelled", "filled", "unknown")


@dataclass
class FileYear:
    """A weather year as its file gives it, before any repair: SI units, NaN where the file gives nothing.

    year, month, day, hour: of each row on the file's clock, hour 0 to 23 [1]; lines: line index of each
    row [1]; file_zone: the file's clock ahead of UTC [h]; utc_offset: the site's standard time ahead of
    UTC [h]; start_shift: start of the row's interval after that clock hour [s]; instant_offset: where in
    the interval the instantaneous variables stand [s]; values: variables of the climate contract, and
    dew_point [K], relative_humidity [1], cloud_cover [1]; how: measured, modelled, filled or unknown.
    """

    text: WeatherText
    kind: str
    site: str
    latitude: float
    longitude: float
    elevation: float
    file_zone: float
    utc_offset: float
    year: np.ndarray
    month: np.ndarray
    day: np.ndarray
    hour: np.ndarray
    lines: np.ndarray
    start_shift: float
    instant_offset: float
    values: dict[str, np.ndarray]
    how: dict[str, str]
    wind_height: float = 10.0
    source: str = "unknown"
    licence: str = "unknown"
    typical: bool | None = None
    clear_sky_ghi: np.ndarray | None = None
    warnings: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    repairs: dict[str, int] = field(default_factory=dict)

    def warn(self, name: str, words: str | Problem) -> None:
        """Add a named warning.

        name: one word; words: a sentence, or where, what was found, what was expected and what to do.
        """
        self.warnings.append(f"{name}: {words}")

    def note(self, name: str, words: str | Problem) -> None:
        """Add a named note: unusual, and often right.

        name: one word; words: as of a warning.
        """
        self.notes.append(f"{name}: {words}")

    def count(self, name: str, hours: int) -> None:
        """Add hours [1] to a named repair."""
        if hours:
            self.repairs[name] = self.repairs.get(name, 0) + int(hours)

    def at(self, hour: int, field: str = "") -> str:
        """Say where an hour of the year stands in the file.

        hour: index [1]; field: the column's name. Returns words.
        """
        line = int(self.lines[hour])
        return self.text.at(line, field) if line >= 0 else f"{self.text.path.name}, {field}"


def on_nominal_year(file_year: FileYear) -> tuple[FileYear, np.ndarray]:
    """Put a file's rows onto the nominal year: leap day dropped, order restored, local midnight first.

    Returns the year with 8,760 rows (NaN and line -1 where the file has no row) and the hours' starts in
    UTC [datetime64]. ClimateError when dates are impossible, hours come twice, or over 5 % have no row.
    """
    _refuse_bad_dates(file_year)
    keep = ~((file_year.month == 2) & (file_year.day == 29))
    slot = (DAYS_BEFORE_MONTH[file_year.month - 1] + file_year.day - 1) * 24 + file_year.hour
    slot, lines = slot[keep], file_year.lines[keep]
    _refuse_twice(file_year, slot, lines)
    missing = HOURS - slot.size
    if missing > 0.05 * HOURS:
        raise ClimateError(
            Problem(
                file_year.text.path.name,
                f"{slot.size} hours of a year",
                f"{HOURS}, of which at most 5 % may be missing",
                "The file may be cut short; take a fresh copy.",
            )
        )
    if (dropped := int(np.count_nonzero(~keep))) > 0:
        file_year.count("leap_day_hours_dropped", dropped)
        file_year.warn("leap_day", f"{dropped} hours of 29 February were dropped.")
    if missing:
        file_year.count("absent_hours", missing)
        file_year.warn("absent_hours", f"{missing} hours of the year have no row.")
    roll, start = _roll_to_local_midnight(file_year)
    return _rolled(file_year, keep, (slot - roll) % HOURS), start


def _rolled(file_year: FileYear, keep: np.ndarray, place: np.ndarray) -> FileYear:
    def put(column: np.ndarray, empty: float) -> np.ndarray:
        out = np.full(HOURS, empty, dtype=column.dtype if empty == -1 else float)
        out[place] = column[keep]
        return out

    changed = {name: put(column, np.nan) for name, column in file_year.values.items()}
    clear = None if file_year.clear_sky_ghi is None else put(file_year.clear_sky_ghi, np.nan)
    integers = {n: put(getattr(file_year, n), -1) for n in ("year", "month", "day", "hour", "lines")}
    plain = {k: v for k, v in vars(file_year).items() if k not in integers}
    return FileYear(**(plain | integers | {"values": changed, "clear_sky_ghi": clear}))


def _roll_to_local_midnight(file_year: FileYear) -> tuple[int, np.ndarray]:
    """Find the first row whose hour starts at or after local midnight, and all starts in UTC."""
    ahead = (file_year.utc_offset - file_year.file_zone) * 3600.0  # local clock minus the file's
    first_local = file_year.start_shift + ahead  # local start of the file's slot 0, after midnight
    roll = int(np.ceil(-first_local / 3600.0 - 1e-9))
    local_start = first_local + roll * 3600.0
    base = np.datetime64(f"{NOMINAL_YEAR}-01-01T00:00:00", "ns")
    offset = round((local_start - file_year.utc_offset * 3600.0) * 1e9)
    starts = base + np.timedelta64(offset, "ns") + np.arange(HOURS) * np.timedelta64(3600, "s")
    return roll % HOURS, starts.astype("datetime64[ns]")


def _refuse_bad_dates(file_year: FileYear) -> None:
    month = file_year.month
    last = np.where(month == 2, 29, DAYS_IN_MONTH[np.clip(month, 1, 12) - 1])
    checks = (
        ("month", month, 1, 12),
        ("day", file_year.day, 1, last),
        ("hour", file_year.hour, 0, 23),
        ("year", file_year.year, 1800, 2200),
    )
    for name, column, low, high in checks:
        bad = np.flatnonzero((column < low) | (column > high))
        if bad.size:
            first = int(bad[0])
            top = int(np.broadcast_to(high, column.shape)[first])
            shift = 1 if name == "hour" and file_year.kind in ("EPW", "TMY2", "TMY3") else 0
            where = file_year.text.at(int(file_year.lines[first]), name)
            expected = f"a whole number from {low + shift} to {top + shift}"
            raise ClimateError(Problem(where, str(int(column[first]) + shift), expected))


def _refuse_twice(file_year: FileYear, slot: np.ndarray, lines: np.ndarray) -> None:
    order = np.argsort(slot, kind="stable")
    twice = np.flatnonzero(np.diff(slot[order]) == 0)
    if twice.size:
        first, second = sorted(int(lines[order[twice[0] + k]]) for k in (0, 1))
        raise ClimateError(
            Problem(
                file_year.text.at(second),
                f"the hour of line {first + 1} again ({twice.size} such rows)",
                "every hour of one year once",
                "Keep one year; use standard time or UTC, not summer time.",
            )
        )
    if slot.size > 1 and np.count_nonzero(np.diff(slot) < 0) > 1:
        file_year.warn("row_order", "the rows were not in order of time and were sorted.")


def weather_year(
    time: np.ndarray,
    values: dict[str, np.ndarray],
    source_year: np.ndarray,
    how: dict[str, str],
    **attrs: Any,
) -> xr.Dataset:
    """Build the climate Dataset and check that it keeps the contract.

    time: hours' starts in UTC [datetime64]; values: SI arrays by name; source_year: of each hour [1];
    how: measured, modelled, filled or unknown for each name; attrs: site, latitude [deg], longitude
    [deg], elevation [m], utc_offset [h], wind_height [m], source, licence, content_hash,
    instant_offset [s], warnings (list), notes (list, may be left out), repairs (mapping), longwave_model.
    Returns the Dataset.
    """
    import xarray as xr

    table = variables()
    names = [n for n in REQUIRED + OPTIONAL if n in values]
    data = {
        name: (
            "time",
            np.asarray(values[name], dtype=np.float64),
            {"units": table[name].unit, "long_name": table[name].long_name, "how": how.get(name, "unknown")},
        )
        for name in names
    }
    attrs["warnings"] = json.dumps(list(attrs["warnings"]))
    attrs["notes"] = json.dumps(list(attrs.get("notes", ())))
    attrs["repairs"] = json.dumps(dict(attrs["repairs"]), sort_keys=True)
    climate = xr.Dataset(
        data, coords={"time": time, "source_year": ("time", source_year.astype(np.int64))}, attrs=attrs
    )
    check_climate(climate)
    return climate


ATTRIBUTES = (
    *("site", "latitude", "longitude", "elevation", "utc_offset", "wind_height", "source", "licence"),
    *("content_hash", "instant_offset", "warnings", "repairs", "longwave_model"),
)


def check_climate(climate: xr.Dataset) -> None:
    """Check that a Dataset keeps the climate contract; ClimateError lists everything that is wrong.

    climate: a Dataset made here or by hand.
    """
    problems = [
        Problem(f"climate, {name}", "nothing", "a variable on time")
        for name in REQUIRED
        if name not in climate
    ]
    problems += [
        Problem(f"climate, attribute {name}", "nothing", "a value")
        for name in ATTRIBUTES
        if name not in climate.attrs
    ]
    problems += _time_problems(climate)
    for name in (n for n in REQUIRED + OPTIONAL if n in climate):
        problems += _value_problems(climate[name])
    if problems:
        raise ClimateError(problems)


def _time_problems(climate: xr.Dataset) -> list[Problem]:
    if "time" not in climate.coords:
        return [Problem("climate", "no time", f"{HOURS} hours on time")]
    steps = np.diff(climate["time"].values)
    if climate.sizes["time"] != HOURS or not (steps == np.timedelta64(3600, "s")).all():
        given = f"{climate.sizes['time']} rows"
        return [Problem("climate, time", given, f"{HOURS} starts of hours, 1 h apart, rising")]
    return []


def _value_problems(variable: xr.DataArray) -> list[Problem]:
    name, row = str(variable.name), variables()[str(variable.name)]
    allowed = f"{row.low:g} to {row.high:g} {row.unit}"
    numbers = variable.values
    if variable.attrs.get("how") not in HOW:
        return [Problem(f"climate, {name}, how", repr(variable.attrs.get("how")), " or ".join(HOW))]
    bad = np.flatnonzero(~((numbers >= row.low) & (numbers <= row.high)))
    if bad.size:
        given = f"{numbers[bad[0]]:g} in hour {bad[0]} and {bad.size - 1} more"
        return [Problem(f"climate, {name}", given, allowed)]
    return []


def site_entry(climate: xr.Dataset) -> dict[str, Any]:
    """Give what a weather year knows of its place, JSON-ready: name, position [deg, m] and clock [h]."""
    names = ("latitude", "longitude", "elevation", "utc_offset")
    return {"name": climate.attrs["site"], **{name: float(climate.attrs[name]) for name in names}}


def weather_entry(climate: xr.Dataset) -> dict[str, Any]:
    """Give where a weather year comes from and what was mended in it, JSON-ready.

    Where a log of the site corrected it, `log_correction` holds the rule and what it did.
    """
    corrected = climate.attrs.get("log_correction")
    return {
        **({} if corrected is None else {"log_correction": json.loads(corrected)}),
        "source": climate.attrs["source"],
        "licence": climate.attrs["licence"],
        "hours": int(climate.sizes["time"]),
        "repairs": json.loads(climate.attrs["repairs"]),
        "warnings": json.loads(climate.attrs["warnings"]),
        "notes": json.loads(climate.attrs.get("notes", "[]")),
        "hash": climate.attrs["content_hash"],
    }
