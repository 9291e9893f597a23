"""`welkinwell sorbents [NAME] [-o DIR]`: the data sheets as a table, or one as a page."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer

_ROOM = 298.15  # K


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
        for line in _lines(found, row):
            typer.echo(f"  {line}")
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

    caption = (
        "Loading in kg/kg dry at 25 degC; heat in kJ/kg of water at 25 degC and half of the "
        "loading of RH 0.6, of a salt half-way from its saturated solution to that."
    )
    table = Table(box=box.SIMPLE, caption=caption)
    for title in ("sheet", "family", "RH 0.2", "RH 0.4", "RH 0.7", "heat", "release degC", "measured degC"):
        table.add_column(
            title, justify="left" if title in ("sheet", "family") else "right", no_wrap=title == "sheet"
        )
    for row in rows:
        low, high = row["measured_degC"]
        table.add_row(
            row["sheet"],
            row["family"],
            *(f"{value:.3f}" for value in row["loading_at_25_degC"].values()),
            f"{row['heat_kJ_per_kg']:.0f}",
            "{:.0f} to {:.0f}".format(*row["release_degC"]),
            f"{low:.0f}" if low == high else f"{low:.0f} to {high:.0f}",
        )
    Console(width=None if _is_terminal() else 130).print(table)


def _is_terminal() -> bool:
    import sys

    return sys.stdout.isatty()


def _row(found: Any) -> dict[str, Any]:
    loadings = {f"RH {rh:g}": round(float(found.loading(_ROOM, rh)), 4) for rh in (0.2, 0.4, 0.7)}
    loading, humidity = _middle(found)
    price = found.sheet.numbers["cost.price"]
    return {
        "sheet": found.key,
        "family": found.family,
        "loading_at_25_degC": loadings,
        "heat_kJ_per_kg": round(float(found.isosteric_heat(_ROOM, loading)) / 1e3),
        "heat_at": {"degC": 25.0, "loading": round(loading, 4), "relative_humidity": round(humidity, 4)},
        "release_degC": [round(T - 273.15, 1) for T in found.regeneration_range],
        "measured_degC": [round(T - 273.15, 1) for T in found.temperature_range],
        "service_degC": round(found.service_temperature - 273.15, 1),
        "hysteresis_J_per_mol": found.hysteresis_width,
        "leak_humidity": found.leak_humidity,
        "crystallisation_humidity_25_degC": round(found.crystallisation_humidity(_ROOM), 4),
        "price_USD_per_kg": price.value,
        "price_range_USD_per_kg": [price.low, price.high],
    }


def _middle(found: Any) -> tuple[float, float]:
    """Loading half-way through what is in use at 25 degC [kg/kg dry], and its relative humidity [1].

    From nothing, or for a salt from its saturated solution, to what it holds at RH 0.6: between crystals the
    heat is that of their change.
    """
    from welkinwell.moist_air import saturation_pressure

    driest = found.saturated_loading(_ROOM)
    loading = 0.5 * (driest + float(found.loading(_ROOM, 0.6)))
    return loading, float(found.pressure(_ROOM, loading)) / float(saturation_pressure(_ROOM))


def _lines(found: Any, row: dict[str, Any]) -> list[str]:
    """What a sheet says in short, for people."""
    from welkinwell.quantities import plain

    loadings = ", ".join(f"{q:.3f} at {rh}" for rh, q in row["loading_at_25_degC"].items())
    price, at = found.sheet.numbers["cost.price"], row["heat_at"]
    lines = [
        f"sheet: {found.key}",
        f"family: {found.family}",
        f"loading at 25 degC, kg/kg dry: {loadings}",
        f"isosteric heat: {plain(row['heat_kJ_per_kg'])} kJ/kg of water, at 25 degC and "
        f"{at['loading']:.3f} kg/kg, in equilibrium with RH {plain(at['relative_humidity'], 2)}",
        "release: {:g} to {:g} degC".format(*row["release_degC"]),
        "measured: {:g} to {:g} degC".format(*row["measured_degC"]),
        f"highest temperature that it may reach: {row['service_degC']:g} degC",
    ]
    width, leak, crystals = (
        found.hysteresis_width,
        found.leak_humidity,
        row["crystallisation_humidity_25_degC"],
    )
    if width > 0.0:
        lines.append(f"hysteresis: release lies {plain(width)} J/mol above uptake")
    if leak < 1.0:
        lines.append(f"brine can leave it above RH {plain(leak, 2)}")
    if crystals > 0.0:
        lines.append(f"crystals form in its brine below RH {plain(crystals, 2)} at 25 degC")
    seen = "" if price.seen == "source" else f", {price.how}, from {price.seen}"
    lines.append(f"price: {plain(price.value)} USD/kg ({plain(price.low)} to {plain(price.high)}{seen})")
    return lines
