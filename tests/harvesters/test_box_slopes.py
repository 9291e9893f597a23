"""The box's printed slopes against central differences, and its table of flows."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from box_cases import OPTIONS, box, flows_at, numbers_of, random_states
from welkinwell.harvesters.passive_box.audit import boundary
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX, POOL_ENTHALPY, UNKNOWNS
from welkinwell.sorbents.sorbent import sheet_names, sorbent

FLOWS = PASSIVE_BOX.flows
USES = np.zeros((37, 9), dtype=bool)
for number, flow in enumerate(FLOWS):
    USES[number, list(flow.uses)] = True
# Steps of the differences, and size of each unknown by which slopes are compared
STEP = np.array([1e-4, 1e-4, 1e-4, 1e-5, 1e-6, 1e-6, 1e-6, 0.02, 0.02])
SIZE = np.array([1.0, 1.0, 1.0, 1e-3, 1e-3, 1e-3, 1e-3, 10.0, 10.0])
# Flows below these are nothing: kg/(m2 s) and W/m2
LEAST = np.array([1e-11 if flow.unit == "kg/(m2 s)" else 1e-5 for flow in FLOWS])


def by_difference(y, air, mode, numbers, row):
    """Sixth-order central differences of every flow, and how far two step sizes disagree."""

    def at(step):
        found = np.zeros((37, 9))
        for u in range(9):
            moved = []
            for k in (1, 2, 3):
                up, down = y.copy(), y.copy()
                up[u] += k * step[u]
                down[u] -= k * step[u]
                moved.append(
                    flows_at(up, air, mode, numbers, row)[0] - flows_at(down, air, mode, numbers, row)[0]
                )
            found[:, u] = (45.0 * moved[0] - 9.0 * moved[1] + moved[2]) / (60.0 * step[u])
        return found

    fine, coarse = at(STEP), at(2.0 * STEP)
    return fine, np.abs(fine - coarse)


def misses(y, air, mode, numbers, row):
    """Where a slope is off by more than 1e-5 and more than the differences' own doubt."""
    phi, slopes = flows_at(y, air, mode, numbers, row)
    slopes = np.where(USES, slopes, 0.0)
    expected, doubt = by_difference(y, air, mode, numbers, row)
    # what a sensible change of any unknown does to a flow sets the scale of its slopes
    scale = np.maximum(np.abs(expected) * SIZE, np.abs(phi)[:, None] * 1e-3 + LEAST[:, None])
    allowed = 1e-5 * scale.max(axis=1, keepdims=True) + 10.0 * doubt * SIZE
    wrong = np.abs(slopes - expected) * SIZE > allowed
    return [
        f"d({FLOWS[f].name})/d({UNKNOWNS[u].name}): {slopes[f, u]:.6e}, by difference {expected[f, u]:.6e}"
        for f, u in np.argwhere(wrong)
    ]


@pytest.mark.parametrize("option", OPTIONS)
@pytest.mark.parametrize("mode", [0, 1])
def test_slopes_meet_differences(option, mode):
    numbers, row = numbers_of(box(**OPTIONS[option]))
    y, air, _ = random_states(60, seed=len(option))
    for state, outside in zip(y, air, strict=True):
        assert misses(state, outside, mode, numbers, row) == []


@pytest.mark.parametrize("key", sheet_names())
def test_slopes_meet_differences_with_every_sheet(key):
    numbers, row = numbers_of(box(**OPTIONS["both, inclined"]), sorbent(key))
    y, air, mode = random_states(30, seed=5)
    for state, outside, m in zip(y, air, mode, strict=True):
        assert misses(state, outside, m, numbers, row) == []


@given(
    option=st.sampled_from(sorted(OPTIONS)),
    mode=st.integers(0, 1),
    seed=st.integers(0, 2**31),
)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_slopes_meet_differences_anywhere(option, mode, seed):
    numbers, row = numbers_of(box(**OPTIONS[option]))
    y, air, _ = random_states(1, seed)
    assert misses(y[0], air[0], mode, numbers, row) == []


def test_every_slope_of_the_table_is_needed_by_some_state():
    met = np.zeros((37, 9), dtype=bool)
    for option, fields in OPTIONS.items():
        numbers, row = numbers_of(box(**fields))
        y, air, mode = random_states(80, seed=len(option) + 1)
        for state, outside, m in zip(y, air, mode, strict=True):
            met |= flows_at(state, outside, m, numbers, row)[1] != 0.0
    unmet = [(FLOWS[f].name, UNKNOWNS[u].name) for f, u in np.argwhere(USES & ~met)]
    assert unmet == []


def test_a_mode_change_leaves_no_slope_of_the_other_mode_behind():
    """The march reuses one array of slopes: each mode must write every entry of the table."""
    for fields in OPTIONS.values():
        numbers, row = numbers_of(box(**fields))
        y, air, _ = random_states(10, seed=3)
        for state, outside in zip(y, air, strict=True):
            for mode in (0, 1):
                clean = flows_at(state, outside, mode, numbers, row)[1]
                phi, dirty = np.zeros(37), np.full((37, 9), 1e9)
                PASSIVE_BOX.fill_flows(state, outside, mode, numbers, row, True, phi, dirty)
                left = [(FLOWS[f].name, UNKNOWNS[u].name) for f, u in np.argwhere(USES & (dirty == 1e9))]
                assert left == []
                assert np.array_equal(np.where(USES, dirty, 0.0), np.where(USES, clean, 0.0))


def test_rows_of_the_table_keep_water_and_heat():
    """Water that leaves one stock arrives in another or outside; heat the same, the pool's enthalpy included.

    The two vapour rows hold the pool's enthalpy per kg; every other water row's heat is in its heat row.
    """
    water = np.array([unknown.stock == "water" for unknown in UNKNOWNS])
    held = np.where([u.name.endswith("vapour_pressure") for u in UNKNOWNS], POOL_ENTHALPY, 0.0)
    outside_water, outside_energy = boundary()
    for i, flow in enumerate(FLOWS):
        change = np.zeros(9)
        if flow.start != -1:
            change[flow.start] -= 1.0
        if flow.end != -1:
            change[flow.end] += 1.0
        for stock, weight in flow.carries:
            change[stock] += weight
        if flow.unit == "kg/(m2 s)":
            assert change[water].sum() == outside_water[i], flow.name
            energy = change[~water].sum() + held[water] @ change[water]
        else:
            assert not change[water].any(), flow.name
            energy = change.sum()
        assert energy == pytest.approx(outside_energy[i], abs=1e-9 * POOL_ENTHALPY), flow.name


def test_the_compiled_wiring_is_the_table():
    wiring = PASSIVE_BOX.wiring()
    rng = np.random.default_rng(0)
    phi, slopes, S = rng.normal(size=37), rng.normal(size=(37, 9)), np.zeros((9, 9))
    for place in PASSIVE_BOX.stock_pattern:  # elsewhere the slopes of the stocks are zero, and not read
        S[place] = rng.normal()
    incidence = np.zeros((9, 37))
    for i, flow in enumerate(FLOWS):
        if flow.start != -1:
            incidence[flow.start, i] -= 1.0
        if flow.end != -1:
            incidence[flow.end, i] += 1.0
        for stock, weight in flow.carries:
            incidence[stock, i] += weight
    slopes = np.where(USES, slopes, 0.0)
    total, M, carried = np.zeros(9), np.zeros((9, 9)), np.zeros((4, 37))
    wiring.gather(phi, total)
    assert total == pytest.approx(incidence @ phi, rel=1e-12)
    wiring.assemble(S, slopes, 20.0, M)
    assert pytest.approx(S / 20.0 - incidence @ slopes, rel=1e-10) == M
    delta = rng.normal(size=9)
    wiring.carry(phi, slopes, delta, 20.0, carried, 2)
    assert carried[2] == pytest.approx(20.0 * (phi + slopes @ delta), rel=1e-12)
    stock = np.ones(9)
    wiring.add_flows(stock, carried, 2, 0.5)
    assert stock == pytest.approx(1.0 + 0.5 * incidence @ carried[2], rel=1e-12)
