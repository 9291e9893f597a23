"""Net water: from what runs off the condenser to what reaches the tank, loss by loss."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.declare import count, quantity

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Collection:
    """The [collection] table: from the gutter to the treatment. SI inside."""

    drips: float = quantity(
        "1",
        "Share of the collected water that drips past gutter, hose and joints",
        default=0.03,
        low=0,
        high=0.9,
    )
    first_flush: float = quantity(
        "mm",
        "First water of each day that is let go to carry dust away, per m2 of aperture, face or sheet",
        default=0.0,
        low=0,
        high=5,
    )


@dataclass(frozen=True)
class Treatment:
    """The [treatment] table: what treatment, tests and outages take. SI inside."""

    rejects: float = quantity(
        "1", "Share that the treatment throws away (a membrane; 0 for filters and disinfection)",
        default=0.0, low=0, high=0.95,
    )  # fmt: skip
    backwash: float = quantity(
        "1", "Share that washes filters and mineral bed", default=0.01, low=0, high=0.5
    )
    samples_per_year: int = count(
        "Days in the year on which water is taken for tests", default=4, low=0, high=365
    )
    sample_volume: float = quantity("L", "Water taken on such a day", default=2.0, low=0, high=100)
    availability: float = quantity(
        "1", "Share of the time in which the plant works: cleaning, repair, waiting for parts",
        default=0.95, low=0.05, high=1,
    )  # fmt: skip
    outage_length: float = quantity(
        "day", "How long an outage lasts in the mean (resampled years)", default=5.0, low=1, high=365
    )


# Why each default is what it is: printed beside it wherever it is shown.
WHY: Final = {
    "drips": "assumption, no source; 5 to 15 % is common practice for all losses between condenser and tank, "
    "of which what stays on surfaces is already simulated",
    "first_flush": "assumption: the condenser of a closed box lies behind the glass; 0.2 to 0.5 mm is common "
    "practice for open dew foils (no source)",
    "rejects": "assumption: filter, minerals and disinfection, no membrane",
    "backwash": "assumption, no source; about what flushing a cartridge filter takes",
    "samples_per_year": "assumption: four times a year, as is usual for small supplies (value from memory)",
    "sample_volume": "assumption, no source: bottles for germs, metals and salts, with rinsing",
    "outage_length": "assumption, no source: until a part is brought and somebody comes",
    "availability": "assumption, no source; clouds and dust are in the simulation and not in this share",
}


@dataclass(frozen=True)
class NetWater:
    """The chain of one plant, in litres by step; each step is what is left after its loss.

    collected: run off into the gutter; after_drips, after_first_flush, after_treatment, after_samples; net:
    after outages, what reaches the tank. Shapes (steps,), steps being hours or days.
    """

    collected: Floats
    after_drips: Floats
    after_first_flush: Floats
    after_treatment: Floats
    after_samples: Floats
    net: Floats
    per_day: int

    def by_day(self) -> Floats:
        """Give the net water of each day, shape (days,) [L]."""
        return self.net.reshape(-1, self.per_day).sum(axis=1)

    def chain(self) -> list[tuple[str, float]]:
        """Give each step's name and its mean [L/day], in order."""
        days = self.net.size / self.per_day
        return [(name, float(getattr(self, name).sum()) / days) for name in STEPS]


STEPS: Final = (
    "collected", "after_drips", "after_first_flush", "after_treatment", "after_samples", "net",
)  # fmt: skip


def net_water(
    collected: Floats, area: float, collection: Collection, treatment: Treatment, per_day: int = 24
) -> NetWater:
    """Follow the water from the gutter to the tank.

    net = a [(c (1 - drips) - flush) (1 - rejects) (1 - backwash) - samples]

    The first flush is taken from the first water of each day, samples from the first water on and after their
    day, never more than there is. Outages are taken as a mean share a here: a real plant fails for days on
    end, which the resampled years of the tank show. Our own balance.

    collected: by hour or day, whole days, shape (steps,) [L]; area: aperture of all modules [m2]; per_day:
    steps in a day [1]. Returns a NetWater [L].
    """
    left = collected * (1.0 - collection.drips)
    flushed = _less_first_water(left, collection.first_flush * area * 1000.0, per_day)
    treated = flushed * (1.0 - treatment.rejects) * (1.0 - treatment.backwash)
    sampled = _less_samples(treated, treatment, per_day)
    return NetWater(collected, left, flushed, treated, sampled, sampled * treatment.availability, per_day)


def _less_first_water(water: Floats, flush: float, per_day: int) -> Floats:
    """Take the first litres of each day away [L]."""
    if flush <= 0.0:
        return water
    days = water.reshape(-1, per_day)
    so_far = np.maximum(np.cumsum(days, axis=1) - flush, 0.0)
    return np.diff(so_far, axis=1, prepend=0.0).ravel()


def _less_samples(water: Floats, treatment: Treatment, per_day: int) -> Floats:
    """Take the samples from the first water on and after their days; what is still due at the end lapses."""
    number, litres = treatment.samples_per_year, treatment.sample_volume * 1000.0
    days = water.reshape(-1, per_day).copy()
    if number <= 0 or litres <= 0.0:
        return water
    wanted = np.zeros(len(days))
    spacing = 365.0 / number
    np.add.at(wanted, np.arange(0.5 * spacing, len(days), spacing).astype(int), litres)
    due = 0.0
    for day in range(len(days)):
        due += wanted[day]
        if due <= 0.0:
            continue
        took = min(due, float(days[day].sum()))
        days[day] = np.diff(np.maximum(np.cumsum(days[day]) - took, 0.0), prepend=0.0)
        due -= took
    return days.ravel()
