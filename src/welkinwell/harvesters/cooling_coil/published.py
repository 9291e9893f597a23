"""Published tests of cooling coils, by compressor and by thermoelectric modules."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

import numpy as np

from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    FREEZING_POINT,
    WATER_GAS_CONSTANT,
)
from welkinwell.declare import check
from welkinwell.harvesters.air import AirRecord
from welkinwell.harvesters.published import Bench, DrawResult, Fields, Given, PublishedTests
from welkinwell.harvesters.published_weather import steady_air
from welkinwell.moist_air import saturation_pressure
from welkinwell.moist_air.altitude import pressure_at_altitude
from welkinwell.parts.fan import REFERENCE_DENSITY
from welkinwell.sorbents.sorbent import Sorbent

MOST_POWER: Final = 1.0e5  # W/m2 and W/(m2 K), the most that the kind takes
LEAST_FACE: Final = 1e-4  # m2, the least face of a coil
MOST_REJECTION_AIR: Final = 20.0  # over the coil's air, the most that the kind takes
COIL_HOURS: Final = 24
COIL_ROUNDS: Final = 4  # until power and approaches are met
CURRENTS: Final = np.geomspace(0.03, 1.0, 12)  # of modules, over that which pumps most
BEST_CURRENT: Final = ("thermoelectric_small",)  # whose protocol takes the best of a sweep
LEAST_FLOW: Final = 1e-12  # kg/(m2 s), below which nothing is collected


def _maps(given: Given, usual: Any, sorbent: Any) -> Fields:
    """A compressor's coil or thermoelectric modules; `refitted_coil` then meets power and approaches.

    The face follows from the air at the kind's usual velocity, the fins' coefficient from the bypass factor.
    A module's conductances are spread over the face; its fins' conductance and the bypass factor set the air.
    """
    from welkinwell.harvesters.cooling_coil.flows import RATED_VELOCITY, VELOCITY_EXPONENT

    modules = given.get("thermoelectric_modules")
    units = -math.log(given["bypass_factor"])
    pressure = pressure_at_altitude(given.get("elevation", 0.0))
    density = pressure / (DRY_AIR_GAS_CONSTANT * given["air_temperature"])
    velocity = usual.face_velocity
    if modules is None:
        flow = given["air_flow"]
    else:
        flow = modules * given["cold_side_conductance"] / units / (density * DRY_AIR_SPECIFIC_HEAT)
    face = max(flow / velocity, LEAST_FACE)
    velocity = flow / face
    heat_rate = velocity * density * DRY_AIR_SPECIFIC_HEAT
    at_rating = (velocity * density / (RATED_VELOCITY * REFERENCE_DENSITY)) ** VELOCITY_EXPONENT
    values: dict[str, Any] = {
        "coil_face": face,
        "face_velocity": velocity,
        "air_coefficient": units * heat_rate / (usual.fin_area * at_rating),
        "run_above_dew_point": FREEZING_POINT - 10.0,  # steady running is asked for
    }
    used = ["air_flow", "bypass_factor", "fan_power", "electric_power"]
    reasons: dict[str, str] = {}
    if "condenser_air" in given:
        values["condenser_air"] = "coil_exhaust" if given["condenser_air"] == "coil outlet" else "outdoor"
    if "second_law_efficiency" in given:
        values["second_law"] = given["second_law_efficiency"]
        used += ["second_law_efficiency", "evaporator_approach", "condenser_approach"]
    if "lowest_coil_temperature" in given:
        values["frost_control"] = "stop"
        used.append("lowest_coil_temperature")
    if modules is not None:
        used += ["thermoelectric_modules", "module_figure_of_merit", "module_conductance"]
        used += ["cold_side_conductance", "hot_side_conductance"]
        takes = MOST_REJECTION_AIR * heat_rate
        wanted = modules * given["hot_side_conductance"] / face
        if wanted > 0.98 * takes:
            reasons["hot_side_conductance"] = (
                f"heat goes to at most {MOST_REJECTION_AIR:g} times the coil's air, too little for some draws"
            )
            wanted = 0.98 * takes
        values |= {
            "cooling": "thermoelectric",
            "figure_of_merit": given["module_figure_of_merit"],
            "module_conductance": modules * given["module_conductance"] / face,
            "refrigerant_conductance": MOST_POWER,
            "condenser_air": "outdoor",
            "condenser_air_ratio": MOST_REJECTION_AIR,
            "condenser_conductance": min(-takes * math.log(1.0 - wanted / takes), MOST_POWER),
        }
    return Fields(values, tuple(used), reasons)


def _run(experiment: Any, given: Given, _: Sorbent | None, __: int, bench: Bench) -> DrawResult:
    """Steady running; modules at the stated power, or at the best current where the protocol asks so."""
    mapped = bench.mapped("cooling_coil", given)
    air = steady_air(given, COIL_HOURS)
    design, flows = _fitted_coil(mapped.design, given, air, bench)
    if design.cooling == "thermoelectric":
        shares = [replace(design, current_share=float(i)) for i in CURRENTS]
        runs = [_fitted_coil(one, given, air, bench)[1] for one in shares]
        if experiment.case in BEST_CURRENT:
            flows = min(runs, key=_energy)
        else:
            flows = min(
                runs, key=lambda found: abs(_power(found) * design.coil_face - given["electric_power"])
            )
    litres = flows["collected"]
    T = given["air_temperature"]
    vapour = given["relative_humidity"] * float(saturation_pressure(T))
    passes = design.face_velocity * vapour / (WATER_GAS_CONSTANT * T)
    figures = {
        "kwh_per_litre": _energy(flows),
        "litres_per_day": litres * design.coil_face * 86400.0,
        "grams_per_day": 1000.0 * litres * design.coil_face * 86400.0,
        "grams_per_hour": 1000.0 * litres * design.coil_face * 3600.0,
        "share_of_vapour_captured": litres / passes,
    }
    return DrawResult(figures, mapped.left_out)


def _fitted_coil(design: Any, given: Given, air: AirRecord, bench: Bench) -> tuple[Any, dict[str, float]]:
    """Run a coil and bring it to its stated power and approaches; gives it with its mean flows per face."""
    for _ in range(COIL_ROUNDS):
        flows = _mean_flows(design, air, bench)
        design = _refitted(design, given, flows)
        check(design)
    return design, _mean_flows(design, air, bench)


def _mean_flows(design: Any, air: AirRecord, bench: Bench) -> dict[str, float]:
    """Mean of each flow over the last hours of a steady record [kg/(m2 s) or W/m2]."""
    _, flows = bench.run(design, None, air)
    return {name: float(hourly[-COIL_HOURS // 2 :].mean() / 3600.0) for name, hourly in flows.items()}


def _refitted(design: Any, given: Given, flows: Mapping[str, float]) -> Any:
    """Bring a coil nearer to the stated power, approaches and fans, from a run with it.

    Args: design; given: conditions [SI]; flows: mean of each flow of the run [W/m2]. Returns: the design; a
    few rounds settle it. The condenser's approach is taken over its air as it leaves, the coil's as stated.
    """
    face = design.coil_face
    fans = (flows["coil_fan_power"] + flows["condenser_fan_power"]) * face
    changes: dict[str, float] = {}
    if "fan_power" in given and fans > 0.0:
        share = given["fan_power"] / fans
        for name in ("coil_drop", "filter_drop", "condenser_drop"):
            changes[name] = min(getattr(design, name) * share, 1000.0)
    if design.cooling == "thermoelectric":
        return replace(design, **changes)
    pumped, power, rejected = flows["pumped_heat"], flows["cooling_power"], flows["rejected_heat"]
    if min(pumped, power, rejected) <= 0.0:
        return replace(design, **changes)
    wanted = (given["electric_power"] - given["fan_power"]) / face
    changes["rated_capacity"] = _held(design.rated_capacity * wanted / power, 50.0, 3e5)
    load = pumped * wanted / power
    changes["refrigerant_conductance"] = _held(load / given["evaporator_approach"], 10.0, MOST_POWER)
    ratio = design.condenser_air_ratio if design.condenser_air == "outdoor" else 1.0
    takes = ratio * design.face_velocity * REFERENCE_DENSITY * DRY_AIR_SPECIFIC_HEAT
    rise = rejected * wanted / power / takes
    conductance = takes * math.log1p(rise / given["condenser_approach"])
    changes["condenser_conductance"] = _held(conductance, 10.0, MOST_POWER)
    return replace(design, **changes)


def _held(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def _power(flows: Mapping[str, float]) -> float:
    """Electricity of a coil [W/m2 of face]."""
    names = ("cooling_power", "coil_fan_power", "condenser_fan_power", "defrost_heat", "control_power")
    return sum(flows[name] for name in names)


def _energy(flows: Mapping[str, float]) -> float:
    """Electricity per litre [kWh/L], without end where nothing is collected."""
    litres = flows["collected"]
    return _power(flows) / 3.6e6 / litres if litres > LEAST_FLOW else np.inf


PUBLISHED: Final = PublishedTests(_maps, _run, "cooling coil", place=4)
