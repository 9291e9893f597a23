"""Doubts and draws: distributions by hand, neutral draws that change nothing, seeds, figures of draws."""

from types import SimpleNamespace

import numpy as np
import pytest

from box_cases import SILICA, box, site_of
from welkinwell.errors import InputError
from welkinwell.harvesters.dew_condenser.design import DewCondenser
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.uncertain_parameters import FACTOR, SHIFT, UNIFORM, UncertainParameter
from welkinwell.simulation import prepare
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.drawn import drawn
from welkinwell.studies.uncertain_parameters import uncertain_parameters_of
from welkinwell.studies.uncertainty import (
    Draws,
    columns_of,
    draw,
    shares_of,
)


def test_values_of_each_shape():
    """Quantiles by hand: the standard normal's 84.13 % lies at 1."""
    one = float(np.float64(0.841344746))
    assert UncertainParameter("a", "", "", FACTOR, "", spread=0.3).value(np.array(one)) == pytest.approx(
        np.exp(0.3)
    )
    assert UncertainParameter("a", "", "", SHIFT, "", spread=2.0).value(np.array(one)) == pytest.approx(2.0)
    assert UncertainParameter("a", "", "", UNIFORM, "", low=1.0, high=0.9).value(
        np.array(0.25)
    ) == pytest.approx(0.975)


def test_standard_deviations_of_each_shape():
    """By hand; that of a uniform doubt is its width over the root of twelve."""
    assert UncertainParameter("a", "", "", FACTOR, "", spread=0.3).at(-2.0) == pytest.approx(np.exp(-0.6))
    assert UncertainParameter("a", "", "", SHIFT, "", spread=2.0).at(0.5) == pytest.approx(1.0)
    uniform = UncertainParameter("a", "", "", UNIFORM, "", low=1.0, high=0.9)
    assert uniform.at(0.0) == pytest.approx(0.95)
    assert uniform.at(1.0) == pytest.approx(0.95 - 0.1 / np.sqrt(12.0))


def test_every_doubt_has_a_source_and_changes_something():
    design, material = box(), sorbent(SILICA)
    ready = prepare(design, material, site_of("coast"))
    for parameter in uncertain_parameters_of(design, material):
        assert parameter.source
        values = np.array([float(parameter.value(np.array(0.9)))])
        moved = drawn(ready, [parameter], values)
        same_air = np.array_equal(moved.air.nodes, ready.air.nodes)
        same_row = np.array_equal(moved.row, ready.row)
        assert not (same_air and same_row and moved.numbers == ready.numbers), parameter.key


def test_the_middle_changes_nothing():
    design, material = box(), sorbent(SILICA)
    ready = prepare(design, material, site_of("coast"))
    listed = [
        parameter for parameter in uncertain_parameters_of(design, material) if parameter.shape != UNIFORM
    ]
    moved = drawn(ready, listed, np.array([parameter.middle for parameter in listed]))
    assert moved.numbers == ready.numbers
    assert np.array_equal(moved.row, ready.row)
    assert np.allclose(moved.air.nodes, ready.air.nodes, rtol=1e-15)


def test_weather_doubts_are_shared_between_designs():
    """So that two devices at one site meet the same draws of the weather."""
    design = box()
    two = [uncertain_parameters_of(design, sorbent(name)) for name in (SILICA, "aluminium_fumarate")]
    columns = []
    for listed in two:
        shares = shares_of(listed, 32, 7)
        columns.append({d.key: shares[:, i] for i, d in enumerate(listed) if d.weather is not None})
    assert set(columns[0]) == set(columns[1]) >= {"sun", "humidity"}
    for key, values in columns[0].items():
        assert np.array_equal(values, columns[1][key]), key


def test_columns_go_by_what_a_doubt_is_about():
    """A sheet that lacks a doubt moves no column of another; what is of a sheet is never shared."""
    names = (SILICA, "aluminium_fumarate", "licl_gel")
    lists = [uncertain_parameters_of(box(), sorbent(name)) for name in names]
    assert "heat_shift" not in {
        parameter.key for parameter in lists[2]
    }  # the one that used to shift all that follow
    columns = columns_of(lists, ["coast"] * 3)
    shares = [shares_of(one, 64, 7, taken) for one, taken in zip(lists, columns, strict=True)]
    found = [
        {parameter.key: share[:, i] for i, parameter in enumerate(one)}
        for one, share in zip(lists, shares, strict=True)
    ]
    own = {parameter.key for one in lists for parameter in one if parameter.whose}
    assert {"loading", "ageing"} <= own
    for other in found[1:]:
        for key in set(found[0]) & set(other):
            assert np.array_equal(found[0][key], other[key]) == (key not in own), key
    assert abs(np.corrcoef(found[0]["loading"], found[1]["loading"])[0, 1]) < 0.4


def test_the_weather_of_two_places_is_two_doubts():
    listed = uncertain_parameters_of(box(), sorbent(SILICA))
    here, there = columns_of([listed, listed], ["here", "there"])
    for parameter, a, b in zip(listed, here.of, there.of, strict=True):
        assert (a == b) == (parameter.weather is None), parameter.key
    assert columns_of([listed, listed], ["here", "here"])[1] == columns_of([listed], ["anywhere"])[0]


def test_other_things_under_one_key_are_not_shared():
    """Water left on a plate behind a bed is not water that hangs on a sheet under the sky."""
    box_parameters, dew_parameters = (
        uncertain_parameters_of(box(), sorbent(SILICA)),
        uncertain_parameters_of(DewCondenser(), None),
    )
    of_box, of_dew = columns_of([box_parameters, dew_parameters], ["here", "here"])
    by_key = [
        {parameter.key: column for parameter, column in zip(one, taken.of, strict=True)}
        for one, taken in ((box_parameters, of_box), (dew_parameters, of_dew))
    ]
    assert by_key[0]["holdup"] != by_key[1]["holdup"]
    assert by_key[0]["wind_coefficient"] == by_key[1]["wind_coefficient"]


def test_ranges_are_told_from_low_to_high():
    """Ageing runs from 1 (new) down to 0.9; its middle 80 % reads the other way round."""
    assert UncertainParameter("a", "", "", UNIFORM, "", low=1.0, high=0.9).in_words() == "0.91 to 0.99"


def test_draws_repeat_with_the_seed_and_spread_as_they_should():
    # the vent as the sheet allows: one that opens early makes more sun give less water
    design, material, site = PassiveBox(), sorbent(SILICA), site_of("coast")
    some = [d for d in uncertain_parameters_of(design, material) if d.key in ("sun", "loading")]
    first, again = (draw(design, material, site, draws=16, seed=3, parameters=some) for _ in range(2))
    assert np.array_equal(first.litres, again.litres)
    assert first.failed == 0
    found = first.exceeded()
    assert found["90 %"] < found["50 %"] < found["10 %"]
    # more sun and more loading give more water: the draws rise with both
    for column in range(2):
        assert np.corrcoef(first.values[:, column], first.litres)[0, 1] > 0.2
    assert first.by_month.shape == (16, 12)


def test_too_few_draws_are_refused():
    with pytest.raises(InputError, match="at least 16"):
        draw(box(), sorbent(SILICA), site_of("coast"), draws=4)


def test_figures_without_meaning_are_left_out():
    litres = np.array([1.0, 2.0, np.nan, 4.0])
    result = SimpleNamespace(litres=litres)
    assert Draws.exceeded(result)["50 %"] == pytest.approx(2.0)
    assert Draws.exceeded(result, np.full(4, np.nan))["50 %"] is None


def test_draws_meet_one_of_several_years():
    """Half of the draws meet each of two years, and those of a year are what it gives by itself."""
    design, site, other = DewCondenser(), site_of("tropics"), site_of("highland")
    both = draw(design, None, site, draws=32, seed=5, years=[other])
    plain, alone = (draw(design, None, place, draws=32, seed=5) for place in (site, other))
    assert sorted(np.bincount(both.of_year)) == [16, 16]
    assert np.array_equal(both.litres, np.where(both.of_year == 0, plain.litres, alone.litres))
    assert not np.array_equal(both.of_year[:16], np.arange(16) % 2)  # in an order of its own
