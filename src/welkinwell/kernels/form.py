"""The typed form of a flow text: expressions, conditions and statements without Python's syntax.

Loops are written out and lists taken apart when a text is read, so that a form is straight lines and
branches. What a printer needs beside the form is known from the marks of the functions that it calls.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Number:
    """A constant."""

    value: float


@dataclass(frozen=True)
class Variable:
    """A variable of the text: an unknown, or assigned above."""

    name: str


@dataclass(frozen=True)
class Given:
    """What does not depend on unknowns: a parameter, a field or an entry of one, as it is printed."""

    text: str


@dataclass(frozen=True)
class Negative:
    """Minus an expression."""

    of: Expression


@dataclass(frozen=True)
class Operation:
    """Two expressions joined by one of + - * / and ** (power)."""

    symbol: str
    left: Expression
    right: Expression


@dataclass(frozen=True)
class Elementary:
    """An elementary function, by its name in `slopes.ELEMENTARY`."""

    name: str
    of: tuple[Expression, ...]


@dataclass(frozen=True)
class Choice:
    """One of two expressions, by a condition."""

    test: Condition
    yes: Expression
    no: Expression


@dataclass(frozen=True)
class Call:
    """A call of a function of the project."""

    function: Callable[..., Any]
    name: str
    arguments: tuple[Expression, ...]


@dataclass(frozen=True)
class Result:
    """One of the values that a call returns; the only one where `place` is None."""

    call: Call
    place: int | None


Expression = Number | Variable | Given | Negative | Operation | Elementary | Choice | Result


@dataclass(frozen=True)
class Comparison:
    """Two expressions compared."""

    symbol: str
    left: Expression
    right: Expression


@dataclass(frozen=True)
class Joined:
    """Conditions joined by `and` or `or`."""

    word: str
    parts: tuple[Condition, ...]


@dataclass(frozen=True)
class Not:
    """The opposite of a condition."""

    of: Condition


@dataclass(frozen=True)
class Flag:
    """A condition under a name, assigned above."""

    name: str


Condition = Comparison | Joined | Not | Flag


@dataclass(frozen=True)
class Assign:
    """A variable takes the value of an expression."""

    name: str
    value: Expression
    line: int


@dataclass(frozen=True)
class Decide:
    """A flag takes the value of a condition."""

    name: str
    value: Condition
    line: int


@dataclass(frozen=True)
class Unpack:
    """Variables take the values that a call returns; None for those that are left."""

    names: tuple[str | None, ...]
    call: Call
    line: int


@dataclass(frozen=True)
class Branch:
    """One of two lists of statements, by a condition."""

    test: Condition
    yes: tuple[Statement, ...]
    no: tuple[Statement, ...]
    line: int


@dataclass(frozen=True)
class Return:
    """Values that a function gives back; flow texts have none."""

    values: tuple[Expression, ...]
    line: int


Statement = Assign | Decide | Unpack | Branch | Return


@dataclass(frozen=True)
class Text:
    """A function in the language. parameters: those of unknowns taken apart, the rest as they are."""

    name: str
    file: str
    parameters: tuple[str, ...]
    body: tuple[Statement, ...]


def names_in(what: Expression | Condition) -> Iterator[str]:
    """Every variable and flag that an expression or a condition reads."""
    match what:
        case Variable(name) | Flag(name):
            yield name
        case Negative(of) | Not(of):
            yield from names_in(of)
        case Operation(_, left, right) | Comparison(_, left, right):
            yield from names_in(left)
            yield from names_in(right)
        case Elementary(_, parts) | Joined(_, parts):
            for part in parts:
                yield from names_in(part)
        case Choice(test, yes, no):
            for part in (test, yes, no):
                yield from names_in(part)
        case Result(call, _):
            for part in call.arguments:
                yield from names_in(part)
