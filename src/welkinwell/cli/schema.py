"""`welkinwell schema NAME`: the JSON Schema of a file that people or programs write and read."""

from __future__ import annotations

import json
from typing import Annotated

import typer


def schema(
    name: Annotated[
        str, typer.Argument(metavar="FILE", help="Which file to describe: case, sheet or summary.")
    ],
) -> None:
    """Print the JSON Schema of a case file, a sorbent data sheet or summary.json.

    Example: welkinwell schema case > case.schema.json
    """
    from welkinwell.schemas import schema as schema_of

    typer.echo(json.dumps(schema_of(name), indent=1, ensure_ascii=False, allow_nan=False))
