"""What published tests say of a kind: counted again from the table of validation, by hand."""

import json
from importlib import resources
from pathlib import Path

import numpy as np
import pytest

from welkinwell.harvesters.kinds import KINDS
from welkinwell.report.decision_charts import two_intervals
from welkinwell.studies.bias import OF_WATER, Bias, _bias, bias_of, carry, factors_at
from welkinwell.studies.validate import from_json, published_tests

TABLE = Path(__file__).parents[2] / "benchmarks" / "results" / "validation.json"


def test_the_shipped_table_is_that_of_the_last_validation():
    """`welkinwell validate -o DIR` writes both; the short one goes to library/published_tests.json."""
    file = resources.files("welkinwell").joinpath("library/published_tests.json")
    rows = from_json(TABLE.read_text(encoding="utf-8"))
    assert file.read_text(encoding="utf-8") == published_tests(rows)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_counts_of_every_kind(kind):
    rows = [row for row in json.loads(TABLE.read_text()) if row["kind"] == kind]
    judged = [
        row
        for row in rows
        if row["judged"] and row["error"] is not None and row["quantity"].startswith(OF_WATER)
    ]
    found = bias_of(kind)
    if not judged:
        assert found is None
        return
    errors = [row["error"] for row in judged if row["relation"] == "=" or not row["inside"]]
    low = sum(row["error"] < 0 for row in judged)
    assert (found.low, found.high) == (low, sum(e > 0 for e in errors))
    assert found.low + found.high + found.least == found.figures == len(judged)
    assert found.median == pytest.approx(float(np.median(errors)))
    if found.figures > 1:
        assert f"{found.figures} figures of its water: {found.low} were predicted too low and" in found.words
    assert "no central value is corrected" in found.words
    # one factor a test, though a test may have several figures: they share one device
    cases = {row["case"] for row in rows if row["judged"] and row["quantity"].startswith(OF_WATER)}
    assert 1 <= len(found.factors) <= len(cases)
    assert list(found.factors) == sorted(found.factors)
    json.dumps(found.as_data(), allow_nan=False)


def made(*factors, **more):
    return Bias("made_up", len(factors), 1, 1, 1, 0.0, factors, **more)


def row(case, error, relation="=", inside=False):
    return {"case": case, "error": error, "relation": relation, "inside": inside}


def test_what_was_published_as_a_least_and_is_reached_is_no_miss():
    """A least of 0.25, predicted 0.277, allows any factor from 0.90 on: not that one, and not too high."""
    found = _bias("made_up", [row("a", 0.1092, ">=", True), row("b", -0.5), row("c", -0.75)])
    assert (found.low, found.high, found.least, found.inside) == (2, 0, 1, 1)
    assert found.factors == (2.0, 4.0) and found.median == pytest.approx(-0.625)
    assert (found.too_low_known, found.too_high_known) == (True, False)
    assert "2 were predicted too low and 0 too high, and one was published as a least" in found.words
    assert "what misses are known are -62 % in the median" in found.words
    # a little below what was published is too low for sure, though by how much is not known
    short = _bias("made_up", [row("a", -0.1, ">=", True), row("b", -0.05, inside=True)])
    assert (short.low, short.least, short.factors) == (2, 0, (1.0 / 0.95,))
    assert short.too_high_known  # a figure that agrees tells of both sides
    # far below it the factor is the least that it can be
    assert _bias("made_up", [row("a", -0.5, ">=")]).factors == (2.0,)
    alone = _bias("made_up", [row("a", 0.1, ">=", True)])
    assert alone.factors == () and "only as a least" in alone.words
    assert alone.as_data()["median"] is None
    json.dumps(alone.as_data(), allow_nan=False)


def test_an_end_of_which_nothing_is_known_is_not_made_up():
    litres = np.linspace(0.9, 1.1, 100)
    found = carry(made(2.0, 3.0, 4.0, too_high_known=False), litres, ceiling=9.0)
    assert not found.low_known and found.as_data()["exceeded_in_90_percent"] is None
    assert "of the draws reach up to 4.20." in found.words and "No low end is known" in found.words
    assert "Plan with the low end of the draws" in found.words
    above = carry(made(0.25, 0.3, 0.5, too_low_known=False), litres, ceiling=9.0)
    assert np.isinf(above.high) and above.top == 9.0 and "No upper end is known" in above.words
    json.dumps([found.as_data(), above.as_data()], allow_nan=False)


def test_the_low_end_is_never_above_the_bound():
    """Misses of 3 to 6 times carry draws of about 1.2 to 3.6 and more, past a bound of 3.3."""
    found = carry(made(3.0, 4.0, 6.0), np.linspace(1.1, 1.3, 100), ceiling=3.3)
    assert found.low == found.top == 3.3
    assert "of the draws lie at 3.30, the lowest bound that binds it, or would pass it" in found.words
    assert two_intervals((1.1, 1.3), found, 1.2, "aperture").alternative
    passive = carry(bias_of("passive_box"), np.linspace(1.1, 1.5, 100), ceiling=3.3)
    assert not passive.low_known and "reach up to 3.30" in passive.words
    assert (
        "low end not known, to 3.30, a bound"
        in two_intervals((1.1, 1.5), passive, 1.4, "aperture").alternative
    )


def test_factors_stand_at_their_plotting_positions():
    """By hand: of 1, 2 and 8 the k-th stands at k / 4, by logarithms between, the ends beyond."""
    at = factors_at((1.0, 2.0, 8.0), np.array([0.01, 0.25, 0.375, 0.5, 0.625, 0.75, 0.99]))
    assert at == pytest.approx([1.0, 1.0, np.sqrt(2.0), 2.0, 4.0, 8.0, 8.0])
    endless = factors_at((1.0, np.inf, np.inf), np.array([0.2, 0.25, 0.26, 0.6, 0.99]))
    assert list(endless) == [1.0, 1.0, np.inf, np.inf, np.inf]


def test_misses_widen_the_interval_and_never_move_its_centre_alone():
    litres = np.exp(0.1 * np.random.default_rng(1).normal(size=512))
    plain = np.quantile(litres, [0.1, 0.9])
    both_ways = carry(made(0.25, 0.5, 1.0, 2.0, 4.0), litres)
    assert both_ways.low < 0.5 * plain[0]
    assert both_ways.high > 2.0 * plain[1]
    none = carry(made(1.0, 1.0, 1.0), litres)
    assert (none.low, none.high) == pytest.approx(tuple(plain), rel=0.01)


def test_one_bias_for_all_shifts_both_ends_by_it():
    """Carried along with its sign: three tests that each gave twice the prediction."""
    litres = np.exp(0.1 * np.random.default_rng(1).normal(size=512))
    found = carry(made(2.0, 2.0, 2.0), litres)
    assert (found.low, found.high) == pytest.approx(tuple(2.0 * np.quantile(litres, [0.1, 0.9])), rel=0.01)
    assert "no correction" in found.words


def test_a_prediction_of_nothing_leaves_no_upper_end_but_a_bound():
    litres = np.linspace(0.9, 1.1, 100)
    found = carry(made(1.0, 2.0, np.inf), litres, ceiling=9.0)
    assert np.isinf(found.high)
    assert found.top == 9.0
    assert found.beyond == pytest.approx(0.5, abs=0.02)  # those above the second of three factors have no end
    assert "In 50 % of the draws they would carry the litres past that bound" in found.words
    assert "9.00, the lowest bound that binds it" in found.words
    assert "1 of them where no water at all was predicted" in found.words
    assert "50 % of cases only" in found.words  # three misses hold a fourth in (3 - 1) / (3 + 1)
    assert found.as_data()["exceeded_in_10_percent"] is None
    json.dumps(found.as_data(), allow_nan=False)
    assert "no upper end" in carry(made(1.0, 2.0, np.inf), litres).words


def test_the_range_of_misses_holds_a_further_one_as_often_as_it_says():
    """Eight of ten with nine tests, whatever the distribution; here heavy on one side."""
    rng = np.random.default_rng(3)
    misses = np.exp(2.0 * rng.exponential(size=(20000, 10)))
    inside = (misses[:, 9] > misses[:, :9].min(axis=1)) & (misses[:, 9] < misses[:, :9].max(axis=1))
    assert inside.mean() == pytest.approx(8.0 / 10.0, abs=0.01)


def test_too_few_tests_are_told_and_not_drawn():
    litres = np.linspace(0.9, 1.1, 100)
    assert carry(made(1.0, 3.0), litres) is None
    assert carry(None, litres) is None
    assert carry(made(1.0, 2.0, 3.0), np.full(8, np.nan)) is None
