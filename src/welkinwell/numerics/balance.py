"""The audit's balance of a march: flows worked out again from recorded states, held against stocks.

The march books each flow as the integral that its own stages give. Here the same integrals are formed from
the recorded stage states by a function that the march does not use: where the scheme needs the slope of a
flow along a stage increment, it comes of central differences of that function, along the increment or, where
the unknowns are few, in each of them. No flow is a remainder.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from welkinwell.numerics.march import PROBE

Array = NDArray[np.float64]
FlowFunction = Callable[[Array, Array, Array], Array]  # states (n, k), air (c, k), mode (k,) -> flows (m, k)

DIFFERENCE = 1e-6  # of the scale of the unknowns, for slopes along an increment
COLUMN_DIFFERENCE = 3e-8  # of the scale of one unknown, for slopes in each
LEAST_WATER_FLOW = 1e-8  # kg/m2: by no less is a flow's difference judged
LEAST_HEAT_FLOW = 0.025  # J/m2, the same: what it takes to evaporate as much
FEW_UNKNOWNS = 6  # up to which a slope in each costs less than slopes along the four increments
CHUNK = 8192  # steps worked out at once, to bound the memory


@dataclass(frozen=True)
class Balance:
    """What the audit finds.

    water_residual, energy_residual: change of the recomputed stocks less what the recomputed flows brought
    [kg/m2, J/m2]; water_scale, energy_scale: what they are judged by; flow_difference: of the flow that
    differs most between march and audit, the difference summed by bucket over all that it moves [1].
    """

    water_residual: float
    energy_residual: float
    water_scale: float
    energy_scale: float
    flow_difference: float
    flows: Array

    @property
    def water_residual_relative(self) -> float:
        """Water residual over the water taken up [1]."""
        return self.water_residual / self.water_scale if self.water_scale > 0.0 else 0.0

    @property
    def energy_residual_relative(self) -> float:
        """Energy residual over the sun absorbed plus work [1]."""
        return self.energy_residual / self.energy_scale if self.energy_scale > 0.0 else 0.0


def recomputed_flows(
    record: Array,
    record_time: Array,
    nodes: Array,
    spacing: float,
    flows: FlowFunction,
    scales: Array,
    films: tuple[int, ...] = (),
) -> Array:
    """Integrate every flow over the recorded steps from their states.

    record, record_time: as in MarchResult; nodes, spacing: the surroundings; flows: the audit's; scales:
    size of each unknown; films: unknowns whose slope is taken by itself, since what moves a film is often so
    small beside all else that it would be lost in round-off. Returns integrals, shape (steps, flows).
    """
    parts = []
    for begin in range(0, record.shape[0], CHUNK):
        piece = slice(begin, begin + CHUNK)
        parts.append(_chunk(record[piece], record_time[piece], nodes, spacing, flows, scales, films))
    return np.concatenate(parts) if parts else np.zeros((0, 0))


def _chunk(
    record: Array,
    record_time: Array,
    nodes: Array,
    spacing: float,
    flows: FlowFunction,
    scales: Array,
    films: tuple[int, ...],
) -> Array:
    t, h, mode = record_time[:, 0], record_time[:, 1], record_time[:, 2]
    node = record_time[:, 3].astype(np.int64)
    low, rise = nodes[node].T, (nodes[node + 1] - nodes[node]).T
    share = (t - node * spacing) / spacing
    air = low + share * rise
    air_end = low + (t + h - node * spacing) / spacing * rise
    probe = np.minimum(PROBE / h, 1.0)
    start, third, fourth = record[:, 0].T, record[:, 1].T, record[:, 2].T

    first = flows(start, air, mode)
    alone = tuple(range(start.shape[0])) if start.shape[0] <= FEW_UNKNOWNS else films
    columns = _columns(flows, start, air, mode, scales, alone)

    def along(increment: Array) -> Array:
        own = sum((column * increment[i] for i, column in columns.items()), 0.0 * first)
        if len(columns) == len(increment):
            return own
        increment = increment.copy()
        increment[list(columns)] = 0.0
        size = np.max(np.abs(increment) / scales[:, None], axis=0)
        shrink = np.where(size > 0.0, DIFFERENCE / np.maximum(size, 1e-300), 0.0)
        move = increment * shrink
        up, down = flows(start + move, air, mode), flows(start - move, air, mode)
        return own + np.where(shrink > 0.0, (up - down) / (2.0 * np.where(shrink > 0.0, shrink, 1.0)), 0.0)

    by_time = (flows(start, air + probe * (air_end - air), mode) - first) / (probe * h)
    half = 0.5 * h
    one = half * (first + half * by_time + along(record[:, 3].T))
    two = half * (first + 4.0 / h * one + 1.5 * h * by_time + along(record[:, 4].T))
    three = half * (flows(third, air_end, mode) + (one - two) / h + along(record[:, 5].T))
    four = half * (flows(fourth, air_end, mode) + (one - two - 8.0 / 3.0 * three) / h + along(record[:, 6].T))
    return (2.0 * one + three + four).T


def _columns(
    flows: FlowFunction, start: Array, air: Array, mode: Array, scales: Array, alone: tuple[int, ...]
) -> dict[int, Array]:
    """Slopes of every flow in some unknowns, by central differences whose steps are known exactly."""
    found = {}
    for i in alone:
        up, down = start.copy(), start.copy()
        up[i] += COLUMN_DIFFERENCE * scales[i]
        down[i] -= COLUMN_DIFFERENCE * scales[i]
        found[i] = (flows(up, air, mode) - flows(down, air, mode)) / (up[i] - down[i])
    return found


def balance(
    steps: Array,
    bucket: NDArray[np.int64],
    march_flows: Array,
    water_in: Array,
    energy_in: Array,
    water_change: float,
    energy_change: float,
    water_scale: float,
    energy_scale: float,
    is_water: NDArray[np.bool_],
) -> Balance:
    """Hold recomputed flows against recomputed stocks, and against the march's own integrals.

    steps: recomputed integrals, shape (steps, flows); bucket of each step; march_flows: integrals by
    bucket, shape (buckets, flows); water_in, energy_in: what one unit of each flow adds to the device;
    changes of the stocks; scales: what residuals are judged by; is_water: which flows are water. A flow
    that is next to nothing is judged by a millionth of the mean flow of its own kind, and by
    LEAST_WATER_FLOW or LEAST_HEAT_FLOW at least.
    """
    again = np.zeros_like(march_flows)
    np.add.at(again, bucket, steps)
    totals = steps.sum(axis=0)
    size = np.abs(steps).sum(axis=0)  # a flow that goes to and fro is judged by all that it moves
    apart = np.abs(again - march_flows).sum(axis=0)
    water = max(1e-6 * float(size[is_water].mean()), LEAST_WATER_FLOW)
    heat = max(1e-6 * float(size[~is_water].mean()), LEAST_HEAT_FLOW)
    return Balance(
        water_residual=float(water_change - water_in @ totals),
        energy_residual=float(energy_change - energy_in @ totals),
        water_scale=float(water_scale),
        energy_scale=float(energy_scale),
        flow_difference=float(np.max(apart / np.maximum(size, np.where(is_water, water, heat)))),
        flows=totals,
    )
