"""What holds the litres back: the same year again with one thing made easier at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from welkinwell.errors import InputError, SolverError
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.changes import set_fields
from welkinwell.harvesters.easings import POWER_CUTS, Easing
from welkinwell.harvesters.kinds import harvester_of
from welkinwell.harvesters.power_cuts import spells_of, without_power_cuts
from welkinwell.harvesters.study import study_of
from welkinwell.simulation import simulate
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.runner import run_all
from welkinwell.year import figures


@dataclass(frozen=True)
class EasedStep:
    """One thing made easier: what, how, and the litres by month that it would give (all modules)."""

    key: str
    name: str
    how: str
    litres_per_day: float
    litres_by_month: NDArray[np.float64]


def limiting_steps(
    design: Any,
    sorbent: Sorbent | None,
    site: Surroundings,
    progress: Callable[[float], None] | None = None,
) -> list[EasedStep]:
    """Relax each step in turn and simulate the year again; the largest gain names what limits.

    Returns one entry for each easing of the kind in its order, and one more where the weather year has power
    cuts that stop it: the same device with electricity in every hour. What cannot be simulated is left out;
    SolverError where that leaves none.
    """
    never_cut = replace(site, climate=without_power_cuts(site.climate))

    def relaxed(entry: Easing) -> EasedStep | None:
        new_design, new_sorbent = entry.change(design, sorbent)
        place = never_cut if entry.key == POWER_CUTS else site
        try:
            year = simulate(new_design, new_sorbent, place, keep="months", accuracy="fast", audit=False)
        except (SolverError, InputError):
            return None
        found = figures(year)
        return EasedStep(
            entry.key, entry.name, entry.how, found["litres_per_day"], np.array(found["litres_by_month"])
        )

    entries = study_of(design.kind).easings
    if meets_power_cuts(design, site):
        entries = (*entries, Easing(POWER_CUTS, "Power cuts", "electricity in every hour", set_fields()))
    found = [one for one in run_all(relaxed, entries, progress=progress) if one is not None]
    if not found:
        raise SolverError("what limits the litres cannot be told: no step could be eased")
    return found


def not_eased(relaxed: Sequence[EasedStep], kind: str) -> str:
    """Name the steps of a kind that could not be eased; empty where all were."""
    tried = {one.key for one in relaxed}
    names = [one.name.lower() for one in study_of(kind).easings if one.key not in tried]
    if not names:
        return ""
    return f"What limits the litres was sought without these steps, whose easing stopped: {', '.join(names)}."


def meets_power_cuts(design: Any, site: Surroundings) -> bool:
    """Whether a design uses electricity and the weather year has hours without it."""
    return harvester_of(design).unpowered is not None and len(spells_of(site.climate)) > 0


def limit_by_month(relaxed: list[EasedStep], litres_by_month: NDArray[np.float64]) -> list[tuple[str, float]]:
    """Name the step with the largest gain in each month, and the gain over the litres of that month."""
    named = []
    for month in range(12):
        gains = [entry.litres_by_month[month] - litres_by_month[month] for entry in relaxed]
        best = int(np.argmax(gains))
        base = max(float(litres_by_month[month]), 1e-9)
        named.append((relaxed[best].key, float(gains[best]) / base))
    return named
