"""The liquid desiccant: brine that takes up in an absorber and gives off in a still."""

from typing import Final

from welkinwell.harvesters.listed import ListedKind
from welkinwell.limits.bound import PROCESSED_AIR, SUN_AND_SKY

BRINES: Final = "liquid desiccant"  # family of the sheets that it holds
KIND: Final = ListedKind(
    key="liquid_desiccant",
    package=__name__,
    title="liquid desiccant",
    short_title="liquid desiccant",
    basis="still aperture",
    design="LiquidDesiccant",
    place=7,
    bound_by=(SUN_AND_SKY, PROCESSED_AIR),
    hazards=("electricity", "heater", "rotor"),
)
