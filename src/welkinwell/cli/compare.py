"""`welkinwell compare CASE... -o DIR`: harvesters, sites or weather files side by side."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from welkinwell.cli.columns import ManyColumns


def compare(
    cases: Annotated[list[Path], typer.Argument(metavar="CASE", help="Case files (TOML).")],
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="DIR", help="Folder for the page and its charts.")
    ] = None,
    weather: Annotated[
        list[Path] | None,
        typer.Option(metavar="FILE", help="A further weather file for every harvester; may be repeated."),
    ] = None,
    draws: Annotated[
        int, typer.Option(metavar="NUMBER", help="Draws of what is in doubt, 0 for none.", min=0, max=10000)
    ] = 64,
    seed: Annotated[int, typer.Option(metavar="NUMBER", help="Seed of the draws.")] = 1,
    columns: ManyColumns = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the figures as JSON instead of words.")
    ] = False,
) -> None:
    """Put all harvesters of one case or several on the same figures, and say how sure the order is.

    Example: welkinwell compare my_place/case.toml --weather other_year.epw -o out
    """
    from welkinwell.case import read_case
    from welkinwell.cli.compiling import say_what_compiles_for
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar
    from welkinwell.text_file import require_file

    checked = [read_case(case) for case in cases]
    for file in weather or []:
        require_file(file, "an hourly weather file")
    folder = output_folder(out) if out is not None else None

    from welkinwell.plants.comparison import comparison_of

    say_what_compiles_for(*checked)
    with progress_bar() as progress:
        found = comparison_of(
            checked, weather=weather or [], columns=columns or [], draws=draws, seed=seed, progress=progress
        )
        page = None
        if folder is not None:
            from welkinwell.report.decision_pages import write_comparison

            names, notes = [case.name for case in checked], [case.note for case in checked]
            page = write_comparison(names, notes, found, folder)
    if as_json:
        typer.echo(json.dumps(found.as_data(), indent=2, allow_nan=False))
        return
    typer.echo(found.verdict)
    for one in found.entries:
        typer.echo(f"{one.figures['litres_per_day']:9.2f} L/day  {one.entry.name}")
        if one.draws is not None and one.plant is not None and one.plant.sure is not None:
            said = one.plant.sure.words()
            typer.echo(f"{'':17}{' '.join(said[:2])}")
    if page is not None:
        typer.echo(f"Page: {page}")
