"""The balance that the cooling machine's audit keeps: it closes, and it notices any flow that is wrong."""

from functools import cache

import numpy as np
import pytest
from coil_cases import THERMOELECTRIC

from box_cases import site_of
from welkinwell.harvesters.cooling_coil.audit import boundary
from welkinwell.harvesters.cooling_coil.design import CoolingCoil
from welkinwell.harvesters.cooling_coil.flows import COOLING_COIL, FLOWS
from welkinwell.quantities import scale, variables
from welkinwell.simulation import march_year, prepare, simulate
from welkinwell.year import BALANCE_LIMIT, FLOW_LIMIT, Run, audited_balance, water_account

DESIGNS = {
    "compressor": {},
    "exhaust and recovery": {
        "condenser_air": "coil_exhaust",
        "recovery": 0.6,
        "frost_control": "stop",
        "operation": "clock",
    },
    "thermoelectric": THERMOELECTRIC,
}


@cache
def ran(place, name, last_hour=None):
    ready = prepare(CoolingCoil(**DESIGNS[name]), None, site_of(place))
    start, result = march_year(ready, tolerance=3e-3, record=True, last_hour=last_hour)
    climate = site_of(place).climate
    made = (ready.harvester, ready.design, ready.sorbent, ready.air, climate, start, result)
    return Run(name, *made, "hours", "normal", True)


@pytest.mark.parametrize("name", DESIGNS)
@pytest.mark.parametrize("place", ("desert", "tropics"))
def test_a_year_closes(place, name):
    found = audited_balance(ran(place, name))
    print(f"{place}: water {found.water_residual_relative:.1e}, energy {found.energy_residual_relative:.1e}")
    assert abs(found.water_residual_relative) < 1e-9
    assert abs(found.energy_residual_relative) < 1e-9
    assert found.flow_difference < FLOW_LIMIT


@pytest.mark.parametrize("flow", [flow.name for flow in FLOWS])
def test_a_turned_sign_is_noticed(flow):
    number = COOLING_COIL.flow_number(flow)
    water_in, energy_in = boundary()
    run = ran("desert", "compressor")
    total = np.abs(run.result.flows[:, :, number]).sum()
    assert total > 0.0
    found = audited_balance(run, flip=number)
    assert found.flow_difference > 1000.0 * FLOW_LIMIT
    if total * abs(water_in[number]) > 1e-6 * found.water_scale:
        assert abs(found.water_residual_relative) > BALANCE_LIMIT
    if total * abs(energy_in[number]) > 1e-6 * found.energy_scale:
        assert abs(found.energy_residual_relative) > BALANCE_LIMIT


def test_names_units_and_ranges_are_in_the_table():
    year, table = simulate(CoolingCoil(), None, site_of("coast")), variables()
    for name, variable in year.data_vars.items():
        row = table[name]
        given, stated = scale(variable.attrs["units"]), scale(row.unit)
        assert (given.factor, given.dimensions) == (stated.factor, stated.dimensions), name
        slack = {"coil_film": 0.1, "water_collected": 0.02}.get(name, 1e-3)  # a thousandth of what flows
        assert row.low - slack <= float(variable.min()) <= float(variable.max()) <= row.high + 1e-9, name


def test_the_water_account_adds_up():
    account = water_account(simulate(CoolingCoil(), None, site_of("tropics"), audit=False))
    assert abs(account["water_kept"]) < 0.06 * 80.0  # no more than the fins hold
    rest = account["water_collected"] + account["water_released_open"] + account["water_kept"]
    assert account["water_taken_up"] == pytest.approx(rest, rel=1e-9)


def test_tolerance_does_not_make_the_litres():
    """Normal against check accuracy where it stops, frosts and starts: within 0.5 %."""
    normal, strict = (
        simulate(CoolingCoil(), None, site_of("desert"), keep="year", accuracy=each, audit=False)
        for each in ("normal", "check")
    )
    assert float(normal["water_collected"].sum()) == pytest.approx(
        float(strict["water_collected"].sum()), rel=0.005
    )
