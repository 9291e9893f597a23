"""The hybrid: sun, night sky and electricity for one bed."""

from typing import Final

from welkinwell.harvesters.listed import ListedKind
from welkinwell.limits.bound import SUN_AND_SKY

KIND: Final = ListedKind(
    key="hybrid",
    package=__name__,
    title="hybrid of sun, night sky and electricity",
    short_title="hybrid",
    basis="aperture",
    design="Hybrid",
    place=8,
    bound_by=(SUN_AND_SKY,),
    hazards=("sun", "glass", "electricity", "refrigerant", "rotor"),  # it may hold a heat pump
)
