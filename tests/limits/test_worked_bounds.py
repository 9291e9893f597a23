"""Bounds against tables worked out apart from this code, with a reference library for water's properties.

The tables print three digits, so each figure is held to half a per cent and to the last digit of its table.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.limits import solar_bounds as solar
from welkinwell.limits.bound import running_minimum
from welkinwell.limits.electric_bounds import coil_heat, lift_work
from welkinwell.limits.least_work import least_work, least_work_at_recovery, solar_exergy_factor
from welkinwell.limits.regeneration import least_release_temperature, release_temperature_from_ambient
from welkinwell.limits.supply_bounds import (
    air_for_a_litre,
    boundary_layer,
    inventory,
    mass_transfer_coefficient,
)
from welkinwell.moist_air import latent_heat, saturation_pressure

SUN = 6.0 * 3.6e6  # J/m2 a day
PRESSURE = 101325.0
WATT_HOUR = 3600.0

# L/m2 a day at 6 kWh/m2, the works at half recovery where nothing else is said: t [C], RH; solar first drop
# and half; Carnot at 60, 80, 120 C; cells of 20 %; H/h_fg; H/(h_fg + A0/M); least release temperature [C]
# for a condenser at the air's, 10 and 20 K above
DAY_OF_SIX = [
    (20, 0.3, 123, 98, 12.7, 18.0, 26.9, 21, 8.80, 8.26, 39.6, 50.5, 61.3),
    (25, 0.5, 211, 147, 16.6, 24.5, 38.1, 32, 8.85, 8.51, 36.7, 47.2, 57.7),
    (25, 0.2, 91, 76, 8.6, 12.8, 19.8, 16, 8.85, 8.11, 52.3, 63.5, 74.7),
    (30, 0.2, 89, 75, 7.3, 11.4, 18.5, 16, 8.89, 8.14, 58.4, 69.6, 80.8),
    (30, 0.5, 207, 144, 14.0, 22.0, 35.5, 31, 8.89, 8.55, 42.1, 52.7, 63.2),
    (30, 0.8, 643, 275, 26.7, 41.9, 67.8, 59, 8.89, 8.78, 33.9, 44.1, 54.2),
    (35, 0.15, 74, 64, 5.2, 8.8, 14.9, 14, 8.93, 8.04, 69.8, 81.3, 92.8),
    (40, 0.1, 60, 53, 3.4, 6.5, 11.7, 11, 8.98, 7.89, 84.0, 95.8, 107.7),
]
# potential [J/mol]; least release temperature [C] for a condenser at 20, 30, 40 C
STEPS = [
    (2500, 36.7, 47.4, 58.2),
    (4200, 48.2, 59.4, 70.7),
    (6300, 62.5, 74.4, 86.3),
    (9000, 81.1, 93.9, 106.6),
    (12000, 102.2, 115.8, 129.5),
    (17000, 137.7, 153.0, 168.2),
]
# A: 25 C, RH 0.5, release 70 C, swing 0.30; B: 30 C, RH 0.2, release 85 C, swing 0.20. L/m2 a day.
LADDERS = {
    "A": (25, 0.5, 70, 0.30, (210.6, 146.6, 24.5, 8.85, 8.51, 7.36, 5.89, 3.57, 1.20)),
    "B": (30, 0.2, 85, 0.20, (89.2, 75.0, 11.4, 8.89, 8.14, 6.51, 5.21, 2.70, 0.80)),
}


def works(t, humidity):
    T = t + 273.15
    saturation = float(saturation_pressure(T))
    half = least_work_at_recovery(T, humidity * saturation, saturation, PRESSURE, 0.5)
    return T, float(least_work(T, humidity)), float(half)


@pytest.mark.parametrize("line", DAY_OF_SIX)
def test_a_day_of_six_kilowatt_hours(line):
    t, humidity, first_drop, half, *rest = line
    T, w0, w = works(t, humidity)
    rounded = 0.93 / float(solar_exergy_factor(T))  # the table rounds the exergy of sunlight to 0.93
    assert rounded * solar.reversible_solar_water(SUN, T, w0) == pytest.approx(first_drop, rel=5e-3, abs=0.5)
    assert rounded * solar.reversible_solar_water(SUN, T, w) == pytest.approx(half, rel=5e-3, abs=0.5)
    hot = np.array([333.15, 353.15, 393.15])
    assert solar.heat_driven_water(SUN, T, hot, w) == pytest.approx(rest[:3], rel=5e-3, abs=0.05)
    assert solar.photovoltaic_water(SUN, w, 0.20) == pytest.approx(rest[3], rel=5e-3, abs=0.5)
    assert solar.single_effect_water(SUN, T) == pytest.approx(rest[4], rel=5e-3)
    release = solar.ideal_release_heat(T, w0)
    assert solar.sorption_water(SUN, release) == pytest.approx(rest[5], rel=5e-3)
    found = release_temperature_from_ambient(T, humidity, T + np.array([0.0, 10.0, 20.0]))
    assert found - 273.15 == pytest.approx(rest[6:], abs=0.06)


@pytest.mark.parametrize("line", STEPS)
def test_least_release_temperature_of_a_step(line):
    potential, *temperatures = line
    found = least_release_temperature(float(potential), np.array([293.15, 303.15, 313.15]))
    assert found - 273.15 == pytest.approx(temperatures, abs=0.06)


@pytest.mark.parametrize(
    ("t", "humidity", "effects"), [(25, 0.5, (1.9, 2.8, 3.6, 4.3)), (30, 0.2, (0.8, 1.3, 1.7, 2.1))]
)
def test_most_effects(t, humidity, effects):
    T, _, w = works(t, humidity)
    hot = np.array([333.15, 353.15, 373.15, 393.15])
    assert solar.most_effects(T, hot, w) == pytest.approx(effects, abs=0.06)


def test_a_second_effect_in_dry_air_needs_more_than_115_degrees():
    T, _, w = works(30, 0.2)
    assert solar.most_effects(T, 273.15 + 115.0, w) == pytest.approx(2.0, abs=0.02)
    heat = float(latent_heat(T))
    low = solar.n_effect_water(SUN, heat, 2, T, 333.15, w)
    assert low == pytest.approx(solar.heat_driven_water(SUN, T, 333.15, w))  # Carnot, not the effects
    assert solar.n_effect_water(SUN, heat, 2, T, 473.15, w) == pytest.approx(2 * SUN / heat)


@pytest.mark.parametrize("name", LADDERS)
def test_the_upper_rungs_of_a_ladder(name):
    t, humidity, release, swing, rungs = LADDERS[name]
    T, w0, w = works(t, humidity)
    lift = float(release - t)
    q = float(solar.ideal_release_heat(T, w0))
    sensible = float(solar.sensible_heat(lift, swing, 1000.0, 1.0, 900.0, 0.6 * 4190.0))
    kept = 0.80 * SUN - 6.0 * lift * 7 * 3600.0
    found = running_minimum(
        [
            solar.reversible_solar_water(SUN, T, w0),
            solar.reversible_solar_water(SUN, T, w),
            solar.heat_driven_water(SUN, T, 353.15, w),
            solar.single_effect_water(SUN, T),
            solar.sorption_water(SUN, q),
            solar.sorption_water(SUN, q, sensible),
            solar.sorption_water(0.80 * SUN, q, sensible),
            solar.sorption_water(kept, q, sensible),
            inventory(4.0, swing),
        ]
    )
    assert found == pytest.approx(rungs, rel=5e-3)


def test_sensible_heat_of_both_ladders():
    """111 and 184 Wh for each kg given off."""
    for (t, _, release, swing, _), expected in zip(LADDERS.values(), (111.0, 184.0), strict=True):
        found = solar.sensible_heat(release - t, swing, 1000.0, 1.0, 900.0, 0.6 * 4190.0)
        assert found / WATT_HOUR == pytest.approx(expected, rel=5e-3)


def test_the_electric_ladder():
    """30 C, RH 0.6, coil at 10 C that 15 % of the air passes by, Wh/kg, down to 40 % of Carnot."""
    T, w0, _ = works(30, 0.6)
    coil = coil_heat(T, 0.6, PRESSURE, 283.15, 0.15)
    assert coil.recovery == pytest.approx(0.446, rel=5e-3)
    saturation = float(saturation_pressure(T))
    found = [
        w0,
        least_work_at_recovery(T, 0.6 * saturation, saturation, PRESSURE, coil.recovery),
        coil.latent * lift_work(283.15, T),
        coil.total * lift_work(283.15, T),
        coil.total * lift_work(278.15, T + 12.0),
        coil.total * lift_work(278.15, T + 12.0) / 0.40,
    ]
    assert np.array(found) / WATT_HOUR == pytest.approx([19.9, 30.0, 49.3, 97.0, 182.7, 456.8], rel=5e-3)
    assert 30.0 / 495.0 == pytest.approx(
        0.061, abs=5e-4
    )  # the table's own second-law efficiency, with 38 of fans


def test_a_night_over_a_flat_bed():
    """h of 10 W/(m2 K) is 9.3 mm/s; RH 0.4 over a surface at 0.2 for 10 h at 20 C, by wind, h = 2.8 + 3 V.

    The table took Le = 0.86 and the air's density alone; ours differ by 1.5 % (vapour in density and a / D).
    """
    T = 293.15
    saturation = float(saturation_pressure(T))
    vapour = 0.4 * saturation
    assert mass_transfer_coefficient(10.0, T, vapour, PRESSURE) == pytest.approx(9.3e-3, rel=0.02)
    wind = np.array([0.5, 1.0, 2.0, 4.0])
    speed = mass_transfer_coefficient(2.8 + 3.0 * wind, T, vapour, PRESSURE)
    night = boundary_layer(speed, T, vapour, 0.5 * vapour, 36000.0)
    assert night == pytest.approx([0.50, 0.67, 1.02, 1.71], rel=0.02)


@pytest.mark.parametrize(
    ("t", "humidity", "grams"), [(25, 0.5, 11.52), (30, 0.2, 6.07), (40, 0.1, 5.11), (10, 0.3, 2.82)]
)
def test_air_for_a_litre(t, humidity, grams):
    T = t + 273.15
    vapour = humidity * float(saturation_pressure(T))
    assert float(air_for_a_litre(T, vapour)) == pytest.approx(1000.0 / grams, rel=5e-3)
    assert float(air_for_a_litre(T, vapour, 0.25)) == pytest.approx(4000.0 / grams, rel=5e-3)


@given(
    t=st.floats(-5.0, 45.0),
    humidity=st.floats(0.02, 0.99),
    recovery=st.floats(0.01, 0.95),
    pressure=st.floats(60e3, 105e3),
)
@settings(deadline=None, derandomize=True)
def test_taking_more_of_the_vapour_costs_more(t, humidity, recovery, pressure):
    T = t + 273.15
    saturation = float(saturation_pressure(T))
    vapour = humidity * saturation
    less, more = (
        float(least_work_at_recovery(T, vapour, saturation, pressure, r)) for r in (recovery, recovery + 0.04)
    )
    assert float(least_work(T, humidity)) < less < more


@given(t=st.floats(0.0, 45.0), humidity=st.floats(0.05, 0.9), lift=st.floats(0.0, 30.0))
@settings(deadline=None, derandomize=True)
def test_release_gets_hotter_with_drier_air_and_a_warmer_condenser(t, humidity, lift):
    T = t + 273.15
    here = release_temperature_from_ambient(T, humidity, T + lift)
    assert here > T + lift
    assert release_temperature_from_ambient(T, 0.9 * humidity, T + lift) > here
    assert release_temperature_from_ambient(T, humidity, T + lift + 5.0) > here
