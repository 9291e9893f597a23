"""What studies ask of a kind of harvester: its losses, its uncertain parameters, its bounds and the like.

Each kind's answers stand in `study` in its folder, under the name STUDY.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from welkinwell.harvesters.easings import REASONS, Easing
from welkinwell.harvesters.kinds import LISTED
from welkinwell.harvesters.losses import Loss
from welkinwell.harvesters.uncertain_parameters import UncertainParameter
from welkinwell.limits.bound import Bound
from welkinwell.supply.sound_level import Noise

if TYPE_CHECKING:
    from welkinwell.harvesters.bounds import SimulatedDevice
    from welkinwell.harvesters.size_bounds import Ends

NIGHT: Final = 12 * 3600.0  # s in which a bed with one cycle a day takes up


@dataclass(frozen=True)
class Effort:
    """What a kind takes of one core [s].

    compiling: once on a machine; year: with hours kept and audited; quick_year: a "fast" one, its sums kept.
    """

    compiling: float
    year: float
    quick_year: float


def no_noises(design: Any, sorbent: Any) -> Sequence[Noise]:
    """Say that nothing moves."""
    return ()


def a_night(design: Any) -> float:
    """Give the time for uptake where there is one cycle a day [s]."""
    return NIGHT


def never(design: Any) -> bool:
    """Say no of every design."""
    return False


def always(design: Any) -> bool:
    """Say yes of every design."""
    return True


@dataclass(frozen=True)
class Study:
    """A kind as studies see it.

    losses: in the order in which the ladder switches them on again; easings: what is made easier to see what
    limits, with reasons: words for steps whose parts have other names here than in `easings.REASONS`;
    parameters: uncertain ones of its own parts; ranges: field, low and high in SI, what a builder can choose
    within what is built today (common practice); effort, and that of other depths by name; bounds: of a
    simulated device; size_bounds: that no size passes; carried_once: the bound of a mass of sorbent [kg/m2],
    None where it may take up more than once a day; noises(design, sorbent): of one module; sun_plane(design):
    whether a plane takes the sun as its drive; uptake_time(design): for a layer to take up in a cycle [s];
    left_alone(design): the dry, shut box whose temperatures are told, and load(design, loading): weight by
    part [kg/m2], None for kinds that nobody has worked them out for.
    """

    losses: tuple[Loss, ...]
    easings: tuple[Easing, ...]
    parameters: tuple[UncertainParameter, ...]
    ranges: tuple[tuple[str, float, float], ...]
    effort: Effort
    bounds: Callable[[SimulatedDevice], list[Bound]]
    size_bounds: Callable[[Ends], list[Bound]]
    sun_plane: Callable[[Any], bool]
    reasons: Mapping[str, str] = field(default_factory=dict)
    depth_efforts: Mapping[str, Effort] = field(default_factory=dict)
    noises: Callable[[Any, Any], Sequence[Noise]] = no_noises
    uptake_time: Callable[[Any], float] = a_night
    carried_once: Callable[[Ends, float], Bound | None] | None = None
    left_alone: Callable[[Any], Any] | None = None
    load: Callable[[Any, float], dict[str, float]] | None = None

    def why(self) -> dict[str, str]:
        """Give the words for why each step limits, by key."""
        return {**REASONS, **self.reasons}


def study_of(kind: str) -> Study:
    """Give what studies ask of a kind, by its name."""
    found: Study = LISTED[kind].part("study").STUDY
    return found
