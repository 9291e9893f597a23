"""What a design weighs, costs and how loud it is, at the prices and the place of its case."""

from __future__ import annotations

from welkinwell.plants.plant import Plant
from welkinwell.studies.off_grid import cost_off_grid, own_power, plant_load
from welkinwell.studies.plant_figures import PlantFigures
from welkinwell.supply.power import HOUR, KWH


def own_figures(about: Plant) -> PlantFigures:
    """Give what a design weighs, costs and how loud it is, at the prices and the place of its case."""
    case, power = about.case, about.power
    plant_kwh = beside = 0.0
    if power is not None and case.power is not None:
        # of the year that the plant can drive, as the designs of a search are simulated in it
        plant_kwh = float(plant_load(about.year, case.power.supply).sum()) * HOUR / KWH
        beside = case.power.supply.other_load * 365.0 * 24.0 / 1000.0
    return PlantFigures(
        about.entry.kind, cost_off_grid(case.cost, power), own_power(case.cost, power), plant_kwh, beside,
        case.tank.volume * 1000.0 if case.tank else 0.0, case.treatment.samples_per_year, case.sound,
    )  # fmt: skip
