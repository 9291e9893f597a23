"""The two-stage box as the year sees it: its surroundings and schedule, its audit and its accounts."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import xarray as xr

from welkinwell.harvesters.air import AirRecord, Surroundings, device_air
from welkinwell.harvesters.harvester import Accounts, Bucketed, Harvester, StateRule
from welkinwell.harvesters.operation import CLOSED, schedule
from welkinwell.harvesters.passive_box.harvester import HEAT_WORDS as OF_ONE_STAGE
from welkinwell.harvesters.passive_box.harvester import fitted, total_of
from welkinwell.harvesters.two_stage_box.audit import audited_flows, audited_stocks, boundary
from welkinwell.harvesters.two_stage_box.design import TwoStageBox
from welkinwell.harvesters.two_stage_box.flows import TWO_STAGE_BOX, two_stage_numbers
from welkinwell.sky.plane import CoverOptics


def box_air(design: TwoStageBox, site: Surroundings) -> AirRecord:
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


def rule(design: TwoStageBox) -> StateRule:
    """No rule on the state: sun or clock decide."""
    return StateRule(0.0, np.inf, 0.0)


def sky_area(design: TwoStageBox) -> float:
    """Glass, and the condenser's outside as far as it sees the sky, per m2 of basis [1]."""
    return 1.0 + design.condenser_outer_area * design.condenser_sky_view


def accounts(run: Bucketed) -> Accounts:
    """Read the box's water and release heat from its flows."""
    flow = run.flow
    onto = [flow(name) for name in ("plate_condensation", "condensation", "air_to_plate", "air_to_condenser")]
    beds = [flow("air_to_bed"), flow("air_to_second_bed")]
    shut = flow("leak", CLOSED) + flow("second_leak", CLOSED)
    aired = flow("leak") + flow("second_leak") - shut
    gained, lost = (
        total_of(np.maximum(sign * each, 0.0) for each in beds + onto[2:]) for sign in (1.0, -1.0)
    )
    water = {
        "water_taken_up": (
            gained + np.maximum(-aired, 0.0),
            "Water taken from the open air by beds, surfaces and gaps",
        ),
        "water_condensed": (
            total_of(np.maximum(each, 0.0) for each in onto),
            "Water condensed in both stages",
        ),
        "water_reevaporated": (
            total_of(np.maximum(-each, 0.0) for each in onto),
            "Water that evaporated from surfaces again",
        ),
        "water_collected": (
            flow("plate_collected") + flow("collected"),
            "Water that ran into the gutters of both stages",
        ),
        "water_leaked": (shut, "Vapour that leaked from the closed box"),
        "water_vented": (flow("vent"), "Vapour lost through the over-temperature vent"),
        "water_released_open": (lost + np.maximum(aired, 0.0), "Water given back to the open air"),
    }
    heat = (
        flow("sun_absorber", CLOSED)
        - flow("cover_radiation", CLOSED)
        - flow("cover_convection", CLOSED)
        - flow("edge_loss", CLOSED)
    )
    words = "Heat that reached the first bed while closed: sun less losses through cover and edges"
    return Accounts(water, (heat, words))


def notes(design: TwoStageBox, sorbent: Any, year: xr.Dataset) -> list[str]:
    """Say what each stage gave."""
    first, second = (float(year[name].sum()) for name in ("plate_collected", "collected"))
    if first + second <= 0.0:
        return []
    return [
        f"The first stage gives {100 * first / (first + second):.0f} % of the litres and the second, emptied"
        f" by the heat of the first one's condensing, {100 * second / (first + second):.0f} %."
    ]


HEAT_WORDS: Final = {
    "bed_temperature": {
        **{
            name: words
            for name, words in OF_ONE_STAGE["bed_temperature"].items()
            if not name.startswith("rear_") and name != "bed_longwave"
        },
        "first_radiation": ("From the plate by radiation", "To the plate by radiation"),
        "first_convection": ("From the plate through the air", "To the plate through the air"),
    },
    "plate_temperature": {
        "plate_condensation": ("Heat of the first stage's vapour", "Evaporating water again"),
        "first_radiation": ("From the first bed by radiation", "To the first bed by radiation"),
        "first_convection": ("From the first bed through the air", "To the first bed through the air"),
        "second_sorption": ("Heat of the vapour taken up", "Giving off vapour"),
        "rear_radiation": ("From the condenser by radiation", "To the condenser by radiation"),
        "rear_convection": ("From the condenser through the air", "To the condenser through the air"),
        "plate_edge_loss": ("Through its edges", "Through its edges"),
        "plate_convection": ("From the outdoor air while open", "To the outdoor air while open"),
        "leak_heat_plate": ("With air that leaks and vents", "With air that leaks and vents"),
        "plate_collected_heat": ("In the water collected", "In the water collected"),
    },
    "condenser_temperature": OF_ONE_STAGE["condenser_temperature"],
}

HARVESTER: Final = Harvester(
    kind=TWO_STAGE_BOX,
    fitted=fitted,
    air=box_air,
    plan=schedule,
    numbers=two_stage_numbers,
    rule=rule,
    audited_flows=audited_flows,
    audited_stocks=audited_stocks,
    boundary=boundary,
    accounts=accounts,
    drives=("sun_absorber", "sun_glazing", "sun_condenser"),
    takes_sun=True,
    sky_area=sky_area,
    citations=("LaPotin2021", "Hollands1976", "Watmuff1977", "Walton1983", "Brandemuehl1980", "Duffie2013"),
    heat_parts={
        "bed_temperature": "first bed",
        "plate_temperature": "plate with second bed",
        "condenser_temperature": "condenser",
    },
    heat_words=HEAT_WORDS,
    water_words={
        "water_leaked": "Leaked as vapour while closed",
        "water_vented": "Lost through the over-temperature vent",
        "water_released_open": "Given back to the open air",
    },
    notes=notes,
)
