"""A good and a bad day of a year, chosen by a stated rule and cut out hour by hour."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.harvesters.kinds import harvester_of_year
from welkinwell.moist_air import dew_point_from_pressure
from welkinwell.report.charts import DayScales, DaySeries

Floats = NDArray[np.float64]

HOURS_BEFORE: Final = 12  # from noon of the day before: the night that fills the bed belongs to the day


def day_at_quantile(litres: Floats, share: float) -> int:
    """Return the day (from 0) whose litres are nearest to a quantile of all days; the first of equals.

    litres: by day [L]; share: of the days that give less [1].
    """
    return int(np.argmin(np.abs(litres - np.quantile(litres, share))))


def date_of_day(day: int) -> str:
    """Write a day of the nominal year, 0 to 364, as "7 May"."""
    date = np.datetime64("2019-01-01") + np.timedelta64(day, "D")
    names = "January February March April May June July August September October November December"
    month = int(date.astype("datetime64[M]").astype(int) % 12)
    number = int((date - date.astype("datetime64[M]")) / np.timedelta64(1, "D")) + 1
    return f"{number} {names.split()[month]}"


def first_hour(year: xr.Dataset, utc_offset: float) -> float:
    """Return the local standard clock at the start of the first hour of the year [h]."""
    start = year["time"].values[0]
    past = float((start - start.astype("datetime64[D]")) / np.timedelta64(1, "s")) / 3600.0
    return (past + utc_offset) % 24.0


def day_series(year: xr.Dataset, day: int, clock: float, title: str) -> DaySeries:
    """Cut one day out of a year, from the noon before; the year closes on itself.

    clock: local time at which the first hour of the year starts [h].
    """
    first = 24 * day - HOURS_BEFORE
    hours = np.arange(first, 24 * day + 24) % year.sizes["time"]
    starts: Any = np.arange(-HOURS_BEFORE, 24) + clock

    def hourly(name: str) -> Floats:
        return year[name].values[hours]

    dew_point = dew_point_from_pressure(np.maximum(hourly("vapour_pressure"), 1.0))
    return DaySeries(
        title=title,
        hour=starts + 1.0,
        temperatures={
            **{label: hourly(name) - 273.15 for label, name in _parts(year).items()},
            "air": hourly("temperature") - 273.15,
            "dew point": dew_point - 273.15,
        },
        loading=hourly("loading") if "loading" in year else None,
        water={
            "taken up": 1000.0 * hourly("water_taken_up"),
            "condensed": 1000.0 * hourly("water_condensed"),
            "collected": 1000.0 * hourly("water_collected"),
        },
        sun=hourly("sun_on_plane"),
        open_hours=_open_spans(starts, hourly("open_share")),
    )


def _parts(year: xr.Dataset) -> dict[str, str]:
    """Parts of the device that have a temperature, by their short name; the hottest ones first."""
    unknowns = harvester_of_year(year.attrs).kind.unknowns
    named = {unknown.label: unknown.name for unknown in unknowns if unknown.label}
    return dict(sorted(named.items(), key=lambda part: -float(year[part[1]].values.max())))


def common_scales(days: list[DaySeries]) -> DayScales:
    """Return axis ends that hold all of the days."""
    heat = np.concatenate([values for day in days for values in day.temperatures.values()])
    water = max(float(values.max()) for day in days for values in day.water.values())
    return DayScales(
        temperature=(float(np.floor(heat.min() / 10.0) * 10.0), float(np.ceil(heat.max() / 10.0) * 10.0)),
        loading=_above(
            max((float(day.loading.max()) for day in days if day.loading is not None), default=0.0)
        ),
        water=_above(water),
        sun=_above(max(float(day.sun.max()) for day in days)),
    )


def _above(value: float) -> float:
    """An axis end above a value, 1 where there is nothing."""
    return 1.05 * value if value > 0.0 else 1.0


def _open_spans(starts: Floats, share: Floats) -> list[tuple[float, float]]:
    """Spans of the time axis in which the box is open, to the part of an hour."""
    spans: list[tuple[float, float]] = []
    for i, (start, part) in enumerate(zip(starts, share, strict=True)):
        if part <= 0.01:
            continue
        # The open part of a mixed hour lies beside the open neighbour.
        late = i + 1 < share.size and share[i + 1] > part
        a, b = (start + 1.0 - part, start + 1.0) if late else (start, start + part)
        if spans and abs(spans[-1][1] - a) < 1e-6:
            spans[-1] = (spans[-1][0], float(b))
        else:
            spans.append((float(a), float(b)))
    return spans
