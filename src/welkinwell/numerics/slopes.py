"""Slopes of flows by differences, for kinds whose flows are cheap and have no slopes written by hand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

import numpy as np
from numba import njit

SHIFT: Final = 1e-7  # of the size of an unknown
SHIFT_BOTH_WAYS: Final = 1e-6  # the same for central differences


def with_difference_slopes(
    flows: Callable, n_flows: int, sizes: Sequence[float], *, both_ways: bool = False
) -> Callable:
    """Make fill_flows(y, air, mode, numbers, row, want, phi, slopes) from compiled flows.

    flows(y, air, mode, numbers, row, phi): fills phi, shape (n_flows,); sizes: usual magnitude of
    each unknown. Slopes are forward differences; y is put back as it was. Every flow may
    depend on every unknown. both_ways: central differences, at twice the cost: where a kind is driven so hard
    that the error of a forward difference shows in its balance (a part in 1e8 of a step's flows).
    """
    if both_ways:
        return _with_central_slopes(flows, n_flows, sizes)
    shifts = np.array([SHIFT * size for size in sizes])
    n = len(shifts)

    def fill_flows(y, air, mode, numbers, row, want, phi, slopes):
        flows(y, air, mode, numbers, row, phi)
        if want:
            moved = np.empty(n_flows)
            for i in range(n):
                kept = y[i]
                y[i] = kept + shifts[i]
                step = y[i] - kept
                flows(y, air, mode, numbers, row, moved)
                y[i] = kept
                for f in range(n_flows):
                    slopes[f, i] = (moved[f] - phi[f]) / step

    return _named(fill_flows, flows)


def _with_central_slopes(flows: Callable, n_flows: int, sizes: Sequence[float]) -> Callable:
    shifts = np.array([SHIFT_BOTH_WAYS * size for size in sizes])
    n = len(shifts)

    # One call alone: each call in the text becomes a copy of the flows for the compiler to work through.
    def fill_flows(y, air, mode, numbers, row, want, phi, slopes):
        up = np.empty(n_flows)
        rounds = 2 * n if want else 0
        kept = 0.0
        high = 0.0
        for k in range(rounds + 1):
            i = k // 2
            if k < rounds:
                if k % 2 == 0:
                    kept = y[i]
                    y[i] = kept + shifts[i]
                    high = y[i]
                else:
                    y[i] = kept - shifts[i]
            flows(y, air, mode, numbers, row, phi)
            if k < rounds:
                if k % 2 == 0:
                    for f in range(n_flows):
                        up[f] = phi[f]
                else:
                    step = high - y[i]
                    y[i] = kept
                    for f in range(n_flows):
                        slopes[f, i] = (up[f] - phi[f]) / step

    return _named(fill_flows, flows)


def _named(fill_flows: Callable, flows: Callable) -> Callable:
    """Compile under a name of the kind's own: code read back from the cache is linked by name."""
    own: Any = fill_flows
    original: Any = getattr(flows, "py_func", flows)
    own.__module__ = original.__module__
    own.__name__ = own.__qualname__ = f"slopes_of_{original.__name__}"
    return njit(error_model="numpy")(own)
