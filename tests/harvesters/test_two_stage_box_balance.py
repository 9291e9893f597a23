"""The outsider's balance of the two-stage box: it closes, and it notices any flow that is wrong."""

from functools import cache

import numpy as np
import pytest
from two_stage_cases import DESIGNS, ready_of

from box_cases import site_of
from welkinwell.harvesters.two_stage_box_audit import boundary
from welkinwell.harvesters.two_stage_box_flows import FLOWS, TWO_STAGE_BOX
from welkinwell.simulate import march_year
from welkinwell.year import BALANCE_LIMIT, FLOW_LIMIT, Run, outsiders_balance


@cache
def run_of(name, last_hour=None):
    ready = ready_of(name)
    start, result = march_year(ready, tolerance=1e-3, record=True, last_hour=last_hour)
    climate = site_of("coast").climate
    made_of = (ready.harvester, ready.design, ready.sorbent, ready.air, climate)
    return Run(name, *made_of, start, result, "hours", "normal", True)


@pytest.mark.parametrize("name", DESIGNS)
def test_a_year_closes(name):
    found = outsiders_balance(run_of(name))
    print(f"{name}: water {found.water_residual_relative:.1e}, energy {found.energy_residual_relative:.1e}")
    assert abs(found.water_residual_relative) < 1e-9
    assert abs(found.energy_residual_relative) < 1e-9
    assert found.flow_difference < FLOW_LIMIT


def test_every_flow_runs_in_one_of_the_designs():
    total = sum(np.abs(run_of(name, 720).result.flows).sum(axis=(0, 1)) for name in DESIGNS)
    assert [flow.name for flow, size in zip(FLOWS, total, strict=True) if size == 0.0] == []


@pytest.mark.parametrize("flow", [flow.name for flow in FLOWS])
def test_a_turned_sign_is_noticed(flow):
    """Where the flow crosses the boundary the sums do not close; in any case it differs from the march's."""
    number = TWO_STAGE_BOX.flow_number(flow)
    water_in, energy_in = boundary()
    seen = 0
    for name in DESIGNS:
        run = run_of(name, 720)
        if np.abs(run.result.flows[:, :, number]).sum() == 0.0:
            continue
        seen += 1
        found = outsiders_balance(run, flip=number)
        assert found.flow_difference > 10.0 * FLOW_LIMIT
        total = abs(run.result.flows[:, :, number].sum())
        if total * abs(water_in[number]) > 1e-6 * found.water_scale:
            assert abs(found.water_residual_relative) > BALANCE_LIMIT
        if total * abs(energy_in[number]) > 1e-6 * found.energy_scale:
            assert abs(found.energy_residual_relative) > BALANCE_LIMIT
    assert seen > 0
