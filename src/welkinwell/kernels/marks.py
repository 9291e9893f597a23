"""Marks on functions that a flow text may call with unknowns: how their slopes are known.

@gives_slopes("T_1", "T_2")         # returns (value, slope in T_1, slope in T_2)
@njit(cache=True)
def radiation_between(emissivity, T_1, T_2): ...

@written_out                        # is itself in the language of flow texts
@njit(cache=True)
def ratio_of(vapour_pressure, pressure): ...
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from typing import Any, TypeVar

Marked = TypeVar("Marked", bound=Callable[..., Any])


def gives_slopes(*arguments: str, rounds: int = 0) -> Callable[[Marked], Marked]:
    """Mark a function that returns its value and then its slopes in the named arguments, in this order.

    It must not be called with an unknown in any other argument. rounds: for one that iterates, the largest
    number of rounds that it takes.
    """

    def mark(function: Marked) -> Marked:
        names = list(inspect.signature(plain(function)).parameters)
        if missing := [name for name in arguments if name not in names]:
            raise TypeError(f"{plain(function).__name__} has no argument {', '.join(missing)}")
        own: Any = function
        own.slope_places = {names.index(name): k + 1 for k, name in enumerate(arguments)}
        own.rounds = rounds
        return function

    return mark


def written_out(function: Marked) -> Marked:
    """Mark a function whose own text is in the language of flow texts, so that slopes can be printed."""
    own: Any = function
    own.is_written_out = True
    return function


def slope_places(function: Any) -> dict[int, int] | None:
    """Place of an argument to place of its slope in what a marked function returns; None without a mark."""
    return getattr(function, "slope_places", None)


def is_written_out(function: Any) -> bool:
    """Whether a function is marked as being in the language itself."""
    return getattr(function, "is_written_out", False)


def plain(function: Any) -> Callable[..., Any]:
    """Give the Python function behind a compiled one."""
    return getattr(function, "py_func", function)
