"""Moist air against other libraries: CoolProp (real gas), psychrolib (ideal gas), chemicals (IAPWS-95).

Run as a script, this prints every measured misfit (the table in docs/theory/moist_air.md).
"""

import numpy as np
import pytest

import welkinwell.moist_air as air
from welkinwell.constants import MOLAR_MASS_RATIO

CP = pytest.importorskip("CoolProp.CoolProp")
psychrolib = pytest.importorskip("psychrolib")
chemicals = pytest.importorskip("chemicals")

psychrolib.SetUnitSystem(psychrolib.SI)
ZERO = 273.15


def relative(value, reference):
    return float(np.max(np.abs(np.asarray(value) / np.asarray(reference) - 1.0)))


def grid():
    """0 to 80 °C, RH 1 to 100 %, 50 to 102 kPa, vapour below 0.9 of the total."""
    points = [
        (ZERO + max(t, 0.02), rh, p)
        for t in np.arange(0.0, 81.0, 5.0)
        for rh in (0.01, 0.1, 0.3, 0.6, 0.9, 0.94, 1.0)
        for p in (50e3, 60e3, 70e3, 84e3, 95e3, 101325.0, 102e3)
    ]
    temperature, humidity, pressure = np.array(points).T
    kept = humidity * air.saturation_pressure(temperature) < 0.895 * pressure
    return temperature[kept], humidity[kept], pressure[kept]


@pytest.fixture(scope="module")
def states():
    return grid()


def coolprop_ratio(temperature, humidity, pressure):
    return np.array(
        [
            CP.HAPropsSI("W", "T", t, "R", r, "P", p)
            for t, r, p in zip(temperature, humidity, pressure, strict=True)
        ]
    )


def psychrolib_ratio(temperature, humidity, pressure):
    return np.array(
        [
            psychrolib.GetHumRatioFromRelHum(t - ZERO, r, p)
            for t, r, p in zip(temperature, humidity, pressure, strict=True)
        ]
    )


def saturation_misfit():
    temperature = ZERO + np.linspace(0.01, 100.0, 101)
    reference = [chemicals.iapws95_Psat(t) for t in temperature]
    return relative(air.saturation_pressure(temperature), reference)


def test_saturation_pressure_is_iapws_95_within_a_twentieth_of_a_per_cent():
    assert saturation_misfit() < 5e-4


def test_saturation_pressure_stays_with_iapws_95_to_300_celsius():
    temperature = ZERO + np.linspace(100.0, 320.0, 45)
    reference = [CP.PropsSI("P", "T", t, "Q", 0, "Water") for t in temperature]
    assert relative(air.saturation_pressure(temperature), reference) < 5e-4


def latent_misfit():
    temperature = ZERO + np.linspace(0.01, 150.0, 76)
    reference = [
        CP.PropsSI("H", "T", t, "Q", 1, "Water") - CP.PropsSI("H", "T", t, "Q", 0, "Water")
        for t in temperature
    ]
    return relative(air.latent_heat(temperature), reference)


def test_latent_heat_is_iapws_95():
    assert latent_misfit() < 1e-3


def test_enhanced_humidity_ratio_is_the_real_gas_one(states):
    assert relative(air.enhanced_humidity_ratio(*states), coolprop_ratio(*states)) < 1e-3


def test_ideal_humidity_ratio_is_the_ideal_gas_one(states):
    temperature, humidity, pressure = states
    reference = psychrolib_ratio(*states)
    # The two saturation curves differ by up to 0.022 %, which w = e x/(1 - x) stretches by 1/(1 - x).
    # Below x = 0.5 that stays within 0.05 %; above, the formula is held to it with psychrolib's curve.
    share = humidity * air.saturation_pressure(temperature) / pressure
    dry = share < 0.5
    assert relative(air.humidity_ratio(*states)[dry], reference[dry]) < 5e-4
    theirs = humidity * np.array([psychrolib.GetSatVapPres(t - ZERO) for t in temperature])
    assert relative(air.humidity_ratio_from_pressure(theirs, pressure), reference) < 5e-5


def test_the_gap_between_real_and_ideal_gas_is_as_the_docs_say():
    low = air.enhanced_humidity_ratio(298.15, 0.5, 101325.0) / air.humidity_ratio(298.15, 0.5, 101325.0)
    assert low == pytest.approx(1.00428, abs=1e-4)
    temperature, humidity, pressure = grid()
    gap = air.enhanced_humidity_ratio(temperature, humidity, pressure) / air.humidity_ratio(
        temperature, humidity, pressure
    )
    assert gap.min() > 1.0 and gap.max() < 1.015


def dew_misfit(states):
    """Plain against enhanced function, worst distance to CoolProp above 0 °C, and plain to psychrolib."""
    temperature, humidity, pressure = states
    plain = air.dew_point(temperature, humidity)
    enhanced = air.enhanced_dew_point(temperature, humidity, pressure)
    worst = np.zeros(3)
    for t, r, p, simple, full in zip(temperature, humidity, pressure, plain, enhanced, strict=True):
        if simple > ZERO + 0.1:
            real = CP.HAPropsSI("D", "T", t, "R", r, "P", p)
            ideal = psychrolib.GetTDewPointFromRelHum(t - ZERO, r) + ZERO
            worst = np.maximum(worst, np.abs([simple - real, full - real, simple - ideal]))
    return worst


def test_dew_point_is_the_one_of_both_libraries(states):
    plain, enhanced, ideal = dew_misfit(tuple(column[::3] for column in states))
    assert enhanced < 0.03
    assert ideal < 0.03
    # without the factor: it does not cancel between an air of 80 °C and its dew point
    assert plain < 0.07


def wet_bulb_misfit(states):
    """As dew_misfit; states whose wet bulb CoolProp puts on ice are left out."""
    temperature, humidity, pressure = states
    plain = air.wet_bulb(temperature, humidity, pressure)
    enhanced = air.enhanced_wet_bulb(temperature, humidity, pressure)
    worst = np.zeros(3)
    for t, r, p, simple, full in zip(temperature, humidity, pressure, plain, enhanced, strict=True):
        real = CP.HAPropsSI("B", "T", t, "R", r, "P", p)
        if simple > ZERO and real > ZERO:
            ideal = psychrolib.GetTWetBulbFromRelHum(t - ZERO, r, p) + ZERO
            worst = np.maximum(worst, np.abs([simple - real, full - real, simple - ideal]))
    return worst


def test_wet_bulb_is_the_one_of_both_libraries(states):
    plain, enhanced, ideal = wet_bulb_misfit(tuple(column[::5] for column in states))
    assert enhanced < 0.05
    assert ideal < 0.05
    assert plain < 0.06


def ice_bulb_misfit():
    worst = 0.0
    for t in (-25.0, -15.0, -5.0, -1.0):
        for over_ice in (0.2, 0.5, 0.8, 1.0):
            for p in (70e3, 101325.0):
                liquid = over_ice * air.ice_saturation_pressure(ZERO + t) / air.saturation_pressure(ZERO + t)
                mine = air.ice_bulb(ZERO + t, liquid, p)
                worst = max(worst, abs(CP.HAPropsSI("B", "T", ZERO + t, "R", over_ice, "P", p) - mine))
    return worst


def test_ice_bulb_is_the_frozen_wet_bulb_of_coolprop():
    # CoolProp and psychrolib mean humidity over ice below 0 °C; ours is over liquid, so convert
    assert ice_bulb_misfit() < 0.05


def frost_misfit():
    worst = 0.0
    for t in (-25.0, -10.0, -2.0):
        for over_ice in (0.3, 0.9):
            liquid = over_ice * air.ice_saturation_pressure(ZERO + t) / air.saturation_pressure(ZERO + t)
            reference = CP.HAPropsSI("D", "T", ZERO + t, "R", over_ice, "P", 101325.0)
            worst = max(worst, abs(reference - air.frost_point(ZERO + t, liquid)))
    return worst


def test_frost_point_is_the_dew_point_of_coolprop_below_freezing():
    assert frost_misfit() < 0.03


def volume_misfit(states):
    temperature, humidity, pressure = (column[::3] for column in states)
    ratio = coolprop_ratio(temperature, humidity, pressure)
    mine = (1.0 + ratio) / air.density(temperature, ratio, pressure)
    reference = [
        CP.HAPropsSI("Vda", "T", t, "W", w, "P", p)
        for t, w, p in zip(temperature, ratio, pressure, strict=True)
    ]
    return relative(mine, reference), ratio


def test_density_is_the_real_gas_one(states):
    # an ideal gas: compressibility of vapour near its saturation at 80 °C is what remains
    assert volume_misfit(states)[0] < 1e-2
    thin = tuple(
        column[states[1] * air.saturation_pressure(states[0]) < 0.05 * states[2]] for column in states
    )
    assert volume_misfit(thin)[0] < 1e-3


def enthalpy_misfit(states):
    temperature, humidity, pressure = (column[::3] for column in states)
    ratio = coolprop_ratio(temperature, humidity, pressure)
    reference = np.array(
        [
            CP.HAPropsSI("Hda", "T", t, "W", w, "P", p)
            for t, w, p in zip(temperature, ratio, pressure, strict=True)
        ]
    )
    missed = np.abs(air.enthalpy(temperature, ratio) - reference)
    return float(np.max(missed / np.maximum(500.0, 0.005 * np.abs(reference))))


def test_enthalpy_is_within_half_a_kilojoule_or_half_a_per_cent(states):
    assert enthalpy_misfit(states) < 1.0


def transport_misfit(reference):
    worst = {"mu": 0.0, "k": 0.0}
    for t in np.arange(0.01, 81.0, 10.0):
        for rh in (0.0, 0.3, 0.6, 0.9):
            ratio = air.humidity_ratio(ZERO + t, rh, 101325.0)
            for key, function in (("mu", air.viscosity), ("k", air.conductivity)):
                expected = reference(key, ZERO + t, rh)
                worst[key] = max(worst[key], float(abs(function(ZERO + t, ratio) / expected - 1.0)))
    return worst


def humid_air(key, temperature, humidity):
    return CP.HAPropsSI(key, "T", temperature, "P", 101325.0, "R", humidity)


def wilke_air(key, temperature, humidity):
    """Wilke and Mason-Saxena on CoolProp's pure air and pure vapour at the air's own temperature."""
    share = humidity * air.saturation_pressure(temperature) / 101325.0
    air_mass, water_mass = 28.966, 18.015268
    name = "V" if key == "mu" else "L"
    dry, vapour = (
        CP.PropsSI(name, "T", temperature, "P", 101325.0, "Air"),
        CP.PropsSI(name, "T", temperature, "Q", 1, "Water"),
    )
    ratio = CP.PropsSI("V", "T", temperature, "P", 101325.0, "Air") / CP.PropsSI(
        "V", "T", temperature, "Q", 1, "Water"
    )
    first = (1 + ratio**0.5 * (water_mass / air_mass) ** 0.25) ** 2 / (8 * (1 + air_mass / water_mass)) ** 0.5
    second = (1 + ratio**-0.5 * (air_mass / water_mass) ** 0.25) ** 2 / (
        8 * (1 + water_mass / air_mass)
    ) ** 0.5
    return (1 - share) * dry / (1 - share + share * first) + share * vapour / (share + (1 - share) * second)


def test_transport_of_dry_air_is_within_one_per_cent():
    for t in np.arange(-30.0, 101.0, 10.0):
        for key, function in (("V", air.viscosity), ("L", air.conductivity)):
            expected = CP.PropsSI(key, "T", ZERO + t, "P", 101325.0, "Air")
            assert function(ZERO + t, 0.0) == pytest.approx(expected, rel=0.01)


def test_transport_of_humid_air_is_within_two_per_cent_of_the_mixing_rule():
    worst = transport_misfit(wilke_air)
    assert worst["mu"] < 0.02 and worst["k"] < 0.02


def test_transport_of_humid_air_is_near_coolprops():
    # CoolProp's humid air takes the vapour's own values at the boiling point of the total pressure
    # (100 °C at sea level), not at the temperature of the air: up to 2.1 % and 3.4 % higher than ours.
    worst = transport_misfit(humid_air)
    assert worst["mu"] < 0.025 and worst["k"] < 0.04


def liquid_misfits():
    temperature = ZERO + np.linspace(0.01, 100.0, 41)
    return {
        name: relative(function(temperature), [CP.PropsSI(key, "T", t, "Q", 0, "Water") for t in temperature])
        for name, key, function in (
            ("density", "D", air.liquid_density),
            ("specific heat", "C", air.liquid_specific_heat),
            ("viscosity", "V", air.liquid_viscosity),
            ("conductivity", "L", air.liquid_conductivity),
        )
    }


def test_liquid_water_is_the_iapws_one():
    misfits = liquid_misfits()
    assert misfits["density"] < 1e-3
    assert misfits["specific heat"] < 1e-3
    assert misfits["viscosity"] < 2e-3
    assert misfits["conductivity"] < 2e-3


def test_standard_atmosphere_is_psychrolibs():
    for z in (0.0, 500.0, 1555.0, 3000.0, 5000.0):
        assert air.pressure_at_altitude(z) == pytest.approx(psychrolib.GetStandardAtmPressure(z), rel=1e-9)


def enhancement_misfit():
    worst = 0.0
    for t in (0.02, 20.0, 40.0, 60.0):
        for p in (84e3, 101325.0):
            ratio = CP.HAPropsSI("W", "T", ZERO + t, "R", 1.0, "P", p)
            partial = p * ratio / (MOLAR_MASS_RATIO + ratio)
            factor = partial / CP.PropsSI("P", "T", ZERO + t, "Q", 0, "Water")
            worst = max(worst, abs(air.enhancement_factor(ZERO + t, p) - factor))
    return worst


def test_enhancement_factor_is_the_real_gas_one():
    assert enhancement_misfit() < 1e-4


def print_misfits():
    """Print what the docs page quotes."""
    states = grid()
    temperature, humidity, pressure = states
    share = humidity * air.saturation_pressure(temperature) / pressure
    real, ideal = coolprop_ratio(*states), psychrolib_ratio(*states)
    mine, enhanced = air.humidity_ratio(*states), air.enhanced_humidity_ratio(*states)
    print(f"states {len(temperature)}, vapour share up to {share.max():.3f}")
    print(f"saturation pressure, 0 to 100 C, to IAPWS-95: {saturation_misfit():.2e}")
    print(f"latent heat, 0 to 150 C, to IAPWS-95: {latent_misfit():.2e}")
    print(f"humidity ratio with enhancement, to real gas: {relative(enhanced, real):.2e}")
    for low, high in ((0.0, 0.1), (0.1, 0.5), (0.5, 0.8), (0.8, 0.9)):
        part = (share >= low) & (share < high)
        print(
            f"  share {low} to {high}: ideal to psychrolib {relative(mine[part], ideal[part]):.2e},"
            f" ideal to real gas {relative(mine[part], real[part]):.2e},"
            f" enhanced to real gas {relative(enhanced[part], real[part]):.2e}"
        )
    print("dew point above 0 C, plain to real, enhanced to real, plain to ideal [K]:", dew_misfit(states))
    print("wet bulb above 0 C, the same [K]:", wet_bulb_misfit(states))
    print(f"ice bulb to real gas: {ice_bulb_misfit():.4f} K; frost point {frost_misfit():.4f} K")
    print(f"volume per dry air to real gas: {volume_misfit(states)[0]:.2e}")
    print(f"enthalpy, in units of the tolerance (0.5 kJ/kg or 0.5 %): {enthalpy_misfit(states):.2f}")
    print(f"transport to the mixing rule {transport_misfit(wilke_air)}")
    print(f"transport to CoolProp's humid air {transport_misfit(humid_air)}")
    print(f"liquid water {liquid_misfits()}")
    print(f"enhancement factor {enhancement_misfit():.2e}")


if __name__ == "__main__":
    print_misfits()
