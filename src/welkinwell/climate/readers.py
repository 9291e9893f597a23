"""Which reader a weather file needs: found from its content, or named."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from welkinwell.climate.column_guess import weather_block
from welkinwell.climate.epw import is_epw, read_epw
from welkinwell.climate.hourly import FileYear
from welkinwell.climate.nsrdb import is_nsrdb, read_nsrdb
from welkinwell.climate.pvgis import is_pvgis_csv, is_pvgis_json, read_pvgis_csv, read_pvgis_json
from welkinwell.climate.table import read_table
from welkinwell.climate.tmy import is_tmy2, is_tmy3, read_tmy2, read_tmy3
from welkinwell.climate.weather_file import WeatherText, open_weather
from welkinwell.errors import FileError, Problem, nearest_name

Reader = Callable[..., FileYear]
READERS: dict[str, tuple[Callable[[WeatherText], bool], Reader]] = {
    "epw": (is_epw, read_epw),
    "nsrdb": (is_nsrdb, read_nsrdb),
    "tmy3": (is_tmy3, read_tmy3),
    "pvgis-csv": (is_pvgis_csv, read_pvgis_csv),
    "pvgis-json": (is_pvgis_json, read_pvgis_json),
    "tmy2": (is_tmy2, read_tmy2),
    "table": (lambda text: False, read_table),  # never guessed: a table needs its column map
}


# What a user may know better than the file, with its range; text where there is none.
OVERRIDES: dict[str, tuple[float, float] | None] = {
    "site": None,
    "licence": None,
    "wind_height": (0.5, 300.0),
    "utc_offset": (-12.0, 14.0),
    "file_zone": (-12.0, 14.0),
}


def read_file_year(path: str | Path, kind: str = "auto", **options: Any) -> FileYear:
    """Read a file with the reader that its content asks for.

    path: of the file; kind: `auto` or a reader's name; options: site, licence, wind_height [m], utc_offset
    (the site's standard time) [h] and file_zone (the file's clock) [h] override the file; with `columns`
    the file is a table (welkinwell.climate.table). Returns the year as the file gives it, unaudited.
    """
    kind = "table" if kind == "auto" and "columns" in options else kind
    if kind != "auto" and kind not in READERS:
        raise FileError(Problem("kind", repr(kind), " or ".join(READERS), nearest_name(kind, READERS)))
    text = open_weather(path)
    if kind == "table":
        _check_overrides({k: v for k, v in options.items() if k in ("site", "licence", "wind_height")})
        return _overridden(read_table(text, **options), {k: v for k, v in options.items() if k in OVERRIDES})
    _check_overrides(options)
    for name, (is_kind, read) in READERS.items():
        if kind == name or (kind == "auto" and is_kind(text)):
            return _overridden(read(text), options)
    told, block = weather_block(text)
    advice = (
        f"{told}\n\n{block}\n" if block else "A table of your own is described in TOML: which column is what."
    )
    raise FileError(
        Problem(
            f"{text.path.name}, line 1",
            repr(text.lines[0][:60]),
            "the first line of a weather file that is known: "
            + ", ".join(k for k in READERS if k != "table"),
            f"{advice} (docs/how_to/bring_your_own_weather.md)" if not block else advice,
        )
    )


def is_known(path: str | Path) -> bool:
    """Whether a file's own content says what it is, so that no description of columns is needed."""
    text = open_weather(path)
    return any(is_kind(text) for is_kind, _ in READERS.values())


def _check_overrides(options: dict[str, Any]) -> None:
    problems = []
    for name, value in options.items():
        if name not in OVERRIDES:
            advice = nearest_name(name, OVERRIDES)
            problems.append(Problem(f"option {name}", repr(value), " or ".join(OVERRIDES), advice))
        elif (limits := OVERRIDES[name]) is None:
            if not isinstance(value, str):
                problems.append(Problem(f"option {name}", repr(value), "text"))
        elif (
            isinstance(value, bool)
            or not isinstance(value, (int, float))
            or not limits[0] <= value <= limits[1]
        ):
            problems.append(
                Problem(f"option {name}", repr(value), f"a number from {limits[0]:g} to {limits[1]:g}")
            )
    if problems:
        raise FileError(problems)


def _overridden(year: FileYear, options: dict[str, Any]) -> FileYear:
    for name, value in options.items():
        setattr(year, name, value if OVERRIDES[name] is None else float(value))
    if "utc_offset" in options:
        year.warnings = [w for w in year.warnings if not w.startswith("local_time:")]
    return year
