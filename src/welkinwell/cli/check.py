"""`welkinwell check CASE`: read a case, say what is wrong with it or explain it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    import xarray


def check(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).")],
    everything: Annotated[bool, typer.Option("--all", help="List the fields at their defaults too.")] = False,
) -> None:
    """Read a case and its files, and explain in plain words what it asks for.

    Example: welkinwell check my_place/case.toml
    """
    from welkinwell.case import explained, read_case

    checked = read_case(case)

    from welkinwell.climate import read_climate

    climate = read_climate(checked.weather_path)
    for line in explained(checked, everything):
        typer.echo(line)
    typer.echo("Weather")
    for line in _weather_lines(climate):
        typer.echo(f"  {line}")
    typer.echo(f"\nNothing is wrong with this case. Next: welkinwell run {case} -o out")


def _weather_lines(climate: xarray.Dataset) -> list[str]:
    about = climate.attrs
    place = f"{about['latitude']:.2f}, {about['longitude']:.2f}, {about['elevation']:.0f} m"
    lines = [
        f"{about['site']} ({place})",
        f"{climate.sizes['time']} hours; source: {about['source']}",
    ]
    lines += [
        f"repaired: {name.replace('_', ' ')}, {count}" for name, count in json.loads(about["repairs"]).items()
    ]
    return lines + [f"warning: {warning}" for warning in json.loads(about["warnings"])]
