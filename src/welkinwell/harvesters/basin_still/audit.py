"""The audit of the basin still: flows and stocks worked out again from what the march left behind.

Written from docs/theory/basin_still.md alone, for whole arrays of states, and sharing no function with the
march except the saturation curves.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from welkinwell.constants import (
    FREEZING_POINT,
    LIQUID_SPECIFIC_HEAT,
    STANDARD_PRESSURE,
    STEFAN_BOLTZMANN,
)
from welkinwell.harvesters.audit import (
    film_enthalpy,
    film_pressure,
    held_in_all,
    ice_share,
    overflow,
    working,
)
from welkinwell.harvesters.passive_box.audit import _stefan, _with_vapour, gap_coefficients

Array = NDArray[np.float64]

FLOWS: Final = (
    *("distillation", "collected", "make_up", "sun_basin", "sun_glazing", "basin_radiation"),
    *("basin_convection", "glazing_longwave", "glazing_convection", "base_loss", "collected_heat"),
    "make_up_heat",
)


def audited_flows(
    states: ArrayLike, air: ArrayLike, mode: ArrayLike, design: Any, _: Any, site_pressure: float
) -> Array:
    """Work out every flow at given states.

    states: (4, n): glass and basin [K], water on the glass and in the basin [kg/m2]; air: (9, n) in the order
    of AirRecord; mode: (n,), of no meaning; design: a BasinStill; site_pressure: mean of the site [Pa]
    returns: (12, n), rows as in FLOWS [kg/(m2 s) and W/m2]
    source: docs/theory/basin_still.md
    """
    Tg, Tw, film, water = np.asarray(states, float)
    Ta, _pa, P, wind, sky, Sa, Sg = np.asarray(air, float)[:7]
    d, sigma, cl = design, STEFAN_BOLTZMANN, LIQUID_SPECIFIC_HEAT
    below, above = film_pressure(Tw), film_pressure(Tg)
    heat, mass = gap_coefficients(Tw, Tg, below, above, P, d.water_gap, d.tilt)
    vapour = _stefan(mass, 0.5 * (Tw + Tg), below, above, P) * working(below - above, film)
    exchange = sigma / (1.0 / d.water_emissivity + 1.0 / d.glazing_emissivity - 1.0)
    seen = 0.5 * (1.0 + np.cos(d.tilt))
    ran = (1.0 - ice_share(Tg)) * overflow(film, d.glazing_holdup)
    short = (1000.0 * d.water_depth - water) / 3600.0
    flow = {
        "distillation": vapour,
        "collected": ran,
        "make_up": short,
        "sun_basin": Sa,
        "sun_glazing": Sg,
        "basin_radiation": exchange * (Tw**4 - Tg**4),
        "basin_convection": _with_vapour(heat, vapour, Tw, Tg),
        "glazing_longwave": d.glazing_emissivity
        * (sigma * Tg**4 - seen * sky - (1.0 - seen) * sigma * Ta**4),
        "glazing_convection": _surface(Tg - Ta, wind, d, site_pressure) * (Tg - Ta),
        "base_loss": d.base_loss * (Tw - Ta),
        "collected_heat": ran * cl * (Tg - FREEZING_POINT),
        "make_up_heat": short * cl * (np.where(short > 0.0, Ta, Tw) - FREEZING_POINT),
    }
    return np.array([np.broadcast_to(flow[name], Tg.shape) for name in FLOWS])


def stocks_by_row(states: ArrayLike, design: Any, _: Any = None) -> Array:
    """Work out the stock of every row.

    states: (4, k) in the order of the theory page [K, kg/m2]
    design: a BasinStill
    returns: (4, k), heat of glass and basin [J/m2] from liquid water and solids at 0 degC, water [kg/m2]
    source: docs/theory/basin_still.md, section 1
    """
    Tg, Tw, film, water = np.asarray(states, float)
    glass = 2500.0 * 720.0 * design.glazing_thickness * (Tg - FREEZING_POINT)
    basin = design.basin_heat * (Tw - FREEZING_POINT)
    return np.array([glass + film * film_enthalpy(Tg), basin + water * film_enthalpy(Tw), film, water])


def audited_stocks(state: ArrayLike, design: Any, sorbent: Any) -> dict[str, float]:
    """Work out the water [kg/m2] and the energy [J/m2] that it holds in one state, as in stocks_by_row."""
    return held_in_all(stocks_by_row(np.asarray(state)[:, None], design, sorbent)[:, 0], 2)


def boundary() -> tuple[Array, Array]:
    """What one unit of each flow brings into the still: water and energy, shape (12,), rows as in FLOWS."""
    water = {"make_up": 1.0, "collected": -1.0}
    energy = dict.fromkeys(("sun_basin", "sun_glazing", "make_up_heat"), 1.0)
    energy |= dict.fromkeys(("glazing_longwave", "glazing_convection", "base_loss", "collected_heat"), -1.0)
    return (
        np.array([water.get(name, 0.0) for name in FLOWS]),
        np.array([energy.get(name, 0.0) for name in FLOWS]),
    )


def _surface(rise: Array, wind: Array, design: Any, site_pressure: float) -> Array:
    """Coefficient of the glass in wind [W/(m2 K)]; rise: of the glass over the air [K]."""
    thinness = site_pressure / STANDARD_PRESSURE
    steep = abs(np.cos(design.tilt))
    free = np.where(rise > 0.0, 9.482 / (7.283 - steep), 1.810 / (1.382 + steep))
    buoyant = free**3 * thinness**2 * rise**2 / np.sqrt(rise**2 + 1.0)
    forced = design.wind_constant * np.cbrt(thinness**2) + design.wind_slope * thinness * wind
    return np.cbrt(forced**3 + buoyant)
