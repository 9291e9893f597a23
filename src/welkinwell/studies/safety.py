"""What a simulated harvester says of safety: how hot it gets dry, its weight, how warm its water stands."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.case import Case, HarvesterCase
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.study import study_of
from welkinwell.simulation import simulate
from welkinwell.studies.sound_of_harvester import Sound, sound_of
from welkinwell.supply import safeguards as guards

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Stagnation:
    """Highest temperatures of a dry, closed box with clean glass and a stuck vent, through the year [K]."""

    bed: float
    glass: float


@dataclass(frozen=True)
class Safety:
    """Lists and figures of one harvester.

    stagnation: None for kinds without glass; highest_bed, vent, service: of the year as simulated, the vent
    and the sorbent, nan where there is none [K]; frost_hours: of the year below freezing; tank_water: by
    day, empty without a tank [K]; growth_share: of days in the band of Legionella [1]; turnover: of the
    tank [day]; load: by part [kg/m2]; wet_share: share of hours in which the bed stands above its leak
    humidity [1]; calcite: for minerals [kg/day]; sound: at the nearest bed.
    """

    lists: guards.Safeguards
    stagnation: Stagnation | None
    highest_bed: float
    vent: float
    service: float
    frost_hours: int
    tank_water: Floats
    growth_share: float
    turnover: float
    load: dict[str, float]
    wet_share: float
    calcite: float
    sound: Sound

    def as_data(self) -> dict[str, Any]:
        """Give figures and lists as JSON-ready data."""
        dry = self.stagnation
        return {
            "dry_stagnation_bed_celsius": None if dry is None else dry.bed - 273.15,
            "dry_stagnation_glass_celsius": None if dry is None else dry.glass - 273.15,
            "frost_hours": self.frost_hours,
            "tank_water_warmest_celsius": float(self.tank_water.max()) - 273.15
            if self.tank_water.size
            else None,
            "share_of_days_in_growth_band": self.growth_share if self.tank_water.size else None,
            "tank_turnover_days": self.turnover if math.isfinite(self.turnover) else None,
            "load_kg_per_m2": self.load,
            "share_of_hours_above_leak_humidity": self.wet_share,
            "sound": self.sound.as_data(),
            "test_for": [limit.key for limit in self.lists.tests],
            "hazards": [one.key for one in self.lists.hazards],
        }


def safety_of(
    case: Case, entry: HarvesterCase, year: xr.Dataset, site: Surroundings, delivered: float
) -> Safety:
    """Gather what concerns the safety of one simulated harvester; delivered: by all its modules [L/day]."""
    sorbent, tank = entry.sorbent, case.tank
    air = site.climate["temperature"].values
    installed = guards.Installation(
        kind=entry.kind,
        of_kind=KINDS[entry.kind].hazards,
        sorbent=sorbent.name if sorbent is not None else "",
        family=sorbent.family if sorbent is not None else "",
        salt=sorbent.salt if sorbent is not None else "",
        leaching=sorbent.leaching if sorbent is not None else (),
        leak_humidity=sorbent.leak_humidity if sorbent is not None else 1.0,
        purpose=case.demand.purpose,
        litres_per_day=delivered,
        tank=None if tank is None else tank.volume * 1000.0,
        tank_shaded=True if tank is None else tank.shaded,
        takes_sun=bool(year.attrs["takes_sun"]),
        electric=float(year["electricity"].sum()) > 0.0,
        coldest=float(air.min()),
        own_power=case.power is not None and float(year["electricity"].sum()) > 0.0,
        compressor=holds_refrigerant(entry.design),
    )
    water = guards.tank_water(air, tank.shaded) if tank is not None else np.zeros(0)
    turnover = installed.tank / delivered if installed.tank and delivered > 0.0 else math.nan
    return Safety(
        guards.safeguards(installed),
        dry_stagnation(entry.design, sorbent, site),
        float(year.attrs.get("highest_bed_temperature", math.nan)),
        float(getattr(entry.design, "vent_temperature", None) or math.nan),
        sorbent.service_temperature if sorbent is not None else math.nan,
        int((air < 273.15).sum()),
        water,
        guards.growth_share(water) if water.size else 0.0,
        turnover,
        _load(entry.design, year),
        _wet_share(sorbent, year),
        guards.calcite_use(delivered),
        sound_of(entry.design, sorbent, year, float(site.climate.attrs["utc_offset"]), case.sound),
    )


def holds_refrigerant(design: Any) -> bool:
    """Whether a design holds a compressor with its refrigerant."""
    if getattr(design, "cooling", "") == "vapour_compression":
        return True
    return "heat_pump" in (getattr(design, "heat_by", ""), getattr(design, "top_up", ""))


def dry_stagnation(design: Any, sorbent: Any, site: Surroundings) -> Stagnation | None:
    """Simulate a box that was left alone; None for kinds that have no such state."""
    left_alone = study_of(design.kind).left_alone
    if left_alone is None:
        return None
    year = simulate(left_alone(design), sorbent, site, keep="year", accuracy="fast", audit=False)
    return Stagnation(
        float(year.attrs["highest_bed_temperature"]), float(year.attrs["highest_glazing_temperature"])
    )


def _load(design: Any, year: xr.Dataset) -> dict[str, float]:
    """Weight by part per m2, wet; empty for kinds of which it is not known."""
    load = study_of(design.kind).load
    if load is None:
        return {}
    return load(design, float(year["loading"].max()) if "loading" in year else 0.0)


def _wet_share(sorbent: Any, year: xr.Dataset) -> float:
    """Share of hours in which the bed stands above the humidity at which brine leaves it."""
    from welkinwell.moist_air import saturation_pressure

    if sorbent is None or sorbent.leak_humidity >= 1.0 or "bed_vapour_pressure" not in year:
        return 0.0
    humidity = year["bed_vapour_pressure"].values / saturation_pressure(year["bed_temperature"].values)
    return float((humidity > sorbent.leak_humidity).mean())
