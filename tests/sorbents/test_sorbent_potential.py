"""One potential per form: slopes, heat, closed loops, inverses, and finite numbers everywhere."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numba import njit
from scipy import integrate, special

from welkinwell.constants import GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.sorbents import (
    dual_site_langmuir,
    dual_site_sips,
    dubinin_astakhov,
    freundlich,
    gab,
    hydrate,
    sips_terms,
    toth,
)
from welkinwell.sorbents.potential import largest_loading, potential_at_loading, sorbed_state
from welkinwell.sorbents.row import FORM_SALT_HYDRATES, SLOT_FORM, SLOT_PARAMETERS, empty_row
from welkinwell.sorbents.sorbent import sheet_names, sorbent

R, M = GAS_CONSTANT, WATER_MOLAR_MASS
K30 = 1.0 / 298.15 - 1.0 / 303.15


def form_rows():
    rows = {name: sorbent(name).row for name in sheet_names()}
    row = empty_row()  # shifts of both signs, CAU-10-H of the fitted table
    sips_terms.fill_row(row, [(0.2780, 4203.0, 134.0, -13.0), (0.0791, 1157.0, 883.0, 41.7)])
    rows["sips with shifts"] = row
    row = empty_row()  # Wang2009, zeolite 13X
    toth.fill_row(row, 0.271875, 2.408e-10, 6852.0, 0.3974, -4.199)
    rows["toth 13X"] = row
    row = empty_row()  # Wang2009, silica gel
    toth.fill_row(row, 114220.0, 2.787e-8, 1093.0, -0.00119, 22.13)
    rows["toth gel"] = row
    row = empty_row()  # Thu2013, RD 2560, volume filling
    dubinin_astakhov.fill_row(row, 3.27e-4, 4384.0, 1.35, True)
    rows["dubinin RD"] = row
    row = empty_row()  # Sapienza2017, Siogel
    dubinin_astakhov.fill_row(row, 0.38, 3962.2, 1.1, False)
    rows["dubinin Siogel"] = row
    row = empty_row()  # numbers of a plausible solid, not published
    dual_site_langmuir.fill_row(row, [(0.12, 2e-13, 60e3), (0.2, 1.3e-11, 46e3)])
    rows["dual-site langmuir"] = row
    row = empty_row()  # a step that sharpens with temperature, beside a slow rise
    dual_site_sips.fill_row(row, [(0.25, 1.8e-3, 52e3, 6.0, 3.0), (0.15, 2e-4, 47e3, 0.8, -0.3)])
    rows["dual-site sips"] = row
    row = empty_row()  # PS-I of Sultan2015, fitted: C and K given at 303.15 K
    gab.fill_row(
        row, 0.2362, 6.805 * math.exp(14050.0 / R * K30), 14050.0, 0.7634 * math.exp(630.0 / R * K30), 630.0
    )
    rows["gab PS-I"] = row
    row = empty_row()  # Saha1995 cubic for RD gel, with the misprint of the last prefactor mended
    freundlich.fill_row(
        row,
        (-6.5314, 0.072452, -2.3951e-4, 2.5493e-7),
        (-15.587, 0.15915, -5.0612e-4, 5.329e-7),
        280.0,
        360.0,
    )
    rows["freundlich RD"] = row
    row = empty_row()  # a made-up salt: two hydrates, a solution, and a host
    hydrate.fill_row(
        row,
        [(1.0, 7000.0, 2500.0, -5.0), (3.0, 500.0, 900.0, 2.0)],
        (-3000.0, 4.0, 0.01),
        [(0.3, 3600.0, -8.0, 0.0), (0.9, 7600.0, -18.0, 0.02)],
        40.0,
        [(0.1, 3000.0, 1500.0, 0.0)],
    )
    rows["salt hydrates"] = row
    return rows


ROWS = form_rows()
ALL = pytest.mark.parametrize("name", sorted(ROWS))


def random_states(row, count, seed):
    """States with a loading that is worth the name."""
    rng = np.random.default_rng(seed)
    while count:
        A, T = rng.uniform(-3000.0, 20000.0), rng.uniform(275.0, 420.0)
        if sorbed_state(row, A, T)[0] > 1e-4:
            count -= 1
            yield A, T


def slope(f, x, h):
    """Central difference with Richardson extrapolation."""

    def central(step):
        return (f(x + step) - f(x - step)) / (2.0 * step)

    return (4.0 * central(0.5 * h) - central(h)) / 3.0


def steps_are_narrow(row):
    return row[SLOT_FORM] == FORM_SALT_HYDRATES


@ALL
def test_slopes_are_those_of_the_values(name):
    """Against differences; the slope of E in A also holds the Maxwell relation."""
    row = ROWS[name]
    in_A, in_T = (0.5, 0.02) if steps_are_narrow(row) else (4.0, 0.2)
    for A, T in random_states(row, 60, 1):
        q, q_A, q_T, _, E_T = sorbed_state(row, A, T)
        E_A = -(A * q_A + T * q_T) / M

        def along_A(k, T=T):
            return lambda x: sorbed_state(row, x, T)[k]

        def along_T(k, A=A):
            return lambda x: sorbed_state(row, A, x)[k]

        assert slope(along_A(0), A, in_A) == pytest.approx(q_A, rel=2e-6, abs=1e-10 * q)
        assert slope(along_T(0), T, in_T) == pytest.approx(q_T, rel=2e-6, abs=1e-8 * q)
        assert slope(along_A(3), A, in_A) == pytest.approx(E_A, rel=2e-6, abs=1e-3 * q)
        assert slope(along_T(3), T, in_T) == pytest.approx(E_T, rel=1e-5, abs=1e-1 * q)


def test_loading_is_the_slope_of_the_stated_potential():
    """Omega = sum q_k s_k softplus(-(A - A_k)/s_k), written here on its own; E from it by differences."""
    row = ROWS["sips with shifts"]
    terms = row[SLOT_PARAMETERS : SLOT_PARAMETERS + 8].reshape(2, 4)

    def omega(A, T):
        return sum(q * s * np.logaddexp(0.0, -(A - a - b * (T - 298.15)) / s) for q, a, s, b in terms)

    for A, T in random_states(row, 40, 2):
        q, _, _, E, _ = sorbed_state(row, A, T)
        assert -(omega(A + 0.5, T) - omega(A - 0.5, T)) == pytest.approx(q, rel=1e-5)
        omega_T = (omega(A, T + 0.01) - omega(A, T - 0.01)) / 0.02
        assert pytest.approx(-(A * q + omega(A, T) - T * omega_T) / M, rel=1e-5) == E


@ALL
def test_closed_loop_returns_the_enthalpy(name):
    """Around a rectangle in (T, loading) the heat put in adds up to nothing.

    The sides are integrated by Gauss-Legendre from the differential heats, which come from loading
    and slopes alone, so a heat that does not belong to its isotherm cannot close.
    """
    row = ROWS[name]
    full = sorbed_state(row, 500.0, 300.0)[0]
    q0, q1, T0, T1 = 0.25 * full, 0.7 * full, 285.0, 345.0
    nodes, weights = np.polynomial.legendre.leggauss(16)
    panels = 800 if steps_are_narrow(row) else 80

    def along_loading(T):
        """Integral of dE = -(A dq/dA + T dq/dT) dA / M at constant T, in narrow panels of A."""
        ends = [potential_at_loading(row, q, T, 3000.0) for q in (q0, q1)]
        cuts = np.linspace(*ends, panels)
        total = 0.0
        for begin, end in pairwise(cuts):
            for x, w in zip(nodes, weights, strict=True):
                A = 0.5 * (begin + end) + 0.5 * (end - begin) * x
                _, q_A, q_T, _, _ = sorbed_state(row, A, T)
                total -= 0.5 * (end - begin) * w * (A * q_A + T * q_T) / M
        return total

    def along_temperature(q):
        """Integral of dE/dT at constant q."""
        total = 0.0
        cuts = np.linspace(T0, T1, panels // 16)
        for begin, end in pairwise(cuts):
            for x, w in zip(nodes, weights, strict=True):
                T = 0.5 * (begin + end) + 0.5 * (end - begin) * x
                A = potential_at_loading(row, q, T, 3000.0)
                _, q_A, q_T, _, E_T = sorbed_state(row, A, T)
                total += 0.5 * (end - begin) * w * (E_T + (A * q_A + T * q_T) / M * q_T / q_A)
        return total

    sides = [along_loading(T0), along_temperature(q1), -along_loading(T1), -along_temperature(q0)]
    size = sum(abs(side) for side in sides)
    assert abs(sum(sides)) < 1e-9 * size
    # and each isothermal side is the difference of the function itself
    ends = [sorbed_state(row, potential_at_loading(row, q, T0, 3000.0), T0)[3] for q in (q0, q1)]
    assert sides[0] == pytest.approx(ends[1] - ends[0], rel=1e-9)


@ALL
@settings(deadline=None, derandomize=True, max_examples=60)
@given(A=st.floats(-2000.0, 25000.0), T=st.floats(230.0, 450.0), guess=st.floats(-1e5, 3e5))
def test_inverse_is_exact(name, A, T, guess):
    row = ROWS[name]
    q = sorbed_state(row, A, T)[0]
    most = largest_loading(row, T)
    if not 1e-9 * most < q < (1.0 - 1e-6) * most:
        return
    back = potential_at_loading(row, q, T, guess)
    assert sorbed_state(row, back, T)[0] == pytest.approx(q, rel=1e-11)


@ALL
def test_inverse_clips_impossible_loadings(name):
    row = ROWS[name]
    for q in (-1.0, 0.0, 1e-300, largest_loading(row, 300.0), 1e9):
        assert math.isfinite(potential_at_loading(row, q, 300.0, 3000.0))


@njit
def _count_bad(row, potentials, temperatures):
    bad = 0
    for A, T in zip(potentials, temperatures):  # noqa: B905, numba knows no strict
        q, q_A, q_T, E, E_T = sorbed_state(row, A, T)
        if not (math.isfinite(q) and math.isfinite(q_A) and math.isfinite(q_T)):
            bad += 1
        if not (math.isfinite(E) and math.isfinite(E_T)):
            bad += 1
        if q < 0.0 or q_A > 0.0:
            bad += 1
    return bad


@ALL
def test_million_random_states_are_finite(name):
    """A from -50 to 200 kJ/mol, T from 230 to 450 K: finite, never negative, never rising with A."""
    rng = np.random.default_rng(7)
    count = 1_000_000
    potentials = rng.uniform(-50e3, 200e3, count)
    potentials[: count // 2] = rng.uniform(-2e3, 20e3, count // 2)
    assert _count_bad(ROWS[name], potentials, rng.uniform(230.0, 450.0, count)) == 0


def test_incomplete_gamma_against_scipy():
    for s in (0.05, 0.0909, 0.2, 0.74, 0.91, 0.952):
        for y in (0.0, 1e-6, 0.3, 1.2, 3.0, 30.0, 200.0):
            expected = special.gammaincc(s, y) * special.gamma(s)
            assert dubinin_astakhov.upper_gamma(s, y) == pytest.approx(expected, rel=1e-11)


def test_dubinin_smoothing_leaves_the_published_form_alone():
    """q = W0 exp(-(A/E)^n) of the source, away from saturation."""
    row = ROWS["dubinin Siogel"]
    for A in (1000.0, 3000.0, 8000.0):
        published = 0.38 * math.exp(-((A / 3962.2) ** 1.1))
        assert sorbed_state(row, A, 320.0)[0] == pytest.approx(published, rel=3e-4)


def test_toth_is_the_published_form():
    row = ROWS["toth 13X"]
    from welkinwell.moist_air.saturation import saturation_pressure

    for T, p in ((298.15, 44.0), (323.15, 280.0), (373.15, 1419.0)):
        b, n = 2.408e-10 * math.exp(6852.0 / T), 0.3974 - 4.199 / T
        published = 0.271875 * b * p / (1.0 + (b * p) ** n) ** (1.0 / n)
        A = R * T * math.log(saturation_pressure(T) / p)
        assert sorbed_state(row, A, T)[0] == pytest.approx(published, rel=1e-9)


@pytest.mark.parametrize("a", [1.0, 2.6, 10.0, 14.0])
def test_toth_quadrature_against_adaptive(a):
    for Y in (-4.0, -2.0, 0.5, 3.4, 8.0, 25.0):
        got = toth.sigmoid_integrals(Y, a)
        for power in range(3):

            def integrand(y, power=power):
                log_sigma = -np.logaddexp(0.0, -y)
                return math.exp(a * log_sigma) * log_sigma**power

            cuts = [c for c in (-60.0, -20.0, -5.0, 0.0, 4.0, 15.0) if c < Y] + [Y]
            parts = [
                integrate.quad(integrand, *ends, epsabs=1e-15, epsrel=1e-12)[0] for ends in pairwise(cuts)
            ]
            assert got[power] == pytest.approx(sum(parts), rel=1e-8)
