"""The bounds of the hybrid: as simulated, and whatever its sizes."""

from __future__ import annotations

import numpy as np

from welkinwell.harvesters.bounds import SimulatedDevice, air_through, heat_once, supplied_bounds
from welkinwell.harvesters.size_bounds import DAY, GLASS, Ends, air_bound, effects_bound
from welkinwell.limits.bound import Bound


def bounds_of(device: SimulatedDevice) -> list[Bound]:
    """Bounds by the exergy that went in, one effect of all heat, and all vapour of the night air."""
    design, share = device.design, device.year["open_share"].values
    return [
        *supplied_bounds(device, skyward=True),
        heat_once(device, design.radiator_area),
        air_through(device, np.full_like(share, design.open_airflow), share),
    ]


def size_bounds(ends: Ends) -> list[Bound]:
    """All vapour of the most night air, and one effect of the most heat where no heat pump brings it back."""
    found = [air_bound(ends, ends.most("open_airflow"))]
    if ends.design.top_up == "heat_pump":
        return found  # it brings the heat of condensation back: no single effect
    store = ends.bed_heat + ends.most("bed_metal") * ends.most("bed_metal_specific_heat")
    store += ends.most("condenser_heat") + ends.most("radiator_area") * ends.most("radiator_heat")
    store += ends.most("glazing_thickness") * GLASS
    power = ends.most("top_up_power") if ends.design.top_up == "resistance" else 0.0
    return [*found, effects_bound(ends, 1.0 + ends.most("radiator_area"), store, 1, DAY * power)]
