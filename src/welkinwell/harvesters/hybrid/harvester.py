"""The hybrid as the year sees it: its surroundings and schedule, its audit and its accounts."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

import numpy as np
import xarray as xr

from welkinwell.constants import FREEZING_POINT
from welkinwell.harvesters.air import AirRecord, Surroundings, device_air
from welkinwell.harvesters.harvester import Accounts, Bucketed, Harvester, StateRule
from welkinwell.harvesters.hybrid.audit import audited_flows, audited_stocks, boundary
from welkinwell.harvesters.hybrid.design import Hybrid
from welkinwell.harvesters.hybrid.flows import HYBRID, hybrid_numbers
from welkinwell.harvesters.operation import CLOSED, schedule
from welkinwell.harvesters.power_cuts import Unpowered
from welkinwell.sky.plane import CoverOptics

NEVER_STARTS: Final = 1e4  # K of bed over condenser: no bed gets there
VENT_MARGIN: Final = 5.0  # K below the sorbent's service temperature
HOTTEST_VENT: Final = 393.15  # K: seals and plastics, and hands that touch; assumed, no source


def fitted(design: Hybrid, sorbent: Any) -> tuple[Hybrid, Any]:
    """Set the vent where the design leaves it open, and put the sorbent into its layer."""
    if design.vent_temperature is None:
        vent = min(sorbent.service_temperature - VENT_MARGIN, HOTTEST_VENT)
        design = replace(design, vent_temperature=vent)
    return design, sorbent.in_layer(design.layer_thickness)


def box_air(design: Hybrid, site: Surroundings) -> AirRecord:
    """Make the surroundings: sun through the cover, wind at its height."""
    return device_air(
        site,
        tilt=design.tilt,
        azimuth=design.azimuth(site.latitude),
        cover=CoverOptics(
            design.glazing_thickness, design.glazing_refractive_index, design.glazing_extinction
        ),
        absorptance=design.absorber_absorptance,
        soiling=design.soiling,
        device_height=design.device_height,
        terrain=design.terrain,
        shelter=design.shelter,
    )


def rule(design: Hybrid) -> StateRule:
    """No rule on the state: sun or clock decide."""
    return StateRule(0.0, np.inf, 0.0)


def unpowered(design: Hybrid) -> Unpowered:
    """Fans, top-up and control stand still; glass, heat pipes, radiator and the vent's thermostat go on.

    No air goes round behind shut dampers, and none blows through open ones: both on the cautious side.
    """
    still = replace(design, open_airflow=0.0, loop_start=NEVER_STARTS, top_up="none", control_power=0.0)
    return Unpowered(still, CLOSED, dampers=True)


def sky_area(design: Hybrid) -> float:
    """Glass and night radiator, per m2 of basis [1]."""
    return 1.0 + design.radiator_area


def accounts(run: Bucketed) -> Accounts:
    """Read water, heat and electricity from the flows."""
    flow = run.flow
    onto, uptake = flow("condensation"), flow("air_to_bed")
    water = {
        "water_taken_up": (np.maximum(uptake, 0.0), "Water taken from the open air by the bed"),
        "water_condensed": (np.maximum(onto, 0.0), "Water condensed on the condenser"),
        "water_reevaporated": (np.maximum(-onto, 0.0), "Water that evaporated from the condenser again"),
        "water_collected": (flow("collected"), "Water that ran into the gutter"),
        "water_leaked": (flow("leak"), "Vapour that leaked from the closed loop or left through the vent"),
        "water_released_open": (np.maximum(-uptake, 0.0), "Water given back to the open air"),
    }
    heat = (
        flow("sun_absorber", CLOSED)
        + flow("heat_pumped")
        + flow("top_up_work")
        - flow("cover_radiation", CLOSED)
        - flow("cover_convection", CLOSED)
        - flow("edge_loss", CLOSED)
    )
    electricity = {
        "top_up": flow("top_up_work"),
        "fan": flow("fan_work"),
        "control": flow("control_work"),
    }
    words = "Heat that reached the bed while closed: sun and top-up less losses through cover and edges"
    return Accounts(water, (heat, words), electricity)


def notes(design: Hybrid, sorbent: Any, year: xr.Dataset) -> list[str]:
    """Say what the top-up did, and where frost stopped it."""
    said = []
    topped = float(year["electricity_top_up"].sum()) / 3.6e6
    collected = max(float(year["water_collected"].sum()), 1e-9)
    if design.top_up != "none":
        heat = _total(year, "heat_pumped") / 3.6e6 + topped
        said.append(
            f"The top-up takes {topped:.0f} kWh/m2 of electricity a year ({topped / collected:.2f} kWh for "
            f"each litre collected) and gives the bed {heat:.0f} kWh/m2; it stops where a litre would cost "
            f"more than {design.top_up_limit / 3.6e6:.2g} kWh."
        )
        if topped <= 0.0:
            said.append("At that limit the top-up never runs: a litre by it costs more than it may.")
    if design.top_up == "heat_pump" and "condenser_temperature" in year:
        by_day = year["open_share"].values < 1.0
        frost = float(np.mean(by_day & (year["condenser_temperature"].values < FREEZING_POINT + 2.0)))
        if frost > 0.0:
            said.append(
                f"In {100 * frost:.1f} % of hours the condenser is near freezing, which stops the heat pump: "
                "there is no defrost."
            )
    return said


def _total(year: xr.Dataset, name: str) -> float:
    """Integrate an hourly mean power over the year [J/m2]; months and years weigh their days."""
    return float(year[name].mean()) * year.attrs["days"] * 86400.0


HEAT_WORDS: Final = {
    "bed_temperature": {
        "sun_absorber": ("Sun that the absorber takes", ""),
        "heat_pumped": ("Pumped from the condenser", ""),
        "top_up_work": ("Electricity of the top-up", ""),
        "sorption": ("Heat of the vapour taken up", "Giving off vapour"),
        "cover_radiation": ("From the glass by radiation", "To the glass by radiation"),
        "cover_convection": ("From the glass through the air", "To the glass through the air"),
        "edge_loss": ("Through edges and back", "Through edges and back"),
        "bed_convection": ("From the outdoor air while open", "To the outdoor air while open"),
        "air_vapour_to_bed": ("Warmth of that vapour", "Warmth of that vapour"),
        "loop_heat": ("From the condenser with the loop's air", "To the condenser with the loop's air"),
        "leak_heat": ("With air that leaks and vents", "With air that leaks and vents"),
        "radiator_from_bed": ("", "To the night radiator"),
    },
    "condenser_temperature": {
        "condensation": ("Heat of the vapour condensed", "Evaporating water again"),
        "loop_heat": ("From the bed with the loop's air", "To the bed with the loop's air"),
        "heat_pumped": ("", "Pumped to the bed"),
        "condenser_convection": ("From the outdoor air", "To the outdoor air"),
        "radiator_from_condenser": ("", "To the radiator"),
        "collected_heat": ("In the water collected", "In the water collected"),
    },
    "radiator_temperature": {
        "sun_radiator": ("Sun on the radiator", ""),
        "radiator_from_bed": ("From the bed by night", ""),
        "radiator_from_condenser": ("From the condenser by day", ""),
        "radiator_longwave": ("From the sky", "To the sky"),
        "radiator_convection": ("From the outdoor air", "To the outdoor air"),
    },
}

HARVESTER: Final = Harvester(
    kind=HYBRID,
    fitted=fitted,
    air=box_air,
    plan=schedule,
    numbers=hybrid_numbers,
    rule=rule,
    audited_flows=audited_flows,
    audited_stocks=audited_stocks,
    boundary=boundary,
    accounts=accounts,
    drives=("sun_absorber", "sun_glazing", "sun_radiator", "top_up_work"),
    takes_sun=True,
    sky_area=sky_area,
    unpowered=unpowered,
    citations=("Hollands1976", "Watmuff1977", "Walton1983", "Brandemuehl1980", "Duffie2013", "Bergman2011"),
    heat_parts={
        "bed_temperature": "bed",
        "condenser_temperature": "condenser",
        "radiator_temperature": "radiator",
    },
    heat_words=HEAT_WORDS,
    water_words={
        "water_leaked": "Leaked from the closed loop or left through the vent",
        "water_released_open": "Given back to the open air",
    },
    notes=notes,
)
