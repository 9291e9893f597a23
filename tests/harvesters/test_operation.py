"""When a box opens and closes: exact roots, the site's clock, rain, and the pressure rule in the march."""

from dataclasses import replace

import numpy as np
import pytest

from box_cases import SILICA, box, site_of, steady_air
from welkinwell.harvesters.operation import BY_STATE, CLOSED, OPEN, SHORTEST_STAY, schedule, segments
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX
from welkinwell.simulation import march_year, prepare
from welkinwell.sorbents.potential import potential_at_loading
from welkinwell.sorbents.sorbent import sorbent

SUN, RAIN = 7, 8


def with_sun(days, values):
    """Steady air with sun on the plane that runs linearly between given half-hour nodes."""
    air = steady_air(days)
    air.nodes[:, SUN] = np.resize(values, air.nodes.shape[0])
    return air


def test_sun_switches_are_the_roots_by_hand():
    """0 at 6:00, 120 W/m2 at 6:30: 30 W/m2 are passed 7.5 min after 6:00; down 240 to 0 over half an hour
    before 18:00: 30 W/m2 are met 3.75 min before 18:00."""
    day = np.zeros(48)
    day[13:36] = np.concatenate([[120.0], np.full(22, 240.0)])
    plan = schedule(box(), with_sun(2, day))
    assert plan.switch_modes.tolist() == [OPEN, CLOSED, OPEN, CLOSED, OPEN]
    expected = np.array([0.0, 6 * 3600 + 450.0, 18 * 3600 - 225.0])
    assert plan.switch_times[:3] == pytest.approx(expected, abs=1e-6)
    assert plan.switch_times[3:] == pytest.approx(expected[1:] + 86400.0, abs=1e-6)


@pytest.mark.parametrize("place", ["coast", "highland"])
def test_sun_switches_are_exact_in_real_weather(place):
    design = box(close_above=75.0)
    ready = prepare(design, sorbent(SILICA), site_of(place))
    times = ready.plan.switch_times[1:]
    at = np.interp(times, np.arange(len(ready.air.nodes)) * 1800.0, ready.air.nodes[:, SUN])
    assert times.size > 600
    assert at == pytest.approx(75.0, abs=1e-6)
    assert np.diff(times).min() >= SHORTEST_STAY
    # and the mode between them is the right one, but for stays too short to count
    middle = 0.5 * (times[1:] + times[:-1])
    sun = np.interp(middle, np.arange(len(ready.air.nodes)) * 1800.0, ready.air.nodes[:, SUN])
    right = (sun > 75.0) == (ready.plan.switch_modes[1:-1] == CLOSED)
    assert right.mean() > 0.98


def test_clock_runs_in_the_sites_standard_time():
    """A record that starts at 8:00 of the site's time: open from 18:00, that is 10 h after, to 7:00."""
    design = box(operation="clock")
    plan = schedule(design, steady_air(3, local=8 * 3600.0))
    assert plan.switch_times[:3] == pytest.approx([0.0, 10 * 3600.0, 23 * 3600.0])
    assert plan.switch_modes[:3].tolist() == [CLOSED, OPEN, CLOSED]


def test_clock_at_a_real_place():
    """Western Australia keeps UTC+8, and the file starts at midnight UTC."""
    site = site_of("coast")
    ready = prepare(box(operation="clock", open_at=19 * 3600.0, close_at=6.5 * 3600.0), sorbent(SILICA), site)
    start = site.climate["time"].values[0] + np.timedelta64(8, "h")
    for t, mode in zip(ready.plan.switch_times[1:], ready.plan.switch_modes[1:], strict=True):
        local = start + np.timedelta64(round(t), "s")
        seconds = (local - local.astype("datetime64[D]")) / np.timedelta64(1, "s")
        assert seconds == (19 * 3600.0 if mode == OPEN else 6.5 * 3600.0)
    assert ready.plan.switch_times.size == 1 + 2 * 365


@pytest.mark.parametrize("rule", ["clock", "pressure", "sun"])
def test_closed_in_hours_with_rain(rule):
    rainy = np.zeros(48, dtype=bool)
    rainy[[1, 2, 30]] = True
    air = replace(steady_air(2), rainy=rainy)
    design = box(operation=rule, open_at=0.0, close_at=24 * 3600.0 - 1.0)
    plan = schedule(design, air)

    def mode_at(hour):
        return plan.switch_modes[np.searchsorted(plan.switch_times, hour * 3600.0, side="right") - 1]

    assert [mode_at(h) for h in (1.1, 2.9, 30.5)] == [CLOSED] * 3
    dry = BY_STATE if rule == "pressure" else OPEN
    assert [mode_at(h) for h in (0.5, 3.1, 29.9, 31.1)] == [dry] * 4
    wet = schedule(replace(design, closed_in_rain=False), air)
    assert CLOSED not in wet.switch_modes[wet.switch_times < 20 * 3600.0]


def test_segments_cover_the_period_without_gap_or_overlap():
    ready = prepare(box(), sorbent(SILICA), site_of("desert"))
    starts, ends, node, mode, hour = segments(ready.plan, ready.air, 48, 24 * 40)
    assert starts[0] == 48 * 3600.0
    assert ends[-1] == 24 * 40 * 3600.0
    assert np.array_equal(starts[1:], ends[:-1])
    assert np.all(ends > starts)
    assert np.all(node * 1800.0 <= starts + 1e-3)
    assert np.all(ends <= (node + 1) * 1800.0 + 1e-3)
    assert np.array_equal(hour, (0.5 * (starts + ends) // 3600).astype(int))
    assert set(mode) == {OPEN, CLOSED}


def test_pressure_rule_waits_half_an_hour_and_opens_below_its_share():
    """Each move of a marched month: half an hour from the last, the bed drier than 0.98 of the air where it
    opens and wetter where it closes (0.02 of hysteresis), to within a step of ten seconds."""
    ready = prepare(box(operation="pressure"), sorbent(SILICA), site_of("coast"))
    _, result = march_year(ready, tolerance=1e-3, record=True, last_hour=24 * 30)
    time, mode = result.record_time[:, 0], result.record_time[:, 2]
    moves = np.flatnonzero(np.diff(mode)) + 1
    assert moves.size > 40
    assert np.diff(time[moves]).min() >= 1800.0 - 1e-6

    def drive(k):
        y = result.record[k, 0].copy()
        node = int(result.record_time[k, 3])
        share = time[k] / 1800.0 - node
        air = ready.air.nodes[node] + share * (ready.air.nodes[node + 1] - ready.air.nodes[node])
        A = potential_at_loading(ready.row, y[3], y[1], 3000.0)
        return PASSIVE_BOX.opening_drive(y, air, ready.numbers, ready.row, A)

    drives = np.array([drive(k) for k in moves])
    opens = mode[moves] == OPEN
    assert np.all(drives[opens] < 0.98 + 0.02)
    assert np.all(drives[~opens] > 1.00 - 0.02)
    # moves that the dwell did not hold back happen at the threshold
    free = np.diff(time[moves], prepend=-1e9) > 3600.0
    assert np.abs(drives[opens & free] - 0.98).max() < 0.05
    # and in between the box is where the rule wants it
    steady = np.setdiff1d(np.arange(0, len(time), 20), np.concatenate([moves - 1, moves]))
    since = time[steady] - np.concatenate([[-1e9], time[moves]])[np.searchsorted(moves, steady, side="right")]
    for k in steady[since > 2400.0]:
        if mode[k] == OPEN:
            assert drive(k) < 1.0 + 0.03
        else:
            assert drive(k) > 0.98 - 0.03


def test_opening_onto_a_hot_bed_loses_water():
    """The clock that opens at 14:00 gives vapour back to the air; one that opens at 19:00 gives little."""

    def lost(open_at):
        design = box(operation="clock", open_at=open_at * 3600.0, close_at=7 * 3600.0)
        ready = prepare(design, sorbent(SILICA), site_of("coast"))
        _, result = march_year(ready, tolerance=1e-3, keep="hours", last_hour=24 * 20)
        flow = result.flows[:, 1, PASSIVE_BOX.flow_number("air_to_bed")]
        return float(np.maximum(-flow, 0.0).sum())

    early, late = lost(14.0), lost(19.0)
    print(f"given back in twenty days: {early:.2f} kg/m2 opened at 14, {late:.2f} at 19")
    assert early > 3.0 * late
    assert early > 1.0
