"""The bounds of the two-stage solar box: as simulated, and whatever its sizes."""

from __future__ import annotations

from welkinwell.harvesters.bounds import SimulatedDevice, least_release_heat, own_bound, supplied_bounds
from welkinwell.harvesters.size_bounds import Ends, effects_bound, glazed_box_heat
from welkinwell.limits import solar_bounds as solar
from welkinwell.limits.bound import Bound


def bounds_of(device: SimulatedDevice) -> list[Bound]:
    """Bounds by the exergy that went in, and two effects of sun and sky."""
    return [*supplied_bounds(device), _two_effects(device)]


def size_bounds(ends: Ends) -> list[Bound]:
    """Two effects of the most sun, sky and warmth."""
    looks_up = ends.most("condenser_outer_area") * ends.most("condenser_sky_view")
    heat = glazed_box_heat(ends, "metal_specific_heat")
    heat += ends.most("plate_metal") * ends.most("metal_specific_heat")
    return [effects_bound(ends, looks_up, heat, 2)]


def _two_effects(device: SimulatedDevice) -> Bound:
    """Sun and sky over the latent heat, twice: what condenses first heats the second bed."""
    design, days = device.design, device.days
    sky = days["sky_cooling"].values * design.condenser_outer_area * design.condenser_sky_view
    least_heat, lowest = least_release_heat(device)
    return own_bound(
        "several_effects", "two effects",
        2.0 * solar.sorption_water(days["sun_on_plane"].values + sky, least_heat),
        f"twice the sun on the aperture, and what is lost to the sky, over the latent heat{lowest}",
        "first law", (device.kind,),
    )  # fmt: skip
