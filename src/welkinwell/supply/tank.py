"""A tank between what is collected and what is drawn, day by day."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class TankYear:
    """What a tank did: litres delivered, spilled and missing on each day, and stored at its end."""

    delivered: NDArray[np.float64]
    spilled: NDArray[np.float64]
    missing: NDArray[np.float64]
    stored: NDArray[np.float64]

    @property
    def share_of_days_met(self) -> float:
        """Share of days on which the whole demand was drawn [1]."""
        return float(np.mean(self.missing <= 1e-9))

    @property
    def share_of_demand_met(self) -> float:
        """Share of the year's demand that was drawn [1]; 1 without a demand."""
        wanted = float((self.delivered + self.missing).sum())
        return float(self.delivered.sum()) / wanted if wanted > 0.0 else 1.0

    @property
    def longest_shortfall(self) -> int:
        """Longest run of days on which the demand was not met."""
        longest = run = 0
        for short in self.missing > 1e-9:
            run = run + 1 if short else 0
            longest = max(longest, run)
        return longest


def tank_year(inflow: NDArray[np.float64], demand: NDArray[np.float64], volume: float) -> TankYear:
    """Run a tank through a year twice, so that the second year starts as it ends.

    Yield after spillage (Fewkes2000): a day's water is drawn from what stood in the tank at its start, but
    only after the day's inflow has filled it and spilled over, so the tank never ends a day full to the brim
    unless nothing is drawn: drawn = min(demand, store), store = min(store + inflow - drawn, volume - drawn).
    inflow, demand: by day [any unit of volume]; volume [the same unit].
    """
    store = 0.0
    days = inflow.size
    out = np.zeros((4, days))
    for _ in range(2):
        for day in range(days):
            drawn = min(demand[day], store)
            full = store + inflow[day] - drawn
            store = min(full, volume - drawn)
            out[:, day] = drawn, full - store, demand[day] - drawn, store
    return TankYear(*out)
