"""The bounds of the active bed: as simulated, and whatever its sizes."""

from __future__ import annotations

import numpy as np

from welkinwell.harvesters.bounds import SimulatedDevice, air_through_bed, supplied_bounds
from welkinwell.harvesters.size_bounds import Ends, air_bound
from welkinwell.limits.bound import Bound


def bounds_of(device: SimulatedDevice) -> list[Bound]:
    """Bounds by the exergy that went in, and all vapour of the air to the bed and into the loop."""
    design = device.design
    leaking = 1.0 if design.air_loop == "open" else design.damper_leak
    # the dampers leak at all times, but in an open loop fresh air goes round in release alone
    releasing = np.ones_like(device.year["open_share"].values)
    inward, into_loop = design.face_velocity, leaking * design.release_velocity
    return [*supplied_bounds(device), air_through_bed(device, inward, into_loop, releasing)]


def size_bounds(ends: Ends) -> list[Bound]:
    """All vapour of the most air."""
    leak = 1.0 if ends.design.air_loop == "open" else ends.most("damper_leak")
    return [air_bound(ends, ends.most("face_velocity"), leak * ends.most("release_velocity"))]
