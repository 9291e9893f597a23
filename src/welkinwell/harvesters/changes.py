"""Changes of a design, its sorbent or its weather that studies make.

Each returns a changed copy or changes the surroundings' nodes in place; nothing multiplies litres.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from welkinwell.harvesters.air import SUN_ABSORBER, SUN_GLAZING, SUN_PLANE, TEMPERATURE, VAPOUR_PRESSURE, WIND
from welkinwell.moist_air import saturation_pressure

Floats = NDArray[np.float64]
Change = Callable[[Any, Any], tuple[Any, Any]]  # of a design and its sorbent
SizedChange = Callable[[Any, Any, float], tuple[Any, Any]]  # of both, by a value


def set_fields(**values: Any) -> Change:
    """Give fields of the design new values."""

    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        return replace(design, **values), sorbent

    return change


def scale_fields(**factors: float) -> Change:
    """Scale fields of the design."""

    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        values = {name: getattr(design, name) * factor for name, factor in factors.items()}
        return replace(design, **values), sorbent

    return change


def both(first: Change, second: Change) -> Change:
    """Make one change after another."""

    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        return second(*first(design, sorbent))

    return change


def rate_times(factor: float) -> Change:
    """Scale the rate of the sorbent by one factor."""

    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        return other_rate(design, sorbent, factor)

    return change


def other_fields(*names: str, most: float | None = None) -> SizedChange:
    """Scale fields of the design alike by a value; most: what none of them can pass."""

    def change(design: Any, sorbent: Any, factor: float) -> tuple[Any, Any]:
        moved = {name: getattr(design, name) * factor for name in names}
        if most is not None:
            moved = {name: min(value, most) for name, value in moved.items()}
        return replace(design, **moved), sorbent

    return change


def other_loading(design: Any, sorbent: Any, factor: float) -> tuple[Any, Any]:
    """Scale what the sorbent holds: as more of it, with less heat capacity each, on the same solid.

    Its densities grow with the mass that stands for it, so that the layer is as full as before.
    """
    solid = sorbent.skeletal_density
    return (
        replace(design, sorbent_mass=design.sorbent_mass * factor),
        replace(
            sorbent,
            dry_specific_heat=sorbent.dry_specific_heat / factor,
            bulk_density=sorbent.bulk_density * factor,
            grain_density=sorbent.grain_density * factor,
            skeletal_density=None if solid is None else solid * factor,
        ),
    )


def other_rate(design: Any, sorbent: Any, factor: float) -> tuple[Any, Any]:
    """Scale the rate of the sorbent."""
    return design, replace(sorbent, row=sorbent.adjusted_row(rate_factor=factor))


def other_sun(nodes: Floats, factor: float) -> None:
    """Scale the sun on plane, absorber and cover."""
    nodes[:, [SUN_ABSORBER, SUN_GLAZING, SUN_PLANE]] *= factor


def other_dust(nodes: Floats, before: Any, after: Any) -> None:
    """Change the sun behind the cover with the dust on it, from a design's to another's."""
    nodes[:, SUN_ABSORBER] *= (1.0 - after.soiling) / (1.0 - before.soiling)


def other_humidity(nodes: Floats, factor: float) -> None:
    """Scale the vapour pressure, up to saturation."""
    before = nodes[:, VAPOUR_PRESSURE]
    # a file's own air may stand a little above saturation between its instants, and stays there
    most = np.maximum(saturation_pressure(nodes[:, TEMPERATURE]), before)
    nodes[:, VAPOUR_PRESSURE] = np.minimum(before * factor, most)


def other_warmth(nodes: Floats, shift: float) -> None:
    """Shift the air's temperature; its vapour stays, up to saturation."""
    over = np.maximum(nodes[:, VAPOUR_PRESSURE] / saturation_pressure(nodes[:, TEMPERATURE]), 1.0)
    nodes[:, TEMPERATURE] += shift
    most = over * saturation_pressure(nodes[:, TEMPERATURE])
    nodes[:, VAPOUR_PRESSURE] = np.minimum(nodes[:, VAPOUR_PRESSURE], most)


def other_wind(nodes: Floats, factor: float) -> None:
    """Scale the wind at the device."""
    nodes[:, WIND] *= factor
