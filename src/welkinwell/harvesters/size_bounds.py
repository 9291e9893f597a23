"""Bounds of a kind at a place whatever sizes a search may take: what forbids a target before any search.

Each field that a search varies stands at the end of its range that allows most; all others stay as the design
has them. Nothing here simulates. docs/theory/limits.md, section 6, derives each bound. What a kind puts
together of them stands in its `bounds`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final, Protocol

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.constants import GAS_CONSTANT, LIQUID_SPECIFIC_HEAT, WATER_GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.harvesters.layer_density import layer_of
from welkinwell.limits.bound import AIR_DRAWN, SINGLE_EFFECT, Bound
from welkinwell.limits.day_bounds import PER_LITRE, DayBounds, days_of
from welkinwell.moist_air import latent_heat, saturation_pressure
from welkinwell.quantities import plain
from welkinwell.sorbents.potential import sorbed_state
from welkinwell.sorbents.sorbent import Sorbent

Floats = NDArray[np.float64]
TILT_STEP: Final = math.radians(10.0)
SECONDS: Final = 3600.0
DAY: Final = 86400.0  # s
GLASS: Final = 2500.0 * 840.0  # J/(m3 K) of soda-lime glass (value from memory)
COLDEST_BED: Final = 263.15  # K, from which states of release are looked at
STATES: Final = (40, 80)  # temperatures and potentials at which a sheet's heat of release is looked at
COLD_STEPS: Final = 12  # temperatures of the air between which that is looked up
LITTLE: Final = 0.01  # L/m2 a day, below which a part of a bound is not named


class Ranged(Protocol):
    """A field of a design, or a factor on its material, that varies from low to high in SI."""

    @property
    def key(self) -> str:
        """Name of the field or the factor."""
        ...

    @property
    def low(self) -> float:
        """Lowest value."""
        ...

    @property
    def high(self) -> float:
        """Highest value."""
        ...


@dataclass(frozen=True)
class Ends:
    """The most and the least that each field of a design may be, with one sorbent, at a place.

    own: the sorbent with which the design stands; sorbent: that of which the bounds speak.
    """

    design: Any
    own: Sorbent | None
    sorbent: Sorbent | None
    place: Place
    variables: tuple[Ranged, ...]

    def most(self, key: str) -> float:
        """Largest value of a field or of a factor on the material, the design's own among them."""
        own = float(getattr(self.design, key, 1.0))
        return max([own, *(one.high for one in self.variables if one.key == key)])

    def least(self, key: str) -> float:
        """Smallest value of a field or of a factor on the material, the design's own among them."""
        own = float(getattr(self.design, key, 1.0))
        return min([own, *(one.low for one in self.variables if one.key == key)])

    @property
    def bed_mass(self) -> float:
        """Most dry sorbent [kg/m2], what a wished capacity counts for not in it."""
        one, volume = self.sorbent, _bed_volume(self.design)
        if one is None or volume is None:
            return 0.0
        own = self.own.bulk_density if self.own is not None else one.bulk_density
        filled = max(self.design.sorbent_mass / (own * volume), 1.0)
        varied = {v.key for v in self.variables} & {"layer_thickness", "bed_area"}
        largest = _bed_volume(replace(self.design, **{key: self.most(key) for key in varied})) or volume
        mass = filled * one.bulk_density * largest
        return max(mass, self.most("sorbent_mass")) if one is self.own else mass

    @property
    def bed_heat(self) -> float:
        """Most heat capacity of the sorbent with the water of the year's dampest day [J/(m2 K)]."""
        if self.sorbent is None or self.bed_mass == 0.0:
            return 0.0
        loading = float(np.max(self.sorbent.loading(*self.place.dampest_day)))
        water = self.most("capacity") * loading * LIQUID_SPECIFIC_HEAT
        return self.bed_mass * (self.sorbent.dry_specific_heat + water)

    def from_warming_air(self, store: float) -> Floats:
        """Heat that masses take from warming air on each day [J/m2]; store: their capacity [J/(m2 K)]."""
        return np.minimum(store * self.place.rises, DayBounds.carried_heat)


class Place:
    """A weather year as the bounds see it: what its days offer on planes of several slopes."""

    def __init__(self, climate: xr.Dataset, design: Any, variables: Sequence[Ranged] = ()) -> None:
        self.climate, self._design = climate, design
        self._slopes: tuple[float, float] | None = None
        if hasattr(design, "tilt") and hasattr(design, "azimuth"):
            tilts = [design.tilt, *(x for v in variables if v.key == "tilt" for x in (v.low, v.high))]
            self._slopes = (min(tilts), max(tilts))

    @cached_property
    def days(self) -> xr.Dataset:
        """What the days offer, the sun left aside."""
        return days_of(self.climate, DayBounds())

    @cached_property
    def suns(self) -> list[Floats]:
        """Sun of each day on slopes across the range, as much as any slope between two may take [J/m2]."""
        if self._slopes is None:
            return [np.zeros(self.days.sizes["day"])]
        low, high = self._slopes
        azimuth = self._design.azimuth(math.radians(float(self.climate.attrs["latitude"])))
        slopes = np.linspace(low, high, 1 + math.ceil((high - low) / TILT_STEP))
        # between two slopes the sun is a constant and sines of the slope: at most this much above both
        between = 1.0 / math.cos(0.5 * (high - low) / max(slopes.size - 1, 1))
        planes = [DayBounds(tilt=float(slope), azimuth=azimuth) for slope in slopes]
        return [days_of(self.climate, plane)["sun_on_plane"].values * between for plane in planes]

    @cached_property
    def latent(self) -> Floats:
        """Latent heat at the warmest air of each day, the least [J/kg]."""
        return np.asarray(latent_heat(self.days["warmest"].values))

    @cached_property
    def sky(self) -> Floats:
        """Heat that a surface at air temperature loses to the sky on each day [J/m2]."""
        return np.asarray(self.days["sky_cooling"].values)

    @cached_property
    def rises(self) -> Floats:
        """Kelvins by which the air warms in each day, all rises added up [K]."""
        T = self.climate["temperature"].values
        return np.asarray(np.maximum(np.diff(T, append=T[:1]), 0.0).reshape(-1, 24).sum(axis=1))

    def saved_by(self, one: Sorbent) -> Floats:
        """What a kg of dry sorbent saves of the latent heat on each day, by its coldest air [kg/kg]."""
        coldest = np.asarray(self.days["coldest"].values)
        steps = np.linspace(coldest.min(), coldest.max(), COLD_STEPS)
        saved = saved_release_heat(one, np.asarray(saturation_pressure(steps)))
        # the colder end of a step allows more
        return np.asarray(saved[np.searchsorted(steps, coldest, side="right") - 1])

    @cached_property
    def dampest_day(self) -> tuple[Floats, Floats]:
        """Mean temperature [K] and humidity [1] of the year's dampest day."""
        T = self.climate["temperature"].values
        humidity = np.minimum(self.climate["vapour_pressure"].values / saturation_pressure(T), 1.0)
        by_day = humidity.reshape(-1, 24).mean(axis=1)
        day = int(np.argmax(by_day))
        return T.reshape(-1, 24).mean(axis=1)[day : day + 1], by_day[day : day + 1]


def saved_release_heat(one: Sorbent, pressures: Floats) -> Floats:
    """What a kg of dry sorbent saves of the latent heat when it gives off all that it holds once [kg/kg].

    The integral over the loading of how far the isosteric heat lies below the latent heat, at each loading at
    the temperature at which it lies lowest: crystals that dissolve pay for a part of the release. Only states
    whose vapour stands at a pressure or above it count: below, nothing condenses.
    one: the sorbent; pressures: shape (n,) [Pa]. Returns shape (n,) [kg/kg]. Looked at from 10 degC of frost
    to the service temperature, over the potentials that were measured.
    """
    low, high = one.potential_range
    potentials = np.linspace(low, high, STATES[1])[::-1]
    temperatures = np.linspace(COLDEST_BED, one.service_temperature, STATES[0])
    states = np.array([[sorbed_state(one.row, A, T)[:3] for A in potentials] for T in temperatures])
    q, q_A, q_T = np.moveaxis(states, 2, 0)
    T = temperatures[:, None]
    slope = np.divide(q_T, q_A, out=np.zeros_like(q), where=q_A != 0.0)
    latent = WATER_MOLAR_MASS * np.asarray(latent_heat(T))
    less = np.where(q_A != 0.0, np.maximum(-(potentials + T * slope) / latent, 0.0), 0.0)
    above = np.asarray(saturation_pressure(T)) * np.exp(-potentials / (GAS_CONSTANT * T))
    loadings = np.linspace(0.0, float(q.max()), 10 * STATES[1])
    found = []
    for pressure in pressures:
        counted = np.where(above >= pressure, less, 0.0)
        rows = [np.interp(loadings, x, y, left=0.0, right=0.0) for x, y in zip(q, counted, strict=True)]
        found.append(np.trapezoid(np.max(rows, axis=0), loadings))
    return np.array(found)


def effects_bound(ends: Ends, looks_up: float, store: float, effects: int, more: Any = 0.0) -> Bound:
    """Sun, sky and warming stores over the latent heat, as often as it is used; the best slope of all.

    looks_up: area that the sky may cool [1]; store: heat capacity [J/(m2 K)]; more: heat supplied [J/m2].
    """
    place, saved, lowest = ends.place, np.zeros(1), ""
    if ends.sorbent is not None:
        saved = ends.bed_mass * ends.most("capacity") * place.saved_by(ends.sorbent)
        if saved.mean() > LITTLE:
            given = f"{plain(saved.mean(), 2)} L that {ends.sorbent.name}"
            lowest = f", and {given} gives off with less heat than that"
    gain = 1.0 + (ends.most("concentration") - 1.0) * ends.most("reflector_reflectance")
    warmed = ends.from_warming_air(store)
    by_slope = [
        effects * ((gain * sun + more + warmed + looks_up * place.sky) / place.latent + saved)
        for sun in place.suns
    ]
    best = max(by_slope, key=lambda by_day: float(by_day.mean()))
    named, often = (SINGLE_EFFECT, "") if effects == 1 else (("several_effects", "two effects"), "twice the ")
    return size_bound(
        ends, *named, best,
        f"{often}sun on the best slope and heat supplied, what the sky takes, and what the masses take from "
        f"warming air, over the latent heat{lowest}",
        "first law",
    )  # fmt: skip


def air_bound(ends: Ends, speed: Any, into_loop: float = 0.0) -> Bound:
    """All vapour of the outdoor air, at all hours; speeds per basis area [m/s]."""
    climate = ends.place.climate
    T = climate["temperature"].values
    vapour = climate["vapour_pressure"].values / (WATER_GAS_CONSTANT * T)
    coldest = np.repeat(ends.place.days["coldest"].values, 24)
    # the velocity in the loop is at the condenser's temperature, never below the day's coldest air
    hourly = vapour * (speed + into_loop * T / coldest) * SECONDS
    return size_bound(
        ends, *AIR_DRAWN, hourly.reshape(-1, 24).sum(axis=1),
        "most air that may go through at all hours, times the vapour in it", "conservation of mass",
    )  # fmt: skip


def size_bound(ends: Ends, key: str, name: str, by_day: Floats, formula: str, source: str) -> Bound:
    """Make a bound of its value on each day, shape (days,) [L/m2]."""
    value = float(np.mean(by_day))
    return Bound(key, name, value, PER_LITRE, formula, source, (ends.design.kind,))


def glazed_box_heat(ends: Ends, metal: str) -> float:
    """Most heat capacity of a box with all that it holds; metal: field of its specific heat [J/(m2 K)]."""
    return (
        ends.bed_heat
        + ends.most("bed_metal") * ends.most(metal)
        + ends.most("condenser_mass") * ends.most("condenser_specific_heat")
        + ends.most("glazing_thickness") * GLASS
    )


def _bed_volume(design: Any) -> float | None:
    layer = layer_of(design)
    return None if layer is None else layer.volume
