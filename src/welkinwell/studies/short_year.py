"""The water of many changed devices by a few days of every month, tied to the whole year by some whole years.

Four real days a month stand for it (`typical_weeks`, chosen by the device as it stands). They give most of
what a change does, and not all: so some dozens of the changed devices are simulated through the whole year
as well, and each month's water is read from a straight line through these pairs (a regression estimate:
Cochran1977, chapter 7). What the pairs scatter about their lines is given back to every estimate, by drawing
from the pairs' own misses, so that a spread of many devices is not too narrow. Nothing is scaled by a
constant, and a device that was simulated through the year keeps its own figures.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import DAYS_IN_MONTH
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.harvester import Accounts, Bucketed
from welkinwell.simulation import TOLERANCES, Prepared, march_year, prepare
from welkinwell.studies.typical_weeks import Days, typical_weeks

Floats = NDArray[np.float64]
WHOLE_YEARS: Final = 48  # simulated to tie the short year to the whole one
COLUMNS: Final = 14  # water of twelve months [kg/m2], release heat and electricity of the year [J/m2]
HEAT, ELECTRICITY = 12, 13


@dataclass(frozen=True)
class ShortYear:
    """A harvester in the chosen days of its site's year.

    days: see `typical_weeks`; ready: the harvester, prepared in them; short, whole: its amounts by the days
    alone and through the year, shapes (14,).
    """

    days: Days
    ready: Prepared
    short: Floats
    whole: Floats


@dataclass(frozen=True)
class Tie:
    """How the short year stands to the whole one.

    days: counted days that were simulated [1]; pairs: devices simulated both ways [1]; short, whole: litres
    of the device as it stands, by the days alone and through the year [L/m2/day]; scatter: standard
    deviation of a year's litres about the line [L/m2/day]; explained: share of the pairs' variance on it [1].
    """

    days: int
    pairs: int
    short: float
    whole: float
    scatter: float
    explained: float

    @property
    def words(self) -> str:
        """Say how far the short year may be trusted."""
        return (
            f"Most draws run through {self.days} real days of the year. The case itself gives "
            f"{self.whole:.3f} L a day from each m2 through the year and {self.short:.3f} by these days "
            f"alone; {self.pairs} draws simulated both ways tie the two, with {100.0 * self.explained:.1f} % "
            f"of their variance on the line and a scatter of {self.scatter:.3f} about it, which every other "
            "draw carries as a doubt of its own."
        )


def short_year(base: Prepared, site: Surroundings, accuracy: str = "screening") -> ShortYear:
    """Choose the days of a harvester's site by its own litres through the year, and prepare it in them."""
    water, row = _hourly(base, accuracy, None)
    days = typical_weeks(site, water.reshape(-1, 24).sum(axis=1)[:, None])
    ready = prepare(base.design, base.sorbent, days.site)
    return ShortYear(days, ready, amounts(ready, accuracy, days), row)


def amounts(ready: Prepared, accuracy: str, days: Days | None = None) -> Floats:
    """March a harvester; water by month, release heat and electricity of the year, shape (14,).

    accuracy: as in `simulate`; days: those that it is prepared in, None for a whole year. Heat is nan for a
    kind without release heat. Raises SolverError.
    """
    if days is not None:
        return _hourly(ready, accuracy, days)[1]
    _, result = march_year(ready, tolerance=TOLERANCES[accuracy], keep="months")
    found = ready.harvester.accounts(Bucketed(ready.harvester.kind, ready.design, result.flows))
    return _row(found, lambda values: values)


def daily_water(ready: Prepared, accuracy: str) -> Floats:
    """March a harvester through its year; water collected on each day, shape (365,) [kg/m2]."""
    days: Floats = _hourly(ready, accuracy, None)[0].reshape(-1, 24).sum(axis=1)
    return days


def _hourly(ready: Prepared, accuracy: str, days: Days | None) -> tuple[Floats, Floats]:
    """Give the hourly water of days, shape (hours,), and their amounts; None for all days of the year."""
    _, result = march_year(ready, tolerance=TOLERANCES[accuracy], keep="hours")
    found = ready.harvester.accounts(Bucketed(ready.harvester.kind, ready.design, result.flows))
    every = _sums if days is None else days.monthly
    return np.asarray(found.water["water_collected"][0]), _row(found, every)


def _sums(hourly: Floats) -> Floats:
    return np.array([part.sum() for part in np.split(hourly, np.cumsum(DAYS_IN_MONTH)[:-1] * 24)])


def _row(found: Accounts, by_month: Callable[[Floats], Floats]) -> Floats:
    row = np.full(COLUMNS, np.nan)
    row[:12] = by_month(np.asarray(found.water["water_collected"][0]))
    if found.release_heat is not None:
        row[HEAT] = by_month(np.asarray(found.release_heat[0])).sum()
    row[ELECTRICITY] = sum((float(by_month(np.asarray(x)).sum()) for x in found.electricity.values()), 0.0)
    return row


def tied(short: Floats, whole: Floats, seed: int) -> tuple[Floats, Floats]:
    """Estimate whole years from short ones.

    short: shape (n, 14), nan rows where nothing could be simulated; whole: the same of the first k of them,
    shape (k, 14). Returns the estimates, shape (n, 14): the first k as simulated, the others on the lines
    through the pairs, each with the misses of one of the pairs, no water being less than none; and the
    pairs' misses, shape (pairs, 14).
    """
    k = whole.shape[0]
    good = np.isfinite(short[:k, 0]) & np.isfinite(whole[:, 0])
    x, y = short[:k][good], whole[good]
    estimate, misses = np.full_like(short, np.nan), np.zeros_like(y)
    if good.any():
        for column in range(COLUMNS):
            level, slope, centre = _line(x[:, column], y[:, column])
            estimate[:, column] = level + slope * (short[:, column] - centre)
            misses[:, column] = y[:, column] - (level + slope * (x[:, column] - centre))
        picked = np.random.default_rng(seed).integers(0, y.shape[0], short.shape[0])
        # two numbers of each line were taken from the pairs themselves
        freedom = np.sqrt(y.shape[0] / max(y.shape[0] - 2.0, 1.0))
        estimate = np.maximum(estimate + freedom * misses[picked], 0.0)
    estimate[:k] = whole
    return estimate, misses


def tie(year: ShortYear, whole: Floats, misses: Floats) -> Tie:
    """Say how the pairs lie about their lines. whole, misses: as in and from `tied`."""
    y = litres(whole[np.isfinite(whole[:, 0])])
    pairs = misses.shape[0]
    scatter = float(np.sqrt((litres(misses) ** 2).sum() / max(pairs - 2.0, 1.0)))
    variance = float(y.var(ddof=1)) if y.size > 1 else 0.0
    return Tie(
        int(year.days.counted.sum()),
        pairs,
        float(litres(year.short[None])[0]),
        float(litres(year.whole[None])[0]),
        scatter,
        1.0 - scatter**2 / variance if variance > 0.0 else 1.0,
    )


def litres(rows: Floats) -> Floats:
    """Litres a day of rows of amounts, shape (n, 14), as shape (n,) [L/m2/day]."""
    found: Floats = rows[:, :12].sum(axis=1) / sum(DAYS_IN_MONTH)
    return found


def _line(x: Floats, y: Floats) -> tuple[float, float, float]:
    """Least squares: level at the centre, slope, centre. Without spread in x there is no slope."""
    centre, level = float(x.mean()), float(y.mean())
    spread = float(((x - centre) ** 2).sum())
    if not spread > 1e-18 * max(centre**2, 1e-12) * x.size:
        return level, 0.0, centre
    return level, float(((x - centre) * (y - level)).sum()) / spread, centre
