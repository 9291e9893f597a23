"""Explanations of measured days fitted and weighed against each other, with all doubts where they fit best.

An explanation is one number of a simulation, or of an instrument, with the days that it makes expected at
each of its sizes. About a point at which it was simulated with all doubts at once (its anchor), the sum of
the parts says where its likelihood is greatest (`evidence`); it is simulated there and becomes the anchor if
it is better in truth. So the heights that are compared are those of simulations, and only the way the
likelihood falls off to either side rests on the sum of parts.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.harvesters.uncertain_parameters import UncertainParameter
from welkinwell.studies.evidence import Evidence, Settled
from welkinwell.studies.runner import run_all

Floats = NDArray[np.float64]
Days = Mapping[str, Floats]  # quantity to values by day, nan where unknown: "litres" [L], temperatures [K]
Task = tuple[tuple[UncertainParameter, ...], tuple[float, ...]]
Curve = Callable[[float], Days]
FEWEST_DAYS: Final = 7  # with litres of both log and model
FIRST_STEPS: Final = 24  # along an explanation, to find its best
STEPS: Final = 80  # for its likelihood over all sizes
CLOSER: Final = 40  # of the second, about the best
RISE: Final = 2.706  # of chi squared at the ends of an interval that holds 90 %
WHOLE: Final = 12  # times at most that a fit is simulated as a whole and fitted again
GAIN: Final = 0.3  # of -2 ln L in a turn; less counts as none
STILL: Final = 2  # turns without a gain after which an explanation rests
FAR: Final = 50.0  # of -2 ln L behind the best: of no weight, and not simulated again


@dataclass(frozen=True)
class Explanation:
    """One number that may explain the gap.

    key, name; values: those simulated, the first that which changes nothing (or low and high of a reading);
    unit: of the number as a reader sees it; doubt: the change of the simulation, None for an instrument;
    reading: the instrument that is off where there is no change: "litres" (a factor) or a temperature (a
    shift).

    Before the log, the size lies between any two neighbours of `values` with the same chance, evenly between
    them (a factor's logarithm for the meter of the litres): common practice, no source.
    """

    key: str
    name: str
    values: tuple[float, ...]
    unit: str = "1"
    parameter: UncertainParameter | None = None
    reading: str = ""

    def size(self, share: float) -> float:
        """The number below which this share of the belief lies before the log, counted from the first."""
        if self.reading == "litres":
            low, high = self.values
            return float(low * (high / low) ** share)
        return float(np.interp(share * (len(self.values) - 1), np.arange(len(self.values)), self.values))


@dataclass(frozen=True)
class Fitted:
    """An explanation at its best: value, interval that holds 90 %, misfit, weight, value of the case then.

    misfit: squared differences weighed by the inverse of their covariance; criterion: -2 times the logarithm
    of the likelihood over all sizes, but for a constant; held: whether the interval ends where the values
    that were tried end; shares: of the uncertainties that all days share, in standard deviations.
    """

    explanation: Explanation | None
    value: float
    low: float
    high: float
    misfit: float
    criterion: float
    weight: float
    held: bool = False
    now: str = ""
    shares: tuple[float, ...] = ()

    @property
    def name(self) -> str:
        """Name for readers."""
        return "Nothing: the device does as its model" if self.explanation is None else self.explanation.name

    @property
    def key(self) -> str:
        """Name for programs."""
        return "nothing" if self.explanation is None else self.explanation.key


def parameter_at(parameter: UncertainParameter, deviations: float) -> float:
    """Value of a doubt so many standard deviations from its middle, in its own unit."""
    from scipy.special import ndtr

    return float(parameter.value(np.array(float(ndtr(deviations)))))


@dataclass(frozen=True)
class Profile:
    """A fit with its shared uncertainties."""

    fitted: Fitted
    settled: Settled


@dataclass(frozen=True)
class _Anchor:
    """Where an explanation was last simulated as a whole, and what was learned there.

    share: of `Explanation.size`; shares: the shared uncertainties; whole: what the simulation gave, shape
    (n,); slopes: as learned on the way, shape (n, doubts); still: turns since it was last bettered.
    """

    share: float
    shares: Floats
    whole: Floats
    slopes: Floats
    still: int = 0


@dataclass(frozen=True)
class FaultLikelihoods:
    """Explanations, the first None, with the days that each expects; doubts; a simulation of the days."""

    listed: Sequence[Explanation | None]
    curves: Sequence[Curve]
    parameters: Sequence[UncertainParameter]
    run: Callable[[Task], Days]

    def done(self, evidence: Evidence) -> tuple[list[Profile], dict[str, float], float]:
        """Fit, simulate each fit as a whole, set the scatter by what the best leaves, and weigh.

        The scatter of litres is a share of those of the best explanation, for all explanations alike: how
        wide the days scatter is not known well enough to count for one of them.
        """
        scatter = dict.fromkeys(evidence.names, 1.0)
        anchors = [self._start(i, evidence) for i in range(len(self.listed))]
        for turn in range(WHOLE):
            anchors = self._nearer(evidence, anchors, FAR if turn > 1 else np.inf)
            if all(anchor.still >= STILL for anchor in anchors):
                break
            days, best = self._best(evidence, anchors)
            evidence = evidence.scattered(days["litres"], scatter)
        days, best = self._best(evidence, anchors)
        left = evidence.by_quantity(best.left)
        resemblance = _resemblance(left["litres"])
        longer = float(np.sqrt((1.0 + resemblance) / (1.0 - resemblance)))
        for name, values in left.items():
            known = values[np.isfinite(values)]
            scatter[name] = max(float(np.sqrt((known**2).sum() / max(known.size - 1, 1))) * longer, 1.0)
        evidence = evidence.scattered(days["litres"], scatter)
        fits = [self._profile(i, evidence, anchor) for i, anchor in enumerate(anchors)]
        criteria = np.array([one.fitted.criterion for one in fits])
        weights = np.exp(-0.5 * (criteria - criteria.min()))
        weights /= weights.sum()
        weighed = [
            replace(one, fitted=replace(one.fitted, weight=float(weight)))
            for one, weight in zip(fits, weights, strict=True)
        ]
        return sorted(weighed, key=lambda one: -one.fitted.weight), scatter, resemblance

    def expected(self, fitted: Fitted) -> Days:
        """The days of an explanation at its best, with nothing else changed."""
        return self.curves[self.listed.index(fitted.explanation)](fitted.value)

    def _days(self, i: int, share: float) -> Days:
        one = self.listed[i]
        return self.curves[i](0.0 if one is None else one.size(share))

    def _start(self, i: int, evidence: Evidence) -> _Anchor:
        """The size that fits best while no doubt has moved: a sum of parts and a simulation at once."""
        none = replace(evidence, slopes=evidence.slopes[:, :0], bends=evidence.bends[:, :0])
        along = _Along(self.listed[i], self.curves[i], none, 0.0)
        share = along.best(FIRST_STEPS)
        shares = np.concatenate([along.settled(share).shares, np.zeros(evidence.slopes.shape[1])])
        return _Anchor(share, shares, evidence.stacked(self._days(i, share)), evidence.slopes)

    def _along(self, i: int, evidence: Evidence, anchor: _Anchor) -> tuple[_Along, Floats]:
        """The likelihood about an anchor, where it is exact, and the correction that makes it so."""
        own = anchor.shares[len(evidence.names) :]
        about = replace(evidence, slopes=anchor.slopes)
        added = about.correction(self._days(i, anchor.share), own, anchor.whole)
        return _Along(self.listed[i], self.curves[i], about, added, anchor.shares), added

    def _judged(self, evidence: Evidence, i: int, anchor: _Anchor) -> Settled:
        about = replace(evidence, slopes=anchor.slopes)
        return about.judged(self._days(i, anchor.share), anchor.shares, anchor.whole)

    def _best(self, evidence: Evidence, anchors: Sequence[_Anchor]) -> tuple[Days, Settled]:
        judged = [self._judged(evidence, i, anchor) for i, anchor in enumerate(anchors)]
        best = min(range(len(judged)), key=lambda i: judged[i].deviance)
        return self._days(best, anchors[best].share), judged[best]

    def _nearer(self, evidence: Evidence, anchors: Sequence[_Anchor], far: float) -> list[_Anchor]:
        """Bring every explanation closer to its best but those at rest, or behind by more than `far`."""
        judged = [self._judged(evidence, i, anchor).deviance for i, anchor in enumerate(anchors)]
        leader = anchors[int(np.argmin(judged))].shares[len(evidence.names) :]

        def closer(i: int) -> _Anchor:
            rests = anchors[i].still >= STILL or judged[i] - min(judged) > far
            return (
                replace(anchors[i], still=STILL) if rests else self._closer(i, evidence, anchors[i], leader)
            )

        return run_all(closer, range(len(anchors)))

    def _closer(self, i: int, evidence: Evidence, anchor: _Anchor, leader: Floats) -> _Anchor:
        """Simulate the best about an anchor, and go there if it is better in truth.

        Where it is not, the slopes have learned from it, and half the way is tried; if that is no better
        either, the doubts of the explanation that leads, since what fits one may fit another.
        """
        before = self._judged(evidence, i, anchor).deviance
        along, _ = self._along(i, evidence, anchor)
        share = along.best(FIRST_STEPS)
        shares = along.settled(share).shares
        for part in (1.0, 0.5):
            anchor = self._tried(
                i, evidence, anchor,
                anchor.share + part * (share - anchor.share), anchor.shares + part * (shares - anchor.shares),
            )  # fmt: skip
            gain = before - self._judged(evidence, i, anchor).deviance
            if gain > 0.0:
                break
        instruments = len(evidence.names)
        if gain <= GAIN and not np.allclose(anchor.shares[instruments:], leader, atol=0.1):
            led = np.concatenate([anchor.shares[:instruments], leader])
            other = self._tried(i, evidence, anchor, anchor.share, led)
            if other.whole is not anchor.whole:
                anchor = other
                gain = before - self._judged(evidence, i, anchor).deviance
        return replace(anchor, still=0 if gain > GAIN else anchor.still + 1)

    def _tried(self, i: int, evidence: Evidence, anchor: _Anchor, share: float, shares: Floats) -> _Anchor:
        """Simulate an explanation with all doubts at once: the new anchor if better, else what it taught."""
        one, expected, instruments = self.listed[i], self._days(i, share), len(evidence.names)
        size, own = 0.0 if one is None else one.size(share), shares[instruments:]
        days = self.run(with_parameters(one, size, self.parameters, own))
        whole = evidence.stacked(_as_it_reads(one, size, days))
        about = replace(evidence, slopes=anchor.slopes)
        _, added = self._along(i, evidence, anchor)
        beyond = about.correction(expected, own, whole - added)
        slopes = about.learned(expected, beyond, own - anchor.shares[instruments:]).slopes
        before, after = self._judged(evidence, i, anchor), about.judged(expected, shares, whole)
        if after.deviance < before.deviance:
            return _Anchor(share, shares, whole, slopes, anchor.still)
        return replace(anchor, slopes=slopes)

    def _profile(self, i: int, evidence: Evidence, anchor: _Anchor) -> Profile:
        """Value, interval and mean of the likelihood about an anchor, as high as it is there in truth."""
        one, true = self.listed[i], self._judged(evidence, i, anchor)
        if one is None:
            return Profile(
                Fitted(None, 0.0, 0.0, 0.0, true.misfit, true.deviance, 0.0, shares=tuple(true.shares)), true
            )
        along, _ = self._along(i, evidence, anchor)
        best = along.best(STEPS)
        (left, held_left), (right, held_right) = along.end(best, -1), along.end(best, 1)
        low, high = sorted((one.size(left), one.size(right)))
        settled = along.settled(best)
        more = true.deviance - along(best)
        fitted = Fitted(
            one, one.size(best), low, high, true.misfit, along.mean(left, best, right) + more, 0.0,
            held_left or held_right, shares=tuple(settled.shares),
        )  # fmt: skip
        return Profile(fitted, settled)


def _as_it_reads(one: Explanation | None, size: float, of: Days) -> Days:
    """Days of the device as an instrument that is off reads them."""
    if one is None or one.parameter is not None:
        return of
    if one.reading == "litres":
        return {**of, "litres": of["litres"] * size}
    return {**of, one.reading: of[one.reading] + size}


def _resemblance(left: Floats) -> float:
    """Correlation of a day's difference with that of the day before [0 to 0.8]."""
    left = left - np.nanmean(left)
    pairs = np.isfinite(left[1:]) & np.isfinite(left[:-1])
    if np.count_nonzero(pairs) < FEWEST_DAYS:
        return 0.0
    found = float((left[1:][pairs] * left[:-1][pairs]).mean() / max(float(np.nanvar(left)), 1e-300))
    # what chance gives to days that do not resemble each other is no evidence (two standard errors)
    return min(found, 0.8) if found > 2.0 / np.sqrt(np.count_nonzero(pairs)) else 0.0


class _Along:
    """-2 times the logarithm of the likelihood along an explanation, by `Explanation.size`'s share.

    Each value starts from the shared uncertainties of the one before, and is kept.
    """

    def __init__(
        self,
        one: Explanation | None,
        curve: Curve,
        evidence: Evidence,
        added: Floats | float,
        near: Floats | None = None,
    ) -> None:
        self._one, self._curve, self._evidence, self._added = one, curve, evidence, added
        self._last = near
        self._known: dict[float, float] = {}

    def settled(self, share: float) -> Settled:
        size = 0.0 if self._one is None else self._one.size(share)
        found = self._evidence.settled(self._curve(size), self._added, self._last)
        self._last = found.shares
        return found

    def __call__(self, share: float) -> float:
        if share not in self._known:
            self._known[share] = self.settled(share).deviance
        return self._known[share]

    def best(self, steps: int) -> float:
        """The share of the greatest likelihood, after a first look at so many steps."""
        from scipy.optimize import minimize_scalar

        if self._one is None:
            return 0.0
        at = np.linspace(0.0, 1.0, steps + 1)
        k = int(np.argmin([self(float(x)) for x in at]))
        ends = (float(at[max(k - 1, 0)]), float(at[min(k + 1, steps)]))
        closest = float(minimize_scalar(self, bounds=ends, method="bounded", options={"xatol": 1e-4}).x)
        return closest if self(closest) < self(float(at[k])) else float(at[k])

    def end(self, best: float, side: int) -> tuple[float, bool]:
        """Where it has risen by 2.706 from the best, and whether that is where the sizes end."""
        from scipy.optimize import brentq

        least = self(best)
        at = np.linspace(0.0, 1.0, STEPS + 1)
        for x in (at if side > 0 else at[::-1]).tolist():
            if (x - best) * side > 0 and self(x) > least + RISE:
                return float(brentq(lambda x: self(float(x)) - least - RISE, best, x, xtol=1e-5)), False
        return max(float(side), 0.0), True

    def mean(self, left: float, best: float, right: float) -> float:
        """-2 times the logarithm of the likelihood over all sizes.

        By the trapezoidal rule on the shares, with a closer look about the best.
        """
        near = best + (right - left) * np.linspace(-1.0, 1.0, CLOSER + 1)
        shares = np.union1d(np.linspace(0.0, 1.0, STEPS + 1), np.clip(near, 0.0, 1.0))
        least = self(best)
        likely = np.exp(-0.5 * (np.array([self(x) for x in shares.tolist()]) - least))
        return least - 2.0 * float(np.log(np.trapezoid(likely, shares)))


def with_parameters(
    one: Explanation | None,
    size: float,
    parameters: Sequence[UncertainParameter],
    shares: Sequence[float] | Floats,
) -> Task:
    """The change of an explanation, and doubts so many standard deviations off (the first of `shares`)."""
    values = tuple(
        parameter_at(parameter, float(share)) for parameter, share in zip(parameters, shares, strict=False)
    )
    if one is None or one.parameter is None:
        return tuple(parameters), values
    return (one.parameter, *parameters), (size, *values)
