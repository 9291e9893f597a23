"""The march of every kind against library solvers on the audit's text, from the same start.

Two texts of a kind's physics exist: that of the march, and that of the audit, which is integrated here. They
share the surroundings, the schedule and the properties of air and sorbents.
"""

from dataclasses import replace
from functools import cache

import library_solution as library
import numpy as np
import pytest
from benchmarks.random_designs import ordinary_box

from box_cases import SILICA, site_of
from welkinwell.harvesters.kinds import LISTED
from welkinwell.harvesters.layer_density import layer_problems
from welkinwell.harvesters.operation import schedule
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.simulation import TOLERANCES, march_year, prepare
from welkinwell.sorbents.sorbent import sorbent

LAYERED = "passive_box, layered"
# kind: place, first and last hour, mode where the device's state decides it
CASES = {
    "passive_box": ("coast", (0, 12), None),
    "two_stage_box": ("coast", (5, 10), None),
    "active_bed": ("coast", (0, 4), None),
    "desiccant_wheel": ("coast", (0, 3), None),
    "cooling_coil": ("tropics", (0, 12), 1),
    "dew_condenser": ("tropics", (0, 72), None),
    "liquid_desiccant": ("coast", (2, 10), None),
    "hybrid": ("coast", (0, 12), None),
    "basin_still": ("coast", (0, 12), None),
    LAYERED: ("coast", (6, 9), None),
}


@cache
def ready_of(kind):
    name, _, depth = kind.partition(", ")
    design = LISTED[name].load()(**({"depth": depth} if depth else {}))
    material = "licl_brine" if name == "liquid_desiccant" else SILICA
    return prepare(design, sorbent(material) if LISTED[name].takes_sorbent else None, site_of(CASES[kind][0]))


def litres(ready, result):
    flows = ready.harvester.kind.flows
    return float(sum(result.flows[:, :, i].sum() for i, f in enumerate(flows) if f.name in library.LITRES))


def test_every_kind_is_held_against_a_library_solver():
    assert set(CASES) == {*LISTED, LAYERED}


@pytest.mark.parametrize("kind", CASES)
def test_the_march_meets_a_library_solver(kind):
    """Litres, and every unknown at the end, at the tightest and at the default tolerance."""
    ready = ready_of(kind)
    _, (first, last), mode = CASES[kind]
    span = {"keep": "year", "first_hour": first, "last_hour": last}
    start, tight = march_year(ready, tolerance=1e-5, **span)
    _, usual = march_year(ready, tolerance=TOLERANCES["normal"], start=start, **span)
    found = library.solve(ready, start.y, (first, last), mode=mode)
    print(f"{kind}, {last - first} h: {litres(ready, tight):.5f} and {litres(ready, usual):.5f} kg/m2, "
          f"by LSODA {found[-1]:.5f}")  # fmt: skip
    assert found[-1] > 0.05
    assert litres(ready, tight) == pytest.approx(found[-1], rel=3e-5, abs=1e-6)
    assert litres(ready, usual) == pytest.approx(found[-1], rel=5e-3, abs=1e-3)
    scales = library.Balances(ready).scales
    assert np.max(np.abs(tight.state.y - found[:-1]) / scales) < 1e-3


@pytest.mark.parametrize("kind", CASES)
def test_both_texts_give_the_same_flows(kind):
    """At states that a day meets, to round-off of the largest flow of the same unit."""
    ready = ready_of(kind)
    of_kind, balances = ready.harvester.kind, library.Balances(ready)
    n, m = len(of_kind.unknowns), len(of_kind.flows)
    _, result = march_year(ready, tolerance=3e-3, keep="year", last_hour=24, record=True)
    units = np.array([flow.unit for flow in of_kind.flows])
    some = np.linspace(0, result.steps - 1, 40).astype(int)
    for y, (t, _, mode, _) in zip(result.record[some, 0], result.record_time[some], strict=True):
        phi, slopes = np.zeros(m), np.zeros((m, n))
        of_kind.fill_flows(y, balances.air(t), int(mode), ready.numbers, ready.row, True, phi, slopes)
        audited = balances.flows(t, y[:, None], int(mode))[:, 0]
        for unit in set(units):
            own = units == unit
            assert audited[own] == pytest.approx(phi[own], rel=0, abs=1e-9 * np.max(np.abs(phi[own])) + 1e-15)


@pytest.mark.parametrize("kind", CASES)
def test_both_texts_hold_the_same_stocks(kind):
    """Of every row, with their slopes, at the starts and ends of two marches."""
    ready = ready_of(kind)
    of_kind, balances = ready.harvester.kind, library.Balances(ready)
    n = len(of_kind.unknowns)
    begin, night = march_year(ready, tolerance=3e-3, keep="year", last_hour=12)
    _, day = march_year(ready, tolerance=3e-3, keep="year", first_hour=12, last_hour=20, start=night.state)
    for state in (begin, night.state, day.state):
        U, S = np.zeros(n), np.zeros((n, n))
        of_kind.fill_stocks(state.y, ready.numbers, ready.row, state.A, U, S)
        held = balances.stocks(state.y[:, None], ready.design, ready.sorbent)[:, 0]
        assert held == pytest.approx(U, rel=1e-8, abs=1e-6)
        assert balances.stock_slopes(state.y) == pytest.approx(S, rel=1e-4, abs=1e-5 * np.max(np.abs(S)))


@cache
def drawn(seed):
    """A passive box that somebody might build, with a sheet of Sips terms, ready to march."""
    rng = np.random.default_rng(seed)
    sheets = ("silica_gel_regular_density", "aluminium_fumarate", "mof_801", "licl_gel")
    site = site_of(("coast", "desert", "tropics", "highland")[seed % 4])
    design, material = ordinary_box(rng), sorbent(sheets[int(rng.integers(len(sheets)))])
    if layer_problems(design, material):  # a layer that cannot exist: as much as fits at its bulk density
        mass = material.bulk_density * design.layer_thickness * design.bed_area
        design = replace(design, sorbent_mass=mass)
    return prepare(design, material.as_solution(), site), 24 * int(rng.integers(0, 350))


def days(ready, first_hour, count):
    """The same on some days of its record."""
    return library.period(ready, schedule, first_hour, first_hour + 24 * count)


def meets(ready, hours, rel):
    start, result = march_year(ready, tolerance=TOLERANCES["normal"], keep="year", last_hour=hours)
    found = library.solve(ready, start.y, (0, hours))
    print(f"{litres(ready, result):.4f} against {found[-1]:.4f} L/m2")
    assert litres(ready, result) == pytest.approx(found[-1], rel=rel, abs=5e-3)


@pytest.mark.parametrize("seed", range(2))
def test_random_boxes_meet_it_for_a_day(seed):
    ready, hour = drawn(seed)
    meets(days(ready, hour, 1), 24, 5e-3)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(100, 120))
def test_random_boxes_meet_it_for_ten_days(seed):
    ready, hour = drawn(seed)
    meets(days(ready, hour, 10), 240, 5e-3)


@pytest.mark.parametrize(
    "key",
    ["mil_101_cr", *(pytest.param(key, marks=pytest.mark.long) for key in ("aluminium_fumarate", "sapo_34"))],
)
def test_two_branches_meet_it_for_a_day(key):
    meets(days(prepare(PassiveBox(), sorbent(key), site_of("coast")), 24 * 200, 1), 24, 5e-3)


def test_the_solution_agrees_with_itself_at_another_tolerance_and_by_another_method():
    ready = ready_of("passive_box")
    start, _ = march_year(ready, tolerance=1e-5, keep="year", last_hour=6)
    tight, loose = (library.solve(ready, start.y, (0, 8), rtol=rtol) for rtol in (1e-8, 1e-5))
    other = library.solve(ready, start.y, (0, 8), rtol=1e-6, method="BDF")
    assert loose == pytest.approx(tight, rel=1e-4, abs=1e-6)
    assert other == pytest.approx(tight, rel=1e-4, abs=1e-6)
