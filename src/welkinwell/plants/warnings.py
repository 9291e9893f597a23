"""Sentences on what a simulated harvester and its sorbent met beyond a limit."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import xarray as xr

from welkinwell.case import HarvesterCase, bed_notes
from welkinwell.harvesters.kinds import harvester_of
from welkinwell.moist_air import saturation_pressure
from welkinwell.quantities import plain


def warnings_of(entry: HarvesterCase, year: xr.Dataset, layered: str) -> list[str]:
    """Sentences on what went beyond a limit, and the sorbent's cautions; layered: as in `bed_notes`."""
    said = []
    driven = json.loads(year.attrs["supplied_heat"])
    if year.attrs["takes_sun"] and not driven and float(year["sun_on_plane"].max()) <= 0.0:
        said.append("No sun at all in this weather file: the bed is never heated, so there is no water.")
    vented = float(year["water_vented"].sum()) if "water_vented" in year else 0.0
    if vented > 0.02 * max(float(year["water_collected"].sum()), 1e-9):
        said.append(
            f"The over-temperature vent loses {vented:.0f} L of vapour a year from each m2 of "
            f"{year.attrs['basis']}: the bed is heated faster than vapour can reach the condenser."
        )
    said += [*bed_notes(entry, layered), *harvester_of(entry.design).notes(entry.design, entry.sorbent, year)]
    return said + (_sorbent_warnings(entry.sorbent, year) if entry.sorbent is not None else [])


def _sorbent_warnings(sorbent: Any, year: xr.Dataset) -> list[str]:
    """Sentences on what the sorbent met beyond its limits, and its own cautions."""
    said = []
    hottest = year.attrs.get("highest_bed_temperature", 0.0)
    limit = sorbent.service_temperature
    if hottest > limit:
        said.append(
            f"The bed reaches {hottest - 273.15:.0f} degC, above the {limit - 273.15:.0f} degC that "
            f"{sorbent.name} stands."
        )
    elif hottest > limit - 10.0:
        said.append(
            f"The bed reaches {hottest - 273.15:.0f} degC, close to the {limit - 273.15:.0f} degC that "
            f"{sorbent.name} stands; the vent must work."
        )
    said += _brine_warnings(sorbent, year)
    for key, words in (("temperature", "temperatures"), ("potential", "humidities")):
        share = year.attrs[f"water_outside_{key}_range"]
        if share > 0.01:
            said.append(
                f"{100 * share:.0f} % of the water rests on {words} beyond the measured points of "
                f"{sorbent.name}."
            )
    return said + list(sorbent.cautions)


def _brine_warnings(sorbent: Any, year: xr.Dataset) -> list[str]:
    """Sentences on brine that left its host, and on solution where there should be crystals."""
    said = []
    if (hours := year.attrs.get("hours_above_leak_humidity", 0.0)) > 0.0:
        saturated = saturation_pressure(year["bed_temperature"].values)
        humid = float(np.max(year["bed_vapour_pressure"].values / saturated))
        said.append(
            f"ALARM: for {hours:.0f} hours a year {sorbent.name} meets relative humidities above "
            f"{100 * sorbent.leak_humidity:.0f} % (up to {100 * min(humid, 1.0):.0f} %), where it can lose "
            f"brine into the water: at most {plain(year.attrs['brine_lost_bound'], 2)} kg/m2 of brine with "
            f"{plain(year.attrs['salt_lost_bound'], 2)} kg/m2 of salt a year. Close the box in "
            "such hours, or take another sorbent."
        )
    collected = max(float(year["water_collected"].sum()), 1e-9)
    if (hours := year.attrs.get("hours_with_crystals", 0.0)) > 0.0:
        share = min(year.attrs["water_with_crystals"] / collected, 1.0)
        said.append(
            f"For {hours:.0f} hours a year crystals stand in {sorbent.name}: its salt is then partly or "
            f"wholly solid and holds no more water than its hydrate. Up to {100 * share:.0f} % of the "
            "water was given off in such hours. A fixed layer dissolves them again by night; in pipes and "
            "sprays they block."
        )
    if (hours := year.attrs.get("hours_beyond_crystallisation", 0.0)) > 0.0:
        share = min(year.attrs["water_beyond_crystallisation"] / collected, 1.0)
        said.append(
            f"For {hours:.0f} hours a year {sorbent.name} is drier than its crystallisation line and is "
            f"still taken as a solution; up to {100 * share:.0f} % of the water rests on that. Crystals "
            "would keep some of it and slow the next uptake; in pipes and sprays they block."
        )
    return said
