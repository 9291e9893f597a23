"""The liquid desiccant inside the march: its numbers, stocks and flows, compiled.

docs/theory/liquid_desiccant.md holds the equations; the unknown and flow numbers here are the ones there.
The two potentials of the solution are solved once a state; their slopes follow from the isotherm.
"""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

import numpy as np

from welkinwell.compiled import njit
from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    GAS_CONSTANT,
    GRAVITY,
    LIQUID_SPECIFIC_HEAT,
    STANDARD_PRESSURE,
    VAPOUR_SPECIFIC_HEAT,
    WATER_GAS_CONSTANT,
    WATER_MOLAR_MASS,
)
from welkinwell.harvesters.harvester import OUTSIDE, Flow, Kind, Unknown, with_uses
from welkinwell.harvesters.liquid_desiccant.design import LiquidDesiccant
from welkinwell.harvesters.passive_box.flows import (
    GLASS_DENSITY,
    GLASS_SPECIFIC_HEAT,
    LEWIS_FACTOR,
)
from welkinwell.kernels.kernel import flow_kernel
from welkinwell.kernels.marks import gives_slopes, written_out
from welkinwell.moist_air.saturation import log_saturation_pressure, saturation_pressure_and_slope
from welkinwell.parts.bed import POOL_ENTHALPY, POOL_TEMPERATURE, bed_enthalpy, bed_temperature
from welkinwell.parts.contactor import (
    channel_coefficients,
    film_surface_speed,
    packing_gas_coefficient,
    packing_liquid_factor,
    packing_wetted_share,
    passing_air,
)
from welkinwell.parts.film import (
    DEW_BAND,
    drained,
    film_enthalpy,
    film_pressure,
    smooth_step,
    temperature_with_film,
    wetted_share,
    working_share,
)
from welkinwell.parts.gap import air_conductivity, gap_nusselt_at, vapour_diffusivity
from welkinwell.parts.surface import (
    free_convection_constants,
    longwave_loss,
    radiation_between,
    surface_coefficient,
)
from welkinwell.sorbents.potential import potential_at_loading, sorbed_state, uptake_rate
from welkinwell.sorbents.row import SLOT_DIFFUSION_LENGTH, SLOT_SHAPE_FACTOR
from welkinwell.transfer.condensation import stefan_flow, vapour_heat_factor
from welkinwell.transfer.enclosures import tilt_factors
from welkinwell.transfer.plates import thin_air_factors

AIR_VISCOSITY: Final = 1.57e-5  # m2/s, kinematic, of air at 25 C and sea level (Bergman2011)
SOLUTION_TENSION: Final = 0.09  # N/m, surface tension of strong brine (LiCl at 0.4, Conde2004)
FULL_BAND: Final = 0.05  # share of the full loading over which the absorber is shut
FIRST_GUESS: Final = 2500.0  # J/mol
LEAST_LOADING: Final = 1e-4  # kg/kg
CURVED_OVER: Final = 0.5  # J/mol, over which the curvature of an isotherm is taken; numerical width
WARMED_BY: Final = 0.01  # K, the same

TG, TS, TA, TC, WS, WA, MG, MC, PV = range(9)
UNKNOWNS = (
    Unknown("glazing_temperature", "K", 100.0, "heat", 300.0, "glass"),
    Unknown("still_temperature", "K", 100.0, "heat", 300.0, "still"),
    Unknown("store_temperature", "K", 100.0, "heat", 300.0, "tank and absorber"),
    Unknown("condenser_temperature", "K", 100.0, "heat", 300.0, "condenser"),
    Unknown("still_loading", "kg/kg", 1.0, "water", 1.0),
    Unknown("loading", "kg/kg", 1.0, "water", 1.0),
    Unknown("glazing_film", "kg/m2", 2.0, "water", 0.05),
    Unknown("condenser_film", "kg/m2", 2.0, "water", 0.05),
    Unknown("gap_vapour_pressure", "Pa", 20.0, "water", 2000.0),
)


def _water(name: str, start: int, end: int, *warms: tuple[int, float]) -> Flow:
    return Flow(name, "kg/(m2 s)", start, end, warms)


def _heat(name: str, start: int, end: int) -> Flow:
    return Flow(name, "W/m2", start, end)


FLOWS = (
    _water("air_to_solution", OUTSIDE, WA, (TA, POOL_ENTHALPY)),
    _water("evaporation", WS, PV, (TS, -POOL_ENTHALPY)),
    _water("glazing_condensation", PV, MG, (TG, POOL_ENTHALPY)),
    _water("condensation", PV, MC, (TC, POOL_ENTHALPY)),
    _water("leak", PV, OUTSIDE),
    _water("solution_water", WA, WS),
    _water("glazing_drained", MG, OUTSIDE),
    _water("collected", MC, OUTSIDE),
    _heat("sun_absorber", OUTSIDE, TS),
    _heat("sun_glazing", OUTSIDE, TG),
    _heat("supplied_heat", OUTSIDE, TS),
    _heat("still_radiation", TS, TG),
    _heat("still_convection", TS, TG),
    _heat("condenser_air", TS, TC),
    _heat("solution_heat", TS, TA),
    _heat("glazing_longwave", TG, OUTSIDE),
    _heat("glazing_convection", TG, OUTSIDE),
    _heat("condenser_convection", TC, OUTSIDE),
    _heat("edge_loss", TS, OUTSIDE),
    _heat("leak_heat", TS, OUTSIDE),
    _heat("absorber_convection", TA, OUTSIDE),
    _heat("absorber_longwave", TA, OUTSIDE),
    _heat("tank_loss", TA, OUTSIDE),
    _heat("air_vapour_to_solution", OUTSIDE, TA),
    _heat("pump_heat", OUTSIDE, TA),
    _heat("glazing_drained_heat", TG, OUTSIDE),
    _heat("collected_heat", TC, OUTSIDE),
    _heat("fan_work", OUTSIDE, OUTSIDE),
)


class LiquidNumbers(NamedTuple):
    """What the compiled liquid desiccant reads: SI numbers per m2 of aperture, made once from a design."""

    glazing_heat: float  # J/(m2 K)
    still_heat: float  # J/(m2 K), plate and dry salt
    store_heat: float  # J/(m2 K), absorber, tank and dry salt
    condenser_heat: float  # J/(m2 K)
    still_salt: float  # kg/m2
    store_salt: float  # kg/m2
    salt_heat: float  # J/(kg K)
    salt_density: float  # kg of dry salt per m3 of solution
    diffusion_scale: float  # m2, rate times this is the diffusivity in the solution
    gap_capacity: float  # kg/(m2 Pa)
    gap_volume: float  # m3/m2
    gap: float  # m
    inclination: float  # rad
    cosine: float
    damping: float
    still_linear: float  # 1/m, of diffusivity in the liquid-side coefficient
    still_root: float  # 1/s^(1/2), of its root
    absorber_linear: float
    absorber_root: float
    membrane: float  # s/m
    tray: float  # 1 where trays lie open
    absorber_area: float  # wetted, 1
    absorber_face: float
    gas_still: float  # m/s
    gas_moving: float  # m/s at 1 m/s
    gas_exponent: float
    wind_through: float
    fan_speed: float  # m/s, 0 where the wind blows
    by_day: float
    circulation: float  # kg of salt/(m2 s)
    exchanger: float
    crystal_0: float  # loading at crystallisation, a parabola of the temperature in C
    crystal_1: float
    crystal_2: float
    crystal_margin: float
    full_loading: float
    still_emissivity: float  # effective, solution to glass
    glazing_emissivity: float
    glazing_sky_view: float
    absorber_emissivity: float
    absorber_sky_area: float
    wet_loss: float
    edge_loss: float
    tank_loss: float
    leak: float  # 1/s
    heat_conductance: float
    heat_temperature: float
    condenser_flow: float  # m3/(m2 s), as far as it reaches the condenser's state
    condenser_warmed: float  # m3/(m2 s), of it, what comes back cold
    condenser_outer: float
    condenser_holdup: float
    glazing_holdup: float
    pump_day: float  # W/m2, what the pump leaves in the solution
    pump_night: float
    fan_day: float  # W/m2
    fan_night: float
    wind_constant: float
    wind_slope: float
    glazing_hot: float
    glazing_cold: float
    tray_hot: float
    tray_cold: float
    condenser_hot: float
    condenser_cold: float


def crystal_line(sorbent: Any) -> tuple[float, float, float]:
    """Fit the loading at which crystals form by a parabola of the temperature from 0 to 90 C [kg/kg]."""
    theta = np.arange(0.0, 91.0, 5.0)
    line = [sorbent.saturated_loading(t + FREEZING_POINT) for t in theta]
    second, first, zero = np.polyfit(theta, line, 2)
    return float(zero), float(first), float(second)


def solution_volume(sorbent: Any) -> tuple[float, float]:
    """Give the volume of solution per kg of dry salt at the sheet's strength [m3/kg], and its loading."""
    value = sorbent.sheet.value
    fraction = value("brine.salt_fraction")
    return 1.0 / (fraction * value("brine.density")), (1.0 - fraction) / fraction


def full_loading(design: LiquidDesiccant, sorbent: Any) -> float:
    """Loading at which tank and absorber are full; added water takes 1 L per kg."""
    volume, loading = solution_volume(sorbent)
    return loading + 1000.0 * (design.store_volume / design.store_salt - volume)


def night_flow(design: LiquidDesiccant) -> float:
    """Solution that the pump lifts onto the absorber [kg/(m2 s)]."""
    if design.absorber == "film":
        return design.wetting * design.absorber_area / design.plate_height
    if design.absorber == "packed":
        return design.packing_wetting * design.absorber_area / (design.packing_surface * design.packing_depth)
    return 0.0


def _absorber_sides(design: LiquidDesiccant, sorbent: Any, pressure: float) -> dict[str, float]:
    """Gas side and liquid side of the absorber."""
    density = sorbent.sheet.value("brine.density")
    salt_density = 1.0 / solution_volume(sorbent)[0]
    D = vapour_diffusivity(298.15, pressure)[0]
    nu = AIR_VISCOSITY * STANDARD_PRESSURE / pressure
    sides = {
        "area": design.absorber_area,
        "linear": 0.0,
        "root": 0.0,
        "still": 0.0,
        "moving": 0.0,
        "power": 0.8,
    }
    if design.absorber == "tray":
        sides["linear"] = 3.0 * salt_density * design.absorber_area / design.store_salt
    elif design.absorber == "film":
        sides["still"], sides["moving"] = channel_coefficients(design.plate_gap, D, nu)
        speed = film_surface_speed(design.wetting, design.solution_viscosity, density)
        sides["root"] = 2.0 / math.sqrt(math.pi * design.plate_height / speed)
    else:
        d = design
        share = packing_wetted_share(
            d.packing_wetting,
            d.packing_surface,
            d.solution_viscosity,
            density,
            SOLUTION_TENSION,
            d.packing_tension,
        )
        sides["area"] = share * d.absorber_area
        sides["moving"] = packing_gas_coefficient(1.0, d.packing_surface, d.packing_size, D, nu)
        sides["power"] = 0.7
        sides["root"] = packing_liquid_factor(
            d.packing_wetting,
            share * d.packing_surface,
            d.packing_surface,
            d.packing_size,
            d.solution_viscosity,
            density,
        )
    return sides


def liquid_numbers(design: LiquidDesiccant, sorbent: Any, pressure: float) -> LiquidNumbers:
    """Turn a design, a brine and the site's pressure [Pa] into the numbers that the march reads."""
    d = design
    crystal = crystal_line(sorbent)
    heated = d.regenerator != "solar_still"
    cosine, damping = tilt_factors(d.tilt)
    return LiquidNumbers(
        glazing_heat=GLASS_DENSITY * GLASS_SPECIFIC_HEAT * d.glazing_thickness,
        still_heat=d.still_heat + d.still_salt * sorbent.dry_specific_heat,
        store_heat=d.absorber_heat + d.store_salt * sorbent.dry_specific_heat,
        condenser_heat=d.condenser_heat,
        still_salt=d.still_salt,
        store_salt=d.store_salt,
        salt_heat=sorbent.dry_specific_heat,
        diffusion_scale=sorbent.row[SLOT_DIFFUSION_LENGTH] ** 2 / sorbent.row[SLOT_SHAPE_FACTOR],
        gap_capacity=d.still_gap / (WATER_GAS_CONSTANT * POOL_TEMPERATURE),
        gap_volume=d.still_gap,
        gap=d.still_gap,
        inclination=d.tilt,
        cosine=cosine,
        damping=damping,
        by_day=float(d.absorbs_by_day),
        circulation=d.day_circulation * sorbent.sheet.value("brine.salt_fraction"),
        exchanger=d.exchanger_effectiveness,
        crystal_0=crystal[0],
        crystal_1=crystal[1],
        crystal_2=crystal[2],
        crystal_margin=d.crystal_margin,
        full_loading=full_loading(d, sorbent),
        still_emissivity=1.0 / (1.0 / d.still_emissivity + 1.0 / d.glazing_emissivity - 1.0),
        glazing_emissivity=d.glazing_emissivity,
        glazing_sky_view=0.5 * (1.0 + math.cos(d.tilt)),
        absorber_emissivity=d.absorber_emissivity,
        absorber_sky_area=d.absorber_sky_area,
        wet_loss=d.wet_glass_loss,
        edge_loss=d.edge_loss,
        tank_loss=d.tank_loss,
        leak=d.leak,
        heat_conductance=d.heat_conductance if heated else 0.0,
        heat_temperature=d.heat_temperature,
        condenser_outer=d.condenser_outer_area,
        condenser_holdup=d.condenser_holdup,
        glazing_holdup=d.glazing_holdup,
        **_exchanging_surfaces(d, sorbent, pressure),
        **_pump_and_fans(d),
        **_outer_convection(d, pressure),
    )


def _exchanging_surfaces(design: LiquidDesiccant, sorbent: Any, pressure: float) -> dict[str, float]:
    """Give what stands between the solution and the air, in the still and in the absorber."""
    d = design
    sides = _absorber_sides(d, sorbent, pressure)
    salt_density = 1.0 / solution_volume(sorbent)[0]
    membrane = 0.0
    if d.regenerator == "membrane":
        through = d.membrane_porosity * vapour_diffusivity(POOL_TEMPERATURE, pressure)[0]
        membrane = d.membrane_thickness * d.membrane_tortuosity / through
    pool = d.still_mixing == 0.0
    return {
        "salt_density": salt_density,
        "still_linear": 3.0 * salt_density / d.still_salt if pool else 0.0,
        "still_root": 0.0 if pool else 2.0 / math.sqrt(math.pi * d.still_mixing),
        "absorber_linear": sides["linear"],
        "absorber_root": sides["root"],
        "membrane": membrane,
        "tray": float(d.absorber == "tray"),
        "absorber_area": sides["area"],
        "absorber_face": d.absorber_face,
        "gas_still": sides["still"],
        "gas_moving": sides["moving"],
        "gas_exponent": sides["power"],
        "wind_through": d.wind_through,
        "fan_speed": d.fan_flow / d.absorber_face if d.absorber_air == "fan" else 0.0,
    }


def _pump_and_fans(design: LiquidDesiccant) -> dict[str, float]:
    """Give the electricity of pump and fans by mode [W/m2], and the air that the condenser is swept with."""
    d = design
    separate = d.condenser == "separate"
    swept = d.condenser_airflow * d.condenser_effectiveness if separate else 0.0
    lifted = GRAVITY * d.pump_head
    fan = d.fan_flow * d.fan_pressure / d.fan_efficiency if d.absorber_air == "fan" else 0.0
    return {
        "condenser_flow": swept,
        "condenser_warmed": swept * (1.0 - d.condenser_recovery),
        "pump_day": lifted * (d.day_circulation + (night_flow(d) if d.absorbs_by_day else 0.0)),
        "pump_night": lifted * night_flow(d),
        "fan_day": (fan if d.absorbs_by_day else 0.0) + (d.condenser_power if separate else 0.0),
        "fan_night": fan,
    }


def _outer_convection(design: LiquidDesiccant, pressure: float) -> dict[str, float]:
    """Give the constants of wind and of free convection in the site's air."""
    glazing_hot, glazing_cold = free_convection_constants(design.tilt, True)
    tray_hot, tray_cold = free_convection_constants(0.0, True)
    steep = free_convection_constants(0.5 * math.pi, True)[0]
    by_wind, by_buoyancy = thin_air_factors(pressure)
    thin = by_buoyancy**3
    return {
        "wind_constant": design.wind_constant * by_buoyancy,
        "wind_slope": design.wind_slope * by_wind,
        "glazing_hot": glazing_hot * thin,
        "glazing_cold": glazing_cold * thin,
        "tray_hot": tray_hot * thin,
        "tray_cold": tray_cold * thin,
        "condenser_hot": steep * thin,
        "condenser_cold": steep * thin,
    }


@njit(cache=True)
def solution_potential(row, w, T, guess):
    """Return the potential [J/mol] of a solution of loading w [kg/kg] at T [K], by Newton on ln w."""
    held = max(w, LEAST_LOADING)
    goal = math.log(held)
    A = guess
    for _ in range(12):
        q, q_A, _, _, _ = sorbed_state(row, A, T)
        if not (q > 0.0 and q_A < 0.0):
            break
        step = (goal - math.log(q)) * q / q_A
        if not abs(step) < 4000.0:
            break
        A += step
        if abs(step) < 1e-3:  # the error left is its square
            return A
    return potential_at_loading(row, held, T, A)


@gives_slopes("w", "T", rounds=12)
@njit(cache=True)
def potential_of(row, w, T):
    """Return the potential [J/mol] of a solution of loading w [kg/kg] at T [K], and its slopes in w and T.

    q(A, T) = w gives dA = (dw - q_T dT)/q_A; a loading that is held at its least no longer moves it.
    """
    A = solution_potential(row, w, T, FIRST_GUESS)
    _, q_A, q_T, _, _ = sorbed_state(row, A, T)
    return A, 1.0 / q_A if w > LEAST_LOADING else 0.0, -q_T / q_A


@gives_slopes("A", "T")
@njit(cache=True)
def excess_enthalpy(row, A, T):
    """Return the enthalpy of the water over liquid [J/kg of salt], and its slopes in A [J/mol] and T [K]."""
    _, q_A, q_T, e, e_T = sorbed_state(row, A, T)
    return e, -(A * q_A + T * q_T) / WATER_MOLAR_MASS, e_T


@gives_slopes("A", "T")
@njit(cache=True)
def held_by_potential(row, A, T):
    """Return the slope of the loading in the potential [kg mol/(kg J)], and its slopes in A and T.

    Those are differences: forms give no curvature.
    """
    steep = sorbed_state(row, A, T)[1]
    by_A = sorbed_state(row, A + CURVED_OVER, T)[1] - sorbed_state(row, A - CURVED_OVER, T)[1]
    by_T = sorbed_state(row, A, T + WARMED_BY)[1] - sorbed_state(row, A, T - WARMED_BY)[1]
    return steep, by_A / (2.0 * CURVED_OVER), by_T / (2.0 * WARMED_BY)


@written_out
@njit(cache=True)
def liquid_side(row, A, T, p, linear, root, n):
    """Return what the solution's own film lets through, as a coefficient in the gas [m/s]."""
    D = uptake_rate(row, T) * n.diffusion_scale
    k = linear * D + root * math.sqrt(D)
    held_by_pascal = -held_by_potential(row, A, T)[0] * GAS_CONSTANT * T / p
    return k * n.salt_density * held_by_pascal * WATER_GAS_CONSTANT * T


@written_out
@njit(cache=True)
def crystal_share(w, T, n):
    """Return the share of evaporation that crystals leave [1]: 0 at the line, 1 a margin above it."""
    theta = T - FREEZING_POINT
    line = max(n.crystal_0 + theta * (n.crystal_1 + theta * n.crystal_2), 1e-3)
    return smooth_step((w / line - 1.0) / n.crystal_margin)[0]


def liquid_desiccant(T_g, T_s, T_a, T_c, w_s, w_a, m_g, m_c, p_v, air, mode, n, row):
    """Each flow of the device under its own name; docs/theory/liquid_desiccant.md has the same equations.

    T_g, T_s, T_a, T_c: glazing, still, absorber with tank, condenser [K]; w_s, w_a: loadings of still and
    tank [kg/kg]; m_g, m_c: water on glazing and condenser [kg/m2]; p_v: vapour in the gap [Pa]; air: as for
    the passive box; mode: 1 absorbing, 0 releasing.
    """
    T_o = air[0]
    p_o = air[1]
    pressure = air[2]
    night = 1.0 if mode == 1 else 0.0
    active = 1.0 if mode == 1 else n.by_day
    A_s = potential_of(row, w_s, T_s)[0]
    A_a = potential_of(row, w_a, T_a)[0]
    forced = n.wind_constant + n.wind_slope * air[3]
    outdoor_heat = pressure / (DRY_AIR_GAS_CONSTANT * T_o) * DRY_AIR_SPECIFIC_HEAT  # J/(m3 K)

    # Absorber and outdoor air: the air's film and the solution's in series
    p = math.exp(log_saturation_pressure(T_a)[0] - A_a / (GAS_CONSTANT * T_a))
    liquid = liquid_side(row, A_a, T_a, p, n.absorber_linear, n.absorber_root, n)
    if n.tray > 0.0:
        h = surface_coefficient(forced, T_a, T_o, n.tray_hot, n.tray_cold)[0]
        gas = h / (outdoor_heat * LEWIS_FACTOR)
        mass = n.absorber_area / (1.0 / gas + 1.0 / liquid)
        heat = n.absorber_area * h
    else:
        speed = n.fan_speed if n.fan_speed > 0.0 else n.wind_through * max(air[3], 0.0)
        moving = n.gas_moving * (speed + 1e-6) ** n.gas_exponent
        gas = (n.gas_still * n.gas_still * n.gas_still + moving * moving * moving) ** (1.0 / 3.0)
        through = speed * n.absorber_face
        mass = passing_air(n.absorber_area / (1.0 / gas + 1.0 / liquid), through)
        heat = outdoor_heat * passing_air(n.absorber_area * gas * LEWIS_FACTOR, through)
    T_m = 0.5 * (T_a + T_o)
    side = smooth_step(0.5 + 0.5 * (p_o - p) / DEW_BAND)[0]
    room = 1.0 - smooth_step((w_a / n.full_loading - 1.0 + FULL_BAND) / FULL_BAND)[0]
    inward = stefan_flow(mass, T_m, p_o, p, pressure)
    air_to_solution = inward * (active * (side * room + (1.0 - side) * crystal_share(w_a, T_a, n)))
    absorber_convection = active * heat * (T_a - T_o)
    lost = longwave_loss(n.absorber_emissivity, T_a, T_o, air[4], 1.0)[0]
    absorber_longwave = active * n.absorber_sky_area * lost
    tank_loss = n.tank_loss * (T_a - T_o)
    air_vapour_to_solution = air_to_solution * VAPOUR_SPECIFIC_HEAT * (T_m - POOL_TEMPERATURE)

    # From the solution in the still to glass and condenser
    p = math.exp(log_saturation_pressure(T_s)[0] - A_s / (GAS_CONSTANT * T_s))
    beyond = 2.0 * p_v - p
    nu = gap_nusselt_at(T_s, T_g, p, beyond, pressure, n.gap, n.inclination, n.cosine, n.damping)[0]
    T_f = 0.5 * (T_s + T_g)
    h = nu * air_conductivity(T_f)[0] / n.gap
    half = 2.0 * nu * vapour_diffusivity(T_f, pressure)[0] / n.gap
    liquid = liquid_side(row, A_s, T_s, p, n.still_linear, n.still_root, n)
    way = 1.0 / (1.0 / half + 1.0 / liquid + n.membrane)
    side = smooth_step(0.5 + 0.5 * (p - p_v) / DEW_BAND)[0]
    evaporation = stefan_flow(way, T_f, p, p_v, pressure)
    evaporation *= 1.0 - side + side * crystal_share(w_s, T_s, n)
    film_g = film_pressure(T_g)[0]
    glazing_condensation = stefan_flow(half, T_f, p_v, film_g, pressure)
    glazing_condensation *= working_share(p_v - film_g, m_g)[0]
    T_m = 0.5 * (T_s + T_c)
    film_c = film_pressure(T_c)[0]
    condensation = stefan_flow(n.condenser_flow, T_m, p_v, film_c, pressure)
    condensation *= working_share(p_v - film_c, m_c)[0]
    still_radiation = radiation_between(n.still_emissivity, T_s, T_g)[0]
    stretched = vapour_heat_factor(glazing_condensation * VAPOUR_SPECIFIC_HEAT / h)[0]
    still_convection = h * stretched * (T_s - T_g)
    still_convection += glazing_condensation * VAPOUR_SPECIFIC_HEAT * (T_f - POOL_TEMPERATURE)
    loop_heat = pressure / (DRY_AIR_GAS_CONSTANT * T_m) * DRY_AIR_SPECIFIC_HEAT
    condenser_air = n.condenser_warmed * loop_heat * (T_s - T_c)
    condenser_air += condensation * VAPOUR_SPECIFIC_HEAT * (T_m - POOL_TEMPERATURE)

    # What circulates between tank and still: water, and heat less what the exchanger hands back
    if not (mode == 1 or n.circulation == 0.0):
        theta_s = T_s - FREEZING_POINT
        theta_a = T_a - FREEZING_POINT
        per_s = n.salt_heat + w_s * LIQUID_SPECIFIC_HEAT
        per_a = n.salt_heat + w_a * LIQUID_SPECIFIC_HEAT
        e_s = excess_enthalpy(row, A_s, T_s)[0]
        e_a = excess_enthalpy(row, A_a, T_a)[0]
        handed = n.exchanger * min(per_s, per_a) * (theta_s - theta_a)
        solution_water = n.circulation * (w_a - w_s)
        solution_heat = n.circulation * (per_s * theta_s + e_s - per_a * theta_a - e_a - handed)

    # Still, glass and condenser to the outside
    leak = n.leak * n.gap_capacity * (p_v - p_o)
    glazing_drained = drained(m_g, n.glazing_holdup, T_g)[0]
    collected = drained(m_c, n.condenser_holdup, T_c)[0]
    sun_absorber = air[5] * (1.0 - n.wet_loss * wetted_share(m_g)[0])
    sun_glazing = air[6]
    supplied_heat = (1.0 - night) * n.heat_conductance * (n.heat_temperature - T_s)
    glazing_longwave = longwave_loss(n.glazing_emissivity, T_g, T_o, air[4], n.glazing_sky_view)[0]
    h_g = surface_coefficient(forced, T_g, T_o, n.glazing_hot, n.glazing_cold)[0]
    glazing_convection = h_g * (T_g - T_o)
    h_c = surface_coefficient(forced, T_c, T_o, n.condenser_hot, n.condenser_cold)[0]
    condenser_convection = n.condenser_outer * h_c * (T_c - T_o)
    edge_loss = n.edge_loss * (T_s - T_o)
    leak_heat = n.leak * n.gap_volume * outdoor_heat * (0.5 * (T_s + T_g) - T_o)
    pump_heat = night * n.pump_night + (1.0 - night) * n.pump_day
    glazing_drained_heat = glazing_drained * LIQUID_SPECIFIC_HEAT * (T_g - FREEZING_POINT)
    collected_heat = collected * LIQUID_SPECIFIC_HEAT * (T_c - FREEZING_POINT)
    fan_work = night * n.fan_night + (1.0 - night) * n.fan_day


SYMBOLS: Final = {
    "T_g": TG, "T_s": TS, "T_a": TA, "T_c": TC, "w_s": WS, "w_a": WA, "m_g": MG, "m_c": MC, "p_v": PV
}  # fmt: skip
KERNEL: Final = flow_kernel(liquid_desiccant, SYMBOLS, [flow.name for flow in FLOWS], "liquid_desiccant")


@njit(cache=True)
def stocks(y, n, row, A, U, S):
    """Fill the stocks U and their slopes S[row, unknown] from the unknowns; A: of the tank [J/mol]."""
    for t, m, heat in ((TG, MG, n.glazing_heat), (TC, MC, n.condenser_heat)):
        h, h_T = film_enthalpy(y[t])
        U[t] = heat * (y[t] - FREEZING_POINT) + y[m] * h
        S[t, t] = heat + y[m] * h_T
        S[t, m] = h
        U[m] = y[m]
        S[m, m] = 1.0
    A_s = solution_potential(row, y[WS], y[TS], FIRST_GUESS)
    U[TS], S[TS, TS], S[TS, WS] = bed_enthalpy(y[TS], y[WS], 0.0, A_s, n.still_heat, n.still_salt, row)
    A_a = solution_potential(row, y[WA], y[TA], A)
    U[TA], S[TA, TA], S[TA, WA] = bed_enthalpy(y[TA], y[WA], 0.0, A_a, n.store_heat, n.store_salt, row)
    U[WS] = n.still_salt * y[WS]
    S[WS, WS] = n.still_salt
    U[WA] = n.store_salt * y[WA]
    S[WA, WA] = n.store_salt
    U[PV] = n.gap_capacity * y[PV]
    S[PV, PV] = n.gap_capacity


@njit(cache=True)
def unknowns(U, n, row, y, A):
    """Recover the unknowns y from the stocks U, starting from y; returns the tank's potential [J/mol]."""
    A_s = solution_potential(row, y[WS], y[TS], FIRST_GUESS)
    y[WS] = U[WS] / n.still_salt
    y[WA] = U[WA] / n.store_salt
    y[MG] = U[MG]
    y[MC] = U[MC]
    y[PV] = U[PV] / n.gap_capacity
    y[TG] = temperature_with_film(U[TG], n.glazing_heat, y[MG], y[TG])
    y[TC] = temperature_with_film(U[TC], n.condenser_heat, y[MC], y[TC])
    y[TS], _ = bed_temperature(U[TS], n.still_heat, U[WS], n.still_salt, y[WS], row, y[TS], A_s)
    y[TA], A_a = bed_temperature(U[TA], n.store_heat, U[WA], n.store_salt, y[WA], row, y[TA], A)
    return A_a


@njit(cache=True)
def opening_drive(y, air, n, row, A):
    """Return the solution's pressure over the outdoor vapour pressure [1]."""
    p = math.exp(log_saturation_pressure(y[TA])[0] - A / (GAS_CONSTANT * y[TA]))
    return p / max(air[1], 1.0)


@njit(cache=True)
def resting_state(air, n, row, y):
    """Fill y with a device at rest in an air state, its solution in equilibrium at 15 to 60 % humidity."""
    T = air[0]
    saturated = saturation_pressure_and_slope(T)[0]
    p = min(max(air[1], 0.15 * saturated), 0.6 * saturated)
    A = GAS_CONSTANT * T * (log_saturation_pressure(T)[0] - math.log(p))
    w = min(sorbed_state(row, A, T)[0], 0.9 * n.full_loading)
    A = solution_potential(row, w, T, A)
    for t in (TG, TS, TA, TC):
        y[t] = T
    y[WS] = w
    y[WA] = w
    y[MG] = 0.0
    y[MC] = 0.0
    y[PV] = p
    return A


@njit(cache=True)
def error_scales(y, n, row, scales):
    """Fill the size by which the step error of each unknown is judged, before the tolerance."""
    for t in (TG, TS, TA, TC):
        scales[t] = 100.0
    scales[WS] = 2.0
    scales[WA] = 2.0
    scales[MG] = 0.02
    scales[MC] = 0.02
    scales[PV] = 20.0 * (abs(y[PV]) + 200.0)


LIQUID_DESICCANT = Kind(
    name="liquid_desiccant",
    unknowns=UNKNOWNS,
    flows=with_uses(FLOWS, KERNEL),
    fill_flows=KERNEL.fill,
    fill_stocks=stocks,
    recover=unknowns,
    opening_drive=opening_drive,
    rest=resting_state,
    error_scales=error_scales,
)
