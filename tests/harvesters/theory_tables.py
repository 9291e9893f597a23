"""The tables of flows of the theory pages, read back: which rows each flow joins and what it depends on.

A line may hold several flows: its names are parted by commas, `turned_heat_1 to 6` stands for six; its cells
of rows and of uses hold either one entry for all of them or one for each, parted by semicolons.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

PAGES = Path(__file__).parents[2] / "docs" / "theory"
NUMBER_HEADS = ("no.", "no")
OUTSIDE = -1


class Stated(NamedTuple):
    """A flow as it is stated: rows of its stocks, rows that its vapour warms (+1) or cools (-1), and uses."""

    name: str
    start: int
    end: int
    warms: tuple[tuple[int, int], ...]
    uses: tuple[int, ...]


def lines_of(text: str) -> list[dict[str, str]]:
    """Lines of a page's table of flows, by the heads of its columns."""
    found: list[dict[str, str]] = []
    heads: list[str] = []
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split(" | ")] if line.startswith("|") else []
        if not cells:
            heads = []
        elif cells[0] in NUMBER_HEADS and {"rows", "uses"} <= set(cells):
            heads = cells
        elif heads and not line.startswith("|---"):
            found.append(dict(zip(heads, cells, strict=True)))
    return found


def stated_flows(text: str) -> dict[int, Stated]:
    """Flows of a page by number; a number that is given twice is an error."""
    found: dict[int, Stated] = {}
    for line in lines_of(text):
        numbers, names = _numbers(next(iter(line.values()))), _names(line.get("name") or line["flow"])
        if len(numbers) != len(names):
            raise ValueError(f"{len(numbers)} numbers for {len(names)} names: {line}")
        rows, uses = (_each(line[head], len(names)) for head in ("rows", "uses"))
        for number, name, way, used in zip(numbers, names, rows, uses, strict=True):
            if number in found:
                raise ValueError(f"flow {number} stands twice")
            found[number] = Stated(name, *_way(way), _numbers(used))
    return found


def flows_of(kind) -> dict[int, Stated]:
    """Flows of a kind as its text has them, in the same form."""
    return {
        i: Stated(
            flow.name,
            flow.start,
            flow.end,
            tuple((row, 1 if weight > 0.0 else -1) for row, weight in flow.carries),
            tuple(sorted(flow.uses)),
        )
        for i, flow in enumerate(kind.flows)
    }


def _numbers(cell: str) -> tuple[int, ...]:
    """Read '0', '1, 25' or '6 to 11'; 'none' is no number."""
    found: list[int] = []
    for part in [] if cell == "none" else cell.split(", "):
        first, _, last = part.partition(" to ")
        found += range(int(first), int(last or first) + 1)
    return tuple(found)


def _names(cell: str) -> list[str]:
    found: list[str] = []
    for part in cell.replace("`", "").split(", "):
        if several := re.fullmatch(r"(\w+_)(\d+) to (\d+)", part):
            found += [f"{several[1]}{k}" for k in range(int(several[2]), int(several[3]) + 1)]
        else:
            found.append(part)
    return found


def _each(cell: str, count: int) -> list[str]:
    parts = cell.split("; ")
    if len(parts) not in (1, count):
        raise ValueError(f"{len(parts)} entries for {count} flows: {cell}")
    return parts * (count // len(parts))


def _way(entry: str) -> tuple[int, int, tuple[tuple[int, int], ...]]:
    """Read '8 → 6, warms 2'; 'meter' joins nothing, 'out' is the surroundings."""
    if entry == "meter":
        return OUTSIDE, OUTSIDE, ()
    way, *carried = entry.split(", ")
    start, end = (OUTSIDE if place == "out" else int(place) for place in way.split(" → "))
    signs = {"warms": 1, "cools": -1}
    return start, end, tuple((int(row), signs[verb]) for verb, row in map(str.split, carried))
