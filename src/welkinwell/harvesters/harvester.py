"""What the march asks of a kind of harvester.

A kind is a set of unknowns, one stock for each, and flows between the stocks and the outside. Its
compiled functions are plain functions over arrays:

    fill_flows(y, air, mode, numbers, row, want, phi, slopes)   flows and, where wanted, d(flow)/d(unknown)
    fill_stocks(y, numbers, row, A, U, S)                       stocks and d(stock)/d(unknown)
    recover(U, numbers, row, y, A) -> A                         unknowns from stocks, starting from y
    opening_drive(y, air, numbers, row, A)                      what the pressure rule looks at
    rest(air, numbers, row, y) -> A                             a device at rest in an air state
    error_scales(y, numbers, row, scales)                       the size by which step errors are judged

`numbers` is a NamedTuple of floats made from a design, `row` the sorbent's row, `A` the potential of the bed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from welkinwell.numerics.wiring import Wiring, make_wiring

OUTSIDE = -1


@dataclass(frozen=True)
class Unknown:
    """One unknown: its name and unit, and whether its stock is heat or water."""

    name: str
    unit: str
    scale: float
    stock: str


@dataclass(frozen=True)
class Flow:
    """One flow from a stock's row to another's (OUTSIDE for the surroundings).

    uses: the unknowns that it depends on; carries: further rows that gain (row, J per kg) with it.
    """

    name: str
    unit: str
    start: int
    end: int
    uses: tuple[int, ...]
    carries: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True)
class Kind:
    """A kind of harvester as the march sees it."""

    name: str
    unknowns: tuple[Unknown, ...]
    flows: tuple[Flow, ...]
    fill_flows: Callable
    fill_stocks: Callable
    recover: Callable
    opening_drive: Callable
    rest: Callable
    error_scales: Callable

    def flow_number(self, name: str) -> int:
        """Return the place of a flow in the list."""
        return next(i for i, flow in enumerate(self.flows) if flow.name == name)

    def wiring(self) -> Wiring:
        """Write out how the flows change the stocks."""
        incidence = []
        for i, flow in enumerate(self.flows):
            if flow.start != OUTSIDE:
                incidence.append((i, flow.start, -1.0))
            if flow.end != OUTSIDE:
                incidence.append((i, flow.end, 1.0))
            incidence += [(i, row, weight) for row, weight in flow.carries]
        pattern = [(i, unknown) for i, flow in enumerate(self.flows) for unknown in flow.uses]
        return make_wiring(len(self.unknowns), len(self.flows), incidence, pattern)
