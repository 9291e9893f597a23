"""Published tests of hybrids: two exchangers on a heat pump, mapped to active beds."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from welkinwell.harvesters.active_bed.published import ON_A_HEAT_PUMP, cycles
from welkinwell.harvesters.published import Bench, DrawResult, Fields, Given, PublishedTests
from welkinwell.sorbents.sorbent import Sorbent


def _maps(given: Given, usual: Any, sorbent: Any) -> Fields:
    """Fields bear the words' own names."""
    return Fields({})


def _way(words: Given) -> str:
    return ON_A_HEAT_PUMP


def _run(experiment: Any, given: Given, material: Sorbent | None, _: int, bench: Bench) -> DrawResult:
    """Two exchangers on a heat pump, as an active bed whose condenser is the heat pump's evaporator."""
    assert material is not None
    found = cycles(given, material, bench, ON_A_HEAT_PUMP)
    grams = 1000.0 * found.figures["litres_per_kg_day"] * given["dry_sorbent"]
    return replace(found, figures={**found.figures, "grams_per_day": grams})


PUBLISHED: Final = PublishedTests(_maps, _run, "hybrid", place=7, way=_way)
