"""The option by which a command is told which column of a plain table is what."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Columns = Annotated[
    Path | None,
    typer.Option(
        "--columns",
        metavar="TOML",
        help="For a plain CSV: the file, or the case, whose [site.columns] says which column is what.",
    ),
]
ManyColumns = Annotated[
    list[Path] | None,
    typer.Option(
        "--columns",
        metavar="TOML",
        help="For plain CSV: the file, or the case, whose [site.columns] says which column is what; one for "
        "all weather files, or repeated, one for each in their order.",
    ),
]
