"""The audit of the two-stage box: flows and stocks worked out again from what the march left behind.

Written from docs/theory/two_stage_box.md for whole arrays of states. It shares the saturation curves, the
enclosure correlation and, with the other audits, the text of sorbents, gaps and films; nothing with the
march.
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
    ice_share,
    integral_enthalpy,
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
    d = design
    Tg, Tb, Tp, Tc, w, wp, mp, mc, ps, pv, psp, pvp = np.asarray(states, float)
    Ta, pa, P, V, sky, Sa, Sg, plane, _ = np.asarray(air, float)
    night = np.asarray(mode) == 1
    day = ~night
    stages = (
        _Stage(1.0 - d.second_share, Tb, Tp, w, mp, ps, pv, d.first_gap, saturation_pressure(Tp)),
        _Stage(d.second_share, Tp, Tc, wp, mc, psp, pvp, d.second_gap, film_pressure(Tc)),
    )
    layer = audited_layer_resistance(d, sorbent, site_pressure)
    thinness = site_pressure / STANDARD_PRESSURE
    forced = d.wind_constant * np.cbrt(thinness**2) + d.wind_slope * (V * thinness)
    density = P / (DRY_AIR_GAS_CONSTANT * Ta)
    still = density * DRY_AIR_SPECIFIC_HEAT * LEWIS_FACTOR
    vent = d.vent_air_changes * smooth_step((Tb - d.vent_temperature) / 5.0)

    def surface(rise: Array, warmer: float, colder: float) -> Array:
        free = np.where(rise > 0.0, warmer, colder) ** 3 * rise**2 / np.sqrt(rise**2 + 1.0)
        return np.cbrt(forced**3 + free * thinness**2)

    def outside(emissivity: float, T: Array, view: float) -> Array:
        ground = (1.0 - view) * STEFAN_BOLTZMANN * Ta**4
        return emissivity * (STEFAN_BOLTZMANN * T**4 - view * sky - ground)

    up, down = unstable_constant(d.tilt), stable_constant(d.tilt)
    flow: dict[str, Array] = {}
    words = (
        ("", "bed", "plate", "first"),
        ("second_", "second_bed", "condenser", "rear"),
    )
    for stage, (prefix, bed, below, way) in zip(stages, words, strict=True):
        face = stage.share * d.bed_area * d.bed_effectiveness
        humidity = 0.5 * (stage.pores + np.sqrt(stage.pores**2 + 1.0)) / saturation_pressure(stage.bed)
        rate = uptake_rate(sorbent, stage.bed, humidity, stage.loading)
        flow[f"{prefix}sorption"] = stage.share * d.sorbent_mass * rate
        angle = np.pi - d.tilt if d.gap_circulation == "inclined" else None
        beyond = 2.0 * stage.gap_pressure - stage.pores
        heat, mass = gap_coefficients(stage.bed, stage.below, stage.pores, beyond, P, stage.gap, angle)
        middle = 0.5 * (stage.bed + stage.below)
        inward = _stefan(
            1.0 / (0.5 / mass + layer / face), middle, stage.gap_pressure, stage.pores, P
        )  # fmt: skip
        flow[f"{prefix}gap_to_bed"] = np.where(day, inward, 0.0)
        onto = _stefan(2.0 * mass, middle, stage.gap_pressure, stage.over_film, P)
        onto = np.where(day, onto * working(stage.gap_pressure - stage.over_film, stage.film), 0.0)
        flow["condensation" if prefix else "plate_condensation"] = onto
        through = _with_vapour(heat, onto, stage.bed, stage.below)
        flow[f"{way}_convection"] = np.where(day, through, 0.0)
        flow[f"{way}_radiation"] = d.gap_emissivity * STEFAN_BOLTZMANN * (stage.bed**4 - stage.below**4)
        coefficient = surface(stage.bed - Ta, up, up)
        mean = 0.5 * (stage.bed + Ta)
        taken = _stefan(face * d.open_faces / (still / coefficient + layer), mean, pa, stage.pores, P)
        taken = np.where(night, taken, 0.0)
        flow[f"air_to_{bed}"] = taken
        flow[f"air_vapour_to_{bed}"] = taken * VAPOUR_SPECIFIC_HEAT * (mean - BOOKING_TEMPERATURE)
        lost = coefficient * face * d.open_faces * (stage.bed - Ta)
        flow["plate_convection" if prefix else "bed_convection"] = np.where(night, lost, 0.0)
        mean = 0.5 * (stage.below + Ta)
        dew = _stefan(forced / still, mean, pa, stage.over_film, P)
        dew = np.where(night, dew * working(pa - stage.over_film, stage.film), 0.0)
        flow[f"air_to_{below}"] = dew
        vapour = LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (mean - FREEZING_POINT)
        flow[f"air_vapour_to_{below}"] = dew * vapour
        outward = d.gap_air_volume * MOLE * (stage.gap_pressure - pa)
        flow[f"{prefix}leak"] = np.where(night, d.open_ventilation, d.leak) * outward
    flow["plate_convection"] = flow["plate_convection"] + np.where(night, forced * (Tp - Ta), 0.0)

    flow["vent"] = np.where(day, vent * d.gap_air_volume * MOLE * (pv - pa), 0.0)
    half = np.where(day, 0.5 * d.gap_air_volume * density * DRY_AIR_SPECIFIC_HEAT, 0.0)
    flow["leak_heat_bed"] = (d.leak + vent) * half * (Tb - Ta)
    flow["leak_heat_plate"] = (2.0 * d.leak + vent) * half * (Tp - Ta)
    flow["leak_heat_condenser"] = d.leak * half * (Tc - Ta)
    flow["plate_collected"] = overflow(mp, d.holdup)
    flow["collected"] = (1.0 - ice_share(Tc)) * overflow(mc, d.holdup)
    flow["plate_collected_heat"] = flow["plate_collected"] * LIQUID_SPECIFIC_HEAT * (Tp - FREEZING_POINT)
    flow["collected_heat"] = flow["collected"] * LIQUID_SPECIFIC_HEAT * (Tc - FREEZING_POINT)
    flow["sun_absorber"], flow["sun_glazing"] = Sa, Sg
    flow["sun_condenser"] = d.condenser_stray_sun * plane
    exchange = STEFAN_BOLTZMANN / (1.0 / d.absorber_emissivity + 1.0 / d.glazing_emissivity - 1.0)
    flow["cover_radiation"] = exchange * (Tb**4 - Tg**4)
    dry = np.zeros_like(Tb)
    front, _ = gap_coefficients(Tb, Tg, dry, dry, P, d.front_gap, d.tilt)
    flow["cover_convection"] = d.front_insulation * front * (Tb - Tg)
    flow["glazing_longwave"] = outside(d.glazing_emissivity, Tg, 0.5 * (1.0 + np.cos(d.tilt)))
    flow["glazing_convection"] = surface(Tg - Ta, up, down) * (Tg - Ta)
    fins = surface(Tc - Ta, down, up) * d.condenser_outer_area * d.condenser_fin_efficiency
    flow["condenser_convection"] = (fins + np.where(night, forced, 0.0)) * (Tc - Ta)
    flow["condenser_longwave"] = outside(d.condenser_emissivity, Tc, d.condenser_sky_view)
    flow["edge_loss"] = d.first_edge_loss * (Tb - Ta)
    flow["plate_edge_loss"] = d.second_edge_loss * (Tp - Ta)
    return np.array([np.broadcast_to(flow[name], Tb.shape) for name in FLOWS])


def audited_stocks(states: ArrayLike, design: Any, sorbent: Any) -> dict[str, float]:
    """Work out the water and the energy that the box holds.

    states: (12,) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    design: a TwoStageBox
    sorbent: a Sorbent
    returns: water [kg/m2] and energy [J/m2], per aperture
    source: docs/theory/two_stage_box.md
    """
    d = design
    Tg, Tb, Tp, Tc, w, wp, mp, mc, ps, pv, psp, pvp = (float(x) for x in np.asarray(states))
    pores = max(sorbent.layer_porosity, 0.05) * d.layer_thickness * d.bed_area
    vapour = MOLE * d.gap_air_volume * (pv + pvp)
    water = mp + mc
    energy = 2500.0 * 720.0 * d.glazing_thickness * (Tg - FREEZING_POINT)
    for share, T, held, lying, p, metal in (
        (1.0 - d.second_share, Tb, w, 0.0, ps, d.bed_metal),
        (d.second_share, Tp, wp, mp, psp, d.plate_metal),
    ):
        mass = share * d.sorbent_mass
        vapour += MOLE * share * pores * p
        water += mass * held
        solid = mass * sorbent.dry_specific_heat + metal * d.metal_specific_heat
        wet = (mass * held + lying) * LIQUID_SPECIFIC_HEAT
        energy += (solid + wet) * (T - FREEZING_POINT) + mass * integral_enthalpy(sorbent, held, T)
    energy += d.condenser_mass * d.condenser_specific_heat * (Tc - FREEZING_POINT)
    energy += mc * float(film_enthalpy(np.array(Tc)))
    return {"water": water + vapour, "energy": energy + BOOKED_HEAT * vapour}


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
