"""`welkinwell validate -o DIR`: predicted against published, for every case of the fixed list."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

FINISHED = "cases"


def validate(
    out: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--out",
            metavar="DIR",
            help="Folder for the page, its picture and the list; finished cases are kept in it.",
        ),
    ] = None,
    cases: Annotated[
        list[str] | None,
        typer.Option("--case", metavar="NAME", help="Only this case; may be repeated."),
    ] = None,
    draws: Annotated[
        int | None,
        typer.Option(
            metavar="NUMBER",
            help="Sets of conditions drawn for each case; 64, the rule, when not given.",
            min=2,
            max=4096,
        ),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the list as JSON instead of the table.")
    ] = False,
) -> None:
    """Hold the simulation against published experiments: predicted, published, and whether they agree.

    The list of experiments, their conditions and tolerances were fixed before the first prediction.
    Conditions that a source does not give are drawn from their ranges; the median of the draws is the
    prediction. Cases that disagree stay in the table with the reason. A run that was cut off goes on where it
    stopped when given the same -o.

    Example: welkinwell validate --case dew_foil_ajaccio -o out
    """
    from welkinwell.cli.compiling import say_what_compiles
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar

    folder = output_folder(out) if out is not None else None

    from welkinwell.harvesters.kinds import KINDS
    from welkinwell.studies.experiments import DRAWS
    from welkinwell.studies.validate import as_json as written
    from welkinwell.studies.validate import chosen_experiments
    from welkinwell.studies.validate import validate as predicted

    number = draws or DRAWS
    chosen = chosen_experiments(cases or ())  # a wrong name is said before anything is compiled
    say_what_compiles(one.kind for one in chosen if one.kind in KINDS)
    with progress_bar() as progress:
        rows = predicted(cases or (), number, folder / FINISHED if folder else None, progress)
        page = None
        if folder is not None:
            from welkinwell.report.validation_page import write_validation

            page = write_validation(rows, folder)
    if as_json:
        typer.echo(written(rows), nl=False)
        return
    _print(rows)
    if page is not None:
        typer.echo(f"Page: {page}")


def _print(rows: Any) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table

    from welkinwell.report.validation_page import cells, headline

    table = Table(box=box.SIMPLE, title="Predicted against published", title_justify="left")
    for title in ("case", "figure", "published", "predicted", "10 to 90 %", "error", "within", "inside"):
        side = "left" if title in ("case", "figure", "inside") else "right"
        table.add_column(title, justify=side, no_wrap=True)  # type: ignore[arg-type]
    for row in rows:
        table.add_row(*cells(row))
    Console(width=170).print(table)
    for row in rows:
        if row.reason:
            typer.echo(f"{row.case}, {row.quantity}: {row.reason}")
    typer.echo(headline(rows))
