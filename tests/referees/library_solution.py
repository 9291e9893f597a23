"""A harvester's balances by library solvers: the audit's text, which the march does not use, integrated anew.

Rates of the stocks are the audit's flows, joined as the kind's table of flows says (which its theory page
states, too); rates of the unknowns follow from them by slopes of the audit's stocks, central differences.
What is integrated are the unknowns, and the litres beside them. Slow: some milliseconds an evaluation.
"""

from __future__ import annotations

import importlib
import math
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.integrate import BDF, LSODA, Radau, odeint

from welkinwell.harvesters.harvester import incidence_of

DAY = 86400.0
# What counts as 1 for an absolute tolerance, by unit, and the step of a difference
SCALES = {"K": 30.0, "kg/kg": 0.2, "kg/m2": 0.1, "Pa": 500.0}
DIFFERENCE = 1e-5
LITRES = ("collected", "glazing_drained", "plate_collected")
BY_CLASS = {"BDF": BDF, "Radau": Radau, "LSODA by its class": LSODA}


class Balances:
    """f(t, y) and its Jacobian in each mode; y: the unknowns, then the litres [kg/m2]."""

    def __init__(self, ready: Any):
        kind = ready.harvester.kind
        self.ready, self.nodes, self.spacing = ready, np.asarray(ready.air.nodes), ready.air.spacing
        self.stocks = importlib.import_module(ready.harvester.audited_flows.__module__).stocks_by_row
        self.size = len(kind.unknowns)
        self.scales = np.array([SCALES[unknown.unit] for unknown in kind.unknowns])
        self.join = np.zeros((self.size, len(kind.flows)))
        for flow, row, weight in incidence_of(kind.flows)[0]:
            self.join[row, flow] += weight
        self.counted = np.array([float(flow.name in LITRES) for flow in kind.flows])

    def air(self, t: float) -> np.ndarray:
        """Surroundings at a time of the record [s]."""
        k = min(int(t / self.spacing), len(self.nodes) - 2)
        return self.nodes[k] + (t / self.spacing - k) * (self.nodes[k + 1] - self.nodes[k])

    def flows(self, t: float, states: np.ndarray, mode: int) -> np.ndarray:
        """The audit's flows of states side by side, shape (flows, k)."""
        air = np.repeat(self.air(t)[:, None], states.shape[1], axis=1)
        modes = np.full(states.shape[1], mode)
        ready = self.ready
        return ready.harvester.audited_flows(
            states, air, modes, ready.design, ready.sorbent, ready.air.pressure
        )

    def stock_slopes(self, y: np.ndarray) -> np.ndarray:
        """d(stock)/d(unknown), by central differences."""
        moves = np.diag(DIFFERENCE * self.scales)
        both = np.concatenate([y[:, None] + moves, y[:, None] - moves], axis=1)
        found = self.stocks(both, self.ready.design, self.ready.sorbent)
        return (found[:, : self.size] - found[:, self.size :]) / (2.0 * DIFFERENCE * self.scales)

    def rates(self, t: float, y: np.ndarray, mode: int) -> np.ndarray:
        """dy/dt."""
        found = self.flows(t, y[:-1, None], mode)[:, 0]
        moved = np.linalg.solve(self.stock_slopes(y[:-1]), self.join @ found)
        return np.append(moved, self.counted @ found)

    def jacobian(self, t: float, y: np.ndarray, mode: int) -> np.ndarray:
        """d(dy/dt)/dy but for what the stocks' slopes change: a solver's own iteration needs no more."""
        step = 0.01 * DIFFERENCE * self.scales
        states = np.concatenate([y[:-1, None], y[:-1, None] + np.diag(step)], axis=1)
        found = self.flows(t, states, mode)
        by_state = (found[:, 1:] - found[:, :1]) / step
        full = np.zeros((self.size + 1, self.size + 1))
        full[:-1, :-1] = np.linalg.solve(self.stock_slopes(y[:-1]), self.join @ by_state)
        full[-1, :-1] = self.counted @ by_state
        return full


def stretches(plan: Any, begin: float, end: float) -> list[tuple[float, float, int]]:
    """Return (begin, end, mode) between the switches of a schedule, within a span [s]."""
    times, modes = [float(t) for t in plan.switch_times], [int(m) for m in plan.switch_modes]
    spans = zip(times, [*times[1:], math.inf], modes, strict=True)
    return [(max(a, begin), min(b, end), mode) for a, b, mode in spans if min(b, end) > max(a, begin)]


def solve(
    ready: Any,
    start: np.ndarray,
    hours: tuple[float, float],
    *,
    rtol: float = 1e-6,
    method: str = "LSODA",
    mode: int | None = None,
) -> np.ndarray:
    """Integrate a prepared harvester from a state between two hours; returns unknowns and litres at the end.

    mode: all the time, where the schedule leaves it to the device's state; None takes the schedule's.
    """
    balances = Balances(ready)
    begin, end = (3600.0 * hour for hour in hours)
    pieces = stretches(ready.plan, begin, end) if mode is None else [(begin, end, mode)]
    atol = rtol * np.append(balances.scales, 0.5)
    y = np.append(start, 0.0)
    for a, b, in_mode in pieces:
        y = _advance(balances, a, b, y, in_mode, rtol, atol, method)
    return y


def _advance(
    balances: Balances,
    a: float,
    b: float,
    y: np.ndarray,
    mode: int,
    rtol: float,
    atol: np.ndarray,
    method: str,
) -> np.ndarray:
    if method == "LSODA":  # in one call, so that its loop runs compiled
        path, said = odeint(
            balances.rates, y, [a, b], args=(mode,), Dfun=balances.jacobian, tfirst=True, tcrit=[b],
            rtol=rtol, atol=atol, mxstep=100000, full_output=True,
        )  # fmt: skip
        if said["message"] != "Integration successful.":
            raise RuntimeError(f"LSODA failed after {a:.6g} s: {said['message']}")
        return path[-1]
    solver = BY_CLASS[method](
        lambda t, x: balances.rates(t, x, mode), a, y, b, rtol=rtol, atol=atol,
        jac=lambda t, x: balances.jacobian(t, x, mode),
    )  # fmt: skip
    while solver.status == "running":
        solver.step()
    if solver.status == "failed":
        raise RuntimeError(f"{method} failed at {solver.t:.6g} s")
    return solver.y


def period(ready: Any, plan: Any, first_hour: int, last_hour: int) -> Any:
    """Cut a prepared harvester's record to some of its hours; the first begins a day of the record."""
    air = ready.air
    per_hour = round(3600.0 / air.spacing)
    rainy = None if air.rainy is None else air.rainy[first_hour:last_hour]
    nodes = air.nodes[first_hour * per_hour : last_hour * per_hour + 1]
    cut = replace(air, nodes=nodes, rainy=rainy, pressure=air.pressure)
    return replace(ready, air=cut, plan=plan(ready.design, cut))
