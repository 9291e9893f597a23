"""What a target of a plant would take, on its litres, its cost or the days met."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from welkinwell.harvesters.size_bounds import Place
from welkinwell.limits.bound import Bound
from welkinwell.plants.plant import Plant
from welkinwell.plants.prices import own_figures
from welkinwell.quantities import litres_on
from welkinwell.sorbents.sorbent import Sorbent, sheet_names, sorbent
from welkinwell.studies.bounds import bounds_of_any_size
from welkinwell.studies.off_grid import cost_off_grid
from welkinwell.studies.reach import LITRES, Aim, Reach, reach, variables_of_reach
from welkinwell.studies.runner import Progress
from welkinwell.studies.targets import (
    cost_aim,
    cost_bound,
    days_aim,
    days_bound,
    is_of_plant,
    plant_variables,
)
from welkinwell.studies.variables import Variable, from_text

LIQUID: Final = "liquid desiccant"  # family of a sheet
AREAS: Final = ("aperture_area", "face_area", "coil_face", "sheet_area")  # of a module, by kind


def reach_of(
    about: Plant,
    target: float,
    *,
    of: str = "litres",
    vary: Sequence[str] = (),
    sorbents: Sequence[str] = ("all",),
    progress: Progress | None = None,
) -> Reach:
    """Find what a target would take.

    target: [L/m2/day], for of="cost" [money per delivered litre], for of="days" the share of days met [1];
    vary: fields with ranges, and "modules=..", "tank=.." for targets on cost and days; sorbents: sheets to
    try beside its own, "all", or none.
    """
    tell = progress or (lambda what, share: None)
    design, own = about.design, about.entry.sorbent
    sizes = [text for text in vary if of == "litres" or not is_of_plant(text)]
    variables = [from_text(design, text) for text in sizes] or variables_of_reach(design, own)
    others: list[Sorbent] = []
    if own is not None and sorbents:
        others = [sorbent(name) for name in (sheet_names() if list(sorbents) == ["all"] else sorbents)]
    aim = _aim(about, of, [text for text in vary if text not in sizes])
    now = aim.of(design, own, about.year, [one.now(design, own) for one in aim.plant])
    # a liquid needs trays or wicks: another device, not another filling
    others = [
        one for one in others
        if own is not None and one.key != own.key and (one.family == LIQUID) == (own.family == LIQUID)
    ]  # fmt: skip
    standing = Place(about.climate, design)
    return reach(
        design, own, about.site, target, aim=aim, variables=variables, sorbents=others, now=now,
        bounds=_forbidding(about, aim, Place(about.climate, design, variables), variables),
        bounds_with=lambda one: _forbidding(about, aim, standing, (), one),
        progress=lambda share: tell("Looking for the shortest change", share),
    )  # fmt: skip


def _forbidding(
    about: Plant, aim: Aim, place: Place, variables: Sequence[Variable], instead: Sorbent | None = None
) -> list[Bound]:
    """Bounds on an aim that no size within the ranges passes."""
    case, design, own = about.case, about.design, about.entry.sorbent
    found = bounds_of_any_size(design, own, place, variables, instead)
    if aim.key == LITRES.key:
        return found
    if any(one.key in AREAS for one in variables):
        return []  # the plant's area is open
    if not aim.less:
        return [days_bound(case, design, aim, one) for one in found]
    held = instead or own
    rows = cost_off_grid(case.cost, about.power).for_plant(held, about.entry.kind)
    prices = {name: row.value for name, row in rows.items()}
    return [cost_bound(case, design, aim, one, own, held, variables, prices) for one in found]


def _aim(about: Plant, of: str, plant: Sequence[str]) -> Aim:
    """What a target of `reach_of` is set on."""
    if of == "litres":
        return replace(LITRES, unit=litres_on(about.basis, "²"))
    changes = plant_variables(about.case, about.design, plant)
    if of == "days":
        return days_aim(about.case, changes)
    return cost_aim(about.case, changes, own_figures(about))
