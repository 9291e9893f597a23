"""The dew condenser as the year sees it: surroundings and schedule, audit and accounts."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

import numpy as np

from welkinwell.constants import LATENT_HEAT_AT_FREEZING, STEFAN_BOLTZMANN
from welkinwell.harvesters.air import LONGWAVE, TEMPERATURE, AirRecord, Surroundings, device_air
from welkinwell.harvesters.dew_condenser.audit import audited_flows, audited_stocks, boundary
from welkinwell.harvesters.dew_condenser.design import DewCondenser
from welkinwell.harvesters.dew_condenser.flows import DEW_CONDENSER, sheet_numbers
from welkinwell.harvesters.harvester import Accounts, Array, Bucketed, Harvester, StateRule
from welkinwell.harvesters.operation import schedule


def fitted(design: DewCondenser, sorbent: Any) -> tuple[DewCondenser, Any]:
    """Set the sheet's view of the sky where the design leaves it to the tilt."""
    return replace(design, sky_view=design.seen_sky), sorbent


def sheet_air(design: DewCondenser, site: Surroundings) -> AirRecord:
    """Make the surroundings of a sheet: sun on its bare plane, wind at its height."""
    return device_air(
        site,
        tilt=design.tilt,
        azimuth=design.azimuth(site.latitude),
        cover=None,
        absorptance=design.solar_absorptance + design.soiling,
        soiling=0.0,
        device_height=design.device_height,
        terrain=design.terrain,
        shelter=design.shelter,
    )


def rule(_: DewCondenser) -> StateRule:
    """Give a rule that never moves a sheet: the schedule says all."""
    return StateRule(-1.0, 1.0, 60.0)


def radiative_ceiling(design: DewCondenser, air: AirRecord) -> Array:
    """Dew that the sheet's net radiation could condense if nothing warmed it [kg/m2 an hour], shape (hours,).

    e [sigma T_a^4 - F L_sky - (1 - F) sigma T_a^4]/L_0: a sheet no warmer than the air radiates no more, air
    and insulation only add heat, and water takes at least L_0 less its own cooling, 0.1 %/K. What a sheet
    that cools gives up comes on top: heat capacity times its fall.
    source: docs/theory/dew_condenser.md, 5
    """
    nodes = air.nodes
    black = STEFAN_BOLTZMANN * nodes[:, TEMPERATURE] ** 4
    net = design.emissivity * design.seen_sky * np.maximum(black - nodes[:, LONGWAVE], 0.0)
    hourly = 0.25 * (net[0:-1:2] + 2.0 * net[1::2] + net[2::2])
    return hourly * 3600.0 / LATENT_HEAT_AT_FREEZING


def sky_area(_: DewCondenser) -> float:
    """The sheet itself, per m2 of basis [1]."""
    return 1.0


def accounts(run: Bucketed) -> Accounts:
    """Read the sheet's water from its flows."""
    dew = run.flow("dew_on_sheet")
    fallen, dried = np.maximum(dew, 0.0), np.maximum(-dew, 0.0)
    return Accounts(
        {
            "water_taken_up": (fallen, "Dew and frost on the sheet"),
            "water_condensed": (fallen, "Dew and frost on the sheet"),
            "water_reevaporated": (dried, "Dew that dried on the sheet"),
            "water_collected": (run.flow("collected"), "Water that ran into the gutter"),
            "water_released_open": (dried, "Dew that dried on the sheet"),
        }
    )


HEAT_WORDS: Final = {
    "sheet_temperature": {
        "sun_on_sheet": ("Sun that the sheet takes", ""),
        "sheet_longwave": ("From sky and ground by radiation", "To sky and ground by radiation"),
        "sheet_convection": ("From the air", "To the air"),
        "back_loss": ("Through the insulation", "Through the insulation"),
        "dew_heat": ("Heat of dew and frost", "Drying"),
        "collected_heat": ("In the water collected", "In the water collected"),
    }
}

HARVESTER: Final = Harvester(
    kind=DEW_CONDENSER,
    fitted=fitted,
    air=sheet_air,
    plan=schedule,
    numbers=sheet_numbers,
    rule=rule,
    audited_flows=audited_flows,
    audited_stocks=audited_stocks,
    boundary=boundary,
    accounts=accounts,
    drives=("sun_on_sheet", "sheet_longwave"),
    takes_sun=False,
    sky_area=sky_area,
    citations=("Watmuff1977", "Walton1983", "Chilton1934", "Muselli2002"),
    heat_parts={"sheet_temperature": "sheet"},
    heat_words=HEAT_WORDS,
    water_words={"water_released_open": "Dried on the sheet"},
)
