"""The audit of the hybrid: flows and stocks worked out again from what the march left behind.

Written from docs/theory/hybrid.md for whole arrays of states. It shares the saturation curves
and, with the other audits, the text of sorbents, gaps and films; nothing else with the march.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike

from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    GAS_CONSTANT,
    LATENT_HEAT_AT_FREEZING,
    LIQUID_SPECIFIC_HEAT,
    STANDARD_PRESSURE,
    STEFAN_BOLTZMANN,
    VAPOUR_SPECIFIC_HEAT,
    WATER_GAS_CONSTANT,
    WATER_MOLAR_MASS,
)
from welkinwell.harvesters.audit import (
    BOOKED_HEAT,
    BOOKING_TEMPERATURE,
    Array,
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
from welkinwell.harvesters.passive_box.audit import (
    audited_layer_resistance,
    gap_coefficients,
    stable_constant,
    unstable_constant,
)
from welkinwell.moist_air import saturation_pressure

FLOWS: Final = (
    *("sorption", "air_to_bed", "condensation", "leak", "collected", "sun_absorber", "sun_glazing"),
    *("sun_radiator", "cover_radiation", "cover_convection", "glazing_longwave", "glazing_convection"),
    *("edge_loss", "bed_convection", "air_vapour_to_bed", "loop_heat", "leak_heat", "condenser_convection"),
    *("radiator_from_bed", "radiator_from_condenser", "radiator_longwave", "radiator_convection"),
    *("heat_pumped", "top_up_work", "collected_heat", "fan_work", "control_work"),
)
MOLE: Final = 1.0 / (WATER_GAS_CONSTANT * BOOKING_TEMPERATURE)
LEWIS: Final = 0.905


def audited_flows(
    states: ArrayLike, air: ArrayLike, mode: ArrayLike, design: Any, sorbent: Any, site_pressure: float
) -> Array:
    """Work out every flow at given states.

    states: (7, n) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    air: (9, n) in the order of AirRecord [K, Pa, m/s, W/m2, kg/(m2 s)]
    mode: (n,) 1 open, 0 closed
    design: a Hybrid
    sorbent: a Sorbent
    site_pressure: mean pressure of the site [Pa]
    returns: (27, n), rows as in FLOWS [kg/(m2 s) and W/m2]
    source: docs/theory/hybrid.md
    """
    d = design
    Tg, Tb, Tc, Tr, w, mc, pb = np.asarray(states, float)
    Ta, pa, P, V, sky, Sa, Sg, plane, _ = np.asarray(air, float)
    night = np.asarray(mode) == 1
    day = ~night
    humidity = 0.5 * (pb + np.sqrt(pb**2 + 1.0)) / saturation_pressure(Tb)
    flow: dict[str, Array] = {"sorption": d.sorbent_mass * uptake_rate(sorbent, Tb, humidity, w)}
    density = P / (DRY_AIR_GAS_CONSTANT * Ta)
    exchange = _exchanges(d, sorbent, site_pressure)

    mean = 0.5 * (Ta + Tb)
    inward = exchange["open mass"] * (pa - pb) / (WATER_GAS_CONSTANT * mean)
    flow["air_to_bed"] = np.where(night, inward, 0.0)
    flow["air_vapour_to_bed"] = flow["air_to_bed"] * VAPOUR_SPECIFIC_HEAT * (mean - BOOKING_TEMPERATURE)
    warmed = exchange["open heat"] * density * DRY_AIR_SPECIFIC_HEAT * (Tb - Ta)
    flow["bed_convection"] = np.where(night, warmed, 0.0)

    runs = np.where(day, smooth_step((Tb - Tc - d.loop_start) / 5.0), 0.0)
    between = 0.5 * (Tb + Tc)
    over_film = film_pressure(Tc)
    drops = exchange["loop mass"] * (pb - over_film) / (WATER_GAS_CONSTANT * between)
    flow["condensation"] = runs * drops * working(pb - over_film, mc)
    content = P / (DRY_AIR_GAS_CONSTANT * between) * DRY_AIR_SPECIFIC_HEAT
    carried = flow["condensation"] * VAPOUR_SPECIFIC_HEAT * (between - BOOKING_TEMPERATURE)
    flow["loop_heat"] = runs * exchange["loop heat"] * content * (Tb - Tc) + carried
    changes = d.leak + d.vent_air_changes * smooth_step((Tb - d.vent_temperature) / 5.0)
    changes = np.where(day, changes * d.bed_air_volume, 0.0)
    flow["leak"] = changes * MOLE * (pb - pa)
    flow["leak_heat"] = changes * density * DRY_AIR_SPECIFIC_HEAT * (Tb - Ta)

    _top_up(flow, d, Tb, Tc, humidity, day)
    _surfaces(flow, d, site_pressure, (Tg, Tb, Tc, Tr), (Ta, P, V, sky, Sa, Sg, plane), night)
    flow["collected"] = (1.0 - ice_share(Tc)) * overflow(mc, d.condenser_holdup * d.condenser_area)
    flow["collected_heat"] = flow["collected"] * LIQUID_SPECIFIC_HEAT * (Tc - FREEZING_POINT)
    by_night = d.open_airflow * d.open_pressure / d.fan_efficiency
    by_day = d.loop_airflow * d.loop_pressure / d.fan_efficiency
    flow["fan_work"] = np.where(night, by_night, by_day * runs)
    flow["control_work"] = np.full_like(Tb, d.control_power)
    return np.array([np.broadcast_to(flow[name], Tb.shape) for name in FLOWS])


def _exchanges(d: Any, sorbent: Any, site_pressure: float) -> dict[str, float]:
    """What the passing air exchanges, in m3 of air that comes to the other's state each second.

    Round the loop the air's four states are solved as linear equations: after the bed, after the recovery,
    after the condenser, after the recovery again.
    """
    content = site_pressure / (DRY_AIR_GAS_CONSTANT * BOOKING_TEMPERATURE) * DRY_AIR_SPECIFIC_HEAT
    layer = audited_layer_resistance(d, sorbent, site_pressure)
    bed = {
        "heat": d.bed_area * d.bed_coefficient / content,
        "mass": d.bed_area / (content * LEWIS / d.bed_coefficient + layer),
    }
    cold = {"heat": d.condenser_area * d.condenser_coefficient / content}
    cold["mass"] = cold["heat"] / LEWIS
    open_flow = max(d.open_airflow, 1e-9)
    found = {f"open {what}": open_flow * (1.0 - np.exp(-bed[what] / open_flow)) for what in bed}
    for what, recovery in (("mass", 0.0), ("heat", d.loop_recovery)):
        b, c = (1.0 - np.exp(-side[what] / d.loop_airflow) for side in (bed, cold))
        # states x: hot, cooled by the recovery, cold, warmed by it; bed at 1, condenser at 0
        system = np.array(
            [
                [1.0, 0.0, 0.0, -(1.0 - b)],
                [-(1.0 - recovery), 1.0, -recovery, 0.0],
                [0.0, -(1.0 - c), 1.0, 0.0],
                [-recovery, 0.0, -(1.0 - recovery), 1.0],
            ]
        )
        x = np.linalg.solve(system, np.array([b, 0.0, 0.0, 0.0]))
        found[f"loop {what}"] = float(d.loop_airflow * (x[1] - x[2]))
    return found


def _top_up(flow: dict[str, Array], d: Any, Tb: Array, Tc: Array, humidity: Array, day: Any) -> None:
    potential = np.maximum(-GAS_CONSTANT * Tb * np.log(humidity), 0.0)
    heat = LATENT_HEAT_AT_FREEZING + potential / WATER_MOLAR_MASS
    share = smooth_step((d.top_up_below - Tb) / 3.0)
    gained = np.zeros_like(Tb)
    if d.top_up == "heat_pump":
        low, high = Tc - d.heat_pump_approach, Tb + d.heat_pump_approach
        above = high - low - 8.0
        bent = np.where(above > 4.0, above, (np.clip(above, -4.0, 4.0) + 4.0) ** 2 / 16.0)
        gained = d.second_law_efficiency * low / (8.0 + bent)
        share = share * smooth_step((Tc - FREEZING_POINT) / 2.0)
    pays = smooth_step((max(d.top_up_limit, 1.0) * (1.0 + gained) / heat - 1.0) / 0.1)
    power = 0.0 if d.top_up == "none" else d.top_up_power
    flow["top_up_work"] = np.where(day, power * share * pays, 0.0)
    flow["heat_pumped"] = flow["top_up_work"] * gained


def _surfaces(flow: dict[str, Array], d: Any, site_pressure: float, at: Any, seen: Any, night: Any) -> None:
    Tg, Tb, Tc, Tr = at
    Ta, P, V, sky, Sa, Sg, plane = seen
    thin = site_pressure / STANDARD_PRESSURE
    forced = d.wind_constant * np.cbrt(thin**2) + d.wind_slope * V * thin

    def to_air(T: Array, warmer: float, colder: float) -> Array:
        rise = T - Ta
        free = np.where(rise > 0.0, warmer, colder) ** 3 * rise**2 / np.sqrt(rise**2 + 1.0)
        return np.cbrt(forced**3 + free * thin**2) * rise

    def to_sky(emissivity: float, T: Array) -> Array:
        view = 0.5 * (1.0 + np.cos(d.tilt))
        around = view * sky + (1.0 - view) * STEFAN_BOLTZMANN * Ta**4
        return emissivity * (STEFAN_BOLTZMANN * T**4 - around)

    def one_way(rise: Array) -> Array:
        return np.where(rise > 1.0, rise, (np.clip(rise, -1.0, 1.0) + 1.0) ** 2 / 4.0)

    up, down, steep = unstable_constant(d.tilt), stable_constant(d.tilt), unstable_constant(0.5 * np.pi)
    flow["sun_absorber"], flow["sun_glazing"] = Sa, Sg
    flow["sun_radiator"] = d.radiator_area * d.radiator_absorptance * plane
    pair = STEFAN_BOLTZMANN / (1.0 / d.absorber_emissivity + 1.0 / d.glazing_emissivity - 1.0)
    flow["cover_radiation"] = pair * (Tb**4 - Tg**4)
    dry = np.zeros_like(Tb)
    flow["cover_convection"] = gap_coefficients(Tb, Tg, dry, dry, P, d.front_gap, d.tilt)[0] * (Tb - Tg)
    flow["glazing_longwave"] = to_sky(d.glazing_emissivity, Tg)
    flow["glazing_convection"] = to_air(Tg, up, down)
    flow["edge_loss"] = d.edge_loss * (Tb - Ta)
    flow["condenser_convection"] = d.condenser_outer_area * to_air(Tc, steep, steep)
    flow["radiator_longwave"] = d.radiator_area * to_sky(d.radiator_emissivity, Tr)
    flow["radiator_convection"] = d.radiator_area * to_air(Tr, up, down)
    flow["radiator_from_bed"] = np.where(night, d.radiator_coupling * one_way(Tb - Tr), 0.0)
    daily = d.radiator_coupling if d.radiator_by_day else 0.0
    flow["radiator_from_condenser"] = np.where(night, 0.0, daily * one_way(Tc - Tr))


def stocks_by_row(states: ArrayLike, design: Any, sorbent: Any) -> Array:
    """Work out the stock of every row.

    states: (7, k) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    design: a Hybrid
    sorbent: a Sorbent
    returns: (7, k), heat rows [J/m2], water rows [kg/m2]; energies count from liquid
        water, dry solid and metal at 0 degC
    source: docs/theory/hybrid.md, section 1
    """
    Tg, Tb, Tc, Tr, w, mc, pb = np.asarray(states, float)
    d = design
    solid = d.sorbent_mass * (sorbent.dry_specific_heat + w * LIQUID_SPECIFIC_HEAT)
    solid = solid + d.bed_metal * d.bed_metal_specific_heat
    return np.array(
        [
            2500.0 * 720.0 * d.glazing_thickness * (Tg - FREEZING_POINT),
            solid * (Tb - FREEZING_POINT) + d.sorbent_mass * integral_enthalpies(sorbent, w, Tb),
            d.condenser_heat * (Tc - FREEZING_POINT) + mc * film_enthalpy(Tc),
            d.radiator_heat * d.radiator_area * (Tr - FREEZING_POINT),
            d.sorbent_mass * w,
            mc,
            MOLE * d.bed_air_volume * pb,
        ]
    )


def audited_stocks(state: ArrayLike, design: Any, sorbent: Any) -> dict[str, float]:
    """Work out the water [kg/m2] and the energy [J/m2] that it holds in one state, as in stocks_by_row."""
    return held_in_all(stocks_by_row(np.asarray(state)[:, None], design, sorbent)[:, 0], 4, 6)


def boundary() -> tuple[Array, Array]:
    """What one unit of each flow brings into the whole device.

    returns: water [kg per kg] and energy [J per kg or J per J], rows as in FLOWS
    source: docs/theory/hybrid.md
    """
    water = dict.fromkeys(FLOWS, 0.0)
    energy = dict.fromkeys(FLOWS, 0.0)
    water["air_to_bed"], energy["air_to_bed"] = 1.0, BOOKED_HEAT
    water["leak"], energy["leak"] = -1.0, -BOOKED_HEAT
    water["collected"] = -1.0
    for name in ("sun_absorber", "sun_glazing", "sun_radiator", "air_vapour_to_bed", "top_up_work"):
        energy[name] = 1.0
    for name in (
        *("glazing_longwave", "glazing_convection", "edge_loss", "bed_convection", "leak_heat"),
        *("condenser_convection", "radiator_longwave", "radiator_convection", "collected_heat"),
    ):
        energy[name] = -1.0
    return np.array([water[n] for n in FLOWS]), np.array([energy[n] for n in FLOWS])
