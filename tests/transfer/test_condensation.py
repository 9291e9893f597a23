"""Stefan flow, the heat that goes with it, boundary layers and films, against examples and by hand."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.constants import LATENT_HEAT_AT_FREEZING, VAPOUR_SPECIFIC_HEAT, WATER_GAS_CONSTANT
from welkinwell.kernels.kernel import with_slopes
from welkinwell.moist_air.liquid_water import liquid_conductivity, liquid_density, liquid_viscosity
from welkinwell.moist_air.saturation import latent_heat, saturation_pressure
from welkinwell.transfer import condensation as con

STEADY = settings(deadline=None, derandomize=True, max_examples=200)
STEFAN = with_slopes(
    con.stefan_flow, ("coefficient", "temperature", "pressure_from", "pressure_to"), "tests_stefan_flow"
)
ANY = st.floats(allow_nan=False, allow_infinity=False)


@STEADY
@given(st.floats(-0.5, 1.5), st.floats(-0.5, 1.5))
def test_partials_of_stefan_flow_against_differences(x1, x2):
    p, h = 9e4, 0.1
    given = (2e-3, 320.0, x1 * p, x2 * p, p)
    found = STEFAN.run(*given)
    for argument, step in ((0, 1e-8), (1, 1e-3), (2, h), (3, h)):
        up, down = (
            con.stefan_flow(*(value + sign * step * (i == argument) for i, value in enumerate(given)))
            for sign in (1.0, -1.0)
        )
        slope = found[STEFAN.places[0][argument]]
        assert slope == pytest.approx((up - down) / (2 * step), rel=1e-4, abs=1e-12)
    assert found[STEFAN.places[0][2]] > 0.0 > found[STEFAN.places[0][3]]
    back = con.stefan_flow(2e-3, 320.0, x2 * p, x1 * p, p)
    assert back == pytest.approx(-found[0], rel=1e-12, abs=1e-18)


def test_stefan_flow_solves_the_diffusion_equation():
    """Total molar flow N obeys N (1 - x) = -c D dx/dz with x fixed at both ends; integrate it."""
    x1, x2, d, gap, p, t = 0.6, 0.1, 3e-5, 0.05, 1e5, 330.0
    flow = con.stefan_flow(d / gap, t, x1 * p, x2 * p, p)
    slope = -flow * WATER_GAS_CONSTANT * t / (p * d)
    x, steps = x1, 20000
    for _ in range(steps):  # midpoint rule
        half = x + 0.5 * gap / steps * slope * (1.0 - x)
        x += gap / steps * slope * (1.0 - half)
    assert x == pytest.approx(x2, abs=1e-8)


def test_stefan_flow_at_low_vapour_is_plain_diffusion():
    flow = con.stefan_flow(1e-3, 300.0, 40.0, 20.0, 1e5)
    assert flow == pytest.approx(1e-3 * 20.0 / (WATER_GAS_CONSTANT * 300.0), rel=1e-3)


def test_stefan_flow_has_no_corner_at_nine_tenths():
    p = 1e5
    below = STEFAN.run(1e-3, 300.0, 0.9 * p - 1e-3, 0.0, p)
    above = STEFAN.run(1e-3, 300.0, 0.9 * p + 1e-3, 0.0, p)
    by_from = STEFAN.places[0][2]
    assert below[by_from] == pytest.approx(above[by_from], rel=1e-6)


def test_lewis_analogy():
    # worked example, computed apart: 10 W/(m2 K) at 25 °C: 9.3 mm/s
    assert con.lewis_mass_coefficient(10.0, 298.15, 101325.0) == pytest.approx(9.3e-3, abs=5e-5)


@pytest.mark.parametrize(("wind", "uptake"), [(0.5, 0.50), (1.0, 0.67), (2.0, 1.02), (4.0, 1.71)])
def test_night_limit_of_a_flat_bed(wind, uptake):
    # worked example, computed apart: 10 h at 20 °C, air 40 %, surface 20 %, one side, kg/m2
    mass = con.lewis_mass_coefficient(2.8 + 3.0 * wind, 293.15, 101325.0)
    air, surface = (rh * saturation_pressure(293.15) for rh in (0.4, 0.2))
    taken = con.stefan_flow(mass, 293.15, air, surface, 101325.0) * 36000.0
    assert taken == pytest.approx(uptake, rel=0.05)


@STEADY
@given(st.floats(-2000.0, 2000.0))
def test_vapour_heat_factor(ratio):
    value, slope = con.vapour_heat_factor(ratio)
    half = ratio / 2.0
    if abs(half) > 1e-6:
        assert value == pytest.approx(half / math.tanh(half), rel=1e-12)
    assert value >= 1.0
    assert con.vapour_heat_factor(-ratio) == (value, -slope)
    h = 1e-4
    up, down = con.vapour_heat_factor(ratio + h)[0], con.vapour_heat_factor(ratio - h)[0]
    assert slope == pytest.approx((up - down) / (2 * h), rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("flow", [-3e-3, -1e-4, 1e-5, 3e-4, 5e-3])
def test_vapour_heat_factor_solves_conduction_with_a_flow(flow):
    """Total enthalpy flow -k dT/dz + m c (T - T_mean) is the same everywhere: solve it on a grid."""
    hot, cold, gap, k = 340.0, 310.0, 0.05, 0.028
    mean, h = 0.5 * (hot + cold), k / gap
    cells = 800
    dz = gap / cells
    stream = flow * VAPOUR_SPECIFIC_HEAT
    # central differences at nodes: -k T'' + m c T' = 0
    lower, upper = -k / dz**2 - stream / (2 * dz), -k / dz**2 + stream / (2 * dz)
    matrix = np.diag(np.full(cells - 1, 2 * k / dz**2))
    matrix += np.diag(np.full(cells - 2, lower), -1) + np.diag(np.full(cells - 2, upper), 1)
    right = np.zeros(cells - 1)
    right[0], right[-1] = -lower * hot, -upper * cold
    profile = np.concatenate(([hot], np.linalg.solve(matrix, right), [cold]))
    middle = cells // 2
    heat = -k * (profile[middle + 1] - profile[middle - 1]) / (2 * dz) + stream * (profile[middle] - mean)
    factor = con.vapour_heat_factor(flow * VAPOUR_SPECIFIC_HEAT / h)[0]
    assert heat == pytest.approx(h * (hot - cold) * factor, rel=1e-4)


def test_vapour_heat_factor_is_ackermanns_at_the_receiving_surface():
    # Ackermann: heat = h (T_b - T_i) a/(1 - e^-a) + m h_g(T_i); ours counts the vapour at the mean
    h, hot, cold, flow = 3.0, 333.15, 308.15, 4e-4
    a = flow * VAPOUR_SPECIFIC_HEAT / h
    at = {t: flow * (LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (t - 273.15)) for t in (cold, 320.65)}
    theirs = h * (hot - cold) * a / (1.0 - math.exp(-a)) + at[cold]
    ours = h * (hot - cold) * con.vapour_heat_factor(a)[0] + at[320.65]
    assert ours == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize(("degrees", "expected"), [(90.0, 5940.0), (30.0, 5000.0)])
def test_worked_example_of_the_film(degrees, expected):
    # worked example, computed apart: steam at 40 °C, plate at 30 °C, 0.5 m
    found = con.film_condensation(313.15, 303.15, 0.5, math.radians(degrees))
    assert found == pytest.approx(expected, rel=0.003)


def test_film_flow_of_the_worked_example_is_wavy():
    # worked example, computed apart: 59 kW/m2, 88 kg/(m2 h), Re 68
    heat = 10.0 * con.film_condensation(313.15, 303.15, 0.5, math.pi / 2)
    flow = heat / (latent_heat(313.15) + 0.68 * 4186.0 * 10.0)
    assert heat == pytest.approx(59e3, rel=0.01)
    assert flow * 3600.0 == pytest.approx(88.0, rel=0.01)
    assert con.film_reynolds(flow, 0.5, 308.15) == pytest.approx(68.0, rel=0.01)


def test_film_is_that_of_ht():
    ht = pytest.importorskip("ht")
    film = 308.15
    theirs = ht.condensation.Nusselt_laminar(
        Tsat=313.15,
        Tw=303.15,
        rhog=saturation_pressure(313.15) / (WATER_GAS_CONSTANT * 313.15),
        rhol=liquid_density(film),
        kl=liquid_conductivity(film),
        mul=liquid_viscosity(film),
        Hvap=latent_heat(313.15) + 0.68 * 4186.0 * 10.0,
        L=0.5,
    )
    assert con.film_condensation(313.15, 303.15, 0.5, math.pi / 2) == pytest.approx(theirs, rel=2e-4)


@STEADY
@given(st.tuples(*[ANY] * 5))
def test_never_nan(arguments):
    small = [max(-1e12, min(1e12, x)) for x in arguments]
    assert math.isfinite(con.stefan_flow(*small))
    assert all(math.isfinite(x) for x in con.vapour_heat_factor(small[0]))
    assert math.isfinite(con.lewis_mass_coefficient(*small[:3]))
    assert math.isfinite(con.film_condensation(*small[:4]))
