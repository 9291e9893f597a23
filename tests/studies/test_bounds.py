"""Bounds of simulated boxes: no litres above them, and what they say."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.limits_hold import RESULTS, held

from box_cases import SILICA, WEATHER, site_of
from welkinwell.harvesters.bounds import SimulatedDevice, supplied_bounds
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.limits.day_bounds import DayBounds, days_of
from welkinwell.report.charts import embedded
from welkinwell.report.limits_section import distance, distance_in_words
from welkinwell.simulation import simulate
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.bounds import ladder, limits_of_harvester, limits_of_site


@pytest.mark.parametrize("kind", ["passive_box", "dew_condenser", "cooling_coil", "hybrid"])
@pytest.mark.parametrize("place", ["coast", "desert"])
def test_no_random_design_passes_a_bound_and_its_ladder_adds_up(kind, place):
    """A seeded sample of `python -m benchmarks.limits_hold`, which does the same with 1,000 designs."""
    for number in range(2):
        found = held(kind, place, number)
        assert found["shares"] and not found["impossible"]
        assert max(found["sequence_misses"], found["shares_miss"], found["alone_misses"]) < 1e-12
        assert found["without_reason"] == 0


@pytest.fixture(scope="module")
def starter():
    site = site_of("coast")
    design, material = PassiveBox(), sorbent(SILICA)
    year = simulate(design, material, site, accuracy="fast", audit=False)
    return limits_of_harvester(design, material, year, site.climate), year


def test_what_limits_the_starter_box(starter):
    limits, year = starter
    assert limits.tightest.key == "inventory"
    assert 0.3 < limits.share < 1.0
    assert limits.collected == pytest.approx(float(year["water_collected"].sum()) / 365.0)
    assert "inventory" in json.dumps(limits.as_data(), allow_nan=False)
    # the bed's hottest must pass the least release temperature, or there were no water
    assert 313.0 < limits.least_release_temperature < year.attrs["highest_bed_temperature"]
    lowest = [low for _, _, low in ladder(limits)]
    assert lowest == sorted(lowest, reverse=True)


def test_any_other_kind_is_held_to_what_went_in(starter):
    """1 kWh of electricity a day and m2 on top of a box's own day: litres times least work stay below it."""
    _, box_year = starter
    climate, given, design = site_of("coast").climate, DayBounds(), PassiveBox()

    def bounds(kwh):
        year = box_year.assign_attrs(takes_sun=0)
        year["electricity"] = ("time", np.full(8760, kwh * 3.6e6 / 24.0))
        device = SimulatedDevice(design, None, year, days_of(climate, given), given)
        return {bound.key: bound.value for bound in supplied_bounds(device)}

    once = bounds(1.0)
    # 1 kWh and the swing's 0.035, over 15 to 60 Wh/L at half recovery
    assert 1.0 / 0.060 < once["reversible_at_recovery"] < 1.1 / 0.015
    assert once["reversible_at_recovery"] < once["reversible"]
    assert 1.9 < bounds(2.0)["reversible"] / once["reversible"] < 2.0


def test_its_chart_and_sentence(starter):
    limits, _ = starter
    assert "what the sorbent can carry" in distance_in_words(limits)
    figure = distance(limits, "box")
    assert "collected, as simulated" in figure.alternative
    figure.chart.to_dict()


def test_a_year_without_sun_or_water_draws_and_says_so(starter, tmp_path):
    limits, _ = starter
    dark = replace(
        limits, bounds=[replace(bound, value=0.0) for bound in limits.bounds], collected=0.0,
        least_release_temperature=math.nan,
    )  # fmt: skip
    assert distance_in_words(dark) == "No bound can be given for this harvester here."
    assert embedded(distance(dark, "dark"), tmp_path).startswith("<svg")
    assert json.dumps(dark.as_data(), allow_nan=False)


def test_no_design_of_the_thousand_passed_a_bound_and_every_ladder_adds_up():
    """The table lies in benchmarks/results with its dates; a seeded sample of it runs above."""
    found = json.loads(RESULTS.read_text())
    parts = [found[kind] for kind in KINDS]
    assert sum(part["designs"] for part in parts) == 1000
    for part in parts:
        assert part["above a bound"] == 0
        assert part["ladders"] >= 0.98 * part["designs"]
        assert part["largest miss of a ladder"] < 1e-12 and part["largest miss of the shares"] < 1e-12
        assert part["largest miss of the design in its ladder"] < 1e-12
        assert part["negative losses without a reason"] == 0


def test_a_place_says_its_limits(tmp_path):
    from welkinwell.report.limits_section import write_limits_page

    found = limits_of_site(next(WEATHER.glob("tropics*.gz")))
    assert "no device driven by sun, sky and air alone that takes 50 %" in found.headline
    page = write_limits_page(found, tmp_path)
    text = page.read_text()
    assert "Least release temperature" in text and "first and second law" in text
    summary = json.loads((tmp_path / "summary.json").read_text())
    assert summary["bounds"][0]["value"] is None  # five saturated days: no bound for the first drop
    assert math.isfinite(summary["bounds"][1]["value"])


def test_a_place_without_a_bound_says_so_in_words(capsys):
    """Five saturated days leave the first drop without a bound; "no bound L/m2 a day" is no figure."""
    from welkinwell.cli import exit_code

    assert exit_code(["limits", str(next(WEATHER.glob("tropics*.gz")))]) == 0
    lines = capsys.readouterr().out.splitlines()
    (without,) = [line for line in lines if line.split()[:2] == ["no", "bound"]]
    assert "L/m2" not in without and without.endswith("  reversible, first drop")
    column = without.index("reversible")
    assert all(line[column - 2 : column] == "  " for line in lines if "L/m2 a day  " in line)
