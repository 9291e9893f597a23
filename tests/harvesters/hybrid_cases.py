"""Hybrids that several tests share."""

from dataclasses import replace
from functools import cache

import numpy as np

from box_cases import SILICA, site_of, steady_air
from welkinwell.harvesters.hybrid.design import Hybrid
from welkinwell.harvesters.operation import Schedule
from welkinwell.simulation import march_year, prepare
from welkinwell.sorbents.sorbent import sorbent

DESIGNS = {
    "heat pump": {},
    # hot and leaky, so that the vent opens; electricity at any price
    "resistance": {
        "top_up": "resistance",
        "top_up_limit": 2.0 * 3.6e6,
        "top_up_below": 368.15,
        "radiator_by_day": False,
        "vent_temperature": 345.15,
        "operation": "clock",
        "loop_recovery": 0.0,
    },
}


@cache
def ready_of(name="heat pump", material=SILICA, place="coast"):
    return prepare(Hybrid(**DESIGNS[name]), sorbent(material), site_of(place))


def made(material=SILICA, place="coast", **fields):
    """A prepared hybrid."""
    return prepare(Hybrid(**fields), sorbent(material), site_of(place))


def in_steady_air(ready, days, mode, **air):
    """The same device in air that never changes and a mode that never changes."""
    plan = Schedule(np.array([0.0]), np.array([mode]))
    return replace(ready, air=steady_air(days, **air), plan=plan)


def ran(ready, hours=None, tolerance=3e-3, start=None):
    """March and give the end, the hourly states and the flow totals by name [kg/m2 or J/m2]."""
    _, result = march_year(ready, tolerance=tolerance, last_hour=hours, start=start)
    kind = ready.harvester.kind
    totals = dict(zip([f.name for f in kind.flows], result.flows.sum(axis=(0, 1)), strict=True))
    states = dict(zip([u.name for u in kind.unknowns], result.states.T, strict=True))
    return result.state, states, totals
