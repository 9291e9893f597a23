"""`welkinwell rank` as a person starts it: on a case, on weather files, with sheets of one's own."""

import json
import re
import shutil
from pathlib import Path

import pytest

from welkinwell.cli import exit_code

ROOT = Path(__file__).parents[2]
WEATHER = ROOT / "examples" / "weather" / "coast_western_australia_2020.csv.gz"
SHEETS = ROOT / "src" / "welkinwell" / "library" / "sorbents"
MASSES = ["--masses", "4, 8 kg/m2"]
FEW = ("silica_gel_regular_density", "cacl2_gel", "calcium_chloride", "zeolite_13x")
ONLY = [word for name in FEW for word in ("--only", name)]


def own_sheet(folder, key="my_gel"):
    text = (SHEETS / "silica_gel_regular_density.toml").read_text(encoding="utf-8")
    path = folder / f"{key}.toml"
    path.write_text(text.replace('key = "silica_gel_regular_density"', f'key = "{key}"'), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    """One ranking of a case with a sheet of its own beside it, and of a second place."""
    folder = tmp_path_factory.mktemp("rank")
    shutil.copy(WEATHER, folder / WEATHER.name)
    own_sheet(folder)
    (folder / "case.toml").write_text(
        f"""schema_version = 1
name = "A made-up post"
[site]
name = "Somewhere"
weather = "{WEATHER.name}"
[demand]
litres_per_day = "20 L/day"
[[harvester]]
name = "Small box"
kind = "passive_box"
sorbent = "my_gel.toml"
aperture_area = "0.5 m2"
edge_loss = "3 W/(m2 K)"
""",
        encoding="utf-8",
    )
    out = folder / "out"
    assert (
        exit_code(
            ["rank", str(folder / "case.toml"), str(WEATHER), *MASSES, *ONLY, "--wanted", "-o", str(out)]
        )
        == 0
    )
    return out


def test_help_with_an_example(capsys):
    assert exit_code(["rank", "--help"]) == 0
    assert "Example: welkinwell rank" in " ".join(capsys.readouterr().out.split())


def test_summary_has_every_sheet_at_every_place(page):
    summary = json.loads((page / "summary.json").read_text(encoding="utf-8"))
    case, place = summary["places"]
    assert case["site"]["name"] == "Somewhere" and case["box"] == "Small box"
    assert {sheet["sheet"] for sheet in case["sheets"]} == {*FEW, "my_gel"}
    assert {sheet["sheet"] for sheet in place["sheets"]} == set(FEW)
    assert summary["masses_kg_per_m2"] == [4.0, 8.0]
    for entry in (*case["sheets"], *place["sheets"]):
        assert [rung["mass_kg_per_m2"] for rung in entry["ladder"]] == [4.0, 8.0]
        assert sum(entry["best"]["litres_per_m2_by_month"]) == pytest.approx(
            365.0 * entry["best"]["litres_per_m2_day"]
        )
        assert entry["reason_in_words"]
    assert sum(sheet["reason"] == "best" for sheet in case["sheets"]) == 1
    wanted = case["wanted_isotherm"]
    assert wanted["litres_per_m2_day"] > 0.0 and len(wanted["nearest_sheets"]) == 3
    assert 0.0 < wanted["half_filled_at_relative_humidity_25_celsius"] < 1.0


def test_own_sheet_ranks_as_its_twin_and_the_case_box_counts(page):
    summary = json.loads((page / "summary.json").read_text(encoding="utf-8"))
    litres = [
        {sheet["sheet"]: sheet["best"]["litres_per_m2_day"] for sheet in place["sheets"]}
        for place in summary["places"]
    ]
    twin = "silica_gel_regular_density"
    assert litres[0]["my_gel"] == litres[0][twin]
    assert litres[0][twin] < 0.9 * litres[1][twin]  # the case's box loses more heat at its edges


def test_page_stands_alone_and_explains_itself(page):
    html = (page / "rank.html").read_text(encoding="utf-8")
    assert not re.search(r"(src|href)=\"(https?:)?//", html)
    assert html.count("<svg") == 13  # six a place and the overview
    assert html.count("<desc") == 13
    for words in (
        "never empties",
        "brine runs out",
        "consecutive real days",
        "wants",
        "Somewhere",
        "No figure is a",
    ):
        assert words in html
    assert len(list((page / "charts").glob("*.svg"))) == 13


def test_missing_place(tmp_path, capsys):
    assert exit_code(["rank", str(tmp_path / "none.epw")]) == 2
    assert "none.epw: got no such file; expected an hourly weather file" in capsys.readouterr().err


def test_unknown_sheet(tmp_path, capsys):
    assert exit_code(["rank", str(WEATHER), "--sorbent", "mof_802"]) == 2
    assert "Did you mean 'mof_801'?" in capsys.readouterr().err
    assert exit_code(["rank", str(WEATHER), "--sorbent", str(tmp_path / "none.toml")]) == 2
    assert "There is no such file" in capsys.readouterr().err


def test_unknown_name_of_the_library(capsys):
    assert exit_code(["rank", str(WEATHER), "--only", "zeolite_13"]) == 2
    assert "Did you mean 'zeolite_13x'?" in capsys.readouterr().err


def test_a_sheet_whose_key_is_taken(tmp_path, capsys):
    shutil.copy(SHEETS / "mof_801.toml", tmp_path / "mine.toml")
    assert exit_code(["rank", str(WEATHER), "--sorbent", str(tmp_path / "mine.toml")]) == 2
    assert "key = 'mof_801', which another sheet has too" in capsys.readouterr().err


@pytest.mark.parametrize("given", ["4", "4, 4", "a, b", "0, 8", "4, 900 kg/m2"])
def test_bad_masses(given, capsys):
    assert exit_code(["rank", str(WEATHER), "--masses", given]) == 2
    assert "two or more different masses from 0.01 to 200 kg/m2" in capsys.readouterr().err


def test_folder_that_is_a_file(tmp_path, capsys):
    (tmp_path / "out").write_text("x", encoding="utf-8")
    assert exit_code(["rank", str(WEATHER), "-o", str(tmp_path / "out")]) == 2
    assert "a folder for the results" in capsys.readouterr().err
