"""What studies ask of the passive solar box: losses, what may be eased, uncertain parameters, ranges."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, Final

from welkinwell.harvesters.changes import other_fields, scale_fields, set_fields
from welkinwell.harvesters.easings import AMPLE, FASTER, Easing
from welkinwell.harvesters.losses import BED, KINETICS, OPTICAL, Loss, lighter
from welkinwell.harvesters.passive_box.bounds import bounds_of, carried_once, size_bounds
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.study import Effort, Study, always
from welkinwell.harvesters.uncertain_parameters import (
    ABSORBER_EMISSIVITY,
    AGEING,
    FACTOR,
    MEMORY,
    PRACTICE,
    SOILING,
    WIND_COEFFICIENT,
    UncertainParameter,
)
from welkinwell.supply.safeguards import module_load

DRY: Final = 0.01  # kg/m2 of sorbent left in a bed that counts as dry: its water is a few grams


def _warm(design: Any, sorbent: Any) -> tuple[Any, Any]:
    left = 1e-3 if design.front_gap_sealed else 1.0
    return replace(design, absorber_emissivity=1e-4, edge_loss=0.0, front_insulation=left), sorbent


def _cold(design: Any, sorbent: Any) -> tuple[Any, Any]:
    return replace(
        design,
        condenser_outer_area=1000.0 * design.condenser_outer_area,
        condenser_stray_sun=0.0,
        bed_condenser_emissivity=0.0,
    ), sorbent


def _left_alone(design: PassiveBox) -> PassiveBox:
    """Leave a box alone: dry, shut by day, clean glass, tight, its vent stuck."""
    return replace(
        design,
        sorbent_mass=DRY,
        vent_air_changes=0.0,
        soiling=0.0,
        leak=0.0,
        operation="sun",
        close_above=0.0,
        closed_in_rain=True,
    )


def _load(design: PassiveBox, loading: float) -> dict[str, float]:
    return module_load(
        design.glazing_thickness,
        design.sorbent_mass,
        design.sorbent_mass * loading,
        design.bed_metal,
        design.condenser_mass,
    )


PARAMETERS: Final = (
    WIND_COEFFICIENT,
    UncertainParameter(
        "rear_gap",
        "Vapour's way from bed to condenser",
        "heat and mass transfer",
        FACTOR,
        f"20 % on the transfer across the gap; {PRACTICE}",
        0.2,
        change=other_fields("rear_gap"),
    ),
    UncertainParameter(
        "front_gap",
        "Convection under the cover",
        "heat and mass transfer",
        FACTOR,
        f"15 % on the transfer across the gap (Hollands1976); {MEMORY}",
        0.15,
        change=other_fields("front_insulation"),
    ),
    UncertainParameter(
        "effectiveness",
        "Share of the layer that the night air reaches",
        "heat and mass transfer",
        FACTOR,
        f"20 %: fins and flaps are not modelled one by one; {PRACTICE}",
        0.2,
        change=other_fields("bed_effectiveness", most=1.0),
    ),
    ABSORBER_EMISSIVITY,
    UncertainParameter(
        "edge_loss",
        "Loss through edges and back",
        "heat and mass transfer",
        FACTOR,
        f"40 %: workmanship; {PRACTICE}",
        0.4,
        change=other_fields("edge_loss"),
    ),
    UncertainParameter(
        "leak",
        "Leak of the closed box",
        "upkeep",
        FACTOR,
        f"a factor of two either way; {PRACTICE}",
        0.7,
        change=other_fields("leak"),
    ),
    UncertainParameter(
        "holdup",
        "Water that stays on the condenser",
        "upkeep",
        FACTOR,
        f"0.1 to 0.3 mm on glass; {MEMORY}",
        0.5,
        change=other_fields("condenser_holdup"),
    ),
    SOILING,
    AGEING,
)


_LOSSES: Final = (
    OPTICAL,
    Loss(
        "heat",
        "Heat lost through cover and edges",
        "no radiation, convection or edge loss from the absorber",
        _warm,
    ),
    Loss(
        "sensible",
        "Heat that warms sorbent and metal",
        "a hundredth of their heat capacity",
        lighter(bed_metal=0.01),
    ),
    Loss(
        "condenser",
        "Condenser warmer than the air",
        "a condenser at air temperature that the bed does not warm",
        _cold,
    ),
    Loss(
        "surfaces",
        "Leak and water left on surfaces",
        "no leak, next to no hold-up",
        set_fields(leak=0.0, condenser_holdup=1e-3, glazing_holdup=1e-3),
    ),
    KINETICS,
    BED,
)


_EASINGS: Final = (
    AMPLE,
    Easing(
        "air",
        "Air reaching the bed at night",
        "the whole layer freely exposed",
        set_fields(bed_effectiveness=1.0),
    ),
    FASTER,
    Easing(
        "heat",
        "Heat by day",
        "0.4 of the absorber's emissivity and of the edge loss, clean glass",
        scale_fields(absorber_emissivity=0.4, edge_loss=0.4, soiling=0.0),
    ),
    Easing("gap", "Way from bed to condenser", "half the gap", scale_fields(rear_gap=0.5, front_gap=1.0)),
    Easing(
        "condenser", "Cold condenser", "three times the outer area", scale_fields(condenser_outer_area=3.0)
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
    parameters=PARAMETERS,
    ranges=(
        ("layer_thickness", 0.5e-3, 8e-3),
        ("bed_area", 1.0, 8.0),
        ("tilt", 0.0, math.radians(60.0)),
        ("condenser_outer_area", 1.0, 6.0),
        ("absorber_emissivity", 0.05, 0.95),
        ("rear_gap", 0.01, 0.15),
    ),
    effort=Effort(60.0, 1.2, 0.16),
    bounds=bounds_of,
    size_bounds=size_bounds,
    sun_plane=always,
    depth_efforts={"layered": Effort(52.0, 2.8, 0.72)},
    # the one kind for which these are asked: a box that nobody tends, and its weight on a roof
    carried_once=carried_once,
    left_alone=_left_alone,
    load=_load,
)
