"""One draw of a published experiment, simulated: from its conditions to the figures that were published.

A run gives figures by quantity, in the published unit. What a protocol asks for and no kind can do is left
out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import DRY_AIR_GAS_CONSTANT, FREEZING_POINT, WATER_GAS_CONSTANT
from welkinwell.declare import check
from welkinwell.errors import InputError, SolverError
from welkinwell.harvesters.air import SUN_PLANE, AirRecord
from welkinwell.harvesters.harvester import Accounts, Bucketed
from welkinwell.harvesters.kinds import KINDS, harvester_of
from welkinwell.moist_air import latent_heat, saturation_pressure
from welkinwell.moist_air.altitude import pressure_at_altitude
from welkinwell.moist_air.transport import dry_air_conductivity, dry_air_viscosity
from welkinwell.numerics.march import MarchResult
from welkinwell.simulation import TOLERANCES, Prepared, march_year
from welkinwell.sky.plane import CoverOptics
from welkinwell.sorbents.row import ROW_LENGTH
from welkinwell.sorbents.sorbent import Sorbent, sorbent
from welkinwell.studies.experiment_designs import mapped_design, refitted_coil
from welkinwell.studies.experiment_weather import (
    NIGHT_BLOCK,
    Plane,
    day_air,
    night_air,
    steady_air,
    uptake_air,
)
from welkinwell.studies.experiments import Experiment
from welkinwell.transfer.condensation import lewis_mass_coefficient, stefan_flow

TOLERANCE: Final = TOLERANCES["normal"]
MOST_DAYS: Final = 60  # that a day is repeated
REPEATS: Final = 1e-3  # relative change of a day's water at which it repeats itself
LEAST_CHANGE: Final = 1e-4  # kg/m2, below which a change of a day's water means nothing
DEW_NIGHT: Final = 0.01  # mm, from which a night counts as one that gave dew (common practice, no source)
RELEASE_SHARE: Final = 0.01  # of the best hour's condensate, from which an hour counts as one of release
NEARLY_FULL: Final = 0.01  # of the first hour's uptake: the protocol of the six boxes
EVENING: Final = 18  # h
EMPTIED: Final = 0.01  # relative humidity that empties a bed before uptake alone is followed (assumed)
STEADY_HOURS: Final = 24
WAYS: Final[Mapping[str, tuple[str, ...]]] = {
    "taken up": ("water_taken_up",),
    "condensed": ("water_condensed",),
    "dried from surfaces again": ("water_reevaporated",),
    "leaked, vented or blown out": ("water_leaked", "water_vented", "water_exhausted"),
    "given back to the open air": ("water_released_open",),
}

HELD: Final = "held at rest in the night's air"

CYCLE_DAYS: Final = 3  # of cycles in one state of the air, after as many until they repeat
BEST_LENGTHS: Final = ("mof_303_adaptive",)  # whose protocol takes the best lengths within their ranges
DRIEST_DAYS: Final[Mapping[str, Mapping[str, float]]] = {
    # 7 % above 27 degC, the second figure's own state (its basis in the file)
    "mof_303_desert": {"air_temperature": 300.15, "relative_humidity": 0.07},
}
WETTEST_BRINE: Final = 0.9  # relative humidity of the second figure (its basis in the file)
COIL_HOURS: Final = 24
COIL_ROUNDS: Final = 4  # until power and approaches are met
CURRENTS: Final = np.geomspace(0.03, 1.0, 12)  # of modules, over that which pumps most
BEST_CURRENT: Final = ("thermoelectric_small",)  # whose protocol takes the best of a sweep
LEAST_FLOW: Final = 1e-12  # kg/(m2 s), below which nothing is collected
FILLED_FOR: Final = 12 * 3600.0  # s, after which a bed counts as full
BLOWN_FOR: Final = 60.0 * np.geomspace(10.0, 600.0, 13)  # s
NEARLY_ALL: Final = 0.98  # of the most that comes, at which it gives no more
AIR_PRANDTL: Final = 0.71  # Bergman2011

NO_PROTOCOL: Final[Mapping[str, str]] = {
    "radiative_skin_sorbent": "no kind takes up vapour on a sheet that itself cools towards the sky",
    "thermoelectric_cleared": "drops on a cold plate, and clearing them, are outside what is built",
}

# Figures of a case that its drawn conditions do not describe, by case and place in its list of figures.
OTHER_CONDITIONS: Final[Mapping[tuple[str, int], str]] = {
    ("packed_bed_dryer", 1): "the exchanger that recovers heat is not simulated",
    ("desert_window_panel", 1): "the conditions that are drawn are those of the best day, not of the worst",
}


@dataclass(frozen=True)
class DrawResult:
    """Figures of one draw, by quantity [published unit].

    left_out: words not represented, with the reason; water: where a day's water went, for the reason of a
    miss [kg/m2 of the kind's basis].
    """

    figures: Mapping[str, float]
    left_out: Mapping[str, str] = field(default_factory=dict)
    water: Mapping[str, float] = field(default_factory=dict)


def run_draw(experiment: Experiment, given: Mapping[str, Any], number: int) -> DrawResult:
    """Simulate one draw.

    Args: experiment; given: its drawn conditions [SI]; number: of the draw, which seeds its nights [1].
    Returns: the figures; raises InputError where the draw makes no possible device, SolverError where the
    march cannot finish.
    """
    material = sorbent(given["sorbent"]) if "sorbent" in given else None
    hottest = given.get("release_temperature", 0.0)
    if material is not None and hottest > material.service_temperature:
        # what a test was run at, its sorbent stood, whatever the sheet advises for years of service
        material = replace(material, service_temperature=hottest)
    if experiment.weather == "equilibrium":
        return _equilibrium(given, material)
    return _RUNS[experiment.kind](experiment, given, material, number)


def _equilibrium(given: Mapping[str, Any], material: Sorbent | None) -> DrawResult:
    """Loading at the air's state less loading at the release temperature and the same vapour pressure."""
    assert material is not None
    T, hot, rh = given["air_temperature"], given["release_temperature"], given["relative_humidity"]
    hot_humidity = rh * float(saturation_pressure(T)) / float(saturation_pressure(hot))
    swing = float(material.loading(T, rh)) - float(material.release_loading(hot, hot_humidity))
    return DrawResult({"litres_per_kg_swing": swing})


def _passive_box(
    experiment: Experiment, given: Mapping[str, Any], material: Sorbent | None, _: int
) -> DrawResult:
    """One day repeated until it repeats itself."""
    assert material is not None
    if given.get("second_stage"):
        return _two_stages(given, material)
    mapped = mapped_design("passive_box", given, material)
    design = mapped.design
    air = day_air(given, _glazed(design, design.absorber_absorptance))
    if any(figure.quantity == "hours_to_saturation" for figure in experiment.figures):
        hours = _hours_to_saturation(_ready(design, material, uptake_air(air, EVENING, EMPTIED)))
        return DrawResult({"hours_to_saturation": hours}, mapped.left_out)
    ready = _ready(design, material, air)
    water = _repeated(ready)
    litres = float(water["water_collected"].sum())
    figures = {
        "litres_per_m2_day": litres,
        "litres_per_kg_day": litres / design.sorbent_mass,
        "litres_per_day": litres * design.aperture_area,
        "thermal_efficiency": _efficiency(water, air),
    }
    if "dry_sorbent" in given:
        figures["grams_per_day"] = 1000.0 * litres / design.sorbent_mass * given["dry_sorbent"]
    return DrawResult(figures, mapped.left_out, _ways(water) | _held(given, material))


def _two_stages(given: Mapping[str, Any], material: Sorbent) -> DrawResult:
    """A box with two stages, and beside it the first stage alone, with its own half of the sorbent."""
    alone = {**given, "sorbent_mass": 0.5 * given["sorbent_mass"], "bed_area": 0.5 * given["bed_area"]}
    water = {}
    for kind, words in (("two_stage_box", given), ("passive_box", alone)):
        design = mapped_design(kind, words, material).design
        air = day_air(given, _glazed(design, design.absorber_absorptance))
        water[kind] = _repeated(_ready(design, material, air))
    both, one = (float(each["water_collected"].sum()) for each in water.values())
    figures = {
        "litres_per_m2_day": both,
        "gain_over_one_stage": both / one - 1.0 if one > 0.0 else np.inf,
    }
    return DrawResult(figures, {}, _ways(water["two_stage_box"]) | _held(given, material))


def _ways(water: Mapping[str, NDArray[np.float64]]) -> dict[str, float]:
    """Sum a day's water by the words of WAYS [kg/m2]."""
    return {
        words: sum(float(water[name].sum()) for name in names if name in water)
        for words, names in WAYS.items()
    }


def _held(given: Mapping[str, Any], material: Sorbent) -> dict[str, float]:
    """Water of all sorbent at rest in the night's air [kg/m2]: no less than a day's swing."""
    if "sorbent_mass" not in given:
        return {}
    T, humidity = given["lowest_air_temperature"], given["night_relative_humidity"]
    return {HELD: given["sorbent_mass"] * float(material.loading(T, humidity))}


def _efficiency(water: Mapping[str, NDArray[np.float64]], air: AirRecord) -> float:
    """Latent heat of the day's water over the sun on the aperture in the hours of release [1]."""
    condensed = water["water_condensed"]
    hours = condensed > RELEASE_SHARE * condensed.max()
    plane = air.nodes[:, SUN_PLANE]
    sun = 0.25 * (plane[0:-1:2] + 2.0 * plane[1::2] + plane[2::2]) * 3600.0
    if not sun[hours].sum() > 0.0:
        return 0.0
    heat = float(latent_heat(FREEZING_POINT + 25.0))
    return float(water["water_collected"].sum()) * heat / float(sun[hours].sum())


def _hours_to_saturation(ready: Prepared) -> float:
    """Hours from the evening until a hundredth of the first hour's uptake is left, at most a day [h]."""
    water = _accounts(ready, march_year(ready, tolerance=TOLERANCE)[1]).water
    uptake = (water["water_taken_up"][0] - water["water_released_open"][0])[24:]
    done = np.flatnonzero(uptake[1:] < NEARLY_FULL * uptake[0])
    return float(done[0] + 1) if done.size else float(uptake.size)


def _dew_condenser(
    experiment: Experiment, given: Mapping[str, Any], _: Sorbent | None, number: int
) -> DrawResult:
    """One night after another, or the steady state of one hour."""
    mapped = mapped_design("dew_condenser", given)
    if experiment.weather == "steady":
        ready = _ready(mapped.design, None, steady_air(given, STEADY_HOURS))
        water = _accounts(ready, march_year(ready, tolerance=TOLERANCE)[1]).water
        rate = float(water["water_collected"][0][-1])
        return DrawResult({"grams_per_m2_hour": 1000.0 * rate}, mapped.left_out)
    air, rainy = night_air(given, number)
    ready = _ready(mapped.design, None, air)
    hourly = _accounts(ready, march_year(ready, tolerance=TOLERANCE)[1]).water["water_collected"][0]
    nights = np.where(rainy, 0.0, hourly.reshape(-1, NIGHT_BLOCK).sum(axis=1))
    gave = nights[nights > DEW_NIGHT]
    figures = {
        "mm_total": float(nights.sum()),
        "mm_per_year": float(nights.mean() * 365.0),
        "mm_per_dew_night": float(gave.mean()) if gave.size else 0.0,
        "mm_best_night": float(nights.max()),
        "share_of_dew_nights": gave.size / nights.size,
    }
    return DrawResult(figures, mapped.left_out)


def _active_bed(
    experiment: Experiment, given: Mapping[str, Any], material: Sorbent | None, _: int
) -> DrawResult:
    """Equal cycles at one state of the air until they repeat; the best lengths where the protocol asks so."""
    assert material is not None
    if not experiment.gives_water:
        return _blown_bed(given, material)
    if experiment.case in BEST_LENGTHS:
        tried = [_cycles({**given, **lengths}, material) for lengths in _lengths(experiment)]
        return max(tried, key=lambda result: result.figures["litres_per_kg_day"])
    found = _cycles(given, material)
    driest = DRIEST_DAYS.get(experiment.case)
    if driest is not None:
        figures = {"litres_per_kg_day 2": _cycles({**given, **driest}, material).figures["litres_per_kg_day"]}
        return replace(found, figures={**found.figures, **figures})
    return found


def _lengths(experiment: Experiment) -> list[dict[str, float]]:
    """Lengths of the cycle's parts at the ends and the middle of their ranges."""
    up, down = experiment.design["uptake_length"], experiment.design["release_length"]
    shares = (0.0, 0.5, 1.0)
    return [{"uptake_length": up.at(a), "release_length": down.at(b)} for a in shares for b in shares]


def _blown_bed(given: Mapping[str, Any], material: Sorbent) -> DrawResult:
    """Heat over the water that leaves a full bed, blown for the shortest time that brings nearly all."""
    runs = []
    for length in BLOWN_FOR:
        mapped = mapped_design(
            "active_bed", {**given, "uptake_length": FILLED_FOR, "release_length": length}, material
        )
        ready = _ready(mapped.design, material, steady_air(given, 24))
        result = march_year(ready, tolerance=TOLERANCE)[1]
        run = Bucketed(ready.harvester.kind, ready.design, result.flows)
        taken = float(_accounts(ready, result).water["water_taken_up"][0].sum())
        runs.append((taken, float(run.flow("heating").sum())))
    most = max(taken for taken, _ in runs)
    taken, heat = next(run for run in runs if run[0] >= NEARLY_ALL * most)
    return DrawResult({"kwh_heat_per_kg_released": heat / 3.6e6 / taken}, mapped.left_out)


def _desiccant_wheel(
    experiment: Experiment, given: Mapping[str, Any], material: Sorbent | None, _: int
) -> DrawResult:
    """Steady turning: vapour that the process air leaves, at one regeneration temperature and at another."""
    assert material is not None
    removed, left_out, passes = [], {}, 1.0
    for name in ("release_temperature", "reference_release_temperature"):
        mapped = mapped_design("desiccant_wheel", {**given, "release_temperature": given[name]}, material)
        design, left_out = mapped.design, dict(mapped.left_out)
        ready = _ready(design, material, steady_air(given, STEADY_HOURS))
        water = _accounts(ready, march_year(ready, tolerance=TOLERANCE)[1]).water
        net = water["water_taken_up"][0] - water["water_released_open"][0]
        removed.append(float(net[-STEADY_HOURS // 2 :].mean()))
        vapour = given["relative_humidity"] * float(saturation_pressure(given["air_temperature"]))
        density = vapour / (WATER_GAS_CONSTANT * given["air_temperature"])
        passes = design.face_velocity * design.process_share * density * 3600.0
    return DrawResult(
        {"removal_ratio": removed[0] / removed[1], "removal_efficiency": removed[0] / passes}, left_out
    )


def _hybrid(experiment: Experiment, given: Mapping[str, Any], material: Sorbent | None, _: int) -> DrawResult:
    """Two exchangers on a heat pump, as an active bed whose condenser is the heat pump's evaporator."""
    assert material is not None
    found = _cycles(given, material, "heat_pump_bed")
    grams = 1000.0 * found.figures["litres_per_kg_day"] * given["dry_sorbent"]
    return replace(found, figures={**found.figures, "grams_per_day": grams})


def _cycles(given: Mapping[str, Any], material: Sorbent, way: str = "active_bed") -> DrawResult:
    """Equal cycles in steady air: litres a day per kg and electricity per litre."""
    mapped = mapped_design(way, given, material)
    ready = _ready(mapped.design, material, steady_air(given, 24 * CYCLE_DAYS))
    accounts = _accounts(ready, march_year(ready, tolerance=TOLERANCE)[1])
    water = {name: entry[0] / CYCLE_DAYS for name, entry in accounts.water.items()}
    litres = float(water["water_collected"].sum())
    electricity = sum(float(entry.sum()) for entry in accounts.electricity.values()) / CYCLE_DAYS
    figures = {"litres_per_kg_day": litres / mapped.design.sorbent_mass}
    figures["kwh_per_litre"] = electricity / 3.6e6 / litres if litres > 0.0 else np.inf
    return DrawResult(figures, mapped.left_out, _ways(water))


def _liquid_desiccant(
    experiment: Experiment, given: Mapping[str, Any], material: Sorbent | None, _: int
) -> DrawResult:
    """One day repeated until it repeats itself; brine alone where no water is given."""
    assert material is not None
    if not experiment.gives_water:
        return _brine(given, material)
    mapped = mapped_design("liquid_desiccant", given, material)
    design = mapped.design
    water = _repeated(_ready(design, material, day_air(given, _glazed(design, design.still_absorptance))))
    figures = {"litres_per_m2_day": float(water["water_collected"].sum())}
    return DrawResult(figures, mapped.left_out, _ways(water))


def _glazed(design: Any, absorptance: float) -> Plane:
    """How a design under glass meets sun and wind."""
    return Plane(
        design.tilt,
        CoverOptics(design.glazing_thickness, design.glazing_refractive_index, design.glazing_extinction),
        absorptance,
        design.soiling,
        design.device_height,
        design.terrain,
        design.shelter,
    )


def _brine(given: Mapping[str, Any], material: Sorbent) -> DrawResult:
    """Vapour that a film of air and a membrane let through to brine of constant strength.

    Laminar flow along the sample, Nu = 0.664 Re^0.5 Pr^(1/3) (Bergman2011, 7.30), heat and mass alike
    (Chilton1934), Stefan flow.
    """
    figures = {}
    for key, humidity in (("", given["relative_humidity"]), (" 2", WETTEST_BRINE)):
        flow = _captured(given, humidity, material)
        figures[f"kg_captured_per_m2_day{key}"] = flow * 86400.0
    return DrawResult(figures)


def _captured(given: Mapping[str, Any], humidity: float, material: Sorbent) -> float:
    """Vapour taken up by the brine [kg/(m2 s)]."""
    T, pressure = given["air_temperature"], pressure_at_altitude(given.get("elevation", 0.0))
    brine = T + given["brine_above_air"]
    mean = 0.5 * (T + brine)
    reynolds = given["wind_speed"] * given["surface_length"] / _air_viscosity(mean, pressure)
    nusselt = 0.664 * reynolds**0.5 * AIR_PRANDTL ** (1.0 / 3.0)
    heat = nusselt * dry_air_conductivity(mean) / given["surface_length"]
    mass = lewis_mass_coefficient(heat, mean, pressure) / (1.0 + given["membrane_share"])
    salt = given["brine_salt_share"]
    over = float(material.pressure(brine, (1.0 - salt) / salt))
    outside = humidity * float(saturation_pressure(T))
    return float(stefan_flow(mass, mean, outside, over, pressure))


def _cooling_coil(experiment: Experiment, given: Mapping[str, Any], _: Sorbent | None, __: int) -> DrawResult:
    """Steady running; modules at the stated power, or at the best current where the protocol asks so."""
    mapped = mapped_design("cooling_coil", given)
    air = steady_air(given, COIL_HOURS)
    design, flows = _fitted_coil(mapped.design, given, air)
    if design.cooling == "thermoelectric":
        runs = [_fitted_coil(replace(design, current_share=float(i)), given, air)[1] for i in CURRENTS]
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


def _fitted_coil(design: Any, given: Mapping[str, Any], air: AirRecord) -> tuple[Any, dict[str, float]]:
    """Run a coil and bring it to its stated power and approaches; gives it with its mean flows per face."""
    for _ in range(COIL_ROUNDS):
        flows = _mean_flows(design, air)
        design = refitted_coil(design, given, flows)
        check(design)
    return design, _mean_flows(design, air)


def _mean_flows(design: Any, air: AirRecord) -> dict[str, float]:
    """Mean of each flow over the last hours of a steady record [kg/(m2 s) or W/m2]."""
    ready = _ready(design, None, air)
    flows = march_year(ready, tolerance=TOLERANCE)[1].flows.sum(axis=1)[-COIL_HOURS // 2 :]
    names = [flow.name for flow in ready.harvester.kind.flows]
    return dict(zip(names, (flows.mean(axis=0) / 3600.0).tolist(), strict=True))


def _power(flows: Mapping[str, float]) -> float:
    """Electricity of a coil [W/m2 of face]."""
    names = ("cooling_power", "coil_fan_power", "condenser_fan_power", "defrost_heat", "control_power")
    return sum(flows[name] for name in names)


def _energy(flows: Mapping[str, float]) -> float:
    """Electricity per litre [kWh/L], without end where nothing is collected."""
    litres = flows["collected"]
    return _power(flows) / 3.6e6 / litres if litres > LEAST_FLOW else np.inf


def _air_viscosity(temperature: float, pressure: float) -> float:
    """Kinematic viscosity of dry air [m2/s]."""
    return dry_air_viscosity(temperature) * DRY_AIR_GAS_CONSTANT * temperature / pressure


def _ready(design: Any, material: Sorbent | None, air: AirRecord) -> Prepared:
    """Bring a design and a record that was made by hand together, as simulate.prepare does for a site."""
    harvester = harvester_of(design)
    design, material = harvester.fitted(design, material)
    row = np.zeros(ROW_LENGTH) if material is None else material.row
    numbers = harvester.numbers(design, material, air.pressure)
    return Prepared(harvester, design, material, air, harvester.plan(design, air), numbers, row)


def _accounts(ready: Prepared, result: MarchResult) -> Accounts:
    return ready.harvester.accounts(Bucketed(ready.harvester.kind, ready.design, result.flows))


def _repeated(ready: Prepared) -> dict[str, NDArray[np.float64]]:
    """March a one-day record until its water repeats itself; gives the last day's water by hour [kg/m2]."""
    before, state = -1.0, None
    for _ in range(MOST_DAYS):
        _, result = march_year(ready, tolerance=TOLERANCE, start=state)
        state = result.state
        water = {name: entry[0] for name, entry in _accounts(ready, result).water.items()}
        litres = float(water["water_collected"].sum())
        if abs(litres - before) < max(REPEATS * litres, LEAST_CHANGE):
            break
        before = litres
    return water


_RUNS: Final[Mapping[str, Callable[..., DrawResult]]] = {
    "passive_box": _passive_box,
    "dew_condenser": _dew_condenser,
    "active_bed": _active_bed,
    "liquid_desiccant": _liquid_desiccant,
    "cooling_coil": _cooling_coil,
    "hybrid": _hybrid,
    "desiccant_wheel": _desiccant_wheel,
}
REFUSALS: Final = (InputError, SolverError)


def cannot_run(experiment: Experiment) -> str:
    """Say why a case cannot be predicted, or nothing."""
    if experiment.case in NO_PROTOCOL:
        return NO_PROTOCOL[experiment.case]
    if experiment.weather == "equilibrium" or experiment.kind in _RUNS:
        return ""
    if experiment.kind not in KINDS:
        return f"the kind is not built yet ({experiment.kind})"
    return "no simulation of this protocol yet"
