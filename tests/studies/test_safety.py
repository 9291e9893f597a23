"""Dry stagnation from the simulation, and the annex of a whole case."""

from dataclasses import replace

import pytest

from box_cases import SILICA, site_of
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.simulation import simulate
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.safety import dry_stagnation


@pytest.fixture(scope="module")
def desert():
    return site_of("desert")


@pytest.mark.parametrize(("emissivity", "low", "high"), [(0.95, 90.0, 150.0), (0.15, 140.0, 190.0)])
def test_dry_stagnation_is_where_practice_has_it(desert, emissivity, low, high):
    """90 to 150 C under single glass, more than that with a selective absorber (common "
    "practice, no source)."""
    design = replace(PassiveBox(), absorber_emissivity=emissivity)
    found = dry_stagnation(design, sorbent(SILICA), desert)
    assert low < found.bed - 273.15 < high
    assert found.glass < found.bed


def test_no_day_of_the_year_is_hotter_than_left_alone(desert):
    design = PassiveBox()
    year = simulate(design, sorbent(SILICA), desert, keep="year", accuracy="fast", audit=False)
    found = dry_stagnation(design, sorbent(SILICA), desert)
    assert found.bed > year.attrs["highest_bed_temperature"] + 10.0


def test_it_hardly_depends_on_the_sorbent(desert):
    beds = [dry_stagnation(PassiveBox(), sorbent(name), desert).bed for name in (SILICA, "licl_gel")]
    assert beds[0] == pytest.approx(beds[1], abs=2.0)
