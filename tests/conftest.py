"""Lets tests import what the benchmarks share with them, however pytest was started."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
