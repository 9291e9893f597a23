"""From points to a sheet: the form that was measured is found, its doubt holds, and doubts are said."""

import csv
import math
import sys
from pathlib import Path

import numpy as np
import pytest

from welkinwell.constants import GAS_CONSTANT as R
from welkinwell.errors import FileError, SheetError
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.moist_air.saturation import latent_heat, saturation_pressure
from welkinwell.sorbents.fit import read_points
from welkinwell.sorbents.lab_data import LabPoints, UptakeCurve
from welkinwell.sorbents.lab_fit import fit_lab_points
from welkinwell.sorbents.potential import sorbed_state
from welkinwell.sorbents.sorbent import points_path, sorbent
from welkinwell.sorbents.uptake_fit import fit_uptake
from welkinwell.sorbents.write_sheet import sheet_text
from welkinwell.studies.uncertain_parameters import uncertain_parameters_of

sys.path.insert(0, str(Path(__file__).parents[2]))
from benchmarks.fit_coverage import TRUE_FORM, study

HUMIDITIES = np.array([0.02, 0.05, 0.1, 0.14, 0.18, 0.22, 0.26, 0.3, 0.35, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9])


def synthetic(name="alpo_5", degrees=(25, 40, 60), noise=0.01, seed=3, release=0.0, humidities=HUMIDITIES):
    """Points of a library sheet with noise, and a release branch that lies `release` J/mol above."""
    rng = np.random.default_rng(seed)
    row = sorbent(name).row
    rows = []
    for t in degrees:
        T = 273.15 + t
        for desorbing, width in ((False, 0.0), (True, release)) if release else ((False, 0.0),):
            for rh in humidities:
                A = -R * T * math.log(rh)
                q = sorbed_state(row, A - width, T)[0] * (1.0 + noise * rng.standard_normal())
                rows.append((T, rh * saturation_pressure(T), q, desorbing))
    table = np.array([row[:3] for row in rows])
    return LabPoints(*table.T, np.array([row[3] for row in rows]), ("points.csv",))


def test_form_and_truth_are_found_again():
    fit = fit_lab_points(synthetic())
    true = sorbent("alpo_5")
    assert fit.best.candidate.form == "sips_terms"
    assert fit.best.heat_ratio >= 0.98
    for T in (300.0, 330.0):
        for rh in (0.15, 0.3, 0.7):
            low, high = fit.loading_band(T, -R * T * math.log(rh))
            assert low - 0.003 < true.loading(T, rh) < high + 0.003
    assert fit.heat(313.15, 0.1) == pytest.approx(float(true.isosteric_heat(313.15, 0.1)), rel=0.01)
    assert all(part.error >= 0.0 for part in fit.parts)


def test_release_branch_gives_its_width():
    fit = fit_lab_points(synthetic(release=600.0))
    assert fit.hysteresis == pytest.approx(600.0, rel=0.05)


def test_one_temperature_widens_the_heat_and_is_said():
    one = fit_lab_points(synthetic(degrees=(25,)))
    low, high = one.heat_band(298.15, 0.1)
    assert high - low > 2 * 1.96 * 15.0 * 298.15 / 0.018015268 * 0.99
    assert any(warning.startswith("One temperature only (25 degC)") for warning in one.warnings)


def test_too_few_points_near_the_step_are_said():
    sparse = np.array([0.02, 0.05, 0.1, 0.28, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95])
    fit = fit_lab_points(
        synthetic("uio_66", degrees=(25,), humidities=np.sort(np.r_[sparse, 0.3, 0.33, 0.4]))
    )
    assert any(warning.startswith("Too few points near the step") for warning in fit.warnings)


def test_drift_is_said_and_chance_is_not():
    points = synthetic("silica_gel_regular_density", degrees=(25, 40, 60), noise=0.002)
    assert not any(warning.startswith("Drift") for warning in fit_lab_points(points).warnings)
    # a balance that walks: every isotherm alternates dry and wet points while its zero rises
    order = np.r_[0:15:2, 1:15:2]
    order = np.concatenate([order, order + 15, order + 30])
    walk = 1.0 + 0.06 * np.tile(np.arange(15) / 15.0, 3)
    drifting = LabPoints(
        points.temperature[order],
        points.pressure[order],
        points.loading[order] * walk,
        points.desorbing,
        points.files,
    )
    assert any(warning.startswith("Drift") for warning in fit_lab_points(drifting).warnings)


def test_temperatures_that_do_not_belong_together_are_refused():
    """Far higher loadings at the same humidity at 60 C: heat below the latent heat, whatever the form."""
    rows = []
    for t, factor in ((25, 1.0), (60, 4.0)):
        T = 273.15 + t
        for rh in HUMIDITIES:
            q = 0.3 / (1.0 + math.exp((-R * 298.15 * math.log(rh) - 1000.0 * factor) / 500.0))
            rows.append((T, rh * saturation_pressure(T), q))
    table = np.array(rows)
    points = LabPoints(*table.T, np.zeros(len(rows), bool), ("mixed.csv",))
    try:
        fit = fit_lab_points(points)
    except FileError as error:
        assert "times the latent heat" in str(error)
    else:
        assert any("would fit better but has a heat of" in warning for warning in fit.warnings)
        assert fit.best.heat_ratio >= 0.98


@pytest.mark.parametrize(("file", "misfit"), [("mof_801_powder.csv", 0.0045), ("alpo_5.csv", 0.0045)])
def test_published_points_are_fitted_as_well_as_by_hand(file, misfit):
    """The library's own sheets have 0.0036 and 0.0036 kg/kg by unweighted least squares."""
    points = read_points(points_path(file))
    lab = LabPoints(
        points.temperature, points.pressure, points.loading, np.zeros(points.loading.size, bool), (file,)
    )
    assert fit_lab_points(lab).best.misfit < misfit


def test_what_is_written_is_a_sheet(tmp_path):
    fit = fit_lab_points(synthetic(release=500.0))
    path = tmp_path / "mine.toml"
    path.write_text(sheet_text(fit, "mine", 'A "fine" one', None, 5e-4), encoding="utf-8")
    again = sorbent(path)
    assert again.hysteresis_width == pytest.approx(500.0, rel=0.05)
    for T, rh in ((298.15, 0.2), (333.15, 0.6)):
        assert again.loading(T, rh) == pytest.approx(fit.loading(T, -R * T * math.log(rh)), rel=1e-6)
    assert again.sources == ()
    assert any("assumed" in caution for caution in again.cautions)
    assert again.sheet.terms[0]["capacity"].source == "own data"


@pytest.mark.parametrize("form", ["dubinin_astakhov", "gab", "toth", "dual_site_langmuir"])
def test_every_form_that_may_win_can_be_written(tmp_path, form):
    """Points drawn by each published form: whatever wins loads again and meets them."""
    rows = {
        "dubinin_astakhov": lambda T, rh: 0.38 * math.exp(-((-R * T * math.log(rh) / 3962.2) ** 1.1)),
        "gab": lambda T, rh: _gab(rh, 0.2362, 6.805, 0.7634),
        "toth": _toth,
        "dual_site_langmuir": _langmuir,
    }
    rng = np.random.default_rng(5)
    T = np.repeat([298.15, 313.15, 333.15], HUMIDITIES.size)
    rh = np.tile(HUMIDITIES, 3)
    q = np.array([rows[form](t, h) for t, h in zip(T, rh, strict=True)]) * (
        1 + 0.01 * rng.standard_normal(T.size)
    )
    pressure = rh * np.array([saturation_pressure(t) for t in T])
    fit = fit_lab_points(LabPoints(T, pressure, q, np.zeros(T.size, bool), ("form.csv",)))
    trial = next(trial for trial in fit.trials if trial.candidate.form == form)
    assert trial.misfit < 0.02 * q.max()
    path = tmp_path / "form.toml"
    path.write_text(sheet_text(fit, "form", "Form", None, 5e-4), encoding="utf-8")
    assert sorbent(path).loading(313.15, 0.3) == pytest.approx(rows[form](313.15, 0.3), rel=0.03)


def _gab(x, w, C, K):
    return w * C * K * x / ((1.0 - K * x) * (1.0 - K * x + C * K * x))


def _toth(T, rh):
    b, n = 2.408e-10 * math.exp(6852.0 / T), 0.3974
    x = b * rh * saturation_pressure(T)
    return 0.271875 * x / (1.0 + x**n) ** (1.0 / n)


def _langmuir(T, rh):
    p = rh * saturation_pressure(T)
    sites = ((0.12, 2e-13, 60e3), (0.2, 1.3e-11, 46e3))
    return sum(w * b * math.exp(Q / (R * T)) * p / (1.0 + b * math.exp(Q / (R * T)) * p) for w, b, Q in sites)


def test_coverage_on_a_seeded_sample():
    """60 of the 1000 trials of benchmarks/fit_coverage.py (94.6 % at 95 %, median width 1.05 of the bound).

    Figures of one trial go together, so chance alone spreads a sample of 60 by about 1.5 %.
    """
    found = study(60)
    print(found)
    assert 0.90 < found["coverage"] < 0.985
    assert found["median_width_over_bound"] < 1.2
    assert found["forms"][TRUE_FORM] > 30


def curves(rates, energy_noise=0.0, seed=1, stop=8.0):
    rng = np.random.default_rng(seed)
    made = []
    for T, k in rates:
        t = np.linspace(0.0, stop / k, 40)
        made.append(
            UptakeCurve(t, 0.02 + 0.2 * (1 - np.exp(-k * t)) + 0.002 * rng.standard_normal(40), T, 0.4)
        )
    return made


def test_rate_and_activation_energy_are_found_again():
    true = [(T, 0.01 * math.exp(-32e3 / R * (1 / T - 1 / 298.15))) for T in (298.15, 313.15, 333.15)]
    rate = fit_uptake(curves(true))
    assert rate.rate == pytest.approx(0.01, rel=4 * max(rate.rate_error, 0.005))
    assert abs(rate.energy - 32e3) < 3.0 * rate.energy_error + 500.0
    assert rate.measured_energy
    assert rate.warnings == ()
    assert rate.diffusivity(15.0, 5e-4) == pytest.approx(
        rate.rate * math.exp(rate.energy / (R * 298.15)) * 2.5e-7 / 15.0
    )


def test_doubtful_curves_are_said():
    one = fit_uptake(curves([(298.15, 0.01)], stop=1.0))
    assert not one.measured_energy
    assert any("stopped before its end" in warning for warning in one.warnings)
    assert any("one temperature only" in warning for warning in one.warnings)
    t = np.linspace(0.0, 8000.0, 60)
    walking = UptakeCurve(t, 0.2 * (1 - np.exp(-0.01 * t)) + 4e-6 * t, 298.15, 0.4)
    assert any("drift" in warning for warning in fit_uptake([walking]).warnings)
    slab = UptakeCurve(t, 0.2 * np.minimum(np.sqrt(t / 4000.0), 1.0), 298.15, 0.4)
    assert any("not that of a linear driving force" in warning for warning in fit_uptake([slab]).warnings)


def test_measured_points_of_the_library_are_as_a_lab_would_write_them(tmp_path):
    """The CSV of a sheet, rewritten with units in its header, reads back to the same potentials."""
    from welkinwell.sorbents.lab_data import read_lab_points

    points = read_points(points_path("alpo_5.csv"))
    path = tmp_path / "alpo.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file)
        out.writerow(["temperature [K]", "pressure [Pa]", "loading [g/g]"])
        out.writerows(zip(points.temperature, points.pressure, points.loading, strict=True))
    again = read_lab_points([path])
    assert np.allclose(again.potential, points.potential())
    assert latent_heat(298.15) > 0.0


def test_a_fit_and_its_covariance_are_drawn_from_the_sheet_as_they_were_fitted(tmp_path):
    """Draws along the sheet's directions against the covariance of the fit, through the written file."""
    fit = fit_lab_points(synthetic(degrees=(25, 40, 60), noise=0.01))
    path = tmp_path / "mine.toml"
    path.write_text(sheet_text(fit, "mine", "Mine", None, 5e-4), encoding="utf-8")
    read = sorbent(path)
    doubts = [d for d in uncertain_parameters_of(PassiveBox(), read) if d.key.startswith("fit_")]
    assert 2 <= len(doubts) <= len(fit.parts)
    rng = np.random.default_rng(8)
    shares = np.clip(rng.random((1500, len(doubts))), 1e-6, 1.0 - 1e-6)
    keys = [part.key for part in fit.parts]
    values, loadings = [], []
    for row in np.column_stack([d.value(shares[:, i]) for i, d in enumerate(doubts)]):
        drawn = read
        for doubt, value in zip(doubts, row, strict=True):
            drawn = doubt.change(None, drawn, float(value))[1]
        values.append([drawn.sheet.isotherm_number(key).value for key in keys])
        loadings.append(float(drawn.loading(313.15, 0.4)))
    # numbers that the points tell: others are held at what a sheet may hold
    free = [i for i, part in enumerate(fit.parts) if 0.0 < part.error < 0.25 * abs(part.value)]
    assert len(free) >= 4
    fitted, table = np.array([part.value for part in fit.parts])[free], np.array(values)[:, free]
    for i, key in enumerate(np.array(keys)[free]):
        if not key.endswith(("potential", "slope")):  # drawn by their logarithm
            table[:, i] = fitted[i] * np.log(table[:, i] / fitted[i])
    assert table.std(axis=0) == pytest.approx([fit.parts[i].error for i in free], rel=0.15)
    apart = np.corrcoef(table.T) - fit.correlation[np.ix_(free, free)]
    assert np.abs(apart).max() < 0.1
    # far narrower than if each number erred by itself: that is what the covariance is for
    alone = []
    for row in rng.standard_normal((300, len(free))):
        changed = {
            keys[i]: fit.parts[i].value + fit.parts[i].error * z for i, z in zip(free, row, strict=True)
        }
        alone.append(float(read.refitted(changed).loading(313.15, 0.4)))
    assert np.std(loadings) < 0.7 * np.std(alone)


def test_correlations_that_are_none_are_refused(tmp_path):
    fit = fit_lab_points(synthetic())
    text = sheet_text(fit, "mine", "Mine", None, 5e-4)
    path = tmp_path / "mine.toml"
    for wrong, said in (
        ("terms[0].capacity: 7", "numbers from -1 to 1"),
        ("terms[9].capacity: 1", "terms[9]"),
    ):
        path.write_text(text.replace("terms[0].capacity: 1.0000", wrong), encoding="utf-8")
        with pytest.raises(SheetError) as told:
            sorbent(path)
        assert said in str(told.value)
