"""How flows, stocks and unknowns of a kind hang together, written out as straight-line code for the march.

Looping over lists of (flow, row, weight) took as long as the physics; the same sums written out take a
tenth of that. The text is made from the kind's own table of flows, so there is one place to change.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from welkinwell.compiled import njit
from welkinwell.numerics import linear

Incidence = Iterable[tuple[int, int, float]]
Pattern = Iterable[tuple[int, int]]


@dataclass(frozen=True)
class Wiring:
    """Compiled sums over a kind's table.

    gather(phi, total): the rates of the stocks from the flows;
    add_flows(total, carried, stage, factor): adds the flow integrals of a stage to stocks;
    carry(phi, slopes, delta, half, carried, stage): carried[stage] = half (phi + slopes delta);
    assemble(S, slopes, half, M): M = S / half - d(stock rates)/d(unknowns);
    factorise(M), substitute(M, b): solve with it, in place; they touch no entry that is always zero, where
    the kind says which of its stocks' slopes are.
    """

    unknowns: int
    flows: int
    gather: Callable
    add_flows: Callable
    carry: Callable
    assemble: Callable
    factorise: Callable
    substitute: Callable


def make_wiring(
    unknowns: int,
    flows: int,
    incidence: Incidence,
    pattern: Pattern,
    name: str = "kind",
    stock_pattern: Pattern | None = None,
) -> Wiring:
    """Write out and compile the sums.

    incidence: (flow, row, weight), what each flow adds to each stock; pattern: (flow, unknown), the slopes
    that can differ from zero; stock_pattern: (stock, unknown), the slopes of stocks that can, all of them
    where None; name: of the kind. Two kinds need two names: compiled code that is read back
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
    entering = {
        (row, unknown): "".join(
            f" {-w:+.17g}*slopes[{f}, {unknown}]" for f, w in terms if unknown in uses.get(f, [])
        )
        for row, terms in rows.items()
        for unknown in range(unknowns)
    }
    everywhere = {(row, unknown) for row in range(unknowns) for unknown in range(unknowns)}
    stocks = everywhere if stock_pattern is None else set(stock_pattern)
    filled = stocks | {place for place, text in entering.items() if text}
    factorise, substitute, touched = _elimination(unknowns, filled)
    assemble = [f"def assemble_{name}(S, slopes, half, M):", "    per = 1.0 / half"]
    for row, unknown in sorted(touched):
        start = f"S[{row}, {unknown}]*per" if (row, unknown) in stocks else "0.0"
        assemble.append(f"    M[{row}, {unknown}] = {start}{entering.get((row, unknown), '')}")
    if stock_pattern is None:  # written out, a full matrix would take long to compile
        factorise = [f"    factorise(M, {unknowns})"]
        substitute = [f"    substitute(M, b, {unknowns})"]
    texts = (
        gather,
        add,
        carry,
        assemble,
        [f"def factorise_{name}(M):", *factorise],
        [f"def substitute_{name}(M, b):", *substitute],
    )
    return Wiring(unknowns, flows, *(_compiled(lines) for lines in texts))


def _elimination(
    unknowns: int, filled: set[tuple[int, int]]
) -> tuple[list[str], list[str], set[tuple[int, int]]]:
    """Write out Gauss's elimination in the natural order, of a matrix that is zero outside `filled`.

    Rows are not exchanged and pivots stored inverted, as in `linear`. Returns the lines that factorise M,
    those that overwrite a right-hand side b, and all places that either touches.
    """
    touched = set(filled) | {(k, k) for k in range(unknowns)}
    factorise = []
    for k in range(unknowns):
        factorise.append(f"    M[{k}, {k}] = 1.0 / M[{k}, {k}]")
        right = [j for j in range(k + 1, unknowns) if (k, j) in touched]
        for i in range(k + 1, unknowns):
            if (i, k) not in touched:
                continue
            factorise.append(f"    f = M[{i}, {k}] * M[{k}, {k}]")
            factorise.append(f"    M[{i}, {k}] = f")
            for j in right:
                factorise.append(f"    M[{i}, {j}] -= f * M[{k}, {j}]")
                touched.add((i, j))
    substitute = []
    for i in range(unknowns):
        terms = "".join(f" - M[{i}, {j}]*b[{j}]" for j in range(i) if (i, j) in touched)
        if terms:
            substitute.append(f"    b[{i}] = b[{i}]{terms}")
    for i in reversed(range(unknowns)):
        terms = "".join(f" - M[{i}, {j}]*b[{j}]" for j in range(i + 1, unknowns) if (i, j) in touched)
        substitute.append(f"    b[{i}] = (b[{i}]{terms}) * M[{i}, {i}]")
    return factorise, substitute, touched


def _compiled(lines: list[str]) -> Callable:
    """Compile the text of one function."""
    space: dict[str, Callable] = {}
    exec("\n".join(lines), {"factorise": linear.factorise, "substitute": linear.substitute}, space)
    return njit(error_model="numpy")(next(iter(space.values())))
