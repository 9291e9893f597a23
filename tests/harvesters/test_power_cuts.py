"""Hours without electricity: no kind draws any, the balance closes, the device goes on and comes back."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from box_cases import WEATHER
from welkinwell.climate import read_climate
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.harvester import Bucketed
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.power_cuts import PowerCuts, spells_of, with_power_cuts
from welkinwell.simulation import march_year, prepare
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.year import BALANCE_LIMIT, FLOW_LIMIT, Run, audited_balance

ELECTRIC = ("active_bed", "cooling_coil", "desiccant_wheel", "hybrid", "liquid_desiccant")
HOURS = 10 * 24
EVENING = np.isin(np.arange(8760) % 24, (18, 19, 20, 21))


@cache
def climate():
    return read_climate(next(WEATHER.glob("coast*.gz")))


def site_with(off, **more):
    return surroundings(with_power_cuts(climate(), off, **more))


def design_of(kind, **changes):
    return replace(KINDS[kind].load()(), **changes)


def sheet_of(kind):
    if not KINDS[kind].takes_sorbent:
        return None
    return sorbent("licl_brine" if kind == "liquid_desiccant" else "silica_gel_regular_density")


def run_of(kind, site, hours=HOURS, **changes):
    ready = prepare(design_of(kind, **changes), sheet_of(kind), site)
    start, result = march_year(ready, tolerance=3e-3, record=True, last_hour=hours)
    parts = (ready.harvester, ready.design, ready.sorbent, ready.air, site.climate, start, result)
    return Run(kind, *parts, "hours", "normal", True, ready.outage)


def accounts(run):
    return run.harvester.accounts(Bucketed(run.kind, run.design, run.result.flows))


def electricity(run):
    return sum(accounts(run).electricity.values())


def water(run, name):
    return np.asarray(accounts(run).water[name][0])


@cache
def evening_run(kind):
    return run_of(kind, site_with(EVENING))


@cache
def plain_run(kind):
    return run_of(kind, surroundings(climate()))


@pytest.mark.parametrize("kind", ELECTRIC)
def test_no_electricity_in_a_cut_and_the_balance_closes(kind):
    run = evening_run(kind)
    drawn = electricity(run)
    assert np.all(drawn[EVENING[:HOURS]] == 0.0)
    assert drawn[~EVENING[:HOURS]].sum() > 0.0
    found = audited_balance(run)
    assert abs(found.water_residual_relative) < BALANCE_LIMIT
    assert abs(found.energy_residual_relative) < BALANCE_LIMIT
    assert found.flow_difference < FLOW_LIMIT


@pytest.mark.parametrize("kind", ELECTRIC)
def test_a_flow_of_the_wrong_sign_is_noticed_in_a_cut(kind):
    """As in the balance tests of each kind: every flow that moves something in the record."""
    run = evening_run(kind)
    moved = np.abs(run.result.flows).sum(axis=(0, 1))
    water_flows = [i for i, flow in enumerate(run.kind.flows) if flow.unit == "kg/(m2 s)" and moved[i] > 1e-3]
    for number in water_flows[:4]:
        found = audited_balance(run, flip=number)
        off = abs(found.water_residual_relative) > BALANCE_LIMIT or found.flow_difference > FLOW_LIMIT
        assert off, run.kind.flows[number].name


@pytest.mark.parametrize("kind", ELECTRIC)
def test_a_cut_that_never_comes_changes_nothing(kind):
    run = run_of(kind, site_with(np.zeros(8760, dtype=bool)), hours=72)
    assert run.outage is None
    assert np.array_equal(run.result.flows, run_of(kind, surroundings(climate()), hours=72).result.flows)


@pytest.mark.parametrize("kind", ["active_bed", "cooling_coil", "desiccant_wheel"])
def test_hours_without_electricity_cost_water(kind):
    assert water(evening_run(kind), "water_collected").sum() < water(plain_run(kind), "water_collected").sum()


@pytest.mark.parametrize("kind", ["active_bed", "cooling_coil", "desiccant_wheel"])
def test_without_any_electricity_no_water_is_made(kind):
    """What may still run off was on the surfaces; draught through shut dampers adds next to nothing."""
    run = run_of(kind, site_with(np.ones(8760, dtype=bool)))
    assert electricity(run).sum() == 0.0
    assert water(run, "water_collected").sum() < 0.02 * water(plain_run(kind), "water_collected").sum()


def test_the_hybrid_s_sun_goes_on_without_electricity():
    """Glass and absorber need none: the bed still gets hot behind shut dampers, and its thermostat vents."""
    run = run_of("hybrid", site_with(np.ones(8760, dtype=bool)))
    bed = [unknown.name for unknown in run.kind.unknowns].index("bed_temperature")
    assert run.result.extremes[1, bed] > 350.0
    assert water(run, "water_collected").sum() < 0.1 * water(plain_run("hybrid"), "water_collected").sum()


def test_trays_take_up_without_a_pump_and_wetted_plates_do_not():
    night = np.isin(np.arange(8760) % 24, (20, 21, 22, 23, 0, 1, 2, 3))
    taken = {}
    for absorber in ("tray", "film"):
        run = run_of("liquid_desiccant", site_with(night), absorber=absorber, absorber_area=1.0)
        taken[absorber] = water(run, "water_taken_up")[night[:HOURS]].sum()
    assert taken["film"] == 0.0
    assert taken["tray"] > 0.0


def test_bed_and_box_keep_their_state_through_a_cut_and_go_on():
    """A stretch ends with the stocks with which the next begins: marching on from it gives the same."""
    site = site_with(EVENING)
    ready = prepare(design_of("active_bed"), sheet_of("active_bed"), site)
    start, whole = march_year(ready, tolerance=3e-3, last_hour=48)
    _, first = march_year(ready, tolerance=3e-3, last_hour=20, start=start)  # within a cut
    _, second = march_year(ready, tolerance=3e-3, first_hour=20, last_hour=48, start=first.state)
    again = np.concatenate([first.flows, second.flows]).sum(axis=(0, 1))
    assert again == pytest.approx(whole.flows.sum(axis=(0, 1)), rel=2e-3, abs=1e-3)


def test_dampers_that_stay_open_are_told_from_dampers_that_shut():
    """In uptake when the cut comes: open without a fan it takes nothing, shut it breathes with the loop."""
    off = np.isin(np.arange(8760) % 24, (19, 20, 21))  # uptake ends at 19:00 without a cut
    shut, stay = (run_of("active_bed", site_with(off, dampers=place)) for place in ("shut", "stay"))
    off = off[:HOURS]
    assert np.all(shut.result.open_seconds[off] == 0.0)
    assert shut.result.open_seconds[off].sum() < stay.result.open_seconds[off].sum()
    assert np.all(electricity(stay)[off] == 0.0)
    assert abs(audited_balance(stay).water_residual_relative) < BALANCE_LIMIT


def test_restart_waits_and_a_purge_blows_first():
    off = np.zeros(8760, dtype=bool)
    off[100:104] = True
    slow = run_of("active_bed", site_with(off, restart_delay=1800.0), hours=120)
    quick = run_of("active_bed", site_with(off, restart_delay=0.0), hours=120)
    assert electricity(slow)[104] < 0.8 * electricity(quick)[104]
    purged = run_of("active_bed", site_with(off, restart_delay=0.0, purge=1800.0), hours=120)
    plan = purged.outage.plan
    at = np.searchsorted(plan.switch_times, 104.2 * 3600.0, side="right") - 1
    assert plan.switch_modes[at] == 1
    assert spells_of(slow.climate).tolist() == [[360000.0, 376200.0]]


def test_passive_kinds_need_no_electricity():
    for kind in ("passive_box", "dew_condenser"):
        ready = prepare(design_of(kind), sheet_of(kind), site_with(EVENING))
        assert ready.outage is None


def test_daily_cuts_are_in_local_time_and_in_their_months():
    cuts = PowerCuts(daily=((18, 22), (23, 1)), months=(6, 7))
    off = cuts.hours(climate())
    assert off.sum() == (30 + 31) * 6
    local = climate()["time"].values + np.timedelta64(round(climate().attrs["utc_offset"] * 3600.0), "s")
    clock = (local - local.astype("datetime64[D]")) // np.timedelta64(1, "h")
    assert set(clock[off].tolist()) == {18, 19, 20, 21, 23, 0}
