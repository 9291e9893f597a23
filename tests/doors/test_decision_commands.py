"""The commands that help to decide: bad input in plain words, and one page of each quick study."""

import json
from pathlib import Path

import pytest

from welkinwell.cli import exit_code

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
"""


@pytest.fixture
def case(tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(CASE)
    return path


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["losses", "CASE", "--harvester", "Gel bx"], ["'Gel bx'", "Did you mean 'Gel box'?"]),
        (["uncertainty", "CASE", "--draws", "3"], ["16"]),
        (["reach", "CASE", "--litres", "0"], ["litres above zero"]),
        (["uncertainty", "CASE", "--weather", "DESERT"], ["latitude", "the case's site"]),
        (["reach", "CASE"], ["no target", "one of --litres, --cost and --days"]),
        (["reach", "CASE", "--cost", "0.2", "--days", "90"], ["--cost, --days"]),
        (["reach", "CASE", "--days", "120"], ["at most 100 %"]),
        (["optimise", "CASE", "-o", "OUT", "--for", "beauty"], ["litres or cost"]),
        (["reach", "CASE", "--litres", "2", "--vary", "rear_gp=1 cm..3 cm"], ["Did you mean 'rear_gap'?"]),
        (["compare", "CASE", "--weather", "nowhere.epw"], ["nowhere.epw", "no such file"]),
        (
            ["optimise", "CASE", "-o", "OUT", "--against", "colour"],
            ["mass, electricity, roof_load"],
        ),
        (["optimise", "CASE", "-o", "OUT", "--most-mass", "8 L"], ["8 L"]),
        (
            ["optimise", "CASE", "-o", "OUT", "--most-mass", "0.5 kg/m2", "--least-litres", "5"],
            ["--most-mass 0.5 kg/m2 with --least-litres 5 L/m2 a day", "can carry once a day"],
        ),
        (["optimise", "CASE", "-o", "OUT", "--least-litres", "30"], ["Forbidden by one effect"]),
        (["reach", "CASE", "--litres", "2", "--humidity", "50 %", "--night", "9 degC"], ["day", "nothing"]),
        (["optimise", "CASE", "-o", "OUT", "--sorbent", "silica"], ["silica"]),
    ],
)
def test_bad_input_is_told_in_plain_words(case, tmp_path, capfd, words, said):
    desert = next(WEATHER.parent.glob("desert*.gz"))
    names = {"CASE": str(case), "OUT": str(tmp_path / "out"), "DESERT": str(desert)}
    assert exit_code([names.get(word, word) for word in words]) == 2
    told = " ".join(capfd.readouterr().err.replace("│", " ").split())
    for part in said:
        assert part in told
    assert "Traceback" not in told


def test_doubts_as_page_and_data(case, tmp_path, capfd):
    out = tmp_path / "out"
    assert exit_code(["uncertainty", str(case), "-o", str(out), "--draws", "16", "--json"]) == 0
    data = json.loads(capfd.readouterr().out)
    found = data["exceeded_in"]["litres_per_m2_day"]
    assert 0.5 < found["90 %"] < found["50 %"] < found["10 %"] < 2.5
    assert data["draws"] == 16
    assert all(doubt["source"] for doubt in data["doubts"])
    page = (out / "uncertainty.html").read_text()
    assert "exceeded in 90 % of the draws" in page
    assert "http" not in page.replace("http://www.w3.org", "")
    assert (out / "charts" / "exceedance.svg").is_file()


def test_a_comparison_as_page_and_data(case, tmp_path, capfd):
    """Every figure that a plant is chosen by has its interval, and an invented place is marked."""
    out = tmp_path / "out"
    assert exit_code(["compare", str(case), str(case), "-o", str(out), "--draws", "16", "--json"]) == 0
    data = json.loads(capfd.readouterr().out)
    for one in data["entries"]:
        for key in ("litres_delivered_per_day", "cost_per_delivered_litre", "carbon_kg_per_delivered_litre"):
            drawn = one["plant"][key]["exceeded_in"]
            assert 0.0 < drawn["90 %"] <= drawn["50 %"] <= drawn["10 %"], key
        assert one["plant"]["dry_mass_kg"] > 0.0
    # the same case twice shares every doubt: as good in all draws, better in none
    assert {(lead["better_in"], lead["as_good_in"]) for lead in data["leads_of_plants"]} == {(0.0, 1.0)}
    page = (out / "compare.html").read_text()
    assert "Invented scenario" in page
    assert "Days on which all is met" in page
    assert "predicted too low" in page


def test_an_impossible_target_is_forbidden_by_name(case, tmp_path, capfd):
    out = tmp_path / "out"
    assert exit_code(["reach", str(case), "--litres", "30", "-o", str(out)]) == 0
    told = capfd.readouterr().out
    assert "30 L a day per m² of aperture is forbidden here by one effect" in told
    assert "Not tried: any other kind" in told
    assert json.loads((out / "summary.json").read_text())["forbidden_by"]["key"] == "single_effect"
    assert "What forbids it" in (out / "reach.html").read_text()
    assert exit_code(["reach", str(case), "--cost", "0.0001"]) == 0
    told = capfd.readouterr().out
    assert "forbidden here by one effect and the prices" in told and "USD" in told


def test_a_target_on_the_cost_and_on_the_days(case, capfd):
    """A litre that may cost much is there already; days that are met ask for the case's own tank."""
    assert exit_code(["reach", str(case), "--cost", "50", "--vary", "rear_gap=1 cm..15 cm", "--json"]) == 0
    data = json.loads(capfd.readouterr().out)
    assert data["aim"] == "cost_per_delivered_litre"
    assert 0.0 < data["now_cost_per_delivered_litre"] < 50.0
    assert "Nothing has to change" in data["words"] and "USD a delivered litre" in data["words"]


def test_a_target_as_page_and_data(case, tmp_path, capfd):
    out = tmp_path / "out"
    words = [
        "reach",
        str(case),
        "--litres",
        "1.5",
        "--vary",
        "rear_gap=1 cm..15 cm",
        "--sorbent",
        "own",
        "-o",
        str(out),
        "--json",
    ]
    assert exit_code(words) == 0
    data = json.loads(capfd.readouterr().out)
    assert data["outcome"] == "reached"
    assert data["changes"][0]["key"] == "rear_gap"
    assert "Reached" in (out / "reach.html").read_text()
