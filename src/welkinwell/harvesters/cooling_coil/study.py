"""What studies ask of the cooling coil: losses, what may be eased, uncertain parameters, ranges."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from welkinwell.harvesters.changes import both, other_fields, scale_fields, set_fields
from welkinwell.harvesters.cooling_coil.bounds import bounds_of, size_bounds
from welkinwell.harvesters.easings import Easing
from welkinwell.harvesters.losses import Loss
from welkinwell.harvesters.noises import fan
from welkinwell.harvesters.study import Effort, Study, never
from welkinwell.harvesters.uncertain_parameters import FACTOR, MEMORY, PRACTICE, UncertainParameter
from welkinwell.parts.fan import REFERENCE_DENSITY, pressure_drop
from welkinwell.parts.heat_pump import cooling_cop
from welkinwell.supply.sound_level import Noise

RATED: Final = (278.15, 318.15)  # K, evaporating and condensing, at which a compressor's capacity is rated


def _in_drier_air(design: Any, sorbent: Any) -> tuple[Any, Any]:
    lower = max(design.run_above_dew_point - 5.0, 263.15)
    return replace(design, run_above_dew_point=lower), sorbent


def _noises(d: Any, sorbent: Any) -> list[Noise]:
    from welkinwell.harvesters.cooling_coil.flows import DROP_EXPONENT, RATED_VELOCITY

    speed, area, eta = d.face_velocity, d.basis_area, d.fan_efficiency
    wet = d.coil_drop * (1.0 + d.wet_coil_drop) + d.filter_drop
    wet += d.recovery_drop if d.recovery > 0.0 else 0.0
    drop = float(pressure_drop(speed, RATED_VELOCITY, wet, DROP_EXPONENT, REFERENCE_DENSITY))
    own_air = d.condenser_air == "outdoor"
    if not own_air:
        drop += d.condenser_drop
    flow = speed * area
    found = [fan("Fan of the coil", "coil_fan", flow, flow * drop / eta, eta)]
    if own_air:
        other = d.condenser_air_ratio * flow
        found.append(fan("Fan of the condenser", "condenser_fan", other, other * d.condenser_drop / eta, eta))
    if d.cooling == "vapour_compression":
        power = d.rated_capacity * area / float(cooling_cop(*RATED, d.second_law))
        found.append(Noise("Compressor", "compressor", "cooling", "", power))
    return found


_PARAMETERS: Final = (
    UncertainParameter(
        "air_coefficient",
        "Heat and vapour transfer at the fins",
        "heat and mass transfer",
        FACTOR,
        f"20 %; {PRACTICE}",
        0.2,
        change=other_fields("air_coefficient"),
    ),
    UncertainParameter(
        "second_law",
        "Performance of the compressor",
        "heat and mass transfer",
        FACTOR,
        f"0.25 to 0.55 over small and large machines; {MEMORY}",
        0.2,
        change=other_fields("second_law", most=0.8),
    ),
    UncertainParameter(
        "condenser",
        "Conductance of the condenser, dust included",
        "upkeep",
        FACTOR,
        f"25 %; {PRACTICE}",
        0.25,
        change=other_fields("condenser_conductance"),
    ),
    UncertainParameter(
        "coil_drop",
        "Pressure drop of coil and filter, dust included",
        "upkeep",
        FACTOR,
        f"30 %; {PRACTICE}",
        0.3,
        change=other_fields("filter_drop"),
    ),
)


_LOSSES: Final = (
    Loss(
        "rejection",
        "Condenser warmer than the air",
        "thirty times the condenser's conductance and its air",
        scale_fields(condenser_conductance=30.0, condenser_air_ratio=30.0),
    ),
    Loss(
        "machine",
        "Work lost in compressor or modules",
        "ninety-nine hundredths of Carnot's performance; ten times the figure of merit",
        both(set_fields(second_law=0.99), scale_fields(figure_of_merit=10.0)),
    ),
    Loss(
        "fins",
        "Fins warmer than what evaporates",
        "ten times the way from the fins to the cold side",
        scale_fields(refrigerant_conductance=10.0),
    ),
    Loss(
        "sensible",
        "Cold spent on cooling dry air",
        "nineteen twentieths of it given back to the air that enters",
        set_fields(recovery=0.95),
    ),
    Loss(
        "bypass",
        "Air that the fins do not touch",
        "five times the fins",
        scale_fields(fin_area=5.0),
    ),
    Loss(
        "off",
        "Frost, and hours in which it is off",
        "running at any dew point, frost melted at once",
        both(set_fields(run_above_dew_point=253.15), scale_fields(defrost_power=100.0)),
    ),
    Loss(
        "surfaces",
        "Water left on the fins",
        "next to no hold-up",
        set_fields(fin_holdup=1e-3),
    ),
)


_EASINGS: Final = (
    Easing(
        "cold",
        "Cold made",
        "twice the compressor or the modules",
        scale_fields(rated_capacity=2.0, module_conductance=2.0),
    ),
    Easing(
        "fins",
        "Fins",
        "twice the fins, and twice their way to the cold side",
        scale_fields(fin_area=2.0, refrigerant_conductance=2.0),
    ),
    Easing("air_drawn", "Air through the coil", "half as much air again", scale_fields(face_velocity=1.5)),
    Easing(
        "rejection",
        "Heat given off",
        "three times the condenser and its air",
        scale_fields(condenser_conductance=3.0, condenser_air_ratio=3.0),
    ),
    Easing(
        "frost",
        "Frost",
        "three times the frost before it is melted, three times as fast",
        scale_fields(frost_limit=3.0, defrost_power=3.0),
    ),
    Easing("dry_air", "Hours in which it runs", "down to 5 K less of dew point", _in_drier_air),
    Easing("holdup", "Water left on the surfaces", "every drop runs", scale_fields(fin_holdup=0.05)),
)


STUDY: Final = Study(
    losses=_LOSSES,
    easings=_EASINGS,
    parameters=_PARAMETERS,
    ranges=(
        ("face_velocity", 0.4, 2.5),
        ("fin_area", 20.0, 200.0),
        ("rated_capacity", 8000.0, 60000.0),
        ("condenser_air_ratio", 1.0, 4.0),
        ("recovery", 0.0, 0.7),
    ),
    effort=Effort(20.0, 0.47, 0.18),
    bounds=bounds_of,
    size_bounds=size_bounds,
    sun_plane=never,
    noises=_noises,
)
