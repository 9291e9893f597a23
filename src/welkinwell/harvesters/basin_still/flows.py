"""The basin still inside the march: its numbers, stocks and flows, compiled.

docs/theory/basin_still.md holds the equations; the row, unknown and flow numbers here are the ones there.
"""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

from welkinwell.compiled import njit
from welkinwell.constants import (
    FREEZING_POINT,
    LATENT_HEAT_AT_FREEZING,
    LIQUID_SPECIFIC_HEAT,
    VAPOUR_SPECIFIC_HEAT,
)
from welkinwell.harvesters.basin_still.design import BasinStill
from welkinwell.harvesters.harvester import OUTSIDE, Flow, Kind, Unknown, with_uses
from welkinwell.kernels.kernel import flow_kernel
from welkinwell.parts.film import drained, film_enthalpy, film_pressure, temperature_with_film, working_share
from welkinwell.parts.gap import air_conductivity, gap_nusselt_at, vapour_diffusivity
from welkinwell.parts.surface import (
    free_convection_constants,
    longwave_loss,
    radiation_between,
    surface_coefficient,
)
from welkinwell.transfer.condensation import stefan_flow, vapour_heat_factor
from welkinwell.transfer.enclosures import tilt_factors
from welkinwell.transfer.plates import thin_air_factors

GLASS_HEAT: Final = 2500.0 * 720.0  # J/(m3 K), soda-lime glass, common practice
WATER_DENSITY: Final = 1000.0  # kg/m3
FILLING: Final = 3600.0  # s, in which make-up water levels the basin; assumed, no source
BOOKED: Final = 313.15  # K, at which vapour on its way is booked
BOOKED_HEAT: Final = LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (BOOKED - FREEZING_POINT)

TG, TW, MG, MW = range(4)
UNKNOWNS = (
    Unknown("glazing_temperature", "K", 100.0, "heat", 300.0, "glass"),
    Unknown("basin_temperature", "K", 100.0, "heat", 300.0, "basin"),
    Unknown("glazing_film", "kg/m2", 2.0, "water", 0.05),
    Unknown("basin_water", "kg/m2", 100.0, "water", 20.0),
)


def _heat(name: str, start: int, end: int) -> Flow:
    return Flow(name, "W/m2", start, end)


FLOWS = (
    Flow("distillation", "kg/(m2 s)", MW, MG, ((TW, -BOOKED_HEAT), (TG, BOOKED_HEAT))),
    Flow("collected", "kg/(m2 s)", MG, OUTSIDE),
    Flow("make_up", "kg/(m2 s)", OUTSIDE, MW),
    _heat("sun_basin", OUTSIDE, TW),
    _heat("sun_glazing", OUTSIDE, TG),
    _heat("basin_radiation", TW, TG),
    _heat("basin_convection", TW, TG),
    _heat("glazing_longwave", TG, OUTSIDE),
    _heat("glazing_convection", TG, OUTSIDE),
    _heat("base_loss", TW, OUTSIDE),
    _heat("collected_heat", TG, OUTSIDE),
    _heat("make_up_heat", OUTSIDE, TW),
)


class StillNumbers(NamedTuple):
    """What the compiled still reads: SI numbers per m2 of glazing, made once from a design."""

    glazing_heat: float  # J/(m2 K)
    basin_heat: float  # J/(m2 K), without water
    level: float  # kg/m2 of water that the basin is kept at
    gap: float  # m
    inclination: float  # rad
    cosine: float  # tilt_factors of the gap
    damping: float
    radiation: float  # effective emissivity, water to glass
    glazing_emissivity: float
    glazing_sky_view: float
    holdup: float  # kg/m2
    base_loss: float  # W/(m2 K)
    wind_constant: float  # W/(m2 K), in the site's air, as all that follows
    wind_slope: float
    glazing_hot: float  # c^3 of free convection
    glazing_cold: float


def still_numbers(design: BasinStill, _: Any, site_pressure: float) -> StillNumbers:
    """Turn a design and the site's pressure [Pa] into the numbers that the march reads."""
    cosine, damping = tilt_factors(design.tilt)
    hot, cold = free_convection_constants(design.tilt, True)
    by_wind, by_buoyancy = thin_air_factors(site_pressure)
    return StillNumbers(
        glazing_heat=GLASS_HEAT * design.glazing_thickness,
        basin_heat=design.basin_heat,
        level=WATER_DENSITY * design.water_depth,
        gap=design.water_gap,
        inclination=design.tilt,
        cosine=cosine,
        damping=damping,
        radiation=1.0 / (1.0 / design.water_emissivity + 1.0 / design.glazing_emissivity - 1.0),
        glazing_emissivity=design.glazing_emissivity,
        glazing_sky_view=0.5 * (1.0 + math.cos(design.tilt)),
        holdup=design.glazing_holdup,
        base_loss=design.base_loss,
        wind_constant=design.wind_constant * by_buoyancy,
        wind_slope=design.wind_slope * by_wind,
        glazing_hot=hot * by_buoyancy**3,
        glazing_cold=cold * by_buoyancy**3,
    )


def basin_still(T_g, T_w, m_g, m_w, air, mode, still, row):
    """Each flow of the still under its own name; docs/theory/basin_still.md has the same equations.

    T_g, T_w: glass, basin with its water [K]; m_g, m_w: water on the glass and in the basin [kg/m2]; air:
    shape (9,), as in AirRecord; mode: it has but one.
    """
    T_a = air[0]
    pressure = air[2]
    p_w = film_pressure(T_w)[0]
    p_g = film_pressure(T_g)[0]
    T_m = 0.5 * (T_w + T_g)

    # The moist air between water and glass
    nu = gap_nusselt_at(
        T_w, T_g, p_w, p_g, pressure, still.gap, still.inclination, still.cosine, still.damping
    )[0]
    h = nu * air_conductivity(T_m)[0] * (1.0 / still.gap)
    k = nu * vapour_diffusivity(T_m, pressure)[0] * (1.0 / still.gap)
    distillation = stefan_flow(k, T_m, p_w, p_g, pressure) * working_share(p_w - p_g, m_g)[0]
    stretched = vapour_heat_factor(distillation * VAPOUR_SPECIFIC_HEAT / h)[0]
    basin_convection = h * stretched * (T_w - T_g) + distillation * (VAPOUR_SPECIFIC_HEAT * (T_m - BOOKED))
    basin_radiation = radiation_between(still.radiation, T_w, T_g)[0]

    # Sun, and the outer surfaces
    sun_basin = air[5]
    sun_glazing = air[6]
    glazing_longwave = longwave_loss(still.glazing_emissivity, T_g, T_a, air[4], still.glazing_sky_view)[0]
    forced = still.wind_constant + still.wind_slope * air[3]
    h_g = surface_coefficient(forced, T_g, T_a, still.glazing_hot, still.glazing_cold)[0]
    glazing_convection = h_g * (T_g - T_a)
    base_loss = still.base_loss * (T_w - T_a)

    # What runs off the glass, and what levels the basin: overflow leaves as warm as the basin
    collected = drained(m_g, still.holdup, T_g)[0]
    collected_heat = collected * (LIQUID_SPECIFIC_HEAT * (T_g - FREEZING_POINT))
    make_up = (still.level - m_w) / FILLING
    T_in = T_a if m_w < still.level else T_w
    make_up_heat = make_up * (LIQUID_SPECIFIC_HEAT * (T_in - FREEZING_POINT))


SYMBOLS: Final = {"T_g": TG, "T_w": TW, "m_g": MG, "m_w": MW}
KERNEL: Final = flow_kernel(basin_still, SYMBOLS, [flow.name for flow in FLOWS], "basin_still")


@njit(cache=True)
def stocks(y, still, row, A, U, S):
    """Fill the stocks U and their slopes S[row, unknown] from the unknowns."""
    h, h_T = film_enthalpy(y[TG])
    U[TG] = still.glazing_heat * (y[TG] - FREEZING_POINT) + y[MG] * h
    S[TG, TG] = still.glazing_heat + y[MG] * h_T
    S[TG, MG] = h
    h, h_T = film_enthalpy(y[TW])
    U[TW] = still.basin_heat * (y[TW] - FREEZING_POINT) + y[MW] * h
    S[TW, TW] = still.basin_heat + y[MW] * h_T
    S[TW, MW] = h
    U[MG] = y[MG]
    S[MG, MG] = 1.0
    U[MW] = y[MW]
    S[MW, MW] = 1.0


@njit(cache=True)
def unknowns(U, still, row, y, A):
    """Recover the unknowns y from the stocks U, starting from y."""
    y[MG] = U[MG]
    y[MW] = U[MW]
    y[TG] = temperature_with_film(U[TG], still.glazing_heat, y[MG], y[TG])
    y[TW] = temperature_with_film(U[TW], still.basin_heat, y[MW], y[TW])
    return A


@njit(cache=True)
def opening_drive(y, air, still, row, A):
    """Return zero: a still never opens."""
    return 0.0


@njit(cache=True)
def resting_state(air, still, row, y):
    """Fill y with a full basin and a dry glass at air temperature."""
    y[TG] = air[0]
    y[TW] = air[0]
    y[MG] = 0.0
    y[MW] = still.level
    return 0.0


@njit(cache=True)
def error_scales(y, still, row, scales):
    """Fill the size by which the step error of each unknown is judged, before the tolerance."""
    scales[TG] = 100.0
    scales[TW] = 100.0
    scales[MG] = 0.02
    scales[MW] = 1.0


BASIN_STILL = Kind(
    name="basin_still",
    unknowns=UNKNOWNS,
    flows=with_uses(FLOWS, KERNEL),
    fill_flows=KERNEL.fill,
    fill_stocks=stocks,
    recover=unknowns,
    opening_drive=opening_drive,
    rest=resting_state,
    error_scales=error_scales,
    stock_pattern=(*((i, i) for i in range(len(UNKNOWNS))), (TG, MG), (TW, MW)),
)
