"""What published tests say of a kind: counted again from the table of validation, by hand."""

import json
from importlib import resources
from pathlib import Path

import numpy as np
import pytest

from welkinwell.harvesters.kinds import KINDS
from welkinwell.studies.bias import OF_WATER, bias_of

TABLE = Path(__file__).parents[2] / "benchmarks" / "results" / "validation.json"


def test_the_shipped_table_is_that_of_the_last_validation():
    """When `welkinwell validate` has been run again, its rows go into library/published_tests.json too."""
    rows = json.loads(TABLE.read_text())
    file = resources.files("welkinwell").joinpath("library/published_tests.json")
    shipped = json.loads(file.read_text(encoding="utf-8"))
    assert shipped == [{key: row[key] for key in shipped[0]} for row in rows]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_counts_of_every_kind(kind):
    rows = [row for row in json.loads(TABLE.read_text()) if row["kind"] == kind]
    errors = [
        row["error"]
        for row in rows
        if row["judged"] and row["error"] is not None and row["quantity"].startswith(OF_WATER)
    ]
    found = bias_of(kind)
    if not errors:
        assert found is None
        return
    assert (found.low, found.high) == (sum(e < 0 for e in errors), sum(e > 0 for e in errors))
    assert found.median == pytest.approx(float(np.median(errors)))
    assert f"{found.low} predicted too low" in found.words
    assert "nothing here is corrected" in found.words
