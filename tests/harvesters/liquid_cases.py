"""Liquid desiccants that several tests share."""

from dataclasses import replace
from functools import cache

import numpy as np

from box_cases import site_of, steady_air
from welkinwell.harvesters.liquid_desiccant.design import LiquidDesiccant
from welkinwell.harvesters.operation import Schedule
from welkinwell.simulation import march_year, prepare
from welkinwell.sorbents.sorbent import sorbent

HOURS = 3600.0
DESIGNS = {
    "plain": {},
    "heated, packed, separate": {
        "regenerator": "heated_film",
        "operation": "clock",
        "absorber": "packed",
        "absorber_air": "fan",
        "absorbs_by_day": True,
        "condenser": "separate",
        "condenser_power": 2.0,
    },
    "tray, membrane": {
        "regenerator": "membrane",
        "operation": "clock",
        "absorber": "tray",
        "absorber_area": 2.0,
        "absorber_sky_area": 2.0,
        "still_mixing": 0.0,
    },
}


@cache
def ready_of(name="plain", brine="licl_brine", place="coast"):
    return prepare(LiquidDesiccant(**DESIGNS[name]), sorbent(brine), site_of(place))


def made(brine="licl_brine", place="coast", **fields):
    """A prepared liquid desiccant."""
    return prepare(LiquidDesiccant(**fields), sorbent(brine), site_of(place))


def in_steady_air(ready, days, mode, **air):
    """The same device in air that never changes and a mode that never changes."""
    plan = Schedule(np.array([0.0]), np.array([mode]))
    return replace(ready, air=steady_air(days, **air), plan=plan)


def ran(ready, hours=None, tolerance=3e-3, start=None):
    """March and give the hourly states and the flow totals by name [kg/m2 or J/m2]."""
    start, result = march_year(ready, tolerance=tolerance, last_hour=hours, start=start)
    names = [flow.name for flow in ready.harvester.kind.flows]
    totals = dict(zip(names, result.flows.sum(axis=(0, 1)), strict=True))
    unknowns = [unknown.name for unknown in ready.harvester.kind.unknowns]
    states = dict(zip(unknowns, result.states.T, strict=True))
    return start, states, totals


def collected(totals):
    return totals["collected"] + totals["glazing_drained"]
