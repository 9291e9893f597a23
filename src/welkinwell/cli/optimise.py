"""`welkinwell optimise CASE -o DIR`: the best design under limits."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

ABOUT_SO_MANY_YEARS = 300.0  # that a search simulates, days of a year counted as their share
AGAINST = ("mass", "electricity", "roof_load", "budget", "cost", "sound_level")


def optimise(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).")],
    out: Annotated[
        Path, typer.Option("-o", "--out", metavar="DIR", help="Folder for the page and the record.")
    ],
    harvester: Annotated[
        str | None, typer.Option(metavar="NAME", help="Harvester of the case; the first if not given.")
    ] = None,
    vary: Annotated[
        list[str] | None,
        typer.Option(metavar="FIELD=LOW..HIGH", help="A field to search, as layer_thickness='1 mm..6 mm'."),
    ] = None,
    sorbent: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="A sheet to try, or all; may be repeated.")
    ] = None,
    most_mass: Annotated[
        str | None, typer.Option(metavar="MASS", help="Most dry sorbent per m2 of that area, as '8 kg/m2'.")
    ] = None,
    least_litres: Annotated[
        float | None,
        typer.Option(
            metavar="L", help="Least litres a day per m2 of the device's own area (aperture, bed face, ...)."
        ),
    ] = None,
    most_electricity: Annotated[
        float | None, typer.Option(metavar="KWH", help="Most electricity in kWh per litre.")
    ] = None,
    most_area: Annotated[
        str | None, typer.Option(metavar="AREA", help="Most area of all modules, as '20 m2'.")
    ] = None,
    most_roof_load: Annotated[
        str | None, typer.Option(metavar="LOAD", help="Most weight on the ground taken, as '60 kg/m2'.")
    ] = None,
    most_budget: Annotated[
        float | None, typer.Option(metavar="MONEY", help="Most money to buy and install, in the case's.")
    ] = None,
    most_cost: Annotated[
        float | None, typer.Option(metavar="MONEY", help="Most money for a litre that reaches the gutter.")
    ] = None,
    most_sound: Annotated[
        float | None,
        typer.Option(metavar="DB", help="Most dB(A) at the nearest bed, as the case places it."),
    ] = None,
    objective: Annotated[
        str, typer.Option("--for", metavar="FIGURE", help="What to search: litres, or the least cost.")
    ] = "litres",
    against: Annotated[
        str,
        typer.Option(
            metavar="FIGURE",
            help="Second figure of the front: " + ", ".join(AGAINST[:-1]) + f" or {AGAINST[-1]}.",
        ),
    ] = "mass",
    seed: Annotated[int, typer.Option(metavar="NUMBER", help="Seed of the search.")] = 1,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the figures as JSON instead of words.")
    ] = False,
) -> None:
    """Search the best design: sizes and sorbents, under limits, with the front of litres against effort.

    Can be stopped and started again with the same folder: designs already simulated are read back.

    Example: welkinwell optimise my_place/case.toml -o out --sorbent all --most-mass "8 kg/m2"
    """
    from welkinwell.case import read_case
    from welkinwell.cli.compiling import say_what_compiles_for
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar
    from welkinwell.errors import InputError, Problem
    from welkinwell.quantities import to_si

    if against not in AGAINST:
        raise InputError(Problem("--against", repr(against), ", ".join(AGAINST[:-1]) + f" or {AGAINST[-1]}"))
    if objective not in ("litres", "cost"):
        raise InputError(Problem("--for", repr(objective), "litres or cost"))
    checked = read_case(case)
    folder = output_folder(out)

    from welkinwell.plants.best_design import best_of
    from welkinwell.plants.one_plant import plant_of, plant_then
    from welkinwell.report.decision_pages import write_best
    from welkinwell.studies.optimise import Limits

    mass, load = (to_si(text, "kg/m2") if text is not None else None for text in (most_mass, most_roof_load))
    area = to_si(most_area, "m2") if most_area is not None else None
    spans = {
        "mass": (None, mass),
        "litres": (least_litres, None),
        "electricity": (None, most_electricity),
        "area": (None, area),
        "roof_load": (None, load),
        "budget": (None, most_budget),
        "cost": (None, most_cost),
        "sound_level": (None, most_sound),
    }
    limits = Limits({key: span for key, span in spans.items() if span != (None, None)})
    say_what_compiles_for(checked, harvester=harvester, only_first=True)
    with progress_bar() as progress:
        first, rest = plant_then(progress, checked, harvester, lambda one: ABOUT_SO_MANY_YEARS)
        found = best_of(
            plant_of(checked, harvester, first),
            vary=vary or [],
            sorbents=sorbent or [],
            limits=limits,
            objective=objective,
            against=against,
            record=folder / "designs.jsonl",
            seed=seed,
            progress=rest,
        )
        page = write_best(found, folder)
    if as_json:
        typer.echo(json.dumps(found.as_data(), indent=2, allow_nan=False))
        return
    typer.echo(found.headline)
    for variable, value in zip(found.search.variables, found.best.best.values, strict=True):
        typer.echo(f"  {variable.key} = {variable.text(value)}")
    for words in found.search.left_out():
        typer.echo(f"Note: {words}")
    typer.echo(f"Page: {page}")
