"""One harvester, one weather year: from a design, a sorbent and a climate to the year's Dataset."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import pairwise
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.errors import InputError, Problem, SolverError, StepLimitError
from welkinwell.harvesters.air import (
    COLUMNS,
    PER_HOUR,
    PRESSURE,
    TEMPERATURE,
    VAPOUR_PRESSURE,
    AirRecord,
    Surroundings,
    surroundings,
)
from welkinwell.harvesters.best_cycles import best_cycles, cycle_table
from welkinwell.harvesters.harvester import Harvester, Kind
from welkinwell.harvesters.kinds import LISTED, harvester_of
from welkinwell.harvesters.layer_density import layer_problems
from welkinwell.harvesters.operation import CLOSED, OPEN, Schedule, segments
from welkinwell.harvesters.power_cuts import STAYS, CutTimes, Outage, cut_times, laid_over
from welkinwell.numerics.march import (
    MarchInput,
    MarchResult,
    MarchState,
    build_march,
    run_march,
)
from welkinwell.sorbents.row import FORM_SALT_HYDRATES, ROW_LENGTH, SLOT_FORM, SLOT_HYSTERESIS
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.year import DAYS_IN_MONTH, Run, year_dataset

TOLERANCES: Final = {"screening": 3e-2, "fast": 1e-2, "normal": 3e-3, "fine": 1e-4, "check": 1e-5}
SPIN_UP_DAYS: Final = 5
STEP_LIMIT: Final = 20000  # in one half hour
NEVER_SWITCHED: Final = 1e9  # s
BEST: Final = "best"  # operation that takes its lengths from a table made by marching
TIME_TO_SETTLE: Final = 12.0 * 3600.0  # s in steady air, from rest, and two cycles, before one is measured
RECORD_PER_DAY: Final = 400  # steps kept for the audit's balance at first


@dataclass(frozen=True)
class Prepared:
    """A harvester ready to march: everything but the state. sorbent: None for kinds that take none.

    outage: what it does without electricity, None where there is always some or it needs none.
    """

    harvester: Harvester
    design: Any
    sorbent: Sorbent | None
    air: AirRecord
    plan: Schedule
    numbers: Any
    row: NDArray[np.float64]
    outage: Outage | None = None


def prepare(
    design: Any, sorbent: Sorbent | None, site: Surroundings, air: AirRecord | None = None
) -> Prepared:
    """Bring a design, a sorbent and a site together.

    Raises InputError when one is missing, and for a layer of sorbent that cannot exist.

    air: record of the device's air where it is known already, from a design that differs in nothing that
    the air sees (mass, thickness), so that it need not be made again.
    """
    listed = LISTED[design.kind]
    if listed.takes_sorbent and sorbent is None:
        raise InputError(Problem("sorbent", "nothing", f"a sorbent for a {listed.title}"))
    if not listed.takes_sorbent:
        sorbent = None
    if problems := layer_problems(design, sorbent):
        raise InputError(problems)
    harvester = harvester_of(design)
    design, sorbent = harvester.fitted(design, sorbent)
    air = harvester.air(design, site) if air is None else air
    row = np.zeros(ROW_LENGTH) if sorbent is None else sorbent.row
    numbers = harvester.numbers(design, sorbent, air.pressure)
    ready = Prepared(harvester, design, sorbent, air, harvester.plan(design, air), numbers, row)
    return planned(ready, cut_times(site.climate))


def planned(ready: Prepared, cuts: CutTimes | None = None) -> Prepared:
    """Plan a prepared device for its design and air, its hours without electricity among it.

    cuts: None for those that it has; a table of best cycles is then kept too, as a controller would. Gives a
    Prepared with plan and outage made anew.
    """
    harvester, design, air = ready.harvester, ready.design, ready.air
    by_table = getattr(design, "operation", "") == BEST
    if by_table and cuts is not None:
        table = cycle_table(air, partial(_water_rate, replace(ready, outage=None)))
        ready = replace(ready, plan=best_cycles(air, table))
    elif not by_table and cuts is None:
        ready = replace(ready, plan=harvester.plan(design, air))
    if cuts is None:
        cuts = ready.outage.times if ready.outage is not None else None
    if harvester.unpowered is None or cuts is None or len(cuts.spells) == 0:
        return ready
    off = harvester.unpowered(design)
    numbers = harvester.numbers(off.design, ready.sorbent, air.pressure)
    plan = laid_over(ready.plan, cuts, air.hours * 3600.0, off)
    return replace(ready, outage=Outage(off.design, numbers, cuts, plan))


def _water_rate(
    ready: Prepared, temperature: float, vapour_pressure: float, uptake: float, release: float
) -> float:
    """Water that condenses in steady air without sun, once cycles of such lengths repeat [kg/(m2 s)]."""
    cycle = uptake + release
    settling = max(2, math.ceil(TIME_TO_SETTLE / cycle))
    hours = math.ceil((settling + 1) * cycle / 3600.0)
    nodes = np.zeros((PER_HOUR * hours + 1, len(COLUMNS)))
    nodes[:, [TEMPERATURE, VAPOUR_PRESSURE, PRESSURE]] = temperature, vapour_pressure, ready.air.pressure
    begins = np.arange(settling + 2) * cycle  # the last one ends what is measured
    times = np.column_stack([begins, begins + uptake]).ravel()
    steady = replace(
        ready,
        air=replace(ready.air, nodes=nodes, rainy=None),
        plan=Schedule(times, np.tile([OPEN, CLOSED], begins.size)),
        outage=None,
    )
    starts, ends, node, mode, _ = segments(steady.plan, steady.air, 0, hours)
    kept = 0.5 * (starts + ends) < (settling + 1) * cycle
    bucket = (0.5 * (starts + ends) > settling * cycle).astype(np.int64)
    given = MarchInput(
        nodes, steady.air.spacing, starts[kept], ends[kept], node[kept], mode[kept], bucket[kept], 2, False
    )
    result = _run(steady, steady.numbers, given, _at_rest(steady, 0), TOLERANCES["fast"], 0)
    water = result.flows[1, :, steady.harvester.kind.flow_number("condensation")].sum()
    return float(water / cycle)


def march_year(
    ready: Prepared,
    *,
    tolerance: float,
    keep: str = "hours",
    record: bool = False,
    first_hour: int = 0,
    last_hour: int | None = None,
    start: MarchState | None = None,
) -> tuple[MarchState, MarchResult]:
    """March a prepared harvester; returns the state at the start and the result.

    Without a start, the last days of the period are run first and the year begins where they end. A march
    whose step shrinks to nothing is tried once more at a tenth of its tolerance.
    """
    last_hour = ready.air.hours if last_hour is None else last_hour
    if ready.row[SLOT_HYSTERESIS] > 0.0:
        # between two branches a loose tolerance throws most steps away and takes longer
        tolerance = min(tolerance, TOLERANCES["normal"])
    try:
        return _from_start(ready, tolerance, keep, record, first_hour, last_hour, start)
    except StepLimitError:
        raise
    except SolverError:
        # a step that shrank to nothing met a corner of an isotherm by chance: other steps go past it
        return _from_start(ready, 0.1 * tolerance, keep, record, first_hour, last_hour, start)


def _from_start(
    ready: Prepared,
    tolerance: float,
    keep: str,
    record: bool,
    first_hour: int,
    last_hour: int,
    start: MarchState | None,
) -> tuple[MarchState, MarchResult]:
    if start is None:
        spin_from = max(first_hour, last_hour - 24 * SPIN_UP_DAYS)
        rest = _at_rest(ready, spin_from)
        spin = _march(ready, rest, tolerance, "year", 0, spin_from, last_hour)
        start = spin.state
    limit = RECORD_PER_DAY * ((last_hour - first_hour) // 24 + 1) if record else 0
    result = _march(ready, start, tolerance, keep, limit, first_hour, last_hour)
    if len(result.record) < result.steps and record:  # hard cases: once more, with room for all
        result = _march(ready, start, tolerance, keep, result.steps, first_hour, last_hour)
    return start, result


def simulate(
    design: Any,
    sorbent: Sorbent | None,
    climate: xr.Dataset | Surroundings,
    *,
    name: str = "harvester",
    keep: str = "hours",
    accuracy: str = "normal",
    audit: bool = True,
) -> xr.Dataset:
    """Simulate one harvester through a weather year.

    design: the sizes and operation of a module of any kind; sorbent: from a data sheet, None for kinds that
    take none; climate: a weather year, or the `surroundings` made of it when several designs share a site;
    keep: "hours", "months" or "year"; accuracy: "screening", "fast", "normal", "fine" or "check"; audit:
    whether the audit recomputes every flow. Returns the year's Dataset (see `year`): per m2 of the kind's
    basis area, SI. Raises SolverError when the march cannot finish; nothing half done is returned.
    """
    site = climate if isinstance(climate, Surroundings) else surroundings(climate)
    ready = prepare(design, sorbent, site)
    return simulate_prepared(ready, site, name=name, keep=keep, accuracy=accuracy, audit=audit)


def simulate_prepared(
    ready: Prepared,
    site: Surroundings,
    *,
    name: str = "harvester",
    keep: str = "hours",
    accuracy: str = "normal",
    audit: bool = True,
) -> xr.Dataset:
    """Simulate a prepared harvester; the other arguments as in `simulate`."""
    if accuracy not in TOLERANCES:
        raise InputError(Problem("accuracy", repr(accuracy), "one of " + ", ".join(TOLERANCES)))
    if keep not in ("hours", "months", "year"):
        raise InputError(Problem("keep", repr(keep), "one of hours, months, year"))
    start, result = march_year(ready, tolerance=tolerance_of(ready, accuracy), keep=keep, record=audit)
    run = Run(
        name=name,
        harvester=ready.harvester,
        design=ready.design,
        sorbent=ready.sorbent,
        air=ready.air,
        climate=site.climate,
        start=start,
        result=result,
        keep=keep,
        accuracy=accuracy,
        audited=audit,
        outage=ready.outage,
    )
    return year_dataset(run)


def tolerance_of(ready: Prepared, accuracy: str) -> float:
    """Give the tolerance of an accuracy [1], tighter for sheets with crystals.

    Where crystals come and go a loose tolerance errs by per cents and takes longer, too.
    """
    tolerance = TOLERANCES[accuracy]
    return min(tolerance, TOLERANCES["fine"]) if ready.row[SLOT_FORM] == FORM_SALT_HYDRATES else tolerance


@cache
def compiled_march(kind: Kind) -> Any:
    """Bind the march to a kind; compiled on its first call, or read from the cache of compiled code."""
    return build_march(
        kind.name,
        kind.wiring(),
        kind.fill_flows,
        kind.fill_stocks,
        kind.recover,
        kind.opening_drive,
        kind.error_scales,
    )


def month_of_hour(hours: int) -> NDArray[np.int64]:
    """Month (0 to 11) of each hour of a year of 365 days."""
    days = np.repeat(np.arange(12), DAYS_IN_MONTH)
    return np.repeat(days, 24)[:hours]


def _at_rest(ready: Prepared, hour: int) -> MarchState:
    """A device at rest in the air of an hour."""
    kind = ready.harvester.kind
    n = len(kind.unknowns)
    y, U, S = np.zeros(n), np.zeros(n), np.zeros((n, n))
    air = ready.air.nodes[hour * 2]
    A = kind.rest(air, ready.numbers, ready.row, y)
    kind.fill_stocks(y, ready.numbers, ready.row, A, U, S)
    return MarchState(U, y, A, OPEN, NEVER_SWITCHED)


def _march(
    ready: Prepared,
    start: MarchState,
    tolerance: float,
    keep: str,
    record_limit: int,
    first_hour: int,
    last_hour: int,
) -> MarchResult:
    plan = ready.plan if ready.outage is None else ready.outage.plan
    starts, ends, node, mode, hour = segments(plan, ready.air, first_hour, last_hour)
    hours = last_hour - first_hour
    if keep == "hours":
        bucket, buckets = hour - first_hour, hours
    elif keep == "months":
        bucket, buckets = month_of_hour(last_hour)[hour], 12
    else:
        bucket, buckets = np.zeros_like(hour), 1
    given = MarchInput(
        ready.air.nodes, ready.air.spacing, starts, ends, node, mode, bucket, buckets, keep == "hours"
    )
    if ready.outage is None:
        return _run(ready, ready.numbers, given, start, tolerance, record_limit)
    return _with_cuts(ready, ready.outage, given, start, tolerance, record_limit)


def _run(
    ready: Prepared,
    numbers: Any,
    given: MarchInput,
    start: MarchState,
    tolerance: float,
    record_limit: int,
) -> MarchResult:
    kind, rule = ready.harvester.kind, ready.harvester.rule(ready.design)
    return run_march(
        compiled_march(kind),
        len(kind.flows),
        numbers,
        ready.row,
        given,
        start,
        tolerance=tolerance,
        open_below=rule.open_below,
        close_above=rule.close_above,
        dwell=rule.dwell,
        step_limit=STEP_LIMIT,
        record_limit=record_limit,
    )


def _with_cuts(
    ready: Prepared,
    outage: Outage,
    given: MarchInput,
    start: MarchState,
    tolerance: float,
    record_limit: int,
) -> MarchResult:
    """March from cut to cut, each stretch with the numbers of a device with or without electricity."""
    off = outage.holds(0.5 * (given.starts + given.ends))
    turns = np.flatnonzero(np.diff(off)) + 1
    edges = [0, *turns.tolist(), off.size]
    n = start.y.size
    flows = np.zeros((given.buckets, 2, len(ready.harvester.kind.flows)))
    states = np.zeros((given.buckets if given.keep_states else 0, n))
    open_seconds = np.zeros(given.buckets)
    parts, state = [], start
    for begin, end in pairwise(edges):
        stretch = _stretch(given, begin, end, state.mode)
        numbers = outage.numbers if off[begin] else ready.numbers
        limit = 0
        if (
            record_limit
        ):  # as many steps for each half hour as the whole has, and some for what a switch stirs up
            limit = record_limit * (end - begin) // off.size + RECORD_PER_DAY
        part = _run(ready, numbers, stretch, state, tolerance, limit)
        if record_limit and part.steps > limit:
            part = _run(ready, numbers, stretch, state, tolerance, part.steps)
        state, own = part.state, slice(given.bucket[begin], given.bucket[begin] + stretch.buckets)
        flows[own] += part.flows
        open_seconds[own] += part.open_seconds
        if given.keep_states:
            states[own] = part.states
        parts.append(part._replace(record=part.record.copy(), record_time=part.record_time.copy()))
    return MarchResult(
        state,
        flows,
        states,
        open_seconds,
        np.vstack(
            [
                np.min([part.extremes[0] for part in parts], axis=0),
                np.max([part.extremes[1] for part in parts], axis=0),
            ]
        ),
        sum(part.steps for part in parts),
        sum(part.rejected for part in parts),
        np.concatenate([part.record for part in parts]),
        np.concatenate([part.record_time for part in parts]),
    )


def _stretch(given: MarchInput, begin: int, end: int, found: int) -> MarchInput:
    """Cut segments out of a march; dampers that stay have the mode in which the cut finds them."""
    piece = slice(begin, end)
    mode = np.where(given.mode[piece] == STAYS, found, given.mode[piece])
    bucket = given.bucket[piece] - given.bucket[begin]
    return given._replace(
        starts=given.starts[piece],
        ends=given.ends[piece],
        node=given.node[piece],
        mode=mode,
        bucket=bucket,
        buckets=int(bucket[-1]) + 1,
    )
