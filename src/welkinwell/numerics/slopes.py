"""Slopes of flows by differences, for kinds whose flows are cheap and have no slopes written by hand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.compiled import njit

SHIFT: Final = 1e-7  # of the size of an unknown
SHIFT_BOTH_WAYS: Final = 1e-6  # the same for central differences


def with_difference_slopes(
    flows: Callable,
    n_flows: int,
    sizes: Sequence[float],
    *,
    both_ways: bool = False,
    uses: Sequence[Sequence[int]] | None = None,
) -> Callable:
    """Make fill_flows(y, air, mode, numbers, row, want, phi, slopes) from compiled flows.

    flows(y, air, mode, numbers, row, phi): fills phi, shape (n_flows,); sizes: usual magnitude of
    each unknown. Slopes are forward differences; y is put back as it was. both_ways: central differences, at
    twice the cost: where a kind is driven so hard that the error of a forward difference shows in its balance
    (a part in 1e8 of a step's flows). uses: the unknowns that each flow depends on, all where None. Unknowns
    that no flow uses together are moved together (Curtis1974); slopes outside `uses` are left as they are.
    """
    shifts = np.array([(SHIFT_BOTH_WAYS if both_ways else SHIFT) * size for size in sizes])
    n = len(shifts)
    used = [tuple(range(n))] * n_flows if uses is None else [tuple(each) for each in uses]
    groups = grouped(n, used)
    places = [
        (f, i) for group in groups for i in group for f, unknowns in enumerate(used) if i in unknowns
    ]  # fmt: skip
    flow_of, unknown_of = (np.array([place[k] for place in places]) for k in (0, 1))
    member, first_member = _flat(groups)
    _, first_place = _flat([[p for p in places if p[1] in group] for group in groups])
    n_groups = len(groups)

    def forward(y, air, mode, numbers, row, want, phi, slopes):
        flows(y, air, mode, numbers, row, phi)
        if want:
            moved = np.empty(n_flows)
            kept = np.empty(n)
            step = np.empty(n)
            for g in range(n_groups):
                for k in range(first_member[g], first_member[g + 1]):
                    i = member[k]
                    kept[i] = y[i]
                    y[i] = kept[i] + shifts[i]
                    step[i] = y[i] - kept[i]
                flows(y, air, mode, numbers, row, moved)
                for k in range(first_member[g], first_member[g + 1]):
                    y[member[k]] = kept[member[k]]
                for k in range(first_place[g], first_place[g + 1]):
                    f = flow_of[k]
                    slopes[f, unknown_of[k]] = (moved[f] - phi[f]) / step[unknown_of[k]]

    # One call alone: each call in the text becomes a copy of the flows for the compiler to work through.
    def central(y, air, mode, numbers, row, want, phi, slopes):
        up = np.empty(n_flows)
        kept = np.empty(n)
        high = np.empty(n)
        rounds = 2 * n_groups if want else 0
        for round_ in range(rounds + 1):
            g = round_ // 2
            rising = round_ % 2 == 0
            if round_ < rounds:
                for k in range(first_member[g], first_member[g + 1]):
                    i = member[k]
                    if rising:
                        kept[i] = y[i]
                        y[i] = kept[i] + shifts[i]
                        high[i] = y[i]
                    else:
                        y[i] = kept[i] - shifts[i]
            flows(y, air, mode, numbers, row, phi)
            if round_ < rounds and rising:
                for f in range(n_flows):
                    up[f] = phi[f]
            elif round_ < rounds:
                for k in range(first_place[g], first_place[g + 1]):
                    f = flow_of[k]
                    i = unknown_of[k]
                    slopes[f, i] = (up[f] - phi[f]) / (high[i] - y[i])
                for k in range(first_member[g], first_member[g + 1]):
                    y[member[k]] = kept[member[k]]

    return _named(central if both_ways else forward, flows)


def grouped(n: int, uses: Sequence[Sequence[int]]) -> list[list[int]]:
    """Put unknowns into as few groups as come easily, such that no flow uses two of one group.

    Args: n: number of unknowns; uses: the unknowns that each flow depends on. Source: Curtis1974.
    """
    together: list[set[int]] = [set() for _ in range(n)]
    for unknowns in uses:
        for i in unknowns:
            together[i].update(unknowns)
    groups: list[list[int]] = []
    for i in sorted(range(n), key=lambda i: -len(together[i])):
        for group in groups:
            if not together[i].intersection(group):
                group.append(i)
                break
        else:
            groups.append([i])
    return groups


def _flat(lists: Sequence[Sequence[Any]]) -> tuple[NDArray[Any], NDArray[np.int64]]:
    """Lay lists end to end; returns the entries and where each list begins, with the end."""
    starts = np.concatenate([[0], np.cumsum([len(each) for each in lists])]).astype(np.int64)
    return np.array([entry for each in lists for entry in each]), starts


def _named(fill_flows: Callable, flows: Callable) -> Callable:
    """Compile under a name of the kind's own: code read back from the cache is linked by name."""
    own: Any = fill_flows
    original: Any = getattr(flows, "py_func", flows)
    own.__module__ = original.__module__
    own.__name__ = own.__qualname__ = f"slopes_of_{original.__name__}"
    return njit(error_model="numpy")(own)
