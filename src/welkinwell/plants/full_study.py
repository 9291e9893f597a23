"""The uncertainty and the losses of every plant of a case, as its full report shows them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from welkinwell.case import HarvesterCase
from welkinwell.plants.losses import losses_of, years_of_losses
from welkinwell.plants.plant import Plant
from welkinwell.plants.uncertainty import PlantUncertainty, uncertainty_of, years_of_uncertainty
from welkinwell.studies.effort import many_years, stages
from welkinwell.studies.losses import LossLadder
from welkinwell.studies.runner import Progress


@dataclass(frozen=True)
class FullStudy:
    """What `run --full` adds to one plant: its uncertainty and its losses."""

    uncertainty: PlantUncertainty
    losses: LossLadder


def studies_effort(entry: HarvesterCase, draws: int) -> float:
    """Effort of `full_studies` for one harvester [s]."""
    return sum(_studies_efforts(entry, draws))


def _studies_efforts(entry: HarvesterCase, draws: int) -> tuple[float, float]:
    years = years_of_uncertainty(entry, draws), years_of_losses(entry)
    first, second = (many_years(number, entry.design, entry.sorbent) for number in years)
    return first, second


def full_studies(
    plants: Sequence[Plant], draws: int = 256, progress: Progress | None = None
) -> list[FullStudy]:
    """Study every plant of a case."""
    found = []
    parts = stages(progress, *(studies_effort(one.entry, draws) for one in plants))
    for about, part in zip(plants, parts, strict=True):
        of_draws, of_losses = stages(_named(part, about.name), *_studies_efforts(about.entry, draws))
        drawn = uncertainty_of(about, draws, progress=of_draws)
        found.append(FullStudy(drawn, losses_of(about, of_losses)))
    return found


def _named(tell: Progress, name: str) -> Progress:
    """Say of which harvester the steps are that are told."""

    def told(what: str, share: float) -> None:
        tell(f"{name}: {what.lower()}", share)

    return told
