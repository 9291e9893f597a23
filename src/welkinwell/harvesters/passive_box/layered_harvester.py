"""The layered passive box as the year sees it: the lumped box's surroundings and accounts, a bed of cells."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any, Final

from welkinwell.errors import InputError
from welkinwell.harvesters.harvester import Harvester
from welkinwell.harvesters.passive_box import layered_audit
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.passive_box.harvester import HARVESTER as LUMPED
from welkinwell.harvesters.passive_box.harvester import fitted as box_fitted
from welkinwell.harvesters.passive_box.layered_flows import CELLS, layered_kind, layered_numbers


def fitted(design: PassiveBox, sorbent: Any) -> tuple[PassiveBox, Any]:
    """Fit as for the lumped box; raises InputError for a sorbent whose sheet knows no pores."""
    problems = design.sorbent_checks(sorbent)
    if problems:
        raise InputError(problems)
    return box_fitted(design, sorbent)


def layered_harvester(cells: int = CELLS) -> Harvester:
    """Assemble the layered box with a number of cells through its layer, at least two."""
    return replace(
        LUMPED,
        kind=layered_kind(cells),
        fitted=fitted,
        numbers=partial(layered_numbers, cells=cells),
        audited_flows=layered_audit.audited_flows,
        audited_stocks=layered_audit.audited_stocks,
        boundary=partial(layered_audit.boundary, cells),
        citations=(*LUMPED.citations, "Pollard1948", "Bruggeman1935", "Mason1983"),
    )


HARVESTER: Final = layered_harvester()
