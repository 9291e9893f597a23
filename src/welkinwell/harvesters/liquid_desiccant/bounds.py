"""The bounds of the liquid desiccant: as simulated, and whatever its sizes."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from welkinwell.constants import GRAVITY
from welkinwell.harvesters.bounds import SimulatedDevice, air_through, heat_once, supplied_bounds
from welkinwell.harvesters.size_bounds import DAY, GLASS, Ends, Floats, air_bound, effects_bound
from welkinwell.limits.bound import Bound
from welkinwell.transfer.plates import wind_at_height

BRINE: Final = 4.2e6  # J/(m3 K): water's, above that of any brine
COLDER: Final = 20.0  # K below the air that a still under the sky may be, more than any is; assumed


def bounds_of(device: SimulatedDevice) -> list[Bound]:
    """Bounds by the exergy that went in, one effect of all heat, and all vapour of the air blown through.

    No air is blown at a tray.
    """
    design, year = device.design, device.year
    found = [*supplied_bounds(device), heat_once(device, design.absorber_sky_area)]
    if design.absorber == "tray":
        return found
    share = year["open_share"].values
    share = np.ones_like(share) if design.absorbs_by_day else share
    by_wind = design.wind_through * year["wind_at_device"].values * design.absorber_face
    flow = by_wind if design.absorber_air == "wind" else np.full_like(share, design.fan_flow)
    return [*found, air_through(device, flow, share)]


def size_bounds(ends: Ends) -> list[Bound]:
    """One effect of the most heat, and all vapour of the most air where it is blown through."""
    heat = np.full(ends.place.rises.size, DAY * _pumping(ends))
    if ends.design.regenerator != "solar_still":
        coldest = ends.place.days["coldest"].values
        warmer = np.maximum(ends.most("heat_temperature") - coldest + COLDER, 0.0)
        heat = heat + DAY * ends.most("heat_conductance") * warmer
    store = ends.most("store_volume") * BRINE + ends.most("absorber_heat") + ends.most("still_heat")
    store += ends.most("condenser_heat") + ends.most("glazing_thickness") * GLASS
    found = [effects_bound(ends, 1.0 + ends.most("absorber_sky_area"), store, 1, heat)]
    if ends.design.absorber == "tray":
        return found
    return [*found, air_bound(ends, _most_air(ends))]


def _pumping(ends: Ends) -> float:
    """Most power of pumps and of a separate condenser [W/m2]."""
    from welkinwell.harvesters.liquid_desiccant.flows import night_flow

    fastest = replace(
        ends.design,
        **{key: ends.most(key) for key in ("wetting", "absorber_area", "packing_wetting")},
        **{key: ends.least(key) for key in ("plate_height", "packing_surface", "packing_depth")},
    )
    flow = ends.most("day_circulation") + night_flow(fastest)
    power = GRAVITY * ends.most("pump_head") * flow / ends.least("pump_efficiency")
    return power + (ends.most("condenser_power") if ends.design.condenser == "separate" else 0.0)


def _most_air(ends: Ends) -> Floats | float:
    """Most air through the absorber, by hour for wind [m3/(m2 s)]."""
    design, climate = ends.design, ends.place.climate
    if design.absorber_air != "wind":
        return ends.most("fan_flow")
    height = float(climate.attrs["wind_height"])
    to_device = wind_at_height(1.0, height, ends.most("device_height"), design.terrain)
    speed = climate["wind_speed"].values * to_device * ends.most("shelter") * ends.most("wind_through")
    return np.asarray(speed * ends.most("absorber_face"))
