"""The cooling coil as the year sees it: surroundings and schedule, audit and accounts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from welkinwell.harvesters.air import AirRecord, Surroundings, device_air
from welkinwell.harvesters.cooling_coil.audit import audited_flows, audited_stocks, boundary
from welkinwell.harvesters.cooling_coil.design import CoolingCoil
from welkinwell.harvesters.cooling_coil.flows import COOLING_COIL, coil_numbers
from welkinwell.harvesters.harvester import Accounts, Bucketed, Harvester, StateRule
from welkinwell.harvesters.operation import BY_STATE, OPEN, Schedule, schedule
from welkinwell.harvesters.power_cuts import Unpowered


def fitted(design: CoolingCoil, sorbent: Any) -> tuple[CoolingCoil, Any]:
    """Give the design as it is: a machine leaves nothing open."""
    return design, sorbent


def coil_air(_: CoolingCoil, site: Surroundings) -> AirRecord:
    """Make the surroundings of a machine: sun and wind do not matter to it."""
    return device_air(
        site,
        tilt=0.0,
        azimuth=0.0,
        cover=None,
        absorptance=0.0,
        soiling=0.0,
        device_height=2.0,
        terrain="open",
        shelter=1.0,
    )


@dataclass(frozen=True)
class _Allowed:
    """The hours in which the clock lets a machine run, as the schedule reads them."""

    open_at: float
    close_at: float
    operation: str = "clock"
    closed_in_rain: bool = False


def plan(design: CoolingCoil, air: AirRecord) -> Schedule:
    """Leave it to dew point and frost, round the clock or within its hours."""
    if design.operation == "dew_point":
        return Schedule(np.array([0.0]), np.array([BY_STATE], dtype=np.int64))
    hours = schedule(_Allowed(design.open_at, design.close_at), air)
    return Schedule(hours.switch_times, np.where(hours.switch_modes == OPEN, BY_STATE, hours.switch_modes))


def rule(design: CoolingCoil) -> StateRule:
    """Run while the drive of the flows module lies between its two ends, never in shorter spells."""
    return StateRule(0.0, 1.0, design.shortest_run)


def unpowered(design: CoolingCoil) -> Unpowered:
    """Machine off: no defrosting and no control; air drifts through as it does between two runs."""
    return Unpowered(replace(design, defrost_power=0.0, control_power=0.0), 0)


def accounts(run: Bucketed) -> Accounts:
    """Read the machine's water and electricity from its flows."""
    flow = run.flow
    onto = [flow("air_to_coil", mode) for mode in (0, 1)]
    taken = np.maximum(onto[0], 0.0) + np.maximum(onto[1], 0.0)
    dried = np.maximum(-onto[0], 0.0) + np.maximum(-onto[1], 0.0)
    return Accounts(
        water={
            "water_taken_up": (taken, "Water condensed on the coil"),
            "water_condensed": (taken, "Water condensed on the coil"),
            "water_reevaporated": (dried, "Water that dried from the coil again"),
            "water_collected": (flow("collected"), "Water that ran into the gutter"),
            "water_released_open": (dried, "Water that dried from the coil again"),
        },
        electricity={
            "cooling": flow("cooling_power"),
            "coil_fan": flow("coil_fan_power"),
            "condenser_fan": flow("condenser_fan_power"),
            "defrost": flow("defrost_heat"),
            "coil_control": flow("control_power"),
        },
    )


HEAT_WORDS: Final = {
    "coil_temperature": {
        "air_heat_to_coil": ("Sensible heat of the air", "Sensible heat of the air"),
        "air_vapour_to_coil": ("Heat of the vapour condensed", "Drying"),
        "defrost_heat": ("Defrosting", ""),
        "coil_to_evaporator": ("From the cold side", "To the cold side"),
        "collected_heat": ("In the water collected", "In the water collected"),
    },
    "rejection_temperature": {
        "pumped_heat": ("Heat pumped from the coil", "Heat that leaks back"),
        "cooling_power": ("Electricity of compressor or modules", ""),
        "rejected_heat": ("From the air", "To the air"),
    },
}

HARVESTER: Final = Harvester(
    kind=COOLING_COIL,
    fitted=fitted,
    air=coil_air,
    plan=plan,
    numbers=coil_numbers,
    rule=rule,
    audited_flows=audited_flows,
    audited_stocks=audited_stocks,
    boundary=boundary,
    accounts=accounts,
    drives=("cooling_power", "air_heat_to_coil", "air_vapour_to_coil", "rejected_heat"),
    takes_sun=False,
    unpowered=unpowered,
    citations=("ASHRAE2017", "Stoecker1982", "Bell2014", "Chilton1934", "Goldsmid2010"),
    heat_parts={"coil_temperature": "coil", "rejection_temperature": "heat rejection"},
    heat_words=HEAT_WORDS,
    water_words={"water_released_open": "Dried from the coil while it was off"},
)
