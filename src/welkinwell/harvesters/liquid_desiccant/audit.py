"""The audit of the liquid desiccant: flows and stocks worked out again from what the march left behind.

Written from docs/theory/liquid_desiccant.md for whole arrays of states. It shares the
saturation curves and, with the audit of the box, the text of gaps and films; nothing else with the march.
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
    GRAVITY,
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
    _logistic,
    _sips_terms,
    film_enthalpy,
    film_pressure,
    held_in_all,
    ice_share,
    integral_enthalpies,
    overflow,
    smooth_step,
    wetted,
    working,
)
from welkinwell.harvesters.passive_box.audit import (
    _diffusivity,
    _stefan,
    _with_vapour,
    gap_coefficients,
    stable_constant,
    unstable_constant,
)
from welkinwell.moist_air import saturation_pressure
from welkinwell.sorbents import row as slot

FLOWS: Final = (
    *("air_to_solution", "evaporation", "glazing_condensation", "condensation", "leak", "solution_water"),
    *("glazing_drained", "collected", "sun_absorber", "sun_glazing", "supplied_heat", "still_radiation"),
    *("still_convection", "condenser_air", "solution_heat", "glazing_longwave", "glazing_convection"),
    *("condenser_convection", "edge_loss", "leak_heat", "absorber_convection", "absorber_longwave"),
    *(
        "tank_loss",
        "air_vapour_to_solution",
        "pump_heat",
        "glazing_drained_heat",
        "collected_heat",
        "fan_work",
    ),
)
MOLE: Final = 1.0 / (WATER_GAS_CONSTANT * BOOKING_TEMPERATURE)
LEWIS: Final = 0.905
TURN: Final = 20.0  # Pa, over which uptake turns into release
REFERENCE: Final = 298.15  # K, where the potentials of Sips terms are stated


def audited_flows(
    states: ArrayLike, air: ArrayLike, mode: ArrayLike, design: Any, sorbent: Any, site_pressure: float
) -> Array:
    """Work out every flow at given states.

    states: (9, n) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    air: (9, n) in the order of AirRecord [K, Pa, m/s, W/m2, kg/(m2 s)]
    mode: (n,) 1 absorber fed, 0 still fed
    design: a LiquidDesiccant
    sorbent: a brine
    site_pressure: mean pressure of the site [Pa]
    returns: (28, n), rows as in FLOWS [kg/(m2 s) and W/m2]
    source: docs/theory/liquid_desiccant.md
    """
    seen = _Seen(
        np.asarray(states, float), np.asarray(air, float), np.asarray(mode), design, sorbent, site_pressure
    )
    flow: dict[str, Array] = {}
    _absorber(flow, seen)
    _still(flow, seen)
    _circulation(flow, seen)
    _outside(flow, seen)
    return np.array([np.broadcast_to(flow[name], seen.Ts.shape) for name in FLOWS])


def stocks_by_row(states: ArrayLike, design: Any, sorbent: Any) -> Array:
    """Work out the stock of every row.

    states: (9, k) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    design: a LiquidDesiccant
    sorbent: a brine
    returns: (9, k), heat rows [J/m2], water rows [kg/m2]; energies count from liquid
        water, dry solid and metal at 0 degC
    source: docs/theory/liquid_desiccant.md, section 1
    """
    Tg, Ts, Ta, Tc, ws, wa, mg, mc, pv = np.asarray(states, float)
    d = design

    def solution(T: Array, w: Array, salt: float, metal: float) -> Array:
        heat = metal + salt * (sorbent.dry_specific_heat + w * LIQUID_SPECIFIC_HEAT)
        return heat * (T - FREEZING_POINT) + salt * integral_enthalpies(sorbent, w, T)

    kept = d.salt_mass - d.still_salt
    return np.array(
        [
            2500.0 * 720.0 * d.glazing_thickness * (Tg - FREEZING_POINT) + mg * film_enthalpy(Tg),
            solution(Ts, ws, d.still_salt, d.still_heat),
            solution(Ta, wa, kept, d.absorber_heat),
            d.condenser_heat * (Tc - FREEZING_POINT) + mc * film_enthalpy(Tc),
            d.still_salt * ws,
            kept * wa,
            mg,
            mc,
            MOLE * d.still_gap * pv,
        ]
    )


def audited_stocks(state: ArrayLike, design: Any, sorbent: Any) -> dict[str, float]:
    """Work out the water [kg/m2] and the energy [J/m2] that it holds in one state, as in stocks_by_row."""
    return held_in_all(stocks_by_row(np.asarray(state)[:, None], design, sorbent)[:, 0], 4, 8)


class _Seen:
    """States and surroundings by name, with what several flows share."""

    def __init__(self, states: Array, air: Array, mode: Any, design: Any, sorbent: Any, site_pressure: float):
        self.d, self.sorbent, self.site_pressure = design, sorbent, site_pressure
        self.Tg, self.Ts, self.Tt, self.Tc, self.ws, self.wt, self.mg, self.mc, self.pv = states
        self.Ta, self.pa, self.P, self.V, self.sky, self.Sa, self.Sg, self.plane, self.rain = air
        self.night = mode == 1
        self.absorbs = self.night | bool(design.absorbs_by_day)
        self.heat_of_air = self.P / (DRY_AIR_GAS_CONSTANT * self.Ta) * DRY_AIR_SPECIFIC_HEAT
        self.thinness = site_pressure / STANDARD_PRESSURE
        self.forced = (
            design.wind_constant * np.cbrt(self.thinness**2) + design.wind_slope * self.V * self.thinness
        )
        sheet = sorbent.sheet.value
        self.strength, self.brine_density = sheet("brine.salt_fraction"), sheet("brine.density")
        self.salt_density = self.strength * self.brine_density
        self.crystals = _crystal_parabola(sorbent)
        self.still = _Solution(sorbent, self.ws, self.Ts)
        self.tank = _Solution(sorbent, self.wt, self.Tt)

    def surface(self, rise: Array, warmer: float, colder: float) -> Array:
        """Coefficient of a surface in wind; the constants are for a surface warmer or colder than air."""
        free = np.where(rise > 0.0, warmer, colder) ** 3 * rise**2 / np.sqrt(rise**2 + 1.0)
        return np.cbrt(self.forced**3 + free * self.thinness**2)

    def evaporating(self, w: Array, T: Array) -> Array:
        """Share of evaporation that crystals leave."""
        line = np.maximum(np.polyval(self.crystals, T - FREEZING_POINT), 1e-3)
        return smooth_step((w / line - 1.0) / self.d.crystal_margin)


class _Solution:
    """What a solution of a loading and a temperature answers: pressure, slope of loading, excess enthalpy."""

    def __init__(self, sorbent: Any, w: Array, T: Array):
        self.w, self.T = w, T
        if int(sorbent.row[slot.SLOT_FORM]) == slot.FORM_SIPS_TERMS:
            self._from_terms(_sips_terms(sorbent))
        else:
            self._from_the_sheet(sorbent)
        row = sorbent.row
        arrhenius = np.exp(-row[slot.SLOT_ACTIVATION_ENERGY] / (GAS_CONSTANT * T))
        self.diffusivity = row[slot.SLOT_DIFFUSIVITY] * arrhenius

    def _from_terms(self, terms: Array) -> None:
        capacity, middle, width, shift = (column[:, None] for column in terms.T)
        centre = middle + shift * (self.T - REFERENCE)

        def filled(A: Array) -> tuple[Array, Array]:
            share = _logistic((centre - A) / width)
            return (capacity * share).sum(axis=0), (capacity * share * (1.0 - share) / width).sum(axis=0)

        grid = np.linspace(25000.0, -500.0, 400)
        known = (terms[:, :1] * _logistic((terms[:, 1:2] - grid) / terms[:, 2:3])).sum(axis=0)
        A = np.interp(self.w, known, grid)
        for _ in range(6):
            held, slope = filled(A)
            A = A + np.clip(np.log(held / self.w) * held / slope, -3000.0, 3000.0)
        held, slope = filled(A)
        self.pressure = saturation_pressure(self.T) * np.exp(-A / (GAS_CONSTANT * self.T))
        self.by_pressure = slope * GAS_CONSTANT * self.T / self.pressure
        share = _logistic((centre - A) / width)
        omega = (capacity * width * np.logaddexp(0.0, (centre - A) / width)).sum(axis=0)
        by_T = (capacity * shift * share).sum(axis=0)
        self.excess = -(A * held + omega - self.T * by_T) / WATER_MOLAR_MASS

    def _from_the_sheet(self, sorbent: Any) -> None:
        self.pressure = np.asarray(sorbent.pressure(self.T, self.w))
        full = saturation_pressure(self.T)
        up, down = (sorbent.loading(self.T, self.pressure * f / full) for f in (1.0001, 0.9999))
        self.by_pressure = (up - down) / (0.0002 * self.pressure)
        self.excess = integral_enthalpies(sorbent, self.w, self.T)


def _crystal_parabola(sorbent: Any) -> Array:
    celsius = np.arange(0.0, 91.0, 5.0)
    kelvin = celsius + FREEZING_POINT
    line = [sorbent.saturated_loading(T) for T in kelvin]
    return np.polyfit(celsius, line, 2)


def _liquid_coefficient(seen: _Seen, solution: _Solution, velocity: Array) -> Array:
    """A velocity in the liquid as a coefficient in the gas [m/s]."""
    return velocity * seen.salt_density * solution.by_pressure * WATER_GAS_CONSTANT * solution.T


def _absorber(flow: dict[str, Array], seen: _Seen) -> None:
    d, T, p = seen.d, seen.Tt, seen.tank.pressure
    excess = seen.pa - p
    gas, velocity, area, through = _sides(seen)
    liquid = _liquid_coefficient(seen, seen.tank, velocity)
    both = area / (1.0 / gas + 1.0 / liquid)
    if through is None:
        warming = area * gas * LEWIS * seen.heat_of_air
    else:
        both = through * (1.0 - np.exp(-both / through))
        warming = through * (1.0 - np.exp(-area * gas * LEWIS / through)) * seen.heat_of_air
    mean = 0.5 * (T + seen.Ta)
    full = seen.salt_density  # volume per kg of salt at the sheet's strength is its inverse
    capacity = (1.0 - seen.strength) / seen.strength
    capacity += 1000.0 * (d.store_volume / (d.salt_mass - d.still_salt) - 1.0 / full)
    room = 1.0 - smooth_step((seen.wt / capacity - 0.95) / 0.05)
    inwards = smooth_step(0.5 + excess / (2.0 * TURN))
    share = inwards * room + (1.0 - inwards) * seen.evaporating(seen.wt, T)
    taken = _stefan(both, mean, seen.pa, p, seen.P) * share
    flow["air_to_solution"] = np.where(seen.absorbs, taken, 0.0)
    flow["absorber_convection"] = np.where(seen.absorbs, warming * (T - seen.Ta), 0.0)
    net = STEFAN_BOLTZMANN * T**4 - seen.sky
    flow["absorber_longwave"] = np.where(seen.absorbs, d.absorber_sky_area * d.absorber_emissivity * net, 0.0)
    flow["tank_loss"] = d.tank_loss * (T - seen.Ta)
    vapour = VAPOUR_SPECIFIC_HEAT * (mean - BOOKING_TEMPERATURE)
    flow["air_vapour_to_solution"] = flow["air_to_solution"] * vapour


def _sides(seen: _Seen) -> tuple[Array, Array, float, Array | None]:
    """Gas coefficient, velocity in the liquid, wetted area and air flow of the absorber."""
    d, D = seen.d, seen.tank.diffusivity
    if d.absorber == "tray":
        h = seen.surface(seen.Tt - seen.Ta, unstable_constant(0.0), stable_constant(0.0))
        depth = (d.salt_mass - d.still_salt) / (seen.salt_density * d.absorber_area)
        return h / (seen.heat_of_air * LEWIS), 3.0 * D / depth, d.absorber_area, None
    vapour = _diffusivity(298.15, seen.site_pressure)
    nu = 1.57e-5 / seen.thinness
    by_fan = d.absorber_air == "fan"
    speed = (
        d.fan_flow / d.absorber_face + 0.0 * seen.V if by_fan else d.wind_through * np.maximum(seen.V, 0.0)
    )
    through = np.maximum(speed * d.absorber_face, 1e-9)
    speed = speed + 1e-6
    schmidt = nu / vapour
    if d.absorber == "film":
        across = 2.0 * d.plate_gap
        laminar = 7.54 * vapour / across
        turbulent = 0.023 * (speed * across / nu) ** 0.8 * schmidt**0.4 * vapour / across
        thick = (3.0 * d.solution_viscosity * d.wetting / (seen.brine_density**2 * GRAVITY)) ** (1.0 / 3.0)
        fall = 1.5 * d.wetting / (seen.brine_density * thick)
        velocity = 2.0 * np.sqrt(D * fall / (np.pi * d.plate_height))
        return np.cbrt(laminar**3 + turbulent**3), velocity, d.absorber_area, through
    a, L, mu = d.packing_surface, d.packing_wetting, d.solution_viscosity
    rho, sigma = seen.brine_density, 0.09
    wet = 1.45 * (d.packing_tension / sigma) ** 0.75 * (L / (a * mu)) ** 0.1
    wet *= (L**2 * a / (rho**2 * GRAVITY)) ** -0.05 * (L**2 / (rho * sigma * a)) ** 0.2
    wet = 1.0 - np.exp(-wet)
    constant = 5.23 if d.packing_size >= 0.015 else 2.0
    gas = (
        constant * a * vapour * (speed / (a * nu)) ** 0.7 * schmidt ** (1.0 / 3.0) / (a * d.packing_size) ** 2
    )
    velocity = 0.0051 * (L / (wet * a * mu)) ** (2.0 / 3.0) * np.sqrt(D * rho / mu)
    velocity = velocity * (a * d.packing_size) ** 0.4 * (mu * GRAVITY / rho) ** (1.0 / 3.0)
    return gas, velocity, wet * d.absorber_area, through


def _still(flow: dict[str, Array], seen: _Seen) -> None:
    d, p, pv = seen.d, seen.still.pressure, seen.pv
    heat, mass = gap_coefficients(seen.Ts, seen.Tg, p, 2.0 * pv - p, seen.P, d.still_gap, d.tilt)
    D = seen.still.diffusivity
    if d.still_mixing == 0.0:
        velocity = 3.0 * D * seen.salt_density / d.still_salt
    else:
        velocity = 2.0 * np.sqrt(D / (np.pi * d.still_mixing))
    resistance = 0.5 / mass + 1.0 / _liquid_coefficient(seen, seen.still, velocity)
    if d.regenerator == "membrane":
        pores = _diffusivity(BOOKING_TEMPERATURE, seen.site_pressure) * d.membrane_porosity
        resistance = resistance + d.membrane_thickness * d.membrane_tortuosity / pores
    mean = 0.5 * (seen.Ts + seen.Tg)
    outwards = smooth_step(0.5 + (p - pv) / (2.0 * TURN))
    share = 1.0 - outwards + outwards * seen.evaporating(seen.ws, seen.Ts)
    flow["evaporation"] = _stefan(1.0 / resistance, mean, p, pv, seen.P) * share
    over_glass, over_metal = film_pressure(seen.Tg), film_pressure(seen.Tc)
    fogs = _stefan(2.0 * mass, mean, pv, over_glass, seen.P) * working(pv - over_glass, seen.mg)
    flow["glazing_condensation"] = fogs
    airflow = d.condenser_airflow * d.condenser_effectiveness if d.condenser == "separate" else 0.0
    between = 0.5 * (seen.Ts + seen.Tc)
    drops = _stefan(np.full_like(between, airflow), between, pv, over_metal, seen.P) * working(
        pv - over_metal, seen.mc
    )
    flow["condensation"] = drops
    exchange = STEFAN_BOLTZMANN / (1.0 / d.still_emissivity + 1.0 / d.glazing_emissivity - 1.0)
    flow["still_radiation"] = exchange * (seen.Ts**4 - seen.Tg**4)
    flow["still_convection"] = _with_vapour(heat, fogs, seen.Ts, seen.Tg)
    content = seen.P / (DRY_AIR_GAS_CONSTANT * between) * DRY_AIR_SPECIFIC_HEAT
    carried = drops * VAPOUR_SPECIFIC_HEAT * (between - BOOKING_TEMPERATURE)
    flow["condenser_air"] = airflow * (1.0 - d.condenser_recovery) * content * (seen.Ts - seen.Tc) + carried
    change = d.leak * d.still_gap
    flow["leak"] = change * MOLE * (pv - seen.pa)
    flow["leak_heat"] = change * seen.heat_of_air * (mean - seen.Ta)
    flow["edge_loss"] = d.edge_loss * (seen.Ts - seen.Ta)
    heated = d.regenerator != "solar_still"
    drive = d.heat_conductance * (d.heat_temperature - seen.Ts)
    flow["supplied_heat"] = np.where(~seen.night & heated, drive, 0.0)


def _circulation(flow: dict[str, Array], seen: _Seen) -> None:
    """Salt goes round; each kilogram of it takes its water and its heat along."""
    d = seen.d
    salt = np.where(seen.night, 0.0, d.day_circulation * seen.strength)
    holds = [seen.sorbent.dry_specific_heat + w * LIQUID_SPECIFIC_HEAT for w in (seen.ws, seen.wt)]
    heats = [c * (T - FREEZING_POINT) for c, T in zip(holds, (seen.Ts, seen.Tt), strict=True)]
    handed = d.exchanger_effectiveness * np.minimum(*holds) * (seen.Ts - seen.Tt)
    flow["solution_water"] = salt * (seen.wt - seen.ws)
    flow["solution_heat"] = salt * (heats[0] + seen.still.excess - heats[1] - seen.tank.excess - handed)
    onto = {
        "film": d.wetting * d.absorber_area / d.plate_height,
        "packed": d.packing_wetting * d.absorber_area / (d.packing_surface * d.packing_depth),
        "tray": 0.0,
    }[d.absorber]
    daily = d.day_circulation + (onto if d.absorbs_by_day else 0.0)
    flow["pump_heat"] = GRAVITY * d.pump_head * np.where(seen.night, onto, daily)
    fan = d.fan_flow * d.fan_pressure / d.fan_efficiency if d.absorber_air == "fan" else 0.0
    by_day = (fan if d.absorbs_by_day else 0.0) + (d.condenser_power if d.condenser == "separate" else 0.0)
    flow["fan_work"] = np.where(seen.night, fan, by_day)


def _outside(flow: dict[str, Array], seen: _Seen) -> None:
    d = seen.d
    flow["glazing_drained"] = (1.0 - ice_share(seen.Tg)) * overflow(seen.mg, d.glazing_holdup)
    flow["collected"] = (1.0 - ice_share(seen.Tc)) * overflow(seen.mc, d.condenser_holdup)
    flow["glazing_drained_heat"] = flow["glazing_drained"] * LIQUID_SPECIFIC_HEAT * (seen.Tg - FREEZING_POINT)
    flow["collected_heat"] = flow["collected"] * LIQUID_SPECIFIC_HEAT * (seen.Tc - FREEZING_POINT)
    flow["sun_absorber"] = seen.Sa * (1.0 - d.wet_glass_loss * wetted(seen.mg))
    flow["sun_glazing"] = seen.Sg
    view = 0.5 * (1.0 + np.cos(d.tilt))
    around = view * seen.sky + (1.0 - view) * STEFAN_BOLTZMANN * seen.Ta**4
    flow["glazing_longwave"] = d.glazing_emissivity * (STEFAN_BOLTZMANN * seen.Tg**4 - around)
    rise = seen.Tg - seen.Ta
    flow["glazing_convection"] = seen.surface(rise, unstable_constant(d.tilt), stable_constant(d.tilt)) * rise
    rise = seen.Tc - seen.Ta
    steep = unstable_constant(0.5 * np.pi)
    flow["condenser_convection"] = d.condenser_outer_area * seen.surface(rise, steep, steep) * rise


def boundary() -> tuple[Array, Array]:
    """What one unit of each flow brings into the whole device.

    returns: water [kg per kg] and energy [J per kg or J per J], rows as in FLOWS
    source: docs/theory/liquid_desiccant.md
    """
    water = dict.fromkeys(FLOWS, 0.0)
    energy = dict.fromkeys(FLOWS, 0.0)
    water["air_to_solution"] = 1.0
    energy["air_to_solution"] = BOOKED_HEAT
    for name in ("leak", "glazing_drained", "collected"):
        water[name] = -1.0
    energy["leak"] = -BOOKED_HEAT
    for name in ("sun_absorber", "sun_glazing", "supplied_heat", "pump_heat", "air_vapour_to_solution"):
        energy[name] = 1.0
    for name in (
        *("glazing_longwave", "glazing_convection", "condenser_convection", "edge_loss", "leak_heat"),
        *("absorber_convection", "absorber_longwave", "tank_loss", "glazing_drained_heat", "collected_heat"),
    ):
        energy[name] = -1.0
    return np.array([water[n] for n in FLOWS]), np.array([energy[n] for n in FLOWS])
