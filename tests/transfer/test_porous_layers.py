"""Vapour in porous layers against worked examples and a solved profile."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.constants import WATER_GAS_CONSTANT
from welkinwell.moist_air.saturation import saturation_pressure
from welkinwell.transfer import layers

STEADY = settings(deadline=None, derandomize=True, max_examples=200)
ANY = st.floats(allow_nan=False, allow_infinity=False)


def test_knudsen_constant():
    # 97 r sqrt(T/M), M in g/mol: the handbook form
    assert layers.knudsen_diffusivity(1e-8, 323.15) == pytest.approx(
        97e-8 * math.sqrt(323.15 / 18.015), rel=1e-3
    )


@pytest.mark.parametrize(("width", "pore"), [(5e-9, 1.0e-6), (50e-9, 7.6e-6), (1e-6, 2.6e-5), (1e-5, 2.9e-5)])
def test_worked_examples_of_pores(width, pore):
    # worked examples, computed apart, at 50 °C, pore widths (twice the radius)
    assert layers.pore_diffusivity(0.5 * width, 323.15, 101325.0) == pytest.approx(pore, rel=0.03)


@pytest.mark.parametrize(("width", "effective"), [(50e-9, 2.7e-6), (1e-6, 9.2e-6), (1e-4, 1.0e-5)])
def test_worked_examples_of_layers(width, effective):
    # worked examples, computed apart, porosity 0.5
    found = layers.effective_diffusivity(0.5 * width, 0.5, 323.15, 101325.0)
    assert found == pytest.approx(effective, rel=0.05)


@pytest.mark.parametrize(
    ("thickness", "share", "hours"), [(3e-3, 0.2, 2.9), (3e-3, 0.4, 1.4), (1e-2, 0.2, 32), (1e-2, 0.4, 16)]
)
def test_worked_examples_of_the_front(thickness, share, hours):
    # worked example, computed apart: 500 kg/m3, swing 0.25, porosity 0.6 (D_e 1.19e-5 m2/s), 25 °C
    assert layers.effective_diffusivity(1e-3, 0.6, 298.15, 101325.0) == pytest.approx(1.19e-5, rel=0.01)
    difference = share * saturation_pressure(298.15) / (WATER_GAS_CONSTANT * 298.15)
    found = layers.front_time(thickness, 500.0, 0.25, 1.19e-5, difference) / 3600.0
    assert found == pytest.approx(hours, rel=0.03)


@pytest.mark.parametrize(("thickness", "seconds"), [(3e-3, 36.0), (3e-2, 3600.0)])
def test_worked_examples_of_warming(thickness, seconds):
    # worked example, computed apart: 0.15 W/(m K), 6e5 J/(m3 K)
    assert layers.warming_time(thickness, 0.15, 6e5) == pytest.approx(seconds, rel=1e-9)


def test_layer_resistance_is_that_of_a_solved_profile():
    """Steady uptake spread evenly over a layer that is closed below: surface minus mean over the flow."""
    thickness, d, flow, cells = 4e-3, 1.2e-5, 2e-5, 400
    dz = thickness / cells
    # cell centres from the surface; each cell takes up flow/cells, nothing passes the bottom
    passing = flow * (1.0 - np.arange(cells) / cells)  # through the upper face of each cell
    drops = passing * np.concatenate(([0.5 * dz], np.full(cells - 1, dz))) / d
    mean = -np.cumsum(drops).mean()
    assert -mean / flow == pytest.approx(layers.layer_resistance(thickness, d), rel=1e-3)


@STEADY
@given(st.tuples(*[ANY] * 5))
def test_never_nan(arguments):
    small = [max(-1e6, min(1e6, x)) for x in arguments]
    assert math.isfinite(layers.effective_diffusivity(*small[:4]))
    assert math.isfinite(layers.pore_diffusivity(*arguments[:3]))
    assert math.isfinite(layers.layer_resistance(*small[:2]))
    assert math.isfinite(layers.front_time(*small))
    assert math.isfinite(layers.warming_time(*small[:3]))
