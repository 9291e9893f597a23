"""The passive box inside the march: its numbers, stocks and flows, compiled.

docs/theory/passive_box.md holds the equations; the row, unknown and flow numbers here are the ones there. The
flows are one text without slopes, from which `kernels` prints what the march calls.
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
from welkinwell.harvesters.harvester import OUTSIDE, Flow, Kind, Unknown, with_uses
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.kernels.kernel import flow_kernel
from welkinwell.moist_air.saturation import log_saturation_pressure, saturation_pressure_and_slope
from welkinwell.parts.bed import bed_enthalpy, bed_temperature
from welkinwell.parts.bed import sorption as sorption_rate
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
# Names of the unknowns in the text of the flows; the lumped bed has one temperature
SYMBOLS: Final = {
    "T_g": TG, "T_b": TB, "T_s": TB, "T_c": TC, "w": W, "m_l": ML, "m_g": MG, "m_c": MC, "p_s": PS, "p_v": PV
}  # fmt: skip
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


def _water(name: str, start: int, end: int, warms: int = OUTSIDE) -> Flow:
    """A flow of water; `warms` names the heat row that gains the pool's enthalpy with it."""
    return Flow(name, "kg/(m2 s)", start, end, ((warms, POOL_ENTHALPY),) if warms != OUTSIDE else ())


def _heat(name: str, start: int, end: int) -> Flow:
    return Flow(name, "W/m2", start, end)


def box_flows(face: int) -> tuple[Flow, ...]:
    """Give the table of flows, with the row in which the temperature of the layer's open face stands.

    The lumped bed has one temperature, and its face is its bed; a layered one has its carrier at TB.
    """
    return (
        _water("sorption", PS, W, warms=face),
        _water("bed_condensation", PS, ML, warms=face),
        _water("gap_to_bed", PV, PS),
        _water("air_to_bed", OUTSIDE, PS),
        _water("condensation", PV, MC, warms=TC),
        _water("glazing_condensation", PV, MG, warms=TG),
        _water("leak", PV, OUTSIDE),
        _water("vent", PV, OUTSIDE),
        _water("collected", MC, OUTSIDE),
        _water("glazing_drained", MG, OUTSIDE),
        _water("bed_runoff", ML, OUTSIDE),
        _water("rain_on_bed", OUTSIDE, ML),
        _water("air_to_condenser", OUTSIDE, MC),
        _water("air_to_glazing", OUTSIDE, MG),
        _heat("sun_absorber", OUTSIDE, TB),
        _heat("sun_glazing", OUTSIDE, TG),
        _heat("sun_condenser", OUTSIDE, TC),
        _heat("cover_radiation", TB, TG),
        _heat("cover_convection", TB, TG),
        _heat("rear_radiation", face, TC),
        _heat("rear_convection", face, TC),
        _heat("glazing_longwave", TG, OUTSIDE),
        _heat("glazing_convection", TG, OUTSIDE),
        _heat("condenser_convection", TC, OUTSIDE),
        _heat("condenser_longwave", TC, OUTSIDE),
        _heat("edge_loss", TB, OUTSIDE),
        _heat("bed_convection", face, OUTSIDE),
        _heat("bed_longwave", TB, OUTSIDE),
        _heat("leak_heat_bed", TB, OUTSIDE),
        _heat("leak_heat_condenser", TC, OUTSIDE),
        _heat("collected_heat", TC, OUTSIDE),
        _heat("glazing_drained_heat", TG, OUTSIDE),
        _heat("bed_runoff_heat", face, OUTSIDE),
        _heat("rain_heat", OUTSIDE, face),
        _heat("air_vapour_to_bed", OUTSIDE, face),
        _heat("air_vapour_to_condenser", OUTSIDE, TC),
        _heat("air_vapour_to_glazing", OUTSIDE, TG),
    )


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
        open_below=design.pressure_ratio,
        **_gaps(design),
        **_radiation(design),
        **_outer_convection(design, site_pressure),
    )


def _rear_inclination(design: PassiveBox) -> float:
    """Return that of the gap between bed and condenser [rad]."""
    inclination = {"below": math.pi - design.tilt, "above": design.tilt, "beside": 0.5 * math.pi}
    return inclination[design.condenser_position]


def _gaps(design: PassiveBox) -> dict[str, float]:
    """Give the two gaps, and on which side of the bed vapour leaves."""
    moves = design.condenser_position != "below" or design.gap_circulation == "inclined"
    front_cosine, front_damping = tilt_factors(design.tilt)
    return {
        "front_gap": design.front_gap,
        "front_insulation": design.front_insulation,
        "rear_gap": design.rear_gap,
        "front_inclination": design.tilt,
        "front_cosine": front_cosine,
        "front_damping": front_damping,
        "rear_inclination": _rear_inclination(design),
        "rear_moves": float(moves),
        "glazing_exposed": float(not design.front_gap_sealed),
        "rear_releases": float(design.release_face != "front"),
        "front_releases": float(design.release_face != "rear"),
        "cover_opens": float(design.cover_opens),
    }


def _radiation(design: PassiveBox) -> dict[str, float]:
    """Give emissivities, views of the sky and stray sun."""
    return {
        "cover_emissivity": 1.0 / (1.0 / design.absorber_emissivity + 1.0 / design.glazing_emissivity - 1.0),
        "rear_emissivity": design.bed_condenser_emissivity,
        "glazing_emissivity": design.glazing_emissivity,
        "glazing_sky_view": 0.5 * (1.0 + math.cos(design.tilt)),
        "condenser_emissivity": design.condenser_emissivity,
        "condenser_sky_view": design.condenser_sky_view,
        "bed_emissivity": design.bed_open_emissivity,
        "bed_sky_view": design.bed_sky_view,
        "stray_sun": design.condenser_stray_sun,
    }


def _outer_convection(design: PassiveBox, site_pressure: float) -> dict[str, float]:
    """Give the condenser's surfaces, and convection to the site's air from all outer ones."""
    glazing_hot, glazing_cold = free_convection_constants(design.tilt, True)
    condenser_hot, condenser_cold = free_convection_constants(
        _rear_inclination(design) if design.condenser_position == "beside" else design.tilt,
        design.condenser_position != "below",
    )
    by_wind, by_buoyancy = thin_air_factors(site_pressure)
    return {
        "condenser_inner": design.condenser_inner_area,
        "condenser_outer": design.condenser_outer_area * design.condenser_fin_efficiency,
        "wind_constant": design.wind_constant * by_buoyancy,
        "wind_slope": design.wind_slope * by_wind,
        "glazing_hot": glazing_hot * by_buoyancy**3,
        "glazing_cold": glazing_cold * by_buoyancy**3,
        "bed_free": glazing_hot * by_buoyancy**3,
        "condenser_hot": condenser_hot * by_buoyancy**3,
        "condenser_cold": condenser_cold * by_buoyancy**3,
    }


def passive_box(T_g, T_b, T_s, T_c, w, m_l, m_g, m_c, p_s, p_v, air, mode, box, row):
    """Each flow of the box under its own name; docs/theory/passive_box.md has the same equations.

    T_g, T_b, T_s, T_c: glazing, absorber, open face of the layer, condenser [K]; w [kg/kg]; m_l, m_g, m_c:
    water on bed, glazing, condenser [kg/m2]; p_s, p_v: vapour in pores and gap [Pa]; air: temperature, vapour
    pressure, pressure, wind, longwave, sun on absorber, in glazing, on plane, rain; mode: CLOSED or OPEN.
    The lumped bed has one temperature, T_b and T_s; a layered one has its carrier at T_b.
    """
    T_a = air[0]
    p_a = air[1]
    pressure = air[2]
    forced = box.wind_constant + box.wind_slope * air[3]
    closed = mode == CLOSED
    exposed = box.glazing_exposed > 0.0
    covered = closed or box.cover_opens == 0.0
    film_c = film_pressure(T_c)[0]

    # Sorption at the grain, and liquid on the bed
    sorption = sorption_rate(T_s, p_s, w, box.sorbent_mass, row)[0]
    excess = p_s - math.exp(log_saturation_pressure(T_s)[0])
    bed_condensation = box.liquid_conductance * excess * working_share(excess, m_l)[0]

    # Air spaces: the gap's middle lies halfway to the cold plate
    p_cold = 2.0 * p_v - p_s
    T_f = 0.5 * (T_g + T_b)
    T_r = 0.5 * (T_c + T_s)
    h_f = 0.0
    nu_f = 0.0
    if covered and (closed or not exposed):
        nu_f = gap_nusselt_at(
            T_b,
            T_g,
            p_s if exposed else 0.0,
            p_cold if exposed else 0.0,
            pressure,
            box.front_gap,
            box.front_inclination,
            box.front_cosine,
            box.front_damping,
        )[0]
        h_f = nu_f * air_conductivity(T_f)[0] * (box.front_insulation / box.front_gap)

    if closed:
        # Half the gap at each face that releases, then the layer
        nu_r = 1.0
        if box.rear_moves > 0.0:
            nu_r = gap_nusselt(T_s, T_c, p_s, p_cold, pressure, box.rear_gap, box.rear_inclination)[0]
        h_r = nu_r * air_conductivity(T_r)[0] * (1.0 / box.rear_gap)
        m_r = nu_r * vapour_diffusivity(T_r, pressure)[0] * (1.0 / box.rear_gap)
        m_f = 0.0
        if exposed:
            m_f = nu_f * vapour_diffusivity(T_f, pressure)[0] * (1.0 / box.front_gap)
        half = 2.0 * box.rear_releases * m_r + 2.0 * box.front_releases * m_f
        T_m = T_r if box.rear_releases > 0.0 else T_f
        gap_to_bed = stefan_flow(1.0 / (1.0 / half + box.release_resistance), T_m, p_v, p_s, pressure)
        condensation = stefan_flow(2.0 * m_r * box.condenser_inner, T_r, p_v, film_c, pressure)
        condensation *= working_share(p_v - film_c, m_c)[0]
        if exposed:
            film_g = film_pressure(T_g)[0]
            glazing_condensation = stefan_flow(2.0 * m_f, T_f, p_v, film_g, pressure)
            glazing_condensation *= working_share(p_v - film_g, m_g)[0]
        else:
            glazing_condensation = 0.0
        # Conduction, with what the vapour carries
        stretched = vapour_heat_factor(condensation * VAPOUR_SPECIFIC_HEAT / h_r)[0]
        rear_convection = h_r * stretched * (T_s - T_c) + condensation * (
            VAPOUR_SPECIFIC_HEAT * (T_r - POOL_TEMPERATURE)
        )
        if exposed and glazing_condensation != 0.0:  # a gap that insulates fully has no conduction to stretch
            stretched = vapour_heat_factor(glazing_condensation * VAPOUR_SPECIFIC_HEAT / h_f)[0]
            cover_convection = h_f * stretched * (T_b - T_g) + glazing_condensation * (
                VAPOUR_SPECIFIC_HEAT * (T_f - POOL_TEMPERATURE)
            )
        else:
            cover_convection = h_f * (T_b - T_g)
        vented = box.vent * smooth_step((T_b - box.vent_temperature) / VENT_SPAN)[0]
        leak = box.leak * box.gap_capacity * (p_v - p_a)
        vent = vented * box.gap_capacity * (p_v - p_a)
        changed = 0.5 * box.gap_volume * DRY_AIR_SPECIFIC_HEAT * pressure / (DRY_AIR_GAS_CONSTANT * T_a)
        leak_heat_bed = (box.leak + vented) * changed * (T_b - T_a)
        leak_heat_condenser = (box.leak + vented) * changed * (T_c - T_a)
        draught = 0.0
        rain_on_bed = 0.0
    else:
        # The open bed: film and layer in series
        cool = pressure / (DRY_AIR_GAS_CONSTANT * T_a) * DRY_AIR_SPECIFIC_HEAT * LEWIS_FACTOR
        h_b = surface_coefficient(forced, T_s, T_a, box.bed_free, box.bed_free)[0]
        T_m = 0.5 * (T_a + T_s)
        air_to_bed = stefan_flow(box.open_area / (cool / h_b + box.layer_resistance), T_m, p_a, p_s, pressure)
        air_vapour_to_bed = air_to_bed * (VAPOUR_SPECIFIC_HEAT * (T_m - POOL_TEMPERATURE))
        bed_convection = h_b * box.open_area * (T_s - T_a)
        bed_longwave = longwave_loss(box.bed_emissivity, T_b, T_a, air[4], box.bed_sky_view)[0]
        # The condenser's and the glazing's inner side in the draught
        T_m = 0.5 * (T_a + T_c)
        air_to_condenser = stefan_flow(forced / cool * box.condenser_inner, T_m, p_a, film_c, pressure)
        air_to_condenser *= working_share(p_a - film_c, m_c)[0]
        air_vapour_to_condenser = air_to_condenser * (
            LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (T_m - FREEZING_POINT)
        )
        if exposed:
            film_g = film_pressure(T_g)[0]
            T_m = 0.5 * (T_a + T_g)
            air_to_glazing = stefan_flow(forced / cool, T_m, p_a, film_g, pressure)
            air_to_glazing *= working_share(p_a - film_g, m_g)[0]
            air_vapour_to_glazing = air_to_glazing * (
                LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (T_m - FREEZING_POINT)
            )
        elif covered:
            cover_convection = h_f * (T_b - T_g)
        leak = box.ventilation * box.gap_capacity * (p_v - p_a)
        rain_on_bed = box.rain_catch * air[8]
        draught = forced * box.condenser_inner

    # Sun, and radiation between the parts
    sun_absorber = air[5]
    if exposed:
        sun_absorber = air[5] * (1.0 - box.wet_loss * wetted_share(m_g)[0])
    sun_glazing = air[6]
    sun_condenser = box.stray_sun * air[7]
    if covered:
        cover_radiation = radiation_between(box.cover_emissivity, T_b, T_g)[0]
    rear_radiation = radiation_between(box.rear_emissivity, T_s, T_c)[0]

    # Outer surfaces
    glazing_longwave = longwave_loss(box.glazing_emissivity, T_g, T_a, air[4], box.glazing_sky_view)[0]
    h_g = surface_coefficient(forced, T_g, T_a, box.glazing_hot, box.glazing_cold)[0]
    glazing_convection = h_g * (T_g - T_a)
    h_c = surface_coefficient(forced, T_c, T_a, box.condenser_hot, box.condenser_cold)[0]
    condenser_convection = (h_c * box.condenser_outer + draught) * (T_c - T_a)
    condenser_longwave = longwave_loss(box.condenser_emissivity, T_c, T_a, air[4], box.condenser_sky_view)[0]
    edge_loss = box.edge_loss * (T_b - T_a)

    # What runs off, with its heat; water on the bed does not freeze
    collected = drained(m_c, box.condenser_holdup, T_c)[0]
    glazing_drained = drained(m_g, box.glazing_holdup, T_g)[0]
    bed_runoff = drained(m_l, box.bed_holdup, FREEZING_POINT + 20.0)[0]
    collected_heat = collected * LIQUID_SPECIFIC_HEAT * (T_c - FREEZING_POINT)
    glazing_drained_heat = glazing_drained * LIQUID_SPECIFIC_HEAT * (T_g - FREEZING_POINT)
    bed_runoff_heat = bed_runoff * LIQUID_SPECIFIC_HEAT * (T_s - FREEZING_POINT)
    rain_heat = rain_on_bed * LIQUID_SPECIFIC_HEAT * (T_a - FREEZING_POINT)


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


KERNEL: Final = flow_kernel(passive_box, SYMBOLS, [flow.name for flow in FLOWS], "passive_box")

PASSIVE_BOX = Kind(
    name="passive_box",
    unknowns=UNKNOWNS,
    flows=with_uses(FLOWS, KERNEL),
    fill_flows=KERNEL.fill,
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
