"""Where the heat and the water of a year went, as accounts that add up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import xarray as xr

from welkinwell.harvesters.harvester import Kind
from welkinwell.harvesters.kinds import harvester_of_year
from welkinwell.year import water_account

JOULES_PER_KWH: Final = 3.6e6
_SMALL: Final = 0.005  # share of the account below which an entry is put with the others


@dataclass(frozen=True)
class HeatAccount:
    """Heat into and out of one part through the year [kWh per m2 of basis area].

    entries: (in or out, name, amount), the largest first on each side; stored: what remains, the change of
    the stored heat.
    """

    entries: list[tuple[str, str, float]]
    stored: float

    @property
    def total_in(self) -> float:
        """All that came in [kWh/m2]."""
        return sum(amount for side, _, amount in self.entries if side == "in")


def heat_of(year: xr.Dataset, unknown: str) -> HeatAccount:
    """Account for the heat of the part whose temperature is named, from the flows that the balance knows.

    Each flow counts with the weight with which it enters the part's stock; vapour with the heat that it is
    booked with. Taking up and giving off are told apart hour by hour; other flows count net.
    """
    harvester = harvester_of_year(year.attrs)
    kind, words = harvester.kind, harvester.heat_words.get(unknown, {})
    entries: list[tuple[str, str, float]] = []
    for name, weight in _weights(kind, kind.shown_unknowns()[unknown]):
        hourly = year[name].values * weight * 3600.0 / JOULES_PER_KWH
        if name == "sorption":
            parts: tuple[float, ...] = (
                float(np.maximum(hourly, 0.0).sum()),
                float(np.minimum(hourly, 0.0).sum()),
            )
        else:
            parts = (float(hourly.sum()),)
        entries += [_entry(words.get(name, ("", "")), name, amount) for amount in parts if amount != 0.0]
    stored = sum(amount if side == "in" else -amount for side, _, amount in entries)
    return HeatAccount(_gathered(entries), stored)


def _weights(kind: Kind, rows: list[int]) -> list[tuple[str, float]]:
    """Every shown flow that touches a part's rows, and what one unit of it adds to them."""
    found = []
    for name, places in kind.shown_flows().items():
        flow = kind.flows[places[0]]
        weight = sum(carried for target, carried in flow.carries if target in rows)
        weight += (flow.end in rows) - (flow.start in rows)
        if weight != 0.0:
            found.append((name, float(weight)))
    return found


def _entry(words: tuple[str, str], name: str, amount: float) -> tuple[str, str, float]:
    """Put an amount on its side, with words for it."""
    into, out = words
    plain = name.replace("_", " ").capitalize()
    return ("in", into or plain, amount) if amount > 0.0 else ("out", out or plain, -amount)


def _gathered(entries: list[tuple[str, str, float]]) -> list[tuple[str, str, float]]:
    """Sort each side by size and put what is small together, so that nothing is left out."""
    gathered = []
    for side in ("in", "out"):
        ours = sorted((e for e in entries if e[0] == side), key=lambda e: -e[2])
        total = sum(amount for _, _, amount in ours)
        large = [e for e in ours if e[2] >= _SMALL * total]
        rest = sum(amount for _, _, amount in ours if amount < _SMALL * total)
        gathered += large + ([(side, f"Other ways {side}", rest)] if rest > 0.0 else [])
    return gathered


def sun_on_aperture(year: xr.Dataset) -> dict[str, float]:
    """Split the year's sun on the aperture: absorber, glass, and what is reflected or stopped by dust [kWh/m2]."""
    total, absorber, glazing = (
        float(year[name].values.sum()) * 3600.0 / JOULES_PER_KWH
        for name in ("sun_on_plane", "sun_absorber", "sun_glazing")
    )
    return {"total": total, "absorber": absorber, "glazing": glazing, "rest": total - absorber - glazing}


WATER_WORDS: Final = {
    "water_collected": "Collected in the gutter",
    "water_kept": "Still in the device at the year's end",
}


def water_ways(year: xr.Dataset) -> tuple[float, list[tuple[str, float]]]:
    """Give the water taken up and where it went [kg per m2 of basis area], the largest first; adds up."""
    account = water_account(year)
    taken = account.pop("water_taken_up")
    words = {**WATER_WORDS, **harvester_of_year(year.attrs).water_words}
    ways = [(words[name], amount) for name, amount in account.items()]
    return taken, sorted(ways, key=lambda way: -abs(way[1]))
