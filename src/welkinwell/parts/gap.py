"""Air gap between two plates: what it carries of heat and vapour, with slopes.

The gap's Rayleigh number uses virtual temperatures, since moist air is light. Equations:
docs/theory/passive_box.md, 2; Nusselt numbers: transfer.enclosures.
"""

from __future__ import annotations

from typing import Final

from welkinwell.compiled import njit
from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    GRAVITY,
)
from welkinwell.kernels.marks import gives_slopes
from welkinwell.moist_air.transport import vapour_diffusivity as diffusivity
from welkinwell.transfer.enclosures import (
    SIXTY_DEGREES,
    enclosure_nusselt,
    tilt_factors,
    tilted_nusselt_at,
)

LIGHTNESS: Final = 0.378  # 1 - molar mass of water over that of dry air


@gives_slopes("T")
@njit(cache=True)
def air_conductivity(T):
    """Return the conductivity of dry air [W/(m K)] and its slope at T [K]; a line, within 0.3 % to 80 C."""
    return 0.02436 + 7.34e-5 * (T - FREEZING_POINT), 7.34e-5


@gives_slopes("T")
@njit(cache=True)
def vapour_diffusivity(T, pressure):
    """Return the diffusivity of vapour in air [m2/s] and its slope at T [K], pressure [Pa] (Massman1998)."""
    D = diffusivity(T, pressure)
    return D, 1.81 * D / T


@njit(cache=True)
def virtual_temperature(T, p, pressure):
    """Return the temperature of dry air as light as this moist air [K], and its slopes in T and p."""
    held = min(max(p, -0.5 * pressure), 0.95 * pressure)
    dry = 1.0 / (1.0 - LIGHTNESS * held / pressure)
    by_p = T * dry * dry * LIGHTNESS / pressure if held == p else 0.0
    return T * dry, dry, by_p


@gives_slopes("T_1", "T_2", "p_1", "p_2")
@njit(cache=True)
def gap_nusselt(T_1, T_2, p_1, p_2, pressure, width, inclination):
    """Return the Nusselt number of a gap and its slopes in T_1, T_2, p_1, p_2.

    T: plates [K], p: vapour pressures at them [Pa]; pressure [Pa]; width [m]; inclination [rad], 0 when
    plate 1 lies below.
    """
    cosine, damping = tilt_factors(inclination)
    return gap_nusselt_at(T_1, T_2, p_1, p_2, pressure, width, inclination, cosine, damping)


@gives_slopes("T_1", "T_2", "p_1", "p_2")
@njit(cache=True)
def gap_nusselt_at(T_1, T_2, p_1, p_2, pressure, width, inclination, cosine, damping):
    """Return what gap_nusselt does, from the inclination's factors (transfer.enclosures.tilt_factors)."""
    v_1, v_1T, v_1p = virtual_temperature(T_1, p_1, pressure)
    v_2, v_2T, v_2p = virtual_temperature(T_2, p_2, pressure)
    if v_1 <= v_2:
        return 1.0, 0.0, 0.0, 0.0, 0.0
    T = 0.5 * (T_1 + T_2)
    theta = T - FREEZING_POINT
    k = 0.02436 + 7.34e-5 * theta
    mu = 1.7218e-5 + 4.72e-8 * theta
    rho = pressure / (DRY_AIR_GAS_CONSTANT * T)
    total = v_1 + v_2
    scale = GRAVITY * width**3 * rho * rho * DRY_AIR_SPECIFIC_HEAT / (mu * k)
    rayleigh = scale * 2.0 * (v_1 - v_2) / total
    if inclination <= SIXTY_DEGREES:
        nusselt, slope = tilted_nusselt_at(rayleigh, cosine, damping)
    else:
        nusselt, slope = enclosure_nusselt(rayleigh, inclination)
    # d ln(scale)/dT: density falls, viscosity and conductivity rise with temperature
    by_mean = rayleigh * (-2.0 / T - 4.72e-8 / mu - 7.34e-5 / k) * 0.5
    by_v_1 = scale * 4.0 * v_2 / (total * total)
    by_v_2 = -scale * 4.0 * v_1 / (total * total)
    return (
        nusselt,
        slope * (by_v_1 * v_1T + by_mean),
        slope * (by_v_2 * v_2T + by_mean),
        slope * by_v_1 * v_1p,
        slope * by_v_2 * v_2p,
    )
