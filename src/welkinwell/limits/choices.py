"""What a person may choose for the bounds of a place, as text with units, checked."""

from __future__ import annotations

from dataclasses import dataclass

from welkinwell.declare import build, count, quantity
from welkinwell.limits.day_bounds import DayBounds


@dataclass(frozen=True)
class LimitChoices:
    """Choices of `welkinwell limits`."""

    tilt: float = quantity("deg", "Slope of the plane that takes the sun", default=30.0, low=0.0, high=90.0)
    hot: float = quantity(
        "degC", "Highest temperature at which heat enters the process", default=100.0, low=40.0, high=1000.0
    )
    recovery: float = quantity(
        "1", "Share of the vapour taken from the processed air", default=0.5, low=0.001, high=0.999
    )
    effects: int = count("Times that the heat of condensation is used", default=3, low=1, high=20)


def day_bounds_from_text(tilt: str, hot: str, recovery: str, effects: int) -> DayBounds:
    """Check choices given as text with units; raises InputError with every problem."""
    table = {"tilt": tilt, "hot": hot, "recovery": _plain(recovery), "effects": effects}
    chosen = build(LimitChoices, table, "welkinwell limits")
    return DayBounds(tilt=chosen.tilt, hot=chosen.hot, recovery=chosen.recovery, effects=chosen.effects)


def _plain(text: str) -> str | float:
    """A bare number stays one; "50 %" is read with its unit."""
    try:
        return float(text)
    except ValueError:
        return text
