"""What the audits of several kinds share: sorbents and films worked out apart from the march.

Written from docs/theory/passive_box.md and docs/theory/sorbents.md for whole arrays, sharing no function with
the march except the saturation curves.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import (
    FREEZING_POINT,
    FUSION_HEAT,
    GAS_CONSTANT,
    LATENT_HEAT_AT_FREEZING,
    LIQUID_SPECIFIC_HEAT,
    VAPOUR_SPECIFIC_HEAT,
    WATER_MOLAR_MASS,
)
from welkinwell.moist_air import ice_saturation_pressure, saturation_pressure
from welkinwell.sorbents import row as slot

Array = NDArray[np.float64]

FILM_SHARE: Final = 0.002  # kg/m2, film that wets half a surface
FIRST_DROPS: Final = 20.0  # Pa, over which a dry surface begins to condense
DRAIN_TIME: Final = 120.0  # s
# Break points about a step, in widths of it: twelve points between two of them are exact to round-off
TOWARDS_A_STEP: Final = np.concatenate([np.arange(-12.0, 12.5, 2.0), [-40.0, -28.0, -18.0, 18.0, 28.0, 40.0]])
REFERENCE: Final = 298.15  # K, where the potentials of Sips terms are stated
BOOKING_TEMPERATURE: Final = 313.15  # K, at which vapour in small air spaces is booked
BOOKED_HEAT: Final = LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (BOOKING_TEMPERATURE - FREEZING_POINT)


def integral_enthalpy(sorbent: Any, loading: float, temperature: float) -> float:
    """Integral excess enthalpy of the sorbed water over liquid water at the same temperature.

    e = -(A q + Omega - T dOmega/dT) / M_w where q(A, T) is the loading. Sips terms have Omega in closed
    form; for any other form it is the integral of the sheet's own loading over A.

    sorbent: a Sorbent
    loading: [kg/kg]
    temperature: [K]
    returns: enthalpy, negative [J/kg dry]
    source: docs/theory/passive_box.md
    """
    if int(sorbent.row[slot.SLOT_FORM]) == slot.FORM_SIPS_TERMS:
        return _sips_enthalpy(_sips_terms(sorbent), loading, temperature)
    return integrated_enthalpy(sorbent, loading, temperature)


def integral_enthalpies(sorbent: Any, loading: Array, temperature: Array) -> Array:
    """Integral enthalpy of many states [J/kg dry], each different one worked out once.

    loading: (k,) [kg/kg]; temperature: (k,) [K]
    """
    pairs, place = np.unique(np.stack([loading, temperature]), axis=1, return_inverse=True)
    found = [integral_enthalpy(sorbent, w, T) for w, T in pairs.T.tolist()]
    return np.array(found)[place.ravel()]


def held_in_all(stocks: Array, water_from: int, vapour_from: int | None = None) -> dict[str, float]:
    """Add the stocks of all rows up: rows of heat, then rows of water, the last of them vapour.

    stocks: one state's, (n,) [J/m2 and kg/m2]; water_from, vapour_from: first row of each
    returns: water [kg/m2] and energy [J/m2], vapour with the heat at which it is booked
    """
    vapour = 0.0 if vapour_from is None else float(stocks[vapour_from:].sum())
    energy = float(stocks[:water_from].sum()) + BOOKED_HEAT * vapour
    return {"water": float(stocks[water_from:].sum()), "energy": energy}


def uptake_rate(sorbent: Any, T: Array, humidity: Array, w: Array) -> Array:
    """Uptake of a kg of dry sorbent [1/s], on two branches where the sheet has them."""
    row, gas = sorbent.row, GAS_CONSTANT * T
    width, law = float(row[slot.SLOT_HYSTERESIS]), int(row[slot.SLOT_RATE_LAW])
    rate = _rate(sorbent, T, w)
    if width == 0.0 and law != slot.RATE_BY_POTENTIAL:
        return rate * (_loading(sorbent, T, humidity) - w)
    outside, held = -gas * np.log(humidity), _held_potential(sorbent, T, w)
    lag = outside - held
    if width > 0.0:
        corner = 0.01 * width
        lag = corner * (
            np.logaddexp(0.0, (lag - width) / corner - 3.0) - np.logaddexp(0.0, -lag / corner - 3.0)
        )
    reached = _loading(sorbent, T, np.exp(-(held + lag) / gas))
    if law == slot.RATE_BY_POTENTIAL:
        return -rate * 0.5 * (np.maximum(w, 0.0) + reached) * lag / gas
    return rate * (reached - w)


def _held_potential(sorbent: Any, T: Array, w: Array) -> Array:
    """Potential at which the uptake branch holds a loading, by halving."""
    low, high = -5.0 * GAS_CONSTANT * T, 27.0 * GAS_CONSTANT * T
    for _ in range(52):
        middle = 0.5 * (low + high)
        above = _loading(sorbent, T, np.exp(-middle / (GAS_CONSTANT * T))) > w
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return 0.5 * (low + high)


def _rate(sorbent: Any, T: Array, w: Array) -> Array:
    row, held = sorbent.row, np.maximum(w, 0.0)
    at_infinity = (
        row[slot.SLOT_SHAPE_FACTOR] * row[slot.SLOT_DIFFUSIVITY] / row[slot.SLOT_DIFFUSION_LENGTH] ** 2
    )
    rate = at_infinity * np.exp(-row[slot.SLOT_ACTIVATION_ENERGY] / (GAS_CONSTANT * T))
    wet = np.exp(row[slot.SLOT_LOADING_EXPONENT] * held / (1.0 + held))
    return rate * wet / (1.0 + row[slot.SLOT_SWELLING] * held) ** 2


def _loading(sorbent: Any, T: Array, humidity: Array) -> Array:
    """Loading at rest; Sips terms by this module's own text, other forms by the sheet's public function."""
    if int(sorbent.row[slot.SLOT_FORM]) != slot.FORM_SIPS_TERMS:
        return np.asarray(sorbent.loading(T, humidity))
    potential = -GAS_CONSTANT * T * np.log(humidity)
    return sum(q_k * _logistic((A_k + b_k * (T - REFERENCE) - potential) / s_k) for q_k, A_k, s_k, b_k in
               _sips_terms(sorbent))  # fmt: skip


def _logistic(x: Array) -> Array:
    return np.where(x > 0.0, 1.0, np.exp(-np.abs(x))) / (1.0 + np.exp(-np.abs(x)))


def _sips_terms(sorbent: Any) -> Array:
    """Rows of capacity [kg/kg], potential [J/mol], width [J/mol] and shift [J/(mol K)]."""
    count = int(sorbent.row[slot.SLOT_COUNT])
    begin = slot.SLOT_PARAMETERS
    return np.asarray(sorbent.row[begin : begin + 4 * count], dtype=float).reshape(count, 4)


def _sips_enthalpy(terms: Array, loading: float, T: float) -> float:
    capacity, middle, width, shift = terms.T
    centre = middle + shift * (T - REFERENCE)

    def filled(A: float) -> float:
        return float(capacity @ _logistic((centre - A) / width))

    A = _where_it_holds(
        filled, loading, -50.0 * width.max() + centre.min(), 50.0 * width.max() + centre.max()
    )
    share = _logistic((centre - A) / width)
    potential = float((capacity * width) @ np.logaddexp(0.0, (centre - A) / width))
    by_temperature = float((capacity * shift) @ share)
    return -(A * float(capacity @ share) + potential - T * by_temperature) / WATER_MOLAR_MASS


def integrated_enthalpy(sorbent: Any, loading: float, T: float) -> float:
    """The same for any form, by quadrature in A and sixth-order differences in T.

    Where the form has steps (salts with hydrates) the quadrature breaks at each of them, ever finer towards
    it, and the differences are taken over a small part of the temperature that moves a step by its width.
    """
    gas = GAS_CONSTANT * T
    highest = 26.0 * GAS_CONSTANT * (T - 3.0)  # drier than this the public loading is cut off

    def held(A: Any, at: float = T) -> Any:
        return sorbent.loading(at, np.exp(-A / (GAS_CONSTANT * at)))

    A = _where_it_holds(lambda x: float(held(x)), loading, -5.0 * gas, highest)
    nodes, weights = np.polynomial.legendre.leggauss(12)
    step = 250.0
    even = np.arange(np.floor(A / step) + 1, np.floor(highest / step) + 1) * step
    salt = int(sorbent.row[slot.SLOT_FORM]) == slot.FORM_SALT_HYDRATES

    def omega(at: float) -> float:
        steps = _steps(sorbent, at) if salt else []
        inside = np.concatenate([even, *(middle + width * TOWARDS_A_STEP for middle, width, _ in steps)])
        edges = np.unique(np.concatenate([[A], inside[(inside > A) & (inside < highest)], [highest]]))
        half = 0.5 * np.diff(edges)[:, None]
        points = 0.5 * (edges[1:] + edges[:-1])[:, None] + half * nodes
        last, before = float(held(highest, at)), float(held(highest - 1000.0, at))
        tail = 1000.0 * last / np.log(before / last) if last > 0.0 else 0.0  # falls on as it falls there
        return float(np.sum(half * weights * held(points, at))) + tail

    apart = min([1.0, *(0.03 * kelvin for _, _, kelvin in _steps(sorbent, T))]) if salt else 1.0
    ends = [omega(T + k * apart) - omega(T - k * apart) for k in (1.0, 2.0, 3.0)]
    by_temperature = (45.0 * ends[0] - 9.0 * ends[1] + ends[2]) / (60.0 * apart)
    return -(A * float(held(A)) + omega(T) - T * by_temperature) / WATER_MOLAR_MASS


def _steps(sorbent: Any, T: float) -> list[tuple[float, float, float]]:
    """Where the stable phase of a salt changes: potential and width [J/mol], and that width in kelvin.

    A hydrate's potential is a line in A, the solution's a sum of Sips terms: two phases meet at a root of
    their difference. Only meetings where no third phase lies far above count.
    """
    row = sorbent.row
    first, dissolved = slot.SLOT_PARAMETERS, int(row[slot.SLOT_COUNT])
    blur, t = float(row[first + 2]), T - REFERENCE
    groups = np.asarray(row[first + 6 : first + 6 + 4 * (dissolved + int(row[first]))]).reshape(-1, 4)
    terms, hydrates = groups[:dissolved], groups[dissolved:]
    capacity, middle, width, shift = terms.T

    def solution(A: Array, at: float = t) -> Array:
        u = (middle + shift * at - np.asarray(A)[..., None]) / width
        offset = row[first + 3] + at * (row[first + 4] + at * row[first + 5])
        return offset + np.sum(capacity * width * np.logaddexp(0.0, u), axis=-1)

    def line(of: Array, A: Array, at: float = t) -> Array:
        return of[1] + at * (of[2] + at * of[3]) - of[0] * np.asarray(A)

    lines = [partial(line, of) for of in (np.zeros(4), *hydrates)]
    phases: list[Callable[..., Array]] = [solution, *lines]
    grid = np.arange(-2000.0, 60000.0, 20.0)
    found = []
    for i, one in enumerate(phases):
        for other in phases[:i]:
            apart = one(grid) - other(grid)
            for k in np.flatnonzero(apart[1:] * apart[:-1] < 0.0):
                A = grid[k] + 20.0 * apart[k] / (apart[k] - apart[k + 1])
                top = max(float(phase(A)) for phase in phases)
                if top - float(one(A)) > 60.0 * blur:
                    continue
                steepness = abs(float(apart[k + 1] - apart[k])) / 20.0
                drift = abs(float(one(A, t + 0.5) - other(A, t + 0.5) - one(A, t - 0.5) + other(A, t - 0.5)))
                found.append((float(A), blur / max(steepness, 1e-6), blur / max(drift, 1e-9)))
    return found


def last_sorbed_heat(sorbent: Any, T: Array, humidity: Array) -> Array:
    """Enthalpy of the last sorbed water over liquid [J/kg], -(A - T dA/dT at constant loading)/M_w.

    Sips terms in closed form; other forms by differences of the sheet's own loading.
    """
    A = -GAS_CONSTANT * T * np.log(humidity)
    if int(sorbent.row[slot.SLOT_FORM]) == slot.FORM_SIPS_TERMS:
        terms = _sips_terms(sorbent)
        filled = [_logistic((A_k + b_k * (T - REFERENCE) - A) / s_k) for _, A_k, s_k, b_k in terms]
        steep = [q / s * f * (1.0 - f) for (q, _, s, _), f in zip(terms, filled, strict=True)]
        by_A = -sum(steep)
        by_T = sum(b * part for (_, _, _, b), part in zip(terms, steep, strict=True))
    else:

        def held(potential: Array, at: Array) -> Array:
            return np.asarray(sorbent.loading(at, np.exp(-potential / (GAS_CONSTANT * at))))

        by_A = (held(A + 1.0, T) - held(A - 1.0, T)) / 2.0
        by_T = (held(A, T + 0.01) - held(A, T - 0.01)) / 0.02
    along = np.where(by_A < -1e-250, -by_T / np.minimum(by_A, -1e-250), 0.0)
    return -(A - T * along) / WATER_MOLAR_MASS


def _where_it_holds(loading_at: Any, loading: float, low: float, high: float) -> float:
    """Potential at which a falling function of it meets a loading, by Brent's method; clipped to the span."""
    from scipy.optimize import brentq

    if loading_at(low) <= loading:
        return low
    if loading_at(high) >= loading:
        return high
    return float(brentq(lambda A: loading_at(A) - loading, low, high, xtol=1e-10, rtol=1e-14, maxiter=200))


def smooth_step(z: Array) -> Array:
    """Step from 0 at z = 0 to 1 at z = 1 with flat ends [1]."""
    held = np.clip(z, 0.0, 1.0)
    return held * held * (3.0 - 2.0 * held)


def ice_share(T: Array) -> Array:
    """Frozen share of a film [1] at T [K]."""
    return 0.5 * (1.0 - np.tanh((T - FREEZING_POINT + 0.25) / 0.25))


def film_pressure(T: Array) -> Array:
    """Vapour pressure over a film that may be frozen [Pa] at T [K]."""
    ice = ice_share(T)
    return ice * ice_saturation_pressure(T) + (1.0 - ice) * saturation_pressure(T)


def film_enthalpy(T: Array) -> Array:
    """Enthalpy of a film over liquid at 0 degC [J/kg] at T [K]."""
    return LIQUID_SPECIFIC_HEAT * (T - FREEZING_POINT) - ice_share(T) * FUSION_HEAT


def wetted(film: Array) -> Array:
    """Wetted share of a surface [1] under a film [kg/m2]."""
    square = film**2
    return np.sign(film) * square / (FILM_SHARE**2 + square)


def working(excess: Array, film: Array) -> Array:
    """Share of a surface that exchanges vapour: all of it condenses, only what is wet evaporates."""
    wet = wetted(film)
    return wet + (1.0 - wet) * smooth_step(excess / FIRST_DROPS)


def overflow(film: Array, holdup: float) -> Array:
    """What runs off above a hold-up [kg/(m2 s)]."""
    soft = 0.1 * holdup
    above = film - holdup
    bent = (np.clip(above, -soft, soft) + soft) ** 2 / (4.0 * soft)
    return np.where(above > soft, above, bent) / DRAIN_TIME
