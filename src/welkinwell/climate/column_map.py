"""Which column of a plain table is what, as a case or a file beside it says in TOML.

    [site.columns]               # a table of weather
    latitude = "31.5 deg"
    longitude = "35 deg"
    elevation = "200 m"
    utc_offset = "2 h"
    time = "when"
    stamp = "end"
    temperature = "T [degC]"     # the column's name, then its unit in square brackets
    relative_humidity = "RH [%]"
    ghi = "sun [W/m2]"
    wind_speed = "wind [m/s]"

`[site.correction]` describes a log of one's own that corrects the weather file, `[device_log]` the log of a
built device.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, TypeVar

from welkinwell.climate.stamps import clock_problem
from welkinwell.climate.table import MOST_SKIPPED, VARIABLES, column_unit, split_name
from welkinwell.declare import (
    choice,
    count,
    declared_fields,
    flag,
    quantity,
    read_fields,
    read_value,
    texts,
    words,
)
from welkinwell.errors import FileError, InputError, Problem, nearest_file, nearest_name
from welkinwell.text_file import names_in, read_toml, why_no_file

FORM: Final = 'the column\'s name, then its unit in square brackets, as in "T [degC]"'
HUMIDITIES: Final = ("dew_point", "relative_humidity", "vapour_pressure")
LOG_VARIABLES: Final = ("temperature", *HUMIDITIES)
DEVICE_VARIABLES: Final = {
    "litres": "m3",
    "bed_temperature": "K",
    "condenser_temperature": "K",
    "glazing_temperature": "K",
    "air_temperature": "K",
    "relative_humidity": "1",
    "sun": "W/m2",
}
DELIMITERS: Final = {",": ",", ";": ";", "tab": "\t", "|": "|"}  # as written: the character
T = TypeVar("T", bound="TableForm")


@dataclass(frozen=True)
class TableForm:
    """How a plain table is written: stamps, clock, numbers and what parts them."""

    time: str = words("Column of the stamps; of the time of day alone where `date` names another")
    date: str | None = words("Column of the date, where it stands apart from the time of day", default=None)
    time_format: str | None = words(
        'How stamps are written, in strftime codes, as in "%d/%m/%Y %H:%M"; ISO 8601 (2024-01-31T23:00) if '
        "not given",
        default=None,
    )
    clock: str = words(
        'Clock of the stamps: "local" (standard time), "UTC", hours ahead of it as in "UTC+02:00", or a time '
        'zone whose summer time they follow, as in "Europe/Madrid"',
        default="local",
    )
    delimiter: str | None = choice(tuple(DELIMITERS), "What parts the columns; found if not given", None)
    decimal: str = choice(("point", "comma"), "What parts whole numbers from decimals", "point")
    skip_lines: int = count(
        "Lines between the heading and the first row, such as one of units", 0, 0, MOST_SKIPPED
    )
    missing: tuple[str, ...] = texts('Codes that mean no value, as in ["-9999", "NaN"]')

    def named(self) -> dict[str, str]:
        """Give what each variable's column is called, with its unit, and the columns of the stamps."""
        variables = (*("time", "date"), *VARIABLES, *DEVICE_VARIABLES)
        given = {name: getattr(self, name, None) for name in variables}
        return {name: column for name, column in given.items() if column is not None}

    def written(self) -> dict[str, Any]:
        """Give the options of the table reader that every table has; not those of its place."""
        options: dict[str, Any] = {
            "columns": self.named(),
            "clock": self.clock,
            "decimal": self.decimal,
            "skip_lines": self.skip_lines,
            "missing": self.missing,
        }
        if self.delimiter is not None:
            options["delimiter"] = DELIMITERS[self.delimiter]
        if self.time_format is not None:
            options["time_format"] = self.time_format
        return options

    def form_problems(self, units: Mapping[str, str | None]) -> list[Problem]:
        """Say what is wrong with the clock and with columns that lack a unit of the right kind.

        units: unit of the kind that is wanted by variable; that of the weather year where None.
        """
        clock = clock_problem(self.clock, "clock")
        found = [] if clock is None else [clock]
        for variable, wanted in units.items():
            given = getattr(self, variable)
            if given is None:
                continue
            name, unit = split_name(given)
            if not name or not unit:
                found.append(Problem(variable, repr(given), FORM, _sentence(self, variable)))
                continue
            try:
                column_unit(variable, name, unit, 3600.0, wanted)
            except InputError as error:
                found += [replace(p, where=variable) for p in error.problems if isinstance(p, Problem)]
        return found


@dataclass(frozen=True)
class WeatherColumns(TableForm):
    """The [site.columns] table: a plain table of weather. Angles in radians, utc_offset in seconds."""

    latitude: float | None = quantity(
        "deg", "Latitude of the station, north positive; that of [site] if not given",
        default=None, low=-90, high=90,
    )  # fmt: skip
    longitude: float | None = quantity(
        "deg", "Longitude of the station, east positive; that of [site] if not given",
        default=None, low=-180, high=180,
    )  # fmt: skip
    elevation: float | None = quantity(
        "m", "Height of the station above the sea; that of [site] if not given",
        default=None, low=-450, high=5500,
    )  # fmt: skip
    utc_offset: float = quantity(
        "h", "Standard time of the place, ahead of UTC, without summer time", low=-12, high=14
    )
    stamp: str = choice(
        ("start", "middle", "end"),
        "Which moment of its interval a row's stamp is; middle also where the sun was read at the stamp",
    )
    air: str | None = choice(
        ("instant", "mean"),
        "Whether temperature, humidity and wind were read at the stamp or are means over the row's interval; "
        "if not given, instants in hourly rows and means in shorter ones",
        None,
    )
    year: int | None = count(
        "Which year, where the table holds several whole ones", default=None, low=1800, high=2200
    )
    wind_height: float | None = quantity(
        "m", "Height of the wind instrument above ground; 10 m is taken if not given",
        default=None, low=0.5, high=300,
    )  # fmt: skip
    measured: tuple[str, ...] = texts("Variables that an instrument at the place measured")
    modelled: tuple[str, ...] = texts("Variables that a weather model or a satellite gave")
    source: str | None = words("Where the table comes from, for the report", default=None)
    licence: str | None = words("Under what terms it may be used, for the report", default=None)
    temperature: str = words("Column of the air's temperature, with its unit")
    dew_point: str | None = words("Column of the dew point, with its unit", default=None)
    relative_humidity: str | None = words("Column of the relative humidity, with its unit", default=None)
    vapour_pressure: str | None = words("Column of the vapour pressure, with its unit", default=None)
    pressure: str | None = words("Column of the station's air pressure, with its unit", default=None)
    ghi: str | None = words("Column of the global sun on the horizontal, with its unit", default=None)
    dni: str | None = words("Column of the direct sun on a plane that faces it, with its unit", default=None)
    dhi: str | None = words("Column of the diffuse sun on the horizontal, with its unit", default=None)
    wind_speed: str = words("Column of the wind speed, with its unit")
    sky_longwave: str | None = words("Column of the sky's longwave radiation, with its unit", default=None)
    precipitation: str | None = words("Column of the rain, with its unit", default=None)
    albedo: str | None = words("Column of the share of sun that the ground reflects", default=None)
    cloud_cover: str | None = words("Column of the cloud cover, with its unit", default=None)

    def cross_checks(self) -> list[Problem]:
        """Rules between the columns."""
        found = self.form_problems(dict.fromkeys(VARIABLES))
        if not any(getattr(self, name) for name in HUMIDITIES):
            found.append(Problem("humidity", "no column", f"one of {', '.join(HUMIDITIES)}"))
        if self.ghi is None and (self.dni is None or self.dhi is None):
            found.append(Problem("sun", "no column", "ghi, or dni and dhi"))
        for how in ("measured", "modelled"):
            found += [
                Problem(how, repr(name), "a variable of this table", nearest_name(name, VARIABLES))
                for name in getattr(self, how)
                if name not in VARIABLES
            ]
        return found

    def options(self) -> dict[str, Any]:
        """Give the options of the table reader: degrees, metres and hours."""
        how = dict.fromkeys(self.measured, "measured") | dict.fromkeys(self.modelled, "modelled")
        given: dict[str, Any] = {
            "latitude": None if self.latitude is None else math.degrees(self.latitude),
            "longitude": None if self.longitude is None else math.degrees(self.longitude),
            **{name: getattr(self, name) for name in ("elevation", "air", "year", "wind_height")},
            **{name: getattr(self, name) for name in ("source", "licence")},
        }
        kept = {name: value for name, value in given.items() if value is not None}
        return {
            **self.written(),
            **kept,
            "utc_offset": self.utc_offset / 3600.0,
            "stamp": self.stamp,
            "how": how,
        }


@dataclass(frozen=True)
class LogCorrection(TableForm):
    """The [site.correction] table: a log of the site's own air, by which the weather file is corrected.

    utc_offset in seconds.
    """

    log: str = words("File of the log, relative to the case file")
    utc_offset: float | None = quantity(
        "h", "Standard time of the place, ahead of UTC; that of the weather file if not given",
        default=None, low=-12, high=14,
    )  # fmt: skip
    temperature: str = words("Column of the air's temperature, with its unit")
    dew_point: str | None = words("Column of the dew point, with its unit", default=None)
    relative_humidity: str | None = words("Column of the relative humidity, with its unit", default=None)
    vapour_pressure: str | None = words("Column of the vapour pressure, with its unit", default=None)

    def cross_checks(self) -> list[Problem]:
        """Rules between the columns."""
        found = self.form_problems(dict.fromkeys(LOG_VARIABLES))
        if not any(getattr(self, name) for name in HUMIDITIES):
            found.append(Problem("humidity", "no column", f"one of {', '.join(HUMIDITIES)}"))
        return found

    def options(self, utc_offset: float) -> dict[str, Any]:
        """Give the options of the log reader; utc_offset: of the weather file [h]."""
        own = self.utc_offset
        return {**self.written(), "utc_offset": utc_offset if own is None else own / 3600.0}


@dataclass(frozen=True)
class DeviceColumns(TableForm):
    """The [device_log] table: the log of a built device."""

    litres: str = words("Column of the water that all modules gave, with its unit")
    running_total: bool = flag("Whether that water is a meter's running total, not what came since", False)
    bed_temperature: str | None = words("Column of the bed's temperature, with its unit", default=None)
    condenser_temperature: str | None = words("Column of the condenser's, with its unit", default=None)
    glazing_temperature: str | None = words("Column of the cover's, with its unit", default=None)
    air_temperature: str | None = words("Column of the outdoor air's, with its unit", default=None)
    relative_humidity: str | None = words("Column of the relative humidity, with its unit", default=None)
    sun: str | None = words("Column of the global sun on the horizontal, with its unit", default=None)

    def cross_checks(self) -> list[Problem]:
        """Rules between the columns."""
        return self.form_problems(DEVICE_VARIABLES)


def _sentence(form: TableForm, variable: str) -> str:
    return f"{declared_fields(type(form))[variable].sentence}."


def read_form(cls: type[T], table: Any, where: str, problems: list[Problem]) -> T | None:
    """Read one such table; None, with what is wrong added to problems, where it cannot be used.

    where: file and table, for messages.
    """
    if not isinstance(table, Mapping):
        problems.append(Problem(where, repr(table), "a table that says which column is what"))
        return None
    given = dict(table)
    codes = given.get("missing")
    if isinstance(codes, list):  # a code may be written as the number that it is
        numbers = [isinstance(code, (int, float)) and not isinstance(code, bool) for code in codes]
        given["missing"] = [f"{c:g}" if n else c for c, n in zip(codes, numbers, strict=True)]
    instance, found = read_fields(cls, given, where)
    problems += found
    return None if found else instance


@dataclass(frozen=True)
class Description:
    """What a TOML file says of a weather file: its columns and its correction, either of which may lack.

    site: name of the place, empty where it is not named; folder: from which the log's path counts.
    """

    columns: WeatherColumns | None
    correction: LogCorrection | None
    site: str
    folder: Path


def read_description(path: str | Path) -> Description:
    """Read [site.columns] and [site.correction] of a case, or of a file that holds nothing else.

    path: of the TOML file. FileError or InputError, with every problem, where it says neither.
    """
    file = Path(path)
    site = _tables_of(file).get("site")
    site = site if isinstance(site, Mapping) else {}
    if "columns" not in site and "correction" not in site:
        expected = "[site.columns] or [site.correction], as docs/how_to/bring_your_own_weather.md has them"
        raise FileError(Problem(str(file), "a file with neither", expected))
    problems: list[Problem] = []
    columns, correction = site_forms(site, file, problems)
    if problems:
        raise InputError(problems)
    name = site.get("name")
    return Description(columns, correction, name if isinstance(name, str) else "", file.parent)


def site_forms(
    site: Mapping[str, Any], file: Path, problems: list[Problem]
) -> tuple[WeatherColumns | None, LogCorrection | None]:
    """Read [site.columns] and [site.correction] where they are given; adds what is wrong to problems.

    site: the [site] table as written; file: in which it stands.
    """
    columns = correction = None
    if "columns" in site:
        columns = read_form(WeatherColumns, site["columns"], f"{file.name}, [site.columns]", problems)
        if columns is not None:
            columns = placed_by_site(columns, site, file.name, problems)
    if "correction" in site:
        where = f"{file.name}, [site.correction]"
        correction = read_form(LogCorrection, site["correction"], where, problems)
        if correction is not None:
            check_log(correction, file.parent, where, problems)
    return columns, correction


def read_device_columns(path: str | Path) -> DeviceColumns:
    """Read [device_log] of a case, or of a file that holds nothing else."""
    file = Path(path)
    tables = _tables_of(file)
    if "device_log" not in tables:
        expected = "[device_log], as docs/how_to/check_a_built_device.md has it"
        raise FileError(Problem(str(file), "a file without it", expected))
    problems: list[Problem] = []
    found = read_form(DeviceColumns, tables["device_log"], f"{file.name}, [device_log]", problems)
    if found is None:
        raise InputError(problems)
    return found


def _tables_of(file: Path) -> dict[str, Any]:
    near = nearest_file(file.name, [name for name in names_in(file.parent) if name.endswith(".toml")])
    return read_toml(file, "a TOML file that says which column is what", near)


def placed_by_site(
    columns: WeatherColumns, site: Mapping[str, Any], file: str, problems: list[Problem]
) -> WeatherColumns:
    """Take the place of the station from [site] where its own table does not say it.

    site: the [site] table as written; file: its name, for messages.
    """
    fields = declared_fields(WeatherColumns)
    found: dict[str, Any] = {}
    for name in ("latitude", "longitude", "elevation"):
        if getattr(columns, name) is not None:
            continue
        if name in site:
            value, wrong = read_value(fields[name], site[name], f"{file}, [site], {name}")
            told = {problem.where for problem in problems}
            problems += [problem for problem in wrong if problem.where not in told]
            found[name] = value
        else:
            entry = fields[name]
            where = f"{file}, [site.columns], {name}"
            problems.append(Problem(where, "nothing", entry.range_text(), f"{entry.sentence}."))
    return replace(columns, **found)


def check_log(correction: LogCorrection, folder: Path, where: str, problems: list[Problem]) -> None:
    """Report a log that does not lie where its description says."""
    path = folder / correction.log
    reason = why_no_file(path)
    if not reason:
        return
    near = nearest_file(path.name, names_in(path.parent))
    which = "which is not there" if reason == "no such file" else reason
    expected = "a log of the site's air, its path relative to this file"
    problems.append(Problem(f"{where}, log", f"{correction.log!r}, {which}", expected, near))
