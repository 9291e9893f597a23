"""What it would take: the shortest change of design and material that reaches a target, or why none can.

A change is measured by the sum of squared shares of each variable's range that it moves. The answer is one
of three: reached, with the change; forbidden by a bound that no design of the kind passes; or not found,
which is no proof that it cannot be.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.errors import InputError, Problem, SolverError
from welkinwell.harvesters.air import Surroundings
from welkinwell.limits.bound import Bound
from welkinwell.simulate import simulate
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.runner import run_all
from welkinwell.studies.variables import Variable, applied, materials_of, variables_of
from welkinwell.year import figures

Floats = NDArray[np.float64]
REACHED, FORBIDDEN, NOT_FOUND = "reached", "forbidden", "not found"
STEP: Final = 0.02  # of a variable's range, for the slopes
ROUNDS: Final = 16
LONGEST: Final = 0.25  # of a range, that one round moves a variable
SHARES: Final = (1.0, 0.5, 0.2, 0.05)  # of a move, tried side by side
CLOSE: Final = 0.005  # of the target


@dataclass(frozen=True)
class Moved:
    """One variable of the answer: where it stood, where it has to stand, and what that alone would give."""

    variable: Variable
    before: float
    after: float
    alone: float  # L/m2/day with this change alone


@dataclass(frozen=True)
class Reach:
    """The answer: what came out, the litres now and with the change [L/m2/day], the change, and words."""

    outcome: str
    target: float
    now: float
    got: float
    moved: list[Moved]
    distance: float
    words: str
    design: Any
    sorbent: Sorbent | None

    def as_data(self) -> dict[str, Any]:
        """Give all of it as JSON-ready data."""
        return {
            "outcome": self.outcome,
            "target_litres_per_m2_day": self.target,
            "now_litres_per_m2_day": self.now,
            "reached_litres_per_m2_day": self.got,
            "distance": self.distance,
            "words": self.words,
            "changes": [
                {
                    "key": entry.variable.key,
                    "name": entry.variable.name,
                    "of": entry.variable.of,
                    "before": entry.variable.text(entry.before),
                    "after": entry.variable.text(entry.after),
                    "alone_litres_per_m2_day": entry.alone,
                }
                for entry in self.moved
            ],
        }


def reach(
    design: Any,
    sorbent: Sorbent | None,
    site: Surroundings,
    target: float,
    *,
    bounds: Sequence[Bound] = (),
    variables: Sequence[Variable] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Reach:
    """Find the shortest change that brings the year's mean litres to a target [L/m2/day].

    bounds: of this kind at this place that no size of the device changes; variables: those of the kind and of
    the material where none are given. Slopes are forward differences at the "fast" accuracy.
    """
    if not (math.isfinite(target) and target > 0.0):
        raise InputError(Problem("target", f"{target:g} L/m2/day", "litres above zero"))
    listed = list(variables) if variables is not None else _variables(design, sorbent)
    task = _Task(design, sorbent, site, listed)
    start = np.array([v.share(v.now(design, sorbent)) for v in listed])
    now = task.litres(start)
    forbidding = [b for b in bounds if design.kind in b.binds and b.value < target]
    if forbidding:
        lowest = min(forbidding, key=lambda b: b.value)
        words = (
            f"{target:g} L/m2 a day is forbidden here by {lowest.name}: no such device passes "
            f"{lowest.value:.2f} L/m2 a day, whatever its sizes and its sorbent."
        )
        return Reach(FORBIDDEN, target, now, now, [], 0.0, words, design, sorbent)
    at, got = _walk(task, start, now, target, progress or (lambda share: None))
    moved = _moved(task, start, at)
    distance = float(np.sqrt(((at - start) ** 2).sum()))
    new_design, new_sorbent = task.built(at)
    outcome = REACHED if got >= target * (1.0 - CLOSE) else NOT_FOUND
    return Reach(
        outcome, target, now, got, moved, distance, _words(outcome, target, now, got, moved),
        new_design, new_sorbent,
    )  # fmt: skip


class _Task:
    """Litres of the design at shares of the variables' ranges."""

    def __init__(
        self, design: Any, sorbent: Sorbent | None, site: Surroundings, variables: list[Variable]
    ) -> None:
        self.design, self.sorbent, self.site, self.variables = design, sorbent, site, variables

    def built(self, shares: Floats) -> tuple[Any, Any]:
        values = [v.at(float(share)) for v, share in zip(self.variables, shares, strict=True)]
        return applied(self.design, self.sorbent, self.variables, values)

    def litres(self, shares: Floats) -> float:
        design, sorbent = self.built(shares)
        if hasattr(design, "cross_checks") and design.cross_checks():
            return 0.0
        try:
            year = simulate(design, sorbent, self.site, keep="months", accuracy="fast", audit=False)
        except SolverError:
            return 0.0
        return float(figures(year)["litres_per_m2_day"])


def _walk(
    task: _Task, start: Floats, now: float, target: float, tell: Callable[[float], None]
) -> tuple[Floats, float]:
    """Walk to the target along the slopes of the litres, and on to nearer points that reach it as well."""
    at, got = start.copy(), now
    enough = target * (1.0 - CLOSE)
    for number in range(ROUNDS):
        slopes = _slopes(task, at, got)
        tell((number + 1) / ROUNDS)
        move = _nearest(start, at, got, slopes, target) - at
        largest = float(np.abs(move).max())
        if largest < 1e-3:
            break
        move *= min(1.0, LONGEST / largest)
        tries = [np.clip(at + share * move, 0.0, 1.0) for share in SHARES]
        litres = run_all(task.litres, tries)
        if got < enough:
            pick = int(np.argmax([min(x, target) for x in litres]))
            if litres[pick] <= got:
                break
        else:
            near = [
                i
                for i, x in enumerate(litres)
                if x >= enough and _far(tries[i], start) < 0.98 * _far(at, start)
            ]
            if not near:
                break
            pick = min(near, key=lambda i: _far(tries[i], start))
        at, got = tries[pick], litres[pick]
    return at, got


def _far(at: Floats, start: Floats) -> float:
    return float(((at - start) ** 2).sum())


def _slopes(task: _Task, at: Floats, got: float) -> Floats:
    """Slope of the litres by each share, by differences towards the inside of the range."""
    sides = np.where(at > 0.5, -STEP, STEP)
    rows = [at + side * unit for side, unit in zip(sides, np.eye(at.size), strict=True)]
    return (np.array(run_all(task.litres, rows)) - got) / sides


def _nearest(start: Floats, at: Floats, got: float, slopes: Floats, target: float) -> Floats:
    """Point nearest to the start at which the litres, taken as straight from here, reach the target."""
    free = np.ones(at.size, dtype=bool)
    point = start.copy()
    for _ in range(at.size):
        steep = np.where(free, slopes, 0.0)
        size = float(steep @ steep)
        if size < 1e-12:
            break
        missing = target - (got + float(slopes @ (point - at)))
        if abs(missing) < 1e-9:
            break
        moved = point + steep * missing / size
        point = np.clip(moved, 0.0, 1.0)
        outside = free & ((moved < 0.0) | (moved > 1.0))
        if not outside.any():
            break
        free &= ~outside
    return point


def _moved(task: _Task, start: Floats, at: Floats) -> list[Moved]:
    """The variables that moved, the farthest first, each with what it gives alone."""
    order = [i for i in np.argsort(-np.abs(at - start)) if abs(at[i] - start[i]) > 0.005]
    rows = [np.where(np.arange(at.size) == i, at, start) for i in order]
    alone = run_all(task.litres, rows)
    return [
        Moved(task.variables[i], task.variables[i].at(float(start[i])), task.variables[i].at(float(at[i])), a)
        for i, a in zip(order, alone, strict=True)
    ]


def _variables(design: Any, sorbent: Any) -> list[Variable]:
    return [*variables_of(design), *materials_of(design, sorbent)]


def _words(outcome: str, target: float, now: float, got: float, moved: Sequence[Moved]) -> str:
    if now >= target * (1.0 - CLOSE) and not moved:
        return f"Nothing has to change: the design gives {now:.2f} L/m2 a day, and {target:g} were asked for."
    if outcome == NOT_FOUND:
        return (
            f"Not found: from {now:.2f} L/m2 a day the search came to {got:.2f} and not to {target:g}. "
            "That is no proof that no design does it."
        )
    named = ", ".join(
        f"{entry.variable.name.lower()} from {entry.variable.text(entry.before)} to "
        f"{entry.variable.text(entry.after)}"
        for entry in moved[:4]
    )
    return f"Reached: {got:.2f} L/m2 a day instead of {now:.2f}, by {named}."
