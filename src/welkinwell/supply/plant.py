"""A plant's water through its tank: net water, days met by day and by hour, many years, area against tank."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import DAYS_IN_MONTH
from welkinwell.supply.demand import Demand
from welkinwell.supply.net_water import Collection, NetWater, Treatment, net_water
from welkinwell.supply.tank import (
    AreaAgainstTank,
    ManyYears,
    SequentPeak,
    TankYear,
    WeatherYears,
    area_against_tank,
    sequent_peak,
    share_met,
    tank_below_a_day,
    tank_in_many_years,
    tank_through_years,
    tank_year,
)

Floats = NDArray[np.float64]

OPEN_TANK: Final = 1e12  # L, where the case has no tank: nothing spills
SHARES: Final = (0.9, 0.95, 0.99)  # of days met, in area against tank
RESAMPLED: Final = 50  # years
SEED: Final = 1
COARSE_DAY: Final = 0.01  # of the year's demand: below, a day is too long a step for a tank (Fewkes2000)
STEPS_OF_MODULES: Final = (0.75, 0.9, 1.0, 1.1, 1.25, 1.5, 1.75, 2.0, 2.5)


@dataclass(frozen=True)
class PlantSupply:
    """What the water of one plant does for the demand. Litres; days and hours as in the weather year.

    net: the chain from gutter to tank; daily: the tank by day, yield after spillage; before: the same before
    spillage; hourly: the tank by hour (after), with hourly_days_met, the share of days met in every hour;
    years: resampled years; peak: the sequent peak; area: modules against tank; warnings: sentences; record:
    the weather years at hand in their order, None with one.
    """

    net: NetWater
    demand: Floats
    volume: float
    daily: TankYear
    before: TankYear
    hourly: TankYear
    years: ManyYears
    peak: SequentPeak
    area: AreaAgainstTank
    warnings: list[str]
    record: WeatherYears | None = None

    @property
    def hourly_days_met(self) -> float:
        """Share of the days with a demand on which that of every hour was drawn [1]."""
        return float(share_met(self.hourly.missing.reshape(-1, 24).sum(axis=1), self.demand))

    @property
    def net_per_day(self) -> float:
        """Mean net water [L/day]."""
        return float(self.net.by_day().mean())

    @property
    def net_by_month(self) -> Floats:
        """Mean net water in each calendar month, shape (12,) [L/day]."""
        days = self.net.by_day()
        month = np.resize(np.repeat(np.arange(12), DAYS_IN_MONTH), days.size)
        return np.array([days[month == m].mean() if np.any(month == m) else 0.0 for m in range(12)])

    @property
    def spilled_per_day(self) -> float:
        """Mean water that overflows the tank, or without one is left over at the tap [L/day]."""
        if self.volume >= OPEN_TANK:
            # An open store never ends its second round lower than it began: below zero is rounding alone.
            return max(self.net_per_day - self.delivered_per_day, 0.0)
        return float(self.daily.spilled.mean())

    @property
    def delivered_per_day(self) -> float:
        """Mean water drawn from the tank [L/day]."""
        return float(self.daily.delivered.mean())


def plant_supply(
    collected: Floats,
    module_area: float,
    modules: int,
    demand: Demand,
    usable: float | None,
    collection: Collection,
    treatment: Treatment,
    further: Sequence[tuple[str, Floats]] = (),
    name: str = "",
) -> PlantSupply:
    """Follow the water of equal modules through collection, treatment and tank.

    collected: by hour, whole days, shape (hours,) [L per m2 of aperture]; module_area [m2]; modules [1];
    usable: tank above its tap, None without a tank [L]; further: name and water of further weather years, as
    in collected; name: of the first year. Returns a PlantSupply.
    """
    net = net_water(collected * module_area * modules, module_area * modules, collection, treatment)
    inflow, days = net.by_day(), net.by_day().size
    wanted = demand.daily(days)
    volume = OPEN_TANK if usable is None else usable
    daily = tank_year(inflow, wanted, volume)

    def of_modules(count: int) -> Floats:
        area = module_area * count
        return net_water(collected * area, area, collection, treatment).by_day()

    return PlantSupply(
        net,
        wanted,
        volume,
        daily,
        tank_year(inflow, wanted, volume, "before"),
        tank_year(net.net, demand.hourly(days), volume),
        tank_in_many_years(
            net.after_samples.reshape(days, -1).sum(axis=1),
            wanted,
            volume,
            RESAMPLED,
            SEED,
            treatment.availability,
            treatment.outage_length / 86400.0,
        ),
        sequent_peak(inflow, wanted),
        area_against_tank(of_modules, wanted, modules_to_try(inflow, wanted, modules), SHARES),
        _tank_warnings(usable, wanted),
        _record([(name, collected), *further], module_area * modules, demand, volume, collection, treatment)
        if further
        else None,
    )


def _record(
    years: Sequence[tuple[str, Floats]],
    area: float,
    demand: Demand,
    volume: float,
    collection: Collection,
    treatment: Treatment,
) -> WeatherYears:
    inflow = [net_water(water * area, area, collection, treatment).by_day() for _, water in years]
    wanted = [demand.daily(record.size) for record in inflow]
    return tank_through_years([name for name, _ in years], inflow, wanted, volume)


def modules_to_try(inflow: Floats, demand: Floats, modules: int) -> list[int]:
    """Give the numbers of modules around those whose mean water equals the demand, and the plant's own.

    inflow: of the plant as it is, by day [L]; demand: by day [L]; modules: of the plant [1].
    """
    if inflow.sum() <= 0.0:
        return [modules]
    even = modules * float(demand.sum() / inflow.sum())
    wanted = {max(1, math.ceil(share * even)) for share in STEPS_OF_MODULES}
    return sorted(wanted | {modules})


def _tank_warnings(usable: float | None, demand: Floats) -> list[str]:
    if usable is None:
        return []
    day = float(demand.max())
    if usable < day:
        words = tank_below_a_day(usable, day)
        return [words[0].upper() + words[1:]]
    if usable < COARSE_DAY * float(demand.sum()):
        return [
            f"The tank is smaller than {100.0 * COARSE_DAY:.0f} % of the year's demand: a day is a coarse "
            "step for it, and the figures by the hour are the better ones."
        ]
    return []


def supply_summary(supply: PlantSupply) -> dict[str, Any]:
    """Give the figures of a plant's water as they stand in the summary."""
    years = supply.years
    kept = supply.volume < OPEN_TANK
    return {
        "litres_per_day": dict(supply.net.chain()) | {"delivered": supply.delivered_per_day},
        "share_of_days_met": supply.daily.share_of_days_met,
        "share_of_days_met_before_spillage": supply.before.share_of_days_met,
        "share_of_days_met_by_hour": supply.hourly_days_met,
        "share_of_demand_met": supply.daily.share_of_demand_met,
        "longest_shortfall_days": supply.daily.longest_shortfall,
        "resampled_years": {
            "years": RESAMPLED,
            "seed": SEED,
            "share_of_days_met": _exceeded(years.share_of_days_met),
            "share_of_demand_met": _exceeded(years.share_of_demand_met),
            "litres_per_day": _exceeded(years.litres_per_day),
            "longest_shortfall_days": int(years.longest_shortfall.max()),
        },
        **({"weather_years": _weather_years(supply.record)} if supply.record is not None else {}),
        "tank_usable_litres": supply.volume if kept else None,
        "sequent_peak_litres": supply.peak.volume,
        "modules_against_tank": {
            "modules": [int(count) for count in supply.area.modules],
            "usable_litres_for_share_of_days": {
                f"{share:g}": [float(v) if np.isfinite(v) else None for v in volumes]
                for share, volumes in supply.area.volume.items()
            },
        },
    }


def _weather_years(record: WeatherYears) -> dict[str, Any]:
    return {
        "names": list(record.names),
        "litres_per_day": record.litres_per_day.tolist(),
        "share_of_days_met": record.share_of_days_met.tolist(),
        "share_of_demand_met": record.share_of_demand_met.tolist(),
        "longest_shortfall_days": record.longest_shortfall.tolist(),
        "longest_shortfall_of_all_days": record.longest,
        "sequent_peak_litres": record.peak,
    }


def _exceeded(values: Floats) -> dict[str, float]:
    """Values exceeded in 90, 50 and 10 % of the drawn years."""
    low, middle, high = np.quantile(values, [0.1, 0.5, 0.9])
    return {
        "exceeded_in_90_percent": float(low),
        "exceeded_in_50_percent": float(middle),
        "exceeded_in_10_percent": float(high),
    }
