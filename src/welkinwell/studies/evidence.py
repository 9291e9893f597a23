"""What measured days say about a model whose errors are partly shared by all of them.

A measured value i differs from the model's f_i(z) by its own scatter s_i and by uncertainties z that all days
share, each standard normal before the log: an instrument's offset, a coefficient of the model, the weather's
error. What an uncertainty does need not be linear: f_i(z) = f_i(0) + sum over k of a_ik z_k + b_ik z_k^2 / 2,
with slopes a and bends b from simulations one standard deviation to either side, and no litres below nought.
What they do together beyond that is taken from simulations of all at once: added where one was made
(`correction`), and learned from one to the next in the slopes along the way between them (`learned`, the
update of Broyden1965).

The z that fit best minimise F(z) = sum ((y_i - f_i(z)) / s_i)^2 + z' z; Gauss and Newton's steps find them,
with A = I + J' D J, J = df/dz and D = diag(1 / s_i^2). The likelihood with z integrated out is, by Laplace's
approximation (KassRaftery1995), -2 ln L = F + ln |A| + 2 sum ln s_i but for a constant: exact where f is
linear, when C = D^-1 + J J' is the covariance of the differences, F = r' C^-1 r and |C| = |A| / |D|. Once the
log is known, z has the covariance A^-1.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
LITRES: Final = "litres"
TURNS: Final = 6  # of Gauss and Newton at most
SETTLED: Final = 0.02  # standard deviations by which the last turn moves the shared uncertainties
FARTHEST: Final = 4.0  # standard deviations that one of them may have
SHORT: Final = 0.1  # standard deviations; a shorter step teaches nothing
MOST: Final = 3.0  # times as many litres on a day as of a sound device, in what uncertainties may do to it


@dataclass(frozen=True)
class Accuracy:
    """How well the instruments read (defaults: common practice, no source).

    litres: scatter of a day's litres as a share [1]; meter: constant error of the meter, or of the model's
    litres, as a share [1]; least: scatter of a day's litres as a share of the mean day [1]; temperature:
    scatter of a midday mean [K]; offset: constant error of a thermometer [K].
    """

    litres: float = 0.05
    meter: float = 0.03
    least: float = 0.01
    temperature: float = 0.5
    offset: float = 0.5


@dataclass(frozen=True)
class Settled:
    """The best shared uncertainties under one explanation.

    deviance: -2 ln L but for a constant; misfit: F; shares: z, instruments' offsets first, shape (m,);
    covariance: of z, shape (m, m); effects: J, shape (n, m); left: differences in units of scatter, shape
    (n,).
    """

    deviance: float
    misfit: float
    shares: Floats
    covariance: Floats
    effects: Floats
    left: Floats


@dataclass(frozen=True)
class Evidence:
    """Measured days and what is uncertain about a model of them; make it with `evidence_of`.

    names: quantities in their order, litres first; use: values that both sides have, shape (days x
    quantities,); measured, sound: those used and the sound device's, each in its quantity's unit, shape (n,);
    scatter: shape (n,); slopes, bends: what the doubts do, shape (n, doubts).
    """

    names: tuple[str, ...]
    use: NDArray[np.bool_]
    measured: Floats
    sound: Floats
    scatter: Floats
    slopes: Floats
    bends: Floats
    accuracy: Accuracy

    @cached_property
    def of_litres(self) -> NDArray[np.bool_]:
        """Which of the values used are litres, shape (n,)."""
        return self.quantity == 0

    @cached_property
    def quantity(self) -> NDArray[np.int64]:
        """Number of the quantity of each value used, shape (n,)."""
        return np.repeat(np.arange(len(self.names)), self.use.size // len(self.names))[self.use]

    def scattered(self, litres: Floats, raised: Mapping[str, float]) -> Evidence:
        """Take the scatter of litres as a share of these, shape (days,), and multiply it by quantity."""
        scatter = _scatter(self, np.maximum(litres, 0.0)[self.use[: litres.size]])
        factors = np.array([raised[name] for name in self.names])[self.quantity]
        return replace(self, scatter=scatter * factors)

    def stacked(self, of: Mapping[str, Floats]) -> Floats:
        """Values by day of each quantity as one row of those used, shape (n,)."""
        return np.concatenate([of[name] for name in self.names])[self.use]

    def parts(self, expected: Mapping[str, Floats], own: Floats) -> Floats:
        """Values with doubts so many standard deviations off, as the sum of their parts, shape (n,)."""
        return self.stacked(expected) + self._left(expected) * (self.slopes @ own + 0.5 * self.bends @ own**2)

    def correction(self, expected: Mapping[str, Floats], own: Floats, whole: Floats) -> Floats:
        """What a simulation of all doubts at once, `whole`, gives beyond the sum of the parts, shape (n,)."""
        parts = self.parts(expected, own)
        dry = self.of_litres & (whole <= 0.0) & (parts <= 0.0)
        return np.where(dry, 0.0, whole - parts)

    def learned(self, expected: Mapping[str, Floats], beyond: Floats, step: Floats) -> Evidence:
        """Slopes with which a step of the doubts gives as much more, `beyond` (Broyden1965)."""
        along = float(step @ step)
        if along < SHORT**2:
            return self
        of_slopes = beyond / np.maximum(self._left(expected), 1.0 / MOST)
        return replace(self, slopes=self.slopes + np.outer(of_slopes, step) / along)

    def judged(self, expected: Mapping[str, Floats], shares: Floats, whole: Floats) -> Settled:
        """Shared uncertainties as given, with what a simulation gives for them."""
        offsets, left = self._offsets(expected), self._left(expected)
        own = shares[len(self.names) :]
        effects = np.hstack([offsets, left[:, None] * (self.slopes + self.bends * own)])
        f = whole + offsets @ shares[: len(self.names)]
        off = (self.measured - f) / self.scatter
        stiffness = np.eye(shares.size) + (effects.T / self.scatter**2) @ effects
        misfit = float(off @ off + shares @ shares)
        spread = float(np.linalg.slogdet(stiffness)[1]) + 2.0 * float(np.log(self.scatter).sum())
        return Settled(misfit + spread, misfit, shares, np.asarray(np.linalg.inv(stiffness)), effects, off)

    def settled(
        self, expected: Mapping[str, Floats], added: Floats | float = 0.0, near: Floats | None = None
    ) -> Settled:
        """Let the shared uncertainties be what fits best.

        expected: what a model gives without them; added: a correction; near: uncertainties to start from, 0
        if not given. What doubts do to litres, and the meter's error, are shares: they shrink with the litres
        expected.
        """
        of_litres, s, instruments = self.of_litres, self.scatter, len(self.names)
        offsets, left = self._offsets(expected), self._left(expected)
        at, slopes, bends = (
            self.stacked(expected) + added,
            left[:, None] * self.slopes,
            left[:, None] * self.bends,
        )

        def modelled(z: Floats) -> Floats:
            own = z[instruments:]
            f = at + slopes @ own + 0.5 * bends @ own**2
            return np.where(of_litres, np.maximum(f, 0.0), f)

        def misfit(z: Floats, f: Floats) -> float:
            off = (self.measured - f - offsets @ z[:instruments]) / s
            return float(off @ off + z @ z)

        z = np.zeros(instruments + slopes.shape[1]) if near is None else near
        f = modelled(z)
        least = misfit(z, f)
        for _ in range(TURNS):
            effects = np.hstack([offsets, slopes + bends * z[instruments:]])
            weighted = effects.T / s**2
            stiffness = np.eye(z.size) + weighted @ effects
            off = self.measured - f - offsets @ z[:instruments]
            step = np.linalg.solve(stiffness, weighted @ off - z)
            # halved until it gains, since a bend may throw it too far
            for share in (1.0, 0.5, 0.25, 0.125):
                tried = np.clip(z + share * step, -FARTHEST, FARTHEST)
                f_tried = modelled(tried)
                value = misfit(tried, f_tried)
                if value < least:
                    break
            else:
                break
            moved, z, f, least = float(np.abs(tried - z).max()), tried, f_tried, value
            if moved < SETTLED:
                break
        return self.judged(expected, z, f)

    def _left(self, expected: Mapping[str, Floats]) -> Floats:
        """Share of the sound device's litres, 1 for other quantities, shape (n,)."""
        litres = np.maximum(self.stacked(expected)[self.of_litres], 0.0)
        sound = self.sound[self.of_litres]
        some = sound > self.accuracy.least * sound.mean()  # other days say nothing about shares
        left = np.ones(self.sound.size)
        left[self.of_litres] = np.where(some, np.minimum(litres / np.where(some, sound, 1.0), MOST), 1.0)
        return left

    def _offsets(self, expected: Mapping[str, Floats]) -> Floats:
        """What one standard deviation of each instrument's constant error does, shape (n, quantities)."""
        offsets = np.zeros((self.sound.size, len(self.names)))
        offsets[np.arange(self.sound.size), self.quantity] = self.accuracy.offset
        litres = self.stacked(expected)[self.of_litres]
        offsets[self.of_litres, 0] = self.accuracy.meter * np.maximum(litres, 0.0)
        return offsets

    def by_quantity(self, values: Floats) -> dict[str, Floats]:
        """Split values used, shape (n,), by quantity and day, nan where unused."""
        whole = np.full(self.use.size, np.nan)
        whole[self.use] = values
        return dict(zip(self.names, whole.reshape(len(self.names), -1), strict=True))


def evidence_of(
    measured: Mapping[str, Floats],
    sound: Mapping[str, Floats],
    sides: Sequence[tuple[Mapping[str, Floats], Mapping[str, Floats]]],
    accuracy: Accuracy,
) -> Evidence:
    """Bring measured days, a model's, and their uncertainties together.

    measured, sound: quantity, litres first, to values by day, shape (days,), nan where unknown; sides: the
    model's days one standard deviation of each doubt below and above.
    """
    names = tuple(measured)
    if names[0] != LITRES:
        raise ValueError("litres come first")
    use = np.concatenate([np.isfinite(measured[name]) & np.isfinite(sound[name]) for name in names])

    def stacked(of: Mapping[str, Floats]) -> Floats:
        return np.concatenate([of[name] for name in names])[use]

    middle = stacked(sound)
    below = np.array([stacked(low) for low, _ in sides]).reshape(-1, middle.size).T
    above = np.array([stacked(high) for _, high in sides]).reshape(-1, middle.size).T
    found = Evidence(
        names, use, stacked(measured), middle, middle, 0.5 * (above - below),
        above + below - 2.0 * middle[:, None], accuracy,
    )  # fmt: skip
    return replace(found, scatter=_scatter(found, middle[found.of_litres]))


def _scatter(evidence: Evidence, litres: Floats) -> Floats:
    """Scatter of each value: a share of these litres, at least one of the sound device's mean day."""
    accuracy, of_litres = evidence.accuracy, evidence.of_litres
    scatter = np.full(of_litres.size, accuracy.temperature)
    least = accuracy.least * float(evidence.sound[of_litres].mean())
    scatter[of_litres] = np.hypot(accuracy.litres * litres, least)
    return scatter
