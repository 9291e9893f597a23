"""A built plant held against its model by its log, and its acceptance test."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from welkinwell.climate.column_map import DeviceColumns
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.power_cuts import VARIABLE as POWER_OFF
from welkinwell.plants.plant import Plant, in_its_rows
from welkinwell.studies.acceptance import Acceptance, acceptance
from welkinwell.studies.device_log import on_the_logs_weather, read_device_log
from welkinwell.studies.monitor import Accuracy, Monitored, known_weather, monitor
from welkinwell.studies.runner import Progress


@dataclass(frozen=True)
class MonitoredPlant:
    """A built device held against its model, or an acceptance test that is only planned (found: None)."""

    about: Plant
    found: Monitored | None
    test: Acceptance | None
    headline: str

    def as_data(self) -> dict[str, Any]:
        """Give the summary."""
        data: dict[str, Any] = {**self.about.head, "headline": self.headline}
        if self.found is not None:
            data |= _log_data(self.found)
        if self.test is not None:
            data["acceptance"] = _test_data(self.test)
        return data


def monitored(
    about: Plant,
    log: Path,
    *,
    weeks: int = 8,
    promised: float | None = None,
    calibrated: bool = False,
    meter: float = 0.03,
    columns: DeviceColumns | None = None,
    progress: Progress | None = None,
) -> MonitoredPlant:
    """Hold the log of a built device against its model; promised: share [1] of an acceptance test.

    calibrated: whether the coefficients are beyond doubt; meter: constant error of the litres' meter [1];
    columns: which column of the log is what, those of the case if not given.
    """
    tell = progress or (lambda what, share: None)
    design, material = about.design, about.entry.sorbent
    readings = read_device_log(
        log, float(about.climate.attrs["utc_offset"]), columns or about.case.device_log
    )
    climate, replaced = on_the_logs_weather(about.climate, readings)
    if POWER_OFF in about.site.climate:  # the hours without electricity stay
        climate = climate.assign({POWER_OFF: about.site.climate[POWER_OFF]})
    # what the log says of the sun is of open ground: the rows shade it after
    site = in_its_rows(about.case, about.entry, surroundings(climate))[0] if replaced else about.site
    share = 0.9 if promised is None else 0.6
    found = monitor(
        design, material, site, readings, typical=about.site, weather=replaced, weeks=weeks,
        known=known_weather(about.climate, readings, replaced), calibrated=calibrated,
        accuracy=Accuracy(meter=meter),
        progress=lambda done: tell("Simulating what may explain the gap", 0.1 + (share - 0.1) * done),
    )  # fmt: skip
    test = None
    if promised is not None:
        test = acceptance(
            design, material, site, monitored=found, promised=promised, meter=meter,
            weather_file=Path(about.case.site.weather).name,
            progress=lambda done: tell("Judging the test", share + (1.0 - share) * done),
        )  # fmt: skip
    return MonitoredPlant(about, found, test, _words(about, found))


def planned_test(
    about: Plant,
    first_day: int = 0,
    promised: float = 0.8,
    meter: float = 0.03,
    progress: Progress | None = None,
) -> MonitoredPlant:
    """Plan an acceptance test from a day of the year on (0: 1 January); promised, meter: shares [1]."""
    tell = progress or (lambda what, share: None)
    test = acceptance(
        about.design, about.entry.sorbent, about.site,
        first_day=first_day, promised=promised, meter=meter, weather_file=Path(about.case.site.weather).name,
        progress=lambda done: tell("Simulating the test", done),
    )  # fmt: skip
    return MonitoredPlant(about, None, test, f"{about.entry.name}: {test.words}")


def _words(about: Plant, found: Monitored) -> str:
    blamed, count = found.blamed, int(found.used.sum())
    name = about.entry.name
    head = f"{name} gave {found.ratio:.2f} of the litres that its model gives for these {count} days."
    if blamed is None:
        return f"{head} Nothing needs to be blamed: that lies within what instruments and doubts leave open."
    if found.clear:
        weight = "over 99" if blamed.weight > 0.99 else f"{100.0 * blamed.weight:.0f}"
        return (
            f"{head} What explains the gap best, with {weight} % of the weight: {blamed.name}; {blamed.now}."
        )
    told = [one for one in found.explanations if one.weight >= 0.5 * (1.0 - blamed.weight)]
    rivals = " / ".join(f"{one.name} ({100.0 * one.weight:.0f} %)" for one in told)
    return f"{head} The log cannot tell apart: {rivals}. More days, or more thermometers, would."


def _log_data(found: Monitored) -> dict[str, Any]:
    days = [
        {"date": found.log.date(int(i)).isoformat(), "measured_litres": float(found.measured[i]),
         "expected_litres": float(found.expected[i]), "explained_litres": float(found.explained[i])}
        for i in np.flatnonzero(found.used)
    ]  # fmt: skip
    blamed = found.blamed
    return {
        "log": found.log.file,
        "warnings": list(found.log.warnings),
        "weather_from_the_log": list(found.weather),
        "temperatures_used": list(found.channels),
        "days_used": int(found.used.sum()),
        "performance_ratio": found.ratio,
        "blamed": None if blamed is None else blamed.key,
        "explanations": [
            {
                "key": one.key,
                "name": one.name,
                "weight": one.weight,
                "value": None if one.explanation is None else one.value,
                "interval_90_percent": None if one.explanation is None else [one.low, one.high],
                "ends_where_tried_ends": one.held,
                "unit": None if one.explanation is None else one.explanation.unit,
                "recalibrated": one.now,
                "misfit": one.misfit,
                "criterion": one.criterion,
            }
            for one in found.explanations
        ],
        "coefficients": [
            {"key": one.parameter.key, "name": one.parameter.name, "of": one.parameter.of,
             "before_80_percent": one.parameter.in_words(),
             "after": one.value, "after_90_percent": list(one.interval), "unit": one.parameter.unit}
            for one in found.learned
        ],
        "weather_known": list(found.known),
        "scatter_raised": dict(found.scatter),
        "resemblance_of_days": found.resemblance,
        "days": days,
        "weeks_ahead": [
            {"first": found.log.date(found.log.days + week.first).isoformat(), "litres": week.litres,
             "interval_90_percent": [week.low, week.high], "sound_litres": week.sound}
            for week in found.weeks
        ],
    }  # fmt: skip


def _test_data(test: Acceptance) -> dict[str, Any]:
    logged = test.days > 0
    return {
        "promised_share": test.promised,
        "verdict": test.verdict or None,
        "words": test.words,
        "planned_days": test.planned,
        "days": test.days,
        **_litres_of_test(test),
        "measured_litres": test.measured if logged else None,
        "expected_litres": test.expected if logged else None,
        "ratio": test.ratio if logged else None,
        "standard_uncertainty": test.u if logged else None,
        "litres_per_day_exceeded_in": dict(zip(("90 %", "50 %", "10 %"), test.band, strict=True)),
        "shares": {
            "meter": test.spread.meter,
            "day": test.spread.scatter,
            "resemblance_of_days": test.spread.resemblance,
            **{key: part for key, (part, _) in test.spread.by_weather.items()},
        },
    }


def _litres_of_test(test: Acceptance) -> dict[str, Any]:
    """Dates, weather and the litres that pass and fail: of the log, or of the planned days."""
    logged, length = test.days > 0, test.length
    form = "%Y-%m-%d" if logged else "%m-%d"
    found: dict[str, Any] = {"weather": test.weather, "first_day": test.first.strftime(form)}
    if not length:
        return {**found, "last_day": None, "passes_from_litres": None, "fails_below_litres": None}
    fails, passes, expected = test.litres_that(length)
    return {
        **found,
        "last_day": test.last_day(length).strftime(form),
        "expected_litres_of_test": expected,
        "passes_from_litres": passes,
        "fails_below_litres": fails,
    }
