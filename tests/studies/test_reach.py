"""What a target takes: the shortest way on a plane solved by hand, bounds that forbid, words for outcomes."""

from dataclasses import replace

import numpy as np
import pytest

from box_cases import SILICA, box, site_of
from welkinwell.errors import InputError
from welkinwell.harvesters.active_bed.design import ActiveBed
from welkinwell.limits.bound import Bound
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies import reach as module
from welkinwell.studies.reach import FORBIDDEN, NOT_FOUND, REACHED, reach
from welkinwell.studies.variables import Variable, field, from_text, variables_of

VARIABLES = (("rear_gap", 0.01, 0.03), ("edge_loss", 0.1, 0.3), ("condenser_mass", 4.0, 8.0))
SLOPES = np.array([2.0, 1.0, 0.0])


@pytest.fixture
def plane(monkeypatch):
    """Litres that rise straight with the shares: 1 + slopes (x - start)."""
    design = box(rear_gap=0.02, edge_loss=0.2, condenser_mass=6.0)
    variables = [field(design, *one) for one in VARIABLES]
    monkeypatch.setattr(module._Task, "litres", lambda self, x: 1.0 + float(SLOPES @ (np.asarray(x) - 0.5)))
    return design, variables


def ask(plane, target, **more):
    design, variables = plane
    return reach(design, sorbent(SILICA), site_of("coast"), target, variables=variables, **more)


def test_the_shortest_way_on_a_plane(plane):
    """From 1.0 to 1.5 along the slopes: shares move by 0.5 slopes / |slopes|^2 = (0.2, 0.1, 0)."""
    found = ask(plane, 1.5)
    assert found.outcome == REACHED
    assert found.got == pytest.approx(1.5, abs=0.01)
    assert found.distance == pytest.approx(0.5 / np.sqrt(5.0), rel=0.03)
    assert [m.variable.key for m in found.moved] == ["rear_gap", "edge_loss"]
    assert found.moved[0].after == pytest.approx(0.02 + 0.2 * 0.02, rel=0.01)
    assert found.moved[0].alone == pytest.approx(1.4, abs=0.01)


def test_a_bound_on_a_variable_turns_the_way(plane):
    """To 2.4: the first variable stops at its end (+0.5 gives 1.0), the second goes the other 0.4."""
    found = ask(plane, 2.4)
    assert found.outcome == REACHED
    assert found.moved[0].after == pytest.approx(0.03)
    assert found.got == pytest.approx(2.4, abs=0.02)


def test_what_cannot_be_reached_is_not_found_and_no_proof(plane):
    found = ask(plane, 4.0)
    assert found.outcome == NOT_FOUND
    assert found.got == pytest.approx(2.5, abs=0.01)  # both ends: 1 + 2 x 0.5 + 1 x 0.5
    assert "no proof" in found.words


def test_a_bound_of_the_place_forbids(plane):
    bound = Bound("heat", "heat of the sun", 2.0, "L/m2/day", "", "", ("passive_box",))
    found = ask(plane, 2.2, bounds=[bound])
    assert found.outcome == FORBIDDEN
    assert "heat of the sun" in found.words
    other = Bound("coil", "a bound of coils", 2.0, "L/m2/day", "", "", ("cooling_coil",))
    assert ask(plane, 2.2, bounds=[other]).outcome == REACHED


def test_nothing_has_to_change_where_the_target_is_met(plane):
    found = ask(plane, 1.0)
    assert found.outcome == REACHED
    assert found.moved == []
    assert "Nothing has to change" in found.words


@pytest.mark.parametrize("target", [0.0, -1.0, float("nan")])
def test_an_impossible_target_is_refused(plane, target):
    with pytest.raises(InputError, match="litres above zero"):
        ask(plane, target)


def test_a_real_target_is_met_by_the_design_that_is_given():
    """One size of the starter box: a narrower gap lets more vapour through."""
    design, material, site = box(), sorbent(SILICA), site_of("coast")
    found = reach(design, material, site, 1.5, variables=[field(design, "rear_gap", 0.01, 0.15)])
    assert found.outcome == REACHED
    assert found.design.rear_gap < design.rear_gap


def test_a_bed_that_grows_holds_more_sorbent():
    """The sorbent's packing stays: never a layer denser than the sheet's grains lie in it."""
    design, material = box(), sorbent(SILICA)
    sizes = [field(design, "layer_thickness", 0.5e-3, 8e-3), field(design, "bed_area", 1.0, 8.0)]
    task = module._Task(design, material, site_of("coast"), sizes, module.LITRES)
    packed = design.sorbent_mass / (design.layer_thickness * design.bed_area)
    for shares in ([0.0, 0.0], [0.4, 0.9], [1.0, 1.0]):
        built, _ = task.built(np.array(shares))
        density = built.sorbent_mass / (built.layer_thickness * built.bed_area)
        assert density == pytest.approx(packed)
        assert density <= material.bulk_density


def test_a_mass_that_is_varied_by_name_stays_within_its_layers():
    design, material = box(), sorbent(SILICA)
    sizes = [field(design, "layer_thickness", 1e-3, 8e-3), field(design, "sorbent_mass", 1.0, 60.0)]
    task = module._Task(design, material, site_of("coast"), sizes, module.LITRES)
    built, _ = task.built(np.array([0.0, 1.0]))
    assert built.sorbent_mass == pytest.approx(material.bulk_density * 1e-3 * design.bed_area)


def test_another_sorbent_fills_the_bed_by_its_own_bulk_density():
    design, material, other = box(), sorbent(SILICA), sorbent("mof_303")
    held = module._Task(design, material, site_of("coast"), [], module.LITRES).holding(other)
    assert held.design.sorbent_mass == pytest.approx(
        design.sorbent_mass * other.bulk_density / material.bulk_density
    )


def test_a_move_that_is_not_needed_is_taken_back(plane):
    design, variables = plane
    task = module._Task(design, sorbent(SILICA), site_of("coast"), variables, module.LITRES)
    start = np.full(3, 0.5)
    at, got = module._pruned(task, start, np.array([0.9, 0.5, 0.7]), 1.8, 1.79)
    assert at == pytest.approx([0.9, 0.5, 0.5])
    assert got == pytest.approx(1.8)


def test_a_sorbent_that_a_bound_leaves_open_is_tried_though_its_own_is_forbidden(plane):
    bound = Bound("one", "one effect", 1.2, "L/m2/day", "", "", ("passive_box",))
    free, shut = sorbent("mof_303"), sorbent("uio_66")
    found = ask(
        plane, 2.2, bounds=[bound], sorbents=[free, shut],
        bounds_with=lambda one: [bound] if one is shut else [],
    )  # fmt: skip
    assert found.outcome != FORBIDDEN
    assert [one.key for one in found.others] == ["mof_303"]
    closed = ask(plane, 2.2, bounds=[bound], sorbents=[shut], bounds_with=lambda one: [bound])
    assert closed.outcome == FORBIDDEN
    assert "other sorbents" in closed.words and closed.bound is bound


def test_a_forbidden_target_costs_no_simulation(monkeypatch):
    def never(*args, **more):
        raise AssertionError("simulated")

    monkeypatch.setattr(module, "simulate", never)
    bound = Bound("one", "one effect", 1.2, "L/m2/day", "", "", ("passive_box",))
    found = reach(box(), sorbent(SILICA), site_of("coast"), 30.0, bounds=[bound], now=0.7)
    assert found.outcome == FORBIDDEN
    assert found.now == 0.7


def test_more_than_four_changes_are_counted():
    design = box()
    names = ("tilt", "rear_gap", "bed_area", "layer_thickness", "edge_loss", "condenser_mass")
    moved = [module.Moved(field(design, name, 0.01, 9.0), 1.0, 2.0, 1.0) for name in names]
    words = module._words(REACHED, 2.0, 1.0, 2.0, moved, module.LITRES, "")
    assert words.endswith("and 2 more changes.")


def test_a_sorbent_that_was_walked_from_is_named_where_the_target_is_missed():
    words = module._words(NOT_FOUND, 4.4, 1.2, 2.7, [], module.LITRES, "Salt, crystals")
    assert "came to 2.7, with Salt, crystals as the sorbent, and not to 4.4" in words


def test_a_range_that_misses_the_design_is_refused_by_name():
    """It was clipped into the range: the answer told of another design, and of a target met that is not."""
    design = box(tilt=np.radians(70.0))
    with pytest.raises(InputError) as told:
        reach(
            design, sorbent(SILICA), site_of("coast"), 1.3,
            variables=[field(design, "tilt", 0.0, np.radians(30.0)), field(design, "rear_gap", 0.01, 0.15)],
        )  # fmt: skip
    assert str(told.value) == (
        "vary, tilt: got 0 deg..30 deg; expected a range that holds the 70 deg of the case. "
        "Widen it, or set tilt inside it in the case."
    )


def test_a_plant_outside_its_range_is_refused_too():
    modules = Variable(
        "modules", "Modules", "1", 5.0, 10.0, True, "plant", lambda d, s: 20.0, lambda d, s, x: (d, s)
    )
    aim = replace(module.LITRES, plant=(modules,))
    with pytest.raises(
        InputError, match=r"vary, modules: got 5\.\.10; expected a range that holds the 20 of"
    ):
        reach(box(), sorbent(SILICA), site_of("coast"), 1.3, aim=aim, variables=[])


def test_ranges_of_nobody_hold_the_design_as_it_stands():
    """A thick layer, a steep box and a large condenser lie outside the usual ranges."""
    design = box(tilt=1.3, layer_thickness=0.012, condenser_outer_area=7.0, rear_gap=0.15)
    material = sorbent(SILICA)
    task = module._Task(design, material, None, variables_of(design), module.LITRES)
    built, _ = task.built(task.start())
    for key in ("tilt", "layer_thickness", "condenser_outer_area", "rear_gap", "sorbent_mass"):
        assert getattr(built, key) == pytest.approx(getattr(design, key), rel=1e-9), key
    usual = {one.key: (one.low, one.high) for one in variables_of(box())}
    assert usual["tilt"] == (0.0, np.radians(60.0)) and usual["layer_thickness"] == (0.5e-3, 8e-3)


def test_a_field_that_the_case_leaves_open_is_no_variable():
    with pytest.raises(InputError, match="vary, release_temperature: got a field that the case leaves open"):
        from_text(ActiveBed(), "release_temperature=60 degC..90 degC")


def test_a_short_way_is_told_in_digits_that_differ(monkeypatch):
    """The only move was less than a two-hundredth of its range: "Reached: 1.45 instead of 1.45, by ."."""
    design = box(rear_gap=0.02)
    monkeypatch.setattr(module._Task, "litres", lambda self, x: 1.446 + 2.0 * (float(x[0]) - 0.5))
    found = reach(
        design, sorbent(SILICA), site_of("coast"), 1.454, variables=[field(design, "rear_gap", 0.01, 0.03)]
    )
    assert found.outcome == REACHED and len(found.moved) == 1
    before, after = found.moved[0].texts
    assert before != after
    assert found.words.startswith("Reached: 1.454 L/m² a day instead of 1.446, by ")
    assert found.words.endswith(f" from {before} to {after}.")
    change = found.as_data()["changes"][0]
    assert (change["before"], change["after"]) == (before, after)


def test_a_target_that_is_nearly_met_is_not_told_as_met():
    words = module._words(NOT_FOUND, 1.4571, 1.2, 1.4551, [], module.LITRES, "")
    assert "from 1.2 L/m² a day the search came to 1.455 and not to 1.457" in words
    assert module.LITRES.number(1234.4) == "1,234" and module.LITRES.number(1.0) == "1"
