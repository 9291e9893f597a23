"""The slow reference of the passive box against itself, hand cases and the audit's flows."""

from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import passive_box_reference as reference
import pytest
from scipy.optimize import brentq

from welkinwell.climate import read_climate
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.audit import integral_enthalpy, integrated_enthalpy
from welkinwell.harvesters.layer_density import layer_problems
from welkinwell.harvesters.operation import schedule
from welkinwell.harvesters.passive_box.audit import FLOWS, audited_flows, audited_stocks
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulation import TOLERANCES, march_year, prepare
from welkinwell.sorbents import dubinin_astakhov, potential, sips_terms, toth
from welkinwell.sorbents.row import (
    SLOT_ACTIVATION_ENERGY,
    SLOT_DIFFUSION_LENGTH,
    SLOT_DIFFUSIVITY,
    SLOT_SHAPE_FACTOR,
    empty_row,
)
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.transfer.enclosures import enclosure_nusselt

SITE = 95000.0
SIGMA = 5.670374419e-8
ONE_TERM = ((0.36, 4000.0, 1900.0, -6.0),)
TWO_TERMS = ((0.25, 2500.0, 1800.0, -5.0), (0.12, 7000.0, 1500.0, 3.0))
EMPTY = np.array([0, 0, 0, 0, 0, 0, 0, 0, 0.0])


def box(**fields):
    return PassiveBox(**{"vent_temperature": 368.15, **fields})


def sorbent_of(row, porosity=0.35):
    """A stand-in for a data sheet: silica-gel-like kinetics of 0.5 mm grains."""
    row[SLOT_SHAPE_FACTOR], row[SLOT_DIFFUSIVITY] = 15.0, 2.5e-4
    row[SLOT_ACTIVATION_ENERGY], row[SLOT_DIFFUSION_LENGTH] = 42000.0, 0.5e-3

    def loading(T, humidity):
        T, humidity = np.broadcast_arrays(np.asarray(T, float), np.asarray(humidity, float))
        A = -8.314462618 * T * np.log(humidity)
        flat = [potential.sorbed_state(row, a, t)[0] for a, t in zip(A.ravel(), T.ravel(), strict=True)]
        return np.reshape(flat, A.shape)

    return SimpleNamespace(row=row, dry_specific_heat=920.0, layer_porosity=porosity, loading=loading)


def sips(terms=TWO_TERMS, porosity=0.35):
    row = empty_row()
    sips_terms.fill_row(row, terms)
    return sorbent_of(row, porosity)


def steady(days, sun=0.0, T=300.0, pa=1500.0, wind=1.0, sky=None):
    """Air that never changes."""
    sky = SIGMA * T**4 if sky is None else sky
    row = [T, pa, SITE, wind, sky, 0.8 * sun, 0.03 * sun, sun, 0.0]
    return SimpleNamespace(nodes=np.tile(row, (48 * days + 1, 1)), spacing=1800.0, pressure=SITE)


def made_up(days, seed=1):
    """Smooth days with clouds and weather that differ from day to day, and their schedule."""
    rng = np.random.default_rng(seed)
    t = np.arange(days * 48 + 1) * 1800.0
    hour = t / 3600.0 % 24.0
    daily = np.interp(t / 86400.0, np.arange(days + 1), rng.uniform(-1.0, 1.0, days + 1))
    sun = 980.0 * np.maximum(0.0, np.sin((hour - 6.0) / 12.0 * np.pi)) * (0.75 + 0.25 * daily)
    T = 297.0 + 7.0 * np.sin((hour - 9.0) / 12.0 * np.pi) + 3.0 * daily
    pa = np.maximum(1400.0 - 500.0 * daily, 400.0)
    wind = np.interp(t / 3600.0, np.arange(days * 24 + 1), rng.uniform(0.3, 3.0, days * 24 + 1))
    still = np.zeros_like(t)
    nodes = [T, pa, still + SITE, wind, 0.78 * SIGMA * T**4, 0.82 * sun, 0.03 * sun, sun, still]
    air = SimpleNamespace(nodes=np.stack(nodes, 1), spacing=1800.0, pressure=SITE)
    morning = np.arange(days) * 86400.0 + 6.2 * 3600.0
    times = np.concatenate([[0.0], np.stack([morning, morning + 41800.0], 1).ravel()])
    modes = np.array([1] + [0, 1] * days)
    return air, SimpleNamespace(switch_times=times, switch_modes=modes)


def always(mode):
    return SimpleNamespace(switch_times=np.array([0.0]), switch_modes=np.array([mode]))


def random_states(n, seed):
    """States and surroundings all over the place, and both modes."""
    rng = np.random.default_rng(seed)
    Ta = rng.uniform(258.0, 318.0, n)
    Tb = rng.uniform(260.0, 385.0, n)
    films = rng.uniform(-1e-4, [[1.2], [0.3], [0.3]], (3, n)) * rng.choice([0.01, 1.0], n)
    ps = saturation_pressure(Tb) * rng.uniform(0.02, 1.3, n)
    pv = rng.uniform(50.0, 60000.0, n)
    # some vapour pressures just above those of the surfaces, where condensation begins
    Tc = Ta + rng.uniform(-5.0, 25.0, n)
    pv[::5] = saturation_pressure(Tc[::5]) + rng.uniform(-10.0, 30.0, len(pv[::5]))
    ps[1::5] = saturation_pressure(Tb[1::5]) + rng.uniform(-10.0, 30.0, len(ps[1::5]))
    T = [Ta + rng.uniform(-15.0, 40.0, n), Tb, Tc]
    state = np.array([*T, rng.uniform(0.01, 0.36, n), *films, ps, pv])
    outside = [Ta, rng.uniform(50.0, 3500.0, n), rng.uniform(7e4, 1.03e5, n), rng.uniform(0.0, 8.0, n)]
    rest = rng.uniform([[150], [0], [0], [0], [0]], [[450], [900], [40], [1100], [1e-3]], (5, n))
    return state, np.array([*outside, *rest]), rng.integers(0, 2, n)


DESIGNS = {
    "as declared": {},
    "front releases onto the glass": {
        "release_face": "front",
        "front_gap_sealed": False,
        "cover_opens": True,
    },
    "both faces, condenser above": {
        "release_face": "both",
        "front_gap_sealed": False,
        "condenser_position": "above",
        "tilt": 0.1,
    },
    "inclined gap, steep": {"gap_circulation": "inclined", "tilt": 1.2, "open_faces": 2, "rain_catch": 0.4},
    "condenser beside, bare bed": {
        "condenser_position": "beside",
        "cover_opens": True,
        "bed_open_emissivity": 0.9,
        "bed_sky_view": 0.6,
        "tilt": 0.5 * np.pi,
    },
    "circulating, flat, no gutter": {"gap_circulation": "inclined", "tilt": 0.0, "glazing_gutter": False},
}


@pytest.mark.parametrize("name", DESIGNS)
@pytest.mark.parametrize("porosity", [0.35, 0.0])
def test_the_audit_and_the_reference_agree_on_every_flow(name, porosity):
    design, sorbent = box(**DESIGNS[name]), sips(porosity=porosity)
    state, air, mode = random_states(200, seed=len(name))
    theirs = reference.flows_of(design, sorbent, SITE, state, air, mode)
    ours = audited_flows(state, air, mode, design, sorbent, SITE)
    assert ours.shape == (37, 200)
    assert reference.FLOWS == FLOWS
    # relative to each value; where its own terms cancel, to 1e-4 of the largest of that flow
    scale = np.maximum(np.abs(theirs), 1e-4 * np.max(np.abs(theirs), axis=1, keepdims=True))
    miss = np.abs(ours - theirs) / np.where(scale == 0.0, 1.0, scale)
    worst = np.unravel_index(np.argmax(miss), miss.shape)
    assert miss.max() < 1e-10, f"{FLOWS[worst[0]]}: {ours[worst]} against {theirs[worst]}"


def test_every_flow_is_met_by_some_design():
    seen = np.zeros(37, dtype=bool)
    for fields in DESIGNS.values():
        state, air, mode = random_states(100, seed=3)
        seen |= np.any(audited_flows(state, air, mode, box(**fields), sips(), SITE) != 0.0, axis=1)
    assert [name for name, met in zip(FLOWS, seen, strict=True) if not met] == []


# What crosses the box's boundary, with its sign; latent heat of booked vapour is added below.
WATER_IN = {"air_to_bed": 1, "leak": -1, "vent": -1, "collected": -1, "glazing_drained": -1, "bed_runoff": -1}
WATER_IN |= {"rain_on_bed": 1, "air_to_condenser": 1, "air_to_glazing": 1}
HEAT_IN = dict.fromkeys(("sun_absorber", "sun_glazing", "sun_condenser", "rain_heat"), 1)
HEAT_IN |= dict.fromkeys(("air_vapour_to_bed", "air_vapour_to_condenser", "air_vapour_to_glazing"), 1)
HEAT_IN |= dict.fromkeys(("glazing_longwave", "glazing_convection", "condenser_convection"), -1)
HEAT_IN |= dict.fromkeys(("condenser_longwave", "edge_loss", "bed_convection", "bed_longwave"), -1)
HEAT_IN |= dict.fromkeys(("leak_heat_bed", "leak_heat_condenser"), -1)
HEAT_IN |= dict.fromkeys(("collected_heat", "glazing_drained_heat", "bed_runoff_heat"), -1)
BOOKED = 2.5009e6 + 1816.0 * 40.0


@pytest.mark.parametrize("name", DESIGNS)
@pytest.mark.parametrize("terms", [ONE_TERM, TWO_TERMS])
def test_slopes_of_the_natural_form_move_the_stocks_by_what_crosses_the_boundary(name, terms):
    """Product rule, integral enthalpy and film ice: the reference's slopes against the audit's stocks."""
    design, sorbent = box(**DESIGNS[name]), sips(terms)
    state, air, mode = random_states(12, seed=7)
    state[:3, 6:] = 273.15 + np.random.default_rng(1).uniform(-0.8, 0.4, (3, 6))  # films that half freeze
    flows = dict(zip(FLOWS, audited_flows(state, air, mode, design, sorbent, SITE), strict=True))
    core = reference.right_hand_side(design, sorbent, SITE)
    for k in range(state.shape[1]):
        slope = np.array(core(mode[k] == 0, *state[:, k].tolist(), *air[:, k].tolist(), None)[:9])
        water_in = sum(sign * flows[f][k] for f, sign in WATER_IN.items())
        heat_in = sum(sign * flows[f][k] for f, sign in HEAT_IN.items())
        heat_in += BOOKED * (flows["air_to_bed"][k] - flows["leak"][k] - flows["vent"][k])
        step = 1e-4 / max(np.max(np.abs(slope[:3])), np.max(np.abs(slope[3:7]) * 100), 1e-4)
        moved = [audited_stocks(state[:, k] + s * step * slope, design, sorbent) for s in (-2, -1, 1, 2)]
        for what, through in (("water", water_in), ("energy", heat_in)):
            a, b, c, d = (stock[what] for stock in moved)
            by_difference = (a - 8.0 * b + 8.0 * c - d) / (12.0 * step)
            size = sum(abs(flows[f][k]) for f in (WATER_IN if what == "water" else HEAT_IN))
            size += abs(flows["sorption"][k]) * (1.0 if what == "water" else 2.5e6)
            rounding = 1e-14 * max(abs(a), 1.0) / step
            assert by_difference == pytest.approx(through, abs=1e-6 * size + rounding), (what, k)


def test_a_sealed_dark_box_keeps_its_water():
    design = box(leak=0.0, vent_air_changes=0.0)
    sorbent, air = sips(), steady(2, sky=250.0)
    start = np.array([310.0, 350.0, 300.0, 0.25, 0.0, 0.0, 0.01, 8000.0, 3000.0])
    result = reference.simulate_reference(
        design, sorbent, air, always(0), 1e-7, start=start, hours=48, outputs=[3600.0]
    )
    before = audited_stocks(start, design, sorbent)["water"]
    after = audited_stocks(result["end"], design, sorbent)["water"]
    assert result["states"][0, 6] > 0.02  # it did condense, though the cold bed took it back later
    assert after + result["collected"] == pytest.approx(before, abs=1e-6)


def test_an_open_bed_in_still_conditions_comes_to_rest_with_the_air():
    design, sorbent, air = box(cover_opens=True), sips(), steady(20, sky=SIGMA * 300.0**4)
    start = np.array([290.0, 310.0, 300.0, 0.05, 0.0, 0.0, 0.0, 500.0, 500.0])
    end = reference.simulate_reference(design, sorbent, air, always(1), 1e-7, start=start, hours=480)["end"]
    at_rest = sorbent.loading(300.0, 1500.0 / saturation_pressure(300.0))
    assert end[:3] == pytest.approx([300.0] * 3, abs=1e-3)
    assert end[3] == pytest.approx(float(at_rest), rel=1e-4)
    assert end[7:] == pytest.approx([1500.0] * 2, rel=1e-4)


def test_top_loss_at_stagnation_meets_the_textbook_example():
    """Duffie and Beckman, Solar Engineering of Thermal Processes, example 6.4.1: 6.6 W/(m2 K).

    (Value from memory.) Black plate at 100 C, one glass, gap 25 mm, tilt 45 degrees, air and sky 10 C,
    wind coefficient 10 W/(m2 K).
    """
    plate, air_T = 373.15, 283.15
    design = box(front_gap=0.025, absorber_emissivity=0.95, tilt=np.pi / 4.0, wind_slope=0.0)
    sky = np.array([air_T, 500.0, 101325.0, 0.0, SIGMA * air_T**4, 0.0, 0.0, 0.0, 0.0])[:, None]

    def flows(glass):
        free = (9.482 / (7.283 - np.cos(np.pi / 4.0))) ** 3 * (glass - air_T)
        windy = box(**{**vars(design), "wind_constant": (1000.0 - free) ** (1.0 / 3.0)})
        state = np.array([glass, plate, 300.0, 0.01, 0.0, 0.0, 0.0, 1000.0, 1000.0])[:, None]
        found = reference.flows_of(windy, sips(), 101325.0, state, sky, np.array([0]))
        return dict(zip(FLOWS, found[:, 0], strict=True))

    def excess(glass):
        f = flows(glass)
        return f["cover_radiation"] + f["cover_convection"] - f["glazing_longwave"] - f["glazing_convection"]

    f = flows(brentq(excess, 290.0, 370.0))
    top_loss = (f["cover_radiation"] + f["cover_convection"]) / (plate - air_T)
    assert top_loss == pytest.approx(6.6, rel=0.02)


@pytest.mark.parametrize("terms", [ONE_TERM, TWO_TERMS])
def test_integral_enthalpy_is_the_same_by_closed_form_and_by_quadrature(terms):
    sorbent = sips(terms)
    for w in (0.02, 0.15, 0.3):
        for T in (285.0, 360.0):
            assert integral_enthalpy(sorbent, w, T) == pytest.approx(
                integrated_enthalpy(sorbent, w, T), rel=1e-8
            )


@pytest.mark.parametrize("form", ["toth", "dubinin_astakhov", "sips_terms"])
def test_integral_enthalpy_meets_the_potential_of_every_form(form):
    row = empty_row()
    if form == "toth":
        toth.fill_row(row, 0.3, 1.1e-9, 6500.0, 0.35, 20.0)
    elif form == "dubinin_astakhov":
        dubinin_astakhov.fill_row(row, 0.35, 4000.0, 1.5, False)
    else:
        sips_terms.fill_row(row, TWO_TERMS)
    sorbent = sorbent_of(row)
    for A in (1500.0, 4000.0, 9000.0):
        for T in (285.0, 350.0):
            q, _, _, enthalpy, _ = potential.sorbed_state(row, A, T)
            assert integral_enthalpy(sorbent, q, T) == pytest.approx(enthalpy, rel=1e-7), (A, T)


def test_the_short_texts_for_speed_are_those_of_the_project():
    """The reference writes saturation and the tilted enclosure once more, value only."""
    core = reference.right_hand_side(box(), sips(), SITE)
    inner = dict(
        zip(core.__code__.co_freevars, (cell.cell_contents for cell in core.__closure__), strict=True)
    )
    for T in (215.0, 240.0, 265.0, 280.0, 330.0, 390.0):
        assert inner["liquid"](T) == pytest.approx(saturation_pressure(T), rel=1e-13)
    gap = inner["gap"]
    gentle = dict(zip(gap.__code__.co_freevars, (c.cell_contents for c in gap.__closure__), strict=True))[
        "gentle"
    ]
    for ra in np.geomspace(10.0, 1e7, 60):
        assert gentle(ra) == pytest.approx(enclosure_nusselt(ra, box().tilt)[0], rel=1e-13)


def test_reference_agrees_with_itself_at_tighter_tolerance_and_by_another_method():
    air, plan = made_up(6)
    design, sorbent = box(), sips()
    tight = reference.simulate_reference(design, sorbent, air, plan, 1e-9, hours=72)
    loose = reference.simulate_reference(design, sorbent, air, plan, 1e-6, hours=72)
    other = reference.simulate_reference(
        design, sorbent, air, plan, 1e-5, hours=72, method="BDF", start=tight["start"]
    )
    assert tight["litres"] > 1.0
    assert loose["litres"] == pytest.approx(tight["litres"], rel=2e-5)
    assert other["litres"] == pytest.approx(tight["litres"], rel=2e-4)
    assert other["daily_litres"] == pytest.approx(tight["daily_litres"], rel=1e-3)
    assert loose["end"] == pytest.approx(tight["end"], rel=1e-4, abs=1e-6)
    assert loose["air_to_bed"] == pytest.approx(tight["air_to_bed"], rel=2e-5)


def test_reference_closes_its_water_ledger():
    air, plan = made_up(6)
    design, sorbent = box(), sips()
    found = reference.simulate_reference(design, sorbent, air, plan, 1e-8, hours=72)
    held = [audited_stocks(found[which], design, sorbent)["water"] for which in ("start", "end")]
    gained = found["air_to_bed"] - found["leak"] - found["vent"] - found["collected"] + found["other_water"]
    assert held[1] - held[0] == pytest.approx(gained, abs=1e-6)


@pytest.mark.long
def test_the_compiled_text_is_the_plain_one():
    air, _ = made_up(2)
    for fields in DESIGNS.values():
        design = box(**fields)
        plain = reference.Marcher(design, sips(), air)
        fast = reference.Marcher(design, sips(), air, compiled=True)
        y = np.array([310.0, 340.0, 300.0, 0.2, 0.001, 0.02, 0.1, 4000.0, 3000.0, *[0.0] * 7])
        for mode in (0, 1):
            assert fast.slope[mode](40000.0, y) == pytest.approx(plain.slope[mode](40000.0, y), rel=1e-11)


# The fast march against all of this

WEATHER = Path(__file__).parents[2] / "examples" / "weather"
SHEETS = ("silica_gel_regular_density", "aluminium_fumarate", "mof_801", "licl_gel")


@cache
def site_of(name):
    return surroundings(read_climate(next(WEATHER.glob(f"{name}*"))))


def drawn(seed):
    """One random ordinary case, ready to march."""
    rng = np.random.default_rng(seed)
    site = site_of(("coast", "desert", "tropics", "highland")[seed % 4])
    design, material = reference.ordinary_design(rng), sorbent(SHEETS[int(rng.integers(len(SHEETS)))])
    if layer_problems(design, material):  # a layer that cannot exist: as much as fits at its bulk density
        mass = material.bulk_density * design.layer_thickness * design.bed_area
        design = replace(design, sorbent_mass=mass)
    material = material.as_solution()  # the reference knows Sips terms, so the gel's salt stays dissolved
    return prepare(design, material, site), rng


def both(ready, rtol):
    """The year's (or period's) litres and daily litres by the march and by the reference."""
    _, result = march_year(ready, tolerance=TOLERANCES["normal"], keep="hours")
    flows = result.flows.sum(axis=1)
    hourly = flows[:, PASSIVE_BOX.flow_number("collected")]
    if ready.design.glazing_gutter:
        hourly = hourly + flows[:, PASSIVE_BOX.flow_number("glazing_drained")]
    slow = reference.simulate_reference(
        ready.design, ready.sorbent, ready.air, ready.plan, rtol, ledgers=1, site_pressure=ready.air.pressure
    )
    return hourly.reshape(-1, 24).sum(axis=1), slow["daily_litres"], slow


@pytest.mark.parametrize("seed", range(6))
def test_the_march_meets_the_reference_for_ten_days(seed):
    ready, rng = drawn(seed)
    day = int(rng.integers(0, 350))
    air = reference.period(ready.air, 24 * day, 24 * (day + 10))
    ready = replace(ready, air=replace(air, pressure=ready.air.pressure), plan=schedule(ready.design, air))
    ours, theirs, slow = both(ready, 1e-6)
    assert theirs.sum() == pytest.approx(slow["litres"], rel=1e-9)
    assert ours.sum() == pytest.approx(theirs.sum(), rel=5e-3, abs=5e-3)


@pytest.mark.parametrize("key", ["aluminium_fumarate", "mil_101_cr", "sapo_34"])
def test_two_branches_meet_the_reference_for_ten_days(key):
    ready = prepare(PassiveBox(), sorbent(key), site_of("coast"))
    air = reference.period(ready.air, 24 * 200, 24 * 210)
    ready = replace(ready, air=replace(air, pressure=ready.air.pressure), plan=schedule(ready.design, air))
    ours, theirs, _ = both(ready, 1e-6)
    print(f"{key}: {ours.sum():.4f} against {theirs.sum():.4f} L/m2")
    assert ours.sum() == pytest.approx(theirs.sum(), rel=5e-3)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(100, 120))
def test_the_march_meets_the_reference_for_a_year(seed):
    ready, _ = drawn(seed)
    ours, theirs, _ = both(ready, 1e-6)
    off = np.abs(ours - theirs)
    worst = np.max(off / np.maximum(theirs, theirs.mean()))  # of that day's litres, or of a mean day's
    miss = 100 * (ours.sum() / theirs.sum() - 1)
    found = (
        f"{miss:+.3f} %, worst day {100 * worst:.2f} % ({100 * off.max() / theirs.mean():.2f} of a mean day)"
    )
    print(f"{seed}: {theirs.sum() / 365:.4f} L/m2/day, {found}")
    assert ours.sum() == pytest.approx(theirs.sum(), rel=5e-3)
    assert worst < 0.03
