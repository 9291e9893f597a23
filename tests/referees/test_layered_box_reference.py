"""The layered march against a second text of its page under a library solver."""

from functools import cache

import numpy as np
import pytest
from benchmarks.layered import referee

from box_cases import SILICA, site_of
from welkinwell.harvesters.harvester import incidence_of
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.passive_box.layered_flows import CELLS
from welkinwell.simulation import march_year, prepare
from welkinwell.sorbents.potential import potential_at_loading
from welkinwell.sorbents.sorbent import sorbent

DAYS = 6
BOX = 3 * (CELLS - 1)


@cache
def ready():
    return prepare(PassiveBox(depth="layered"), sorbent(SILICA), site_of("coast"))


@cache
def balances(compiled):
    case = ready()
    texts = referee("layered_box_reference")
    return texts.Balances(case.design, case.sorbent, case.air, CELLS, compiled=compiled)


def state(seed, t):
    """A box in use at a time of the record: warm, unevenly filled, with dew on bed and condenser."""
    kind, row = ready().harvester.kind, ready().row
    nodes, i = ready().air.nodes, int(t / 1800.0)
    air = nodes[i] + (nodes[i + 1] - nodes[i]) * (t / 1800.0 - i)
    rng = np.random.default_rng(seed)
    y = np.zeros(len(kind.unknowns))
    kind.rest(air, ready().numbers, row, y)
    for k, unknown in enumerate(kind.unknowns):
        if unknown.unit == "K":
            y[k] += rng.uniform(0.0, 40.0)
        elif unknown.unit == "Pa":
            y[k] *= rng.uniform(0.7, 3.0)
        elif unknown.unit == "kg/kg":
            y[k] *= rng.uniform(0.5, 1.2)
    y[BOX + 4], y[BOX + 6] = 0.01, 0.09
    T = np.append(y[0:BOX:3], y[-1])
    w = np.append(y[1:BOX:3], y[BOX + 3])
    A = np.array([potential_at_loading(row, *pair, 5000.0) for pair in zip(w, T, strict=True)])
    return y, A, air


@pytest.mark.parametrize("compiled", [False, True])
@pytest.mark.parametrize("mode", [0, 1])
@pytest.mark.parametrize("seed", range(4))
def test_both_texts_give_the_same_slopes(compiled, mode, seed):
    """dy/dt of every unknown: from the march's flows and its stocks' slopes, and from the product rule."""
    kind, numbers, row = ready().harvester.kind, ready().numbers, ready().row
    n, m = len(kind.unknowns), len(kind.flows)
    t = 3600.0 * (2.3 + 5.0 * seed)
    y, A, air = state(seed, t)
    phi, slopes, U, S = np.zeros(m), np.zeros((m, n)), np.zeros(n), np.zeros((n, n))
    kind.fill_flows(y, air, mode, numbers, row, True, phi, slopes)
    kind.fill_stocks(y, numbers, row, A, U, S)
    rates = np.zeros(n)
    for flow, place, weight in incidence_of(kind.flows)[0]:
        rates[place] += weight * phi[flow]
    by_march = np.linalg.solve(S, rates)
    texts = referee("layered_box_reference")
    found = balances(compiled).slope[mode](t, texts.start_of(y, A, CELLS))
    expected = by_march[BOX:]
    assert found[:6] == pytest.approx(expected[[0, 1, 2, 4, 6, 8]], rel=1e-9)
    assert found[6 : 6 + CELLS] == pytest.approx([*by_march[0:BOX:3], by_march[-1]], rel=1e-9)
    assert found[-1 - CELLS : -1] == pytest.approx([*by_march[2:BOX:3], expected[7]], rel=1e-9)
    assert found[-1] == pytest.approx(phi[kind.flow_number("collected")], rel=1e-12)


def test_days_of_the_march_meet_those_of_a_library_solver():
    """LSODA at 1e-8 on the second text: litres within 1e-5 at the tight tolerance, 2e-3 at 3e-3."""
    texts, solvers = referee("layered_box_reference"), referee("passive_box_reference")
    start, fine = march_year(ready(), tolerance=1e-5, keep="year", last_hour=24 * DAYS)
    _, usual = march_year(ready(), tolerance=3e-3, keep="year", last_hour=24 * DAYS, start=start)
    y, litres = texts.start_of(start.y, start.A, CELLS), 0.0
    advance = solvers.advance_with("odeint")
    for t0, t1, mode in solvers.stretches(ready().plan, 0.0, 86400.0 * DAYS):
        y[-1] = 0.0
        y = np.array(advance(balances(True).slope[mode], t0, t1, y, 1e-8, 1e-8 * texts.scales(CELLS), [])[0])
        litres += y[-1]
    collected = ready().harvester.kind.flow_number("collected")
    assert litres > 0.5 * DAYS
    assert fine.flows[:, :, collected].sum() == pytest.approx(litres, rel=1e-5)
    assert usual.flows[:, :, collected].sum() == pytest.approx(litres, rel=2e-3)
