"""The annex of safeguards and what the summary says of them."""

import json

import pytest

from welkinwell.report.document import write_report


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
