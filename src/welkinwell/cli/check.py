"""`welkinwell check CASE`: read a case, say what is wrong with it or explain it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    import xarray

    from welkinwell.case import Case
    from welkinwell.climate.first_row import FirstRow


def check(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).")],
    everything: Annotated[bool, typer.Option("--all", help="List the fields at their defaults too.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the checked case as data: every field, in SI.")
    ] = False,
) -> None:
    """Read a case and its files, and explain in plain words what it asks for.

    Example: welkinwell check my_place/case.toml
    """
    from welkinwell.case import explained, read_case

    checked = read_case(case)
    lines = [] if as_json else explained(checked, everything)
    for line in lines:  # the case at once; what reads weather takes seconds to load
        typer.echo(line)

    from welkinwell.site_weather import described_rows, filed_climate, laid_over

    climate = filed_climate(checked)
    there = laid_over(checked, climate)
    first = described_rows(checked, climate)
    if as_json:
        data = _as_data(checked, climate, there, first)
        typer.echo(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))
        return
    typer.echo("Weather")
    for line in _weather_lines(climate):
        typer.echo(f"  {line}")
    for table, row in first.items():
        typer.echo(f"\n{row.file}, as [{table}] has it understood")
        for line in row.lines():
            typer.echo(f"  {line}")
    if "log_correction" in there.attrs:
        from welkinwell.climate.relocate import correction_lines

        typer.echo("\nCorrection by your own log")
        for line in correction_lines(there):
            typer.echo(f"  {line}")
    notes = sum(line.startswith("Note: ") for line in lines)
    ends = {0: "Nothing is wrong with this case.", 1: "This case can be run; mind the note above."}
    said = ends.get(notes, f"This case can be run; mind the {notes} notes above.")
    typer.echo(f"\n{said} Next: welkinwell run {case} -o out")


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
    lines += [f"warning: {warning}" for warning in json.loads(about["warnings"])]
    return lines + [f"note: {note}" for note in json.loads(about.get("notes", "[]"))]


def _as_data(
    case: Case, climate: xarray.Dataset, there: xarray.Dataset, first: dict[str, FirstRow]
) -> dict[str, Any]:
    """Everything that was read, as numbers with units: a field is {value, unit, written, given}."""
    import dataclasses

    from welkinwell.case import SCHEMA_VERSION, bed_notes
    from welkinwell.climate.hourly import site_entry, weather_entry
    from welkinwell.text_file import parse_toml

    tables = parse_toml(case.text, case.path.name, "a case file in TOML")
    return {
        "schema_version": SCHEMA_VERSION,
        "name": case.name,
        "note": case.note,
        "site": {
            "fields": _fields(case.site, tables["site"]),
            "weather_file": str(case.weather_path),
            "of_the_weather_file": site_entry(climate),
            "columns": _form(case.site.columns, tables["site"].get("columns", {})),
            "correction": _form(case.site.correction, tables["site"].get("correction", {})),
        },
        "demand": dataclasses.asdict(case.demand),
        "collection": {"fields": _fields(case.collection, tables.get("collection", {}))},
        "treatment": {"fields": _fields(case.treatment, tables.get("treatment", {}))},
        "tank": None if case.tank is None else {"fields": _fields(case.tank, tables["tank"])},
        "field": {"fields": _fields(case.field, tables.get("field", {}))},
        "sound": {"fields": _fields(case.sound, tables.get("sound", {}))},
        "power": None if case.power is None else {
            "fields": _fields(case.power.supply, tables["power"]),
            "assumptions": _assumptions(case.power.prices),
        },
        "power_cuts": None if case.power_cuts is None else {
            "fields": _fields(case.power_cuts, tables["power_cuts"]),
            "daily": [list(span) for span in case.power_cuts.daily],
            "months": list(case.power_cuts.months),
            "hours_of_the_file": None if case.power_cuts.given is None else int(case.power_cuts.given.sum()),
        },
        "cost": {
            "currency": case.cost.currency,
            "assumptions": _assumptions(case.cost.rows),
            "of_sorbents": {name or "all": _assumptions(rows) for name, rows in case.cost.sorbent.items()},
        },
        "alternatives": [dataclasses.asdict(other) for other in case.alternatives],
        "harvesters": [
            {
                "name": one.name,
                "kind": one.kind,
                "sorbent": one.sorbent_name or None,
                "sorbent_name": None if one.sorbent is None else one.sorbent.name,
                "cautions": [] if one.sorbent is None else list(one.sorbent.cautions),
                "notes": bed_notes(one),
                "modules": one.modules,
                "fields": _fields(one.design, one.given),
            }
            for one in case.harvesters
        ],
        "device_log": _form(case.device_log, tables.get("device_log", {})),
        "weather": {
            **weather_entry(there if "log_correction" in there.attrs else climate),
            "first_rows": {table: row.as_data() for table, row in first.items()},
        },
    }  # fmt: skip


def _form(table: Any, given: Any) -> dict[str, Any] | None:
    """The fields of a table that may be missing."""
    return None if table is None else {"fields": _fields(table, given)}


def _assumptions(rows: Any) -> dict[str, Any]:
    """Prices and lives by name, each with its range and where it comes from."""
    import dataclasses

    return {name: dataclasses.asdict(entry) for name, entry in rows.items()}


def _fields(instance: Any, given: Any) -> dict[str, dict[str, Any]]:
    """Every declared field: value in SI, its unit, as a person writes it, whether it was given."""
    from welkinwell.declare import declared_fields
    from welkinwell.quantities import as_text, si_unit

    found = {}
    for name, entry in declared_fields(type(instance)).items():
        value = getattr(instance, name)
        one: dict[str, Any] = {"value": value, "given": name in given}
        if entry.kind == "quantity":
            one["unit"] = si_unit(entry.unit)
            one["written"] = None if value is None else as_text(value, entry.unit)
        found[name] = {**one, "sentence": entry.sentence}
    return found
