"""The page of published experiments is what its files say."""

from pathlib import Path

from welkinwell.report.citations import reference
from welkinwell.report.experiments_page import experiments_page
from welkinwell.studies.experiments import library_experiments

PAGE = Path(__file__).parents[2] / "docs/validation/experiments.md"


def test_the_page_is_in_step_with_the_files():
    again = "python -m welkinwell.report.experiments_page docs/validation/experiments.md"
    assert PAGE.read_text(encoding="utf-8") == experiments_page(library_experiments()), f"run {again}"


def test_the_page_names_every_case_and_the_reason_why_one_does_not_count():
    text = PAGE.read_text(encoding="utf-8")
    for experiment in library_experiments():
        assert f"`{experiment.case}`" in text
        if not experiment.counts:
            assert f"**Does not count:** {experiment.reason}" in text


def test_every_source_can_be_written_out():
    for key in {key for experiment in library_experiments() for key in experiment.sources}:
        text = reference(key)
        assert text.endswith((".", ")")) and "{" not in text
        assert len(text) > len(key) + 30, key
