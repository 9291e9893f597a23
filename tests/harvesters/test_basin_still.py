"""The basin still: Dunkle's relation, depth, its balance, and that nothing offers it as a harvester."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

import welkinwell as ww
from box_cases import PLACES, WEATHER, site_of
from welkinwell.case import case_from_text
from welkinwell.errors import InputError
from welkinwell.harvesters.basin_still.audit import FLOWS, audited_flows, boundary
from welkinwell.harvesters.basin_still.design import BasinStill
from welkinwell.harvesters.basin_still.flows import BASIN_STILL
from welkinwell.harvesters.kinds import KINDS, LISTED
from welkinwell.limits import solar_bounds
from welkinwell.moist_air import latent_heat, saturation_pressure
from welkinwell.quantities import scale, variables
from welkinwell.simulation import march_year, prepare, simulate
from welkinwell.year import BALANCE_LIMIT, FLOW_LIMIT, Run, audited_balance, figures

KIND = LISTED["basin_still"]
CASE = """
schema_version = 1
[site]
name = "Somewhere"
weather = "{weather}"
[demand]
litres_per_day = "5 L/day"
[[harvester]]
name = "Still"
kind = "basin_still"
"""


@cache
def ran(place, last_hour=None):
    ready = prepare(BasinStill(), None, site_of(place))
    start, result = march_year(ready, tolerance=3e-3, record=True, last_hour=last_hour)
    made = (ready.harvester, ready.design, ready.sorbent, ready.air, site_of(place).climate, start, result)
    return Run("still", *made, "hours", "normal", True)


@pytest.mark.parametrize("place", PLACES)
def test_a_year_closes(place):
    found = audited_balance(ran(place))
    assert abs(found.water_residual_relative) < 1e-9
    assert abs(found.energy_residual_relative) < 1e-9
    assert found.flow_difference < FLOW_LIMIT


@pytest.mark.parametrize("flow", FLOWS)
def test_a_turned_sign_is_noticed(flow):
    number = BASIN_STILL.flow_number(flow)
    water_in, energy_in = boundary()
    run = ran("coast", 720)
    total = np.abs(run.result.flows[:, :, number]).sum()
    assert total > 0.0
    found = audited_balance(run, flip=number)
    assert found.flow_difference > 1000.0 * FLOW_LIMIT
    if total * abs(water_in[number]) > 1e-6 * found.water_scale:
        assert abs(found.water_residual_relative) > BALANCE_LIMIT
    if total * abs(energy_in[number]) > 1e-6 * found.energy_scale:
        assert abs(found.energy_residual_relative) > BALANCE_LIMIT


def dunkle(hot, cold):
    """Vapour over level water under a cooler glass [kg/(m2 s)]; Dunkle's relation, value from memory."""
    below, above = float(saturation_pressure(hot)), float(saturation_pressure(cold))
    heat = 0.884 * ((hot - cold) + (below - above) * hot / (268900.0 - below)) ** (1.0 / 3.0)
    return 0.01628 * heat * (below - above) / float(latent_heat(hot))


def test_vapour_across_the_still_is_near_dunkle_s_relation():
    """Where the relation was made for: water at 40 to 70 degC, a glass 10 to 20 K colder."""
    print(" water  glass    ours  Dunkle's  ratio")
    for hot in (40.0, 50.0, 60.0, 70.0):
        for less in (10.0, 20.0):
            states = np.array([[hot - less + 273.15], [hot + 273.15], [0.1], [20.0]])
            air = np.zeros((9, 1))
            air[:3, 0] = 300.0, 1500.0, 101325.0
            ours = audited_flows(states, air, np.zeros(1), BasinStill(), None, 101325.0)[0, 0]
            theirs = dunkle(hot + 273.15, hot - less + 273.15)
            print(
                f"{hot:6.0f} {hot - less:6.0f} {3600 * ours:7.3f} {3600 * theirs:9.3f} {ours / theirs:6.2f}"
            )
            assert 0.8 < ours / theirs < 1.1


@pytest.mark.parametrize("place", PLACES)
def test_a_deeper_basin_gives_less_and_none_passes_the_latent_heat_of_its_sun(place):
    given, most = [], None
    for depth in (0.01, 0.05, 0.2):
        year = simulate(BasinStill(water_depth=depth), None, site_of(place))
        given.append(figures(year)["litres_per_m2_day"])
        sun = (year["sun_basin"].values + year["sun_glazing"].values).sum() * 3600.0 / year.attrs["days"]
        most = float(solar_bounds.sorption_water(sun, latent_heat(year["temperature"].values.max())))
        assert given[-1] < most
    assert given == sorted(given, reverse=True)
    assert 0.2 < given[0] / most < 0.8


def test_a_leaky_floor_and_a_wide_gap_cost_water():
    site, still = site_of("coast"), BasinStill()
    usual, *worse = (
        figures(simulate(one, None, site, keep="year"))["litres_per_m2_day"]
        for one in (still, replace(still, base_loss=5.0), replace(still, basin_absorptance=0.6))
    )
    assert all(0.0 < less < usual for less in worse)


def test_names_units_and_ranges_are_in_the_table():
    year, table = simulate(BasinStill(), None, site_of("desert")), variables()
    for name, variable in year.data_vars.items():
        row = table[name]
        given, stated = scale(variable.attrs["units"]), scale(row.unit)
        assert given.dimensions == stated.dimensions, name
        # an hour in which drops begin to run may come out a millionth below none
        rounding = 1e-4 * np.nanmax(np.abs(variable.values))
        assert np.nanmin(variable.values) >= row.low * stated.factor / given.factor - rounding, name
        assert np.nanmax(variable.values) <= row.high * stated.factor / given.factor, name


def test_nothing_offers_it_as_a_harvester(tmp_path):
    assert "basin_still" not in KINDS and KIND.from_air is False
    assert KIND.design not in ww.__all__
    text = CASE.format(weather=next(WEATHER.glob("coast*.gz")))
    with pytest.raises(InputError, match="one of 'passive_box'"):
        case_from_text(text, tmp_path / "case.toml")
