"""The gap: buoyancy of moist air by hand, a textbook Rayleigh number, slopes against differences."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.parts.gap import air_conductivity, gap_nusselt, vapour_diffusivity, virtual_temperature
from welkinwell.transfer.enclosures import enclosure_nusselt

ATMOSPHERE = 101325.0


def test_virtual_temperature_by_hand():
    """300 K at 3 kPa of 100 kPa: 300/(1 - 0.378 x 0.03) = 303.44 K."""
    assert virtual_temperature(300.0, 3000.0, 1e5)[0] == pytest.approx(303.441, rel=1e-5)


def test_rayleigh_number_of_a_textbook_gap():
    """Plates at 350 and 310 K, 60 mm, hot below: Bergman2011 table A.4 at 330 K (between 300 and 350 K,
    values from memory) nu = 18.9e-6, alpha = 26.9e-6 m2/s: Ra = 9.81 (40/330) 0.06^3/(nu alpha) = 5.05e5.
    """
    expected = enclosure_nusselt(5.05e5, 0.0)[0]
    assert gap_nusselt(350.0, 310.0, 0.0, 0.0, ATMOSPHERE, 0.06, 0.0)[0] == pytest.approx(expected, rel=0.01)


def test_conductivity_and_diffusivity_as_printed():
    """Air at 300 K 26.3 mW/(m K) (Bergman2011 A.4, from memory); vapour at 0 C 0.2178 cm2/s (Massman1998)."""
    assert air_conductivity(300.0)[0] == pytest.approx(0.0263, rel=0.005)
    assert vapour_diffusivity(273.15, ATMOSPHERE)[0] == pytest.approx(2.178e-5, rel=1e-12)
    assert vapour_diffusivity(298.15, 0.7 * ATMOSPHERE)[0] == pytest.approx(2.55e-5 / 0.7, rel=0.005)


def test_moist_air_lifts_a_gap_that_dry_air_would_leave_at_rest():
    """Hot plate above: at rest when dry. With the colder plate below at 320 K and 9 kPa it is lighter:
    320/(1 - 0.378 x 0.0888) = 331.1 K against 325 K above.
    """
    still = gap_nusselt(320.0, 325.0, 0.0, 0.0, ATMOSPHERE, 0.1, 0.2)
    assert still == (1.0, 0.0, 0.0, 0.0, 0.0)
    assert gap_nusselt(320.0, 325.0, 9000.0, 0.0, ATMOSPHERE, 0.1, 0.2)[0] > 1.5


def test_thin_air_convects_less():
    """Ra goes with the square of density: at 70 kPa it is (70/101.325)^2 = 0.477 of that at sea level."""
    sea = gap_nusselt(350.0, 310.0, 0.0, 0.0, ATMOSPHERE, 0.06, 0.5)[0]
    high = gap_nusselt(350.0, 310.0, 0.0, 0.0, 70000.0, 0.06, 0.5)[0]
    thinner = gap_nusselt(350.0, 310.0, 0.0, 0.0, ATMOSPHERE, 0.06 * 0.47726 ** (1 / 3), 0.5)[0]
    assert high < sea
    assert high == pytest.approx(thinner, rel=1e-5)


@given(
    T_1=st.floats(270.0, 400.0),
    T_2=st.floats(260.0, 360.0),
    p_1=st.floats(0.0, 40000.0),
    p_2=st.floats(-20000.0, 40000.0),
    width=st.floats(0.005, 0.3),
    inclination=st.floats(0.0, math.pi),
)
@settings(deadline=None, derandomize=True, max_examples=300)
def test_slopes(T_1, T_2, p_1, p_2, width, inclination):
    given_at = [T_1, T_2, p_1, p_2]
    value, *slopes = gap_nusselt(*given_at, 90000.0, width, inclination)
    assert value >= 1.0
    for number, (step, size) in enumerate([(2e-4, 1.0), (2e-4, 1.0), (0.05, 50.0), (0.05, 50.0)]):

        def at(move, number=number):
            moved = list(given_at)
            moved[number] += move
            return gap_nusselt(*moved, 90000.0, width, inclination)[0]

        fine = (at(step) - at(-step)) / (2.0 * step)
        coarse = (at(2 * step) - at(-2 * step)) / (4.0 * step)
        # near a kink of the correlation the differences themselves disagree
        doubt = 10.0 * abs(fine - coarse) * size + 1e-7 * value
        assert slopes[number] * size == pytest.approx(fine * size, rel=2e-4, abs=doubt)
