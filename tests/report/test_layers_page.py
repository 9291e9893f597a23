"""The page of shipped layers is what cases, experiments and sheets say, and none of them is refused."""

import json
import re
from pathlib import Path

import pytest

from welkinwell.harvesters.layer_depth import MEASURED, SHOWN, WITHIN
from welkinwell.report.layers_page import beds_of, layers_page
from welkinwell.studies.experiments import library_experiments

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs/validation/layers.md"


@pytest.fixture(scope="module")
def text():
    return layers_page(ROOT / "examples")


def test_the_page_is_in_step(text):
    again = "python -m welkinwell.report.layers_page docs/validation/layers.md"
    assert PAGE.read_text(encoding="utf-8") == text, f"run {again}"


def test_every_shipped_case_is_listed_and_passes(text):
    cases = text.split("## Cases")[1].split("## Published")[0]
    for path in sorted((ROOT / "examples").glob("*/*.toml")):
        if path.parent.name != "claims" and re.search(r"layer_thickness|form|passive_box", path.read_text()):
            assert f"{path.parent.name}/{path.name}" in cases
    rows = [line for line in cases.splitlines() if line.startswith("| ")][1:]
    assert "`welkinwell new`" in cases and len(rows) >= 18
    assert all(row.endswith("| nothing |") for row in rows)


def test_every_experiment_is_listed_and_none_is_of_a_layer_that_cannot_be(text):
    """Nothing of them is changed or refused: their conditions were fixed before the first prediction."""
    part = text.split("## Published")[1].split("## Sheets")[0]
    for experiment in library_experiments():
        assert f"`{experiment.case}`" in part
        beds = beds_of(experiment)
        assert beds is None or beds.cannot == 0.0


def test_the_ranges_that_are_told_are_those_that_were_measured():
    """`python -m benchmarks.layered --sheets` wrote them; to the limit the two depths lie close."""
    found = json.loads((ROOT / "benchmarks/results/layered.json").read_text())["ranges"]
    assert [row["up_to"] for row in found] == [most for most, _, _ in MEASURED]
    for row, (_, low, high) in zip(found, MEASURED, strict=True):
        assert (low, high) == pytest.approx((row["least"], row["most"]), abs=0.005)
    shown = [row for row in found if row["up_to"] <= SHOWN]
    assert shown[-1]["up_to"] == SHOWN
    assert all(-WITHIN <= row["least"] and row["most"] <= WITHIN for row in shown)
    deep = [row for row in found if row["up_to"] > SHOWN]
    assert all(max(-row["least"], row["most"]) > WITHIN for row in deep)
