"""Desiccant wheel: a turning honeycomb of sorbent between outdoor air and a heated loop with a condenser.

The design as a user declares it. What is computed stands in docs/theory/desiccant_wheel.md and, compiled, in
desiccant_wheel_flows.py. All areas and masses "per face" are per m2 of the wheel's whole face. Defaults
describe a wheel of 0.1 m2; where no source is named they are common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from welkinwell.declare import again, quantity
from welkinwell.errors import Problem
from welkinwell.harvesters import shared_fields as shared
from welkinwell.harvesters.layer_density import SorbentLayer, form_field, plain_problems


@dataclass(frozen=True)
class DesiccantWheel:
    """Sizes, materials and operation of one module, and how many there are."""

    kind: ClassVar[str] = "desiccant_wheel"
    closed_in_rain: ClassVar[bool] = False  # the inlet is roofed

    modules: int = again(shared.modules)
    face_area: float = again(shared.face_area, sentence="Face of one module's wheel", low=1e-3, high=20.0)
    footprint_ratio: float = again(
        shared.footprint_ratio,
        sentence="Ground taken per face of the wheel, spacing included",
        default=15.0,
        low=0.1,
        high=1e4,
    )

    # Wheel
    sorbent_mass: float = again(
        shared.sorbent_mass, sentence="Dry sorbent per face", default=30.0, low=0.1, high=1000.0
    )
    wheel_depth: float = quantity("mm", "Depth of the wheel", default=200.0, low=10.0, high=1000.0)
    channel_shape: str = again(shared.channel_shape, default="triangle")
    channel_size: float = again(
        shared.channel_size, sentence="Hydraulic diameter of the channels", default=1.5, high=20.0
    )
    channel_share: float = again(shared.channel_share, sentence="Share of the face in channels", default=0.7)
    coating_thickness: float = again(shared.coating_thickness, default=0.15, high=5.0)
    layer_form: str | None = form_field()
    wheel_substrate: float = quantity(
        "kg/m2",
        "Paper, glass or metal under the sorbent, per face",
        default=10.0,
        low=0.1,
        high=1000.0,
    )
    substrate_specific_heat: float = quantity(
        "J/(kg K)", "Specific heat of that carrier", default=900.0, low=100.0, high=4500.0
    )
    wheel_revolutions: float = quantity("1/h", "Turns of the wheel", default=15.0, low=0.5, high=200.0)
    process_share: float = quantity(
        "1", "Share of the wheel that stands in the outdoor air", default=0.75, low=0.2, high=0.9
    )
    edge_loss: float = again(
        shared.edge_loss,
        sentence="Heat lost through the casing of the hot part, per face",
        default=10.0,
        high=500.0,
    )

    # Air
    face_velocity: float = again(
        shared.face_velocity,
        sentence="Outdoor air at the face of its part of the wheel",
        default=2.0,
        high=6.0,
    )
    regeneration_velocity: float = quantity(
        "m/s", "Heated air at the face of its part of the wheel", default=1.0, low=0.01, high=6.0
    )
    housing_pressure: float = again(
        shared.housing_pressure,
        sentence="Pressure drop of filter and ducts on the outdoor side",
        default=80.0,
    )
    loop_pressure: float = again(shared.loop_pressure)
    fan_efficiency: float = again(shared.fan_efficiency, default=0.4)
    heat_recovery: float = again(
        shared.heat_recovery,
        sentence="Share of the way to the leaving air's temperature by which that air warms the air"
        " before the heater",
        default=0.6,
    )
    seal_leak: float = quantity(
        "1",
        "Outdoor air that leaks past the seals, per heated air",
        default=0.02,
        low=0.0,
        high=0.5,
    )
    loop_air_volume: float = again(shared.loop_air_volume, default=1.0, low=0.05, high=20.0)

    # Heat
    heat_by: str = again(shared.heat_by, options=("resistance", "heat_pump"), sentence="What heats the air")
    regeneration_temperature: float | None = quantity(
        "degC",
        "Temperature to which the air is heated; when not given, 5 K below the sorbent's service temperature,"
        " and at most 90 degC",
        default=None,
        low=30.0,
        high=300.0,
    )
    heating_power: float = again(shared.heating_power, default=30000.0)
    heat_pump_source: str = again(shared.heat_pump_source)
    second_law_efficiency: float = again(shared.second_law_efficiency)
    heat_pump_approach: float = again(shared.heat_pump_approach)

    # Condenser
    condenser_area: float = again(
        shared.condenser_area,
        sentence="Condensing area towards the loop's air, per face",
        default=120.0,
        low=0.1,
        high=5000.0,
    )
    condenser_coefficient: float = again(
        shared.condenser_coefficient, sentence="From the loop's air to that area"
    )
    condenser_conductance: float = again(
        shared.condenser_conductance,
        sentence="From condenser to outdoor air with its fan on, per face",
        default=3000.0,
        high=1e6,
    )
    condenser_still_share: float = again(shared.condenser_still_share)
    condenser_fan_power: float = again(shared.condenser_fan_power, default=400.0, high=1e5)
    condenser_mass: float = again(
        shared.condenser_mass, sentence="Mass of the condenser, per face", default=150.0, high=1e4
    )
    condenser_specific_heat: float = again(shared.condenser_specific_heat)
    condenser_holdup: float = again(shared.condenser_holdup, default=0.05)

    # Control and operation
    control_power: float = again(
        shared.control_power,
        sentence="Electricity of drive and control of one module, always on",
        default=10.0,
    )
    operation: str = again(
        shared.operation,
        options=("always", "clock"),
        sentence="Whether the wheel turns all the time or between two hours",
        default="always",
    )
    open_at: float = again(
        shared.open_at, sentence="Local standard time at which the wheel starts by the clock", default=20.0
    )
    close_at: float = again(
        shared.close_at, sentence="Local standard time at which it stops by the clock", default=9.0
    )

    def cross_checks(self) -> list[Problem]:
        """Rules between fields."""
        problems = plain_problems(self.sorbent_layer)
        if self.sorbent_layer.volume > (1.0 - self.channel_share) * self.wheel_depth:
            thickest = (1.0 - self.channel_share) * self.channel_size / (4.0 * self.channel_share)
            problems.append(
                Problem(
                    "coating_thickness",
                    f"{self.coating_thickness * 1e3:.3g} mm",
                    f"coatings that fit beside the channels ({thickest * 1e3:.3g} mm at most)",
                    "Make the coating thinner, or channel_size larger, or channel_share smaller.",
                )
            )
        return problems

    @property
    def channel_surface(self) -> float:
        """Wall of the channels per face [1]."""
        return 4.0 * self.channel_share * self.wheel_depth / self.channel_size

    @property
    def sorbent_layer(self) -> SorbentLayer:
        """The coating on the channels' walls."""
        fields, form = ("sorbent_mass", "coating_thickness", "wheel_depth"), self.layer_form or "coating"
        return SorbentLayer(
            self.sorbent_mass,
            self.coating_thickness,
            self.channel_surface,
            fields,
            form,
            "coating",
            "wheel face",
        )

    @property
    def basis_area(self) -> float:
        """Area of one module that everything "per m2" refers to [m2]."""
        return self.face_area
