"""What studies ask of the hybrid: losses, what may be eased, uncertain parameters, ranges."""

from __future__ import annotations

import math
from typing import Any, Final

from welkinwell.harvesters.changes import both, other_fields, scale_fields, set_fields
from welkinwell.harvesters.easings import AMPLE, FASTER, Easing
from welkinwell.harvesters.hybrid.bounds import bounds_of, size_bounds
from welkinwell.harvesters.losses import CLEAR_GLASS, QUICK, Loss, lighter
from welkinwell.harvesters.noises import fan
from welkinwell.harvesters.study import Effort, Study, always
from welkinwell.harvesters.uncertain_parameters import (
    ABSORBER_EMISSIVITY,
    AGEING,
    CONDENSER_FILM,
    CONDENSER_INSIDE,
    FACTOR,
    MEMORY,
    PRACTICE,
    SOILING,
    UNIFORM,
    WIND_COEFFICIENT,
    UncertainParameter,
)
from welkinwell.supply.sound_level import Noise


def _noises(d: Any, sorbent: Any) -> list[Noise]:
    area, eta = d.basis_area, d.fan_efficiency
    night, loop = d.open_airflow * area, d.loop_airflow * area
    found = [
        fan("Fan, open", "fan", night, night * d.open_pressure / eta, eta, "open"),
        fan("Fan of the loop", "fan", loop, loop * d.loop_pressure / eta, eta, "closed"),
    ]
    if d.top_up == "heat_pump":
        found.append(
            Noise("Compressor of the heat pump", "compressor", "top_up", "closed", d.top_up_power * area)
        )
    return found


_PARAMETERS: Final = (
    WIND_COEFFICIENT,
    UncertainParameter(
        "front_gap",
        "Convection under the cover",
        "heat and mass transfer",
        FACTOR,
        f"as a gap 15 % wider or narrower (Hollands1976); {MEMORY}",
        0.15,
        change=other_fields("front_gap"),
    ),
    UncertainParameter(
        "bed_coefficient",
        "Transfer from the moving air to the layer",
        "heat and mass transfer",
        FACTOR,
        f"25 %: fins and flaps are not modelled one by one; {PRACTICE}",
        0.25,
        change=other_fields("bed_coefficient"),
    ),
    CONDENSER_INSIDE,
    UncertainParameter(
        "airflow",
        "Air that the fans move, filter and dust included",
        "upkeep",
        FACTOR,
        f"20 %; {PRACTICE}",
        0.2,
        change=other_fields("open_airflow", "loop_airflow"),
    ),
    UncertainParameter(
        "coupling",
        "Heat pipes to the night radiator",
        "heat and mass transfer",
        FACTOR,
        f"30 %; {PRACTICE}",
        0.3,
        change=other_fields("radiator_coupling"),
    ),
    UncertainParameter(
        "radiator",
        "Emissivity of the night radiator, new to aged",
        "upkeep",
        UNIFORM,
        f"0 to 6 % below new; {PRACTICE}",
        low=1.0,
        high=0.94,
        change=other_fields("radiator_emissivity", most=1.0),
    ),
    ABSORBER_EMISSIVITY,
    UncertainParameter(
        "second_law",
        "Performance of the heat pump",
        "heat and mass transfer",
        FACTOR,
        f"0.25 to 0.55 over small and large machines; {MEMORY}",
        0.2,
        change=other_fields("second_law_efficiency", most=0.8),
    ),
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
        "Leak of the closed loop",
        "upkeep",
        FACTOR,
        f"a factor of two either way; {PRACTICE}",
        0.7,
        change=other_fields("leak"),
    ),
    CONDENSER_FILM,
    SOILING,
    AGEING,
)


_LOSSES: Final = (
    Loss(
        "optical",
        "Sun that does not reach the absorber",
        "clear, clean, non-reflecting glass; black absorber",
        set_fields(**CLEAR_GLASS, absorber_absorptance=1.0),
    ),
    Loss(
        "heat",
        "Heat lost through cover and edges",
        "no radiation from the absorber, no edge loss; the air under the glass stays",
        set_fields(absorber_emissivity=1e-4, edge_loss=0.0),
    ),
    Loss(
        "sensible",
        "Heat that warms sorbent, metal and the loop's air",
        "a hundredth of their heat capacity; all of the loop's own heat recovered",
        both(lighter(bed_metal=0.01), set_fields(loop_recovery=1.0)),
    ),
    Loss(
        "condenser",
        "Condenser warmer than the air",
        "a thousand times its outer area",
        scale_fields(condenser_outer_area=1000.0),
    ),
    Loss(
        "surfaces",
        "Leak and water left on the condenser",
        "no leak, next to no hold-up",
        set_fields(leak=0.0, condenser_holdup=1e-3),
    ),
    Loss(
        "air",
        "Too little night air, or a slow way to the layer",
        "ten times the night fan's air, the coefficient and the rate inside the grains",
        both(scale_fields(open_airflow=10.0, bed_coefficient=10.0), QUICK),
    ),
    Loss(
        "bed",
        "Too little bed for the night",
        "three times the sorbent in three times the layers",
        scale_fields(sorbent_mass=3.0, bed_area=3.0),
    ),
)


_EASINGS: Final = (
    AMPLE,
    Easing(
        "air",
        "Air reaching the bed at night",
        "twice the night fan's air and the bed's coefficient",
        scale_fields(open_airflow=2.0, bed_coefficient=2.0),
    ),
    FASTER,
    Easing(
        "heat",
        "Heat by day",
        "0.4 of the absorber's emissivity and of the edge loss, clean glass",
        scale_fields(absorber_emissivity=0.4, edge_loss=0.4, soiling=0.0),
    ),
    Easing(
        "power",
        "Electricity of the top-up",
        "twice its power and its limit",
        scale_fields(top_up_power=2.0, top_up_limit=2.0),
    ),
    Easing("gap", "Way from bed to condenser", "twice the loop's air", scale_fields(loop_airflow=2.0)),
    Easing(
        "condenser", "Cold condenser", "three times the outer area", scale_fields(condenser_outer_area=3.0)
    ),
    Easing("radiator", "Night radiator", "twice the plate", scale_fields(radiator_area=2.0)),
    Easing(
        "losses",
        "Leak and water left on surfaces",
        "no leak, no hold-up",
        set_fields(leak=0.0, condenser_holdup=0.001),
    ),
)


STUDY: Final = Study(
    losses=_LOSSES,
    easings=_EASINGS,
    parameters=_PARAMETERS,
    ranges=(
        ("layer_thickness", 0.5e-3, 8e-3),
        ("bed_area", 2.0, 15.0),
        ("tilt", 0.0, math.radians(60.0)),
        ("open_airflow", 20.0 / 3600.0, 600.0 / 3600.0),
        ("loop_airflow", 3.0 / 3600.0, 120.0 / 3600.0),
        ("condenser_outer_area", 1.0, 10.0),
        ("radiator_area", 0.01, 3.0),
    ),
    effort=Effort(17.0, 1.1, 0.32),
    bounds=bounds_of,
    size_bounds=size_bounds,
    sun_plane=always,
    reasons={
        "air": "too little vapour is blown to the bed at night",
        "gap": "too little air carries vapour to the condenser",
    },
    noises=_noises,
)
