"""Where a plant loses its litres, from the bounds of its place to what people get, and what limits it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Final

import numpy as np

from welkinwell.case import HarvesterCase
from welkinwell.harvesters.size_bounds import Place
from welkinwell.harvesters.study import study_of
from welkinwell.plants.plant import Plant
from welkinwell.studies.bounds import bounds_of_any_size
from welkinwell.studies.limiting import limit_by_month, limiting_steps
from welkinwell.studies.losses import LossLadder, loss_ladder
from welkinwell.studies.runner import Progress
from welkinwell.studies.variables import variables_of

# Bounds that no size, sorbent or condition of a device of their kind changes
OF_THE_PLACE: Final = ("reversible", "heat")


def years_of_losses(entry: HarvesterCase) -> float:
    """Years that `losses_of` simulates for a harvester, and `limiting_of` after it."""
    study = study_of(entry.kind)
    return 2.0 ** len(study.losses) + len(study.easings)


def losses_of(about: Plant, progress: Progress | None = None) -> LossLadder:
    """Lay out the losses of a harvester, from the bounds of its place to the litres delivered."""
    tell = progress or (lambda what, share: None)
    kind = about.entry.kind
    binding = [b for b in about.bounds.bounds if b.key in OF_THE_PLACE and kind in b.binds]
    design, own = about.design, about.entry.sorbent
    variables = variables_of(design)
    place = Place(about.climate, design, variables)
    binding += [
        replace(bound, name=f"{bound.name}, any size within the search's ranges")
        for bound in bounds_of_any_size(design, own, place, variables)
    ]
    return loss_ladder(
        about.design,
        about.entry.sorbent,
        about.site,
        binding,
        _after_the_gutter(about),
        lambda share: tell("Switching losses off, all ways", share),
    )


def limiting_of(about: Plant) -> list[tuple[str, float]]:
    """Name what limits a harvester in each month, and the gain over the month's litres if it were easier."""
    design, material, site = about.design, about.entry.sorbent, about.site
    return limit_by_month(limiting_steps(design, material, site), np.array(about.figures["litres_by_month"]))


def _after_the_gutter(about: Plant) -> list[tuple[str, float]]:
    """What is lost between gutter and people, in L per m2 of basis area and day."""
    supply, area = about.supply, about.area
    chain = supply.net.chain()
    lost = [(_words(name), (before - after) / area) for (_, before), (name, after) in pairwise(chain)]
    delivered = float(supply.daily.delivered.sum()) / supply.daily.delivered.size
    lost = [(name, loss) for name, loss in lost if loss > 0.0]
    return [*lost, ("Spilled, or left in the tank", (chain[-1][1] - delivered) / area)]


def _words(step: str) -> str:
    return {
        "after_drips": "Drips past gutter and joints",
        "after_first_flush": "First flush",
        "after_treatment": "Rejects and backwash",
        "after_samples": "Samples",
        "net": "Outages",
    }[step]
