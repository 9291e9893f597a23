"""How deep a layer may be for a bed that is computed as one, and what is said beyond that."""

from dataclasses import replace

import pytest

from box_cases import SILICA, box, site_of
from welkinwell.case import HarvesterCase, bed_notes
from welkinwell.harvesters.active_bed.design import ActiveBed
from welkinwell.harvesters.desiccant_wheel.design import DesiccantWheel
from welkinwell.harvesters.hybrid.design import Hybrid
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.layer_depth import (
    MEASURED,
    SHOWN,
    depth_notes,
    filling_time,
    measured_range,
    too_deep,
    uptake_time,
)
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.plants.answered import _in_cells, layered_litres
from welkinwell.sorbents.sorbent import sorbent

GEL = sorbent(SILICA)


def filled(thickness, **fields):
    return box(layer_thickness=thickness, sorbent_mass=700.0 * thickness * 4.0, **fields)


def test_time_to_fill_three_millimetres():
    """L2 rho q/(2 De c): 0.44^1.5 of 2.5e-5 m2/s is 7.3e-6, 0.6 of 3.17 kPa at 25 degC 13.8 g/m3."""
    held = float(GEL.loading(298.15, 0.6))
    by_hand = 9e-6 * 700.0 * held / (2.0 * 7.3e-6 * 0.0138)
    assert filling_time(filled(3e-3), GEL) == pytest.approx(by_hand, rel=0.03)
    assert filling_time(filled(6e-3), GEL) == pytest.approx(4.0 * by_hand, rel=0.03)
    assert filling_time(filled(6e-3, open_faces=2), GEL) == pytest.approx(by_hand, rel=0.03)


def test_a_gel_fills_in_three_halves_of_its_own_time():
    """A front needs L2/(2 D'), the linear driving force of a slab has k = 3 D'/L2."""
    gel = sorbent("licl_gel").in_layer(2e-3)
    held = float(gel.loading(298.15, 0.6))
    assert filling_time(box(layer_thickness=2e-3), gel) == pytest.approx(1.5 / float(gel.rate(298.15, held)))


def test_grains_that_air_is_blown_through_have_no_such_time():
    assert filling_time(ActiveBed(), GEL) is None
    assert filling_time(ActiveBed(form="channels", sorbent_mass=7.0), GEL) < 600.0
    assert filling_time(box(), None) is None


def test_the_time_for_uptake_is_a_night_a_cycle_or_a_turn():
    assert uptake_time(box()) == 12 * 3600.0
    assert uptake_time(ActiveBed(form="channels", uptake_length=1800.0)) == 1800.0
    assert uptake_time(DesiccantWheel()) == pytest.approx(0.75 * 240.0)


def test_every_kind_as_it_comes_is_thin_enough():
    for listed in KINDS.values():
        if listed.takes_sorbent:
            assert depth_notes(listed.load()(), GEL) == []


def test_a_deep_layer_is_told_with_what_cells_gave_elsewhere():
    (said,) = depth_notes(filled(20e-3), GEL)
    low, high = measured_range(filling_time(filled(20e-3), GEL) / uptake_time(box()))
    assert "e+0" not in said
    assert "to fill 20 mm of Silica gel, regular density" in said
    assert f"{SHOWN * 12:.2g} h" in said and 'depth = "layered" computes it in cells' in said
    assert f"changed the litres by {100 * low:+.0f} to {100 * high:+.0f} %" in said
    assert depth_notes(filled(20e-3, depth="layered"), GEL) == []
    assert depth_notes(filled(3e-3), GEL) == []


def test_where_there_is_no_layered_depth_it_is_said():
    (said,) = depth_notes(box(layer_thickness=5e-3, sorbent_mass=20.0), sorbent("licl_gel"))
    assert "There is no layered depth to compare with: its sheet knows no pores between grains" in said
    (said,) = depth_notes(Hybrid(layer_thickness=10e-3, sorbent_mass=42.0), GEL)
    assert "There is no layered depth to compare with: this kind has none" in said


def test_ranges_are_looked_up_by_how_slow_a_layer_is():
    assert measured_range(0.1) == MEASURED[0][1:]
    assert measured_range(3.0) == next(row for row in MEASURED if row[0] >= 3.0)[1:]
    assert measured_range(1e6) == MEASURED[-1][1:]


def test_run_says_what_the_layered_box_gives():
    """20 mm of gel on the coast: 0.76 L/m2 a day as one, 1.02 in cells (docs/theory/layered_bed.md)."""
    deep = PassiveBox(layer_thickness=20e-3, sorbent_mass=56.0)
    entry = HarvesterCase("Deep box", "passive_box", SILICA, 1, deep, GEL)
    assert too_deep(entry.design, GEL)
    layered = layered_litres(entry, site_of("coast"))
    assert layered == pytest.approx(1.024, rel=0.02)
    (said,) = bed_notes(entry, _in_cells(0.764, layered, "aperture"))
    assert 'With depth = "layered" the same box gives 1.02 instead of 0.764' in said
    assert said.endswith("(+34 %): set it in the case.")
    assert layered_litres(replace(entry, design=filled(3e-3)), site_of("coast")) is None
