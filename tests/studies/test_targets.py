"""Targets on days and cost: the plant may change, and bounds forbid what no plant can."""

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from box_cases import SILICA, WEATHER, site_of
from welkinwell.case import read_case
from welkinwell.errors import InputError
from welkinwell.limits.bound import Bound
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies import reach as module
from welkinwell.studies.reach import REACHED, reach
from welkinwell.studies.targets import cost_bound, days_aim, days_bound, plant_variables, tank_of

CASE = f"""
schema_version = 1
name = "Invented"
[site]
name = "Somewhere"
weather = "{next(WEATHER.glob("coast*.gz"))}"
[demand]
litres_per_day = "20 L/day"
[tank]
volume = "300 L"
[collection]
drips = 0.0
[treatment]
availability = 1.0
backwash = 0.0
samples_per_year = 0
[[harvester]]
name = "Box"
kind = "passive_box"
sorbent = "{SILICA}"
modules = 9
aperture_area = "2 m2"
"""
ONE_EFFECT = Bound("single_effect", "one effect", 2.0, "L/m2/day", "", "", ("passive_box",))


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    path = tmp_path_factory.mktemp("case") / "case.toml"
    path.write_text(CASE)
    return read_case(path)


def steady_year(per_day):
    """A year that gives the same water in each hour [kg/m2 in a day]."""
    return xr.Dataset(
        {"water_collected": ("time", np.full(8760, per_day / 24.0))}, attrs={"basis_area": 2.0, "modules": 9}
    )


def design_of(case):
    return case.harvesters[0].design


def test_modules_and_tank_may_change(case):
    modules, tank = plant_variables(case, design_of(case))
    assert (modules.low, modules.high) == (1.0, 36.0)
    assert modules.now(None, None) == 9.0
    assert (tank.low, tank.high) == pytest.approx((0.075, 3.0))
    assert tank.text(0.3) == "300 L" and modules.text(9.0) == "9"
    modules, tank = plant_variables(case, design_of(case), ["modules=2..20", "tank=100 L..2 m3"])
    assert (modules.low, modules.high, tank.high) == pytest.approx((2.0, 20.0, 2.0))
    with pytest.raises(InputError, match="rising"):
        plant_variables(case, design_of(case), ["modules=20..2"])
    assert [one.key for one in plant_variables(replace(case, tank=None), design_of(case))] == ["modules"]


def test_a_target_on_days_is_met_by_the_nearest_number_of_modules(case, monkeypatch):
    """1 L/m2 a day on 2 m2 modules: 20 L a day ask for 10 of them; 9 meet not even every second day."""
    monkeypatch.setattr(module, "simulate", lambda *args, **more: steady_year(1.0))
    aim = days_aim(case, plant_variables(case, design_of(case)))
    found = reach(design_of(case), sorbent(SILICA), site_of("coast"), 0.99, aim=aim)
    assert found.outcome == REACHED
    assert [one.variable.key for one in found.moved] == ["modules"]
    assert found.moved[0].after == 10.0
    assert found.got == pytest.approx(1.0)
    assert "100 % of the days" in found.words and "modules from 9 to 10" in found.words


def test_fewer_modules_where_much_is_spilled(case, monkeypatch):
    """A cost that hangs on modules alone: 4 L/m2 a day spill; the target is met with fewer."""
    monkeypatch.setattr(module, "simulate", lambda *args, **more: steady_year(4.0))

    def cost(design, material, year, values):
        return values[0] / float(tank_of(case, year, *values).delivered.mean())

    aim = module.Aim(
        "cost", "USD", "a cost", True, "hours", cost, 1e3, plant_variables(case, design_of(case))
    )
    found = reach(design_of(case), sorbent(SILICA), site_of("coast"), 0.2, aim=aim)
    assert found.outcome == REACHED
    moved = {one.variable.key: one.after for one in found.moved}
    assert moved["modules"] == 4.0  # 4 / 20 L = 0.2; 9 / 20 = 0.45 as it stands


def test_days_that_no_plant_can_meet(case):
    """36 modules of 2 m2 give 20 L a day at 0.278 L/m2; half of that is water for half of the days."""
    aim = days_aim(case, plant_variables(case, design_of(case)))
    half = replace(ONE_EFFECT, value=0.5 * 20.0 / 72.0)
    bound = days_bound(case, design_of(case), aim, half)
    tank = 10.0 * 1000.0 * case.tank.usable
    assert bound.value == pytest.approx((0.5 * 365.0 + tank / 20.0) / 365.0, abs=0.01)
    assert "36 such modules" in bound.note
    assert days_bound(case, design_of(case), aim, replace(half, value=2.0)).value == 1.0


def test_no_plant_is_cheaper_than_the_least_cost(case):
    """The bound's own plant, with more sorbent, tank or spilled water, costs more."""
    design, material = design_of(case), case.harvesters[0].sorbent
    plant = plant_variables(case, design)
    aim = module.Aim("cost", "USD", "a cost", True, "hours", lambda *a: None, 1e3, plant)
    prices = {n: row.value for n, row in case.cost.for_plant(material, "passive_box").items()}
    least = cost_bound(case, design, aim, ONE_EFFECT, material, material, (), prices)
    assert 0.001 < least.value < 1.0
    assert "prices" in least.name and "2.00 L a day per m² of aperture" in least.note
    poorer = cost_bound(case, design, aim, replace(ONE_EFFECT, value=1.0), material, material, (), prices)
    assert poorer.value > least.value
    sizes = module.variables_of(design)
    assert cost_bound(case, design, aim, ONE_EFFECT, material, material, sizes, prices).value < least.value
