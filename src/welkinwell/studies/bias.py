"""How predictions of a kind stood against published tests: carried beside an interval, never into the centre.

Each test of a kind gives one factor, published over predicted water (the median over its figures, which share
one device). A figure that was published as a least (">= 0.25") and is reached tells nothing of how far the
prediction misses the device: it gives no factor and is never "too high". `carry` draws these factors as one
more doubt: every draw of the litres is multiplied by a factor from between the smallest and the largest, at
the plotting positions k / (n + 1) of the sorted n. If a device to be built misses as the published ones did,
its factor falls between the ends of n others in (n - 1) / (n + 1) of all cases, whatever the distribution.
Where no figure was predicted too high, or agrees, nothing tells how far below the draws a device may stay,
and no low end is given; likewise above. The result is what published tests suggest: they are few, their
conditions are known in part, and good days are published more readily than bad ones (common practice, no
source), so that no central value is moved by them.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import cache
from importlib import resources
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
OF_WATER: Final = ("litres", "grams", "mm_", "kg_")  # beginnings of the names of figures of water
FEWEST_TESTS: Final = 3  # with two, the range of their misses would hold a third in one case of three
LARGE: Final = 2.0  # largest factor over smallest; from there on words say why
MANY: Final = 9  # tests whose range holds 80 % of all cases


@dataclass(frozen=True)
class Bias:
    """Published figures of water that a kind was held against, and how its predictions missed them.

    figures: judged [1]; low, high: predicted below and above [1]; inside: within their tolerance [1];
    median: of predicted over published, less one, nan where no figure tells it [1]; factors: published over
    predicted water of each test, rising, infinite where no water was predicted [1]; least: figures published
    as a least and reached [1]; too_low_known, too_high_known: whether a figure was predicted so, or agrees
    within its tolerance, so that something is known of how far.
    """

    kind: str
    figures: int
    low: int
    high: int
    inside: int
    median: float
    factors: tuple[float, ...] = ()
    least: int = 0
    too_low_known: bool = True
    too_high_known: bool = True

    @property
    def words(self) -> str:
        """Say it in sentences."""
        if self.figures == self.least:
            said = (
                "Published tests of this kind give its water only as a least, which the prediction reaches: "
                "how far it misses is not known"
            )
        elif self.figures == 1:
            way = "low" if self.low else "high"
            said = (
                f"One figure of water from a published test of this kind judges it: predicted too {way} by "
                f"{abs(100.0 * self.median):.0f} %, "
                + ("within its tolerance" if self.inside else "outside its tolerance")
            )
        else:
            inside = {0: "none is", 1: "one is"}.get(self.inside, f"{self.inside} are")
            least = {0: "", 1: ", and one was published as a least and is reached"}.get(
                self.least, f", and {self.least} were published as a least and are reached"
            )
            median = f"{100.0 * self.median:+.0f} % in the median"
            by = f"; what misses are known are {median}" if self.least else f", by {median}"
            said = (
                f"Published tests of this kind judge {self.figures} figures of its water: {self.low} were "
                f"predicted too low and {self.high} too high{least}{by}; {inside} within the tolerance, the "
                "others outside it"
            )
        return (
            f"{said}. The draws do not hold that error of the model and its conditions, and no central value "
            "is corrected by it."
        )

    def as_data(self) -> dict[str, Any]:
        """Give it as JSON-ready data; a factor without end and a median that is not known are None."""
        factors = [_finite(f) for f in self.factors]
        return {**asdict(self), "median": _finite(self.median), "factors": factors, "words": self.words}


@dataclass(frozen=True)
class Carried:
    """An interval with the published misses drawn as one more doubt; what tests suggest, no correction.

    low, high: between which the middle 80 % of the draws lie, low no higher than the ceiling and nan where no
    test tells how far predictions may be too high, high infinite without an upper end or where no test tells
    how far they may be too low; ceiling: lowest bound that binds the device, nan where none is known; unit of
    the draws; bias: the misses; beyond: share of the draws that the misses would carry past that bound [1].
    """

    low: float
    high: float
    ceiling: float
    bias: Bias
    beyond: float = 0.0

    @property
    def top(self) -> float:
        """The upper end, or the bound where the misses set none below it."""
        return self.ceiling if self.high > self.ceiling else self.high

    @property
    def low_known(self) -> bool:
        """Whether published tests tell how far predictions may be too high."""
        return bool(np.isfinite(self.low))

    @property
    def words(self) -> str:
        """Say the interval, what it is, and why it is as wide as it is."""
        factors = self.bias.factors
        tests = len(factors)
        nothing = sum(not np.isfinite(f) for f in factors)
        said = (
            "What published tests suggest, no correction: with their misses drawn as one more doubt the "
            f"middle 80 % of the draws {self._reach()}."
        )
        if not self.low_known:
            said += (
                " No low end is known: no figure of water, those published as a least apart, was predicted "
                "too high or within its tolerance, so that nothing tells how far a device may stay below the "
                "draws."
            )
        if not self.bias.too_low_known:
            said += (
                " No upper end is known: no figure of water, those published as a least apart, was predicted "
                "too low or within its tolerance."
            )
        said += (
            f" In {tests} tests the published water was {_times(factors[0])} to {_times(factors[-1])} the "
            f"prediction, {_times(float(np.median(factors)))} in the median"
        )
        said += f" ({nothing} of them where no water at all was predicted)." if nothing else "."
        if self.beyond > 0.0:
            said += (
                f" In {100.0 * self.beyond:.0f} % of the draws they would carry the litres past that bound, "
                "which no device of this design does: they cannot hold here as they stand."
            )
        if tests < MANY:
            held = (tests - 1.0) / (tests + 1.0)
            said += (
                f" So few misses hold a further one in {100.0 * held:.0f} % of cases only: the interval is "
                "rather too narrow."
            )
        if factors[-1] >= LARGE * factors[0]:
            said += (
                " Misses so large and few are not the model's alone: conditions that a publication leaves "
                "open, sorbents unlike the data sheet, water counted another way, good days that are "
                f"published more readily than bad ones. Plan with {self._cautious()}, and measure one module."
            )
        return said

    def _reach(self) -> str:
        """From where to where, in words."""
        if self.high > self.ceiling:
            end = f"{self.ceiling:.2f}, the lowest bound that binds it, for the misses set no end below that"
        else:
            end = f"{self.high:.2f}" if np.isfinite(self.high) else "no upper end"
        if not self.low_known:
            return f"reach up to {end}"
        if self.low >= self.ceiling:
            return f"lie at {self.ceiling:.2f}, the lowest bound that binds it, or would pass it"
        return f"reach from {self.low:.2f} to {end}"

    def _cautious(self) -> str:
        return "the lower of the two low ends" if self.low_known else "the low end of the draws"

    def as_data(self) -> dict[str, Any]:
        """Give it as JSON-ready data; an end that is not set is None."""
        return {
            "tests": len(self.bias.factors),
            "exceeded_in_90_percent": _finite(self.low),
            "exceeded_in_10_percent": _finite(self.high),
            "lowest_binding_bound": _finite(self.ceiling),
            "share_of_draws_past_the_bound": self.beyond,
            "words": self.words,
        }


def carry(bias: Bias | None, litres: Floats, ceiling: float = float("nan"), seed: int = 1) -> Carried | None:
    """Draw the misses of a kind beside the draws of its litres; None with fewer than three tests.

    litres: shape (draws,), nan where a draw failed; ceiling: lowest bound that binds the device, in the same
    unit, nan for none; seed: of the order in which factors meet draws.
    """
    good = litres[np.isfinite(litres)]
    if bias is None or len(bias.factors) < FEWEST_TESTS or good.size == 0:
        return None
    shares = (np.random.default_rng(seed).permutation(good.size) + 0.5) / good.size
    drawn = np.sort(good * factors_at(bias.factors, shares))
    # an end of draws without end is no mean of two of them
    low, high = (float(x) for x in np.quantile(drawn, [0.1, 0.9], method="inverted_cdf"))
    if np.isfinite(ceiling):
        low = min(low, ceiling)
    low = low if bias.too_high_known else float("nan")
    high = high if bias.too_low_known else float("inf")
    return Carried(low, high, ceiling, bias, float((drawn > ceiling).mean()))


def factors_at(factors: Sequence[float], shares: Floats) -> Floats:
    """Factors at shares in (0, 1): the sorted at k / (n + 1), by logarithms between, the ends beyond."""
    at = np.clip(shares * (len(factors) + 1.0) - 1.0, 0.0, len(factors) - 1.0)
    below = np.floor(at).astype(np.int64)
    above = np.minimum(below + 1, len(factors) - 1)
    sorted_ones = np.sort(np.asarray(factors, dtype=np.float64))
    ends = np.isinf(sorted_ones)
    logs = np.log(np.where(ends, 1.0, sorted_ones))
    between = np.exp(logs[below] + (at - below) * (logs[above] - logs[below]))
    return np.where(ends[below] | (ends[above] & (at > below)), np.inf, between)


def _times(factor: float) -> str:
    if factor > 100.0:
        return "over 100 times"
    return f"{factor:.1f} times" if factor >= 1.05 or factor < 0.95 else "once"


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


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
    return _bias(kind, own)


def _bias(kind: str, rows: Sequence[dict[str, Any]]) -> Bias:
    """Count the judged figures of a kind's water."""
    told = [row for row in rows if not (row["relation"] == ">=" and row["inside"])]
    low = sum(row["error"] < 0.0 for row in rows)
    high = sum(row["error"] > 0.0 for row in told)
    agreed = any(row["inside"] for row in told)
    return Bias(
        kind,
        len(rows),
        low,
        high,
        sum(bool(row["inside"]) for row in rows),
        float(np.median([row["error"] for row in told])) if told else float("nan"),
        _factors(told),
        sum(row["relation"] == ">=" and row["error"] >= 0.0 for row in rows),
        low > 0 or agreed,
        high > 0 or agreed,
    )


def _factors(rows: Sequence[dict[str, Any]]) -> tuple[float, ...]:
    """Published over predicted of each test, the median where it has several figures."""
    of_test: dict[str, list[float]] = {}
    for row in rows:
        ratio = (
            1.0 + row["error"]
        )  # predicted over published; a loss of water where gain was published is none
        of_test.setdefault(row["case"], []).append(1.0 / ratio if ratio > 0.0 else float("inf"))
    return tuple(sorted(float(np.median(found)) for found in of_test.values()))
