"""The desiccant wheel: it turns between outdoor air and a heated loop."""

from typing import Final

from welkinwell.harvesters.listed import ListedKind
from welkinwell.limits.bound import PROCESSED_AIR, SUN_AND_SKY

KIND: Final = ListedKind(
    key="desiccant_wheel",
    package=__name__,
    title="desiccant wheel",
    short_title="desiccant wheel",
    basis="wheel face",
    design="DesiccantWheel",
    place=4,
    bound_by=(SUN_AND_SKY, PROCESSED_AIR),
    hazards=("electricity", "heater", "rotor"),
)
