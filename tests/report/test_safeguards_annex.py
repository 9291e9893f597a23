"""The annex of safeguards and what the summary says of them."""

import json
from dataclasses import replace

import numpy as np
import pytest

from welkinwell.report import safeguards_section
from welkinwell.report.document import write_report
from welkinwell.supply import safeguards


@pytest.fixture(scope="module")
def folder(answer, tmp_path_factory):
    place = tmp_path_factory.mktemp("annex")
    write_report(answer, place)
    return place


def test_the_annex_stands_beside_the_report(folder):
    page = (folder / "safeguards.html").read_text()
    for words in (
        "No certificate",
        "licensed people",
        "Escherichia coli",
        "Site survey",
        "Monitoring plan",
        "memory",
    ):
        assert words in page
    assert "safeguards.html" in (folder / "report.html").read_text()
    assert "<script" not in page


def test_the_report_says_how_far_the_limit_is(folder):
    page = (folder / "report.html").read_text()
    assert "How far from the limit" in page and "what the sorbent can carry once a day" in page


def test_the_summary_carries_both(folder):
    summary = json.loads((folder / "summary.json").read_text())
    (one,) = summary["harvesters"]
    limits, safety = one["limits"], one["safeguards"]
    assert limits["tightest"] in {bound["key"] for bound in limits["bounds"]}
    assert 0.0 < limits["share_of_tightest"] < 1.0
    assert safety["dry_stagnation_bed_celsius"] > one["highest_bed_temperature_celsius"]
    assert safety["load_kg_per_m2"]["together"] == pytest.approx(
        sum(value for key, value in safety["load_kg_per_m2"].items() if key != "together")
    )
    assert {"e_coli", "aluminium"} <= set(safety["test_for"])


def test_what_is_done_in_order_is_numbered(folder):
    """Filter before lamp before chlorine: a list "in this order" says so by its numbers."""
    page = (folder / "safeguards.html").read_text()
    assert "in this order</h3>\n<ol><li>" in page


def test_names_with_a_comma_stay_apart(answer):
    """A separator that no name holds: "chromium, total" in a list of commas reads like two parameters."""
    names = {limit.name for limit in safeguards.water_limits().values()}
    cells = [cell for row in safeguards_section._carried(answer).rows for cell in row[2].split("; ")]
    assert any(", " in name for name in names)
    assert set(cells) <= names | {"not known by name"}
    assert any(", " in cell for cell in cells)


def test_a_note_of_the_figures_has_its_row(answer):
    """No tank, no footnote on its water."""
    tables = {
        has_tank: safeguards_section._figures(
            answer if has_tank else replace(answer, harvesters=[dry(one) for one in answer.harvesters])
        )
        for has_tank in (True, False)
    }
    for has_tank, table in tables.items():
        assert any(row[0].startswith("Tank water") for row in table.rows) is has_tank
        assert ("Tank water:" in table.note) is has_tank
        assert "Weight:" in table.note


def dry(one):
    other = replace(one)
    vars(other)["safety"] = replace(one.safety, tank_water=np.array([]))
    return other
