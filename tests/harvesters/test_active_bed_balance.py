"""The active bed's balance from outside: it closes, and it notices any flow that is wrong."""

from functools import cache

import numpy as np
import pytest

from box_cases import SILICA, site_of
from welkinwell.harvesters.active_bed.audit import FLOWS as AUDITED
from welkinwell.harvesters.active_bed.audit import audited_flows, boundary
from welkinwell.harvesters.active_bed.design import ActiveBed
from welkinwell.harvesters.active_bed.flows import ACTIVE_BED, FLOWS, bed_numbers
from welkinwell.simulation import march_year, prepare
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.year import BALANCE_LIMIT, FLOW_LIMIT, Run, audited_balance

# Every heater, both loops, both forms and three ways of operation; "damp" dews from air onto a cold condenser
DESIGNS = {
    "resistance": {},
    "solar, channels": {
        "heat_by": "solar",
        "operation": "clock",
        "form": "channels",
        "bed_depth": 0.1,
        "sorbent_mass": 20.0,
    },
    "waste heat, open": {
        "heat_by": "waste_heat",
        "air_loop": "open",
        "release_velocity": 0.01,
        "condenser_conductance": 4000.0,
    },
    "heat pump": {"heat_by": "heat_pump", "heat_pump_source": "condenser", "operation": "threshold"},
}
LAST_HOUR = 240


@cache
def ran(name):
    ready = prepare(ActiveBed(**DESIGNS[name]), sorbent(SILICA), site_of("coast"))
    start, result = march_year(ready, tolerance=3e-3, record=True, last_hour=LAST_HOUR)
    climate = site_of("coast").climate
    parts = (ready.harvester, ready.design, ready.sorbent, ready.air, climate, start, result)
    return Run(name, *parts, "hours", "normal", True)


def test_the_audit_lists_the_flows_in_the_kinds_order():
    assert AUDITED == tuple(flow.name for flow in FLOWS)


@pytest.mark.parametrize("name", DESIGNS)
def test_ten_days_close(name):
    found = audited_balance(ran(name))
    print(f"{name}: water {found.water_residual_relative:.1e}, energy {found.energy_residual_relative:.1e}")
    assert abs(found.water_residual_relative) < 1e-9
    assert abs(found.energy_residual_relative) < 1e-9
    assert found.flow_difference < FLOW_LIMIT


def test_every_flow_runs_in_one_of_the_designs():
    """So that no flow is left out of the next test."""
    total = sum(np.abs(ran(name).result.flows).sum(axis=(0, 1)) for name in DESIGNS)
    assert [flow.name for flow, size in zip(FLOWS, total, strict=True) if size == 0.0] == []


@pytest.mark.parametrize("flow", [flow.name for flow in FLOWS])
def test_a_turned_sign_is_noticed(flow):
    number = ACTIVE_BED.flow_number(flow)
    water_in, energy_in = boundary()
    seen = 0
    for name in DESIGNS:
        run = ran(name)
        total = abs(run.result.flows[:, :, number].sum())
        if total == 0.0:
            continue
        seen += 1
        found = audited_balance(run, flip=number)
        assert found.flow_difference > 1000.0 * FLOW_LIMIT
        if total * abs(water_in[number]) > 1e-6 * found.water_scale:
            assert abs(found.water_residual_relative) > BALANCE_LIMIT
        if total * abs(energy_in[number]) > 1e-6 * found.energy_scale:
            assert abs(found.energy_residual_relative) > BALANCE_LIMIT
    assert seen > 0


@pytest.mark.parametrize("name", DESIGNS)
def test_kernel_and_audit_agree_at_states_all_over_the_place(name):
    """Cold and hot, wet and dry, thin air: each flow to a part in 1e7 of its size.

    The march takes a film as all liquid above 2 C, where the audit still has an ice share of 1e-7.
    """
    ready = prepare(ActiveBed(**DESIGNS[name]), sorbent(SILICA), site_of("coast"))
    numbers = bed_numbers(ready.design, ready.sorbent, 8e4)
    rng = np.random.default_rng(3)
    n = 300
    states = np.vstack(
        [
            rng.uniform(255.0, 390.0, n),
            rng.uniform(255.0, 350.0, n),
            rng.uniform(0.001, 0.35, n),
            rng.uniform(-1e-4, 2.0, n),
            rng.uniform(5.0, 90000.0, n),
            rng.uniform(5.0, 20000.0, n),
        ]
    )
    air = np.vstack(
        [rng.uniform(250.0, 320.0, n), rng.uniform(50.0, 5000.0, n), rng.uniform(7e4, 1.03e5, n)]
        + [rng.uniform(0.0, 1100.0, n) for _ in range(6)]
    )
    mode = rng.integers(0, 2, n)
    outside = audited_flows(states, air, mode, ready.design, ready.sorbent, 8e4)
    slopes = np.zeros((len(FLOWS), 6))
    inside = np.zeros((len(FLOWS), n))
    for k in range(n):
        phi = np.zeros(len(FLOWS))
        y = states[:, k].copy()
        ACTIVE_BED.fill_flows(y, air[:, k].copy(), mode[k], numbers, ready.sorbent.row, False, phi, slopes)
        inside[:, k] = phi
    size = np.abs(inside).max(axis=1) + 1e-12
    assert np.max(np.abs(inside - outside) / size[:, None]) < 1e-7
