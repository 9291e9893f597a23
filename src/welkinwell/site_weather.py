"""The weather of a place: what a case means by its file, columns, log and site, or a weather file alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
import xarray as xr

from welkinwell.case import Case, read_case
from welkinwell.climate import read_climate
from welkinwell.climate.column_map import LogCorrection, WeatherColumns, read_description
from welkinwell.climate.first_row import FirstRow, first_row
from welkinwell.climate.readers import is_known
from welkinwell.climate.relocate import correct_by_log, move_to_altitude
from welkinwell.climate.site_log import read_site_log
from welkinwell.errors import CaseError, ClimateError, InputError, Problem
from welkinwell.harvesters.power_cuts import with_power_cuts

SAME_PLACE: Final = 0.1  # degrees within which a weather file is one of the case's site


def place_climate(path: Path, columns: Path | None = None) -> xr.Dataset:
    """Read the weather of a place: a weather file, or the site of a case.

    path: weather file or case (TOML, or its folder); columns: for a weather file, TOML file or case that
    describes a plain table's columns or a log that corrects it. InputError for what cannot be used.
    """
    if path.suffix.lower() == ".toml" or path.is_dir():
        if columns is not None:
            problem = Problem(
                "--columns", str(columns), "a weather file to describe", f"{path.name} is a case."
            )
            raise InputError(problem)
        return case_climate(read_case(path))
    if columns is None:
        return read_climate(path)
    told = read_description(columns)
    options = {} if told.columns is None else _options_for(told.columns, path)
    climate = read_climate(path, **options)
    if told.site:
        climate = climate.assign_attrs(site=told.site)
    return climate if told.correction is None else _corrected(climate, told.correction, told.folder)


def descriptions_for(files: Sequence[Path], columns: Sequence[Path]) -> list[Path | None]:
    """Say which description goes with each weather file: none, one for all, or one for each in order."""
    if not columns:
        return [None] * len(files)
    if len(columns) == 1:
        return [columns[0]] * len(files)
    if len(columns) != len(files):
        expected = f"one for all weather files, or {len(files)}: one for each, in their order"
        raise InputError(Problem("--columns", f"{len(columns)} files", expected))
    return list(columns)


def _options_for(columns: WeatherColumns, path: Path) -> dict[str, object]:
    """The table reader's options; none for a file that says itself what it is."""
    return {} if is_known(path) else columns.options()


def filed_climate(case: Case) -> xr.Dataset:
    """Read the case's weather file as it is filed."""
    columns = case.site.columns
    return read_climate(case.weather_path, **({} if columns is None else columns.options()))


def described_rows(case: Case, climate: xr.Dataset) -> dict[str, FirstRow]:
    """Read the first row of each table that the case describes, by the name of the description.

    climate: the case's weather file as filed.
    """
    found = {}
    if case.site.columns is not None:
        found["site.columns"] = first_row(case.weather_path, case.site.columns.options())
    if case.site.correction is not None:
        options = case.site.correction.options(float(climate.attrs["utc_offset"]))
        path = case.path.parent / case.site.correction.log
        found["site.correction"] = first_row(path, options, "the log")
    return found


def case_climate(case: Case) -> xr.Dataset:
    """Read the case's weather and lay the case's own site figures over it."""
    return laid_over(case, filed_climate(case))


def laid_over(case: Case, climate: xr.Dataset) -> xr.Dataset:
    """Lay the case's own site figures over its weather file: place, altitude, log, ground and power cuts."""
    degrees = {"latitude": case.site.latitude, "longitude": case.site.longitude}
    given = {name: float(np.degrees(value)) for name, value in degrees.items() if value is not None}
    return as_at_the_site(case, climate.assign_attrs(site=case.site.name, **given))


def as_at_the_site(case: Case, climate: xr.Dataset, like: xr.Dataset | None = None) -> xr.Dataset:
    """Bring a weather year to the case's altitude, log, ground and hours without electricity.

    like: the case's own year, where this is a further one that its rule of correction is for.
    """
    site = case.site
    if site.elevation is not None and site.elevation != float(climate.attrs["elevation"]):
        try:
            climate = move_to_altitude(climate, site.elevation)
        except ClimateError as error:
            problem = error.problems[0]
            if isinstance(problem, Problem):
                problem = replace(problem, where=f"{case.path.name}, [site], elevation")
            raise CaseError(problem) from error
    if site.correction is not None:
        where = f"{case.path.name}, [site.correction]"
        climate = _corrected(climate, site.correction, case.path.parent, like, where)
    if site.albedo is not None:
        climate["albedo"] = ("time", np.full(climate.sizes["time"], site.albedo))
    return with_cuts(case, climate)


def further_climate(case: Case, climate: xr.Dataset, path: Path) -> xr.Dataset:
    """Read another weather year of the case's site; refuses one of another place.

    climate: the case's own year. A plain table is read by the case's columns, all of its rows being one year.
    """
    columns = None if case.site.columns is None else replace(case.site.columns, year=None)
    found = read_climate(path, **({} if columns is None else _options_for(columns, path)))
    for name in ("latitude", "longitude"):
        here, there = float(climate.attrs[name]), float(found.attrs[name])
        if abs(here - there) > SAME_PLACE:
            raise InputError(
                Problem(f"{path}, {name}", f"{there:.3f} deg", f"the case's site, {here:.3f} deg")
            )
    kept = {name: climate.attrs[name] for name in ("site", "latitude", "longitude")}
    return as_at_the_site(case, found.assign_attrs(kept), like=climate)


def with_cuts(case: Case, climate: xr.Dataset) -> xr.Dataset:
    """Lay the case's hours without electricity over its weather."""
    cuts = case.power_cuts
    if cuts is None or not cuts.any:
        return climate
    return with_power_cuts(
        climate,
        cuts.hours(climate),
        restart_delay=cuts.restart_delay,
        purge=cuts.purge,
        dampers=cuts.dampers,
    )


def _corrected(
    climate: xr.Dataset,
    correction: LogCorrection,
    folder: Path,
    like: xr.Dataset | None = None,
    where: str = "[site.correction]",
) -> xr.Dataset:
    """Correct a year by the log that a case or a file beside it describes; folder: where the log lies."""
    options = correction.options(float(climate.attrs["utc_offset"]))
    log = read_site_log(folder / correction.log, **options)
    try:
        return correct_by_log(climate, log, like)
    except ClimateError as error:
        raise CaseError([
            replace(one, where=f"{where}, {one.where}") if isinstance(one, Problem) else one
            for one in error.problems
        ]) from error  # fmt: skip
