"""The audit of the cooling coil: flows and stocks worked out again from what the march left behind.

Written from docs/theory/cooling_coil.md alone, for whole arrays of states, and sharing no function with the
march except the saturation curves.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    FUSION_HEAT,
    LATENT_HEAT_AT_FREEZING,
    LIQUID_SPECIFIC_HEAT,
    MOLAR_MASS_RATIO,
    VAPOUR_SPECIFIC_HEAT,
)
from welkinwell.harvesters.audit import held_in_all
from welkinwell.moist_air import dew_point_from_pressure, ice_saturation_pressure, saturation_pressure

Array = NDArray[np.float64]

FLOWS: Final = (
    *("air_to_coil", "collected", "air_heat_to_coil", "air_vapour_to_coil", "collected_heat"),
    *("coil_to_evaporator", "pumped_heat", "cooling_power", "rejected_heat", "defrost_heat"),
    *("coil_fan_power", "condenser_fan_power", "control_power"),
)
# Refrigerants as the theory page lists them: b [K], latent heat [J/kg], slopes of the enthalpies [J/(kg K)]
REFRIGERANTS: Final = {
    "R134a": (2653.0, 198600.0, 581.0, 1497.0),
    "R290": (2265.0, 374900.0, 1099.0, 2904.0),
    "R600a": (2599.0, 354300.0, 1341.0, 2542.0),
    "R32": (2384.0, 315300.0, 178.0, 2123.0),
}


def audited_flows(
    states: ArrayLike, air: ArrayLike, mode: ArrayLike, design: Any, _: Any, site_pressure: float
) -> Array:
    """Work out every flow at given states.

    states: (4, n): evaporating, coil and rejection temperature [K], film [kg/m2]; air: (9, n) in the order of
    AirRecord; mode: (n,) 1 running, 0 off; design: a CoolingCoil; site_pressure: not needed
    returns: (13, n), rows as in FLOWS [kg/(m2 s) and W/m2]
    source: docs/theory/cooling_coil.md
    """
    seen = _Seen(np.asarray(states, float), np.asarray(air, float), np.asarray(mode) == 1, design)
    flow: dict[str, Array] = {}
    _coil(flow, seen)
    _machine(flow, seen)
    _electricity(flow, seen)
    return np.array([np.broadcast_to(flow[name], seen.Tc.shape) for name in FLOWS])


def stocks_by_row(states: ArrayLike, design: Any, _: Any = None) -> Array:
    """Work out the stock of every row.

    states: (4, k) in the order of the theory page [K, K, K, kg/m2]
    design: a CoolingCoil
    returns: (4, k), heat rows [J/m2] from metal and liquid water at 0 degC, water [kg/m2]
    source: docs/theory/cooling_coil.md, section 1
    """
    Te, Tc, Tk, film = np.asarray(states, float)
    theta = Tc - FREEZING_POINT
    ice = 0.5 * (1.0 - np.tanh((theta + 0.25) / 0.25))
    return np.array(
        [
            design.evaporator_heat * (Te - FREEZING_POINT),
            design.fin_heat * theta + film * (LIQUID_SPECIFIC_HEAT * theta - ice * FUSION_HEAT),
            design.condenser_heat * (Tk - FREEZING_POINT),
            film,
        ]
    )


def audited_stocks(state: ArrayLike, design: Any, sorbent: Any) -> dict[str, float]:
    """Work out the water [kg/m2] and the energy [J/m2] that it holds in one state, as in stocks_by_row."""
    return held_in_all(stocks_by_row(np.asarray(state)[:, None], design, sorbent)[:, 0], 3)


def boundary() -> tuple[Array, Array]:
    """What one unit of each flow brings into the machine: water and energy, shape (13,), rows as in FLOWS."""
    water = {"air_to_coil": 1.0, "collected": -1.0}
    energy = dict.fromkeys(("air_heat_to_coil", "air_vapour_to_coil", "cooling_power", "defrost_heat"), 1.0)
    energy |= dict.fromkeys(("collected_heat", "rejected_heat"), -1.0)
    return (
        np.array([water.get(name, 0.0) for name in FLOWS]),
        np.array([energy.get(name, 0.0) for name in FLOWS]),
    )


class _Seen:
    """States and surroundings by name, with what several flows share."""

    def __init__(self, states: Array, air: Array, running: NDArray[np.bool_], design: Any):
        self.d = design
        self.running = running
        self.Te, self.Tc, self.Tk, self.film = states
        self.Ta, self.pa, self.P = air[:3]
        self.speed = design.face_velocity * np.where(running, 1.0, design.off_draught)
        self.rho = (self.P - 0.378 * self.pa) / (DRY_AIR_GAS_CONSTANT * self.Ta)
        self.G = self.speed * (self.P - self.pa) / (DRY_AIR_GAS_CONSTANT * self.Ta)
        self.w = _ratio(self.pa, self.P)
        self.Td = dew_point_from_pressure(self.pa)
        self.ice = 0.5 * (1.0 - np.tanh((self.Tc - FREEZING_POINT + 0.25) / 0.25))
        self.on_fins = self.film / design.fin_area
        hA = design.air_coefficient * design.fin_area * np.sqrt(self.speed * self.rho / (1.5 * 1.2))
        units = np.minimum(hA / (self.G * (DRY_AIR_SPECIFIC_HEAT + self.w * VAPOUR_SPECIFIC_HEAT)), 500.0)
        self.b, self.bv = np.exp(-units), np.exp(-units / 0.905)
        self.Ti = self._inlet()
        self.drop = (1.0 - self.b) * (
            self.Ti - self.Tc
        )  # by itself, since a difference of outlets loses digits
        self.To = self.Ti - self.drop

    def _inlet(self) -> Array:
        e = self.d.recovery
        if e == 0.0:
            return self.Ta
        cold = (self.Ta * (1.0 - e) + e * self.Tc * (1.0 - self.b)) / (1.0 - e * self.b)
        fall = self.Ta - cold
        too_far = fall - (self.Ta - self.Td)
        bent = (np.clip(too_far, -0.5, 0.5) + 0.5) ** 2 / 2.0
        return self.Ta - fall + np.where(too_far > 0.5, too_far, bent)


def _coil(flow: dict[str, Array], seen: _Seen) -> None:
    d = seen.d
    over = seen.ice * ice_saturation_pressure(seen.Tc) + (1.0 - seen.ice) * saturation_pressure(seen.Tc)
    excess = seen.pa - over
    square = (seen.on_fins / 0.002) ** 2
    wet = (
        np.where((seen.on_fins < 0.0) & (excess >= 0.0), 0.0, np.sign(seen.on_fins)) * square / (1.0 + square)
    )
    share = wet + (1.0 - wet) * _step(excess / 20.0)
    vapour = seen.G * (1.0 - seen.bv) * (seen.w - _ratio(over, seen.P)) * share
    leaving = seen.w - vapour / seen.G
    flow["air_to_coil"] = vapour
    flow["air_heat_to_coil"] = seen.G * (DRY_AIR_SPECIFIC_HEAT + leaving * VAPOUR_SPECIFIC_HEAT) * seen.drop
    flow["air_vapour_to_coil"] = vapour * (
        LATENT_HEAT_AT_FREEZING + VAPOUR_SPECIFIC_HEAT * (seen.Ti - FREEZING_POINT)
    )
    holds = d.fin_holdup * d.fin_area
    soft = 0.1 * holds
    above = seen.film - holds
    bent = (np.clip(above, -soft, soft) + soft) ** 2 / (4.0 * soft)
    ran = (1.0 - seen.ice) * np.where(above > soft, above, bent) / 120.0
    flow["collected"] = ran
    flow["collected_heat"] = ran * LIQUID_SPECIFIC_HEAT * (seen.Tc - FREEZING_POINT)
    flow["coil_to_evaporator"] = d.refrigerant_conductance * (seen.Tc - seen.Te)


def _machine(flow: dict[str, Array], seen: _Seen) -> None:
    d = seen.d
    on = np.where(seen.running, 1.0 - _step((seen.Tk - d.highest_condensing) / 5.0), 0.0)
    if d.cooling == "vapour_compression":
        rated = _swept(np.array(278.15), np.array(318.15), REFRIGERANTS[d.refrigerant])
        pumped = d.rated_capacity * _swept(seen.Te, seen.Tk, REFRIGERANTS[d.refrigerant]) / rated
        lift = 8.0 + _ramp(seen.Tk - seen.Te - 8.0, 4.0)
        flow["pumped_heat"] = on * pumped
        flow["cooling_power"] = on * pumped * lift / (d.second_law * seen.Te)
    else:
        j = on * d.current_share * d.figure_of_merit * FREEZING_POINT
        rise = seen.Tk - seen.Te
        joule = j**2 / d.figure_of_merit
        flow["pumped_heat"] = d.module_conductance * (j * seen.Te - 0.5 * joule - rise)
        flow["cooling_power"] = d.module_conductance * (j * rise + joule)
    own = d.condenser_air == "outdoor"
    takes = (d.condenser_air_ratio if own else 1.0) * seen.G * DRY_AIR_SPECIFIC_HEAT
    met = seen.Ta if own else seen.To + seen.Ta - seen.Ti
    blown = takes * -np.expm1(-d.condenser_conductance / takes) * (seen.Tk - met)
    still = 0.05 * d.condenser_conductance * (seen.Tk - seen.Ta)
    flow["rejected_heat"] = np.where(seen.running, blown, still)


def _electricity(flow: dict[str, Array], seen: _Seen) -> None:
    d = seen.d
    frost = np.maximum(seen.film, 0.0) * seen.ice
    melts = np.zeros_like(frost)
    if d.frost_control == "defrost":
        melts = d.defrost_power * _step(seen.Td - d.run_above_dew_point + 1.0)
        melts = melts * _step(frost / (0.05 * d.frost_limit * d.fin_area))
    flow["defrost_heat"] = np.where(seen.running, 0.0, melts)
    square = (np.maximum(seen.on_fins, 0.0) / 0.002) ** 2
    narrower = 1.0 + 2.0 * frost / (d.fin_area * 300.0 * d.fin_gap)
    through = d.coil_drop * (1.0 + d.wet_coil_drop * square / (1.0 + square)) * narrower**3 + d.filter_drop
    if d.recovery > 0.0:
        through = through + d.recovery_drop
    thick = (seen.rho / 1.2) ** 0.75
    drop = through * (seen.speed / 1.5) ** 1.75 * thick
    behind = d.condenser_drop * thick
    own = d.condenser_air == "outdoor"
    coil = seen.speed * (drop if own else drop + behind) / d.fan_efficiency
    other = d.condenser_air_ratio * seen.speed * behind / d.fan_efficiency if own else np.zeros_like(drop)
    flow["coil_fan_power"] = np.where(seen.running, coil, 0.0)
    flow["condenser_fan_power"] = np.where(seen.running, other, 0.0)
    flow["control_power"] = np.full_like(drop, d.control_power)


def _swept(cold: Array, hot: Array, refrigerant: tuple[float, float, float, float]) -> Array:
    """Capacity of a swept volume, to a constant."""
    b, latent, by_vapour, by_liquid = refrigerant
    c, h = np.clip(cold, 200.0, 400.0), np.clip(hot, 200.0, 400.0)
    filling = 1.04 - 0.04 * np.exp(b * (1.0 / c - 1.0 / h) / 1.1)
    effect = 1.0 + (by_vapour * (c - FREEZING_POINT) - by_liquid * (h - FREEZING_POINT)) / latent
    gas = np.exp(b * (1.0 / FREEZING_POINT - 1.0 / c)) / c
    return gas * (0.02 + _ramp(filling - 0.02, 0.02)) * (0.02 + _ramp(effect - 0.02, 0.02))


def _ratio(p: Array, P: Array) -> Array:
    held = np.clip(p, -0.1 * P, 0.9 * P)
    return MOLAR_MASS_RATIO * held / (P - held)


def _ramp(z: Array, width: float) -> Array:
    bent = (np.clip(z, -width, width) + width) ** 2 / (4.0 * width)
    return np.where(z > width, z, bent)


def _step(z: Array) -> Array:
    held = np.clip(z, 0.0, 1.0)
    return held * held * (3.0 - 2.0 * held)
