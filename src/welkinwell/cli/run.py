"""`welkinwell run CASE -o DIR`: the main job."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer


def run(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).")],
    out: Annotated[
        Path, typer.Option("-o", "--out", metavar="DIR", help="Folder for the report and its data.")
    ],
    full: Annotated[
        bool,
        typer.Option(
            "--full",
            help="Also draw the doubts and lay out the losses: hundreds of years, from a minute for a box to "
            "half an hour for a fan-driven bed with hysteresis. The report without them is written first.",
        ),
    ] = False,
    draws: Annotated[
        int, typer.Option(metavar="NUMBER", help="Draws of the doubts with --full.", min=16, max=100000)
    ] = 256,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the summary as JSON instead of words.")
    ] = False,
) -> None:
    """Simulate each harvester of a case through a year and write a report that stands alone.

    Writes report.html, summary.json, year.nc and the charts.

    Example: welkinwell run my_place/case.toml -o out
    """
    from welkinwell import compile_cache
    from welkinwell.case import read_case
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar

    checked = read_case(case)
    folder = output_folder(out)

    from welkinwell.answer import answer_case
    from welkinwell.report.document import write_report

    if not compile_cache.is_warm():
        typer.echo("Compiling the simulation for this machine: once, about half a minute.", err=True)
    with progress_bar() as progress:
        answer = answer_case(checked, progress=progress)
        report = write_report(answer, folder)
        if full:
            from welkinwell.decide import studied

            typer.echo(f"{report} is there; doubts and losses follow, and will stand in it.", err=True)
            report = write_report(answer, folder, studied(answer, draws, progress))
    if as_json:
        typer.echo(json.dumps(answer.summary, indent=2, allow_nan=False))
        return
    typer.echo(answer.headline)
    typer.echo(f"Report: {report}")
