"""Transport, liquid water and altitude against printed values; slopes against differences."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.constants import FREEZING_POINT
from welkinwell.moist_air import altitude as alt
from welkinwell.moist_air import humidity as hum
from welkinwell.moist_air import liquid_water as water
from welkinwell.moist_air import transport as tra

ZERO = FREEZING_POINT
STEADY = settings(deadline=None, derandomize=True, max_examples=200)
ANY = st.floats(allow_nan=False, allow_infinity=False)

# t [°C], viscosity [Pa s], conductivity [W/(m K)], density [kg/m3] of dry air at 101.325 kPa: CoolProp 8.0.0
DRY_AIR = [
    (0.0, 1.7218e-5, 0.02436, 1.2931),
    (20.0, 1.8206e-5, 0.02587, 1.2046),
    (40.0, 1.9165e-5, 0.02735, 1.1275),
    (60.0, 2.0099e-5, 0.02880, 1.0597),
    (80.0, 2.1009e-5, 0.03023, 0.9995),
]


@pytest.mark.parametrize(("celsius", "viscosity", "conductivity", "density"), DRY_AIR)
def test_printed_dry_air(celsius, viscosity, conductivity, density):
    t = ZERO + celsius
    assert tra.viscosity(t, 0.0) == pytest.approx(viscosity, rel=1e-3)
    assert tra.conductivity(t, 0.0) == pytest.approx(conductivity, rel=1e-3)
    assert hum.density(t, 0.0, 101325.0) == pytest.approx(density, rel=1e-3)


# t [°C], D [m2/s] by Massman, Marrero-Mason, Fuller, Bolz-Tuve
DIFFUSIVITY = [
    (0, 2.178e-5, 2.090e-5, 2.148e-5, 2.181e-5),
    (20, 2.475e-5, 2.419e-5, 2.431e-5, 2.459e-5),
    (25, 2.552e-5, 2.505e-5, 2.504e-5, 2.530e-5),
    (40, 2.789e-5, 2.774e-5, 2.728e-5, 2.749e-5),
    (60, 3.120e-5, 3.153e-5, 3.040e-5, 3.053e-5),
    (80, 3.467e-5, 3.558e-5, 3.367e-5, 3.370e-5),
]


@pytest.mark.parametrize("row", DIFFUSIVITY)
def test_diffusivity_is_massmans_and_within_five_per_cent_of_the_others(row):
    celsius, massman, *others = row
    mine = tra.vapour_diffusivity(ZERO + celsius, 101325.0)
    assert mine == pytest.approx(massman, rel=5e-4)
    for other in others:
        assert mine == pytest.approx(other, rel=0.05)


def test_diffusivity_goes_as_one_over_pressure():
    assert tra.vapour_diffusivity(300.0, 5e4) == pytest.approx(2.0 * tra.vapour_diffusivity(300.0, 1e5))


def test_lewis_number_of_vapour_in_air():
    # k/(rho c_p) over D at 25 °C is 0.86 (from the same printed properties)
    ratio = tra.thermal_diffusivity(298.15, 0.0, 101325.0) / tra.vapour_diffusivity(298.15, 101325.0)
    assert ratio == pytest.approx(0.86, abs=0.01)


def test_specific_heat_of_the_mixture():
    w = 0.0201734
    h = 1e-3
    slope = (hum.enthalpy(298.15 + h, w) - hum.enthalpy(298.15 - h, w)) / (2 * h)
    assert tra.specific_heat(w) * (1.0 + w) == pytest.approx(slope, rel=1e-8)


# t [°C], density [kg/m3], specific heat [kJ/(kg K)]: IAPWS-95 along saturation, CoolProp 8.0.0
LIQUID = [
    (0.01, 999.79, 4.2199),
    (5, 999.92, 4.2055),
    (10, 999.66, 4.1955),
    (20, 998.16, 4.1844),
    (25, 997.00, 4.1816),
    (40, 992.18, 4.1796),
    (60, 983.16, 4.1851),
    (80, 971.77, 4.1969),
    (100, 958.35, 4.2157),
    (120, 943.11, 4.2435),
    (150, 917.01, 4.3071),
]


@pytest.mark.parametrize(("celsius", "density", "heat"), LIQUID)
def test_printed_liquid_water(celsius, density, heat):
    assert water.liquid_density(ZERO + celsius) == pytest.approx(density, rel=3e-4)
    assert water.liquid_specific_heat(ZERO + celsius) == pytest.approx(heat * 1e3, rel=1e-3)


def test_water_at_25_celsius_of_the_iapws_release():
    # IAPWS SR6-08 table of check values, value from memory: 298.15 K, 890.02e-6 Pa s and 0.6065 W/(m K)
    assert water.liquid_viscosity(298.15) == pytest.approx(890.02e-6, rel=1e-3)
    assert water.liquid_conductivity(298.15) == pytest.approx(0.6065, rel=2e-3)


def test_water_is_densest_at_four_celsius():
    assert water.liquid_density(ZERO + 3.98) > max(
        water.liquid_density(ZERO + 3.0), water.liquid_density(ZERO + 5.0)
    )


# psychrolib 2.5.0
ATMOSPHERE = [
    (0, 101325.0),
    (500, 95460.8),
    (1000, 89874.5),
    (1500, 84555.9),
    (2000, 79495.1),
    (3000, 70108.4),
]


@pytest.mark.parametrize(("altitude", "pressure"), ATMOSPHERE)
def test_printed_atmosphere(altitude, pressure):
    assert alt.pressure_at_altitude(altitude) == pytest.approx(pressure, rel=1e-5)
    assert alt.altitude_at_pressure(alt.pressure_at_altitude(altitude)) == pytest.approx(altitude, abs=1e-6)


def test_carried_pressure_follows_the_standard_atmosphere_over_a_short_way():
    # standard atmosphere: 15 °C at sea level, 6.5 K/km; mean of the first 200 m is 14.35 °C
    carried = alt.carried_pressure(101325.0, ZERO + 14.35, 0.0, 200.0)
    assert carried == pytest.approx(alt.pressure_at_altitude(200.0), rel=1e-4)
    assert alt.carried_pressure(carried, ZERO + 14.35, 200.0, 0.0) == pytest.approx(101325.0, rel=1e-12)


@STEADY
@given(ANY, ANY, ANY)
def test_never_nan_and_never_negative(a, b, c):
    for function in (tra.viscosity, tra.conductivity):
        value = function(a, b)
        assert math.isfinite(value) and value > 0.0
    assert tra.vapour_diffusivity(a, b) > 0.0
    assert tra.thermal_diffusivity(a, min(max(b, -1e6), 1e6), c) > 0.0
    for function in (
        water.liquid_density,
        water.liquid_specific_heat,
        water.liquid_viscosity,
        water.liquid_conductivity,
        alt.pressure_at_altitude,
    ):
        assert math.isfinite(function(a)) and function(a) > 0.0
    assert math.isfinite(alt.altitude_at_pressure(a))
    scaled = [max(-1e9, min(1e9, x)) for x in (a, b, c)]
    assert math.isfinite(alt.carried_pressure(scaled[0], scaled[1], scaled[2], 0.0))
