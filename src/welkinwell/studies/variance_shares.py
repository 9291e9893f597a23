"""What the doubt about the litres is made of: shares of the variance of draws, each with its half-width.

The share of a doubt is the part of the variance that would go if it alone were known (first-order index,
V(E[y | x]) / V(y)). Two ways, both on the draws as they are:

- least squares on a straight line and a curve of each doubt: z and (z^2 - 1) / sqrt(2) of a normal one, z and
  sqrt(5) (z^2 - 1) / 2 of a uniform one (Hermite and Legendre polynomials, of mean 0 and variance 1). A share
  is the sum of the squares of its two coefficients over the whole variance, less the square that noise alone
  would give; half-widths follow from the covariance of the coefficients, which allows for scatter that is not
  the same everywhere (HC3, MacKinnon1985). What the terms leave over is told: kinks, and what doubts do only
  together.
- random balance designs (Tarantola2006, with SALib), which hold for any shape of the litres, but need some
  thousand draws to see a share of a few per cent. From `ENOUGH_FOR_BALANCE` draws on they stand beside the
  regression as its check, and in its place where it leaves more than `LEFT_AT_MOST` of the variance over.
"""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.harvesters.uncertain_parameters import FACTOR, UNIFORM, UncertainParameter

if TYPE_CHECKING:
    from welkinwell.studies.uncertainty import Draws

Floats = NDArray[np.float64]
REGRESSION, BALANCE = "regression", "random balance designs"
ENOUGH_FOR_BALANCE: Final = (
    1000  # draws; with fewer the noise of random balance designs is a per cent and more
)
DRAWS_PER_TERM: Final = 2.5  # fewer leave the scatter about the fit itself uncertain
NORMAL_95: Final = 1.96
LEFT_AT_MOST: Final = 0.1  # of the variance by straight lines and curves; more, and balance takes over
MUCH_LEFT: Final = 0.2  # of the variance; above, words warn
NAMED_AT_MOST: Final = 4  # doubts in a sentence
HARMONICS: Final = 6  # of random balance designs, as Tarantola2006 recommends


@dataclass(frozen=True)
class VarianceShares:
    """Shares of the variance, the largest first.

    parts: (doubt, share, half-width at 95 %) [1]; a share may come out a little below zero, which is noise;
    rest: what no doubt makes by itself in the way that was looked for [1]; between_years: share that lies
    between the weather years, where there are several [1]; draws: that were used; by: REGRESSION or BALANCE;
    check: the other way on the same draws, where there are enough.
    """

    parts: list[tuple[UncertainParameter, float, float]]
    rest: float
    between_years: float
    draws: int
    by: str
    check: VarianceShares | None = None

    @property
    def words(self) -> str:
        """Say how the shares were found and what they leave open."""
        if self.by == BALANCE:
            how = (
                f"random balance designs on {self.draws} draws: what each doubt makes by itself, of any shape"
            )
            left = "is made by doubts together, or is noise of the estimate"
        else:
            how = f"least squares on {self.draws} draws, a straight line and a curve for each doubt"
            left = "is kinks in the litres, or what doubts do only together"
        said = f"Shares by {how}; bars show half-widths at 95 %. "
        if self.between_years > 0.0:
            said += f"{_percent(self.between_years)} of the variance lie between the weather years. "
        said += f"What the shares leave over, {_percent(self.rest)}, {left}."
        if self.rest > MUCH_LEFT:
            said += " That is much: take the order of the doubts with care" + (
                f", or draw {ENOUGH_FOR_BALANCE} times." if self.check is None else "."
            )
        if self.check is not None:
            said += (
                f" {self.check.by.capitalize()} on the same draws agree within the half-widths for "
                f"{self.agreeing} of {len(self.parts)} doubts."
            )
        leading = self.leading
        if len(leading) > NAMED_AT_MOST:
            said += f" Within the half-widths any of the first {len(leading)} may be the largest."
        elif len(leading) > 1:
            names = ", ".join(f'"{parameter.name.lower()}"' for parameter in leading)
            said += f" Within the half-widths any of these may be the largest: {names}."
        return said

    @property
    def agreeing(self) -> int:
        """Doubts whose share by the other way lies within both half-widths."""
        if self.check is None:
            return 0
        other = {parameter.key: (share, half) for parameter, share, half in self.check.parts}
        return sum(abs(share - other[d.key][0]) <= half + other[d.key][1] for d, share, half in self.parts)

    @property
    def leading(self) -> list[UncertainParameter]:
        """The doubts that may be the largest, within the half-widths."""
        if not self.parts:
            return []
        floor = self.parts[0][1] - self.parts[0][2]
        return [parameter for parameter, share, half in self.parts if share + half >= floor and share > 0.0]


def needed_draws(parameters: int) -> int:
    """Draws from which so many doubts can be told apart."""
    return int(np.ceil(DRAWS_PER_TERM * (2 * parameters + 1)))


def variance_shares(result: Draws, of: Floats | None = None) -> VarianceShares | None:
    """Split the variance of the litres, or of another figure of the draws, over the doubts.

    of: shape (draws,), the litres where none is given. Returns None with too few draws, or no variance.
    """
    of = result.litres if of is None else of
    good = np.isfinite(of)
    count = int(good.sum())
    if count < needed_draws(len(result.parameters)) or float(np.ptp(of[good])) == 0.0:
        return None
    years = np.zeros(count, dtype=np.int64) if result.of_year is None else result.of_year[good]
    values, y = result.values[good], of[good]
    found = _by_regression(result.parameters, values, y, years)
    if count < ENOUGH_FOR_BALANCE or importlib.util.find_spec("SALib") is None:
        return found
    balanced = _by_balance(result, values, y, years)
    if found.rest <= LEFT_AT_MOST:
        return replace(found, check=balanced)
    return replace(balanced, check=found)


def standardised(parameter: UncertainParameter, values: Floats) -> Floats:
    """Values of a doubt as standard deviations from its middle, of the logarithm for a factor."""
    if parameter.shape == UNIFORM:
        return (values - parameter.middle) * np.sqrt(12.0) / (parameter.high - parameter.low)
    return (np.log(values) if parameter.shape == FACTOR else values) / parameter.spread


def _terms(parameter: UncertainParameter, values: Floats) -> Floats:
    """Straight line and curve of one doubt, shape (draws, 2), each of mean 0 and variance 1."""
    z = standardised(parameter, values)
    curve = np.sqrt(1.25) * (z * z - 1.0) if parameter.shape == UNIFORM else (z * z - 1.0) / np.sqrt(2.0)
    return np.column_stack([z, curve])


def _by_regression(
    parameters: tuple[UncertainParameter, ...], values: Floats, y: Floats, years: Any
) -> VarianceShares:
    of_years = np.eye(int(years.max()) + 1)[years]  # a level of its own for each weather year
    x = np.hstack([of_years, *(_terms(parameter, values[:, i]) for i, parameter in enumerate(parameters))])
    first, (count, terms) = of_years.shape[1], x.shape
    inverse = np.linalg.pinv(x.T @ x)
    found = inverse @ (x.T @ y)
    left = y - x @ found
    leverage = np.einsum("ij,jk,ik->i", x, inverse, x)
    raised = left / np.maximum(1.0 - leverage, 1e-3)
    covariance = inverse @ ((x * raised[:, None] ** 2).T @ x) @ inverse
    squares, halves = [], []
    for number in range(len(parameters)):
        own = slice(first + 2 * number, first + 2 * number + 2)
        b, c = found[own], covariance[own, own]
        square = float(b @ b - np.trace(c))
        # variance of a sum of squares of normal numbers; the mean's own square without its noise
        spread = 4.0 * max(float(b @ c @ b) - float(np.trace(c @ c)), 0.0) + 2.0 * float(np.trace(c @ c))
        squares.append(square)
        halves.append(NORMAL_95 * np.sqrt(spread))
    scatter = float(left @ left) / (count - terms)
    between = float(found[:first][years].var()) if years.any() else 0.0
    whole = sum(squares) + scatter + between
    parts = [(d, s / whole, h / whole) for d, s, h in zip(parameters, squares, halves, strict=True)]
    parts.sort(key=lambda part: -part[1])
    return VarianceShares(parts, scatter / whole, between / whole, count, REGRESSION)


def _by_balance(result: Draws, values: Floats, y: Floats, years: Any) -> VarianceShares:
    from SALib.analyze import rbd_fast

    means = np.array([y[years == year].mean() for year in range(int(years.max()) + 1)])[years]
    between = float(means.var() / y.var()) if years.any() else 0.0
    within = y - means  # the year that a draw met is no doubt of the list
    names = [parameter.key for parameter in result.parameters]
    problem = {"num_vars": len(names), "names": names, "bounds": [[0.0, 1.0]] * len(names)}
    found = rbd_fast.analyze(problem, values, within, M=HARMONICS, num_resamples=50, seed=result.seed)
    parts = [
        (parameter, (1.0 - between) * float(share), (1.0 - between) * float(half))
        for parameter, share, half in zip(result.parameters, found["S1"], found["S1_conf"], strict=True)
    ]
    parts.sort(key=lambda part: -part[1])
    rest = 1.0 - between - sum(share for _, share, _ in parts)
    return VarianceShares(parts, rest, between, int(y.size), BALANCE)


def _percent(share: float) -> str:
    return f"{100.0 * max(share, 0.0):.0f} %"
