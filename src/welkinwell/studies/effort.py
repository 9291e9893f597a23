"""What the parts of a job take, as far as is known beforehand: it tells how far a job is, and nothing else.

Efforts are in seconds of one core; only what they are to each other counts. They were measured once, on a
processor of 2023, with the designs of examples/tern_hollow/all_kinds.toml; a kind's
stand in its `study`.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Any, Final

from welkinwell import compile_cache
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.kinds import KINDS, LISTED, harvester_of
from welkinwell.harvesters.study import Effort, study_of
from welkinwell.simulation import TOLERANCES, march_year, prepare
from welkinwell.sorbents.row import FORM_SALT_HYDRATES, SLOT_FORM, SLOT_HYSTERESIS
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.runner import Progress

WITH_HYSTERESIS: Final = 5.5  # times the effort of a sheet without, for a passive box; measured
WITH_HYDRATES: Final = 3.0
LOADING: Final = 0.5  # s to load a kind's compiled code
READING: Final = 3.0  # s for a weather file, with what reads it
BESIDE: Final = 1.0  # s for bounds, tank, cost and safety of one harvester's year
DRAWING: Final = 3.3  # s for the part of a report that shows one harvester


def stages(progress: Progress | None, *efforts: float) -> list[Progress]:
    """Cut the progress of a job into that of its stages, each as wide as its effort [s]."""
    total, begin, found = sum(efforts), 0.0, []
    for effort in efforts:
        span = effort / total if total > 0.0 else 0.0
        found.append(_stage(progress, begin, span))
        begin += span
    return found


def _stage(progress: Progress | None, begin: float, span: float) -> Progress:
    def tell(what: str, share: float) -> None:
        if progress is not None:
            progress(what, begin + span * share)

    return tell


def whole_year(design: Any, sorbent: Sorbent | None) -> float:
    """Effort of a year with its hours kept and audited [s]."""
    return _of(design).year * of_sheet(sorbent)


def many_years(number: float, design: Any, sorbent: Sorbent | None, cores: int | None = None) -> float:
    """Effort of quick years, only their sums kept, side by side on all cores [s]."""
    return number * _of(design).quick_year * of_sheet(sorbent) / (cores or os.cpu_count() or 1)


def getting_ready(designs: Sequence[Any]) -> list[float]:
    """Effort until the code of each design's kind can be used, the first of a kind for all of it [s].

    Compiling where that was never done on this machine, else loading.
    """
    seen, found = set(), []
    for design in designs:
        name = harvester_of(design).kind.name
        first = LOADING if is_compiled(design) else _of(design).compiling
        found.append(0.0 if name in seen else first)
        seen.add(name)
    return found


def is_compiled(design: Any) -> bool:
    """Whether the code of a design's kind, to its depth, was compiled on this machine before."""
    return compile_cache.is_warm(harvester_of(design).kind.name)


def compile_kind(design: Any, sorbent: Sorbent | None, site: Surroundings) -> None:
    """Compile a kind that was not compiled before on this machine, by simulating its first day."""
    if is_compiled(design):
        return
    march_year(prepare(design, sorbent, site), tolerance=TOLERANCES["fast"], keep="year", last_hour=24)


def of_kind(kind: str) -> float:
    """Effort of a quick year of a kind, by its name; the least of all for what is no kind [s]."""
    if kind in LISTED:
        return study_of(kind).effort.quick_year
    return min(study_of(one).effort.quick_year for one in KINDS)


def _of(design: Any) -> Effort:
    study = study_of(design.kind)
    return study.depth_efforts.get(getattr(design, "depth", ""), study.effort)


def of_sheet(sorbent: Sorbent | None) -> float:
    """How many times longer a sheet takes than one without hysteresis and crystals."""
    if sorbent is None:
        return 1.0
    if sorbent.row[SLOT_FORM] == FORM_SALT_HYDRATES:
        return WITH_HYDRATES
    return WITH_HYSTERESIS if sorbent.row[SLOT_HYSTERESIS] > 0.0 else 1.0
