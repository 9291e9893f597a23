"""The two-stage solar box: the first bed's condenser heats a second bed."""

from typing import Final

from welkinwell.harvesters.listed import ListedKind
from welkinwell.limits.bound import SUN_AND_SKY

KIND: Final = ListedKind(
    key="two_stage_box",
    package=__name__,
    title="two-stage solar box (the first condenser heats a second bed)",
    short_title="two-stage solar box",
    basis="aperture",
    design="TwoStageBox",
    place=2,
    bound_by=(SUN_AND_SKY,),
    hazards=("sun", "glass"),
)
