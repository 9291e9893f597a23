"""Words for the wait before the first simulation of a kind of harvester on a machine."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from welkinwell.case import Case


def say_what_compiles(marches: Iterable[str]) -> None:
    """Say on stderr which kinds, by the names of their marches, are compiled first, and for how long."""
    from welkinwell import compile_cache

    cold = [name.replace("_", " ") for name in dict.fromkeys(marches) if not compile_cache.is_warm(name)]
    if cold:
        each = " each" if len(cold) > 1 else ""
        said = f"Compiling for this machine, once, about a minute{each}: {', '.join(cold)}."
        typer.echo(said, err=True)


def say_what_compiles_for(*cases: Case, harvester: str | None = None, only_first: bool = False) -> None:
    """Say so of the harvesters of cases: all, the one of a name, or the first."""
    from welkinwell.harvesters.kinds import harvester_of

    entries = [one for case in cases for one in case.harvesters[: 1 if only_first else None]]
    if harvester is not None:
        entries = [one for case in cases for one in case.harvesters if one.name == harvester]
    say_what_compiles(harvester_of(one.design).kind.name for one in entries)
