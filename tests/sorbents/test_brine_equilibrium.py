"""Lithium chloride brine against published tables, and the gel that is computed from it."""

import numpy as np
import pytest

from welkinwell.moist_air.saturation import saturation_pressure
from welkinwell.sorbents.brine import water_activity, water_per_salt
from welkinwell.sorbents.fit import read_points
from welkinwell.sorbents.salt_in_host import gel_loading
from welkinwell.sorbents.sorbent import points_path, sorbent


@pytest.mark.parametrize(
    ("salt", "activities"),
    [
        (0.10, (0.8813, 0.8815, 0.8817, 0.8820, 0.8823)),
        (0.20, (0.6846, 0.6898, 0.6949, 0.7018, 0.7086)),
        (0.30, (0.4068, 0.4215, 0.4361, 0.4557, 0.4753)),
        (0.45, (0.0998, 0.1151, 0.1305, 0.1510, 0.1715)),
    ],
)
def test_water_activity_as_computed_elsewhere(salt, activities):
    """Conde2004 by an independent evaluation, at 10, 25, 40, 60 and 80 C."""
    for t, expected in zip((10, 25, 40, 60, 80), activities, strict=True):
        assert water_activity(salt, 273.15 + t) == pytest.approx(expected, abs=6e-5)


@pytest.mark.parametrize(
    ("salt", "robinson_stokes"), [(0.1128, 0.87022), (0.1749, 0.74702), (0.2533, 0.53918), (0.2977, 0.41156)]
)
def test_water_activity_against_osmotic_tables(salt, robinson_stokes):
    """Osmotic coefficients of Robinson and Stokes at 25 C (from memory); the largest miss is 0.016."""
    assert water_activity(salt, 298.15) == pytest.approx(robinson_stokes, abs=0.017)


def test_saturated_brine_meets_the_humidity_standard():
    """11.3 % over saturated lithium chloride (Greenspan 1977), salt fraction 0.458 at 25 C; 1 % RH."""
    assert water_activity(0.458, 298.15) == pytest.approx(0.113, abs=0.01)


def test_water_per_salt():
    """Conde2004 by an independent evaluation, at 25 C."""
    for rh, r in ((0.113, 1.213), (0.3, 1.889), (0.5, 2.675), (0.7, 4.113), (0.9, 10.25)):
        assert water_per_salt(rh, 298.15) == pytest.approx(r, rel=1e-3)


def test_gel_meets_the_two_published_loadings():
    """Graeber2023: 1.79 at RH 0.30 and 3.86 at 0.70; one salt share serves both."""
    assert gel_loading(0.30, 298.15) == pytest.approx(1.79, rel=0.005)
    assert gel_loading(0.70, 298.15) == pytest.approx(3.86, rel=0.01)


def test_points_of_the_gel_sheet_are_computed_by_this_code():
    points = read_points(points_path("licl_gel_computed.csv"))
    found = sorbent("licl_gel")
    errors = []
    for T, p, q in zip(points.temperature, points.pressure, points.loading, strict=True):
        rh = p / saturation_pressure(T)
        assert gel_loading(rh, T) == pytest.approx(q, rel=2e-5)
        errors.append(found.loading(T, rh) / q - 1.0)
    print(f"licl_gel: {len(errors)} states, rms {np.std(errors):.4f}, largest {np.max(np.abs(errors)):.4f}")
    assert np.sqrt(np.mean(np.square(errors))) < 0.007
    assert np.max(np.abs(errors)) < 0.018
