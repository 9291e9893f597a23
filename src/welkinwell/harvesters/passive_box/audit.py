"""The audit of the passive box: flows and stocks worked out again from what the march left behind.

Written from docs/theory/passive_box.md and docs/theory/transfer.md, for whole arrays of states, and sharing
no function with the march except the saturation curves. A balance that closes between these
flows and these stocks is no tautology.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    GRAVITY,
    LATENT_HEAT_AT_FREEZING,
    LIQUID_SPECIFIC_HEAT,
    STANDARD_PRESSURE,
    STEFAN_BOLTZMANN,
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
    wetted,
    working,
)
from welkinwell.moist_air import saturation_pressure

Array = NDArray[np.float64]

FLOWS: Final = (
    *("sorption", "bed_condensation", "gap_to_bed", "air_to_bed", "condensation", "glazing_condensation"),
    *("leak", "vent", "collected", "glazing_drained", "bed_runoff", "rain_on_bed", "air_to_condenser"),
    *(
        "air_to_glazing",
        "sun_absorber",
        "sun_glazing",
        "sun_condenser",
        "cover_radiation",
        "cover_convection",
    ),
    *("rear_radiation", "rear_convection", "glazing_longwave", "glazing_convection", "condenser_convection"),
    *("condenser_longwave", "edge_loss", "bed_convection", "bed_longwave", "leak_heat_bed"),
    *("leak_heat_condenser", "collected_heat", "glazing_drained_heat", "bed_runoff_heat", "rain_heat"),
    *("air_vapour_to_bed", "air_vapour_to_condenser", "air_vapour_to_glazing"),
)

LEWIS_FACTOR: Final = 0.905
NEARLY_DRY: Final = 1.0  # Pa, rounds the isotherm's corner at no vapour
MOLE: Final = 1.0 / (WATER_GAS_CONSTANT * BOOKING_TEMPERATURE)  # kg of vapour per m3 and Pa, as booked


def audited_flows(
    states: ArrayLike, air: ArrayLike, mode: ArrayLike, design: Any, sorbent: Any, site_pressure: float
) -> Array:
    """Work out every flow at given states.

    states: (9, n) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    air: (9, n) in the order of AirRecord [K, Pa, m/s, W/m2, kg/(m2 s)]
    mode: (n,) 1 open, 0 closed
    design: a PassiveBox
    sorbent: a Sorbent
    site_pressure: mean pressure of the site [Pa]
    returns: (37, n), rows as in FLOWS [kg/(m2 s) and W/m2]
    source: docs/theory/passive_box.md
    """
    seen = Seen(np.asarray(states, float), np.asarray(air, float), np.asarray(mode), design, site_pressure)
    layer = audited_layer_resistance(design, sorbent, site_pressure)
    face = design.bed_area * design.bed_effectiveness
    by_day, by_night = layer / face, layer / (face * design.open_faces)
    flow = flows_of_the_box(seen, sorbent, design.sorbent_mass, by_day, by_night)
    return np.array([np.broadcast_to(flow[name], seen.Tb.shape) for name in FLOWS])


def flows_of_the_box(
    seen: Seen, sorbent: Any, mass: float, way_by_day: float, way_by_night: float
) -> dict[str, Array]:
    """Every flow by name, with a mass of sorbent at the open face [kg/m2].

    way_by_day, way_by_night: resistance between that sorbent and the layer's surface, per aperture [s/m].
    """
    flow: dict[str, Array] = {}
    _water_in_the_bed(flow, seen, sorbent, mass, way_by_day, way_by_night)
    _water_on_surfaces(flow, seen)
    _sun_and_radiation(flow, seen)
    _convection(flow, seen)
    _carried_heat(flow, seen)
    return flow


def stocks_by_row(states: ArrayLike, design: Any, sorbent: Any) -> Array:
    """Work out the stock of every row.

    states: (9, k) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    design: a PassiveBox
    sorbent: a Sorbent
    returns: (9, k), heat rows [J/m2], water rows [kg/m2], per aperture; energies count from liquid
        water, dry solid and metal at 0 degC
    source: docs/theory/passive_box.md, section 1
    """
    Tg, Tb, Tc, w, ml, mg, mc, ps, pv = np.asarray(states, float)
    d = design
    solid = d.sorbent_mass * sorbent.dry_specific_heat + d.bed_metal * d.bed_metal_specific_heat
    wet = (d.sorbent_mass * w + ml) * LIQUID_SPECIFIC_HEAT
    bed = (solid + wet) * (Tb - FREEZING_POINT) + d.sorbent_mass * integral_enthalpies(sorbent, w, Tb)
    return np.array(
        [
            energy_of_glass(d, Tg, mg),
            bed,
            energy_of_condenser(d, Tc, mc),
            d.sorbent_mass * w,
            ml,
            mg,
            mc,
            MOLE * _pore_volume(d, sorbent) * ps,
            MOLE * d.gap_air_volume * pv,
        ]
    )


def audited_stocks(state: ArrayLike, design: Any, sorbent: Any) -> dict[str, float]:
    """Work out the water [kg/m2] and the energy [J/m2] that it holds in one state, as in stocks_by_row."""
    return held_in_all(stocks_by_row(np.asarray(state)[:, None], design, sorbent)[:, 0], 3, 7)


def energy_of_glass(design: Any, T: Array, film: Array) -> Array:
    """Energy of the glazing and its film over 0 degC [J/m2]."""
    glass = 2500.0 * 720.0 * design.glazing_thickness
    return glass * (T - FREEZING_POINT) + film * film_enthalpy(T)


def energy_of_condenser(design: Any, T: Array, film: Array) -> Array:
    """Energy of the condenser and its film over 0 degC [J/m2]."""
    metal = design.condenser_mass * design.condenser_specific_heat
    return metal * (T - FREEZING_POINT) + film * film_enthalpy(T)


class Seen:
    """States and surroundings by name, with what several flows share.

    face: temperature of the layer's open face, that of the bed if not given [K].
    """

    def __init__(
        self,
        states: Array,
        air: Array,
        mode: NDArray[Any],
        design: Any,
        site_pressure: float,
        face: Array | None = None,
    ):
        self.d = design
        self.Tg, self.Tb, self.Tc, self.w, self.ml, self.mg, self.mc, self.ps, self.pv = states
        self.Ts = self.Tb if face is None else face
        self.Ta, self.pa, self.P, self.V, self.sky, self.Sa, self.Sg, self.plane, self.rain = air
        self.open = mode == 1
        self.closed = ~self.open
        self.exposed = not design.front_gap_sealed
        self.density = self.P / (DRY_AIR_GAS_CONSTANT * self.Ta)
        thinness = site_pressure / STANDARD_PRESSURE
        self.thin_squared = thinness**2  # the cube of buoyancy's coefficient goes as the Rayleigh number
        self.forced = design.wind_constant * np.cbrt(self.thin_squared)
        self.forced = self.forced + design.wind_slope * (self.V * thinness)
        self.rear_mean = 0.5 * (self.Ts + self.Tc)
        self.front_mean = 0.5 * (self.Tb + self.Tg)
        self.bed_air_mean = 0.5 * (self.Ta + self.Ts)
        self.vent_share = smooth_step((self.Tb - design.vent_temperature) / 5.0)
        beyond = 2.0 * self.pv - self.ps
        self.rear_heat, self.rear_mass = self._rear_gap(beyond)
        dry = np.zeros_like(self.ps)
        front = (self.ps, beyond) if self.exposed else (dry, dry)
        self.front_heat, self.front_mass = gap_coefficients(
            self.Tb, self.Tg, *front, self.P, design.front_gap, design.tilt
        )
        self.front_heat = design.front_insulation * self.front_heat
        self.bed_surface = self.surface(
            self.Ts - self.Ta, unstable_constant(design.tilt), unstable_constant(design.tilt)
        )

    def _rear_gap(self, beyond: Array) -> tuple[Array, Array]:
        d = self.d
        place = d.condenser_position
        if place == "below" and d.gap_circulation == "stratified":
            return gap_coefficients(self.Ts, self.Tc, self.ps, beyond, self.P, d.rear_gap, None)
        angle = {"below": np.pi - d.tilt, "above": d.tilt, "beside": 0.5 * np.pi}[place]
        return gap_coefficients(self.Ts, self.Tc, self.ps, beyond, self.P, d.rear_gap, angle)

    def surface(self, rise: Array, warmer: float, colder: float) -> Array:
        """Coefficient of a surface in wind; the constants are for a surface warmer or colder than air."""
        free = np.where(rise > 0.0, warmer, colder) ** 3 * rise**2 / np.sqrt(rise**2 + 1.0)
        return np.cbrt(self.forced**3 + free * self.thin_squared)

    def to_air(self) -> Array:
        """Mass transfer coefficient of a surface in wind [m/s]."""
        return self.forced / (self.density * DRY_AIR_SPECIFIC_HEAT * LEWIS_FACTOR)

    def outside(self, emissivity: float, temperature: Array, sky_view: float) -> Array:
        """Net longwave from a surface to sky and ground."""
        ground = (1.0 - sky_view) * STEFAN_BOLTZMANN * self.Ta**4
        return emissivity * (STEFAN_BOLTZMANN * temperature**4 - sky_view * self.sky - ground)


def _water_in_the_bed(
    flow: dict[str, Array], seen: Seen, sorbent: Any, mass: float, way_by_day: float, way_by_night: float
) -> None:
    d = seen.d
    saturated = saturation_pressure(seen.Ts)
    face = d.bed_area * d.bed_effectiveness * d.open_faces
    humidity = 0.5 * (seen.ps + np.sqrt(seen.ps**2 + NEARLY_DRY**2)) / saturated
    flow["sorption"] = mass * uptake_rate(sorbent, seen.Ts, humidity, seen.w)
    excess = seen.ps - saturated
    flow["bed_condensation"] = d.bed_area * 0.05 * MOLE * excess * working(excess, seen.ml)
    way = np.zeros_like(seen.P)
    if d.release_face != "front":
        way = way + 2.0 * seen.rear_mass
    if d.release_face != "rear":
        way = way + 2.0 * seen.front_mass
    between = seen.front_mean if d.release_face == "front" else seen.rear_mean
    inward = _stefan(1.0 / (1.0 / way + way_by_day), between, seen.pv, seen.ps, seen.P)
    flow["gap_to_bed"] = np.where(seen.closed, inward, 0.0)
    film = seen.density * DRY_AIR_SPECIFIC_HEAT * LEWIS_FACTOR / seen.bed_surface
    uptake = _stefan(1.0 / (film / face + way_by_night), seen.bed_air_mean, seen.pa, seen.ps, seen.P)
    flow["air_to_bed"] = np.where(seen.open, uptake, 0.0)
    flow["bed_runoff"] = overflow(seen.ml, d.bed_holdup * d.bed_area)
    flow["rain_on_bed"] = np.where(seen.open, d.rain_catch * seen.rain, 0.0)


def _water_on_surfaces(flow: dict[str, Array], seen: Seen) -> None:
    d = seen.d
    area = d.condenser_inner_area
    over_metal, over_glass = film_pressure(seen.Tc), film_pressure(seen.Tg)
    arrives = _stefan(2.0 * seen.rear_mass * area, seen.rear_mean, seen.pv, over_metal, seen.P)
    flow["condensation"] = np.where(seen.closed, arrives * working(seen.pv - over_metal, seen.mc), 0.0)
    fogs = _stefan(2.0 * seen.front_mass, seen.front_mean, seen.pv, over_glass, seen.P)
    fogs = fogs * working(seen.pv - over_glass, seen.mg)
    flow["glazing_condensation"] = np.where(seen.closed & seen.exposed, fogs, 0.0)
    changes = np.where(seen.open, d.open_ventilation, d.leak)
    outward = d.gap_air_volume * MOLE * (seen.pv - seen.pa)
    flow["leak"] = changes * outward
    flow["vent"] = np.where(seen.closed, d.vent_air_changes * seen.vent_share * outward, 0.0)
    flow["collected"] = (1.0 - ice_share(seen.Tc)) * overflow(seen.mc, d.condenser_holdup * area)
    flow["glazing_drained"] = (1.0 - ice_share(seen.Tg)) * overflow(seen.mg, d.glazing_holdup)
    mean = 0.5 * (seen.Ta + seen.Tc)
    dew = _stefan(seen.to_air() * area, mean, seen.pa, over_metal, seen.P)
    dew = dew * working(seen.pa - over_metal, seen.mc)
    flow["air_to_condenser"] = np.where(seen.open, dew, 0.0)
    mean = 0.5 * (seen.Ta + seen.Tg)
    dew = _stefan(seen.to_air(), mean, seen.pa, over_glass, seen.P)
    dew = dew * working(seen.pa - over_glass, seen.mg)
    flow["air_to_glazing"] = np.where(seen.open & seen.exposed, dew, 0.0)


def _sun_and_radiation(flow: dict[str, Array], seen: Seen) -> None:
    d = seen.d
    shade = d.wet_glass_loss * wetted(seen.mg) if seen.exposed else 0.0
    flow["sun_absorber"] = seen.Sa * (1.0 - shade)
    flow["sun_glazing"] = seen.Sg
    flow["sun_condenser"] = d.condenser_stray_sun * seen.plane
    exchange = STEFAN_BOLTZMANN / (1.0 / d.absorber_emissivity + 1.0 / d.glazing_emissivity - 1.0)
    lifted = seen.open & d.cover_opens
    flow["cover_radiation"] = np.where(lifted, 0.0, exchange * (seen.Tb**4 - seen.Tg**4))
    flow["rear_radiation"] = d.bed_condenser_emissivity * STEFAN_BOLTZMANN * (seen.Ts**4 - seen.Tc**4)
    flow["glazing_longwave"] = seen.outside(d.glazing_emissivity, seen.Tg, 0.5 * (1.0 + np.cos(d.tilt)))
    flow["condenser_longwave"] = seen.outside(d.condenser_emissivity, seen.Tc, d.condenser_sky_view)
    bare = seen.outside(d.bed_open_emissivity, seen.Tb, d.bed_sky_view)
    flow["bed_longwave"] = np.where(seen.open, bare, 0.0)


def _convection(flow: dict[str, Array], seen: Seen) -> None:
    d = seen.d
    front = _with_vapour(seen.front_heat, flow["glazing_condensation"], seen.Tb, seen.Tg)
    if seen.exposed:
        flow["cover_convection"] = np.where(seen.open, 0.0, front)
    else:
        lifted = seen.open & d.cover_opens
        flow["cover_convection"] = np.where(lifted, 0.0, seen.front_heat * (seen.Tb - seen.Tg))
    rear = _with_vapour(seen.rear_heat, flow["condensation"], seen.Ts, seen.Tc)
    flow["rear_convection"] = np.where(seen.closed, rear, 0.0)
    up, down = unstable_constant(d.tilt), stable_constant(d.tilt)
    flow["glazing_convection"] = seen.surface(seen.Tg - seen.Ta, up, down) * (seen.Tg - seen.Ta)
    warmer, colder = {
        "below": (down, up),
        "above": (up, down),
        "beside": (unstable_constant(0.5 * np.pi), stable_constant(0.5 * np.pi)),
    }[d.condenser_position]
    excess = seen.Tc - seen.Ta
    fins = seen.surface(excess, warmer, colder) * d.condenser_outer_area * d.condenser_fin_efficiency
    inner = np.where(seen.open, seen.forced * d.condenser_inner_area, 0.0)
    flow["condenser_convection"] = (fins + inner) * excess
    flow["edge_loss"] = d.edge_loss * (seen.Tb - seen.Ta)
    faces = d.bed_area * d.bed_effectiveness * d.open_faces
    flow["bed_convection"] = np.where(seen.open, seen.bed_surface * faces * (seen.Ts - seen.Ta), 0.0)
    exchange = d.gap_air_volume * seen.density * DRY_AIR_SPECIFIC_HEAT
    each = np.where(seen.closed, 0.5 * (d.leak + d.vent_air_changes * seen.vent_share) * exchange, 0.0)
    flow["leak_heat_bed"] = each * (seen.Tb - seen.Ta)
    flow["leak_heat_condenser"] = each * (seen.Tc - seen.Ta)


def _carried_heat(flow: dict[str, Array], seen: Seen) -> None:
    c_l, c_v = LIQUID_SPECIFIC_HEAT, VAPOUR_SPECIFIC_HEAT
    flow["collected_heat"] = flow["collected"] * c_l * (seen.Tc - FREEZING_POINT)
    flow["glazing_drained_heat"] = flow["glazing_drained"] * c_l * (seen.Tg - FREEZING_POINT)
    flow["bed_runoff_heat"] = flow["bed_runoff"] * c_l * (seen.Ts - FREEZING_POINT)
    flow["rain_heat"] = flow["rain_on_bed"] * c_l * (seen.Ta - FREEZING_POINT)
    flow["air_vapour_to_bed"] = flow["air_to_bed"] * c_v * (seen.bed_air_mean - BOOKING_TEMPERATURE)
    for name, T in (("condenser", seen.Tc), ("glazing", seen.Tg)):
        vapour = LATENT_HEAT_AT_FREEZING + c_v * (0.5 * (seen.Ta + T) - FREEZING_POINT)
        flow[f"air_vapour_to_{name}"] = flow[f"air_to_{name}"] * vapour


def circulation(rayleigh: Array, inclination: float) -> Array:
    """Nusselt number of a flat gap [1]; 1 where the lighter air lies on top.

    rayleigh: on the gap's width [1]; inclination: 0 light surface below, pi light surface above [rad]
    source: Hollands1976, Elsherbiny1982, Arnold1976; the table of docs/theory/transfer.md
    """
    moving = np.clip(rayleigh, 1.0, 1e12)
    if inclination <= np.pi / 3.0:
        found = _tilted(moving, inclination)
    elif inclination < 0.5 * np.pi:
        to_upright = (inclination - np.pi / 3.0) / (np.pi / 6.0)
        found = (1.0 - to_upright) * _tilted(moving, np.pi / 3.0) + to_upright * _upright(moving)
    else:
        found = 1.0 + (_upright(moving) - 1.0) * max(np.sin(inclination), 0.0)
    return np.where(rayleigh > 1.0, found, 1.0)


def _tilted(rayleigh: Array, inclination: float) -> Array:
    """Nusselt number up to 60 degrees (Hollands1976)."""
    x = rayleigh * np.cos(inclination)
    below_onset = 1708.0 / x
    damped = 1.0 - below_onset * max(np.sin(1.8 * inclination), 0.0) ** 1.6
    rolls = 1.44 * _rounded(1.0 - below_onset) * damped
    return np.where(x < 1000.0, 1.0, 1.0 + rolls + _rounded(np.cbrt(x / 5830.0) - 1.0))


def _upright(rayleigh: Array) -> Array:
    """Nusselt number of a tall vertical gap, the larger of two laws (Elsherbiny1982)."""
    single = np.cbrt(1.0 + (0.104 * rayleigh**0.293 / (1.0 + (6310.0 / rayleigh) ** 1.36)) ** 3)
    return single + _rounded(0.0605 * np.cbrt(rayleigh) - single)


def _rounded(z: Array) -> Array:
    """The larger of z and 0, its corner rounded over 0.05."""
    near = (np.clip(z, -0.05, 0.05) + 0.05) ** 2 / 0.2
    return np.where(z > 0.05, z, near)


def gap_coefficients(
    T1: Array, T2: Array, p1: Array, p2: Array, pressure: Array, width: float, angle: float | None
) -> tuple[Array, Array]:
    """Heat [W/(m2 K)] and mass [m/s] coefficients between two plates; no angle means no circulation."""
    mean = 0.5 * (T1 + T2)
    celsius = mean - FREEZING_POINT
    conductivity = 0.02436 + 7.34e-5 * celsius
    nusselt = np.ones_like(mean)
    if angle is not None:
        viscosity = 1.7218e-5 + 4.72e-8 * celsius
        light_1 = T1 / (1.0 - 0.378 * np.clip(p1 / pressure, -0.5, 0.95))
        light_2 = T2 / (1.0 - 0.378 * np.clip(p2 / pressure, -0.5, 0.95))
        lift = 2.0 * (light_1 - light_2) / (light_1 + light_2)
        density = pressure / (DRY_AIR_GAS_CONSTANT * mean)
        spread = density**2 * DRY_AIR_SPECIFIC_HEAT / (viscosity * conductivity)
        rayleigh = GRAVITY * lift * width**3 * spread
        nusselt = circulation(rayleigh, angle)
    return nusselt * conductivity / width, nusselt * _diffusivity(mean, pressure) / width


def _with_vapour(coefficient: Array, vapour: Array, hot: Array, cold: Array) -> Array:
    """Heat between two plates with vapour streaming from one to the other (Ackermann)."""
    half = 0.5 * vapour * VAPOUR_SPECIFIC_HEAT / coefficient
    still = np.abs(half) < 1e-7
    gain = np.where(still, 1.0, half / np.tanh(np.where(still, 1.0, half)))
    carried = vapour * VAPOUR_SPECIFIC_HEAT * (0.5 * (hot + cold) - BOOKING_TEMPERATURE)
    return coefficient * gain * (hot - cold) + carried


def _stefan(coefficient: Array, T: Array, p1: Array, p2: Array, pressure: Array) -> Array:
    """One-sided diffusion from p1 to p2 [kg/(m2 s)]."""
    scale = coefficient * pressure / (WATER_GAS_CONSTANT * T)
    return scale * (_log_of_the_rest(p2 / pressure) - _log_of_the_rest(p1 / pressure))


def _log_of_the_rest(share: Array) -> Array:
    """ln(1 - x), continued by its tangent above x = 0.9."""
    inside = np.minimum(share, 0.9)
    return np.log1p(-inside) - (share - inside) / 0.1


def _diffusivity(T: Any, pressure: Any) -> Any:
    return 2.178e-5 * (T / FREEZING_POINT) ** 1.81 * (STANDARD_PRESSURE / pressure)


def audited_layer_resistance(design: Any, sorbent: Any, site_pressure: float) -> float:
    """Of one m2 of layer to vapour [s/m]; a rate that covers the layer leaves none."""
    if sorbent.layer_porosity <= 0.0 or getattr(sorbent, "rate_covers_layer", False):
        return 0.0
    through = sorbent.layer_porosity**1.5 * _diffusivity(BOOKING_TEMPERATURE, site_pressure)
    return float(design.layer_thickness / (3.0 * through))


def _pore_volume(design: Any, sorbent: Any) -> float:
    return float(max(sorbent.layer_porosity, 0.05) * design.layer_thickness * design.bed_area)


def unstable_constant(tilt: float) -> float:
    """Free convection of a plate warmer than the air above it, tilt [rad], in W/(m2 K^(4/3)) (Walton1983)."""
    return float(9.482 / (7.283 - abs(np.cos(tilt))))


def stable_constant(tilt: float) -> float:
    """The same for a plate colder than what lies above it."""
    return float(1.810 / (1.382 + abs(np.cos(tilt))))


def boundary() -> tuple[Array, Array]:
    """What one unit of each flow brings into the whole box.

    returns: water [kg per kg] and energy [J per kg or J per J], shape (37,) each, rows as in FLOWS. Flows
        inside the box bring nothing; vapour that enters or leaves the two air spaces brings the heat at
        which it is booked there.
    source: docs/theory/passive_box.md, sections 1 and 4
    """
    water = dict.fromkeys(FLOWS, 0.0)
    energy = dict.fromkeys(FLOWS, 0.0)
    for name in ("air_to_bed", "rain_on_bed", "air_to_condenser", "air_to_glazing"):
        water[name] = 1.0
    for name in ("leak", "vent", "collected", "glazing_drained", "bed_runoff"):
        water[name] = -1.0
    energy["air_to_bed"] = BOOKED_HEAT
    energy["leak"] = energy["vent"] = -BOOKED_HEAT
    for name in ("sun_absorber", "sun_glazing", "sun_condenser", "rain_heat"):
        energy[name] = 1.0
    for name in ("air_vapour_to_bed", "air_vapour_to_condenser", "air_vapour_to_glazing"):
        energy[name] = 1.0
    for name in (
        *("glazing_longwave", "glazing_convection", "condenser_convection", "condenser_longwave"),
        *("edge_loss", "bed_convection", "bed_longwave", "leak_heat_bed", "leak_heat_condenser"),
        *("collected_heat", "glazing_drained_heat", "bed_runoff_heat"),
    ):
        energy[name] = -1.0
    return np.array([water[n] for n in FLOWS]), np.array([energy[n] for n in FLOWS])
