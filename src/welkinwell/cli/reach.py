"""`welkinwell reach CASE LITRES`: what a target would take."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer


def reach(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).")],
    litres: Annotated[
        float, typer.Option("--litres", metavar="L", help="Target in L/m2 a day, mean of the year.")
    ],
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="DIR", help="Folder for the page and its charts.")
    ] = None,
    harvester: Annotated[
        str | None, typer.Option(metavar="NAME", help="Harvester of the case; the first if not given.")
    ] = None,
    vary: Annotated[
        list[str] | None,
        typer.Option(metavar="FIELD=LOW..HIGH", help="A field that may change, as tilt='0 deg..60 deg'."),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the figures as JSON instead of words.")
    ] = False,
) -> None:
    """Find the shortest change of design and material that reaches a target, or the bound that forbids it.

    Example: welkinwell reach my_place/case.toml --litres 2.5 -o out
    """
    from welkinwell.case import read_case
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar

    checked = read_case(case)
    folder = output_folder(out) if out is not None else None

    from welkinwell.decide import asked, reach_of

    with progress_bar() as progress:
        about = asked(checked, harvester, progress)
        found = reach_of(about, litres, vary=vary or [], progress=progress)
        page = None
        if folder is not None:
            from welkinwell.report.decision_pages import write_reach

            page = write_reach(about, found, folder)
    if as_json:
        typer.echo(json.dumps({**about.head, **found.as_data()}, indent=2, allow_nan=False))
        return
    typer.echo(found.words)
    for entry in found.moved:
        before, after = entry.variable.text(entry.before), entry.variable.text(entry.after)
        typer.echo(f"  {entry.variable.key}: {before} to {after} ({entry.alone:.2f} L/m2 a day alone)")
    if page is not None:
        typer.echo(f"Page: {page}")
