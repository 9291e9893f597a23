"""Wrong flow texts against the audit: does it notice?

    python -m benchmarks.flow_mutants              # prints, and writes results/flow_mutants.json
    python -m benchmarks.flow_mutants hybrid       # one kind; writes nothing

Twenty seeded mutants of each kind's text: a sign turned, a value times 1.05, a term dropped, an unknown taken
for another of its unit, a mode taken for the other; four of each. A mutant is caught when some flow, summed
over random states of random devices in both modes, differs from the audit's by more than a year may
(`year.FLOW_LIMIT`), or when the text no longer runs. The text as it is must pass. A mutant that changes no
flow at any of the states is told apart: the audit could not see it.
"""

from __future__ import annotations

import ast
import copy
import importlib
import inspect
import json
import sys
import textwrap
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import numpy as np
from numba.core.errors import NumbaError

from benchmarks.flow_states import devices, states
from welkinwell.harvesters.kinds import KINDS
from welkinwell.kernels.kernel import running_text, with_locals
from welkinwell.year import FLOW_LIMIT

RESULTS: Final = Path(__file__).parent / "results" / "flow_mutants.json"
SEED: Final = 12
DEVICES: Final = 8
STATES: Final = 12
EACH: Final = 4
WAYS: Final = ("sign", "factor", "dropped term", "wrong unknown", "wrong mode")


def changed_nodes(tree: ast.FunctionDef, way: str, units: dict[str, str]) -> Iterator[Callable[[], None]]:
    """Every change of one way that can be made to a text, each as what makes it."""
    modes = {"mode"} | {
        node.targets[0].id
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign)
        and isinstance(node.targets[0], ast.Name)
        and isinstance(node.value, ast.Compare)
        and "mode" in ast.unparse(node.value)
    }
    for node in ast.walk(tree):
        match node:
            case ast.BinOp(op=ast.Add() | ast.Sub()) if way == "sign":
                turned = ast.Sub() if isinstance(node.op, ast.Add) else ast.Add()
                yield lambda node=node, turned=turned: setattr(node, "op", turned)
            case ast.Assign(value=ast.BinOp() as value) if way == "factor":
                more = ast.BinOp(value, ast.Mult(), ast.Constant(1.05))
                yield lambda node=node, more=more: setattr(node, "value", more)
            case ast.Assign(value=ast.BinOp(op=ast.Add() | ast.Sub()) as value) if way == "dropped term":
                yield lambda node=node, value=value: setattr(node, "value", value.left)
            case ast.BinOp(op=ast.Mult(), right=ast.BinOp(op=ast.Add() | ast.Sub()) as right) if (
                way == "dropped term"
            ):
                yield lambda node=node, right=right: setattr(node, "right", right.left)
            case ast.Name(id=name, ctx=ast.Load()) if way == "wrong unknown" and name in units:
                for other, unit in units.items():
                    if other != name and unit == units[name]:
                        yield lambda node=node, other=other: setattr(node, "id", other)
            case ast.If(test=test) | ast.IfExp(test=test) if way == "wrong mode":
                if modes & {part.id for part in ast.walk(test) if isinstance(part, ast.Name)}:
                    turned = ast.UnaryOp(ast.Not(), test)
                    yield lambda node=node, turned=turned: setattr(node, "test", turned)


def mutants(function: Callable[..., Any], units: dict[str, str], rng: np.random.Generator) -> Iterator[tuple]:
    """Seeded mutants of a text: the way, the line as it became, and what runs it."""
    lines, _ = inspect.getsourcelines(function)
    original = ast.parse(textwrap.dedent("".join(lines)))
    whole = ast.unparse(original).splitlines()
    for way in WAYS:
        count = len(list(changed_nodes(original.body[0], way, units)))
        for chosen in rng.permutation(count)[:EACH]:
            tree = copy.deepcopy(original)
            list(changed_nodes(tree.body[0], way, units))[chosen]()
            ast.fix_missing_locations(tree)
            became = ast.unparse(tree).splitlines()
            line = next((new for old, new in zip(whole, became, strict=False) if old != new), became[-1])
            yield way, line.strip(), running_text(tree, function)


def flows_of(
    run: Callable[..., dict], symbols: dict[str, Any], order: Sequence[str], given: Any
) -> np.ndarray:
    """Flows of a text at the states of a device and mode, shape (flows, states)."""
    ready, y, air, mode = given
    found = []
    for one, outside in zip(y, air, strict=True):
        unknowns = [one[at] if isinstance(at, int) else [one[i] for i in at] for at in symbols.values()]
        flow = run(*unknowns, outside, mode, ready.numbers, ready.row)
        found.append([flow.get(name, 0.0) for name in order])
    return np.array(found, dtype=float).T


def difference(found: Sequence[np.ndarray], expected: Sequence[np.ndarray]) -> float:
    """Largest difference of a flow, summed over all states, over all that it moves."""
    apart = sum(np.abs(a - b).sum(axis=1) for a, b in zip(found, expected, strict=True))
    moves = sum(np.abs(b).sum(axis=1) for b in expected)
    worst = np.where(apart > 0.0, apart / np.maximum(moves, 1e-12), 0.0)
    return float(np.inf if np.isnan(worst).any() else worst.max())


def of_kind(name: str) -> dict[str, Any]:
    """Mutants of one kind's text: how many of each way were caught, and those that were not."""
    flows = importlib.import_module(f"welkinwell.harvesters.{name}.flows")
    text = getattr(flows, name)
    kind = KINDS[name].assembled().kind
    order = getattr(flows, "ORDER", [flow.name for flow in kind.flows])
    units = {
        key: kind.unknowns[at if isinstance(at, int) else at[0]].unit for key, at in flows.SYMBOLS.items()
    }
    given, expected = [], []
    for number, ready in enumerate(devices(name, DEVICES)):
        y, air = states(ready, kind, number)
        for mode in (0, 1):
            one = ready, y[:STATES], air[:STATES], mode
            given.append(one)
            modes = np.full(STATES, mode)
            expected.append(
                ready.harvester.audited_flows(
                    one[1].T, one[2].T, modes, ready.design, ready.sorbent, ready.air.pressure
                )
            )
    as_is = [flows_of(with_locals(text), flows.SYMBOLS, order, one) for one in given]
    found: dict[str, Any] = {"as it is": difference(as_is, expected), "mutants": 0, "caught": 0}
    found |= {"without effect": [], "survivors": []}
    rng = np.random.default_rng([SEED, list(KINDS).index(name)])
    for way, line, run in mutants(text, units, rng):
        try:
            wrong = [flows_of(run, flows.SYMBOLS, order, one) for one in given]
            apart = difference(wrong, expected)
            same = all(np.array_equal(a, b, equal_nan=True) for a, b in zip(wrong, as_is, strict=True))
        except (ArithmeticError, IndexError, NumbaError, TypeError, UnboundLocalError, ValueError):
            apart, same = np.inf, False
        if same:
            found["without effect"].append(f"{way}: {line}")
            continue
        found["mutants"] += 1
        if apart > FLOW_LIMIT:
            found["caught"] += 1
        else:
            found["survivors"].append(f"{way}: {line}")
    return found


def main(arguments: Sequence[str]) -> None:
    """Print a line a kind and its survivors; with all kinds, keep the result."""
    kept: dict[str, Any] = {"date": f"{datetime.now(UTC):%Y-%m-%d}", "seed": SEED, "limit": FLOW_LIMIT}
    for name in arguments or KINDS:
        found = kept[name] = of_kind(name)
        print(
            f"{name:18} as it is {found['as it is']:.1e}; caught {found['caught']} of {found['mutants']}, "
            f"{len(found['without effect'])} without effect",
            flush=True,
        )
        for line in found["survivors"]:
            print(f"    not caught: {line}")
    if not arguments:
        RESULTS.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
