"""The bounds of the radiative dew condenser: as simulated, and whatever its sizes."""

from __future__ import annotations

from welkinwell.constants import LIQUID_SPECIFIC_HEAT
from welkinwell.harvesters.bounds import SimulatedDevice, supplied_bounds
from welkinwell.harvesters.size_bounds import Ends, size_bound
from welkinwell.limits.bound import Bound


def bounds_of(device: SimulatedDevice) -> list[Bound]:
    """Bounds by the exergy that went in; it looks at the sky without taking the sun for its drive."""
    return supplied_bounds(device, skyward=True)


def size_bounds(ends: Ends) -> list[Bound]:
    """Heat that the sky takes, and that the sheet takes from warming air, over the latent heat."""
    store = ends.most("sheet_mass") * ends.most("sheet_specific_heat")
    store += ends.most("holdup") * LIQUID_SPECIFIC_HEAT
    place = ends.place
    return [
        size_bound(
            ends, "sky", "dew under this sky", (place.sky + ends.from_warming_air(store)) / place.latent,
            "heat that a surface at air temperature loses to the sky, and what the sheet's mass takes from "
            "warming air, over the latent heat",
            "Stefan and Boltzmann",
        )
    ]  # fmt: skip
