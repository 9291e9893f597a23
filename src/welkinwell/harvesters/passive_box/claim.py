"""How a claim of a passive solar box is read."""

from dataclasses import replace
from typing import Any, Final

from welkinwell.harvesters.claimed import ClaimedKind, Notes, layered_box, masses_of_a_box
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.study import always


def _make(claim: Any, material: Any, mass: float | None, notes: Notes) -> PassiveBox:
    found = layered_box(claim, material, mass, notes, PassiveBox())
    room = found.layer_thickness * found.bed_area
    return replace(found, gap_air_volume=min(max(found.gap_air_volume, room), 2.0))


def _one_effect(claim: Any) -> int:
    return 1


CLAIMED: Final = ClaimedKind(
    _make,
    masses_of_a_box,
    once_a_day=True,
    passive=True,
    sun_driven=True,
    under_the_sky=True,
    aperture=True,
    sun_drives=always,
    effects=_one_effect,
    condenser_asked=True,
)
