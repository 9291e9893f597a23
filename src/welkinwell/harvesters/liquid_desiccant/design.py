"""Liquid desiccant: brine that takes up vapour on an absorber by night and gives it off in a solar still.

The design as a user declares it. What is computed stands in docs/theory/liquid_desiccant.md and, compiled, in
liquid_desiccant_flows.py. Areas and masses "per aperture" are per m2 of the still's glazing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from welkinwell.declare import again, choice, flag, quantity
from welkinwell.errors import Problem
from welkinwell.harvesters import shared_fields as shared
from welkinwell.harvesters.facing import azimuth_of


@dataclass(frozen=True)
class LiquidDesiccant:
    """Sizes, materials and operation of one module, and how many there are.

    Defaults describe a shaded rack of wetted plates that the wind blows through, over a plain solar still;
    where no source is named they are common practice.
    """

    kind: ClassVar[str] = "liquid_desiccant"

    modules: int = again(shared.modules)
    aperture_area: float = again(
        shared.aperture_area, sentence="Glazed area of one still that takes the sun", high=1000.0
    )
    footprint_ratio: float = again(
        shared.footprint_ratio,
        sentence="Ground taken per aperture, absorber and spacing included",
        default=2.0,
        high=50.0,
    )
    tilt: float = again(
        shared.tilt, sentence="Slope of still and glass from horizontal", default=15.0, high=60.0
    )
    facing: str = again(shared.facing, sentence="Where the still looks")

    # Solution
    salt_mass: float = quantity(
        "kg/m2", "Dry salt in the whole loop per aperture", default=6.0, low=0.1, high=500.0
    )
    still_salt: float = quantity(
        "kg/m2", "Dry salt of the solution that lies in the still", default=1.0, low=0.05, high=200.0
    )
    store_volume: float = quantity(
        "L/m2",
        "Solution that tank and absorber hold when full, per aperture",
        default=30.0,
        low=0.1,
        high=5000.0,
    )
    solution_viscosity: float = quantity(
        "Pa s",
        "Viscosity of the solution (lithium chloride at 0.40 salt and 25 degC: 0.0083, Conde2004)",
        default=0.008,
        low=0.0005,
        high=0.2,
    )
    day_circulation: float = quantity(
        "kg/(m2 h)",
        "Solution pumped from the tank to the still and back by day",
        default=10.0,
        low=0.0,
        high=1e4,
    )
    exchanger_effectiveness: float = quantity(
        "1", "Effectiveness of the heat exchanger between the two streams", default=0.7, low=0.0, high=0.99
    )
    drop_loss: float = quantity(
        "1",
        "Salt that leaves with drops over the salt that is pumped (a good mist eliminator 1e-7; assumed)",
        default=1e-7,
        low=0.0,
        high=1e-2,
    )
    pump_head: float = quantity("m", "Head that the pump lifts over", default=3.0, low=0.0, high=50.0)
    pump_efficiency: float = quantity("1", "Efficiency of pump with motor", default=0.3, low=0.02, high=0.9)

    # Absorber
    absorber: str = choice(
        ("tray", "film", "packed"),
        "Open trays, plates wetted by a falling film, or a wetted packing",
        default="film",
    )
    absorber_area: float = quantity(
        "1", "Area of trays, plates or packing per aperture", default=3.0, low=0.01, high=1000.0
    )
    absorber_air: str = choice(
        ("wind", "fan"), "What moves the air through plates or packing", default="wind"
    )
    absorber_face: float = quantity(
        "1",
        "Face that the air enters plates or packing through, per aperture",
        default=0.15,
        low=0.001,
        high=20.0,
    )
    wind_through: float = quantity(
        "1",
        "Speed between plates or before the packing over the wind at the device",
        default=0.4,
        low=0.0,
        high=1.0,
    )
    fan_flow: float = quantity(
        "m3/(m2 h)", "Air that the fan moves, per aperture", default=300.0, low=1.0, high=1e5
    )
    fan_pressure: float = quantity(
        "Pa", "Pressure that the fan works against", default=25.0, low=0.0, high=2000.0
    )
    fan_efficiency: float = again(shared.fan_efficiency, sentence="Efficiency of fan with motor", high=0.9)
    plate_gap: float = quantity("mm", "Gap between wetted plates", default=12.0, low=2.0, high=200.0)
    plate_height: float = quantity(
        "m", "Fall of the film between two mixings", default=0.5, low=0.02, high=10.0
    )
    wetting: float = quantity(
        "kg/(m s)", "Solution that falls per width of plate", default=0.02, low=0.001, high=1.0
    )
    packing_size: float = quantity(
        "mm", "Nominal size of the packing's pieces", default=25.0, low=5.0, high=100.0
    )
    packing_surface: float = quantity(
        "1/m", "Dry surface of the packing per volume", default=190.0, low=20.0, high=1000.0
    )
    packing_depth: float = quantity(
        "m", "Depth of the packing along the fall", default=0.4, low=0.05, high=5.0
    )
    packing_wetting: float = quantity(
        "kg/(m2 s)", "Solution over the cross section of the packing", default=1.0, low=0.05, high=20.0
    )
    packing_tension: float = quantity(
        "N/m",
        "Critical surface tension of the packing (polyethylene 0.033)",
        default=0.033,
        low=0.01,
        high=0.1,
    )
    absorber_emissivity: float = again(
        shared.absorber_emissivity,
        sentence="Thermal emissivity of the open trays or of the rack's outside",
        default=0.9,
        low=0.0,
    )
    absorber_sky_area: float = quantity(
        "1",
        "Sky-facing area of the absorber per aperture: trays all, racks their top",
        default=0.3,
        low=0.0,
        high=1000.0,
    )
    absorber_heat: float = quantity(
        "kJ/(m2 K)",
        "Heat that tank and absorber hold without the solution",
        default=8.0,
        low=0.5,
        high=1000.0,
    )
    absorbs_by_day: bool = flag("Whether the absorber also works by day, in the shade", default=False)
    tank_loss: float = quantity(
        "W/(m2 K)", "Heat lost by tank and pipes per aperture", default=1.0, low=0.0, high=50.0
    )

    # Still
    regenerator: str = choice(
        ("solar_still", "heated_film", "membrane"),
        "Sun on the solution, heat from elsewhere, or such heat and a membrane before the vapour",
        default="solar_still",
    )
    glazing_thickness: float = again(shared.glazing_thickness)
    glazing_extinction: float = again(shared.glazing_extinction)
    glazing_refractive_index: float = again(shared.glazing_refractive_index)
    glazing_emissivity: float = again(shared.glazing_emissivity)
    glazing_holdup: float = again(shared.glazing_holdup)
    wet_glass_loss: float = again(shared.wet_glass_loss)
    soiling: float = again(shared.soiling)
    still_gap: float = quantity("mm", "Gap between solution and glass", default=80.0, low=5.0, high=500.0)
    still_absorptance: float = quantity(
        "1", "Solar absorptance of the wetted still", default=0.92, low=0.1, high=1.0
    )
    still_emissivity: float = quantity(
        "1", "Thermal emissivity of the solution (a water surface: 0.95)", default=0.95, low=0.05, high=1.0
    )
    still_heat: float = quantity(
        "kJ/(m2 K)",
        "Heat that the still's plate holds without the solution",
        default=4.0,
        low=0.5,
        high=1000.0,
    )
    still_mixing: float = quantity(
        "s",
        "Time after which the film in the still is mixed; none for a pool at rest",
        default=30.0,
        low=0.0,
        high=1e6,
    )
    edge_loss: float = again(
        shared.edge_loss, sentence="Heat lost through bottom and edges of the still", default=1.2, high=50.0
    )
    leak: float = again(shared.leak, sentence="Air changes of the still", default=0.3)
    heat_temperature: float = quantity(
        "degC",
        "Temperature of the heat supplied (heated film and membrane)",
        default=75.0,
        low=30.0,
        high=150.0,
    )
    heat_conductance: float = again(
        shared.heat_conductance,
        sentence="Conductance from that heat to the solution in the still",
        default=60.0,
        low=0.0,
        high=5000.0,
    )
    membrane_thickness: float = quantity("mm", "Thickness of the membrane", default=0.12, low=0.01, high=5.0)
    membrane_porosity: float = quantity("1", "Porosity of the membrane", default=0.75, low=0.05, high=0.98)
    membrane_tortuosity: float = quantity("1", "Tortuosity of its pores", default=1.8, low=1.0, high=10.0)
    crystal_margin: float = quantity(
        "1",
        "Band above the loading at crystallisation over which evaporation ends, as a share of it",
        default=0.1,
        low=0.01,
        high=0.5,
    )

    # Condenser
    condenser: str = choice(("glass", "separate"), "Where the still's vapour condenses", default="glass")
    condenser_airflow: float = quantity(
        "m3/(m2 h)",
        "Air that circulates between still and separate condenser",
        default=8.0,
        low=0.1,
        high=1000.0,
    )
    condenser_effectiveness: float = quantity(
        "1", "Share of the way to the condenser's state that this air goes", default=0.8, low=0.05, high=1.0
    )
    condenser_recovery: float = quantity(
        "1",
        "Share of that air's own heat that its way back takes over from its way out",
        default=0.6,
        low=0.0,
        high=1.0,
    )
    condenser_power: float = quantity(
        "W/m2", "Power that moves that air by day (0 for a thermosyphon)", default=0.0, low=0.0, high=200.0
    )
    condenser_heat: float = again(
        shared.condenser_heat,
        unit="kJ/(m2 K)",
        sentence="Heat that the separate condenser holds",
        default=5.0,
        low=0.5,
        high=1000.0,
    )
    condenser_outer_area: float = again(
        shared.condenser_outer_area,
        sentence="Outer area of the separate condenser, fins counted at their efficiency",
        default=2.5,
        low=0.01,
    )
    condenser_holdup: float = again(
        shared.condenser_holdup, sentence="Water that stays on the separate condenser, per aperture"
    )

    # Wind and operation
    wind_constant: float = again(shared.wind_constant, low=0.0)
    wind_slope: float = again(shared.wind_slope)
    device_height: float = again(shared.device_height)
    terrain: str = again(shared.terrain)
    shelter: float = again(shared.shelter, default=0.7)
    operation: str = again(
        shared.operation,
        options=("sun", "clock"),
        sentence="When the absorber works: below a sun threshold, or by the clock",
    )
    close_above: float = again(
        shared.close_above, sentence="Sun on the aperture above which the still is fed", default=60.0
    )
    open_at: float = again(
        shared.open_at, sentence="Local standard time at which the clock feeds the absorber"
    )
    close_at: float = again(
        shared.close_at, sentence="Local standard time at which the clock feeds the still", default=8.0
    )
    closed_in_rain: bool = again(
        shared.closed_in_rain, sentence="Whether the absorber is covered in hours with rain"
    )

    @property
    def basis_area(self) -> float:
        """Area that every "per m2" refers to: the aperture of one still [m2]."""
        return self.aperture_area

    @property
    def sorbent_mass(self) -> float:
        """Dry salt per aperture [kg/m2]."""
        return self.salt_mass

    @property
    def store_salt(self) -> float:
        """Dry salt of tank and absorber per aperture [kg/m2]."""
        return self.salt_mass - self.still_salt

    def cross_checks(self) -> list[Problem]:
        """Rules between fields."""
        problems = []
        if self.still_salt > 0.95 * self.salt_mass:
            problems.append(
                Problem(
                    "still_salt",
                    f"{self.still_salt:.3g} kg/m2",
                    f"at most 0.95 of salt_mass ({self.salt_mass:.3g} kg/m2)",
                    "The rest fills tank and absorber.",
                )
            )
        if self.absorber == "tray" and self.absorber_air == "fan":
            problems.append(
                Problem("absorber_air", "'fan'", "'wind' for open trays", "Trays lie open to the wind.")
            )
        if self.regenerator != "solar_still" and self.operation == "sun":
            problems.append(
                Problem(
                    "operation",
                    "'sun'",
                    f"'clock' with the regenerator {self.regenerator!r}",
                    "Supplied heat runs by the clock: give open_at and close_at.",
                )
            )
        return problems

    def azimuth(self, latitude: float) -> float:
        """Direction that the still faces, clockwise from north [rad], at a latitude [rad]."""
        return azimuth_of(self.facing, latitude)
