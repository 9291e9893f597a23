"""What the passive box shows: litres at four places and in variants, and the figures of the physics tests.

    python -m benchmarks.what_it_shows           # prints, and writes benchmarks/results/what_it_shows.json
    python -m benchmarks.what_it_shows --quick   # prints the parts that take seconds; writes nothing

docs/validation/what_it_shows.md explains the figures.
"""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path
from typing import Any, Final

import numpy as np
from scipy.optimize import brentq

from benchmarks.made_up_weather import SHEETS, extreme_air, extreme_box, ready_in, repeated_day
from welkinwell.climate import read_climate
from welkinwell.constants import LATENT_HEAT_AT_FREEZING
from welkinwell.errors import SolverError
from welkinwell.harvesters.air import Surroundings, surroundings
from welkinwell.harvesters.passive_box.audit import audited_flows, audited_stocks, boundary
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX, BoxNumbers, box_numbers
from welkinwell.moist_air import saturation_pressure
from welkinwell.numerics.balance import recomputed_flows
from welkinwell.numerics.march import MarchResult, MarchState
from welkinwell.simulation import TOLERANCES, Prepared, march_year, prepare, simulate
from welkinwell.sorbents.sorbent import Sorbent, sorbent
from welkinwell.year import figures

RESULTS: Final = Path(__file__).parent / "results" / "what_it_shows.json"
WEATHER: Final = Path(__file__).parents[1] / "examples" / "weather"
PLACES: Final = ("coast", "desert", "highland", "tropics")
STARTER_SORBENT: Final = "silica_gel_regular_density"
EXPECTED_MEAN: Final = (0.6, 2.0)  # L/m2 a day, of the starter module anywhere
VARIANTS: Final[dict[str, dict[str, Any]]] = {
    "starter module": {},
    "plain black absorber": {"absorber_emissivity": 0.95},
    "condenser area 1.2": {"condenser_outer_area": 1.2},
    "bed to condenser emissivity 0.8": {"bed_condenser_emissivity": 0.8},
    "wind halved": {"shelter": 0.25},
    "leak doubled": {"leak": 1.0 / 3600.0},
    "gap circulates, inclined": {"gap_circulation": "inclined"},
    "condenser beside the bed": {"condenser_position": "beside"},
    "vent opens at 95 degC": {"vent_temperature": 368.15},
    "no vent": {"vent_air_changes": 0.0},
}
# Lowest, highest and dew point [degC], sun on the plane [kWh/m2 a day], length of the day [h], and what an
# independent, unvalidated hourly estimate of this module gave [L/m2 a day], good to 30 %.
DAY_TYPES: Final = {
    "hot dry day": (20.0, 36.0, 7.0, 6.75, 12.0, 0.85),
    "humid day": (24.0, 31.0, 22.5, 4.98, 12.0, 1.30),
}
# Uptake of a flat bed in 10 h at 20 degC, air at 40 % and surface at 20 %: wind [m/s], kg/m2, from a
# boundary layer alone
FLAT_BED: Final = ((1.0, 0.67), (2.0, 1.02), (4.0, 1.71))
EXTREME_CASES: Final = 150
RECORD_EVERY: Final = 3000  # steps a day kept for the audit at extremes


def site_of(place: str) -> Surroundings:
    """Read one of the four weather years that come with the examples."""
    return surroundings(read_climate(next(WEATHER.glob(f"{place}*.gz"))))


def flows_at(y: Any, air: Any, mode: int, numbers: BoxNumbers, row: Any) -> dict[str, float]:
    """Give every flow of the compiled box at one state, by name."""
    phi, slopes = np.zeros(len(PASSIVE_BOX.flows)), np.zeros((len(PASSIVE_BOX.flows), 9))
    PASSIVE_BOX.fill_flows(np.array(y, float), np.array(air, float), mode, numbers, row, False, phi, slopes)
    return dict(zip([flow.name for flow in PASSIVE_BOX.flows], phi, strict=True))


def flat_bed_uptake(wind: float, material: Sorbent) -> float:
    """Uptake in 10 h of one flat face at 20 degC, air at 40 %, surface held at 20 %, wind there [kg/m2]."""
    design = PassiveBox(tilt=0.0, bed_area=1.0, bed_effectiveness=1.0, vent_temperature=368.15)
    numbers = box_numbers(design, material, 101325.0)._replace(layer_resistance=0.0)
    T, full = 293.15, float(saturation_pressure(293.15))
    air = [T, 0.4 * full, 101325.0, wind, 400.0, 0.0, 0.0, 0.0, 0.0]
    y = [T, T, T, 0.1, 0.0, 0.0, 0.0, 0.2 * full, 0.4 * full]
    return 36000.0 * flows_at(y, air, 1, numbers, material.row)["air_to_bed"]


def condenser_rest(release: float, bed: float = 343.15, wind: float = 2.0) -> float:
    """Temperature at which the condenser rests while it condenses a release [kg/(m2 s)], by roots [K]."""
    material = sorbent(STARTER_SORBENT)
    numbers = box_numbers(PassiveBox(leak=0.0, vent_temperature=393.15), material, 101325.0)
    air = [303.15, 1500.0, 101325.0, wind, 380.0, 0.0, 0.0, 0.0, 0.0]
    pool = next(weight for _, weight in PASSIVE_BOX.flows[4].carries)

    def at(T: float, vapour: float) -> dict[str, float]:
        y = [310.0, bed, T, 0.2, 0.0, 0.0, 0.1, vapour, vapour]
        return flows_at(y, air, 0, numbers, material.row)

    def surplus(T: float) -> float:
        vapour = brentq(lambda p: at(T, p)["condensation"] - release, 0.0, 90000.0)
        f = at(T, vapour)
        gains = f["sun_condenser"] + f["rear_radiation"] + f["rear_convection"] + pool * f["condensation"]
        return gains - f["condenser_convection"] - f["condenser_longwave"] - f["leak_heat_condenser"]

    return float(brentq(surplus, 280.0, 340.0))


def altitude_terms(high: float = 70000.0, low: float = 101325.0) -> dict[str, float]:
    """Each term at a high place over the same at sea level, at equal temperature and vapour pressure."""
    from welkinwell.parts.gap import gap_nusselt, vapour_diffusivity

    material = sorbent(STARTER_SORBENT)
    found: dict[str, float] = {}

    def flows(pressure: float, mode: int, still: bool = True, wind: float = 1.0, **numbers_as: float) -> Any:
        numbers = box_numbers(PassiveBox(vent_temperature=393.15), material, pressure)
        if still:
            numbers = numbers._replace(layer_resistance=0.0, release_resistance=0.0)
        numbers = numbers._replace(**numbers_as)
        air = [293.15, 1000.0, pressure, wind, 330.0, 0.0, 0.0, 0.0, 0.0]
        hot = [300.0, 330.0, 305.0, 0.2, 0.0, 0.0, 0.1, 12000.0, 8000.0]
        cool = [293.15, 293.15, 293.15, 0.1, 0.0, 0.0, 0.0, 500.0, 1000.0]
        return flows_at(hot if mode == 0 else cool, air, mode, numbers, material.row)

    found["diffusivity"] = vapour_diffusivity(300.0, high)[0] / vapour_diffusivity(300.0, low)[0]
    nusselts = [gap_nusselt(340.0, 310.0, 0.0, 0.0, p, 0.06, math.radians(30.0))[0] for p in (high, low)]
    found["gap convection over conduction"] = (nusselts[0] - 1.0) / (nusselts[1] - 1.0)
    calm = {"wind_constant": 0.0, "wind_slope": 0.0}
    windy = {"wind_constant": 0.0, "condenser_hot": 0.0, "condenser_cold": 0.0}
    for label, given in (("wind", windy), ("buoyancy", calm), ("wind of 1 m/s and buoyancy", {})):
        lost = [flows(p, 0, **given)["condenser_convection"] for p in (high, low)]
        found[f"condenser cooled by {label}"] = lost[0] / lost[1]
    found["uptake of the open bed"] = flows(high, 1)["air_to_bed"] / flows(low, 1)["air_to_bed"]
    found["condensation across the still gap"] = (
        flows(high, 0)["condensation"] / flows(low, 0)["condensation"]
    )
    found["cover convection"] = flows(high, 0)["cover_convection"] / flows(low, 0)["cover_convection"]
    found["heat carried by the leak"] = flows(high, 0)["leak_heat_bed"] / flows(low, 0)["leak_heat_bed"]
    found["vapour carried by the leak"] = flows(high, 0)["leak"] / flows(low, 0)["leak"]
    return found


def altitude_net(site: Surroundings, pressure: float = 70000.0) -> dict[str, float]:
    """Litres of the starter module at one place as it is, and as if it lay at another air pressure."""
    climate = site.climate
    lifted = climate.assign(pressure=climate["pressure"] * 0.0 + pressure)
    return {
        "as it is": mean_litres({}, site),
        f"at {pressure / 1000:.0f} kPa": mean_litres({}, surroundings(lifted)),
    }


def mean_litres(fields: dict[str, Any], site: Surroundings) -> float:
    """Year's mean of the starter module with some fields changed [L/m2 a day].

    The audit's balance is not asked: the tests ask it.
    """
    year = simulate(PassiveBox(**fields), sorbent(STARTER_SORBENT), site, keep="year", audit=False)
    return float(year["water_collected"].values.sum() / year.attrs["days"])


def starter(site: Surroundings) -> dict[str, Any]:
    """The starter module's year in figures, its balance closed by the audit."""
    year = simulate(PassiveBox(), sorbent(STARTER_SORBENT), site)
    found = figures(year)
    kept = ("litres_per_m2_day", "litres_per_kg_day", "sun_kwh_per_litre", "heat_kwh_per_litre")
    kept += ("latent_efficiency", "second_law_efficiency", "balance")
    return {name: found[name] for name in kept} | {
        "highest_bed_celsius": year.attrs["highest_bed_temperature"] - 273.15,
        "condenser_over_air_kelvin": year.attrs["condenser_excess"],
        "steps_per_day": year.attrs["steps"] / year.attrs["days"],
        "water_vented": float(year["water_vented"].sum()) / 365.0,
        "water_leaked": float(year["water_leaked"].sum()) / 365.0,
    }


def tightened(ready: Prepared, first_hour: int = 0, last_hour: int | None = None) -> tuple[float, float]:
    """What a tenfold tighter tolerance changes: the litres, and the worst day above 0.1 L/m2 [1]."""
    daily = []
    for tolerance in (TOLERANCES["normal"], 0.1 * TOLERANCES["normal"]):
        _, result = march_year(
            ready, tolerance=tolerance, keep="hours", first_hour=first_hour, last_hour=last_hour
        )
        hourly = result.flows.sum(axis=1)[:, PASSIVE_BOX.flow_number("collected")]
        hourly = hourly + result.flows.sum(axis=1)[:, PASSIVE_BOX.flow_number("glazing_drained")]
        daily.append(hourly.reshape(-1, 24).sum(axis=1))
    loose, tight = daily
    wet = tight > 0.1
    worst = float(np.max(np.abs(loose[wet] / tight[wet] - 1.0))) if wet.any() else 0.0
    return float(abs(loose.sum() / tight.sum() - 1.0)), worst


def extreme_run(seed: int) -> tuple[Prepared, MarchState, MarchResult]:
    """March one extreme case through its twenty days, every step recorded."""
    from welkinwell import simulation

    rng = np.random.default_rng(seed)
    air = extreme_air(rng)
    ready = ready_in(*extreme_box(rng), air)
    kept, simulation.RECORD_PER_DAY = simulation.RECORD_PER_DAY, RECORD_EVERY
    try:
        start, result = march_year(ready, tolerance=TOLERANCES["normal"], record=True)
    finally:
        simulation.RECORD_PER_DAY = kept
    return ready, start, result


def residuals(ready: Prepared, start: MarchState, result: MarchResult) -> tuple[float, float]:
    """Close the books of a recorded march from outside: water over what was taken up, energy over the sun."""

    def again(states: Any, air: Any, mode: Any) -> Any:
        return audited_flows(states, air, mode, ready.design, ready.sorbent, ready.air.pressure)

    sizes = np.array([unknown.size for unknown in ready.harvester.kind.unknowns])
    steps = recomputed_flows(
        result.record, result.record_time, ready.air.nodes, ready.air.spacing, again, sizes
    )
    before = audited_stocks(start.y, ready.design, ready.sorbent)
    after = audited_stocks(result.state.y, ready.design, ready.sorbent)
    water_in, energy_in = boundary()
    totals = steps.sum(axis=0)
    entered = max(float(np.maximum(steps, 0.0).sum(axis=0) @ np.maximum(water_in, 0.0)), before["water"])
    sun = totals[[PASSIVE_BOX.flow_number(n) for n in ("sun_absorber", "sun_glazing", "sun_condenser")]].sum()
    water = after["water"] - before["water"] - water_in @ totals
    energy = after["energy"] - before["energy"] - energy_in @ totals
    return float(water / entered), float(energy / max(sun, LATENT_HEAT_AT_FREEZING * entered))


def extreme_case(seed: int) -> dict[str, Any]:
    """One extreme case in figures; a march that stops is an error, which is told and not hidden."""
    try:
        ready, start, result = extreme_run(seed)
    except SolverError as error:
        return {"seed": seed, "failed": str(error)}
    water, energy = residuals(ready, start, result)
    flows = result.flows.sum(axis=(0, 1))
    finite = np.isfinite(flows).all() and np.isfinite(result.states).all()
    return {
        "seed": seed,
        "finite": bool(finite),
        "steps_per_day": result.steps / (ready.air.hours / 24),
        "water_residual_relative": water,
        "energy_residual_relative": energy,
        "least_loading": float(result.extremes[0, 3]),
        "least_films": [float(x) for x in result.extremes[0, 4:7]],
        "least_pressures": [float(x) for x in result.extremes[0, 7:9]],
        "litres": float(flows[PASSIVE_BOX.flow_number("collected")]),
    }


def day_type(name: str, fields: dict[str, Any] | None = None) -> dict[str, float]:
    """The periodic steady day of a day type."""
    low, high, dew, sun, length, expected = DAY_TYPES[name]
    air = repeated_day(low + 273.15, high + 273.15, dew + 273.15, sun * 3.6e6, day_length=length)
    design = PassiveBox(**(fields or {}))
    ready = ready_in(design, sorbent(STARTER_SORBENT), air)
    _, result = march_year(ready, tolerance=1e-4, keep="hours")
    flows = result.flows.sum(axis=1)
    collected = flows[:, PASSIVE_BOX.flow_number("collected")].reshape(-1, 24).sum(axis=1)
    last = slice(-24, None)
    daily = {flow.name: float(x) for flow, x in zip(PASSIVE_BOX.flows, flows[last].sum(axis=0), strict=True)}
    loading = result.states[last, 3]
    return {
        "litres_per_m2": float(collected[-1]),
        "over_expected": float(collected[-1]) / expected,
        "settled_within": float(abs(collected[-1] / collected[-2] - 1.0)),
        "condensed": daily["condensation"],
        "leaked": daily["leak"],
        "vented": daily["vent"],
        "taken_up": daily["air_to_bed"],
        "least_loading": float(loading.min()),
        "most_loading": float(loading.max()),
        "hottest_bed_celsius": float(result.states[last, 1].max() - 273.15),
        "hottest_condenser_over_air": float((result.states[last, 2] - air.nodes[-48::2, 0]).max()),
        "sun_absorbed_kwh": daily["sun_absorber"] / 3.6e6,
        "cover_loss_kwh": (daily["cover_radiation"] + daily["cover_convection"]) / 3.6e6,
        "rear_heat_kwh": (daily["rear_radiation"] + daily["rear_convection"]) / 3.6e6,
    }


def litres_table() -> dict[str, dict[str, float]]:
    """Litres a m2 and day of every variant at every place."""
    table: dict[str, dict[str, float]] = {}
    for place in PLACES:
        site = site_of(place)
        table[place] = {name: mean_litres(fields, site) for name, fields in VARIANTS.items()}
    return table


def summary_of_extremes(cases: list[dict[str, Any]]) -> dict[str, Any]:
    """What a run of extreme cases came to."""
    done = [case for case in cases if "failed" not in case]
    steps = np.array([case["steps_per_day"] for case in done])
    largest = {
        key: max(abs(case[key]) for case in done)
        for key in ("water_residual_relative", "energy_residual_relative")
    }
    return {
        "cases": len(cases),
        "finite": sum(case["finite"] for case in done),
        "failed": [case for case in cases if "failed" in case],
        "steps_per_day_median": float(np.median(steps)),
        "steps_per_day_largest": float(steps.max()),
        **largest,
        "least_loading": min(case["least_loading"] for case in done),
        "least_film": min(min(case["least_films"]) for case in done),
    }


def quick_parts() -> dict[str, Any]:
    """Everything that takes seconds."""
    base, more = 0.3 / 3600.0, 0.5 / 3600.0
    coast = site_of("coast")
    return {
        "flat_bed": {
            f"{wind:g} m/s": {
                "expected": expected,
                **{key: flat_bed_uptake(wind, sorbent(key)) for key in SHEETS},
            }
            for wind, expected in FLAT_BED
        },
        "release": {
            "condenser_rest_at_0.3": condenser_rest(base) - 273.15,
            "condenser_rest_at_0.5": condenser_rest(more) - 273.15,
            "rise": condenser_rest(more) - condenser_rest(base),
        },
        "altitude_terms": altitude_terms(),
        "altitude_net": altitude_net(coast),
        "day_types": {name: day_type(name) for name in DAY_TYPES},
        "starter": {place: starter(site_of(place)) for place in PLACES},
        "litres": litres_table(),
    }


def slow_parts() -> dict[str, Any]:
    """Accuracy at four places and the extremes."""
    accuracy = {}
    for place in PLACES:
        ready = prepare(PassiveBox(), sorbent(STARTER_SORBENT), site_of(place))
        year, day = tightened(ready)
        accuracy[place] = {"year": year, "worst_day": day}
    cases = [extreme_case(seed) for seed in range(EXTREME_CASES)]
    return {"tenfold_tighter": accuracy, "extremes": summary_of_extremes(cases)}


def show(found: Any, indent: str = "") -> None:
    """Print nested figures, one a line."""
    for key, value in found.items():
        if isinstance(value, dict):
            print(f"{indent}{key}")
            show(value, indent + "  ")
        elif isinstance(value, float):
            print(f"{indent}{key:<40} {value:.4g}")
        else:
            print(f"{indent}{key:<40} {value}")


def main(arguments: list[str]) -> None:
    """Print the figures and write them."""
    found = quick_parts()
    if "--quick" not in arguments:
        found |= slow_parts()
    show(found)
    for place, means in found["litres"].items():
        mean, (low, high) = means["starter module"], EXPECTED_MEAN
        verdict = "inside" if low <= mean <= high else "OUTSIDE"
        print(f"{place}: {mean:.2f} L/m2/day, {verdict} {low} to {high}")
    if "--quick" not in arguments:
        RESULTS.write_text(json.dumps(found, indent=1, allow_nan=False) + "\n")
        print(f"written to {RESULTS}")


if __name__ == "__main__":
    main(sys.argv[1:])
