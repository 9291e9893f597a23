"""Damaged files for every reader.

    make fuzz                                        # 60 s of the processor a reader; writes its results
    python -m fuzz sheet                             # one reader; the results of the others are kept
    python -m fuzz --seconds 5 epw case              # shorter; writes nothing
    python -m fuzz --seed 2                          # other mutants; writes nothing
    python -m fuzz --mutant 1234 case > mutant.toml  # one mutant again

A finding is any exception that is no InputError, over 5 s of the processor, or over 1 GB of memory in the
process that reads. Each goes to out/fuzz/ as a file; shortened by hand it belongs into tests/fuzz/corpus/,
which the quick tests replay. The results go to benchmarks/results/fuzz.json.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

RESULTS: Final = Path(__file__).parents[1] / "benchmarks" / "results" / "fuzz.json"
FOUND: Final = Path("out") / "fuzz"
SECONDS: Final = 60.0
SEED: Final = 1
STILL: Final = 900.0  # s by the clock that one mutant may take on a busy machine
LEAST_PAST: Final = 0.2  # share of the mutants that must get past the header
ONE_THREAD: Final = {name: "1" for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")}


def main() -> int:
    """Run the readers, print a line each, and say by the exit code whether something was found."""
    asked = _arguments()
    from fuzz.hunt import content_of
    from fuzz.readers import READERS

    names = asked.readers or list(READERS)
    if asked.mutant is not None:
        reader = READERS[names[0]]
        sys.stdout.buffer.write(content_of(reader, reader.seeds(), asked.seed, asked.mutant))
        return 0
    if asked.worker:
        return _work(names[0], asked)
    print(
        f"{'reader':16} {'mutants':>8} {'past header':>12} {'read':>7} {'slowest':>9} {'peak':>8}  findings"
    )
    with ThreadPoolExecutor(asked.jobs) as pool:
        found = dict(zip(names, pool.map(lambda name: _reader(name, asked), names), strict=True))
    wrong = [one for outcome in found.values() for one in outcome["findings"]]
    shy = [
        name for name, outcome in found.items() if outcome["past_header"] < LEAST_PAST * outcome["mutants"]
    ]
    print(f"{len(found)} readers, {sum(o['mutants'] for o in found.values())} mutants, {len(wrong)} findings")
    if shy:
        print(f"fewer than {100 * LEAST_PAST:.0f} % past the header: {', '.join(shy)}")
    if (asked.seed, asked.seconds) == (SEED, SECONDS):
        RESULTS.write_text(json.dumps(_result(found), indent=1) + "\n", encoding="utf-8")
    return 1 if wrong or shy else 0


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser("python -m fuzz", description=__doc__.split("\n", 1)[0])
    parser.add_argument("readers", nargs="*", help="names of readers; all if none")
    parser.add_argument("--seconds", type=float, default=SECONDS, help="of the processor, for each reader")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--jobs", type=int, default=os.cpu_count(), help="readers at a time")
    parser.add_argument("--mutant", type=int, help="write this mutant of the reader to standard output")
    parser.add_argument("--first", type=int, default=0, help="number of the first mutant")
    parser.add_argument("--worker", help=argparse.SUPPRESS)
    return parser.parse_args()


def _work(name: str, asked: argparse.Namespace) -> int:
    """Be the process of one reader: its outcome goes into the folder that is named."""
    from fuzz.hunt import hunt, limit_memory
    from fuzz.readers import READERS

    limit_memory()
    folder = Path(asked.worker)
    found = hunt(READERS[name], folder, seed=asked.seed, seconds=asked.seconds, first=asked.first)
    (folder / "outcome.json").write_text(json.dumps(found.as_data()), encoding="utf-8")
    return 0


def _reader(name: str, asked: argparse.Namespace) -> dict[str, Any]:
    """Run one reader in processes of its own, a new one after each that died or took too much memory."""
    parts: list[dict[str, Any]] = []
    seconds, first = asked.seconds, asked.first
    while seconds > 0.5 and len(parts) < 20:
        with tempfile.TemporaryDirectory() as place:
            part = _process(name, asked.seed, seconds, first, Path(place))
        parts.append(part)
        seconds -= max(part["seconds"], 0.5)
        first += part["mutants"]
    whole = _joined(parts)
    for one in whole["findings"]:
        _keep(name, asked.seed, one)
    share = 100.0 * whole["past_header"] / max(whole["mutants"], 1)
    print(
        f"{name:16} {whole['mutants']:8d} {share:10.0f} % {whole['read']:7d} {whole['slowest']:7.2f} s "
        f"{whole['peak']:5.0f} MB  {len(whole['findings'])}", flush=True,
    )  # fmt: skip
    for one in whole["findings"]:
        print(f"    {one['kind']}, mutant {one['mutant']}: {one['words']}", flush=True)
    return whole


def _process(name: str, seed: int, seconds: float, first: int, folder: Path) -> dict[str, Any]:
    command = [sys.executable, "-m", "fuzz", name, "--worker", str(folder), "--seed", str(seed)]
    command += ["--seconds", str(seconds), "--first", str(first)]
    begun = time.monotonic()
    errors = folder / "errors.txt"
    with errors.open("w", encoding="utf-8") as file:
        process = subprocess.Popen(command, env=os.environ | ONE_THREAD, stderr=file)
        while process.poll() is None:
            time.sleep(0.2)
            if time.time() - _last_sign(folder) > STILL:
                process.kill()
    told = errors.read_text(encoding="utf-8").strip()[-300:]
    ended = f"the process ended with {process.returncode}: {told}"
    outcome = folder / "outcome.json"
    if outcome.is_file():
        found: dict[str, Any] = json.loads(outcome.read_text(encoding="utf-8"))
        return found
    at = folder / "at"
    index = int(at.read_text(encoding="utf-8")) if at.is_file() else first
    finding = {"kind": "died", "mutant": index, "words": ended}
    return {
        "mutants": index - first + 1, "past_header": 0, "read": 0, "refused": 0, "slowest": 0.0,
        "slowest_mutant": -1, "peak": 0.0, "seconds": time.monotonic() - begun, "findings": [finding],
    }  # fmt: skip


def _last_sign(folder: Path) -> float:
    """When the process in a folder began its last mutant, or began at all [s]."""
    at = folder / "at"
    return (at if at.is_file() else folder / "errors.txt").stat().st_mtime


def _joined(parts: list[dict[str, Any]]) -> dict[str, Any]:
    whole = dict(parts[0])
    for part in parts[1:]:
        for key in ("mutants", "past_header", "read", "refused", "seconds"):
            whole[key] += part[key]
        if part["slowest"] > whole["slowest"]:
            whole |= {key: part[key] for key in ("slowest", "slowest_mutant")}
        whole["peak"] = max(whole["peak"], part["peak"])
        known = {one["words"] for one in whole["findings"]}
        whole["findings"] = [
            *whole["findings"],
            *(one for one in part["findings"] if one["words"] not in known),
        ]
    return whole


def _keep(name: str, seed: int, finding: dict[str, Any]) -> None:
    """Leave the file of a finding in out/fuzz/."""
    from fuzz.hunt import content_of
    from fuzz.readers import READERS

    reader = READERS[name]
    FOUND.mkdir(parents=True, exist_ok=True)
    content = content_of(reader, reader.seeds(), seed, finding["mutant"])
    (FOUND / f"{name}_{seed}_{finding['mutant']}.{reader.suffix}").write_bytes(content)


def _result(found: dict[str, dict[str, Any]]) -> dict[str, Any]:
    from fuzz.readers import READERS

    before = json.loads(RESULTS.read_text(encoding="utf-8"))["readers"] if RESULTS.is_file() else {}
    readers = {name: before[name] for name in READERS if name in before and name not in found}
    for name, outcome in found.items():
        share = outcome["past_header"] / max(outcome["mutants"], 1)
        readers[name] = {
            "mutants": outcome["mutants"],
            "share past the header": round(share, 3),
            "read": outcome["read"],
            "refused in words": outcome["refused"],
            "date": f"{datetime.now(UTC):%Y-%m-%d}",
            "CPU seconds": round(outcome["seconds"], 1),
            "slowest, s": round(outcome["slowest"], 2),
            "peak memory, MB": round(outcome["peak"]),
            "findings": outcome["findings"],
        }
    return {
        "command": "python -m fuzz",
        "machine": f"{os.cpu_count()}-core {platform.machine()} machine, shared with other work",
        "python": platform.python_version(),
        "seed": SEED,
        "CPU seconds a reader": SECONDS,
        "a finding": "an exception that is no InputError, over 5 s of the processor, or over 1 GB of memory",
        "mutants": sum(one["mutants"] for one in readers.values()),
        "findings": sum(len(one["findings"]) for one in readers.values()),
        "readers": readers,
    }


if __name__ == "__main__":
    sys.exit(main())
