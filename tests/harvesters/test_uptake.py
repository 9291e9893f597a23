"""Uptake on two branches and rates that follow the loading: slopes, limits, loops and whole years."""

import math
from dataclasses import replace
from importlib import resources

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from box_cases import SILICA, box, flows_at, numbers_of, random_states, site_of
from welkinwell.constants import GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.errors import SheetError
from welkinwell.harvesters.passive_box.audit import audited_flows
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX
from welkinwell.simulation import march_year, prepare, simulate
from welkinwell.sorbents import dual_site_langmuir
from welkinwell.sorbents.kinetics import fill_kinetics, fill_rate_law, uptake_rate
from welkinwell.sorbents.potential import potential_at_loading, sorbed_state
from welkinwell.sorbents.row import (
    RATE_BY_LOADING,
    RATE_BY_POTENTIAL,
    SLOT_HYSTERESIS,
    SLOT_LOADING_EXPONENT,
    SLOT_RATE_LAW,
    SLOT_SWELLING,
    empty_row,
)
from welkinwell.sorbents.sorbent import sheet_names, sorbent
from welkinwell.sorbents.uptake import (
    between_branches,
    rate_at_loading,
    rate_near_equilibrium,
    uptake,
)

WITH_BRANCHES = ("aluminium_fumarate", "mil_101_cr", "sapo_34")
LAWS = {
    "branches": {SLOT_HYSTERESIS: 600.0},
    "by loading": {SLOT_RATE_LAW: RATE_BY_LOADING, SLOT_LOADING_EXPONENT: 2.3, SLOT_SWELLING: 1.4},
    "by potential": {SLOT_RATE_LAW: RATE_BY_POTENTIAL},
    "all": {
        SLOT_HYSTERESIS: 600.0,
        SLOT_RATE_LAW: RATE_BY_POTENTIAL,
        SLOT_LOADING_EXPONENT: -1.0,
        SLOT_SWELLING: 0.5,
    },
}


def library(name):
    return resources.files("welkinwell").joinpath("library", "sorbents", name)


def with_slots(material, slots):
    row = material.row.copy()
    for slot, value in slots.items():
        row[slot] = value
    return replace(material, row=row)


@pytest.mark.parametrize("key", [SILICA, "mof_801", "licl_gel", "activated_carbon"])
@pytest.mark.parametrize("law", LAWS)
def test_slopes_are_those_of_the_values(key, law):
    # plateaus between crystals are too flat for differences: the gel as solution
    row = with_slots(sorbent(key).as_solution(), LAWS[law]).row
    rng = np.random.default_rng(3)
    for _ in range(150):
        T, A = rng.uniform(275.0, 380.0), rng.uniform(200.0, 12000.0)
        w = sorbed_state(row, A + rng.uniform(-1500.0, 1500.0), T)[0]
        found = uptake(row, A, T, w)
        for given, step, slope in ((0, 0.01, found[1]), (1, 1e-3, found[2]), (2, 1e-6 * w, found[3])):
            ends = []
            for sign in (-2.0, -1.0, 1.0, 2.0):
                at = [A, T, w]
                at[given] += sign * step
                ends.append(uptake(row, *at)[0])
            by_difference = (ends[0] - 8.0 * ends[1] + 8.0 * ends[2] - ends[3]) / (12.0 * step)
            size = rate_at_loading(row, T, w)[0] * (w / 1000.0, w / 100.0, 1.0)[given]
            assert slope == pytest.approx(by_difference, rel=1e-5, abs=1e-6 * size), (given, T, A, w)


@pytest.mark.parametrize("law", LAWS)
def test_the_audit_finds_the_same_uptake(law):
    """The audit's text (halving, closed forms) against the compiled one."""
    for key in (SILICA, "mil_101_cr", "zeolite_13x"):
        material = with_slots(sorbent(key), LAWS[law])
        numbers, row = numbers_of(box(), material)
        y, air, mode = random_states(60, seed=11)
        y[:, 3] = np.minimum(y[:, 3], 0.9 * sorbed_state(row, 500.0, 300.0)[0])
        theirs = audited_flows(y.T, air.T, mode, box(), material, 95000.0)[0]
        ours = np.array([flows_at(a, b, m, numbers, row)[0][0] for a, b, m in zip(y, air, mode, strict=True)])
        assert ours == pytest.approx(theirs, rel=1e-8, abs=1e-9 * np.abs(theirs).max())


def test_without_a_width_the_two_branches_are_the_plain_law():
    for key in (SILICA, "mof_801"):
        row = with_slots(sorbent(key), {SLOT_RATE_LAW: RATE_BY_LOADING}).row
        rng = np.random.default_rng(4)
        for _ in range(100):
            T, A, w = rng.uniform(275.0, 380.0), rng.uniform(200.0, 12000.0), rng.uniform(0.01, 0.25)
            plain = uptake_rate(row, T) * (sorbed_state(row, A, T)[0] - w)
            assert uptake(row, A, T, w)[0] == pytest.approx(plain, rel=1e-12)
            assert rate_at_loading(row, T, w)[0] == uptake_rate(row, T)


def test_branches_that_meet_give_the_same_litres():
    """A width of nothing takes the long way round and ends where the plain law ends."""
    ready = prepare(PassiveBox(), sorbent(SILICA), site_of("coast"))
    long_way = replace(ready, row=with_slots(ready.sorbent, {SLOT_RATE_LAW: RATE_BY_LOADING}).row)
    found = []
    for one in (ready, long_way):
        _, result = march_year(one, tolerance=3e-3, keep="year", first_hour=4800, last_hour=4848)
        found.append(result.flows.sum(axis=(0, 1))[PASSIVE_BOX.flow_number("collected")])
    assert found[0] > 0.5
    assert found[1] == pytest.approx(found[0], rel=1e-9)


def test_between_the_branches_nothing_moves_and_outside_the_nearer_one_rules():
    width = 500.0
    assert between_branches(-3000.0, width)[0] == pytest.approx(-3000.0 + 15.0, rel=1e-9)
    assert between_branches(3500.0, width)[0] == pytest.approx(3000.0 - 15.0, rel=1e-9)
    for x in np.linspace(60.0, 440.0, 9):  # ten roundings inside
        g, slope = between_branches(x, width)
        assert abs(g) < 1e-5
        assert 0.0 <= slope < 1e-5
    x = np.linspace(-600.0, 1100.0, 4001)
    g = np.array([between_branches(a, width)[0] for a in x])
    assert np.all(np.diff(g) >= 0.0)


@pytest.mark.parametrize("key", WITH_BRANCHES)
def test_a_loop_wastes_work_and_no_heat(key):
    """Vapour slowly wetter, then drier, at one temperature: the bed comes back with the heat that it had.

    The work lost in the loop, the integral of A dw, is the width times the swing: branches that differ in
    pressure only. Heat from the stocks of the compiled box.
    """
    row, T = sorbent(key).row, 300.0
    wet, dry, days = 300.0, 9000.0, 20.0

    def potential(t):
        return dry + (wet - dry) * (1.0 - abs(2.0 * t / (days * 86400.0) - 1.0))

    start = sorbed_state(row, dry - row[SLOT_HYSTERESIS], T)[0]
    loop = solve_ivp(
        lambda t, w: [uptake(row, potential(t), T, w[0])[0]],
        (0.0, days * 86400.0),
        [start],
        method="LSODA",
        rtol=1e-9,
        atol=1e-12,
        max_step=days * 86400.0 / 4000.0,
    )
    w, A = loop.y[0], np.array([potential(t) for t in loop.t])
    swing = w.max() - start
    lost = float(np.sum(0.5 * (A[1:] + A[:-1]) * np.diff(w)))
    assert w[-1] == pytest.approx(start, abs=0.02 * swing)
    # work is given to the vapour on the way out at A + width: the loop runs against the hands
    assert -lost == pytest.approx(row[SLOT_HYSTERESIS] * swing, rel=0.06)

    numbers, _ = numbers_of(box(), sorbent(key))

    def heat(loading):
        """Slope of the bed's stock of energy in the loading, as the march uses it [J per kg/kg]."""
        y = np.array([T, T, T, loading, 0.0, 0.0, 0.0, 1000.0, 1000.0])
        U, S = np.zeros(9), np.zeros((9, 9))
        PASSIVE_BOX.fill_stocks(y, numbers, row, potential_at_loading(row, loading, T, 3000.0), U, S)
        return S[1, 3]

    slopes = np.array([heat(x) for x in 0.5 * (w[1:] + w[:-1])])
    rises = np.diff(w) > 0.0
    on_the_way = [float((slopes * np.diff(w))[side].sum()) for side in (rises, ~rises)]
    assert abs(on_the_way[0]) > 1e4
    assert sum(on_the_way) == pytest.approx(slopes[0] * (w[-1] - start), abs=1e-3 * abs(on_the_way[0]))


def test_release_heat_is_the_latent_heat_and_the_slope_of_the_one_surface():
    """-dE/dw at a loading is the same whether the pressure is that of uptake or of release."""
    row, T = sorbent("aluminium_fumarate").row, 310.0
    for w in (0.05, 0.15, 0.28):
        A_w = potential_at_loading(row, w, T, 3000.0)
        step = 1e-5
        ends = [sorbed_state(row, potential_at_loading(row, w + k * step, T, A_w), T)[3] for k in (-1, 1)]
        slope = (ends[1] - ends[0]) / (2.0 * step)
        _, q_A, q_T, _, _ = sorbed_state(row, A_w, T)
        assert slope == pytest.approx(-(A_w + T * q_T / q_A) / WATER_MOLAR_MASS, rel=1e-6)


@pytest.mark.parametrize("key", WITH_BRANCHES)
def test_a_year_with_two_branches_closes_and_gives_less_water(key):
    """The audit's water and energy balance closes, or `simulate` refuses; the loop costs litres."""
    material = sorbent(key)
    one_branch = replace(with_slots(material, {SLOT_HYSTERESIS: 0.0}), hysteresis_width=0.0)
    found = [
        float(simulate(PassiveBox(), one, site_of("highland"), keep="year")["water_collected"].sum())
        for one in (material, one_branch)
    ]
    print(f"{key}: {found[0]:.1f} L/m2/year with hysteresis, {found[1]:.1f} without")
    assert 0.4 * found[1] < found[0] < found[1]


def test_the_thermodynamic_factor_follows_from_the_isotherm():
    """Near equilibrium the rate by potential is k G (q - w), G = d ln p / d ln w (Darken1948)."""
    row = with_slots(sorbent("mof_801"), {SLOT_RATE_LAW: RATE_BY_POTENTIAL}).row
    T = 300.0
    for A in (1500.0, 4000.0, 6270.0, 8000.0):
        w = sorbed_state(row, A, T)[0]
        logs = [math.log(sorbed_state(row, A + k, T)[0]) for k in (-0.5, 0.5)]
        factor = 1.0 / ((logs[0] - logs[1]) * GAS_CONSTANT * T)  # ln p falls by 1 / RT
        rest = 1e-5 * w
        found = uptake(row, A, T, w - rest)[0]
        assert found == pytest.approx(uptake_rate(row, T) * factor * rest, rel=2e-3)
        if A == 6270.0:
            assert factor < 0.3  # slow on the step
        if A == 1500.0:
            assert factor > 2.0  # fast where nearly full


def test_every_sheet_without_a_law_keeps_the_short_way():
    short = [key for key in sheet_names() if not sorbent(key).row[[SLOT_HYSTERESIS, SLOT_RATE_LAW]].any()]
    assert len(short) >= len(sheet_names()) - len(WITH_BRANCHES) - 2


def test_by_potential_a_langmuir_solid_has_the_textbook_factor():
    """D = D0 / (1 - theta) for a Langmuir isotherm (Ruthven, Principles of Adsorption, 1984; from memory)."""
    row = empty_row()
    dual_site_langmuir.fill_row(row, [(0.3, 1.3e-11, 46e3)])
    fill_kinetics(row, "sphere", 1e-6, 20e3, 1e-3)
    fill_rate_law(row, True, 0.0, 0.0)
    T = 310.0
    for share in (0.05, 0.3, 0.6, 0.9):
        found = rate_near_equilibrium(row, T, 0.3 * share)
        assert found == pytest.approx(uptake_rate(row, T) / (1.0 - share), rel=1e-6)


def test_a_sheet_states_its_law(tmp_path):
    text = library("silica_gel_regular_density.toml").read_text(encoding="utf-8")
    said = 'unit = "1", spread = 1.0, source = "none", where = "guess", how = "assumed", seen = "memory"'
    numbers = "".join(
        f"{key} = {{ value = {value}, {said} }}\n"
        for key, value in (("loading_exponent", 2.3), ("swelling", 1.5))
    )
    law = 'driving = "potential"\n' + numbers
    path = tmp_path / "mine.toml"
    path.write_text(text.replace("[kinetics]\n", "[kinetics]\n" + law), encoding="utf-8")
    row = sorbent(path).row
    assert row[SLOT_RATE_LAW] == RATE_BY_POTENTIAL
    assert (row[SLOT_LOADING_EXPONENT], row[SLOT_SWELLING]) == (2.3, 1.5)
    path.write_text(text.replace("[kinetics]\n", '[kinetics]\ndriving = "hope"\n'), encoding="utf-8")
    with pytest.raises(SheetError, match="one of loading, potential"):
        sorbent(path)


def test_a_swelling_layer_is_the_slower_the_wetter_and_its_diffusivity_the_faster():
    gel = with_slots(
        sorbent("licl_gel"), {SLOT_RATE_LAW: RATE_BY_LOADING, SLOT_SWELLING: 2.0, SLOT_LOADING_EXPONENT: 2.0}
    )
    dry, wet = gel.rate(300.0, 0.0), gel.rate(300.0, 1.0)
    assert dry == sorbent("licl_gel").rate(300.0)
    assert wet == pytest.approx(dry * math.exp(2.0 * 0.5) / 9.0, rel=1e-12)


def test_grains_of_another_size_follow_the_square_of_the_radius():
    """Chihara-Suzuki: 131 s at 0.17 mm and 1130 s at 0.5 mm, 30 C (values from memory)."""
    gel = sorbent(SILICA)
    assert 1.0 / gel.of_grain(0.17e-3).rate(303.15) == pytest.approx(131.0, rel=0.01)
    assert 1.0 / gel.of_grain(0.5e-3).rate(303.15) == pytest.approx(1130.0, rel=0.01)
    slab = sorbent("licl_gel")
    assert slab.of_grain(1e-4) is slab


@pytest.mark.parametrize("key", ["aluminium_fumarate", SILICA])
def test_the_release_branch_lies_at_the_width(key):
    one, T = sorbent(key), 300.0
    A = one.potential(T, 0.2)
    expected = sorbed_state(one.row, A - one.hysteresis_width, T)[0]
    assert one.release_loading(T, 0.2) == pytest.approx(expected, rel=1e-12)


CASES = {
    "mof_303, by potential": ("mof_303", 3e-3, 8.0, {SLOT_RATE_LAW: RATE_BY_POTENTIAL}),
    "silica gel, by potential": (SILICA, 3e-3, 8.0, {SLOT_RATE_LAW: RATE_BY_POTENTIAL}),
    "zeolite, by potential": ("zeolite_13x", 3e-3, 8.0, {SLOT_RATE_LAW: RATE_BY_POTENTIAL}),
    "gel that swells": (
        "licl_gel",
        5e-4,
        4.0,  # as much as half a millimetre on 4 m2 holds
        {SLOT_RATE_LAW: RATE_BY_LOADING, SLOT_LOADING_EXPONENT: math.log(10.0), SLOT_SWELLING: 2.0},
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_a_year_with_a_law_closes(name):
    """`simulate` refuses a year whose balance or flows the audit does not find again."""
    key, thickness, mass, slots = CASES[name]
    design = PassiveBox(layer_thickness=thickness, sorbent_mass=mass)
    with_law, without = (
        float(simulate(design, one, site_of("highland"), keep="year")["water_collected"].sum())
        for one in (with_slots(sorbent(key), slots), sorbent(key))
    )
    print(f"{name}: {with_law:.1f} L/m2/year, {without:.1f} with the constant rate")
    assert 0.02 * without < with_law < 1.5 * without
