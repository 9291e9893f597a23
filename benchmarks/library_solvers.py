"""A kind's own compiled text under library solvers, to time the march's scheme against theirs.

`CompiledBalances` gives dU/dt of the stocks from the same compiled flows that the march takes: what is
compared are the schemes, at the same cost of an evaluation. How right the text is, is another question: the
audit's own text, which is slow, answers it (tests/referees).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np

DAY = 86400.0
# What counts as 1 for an absolute tolerance, by the unknown's unit; and litres [kg/m2]
SCALES = {"K": 30.0, "kg/kg": 0.2, "kg/m2": 0.1, "Pa": 500.0}
LITRES = 0.5


class CompiledBalances:
    """f(t, U) of a prepared harvester in each mode; U: the stocks, then the litres collected."""

    def __init__(self, ready: Any):
        kind = ready.harvester.kind
        self.ready, self.size = ready, len(kind.unknowns)
        wiring = kind.wiring()
        names = ("collected", "glazing_drained") if ready.design.glazing_gutter else ("collected",)
        counted = np.array([i for i, flow in enumerate(kind.flows) if flow.name in names])
        numbers, row = ready.numbers, ready.row
        n, m = self.size, len(kind.flows)
        nodes, spacing = np.ascontiguousarray(ready.air.nodes), float(ready.air.spacing)
        last = len(nodes) - 2
        fill_flows, recover, gather = kind.fill_flows, kind.recover, wiring.gather

        def rates(t, U, y, A, mode, out, n_air, numbers, row):  # type: ignore[no-untyped-def]
            i = min(int(t / spacing), last)
            air = n_air[i] + (t / spacing - i) * (n_air[i + 1] - n_air[i])
            A = recover(U[:n], numbers, row, y, A)
            phi = np.zeros(m)
            fill_flows(y, air, mode, numbers, row, False, phi, np.zeros((m, n)))
            gather(phi, out[:n])
            out[n] = 0.0
            for f in counted:
                out[n] += phi[f]
            return A

        import numba

        self.rates = numba.njit(error_model="numpy")(rates)
        self.slope = {mode: self._of_mode(mode, nodes, numbers, row) for mode in (0, 1)}
        self.y, self.A = np.zeros(n), 0.0

    def _of_mode(self, mode: int, nodes: Any, numbers: Any, row: Any) -> Callable[..., Any]:
        def fill(t: float, U: Any, out: Any) -> None:
            self.A = self.rates(t, U, self.y, self.A, mode, out, nodes, numbers, row)

        def slope(t: float, U: Any) -> Any:
            out = np.empty(self.size + 1)
            fill(t, U, out)
            return out

        slope.fill = fill  # type: ignore[attr-defined]
        return slope

    def begin(self, state: Any) -> Any:
        """Start where a march starts: its stocks, and its unknowns as first guess of what stocks give."""
        self.y, self.A = state.y.copy(), np.copy(state.A) if np.ndim(state.A) else float(state.A)
        n = self.size
        U, S = np.zeros(n), np.zeros((n, n))
        self.ready.harvester.kind.fill_stocks(self.y, self.ready.numbers, self.ready.row, self.A, U, S)
        self.scales = np.append(np.abs(np.diag(S)) * self._unit_scales(), LITRES)
        return np.append(U, 0.0)

    def _unit_scales(self) -> Any:
        return np.array([SCALES[unknown.unit] for unknown in self.ready.harvester.kind.unknowns])


def stretches(plan: Any, begin: float, end: float) -> list[tuple[float, float, int]]:
    """Return (begin, end, mode) between the switches of a schedule, within a span [s]."""
    times, modes = [float(t) for t in plan.switch_times], [int(m) for m in plan.switch_modes]
    spans = zip(times, [*times[1:], math.inf], modes, strict=True)
    return [(max(a, begin), min(b, end), mode) for a, b, mode in spans if min(b, end) > max(a, begin)]


def daily_litres(balances: CompiledBalances, start: Any, days: int, method: str, rtol: float) -> np.ndarray:
    """Litres of each day [kg/m2] from the state that a march starts with, restarted at changes of mode."""
    advance = SOLVERS[method]
    U, total, found = balances.begin(start), 0.0, [0.0]
    for t0, t1, mode in stretches(balances.ready.plan, 0.0, DAY * days):
        midnights = [k * DAY for k in range(math.floor(t0 / DAY) + 1, math.floor(t1 / DAY) + 1)]
        U[-1] = 0.0
        U, passed = advance(balances.slope[mode], t0, t1, U, rtol, rtol * balances.scales, midnights)
        found += [total + float(at[-1]) for at in passed]
        total += float(U[-1])
    return np.diff(found)


def _by_class(name: str) -> Callable[..., Any]:
    """March a stretch with one of SciPy's integrator classes, step by step."""

    def advance(f: Any, t0: float, t1: float, U: Any, rtol: float, atol: Any, at: list[float]) -> Any:
        import scipy.integrate

        solver = getattr(scipy.integrate, name)(f, t0, U, t1, rtol=rtol, atol=atol)
        found: list[Any] = []
        while solver.status == "running":
            message = solver.step()
            if solver.status == "failed":
                raise RuntimeError(f"{name} failed at t = {solver.t:.6g} s: {message}")
            while len(found) < len(at) and at[len(found)] <= solver.t:
                found.append(solver.dense_output()(at[len(found)]))
        return solver.y, found

    return advance


def _lsoda(f: Any, t0: float, t1: float, U: Any, rtol: float, atol: Any, at: list[float]) -> Any:
    """March a stretch with LSODA in one call, so that its loop runs compiled."""
    from scipy.integrate import odeint

    times = np.array([t0, *at, *([] if at and at[-1] == t1 else [t1])])
    path, said = odeint(
        f, U, times, tfirst=True, rtol=rtol, atol=atol, tcrit=[t1], mxstep=1000000, full_output=True
    )
    if said["message"] != "Integration successful.":
        raise RuntimeError(f"LSODA failed after t = {t0:.6g} s: {said['message']}")
    return path[-1], list(path[1 : 1 + len(at)])


def _cvode(
    f: Any, t0: float, t1: float, U: Any, rtol: float, atol: Any, at: list[float], depth: int = 0
) -> Any:
    """March a stretch with CVODE (BDF, dense); where it gives up, restart in the middle."""
    from sksundae.cvode import CVODE

    solver = CVODE(f.fill, method="BDF", rtol=rtol, atol=atol, max_num_steps=1000000)
    times = np.array([t0, *at, *([] if at and at[-1] == t1 else [t1])])
    times = times if len(times) > 2 else np.array([t0, 0.5 * (t0 + t1), t1])
    said = solver.solve(times, np.array(U))
    if said.success:
        return said.y[-1], list(said.y[1 : 1 + len(at)])
    if depth > 12:
        raise RuntimeError(f"CVODE failed after t = {t0:.6g} s: {said.message}")
    middle = 0.5 * (t0 + t1)
    early, late = [t for t in at if t <= middle], [t for t in at if t > middle]
    U, found = _cvode(f, t0, middle, U, rtol, atol, early, depth + 1)
    U, more = _cvode(f, middle, t1, U, rtol, atol, late, depth + 1)
    return U, found + more


SOLVERS: dict[str, Callable[..., Any]] = {
    "BDF": _by_class("BDF"),
    "Radau": _by_class("Radau"),
    "LSODA": _lsoda,
    "CVODE": _cvode,
}
