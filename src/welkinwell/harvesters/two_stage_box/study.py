"""What studies ask of the two-stage solar box: losses, what may be eased, uncertain parameters, ranges."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from welkinwell.harvesters.changes import both, other_fields, scale_fields, set_fields
from welkinwell.harvesters.easings import AMPLE, FASTER, Easing
from welkinwell.harvesters.losses import BED, KINETICS, OPTICAL, Loss, lighter
from welkinwell.harvesters.passive_box.study import PARAMETERS as OF_ONE_STAGE
from welkinwell.harvesters.study import Effort, Study, always
from welkinwell.harvesters.two_stage_box.bounds import bounds_of, size_bounds

# What a passive box has under other names is changed in both stages; the rest is the passive box's own.
_OF_BOTH_STAGES: Final = {
    "rear_gap": other_fields("first_gap", "second_gap"),
    "edge_loss": other_fields("first_edge_loss", "second_edge_loss"),
    "holdup": other_fields("holdup"),
}


_PARAMETERS: Final = (
    *(replace(one, change=_OF_BOTH_STAGES.get(one.key, one.change)) for one in OF_ONE_STAGE),
)


_LOSSES: Final = (
    OPTICAL,
    Loss(
        "heat",
        "Heat lost through cover and edges",
        "no radiation, convection or edge loss from absorber and plate",
        set_fields(
            absorber_emissivity=1e-4, first_edge_loss=0.0, second_edge_loss=0.0, front_insulation=1e-3
        ),
    ),
    Loss(
        "sensible",
        "Heat that warms sorbent and metal",
        "a hundredth of their heat capacity",
        lighter(bed_metal=0.01, plate_metal=0.01),
    ),
    Loss(
        "condenser",
        "Plate and condenser warmer than the air",
        "a condenser at air temperature, no radiation down to it or to the plate",
        both(
            scale_fields(condenser_outer_area=1000.0), set_fields(condenser_stray_sun=0.0, gap_emissivity=0.0)
        ),
    ),
    Loss(
        "surfaces",
        "Leak and water left on surfaces",
        "no leak, next to no hold-up",
        set_fields(leak=0.0, holdup=1e-3),
    ),
    KINETICS,
    BED,
)


_EASINGS: Final = (
    AMPLE,
    Easing(
        "air",
        "Air reaching the beds at night",
        "the whole layers freely exposed",
        set_fields(bed_effectiveness=1.0),
    ),
    FASTER,
    Easing(
        "heat",
        "Heat by day",
        "0.4 of the absorber's emissivity and of the edge losses, clean glass",
        scale_fields(absorber_emissivity=0.4, first_edge_loss=0.4, second_edge_loss=0.4, soiling=0.0),
    ),
    Easing(
        "gap",
        "Way from beds to plate and condenser",
        "half the gaps",
        scale_fields(first_gap=0.5, second_gap=0.5),
    ),
    Easing(
        "condenser", "Cold condenser", "three times the outer area", scale_fields(condenser_outer_area=3.0)
    ),
    Easing(
        "losses", "Leak and water left on surfaces", "no leak, no hold-up", set_fields(leak=0.0, holdup=0.001)
    ),
)


STUDY: Final = Study(
    losses=_LOSSES,
    easings=_EASINGS,
    parameters=_PARAMETERS,
    ranges=(
        ("layer_thickness", 0.5e-3, 6e-3),
        ("bed_area", 1.0, 8.0),
        ("second_share", 0.1, 0.9),
        ("tilt", 0.0, math.radians(60.0)),
        ("condenser_outer_area", 1.0, 6.0),
        ("first_gap", 0.005, 0.06),
    ),
    effort=Effort(38.0, 1.8, 0.63),
    bounds=bounds_of,
    size_bounds=size_bounds,
    sun_plane=always,
)
