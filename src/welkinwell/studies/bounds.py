"""The bounds of a place and of one simulated harvester there, and how far the litres are from them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.climate.hourly import site_entry, weather_entry
from welkinwell.harvesters.bounds import SimulatedDevice
from welkinwell.harvesters.kinds import kinds_bound_by
from welkinwell.harvesters.size_bounds import Ends, Place, Ranged
from welkinwell.harvesters.study import study_of
from welkinwell.limits.bound import PLANE, Bound, running_minimum, tightest
from welkinwell.limits.day_bounds import (
    DayBounds,
    bounds_of_days,
    days_of,
    release_temperatures,
)
from welkinwell.limits.regeneration import least_release_temperature, weighted_potential
from welkinwell.quantities import litres_on
from welkinwell.site_weather import place_climate
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.runner import Progress
from welkinwell.year import DAYS_IN_MONTH, monthly

Floats = NDArray[np.float64]


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
    bounds = study_of(kind).bounds(SimulatedDevice(design, sorbent, year, days, given))
    by_month = monthly(year, "water_collected") / np.array(DAYS_IN_MONTH, dtype=np.float64)
    collected = float(year["water_collected"].values.sum() / year.attrs["days"])
    return HarvesterLimits(bounds, collected, by_month, kind, _least_release(year))


def bounds_of_any_size(
    design: Any,
    sorbent: Sorbent | None,
    place: Place,
    variables: Sequence[Ranged] = (),
    instead: Sorbent | None = None,
) -> list[Bound]:
    """List what no design of the kind passes at a place, whatever the variables are within their ranges.

    design: as declared, for its kind and for what is not varied; sorbent: its own; place: made with the same
    variables; variables: what is varied; instead: another sorbent that it holds, its bed as full. Returns
    bounds in L per m2 of basis area and day.
    """
    ends = Ends(design, sorbent, instead or sorbent, place, tuple(variables))
    return study_of(design.kind).size_bounds(ends)


def carried_once_a_day(
    design: Any,
    sorbent: Sorbent,
    place: Place,
    variables: Sequence[Ranged],
    mass: float,
    instead: Sorbent | None = None,
) -> Bound | None:
    """Most that a device gives with no more than a mass of sorbent; None for what may cycle more often.

    mass: dry [kg/m2]; the rest as in `bounds_of_any_size`.
    """
    carried = study_of(design.kind).carried_once
    if carried is None:
        return None
    return carried(Ends(design, sorbent, instead or sorbent, place, tuple(variables)), mass)


def ladder(limits: HarvesterLimits) -> list[tuple[str, float, float]]:
    """The bounds in order as (name, bound, bound or the lowest before it), in L per m2 and day."""
    lowest = running_minimum(bound.value for bound in limits.bounds)
    return [(b.name, b.value, low) for b, low in zip(limits.bounds, lowest, strict=True)]


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
