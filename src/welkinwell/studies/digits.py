"""Figures side by side in so many digits that a reader sees them differ."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

FEWEST: Final = 3
MOST: Final = 7


def told_apart(write: Callable[[float, int], str], *values: float) -> list[str]:
    """Write values in so few digits, from FEWEST to MOST, as tell apart those that differ.

    write(value, digits): a value as text, in so many digits that count.
    """
    told = [write(value, MOST) for value in values]
    for digits in range(FEWEST, MOST):
        texts = [write(value, digits) for value in values]
        if len(set(texts)) == len(set(told)):
            return texts
    return told


def plain(value: float, digits: int = FEWEST) -> str:
    """Write a number in so many digits that count, and never with an exponent where it is large."""
    return f"{value:,.0f}" if abs(value) >= 10.0**digits - 0.5 else f"{value:.{digits}g}"
