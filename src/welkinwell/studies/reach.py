"""What it would take: the shortest change of design, material and plant to a target, or why none can.

A change is measured by the sum of squared shares of each variable's range that it moves. The answer is one
of three: reached, with the change; forbidden by a bound that no design of the kind passes; or not found,
which is no proof that it cannot be. Bounds are looked at before anything is searched. Where the target hangs
on the plant, how many modules and which tank are tried first: they ask for no new design.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.errors import InputError, Problem, SolverError
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.layer_density import layer_problems
from welkinwell.limits.bound import Bound
from welkinwell.quantities import plain
from welkinwell.simulation import simulate
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.digits import told_apart
from welkinwell.studies.runner import run_all
from welkinwell.studies.variables import (
    Variable,
    applied,
    as_full,
    bed_volume,
    materials_of,
    variables_of,
)
from welkinwell.year import figures

Floats = NDArray[np.float64]
REACHED, FORBIDDEN, NOT_FOUND = "reached", "forbidden", "not found"
STEP: Final = 0.02  # of a variable's range, for the slopes
ROUNDS: Final = 16
LONGEST: Final = 0.25  # of a range, that one round moves a variable
SHARES: Final = (1.0, 0.5, 0.2, 0.05)  # of a move, tried side by side
CLOSE: Final = 0.005  # of the target
TINY: Final = 0.005  # of a range
NAMED: Final = 4  # changes that the sentence names
STEPS_OF_PLANT: Final = 24  # sizes of a tank, and of a large number of modules, that are tried
WALKED: Final = 0.7  # share of the work that is walking


@dataclass(frozen=True)
class Aim:
    """What a target is set on.

    key; unit: as it stands behind a number; name: of the figure in words; less: whether less of it is
    better; keep: what of the year it needs, as in `simulate`; of(design, sorbent, year, plant): the figure of
    a simulated year, None where it has no meaning, the design with as much sorbent as is paid for; worst:
    what a device without water counts for; plant: variables that need no new simulation, their values the
    last argument; scale: figure times this is shown.
    """

    key: str
    unit: str
    name: str
    less: bool
    keep: str
    of: Callable[[Any, Any, xr.Dataset, Sequence[float]], float | None]
    worst: float
    plant: tuple[Variable, ...] = ()
    scale: float = 1.0

    def number(self, value: float, digits: int = 3) -> str:
        """Write a figure without its unit, in so many digits that count."""
        return plain(self.scale * value, digits)

    def text(self, value: float) -> str:
        """Write a figure with its unit."""
        return f"{self.number(value)} {self.unit}"


def _litres(design: Any, sorbent: Any, year: xr.Dataset, plant: Sequence[float]) -> float:
    return float(figures(year)["litres_per_m2_day"])


LITRES: Final = Aim("litres", "L/m² a day", "litres", False, "months", _litres, 0.0)


@dataclass(frozen=True)
class Moved:
    """One variable of the answer: where it stood, where it has to stand, and what that alone would give."""

    variable: Variable
    before: float
    after: float
    alone: float  # the aim's figure with this change alone

    @property
    def texts(self) -> tuple[str, str]:
        """Before and after with their unit, in so many digits that they differ."""
        before, after = told_apart(self.variable.text, self.before, self.after)
        return before, after


@dataclass(frozen=True)
class OtherSorbent:
    """Another sorbent in the design as it stands, its bed as full: its key and name, and the aim's figure."""

    key: str
    name: str
    got: float
    reaches: bool


@dataclass(frozen=True)
class Reach:
    """The answer: what came out, the aim's figure now and with the change, the change, and words.

    swapped: name of the sorbent that the change asks for, empty where it keeps its own; others: sorbents
    tried in the design as it stands, the best first; mass: dry sorbent before and after [kg/m2], None where
    it stays; untried: what the answer says nothing of, in a sentence.
    """

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
    swapped: str = ""
    others: tuple[OtherSorbent, ...] = ()
    mass: tuple[float, float] | None = None
    untried: str = ""
    bound: Bound | None = None

    def other_lines(self) -> list[str]:
        """Say what other sorbents give in the design as it stands: those that reach, or the best three."""
        reaching = [one for one in self.others if one.reaches]
        changed = "only modules and tank changed with it" if self.aim.plant else "nothing else changed"
        head = f"Another sorbent, {changed}" + (", reaches it as well" if reaching else "; none reaches it")
        told = [f"  {one.name}: {self.aim.text(one.got)}" for one in reaching or self.others[:3]]
        return [f"{head}:", *told] if told else []

    def as_data(self) -> dict[str, Any]:
        """Give all of it as JSON-ready data."""
        unit = "litres_per_m2_day" if self.aim.key == LITRES.key else self.aim.key
        return {
            "outcome": self.outcome,
            "aim": self.aim.key,
            "unit": self.aim.unit,
            f"target_{unit}": self.target,
            f"now_{unit}": self.now,
            f"reached_{unit}": self.got,
            "distance": self.distance,
            "words": self.words,
            "forbidden_by": None if self.bound is None else self.bound.as_data(),
            "sorbent_instead": self.swapped or None,
            "dry_sorbent_kg_per_m2": None if self.mass is None else list(self.mass),
            "other_sorbents": [
                {"sorbent": one.key, "name": one.name, f"alone_{unit}": one.got, "reaches": one.reaches}
                for one in self.others
            ],
            "not_tried": self.untried,
            "changes": [
                {
                    "key": entry.variable.key,
                    "name": entry.variable.name,
                    "of": entry.variable.of,
                    "before": entry.texts[0],
                    "after": entry.texts[1],
                    f"alone_{unit}": entry.alone,
                }
                for entry in self.moved
            ],
        }


@dataclass(frozen=True)
class _Way:
    """Where a search ended: task (with its plant), shares, and figure, turned so that more is better."""

    task: _Task
    at: Floats
    got: float


def reach(
    design: Any,
    sorbent: Sorbent | None,
    site: Surroundings,
    target: float,
    *,
    aim: Aim = LITRES,
    bounds: Sequence[Bound] = (),
    bounds_with: Callable[[Sorbent], Sequence[Bound]] | None = None,
    variables: Sequence[Variable] | None = None,
    sorbents: Sequence[Sorbent] = (),
    now: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> Reach:
    """Find the shortest change that brings a figure to a target: the year's mean litres, or another aim.

    target: in the aim's unit [L/m2/day for litres]; aim: what it is set on; bounds: on the aim's figure, of
    this kind at this place, that nothing within the variables' ranges changes (`bounds_of_any_size`);
    bounds_with: the same of the design as it stands with another sorbent; variables: those of the kind and of
    the material where none are given; sorbents: others to try; now: the figure as the design stands, where it
    is known, so that a forbidden target costs no simulation. Slopes are forward differences at the "fast"
    accuracy.
    """
    if not (math.isfinite(target) and target > 0.0):
        raise InputError(Problem("target", f"{target:g} {aim.unit}", f"{aim.name} above zero"))
    listed = list(variables) if variables is not None else variables_of_reach(design, sorbent)
    _refuse_what_misses_the_design(design, sorbent, [*listed, *aim.plant])
    tell = progress or (lambda share: None)
    task = _Task(design, sorbent, site, listed, aim)
    cannot = [one for one in sorbents if layer_problems(task.holding(one).design, one)]
    sorbents = [one for one in sorbents if one not in cannot]
    start = task.start()
    sign = task.sign  # inside, more is always better: what is to be little counts with a minus
    untried = " ".join([_untried(design.kind, sorbent, sorbents), *_too_dense(cannot)]).strip()
    own = _forbidding(bounds, design.kind, sign, target)
    barred = {
        one.key: _forbidding(bounds_with(one), design.kind, sign, target) for one in sorbents if bounds_with
    }
    open_to = [one for one in sorbents if barred.get(one.key) is None]
    if own is not None and (sorbent is None or not open_to):
        loosest = max([own, *(b for b in barred.values() if b)], key=lambda b: sign * b.value)
        stands = sign * task.litres(start) if now is None else now
        words = _forbidden(own, loosest, target, aim, design.kind, len(barred))
        return Reach(
            FORBIDDEN, target, stands, stands, [], 0.0, words, design, sorbent, aim, untried=untried,
            bound=own,
        )  # fmt: skip
    begun = task.litres(start)
    way = _Way(task, start, begun)
    if own is None:
        way = _search(task, start, begun, sign * target, lambda share: tell(WALKED * share))
    others: list[OtherSorbent] = []
    if begun < _enough(sign * target):
        others = _others(task, open_to, sign * target, lambda share: tell(WALKED + 0.2 * share))
    if way.got < _enough(sign * target) and others and sign * others[0].got > begun:
        other = task.holding(next(one for one in sorbents if one.key == others[0].key))
        shares = other.start()
        given = other.litres(shares)
        tried = _search(other, shares, given, sign * target, lambda share: tell(0.9 + 0.1 * share))
        way = tried if tried.got > way.got else way
    return _answer(task, way, start, begun, target, others, untried)


def _refuse_what_misses_the_design(design: Any, sorbent: Any, variables: Sequence[Variable]) -> None:
    """Refuse ranges that do not hold the design as it stands: the way to the target begins there."""
    missed = [(v, now) for v in variables if not v.holds(now := v.now(design, sorbent))]
    if missed:
        raise InputError([
            Problem(
                f"vary, {v.key}", v.span(), f"a range that holds the {v.text(now, 6)} of the case",
                f"Widen it, or set {v.key} inside it in the case.",
            )
            for v, now in missed
        ])  # fmt: skip


def _too_dense(cannot: Sequence[Sorbent]) -> list[str]:
    """Name the sorbents that no bed can hold as full as this one is."""
    names = ", ".join(one.name for one in cannot)
    return (
        [f"Left out, since no layer can be so dense of them as this bed is full: {names}."] if names else []
    )


def variables_of_reach(design: Any, sorbent: Any) -> list[Variable]:
    """What may change where nobody names it: sizes, and a sorbent that holds more or is faster."""
    better = [replace(one, low=1.0) for one in materials_of(design, sorbent)]
    return [*variables_of(design), *better]


def _answer(
    task: _Task,
    way: _Way,
    start: Floats,
    begun: float,
    target: float,
    others: Sequence[OtherSorbent],
    untried: str,
) -> Reach:
    sign, aim = task.sign, task.aim
    outcome = REACHED if way.got >= _enough(sign * target) else NOT_FOUND
    own = way.task.sorbent is task.sorbent
    first = start if own else way.task.start()
    moved = [replace(one, alone=sign * one.alone) for one in _moved(way.task, first, way.at)]
    plant = way.task.plant_moves()
    distance = math.sqrt(_far(way.at, first) + sum(v.share_moved**2 for v in plant))
    moved = [*(_plant_moved(way.task, first, one, sign) for one in plant), *moved]
    bought, (new_design, new_sorbent) = way.task.bought(way.at), way.task.built(way.at)
    before, after = (float(getattr(d, "sorbent_mass", 0.0)) for d in (task.design, bought))
    mass = (before, after) if abs(after - before) > 1e-9 and after > 0.0 else None
    swapped = "" if own or way.task.sorbent is None else way.task.sorbent.name
    words = _words(outcome, target, sign * begun, sign * way.got, moved, aim, swapped)
    return Reach(
        outcome, target, sign * begun, sign * way.got, moved, distance, words, new_design, new_sorbent, aim,
        swapped, tuple(others), mass, untried,
    )  # fmt: skip


def _enough(target: float) -> float:
    """What counts as reached."""
    return target - CLOSE * abs(target)


@dataclass(frozen=True)
class _PlantMove:
    variable: Variable
    before: float
    after: float
    number: int

    @property
    def share_moved(self) -> float:
        return self.variable.share(self.after) - self.variable.share(self.before)


class _Task:
    """The aim's figure of the design at shares of the variables' ranges, turned so that more is better."""

    def __init__(
        self,
        design: Any,
        sorbent: Sorbent | None,
        site: Surroundings,
        variables: list[Variable],
        aim: Aim,
        plant: tuple[float, ...] | None = None,
    ) -> None:
        self.design, self.sorbent, self.site, self.variables = design, sorbent, site, variables
        self.aim, self.sign = aim, -1.0 if aim.less else 1.0
        self.stands = tuple(v.now(design, sorbent) for v in aim.plant)
        self.plant = self.stands if plant is None else plant

    def start(self) -> Floats:
        """Shares at which the design stands."""
        return np.array([v.share(v.now(self.design, self.sorbent)) for v in self.variables])

    def with_plant(self, plant: Sequence[float]) -> _Task:
        """The same with another plant."""
        return _Task(self.design, self.sorbent, self.site, self.variables, self.aim, tuple(plant))

    def holding(self, other: Sorbent) -> _Task:
        """The same design with another sorbent, its bed as full by bulk density."""
        design, volume = self.design, bed_volume(self.design)
        if volume is not None and self.sorbent is not None:
            filled = design.sorbent_mass / (self.sorbent.bulk_density * volume)
            design = replace(design, sorbent_mass=filled * other.bulk_density * volume)
        return _Task(design, other, self.site, self.variables, self.aim)

    def bought(self, shares: Floats) -> Any:
        """The design with its changed sizes and the sorbent that fills them, as it is paid for."""
        return self._sized(self._values(shares))

    def built(self, shares: Floats) -> tuple[Any, Any]:
        """The design and sorbent to simulate; a better sorbent counts as more of it."""
        values = self._values(shares)
        pairs = [(v, x) for v, x in zip(self.variables, values, strict=True) if v.of != "design"]
        return applied(self._sized(values), self.sorbent, [v for v, _ in pairs], [x for _, x in pairs])

    def _values(self, shares: Floats) -> list[float]:
        return [v.at(float(share)) for v, share in zip(self.variables, shares, strict=True)]

    def _sized(self, values: Sequence[float]) -> Any:
        pairs = [(v, x) for v, x in zip(self.variables, values, strict=True) if v.of == "design"]
        sizes, _ = applied(self.design, self.sorbent, [v for v, _ in pairs], [x for _, x in pairs])
        volume = bed_volume(self.design)
        if volume is None or self.sorbent is None:
            return sizes
        if not any(v.key == "sorbent_mass" for v in self.variables):
            return as_full(self.design, sizes)
        # no layer holds more than it does now, or than its sheet's bulk density
        densest = max(self.sorbent.bulk_density, self.design.sorbent_mass / volume)
        return replace(sizes, sorbent_mass=min(sizes.sorbent_mass, densest * (bed_volume(sizes) or 0.0)))

    def year(self, shares: Floats) -> xr.Dataset | None:
        """The simulated year; None for what cannot be built or simulated."""
        design, sorbent = self.built(shares)
        bought = self.bought(shares)  # a better sorbent is no denser a bed
        if hasattr(bought, "cross_checks") and bought.cross_checks():
            return None
        try:
            return simulate(design, sorbent, self.site, keep=self.aim.keep, accuracy="fast", audit=False)
        except SolverError:
            return None

    def figure(self, shares: Floats, year: xr.Dataset | None, plant: Sequence[float]) -> float:
        """The aim's figure of a year with a plant."""
        found = None if year is None else self.aim.of(self.bought(shares), self.sorbent, year, plant)
        return self.sign * (self.aim.worst if found is None else found)

    def litres(self, shares: Floats) -> float:
        """The aim's figure at shares, with this task's plant."""
        return self.figure(shares, self.year(shares), self.plant)

    def plant_moves(self) -> list[_PlantMove]:
        """What of the plant differs from the case's."""
        rows = zip(self.aim.plant, self.stands, self.plant, strict=True)
        return [_PlantMove(v, a, b, i) for i, (v, a, b) in enumerate(rows) if a != b]


def _search(task: _Task, start: Floats, begun: float, target: float, tell: Callable[[float], None]) -> _Way:
    """Reach the target by the plant alone, or by sizes and material with the best plant; prune it."""
    enough = _enough(target)
    if begun >= enough:
        return _Way(task, start, begun)
    if task.aim.plant:
        task, got = _other_plant(task, start, target)
        if got >= enough:
            return _Way(task, start, got)
        begun = got
    at, got = _walk(task, start, begun, target, tell)
    if got < enough:
        return _Way(task, at, got)
    at, got = _pruned(task, start, at, got, enough)
    if task.aim.plant:
        task, got = _other_plant(task, at, target)
    return _Way(task, at, got)


def _other_plant(task: _Task, shares: Floats, target: float) -> tuple[_Task, float]:
    """Choose the nearest plant with which the target is reached, else the one that comes closest to it."""
    year, enough = task.year(shares), _enough(target)
    options = [_options(v, now) for v, now in zip(task.aim.plant, task.stands, strict=True)]
    best, best_got, best_rank = task.stands, -math.inf, (-math.inf, -math.inf)
    for plant in product(*options):
        got = task.figure(shares, year, plant)
        moved = sum(
            (v.share(b) - v.share(a)) ** 2 for v, a, b in zip(task.aim.plant, task.stands, plant, strict=True)
        )
        rank = (min(got, enough), -moved)
        if rank > best_rank:
            best, best_got, best_rank = plant, got, rank
    return task.with_plant(best), best_got


def _options(variable: Variable, now: float) -> list[float]:
    """Values of a variable of the plant that are tried: even steps of its share, and the case's own."""
    steps = [variable.at(float(share)) for share in np.linspace(0.0, 1.0, STEPS_OF_PLANT)]
    if variable.key == "modules":
        low, high = round(variable.low), round(variable.high)
        steps = list(range(low, high + 1)) if high - low <= 2 * STEPS_OF_PLANT else [round(x) for x in steps]
    return sorted({now, *(float(x) for x in steps)})


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


def _pruned(task: _Task, start: Floats, at: Floats, got: float, enough: float) -> tuple[Floats, float]:
    """Take back each move without which the target is reached as well, the smallest first."""
    for number in np.argsort(np.abs(at - start)):
        if at[number] == start[number]:
            continue
        without = at.copy()
        without[number] = start[number]
        found = task.litres(without)
        if found >= enough:
            at, got = without, found
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


def _others(
    task: _Task, sorbents: Sequence[Sorbent], target: float, tell: Callable[[float], None]
) -> list[OtherSorbent]:
    """Try other sorbents in the design as it stands (with the plant that suits each), the best first."""

    def tried(one: Sorbent) -> OtherSorbent | None:
        other = task.holding(one)
        try:
            shares = other.start()
            got = _other_plant(other, shares, target)[1] if task.aim.plant else other.litres(shares)
        except InputError:
            return None  # a sheet that this kind cannot hold
        return OtherSorbent(one.key, one.name, task.sign * got, got >= _enough(target))

    own = task.sorbent.key if task.sorbent is not None else ""
    found = run_all(tried, [one for one in sorbents if one.key != own], progress=tell)
    return sorted((one for one in found if one is not None), key=lambda one: -task.sign * one.got)


def _moved(task: _Task, start: Floats, at: Floats) -> list[Moved]:
    """The variables that moved, the farthest first, each with what it gives alone.

    Moves that nobody would build by are left out, unless there is no other.
    """
    far = np.abs(at - start)
    order = [int(i) for i in np.argsort(-far) if far[i] > TINY or far[i] == far.max() > 0.0]
    rows = [np.where(np.arange(at.size) == i, at, start) for i in order]
    alone = run_all(task.with_plant(task.stands).litres, rows)
    return [
        Moved(task.variables[i], task.variables[i].at(float(start[i])), task.variables[i].at(float(at[i])), a)
        for i, a in zip(order, alone, strict=True)
    ]


def _plant_moved(task: _Task, start: Floats, move: _PlantMove, sign: float) -> Moved:
    """A change of the plant with what it gives alone."""
    plant = list(task.stands)
    plant[move.number] = move.after
    return Moved(move.variable, move.before, move.after, sign * task.with_plant(plant).litres(start))


def _forbidding(bounds: Sequence[Bound], kind: str, sign: float, target: float) -> Bound | None:
    """The tightest of the bounds that forbid a target, None where none does."""
    found = [b for b in bounds if kind in b.binds and sign * b.value < _enough(sign * target)]
    return min(found, key=lambda b: sign * b.value, default=None)


def _forbidden(own: Bound, loosest: Bound, target: float, aim: Aim, kind: str, others: int) -> str:
    """Say that a target is forbidden, and by what."""
    words = f"{aim.text(target)} is forbidden here by {own.name}: "
    words += own.note or (
        f"no {KINDS[kind].short_title} passes {own.value:.2f} {aim.unit} at this place, whatever its sizes "
        "within the ranges that may change."
    )
    if others:
        words += f" Nor does any of the {others} other sorbents, at the sizes as they stand, pass "
        words += f"{aim.text(loosest.value)}."
    return words


def _untried(kind: str, sorbent: Sorbent | None, others: Sequence[Sorbent]) -> str:
    """Say what the answer says nothing of."""
    title = KINDS[kind].short_title
    tried = "" if sorbent is None else " with its own sorbent"
    if others and sorbent is not None:
        tried = f" with its own sorbent and {len([o for o in others if o.key != sorbent.key])} others"
    left = ", ".join(one.short_title for key, one in KINDS.items() if key != kind)
    return f"Asked of the {title}{tried} only. Not tried: any other kind ({left})."


def _words(
    outcome: str, target: float, now: float, got: float, moved: Sequence[Moved], aim: Aim, swapped: str
) -> str:
    there = now <= target * (1.0 + CLOSE) if aim.less else now >= target * (1.0 - CLOSE)
    if there and not moved:
        return (
            f"Nothing has to change: the design gives {aim.text(now)}, and {aim.text(target)} was asked for."
        )
    if outcome == NOT_FOUND:
        instead = f", with {swapped} as the sorbent," if swapped else ""
        begun, came, missed = told_apart(aim.number, now, got, target)
        return (
            f"Not found: from {begun} {aim.unit} the search came to {came}{instead} and not to {missed}. "
            "That is no proof that no design does it."
        )
    named = [f"{entry.variable.name.lower()} from {' to '.join(entry.texts)}" for entry in moved[:NAMED]]
    if swapped:
        named.insert(0, f"{swapped} as the sorbent")
    more = len(moved) - NAMED
    rest = f", and {more} more change{'s' if more > 1 else ''}" if more > 0 else ""
    reached, begun = told_apart(aim.number, got, now)
    return f"Reached: {reached} {aim.unit} instead of {begun}, by {', '.join(named)}{rest}."
