"""Studies make no layer that cannot exist without a word: mass follows the bed, what is left out is named."""

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.random_designs import random_device

from box_cases import SILICA, box, site_of
from welkinwell.harvesters.active_bed.design import ActiveBed
from welkinwell.harvesters.desiccant_wheel.design import DesiccantWheel
from welkinwell.harvesters.hybrid.design import Hybrid
from welkinwell.harvesters.layer_density import layer_notes, layer_of, layer_problems
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.two_stage_box.design import TwoStageBox
from welkinwell.ranking import caveats, deep_words
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies import reach
from welkinwell.studies.optimise import Search
from welkinwell.studies.rank import Bed, Ranked
from welkinwell.studies.variables import field, from_text, variables_of

GEL = sorbent(SILICA)


def search(design, variables, record=None, materials=(GEL,)):
    return Search(design, list(materials), site_of("coast"), variables, record=record)


@pytest.mark.parametrize("kind", [PassiveBox, TwoStageBox, Hybrid, ActiveBed, DesiccantWheel])
def test_the_mass_follows_the_bed_wherever_its_sizes_are_searched(kind):
    """At the ends of every kind's ranges the bed lies at its sheet's bulk density, or as the case has it."""
    design = kind()
    found = search(design, variables_of(design))
    for share in (0.0, 0.3, 1.0):
        values = [v.at(share) for v in found.variables]
        tried, material = found.design_of(SILICA, values)
        assert layer_problems(tried, material) == layer_notes(tried, material) == []
        if layer_of(tried).volume != layer_of(design).volume:
            assert layer_of(tried).density == pytest.approx(GEL.bulk_density)


def test_a_declared_form_keeps_its_density():
    design = box(layer_form="carrier", sorbent_mass=2.0, layer_thickness=10e-3)
    found = search(design, variables_of(design))
    tried, _ = found.design_of(SILICA, [v.at(0.5) for v in found.variables])
    assert layer_of(tried).density == pytest.approx(layer_of(design).density)


def test_a_candidate_that_cannot_exist_is_left_out_and_named(tmp_path):
    """22 kg/m2 in 12 L is 1,833 kg/m3: it counts as without water, is not simulated, and is told."""
    design = box()
    record = tmp_path / "designs.jsonl"
    found = search(design, [from_text(design, "sorbent_mass=4 kg/m2..22 kg/m2")], record)
    dense = found.tried(SILICA, [1.0])
    assert dense.refused.startswith("sorbent_mass: got 22 kg/m2 in 3 mm on 4 m2")
    assert dense.numbers["litres"] == 0.0
    assert "days" not in found.__dict__  # nothing was simulated to know it
    (said,) = found.left_out()
    assert said.startswith(
        f"1 designs with {SILICA} cannot be built and were left out, as sorbent_mass: got 22"
    )
    assert "0.74, the densest packing" in said
    again = search(design, found.variables, record)
    assert again.left_out() == found.left_out()


BED = Bed(16.0, 5.7e-3, np.ones(12), None, 0.1, 350.0, (290.0, 900.0), (340.0, 5e3), (0.5, 0.6),
          (0.05, 0.1), 0.2, 0.05, 0.2, 0.0, 0.0, 0.0, 0.0, None, False)  # fmt: skip


def test_rank_names_the_masses_that_it_leaves_out():
    entry = Ranked(GEL, (BED,), BED, BED, 0.1, 0.1, None, 2000.0, left_out=(64.0, 128.0))
    assert "left out, since their beds do not fit into the box: 64, 128 kg/m2" in caveats(entry)


def test_rank_says_that_a_layer_is_too_deep_and_what_cells_give():
    entry = Ranked(GEL, (BED,), BED, BED, 0.1, 0.1, None, 2000.0, filling=8.6 * 3600.0, layered=1.234)
    (said,) = deep_words(entry)
    assert said.startswith("5.7 mm take 8.6 h to fill, too deep")
    assert said.endswith('1.23 L/m2/day with depth = "layered"')
    (said,) = deep_words(replace(entry, layered=None))
    assert "no layered depth to compare with" in said
    assert deep_words(replace(entry, filling=None)) == []


def test_reach_leaves_out_a_sorbent_that_cannot_fill_the_bed_as_full():
    """A coating of twice its bulk density: a gel without voids cannot be twice as dense as its solid."""
    own = sorbent("mof_303")
    design = box(layer_form="coating", sorbent_mass=2.0 * own.bulk_density * 12e-3)
    assert layer_problems(design, own) == layer_notes(design, own) == []
    task = reach._Task(design, own, site_of("coast"), [field(design, "tilt", 0.0, 1.0)], reach.LITRES)
    cannot = [one for one in (sorbent("licl_gel"), GEL) if layer_problems(task.holding(one).design, one)]
    assert [one.key for one in cannot] == ["licl_gel"]
    assert reach._too_dense(cannot) == [
        "Left out, since no layer can be so dense of them as this bed is full: Lithium chloride gel."
    ]


def test_a_random_design_that_cannot_be_is_named():
    """Of 60 devices some are refused for their layer, and said so; the others can exist."""
    rng, refused = np.random.default_rng(5), []
    for _ in range(60):
        ready = random_device("passive_box", site_of("coast"), rng, refused)
        assert layer_problems(ready.design, ready.sorbent) == []
    assert any("densest packing of equal spheres" in words for words in refused)
