"""The dew condenser inside the march: its numbers, stocks and flows, compiled.

docs/theory/dew_condenser.md holds the equations; the row, unknown and flow numbers here are the ones there.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

from welkinwell.compiled import njit
from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    LATENT_HEAT_AT_FREEZING,
    LIQUID_SPECIFIC_HEAT,
    STEFAN_BOLTZMANN,
    VAPOUR_SPECIFIC_HEAT,
)
from welkinwell.harvesters.dew_condenser.design import DewCondenser
from welkinwell.harvesters.harvester import OUTSIDE, Flow, Kind, Unknown, with_uses
from welkinwell.kernels.kernel import flow_kernel
from welkinwell.parts.film import drained, film_enthalpy, film_pressure, temperature_with_film, working_share
from welkinwell.parts.surface import free_convection_constants, longwave_loss, surface_coefficient
from welkinwell.transfer.condensation import stefan_flow
from welkinwell.transfer.plates import thin_air_factors

LEWIS_FACTOR: Final = 0.905  # Le^(2/3) of vapour in air at 25 C (Bergman2011, value from memory)
LEAST_COEFFICIENT: Final = 1e-3  # W/(m2 K), so that the cubes of no wind and no buoyancy have a root

COVERED: Final = 0
BARE: Final = 1

TS, MS = range(2)
UNKNOWNS = (
    Unknown("sheet_temperature", "K", 100.0, "heat", 300.0, "sheet"),
    Unknown("sheet_film", "kg/m2", 2.0, "water", 0.05),
)


def _water(name: str, start: int, end: int) -> Flow:
    return Flow(name, "kg/(m2 s)", start, end)


def _heat(name: str, start: int, end: int) -> Flow:
    return Flow(name, "W/m2", start, end)


FLOWS = (
    _water("dew_on_sheet", OUTSIDE, MS),
    _water("collected", MS, OUTSIDE),
    _heat("sun_on_sheet", OUTSIDE, TS),
    _heat("sheet_longwave", TS, OUTSIDE),
    _heat("sheet_convection", TS, OUTSIDE),
    _heat("back_loss", TS, OUTSIDE),
    _heat("dew_heat", OUTSIDE, TS),
    _heat("collected_heat", TS, OUTSIDE),
)


class SheetNumbers(NamedTuple):
    """What the compiled sheet reads: SI numbers per m2 of sheet, made once from a design."""

    heat: float  # J/(m2 K)
    holdup: float  # kg/m2
    emissivity: float
    sky_view: float
    back_loss: float  # W/(m2 K)
    wind_constant: float  # W/(m2 K), in the site's air, as the next three
    wind_slope: float
    free_hot: float  # c^3 of free convection
    free_cold: float
    covered: float  # share of the still-air coefficient under the cover


def sheet_numbers(design: DewCondenser, _: Any, site_pressure: float) -> SheetNumbers:
    """Turn a design and the site's pressure [Pa] into the numbers that the march reads."""
    hot, cold = free_convection_constants(design.tilt, True)
    by_wind, by_buoyancy = thin_air_factors(site_pressure)
    return SheetNumbers(
        heat=design.sheet_mass * design.sheet_specific_heat,
        holdup=design.holdup,
        emissivity=design.emissivity,
        sky_view=design.seen_sky,
        back_loss=design.back_loss,
        wind_constant=design.wind_constant * by_buoyancy + LEAST_COEFFICIENT,
        wind_slope=design.wind_slope * by_wind,
        free_hot=hot * by_buoyancy**3,
        free_cold=cold * by_buoyancy**3,
        covered=design.covered_exchange,
    )


def dew_condenser(T_s, m_s, air, mode, sheet, row):
    """Each flow of the sheet under its own name; docs/theory/dew_condenser.md has the same equations.

    T_s: sheet [K]; m_s: water on it [kg/m2]; air: shape (9,), as in AirRecord; mode: BARE or COVERED.
    """
    T_a = air[0]
    p_a = air[1]
    pressure = air[2]
    forced = sheet.wind_constant
    exchange = sheet.covered
    sky = STEFAN_BOLTZMANN * T_a**4
    view = 1.0
    if mode == BARE:
        forced += sheet.wind_slope * air[3]
        exchange = 1.0
        sky = air[4]
        view = sheet.sky_view
        sun_on_sheet = air[5]
    h = surface_coefficient(forced, T_s, T_a, sheet.free_hot, sheet.free_cold)[0] * exchange
    sheet_longwave = longwave_loss(sheet.emissivity, T_s, T_a, sky, view)[0]
    volumetric = pressure / (DRY_AIR_GAS_CONSTANT * T_a) * DRY_AIR_SPECIFIC_HEAT
    mean = 0.5 * (T_s + T_a)
    over_film = film_pressure(T_s)[0]
    full = stefan_flow(h / (volumetric * LEWIS_FACTOR), mean, p_a, over_film, pressure)
    excess = p_a - over_film
    # a film that a step has taken below zero fills again while it dries, and counts as none in dew
    film = m_s if excess < 0.0 else max(m_s, 0.0)
    dew_on_sheet = full * working_share(excess, film)[0]
    collected = drained(m_s, sheet.holdup, T_s)[0]
    sheet_convection = h * (T_s - T_a)
    back_loss = sheet.back_loss * (T_s - T_a)
    dew_heat = dew_on_sheet * (LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (mean - FREEZING_POINT))
    collected_heat = collected * (LIQUID_SPECIFIC_HEAT * (T_s - FREEZING_POINT))


SYMBOLS: Final = {"T_s": TS, "m_s": MS}
KERNEL: Final = flow_kernel(dew_condenser, SYMBOLS, [flow.name for flow in FLOWS], "dew_condenser")


@njit(cache=True)
def stocks(y, sheet, row, A, U, S):
    """Fill the stocks U and their slopes S[row, unknown] from the unknowns."""
    h, h_T = film_enthalpy(y[TS])
    U[TS] = sheet.heat * (y[TS] - FREEZING_POINT) + y[MS] * h
    S[TS, TS] = sheet.heat + y[MS] * h_T
    S[TS, MS] = h
    U[MS] = y[MS]
    S[MS, MS] = 1.0


@njit(cache=True)
def unknowns(U, sheet, row, y, A):
    """Recover the unknowns y from the stocks U, starting from y."""
    y[MS] = U[MS]
    y[TS] = temperature_with_film(U[TS], sheet.heat, y[MS], y[TS])
    return A


@njit(cache=True)
def opening_drive(y, air, sheet, row, A):
    """Return zero: no rule on the state moves a sheet."""
    return 0.0


@njit(cache=True)
def resting_state(air, sheet, row, y):
    """Fill y with a dry sheet at air temperature."""
    y[TS] = air[0]
    y[MS] = 0.0
    return 0.0


@njit(cache=True)
def error_scales(y, sheet, row, scales):
    """Fill the size by which the step error of each unknown is judged, before the tolerance."""
    scales[TS] = 100.0
    scales[MS] = 0.02


DEW_CONDENSER = Kind(
    name="dew_condenser",
    unknowns=UNKNOWNS,
    flows=with_uses(FLOWS, KERNEL),
    fill_flows=KERNEL.fill,
    fill_stocks=stocks,
    recover=unknowns,
    opening_drive=opening_drive,
    rest=resting_state,
    error_scales=error_scales,
)
