"""What studies ask of the active bed: losses, what may be eased, uncertain parameters, ranges."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from welkinwell.constants import STANDARD_PRESSURE
from welkinwell.harvesters.active_bed.bounds import bounds_of, size_bounds
from welkinwell.harvesters.active_bed.design import ActiveBed
from welkinwell.harvesters.changes import other_fields, scale_fields, set_fields
from welkinwell.harvesters.easings import FASTER, Easing
from welkinwell.harvesters.losses import KINETICS, LOOP_CONDENSER, Loss, lighter
from welkinwell.harvesters.noises import fan, fan_of_power, heating_compressor
from welkinwell.harvesters.study import NIGHT, Effort, Study
from welkinwell.harvesters.uncertain_parameters import (
    AGEING,
    CONDENSER_FILM,
    CONDENSER_INSIDE,
    FACTOR,
    PRACTICE,
    UncertainParameter,
)
from welkinwell.supply.sound_level import Noise


def _noises(d: Any, sorbent: Any) -> list[Noise]:
    from welkinwell.harvesters.active_bed.flows import bed_numbers

    hot = d.release_temperature or min(sorbent.service_temperature - 5.0, 363.15)
    bed = bed_numbers(replace(d, release_temperature=hot), sorbent, STANDARD_PRESSURE)
    area, eta = d.basis_area, d.fan_efficiency
    found = [
        fan("Fan, uptake", "bed_fan", d.face_velocity * area, bed.uptake_fan * area, eta, "uptake"),
        fan("Fan, release", "bed_fan", d.release_velocity * area, bed.release_fan * area, eta, "release"),
        fan_of_power("Fan of the condenser", "cooling_fan", d.condenser_fan_power * area, eta, "release"),
    ]
    if d.heat_by in ("solar", "waste_heat"):
        power = d.heating_pump_power * area
        found.append(Noise("Pump of the heating", "pump", "heating_pump", "release", power))
    if d.heat_by == "heat_pump":
        found.append(heating_compressor(d, hot, "release"))
    return found


def _sun_plane(design: ActiveBed) -> bool:
    return design.heat_by == "solar"


def _uptake_time(design: ActiveBed) -> float:
    return float(design.uptake_length) if design.operation == "cycles" else NIGHT


_PARAMETERS: Final = (
    UncertainParameter(
        "condenser",
        "Conductance of the condenser to the air",
        "heat and mass transfer",
        FACTOR,
        f"25 %; {PRACTICE}",
        0.25,
        change=other_fields("condenser_conductance"),
    ),
    CONDENSER_INSIDE,
    UncertainParameter(
        "edge_loss",
        "Loss through the bed's casing",
        "heat and mass transfer",
        FACTOR,
        f"40 %: workmanship; {PRACTICE}",
        0.4,
        change=other_fields("edge_loss"),
    ),
    UncertainParameter(
        "damper_leak",
        "Leak of the dampers",
        "upkeep",
        FACTOR,
        f"a factor of two either way; {PRACTICE}",
        0.7,
        change=other_fields("damper_leak", most=0.5),
    ),
    CONDENSER_FILM,
    AGEING,
)


_LOSSES: Final = (
    Loss(
        "heat",
        "Heat lost through casing and with the air",
        "no loss through the casing; all heat of the air that leaves the bed recovered",
        set_fields(edge_loss=0.0, heat_recovery=0.99),
    ),
    Loss(
        "sensible",
        "Heat that warms sorbent and metal",
        "a hundredth of their heat capacity",
        lighter(bed_metal=0.01),
    ),
    Loss(
        "supply",
        "Too little heat in the time for release",
        "five times the power, the collector and the conductance",
        scale_fields(heating_power=5.0, collector_area=5.0, heat_conductance=5.0),
    ),
    LOOP_CONDENSER,
    Loss(
        "surfaces",
        "Leak and water left on the condenser",
        "tight dampers, next to no hold-up",
        set_fields(damper_leak=0.0, condenser_holdup=1e-3),
    ),
    KINETICS,
    Loss(
        "bed",
        "Too little bed and air for the time of uptake",
        "three times the sorbent in three times the depth, three times the air",
        scale_fields(sorbent_mass=3.0, bed_depth=3.0, face_velocity=3.0),
    ),
)


_EASINGS: Final = (
    Easing(
        "sorbent_in_cycle",
        "Amount of sorbent",
        "twice the sorbent in a bed of twice the depth",
        scale_fields(sorbent_mass=2.0, bed_depth=2.0),
    ),
    Easing("air_blown", "Air through the bed", "twice the velocity", scale_fields(face_velocity=2.0)),
    FASTER,
    Easing(
        "release_heat",
        "Heat for release",
        "twice the power, collector and conductance",
        scale_fields(heating_power=2.0, collector_area=2.0, heat_conductance=2.0),
    ),
    Easing(
        "release_air",
        "Air between bed and condenser",
        "twice the velocity",
        scale_fields(release_velocity=2.0),
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
        "tight dampers, no hold-up",
        set_fields(damper_leak=0.0, condenser_holdup=0.001),
    ),
)


STUDY: Final = Study(
    losses=_LOSSES,
    easings=_EASINGS,
    parameters=_PARAMETERS,
    ranges=(
        ("bed_depth", 0.01, 0.08),
        ("face_velocity", 0.1, 0.6),
        ("release_velocity", 0.03, 0.3),
        ("uptake_length", 1200.0, 14400.0),
        ("release_length", 1200.0, 14400.0),
        ("condenser_area", 5.0, 40.0),
    ),
    effort=Effort(25.0, 27.0, 1.1),  # its steps are many, and each is audited
    bounds=bounds_of,
    size_bounds=size_bounds,
    sun_plane=_sun_plane,
    reasons={"losses": "vapour leaks through the dampers or water stays on surfaces"},
    noises=_noises,
    uptake_time=_uptake_time,
)
