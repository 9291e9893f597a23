"""The search against brute force over three sizes of the starter box, free and under the case's own budget.

`python -m benchmarks.brute_force` does it over all six sizes and a finer grid.
"""

import json

import pytest
from benchmarks.brute_force import CASE, QUICK, RESULTS, BruteForce, compared, search_of

from welkinwell.case import read_case
from welkinwell.plants.one_plant import plant_of
from welkinwell.studies import optimise
from welkinwell.studies.optimise import Limits


@pytest.fixture(scope="module")
def about():
    return plant_of(read_case(CASE))


def test_the_search_finds_what_brute_force_finds(about, monkeypatch):
    """A smaller search than the command's: 12 designs through 6 generations, 1 % of the litres."""
    monkeypatch.setattr(optimise, "POPULATION", 12)
    monkeypatch.setattr(optimise, "GENERATIONS", 6)
    found = compared(about, QUICK, 4, 1, None, lambda line: None)
    for task in ("free", "budget_of_the_case"):
        ratio = found[task]["litres_of_the_search_over_brute_force"]
        assert 0.99 < ratio["through_the_year"] < 1.05, task
        assert found[task]["apart_in_shares_of_the_range"]["layer_thickness"] < 0.1
    free, bound = (found[task]["search"] for task in ("free", "budget_of_the_case"))
    budget = found["budget_of_the_case"]["limits"]["budget"]
    assert 0.995 * budget < bound["figures"]["budget"] <= budget < free["figures"]["budget"]
    assert bound["litres_through_the_year"] < free["litres_through_the_year"]


def test_a_design_is_brought_onto_the_limit(about):
    """Ten kg/m2 on six m2 at 700 kg/m3 of silica gel: 10/(6 x 700) m thick, whatever the layer was."""
    search = search_of(about, QUICK)
    brute = BruteForce(search, Limits({"mass": (None, 10.0)}), lambda line: None)
    layer, bed, _ = search.variables
    row = brute.on_the_limit((1.0, bed.share(6.0), 0.5))
    density = about.entry.sorbent.bulk_density
    assert layer.at(row[0]) == pytest.approx(10.0 / (6.0 * density), rel=1e-6)
    assert row[1:] == (bed.share(6.0), 0.5)
    thin = (0.0, 0.0, 0.0)
    assert brute.on_the_limit(thin) == thin
    none = BruteForce(search, Limits({"mass": (None, 0.01)}), lambda line: None)
    assert none.on_the_limit((1.0, 1.0, 1.0)) is None


def test_what_was_measured_stands_written_down():
    """Six sizes: the file of the command, and that its budget binds."""
    told = json.loads(RESULTS.read_text(encoding="utf-8"))
    assert {"date", "machine", "wall_seconds"} <= set(told)
    for task in ("free", "budget_of_the_case"):
        assert len(told[task]["apart_in_shares_of_the_range"]) == 6
        assert told[task]["brute_force"]["designs_by_days"] >= 5**6
    budget = told["budget_of_the_case"]["limits"]["budget"]
    assert told["free"]["brute_force"]["figures"]["budget"] > budget
