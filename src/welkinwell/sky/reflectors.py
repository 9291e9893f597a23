"""Fixed reflectors round a plane: more direct sun from near its normal, none from far off, less diffuse."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from welkinwell.sky.plane import PlaneSun

EDGE: Final = math.radians(4.0)  # over which acceptance ends: the sun moves so far in a quarter of an hour


class Reflectors(NamedTuple):
    """Reflectors that stand round a plane and do not move.

    concentration: entrance over the plane's area, 1 for none [1]; reflectance: of a ray's way to the plane,
    all reflections together [1]; acceptance: half-angle from the normal within which rays arrive [rad].
    """

    concentration: float
    reflectance: float
    acceptance: float

    @property
    def gain(self) -> float:
        """Sun on the plane over that without reflectors, for rays within the acceptance [1]."""
        return 1.0 + (self.concentration - 1.0) * self.reflectance


def with_reflectors(sun: PlaneSun, reflectors: Reflectors) -> PlaneSun:
    """Sun on the plane behind its reflectors, each part by its own factor.

    Beam and circumsolar: 1 + (C - 1) r within the acceptance, none beyond it (the rays are turned back), over
    4 degrees at its edge. Diffuse and ground: (1 + (C - 1) r)/C, since only 1/C of an even sky that
    enters is accepted. The incidence itself stays that of the plane.

    sun: on the bare plane [W/m2]
    reflectors: [tuple]
    returns: sun on the plane [W/m2]
    source: Duffie2013 (chapter 7, concentrators of the compound parabolic kind)
    """
    if reflectors.concentration == 1.0:
        return sun
    z: NDArray[np.float64] = np.clip((sun.incidence - reflectors.acceptance) / EDGE + 0.5, 0.0, 1.0)
    direct = reflectors.gain * (1.0 - z * z * (3.0 - 2.0 * z))
    even = reflectors.gain / reflectors.concentration
    return sun._replace(
        beam=sun.beam * direct,
        circumsolar=sun.circumsolar * direct,
        sky_diffuse=sun.sky_diffuse * even,
        ground=sun.ground * even,
    )
