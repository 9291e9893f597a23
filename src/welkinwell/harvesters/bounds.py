"""The bounds of a simulated device by what went into it, and what kinds make their own of."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.constants import MOLAR_MASS_RATIO, WATER_GAS_CONSTANT
from welkinwell.harvesters.kinds import kinds_bound_by
from welkinwell.limits import solar_bounds as solar
from welkinwell.limits.bound import AIR_DRAWN, SINGLE_EFFECT, Bound
from welkinwell.limits.day_bounds import PER_LITRE, DayBounds, bounds_of_days, monthly_mean
from welkinwell.moist_air import humidity_ratio_from_pressure, latent_heat
from welkinwell.sorbents.sorbent import Sorbent, lowest_heat_ratio

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class SimulatedDevice:
    """A simulated device as its bounds need it.

    design: as declared; sorbent: from its data sheet, or None; year: as simulated, kept by hours; days,
    given: what the days of its place offer on its plane, see `limits.day_bounds.days_of`.
    """

    design: Any
    sorbent: Sorbent | None
    year: xr.Dataset
    days: xr.Dataset
    given: DayBounds

    @property
    def kind(self) -> str:
        """Name of the kind."""
        return str(self.design.kind)

    def of_the_place(self, *keys: str) -> list[Bound]:
        """List bounds of the place by their keys, whether they hold for the kind or stand for comparison."""
        bounds = bounds_of_days(self.days, self.given, kinds_bound_by)
        return [bound for bound in bounds if bound.key in keys]

    def vapour_density(self) -> Floats:
        """Vapour in the outdoor air in each hour [kg/m3]."""
        vapour = self.year["vapour_pressure"].values
        return np.asarray(vapour / (WATER_GAS_CONSTANT * self.year["temperature"].values))


def supplied_bounds(device: SimulatedDevice, skyward: bool = False) -> list[Bound]:
    """List bounds by the exergy that went in, as simulated, over the least work of the day.

    skyward: whether it looks at the sky without taking the sun for its drive.
    """
    year, days, given, kind = device.year, device.days, device.given, device.kind
    exergy = days["swing_exergy"].values + by_day(year["electricity"].values)
    for name, temperature in json.loads(year.attrs["supplied_heat"]).items():
        share = np.maximum(1.0 - days["coldest"].values / temperature, 0.0)
        exergy = exergy + share * by_day(year[name].values)
    under_sky = year.attrs["takes_sun"] or skyward
    if under_sky:
        exergy = exergy + days["sky_exergy"].values
    if year.attrs["takes_sun"]:
        sun, coldest = days["sun_on_plane"].values, days["coldest"].values
        exergy = exergy + solar.reversible_solar_water(sun, coldest, 1.0)
    made = "exergy of the electricity, heat and sun that went in, of the swing of the air"
    made += " and of the cold sky" if under_sky else ""
    first, shared = (
        solar.reversible_solar_water(0.0, given.hot, days[work].values, exergy)
        for work in ("least_work", "least_work_at_recovery")
    )
    return [
        own_bound(
            "reversible", "reversible, first drop", first,
            f"{made}, over the least work of the day's best hour", "Petela1964, Kim2020", (kind,),
        ),
        own_bound(
            "reversible_at_recovery", f"reversible, {100 * given.recovery:.0f} % of the vapour taken", shared,
            "the same over the least work of taking that share of the vapour", "Petela1964, Kim2020", (),
        ),
        *(bound for bound in device.of_the_place("sky") if device.kind in bound.binds),
    ]  # fmt: skip


def heat_once(device: SimulatedDevice, looks_up: float) -> Bound:
    """All heat that went in, over the latent heat: of a device that evaporates its water once.

    Sun on the glass, heat and electricity as simulated, heat that a heat pump brings back from the condenser,
    and what the sky may take at air temperature from every surface that looks at it. looks_up: area of those
    beside the glass, per basis area [1].
    """
    year, days = device.year, device.days
    heat = days["sun_on_plane"].values + (1.0 + looks_up) * days["sky_cooling"].values
    heat = heat + by_day(year["electricity"].values)
    for name in json.loads(year.attrs["supplied_heat"]):
        heat = heat + by_day(np.maximum(year[name].values, 0.0))
    if "heat_pumped" in year:
        heat = heat + by_day(year["heat_pumped"].values * 3600.0)
    return own_bound(
        *SINGLE_EFFECT, heat / latent_heat(days["warmest"].values),
        "sun, heat and electricity that went in, heat pumped back and what the sky takes at air temperature,"
        " over the latent heat at the day's warmest air",
        "first law", (device.kind,),
    )  # fmt: skip


def air_through(device: SimulatedDevice, flow: Floats, share: Floats) -> Bound:
    """All vapour of the air that goes through bed or absorber while it takes up.

    flow: per basis area in each hour [m3/(m2 s)]; share: of each hour in which it takes up [1].
    """
    return own_bound(
        *AIR_DRAWN, by_day(device.vapour_density() * flow * share * 3600.0),
        "air through bed or absorber in the hours of uptake, times the vapour in it",
        "conservation of mass", (device.kind,),
    )  # fmt: skip


def air_through_bed(device: SimulatedDevice, inward: float, into_loop: float, releasing: Floats) -> Bound:
    """All vapour of the outdoor air that goes through a bed or wheel, and that leaks into its loop.

    inward: velocity of the outdoor air, into_loop: of that which comes into the loop, as warm as the
    condenser, per basis area [m/s]; releasing: share of each hour in which it comes in [1].
    """
    year = device.year
    T, vapour = year["temperature"].values, year["vapour_pressure"].values
    ratio = humidity_ratio_from_pressure(vapour, float(year.attrs["mean_pressure"]))
    dry_air = device.vapour_density() * MOLAR_MASS_RATIO / ratio
    cold = np.minimum(T, year["condenser_temperature"].values)
    flow = dry_air * (inward * year["open_share"].values + into_loop * releasing * T / cold)
    return own_bound(
        *AIR_DRAWN, by_day(flow * ratio * 3600.0),
        "outdoor air through the bed while it takes up, and into the loop of release, times the vapour in it",
        "conservation of mass", (device.kind,),
    )  # fmt: skip


def least_release_heat(device: SimulatedDevice) -> tuple[Floats, str]:
    """Heat that a kg of water takes from the sorbent on each day, at the least [J/kg], and words for it."""
    assert device.sorbent is not None
    ratio = lowest_heat_ratio(device.sorbent)[0]
    least = np.asarray(latent_heat(device.days["warmest"].values) * min(ratio, 1.0))
    return least, "" if ratio >= 1.0 else f" times {ratio:.2f}, the lowest heat of release of the sorbent"


def own_bound(key: str, name: str, daily: Floats, formula: str, source: str, binds: tuple[str, ...]) -> Bound:
    """Make a bound of its value on each day, shape (days,) [L/m2]."""
    months = tuple(float(value) for value in monthly_mean(daily))
    return Bound(key, name, float(np.mean(daily)), PER_LITRE, formula, source, binds, months)


def by_day(hourly: Any) -> Floats:
    """Sum hourly values by day, shape (days,)."""
    return np.asarray(np.asarray(hourly).reshape(-1, 24).sum(axis=1))
