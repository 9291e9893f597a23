"""The active bed inside the march: its numbers, stocks and flows, compiled.

docs/theory/active_bed.md holds the equations; the row, unknown and flow numbers here are the ones there.
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
    LIQUID_SPECIFIC_HEAT,
    MOLAR_MASS_RATIO,
    VAPOUR_SPECIFIC_HEAT,
)
from welkinwell.harvesters.active_bed.design import ActiveBed
from welkinwell.harvesters.harvester import OUTSIDE, Flow, Kind, Unknown, with_uses
from welkinwell.kernels.kernel import flow_kernel
from welkinwell.kernels.marks import written_out
from welkinwell.moist_air.saturation import log_saturation_pressure, saturation_pressure_and_slope
from welkinwell.moist_air.transport import dry_air_conductivity, dry_air_viscosity, vapour_diffusivity
from welkinwell.parts.bed import (
    POOL_DENSITY,
    POOL_ENTHALPY,
    POOL_TEMPERATURE,
    air_passage,
    bed_enthalpy,
    bed_temperature,
    equilibrium_loading,
    humidity_ratio_of,
    taken_share,
)
from welkinwell.parts.bed import sorption as sorption_rate
from welkinwell.parts.fan import fan_power, pressure_drop
from welkinwell.parts.film import (
    drained,
    film_enthalpy,
    film_pressure,
    smooth_step,
    temperature_with_film,
    working_share,
)
from welkinwell.parts.heat_pump import heating_cop
from welkinwell.sorbents.potential import largest_loading
from welkinwell.transfer.ducts import SHAPES, duct_gradient
from welkinwell.transfer.layers import layer_resistance
from welkinwell.transfer.packed_beds import ergun_gradient, grain_surface, wakao_nusselt

UPTAKE_AIR: Final = 298.15  # K, at which the properties of the uptake air are taken
RELEASE_AIR: Final = 330.0  # K, and of the release air
DUCT_EXPONENT: Final = 1.8  # of velocity in the pressure drop of filter and ducts (value from memory)
HEATING_BAND: Final = 4.0  # K below the release temperature, over which heating fades out; assumed
FAN_BAND: Final = 4.0  # K over loop_fan_start, over which the loop's fan comes on; assumed
CONDENSER_BAND: Final = 2.0  # K over the outdoor air, over which the condenser's fan comes on; assumed
STILL_FLOW: Final = 0.02  # of the release air still moves with the fan off; assumed, no source
STILL_COEFFICIENT: Final = 3.0  # W/(m2 K) at the condenser in still air (value from memory)
HEAT_BAND: Final = 2.0  # K of drive, over which solar and waste heat come on; assumed
CONDENSER_APPROACH: Final = 10.0  # K over outdoor air, in the threshold rule's idea of an empty bed; assumed
LEAST_SWING: Final = 0.02  # of the largest loading, in the same rule
LEAST_PRESSURE: Final = 1e-3  # Pa, under the logarithm only

RELEASE: Final = 0
UPTAKE: Final = 1

TB, TC, W, MC, PS, PL = range(6)
UNKNOWNS = (
    Unknown("bed_temperature", "K", 100.0, "heat", 300.0, "bed"),
    Unknown("condenser_temperature", "K", 100.0, "heat", 300.0, "condenser"),
    Unknown("loading", "kg/kg", 1.0, "water", 0.1),
    Unknown("condenser_film", "kg/m2", 2.0, "water", 0.5),
    Unknown("bed_vapour_pressure", "Pa", 20.0, "water", 2000.0),
    Unknown("loop_vapour_pressure", "Pa", 20.0, "water", 2000.0),
)
SYMBOLS: Final = {"T_b": TB, "T_c": TC, "w": W, "m_c": MC, "p_s": PS, "p_l": PL}


def _water(name: str, start: int, end: int, warms: int = OUTSIDE) -> Flow:
    """A flow of water; `warms` names the heat row that gains the pool's enthalpy with it."""
    return Flow(name, "kg/(m2 s)", start, end, ((warms, POOL_ENTHALPY),) if warms != OUTSIDE else ())


def _heat(name: str, start: int, end: int) -> Flow:
    return Flow(name, "W/m2", start, end)


FLOWS = (
    _water("sorption", PS, W, warms=TB),
    _water("air_to_bed", OUTSIDE, PS),
    _water("bed_to_loop", PS, PL),
    _water("condensation", PL, MC, warms=TC),
    _water("exhaust", PL, OUTSIDE),
    _water("leak", PL, OUTSIDE),
    _water("collected", MC, OUTSIDE),
    _heat("heating", OUTSIDE, TB),
    _heat("bed_convection", TB, OUTSIDE),
    _heat("air_vapour_to_bed", OUTSIDE, TB),
    _heat("loop_heat", TB, TC),
    _heat("exhaust_heat", TC, OUTSIDE),
    _heat("leak_heat_bed", TB, OUTSIDE),
    _heat("leak_heat_condenser", TC, OUTSIDE),
    _heat("edge_loss", TB, OUTSIDE),
    _heat("condenser_convection", TC, OUTSIDE),
    _heat("collected_heat", TC, OUTSIDE),
    _heat("source_heat", TC, OUTSIDE),
    _heat("loop_fan_heat", OUTSIDE, TB),
    # what the meters count; no stock changes by it
    _heat("bed_fan_power", OUTSIDE, OUTSIDE),
    _heat("cooling_fan_power", OUTSIDE, OUTSIDE),
    _heat("heater_power", OUTSIDE, OUTSIDE),
    _heat("heating_pump_power", OUTSIDE, OUTSIDE),
    _heat("bed_control_power", OUTSIDE, OUTSIDE),
    _heat("collector_sun", OUTSIDE, OUTSIDE),
    _water("bed_to_air", PS, OUTSIDE),
)

RESISTANCE, SOLAR, WASTE_HEAT, HEAT_PUMP = range(4)
HEATERS: Final = {"resistance": RESISTANCE, "solar": SOLAR, "waste_heat": WASTE_HEAT, "heat_pump": HEAT_PUMP}


class BedNumbers(NamedTuple):
    """What the compiled bed reads: SI numbers per m2 of face, made once from a design."""

    bed_heat: float  # J/(m2 K), dry sorbent and metal
    condenser_heat: float  # J/(m2 K)
    sorbent_mass: float  # kg/m2
    pore_capacity: float  # kg/(m2 Pa)
    loop_capacity: float  # kg/(m2 Pa)
    edge_loss: float  # W/(m2 K)
    uptake_velocity: float  # m/s
    uptake_heat: float  # W/(m2 K), air to bed
    uptake_mass: float  # kg/(m2 s)
    release_velocity: float
    release_heat: float
    release_mass: float
    open_loop: float  # 0 or 1
    recovery: float  # 1
    damper_leak: float  # 1
    fan_start: float  # K
    uptake_fan: float  # W/m2
    release_fan: float  # W/m2
    heater: float  # RESISTANCE to HEAT_PUMP
    release_temperature: float  # K
    heating_power: float  # W/m2
    heat_conductance: float  # W/(m2 K)
    waste_temperature: float  # K
    collector_area: float  # 1
    collector_efficiency: float  # 1
    collector_loss: float  # W/(m2 K)
    pump_power: float  # W/m2
    source_is_condenser: float  # 0 or 1
    second_law: float  # 1
    approach: float  # K
    condenser_area: float  # 1
    condenser_coefficient: float  # W/(m2 K)
    condenser_conductance: float  # W/(m2 K)
    still_share: float  # 1
    condenser_fan: float  # W/m2
    condenser_holdup: float  # kg/m2 of face
    control: float  # W/m2


def passage(design: ActiveBed, sorbent: Any, velocity: float, temperature: float, pressure: float) -> Any:
    """Heat and mass conductance [W/(m2 K), kg/(m2 s)] and pressure drop [Pa] of a bed's own air."""
    viscosity = dry_air_viscosity(temperature)
    density = pressure / (DRY_AIR_GAS_CONSTANT * temperature)
    inside = pore_resistance(design, sorbent, temperature, pressure)
    if design.form == "channels":
        shape = SHAPES[design.channel_shape]
        gradient = duct_gradient(
            velocity / design.channel_share, design.channel_size, shape.friction, viscosity
        )
        nusselt = shape.nusselt
        found = air_passage(
            design.channel_surface, design.channel_size, nusselt, nusselt, inside, temperature, pressure
        )
        return (*found, gradient * design.bed_depth)
    size = design.grain_diameter
    reynolds = density * velocity * size / viscosity
    diffusivity = vapour_diffusivity(temperature, pressure)
    prandtl = viscosity * DRY_AIR_SPECIFIC_HEAT / dry_air_conductivity(temperature)
    nusselt = wakao_nusselt(reynolds, prandtl)
    sherwood = wakao_nusselt(reynolds, viscosity / (density * diffusivity))
    surface = grain_surface(size, design.grain_void) * design.bed_depth
    gradient = ergun_gradient(velocity, size, design.grain_void, density, viscosity)[0]
    found = air_passage(surface, size, nusselt, sherwood, inside, temperature, pressure)
    return (*found, gradient * design.bed_depth)


def pore_resistance(design: ActiveBed, sorbent: Any, temperature: float, pressure: float) -> float:
    """Resistance of the pores between a sheet's grains, in pellets made of them or in a coating [s/m].

    None where the sheet's rate covers the way through the layer, nor where the grains are the sheet's own.
    """
    if sorbent.layer_porosity <= 0.0 or sorbent.rate_covers_layer:
        return 0.0
    diffusivity = sorbent.layer_porosity**1.5 * vapour_diffusivity(temperature, pressure)
    if design.form == "channels":
        return layer_resistance(design.coating_thickness, diffusivity)
    radius = 0.5 * design.grain_diameter
    return radius / (5.0 * diffusivity) if radius > 1.01 * sorbent.grain_radius else 0.0


def bed_numbers(design: ActiveBed, sorbent: Any, site_pressure: float) -> BedNumbers:
    """Turn a design, a sorbent and the site's pressure [Pa] into the numbers that the march reads.

    The design's release_temperature must be set (simulate.prepare does it).
    """
    assert design.release_temperature is not None
    up_heat, up_mass, up_drop = passage(design, sorbent, design.face_velocity, UPTAKE_AIR, site_pressure)
    out_heat, out_mass, out_drop = passage(
        design, sorbent, design.release_velocity, RELEASE_AIR, site_pressure
    )
    density = site_pressure / (DRY_AIR_GAS_CONSTANT * UPTAKE_AIR)
    rated, drop = design.face_velocity, design.housing_pressure
    up_drop += pressure_drop(design.face_velocity, rated, drop, DUCT_EXPONENT, density)
    out_drop += pressure_drop(design.release_velocity, max(rated, 0.05), drop, DUCT_EXPONENT, density)
    return BedNumbers(
        bed_heat=design.sorbent_mass * sorbent.dry_specific_heat
        + design.bed_metal * design.bed_metal_specific_heat,
        condenser_heat=design.condenser_mass * design.condenser_specific_heat,
        sorbent_mass=design.sorbent_mass,
        pore_capacity=design.bed_air_volume * POOL_DENSITY,
        loop_capacity=design.loop_air_volume * POOL_DENSITY,
        edge_loss=design.edge_loss,
        uptake_velocity=design.face_velocity,
        uptake_heat=up_heat,
        uptake_mass=up_mass,
        release_velocity=design.release_velocity,
        release_heat=out_heat,
        release_mass=out_mass,
        open_loop=float(design.air_loop == "open"),
        recovery=design.heat_recovery,
        damper_leak=design.damper_leak,
        fan_start=design.loop_fan_start,
        uptake_fan=fan_power(design.face_velocity, up_drop, design.fan_efficiency),
        release_fan=fan_power(design.release_velocity, out_drop, design.fan_efficiency),
        heater=float(HEATERS[design.heat_by]),
        release_temperature=design.release_temperature,
        heating_power=design.heating_power,
        heat_conductance=design.heat_conductance,
        waste_temperature=design.waste_heat_temperature,
        collector_area=design.collector_area,
        collector_efficiency=design.collector_efficiency,
        collector_loss=design.collector_loss,
        pump_power=design.heating_pump_power,
        source_is_condenser=float(design.heat_pump_source == "condenser"),
        second_law=design.second_law_efficiency,
        approach=design.heat_pump_approach,
        condenser_area=design.condenser_area,
        condenser_coefficient=design.condenser_coefficient,
        condenser_conductance=design.condenser_conductance,
        still_share=design.condenser_still_share,
        condenser_fan=design.condenser_fan_power,
        condenser_holdup=design.condenser_holdup * design.condenser_area,
        control=design.control_power / design.face_area,
    )


@written_out
@njit(cache=True)
def heat_supplied(T_b, T_c, T_a, sun, bed):
    """Return heat to the bed, electricity of heater and of pump, heat drawn from the condenser [W/m2].

    While the bed gives off. T_b, T_c, T_a: bed, condenser and outdoor air [K]; sun: on the collector [W/m2].
    """
    wanted = 1.0 - smooth_step((T_b - bed.release_temperature + HEATING_BAND) / HEATING_BAND)[0]
    if bed.heater == RESISTANCE:
        heat = bed.heating_power * wanted
        return heat, heat, 0.0, 0.0
    if bed.heater == HEAT_PUMP:
        heat = bed.heating_power * wanted
        source = T_c if bed.source_is_condenser > 0.0 else T_a
        power = heat / heating_cop(source - bed.approach, T_b + bed.approach, bed.second_law)
        return heat, power, 0.0, (heat - power) * bed.source_is_condenser
    if bed.heater == WASTE_HEAT:
        drive = bed.waste_temperature - T_b
        heat = bed.heat_conductance * drive * smooth_step(drive / HEAT_BAND)[0] * wanted
        pump = bed.pump_power * smooth_step(drive / HEAT_BAND)[0] * wanted
        return heat, 0.0, pump, 0.0
    loss = bed.collector_area * bed.collector_loss
    gain = bed.collector_area * bed.collector_efficiency * sun - loss * (T_b - T_a)
    flowing = smooth_step(gain / (HEAT_BAND * loss + 1.0))[0] * wanted
    return gain * flowing / (1.0 + loss / bed.heat_conductance), 0.0, bed.pump_power * flowing, 0.0


@written_out
@njit(cache=True)
def loop_temperatures(T_b, T_c, T_in, by_bed, by_condenser, recovery, open_loop):
    """Return the air's temperatures before and behind the bed, before and behind the condenser [K].

    T_in: of the air that comes from outdoors in an open loop [K]; by_bed, by_condenser: share of the way to
    their temperature that the air goes in each; recovery: of the exchanger between the air that leaves the
    bed and the air that goes to it, of equal flows.
    """
    a = 1.0 - by_bed
    e = 1.0 - by_condenser
    if open_loop > 0.0:
        behind = (T_b * by_bed + a * (1.0 - recovery) * T_in) / (1.0 - a * recovery)
        before = T_in + recovery * (behind - T_in)
        to_condenser = behind - recovery * (behind - T_in)
        return before, behind, to_condenser, T_c + e * (to_condenser - T_c)
    # theta (1 - a r) = T_b (1 - a) + a (1 - r) tau and tau (1 - e r) = T_c (1 - e) + e (1 - r) theta
    x = a * (1.0 - recovery) / (1.0 - a * recovery)
    z = e * (1.0 - recovery) / (1.0 - e * recovery)
    behind = (T_b * (1.0 - x) + x * T_c * (1.0 - z)) / (1.0 - x * z)
    cold = T_c * (1.0 - z) + z * behind
    before = cold + recovery * (behind - cold)
    return before, behind, behind - recovery * (behind - cold), cold


def active_bed(T_b, T_c, w, m_c, p_s, p_l, air, mode, bed, row):
    """Each flow of the bed under its own name; docs/theory/active_bed.md has the same equations.

    T_b, T_c: bed, condenser [K]; w [kg/kg]; m_c: water on the condenser [kg/m2]; p_s, p_l: vapour in the bed
    and in the loop [Pa]; air: columns as in AirRecord; mode: RELEASE or UPTAKE.
    """
    T_a = air[0]
    pressure = air[2]
    sorption = sorption_rate(T_b, p_s, w, bed.sorbent_mass, row)[0]
    outside = humidity_ratio_of(air[1], pressure)
    at_bed = humidity_ratio_of(p_s, pressure)
    in_loop = humidity_ratio_of(p_l, pressure)
    film = film_pressure(T_c)[0]
    at_film = humidity_ratio_of(film, pressure)
    cover = m_c / bed.condenser_area
    release_air = bed.release_velocity * pressure / (DRY_AIR_GAS_CONSTANT * T_c)
    leaking = bed.damper_leak * release_air

    if mode == UPTAKE:
        stream = bed.uptake_velocity * pressure / (DRY_AIR_GAS_CONSTANT * T_a)
        taken = stream * taken_share(bed.uptake_mass, stream) * (outside - at_bed)
        air_to_bed = max(taken, 0.0)
        bed_to_air = max(-taken, 0.0)
        behind = outside - taken / max(stream, 1e-12)
        capacity = stream * (DRY_AIR_SPECIFIC_HEAT + behind * VAPOUR_SPECIFIC_HEAT)
        bed_convection = capacity * taken_share(bed.uptake_heat, capacity) * (T_b - T_a)
        air_vapour_to_bed = taken * VAPOUR_SPECIFIC_HEAT * (T_a - POOL_TEMPERATURE)
        still = STILL_COEFFICIENT * bed.condenser_area / DRY_AIR_SPECIFIC_HEAT
        condensation = still * (in_loop - at_film) * working_share(p_l - film, cover)[0]
        leak = leaking * (in_loop - outside)
        leak_heat_condenser = leaking * DRY_AIR_SPECIFIC_HEAT * (T_c - T_a)
        leak_heat_condenser += leak * VAPOUR_SPECIFIC_HEAT * (T_c - POOL_TEMPERATURE)
        condenser_convection = bed.still_share * bed.condenser_conductance * (T_c - T_a)
        bed_fan_power = bed.uptake_fan
    else:
        running = smooth_step((T_b - T_c - bed.fan_start) / FAN_BAND)[0]
        stream = release_air * (STILL_FLOW + (1.0 - STILL_FLOW) * running)
        before = outside if bed.open_loop > 0.0 else in_loop
        bed_to_loop = stream * taken_share(bed.release_mass, stream) * (at_bed - before)
        behind = before + bed_to_loop / stream
        capacity = stream * (DRY_AIR_SPECIFIC_HEAT + before * VAPOUR_SPECIFIC_HEAT)
        washed = bed.condenser_coefficient * bed.condenser_area
        over_film = pressure * behind / (MOLAR_MASS_RATIO + behind) - film
        condensing = stream * taken_share(washed / DRY_AIR_SPECIFIC_HEAT, stream) * (behind - at_film)
        condensation = condensing * working_share(over_film, cover)[0]
        T_before, T_behind, _, T_cold = loop_temperatures(
            T_b,
            T_c,
            T_a,
            taken_share(bed.release_heat, capacity),
            taken_share(washed, capacity),
            bed.recovery,
            bed.open_loop,
        )
        loop_heat = capacity * (T_behind - T_before)
        loop_heat += bed_to_loop * VAPOUR_SPECIFIC_HEAT * (T_behind - POOL_TEMPERATURE)
        if bed.open_loop > 0.0:
            exhaust = stream * (in_loop - outside)
            exhaust_heat = capacity * (T_cold - T_a)
            exhaust_heat += exhaust * VAPOUR_SPECIFIC_HEAT * (T_cold - POOL_TEMPERATURE)
        T_mean = 0.5 * (T_before + T_behind)
        leak = leaking * (0.5 * (before + behind) - outside)
        leak_heat_bed = leaking * DRY_AIR_SPECIFIC_HEAT * (T_mean - T_a)
        leak_heat_bed += leak * VAPOUR_SPECIFIC_HEAT * (T_mean - POOL_TEMPERATURE)
        heating, heater_power, heating_pump_power, source_heat = heat_supplied(T_b, T_c, T_a, air[7], bed)
        cooling = running * smooth_step((T_c - T_a) / CONDENSER_BAND)[0]
        moved = bed.still_share + (1.0 - bed.still_share) * cooling
        condenser_convection = moved * bed.condenser_conductance * (T_c - T_a)
        bed_fan_power = bed.release_fan * running
        loop_fan_heat = bed_fan_power
        cooling_fan_power = bed.condenser_fan * cooling

    collected = drained(m_c, bed.condenser_holdup, T_c)[0]
    collected_heat = collected * LIQUID_SPECIFIC_HEAT * (T_c - FREEZING_POINT)
    edge_loss = bed.edge_loss * (T_b - T_a)
    bed_control_power = bed.control
    if bed.heater == SOLAR:
        collector_sun = bed.collector_area * air[7]


KERNEL: Final = flow_kernel(active_bed, SYMBOLS, [flow.name for flow in FLOWS], "active_bed")


@njit(cache=True)
def stocks(y, bed, row, A, U, S):
    """Fill the stocks U and their slopes S[row, unknown] from the unknowns y, shape (6,); returns nothing.

    A: the bed's potential at its loading and temperature [J/mol].
    """
    U[TB], S[TB, TB], S[TB, W] = bed_enthalpy(y[TB], y[W], 0.0, A, bed.bed_heat, bed.sorbent_mass, row)
    h, h_T = film_enthalpy(y[TC])
    U[TC] = bed.condenser_heat * (y[TC] - FREEZING_POINT) + y[MC] * h
    S[TC, TC] = bed.condenser_heat + y[MC] * h_T
    S[TC, MC] = h
    U[W] = bed.sorbent_mass * y[W]
    S[W, W] = bed.sorbent_mass
    U[MC] = y[MC]
    S[MC, MC] = 1.0
    U[PS] = bed.pore_capacity * y[PS]
    S[PS, PS] = bed.pore_capacity
    U[PL] = bed.loop_capacity * y[PL]
    S[PL, PL] = bed.loop_capacity


@njit(cache=True)
def unknowns(U, bed, row, y, A):
    """Recover the unknowns y from the stocks U, starting from y and the bed's potential A.

    Returns the potential [J/mol] at the new loading and temperature, for the next call.
    """
    y[W] = U[W] / bed.sorbent_mass
    y[MC] = U[MC]
    y[PS] = U[PS] / bed.pore_capacity
    y[PL] = U[PL] / bed.loop_capacity
    y[TC] = temperature_with_film(U[TC], bed.condenser_heat, y[MC], y[TC])
    y[TB], A_new = bed_temperature(U[TB], bed.bed_heat, U[W], bed.sorbent_mass, y[W], row, y[TB], A)
    return A_new


@njit(cache=True)
def fullness(y, air, bed, row, A):
    """Return how full the bed is, for the threshold rule [1].

    1 in equilibrium with the outdoor air, 0 at the release temperature over a condenser that is
    CONDENSER_APPROACH warmer than that air.
    """
    T_a = air[0]
    full, _ = equilibrium_loading(T_a, air[1], log_saturation_pressure(T_a)[0], row)
    T_hot = bed.release_temperature
    over_condenser = saturation_pressure_and_slope(T_a + CONDENSER_APPROACH)[0]
    empty, _ = equilibrium_loading(T_hot, over_condenser, log_saturation_pressure(T_hot)[0], row)
    return (y[W] - empty) / max(full - empty, LEAST_SWING * largest_loading(row, T_a))


@njit(cache=True)
def resting_state(air, bed, row, y):
    """Fill y with a device at rest in an air state: all at air temperature, bed in equilibrium.

    Returns the bed's potential [J/mol]. The humidity is clipped to 0.6, so that no start is a dew drop.
    """
    T = air[0]
    p = min(air[1], 0.6 * saturation_pressure_and_slope(T)[0])
    log_sat = log_saturation_pressure(T)[0]
    y[TB] = T
    y[TC] = T
    y[W] = equilibrium_loading(T, p, log_sat, row)[0]
    y[MC] = 0.0
    y[PS] = p
    y[PL] = p
    return GAS_CONSTANT * T * (log_sat - math.log(max(p, LEAST_PRESSURE)))


@njit(cache=True)
def error_scales(y, bed, row, scales):
    """Fill the size by which the step error of each unknown is judged, before the tolerance."""
    scales[TB] = 100.0
    scales[TC] = 100.0
    scales[W] = largest_loading(row, y[TB])
    scales[MC] = 0.02 * bed.condenser_area
    scales[PS] = 20.0 * (abs(y[PS]) + 200.0)
    scales[PL] = 20.0 * (abs(y[PL]) + 200.0)


ACTIVE_BED = Kind(
    name="active_bed",
    unknowns=UNKNOWNS,
    flows=with_uses(FLOWS, KERNEL),
    fill_flows=KERNEL.fill,
    fill_stocks=stocks,
    recover=unknowns,
    opening_drive=fullness,
    rest=resting_state,
    error_scales=error_scales,
)
