"""Planted faults against the monitor: synthetic logs of one fault each, and of sound boxes.

    python -m benchmarks.monitor_trials               # 20 logs of each; writes results/monitor_trials.json
    python -m benchmarks.monitor_trials --seed 1000   # 20 others of each; writes nothing
    python -m benchmarks.monitor_trials --quick       # 2 of each; writes nothing

A log is a changed box simulated at the accuracy "normal" through 60 days of real weather, written to CSV by
the hour and read again; the monitor simulates at "fast". Instruments: 5 % on the litres of a day and 3 % on
the meter, 0.5 K on each reading of bed and condenser and 0.5 K on each thermometer. The monitor has the same
weather, and allows for what is in doubt about any design and for the errors of a weather station.

Ways: as it is; litres only (no thermometers); calibrated (the coefficients are beyond doubt, as they are for
these logs); other coefficients (all but those of the faults drawn within their doubts; a monitor that is told
"calibrated" when it is not blames something there); other weather (the device met weather that differs from
the monitor's by the errors of a weather station, day by day as well). Litres only and exact: no instrument
errs, but is allowed for all the same. What "nothing" then leaves, in squared standard deviations, is all that
such a log holds against it; no test of one size against none that raises at most 5 false alarms in 100 finds
more of them than printed (NeymanPearson1933). It goes on where it was stopped; docs/validation/monitor.md
explains the figures.
"""

from __future__ import annotations

import argparse
import datetime
import json
import math
import multiprocessing
import os
import tempfile
from collections import Counter
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import cache
from pathlib import Path
from statistics import NormalDist
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from welkinwell.climate import read_climate
from welkinwell.harvesters.air import PER_HOUR, Surroundings, surroundings
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.simulation import TOLERANCES, Prepared, planned, prepare
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.device_log import DeviceLog, read_device_log
from welkinwell.studies.drawn import drawn
from welkinwell.studies.monitor import KNOWN_TO, Monitored, doubts_about, hours_of, monitor, parameter_at

RESULTS: Final = Path(__file__).parent / "results" / "monitor_trials.json"
WEATHER: Final = Path(__file__).parents[1] / "examples" / "weather"
PLACES: Final = ("coast", "desert", "highland", "tropics")
SORBENT: Final = "silica_gel_regular_density"
DAYS: Final = 60
TRIALS: Final = 20
LEAST_LITRES: Final = 0.3  # L/m2 a day of the sound box, or another place and season is drawn
TRUTH: Final = "normal"
# planted fault: (lowest, highest) of its number, evenly drawn
PLANTED: Final = {
    "sound": (0.0, 0.0),
    "leak": (3.0, 15.0),  # air changes an hour on top of 0.5
    "soiling": (0.12, 0.35),  # of the sun
    "ageing": (0.5, 0.8),  # of the capacity
    "condenser": (0.2, 0.5),  # of its coefficient to the air
    "meter": (0.5, 0.75),  # of the litres, as it reads
    "bed_temperature": (4.0, 10.0),  # K, as it reads
}
STRANGE: Final = "sound of other coefficients"
TWO: Final = "two faults"
# number of each kind in the seed of its logs
NUMBER: Final = {
    kind: number
    for number, kind in enumerate(
        ("sound", "leak", "soiling", "ageing", STRANGE, "condenser", "meter", "bed_temperature", TWO)
    )
}
LITRES_ONLY, CALIBRATED, OTHER, WEATHER_OFF, EXACT = (
    "litres only", "calibrated", "other coefficients", "other weather", "litres only and exact",
)  # fmt: skip
BOX: Final = ("sound", "leak", "soiling", "ageing", "condenser")
OF_WAY: Final = {
    "": (*BOX, STRANGE, "meter", "bed_temperature", TWO),
    LITRES_ONLY: (*BOX, STRANGE, "meter"),
    EXACT: ("soiling", "ageing"),
    OTHER: BOX[1:],
    WEATHER_OFF: BOX,
    CALIBRATED: (*BOX[:4], STRANGE),
}
TOLD: Final = 1.05  # factor on the scatter from which the page tells of it
DAY_BY_DAY: Final = 2.0  # times the spread of a weather station's constant error: that of one day
NAMES: Final = ("bed_temperature", "condenser_temperature")


@cache
def place(name: str) -> Surroundings:
    """Weather of one of the four example places."""
    return surroundings(read_climate(next(WEATHER.glob(f"{name}*.gz"))))


def planted(faults: Mapping[str, float]) -> tuple[PassiveBox, Any]:
    """The default box with faults of given sizes; those of instruments are planted in `written_log`."""
    box, material = PassiveBox(), sorbent(SORBENT)
    for fault, size in faults.items():
        if fault == "leak":
            box = replace(box, leak=box.leak + size / 3600.0)
        elif fault == "soiling":
            box = replace(box, soiling=1.0 - (1.0 - box.soiling) * (1.0 - size))
        elif fault == "ageing":
            material = replace(material, dry_specific_heat=material.dry_specific_heat / size)
            box = replace(box, sorbent_mass=box.sorbent_mass * size)
        elif fault == "condenser":
            box = replace(box, condenser_outer_area=box.condenser_outer_area * size)
    return box, material


def truth(kind: str, seed: int, way: str = "") -> tuple[str, int, dict[str, float], Prepared]:
    """Place, first day, faults with their sizes, and the prepared box of one trial."""
    rng = np.random.default_rng([seed, NUMBER[kind]])
    while True:
        name, first = str(rng.choice(PLACES)), int(rng.integers(365))
        sound = prepare(PassiveBox(), sorbent(SORBENT), place(name))
        litres, _ = hours_of(sound, 24 * first, 24 * DAYS, TOLERANCES["fast"])
        if litres.sum() / DAYS / sound.design.basis_area >= LEAST_LITRES:
            break
    chosen = [kind] if kind in PLANTED and kind != "sound" else []
    if kind == TWO:
        chosen = [str(one) for one in rng.choice(BOX[1:], 2, replace=False)]
    faults = {fault: float(rng.uniform(*PLANTED[fault])) for fault in chosen}
    if not faults:
        rng.uniform()  # a size is drawn in any case, so that what follows is the same
    ready = prepare(*planted(faults), place(name))
    if kind == STRANGE or way == OTHER:
        # dust, leak and ageing stay as they are: to find those is no false alarm
        listed = [
            parameter for parameter in doubts_about(sound, ("design",), ()) if parameter.weather is None
        ]
        values = np.array([float(parameter.value(rng.uniform(0.05, 0.95))) for parameter in listed])
        ready = drawn(ready, listed, values)
    if way == WEATHER_OFF:
        ready = other_weather(ready, rng)
    return name, first, faults, ready


def other_weather(ready: Prepared, rng: np.random.Generator) -> Prepared:
    """The box in weather that a station read wrong: by constant errors, and by others from day to day."""
    nodes = ready.air.nodes.copy()
    per_day = 24 * PER_HOUR
    days = ready.air.hours // 24
    for parameter in doubts_about(ready, (), tuple(KNOWN_TO)):
        if parameter.weather is None:
            continue
        shared, own = rng.standard_normal(), DAY_BY_DAY * rng.standard_normal(days)
        for day in range(days):
            end = None if day == days - 1 else (day + 1) * per_day
            parameter.weather(nodes[day * per_day : end], parameter_at(parameter, shared + float(own[day])))
    return planned(replace(ready, air=replace(ready.air, nodes=nodes)))


def written_log(
    ready: Prepared,
    first: int,
    seed: int,
    file: Path,
    thermometers: bool = True,
    faults: Mapping[str, float] = MappingProxyType({}),
    errors: float = 1.0,
) -> DeviceLog:
    """Simulate, read with instruments, write to CSV by the hour, and read again.

    faults: of the instruments count here: "meter" with the share that it reads, or a temperature with by how
    much [K]; errors: of the instruments, in their standard deviations.
    """
    rng = np.random.default_rng([seed, 99])
    litres, states = hours_of(ready, 24 * first, 24 * DAYS, TOLERANCES[TRUTH])
    litres = litres * (1.0 + errors * 0.03 * rng.standard_normal())
    litres = litres * np.repeat(np.maximum(1.0 + errors * 0.05 * rng.standard_normal(DAYS), 0.0), 24)
    litres = litres * faults.get("meter", 1.0)
    names = [unknown.name for unknown in ready.harvester.kind.unknowns]
    columns = [np.maximum(litres, 0.0)]
    for name in NAMES if thermometers else ():
        offset, noise = 0.5 * rng.standard_normal(), 0.5 * rng.standard_normal(litres.size)
        columns.append(states[:, names.index(name)] - 273.15 + offset + noise + faults.get(name, 0.0))
    start = datetime.datetime(2021, 1, 1) + datetime.timedelta(days=first)
    head = "time,litres [L]" + "".join(f",{name} [degC]" for name in (NAMES if thermometers else ()))
    rows = [
        f"{start + datetime.timedelta(hours=k + 1):%Y-%m-%dT%H:%M},"
        + ",".join(f"{value:.4f}" for value in row)
        for k, row in enumerate(zip(*columns, strict=True))
    ]
    file.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return read_device_log(file)


def trial(kind: str, seed: int, way: str = "") -> tuple[Monitored, dict[str, Any]]:
    """Make one log and ask the monitor; returns its finding and the record of it."""
    name, first, faults, ready = truth(kind, seed, way)
    with tempfile.TemporaryDirectory() as folder:
        log = written_log(
            ready,
            first,
            seed,
            Path(folder) / "log.csv",
            way not in (LITRES_ONLY, EXACT),
            faults,
            float(way != EXACT),
        )
    found = monitor(
        PassiveBox(),
        sorbent(SORBENT),
        place(name),
        log,
        weeks=0,
        known=tuple(KNOWN_TO),
        calibrated=way == CALIBRATED,
    )
    blamed = found.blamed
    record = {
        "place": name, "first_day": first, "ratio": round(found.ratio, 4),
        "planted": {fault: round(size, 4) for fault, size in faults.items()},
        "blamed": "nothing" if blamed is None else blamed.key,
        "weight": round(found.explanations[0].weight, 4),
        "value": None if blamed is None else round(blamed.value, 4),
        "interval": None if blamed is None else [round(blamed.low, 4), round(blamed.high, 4)],
        "scatter_raised": {name: round(factor, 2) for name, factor in found.scatter.items() if factor > TOLD},
    }  # fmt: skip
    if way == EXACT:
        nothing = next(one for one in found.explanations if one.explanation is None)
        record["against_nothing"] = round(nothing.misfit, 2)
    return found, record


def right(record: dict[str, Any]) -> bool:
    """Whether what is blamed was planted: one of two, or nothing where nothing was."""
    return bool(record["blamed"] in (record["planted"] or ("nothing",)))


def findable(against: float) -> float:
    """Chance to find what leaves so much against nothing, with 5 false alarms in 100 (NeymanPearson1933)."""
    return NormalDist().cdf(math.sqrt(against) - NormalDist().inv_cdf(0.95))


def _print(results: dict[str, Any]) -> None:
    for kind, trials in results.items():
        records = trials.values()
        if kind.endswith(EXACT):
            power = [findable(record["against_nothing"]) for record in records]
            print(
                f"{kind}: at most {sum(power):.1f} of {len(power)} can be found; least sure {min(power):.2f}"
            )
            continue
        inside = [
            record["interval"][0] <= record["planted"][record["blamed"]] <= record["interval"][1]
            for record in records
            if record["planted"] and right(record)
        ]
        others = Counter(record["blamed"] for record in records)
        raised = sum(bool(record["scatter_raised"]) for record in records)
        print(
            f"{kind}: {sum(map(right, records))} of {len(trials)} right"
            + (f"; interval holds the planted value in {sum(inside)} of {len(inside)}" if inside else "")
            + (f"; more scatter told in {raised}" if raised else "")
            + f"; blamed: {dict(others)}"
        )


def _record(kind: str, seed: int, way: str) -> dict[str, Any]:
    return trial(kind, seed, way)[1]


def main() -> None:
    """Run what is not yet recorded, write after each trial, and print."""
    asked = argparse.ArgumentParser(description="Planted faults against the monitor.")
    asked.add_argument("--quick", action="store_true", help="2 logs of each; writes nothing")
    asked.add_argument("--seed", type=int, default=0, help="first seed; another than 0 writes nothing")
    args = asked.parse_args()
    kept = not args.quick and args.seed == 0
    results: dict[str, Any] = json.loads(RESULTS.read_text("utf-8")) if kept and RESULTS.exists() else {}
    seeds = range(args.seed, args.seed + (2 if args.quick else TRIALS))
    asked_for = []
    for way, kinds in OF_WAY.items():
        for kind in kinds:
            done = results.setdefault(f"{kind}, {way}" if way else kind, {})
            asked_for += [(done, kind, seed, way) for seed in seeds if str(seed) not in done]
    # fresh processes: a fork would copy the threads' locks
    with ProcessPoolExecutor(os.cpu_count(), multiprocessing.get_context("spawn")) as pool:
        records = pool.map(_record, *zip(*[one[1:] for one in asked_for], strict=True)) if asked_for else ()
        for (done, _, seed, _), record in zip(asked_for, records, strict=True):
            done[str(seed)] = record
            if kept:
                RESULTS.write_text(json.dumps(results, indent=1) + "\n", encoding="utf-8")
    _print(results)


if __name__ == "__main__":
    main()
