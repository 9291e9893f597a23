"""What it would take: the shortest change of design and material that reaches a target, or why none can.

A change is measured by the sum of squared shares of each variable's range that it moves. The answer is one
of three: reached, with the change; forbidden by a bound that no design of the kind passes; or not found,
which is no proof that it cannot be.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import xarray as xr
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
class Aim:
    """What a target is set on.

    key; unit: as it stands behind a number; name: of the figure in words; less: whether less of it is
    better; keep: what of the year it needs, as in `simulate`; of: the figure of a simulated year, None where
    it has no meaning; worst: what a device without water counts for.
    """

    key: str
    unit: str
    name: str
    less: bool
    keep: str
    of: Callable[[Any, Any, xr.Dataset], float | None]
    worst: float


def _litres(design: Any, sorbent: Any, year: xr.Dataset) -> float:
    return float(figures(year)["litres_per_m2_day"])


LITRES: Final = Aim("litres", "L/m² a day", "litres", False, "months", _litres, 0.0)


@dataclass(frozen=True)
class Moved:
    """One variable of the answer: where it stood, where it has to stand, and what that alone would give."""

    variable: Variable
    before: float
    after: float
    alone: float  # the aim's figure with this change alone


@dataclass(frozen=True)
class Reach:
    """The answer: what came out, the aim's figure now and with the change, the change, and words."""

    outcome: str
    target: float
    now: float
    got: float
    moved: list[Moved]
    distance: float
    words: str
    design: Any
    sorbent: Sorbent | None
    aim: Aim = LITRES

    def as_data(self) -> dict[str, Any]:
        """Give all of it as JSON-ready data."""
        unit = "litres_per_m2_day" if self.aim is LITRES else self.aim.key
        return {
            "outcome": self.outcome,
            "aim": self.aim.key,
            "unit": self.aim.unit,
            f"target_{unit}": self.target,
            f"now_{unit}": self.now,
            f"reached_{unit}": self.got,
            "distance": self.distance,
            "words": self.words,
            "changes": [
                {
                    "key": entry.variable.key,
                    "name": entry.variable.name,
                    "of": entry.variable.of,
                    "before": entry.variable.text(entry.before),
                    "after": entry.variable.text(entry.after),
                    f"alone_{unit}": entry.alone,
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
    aim: Aim = LITRES,
    bounds: Sequence[Bound] = (),
    variables: Sequence[Variable] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Reach:
    """Find the shortest change that brings a figure to a target: the year's mean litres, or another aim.

    target: in the aim's unit [L/m2/day for litres]; aim: what it is set on; bounds: of this kind at this
    place that no size of the device changes, on litres; variables: those of the kind and of the material
    where none are given. Slopes are forward differences at the "fast" accuracy.
    """
    if not (math.isfinite(target) and target > 0.0):
        raise InputError(Problem("target", f"{target:g} {aim.unit}", f"{aim.name} above zero"))
    listed = list(variables) if variables is not None else _variables(design, sorbent)
    task = _Task(design, sorbent, site, listed, aim)
    start = np.array([v.share(v.now(design, sorbent)) for v in listed])
    # inside, more is always better: what is to be little counts with a minus
    sign = -1.0 if aim.less else 1.0
    now = task.litres(start)
    forbidding = [b for b in bounds if aim is LITRES and design.kind in b.binds and b.value < target]
    if forbidding:
        lowest = min(forbidding, key=lambda b: b.value)
        words = (
            f"{target:g} L/m2 a day is forbidden here by {lowest.name}: no such device passes "
            f"{lowest.value:.2f} L/m2 a day, whatever its sizes and its sorbent."
        )
        return Reach(FORBIDDEN, target, now, now, [], 0.0, words, design, sorbent, aim)
    at, got = _walk(task, start, now, sign * target, progress or (lambda share: None))
    moved = [replace(one, alone=sign * one.alone) for one in _moved(task, start, at)]
    distance = float(np.sqrt(((at - start) ** 2).sum()))
    new_design, new_sorbent = task.built(at)
    outcome = REACHED if got >= _enough(sign * target) else NOT_FOUND
    words = _words(outcome, target, sign * now, sign * got, moved, aim)
    return Reach(
        outcome, target, sign * now, sign * got, moved, distance, words, new_design, new_sorbent, aim
    )  # fmt: skip


def _enough(target: float) -> float:
    """What counts as reached."""
    return target - CLOSE * abs(target)


class _Task:
    """The aim's figure of the design at shares of the variables' ranges, turned so that more is better."""

    def __init__(
        self, design: Any, sorbent: Sorbent | None, site: Surroundings, variables: list[Variable], aim: Aim
    ) -> None:
        self.design, self.sorbent, self.site, self.variables = design, sorbent, site, variables
        self.aim, self.sign = aim, -1.0 if aim.less else 1.0

    def built(self, shares: Floats) -> tuple[Any, Any]:
        values = [v.at(float(share)) for v, share in zip(self.variables, shares, strict=True)]
        return applied(self.design, self.sorbent, self.variables, values)

    def litres(self, shares: Floats) -> float:
        design, sorbent = self.built(shares)
        worst = self.sign * self.aim.worst
        if hasattr(design, "cross_checks") and design.cross_checks():
            return worst
        try:
            year = simulate(design, sorbent, self.site, keep=self.aim.keep, accuracy="fast", audit=False)
        except SolverError:
            return worst
        found = self.aim.of(design, sorbent, year)
        return worst if found is None else self.sign * found


def _walk(
    task: _Task, start: Floats, now: float, target: float, tell: Callable[[float], None]
) -> tuple[Floats, float]:
    """Walk to the target along the slopes of the litres, and on to nearer points that reach it as well."""
    at, got = start.copy(), now
    enough = _enough(target)
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


def _words(
    outcome: str, target: float, now: float, got: float, moved: Sequence[Moved], aim: Aim
) -> str:  # fmt: skip
    there = now <= target * (1.0 + CLOSE) if aim.less else now >= target * (1.0 - CLOSE)
    if there and not moved:
        return f"Nothing has to change: the design gives {now:.3g} {aim.unit}, and {target:g} were asked for."
    if outcome == NOT_FOUND:
        return (
            f"Not found: from {now:.3g} {aim.unit} the search came to {got:.3g} and not to {target:g}. "
            "That is no proof that no design does it."
        )
    named = ", ".join(
        f"{entry.variable.name.lower()} from {entry.variable.text(entry.before)} to "
        f"{entry.variable.text(entry.after)}"
        for entry in moved[:4]
    )
    return f"Reached: {got:.3g} {aim.unit} instead of {now:.3g}, by {named}."
