"""The passive solar box: one cycle a day, night air to its bed, sun behind glass by day."""

from typing import Final

from welkinwell.harvesters.listed import ListedKind
from welkinwell.limits.bound import ONE_EFFECT, SUN_AND_SKY

KIND: Final = ListedKind(
    key="passive_box",
    package=__name__,
    title="passive solar box (one cycle a day)",
    short_title="passive solar box",
    basis="aperture",
    design="PassiveBox",
    place=1,
    depths={"layered": "layered_harvester"},
    bound_by=(SUN_AND_SKY, ONE_EFFECT),
    hazards=("sun", "glass"),
)
