"""A number of a prediction that is not known for sure: its spread, its source, and what it changes.

An uncertain parameter is a number around 1 (a factor) or 0 (a shift) with a distribution. It changes the
design, the sorbent or the weather before the simulation; nothing multiplies litres. Those of a kind stand in
its `study`; here are the ones that kinds share.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.harvesters.changes import SizedChange, other_dust, other_fields, other_loading

Floats = NDArray[np.float64]
FACTOR, SHIFT, UNIFORM = "factor", "shift", "uniform"
WeatherChange = Callable[[Floats, float], None]
Exposure = Callable[[Floats, Any, Any], None]
MEMORY: Final = "value from memory"
PRACTICE: Final = "common practice, no source"


@dataclass(frozen=True)
class UncertainParameter:
    """One number that is not known for sure.

    shape: "factor" (log-normal, `spread` the standard deviation of its logarithm), "shift" (normal, `spread`
    its standard deviation) or "uniform" (from low to high); unit and source for the reader; of: group in the
    picture (sorbent, heat and mass transfer, weather, upkeep); change: applies a value to design and sorbent;
    weather: applies it to the surroundings' nodes, in place; exposed: what the changed design does to these
    nodes, in place, given the design before and after (dust on the glass in front of the absorber); whose:
    key of the one data sheet that it is about, empty for what all devices of the kind, or all at the
    site, have in common.
    """

    key: str
    name: str
    of: str
    shape: str
    source: str
    spread: float = 0.0
    low: float = 0.0
    high: float = 0.0
    unit: str = "1"
    change: SizedChange | None = None
    weather: WeatherChange | None = None
    exposed: Exposure | None = None
    whose: str = ""

    def value(self, share: Floats) -> Floats:
        """Turn uniform shares in (0, 1) into values of this parameter."""
        if self.shape == UNIFORM:
            return self.low + share * (self.high - self.low)
        from scipy.special import ndtri

        normal = ndtri(share)
        return np.exp(self.spread * normal) if self.shape == FACTOR else self.spread * normal

    def at(self, deviations: float) -> float:
        """Value so many standard deviations from the middle (of the logarithm for a factor)."""
        if self.shape == UNIFORM:
            return self.middle + deviations * (self.high - self.low) / math.sqrt(12.0)
        return math.exp(deviations * self.spread) if self.shape == FACTOR else deviations * self.spread

    def moved(self, deviations: float) -> float:
        """Value so many standard deviations from the one that changes nothing (for a uniform one, low)."""
        if self.shape == UNIFORM:
            return self.low + deviations * (self.high - self.low) / math.sqrt(12.0)
        return self.at(deviations)

    @property
    def middle(self) -> float:
        """The value that changes nothing, or the middle of a uniform one."""
        if self.shape == UNIFORM:
            return 0.5 * (self.low + self.high)
        return 1.0 if self.shape == FACTOR else 0.0

    def in_words(self) -> str:
        """Say how wide it is: the range that holds the middle 80 % of the draws."""
        low, high = sorted(float(self.value(np.array(share))) for share in (0.1, 0.9))
        if self.shape == FACTOR:
            return f"{low:.2f} to {high:.2f} times"
        return f"{low:+.3g} to {high:+.3g} {self.unit}" if self.shape == SHIFT else f"{low:.3g} to {high:.3g}"


_TRANSFER: Final = "heat and mass transfer"
WIND_COEFFICIENT: Final = UncertainParameter(
    "wind_coefficient",
    "Heat and vapour transfer to the wind",
    _TRANSFER,
    FACTOR,
    "published correlations differ by 30 %; value from memory (Watmuff1977 used)",
    0.3,
    change=other_fields("wind_constant", "wind_slope"),
)
ABSORBER_EMISSIVITY: Final = UncertainParameter(
    "emissivity",
    "Emissivity of the absorber, new to aged",
    "upkeep",
    FACTOR,
    f"25 %; {PRACTICE}",
    0.25,
    change=other_fields("absorber_emissivity", most=0.98),
)
SOILING: Final = UncertainParameter(
    "soiling",
    "Dust on the glass",
    "upkeep",
    FACTOR,
    f"a factor of two either way with the cleaning; {PRACTICE}",
    0.7,
    change=other_fields("soiling", most=0.5),
    exposed=other_dust,
)
AGEING: Final = UncertainParameter(
    "ageing",
    "Sorbent lost to ageing by mid-life",
    "upkeep",
    UNIFORM,
    f"0 to 10 % of the capacity, no sheet knows; {PRACTICE}",
    low=1.0,
    high=0.9,
    change=other_loading,
)
CONDENSER_INSIDE: Final = UncertainParameter(
    "inside",
    "Transfer from the loop's air to the condenser",
    _TRANSFER,
    FACTOR,
    f"25 %; {PRACTICE}",
    0.25,
    change=other_fields("condenser_coefficient"),
)
CONDENSER_FILM: Final = UncertainParameter(
    "holdup",
    "Water that stays on the condenser",
    "upkeep",
    FACTOR,
    f"0.02 to 0.1 mm; {MEMORY}",
    0.5,
    change=other_fields("condenser_holdup"),
)
