"""The sorbent bed: the heat that it holds with its water, and the air that goes through it.

The bed's enthalpy counts dry solid and metal, sorbed and lying water, and the excess enthalpy of the sorbed
water from the sorbent's own potential. Equations: docs/theory/passive_box.md, 1.
"""

from __future__ import annotations

import math
from typing import Final

from welkinwell.compiled import njit
from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    FREEZING_POINT,
    GAS_CONSTANT,
    LATENT_HEAT_AT_FREEZING,
    LIQUID_SPECIFIC_HEAT,
    MOLAR_MASS_RATIO,
    VAPOUR_SPECIFIC_HEAT,
    WATER_GAS_CONSTANT,
    WATER_MOLAR_MASS,
)
from welkinwell.kernels.marks import gives_slopes, written_out
from welkinwell.moist_air.saturation import log_saturation_pressure
from welkinwell.moist_air.transport import dry_air_conductivity, vapour_diffusivity
from welkinwell.parts.film import COLDEST, HOTTEST
from welkinwell.sorbents.potential import potential_at_loading, sorbed_state, uptake_rate
from welkinwell.sorbents.row import SLOT_ACTIVATION_ENERGY, SLOT_HYSTERESIS, SLOT_RATE_LAW
from welkinwell.sorbents.uptake import uptake

# Vapour in air spaces is booked at this temperature; what it carries beyond goes with heat flows.
POOL_TEMPERATURE: Final = 313.15  # K
POOL_ENTHALPY: Final = LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (POOL_TEMPERATURE - FREEZING_POINT)
POOL_DENSITY: Final = 1.0 / (WATER_GAS_CONSTANT * POOL_TEMPERATURE)  # kg/(m3 Pa)
STEEPEST_SHARE: Final = 0.6  # of vapour in the pressure; above, the humidity ratio goes on as its tangent
DRY_ROUNDING: Final = 1.0  # Pa, rounds the isotherm's corner at no vapour at all; numerical width


@njit(cache=True)
def bed_enthalpy(T, loading, liquid, A, heat, sorbent_mass, row):
    """Return the bed's enthalpy and its slopes in temperature and loading.

    T [K]; loading [kg/kg]; liquid: water that lies on the bed [kg/m2]; A: potential at T and loading
    [J/mol]; heat: of dry sorbent and metal [J/(m2 K)]; sorbent_mass [kg/m2]; row [1].
    Returns [J/m2], [J/(m2 K)], [J kg/(kg m2)].
    """
    theta = T - FREEZING_POINT
    _, loading_A, loading_T, e, e_T = sorbed_state(row, A, T)
    # dA/dT at constant loading, and the excess enthalpy's slopes along it
    along = -loading_T / loading_A if loading_A < -1e-250 else 0.0
    e_A = -(A * loading_A + T * loading_T) / WATER_MOLAR_MASS
    e_w = -(A - T * along) / WATER_MOLAR_MASS
    wet = sorbent_mass * loading + liquid
    return (
        (heat + wet * LIQUID_SPECIFIC_HEAT) * theta + sorbent_mass * e,
        heat + wet * LIQUID_SPECIFIC_HEAT + sorbent_mass * (e_T + e_A * along),
        sorbent_mass * (LIQUID_SPECIFIC_HEAT * theta + e_w),
    )


@njit(cache=True)
def bed_temperature(energy, heat, wet, sorbent_mass, loading, row, T, A):
    """Return the temperature [K] at which a bed holds an energy, and its potential [J/mol] there.

    energy [J/m2]; heat: of dry sorbent and metal [J/(m2 K)]; wet: water in and on the bed [kg/m2];
    sorbent_mass [kg/m2]; loading [kg/kg]; row [1]; T, A: where to start [K, J/mol].
    """
    done, T_new, A_new = _bed_quickly(energy, heat, wet, sorbent_mass, loading, row, T, A)
    if not done:
        T_new, A_new = _bed_surely(energy, heat, wet, sorbent_mass, loading, row, T, A)
    return T_new, A_new


@njit(cache=True)
def _bed_quickly(energy, heat, wet, sorbent_mass, loading, row, T, A):
    """Solve for the bed's temperature and potential together by plain Newton; returns (done, T, A).

    wet: water in the bed [kg/m2]. A start from the last step takes three rounds; a hard one is left to
    `_bed_surely`.
    """
    capacity = heat + wet * LIQUID_SPECIFIC_HEAT
    for _ in range(7):
        q, q_A, q_T, e, e_T = sorbed_state(row, A, T)
        miss_q = loading - q
        miss_e = energy - capacity * (T - FREEZING_POINT) - sorbent_mass * e
        by_A = -sorbent_mass * (A * q_A + T * q_T) / WATER_MOLAR_MASS
        by_T = capacity + sorbent_mass * e_T
        determinant = q_A * by_T - q_T * by_A
        if determinant >= 0.0 or q_A > -1e-12:
            break
        dA = (miss_q * by_T - q_T * miss_e) / determinant
        dT = (q_A * miss_e - by_A * miss_q) / determinant
        if not (abs(dA) < 2000.0 and abs(dT) < 20.0):
            break
        A += dA
        T += dT
        # Newton squares the error: what such a correction leaves is below 1e-9 K and 1e-12 kg/kg
        if abs(dT) < 1e-3 and abs(q_A * dA) < 1e-6:
            return True, T, A
    return False, T, A


@njit(cache=True)
def _bed_surely(energy, heat, wet, sorbent_mass, loading, row, T, A):
    """Solve for the bed's temperature in a bracket, its potential inside; returns (T, A)."""
    low = COLDEST
    high = HOTTEST
    capacity = heat + wet * LIQUID_SPECIFIC_HEAT
    for step in range(60):
        A = potential_at_loading(row, loading, T, A)
        _, q_A, q_T, e, e_T = sorbed_state(row, A, T)
        along = -q_T / q_A if q_A < -1e-250 else 0.0
        e_A = -(A * q_A + T * q_T) / WATER_MOLAR_MASS
        miss = capacity * (T - FREEZING_POINT) + sorbent_mass * e - energy
        if miss > 0.0:
            high = min(high, T)
        else:
            low = max(low, T)
        new = T - miss / max(capacity + sorbent_mass * (e_T + e_A * along), 0.1 * heat)
        if not (low < new < high) or step % 8 == 7:
            new = 0.5 * (low + high)
        if abs(new - T) < 1e-12 * T:
            return new, potential_at_loading(row, loading, new, A)
        T = new
    return T, A


def air_passage(
    surface: float,
    size: float,
    nusselt: float,
    sherwood: float,
    inside: float,
    temperature: float,
    pressure: float,
) -> tuple[float, float]:
    """Heat and mass conductance between the air that goes through a bed and its grains or coatings.

    Heat S Nu k/d; mass rho S/(d/(Sh D) + R): the film and the way into the grain or coating in series, for
    differences of the humidity ratio.

    surface: of grains or walls per face [1]
    size: grain or hydraulic diameter [m]
    nusselt, sherwood: [1]
    inside: resistance of the grain's or coating's pores to vapour [s/m]
    temperature: of the air [K]
    pressure: [Pa]
    returns: heat [W/(m2 K)], mass [kg/(m2 s)], both per face
    source: films and layers in series, Bergman2011; layer: docs/theory/transfer.md
    """
    density = pressure / (DRY_AIR_GAS_CONSTANT * temperature)
    film = size / (sherwood * vapour_diffusivity(temperature, pressure))
    heat = surface * nusselt * dry_air_conductivity(temperature) / size
    return heat, density * surface / (film + inside)


@written_out
@njit(cache=True)
def humidity_ratio_of(p, pressure):
    """Return the humidity ratio of air [kg/kg] at a vapour pressure, 0.622 p/(P - p), both in [Pa].

    Above STEEPEST_SHARE of the pressure the tangent is followed: a hot bed may hold more than an atmosphere.
    """
    share = p / pressure
    if share <= STEEPEST_SHARE:
        return MOLAR_MASS_RATIO * share / (1.0 - share)
    rest = 1.0 - STEEPEST_SHARE
    return MOLAR_MASS_RATIO * (STEEPEST_SHARE / rest + (share - STEEPEST_SHARE) / (rest * rest))


@written_out
@njit(cache=True)
def taken_share(conductance, flow):
    """Return the share of the way to the bed's state that the air goes, 1 - exp(-N) [1].

    N = conductance over flow, both in [kg/(m2 s)] or [W/(m2 K)]. A bed of one temperature and one surface
    humidity: heat and mass exchanger with one side that does not change (Bergman2011, chapter 11).
    """
    return -math.expm1(-conductance / max(flow, 1e-12))


@written_out
@njit(cache=True)
def vapour_potential(T, p):
    """Return the potential of vapour in pores, R T ln(p_sat/p) [J/mol]; p [Pa] rounded off below a pascal."""
    low = 0.5 * (p + math.sqrt(p * p + DRY_ROUNDING * DRY_ROUNDING))
    return GAS_CONSTANT * T * (log_saturation_pressure(T)[0] - math.log(low))


@njit(cache=True)
def equilibrium_loading(T, p, log_saturation, row):
    """Return the loading in equilibrium with a vapour pressure, and the potential [kg/kg, J/mol].

    T [K]; p [Pa], rounded off below about a pascal; log_saturation: ln of the saturation pressure at T.
    """
    low = 0.5 * (p + math.sqrt(p * p + DRY_ROUNDING * DRY_ROUNDING))
    A = GAS_CONSTANT * T * (log_saturation - math.log(low))
    return sorbed_state(row, A, T)[0], A


@gives_slopes("T", "p", "w")
@njit(cache=True)
def sorption(T, p, w, sorbent_mass, row):
    """Return what a mass of sorbent takes up from its pores, and its slopes in T, p and w.

    T [K]; p: vapour pressure in the pores [Pa]; w: loading [kg/kg]; sorbent_mass [kg/m2]; row [1].
    Returns [kg/(m2 s)], its slopes in T, p and w [kg/(m2 s K)], [kg/(m2 s Pa)], [kg/(m2 s)].
    """
    log_saturation, log_saturation_T = log_saturation_pressure(T)
    root = math.sqrt(p * p + DRY_ROUNDING * DRY_ROUNDING)
    A = GAS_CONSTANT * T * (log_saturation - math.log(0.5 * (p + root)))
    A_T = A / T + GAS_CONSTANT * T * log_saturation_T
    A_p = -GAS_CONSTANT * T / root  # d(ln p_low)/dp = 1/root
    if row[SLOT_HYSTERESIS] == 0.0 and row[SLOT_RATE_LAW] == 0.0:
        k = uptake_rate(row, T)
        k_T = k * row[SLOT_ACTIVATION_ENERGY] / (GAS_CONSTANT * T * T)
        loading, loading_A, loading_T, _, _ = sorbed_state(row, A, T)
        driving = loading - w
        mk = sorbent_mass * k
        by_T = sorbent_mass * k_T * driving + mk * (loading_T + loading_A * A_T)
        return mk * driving, by_T, mk * loading_A * A_p, -mk
    gain, gain_A, gain_T, gain_w = uptake(row, A, T, w)
    by_T = sorbent_mass * (gain_T + gain_A * A_T)
    return sorbent_mass * gain, by_T, sorbent_mass * gain_A * A_p, sorbent_mass * gain_w
