"""The active bed as the year sees it: its surroundings and schedule, its audit and its accounts."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

import numpy as np

from welkinwell.errors import InputError, Problem
from welkinwell.harvesters.active_bed.audit import audited_flows, audited_stocks, boundary
from welkinwell.harvesters.active_bed.design import ActiveBed
from welkinwell.harvesters.active_bed.flows import ACTIVE_BED, RELEASE, UPTAKE, bed_numbers
from welkinwell.harvesters.air import AirRecord, Surroundings, device_air
from welkinwell.harvesters.harvester import Accounts, Bucketed, Harvester, StateRule
from welkinwell.harvesters.operation import Schedule, schedule
from welkinwell.harvesters.power_cuts import Unpowered
from welkinwell.quantities import as_text

NEVER_STARTS: Final = 1e4  # K of bed over condenser: no bed gets there
SERVICE_MARGIN: Final = 5.0  # K below the sorbent's service temperature
HOTTEST_BY_ITSELF: Final = 363.15  # K, what most sorbents need and plastics stand; assumed, no source
# A slab's rate 3 D/L2 with L = R/sqrt(5) is a grain's 15 D/R2
SLAB_OF_A_GRAIN: Final = 1.0 / np.sqrt(5.0)
# The temperature at which heat has the exergy of sunlight, 0.93 of its energy (Petela1964), over 295 K air
SUN_TEMPERATURE: Final = 4214.0  # K


def fitted(design: ActiveBed, sorbent: Any) -> tuple[ActiveBed, Any]:
    """Set the release temperature where the design leaves it open, and fit the sorbent's rate to its shape.

    Raises InputError for a release temperature that the sorbent does not stand.
    """
    if design.release_temperature is None:
        highest = min(sorbent.service_temperature - SERVICE_MARGIN, HOTTEST_BY_ITSELF)
        design = replace(design, release_temperature=highest)
    elif design.release_temperature > sorbent.service_temperature:
        raise InputError(
            Problem(
                "release_temperature",
                as_text(design.release_temperature, "degC"),
                f"at most {as_text(sorbent.service_temperature, 'degC')}, the service temperature of"
                f" {sorbent.name}",
                "Lower release_temperature, or take a sorbent that stands more.",
            )
        )
    if design.form == "channels":
        return design, sorbent.in_layer(design.coating_thickness)
    radius = 0.5 * design.grain_diameter
    if sorbent.rate_covers_layer:
        return design, sorbent.in_layer(radius * SLAB_OF_A_GRAIN)
    if radius < sorbent.grain_radius:  # smaller grains than the sheet's are quicker
        return design, replace(sorbent, row=sorbent.adjusted_row(length=radius), grain_radius=radius)
    return design, sorbent


def bed_air(design: ActiveBed, site: Surroundings) -> AirRecord:
    """Make the surroundings of a bed: the sun on the collector's plane; wind does not matter to it."""
    return device_air(
        site,
        tilt=design.tilt,
        azimuth=design.azimuth(site.latitude),
        cover=None,
        absorptance=1.0,
        soiling=0.0,
        device_height=2.0,
        terrain="open",
        shelter=1.0,
    )


def plan(design: ActiveBed, air: AirRecord) -> Schedule:
    """Work out when the bed takes up and gives off: cycles from the start of the record on, or by rule."""
    if design.operation not in ("cycles", "best"):  # the best lengths come by marching, in simulate
        return schedule(design, air)
    whole = design.uptake_length + design.release_length
    starts = np.arange(int(air.hours * 3600.0 // whole) + 1) * whole
    times = np.column_stack([starts, starts + design.uptake_length]).ravel()
    modes = np.tile([UPTAKE, RELEASE], starts.size)
    within = times < air.hours * 3600.0
    return Schedule(times[within], modes[within].astype(np.int64))


def rule(design: ActiveBed) -> StateRule:
    """Give the threshold rule: take up from empty_below of the swing until full_above of it."""
    return StateRule(design.empty_below, design.full_above, design.dwell)


def unpowered(design: ActiveBed) -> Unpowered:
    """Fans, heater and pump stand still, and no heat comes from collector or waste heat without the pump.

    Behind shut dampers air still creeps round between bed and condenser as it does with the loop's fan off.
    """
    still = replace(
        design,
        face_velocity=0.0,
        loop_fan_start=NEVER_STARTS,
        heating_power=0.0,
        heating_pump_power=0.0,
        control_power=0.0,
        collector_efficiency=0.0,
        collector_loss=0.0,
        heat_conductance=0.0 if design.heat_by == "waste_heat" else design.heat_conductance,
    )
    return Unpowered(still, RELEASE, dampers=True)


def accounts(run: Bucketed) -> Accounts:
    """Read the bed's water, electricity and heat from its flows."""
    flow, design = run.flow, run.design
    exhaust = flow("exhaust")
    leaks = [flow("leak", mode) for mode in (RELEASE, UPTAKE)]
    onto = [flow("condensation", mode) for mode in (RELEASE, UPTAKE)]
    inward = np.sum([np.maximum(-each, 0.0) for each in (exhaust, *leaks)], axis=0)
    water = {
        "water_taken_up": (flow("air_to_bed") + inward, "Water taken from the outdoor air"),
        "water_condensed": (np.sum([np.maximum(each, 0.0) for each in onto], axis=0), "Water condensed"),
        "water_reevaporated": (
            np.sum([np.maximum(-each, 0.0) for each in onto], axis=0),
            "Water that evaporated from the condenser again",
        ),
        "water_collected": (flow("collected"), "Water that ran into the gutter"),
        "water_released_open": (flow("bed_to_air"), "Water given back to the outdoor air"),
        "water_exhausted": (np.maximum(exhaust, 0.0), "Vapour blown out with the release air"),
        "water_leaked": (
            np.sum([np.maximum(each, 0.0) for each in leaks], axis=0),
            "Vapour lost through the dampers",
        ),
    }
    electricity = {
        "bed_fan": flow("bed_fan_power"),
        "cooling_fan": flow("cooling_fan_power"),
        "heating": flow("heater_power"),
        "heating_pump": flow("heating_pump_power"),
        "bed_control": flow("bed_control_power"),
    }
    supplied = {}
    if design.heat_by == "waste_heat":
        supplied["waste_heat"] = (flow("heating"), design.waste_heat_temperature)
    if design.heat_by == "solar":
        supplied["sun_on_collector"] = (flow("collector_sun"), SUN_TEMPERATURE)
    heat = (flow("heating") + flow("loop_fan_heat"), "Heat that reached the bed during release")
    return Accounts(water, heat, electricity, supplied)


# Words for a way of heat into a part and out of it: most ways run in both directions through a year.
HEAT_WORDS: Final = {
    "bed_temperature": {
        "heating": ("Heating", ""),
        "loop_fan_heat": ("Heat of the loop's fan", ""),
        "sorption": ("Heat of the vapour taken up", "Giving off vapour"),
        "air_vapour_to_bed": ("In the vapour that comes in", "In the vapour that comes in"),
        "bed_convection": ("From the outdoor air during uptake", "To the outdoor air during uptake"),
        "loop_heat": ("From the release air", "To the release air and the condenser"),
        "leak_heat_bed": ("With air that leaks", "With air that leaks"),
        "edge_loss": ("Through the casing", "Through the casing"),
    },
    "condenser_temperature": {
        "condensation": ("Heat of the vapour condensed", "Evaporating water again"),
        "loop_heat": ("In the release air from the bed", "To the bed with the release air"),
        "exhaust_heat": ("With the air blown out", "With the air blown out"),
        "condenser_convection": ("From the outdoor air", "To the outdoor air"),
        "source_heat": ("", "Drawn by the heat pump"),
        "leak_heat_condenser": ("With air that leaks", "With air that leaks"),
        "collected_heat": ("In the water collected", "In the water collected"),
    },
}

HARVESTER: Final = Harvester(
    kind=ACTIVE_BED,
    fitted=fitted,
    air=bed_air,
    plan=plan,
    numbers=bed_numbers,
    rule=rule,
    audited_flows=audited_flows,
    audited_stocks=audited_stocks,
    boundary=boundary,
    accounts=accounts,
    drives=("heating", "bed_fan_power", "bed_control_power"),
    takes_sun=False,
    unpowered=unpowered,
    citations=("Ergun1952", "Wakao1978", "Wakao1979", "Shah1978", "Bergman2011"),
    heat_parts={"bed_temperature": "bed", "condenser_temperature": "condenser"},
    heat_words=HEAT_WORDS,
    water_words={
        "water_released_open": "Given back to the outdoor air",
        "water_exhausted": "Blown out with the release air",
        "water_leaked": "Lost through the dampers",
    },
)
