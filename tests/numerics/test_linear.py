"""The march's small linear solver against NumPy's pivoted one, on matrices of real marches."""

from functools import cache

import numpy as np
import pytest
from benchmarks.made_up_weather import extreme_air, extreme_box, ready_in

from box_cases import OPTIONS, SILICA, box, site_of
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX
from welkinwell.numerics.linear import factorise, substitute
from welkinwell.numerics.wiring import make_wiring
from welkinwell.simulation import march_year, prepare
from welkinwell.sorbents.potential import potential_at_loading
from welkinwell.sorbents.sorbent import sorbent

SCALES = np.array([unknown.scale for unknown in PASSIVE_BOX.unknowns])


@cache
def compiled_wiring():
    return PASSIVE_BOX.wiring()


def matrices(ready, result, every):
    """Matrix and right-hand side of the first stage of every so many recorded steps."""
    wiring = compiled_wiring()
    nodes, spacing = ready.air.nodes, ready.air.spacing
    for k in range(0, len(result.record), every):
        y, (t, h, mode, node) = result.record[k, 0].copy(), result.record_time[k]
        node = int(node)
        air = nodes[node] + (t / spacing - node) * (nodes[node + 1] - nodes[node])
        phi, slopes, rates = np.zeros(37), np.zeros((37, 9)), np.zeros(9)
        U, S, M = np.zeros(9), np.zeros((9, 9)), np.zeros((9, 9))
        PASSIVE_BOX.fill_flows(y, air, int(mode), ready.numbers, ready.row, True, phi, slopes)
        A = potential_at_loading(ready.row, y[3], y[1], 3000.0)
        PASSIVE_BOX.fill_stocks(y, ready.numbers, ready.row, A, U, S)
        wiring.gather(phi, rates)
        wiring.assemble(S, slopes, 0.5 * h, M)
        yield M, rates


def worst(ready, result, every):
    """Largest miss of a solution over its own size, in the scales of the unknowns, and matrices seen."""
    largest, seen = 0.0, 0
    for M, rates in matrices(ready, result, every):
        row_size = np.abs(M).max(axis=1)
        # rows of heat and water differ by 1e7: scaled alike before the pivoted solve
        expected = np.linalg.solve(M / row_size[:, None] * SCALES, rates / row_size)
        wiring = compiled_wiring()
        for first, second, more in (
            (factorise, substitute, (len(rates),)),
            (wiring.factorise, wiring.substitute, ()),  # written out for the kind
        ):
            found, factors = rates.copy(), M.copy()
            first(factors, *more)
            second(factors, found, *more)
            miss = np.max(np.abs(found / SCALES - expected)) / max(np.max(np.abs(expected)), 1e-300)
            largest = max(largest, miss)
        seen += 1
    return largest, seen


def test_a_small_system_by_hand():
    """2x + y = 5, x + 3y = 10: x = 1, y = 3."""
    M, b = np.array([[2.0, 1.0], [1.0, 3.0]]), np.array([5.0, 10.0])
    factorise(M, 2)
    substitute(M, b, 2)
    assert b == pytest.approx([1.0, 3.0], rel=1e-15)


def test_elimination_leaves_out_what_is_always_zero():
    """An arrow: the last unknown hangs on all others, which do not see each other."""
    n = 5
    arrow = [*((i, i) for i in range(n)), *((n - 1, i) for i in range(n)), *((i, n - 1) for i in range(n))]
    wiring = make_wiring(n, 1, [(0, 0, 1.0)], [(0, 0)], "arrow", arrow)
    S, M, slopes = np.zeros((n, n)), np.full((n, n), np.nan), np.zeros((1, n))
    for place in arrow:
        S[place] = 3.0 + place[0] if place[0] == place[1] else 1.0 + 0.1 * sum(place)
    wiring.assemble(S, slopes, 1.0, M)
    assert np.isnan(M[0, 1]) and np.isfinite(M[arrow[0]])
    b = np.arange(1.0, n + 1.0)
    expected = np.linalg.solve(S, b)
    wiring.factorise(M)
    wiring.substitute(M, b)
    assert b == pytest.approx(expected, rel=1e-13)
    assert np.isnan(M[0, 1])  # never touched


@pytest.mark.parametrize("option", OPTIONS)
def test_natural_order_is_as_good_as_pivoting_on_a_real_march(option):
    ready = prepare(box(**OPTIONS[option]), sorbent(SILICA), site_of("coast"))
    _, result = march_year(ready, tolerance=1e-3, record=True, first_hour=2400, last_hour=2400 + 240)
    largest, seen = worst(ready, result, 3)
    assert seen > 200
    assert largest < 1e-8


@pytest.mark.parametrize("seed", [0, 1, 2, 5])
def test_natural_order_is_as_good_as_pivoting_at_extremes(seed):
    rng = np.random.default_rng(seed)
    air = extreme_air(rng)
    ready = ready_in(*extreme_box(rng), air)
    _, result = march_year(ready, tolerance=1e-3, record=True)
    largest, seen = worst(ready, result, 10)
    assert seen > 300
    assert largest < 1e-8
