"""The desiccant wheel inside the march: its numbers, stocks and flows, compiled.

docs/theory/desiccant_wheel.md holds the equations; the row, unknown and flow numbers here are the ones there.
Slopes come by differences.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

from welkinwell.compiled import njit
from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    LIQUID_SPECIFIC_HEAT,
    MOLAR_MASS_RATIO,
    VAPOUR_SPECIFIC_HEAT,
)
from welkinwell.harvesters.desiccant_wheel.design import DesiccantWheel
from welkinwell.harvesters.harvester import OUTSIDE, Flow, Kind, Unknown, slope_sizes
from welkinwell.moist_air.saturation import log_saturation_pressure, saturation_pressure_and_slope
from welkinwell.moist_air.transport import dry_air_viscosity, vapour_diffusivity
from welkinwell.numerics.slopes import with_difference_slopes
from welkinwell.parts.bed import (
    POOL_DENSITY,
    POOL_ENTHALPY,
    POOL_TEMPERATURE,
    air_passage,
    bed_enthalpy,
    bed_temperature,
    equilibrium_loading,
    humidity_ratio_of,
    loading_rate,
    taken_share,
)
from welkinwell.parts.fan import fan_power
from welkinwell.parts.film import (
    drained,
    film_enthalpy,
    film_pressure,
    smooth_step,
    temperature_with_film,
    working_share,
)
from welkinwell.parts.heat_pump import heating_cop
from welkinwell.parts.wheel import sorbed_heat, turned_heat
from welkinwell.sorbents.potential import largest_loading, potential_at_loading
from welkinwell.transfer.ducts import SHAPES, duct_gradient
from welkinwell.transfer.layers import layer_resistance
from welkinwell.transfer.smooth_bounds import positive_part

PROCESS_AIR: Final = 298.15  # K, at which the properties of the outdoor air are taken
LOOP_AIR: Final = 335.0  # K, and of the heated air
HEATER_BAND: Final = 2.0  # K, over which the heater passes from its power to its temperature; numerical width
CONDENSER_BAND: Final = 2.0  # K over the outdoor air, over which the condenser's fan comes on; assumed
STILL_COEFFICIENT: Final = 3.0  # W/(m2 K) at the condenser in still air (value from memory)
LEAST_PRESSURE: Final = 1e-3  # Pa, under the logarithm only

STOPPED: Final = 0
TURNING: Final = 1

CELLS: Final = 3  # parts in each stream, along the turn
PARTS: Final = 2 * CELLS  # the first half stands in the outdoor air, the other in the hot air
FIRST_HOT: Final = CELLS
# Places of the unknowns: a temperature, loading and vapour pressure for each part
TC: Final = PARTS
W: Final = PARTS + 1
MC: Final = 2 * PARTS + 1
P: Final = 2 * PARTS + 2
PL: Final = 3 * PARTS + 2
UNKNOWN_COUNT: Final = PL + 1
PART_NAMES: Final = (
    *(f"process_{{}}_{k + 1}" for k in range(CELLS)),
    *(f"regeneration_{{}}_{k + 1}" for k in range(CELLS)),
)
LABELS: Final = (
    *(f"outdoor air {k + 1}" for k in range(CELLS)),
    *(f"hot air {k + 1}" for k in range(CELLS)),
)
UNKNOWNS = (
    *(
        Unknown(name.format("temperature"), "K", 100.0, "heat", 300.0, label)
        for name, label in zip(PART_NAMES, LABELS, strict=True)
    ),
    Unknown("condenser_temperature", "K", 100.0, "heat", 300.0, "condenser"),
    *(Unknown(name.format("loading"), "kg/kg", 1.0, "water", 0.1) for name in PART_NAMES),
    Unknown("condenser_film", "kg/m2", 2.0, "water", 5.0),
    *(Unknown(name.format("vapour_pressure"), "Pa", 20.0, "water", 2000.0) for name in PART_NAMES),
    Unknown("loop_vapour_pressure", "Pa", 20.0, "water", 2000.0),
)
EVERY: Final = tuple(range(UNKNOWN_COUNT))
HOT: Final = (*range(FIRST_HOT, PARTS), TC, PL)  # temperatures of the hot parts and what the loop brings


def _water(name: str, start: int, end: int, uses: tuple[int, ...] = EVERY, warms: int = OUTSIDE) -> Flow:
    """A flow of water; `warms` names the heat row that gains the pool's enthalpy with it."""
    return Flow(name, "kg/(m2 s)", start, end, uses, ((warms, POOL_ENTHALPY),) if warms != OUTSIDE else ())


def _heat(name: str, start: int, end: int, uses: tuple[int, ...] = EVERY) -> Flow:
    return Flow(name, "W/m2", start, end, uses)


def _next(part: int) -> int:
    return (part + 1) % PARTS


# Places of the flows
SORPTION: Final = 0
TURNED_WATER: Final = PARTS
TURNED_VAPOUR: Final = 2 * PARTS
TURNED_HEAT: Final = 3 * PARTS
TAKEN: Final = 4 * PARTS
BACK: Final = TAKEN + CELLS
CONVECTION: Final = BACK + CELLS
VAPOUR_HEAT: Final = CONVECTION + CELLS
TO_LOOP: Final = VAPOUR_HEAT + CELLS
LOOP_HEAT: Final = TO_LOOP + CELLS
HEATING: Final = LOOP_HEAT + CELLS
EDGE: Final = HEATING + CELLS
ONCE: Final = EDGE + CELLS
FLOWS = (
    *(
        _water(PART_NAMES[i].format("sorption"), P + i, W + i, (i, W + i, P + i), warms=i)
        for i in range(PARTS)
    ),
    *(_water(f"turned_water_{i + 1}", W + i, W + _next(i), (W + i,)) for i in range(PARTS)),
    *(_water(f"turned_vapour_{i + 1}", P + i, P + _next(i), (P + i,)) for i in range(PARTS)),
    *(_heat(f"turned_heat_{i + 1}", i, _next(i)) for i in range(PARTS)),
    *(_water(f"air_to_wheel_{k + 1}", OUTSIDE, P + k, (P + k,)) for k in range(CELLS)),
    *(_water(f"wheel_to_air_{k + 1}", P + k, OUTSIDE, (P + k,)) for k in range(CELLS)),
    *(_heat(f"wheel_convection_{k + 1}", k, OUTSIDE, (k, P + k)) for k in range(CELLS)),
    *(_heat(f"air_vapour_to_wheel_{k + 1}", OUTSIDE, k, (P + k,)) for k in range(CELLS)),
    *(
        _water(f"wheel_to_loop_{k + 1}", P + FIRST_HOT + k, PL, (P + FIRST_HOT + k, TC, PL))
        for k in range(CELLS)
    ),
    *(_heat(f"loop_heat_{k + 1}", FIRST_HOT + k, TC, (*HOT, P + FIRST_HOT + k)) for k in range(CELLS)),
    *(_heat(f"wheel_heating_{k + 1}", OUTSIDE, FIRST_HOT + k, HOT) for k in range(CELLS)),
    *(_heat(f"wheel_edge_loss_{k + 1}", FIRST_HOT + k, OUTSIDE, (FIRST_HOT + k,)) for k in range(CELLS)),
    _water("condensation", PL, MC, warms=TC),
    _water("leak", PL, OUTSIDE),
    _water("collected", MC, OUTSIDE, (TC, MC)),
    _heat("leak_heat_bed", PARTS - 1, OUTSIDE),
    _heat("condenser_convection", TC, OUTSIDE, (TC,)),
    _heat("collected_heat", TC, OUTSIDE, (TC, MC)),
    _heat("source_heat", TC, OUTSIDE, HOT),
    _heat("loop_fan_heat", OUTSIDE, PARTS - 1, ()),
    # what the meters count; no stock changes by it
    _heat("wheel_fan_power", OUTSIDE, OUTSIDE, ()),
    _heat("cooling_fan_power", OUTSIDE, OUTSIDE, (TC,)),
    _heat("heater_power", OUTSIDE, OUTSIDE, HOT),
    _heat("wheel_control_power", OUTSIDE, OUTSIDE, ()),
)


class WheelNumbers(NamedTuple):
    """What the compiled wheel reads: SI numbers per m2 of the whole face, made once from a design."""

    dry_heat: float  # J/(kg K), dry sorbent and carrier, per dry sorbent
    process_mass: float  # kg/m2, dry sorbent in the outdoor air
    regeneration_mass: float  # kg/m2, dry sorbent in the hot air
    condenser_heat: float  # J/(m2 K)
    process_pores: float  # kg/(m2 Pa)
    regeneration_pores: float
    loop_capacity: float
    turning: float  # kg/(m2 s), dry sorbent
    turning_pores: float  # kg/(m2 s Pa), vapour in the channels
    process_velocity: float  # m/s, per whole face
    process_heat: float  # W/(m2 K), air to wheel
    process_vapour: float  # kg/(m2 s)
    loop_velocity: float
    loop_heat: float
    loop_vapour: float
    recovery: float
    seal_leak: float
    edge_loss: float
    process_fan: float  # W/m2
    loop_fan: float
    heat_pump: float  # 0 or 1
    hot: float  # K
    heating_power: float  # W/m2
    source_is_condenser: float  # 0 or 1
    second_law: float
    approach: float  # K
    condenser_area: float
    condenser_coefficient: float
    condenser_conductance: float
    still_share: float
    condenser_fan: float  # W/m2
    condenser_holdup: float  # kg/m2 of face
    control: float  # W/m2


def _passage(
    design: DesiccantWheel, sorbent: Any, share: float, velocity: float, temperature: float, pressure: float
) -> tuple[float, float, float]:
    """Heat and mass conductance of a part of the wheel, and its pressure drop [W/(m2 K), kg/(m2 s), Pa]."""
    shape = SHAPES[design.channel_shape]
    inside = 0.0
    if sorbent.layer_porosity > 0.0 and not sorbent.rate_covers_layer:
        diffusivity = sorbent.layer_porosity**1.5 * vapour_diffusivity(temperature, pressure)
        inside = layer_resistance(design.coating_thickness, diffusivity)
    speed = velocity / design.channel_share
    drop = duct_gradient(speed, design.channel_size, shape.friction, dry_air_viscosity(temperature))
    surface = share * design.channel_surface
    heat, mass = air_passage(
        surface, design.channel_size, shape.nusselt, shape.nusselt, inside, temperature, pressure
    )
    return heat, mass, drop * design.wheel_depth


def wheel_numbers(design: DesiccantWheel, sorbent: Any, site_pressure: float) -> WheelNumbers:
    """Turn a design, a sorbent and the site's pressure [Pa] into the numbers that the march reads.

    The design's regeneration_temperature must be set (simulate.prepare does it).
    """
    assert design.regeneration_temperature is not None
    share = design.process_share
    rest = 1.0 - share
    process = _passage(design, sorbent, share, design.face_velocity, PROCESS_AIR, site_pressure)
    loop = _passage(design, sorbent, rest, design.regeneration_velocity, LOOP_AIR, site_pressure)
    carrier = design.wheel_substrate * design.substrate_specific_heat / design.sorbent_mass
    pores = design.channel_share * design.wheel_depth * POOL_DENSITY
    eta = design.fan_efficiency
    return WheelNumbers(
        dry_heat=sorbent.dry_specific_heat + carrier,
        process_mass=share * design.sorbent_mass,
        regeneration_mass=rest * design.sorbent_mass,
        condenser_heat=design.condenser_mass * design.condenser_specific_heat,
        process_pores=share * pores,
        regeneration_pores=rest * pores,
        loop_capacity=design.loop_air_volume * POOL_DENSITY,
        turning=design.sorbent_mass * design.wheel_revolutions,
        turning_pores=pores * design.wheel_revolutions,
        process_velocity=share * design.face_velocity,
        process_heat=process[0],
        process_vapour=process[1],
        loop_velocity=rest * design.regeneration_velocity,
        loop_heat=loop[0],
        loop_vapour=loop[1],
        recovery=design.heat_recovery,
        seal_leak=design.seal_leak,
        edge_loss=design.edge_loss,
        process_fan=fan_power(share * design.face_velocity, process[2] + design.housing_pressure, eta),
        loop_fan=fan_power(rest * design.regeneration_velocity, loop[2] + design.loop_pressure, eta),
        heat_pump=float(design.heat_by == "heat_pump"),
        hot=design.regeneration_temperature,
        heating_power=design.heating_power,
        source_is_condenser=float(design.heat_pump_source == "condenser"),
        second_law=design.second_law_efficiency,
        approach=design.heat_pump_approach,
        condenser_area=design.condenser_area,
        condenser_coefficient=design.condenser_coefficient,
        condenser_conductance=design.condenser_conductance,
        still_share=design.condenser_still_share,
        condenser_fan=design.condenser_fan_power,
        condenser_holdup=design.condenser_holdup * design.condenser_area,
        control=design.control_power / design.face_area,
    )


@njit(cache=True)
def heated_loop(T_w, T_c, by_wheel, by_condenser, recovery, most, hot):
    """Return the loop air's temperatures before and behind the wheel, behind the condenser, at the heater.

    Every one is a straight line of the temperature before the wheel; the heater lifts by `most` [K] where it
    is short of power, and else to `hot` [K]. T_w, T_c: wheel and condenser [K]; by_wheel, by_condenser: share
    of the way to them that the air goes; recovery: of the exchanger, equal flows.
    """
    a = 1.0 - by_wheel
    e = 1.0 - by_condenser
    cold_of = T_c * by_condenser / (1.0 - e * recovery)
    share = e * (1.0 - recovery) / (1.0 - e * recovery)
    # entering the heater = g + k (before the wheel)
    warm = recovery + (1.0 - recovery) * share
    g = (1.0 - recovery) * cold_of + warm * by_wheel * T_w
    k = warm * a
    short = (g + most) / (1.0 - k)
    before = short - positive_part(short - hot, HEATER_BAND)[0]
    behind = T_w * by_wheel + a * before
    cold = cold_of + share * behind
    return before, behind, cold, g + k * before


@njit(cache=True)
def _turn(y, wheel, row, phi):
    """Fill what turns on from each part into the next: water, vapour in the channels, heat."""
    bound = 0.0  # heat of sorption over that of the first part, by trapezia from part to part [J/kg dry]
    e_last = 0.0
    for i in range(PARTS):
        T = y[i]
        w = y[W + i]
        e = sorbed_heat(equilibrium_loading(T, y[P + i], log_saturation_pressure(T)[0], row)[1], T, row)
        if i > 0:
            bound += 0.5 * (e + e_last) * (w - y[W + i - 1])
        e_last = e
        phi[TURNED_WATER + i] = wheel.turning * w
        phi[TURNED_VAPOUR + i] = wheel.turning_pores * y[P + i]
        phi[TURNED_HEAT + i] = turned_heat(wheel.turning, wheel.dry_heat, T, w, bound)


@njit(cache=True)
def _take_up(y, air, wheel, phi):
    """Fill what the outdoor air brings to its parts of the wheel."""
    T_a = air[0]
    outside = humidity_ratio_of(air[1], air[2])
    stream = wheel.process_velocity * air[2] / (DRY_AIR_GAS_CONSTANT * T_a) / CELLS
    for k in range(CELLS):
        taken = stream * taken_share(wheel.process_vapour / CELLS, stream)
        taken *= outside - humidity_ratio_of(y[P + k], air[2])
        phi[TAKEN + k] = max(taken, 0.0)
        phi[BACK + k] = max(-taken, 0.0)
        behind = outside - taken / max(stream, 1e-12)
        capacity = stream * (DRY_AIR_SPECIFIC_HEAT + behind * VAPOUR_SPECIFIC_HEAT)
        phi[CONVECTION + k] = capacity * taken_share(wheel.process_heat / CELLS, capacity) * (y[k] - T_a)
        phi[VAPOUR_HEAT + k] = taken * VAPOUR_SPECIFIC_HEAT * (T_a - POOL_TEMPERATURE)


@njit(cache=True)
def _go_round(y, air, wheel, at_film, film, phi):
    """Fill what the loop's air takes from the hot parts to the condenser, and what heats it."""
    T_a = air[0]
    T_c = y[TC]
    pressure = air[2]
    in_loop = humidity_ratio_of(y[PL], pressure)
    washed = wheel.condenser_coefficient * wheel.condenser_area
    stream = wheel.loop_velocity * pressure / (DRY_AIR_GAS_CONSTANT * T_c)
    capacity = stream * (DRY_AIR_SPECIFIC_HEAT + in_loop * VAPOUR_SPECIFIC_HEAT)
    to_wheel = taken_share(wheel.loop_heat, capacity)
    T_wheel = 0.0
    for k in range(CELLS):
        T_wheel += y[FIRST_HOT + k] / CELLS
    T_before, T_behind, _, T_unheated = heated_loop(
        T_wheel,
        T_c,
        to_wheel,
        taken_share(washed, capacity),
        wheel.recovery,
        wheel.heating_power / capacity,
        wheel.hot,
    )
    given = stream * taken_share(wheel.loop_vapour, stream) / CELLS
    behind = in_loop
    for k in range(CELLS):
        J = given * (humidity_ratio_of(y[P + FIRST_HOT + k], pressure) - in_loop)
        behind += J / stream
        leaving = T_before + to_wheel * (y[FIRST_HOT + k] - T_before)
        phi[TO_LOOP + k] = J
        phi[LOOP_HEAT + k] = capacity / CELLS * (leaving - T_unheated)
        phi[LOOP_HEAT + k] += J * VAPOUR_SPECIFIC_HEAT * (leaving - POOL_TEMPERATURE)
        phi[HEATING + k] = capacity / CELLS * (T_before - T_unheated)
    heat = capacity * (T_before - T_unheated)
    over_film = pressure * behind / (MOLAR_MASS_RATIO + behind) - film
    onto = stream * taken_share(washed / DRY_AIR_SPECIFIC_HEAT, stream) * (behind - at_film)
    phi[ONCE] = onto * working_share(over_film, y[MC] / wheel.condenser_area)[0]
    leaking = wheel.seal_leak * stream
    T_mean = 0.5 * (T_before + T_behind)
    phi[ONCE + 1] = leaking * (0.5 * (in_loop + behind) - humidity_ratio_of(air[1], pressure))
    phi[ONCE + 3] = leaking * DRY_AIR_SPECIFIC_HEAT * (T_mean - T_a)
    phi[ONCE + 3] += phi[ONCE + 1] * VAPOUR_SPECIFIC_HEAT * (T_mean - POOL_TEMPERATURE)
    phi[ONCE + 7] = wheel.loop_fan
    phi[ONCE + 8] = wheel.process_fan + wheel.loop_fan
    phi[ONCE + 10] = heat
    if wheel.heat_pump > 0.0:
        source = T_c if wheel.source_is_condenser > 0.0 else T_a
        cop = heating_cop(source - wheel.approach, T_before + wheel.approach, wheel.second_law)
        phi[ONCE + 10] = heat / cop
        phi[ONCE + 6] = (heat - phi[ONCE + 10]) * wheel.source_is_condenser


@njit(cache=True)
def flow_values(y, air, mode, wheel, row, phi):
    """Fill phi with the flows [kg/(m2 s) and W/m2] at unknowns y; shapes and order as in the theory page.

    air: columns as in AirRecord; mode: STOPPED or TURNING.
    """
    T_c = y[TC]
    T_a = air[0]
    for f in range(phi.shape[0]):
        phi[f] = 0.0
    for i in range(PARTS):
        mass = (wheel.process_mass if i < FIRST_HOT else wheel.regeneration_mass) / CELLS
        log_sat, _ = log_saturation_pressure(y[i])
        phi[SORPTION + i] = mass * loading_rate(y[i], y[P + i], y[W + i], log_sat, row)
    for k in range(CELLS):
        phi[EDGE + k] = wheel.edge_loss / CELLS * (y[FIRST_HOT + k] - T_a)
    film = film_pressure(T_c)[0]
    at_film = humidity_ratio_of(film, air[2])
    cooled = 0.0
    if mode == TURNING:
        _turn(y, wheel, row, phi)
        _take_up(y, air, wheel, phi)
        _go_round(y, air, wheel, at_film, film, phi)
        cooled = smooth_step((T_c - T_a) / CONDENSER_BAND)[0]
    else:
        still = STILL_COEFFICIENT * wheel.condenser_area / DRY_AIR_SPECIFIC_HEAT
        share = working_share(y[PL] - film, y[MC] / wheel.condenser_area)[0]
        phi[ONCE] = still * (humidity_ratio_of(y[PL], air[2]) - at_film) * share
    moved = wheel.still_share + (1.0 - wheel.still_share) * cooled
    phi[ONCE + 2] = drained(y[MC], wheel.condenser_holdup, T_c)[0]
    phi[ONCE + 4] = moved * wheel.condenser_conductance * (T_c - T_a)
    phi[ONCE + 5] = phi[ONCE + 2] * LIQUID_SPECIFIC_HEAT * (T_c - FREEZING_POINT)
    phi[ONCE + 9] = wheel.condenser_fan * cooled
    phi[ONCE + 11] = wheel.control


@njit(cache=True)
def _held_potential(T, p, w, row):
    """Potential at a loading [J/mol], looked for from that of the vapour."""
    _, A = equilibrium_loading(T, p, log_saturation_pressure(T)[0], row)
    return potential_at_loading(row, w, T, A)


@njit(cache=True)
def stocks(y, wheel, row, A, U, S):
    """Fill the stocks U and their slopes S[row, unknown] from the unknowns y; returns nothing."""
    for i in range(PARTS):
        hot = i >= FIRST_HOT
        mass = (wheel.regeneration_mass if hot else wheel.process_mass) / CELLS
        pores = (wheel.regeneration_pores if hot else wheel.process_pores) / CELLS
        held = _held_potential(y[i], y[P + i], y[W + i], row)
        U[i], S[i, i], S[i, W + i] = bed_enthalpy(y[i], y[W + i], 0.0, held, mass * wheel.dry_heat, mass, row)
        U[W + i] = mass * y[W + i]
        S[W + i, W + i] = mass
        U[P + i] = pores * y[P + i]
        S[P + i, P + i] = pores
    h, h_T = film_enthalpy(y[TC])
    U[TC] = wheel.condenser_heat * (y[TC] - FREEZING_POINT) + y[MC] * h
    S[TC, TC] = wheel.condenser_heat + y[MC] * h_T
    S[TC, MC] = h
    U[MC] = y[MC]
    S[MC, MC] = 1.0
    U[PL] = wheel.loop_capacity * y[PL]
    S[PL, PL] = wheel.loop_capacity


@njit(cache=True)
def unknowns(U, wheel, row, y, A):
    """Recover the unknowns y from the stocks U, starting from y; returns A, which this kind does not use."""
    y[MC] = U[MC]
    y[PL] = U[PL] / wheel.loop_capacity
    y[TC] = temperature_with_film(U[TC], wheel.condenser_heat, y[MC], y[TC])
    for i in range(PARTS):
        hot = i >= FIRST_HOT
        mass = (wheel.regeneration_mass if hot else wheel.process_mass) / CELLS
        pores = (wheel.regeneration_pores if hot else wheel.process_pores) / CELLS
        y[P + i] = U[P + i] / pores
        w = U[W + i] / mass
        held = _held_potential(y[i], y[P + i], w, row)
        y[i], _ = bed_temperature(U[i], mass * wheel.dry_heat, U[W + i], mass, w, row, y[i], held)
        y[W + i] = w
    return A


@njit(cache=True)
def loading_drive(y, air, wheel, row, A):
    """Return the loading in the outdoor air; no rule of this kind looks at it [kg/kg]."""
    return y[W]


@njit(cache=True)
def resting_state(air, wheel, row, y):
    """Fill y with a device at rest in an air state: all at air temperature, wheel in equilibrium; returns 0.

    The humidity is clipped to 0.6, so that no start is a dew drop.
    """
    T = air[0]
    p = min(air[1], 0.6 * saturation_pressure_and_slope(T)[0])
    w = equilibrium_loading(T, p, log_saturation_pressure(T)[0], row)[0]
    for i in range(PARTS):
        y[i] = T
        y[W + i] = w
        y[P + i] = p
    y[TC] = T
    y[MC] = 0.0
    y[PL] = p
    return 0.0


@njit(cache=True)
def error_scales(y, wheel, row, scales):
    """Fill the size by which the step error of each unknown is judged, before the tolerance."""
    for i in range(PARTS):
        scales[i] = 100.0
        scales[W + i] = largest_loading(row, y[i])
        scales[P + i] = 20.0 * (abs(y[P + i]) + 200.0)
    scales[TC] = 100.0
    scales[MC] = 0.02 * wheel.condenser_area
    scales[PL] = 20.0 * (abs(y[PL]) + 200.0)


DESICCANT_WHEEL = Kind(
    name="desiccant_wheel",
    unknowns=UNKNOWNS,
    flows=FLOWS,
    fill_flows=with_difference_slopes(flow_values, len(FLOWS), slope_sizes(UNKNOWNS), both_ways=True),
    fill_stocks=stocks,
    recover=unknowns,
    opening_drive=loading_drive,
    rest=resting_state,
    error_scales=error_scales,
)
