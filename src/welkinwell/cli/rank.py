"""`welkinwell rank PLACE... -o DIR`: which sorbent suits a place, and why the others lose."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer

from welkinwell.cli.columns import ManyColumns


def rank(
    places: Annotated[
        list[Path],
        typer.Argument(metavar="PLACE", help="Hourly weather files, or case files (TOML), one or several."),
    ],
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="DIR", help="Folder for the page and its data.")
    ] = None,
    own: Annotated[
        list[str] | None,
        typer.Option("--sorbent", metavar="PATH", help="A data sheet of your own, added; may be repeated."),
    ] = None,
    only: Annotated[
        list[str] | None,
        typer.Option("--only", metavar="NAME", help="Of the library only these sheets; may be repeated."),
    ] = None,
    masses: Annotated[
        str | None,
        typer.Option(
            "--masses", metavar="LIST", help="Dry sorbent per m2 of aperture, as in '1, 2, 4, 8 kg/m2'."
        ),
    ] = None,
    whole_years: Annotated[
        bool,
        typer.Option(
            "--whole-years", help="Run every mass through the whole year, not typical weeks (slower)."
        ),
    ] = False,
    wanted: Annotated[
        bool,
        typer.Option("--wanted", help="Seek the isotherm that would give the most water at each place."),
    ] = False,
    columns: ManyColumns = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the summary as JSON instead of words.")
    ] = False,
) -> None:
    """Rank every sorbent data sheet by the water it would give at a place, each at its own best mass.

    The same box stands at each place: that of the case, or the standard one for a weather file. Shows the
    isotherms with the place's nights and days on them, litres by month, heat per litre, the temperature
    that release takes, and the reason that each loses. Writes rank.html, summary.json and the charts.

    Example: welkinwell rank weather.epw -o out
    """
    from welkinwell.cli.compiling import say_what_compiles
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar
    from welkinwell.text_file import require_file, why_no_file

    for path in places:
        if why_no_file(path) != "a folder":  # that of a case is answered with its file
            require_file(path, "an hourly weather file (EPW, TMY3, PVGIS or CSV) or a case file (TOML)")
    ladder = _masses(masses)
    folder = output_folder(out) if out is not None else None

    from welkinwell.harvesters.kinds import PLAIN
    from welkinwell.ranking import answer_rank

    say_what_compiles([PLAIN])
    with progress_bar() as progress:
        answer = answer_rank(
            places, own or (), only or (), ladder, whole_years, wanted, progress, columns or ()
        )
        page = None
        if folder is not None:
            from welkinwell.report.rank_page import write_rank_page

            page = write_rank_page(answer, folder)
    if as_json:
        typer.echo(json.dumps(answer.summary, indent=2, allow_nan=False))
        return
    _print(answer)
    typer.echo(answer.headline)
    for line in _deep(answer):
        typer.echo(line)
    for place in answer.places:
        if place.wanted is not None:
            one = place.wanted
            typer.echo(
                f"{place.place.name} wants a step at relative humidity {one.humidity:.2f} (25 degC, "
                f"{one.potential:.0f} J/mol), {one.width:.0f} J/mol wide, with "
                f"{one.isosteric_heat / 1000:.0f} kJ/kg: {one.litres_per_m2_day:.2f} L a day per m2 of "
                "aperture; nearest: " + ", ".join(key for key, _ in one.nearest)
            )
    if page is not None:
        typer.echo(f"Page: {page}")


def _masses(given: str | None) -> tuple[float, ...]:
    """Read a list such as "1, 2, 4 kg/m2" [kg/m2]."""
    from welkinwell.errors import InputError, Problem
    from welkinwell.studies.rank import MASSES

    if given is None:
        return MASSES
    try:
        found = tuple(float(part) for part in given.replace("kg/m2", "").split(",") if part.strip())
    except ValueError:
        found = ()
    if len(set(found)) < 2 or not all(0.01 <= mass <= 200.0 for mass in found):
        expected = "two or more different masses from 0.01 to 200 kg/m2, as in '1, 2, 4, 8 kg/m2'"
        raise InputError(Problem("--masses", repr(given), expected))
    return tuple(sorted(set(found)))


def _deep(answer: Any) -> list[str]:
    """Name the sheets whose best layer is too deep for a bed computed as one."""
    from welkinwell.ranking import deep_words

    return [
        f"Note: {place.place.name}: {entry.sorbent.key}: {words}"
        for place in answer.places
        for entry in place.entries
        for words in deep_words(entry)
    ]


def _print(answer: Any) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table

    for place in answer.places:
        caption = (
            "At the best mass; L and kg per m2 of aperture; kWh of heat in the bed per litre; degC at which "
            "nine tenths have left."
        )
        table = Table(box=box.SIMPLE, title=place.place.name, caption=caption, title_justify="left")
        columns = ("sheet", "L/m2/day", "kg/m2", "L/kg/day", "kWh/L", "release degC", "why")
        for title in columns:
            table.add_column(title, justify="left" if title in ("sheet", "why") else "right", no_wrap=True)
        for entry in place.entries:
            best = entry.best
            heat, needed = best.heat_kwh_per_litre, entry.release_temperature
            table.add_row(
                entry.sorbent.key,
                f"{best.litres_per_m2_day:.2f}",
                f"{best.mass:g}",
                f"{best.litres_per_kg_day:.3f}",
                "none" if heat is None else f"{heat:.1f}",
                "none" if needed is None else f"{needed - 273.15:.0f}",
                entry.reason,
            )
        Console(width=110).print(table)
