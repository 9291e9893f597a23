"""What a bound is: a figure that no device of the kinds it binds can pass."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

PLANE: Final = "sunlit plane"  # what the m2 of a place's bounds are, no device being given
# Groups of a place's bounds, by what holds for a device: each kind names those that hold for it.
SUN_AND_SKY: Final = "sun and sky"  # it may run on sun, sky and air alone
PROCESSED_AIR: Final = "processed air"  # it blows air through and takes a share of its vapour
ONE_EFFECT: Final = "one effect"  # it boils water off once and throws the heat of condensation away
DEW: Final = "dew"  # the sky's cold is all that it has
# Key and name of bounds that are worked out in several ways
AIR_DRAWN: Final = ("air_drawn", "all vapour of the air drawn")
SINGLE_EFFECT: Final = ("single_effect", "one effect")


@dataclass(frozen=True)
class Bound:
    """One bound, with all that a reader needs to judge it.

    key: name in files; name: in words; value: the bound itself, infinite where nothing is bounded [unit];
    unit; formula: in words; source: key of sources.bib, or what else it rests on; binds: kinds of harvester
    that cannot pass it; by_month: the same by month, empty where it was not asked for; note: when it holds.
    """

    key: str
    name: str
    value: float
    unit: str
    formula: str
    source: str
    binds: tuple[str, ...]
    by_month: tuple[float, ...] = ()
    note: str = ""

    def as_data(self) -> dict[str, Any]:
        """Give the bound as JSON-ready data; None where it bounds nothing."""

        def finite(value: float) -> float | None:
            return float(value) if math.isfinite(value) else None

        return {
            "key": self.key,
            "name": self.name,
            "value": finite(self.value),
            "unit": self.unit,
            "formula": self.formula,
            "source": self.source,
            "binds": list(self.binds),
            "by_month": [finite(value) for value in self.by_month],
            "note": self.note,
        }


def tightest(bounds: Iterable[Bound], kind: str | None = None) -> Bound | None:
    """Give the lowest bound, of those that bind a kind where one is named; None where none does."""
    binding = [bound for bound in bounds if kind is None or kind in bound.binds]
    return min(binding, key=lambda bound: bound.value, default=None)


def running_minimum(values: Iterable[float]) -> list[float]:
    """Give each value or the lowest before it: a later bound never lifts an earlier one."""
    lowest, found = math.inf, []
    for value in values:
        lowest = min(lowest, value)
        found.append(lowest)
    return found
