"""The search: an optimum found again that brute force knows, limits, the record, and the front."""

import itertools
import json
import math
from dataclasses import replace

import numpy as np
import pytest

from box_cases import SILICA, box, site_of
from welkinwell.errors import InputError
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.power_cuts import with_power_cuts
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.optimise import Limits, Record, Search, Tried, best_design, evolve_front, front
from welkinwell.studies.plant_figures import PlantFigures
from welkinwell.studies.variables import field, from_text, variables_of
from welkinwell.supply.cost import default_cost
from welkinwell.supply.sound_level import SoundPlace

MASS = ("sorbent_mass", 0.5, 16.0)
GAP = ("rear_gap", 0.01, 0.15)


class Bowl(Search):
    """A search whose litres are a known function of mass and gap, so that its optimum is known too."""

    def _figures(self, sorbent_name, values, whole):
        self.count = getattr(self, "count", 0) + 1
        mass, gap = values
        litres = 2.0 - (math.log(mass / 6.0)) ** 2 - 40.0 * (gap - 0.05) ** 2
        litres *= 1.0 if sorbent_name == SILICA else 0.5
        return {"litres": litres, "mass": mass, "electricity": None}

    def litres_and_slopes(self, sorbent_name, shares):
        def litres(row):
            values = [v.at(x) for v, x in zip(self.variables, row, strict=True)]
            return self._figures(sorbent_name, values, True)["litres"]

        steps = 1e-6 * np.eye(len(shares))
        return litres(shares), np.array([(litres(shares + e) - litres(shares - e)) / 2e-6 for e in steps])


def bowl(limits=None, record=None):
    design = box()
    variables = [field(design, *MASS), field(design, *GAP)]
    materials = [sorbent(SILICA), sorbent("zeolite_13x")]
    return Bowl(design, materials, site_of("coast"), variables, limits=limits, record=record)


def test_the_optimum_that_a_formula_has_is_found_again():
    found = best_design(bowl(), seed=2)
    assert found.best.sorbent == SILICA
    assert found.best.values[0] == pytest.approx(6.0, rel=0.05)
    assert found.best.values[1] == pytest.approx(0.05, abs=0.01)
    assert found.best.numbers["litres"] == pytest.approx(2.0, abs=0.01)
    assert found.order[0][0] == SILICA


def test_a_limit_is_kept_and_binds():
    """The best under 3 kg/m2 lies on the limit."""
    found = best_design(bowl(Limits({"mass": (None, 3.0)})), seed=2)
    assert 2.8 < found.best.values[0] <= 3.0


def test_a_design_that_keeps_its_limits_comes_before_one_that_passes_them_by_a_hair():
    search = bowl(Limits({"mass": (None, 3.0)}))
    over = Tried(SILICA, (3.0000001, 0.05), {"litres": 1.6, "mass": 3.0000001})
    under = Tried(SILICA, (2.9, 0.05), {"litres": 1.5, "mass": 2.9})
    assert search.cost(over) < search.cost(under)
    assert min((over, under), key=search.order) is under


def test_limits_that_cannot_hold_are_refused():
    with pytest.raises(InputError, match="least below most"):
        bowl(Limits({"mass": (4.0, 3.0)}))
    with pytest.raises(InputError, match="one of litres"):
        bowl(Limits({"weight": (None, 3.0)}))
    with pytest.raises(InputError, match="limits that some design keeps") as told:
        best_design(bowl(Limits({"litres": (50.0, None), "mass": (None, 9.0)})), seed=2)
    words = str(told.value)
    assert "--least-litres 50 L/m2 a day with --most-mass 9 kg/m2" in words
    assert "The most litres found under --most-mass 9 kg/m2: " in words and "{" not in words


def test_a_stopped_search_goes_on_from_its_record(tmp_path):
    path = tmp_path / "designs.jsonl"
    first = bowl(record=path)
    one = best_design(first, seed=2)
    lines = path.read_text().splitlines()
    path.write_text("\n".join(lines[: len(lines) // 2]) + "\n" + '{"sorbent": "sil')  # stopped within a line
    second = bowl(record=path)
    two = best_design(second, seed=2)
    assert two.best == one.best
    assert 0 < second.count < first.count
    other = tmp_path / "other.jsonl"
    other.write_text(json.dumps({"about": "something else"}) + "\n")
    with pytest.raises(InputError, match="another search"):
        bowl(record=other)


def the_same(design):
    """What the figures of a search's designs hang on, to be changed one by one."""
    figures = PlantFigures("passive_box", default_cost(), None, 0.0, 0.0, 300.0, 4, SoundPlace())
    return {
        "design": design, "sorbents": [sorbent(SILICA), sorbent("zeolite_13x")], "site": site_of("coast"),
        "variables": [field(design, *MASS), field(design, *GAP)], "own_figures": figures,
    }  # fmt: skip


def other_price(asked):
    rows = default_cost().rows
    dearer = replace(rows["device_price"], value=10.0 * rows["device_price"].value)
    choices = replace(default_cost(), rows={**rows, "device_price": dearer})
    return {"own_figures": replace(asked["own_figures"], choices=choices)}


def other_sheet(asked):
    gel, zeolite = asked["sorbents"]
    return {"sorbents": [replace(gel, row=gel.adjusted_row(rate_factor=2.0)), zeolite]}


@pytest.mark.parametrize(
    ("change", "named"),
    [
        (other_price, "another table of prices, tank, power or sound"),
        (lambda a: {"own_figures": replace(a["own_figures"], tank=500.0)}, "another table of prices"),
        (
            lambda a: {"own_figures": replace(a["own_figures"], sound=SoundPlace(distance=3.0))},
            "another table of prices",
        ),
        (lambda a: {"own_figures": None}, "another table of prices"),
        (lambda a: {"sorbents": a["sorbents"][:1]}, "another list of sorbents"),
        (other_sheet, "another list of sorbents"),
        (
            lambda a: {"site": surroundings(a["site"].climate.assign_attrs(latitude=-20.0))},
            "another site or weather",
        ),
        (
            lambda a: {"site": surroundings(a["site"].climate.assign(albedo=("time", np.full(8760, 0.5))))},
            "another site or weather",
        ),
        (
            lambda a: {"site": surroundings(with_power_cuts(a["site"].climate, np.arange(8760) % 24 > 20))},
            "another site or weather",
        ),
        (lambda a: {"variables": a["variables"][::-1]}, "another list of ranges"),
        (lambda a: {"design": box(tilt=0.1)}, "another design"),
    ],
)
def test_a_record_of_other_figures_is_refused(tmp_path, change, named):
    """A folder that was searched with other prices, sorbents or weather holds figures of other designs."""
    path = tmp_path / "designs.jsonl"
    asked = the_same(box())
    Bowl(**asked, record=path).tried(SILICA, (0.5, 0.5))
    reordered = Bowl(**{**asked, "sorbents": asked["sorbents"][::-1]}, record=path)
    assert len(reordered.record.found) == 1
    with pytest.raises(InputError, match="another search") as told:
        Bowl(**{**asked, **change(asked)}, record=path)
    assert named in str(told.value) and "a new folder" in str(told.value)
    assert str(told.value).count("another") == 2  # nothing else is blamed


def test_the_days_do_not_hang_on_the_order_of_the_sorbents():
    asked = the_same(box())
    one, other = Bowl(**asked), Bowl(**{**asked, "sorbents": asked["sorbents"][::-1]})
    assert np.array_equal(one.days.site.climate["time"], other.days.site.climate["time"])


def test_limits_are_named_as_they_are_asked_for():
    every = Limits({key: (None, 1.0) for key in ("roof_load", "sound_level")}).in_words()
    assert every == "--most-roof-load 1 kg/m2 with --most-sound 1 dB(A)"


def test_the_front_by_hand():
    def tried(mass, litres):
        return Tried("a", (mass,), {"mass": mass, "litres": litres})

    cloud = [tried(1, 1.0), tried(2, 0.9), tried(2, 1.5), tried(3, 1.5), tried(4, 2.0), tried(1, 0.8)]
    assert [(t.numbers["mass"], t.numbers["litres"]) for t in front(cloud, "mass")] == [
        (1, 1.0),
        (2, 1.5),
        (4, 2.0),
    ]


def test_an_evolved_front_lies_on_the_formula():
    """At every mass the best litres are those with the best gap, up to 6 kg/m2."""
    kept = evolve_front(bowl(), SILICA, "mass", generations=20, seed=1)
    assert len(kept) > 8
    gaps = [2.0 - math.log(t.values[0] / 6.0) ** 2 - t.numbers["litres"] for t in kept]
    assert np.median(gaps) < 0.02
    assert max(t.values[0] for t in kept) < 6.6


def test_money_asks_for_prices():
    with pytest.raises(InputError, match="a case with its prices"):
        bowl(Limits({"budget": (None, 100.0)}))
    design = box()
    with pytest.raises(InputError, match="litres or cost"):
        Search(design, [sorbent(SILICA)], site_of("coast"), [field(design, *MASS)], objective="beauty")


def test_the_cheapest_litre_is_another_design():
    """Each kg costs 1 beside 4 for the rest: by hand the least of (4 + m) / (2 - ln(m/6)^2)."""

    def own(design, material, litres, electricity):
        return {"cost": None}

    class Priced(Bowl):
        def _figures(self, sorbent_name, values, whole):
            found = super()._figures(sorbent_name, values, whole)
            litres = found["litres"]
            return {**found, "cost": (4.0 + found["mass"]) / litres if litres > 0.0 else None}

    design = box()
    variables = [field(design, *MASS), field(design, *GAP)]
    search = Priced(design, [sorbent(SILICA)], site_of("coast"), variables, objective="cost", own_figures=own)
    found = best_design(search, seed=2)
    masses = np.linspace(0.5, 16.0, 20000)
    by_hand = ((4.0 + masses) / np.maximum(2.0 - np.log(masses / 6.0) ** 2, 1e-9)).min()
    assert found.best.numbers["cost"] == pytest.approx(by_hand, rel=0.01)
    assert found.best.values[0] < 5.0


class Thirsty(Bowl):
    """A bowl in which only designs of more than 4 kg/m2 give water, each litre for 1 kWh and 2 in money."""

    def _figures(self, sorbent_name, values, whole):
        found = super()._figures(sorbent_name, values, whole)
        if found["mass"] > 4.0:
            return {**found, "electricity": 1.0, "cost": 2.0}
        return {**found, "litres": 0.0, "electricity": None, "cost": None}


def thirsty(limits, low=0.5, high=16.0, objective="litres"):
    design = box()
    variables = [field(design, "sorbent_mass", low, high), field(design, *GAP)]
    return Thirsty(
        design, [sorbent(SILICA)], site_of("coast"), variables, limits=Limits(limits), objective=objective,
        own_figures=lambda *of: {},
    )  # fmt: skip


@pytest.mark.parametrize(("key", "most", "option"), [("cost", 1.5, "--most-cost"),
                                                     ("electricity", 0.9, "--most-electricity")])  # fmt: skip
def test_a_design_without_water_keeps_no_limit_on_a_litre(key, most, option):
    """Its litre has no cost; it was taken to cost nothing, and the search answered with a dry design."""
    with pytest.raises(InputError, match=f"None of .* designs kept {option} {most}"):
        best_design(thirsty({key: (None, most)}), seed=2)
    assert best_design(thirsty({key: (None, most + 1.0)}), seed=2).best.numbers["litres"] > 1.9
    dry = {"litres": 0.0, "mass": 1.0, "electricity": None, "cost": None, "sound_level": None}
    assert Limits({key: (None, most)}).broken(dry) > 1e3
    assert Limits({key: (0.1, None), "sound_level": (None, 40.0)}).broken(dry) == 0.0


def test_no_litre_is_the_cheapest_where_there_is_none():
    with pytest.raises(InputError, match="a design that gives water"):
        best_design(thirsty({}, 0.5, 3.9, "cost"), seed=2)
    found = best_design(thirsty({"mass": (None, 3.0)}), seed=2)
    assert found.best.numbers["litres"] == 0.0  # nothing on a litre was asked for


@pytest.mark.long
def test_a_real_search_is_no_worse_than_a_grid():
    """Two sizes of the starter box at the coast: brute force on a grid, and a search (minutes)."""
    design, material, site = box(), sorbent(SILICA), site_of("coast")
    variables = [field(design, *MASS), field(design, *GAP)]
    search = Search(design, [material], site, variables)
    grid = [
        search.tried(SILICA, shares)
        for shares in itertools.product((0.2, 0.4, 0.6, 0.8, 1.0), (0, 0.2, 0.5, 1))
    ]
    best_of_grid = max(t.numbers["litres"] for t in grid)
    again = Search(design, [material], site, variables)
    found = best_design(again, seed=1)
    by_days = again.tried(SILICA, again.shares_of(found.best))  # as the grid was: the whole year gives less
    assert by_days.numbers["litres"] >= best_of_grid - 0.005


def test_variables_from_text():
    design = box()
    read = from_text(design, "layer_thickness=1 mm..6 mm")
    assert (read.low, read.high) == pytest.approx((1e-3, 6e-3))
    assert read.at(read.share(3e-3)) == pytest.approx(3e-3)
    for text, said in (
        ("layer_thicknes=1 mm..6 mm", "Did you mean 'layer_thickness'"),
        ("layer_thickness=1 mm", "low..high"),
        ("layer_thickness=6 mm..1 mm", "rising range"),
        ("tilt=0 deg..120 deg", "inside the field's bounds"),
    ):
        with pytest.raises(InputError, match=said):
            from_text(design, text)
    assert len(variables_of(design)) == 6


def test_a_record_that_was_cut_off_in_a_line_goes_on_in_a_new_one(tmp_path):
    path = tmp_path / "designs.jsonl"
    about = {"site": "a"}
    first, second, third = (Tried("gel", (float(n),), {"litres": 1.0}, False) for n in range(3))
    Record(path, about).add(first)
    whole = path.read_text()
    with path.open("a") as file:
        file.write('{"sorbent": "gel", "values": [1.')  # killed here
    again = Record(path, about)
    assert path.read_text() == whole
    assert list(again.found.values()) == [first]
    again.add(second)
    again.add(third)
    assert list(Record(path, about).found.values()) == [first, second, third]
