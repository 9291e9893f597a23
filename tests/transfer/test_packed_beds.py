"""Packed beds against worked examples and the fluids and ht libraries."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.transfer import packed_beds as beds

STEADY = settings(deadline=None, derandomize=True, max_examples=200)
ANY = st.floats(allow_nan=False, allow_infinity=False)
RHO, MU = 1.184, 1.85e-5  # air at 25 °C, sea level


@pytest.mark.parametrize(
    ("velocity", "diameter", "gradient"),
    [(0.2, 2e-3, 1167), (0.2, 1e-3, 3890), (0.2, 3e-3, 605), (0.1, 5e-4, 6615)],
)
def test_worked_examples_of_ergun(velocity, diameter, gradient):
    # worked examples, computed apart
    assert beds.ergun_gradient(velocity, diameter, 0.4, RHO, MU)[0] == pytest.approx(gradient, rel=0.004)


@STEADY
@given(st.floats(0.001, 3.0), st.floats(1e-4, 1e-2), st.floats(0.25, 0.7))
def test_ergun_is_that_of_fluids_and_its_inverse_is_exact(velocity, diameter, porosity):
    fluids = pytest.importorskip("fluids")
    gradient, slope = beds.ergun_gradient(velocity, diameter, porosity, RHO, MU)
    theirs = fluids.packed_bed.Ergun(dp=diameter, voidage=porosity, vs=velocity, rho=RHO, mu=MU, L=1.0)
    assert gradient == pytest.approx(theirs, rel=1e-9)
    assert beds.ergun_velocity(gradient, diameter, porosity, RHO, MU) == pytest.approx(velocity, rel=1e-9)
    assert beds.ergun_velocity(-gradient, diameter, porosity, RHO, MU) == pytest.approx(-velocity, rel=1e-9)
    h = 1e-6 * velocity
    up = beds.ergun_gradient(velocity + h, diameter, porosity, RHO, MU)[0]
    assert slope == pytest.approx((up - gradient) / h, rel=1e-4)


def test_worked_example_of_wakao():
    # worked example, computed apart: 0.2 m/s, 2 mm: Re 25.7, Nu 8.87, h 116, Sh 8.53, k 0.109 m/s, 1800 1/m
    reynolds = RHO * 0.2 * 2e-3 / MU
    nusselt, sherwood = beds.wakao_nusselt(reynolds, 0.707), beds.wakao_nusselt(reynolds, 0.608)
    assert nusselt == pytest.approx(8.87, abs=0.02)
    assert nusselt * 0.0262 / 2e-3 == pytest.approx(116.0, abs=0.5)
    assert sherwood == pytest.approx(8.53, abs=0.02)
    assert sherwood * 2.56e-5 / 2e-3 == pytest.approx(0.109, abs=5e-4)
    assert beds.grain_surface(2e-3, 0.4) == pytest.approx(1800.0)


def test_wakao_is_that_of_ht():
    ht = pytest.importorskip("ht")
    for reynolds in (3.0, 100.0, 2000.0):
        theirs = ht.conv_packed_bed.Nu_Wakao_Kagei(reynolds, 0.7)
        assert beds.wakao_nusselt(reynolds, 0.7) == pytest.approx(theirs, rel=1e-9)


@STEADY
@given(st.tuples(*[ANY] * 5))
def test_never_nan(arguments):
    assert not math.isnan(beds.wakao_nusselt(arguments[0], arguments[1]))
    small = [max(-1e6, min(1e6, x)) for x in arguments]
    assert all(math.isfinite(x) for x in beds.ergun_gradient(*small))
    assert math.isfinite(beds.ergun_velocity(*small))
    assert math.isfinite(beds.grain_surface(*small[:2]))
