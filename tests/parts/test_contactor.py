"""Where brine meets air: films, packings and air that runs short, against textbooks and another library."""

import math

import ht
import pytest
from scipy.integrate import quad

from welkinwell.parts.contactor import (
    channel_coefficients,
    film_surface_speed,
    film_thickness,
    packing_gas_coefficient,
    packing_liquid_factor,
    packing_wetted_share,
    passing_air,
    penetration_coefficient,
)


def test_a_falling_oil_film():
    """Bird2002, example 2.2-1: 2.5 mm of oil of 800 kg/m3 and 2e-4 m2/s carry 0.204 kg/(m s); from memory."""
    assert film_thickness(0.204, 2e-4 * 800.0, 800.0) == pytest.approx(2.5e-3, rel=2e-3)


def test_surface_speed_is_that_of_the_parabola():
    """Bird2002, 2.2-18: rho g delta^2 cos(b)/(2 mu) at the surface."""
    delta = film_thickness(0.05, 0.01, 1200.0, 0.5)
    expected = 1200.0 * 9.80665 * delta**2 * 0.5 / (2.0 * 0.01)
    assert film_surface_speed(0.05, 0.01, 1200.0, 0.5) == pytest.approx(expected, rel=1e-12)


def test_penetration_is_the_mean_of_diffusion_into_a_thick_layer():
    """The flux sqrt(D/(pi t)) of the exact solution, averaged by quadrature."""
    D, t = 1.3e-9, 4.0
    mean = quad(lambda s: math.sqrt(D / (math.pi * s)), 0.0, t)[0] / t
    assert penetration_coefficient(D, t) == pytest.approx(mean, rel=1e-6)


def test_channels_against_another_library():
    """Turbulent: Dittus and Boelter as the library ht has it; laminar: 7.54 of Bergman2011, table 8.1."""
    D, nu, across = 2.5e-5, 1.57e-5, 0.024
    still, moving = channel_coefficients(0.5 * across, D, nu)
    assert still * across / D == pytest.approx(7.54, rel=1e-12)
    u = 30000.0 * nu / across
    assert moving * u**0.8 * across / D == pytest.approx(
        ht.turbulent_Dittus_Boelter(30000.0, nu / D), rel=1e-9
    )


def test_a_packed_column_of_a_textbook():
    """Sinnott2005, example 11.14 (SO2 from air into water, 38 mm saddles): 0.71 wetted, k_L 2.5e-4 m/s and
    k_G 5.0e-4 kmol/(s m2 bar); numbers from memory."""
    share = packing_wetted_share(16.7, 194.0, 1e-3, 1000.0, 70e-3, 61e-3)
    assert share == pytest.approx(0.71, abs=0.01)
    liquid = packing_liquid_factor(16.7, share * 194.0, 194.0, 0.038, 1e-3, 1000.0) * math.sqrt(1.7e-9)
    assert liquid == pytest.approx(2.5e-4, rel=0.03)
    gas = packing_gas_coefficient(0.79 / 1.21, 194.0, 0.038, 1.45e-5, 0.018e-3 / 1.21)
    assert gas / (0.08314 * 293.0) == pytest.approx(5.0e-4, rel=0.03)


def test_air_that_runs_short():
    """Much air: the conductance itself; little air: all that the air brings; one transfer unit: 63.2 %."""
    assert passing_air(0.01, 1e3) == pytest.approx(0.01, rel=1e-4)
    assert passing_air(10.0, 0.02) == pytest.approx(0.02, rel=1e-9)
    assert passing_air(0.05, 0.05) == pytest.approx(0.05 * 0.63212, rel=1e-4)
    assert passing_air(0.05, 0.0) < 1e-8
