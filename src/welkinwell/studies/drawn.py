"""One draw of the doubts applied to a prepared harvester."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from welkinwell.harvesters.uncertain_parameters import UncertainParameter
from welkinwell.simulation import Prepared, planned


def drawn(base: Prepared, parameters: Sequence[UncertainParameter], values: NDArray[np.float64]) -> Prepared:
    """Give a prepared harvester with one draw applied.

    values: of each doubt, shape (doubts,). The sun on its plane stays as prepared, but for what a doubt says
    that it does to the surroundings.
    """
    design, sorbent = base.design, base.sorbent
    nodes = base.air.nodes
    for parameter, value in zip(parameters, values, strict=True):
        if nodes is base.air.nodes and (parameter.weather is not None or parameter.exposed is not None):
            nodes = nodes.copy()
        before = design
        if parameter.change is not None:
            design, sorbent = parameter.change(design, sorbent, float(value))
        if parameter.weather is not None:
            parameter.weather(nodes, float(value))
        if parameter.exposed is not None:
            parameter.exposed(nodes, before, design)
    air = replace(base.air, nodes=nodes)
    numbers = base.harvester.numbers(design, sorbent, air.pressure)
    row = base.row if sorbent is None else sorbent.row
    changed = replace(base, design=design, sorbent=sorbent, air=air, numbers=numbers, row=row)
    return planned(changed)  # a rule on the sun switches with the sun
