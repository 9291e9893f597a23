"""Hybrid: a bed cooled by the night sky and heated by the sun, topped up with electricity where that pays.

The design as a user declares it. What is computed stands in docs/theory/hybrid.md and, compiled, in
flows.py. All areas and masses "per aperture" are per m2 of glazing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from welkinwell.declare import again, choice, flag, quantity
from welkinwell.errors import Problem
from welkinwell.harvesters import shared_fields as shared
from welkinwell.harvesters.facing import azimuth_of
from welkinwell.harvesters.layer_density import SorbentLayer, form_field, plain_problems


@dataclass(frozen=True)
class Hybrid:
    """Sizes, materials and operation of one module, and how many there are.

    Defaults describe a flat box with a finned bed, a fan, a white roof plate as night radiator and a small
    heat pump between condenser and bed; where no source is named they are common practice.
    """

    kind: ClassVar[str] = "hybrid"

    modules: int = again(shared.modules)
    aperture_area: float = again(shared.aperture_area)
    footprint_ratio: float = again(
        shared.footprint_ratio,
        sentence="Ground taken per aperture, radiator and spacing included",
        default=2.5,
        high=20.0,
    )
    tilt: float = again(shared.tilt, default=25.0, high=60.0)
    facing: str = again(shared.facing)

    # Cover and absorber
    glazing_thickness: float = again(shared.glazing_thickness)
    glazing_extinction: float = again(shared.glazing_extinction)
    glazing_refractive_index: float = again(shared.glazing_refractive_index)
    glazing_emissivity: float = again(shared.glazing_emissivity)
    soiling: float = again(shared.soiling)
    front_gap: float = again(
        shared.front_gap, sentence="Dry air gap between glass and absorber", default=40.0
    )
    absorber_absorptance: float = again(shared.absorber_absorptance)
    absorber_emissivity: float = again(shared.absorber_emissivity)
    edge_loss: float = again(
        shared.edge_loss, sentence="Heat lost through back and edges per aperture", default=0.8
    )

    # Bed
    sorbent_mass: float = again(shared.sorbent_mass)
    layer_thickness: float = again(shared.layer_thickness, default=2.0)
    bed_area: float = again(shared.bed_area, default=6.0, high=100.0)
    layer_form: str | None = form_field()
    bed_metal: float = again(shared.bed_metal, default=5.0, high=200.0)
    bed_metal_specific_heat: float = again(shared.bed_metal_specific_heat)
    bed_coefficient: float = quantity(
        "W/(m2 K)", "From the moving air to the layer's surface", default=20.0, low=1.0, high=200.0
    )
    bed_air_volume: float = again(
        shared.bed_air_volume, sentence="Air in bed, condenser and ducts per aperture", default=0.08
    )

    # Air
    open_airflow: float = quantity(
        "m3/(m2 h)", "Outdoor air that the fan moves through the bed", default=120.0, low=0.0, high=5e3
    )
    loop_airflow: float = quantity(
        "m3/(m2 h)", "Air that goes round between bed and condenser", default=15.0, low=0.1, high=2000.0
    )
    loop_recovery: float = quantity(
        "1",
        "Share of that air's own heat that its way back takes over from its way out",
        default=0.6,
        low=0.0,
        high=1.0,
    )
    loop_start: float = quantity(
        "K", "Bed over condenser at which the loop's fan starts", default=5.0, low=0.0, high=60.0
    )
    open_pressure: float = quantity(
        "Pa", "Pressure that the night fan works against", default=30.0, low=0.0, high=2000.0
    )
    loop_pressure: float = again(
        shared.loop_pressure, sentence="Pressure that the loop's fan works against", default=40.0, high=2000.0
    )
    fan_efficiency: float = again(shared.fan_efficiency, sentence="Efficiency of fan with motor", high=0.9)
    leak: float = again(shared.leak, sentence="Air changes of the closed loop")
    vent_temperature: float | None = again(
        shared.vent_temperature,
        sentence="Bed temperature at which the over-temperature vent begins to open; when not given, 5"
        " K below"
        " the sorbent's service temperature, and at most 120 degC",
    )
    vent_air_changes: float = again(shared.vent_air_changes)

    # Condenser
    condenser_area: float = again(
        shared.condenser_area, sentence="Condensing area per aperture", default=2.0, high=50.0
    )
    condenser_coefficient: float = again(
        shared.condenser_coefficient, sentence="From the loop's air to that area", default=20.0
    )
    condenser_outer_area: float = again(
        shared.condenser_outer_area,
        sentence="Outer area of the condenser, fins counted at their efficiency",
        low=0.0,
    )
    condenser_heat: float = again(
        shared.condenser_heat,
        unit="kJ/(m2 K)",
        sentence="Heat that the condenser holds per aperture",
        default=6.0,
        low=0.5,
        high=500.0,
    )
    condenser_holdup: float = again(shared.condenser_holdup)

    # Night radiator
    radiator_area: float = quantity(
        "1", "Plate that looks at the sky, per aperture; 0.01 for none", default=1.0, low=0.01, high=20.0
    )
    radiator_emissivity: float = quantity(
        "1", "Thermal emissivity of that plate", default=0.92, low=0.0, high=1.0
    )
    radiator_absorptance: float = quantity(
        "1", "Solar absorptance of that plate (white paint 0.2, films 0.05)", default=0.15, low=0.0, high=1.0
    )
    radiator_heat: float = quantity(
        "kJ/(m2 K)", "Heat that one m2 of that plate holds", default=5.0, low=0.5, high=500.0
    )
    radiator_coupling: float = quantity(
        "W/(m2 K)", "Heat pipes to the plate, one way only, from bed (night) and condenser (day)",
        default=30.0, low=0.0, high=1000.0,
    )  # fmt: skip
    radiator_by_day: bool = flag("Whether the plate cools the condenser by day", default=True)

    # Top-up
    top_up: str = choice(
        ("none", "heat_pump", "resistance"),
        "Electricity that heats the bed by day: none, a heat pump from condenser to bed, or a resistance",
        default="heat_pump",
    )
    top_up_power: float = quantity(
        "W/m2", "Electricity of that top-up per aperture when it runs", default=60.0, low=0.0, high=5000.0
    )
    top_up_below: float = quantity(
        "degC", "Bed temperature above which it does not run", default=75.0, low=20.0, high=200.0
    )
    top_up_limit: float = quantity(
        "kWh/kg",
        "Electricity that a litre may cost before it stops: the worth of a litre over the price of a kWh",
        default=0.5,
        low=0.0,
        high=50.0,
    )
    second_law_efficiency: float = again(shared.second_law_efficiency)
    heat_pump_approach: float = again(
        shared.heat_pump_approach, sentence="Refrigerant beyond bed and condenser", default=5.0
    )
    control_power: float = again(
        shared.control_power,
        unit="W/m2",
        sentence="Electricity of control and dampers, always on",
        default=1.0,
        low=0.0,
        high=100.0,
    )

    # Wind and operation
    wind_constant: float = again(shared.wind_constant)
    wind_slope: float = again(shared.wind_slope)
    device_height: float = again(shared.device_height)
    terrain: str = again(shared.terrain)
    shelter: float = again(shared.shelter)
    operation: str = again(
        shared.operation,
        options=("sun", "clock"),
        sentence="When the bed takes up: below a sun threshold, or by the clock",
    )
    close_above: float = again(
        shared.close_above, sentence="Sun on the aperture above which the loop is closed", default=60.0
    )
    open_at: float = again(shared.open_at)
    close_at: float = again(shared.close_at, default=8.0)
    closed_in_rain: bool = again(
        shared.closed_in_rain, sentence="Whether the loop stays closed in hours with rain", default=False
    )

    @property
    def sorbent_layer(self) -> SorbentLayer:
        """The layer that its sorbent makes."""
        fields = ("sorbent_mass", "layer_thickness", "bed_area")
        return SorbentLayer(self.sorbent_mass, self.layer_thickness, self.bed_area, fields, self.layer_form)

    @property
    def basis_area(self) -> float:
        """Area that every "per m2" refers to: the aperture of one module [m2]."""
        return self.aperture_area

    def cross_checks(self) -> list[Problem]:
        """Rules between fields."""
        return plain_problems(self.sorbent_layer)

    def azimuth(self, latitude: float) -> float:
        """Direction that the aperture faces, clockwise from north [rad], at a latitude [rad]."""
        return azimuth_of(self.facing, latitude)
