"""`welkinwell reach CASE LITRES`: what a target would take."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer


def reach(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).")],
    litres: Annotated[
        float | None, typer.Option("--litres", metavar="L", help="Target in L/m2 a day, mean of the year.")
    ] = None,
    cost: Annotated[
        float | None,
        typer.Option(
            "--cost", metavar="MONEY", help="Target of what a delivered litre costs, in the case's money."
        ),
    ] = None,
    days: Annotated[
        float | None,
        typer.Option("--days", metavar="PERCENT", help="Target of the share of days met, in per cent."),
    ] = None,
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

    The target is set on the litres, on the cost of a delivered litre, or on the share of days met.

    Example: welkinwell reach my_place/case.toml --litres 2.5 -o out
    """
    from welkinwell.case import read_case
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar
    from welkinwell.errors import InputError, Problem

    targets = {"litres": litres, "cost": cost, "days": None if days is None else 0.01 * days}
    asked_for = {key: value for key, value in targets.items() if value is not None}
    if len(asked_for) != 1:
        given = ", ".join(f"--{key}" for key in asked_for) or "no target"
        raise InputError(Problem("target", given, "one of --litres, --cost and --days"))
    of, target = next(iter(asked_for.items()))
    if of == "days" and target > 1.0:
        raise InputError(Problem("--days", f"{100.0 * target:g} %", "at most 100 %"))
    checked = read_case(case)
    folder = output_folder(out) if out is not None else None

    from welkinwell.decide import asked, reach_of

    with progress_bar() as progress:
        about = asked(checked, harvester, progress)
        found = reach_of(about, target, of=of, vary=vary or [], progress=progress)
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
        typer.echo(f"  {entry.variable.key}: {before} to {after} ({entry.alone:.3g} {found.aim.unit} alone)")
    if page is not None:
        typer.echo(f"Page: {page}")
