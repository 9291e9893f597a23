"""The best design of a plant for its place, by a search within limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from welkinwell.errors import InputError, Problem
from welkinwell.harvesters.size_bounds import Place
from welkinwell.limits.bound import Bound
from welkinwell.plants.plant import Plant
from welkinwell.plants.prices import own_figures
from welkinwell.quantities import litres_on
from welkinwell.sorbents.sorbent import Sorbent, sheet_names, sorbent
from welkinwell.studies.bounds import bounds_of_any_size, carried_once_a_day
from welkinwell.studies.optimise import (
    Best,
    Limits,
    Search,
    Tried,
    best_design,
    evolve_front,
    front,
    needs_pymoo,
    through_the_year,
)
from welkinwell.studies.runner import Progress
from welkinwell.studies.variables import Variable, from_text, variables_of
from welkinwell.supply.verdict import money


@dataclass(frozen=True)
class BestDesign:
    """The best design found for one harvester of a case, and the front of litres against a second figure."""

    about: Plant
    search: Search
    best: Best
    against: str
    front: list[Tried]
    headline: str

    def as_data(self) -> dict[str, Any]:
        """Give the summary."""

        def written(tried: Tried) -> dict[str, Any]:
            return {
                "sorbent": tried.sorbent or None,
                **{
                    v.key: v.text(value) for v, value in zip(self.search.variables, tried.values, strict=True)
                },
                "figures": dict(tried.numbers),
            }

        return {
            **self.about.head,
            "best": written(self.best.best),
            "designs_simulated": _simulated(self.best),
            "left_out": self.search.left_out(),
            "sorbents_at_first": [
                {"sorbent": name or None, "litres_per_m2_day": value} for name, value in self.best.order
            ],
            "limits": dict(self.search.limits.of),
            "front_against": self.against,
            "front": [written(tried) for tried in self.front],
            "headline": self.headline,
        }


def best_of(
    about: Plant,
    *,
    vary: Sequence[str] = (),
    sorbents: Sequence[str] = (),
    limits: Limits | None = None,
    objective: str = "litres",
    against: str = "mass",
    record: Path | None = None,
    seed: int = 1,
    progress: Progress | None = None,
) -> BestDesign:
    """Search the best design for a harvester's place.

    sorbents: names of sheets, "all", or its own where none are given; objective: "litres", or "cost" for the
    cheapest litre; against: the second figure of the front, by its key in `optimise.FIGURES`.
    """
    if against == "electricity":
        needs_pymoo()
    design = about.design
    variables = [from_text(design, text) for text in vary] or variables_of(design)
    own = about.entry.sorbent
    if own is None or not sorbents:
        materials = [own]
    else:
        names = sheet_names() if list(sorbents) == ["all"] else sorbents
        materials = [sorbent(name) for name in names]
    _refuse_forbidden(about, materials, variables, limits or Limits())
    search = Search(
        design, materials, about.site, variables, limits=limits, record=record, objective=objective,
        own_figures=own_figures(about),
    )  # fmt: skip
    best = best_design(search, seed=seed, progress=progress)
    if against == "electricity" and best.best.numbers["electricity"]:
        edge = evolve_front(search, best.best.sorbent, against, seed=seed, progress=progress)
    else:
        edge = front([t for t in best.tried if not t.whole], against, search.limits)
    edge = through_the_year(search, edge, against)
    now = about.figures["litres_per_m2_day"]
    got = float(best.best.numbers["litres"] or 0.0)
    cheapest = ""
    if objective == "cost" and (per_litre := best.best.numbers.get("cost")) is not None:
        cheapest = f"at {money(per_litre)} {about.case.cost.currency} a litre, the least, "
    headline = (
        f"{got:.2f} {litres_on(about.basis)} {cheapest}is the best that was found, against {now:.2f} as the "
        "case has it"
        + (f", with {best.sorbent.name}" if best.sorbent is not None else "")
        + f"; {_simulated(best)} designs were simulated. A search finds good designs and proves nothing."
    )
    return BestDesign(about, search, best, against, edge, headline)


def _simulated(best: Best) -> int:
    """How many designs of a search were simulated: those that cannot be built were not."""
    return sum(not one.refused for one in best.tried)


def _refuse_forbidden(
    about: Plant, materials: Sequence[Sorbent | None], variables: Sequence[Variable], limits: Limits
) -> None:
    """Refuse limits that no size and no sorbent of a search can keep, before it begins."""
    least, (_, mass) = limits.of.get("litres", (None, None))[0], limits.of.get("mass", (None, None))
    if least is None:
        return
    design, own = about.design, about.entry.sorbent
    place = Place(about.climate, design, variables)
    loosest: Bound | None = None
    for one in materials:
        found = bounds_of_any_size(design, own, place, variables, one)
        if mass is not None and own is not None:
            carried = carried_once_a_day(design, own, place, variables, mass, one)
            found += [carried] if carried is not None else []
        lowest = min(found, key=lambda bound: bound.value)
        if lowest.value >= least:
            return
        loosest = lowest if loosest is None or lowest.value > loosest.value else loosest
    if loosest is not None:
        raise InputError(
            Problem(
                "limits", limits.in_words(), f"at most {loosest.value:.2f} {litres_on(about.basis)} here",
                f"Forbidden by {loosest.name}.",
            )
        )  # fmt: skip
