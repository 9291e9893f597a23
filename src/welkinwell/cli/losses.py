"""`welkinwell losses CASE -o DIR`: where the litres go, from what physics allows to what people get."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Annotated

import typer


def losses(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).")],
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="DIR", help="Folder for the page and its charts.")
    ] = None,
    harvester: Annotated[
        str | None, typer.Option(metavar="NAME", help="Harvester of the case; the first if not given.")
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the figures as JSON instead of words.")
    ] = False,
) -> None:
    """Lay out where a design loses its litres: bounds, then each loss switched off, down to delivered.

    Example: welkinwell losses my_place/case.toml -o out
    """
    from welkinwell.case import read_case
    from welkinwell.cli.compiling import say_what_compiles_for
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar

    checked = read_case(case)
    folder = output_folder(out) if out is not None else None

    from welkinwell.plants.losses import limiting_of, losses_of, years_of_losses
    from welkinwell.plants.one_plant import plant_of, plant_then
    from welkinwell.quantities import litres_on

    say_what_compiles_for(checked, harvester=harvester, only_first=True)
    with progress_bar() as progress:
        first, rest = plant_then(progress, checked, harvester, years_of_losses)
        about = plant_of(checked, harvester, first)
        ladder = losses_of(about, rest)
        months = limiting_of(about)
        page = None
        if folder is not None:
            from welkinwell.report.decision_pages import write_losses

            page = write_losses(about, ladder, months, folder)
    if as_json:
        data = {**about.head, **ladder.as_data(), "limiting_step_by_month": [key for key, _ in months]}
        typer.echo(json.dumps(data, indent=2, allow_nan=False))
        return
    typer.echo(f"{about.entry.name}, {litres_on(about.basis)} (in this order; share over all orders)")
    for name, value, _ in ladder.bounds:
        shown = f"{value:8.2f}" if math.isfinite(value) else "    none"
        typer.echo(f"{shown}           bound: {name}")
    typer.echo(f"{ladder.ideal:8.2f}           without any of these losses")
    for step in ladder.steps:
        typer.echo(f"{-step.in_sequence:+8.2f} {-step.shapley:+8.2f}  {step.name}")
    typer.echo(f"{ladder.collected:8.2f}           collected")
    for name, loss in ladder.after:
        typer.echo(f"{-loss:+8.2f}           {name}")
    typer.echo(f"{ladder.delivered:8.2f}           delivered")
    for name, reason in ladder.left_out:
        typer.echo(f"Left out: {name.lower()}; {reason}.")
    typer.echo(ladder.most_of_it())
    from welkinwell.report.tables import limits_in_words

    typer.echo("What limits: " + " ".join(limits_in_words(months, about.entry.kind)))
    if page is not None:
        typer.echo(f"Page: {page}")
