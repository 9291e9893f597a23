"""The best design under limits: a seeded search over sizes and sorbents; the front of litres against effort.

Sorbents are narrowed down first: each is tried at the same scattered designs, and the best few go on. Then
differential evolution (SciPy) searches each of them. Both run through real days of each month
(`typical_weeks`), which is enough to tell good designs from bad ones. The best of them are simulated through
the whole year, and the best of these is followed uphill along the slopes of its litres (`gradient`, SLSQP),
variables without a slope held. The front of litres against a second figure is found by NSGA-II (pymoo). Every
simulated design is written to a file line by line, so that a search that was stopped goes on where it was.
What is found is a good design, not a proof that there is no better one.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import importlib.util
import json
import threading
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property, partial
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.errors import InputError, Problem, SolverError
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.layer_density import layer_of, layer_problems
from welkinwell.simulation import TOLERANCES, Prepared, prepare
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.gradient import OF_A_RANGE, Parameter, gradient
from welkinwell.studies.runner import Progress, run_all
from welkinwell.studies.short_year import ELECTRICITY, amounts, daily_water
from welkinwell.studies.short_year import litres as litres_of
from welkinwell.studies.typical_weeks import Days, typical_weeks
from welkinwell.studies.variables import Variable, applied
from welkinwell.writing import append_line, make_folder, write_text

Floats = NDArray[np.float64]
SCATTERED: Final = 16  # designs for each sorbent at first
KEPT: Final = 3  # sorbents that go on
POPULATION: Final = 24
GENERATIONS: Final = 14
FINALISTS: Final = 8  # designs of the days that are simulated through the whole year
REFERENCES: Final = 3  # sorbents by which the days are chosen
CLIMBS: Final = 8  # rounds along the slopes
FIGURES: Final = {
    "litres": "L a day per m2 of its area, collected",
    "mass": "kg of dry sorbent per m2 of its area",
    "electricity": "kWh of electricity per litre",
    "area": "m2 of all modules",
    "roof_load": "kg per m2 of ground that they take, tank apart",
    "budget": "money to buy and install, tank and treatment included",
    "cost": "money per litre that reaches the gutter",
    "sound_level": "dB(A) at the nearest bed with all that can run at a time",
}
UNITS: Final = {
    "litres": "L/m2 a day",
    "mass": "kg/m2",
    "electricity": "kWh/L",
    "area": "m2",
    "roof_load": "kg/m2",
    "budget": "in the case's money",
    "cost": "a litre in the case's money",
    "sound_level": "dB(A)",
}
OF_THE_BUILD: Final = ("mass", "area", "roof_load", "budget", "sound_level")  # known without a simulation
OF_THE_CASE: Final = ("roof_load", "budget", "cost", "sound_level")
OF_A_LITRE: Final = ("electricity", "cost")  # without a value where there is no water
DRY: Final = 1e6  # what such a design counts for: its cost, and its share over a limit
BINDS: Final = 0.02  # of a limit, within which a design stands at it
OBJECTIVES: Final = ("litres", "cost")
# design, sorbent, litres [L/m2/day] and electricity [kWh/L] (nan where not simulated) to figures by key; the
# repr says what the figures rest on, since a record is taken up again only with the same
OwnFigures = Callable[[Any, Any, float, float], Mapping[str, float | None]]


@dataclass(frozen=True)
class Limits:
    """What a design may not pass: key of a figure to (least, most); None where open."""

    of: Mapping[str, tuple[float | None, float | None]] = field(default_factory=dict)

    def broken(self, numbers: Mapping[str, float | None]) -> float:
        """By how much the limits are passed, as a sum of shares; 0 where they hold.

        A simulated design without water has no litre, and so none that is cheap enough: it counts as DRY
        over a limit on one. Other figures that a kind has not, as the sound of what is silent, pass nothing.
        """
        total = 0.0
        for key, (least, most) in self.of.items():
            value = numbers.get(key)
            if value is None:
                total += DRY if key in OF_A_LITRE and most is not None else 0.0
                continue
            if least is not None and value < least:
                total += (least - value) / max(abs(least), 1e-12)
            if most is not None and value > most:
                total += (value - most) / max(abs(most), 1e-12)
        return total

    def binding(self, numbers: Mapping[str, float | None]) -> list[tuple[str, float]]:
        """Give the limits that a design stands at, within BINDS of them: key of the figure and the limit."""
        found = []
        for key, ends in self.of.items():
            value = numbers.get(key)
            for end in ends:
                if value is not None and end is not None and abs(value - end) <= BINDS * abs(end):
                    found.append((key, end))
        return found

    def in_words(self) -> str:
        """Name the limits as they are asked for, with units."""
        said = []
        for key, (least, most) in self.of.items():
            option, unit = key.removesuffix("_level").replace("_", "-"), UNITS[key]
            said += [f"--least-{option} {least:g} {unit}"] if least is not None else []
            said += [f"--most-{option} {most:g} {unit}"] if most is not None else []
        return " with ".join(said)

    def without(self, key: str) -> Limits:
        """The same without the limits on one figure."""
        return Limits({one: span for one, span in self.of.items() if one != key})

    def checked(self) -> Limits:
        """Give itself; raises InputError where limits contradict each other."""
        for key, (least, most) in self.of.items():
            if key not in FIGURES:
                raise InputError(Problem("limit", repr(key), "one of " + ", ".join(FIGURES)))
            if least is not None and most is not None and least > most:
                raise InputError(Problem(f"limit on {key}", f"{least:g} to {most:g}", "least below most"))
        return self


@dataclass(frozen=True)
class Tried:
    """One design that was simulated: its sorbent, values of the variables in SI, and figures.

    whole: whether through the whole year, or through days of each month; refused: why it cannot be built,
    empty where it can; such a design counts as one without water and is never simulated.
    """

    sorbent: str
    values: tuple[float, ...]
    numbers: Mapping[str, float | None]
    whole: bool = False
    refused: str = ""


@dataclass(frozen=True)
class Best:
    """The best design found, its figures, the designs tried, and the order of the sorbents at first.

    order: of each sorbent the best that its scattered designs came to, more being better; None where none of
    them gave the water that the aim or a limit asks for.
    """

    design: Any
    sorbent: Sorbent
    tried: list[Tried]
    best: Tried
    order: list[tuple[str, float | None]]


class Record:
    """Designs simulated so far, in memory and, where a file is given, on disk line by line.

    about: name of each thing that the figures of its designs hang on to a hash of it. A file whose first line
    tells others is refused with an InputError that names them.
    """

    def __init__(self, path: Path | None, about: Mapping[str, str]) -> None:
        self._lock = threading.Lock()
        self._path = path
        self.found: dict[str, Tried] = {}
        head = json.dumps({"about": about})
        if path is None:
            return
        if path.is_file():
            text = path.read_text(encoding="utf-8")
            lines = text.splitlines()
            if not lines or lines[0] != head:
                given = f"the record of another search{_told_apart(lines[0] if lines else '', about)}"
                advice = "Or delete the file: then its designs are simulated again."
                raise InputError(Problem(str(path), given, "a new folder", advice))
            if not text.endswith("\n"):  # the line at which the search was killed: the next begins anew
                lines.pop()
                write_text(path, "".join(f"{line}\n" for line in lines))
            for line in lines[1:]:
                try:
                    entry = json.loads(line)
                except json.JSONDecodeError:
                    continue  # the line at which the search was stopped
                tried = Tried(**{**entry, "values": tuple(entry["values"])})
                self.found[self.key(tried.sorbent, tried.values, tried.whole)] = tried
        else:
            write_text(make_folder(path.parent) / path.name, head + "\n")

    @staticmethod
    def key(sorbent: str, values: Sequence[float], whole: bool) -> str:
        """Name a design by its sorbent and the values of its variables, in days or in the whole year."""
        return f"{sorbent} {'year' if whole else 'days'} " + " ".join(f"{value:.9g}" for value in values)

    def add(self, tried: Tried) -> None:
        """Keep a design."""
        with self._lock:
            self.found[self.key(tried.sorbent, tried.values, tried.whole)] = tried
            if self._path is not None:
                append_line(self._path, json.dumps(asdict(tried)))


def _told_apart(head: str, about: Mapping[str, str]) -> str:
    """Name what the first line of a record has otherwise; empty where it cannot be told."""
    try:
        written = json.loads(head)["about"]
    except (json.JSONDecodeError, KeyError, TypeError):
        return ""
    if not isinstance(written, dict):
        return ""
    other = [name for name, found in about.items() if written.get(name) != found]
    return f", with another {', another '.join(other)}"


def _hash(*parts: bytes | str) -> str:
    digest = hashlib.sha256()
    for part in parts:
        data = part.encode() if isinstance(part, str) else part
        digest.update(len(data).to_bytes(8, "big") + data)
    return digest.hexdigest()[:16]


def _site_hash(site: Surroundings) -> str:
    """Hash all of a site that a design meets: its hours with what the case lays over them, and its place."""
    climate = site.climate
    place = [
        (key, value)
        for key, value in sorted(climate.attrs.items())
        if isinstance(value, (int, float, np.number))
    ]
    hours: list[bytes | str] = []
    for name in ("time", *sorted(map(str, climate.data_vars))):
        hours += [name, repr(sorted(climate[name].attrs.items())), climate[name].values.tobytes()]
    return _hash(repr(place), *hours, site.albedo.tobytes(), site.instants.tobytes())


def _sorbents_hash(sorbents: Mapping[str, Sorbent | None]) -> str:
    """Hash a set of sorbents with the numbers of their sheets, in whatever order they were named."""
    parts: list[bytes | str] = []
    for key, one in sorted(sorbents.items()):
        parts += [key, repr(one)]
        if one is not None:
            parts += [one.row.tobytes(), b"" if one.phases is None else one.phases.tobytes()]
    return _hash(*parts)


class Search:
    """A search in one box at one site: designs in, figures out, each design simulated once."""

    def __init__(
        self,
        design: Any,
        sorbents: Sequence[Sorbent | None],
        site: Surroundings,
        variables: Sequence[Variable],
        *,
        limits: Limits | None = None,
        record: Path | None = None,
        accuracy: str = "screening",
        objective: str = "litres",
        own_figures: OwnFigures | None = None,
    ) -> None:
        if not variables:
            raise InputError(Problem("vary", "nothing", "at least one variable"))
        if objective not in OBJECTIVES:
            raise InputError(Problem("objective", repr(objective), " or ".join(OBJECTIVES)))
        self.design, self.site, self.accuracy = design, site, accuracy
        self.sorbents = {_key(one): one for one in sorbents}
        self.variables = list(variables)
        self.limits = (limits or Limits()).checked()
        self.objective, self._own = objective, own_figures
        priced = [key for key in (objective, *self.limits.of) if key in OF_THE_CASE]
        if priced and own_figures is None:
            raise InputError(Problem(priced[0], "no case", "a case with its prices and its place"))
        self.record = Record(record, {} if record is None else self._about())

    def _about(self) -> dict[str, str]:
        """Name all that the figures hang on, each with a hash: a record is good for the same only."""
        return {
            "design": _hash(repr(self.design)),
            "list of ranges": _hash(repr([(v.key, v.low, v.high) for v in self.variables])),
            "site or weather": _site_hash(self.site),
            "list of sorbents": _sorbents_hash(self.sorbents),
            "table of prices, tank, power or sound": _hash(repr(self._own)),
            "accuracy": self.accuracy,
            "version of welkinwell": importlib.metadata.version("welkinwell"),
        }

    @cached_property
    def days(self) -> Days:
        """Days of the site's year that most designs run through, chosen by the design with some sorbents."""
        names = sorted(self.sorbents)  # the same days in whatever order they were named
        step = max(len(names) // REFERENCES, 1)

        def daily_litres(name: str) -> Floats | None:
            try:
                ready = prepare(self.design, self.sorbents[name], self.site)
                return daily_water(ready, self.accuracy)
            except (SolverError, InputError):
                return None

        found = [water for water in run_all(daily_litres, names[::step][:REFERENCES]) if water is not None]
        if not found:
            raise SolverError("the design of the case could not be simulated with any of the sorbents")
        return typical_weeks(self.site, np.column_stack(found))

    def tried(self, sorbent: str, shares: Sequence[float] | Floats, whole: bool = False) -> Tried:
        """Simulate the design at shares of the variables' ranges, or take it from the record."""
        values = tuple(
            float(f"{v.at(float(share)):.9g}") for v, share in zip(self.variables, shares, strict=True)
        )
        known = self.record.found.get(Record.key(sorbent, values, whole))
        if known is not None:
            return known
        refused = self._refused(sorbent, values)
        numbers = self._dry(sorbent, values) if refused else self._figures(sorbent, values, whole)
        found = Tried(sorbent, values, numbers, whole, refused)
        self.record.add(found)
        return found

    def shares_of(self, tried: Tried) -> Floats:
        """Shares of the variables' ranges of an entry."""
        return np.array([v.share(x) for v, x in zip(self.variables, tried.values, strict=True)])

    def design_of(self, sorbent: str, values: Sequence[float]) -> tuple[Any, Any]:
        """The design and sorbent with the variables at their values."""
        design, material = applied(self.design, self.sorbents[sorbent], self.variables, values)
        return _filled(self.design, design, material, self.variables), material

    def built(self, sorbent: str, shares: Sequence[float] | Floats) -> dict[str, float | None]:
        """Figures that need no simulation."""
        values = [v.at(float(share)) for v, share in zip(self.variables, shares, strict=True)]
        return self._all_figures(*self.design_of(sorbent, values), float("nan"), float("nan"))

    def _all_figures(
        self, design: Any, material: Any, litres: float, electricity: float
    ) -> dict[str, float | None]:
        found: dict[str, float | None] = {
            "litres": litres,
            "mass": float(getattr(design, "sorbent_mass", 0.0)),
            "electricity": electricity if np.isfinite(electricity) else None,
            "area": float(design.basis_area * design.modules),
        }
        return found if self._own is None else {**found, **self._own(design, material, litres, electricity)}

    def _figures(self, sorbent: str, values: tuple[float, ...], whole: bool) -> dict[str, float | None]:
        design, material = self.design_of(sorbent, values)
        days = None if whole else self.days
        try:
            ready = prepare(design, material, self.site if days is None else days.site)
            row = amounts(ready, self.accuracy, days)
        except (SolverError, InputError):
            return self._dry(sorbent, values)
        water = float(row[:12].sum())
        electricity = float(row[ELECTRICITY]) / (3.6e6 * water) if water > 0.0 else float("nan")
        return self._all_figures(design, material, float(litres_of(row[None])[0]), electricity)

    def _dry(self, sorbent: str, values: tuple[float, ...]) -> dict[str, float | None]:
        """Figures of a design that gives no water, since it cannot be built or simulated."""
        return self._all_figures(*self.design_of(sorbent, values), 0.0, float("nan"))

    def _refused(self, sorbent: str, values: tuple[float, ...]) -> str:
        """Say why a design cannot be built: its own checks, or its layer of sorbent; empty where it can."""
        design, material = self.design_of(sorbent, values)
        problems = design.cross_checks() if hasattr(design, "cross_checks") else []
        return str((problems or layer_problems(design, material) or [""])[0])

    def left_out(self) -> list[str]:
        """Name what could not be built: how many designs of each sort, and one of them as an example."""
        first: dict[str, Tried] = {}
        count: Counter[str] = Counter()
        for tried in self.record.found.values():
            if tried.refused:
                sort = f"{tried.sorbent} {tried.refused.partition(':')[0]}"
                first.setdefault(sort, tried)
                count[sort] += 1
        return [
            f"{count[sort]} designs{f' with {one.sorbent}' if one.sorbent else ''} cannot be built and were "
            f"left out, as {one.refused}"
            for sort, one in first.items()
        ]

    def cost(self, tried: Tried) -> float:
        """What the search makes small: the objective, and limits passed by a large plus."""
        if self.objective == "cost":
            aim = _or_much(tried.numbers.get("cost"))
        else:
            aim = -float(tried.numbers["litres"] or 0.0)
        return aim + 100.0 * self.limits.broken(tried.numbers)

    def order(self, tried: Tried) -> tuple[bool, float]:
        """Sort key of designs to choose from: those inside all limits first, each lot by its cost.

        The cost alone would prefer a design that passes a limit by a hair to one that keeps it by more.
        """
        return self.limits.broken(tried.numbers) > 0.0, self.cost(tried)

    @property
    def climbs(self) -> bool:
        """Whether the litres are the aim, and all else that is limited is known without a simulation."""
        return self.objective == "litres" and set(self.limits.of) <= {"litres", *OF_THE_BUILD}

    def litres_and_slopes(self, sorbent: str, shares: Floats) -> tuple[float, Floats]:
        """Litres through the whole year, and their slopes by each share; 0 for what has no slope there."""
        at = np.clip(shares, OF_A_RANGE, 1.0 - OF_A_RANGE)

        def moved(number: int | None, by: float) -> Prepared:
            row = at.copy()
            if number is not None:
                row[number] += by
            values = [v.at(float(x)) for v, x in zip(self.variables, row, strict=True)]
            return prepare(*self.design_of(sorbent, values), self.site)

        parameters = [
            Parameter(v.key, v.name, "of its range", OF_A_RANGE, partial(moved, number))
            for number, v in enumerate(self.variables)
        ]
        slopes = gradient(moved(None, 0.0), parameters, tolerance=TOLERANCES["normal"], weak=0.0)
        return slopes[0].litres, np.array([one.value if one.smooth else 0.0 for one in slopes])


def best_design(search: Search, *, seed: int = 1, progress: Progress | None = None) -> Best:
    """Search the best design over the variables and the sorbents of a search; see the module's head."""
    from scipy.stats import qmc

    tell = progress or (lambda what, share: None)
    shares = qmc.Sobol(len(search.variables), scramble=True, seed=seed).random(SCATTERED)
    shares = np.vstack([shares, _as_given(search)])
    names = list(search.sorbents)
    tasks = [(name, row) for name in names for row in shares]
    found = run_all(
        lambda task: search.tried(*task), tasks,
        progress=lambda share: tell("Trying every sorbent", 0.3 * share),
    )  # fmt: skip
    by_sorbent = {name: min(search.cost(t) for t in found if t.sorbent == name) for name in names}
    order = sorted(by_sorbent.items(), key=lambda entry: entry[1])
    kept = [name for name, _ in order[:KEPT]]
    for number, name in enumerate(kept):
        own = sorted((t for t in found if t.sorbent == name), key=search.cost)
        _evolve(search, name, own, seed, tell, 0.3 + 0.5 * number / len(kept), 0.5 / len(kept))
    tell("Through the whole year", 0.8)
    final = sorted((t for t in search.record.found.values() if not t.whole), key=search.order)[:FINALISTS]
    years = run_all(lambda t: search.tried(t.sorbent, search.shares_of(t), True), final)
    best = min(years, key=search.order)
    if search.climbs and search.limits.broken(best.numbers) == 0.0:
        tell("Uphill", 0.85)
        top = search.tried(best.sorbent, _uphill(search, best), True)
        if search.limits.broken(top.numbers) == 0.0:
            best = min((best, top), key=search.cost)
    tried = list(search.record.found.values())
    if search.limits.broken(best.numbers) > 0.0:
        raise InputError(
            Problem("limits", search.limits.in_words(), "limits that some design keeps", _nearest_to(search))
        )
    if search.objective == "cost" and best.numbers.get("cost") is None:
        raise InputError(
            Problem(
                "objective", "cost", "a design that gives water", f"None of {len(tried)} designs gave any."
            )
        )
    design, sorbent = search.design_of(best.sorbent, best.values)
    told = [(name, -cost if cost < DRY else None) for name, cost in order]
    return Best(design, sorbent, tried, best, told)


def _nearest_to(search: Search) -> str:
    """Say how many litres were found where the other limits hold, or that none of them held."""
    rest = search.limits.without("litres")
    kept = [
        float(t.numbers["litres"] or 0.0)
        for t in search.record.found.values()
        if rest.broken(t.numbers) == 0.0
    ]
    if not kept:
        return f"None of {len(search.record.found)} designs kept {rest.in_words()}."
    under = f" under {rest.in_words()}" if rest.of else ""
    most = f"{max(kept):.2f} L a day from each m2, in {len(kept)} designs that keep it"
    return f"The most litres found{under}: {most}."


def _evolve(
    search: Search, name: str, own: Sequence[Tried], seed: int, tell: Progress, begin: float, span: float
) -> None:
    """Search one sorbent by differential evolution, from the designs that were tried with it."""
    from scipy.optimize import differential_evolution

    start = np.array([search.shares_of(t) for t in own])
    rng = np.random.default_rng(seed)
    more = rng.random((max(POPULATION - len(start), 0), len(search.variables)))
    generation = iter(range(10_000))

    def population_cost(rows: Floats) -> Floats:
        step = next(generation)
        costs = run_all(lambda row: search.cost(search.tried(name, row)), list(rows.T))
        tell(f"Searching with {name}", begin + span * min((step + 1) / (GENERATIONS + 2), 1.0))
        return np.array(costs)

    differential_evolution(
        population_cost,
        [(0.0, 1.0)] * len(search.variables),
        init=np.vstack([start, more])[:POPULATION],
        maxiter=GENERATIONS,
        tol=2e-3,
        rng=seed,
        polish=False,
        vectorized=True,
        updating="deferred",
    )


def _uphill(search: Search, best: Tried) -> Floats:
    """Follow the litres of the whole year uphill, inside the ranges and the limits that the build knows."""
    from scipy.optimize import minimize

    def downhill(shares: Floats) -> tuple[float, Floats]:
        litres, slopes = search.litres_and_slopes(best.sorbent, shares)
        return -litres, -slopes

    def room(shares: Floats, key: str, most: float) -> float:
        # a hair inside, since the solver keeps its limits to a hair only
        value = float(search.built(best.sorbent, shares)[key] or 0.0)
        return 1.0 - 1e-5 - value / max(abs(most), 1e-12)

    limits = [
        {"type": "ineq", "fun": room, "args": (key, most)}
        for key, (_, most) in search.limits.of.items()
        if key in OF_THE_BUILD and most is not None
    ]
    found = minimize(
        downhill,
        search.shares_of(best),
        jac=True,
        method="SLSQP",
        bounds=[(0.0, 1.0)] * len(search.variables),
        constraints=limits,
        options={"maxiter": CLIMBS, "ftol": 1e-4 * max(float(best.numbers["litres"] or 0.0), 1e-6)},
    )
    top: Floats = np.clip(found.x, 0.0, 1.0)
    return top


def front(tried: Sequence[Tried], second: str, limits: Limits | None = None) -> list[Tried]:
    """Designs that no other beats in both litres (more) and a second figure (less), by rising litres."""
    limits = limits or Limits()
    usable = [
        t for t in tried
        if t.numbers.get(second) is not None and (t.numbers["litres"] or 0.0) > 0.0
        and limits.broken(t.numbers) == 0.0
    ]  # fmt: skip
    usable.sort(key=lambda t: (float(t.numbers[second] or 0.0), -float(t.numbers["litres"] or 0.0)))
    kept: list[Tried] = []
    for one in usable:
        if not kept or float(one.numbers["litres"] or 0.0) > float(kept[-1].numbers["litres"] or 0.0):
            kept.append(one)
    return kept


def needs_pymoo() -> None:
    """Raise an InputError where pymoo (the extra `studies`) is not installed."""
    if importlib.util.find_spec("pymoo") is None:
        raise InputError(
            Problem("pymoo", "not installed", "the extra `studies`", "pip install 'welkinwell[studies]'")
        )


def evolve_front(
    search: Search,
    sorbent: str,
    second: str,
    *,
    generations: int = 12,
    seed: int = 1,
    progress: Progress | None = None,
) -> list[Tried]:
    """Evolve the front of litres against a second figure for one sorbent; needs pymoo (extra `studies`)."""
    needs_pymoo()
    from pymoo.algorithms.moo.nsga2 import NSGA2
    from pymoo.core.problem import Problem as Task
    from pymoo.optimize import minimize

    if second not in FIGURES or second == "litres":
        others = ", ".join(key for key in FIGURES if key != "litres")
        raise InputError(Problem("against", repr(second), f"one of {others}"))
    tell = progress or (lambda what, share: None)
    steps = iter(range(1, 10_000))

    class Front(Task):
        def __init__(self) -> None:
            super().__init__(n_var=len(search.variables), n_obj=2, n_ieq_constr=1, xl=0.0, xu=1.0)

        def _evaluate(self, x: Floats, out: dict[str, Any], *args: Any, **kwargs: Any) -> None:
            tried = run_all(lambda row: search.tried(sorbent, row), list(x))
            out["F"] = np.array(
                [[-float(t.numbers["litres"] or 0.0), _or_much(t.numbers[second])] for t in tried]
            )
            out["G"] = np.array([[search.limits.broken(t.numbers)] for t in tried])
            tell("Front", next(steps) / generations)

    minimize(Front(), NSGA2(pop_size=POPULATION), ("n_gen", generations), seed=seed, verbose=False)
    own = [t for t in search.record.found.values() if t.sorbent == sorbent]
    return front(own, second, search.limits)


def _or_much(value: float | None) -> float:
    return DRY if value is None else float(value)


def through_the_year(search: Search, edge: Sequence[Tried], second: str) -> list[Tried]:
    """Simulate a front through the whole year, and keep what is still a front."""
    years = run_all(lambda t: search.tried(t.sorbent, search.shares_of(t), True), list(edge))
    return front(years, second, search.limits)


def _key(sorbent: Sorbent | None) -> str:
    return "" if sorbent is None else sorbent.key


def _as_given(search: Search) -> Floats:
    """The design as it stands, as shares of the ranges; outside a range that was asked for, its end."""
    some = next(iter(search.sorbents.values()))
    return np.array([[v.share(v.now(search.design, some)) for v in search.variables]])


def _filled(stands: Any, design: Any, sorbent: Any, variables: Sequence[Variable]) -> Any:
    """Let the mass follow the bed's volume where the search varies its sizes and not the mass.

    At the sheet's bulk density; as dense as the design stands where it declares the form of its layer.
    """
    keys = {variable.key for variable in variables}
    now, layer = layer_of(stands), layer_of(design)
    if sorbent is None or now is None or layer is None or layer.fields[0] in keys:
        return design
    if not keys & set(layer.fields[1:]) and layer.volume == now.volume:
        return design
    density = now.density if stands.layer_form is not None else sorbent.bulk_density
    return replace(design, sorbent_mass=density * layer.volume)
