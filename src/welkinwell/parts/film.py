"""Water that lies on a surface: how much of it is wetted, how it runs off, freezes and evaporates.

Every function is smooth and returns its value with its slope. Equations: docs/theory/passive_box.md, 2.
"""

from __future__ import annotations

import math
from typing import Final

from welkinwell.compiled import njit
from welkinwell.constants import FREEZING_POINT, FUSION_HEAT, LIQUID_SPECIFIC_HEAT
from welkinwell.kernels.marks import gives_slopes
from welkinwell.moist_air.saturation import (
    ice_saturation_pressure,
    ice_saturation_pressure_slope,
    saturation_pressure_and_slope,
)
from welkinwell.transfer.smooth_bounds import positive_part

HALF_WETTED: Final = 0.002  # kg/m2, film at which half of a surface counts as wet; assumed, no source
DRAIN_TIME: Final = 120.0  # s, for water above the hold-up to reach the gutter; assumed, no source
DEW_BAND: Final = 20.0  # Pa, over which evaporation turns into condensation; numerical width
FREEZING_SPAN: Final = 0.25  # K, a film freezes over about this much below 0 C; numerical width
# K, between which temperatures are looked for; wide, since a search that stops short of the energy that a
# part holds creates heat: a selective absorber in still air goes beyond 1,000 K in the sums, if not in fact
COLDEST: Final = 100.0
HOTTEST: Final = 2000.0
ALL_LIQUID: Final = FREEZING_POINT + 2.0  # K, above this the ice share is below 1e-7 and taken as zero


@gives_slopes("film")
@njit(cache=True)
def wetted_share(film):
    """Return the wetted share of a surface [1] and its slope [m2/kg] for a film [kg/m2].

    z^2/(1 + z^2), z the film over HALF_WETTED: flat at zero, so that drying ends without a kink. A film that
    a step has taken below zero counts as wetted the other way, which fills it again.
    """
    z = abs(film) / HALF_WETTED
    total = 1.0 + z * z
    return math.copysign(z * z / total, film), 2.0 * z / (HALF_WETTED * total * total)


@gives_slopes("excess", "film")
@njit(cache=True)
def working_share(excess, film):
    """Return the share of a surface that exchanges vapour, with its slopes in excess and film.

    All of it where vapour condenses, the wetted share where water evaporates; the first drops of a dry
    surface need an excess of up to DEW_BAND. excess: vapour pressure over the surface less that of its
    film [Pa]; film [kg/m2].
    """
    wet, wet_m = wetted_share(film)
    step, slope = smooth_step(excess / DEW_BAND)
    return wet + (1.0 - wet) * step, (1.0 - wet) * slope / DEW_BAND, (1.0 - step) * wet_m


@gives_slopes("z")
@njit(cache=True)
def smooth_step(z):
    """Return a step from 0 at z = 0 to 1 at z = 1 with flat ends, and its slope."""
    if z <= 0.0:
        return 0.0, 0.0
    if z >= 1.0:
        return 1.0, 0.0
    return z * z * (3.0 - 2.0 * z), 6.0 * z * (1.0 - z)


@gives_slopes("T")
@njit(cache=True)
def ice_share(T):
    """Return the frozen share of a film [1] at T [K], its slope [1/K] and its curvature [1/K2]."""
    if T > ALL_LIQUID:
        return 0.0, 0.0, 0.0
    t = math.tanh((T - FREEZING_POINT + FREEZING_SPAN) / FREEZING_SPAN)
    slope = -0.5 * (1.0 - t * t) / FREEZING_SPAN
    return 0.5 * (1.0 - t), slope, -2.0 * t * slope / FREEZING_SPAN


@gives_slopes("T")
@njit(cache=True)
def film_enthalpy(T):
    """Return the enthalpy of a film [J/kg] above liquid at 0 C, and its slope [J/(kg K)], at T [K]."""
    share, slope, _ = ice_share(T)
    return LIQUID_SPECIFIC_HEAT * (
        T - FREEZING_POINT
    ) - share * FUSION_HEAT, LIQUID_SPECIFIC_HEAT - slope * FUSION_HEAT


@gives_slopes("T")
@njit(cache=True)
def film_pressure(T):
    """Return the vapour pressure over a film [Pa] that may be frozen, and its slope [Pa/K], at T [K]."""
    p, p_T = saturation_pressure_and_slope(T)
    share, share_T, _ = ice_share(T)
    if share == 0.0:
        return p, p_T
    ice = ice_saturation_pressure(T)
    ice_T = ice_saturation_pressure_slope(T)
    return p + share * (ice - p), p_T + share * (ice_T - p_T) + share_T * (ice - p)


@gives_slopes("film", "T")
@njit(cache=True)
def drained(film, holdup, T):
    """Return the flow that runs off [kg/(m2 s)], and its slopes in film [1/s] and T [kg/(m2 s K)].

    film, holdup: kg per m2 of aperture; T: temperature of the film [K]. Ice does not run.
    """
    excess, excess_m = positive_part(film - holdup, 0.1 * holdup)
    share, share_T, _ = ice_share(T)
    return (
        (1.0 - share) * excess / DRAIN_TIME,
        (1.0 - share) * excess_m / DRAIN_TIME,
        -share_T * excess / DRAIN_TIME,
    )


@njit(cache=True)
def temperature_with_film(energy, heat, film, T):
    """Return the temperature [K] at which a plate and its film hold an energy [J/m2], from a guess."""
    liquid = FREEZING_POINT + energy / (heat + film * LIQUID_SPECIFIC_HEAT)
    if liquid > ALL_LIQUID or film == 0.0:
        return liquid
    low = COLDEST
    high = HOTTEST
    for step in range(60):
        h, h_T = film_enthalpy(T)
        miss = heat * (T - FREEZING_POINT) + film * h - energy
        if miss > 0.0:
            high = min(high, T)
        else:
            low = max(low, T)
        new = T - miss / max(heat + film * h_T, 0.1 * heat)
        if not (low < new < high) or step % 8 == 7:
            new = 0.5 * (low + high)
        if abs(new - T) < 1e-12 * T:
            return new
        T = new
    return T
