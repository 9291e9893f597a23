"""Fixed reflectors: by hand at the normal, beyond the acceptance, for an even sky; in a box for a year."""

import math

import numpy as np
import pytest

from box_cases import SILICA, site_of
from welkinwell.declare import check
from welkinwell.errors import InputError
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.passive_box.harvester import box_air
from welkinwell.simulation import simulate
from welkinwell.sky.plane import PlaneSun, plane_sun
from welkinwell.sky.reflectors import Reflectors, with_reflectors
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.bounds import limits_of_harvester
from welkinwell.year import figures


def sun_at(*degrees):
    part = np.ones(len(degrees))
    return PlaneSun(500.0 * part, 50.0 * part, 100.0 * part, 20.0 * part, np.radians(degrees), 0.5, None)


def test_by_hand():
    """C = 2, r = 0.8: 1.8 times the beam at 10 degrees, none at 60, 0.9 of the diffuse everywhere."""
    found = with_reflectors(sun_at(10.0, 30.0, 60.0), Reflectors(2.0, 0.8, math.radians(30.0)))
    assert found.beam == pytest.approx([900.0, 450.0, 0.0])
    assert found.circumsolar == pytest.approx([90.0, 45.0, 0.0])
    assert found.sky_diffuse == pytest.approx([90.0] * 3)
    assert found.ground == pytest.approx([18.0] * 3)


def test_none_changes_nothing():
    sun = sun_at(10.0, 80.0)
    assert with_reflectors(sun, Reflectors(1.0, 0.5, 0.1)) is sun


def test_an_even_sky_is_never_concentrated():
    """Second law: without loss an even sky gives what it gives a bare plane."""
    for C in (1.5, 3.0, 6.0):
        found = with_reflectors(sun_at(0.0), Reflectors(C, 1.0, 0.3))
        assert found.sky_diffuse == pytest.approx([100.0])


def test_no_reflectors_beyond_the_second_law():
    """At 30 degrees at most 4 (Duffie2013: 1/sin^2)."""
    check(PassiveBox(concentration=3.9))
    with pytest.raises(InputError, match=r"at most 4"):
        check(PassiveBox(concentration=4.5))


def test_a_year_behind_reflectors():
    """More sun at noon, less in the morning; the litres stay below the bounds of the place."""
    site = site_of("coast")
    plain, given = PassiveBox(vent_temperature=368.15), {}
    for C in (1.0, 2.0):
        design = PassiveBox(vent_temperature=368.15, concentration=C)
        found = simulate(design, sorbent(SILICA), site)
        limits = limits_of_harvester(design, sorbent(SILICA), found, site.climate)
        litres = figures(found)["litres_per_m2_day"]
        assert litres < min(b.value for b in limits.bounds if "passive_box" in b.binds)
        given[C] = (litres, float(found["sun_on_plane"].mean()), float(found["sun_on_plane"].max()))
    print({C: [round(x, 3) for x in values] for C, values in given.items()})
    assert given[2.0][2] > 1.5 * given[1.0][2]
    bare = plane_sun(site.horizontal, site.path, plain.tilt, plain.azimuth(site.latitude), site.albedo)
    behind = with_reflectors(bare, Reflectors(2.0, 0.85, math.radians(30.0)))
    record = box_air(PassiveBox(concentration=2.0), site)
    hourly = behind.total.mean()
    nodes = record.nodes[:, 7]
    assert 0.5 * (nodes[1:] + nodes[:-1]).mean() == pytest.approx(hourly, rel=1e-9)
