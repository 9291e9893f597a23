"""A harvester off the grid: its modules against pvlib's chain, its hours without power, its words."""

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pvlib
import pytest

from box_cases import WEATHER
from welkinwell.case import case_from_text, explained
from welkinwell.climate import read_climate
from welkinwell.errors import InputError
from welkinwell.harvesters.air import surroundings
from welkinwell.plants.one_plant import plant_of
from welkinwell.plants.plant import Plant
from welkinwell.plants.prices import own_figures
from welkinwell.simulation import simulate
from welkinwell.studies.off_grid import (
    cost_off_grid,
    made_by_modules,
    off_grid,
    off_grid_warnings,
    own_power,
)
from welkinwell.supply.power import OffGridSupply
from welkinwell.year import figures

PLACE = next(WEATHER.glob("coast*.gz"))
CASE = f"""
schema_version = 1
[site]
name = "Somewhere"
weather = "{PLACE.name}"
[demand]
litres_per_day = "20 L/day"
[[harvester]]
name = "Machine"
kind = "cooling_coil"
[[harvester]]
name = "Sheet"
kind = "dew_condenser"
"""


def case_with(*tables):
    return case_from_text("\n".join([CASE, *tables]), PLACE.parent / "case.toml")


@cache
def site():
    return surroundings(read_climate(PLACE))


@cache
def machine_year():
    entry = case_with().harvesters[0]
    return simulate(entry.design, None, site(), audit=False)


def test_modules_agree_with_pvlib_s_own_chain():
    """Referee: pvlib (Hay and Davies, physical modifier with its own diffuse integrals, Faiman, PVWatts)."""
    supply, climate = OffGridSupply(), site().climate
    ours = made_by_modules(site(), supply)
    attrs = climate.attrs
    times = pd.DatetimeIndex(climate["time"].values).tz_localize("UTC")
    place = pvlib.location.Location(
        attrs["latitude"], attrs["longitude"], altitude=attrs.get("elevation", 0.0)
    )
    sun = place.get_solarposition(times + np.timedelta64(30, "m"))
    azimuth = 0.0 if attrs["latitude"] < 0 else 180.0
    zenith = sun["apparent_zenith"].values
    total = pvlib.irradiance.get_total_irradiance(
        30.0, azimuth, zenith, sun["azimuth"].values, climate["dni"].values, climate["ghi"].values,
        climate["dhi"].values, dni_extra=pvlib.irradiance.get_extra_radiation(np.asarray(times.day_of_year)),
        model="haydavies", albedo=0.2,
    )  # fmt: skip
    incidence = pvlib.irradiance.aoi(30.0, azimuth, zenith, sun["azimuth"].values)
    beam = pvlib.iam.physical(incidence, 1.526, 4.0, 0.0032)
    sky = pvlib.iam.marion_diffuse("physical", 30.0)
    entered = (
        total["poa_direct"] * beam
        + total["poa_sky_diffuse"] * sky["sky"]
        + total["poa_ground_diffuse"] * sky["ground"]
    )
    plane = total["poa_global"]
    wind = climate["wind_speed"].values * (2.0 / attrs["wind_height"]) ** 0.14
    cells = pvlib.temperature.faiman(plane, climate["temperature"].values - 273.15, wind)
    theirs = pvlib.pvsystem.pvwatts_dc(entered, cells, 200.0, supply.temperature_coefficient)
    theirs = np.nan_to_num(theirs * (1.0 - supply.system_losses) * supply.controller_efficiency)
    assert ours.sum() == pytest.approx(theirs.sum(), rel=0.02)
    by_month = [part[: 360 * 24].reshape(12, -1).sum(axis=1) for part in (ours, theirs)]
    assert by_month[0] == pytest.approx(by_month[1], rel=0.04)


def test_a_year_off_the_grid_is_simulated_again_without_power():
    case = case_with("[power]", "unserved = 0.05")
    plant = off_grid(case, case.harvesters[0], machine_year(), site())
    assert plant.found.unserved_share <= 0.05
    assert plant.found.dark.sum() > 100
    assert 0.0 < plant.litres_lost < 0.15
    data = plant.as_data()
    assert data["hours_without_full_power"] == plant.found.dark.sum()
    assert sum(data["unserved_kwh_by_month"]) == pytest.approx(
        data["unserved_share"] * data["electricity_kwh_per_year"]
    )
    assert any("lacks electricity" in words for words in off_grid_warnings(plant))
    choices = cost_off_grid(case.cost, plant)
    priced = choices.rows["electricity_price"]
    assert priced.low < priced.value < priced.high
    assert priced.value == pytest.approx(plant.found.per_kwh())
    rows = choices.for_plant(None, "cooling_coil")
    assert sum(own_power(case.cost, plant).bought({n: r.value for n, r in rows.items()}).values()) == (
        pytest.approx(plant.found.capital)
    )
    assert "battery_price" not in case.cost.for_plant(None, "cooling_coil")


def test_a_larger_plant_lacks_nothing_and_loses_nothing():
    case = case_with("[power]", 'pv_area = "400 m2"', 'battery = "200 kWh"')
    plant = off_grid(case, case.harvesters[0], machine_year(), site())
    assert plant.found.unserved_share == 0.0
    assert plant.litres_lost == 0.0
    assert off_grid_warnings(plant) == []


def test_electricity_is_never_paid_twice():
    """A price of electricity in the case is paid for each kWh; the plant's own price is then not counted."""
    drawn = ["[power]", 'pv_area = "40 m2"', 'battery = "20 kWh"']
    case = case_with(*drawn)
    plant = off_grid(case, case.harvesters[0], machine_year(), site())
    entry, place = case.harvesters[0], site()
    decided = Plant(case, entry, place.climate, place, machine_year(), plant).decision
    own = decided.cost
    assert own.central.parts["electricity"] == 0.0 and own.central.parts["battery"] > 0.0
    assert {part.name for part in decided.parts} >= {"Solar modules", "Battery", "Inverter"}
    told = case_with(*drawn, "[cost]", 'electricity_price = "0.3 USD/kWh"')
    bought = Plant(told, entry, place.climate, place, machine_year(), plant).decision.cost
    assert bought.central.parts["electricity"] > 0.0 and bought.central.parts["battery"] == 0.0
    assert own.central.capital - bought.central.capital == pytest.approx(plant.found.capital)
    assert any("not in it" in words for words in off_grid_warnings(plant, told.cost))
    assert not any("not in it" in words for words in off_grid_warnings(plant, case.cost))


def test_the_search_s_budget_holds_modules_and_battery():
    """A design that uses the case's own electricity pays for the same plant, one with half of it for half."""
    case = case_with("[power]", 'pv_area = "40 m2"', 'battery = "20 kWh"')
    about = plant_of(case)
    own, without = own_figures(about), own_figures(replace(about, case=replace(case, power=None), power=None))
    design, now = about.entry.design, figures(about.year)
    litres, used = now["litres_per_m2_day"], now["electricity_kwh_per_litre"]
    assert about.power is not None
    capital = about.power.found.capital
    for share in (1.0, 0.5):
        budgets = [one(design, None, litres, share * used)["budget"] for one in (own, without)]
        assert budgets[0] - budgets[1] == pytest.approx(share * capital, rel=1e-6)
    assert own(design, None, float("nan"), float("nan"))["budget"] == pytest.approx(
        without(design, None, float("nan"), float("nan"))["budget"] + capital
    )


def test_kinds_without_electricity_have_no_plant():
    case = case_with("[power]")
    entry = case.harvesters[1]
    year = simulate(entry.design, None, site(), audit=False)
    assert off_grid(case, entry, year, site()) is None
    assert cost_off_grid(case.cost, None) is case.cost
    assert off_grid(replace(case, power=None), case.harvesters[0], machine_year(), site()) is None


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        (["[power_cuts]"], ["[power_cuts]", "daily or file"]),
        (["[power]", "[power_cuts]", 'daily = ["1-2"]'], ["one of the two", "Off the grid"]),
        (["[power_cuts]", 'daily = ["18:30-22:00"]'], ["daily", "'18:30-22:00'", "whole hours"]),
        (["[power_cuts]", 'daily = ["18-22"]', "months = [13]"], ["months", "[13]", "1 to 12"]),
        (["[power_cuts]", 'file = "none.csv"'], ["file", "'none.csv', which cannot be read"]),
        (["[power_cuts]", 'daly = ["18-22"]'], ["'daly'", "daily"]),
        (["[power_cuts]", 'daily = ["18-22"]', 'dampers = "open"'], ["dampers", "'shut'"]),
    ],
)
def test_what_a_person_reads_of_wrong_tables(tables, words):
    with pytest.raises(InputError) as caught:
        case_with(*tables)
    told = str(caught.value)
    assert all(word in told for word in words), told


def test_a_file_of_hours_is_read(tmp_path):
    hours = ["power_off", *("1" if h % 24 == 5 else "0" for h in range(8760))]
    (tmp_path / "cuts.csv").write_text("\n".join(hours))
    (tmp_path / PLACE.name).write_bytes(PLACE.read_bytes())
    text = CASE + '\n[power_cuts]\nfile = "cuts.csv"\n'
    case = case_from_text(text, tmp_path / "case.toml")
    assert case.power_cuts.given.sum() == 365
    assert any("cuts.csv" in line for line in explained(case))
    (tmp_path / "cuts.csv").write_text("\n".join(hours[:100]))
    with pytest.raises(InputError, match=r"99 hours in 'cuts\.csv'"):
        case_from_text(text, tmp_path / "case.toml")
    (tmp_path / "cuts.csv").write_text("\n".join([*hours[:100], "x", *hours[101:]]))
    with pytest.raises(InputError, match="'x' in hour 100"):
        case_from_text(text, tmp_path / "case.toml")
