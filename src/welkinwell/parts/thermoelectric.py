"""Thermoelectric modules: heat pumped and power drawn at a current, from conductance and figure of merit.

With the current written as j = alpha I/K, the textbook's Q = alpha I T_c - I^2 R/2 - K dT needs only the
figure of merit Z = alpha^2/(R K) and the thermal conductance K. Equations: docs/theory/cooling_coil.md, 3.
"""

from __future__ import annotations

import math

from welkinwell.compiled import njit
from welkinwell.kernels.marks import written_out


@written_out
@njit(cache=True)
def pumped_heat(current: float, cold: float, hot: float, merit: float, conductance: float) -> float:
    """Heat taken from the cold face, K (j T_c - j^2/(2 Z) - (T_h - T_c)); below zero when it leaks back.

    current: j = alpha I/K [1]
    cold, hot: temperatures of the two faces [K]
    merit: Z = alpha^2/(R K) [1/K]
    conductance: K of the modules, or per m2 of anything [W/K]
    returns: heat [W], or per m2 of the same
    source: Goldsmid2010
    """
    return conductance * (current * cold - 0.5 * current * current / merit - (hot - cold))


@written_out
@njit(cache=True)
def drawn_power(current: float, cold: float, hot: float, merit: float, conductance: float) -> float:
    """Electric power drawn, K (j (T_h - T_c) + j^2/Z).

    current: j = alpha I/K [1]
    cold, hot: temperatures of the two faces [K]
    merit: Z [1/K]
    conductance: K of the modules, or per m2 of anything [W/K]
    returns: power, below zero where the module would generate [W], or per m2 of the same
    source: Goldsmid2010
    """
    return conductance * (current * (hot - cold) + current * current / merit)


def best_performance(cold: float, hot: float, merit: float) -> float:
    """Largest coefficient of performance at any current, T_c/(T_h - T_c) (s - T_h/T_c)/(s + 1).

    s = sqrt(1 + Z T_m), T_m the mean temperature.

    cold, hot: [K]; hot above cold
    merit: Z [1/K]
    returns: coefficient of performance, below zero where the module cannot span the difference [1]
    source: Goldsmid2010
    """
    s = math.sqrt(1.0 + merit * 0.5 * (cold + hot))
    return cold / (hot - cold) * (s - hot / cold) / (s + 1.0)


def current_of_best_performance(cold: float, hot: float, merit: float) -> float:
    """Current j at which best_performance is reached, Z (T_h - T_c)/(s - 1).

    cold, hot: [K]; merit: Z [1/K]
    returns: current j = alpha I/K [1]
    source: Goldsmid2010
    """
    return merit * (hot - cold) / (math.sqrt(1.0 + merit * 0.5 * (cold + hot)) - 1.0)
