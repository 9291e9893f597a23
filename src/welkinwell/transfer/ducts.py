"""Laminar air in long channels: pressure drop, and heat and mass transfer to the walls.

Honeycombs, coated fins and wheels: channels of a millimetre or three at some metres a second stay laminar.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from welkinwell.compiled import njit


class ChannelShape(NamedTuple):
    """Fully developed laminar flow in a channel of one shape.

    friction: Darcy friction factor times Reynolds number [1]; nusselt: at equal wall temperature [1].
    """

    friction: float
    nusselt: float


# Fully developed, walls at one temperature (Shah1978; friction four times the Fanning value printed there).
SHAPES: Final = {
    "plates": ChannelShape(96.0, 7.541),
    "round": ChannelShape(64.0, 3.657),
    "square": ChannelShape(56.91, 2.976),
    "triangle": ChannelShape(53.33, 2.47),
}


@njit(cache=True)
def duct_gradient(velocity: float, size: float, friction: float, viscosity: float) -> float:
    """Pressure drop per length of laminar flow in a channel, (f Re) mu v/(2 d^2).

    velocity: mean, inside the channel [m/s]
    size: hydraulic diameter [m]
    friction: Darcy friction factor times Reynolds number, of the shape [1]
    viscosity: of the air [Pa s]
    returns: pressure drop [Pa/m]
    source: Shah1978; fully developed, Re below about 2000
    """
    d = max(size, 1e-6)
    return friction * viscosity * velocity / (2.0 * d * d)


@njit(cache=True)
def duct_surface(size: float, open_share: float) -> float:
    """Wall of channels per volume of their block, 4 o/d.

    size: hydraulic diameter [m]
    open_share: of the block's face that is channel [1]
    returns: surface per volume [1/m]
    source: definition of the hydraulic diameter
    """
    return 4.0 * open_share / max(size, 1e-6)
