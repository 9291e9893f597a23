"""The two-stage box inside the march: its numbers, stocks and flows, compiled.

docs/theory/two_stage_box.md holds the equations; the unknown and flow numbers here are the ones there.
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
)
from welkinwell.harvesters.harvester import OUTSIDE, Flow, Kind, Unknown, with_uses
from welkinwell.harvesters.passive_box.flows import (
    GLASS_DENSITY,
    GLASS_SPECIFIC_HEAT,
    LEAST_PRESSURE,
    LEWIS_FACTOR,
    VENT_SPAN,
)
from welkinwell.harvesters.two_stage_box.design import TwoStageBox
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
from welkinwell.parts.film import (
    drained,
    film_enthalpy,
    film_pressure,
    smooth_step,
    temperature_with_film,
    working_share,
)
from welkinwell.parts.gap import air_conductivity, gap_nusselt, gap_nusselt_at, vapour_diffusivity
from welkinwell.parts.surface import (
    free_convection_constants,
    longwave_loss,
    radiation_between,
    surface_coefficient,
)
from welkinwell.sorbents.potential import largest_loading, potential_at_loading, sorbed_state
from welkinwell.sorbents.row import SLOT_HYSTERESIS
from welkinwell.transfer.condensation import stefan_flow, vapour_heat_factor
from welkinwell.transfer.enclosures import tilt_factors
from welkinwell.transfer.layers import layer_resistance
from welkinwell.transfer.plates import thin_air_factors

NEVER_ICE: Final = FREEZING_POINT + 20.0  # K

TG, TB, TP, TC, W, WP, MP, MC, PS, PV, PSP, PVP = range(12)
UNKNOWNS = (
    Unknown("glazing_temperature", "K", 100.0, "heat", 300.0, "glass"),
    Unknown("bed_temperature", "K", 100.0, "heat", 300.0, "first bed"),
    Unknown("plate_temperature", "K", 100.0, "heat", 300.0, "plate with second bed"),
    Unknown("condenser_temperature", "K", 100.0, "heat", 300.0, "condenser"),
    Unknown("loading", "kg/kg", 1.0, "water", 0.1),
    Unknown("second_loading", "kg/kg", 1.0, "water", 0.1),
    Unknown("plate_film", "kg/m2", 2.0, "water", 0.05),
    Unknown("condenser_film", "kg/m2", 2.0, "water", 0.05),
    Unknown("bed_vapour_pressure", "Pa", 20.0, "water", 2000.0),
    Unknown("gap_vapour_pressure", "Pa", 20.0, "water", 2000.0),
    Unknown("second_bed_vapour_pressure", "Pa", 20.0, "water", 2000.0),
    Unknown("second_gap_vapour_pressure", "Pa", 20.0, "water", 2000.0),
)
ALL: Final = tuple(range(len(UNKNOWNS)))


def _water(name: str, start: int, end: int, warms: int = OUTSIDE) -> Flow:
    """A flow of water; `warms` names the heat row that gains the pool's enthalpy with it."""
    return Flow(name, "kg/(m2 s)", start, end, ((warms, POOL_ENTHALPY),) if warms != OUTSIDE else ())


def _heat(name: str, start: int, end: int) -> Flow:
    return Flow(name, "W/m2", start, end)


FLOWS = (
    _water("sorption", PS, W, warms=TB),
    _water("second_sorption", PSP, WP, warms=TP),
    _water("gap_to_bed", PV, PS),
    _water("second_gap_to_bed", PVP, PSP),
    _water("air_to_bed", OUTSIDE, PS),
    _water("air_to_second_bed", OUTSIDE, PSP),
    _water("plate_condensation", PV, MP, warms=TP),
    _water("condensation", PVP, MC, warms=TC),
    _water("leak", PV, OUTSIDE),
    _water("second_leak", PVP, OUTSIDE),
    _water("vent", PV, OUTSIDE),
    _water("plate_collected", MP, OUTSIDE),
    _water("collected", MC, OUTSIDE),
    _water("air_to_plate", OUTSIDE, MP),
    _water("air_to_condenser", OUTSIDE, MC),
    _heat("sun_absorber", OUTSIDE, TB),
    _heat("sun_glazing", OUTSIDE, TG),
    _heat("sun_condenser", OUTSIDE, TC),
    _heat("cover_radiation", TB, TG),
    _heat("cover_convection", TB, TG),
    _heat("first_radiation", TB, TP),
    _heat("first_convection", TB, TP),
    _heat("rear_radiation", TP, TC),
    _heat("rear_convection", TP, TC),
    _heat("glazing_longwave", TG, OUTSIDE),
    _heat("glazing_convection", TG, OUTSIDE),
    _heat("condenser_convection", TC, OUTSIDE),
    _heat("condenser_longwave", TC, OUTSIDE),
    _heat("edge_loss", TB, OUTSIDE),
    _heat("plate_edge_loss", TP, OUTSIDE),
    _heat("bed_convection", TB, OUTSIDE),
    _heat("plate_convection", TP, OUTSIDE),
    _heat("leak_heat_bed", TB, OUTSIDE),
    _heat("leak_heat_plate", TP, OUTSIDE),
    _heat("leak_heat_condenser", TC, OUTSIDE),
    _heat("plate_collected_heat", TP, OUTSIDE),
    _heat("collected_heat", TC, OUTSIDE),
    _heat("air_vapour_to_bed", OUTSIDE, TB),
    _heat("air_vapour_to_second_bed", OUTSIDE, TP),
    _heat("air_vapour_to_plate", OUTSIDE, TP),
    _heat("air_vapour_to_condenser", OUTSIDE, TC),
)


class StageNumbers(NamedTuple):
    """What one stage is made of, per m2 of aperture."""

    sorbent_mass: float  # kg/m2
    heat: float  # J/(m2 K), dry sorbent and metal
    pore_capacity: float  # kg/(m2 Pa)
    open_area: float  # 1
    release_resistance: float  # s/m, of the layer per aperture
    gap: float  # m


class TwoStageNumbers(NamedTuple):
    """What the compiled two-stage box reads: SI numbers per m2 of aperture, made once from a design."""

    first: StageNumbers
    second: StageNumbers
    glazing_heat: float  # J/(m2 K)
    condenser_heat: float
    gap_capacity: float  # kg/(m2 Pa), of each gap
    gap_volume: float  # m3/m2
    layer_resistance: float  # s/m, of one m2 of layer
    front_gap: float  # m
    front_insulation: float
    inclination: float
    cosine: float
    damping: float
    rear_inclination: float  # rad
    moves: float  # 1 where the gaps may convect
    cover_emissivity: float
    gap_emissivity: float
    glazing_emissivity: float
    glazing_sky_view: float
    condenser_emissivity: float
    condenser_sky_view: float
    condenser_outer: float
    stray_sun: float
    edge_loss: float
    plate_edge_loss: float
    holdup: float
    leak: float  # 1/s
    vent: float
    vent_temperature: float
    ventilation: float
    wind_constant: float
    wind_slope: float
    upper_hot: float
    upper_cold: float
    bed_free: float
    condenser_hot: float
    condenser_cold: float


def two_stage_numbers(design: TwoStageBox, sorbent: Any, pressure: float) -> TwoStageNumbers:
    """Turn a design, a sorbent and the site's pressure [Pa] into the numbers that the march reads."""
    d = design
    assert d.vent_temperature is not None
    porosity = sorbent.layer_porosity
    resistance = 0.0
    if porosity > 0.0 and not sorbent.rate_covers_layer:
        diffusivity = porosity**1.5 * vapour_diffusivity(POOL_TEMPERATURE, pressure)[0]
        resistance = layer_resistance(d.layer_thickness, diffusivity)
    per_pascal = 1.0 / (WATER_GAS_CONSTANT * POOL_TEMPERATURE)

    def stage(share: float, metal: float, gap: float) -> StageNumbers:
        area = share * d.bed_area
        return StageNumbers(
            sorbent_mass=share * d.sorbent_mass,
            heat=share * d.sorbent_mass * sorbent.dry_specific_heat + metal * d.metal_specific_heat,
            pore_capacity=max(porosity, 0.05) * d.layer_thickness * area * per_pascal,
            open_area=area * d.bed_effectiveness * d.open_faces,
            release_resistance=resistance / (area * d.bed_effectiveness),
            gap=gap,
        )

    cosine, damping = tilt_factors(d.tilt)
    return TwoStageNumbers(
        first=stage(1.0 - d.second_share, d.bed_metal, d.first_gap),
        second=stage(d.second_share, d.plate_metal, d.second_gap),
        glazing_heat=GLASS_DENSITY * GLASS_SPECIFIC_HEAT * d.glazing_thickness,
        condenser_heat=d.condenser_mass * d.condenser_specific_heat,
        gap_capacity=d.gap_air_volume * per_pascal,
        gap_volume=d.gap_air_volume,
        layer_resistance=resistance,
        front_gap=d.front_gap,
        front_insulation=d.front_insulation,
        inclination=d.tilt,
        cosine=cosine,
        damping=damping,
        rear_inclination=math.pi - d.tilt,
        moves=float(d.gap_circulation == "inclined"),
        cover_emissivity=1.0 / (1.0 / d.absorber_emissivity + 1.0 / d.glazing_emissivity - 1.0),
        gap_emissivity=d.gap_emissivity,
        glazing_emissivity=d.glazing_emissivity,
        glazing_sky_view=0.5 * (1.0 + math.cos(d.tilt)),
        condenser_emissivity=d.condenser_emissivity,
        condenser_sky_view=d.condenser_sky_view,
        condenser_outer=d.condenser_outer_area * d.condenser_fin_efficiency,
        stray_sun=d.condenser_stray_sun,
        edge_loss=d.first_edge_loss,
        plate_edge_loss=d.second_edge_loss,
        holdup=d.holdup,
        leak=d.leak,
        vent=d.vent_air_changes,
        vent_temperature=d.vent_temperature,
        ventilation=d.open_ventilation,
        **_outer_convection(d, pressure),
    )


def _outer_convection(design: TwoStageBox, pressure: float) -> dict[str, float]:
    """Give the constants of wind and of free convection in the site's air."""
    hot, cold = free_convection_constants(design.tilt, True)
    under_hot, under_cold = free_convection_constants(design.tilt, False)
    by_wind, by_buoyancy = thin_air_factors(pressure)
    thin = by_buoyancy**3
    return {
        "wind_constant": design.wind_constant * by_buoyancy,
        "wind_slope": design.wind_slope * by_wind,
        "upper_hot": hot * thin,
        "upper_cold": cold * thin,
        "bed_free": hot * thin,
        "condenser_hot": under_hot * thin,
        "condenser_cold": under_cold * thin,
    }


@written_out
@njit(cache=True)
def across_gap(T_h, T_c, p_s, p_v, over, film, pressure, stage, n):
    """Return what crosses a closed gap: vapour to the bed, vapour condensed [kg/(m2 s)] and heat [W/m2].

    T_h, T_c: bed above and surface below [K]; p_s, p_v: vapour in the bed's pores and in the gap [Pa]; over,
    film: vapour pressure over the surface's water and how much there is [Pa, kg/m2].
    """
    T = 0.5 * (T_h + T_c)
    nusselt = 1.0
    if n.moves > 0.0:
        nusselt = gap_nusselt(T_h, T_c, p_s, 2.0 * p_v - p_s, pressure, stage.gap, n.rear_inclination)[0]
    conductance = nusselt * air_conductivity(T)[0] / stage.gap
    mass = nusselt * vapour_diffusivity(T, pressure)[0] / stage.gap
    K = 1.0 / (0.5 / mass + stage.release_resistance)
    to_bed = stefan_flow(K, T, p_v, p_s, pressure)
    onto = stefan_flow(2.0 * mass, T, p_v, over, pressure) * working_share(p_v - over, film)[0]
    factor = vapour_heat_factor(onto * VAPOUR_SPECIFIC_HEAT / conductance)[0]
    heat = conductance * factor * (T_h - T_c) + onto * VAPOUR_SPECIFIC_HEAT * (T - POOL_TEMPERATURE)
    return to_bed, onto, heat


@written_out
@njit(cache=True)
def from_open_air(T, p_s, air, forced, stage, n):
    """Return what an open bed takes from the air: vapour [kg/(m2 s)], its warmth, and heat lost [W/m2]."""
    T_a = air[0]
    cool = air[2] / (DRY_AIR_GAS_CONSTANT * T_a) * DRY_AIR_SPECIFIC_HEAT * LEWIS_FACTOR
    h = surface_coefficient(forced, T, T_a, n.bed_free, n.bed_free)[0]
    T_m = 0.5 * (T_a + T)
    K = stage.open_area / (cool / h + n.layer_resistance)
    inward = stefan_flow(K, T_m, air[1], p_s, air[2])
    warmth = inward * VAPOUR_SPECIFIC_HEAT * (T_m - POOL_TEMPERATURE)
    return inward, warmth, h * stage.open_area * (T - T_a)


@written_out
@njit(cache=True)
def dew_from_air(T, over, film, air, forced):
    """Return the dew that open air leaves on a plate [kg/(m2 s)] and the heat that it brings [W/m2]."""
    T_a = air[0]
    cool = air[2] / (DRY_AIR_GAS_CONSTANT * T_a) * DRY_AIR_SPECIFIC_HEAT * LEWIS_FACTOR
    T_m = 0.5 * (T_a + T)
    onto = stefan_flow(forced / cool, T_m, air[1], over, air[2]) * working_share(air[1] - over, film)[0]
    return onto, onto * (LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (T_m - FREEZING_POINT))


def two_stage_box(T_g, T_b, T_p, T_c, w, w_p, m_p, m_c, p_s, p_v, p_sp, p_vp, air, mode, n, row):
    """Each flow of the box under its own name; docs/theory/two_stage_box.md has the same equations.

    T_g, T_b, T_p, T_c: glazing, first bed, plate with the second bed, condenser [K]; w, w_p: loadings
    [kg/kg]; m_p, m_c: water on plate and condenser [kg/m2]; p_s, p_sp: vapour in the beds' pores; p_v,
    p_vp: in the two gaps [Pa]; air: as for the passive box; mode: 1 open, 0 closed.
    """
    T_a = air[0]
    pressure = air[2]
    forced = n.wind_constant + n.wind_slope * air[3]
    over_plate = math.exp(log_saturation_pressure(T_p)[0])  # the plate's water counts as liquid throughout
    over_condenser = film_pressure(T_c)[0]
    sorption = sorption_rate(T_b, p_s, w, n.first.sorbent_mass, row)[0]
    second_sorption = sorption_rate(T_p, p_sp, w_p, n.second.sorbent_mass, row)[0]
    if mode == 1:
        air_to_bed, air_vapour_to_bed, bed_convection = from_open_air(T_b, p_s, air, forced, n.first, n)
        air_to_second_bed, air_vapour_to_second_bed, second_loss = from_open_air(
            T_p, p_sp, air, forced, n.second, n
        )
        air_to_plate, air_vapour_to_plate = dew_from_air(T_p, over_plate, m_p, air, forced)
        air_to_condenser, air_vapour_to_condenser = dew_from_air(T_c, over_condenser, m_c, air, forced)
        plate_convection = second_loss + forced * (T_p - T_a)  # the plate's inner side in the draught
        changes = n.ventilation
        draught = forced
    else:
        gap_to_bed, plate_condensation, first_convection = across_gap(
            T_b, T_p, p_s, p_v, over_plate, m_p, pressure, n.first, n
        )
        second_gap_to_bed, condensation, rear_convection = across_gap(
            T_p, T_c, p_sp, p_vp, over_condenser, m_c, pressure, n.second, n
        )
        changes = n.leak
        vented = n.vent * smooth_step((T_b - n.vent_temperature) / VENT_SPAN)[0]
        vent = vented * n.gap_capacity * (p_v - air[1])
        heat = 0.5 * n.gap_volume * DRY_AIR_SPECIFIC_HEAT * pressure / (DRY_AIR_GAS_CONSTANT * T_a)
        leak_heat_bed = (changes + vented) * heat * (T_b - T_a)
        leak_heat_plate = (2.0 * changes + vented) * heat * (T_p - T_a)
        leak_heat_condenser = changes * heat * (T_c - T_a)
        draught = 0.0
    leak = changes * n.gap_capacity * (p_v - air[1])
    second_leak = changes * n.gap_capacity * (p_vp - air[1])

    # What runs off, with its heat
    plate_collected = drained(m_p, n.holdup, NEVER_ICE)[0]
    collected = drained(m_c, n.holdup, T_c)[0]
    plate_collected_heat = plate_collected * LIQUID_SPECIFIC_HEAT * (T_p - FREEZING_POINT)
    collected_heat = collected * LIQUID_SPECIFIC_HEAT * (T_c - FREEZING_POINT)

    # Sun, radiation, and the air under the glass
    sun_absorber = air[5]
    sun_glazing = air[6]
    sun_condenser = n.stray_sun * air[7]
    cover_radiation = radiation_between(n.cover_emissivity, T_b, T_g)[0]
    nusselt = gap_nusselt_at(T_b, T_g, 0.0, 0.0, pressure, n.front_gap, n.inclination, n.cosine, n.damping)[0]
    carried = nusselt * air_conductivity(0.5 * (T_b + T_g))[0] / n.front_gap
    cover_convection = n.front_insulation * carried * (T_b - T_g)
    first_radiation = radiation_between(n.gap_emissivity, T_b, T_p)[0]
    rear_radiation = radiation_between(n.gap_emissivity, T_p, T_c)[0]

    # Outer surfaces
    glazing_longwave = longwave_loss(n.glazing_emissivity, T_g, T_a, air[4], n.glazing_sky_view)[0]
    h_g = surface_coefficient(forced, T_g, T_a, n.upper_hot, n.upper_cold)[0]
    glazing_convection = h_g * (T_g - T_a)
    h_c = surface_coefficient(forced, T_c, T_a, n.condenser_hot, n.condenser_cold)[0]
    condenser_convection = (h_c * n.condenser_outer + draught) * (T_c - T_a)
    condenser_longwave = longwave_loss(n.condenser_emissivity, T_c, T_a, air[4], n.condenser_sky_view)[0]
    edge_loss = n.edge_loss * (T_b - T_a)
    plate_edge_loss = n.plate_edge_loss * (T_p - T_a)


@njit(cache=True)
def stocks(y, n, row, A, U, S):
    """Fill the stocks U and their slopes S[row, unknown]; A: the first bed's potential [J/mol]."""
    U[TG] = n.glazing_heat * (y[TG] - FREEZING_POINT)
    S[TG, TG] = n.glazing_heat
    U[TB], S[TB, TB], S[TB, W] = bed_enthalpy(y[TB], y[W], 0.0, A, n.first.heat, n.first.sorbent_mass, row)
    A_second = potential_at_loading(row, y[WP], y[TP], A)
    U[TP], S[TP, TP], S[TP, WP] = bed_enthalpy(
        y[TP], y[WP], y[MP], A_second, n.second.heat, n.second.sorbent_mass, row
    )
    S[TP, MP] = LIQUID_SPECIFIC_HEAT * (y[TP] - FREEZING_POINT)
    h, h_T = film_enthalpy(y[TC])
    U[TC] = n.condenser_heat * (y[TC] - FREEZING_POINT) + y[MC] * h
    S[TC, TC] = n.condenser_heat + y[MC] * h_T
    S[TC, MC] = h
    U[W] = n.first.sorbent_mass * y[W]
    S[W, W] = n.first.sorbent_mass
    U[WP] = n.second.sorbent_mass * y[WP]
    S[WP, WP] = n.second.sorbent_mass
    U[MP] = y[MP]
    S[MP, MP] = 1.0
    U[MC] = y[MC]
    S[MC, MC] = 1.0
    U[PS] = n.first.pore_capacity * y[PS]
    S[PS, PS] = n.first.pore_capacity
    U[PSP] = n.second.pore_capacity * y[PSP]
    S[PSP, PSP] = n.second.pore_capacity
    for k in (PV, PVP):
        U[k] = n.gap_capacity * y[k]
        S[k, k] = n.gap_capacity


@njit(cache=True)
def unknowns(U, n, row, y, A):
    """Recover the unknowns y from the stocks U, starting from y; returns the first bed's potential."""
    first = n.first
    second = n.second
    y[W] = U[W] / first.sorbent_mass
    y[WP] = U[WP] / second.sorbent_mass
    y[MP] = U[MP]
    y[MC] = U[MC]
    y[PS] = U[PS] / first.pore_capacity
    y[PSP] = U[PSP] / second.pore_capacity
    y[PV] = U[PV] / n.gap_capacity
    y[PVP] = U[PVP] / n.gap_capacity
    y[TG] = FREEZING_POINT + U[TG] / n.glazing_heat
    y[TC] = temperature_with_film(U[TC], n.condenser_heat, y[MC], y[TC])
    guess = potential_at_loading(row, y[WP], y[TP], A)
    y[TP] = bed_temperature(
        U[TP], second.heat, U[WP] + U[MP], second.sorbent_mass, y[WP], row, y[TP], guess
    )[0]  # fmt: skip
    y[TB], A_new = bed_temperature(U[TB], first.heat, U[W], first.sorbent_mass, y[W], row, y[TB], A)
    return A_new


@njit(cache=True)
def opening_drive(y, air, n, row, A):
    """Return the first bed's pressure over the outdoor vapour pressure [1]."""
    p = math.exp(log_saturation_pressure(y[TB])[0] - A / (GAS_CONSTANT * y[TB]))
    return p / max(air[1], 1.0)


@njit(cache=True)
def resting_state(air, n, row, y):
    """Fill y with a box at rest in an air state, its beds in equilibrium, at 60 % humidity at most."""
    T = air[0]
    p = min(air[1], 0.6 * saturation_pressure_and_slope(T)[0])
    A = GAS_CONSTANT * T * (log_saturation_pressure(T)[0] - math.log(max(p, LEAST_PRESSURE)))
    for t in (TG, TB, TP, TC):
        y[t] = T
    y[W] = sorbed_state(row, A, T)[0]
    y[WP] = y[W]
    y[MP] = 0.0
    y[MC] = 0.0
    for k in (PS, PV, PSP, PVP):
        y[k] = p
    return A


@njit(cache=True)
def error_scales(y, n, row, scales):
    """Fill the size by which the step error of each unknown is judged, before the tolerance."""
    for t in (TG, TB, TP, TC):
        scales[t] = 100.0
    scales[W] = largest_loading(row, y[TB])
    scales[WP] = largest_loading(row, y[TP])
    scales[MP] = 0.02
    scales[MC] = 0.02
    for k in (PS, PV, PSP, PVP):
        scales[k] = 20.0 * (abs(y[k]) + 200.0)
    if row[SLOT_HYSTERESIS] > 0.0:  # the dead band must not be jumped over
        scales[PS] *= min(1.0, 0.05 * row[SLOT_HYSTERESIS] / (GAS_CONSTANT * y[TB]))
        scales[PSP] *= min(1.0, 0.05 * row[SLOT_HYSTERESIS] / (GAS_CONSTANT * y[TP]))


SYMBOLS: Final = {
    "T_g": TG, "T_b": TB, "T_p": TP, "T_c": TC, "w": W, "w_p": WP, "m_p": MP, "m_c": MC,
    "p_s": PS, "p_v": PV, "p_sp": PSP, "p_vp": PVP,
}  # fmt: skip
KERNEL: Final = flow_kernel(two_stage_box, SYMBOLS, [flow.name for flow in FLOWS], "two_stage_box")

TWO_STAGE_BOX = Kind(
    name="two_stage_box",
    unknowns=UNKNOWNS,
    flows=with_uses(FLOWS, KERNEL),
    fill_flows=KERNEL.fill,
    fill_stocks=stocks,
    recover=unknowns,
    opening_drive=opening_drive,
    rest=resting_state,
    error_scales=error_scales,
    stock_pattern=(*((i, i) for i in ALL), (TB, W), (TP, WP), (TP, MP), (TC, MC)),
)
