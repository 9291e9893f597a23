"""The sun of a weather year: signs, agreement of the three columns, the missing one, the clock."""

from __future__ import annotations

import math

import numpy as np

from welkinwell.climate.gaps import LARGEST_SHARE, filled, missing_share
from welkinwell.climate.hourly import FileYear
from welkinwell.errors import ClimateError, Problem
from welkinwell.sky.sun import SunPath, sun_path

SLOW_CLOCK = 24.0  # minutes of disagreement that are told
WRONG_CLOCK = 90.0  # minutes that no cloud pattern explains
LOOSE_CLOSURE = 0.05  # of global; eleven files of five kinds close to 0.01
NO_CLOSURE = 0.3  # of global; the same files with two columns swapped miss by 0.45 and more


def path_of(year: FileYear, starts: np.ndarray) -> SunPath:
    """Give the sun's place in every hour of the year.

    year: its coordinates; starts: of the hours, UTC. Returns one position an hour [rad].
    """
    return sun_path(year.latitude, year.longitude, year.elevation, starts, per_hour=1)


def equation_of_time(starts: np.ndarray) -> np.ndarray:
    """Give how far the sun's own clock is ahead of its mean clock [min].

    starts: instants, UTC [datetime64]. Spencer1971 through pvlib.
    """
    from pvlib.solarposition import equation_of_time_spencer71

    days = np.asarray(starts, dtype="datetime64[D]")
    return equation_of_time_spencer71((days - days.astype("datetime64[Y]")).astype(np.int64) + 1)


def clean_sun(year: FileYear, path: SunPath) -> None:
    """Make global, direct and diffuse whole and consistent, in place.

    Small negatives (instrument offsets) become 0; diffuse above global becomes global; gaps are filled
    from the same hour of other days; a column that is missing comes from the other two, or from global
    alone by Erbs1982. Everything is counted. ClimateError when global cannot be had.

    year: with its rows on the nominal year; path: the sun in the same hours.
    """
    columns = {name: year.values.get(name, np.full(path.hours, np.nan)) for name in ("ghi", "dni", "dhi")}
    columns = {name: _without_negatives(year, name, column) for name, column in columns.items()}
    whole = {name for name, column in columns.items() if missing_share(column) <= LARGEST_SHARE}
    for name in whole:
        columns[name], _, copied = filled(columns[name], straight=False)
        year.count(f"{name}_filled", copied)
        if np.isnan(columns[name]).any():
            whole = whole - {name}
    if not (whole >= {"dni", "dhi"} or "ghi" in whole):
        raise ClimateError(
            Problem(
                f"{year.text.path.name}, global horizontal radiation",
                f"{100 * missing_share(columns['ghi']):.1f} % of hours missing",
                "at most 5 % missing, or direct and diffuse that are whole",
            )
        )
    _complete(year, columns, whole, path)
    over = columns["dhi"] > columns["ghi"]
    if (many := int(np.count_nonzero(columns["dhi"] > columns["ghi"] + 1.0))) > 0:
        year.warn(
            "diffuse_above_global", f"in {many} hours diffuse exceeded global by over 1 W/m2; set to global."
        )
    year.count("diffuse_clipped", int(np.count_nonzero(over)))
    columns["dhi"] = np.where(over, columns["ghi"], columns["dhi"])
    year.values.update(columns)


def _without_negatives(year: FileYear, name: str, column: np.ndarray) -> np.ndarray:
    below = column < 0.0
    year.count(f"{name}_negative", int(np.count_nonzero(below)))
    return np.where(below, 0.0, column) + 0.0


def _complete(year: FileYear, columns: dict[str, np.ndarray], whole: set[str], path: SunPath) -> None:
    up = np.where(path.lit_fraction > 0.0, path.up, 0.0) * path.lit_fraction
    lit = np.maximum(up, math.sin(math.radians(3.0)))  # lower, a small error in time makes a wild direct sun
    missing = {"ghi", "dni", "dhi"} - whole
    if not missing:
        return
    if "ghi" in missing:
        columns["ghi"] = columns["dhi"] + columns["dni"] * up
        rule = "diffuse plus direct times the sine of the sun's height"
    elif missing == {"dni"}:
        columns["dni"] = np.minimum(
            np.maximum(columns["ghi"] - columns["dhi"], 0.0) / lit, path.extraterrestrial
        )
        columns["dni"][up <= 0.0] = 0.0
        rule = "global minus diffuse"
    elif missing == {"dhi"}:
        columns["dhi"] = np.clip(columns["ghi"] - columns["dni"] * up, 0.0, columns["ghi"])
        rule = "global minus direct times the sine of the sun's height"
    else:
        columns["dhi"] = columns["ghi"] * erbs_diffuse_share(columns["ghi"], path.extraterrestrial * up)
        columns["dni"] = np.minimum((columns["ghi"] - columns["dhi"]) / lit, path.extraterrestrial)
        columns["dni"][up <= 0.0] = 0.0
        rule = "the split of global by Erbs1982"
    for name in sorted(missing):
        year.how[name] = "modelled"
        year.warn("sun_modelled", f"{name} is missing; it was computed as {rule}.")


def erbs_diffuse_share(ghi: np.ndarray, horizontal_extraterrestrial: np.ndarray) -> np.ndarray:
    """Split the diffuse share off an hour's global sun after Erbs, Klein and Duffie (1982).

    k <= 0.22: 1 - 0.09 k; up to 0.8: 0.9511 - 0.1604 k + 4.388 k^2 - 16.638 k^3 + 12.336 k^4; above: 0.165

    ghi: hour's mean [W/m2]; horizontal_extraterrestrial: same hour [W/m2]. Returns the share [1].
    Erbs1982.
    """
    k = np.clip(ghi / np.maximum(horizontal_extraterrestrial, 1e-6), 0.0, 1.0)
    middle = 0.9511 + k * (-0.1604 + k * (4.388 + k * (-16.638 + k * 12.336)))
    return np.where(k <= 0.22, 1.0 - 0.09 * k, np.where(k <= 0.8, middle, 0.165))


def check_clock(year: FileYear, path: SunPath) -> None:
    """Hold the file's sun against the sun of its coordinates: hour stamps, time zone, sign of longitude.

    The global sun of each clock hour, averaged over the year, is correlated with the sine of the sun's
    height shifted by whole hours; a parabola through the best three gives the minutes.

    year: with clean sun; path: the sun in its hours. Warns over 24 minutes, refuses over 90.
    """
    ghi, up = year.values["ghi"], np.maximum(path.up, 0.0)
    brightest = np.maximum.reduce([year.values[name] for name in ("ghi", "dni", "dhi")])
    dark = int(np.count_nonzero((brightest > 5.0) & (path.lit_fraction == 0.0)))
    if dark:
        year.warn("sun_below_horizon", f"{dark} hours have sun (over 5 W/m2) with the sun below the horizon.")
    if ghi.max() < 50.0:
        year.warn("no_sun", "the file has no sun: nothing that the sun drives will run.")
        return
    if np.ptp(ghi) == 0.0:
        raise ClimateError(
            Problem(
                f"{year.text.path.name}, global horizontal radiation",
                f"{ghi[0]:.0f} W/m2 in every hour, day and night",
                "0 at night and the sun's course by day",
                "Take a fresh copy of the file.",
            )
        )
    shifts = np.arange(-12, 13)
    match = np.array([np.corrcoef(ghi, np.roll(up, k))[0, 1] for k in shifts])
    best = int(np.argmax(match[1:-1])) + 1
    left, top, right = match[best - 1 : best + 2]
    bend = left - 2.0 * top + right
    minutes = 60.0 * (shifts[best] + (0.5 * (left - right) / bend if bend < 0.0 else 0.0))
    told = f"{abs(minutes):.0f} minutes {'later' if minutes > 0 else 'earlier'}"
    if abs(minutes) > WRONG_CLOCK:
        raise ClimateError(
            Problem(
                f"{year.text.path.name}, time zone {year.file_zone:g} h and longitude {year.longitude:g}",
                f"a sun that comes {told} than it can there",
                f"at most {WRONG_CLOCK:.0f} minutes",
                "Check the time zone, the sign of the longitude, and whether the hours are UTC or local.",
            )
        )
    if abs(minutes) > SLOW_CLOCK:
        year.warn(
            "sun_clock",
            f"the file's sun comes {told} than the sun of its coordinates: hour stamps or time zone may be "
            "off (clouds by time of day can do it too).",
        )


def check_closure(year: FileYear, path: SunPath) -> None:
    """Hold the file's three sun columns against each other: global = diffuse + direct x sine of height.

    Mean of |D + B s - G| over mean G, with the sun above 10 degrees, in the middle of the hour. It finds
    swapped columns, wrong units and stamps that are off by part of an hour.

    year: with clean sun; path: the sun in its hours. Warns over 0.05, refuses over 0.3.
    """
    modelled = any(w.startswith(("sun_modelled:", "no_sun:")) for w in year.warnings)
    high = (path.up > math.sin(math.radians(10.0))) & (path.lit_fraction > 0.0)
    ghi, dni, dhi = (year.values[name][high] for name in ("ghi", "dni", "dhi"))
    if modelled or not ghi.sum() > 0.0:
        return
    miss = float(np.abs(dhi + dni * path.up[high] - ghi).mean() / ghi.mean())
    if miss > NO_CLOSURE:
        raise ClimateError(
            Problem(
                f"{year.text.path.name}, global, direct and diffuse sun",
                f"columns that differ from global = diffuse + direct x sine of height by {100 * miss:.0f} %",
                f"at most {100 * NO_CLOSURE:.0f} %",
                "Two columns may be swapped, or one in another unit.",
            )
        )
    if miss > LOOSE_CLOSURE:
        year.warn(
            "sun_closure",
            f"global differs from diffuse plus direct times the sine of the sun's height by {100 * miss:.0f} "
            "% on average: a unit, a column or the place of the stamp in the hour may be off.",
        )
