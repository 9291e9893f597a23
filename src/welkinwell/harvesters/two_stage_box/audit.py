"""The audit of the two-stage box: flows and stocks worked out again from what the march left behind.

Written from docs/theory/two_stage_box.md for whole arrays of states. It shares the saturation curves
and, with the other audits, the text of sorbents, gaps and films; nothing else with the march.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    LATENT_HEAT_AT_FREEZING,
    LIQUID_SPECIFIC_HEAT,
    STANDARD_PRESSURE,
    STEFAN_BOLTZMANN,
    VAPOUR_SPECIFIC_HEAT,
)
from welkinwell.harvesters.audit import (
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
    BOOKED_HEAT,
    BOOKING_TEMPERATURE,
    LEWIS_FACTOR,
    MOLE,
    _stefan,
    _with_vapour,
    audited_layer_resistance,
    gap_coefficients,
    stable_constant,
    unstable_constant,
)
from welkinwell.moist_air import saturation_pressure

FLOWS: Final = (
    *("sorption", "second_sorption", "gap_to_bed", "second_gap_to_bed", "air_to_bed", "air_to_second_bed"),
    *("plate_condensation", "condensation", "leak", "second_leak", "vent"),
    *("plate_collected", "collected", "air_to_plate", "air_to_condenser"),
    *("sun_absorber", "sun_glazing", "sun_condenser", "cover_radiation", "cover_convection"),
    *("first_radiation", "first_convection", "rear_radiation", "rear_convection"),
    *("glazing_longwave", "glazing_convection", "condenser_convection", "condenser_longwave"),
    *("edge_loss", "plate_edge_loss", "bed_convection", "plate_convection"),
    *("leak_heat_bed", "leak_heat_plate", "leak_heat_condenser", "plate_collected_heat", "collected_heat"),
    *("air_vapour_to_bed", "air_vapour_to_second_bed", "air_vapour_to_plate", "air_vapour_to_condenser"),
)


class _Stage(NamedTuple):
    """One stage: its bed, the gap under it and the surface below."""

    share: float
    bed: Array
    below: Array
    loading: Array
    film: Array
    pores: Array
    gap_pressure: Array
    gap: float
    over_film: Array


def audited_flows(
    states: ArrayLike, air: ArrayLike, mode: ArrayLike, design: Any, sorbent: Any, site_pressure: float
) -> Array:
    """Work out every flow at given states.

    states: (12, n) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    air: (9, n) in the order of AirRecord [K, Pa, m/s, W/m2, kg/(m2 s)]
    mode: (n,) 1 open, 0 closed
    design: a TwoStageBox
    sorbent: a Sorbent
    site_pressure: mean pressure of the site [Pa]
    returns: (41, n), rows as in FLOWS [kg/(m2 s) and W/m2]
    source: docs/theory/two_stage_box.md
    """
    seen = _Seen(
        np.asarray(states, float), np.asarray(air, float), np.asarray(mode) == 1, design, site_pressure
    )
    flow: dict[str, Array] = {}
    words = (("", "bed", "plate", "first"), ("second_", "second_bed", "condenser", "rear"))
    for stage, names in zip(seen.stages, words, strict=True):
        _inside(flow, seen, stage, sorbent, *names)
        _to_the_air(flow, seen, stage, sorbent, *names[:3])
    _leaks_and_drains(flow, seen)
    _glass_and_condenser(flow, seen)
    return np.array([np.broadcast_to(flow[name], seen.Tb.shape) for name in FLOWS])


class _Seen:
    """States and surroundings by name, with what several flows share."""

    def __init__(self, states: Array, air: Array, night: Any, design: Any, site_pressure: float):
        self.d, self.site_pressure = design, site_pressure
        self.Tg, self.Tb, self.Tp, self.Tc, w, wp, self.mp, self.mc, ps, self.pv, psp, pvp = states
        self.Ta, self.pa, self.P, V, self.sky, self.Sa, self.Sg, self.plane, _ = air
        self.night, self.day = night, ~night
        share, over_plate, over_fins = (
            design.second_share,
            saturation_pressure(self.Tp),
            film_pressure(self.Tc),
        )
        self.stages = (
            _Stage(1.0 - share, self.Tb, self.Tp, w, self.mp, ps, self.pv, design.first_gap, over_plate),
            _Stage(share, self.Tp, self.Tc, wp, self.mc, psp, pvp, design.second_gap, over_fins),
        )
        self.thinness = site_pressure / STANDARD_PRESSURE
        self.forced = design.wind_constant * np.cbrt(self.thinness**2) + design.wind_slope * (
            V * self.thinness
        )
        self.density = self.P / (DRY_AIR_GAS_CONSTANT * self.Ta)
        self.still = self.density * DRY_AIR_SPECIFIC_HEAT * LEWIS_FACTOR
        self.vent = design.vent_air_changes * smooth_step((self.Tb - design.vent_temperature) / 5.0)

    def surface(self, rise: Array, warmer: float, colder: float) -> Array:
        """Coefficient of a surface in wind; the constants are for a surface warmer or colder than air."""
        free = np.where(rise > 0.0, warmer, colder) ** 3 * rise**2 / np.sqrt(rise**2 + 1.0)
        return np.cbrt(self.forced**3 + free * self.thinness**2)

    def outside(self, emissivity: float, T: Array, view: float) -> Array:
        """Net longwave from a surface to sky and ground."""
        ground = (1.0 - view) * STEFAN_BOLTZMANN * self.Ta**4
        return emissivity * (STEFAN_BOLTZMANN * T**4 - view * self.sky - ground)


def _inside(
    flow: dict[str, Array],
    seen: _Seen,
    stage: _Stage,
    sorbent: Any,
    prefix: str,
    bed: str,
    below: str,
    way: str,
) -> None:
    """Uptake of a stage, and what crosses the gap under its bed."""
    d, P = seen.d, seen.P
    layer = audited_layer_resistance(d, sorbent, seen.site_pressure)
    face = stage.share * d.bed_area * d.bed_effectiveness
    humidity = 0.5 * (stage.pores + np.sqrt(stage.pores**2 + 1.0)) / saturation_pressure(stage.bed)
    rate = uptake_rate(sorbent, stage.bed, humidity, stage.loading)
    flow[f"{prefix}sorption"] = stage.share * d.sorbent_mass * rate
    angle = np.pi - d.tilt if d.gap_circulation == "inclined" else None
    beyond = 2.0 * stage.gap_pressure - stage.pores
    heat, mass = gap_coefficients(stage.bed, stage.below, stage.pores, beyond, P, stage.gap, angle)
    middle = 0.5 * (stage.bed + stage.below)
    inward = _stefan(1.0 / (0.5 / mass + layer / face), middle, stage.gap_pressure, stage.pores, P)
    flow[f"{prefix}gap_to_bed"] = np.where(seen.day, inward, 0.0)
    onto = _stefan(2.0 * mass, middle, stage.gap_pressure, stage.over_film, P)
    onto = np.where(seen.day, onto * working(stage.gap_pressure - stage.over_film, stage.film), 0.0)
    flow["condensation" if prefix else "plate_condensation"] = onto
    through = _with_vapour(heat, onto, stage.bed, stage.below)
    flow[f"{way}_convection"] = np.where(seen.day, through, 0.0)
    flow[f"{way}_radiation"] = d.gap_emissivity * STEFAN_BOLTZMANN * (stage.bed**4 - stage.below**4)


def _to_the_air(
    flow: dict[str, Array], seen: _Seen, stage: _Stage, sorbent: Any, prefix: str, bed: str, below: str
) -> None:
    """Exchange of a stage with the outside air: its bed's uptake, dew on the surface below, and leaks."""
    d, P, up = seen.d, seen.P, unstable_constant(seen.d.tilt)
    layer = audited_layer_resistance(d, sorbent, seen.site_pressure)
    face = stage.share * d.bed_area * d.bed_effectiveness
    coefficient = seen.surface(stage.bed - seen.Ta, up, up)
    mean = 0.5 * (stage.bed + seen.Ta)
    taken = _stefan(face * d.open_faces / (seen.still / coefficient + layer), mean, seen.pa, stage.pores, P)
    taken = np.where(seen.night, taken, 0.0)
    flow[f"air_to_{bed}"] = taken
    flow[f"air_vapour_to_{bed}"] = taken * VAPOUR_SPECIFIC_HEAT * (mean - BOOKING_TEMPERATURE)
    lost = coefficient * face * d.open_faces * (stage.bed - seen.Ta)
    if prefix:  # the plate's other face meets the wind as well
        lost = lost + seen.forced * (stage.bed - seen.Ta)
    flow["plate_convection" if prefix else "bed_convection"] = np.where(seen.night, lost, 0.0)
    mean = 0.5 * (stage.below + seen.Ta)
    dew = _stefan(seen.forced / seen.still, mean, seen.pa, stage.over_film, P)
    dew = np.where(seen.night, dew * working(seen.pa - stage.over_film, stage.film), 0.0)
    flow[f"air_to_{below}"] = dew
    vapour = LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (mean - FREEZING_POINT)
    flow[f"air_vapour_to_{below}"] = dew * vapour
    outward = d.gap_air_volume * MOLE * (stage.gap_pressure - seen.pa)
    flow[f"{prefix}leak"] = np.where(seen.night, d.open_ventilation, d.leak) * outward


def _leaks_and_drains(flow: dict[str, Array], seen: _Seen) -> None:
    d, vent, Ta = seen.d, seen.vent, seen.Ta
    flow["vent"] = np.where(seen.day, vent * d.gap_air_volume * MOLE * (seen.pv - seen.pa), 0.0)
    half = np.where(seen.day, 0.5 * d.gap_air_volume * seen.density * DRY_AIR_SPECIFIC_HEAT, 0.0)
    flow["leak_heat_bed"] = (d.leak + vent) * half * (seen.Tb - Ta)
    flow["leak_heat_plate"] = (2.0 * d.leak + vent) * half * (seen.Tp - Ta)
    flow["leak_heat_condenser"] = d.leak * half * (seen.Tc - Ta)
    flow["plate_collected"] = overflow(seen.mp, d.holdup)
    flow["collected"] = (1.0 - ice_share(seen.Tc)) * overflow(seen.mc, d.holdup)
    flow["plate_collected_heat"] = flow["plate_collected"] * LIQUID_SPECIFIC_HEAT * (seen.Tp - FREEZING_POINT)
    flow["collected_heat"] = flow["collected"] * LIQUID_SPECIFIC_HEAT * (seen.Tc - FREEZING_POINT)


def _glass_and_condenser(flow: dict[str, Array], seen: _Seen) -> None:
    d, Tg, Tb, Tc, Ta = seen.d, seen.Tg, seen.Tb, seen.Tc, seen.Ta
    up, down = unstable_constant(d.tilt), stable_constant(d.tilt)
    flow["sun_absorber"], flow["sun_glazing"] = seen.Sa, seen.Sg
    flow["sun_condenser"] = d.condenser_stray_sun * seen.plane
    exchange = STEFAN_BOLTZMANN / (1.0 / d.absorber_emissivity + 1.0 / d.glazing_emissivity - 1.0)
    flow["cover_radiation"] = exchange * (Tb**4 - Tg**4)
    dry = np.zeros_like(Tb)
    front, _ = gap_coefficients(Tb, Tg, dry, dry, seen.P, d.front_gap, d.tilt)
    flow["cover_convection"] = d.front_insulation * front * (Tb - Tg)
    flow["glazing_longwave"] = seen.outside(d.glazing_emissivity, Tg, 0.5 * (1.0 + np.cos(d.tilt)))
    flow["glazing_convection"] = seen.surface(Tg - Ta, up, down) * (Tg - Ta)
    fins = seen.surface(Tc - Ta, down, up) * d.condenser_outer_area * d.condenser_fin_efficiency
    flow["condenser_convection"] = (fins + np.where(seen.night, seen.forced, 0.0)) * (Tc - Ta)
    flow["condenser_longwave"] = seen.outside(d.condenser_emissivity, Tc, d.condenser_sky_view)
    flow["edge_loss"] = d.first_edge_loss * (Tb - Ta)
    flow["plate_edge_loss"] = d.second_edge_loss * (seen.Tp - Ta)


def stocks_by_row(states: ArrayLike, design: Any, sorbent: Any) -> Array:
    """Work out the stock of every row.

    states: (12, k) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    design: a TwoStageBox
    sorbent: a Sorbent
    returns: (12, k), heat rows [J/m2], water rows [kg/m2], per aperture; energies count from liquid
        water, dry solid and metal at 0 degC
    source: docs/theory/two_stage_box.md, section 1
    """
    d = design
    Tg, Tb, Tp, Tc, w, wp, mp, mc, ps, pv, psp, pvp = np.asarray(states, float)
    pores = MOLE * max(sorbent.layer_porosity, 0.05) * d.layer_thickness * d.bed_area
    gap = MOLE * d.gap_air_volume
    first, second = (1.0 - d.second_share) * d.sorbent_mass, d.second_share * d.sorbent_mass

    def bed(T: Array, held: Array, lying: Array | float, mass: float, metal: float) -> Array:
        solid = mass * sorbent.dry_specific_heat + metal * d.metal_specific_heat
        wet = (mass * held + lying) * LIQUID_SPECIFIC_HEAT
        return (solid + wet) * (T - FREEZING_POINT) + mass * integral_enthalpies(sorbent, held, T)

    condenser = d.condenser_mass * d.condenser_specific_heat * (Tc - FREEZING_POINT)
    return np.array(
        [
            2500.0 * 720.0 * d.glazing_thickness * (Tg - FREEZING_POINT),
            bed(Tb, w, 0.0, first, d.bed_metal),
            bed(Tp, wp, mp, second, d.plate_metal),
            condenser + mc * film_enthalpy(Tc),
            first * w,
            second * wp,
            mp,
            mc,
            (1.0 - d.second_share) * pores * ps,
            gap * pv,
            d.second_share * pores * psp,
            gap * pvp,
        ]
    )


def audited_stocks(state: ArrayLike, design: Any, sorbent: Any) -> dict[str, float]:
    """Work out the water [kg/m2] and the energy [J/m2] that it holds in one state, as in stocks_by_row."""
    return held_in_all(stocks_by_row(np.asarray(state)[:, None], design, sorbent)[:, 0], 4, 8)


def boundary() -> tuple[Array, Array]:
    """What one unit of each flow brings into the whole box.

    returns: water [kg per kg] and energy [J per kg or J per J], shape (41,) each, rows as in FLOWS
    source: docs/theory/two_stage_box.md
    """
    water = dict.fromkeys(FLOWS, 0.0)
    energy = dict.fromkeys(FLOWS, 0.0)
    for name in ("air_to_bed", "air_to_second_bed", "air_to_plate", "air_to_condenser"):
        water[name] = 1.0
    for name in ("leak", "second_leak", "vent"):
        water[name] = -1.0
        energy[name] = -BOOKED_HEAT
    for name in ("plate_collected", "collected"):
        water[name] = -1.0
    energy["air_to_bed"] = energy["air_to_second_bed"] = BOOKED_HEAT
    for name in (
        *("sun_absorber", "sun_glazing", "sun_condenser", "air_vapour_to_bed", "air_vapour_to_second_bed"),
        *("air_vapour_to_plate", "air_vapour_to_condenser"),
    ):
        energy[name] = 1.0
    for name in (
        *("glazing_longwave", "glazing_convection", "condenser_convection", "condenser_longwave"),
        *("edge_loss", "plate_edge_loss", "bed_convection", "plate_convection"),
        *("leak_heat_bed", "leak_heat_plate", "leak_heat_condenser"),
        *("plate_collected_heat", "collected_heat"),
    ):
        energy[name] = -1.0
    return np.array([water[n] for n in FLOWS]), np.array([energy[n] for n in FLOWS])
