"""What may be made easier for a harvester, one thing at a time, to see what holds its litres back.

Those of a kind stand in its `study`; here are the ones that kinds share, and why each limits, in words.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from welkinwell.harvesters.changes import Change, rate_times
from welkinwell.sorbents.sorbent import Sorbent


@dataclass(frozen=True)
class Easing:
    """One step made easier: its key, its name and how in words, and the change of design and sorbent."""

    key: str
    name: str
    how: str
    change: Change


def ample(design: Any, sorbent: Sorbent) -> tuple[Any, Sorbent]:
    """Take twice the bed in twice the layers, so that their thickness stays."""
    return replace(design, sorbent_mass=2.0 * design.sorbent_mass, bed_area=2.0 * design.bed_area), sorbent


AMPLE: Final = Easing("sorbent", "Amount of sorbent", "twice the sorbent in twice the layers", ample)
FASTER: Final = Easing(
    "kinetics", "Speed of the sorbent", "ten times the rate inside the grains", rate_times(10.0)
)
POWER_CUTS: Final = "power_cuts"  # relaxed for every kind that meets them
# Why a step limits, in words for people; kinds whose parts have other names stand below.
REASONS: Final = {
    POWER_CUTS: "there is no electricity in some of its hours",
    "sorbent_in_turn": "a turn of the wheel carries too little water",
    "cold": "too little cold is made",
    "fins": "the fins take too little from the air",
    "air_drawn": "too little air comes by",
    "rejection": "the heat does not get away",
    "frost": "frost stops the machine",
    "dry_air": "it is off while the air is dry",
    "sky": "the sheet loses too little heat to the sky",
    "wind": "the wind warms the sheet",
    "back": "heat comes through the insulation",
    "drying": "dew dries before it runs",
    "holdup": "drops stay on the surfaces",
    "sorbent": "the bed is full before the night ends or empty before the day does",
    "air": "too little vapour reaches the bed at night",
    "kinetics": "the grains take up and let go too slowly",
    "heat": "too little heat stays in the bed",
    "gap": "vapour reaches the condenser too slowly",
    "condenser": "the condenser is too warm",
    "exchange": "warm solution takes the still's heat to the tank",
    "power": "too little electricity tops the heat up, or it costs too much for a litre",
    "radiator": "the sky takes too little of the bed's and the condenser's heat",
    "losses": "water leaks out or stays on surfaces",
    "sorbent_in_cycle": "the bed is full before uptake ends or empty before release does",
    "air_blown": "too little air is blown through the bed",
    "turning": "the wheel turns so fast that it carries heat to and fro",
    "release_heat": "the bed gets too little heat in the time that it has",
    "release_air": "too little air carries vapour from bed to condenser",
}
