"""The gap: buoyancy of moist air by hand, a textbook Rayleigh number, slopes against differences."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.moist_air.humidity import density_from_pressure
from welkinwell.moist_air.saturation import saturation_pressure
from welkinwell.parts.gap import air_conductivity, gap_nusselt, vapour_diffusivity, virtual_temperature
from welkinwell.transfer.condensation import stefan_flow
from welkinwell.transfer.enclosures import enclosure_nusselt

ATMOSPHERE = 101325.0


def test_virtual_temperature_by_hand():
    """300 K at 3 kPa of 100 kPa: 300/(1 - 0.378 x 0.03) = 303.44 K."""
    assert virtual_temperature(300.0, 3000.0, 1e5)[0] == pytest.approx(303.441, rel=1e-5)


def test_buoyancy_is_the_difference_of_density():
    """2 (Tv1 - Tv2)/(Tv1 + Tv2) against moist_air's own densities; 0.378 is rounded from 0.37806."""
    a, b = density_from_pressure(330.0, 9e3, 1e5), density_from_pressure(300.0, 3e3, 1e5)
    v1, v2 = virtual_temperature(330.0, 9e3, 1e5)[0], virtual_temperature(300.0, 3e3, 1e5)[0]
    assert 2.0 * (v1 - v2) / (v1 + v2) == pytest.approx(2.0 * (b - a) / (a + b), rel=5e-4)


def test_the_slope_ends_where_the_pressure_is_held():
    assert virtual_temperature(300.0, -6e4, 1e5)[2] == 0.0
    assert virtual_temperature(300.0, 9.6e4, 1e5)[2] == 0.0
    assert virtual_temperature(300.0, 0.0, 1e5)[2] > 0.0


def coefficients(T_1, T_2, p_1, p_2, width, inclination):
    """Heat [W/(m2 K)] and mass [m/s] coefficients as the box uses them: Nu k/L and Nu D/L."""
    T = 0.5 * (T_1 + T_2)
    nusselt = gap_nusselt(T_1, T_2, p_1, p_2, ATMOSPHERE, width, inclination)[0]
    heat, mass = air_conductivity(T)[0], vapour_diffusivity(T, ATMOSPHERE)[0]
    return nusselt * heat / width, nusselt * mass / width, nusselt


def test_worked_example_of_the_tilted_gap_in_full():
    """Dry, 50 C mean, 40 K, 30 mm: 3.47, 3.41, 3.18, 2.94 W/(m2 K) (Hollands1976, worked apart)."""
    for degrees, expected in ((0, 3.47), (20, 3.41), (45, 3.18), (60, 2.94)):
        heat = coefficients(343.15, 303.15, 0.0, 0.0, 0.03, math.radians(degrees))[0]
        assert heat == pytest.approx(expected, rel=0.005)


@pytest.mark.parametrize(
    ("bed", "humidity", "plate", "flow"), [(60.0, 0.9, 35.0, 1.01), (70.0, 0.5, 40.0, 0.66)]
)
def test_worked_examples_of_condensation_through_air(bed, humidity, plate, flow):
    """Horizontal 50 mm gap, hot below, kg/(m2 h), worked apart with Sh = 1 + (Nu - 1) Le^(1/3) or the Lewis
    analogy: Sh = Nu, as the box has it, is up to 5 % above.
    """
    t1, t2 = bed + 273.15, plate + 273.15
    p1, p2 = humidity * saturation_pressure(t1), saturation_pressure(t2)
    mass = coefficients(t1, t2, p1, p2, 0.05, 0.0)[1]
    found = stefan_flow(mass, 0.5 * (t1 + t2), p1, p2, ATMOSPHERE) * 3600.0
    print(f"{bed:.0f} to {plate:.0f} C: {found:.3f} kg/(m2 h) against {flow}")
    assert found == pytest.approx(flow, rel=0.08)


def test_solar_still_of_dunkle():
    """Dunkle (1961), still from 60 to 45 C: 0.70 kg/(m2 h); coefficients from memory. Its gap is about
    0.25 m, whose Ra of 3e7 lies beyond the fit of ours.
    """
    p1, p2 = saturation_pressure(333.15), saturation_pressure(318.15)
    mass = coefficients(333.15, 318.15, p1, p2, 0.25, 0.0)[1]
    found = stefan_flow(mass, 325.65, p1, p2, ATMOSPHERE) * 3600.0
    print(f"still: {found:.3f} kg/(m2 h) against 0.70")
    assert found == pytest.approx(0.70, rel=0.15)


def test_condenser_below_the_bed_is_left_with_diffusion():
    """Worked apart: 0.6 mm/s across 50 mm when the light, hot side is on top."""
    p1, p2 = 0.9 * saturation_pressure(333.15), saturation_pressure(308.15)
    _, mass, nusselt = coefficients(333.15, 308.15, p1, p2, 0.05, math.pi)
    assert nusselt == 1.0
    assert mass == pytest.approx(0.6e-3, rel=0.05)


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
