"""Where a tilted plane looks: the choices of every kind that has one, and the azimuth of each."""

from __future__ import annotations

import math
from typing import Final

FACINGS: Final = ("equator", "north", "east", "south", "west")
_AZIMUTHS: Final = {"north": 0.0, "east": 0.5 * math.pi, "south": math.pi, "west": 1.5 * math.pi}


def azimuth_of(facing: str, latitude: float) -> float:
    """Return the direction of a facing, clockwise from north [rad], at a latitude [rad]."""
    if facing == "equator":
        return math.pi if latitude >= 0.0 else 0.0
    return _AZIMUTHS[facing]
