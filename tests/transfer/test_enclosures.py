"""Free convection in a gap against worked examples, other correlations and differences."""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

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


@STEADY
@given(ANY, ANY)
def test_never_nan(rayleigh, inclination):
    value, slope = enc.enclosure_nusselt(rayleigh, inclination)
    assert math.isfinite(value) and math.isfinite(slope) and value >= 1.0
