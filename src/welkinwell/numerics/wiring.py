"""How flows, stocks and unknowns of a kind hang together, written out as straight-line code for the march.

Looping over lists of (flow, row, weight) took as long as the physics; the same sums written out take a
tenth of that. The text is made from the kind's own table of flows, so there is one place to change.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from numba import njit

Incidence = Iterable[tuple[int, int, float]]
Pattern = Iterable[tuple[int, int]]


@dataclass(frozen=True)
class Wiring:
    """Compiled sums over a kind's table.

    add_flows(total, carried, factor): adds flow integrals to stocks;
    carry(phi, slopes, delta, half, carried): carried = half (phi + slopes delta);
    assemble(S, slopes, half, M): M = S / half - d(stock rates)/d(unknowns).
    """

    unknowns: int
    flows: int
    add_flows: Callable
    carry: Callable
    assemble: Callable


def make_wiring(unknowns: int, flows: int, incidence: Incidence, pattern: Pattern) -> Wiring:
    """Write out and compile the sums.

    incidence: (flow, row, weight), what each flow adds to each stock; pattern: (flow, unknown), the slopes
    that can differ from zero.
    """
    entries = list(incidence)
    uses: dict[int, list[int]] = {}
    for flow, unknown in pattern:
        uses.setdefault(flow, []).append(unknown)
    rows: dict[int, list[tuple[int, float]]] = {}
    for flow, row, weight in entries:
        rows.setdefault(row, []).append((flow, weight))

    add = ["def add_flows(total, carried, factor):"]
    add += [
        f"    total[{row}] += factor * (" + " ".join(f"{w:+.17g}*carried[{f}]" for f, w in terms) + ")"
        for row, terms in sorted(rows.items())
    ]
    carry = ["def carry(phi, slopes, delta, half, carried):"]
    for flow in range(flows):
        terms = "".join(f" + slopes[{flow}, {u}]*delta[{u}]" for u in uses.get(flow, []))
        carry.append(f"    carried[{flow}] = half * (phi[{flow}]{terms})")
    assemble = ["def assemble(S, slopes, half, M):", "    per = 1.0 / half"]
    for row in range(unknowns):
        for unknown in range(unknowns):
            terms = "".join(
                f" {-w:+.17g}*slopes[{f}, {unknown}]"
                for f, w in rows.get(row, [])
                if unknown in uses.get(f, [])
            )
            assemble.append(f"    M[{row}, {unknown}] = S[{row}, {unknown}]*per{terms}")
    return Wiring(unknowns, flows, *(_compiled(lines) for lines in (add, carry, assemble)))


def _compiled(lines: list[str]) -> Callable:
    """Compile the text of one function."""
    space: dict[str, Callable] = {}
    exec("\n".join(lines), {}, space)
    return njit(next(iter(space.values())))
