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

    gather(phi, total): the rates of the stocks from the flows;
    add_flows(total, carried, stage, factor): adds the flow integrals of a stage to stocks;
    carry(phi, slopes, delta, half, carried, stage): carried[stage] = half (phi + slopes delta);
    assemble(S, slopes, half, M): M = S / half - d(stock rates)/d(unknowns).
    """

    unknowns: int
    flows: int
    gather: Callable
    add_flows: Callable
    carry: Callable
    assemble: Callable


def make_wiring(
    unknowns: int, flows: int, incidence: Incidence, pattern: Pattern, name: str = "kind"
) -> Wiring:
    """Write out and compile the sums.

    incidence: (flow, row, weight), what each flow adds to each stock; pattern: (flow, unknown), the slopes
    that can differ from zero; name: of the kind. Two kinds need two names: compiled code that is read back
    from the cache is linked by name, and the sums of one kind would be taken for those of another.
    """
    entries = list(incidence)
    uses: dict[int, list[int]] = {}
    for flow, unknown in pattern:
        uses.setdefault(flow, []).append(unknown)
    rows: dict[int, list[tuple[int, float]]] = {}
    for flow, row, weight in entries:
        rows.setdefault(row, []).append((flow, weight))

    gather = [f"def gather_{name}(phi, total):"]
    add = [f"def add_flows_{name}(total, carried, stage, factor):"]
    for row in range(unknowns):
        terms = rows.get(row, [])
        gather.append(f"    total[{row}] = 0.0" + "".join(f" {w:+.17g}*phi[{f}]" for f, w in terms))
        total = "".join(f" {w:+.17g}*carried[stage, {f}]" for f, w in terms)
        add.append(f"    total[{row}] += factor * (0.0{total})")
    carry = [f"def carry_{name}(phi, slopes, delta, half, carried, stage):"]
    for flow in range(flows):
        slopes = "".join(f" + slopes[{flow}, {u}]*delta[{u}]" for u in uses.get(flow, []))
        carry.append(f"    carried[stage, {flow}] = half * (phi[{flow}]{slopes})")
    assemble = [f"def assemble_{name}(S, slopes, half, M):", "    per = 1.0 / half"]
    for row in range(unknowns):
        for unknown in range(unknowns):
            slopes = "".join(
                f" {-w:+.17g}*slopes[{f}, {unknown}]"
                for f, w in rows.get(row, [])
                if unknown in uses.get(f, [])
            )
            assemble.append(f"    M[{row}, {unknown}] = S[{row}, {unknown}]*per{slopes}")
    return Wiring(unknowns, flows, *(_compiled(lines) for lines in (gather, add, carry, assemble)))


def _compiled(lines: list[str]) -> Callable:
    """Compile the text of one function."""
    space: dict[str, Callable] = {}
    exec("\n".join(lines), {}, space)
    return njit(next(iter(space.values())))
