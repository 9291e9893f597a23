"""Days that stand for a year: lines through pairs by hand, and the litres of changed sheets both ways."""

import numpy as np
import pytest

from box_cases import SILICA, site_of
from welkinwell.constants import DAYS_IN_MONTH
from welkinwell.harvesters.dew_condenser.design import DewCondenser
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.simulation import prepare, simulate
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies import uncertainty
from welkinwell.studies.drawn import drawn
from welkinwell.studies.short_year import COLUMNS, WHOLE_YEARS, amounts, litres, short_year, tie, tied
from welkinwell.studies.typical_weeks import whole_year
from welkinwell.studies.uncertain_parameters import uncertain_parameters_of
from welkinwell.studies.uncertainty import SHORT_FROM, WELL_TIED, draw
from welkinwell.year import figures


def test_estimates_on_a_straight_line_are_exact():
    """Whole = 2 short + 1 in every column: no misses, so every estimate lies on the line."""
    rng = np.random.default_rng(3)
    short = rng.uniform(1.0, 2.0, (50, COLUMNS))
    found, misses = tied(short, 2.0 * short[:20] + 1.0, seed=1)
    assert found == pytest.approx(2.0 * short + 1.0, rel=1e-12)
    assert np.abs(misses).max() < 1e-12


def test_misses_are_given_back_to_the_estimates():
    """Noise of a known size about a line: estimates scatter as the pairs do, the pairs stay as they are."""
    rng = np.random.default_rng(4)
    short = rng.uniform(10.0, 20.0, (4000, COLUMNS))
    whole = 1.5 * short[:200] + rng.normal(0.0, 0.3, (200, COLUMNS))
    found, _ = tied(short, whole, seed=1)
    assert np.array_equal(found[:200], whole)
    assert (found[200:] - 1.5 * short[200:]).std() == pytest.approx(0.3, rel=0.05)


def test_months_without_water_and_failed_draws():
    short = np.ones((30, COLUMNS))
    short[:, 3] = 0.0
    short[:, 5] = np.linspace(0.0, 1.0, 30)
    short[4], short[25] = np.nan, np.nan
    whole = short[:10].copy()
    found, misses = tied(short, whole, seed=1)
    assert misses.shape == (9, COLUMNS)
    assert np.isnan(found[[4, 25], 0]).all()
    assert (found[np.isfinite(found[:, 0]), 3] == 0.0).all()
    nothing, _ = tied(np.full((8, COLUMNS), np.nan), np.full((4, COLUMNS), np.nan), seed=1)
    assert np.isnan(nothing).all()


def test_amounts_of_a_year_are_those_of_the_years_dataset():
    design, site = DewCondenser(), site_of("tropics")
    base = prepare(design, None, site)
    year = figures(simulate(design, None, site, keep="months", accuracy="screening", audit=False))
    plain, by_days = amounts(base, "screening"), amounts(base, "screening", whole_year(site))
    assert litres(plain[None])[0] == pytest.approx(year["litres_per_m2_day"], rel=1e-12)
    assert by_days[:12] == pytest.approx(plain[:12], rel=1e-9)
    short = short_year(base, site)
    assert short.whole[:12] == pytest.approx(plain[:12], rel=1e-9)
    assert int(short.days.counted.sum()) == 48
    said = tie(short, np.tile(plain, (4, 1)), np.zeros((4, COLUMNS)))
    assert said.whole == pytest.approx(year["litres_per_m2_day"], rel=1e-12)
    assert "real days" in said.words


def test_draws_through_the_short_year_are_those_of_the_whole_year():
    """A box: draws by the days beside the same draws through the year, apart by what the tie says."""
    design, material, site = PassiveBox(), sorbent(SILICA), site_of("coast")
    parameters = tuple(uncertain_parameters_of(design, material))
    short = draw(design, material, site, draws=SHORT_FROM, seed=2, parameters=parameters)
    assert short.tie is not None and short.tie.explained > WELL_TIED
    base, some = prepare(design, material, site), slice(WHOLE_YEARS, WHOLE_YEARS + 24)
    rows = np.array([amounts(drawn(base, parameters, row), "screening") for row in short.values[some]])
    missed = short.litres[some] - litres(rows)
    # a miss of the line and the miss that is given back: the scatter twice over, in squares
    assert np.sqrt((missed**2).mean()) < 2.0 * np.sqrt(2.0) * short.tie.scatter
    assert short.tie.scatter < 0.1 * short.litres.std()
    assert short.litres == pytest.approx(short.by_month @ DAYS_IN_MONTH / 365.0, rel=1e-12)


def test_where_the_days_do_not_tell_the_year_every_draw_runs_through_it(monkeypatch):
    """Asked for more than any tie gives, the draws are those of whole years, to the last digit."""
    monkeypatch.setattr(uncertainty, "WELL_TIED", 1.0)
    design, site = DewCondenser(), site_of("tropics")
    found, plain = (draw(design, None, site, draws=SHORT_FROM, seed=2, whole_years=w) for w in (False, True))
    assert found.tie is None
    assert np.array_equal(found.litres, plain.litres)
