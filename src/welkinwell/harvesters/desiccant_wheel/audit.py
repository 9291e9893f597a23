"""The audit of the desiccant wheel: flows and stocks worked out again from what the march left behind.

Written from docs/theory/desiccant_wheel.md for whole arrays of states, and sharing no function with the
march except saturation curves and properties of air.
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
    last_sorbed_heat,
    overflow,
    smooth_step,
    uptake_rate,
    working,
)
from welkinwell.moist_air import saturation_pressure
from welkinwell.moist_air.transport import dry_air_conductivity, dry_air_viscosity, vapour_diffusivity

Array = NDArray[np.float64]

CELLS: Final = 3
PARTS: Final = 6


def _each(name: str, count: int) -> tuple[str, ...]:
    return tuple(f"{name}_{k + 1}" for k in range(count))


FLOWS: Final = (
    *_each("process_sorption", CELLS),
    *_each("regeneration_sorption", CELLS),
    *_each("turned_water", PARTS),
    *_each("turned_vapour", PARTS),
    *_each("turned_heat", PARTS),
    *_each("air_to_wheel", CELLS),
    *_each("wheel_to_air", CELLS),
    *_each("wheel_convection", CELLS),
    *_each("air_vapour_to_wheel", CELLS),
    *_each("wheel_to_loop", CELLS),
    *_each("loop_heat", CELLS),
    *_each("wheel_heating", CELLS),
    *_each("wheel_edge_loss", CELLS),
    *("condensation", "leak", "collected", "leak_heat_bed", "condenser_convection", "collected_heat"),
    *("source_heat", "loop_fan_heat", "wheel_fan_power", "cooling_fan_power", "heater_power"),
    "wheel_control_power",
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

    states: (21, n) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    air: (9, n) in the order of AirRecord [K, Pa, m/s, W/m2, kg/(m2 s)]
    mode: (n,) 1 turning, 0 stopped
    design: a DesiccantWheel
    sorbent: a Sorbent
    site_pressure: mean pressure of the site [Pa]
    returns: (60, n), rows as in FLOWS [kg/(m2 s) and W/m2]
    source: docs/theory/desiccant_wheel.md
    """
    y, seen, d = np.asarray(states, float), np.asarray(air, float), design
    on = np.asarray(mode) == 1
    T, Tc, w, film, p = y[:6], y[6], y[7:13], y[13], y[14:20]
    flow: dict[str, Array] = {name: np.zeros(y.shape[1]) for name in FLOWS}
    for i in range(PARTS):
        mass = d.sorbent_mass * (d.process_share if i < CELLS else 1.0 - d.process_share) / CELLS
        flow[FLOWS[i]] = mass * uptake_rate(sorbent, T[i], _humidity(T[i], p[i]), w[i])
    for k in range(CELLS):
        flow[f"wheel_edge_loss_{k + 1}"] = d.edge_loss / CELLS * (T[CELLS + k] - seen[0])
    flow["collected"] = (1.0 - ice_share(Tc)) * overflow(film, d.condenser_holdup * d.condenser_area)
    flow["collected_heat"] = flow["collected"] * LIQUID_SPECIFIC_HEAT * (Tc - FREEZING_POINT)
    flow["wheel_control_power"] = np.full(y.shape[1], d.control_power / d.face_area)
    running = _process_air(y, seen, d, sorbent, site_pressure) | _turning(y, d, sorbent)
    running |= _loop(y, seen, d, sorbent, site_pressure)
    cooled = smooth_step((Tc - seen[0]) / 2.0)
    running["cooling_fan_power"] = d.condenser_fan_power * cooled
    running["wheel_fan_power"] = running["wheel_fan_power"] + running["loop_fan_heat"]
    for name, values in running.items():
        flow[name] = flow[name] + np.where(on, values, 0.0)
    flow["condensation"] = np.where(on, flow["condensation"], _still(y, seen, d))
    outer = d.condenser_still_share + (1.0 - d.condenser_still_share) * np.where(on, cooled, 0.0)
    flow["condenser_convection"] = outer * d.condenser_conductance * (Tc - seen[0])
    return np.array([flow[name] for name in FLOWS])


def stocks_by_row(states: ArrayLike, design: Any, sorbent: Any) -> Array:
    """Work out the stock of every row.

    states: (21, k) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    design: a DesiccantWheel
    sorbent: a Sorbent
    returns: (21, k), heat rows [J/m2], water rows [kg/m2], per face; energies count from liquid
        water, dry solid and metal at 0 degC
    source: docs/theory/desiccant_wheel.md, section 1
    """
    y = np.asarray(states, float)
    d = design
    Tc, film = y[6], y[13]
    parts = np.repeat([d.process_share, 1.0 - d.process_share], CELLS)[:, None] / CELLS
    mole = 1.0 / (WATER_GAS_CONSTANT * BOOKING_TEMPERATURE)
    solid = d.sorbent_mass * sorbent.dry_specific_heat + d.wheel_substrate * d.substrate_specific_heat
    T, w = y[:6], y[7:13]
    sorbed = np.array([integral_enthalpies(sorbent, *each) for each in zip(w, T, strict=True)])
    heat = (solid + d.sorbent_mass * w * LIQUID_SPECIFIC_HEAT) * (T - FREEZING_POINT)
    condenser = d.condenser_mass * d.condenser_specific_heat * (Tc - FREEZING_POINT)
    return np.concatenate(
        [
            parts * (heat + d.sorbent_mass * sorbed),
            [condenser + film * film_enthalpy(Tc)],
            parts * d.sorbent_mass * w,
            [film],
            mole * parts * d.channel_share * d.wheel_depth * y[14:20],
            [mole * d.loop_air_volume * y[20]],
        ]
    )


def audited_stocks(state: ArrayLike, design: Any, sorbent: Any) -> dict[str, float]:
    """Work out the water [kg/m2] and the energy [J/m2] that it holds in one state, as in stocks_by_row."""
    return held_in_all(stocks_by_row(np.asarray(state)[:, None], design, sorbent)[:, 0], 7, 14)


def boundary() -> tuple[Array, Array]:
    """What one unit of each flow brings into the whole device.

    returns: water [kg per kg] and energy [J per kg or J per J], shape (60,) each, rows as in FLOWS
    source: docs/theory/desiccant_wheel.md, section 4
    """
    water = dict.fromkeys(FLOWS, 0.0)
    energy = dict.fromkeys(FLOWS, 0.0)
    for k in range(1, CELLS + 1):
        water[f"air_to_wheel_{k}"], energy[f"air_to_wheel_{k}"] = 1.0, BOOKED_HEAT
        water[f"wheel_to_air_{k}"], energy[f"wheel_to_air_{k}"] = -1.0, -BOOKED_HEAT
        energy[f"air_vapour_to_wheel_{k}"] = energy[f"wheel_heating_{k}"] = 1.0
        energy[f"wheel_convection_{k}"] = energy[f"wheel_edge_loss_{k}"] = -1.0
    water["leak"] = water["collected"] = -1.0
    energy["leak"] = -BOOKED_HEAT
    energy["loop_fan_heat"] = 1.0
    for name in ("leak_heat_bed", "condenser_convection", "collected_heat", "source_heat"):
        energy[name] = -1.0
    return np.array([water[n] for n in FLOWS]), np.array([energy[n] for n in FLOWS])


def _process_air(y: Array, air: Array, d: Any, sorbent: Any, site_pressure: float) -> dict[str, Array]:
    """Outdoor air through its parts of the wheel, in equal shares."""
    Ta, pa, P = air[:3]
    velocity = d.process_share * d.face_velocity
    heat, mass, drop = _channels(d, sorbent, d.process_share, d.face_velocity, 298.15, site_pressure)
    whole = velocity * P / (DRY_AIR_GAS_CONSTANT * Ta)
    fan = velocity * (drop + d.housing_pressure) / d.fan_efficiency
    found = {"wheel_fan_power": np.full(Ta.size, fan)}
    for k in range(CELLS):
        taken = whole / CELLS * _approach(mass, whole) * (_ratio(pa, P) - _ratio(y[14 + k], P))
        leaving = _ratio(pa, P) - taken / np.maximum(whole / CELLS, 1e-12)
        capacity = whole * (DRY_AIR_SPECIFIC_HEAT + leaving * VAPOUR_SPECIFIC_HEAT)
        found |= {
            f"air_to_wheel_{k + 1}": np.maximum(taken, 0.0),
            f"wheel_to_air_{k + 1}": np.maximum(-taken, 0.0),
            f"wheel_convection_{k + 1}": capacity / CELLS * _approach(heat, capacity) * (y[k] - Ta),
            f"air_vapour_to_wheel_{k + 1}": _beyond(taken, Ta),
        }
    return found


def _turning(y: Array, d: Any, sorbent: Any) -> dict[str, Array]:
    """What turns on from each part into the next."""
    rate = d.sorbent_mass * d.wheel_revolutions
    solid = d.sorbent_mass * sorbent.dry_specific_heat + d.wheel_substrate * d.substrate_specific_heat
    pores = d.channel_share * d.wheel_depth * d.wheel_revolutions
    found, bound, last = {}, np.zeros(y.shape[1]), np.zeros(y.shape[1])
    for i in range(PARTS):
        T, w, p = y[i], y[7 + i], y[14 + i]
        heat = last_sorbed_heat(sorbent, T, _humidity(T, p))
        if i:
            bound = bound + 0.5 * (heat + last) * (w - y[6 + i])
        last = heat
        warm = (solid * d.wheel_revolutions + rate * w * LIQUID_SPECIFIC_HEAT) * (T - FREEZING_POINT)
        found[f"turned_water_{i + 1}"] = rate * w
        found[f"turned_vapour_{i + 1}"] = pores * p / (WATER_GAS_CONSTANT * BOOKING_TEMPERATURE)
        found[f"turned_heat_{i + 1}"] = warm + rate * bound
    return found


def _loop(y: Array, air: Array, d: Any, sorbent: Any, site_pressure: float) -> dict[str, Array]:
    """Heated air round wheel, exchanger, condenser and heater."""
    hot, Tc, film, pl = y[CELLS:PARTS], y[6], y[13], y[20]
    Ta, pa, P = air[:3]
    rest = 1.0 - d.process_share
    heat, mass, drop = _channels(d, sorbent, rest, d.regeneration_velocity, 335.0, site_pressure)
    stream = rest * d.regeneration_velocity * P / (DRY_AIR_GAS_CONSTANT * Tc)
    wet_in, over_film = _ratio(pl, P), film_pressure(Tc)
    given = [stream / CELLS * _approach(mass, stream) * (_ratio(p, P) - wet_in) for p in y[17:20]]
    wet_out = wet_in + sum(given) / stream
    capacity = stream * (DRY_AIR_SPECIFIC_HEAT + wet_in * VAPOUR_SPECIFIC_HEAT)
    conductance = d.condenser_coefficient * d.condenser_area
    onto = stream * _approach(conductance / DRY_AIR_SPECIFIC_HEAT, stream) * (wet_out - _ratio(over_film, P))
    share = working(P * wet_out / (MOLAR_MASS_RATIO + wet_out) - over_film, film / d.condenser_area)
    to_wheel = _approach(heat, capacity)
    before, behind, _, unheated = _temperatures(
        hot.mean(axis=0), Tc, to_wheel, _approach(conductance, capacity), d, d.heating_power / capacity
    )
    leaking = d.seal_leak * stream
    leak = leaking * (0.5 * (wet_in + wet_out) - _ratio(pa, P))
    mean = 0.5 * (before + behind)
    heating = capacity * (before - unheated)
    power, drawn = heating, np.zeros_like(heating)
    if d.heat_by == "heat_pump":
        from_condenser = d.heat_pump_source == "condenser"
        low = (Tc if from_condenser else Ta) - d.heat_pump_approach
        above = before + d.heat_pump_approach - low - 8.0
        lift = 8.0 + np.where(above > 4.0, above, (np.clip(above, -4.0, 4.0) + 4.0) ** 2 / 16.0)
        power = heating / (1.0 + d.second_law_efficiency * low / lift)
        drawn = heating - power if from_condenser else drawn
    fan = rest * d.regeneration_velocity * (drop + d.loop_pressure) / d.fan_efficiency
    found = {
        "condensation": onto * share,
        "leak": leak,
        "leak_heat_bed": leaking * DRY_AIR_SPECIFIC_HEAT * (mean - Ta) + _beyond(leak, mean),
        "heater_power": power,
        "source_heat": drawn,
        "loop_fan_heat": np.full(Ta.size, fan),
    }
    for k in range(CELLS):
        leaving = to_wheel * hot[k] + (1.0 - to_wheel) * before
        found[f"wheel_to_loop_{k + 1}"] = given[k]
        found[f"wheel_heating_{k + 1}"] = heating / CELLS
        found[f"loop_heat_{k + 1}"] = capacity / CELLS * (leaving - unheated) + _beyond(given[k], leaving)
    return found


def _temperatures(
    Tr: Array, Tc: Array, to_wheel: Array, to_condenser: Array, d: Any, most: Array
) -> tuple[Array, Array, Array, Array]:
    """Loop air before and behind the wheel, behind the condenser, at the heater: solved state by state."""
    recovery = d.heat_recovery
    found = np.empty((4, Tr.size))
    for k in range(Tr.size):
        # unknowns: before and behind the wheel, before and behind the condenser, before the heater
        matrix, right = np.zeros((5, 5)), np.zeros(5)
        matrix[0, 1], matrix[0, 0], right[0] = 1.0, to_wheel[k] - 1.0, to_wheel[k] * Tr[k]
        matrix[1, 3], matrix[1, 2], right[1] = 1.0, to_condenser[k] - 1.0, to_condenser[k] * Tc[k]
        matrix[2, 4], matrix[2, 1], matrix[2, 3] = 1.0, -recovery, recovery - 1.0
        matrix[3, 2], matrix[3, 1], matrix[3, 3] = 1.0, recovery - 1.0, -recovery
        matrix[4, 0], matrix[4, 4], right[4] = 1.0, -1.0, most[k]
        short = np.linalg.solve(matrix, right)[0]
        over = short - d.regeneration_temperature
        bent = (min(max(over, -2.0), 2.0) + 2.0) ** 2 / 8.0
        matrix[4, 4], right[4] = 0.0, short - (over if over > 2.0 else bent)
        before, behind, _, cold, unheated = np.linalg.solve(matrix, right)
        found[:, k] = before, behind, cold, unheated
    return found[0], found[1], found[2], found[3]


def _still(y: Array, air: Array, d: Any) -> Array:
    """Condensation from the standing loop."""
    Tc, film, pl = y[6], y[13], y[20]
    over_film = film_pressure(Tc)
    still = 3.0 * d.condenser_area / DRY_AIR_SPECIFIC_HEAT
    share = working(pl - over_film, film / d.condenser_area)
    return still * (_ratio(pl, air[2]) - _ratio(over_film, air[2])) * share


def _channels(
    d: Any, sorbent: Any, share: float, velocity: float, temperature: float, pressure: float
) -> tuple[float, float, float]:
    """Conductances of a part of the wheel for heat and mass, and its pressure drop."""
    friction, nusselt = CHANNELS[d.channel_shape]
    diffusivity = vapour_diffusivity(temperature, pressure)
    surface = share * 4.0 * d.channel_share * d.wheel_depth / d.channel_size
    inside = 0.0
    if sorbent.layer_porosity > 0.0 and not sorbent.rate_covers_layer:
        inside = d.coating_thickness / (3.0 * sorbent.layer_porosity**1.5 * diffusivity)
    density = pressure / (DRY_AIR_GAS_CONSTANT * temperature)
    mass = density * surface / (d.channel_size / (nusselt * diffusivity) + inside)
    speed = velocity / d.channel_share
    drop = friction * dry_air_viscosity(temperature) * speed / (2.0 * d.channel_size**2) * d.wheel_depth
    return surface * nusselt * dry_air_conductivity(temperature) / d.channel_size, mass, drop


def _humidity(T: Array, p: Array) -> Array:
    return 0.5 * (p + np.sqrt(p**2 + 1.0)) / saturation_pressure(T)


def _ratio(p: Array, P: Array) -> Array:
    """Humidity ratio, its tangent above six tenths of the pressure."""
    share = p / P
    inside = np.minimum(share, 0.6)
    return MOLAR_MASS_RATIO * (inside / (1.0 - inside) + (share - inside) / 0.16)


def _approach(conductance: Any, flow: Any) -> Array:
    return 1.0 - np.exp(-conductance / np.maximum(flow, 1e-12))


def _beyond(vapour: Array, T: Array) -> Array:
    """Heat of vapour beyond that at which it is booked [W/m2]."""
    return vapour * VAPOUR_SPECIFIC_HEAT * (T - BOOKING_TEMPERATURE)
