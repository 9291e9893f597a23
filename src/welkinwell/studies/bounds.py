"""The bounds of a place and of one simulated harvester there, and how far the litres are from them."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.climate.hourly import site_entry, weather_entry
from welkinwell.constants import MOLAR_MASS_RATIO, WATER_GAS_CONSTANT
from welkinwell.harvesters.kinds import kinds_bound_by
from welkinwell.limits import solar_bounds as solar
from welkinwell.limits import supply_bounds as supply
from welkinwell.limits.bound import PLANE, Bound, running_minimum, tightest
from welkinwell.limits.day_bounds import (
    PER_LITRE,
    DayBounds,
    bounds_of_days,
    days_of,
    monthly_mean,
    release_temperatures,
)
from welkinwell.limits.regeneration import least_release_temperature, weighted_potential
from welkinwell.moist_air import humidity_ratio_from_pressure, latent_heat, saturation_pressure
from welkinwell.quantities import litres_on
from welkinwell.site_weather import place_climate
from welkinwell.sorbents.sorbent import Sorbent, lowest_heat_ratio
from welkinwell.studies.runner import Progress
from welkinwell.year import monthly

Floats = NDArray[np.float64]
STILL_AIR: Final = 4.0  # W/(m2 K): free convection at 20 K on a plate tilted by 30 degrees, Walton1983
BOX: Final = ("passive_box",)
SKYWARD: Final = (
    "dew_condenser",
    "hybrid",
)  # kinds that look at the sky without taking the sun for their drive


@dataclass(frozen=True)
class SiteLimits:
    """The bounds of a place: the weather, what each day offers, the bounds, and what they say in a sentence.

    release: least release temperature by month and condenser, shape (12, 3) [K].
    """

    climate: xr.Dataset
    given: DayBounds
    days: xr.Dataset
    bounds: list[Bound]
    release: Floats
    summary: dict[str, Any]
    headline: str


@dataclass(frozen=True)
class HarvesterLimits:
    """The bounds of one simulated harvester, loosest first, and its litres.

    collected: L per m2 and day, mean of the year; least_release_temperature: from the bed's own state while
    it takes up and the simulated condenser [K], nan where it takes up nothing.
    """

    bounds: list[Bound]
    collected: float
    by_month: Floats
    kind: str
    least_release_temperature: float

    @property
    def tightest(self) -> Bound | None:
        """The lowest bound that binds this kind."""
        return tightest(self.bounds, self.kind)

    @property
    def share(self) -> float:
        """Litres over the lowest bound [1]; nan without one."""
        lowest = self.tightest
        if lowest is None or not lowest.value > 0.0:
            return math.nan
        return self.collected / lowest.value

    def as_data(self) -> dict[str, Any]:
        """Give all of it as JSON-ready data."""
        lowest, release = self.tightest, self.least_release_temperature
        return {
            "bounds": [bound.as_data() for bound in self.bounds],
            "tightest": lowest.key if lowest else None,
            "share_of_tightest": self.share if math.isfinite(self.share) else None,
            "least_release_temperature_celsius": release - 273.15 if math.isfinite(release) else None,
        }


def limits_of_site(
    path: Path,
    given: DayBounds | None = None,
    progress: Progress | None = None,
    columns: Path | None = None,
) -> SiteLimits:
    """Read a weather file, or the site of a case, and find the bounds of its place.

    columns: TOML file or case that describes a plain table's columns, or a log that corrects the file.
    """
    tell = progress or (lambda what, share: None)
    given = given or DayBounds()
    tell("Reading the weather", 0.0)
    climate = place_climate(path, columns)
    tell("Bounds", 0.6)
    days = days_of(climate, given)
    bounds = bounds_of_days(days, given, kinds_bound_by)
    release = release_temperatures(days)
    tell("Done", 1.0)
    return SiteLimits(
        climate, given, days, bounds, release, _site_summary(climate, given, days, bounds, release),
        _site_headline(climate, bounds, days),
    )  # fmt: skip


def limits_of_harvester(
    design: Any, sorbent: Sorbent | None, year: xr.Dataset, climate: xr.Dataset
) -> HarvesterLimits:
    """Find the bounds of a simulated harvester: those of its place, and those of its own sizes.

    design: the declared design; sorbent: from its data sheet, or None; year: as simulated, kept by hours;
    climate: the weather it was simulated in. The bounds are per m2 of the kind's basis area.
    """
    kind = str(year.attrs["kind"])
    given = DayBounds(
        tilt=getattr(design, "tilt", DayBounds.tilt),
        azimuth=design.azimuth(math.radians(float(climate.attrs["latitude"])))
        if hasattr(design, "azimuth")
        else None,
        hot=DayBounds.hot if sorbent is None else sorbent.service_temperature,
    )
    days = days_of(climate, given)
    if (more := getattr(design, "concentration", 1.0)) > 1.0:
        # never more than this on the glass, whatever the hour
        gain = 1.0 + (more - 1.0) * design.reflector_reflectance
        days = days.assign(sun_on_plane=days["sun_on_plane"] * gain)
    if kind == "passive_box" and sorbent is not None:
        bounds = _box_bounds(design, sorbent, year, days, given)
    else:
        bounds = _supplied_bounds(year, days, given, kind)
    if kind == "cooling_coil":
        bounds.append(_air_drawn(design, year))
    if kind in ("liquid_desiccant", "hybrid"):
        bounds.append(_heat_once(design, year, days, kind))
    if kind == "hybrid" or (kind == "liquid_desiccant" and design.absorber != "tray"):
        bounds.append(_air_through(design, year, kind))
    if kind in ("active_bed", "desiccant_wheel"):
        bounds.append(_air_through_bed(design, year, kind))
    if kind == "two_stage_box" and sorbent is not None:
        bounds.append(_two_effects(design, sorbent, days, kind))
    by_month = monthly(year, "water_collected") / _month_days()
    collected = float(year["water_collected"].values.sum() / year.attrs["days"])
    return HarvesterLimits(bounds, collected, by_month, kind, _least_release(year))


def ladder(limits: HarvesterLimits) -> list[tuple[str, float, float]]:
    """The bounds in order as (name, bound, bound or the lowest before it), in L per m2 and day."""
    lowest = running_minimum(bound.value for bound in limits.bounds)
    return [(b.name, b.value, low) for b, low in zip(limits.bounds, lowest, strict=True)]


def _supplied_bounds(year: xr.Dataset, days: xr.Dataset, given: DayBounds, kind: str) -> list[Bound]:
    """Bounds of any other kind: the exergy that went in, as simulated, over the least work of the day."""
    exergy = days["swing_exergy"].values + _days(year["electricity"].values)
    for name, temperature in json.loads(year.attrs["supplied_heat"]).items():
        share = np.maximum(1.0 - days["coldest"].values / temperature, 0.0)
        exergy = exergy + share * _days(year[name].values)
    if year.attrs["takes_sun"] or kind in SKYWARD:
        exergy = exergy + days["sky_exergy"].values
    if year.attrs["takes_sun"]:
        exergy = exergy + solar.reversible_solar_water(
            days["sun_on_plane"].values, days["coldest"].values, 1.0
        )
    made = "exergy of the electricity, heat and sun that went in, of the swing of the air"
    made += " and of the cold sky" if year.attrs["takes_sun"] or kind in SKYWARD else ""
    found = [
        _own(
            "reversible", "reversible, first drop",
            solar.reversible_solar_water(0.0, given.hot, days["least_work"].values, exergy),
            f"{made}, over the least work of the day's best hour", "Petela1964, Kim2020", (kind,),
        ),
        _own(
            "reversible_at_recovery", f"reversible, {100 * given.recovery:.0f} % of the vapour taken",
            solar.reversible_solar_water(0.0, given.hot, days["least_work_at_recovery"].values, exergy),
            "the same over the least work of taking that share of the vapour", "Petela1964, Kim2020", (),
        ),
    ]  # fmt: skip
    return found + [
        b for b in bounds_of_days(days, given, kinds_bound_by) if b.key == "sky" and kind in b.binds
    ]


def _box_bounds(
    design: Any, sorbent: Sorbent, year: xr.Dataset, days: xr.Dataset, given: DayBounds
) -> list[Bound]:
    """Bounds of a passive box: those of its place that bind it, then glass, sorbent, night air and bed."""
    found = [
        bound for bound in bounds_of_days(days, given, kinds_bound_by) if bound.key in ("reversible", "heat")
    ]
    warm = days["warmest"].values
    sky = days["sky_cooling"].values * _sky_share(design)
    absorbed = (year["sun_absorber"].values + year["sun_glazing"].values).reshape(-1, 24).sum(axis=1) * 3600.0
    ratio = lowest_heat_ratio(sorbent)[0]
    least_heat = latent_heat(warm) * min(ratio, 1.0)
    once = solar.sorption_water(days["sun_on_plane"].values + sky, least_heat)
    taken = solar.sorption_water(absorbed + sky, least_heat)
    night = _night_air(design, year)
    bed = _bed_inventory(design, sorbent, year)
    lowest = "" if ratio >= 1.0 else f" times {ratio:.2f}, the lowest heat of release of the sorbent"
    found.append(
        _own(
            "single_effect", "one effect", once,
            f"sun on the aperture, and what is lost to the sky, over the latent heat{lowest}",
            "first law",
        )
    )  # fmt: skip
    found.append(
        _own(
            "absorbed", "one effect, sun behind this glass", taken,
            f"sun that glass and absorber take up, and what is lost to the sky, over the latent heat{lowest}",
            "first law",
        )
    )  # fmt: skip
    found.append(
        _own(
            "night_air", "what the night air lets through", night,
            "boundary layer of all open faces, over a sorbent that leaves no vapour above it",
            "Chilton1934, Watmuff1977",
        )
    )  # fmt: skip
    found.append(
        _own(
            "inventory", "what the sorbent can carry once a day", bed,
            "dry sorbent times its loading in its dampest hour since noon before, less at its "
            "hottest; dew held",
            "water balance",
        )
    )  # fmt: skip
    return found


def _air_drawn(design: Any, year: xr.Dataset) -> Bound:
    """All vapour of the air that a coil draws while it runs, and of what drifts through it when it is off."""
    vapour = year["vapour_pressure"].values / (WATER_GAS_CONSTANT * year["temperature"].values)
    running = year["open_share"].values
    speed = design.face_velocity * (running + design.off_draught * (1.0 - running))
    return _own(
        "air_drawn", "all vapour of the air drawn", _days(vapour * speed * 3600.0),
        "air speed at the face through the hours run, times the vapour in it; the fins hold little more",
        "conservation of mass", ("cooling_coil",),
    )  # fmt: skip


def _heat_once(design: Any, year: xr.Dataset, days: xr.Dataset, kind: str) -> Bound:
    """All heat that went in, over the latent heat: each of these devices evaporates its water once.

    Sun on the glass, heat and electricity as simulated, heat that a heat pump brings back from the condenser,
    and what the sky may take at air temperature from every surface that looks at it.
    """
    looks_up = design.radiator_area if kind == "hybrid" else design.absorber_sky_area
    heat = days["sun_on_plane"].values + (1.0 + looks_up) * days["sky_cooling"].values
    heat = heat + _days(year["electricity"].values)
    for name in json.loads(year.attrs["supplied_heat"]):
        heat = heat + _days(np.maximum(year[name].values, 0.0))
    if "heat_pumped" in year:
        heat = heat + _days(year["heat_pumped"].values * 3600.0)
    return _own(
        "single_effect", "one effect", heat / latent_heat(days["warmest"].values),
        "sun, heat and electricity that went in, heat pumped back and what the sky takes at air temperature,"
        " over the latent heat at the day's warmest air",
        "first law", (kind,),
    )  # fmt: skip


def _air_through(design: Any, year: xr.Dataset, kind: str) -> Bound:
    """All vapour of the air that goes through bed or absorber while it takes up."""
    vapour = year["vapour_pressure"].values / (WATER_GAS_CONSTANT * year["temperature"].values)
    share = year["open_share"].values
    if kind == "hybrid":
        flow = np.full_like(share, design.open_airflow)
    else:
        share = np.ones_like(share) if design.absorbs_by_day else share
        by_wind = design.wind_through * year["wind_at_device"].values * design.absorber_face
        flow = by_wind if design.absorber_air == "wind" else np.full_like(share, design.fan_flow)
    return _own(
        "air_drawn", "all vapour of the air drawn", _days(vapour * flow * share * 3600.0),
        "air through bed or absorber in the hours of uptake, times the vapour in it",
        "conservation of mass", (kind,),
    )  # fmt: skip


def _air_through_bed(design: Any, year: xr.Dataset, kind: str) -> Bound:
    """All vapour of the outdoor air that goes through a bed or wheel, and that leaks into its loop."""
    T, vapour = year["temperature"].values, year["vapour_pressure"].values
    ratio = humidity_ratio_from_pressure(vapour, float(year.attrs["mean_pressure"]))
    dry_air = vapour / (WATER_GAS_CONSTANT * T) * MOLAR_MASS_RATIO / ratio
    cold = np.minimum(T, year["condenser_temperature"].values)
    drawn = year["open_share"].values
    if kind == "desiccant_wheel":
        process, loop = design.process_share, 1.0 - design.process_share
        inward, around = process * design.face_velocity, loop * design.regeneration_velocity
        leaking, releasing = design.seal_leak, drawn
    else:
        inward, around = design.face_velocity, design.release_velocity
        leaking = 1.0 if design.air_loop == "open" else design.damper_leak
        # the dampers leak at all times, but in an open loop fresh air goes round in release alone
        releasing = np.ones_like(drawn)
    flow = dry_air * (inward * drawn + leaking * around * releasing * T / cold)
    return _own(
        "air_drawn", "all vapour of the air drawn", _days(flow * ratio * 3600.0),
        "outdoor air through the bed while it takes up, and into the loop of release, times the vapour in it",
        "conservation of mass", (kind,),
    )  # fmt: skip


def _two_effects(design: Any, sorbent: Sorbent, days: xr.Dataset, kind: str) -> Bound:
    """Sun and sky over the latent heat, twice: what condenses first heats the second bed."""
    sky = days["sky_cooling"].values * design.condenser_outer_area * design.condenser_sky_view
    ratio = lowest_heat_ratio(sorbent)[0]
    least_heat = latent_heat(days["warmest"].values) * min(ratio, 1.0)
    lowest = "" if ratio >= 1.0 else f" times {ratio:.2f}, the lowest heat of release of the sorbent"
    return _own(
        "several_effects", "two effects",
        2.0 * solar.sorption_water(days["sun_on_plane"].values + sky, least_heat),
        f"twice the sun on the aperture, and what is lost to the sky, over the latent heat{lowest}",
        "first law", (kind,),
    )  # fmt: skip


def _own(
    key: str, name: str, by_day: Floats, formula: str, source: str, binds: tuple[str, ...] = BOX
) -> Bound:
    months = tuple(float(value) for value in monthly_mean(by_day))
    return Bound(key, name, float(np.mean(by_day)), PER_LITRE, formula, source, binds, months)


def _sky_share(design: Any) -> float:
    """Area of condenser, and of glass that vapour meets, that looks at the sky, per aperture."""
    glass = 0.0 if design.front_gap_sealed else 1.0
    return float(glass + design.condenser_outer_area * design.condenser_sky_view)


def _night_air(design: Any, year: xr.Dataset) -> Floats:
    """Vapour that crosses the boundary layers of the open box, by day [kg/m2]."""
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
    return _days(hourly)


def _bed_inventory(design: Any, sorbent: Sorbent, year: xr.Dataset) -> Floats:
    """Largest swing of the bed from the outdoor air to its hottest, by day [kg/m2]."""
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


def _least_release(year: xr.Dataset) -> float:
    """Least release temperature from the bed's state at uptake and the simulated condenser [K]."""
    if "bed_temperature" not in year or "condenser_temperature" not in year:
        return math.nan
    uptake = year["air_to_bed"].values if "air_to_bed" in year else year["water_taken_up"].values
    potential = weighted_potential(year["bed_temperature"].values, year["bed_vapour_pressure"].values, uptake)
    water = np.maximum(year["condensation"].values if "condensation" in year else 0.0, 0.0)
    if not math.isfinite(potential) or not np.sum(water) > 0.0:
        return math.nan
    condenser = float((year["condenser_temperature"].values * water).sum() / water.sum())
    return float(least_release_temperature(potential, condenser))


def _days(hourly: Floats) -> Floats:
    return np.asarray(hourly).reshape(-1, 24).sum(axis=1)


def _month_days() -> Floats:
    from welkinwell.year import DAYS_IN_MONTH

    return np.array(DAYS_IN_MONTH, dtype=np.float64)


def _site_summary(
    climate: xr.Dataset, given: DayBounds, days: xr.Dataset, bounds: list[Bound], release: Floats
) -> dict[str, Any]:
    means = ("sun_on_plane", "sky_cooling", "sky_exergy", "swing_exergy")
    return {
        "schema_version": 1,
        "site": site_entry(climate),
        "weather": weather_entry(climate),
        "taken_as_given": {
            "tilt_deg": math.degrees(given.tilt),
            "hot_celsius": given.hot - 273.15,
            "recovery": given.recovery,
            "effects": given.effects,
            "cells": given.cells,
            "carried_heat_kwh_per_m2": given.carried_heat / 3.6e6,
            "sky_area": given.sky_area,
        },
        "kwh_per_m2_day": {name: float(days[name].mean()) / 3.6e6 for name in means},
        "bounds": [bound.as_data() for bound in bounds],
        "least_release_temperature_celsius": [
            [None if not math.isfinite(T) else float(T) - 273.15 for T in row] for row in release
        ],
    }


def _site_headline(climate: xr.Dataset, bounds: list[Bound], days: xr.Dataset) -> str:
    by_key = {bound.key: bound for bound in bounds}
    sun = float(days["sun_on_plane"].mean()) / 3.6e6
    once, shared = by_key["single_effect"], by_key["reversible_at_recovery"]
    share = 100.0 * float(days.attrs["recovery"])
    return (
        f"{climate.attrs['site']}: with {sun:.1f} kWh/m2 of sun a day, no device driven by sun, sky "
        f"and air alone that takes {share:.0f} % of the vapour from its air passes "
        f"{shared.value:.0f} {litres_on(PLANE)}, and none that uses the sun's heat "
        f"once passes {once.value:.1f}."
    )
