"""A turning wheel: the water and the heat that turn with it from one stream of air into another."""

from __future__ import annotations

from typing import Final

from welkinwell.compiled import njit
from welkinwell.constants import FREEZING_POINT, LIQUID_SPECIFIC_HEAT, WATER_MOLAR_MASS
from welkinwell.kernels.marks import gives_slopes, written_out
from welkinwell.sorbents.potential import sorbed_state

POTENTIAL_STEP: Final = 0.5  # J/mol, of the differences that give the slopes of sorbed heat; numerical width
TEMPERATURE_STEP: Final = 0.01  # K, the same


@gives_slopes("A", "T")
@njit(cache=True)
def sorbed_heat(A, T, row):
    """Return the enthalpy of sorbed water over liquid at the same temperature, the last of it [J/kg].

    -(A - T dA/dT)/M_w at constant loading: latent less isosteric heat. A [J/mol]; T [K]; row [1]. Its slopes
    in A and T, behind it, are differences: forms give no curvature.
    """
    by_A = _sorbed_heat(A + POTENTIAL_STEP, T, row) - _sorbed_heat(A - POTENTIAL_STEP, T, row)
    by_T = _sorbed_heat(A, T + TEMPERATURE_STEP, row) - _sorbed_heat(A, T - TEMPERATURE_STEP, row)
    return _sorbed_heat(A, T, row), by_A / (2.0 * POTENTIAL_STEP), by_T / (2.0 * TEMPERATURE_STEP)


@njit(cache=True)
def _sorbed_heat(A, T, row):
    _, loading_A, loading_T, _, _ = sorbed_state(row, A, T)
    along = -loading_T / loading_A if loading_A < -1e-250 else 0.0
    return -(A - T * along) / WATER_MOLAR_MASS


@written_out
@njit(cache=True)
def turned_heat(rate, heat, T, w, bound):
    """Return the heat that turns on with a part of a wheel, R [C t + c w t + E], t above 0 degC [W/m2].

    rate R: dry sorbent that turns [kg/(m2 s)]; heat C: of dry matter per sorbent [J/(kg K)]; T [K];
    w [kg/kg]; bound E: heat of sorption, counted from any one part of the same wheel [J/kg of dry sorbent].
    """
    theta = T - FREEZING_POINT
    return rate * ((heat + w * LIQUID_SPECIFIC_HEAT) * theta + bound)
