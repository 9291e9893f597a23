"""A year of hours in one compiled loop: adaptive Rosenbrock steps over stocks, with every flow counted.

The scheme is RODAS3 (Sandu1997): four stages, order 3 with an embedded order 2, L-stable and stiffly
accurate. The state is the stocks; each stage turns the stocks into unknowns exactly; the linear solve is
in increments of the unknowns. Flows are integrated by the same stages as the stocks and the stocks are
changed by those integrals, so bookkeeping closes to round-off at every tolerance. That proves bookkeeping,
not accuracy: accuracy is what the step control and the referees are for.

`build_march(kind)` binds the text below to one kind's compiled functions.
"""

from __future__ import annotations

import math
import types
from collections.abc import Callable
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from welkinwell.compiled import njit
from welkinwell.errors import SolverError, StepLimitError
from welkinwell.numerics.borrowed_arrays import borrowed
from welkinwell.numerics.wiring import Wiring

BY_STATE: Final = -1  # a segment whose mode the device's own state decides

DONE: Final = 0
TOO_MANY_STEPS: Final = 1
STEP_TOO_SMALL: Final = 2
NOT_FINITE: Final = 3

FIRST_STEP: Final = 1.0  # s, after a switch
# s; a few units in the last place of the time within a segment of half an hour. Pores of a thin layer hold so
# little vapour that after a switch they settle within microseconds, and the steps must follow.
LEAST_STEP: Final = 1e-12
LEAST_REST: Final = 1e-6  # s; a shorter rest of a segment is not left over for a step of its own
EVENT_WIDTH: Final = 10.0  # s, to which the moment of a state rule is found
PROBE: Final = 1.0  # s, over which the forcing's own slope is taken
MANY_STEPS: Final = 100  # in half an hour, from which the tolerance is tightened
STEADY_STEPS: Final = 2000  # in half an hour, by which tightening has helped or does not

# Stands in for a kind's functions, so that the text below can be read and linted.
_unbound: Any = None
fill_flows = fill_stocks = recover = opening_drive = error_scales = _unbound
gather = add_flows = carry = assemble = factorise = substitute = solve_stage = rosenbrock_step = _unbound
n_unknowns = n_flows = 0


class Work(NamedTuple):
    """Scratch arrays of one march."""

    phi: NDArray[np.float64]
    phi_t: NDArray[np.float64]
    slopes: NDArray[np.float64]
    S: NDArray[np.float64]
    M: NDArray[np.float64]
    carried: NDArray[np.float64]  # (4, flows): flow integrals of the stages
    delta: NDArray[np.float64]  # (4, unknowns): increments of the stages
    stage_y: NDArray[np.float64]  # (2, unknowns): states of stages 3 and 4
    U: NDArray[np.float64]
    y: NDArray[np.float64]
    spare: NDArray[np.float64]
    scales: NDArray[np.float64]
    air: NDArray[np.float64]
    air_end: NDArray[np.float64]
    air_probe: NDArray[np.float64]
    step_flows: NDArray[np.float64]


def make_work(n_unknowns: int, n_flows: int, n_air: int) -> Work:
    """Allocate the scratch arrays of one march."""
    n, m = n_unknowns, n_flows
    return Work(
        np.zeros(m),
        np.zeros(m),
        np.zeros((m, n)),
        np.zeros((n, n)),
        np.zeros((n, n)),
        np.zeros((4, m)),
        np.zeros((4, n)),
        np.zeros((2, n)),
        np.zeros(n),
        np.zeros(n),
        np.zeros(n),
        np.zeros(n),
        np.zeros(n_air),
        np.zeros(n_air),
        np.zeros(n_air),
        np.zeros(m),
    )


def _solve_stage(stage, half, phi, slopes, M, rates, delta, carried):
    """Solve one stage from phi (its right-hand side, a flow each) and book its flow integrals."""
    gather(phi, rates)
    substitute(M, rates)
    carry(phi, slopes, rates, half, carried, stage)
    for i in range(n_unknowns):
        delta[stage, i] = rates[i]


def _rosenbrock_step(h, U, y, A, mode, numbers, row, tolerance, work):
    """Try one step of h seconds; returns (error over tolerance, potential at the end).

    Reads work.air and work.air_end (surroundings at both ends); leaves the new stocks in work.U, the new
    unknowns in work.y and the flow integrals in work.step_flows.
    """
    n = n_unknowns
    m = n_flows
    half = 0.5 * h  # gamma h
    per_h = 1.0 / h
    fill_flows(y, work.air, mode, numbers, row, True, work.phi, work.slopes)
    probe = min(PROBE / h, 1.0)
    for c in range(work.air.shape[0]):
        work.air_probe[c] = work.air[c] + probe * (work.air_end[c] - work.air[c])
    fill_flows(y, work.air_probe, mode, numbers, row, False, work.phi_t, work.slopes)
    per_probe = per_h / probe
    for f in range(m):
        work.phi_t[f] = (work.phi_t[f] - work.phi[f]) * per_probe
    fill_stocks(y, numbers, row, A, work.spare, work.S)
    assemble(work.S, work.slopes, half, work.M)
    factorise(work.M)

    c = work.carried
    step_flows = work.step_flows
    for f in range(m):
        step_flows[f] = work.phi[f]  # kept for stage 2, which sees the same state
        work.phi[f] += half * work.phi_t[f]
    solve_stage(0, half, work.phi, work.slopes, work.M, work.spare, work.delta, c)
    for f in range(m):
        work.phi[f] = step_flows[f] + 4.0 * per_h * c[0, f] + 1.5 * h * work.phi_t[f]
    solve_stage(1, half, work.phi, work.slopes, work.M, work.spare, work.delta, c)

    for i in range(n):
        work.U[i] = U[i]
        work.y[i] = y[i]
    add_flows(work.U, c, 0, 2.0)
    A = recover(work.U, numbers, row, work.y, A)
    for i in range(n):
        work.stage_y[0, i] = work.y[i]
    fill_flows(work.y, work.air_end, mode, numbers, row, False, work.phi, work.slopes)
    for f in range(m):
        work.phi[f] += (c[0, f] - c[1, f]) * per_h
    solve_stage(2, half, work.phi, work.slopes, work.M, work.spare, work.delta, c)

    add_flows(work.U, c, 2, 1.0)
    A = recover(work.U, numbers, row, work.y, A)
    for i in range(n):
        work.stage_y[1, i] = work.y[i]
    fill_flows(work.y, work.air_end, mode, numbers, row, False, work.phi, work.slopes)
    for f in range(m):
        work.phi[f] += (c[0, f] - c[1, f] - (8.0 / 3.0) * c[2, f]) * per_h
    solve_stage(3, half, work.phi, work.slopes, work.M, work.spare, work.delta, c)

    add_flows(work.U, c, 3, 1.0)
    A = recover(work.U, numbers, row, work.y, A)
    for f in range(m):
        step_flows[f] = 2.0 * c[0, f] + c[2, f] + c[3, f]
    error_scales(y, numbers, row, work.scales)
    worst = 0.0
    for i in range(n):
        e = abs(work.delta[3, i]) / (tolerance * work.scales[i])
        if not e <= worst:  # also when e is not a number
            worst = e
    return worst, A


def _march(
    nodes,
    spacing,
    starts,
    ends,
    node_of,
    mode_of,
    bucket_of,
    numbers,
    row,
    work,
    U,
    y,
    A,
    mode,
    since_switch,
    open_below,
    close_above,
    dwell,
    tolerance,
    step_limit,
    flows_out,
    states_out,
    open_out,
    extremes,
    record,
    record_time,
):
    """March through the segments; see `run_march` for the meaning of every argument.

    Returns (status, time [s], potential, mode, seconds since the last switch, steps, rejected, recorded).
    """
    n = n_unknowns
    m = n_flows
    work = borrowed(work)
    nodes, row, U, y, extremes = borrowed((nodes, row, U, y, extremes))
    starts, ends, node_of, mode_of, bucket_of = borrowed((starts, ends, node_of, mode_of, bucket_of))
    flows_out, states_out, open_out, record, record_time = borrowed(
        (flows_out, states_out, open_out, record, record_time)
    )
    columns = nodes.shape[1]
    h = FIRST_STEP
    steps = 0
    rejected = 0
    recorded = 0
    keep_states = states_out.shape[0] > 0
    record_limit = record.shape[0]
    for s in range(starts.shape[0]):
        begin = starts[s]
        node = node_of[s]
        passed = 0.0  # within the segment: from the year's start doubles resolve no more than some 4e-9 s
        length = ends[s] - begin
        since_node = begin - node * spacing
        by_state = mode_of[s] == BY_STATE
        if not by_state and mode_of[s] != mode:
            mode = mode_of[s]
            since_switch = 0.0
            h = FIRST_STEP
        bucket = bucket_of[s]
        taken = 0
        while passed < length:
            if by_state:
                drive = opening_drive(y, nodes[node], numbers, row, A)
                waited = since_switch >= dwell
                wants = mode
                if mode == 0 and drive < open_below:
                    wants = 1
                elif mode == 1 and drive > close_above:
                    wants = 0
                if wants != mode and waited:
                    mode = wants
                    since_switch = 0.0
                    h = FIRST_STEP
            left = length - passed
            step = h
            if step > left or left - step < min(LEAST_REST, 0.1 * step):
                step = left
            elif step > 0.5 * left:
                step = 0.5 * left  # two even steps rather than one long and one tiny
            if by_state and since_switch < dwell and step > dwell - since_switch:
                step = min(max(dwell - since_switch, min(1e-3, step)), left)
            x0 = (since_node + passed) / spacing
            x1 = (since_node + (passed + step)) / spacing
            for c in range(columns):
                rise = nodes[node + 1, c] - nodes[node, c]
                work.air[c] = nodes[node, c] + x0 * rise
                work.air_end[c] = nodes[node, c] + x1 * rise
            # Across the step of an isotherm a loose tolerance lets the vapour swing from side to side with
            # errors just below it: a segment that takes many steps is judged more strictly. Where that does
            # not calm it the swing is the model's own (a gap that begins to convect, mixes and stops within
            # milliseconds); following it would take all the steps there are, and the scheme damps it.
            strict = tolerance
            if MANY_STEPS < taken < STEADY_STEPS:
                strict *= 0.1 ** min(taken // MANY_STEPS, 4)
            error, A_new = rosenbrock_step(step, U, y, A, mode, numbers, row, strict, work)
            good = error <= 1.0
            if good:
                for i in range(n):
                    if not math.isfinite(work.y[i]):
                        good = False
            if good and by_state and step > 1.01 * EVENT_WIDTH and since_switch + step > dwell:
                drive = opening_drive(work.y, work.air_end, numbers, row, A_new)
                if (mode == 0 and drive < open_below) or (mode == 1 and drive > close_above):
                    h = max(0.3 * step, EVENT_WIDTH)  # come closer to the moment before moving
                    rejected += 1
                    taken += 1
                    if taken > step_limit:
                        return (
                            TOO_MANY_STEPS,
                            begin + passed,
                            A,
                            mode,
                            since_switch,
                            steps,
                            rejected,
                            recorded,
                        )
                    continue
            taken += 1
            if taken > step_limit:
                return TOO_MANY_STEPS, begin + passed, A, mode, since_switch, steps, rejected, recorded
            if not good:
                rejected += 1
                shrink = 0.2
                if math.isfinite(error):
                    shrink = min(max(0.9 * error ** (-1.0 / 3.0), 0.1), 0.7)
                h = step * shrink
                if h < LEAST_STEP:
                    return STEP_TOO_SMALL, begin + passed, A, mode, since_switch, steps, rejected, recorded
                continue
            if recorded < record_limit:
                record_time[recorded, 0] = begin + passed
                record_time[recorded, 1] = step
                record_time[recorded, 2] = mode
                record_time[recorded, 3] = node
                for i in range(n):
                    record[recorded, 0, i] = y[i]
                    record[recorded, 1, i] = work.stage_y[0, i]
                    record[recorded, 2, i] = work.stage_y[1, i]
                    for k in range(4):
                        record[recorded, 3 + k, i] = work.delta[k, i]
                recorded += 1
            A = A_new
            for i in range(n):
                U[i] = work.U[i]
                y[i] = work.y[i]
                extremes[1, i] = max(extremes[1, i], y[i])
                extremes[0, i] = min(extremes[0, i], y[i])
            for f in range(m):
                flows_out[bucket, mode, f] += work.step_flows[f]
            if mode == 1:
                open_out[bucket] += step
            steps += 1
            passed = length if step == left else passed + step
            since_switch += step
            growth = 5.0
            if error > 1e-6:
                growth = min(5.0, 0.9 * error ** (-1.0 / 3.0))
            h = max(step * growth, h) if step < h else step * growth
        if keep_states:
            for i in range(n):
                states_out[bucket, i] = y[i]
    return DONE, ends[-1], A, mode, since_switch, steps, rejected, recorded


def build_march(
    name: str,
    wiring: Wiring,
    fill_flows: Callable,
    fill_stocks: Callable,
    recover: Callable,
    opening_drive: Callable,
    error_scales: Callable,
) -> Callable:
    """Bind the march to one kind's compiled functions, under a name of its own in the cache."""
    bound = dict(
        globals(),
        fill_flows=fill_flows,
        fill_stocks=fill_stocks,
        recover=recover,
        opening_drive=opening_drive,
        error_scales=error_scales,
        n_unknowns=wiring.unknowns,
        n_flows=wiring.flows,
        gather=wiring.gather,
        add_flows=wiring.add_flows,
        carry=wiring.carry,
        assemble=wiring.assemble,
        factorise=wiring.factorise,
        substitute=wiring.substitute,
    )

    def bind(function: Callable, label: str, **options: Any) -> Callable:
        copy = types.FunctionType(function.__code__, bound, f"{label}_{name}")  # type: ignore[attr-defined]
        copy.__qualname__ = f"{label}_{name}"
        copy.__module__ = __name__
        return njit(nogil=True, error_model="numpy", **options)(copy)

    # passing a step's arrays costs more than the step's sums: both are written into the loop
    bound["solve_stage"] = bind(_solve_stage, "stage", inline="always")
    bound["rosenbrock_step"] = bind(_rosenbrock_step, "step", inline="always")
    return bind(_march, "march", cache=True)


class MarchInput(NamedTuple):
    """What one march runs through: surroundings at nodes, and the segments between nodes and switches.

    nodes: shape (n, columns); spacing [s]; starts, ends [s], node, mode and bucket of each segment;
    buckets: number of buckets in which flows are summed; keep_states: whether the state at the end of each
    bucket is kept.
    """

    nodes: NDArray[np.float64]
    spacing: float
    starts: NDArray[np.float64]
    ends: NDArray[np.float64]
    node: NDArray[np.int64]
    mode: NDArray[np.int64]
    bucket: NDArray[np.int64]
    buckets: int
    keep_states: bool


class MarchState(NamedTuple):
    """Where a march stands: stocks, unknowns, the bed's potential, mode and time since the last switch.

    A: one potential, or an array with that of each cell of a bed.
    """

    U: NDArray[np.float64]
    y: NDArray[np.float64]
    A: Any
    mode: int
    since_switch: float


class MarchResult(NamedTuple):
    """What a march gives.

    flows: integrals, shape (buckets, 2 modes, flows); states: shape (buckets, unknowns) or (0, unknowns);
    open_seconds: shape (buckets,); extremes: least and largest of each unknown, shape (2, unknowns);
    record: shape (steps, 7, unknowns): the state at the start of each step, at its third and fourth stage,
    and the four stage increments; record_time: shape (steps, 4): start [s], length [s], mode, node.
    """

    state: MarchState
    flows: NDArray[np.float64]
    states: NDArray[np.float64]
    open_seconds: NDArray[np.float64]
    extremes: NDArray[np.float64]
    steps: int
    rejected: int
    record: NDArray[np.float64]
    record_time: NDArray[np.float64]


FAILURES: Final = {
    TOO_MANY_STEPS: "it needed more than {limit} steps within half an hour",
    STEP_TOO_SMALL: f"its step shrank below {LEAST_STEP:g} s",
    NOT_FINITE: "its state stopped being a number",
}


def run_march(
    march: Callable,
    flow_count: int,
    numbers: Any,
    row: NDArray[np.float64],
    given: MarchInput,
    start: MarchState,
    *,
    tolerance: float,
    open_below: float,
    close_above: float,
    dwell: float,
    step_limit: int,
    record_limit: int = 0,
) -> MarchResult:
    """Run a bound march; raises StepLimitError or SolverError with the hour at which it stopped.

    tolerance: of the step error [1]; open_below, close_above: drive under which the state rule
    goes to mode 1 and above which it goes back [1]; dwell [s]; step_limit: steps allowed in one segment;
    record_limit: steps to keep for the audit's balance.
    """
    n, m = start.y.size, flow_count
    U, y = start.U.copy(), start.y.copy()
    flows = np.zeros((given.buckets, 2, m))
    states = np.zeros((given.buckets if given.keep_states else 0, n))
    open_seconds = np.zeros(given.buckets)
    extremes = np.vstack([y, y])
    record = np.zeros((record_limit, 7, n))
    record_time = np.zeros((record_limit, 4))
    status, when, A, mode, since, steps, rejected, recorded = march(
        given.nodes,
        given.spacing,
        given.starts,
        given.ends,
        given.node,
        given.mode,
        given.bucket,
        numbers,
        row,
        make_work(n, m, given.nodes.shape[1]),
        U,
        y,
        start.A,
        start.mode,
        start.since_switch,
        open_below,
        close_above,
        dwell,
        tolerance,
        step_limit,
        flows,
        states,
        open_seconds,
        extremes,
        record,
        record_time,
    )
    if status != DONE:
        reason = FAILURES[status].format(limit=step_limit)
        kind = StepLimitError if status == TOO_MANY_STEPS else SolverError
        raise kind(f"the simulation stopped in hour {int(when // 3600)} of the year: {reason}")
    return MarchResult(
        MarchState(U, y, A, mode, since),
        flows,
        states,
        open_seconds,
        extremes,
        steps,
        rejected,
        record[:recorded],
        record_time[:recorded],
    )
