"""`welkinwell fit POINTS.csv -o SHEET.toml`: a laboratory's measurements become a data sheet."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from welkinwell.sorbents.lab_fit import LabFit


def fit(
    points: Annotated[
        list[Path], typer.Argument(metavar="POINTS", help="Isotherms: CSV or AIF, one file or several.")
    ],
    out: Annotated[Path, typer.Option("-o", "--out", metavar="SHEET", help="Data sheet to write (TOML).")],
    uptake: Annotated[
        Path | None,
        typer.Option(
            metavar="CURVE", help="Uptake curves (CSV: time, loading, temperature, relative_humidity)."
        ),
    ] = None,
    name: Annotated[str, typer.Option(metavar="NAME", help="Name of the sorbent, as shown to people.")] = "",
    grain_radius: Annotated[
        str, typer.Option(metavar="LENGTH", help="Grain radius of the uptake sample.")
    ] = "0.5 mm",
) -> None:
    """Fit measured isotherms and write a data sheet with its doubt.

    Columns carry their unit: temperature [degC],relative_humidity [1],loading [kg/kg]; pressure [Pa] may
    stand in place of relative_humidity, and a column branch (ads, des) is understood. The form is chosen
    by AICc among those whose heat is possible. A picture of the misfit is left beside the sheet.

    Example: welkinwell fit isotherms.csv -o my_sorbent.toml --uptake curves.csv
    """
    from welkinwell.errors import FileError, Problem
    from welkinwell.quantities import to_si
    from welkinwell.text_file import why_no_file

    radius = to_si(grain_radius, "mm", "--grain-radius")
    if not 1e-7 <= radius <= 0.05:
        raise FileError(Problem("--grain-radius", grain_radius, "0.0001 to 50 mm"))
    if out.suffix != ".toml":
        raise FileError(Problem("-o", repr(str(out)), "the name of a data sheet that ends with .toml"))
    given = [*points, *([uptake] if uptake else [])]
    missing = [(path, reason) for path in given if (reason := why_no_file(path))]
    if missing:
        raise FileError([Problem(str(path), reason, "a CSV or AIF file") for path, reason in missing])
    _write(points, out, uptake, name or out.stem.replace("_", " ").capitalize(), radius)


def _write(points: list[Path], out: Path, uptake: Path | None, name: str, radius: float) -> None:
    from welkinwell.cli.folder import output_folder
    from welkinwell.report.sorbent_page import write_misfit_picture
    from welkinwell.sorbents.lab_data import read_lab_points, read_uptake
    from welkinwell.sorbents.lab_fit import fit_lab_points
    from welkinwell.sorbents.sorbent import sorbent
    from welkinwell.sorbents.uptake_fit import fit_uptake
    from welkinwell.sorbents.write_sheet import sheet_text
    from welkinwell.writing import together, write_text

    measured = read_lab_points(points)
    rate = fit_uptake(read_uptake(uptake)) if uptake else None
    found = fit_lab_points(measured)
    text = sheet_text(found, out.stem, name, rate, radius)
    with TemporaryDirectory() as place:
        sorbent(write_text(Path(place) / out.name, text))  # what is written must be a sheet
    output_folder(out.parent, room=len(text))
    with together():
        write_text(out, text)
        picture = write_misfit_picture(found, name, out.with_suffix(".png"))
    for line in _lines(found):
        typer.echo(line)
    if rate is not None:
        typer.echo(f"Rate: {rate.rate:.3g} 1/s at 25 degC (relative error {rate.rate_error:.2g})")
        word = "" if rate.measured_energy else " (assumed)"
        typer.echo(
            f"Activation energy: {rate.energy / 1e3:.1f} +- {rate.energy_error / 1e3:.1f} kJ/mol{word}"
        )
    for warning in (*found.warnings, *(rate.warnings if rate else ())):
        typer.echo(f"Warning: {warning}")
    typer.echo(f"Sheet: {out} (its cautions name what is assumed)")
    typer.echo(f"Misfit: {picture}")


def _lines(found: LabFit) -> list[str]:
    import numpy as np

    best = found.best
    uptake = found.points.branch(False)
    q = 0.5 * float(uptake.loading.max())
    T = float(np.mean(uptake.temperature))
    low, high = found.heat_band(T, q)
    lines = [
        f"{found.points.loading.size} points; form: {best.candidate.name} (AICc)",
        f"Misfit: {best.misfit:.4f} kg/kg root mean square, {best.largest:.4f} at most",
        *(
            f"  {part.key} = {part.value:.5g} {part.unit}".removesuffix(" 1")
            + (f" +- {part.error:.2g}" if part.error > 0.0 else " (held)")
            for part in found.parts
        ),
        f"Isosteric heat at {q:.3f} kg/kg and {T - 273.15:.0f} degC: {found.heat(T, q) / 1e3:.0f} kJ/kg "
        f"({low / 1e3:.0f} to {high / 1e3:.0f}, 95 %)",
    ]
    if found.hysteresis > 0.0:
        lines.append(f"Release lies {found.hysteresis:.0f} J/mol above uptake")
    return lines
