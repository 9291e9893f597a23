"""Published tests of active beds, and of beds on a heat pump that are mapped to them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

import numpy as np

from welkinwell.constants import DRY_AIR_GAS_CONSTANT, DRY_AIR_SPECIFIC_HEAT, STANDARD_PRESSURE
from welkinwell.harvesters.published import (
    FACE_OF_COATINGS,
    Bench,
    DrawResult,
    Fields,
    Given,
    PublishedTests,
    ways_of_water,
)
from welkinwell.harvesters.published_weather import steady_air
from welkinwell.moist_air import saturation_pressure
from welkinwell.sorbents.sorbent import Sorbent

# All common practice, no source
LEAST_DIFFERENCE: Final = 2.0  # K, of a condenser that outdoor air cools
LEAST_SWING: Final = 0.01  # kg/kg, so that heat and condenser have a size where little is taken up
HEAT_OF_RELEASE: Final = 3.0e6  # J/kg
HEAT_OF_CONDENSING: Final = 2.45e6  # J/kg at 25 degC
MOST_POWER: Final = 1.0e5  # W/m2 and W/(m2 K), the most that the kind takes
FASTEST: Final = 5.0  # m/s at the face, the most that the kind takes
CYCLE_DAYS: Final = 3  # of cycles in one state of the air, after as many until they repeat
BEST_LENGTHS: Final = ("mof_303_adaptive",)  # whose protocol takes the best lengths within their ranges
DRIEST_DAYS: Final[Mapping[str, Mapping[str, float]]] = {
    # 7 % above 27 degC, the second figure's own state (its basis in the file)
    "mof_303_desert": {"air_temperature": 300.15, "relative_humidity": 0.07},
}
FILLED_FOR: Final = 12 * 3600.0  # s, after which a bed counts as full
BLOWN_FOR: Final = 60.0 * np.geomspace(10.0, 600.0, 13)  # s
NEARLY_ALL: Final = 0.98  # of the most that comes, at which it gives no more
ON_A_HEAT_PUMP: Final = "heat_pump_bed"


def _maps(given: Given, usual: Any, sorbent: Any) -> Fields:
    """Coated channels with the kind's usual mass per face, so that other figures per face stay in keeping.

    Walls of the coating's thickness on both sides of each gap leave a twentieth of the face to metal; flows
    and inert mass follow from the mass. Heat and condenser are not stated: the heat brings the bed to
    the stated temperature and drives the swing off in half of the release, and the condenser takes the
    swing's heat within the release at its stated difference from the air, at least LEAST_DIFFERENCE.
    """
    if "coating_thickness" not in given:
        return _blown(given, sorbent)
    flow = given.get("air_flow_per_sorbent", 0.0)
    mass = min(usual.sorbent_mass, FASTEST / flow) if flow > 0.0 else usual.sorbent_mass
    size = given.get("channel_size", usual.channel_size)
    coating = given["coating_thickness"]
    share = FACE_OF_COATINGS * 0.5 * size / (0.5 * size + 2.0 * coating)
    per_depth = 4.0 * share * coating / size * sorbent.bulk_density
    metal = given.get("inert_mass_ratio", usual.bed_metal / mass) * mass
    values = {
        "form": "channels",
        "channel_size": size,
        "channel_share": share,
        "bed_depth": mass / per_depth,
        "sorbent_mass": mass,
        "bed_metal": metal,
        "bed_metal_specific_heat": given.get("inert_specific_heat", usual.bed_metal_specific_heat),
    }
    used = ["inert_mass_ratio", "inert_specific_heat", "condenser_above_air"]
    if "air_flow_per_sorbent" in given:
        values["face_velocity"] = given["air_flow_per_sorbent"] * mass
        used.append("air_flow_per_sorbent")
    if "fan_pressure" in given:
        values["housing_pressure"] = given["fan_pressure"]
        used.append("fan_pressure")
    T, hot = given["air_temperature"], given["release_temperature"]
    cold = T + max(given["condenser_above_air"], LEAST_DIFFERENCE)
    left = sorbent.loading(hot, float(saturation_pressure(cold) / saturation_pressure(hot)))
    swing = mass * max(float(sorbent.loading(T, given["relative_humidity"]) - left), LEAST_SWING)
    sensible = mass * sorbent.dry_specific_heat + metal * values["bed_metal_specific_heat"]
    half = 0.5 * given["release_length"]
    values["heating_power"] = min((sensible * (hot - T) + swing * HEAT_OF_RELEASE) / half, MOST_POWER)
    values["condenser_conductance"] = min(
        swing * HEAT_OF_CONDENSING / given["release_length"] / (cold - T), MOST_POWER
    )
    reasons = {}
    if given["condenser_above_air"] < LEAST_DIFFERENCE:
        reasons["condenser_above_air"] = (
            f"the condenser is cooled by outdoor air: where less is drawn, {LEAST_DIFFERENCE:g} K above it"
        )
    return Fields(values, tuple(used), reasons)


def _on_a_heat_pump(given: Given, usual: Any, sorbent: Any) -> Fields:
    """Two exchangers in opposition are two active beds, each with the heat pump in its release.

    The pump's evaporator is the condenser; per kg of sorbent one bed stands for both.
    """
    bed = _maps(given, usual, sorbent)
    values = {**bed.values, "heat_by": "heat_pump", "heat_pump_source": "condenser"}
    reasons = {
        "cooled_below_air": "uptake is at the air's temperature: the evaporator cools the condenser only",
        "fan_power": "the fans' power follows from the kind's pressure drops",
        "condenser_above_air": "the evaporator settles its own temperature",
    }
    return Fields(values, (*bed.used, "electric_power"), reasons)


def _blown(given: Given, sorbent: Any) -> Fields:
    """Grains of the stated size and depth; the heat is what brings the air to the stated temperature."""
    mass = given["bed_depth"] * sorbent.bulk_density
    face = given["dry_sorbent"] / mass
    velocity = given["air_flow"] / face
    density = STANDARD_PRESSURE / (DRY_AIR_GAS_CONSTANT * given["air_temperature"])
    rise = given["release_temperature"] - given["air_temperature"]
    values = {
        "form": "grains",
        "grain_diameter": given["grain_size"],
        "sorbent_mass": mass,
        "face_area": face,
        "face_velocity": velocity,
        "release_velocity": velocity,
        "bed_metal": given["inert_mass_ratio"] * mass,
        "bed_metal_specific_heat": given["inert_specific_heat"],
        "heating_power": velocity * density * DRY_AIR_SPECIFIC_HEAT * rise,
        "heat_recovery": 0.0,
    }
    used = ("grain_size", "dry_sorbent", "air_flow", "inert_mass_ratio", "inert_specific_heat")
    reasons = {"heat_recovery": "for the second figure alone, whose exchanger is not simulated"}
    return Fields(values, used, reasons)


def _run(experiment: Any, given: Given, material: Sorbent | None, _: int, bench: Bench) -> DrawResult:
    """Equal cycles at one state of the air until they repeat; the best lengths where the protocol asks so."""
    assert material is not None
    if not experiment.gives_water:
        return _heat_of_blowing(given, material, bench)
    if experiment.case in BEST_LENGTHS:
        tried = [cycles({**given, **lengths}, material, bench) for lengths in _lengths(experiment)]
        return max(tried, key=lambda result: result.figures["litres_per_kg_day"])
    found = cycles(given, material, bench)
    driest = DRIEST_DAYS.get(experiment.case)
    if driest is not None:
        then = cycles({**given, **driest}, material, bench).figures["litres_per_kg_day"]
        return replace(found, figures={**found.figures, "litres_per_kg_day 2": then})
    return found


def _lengths(experiment: Any) -> list[dict[str, float]]:
    """Lengths of the cycle's parts at the ends and the middle of their ranges."""
    up, down = experiment.design["uptake_length"], experiment.design["release_length"]
    shares = (0.0, 0.5, 1.0)
    return [{"uptake_length": up.at(a), "release_length": down.at(b)} for a in shares for b in shares]


def _heat_of_blowing(given: Given, material: Sorbent, bench: Bench) -> DrawResult:
    """Heat over the water that leaves a full bed, blown for the shortest time that brings nearly all."""
    runs = []
    for length in BLOWN_FOR:
        words = {**given, "uptake_length": FILLED_FOR, "release_length": length}
        mapped = bench.mapped("active_bed", words, material)
        accounts, flows = bench.run(mapped.design, material, steady_air(given, 24))
        taken = float(accounts.water["water_taken_up"][0].sum())
        runs.append((taken, float(flows["heating"].sum())))
    most = max(taken for taken, _ in runs)
    taken, heat = next(run for run in runs if run[0] >= NEARLY_ALL * most)
    return DrawResult({"kwh_heat_per_kg_released": heat / 3.6e6 / taken}, mapped.left_out)


def cycles(given: Given, material: Sorbent, bench: Bench, way: str = "active_bed") -> DrawResult:
    """Run equal cycles in steady air: litres a day per kg and electricity per litre."""
    mapped = bench.mapped(way, given, material)
    accounts, _ = bench.run(mapped.design, material, steady_air(given, 24 * CYCLE_DAYS))
    water = {name: entry[0] / CYCLE_DAYS for name, entry in accounts.water.items()}
    litres = float(water["water_collected"].sum())
    electricity = sum(float(entry.sum()) for entry in accounts.electricity.values()) / CYCLE_DAYS
    figures = {"litres_per_kg_day": litres / mapped.design.sorbent_mass}
    figures["kwh_per_litre"] = electricity / 3.6e6 / litres if litres > 0.0 else np.inf
    return DrawResult(figures, mapped.left_out, ways_of_water(water))


PUBLISHED: Final = PublishedTests(
    _maps, _run, "active bed", place=2, other_ways={ON_A_HEAT_PUMP: _on_a_heat_pump}
)
