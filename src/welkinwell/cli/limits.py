"""`welkinwell limits FILE -o DIR`: what no device can pass at a place."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from welkinwell.cli.columns import Columns


def limits(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", help="Hourly weather file (EPW, TMY3, PVGIS or CSV), or a case (TOML)."
        ),
    ],
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="DIR", help="Folder for the page and its charts.")
    ] = None,
    tilt: Annotated[
        str, typer.Option(metavar="ANGLE", help="Slope of the plane that takes the sun.")
    ] = "30 deg",
    hot: Annotated[
        str,
        typer.Option(metavar="DEGREES", help="Highest temperature at which heat enters the process."),
    ] = "100 degC",
    recovery: Annotated[
        str,
        typer.Option(metavar="SHARE", help="Share of the vapour taken from the air that is processed."),
    ] = "50 %",
    effects: Annotated[
        int,
        typer.Option(
            metavar="NUMBER",
            help="Number of effects (how often the heat of condensation is reused).",
            min=1,
            max=20,
        ),
    ] = 3,
    columns: Columns = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the bounds as JSON instead of words.")
    ] = False,
) -> None:
    """Show what no device can pass at a place: bounds from thermodynamics, by month.

    Least work of separation, exergy of sun and cold sky, heat by Carnot, solar cells, one effect and several,
    dew, and the least release temperature of a sorbent. Each bound says which kinds of harvester it binds.

    A plain CSV needs --columns; where it is missing, the message proposes what to write into that file.

    Example: welkinwell limits weather.epw -o out
    """
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar
    from welkinwell.text_file import require_file

    require_file(file, "an hourly weather file (EPW, TMY3, PVGIS or CSV) or a case (TOML)")
    from welkinwell.limits.choices import day_bounds_from_text

    given = day_bounds_from_text(tilt=tilt, hot=hot, recovery=recovery, effects=effects)
    folder = output_folder(out) if out is not None else None

    from welkinwell.limits.bound import PLANE
    from welkinwell.studies.bounds import limits_of_site

    with progress_bar() as progress:
        found = limits_of_site(file, given, progress, columns)
        page = None
        if folder is not None:
            from welkinwell.report.limits_section import write_limits_page

            page = write_limits_page(found, folder)
    if as_json:
        typer.echo(json.dumps(found.summary, indent=2, allow_nan=False))
        return
    typer.echo(found.headline)
    typer.echo(f"Per m2 of {PLANE}, mean of the year:")
    for bound in found.bounds:
        value = f"{bound.value:10.1f} L/m2 a day" if bound.value < 1e9 else f"{'no bound':>21}"
        typer.echo(f"{value}  {bound.name}")
    if page is not None:
        typer.echo(f"Page: {page}")
