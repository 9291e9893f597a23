"""Compiled marches of printed kernels come back from the folder of compiled code in another process."""

import subprocess
import sys

import pytest

SCRIPT = """
from dataclasses import replace
from benchmarks.flow_states import devices
from welkinwell.harvesters.kinds import KINDS
from welkinwell.simulation import compiled_march, march_year
ready = devices({name!r}, 1)[0]
harvester = KINDS["passive_box"].assembled({depth!r})
numbers = harvester.numbers(ready.design, ready.sorbent, ready.air.pressure)
ready = replace(ready, harvester=harvester, numbers=numbers)
print(march_year(ready, tolerance=3e-3, keep="year", last_hour=24)[1].steps)
print(sum(compiled_march(harvester.kind).stats.cache_hits.values()))
"""


@pytest.mark.parametrize(("name", "depth"), [("passive_box", ""), ("passive_box, layered", "layered")])
def test_a_kept_march_is_read_back(name, depth):
    steps = []
    for _ in range(2):
        run = subprocess.run(
            [sys.executable, "-c", SCRIPT.format(name=name, depth=depth)],
            capture_output=True,
            text=True,
            check=True,
        )
        printed = run.stdout.split()
        steps.append(printed[0])
    assert steps[0] == steps[1]
    assert printed[1] == "1"
