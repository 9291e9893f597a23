"""A plant off the grid and a plant with power cuts, through the whole report."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from welkinwell.answer import answer_case
from welkinwell.case import case_from_text
from welkinwell.report.document import write_report
from welkinwell.schemas import schema

WEATHER = Path(__file__).parents[2] / "examples" / "weather" / "coast_western_australia_2020.csv.gz"
CASE = f"""
schema_version = 1
[site]
name = "Somewhere"
weather = "{WEATHER.name}"
[demand]
litres_per_day = "20 L/day"
[[harvester]]
name = "Machine"
kind = "cooling_coil"
[[harvester]]
name = "Sheet"
kind = "dew_condenser"
"""


def reported(tables, folder):
    answer = answer_case(case_from_text(CASE + tables, WEATHER.parent / "case.toml"))
    page = write_report(answer, folder).read_text(encoding="utf-8")
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    assert list(Draft202012Validator(schema("summary")).iter_errors(summary)) == []
    return page, summary["harvesters"], answer


def test_the_plant_s_own_electricity_stands_in_report_and_summary(tmp_path):
    page, (machine, sheet), _ = reported("[power]\nunserved = 0.02\n", tmp_path)
    assert "Electricity off the grid" in page
    assert "Batteries and solar modules" in (tmp_path / "safeguards.html").read_text(encoding="utf-8")
    assert {"machine_modules_and_battery.svg", "machine_unserved.svg"} <= {
        path.name for path in (tmp_path / "charts").iterdir()
    }
    power = machine["power"]
    assert 0.0 < power["unserved_share"] <= 0.02
    assert power["litres_per_day_with_cuts"] < power["litres_per_day_at_full_power"]
    assert machine["litres_per_day"] == power["litres_per_day_with_cuts"]
    assert machine["hours_without_power"] > 0.0
    delivered = machine["delivered"]["litres_per_day"]
    assert machine["litres_spilled_per_day"] == pytest.approx(delivered["net"] - delivered["delivered"])
    assert len(power["unserved_kwh_by_month"]) == 12
    assert sheet["power"] is None
    rows = machine["cost"]["assumptions"]
    cost = machine["cost"]
    assert cost["own_power"]["capital"] == pytest.approx(power["capital"])
    assert cost["capital"] > power["capital"] > 0.0
    assert cost["parts_per_litre"]["electricity"] == 0.0 < cost["parts_per_litre"]["battery"]
    assert sheet["cost"]["own_power"] is None
    assert "no kWh is paid for beside them" in page
    assert rows["electricity_price"]["value"] == pytest.approx(power["cost_per_kwh"]["central"])
    assert any("lacks electricity" in words for words in machine["warnings"])
    heard = machine["safeguards"]["sound"]
    assert not heard["silent"] and heard["loudest_night_hour_db_a"] <= heard["running_db_a"] + 1e-9
    assert heard["night_mean_db_a"] < heard["loudest_night_hour_db_a"]
    assert {one["name"] for one in heard["sources_of_a_module"]} == {
        "Fan of the coil", "Fan of the condenser", "Compressor",
    }  # fmt: skip
    assert sheet["safeguards"]["sound"]["silent"] and sheet["safeguards"]["sound"]["running_db_a"] is None
    annex = (tmp_path / "safeguards.html").read_text(encoding="utf-8")
    assert "Sound power level of what makes noise" in annex
    assert "silent: no fan, pump or compressor" in annex
    assert "no sorbent" not in page.split("Parts list")[1][:200]


def test_power_cuts_stand_in_report_and_summary(tmp_path):
    page, (machine, sheet), answer = reported('[power_cuts]\ndaily = ["10-6"]\n', tmp_path)
    assert machine["hours_without_power"] > 7000.0
    assert sheet["hours_without_power"] == 0.0
    assert set(machine["limiting_step_by_month"]) == {"power_cuts"}
    assert "there is no electricity in some of its hours" in page
    assert "Electricity off the grid" not in page
    assert answer.harvesters[0].year["electricity"].values.min() == 0.0


def test_a_further_year_runs_on_the_same_modules_and_battery(tmp_path):
    """The case's own year again as a further one: it lacks the same hours, and not none."""
    text = CASE.replace("[demand]", f'further_years = ["{WEATHER.name}"]\n[demand]')
    text += '[power]\npv_area = "5 m2"\nbattery = "3 kWh"\n'
    case = case_from_text(text, WEATHER.parent / "case.toml")
    machine = answer_case(case).summary["harvesters"][0]
    first, second = machine["delivered"]["weather_years"]["litres_per_day"]
    assert machine["power"]["share_of_litres_lost"] > 0.5
    assert second == pytest.approx(first, rel=0.02, abs=0.02)
