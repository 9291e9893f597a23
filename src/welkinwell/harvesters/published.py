"""Published tests of a kind: how their words become a design of it, and what one draw of them computes.

Each kind's answers stand in `published` in its folder, under the name PUBLISHED; here is what kinds share. A
mapping is decided from the words of a test, before the result is looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.harvesters.air import AirRecord
from welkinwell.harvesters.harvester import Accounts
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.published_weather import Plane
from welkinwell.sky.plane import CoverOptics
from welkinwell.sorbents.sorbent import Sorbent

HELD: Final = "held at rest in the night's air"
WAYS: Final[Mapping[str, tuple[str, ...]]] = {
    "taken up": ("water_taken_up",),
    "condensed": ("water_condensed",),
    "dried from surfaces again": ("water_reevaporated",),
    "leaked, vented or blown out": ("water_leaked", "water_vented", "water_exhausted"),
    "given back to the open air": ("water_released_open",),
}
FACE_OF_COATINGS: Final = 0.95  # share of a face that channels and coatings fill; metal the rest
STEADY_HOURS: Final = 24

Given = Mapping[str, Any]  # drawn conditions by name [SI]


@dataclass(frozen=True)
class Fields:
    """What a mapping adds: values of fields, words that it has used, and why words are left out."""

    values: Mapping[str, Any]
    used: tuple[str, ...] = ()
    reasons: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Mapped:
    """A design made from a draw; left_out: words that it does not represent, with the reason."""

    design: Any
    left_out: Mapping[str, str]


@dataclass(frozen=True)
class DrawResult:
    """Figures of one draw, by quantity [published unit].

    left_out: words not represented, with the reason; water: where a day's water went, for the reason of a
    miss [kg/m2 of the kind's basis].
    """

    figures: Mapping[str, float]
    left_out: Mapping[str, str] = field(default_factory=dict)
    water: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Bench:
    """What a kind needs to run a draw: designs made from words, and the march over records made by hand.

    mapped(way, given, sorbent): as in `studies.experiment_designs`, for a kind or another way of it;
    run(design, sorbent, air): the harvester's accounts and, by name, its flows in each hour, shape (hours,)
    [kg/m2 or J/m2]; repeated(design, sorbent, air): water by hour on the last day of one that is run until it
    repeats itself [kg/m2].
    """

    mapped: Callable[..., Mapped]
    run: Callable[[Any, Sorbent | None, AirRecord], tuple[Accounts, dict[str, NDArray[np.float64]]]]
    repeated: Callable[[Any, Sorbent | None, AirRecord], dict[str, NDArray[np.float64]]]


Maker = Callable[[Given, Any, Any], Fields]
Runner = Callable[[Any, Given, Sorbent | None, int, Bench], DrawResult]


@dataclass(frozen=True)
class PublishedTests:
    """The published tests of a kind.

    maps(given, usual, sorbent): from words to fields; run(experiment, given, sorbent, number, bench): one
    draw, None where no test is of the kind itself; label, place: its name and its place in the pages;
    way(words): the way in which a test of the kind is mapped; other_ways: further ways by name; own_words:
    whether a test may state the kind's declared fields besides the words that all share.
    """

    maps: Maker
    run: Runner | None = None
    label: str = ""
    place: int = 0
    way: Callable[[Mapping[str, Any]], str] | None = None
    other_ways: Mapping[str, Maker] = field(default_factory=dict)
    own_words: bool = False


def published(kind: str) -> PublishedTests:
    """Give the published tests of a kind."""
    found: PublishedTests = KINDS[kind].part("published").PUBLISHED
    return found


def kinds_with_tests() -> dict[str, str]:
    """Kinds with published tests of their own, in the order of the pages, and their labels."""
    found = [(published(kind), kind) for kind, one in KINDS.items() if one.has("published")]
    return {kind: one.label for one, kind in sorted(found, key=lambda pair: pair[0].place) if one.run}


def ways_of_water(water: Mapping[str, NDArray[np.float64]]) -> dict[str, float]:
    """Sum a day's water by the words of WAYS [kg/m2]."""
    return {
        words: sum(float(water[name].sum()) for name in names if name in water)
        for words, names in WAYS.items()
    }


def glazed(design: Any, absorptance: float) -> Plane:
    """How a design under glass meets sun and wind."""
    return Plane(
        design.tilt,
        CoverOptics(design.glazing_thickness, design.glazing_refractive_index, design.glazing_extinction),
        absorptance,
        design.soiling,
        design.device_height,
        design.terrain,
        design.shelter,
    )
