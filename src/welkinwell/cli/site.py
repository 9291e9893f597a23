"""`welkinwell site FILE -o DIR`: what a harvester sees at a place."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from welkinwell.cli.columns import Columns


def site(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", help="Hourly weather file (EPW, TMY3, PVGIS or CSV), or a case (TOML)."
        ),
    ],
    out: Annotated[Path, typer.Option("-o", "--out", metavar="DIR", help="Folder for the site report.")],
    columns: Columns = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the summary as JSON instead of words.")
    ] = False,
) -> None:
    """Show the air, the sun and the sky of a place as a harvester sees them.

    Temperature and humidity by month and hour of day, night and day vapour, sun on the plane, night
    cooling, and the relative humidity that a bed meets while it gives off water.

    A plain CSV needs --columns; where it is missing, the message proposes what to write into that file.

    Example: welkinwell site weather.epw -o out
    """
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar
    from welkinwell.text_file import require_file

    require_file(file, "an hourly weather file (EPW, TMY3, PVGIS or CSV) or a case (TOML)")
    folder = output_folder(out)

    from welkinwell.answer import answer_site
    from welkinwell.report.document import write_site_report

    with progress_bar() as progress:
        answer = answer_site(file, progress=progress, columns=columns)
        report = write_site_report(answer, folder)
    if as_json:
        typer.echo(json.dumps(answer.summary, indent=2, allow_nan=False))
        return
    typer.echo(answer.headline)
    typer.echo(f"Report: {report}")
