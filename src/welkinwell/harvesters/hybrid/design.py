"""Hybrid: a bed cooled by the night sky and heated by the sun, topped up with electricity where that pays.

The design as a user declares it. What is computed stands in docs/theory/hybrid.md and, compiled, in
flows.py. All areas and masses "per aperture" are per m2 of glazing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from welkinwell.declare import choice, count, flag, quantity
from welkinwell.errors import Problem
from welkinwell.harvesters.facing import FACINGS, azimuth_of
from welkinwell.harvesters.layer_density import SorbentLayer, form_field, plain_problems


@dataclass(frozen=True)
class Hybrid:
    """Sizes, materials and operation of one module, and how many there are.

    Defaults describe a flat box with a finned bed, a fan, a white roof plate as night radiator and a small
    heat pump between condenser and bed; where no source is named they are common practice.
    """

    kind: ClassVar[str] = "hybrid"

    modules: int = count("How many equal modules stand at the site", default=1, low=1, high=100000)
    aperture_area: float = quantity(
        "m2", "Glazed area of one module that takes the sun", default=2.0, low=0.01, high=100.0
    )
    footprint_ratio: float = quantity(
        "1", "Ground taken per aperture, radiator and spacing included", default=2.5, low=0.5, high=20.0
    )
    tilt: float = quantity("deg", "Slope of the aperture from horizontal", default=25.0, low=0.0, high=60.0)
    facing: str = choice(FACINGS, "Where the aperture looks", default="equator")

    # Cover and absorber
    glazing_thickness: float = quantity("mm", "Thickness of the glass", default=3.2, low=0.5, high=20.0)
    glazing_extinction: float = quantity(
        "1/m",
        "Extinction of the glass (low-iron about 4, window glass 16 to 32)",
        default=4.0,
        low=0.0,
        high=100.0,
    )
    glazing_refractive_index: float = quantity(
        "1", "Refractive index of the cover", default=1.526, low=1.0, high=2.5, low_open=True
    )
    glazing_emissivity: float = quantity(
        "1", "Thermal emissivity of the glass", default=0.88, low=0.05, high=1.0
    )
    soiling: float = quantity(
        "1", "Share of the sunlight lost to dust on the glass", default=0.03, low=0.0, high=0.5
    )
    front_gap: float = quantity(
        "mm", "Dry air gap between glass and absorber", default=40.0, low=2.0, high=500.0
    )
    absorber_absorptance: float = quantity(
        "1", "Solar absorptance of the absorber", default=0.95, low=0.1, high=1.0
    )
    absorber_emissivity: float = quantity(
        "1", "Thermal emissivity of the absorber towards the glass", default=0.15, low=0.02, high=1.0
    )
    edge_loss: float = quantity(
        "W/(m2 K)", "Heat lost through back and edges per aperture", default=0.8, low=0.0, high=20.0
    )

    # Bed
    sorbent_mass: float = quantity("kg/m2", "Dry sorbent per aperture", default=8.0, low=0.01, high=200.0)
    layer_thickness: float = quantity(
        "mm", "Thickness of the sorbent layer", default=2.0, low=0.05, high=100.0
    )
    bed_area: float = quantity(
        "1", "Area of sorbent layer per aperture (fins count)", default=6.0, low=0.1, high=100.0
    )
    layer_form: str | None = form_field()
    bed_metal: float = quantity(
        "kg/m2", "Metal of absorber and fins per aperture", default=5.0, low=0.2, high=200.0
    )
    bed_metal_specific_heat: float = quantity(
        "J/(kg K)", "Specific heat of that metal (aluminium 900)", default=900.0, low=100.0, high=2000.0
    )
    bed_coefficient: float = quantity(
        "W/(m2 K)", "From the moving air to the layer's surface", default=20.0, low=1.0, high=200.0
    )
    bed_air_volume: float = quantity(
        "m3/m2", "Air in bed, condenser and ducts per aperture", default=0.08, low=0.002, high=2.0
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
    loop_pressure: float = quantity(
        "Pa", "Pressure that the loop's fan works against", default=40.0, low=0.0, high=2000.0
    )
    fan_efficiency: float = quantity("1", "Efficiency of fan with motor", default=0.35, low=0.02, high=0.9)
    leak: float = quantity("1/h", "Air changes of the closed loop", default=0.5, low=0.0, high=50.0)
    vent_temperature: float | None = quantity(
        "degC",
        "Bed temperature at which the over-temperature vent begins to open; when not given, 5 K below the"
        " sorbent's service temperature, and at most 120 degC",
        default=None,
        low=40.0,
        high=300.0,
    )
    vent_air_changes: float = quantity(
        "1/h", "Air changes with the over-temperature vent fully open", default=200.0, low=0.0, high=2000.0
    )

    # Condenser
    condenser_area: float = quantity("1", "Condensing area per aperture", default=2.0, low=0.05, high=50.0)
    condenser_coefficient: float = quantity(
        "W/(m2 K)", "From the loop's air to that area", default=20.0, low=1.0, high=200.0
    )
    condenser_outer_area: float = quantity(
        "1", "Outer area of the condenser, fins counted at their efficiency", default=3.0, low=0.0, high=50.0
    )
    condenser_heat: float = quantity(
        "kJ/(m2 K)", "Heat that the condenser holds per aperture", default=6.0, low=0.5, high=500.0
    )
    condenser_holdup: float = quantity(
        "kg/m2", "Water that stays on one m2 of condenser before it runs", default=0.08, low=0.001, high=1.0
    )

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
    second_law_efficiency: float = quantity(
        "1", "Performance of the heat pump over a reversible one", default=0.4, low=0.05, high=0.8
    )
    heat_pump_approach: float = quantity(
        "K", "Refrigerant beyond bed and condenser", default=5.0, low=0.0, high=40.0
    )
    control_power: float = quantity(
        "W/m2", "Electricity of control and dampers, always on", default=1.0, low=0.0, high=100.0
    )

    # Wind and operation
    wind_constant: float = quantity(
        "W/(m2 K)", "Surface coefficient in still air at sea level", default=2.8, low=0.5, high=20.0
    )
    wind_slope: float = quantity(
        "W s/(m3 K)", "Rise of that coefficient per m/s of wind at sea level", default=3.0, low=0.0, high=20.0
    )
    device_height: float = quantity(
        "m", "Height of the device above ground", default=2.0, low=0.1, high=100.0
    )
    terrain: str = choice(("open", "suburb", "city"), "Ground around the device", default="open")
    shelter: float = quantity(
        "1", "Wind at the device over the free wind at its height", default=0.5, low=0.0, high=1.0
    )
    operation: str = choice(
        ("sun", "clock"), "When the bed takes up: below a sun threshold, or by the clock", default="sun"
    )
    close_above: float = quantity(
        "W/m2", "Sun on the aperture above which the loop is closed", default=60.0, low=0.0, high=500.0
    )
    open_at: float = quantity(
        "h", "Local standard time at which the clock opens", default=18.0, low=0.0, high=24.0
    )
    close_at: float = quantity(
        "h", "Local standard time at which the clock closes", default=8.0, low=0.0, high=24.0
    )
    closed_in_rain: bool = flag("Whether the loop stays closed in hours with rain", default=False)

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
