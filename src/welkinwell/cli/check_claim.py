"""`welkinwell check-claim [CLAIM.toml]`: a published or advertised figure held against what is possible."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Annotated, Any

import typer

from welkinwell.cli.columns import Columns


def check_claim(
    file: Annotated[
        Path | None, typer.Argument(metavar="CLAIM", help="The claim as a TOML file; or give options.")
    ] = None,
    litres: Annotated[
        str | None, typer.Option(metavar="VOLUME", help="Water in a day, as in '12 L/day'.")
    ] = None,
    per_m2: Annotated[
        str | None, typer.Option(metavar="YIELD", help="Water in a day and m2, as in '2 L/(m2 day)'.")
    ] = None,
    per_kg: Annotated[
        str | None,
        typer.Option(metavar="YIELD", help="Water in a day and kg of sorbent, as in '2.8 L/(kg day)'."),
    ] = None,
    per_kwh: Annotated[
        str | None, typer.Option(metavar="YIELD", help="Water for a kWh, as in '3 L/kWh'.")
    ] = None,
    temperature: Annotated[
        str | None, typer.Option(metavar="DEGREES", help="Temperature of the air, as in '25 degC'.")
    ] = None,
    humidity: Annotated[
        str | None, typer.Option(metavar="SHARE", help="Relative humidity of the air, as in '30 %'.")
    ] = None,
    area: Annotated[
        str | None, typer.Option(metavar="AREA", help="Area to which the claimed litres refer, as in '2 m2'.")
    ] = None,
    mass: Annotated[str | None, typer.Option(metavar="MASS", help="Dry sorbent, as in '1.2 kg'.")] = None,
    sun: Annotated[
        str | None, typer.Option(metavar="ENERGY", help="Sun on the area in a day, as in '6 kWh/(m2 day)'.")
    ] = None,
    electricity: Annotated[
        str | None, typer.Option(metavar="ENERGY", help="Electricity for a litre, as in '1 kWh/L'.")
    ] = None,
    kind: Annotated[
        str | None,
        typer.Option(metavar="KIND", help="Kind of device: passive_box, active_bed, cooling_coil, ..."),
    ] = None,
    cycles: Annotated[str | None, typer.Option(metavar="NUMBER", help="Cycles in a day.")] = None,
    swing: Annotated[
        str | None, typer.Option(metavar="SHARE", help="Water of one cycle, as in '0.25 kg/kg'.")
    ] = None,
    weather: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Weather of your site: what the claim becomes there.")
    ] = None,
    columns: Columns = None,
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="DIR", help="Folder for the page.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the verdict as JSON.")] = False,
) -> None:
    """Check a claim of water from air: possible or impossible, and by which bound.

    Says too what such a device of its kind gives in a simulation in the claim's own air, what the claim
    becomes at your site, which condition that it leaves out matters most, and where bases are mixed. A file
    may state more than the options: see docs/how_to/check_a_claim.md.

    Example: welkinwell check-claim --per-kwh "20 L/kWh" --temperature "25 degC" --humidity "20 %"
    """
    from welkinwell.errors import FileError, Problem
    from welkinwell.studies.claim import claim_from, read_claim
    from welkinwell.text_file import require_file

    options = {
        "litres_per_day": litres, "litres_per_m2_day": per_m2, "litres_per_kg_day": per_kg,
        "litres_per_kwh": per_kwh, "temperature": temperature, "relative_humidity": humidity,
        "area": area, "sorbent_mass": mass, "sun": sun,
        "electricity": electricity, "kind": kind, "cycles_per_day": cycles, "swing": swing,
    }  # fmt: skip
    given: dict[str, Any] = {name: _read(name, text) for name, text in options.items() if text is not None}
    if file is not None and given:
        raise FileError(Problem("check-claim", "a file and options", "one or the other"))
    claim = read_claim(file) if file is not None else claim_from(given, "check-claim")
    if weather is not None:
        require_file(weather, "an hourly weather file (EPW, TMY3, PVGIS or CSV)")
    _answer(claim, weather, columns, out, as_json)


def _read(name: str, text: str) -> Any:
    """Bare numbers stay numbers, as in a file; everything else is text with its unit."""
    if name in ("relative_humidity", "cycles_per_day"):
        try:
            return float(text)
        except ValueError:
            return text
    return text


def _answer(claim: Any, weather: Path | None, columns: Path | None, out: Path | None, as_json: bool) -> None:
    from welkinwell.cli.compiling import say_what_compiles
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar
    from welkinwell.harvesters.kinds import KINDS, PLAIN
    from welkinwell.studies.claim_device import judged

    folder = output_folder(out) if out is not None else None
    say_what_compiles([claim.kind if claim.kind in KINDS else PLAIN])
    with progress_bar() as progress:
        verdict = judged(claim, weather, progress, columns)
        page = None
        if folder is not None:
            from welkinwell.report.claim_page import write_claim_page

            page = write_claim_page(verdict, folder)
    if as_json:
        typer.echo(json.dumps(verdict.as_data(), indent=2, allow_nan=False))
        return
    typer.echo(verdict.sentence)
    if verdict.missing:
        from welkinwell.harvesters.claimed import WORDS
        from welkinwell.quantities import plain

        first = verdict.missing[0]
        far = f"moves the nearest bound by a factor of {plain(first.moves, 2)}"
        far = far if math.isfinite(first.moves) else "decides whether any water comes at all"
        typer.echo(f"Ask for: {WORDS[first.field]} ({far}).")
    for said in [*verdict.warnings, *_simulated(verdict)]:
        typer.echo(f"- {said}")
    if page is not None:
        typer.echo(f"Page: {page}")


def _simulated(verdict: Any) -> list[str]:
    from welkinwell.report.claim_page import said_of_device

    return said_of_device(verdict)
