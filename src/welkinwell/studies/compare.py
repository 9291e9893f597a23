"""Harvesters, sorbents, sites or weather files side by side on the same figures, and how sure a lead is.

Every entry is simulated once at the "normal" accuracy for its figures, and drawn with the same seed: draw n
of one entry and draw n of another share their weather doubts, so that a lead is counted draw by draw.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.harvesters.air import Surroundings
from welkinwell.simulate import simulate
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.runner import run_all
from welkinwell.studies.uncertainty import Draws, draw
from welkinwell.year import DAYS_IN_MONTH, figures, monthly

Floats = NDArray[np.float64]
Progress = Callable[[str, float], None]
SURE: Final = 0.95  # of the draws
LIKELY: Final = 0.8


@dataclass(frozen=True)
class Entry:
    """What is compared: a name, a design with its sorbent, and where it stands."""

    name: str
    design: Any
    sorbent: Sorbent | None
    site: Surroundings
    place: str


@dataclass(frozen=True)
class Compared:
    """One entry with its figures (as in the summary), litres by month [L/m2/day] and draws (None without)."""

    entry: Entry
    figures: dict[str, Any]
    by_month: Floats
    basis: str
    draws: Draws | None


@dataclass(frozen=True)
class Comparison:
    """All entries, most litres first; leads: for each next pair, the share of draws that the first leads."""

    entries: list[Compared]
    leads: list[tuple[str, str, float]]
    verdict: str

    def as_data(self) -> dict[str, Any]:
        """Give all of it as JSON-ready data."""
        return {
            "verdict": self.verdict,
            "entries": [
                {
                    "name": one.entry.name,
                    "place": one.entry.place,
                    "kind": one.entry.design.kind,
                    "sorbent": one.entry.sorbent.key if one.entry.sorbent else None,
                    **one.figures,
                    "litres_per_m2_day_exceeded_in": one.draws.exceeded() if one.draws else None,
                }
                for one in self.entries
            ],
            "leads": [
                {"of": first, "over": second, "share_of_draws": share} for first, second, share in self.leads
            ],
        }


def compare(
    entries: Sequence[Entry], *, draws: int = 64, seed: int = 1, progress: Progress | None = None
) -> Comparison:
    """Compare entries by litres a day of all modules; draws: 0 leaves the doubts out."""
    tell = progress or (lambda what, share: None)
    plain = run_all(_simulated, entries, progress=lambda share: tell("Simulating", 0.2 * share))
    compared = []
    for number, (entry, (found, by_month, basis)) in enumerate(zip(entries, plain, strict=True)):
        begin, span = 0.2 + 0.8 * number / len(entries), 0.8 / len(entries)

        def told(share: float, begin: float = begin, span: float = span, name: str = entry.name) -> None:
            tell(f"Drawing {name}", begin + span * share)

        drawn = None
        if draws:
            drawn = draw(entry.design, entry.sorbent, entry.site, draws=draws, seed=seed, progress=told)
        compared.append(Compared(entry, found, by_month, basis, drawn))
    compared.sort(key=lambda one: -one.figures["litres_per_day"])
    leads = [
        (first.entry.name, second.entry.name, lead(first, second))
        for first, second in pairwise(compared)
    ] if draws else []  # fmt: skip
    return Comparison(compared, leads, _verdict(compared, leads))


def lead(first: Compared, second: Compared) -> float:
    """Share of the draws in which the first gives more litres a day than the second, all modules of each."""
    assert first.draws is not None and second.draws is not None
    a = first.draws.litres * _area(first)
    b = second.draws.litres * _area(second)
    good = np.isfinite(a) & np.isfinite(b)
    return float((a[good] > b[good]).mean()) if good.any() else float("nan")


def _area(one: Compared) -> float:
    return float(one.entry.design.basis_area * one.entry.design.modules)


def _simulated(entry: Entry) -> tuple[dict[str, Any], Floats, str]:
    year = simulate(entry.design, entry.sorbent, entry.site, name=entry.name, keep="months")
    by_month = monthly(year, "water_collected") / np.array(DAYS_IN_MONTH)
    return figures(year), by_month, str(year.attrs["basis"])


def _verdict(compared: Sequence[Compared], leads: Sequence[tuple[str, str, float]]) -> str:
    """Say in plain words which gives most and how sure that is."""
    if len(compared) == 1:
        return f"{compared[0].entry.name} stands alone: there is nothing to compare it with."
    first, second = compared[0], compared[1]
    a, b = first.figures["litres_per_day"], second.figures["litres_per_day"]
    said = f"{first.entry.name} gives most: {a:.3g} L/day against {b:.3g} of {second.entry.name}, the next."
    if not leads:
        return said + " How sure that is was not asked for."
    share = leads[0][2]
    counted = f"it gives more in {100.0 * share:.0f} % of the draws"
    if share >= SURE:
        return f"{said} That is as good as sure: {counted}."
    if share >= LIKELY:
        return f"{said} That is likely, not sure: {counted}."
    return f"{said} But the doubts do not tell the two apart: {counted}."
