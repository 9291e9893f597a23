"""The basin solar still: a reference for checks, which takes its water from a basin, not from the air."""

from typing import Final

from welkinwell.harvesters.listed import ListedKind

KIND: Final = ListedKind(
    key="basin_still",
    package=__name__,
    title="basin solar still (a reference for checks)",
    short_title="basin solar still",
    basis="aperture",
    design="BasinStill",
    place=9,
    takes_sorbent=False,
    from_air=False,
    hazards=("sun", "glass"),
)
