"""What a passive box must do whatever its numbers: hand estimates, bounds, and what moves which way."""

import math
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from benchmarks.made_up_weather import ready_in
from benchmarks.what_it_shows import altitude_net, altitude_terms, condenser_rest, flat_bed_uptake
from scipy.optimize import brentq, fsolve

from box_cases import SIGMA, SILICA, box, flows_at, named, numbers_of, site_of, steady_air
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.operation import Schedule
from welkinwell.harvesters.passive_box.audit import audited_stocks
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX
from welkinwell.moist_air import saturation_pressure
from welkinwell.numerics.march import MarchState
from welkinwell.simulation import march_year, prepare, simulate
from welkinwell.sorbents.potential import potential_at_loading
from welkinwell.sorbents.sorbent import sheet_names, sorbent

LATENT = 2.4535e6
PERIOD = (24 * 30, 24 * 90)  # sixty days of a southern summer at the coast


def always(ready, mode):
    return replace(ready, plan=Schedule(np.array([0.0]), np.array([mode])))


def begin(ready, y, mode):
    """A march state from unknowns."""
    y = np.asarray(y, float)
    U, S = np.zeros(9), np.zeros((9, 9))
    A = potential_at_loading(ready.row, y[3], y[1], 3000.0)
    PASSIVE_BOX.fill_stocks(y, ready.numbers, ready.row, A, U, S)
    return MarchState(U, y.copy(), A, mode, 1e9)


def total(result, name):
    return float(result.flows[:, :, PASSIVE_BOX.flow_number(name)].sum())


def litres(design, material=None, climate=None):
    site = site_of("coast") if climate is None else climate
    ready = prepare(design, material or sorbent(SILICA), site)
    _, result = march_year(ready, tolerance=1e-4, keep="year", first_hour=PERIOD[0], last_hour=PERIOD[1])
    return total(result, "collected") + total(result, "glazing_drained")


@cache
def starter_year():
    return simulate(box(), sorbent(SILICA), site_of("coast"), audit=False)


# Uptake at night


@pytest.mark.parametrize("key", sheet_names())
@pytest.mark.parametrize(("wind", "expected"), [(1.0, 0.67), (2.0, 1.02), (4.0, 1.71)])
def test_a_flat_open_bed_takes_what_its_boundary_layer_lets_through(key, wind, expected):
    """20 C, air at 40 %, surface at 20 %, 10 h: worked out from the boundary layer alone, h = 2.8 + 3 V and
    h_m = h/(rho cp Le^(2/3)), before this project; the same for every sorbent."""
    assert flat_bed_uptake(wind, sorbent(key)) == pytest.approx(expected, rel=0.15)


def test_ten_hours_in_steady_air_by_the_whole_march():
    """The same bed marched with a sorbent that stays dry at its surface for ten hours: at least the figure
    for a surface at 20 % (1.02 kg/m2 at 2 m/s), at most twice it, which is what a surface at 0 % would take
    (less, since the heat of sorption warms the bed)."""
    material = sorbent("zeolite_13x")
    fast = replace(material, row=material.adjusted_row(rate_factor=30.0))
    design = box(tilt=0.0, bed_area=1.0, bed_effectiveness=1.0, sorbent_mass=20.0, layer_thickness=1e-4)
    full = float(saturation_pressure(293.15))
    air = steady_air(1, T=293.15, vapour=0.4 * full, wind=2.0, pressure=101325.0)
    ready = always(ready_in(design, fast, air), 1)
    dry = float(material.pressure(293.15, 0.1))
    y = [293.15, 293.15, 293.15, 0.1, 0, 0, 0, dry, 0.4 * full]
    _, result = march_year(ready, tolerance=1e-4, last_hour=10, start=begin(ready, y, 1))
    assert 1.02 < total(result, "air_to_bed") < 2.0 * 1.02


def test_without_moving_air_little_is_taken_up():
    """By conduction alone next to nothing: 0.5 against 2.8 + 3 x 1 W/(m2 K) takes 0.5/5.8 of what 1 m/s
    brings, 0.058 kg/m2. In a year the warm bed stirs its own air, and loses less than half."""
    numbers, row = numbers_of(box(tilt=0.0, bed_area=1.0, bed_effectiveness=1.0, wind_constant=0.5))
    full = float(saturation_pressure(293.15))
    y = [293.15] * 3 + [0.1, 0, 0, 0, 0.2 * full, 0.4 * full]
    air = [293.15, 0.4 * full, 101325.0, 0.0, 400.0, 0, 0, 0, 0]
    flow = named(flows_at(y, air, 1, numbers._replace(layer_resistance=0.0), row)[0])["air_to_bed"]
    assert 36000.0 * flow == pytest.approx(0.67 * 0.5 / 5.8, rel=0.15)
    still = simulate(
        box(shelter=0.0, wind_constant=0.5), sorbent(SILICA), site_of("coast"), keep="year", audit=False
    )
    share = float(still["water_taken_up"].sum() / starter_year()["water_taken_up"].sum())
    print(f"a year without wind takes up {100 * share:.0f} %")
    assert 0.5 < share < 0.9


def test_an_open_bed_comes_to_rest_at_its_isotherm():
    """Twenty days of steady air: the loading is the sheet's own at the air's humidity."""
    material = sorbent(SILICA)
    ready = always(ready_in(box(cover_opens=True), material, steady_air(20)), 1)
    y = [290.0, 300.0, 300.0, 0.05, 0, 0, 0, 500.0, 500.0]
    _, result = march_year(ready, tolerance=1e-3, start=begin(ready, y, 1))
    humidity = 1500.0 / float(saturation_pressure(300.0))
    assert result.state.y[3] == pytest.approx(float(material.loading(300.0, humidity)), rel=1e-4)
    assert result.state.y[:3] == pytest.approx([300.0] * 3, abs=1e-3)


# Release and condensation by day


def test_more_release_warms_the_condenser_by_what_a_hand_estimate_says():
    """0.2 kg/(m2 h) more: 5.56e-5 x 2.47e6 = 137 W/m2 more, over what the condenser loses per kelvin.

    By hand at 40 C and 2 m/s: outside 8.8 x 3 x 0.85 = 22.4 (a little more with free convection), sky and
    ground 0.85 x 6.9 = 5.9, back to the bed 0.5 x 8.4 and 0.027/0.06: 4.7; together 33 W/(m2 K): 4.2 K.
    """
    rise = condenser_rest(0.5 / 3600.0) - condenser_rest(0.3 / 3600.0)
    assert rise == pytest.approx(4.2, rel=0.1)
    assert condenser_rest(0.3 / 3600.0) > condenser_rest(0.1 / 3600.0) > 303.15


@pytest.mark.parametrize(
    ("potential", "condenser", "bed"),
    # The bed temperature [C] at which a loading of this potential [J/mol] just meets a condenser [C]:
    # RT ln(p_sat(T)/p_sat(Tc)) = A, worked out with IAPWS saturation apart from this code
    [(2500, 20, 36.7), (4200, 30, 59.4), (6300, 40, 86.3), (4200, 20, 48.2), (6300, 30, 74.4)],
)
def test_condensation_stops_where_the_beds_pressure_meets_the_condensers(potential, condenser, bed):
    def condensed(bed_celsius):
        numbers, row = numbers_of(box(leak=0.0), pressure=101325.0)
        T = bed_celsius + 273.15
        ps = float(saturation_pressure(T)) * math.exp(-potential / (8.314462618 * T))
        air = [303.15, 1500.0, 101325.0, 1.0, 400.0, 0, 0, 0, 0]

        def kept(pv):
            y = [310.0, T, condenser + 273.15, 0.2, 0, 0, 0.0, ps, pv]
            f = named(flows_at(y, air, 0, numbers, row)[0])
            return -f["gap_to_bed"] - f["condensation"], f["condensation"]

        pv = brentq(lambda p: kept(p)[0], 0.5 * ps, 2.0 * ps)
        return kept(pv)[1]

    assert condensed(bed - 0.5) == pytest.approx(0.0, abs=1e-12)
    assert condensed(bed + 0.5) > 1e-7


def hollands(rayleigh, tilt):
    """Hollands1976, written once more."""
    x = 1708.0 / (rayleigh * math.cos(tilt))
    first = max(1.0 - x, 0.0) * (1.0 - 1708.0 * math.sin(1.8 * tilt) ** 1.6 / (rayleigh * math.cos(tilt)))
    return 1.0 + 1.44 * first + max((rayleigh * math.cos(tilt) / 5830.0) ** (1.0 / 3.0) - 1.0, 0.0)


def test_dry_stagnation_by_hand():
    """A box with next to no sorbent in steady sun, closed: its three heat balances written out and solved
    apart from the model (gap by Hollands1976, wind by Watmuff1977, free convection by Walton1983)."""
    Ta, V, sun, P = 298.15, 1.5, 900.0, 101325.0
    design = box(sorbent_mass=0.01, leak=0.0, vent_temperature=500.0)
    air = steady_air(4, T=Ta, vapour=5.0, wind=V, sun=sun, sky=330.0, pressure=P)
    ready = always(ready_in(design, sorbent(SILICA), air), 0)
    _, result = march_year(ready, tolerance=1e-4)
    tilt = design.tilt

    def conductivity(T):
        return 0.02436 + 7.34e-5 * (T - 273.15)

    def outer(T, c_hot, c_cold):
        c = c_hot if T > Ta else c_cold
        rise = T - Ta
        return ((2.8 + 3.0 * V) ** 3 + c**3 * rise**2 / math.sqrt(rise**2 + 1.0)) ** (1.0 / 3.0) * rise

    up, down = 9.482 / (7.283 - math.cos(tilt)), 1.810 / (1.382 + math.cos(tilt))

    def balances(x):
        Tg, Tb, Tc = x
        mean = 0.5 * (Tg + Tb)
        viscosity, k = 1.7218e-5 + 4.72e-8 * (mean - 273.15), conductivity(mean)
        density = P / (287.04 * mean)
        rayleigh = 9.80665 * (Tb - Tg) / mean * 0.06**3 * density**2 * 1006.0 / (viscosity * k)
        to_glass = hollands(rayleigh, tilt) * k / 0.06 * (Tb - Tg)
        to_glass += SIGMA * (Tb**4 - Tg**4) / (1 / 0.15 + 1 / 0.88 - 1)
        to_metal = conductivity(0.5 * (Tb + Tc)) / 0.06 * (Tb - Tc) + 0.5 * SIGMA * (Tb**4 - Tc**4)
        seen = 0.5 * (1 + math.cos(tilt))
        from_glass = outer(Tg, up, down) + 0.88 * (SIGMA * Tg**4 - seen * 330.0 - (1 - seen) * SIGMA * Ta**4)
        from_metal = 2.55 * outer(Tc, down, up) + 0.85 * (SIGMA * Tc**4 - 0.07 * 330.0 - 0.93 * SIGMA * Ta**4)
        return [
            0.03 * sun + to_glass - from_glass,
            0.8 * sun - to_glass - to_metal - 0.6 * (Tb - Ta),
            0.03 * sun + to_metal - from_metal,
        ]

    expected = fsolve(balances, [330.0, 420.0, 315.0], xtol=1e-12)
    assert result.state.y[:3] == pytest.approx(expected, abs=0.1)
    assert 363.0 < expected[1] < 423.0  # 90 to 150 C, common for a dry plate under one glass


# What is kept, what is lost


def test_a_sealed_dark_box_keeps_its_water():
    design = box(leak=0.0, vent_air_changes=0.0)
    ready = always(ready_in(design, sorbent(SILICA), steady_air(10, sky=280.0)), 0)
    y = [300.0, 350.0, 300.0, 0.25, 0.05, 0.0, 0.02, 9000.0, 3000.0]
    start = begin(ready, y, 0)
    _, result = march_year(ready, tolerance=1e-3, start=start)
    before = audited_stocks(start.y, design, ready.sorbent)["water"]
    after = audited_stocks(result.state.y, design, ready.sorbent)["water"]
    assert after + total(result, "collected") + total(result, "bed_runoff") == pytest.approx(
        before, rel=1e-10
    )


def test_frost_stays_and_thaws():
    """Closed and tight: no drop runs from a condenser at -10 C; when the air warms to 10 C it does."""
    design = box(leak=0.0, condenser_holdup=0.02)
    air = steady_air(4, T=263.15, vapour=150.0)
    air.nodes[96:, 0] = 283.15
    air.nodes[96:, 4] = SIGMA * 283.15**4
    ready = always(ready_in(design, sorbent(SILICA), air), 0)
    start = begin(ready, [263.15] * 3 + [0.1, 0.0, 0.0, 0.3, 20.0, 20.0], 0)
    _, cold = march_year(ready, tolerance=1e-3, last_hour=47, start=start)
    assert total(cold, "collected") < 1e-6
    assert cold.state.y[6] > 0.15  # some has gone to the drier bed
    _, warm = march_year(ready, tolerance=1e-3, start=start)
    assert total(warm, "collected") > 0.1


def test_litres_stay_below_what_sun_sorbent_and_air_can_give():
    """Latent heat of what is collected is below the sun on the plane (by far); a day's litres are below the
    bed's largest swing; what condenses was taken up; second-law efficiency below 1."""
    year = starter_year()
    collected = year["water_collected"].values.reshape(365, 24).sum(axis=1)
    sun = year["sun_on_plane"].values.reshape(365, 24).sum(axis=1) * 3600.0
    assert collected.sum() * LATENT < 0.5 * sun.sum()
    swing = float(year["loading"].max() - year["loading"].min())
    assert collected.max() < 8.0 * swing + 0.1
    assert collected.sum() < float(year["water_taken_up"].sum()) * (1 + 1e-9)
    assert float(year["water_condensed"].sum()) >= collected.sum() - 0.2


# What moves which way


def test_a_larger_condenser_never_gives_fewer_litres():
    found = [litres(box(condenser_outer_area=a)) for a in (1.2, 2.0, 3.0, 4.5, 7.0)]
    print("litres over sixty days by condenser area:", np.round(found, 2))
    assert all(more > 0.999 * less for less, more in pairwise(found))
    assert found[-1] > found[0]


def test_more_vapour_in_the_air_never_gives_fewer_litres():
    found = []
    climate = site_of("coast").climate
    full = saturation_pressure(climate["temperature"].values)
    for factor in (0.7, 0.85, 1.0, 1.1, 1.2):
        vapour = np.minimum(climate["vapour_pressure"].values * factor, full)
        found.append(litres(box(), climate=surroundings(climate.assign(vapour_pressure=("time", vapour)))))
    print("litres over sixty days by vapour pressure:", np.round(found, 2))
    assert all(more > 0.999 * less for less, more in pairwise(found))
    assert found[-1] > 1.05 * found[0]


def test_each_altitude_term_moves_as_physics_says():
    """70 kPa against 101.325 at equal temperature and vapour pressure.

    Diffusivity as 1/p: 1.4475. Density, and so the heat that the leak carries, as p: 0.6909. The Rayleigh
    number falls as the square of density, so the gap convects less. Across a still gap the mass coefficient
    rises as 1/p. What wind takes falls as Re, 0.6909, what buoyancy takes as Ra^(1/3), 0.6909^(2/3) = 0.7815.
    At the open bed in 1 m/s that makes (2.8 x 0.7815 + 3.0 x 0.6909)/5.8 = 0.7346 for heat, and over density,
    by Lewis, 1.0634 for mass. Stefan's factor adds a little. The vapour in the gap does not know.
    """
    term = altitude_terms()
    assert term["diffusivity"] == pytest.approx(101325 / 70000, rel=1e-12)
    assert term["heat carried by the leak"] == pytest.approx(70000 / 101325, rel=1e-12)
    assert term["vapour carried by the leak"] == 1.0
    assert 0.5 < term["gap convection over conduction"] < 0.95
    assert 0.691 < term["cover convection"] < 1.0
    assert term["condenser cooled by wind"] == pytest.approx(0.6909, rel=1e-3)
    assert term["condenser cooled by buoyancy"] == pytest.approx(0.7815, rel=1e-3)
    assert 0.6909 < term["condenser cooled by wind of 1 m/s and buoyancy"] < 0.7815
    assert 1.0634 < term["uptake of the open bed"] < 1.0734
    assert 1.4475 < term["condensation across the still gap"] < 1.55


def test_the_net_of_altitude_is_more_water():
    """Less dense air: more through the gap and the layer, less heat to the glass; a warmer condenser."""
    found = altitude_net(site_of("coast"))
    print(found)
    assert found["at 70 kPa"] > found["as it is"]
