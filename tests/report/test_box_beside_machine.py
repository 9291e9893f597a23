"""A box beside a machine: litres per m2 say which m2, tables keep one order, cards their own titles."""

import json
import re
from pathlib import Path

import pytest

from welkinwell.answer import answer_case
from welkinwell.case import case_from_text
from welkinwell.quantities import litres_on
from welkinwell.report.document import write_report
from welkinwell.report.tables import comparison, litres_per_area

WEATHER = Path(__file__).parents[2] / "examples" / "weather" / "coast_western_australia_2020.csv.gz"
CASE = f"""
schema_version = 1
name = "A made-up post"
note = "Invented scenario."
[site]
name = "Somewhere"
weather = "{WEATHER.name}"
[demand]
residents = 4
[[harvester]]
name = "Gel box"
kind = "passive_box"
sorbent = "silica_gel_regular_density"
modules = 9
[[harvester]]
name = "Machine"
kind = "cooling_coil"
coil_face = "0.1 m2"
"""
NAKED = re.compile(r"L/m[2²](?:/day| a day)(?! of)|L a day per m[2²](?! of|, each of)")


def words_of(page):
    text = re.sub(r"<(style|svg).*?</\1>", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    return re.sub(r"<[^>]+>", " ", text)


@pytest.fixture(scope="module")
def both():
    return answer_case(case_from_text(CASE, WEATHER.parent / "case.toml"))


def test_unit_of_an_area():
    assert litres_on("coil face") == "L a day per m2 of coil face"
    assert litres_on("aperture", "²") == "L a day per m² of aperture"


def test_a_column_compares_only_what_has_the_same_area():
    assert litres_per_area([1.18, 0.5], ["aperture", "aperture"]) == (
        "L a day per m² of aperture", ["1.18", "0.50"]
    )  # fmt: skip
    head, cells = litres_per_area([1.18, 521.0], ["aperture", "coil face"])
    assert "of aperture" not in head and cells == ["1.18 (aperture)", "521.0 (coil face)"]


def test_headline_table_and_summary_name_the_area(both):
    assert "L a day per m2 of aperture; worst month" in both.headline
    assert "L a day per m2 of coil face; worst month" in both.headline
    assert not NAKED.search(both.headline)
    assert [one["area_basis"] for one in both.summary["harvesters"]] == ["aperture", "coil face"]
    table = comparison(both)
    cells = {row[0]: row[6] for row in table.rows}
    assert cells["Gel box"].endswith("(aperture)") and cells["Machine"].endswith("(coil face)")


def test_the_table_stands_in_the_order_of_the_sentence(both):
    """It was ordered by litres under a sentence that names the one most worth building."""
    assert [row[0] for row in comparison(both).rows] == [one.case.name for one in both.in_order]
    assert both.best is both.in_order[0]
    most = max(both.harvesters, key=lambda one: one.figures["litres_per_day"])
    assert most is not both.best  # so that the order is no accident


def test_no_litres_per_m2_without_its_area_on_the_page(both, tmp_path):
    words = words_of(write_report(both, tmp_path))
    assert not NAKED.findall(words)
    assert "L/m² of coil face" in words and "kWh/m² of aperture in the year" in words
    summary = json.loads((tmp_path / "summary.json").read_text())
    assert summary["verdict"]["harvester"] == both.best.case.name


def test_cards_on_a_phone_have_titles_of_their_own(both, tmp_path):
    """A narrow screen lays a table of more than three columns out as cards, titled by the first column."""
    page = write_report(both, tmp_path).read_text(encoding="utf-8")
    tables = re.findall(r'<table role="table" class="stack[^"]*">(.*?)</table>', page, re.DOTALL)
    assert len(tables) > 5
    for table in tables:
        titles = re.findall(r'<th role="rowheader"[^>]*>(.*?)</th>', table, re.DOTALL)
        assert len(set(titles)) == len(titles), titles
