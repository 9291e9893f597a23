"""Free convection in a gap against worked examples, other correlations and differences."""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from welkinwell.moist_air.humidity import density_from_pressure
from welkinwell.moist_air.saturation import saturation_pressure
from welkinwell.moist_air.transport import (
    conductivity_of_mixture,
    transport_with_slopes,
    vapour_diffusivity,
    viscosity_of_mixture,
)
from welkinwell.transfer import enclosures as enc

STEADY = settings(deadline=None, derandomize=True, max_examples=200)
ANY = st.floats(allow_nan=False, allow_infinity=False)
ANGLE = st.floats(0.0, math.pi)


def hollands(rayleigh, degrees):
    """The sharp-cornered equation of Hollands and others (1976), written apart from the package."""
    x = rayleigh * math.cos(math.radians(degrees))
    sine = math.sin(math.radians(1.8 * degrees)) ** 1.6
    first = max(0.0, 1.0 - 1708.0 / x)
    return 1.0 + 1.44 * first * (1.0 - 1708.0 * sine / x) + max(0.0, (x / 5830.0) ** (1 / 3) - 1.0)


@pytest.mark.parametrize(("degrees", "nusselt"), [(0, 3.71), (20, 3.65), (45, 3.40), (60, 3.14)])
def test_worked_example_of_the_tilted_gap(degrees, nusselt):
    # worked example, computed apart: 50 °C mean, 40 K, 30 mm, Ra 7.15e4
    assert enc.enclosure_nusselt(7.15e4, math.radians(degrees))[0] == pytest.approx(nusselt, abs=0.006)


def test_worked_example_in_full():
    # the same: h = 3.47, 3.41, 3.18, 2.94 W/(m2 K), dry air, sea level
    for degrees, expected in ((0, 3.47), (20, 3.41), (45, 3.18), (60, 2.94)):
        heat, _, _, ra = enc.gap_coefficients(343.15, 303.15, 0.0, 0.0, 101325.0, 0.03, math.radians(degrees))
        assert ra == pytest.approx(7.15e4, rel=0.005)
        assert heat[0] == pytest.approx(expected, rel=0.005)


@pytest.mark.parametrize("degrees", [0.0, 30.0, 60.0])
def test_rounded_corners_cost_at_most_two_hundredths(degrees):
    for rayleigh in [10.0 ** (k / 50.0) for k in range(100, 251)]:
        mine = enc.enclosure_nusselt(rayleigh, math.radians(degrees))[0]
        assert mine == pytest.approx(hollands(rayleigh, degrees), abs=0.02)


@pytest.mark.parametrize("rayleigh", [3e3, 1e4, 2e4, 5e4, 1e5, 1e6])
def test_vertical_gap_is_near_iso_15099(rayleigh):
    # ISO 15099:2003 equations for vertical cavities, coefficients from memory
    if rayleigh > 5e4:
        standard = 0.0673838 * rayleigh ** (1 / 3)
    elif rayleigh > 1e4:
        standard = 0.028154 * rayleigh**0.4134
    else:
        standard = 1.0 + 1.7596678e-10 * rayleigh**2.2984755
    assert enc.vertical_nusselt(rayleigh)[0] == pytest.approx(standard, rel=0.12)


def test_horizontal_gap_is_near_the_later_fit_of_the_same_author():
    # Hollands 1984 as coded in ht (infinite plates, gas); the 1976 equation is a simplification of it
    ht = pytest.importorskip("ht")
    for rayleigh in (2e3, 1e4, 1e5):
        later = ht.conv_free_enclosed.Nu_Nusselt_Rayleigh_Hollands(Pr=0.71, Gr=rayleigh / 0.71, buoyancy=True)
        assert enc.enclosure_nusselt(rayleigh, 0.0)[0] == pytest.approx(later, rel=0.1)


def test_order_of_the_inclinations():
    values = [enc.enclosure_nusselt(5e4, math.radians(d))[0] for d in (0, 30, 60, 75, 90, 120, 150, 180)]
    assert values == sorted(values, reverse=True)
    assert values[-1] == 1.0
    # 75 degrees lies halfway between 60 and 90; 150 degrees has half the excess of 90
    assert values[3] == pytest.approx(0.5 * (values[2] + values[4]))
    assert values[6] - 1.0 == pytest.approx(0.5 * (values[4] - 1.0))


@STEADY
@given(st.floats(-1e7, 1e7), ANGLE)
def test_slope_of_nusselt_against_differences(rayleigh, inclination):
    assume(abs(rayleigh) > 10.0)
    value, slope = enc.enclosure_nusselt(rayleigh, inclination)
    h = 1e-5 * abs(rayleigh)
    up, down = (
        enc.enclosure_nusselt(rayleigh + h, inclination)[0],
        enc.enclosure_nusselt(rayleigh - h, inclination)[0],
    )
    assert value >= 1.0
    assert slope * rayleigh == pytest.approx((up - down) / (2 * h) * rayleigh, rel=1e-4, abs=1e-6)


@pytest.mark.parametrize("degrees", [0.0, 45.0, 60.0, 75.0, 90.0, 120.0])
def test_nusselt_has_no_corner(degrees):
    """The slope, unlike that of the published equation, moves by little from one Ra to the next."""
    angle = math.radians(degrees)
    ratio = 1.0005
    rayleigh = 500.0
    while rayleigh < 1e8:
        here, there = (
            enc.enclosure_nusselt(rayleigh, angle)[1],
            enc.enclosure_nusselt(rayleigh * ratio, angle)[1],
        )
        assert abs(there - here) * rayleigh < 0.05
        rayleigh *= ratio**20


def test_negative_rayleigh_turns_the_gap_over():
    for degrees in (0.0, 30.0, 90.0, 150.0):
        below = enc.enclosure_nusselt(3e4, math.radians(degrees))
        above = enc.enclosure_nusselt(-3e4, math.radians(180.0 - degrees))
        assert above[0] == pytest.approx(below[0])
        assert above[1] == pytest.approx(-below[1])


def test_rayleigh_by_hand():
    # dry air, 340 over 300 K, 20 mm, 90 kPa; properties by their own functions
    t, p = 320.0, 9e4
    rho = density_from_pressure(t, 0.0, p)
    mu, k = viscosity_of_mixture(t, 0.0), conductivity_of_mixture(t, 0.0)
    expected = 9.80665 * (40.0 / 320.0) * 0.02**3 * rho * rho * 1006.0 / (mu * k)
    assert enc.moist_rayleigh(340.0, 300.0, 0.0, 0.0, p, 0.02)[0] == pytest.approx(expected, rel=1e-9)


def test_buoyancy_is_the_difference_of_density():
    a, b = density_from_pressure(330.0, 9e3, 1e5), density_from_pressure(300.0, 3e3, 1e5)
    v1, v2 = enc.virtual_temperature(330.0, 0.09)[0], enc.virtual_temperature(300.0, 0.03)[0]
    assert 2.0 * (v1 - v2) / (v1 + v2) == pytest.approx(2.0 * (b - a) / (a + b), rel=1e-9)


def test_moist_air_is_light():
    # equal temperatures: the moister side is the lighter
    assert enc.moist_rayleigh(310.0, 310.0, 5e3, 2e3, 1e5, 0.05)[0] > 0.0
    # vapour adds to heat, and can outweigh it
    dry = enc.moist_rayleigh(320.0, 310.0, 3e3, 3e3, 1e5, 0.05)[0]
    assert enc.moist_rayleigh(320.0, 310.0, 9e3, 3e3, 1e5, 0.05)[0] > dry
    assert enc.moist_rayleigh(311.0, 310.0, 1e3, 6e3, 1e5, 0.05)[0] < 0.0


STATE = st.tuples(
    st.floats(240.0, 400.0),
    st.floats(240.0, 400.0),
    st.floats(0.0, 0.9),
    st.floats(0.0, 0.9),
    st.floats(5e4, 1.05e5),
    st.floats(0.005, 0.2),
    ANGLE,
)


def difference(function, arguments, place, step):
    up, down = list(arguments), list(arguments)
    up[place] += step
    down[place] -= step
    return (function(*up) - function(*down)) / (2.0 * step)


@STEADY
@given(STATE)
def test_partials_of_the_gap_against_differences(state):
    t1, t2, x1, x2, p, gap, angle = state
    arguments = (t1, t2, x1 * p, x2 * p, p, gap, angle)
    rayleigh = enc.moist_rayleigh(*arguments[:6])
    heat, mass, nusselt, again = enc.gap_coefficients(*arguments)
    assert again == rayleigh[0]
    still = vapour_diffusivity(0.5 * (t1 + t2), p) / gap
    assert mass[0] == pytest.approx(still * (1.0 + 0.951 * (nusselt - 1.0)), rel=1e-12)
    assert heat[0] == pytest.approx(
        nusselt * transport_with_slopes(0.5 * (t1 + t2), 0.5 * (x1 + x2))[3] / gap, rel=1e-12
    )
    for place, step, scale in ((0, 1e-4, 1.0), (1, 1e-4, 1.0), (2, 0.02, 1e3), (3, 0.02, 1e3)):
        expected = difference(lambda *a: enc.moist_rayleigh(*a)[0], arguments[:6], place, step)
        assert rayleigh[place + 1] == pytest.approx(expected, rel=1e-5, abs=1e-6 * (1.0 + abs(again)) / scale)
        if step * abs(expected) > 1e-4 * abs(again):
            continue  # so near Ra = 0 the difference spans the change of sides
        for found, which in ((heat, 0), (mass, 1)):
            expected = difference(lambda *a, w=which: enc.gap_coefficients(*a)[w][0], arguments, place, step)
            assert found[place + 1] == pytest.approx(expected, rel=2e-3, abs=1e-6 * found[0] / scale)


def test_vapour_across_a_hot_gap():
    # worked example, computed apart: horizontal 50 mm gap, hot below, bed 60 °C at 90 %, plate 35 °C:
    # Ra 3.5e5, Nu 5.3, h 3.0 W/(m2 K), k 2.96 mm/s
    p1, p2 = 0.9 * saturation_pressure(333.15), saturation_pressure(308.15)
    heat, mass, nusselt, rayleigh = enc.gap_coefficients(333.15, 308.15, p1, p2, 101325.0, 0.05, 0.0)
    assert rayleigh == pytest.approx(3.5e5, rel=0.06)
    assert nusselt == pytest.approx(5.3, rel=0.03)
    assert heat[0] == pytest.approx(3.0, rel=0.03)
    assert mass[0] == pytest.approx(2.96e-3, rel=0.03)


def test_condenser_below_the_bed_is_left_with_diffusion():
    # worked example, computed apart: 0.6 mm/s across 50 mm when the light, hot side is on top
    p1, p2 = 0.9 * saturation_pressure(333.15), saturation_pressure(308.15)
    _, mass, nusselt, _ = enc.gap_coefficients(333.15, 308.15, p1, p2, 101325.0, 0.05, math.pi)
    assert nusselt == 1.0
    assert mass[0] == pytest.approx(0.6e-3, rel=0.05)


@STEADY
@given(st.tuples(*[ANY] * 7))
def test_never_nan(arguments):
    heat, mass, nusselt, rayleigh = enc.gap_coefficients(*arguments)
    assert all(math.isfinite(x) for x in (*heat, *mass, nusselt, rayleigh))
    assert heat[0] > 0.0 and mass[0] > 0.0 and nusselt >= 1.0
    assert all(math.isfinite(x) for x in enc.moist_rayleigh(*arguments[:6]))
    assert all(math.isfinite(x) for x in enc.enclosure_nusselt(arguments[0], arguments[1]))
