"""PVGIS typical years, as CSV or JSON: UTC, months of different years, snapshots of the sun.

The state of the air stands at the stamp. The sun is a satellite's snapshot, `Irradiance Time Offset` hours
after it, and speaks for the hour around that moment; hours here start accordingly.
"""

from __future__ import annotations

import json
from collections.abc import Mapping

import numpy as np

from welkinwell.climate.columns import Column, read_column
from welkinwell.climate.hourly import FileYear
from welkinwell.climate.weather_file import (
    Cells,
    WeatherText,
    as_written,
    delimited_columns,
    header_cells,
    header_number,
    whole_numbers,
)
from welkinwell.errors import ClimateError, FileError, Problem

COLUMNS = {
    "T2m": Column("temperature", "T2m", "C", -70, 60, offset=273.15),
    "RH": Column("relative_humidity", "RH", "%", -5, 200, factor=0.01),
    "G(h)": Column("ghi", "G(h)", "W/m2", -20, 1500),
    "Gb(n)": Column("dni", "Gb(n)", "W/m2", -20, 1300),
    "Gd(h)": Column("dhi", "Gd(h)", "W/m2", -20, 1000),
    "IR(h)": Column("sky_longwave", "IR(h)", "W/m2", 50, 700, (0,)),
    "WS10m": Column("wind_speed", "WS10m", "m/s", 0, 70),
    "SP": Column("pressure", "SP", "Pa", 45000, 110000),
}
STAMP = "time(UTC)"
LARGEST_JSON = 10_000_000  # characters; a year has a quarter of it
LICENCE = "PVGIS (c) European Union; reuse with the source named (terms from memory)"


def is_pvgis_csv(text: WeatherText) -> bool:
    """Tell whether a text is a PVGIS typical year as CSV.

    text: the file.
    """
    head = text.lines[:40]
    return text.lines[0].startswith("Latitude") and any(line.startswith(STAMP) for line in head)


def is_pvgis_json(text: WeatherText) -> bool:
    """Tell whether a text is a PVGIS answer as JSON.

    text: the file.
    """
    start = "".join(text.lines[:3]).lstrip()[:200]
    return start.startswith("{") and '"inputs"' in start


def read_pvgis_csv(text: WeatherText) -> FileYear:
    """Read a PVGIS typical year in CSV as it stands, before the audit.

    text: the file.
    Returns the year in SI; FileError or ClimateError names line, field, value and range.
    """
    start = next(i for i, line in enumerate(text.lines) if line.startswith(STAMP))
    head = {}
    for i, line in enumerate(text.lines[:start]):
        key, _, cell = line.partition(":")
        head[key.split("(")[0].strip().lower()] = (i, cell.strip())
    names = header_cells(text, start)
    _refuse_absent(text, text.at(start), names)
    last = next((i for i in range(start, len(text.lines)) if not text.lines[i].strip()), len(text.lines))
    body = WeatherText(text.path, text.lines[:last], text.content_hash)
    wanted = {name: (k, as_written) for k, name in enumerate(names) if name in COLUMNS or name == STAMP}
    lines, columns = delimited_columns(body, start + 1, len(names), "a PVGIS file", wanted)

    def number(key: str, low: float, high: float) -> float:
        if key not in head:
            raise FileError(Problem(text.path.name, f"no line {key!r} above the table", "a PVGIS header"))
        return header_number(text, head[key][1], head[key][0], key, low, high)

    offset = number("irradiance time offset", -1, 1) if "irradiance time offset" in head else None
    place = (number("latitude", -90, 90), number("longitude", -180, 180), number("elevation", -450, 5500))
    return _year(text, columns, lines, place, offset)


def read_pvgis_json(text: WeatherText) -> FileYear:
    """Read a PVGIS typical year in JSON as it stands, before the audit.

    text: the file.
    Returns the year in SI; FileError or ClimateError names field, value and range.
    """
    size = sum(map(len, text.lines))
    if size > LARGEST_JSON:
        given = f"{size} characters"
        raise FileError(Problem(text.path.name, given, f"a PVGIS file of at most {LARGEST_JSON} characters"))
    try:
        answer = json.loads("\n".join(text.lines))
    except (ValueError, RecursionError) as error:
        raise FileError(Problem(text.path.name, f"broken JSON ({error})", "a whole PVGIS file")) from None
    try:
        location = answer["inputs"]["location"]
        table = answer["outputs"]["tmy_hourly"]
        place = tuple(
            header_number(text, str(location[key]), 0, key, low, high)
            for key, low, high in (("latitude", -90, 90), ("longitude", -180, 180), ("elevation", -450, 5500))
        )
        offset = location.get("irradiance_time_offset")
        if offset is not None:
            offset = header_number(text, str(offset), 0, "irradiance_time_offset", -1, 1)
        names = list(table[0])
        columns = {n: [str(row[n]) for row in table] for n in (STAMP, *COLUMNS) if n in names}
    except (KeyError, TypeError, IndexError, AttributeError) as error:
        raise FileError(
            Problem(
                text.path.name,
                f"no {error}",
                "inputs.location and outputs.tmy_hourly of a PVGIS typical year",
            )
        ) from None
    _refuse_absent(text, f"{text.path.name}, outputs.tmy_hourly", names)
    text = WeatherText(text.path, text.lines, text.content_hash, row_word="tmy_hourly row")
    return _year(text, columns, list(range(len(table))), place, offset)


def _refuse_absent(text: WeatherText, where: str, names: list[str]) -> None:
    absent = [n for n in (STAMP, "T2m", "RH", "G(h)", "WS10m") if n not in names]
    if absent:
        raise FileError(
            Problem(where, "no column " + ", ".join(absent), "the columns of a PVGIS typical year")
        )


def _year(
    text: WeatherText,
    columns: Mapping[str, Cells],
    lines: list[int],
    place: tuple[float, ...],
    offset: float | None,
) -> FileYear:
    latitude, longitude, elevation = place
    values = {c.name: read_column(text, columns[n], lines, c) for n, c in COLUMNS.items() if n in columns}
    year, month, day, hour = _stamps(text, columns[STAMP], lines)
    solar_zone = float(round(longitude / 15.0))
    file_year = FileYear(
        text=text,
        kind="PVGIS",
        site=f"{latitude:g}, {longitude:g}",
        latitude=latitude,
        longitude=longitude,
        elevation=elevation,
        file_zone=0.0,
        utc_offset=solar_zone,
        year=year,
        month=month,
        day=day,
        hour=hour,
        lines=np.array(lines),
        start_shift=3600.0 * ((offset or 0.0) - 0.5),
        instant_offset=3600.0 * (0.5 - (offset or 0.0)),
        values=values,
        how=dict.fromkeys([*values, "vapour_pressure"], "modelled"),
        source="PVGIS typical year (Huld2012)",
        licence=LICENCE,
        typical=True,
    )
    words = f"the file is in UTC; days are those of the solar zone UTC{solar_zone:+g} h."
    file_year.warn("local_time", words)
    if offset is None:
        file_year.warn(
            "snapshot_time", "the file does not say when in the hour its sun was seen; the stamp was taken."
        )
    return file_year


def _stamps(text: WeatherText, cells: Cells, lines: list[int]) -> list[np.ndarray]:
    """Split `20180101:0000` into year, month, day and hour."""
    for line, cell in zip(lines, cells, strict=True):
        if len(cell) != 13 or cell[8] != ":" or cell[11:] != "00":
            raise ClimateError(Problem(text.at(line, STAMP), repr(cell), "as 20180101:0000, whole hours"))
    pieces = (("year", 0, 4), ("month", 4, 6), ("day", 6, 8), ("hour", 9, 11))
    return [whole_numbers(text, [cell[a:b] for cell in cells], lines, name) for name, a, b in pieces]
