"""`welkinwell run CASE -o DIR`: the main job."""

from __future__ import annotations

import json
from dataclasses import replace
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
    quick: Annotated[
        bool,
        typer.Option(
            "--quick",
            help="One simulated year a harvester and nothing that needs more: without what limits the "
            "litres, intervals, losses and further weather years. The report lists what is left out.",
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
    from welkinwell.case import read_case
    from welkinwell.cli.compiling import say_what_compiles_for
    from welkinwell.cli.folder import ROOM_FOR_A_YEAR, output_folder
    from welkinwell.cli.progress import progress_bar
    from welkinwell.errors import InputError, Problem

    if quick and full:
        raise InputError(Problem("--quick", "--full too", "one of the two"))
    checked = read_case(case)
    folder = output_folder(out, ROOM_FOR_A_YEAR * len(checked.harvesters))

    from welkinwell.answer import answer_case, answer_effort
    from welkinwell.plants.full_study import full_studies, studies_effort
    from welkinwell.report.document import write_report
    from welkinwell.studies.effort import DRAWING, stages

    say_what_compiles_for(checked)
    studying = sum(studies_effort(one, draws) for one in checked.harvesters) if full else 0.0
    drawing = DRAWING * len(checked.harvesters)
    with progress_bar() as progress:
        simulating, writing, more, again = stages(
            progress, answer_effort(checked, quick), drawing, studying, drawing if full else 0.0
        )
        answer = answer_case(checked, simulating, quick)
        report = write_report(answer, folder, progress=writing)
        if full:
            typer.echo(f"{report} is there; doubts and losses follow, and will stand in it.", err=True)
            studies = full_studies([one.plant for one in answer.harvesters], draws, more)
            answer = replace(answer, studies=tuple(studies))
            report = write_report(answer, folder, again)
    if as_json:
        typer.echo(json.dumps(answer.summary, indent=2, allow_nan=False))
        return
    typer.echo(answer.headline)
    if answer.left_out:
        typer.echo(f"Left out by --quick: {'; '.join(answer.left_out)}.")
    typer.echo(f"Report: {report}")
