"""Where the heat and the water of a year went, as accounts that add up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import xarray as xr

from welkinwell.harvesters.harvester import Kind
from welkinwell.harvesters.passive_box_flows import PASSIVE_BOX
from welkinwell.year import water_account

JOULES_PER_KWH: Final = 3.6e6
_KINDS: Final = {PASSIVE_BOX.name: PASSIVE_BOX}
_SMALL: Final = 0.005  # share of the account below which an entry is put with the others

# Words for a way of heat into a part and out of it: most ways run in both directions through a year.
_WORDS: Final = {
    "bed_temperature": {
        "sun_absorber": ("Sun that the absorber takes", ""),
        "sorption": ("Heat of the vapour taken up", "Giving off vapour"),
        "cover_radiation": ("From the glass by radiation", "To the glass by radiation"),
        "cover_convection": ("From the glass through the air", "To the glass through the air"),
        "rear_radiation": ("From the condenser by radiation", "To the condenser by radiation"),
        "rear_convection": ("From the condenser through the air", "To the condenser through the air"),
        "edge_loss": ("Through edges and back", "Through edges and back"),
        "bed_convection": ("From the outdoor air while open", "To the outdoor air while open"),
        "bed_longwave": ("From the sky while open", "To the sky while open"),
        "leak_heat_bed": ("With air that leaks and vents", "With air that leaks and vents"),
    },
    "condenser_temperature": {
        "sun_condenser": ("Stray sun", ""),
        "condensation": ("Heat of the vapour condensed", "Evaporating water again"),
        "rear_radiation": ("From the bed by radiation", "To the bed by radiation"),
        "rear_convection": ("From the bed through the air", "To the bed through the air"),
        "condenser_convection": ("From the outdoor air", "To the outdoor air by convection"),
        "condenser_longwave": ("From sky and ground", "To sky and ground by radiation"),
        "leak_heat_condenser": ("With air that leaks and vents", "With air that leaks and vents"),
        "air_vapour_to_condenser": ("Dew from the open air", "Drying in the open air"),
        "collected_heat": ("In the water collected", "In the water collected"),
    },
}


@dataclass(frozen=True)
class HeatAccount:
    """Heat into and out of one part through the year [kWh per m2 of aperture].

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
    kind = _KINDS[year.attrs["kind"]]
    row = next(i for i, entry in enumerate(kind.unknowns) if entry.name == unknown)
    entries: list[tuple[str, str, float]] = []
    for name, weight in _weights(kind, row):
        hourly = year[name].values * weight * 3600.0 / JOULES_PER_KWH
        if name == "sorption":
            parts: tuple[float, ...] = (
                float(np.maximum(hourly, 0.0).sum()),
                float(np.minimum(hourly, 0.0).sum()),
            )
        else:
            parts = (float(hourly.sum()),)
        entries += [_entry(unknown, name, amount) for amount in parts if amount != 0.0]
    stored = sum(amount if side == "in" else -amount for side, _, amount in entries)
    return HeatAccount(_gathered(entries), stored)


def _weights(kind: Kind, row: int) -> list[tuple[str, float]]:
    """Every flow that touches a row, and what one unit of it adds to the row."""
    found = []
    for flow in kind.flows:
        weight = sum(carried for target, carried in flow.carries if target == row)
        weight += (flow.end == row) - (flow.start == row)
        if weight != 0.0:
            found.append((flow.name, float(weight)))
    return found


def _entry(unknown: str, name: str, amount: float) -> tuple[str, str, float]:
    """Put an amount on its side, with words for it."""
    into, out = _WORDS.get(unknown, {}).get(name, ("", ""))
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
    "water_leaked": "Leaked as vapour while closed",
    "water_vented": "Lost through the over-temperature vent",
    "water_released_open": "Given back to the open air",
    "water_run_off": "Dripped to the ground",
    "water_kept": "Still in the device at the year's end",
}


def water_ways(year: xr.Dataset) -> tuple[float, list[tuple[str, float]]]:
    """Give the water taken up and where it went [kg per m2 of aperture], the largest first; adds up."""
    account = water_account(year)
    taken = account.pop("water_taken_up")
    ways = [(WATER_WORDS[name], amount) for name, amount in account.items()]
    return taken, sorted(ways, key=lambda way: -abs(way[1]))
