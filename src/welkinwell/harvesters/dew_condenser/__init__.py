"""The radiative dew condenser: a sheet under the night sky."""

from typing import Final

from welkinwell.harvesters.listed import ListedKind
from welkinwell.limits.bound import DEW, SUN_AND_SKY

KIND: Final = ListedKind(
    key="dew_condenser",
    package=__name__,
    title="radiative dew condenser",
    short_title="radiative dew condenser",
    basis="sheet",
    design="DewCondenser",
    place=6,
    takes_sorbent=False,
    bound_by=(SUN_AND_SKY, DEW),
)
