"""The audit of the active bed: flows and stocks worked out again from what the march left behind.

Written from docs/theory/active_bed.md for whole arrays of states, and sharing no function with the march
except saturation curves, properties of air and the correlations of the transfer room.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    LIQUID_SPECIFIC_HEAT,
    MOLAR_MASS_RATIO,
    VAPOUR_SPECIFIC_HEAT,
    WATER_GAS_CONSTANT,
)
from welkinwell.harvesters.audit import (
    BOOKED_HEAT,
    BOOKING_TEMPERATURE,
    film_enthalpy,
    film_pressure,
    held_in_all,
    ice_share,
    integral_enthalpies,
    overflow,
    smooth_step,
    uptake_rate,
    working,
)
from welkinwell.moist_air import saturation_pressure
from welkinwell.moist_air.transport import dry_air_conductivity, dry_air_viscosity, vapour_diffusivity

Array = NDArray[np.float64]

WATER_FLOWS: Final = (
    *("sorption", "air_to_bed", "bed_to_loop", "condensation", "exhaust", "leak", "collected"),
)
FLOWS: Final = (
    *WATER_FLOWS,
    *("heating", "bed_convection", "air_vapour_to_bed", "loop_heat", "exhaust_heat", "leak_heat_bed"),
    *("leak_heat_condenser", "edge_loss", "condenser_convection", "collected_heat", "source_heat"),
    *(
        "loop_fan_heat",
        "bed_fan_power",
        "cooling_fan_power",
        "heater_power",
        "heating_pump_power",
        "bed_control_power",
    ),
    *("collector_sun", "bed_to_air"),
)
# shape of a channel: friction factor times Reynolds number, Nusselt number
CHANNELS: Final = {
    "plates": (96.0, 7.541),
    "round": (64.0, 3.657),
    "square": (56.91, 2.976),
    "triangle": (53.33, 2.47),
}


def audited_flows(
    states: ArrayLike, air: ArrayLike, mode: ArrayLike, design: Any, sorbent: Any, site_pressure: float
) -> Array:
    """Work out every flow at given states.

    states: (6, n) in the order of the theory page [K, K, kg/kg, kg/m2, Pa, Pa]
    air: (9, n) in the order of AirRecord [K, Pa, m/s, W/m2, kg/(m2 s)]
    mode: (n,) 1 taking up, 0 giving off
    design: an ActiveBed
    sorbent: a Sorbent
    site_pressure: mean pressure of the site [Pa]
    returns: (26, n), rows as in FLOWS [kg/(m2 s) and W/m2]
    source: docs/theory/active_bed.md
    """
    y, seen = np.asarray(states, float), np.asarray(air, float)
    up = np.asarray(mode) == 1
    flow: dict[str, Array] = {name: np.zeros(y.shape[1]) for name in FLOWS}
    _inside(flow, y, design, sorbent)
    for name, values in _taking_up(y, seen, design, sorbent, site_pressure).items():
        flow[name] = flow[name] + np.where(up, values, 0.0)
    for name, values in _giving_off(y, seen, design, sorbent, site_pressure).items():
        flow[name] = flow[name] + np.where(up, 0.0, values)
    flow["edge_loss"] = design.edge_loss * (y[0] - seen[0])
    flow["bed_control_power"] = np.full(y.shape[1], design.control_power / design.face_area)
    if design.heat_by == "solar":
        flow["collector_sun"] = design.collector_area * seen[7]
    return np.array([flow[name] for name in FLOWS])


def stocks_by_row(states: ArrayLike, design: Any, sorbent: Any) -> Array:
    """Work out the stock of every row.

    states: (6, k) in the order of the theory page [K, K, kg/kg, kg/m2, Pa, Pa]
    design: an ActiveBed
    sorbent: a Sorbent
    returns: (6, k), heat rows [J/m2], water rows [kg/m2], per face; energies count from liquid
        water, dry solid and metal at 0 degC
    source: docs/theory/active_bed.md, section 1
    """
    Tb, Tc, w, film, ps, pl = np.asarray(states, float)
    d = design
    solid = d.sorbent_mass * sorbent.dry_specific_heat + d.bed_metal * d.bed_metal_specific_heat
    bed = (solid + d.sorbent_mass * w * LIQUID_SPECIFIC_HEAT) * (Tb - FREEZING_POINT)
    bed = bed + d.sorbent_mass * integral_enthalpies(sorbent, w, Tb)
    condenser = d.condenser_mass * d.condenser_specific_heat * (Tc - FREEZING_POINT)
    mole = 1.0 / (WATER_GAS_CONSTANT * BOOKING_TEMPERATURE)
    return np.array(
        [
            bed,
            condenser + film * film_enthalpy(Tc),
            d.sorbent_mass * w,
            film,
            mole * d.bed_air_volume * ps,
            mole * d.loop_air_volume * pl,
        ]
    )


def audited_stocks(state: ArrayLike, design: Any, sorbent: Any) -> dict[str, float]:
    """Work out the water [kg/m2] and the energy [J/m2] that it holds in one state, as in stocks_by_row."""
    return held_in_all(stocks_by_row(np.asarray(state)[:, None], design, sorbent)[:, 0], 2, 4)


def boundary() -> tuple[Array, Array]:
    """What one unit of each flow brings into the whole device.

    returns: water [kg per kg] and energy [J per kg or J per J], shape (26,) each, rows as in FLOWS
    source: docs/theory/active_bed.md, section 4
    """
    water = dict.fromkeys(FLOWS, 0.0)
    energy = dict.fromkeys(FLOWS, 0.0)
    water["air_to_bed"] = 1.0
    water["exhaust"] = water["leak"] = water["collected"] = -1.0
    water["bed_to_air"] = -1.0
    energy["air_to_bed"] = BOOKED_HEAT
    energy["bed_to_air"] = energy["exhaust"] = energy["leak"] = -BOOKED_HEAT
    for name in ("heating", "air_vapour_to_bed", "loop_fan_heat"):
        energy[name] = 1.0
    for name in (
        *("bed_convection", "exhaust_heat", "leak_heat_bed", "leak_heat_condenser", "edge_loss"),
        *("condenser_convection", "collected_heat", "source_heat"),
    ):
        energy[name] = -1.0
    return np.array([water[n] for n in FLOWS]), np.array([energy[n] for n in FLOWS])


def _inside(flow: dict[str, Array], y: Array, d: Any, sorbent: Any) -> None:
    """Sorption, and water that runs off."""
    Tb, Tc, w, film, ps, _ = y
    humidity = 0.5 * (ps + np.sqrt(ps**2 + 1.0)) / saturation_pressure(Tb)
    flow["sorption"] = d.sorbent_mass * uptake_rate(sorbent, Tb, humidity, w)
    flow["collected"] = (1.0 - ice_share(Tc)) * overflow(film, d.condenser_holdup * d.condenser_area)
    flow["collected_heat"] = flow["collected"] * LIQUID_SPECIFIC_HEAT * (Tc - FREEZING_POINT)


def _taking_up(y: Array, air: Array, d: Any, sorbent: Any, site_pressure: float) -> dict[str, Array]:
    """Outdoor air through the bed; the condenser stands closed off, with its leak."""
    Tb, Tc, _, film, ps, pl = y
    Ta, pa, P = air[:3]
    heat, mass, drop = _air_side(d, sorbent, d.face_velocity, 298.15, site_pressure)
    stream = d.face_velocity * P / (DRY_AIR_GAS_CONSTANT * Ta)
    wet_air, wet_bed, wet_loop = (_ratio(p, P) for p in (pa, ps, pl))
    taken = stream * _approach(mass, stream) * (wet_air - wet_bed)
    leaving = wet_air - taken / np.maximum(stream, 1e-12)
    capacity = stream * (DRY_AIR_SPECIFIC_HEAT + leaving * VAPOUR_SPECIFIC_HEAT)
    over_film = film_pressure(Tc)
    still = 3.0 * d.condenser_area / DRY_AIR_SPECIFIC_HEAT
    leak = _leaking(d, P, Tc) * (wet_loop - wet_air)
    cooling = _leaking(d, P, Tc) * DRY_AIR_SPECIFIC_HEAT * (Tc - Ta) + _beyond(leak, Tc)
    thin = site_pressure / (DRY_AIR_GAS_CONSTANT * 298.15) / 1.2
    fan = d.face_velocity * (drop + d.housing_pressure * thin**0.8) / d.fan_efficiency
    share = working(pl - over_film, film / d.condenser_area)
    return {
        "air_to_bed": np.maximum(taken, 0.0),
        "bed_to_air": np.maximum(-taken, 0.0),
        "bed_convection": capacity * _approach(heat, capacity) * (Tb - Ta),
        "air_vapour_to_bed": _beyond(taken, Ta),
        "condensation": still * (wet_loop - _ratio(over_film, P)) * share,
        "leak": leak,
        "leak_heat_condenser": cooling,
        "condenser_convection": d.condenser_still_share * d.condenser_conductance * (Tc - Ta),
        "bed_fan_power": np.full(Tb.size, fan),
    }


def _giving_off(y: Array, air: Array, d: Any, sorbent: Any, site_pressure: float) -> dict[str, Array]:
    """Release air between bed and condenser, around or through."""
    Tb, Tc, _, film, ps, pl = y
    Ta, pa, P = air[:3]
    opened = d.air_loop == "open"
    heat, mass, drop = _air_side(d, sorbent, d.release_velocity, 330.0, site_pressure)
    on = smooth_step((Tb - Tc - d.loop_fan_start) / 4.0)
    full = d.release_velocity * P / (DRY_AIR_GAS_CONSTANT * Tc)
    stream = full * (0.02 + 0.98 * on)
    wet_air, wet_bed, wet_loop = (_ratio(p, P) for p in (pa, ps, pl))
    wet_in = wet_air if opened else wet_loop
    given = stream * _approach(mass, stream) * (wet_bed - wet_in)
    wet_out = wet_in + given / stream
    capacity = stream * (DRY_AIR_SPECIFIC_HEAT + wet_in * VAPOUR_SPECIFIC_HEAT)
    conductance = d.condenser_coefficient * d.condenser_area
    over_film = film_pressure(Tc)
    arriving = stream * _approach(conductance / DRY_AIR_SPECIFIC_HEAT, stream)
    share = working(P * wet_out / (MOLAR_MASS_RATIO + wet_out) - over_film, film / d.condenser_area)
    entering, leaving, behind = _loop_temperatures(
        Tb, Tc, Ta, _approach(heat, capacity), _approach(conductance, capacity), d.heat_recovery, opened
    )
    exhaust = stream * (wet_loop - wet_air) if opened else np.zeros_like(Tb)
    lost = capacity * (behind - Ta) + _beyond(exhaust, behind) if opened else np.zeros_like(Tb)
    leak = _leaking(d, P, Tc) * (0.5 * (wet_in + wet_out) - wet_air)
    mean = 0.5 * (entering + leaving)
    thin = site_pressure / (DRY_AIR_GAS_CONSTANT * 298.15) / 1.2
    drop += d.housing_pressure * (d.release_velocity / max(d.face_velocity, 0.05)) ** 1.8 * thin**0.8
    fan = d.release_velocity * drop / d.fan_efficiency * on
    cooled = on * smooth_step((Tc - Ta) / 2.0)
    outer = (d.condenser_still_share * (1.0 - cooled) + cooled) * d.condenser_conductance
    flow = {
        "bed_to_loop": given,
        "condensation": arriving * (wet_out - _ratio(over_film, P)) * share,
        "exhaust": exhaust,
        "leak": leak,
        "loop_heat": capacity * (leaving - entering) + _beyond(given, leaving),
        "exhaust_heat": lost,
        "leak_heat_bed": _leaking(d, P, Tc) * DRY_AIR_SPECIFIC_HEAT * (mean - Ta) + _beyond(leak, mean),
        "condenser_convection": outer * (Tc - Ta),
        "loop_fan_heat": fan,
        "bed_fan_power": fan,
        "cooling_fan_power": d.condenser_fan_power * cooled,
    }
    return flow | _heating(Tb, Tc, Ta, air[7], d)


def _heating(Tb: Array, Tc: Array, Ta: Array, sun: Array, d: Any) -> dict[str, Array]:
    """What heats the bed, and what that costs."""
    wanted = 1.0 - smooth_step((Tb - d.release_temperature + 4.0) / 4.0)
    if d.heat_by == "resistance":
        heat = d.heating_power * wanted
        return {"heating": heat, "heater_power": heat}
    if d.heat_by == "heat_pump":
        heat = d.heating_power * wanted
        source = Tc if d.heat_pump_source == "condenser" else Ta
        cold, hot = source - d.heat_pump_approach, Tb + d.heat_pump_approach
        above = hot - cold - 8.0
        bent = (np.clip(above, -4.0, 4.0) + 4.0) ** 2 / 16.0
        lift = 8.0 + np.where(above > 4.0, above, bent)
        power = heat / (1.0 + d.second_law_efficiency * cold / lift)
        drawn = heat - power if d.heat_pump_source == "condenser" else np.zeros_like(Tb)
        return {"heating": heat, "heater_power": power, "source_heat": drawn}
    if d.heat_by == "waste_heat":
        drive = d.waste_heat_temperature - Tb
        flowing = smooth_step(drive / 2.0) * wanted
        return {
            "heating": d.heat_conductance * drive * flowing,
            "heating_pump_power": d.heating_pump_power * flowing,
        }
    loss = d.collector_area * d.collector_loss
    gain = d.collector_area * d.collector_efficiency * sun - loss * (Tb - Ta)
    flowing = smooth_step(gain / (2.0 * loss + 1.0)) * wanted
    # collector and fluid in series: Q (1 + loss/conductance) = gain at the bed's temperature
    heat = gain * flowing * d.heat_conductance / (d.heat_conductance + loss)
    return {"heating": heat, "heating_pump_power": d.heating_pump_power * flowing}


def _loop_temperatures(
    Tb: Array, Tc: Array, Ta: Array, to_bed: Array, to_condenser: Array, recovery: float, opened: bool
) -> tuple[Array, Array, Array]:
    """Air before and behind the bed, and behind the condenser: linear equations, solved for all states."""
    # unknowns: before the bed, behind the bed, before and behind the condenser
    matrix, right = np.zeros((Tb.size, 4, 4)), np.zeros((Tb.size, 4))
    matrix[:, 0, 1], matrix[:, 0, 0], right[:, 0] = 1.0, to_bed - 1.0, to_bed * Tb
    matrix[:, 1, 3], matrix[:, 1, 2], right[:, 1] = 1.0, to_condenser - 1.0, to_condenser * Tc
    if opened:
        matrix[:, 2, 0], matrix[:, 2, 1], right[:, 2] = 1.0, -recovery, (1.0 - recovery) * Ta
        matrix[:, 3, 2], matrix[:, 3, 1], right[:, 3] = 1.0, recovery - 1.0, recovery * Ta
    else:
        matrix[:, 2, [0, 1, 3]] = 1.0, -recovery, recovery - 1.0
        matrix[:, 3, [2, 1, 3]] = 1.0, recovery - 1.0, -recovery
    found = np.linalg.solve(matrix, right[:, :, None])[:, :, 0].astype(np.float64, copy=False)
    return found[:, 0], found[:, 1], found[:, 3]


def _air_side(
    d: Any, sorbent: Any, velocity: float, temperature: float, pressure: float
) -> tuple[float, float, float]:
    """Conductances of the bed for heat [W/(m2 K)] and mass [kg/(m2 s)], and its pressure drop [Pa]."""
    density = pressure / (DRY_AIR_GAS_CONSTANT * temperature)
    viscosity, conductivity = dry_air_viscosity(temperature), dry_air_conductivity(temperature)
    diffusivity = vapour_diffusivity(temperature, pressure)
    pores = 0.0
    if sorbent.layer_porosity > 0.0 and not sorbent.rate_covers_layer:
        pores = sorbent.layer_porosity**1.5 * diffusivity
    if d.form == "channels":
        friction, nusselt = CHANNELS[d.channel_shape]
        surface = 4.0 * d.channel_share * d.bed_depth / d.channel_size
        inside = d.coating_thickness / (3.0 * pores) if pores else 0.0
        heat = surface * nusselt * conductivity / d.channel_size
        mass = density * surface / (d.channel_size / (nusselt * diffusivity) + inside)
        speed = velocity / d.channel_share
        return heat, mass, friction * viscosity * speed / (2.0 * d.channel_size**2) * d.bed_depth
    size, radius = d.grain_diameter, 0.5 * d.grain_diameter
    reynolds = density * velocity * size / viscosity
    surface = 6.0 * (1.0 - d.grain_void) / size * d.bed_depth
    inside = radius / (5.0 * pores) if pores and radius > 1.01 * sorbent.grain_radius else 0.0
    nusselt = _of_a_grain(reynolds, viscosity * DRY_AIR_SPECIFIC_HEAT / conductivity)
    sherwood = _of_a_grain(reynolds, viscosity / (density * diffusivity))
    solid = (1.0 - d.grain_void) / (d.grain_void * size)
    inertia = 1.75 * density * velocity**2 / d.grain_void**2 * solid
    drop = (150.0 * viscosity * velocity / d.grain_void * solid**2 + inertia) * d.bed_depth  # Ergun1952
    heat = surface * nusselt * conductivity / size
    return heat, density * surface / (size / (sherwood * diffusivity) + inside), drop


def _of_a_grain(reynolds: float, prandtl: float) -> float:
    """Nusselt or Sherwood number of a grain in a bed, by Prandtl or Schmidt number (Wakao1979, Wakao1978)."""
    return float(2.0 + 1.1 * reynolds**0.6 * np.cbrt(prandtl))


def _ratio(p: Array, P: Array) -> Array:
    """Humidity ratio, its tangent above six tenths of the pressure."""
    share = p / P
    inside = np.minimum(share, 0.6)
    return MOLAR_MASS_RATIO * (inside / (1.0 - inside) + (share - inside) / 0.16)


def _approach(conductance: Any, flow: Any) -> Array:
    return 1.0 - np.exp(-conductance / np.maximum(flow, 1e-12))


def _leaking(d: Any, P: Array, Tc: Array) -> Array:
    return d.damper_leak * d.release_velocity * P / (DRY_AIR_GAS_CONSTANT * Tc)


def _beyond(vapour: Array, T: Array) -> Array:
    """Heat of vapour beyond that at which it is booked [W/m2]."""
    return vapour * VAPOUR_SPECIFIC_HEAT * (T - BOOKING_TEMPERATURE)
