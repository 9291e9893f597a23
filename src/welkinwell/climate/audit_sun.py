"""The sun of a weather year held against published limits and against a cloudless sky.

Limits on the mean of an hour that is lit throughout, s the sine of the sun's height, S the irradiance outside
the atmosphere:

    never                  G < 1.5 S s^1.2 + 100    D < 0.95 S s^1.2 + 50    B < S
    extremely rarely over  G = 1.2 S s^1.2 + 50     D = 0.75 S s^1.2 + 30    B = 0.95 S s^0.2 + 10   [W/m2]

LongShi2008 (the first line seen second-hand, the second from memory).
"""

from __future__ import annotations

import math

import numpy as np

from welkinwell.climate.audit_stuck import label_of
from welkinwell.climate.hourly import FileYear
from welkinwell.climate.night_sky import cloudless_sun
from welkinwell.errors import Problem
from welkinwell.sky.sun import SunPath

RARE_HOURS = 0.01  # share of sunlit hours over the rare limits; untouched files have 0.0044 at most
HIGH_SUN = math.sin(math.radians(20.0))
FEWEST_HOURS = 100
# Levels that the 1 % of brightest hours (sun above 20 degrees) reach. Chosen from 45 untouched files, whose
# least are 0.97 of the cloudless sky, 709 W/m2 and 0.95; halved columns give at most 0.63, 525 and 0.5.
BRIGHT_GLOBAL = 0.75
BRIGHTEST_GLOBAL = (
    1.22  # 1.20 at most in 44 of 45 untouched files (broken cloud, thin mountain air), one 1.25
)
BRIGHT_DIRECT = 600.0  # W/m2
DULL_DIFFUSE = 0.75  # of global, in the dullest hours


def audit_sun(year: FileYear, path: SunPath, given: set[str]) -> None:
    """Tell of sun that cannot be, of sun that never reaches a cloudless sky, and of diffuse that never rules.

    year: with clean sun; path: the sun in its hours; given: names of the sun's columns that the file has.
    """
    if year.values["ghi"].max() < 50.0:
        return  # told as no sun
    _tell_limits(year, path, given)
    _tell_levels(year, path, given)


def rare_limits(path: SunPath) -> dict[str, np.ndarray]:
    """Give the limits that hours of sun extremely rarely pass [W/m2]; see the module's head.

    path: the sun in the hours. LongShi2008.
    """
    up = np.maximum(path.up, 0.0) * (path.lit_fraction > 0.0)
    outside = path.extraterrestrial
    return {
        "ghi": 1.2 * outside * up**1.2 + 50.0,
        "dhi": 0.75 * outside * up**1.2 + 30.0,
        "dni": 0.95 * outside * up**0.2 + 10.0,
    }


def possible_limits(path: SunPath) -> dict[str, np.ndarray]:
    """Give the limits that no hour of sun passes [W/m2]; see the module's head.

    path: the sun in the hours. LongShi2008.
    """
    up = np.maximum(path.up, 0.0) * (path.lit_fraction > 0.0)
    outside = path.extraterrestrial
    return {
        "ghi": 1.5 * outside * up**1.2 + 100.0,
        "dhi": 0.95 * outside * up**1.2 + 50.0,
        "dni": outside,
    }


def _tell_limits(year: FileYear, path: SunPath, given: set[str]) -> None:
    lit = path.lit_fraction == 1.0  # in the hours of sunrise and sunset the mean height says too little
    never, rarely = possible_limits(path), rare_limits(path)
    for name in sorted(given):
        column = year.values[name]
        over = lit & (column > rarely[name])
        impossible = int(np.count_nonzero(lit & (column > never[name])))
        if not over.any():
            continue
        share = float(over.sum() / lit.sum())
        worst = int(np.argmax(np.where(over, column - rarely[name], -np.inf)))
        serious = impossible > 0 or share > RARE_HOURS
        (year.warn if serious else year.note)(
            "sun_limits",
            Problem(
                year.at(worst, label_of(name)),
                f"{column[worst]:.0f} W/m2, and {over.sum()} hours ({100 * share:.2f} %) over what is "
                f"extremely rare ({impossible} over what is possible)",
                f"at most {rarely[name][worst]:.0f} W/m2 in this hour (LongShi2008)",
                "A unit or the hour of the stamp may be off."
                if serious
                else "A few hours of sun beside bright clouds are usual; nothing was changed.",
            ),
        )


def _tell_levels(year: FileYear, path: SunPath, given: set[str]) -> None:
    high = (path.up > HIGH_SUN) & (path.lit_fraction > 0.0)
    if np.count_nonzero(high) < FEWEST_HOURS:
        return
    ghi = year.values["ghi"][high]
    bright = float(np.quantile(ghi / cloudless_sun(path.up[high]), 0.99))
    file = year.text.path.name
    where = f"{file}, {' with '.join(label_of(name) for name in sorted(given, reverse=True))}"
    if bright < BRIGHT_GLOBAL:
        year.warn(
            "sun_level",
            Problem(
                where,
                f"a sun whose brightest hours reach {100 * bright:.0f} % of a cloudless sky's",
                f"over {100 * BRIGHT_GLOBAL:.0f} % (Haurwitz1945)",
                "The sun may be scaled (halved) or in another unit, or the instrument shaded.",
            ),
        )
    elif bright > BRIGHTEST_GLOBAL:
        year.note(
            "sun_level",
            Problem(
                where,
                f"a sun whose brightest hours reach {100 * bright:.0f} % of a cloudless sky's",
                f"at most {100 * BRIGHTEST_GLOBAL:.0f} % (Haurwitz1945)",
                "High mountains and snow come near it; else the sun may be scaled.",
            ),
        )
    if "dni" in given and (direct := float(np.quantile(year.values["dni"][high], 0.99))) < BRIGHT_DIRECT:
        year.note(
            "direct_level",
            Problem(
                f"{file}, {label_of('dni')}",
                f"{direct:.0f} W/m2 in the brightest 1 % of hours",
                f"over {BRIGHT_DIRECT:.0f} W/m2 with a high sun in clear air",
                "Smoke and dust all year can do it; else the column may be scaled.",
            ),
        )
    day = ghi > 50.0
    if "dhi" in given and np.count_nonzero(day) >= FEWEST_HOURS:
        dull = float(np.quantile(year.values["dhi"][high][day] / ghi[day], 0.99))
        if dull < DULL_DIFFUSE:
            year.warn(
                "diffuse_level",
                Problem(
                    f"{file}, {label_of('dhi')}",
                    f"{100 * dull:.0f} % of global in the dullest 1 % of hours",
                    f"over {100 * DULL_DIFFUSE:.0f} %: under a closed cloud all sun is diffuse",
                    "The diffuse or the global column may be scaled or moved.",
                ),
            )
