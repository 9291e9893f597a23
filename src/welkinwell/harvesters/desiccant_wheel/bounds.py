"""The bounds of the desiccant wheel: as simulated, and whatever its sizes."""

from __future__ import annotations

from welkinwell.harvesters.bounds import SimulatedDevice, air_through_bed, supplied_bounds
from welkinwell.harvesters.size_bounds import Ends, air_bound
from welkinwell.limits.bound import Bound


def bounds_of(device: SimulatedDevice) -> list[Bound]:
    """Bounds by the exergy that went in, and all vapour of the air through the wheel and past its seals."""
    design = device.design
    process, loop = design.process_share, 1.0 - design.process_share
    inward, around = process * design.face_velocity, loop * design.regeneration_velocity
    turning = device.year["open_share"].values
    return [*supplied_bounds(device), air_through_bed(device, inward, design.seal_leak * around, turning)]


def size_bounds(ends: Ends) -> list[Bound]:
    """All vapour of the most air."""
    inward = ends.most("process_share") * ends.most("face_velocity")
    loop = (1.0 - ends.least("process_share")) * ends.most("regeneration_velocity")
    return [air_bound(ends, inward, ends.most("seal_leak") * loop)]
