"""What every sorbent offers to the march: one potential Omega(A, T), answered from a row of numbers.

A = R T ln(p_sat(T) / p) is the adsorption potential per mole of water. Loading and heat come from the
same Omega, so that equilibrium and energy close: q = -dOmega/dA, and the excess enthalpy over liquid
water at the same temperature is E = -(A q + Omega - T dOmega/dT) / M_w per kg of dry sorbent
(negative: sorption releases heat). Its slope dE/dA at constant T is -(A dq/dA + T dq/dT) / M_w.
"""

from __future__ import annotations

from welkinwell.compiled import njit
from welkinwell.sorbents import (
    dual_site_sips,
    dubinin_astakhov,
    freundlich,
    gab,
    hydrate,
    sips_terms,
    toth,
)
from welkinwell.sorbents.kinetics import uptake_rate
from welkinwell.sorbents.row import (
    FORM_DUBININ_ASTAKHOV,
    FORM_GAB,
    FORM_SALT_HYDRATES,
    FORM_SIPS_SITES,
    FORM_SIPS_TERMS,
    FORM_TOTH,
    ROW_LENGTH,
    SLOT_ACTIVATION_ENERGY,
    SLOT_COUNT,
    SLOT_DIFFUSION_LENGTH,
    SLOT_DIFFUSIVITY,
    SLOT_FORM,
    SLOT_HYSTERESIS,
    SLOT_PARAMETERS,
    SLOT_RATE_LAW,
    SLOT_SHAPE_FACTOR,
)

__all__ = [
    "ROW_LENGTH",
    "SLOT_ACTIVATION_ENERGY",
    "SLOT_COUNT",
    "SLOT_DIFFUSION_LENGTH",
    "SLOT_DIFFUSIVITY",
    "SLOT_FORM",
    "SLOT_HYSTERESIS",
    "SLOT_PARAMETERS",
    "SLOT_RATE_LAW",
    "SLOT_SHAPE_FACTOR",
    "largest_loading",
    "potential_at_loading",
    "sorbed_state",
    "uptake_rate",
]

# Bound to module names so that the compiled dispatch links to them.
_sips_state = sips_terms.sorbed_state
_sips_inverse = sips_terms.potential_at_loading
_sips_largest = sips_terms.largest_loading
_toth_state = toth.sorbed_state
_toth_inverse = toth.potential_at_loading
_toth_largest = toth.largest_loading
_dubinin_state = dubinin_astakhov.sorbed_state
_dubinin_inverse = dubinin_astakhov.potential_at_loading
_dubinin_largest = dubinin_astakhov.largest_loading
_sites_state = dual_site_sips.sorbed_state
_sites_inverse = dual_site_sips.potential_at_loading
_sites_largest = dual_site_sips.largest_loading
_gab_state = gab.sorbed_state
_gab_inverse = gab.potential_at_loading
_gab_largest = gab.largest_loading
_freundlich_state = freundlich.sorbed_state
_freundlich_inverse = freundlich.potential_at_loading
_freundlich_largest = freundlich.largest_loading
_salt_state = hydrate.sorbed_state
_salt_inverse = hydrate.potential_at_loading
_salt_largest = hydrate.largest_loading


@njit(cache=True)
def sorbed_state(row, A, T):
    """Return the state of the sorbed water at a potential and a temperature.

    Args: row [1]; A: R T ln(p_sat/p) [J/mol]; T [K].
    Returns: (loading [kg/kg], its slope in A [kg mol/(kg J)], its slope in T [1/K], excess enthalpy over
    liquid water [J/kg dry], its slope in T at constant A [J/(kg K)]).
    """
    form = row[SLOT_FORM]
    if form == FORM_SIPS_TERMS:
        return _sips_state(row, A, T)
    if form == FORM_TOTH:
        return _toth_state(row, A, T)
    if form == FORM_DUBININ_ASTAKHOV:
        return _dubinin_state(row, A, T)
    if form == FORM_SALT_HYDRATES:
        return _salt_state(row, A, T)
    if form == FORM_SIPS_SITES:
        return _sites_state(row, A, T)
    if form == FORM_GAB:
        return _gab_state(row, A, T)
    return _freundlich_state(row, A, T)


@njit(cache=True)
def potential_at_loading(row, q, T, guess):
    """Return the potential at which the sorbent holds a loading; loadings outside the form are clipped.

    Args: row [1]; q: loading [kg/kg]; T [K]; guess: where to start [J/mol]. Returns: A [J/mol].
    """
    form = row[SLOT_FORM]
    if form == FORM_SIPS_TERMS:
        return _sips_inverse(row, q, T, guess)
    if form == FORM_TOTH:
        return _toth_inverse(row, q, T, guess)
    if form == FORM_DUBININ_ASTAKHOV:
        return _dubinin_inverse(row, q, T, guess)
    if form == FORM_SALT_HYDRATES:
        return _salt_inverse(row, q, T, guess)
    if form == FORM_SIPS_SITES:
        return _sites_inverse(row, q, T, guess)
    if form == FORM_GAB:
        return _gab_inverse(row, q, T, guess)
    return _freundlich_inverse(row, q, T, guess)


@njit(cache=True)
def largest_loading(row, T):
    """Return the loading that the form can never exceed, for scaling.

    Args: row [1]; T [K]. Returns: loading [kg/kg].
    """
    form = row[SLOT_FORM]
    if form == FORM_SIPS_TERMS:
        return _sips_largest(row, T)
    if form == FORM_TOTH:
        return _toth_largest(row, T)
    if form == FORM_DUBININ_ASTAKHOV:
        return _dubinin_largest(row, T)
    if form == FORM_SALT_HYDRATES:
        return _salt_largest(row, T)
    if form == FORM_SIPS_SITES:
        return _sites_largest(row, T)
    if form == FORM_GAB:
        return _gab_largest(row, T)
    return _freundlich_largest(row, T)
