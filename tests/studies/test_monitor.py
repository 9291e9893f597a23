"""Planted faults are found, the algebra agrees with NumPy, and acceptance rules are checked by hand."""

import math

import numpy as np
import pytest
from benchmarks.monitor_trials import PLANTED, TRIALS, expected, place, trial, truth

from welkinwell.simulate import TOLERANCES, march_year
from welkinwell.studies import acceptance as test_of
from welkinwell.studies import monitor


def test_hours_of_agree_with_a_march_through_the_year():
    """Sixty days after a lead-in against the same days of a whole year, and over the end of the year."""
    _, _, _, ready = truth("sound", 1)
    litres, _ = monitor.hours_of(ready, 24 * 335, 24 * 60, TOLERANCES["fast"])
    _, year = march_year(ready, tolerance=TOLERANCES["fast"])
    collected = ready.harvester.accounts(
        monitor.Bucketed(ready.harvester.kind, ready.design, year.flows)
    ).water["water_collected"][0]
    whole = collected * ready.design.basis_area
    assert litres.size == 24 * 60
    assert litres[: 24 * 30].sum() == pytest.approx(whole[-24 * 30 :].sum(), rel=2e-3)
    assert litres[24 * 30 :].sum() == pytest.approx(whole[: 24 * 30].sum(), rel=2e-3)


def test_misfit_is_the_quadratic_form_of_the_whole_covariance():
    """Against numpy.linalg on the full matrix, one day missing."""
    rng = np.random.default_rng(3)
    scatter, constant, measured, modelled = (rng.uniform(0.5, 2.0, 9) for _ in range(4))
    measured[4] = np.nan
    keep = np.isfinite(measured)
    covariance = np.diag((1.3 * scatter[keep]) ** 2) + np.outer(constant[keep], constant[keep])
    r = (measured - modelled)[keep]
    assert monitor._misfit(measured, modelled, scatter, constant, 1.3) == pytest.approx(
        r @ np.linalg.solve(covariance, r)
    )


@pytest.mark.parametrize("fault", list(PLANTED))
def test_one_planted_fault_of_each_kind_is_found(fault):
    found, record = trial(fault, 0)
    assert record["blamed"] == expected(fault)
    assert sum(one.weight for one in found.explanations) == pytest.approx(1.0)
    if fault != "sound":
        assert found.clear
        assert record["value"] == pytest.approx(record["planted"], rel=0.2)


@pytest.mark.long
@pytest.mark.parametrize("fault", list(PLANTED))
def test_planted_faults_are_found_in_at_least_18_of_20_logs(fault):
    right = sum(trial(fault, seed)[1]["blamed"] == expected(fault) for seed in range(TRIALS))
    assert right >= 18


def test_days_of_an_acceptance_test_by_hand():
    """Room (0.1 / 2.927)^2 - 0.02^2 = 7.672e-4; 0.12^2 over it is 18.8 days."""
    spread = test_of.Spread(0.02, {}, 0.12)
    assert test_of.days_needed(spread, 0.9) == 19
    # a day like the day before, 0.5, makes three days of one
    assert test_of.days_needed(test_of.Spread(0.02, {}, 0.12, 0.5), 0.9) == math.ceil(3 * 0.0144 / 7.672e-4)
    assert test_of.days_needed(test_of.Spread(0.035, {}, 0.12), 0.9) is None


def test_power_of_the_planned_test_by_drawing():
    """A plant that does as its model passes in 90 % of drawn tests of the planned length."""
    spread = test_of.Spread(0.02, {}, 0.12)
    days = test_of.days_needed(spread, 0.9)
    rng = np.random.default_rng(5)
    ratio = 1.0 + 0.02 * rng.standard_normal(4000) + 0.12 * rng.standard_normal((days, 4000)).mean(axis=0)
    passed = [test_of.verdict(float(r), spread.after(days), 0.9) == test_of.PASS for r in ratio]
    assert 0.88 < np.mean(passed) < 0.93
    assert test_of.verdict(0.8, 0.03, 0.9) == test_of.FAIL
    assert test_of.verdict(0.92, 0.03, 0.9) == test_of.OPEN


def test_acceptance_judges_a_log_and_plans_without_one():
    found, _ = trial("leak", 0)
    name, first, _, sound = truth("sound", 0)
    design, material = sound.design, sound.sorbent
    site = place(truth("leak", 0)[0])
    judged = test_of.acceptance(design, material, site, monitored=found)
    assert judged.verdict == test_of.FAIL
    assert judged.ratio == pytest.approx(found.ratio)
    assert judged.band[0] < judged.band[1] < judged.band[2]
    planned = test_of.acceptance(design, material, place(name), first_day=first, promised=0.75)
    assert planned.verdict == ""
    assert planned.planned is not None
    assert planned.spread.weather < judged.spread.weather  # a planned test measures its weather
