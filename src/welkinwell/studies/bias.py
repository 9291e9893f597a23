"""How predictions of a kind stood against published tests: told beside an interval, never multiplied in."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from functools import cache
from importlib import resources
from typing import Any, Final

import numpy as np

OF_WATER: Final = ("litres", "grams", "mm_", "kg_")  # beginnings of the names of figures of water


@dataclass(frozen=True)
class Bias:
    """Published figures of water that a kind was held against, and how its predictions missed them.

    figures: judged [1]; low, high: predicted below and above [1]; inside: within their tolerance [1];
    median: of predicted over published, less one [1].
    """

    kind: str
    figures: int
    low: int
    high: int
    inside: int
    median: float

    @property
    def words(self) -> str:
        """Say it in sentences."""
        one = self.figures == 1
        figures, their = ("figure", "its") if one else ("figures", "their")
        return (
            f"Published tests of this kind judge {self.figures} {figures} of its water: {self.low} predicted "
            f"too low, {self.high} too high, {self.inside} within {their} tolerance; the median is "
            f"{100.0 * self.median:+.0f} %. The draws do not hold that error of the model and its "
            "conditions, and nothing here is corrected by it."
        )

    def as_data(self) -> dict[str, Any]:
        """Give it as JSON-ready data."""
        return {**asdict(self), "words": self.words}


@cache
def bias_of(kind: str) -> Bias | None:
    """Find how a kind stood against published tests; None where no figure of its water was judged.

    Read from library/published_tests.json, which holds what `welkinwell validate` wrote last.
    """
    file = resources.files("welkinwell").joinpath("library/published_tests.json")
    rows = json.loads(file.read_text(encoding="utf-8"))
    own = [
        row for row in rows
        if row["kind"] == kind and row["judged"] and row["error"] is not None
        and row["quantity"].startswith(OF_WATER)
    ]  # fmt: skip
    if not own:
        return None
    errors = np.array([row["error"] for row in own])
    return Bias(
        kind,
        len(own),
        int((errors < 0.0).sum()),
        int((errors > 0.0).sum()),
        sum(bool(row["inside"]) for row in own),
        float(np.median(errors)),
    )
