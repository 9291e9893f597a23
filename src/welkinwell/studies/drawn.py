"""One draw of the doubts applied to a prepared harvester."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from welkinwell.harvesters.uncertain_parameters import UncertainParameter
from welkinwell.simulation import Prepared, planned


def drawn(base: Prepared, doubts: Sequence[UncertainParameter], values: NDArray[np.float64]) -> Prepared:
    """Give a prepared harvester with one draw applied.

    values: of each doubt, shape (doubts,). The sun on its plane stays as prepared, but for what a doubt says
    that it does to the surroundings.
    """
    design, sorbent = base.design, base.sorbent
    nodes = base.air.nodes
    for doubt, value in zip(doubts, values, strict=True):
        if nodes is base.air.nodes and (doubt.weather is not None or doubt.exposed is not None):
            nodes = nodes.copy()
        before = design
        if doubt.change is not None:
            design, sorbent = doubt.change(design, sorbent, float(value))
        if doubt.weather is not None:
            doubt.weather(nodes, float(value))
        if doubt.exposed is not None:
            doubt.exposed(nodes, before, design)
    air = replace(base.air, nodes=nodes)
    numbers = base.harvester.numbers(design, sorbent, air.pressure)
    row = base.row if sorbent is None else sorbent.row
    changed = replace(base, design=design, sorbent=sorbent, air=air, numbers=numbers, row=row)
    return planned(changed)  # a rule on the sun switches with the sun
