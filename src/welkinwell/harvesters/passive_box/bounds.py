"""The bounds of the passive solar box: as simulated, and whatever its sizes."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from welkinwell.harvesters.bounds import SimulatedDevice, by_day, least_release_heat, own_bound
from welkinwell.harvesters.size_bounds import Ends, Floats, effects_bound, glazed_box_heat, size_bound
from welkinwell.limits import solar_bounds as solar
from welkinwell.limits import supply_bounds as supply
from welkinwell.limits.bound import SINGLE_EFFECT, Bound
from welkinwell.moist_air import saturation_pressure
from welkinwell.quantities import plain

STILL_AIR: Final = 4.0  # W/(m2 K): free convection at 20 K on a plate tilted by 30 degrees, Walton1983


def bounds_of(device: SimulatedDevice) -> list[Bound]:
    """Bounds of its place that hold for it, then those of glass, sorbent, night air and bed."""
    design, year, days, binds = device.design, device.year, device.days, (device.kind,)
    sun = days["sun_on_plane"].values
    sky = days["sky_cooling"].values * _sky_share(design)
    absorbed = by_day(year["sun_absorber"].values + year["sun_glazing"].values) * 3600.0
    least_heat, lowest = least_release_heat(device)
    return [
        *device.of_the_place("reversible", "heat"),
        own_bound(
            *SINGLE_EFFECT, solar.sorption_water(sun + sky, least_heat),
            f"sun on the aperture, and what is lost to the sky, over the latent heat{lowest}",
            "first law", binds,
        ),
        own_bound(
            "absorbed", "one effect, sun behind this glass", solar.sorption_water(absorbed + sky, least_heat),
            f"sun that glass and absorber take up, and what is lost to the sky, over the latent heat{lowest}",
            "first law", binds,
        ),
        own_bound(
            "night_air", "what the night air lets through", _night_air(device),
            "boundary layer of all open faces, over a sorbent that leaves no vapour above it",
            "Chilton1934, Watmuff1977", binds,
        ),
        own_bound(
            "inventory", "what the sorbent can carry once a day", _bed_inventory(device),
            "dry sorbent times its loading in its dampest hour since noon before, less at its "
            "hottest; dew held",
            "water balance", binds,
        ),
    ]  # fmt: skip


def size_bounds(ends: Ends) -> list[Bound]:
    """One effect of the most sun, sky and warmth."""
    heat = glazed_box_heat(ends, "bed_metal_specific_heat")
    return [effects_bound(ends, _looks_up(ends), heat, 1)]


def carried_once(ends: Ends, mass: float) -> Bound | None:
    """Most with no more than a mass of dry sorbent [kg/m2]; None where it may cycle more often than daily.

    The mass times its loading in the air's dampest hour, the dew that its layers hold, and the dew under the
    sky on its condenser.
    """
    if ends.design.operation == "pressure":
        return None
    assert ends.sorbent is not None
    place = ends.place
    T = place.climate["temperature"].values
    humidity = np.minimum(place.climate["vapour_pressure"].values / saturation_pressure(T), 1.0)
    full = mass * float(np.max(ends.sorbent.loading(T, humidity)))
    held = ends.most("bed_holdup") * ends.most("bed_area")
    return size_bound(
        ends, "inventory", f"what {plain(mass)} kg/m2 of sorbent can carry once a day",
        full + held + _looks_up(ends) * place.sky / place.latent,
        "dry sorbent times its loading in the dampest hour, dew held by its layers and dew under the sky",
        "water balance",
    )  # fmt: skip


def _looks_up(ends: Ends) -> float:
    """Most area that the sky may cool, per aperture [1]."""
    glass = 0.0 if ends.design.front_gap_sealed else 1.0
    return glass + ends.most("condenser_outer_area") * ends.most("condenser_sky_view")


def _sky_share(design: Any) -> float:
    """Area of condenser, and of glass that vapour meets, that looks at the sky, per aperture."""
    glass = 0.0 if design.front_gap_sealed else 1.0
    return float(glass + design.condenser_outer_area * design.condenser_sky_view)


def _night_air(device: SimulatedDevice) -> Floats:
    """Vapour that crosses the boundary layers of the open box, by day [kg/m2]."""
    design, year = device.design, device.year
    T, vapour = year["temperature"].values, year["vapour_pressure"].values
    heat = design.wind_constant + design.wind_slope * year["wind_at_device"].values + STILL_AIR
    speed = supply.mass_transfer_coefficient(heat, T, vapour, float(year.attrs["mean_pressure"]))
    faces = design.bed_area * design.bed_effectiveness * design.open_faces + design.condenser_inner_area
    faces += 0.0 if design.front_gap_sealed else 1.0
    hourly = supply.boundary_layer(speed, T, vapour, 0.0, 3600.0, faces)
    if design.operation == "sun":
        # An hour with any opening in it counts whole
        shut = year["sun_on_plane"].values > 2.0 * design.close_above + 200.0
        hourly = np.where(shut, 0.0, hourly)
    return by_day(hourly)


def _bed_inventory(device: SimulatedDevice) -> Floats:
    """Largest swing of the bed from the outdoor air to its hottest, by day [kg/m2]."""
    design, sorbent, year = device.design, device.sorbent, device.year
    assert sorbent is not None
    T, vapour = year["temperature"].values, year["vapour_pressure"].values
    humidity = np.minimum(vapour / saturation_pressure(T), 1.0)
    if design.bed_open_emissivity * design.bed_sky_view > 0.0 or design.rain_catch > 0.0:
        humidity = np.ones_like(humidity)  # a bed colder than the air, or a wet one
    loadings = np.asarray(sorbent.loading(T, humidity)).reshape(-1, 24)
    full = np.hstack([np.roll(loadings, 1, axis=0)[:, 12:], loadings]).max(axis=1)
    hottest = float(year.attrs["highest_bed_temperature"])
    driest = saturation_pressure(float(T.min())) / saturation_pressure(hottest)
    empty = float(sorbent.loading(hottest, min(float(driest), 1.0)))
    # A bed that lags behind the air may be dewed in air that never reaches saturation
    films = design.bed_holdup * design.bed_area
    return np.asarray(supply.inventory(design.sorbent_mass, np.maximum(full - empty, 0.0)) + films)
