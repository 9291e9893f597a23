"""Flows, slopes and stocks of every kind at random states, to hold one state of the source against another.

    python -m benchmarks.flow_states --record old.npz          # with one source tree, which is not changed
    python -m benchmarks.flow_states --against old.npz         # with another: prints the largest differences
    python -m benchmarks.flow_states --against old.npz hybrid  # of one kind

Differences of flows and stocks are judged by the largest of the same unit at the same state, those of slopes
by the largest of the flow over all states in that unknown.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np

from benchmarks.random_designs import random_device
from welkinwell.climate import read_climate
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.layer_depth import has_layered_depth
from welkinwell.simulation import Prepared

WEATHER: Final = Path(__file__).parents[1] / "examples" / "weather"
SEED: Final = 12
DEVICES: Final = 25
STATES: Final = 40  # of each device and mode: 1,000 a kind and mode
LAYERED: Final = "passive_box, layered"
# Range of an unknown by its unit; a film is absent, thin or thick
RANGES: Final = {"K": (255.0, 375.0), "kg/kg": (0.005, 0.6), "Pa": (50.0, 9000.0), "kg/m2": (0.0, 0.3)}


def devices(kind: str, count: int = DEVICES) -> list[Prepared]:
    """Random devices of a kind at the four places in turn."""
    found = []
    for i in range(count):
        rng = np.random.default_rng([SEED, list(KINDS).index(kind.partition(",")[0]), i])
        place = ("coast", "desert", "highland", "tropics")[i % 4]
        climate = read_climate(next(WEATHER.glob(f"{place}*.gz"))).isel(time=slice(0, 48))
        site = surroundings(climate)
        ready = random_device(kind.partition(",")[0], site, rng)
        while kind == LAYERED and not has_layered_depth(ready.design, ready.sorbent):
            ready = random_device("passive_box", site, rng)
        found.append(ready)
    return found


def states(ready: Prepared, kind: Any, number: int) -> tuple[np.ndarray, np.ndarray]:
    """Unknowns and air of random states of a device."""
    rng = np.random.default_rng([SEED, 99, number])
    n = len(kind.unknowns)
    y = np.zeros((STATES, n))
    brine = ready.sorbent is not None and ready.sorbent.family == "liquid desiccant"
    for i, unknown in enumerate(kind.unknowns):
        low, high = (0.8, 2.5) if brine and unknown.unit == "kg/kg" else RANGES[unknown.unit]
        y[:, i] = low + (high - low) * rng.random(STATES)
        if unknown.unit == "kg/m2":
            y[:, i] *= (rng.random(STATES) < 0.7) * 10.0 ** (-2.0 * rng.random(STATES))
    air = ready.air.nodes[rng.integers(len(ready.air.nodes), size=STATES)].copy()
    return y, air


def found_of(name: str) -> dict[str, np.ndarray]:
    """Flows, slopes and stocks of a kind at its states, by name of the array."""
    flows, slopes, stocks = [], [], []
    for number, ready in enumerate(devices(name)):
        kind = ready.harvester.kind
        numbers = ready.numbers
        if name == LAYERED:
            harvester = KINDS["passive_box"].assembled("layered")
            kind, numbers = harvester.kind, harvester.numbers(ready.design, ready.sorbent, ready.air.pressure)
        n, m = len(kind.unknowns), len(kind.flows)
        y, air = states(ready, kind, number)
        for mode in (0, 1):
            for one, outside in zip(y, air, strict=True):
                phi, slope = np.zeros(m), np.zeros((m, n))
                kind.fill_flows(one, outside, mode, numbers, ready.row, True, phi, slope)
                for f, flow in enumerate(kind.flows):
                    slope[f, [u for u in range(n) if u not in flow.uses]] = 0.0
                alone = np.zeros(m)
                kind.fill_flows(one, outside, mode, numbers, ready.row, False, alone, slope.copy())
                U, S = np.zeros(n), np.zeros((n, n))
                rest = one.copy()
                A = kind.rest(outside, numbers, ready.row, rest)
                kind.fill_stocks(rest, numbers, ready.row, A, U, S)
                flows.append(np.concatenate([phi, alone]))
                slopes.append(slope)
                stocks.append(U)
    return {"flows": np.array(flows), "slopes": np.array(slopes), "stocks": np.array(stocks)}


def compared(name: str, old: dict[str, np.ndarray], new: dict[str, np.ndarray]) -> str:
    """A line of largest differences, and the flows that differ most."""
    kind = KINDS[name.partition(",")[0]].assembled("layered" if "," in name else "").kind
    units = np.array([flow.unit for flow in kind.flows] * 2)
    worst, where = 0.0, ""
    for unit in set(units):
        of = np.flatnonzero(units == unit)
        before, after = old["flows"][:, of], new["flows"][:, of]
        size = np.abs(before).max(axis=1, keepdims=True) + 1e-300
        difference = np.where(np.isnan(before) & np.isnan(after), 0.0, np.abs(after - before) / size)
        s, f = np.unravel_index(np.nanargmax(difference), difference.shape)
        if np.isnan(difference).any() or difference[s, f] > worst:
            worst = float(difference.max())
            where = kind.flows[of[f] % len(kind.flows)].name
    size = np.nanmax(np.abs(old["slopes"]), axis=0, keepdims=True) + 1e-300
    slope = np.abs(new["slopes"] - old["slopes"]) / size
    typical = np.nanmax(np.nanmedian(slope, axis=0))
    s, f, u = np.unravel_index(np.nanargmax(slope), slope.shape)
    size = np.abs(old["stocks"]).max(axis=0, keepdims=True) + 1e-300
    stock = (np.abs(new["stocks"] - old["stocks"]) / size).max()
    return (
        f"{name:22} {len(old['flows']):6} states  flows {worst:.1e} ({where})  stocks {stock:.1e}  slopes: "
        f"median {typical:.1e}, largest {slope[s, f, u]:.1e} "
        f"({kind.flows[f].name} in {kind.unknowns[u].name})"
    )


def main(arguments: Sequence[str]) -> None:
    """Record, or compare with what was recorded."""
    names = [a for a in arguments[2:]] or [*KINDS, LAYERED]
    file = Path(arguments[1])
    if arguments[0] == "--record":
        kept: dict[str, Any] = {}
        for name in names:
            began = time.time()
            kept |= {f"{name}:{key}": value for key, value in found_of(name).items()}
            print(f"{name}: {time.time() - began:.0f} s", flush=True)
        np.savez_compressed(file, **kept)
        return
    with np.load(file) as recorded:
        for name in names:
            old = {key: recorded[f"{name}:{key}"] for key in ("flows", "slopes", "stocks")}
            print(compared(name, old, found_of(name)), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
