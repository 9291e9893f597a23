"""Do the draws hold the truth as often as they say? Made-up truths, each simulated on a way of its own.

    python -m benchmarks.draw_coverage            # prints, and writes benchmarks/results/draw_coverage.json
    python -m benchmarks.draw_coverage --quick    # one case, 40 truths; writes nothing

A truth is drawn from the same doubts by another generator, and applied by hand: to the fields of the design
as a user would write them, to the sheet, and to the columns of the weather file. It then runs through plain
`simulate` at the "normal" accuracy. The interval is that of `uncertainty`: 1,000 draws of a Sobol sequence,
applied to a prepared record, most of them in typical days, at the "screening" accuracy. What is tested is
all of that machinery; whether the doubts themselves are as wide as the world's is not.
"""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import numpy as np
import xarray as xr

from welkinwell.climate import read_climate
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.uncertain_parameters import FACTOR, SHIFT, UncertainParameter
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulation import prepare, simulate
from welkinwell.sorbents import row as slots
from welkinwell.sorbents.sorbent import Sorbent, sorbent
from welkinwell.studies.runner import run_all
from welkinwell.studies.uncertain_parameters import uncertain_parameters_of
from welkinwell.studies.uncertainty import Draws, draw
from welkinwell.year import figures

RESULTS: Final = Path(__file__).parent / "results" / "draw_coverage.json"
WEATHER: Final = Path(__file__).parents[1] / "examples" / "weather"
SEED: Final = 11
DRAWS: Final = 1000
TRIALS: Final = 100  # in each case
AIM: Final = (0.76, 0.84)
CASES: Final[tuple[tuple[str, str, str, dict[str, Any]], ...]] = (
    ("passive_box", "coast", "silica_gel_regular_density", {}),
    ("passive_box", "desert", "silica_gel_regular_density", {"operation": "pressure"}),
    ("passive_box", "highland", "mof_801", {}),
    ("dew_condenser", "tropics", "", {}),
)
# A doubt's key to the fields that it scales, and the most that each may be.
FIELDS: Final[dict[str, dict[str, tuple[tuple[str, float], ...]]]] = {
    "passive_box": {
        "wind_coefficient": (("wind_constant", np.inf), ("wind_slope", np.inf)),
        "rear_gap": (("rear_gap", np.inf),),
        "front_gap": (("front_insulation", np.inf),),
        "effectiveness": (("bed_effectiveness", 1.0),),
        "emissivity": (("absorber_emissivity", 0.98),),
        "edge_loss": (("edge_loss", np.inf),),
        "leak": (("leak", np.inf),),
        "holdup": (("condenser_holdup", np.inf),),
        "soiling": (("soiling", 0.5),),
    },
    "dew_condenser": {
        "wind_coefficient": (("wind_constant", np.inf), ("wind_slope", np.inf)),
        "emissivity": (("emissivity", 1.0),),
        "back_loss": (("back_loss", np.inf),),
        "holdup": (("holdup", np.inf),),
    },
}


def climate_of(place: str) -> xr.Dataset:
    """Weather of one of the example places."""
    return read_climate(next(WEATHER.glob(f"{place}*.gz")))


def true_values(parameters: list[UncertainParameter], rng: np.random.Generator) -> dict[str, float]:
    """One truth of every doubt."""
    found = {}
    for parameter in parameters:
        if parameter.shape == FACTOR:
            found[parameter.key] = float(np.exp(rng.normal(0.0, parameter.spread)))
        elif parameter.shape == SHIFT:
            found[parameter.key] = float(rng.normal(0.0, parameter.spread))
        else:
            found[parameter.key] = float(
                rng.uniform(min(parameter.low, parameter.high), max(parameter.low, parameter.high))
            )
    return found


def true_device(design: Any, material: Sorbent | None, values: dict[str, float]) -> tuple[Any, Any]:
    """The device with a truth written into its fields and its sheet."""
    for key, fields in FIELDS[design.kind].items():
        changed = {name: min(getattr(design, name) * values[key], most) for name, most in fields}
        design = replace(design, **changed)
    if material is None:
        return design, None
    holds = values["loading"] * values.get("ageing", 1.0)
    design = replace(design, sorbent_mass=design.sorbent_mass * holds)
    material = replace(material, dry_specific_heat=material.dry_specific_heat / holds)
    if "rate" in values:
        material = replace(material, row=material.adjusted_row(rate_factor=values["rate"]))
    if "heat_shift" in values:  # the fourth number of each Sips term: its entropy
        row = material.row.copy()
        for term in range(int(row[slots.SLOT_COUNT])):
            row[slots.SLOT_PARAMETERS + 4 * term + 3] += values["heat_shift"]
        material = replace(material, row=row)
    return design, material


def true_climate(climate: xr.Dataset, values: dict[str, float]) -> xr.Dataset:
    """The weather file with a truth in its columns."""
    warm = climate["temperature"] + values["warmth"]
    most = xr.apply_ufunc(saturation_pressure, warm)
    vapour = np.minimum(climate["vapour_pressure"] * values["humidity"], most)
    sun = {name: climate[name] * values["sun"] for name in ("ghi", "dni", "dhi")}
    changed = climate.assign(
        temperature=warm, vapour_pressure=vapour, wind_speed=climate["wind_speed"] * values["wind"], **sun
    )
    return changed.assign_attrs(climate.attrs)


def one_case(number: int, draws: int = DRAWS, trials: int = TRIALS, widened: float = 1.0) -> dict[str, Any]:
    """Interval and truths of one case.

    widened: factor on the spreads that the draws believe in, 1 for the truths' own.
    """
    kind, place, name, fields = CASES[number]
    design, climate = KINDS[kind].load()(**fields), climate_of(place)
    material = sorbent(name) if name else None
    site = surroundings(climate)
    ready = prepare(design, material, site)
    parameters = uncertain_parameters_of(ready.design, ready.sorbent)
    believed = [
        replace(d, spread=widened * d.spread, high=d.low + widened * (d.high - d.low)) for d in parameters
    ]  # fmt: skip
    found: Draws = draw(design, material, site, draws=draws, seed=SEED, parameters=believed)
    rng = np.random.default_rng([SEED, number])
    truths = [true_values(parameters, rng) for _ in range(trials)]

    def simulated(values: dict[str, float]) -> float:
        device = true_device(design, material, values)
        year = simulate(*device, true_climate(climate, values), keep="months", audit=False)
        return float(figures(year)["litres_per_m2_day"])

    litres = np.array(run_all(simulated, truths))
    low, middle, high = (
        float(np.quantile(found.litres[np.isfinite(found.litres)], q)) for q in (0.1, 0.5, 0.9)
    )
    held = (litres >= low) & (litres <= high)
    return {
        "case": f"{kind} {place} {name} {' '.join(f'{k}={v}' for k, v in fields.items())}".strip(),
        "litres_exceeded_in_90_50_10_percent": [low, middle, high],
        "width_over_middle": (high - low) / middle,
        "trials": trials,
        "held": int(held.sum()),
        "above": int((litres > high).sum()),
        "below": int((litres < low).sum()),
        "through_the_year": found.tie is None,
    }


def main(arguments: list[str]) -> None:
    """Print every case and the coverage; write them unless asked to be quick."""
    quick = "--quick" in arguments
    cases = []
    for number in (3,) if quick else range(len(CASES)):
        cases.append(one_case(number, 128, 40) if quick else one_case(number))
        print(json.dumps(cases[-1], indent=1), flush=True)
    trials = sum(case["trials"] for case in cases)
    share = sum(case["held"] for case in cases) / trials
    found = {
        "date": f"{datetime.now(UTC):%Y-%m-%d}",
        "asked": 0.8,
        "aim": AIM,
        "trials": trials,
        "held": share,
        "standard_error": float(np.sqrt(share * (1.0 - share) / trials)),
        "cases": cases,
    }
    print(json.dumps({key: value for key, value in found.items() if key != "cases"}, indent=1))
    if not quick:
        RESULTS.write_text(json.dumps(found, indent=1) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
