"""Active bed: a fan, a heated bed of sorbent and a condenser, several cycles a day.

The design as a user declares it. What is computed stands in docs/theory/active_bed.md and, compiled, in
active_bed_flows.py. All areas and masses "per face" are per m2 of the bed's face, through which the air
goes. Defaults describe a device of 2 kg of sorbent; where no source is named they are common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from welkinwell.declare import again, choice, quantity
from welkinwell.errors import Problem
from welkinwell.harvesters import shared_fields as shared
from welkinwell.harvesters.facing import azimuth_of
from welkinwell.harvesters.layer_density import SorbentLayer, form_field, plain_problems


@dataclass(frozen=True)
class ActiveBed:
    """Sizes, materials and operation of one module, and how many there are."""

    kind: ClassVar[str] = "active_bed"
    closed_in_rain: ClassVar[bool] = False  # the inlet is roofed

    modules: int = again(shared.modules)
    face_area: float = again(shared.face_area)
    footprint_ratio: float = again(
        shared.footprint_ratio,
        sentence="Ground taken per face of the bed, collector and spacing included",
        default=6.0,
        low=0.1,
        high=1e4,
    )

    # Bed
    form: str = choice(
        ("grains", "channels"),
        "Whether the air goes through grains, or through channels with coated walls (fins, honeycomb)",
        default="grains",
    )
    sorbent_mass: float = again(
        shared.sorbent_mass, sentence="Dry sorbent per face", default=21.0, high=1000.0
    )
    bed_depth: float = quantity(
        "mm", "Depth of the bed along the air's way", default=30.0, low=0.5, high=2000.0
    )
    grain_diameter: float = quantity("mm", "Diameter of the grains", default=2.0, low=0.05, high=20.0)
    grain_void: float = quantity("1", "Open share between the grains", default=0.4, low=0.2, high=0.95)
    channel_shape: str = again(shared.channel_shape)
    channel_size: float = again(shared.channel_size)
    channel_share: float = again(shared.channel_share)
    coating_thickness: float = again(shared.coating_thickness)
    layer_form: str | None = form_field()
    bed_metal: float = again(
        shared.bed_metal,
        sentence="Metal of fins, tubes and casing that is heated along, per face",
        default=15.0,
        low=0.1,
        high=2e3,
    )
    bed_metal_specific_heat: float = again(shared.bed_metal_specific_heat, high=4500.0)
    edge_loss: float = again(
        shared.edge_loss, sentence="Heat lost through the bed's casing, per face", default=5.0, high=200.0
    )
    bed_air_volume: float = again(shared.bed_air_volume)

    # Air
    face_velocity: float = again(shared.face_velocity)
    release_velocity: float = quantity(
        "m/s", "Velocity of the air at the bed's face during release", default=0.1, low=0.005, high=5.0
    )
    housing_pressure: float = again(shared.housing_pressure)
    fan_efficiency: float = again(shared.fan_efficiency)
    air_loop: str = choice(
        ("closed", "open"),
        "Whether the release air goes round between bed and condenser, or comes from outdoors and leaves",
        default="closed",
    )
    heat_recovery: float = again(shared.heat_recovery)
    damper_leak: float = quantity(
        "1", "Outdoor air that leaks through the dampers, per release air", default=0.01, low=0.0, high=0.5
    )
    loop_air_volume: float = again(shared.loop_air_volume)
    loop_fan_start: float = quantity(
        "K", "Bed over condenser at which the loop's fan starts", default=5.0, low=-20.0, high=60.0
    )

    # Heat
    heat_by: str = again(shared.heat_by)
    release_temperature: float | None = quantity(
        "degC",
        "Bed temperature at which heating ends; when not given, 5 K below the sorbent's service temperature,"
        " and at most 90 degC",
        default=None,
        low=30.0,
        high=300.0,
    )
    heating_power: float = again(shared.heating_power)
    heat_conductance: float = again(shared.heat_conductance)
    waste_heat_temperature: float = quantity(
        "degC", "Temperature at which waste heat comes", default=90.0, low=30.0, high=300.0
    )
    collector_area: float = quantity(
        "1", "Solar collector per face of the bed", default=8.0, low=0.0, high=1000.0
    )
    collector_efficiency: float = quantity(
        "1", "Heat of the collector over the sun on it, without loss", default=0.75, low=0.1, high=0.95
    )
    collector_loss: float = quantity(
        "W/(m2 K)", "Heat that the collector loses per m2 of it", default=4.0, low=0.1, high=20.0
    )
    tilt: float = again(shared.tilt, sentence="Slope of the collector from horizontal")
    facing: str = again(shared.facing, sentence="Where the collector looks")
    heating_pump_power: float = quantity(
        "W/m2", "Electricity of the pump of the heating fluid, per face", default=30.0, low=0.0, high=1e4
    )
    heat_pump_source: str = again(shared.heat_pump_source)
    second_law_efficiency: float = again(shared.second_law_efficiency)
    heat_pump_approach: float = again(shared.heat_pump_approach)

    # Condenser
    condenser_area: float = again(shared.condenser_area)
    condenser_coefficient: float = again(shared.condenser_coefficient)
    condenser_conductance: float = again(shared.condenser_conductance)
    condenser_still_share: float = again(shared.condenser_still_share)
    condenser_fan_power: float = again(shared.condenser_fan_power)
    condenser_mass: float = again(
        shared.condenser_mass, sentence="Mass of the condenser, per face", default=20.0, high=1000.0
    )
    condenser_specific_heat: float = again(shared.condenser_specific_heat)
    condenser_holdup: float = again(shared.condenser_holdup, default=0.05)

    # Control and operation
    control_power: float = again(shared.control_power)
    operation: str = again(
        shared.operation,
        options=("cycles", "threshold", "best", "clock", "sun"),
        sentence="When the bed takes up and gives off: in cycles of fixed lengths, by how full it is,"
        " in cycles of the"
        " lengths that give most water in the air of the hour, once a day by the clock, or giving off while"
        " the sun on the collector is above a threshold",
        default="cycles",
    )
    uptake_length: float = quantity(
        "min", "Length of the uptake part of a fixed cycle", default=60.0, low=1.0, high=1440.0
    )
    release_length: float = quantity(
        "min", "Length of the release part of a fixed cycle", default=60.0, low=1.0, high=1440.0
    )
    full_above: float = quantity(
        "1",
        "Threshold rule: uptake ends when the bed holds this share of the swing that air and heat allow",
        default=0.8,
        low=0.05,
        high=0.99,
    )
    empty_below: float = quantity(
        "1", "Threshold rule: release ends below this share of that swing", default=0.2, low=0.01, high=0.95
    )
    dwell: float = again(
        shared.dwell, sentence="Threshold rule: shortest time between two switches", default=10.0
    )
    open_at: float = again(shared.open_at, sentence="Local standard time at which uptake begins by the clock")
    close_at: float = again(
        shared.close_at, sentence="Local standard time at which release begins by the clock", default=9.0
    )
    close_above: float = again(
        shared.close_above,
        sentence="Sun on the collector above which the bed gives off",
        default=300.0,
        high=1000.0,
    )

    def cross_checks(self) -> list[Problem]:
        """Rules between fields."""
        problems = plain_problems(self.sorbent_layer)
        if (
            self.form == "channels"
            and self.sorbent_layer.volume > (1.0 - self.channel_share) * self.bed_depth
        ):
            problems.append(
                Problem(
                    "coating_thickness",
                    f"{self.coating_thickness * 1e3:.3g} mm",
                    f"coatings that fit beside the channels ({self._thickest * 1e3:.3g} mm at most)",
                    "Make the coating thinner, or channel_size larger, or channel_share smaller.",
                )
            )
        if self.operation == "best" and self.heat_by == "solar":
            problems.append(
                Problem(
                    "operation",
                    "'best' with heat_by = 'solar'",
                    "'sun', 'threshold' or 'cycles' with a collector",
                    "The table of lengths is made in steady air without sun.",
                )
            )
        if self.operation == "threshold" and self.empty_below >= self.full_above:
            problems.append(
                Problem(
                    "empty_below",
                    f"{self.empty_below:.3g}",
                    f"less than full_above ({self.full_above:.3g})",
                    "Release ends before uptake does.",
                )
            )
        return problems

    @property
    def _thickest(self) -> float:
        return (1.0 - self.channel_share) * self.channel_size / (4.0 * self.channel_share)

    @property
    def channel_surface(self) -> float:
        """Wall of the channels per face [1]."""
        return 4.0 * self.channel_share * self.bed_depth / self.channel_size

    @property
    def sorbent_layer(self) -> SorbentLayer:
        """The bed of grains, or the coatings on the channels' walls."""
        mass, form = self.sorbent_mass, self.layer_form
        if self.form == "grains":
            fields = ("sorbent_mass", "bed_depth", "")
            return SorbentLayer(mass, self.bed_depth, 1.0, fields, form, "bed", "bed face")
        fields = ("sorbent_mass", "coating_thickness", "bed_depth")
        return SorbentLayer(
            mass, self.coating_thickness, self.channel_surface, fields, form or "coating", "bed", "bed face"
        )

    @property
    def basis_area(self) -> float:
        """Area of one module that everything "per m2" refers to [m2]."""
        return self.face_area

    def azimuth(self, latitude: float) -> float:
        """Direction that the collector faces, clockwise from north [rad], at a latitude [rad]."""
        return azimuth_of(self.facing, latitude)
