"""The passive box as the year sees it: its surroundings and schedule, its audit and its accounts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any, Final

import numpy as np

from welkinwell.harvesters.air import AirRecord, Surroundings, device_air
from welkinwell.harvesters.harvester import Accounts, Array, Bucketed, Harvester, StateRule
from welkinwell.harvesters.operation import CLOSED, schedule
from welkinwell.harvesters.passive_box.audit import audited_flows, audited_stocks, boundary
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX, box_numbers
from welkinwell.sky.plane import CoverOptics
from welkinwell.sky.reflectors import Reflectors

VENT_MARGIN: Final = 5.0  # K below the sorbent's service temperature
HOTTEST_VENT: Final = 393.15  # K: seals and plastics, and hands that touch; assumed, no source
SWITCH_BAND: Final = 0.02  # the pressure rule closes this share above the ratio at which it opens


def fitted(design: PassiveBox, sorbent: Any) -> tuple[PassiveBox, Any]:
    """Set the vent where the design leaves it open, and put the sorbent into its layer."""
    if design.vent_temperature is None:
        vent = min(sorbent.service_temperature - VENT_MARGIN, HOTTEST_VENT)
        design = replace(design, vent_temperature=vent)
    return design, sorbent.in_layer(design.layer_thickness)


def box_air(design: PassiveBox, site: Surroundings) -> AirRecord:
    """Make the surroundings of a box: sun through its cover, wind at its height."""
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
        reflectors=Reflectors(
            design.concentration, design.reflector_reflectance, design.reflector_acceptance
        ),
    )


def rule(design: PassiveBox) -> StateRule:
    """Give the pressure rule: open while the bed's pressure lies below a share of the outdoor pressure."""
    return StateRule(design.pressure_ratio, design.pressure_ratio + SWITCH_BAND, design.dwell)


def sky_area(design: PassiveBox) -> float:
    """Glass, and the condenser's outside as far as it sees the sky, per m2 of basis [1]."""
    return 1.0 + design.condenser_outer_area * design.condenser_sky_view


def accounts(run: Bucketed) -> Accounts:
    """Read the box's water and release heat from its flows."""
    flow = run.flow
    onto = {
        name: flow(name)
        for name in ("condensation", "glazing_condensation", "air_to_condenser", "air_to_glazing")
    }
    drained = flow("glazing_drained")
    gutter = run.design.glazing_gutter
    bed = flow("air_to_bed")
    dew = total_of(np.maximum(onto[name], 0.0) for name in ("air_to_condenser", "air_to_glazing"))
    lost_dew = total_of(np.maximum(-onto[name], 0.0) for name in ("air_to_condenser", "air_to_glazing"))
    closed_leak = flow("leak", CLOSED)
    # The open gap breathes: what it gives while open counts with what the open bed gives.
    aired = flow("leak") - closed_leak
    water = {
        "water_taken_up": (
            np.maximum(bed, 0.0) + dew + flow("rain_on_bed") + np.maximum(-aired, 0.0),
            "Water taken from the open air by bed, surfaces and gap",
        ),
        "water_condensed": (
            total_of(np.maximum(each, 0.0) for each in onto.values()),
            "Water condensed on all surfaces",
        ),
        "water_reevaporated": (
            total_of(np.maximum(-each, 0.0) for each in onto.values()),
            "Water that evaporated from surfaces again",
        ),
        "water_collected": (
            flow("collected") + (drained if gutter else 0.0),
            "Water that ran into the gutter",
        ),
        "water_leaked": (closed_leak, "Vapour that leaked from the closed box"),
        "water_vented": (flow("vent"), "Vapour lost through the over-temperature vent"),
        "water_released_open": (
            np.maximum(-bed, 0.0) + lost_dew + np.maximum(aired, 0.0),
            "Water given back to the open air",
        ),
        "water_run_off": (
            flow("bed_runoff") + (0.0 if gutter else drained),
            "Water that dripped to the ground",
        ),
    }
    heat = (
        flow("sun_absorber", CLOSED)
        - flow("cover_radiation", CLOSED)
        - flow("cover_convection", CLOSED)
        - flow("edge_loss", CLOSED)
    )
    words = "Heat that reached the bed while closed: sun less losses through cover and edges"
    return Accounts(water, (heat, words))


def total_of(parts: Iterable[Array]) -> Array:
    """Add up flows, hour by hour."""
    return np.sum(list(parts), axis=0)


# Words for a way of heat into a part and out of it: most ways run in both directions through a year.
HEAT_WORDS: Final = {
    "bed_temperature": {
        "sun_absorber": ("Sun that the absorber takes", ""),
        "sorption": ("Heat of the vapour taken up", "Giving off vapour"),
        "cover_radiation": ("From the glass by radiation", "To the glass by radiation"),
        "cover_convection": ("From the glass through the air", "To the glass through the air"),
        "rear_radiation": ("From the condenser by radiation", "To the condenser by radiation"),
        "rear_convection": ("From the condenser through the air", "To the condenser through the air"),
        "edge_loss": ("Through edges and back", "Through edges and back"),
        "bed_convection": ("From the outdoor air while open", "To the outdoor air while open"),
        "bed_longwave": ("From the sky while open", "To the sky while open"),
        "leak_heat_bed": ("With air that leaks and vents", "With air that leaks and vents"),
    },
    "condenser_temperature": {
        "sun_condenser": ("Stray sun", ""),
        "condensation": ("Heat of the vapour condensed", "Evaporating water again"),
        "rear_radiation": ("From the bed by radiation", "To the bed by radiation"),
        "rear_convection": ("From the bed through the air", "To the bed through the air"),
        "condenser_convection": ("From the outdoor air", "To the outdoor air by convection"),
        "condenser_longwave": ("From sky and ground", "To sky and ground by radiation"),
        "leak_heat_condenser": ("With air that leaks and vents", "With air that leaks and vents"),
        "air_vapour_to_condenser": ("Dew from the open air", "Drying in the open air"),
        "collected_heat": ("In the water collected", "In the water collected"),
    },
}

HARVESTER: Final = Harvester(
    kind=PASSIVE_BOX,
    fitted=fitted,
    air=box_air,
    plan=schedule,
    numbers=box_numbers,
    rule=rule,
    audited_flows=audited_flows,
    audited_stocks=audited_stocks,
    boundary=boundary,
    accounts=accounts,
    drives=("sun_absorber", "sun_glazing", "sun_condenser"),
    takes_sun=True,
    sky_area=sky_area,
    citations=("Hollands1976", "Watmuff1977", "Walton1983", "Brandemuehl1980", "Duffie2013"),
    heat_parts={"bed_temperature": "bed", "condenser_temperature": "condenser"},
    heat_words=HEAT_WORDS,
    water_words={
        "water_leaked": "Leaked as vapour while closed",
        "water_vented": "Lost through the over-temperature vent",
        "water_released_open": "Given back to the open air",
        "water_run_off": "Dripped to the ground",
    },
)
