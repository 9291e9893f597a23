"""Weather files to one checked shape: `read_climate(path)` gives an hourly year as an xarray Dataset."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import xarray as xr


def read_climate(path: str | Path, **options: Any) -> xr.Dataset:
    """Read a weather file, audit it and give it the one shape of a weather year.

    path: EPW, NSRDB csv, TMY3, TMY2, PVGIS (CSV, JSON) or a table, plain or .gz; the content decides, not
    the name; options: `kind` to force a reader; `site`, `licence`, `wind_height` [m], `utc_offset` [h] and
    `file_zone` [h] to override the file; `columns` and more for a table (welkinwell.climate.table).
    Returns the Dataset of the climate contract (welkinwell.climate.hourly); FileError or ClimateError when
    the file cannot be read or trusted.
    """
    from welkinwell.climate.audit import audited
    from welkinwell.climate.readers import read_file_year

    return audited(read_file_year(path, **options))
