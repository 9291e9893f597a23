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
