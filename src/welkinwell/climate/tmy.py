"""TMY3 and TMY2 files: local standard time, a row's hour ends at its stamp, the rest stands at the stamp."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

import numpy as np

from welkinwell.climate.columns import Column, read_column
from welkinwell.climate.epw import how_of_most, spread_rain
from welkinwell.climate.hourly import FileYear
from welkinwell.climate.weather_file import (
    Cells,
    Take,
    WeatherText,
    as_written,
    delimited_columns,
    header_cells,
    header_number,
    numbers,
    whole_numbers,
)
from welkinwell.errors import ClimateError, FileError, Problem

GONE = (-9900.0, -99.0, 9999.0, 99999.0)
TMY3_COLUMNS = {
    "GHI (W/m^2)": Column("ghi", "GHI", "W/m2", -20, 1500, GONE),
    "DNI (W/m^2)": Column("dni", "DNI", "W/m2", -20, 1300, GONE),
    "DHI (W/m^2)": Column("dhi", "DHI", "W/m2", -20, 1000, GONE),
    "Dry-bulb (C)": Column("temperature", "Dry-bulb", "C", -70, 60, (-9900.0,), offset=273.15),
    "Dew-point (C)": Column("dew_point", "Dew-point", "C", -100, 41, (-9900.0,), offset=273.15),
    "RHum (%)": Column("relative_humidity", "RHum", "%", -5, 200, GONE, factor=0.01),
    "Pressure (mbar)": Column("pressure", "Pressure", "mbar", 450, 1100, GONE, factor=100.0),
    "Wspd (m/s)": Column("wind_speed", "Wspd", "m/s", 0, 70, GONE),
    "OpqCld (tenths)": Column("cloud_cover", "OpqCld", "tenths", 0, 10, (99.0, *GONE), factor=0.1),
    "Alb (unitless)": Column("albedo", "Alb", "1", 0, 1, GONE),
    "Lprecip depth (mm)": Column("precipitation", "Lprecip depth", "mm", 0, 1500, GONE, factor=1 / 3600.0),
    "Lprecip quantity (hr)": Column("precipitation_hours", "Lprecip quantity", "h", 0, 99, GONE),
}
TMY3_NEEDED = ("GHI (W/m^2)", "DNI (W/m^2)", "DHI (W/m^2)", "Dry-bulb (C)", "Dew-point (C)", "Wspd (m/s)")
# First and one past the last character, the flag's character, and what stands there. Marion1995.
TMY2_FIELDS = (
    (17, 21, 21, Column("ghi", "global horizontal radiation", "Wh/m2", -20, 1500, (9999,))),
    (23, 27, 27, Column("dni", "direct normal radiation", "Wh/m2", -20, 1300, (9999,))),
    (29, 33, 33, Column("dhi", "diffuse horizontal radiation", "Wh/m2", -20, 1000, (9999,))),
    (63, 65, 65, Column("cloud_cover", "opaque sky cover", "tenths", 0, 10, (99,), factor=0.1)),
    (67, 71, 71, Column("temperature", "dry bulb", "0.1 C", -700, 600, (9999,), factor=0.1, offset=2731.5)),
    (73, 77, 77, Column("dew_point", "dew point", "0.1 C", -1000, 410, (9999,), factor=0.1, offset=2731.5)),
    (79, 82, 82, Column("relative_humidity", "relative humidity", "%", -5, 200, (999,), factor=0.01)),
    (84, 88, 88, Column("pressure", "atmospheric pressure", "mbar", 450, 1100, (9999,), factor=100.0)),
    (95, 98, 98, Column("wind_speed", "wind speed", "0.1 m/s", 0, 700, (999,), factor=0.1)),
)
TMY2_LENGTH = 140
SUN = ("ghi", "dni", "dhi")


def is_tmy3(text: WeatherText) -> bool:
    """Tell whether a text is a TMY3 file by its second line.

    text: the file.
    """
    return len(text.lines) > 1 and text.lines[1].startswith("Date (MM/DD/YYYY),Time (HH:MM)")


def is_tmy2(text: WeatherText) -> bool:
    """Tell whether a text is a TMY2 file by the station line and the length of its rows.

    text: the file.
    """
    first = text.lines[0]
    return (
        len(first) >= 55
        and first[1:6].isdigit()
        and first[37:38] in "NS"
        and len(text.lines) > 1
        and len(text.lines[1]) >= TMY2_LENGTH
        and text.lines[1][1:17].strip().isdigit()
    )


def read_tmy3(text: WeatherText) -> FileYear:
    """Read a TMY3 file as it stands, before the audit.

    text: the file.
    Returns the year in SI; FileError or ClimateError names line, field, value and range.
    """
    head = header_cells(text, 0)
    if len(head) < 7:
        raise FileError(Problem(text.at(0), f"{len(head)} fields", "the 7 fields of a TMY3 station line"))
    names = header_cells(text, 1)
    absent = [n for n in TMY3_NEEDED if n not in names]
    if absent:
        raise FileError(Problem(text.at(1), "no column " + ", ".join(absent), "the columns of a TMY3 file"))
    width = max(names.index(n) for n in TMY3_COLUMNS if n in names) + 1
    known = {n: c for n, c in TMY3_COLUMNS.items() if n in names}
    wanted: dict[str, tuple[int, Take]] = {
        c.name: (names.index(n), partial(read_column, text, column=c)) for n, c in known.items()
    }
    wanted |= {n: (names.index(n), as_written) for n in _flag_names(known) if n in names}
    wanted |= {"date": (0, as_written), "time": (1, as_written)}
    lines, columns = delimited_columns(text, 2, width, "a TMY3 file", wanted)
    values = {c.name: columns[c.name] for c in known.values()}
    how = {
        c.name: _tmy3_how(c, columns.get(flag, ()))
        for c, flag in zip(TMY3_COLUMNS.values(), _flag_names(TMY3_COLUMNS), strict=True)
    }
    rain_hours = values.pop("precipitation_hours", None)
    if rain_hours is not None and "precipitation" in values:
        values["precipitation"] = spread_rain(values["precipitation"], rain_hours)
    month, day, year = _date(text, columns["date"], lines)
    return FileYear(
        text=text,
        kind="TMY3",
        lines=np.array(lines),
        year=year,
        month=month,
        day=day,
        hour=_hour(text, columns["time"], lines),
        values=values,
        how=how,
        elevation=header_number(text, head[6], 0, "elevation", -450, 5500),
        **_station(text, head[3], head[4], head[5], f"{head[1].title()}, {head[2]}", "TMY3"),
    )


def _flag_names(columns: Mapping[str, Column]) -> list[str]:
    """Name the column that says where each value comes from."""
    return [f"{column.label} source" for column in columns.values()]


def read_tmy2(text: WeatherText) -> FileYear:
    """Read a TMY2 file as it stands, before the audit.

    text: the file.
    Returns the year in SI; FileError or ClimateError names line, field, value and range.
    """
    lines = [i for i in range(1, len(text.lines)) if text.lines[i].strip()]
    for line in lines:
        if len(text.lines[line]) < TMY2_LENGTH:
            given = f"{len(text.lines[line])} characters"
            raise ClimateError(
                Problem(
                    text.at(line),
                    given,
                    f"at least {TMY2_LENGTH}, as a row of a TMY2 file has",
                    "Is it whole?",
                )
            )

    def cells(first: int, last: int) -> list[str]:
        return [text.lines[line][first:last] for line in lines]

    values, how = {}, {}
    for first, last, flag, column in TMY2_FIELDS:
        values[column.name] = read_column(text, cells(first, last), lines, column)
        how[column.name] = how_of_most(cells(flag, flag + 1), column.name in SUN)
    two_digits = whole_numbers(text, cells(1, 3), lines, "year")
    head = text.lines[0]
    return FileYear(
        text=text,
        kind="TMY2",
        lines=np.array(lines),
        year=np.where(two_digits < 100, 1900 + two_digits, two_digits),
        month=whole_numbers(text, cells(3, 5), lines, "month"),
        day=whole_numbers(text, cells(5, 7), lines, "day"),
        hour=whole_numbers(text, cells(7, 9), lines, "hour") - 1,
        values=values,
        how=how,
        elevation=header_number(text, head[54:60].strip(), 0, "elevation", -450, 5500),
        **_station(
            text,
            head[32:36].strip(),
            _degrees(text, head[37:44], "latitude", "NS"),
            _degrees(text, head[45:53], "longitude", "EW"),
            f"{head[7:29].strip().title()}, {head[30:32].strip()}",
            "TMY2",
        ),
    )


def _station(
    text: WeatherText, zone: str, latitude: str, longitude: str, site: str, kind: str
) -> dict[str, Any]:
    clock = header_number(text, zone, 0, "time zone", -12, 14)
    return {
        "site": site,
        "latitude": header_number(text, latitude, 0, "latitude", -90, 90),
        "longitude": header_number(text, longitude, 0, "longitude", -180, 180),
        "file_zone": clock,
        "utc_offset": clock,
        "start_shift": 0.0,
        "instant_offset": 3600.0,
        "source": f"{kind} file ({'Wilcox2008' if kind == 'TMY3' else 'Marion1995'})",
        "licence": "not stated in the file",
        "typical": True,
    }


def _degrees(text: WeatherText, cell: str, field: str, signs: str) -> str:
    """Turn `N 25 48` into degrees, as text for the header's own check."""
    parts = cell.split()
    if len(parts) != 3 or parts[0] not in signs:
        raise FileError(Problem(text.at(0, field), repr(cell), f"as `{signs[0]} 25 48`"))
    degrees = header_number(text, parts[1], 0, field, 0, 180)
    minutes = header_number(text, parts[2], 0, field, 0, 60)
    return str((degrees + minutes / 60.0) * (-1.0 if parts[0] in "SW" else 1.0))


def _date(text: WeatherText, cells: Cells, lines: list[int]) -> list[np.ndarray]:
    split = [cell.split("/") for cell in cells]
    for line, cell, parts in zip(lines, cells, split, strict=True):
        if len(parts) != 3:
            raise ClimateError(Problem(text.at(line, "date"), repr(cell), "MM/DD/YYYY"))
    return [
        whole_numbers(text, [parts[k] for parts in split], lines, field)
        for k, field in enumerate(("month", "day", "year"))
    ]


def _hour(text: WeatherText, cells: Cells, lines: list[int]) -> np.ndarray:
    """Give the hour's start from its end, 01:00 to 24:00."""
    minutes = numbers(text, [cell.partition(":")[2] for cell in cells], lines, "minute")
    odd = np.flatnonzero(minutes != 0.0)
    if odd.size:
        raise ClimateError(
            Problem(text.at(lines[odd[0]], "time"), repr(cells[odd[0]]), "01:00 to 24:00, whole hours")
        )
    return whole_numbers(text, [cell.partition(":")[0] for cell in cells], lines, "hour") - 1


def _tmy3_how(column: Column, flags: Cells) -> str:
    # The sun of TMY3 is modelled in over 99 % of station hours; its source digits tell which model
    # (from memory).
    if column.name in SUN:
        return "modelled"
    return how_of_most(list(flags), False)
