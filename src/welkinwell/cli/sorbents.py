"""`welkinwell sorbents [NAME] [-o DIR]`: the data sheets as a table, or one as a page."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer


def sorbents(
    name: Annotated[
        str | None, typer.Argument(metavar="NAME", help="A sheet by name, or the path of your own.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="DIR", help="Folder for the page of a sheet.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the table as JSON.")] = False,
) -> None:
    """List the sorbents, or show one data sheet: curves, heat, kinetics, sources, doubts.

    Example: welkinwell sorbents silica_gel_regular_density -o out
    """
    from welkinwell.errors import FileError, Problem

    if name is None:
        if out is not None:
            raise FileError(Problem("-o", str(out), "a NAME before -o", "Say which sheet to show."))
        _list(as_json)
        return

    from welkinwell.sorbents.sorbent import sorbent

    found = sorbent(name)
    row = _row(found)
    if as_json:
        typer.echo(json.dumps(row, indent=2, allow_nan=False))
    else:
        typer.echo(found.name)
        for key, value in row.items():
            typer.echo(f"  {key.replace('_', ' ')}: {value}")
        for caution in found.cautions:
            typer.echo(f"Caution: {caution}")
    if out is not None:
        from welkinwell.cli.folder import output_folder
        from welkinwell.report.sorbent_page import write_sorbent_page

        page = write_sorbent_page(found, output_folder(out))
        if not as_json:
            typer.echo(f"Page: {page}")


def _list(as_json: bool) -> None:
    from welkinwell.sorbents.sorbent import sheet_names, sorbent

    rows = [_row(sorbent(name)) for name in sheet_names()]
    if as_json:
        typer.echo(json.dumps(rows, indent=2, allow_nan=False))
        return

    from rich import box
    from rich.console import Console
    from rich.table import Table

    caption = "Loading in kg/kg dry at 25 degC; heat in kJ/kg of water at half of the loading of RH 0.6."
    table = Table(box=box.SIMPLE, caption=caption)
    for title in ("sheet", "family", "RH 0.2", "RH 0.4", "RH 0.7", "heat", "release degC", "measured degC"):
        table.add_column(
            title, justify="left" if title in ("sheet", "family") else "right", no_wrap=title == "sheet"
        )
    for row in rows:
        table.add_row(
            row["sheet"],
            row["family"],
            *(f"{value:.3f}" for value in row["loading_at_25_degC"].values()),
            f"{row['heat_kJ_per_kg']:.0f}",
            "{:.0f} to {:.0f}".format(*row["release_degC"]),
            "{:.0f} to {:.0f}".format(*row["measured_degC"]),
        )
    Console(width=None if _is_terminal() else 130).print(table)


def _is_terminal() -> bool:
    import sys

    return sys.stdout.isatty()


def _row(found: Any) -> dict[str, Any]:
    loadings = {f"RH {rh:g}": round(float(found.loading(298.15, rh)), 4) for rh in (0.2, 0.4, 0.7)}
    heat = float(found.isosteric_heat(298.15, 0.5 * float(found.loading(298.15, 0.6))))
    return {
        "sheet": found.key,
        "family": found.family,
        "loading_at_25_degC": loadings,
        "heat_kJ_per_kg": round(heat / 1e3),
        "release_degC": [round(T - 273.15, 1) for T in found.regeneration_range],
        "measured_degC": [round(T - 273.15, 1) for T in found.temperature_range],
        "service_degC": round(found.service_temperature - 273.15, 1),
        "hysteresis_J_per_mol": found.hysteresis_width,
        "leak_humidity": found.leak_humidity,
        "crystallisation_humidity_25_degC": round(found.crystallisation_humidity(298.15), 4),
        "price_USD_per_kg": found.price,
    }
