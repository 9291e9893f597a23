"""The list of published experiments: every file reads, its rules hold, a bad file is refused by name."""

from dataclasses import replace
from importlib import resources

import numpy as np
import pytest

from welkinwell.errors import ExperimentError, FileError
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.published import kinds_with_tests
from welkinwell.studies.experiment_designs import mapped_design
from welkinwell.studies.experiment_words import QUANTITIES, condition_words
from welkinwell.studies.experiments import (
    DRAWS,
    Figure,
    broken_rules,
    draw_conditions,
    library_experiments,
    read_experiment,
)

FOLDER = resources.files("welkinwell").joinpath("library/experiments")
GOOD = FOLDER.joinpath("mof_801_box_in_box.toml").read_text(encoding="utf-8")
ALL = library_experiments()


def named(case):
    return next(experiment for experiment in ALL if experiment.case == case)


def refused(tmp_path, text):
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ExperimentError) as caught:
        read_experiment(path)
    return str(caught.value).splitlines()


def test_every_file_of_the_library_reads():
    files = {entry.name for entry in FOLDER.iterdir() if entry.name.endswith(".toml")}
    assert {f"{experiment.case}.toml" for experiment in ALL} == files


def test_the_list_keeps_its_rules():
    counted = [experiment for experiment in ALL if experiment.counts]
    assert broken_rules(ALL) == []
    assert len(counted) >= 12
    assert len({experiment.kind for experiment in counted}) >= 5
    laboratories = [experiment.laboratory for experiment in counted]
    assert max(laboratories.count(name) for name in laboratories) <= 2
    for experiment in ALL:
        assert all(0.0 < figure.tolerance <= 0.5 for figure in experiment.figures)


def test_twelve_cases_over_five_kinds_stand_on_figures_that_were_read_in_their_own_source():
    sound = [
        e for e in ALL if e.counts and all(f.seen in ("source", "computed") for f in e.figures if f.judged)
    ]
    assert len(sound) >= 12
    assert len({experiment.kind for experiment in sound}) >= 5


def test_the_rules_hold_for_devices_that_gave_water_alone():
    assert broken_rules([experiment for experiment in ALL if experiment.gives_water]) == []


def test_every_kind_is_named_and_every_quantity_is_used():
    assert {experiment.kind for experiment in ALL} == set(kinds_with_tests())
    assert {figure.quantity for experiment in ALL for figure in experiment.figures} == set(QUANTITIES)
    used = {name for experiment in ALL for name in (*experiment.conditions, *experiment.design)}
    assert set(condition_words()) <= used


def test_every_condition_has_a_source_in_words_and_ranges_without_one_say_so():
    for experiment in ALL:
        for condition in (*experiment.conditions.values(), *experiment.design.values()):
            where = f"{experiment.case}, {condition.name}"
            assert len(condition.where) > 4, where
            if condition.source == "none":
                assert condition.seen == "memory", where
            if condition.drawn and not condition.options:
                assert condition.low < condition.high, where


@pytest.mark.parametrize(
    ("case", "quantity", "published"),
    [
        ("dual_stage_zeolite_box", "litres_per_m2_day", 0.77),
        ("mof_801_box_in_box", "litres_per_kg_day", 0.1),
        ("lithium_chloride_batch_box", "grams_per_day", 311.69),
        ("honeycomb_gel_box", "litres_per_m2_day", 2.9),
        ("corrugated_calcium_chloride_collector", "litres_per_m2_day", 1.5),
        ("mof_303_laboratory", "litres_per_kg_day", 1.3),
        ("mof_303_desert", "litres_per_kg_day", 0.7),
        ("heat_pump_with_coated_exchangers", "litres_per_kg_day", 9.9),
        ("heat_pump_with_coated_exchangers", "kwh_per_litre", 2.96),
        ("dew_foil_ajaccio", "mm_total", 25.6),
    ],
)
def test_the_cases_that_were_asked_for_are_there(case, quantity, published):
    figures = {figure.quantity: figure for figure in named(case).figures if figure.judged}
    assert figures[quantity].published == published


def test_figures_that_follow_from_others_agree_with_them():
    def of(case):
        found = {}
        for figure in named(case).figures:
            found.setdefault(figure.quantity, figure.published)
        return found

    ajaccio = of("dew_foil_ajaccio")
    assert ajaccio["mm_total"] == pytest.approx(767.0 / 30.0, rel=0.005)
    assert ajaccio["mm_per_dew_night"] == pytest.approx(767.0 / 30.0 / 214.0, rel=0.01)
    assert ajaccio["share_of_dew_nights"] == pytest.approx(214.0 / 478.0, rel=0.01)
    pump, design = of("heat_pump_with_coated_exchangers"), named("heat_pump_with_coated_exchangers").design
    mass = design["dry_sorbent"].value
    assert pump["grams_per_day"] == pytest.approx(1e3 * pump["litres_per_kg_day"] * mass, rel=0.005)
    power = pump["kwh_per_litre"] * 1e-3 * pump["grams_per_day"] * 1e3 / 24.0
    assert design["electric_power"].value == pytest.approx(power, rel=0.005)
    box = of("lithium_chloride_batch_box")
    mass = named("lithium_chloride_batch_box").design["dry_sorbent"].value
    assert box["grams_per_day"] == pytest.approx(1e3 * box["litres_per_kg_day"] * mass, rel=0.005)


@pytest.mark.parametrize("case", [e.case for e in ALL if e.kind == "passive_box"])
def test_every_draw_of_a_passive_box_is_a_box_that_can_be_built(case):
    for drawn in draw_conditions(named(case), number=16):
        assert isinstance(mapped_design("passive_box", drawn).design, PassiveBox)  # checked as it is made


def test_draws_stay_in_their_ranges_fill_them_evenly_and_repeat():
    experiment = named("heat_pump_with_coated_exchangers")
    drawn = draw_conditions(experiment)
    assert len(drawn) == DRAWS
    assert drawn == draw_conditions(experiment)
    assert drawn != draw_conditions(experiment, seed=2)
    for name, condition in {**experiment.conditions, **experiment.design}.items():
        values = np.array([one[name] for one in drawn])
        if not condition.drawn:
            assert np.all(values == condition.value)
            continue
        low, high = condition.low, condition.high
        share = (
            np.log(values / low) / np.log(high / low)
            if condition.logarithmic
            else (values - low) / (high - low)
        )
        assert sorted(np.floor(share * DRAWS).astype(int)) == list(range(DRAWS)), name
    sheets = [one["sorbent"] for one in drawn]
    assert {sheets.count(name) for name in experiment.sorbents} == {DRAWS // len(experiment.sorbents)}


def test_a_figure_is_met_within_its_tolerance():
    figure = Figure("litres_per_kg_day", 2.0, "=", 0.25, "none", True, "source", "made up")
    assert [figure.inside(x) for x in (1.49, 1.51, 2.49, 2.51)] == [False, True, True, False]
    at_least = replace(figure, relation=">=")
    assert [at_least.inside(x) for x in (1.49, 1.51, 2.49, 20.0)] == [False, True, True, True]


def test_broken_rules_are_named():
    few = [named("mof_801_box_in_box"), named("dew_foil_ajaccio")]
    assert any(line.startswith("2 cases count") for line in broken_rules(few))
    assert any(line.startswith("2 kinds are counted") for line in broken_rules(few))
    crowded = [replace(experiment, laboratory="one house") for experiment in ALL]
    assert any(line.startswith("one house: ") for line in broken_rules(crowded))
    assert any("title" in line for line in broken_rules([*ALL, ALL[0]]))


@pytest.mark.parametrize(
    ("old", "new", "start", "expected"),
    [
        ('place = "Scot', 'plaice = "Scot', "mine.toml: ", "'place'"),
        ('kind = "passive_box"', 'kind = "passive_boks"', "mine.toml, kind: ", "Did you mean 'passive_box'"),
        ('source = "Fathieh2018"\nlab', 'source = "Fathie2018"\nlab', "mine.toml, source: ", "'Fathieh2018'"),
        ('["mof_801"]', '["mof_802"]', "mine.toml, sorbents: ", "Did you mean 'mof_801'"),
        ("counts = true", 'counts = "yes"', "mine.toml, counts: ", "true or false"),
        ("tolerance = 0.3", "tolerance = 0.6", "mine.toml, figures 1, tolerance: ", "at most 0.5"),
        ("published = 0.1", "published = -1", "mine.toml, figures 1, published: ", "above 0"),
        ('relation = "="', 'relation = "<"', "mine.toml, figures 1, relation: ", "'>='"),
        ("judged = true", "judged = false", "mine.toml, figures: ", "at least one judged"),
        (
            'judged = true\nseen = "source"',
            'judged = true\nseen = "memory"',
            "mine.toml, figures 1, seen: ",
            "was read",
        ),
        ("wind_speed = {", "wind_sped = {", "mine.toml, [conditions]: ", "'wind_speed'"),
        ("wind_speed = {", "windy = {", "mine.toml, [conditions], wind_speed: ", "repeated_day"),
        ('low = "1 m/s"', 'low = "1 kg"', "mine.toml, [conditions], wind_speed, low: ", "a mass"),
        ('low = "1 m/s"', 'low = "4 m/s"', "mine.toml, [conditions], wind_speed, low: ", "less than high"),
        ('high = "3.5 m/s"', 'high = "99 m/s"', "mine.toml, [conditions], wind_speed, high: ", "15 m/s"),
        (', high = "3.5 m/s"', "", "mine.toml, [conditions], wind_speed: ", "either value, or low and high"),
        (
            'high = "3.5 m/s", source = "none", where = "common practice, no source", seen = "memory"',
            'high = "3.5 m/s", source = "none", seen = "memory"',
            "mine.toml, [conditions], wind_speed, where: ",
            "text",
        ),
        (
            'high = "3.5 m/s", source = "none", where = "common practice, no source", seen = "memory"',
            'high = "3.5 m/s", source = "none", where = "common practice, no source", seen = "source"',
            "mine.toml, [conditions], wind_speed, seen: ",
            "no source",
        ),
        ("bed_area = {", "bed_areas = {", "mine.toml, [design]: ", "'bed_area'"),
        (
            "bed_area = { value = 1.0",
            "bed_area = { value = 900.0",
            "mine.toml, [design], bed_area, value: ",
            "50",
        ),
        (
            'value = "beside"',
            'value = "under"',
            "mine.toml, [design], condenser_position, value: ",
            "'below'",
        ),
        (
            'drawn = "logarithmically"',
            'drawn = "often"',
            "mine.toml, [design], sorbent_mass, drawn: ",
            "leave",
        ),
    ],
)
def test_a_changed_file_is_refused_with_file_and_key(tmp_path, old, new, start, expected):
    assert old in GOOD
    lines = refused(tmp_path, GOOD.replace(old, new, 1))
    assert any(line.startswith(start) and expected in line for line in lines), lines


def test_every_problem_is_reported_at_once(tmp_path):
    text = GOOD.replace("tolerance = 0.3", "tolerance = 3", 1).replace('["mof_801"]', '["salt"]', 1)
    assert len(refused(tmp_path, text)) == 2


def test_text_that_is_no_toml_and_a_missing_file_are_refused(tmp_path):
    assert "not TOML" in refused(tmp_path, "title = ")[0]
    with pytest.raises(FileError, match="readable TOML"):
        read_experiment(tmp_path / "none.toml")


def test_a_case_that_does_not_count_says_why(tmp_path):
    lines = refused(tmp_path, GOOD.replace("counts = true", "counts = false", 1))
    assert lines == ["mine.toml, reason: got nothing; expected text"]
