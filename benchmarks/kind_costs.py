"""What each kind of harvester costs: seconds of the processor a year, attempts a day, and compile time.

    python -m benchmarks.kind_costs                        # every kind; writes results/kind_costs.json
    python -m benchmarks.kind_costs --against PATH         # and beside each the same of another checkout
    python -m benchmarks.kind_costs dew_condenser hybrid   # some kinds; writes nothing

Each kind runs in processes of its own. The first finds an empty folder for compiled code; the second finds
what the first one left, and what its first day takes less is the compile time. The second then marches the
year, and simulates it with the audit, the best of `--repeats`. A checkout given by `--against` runs the same
lines with its own source, so both must have what `CHILD` calls. All seconds are those of the processor; the
load average of the machine at the start of each kind is written down, since a shared cache slows all work.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path
from typing import Any, Final

from welkinwell.harvesters.kinds import KINDS

ROOT: Final = Path(__file__).resolve().parents[1]
RESULTS: Final = ROOT / "benchmarks" / "results" / "kind_costs.json"
WEATHER: Final = "coast_western_australia_2020.csv.gz"
LAYERED: Final = "passive_box, layered"
SHEET: Final = "silica_gel_regular_density"
BRINE: Final = "licl_brine"
PACKAGES: Final = ("numpy", "numba")

CHILD: Final = """
import json, sys, time
import welkinwell
from welkinwell.climate import read_climate
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.kinds import KINDS
from welkinwell.simulation import march_year, prepare, simulate_prepared, tolerance_of
from welkinwell.sorbents.sorbent import sorbent

name, weather, sheet, repeats = *sys.argv[1:4], int(sys.argv[4])
kind, _, depth = name.partition(", ")
site = surroundings(read_climate(weather))

def seconds(work):
    begin = time.process_time()
    found = work()
    return time.process_time() - begin, found

def first_day():
    listed = KINDS[kind]
    design = listed.load()(**({"depth": depth} if depth else {}))
    ready = prepare(design, sorbent(sheet) if listed.takes_sorbent else None, site)
    march_year(ready, tolerance=tolerance_of(ready, "normal"), last_hour=24, record=True)
    return ready

said = {"source": welkinwell.__file__}
said["first_day"], ready = seconds(first_day)
if repeats:
    march = lambda: march_year(ready, tolerance=tolerance_of(ready, "normal"), keep="year")
    whole = lambda: simulate_prepared(ready, site)
    whole()
    said["march"] = min(seconds(march)[0] for _ in range(repeats))
    said["with_audit"] = min(seconds(whole)[0] for _ in range(repeats))
    _, result = march()
    said["attempts_a_day"] = (result.steps + result.rejected) / (ready.air.hours / 24)
print(json.dumps(said))
"""

HEAD: Final = (
    f"{'kind':22} {'':8} {'march, s a year':>16} {'with audit':>11} {'attempts a day':>15} {'compile, s':>11}"
)


def costs(name: str, checkout: Path, repeats: int) -> dict[str, float]:
    """What a kind costs with the source of a checkout."""
    sheet = BRINE if name == "liquid_desiccant" else SHEET
    weather = str(ROOT / "examples" / "weather" / WEATHER)
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {"NUMBA_CACHE_DIR": folder, "PYTHONPATH": str(checkout / "src")}

        def child(count: int) -> dict[str, Any]:
            command = [sys.executable, "-c", CHILD, name, weather, sheet, str(count)]
            said = subprocess.run(
                command, env=environment, cwd=folder, check=True, stdout=subprocess.PIPE, text=True
            )
            found: dict[str, Any] = json.loads(said.stdout.splitlines()[-1])
            assert Path(found["source"]).is_relative_to(checkout), found["source"]
            return found

        cold, warm = child(0), child(repeats)
    return {
        "march_seconds_a_year": warm["march"],
        "seconds_a_year_with_audit": warm["with_audit"],
        "attempts_a_day": warm["attempts_a_day"],
        "compile_seconds": cold["first_day"] - warm["first_day"],
    }


def line(name: str, whose: str, found: dict[str, float]) -> str:
    """Return a row of the table."""
    return (
        f"{name:22} {whose:8} {found['march_seconds_a_year']:16.4f} "
        f"{found['seconds_a_year_with_audit']:11.3f} {found['attempts_a_day']:15.1f} "
        f"{found['compile_seconds']:11.1f}"
    )


def commit_of(checkout: Path) -> str:
    """Name the commit of a checkout, with a mark where its source differs from it."""
    command = ["git", "-C", str(checkout), "describe", "--always", "--dirty"]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip()


def main() -> None:
    """Measure, print the table and write the file."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("kinds", nargs="*", help="all where none is named")
    parser.add_argument("--against", type=Path, help="another checkout, an earlier commit's say")
    parser.add_argument("--repeats", type=int, default=5)
    given = parser.parse_args()
    checkouts = {"here": ROOT} | ({"against": given.against.resolve()} if given.against else {})
    rows: dict[str, Any] = {}
    print(HEAD)
    for name in given.kinds or (*KINDS, LAYERED):
        rows[name] = {"load_average": round(os.getloadavg()[0], 2)}
        for whose, checkout in checkouts.items():
            rows[name][whose] = costs(name, checkout, given.repeats)
            print(line(name, whose, rows[name][whose]), flush=True)
    loads = [row["load_average"] for row in rows.values()]
    print(f"load average {min(loads)} to {max(loads)}, best of {given.repeats}")
    if given.kinds:
        return
    kept = {
        "date": f"{datetime.now(UTC):%Y-%m-%d}",
        "machine": f"{os.cpu_count()}-core {platform.machine()} machine",
        "versions": {name: metadata.version(name) for name in PACKAGES}
        | {"python": platform.python_version()},
        "commits": {whose: commit_of(checkout) for whose, checkout in checkouts.items()},
        "case": f"default design of each kind, {WEATHER}, {SHEET} ({BRINE} where it takes a brine)",
        "best_of": given.repeats,
        "kinds": rows,
    }
    RESULTS.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
    print(f"written: {RESULTS.relative_to(ROOT)}")


if __name__ == "__main__":
    main()
