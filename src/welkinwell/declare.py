"""A field declared once: its unit, sentence and bounds give the check, the form, the help text and the docs.

    @dataclass(frozen=True)
    class Tank:
        volume: float = quantity("L", "Water that the tank holds when full", default=300.0, low=1.0, high=1e6)

    build(Tank, {"volume": "0.5 m3"}, "case.toml, [tank]")   # text with units, every problem at once
    Tank(volume=0.5)                                         # SI floats, from Python
    check(Tank(volume=-1.0))                                 # raises, saying the range

A class may define cross_checks(self) -> list[Problem] for rules between its fields.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from welkinwell.errors import InputError, Problem, QuantityError, nearest_name
from welkinwell.quantities import as_text, from_si, scale, to_si

T = TypeVar("T")
REQUIRED: Final = dataclasses.MISSING
_LISTED_KEYS: Final = 12  # a longer list in a message is not read
_ROUNDING: Final = 1e-9  # a bound written in another unit may miss it by a rounding


@dataclass(frozen=True)
class Declared:
    """What is known of one field. default, low and high are in SI."""

    name: str
    kind: str  # quantity | choice | flag | count | words | texts
    unit: str
    sentence: str
    default: Any
    low: float
    high: float
    low_open: bool
    options: tuple[str, ...]

    @property
    def required(self) -> bool:
        """Whether the field must be given."""
        return self.default is REQUIRED

    def range_text(self) -> str:
        """Say what may be given, in a user's words."""
        if self.kind == "choice":
            return "one of " + ", ".join(repr(option) for option in self.options)
        if self.kind == "flag":
            return "true or false"
        if self.kind == "words":
            return "text"
        if self.kind == "texts":
            return 'a list of texts, as in ["one", "two"]'
        if self.kind == "count":
            return "a whole number" + _bounds(_plain(self.low), _plain(self.high), self)
        bounds = _bounds(self._written(self.low), self._written(self.high), self)
        if self.unit == "1" and 0.05 <= self.high <= 1.0:
            share = float(self.example())
            return f'a plain number, as in {share:g} or "{100.0 * share:g} %"{bounds}'
        if self.unit == "1":
            return f"a plain number{bounds}"
        return f'a number with its unit, as in "{self.example()}"{bounds}'

    def example(self) -> str:
        """Give one allowed value as a person would write it."""
        if self.default is not REQUIRED and self.default is not None:
            return as_text(self.default, self.unit) if self.kind == "quantity" else str(self.default)
        if self.kind != "quantity":
            return self.options[0] if self.options else "..."
        low, high = (from_si(bound, self.unit) for bound in (self.low, self.high))
        value = _amid(low, high)
        return f"{value:g}" if self.unit == "1" else f"{value:g} {self.unit}"

    def _written(self, bound: float) -> str:
        """Write a bound in the declared unit without a power of ten."""
        if not math.isfinite(bound):
            return ""
        number = _plain(from_si(bound, self.unit))
        return number if self.unit == "1" else f"{number} {self.unit}"


def quantity(
    unit: str,
    sentence: str,
    *,
    default: float | Any | None = REQUIRED,
    low: float = -math.inf,
    high: float = math.inf,
    low_open: bool = False,
) -> Any:
    """Declare a number with a unit; default, low and high are in that unit, the field itself is in SI."""
    known = scale(unit)

    def in_si(value: float) -> float:
        return value * known.factor + known.offset

    stored = default if default is REQUIRED or default is None else in_si(default)
    return _field(
        "quantity", sentence, stored, unit=unit, low=in_si(low), high=in_si(high), low_open=low_open
    )


def choice(options: Sequence[str], sentence: str, default: str | Any | None = REQUIRED) -> Any:
    """Declare a field that takes one of a few words."""
    return _field("choice", sentence, default, options=tuple(options))


def flag(sentence: str, default: bool | Any = REQUIRED) -> Any:
    """Declare a field that is true or false."""
    return _field("flag", sentence, default)


def count(sentence: str, default: int | Any | None = REQUIRED, low: float = 0, high: float = math.inf) -> Any:
    """Declare a whole number without a unit."""
    return _field("count", sentence, default, low=low, high=high)


def words(sentence: str, default: str | Any | None = REQUIRED) -> Any:
    """Declare a field of free text."""
    return _field("words", sentence, default)


def texts(sentence: str) -> Any:
    """Declare a field that takes a list of texts; empty if not given."""
    return _field("texts", sentence, ())


def again(declared: Any, **changes: Any) -> Any:
    """Take a declared field over into another class.

    declared: as `quantity` and its like gave it; changes: what differs, by the names that they have, numbers
    in the field's unit or in a new one.
    """
    kept = dict(declared.metadata) | {"default": declared.default}
    if kept["kind"] == "quantity":
        known = scale(changes.get("unit", kept["unit"]))
        for key in {"default", "low", "high"} & set(changes):
            if changes[key] is not None:
                changes[key] = changes[key] * known.factor + known.offset
    if unknown := sorted(set(changes) - set(kept)):
        raise TypeError(f"a declared field has no {', '.join(unknown)}")
    return _field(**kept | changes)


def declared_fields(cls: type) -> dict[str, Declared]:
    """List what is declared on a dataclass, in its order."""
    found = {}
    for entry in dataclasses.fields(cls):
        if "kind" in entry.metadata:
            found[entry.name] = Declared(name=entry.name, default=entry.default, **entry.metadata)
    return found


def build(cls: type[T], mapping: Mapping[str, Any], where: str) -> T:
    """Make an instance from text with units, or raise one InputError that holds every problem.

    where: file and table, for the messages.
    """
    instance, problems = read_fields(cls, mapping, where)
    if problems or instance is None:
        raise InputError(problems)
    return instance


def read_fields(cls: type[T], mapping: Mapping[str, Any], where: str) -> tuple[T | None, list[Problem]]:
    """Make an instance from text with units as build does, but return the problems instead of raising."""
    fields = declared_fields(cls)
    problems = unknown_keys(mapping, fields, where)
    values: dict[str, Any] = {}
    for name, entry in fields.items():
        if name not in mapping:
            if entry.required:
                problems.append(
                    Problem(f"{where}, {name}", "nothing", entry.range_text(), entry.sentence + ".")
                )
            continue
        value, found = read_value(entry, mapping[name], f"{where}, {name}")
        problems += found
        values[name] = value
    if problems:
        return None, problems
    instance = cls(**values)
    return instance, _crossed(instance, where)


def read_value(entry: Declared, given: Any, where: str) -> tuple[Any, list[Problem]]:
    """Read one value as written by a person; returns it in SI, and what is wrong with it."""
    value = given
    if entry.kind == "quantity":
        try:
            value = to_si(given, entry.unit)
        except QuantityError as error:
            advice = error.problems[0].advice if isinstance(error.problems[0], Problem) else ""
            return None, [Problem(where, repr(given), entry.range_text(), advice)]
    problem = _outside(entry, value, where, repr(given))
    if problem:
        return None, [problem]
    if entry.kind == "texts":
        value = tuple(value)
    return int(value) if entry.kind == "count" else value, []


def unknown_keys(mapping: Mapping[str, Any], known: Collection[str], where: str) -> list[Problem]:
    """Report each key that nothing reads, with the nearest name that is known."""
    few = len(known) <= _LISTED_KEYS
    expected = "one of " + ", ".join(known) if few else f"one of the {len(known)} keys of this table"
    return [
        Problem(where, f"the key {key!r}", expected, nearest_name(key, known))
        for key in mapping
        if key not in known
    ]


def check(instance: Any) -> None:
    """Check an instance made in Python with SI floats; raises one InputError that holds every problem."""
    where = type(instance).__name__
    problems = []
    for name, entry in declared_fields(type(instance)).items():
        value = getattr(instance, name)
        if value is None and entry.default is None:
            continue
        shown = as_text(value, entry.unit) if entry.kind == "quantity" and _is_number(value) else repr(value)
        problem = _outside(entry, value, f"{where}, {name}", shown)
        if problem:
            problems.append(problem)
    problems = problems or _crossed(instance, where)
    if problems:
        raise InputError(problems)


def _outside(entry: Declared, value: Any, where: str, shown: str) -> Problem | None:
    """Give the problem with a value in SI, or None."""
    if _allowed(entry, value):
        return None
    advice = entry.sentence + "."
    if entry.kind == "choice" and isinstance(value, str):
        advice = nearest_name(value, entry.options) or advice
    return Problem(where, shown, entry.range_text(), advice)


def _allowed(entry: Declared, value: Any) -> bool:
    if entry.kind == "choice":
        return value in entry.options
    if entry.kind == "flag":
        return isinstance(value, bool)
    if entry.kind == "words":
        return isinstance(value, str) and value.strip() != ""
    if entry.kind == "texts":
        return isinstance(value, (list, tuple)) and all(isinstance(v, str) and v.strip() for v in value)
    if not _is_number(value) or (entry.kind == "count" and int(value) != value):
        return False
    if entry.low_open and value <= entry.low:
        return False
    slack = _ROUNDING * abs(value)
    return bool(entry.low - slack <= value <= entry.high + slack)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _plain(number: float) -> str:
    """Write a number without a power of ten, large ones with commas."""
    short = f"{number:.6g}"
    if "e" not in short:
        return short
    return f"{number:,.0f}" if abs(number) > 1.0 else f"{number:.12f}".rstrip("0")


def _amid(low: float, high: float) -> float:
    """Give an everyday value between bounds in the declared unit, in one digit where that lies between."""
    if not math.isfinite(low):
        return 1.0 if high >= 1.0 else high
    if low > 0.0:
        value = math.sqrt(low * high) if math.isfinite(high) else low
    elif low == 0.0:
        value = min(1.0, 0.5 * high)
    else:
        value = 0.5 * (low + high) if math.isfinite(high) else max(low, 1.0)
    rounded = float(f"{value:.1g}")
    return rounded if low < rounded <= high else float(f"{value:.6g}")


def _bounds(low: str, high: str, entry: Declared) -> str:
    above = "above" if entry.low_open else "from"
    if math.isfinite(entry.low) and math.isfinite(entry.high):
        return f", {above} {low} to {high}"
    if math.isfinite(entry.low):
        return f", above {low}" if entry.low_open else f", {low} or more"
    return f", {high} or less" if math.isfinite(entry.high) else ""


def _crossed(instance: Any, where: str) -> list[Problem]:
    """Run the class's own rules between fields, and say where."""
    rules = getattr(instance, "cross_checks", None)
    if rules is None:
        return []
    return [dataclasses.replace(found, where=f"{where}, {found.where}") for found in rules()]


def _field(
    kind: str,
    sentence: str,
    default: Any,
    *,
    unit: str = "1",
    low: float = -math.inf,
    high: float = math.inf,
    low_open: bool = False,
    options: tuple[str, ...] = (),
) -> Any:
    metadata = {
        "kind": kind,
        "unit": unit,
        "sentence": sentence,
        "low": low,
        "high": high,
        "low_open": low_open,
        "options": options,
    }
    if default is REQUIRED:
        return dataclasses.field(kw_only=True, metadata=metadata)
    return dataclasses.field(default=default, kw_only=True, metadata=metadata)
