"""Bounds of a day from its weather: worked by hand for a made-up day, and in order on real weather."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.climate import read_climate
from welkinwell.constants import STEFAN_BOLTZMANN
from welkinwell.limits import solar_bounds as solar
from welkinwell.limits.bound import Bound, running_minimum, tightest
from welkinwell.limits.choices import day_bounds_from_text
from welkinwell.limits.day_bounds import (
    DayBounds,
    bounds_of_days,
    days_of,
    monthly_mean,
    release_temperatures,
)
from welkinwell.limits.least_work import SUN_TEMPERATURE, least_work, solar_exergy_factor
from welkinwell.moist_air import saturation_pressure

WEATHER = Path(__file__).parents[2] / "examples" / "weather"


@cache
def climate():
    return read_climate(next(WEATHER.glob("coast*.gz")))


@cache
def steady():
    """Real sun over air that swings between 15 and 30 C, half a day each, at 1,000 Pa under a clear sky."""
    hours = climate().sizes["time"]
    T = np.where(np.arange(hours) % 24 < 12, 288.15, 303.15)
    made = climate().copy()
    for name, values in (
        ("temperature", T),
        ("vapour_pressure", np.full(hours, 1000.0)),
        ("sky_longwave", np.full(hours, 300.0)),
    ):
        made[name] = ("time", values)
    return made


def test_a_made_up_day_by_hand():
    given_ = DayBounds(carried_heat=4.0e6, hot=360.0)
    days = days_of(steady(), given_)
    cold, warm = 288.15, 303.15
    assert days["coldest"].values == pytest.approx(cold)
    assert days["warmest"].values == pytest.approx(warm)
    # the cool half is the damp half: RH 0.586 against 0.235
    humidity = 1000.0 / float(saturation_pressure(cold))
    work = float(least_work(cold, humidity))
    assert days["least_work"].values == pytest.approx(work)
    cooling = 12 * 3600.0 * (2 * -300.0 + STEFAN_BOLTZMANN * (cold**4 + warm**4))
    assert days["sky_cooling"].values == pytest.approx(cooling)
    assert days["swing_exergy"].values == pytest.approx(4.0e6 * 15.0 / 303.15)
    sun = days["sun_on_plane"].values
    exergy = float(solar_exergy_factor(cold)) * sun + cooling / 3.0 + 4.0e6 * 15.0 / 303.15
    found = {bound.key: bound for bound in bounds_of_days(days, given_)}
    assert found["reversible"].value == pytest.approx(float(np.mean(exergy / work)))
    assert found["reversible"].by_month == pytest.approx(monthly_mean(exergy / work))
    assert found["sky"].value == pytest.approx(cooling / 2429.8e3, rel=1e-3)  # latent heat at 30 C, IAPWS


@pytest.mark.parametrize("pattern", ["coast*.gz", "desert*.gz"])
def test_real_weather_in_order(pattern):
    days = days_of(read_climate(next(WEATHER.glob(pattern))), DayBounds())
    found = {bound.key: np.array(bound.by_month) for bound in bounds_of_days(days, DayBounds())}
    assert (found["reversible"] >= found["reversible_at_recovery"]).all()
    assert (found["reversible_at_recovery"] > found["photovoltaic"]).all()
    assert (found["heat"] >= found["several_effects"]).all()
    assert (found["several_effects"] >= found["single_effect"] - 1e-9).all()
    release = release_temperatures(days)
    assert (np.diff(release, axis=1) > 9.0).all()  # a warmer condenser asks for a hotter bed


def test_saturated_air_bounds_nothing_and_is_null():
    damp = climate().copy()
    damp["vapour_pressure"] = ("time", saturation_pressure(damp["temperature"].values))
    found = {bound.key: bound for bound in bounds_of_days(days_of(damp, DayBounds()), DayBounds())}
    assert found["reversible"].as_data()["value"] is None
    assert "saturated" in found["reversible"].note
    assert np.isfinite(found["reversible_at_recovery"].value)  # the dry air must still be parted from


@given(sky=st.floats(200.0, 300.0), air=st.floats(250.0, 320.0))
@settings(deadline=None, derandomize=True)
def test_a_grey_sky_never_yields_more_than_its_bound(sky, air):
    """Petela1964 for a black sky at one temperature, sigma (Ts^4 - 4/3 T0 Ts^3 + T0^4/3), stays below it."""
    if sky > air:
        return
    petela = STEFAN_BOLTZMANN * (sky**4 - 4.0 / 3.0 * air * sky**3 + air**4 / 3.0)
    assert petela <= float(solar.sky_exergy(air, STEFAN_BOLTZMANN * sky**4)) + 1e-6


def test_no_sky_at_all_yields_a_third():
    empty = float(solar.sky_exergy(300.0, 0.0))
    assert empty == pytest.approx(STEFAN_BOLTZMANN * 300.0**4 / 3.0)
    # the same from the sun's formula: psi(T0) times the sun's own radiation, as the source goes out
    source = 1.0
    factor = 1.0 - 4.0 / 3.0 * 300.0 / source + (300.0 / source) ** 4 / 3.0
    assert factor * STEFAN_BOLTZMANN * source**4 == pytest.approx(empty, rel=1e-3)
    assert SUN_TEMPERATURE == 5772.0


def test_the_tightest_binds_its_kind():
    a = Bound("a", "a", 3.0, "L", "", "", ("passive_box",))
    b = Bound("b", "b", 2.0, "L", "", "", ("cooling_coil",))
    assert tightest([a, b]) is b
    assert tightest([a, b], "passive_box") is a
    assert tightest([b], "passive_box") is None
    assert running_minimum([5.0, 7.0, 3.0, 4.0]) == [5.0, 5.0, 3.0, 3.0]


def test_choices_are_checked():
    from welkinwell.errors import InputError

    given_ = day_bounds_from_text(tilt="45 deg", hot="120 degC", recovery="30 %", effects=2)
    assert (given_.hot, given_.recovery, given_.effects) == pytest.approx((393.15, 0.3, 2))
    with pytest.raises(InputError) as caught:
        day_bounds_from_text(tilt="45", hot="-20 degC", recovery="1.2", effects=2)
    assert len(caught.value.problems) == 3
