"""Cloud cover and longwave where a file has none, against files that have them."""

import numpy as np
import pytest

from welkinwell.climate.audit import _fill, _vapour_pressure
from welkinwell.climate.hourly import on_nominal_year
from welkinwell.climate.night_sky import (
    cloud_from_clearness,
    complete_longwave,
    hour_means,
    modelled_longwave,
)
from welkinwell.climate.readers import read_file_year
from welkinwell.climate.sunlight import clean_sun, path_of


def prepared(path):
    year, starts = on_nominal_year(read_file_year(path))
    _fill(year, "temperature")
    _vapour_pressure(year)
    sun = path_of(year, starts)
    clean_sun(year, sun)
    return year, sun


def test_longwave_from_clearness_against_era5(data):
    """45 N 8 E: the whole chain (no cloud cover in the file) against the reanalysis longwave that it has.

    PVGIS takes IR(h) from ERA5. Asked: mean within 6 W/m2, hours within 25 W/m2 rms. Nothing was tuned; the
    rule was chosen among published ones (docs/theory/climate.md).
    """
    year, sun = prepared(data / "pvgis_45N_8E_tmy.csv.gz")
    given = year.values.pop("sky_longwave")
    words = complete_longwave(year, sun)
    off = year.values["sky_longwave"] - given
    print(f"mean {off.mean():+.1f} W/m2, rms {np.sqrt((off**2).mean()):.1f} W/m2")
    assert "sun's clearness" in words
    assert abs(off.mean()) < 6.0
    assert np.sqrt((off**2).mean()) < 25.0


def test_cloud_from_clearness_against_observers_and_satellites(weather):
    """The rule is made for longwave and counts thin cloud little: below an observer's opaque cover by day.

    Found: 0.21 below the observers of Denver, 0.14 below the satellite of the coast; it must keep that sign
    and stay within 0.3, and rise and fall with what was seen.
    """
    from welkinwell.climate.night_sky import clearness

    for name in ("highland_denver_colorado_tmy3.epw.gz", "coast_western_australia_2020.csv.gz"):
        year, sun = prepared(weather / name)
        seen = year.values["cloud_cover"]
        cover = cloud_from_clearness(clearness(year.values["ghi"], sun))
        day = ~np.isnan(cover)
        bias = cover[day].mean() - seen[day].mean()
        match = np.corrcoef(cover[day], seen[day])[0, 1]
        print(f"{name}: bias {bias:+.2f}, correlation {match:.2f}")
        assert -0.3 < bias < 0.05
        assert match > 0.45


def test_overcast_and_clear_bounds():
    temperature, vapour = np.array([290.0]), np.array([1200.0])
    clear = modelled_longwave(temperature, vapour, np.array([0.0]))[0]
    overcast = modelled_longwave(temperature, vapour, np.array([1.0]))[0]
    black = 5.670374419e-8 * 290.0**4
    assert 0.55 * black < clear < overcast < black
    # Prata1996 by hand: w = 46.5 * 12 / 290 = 1.924 cm, 1 - 2.924 exp(-sqrt(1.2 + 5.772)) = 0.791
    assert clear / black == pytest.approx(0.7914, abs=5e-4)


def test_clearness_rule_ends():
    np.testing.assert_allclose(cloud_from_clearness(np.array([1.3, 1.0, 0.4, 0.0])), [0.0, 0.0, 0.6, 1.0])


@pytest.mark.parametrize("offset", [0.0, 1166.04, 1800.0, 3600.0])
def test_hour_means_of_a_curve_against_fine_integration(offset):
    hours = np.arange(240)
    values = 290.0 + 6.0 * np.sin(2.0 * np.pi * (hours + offset / 3600.0) / 24.0)
    nodes = np.concatenate((hours - 240, hours, hours + 240)) + offset / 3600.0
    fine = (np.arange(240 * 400) + 0.5) / 400.0
    expected = np.interp(fine, nodes, np.tile(values, 3)).reshape(240, 400).mean(axis=1)
    np.testing.assert_allclose(hour_means(values, offset), expected, atol=2e-5)
