"""The passive box inside the march: its numbers, stocks, flows and their slopes, compiled.

docs/theory/passive_box.md holds the equations; the row, unknown and flow numbers here are the ones there.
Slopes are written by hand beside each value; a test holds them against differences.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

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
from welkinwell.harvesters.harvester import Flow, Kind, Unknown
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.moist_air.saturation import log_saturation_pressure, saturation_pressure_and_slope
from welkinwell.parts.bed import bed_enthalpy, bed_temperature, sorption
from welkinwell.parts.film import (
    drained,
    film_enthalpy,
    film_pressure,
    smooth_step,
    temperature_with_film,
    wetted_share,
    working_share,
)
from welkinwell.parts.gap import air_conductivity, gap_nusselt, gap_nusselt_at, vapour_diffusivity
from welkinwell.parts.surface import (
    free_convection_constants,
    longwave_loss,
    radiation_between,
    surface_coefficient,
)
from welkinwell.sorbents.potential import largest_loading, sorbed_state
from welkinwell.sorbents.row import SLOT_HYSTERESIS
from welkinwell.transfer.condensation import stefan_flow, vapour_heat_factor
from welkinwell.transfer.enclosures import tilt_factors
from welkinwell.transfer.layers import layer_resistance
from welkinwell.transfer.plates import thin_air_factors

GLASS_DENSITY: Final = 2500.0  # kg/m3, soda-lime glass, common practice
GLASS_SPECIFIC_HEAT: Final = 720.0  # J/(kg K), the same
POOL_TEMPERATURE: Final = 313.15  # K, at which vapour in the two air spaces is booked
POOL_ENTHALPY: Final = LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (POOL_TEMPERATURE - FREEZING_POINT)
LIQUID_VELOCITY: Final = 0.05  # m/s, couples liquid on the bed to its pores; large, since water has no skin
VENT_SPAN: Final = 5.0  # K, over which the vent opens
LEWIS_FACTOR: Final = 0.905  # Le^(2/3) of vapour in air at 25 C (Bergman2011, value from memory)
LEAST_PRESSURE: Final = 1e-3  # Pa, under the logarithm only

CLOSED: Final = 0
OPEN: Final = 1

TG, TB, TC, W, ML, MG, MC, PS, PV = range(9)
UNKNOWNS = (
    Unknown("glazing_temperature", "K", 100.0, "heat", 300.0, "glass"),
    Unknown("bed_temperature", "K", 100.0, "heat", 300.0, "bed"),
    Unknown("condenser_temperature", "K", 100.0, "heat", 300.0, "condenser"),
    Unknown("loading", "kg/kg", 1.0, "water", 0.1),
    Unknown("bed_liquid", "kg/m2", 2.0, "water", 0.05),
    Unknown("glazing_film", "kg/m2", 2.0, "water", 0.05),
    Unknown("condenser_film", "kg/m2", 2.0, "water", 0.05),
    Unknown("bed_vapour_pressure", "Pa", 20.0, "water", 2000.0),
    Unknown("gap_vapour_pressure", "Pa", 20.0, "water", 2000.0),
)

OUTSIDE: Final = -1
GLAZING, BED, CONDENSER = "glazing", "bed", "condenser"


def _water(name: str, start: int, end: int, uses: tuple[int, ...], warms: int = OUTSIDE) -> Flow:
    """A flow of water; `warms` names the heat row that gains the pool's enthalpy with it."""
    return Flow(name, "kg/(m2 s)", start, end, uses, ((warms, POOL_ENTHALPY),) if warms != OUTSIDE else ())


def _heat(name: str, start: int, end: int, uses: tuple[int, ...]) -> Flow:
    return Flow(name, "W/m2", start, end, uses, ())


def box_flows(face: int) -> tuple[Flow, ...]:
    """Give the table of flows, with the row in which the temperature of the layer's open face stands.

    The lumped bed has one temperature, and its face is its bed; a layered one has its carrier at TB.
    """
    back = {TB, face}
    flows = (
        _water("sorption", PS, W, (face, W, PS), warms=face),
        _water("bed_condensation", PS, ML, (face, ML, PS), warms=face),
        _water("gap_to_bed", PV, PS, (TG, *back, TC, PS, PV)),
        _water("air_to_bed", OUTSIDE, PS, (face, PS)),
        _water("condensation", PV, MC, (face, TC, MC, PS, PV), warms=TC),
        _water("glazing_condensation", PV, MG, (TG, TB, MG, PS, PV), warms=TG),
        _water("leak", PV, OUTSIDE, (PV,)),
        _water("vent", PV, OUTSIDE, (TB, PV)),
        _water("collected", MC, OUTSIDE, (TC, MC)),
        _water("glazing_drained", MG, OUTSIDE, (TG, MG)),
        _water("bed_runoff", ML, OUTSIDE, (ML,)),
        _water("rain_on_bed", OUTSIDE, ML, ()),
        _water("air_to_condenser", OUTSIDE, MC, (TC, MC)),
        _water("air_to_glazing", OUTSIDE, MG, (TG, MG)),
        _heat("sun_absorber", OUTSIDE, TB, (MG,)),
        _heat("sun_glazing", OUTSIDE, TG, ()),
        _heat("sun_condenser", OUTSIDE, TC, ()),
        _heat("cover_radiation", TB, TG, (TG, TB)),
        _heat("cover_convection", TB, TG, (TG, TB, MG, PS, PV)),
        _heat("rear_radiation", face, TC, (face, TC)),
        _heat("rear_convection", face, TC, (face, TC, MC, PS, PV)),
        _heat("glazing_longwave", TG, OUTSIDE, (TG,)),
        _heat("glazing_convection", TG, OUTSIDE, (TG,)),
        _heat("condenser_convection", TC, OUTSIDE, (TC,)),
        _heat("condenser_longwave", TC, OUTSIDE, (TC,)),
        _heat("edge_loss", TB, OUTSIDE, (TB,)),
        _heat("bed_convection", face, OUTSIDE, (face,)),
        _heat("bed_longwave", TB, OUTSIDE, (TB,)),
        _heat("leak_heat_bed", TB, OUTSIDE, (TB,)),
        _heat("leak_heat_condenser", TC, OUTSIDE, (TB, TC)),
        _heat("collected_heat", TC, OUTSIDE, (TC, MC)),
        _heat("glazing_drained_heat", TG, OUTSIDE, (TG, MG)),
        _heat("bed_runoff_heat", face, OUTSIDE, (face, ML)),
        _heat("rain_heat", OUTSIDE, face, ()),
        _heat("air_vapour_to_bed", OUTSIDE, face, (face, PS)),
        _heat("air_vapour_to_condenser", OUTSIDE, TC, (TC, MC)),
        _heat("air_vapour_to_glazing", OUTSIDE, TG, (TG, MG)),
    )
    return flows


FLOWS = box_flows(TB)


class BoxNumbers(NamedTuple):
    """What the compiled box reads: SI numbers per m2 of aperture, made once from a design."""

    glazing_heat: float  # J/(m2 K)
    bed_heat: float  # J/(m2 K), dry sorbent and metal
    condenser_heat: float  # J/(m2 K)
    sorbent_mass: float  # kg/m2
    pore_capacity: float  # kg/(m2 Pa)
    gap_capacity: float  # kg/(m2 Pa)
    gap_volume: float  # m3/m2
    liquid_conductance: float  # kg/(m2 s Pa)
    open_area: float  # 1
    release_resistance: float  # s/m, of the layer per aperture
    layer_resistance: float  # s/m, of one m2 of layer
    front_gap: float  # m
    front_insulation: float  # 1, share of the heat through the front gap's air that is left
    rear_gap: float  # m
    front_inclination: float  # rad
    front_cosine: float  # tilt_factors of the front gap
    front_damping: float
    rear_inclination: float  # rad
    rear_moves: float  # 1 where the rear gap may convect
    glazing_exposed: float  # 1 where vapour meets the glass
    rear_releases: float  # 0 or 1
    front_releases: float  # 0 or 1
    cover_opens: float  # 0 or 1
    cover_emissivity: float  # effective, absorber to glass
    rear_emissivity: float  # effective, bed to condenser
    glazing_emissivity: float
    glazing_sky_view: float
    condenser_emissivity: float
    condenser_sky_view: float
    bed_emissivity: float
    bed_sky_view: float
    condenser_inner: float  # 1
    condenser_outer: float  # area times fin efficiency, 1
    stray_sun: float
    wet_loss: float
    edge_loss: float  # W/(m2 K)
    condenser_holdup: float  # kg/m2
    glazing_holdup: float
    bed_holdup: float
    rain_catch: float
    leak: float  # 1/s
    vent: float  # 1/s
    vent_temperature: float  # K
    ventilation: float  # 1/s
    wind_constant: float  # W/(m2 K), in the site's air, as all that follows
    wind_slope: float
    glazing_hot: float  # c^3 of free convection
    glazing_cold: float
    bed_free: float
    condenser_hot: float
    condenser_cold: float
    open_below: float  # pressure rule: open below this share of the outdoor pressure


def box_numbers(design: PassiveBox, sorbent, site_pressure: float) -> BoxNumbers:
    """Turn a design, a sorbent and the site's pressure [Pa] into the numbers that the march reads.

    The design's vent_temperature must be set (simulate.prepare does it).
    """
    assert design.vent_temperature is not None
    porosity = sorbent.layer_porosity
    pores = max(porosity, 0.05) * design.layer_thickness * design.bed_area
    resistance = 0.0
    if porosity > 0.0 and not sorbent.rate_covers_layer:
        diffusivity = porosity**1.5 * vapour_diffusivity(POOL_TEMPERATURE, site_pressure)[0]
        resistance = layer_resistance(design.layer_thickness, diffusivity)
    per_pascal = 1.0 / (WATER_GAS_CONSTANT * POOL_TEMPERATURE)
    rear_inclination = {
        "below": math.pi - design.tilt,
        "above": design.tilt,
        "beside": 0.5 * math.pi,
    }[design.condenser_position]
    moves = design.condenser_position != "below" or design.gap_circulation == "inclined"
    front_cosine, front_damping = tilt_factors(design.tilt)
    glazing_hot, glazing_cold = free_convection_constants(design.tilt, True)
    bed_free = free_convection_constants(design.tilt, True)[0]
    condenser_hot, condenser_cold = free_convection_constants(
        rear_inclination if design.condenser_position == "beside" else design.tilt,
        design.condenser_position != "below",
    )
    by_wind, by_buoyancy = thin_air_factors(site_pressure)
    return BoxNumbers(
        glazing_heat=GLASS_DENSITY * GLASS_SPECIFIC_HEAT * design.glazing_thickness,
        bed_heat=design.sorbent_mass * sorbent.dry_specific_heat
        + design.bed_metal * design.bed_metal_specific_heat,
        condenser_heat=design.condenser_mass * design.condenser_specific_heat,
        sorbent_mass=design.sorbent_mass,
        pore_capacity=pores * per_pascal,
        gap_capacity=design.gap_air_volume * per_pascal,
        gap_volume=design.gap_air_volume,
        liquid_conductance=design.bed_area * LIQUID_VELOCITY * per_pascal,
        open_area=design.bed_area * design.bed_effectiveness * design.open_faces,
        release_resistance=resistance / (design.bed_area * design.bed_effectiveness),
        layer_resistance=resistance,
        front_gap=design.front_gap,
        front_insulation=design.front_insulation,
        rear_gap=design.rear_gap,
        front_inclination=design.tilt,
        front_cosine=front_cosine,
        front_damping=front_damping,
        rear_inclination=rear_inclination,
        rear_moves=float(moves),
        glazing_exposed=float(not design.front_gap_sealed),
        rear_releases=float(design.release_face != "front"),
        front_releases=float(design.release_face != "rear"),
        cover_opens=float(design.cover_opens),
        cover_emissivity=1.0 / (1.0 / design.absorber_emissivity + 1.0 / design.glazing_emissivity - 1.0),
        rear_emissivity=design.bed_condenser_emissivity,
        glazing_emissivity=design.glazing_emissivity,
        glazing_sky_view=0.5 * (1.0 + math.cos(design.tilt)),
        condenser_emissivity=design.condenser_emissivity,
        condenser_sky_view=design.condenser_sky_view,
        bed_emissivity=design.bed_open_emissivity,
        bed_sky_view=design.bed_sky_view,
        condenser_inner=design.condenser_inner_area,
        condenser_outer=design.condenser_outer_area * design.condenser_fin_efficiency,
        stray_sun=design.condenser_stray_sun,
        wet_loss=design.wet_glass_loss,
        edge_loss=design.edge_loss,
        condenser_holdup=design.condenser_holdup * design.condenser_inner_area,
        glazing_holdup=design.glazing_holdup,
        bed_holdup=design.bed_holdup * design.bed_area,
        rain_catch=design.rain_catch,
        leak=design.leak,
        vent=design.vent_air_changes,
        vent_temperature=design.vent_temperature,
        ventilation=design.open_ventilation,
        wind_constant=design.wind_constant * by_buoyancy,
        wind_slope=design.wind_slope * by_wind,
        glazing_hot=glazing_hot * by_buoyancy**3,
        glazing_cold=glazing_cold * by_buoyancy**3,
        bed_free=bed_free * by_buoyancy**3,
        condenser_hot=condenser_hot * by_buoyancy**3,
        condenser_cold=condenser_cold * by_buoyancy**3,
        open_below=design.pressure_ratio,
    )


@njit(cache=True)
def flows(y, air, mode, box, row, want, phi, slopes):
    """Fill phi with the flows, and where wanted slopes[flow, unknown] with their slopes.

    y: unknowns, shape (9,); air: temperature, vapour pressure, pressure, wind, longwave, sun on absorber,
    in glazing, on plane, rain; mode: CLOSED or OPEN; phi, shape (37,); slopes, shape (37, 9): entries that
    a flow does not use are left as they are.
    """
    flows_with_face(y, air, mode, box, row, TB, want, phi, slopes)


@njit(cache=True)
def flows_with_face(y, air, mode, box, row, face, want, phi, slopes):
    """Fill phi and slopes as `flows` does, with the temperature of the layer's open face at y[face].

    Sun, cover, edges and vent meet the carrier at y[TB]; sorption, gap, condenser and open air the face.
    """
    T_g = y[TG]
    T_b = y[TB]
    T_s = y[face]
    T_c = y[TC]
    p_s = y[PS]
    p_v = y[PV]
    T_a = air[0]
    p_a = air[1]
    pressure = air[2]
    forced = box.wind_constant + box.wind_slope * air[3]
    sky = air[4]
    closed = mode == CLOSED
    log_sat, log_satT = log_saturation_pressure(T_s)
    sat_b = math.exp(log_sat)
    sat_bT = sat_b * log_satT
    wet_g, wet_gm = wetted_share(y[MG])
    exposed = box.glazing_exposed > 0.0

    # Sorption at the grain, and liquid on the bed
    phi[0], by_T, by_w, by_p = sorption(T_s, p_s, y[W], log_sat, log_satT, box.sorbent_mass, row)
    if want:
        slopes[0, face] = by_T
        slopes[0, W] = by_w
        slopes[0, PS] = by_p
    excess = p_s - sat_b
    share_l, share_le, share_lm = working_share(excess, y[ML])
    phi[1] = box.liquid_conductance * excess * share_l

    # Gaps
    h_f = 0.0
    h_r = 0.0
    J_c = 0.0
    J_g = 0.0
    front_moves = closed or not exposed
    covered = closed or box.cover_opens == 0.0
    pc = 2.0 * p_v - p_s  # at the cold plate: the gap's middle lies halfway
    T_f = 0.5 * (T_g + T_b)
    T_r = 0.5 * (T_c + T_s)
    if front_moves and covered:
        if exposed:
            nu_f, nu_fTb, nu_fTg, nu_f1, nu_f2 = gap_nusselt_at(
                T_b,
                T_g,
                p_s,
                pc,
                pressure,
                box.front_gap,
                box.front_inclination,
                box.front_cosine,
                box.front_damping,
            )
        else:
            nu_f, nu_fTb, nu_fTg, nu_f1, nu_f2 = gap_nusselt_at(
                T_b,
                T_g,
                0.0,
                0.0,
                pressure,
                box.front_gap,
                box.front_inclination,
                box.front_cosine,
                box.front_damping,
            )
            nu_f1 = 0.0
            nu_f2 = 0.0
        k_f, k_fT = air_conductivity(T_f)
        per = box.front_insulation / box.front_gap
        h_f = nu_f * k_f * per
        h_fTb = (nu_fTb * k_f + 0.5 * nu_f * k_fT) * per
        h_fTg = (nu_fTg * k_f + 0.5 * nu_f * k_fT) * per
        h_fps = (nu_f1 - nu_f2) * k_f * per
        h_fpv = 2.0 * nu_f2 * k_f * per

    if closed:
        # Rear gap
        nu_r, nu_rTb, nu_rTc, nu_r1, nu_r2 = 1.0, 0.0, 0.0, 0.0, 0.0
        if box.rear_moves > 0.0:
            nu_r, nu_rTb, nu_rTc, nu_r1, nu_r2 = gap_nusselt(
                T_s, T_c, p_s, pc, pressure, box.rear_gap, box.rear_inclination
            )
        k_r, k_rT = air_conductivity(T_r)
        D_r, D_rT = vapour_diffusivity(T_r, pressure)
        per = 1.0 / box.rear_gap
        h_r = nu_r * k_r * per
        m_r = nu_r * D_r * per
        m_rTb = (nu_rTb * D_r + 0.5 * nu_r * D_rT) * per
        m_rTc = (nu_rTc * D_r + 0.5 * nu_r * D_rT) * per
        m_rps = (nu_r1 - nu_r2) * D_r * per
        m_rpv = 2.0 * nu_r2 * D_r * per
        m_f = 0.0
        m_fTb = 0.0
        m_fTg = 0.0
        m_fps = 0.0
        m_fpv = 0.0
        if exposed:
            D_f, D_fT = vapour_diffusivity(T_f, pressure)
            per = 1.0 / box.front_gap
            m_f = nu_f * D_f * per
            m_fTb = (nu_fTb * D_f + 0.5 * nu_f * D_fT) * per
            m_fTg = (nu_fTg * D_f + 0.5 * nu_f * D_fT) * per
            m_fps = (nu_f1 - nu_f2) * D_f * per
            m_fpv = 2.0 * nu_f2 * D_f * per

        # Gap to bed: half the gap at each face that releases, then the layer
        rr = 2.0 * box.rear_releases
        ff = 2.0 * box.front_releases
        half = rr * m_r + ff * m_f
        K = 1.0 / (1.0 / half + box.release_resistance)
        K_half = (K / half) ** 2
        T_m = T_r if box.rear_releases > 0.0 else T_f
        J, J_pv, J_ps = stefan_flow(K, T_m, p_v, p_s, pressure)
        phi[2] = J
        phi[3] = 0.0
        if want:
            by_K = J / K * K_half
            by_T = -0.5 * J / T_m
            by_rear = by_T if box.rear_releases > 0.0 else 0.0
            by_front = by_T - by_rear
            slopes[2, TB] = 0.0
            slopes[2, face] = by_K * rr * m_rTb + by_rear
            slopes[2, TB] += by_K * ff * m_fTb + by_front  # the same entry where the face is the bed
            slopes[2, TC] = by_K * rr * m_rTc + by_rear
            slopes[2, TG] = by_K * ff * m_fTg + by_front
            slopes[2, PS] = J_ps + by_K * (rr * m_rps + ff * m_fps)
            slopes[2, PV] = J_pv + by_K * (rr * m_rpv + ff * m_fpv)
            slopes[3, face] = 0.0
            slopes[3, PS] = 0.0

        # Condenser
        film_c, film_cT = film_pressure(T_c)
        K = 2.0 * m_r * box.condenser_inner
        J_c, J_pv, J_pf = stefan_flow(K, T_r, p_v, film_c, pressure)
        share_c, share_ce, share_cm = working_share(p_v - film_c, y[MC])
        full = J_c
        J_c = full * share_c
        phi[4] = J_c
        if want:
            by_m = J_c / m_r
            by_T = -0.5 * J_c / T_r
            J_cTb = by_m * m_rTb + by_T
            J_cTc = by_m * m_rTc + by_T + (share_c * J_pf - full * share_ce) * film_cT
            J_cps = by_m * m_rps
            J_cpv = by_m * m_rpv + share_c * J_pv + full * share_ce
            J_cmc = full * share_cm
            slopes[4, face] = J_cTb
            slopes[4, TC] = J_cTc
            slopes[4, MC] = J_cmc
            slopes[4, PS] = J_cps
            slopes[4, PV] = J_cpv

        # Glazing
        J_gTb = 0.0
        J_gTg = 0.0
        J_gps = 0.0
        J_gpv = 0.0
        J_gmg = 0.0
        if exposed:
            film_g, film_gT = film_pressure(T_g)
            J_g, J_pv, J_pf = stefan_flow(2.0 * m_f, T_f, p_v, film_g, pressure)
            share_g, share_ge, share_gm = working_share(p_v - film_g, y[MG])
            full = J_g
            J_g = full * share_g
            if want:
                by_m = J_g / m_f
                by_T = -0.5 * J_g / T_f
                J_gTb = by_m * m_fTb + by_T
                J_gTg = by_m * m_fTg + by_T + (share_g * J_pf - full * share_ge) * film_gT
                J_gps = by_m * m_fps
                J_gpv = by_m * m_fpv + share_g * J_pv + full * share_ge
                J_gmg = full * share_gm
        phi[5] = J_g
        phi[12] = 0.0
        phi[13] = 0.0
        if want:
            slopes[5, TB] = J_gTb
            slopes[5, TG] = J_gTg
            slopes[5, MG] = J_gmg
            slopes[5, PS] = J_gps
            slopes[5, PV] = J_gpv
            slopes[12, TC] = 0.0
            slopes[12, MC] = 0.0
            slopes[13, TG] = 0.0
            slopes[13, MG] = 0.0

        # Rear heat by conduction, with what the vapour carries
        if J_c != 0.0:
            a = J_c * VAPOUR_SPECIFIC_HEAT / h_r
            beta, beta_a = vapour_heat_factor(a)
        else:
            a = 0.0
            beta = 1.0
            beta_a = 0.0
        lift = VAPOUR_SPECIFIC_HEAT * (T_r - POOL_TEMPERATURE)
        dT = T_s - T_c
        phi[20] = h_r * beta * dT + J_c * lift
        if want:
            # d(h beta(J cv/h))/dh = beta - a beta', d/dJ = beta' cv
            by_h = (beta - a * beta_a) * dT
            by_J = beta_a * VAPOUR_SPECIFIC_HEAT * dT + lift
            per = 1.0 / box.rear_gap
            carried = 0.5 * J_c * VAPOUR_SPECIFIC_HEAT
            slopes[20, face] = (
                h_r * beta + by_h * (nu_rTb * k_r + 0.5 * nu_r * k_rT) * per + by_J * J_cTb + carried
            )
            slopes[20, TC] = (
                -h_r * beta + by_h * (nu_rTc * k_r + 0.5 * nu_r * k_rT) * per + by_J * J_cTc + carried
            )
            slopes[20, PS] = by_h * (nu_r1 - nu_r2) * k_r * per + by_J * J_cps
            slopes[20, PV] = by_h * 2.0 * nu_r2 * k_r * per + by_J * J_cpv
            slopes[20, MC] = by_J * J_cmc
        changes = box.leak
        per_volume = box.gap_capacity
        step, step_T = smooth_step((T_b - box.vent_temperature) / VENT_SPAN)
        phi[6] = changes * per_volume * (p_v - p_a)
        phi[7] = box.vent * step * per_volume * (p_v - p_a)
        heat = 0.5 * box.gap_volume * DRY_AIR_SPECIFIC_HEAT * pressure / (DRY_AIR_GAS_CONSTANT * T_a)
        rate = changes + box.vent * step
        phi[28] = rate * heat * (T_b - T_a)
        phi[29] = rate * heat * (T_c - T_a)
        if want:
            rate_T = box.vent * step_T / VENT_SPAN
            slopes[6, PV] = changes * per_volume
            slopes[7, PV] = box.vent * step * per_volume
            slopes[7, TB] = rate_T * per_volume * (p_v - p_a)
            slopes[28, TB] = rate * heat + rate_T * heat * (T_b - T_a)
            slopes[29, TC] = rate * heat
            slopes[29, TB] = rate_T * heat * (T_c - T_a)
        phi[11] = 0.0
        phi[26] = 0.0
        phi[27] = 0.0
        phi[34] = 0.0
        phi[35] = 0.0
        phi[36] = 0.0
        if want:
            slopes[26, face] = 0.0
            slopes[27, TB] = 0.0
            slopes[34, face] = 0.0
            slopes[34, PS] = 0.0
            slopes[35, TC] = 0.0
            slopes[35, MC] = 0.0
            slopes[36, TG] = 0.0
            slopes[36, MG] = 0.0
    else:
        # The open bed: film and layer in series
        cool = pressure / (DRY_AIR_GAS_CONSTANT * T_a) * DRY_AIR_SPECIFIC_HEAT * LEWIS_FACTOR
        h_b, h_bT = surface_coefficient(forced, T_s, T_a, box.bed_free, box.bed_free)
        T_m = 0.5 * (T_a + T_s)
        K = box.open_area / (cool / h_b + box.layer_resistance)
        J, _, J_ps = stefan_flow(K, T_m, p_a, p_s, pressure)
        lift = VAPOUR_SPECIFIC_HEAT * (T_m - POOL_TEMPERATURE)
        phi[2] = 0.0
        phi[3] = J
        phi[34] = J * lift
        phi[26] = h_b * box.open_area * (T_s - T_a)
        phi[27], slope_27 = longwave_loss(box.bed_emissivity, T_b, T_a, sky, box.bed_sky_view)
        if want:
            # dK/dh = K^2 cool / (area h^2)
            J_Tb = J * K * cool / (box.open_area * h_b * h_b) * h_bT - 0.5 * J / T_m
            slopes[2, TB] = 0.0
            slopes[2, face] = 0.0
            slopes[2, TC] = 0.0
            slopes[2, TG] = 0.0
            slopes[2, PS] = 0.0
            slopes[2, PV] = 0.0
            slopes[3, face] = J_Tb
            slopes[3, PS] = J_ps
            slopes[34, face] = J_Tb * lift + 0.5 * VAPOUR_SPECIFIC_HEAT * J
            slopes[34, PS] = J_ps * lift
            slopes[26, face] = box.open_area * (h_b + h_bT * (T_s - T_a))
            slopes[27, TB] = slope_27
        # The condenser's and the glazing's inner side in the draught
        h_m = forced / cool
        film_c, film_cT = film_pressure(T_c)
        T_m = 0.5 * (T_a + T_c)
        J, _, J_pf = stefan_flow(h_m * box.condenser_inner, T_m, p_a, film_c, pressure)
        share_c, share_ce, share_cm = working_share(p_a - film_c, y[MC])
        lift = LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (T_m - FREEZING_POINT)
        phi[4] = 0.0
        phi[12] = J * share_c
        phi[35] = phi[12] * lift
        if want:
            by_T = share_c * (J_pf * film_cT - 0.5 * J / T_m) - J * share_ce * film_cT
            slopes[4, face] = 0.0
            slopes[4, TC] = 0.0
            slopes[4, MC] = 0.0
            slopes[4, PS] = 0.0
            slopes[4, PV] = 0.0
            slopes[12, TC] = by_T
            slopes[12, MC] = J * share_cm
            slopes[35, TC] = by_T * lift + 0.5 * VAPOUR_SPECIFIC_HEAT * J * share_c
            slopes[35, MC] = J * share_cm * lift
        phi[5] = 0.0
        phi[13] = 0.0
        phi[36] = 0.0
        if want:
            slopes[5, TB] = 0.0
            slopes[5, TG] = 0.0
            slopes[5, MG] = 0.0
            slopes[5, PS] = 0.0
            slopes[5, PV] = 0.0
            slopes[13, TG] = 0.0
            slopes[13, MG] = 0.0
            slopes[36, TG] = 0.0
            slopes[36, MG] = 0.0
        if exposed:
            film_g, film_gT = film_pressure(T_g)
            T_m = 0.5 * (T_a + T_g)
            J, _, J_pf = stefan_flow(h_m, T_m, p_a, film_g, pressure)
            share_g, share_ge, share_gm = working_share(p_a - film_g, y[MG])
            lift = LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (T_m - FREEZING_POINT)
            phi[13] = J * share_g
            phi[36] = phi[13] * lift
            if want:
                by_T = share_g * (J_pf * film_gT - 0.5 * J / T_m) - J * share_ge * film_gT
                slopes[13, TG] = by_T
                slopes[13, MG] = J * share_gm
                slopes[36, TG] = by_T * lift + 0.5 * VAPOUR_SPECIFIC_HEAT * J * share_g
                slopes[36, MG] = J * share_gm * lift
        phi[6] = box.ventilation * box.gap_capacity * (p_v - p_a)
        phi[7] = 0.0
        phi[11] = box.rain_catch * air[8]
        phi[20] = 0.0
        phi[28] = 0.0
        phi[29] = 0.0
        if want:
            slopes[6, PV] = box.ventilation * box.gap_capacity
            slopes[7, PV] = 0.0
            slopes[7, TB] = 0.0
            slopes[20, face] = 0.0
            slopes[20, TC] = 0.0
            slopes[20, PS] = 0.0
            slopes[20, PV] = 0.0
            slopes[20, MC] = 0.0
            slopes[28, TB] = 0.0
            slopes[29, TC] = 0.0
            slopes[29, TB] = 0.0

    # Front: sun, radiation, convection to the glazing
    if exposed:
        lost = box.wet_loss * wet_g
        phi[14] = air[5] * (1.0 - lost)
        if want:
            slopes[14, MG] = -air[5] * box.wet_loss * wet_gm
    else:
        phi[14] = air[5]
        if want:
            slopes[14, MG] = 0.0
    phi[15] = air[6]
    phi[16] = box.stray_sun * air[7]
    phi[17] = 0.0
    phi[18] = 0.0
    if covered:
        phi[17], by_b, by_g = radiation_between(box.cover_emissivity, T_b, T_g)
        if want:
            slopes[17, TB] = by_b
            slopes[17, TG] = by_g
    elif want:
        slopes[17, TB] = 0.0
        slopes[17, TG] = 0.0
    if covered and front_moves:
        dT = T_b - T_g
        if exposed and J_g != 0.0:
            a = J_g * VAPOUR_SPECIFIC_HEAT / h_f
            beta, beta_a = vapour_heat_factor(a)
            lift = VAPOUR_SPECIFIC_HEAT * (T_f - POOL_TEMPERATURE)
            phi[18] = h_f * beta * dT + J_g * lift
            if want:
                by_h = (beta - a * beta_a) * dT
                by_J = beta_a * VAPOUR_SPECIFIC_HEAT * dT + lift
                carried = 0.5 * J_g * VAPOUR_SPECIFIC_HEAT
                slopes[18, TB] = h_f * beta + by_h * h_fTb + by_J * J_gTb + carried
                slopes[18, TG] = -h_f * beta + by_h * h_fTg + by_J * J_gTg + carried
                slopes[18, PS] = by_h * h_fps + by_J * J_gps
                slopes[18, PV] = by_h * h_fpv + by_J * J_gpv
                slopes[18, MG] = by_J * J_gmg
        else:
            phi[18] = h_f * dT
            if want:
                slopes[18, TB] = h_f + h_fTb * dT
                slopes[18, TG] = -h_f + h_fTg * dT
                slopes[18, PS] = h_fps * dT
                slopes[18, PV] = h_fpv * dT
                slopes[18, MG] = 0.0
    elif want:
        slopes[18, TB] = 0.0
        slopes[18, TG] = 0.0
        slopes[18, PS] = 0.0
        slopes[18, PV] = 0.0
        slopes[18, MG] = 0.0
    phi[19], by_b, by_c = radiation_between(box.rear_emissivity, T_s, T_c)
    if want:
        slopes[19, face] = by_b
        slopes[19, TC] = by_c

    # Outer surfaces
    phi[21], slope_21 = longwave_loss(box.glazing_emissivity, T_g, T_a, sky, box.glazing_sky_view)
    h_g, h_gT = surface_coefficient(forced, T_g, T_a, box.glazing_hot, box.glazing_cold)
    phi[22] = h_g * (T_g - T_a)
    h_c, h_cT = surface_coefficient(forced, T_c, T_a, box.condenser_hot, box.condenser_cold)
    inner = 0.0 if closed else forced * box.condenser_inner
    phi[23] = (h_c * box.condenser_outer + inner) * (T_c - T_a)
    phi[24], slope_24 = longwave_loss(box.condenser_emissivity, T_c, T_a, sky, box.condenser_sky_view)
    phi[25] = box.edge_loss * (T_b - T_a)

    # What runs off, with its heat
    out_c, out_cm, out_cT = drained(y[MC], box.condenser_holdup, T_c)
    out_g, out_gm, out_gT = drained(y[MG], box.glazing_holdup, T_g)
    out_b, out_bm, _ = drained(y[ML], box.bed_holdup, FREEZING_POINT + 20.0)
    phi[8] = out_c
    phi[9] = out_g
    phi[10] = out_b
    phi[30] = out_c * LIQUID_SPECIFIC_HEAT * (T_c - FREEZING_POINT)
    phi[31] = out_g * LIQUID_SPECIFIC_HEAT * (T_g - FREEZING_POINT)
    phi[32] = out_b * LIQUID_SPECIFIC_HEAT * (T_s - FREEZING_POINT)
    phi[33] = phi[11] * LIQUID_SPECIFIC_HEAT * (T_a - FREEZING_POINT)

    if want:
        by_p = box.liquid_conductance * (share_l + excess * share_le)
        slopes[1, PS] = by_p
        slopes[1, face] = -by_p * sat_bT
        slopes[1, ML] = box.liquid_conductance * excess * share_lm
        slopes[21, TG] = slope_21
        slopes[22, TG] = h_g + h_gT * (T_g - T_a)
        slopes[23, TC] = h_c * box.condenser_outer + inner + h_cT * box.condenser_outer * (T_c - T_a)
        slopes[24, TC] = slope_24
        slopes[25, TB] = box.edge_loss
        slopes[8, TC] = out_cT
        slopes[8, MC] = out_cm
        slopes[9, TG] = out_gT
        slopes[9, MG] = out_gm
        slopes[10, ML] = out_bm
        theta = LIQUID_SPECIFIC_HEAT * (T_c - FREEZING_POINT)
        slopes[30, TC] = out_cT * theta + out_c * LIQUID_SPECIFIC_HEAT
        slopes[30, MC] = out_cm * theta
        theta = LIQUID_SPECIFIC_HEAT * (T_g - FREEZING_POINT)
        slopes[31, TG] = out_gT * theta + out_g * LIQUID_SPECIFIC_HEAT
        slopes[31, MG] = out_gm * theta
        slopes[32, face] = out_b * LIQUID_SPECIFIC_HEAT
        slopes[32, ML] = out_bm * LIQUID_SPECIFIC_HEAT * (T_s - FREEZING_POINT)


@njit(cache=True)
def stocks(y, box, row, A, U, S):
    """Fill the stocks U and their slopes S[row, unknown] from the unknowns; returns nothing.

    A: the bed's adsorption potential at its loading and temperature [J/mol].
    """
    stocks_with_face(y, box, row, A, TB, U, S)


@njit(cache=True)
def stocks_with_face(y, box, row, A, face, U, S):
    """Fill stocks and slopes as `stocks` does, the sorbent and what lies on it being at y[face]."""
    h, h_T = film_enthalpy(y[TG])
    theta = y[TG] - FREEZING_POINT
    U[TG] = box.glazing_heat * theta + y[MG] * h
    S[TG, TG] = box.glazing_heat + y[MG] * h_T
    S[TG, MG] = h
    h, h_T = film_enthalpy(y[TC])
    theta = y[TC] - FREEZING_POINT
    U[TC] = box.condenser_heat * theta + y[MC] * h
    S[TC, TC] = box.condenser_heat + y[MC] * h_T
    S[TC, MC] = h
    M = box.sorbent_mass
    U[face], S[face, face], S[face, W] = bed_enthalpy(y[face], y[W], y[ML], A, box.bed_heat, M, row)
    S[face, ML] = LIQUID_SPECIFIC_HEAT * (y[face] - FREEZING_POINT)
    U[W] = M * y[W]
    S[W, W] = M
    U[ML] = y[ML]
    S[ML, ML] = 1.0
    U[MG] = y[MG]
    S[MG, MG] = 1.0
    U[MC] = y[MC]
    S[MC, MC] = 1.0
    U[PS] = box.pore_capacity * y[PS]
    S[PS, PS] = box.pore_capacity
    U[PV] = box.gap_capacity * y[PV]
    S[PV, PV] = box.gap_capacity


@njit(cache=True)
def unknowns(U, box, row, y, A):
    """Recover the unknowns y from the stocks U, starting from y and the bed's potential A.

    Returns the potential [J/mol] at the new loading and temperature, for the next call.
    """
    return unknowns_with_face(U, box, row, y, A, TB)


@njit(cache=True)
def unknowns_with_face(U, box, row, y, A, face):
    """Recover the unknowns as `unknowns` does, the sorbent and what lies on it being at y[face]."""
    y[W] = U[W] / box.sorbent_mass
    y[ML] = U[ML]
    y[MG] = U[MG]
    y[MC] = U[MC]
    y[PS] = U[PS] / box.pore_capacity
    y[PV] = U[PV] / box.gap_capacity
    y[TG] = temperature_with_film(U[TG], box.glazing_heat, y[MG], y[TG])
    y[TC] = temperature_with_film(U[TC], box.condenser_heat, y[MC], y[TC])
    wet = U[W] + U[ML]
    y[face], A_new = bed_temperature(U[face], box.bed_heat, wet, box.sorbent_mass, y[W], row, y[face], A)
    return A_new


@njit(cache=True)
def opening_drive(y, air, box, row, A):
    """Return the bed's equilibrium pressure over the outdoor vapour pressure, for the pressure rule [1]."""
    p = math.exp(log_saturation_pressure(y[TB])[0] - A / (GAS_CONSTANT * y[TB]))
    return p / max(air[1], 1.0)


@njit(cache=True)
def resting_state(air, box, row, y):
    """Fill y with a box at rest in an air state: everything at air temperature, bed in equilibrium.

    Returns the bed's potential [J/mol]. The humidity is clipped to 0.6, so that no start is a dew drop.
    """
    T = air[0]
    p = min(air[1], 0.6 * saturation_pressure_and_slope(T)[0])
    A = GAS_CONSTANT * T * (log_saturation_pressure(T)[0] - math.log(max(p, LEAST_PRESSURE)))
    y[TG] = T
    y[TB] = T
    y[TC] = T
    y[W] = sorbed_state(row, A, T)[0]
    y[ML] = 0.0
    y[MG] = 0.0
    y[MC] = 0.0
    y[PS] = p
    y[PV] = p
    return A


@njit(cache=True)
def pore_scale(p, T, row):
    """Return the size by which the step error of a pressure [Pa] in pores at T [K] is judged."""
    pores = 20.0
    if row[SLOT_HYSTERESIS] > 0.0:  # the dead band must not be jumped over
        pores = min(pores, row[SLOT_HYSTERESIS] / (GAS_CONSTANT * T))
    return pores * (abs(p) + 200.0)


@njit(cache=True)
def error_scales(y, box, row, scales):
    """Fill the size by which the step error of each unknown is judged, before the tolerance."""
    scales[TG] = 100.0
    scales[TB] = 100.0
    scales[TC] = 100.0
    scales[W] = largest_loading(row, y[TB])
    scales[ML] = 0.02
    scales[MG] = 0.02
    scales[MC] = 0.02
    scales[PS] = pore_scale(y[PS], y[TB], row)
    scales[PV] = 20.0 * (abs(y[PV]) + 200.0)


PASSIVE_BOX = Kind(
    name="passive_box",
    unknowns=UNKNOWNS,
    flows=FLOWS,
    fill_flows=flows,
    fill_stocks=stocks,
    recover=unknowns,
    opening_drive=opening_drive,
    rest=resting_state,
    error_scales=error_scales,
    stock_pattern=(
        *((i, i) for i in range(len(UNKNOWNS))),
        (TG, MG),
        (TC, MC),
        (TB, W),
        (TB, ML),
    ),
)
