"""What the march asks of a kind of harvester, and what the year asks of it.

A kind is a set of unknowns, one stock for each, and flows between the stocks and the outside. Its
compiled functions are plain functions over arrays:

    fill_flows(y, air, mode, numbers, row, want, phi, slopes)   flows and, where wanted, d(flow)/d(unknown)
    fill_stocks(y, numbers, row, A, U, S)                       stocks and d(stock)/d(unknown)
    recover(U, numbers, row, y, A) -> A                         unknowns from stocks, starting from y
    opening_drive(y, air, numbers, row, A)                      what the rule on the state looks at
    rest(air, numbers, row, y) -> A                             a device at rest in an air state
    error_scales(y, numbers, row, scales)                       the size by which step errors are judged

`numbers` is a NamedTuple of floats made from a design, `row` the sorbent's row (zeros where the kind takes no
sorbent), `A` the potential of the bed (0 where there is none). `kernels` prints fill_flows from a text that
gives the flows alone. Everything is per m2 of the kind's basis area.

A `Harvester` is a kind with all else that a simulated year needs: surroundings, schedule, audit, accounts.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from welkinwell.harvesters.air import AirRecord, Surroundings
from welkinwell.harvesters.operation import Schedule
from welkinwell.harvesters.power_cuts import Unpowered
from welkinwell.kernels.kernel import FlowKernel
from welkinwell.numerics.wiring import Wiring, make_wiring

if TYPE_CHECKING:
    import xarray as xr

OUTSIDE = -1
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Unknown:
    """One unknown: its name and unit, and whether its stock is heat or water.

    scale: size by which step errors are judged; size: its usual magnitude, for the audit's differences;
    label: short name in pictures; shown: the name under which a year shows it, its own if empty; those of
    one name are shown as their mean.
    """

    name: str
    unit: str
    scale: float
    stock: str
    size: float = 1.0
    label: str = ""
    shown: str = ""


@dataclass(frozen=True)
class Flow:
    """One flow from a stock's row to another's (OUTSIDE for the surroundings).

    carries: further rows that gain (row, J per kg) with it; shown: the name under which a year shows it, its
    own if empty, and not at all if None; those of one name are summed; uses: the unknowns that it depends on,
    which are found in the text of the flows.
    """

    name: str
    unit: str
    start: int
    end: int
    carries: tuple[tuple[int, float], ...] = ()
    shown: str | None = ""
    uses: tuple[int, ...] = ()


def with_uses(flows: Sequence[Flow], kernel: FlowKernel) -> tuple[Flow, ...]:
    """Give the table of flows with the unknowns that the text of each one reads."""
    return tuple(replace(flow, uses=used) for flow, used in zip(flows, kernel.uses, strict=True))


def incidence_of(flows: Sequence[Flow]) -> tuple[list[tuple[int, int, float]], list[tuple[int, int]]]:
    """Give what each flow adds to each row, (flow, row, weight), and what it depends on, (flow, unknown)."""
    incidence = []
    for i, flow in enumerate(flows):
        if flow.start != OUTSIDE:
            incidence.append((i, flow.start, -1.0))
        if flow.end != OUTSIDE:
            incidence.append((i, flow.end, 1.0))
        incidence += [(i, row, weight) for row, weight in flow.carries]
    return incidence, [(i, unknown) for i, flow in enumerate(flows) for unknown in flow.uses]


@dataclass(frozen=True)
class Kind:
    """A kind of harvester as the march sees it.

    stock_pattern: (stock, unknown), the slopes of stocks that can differ from zero; all where None.
    own_wiring: makes its sums where they are not written out from its table of flows.
    """

    name: str
    unknowns: tuple[Unknown, ...]
    flows: tuple[Flow, ...]
    fill_flows: Callable
    fill_stocks: Callable
    recover: Callable
    opening_drive: Callable
    rest: Callable
    error_scales: Callable
    stock_pattern: tuple[tuple[int, int], ...] | None = None
    own_wiring: Callable[[], Wiring] | None = None

    def flow_number(self, name: str) -> int:
        """Return the place of a flow in the list."""
        return next(i for i, flow in enumerate(self.flows) if flow.name == name)

    def shown_flows(self) -> dict[str, list[int]]:
        """Places of the flows under each name that a year shows."""
        found: dict[str, list[int]] = {}
        for i, flow in enumerate(self.flows):
            if flow.shown is not None:
                found.setdefault(flow.shown or flow.name, []).append(i)
        return found

    def shown_unknowns(self) -> dict[str, list[int]]:
        """Places of the unknowns under each name that a year shows."""
        found: dict[str, list[int]] = {}
        for i, unknown in enumerate(self.unknowns):
            found.setdefault(unknown.shown or unknown.name, []).append(i)
        return found

    def wiring(self) -> Wiring:
        """Write out how the flows change the stocks, unless the kind has loops of its own for it."""
        if self.own_wiring is not None:
            return self.own_wiring()
        incidence, pattern = incidence_of(self.flows)
        return make_wiring(
            len(self.unknowns), len(self.flows), incidence, pattern, self.name, self.stock_pattern
        )


@dataclass(frozen=True)
class StateRule:
    """When the device's own state moves it between its two modes, where the schedule leaves it to the state.

    Mode 1 begins when the drive falls below open_below and ends when it rises above close_above, never
    sooner than `dwell` seconds after the last move.
    """

    open_below: float
    close_above: float
    dwell: float


@dataclass(frozen=True)
class Bucketed:
    """The march's flow integrals by bucket (hour, month or year), for a kind to read its accounts from."""

    kind: Kind
    design: Any
    flows: Array  # (buckets, modes, flows)

    def flow(self, name: str, mode: int | None = None) -> Array:
        """Integral of a flow in each bucket, in one mode or both [kg/m2 or J/m2]."""
        of_modes = self.flows[:, :, self.kind.flow_number(name)]
        return of_modes.sum(axis=1) if mode is None else of_modes[:, mode]


@dataclass(frozen=True)
class Accounts:
    """What a kind says of its flows, in each bucket, per m2 of basis area.

    water: name to (kg/m2, words); four names are those of every kind, water_taken_up (from the outdoor air),
    water_condensed, water_reevaporated and water_collected; every other name is a way in which water that was
    taken up is lost. release_heat: heat that reached the bed for release [J/m2] with its words, if any.
    electricity: consumer to J/m2. supplied_heat: name to (J/m2, temperature at which it is supplied [K]).
    """

    water: Mapping[str, tuple[Array, str]]
    release_heat: tuple[Array, str] | None = None
    electricity: Mapping[str, Array] = field(default_factory=dict)
    supplied_heat: Mapping[str, tuple[Array, float]] = field(default_factory=dict)


def no_sky(design: Any) -> float:
    """Say that the sky's cold is no drive: for kinds that do not look at it."""
    return 0.0


def no_notes(design: Any, sorbent: Any, year: xr.Dataset) -> list[str]:
    """Say nothing: for kinds that have no limits of their own."""
    return []


@dataclass(frozen=True)
class Harvester:
    """A kind with all that a simulated year needs beside the march.

    fitted(design, sorbent): design and sorbent as they are simulated (open choices made, sorbent in its
    layer); air(design, site), plan(design, air), numbers(design, sorbent, pressure), rule(design);
    audited_flows(states, air, mode, design, sorbent, pressure), audited_stocks(state, design, sorbent) and
    boundary(): the audit; accounts(bucketed); drives: flows of energy by which the energy residual is
    judged; takes_sun: whether the sun on its plane is its drive; heat_parts: heat accounts of the report,
    temperature to title; heat_words: temperature to flow to words for heat into the
    part and out of it; water_words: words for each way in which water is lost; notes(design, sorbent, year):
    sentences on what this kind met beyond a limit; unpowered(design): the design with everything electric
    off, None for kinds that use no electricity; sky_area(design): surfaces that look at the sky
    and whose cold is a drive, per m2 of basis [1].
    """

    kind: Kind
    fitted: Callable[[Any, Any], tuple[Any, Any]]
    air: Callable[[Any, Surroundings], AirRecord]
    plan: Callable[[Any, AirRecord], Schedule]
    numbers: Callable[[Any, Any, float], Any]
    rule: Callable[[Any], StateRule]
    audited_flows: Callable[..., Array]
    audited_stocks: Callable[..., dict[str, float]]
    boundary: Callable[[], tuple[Array, Array]]
    accounts: Callable[[Bucketed], Accounts]
    drives: tuple[str, ...]
    takes_sun: bool
    citations: tuple[str, ...]
    heat_parts: Mapping[str, str] = field(default_factory=dict)
    heat_words: Mapping[str, Mapping[str, tuple[str, str]]] = field(default_factory=dict)
    water_words: Mapping[str, str] = field(default_factory=dict)
    notes: Callable[[Any, Any, xr.Dataset], list[str]] = no_notes
    unpowered: Callable[[Any], Unpowered] | None = None
    sky_area: Callable[[Any], float] = no_sky
