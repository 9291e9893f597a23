"""The hybrid inside the march: its numbers, stocks and flows, compiled.

docs/theory/hybrid.md holds the equations; the unknown and flow numbers here are the ones there.
"""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

from welkinwell.compiled import njit
from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    GAS_CONSTANT,
    LATENT_HEAT_AT_FREEZING,
    LIQUID_SPECIFIC_HEAT,
    VAPOUR_SPECIFIC_HEAT,
    WATER_GAS_CONSTANT,
    WATER_MOLAR_MASS,
)
from welkinwell.harvesters.harvester import OUTSIDE, Flow, Kind, Unknown, with_uses
from welkinwell.harvesters.hybrid.design import Hybrid
from welkinwell.kernels.kernel import flow_kernel
from welkinwell.kernels.marks import written_out
from welkinwell.moist_air.saturation import log_saturation_pressure, saturation_pressure_and_slope
from welkinwell.parts.bed import (
    POOL_ENTHALPY,
    POOL_TEMPERATURE,
    bed_enthalpy,
    bed_temperature,
)
from welkinwell.parts.bed import sorption as sorption_rate
from welkinwell.parts.contactor import passing_air
from welkinwell.parts.fan import fan_power
from welkinwell.parts.film import (
    drained,
    film_enthalpy,
    film_pressure,
    smooth_step,
    temperature_with_film,
    working_share,
)
from welkinwell.parts.gap import air_conductivity, gap_nusselt_at, vapour_diffusivity
from welkinwell.parts.heat_pump import cooling_cop
from welkinwell.parts.surface import (
    free_convection_constants,
    longwave_loss,
    radiation_between,
    surface_coefficient,
)
from welkinwell.sorbents.potential import largest_loading, sorbed_state
from welkinwell.transfer.enclosures import tilt_factors
from welkinwell.transfer.layers import layer_resistance
from welkinwell.transfer.plates import thin_air_factors
from welkinwell.transfer.smooth_bounds import positive_part

GLASS_HEAT: Final = 2500.0 * 720.0  # J/(m3 K), soda-lime glass, common practice
LEWIS_FACTOR: Final = 0.905  # Le^(2/3) of vapour in air at 25 C (Bergman2011, value from memory)
VENT_SPAN: Final = 5.0  # K, over which the vent opens
START_SPAN: Final = 5.0  # K, over which the loop's fan comes on
STOP_SPAN: Final = 3.0  # K, over which the top-up ends
LIMIT_BAND: Final = 0.1  # share of the limit over which it ends
FROST_SPAN: Final = 2.0  # K above freezing over which a heat pump ends
ONE_WAY: Final = 1.0  # K, over which a heat pipe begins to carry
LEAST_PRESSURE: Final = 1e-3  # Pa, under the logarithm only

TG, TB, TC, TR, W, MC, PB = range(7)
UNKNOWNS = (
    Unknown("glazing_temperature", "K", 100.0, "heat", 300.0, "glass"),
    Unknown("bed_temperature", "K", 100.0, "heat", 300.0, "bed"),
    Unknown("condenser_temperature", "K", 100.0, "heat", 300.0, "condenser"),
    Unknown("radiator_temperature", "K", 100.0, "heat", 300.0, "radiator"),
    Unknown("loading", "kg/kg", 1.0, "water", 0.1),
    Unknown("condenser_film", "kg/m2", 2.0, "water", 0.05),
    Unknown("bed_vapour_pressure", "Pa", 20.0, "water", 2000.0),
)


def _water(name: str, start: int, end: int, *warms: tuple[int, float]) -> Flow:
    return Flow(name, "kg/(m2 s)", start, end, warms)


def _heat(name: str, start: int, end: int) -> Flow:
    return Flow(name, "W/m2", start, end)


FLOWS = (
    _water("sorption", PB, W, (TB, POOL_ENTHALPY)),
    _water("air_to_bed", OUTSIDE, PB),
    _water("condensation", PB, MC, (TC, POOL_ENTHALPY)),
    _water("leak", PB, OUTSIDE),
    _water("collected", MC, OUTSIDE),
    _heat("sun_absorber", OUTSIDE, TB),
    _heat("sun_glazing", OUTSIDE, TG),
    _heat("sun_radiator", OUTSIDE, TR),
    _heat("cover_radiation", TB, TG),
    _heat("cover_convection", TB, TG),
    _heat("glazing_longwave", TG, OUTSIDE),
    _heat("glazing_convection", TG, OUTSIDE),
    _heat("edge_loss", TB, OUTSIDE),
    _heat("bed_convection", TB, OUTSIDE),
    _heat("air_vapour_to_bed", OUTSIDE, TB),
    _heat("loop_heat", TB, TC),
    _heat("leak_heat", TB, OUTSIDE),
    _heat("condenser_convection", TC, OUTSIDE),
    _heat("radiator_from_bed", TB, TR),
    _heat("radiator_from_condenser", TC, TR),
    _heat("radiator_longwave", TR, OUTSIDE),
    _heat("radiator_convection", TR, OUTSIDE),
    _heat("heat_pumped", TC, TB),
    _heat("top_up_work", OUTSIDE, TB),
    _heat("collected_heat", TC, OUTSIDE),
    _heat("fan_work", OUTSIDE, OUTSIDE),
    _heat("control_work", OUTSIDE, OUTSIDE),
)


class HybridNumbers(NamedTuple):
    """What the compiled hybrid reads: SI numbers per m2 of aperture, made once from a design."""

    glazing_heat: float  # J/(m2 K)
    bed_heat: float
    condenser_heat: float
    radiator_heat: float
    sorbent_mass: float  # kg/m2
    air_capacity: float  # kg/(m2 Pa)
    air_volume: float  # m3/m2
    open_mass: float  # m3/(m2 s), from outdoor air to the bed's pores
    open_heat: float  # m3/(m2 s), times the heat of air
    loop_mass: float  # m3/(m2 s), from the bed's pores to the condenser
    loop_heat: float
    loop_start: float  # K
    front_gap: float
    inclination: float
    cosine: float
    damping: float
    cover_emissivity: float
    glazing_emissivity: float
    sky_view: float
    edge_loss: float
    leak: float  # 1/s
    vent: float
    vent_temperature: float
    condenser_outer: float
    condenser_holdup: float
    radiator_area: float
    radiator_emissivity: float
    radiator_absorptance: float
    coupling: float
    coupling_by_day: float
    pumps: float  # 1 where a heat pump tops up
    top_up_power: float
    top_up_below: float
    top_up_limit: float  # J/kg
    second_law: float
    approach: float
    open_fan: float  # W/m2
    loop_fan: float
    control: float
    wind_constant: float
    wind_slope: float
    upper_hot: float
    upper_cold: float
    steep: float


def loop_numbers(design: Hybrid, sorbent: Any, pressure: float) -> tuple[float, float, float, float]:
    """Give open_mass, open_heat, loop_mass and loop_heat of HybridNumbers [m3/(m2 s)].

    Bed and condenser exchange with the air that passes them: shares e of the way to their state. Round a loop
    with recovery r, what is exchanged is V (1 - r)/((1 - r)(1/e_b + 1/e_c) - (1 - 2 r)).
    """
    d = design
    heat = pressure / (DRY_AIR_GAS_CONSTANT * POOL_TEMPERATURE) * DRY_AIR_SPECIFIC_HEAT
    resistance = 0.0
    if sorbent.layer_porosity > 0.0 and not sorbent.rate_covers_layer:
        diffusivity = sorbent.layer_porosity**1.5 * vapour_diffusivity(POOL_TEMPERATURE, pressure)[0]
        resistance = layer_resistance(d.layer_thickness, diffusivity)
    bed_mass = d.bed_area / (heat * LEWIS_FACTOR / d.bed_coefficient + resistance)
    bed_heat = d.bed_area * d.bed_coefficient / heat
    cold_heat = d.condenser_area * d.condenser_coefficient / heat
    cold_mass = cold_heat / LEWIS_FACTOR
    V, r = d.loop_airflow, d.loop_recovery
    bed, cold = (-math.expm1(-k / V) for k in (bed_mass, cold_mass))
    bed_h, cold_h = (-math.expm1(-k / V) for k in (bed_heat, cold_heat))
    back = 1.0 - r
    return (
        passing_air(bed_mass, d.open_airflow),
        passing_air(bed_heat, d.open_airflow),
        V / (1.0 / bed + 1.0 / cold - 1.0),
        V * back / (back * (1.0 / bed_h + 1.0 / cold_h) - (1.0 - 2.0 * r)),
    )


def hybrid_numbers(design: Hybrid, sorbent: Any, pressure: float) -> HybridNumbers:
    """Turn a design, a sorbent and the site's pressure [Pa] into the numbers that the march reads."""
    d = design
    assert d.vent_temperature is not None
    open_mass, open_heat, loop_mass, loop_heat = loop_numbers(d, sorbent, pressure)
    cosine, damping = tilt_factors(d.tilt)
    hot, cold = free_convection_constants(d.tilt, True)
    by_wind, by_buoyancy = thin_air_factors(pressure)
    thin = by_buoyancy**3
    return HybridNumbers(
        glazing_heat=GLASS_HEAT * d.glazing_thickness,
        bed_heat=d.sorbent_mass * sorbent.dry_specific_heat + d.bed_metal * d.bed_metal_specific_heat,
        condenser_heat=d.condenser_heat,
        radiator_heat=d.radiator_heat * d.radiator_area,
        sorbent_mass=d.sorbent_mass,
        air_capacity=d.bed_air_volume / (WATER_GAS_CONSTANT * POOL_TEMPERATURE),
        air_volume=d.bed_air_volume,
        open_mass=open_mass,
        open_heat=open_heat,
        loop_mass=loop_mass,
        loop_heat=loop_heat,
        loop_start=d.loop_start,
        front_gap=d.front_gap,
        inclination=d.tilt,
        cosine=cosine,
        damping=damping,
        cover_emissivity=1.0 / (1.0 / d.absorber_emissivity + 1.0 / d.glazing_emissivity - 1.0),
        glazing_emissivity=d.glazing_emissivity,
        sky_view=0.5 * (1.0 + math.cos(d.tilt)),
        edge_loss=d.edge_loss,
        leak=d.leak,
        vent=d.vent_air_changes,
        vent_temperature=d.vent_temperature,
        condenser_outer=d.condenser_outer_area,
        condenser_holdup=d.condenser_holdup * d.condenser_area,
        radiator_area=d.radiator_area,
        radiator_emissivity=d.radiator_emissivity,
        radiator_absorptance=d.radiator_absorptance,
        coupling=d.radiator_coupling,
        coupling_by_day=d.radiator_coupling if d.radiator_by_day else 0.0,
        pumps=float(d.top_up == "heat_pump"),
        top_up_power=0.0 if d.top_up == "none" else d.top_up_power,
        top_up_below=d.top_up_below,
        top_up_limit=max(d.top_up_limit, 1.0),
        second_law=d.second_law_efficiency,
        approach=d.heat_pump_approach,
        open_fan=fan_power(d.open_airflow, d.open_pressure, d.fan_efficiency),
        loop_fan=fan_power(d.loop_airflow, d.loop_pressure, d.fan_efficiency),
        control=d.control_power,
        wind_constant=d.wind_constant * by_buoyancy,
        wind_slope=d.wind_slope * by_wind,
        upper_hot=hot * thin,
        upper_cold=cold * thin,
        steep=free_convection_constants(0.5 * math.pi, True)[0] * thin,
    )


@written_out
@njit(cache=True)
def top_up_share(T_b, T_c, A, n):
    """Return the share of its power at which the top-up runs by day [1], and heat pumped over work [1].

    It runs while the bed is below its end, a litre costs less than its limit and, with a heat pump, the
    condenser does not freeze. A litre's heat is L0 + A/M_w; A: potential at the bed's air [J/mol].
    """
    cop = 0.0
    share = smooth_step((n.top_up_below - T_b) / STOP_SPAN)[0]
    if n.pumps > 0.0:
        cop = cooling_cop(T_c - n.approach, T_b + n.approach, n.second_law)
        share *= smooth_step((T_c - FREEZING_POINT) / FROST_SPAN)[0]
    cost = (LATENT_HEAT_AT_FREEZING + max(A, 0.0) / WATER_MOLAR_MASS) / (1.0 + cop)
    return share * smooth_step((n.top_up_limit / cost - 1.0) / LIMIT_BAND)[0], cop


def hybrid(T_g, T_b, T_c, T_r, w, m_c, p_b, air, mode, n, row):
    """Each flow of the device under its own name; docs/theory/hybrid.md has the same equations.

    T_g, T_b, T_c, T_r: glazing, bed, condenser, radiator [K]; w [kg/kg]; m_c: water on the condenser [kg/m2];
    p_b: vapour in the bed's air [Pa]; air: as for the passive box; mode: 1 open, 0 closed.
    """
    T_a = air[0]
    forced = n.wind_constant + n.wind_slope * air[3]
    sorption = sorption_rate(T_b, p_b, w, n.sorbent_mass, row)[0]
    outdoor_heat = air[2] / (DRY_AIR_GAS_CONSTANT * T_a) * DRY_AIR_SPECIFIC_HEAT  # J/(m3 K)
    if mode == 1:
        # Bed and outdoor air by night
        T_m = 0.5 * (T_a + T_b)
        air_to_bed = n.open_mass / (WATER_GAS_CONSTANT * T_m) * (air[1] - p_b)
        bed_convection = n.open_heat * outdoor_heat * (T_b - T_a)
        air_vapour_to_bed = air_to_bed * VAPOUR_SPECIFIC_HEAT * (T_m - POOL_TEMPERATURE)
        radiator_from_bed = n.coupling * positive_part(T_b - T_r, ONE_WAY)[0]
        fan_work = n.open_fan
    else:
        # The closed loop and the top-up by day
        T_m = 0.5 * (T_b + T_c)
        running = smooth_step((T_b - T_c - n.loop_start) / START_SPAN)[0]
        film = film_pressure(T_c)[0]
        share = working_share(p_b - film, m_c)[0]
        condensation = running * share * n.loop_mass / (WATER_GAS_CONSTANT * T_m) * (p_b - film)
        loop_air_heat = air[2] / (DRY_AIR_GAS_CONSTANT * T_m) * DRY_AIR_SPECIFIC_HEAT
        loop_heat = running * n.loop_heat * loop_air_heat * (T_b - T_c)
        loop_heat += condensation * VAPOUR_SPECIFIC_HEAT * (T_m - POOL_TEMPERATURE)
        change = n.leak + n.vent * smooth_step((T_b - n.vent_temperature) / VENT_SPAN)[0]
        leak = change * n.air_capacity * (p_b - air[1])
        leak_heat = change * n.air_volume * outdoor_heat * (T_b - T_a)
        radiator_from_condenser = n.coupling_by_day * positive_part(T_c - T_r, ONE_WAY)[0]
        held = 0.5 * (p_b + math.sqrt(p_b * p_b + 1.0))
        A = GAS_CONSTANT * T_b * (log_saturation_pressure(T_b)[0] - math.log(held))
        top_up, cop = top_up_share(T_b, T_c, A, n)
        heat_pumped = top_up * n.top_up_power * cop
        top_up_work = top_up * n.top_up_power
        fan_work = running * n.loop_fan
    collected = drained(m_c, n.condenser_holdup, T_c)[0]
    collected_heat = collected * LIQUID_SPECIFIC_HEAT * (T_c - FREEZING_POINT)

    # Sun, cover and outer surfaces
    sun_absorber = air[5]
    sun_glazing = air[6]
    sun_radiator = n.radiator_area * n.radiator_absorptance * air[7]
    cover_radiation = radiation_between(n.cover_emissivity, T_b, T_g)[0]
    nu = gap_nusselt_at(T_b, T_g, 0.0, 0.0, air[2], n.front_gap, n.inclination, n.cosine, n.damping)[0]
    cover_convection = nu * air_conductivity(0.5 * (T_b + T_g))[0] / n.front_gap * (T_b - T_g)
    glazing_longwave = longwave_loss(n.glazing_emissivity, T_g, T_a, air[4], n.sky_view)[0]
    h = surface_coefficient(forced, T_g, T_a, n.upper_hot, n.upper_cold)[0]
    glazing_convection = h * (T_g - T_a)
    edge_loss = n.edge_loss * (T_b - T_a)
    h = surface_coefficient(forced, T_c, T_a, n.steep, n.steep)[0]
    condenser_convection = n.condenser_outer * h * (T_c - T_a)
    lost = longwave_loss(n.radiator_emissivity, T_r, T_a, air[4], n.sky_view)[0]
    radiator_longwave = n.radiator_area * lost
    h = surface_coefficient(forced, T_r, T_a, n.upper_hot, n.upper_cold)[0]
    radiator_convection = n.radiator_area * h * (T_r - T_a)
    control_work = n.control


SYMBOLS: Final = {"T_g": TG, "T_b": TB, "T_c": TC, "T_r": TR, "w": W, "m_c": MC, "p_b": PB}
KERNEL: Final = flow_kernel(hybrid, SYMBOLS, [flow.name for flow in FLOWS], "hybrid")


@njit(cache=True)
def stocks(y, n, row, A, U, S):
    """Fill the stocks U and their slopes S[row, unknown]; A: the bed's potential [J/mol]."""
    U[TG] = n.glazing_heat * (y[TG] - FREEZING_POINT)
    S[TG, TG] = n.glazing_heat
    U[TR] = n.radiator_heat * (y[TR] - FREEZING_POINT)
    S[TR, TR] = n.radiator_heat
    h, h_T = film_enthalpy(y[TC])
    U[TC] = n.condenser_heat * (y[TC] - FREEZING_POINT) + y[MC] * h
    S[TC, TC] = n.condenser_heat + y[MC] * h_T
    S[TC, MC] = h
    U[TB], S[TB, TB], S[TB, W] = bed_enthalpy(y[TB], y[W], 0.0, A, n.bed_heat, n.sorbent_mass, row)
    U[W] = n.sorbent_mass * y[W]
    S[W, W] = n.sorbent_mass
    U[MC] = y[MC]
    S[MC, MC] = 1.0
    U[PB] = n.air_capacity * y[PB]
    S[PB, PB] = n.air_capacity


@njit(cache=True)
def unknowns(U, n, row, y, A):
    """Recover the unknowns y from the stocks U, starting from y; returns the bed's potential [J/mol]."""
    y[W] = U[W] / n.sorbent_mass
    y[MC] = U[MC]
    y[PB] = U[PB] / n.air_capacity
    y[TG] = FREEZING_POINT + U[TG] / n.glazing_heat
    y[TR] = FREEZING_POINT + U[TR] / n.radiator_heat
    y[TC] = temperature_with_film(U[TC], n.condenser_heat, y[MC], y[TC])
    y[TB], A_new = bed_temperature(U[TB], n.bed_heat, U[W], n.sorbent_mass, y[W], row, y[TB], A)
    return A_new


@njit(cache=True)
def opening_drive(y, air, n, row, A):
    """Return the bed's pressure over the outdoor vapour pressure [1]."""
    p = math.exp(log_saturation_pressure(y[TB])[0] - A / (GAS_CONSTANT * y[TB]))
    return p / max(air[1], 1.0)


@njit(cache=True)
def resting_state(air, n, row, y):
    """Fill y with a device at rest in an air state, its bed in equilibrium, at 60 % humidity at most."""
    T = air[0]
    p = min(air[1], 0.6 * saturation_pressure_and_slope(T)[0])
    A = GAS_CONSTANT * T * (log_saturation_pressure(T)[0] - math.log(max(p, LEAST_PRESSURE)))
    for t in (TG, TB, TC, TR):
        y[t] = T
    y[W] = sorbed_state(row, A, T)[0]
    y[MC] = 0.0
    y[PB] = p
    return A


@njit(cache=True)
def error_scales(y, n, row, scales):
    """Fill the size by which the step error of each unknown is judged, before the tolerance."""
    for t in (TG, TB, TC, TR):
        scales[t] = 100.0
    scales[W] = largest_loading(row, y[TB])
    scales[MC] = 0.02
    scales[PB] = 20.0 * (abs(y[PB]) + 200.0)


HYBRID = Kind(
    name="hybrid",
    unknowns=UNKNOWNS,
    flows=with_uses(FLOWS, KERNEL),
    fill_flows=KERNEL.fill,
    fill_stocks=stocks,
    recover=unknowns,
    opening_drive=opening_drive,
    rest=resting_state,
    error_scales=error_scales,
)
