"""The commands of CONTRIBUTING.md that look into a kernel, as they stand there."""

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
COMMAND = re.compile(r"^    python (-m welkinwell\.harvesters .*?)(?:  +#.*)?$", re.MULTILINE)


def test_the_ways_to_look_into_a_kernel_work():
    commands = COMMAND.findall((ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8"))
    assert len(commands) == 2
    place, text = (
        subprocess.run(
            [sys.executable, *command.split()], capture_output=True, text=True, check=True, cwd=ROOT
        ).stdout
        for command in commands
    )
    assert "def slopes_passive_box(y, air, mode, box, row, phi, slopes):" in text
    if not place.startswith("<"):
        assert Path(place.strip()).read_text(encoding="utf-8") == text.removesuffix("\n")
    numbers = [int(n) for n in re.findall(r"# (\d+)$", text, re.MULTILINE)]
    flows = (ROOT / "src/welkinwell/harvesters/passive_box/flows.py").read_text(encoding="utf-8").splitlines()
    line = next(i for i, words in enumerate(flows, 1) if words.strip().startswith("leak_heat_bed ="))
    assert line in numbers
