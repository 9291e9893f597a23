"""A measured-style hourly year for the sky's tests: the typical year of Greensboro that pvlib ships."""

from pathlib import Path

import numpy as np
import pvlib
import pytest
import xarray as xr

from welkinwell.sky.sun import climate_sun_path


@pytest.fixture(scope="session")
def greensboro():
    """Sun of Greensboro, North Carolina (TMY3, US National Solar Radiation Database), as a Dataset."""
    file = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    table, about = pvlib.iotools.read_tmy3(file, coerce_year=2021, map_variables=True)
    # Stamps end the hour in local standard time; the project's hours start in UTC.
    start = np.datetime64("2021-01-01T00", "ns") - np.timedelta64(int(about["TZ"]), "h")
    return xr.Dataset(
        {name: ("time", table[name].to_numpy(dtype=float)) for name in ("ghi", "dhi", "dni")},
        coords={"time": start + np.arange(len(table)) * np.timedelta64(1, "h")},
        attrs={
            "latitude": about["latitude"],
            "longitude": about["longitude"],
            "elevation": about["altitude"],
        },
    )


@pytest.fixture(scope="session")
def greensboro_path(greensboro):
    """The sun's path over Greensboro at two sub-intervals an hour."""
    return climate_sun_path(greensboro, 2)
