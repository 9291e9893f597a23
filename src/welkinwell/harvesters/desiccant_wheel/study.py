"""What studies ask of the desiccant wheel: losses, what may be eased, uncertain parameters, ranges."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from welkinwell.constants import STANDARD_PRESSURE
from welkinwell.harvesters.changes import other_fields, scale_fields, set_fields
from welkinwell.harvesters.desiccant_wheel.bounds import bounds_of, size_bounds
from welkinwell.harvesters.desiccant_wheel.design import DesiccantWheel
from welkinwell.harvesters.easings import FASTER, Easing
from welkinwell.harvesters.losses import KINETICS, LOOP_CONDENSER, Loss, lighter
from welkinwell.harvesters.noises import fan, fan_of_power, heating_compressor
from welkinwell.harvesters.study import Effort, Study, never
from welkinwell.harvesters.uncertain_parameters import (
    AGEING,
    CONDENSER_FILM,
    CONDENSER_INSIDE,
    FACTOR,
    MEMORY,
    PRACTICE,
    UncertainParameter,
)
from welkinwell.supply.sound_level import Noise


def _noises(d: Any, sorbent: Any) -> list[Noise]:
    from welkinwell.harvesters.desiccant_wheel.flows import wheel_numbers

    hot = d.regeneration_temperature or min(sorbent.service_temperature - 5.0, 363.15)
    wheel = wheel_numbers(replace(d, regeneration_temperature=hot), sorbent, STANDARD_PRESSURE)
    area, eta = d.basis_area, d.fan_efficiency
    found = [
        fan("Fan, outdoor air", "wheel_fan", wheel.process_velocity * area, wheel.process_fan * area, eta),
        fan("Fan of the loop", "wheel_fan", wheel.loop_velocity * area, wheel.loop_fan * area, eta),
        fan_of_power("Fan of the condenser", "cooling_fan", d.condenser_fan_power * area, eta),
    ]
    if d.heat_by == "heat_pump":
        found.append(heating_compressor(d, hot))
    return found


def _uptake_time(design: DesiccantWheel) -> float:
    return float(design.process_share / design.wheel_revolutions)


_PARAMETERS: Final = (
    CONDENSER_INSIDE,
    UncertainParameter(
        "condenser",
        "Conductance of the condenser to the air, dust included",
        "upkeep",
        FACTOR,
        f"25 %; {PRACTICE}",
        0.25,
        change=other_fields("condenser_conductance"),
    ),
    UncertainParameter(
        "channels",
        "Transfer in the channels of the wheel",
        "heat and mass transfer",
        FACTOR,
        f"as channels 10 % wider or narrower: they are not alike; {PRACTICE}",
        0.1,
        change=other_fields("channel_size"),
    ),
    UncertainParameter(
        "airflow",
        "Outdoor air through the wheel, filter and dust included",
        "upkeep",
        FACTOR,
        f"15 %; {PRACTICE}",
        0.15,
        change=other_fields("face_velocity"),
    ),
    UncertainParameter(
        "recovery",
        "Heat recovered before the heater",
        "heat and mass transfer",
        FACTOR,
        f"10 %; {PRACTICE}",
        0.1,
        change=other_fields("heat_recovery", most=0.95),
    ),
    UncertainParameter(
        "second_law",
        "Performance of the heat pump, where there is one",
        "heat and mass transfer",
        FACTOR,
        f"0.25 to 0.55 over small and large machines; {MEMORY}",
        0.2,
        change=other_fields("second_law_efficiency", most=0.8),
    ),
    UncertainParameter(
        "edge_loss",
        "Loss through the casing of the hot part",
        "heat and mass transfer",
        FACTOR,
        f"40 %: workmanship; {PRACTICE}",
        0.4,
        change=other_fields("edge_loss"),
    ),
    UncertainParameter(
        "seal_leak",
        "Leak past the seals",
        "upkeep",
        FACTOR,
        f"a factor of two either way, more with wear; {PRACTICE}",
        0.7,
        change=other_fields("seal_leak", most=0.5),
    ),
    CONDENSER_FILM,
    AGEING,
)


_LOSSES: Final = (
    Loss(
        "heat",
        "Heat lost through the casing and with the air",
        "no loss through the casing; all heat of the air that leaves the wheel recovered",
        set_fields(edge_loss=0.0, heat_recovery=0.99),
    ),
    Loss(
        "sensible",
        "Heat that the wheel carries to and fro",
        "a hundredth of the heat capacity of sorbent and carrier",
        lighter(wheel_substrate=0.01),
    ),
    Loss(
        "supply",
        "Too little heat for release",
        "five times the power",
        scale_fields(heating_power=5.0),
    ),
    LOOP_CONDENSER,
    Loss(
        "surfaces",
        "Leak and water left on the condenser",
        "tight seals, next to no hold-up",
        set_fields(seal_leak=0.0, condenser_holdup=1e-3),
    ),
    KINETICS,
    Loss(
        "bed",
        "Too little wheel and outdoor air",
        "three times the sorbent in three times the depth, three times the outdoor air",
        scale_fields(sorbent_mass=3.0, wheel_depth=3.0, face_velocity=3.0),
    ),
)


_EASINGS: Final = (
    Easing(
        "sorbent_in_turn",
        "Amount of sorbent",
        "twice the sorbent in a wheel of twice the depth",
        scale_fields(sorbent_mass=2.0, wheel_depth=2.0),
    ),
    Easing("air_blown", "Air through the wheel", "twice the velocity", scale_fields(face_velocity=2.0)),
    Easing("turning", "Speed of the wheel", "half the turns", scale_fields(wheel_revolutions=0.5)),
    FASTER,
    Easing("release_heat", "Heat for release", "twice the power", scale_fields(heating_power=2.0)),
    Easing(
        "release_air",
        "Air between wheel and condenser",
        "twice the velocity",
        scale_fields(regeneration_velocity=2.0),
    ),
    Easing(
        "condenser",
        "Cold condenser",
        "three times its area and conductance",
        scale_fields(condenser_area=3.0, condenser_conductance=3.0),
    ),
    Easing(
        "losses",
        "Leak and water left on surfaces",
        "tight seals, no hold-up",
        set_fields(seal_leak=0.0, condenser_holdup=0.001),
    ),
)


STUDY: Final = Study(
    losses=_LOSSES,
    easings=_EASINGS,
    parameters=_PARAMETERS,
    ranges=(
        ("face_velocity", 0.5, 4.0),
        ("regeneration_velocity", 0.2, 3.0),
        ("wheel_revolutions", 2.0 / 3600.0, 60.0 / 3600.0),
        ("process_share", 0.4, 0.9),
        ("condenser_area", 30.0, 400.0),
        ("heating_power", 5000.0, 100000.0),
    ),
    effort=Effort(140.0, 7.6, 2.2),
    bounds=bounds_of,
    size_bounds=size_bounds,
    sun_plane=never,
    reasons={
        "air_blown": "too little air is blown through the wheel",
        "kinetics": "the coating takes up and lets go too slowly",
        "release_heat": "the hot air gets too little heat",
        "release_air": "too little air carries vapour from the wheel to the condenser",
        "losses": "vapour leaks past the seals or water stays on surfaces",
    },
    noises=_noises,
    uptake_time=_uptake_time,
)
