"""`welkinwell new DIR`: a commented case to start from, with its weather file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def new(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Folder to make; case.toml is written into it.")
    ],
) -> None:
    """Write a commented case.toml and a real hourly weather file to start from.

    Example: welkinwell new my_place
    """
    from welkinwell.case import write_starter_case

    case = write_starter_case(folder)
    typer.echo(f"Wrote {case}, an invented example with real weather.")
    typer.echo(f"Edit it, then: welkinwell check {case}")
    typer.echo(f"           and: welkinwell run {case} -o {folder / 'out'}")
