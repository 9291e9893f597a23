"""What is said of a plant of a case: its figures, warnings, limits and safety."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.case import HarvesterCase
from welkinwell.errors import SolverError
from welkinwell.harvesters.layer_depth import has_layered_depth, too_deep
from welkinwell.plants.plant import Plant
from welkinwell.plants.warnings import warnings_of
from welkinwell.quantities import litres_on, plain
from welkinwell.simulation import simulate
from welkinwell.studies.bounds import HarvesterLimits
from welkinwell.studies.limiting import EasedStep, limit_by_month, not_eased
from welkinwell.studies.off_grid import HarvesterOffGrid, off_grid_warnings
from welkinwell.studies.safety import Safety, safety_of
from welkinwell.supply.decision import Decision
from welkinwell.supply.plant import PlantSupply
from welkinwell.supply.tank import TankYear
from welkinwell.year import DAYS_IN_MONTH, daily, figures


@dataclass(frozen=True)
class HarvesterAnswer:
    """One harvester's year and what it means for the demand.

    relaxed: what holds the litres back, empty where that was left out; layered: litres with the bed in cells,
    where it is too deep to be computed as one [L/(m2 day)].
    """

    plant: Plant
    relaxed: Sequence[EasedStep] = ()
    layered: float | None = None

    @property
    def case(self) -> HarvesterCase:
        """The harvester as the case declares it."""
        return self.plant.entry

    @property
    def year(self) -> xr.Dataset:
        """The hourly Dataset."""
        return self.plant.year

    @property
    def supply(self) -> PlantSupply:
        """Its water through collection, treatment and tank."""
        return self.plant.supply

    @property
    def tank(self) -> TankYear:
        """The tank by day, in litres."""
        return self.plant.supply.daily

    @property
    def decision(self) -> Decision:
        """What its litres cost, and whether to build it."""
        return self.plant.decision

    @property
    def bounds(self) -> HarvesterLimits:
        """What it cannot pass."""
        return self.plant.bounds

    @property
    def power(self) -> HarvesterOffGrid | None:
        """Its own electricity, if the case wants it."""
        return self.plant.power

    @cached_property
    def figures(self) -> dict[str, Any]:
        """Figures as in the summary: of the year, and of what people get of it."""
        supply, tank = self.supply, self.tank
        return {
            **self.plant.figures,
            "litres_delivered_per_day": supply.delivered_per_day,
            "litres_spilled_per_day": supply.spilled_per_day,
            "share_of_days_met": tank.share_of_days_met,
            "share_of_demand_met": tank.share_of_demand_met,
            "longest_shortfall_days": tank.longest_shortfall,
        }

    @cached_property
    def limits(self) -> list[tuple[str, float]]:
        """What limits the litres of each month and its gain; empty where that was left out."""
        by_month = np.array(self.figures["litres_by_month"])
        return limit_by_month(list(self.relaxed), by_month) if self.relaxed else []

    @cached_property
    def safety(self) -> Safety:
        """What can hurt people, and the lists against it."""
        plant = self.plant
        return safety_of(plant.case, plant.entry, plant.year, plant.site, self.supply.delivered_per_day)

    @cached_property
    def warnings(self) -> list[str]:
        """Sentences on what went beyond a limit."""
        told = _in_cells(self.figures["litres_per_m2_day"], self.layered, self.plant.basis)
        cost = self.plant.case.cost
        found = [*warnings_of(self.case, self.year, told), *off_grid_warnings(self.power, cost)]
        found += self.supply.warnings
        if self.relaxed and (words := not_eased(self.relaxed, self.case.kind)):
            found.append(words)
        return [*found, *self.safety.sound.warnings(self.case.name)]

    @property
    def daily_litres(self) -> NDArray[np.float64]:
        """Litres collected on each day by all modules."""
        return daily(self.year, "water_collected") * self.plant.area

    @property
    def worst_month(self) -> int:
        """Month with the fewest litres a day, from 0."""
        return int(np.argmin(np.array(self.figures["litres_by_month"]) / DAYS_IN_MONTH))


def layered_litres(entry: HarvesterCase, site: Any) -> float | None:
    """Litres of the same box with its bed in cells, where it is too deep to be computed as one [L/(m2 day)].

    None where the bed is thin enough, knows no layered depth, or the march cannot finish.
    """
    design, sorbent = entry.design, entry.sorbent
    if not wants_cells(entry):
        return None
    design = replace(design, depth="layered")
    try:
        year = simulate(design, sorbent, site, name=entry.name, keep="months", accuracy="fast", audit=False)
    except SolverError:
        return None
    return float(figures(year)["litres_per_m2_day"])


def wants_cells(entry: HarvesterCase) -> bool:
    """Whether a bed computed as one is too deep for it, and its kind can compute it in cells."""
    design, sorbent = entry.design, entry.sorbent
    return sorbent is not None and too_deep(design, sorbent) and has_layered_depth(design, sorbent)


def _in_cells(lumped: float, layered: float | None, area: str) -> str:
    """Say what the bed in cells gives; empty where it was not simulated."""
    if layered is None:
        return ""
    change = f" ({100.0 * (layered / lumped - 1.0):+.0f} %)" if lumped > 0.0 else ""
    return (
        f'With depth = "layered" the same box gives {plain(layered)} instead of {plain(lumped)} '
        f"{litres_on(area)}{change}: set it in the case."
    )
