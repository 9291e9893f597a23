"""Active bed: a fan, a heated bed of sorbent and a condenser, several cycles a day.

The design as a user declares it. What is computed stands in docs/theory/active_bed.md and, compiled, in
active_bed_flows.py. All areas and masses "per face" are per m2 of the bed's face, through which the air
goes. Defaults describe a device of 2 kg of sorbent; where no source is named they are common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from welkinwell.declare import choice, count, quantity
from welkinwell.errors import Problem
from welkinwell.harvesters.facing import FACINGS, azimuth_of
from welkinwell.harvesters.layer_density import SorbentLayer, form_field, plain_problems


@dataclass(frozen=True)
class ActiveBed:
    """Sizes, materials and operation of one module, and how many there are."""

    kind: ClassVar[str] = "active_bed"
    closed_in_rain: ClassVar[bool] = False  # the inlet is roofed

    modules: int = count("How many equal modules stand at the site", default=1, low=1, high=100000)
    face_area: float = quantity(
        "m2", "Face of one module's bed, through which the air goes", default=0.1, low=1e-4, high=100.0
    )
    footprint_ratio: float = quantity(
        "1",
        "Ground taken per face of the bed, collector and spacing included",
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
    sorbent_mass: float = quantity("kg/m2", "Dry sorbent per face", default=21.0, low=0.01, high=1000.0)
    bed_depth: float = quantity(
        "mm", "Depth of the bed along the air's way", default=30.0, low=0.5, high=2000.0
    )
    grain_diameter: float = quantity("mm", "Diameter of the grains", default=2.0, low=0.05, high=20.0)
    grain_void: float = quantity("1", "Open share between the grains", default=0.4, low=0.2, high=0.95)
    channel_shape: str = choice(
        ("plates", "round", "square", "triangle"), "Shape of the channels", default="plates"
    )
    channel_size: float = quantity(
        "mm", "Hydraulic diameter of the channels (twice the gap of plates)", default=3.0, low=0.1, high=50.0
    )
    channel_share: float = quantity(
        "1", "Share of the face that is channel", default=0.5, low=0.05, high=0.98
    )
    coating_thickness: float = quantity(
        "mm", "Thickness of the sorbent on the channels' walls", default=0.5, low=0.005, high=20.0
    )
    layer_form: str | None = form_field()
    bed_metal: float = quantity(
        "kg/m2",
        "Metal of fins, tubes and casing that is heated along, per face",
        default=15.0,
        low=0.1,
        high=2e3,
    )
    bed_metal_specific_heat: float = quantity(
        "J/(kg K)", "Specific heat of that metal (aluminium 900)", default=900.0, low=100.0, high=4500.0
    )
    edge_loss: float = quantity(
        "W/(m2 K)", "Heat lost through the bed's casing, per face", default=5.0, low=0.0, high=200.0
    )
    bed_air_volume: float = quantity(
        "m3/m2", "Air that stays with the bed at a switch, per face", default=0.05, low=0.002, high=2.0
    )

    # Air
    face_velocity: float = quantity(
        "m/s", "Velocity of the outdoor air at the bed's face during uptake", default=0.25, low=0.0, high=5.0
    )
    release_velocity: float = quantity(
        "m/s", "Velocity of the air at the bed's face during release", default=0.1, low=0.005, high=5.0
    )
    housing_pressure: float = quantity(
        "Pa", "Pressure drop of filter, ducts and dampers during uptake", default=50.0, low=0.0, high=5000.0
    )
    fan_efficiency: float = quantity(
        "1", "Efficiency of fan and motor together", default=0.35, low=0.02, high=0.85
    )
    air_loop: str = choice(
        ("closed", "open"),
        "Whether the release air goes round between bed and condenser, or comes from outdoors and leaves",
        default="closed",
    )
    heat_recovery: float = quantity(
        "1",
        "Share of the way to the leaving air's temperature by which that air warms the air before the bed",
        default=0.5,
        low=0.0,
        high=0.95,
    )
    damper_leak: float = quantity(
        "1", "Outdoor air that leaks through the dampers, per release air", default=0.01, low=0.0, high=0.5
    )
    loop_air_volume: float = quantity(
        "m3/m2", "Air in condenser and ducts, per face", default=0.1, low=0.01, high=5.0
    )
    loop_fan_start: float = quantity(
        "K", "Bed over condenser at which the loop's fan starts", default=5.0, low=-20.0, high=60.0
    )

    # Heat
    heat_by: str = choice(
        ("resistance", "solar", "waste_heat", "heat_pump"), "What heats the bed", default="resistance"
    )
    release_temperature: float | None = quantity(
        "degC",
        "Bed temperature at which heating ends; when not given, 5 K below the sorbent's service temperature,"
        " and at most 90 degC",
        default=None,
        low=30.0,
        high=300.0,
    )
    heating_power: float = quantity(
        "W/m2", "Heat of the resistance or the heat pump, per face", default=4000.0, low=0.0, high=1e6
    )
    heat_conductance: float = quantity(
        "W/(m2 K)", "From the heating fluid to the bed, per face (solar, waste heat)", default=300.0, low=1.0,
        high=1e5,
    )  # fmt: skip
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
    tilt: float = quantity("deg", "Slope of the collector from horizontal", default=30.0, low=0.0, high=90.0)
    facing: str = choice(FACINGS, "Where the collector looks", default="equator")
    heating_pump_power: float = quantity(
        "W/m2", "Electricity of the pump of the heating fluid, per face", default=30.0, low=0.0, high=1e4
    )
    heat_pump_source: str = choice(
        ("outdoor_air", "condenser"), "Where the heat pump takes its heat", default="outdoor_air"
    )
    second_law_efficiency: float = quantity(
        "1", "Performance of the heat pump over a reversible one", default=0.4, low=0.05, high=0.8
    )
    heat_pump_approach: float = quantity(
        "K", "Refrigerant beyond what it heats and what it cools", default=6.0, low=0.0, high=40.0
    )

    # Condenser
    condenser_area: float = quantity(
        "1", "Condensing area towards the release air, per face", default=15.0, low=0.05, high=500.0
    )
    condenser_coefficient: float = quantity(
        "W/(m2 K)", "From the moving release air to that area", default=25.0, low=1.0, high=200.0
    )
    condenser_conductance: float = quantity(
        "W/(m2 K)", "From the condenser to the outdoor air with its fan on, per face", default=400.0, low=0.1,
        high=1e5,
    )  # fmt: skip
    condenser_still_share: float = quantity(
        "1", "Share of that with the fan off", default=0.1, low=0.001, high=1.0
    )
    condenser_fan_power: float = quantity(
        "W/m2", "Electricity of the condenser's fan, per face", default=50.0, low=0.0, high=1e4
    )
    condenser_mass: float = quantity(
        "kg/m2", "Mass of the condenser, per face", default=20.0, low=0.1, high=1000.0
    )
    condenser_specific_heat: float = quantity(
        "J/(kg K)", "Specific heat of the condenser (aluminium 900)", default=900.0, low=100.0, high=4500.0
    )
    condenser_holdup: float = quantity(
        "kg/m2", "Water that stays on one m2 of condenser before it runs", default=0.05, low=0.001, high=1.0
    )

    # Control and operation
    control_power: float = quantity(
        "W", "Electricity of control and dampers of one module, always on", default=2.0, low=0.0, high=1000.0
    )
    operation: str = choice(
        ("cycles", "threshold", "best", "clock", "sun"),
        "When the bed takes up and gives off: in cycles of fixed lengths, by how full it is, in cycles of the"
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
    dwell: float = quantity(
        "min", "Threshold rule: shortest time between two switches", default=10.0, low=1.0, high=720.0
    )
    open_at: float = quantity(
        "h", "Local standard time at which uptake begins by the clock", default=18.0, low=0.0, high=24.0
    )
    close_at: float = quantity(
        "h", "Local standard time at which release begins by the clock", default=9.0, low=0.0, high=24.0
    )
    close_above: float = quantity(
        "W/m2", "Sun on the collector above which the bed gives off", default=300.0, low=0.0, high=1000.0
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
