"""Slopes of the elementary functions, as text of their arguments."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class ElementaryFunction:
    """How a function is printed, and its slope in each argument, from the texts of its arguments."""

    printed: str
    slopes: tuple[Callable[..., str], ...]

    @property
    def arguments(self) -> int:
        """Number of its arguments."""
        return len(self.slopes)


def _of_one(name: str, slope: str) -> ElementaryFunction:
    return ElementaryFunction(f"math.{name}", (slope.format,))


# {0} is the argument; a repeated call is worked out once by the compiler
ELEMENTARY: Final[Mapping[str, ElementaryFunction]] = {
    "exp": _of_one("exp", "math.exp({0})"),
    "expm1": _of_one("expm1", "math.exp({0})"),
    "log": _of_one("log", "(1.0 / ({0}))"),
    "log1p": _of_one("log1p", "(1.0 / (1.0 + {0}))"),
    "sqrt": _of_one("sqrt", "(0.5 / math.sqrt({0}))"),
    "tanh": _of_one("tanh", "(1.0 - math.tanh({0}) * math.tanh({0}))"),
    "sin": _of_one("sin", "math.cos({0})"),
    "cos": _of_one("cos", "(-math.sin({0}))"),
    "abs": ElementaryFunction("abs", ("(1.0 if {0} >= 0.0 else -1.0)".format,)),
    "min": ElementaryFunction(
        "min", ("(0.0 if {1} < {0} else 1.0)".format, "(1.0 if {1} < {0} else 0.0)".format)
    ),
    "max": ElementaryFunction(
        "max", ("(0.0 if {1} > {0} else 1.0)".format, "(1.0 if {1} > {0} else 0.0)".format)
    ),
}
