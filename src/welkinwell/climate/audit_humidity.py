"""The humidity of a weather year held against its own second column, and against what any climate reaches."""

from __future__ import annotations

import numpy as np

from welkinwell.climate.audit_stuck import label_of, moves
from welkinwell.climate.hourly import DAYS_IN_MONTH, FileYear
from welkinwell.climate.moisture import DISAGREEMENT, saturation_pressures
from welkinwell.errors import Problem

LARGEST_SHARE_APART = 0.05  # of hours; 44 of 45 untouched files have below 0.01, one of 0.64 is inconsistent
# Relative humidity that 9 hours a year (99.9 %) and 7 hours of each month (99 %) exceed. Chosen from 45
# untouched files, deserts among them: 0.88 and 0.69 at least; a halved column cannot pass 0.5.
DAMPEST_HOURS = 0.65
DAMPEST_OF_A_MONTH = 0.64
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
          "November", "December")  # fmt: skip


def audit_humidity(year: FileYear) -> None:
    """Tell where two humidity columns disagree in many hours, and where the air is never damp.

    year: with temperature and vapour pressure whole, and the file's own humidity columns.
    """
    _tell_pair(year)
    _tell_level(year)


def used_humidity(year: FileYear) -> str:
    """Give the name of the file's humidity column that the vapour pressure comes from.

    year: with its humidity columns.
    """
    given = [n for n in ("dew_point", "relative_humidity") if not np.isnan(year.values.get(n, np.nan)).all()]
    return given[0] if given else "vapour_pressure"


def _tell_pair(year: FileYear) -> None:
    temperature = year.values["temperature"]
    dew, humidity = (
        year.values.get(name, np.full(temperature.size, np.nan))
        for name in ("dew_point", "relative_humidity")
    )
    from_dew = saturation_pressures(dew) / saturation_pressures(temperature)
    both = ~np.isnan(from_dew) & ~np.isnan(humidity) & (humidity > 0.0)
    if np.count_nonzero(both) < 240:
        return
    apart = float(np.mean(np.abs(from_dew - humidity)[both] > DISAGREEMENT))
    if apart <= LARGEST_SHARE_APART:
        return
    ratio = float(np.median(humidity[both] / np.maximum(from_dew[both], 0.01)))
    year.warn(
        "humidity_mismatch",
        Problem(
            f"{year.text.path.name}, relative humidity beside dew point",
            f"{100 * apart:.0f} % of hours over 5 points apart (relative humidity is {ratio:.2f} times what "
            "dew point and temperature give, at the median)",
            f"at most {100 * LARGEST_SHARE_APART:.0f} % of hours",
            "One of the three columns is scaled, stuck or moved in time; the dew point was used. Compare "
            "some rows with another source.",
        ),
    )


def _tell_level(year: FileYear) -> None:
    saturated = saturation_pressures(year.values["temperature"])
    humidity = year.values["vapour_pressure"] / saturated
    name = used_humidity(year)
    if not moves(year.values.get(name)):
        return  # told as stuck
    where = f"{year.text.path.name}, {label_of(name)}"
    dampest = float(np.quantile(humidity, 0.999))
    if dampest < DAMPEST_HOURS:
        year.warn(
            "humidity_level",
            Problem(
                where,
                f"air never damper than {100 * dampest:.0f} % relative humidity (9 dampest hours)",
                f"over {100 * DAMPEST_HOURS:.0f} % in some hours, as even in deserts",
                "The column may be scaled (halved) or in another unit; compare it with another source.",
            ),
        )
        return
    ends = np.cumsum(np.array(DAYS_IN_MONTH) * 24)[:-1]
    by_month = [float(np.quantile(part, 0.99)) for part in np.split(humidity, ends)]
    dry = int(np.argmin(by_month))
    if by_month[dry] < DAMPEST_OF_A_MONTH:
        year.note(
            "dry_month",
            Problem(
                where,
                f"no damper air than {100 * by_month[dry]:.0f} % in {MONTHS[dry]} (7 dampest hours)",
                f"over {100 * DAMPEST_OF_A_MONTH:.0f} % in some hours of each month",
                "The dry season of a desert can do it; elsewhere the dew point may be scaled.",
            ),
        )
