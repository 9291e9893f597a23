"""Slopes of the year's litres in numbers of the design, the sorbent, coefficients and the weather.

Central differences of two simulated years. Their step is so small that the litres bend little over it, and
the march so tight that its own noise, divided by that step, stays below what is asked for: the step of the
clock's, the sun's and the state's switches moves with the parameter as in any simulated year. Steps frozen
from one year to the next would cost a third of that, but hold the switches of a rule on the state in place,
whose moving is part of the slope. A slope so weak that the noise of the march shows in it is taken again,
tighter. benchmarks/gradients.py holds the slopes against extrapolated ones
(Richardson1911) at a tight tolerance.

Where a rule on the state flips (a day opens once more, or not at all), the litres have a step there and no
slope: the days are counted and told, with the share of the slope that comes from them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.errors import SolverError
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.harvester import Bucketed
from welkinwell.harvesters.uncertain_parameters import UncertainParameter
from welkinwell.simulation import Prepared, march_year, prepare
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.drawn import drawn
from welkinwell.studies.runner import run_all
from welkinwell.studies.variables import Variable, applied

Floats = NDArray[np.float64]
TOLERANCE: Final = 1e-4  # of the march's steps: a thirtieth of "normal"
OF_A_DEVIATION: Final = 0.05  # of a doubt's standard deviation, to each side
OF_A_RANGE: Final = 0.005  # of a variable's range
FLIP: Final = 900.0  # s by which a day's open time differs between the sides where its schedule flips
STRAIGHT: Final = 0.1  # of a slope, by which its two sides may differ
NEGLIGIBLE: Final = 1e-4  # of the litres: a slope below is as good as none
WEAK: Final = 1e-3  # of the litres: where the two sides differ by less, the march's noise shows in the slope
TIGHTER: Final = 0.1  # of the tolerance, at which a weak slope is taken again


@dataclass(frozen=True)
class Parameter:
    """One number that moves: `moved(x)` is the harvester with it x units away from where it stands.

    unit: what one unit is, in words; step: by which it is moved to each side, in units.
    """

    key: str
    name: str
    unit: str
    step: float
    moved: Callable[[float], Prepared]


@dataclass(frozen=True)
class Slope:
    """The slope of the year's litres in one parameter.

    litres: of the year where the parameter stands [L/m2/day]; below, above: the slope from one side
    [L/m2/day per unit]; by_day: what each day adds to the slope, shape (days,), nan where a changed device
    could not be simulated; flips: days whose schedule flips within the step, shape (days,).
    """

    parameter: Parameter
    litres: float
    below: float
    above: float
    by_day: Floats
    flips: NDArray[np.bool_]

    @property
    def value(self) -> float:
        """The slope [L/m2/day per unit]; nan where a changed device could not be simulated."""
        return float(self.by_day.sum())

    @property
    def share(self) -> float:
        """The slope over the litres [1 per unit]."""
        return self.value / max(self.litres, 1e-12)

    @property
    def failed(self) -> bool:
        """Whether a changed device could not be simulated."""
        return not np.isfinite(self.value)

    @property
    def flipped(self) -> int:
        """Number of days whose schedule flips within the step."""
        return int(self.flips.sum())

    @property
    def from_flips(self) -> float:
        """What the days whose schedule flips make of the slope [L/m2/day per unit]."""
        return float(self.by_day[self.flips].sum())

    @property
    def smooth(self) -> bool:
        """Whether the litres have one slope here: the same from both sides, and no day flips."""
        least = NEGLIGIBLE * self.litres
        bend = abs(self.above - self.below)
        return not self.failed and self.flipped == 0 and bend <= max(STRAIGHT * abs(self.value), least)

    def in_words(self) -> str:
        """Say what is wrong with the slope; empty where it is smooth."""
        if self.failed:
            return "no slope: a changed device could not be simulated"
        if self.flipped:
            days = "one day" if self.flipped == 1 else f"{self.flipped} days"
            return (
                f"the schedule of {days} flips within the step: {self.from_flips:+.3g} of it comes from there"
            )
        if not self.smooth:
            return f"a bend: {self.below:+.3g} from below, {self.above:+.3g} from above"
        return ""


def gradient(
    base: Prepared,
    parameters: Sequence[Parameter],
    *,
    tolerance: float = TOLERANCE,
    weak: float = WEAK,
    progress: Callable[[float], None] | None = None,
) -> list[Slope]:
    """Take the slope of the year's litres in each parameter.

    base: the harvester where all of them stand; tolerance: of the march's steps [1]; weak: share of the
    litres below which the change takes a slope again, at a tenth of the tolerance; 0 for never [1]. Two
    years for each parameter and one more, as many again for the weak. Slopes in the parameters' order.
    """
    slopes = _slopes(base, parameters, tolerance, progress)
    again = [i for i, one in enumerate(slopes) if not one.failed and _moved(one) < weak]
    if again:
        tighter = _slopes(base, [parameters[i] for i in again], TIGHTER * tolerance, progress)
        for i, one in zip(again, tighter, strict=True):
            slopes[i] = one
    return slopes


def _moved(slope: Slope) -> float:
    """Share of the litres by which the two sides of a slope differ."""
    return abs(2.0 * slope.parameter.step * slope.share)


def _slopes(
    base: Prepared,
    parameters: Sequence[Parameter],
    tolerance: float,
    progress: Callable[[float], None] | None,
) -> list[Slope]:
    tasks: list[tuple[Parameter | None, float]] = [(None, 0.0)]
    tasks += [(one, side * one.step) for one in parameters for side in (-1.0, 1.0)]

    def run(task: tuple[Parameter | None, float]) -> _Days | None:
        parameter, by = task
        try:
            return _days(base if parameter is None else parameter.moved(by), tolerance)
        except SolverError:
            return None

    found = run_all(run, tasks, progress=progress)
    middle = found[0]
    if middle is None:
        raise SolverError("the device itself could not be simulated, so its litres have no slopes")
    return [
        _slope(one, middle, found[2 * i + 1], found[2 * i + 2]) for i, one in enumerate(parameters)
    ]  # fmt: skip


def of_uncertain(
    base: Prepared, uncertain: Sequence[UncertainParameter], step: float = OF_A_DEVIATION
) -> list[Parameter]:
    """Make what slopes are taken in: standard deviations of uncertain parameters, from the case as it is."""

    def made(one: UncertainParameter) -> Parameter:
        def moved(by: float) -> Prepared:
            return drawn(base, [one], np.array([one.moved(by)]))

        return Parameter(one.key, one.name, "standard deviation", step, moved)

    return [made(one) for one in uncertain]


def of_variables(
    design: Any,
    sorbent: Sorbent | None,
    site: Surroundings,
    variables: Sequence[Variable],
    step: float = OF_A_RANGE,
) -> list[Parameter]:
    """Make parameters of a design's variables, in shares of their ranges."""

    def parameter(variable: Variable) -> Parameter:
        stands = variable.share(variable.now(design, sorbent))

        def moved(by: float) -> Prepared:
            return prepare(*applied(design, sorbent, [variable], [variable.at(stands + by)]), site)

        return Parameter(variable.key, variable.name, "of its range", step, moved)

    return [parameter(variable) for variable in variables]


@dataclass(frozen=True)
class _Days:
    """Litres [kg/m2] and open time [s] of each day, shapes (days,)."""

    litres: Floats
    opened: Floats


def _days(ready: Prepared, tolerance: float) -> _Days:
    _, result = march_year(ready, tolerance=tolerance, keep="hours")
    accounts = ready.harvester.accounts(Bucketed(ready.harvester.kind, ready.design, result.flows))
    hourly = np.asarray(accounts.water["water_collected"][0])
    return _Days(hourly.reshape(-1, 24).sum(axis=1), result.open_seconds.reshape(-1, 24).sum(axis=1))


def _slope(parameter: Parameter, at: _Days, low: _Days | None, high: _Days | None) -> Slope:
    litres = float(at.litres.mean())
    if low is None or high is None:
        nothing = np.full(at.litres.size, np.nan)
        return Slope(parameter, litres, np.nan, np.nan, nothing, np.zeros(at.litres.size, dtype=bool))
    h = parameter.step
    return Slope(
        parameter,
        litres,
        float((at.litres - low.litres).mean() / h),
        float((high.litres - at.litres).mean() / h),
        (high.litres - low.litres) / (2.0 * h) / at.litres.size,
        np.maximum(np.abs(high.opened - at.opened), np.abs(low.opened - at.opened)) > FLIP,
    )
