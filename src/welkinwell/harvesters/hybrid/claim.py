"""How a claim of a hybrid is read."""

from dataclasses import replace
from typing import Any, Final

from welkinwell.harvesters.claimed import ClaimedKind, Notes, layered_box, masses_of_a_box
from welkinwell.harvesters.hybrid.design import Hybrid
from welkinwell.harvesters.study import always

TOP_UPS: Final = {"solar": "none", "resistance": "resistance", "heat_pump": "heat_pump"}


def _make(claim: Any, material: Any, mass: float | None, notes: Notes) -> Hybrid:
    found = layered_box(claim, material, mass, notes, Hybrid())
    top_up = TOP_UPS.get(claim.heat_by)
    if top_up is None:
        top_up = found.top_up
        notes.assumed.append("topped up by a heat pump")
    return replace(found, top_up=top_up)


CLAIMED: Final = ClaimedKind(
    _make, masses_of_a_box, sun_driven=True, under_the_sky=True, aperture=True, sun_drives=always
)
