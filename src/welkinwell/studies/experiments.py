"""The published experiments that the simulation is held against, read from library/experiments/*.toml.

schema_version = 1
title, kind, source, laboratory, counts, reason, gives_water, place, weather, protocol, sorbents,
sorbent_note, cautions
[[figures]]    quantity, published, relation, tolerance, tolerance_source, judged, seen, basis
[conditions]   name = { value | low and high | one_of, drawn, source, where, seen }
[design]       the same, for the device itself

The list and its ranges are fixed before the first prediction. A condition that the source does not give is
drawn from its range; the prediction is the median of the draws. Nothing in a file is moved to meet a figure.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.declare import Declared, read_value, unknown_keys
from welkinwell.errors import ExperimentError, Problem, nearest_name
from welkinwell.harvesters.published import kinds_with_tests
from welkinwell.sorbents.sheet import source_keys
from welkinwell.studies.experiment_words import (
    QUANTITIES,
    WEATHER,
    condition_words,
    design_words,
)
from welkinwell.text_file import read_toml

SCHEMA_VERSION: Final = 1
DRAWS: Final = 64  # conditions drawn for a prediction
SEED: Final = 1
LARGEST_TOLERANCE: Final = 0.5
FEWEST_CASES: Final = 12
FEWEST_KINDS: Final = 5
MOST_PER_LABORATORY: Final = 2
RELATIONS: Final = ("=", ">=")
SEEN: Final = {
    "source": "read in the source itself, most often its abstract",
    "second-hand": "read in another text that quotes it",
    "computed": "worked out from figures that were read",
    "memory": "recalled, not read",
}
NO_SOURCE: Final = "none"

_TOP: Final = (
    "schema_version",
    "title",
    "kind",
    "source",
    "laboratory",
    "counts",
    "gives_water",
    "reason",
    "place",
    "weather",
    "protocol",
    "sorbents",
    "sorbent_note",
    "cautions",
    "figures",
    "conditions",
    "design",
)
_FIGURE: Final = (
    "quantity",
    "published",
    "relation",
    "tolerance",
    "tolerance_source",
    "judged",
    "seen",
    "basis",
)
_CONDITION: Final = ("value", "low", "high", "one_of", "drawn", "source", "where", "seen")


@dataclass(frozen=True)
class Figure:
    """One published figure. tolerance: relative; judged: whether the case stands or falls with it."""

    quantity: str
    published: float
    relation: str
    tolerance: float
    tolerance_source: str
    judged: bool
    seen: str
    basis: str

    def inside(self, predicted: float) -> bool:
        """Say whether a prediction, in the figure's own unit [unit of the quantity], agrees with it."""
        if self.relation == ">=":
            return predicted >= self.published * (1.0 - self.tolerance)
        return abs(predicted / self.published - 1.0) <= self.tolerance


@dataclass(frozen=True)
class Condition:
    """One condition, fixed or to be drawn. value, low, high and options in SI; text as in the file."""

    name: str
    unit: str
    value: Any
    low: float | None
    high: float | None
    options: tuple[Any, ...]
    logarithmic: bool
    source: str
    where: str
    seen: str
    text: str
    whole: bool = False

    @property
    def drawn(self) -> bool:
        """Whether it has a range or a choice instead of one value."""
        return self.value is None

    def at(self, share: float) -> Any:
        """Give the value [SI] at a share [1] of the way through the range."""
        if not self.drawn:
            return self.value
        if self.options:
            return self.options[min(int(share * len(self.options)), len(self.options) - 1)]
        assert self.low is not None and self.high is not None
        if self.logarithmic:
            found = float(self.low * (self.high / self.low) ** share)
        else:
            found = self.low + share * (self.high - self.low)
        return round(found) if self.whole else found


@dataclass(frozen=True)
class Experiment:
    """One published test: what was measured, under which conditions, and how it is to be simulated.

    gives_water: whether the figures are water that a device gave; if not, they test a part or an equilibrium.
    """

    case: str
    title: str
    kind: str
    source: str
    laboratory: str
    counts: bool
    gives_water: bool
    reason: str
    place: str
    weather: str
    protocol: str
    sorbents: tuple[str, ...]
    sorbent_note: str
    cautions: tuple[str, ...]
    figures: tuple[Figure, ...]
    conditions: Mapping[str, Condition]
    design: Mapping[str, Condition]

    @property
    def sources(self) -> tuple[str, ...]:
        """Every key of sources.bib that it rests on."""
        given = [*self.conditions.values(), *self.design.values()]
        keys = [self.source, *(condition.source for condition in given)]
        return tuple(dict.fromkeys(key for key in keys if key != NO_SOURCE))


def read_experiment(path: str | Path | Traversable) -> Experiment:
    """Read and check one file.

    Args: path to the TOML file. Returns: the experiment; an ExperimentError holds every problem found.
    """
    file = Path(path) if isinstance(path, str) else path
    raw = read_toml(file, "a readable TOML file of one experiment", refusal=ExperimentError)
    return _Reader(file.name, raw).experiment()


@lru_cache(maxsize=1)
def library_experiments() -> tuple[Experiment, ...]:
    """Read every experiment of the library, in the order of the kinds and names."""
    folder = resources.files("welkinwell").joinpath("library/experiments")
    files = [entry for entry in folder.iterdir() if entry.name.endswith(".toml")]
    found = [read_experiment(entry) for entry in files]
    order = list(kinds_with_tests())
    return tuple(sorted(found, key=lambda e: (order.index(e.kind), not e.counts, e.case)))


def broken_rules(experiments: Sequence[Experiment]) -> list[str]:
    """Say in sentences which rules of the whole list are broken; an empty list when none is."""
    counted = [experiment for experiment in experiments if experiment.counts]
    kinds = {experiment.kind for experiment in counted}
    broken = []
    if len(counted) < FEWEST_CASES:
        broken.append(f"{len(counted)} cases count; at least {FEWEST_CASES} are needed")
    if len(kinds) < FEWEST_KINDS:
        broken.append(f"{len(kinds)} kinds are counted; at least {FEWEST_KINDS} are needed")
    for laboratory, number in Counter(experiment.laboratory for experiment in counted).items():
        if number > MOST_PER_LABORATORY:
            broken.append(f"{laboratory}: {number} cases count; at most {MOST_PER_LABORATORY} may")
    for title, number in Counter(experiment.title for experiment in experiments).items():
        if number > 1:
            broken.append(f"{title!r} is the title of {number} cases")
    return broken


def draw_conditions(experiment: Experiment, number: int = DRAWS, seed: int = SEED) -> list[dict[str, Any]]:
    """Draw sets of conditions, each quantity evenly over its range (Latin hypercube).

    Args: experiment; number [1] of sets; seed [1]. Returns: one dict a set with every condition and design
    field by name [SI] and, where a sorbent is used, the name of its sheet under "sorbent".
    """
    given = {**experiment.conditions, **experiment.design}
    varied = [name for name, condition in given.items() if condition.drawn]
    if len(experiment.sorbents) > 1:
        varied.append("sorbent")
    shares = _latin_hypercube(len(varied), number, seed)
    return [_one_draw(experiment, given, dict(zip(varied, row, strict=True))) for row in shares]


def _latin_hypercube(columns: int, number: int, seed: int) -> NDArray[np.float64]:
    """Give shares from 0 to 1, shape (number, columns): one in each of `number` strips of a column."""
    random = np.random.default_rng(seed)
    strips = np.array([random.permutation(number) for _ in range(columns)]).reshape(columns, number).T
    return (strips + random.random((number, columns))) / number


def _one_draw(
    experiment: Experiment, given: Mapping[str, Condition], shares: Mapping[str, float]
) -> dict[str, Any]:
    found = {name: condition.at(float(shares.get(name, 0.0))) for name, condition in given.items()}
    sheets = experiment.sorbents
    if sheets:
        place = min(int(shares.get("sorbent", 0.0) * len(sheets)), len(sheets) - 1)
        found["sorbent"] = sheets[place]
    return found


@dataclass
class _Reader:
    """Walks over one parsed file, takes what it knows, and collects every problem."""

    file: str
    raw: Mapping[str, Any]

    def experiment(self) -> Experiment:
        self.problems: list[Problem] = unknown_keys(self.raw, _TOP, self.file)
        if self.raw.get("schema_version") != SCHEMA_VERSION:
            given = repr(self.raw.get("schema_version"))
            self._say("schema_version", given, str(SCHEMA_VERSION))
        counts = self._flag(self.raw, "counts", "counts")
        kind = self._one_of(self.raw, "kind", "kind", kinds_with_tests())
        read = Experiment(
            case=self.file.removesuffix(".toml"),
            title=self._text("title"),
            kind=kind,
            source=self._source(self.raw.get("source"), "source", allow_none=False),
            laboratory=self._text("laboratory"),
            counts=counts,
            gives_water=self._flag(self.raw, "gives_water", "gives_water"),
            reason=self._reason(counts),
            place=self._text("place"),
            weather=self._one_of(self.raw, "weather", "weather", WEATHER),
            protocol=self._text("protocol"),
            sorbents=self._sorbents(),
            sorbent_note=self._text("sorbent_note") if self.raw.get("sorbents") else "",
            cautions=self._texts("cautions"),
            figures=self._figures(counts),
            conditions=self._table("conditions", condition_words()),
            design=self._table("design", design_words(kind)),
        )
        self._complete(read)
        if self.problems:
            raise ExperimentError(self.problems)
        return read

    def _say(self, key: str, given: str, expected: str, advice: str = "") -> None:
        self.problems.append(Problem(f"{self.file}, {key}", given, expected, advice))

    def _text(self, key: str) -> str:
        return self._sentence(self.raw, key, key)

    def _sentence(self, table: Mapping[str, Any], key: str, where: str) -> str:
        given = table.get(key)
        if isinstance(given, str) and given.strip():
            return given.strip()
        self._say(where, "nothing" if given is None else repr(given), "text")
        return ""

    def _texts(self, key: str) -> tuple[str, ...]:
        given = self.raw.get(key, [])
        if isinstance(given, list) and all(isinstance(text, str) and text.strip() for text in given):
            return tuple(given)
        self._say(key, repr(given), "a list of sentences")
        return ()

    def _flag(self, table: Mapping[str, Any], key: str, where: str) -> bool:
        given = table.get(key)
        if not isinstance(given, bool):
            self._say(where, "nothing" if given is None else repr(given), "true or false")
        return given is True

    def _one_of(
        self, table: Mapping[str, Any], key: str, where: str, allowed: Mapping[str, Any] | Sequence[str]
    ) -> str:
        given = table.get(key)
        if isinstance(given, str) and given in allowed:
            return given
        words = "one of " + ", ".join(repr(word) for word in allowed)
        advice = nearest_name(given, allowed) if isinstance(given, str) else ""
        self._say(where, "nothing" if given is None else repr(given), words, advice)
        return next(iter(allowed))

    def _source(self, given: Any, where: str, allow_none: bool) -> str:
        known = source_keys()
        if isinstance(given, str) and (given in known or (allow_none and given == NO_SOURCE)):
            return given
        expected = "a key of sources.bib" + (f", or {NO_SOURCE!r} for common practice" if allow_none else "")
        advice = nearest_name(given, known) if isinstance(given, str) else ""
        self._say(where, "nothing" if given is None else repr(given), expected, advice)
        return ""

    def _reason(self, counts: bool) -> str:
        if counts and "reason" in self.raw:
            self._say("reason", repr(self.raw["reason"]), "no reason where the case counts")
        return "" if counts else self._text("reason")

    def _sorbents(self) -> tuple[str, ...]:
        given = self.raw.get("sorbents", [])
        known = _sheet_names()
        if not isinstance(given, list):
            self._say("sorbents", repr(given), "a list of sheets of the library")
            return ()
        for name in given:
            if str(name) not in known:
                self._say("sorbents", repr(name), "a sheet of the library", nearest_name(str(name), known))
        return tuple(str(name) for name in given)

    def _figures(self, counts: bool) -> tuple[Figure, ...]:
        given = self.raw.get("figures")
        if not isinstance(given, list) or not given or not all(isinstance(row, dict) for row in given):
            self._say(
                "figures", "nothing" if given is None else repr(given), "at least one [[figures]] table"
            )
            return ()
        found = tuple(self._figure(row, f"figures {i}") for i, row in enumerate(given, start=1))
        if counts and not any(figure.judged for figure in found):
            self._say("figures", "none that is judged", "at least one judged figure in a case that counts")
        for i, figure in enumerate(found, start=1):
            if counts and figure.judged and figure.seen == "memory":
                self._say(f"figures {i}, seen", "'memory'", "a figure that was read, in a case that counts")
        return found

    def _figure(self, row: Mapping[str, Any], where: str) -> Figure:
        self.problems += unknown_keys(row, _FIGURE, f"{self.file}, {where}")
        return Figure(
            quantity=self._one_of(row, "quantity", f"{where}, quantity", QUANTITIES),
            published=self._number(row, "published", f"{where}, published", np.inf),
            relation=self._one_of(row, "relation", f"{where}, relation", RELATIONS),
            tolerance=self._number(row, "tolerance", f"{where}, tolerance", LARGEST_TOLERANCE),
            tolerance_source=self._sentence(row, "tolerance_source", f"{where}, tolerance_source"),
            judged=self._flag(row, "judged", f"{where}, judged"),
            seen=self._one_of(row, "seen", f"{where}, seen", SEEN),
            basis=self._sentence(row, "basis", f"{where}, basis"),
        )

    def _number(self, table: Mapping[str, Any], key: str, where: str, high: float) -> float:
        given = table.get(key)
        number = float(given) if isinstance(given, (int, float)) and not isinstance(given, bool) else np.nan
        if 0.0 < number <= high and np.isfinite(number):
            return number
        bound = f", at most {high:g}" if np.isfinite(high) else ""
        self._say(where, "nothing" if given is None else repr(given), f"a number above 0{bound}")
        return 1.0

    def _table(self, key: str, words: Mapping[str, Declared]) -> dict[str, Condition]:
        given = self.raw.get(key, {})
        if not isinstance(given, dict):
            self._say(key, repr(given), f"a [{key}] table")
            return {}
        self.problems += unknown_keys(given, words, f"{self.file}, [{key}]")
        return {
            name: self._condition(words[name], row, f"[{key}], {name}")
            for name, row in given.items()
            if name in words
        }

    def _condition(self, word: Declared, row: Any, where: str) -> Condition:
        if not isinstance(row, dict):
            self._say(where, repr(row), 'a table as in { value = "...", source = "...", where = "..." }')
            row = {}
        self.problems += unknown_keys(row, _CONDITION, f"{self.file}, {where}")
        seen = self._one_of(row, "seen", f"{where}, seen", SEEN)
        source = self._source(row.get("source"), f"{where}, source", allow_none=True)
        if source == NO_SOURCE and seen != "memory":
            self._say(f"{where}, seen", repr(seen), "'memory' where there is no source")
        value, low, high, options = self._values(word, row, where)
        logarithmic = row.get("drawn", "evenly") == "logarithmically"
        if row.get("drawn", "logarithmically") != "logarithmically":
            self._say(f"{where}, drawn", repr(row["drawn"]), "'logarithmically', or leave it out")
        return Condition(
            name=word.name,
            unit=word.unit,
            value=value,
            low=low,
            high=high,
            options=options,
            logarithmic=logarithmic,
            source=source,
            where=self._sentence(row, "where", f"{where}, where"),
            seen=seen,
            text=_as_written(row),
            whole=word.kind == "count",
        )

    def _values(self, word: Declared, row: Mapping[str, Any], where: str) -> tuple[Any, Any, Any, tuple]:
        """Read the one value, the range or the choice; exactly one of the three must be given."""
        forms = [form for form in ("value", "low", "one_of") if form in row]
        if len(forms) != 1 or ("high" in row) != ("low" in row):
            self._say(where, ", ".join(k for k in row if k in _CONDITION[:4]) or "nothing", _FORMS)
            return None, None, None, ()
        if forms == ["value"]:
            return self._read(word, row["value"], f"{where}, value"), None, None, ()
        if forms == ["one_of"]:
            given = row["one_of"]
            if not isinstance(given, list) or len(given) < 2:
                self._say(f"{where}, one_of", repr(given), "a list of two or more")
                return None, None, None, ()
            return None, None, None, tuple(self._read(word, v, f"{where}, one_of") for v in given)
        low = self._read(word, row["low"], f"{where}, low")
        high = self._read(word, row["high"], f"{where}, high")
        if word.kind not in ("quantity", "count"):
            self._say(where, "a range", f"a value or one_of: {word.range_text()}")
        elif low is not None and high is not None and low >= high:
            self._say(f"{where}, low", repr(row["low"]), f"less than high ({row['high']})")
        return None, low, high, ()

    def _read(self, word: Declared, given: Any, where: str) -> Any:
        value, problems = read_value(word, given, f"{self.file}, {where}")
        self.problems += problems
        return value

    def _complete(self, read: Experiment) -> None:
        """Report what the form of the weather needs and the file does not state."""
        for name in WEATHER[read.weather]:
            if name not in read.conditions:
                self._say(f"[conditions], {name}", "nothing", f"stated where weather is {read.weather!r}")
        for name in read.conditions:
            if name in read.design:
                self._say(f"[design], {name}", "a second time", "each name in one of the two tables")


_FORMS: Final = "either value, or low and high, or one_of"


def _as_written(row: Mapping[str, Any]) -> str:
    """Write a condition as the file has it, for tables."""
    if "value" in row:
        return _word(row["value"])
    if isinstance(row.get("one_of"), list):
        return " or ".join(_word(value) for value in row["one_of"])
    low, high = str(row.get("low")), str(row.get("high"))
    ends = [re.fullmatch(r"(\S+)(\s.*)?", text) for text in (low, high)]
    if ends[0] and ends[1] and ends[0].group(2) == ends[1].group(2):
        return f"{ends[0].group(1)} to {high}"
    return f"{low} to {high}"


def _word(value: Any) -> str:
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)


@lru_cache(maxsize=1)
def _sheet_names() -> frozenset[str]:
    folder = resources.files("welkinwell").joinpath("library/sorbents")
    return frozenset(e.name.removesuffix(".toml") for e in folder.iterdir() if e.name.endswith(".toml"))
