"""Fields: shade by hand and by pvlib, dried air by hand, spares by hand and by SciPy."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.supply.field import (
    chance_enough_work,
    dried_air,
    field_shade,
    modules_with_spares,
    pitch_for_noon,
    profile_angle,
    shaded_share,
    sky_lost,
    steady_availability,
)


def test_shade_by_hand():
    """Upright rows (90 degrees) two lengths apart: the sun at 45 degrees falls short, at arctan(1/4) it
    shades half; flat rows never shade each other."""
    assert shaded_share(np.array([math.radians(45.0)]), math.pi / 2, 2.0)[0] == 0.0
    assert shaded_share(np.array([math.atan(0.25)]), math.pi / 2, 2.0)[0] == pytest.approx(0.5)
    assert shaded_share(np.array([math.radians(1.0)]), 0.0, 1.0)[0] == pytest.approx(0.0)


def test_profile_angle_by_hand():
    """Rows to the south. Sun due south at 30 degrees: 30. South-east at 30: atan(tan 30 / cos 45)."""
    low = math.radians(30.0)
    for azimuth, expected in (
        (180.0, 30.0),
        (135.0, math.degrees(math.atan(math.tan(low) / math.cos(math.pi / 4)))),
    ):
        a = math.radians(azimuth)
        sun = [
            np.array([x]) for x in (math.cos(low) * math.sin(a), math.cos(low) * math.cos(a), math.sin(low))
        ]
        assert math.degrees(profile_angle(*sun, math.pi)[0]) == pytest.approx(expected)


@pytest.mark.parametrize("tilt", [10.0, 30.0, 60.0])
@pytest.mark.parametrize("ratio", [1.2, 1.8, 3.0])
def test_shade_against_pvlib(tilt, ratio):
    """pvlib.shading.shaded_fraction1d (fixed rows along east-west) is the referee."""
    shading = pytest.importorskip("pvlib.shading")
    zenith, azimuth = (
        x.ravel() for x in np.meshgrid(np.arange(5.0, 90.0, 7.0), np.arange(95.0, 270.0, 11.0))
    )
    theirs = shading.shaded_fraction1d(
        zenith, azimuth, axis_azimuth=90.0, shaded_row_rotation=tilt, collector_width=1.0, pitch=ratio,
    )  # fmt: skip
    z, a = np.radians(zenith), np.radians(azimuth)
    ours = shaded_share(
        profile_angle(np.sin(z) * np.sin(a), np.sin(z) * np.cos(a), np.cos(z), math.pi),
        math.radians(tilt),
        ratio,
    )
    assert ours == pytest.approx(theirs, abs=1e-9)
    assert ours.max() > 0.3


@pytest.mark.parametrize("tilt", [10.0, 30.0, 60.0])
@pytest.mark.parametrize("ratio", [1.2, 2.0, 4.0])
def test_sky_lost_against_pvlib(tilt, ratio):
    """The masking angles of pvlib, put into the isotropic sky by hand here."""
    shading = pytest.importorskip("pvlib.shading")
    heights = (np.arange(400) + 0.5) / 400
    mask = np.radians([shading.masking_angle(tilt, 1.0 / ratio, h) for h in heights])
    t = math.radians(tilt)
    left = (1.0 + np.cos(t + mask)) / (1.0 + math.cos(t))
    assert sky_lost(t, ratio) == pytest.approx(1.0 - left.mean(), abs=2e-4)


def test_a_field_by_hand():
    """Upright rows, two hours: one with half a row shaded, one without; beam 100 W/m2 and 300 W/m2."""
    heights = np.array([math.atan(0.25), math.radians(60.0)])
    sun = (np.zeros(2), -np.cos(heights), np.sin(heights))
    beam, diffuse = np.array([100.0, 300.0]), np.array([50.0, 50.0])
    found = field_shade(sun, beam, diffuse, math.pi / 2, math.pi, 2.0, 4)
    assert found.beam_lost.tolist() == pytest.approx([0.375, 0.0])
    assert found.beam == pytest.approx(37.5 / 400.0)
    sky = 0.75 * sky_lost(math.pi / 2, 2.0)
    assert found.diffuse == pytest.approx(sky)
    assert found.total == pytest.approx((37.5 + 100.0 * sky) / 500.0)
    alone = field_shade(sun, beam, diffuse, math.pi / 2, math.pi, 2.0, 1)
    assert alone.total == 0.0
    dark = field_shade(sun, 0.0 * beam, 0.0 * diffuse, 1.0, math.pi, 2.0, 3)
    assert dark.total == 0.0 and dark.beam == 0.0


def test_the_pitch_that_just_misses():
    tilt, height = math.radians(35.0), math.radians(25.0)
    ratio = pitch_for_noon(tilt, height)
    assert shaded_share(np.array([height]), tilt, ratio)[0] == pytest.approx(0.0, abs=1e-12)
    assert shaded_share(np.array([height]), tilt, 0.99 * ratio)[0] > 0.005


def test_dried_air_by_hand():
    """0.1 kg/m2 in an hour over 36 m of ground, air of 10 g/m3, 1 m/s and 2 m high: 1 g/s a metre of width is
    taken from 20 g/s that pass, a twentieth."""
    uptake = np.array([0.1 / 3600.0, 100.0, 0.0, -1.0])
    found = dried_air(uptake, np.full(4, 1.0), np.full(4, 0.010), 36.0, 2.0)
    assert found.tolist() == pytest.approx([0.05, 1.0, 0.0, 0.0])
    assert dried_air(uptake[:1], np.zeros(1), np.full(1, 0.01), 36.0, 2.0)[0] == 1.0


def test_spares_by_hand():
    """Two of three at 0.9: 3 x 0.81 x 0.1 + 0.729 = 0.972."""
    assert chance_enough_work(3, 2, 0.9) == pytest.approx(0.972)
    assert chance_enough_work(2, 2, 0.9) == pytest.approx(0.81)
    assert (chance_enough_work(3, 0, 0.9), chance_enough_work(3, 4, 0.9)) == (1.0, 0.0)
    assert modules_with_spares(2, 0.9, 0.9) == 3
    assert modules_with_spares(2, 0.9, 0.98) == 4
    assert modules_with_spares(5, 1.0, 0.9) == 5
    assert steady_availability(95.0, 5.0) == 0.95


@given(needed=st.integers(1, 3000), availability=st.floats(0.3, 0.999), confidence=st.floats(0.5, 0.999))
@settings(deadline=None, derandomize=True, max_examples=60)
def test_spares_are_enough_and_not_one_too_many(needed, availability, confidence):
    from scipy.stats import binom

    modules = modules_with_spares(needed, availability, confidence)
    assert binom.sf(needed - 1, modules, availability) >= confidence - 1e-9
    assert modules == needed or binom.sf(needed - 1, modules - 1, availability) < confidence + 1e-9
