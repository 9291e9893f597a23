"""The best design under limits: a seeded search over sizes and sorbents; the front of litres against effort.

Sorbents are narrowed down first: each is tried at the same scattered designs, and the best few go on. Then
differential evolution (SciPy) searches each of them. The front of litres against a second figure is found by
NSGA-II (pymoo). Every simulated design is written to a file line by line, so that a search that was stopped
goes on where it was. What is found is a good design, not a proof that there is no better one.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.errors import InputError, Problem, SolverError
from welkinwell.harvesters.air import Surroundings
from welkinwell.simulate import simulate
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.runner import run_all
from welkinwell.studies.variables import Variable, applied
from welkinwell.year import figures

Floats = NDArray[np.float64]
Progress = Callable[[str, float], None]
SCATTERED: Final = 16  # designs for each sorbent at first
KEPT: Final = 3  # sorbents that go on
POPULATION: Final = 24
GENERATIONS: Final = 14
FIGURES: Final = {
    "litres": "L/m2/day collected",
    "mass": "kg of dry sorbent per m2",
    "electricity": "kWh of electricity per litre",
}


@dataclass(frozen=True)
class Limits:
    """What a design may not pass: key of a figure to (least, most); None where open."""

    of: Mapping[str, tuple[float | None, float | None]] = field(default_factory=dict)

    def broken(self, numbers: Mapping[str, float | None]) -> float:
        """By how much the limits are passed, as a sum of shares; 0 where they hold."""
        total = 0.0
        for key, (least, most) in self.of.items():
            value = numbers.get(key)
            if value is None:
                continue
            if least is not None and value < least:
                total += (least - value) / max(abs(least), 1e-12)
            if most is not None and value > most:
                total += (value - most) / max(abs(most), 1e-12)
        return total

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
    """One design that was simulated: its sorbent, values of the variables in SI, and figures."""

    sorbent: str
    values: tuple[float, ...]
    numbers: Mapping[str, float | None]


@dataclass(frozen=True)
class Best:
    """The best design found, its figures, the designs tried, and the order of the sorbents at first."""

    design: Any
    sorbent: Sorbent
    tried: list[Tried]
    best: Tried
    order: list[tuple[str, float]]


class Record:
    """Designs simulated so far, in memory and, where a file is given, on disk line by line."""

    def __init__(self, path: Path | None, about: str) -> None:
        self._lock = threading.Lock()
        self._path = path
        self.found: dict[str, Tried] = {}
        head = json.dumps({"about": about})
        if path is None:
            return
        if path.is_file():
            lines = path.read_text(encoding="utf-8").splitlines()
            if not lines or lines[0] != head:
                raise InputError(Problem(str(path), "the record of another search", "a new folder"))
            for line in lines[1:]:
                try:
                    entry = json.loads(line)
                except json.JSONDecodeError:
                    continue  # the line at which the search was stopped
                tried = Tried(entry["sorbent"], tuple(entry["values"]), entry["numbers"])
                self.found[self.key(tried.sorbent, tried.values)] = tried
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(head + "\n", encoding="utf-8")

    @staticmethod
    def key(sorbent: str, values: Sequence[float]) -> str:
        """Name a design by its sorbent and the values of its variables."""
        return sorbent + " " + " ".join(f"{value:.9g}" for value in values)

    def add(self, tried: Tried) -> None:
        """Keep a design."""
        with self._lock:
            self.found[self.key(tried.sorbent, tried.values)] = tried
            if self._path is not None:
                line = {"sorbent": tried.sorbent, "values": tried.values, "numbers": tried.numbers}
                with self._path.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(line) + "\n")


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
    ) -> None:
        if not variables:
            raise InputError(Problem("vary", "nothing", "at least one variable"))
        self.design, self.site, self.accuracy = design, site, accuracy
        self.sorbents = {_key(one): one for one in sorbents}
        self.variables = list(variables)
        self.limits = (limits or Limits()).checked()
        ranges = [(v.key, v.low, v.high) for v in variables]
        about = f"{design!r} {ranges} {site.climate.attrs.get('content_hash', '')} {accuracy}"
        self.record = Record(record, hashlib.sha256(about.encode()).hexdigest())

    def tried(self, sorbent: str, shares: Sequence[float]) -> Tried:
        """Simulate the design at shares of the variables' ranges, or take it from the record."""
        values = tuple(
            float(f"{v.at(float(share)):.9g}") for v, share in zip(self.variables, shares, strict=True)
        )
        known = self.record.found.get(Record.key(sorbent, values))
        if known is not None:
            return known
        found = Tried(sorbent, values, self._figures(sorbent, values))
        self.record.add(found)
        return found

    def design_of(self, tried: Tried) -> tuple[Any, Any]:
        """The design and sorbent of an entry."""
        design, sorbent = applied(self.design, self.sorbents[tried.sorbent], self.variables, tried.values)
        return _filled(design, sorbent, self.variables), sorbent

    def _figures(self, sorbent: str, values: tuple[float, ...]) -> dict[str, float | None]:
        design, material = self.design_of(Tried(sorbent, values, {}))
        problems = design.cross_checks() if hasattr(design, "cross_checks") else []
        mass = float(getattr(design, "sorbent_mass", 0.0))
        if problems:
            return {"litres": 0.0, "mass": mass, "electricity": None}
        try:
            year = simulate(design, material, self.site, keep="months", accuracy=self.accuracy, audit=False)
        except SolverError:
            return {"litres": 0.0, "mass": mass, "electricity": None}
        found = figures(year)
        return {
            "litres": float(found["litres_per_m2_day"]),
            "mass": mass,
            "electricity": found["electricity_kwh_per_litre"],
        }

    def cost(self, tried: Tried) -> float:
        """What the search makes small: litres with a minus, and limits passed by a large plus."""
        return -float(tried.numbers["litres"] or 0.0) + 100.0 * self.limits.broken(tried.numbers)


def best_design(search: Search, *, seed: int = 1, progress: Progress | None = None) -> Best:
    """Search the best design over the variables and the sorbents of a search; see the module's head."""
    from scipy.optimize import differential_evolution
    from scipy.stats import qmc

    tell = progress or (lambda what, share: None)
    shares = qmc.Sobol(len(search.variables), scramble=True, seed=seed).random(SCATTERED)
    shares = np.vstack([shares, _as_given(search)])
    names = list(search.sorbents)
    tasks = [(name, row) for name in names for row in shares]
    found = run_all(
        lambda task: search.tried(*task), tasks,
        progress=lambda share: tell("Trying every sorbent", 0.4 * share),
    )  # fmt: skip
    by_sorbent = {name: min(search.cost(t) for t in found if t.sorbent == name) for name in names}
    order = sorted(by_sorbent.items(), key=lambda entry: entry[1])
    kept = [name for name, _ in order[:KEPT]]
    for number, name in enumerate(kept):
        own = sorted((t for t in found if t.sorbent == name), key=search.cost)
        start = np.array([[v.share(x) for v, x in zip(search.variables, t.values, strict=True)] for t in own])
        rng = np.random.default_rng(seed)
        more = rng.random((max(POPULATION - len(start), 0), len(search.variables)))
        generation = iter(range(10_000))

        def population_cost(rows: Floats, name: str = name, number: int = number) -> Floats:
            step = next(generation)  # noqa: B023
            costs = run_all(lambda row: search.cost(search.tried(name, row)), list(rows.T))
            tell(f"Searching with {name}", 0.4 + 0.6 * (number + (step + 1) / (GENERATIONS + 2)) / len(kept))
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
    tried = list(search.record.found.values())
    best = min(tried, key=search.cost)
    if search.limits.broken(best.numbers) > 0.0:
        raise InputError(
            Problem("limits", json.dumps(dict(search.limits.of)), "limits that some design keeps")
        )
    design, sorbent = search.design_of(best)
    return Best(design, sorbent, tried, best, [(name, -cost) for name, cost in order])


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
    return 1e6 if value is None else float(value)


def _key(sorbent: Sorbent | None) -> str:
    return "" if sorbent is None else sorbent.key


def _as_given(search: Search) -> Floats:
    """The design as it stands, as shares of the ranges."""
    some = next(iter(search.sorbents.values()))
    return np.array([[v.share(v.now(search.design, some)) for v in search.variables]])


def _filled(design: Any, sorbent: Any, variables: Sequence[Variable]) -> Any:
    """Let the mass follow from layer and area where the search varies these and not the mass."""
    keys = {variable.key for variable in variables}
    if sorbent is None or "sorbent_mass" in keys or not keys & {"layer_thickness", "bed_area"}:
        return design
    if not hasattr(design, "bed_area") or not hasattr(design, "layer_thickness"):
        return design
    return replace(design, sorbent_mass=sorbent.bulk_density * design.layer_thickness * design.bed_area)
