"""The desiccant wheel inside the march: its numbers, stocks and flows, compiled.

docs/theory/desiccant_wheel.md holds the equations; the row, unknown and flow numbers here are the ones there.
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
from welkinwell.harvesters.harvester import OUTSIDE, Flow, Kind, Unknown, with_uses
from welkinwell.kernels.kernel import Unknowns, flow_kernel
from welkinwell.kernels.marks import written_out
from welkinwell.moist_air.saturation import log_saturation_pressure, saturation_pressure_and_slope
from welkinwell.moist_air.transport import dry_air_viscosity, vapour_diffusivity
from welkinwell.parts.bed import (
    POOL_DENSITY,
    POOL_ENTHALPY,
    POOL_TEMPERATURE,
    air_passage,
    bed_enthalpy,
    bed_temperature,
    equilibrium_loading,
    humidity_ratio_of,
    taken_share,
    vapour_potential,
)
from welkinwell.parts.bed import sorption as sorption_rate
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
from welkinwell.parts.wheel import sorbed_heat
from welkinwell.parts.wheel import turned_heat as heat_turned
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
SYMBOLS: Final[Unknowns] = {
    "T": tuple(range(PARTS)), "T_c": TC, "w": tuple(range(W, MC)), "m_c": MC,
    "p": tuple(range(P, PL)), "p_l": PL,
}  # fmt: skip


def _water(name: str, start: int, end: int, warms: int = OUTSIDE) -> Flow:
    """A flow of water; `warms` names the heat row that gains the pool's enthalpy with it."""
    return Flow(name, "kg/(m2 s)", start, end, ((warms, POOL_ENTHALPY),) if warms != OUTSIDE else ())


def _heat(name: str, start: int, end: int) -> Flow:
    return Flow(name, "W/m2", start, end)


def _next(part: int) -> int:
    return (part + 1) % PARTS


FLOWS = (
    *(_water(PART_NAMES[i].format("sorption"), P + i, W + i, warms=i) for i in range(PARTS)),
    *(_water(f"turned_water_{i + 1}", W + i, W + _next(i)) for i in range(PARTS)),
    *(_water(f"turned_vapour_{i + 1}", P + i, P + _next(i)) for i in range(PARTS)),
    *(_heat(f"turned_heat_{i + 1}", i, _next(i)) for i in range(PARTS)),
    *(_water(f"air_to_wheel_{k + 1}", OUTSIDE, P + k) for k in range(CELLS)),
    *(_water(f"wheel_to_air_{k + 1}", P + k, OUTSIDE) for k in range(CELLS)),
    *(_heat(f"wheel_convection_{k + 1}", k, OUTSIDE) for k in range(CELLS)),
    *(_heat(f"air_vapour_to_wheel_{k + 1}", OUTSIDE, k) for k in range(CELLS)),
    *(_water(f"wheel_to_loop_{k + 1}", P + FIRST_HOT + k, PL) for k in range(CELLS)),
    *(_heat(f"loop_heat_{k + 1}", FIRST_HOT + k, TC) for k in range(CELLS)),
    *(_heat(f"wheel_heating_{k + 1}", OUTSIDE, FIRST_HOT + k) for k in range(CELLS)),
    *(_heat(f"wheel_edge_loss_{k + 1}", FIRST_HOT + k, OUTSIDE) for k in range(CELLS)),
    _water("condensation", PL, MC, warms=TC),
    _water("leak", PL, OUTSIDE),
    _water("collected", MC, OUTSIDE),
    _heat("leak_heat_bed", PARTS - 1, OUTSIDE),
    _heat("condenser_convection", TC, OUTSIDE),
    _heat("collected_heat", TC, OUTSIDE),
    _heat("source_heat", TC, OUTSIDE),
    _heat("loop_fan_heat", OUTSIDE, PARTS - 1),
    # what the meters count; no stock changes by it
    _heat("wheel_fan_power", OUTSIDE, OUTSIDE),
    _heat("cooling_fan_power", OUTSIDE, OUTSIDE),
    _heat("heater_power", OUTSIDE, OUTSIDE),
    _heat("wheel_control_power", OUTSIDE, OUTSIDE),
)
# Variables of the text that hold them, in the table's order: lists over parts, over cells, and the rest
OF_PARTS: Final = ("sorption", "turned_water", "turned_vapour", "turned_heat")
OF_CELLS: Final = (
    "air_to_wheel", "wheel_to_air", "wheel_convection", "air_vapour_to_wheel",
    "wheel_to_loop", "loop_heat", "wheel_heating", "wheel_edge_loss",
)  # fmt: skip
ORDER: Final = (
    *(f"{name}_{i}" for name in OF_PARTS for i in range(PARTS)),
    *(f"{name}_{k}" for name in OF_CELLS for k in range(CELLS)),
    *(flow.name for flow in FLOWS[len(OF_PARTS) * PARTS + len(OF_CELLS) * CELLS :]),
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


@written_out
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


def desiccant_wheel(T, T_c, w, m_c, p, p_l, air, mode, wheel, row):
    """Each flow of the wheel under its own name; docs/theory/desiccant_wheel.md has the same equations.

    T, w, p: of each part, in the order in which they turn [K, kg/kg, Pa]; T_c, m_c: condenser and water on it
    [K, kg/m2]; p_l: vapour in the loop [Pa]; air: columns as in AirRecord; mode: STOPPED or TURNING.
    """
    T_a = air[0]
    pressure = air[2]
    sorption = [0.0] * PARTS
    turned_water = [0.0] * PARTS
    turned_vapour = [0.0] * PARTS
    turned_heat = [0.0] * PARTS
    air_to_wheel = [0.0] * CELLS
    wheel_to_air = [0.0] * CELLS
    wheel_convection = [0.0] * CELLS
    air_vapour_to_wheel = [0.0] * CELLS
    wheel_to_loop = [0.0] * CELLS
    loop_heat = [0.0] * CELLS
    wheel_heating = [0.0] * CELLS
    wheel_edge_loss = [0.0] * CELLS
    for i in range(PARTS):
        mass = (wheel.process_mass if i < FIRST_HOT else wheel.regeneration_mass) / CELLS
        sorption[i] = sorption_rate(T[i], p[i], w[i], mass, row)[0]
    for k in range(CELLS):
        wheel_edge_loss[k] = wheel.edge_loss / CELLS * (T[FIRST_HOT + k] - T_a)
    film = film_pressure(T_c)[0]
    at_film = humidity_ratio_of(film, pressure)
    in_loop = humidity_ratio_of(p_l, pressure)
    cooled = 0.0
    if mode == TURNING:
        # What turns on: the heat of sorption counts from the first part, by trapezia from part to part
        bound = 0.0
        e_last = 0.0
        for i in range(PARTS):
            e = sorbed_heat(vapour_potential(T[i], p[i]), T[i], row)[0]
            if i > 0:
                bound += 0.5 * (e + e_last) * (w[i] - w[i - 1])
            e_last = e
            turned_water[i] = wheel.turning * w[i]
            turned_vapour[i] = wheel.turning_pores * p[i]
            turned_heat[i] = heat_turned(wheel.turning, wheel.dry_heat, T[i], w[i], bound)

        # What the outdoor air brings to its parts
        outside = humidity_ratio_of(air[1], pressure)
        stream = wheel.process_velocity * pressure / (DRY_AIR_GAS_CONSTANT * T_a) / CELLS
        for k in range(CELLS):
            taken = stream * taken_share(wheel.process_vapour / CELLS, stream)
            taken *= outside - humidity_ratio_of(p[k], pressure)
            air_to_wheel[k] = max(taken, 0.0)
            wheel_to_air[k] = max(-taken, 0.0)
            behind = outside - taken / max(stream, 1e-12)
            capacity = stream * (DRY_AIR_SPECIFIC_HEAT + behind * VAPOUR_SPECIFIC_HEAT)
            share = taken_share(wheel.process_heat / CELLS, capacity)
            wheel_convection[k] = capacity * share * (T[k] - T_a)
            air_vapour_to_wheel[k] = taken * VAPOUR_SPECIFIC_HEAT * (T_a - POOL_TEMPERATURE)

        # What the loop's air takes from the hot parts to the condenser, and what heats it
        washed = wheel.condenser_coefficient * wheel.condenser_area
        stream = wheel.loop_velocity * pressure / (DRY_AIR_GAS_CONSTANT * T_c)
        capacity = stream * (DRY_AIR_SPECIFIC_HEAT + in_loop * VAPOUR_SPECIFIC_HEAT)
        to_wheel = taken_share(wheel.loop_heat, capacity)
        T_wheel = 0.0
        for k in range(CELLS):
            T_wheel += T[FIRST_HOT + k] / CELLS
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
            J = given * (humidity_ratio_of(p[FIRST_HOT + k], pressure) - in_loop)
            behind += J / stream
            leaving = T_before + to_wheel * (T[FIRST_HOT + k] - T_before)
            wheel_to_loop[k] = J
            loop_heat[k] = capacity / CELLS * (leaving - T_unheated)
            loop_heat[k] += J * VAPOUR_SPECIFIC_HEAT * (leaving - POOL_TEMPERATURE)
            wheel_heating[k] = capacity / CELLS * (T_before - T_unheated)
        heat = capacity * (T_before - T_unheated)
        over_film = pressure * behind / (MOLAR_MASS_RATIO + behind) - film
        onto = stream * taken_share(washed / DRY_AIR_SPECIFIC_HEAT, stream) * (behind - at_film)
        condensation = onto * working_share(over_film, m_c / wheel.condenser_area)[0]
        leaking = wheel.seal_leak * stream
        T_mean = 0.5 * (T_before + T_behind)
        leak = leaking * (0.5 * (in_loop + behind) - outside)
        leak_heat_bed = leaking * DRY_AIR_SPECIFIC_HEAT * (T_mean - T_a)
        leak_heat_bed += leak * VAPOUR_SPECIFIC_HEAT * (T_mean - POOL_TEMPERATURE)
        loop_fan_heat = wheel.loop_fan
        wheel_fan_power = wheel.process_fan + wheel.loop_fan
        heater_power = heat
        if wheel.heat_pump > 0.0:
            source = T_c if wheel.source_is_condenser > 0.0 else T_a
            cop = heating_cop(source - wheel.approach, T_before + wheel.approach, wheel.second_law)
            heater_power = heat / cop
            source_heat = (heat - heater_power) * wheel.source_is_condenser
        cooled = smooth_step((T_c - T_a) / CONDENSER_BAND)[0]
    else:
        still = STILL_COEFFICIENT * wheel.condenser_area / DRY_AIR_SPECIFIC_HEAT
        share = working_share(p_l - film, m_c / wheel.condenser_area)[0]
        condensation = still * (in_loop - at_film) * share
    moved = wheel.still_share + (1.0 - wheel.still_share) * cooled
    collected = drained(m_c, wheel.condenser_holdup, T_c)[0]
    condenser_convection = moved * wheel.condenser_conductance * (T_c - T_a)
    collected_heat = collected * LIQUID_SPECIFIC_HEAT * (T_c - FREEZING_POINT)
    cooling_fan_power = wheel.condenser_fan * cooled
    wheel_control_power = wheel.control


KERNEL: Final = flow_kernel(desiccant_wheel, SYMBOLS, ORDER, "desiccant_wheel")


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
    flows=with_uses(FLOWS, KERNEL),
    fill_flows=KERNEL.fill,
    fill_stocks=stocks,
    recover=unknowns,
    opening_drive=loading_drive,
    rest=resting_state,
    error_scales=error_scales,
)
