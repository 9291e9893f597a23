"""What a study may change about a design: continuous variables with their range, in designs and sorbents."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from welkinwell.declare import declared_fields
from welkinwell.errors import InputError, Problem, nearest_name
from welkinwell.harvesters.changes import SizedChange, other_loading, other_rate
from welkinwell.harvesters.layer_density import layer_of
from welkinwell.harvesters.study import study_of
from welkinwell.quantities import from_si, to_si


@dataclass(frozen=True)
class Variable:
    """One continuous variable: its range in SI, whether it is searched by its logarithm, and what it changes.

    of: "design", "material" or "plant" (how many modules, which tank); now(design, sorbent): its value in
    a design, 1 for a factor on a material.
    """

    key: str
    name: str
    unit: str
    low: float
    high: float
    logarithmic: bool
    of: str
    now: Callable[[Any, Any], float]
    change: SizedChange

    def at(self, share: float) -> float:
        """Value at a share of the range, 0 to 1."""
        if self.logarithmic:
            return math.exp(math.log(self.low) + share * (math.log(self.high) - math.log(self.low)))
        return self.low + share * (self.high - self.low)

    def share(self, value: float) -> float:
        """Share of the range at which a value lies, held inside it."""
        value = min(max(value, self.low), self.high)
        if self.logarithmic:
            return math.log(value / self.low) / math.log(self.high / self.low)
        return (value - self.low) / (self.high - self.low)

    def holds(self, value: float) -> bool:
        """Whether a value lies inside the range, but for rounding."""
        hair = 1e-9 * (self.high - self.low)
        return self.low - hair <= value <= self.high + hair

    def text(self, value: float, digits: int = 3) -> str:
        """Write a value with its unit."""
        if self.of == "material":
            return f"{value:.{digits}g} times"
        return f"{from_si(value, self.unit):.{digits}g} {self.unit}".removesuffix(" 1")

    def span(self, digits: int = 6) -> str:
        """Write the range as it is asked for."""
        return f"{self.text(self.low, digits)}..{self.text(self.high, digits)}"


def field(design: Any, key: str, low: float, high: float) -> Variable:
    """Make a variable of a declared field; low and high in SI."""
    entry = declared_fields(type(design))[key]
    return Variable(
        key, entry.sentence, entry.unit, low, high, low > 0.0 and high / low > 3.0, "design",
        lambda d, s: float(getattr(d, key)),
        lambda d, s, value: (replace(d, **{key: value}), s),
    )  # fmt: skip


def from_text(design: Any, text: str) -> Variable:
    """Read "field=low..high" with units, as in "layer_thickness=1 mm..6 mm"."""
    key, _, span = text.partition("=")
    key = key.strip()
    fields = {
        name: entry for name, entry in declared_fields(type(design)).items() if entry.kind == "quantity"
    }
    if key not in fields:
        raise InputError(
            Problem("vary", repr(text), "field=low..high of a field with a unit", nearest_name(key, fields))
        )
    low, dots, high = span.partition("..")
    if not dots:
        raise InputError(Problem(f"vary, {key}", repr(span), "low..high, as in 1 mm..6 mm"))
    entry = fields[key]
    if getattr(design, key) is None:
        left_open = "a field that the case leaves open"
        raise InputError(
            Problem(f"vary, {key}", left_open, "a field with a value", f"Set {key} in the case.")
        )
    ends = [to_si(end.strip(), entry.unit) for end in (low, high)]
    inside = all(
        (entry.low is None or end >= entry.low) and (entry.high is None or end <= entry.high) for end in ends
    )
    if not (ends[0] < ends[1] and inside):
        raise InputError(Problem(f"vary, {key}", repr(span), "a rising range inside the field's bounds"))
    return field(design, key, *ends)


def variables_of(design: Any) -> list[Variable]:
    """The continuous variables that a study of a kind changes where the user names none.

    A design that lies outside what is common widens the range, so that it is among those that are looked at.
    """
    found = []
    for key, low, high in study_of(design.kind).ranges:
        now = float(getattr(design, key))
        found.append(field(design, key, min(low, now), max(high, now)))
    return found


def materials_of(design: Any, sorbent: Any) -> list[Variable]:
    """Numbers of the sorbent that a better material would change, as factors."""
    if sorbent is None:
        return []
    rate = Variable(
        "rate", "Rate of the sorbent", "1", 0.3, 30.0, True, "material", lambda d, s: 1.0, other_rate
    )
    if "sorbent_mass" not in declared_fields(type(design)):
        return [rate]
    capacity = Variable(
        "capacity",
        "Capacity of the sorbent",
        "1",
        0.5,
        3.0,
        True,
        "material",
        lambda d, s: 1.0,
        other_loading,
    )
    return [capacity, rate]


def applied(
    design: Any, sorbent: Any, variables: Sequence[Variable], values: Sequence[float]
) -> tuple[Any, Any]:
    """A design and a sorbent with the variables at their values."""
    for variable, value in zip(variables, values, strict=True):
        design, sorbent = variable.change(design, sorbent, float(value))
    return design, sorbent


def bed_volume(design: Any) -> float | None:
    """Volume of sorbent layer, grains or coating per basis area [m3/m2]; None for kinds without one."""
    layer = layer_of(design)
    return None if layer is None else layer.volume


def as_full(before: Any, after: Any) -> Any:
    """Give a changed design the sorbent that fills its bed as the one before is filled: mass over volume."""
    old, new = bed_volume(before), bed_volume(after)
    if old is None or new is None or old == new:
        return after
    return replace(after, sorbent_mass=before.sorbent_mass * new / old)
