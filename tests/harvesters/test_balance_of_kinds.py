"""The audit's balance of several kinds: it closes, and it notices any flow that is wrong."""

from functools import cache

import hybrid_cases
import liquid_cases
import numpy as np
import pytest
import two_stage_cases

from box_cases import site_of
from welkinwell.harvesters.hybrid.flows import HYBRID
from welkinwell.harvesters.liquid_desiccant.flows import LIQUID_DESICCANT
from welkinwell.harvesters.two_stage_box.flows import TWO_STAGE_BOX
from welkinwell.simulation import march_year
from welkinwell.year import BALANCE_LIMIT, FLOW_LIMIT, Run, audited_balance

CASES = {"hybrid": hybrid_cases, "liquid_desiccant": liquid_cases, "two_stage_box": two_stage_cases}
KINDS = {kind.name: kind for kind in (HYBRID, LIQUID_DESICCANT, TWO_STAGE_BOX)}
# Limits of the difference by which a turned flow is seen; a two-stage box has flows of a few watts a year
SEEN = {
    "hybrid": 1000.0 * FLOW_LIMIT,
    "liquid_desiccant": 1000.0 * FLOW_LIMIT,
    "two_stage_box": 10.0 * FLOW_LIMIT,
}


@cache
def run_of(kind, name, last_hour=None):
    ready = CASES[kind].ready_of(name)
    start, result = march_year(ready, tolerance=1e-3, record=True, last_hour=last_hour)
    climate = site_of("coast").climate
    made_of = (ready.harvester, ready.design, ready.sorbent, ready.air, climate)
    return Run(name, *made_of, start, result, "hours", "normal", True)


@pytest.mark.parametrize("kind, name", [(kind, name) for kind in CASES for name in CASES[kind].DESIGNS])
def test_a_year_closes(kind, name):
    found = audited_balance(run_of(kind, name))
    print(f"{name}: water {found.water_residual_relative:.1e}, energy {found.energy_residual_relative:.1e}")
    assert abs(found.water_residual_relative) < 1e-9
    assert abs(found.energy_residual_relative) < 1e-9
    assert found.flow_difference < FLOW_LIMIT


@pytest.mark.parametrize("kind", CASES)
def test_every_flow_runs_in_one_of_the_designs(kind):
    total = sum(np.abs(run_of(kind, name, 720).result.flows).sum(axis=(0, 1)) for name in CASES[kind].DESIGNS)
    flows = KINDS[kind].flows
    assert [flow.name for flow, size in zip(flows, total, strict=True) if size == 0.0] == []


@pytest.mark.parametrize("kind, flow", [(kind, flow.name) for kind in CASES for flow in KINDS[kind].flows])
def test_a_turned_sign_is_noticed(kind, flow):
    """Where the flow crosses the boundary the sums do not close; in any case it differs from the march's."""
    number = KINDS[kind].flow_number(flow)
    seen = 0
    for name in CASES[kind].DESIGNS:
        run = run_of(kind, name, 720)
        if np.abs(run.result.flows[:, :, number]).sum() == 0.0:
            continue
        seen += 1
        water_in, energy_in = run.harvester.boundary()
        found = audited_balance(run, flip=number)
        assert found.flow_difference > SEEN[kind]
        total = abs(run.result.flows[:, :, number].sum())
        if total * abs(water_in[number]) > 1e-6 * found.water_scale:
            assert abs(found.water_residual_relative) > BALANCE_LIMIT
        if total * abs(energy_in[number]) > 1e-6 * found.energy_scale:
            assert abs(found.energy_residual_relative) > BALANCE_LIMIT
    assert seen > 0
