"""Every kind's printed slopes against differences, its flows' unknowns, and its text without the compiler."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from benchmarks.flow_states import LAYERED, devices, states

from welkinwell.harvesters.kinds import KINDS

TRIED = 3  # devices of a kind
AT = 6  # states of each, in each mode
# Where two step sizes of the differences disagree, a corner of a gap, a film or an isotherm lies between
DISAGREE = 1e-4
AGREE = 2e-3


def of_kind(name):
    for number, ready in enumerate(devices(name, TRIED)):
        harvester = KINDS[name.partition(",")[0]].assembled("layered" if name == LAYERED else "")
        numbers = harvester.numbers(ready.design, ready.sorbent, ready.air.pressure)
        y, air = states(ready, harvester.kind, number)
        for mode in (0, 1):
            for one, outside in zip(y[:AT], air[:AT], strict=True):
                yield harvester.kind, one, outside, mode, numbers, ready.row


def flows_at(kind, y, air, mode, numbers, row):
    phi = np.zeros(len(kind.flows))
    kind.fill_flows(y, air, mode, numbers, row, False, phi, np.zeros((len(phi), y.size)))
    return phi


@pytest.mark.parametrize("name", [*KINDS, LAYERED])
def test_slopes_meet_differences_and_uses_are_complete(name):
    compared = 0
    for kind, y, *rest in of_kind(name):
        n, m = y.size, len(kind.flows)
        phi, slopes = np.zeros(m), np.zeros((m, n))
        kind.fill_flows(y, *rest, True, phi, slopes)
        for u, unknown in enumerate(kind.unknowns):
            found = []
            for step in (3e-6, 1e-5):
                moved = y.copy(), y.copy()
                for sign, each in zip((1.0, -1.0), moved, strict=True):
                    each[u] += sign * step * max(min(unknown.size, 100.0), 0.01)
                up, down = (flows_at(kind, each, *rest) for each in moved)
                found.append((up - down) / (moved[0][u] - moved[1][u]))
            uses = np.array([u in flow.uses for flow in kind.flows])
            assert (found[0][~uses] == 0.0).all(), unknown.name
            scale = np.abs(found[0]) + 1e-3 * np.abs(phi) / max(abs(y[u]), 1e-3) + 1e-13
            smooth = uses & (np.abs(found[0] - found[1]) < DISAGREE * scale)
            wrong = smooth & ~(np.abs(slopes[:, u] - found[0]) < AGREE * scale)
            assert not wrong.any(), [
                f"d({kind.flows[f].name})/d({unknown.name}): {slopes[f, u]}, by difference {found[0][f]}"
                for f in np.flatnonzero(wrong)
            ]
            compared += int(smooth.sum())
    assert compared > 200


def test_the_text_of_the_box_gives_the_compiled_flows():
    """Without the compiler the box's own lines run, and give what the compiled kernel gives."""
    script = """
import sys
sys.path.insert(0, {place!r})
import test_kinds_written_once as t
for kind, *rest in t.of_kind("passive_box"):
    print(*t.flows_at(kind, *rest).tolist())
"""
    printed = []
    for value in ("0", "1"):
        run = subprocess.run(
            [sys.executable, "-c", script.format(place=str(Path(__file__).parent))],
            env={**os.environ, "NUMBA_DISABLE_JIT": value},
            capture_output=True,
            text=True,
            check=True,
        )
        printed.append(np.array([line.split() for line in run.stdout.splitlines()], dtype=float))
    assert printed[0].shape == (TRIED * 2 * AT, 37)
    assert printed[1] == pytest.approx(printed[0], rel=1e-9, abs=1e-12)
