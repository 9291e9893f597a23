"""ln p_sat(T) with two slopes, for forms that are published in pressure and not in the potential."""

from __future__ import annotations

from typing import Final

from welkinwell.compiled import njit
from welkinwell.moist_air.saturation import log_saturation_pressure

STEP: Final = 0.003  # K, of the central difference that gives the second slope


@njit(cache=True)
def log_saturation_terms(T):
    """Return ln(p_sat/Pa) and its first two slopes in temperature; the second by central difference.

    Args: T [K]. Returns: ln(p_sat/Pa) [1], slope [1/K], curvature [1/K2].
    """
    value, slope = log_saturation_pressure(T)
    above = log_saturation_pressure(T + STEP)[1]
    below = log_saturation_pressure(T - STEP)[1]
    return value, slope, (above - below) / (2.0 * STEP)
