"""The bounds of the cooling coil: as simulated, and whatever its sizes."""

from __future__ import annotations

from welkinwell.harvesters.bounds import SimulatedDevice, by_day, own_bound, supplied_bounds
from welkinwell.harvesters.size_bounds import Ends, air_bound
from welkinwell.limits.bound import AIR_DRAWN, Bound


def bounds_of(device: SimulatedDevice) -> list[Bound]:
    """Bounds by the exergy that went in, and all vapour of the air drawn."""
    return [*supplied_bounds(device), _air_drawn(device)]


def size_bounds(ends: Ends) -> list[Bound]:
    """All vapour of the most air."""
    return [air_bound(ends, ends.most("face_velocity"))]


def _air_drawn(device: SimulatedDevice) -> Bound:
    """All vapour of the air that a coil draws while it runs, and of what drifts through it when it is off."""
    design, running = device.design, device.year["open_share"].values
    speed = design.face_velocity * (running + design.off_draught * (1.0 - running))
    return own_bound(
        *AIR_DRAWN, by_day(device.vapour_density() * speed * 3600.0),
        "air speed at the face through the hours run, times the vapour in it; the fins hold little more",
        "conservation of mass", (device.kind,),
    )  # fmt: skip
