"""What studies ask of the liquid desiccant: losses, what may be eased, uncertain parameters, ranges."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from welkinwell.constants import GRAVITY
from welkinwell.harvesters.changes import Change, both, other_fields, rate_times, scale_fields, set_fields
from welkinwell.harvesters.easings import Easing
from welkinwell.harvesters.liquid_desiccant.bounds import bounds_of, size_bounds
from welkinwell.harvesters.losses import CLEAR_GLASS, QUICK, Loss
from welkinwell.harvesters.noises import fan, fan_of_power
from welkinwell.harvesters.study import Effort, Study, always
from welkinwell.harvesters.uncertain_parameters import (
    FACTOR,
    PRACTICE,
    SOILING,
    WIND_COEFFICIENT,
    UncertainParameter,
)
from welkinwell.supply.sound_level import Noise


def _larger_store(times: float) -> Change:
    """Enlarge tank and its salt; the still keeps its own, so that the solution is as strong as before."""

    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        salt = design.still_salt + times * design.store_salt
        return replace(design, salt_mass=salt, store_volume=times * design.store_volume), sorbent

    return change


def _noises(d: Any, sorbent: Any) -> list[Noise]:
    from welkinwell.harvesters.liquid_desiccant.flows import night_flow

    area, eta = d.basis_area, d.fan_efficiency
    lifted = GRAVITY * d.pump_head / d.pump_efficiency * area
    by_night = night_flow(d)
    by_day = d.day_circulation + (by_night if d.absorbs_by_day else 0.0)
    found = [
        Noise("Pump, absorbing", "pump", "pump", "open", lifted * by_night),
        Noise("Pump, still", "pump", "pump", "closed", lifted * by_day),
    ]
    if d.absorber_air == "fan" and d.absorber != "tray":
        flow = d.fan_flow * area
        phase = "" if d.absorbs_by_day else "open"
        found.append(fan("Fan of the absorber", "fan", flow, flow * d.fan_pressure / eta, eta, phase))
    if d.condenser == "separate":
        found.append(fan_of_power("Fan of the condenser", "fan", d.condenser_power * area, eta, "closed"))
    return found


_PARAMETERS: Final = (
    WIND_COEFFICIENT,
    UncertainParameter(
        "absorber_area",
        "Wetted share of the absorber",
        "heat and mass transfer",
        FACTOR,
        f"20 %: films break up; {PRACTICE}",
        0.2,
        change=other_fields("absorber_area"),
    ),
    UncertainParameter(
        "still_gap",
        "Vapour's way from brine to glass",
        "heat and mass transfer",
        FACTOR,
        f"20 % on the transfer across the gap; {PRACTICE}",
        0.2,
        change=other_fields("still_gap"),
    ),
    UncertainParameter(
        "edge_loss",
        "Loss through bottom and edges",
        "heat and mass transfer",
        FACTOR,
        f"40 %: workmanship; {PRACTICE}",
        0.4,
        change=other_fields("edge_loss"),
    ),
    UncertainParameter(
        "leak",
        "Leak of the still",
        "upkeep",
        FACTOR,
        f"a factor of two either way; {PRACTICE}",
        0.7,
        change=other_fields("leak"),
    ),
    SOILING,
)


_LOSSES: Final = (
    Loss(
        "optical",
        "Sun that does not reach the solution",
        "clear, clean, non-reflecting glass that no drops dim; a black still",
        set_fields(**CLEAR_GLASS, still_absorptance=1.0, wet_glass_loss=0.0),
    ),
    Loss(
        "heat",
        "Heat lost by still and tank",
        "no edge loss, no loss of the tank, next to no radiation from the solution to the glass",
        set_fields(edge_loss=0.0, tank_loss=0.0, still_emissivity=0.01),
    ),
    Loss(
        "exchange",
        "Heat that goes with the solution, and warms the plate",
        "a heat exchanger of 0.99, a tenth of the plate's heat capacity",
        both(set_fields(exchanger_effectiveness=0.99), scale_fields(still_heat=0.1)),
    ),
    Loss(
        "condenser",
        "Glass or condenser warmer than the air",
        "ten times the wind's cooling of the glass, a thousand times a separate condenser's area",
        scale_fields(wind_constant=10.0, wind_slope=10.0, condenser_outer_area=1000.0),
    ),
    Loss(
        "surfaces",
        "Leak and water left on surfaces",
        "no leak, next to no hold-up",
        set_fields(leak=0.0, condenser_holdup=1e-3, glazing_holdup=1e-3),
    ),
    Loss(
        "kinetics",
        "Slow diffusion in the solution",
        "a hundred times the rate",
        QUICK,
    ),
    Loss(
        "absorber",
        "Too little absorber, air or salt for the night",
        "three times absorber, its face, its fan, the salt in tank and absorber and the tank",
        both(scale_fields(absorber_area=3.0, absorber_face=3.0, fan_flow=3.0), _larger_store(3.0)),
    ),
)


_EASINGS: Final = (
    Easing("sorbent", "Amount of salt", "twice the salt in a tank twice as large", _larger_store(2.0)),
    Easing(
        "air",
        "Air reaching the solution",
        "twice the absorber, its face and its fan",
        scale_fields(absorber_area=2.0, absorber_face=2.0, fan_flow=2.0),
    ),
    Easing("kinetics", "Diffusion in the solution", "ten times the rate", rate_times(10.0)),
    Easing(
        "heat",
        "Heat by day",
        "0.4 of edge and tank loss, clean glass, twice the way of supplied heat",
        scale_fields(edge_loss=0.4, tank_loss=0.4, soiling=0.0, heat_conductance=2.0),
    ),
    Easing(
        "exchange",
        "Heat lost with the solution",
        "a heat exchanger of 0.95",
        set_fields(exchanger_effectiveness=0.95),
    ),
    Easing("gap", "Way from solution to glass", "half the gap", scale_fields(still_gap=0.5)),
    Easing(
        "condenser",
        "Cold condenser",
        "twice the wind's cooling, three times a separate condenser",
        scale_fields(wind_constant=2.0, wind_slope=2.0, condenser_outer_area=3.0),
    ),
    Easing(
        "losses",
        "Leak and water left on surfaces",
        "no leak, no hold-up",
        set_fields(leak=0.0, condenser_holdup=0.001, glazing_holdup=0.001),
    ),
)


STUDY: Final = Study(
    losses=_LOSSES,
    easings=_EASINGS,
    parameters=_PARAMETERS,
    ranges=(
        ("salt_mass", 2.0, 20.0),
        ("absorber_area", 1.0, 10.0),
        ("still_gap", 0.03, 0.15),
        ("still_salt", 0.3, 3.0),
    ),
    effort=Effort(27.0, 2.9, 1.6),
    bounds=bounds_of,
    size_bounds=size_bounds,
    sun_plane=always,
    reasons={
        "sorbent": "the solution is diluted before the night ends or strong before the day does",
        "air": "too little vapour reaches the solution at night",
        "kinetics": "water moves too slowly inside the solution",
        "heat": "too little heat stays in the still",
        "gap": "vapour reaches the glass or the condenser too slowly",
        "condenser": "what the vapour condenses on is too warm",
    },
    noises=_noises,
)
