"""The active bed: fans, several cycles a day, heat from where there is some."""

from typing import Final

from welkinwell.harvesters.listed import ListedKind
from welkinwell.limits.bound import PROCESSED_AIR, SUN_AND_SKY

KIND: Final = ListedKind(
    key="active_bed",
    package=__name__,
    title="active bed (several cycles a day)",
    short_title="active bed",
    basis="bed face",
    design="ActiveBed",
    place=3,
    bound_by=(SUN_AND_SKY, PROCESSED_AIR),
    hazards=("electricity", "heater", "rotor"),
)
