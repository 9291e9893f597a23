"""The sheets of the library against the points and heats they come from, and against physics."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.constants import GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.errors import FileError, SheetError
from welkinwell.moist_air.saturation import latent_heat, saturation_pressure
from welkinwell.sorbents import dubinin_astakhov, toth
from welkinwell.sorbents.fit import fit_sips_terms, misfit, read_points, sips_loading
from welkinwell.sorbents.kinetics import fill_kinetics, uptake_rate
from welkinwell.sorbents.potential import potential_at_loading, sorbed_state
from welkinwell.sorbents.row import empty_row
from welkinwell.sorbents.sorbent import (
    LEAST_HEAT_RATIO,
    lowest_heat_ratio,
    points_path,
    sheet_names,
    sorbent,
)

R, M = GAS_CONSTANT, WATER_MOLAR_MASS
ALL = pytest.mark.parametrize("name", sheet_names())


def _has_points(name):
    sheet = sorbent(name).sheet
    return bool(sheet.lists["isotherm.points"]) and sheet.texts["isotherm.form"] != "salt_hydrates"


WITH_POINTS = pytest.mark.parametrize("name", [name for name in sheet_names() if _has_points(name)])
FIRST_FIVE = {"silica_gel_regular_density", "zeolite_13x", "mof_801", "aluminium_fumarate", "licl_gel"}


def points_of(name):
    points = read_points(*(points_path(file) for file in sorbent(name).sheet.lists["isotherm.points"]))
    if name != "aluminium_fumarate":
        return points
    # the sheet says: points above relative humidity 0.75 are water between the grains
    kept = points.pressure < 0.75 * saturation_pressure(298.15)
    return type(points)(points.temperature[kept], points.pressure[kept], points.loading[kept], points.sources)


def test_first_five_sheets_are_there():
    assert set(sheet_names()) >= FIRST_FIVE


@WITH_POINTS
def test_misfit_at_the_points_is_the_one_printed_in_the_sheet(name):
    """From the rounded numbers of the sheet; an independent fit of the same form to the same points gave
    0.0017/0.0085 (gel), 0.0036/0.0085 (13X), 0.0035/0.008 (MOF-801), 0.0020/0.005 (aluminium fumarate)."""
    found, points = sorbent(name), points_of(name)
    model = [
        sorbed_state(found.row, A, T)[0] for A, T in zip(points.potential(), points.temperature, strict=True)
    ]
    rmse, largest = misfit(np.array(model), points)
    assert rmse == pytest.approx(found.sheet.value("isotherm.fit_rmse"), rel=0.03, abs=0.00006)
    assert largest == pytest.approx(found.sheet.value("isotherm.fit_largest_error"), rel=0.03, abs=0.00006)


@WITH_POINTS
def test_range_of_the_sheet_is_that_of_the_points(name):
    found, points = sorbent(name), points_of(name)
    A = points.potential()
    assert found.potential_range[0] == pytest.approx(A.min(), abs=1.0)
    assert found.potential_range[1] == pytest.approx(A.max(), rel=1e-3)
    if name != "aluminium_fumarate":  # its shift comes from other temperatures, as the sheet says
        assert found.temperature_range[0] == pytest.approx(points.temperature.min(), abs=1e-6)
        assert found.temperature_range[1] == pytest.approx(points.temperature.max(), abs=1e-6)


@pytest.mark.parametrize(
    ("name", "start", "rmse", "largest"),
    [
        ("silica_gel_regular_density", [(0.2, 2500, 800, 0), (0.25, 1500, 3300, 0)], 0.0017, 0.0085),
        ("zeolite_13x", [(0.25, 15000, 5000, 0), (0.05, 2000, 900, 0)], 0.0036, 0.0088),
        ("mof_801", [(0.15, 6200, 200, 0), (0.2, 4400, 1800, 0)], 0.0035, 0.008),
    ],
)
def test_refit_from_the_points_gives_the_sheet(name, start, rmse, largest):
    """Anyone can fit again: from a rough start to the misfit of another fit and the terms of the sheet."""
    fit = fit_sips_terms(points_of(name), start, [False, False])
    assert fit.rmse == pytest.approx(rmse, abs=0.00011)
    assert fit.largest_error == pytest.approx(largest, abs=0.00021)
    sheet = [
        [term[key].value for key in ("capacity", "potential", "width")] for term in sorbent(name).sheet.terms
    ]
    T = np.full(50, 298.15)
    A = np.linspace(*sorbent(name).potential_range, 50)
    again = sips_loading(fit.terms, T, A)  # at 25 C, where a shift has no say
    assert np.max(np.abs(again - sips_loading(np.c_[sheet, np.zeros(2)], T, A))) < 3e-4


def test_aluminium_fumarate_shift_comes_from_two_temperatures():
    points = read_points(points_path("aluminium_fumarate_two_temperatures.csv"))
    start = [(0.22, 3190, 124, 9.0), (0.9, -2900, 2700, 0)]
    fit = fit_sips_terms(points, start, [True, False])
    fixed = fit_sips_terms(points, [(0.22, 3190, 124, 0.0), start[1]], [False, False])
    term = sorbent("aluminium_fumarate").sheet.terms[0]["slope"].value
    assert fit.terms[0, 3] == pytest.approx(term, abs=0.1)
    assert fixed.rmse > 1.9 * fit.rmse


@ALL
def test_isotherm_of_the_sheet_is_measured_water(name):
    """Loading rises with humidity and falls with temperature at constant pressure."""
    found = sorbent(name)
    rh = np.linspace(0.005, 1.0, 300)
    for T in (275.0, 298.15, 330.0, 363.0):
        loading = found.loading(T, rh)
        assert np.all(np.diff(loading) > 0.0)
    T = np.linspace(278.15, 373.15, 200)
    for pressure in (300.0, 900.0, 2500.0):
        at_pressure = found.loading(T, pressure / np.array([saturation_pressure(t) for t in T]))
        assert np.all(np.diff(at_pressure) < 0.0)


@ALL
@settings(deadline=None, derandomize=True, max_examples=80)
@given(T=st.floats(253.15, 400.0), rh=st.floats(0.001, 1.0))
def test_pressure_and_loading_are_inverse(name, T, rh):
    found = sorbent(name)
    pressure = found.pressure(T, found.loading(T, rh))
    assert pressure == pytest.approx(rh * saturation_pressure(T), rel=1e-9)


@ALL
@settings(deadline=None, derandomize=True, max_examples=60)
@given(T=st.floats(278.15, 370.0), rh=st.floats(0.02, 0.95))
def test_isosteric_heat_is_the_clausius_clapeyron_slope(name, T, rh):
    """q_st = -R d(ln p)/d(1/T) at constant loading of the sheet's own isotherm.

    That slope takes the vapour as ideal and so holds R T^2 d(ln p_sat)/dT in place of the latent heat;
    the gap between the two (74 J/mol at 25 C) is taken out here and checked below.
    """
    found = sorbent(name)
    q = found.loading(T, rh)
    # steps of salts are narrow, so the difference must be; then round-off counts for more
    step, tolerance = (0.002, 3.0) if found.sheet.texts["isotherm.form"] == "salt_hydrates" else (0.05, 0.2)

    def slope(pressure):
        low, high = (np.log(pressure(t)) for t in (T - step, T + step))
        return R * (high - low) / (1.0 / (T - step) - 1.0 / (T + step))

    of_sorbed = slope(lambda t: found.pressure(t, q))
    of_liquid = slope(saturation_pressure)
    beyond_latent = (found.isosteric_heat(T, q) - latent_heat(T)) * M
    assert beyond_latent == pytest.approx(of_sorbed - of_liquid, abs=tolerance)


def test_ideal_vapour_gap():
    """Latent heat over R T^2 d(ln p_sat)/dT is p dv / R T of the real vapour (referee: IAPWS-95)."""
    from CoolProp.CoolProp import PropsSI

    for t in (10.0, 25.0, 60.0, 100.0):
        T = 273.15 + t
        liquid, vapour = (1.0 / PropsSI("D", "T", T, "Q", x, "Water") for x in (0, 1))
        expected = PropsSI("P", "T", T, "Q", 0, "Water") * (vapour - liquid) * M / (R * T)
        slope = R * T * T * np.log(saturation_pressure(T + 0.05) / saturation_pressure(T - 0.05)) / 0.1
        assert latent_heat(T) * M / slope == pytest.approx(expected, abs=2e-4)


@ALL
def test_heat_is_at_least_near_the_latent_heat_or_the_sheet_says_why(name):
    found = sorbent(name)
    ratio, T, A = lowest_heat_ratio(found)
    print(f"{name}: lowest isosteric over latent heat {ratio:.4f} at {T - 273.15:.1f} C, {A:.0f} J/mol")
    assert ratio >= LEAST_HEAT_RATIO or found.sheet.texts["isotherm.low_heat_reason"]


@pytest.mark.parametrize(
    ("name", "rh", "heat", "tolerance"),
    [
        ("silica_gel_regular_density", 0.05, 51.4e3, 0.003),
        ("silica_gel_regular_density", 0.20, 48.0e3, 0.003),
        ("silica_gel_regular_density", 0.50, 45.7e3, 0.003),
        # the other fit has shifts of 1.5 and 8.5; ours are zero, since neither differs from zero
        ("zeolite_13x", 0.001, 60.7e3, 0.02),
        ("zeolite_13x", 0.01, 55.0e3, 0.02),
        ("zeolite_13x", 0.10, 49.0e3, 0.02),
        # the other fit has no shift; ours follows from the calorimetric heat that the sheet uses
        ("mof_801", 0.09, 60.0e3, 0.01),
        ("aluminium_fumarate", 0.27, 44.6e3, 0.01),
    ],
)
def test_heats_of_the_fitted_table(name, rh, heat, tolerance):
    """Heats at 25 C of an independent fit of the same form to the same points, where nothing else is said."""
    found = sorbent(name)
    assert found.isosteric_heat(298.15, found.loading(298.15, rh)) * M == pytest.approx(heat, rel=tolerance)


# Published figures that a sheet of ours misses by more than 5 %, each with its reason
KNOWN_MISSES = {
    # pairs of its four points give 39, 59 and 48 kJ/mol: the slope is scatter, the sheet gives 53.7
    ("zeolite_13x", 49.1e3): 0.10,
    # the mean of three laboratories; the sheet's sample is the lowest of them
    ("aluminium_fumarate", 0.34): 0.13,
    # equal loadings of 0.02 kg/kg read off a plot: below the latent heat, which no isotherm here can be
    ("activated_carbon", 38.9e3): 0.24,
    # bulk brine; the abstract's heat is that of brine in pores, which binds more strongly
    ("cacl2_in_silica", 52.0e3): 0.09,
    # the slope of two recalled solubility lines against recalled enthalpies of formation
    ("calcium_chloride", 57.3e3): 0.06,
    # another laboratory's sample
    ("mil_160", 0.359): 0.08,
    # calorimetry recalled; the sheet's own points at four temperatures give 50 to 53
    ("sapo_34", 56.5e3): 0.12,
    # two published forms of the same gel, neither with points; the other one is nearly straight
    ("silica_gel_type_a", 0.1532): 0.07,
    ("silica_gel_type_a", 0.0515): 0.70,
    # one temperature measured, shift zero; the recalled heat is the middle of 50 to 75
    ("zeolite_4a", 62.0e3): 0.13,
    # another laboratory's sample
    ("zeolite_4a", 0.24): 0.18,
}


@ALL
def test_checks_of_the_sheet(name):
    """Heats without a model (slopes of ln p at equal loading) and loadings of Graeber2023, within 5 %."""
    found = sorbent(name)
    for check in found.sheet.checks:
        if check.used_in_sheet:
            continue
        T = check.temperature
        q = check.loading if check.loading is not None else float(found.loading(T, check.relative_humidity))
        got = q if check.of == "loading" else float(found.isosteric_heat(T, q)) * M
        expected = check.expected.value
        print(f"{name}: {check.of} {got:.5g}, published {expected:.5g}, {100 * (got / expected - 1):+.1f} %")
        tolerance = KNOWN_MISSES.get((name, expected), 0.05)
        assert got == pytest.approx(expected, rel=tolerance), check.expected.where
        if tolerance > 0.05:  # a reason that no longer applies must go
            assert abs(got / expected - 1.0) > 0.05


def test_mean_heat_between_loadings():
    """Grade 03 gel at 25 C: the integral heat, as computed elsewhere from the same points, lies between
    the ends and adds up."""
    row, T = sorbent("silica_gel_regular_density").row, 298.15

    def enthalpy(q):
        return sorbed_state(row, potential_at_loading(row, q, T, 3000.0), T)[3]

    def mean(a, b):
        return M * latent_heat(T) - M * (enthalpy(b) - enthalpy(a)) / (b - a)

    for a, b, heat in ((0.05, 0.25, 47.45e3), (0.02, 0.10, 50.18e3), (0.10, 0.20, 47.25e3)):
        assert mean(a, b) == pytest.approx(heat, rel=1e-3)
        ends = [float(sorbent("silica_gel_regular_density").isosteric_heat(T, q)) * M for q in (a, b)]
        assert ends[1] < mean(a, b) < ends[0]
    parts = 0.05 * mean(0.05, 0.10) + 0.15 * mean(0.10, 0.25)
    assert parts == pytest.approx(0.20 * mean(0.05, 0.25), rel=1e-8)


def test_published_dubinin_with_sorbed_density():
    """Worked by hand for RD 2560 (Thu2013) at 25 C: loading and heat, the heat within 0.3 %."""
    row = empty_row()
    dubinin_astakhov.fill_row(row, 3.27e-4, 4384.0, 1.35, True)
    T = 298.15
    for A, loading, heat in (
        (5708.0, 0.07818, 49922.0),
        (2984.6, 0.17981, 47257.0),
        (1266.3, 0.27041, 45638.0),
    ):
        q, q_A, q_T, _, _ = sorbed_state(row, A, T)
        assert q == pytest.approx(loading, rel=1.5e-3)  # the smoothing at saturation costs 0.05 %
        assert M * latent_heat(T) + A + T * q_T / q_A == pytest.approx(heat, rel=0.003)


@pytest.mark.parametrize(
    ("file", "rmse", "largest"),
    [("zeolite_13x.csv", 0.0059, 0.013), ("silica_gel_siogel.csv", 0.0065, 0.015)],
)
def test_published_forms_meet_their_own_points(file, rmse, largest):
    """Toth of Wang2009 for 13X and Dubinin-Astakhov of Sapienza2017: misfit as computed elsewhere."""
    points, row = read_points(points_path(file)), empty_row()
    if file.startswith("zeolite"):
        toth.fill_row(row, 0.271875, 2.408e-10, 6852.0, 0.3974, -4.199)
    else:
        dubinin_astakhov.fill_row(row, 0.38, 3962.2, 1.1, False)
    model = [sorbed_state(row, A, T)[0] for A, T in zip(points.potential(), points.temperature, strict=True)]
    found = misfit(np.array(model), points)
    assert found[0] == pytest.approx(rmse, abs=0.0002)
    assert found[1] == pytest.approx(largest, abs=0.001)


def test_rate_of_silica_gel():
    """Chihara-Suzuki, by hand: 7.64e-3 and 8.09e-2 1/s for 0.17 mm; 1/k = 1130 s for 0.5 mm at 30 C."""
    row = empty_row()
    fill_kinetics(row, "sphere", 2.54e-4, 42000.0, 1.7e-4)
    assert uptake_rate(row, 303.15) == pytest.approx(7.64e-3, rel=2e-3)
    assert uptake_rate(row, 353.15) == pytest.approx(8.09e-2, rel=2e-3)
    assert 1.0 / sorbent("silica_gel_regular_density").rate(303.15) == pytest.approx(1130.0, rel=3e-3)
    fill_kinetics(row, "sphere", 2.9e-4, 41500.0, 1.7e-4)  # Aristov2006
    assert uptake_rate(row, 303.15) == pytest.approx(1.06e-2, rel=5e-3)


def test_rate_of_a_slab_against_the_series_solution():
    """Mean uptake of a slab open on one side, 1 - sum 8/(pi odd)^2 exp(-(pi odd/2)^2 D t/L^2) (textbook
    series): k = 3 D / L^2 lags early and leads late. Largest lag 0.11 of the full uptake."""
    gel = sorbent("licl_gel")
    assert gel.rate_covers_layer
    D, L = 3.2e-11, 1e-3
    k = 3.0 * D / L**2
    odd = 2 * np.arange(200) + 1
    misses = []
    for t in np.geomspace(100.0, 6e4, 60):
        exact = 1.0 - np.sum(8.0 / (np.pi * odd) ** 2 * np.exp(-((0.5 * np.pi * odd) ** 2) * D * t / L**2))
        misses.append(1.0 - np.exp(-k * t) - exact)
    print(f"linear driving force minus slab: {min(misses):+.3f} to {max(misses):+.3f} of the uptake")
    assert -0.12 < min(misses) < -0.10
    assert 0.0 < max(misses) < 0.05
    assert gel.rate(298.15) == pytest.approx(k, rel=0.03)
    thin = gel.adjusted_row(length=0.5e-3)
    assert uptake_rate(thin, 298.15) == pytest.approx(4.0 * gel.rate(298.15))
    assert gel.in_layer(0.5e-3).rate(298.15) == pytest.approx(4.0 * gel.rate(298.15))
    grains = sorbent("silica_gel_regular_density")
    assert grains.in_layer(3e-3) is grains


def test_faces_take_arrays_and_labels():
    import xarray as xr

    found = sorbent("silica_gel_regular_density")
    table = found.loading(np.array([[290.0], [300.0]]), np.array([0.1, 0.5, 0.9]))
    assert table.shape == (2, 3)
    rh = xr.DataArray([0.1, 0.5, 0.9], dims="time")
    labelled = found.loading(300.0, rh)
    assert labelled.dims == ("time",)
    assert np.allclose(labelled.values, table[1])


def test_row_cannot_be_changed_by_accident():
    found = sorbent("silica_gel_regular_density")
    with pytest.raises(ValueError, match="read-only"):
        found.row[10] = 1.0
    assert uptake_rate(found.adjusted_row(rate_factor=3.0), 300.0) == pytest.approx(3.0 * found.rate(300.0))


def test_unknown_sorbent_is_answered_with_the_nearest_name():
    with pytest.raises(SheetError, match="Did you mean 'zeolite_13x'\\?") as caught:
        sorbent("zeolit_13x")
    assert str(caught.value).startswith("sorbent: got 'zeolit_13x'; expected the path of a sheet, or one of ")


def test_missing_sheet_file():
    with pytest.raises(
        FileError, match=r"sorbent: got 'nowhere/x\.toml'; expected the path of a TOML data sheet"
    ):
        sorbent("nowhere/x.toml")


def test_a_row_cannot_be_changed_however_the_sorbent_was_made():
    """A row that can be changed would be compiled for once more, half a minute a kind."""
    one = sorbent("silica_gel_regular_density")
    own = one.row.copy()
    made = (one, replace(one, row=own), one.of_grain(1e-3), one.refitted({}), one.as_solution())
    assert not any(each.row.flags.writeable for each in made)
    own[0] = 7.0
    assert made[1].row[0] != 7.0
