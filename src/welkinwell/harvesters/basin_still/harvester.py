"""The basin still as the year sees it: surroundings, audit and accounts."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from welkinwell.harvesters.air import AirRecord, Surroundings, device_air
from welkinwell.harvesters.basin_still.audit import audited_flows, audited_stocks, boundary
from welkinwell.harvesters.basin_still.design import BasinStill
from welkinwell.harvesters.basin_still.flows import BASIN_STILL, still_numbers
from welkinwell.harvesters.harvester import Accounts, Bucketed, Harvester, StateRule
from welkinwell.harvesters.operation import CLOSED, Schedule
from welkinwell.sky.plane import CoverOptics


def fitted(design: BasinStill, sorbent: Any) -> tuple[BasinStill, Any]:
    """Give the design as it is: nothing in it is left open."""
    return design, sorbent


def still_air(design: BasinStill, site: Surroundings) -> AirRecord:
    """Make the surroundings of a still: sun through its glass, wind at its height."""
    return device_air(
        site,
        tilt=design.tilt,
        azimuth=design.azimuth(site.latitude),
        cover=CoverOptics(
            design.glazing_thickness, design.glazing_refractive_index, design.glazing_extinction
        ),
        absorptance=design.basin_absorptance,
        soiling=design.soiling,
        device_height=design.device_height,
        terrain=design.terrain,
        shelter=design.shelter,
    )


def plan(_: BasinStill, air: AirRecord) -> Schedule:
    """Leave the still shut at all times."""
    return Schedule(np.array([0.0]), np.array([CLOSED]))


def rule(_: BasinStill) -> StateRule:
    """Give a rule that never moves a still."""
    return StateRule(-1.0, 1.0, 60.0)


def accounts(run: Bucketed) -> Accounts:
    """Read the still's water from its flows: what it takes up is the make-up water of its basin."""
    over, came = run.flow("distillation"), run.flow("make_up")
    return Accounts(
        {
            "water_taken_up": (np.maximum(came, 0.0), "Make-up water that came into the basin"),
            "water_condensed": (np.maximum(over, 0.0), "Water condensed on the glass"),
            "water_reevaporated": (np.maximum(-over, 0.0), "Water that went back from the glass"),
            "water_collected": (run.flow("collected"), "Water that ran into the gutter"),
            "water_overflowed": (np.maximum(-came, 0.0), "Water that ran over the basin's edge"),
        }
    )


HEAT_WORDS: Final = {
    "basin_temperature": {
        "sun_basin": ("Sun that basin and water take", ""),
        "distillation": ("Heat of vapour from the glass", "Heat of the vapour that left"),
        "basin_radiation": ("From the glass by radiation", "To the glass by radiation"),
        "basin_convection": ("From the glass through the air", "To the glass through the air"),
        "base_loss": ("Through bottom and sides", "Through bottom and sides"),
        "make_up_heat": ("In the make-up water", "In the make-up water"),
    },
}

HARVESTER: Final = Harvester(
    kind=BASIN_STILL,
    fitted=fitted,
    air=still_air,
    plan=plan,
    numbers=still_numbers,
    rule=rule,
    audited_flows=audited_flows,
    audited_stocks=audited_stocks,
    boundary=boundary,
    accounts=accounts,
    drives=("sun_basin", "sun_glazing"),
    takes_sun=True,
    citations=("Hollands1976", "Watmuff1977", "Walton1983", "Bird2002"),
    heat_parts={"basin_temperature": "basin"},
    heat_words=HEAT_WORDS,
    water_words={"water_overflowed": "Ran over the basin's edge"},
)
