"""The cooling coil inside the march: its numbers, stocks and flows, compiled.

docs/theory/cooling_coil.md holds the equations; the row, unknown and flow numbers here are the ones there.
"""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

from welkinwell.compiled import njit
from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    LIQUID_SPECIFIC_HEAT,
)
from welkinwell.harvesters.cooling_coil.design import CoolingCoil
from welkinwell.harvesters.harvester import OUTSIDE, Flow, Kind, Unknown, with_uses
from welkinwell.kernels.kernel import flow_kernel
from welkinwell.moist_air.saturation import dew_point_from_pressure
from welkinwell.parts.coil import bypass_factors, coil_exchange, frost_free_share, precooled, ratio_of
from welkinwell.parts.fan import REFERENCE_DENSITY, fan_power, pressure_drop
from welkinwell.parts.film import (
    drained,
    film_enthalpy,
    film_pressure,
    ice_share,
    smooth_step,
    temperature_with_film,
    wetted_share,
    working_share,
)
from welkinwell.parts.heat_pump import REFRIGERANTS, capacity_constant, cooling_cop, swept_capacity
from welkinwell.parts.thermoelectric import drawn_power
from welkinwell.parts.thermoelectric import pumped_heat as module_heat

RATED_VELOCITY: Final = 1.5  # m/s, at which coefficient and pressure drops are stated
VELOCITY_EXPONENT: Final = 0.5  # of the coefficient with mass velocity (value from memory)
DROP_EXPONENT: Final = 1.75  # of pressure drops with velocity (value from memory)
RATED_COLD: Final = FREEZING_POINT + 5.0  # K
RATED_HOT: Final = FREEZING_POINT + 45.0  # K
HYSTERESIS: Final = 1.0  # K of dew point, between start and stop
STILL_SHARE: Final = 0.05  # of the condenser's conductance that is left when its fan stands still; assumed
THAWED: Final = 0.05  # share of the frost limit that counts as no frost
FROST_STOP: Final = FREEZING_POINT  # K of the coil, at which a machine without defrosting stops
FROST_START: Final = FREEZING_POINT + 3.0  # K of the coil, at which it starts again
SWITCH_SPAN: Final = 5.0  # K above the highest temperature, over which the switch takes all of the time

OFF: Final = 0
RUNNING: Final = 1

TE, TC, TK, MC = range(4)
UNKNOWNS = (
    Unknown("evaporating_temperature", "K", 100.0, "heat", 100.0, "evaporator"),
    Unknown("coil_temperature", "K", 100.0, "heat", 100.0, "coil"),
    Unknown("rejection_temperature", "K", 100.0, "heat", 100.0, "heat rejection"),
    Unknown("coil_film", "kg/m2", 2.0, "water", 3.0),
)
SYMBOLS: Final = {"T_e": TE, "T_c": TC, "T_k": TK, "m_c": MC}


def _flow(name: str, unit: str, start: int, end: int) -> Flow:
    return Flow(name, unit, start, end)


FLOWS = (
    _flow("air_to_coil", "kg/(m2 s)", OUTSIDE, MC),
    _flow("collected", "kg/(m2 s)", MC, OUTSIDE),
    _flow("air_heat_to_coil", "W/m2", OUTSIDE, TC),
    _flow("air_vapour_to_coil", "W/m2", OUTSIDE, TC),
    _flow("collected_heat", "W/m2", TC, OUTSIDE),
    _flow("coil_to_evaporator", "W/m2", TC, TE),
    _flow("pumped_heat", "W/m2", TE, TK),
    _flow("cooling_power", "W/m2", OUTSIDE, TK),
    _flow("rejected_heat", "W/m2", TK, OUTSIDE),
    _flow("defrost_heat", "W/m2", OUTSIDE, TC),
    # meters: electricity that leaves with the air and touches no stock
    _flow("coil_fan_power", "W/m2", OUTSIDE, OUTSIDE),
    _flow("condenser_fan_power", "W/m2", OUTSIDE, OUTSIDE),
    _flow("control_power", "W/m2", OUTSIDE, OUTSIDE),
)


class CoilNumbers(NamedTuple):
    """What the compiled coil reads: SI numbers per m2 of coil face, made once from a design."""

    velocity: float  # m/s
    draught: float  # share of it when off
    fin_area: float
    coefficient: float  # W/(m2 K) at RATED_VELOCITY and 1.2 kg/m3
    fin_gap: float  # m
    refrigerant_conductance: float  # W/(m2 K)
    fin_heat: float  # J/(m2 K)
    evaporator_heat: float
    condenser_heat: float
    holdup: float  # kg per m2 of face
    recovery: float
    compresses: float  # 1 for a compressor, 0 for modules
    capacity: float  # constant of swept_capacity
    pressure_slope: float  # of the refrigerant
    latent: float
    vapour_slope: float
    liquid_slope: float
    second_law: float
    current: float  # alpha I/K
    merit: float  # 1/K
    conductance: float  # W/(m2 K)
    own_air: float  # 1 where outdoor air takes the heat, 0 where the coil's exhaust does
    condenser_ratio: float
    condenser_conductance: float  # W/(m2 K)
    coil_drop: float  # Pa
    wet_drop: float
    other_drop: float  # Pa, of filter and recovery
    condenser_drop: float  # Pa
    fan_efficiency: float
    run_above: float  # K
    defrosts: float  # 1 or 0
    frost_limit: float  # kg per m2 of face
    defrost_power: float  # W/m2
    control_power: float  # W/m2
    highest: float  # K, of heat rejection


def coil_numbers(design: CoolingCoil, _: Any, site_pressure: float) -> CoilNumbers:
    """Turn a design into the numbers that the march reads; the air's pressure is read hour by hour."""
    refrigerant = REFRIGERANTS[design.refrigerant]
    own_air = design.condenser_air == "outdoor"
    return CoilNumbers(
        velocity=design.face_velocity,
        draught=design.off_draught,
        fin_area=design.fin_area,
        coefficient=design.air_coefficient,
        fin_gap=design.fin_gap,
        refrigerant_conductance=design.refrigerant_conductance,
        fin_heat=design.fin_heat,
        evaporator_heat=design.evaporator_heat,
        condenser_heat=design.condenser_heat,
        holdup=design.fin_holdup * design.fin_area,
        recovery=design.recovery,
        compresses=float(design.cooling == "vapour_compression"),
        capacity=capacity_constant(design.rated_capacity, RATED_COLD, RATED_HOT, refrigerant),
        pressure_slope=refrigerant.pressure_slope,
        latent=refrigerant.latent,
        vapour_slope=refrigerant.vapour_slope,
        liquid_slope=refrigerant.liquid_slope,
        second_law=design.second_law,
        current=design.current_share * design.figure_of_merit * FREEZING_POINT,
        merit=design.figure_of_merit,
        conductance=design.module_conductance,
        own_air=float(own_air),
        condenser_ratio=design.condenser_air_ratio if own_air else 1.0,
        condenser_conductance=design.condenser_conductance,
        coil_drop=design.coil_drop,
        wet_drop=design.wet_coil_drop,
        other_drop=design.filter_drop + (design.recovery_drop if design.recovery > 0.0 else 0.0),
        condenser_drop=design.condenser_drop,
        fan_efficiency=design.fan_efficiency,
        run_above=design.run_above_dew_point,
        defrosts=float(design.frost_control == "defrost"),
        frost_limit=design.frost_limit * design.fin_area,
        defrost_power=design.defrost_power,
        control_power=design.control_power,
        highest=design.highest_condensing,
    )


def cooling_coil(T_e, T_c, T_k, m_c, air, mode, coil, row):
    """Each flow of the coil under its own name; docs/theory/cooling_coil.md has the same equations.

    T_e, T_c, T_k: evaporator, fins, heat rejection [K]; m_c: water on the fins [kg/m2]; air: shape (9,), as
    in AirRecord; mode: OFF or RUNNING.
    """
    T_a = air[0]
    p_a = air[1]
    pressure = air[2]
    running = mode == RUNNING
    speed = coil.velocity if running else coil.velocity * coil.draught
    density = (pressure - 0.378 * p_a) / (DRY_AIR_GAS_CONSTANT * T_a)
    flow = speed * (pressure - p_a) / (DRY_AIR_GAS_CONSTANT * T_a)
    ratio = ratio_of(p_a, pressure)
    dew_point = dew_point_from_pressure(p_a)

    # The coil: heat and vapour from the air, behind an air-to-air exchanger if there is one
    mass_velocity = speed * density / (RATED_VELOCITY * REFERENCE_DENSITY)
    conductance = coil.coefficient * coil.fin_area * mass_velocity**VELOCITY_EXPONENT
    bypass, bypass_vapour = bypass_factors(conductance, flow, ratio)
    inlet = precooled(T_a, dew_point, T_c, bypass, coil.recovery)
    over_film = film_pressure(T_c)[0]
    excess = p_a - over_film
    on_fins = m_c / coil.fin_area
    # a film that a step has taken below zero fills again while it dries, and counts as none in dew
    film = on_fins if excess < 0.0 else max(on_fins, 0.0)
    share = working_share(excess, film)[0]
    air_heat_to_coil, air_to_coil, air_vapour_to_coil, outlet, _ = coil_exchange(
        flow, inlet, ratio, T_c, ratio_of(over_film, pressure), bypass, bypass_vapour, share
    )
    collected = drained(m_c, coil.holdup, T_c)[0]
    collected_heat = collected * LIQUID_SPECIFIC_HEAT * (T_c - FREEZING_POINT)
    coil_to_evaporator = coil.refrigerant_conductance * (T_c - T_e)

    # What pumps heat from cold to hot: the mean of a pressure switch that comes and goes within seconds
    duty = 1.0 - smooth_step((T_k - coil.highest) / SWITCH_SPAN)[0]
    if coil.compresses > 0.0:
        if running:
            pumped_heat = (
                duty
                * coil.capacity
                * swept_capacity(
                    T_e, T_k, coil.pressure_slope, coil.latent, coil.vapour_slope, coil.liquid_slope
                )
            )
            cooling_power = pumped_heat / cooling_cop(T_e, T_k, coil.second_law)
    else:
        current = duty * coil.current if running else 0.0
        pumped_heat = module_heat(current, T_e, T_k, coil.merit, coil.conductance)
        cooling_power = drawn_power(current, T_e, T_k, coil.merit, coil.conductance)

    # Where it goes
    if running:
        takes = coil.condenser_ratio * flow * DRY_AIR_SPECIFIC_HEAT
        met = T_a if coil.own_air > 0.0 else outlet + (T_a - inlet)
        rejected_heat = takes * (1.0 - math.exp(-coil.condenser_conductance / takes)) * (T_k - met)
    else:
        rejected_heat = STILL_SHARE * coil.condenser_conductance * (T_k - T_a)

    # Frost is melted between two runs, while there is reason to run again
    frost = max(m_c, 0.0) * ice_share(T_c)[0]
    if not running and coil.defrosts > 0.0:
        wanted = smooth_step((dew_point - coil.run_above + HYSTERESIS) / HYSTERESIS)[0]
        left = smooth_step(frost / (THAWED * coil.frost_limit))[0]
        defrost_heat = coil.defrost_power * wanted * left

    if running:
        wet = wetted_share(max(on_fins, 0.0))[0]
        free = frost_free_share(frost / coil.fin_area, coil.fin_gap)
        through = coil.coil_drop * (1.0 + coil.wet_drop * wet) / (free * free * free) + coil.other_drop
        drop = pressure_drop(speed, RATED_VELOCITY, through, DROP_EXPONENT, density)
        behind = pressure_drop(1.0, 1.0, coil.condenser_drop, DROP_EXPONENT, density)
        if coil.own_air > 0.0:
            condenser_fan_power = fan_power(coil.condenser_ratio * speed, behind, coil.fan_efficiency)
        else:
            drop += behind
        coil_fan_power = fan_power(speed, drop, coil.fan_efficiency)
    control_power = coil.control_power


KERNEL: Final = flow_kernel(cooling_coil, SYMBOLS, [flow.name for flow in FLOWS], "cooling_coil")


@njit(cache=True)
def stocks(y, coil, row, A, U, S):
    """Fill the stocks U and their slopes S[row, unknown] from the unknowns."""
    h, h_T = film_enthalpy(y[TC])
    U[TE] = coil.evaporator_heat * (y[TE] - FREEZING_POINT)
    S[TE, TE] = coil.evaporator_heat
    U[TC] = coil.fin_heat * (y[TC] - FREEZING_POINT) + y[MC] * h
    S[TC, TC] = coil.fin_heat + y[MC] * h_T
    S[TC, MC] = h
    U[TK] = coil.condenser_heat * (y[TK] - FREEZING_POINT)
    S[TK, TK] = coil.condenser_heat
    U[MC] = y[MC]
    S[MC, MC] = 1.0


@njit(cache=True)
def unknowns(U, coil, row, y, A):
    """Recover the unknowns y from the stocks U, starting from y."""
    y[MC] = U[MC]
    y[TE] = FREEZING_POINT + U[TE] / coil.evaporator_heat
    y[TC] = temperature_with_film(U[TC], coil.fin_heat, y[MC], y[TC])
    y[TK] = FREEZING_POINT + U[TK] / coil.condenser_heat
    return A


@njit(cache=True)
def opening_drive(y, air, coil, row, A):
    """Return what starts the machine below 0 and stops it above 1: dry air, frost or a cold coil."""
    dry = (coil.run_above - dew_point_from_pressure(air[1])) / HYSTERESIS
    if coil.defrosts > 0.0:
        ice, _, _ = ice_share(y[TC])
        share = max(y[MC], 0.0) * ice / coil.frost_limit
        cold = (share - THAWED) / (1.0 - THAWED)
    else:
        cold = (FROST_START - y[TC]) / (FROST_START - FROST_STOP)
    return max(dry, cold)


@njit(cache=True)
def resting_state(air, coil, row, y):
    """Fill y with a dry machine at air temperature."""
    y[TE] = air[0]
    y[TC] = air[0]
    y[TK] = air[0]
    y[MC] = 0.0
    return 0.0


@njit(cache=True)
def error_scales(y, coil, row, scales):
    """Fill the size by which the step error of each unknown is judged, before the tolerance."""
    scales[TE] = 100.0
    scales[TC] = 100.0
    scales[TK] = 100.0
    scales[MC] = 0.02 * coil.fin_area


COOLING_COIL = Kind(
    name="cooling_coil",
    unknowns=UNKNOWNS,
    flows=with_uses(FLOWS, KERNEL),
    fill_flows=KERNEL.fill,
    fill_stocks=stocks,
    recover=unknowns,
    opening_drive=opening_drive,
    rest=resting_state,
    error_scales=error_scales,
)
