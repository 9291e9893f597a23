"""Least work and solar exergy against two tables that were worked out apart from this code."""

import numpy as np
import pytest

from welkinwell.limits.least_work import least_work, least_work_at_recovery, solar_exergy_factor
from welkinwell.moist_air import saturation_pressure

# Wh/kg at 101.325 kPa with IAPWS saturation: t [C], RH, vanishing recovery, 25, 50, 90 %
LIQUID_WATER_OUT = [
    (10, 0.3, 43.7, 48.7, 54.8, 70.7),
    (15, 0.5, 25.6, 30.6, 36.9, 53.0),
    (20, 0.3, 45.2, 50.4, 56.7, 73.1),
    (20, 0.6, 19.2, 24.3, 30.6, 46.9),
    (25, 0.2, 61.5, 66.7, 73.2, 89.9),
    (25, 0.5, 26.5, 31.7, 38.1, 54.7),
    (25, 0.7, 13.6, 18.8, 25.2, 41.7),
    (30, 0.1, 89.5, 94.8, 101.4, 118.3),
    (30, 0.2, 62.5, 67.8, 74.4, 91.3),
    (30, 0.5, 26.9, 32.2, 38.7, 55.5),
    (30, 0.8, 8.7, 13.8, 20.3, 37.0),
    (35, 0.15, 74.9, 80.3, 87.0, 104.2),
    (35, 0.4, 36.2, 41.5, 48.1, 65.2),
    (40, 0.1, 92.4, 97.9, 104.7, 122.2),
    (40, 0.2, 64.6, 70.0, 76.8, 94.2),
]
# kJ/kg: t [C], RH, p [kPa], vanishing recovery, 10, 30, 50, 90 %
WITH_PRESSURE = [
    (25, 0.1, 101.325, 316.84, 323.94, 339.86, 358.96, 419.05),
    (25, 0.3, 101.325, 165.67, 172.73, 188.56, 207.57, 267.49),
    (25, 0.5, 101.325, 95.38, 102.39, 118.14, 137.06, 196.80),
    (25, 0.8, 101.325, 30.71, 37.65, 53.27, 72.06, 131.54),
    (35, 0.2, 101.325, 228.89, 236.17, 252.51, 272.14, 334.01),
    (20, 0.6, 84.0, 69.11, 76.00, 91.47, 110.06, 168.77),
]


@pytest.mark.parametrize("line", LIQUID_WATER_OUT)
def test_least_work_in_watt_hours(line):
    t, humidity, *works = line
    T = t + 273.15
    saturation = float(saturation_pressure(T))
    found = [least_work(T, humidity)]
    found += [
        least_work_at_recovery(T, humidity * saturation, saturation, 101325.0, r) for r in (0.25, 0.5, 0.9)
    ]
    # half a per cent, and the table's own last digit
    assert np.array(found) / 3600.0 == pytest.approx(works, rel=5e-3, abs=0.06)


@pytest.mark.parametrize("line", WITH_PRESSURE)
def test_least_work_in_kilojoules(line):
    t, humidity, kilopascal, *works = line
    T = t + 273.15
    saturation = float(saturation_pressure(T))
    found = [least_work(T, humidity)]
    found += [
        least_work_at_recovery(T, humidity * saturation, saturation, 1000.0 * kilopascal, r)
        for r in (0.1, 0.3, 0.5, 0.9)
    ]
    assert np.array(found) / 1000.0 == pytest.approx(works, rel=5e-3)


def test_small_recovery_comes_down_to_the_first_drop():
    saturation = float(saturation_pressure(298.15))
    almost = least_work_at_recovery(298.15, 0.4 * saturation, saturation, 101325.0, 1e-5)
    assert almost == pytest.approx(float(least_work(298.15, 0.4)), rel=2e-4)


def test_saturated_air_costs_nothing():
    assert float(least_work(293.15, 1.0)) == 0.0
    assert float(least_work(293.15, 1.04)) == 0.0


def test_exergy_of_sunlight():
    """Petela's factor worked out by hand: 0.93113 at 298.15 K for a sun of 5772 K."""
    assert float(solar_exergy_factor(298.15)) == pytest.approx(0.93113, abs=1e-4)
    assert float(solar_exergy_factor(313.15 * 5772.0 / 5777.0)) == pytest.approx(0.92773, abs=1e-4)
