"""The coil against the apparatus-dew-point method: a worked line and a computed map of cooling machines."""

import math

import pytest

from welkinwell.moist_air import dew_point, enthalpy, humidity_ratio, saturation_pressure
from welkinwell.moist_air.humidity import density
from welkinwell.parts.coil import bypass_factors, coil_exchange, frost_free_share, precooled, ratio_of
from welkinwell.parts.fan import fan_power
from welkinwell.parts.heat_pump import cooling_cop

ZERO = 273.15
P = 101325.0
LIQUID = 4190.0


def machine(celsius, humidity, coil, bypass=0.15, lewis=1.0):
    """Water [kg/kg], leaving temperature [K], performance [1], sensible share, energy [kWh/kg]; evaporator
    5 K below the coil, condenser 12 K above the air, three air flows against 150 Pa at 40 %."""
    T, surface = celsius + ZERO, coil + ZERO
    w = float(humidity_ratio(T, humidity, P))
    saturated = ratio_of(float(saturation_pressure(surface)), P)
    sensible, water, latent, leaving, _ = coil_exchange(
        1.0, T, w, surface, saturated, bypass, bypass ** (1.0 / lewis), 1.0
    )
    heat = sensible + latent - water * LIQUID * coil
    cop = cooling_cop(surface - 5.0, T + 12.0, 0.40)
    fans = 3.0 * fan_power((1.0 + w) / float(density(T, w, P)), 150.0, 0.40)
    return water, leaving, cop, sensible / heat, (heat / cop + fans) / water / 3.6e6


def test_the_worked_line():
    """30 C and 60 %, coil at 10 C, bypass 0.15: w 16.05 g/kg, saturated 7.63, taken 7.15, leaves at 13.0 C,
    performance 3.01, 0.495 kWh/kg (computed by the method with its constants, from memory of the trade)."""
    assert float(humidity_ratio(30.0 + ZERO, 0.6, P)) == pytest.approx(16.05e-3, rel=2e-3)
    assert ratio_of(float(saturation_pressure(10.0 + ZERO)), P) == pytest.approx(7.63e-3, rel=2e-3)
    water, leaving, cop, _, energy = machine(30.0, 0.6, 10.0)
    assert water == pytest.approx(7.15e-3, rel=3e-3)
    assert leaving == pytest.approx(13.0 + ZERO, abs=1e-6)
    assert cop == pytest.approx(3.01, abs=0.005)
    assert energy == pytest.approx(0.495, rel=0.01)


def test_the_rating_point():
    """26.7 C and 60 %, coil at 10 C: 0.527 kWh/kg."""
    assert machine(26.7, 0.6, 10.0)[4] == pytest.approx(0.527, rel=0.01)


# T, humidity, coil, water g/kg, performance, sensible share, kWh/kg: a computed map, coils at their best
MAP = [
    (10.0, 0.60, 1.0, 0.42, 4.14, 0.88, 2.00),
    (15.0, 0.80, 4.75, 2.71, 4.01, 0.57, 0.50),
    (20.0, 0.50, 1.0, 2.72, 2.99, 0.70, 0.89),
    (25.0, 0.30, 1.0, 1.56, 2.63, 0.84, 1.85),
    (25.0, 0.70, 12.0, 4.41, 3.74, 0.51, 0.44),
    (30.0, 0.20, 1.0, 1.02, 2.34, 0.91, 3.48),
    (30.0, 0.50, 9.75, 4.94, 2.98, 0.59, 0.62),
    (30.0, 0.90, 23.0, 5.64, 4.85, 0.31, 0.25),
    (35.0, 0.50, 14.5, 6.34, 3.01, 0.53, 0.54),
    (40.0, 0.30, 8.0, 6.16, 2.25, 0.64, 0.91),
]


@pytest.mark.parametrize(("T", "humidity", "coil", "water", "cop", "share", "energy"), MAP)
def test_a_computed_map(T, humidity, coil, water, cop, share, energy):
    """Two decimals are printed; saturation formula and specific heats of the two differ by up to 1 %, which a
    small water amount at low humidity turns into 2.5 %."""
    found = machine(T, humidity, coil)
    assert found[0] * 1e3 == pytest.approx(water, rel=0.02, abs=0.006)
    assert found[2] == pytest.approx(cop, abs=0.01)
    assert found[3] == pytest.approx(share, abs=0.015)
    assert found[4] == pytest.approx(energy, rel=0.025, abs=0.006)


def test_vapour_is_quicker_than_heat():
    """With Le^(2/3) = 0.905 for vapour a bypass of 0.15 becomes 0.123: 3.2 % more water, and less energy."""
    straight, quick = machine(30.0, 0.6, 10.0), machine(30.0, 0.6, 10.0, lewis=0.905)
    assert quick[0] / straight[0] == pytest.approx((1.0 - 0.15 ** (1.0 / 0.905)) / 0.85, rel=1e-12)
    assert quick[4] < straight[4]


def test_bypass_by_hand():
    """h A = 3200 W/K, 1.4 kg/s of air with 10 g/kg: NTU = 3200/(1.4 x 1024.2) = 2.232, 0.107 and 0.085."""
    heat, vapour = bypass_factors(3200.0, 1.4, 0.010)
    assert heat == pytest.approx(math.exp(-2.2318), rel=1e-3)
    assert vapour == pytest.approx(0.0849, rel=2e-3)


def test_the_airs_enthalpy_falls_by_what_the_coil_takes():
    T, w, surface = 303.15, 0.016, 283.15
    sensible, water, latent, leaving, leaving_ratio = coil_exchange(
        2.0, T, w, surface, 0.0076, 0.2, 0.15, 0.7
    )
    fall = 2.0 * (float(enthalpy(T, w)) - float(enthalpy(leaving, leaving_ratio)))
    assert sensible + latent == pytest.approx(fall, rel=1e-12)
    assert water == pytest.approx(2.0 * (w - leaving_ratio), rel=1e-12)


def test_recovery():
    """Half of the sensible heat of what leaves: 30 C in, fins at 10 C, no bypass: 20 C at the coil by hand.
    Where the dew point is 24 C the exchanger stops there."""
    assert precooled(303.15, 280.0, 283.15, 0.0, 0.5) == pytest.approx(293.15, abs=1e-9)
    assert precooled(303.15, 280.0, 283.15, 0.3, 0.0) == 303.15
    assert precooled(303.15, 297.15, 283.15, 0.0, 0.5) == pytest.approx(297.15, abs=1e-9)
    # with a bypass b: T_i = T_a - e (T_a - T_o), T_o = T_c + b (T_i - T_c)
    inlet = precooled(303.15, 270.0, 283.15, 0.2, 0.6)
    assert inlet == pytest.approx(303.15 - 0.6 * (303.15 - (283.15 + 0.2 * (inlet - 283.15))), rel=1e-12)


def test_recovery_saves_as_the_map_says():
    """The map gives 20 to 45 % less energy at half recovery, most in dry air: 1.85 to 1.14 at 25 C and 30 %,
    0.44 to 0.34 at 70 %. There half of the sensible heat was left out; here the exchanger does it."""
    for humidity, coil, before, after in ((0.3, 1.0, 1.85, 1.14), (0.7, 12.0, 0.44, 0.34)):
        T = 298.15
        w = float(humidity_ratio(T, humidity, P))
        inlet = precooled(T, float(dew_point(T, humidity)), coil + ZERO, 0.15, 0.5)
        saturated = ratio_of(float(saturation_pressure(coil + ZERO)), P)
        sensible, water, latent, _, _ = coil_exchange(1.0, inlet, w, coil + ZERO, saturated, 0.15, 0.15, 1.0)
        heat = sensible + latent - water * LIQUID * coil
        fans = 3.0 * fan_power((1.0 + w) / float(density(T, w, P)), 150.0, 0.40)
        energy = (heat / cooling_cop(coil + ZERO - 5.0, T + 12.0, 0.40) + fans) / water / 3.6e6
        print(f"{humidity:.0%}: {energy:.2f} kWh/kg with recovery, map {after:.2f}")
        assert energy / before == pytest.approx(after / before, abs=0.05)


def test_frost_narrows_the_gap():
    """0.15 kg/m2 of 300 kg/m3 is 0.5 mm on each side of a 2.5 mm gap: 1.5 mm left, 0.60; here 1/1.4."""
    assert frost_free_share(0.15, 2.5e-3) == pytest.approx(1.0 / 1.4, rel=1e-12)
    assert frost_free_share(0.003, 2.5e-3) == pytest.approx(1.0 - 0.008, abs=1e-4)
    assert frost_free_share(-1.0, 2.5e-3) == 1.0
