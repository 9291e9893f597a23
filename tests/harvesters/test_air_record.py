"""The record that a device sees against the file it was made from, hour by hour."""

import numpy as np
import pytest

from box_cases import SILICA, box, site_of
from welkinwell.harvesters import air as columns
from welkinwell.simulation import prepare
from welkinwell.sky.plane import CoverOptics, absorbed_sun, plane_sun
from welkinwell.sorbents.sorbent import sorbent

PLACES = ("coast", "desert", "highland", "tropics")


def hour_means(nodes):
    """Mean of a piecewise linear curve over each hour of two halves (trapezoids)."""
    return 0.25 * (nodes[0:-1:2] + 2.0 * nodes[1::2] + nodes[2::2])


@pytest.mark.parametrize("place", PLACES)
def test_radiation_keeps_every_hour_of_the_file(place):
    site = site_of(place)
    design = box(soiling=0.04)
    nodes = prepare(design, sorbent(SILICA), site).air.nodes
    longwave = site.climate["sky_longwave"].values
    assert hour_means(nodes[:, columns.LONGWAVE]) == pytest.approx(longwave, rel=1e-12)
    sun = plane_sun(site.horizontal, site.path, design.tilt, design.azimuth(site.latitude), site.albedo)
    plane = sun.total.reshape(-1, 2).mean(axis=1)
    assert hour_means(nodes[:, columns.SUN_PLANE]) == pytest.approx(plane, rel=1e-12, abs=1e-9)
    cover = CoverOptics(0.0032, 1.526, 4.0)
    absorber, glazing = absorbed_sun(sun, cover, design.absorber_absorptance)
    expected = 0.96 * absorber.reshape(-1, 2).mean(axis=1)
    assert hour_means(nodes[:, columns.SUN_ABSORBER]) == pytest.approx(expected, rel=1e-12, abs=1e-9)
    expected = glazing.reshape(-1, 2).mean(axis=1)
    assert hour_means(nodes[:, columns.SUN_GLAZING]) == pytest.approx(expected, rel=1e-12, abs=1e-9)
    assert nodes[:, columns.LONGWAVE :].min() >= 0.0


@pytest.mark.parametrize("place", PLACES)
def test_a_flat_aperture_sees_the_files_own_global_sun(place):
    """Tilt 0: the plane's sun is the file's global irradiance, every hour."""
    site = site_of(place)
    nodes = prepare(box(tilt=0.0), sorbent(SILICA), site).air.nodes
    ghi = np.maximum(site.climate["ghi"].values, 0.0)
    assert hour_means(nodes[:, columns.SUN_PLANE]) == pytest.approx(ghi, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("place", PLACES)
def test_temperature_and_vapour_hit_the_files_instants(place):
    site = site_of(place)
    nodes = prepare(box(), sorbent(SILICA), site).air.nodes
    hours = site.climate.sizes["time"]
    at = np.arange(hours) * 3600.0 + float(site.climate.attrs["instant_offset"])
    inside = at <= hours * 3600.0
    for name, column in (
        ("temperature", columns.TEMPERATURE),
        ("vapour_pressure", columns.VAPOUR_PRESSURE),
        ("pressure", columns.PRESSURE),
    ):
        if float(site.climate.attrs["instant_offset"]) % 1800.0 == 0.0:
            found = np.interp(at, np.arange(len(nodes)) * 1800.0, nodes[:, column])
            assert found[inside] == pytest.approx(site.climate[name].values[inside], rel=1e-12)
        assert nodes[0, column] == pytest.approx(nodes[-1, column], rel=1e-12)  # the year closes on itself


def test_wind_is_brought_to_the_device():
    """10 m to 2 m over open ground: (2/270)^0.14 / (10/270)^0.14 = 0.798 (power law of building codes,
    gradient height 270 m), halved by the shelter."""
    site = site_of("coast")
    nodes = prepare(box(shelter=0.5), sorbent(SILICA), site).air.nodes
    ratio = nodes[:, columns.WIND].mean() / site.climate["wind_speed"].values.mean()
    assert ratio == pytest.approx(0.5 * (2.0 / 10.0) ** 0.14, rel=1e-3)


def test_a_file_without_rain_has_no_rainy_hours():
    site = site_of("coast")
    record = prepare(box(), sorbent(SILICA), site).air
    assert (record.rainy is None) == ("precipitation" not in site.climate)
    wet = site.climate.assign(precipitation=site.climate["ghi"] * 0.0)
    wet["precipitation"][100:103] = 1e-3
    again = prepare(box(), sorbent(SILICA), columns.surroundings(wet)).air
    assert np.flatnonzero(again.rainy).tolist() == [100, 101, 102]
    assert hour_means(again.nodes[:, columns.RAIN]) == pytest.approx(wet["precipitation"].values, abs=1e-15)
