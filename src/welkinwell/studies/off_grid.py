"""A harvester off the grid: its hours of electricity against sun and battery, and what their lack costs."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
import xarray as xr

from welkinwell.case import Case, HarvesterCase
from welkinwell.harvesters.air import PER_HOUR, Surroundings
from welkinwell.harvesters.facing import azimuth_of
from welkinwell.harvesters.power_cuts import PowerCuts, with_power_cuts
from welkinwell.quantities import plain
from welkinwell.simulation import simulate
from welkinwell.sky.plane import CoverOptics, absorbed_shares, absorbed_sun, plane_sun
from welkinwell.supply.cost import CostChoices, OwnPower
from welkinwell.supply.power import (
    HOUR,
    Floats,
    OffGrid,
    OffGridSupply,
    array_power,
    battery_year,
    cell_temperature,
    inverter_input,
    lacking,
    power_summary,
    size_off_grid,
)
from welkinwell.transfer.plates import wind_at_height
from welkinwell.year import figures

MODULE_GLASS: Final = CoverOptics(0.0032, 1.526, 4.0)  # low-iron glass over the cells, common practice
MODULE_HEIGHT: Final = 2.0  # m above ground, for the wind; assumed


@dataclass(frozen=True)
class HarvesterOffGrid:
    """One harvester with its own electricity.

    found: array, battery and what they leave unserved; litres_per_day: with all the electricity it asks for;
    litres_with_cuts: simulated again with the plant off in every hour that lacks some [L/day]; still_dark:
    hours and still_unserved: share of energy that this second year would lack itself [1]; year, site: that
    second year and its surroundings, None where no hour lacks any; restart: what follows a cut.
    """

    found: OffGrid
    litres_per_day: float
    litres_with_cuts: float
    still_dark: int
    still_unserved: float
    year: xr.Dataset | None = None
    site: Surroundings | None = None
    restart: PowerCuts = field(default_factory=PowerCuts)

    @property
    def litres_lost(self) -> float:
        """Share of the litres that the lack of power takes [1]."""
        if self.litres_per_day <= 0.0:
            return 0.0
        return 1.0 - self.litres_with_cuts / self.litres_per_day

    def as_data(self) -> dict[str, Any]:
        """Give the figures as they stand in the summary."""
        return {
            **power_summary(self.found),
            "litres_per_day_at_full_power": self.litres_per_day,
            "litres_per_day_with_cuts": self.litres_with_cuts,
            "share_of_litres_lost": self.litres_lost,
            "hours_lacking_in_that_year": self.still_dark,
            "unserved_share_of_that_year": self.still_unserved,
        }


def off_grid(
    case: Case,
    entry: HarvesterCase,
    year: xr.Dataset,
    site: Surroundings,
    unshaded: Surroundings | None = None,
) -> HarvesterOffGrid | None:
    """Size or judge a harvester's own electricity, and simulate it again with the hours that lack some.

    None where the case has no [power] or the harvester uses no electricity. In an hour that lacks any
    electricity the whole plant is taken to be off for the whole hour: the litres with cuts are cautious.
    site: as the harvester sees it; unshaded: as solar modules do, where rows of harvesters shade each other.
    """
    if case.power is None or float(year["electricity"].sum()) <= 0.0:
        return None
    supply = case.power.supply
    made = made_by_modules(unshaded or site, supply)
    load = plant_load(year, supply)
    found = size_off_grid(made, load, case.power, case.cost.rows["discount_rate"].value)
    litres = figures(year)["litres_per_day"]
    cuts = case.power_cuts or PowerCuts()
    if not found.dark.any():
        return HarvesterOffGrid(found, litres, litres, 0, 0.0, restart=cuts)
    dark = with_power_cuts(
        site.climate, found.dark, restart_delay=cuts.restart_delay, purge=cuts.purge, dampers=cuts.dampers
    )
    cut = replace(site, climate=dark)
    again = simulate(entry.design, entry.sorbent, cut, name=entry.name)
    asked = plant_load(again, supply)
    missing = _missing(found, asked, made)
    energy = float(asked.sum()) * HOUR
    return HarvesterOffGrid(
        found,
        litres,
        figures(again)["litres_per_day"],
        int(lacking(missing, asked).sum()),
        float(missing.sum()) / energy if energy > 0.0 else 0.0,
        again,
        cut,
        cuts,
    )


def in_another_year(
    plant: HarvesterOffGrid, entry: HarvesterCase, site: Surroundings, unshaded: Surroundings | None = None
) -> Surroundings:
    """Lay over another year's surroundings the hours in which the same cells and battery lack electricity.

    plant: as sized or judged in the year of the case; entry: the harvester; site, unshaded: of the other
    year, as in `off_grid`.
    """
    found, cuts = plant.found, plant.restart
    year = simulate(entry.design, entry.sorbent, site, name=entry.name, accuracy="fast", audit=False)
    asked = plant_load(year, found.choices.supply)
    missing = _missing(found, asked, made_by_modules(unshaded or site, found.choices.supply))
    dark = lacking(missing, asked)
    if not dark.any():
        return site
    laid = with_power_cuts(
        site.climate, dark, restart_delay=cuts.restart_delay, purge=cuts.purge, dampers=cuts.dampers
    )
    return replace(site, climate=laid)


def _missing(found: OffGrid, asked: Floats, made: Floats) -> Floats:
    """Alternating current that cells and battery of a plant leave missing, by hour [J].

    asked: by hour [W]; made: by a m2 of modules [W/m2].
    """
    supply = found.choices.supply
    taken = inverter_input(asked, found.inverter, supply.inverter_efficiency, supply.standby_share)
    ran = battery_year(found.pair.area * made, taken, found.pair.battery, supply)
    share = np.divide(ran.short, taken * HOUR, out=np.zeros(taken.size), where=taken > 0.0)
    missing = np.minimum(asked, found.inverter) * HOUR * np.minimum(share, 1.0)
    return np.asarray(missing + np.maximum(asked - found.inverter, 0.0) * HOUR)


def plant_load(year: xr.Dataset, supply: OffGridSupply) -> Floats:
    """Electricity of all modules of a simulated year, and the other load, by hour [W]."""
    area = year.attrs["basis_area"] * year.attrs["modules"]
    return np.asarray(year["electricity"].values * area / HOUR + supply.other_load)


def made_by_modules(site: Surroundings, supply: OffGridSupply) -> Floats:
    """Electricity of a m2 of solar modules by hour, behind their charge controller [W/m2].

    The sun on their plane, what the glass lets in at each angle over what it lets in at right angles, the
    temperature of the cells in the wind at their height. Sources: Hay1980, DeSoto2006, Faiman2008, Dobos2014.
    """
    climate = site.climate
    sun = plane_sun(
        site.horizontal, site.path, supply.tilt, azimuth_of(supply.facing, site.latitude), site.albedo
    )
    straight = absorbed_shares(1.0, *MODULE_GLASS, 1.0)[0]
    entered, on_plane = (
        part.reshape(-1, PER_HOUR).mean(axis=1)
        for part in (absorbed_sun(sun, MODULE_GLASS, 1.0)[0] / straight, sun.total)
    )
    factor = wind_at_height(1.0, float(climate.attrs["wind_height"]), MODULE_HEIGHT, "open")
    wind = climate["wind_speed"].values * factor
    cells = cell_temperature(climate["temperature"].values, on_plane, wind)
    return np.asarray(array_power(entered, cells, supply))


def own_power(choices: CostChoices, plant: HarvesterOffGrid | None) -> OwnPower | None:
    """Give modules, battery and inverter where the plant pays for them.

    None without a plant of its own, and where the case names a price of electricity: then each kWh is paid
    at that price, and the plant is somebody else's. So electricity is never paid twice.
    """
    return None if plant is None or choices.rows["electricity_price"].given else plant.found.sizes


def cost_off_grid(choices: CostChoices, plant: HarvesterOffGrid | None) -> CostChoices:
    """Lay the prices of the plant's own electricity beside the others, where the plant pays for it.

    The price of a kWh becomes that of its own supply: it is paid for what is not in the plant's load, the
    treatment's.
    """
    if plant is None or own_power(choices, plant) is None:
        return choices
    low, value, high = (plant.found.per_kwh(end) for end in ("low", "value", "high"))
    row = choices.rows["electricity_price"]
    if low is not None and value is not None and high is not None:
        row = replace(row, low=low, value=value, high=high, where="the plant's own cells and battery")
    rows = {**choices.rows, "electricity_price": row}
    return replace(choices, rows=rows, power=plant.found.choices.prices)


def off_grid_warnings(plant: HarvesterOffGrid | None, choices: CostChoices | None = None) -> list[str]:
    """Sentences on what a harvester's own electricity does not do, and on what the cost leaves out of it."""
    if plant is None:
        return []
    found = plant.found
    said = []
    if choices is not None and (price := choices.rows["electricity_price"]).given:
        said.append(
            f"The case sets a price of electricity, {plain(price.value)} {price.unit}: the litre's cost "
            f"takes it for each kWh, and {found.capital:,.0f} {choices.currency} for modules, battery and "
            "inverter are not in it. Take electricity_price out of [cost] to pay for them instead."
        )
    if found.unserved_share > found.choices.supply.unserved * 1.001 and any(found.sized):
        said.append(
            f"No pair of solar modules and battery that was tried leaves less than "
            f"{plain(100.0 * found.choices.supply.unserved)} % of the electricity unserved."
        )
    if found.dark.any():
        said.append(
            f"Off the grid the plant lacks electricity in {int(found.dark.sum())} hours of the year "
            f"({plain(100.0 * found.unserved_share, 2)} % of its energy). Off in those hours, it gives "
            f"{plain(plant.litres_with_cuts)} L/day and not {plain(plant.litres_per_day)}; the other figures "
            "are those of the plant with these cuts."
        )
    if float(found.load.max()) > found.inverter * (1.0 + 1e-9):
        said.append(
            f"The inverter of {plain(found.inverter / 1000.0)} kW is smaller than the plant's highest hour "
            f"({plain(float(found.load.max()) / 1000.0)} kW)."
        )
    if not math.isfinite(found.pair.battery) or float(found.made.max()) <= 0.0:
        said.append("There is no sun for solar modules in this weather file.")
    return said
