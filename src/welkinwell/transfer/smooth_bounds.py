"""Once-differentiable replacements for max() and for clipping, so that Jacobians have no jumps."""

from __future__ import annotations

from welkinwell.compiled import njit
from welkinwell.kernels.marks import gives_slopes


@gives_slopes("value")
@njit(cache=True)
def positive_part(value: float, width: float) -> tuple[float, float]:
    """max(value, 0) with the corner rounded by a parabola over -width to +width.

    At the corner it is width/4 too high; outside the rounded part it is exact.

    value: [any]
    width: of the rounding, above zero [as value]
    returns: rounded positive part [as value], slope [1]
    source: definition
    """
    if value <= -width:
        return 0.0, 0.0
    if value >= width:
        return value, 1.0
    above = value + width
    return above * above / (4.0 * width), above / (2.0 * width)


@njit(cache=True)
def softly_bounded(value: float, low: float, high: float, width: float) -> tuple[float, float]:
    """The value itself within low to high; outside it approaches low - width or high + width.

    Outside the bounds, with u the distance in widths: high + width u/(1 + u).

    value: [any]
    low: [as value]
    high: [as value]
    width: [as value]
    returns: bounded value [as value], slope [1]
    source: definition
    """
    if value < low:
        shrink = 1.0 / (1.0 + (low - value) / width)
        return low - width + width * shrink, shrink * shrink
    if value > high:
        shrink = 1.0 / (1.0 + (value - high) / width)
        return high + width - width * shrink, shrink * shrink
    return value, 1.0
