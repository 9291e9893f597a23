"""Electricity off the grid: parts against pvlib and hand cases, the battery, the pair that is taken."""

from dataclasses import replace

import numpy as np
import pvlib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.errors import Problem
from welkinwell.supply.cost import default_cost
from welkinwell.supply.power import (
    HOUR,
    KWH,
    OffGridSupply,
    PowerChoices,
    array_power,
    battery_year,
    cell_temperature,
    inverter_input,
    power_prices,
    power_summary,
    read_power,
    size_off_grid,
    yearly_cost,
)

LOSSLESS = OffGridSupply(
    charge_efficiency=1.0, discharge_efficiency=1.0, self_discharge=0.0, depth_of_discharge=1.0,
    charge_rate=10.0 / 3600.0, controller_efficiency=1.0, system_losses=0.0,
)  # fmt: skip
DAY_AND_NIGHT = np.tile(np.repeat([0.0, 100.0, 0.0], [6, 12, 6]), 365)  # W/m2 of modules, by hour


def choices(supply):
    return PowerChoices(supply, power_prices(default_cost()))


def test_cells_as_in_pvlib():
    """Referee: pvlib.temperature.faiman (Faiman2008)."""
    sun, wind = np.array([0.0, 300.0, 1000.0]), np.array([0.0, 1.0, 7.0])
    expected = pvlib.temperature.faiman(sun, 25.0, wind)
    assert cell_temperature(298.15, sun, wind) - 273.15 == pytest.approx(expected, rel=1e-12)


def test_modules_as_in_pvlib():
    """Referee: pvlib.pvsystem.pvwatts_dc and pvwatts_losses' one total (Dobos2014)."""
    supply = OffGridSupply()
    sun, hot = np.array([100.0, 800.0]), np.array([10.0, 60.0])
    expected = pvlib.pvsystem.pvwatts_dc(sun, hot, 200.0, supply.temperature_coefficient)
    expected = expected * (1.0 - supply.system_losses) * supply.controller_efficiency
    assert array_power(sun, hot + 273.15, supply) == pytest.approx(expected, rel=1e-12)


def test_inverter_turned_round_as_in_pvlib():
    """Referee: pvlib.inverter.pvwatts gives back the load from the direct current (Dobos2014)."""
    load = np.array([5.0, 50.0, 400.0, 1000.0])
    taken = inverter_input(load, 1000.0, 0.96, 0.005)
    back = pvlib.inverter.pvwatts(taken, 1000.0 / 0.96, 0.96)
    assert back == pytest.approx(load, rel=1e-3)  # pvlib's reference efficiency has four digits
    assert inverter_input(0.0, 1000.0, 0.96, 0.005) == pytest.approx(5.0)
    assert taken[0] / load[0] > 2.0 > taken[2] / load[2]  # poor at part load


def test_a_night_of_twelve_hours_takes_twelve_hours_of_battery():
    """Hand case: no losses, 100 W all day, sun for twelve hours, 2 m2 and more of 100 W/m2."""
    load = np.full(8760, 100.0)
    enough = battery_year(2.0 * DAY_AND_NIGHT, load, 12.0 * 100.0 * HOUR, LOSSLESS)
    assert enough.short.sum() == pytest.approx(0.0, abs=1.0)
    half = battery_year(4.0 * DAY_AND_NIGHT, load, 6.0 * 100.0 * HOUR, LOSSLESS)
    assert half.short.sum() == pytest.approx(365 * 6 * 100.0 * HOUR, rel=1e-9)


def test_a_battery_at_rest_loses_what_it_says():
    idle = replace(LOSSLESS, self_discharge=0.03)
    kept = battery_year(np.zeros(720), np.zeros(720), 1000.0, idle).stored
    assert kept[-1] / kept[0] == pytest.approx(0.97 ** (719 / 720), rel=1e-9)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.floats(0.5, 5.0), st.floats(0.1, 30.0), st.floats(0.6, 1.0), st.floats(0.6, 1.0), st.integers(0, 9))
def test_the_battery_makes_and_loses_nothing_else(area, hours, into, out, seed):
    rng = np.random.default_rng(seed)
    load, sun = rng.uniform(0.0, 200.0, 8760), area * DAY_AND_NIGHT * rng.uniform(0.0, 2.0, 8760)
    supply = replace(LOSSLESS, charge_efficiency=into, discharge_efficiency=out)
    capacity = hours * 100.0 * HOUR
    ran = battery_year(sun, load, capacity, supply)
    before = np.concatenate([ran.stored[-1:], ran.stored[:-1]])
    moved = ran.stored - before
    came = (sun - load) * HOUR - ran.spilled + ran.short  # what the battery takes (+) or gives (-)
    expected = np.where(moved >= 0.0, moved / into, moved * out)
    assert came[1:] == pytest.approx(expected[1:], abs=1e-4)
    assert np.all(ran.stored >= -1e-6)
    assert np.all(ran.stored <= capacity * (1.0 + 1e-12))
    more = battery_year(sun, load, 1.3 * capacity, supply)
    assert more.short.sum() <= ran.short.sum() * (1.0 + 1e-9) + 1e-3
    wider = battery_year(1.2 * sun, load, capacity, supply)
    assert wider.short.sum() <= ran.short.sum() * (1.0 + 1e-9) + 1e-3


def test_the_pair_taken_meets_the_share_and_none_tried_is_cheaper():
    rng = np.random.default_rng(1)
    made = DAY_AND_NIGHT * np.repeat(rng.uniform(0.3, 1.7, 365), 24)
    load = np.full(8760, 80.0)
    found = size_off_grid(made, load, choices(OffGridSupply(unserved=0.02)), 0.05)
    assert found.unserved_share == pytest.approx(0.02, abs=1e-3)
    assert found.unserved_share <= 0.02
    assert found.unserved_by_month.sum() == pytest.approx(found.unserved.sum())
    areas, batteries = found.curves[0.02]
    assert np.all(np.diff(batteries[np.isfinite(batteries)]) <= 1e-6 * batteries[-1])
    numbers = {name: entry.value for name, entry in found.choices.prices.items()}
    for area, battery in zip(areas, batteries, strict=True):
        if np.isfinite(battery):
            paid = yearly_cost(area, battery, found.inverter, found.choices.supply, numbers, 0.05)
            assert paid >= found.pair.yearly * (1.0 - 1e-12)
    least = size_off_grid(made, load, choices(OffGridSupply(unserved=0.02, choose="least area")), 0.05)
    assert least.pair.area < found.pair.area
    assert least.pair.battery > found.pair.battery
    strict = found.curves[0.001][1]
    both = np.isfinite(strict) & np.isfinite(batteries)
    assert np.all(strict[both] >= batteries[both])
    low, value, high = (found.per_kwh(end) for end in ("low", "value", "high"))
    assert low < value < high


def test_a_pair_as_drawn_is_judged_and_not_changed():
    drawn = OffGridSupply(pv_area=1.0, battery=0.3 * KWH)
    found = size_off_grid(DAY_AND_NIGHT, np.full(8760, 80.0), choices(drawn), 0.05)
    assert (found.pair.area, found.pair.battery, found.sized) == (1.0, 0.3 * KWH, (False, False))
    assert found.unserved_share > 0.2
    assert found.dark.sum() > 0
    half = size_off_grid(DAY_AND_NIGHT, np.full(8760, 80.0), choices(OffGridSupply(battery=2.0 * KWH)), 0.05)
    assert half.pair.battery == 2.0 * KWH
    assert half.unserved_share <= 0.01


def test_no_sun_no_power():
    found = size_off_grid(np.zeros(8760), np.full(8760, 80.0), choices(OffGridSupply()), 0.05)
    assert found.unserved_share > 0.9
    assert power_summary(found)["area_against_battery"][0]["battery_kwh"] == []


def test_a_load_beyond_the_inverter_stays_unserved():
    load = np.full(8760, 80.0)
    load[::24] = 200.0
    found = size_off_grid(
        DAY_AND_NIGHT,
        load,
        choices(OffGridSupply(pv_area=50.0, battery=50.0 * KWH, inverter_power=100.0)),
        0.05,
    )
    assert found.unserved[::24] == pytest.approx(100.0 * HOUR)
    assert found.dark.sum() == 365


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"pv_area": "2 kWh"}, ["[power], pv_area", "'kWh' is the unit of"]),
        ({"batery": "2 kWh"}, ["'batery'", "battery"]),
        ({"depth_of_discharge": 1.5}, ["depth_of_discharge", "from 0.05 to 1"]),
        ({"pv_price": "900 EUR/kW"}, ["money in EUR", "money in USD"]),
        ({"battery_life": "0.1 year"}, ["battery_life", "from 1 year to 60 year"]),
        ("yes", ["a table"]),
    ],
)
def test_what_a_person_reads(table, words):
    problems: list[Problem] = []
    assert read_power(table, "case.toml, [power]", default_cost(), problems) is None
    told = " ".join(str(problem) for problem in problems)
    assert all(word in told for word in words), told


def test_prices_of_the_case_are_taken():
    problems: list[Problem] = []
    table = {"battery_price": ["100 USD/kWh", "200 USD/kWh", "300 USD/kWh"], "pv_area": "3 m2"}
    read = read_power(table, "case.toml, [power]", default_cost(), problems)
    assert problems == []
    assert read.prices["battery_price"].value == 200.0
    assert read.prices["battery_price"].given
    assert not read.prices["pv_price"].given
    assert read.supply.pv_area == 3.0
