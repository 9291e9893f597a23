"""Cooling coil: air drawn over fins that a compressor or thermoelectric modules keep below its dew point.

The design as a user declares it. What is computed stands in docs/theory/cooling_coil.md and, compiled, in
cooling_coil_flows.py. Everything "per face" is per m2 of the coil's face, where the air enters.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from welkinwell.declare import again, choice, quantity
from welkinwell.errors import Problem
from welkinwell.harvesters import shared_fields as shared


@dataclass(frozen=True)
class CoolingCoil:
    """Sizes, machine and control of one unit, and how many there are."""

    kind: ClassVar[str] = "cooling_coil"

    modules: int = again(shared.modules, sentence="How many equal units stand at the site")
    coil_face: float = quantity(
        "m2", "Face of the coil of one unit, where the air enters", default=0.1, low=0.0001, high=100.0
    )
    footprint_ratio: float = again(
        shared.footprint_ratio, sentence="Ground taken per face, spacing included", default=8.0, high=100.0
    )

    # Coil: four rows of tubes with fins 2.5 mm apart; common practice, no source
    face_velocity: float = again(
        shared.face_velocity, sentence="Air speed at the face", default=1.2, low=0.01
    )
    fin_area: float = quantity(
        "1", "Surface of fins and tubes per face (about 20 a row)", default=80.0, low=1.0, high=400.0
    )
    air_coefficient: float = quantity(
        "W/(m2 K)",
        "Surface coefficient on the air side at 1.5 m/s at sea level, fin efficiency in it",
        default=40.0,
        low=2.0,
        high=200.0,
    )
    fin_gap: float = quantity("mm", "Free gap between two fins", default=2.5, low=0.5, high=20.0)
    refrigerant_conductance: float = quantity(
        "W/(m2 K)",
        "From the fins' surface to what evaporates (or to the cold plate), per face",
        default=9000.0,
        low=10.0,
        high=100000.0,
    )
    fin_heat: float = quantity(
        "J/(m2 K)", "Heat capacity of the fins per face", default=14000.0, low=500.0, high=500000.0
    )
    evaporator_heat: float = quantity(
        "J/(m2 K)",
        "Heat capacity of tubes and refrigerant (or cold plate) per face",
        default=10000.0,
        low=500.0,
        high=500000.0,
    )
    # films and bridges of water between fins hold 0.05 to 0.15 kg/m2 (value from memory)
    fin_holdup: float = quantity(
        "kg/m2", "Water that stays on a m2 of fins before it runs", default=0.06, low=0.001, high=1.0
    )
    recovery: float = quantity(
        "1",
        "Effectiveness of an air-to-air exchanger between what enters and what leaves (0: none)",
        default=0.0,
        low=0.0,
        high=0.9,
    )

    # What makes cold
    cooling: str = choice(
        ("vapour_compression", "thermoelectric"), "What makes the coil cold", default="vapour_compression"
    )
    refrigerant: str = choice(
        ("R290", "R600a", "R134a", "R32"), "Refrigerant of the compressor", default="R290"
    )
    rated_capacity: float = quantity(
        "W/m2",
        "Cooling capacity of the compressor per face, evaporating at 5 and condensing at 45 degC",
        default=25000.0,
        low=50.0,
        high=300000.0,
    )
    # 0.25 to 0.40 in small machines, 0.40 to 0.55 in larger ones (value from memory)
    second_law: float = quantity(
        "1", "Share of Carnot's performance that compressor and motor reach", default=0.40, low=0.05, high=0.7
    )
    figure_of_merit: float = quantity(
        "1/K", "Figure of merit Z of thermoelectric modules", default=0.0025, low=0.0002, high=0.01
    )
    module_conductance: float = quantity(
        "W/(m2 K)",
        "Thermal conductance of the modules per face (a 40 mm module has about 0.5 W/K)",
        default=100.0,
        low=1.0,
        high=20000.0,
    )
    current_share: float = quantity(
        "1",
        "Current of the modules over that at which they would pump most heat from 0 degC",
        default=0.3,
        low=0.01,
        high=1.0,
    )

    # Heat rejection
    condenser_air: str = choice(
        ("outdoor", "coil_exhaust"),
        "Air that takes the heat: outdoor air by a fan of its own, or the cold air that leaves the coil",
        default="outdoor",
    )
    condenser_air_ratio: float = quantity(
        "1", "Outdoor air over the condenser for each volume over the coil", default=2.0, low=0.2, high=20.0
    )
    condenser_conductance: float = again(
        shared.condenser_conductance,
        sentence="From what condenses (or the hot plate) to its air, per face of the coil",
        default=5000.0,
        low=10.0,
    )
    condenser_heat: float = again(shared.condenser_heat)

    # Fans; common practice, no source
    coil_drop: float = quantity(
        "Pa", "Pressure drop of the dry coil at 1.5 m/s", default=50.0, low=0.0, high=1000.0
    )
    wet_coil_drop: float = quantity(
        "1", "Share by which a wet coil's pressure drop is larger", default=0.35, low=0.0, high=3.0
    )
    filter_drop: float = quantity(
        "Pa", "Pressure drop of filter and casing at 1.5 m/s", default=30.0, low=0.0, high=1000.0
    )
    recovery_drop: float = quantity(
        "Pa",
        "Pressure drop of both sides of the air-to-air exchanger at 1.5 m/s, where there is one",
        default=100.0,
        low=0.0,
        high=2000.0,
    )
    condenser_drop: float = quantity(
        "Pa", "Pressure drop of the condenser at its air flow", default=40.0, low=0.0, high=1000.0
    )
    fan_efficiency: float = again(
        shared.fan_efficiency, sentence="Efficiency of fans with their motors (small axial 0.2 to 0.4)"
    )

    # Control
    operation: str = again(
        shared.operation,
        options=("dew_point", "clock"),
        sentence="When it may run: whenever the dew point is high enough, or so within hours of the clock",
        default="dew_point",
    )
    run_above_dew_point: float = quantity(
        "degC", "Outdoor dew point above which it runs; it stops 1 K lower", default=5.0, low=-10.0, high=30.0
    )
    open_at: float = again(shared.open_at, sentence="Local standard time from which the clock allows it")
    close_at: float = again(
        shared.close_at, sentence="Local standard time to which the clock allows it", default=8.0
    )
    frost_control: str = choice(
        ("defrost", "stop"),
        "Frost: let it grow and melt it by electric heat, or stop at 0 degC until the coil has warmed",
        default="defrost",
    )
    frost_limit: float = quantity(
        "kg/m2", "Frost on a m2 of fins at which it is melted", default=0.15, low=0.005, high=2.0
    )
    defrost_power: float = quantity(
        "W/m2", "Electric heat that melts frost, per face", default=8000.0, low=0.0, high=100000.0
    )
    shortest_run: float = quantity(
        "min",
        "Shortest time between start and stop, and for meltwater to drip",
        default=10.0,
        low=1.0,
        high=720.0,
    )
    # common practice, no source; less where seals or refrigerant stand less
    highest_condensing: float = quantity(
        "degC",
        "Temperature of heat rejection above which the pressure switch interrupts the cooling",
        default=70.0,
        low=40.0,
        high=110.0,
    )
    off_draught: float = quantity(
        "1", "Share of its air that still drifts through when it is off", default=0.02, low=0.001, high=1.0
    )
    control_power: float = again(
        shared.control_power,
        unit="W/m2",
        sentence="Controls, sensors and standby, round the clock, per face",
        default=60.0,
        low=0.0,
        high=10000.0,
    )
    field_multiplier: float = quantity(
        "1",
        "Energy per litre of a field year over that simulated (common practice, no source: 1.3 to 2); shown"
        " beside the result and never in it",
        default=1.5,
        low=1.0,
        high=5.0,
    )

    @property
    def basis_area(self) -> float:
        """Area that every figure per m2 refers to: the coil's face [m2]."""
        return self.coil_face

    def cross_checks(self) -> list[Problem]:
        """Rules between fields."""
        problems = []
        if self.frost_control == "defrost" and self.frost_limit < 1.2 * self.fin_holdup:
            problems.append(
                Problem(
                    "frost_limit",
                    f"{self.frost_limit:.3g} kg/m2",
                    f"at least 1.2 times fin_holdup ({1.2 * self.fin_holdup:.3g} kg/m2)",
                    "Water that stays on the fins freezes too, and would call for defrosting at once.",
                )
            )
        if self.frost_control == "defrost" and self.defrost_power <= 0.0 and self.cooling != "thermoelectric":
            problems.append(Problem("defrost_power", "0 W/m2", "above zero where frost_control is 'defrost'"))
        if self.operation == "clock" and self.open_at == self.close_at:
            problems.append(Problem("open_at", f"{self.open_at / 3600.0:g} h", "another hour than close_at"))
        if self.cooling == "thermoelectric" and self.module_conductance > 0.5 * self.refrigerant_conductance:
            problems.append(
                Problem(
                    "module_conductance",
                    f"{self.module_conductance:.3g} W/(m2 K)",
                    f"at most half of refrigerant_conductance ({0.5 * self.refrigerant_conductance:.3g})",
                    "Modules that conduct better than what joins them to the fins cool nothing.",
                )
            )
        return problems
