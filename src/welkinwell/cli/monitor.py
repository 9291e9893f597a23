"""`welkinwell monitor CASE LOG -o DIR`: a built device against its model."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

ABOUT_SO_MANY_YEARS = 60.0  # that explanations and weeks ahead take


def monitor(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML) of the device as built.")],
    log: Annotated[
        Path | None,
        typer.Argument(
            metavar="LOG", help="Log of the device (CSV). Without it an acceptance test is planned."
        ),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="DIR", help="Folder for the page and its charts.")
    ] = None,
    harvester: Annotated[
        str | None, typer.Option(metavar="NAME", help="Harvester of the case; the first if not given.")
    ] = None,
    columns: Annotated[
        Path | None,
        typer.Option(
            "--columns",
            metavar="TOML",
            help="For a log with columns of its own: the file whose [device_log] says which is what; that of "
            "the case if not given.",
        ),
    ] = None,
    weeks: Annotated[int, typer.Option(metavar="NUMBER", help="Weeks to look ahead.", min=0, max=26)] = 8,
    acceptance: Annotated[
        bool,
        typer.Option(
            "--acceptance", help="With a LOG: judge an acceptance test: pass, fail or too short to say."
        ),
    ] = False,
    promised: Annotated[
        float,
        typer.Option(
            metavar="SHARE", help="Share of the modelled litres that the plant was promised to give."
        ),
    ] = 0.8,
    meter: Annotated[
        float,
        typer.Option(
            metavar="SHARE", help="Constant error of the meter of the litres, as a share.", min=0.0, max=0.5
        ),
    ] = 0.03,
    start: Annotated[
        str, typer.Option(metavar="MM-DD", help="Day on which a planned test starts.")
    ] = "01-01",
    calibrated: Annotated[
        bool,
        typer.Option(
            "--calibrated", help="The case was fitted to this device: its coefficients are beyond doubt."
        ),
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the figures as JSON instead of words.")
    ] = False,
) -> None:
    """Hold the log of a built device against its model: how it does, what explains the gap, the weeks ahead.

    Without a log it plans an acceptance test of the device: how many days, and the litres that pass.

    Example: welkinwell monitor my_place/case.toml my_place/log.csv -o out
    """
    from welkinwell.case import read_case
    from welkinwell.cli.compiling import say_what_compiles_for
    from welkinwell.cli.folder import output_folder
    from welkinwell.cli.progress import progress_bar

    first_day = _day_of_year(start)
    checked = read_case(case)
    described = checked.device_log
    if columns is not None:
        from welkinwell.climate.column_map import read_device_columns

        described = read_device_columns(columns)
    if log is not None:
        from welkinwell.studies.device_log import read_device_log

        read_device_log(log, 0.0, described)  # what is wrong with it is said before anything is simulated
    folder = output_folder(out) if out is not None else None

    from welkinwell.plants.monitoring import monitored, planned_test
    from welkinwell.plants.one_plant import plant_of, plant_then

    say_what_compiles_for(checked, harvester=harvester, only_first=True)
    with progress_bar() as progress:
        first, rest = plant_then(progress, checked, harvester, lambda one: ABOUT_SO_MANY_YEARS)
        about = plant_of(checked, harvester, first)
        if log is None:
            found = planned_test(about, first_day, promised, meter, rest)
        else:
            asked_share = promised if acceptance else None
            found = monitored(
                about,
                log,
                weeks=weeks,
                promised=asked_share,
                calibrated=calibrated,
                meter=meter,
                columns=described,
                progress=rest,
            )
        page = None
        if folder is not None:
            from welkinwell.report.monitor_page import write_monitoring

            page = write_monitoring(found, folder)
    if as_json:
        typer.echo(json.dumps(found.as_data(), indent=2, allow_nan=False))
        return
    typer.echo(found.headline)
    if found.found is not None and described is not None:
        typer.echo(f"First reading, as [device_log] has it understood: {found.found.log.first_reading()}")
    if found.found is not None:
        for one in found.found.explanations[:4]:
            typer.echo(f"{100.0 * one.weight:5.0f} % of the weight: {one.name}")
        if found.test is not None:
            typer.echo(found.test.words)
    if page is not None:
        typer.echo(f"Page: {page}")


def _day_of_year(text: str) -> int:
    """The place in a year of 365 days (0: 1 January) of a day given as MM-DD."""
    import datetime

    try:
        day = datetime.date.fromisoformat(f"2021-{text}")
    except ValueError:
        raise typer.BadParameter(f"--start {text!r}; expected a day as 03-15 (month-day)") from None
    return (day - datetime.date(2021, 1, 1)).days
