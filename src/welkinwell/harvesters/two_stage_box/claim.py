"""How a claim of a two-stage solar box is read."""

from dataclasses import replace
from typing import Any, Final

from welkinwell.harvesters.claimed import ClaimedKind, Notes, layered_box, masses_of_a_box
from welkinwell.harvesters.study import always
from welkinwell.harvesters.two_stage_box.design import TwoStageBox


def _make(claim: Any, material: Any, mass: float | None, notes: Notes) -> TwoStageBox:
    found = layered_box(claim, material, mass, notes, TwoStageBox())
    room = found.layer_thickness * found.bed_area
    return replace(found, gap_air_volume=min(max(found.gap_air_volume, 0.5 * room), 2.0))


def _two_effects(claim: Any) -> int:
    return int(claim.effects or 2)


CLAIMED: Final = ClaimedKind(
    _make,
    masses_of_a_box,
    once_a_day=True,
    passive=True,
    sun_driven=True,
    under_the_sky=True,
    aperture=True,
    sun_drives=always,
    effects=_two_effects,
)
