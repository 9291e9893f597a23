"""`welkinwell reach CASE LITRES`: what a target would take."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

ABOUT_SO_MANY_YEARS = 150.0  # that a search simulates; it ends when it is there


def reach(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).")],
    litres: Annotated[
        float | None,
        typer.Option(
            "--litres",
            metavar="L",
            help="Target in L a day per m2 of the device's own area, mean of the year.",
        ),
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
        typer.Option(
            metavar="FIELD=LOW..HIGH",
            help="A field that may change, as tilt='0 deg..60 deg'; for cost and days modules=1..40, tank=..",
        ),
    ] = None,
    sorbent: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="Another sheet to try, own for none; all if not given."),
    ] = None,
    humidity: Annotated[
        str | None, typer.Option(metavar="SHARE", help="Air held at a relative humidity, as '50 %'.")
    ] = None,
    night: Annotated[
        str | None, typer.Option(metavar="TEMPERATURE", help="Air at sunrise, as '20 degC'.")
    ] = None,
    day: Annotated[
        str | None, typer.Option(metavar="TEMPERATURE", help="Air in the afternoon, as '32 degC'.")
    ] = None,
    sun: Annotated[
        str | None,
        typer.Option(metavar="ENERGY", help="A declared day instead of the site's sun, as '6 kWh/m2'."),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the figures as JSON instead of words.")
    ] = False,
) -> None:
    """Find the shortest change of design and material that reaches a target, or the bound that forbids it.

    The target is set on the litres, on the cost of a delivered litre, or on the share of days met. A declared
    air (humidity, night, day) is laid over the site's own sun, or with --sun over one clear day all year.

    Example: welkinwell reach my_place/case.toml --litres 2.5 --humidity "50 %" -o out
    """
    from welkinwell.case import read_case
    from welkinwell.cli.compiling import say_what_compiles_for
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar
    from welkinwell.climate.declared_air import air_state
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
    air = air_state(humidity=_share(humidity), night=night, day=day, sun=sun)
    folder = output_folder(out) if out is not None else None

    from welkinwell.plants.one_plant import plant_of, plant_then
    from welkinwell.plants.target import reach_of
    from welkinwell.quantities import plain

    say_what_compiles_for(checked, harvester=harvester, only_first=True)
    with progress_bar() as progress:
        first, rest = plant_then(progress, checked, harvester, lambda one: ABOUT_SO_MANY_YEARS)
        about = plant_of(checked, harvester, first, air)
        sheets = ["all"] if not sorbent else [name for name in sorbent if name != "own"]
        found = reach_of(about, target, of=of, vary=vary or [], sorbents=sheets, progress=rest)
        page = None
        if folder is not None:
            from welkinwell.report.decision_pages import write_reach

            page = write_reach(about, found, folder)
    if as_json:
        typer.echo(json.dumps({**about.head, **found.as_data()}, indent=2, allow_nan=False))
        return
    if air is not None:
        typer.echo(f"In declared air: {air.in_words()}.")
    typer.echo(found.words)
    if found.swapped:
        typer.echo(f"  sorbent: {found.swapped}; each change alone is told with it")
    for entry in found.moved:
        before, after = entry.texts
        typer.echo(f"  {entry.variable.key}: {before} to {after} ({found.aim.text(entry.alone)} alone)")
    if found.mass is not None:
        typer.echo(f"  sorbent_mass follows: {plain(found.mass[0])} to {plain(found.mass[1])} kg/m2")
    for line in found.other_lines():
        typer.echo(line)
    typer.echo(found.untried)
    if page is not None:
        typer.echo(f"Page: {page}")


def _share(text: str | None) -> str | float | None:
    """A bare number stays one; "50 %" is read with its unit."""
    try:
        return None if text is None else float(text)
    except ValueError:
        return text
