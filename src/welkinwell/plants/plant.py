"""One harvester of a case as a plant: in its rows, on its own electricity, with its tank and its cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.case import Case, HarvesterCase
from welkinwell.climate.hourly import site_entry, weather_entry
from welkinwell.constants import WATER_GAS_CONSTANT
from welkinwell.harvesters.air import Surroundings, surroundings
from welkinwell.harvesters.kinds import KINDS, harvester_of
from welkinwell.simulation import simulate
from welkinwell.sky.sun import climate_sun_path
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.bounds import HarvesterLimits, limits_of_harvester
from welkinwell.studies.off_grid import (
    HarvesterOffGrid,
    cost_off_grid,
    in_another_year,
    off_grid,
    own_power,
)
from welkinwell.supply.decision import Decision, decision, standing
from welkinwell.supply.field import FieldShade, field_shade
from welkinwell.supply.plant import PlantSupply, plant_supply
from welkinwell.year import SCHEMA_VERSION, figures

Water = tuple[str, NDArray[np.float64]]  # name of a further weather year, and its hourly water [kg/m2]


@dataclass(frozen=True)
class Plant:
    """One harvester of a case, simulated where it stands.

    climate: the weather; site: as the devices meet it; shade: of the rows on each other, None without; year:
    as simulated, with what its own electricity lacks; power: that electricity, None where it buys it;
    further: water of further weather years.
    """

    case: Case
    entry: HarvesterCase
    climate: xr.Dataset
    site: Surroundings
    year: xr.Dataset
    power: HarvesterOffGrid | None = None
    shade: FieldShade | None = None
    further: tuple[Water, ...] = ()

    @property
    def name(self) -> str:
        """Name that the case gives it."""
        return self.entry.name

    @property
    def kind(self) -> str:
        """Kind of harvester."""
        return self.entry.kind

    @property
    def design(self) -> Any:
        """The design as the case declares it."""
        return self.entry.design

    @cached_property
    def simulated_design(self) -> Any:
        """The design as it was simulated, with what the case leaves open worked out."""
        return harvester_of(self.design).fitted(self.design, self.sorbent)[0]

    @property
    def sorbent(self) -> Sorbent | None:
        """What it is filled with."""
        return self.entry.sorbent

    @property
    def basis(self) -> str:
        """What the m2 are that the litres of its kind are counted on."""
        return str(self.year.attrs["basis"])

    @property
    def area(self) -> float:
        """Area of all its modules that the litres are counted on [m2]."""
        return float(self.year.attrs["basis_area"] * self.year.attrs["modules"])

    @cached_property
    def figures(self) -> dict[str, Any]:
        """What the year comes to, as in the summary."""
        return figures(self.year)

    @cached_property
    def bounds(self) -> HarvesterLimits:
        """What it cannot pass."""
        return limits_of_harvester(self.design, self.sorbent, self.year, self.site.climate)

    @cached_property
    def supply(self) -> PlantSupply:
        """Its water through collection, treatment and tank."""
        case, year = self.case, self.year
        return plant_supply(
            year["water_collected"].values,
            year.attrs["basis_area"],
            year.attrs["modules"],
            case.demand,
            case.tank.usable * 1000.0 if case.tank else None,
            case.collection,
            case.treatment,
            self.further,
            case.weather_path.name,
        )

    @cached_property
    def decision(self) -> Decision:
        """What its litres cost, and whether to build it."""
        case, year, found = self.case, self.year, self.figures
        vapour = year["vapour_pressure"].values / (WATER_GAS_CONSTANT * year["temperature"].values)
        modules, area = year.attrs["modules"], year.attrs["basis_area"]
        stand = standing(
            case.field,
            self.supply,
            modules,
            area,
            year.attrs["footprint_ratio"],
            year["water_taken_up"].values,
            year["wind_at_device"].values,
            vapour,
            self.shade,
        )
        return decision(
            self.supply,
            case.demand,
            asdict(self.simulated_design),
            area,
            modules,
            self.sorbent,
            self.kind,
            (found["electricity_kwh_per_litre"] or 0.0) * found["litres_per_day"],
            case.tank.volume * 1000.0 if case.tank else 0.0,
            case.treatment.samples_per_year,
            cost_off_grid(case.cost, self.power),
            case.alternatives,
            stand,
            self.basis,
            own_power(case.cost, self.power),
        )

    @property
    def head(self) -> dict[str, Any]:
        """What the summary of any study begins with."""
        return {
            "schema_version": SCHEMA_VERSION,
            "case": self.case.name,
            "note": self.case.note,
            "site": {**site_entry(self.climate), "name": self.case.site.name},
            "weather": weather_entry(self.climate),
            "harvester": self.name,
            "kind": self.kind,
            "sorbent": self.entry.sorbent_name or None,
            "area_basis": self.basis,
            "litres_per_m2_day": self.figures["litres_per_m2_day"],
        }


def simulate_plant(
    case: Case,
    entry: HarvesterCase,
    unshaded: Surroundings,
    further: Sequence[tuple[str, Surroundings]] = (),
    name: str = "",
) -> Plant:
    """Simulate a harvester of a case as a plant.

    unshaded: surroundings of its site, or of another; further: name and surroundings of further weather
    years; name: of the year, the harvester's own if empty. What people get is what the plant's own
    electricity can drive: with it, the year is the one in which the hours without are cut.
    """
    site, shade = in_its_rows(case, entry, unshaded)
    year = simulate(entry.design, entry.sorbent, site, name=name or entry.name)
    power = off_grid(case, entry, year, site, unshaded)
    if power is not None and power.year is not None and power.site is not None:
        year, site = power.year, power.site
    water = tuple(_water_of(case, entry, at, power, which) for which, at in further)
    return Plant(case, entry, unshaded.climate, site, year, power, shade, water)


def _water_of(
    case: Case, entry: HarvesterCase, site: Surroundings, power: HarvesterOffGrid | None, name: str
) -> Water:
    """Water of a further weather year."""
    met = as_it_meets(case, entry, site, power)
    year = simulate(entry.design, entry.sorbent, met, name=entry.name, accuracy="fast", audit=False)
    return name, year["water_collected"].values


def as_it_meets(
    case: Case, entry: HarvesterCase, site: Surroundings, power: HarvesterOffGrid | None
) -> Surroundings:
    """Give a further year's surroundings as a harvester meets them: in its rows, on its own electricity."""
    in_rows, _ = in_its_rows(case, entry, site)
    return in_rows if power is None else in_another_year(power, entry, in_rows, site)


def in_its_rows(
    case: Case, entry: HarvesterCase, site: Surroundings
) -> tuple[Surroundings, FieldShade | None]:
    """Give the sun that a mean row of the field sees: rows shade each other's beam and sky.

    The ground taken per aperture is the distance of rows over their slant length. The shaded sun is
    simulated, so a yield that falls faster than the light does so here too.
    """
    if case.field.arranged != "rows" or case.field.rows == 1:
        return site, None
    climate, design = site.climate, entry.design
    if KINDS[entry.kind].basis != "aperture":
        return site, None  # the ground per m2 is then no distance of rows
    tilt, azimuth = design.tilt, design.azimuth(site.latitude)
    path = climate_sun_path(climate, per_hour=1)
    facing = np.sin(tilt) * (path.east * np.sin(azimuth) + path.north * np.cos(azimuth))
    beam = climate["dni"].values * np.maximum(facing + np.cos(tilt) * path.up, 0.0)
    diffuse = climate["dhi"].values * 0.5 * (1.0 + np.cos(tilt))
    sun = (path.east, path.north, path.up)
    shade = field_shade(sun, beam, diffuse, tilt, azimuth, design.footprint_ratio, case.field.rows)
    scattered = climate["dhi"] * (1.0 - shade.diffuse)
    direct = (climate["ghi"] - climate["dhi"]).clip(min=0.0) * (1.0 - shade.beam_lost)
    shaded = climate.assign(
        ghi=direct + scattered, dhi=scattered, dni=climate["dni"] * (1.0 - shade.beam_lost)
    ).assign_attrs(climate.attrs)
    return surroundings(shaded), shade
