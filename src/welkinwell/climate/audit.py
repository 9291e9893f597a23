"""From a file's year to a climate that can be trusted: named warnings, notes and repairs, or a refusal.

Every warning and note starts with its name and a colon; every repair has a name and a count of hours. A
warning is about what is probably wrong, a note about what is unusual and often right. The order matters:
temperature first (humidity is judged against it), then humidity, pressure, the sun, and the sky.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from welkinwell.climate.audit_clock import audit_clock_of_air
from welkinwell.climate.audit_humidity import audit_humidity
from welkinwell.climate.audit_stuck import (
    PRESSURE_OF_ELEVATION,
    UNUSUAL_PRESSURE,
    tell_calms,
    tell_constant_runs,
    tell_stuck_columns,
)
from welkinwell.climate.audit_sun import audit_sun
from welkinwell.climate.gaps import LARGEST_SHARE, filled, missing_share
from welkinwell.climate.hourly import OPTIONAL, FileYear, on_nominal_year, weather_year
from welkinwell.climate.moisture import reconcile, saturation_pressures
from welkinwell.climate.night_sky import complete_longwave
from welkinwell.climate.sunlight import check_clock, check_closure, clean_sun, path_of
from welkinwell.errors import ClimateError, Problem
from welkinwell.moist_air.altitude import pressure_at_altitude
from welkinwell.quantities import variable

SUN = ("ghi", "dni", "dhi")
LEVEL_OF_THE_SEA = 0.015  # share within which a year's mean pressure is that of the sea, common practice


def audited(file_year: FileYear) -> xr.Dataset:
    """Audit a file's year and build the climate Dataset.

    file_year: as a reader gives it. Returns the Dataset of the climate contract; ClimateError where the
    file cannot be trusted.
    """
    year, starts = on_nominal_year(file_year)
    _believe_optional(year)
    tell_stuck_columns(year)
    tell_constant_runs(year)
    _fill(year, "temperature")
    _vapour_pressure(year)
    audit_humidity(year)
    _pressure(year)
    audit_clock_of_air(year, starts)
    _fill(year, "wind_speed")
    tell_calms(year)
    path = path_of(year, starts)
    given = {name for name in SUN if missing_share(year.values.get(name, np.full(1, np.nan))) < 1.0}
    clean_sun(year, path)
    check_clock(year, path)
    check_closure(year, path)
    audit_sun(year, path, given)
    longwave_model = complete_longwave(year, path)
    _optional(year)
    _tell_origin(year)
    return weather_year(
        starts,
        year.values,
        _source_years(year),
        year.how,
        site=year.site,
        latitude=year.latitude,
        longitude=year.longitude,
        elevation=year.elevation,
        utc_offset=year.utc_offset,
        wind_height=year.wind_height,
        source=year.source,
        licence=year.licence,
        content_hash=year.text.content_hash,
        instant_offset=year.instant_offset,
        warnings=year.warnings,
        notes=year.notes,
        repairs=year.repairs,
        longwave_model=longwave_model,
    )


def _fill(year: FileYear, name: str) -> None:
    """Fill a required variable's gaps in place, or refuse the file."""
    label = name.replace("_", " ")
    column = year.values.get(name, np.full(year.lines.size, np.nan))
    share = missing_share(column)
    if share > LARGEST_SHARE:
        raise ClimateError(
            Problem(
                f"{year.text.path.name}, {label}",
                f"{100 * share:.1f} % of hours missing" if share < 1 else "no value at all",
                "at most 5 % missing",
                "Choose a file that has it; what is missing cannot be made up.",
            )
        )
    column, straight, copied = filled(column)
    if np.isnan(column).any():
        raise ClimateError(
            Problem(
                f"{year.text.path.name}, {label}",
                f"a gap that {int(np.isnan(column).sum())} hours of neighbouring days cannot fill",
                "the same hour within 15 days",
            )
        )
    year.count(f"{name}_interpolated", straight)
    year.count(f"{name}_from_other_days", copied)
    if straight + copied:
        year.warn(
            "gaps",
            f"{straight + copied} hours of {label} were missing: {straight} interpolated (gaps up to 6 h), "
            f"{copied} from the same hour of neighbouring days.",
        )
    year.values[name] = column


def _vapour_pressure(year: FileYear) -> None:
    given = {
        k: year.values[k] for k in ("dew_point", "relative_humidity", "vapour_pressure") if k in year.values
    }
    vapour = reconcile(year)
    used = next(
        (k for k in ("vapour_pressure", "dew_point") if k in given and not np.isnan(given[k]).all()), None
    )
    year.how["vapour_pressure"] = year.how.get(used or "relative_humidity", "unknown")
    if used == "dew_point":
        _tell_coarse(year, given["dew_point"])
    year.values["vapour_pressure"] = vapour
    _fill(year, "vapour_pressure")
    saturated = saturation_pressures(year.values["temperature"])
    over = year.values["vapour_pressure"] > saturated
    year.count("filled_humidity_clipped", int(np.count_nonzero(over)))
    year.values["vapour_pressure"] = np.where(over, saturated, year.values["vapour_pressure"])


def _tell_coarse(year: FileYear, dew_point: np.ndarray) -> None:
    celsius = dew_point[~np.isnan(dew_point)] - 273.15
    if np.all(np.abs(celsius - np.round(celsius)) < 1e-6):
        year.warn(
            "coarse_humidity",
            "dew points are whole degrees: half a degree is 3 to 4 % of the vapour pressure in any hour.",
        )


def _pressure(year: FileYear) -> None:
    standard = pressure_at_altitude(year.elevation)
    column = year.values.get("pressure", np.full(year.lines.size, np.nan))
    if missing_share(column) > LARGEST_SHARE:
        year.values["pressure"] = np.full(column.size, standard)
        year.how["pressure"] = "modelled"
        year.warn(
            "pressure_modelled",
            f"station pressure is missing; {standard:.0f} Pa, that of the elevation, was taken.",
        )
        return
    _fill(year, "pressure")
    mean = float(year.values["pressure"].mean())
    off = mean / standard - 1.0
    if abs(off) > UNUSUAL_PRESSURE:
        advice = "The column may be scaled or in another unit, or the elevation is wrong."
        if abs(mean / pressure_at_altitude(0.0) - 1.0) < LEVEL_OF_THE_SEA:
            advice = "Its level is that of the sea: it was probably reduced to it, or the elevation is wrong."
        (year.warn if abs(off) > PRESSURE_OF_ELEVATION else year.note)(
            "pressure_elevation",
            Problem(
                f"{year.text.path.name}, station pressure",
                f"a mean of {mean:.0f} Pa ({100 * off:+.1f} %)",
                f"{standard:.0f} Pa within {100 * UNUSUAL_PRESSURE:.0f} %, the standard atmosphere's at "
                f"{year.elevation:.0f} m",
                advice,
            ),
        )


def _believe_optional(year: FileYear) -> None:
    """Take impossible rain, albedo and cloud cover as missing: a year can do without them."""
    for name in OPTIONAL:
        column = year.values.get(name)
        if column is None:
            continue
        row = variable(name)
        beyond = (column < row.low) | (column > row.high)
        if beyond.any():
            many = int(np.count_nonzero(beyond))
            year.count(f"{name}_beyond_range", many)
            words = f"{many} hours of {name.replace('_', ' ')} outside {row.low:g} to {row.high:g} {row.unit}"
            year.warn(
                "beyond_range", f"{words} were taken as missing (first: {year.at(int(np.argmax(beyond)))})."
            )
            year.values[name] = np.where(beyond, np.nan, column)


def _optional(year: FileYear) -> None:
    """Keep rain, albedo and cloud cover where the file has them nearly whole."""
    for name, straight in (("precipitation", False), ("albedo", True), ("cloud_cover", True)):
        column = year.values.pop(name, None)
        if column is None or missing_share(column) > LARGEST_SHARE:
            if column is not None and 0.0 < missing_share(column) < 1.0:
                year.warn(
                    "dropped", f"{name.replace('_', ' ')} is missing in over 5 % of hours and was left out."
                )
            continue
        if name == "albedo" and not np.any(column > 0.0):
            continue  # a column of zeros is an empty one: no ground is black
        if name == "precipitation" and not np.any(column > 0.0):
            year.warn("no_rain", "rain is 0 in every hour: the column was taken as empty.")
            continue
        if name == "precipitation":
            year.count("precipitation_taken_as_none", int(np.count_nonzero(np.isnan(column))))
            column = np.nan_to_num(column)
        else:
            column, line, copied = filled(column, straight)
            year.count(f"{name}_filled", line + copied)
        if not np.isnan(column).any():
            year.values[name] = column


def _source_years(year: FileYear) -> np.ndarray:
    known = year.year > 0
    return np.where(known, year.year, int(np.median(year.year[known])))


def _tell_origin(year: FileYear) -> None:
    """Warn of what no check can see: a typical year, a modelled or far-away humidity."""
    years = np.unique(year.year[year.year > 0])
    if year.typical or (year.typical is None and years.size > 2):
        year.warn(
            "typical_year",
            f"months come from different years ({years.min()} to {years.max()}): a typical year says nothing "
            "of the bad ones.",
        )
    how = year.how["vapour_pressure"]
    if how == "modelled":
        year.warn(
            "modelled_humidity",
            "humidity comes from a weather model: near coasts and in valleys its dew point is easily off by "
            "2 K (13 % of vapour pressure); correct it with a month of your own log.",
        )
    else:
        year.warn(
            "station_humidity",
            "humidity is that of the station: in a town or an oasis nights differ by 10 to 20 points of "
            "relative humidity, and a sensor's 3 points at 20 % are 15 % of the vapour.",
        )
    year.how.setdefault("sky_longwave", "unknown")
