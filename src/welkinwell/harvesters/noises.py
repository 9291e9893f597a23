"""What makes noise in a harvester: fans and compressors from what a design says of them."""

from __future__ import annotations

from typing import Any, Final

from welkinwell.parts.heat_pump import heating_cop
from welkinwell.supply.sound_level import ASSUMED_PRESSURE, Noise

MILD: Final = 288.15  # K, outdoor air from which a heat pump is taken to draw its heat; assumed


def fan(name: str, meter: str, flow: float, power: float, efficiency: float, phase: str = "") -> Noise:
    """Make a fan of its flow [m3/s] and its power [W], whose pressure is what the power leaves."""
    pressure = power * efficiency / flow if flow > 0.0 else 0.0
    return Noise(name, "fan", meter, phase, power, flow, pressure)


def fan_of_power(name: str, meter: str, power: float, efficiency: float, phase: str = "") -> Noise:
    """Make a fan of which only the power is known [W]: against an assumed pressure."""
    return Noise(name, "fan", meter, phase, power, power * efficiency / ASSUMED_PRESSURE, ASSUMED_PRESSURE)


def heating_compressor(design: Any, hot: float, phase: str = "") -> Noise:
    """Make the compressor of a heat pump that heats to a temperature [K] from mild air."""
    approach = design.heat_pump_approach
    cop = heating_cop(MILD - approach, hot + approach, design.second_law_efficiency)
    power = design.heating_power * design.basis_area / max(float(cop), 1.0)
    return Noise("Compressor of the heat pump", "compressor", "heating", phase, power)
