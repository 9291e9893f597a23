"""`welkinwell monitor`: help, a whole page from a log, a planned test, and what it refuses."""

import json
from pathlib import Path

import pytest
from benchmarks.monitor_trials import place, planted, written_log

from welkinwell.cli import exit_code
from welkinwell.simulation import prepare

WEATHER = Path(__file__).parents[2] / "examples" / "weather" / "coast_western_australia_2020.csv.gz"
CASE = f"""
schema_version = 1
name = "A made-up post"
note = "Invented scenario."
[site]
name = "Somewhere"
weather = "{WEATHER}"
[demand]
litres_per_day = "20 L/day"
[[harvester]]
name = "Gel box"
kind = "passive_box"
sorbent = "silica_gel_regular_density"
modules = 1
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("built")
    (folder / "case.toml").write_text(CASE, encoding="utf-8")
    written_log(prepare(*planted({"leak": 12.0}), place("coast")), 300, 7, folder / "log.csv")
    return folder


def test_help_has_an_example(capsys):
    assert exit_code(["monitor", "--help"]) == 0
    assert "Example: welkinwell monitor" in " ".join(capsys.readouterr().out.split())


def test_a_leak_is_found_and_written_down(folder, tmp_path, capsys):
    given = [
        "monitor",
        str(folder / "case.toml"),
        str(folder / "log.csv"),
        "-o",
        str(tmp_path),
        "--acceptance",
        "--json",
    ]
    assert exit_code(given) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["blamed"] == "leak"
    assert (
        told["explanations"][0]["interval_90_percent"][0]
        < 12.0
        < told["explanations"][0]["interval_90_percent"][1]
    )
    assert told["acceptance"]["verdict"] == "fail"
    assert len(told["weeks_ahead"]) == 8
    assert all(week["interval_90_percent"][1] < week["sound_litres"] for week in told["weeks_ahead"])
    page = (tmp_path / "monitor.html").read_text(encoding="utf-8")
    assert "Leak: the closed box changes more air" in page
    assert json.loads((tmp_path / "summary.json").read_text(encoding="utf-8"))["blamed"] == "leak"


def test_a_test_is_planned_without_a_log(folder, capsys):
    given = [
        "monitor",
        str(folder / "case.toml"),
        "--promised",
        "0.7",
        "--start",
        "03-15",
        "--json",
    ]
    assert exit_code(given) == 0
    told = json.loads(capsys.readouterr().out)["acceptance"]
    assert told["verdict"] is None
    assert told["planned_days"] > 1
    assert told["first_day"] == "03-15" and "coast" in told["weather"]
    assert told["fails_below_litres"] < told["passes_from_litres"] < told["expected_litres_of_test"]


def test_a_plan_shows_dates_weather_and_the_litres_that_pass(folder, tmp_path):
    given = ["monitor", str(folder / "case.toml"), "--acceptance", "--promised", "0.7", "--start", "03-15"]
    assert exit_code([*given, "-o", str(tmp_path)]) == 0
    page = (tmp_path / "monitor.html").read_text(encoding="utf-8")
    for words in (
        "from 15 March to",
        "L or more pass",
        "Litres that pass and fail",
        "The litres that pass: the verdict",
    ):
        assert words in page, words
    assert (tmp_path / "charts" / "acceptance.svg").is_file()


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--start", "02-31"], "expected a day as 03-15"),
        (["--acceptance", "--start", "02-31"], "expected a day as 03-15"),
        (["--acceptance", "--promised", "1.2"], "0.3 to below 1"),
        (["nowhere.csv"], "nowhere.csv"),
    ],
)
def test_bad_input_is_told(folder, more, words, capsys):
    assert exit_code(["monitor", str(folder / "case.toml"), *more]) == 2
    assert words in " ".join(capsys.readouterr().err.replace("│", " ").split())
