"""Layers that can exist: mass, thickness and area against a sorbent's density as installed."""

import math
from dataclasses import replace

import pytest

from box_cases import SILICA, box, site_of
from welkinwell.errors import InputError
from welkinwell.harvesters.active_bed.design import ActiveBed
from welkinwell.harvesters.changes import other_loading
from welkinwell.harvesters.desiccant_wheel.design import DesiccantWheel
from welkinwell.harvesters.hybrid.design import Hybrid
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.layer_density import (
    DENSEST_PACKING,
    FORMS,
    densest,
    layer_notes,
    layer_of,
    layer_problems,
    skeletal_density,
    usual,
)
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.two_stage_box.design import TwoStageBox
from welkinwell.simulation import prepare
from welkinwell.sorbents.sorbent import sheet_names, sorbent
from welkinwell.studies.variables import bed_volume

GEL = sorbent(SILICA)
LAYERED = (PassiveBox, TwoStageBox, Hybrid)
BEDS = (*LAYERED, ActiveBed, DesiccantWheel)


def test_the_packing_is_that_of_kepler():
    """Hales2005: no packing of equal spheres fills more than pi/sqrt(18) = 0.74048... of the space."""
    assert DENSEST_PACKING == pytest.approx(0.74048, abs=5e-6)


@pytest.mark.parametrize("kind", LAYERED)
def test_eight_kilograms_in_a_millimetre_on_four_m2_cannot_be(kind):
    """2,000 kg/m3 of a gel whose own solid has 2,200: more than spheres without any pore can pack."""
    design = kind(sorbent_mass=8.0, layer_thickness=1e-3, bed_area=4.0)
    (problem,) = layer_problems(design, GEL)
    assert problem.where == "sorbent_mass"
    assert problem.given == "8 kg/m2 in 1 mm on 4 m2 per m2 of aperture (2,000 kg/m3)"
    assert problem.expected.startswith(
        "at most 1,629 kg/m3 of Silica gel, regular density: 0.74, the densest"
    )
    assert "skeletal density, 2,200 kg/m3" in problem.expected
    assert "sorbent_mass = 2.8 kg/m2, layer_thickness = 2.86 mm or bed_area = 11.4" in problem.advice
    assert layer_notes(design, GEL) == []


def test_what_cannot_be_is_refused_before_it_is_simulated():
    with pytest.raises(InputError, match=r"0\.74, the densest packing of equal spheres"):
        prepare(box(sorbent_mass=8.0, layer_thickness=1e-3), GEL, site_of("coast"))


def test_fifty_millimetres_are_told_with_what_would_fit_and_the_forms():
    design = PassiveBox(sorbent_mass=8.0, layer_thickness=50e-3, bed_area=4.0)
    assert layer_problems(design, GEL) == []
    (said,) = layer_notes(design, GEL)
    assert said.startswith("8 kg/m2 in 50 mm on 4 m2 per m2 of aperture (40 kg/m3) is 0.057 times the bulk")
    assert "usual are 350 to 910 kg/m3" in said
    assert "sorbent_mass = 140 kg/m2, layer_thickness = 2.86 mm or bed_area = 0.229" in said
    assert 'layer_form = "carrier" (10 to 910 kg/m3' in said
    assert "air-filled pores" in said
    assert "coating" not in said and "pellets" not in said
    assert layer_notes(replace(design, layer_form="carrier"), GEL) == []


@pytest.mark.parametrize(("times", "told"), [(0.49, 1), (0.51, 0), (1.0, 0), (1.29, 0), (1.31, 1)])
def test_half_to_one_and_a_third_of_the_bulk_density_pass(times, told):
    design = PassiveBox(sorbent_mass=times * GEL.bulk_density * 12e-3, layer_thickness=3e-3, bed_area=4.0)
    assert len(layer_notes(design, GEL)) == told
    assert layer_problems(design, GEL) == []


def test_each_value_that_would_fit_does():
    design = PassiveBox(sorbent_mass=8.0, layer_thickness=20e-3, bed_area=4.0)
    ratio = layer_of(design).density / GEL.bulk_density
    for mended in (
        replace(design, sorbent_mass=8.0 / ratio),
        replace(design, layer_thickness=20e-3 * ratio),
        replace(design, bed_area=4.0 * ratio),
    ):
        assert layer_of(mended).density == pytest.approx(GEL.bulk_density)
        assert layer_notes(mended, GEL) == []


def test_forms_change_what_is_usual():
    """A coating up to its grains, pellets up to spheres of them, a carrier down to a foam."""
    material = sorbent("mof_303")
    bulk, grain = material.bulk_density, material.grain_density
    assert usual(material) == usual(material, "grains") == pytest.approx((0.5 * bulk, 1.3 * bulk))
    assert usual(material, "coating")[1] == pytest.approx(grain)
    assert usual(material, "pellets")[1] == pytest.approx(DENSEST_PACKING * grain)
    assert usual(material, "carrier") == pytest.approx((10.0, 1.3 * bulk))


def test_channels_and_wheels_hold_coatings():
    """Both say by their kind that the sorbent coats a wall; no form need be declared for it."""
    material = sorbent("mof_303")
    for design in (ActiveBed(form="channels"), DesiccantWheel()):
        layer = layer_of(design)
        assert layer.form == "coating"
        dense = replace(design, sorbent_mass=0.95 * material.grain_density * layer.volume)
        assert layer_problems(dense, material) == layer_notes(dense, material) == []
        thick = replace(dense, layer_form="grains")
        assert len(layer_notes(thick, material)) == 1


def test_a_bed_of_grains_has_no_area_to_change():
    design = ActiveBed(sorbent_mass=60.0)
    (problem,) = layer_problems(design, GEL)
    assert problem.given == "60 kg/m2 in 30 mm per m2 of bed face (2,000 kg/m3)"
    assert "sorbent_mass = 21 kg/m2 or bed_depth = 85.7 mm" in problem.advice


def test_every_kind_with_a_bed_is_asked():
    for name, listed in KINDS.items():
        design = listed.load()()
        if layer_of(design) is None:
            assert not hasattr(design, "layer_thickness") and not hasattr(design, "coating_thickness"), name
            continue
        assert type(design) in BEDS
        assert layer_problems(design, GEL) == layer_notes(design, GEL) == []
        assert bed_volume(design) == pytest.approx(layer_of(design).volume)
        dense = replace(design, sorbent_mass=2000.0 * layer_of(design).volume)
        assert len(layer_problems(dense, GEL)) == 1


@pytest.mark.parametrize("key", sheet_names())
def test_every_sheet_can_lie_at_its_own_bulk_density(key):
    material = sorbent(key)
    limit = densest(material).density
    low, high = usual(material)
    assert low < material.bulk_density <= high * (1 + 1e-9) <= limit * (1 + 2e-9)
    design = PassiveBox(sorbent_mass=material.bulk_density * 4e-3, layer_thickness=1e-3, bed_area=4.0)
    assert layer_problems(design, material) == layer_notes(design, material) == []
    for form in FORMS:
        assert usual(material, form)[1] <= limit


@pytest.mark.parametrize("key", [key for key in sheet_names() if sorbent(key).layer_porosity > 0.0])
def test_every_sheet_with_voids_states_its_skeleton(key):
    """And the estimate from its grains and pores, where a sheet has none, comes near enough to be of use."""
    material = sorbent(key)
    stated, known = skeletal_density(material)
    assert known and stated >= material.grain_density
    estimate, known = skeletal_density(replace(material, skeletal_density=None))
    assert not known
    assert 0.45 * stated < estimate < 1.7 * stated  # low where pores stay dry, high where grains swell
    assert DENSEST_PACKING * estimate >= material.grain_density * (1 - 1e-12)


def test_a_sheet_without_a_skeleton_says_so():
    material = replace(GEL, skeletal_density=None)
    assert "its sheet gives none: estimated from its grains less the pores" in densest(material).why
    # 1/1250 m3/kg of grain less 0.36 to 0.38 L/kg of pores leaves the 2,200 kg/m3 of silica
    assert skeletal_density(material)[0] == pytest.approx(2200.0, rel=0.08)


def test_brines_go_by_their_strength():
    """Dry salt in saturated brine at 90 degC: volumes of salt and water add up."""
    brine = sorbent("licl_brine")
    limit = densest(brine)
    assert "strongest brine of the cycle" in limit.why and "saturated at" in limit.why
    water = brine.saturated_loading(brine.regeneration_range[1])
    salt = (1.0 / 1251.8 - 0.6 / 997.0) / 0.4
    assert limit.density == pytest.approx(1.0 / (salt + water / 997.0))
    assert brine.bulk_density < limit.density < 1000.0
    dense = PassiveBox(sorbent_mass=1100.0 * 4e-3, layer_thickness=1e-3, bed_area=4.0)
    assert "of dry salt" in layer_problems(dense, brine)[0].advice


def test_a_gel_may_be_stated_dry_or_swollen():
    gel = sorbent("licl_gel")
    low, high = usual(gel)
    held = float(gel.loading(298.15, 0.9))
    assert low == pytest.approx(1.0 / (1.0 / 2000.0 + held / 997.0))
    assert high == densest(gel).density == 2000.0


def test_a_better_sorbent_counts_as_more_of_it_and_still_fits():
    """Studies triple a capacity as three times the mass on the same solid: no layer becomes impossible."""
    for key in (SILICA, "licl_brine", "licl_gel"):
        material = sorbent(key)
        design = PassiveBox(sorbent_mass=material.bulk_density * 12e-3, layer_thickness=3e-3, bed_area=4.0)
        more, better = other_loading(design, material, 3.0)
        assert layer_problems(more, better) == layer_notes(more, better) == []
        assert math.isclose(layer_of(more).density, better.bulk_density)
