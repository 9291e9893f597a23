"""`welkinwell uncertainty CASE -o DIR`: how sure the litres are."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer


def uncertainty(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).")],
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="DIR", help="Folder for the page and its charts.")
    ] = None,
    harvester: Annotated[
        str | None, typer.Option(metavar="NAME", help="Harvester of the case; the first if not given.")
    ] = None,
    weather: Annotated[
        list[Path] | None,
        typer.Option(metavar="FILE", help="A further weather year of the site; may be repeated."),
    ] = None,
    draws: Annotated[
        int, typer.Option(metavar="NUMBER", help="Draws of everything in doubt.", min=16, max=100000)
    ] = 256,
    seed: Annotated[int, typer.Option(metavar="NUMBER", help="Seed of the draws.")] = 1,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the figures as JSON instead of words.")
    ] = False,
) -> None:
    """Draw everything that is in doubt and simulate each draw: litres exceeded in 90, 50 and 10 % of draws.

    Example: welkinwell uncertainty my_place/case.toml -o out --draws 256
    """
    from welkinwell.case import read_case
    from welkinwell.cli.compiling import say_what_compiles_for
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar

    checked = read_case(case)
    folder = output_folder(out) if out is not None else None

    from welkinwell.plants.one_plant import plant_of, plant_then
    from welkinwell.plants.uncertainty import uncertainty_of, years_of_uncertainty
    from welkinwell.quantities import litres_on, plain

    say_what_compiles_for(checked, harvester=harvester, only_first=True)
    with progress_bar() as progress:
        first, rest = plant_then(progress, checked, harvester, lambda one: years_of_uncertainty(one, draws))
        found = uncertainty_of(plant_of(checked, harvester, first), draws, seed, rest, weather or [])
        page = None
        if folder is not None:
            from welkinwell.report.decision_pages import write_uncertainty

            page = write_uncertainty(found, folder)
    if as_json:
        typer.echo(json.dumps(found.as_data(), indent=2, allow_nan=False))
        return
    typer.echo(" ".join([found.headline, *found.plant.words()]))
    for name, unit, _, by_share in found.intervals():
        if unit == "kWh/L":
            said = ", ".join(plain(x, 3) for x in by_share.values())
            typer.echo(f"{name}: {said} {unit} are exceeded in 90, 50 and 10 % of the draws.")
    typer.echo(found.caution)
    unit = litres_on(found.about.basis)
    for name, by_share in found.by_year():
        said = ", ".join("none" if x is None else f"{x:.2f}" for x in by_share.values())
        typer.echo(f"{name}: {said} {unit} are exceeded in 90, 50 and 10 % of the draws of that year")
    for parameter, share, half in found.shares.parts[:5] if found.shares is not None else []:
        typer.echo(f"{100.0 * share:5.0f} ± {100.0 * half:.0f} % of the variance: {parameter.name}")
    if page is not None:
        typer.echo(f"Page: {page}")
