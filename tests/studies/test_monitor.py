"""Planted faults are found, the algebra agrees with NumPy, and acceptance rules are checked by hand."""

import datetime
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from benchmarks.monitor_trials import BOX, STRANGE, TRIALS, place, right, trial, truth, written_log

from welkinwell.case import read_case
from welkinwell.harvesters.harvester import Bucketed
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.power_cuts import VARIABLE as POWER_OFF
from welkinwell.moist_air import saturation_pressure
from welkinwell.plants import monitoring
from welkinwell.plants.one_plant import plant_of
from welkinwell.simulation import TOLERANCES, march_year, prepare
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies import acceptance as test_of
from welkinwell.studies import fault_likelihood, monitor
from welkinwell.studies.device_log import read_device_log
from welkinwell.studies.drawn import drawn
from welkinwell.studies.evidence import Accuracy, evidence_of

EXAMPLES = Path(__file__).parents[2] / "examples"


def test_hours_of_agree_with_a_march_through_the_year():
    """Sixty days after a lead-in against the same days of a whole year, and over the end of the year."""
    _, _, _, ready = truth("sound", 1)
    litres, _ = monitor.hours_of(ready, 24 * 335, 24 * 60, TOLERANCES["fast"])
    _, year = march_year(ready, tolerance=TOLERANCES["fast"])
    collected = ready.harvester.accounts(Bucketed(ready.harvester.kind, ready.design, year.flows)).water[
        "water_collected"
    ][0]
    whole = collected * ready.design.basis_area
    assert litres.size == 24 * 60
    assert litres[: 24 * 30].sum() == pytest.approx(whole[-24 * 30 :].sum(), rel=2e-3)
    assert litres[24 * 30 :].sum() == pytest.approx(whole[: 24 * 30].sum(), rel=2e-3)


def _some_evidence(bend):
    """Nine days of litres and of a temperature, one of them not measured, and three doubts."""
    rng = np.random.default_rng(3)
    names = ("litres", "bed_temperature")
    sound = {name: rng.uniform(1.0, 2.0, 9) for name in names}
    slopes = [{name: rng.uniform(-0.2, 0.2, 9) for name in names} for _ in range(3)]
    z = (0.8, -0.6, 0.5)
    measured = {
        name: sound[name]
        + sum(x * one[name] for x, one in zip(z, slopes, strict=True))
        + rng.normal(0.0, 0.05, 9)
        for name in names
    }
    measured["litres"][4] = np.nan
    sides = [
        tuple({n: sound[n] + side * one[n] + 0.5 * bend * one[n] for n in names} for side in (-1.0, 1.0))
        for one in slopes
    ]
    return evidence_of(measured, sound, sides, Accuracy()), measured, sound, slopes


def test_likelihood_and_shares_are_those_of_the_whole_covariance():
    """Without bends: numpy.linalg on the full matrix, and least squares with the shared ones as unknowns."""
    evidence, measured, sound, slopes = _some_evidence(0.0)
    keep = np.arange(18) != 4
    expected = {name: 0.9 * values for name, values in sound.items()}
    found = evidence.settled(expected)
    r = np.concatenate([measured[name] - expected[name] for name in measured])[keep]
    least = 0.01 * sound["litres"][np.arange(9) != 4].mean()
    s = np.concatenate([np.hypot(0.05 * sound["litres"], least), np.full(9, 0.5)])[keep]
    meter = np.concatenate([0.03 * expected["litres"], np.zeros(9)])[keep]
    thermometer = np.concatenate([np.zeros(9), np.full(9, 0.5)])[keep]
    # what doubts do to litres is a share, and a tenth of the litres is gone
    own = [np.concatenate([0.9 * one["litres"], one["bed_temperature"]])[keep] for one in slopes]
    U = np.column_stack([meter, thermometer, *own])
    C = np.diag(s**2) + U @ U.T
    assert found.misfit == pytest.approx(r @ np.linalg.solve(C, r))
    assert found.deviance == pytest.approx(found.misfit + np.linalg.slogdet(C)[1])
    stacked = np.vstack([U / s[:, None], np.eye(5)])
    z, *_ = np.linalg.lstsq(stacked, np.concatenate([r / s, np.zeros(5)]), rcond=None)
    assert found.shares == pytest.approx(z)
    assert found.covariance == pytest.approx(np.linalg.inv(stacked.T @ stacked))
    assert evidence.by_quantity(found.left)["bed_temperature"][2] == pytest.approx(((r - U @ z) / s)[10])
    assert np.isnan(evidence.by_quantity(found.left)["litres"][4])


def test_bent_uncertainties_are_those_of_a_general_minimiser():
    from scipy.optimize import minimize

    evidence, measured, sound, slopes = _some_evidence(0.8)
    found = evidence.settled(sound)
    keep = np.arange(18) != 4
    y, f0 = (np.concatenate([of[name] for name in measured])[keep] for of in (measured, sound))
    a = np.column_stack([np.concatenate(list(one.values()))[keep] for one in slopes])
    u = np.column_stack([np.r_[0.03 * sound["litres"], np.zeros(9)], np.r_[np.zeros(9), np.full(9, 0.5)]])[
        keep
    ]

    def f(z):
        model = f0 + u @ z[:2] + a @ z[2:] + 0.5 * 0.8 * a @ z[2:] ** 2
        return (((y - model) / evidence.scatter) ** 2).sum() + z @ z

    best = minimize(f, np.zeros(5), method="BFGS")
    assert found.misfit == pytest.approx(best.fun, rel=1e-3)
    assert found.shares == pytest.approx(best.x, abs=0.02)
    # a simulation of all at once that gives a tenth more is met by its correction
    own = found.shares[2:]
    parts = evidence.parts(sound, own)
    added = evidence.correction(sound, own, 1.1 * parts)
    assert added == pytest.approx(0.1 * parts)
    judged = evidence.judged(sound, found.shares, parts + added)
    assert judged.left * evidence.scatter == pytest.approx(y - 1.1 * parts - u @ found.shares[:2])
    # and by the slopes that learn from it, along the step alone
    learned = evidence.learned(sound, added, own)
    assert learned.parts(sound, own) == pytest.approx(1.1 * parts)
    across = np.array([own[1], -own[0], 0.0])
    assert learned.parts(sound, across) == pytest.approx(evidence.parts(sound, across))


def test_the_mean_likelihood_over_all_sizes():
    """A made-up explanation that adds x to a temperature: normal in x, so the integral is known."""
    evidence, _, sound, _ = _some_evidence(0.0)
    one = fault_likelihood.Explanation("bed", "made up", (-15.0, 15.0), "K", reading="bed_temperature")
    along = fault_likelihood._Along(
        one, lambda x: {**sound, "bed_temperature": sound["bed_temperature"] + x}, evidence, 0.0
    )
    best = along.best(fault_likelihood.STEPS)
    (left, _), (right, _) = along.end(best, -1), along.end(best, 1)
    assert best == pytest.approx(0.5 * (left + right), abs=1e-3)
    spread = 0.5 * (right - left) / math.sqrt(2.706)
    assert along.mean(left, best, right) - along(best) == pytest.approx(
        -2.0 * math.log(spread * math.sqrt(2.0 * math.pi)), abs=0.02
    )


@pytest.mark.parametrize("fault", BOX)
def test_one_planted_fault_of_each_kind_is_found(fault):
    found, record = trial(fault, 0)
    assert right(record)
    assert sum(one.weight for one in found.explanations) == pytest.approx(1.0)
    if fault != "sound":
        assert found.clear
        assert record["value"] == pytest.approx(record["planted"][fault], rel=0.25)


def test_a_sound_box_of_other_coefficients_is_not_blamed():
    """Its coefficients lie within their doubts, and the log narrows them, the wind's most."""
    found, record = trial(STRANGE, 0)
    assert record["blamed"] == "nothing"
    learned = {one.parameter.key: one for one in found.learned}
    assert learned["wind_coefficient"].spread < 0.3
    assert all(one.spread <= 1.0 for one in learned.values())


def test_the_weeks_ahead_hold_what_the_changed_box_then_gives(tmp_path):
    """The true box is simulated through the eight weeks after the log, in the same weather."""
    name, first, _, ready = truth("ageing", 3)
    log = written_log(ready, first, 3, tmp_path / "log.csv")
    sound = truth("sound", 0)[3]
    found = monitor.monitor(sound.design, sound.sorbent, place(name), log, known=tuple(monitor.KNOWN_TO))
    litres, _ = monitor.hours_of(ready, 24 * (first + log.days), 24 * 56, TOLERANCES["normal"])
    true = litres.reshape(8, -1).sum(axis=1)
    assert sum(week.low < x < week.high for week, x in zip(found.weeks, true, strict=True)) >= 7
    # no wider than it need be: the week's own weather, the meter and the fit
    assert np.mean([(week.high - week.low) / week.litres for week in found.weeks]) < 0.8
    assert sum(week.litres for week in found.weeks) == pytest.approx(true.sum(), rel=0.1)


@pytest.mark.long
@pytest.mark.parametrize("fault", [*BOX, STRANGE])
def test_planted_faults_are_found_in_at_least_18_of_20_logs(fault):
    assert sum(right(trial(fault, seed)[1]) for seed in range(TRIALS)) >= 18


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


def test_the_litres_that_pass_by_hand():
    """20 days of 10 L, u = hypot(0.03, 0.12/sqrt(20)): 0.8 + 1.645 u of 200 L pass, 0.8 - 1.645 u fail."""
    spread = test_of.Spread(0.03, {}, 0.12)
    test = test_of.Acceptance(
        0.8, spread, 20, 0, math.nan, math.nan, math.nan, math.nan, "", (9.0, 10.0, 11.0),
        first=datetime.date(2021, 3, 15), weather="a place (a.csv)",
        expected_by_day=np.full(20, 10.0), at=np.arange(20),
    )  # fmt: skip
    u = math.hypot(0.03, 0.12 / math.sqrt(20.0))
    fails, passes, expected = test.litres_that(20)
    assert (fails, passes, expected) == pytest.approx(
        (200.0 * (0.8 - 1.645 * u), 200.0 * (0.8 + 1.645 * u), 200.0)
    )
    # the same borders as those of the verdict on a ratio
    assert test_of.verdict(passes / expected + 1e-9, u, 0.8) == test_of.PASS
    assert test_of.verdict(passes / expected - 1e-9, u, 0.8) == test_of.OPEN
    assert test_of.verdict(fails / expected - 1e-9, u, 0.8) == test_of.FAIL
    for said in (
        "20 days, from 15 March to 3 April, in the weather of a place (a.csv)", "200 L",
        f"{passes:.4g} L or more pass", f"less than {fails:.4g} L fail",
    ):  # fmt: skip
        assert said in test.words
    assert "2021" not in test.words  # a planned test is of any year


def test_the_dates_of_a_test_over_a_leap_day_are_those_of_the_log():
    """20 days from 20 February 2024 on, the 29th left out, end on 11 March."""
    test = test_of.Acceptance(
        0.8, test_of.Spread(0.03, {}, 0.12), 20, 20, 200.0, 200.0, 1.0, 0.03, test_of.PASS,
        (9.0, 10.0, 11.0), first=datetime.date(2024, 2, 20), weather="a place (a.csv)",
        expected_by_day=np.full(20, 10.0), measured_by_day=np.full(20, 10.0), at=np.arange(20),
    )  # fmt: skip
    assert test.dates == "from 20 February to 11 March 2024"
    assert test.last_day(10) == datetime.date(2024, 3, 1)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_what_may_explain_a_gap_can_be_tried_of_every_kind(kind, tmp_path):
    """Each number that is offered changes a prepared device of the kind; a brine is no mass."""
    design, material = KINDS[kind].load()(), None
    if KINDS[kind].takes_sorbent:
        material = sorbent("licl_brine" if kind == "liquid_desiccant" else "silica_gel_regular_density")
    base = prepare(design, material, place("coast"))
    days = [datetime.date(2021, 3, 1) + datetime.timedelta(days=k) for k in range(9)]
    file = tmp_path / "log.csv"
    file.write_text("time,litres [L]\n" + "".join(f"{day},2\n" for day in days), encoding="utf-8")
    offered = monitor.explanations_of(base, read_device_log(file), ("relative_humidity", "sun"))
    assert {"meter", "hygrometer", "pyranometer"} <= {one.key for one in offered}
    assert ("ageing" in {one.key for one in offered}) == (material is not None and kind != "liquid_desiccant")
    for one in offered:
        if one.parameter is not None:
            drawn(base, (one.parameter,), np.array([one.values[-1]]))


LOGGED_FROM, LOGGED_DAYS = 172, 8
LOGGED = slice(24 * LOGGED_FROM, 24 * (LOGGED_FROM + LOGGED_DAYS))


def met_under_the_log(about, folder, monkeypatch, **columns):
    """Give the surroundings that a harvester is monitored in with an hourly log of these columns."""
    begin = datetime.datetime(2021, 1, 1) + datetime.timedelta(days=LOGGED_FROM)
    stamps = [f"{begin + datetime.timedelta(hours=k + 1):%Y-%m-%dT%H:%M}" for k in range(24 * LOGGED_DAYS)]
    rows = zip(stamps, *([f"{value:.6f}" for value in values] for values in columns.values()), strict=True)
    file = folder / "log.csv"
    lines = [",".join(["time,litres [L]", *columns]), *(",".join([t, "0.5", *rest]) for t, *rest in rows)]
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    seen = []

    def kept(design, material, site, *args, **kwargs):
        seen.append(site)
        raise KeyError

    monkeypatch.setattr(monitoring, "monitor", kept)
    with pytest.raises(KeyError):
        monitoring.monitored(about, file)
    return seen[0]


def test_hours_without_own_electricity_stay_under_the_logs_weather(tmp_path, monkeypatch):
    """A log of the filed weather itself expects what the plant gave with its own cells and battery."""
    about = plant_of(read_case(EXAMPLES / "tern_hollow" / "off_grid.toml"), "Small machine")
    climate = about.site.climate
    assert climate[POWER_OFF].values[LOGGED].sum() > 0.0
    warm = climate["temperature"].values[LOGGED]
    humid = climate["vapour_pressure"].values[LOGGED] / saturation_pressure(warm)
    columns = {"air_temperature [degC]": warm - 273.15, "relative_humidity [1]": humid}
    with_log, as_filed = (
        monitor.hours_of(
            prepare(about.entry.design, None, site), LOGGED.start, 24 * LOGGED_DAYS, TOLERANCES["fast"]
        )[0].sum()
        for site in (met_under_the_log(about, tmp_path, monkeypatch, **columns), about.site)
    )  # fmt: skip
    assert with_log == pytest.approx(as_filed, rel=1e-3)


def test_the_sun_of_a_log_is_shaded_by_the_rows(tmp_path, monkeypatch):
    """A log of the filed sun itself meets what the rows leave of that sun."""
    case = read_case(EXAMPLES / "tern_hollow" / "case.toml")
    about = plant_of(replace(case, field=replace(case.field, arranged="rows", rows=5)))
    sun = about.climate["ghi"].values[LOGGED]
    met = met_under_the_log(about, tmp_path, monkeypatch, **{"sun [W/m2]": sun})
    shaded, filed = (one.climate["ghi"].values[LOGGED].sum() for one in (met, about.site))
    assert filed < 0.99 * sun.sum()
    assert shaded == pytest.approx(filed, rel=0.02)  # beam and diffuse are split anew, by Erbs1982


def test_a_plan_that_no_length_can_tell_names_no_litres():
    test = test_of.Acceptance(
        0.9, test_of.Spread(0.05, {}, 0.12), None, 0, math.nan, math.nan, math.nan, math.nan, "",
        (9.0, 10.0, 11.0), expected_by_day=np.full(120, 10.0), at=np.arange(120),
    )  # fmt: skip
    assert "No test of up to 120 days" in test.words and "or more pass" not in test.words
    # and the picture shows why: what the model gives never reaches what passes
    assert all(test.litres_that(n)[1] > test.litres_that(n)[2] * 0.95 for n in (30, 120))
