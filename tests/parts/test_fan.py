"""Fans: worked by hand and against a published machine map."""

import pytest

from welkinwell.moist_air.humidity import density
from welkinwell.parts.fan import fan_power, fan_temperature_rise, pressure_drop, speed_law_power


def test_power_by_hand():
    """1 m3/s against 500 Pa at 60 %: 833.3 W."""
    assert fan_power(1.0, 500.0, 0.6) == pytest.approx(833.33, rel=1e-4)


def test_power_of_a_worked_cooling_machine():
    """Worked by the apparatus-dew-point method: 30 C, 60 %, 7.15 g/kg condensed, three air flows (one through
    the coil, two through the condenser) against 150 Pa at 40 %: fans 0.038 kWh/kg (computed figure)."""
    w = 0.01605
    per_dry = (1.0 + w) / density(303.15, w, 101325.0)  # m3 per kg of dry air
    joules = 3.0 * fan_power(per_dry, 150.0, 0.40)
    assert joules / 0.00715 / 3.6e6 == pytest.approx(0.038, rel=0.02)


def test_warming_is_the_power_in_the_air():
    """dp/(eta rho c): 150 Pa at 40 % in 1.2 kg/m3: 0.3106 K (by hand)."""
    assert fan_temperature_rise(150.0, 0.40, 1.2) == pytest.approx(0.3106, rel=1e-3)
    assert fan_power(1.0, 150.0, 0.40) == pytest.approx(1.2 * 1006.0 * 0.3106, rel=1e-3)


def test_drop_with_speed_and_density():
    """Orifice: square of speed, proportional to density. Laminar: linear in speed, density no matter."""
    assert pressure_drop(2.0, 1.0, 30.0, 2.0, 0.6) == pytest.approx(60.0)
    assert pressure_drop(2.0, 1.0, 30.0, 1.0, 0.6) == pytest.approx(60.0)
    assert pressure_drop(2.0, 1.0, 30.0, 1.75, 1.2) == pytest.approx(30.0 * 2.0**1.75)
    assert pressure_drop(-1.0, 1.0, 30.0, 1.75, 1.2) == 0.0


def test_fan_laws():
    """Half the speed: an eighth of the power; at 80 % of the pressure 80 % of it."""
    assert speed_law_power(80.0, 0.5, 101325.0) == pytest.approx(10.0)
    assert speed_law_power(80.0, 0.5, 0.8 * 101325.0) == pytest.approx(8.0)
