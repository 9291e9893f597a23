"""The audit of the dew condenser: flows and stocks worked out again from what the march left behind.

Written from docs/theory/dew_condenser.md alone, for whole arrays of states, and sharing no function with
the march except the saturation curves.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    FUSION_HEAT,
    LATENT_HEAT_AT_FREEZING,
    LIQUID_SPECIFIC_HEAT,
    STANDARD_PRESSURE,
    STEFAN_BOLTZMANN,
    VAPOUR_SPECIFIC_HEAT,
    WATER_GAS_CONSTANT,
)
from welkinwell.harvesters.audit import held_in_all
from welkinwell.moist_air import ice_saturation_pressure, saturation_pressure

Array = NDArray[np.float64]

FLOWS: Final = (
    *("dew_on_sheet", "collected", "sun_on_sheet", "sheet_longwave", "sheet_convection", "back_loss"),
    *("dew_heat", "collected_heat"),
)


def audited_flows(
    states: ArrayLike, air: ArrayLike, mode: ArrayLike, design: Any, _: Any, site_pressure: float
) -> Array:
    """Work out every flow at given states.

    states: (2, n): temperature of the sheet [K], film on it [kg/m2]; air: (9, n) in the order of AirRecord;
    mode: (n,) 1 bare, 0 covered; design: a DewCondenser; site_pressure: mean pressure of the site [Pa]
    returns: (8, n), rows as in FLOWS [kg/(m2 s) and W/m2]
    source: docs/theory/dew_condenser.md
    """
    T, film = np.asarray(states, float)
    Ta, pa, P, wind, sky, sun = np.asarray(air, float)[:6]
    bare = np.asarray(mode) == 1
    thinness = site_pressure / STANDARD_PRESSURE
    steep = abs(np.cos(design.tilt))
    free = np.where(T > Ta, 9.482 / (7.283 - steep), 1.810 / (1.382 + steep))
    excess = T - Ta
    buoyant = free**3 * thinness**2 * excess**2 / np.sqrt(excess**2 + 1.0)
    forced = design.wind_constant * np.cbrt(thinness**2) + 1e-3
    forced = forced + np.where(bare, design.wind_slope * thinness * wind, 0.0)
    h = np.cbrt(forced**3 + buoyant) * np.where(bare, 1.0, design.covered_exchange)
    ice = 0.5 * (1.0 - np.tanh((T - FREEZING_POINT + 0.25) / 0.25))
    over_film = ice * ice_saturation_pressure(T) + (1.0 - ice) * saturation_pressure(T)
    mean = 0.5 * (T + Ta)
    velocity = h * DRY_AIR_GAS_CONSTANT * Ta / (0.905 * DRY_AIR_SPECIFIC_HEAT * P)
    arrives = velocity * P / (WATER_GAS_CONSTANT * mean) * _drive(pa, over_film, P)
    dew = arrives * _working(pa - over_film, film)
    ran = (1.0 - ice) * _overflow(film, design.holdup)
    view = 0.5 * (1.0 + np.cos(design.tilt)) if design.sky_view is None else design.sky_view
    black = STEFAN_BOLTZMANN * Ta**4
    seen = np.where(bare, view * sky + (1.0 - view) * black, black)
    flow = {
        "dew_on_sheet": dew,
        "collected": ran,
        "sun_on_sheet": np.where(bare, sun, 0.0),
        "sheet_longwave": design.emissivity * (STEFAN_BOLTZMANN * T**4 - seen),
        "sheet_convection": h * excess,
        "back_loss": design.back_loss * excess,
        "dew_heat": dew * (LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (mean - FREEZING_POINT)),
        "collected_heat": ran * LIQUID_SPECIFIC_HEAT * (T - FREEZING_POINT),
    }
    return np.array([np.broadcast_to(flow[name], T.shape) for name in FLOWS])


def stocks_by_row(states: ArrayLike, design: Any, _: Any = None) -> Array:
    """Work out the stock of every row.

    states: (2, k) in the order of the theory page [K, kg/m2]
    design: a DewCondenser
    returns: (2, k), heat [J/m2] from liquid water and sheet at 0 degC, water [kg/m2]
    source: docs/theory/dew_condenser.md, section 1
    """
    T, film = np.asarray(states, float)
    theta = T - FREEZING_POINT
    ice = 0.5 * (1.0 - np.tanh((theta + 0.25) / 0.25))
    heat = design.sheet_mass * design.sheet_specific_heat * theta
    return np.array([heat + film * (LIQUID_SPECIFIC_HEAT * theta - ice * FUSION_HEAT), film])


def audited_stocks(state: ArrayLike, design: Any, sorbent: Any) -> dict[str, float]:
    """Work out the water [kg/m2] and the energy [J/m2] that it holds in one state, as in stocks_by_row."""
    return held_in_all(stocks_by_row(np.asarray(state)[:, None], design, sorbent)[:, 0], 1)


def boundary() -> tuple[Array, Array]:
    """What one unit of each flow brings into the sheet: water and energy, shape (8,), rows as in FLOWS."""
    water = {"dew_on_sheet": 1.0, "collected": -1.0}
    energy = {"sun_on_sheet": 1.0, "dew_heat": 1.0}
    energy |= dict.fromkeys(("sheet_longwave", "sheet_convection", "back_loss", "collected_heat"), -1.0)
    return (
        np.array([water.get(name, 0.0) for name in FLOWS]),
        np.array([energy.get(name, 0.0) for name in FLOWS]),
    )


def _drive(near: Array, far: Array, total: Array) -> Array:
    """ln((P - far)/(P - near)), each logarithm continued by its tangent above 0.9 P."""
    low, high = np.minimum(near, 0.9 * total), np.minimum(far, 0.9 * total)
    inside = np.log1p((low - high) / (total - low))
    return inside + ((near - low) - (far - high)) / (0.1 * total)


def _working(excess: Array, film: Array) -> Array:
    """All of the sheet condenses over 20 Pa of excess; only what is wet evaporates."""
    square = (film / 0.002) ** 2
    wet = np.where((film < 0.0) & (excess >= 0.0), 0.0, np.sign(film)) * square / (1.0 + square)
    z = np.clip(excess / 20.0, 0.0, 1.0)
    return wet + (1.0 - wet) * z * z * (3.0 - 2.0 * z)


def _overflow(film: Array, holdup: float) -> Array:
    """What runs off above the hold-up, in 120 s [kg/(m2 s)]."""
    soft = 0.1 * holdup
    above = film - holdup
    bent = (np.clip(above, -soft, soft) + soft) ** 2 / (4.0 * soft)
    return np.where(above > soft, above, bent) / 120.0
