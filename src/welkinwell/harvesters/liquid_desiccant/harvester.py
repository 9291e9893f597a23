"""The liquid desiccant as the year sees it: its surroundings and schedule, its audit and its accounts."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

import numpy as np
import xarray as xr

from welkinwell.constants import FREEZING_POINT
from welkinwell.errors import InputError, Problem
from welkinwell.harvesters.air import (
    SUN_ABSORBER,
    SUN_GLAZING,
    SUN_PLANE,
    AirRecord,
    Surroundings,
    device_air,
)
from welkinwell.harvesters.harvester import Accounts, Array, Bucketed, Harvester, StateRule
from welkinwell.harvesters.liquid_desiccant import BRINES
from welkinwell.harvesters.liquid_desiccant.audit import audited_flows, audited_stocks, boundary
from welkinwell.harvesters.liquid_desiccant.design import LiquidDesiccant
from welkinwell.harvesters.liquid_desiccant.flows import (
    LIQUID_DESICCANT,
    crystal_line,
    full_loading,
    liquid_numbers,
    night_flow,
)
from welkinwell.harvesters.operation import CLOSED, Schedule, schedule
from welkinwell.harvesters.power_cuts import Unpowered
from welkinwell.sky.plane import CoverOptics

SALT_TASTED: Final = 0.25  # kg/m3 of chloride that people taste (WHO2022, value from memory)


def fitted(design: LiquidDesiccant, sorbent: Any) -> tuple[LiquidDesiccant, Any]:
    """Refuse what is no brine, and a loop whose tank cannot hold the solution at its working strength.

    The loop is run as solution throughout: where crystals would form the flows end (`crystal_share`).
    """
    if sorbent.family != BRINES:
        raise InputError(
            Problem(
                "sorbent",
                f"{sorbent.key} ({sorbent.family})",
                "a brine for a liquid desiccant",
                "licl_brine, cacl2_brine, libr_brine, potassium_formate_brine, or a sheet of that family.",
            )
        )
    if full_loading(design, sorbent) <= 1.1 * crystal_line(sorbent)[0]:
        raise InputError(
            Problem(
                "store_volume",
                f"{design.store_volume * 1e3:.3g} L/m2",
                f"room for the brine of {design.store_salt:.3g} kg/m2 of salt above its crystallisation",
                "Give the tank more volume or the loop less salt.",
            )
        )
    return design, sorbent.as_solution()


def still_air(design: LiquidDesiccant, site: Surroundings) -> AirRecord:
    """Make the surroundings: sun through the still's glass, none of it where other heat drives the still."""
    air = device_air(
        site,
        tilt=design.tilt,
        azimuth=design.azimuth(site.latitude),
        cover=CoverOptics(
            design.glazing_thickness, design.glazing_refractive_index, design.glazing_extinction
        ),
        absorptance=design.still_absorptance,
        soiling=design.soiling,
        device_height=design.device_height,
        terrain=design.terrain,
        shelter=design.shelter,
    )
    if design.regenerator == "solar_still":
        return air
    nodes = air.nodes.copy()
    nodes[:, [SUN_ABSORBER, SUN_GLAZING, SUN_PLANE]] = 0.0  # a closed case in the shade
    return replace(air, nodes=nodes)


def plan(design: LiquidDesiccant, air: AirRecord) -> Schedule:
    """Work out when the absorber (1) and when the still (0) is fed."""
    return schedule(design, air)


def rule(design: LiquidDesiccant) -> StateRule:
    """No rule on the state: sun or clock decide."""
    return StateRule(0.0, np.inf, 0.0)


def unpowered(design: LiquidDesiccant) -> Unpowered:
    """Pumps and fans stand still: plates and packing run dry, trays stay wet, the sun goes on with the still.

    Supplied heat stops with its pump, and the air to a separate condenser with its fan where it has one.
    """
    driven = design.condenser_power > 0.0
    still = replace(
        design,
        day_circulation=0.0,
        absorbs_by_day=False,
        condenser_power=0.0,
        condenser_airflow=0.0 if driven else design.condenser_airflow,
        heat_conductance=0.0,
    )
    return Unpowered(still, None if design.absorber == "tray" else CLOSED)


def sky_area(design: LiquidDesiccant) -> float:
    """Glass of the still, and the absorber's top, per m2 of basis [1]."""
    return 1.0 + design.absorber_sky_area


def accounts(run: Bucketed) -> Accounts:
    """Read water, heat and electricity from the flows."""
    flow, design = run.flow, run.design
    onto = (flow("glazing_condensation"), flow("condensation"))
    uptake = flow("air_to_solution")
    water = {
        "water_taken_up": (np.maximum(uptake, 0.0), "Water taken from the open air by the solution"),
        "water_condensed": (
            _total([np.maximum(each, 0.0) for each in onto]),
            "Water condensed on all surfaces",
        ),
        "water_reevaporated": (
            _total([np.maximum(-each, 0.0) for each in onto]),
            "Water that evaporated from surfaces again",
        ),
        "water_collected": (flow("collected") + flow("glazing_drained"), "Water that ran into the gutter"),
        "water_leaked": (flow("leak"), "Vapour that leaked from the still"),
        "water_released_open": (np.maximum(-uptake, 0.0), "Water given back to the open air"),
    }
    heat = (
        flow("sun_absorber", CLOSED)
        + flow("supplied_heat", CLOSED)
        - flow("still_radiation", CLOSED)
        - flow("still_convection", CLOSED)
        - flow("edge_loss", CLOSED)
    )
    electricity = {
        "pump": flow("pump_heat") / design.pump_efficiency,
        "fan": flow("fan_work"),
    }
    supplied = {}
    if design.regenerator != "solar_still":
        supplied = {"heat_supplied": (flow("supplied_heat"), design.heat_temperature)}
    return Accounts(
        water,
        (
            heat,
            "Heat that reached the still by day: sun and supplied heat less losses through glass and edges",
        ),
        electricity,
        supplied,
    )


def notes(design: LiquidDesiccant, sorbent: Any, year: xr.Dataset) -> list[str]:
    """Say what the solution met: crystals, a full tank, too much heat, salt that leaves with drops."""
    said = []
    if "still_loading" in year:
        said += _strength_notes(design, sorbent, year)
    open_days = float(year["open_share"].mean()) * year.attrs["days"]
    seconds = 86400.0
    fraction = sorbent.sheet.value("brine.salt_fraction")
    by_day = design.day_circulation + (night_flow(design) if design.absorbs_by_day else 0.0)
    pumped = seconds * (open_days * night_flow(design) + (year.attrs["days"] - open_days) * by_day)
    salt = design.drop_loss * fraction * pumped
    collected = max(float(year["water_collected"].sum()), 1e-9)
    said.append(
        f"Drops carry {1e3 * salt:.3g} g of salt from each m2 in the year at the declared drop_loss; the "
        "loop is topped up with solution of the same strength, so that its salt stays what the design says."
    )
    if salt / collected > 1e-3 * SALT_TASTED:
        said.append(
            f"Were these drops all caught by the water, it would hold {1e6 * salt / collected:.0f} mg of "
            f"salt in a litre, more than people taste ({1e3 * SALT_TASTED:.0f} mg/L of chloride): a mist "
            "eliminator and a test of the water belong to this device."
        )
    return said


def _strength_notes(design: LiquidDesiccant, sorbent: Any, year: xr.Dataset) -> list[str]:
    said = []
    zero, first, second = crystal_line(sorbent)
    hours = {"still": ("still_temperature", "still_loading"), "absorber": ("store_temperature", "loading")}
    for place, (temperature, loading) in hours.items():
        theta = year[temperature].values - FREEZING_POINT
        line = zero + theta * (first + second * theta)
        share = float(np.mean(year[loading].values < line * (1.0 + 0.5 * design.crystal_margin)))
        if share > 0.0:
            said.append(
                f"ALARM: in {100 * share:.1f} % of hours the solution in the {place} stands at its "
                "crystallisation line: evaporation ends there in this model, and what would crystallise acts "
                "no more; in the device crystals would clog pumps and pipes, so more solution must circulate."
            )
    full = float(np.mean(year["loading"].values > 0.97 * full_loading(design, sorbent)))
    if full > 0.0:
        said.append(
            f"In {100 * full:.1f} % of hours tank and absorber are full and take up no more: "
            "a larger store_volume would."
        )
    hottest = year.attrs["highest_still_temperature"]
    if hottest > sorbent.service_temperature:
        said.append(
            f"The still reaches {hottest - 273.15:.0f} degC, above the "
            f"{sorbent.service_temperature - 273.15:.0f} degC that {sorbent.name} stands."
        )
    return said


def _total(parts: list[Array]) -> Array:
    return np.sum(parts, axis=0)


HEAT_WORDS: Final = {
    "still_temperature": {
        "sun_absorber": ("Sun that the still takes", ""),
        "supplied_heat": ("Heat supplied from elsewhere", "Heat supplied from elsewhere"),
        "evaporation": ("Vapour taken up again", "Giving off vapour"),
        "still_radiation": ("From the glass by radiation", "To the glass by radiation"),
        "still_convection": ("From the glass through the air", "To the glass through the air"),
        "condenser_air": ("From the condenser with its air", "To the condenser with its air"),
        "solution_heat": ("With solution from the tank", "With solution to the tank"),
        "edge_loss": ("Through edges and bottom", "Through edges and bottom"),
        "leak_heat": ("With air that leaks", "With air that leaks"),
    },
    "store_temperature": {
        "air_to_solution": ("Heat of the vapour taken up", "Giving vapour back"),
        "solution_heat": ("With solution from the still", "With solution to the still"),
        "absorber_convection": ("From the outdoor air", "To the outdoor air"),
        "air_vapour_to_solution": ("Warmth of that vapour", "Warmth of that vapour"),
        "absorber_longwave": ("From the sky", "To the sky"),
        "tank_loss": ("Through tank and pipes", "Through tank and pipes"),
        "pump_heat": ("Of the pump", ""),
    },
    "glazing_temperature": {
        "sun_glazing": ("Sun that the glass takes", ""),
        "glazing_condensation": ("Heat of the vapour condensed", "Evaporating water again"),
        "still_radiation": ("From the still by radiation", "To the still by radiation"),
        "still_convection": ("From the still through the air", "To the still through the air"),
        "glazing_convection": ("From the outdoor air", "To the outdoor air"),
        "glazing_longwave": ("From the sky", "To the sky"),
        "glazing_drained_heat": ("In the water collected", "In the water collected"),
    },
}

HARVESTER: Final = Harvester(
    kind=LIQUID_DESICCANT,
    fitted=fitted,
    air=still_air,
    plan=plan,
    numbers=liquid_numbers,
    rule=rule,
    audited_flows=audited_flows,
    audited_stocks=audited_stocks,
    boundary=boundary,
    accounts=accounts,
    drives=("sun_absorber", "sun_glazing", "supplied_heat", "pump_heat"),
    takes_sun=True,
    sky_area=sky_area,
    unpowered=unpowered,
    citations=("Hollands1976", "Watmuff1977", "Walton1983", "Brandemuehl1980", "Duffie2013", "Conde2004",
               "Nusselt1916", "Higbie1935", "Onda1968", "Bergman2011"),
    heat_parts={
        "still_temperature": "still",
        "store_temperature": "tank and absorber",
        "glazing_temperature": "glass",
    },
    heat_words=HEAT_WORDS,
    water_words={
        "water_leaked": "Leaked as vapour from the still",
        "water_released_open": "Given back to the open air",
    },
    notes=notes,
)  # fmt: skip
