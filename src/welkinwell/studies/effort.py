"""What the parts of a job take, as far as is known beforehand: it tells how far a job is, and nothing else.

Efforts are in seconds of one core of an ordinary machine of 2023. Only what they are to each other counts.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import accumulate
from typing import Any, Final

from welkinwell import compile_cache
from welkinwell.harvesters.kinds import KINDS, harvester_of
from welkinwell.sorbents.row import FORM_SALT_HYDRATES, SLOT_FORM, SLOT_HYSTERESIS

Progress = Callable[[str, float], None]
