"""Which sorbent suits a site: every data sheet in the same box, simulated at several masses.

Each sheet is marched through the site's year at a ladder of masses on the same layer area, so that the
thickness follows from the mass and the sheet's bulk density. A sheet is shown at its own best mass, at equal
mass and at equal bed volume, with what its bed reached at night and kept by day, and why it loses.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.constants import GAS_CONSTANT
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.passive_box import PassiveBox
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulate import simulate
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.runner import run_all
from welkinwell.year import figures, monthly

MASSES: Final = (0.5, 1.0, 2.0, 4.0, 8.0, 16.0)  # kg of dry sorbent per m2 of aperture
EQUAL_MASS: Final = 4.0  # kg/m2
EQUAL_VOLUME: Final = 0.008  # m3 of bed per m2 of aperture: 2 mm on 4 m2
GOOD_ENOUGH: Final = 0.9  # of the best sheet's litres: no reason to lose
REASONS: Final = {
    "best": "gives the most here",
    "close": "close to the best",
    "never fills": "the night air is too dry for it: it takes up little of what it could hold",
    "never empties": "the day is not hot enough for it: most of what it holds stays",
    "too slow": "it takes up and lets go too slowly for one night and one day",
    "dissolves": "humid nights carry it beyond the humidity at which brine leaves it",
    "too hot": "by day it gets hotter than it stands",
    "holds little": "it swings fully but holds too little in this box",
}


@dataclass(frozen=True)
class Rung:
    """One sheet at one mass: litres and heat for a m2 of aperture, and what its bed did."""

    mass: float  # kg/m2
    thickness: float  # m
    litres_per_m2_day: float
    litres_by_month: NDArray[np.float64]  # L/m2 in each month
    heat_kwh_per_litre: float | None
    swing: float  # kg/kg, mean daily
    hottest: float  # K


@dataclass(frozen=True)
class Ranked:
    """One sheet at a site."""

    sorbent: Sorbent
    rungs: tuple[Rung, ...]
    best: Rung
    litres_at_equal_mass: float  # L/(m2 day)
    litres_at_equal_volume: float
    night: tuple[float, float]  # K, Pa: mean of the bed when a day finds it fullest
    day: tuple[float, float]  # K, Pa: mean of the bed when a day leaves it emptiest
    night_loading: float  # kg/kg, mean of each day's highest loading
    day_loading: float  # kg/kg, mean of each day's lowest
    release_temperature: float  # K at which the best rung's condenser could take its last tenth of swing
    reason: str
    words: str


def rank(
    sorbents: Sequence[Sorbent],
    site: Surroundings,
    design: PassiveBox | None = None,
    masses: Sequence[float] = MASSES,
    progress: Callable[[float], None] | None = None,
) -> list[Ranked]:
    """Rank sorbents by the water that they would deliver in the same box at a site, best first.

    design: the box, its mass and thickness aside; masses [kg/m2], at least two.
    """
    base = design or PassiveBox()
    tasks = [(sorbent, mass) for sorbent in sorbents for mass in masses]

    def run(task: tuple[Sorbent, float]) -> tuple[Rung, xr.Dataset]:
        return _rung(task[0], task[1], base, site)

    results = run_all(run, tasks, progress=progress)
    found = []
    for number, sorbent in enumerate(sorbents):
        own = results[number * len(masses) : (number + 1) * len(masses)]
        found.append(_ranked(sorbent, [rung for rung, _ in own], base, site))
    top = max((entry.best.litres_per_m2_day for entry in found), default=0.0)
    found = [_with_reason(entry, top) for entry in found]
    return sorted(found, key=lambda entry: -entry.best.litres_per_m2_day)


def _rung(sorbent: Sorbent, mass: float, base: PassiveBox, site: Surroundings) -> tuple[Rung, xr.Dataset]:
    thickness = mass / (sorbent.bulk_density * base.bed_area)
    design = replace(base, sorbent_mass=mass, layer_thickness=thickness)
    year = simulate(design, sorbent, site, keep="months", accuracy="screening", audit=False)
    numbers = figures(year)
    taken = float(year["water_taken_up"].sum())
    rung = Rung(
        mass=mass,
        thickness=thickness,
        litres_per_m2_day=numbers["litres_per_m2_day"],
        litres_by_month=monthly(year, "water_collected"),
        heat_kwh_per_litre=numbers["heat_kwh_per_litre"],
        swing=taken / mass / year.attrs["days"],
        hottest=year.attrs["highest_bed_temperature"],
    )
    return rung, year


def _ranked(sorbent: Sorbent, rungs: list[Rung], base: PassiveBox, site: Surroundings) -> Ranked:
    """Put the rungs together, and look at the best one hour by hour."""
    best = max(rungs, key=lambda rung: rung.litres_per_m2_day)
    design = replace(base, sorbent_mass=best.mass, layer_thickness=best.thickness)
    year = simulate(design, sorbent, site, keep="hours", accuracy="screening", audit=False)
    night, night_loading = _working_point(year, np.argmax)
    day, day_loading = _working_point(year, np.argmin)
    masses = np.array([rung.mass for rung in rungs])
    litres = np.array([rung.litres_per_m2_day for rung in rungs])
    volume_mass = EQUAL_VOLUME * sorbent.bulk_density
    return Ranked(
        sorbent=sorbent,
        rungs=tuple(rungs),
        best=best,
        litres_at_equal_mass=_between(masses, litres, EQUAL_MASS),
        litres_at_equal_volume=_between(masses, litres, volume_mass),
        night=night,
        day=day,
        night_loading=night_loading,
        day_loading=day_loading,
        release_temperature=_release_temperature(sorbent, year, night),
        reason="",
        words="",
    )


def _working_point(year: xr.Dataset, extreme: Callable[..., Any]) -> tuple[tuple[float, float], float]:
    """Mean bed temperature [K] and pressure [Pa] at each day's extreme of the loading, and that loading."""
    loading = year["loading"].values.reshape(-1, 24)
    at = extreme(loading, axis=1)
    days = np.arange(at.size)
    T = year["bed_temperature"].values.reshape(-1, 24)[days, at]
    p = year["bed_vapour_pressure"].values.reshape(-1, 24)[days, at]
    return (float(T.mean()), float(p.mean())), float(loading[days, at].mean())


def _loading(sorbent: Sorbent, T: float, p: float) -> float:
    return float(sorbent.loading(T, min(p / float(saturation_pressure(T)), 1.0)))


def _release_temperature(sorbent: Sorbent, year: xr.Dataset, night: tuple[float, float]) -> float:
    """Bed temperature at which nine tenths of the night's loading has gone to the year's condenser [K]."""
    water = np.maximum(year["condensation"].values, 0.0)
    if water.sum() <= 0.0:
        return float("nan")
    condenser = float((year["condenser_temperature"].values * water).sum() / water.sum())
    p = float(saturation_pressure(condenser))
    goal = 0.1 * _loading(sorbent, *night)
    low, high = condenser, 600.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if _loading(sorbent, middle, p) > goal:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _between(masses: NDArray[np.float64], litres: NDArray[np.float64], mass: float) -> float:
    """Litres at a mass between the rungs, on a monotone curve in log mass; the ends are held."""
    from scipy.interpolate import PchipInterpolator

    return float(PchipInterpolator(np.log(masses), litres)(np.log(np.clip(mass, masses[0], masses[-1]))))


def _with_reason(entry: Ranked, top: float) -> Ranked:
    """Say why a sheet does not give the most."""
    best = entry.best
    sorbent = entry.sorbent
    T_night, p_night = entry.night
    humidity = p_night / float(saturation_pressure(T_night))
    full = _loading(sorbent, T_night, 0.95 * float(saturation_pressure(T_night)))
    if best.litres_per_m2_day >= top:
        reason = "best"
    elif best.hottest > sorbent.service_temperature + 3.0:
        reason = "too hot"
    elif sorbent.leak_humidity < 1.0 and humidity > sorbent.leak_humidity:
        reason = "dissolves"
    elif best.litres_per_m2_day >= GOOD_ENOUGH * top:
        reason = "close"
    elif entry.night_loading < 0.25 * full and _loading(sorbent, *entry.night) < 0.25 * full:
        reason = "never fills"
    elif _loading(sorbent, *entry.day) < 0.6 * entry.day_loading:
        reason = "too slow"
    elif entry.day_loading > 0.6 * entry.night_loading:
        reason = "never empties"
    else:
        reason = "holds little"
    return replace(entry, reason=reason, words=REASONS[reason])


def potential(T: Any, p: Any) -> Any:
    """Adsorption potential of a working point [J/mol], for the picture of isotherms and points."""
    return GAS_CONSTANT * np.asarray(T) * np.log(saturation_pressure(T) / np.asarray(p))
