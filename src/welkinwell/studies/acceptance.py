"""The acceptance test of a new plant: how long, with which instruments, and pass, fail or too short to say.

What is judged is R, the litres measured over the litres that the model gives for the weather of the same
days. The plant was promised to give at least a share r of them. The standard uncertainty of R after n days is

    u(n)^2 = meter^2 + weather^2 + scatter^2 (1 + q) / (1 - q) / n

with the constant error of the meter, that of the weather instruments carried through the simulation, the
scatter of a day, and q the correlation of a day with the day before. Pass: R - z u >= r; fail: R + z u < r;
else too short to say (the guarded rules of JCGM106, z = 1.645). A plant that does just what its model says
passes in at least 90 % of tests of

    n >= scatter^2 (1 + q) / (1 - q) / ( ((1 - r) / (z + 1.282))^2 - meter^2 - weather^2 )

days; where the last bracket is not above zero, no length of test can tell with these instruments.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.errors import InputError, Problem
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.uncertain_parameters import SHIFT
from welkinwell.quantities import plain
from welkinwell.simulation import TOLERANCES, prepare
from welkinwell.studies.device_log import later
from welkinwell.studies.drawn import drawn
from welkinwell.studies.monitor import KNOWN_TO, NARROWS, Monitored, hours_of
from welkinwell.studies.runner import run_all
from welkinwell.studies.uncertain_parameters import uncertain_parameters_of
from welkinwell.studies.uncertainty import shares_of

Floats = NDArray[np.float64]
PASS, FAIL, OPEN = "pass", "fail", "too short to say"
SURE: Final = 1.645  # standard deviations: 5 % on one side
POWER: Final = 1.282  # 10 % on one side
SHORTEST: Final = 7  # days; no test is offered that knows but one kind of weather: common practice, no source
LONGEST: Final = 120  # days; a longer test is not offered
PLANNED_SCATTER: Final = 0.12  # of a day's ratio before there is a log: common practice, no source
BAND_DRAWS: Final = 32
PLAN_DAYS: Final = 30  # over which a planned test weighs its instruments and draws the band
PLAN_YEAR: Final = 2021  # of no leap day; its number is never shown


@dataclass(frozen=True)
class Spread:
    """What makes R uncertain, as shares of it [1]; by_weather: quantity to its part and how it is known."""

    meter: float
    by_weather: dict[str, tuple[float, str]]
    scatter: float
    resemblance: float = 0.0

    @property
    def weather(self) -> float:
        """All weather instruments together [1]."""
        return math.sqrt(sum(part**2 for part, _ in self.by_weather.values()))

    @property
    def day(self) -> float:
        """Scatter of one independent day [1]."""
        return self.scatter * math.sqrt((1.0 + self.resemblance) / (1.0 - self.resemblance))

    def after(self, days: float) -> float:
        """Standard uncertainty of R after so many days [1]."""
        return math.sqrt(self.meter**2 + self.weather**2 + self.day**2 / days)


@dataclass(frozen=True)
class Acceptance:
    """A test: planned days (None where none of up to 120 days can tell), and its verdict if there is a log.

    promised: share of the modelled litres that the plant must give; days, measured, expected [L], ratio, u:
    of the log (0 days: only planned); verdict: "pass", "fail", "too short to say" or "" ; band: litres a day
    that the doubts about the design leave, exceeded in 90, 50 and 10 % of draws [L/day], over band_days.
    first: date of the first day, of no particular year where the test is planned; weather: which it is;
    expected_by_day, measured_by_day: litres of each day that counts [L], shape (days,), the latter empty for
    a plan; at: the places of these days after the first [1].
    """

    promised: float
    spread: Spread
    planned: int | None
    days: int
    measured: float
    expected: float
    ratio: float
    u: float
    verdict: str
    band: tuple[float, float, float]
    band_days: int = PLAN_DAYS
    first: datetime.date = datetime.date(PLAN_YEAR, 1, 1)
    weather: str = ""
    expected_by_day: Floats = field(default_factory=lambda: np.array([]))
    measured_by_day: Floats = field(default_factory=lambda: np.array([]))
    at: NDArray[np.int64] = field(default_factory=lambda: np.array([], dtype=np.int64))

    @property
    def length(self) -> int:
        """Days of the test that count: of the log, or planned; 0 where no length can tell [1]."""
        return self.days or self.planned or 0

    def last_day(self, days: int) -> datetime.date:
        """The date of the last of the first so many days that count, on the model's calendar."""
        return later(self.first, int(self.at[days - 1]))

    @property
    def dates(self) -> str:
        """The span of the test in words; a planned one is of any year."""
        if not self.length:
            return f"from {_day(self.first)} on"
        last = self.last_day(self.length)
        year = f" {last:%Y}" if self.days else ""
        return f"from {_day(self.first)} to {_day(last)}{year}"

    def shares_that(self, days: float) -> tuple[float, float]:
        """Give the shares of the expected litres below which a test fails and from which it passes [1]."""
        room = SURE * self.spread.after(days)
        return self.promised - room, self.promised + room

    def litres_that(self, days: int) -> tuple[float, float, float]:
        """Litres of the first days: below which the test fails, from which it passes, and expected [L]."""
        expected = float(self.expected_by_day[:days].sum())
        low, high = self.shares_that(days)
        return max(low, 0.0) * expected, high * expected, expected

    @property
    def litres_in_words(self) -> str:
        """Say which litres pass and which fail; empty where no length of test can tell."""
        if not self.length or not self.expected_by_day.size:
            return ""
        fails, passes, expected = self.litres_that(self.length)
        return (
            f"{self.length} days, {self.dates}, in the weather of {self.weather}: the model gives "
            f"{plain(expected, 4)} L, and {plain(passes, 4)} L or more pass, less than "
            f"{plain(fails, 4)} L fail, anything between is too short to say."
        )

    @property
    def words(self) -> str:
        """The verdict in words."""
        share = f"{100.0 * self.promised:.0f} %"
        length = (
            f"A plant that does as its model passes in 9 of 10 tests of {self.planned} days."
            if self.planned is not None
            else f"No test of up to {LONGEST} days can tell {share} from 100 % with these instruments: the "
            f"constant errors alone are {100.0 * math.hypot(self.spread.meter, self.spread.weather):.1f} %."
        )
        if not self.days:
            said = f"{share} of what the model gives for the weather of the test is promised. {length}"
            return f"{said} {self.litres_in_words}".rstrip()
        low, high = max(self.ratio - SURE * self.u, 0.0), self.ratio + SURE * self.u
        verdict = {
            PASS: "Pass: it gives at least the promised share",
            FAIL: "Fail: it gives less than the promised share",
            OPEN: "Too short to say",
        }[self.verdict]
        return (
            f"{verdict}. {self.ratio:.2f} of the litres expected for the weather of {self.days} days "
            f"(between {low:.2f} and {high:.2f}, either end being passed with 5 %), against "
            f"{self.promised:.2f} promised. {length} Measured: {plain(self.measured, 4)} L. "
            f"{self.litres_in_words}"
        )


def acceptance(
    design: Any,
    sorbent: Any,
    site: Surroundings,
    *,
    monitored: Monitored | None = None,
    first_day: int = 0,
    promised: float = 0.9,
    meter: float = 0.03,
    weather_file: str = "",
    progress: Callable[[float], None] | None = None,
) -> Acceptance:
    """Plan an acceptance test and, where there is a log, judge it.

    site: surroundings with the weather of the test; monitored: the log held against its model, None to plan;
    first_day: of a planned test (0: 1 January); promised: share [1]; meter: constant error of the litres'
    meter [1]; weather_file: the file that the site was read from, for the words.
    """
    if not 0.3 <= promised < 1.0:
        raise InputError(Problem("promised share", f"{promised:g}", "0.3 to below 1, as in 0.9"))
    # a planned test measures its weather, but for the wind
    known = monitored.known if monitored is not None else tuple(NARROWS.values())
    days = monitored.log.days if monitored is not None else PLAN_DAYS
    first = monitored.log.first_day if monitored is not None else first_day
    weather, band = _simulated(design, sorbent, site, first, days, known, progress)
    scatter, resemblance = PLANNED_SCATTER, 0.0
    if monitored is not None:
        scatter, resemblance = _scatter(monitored), monitored.resemblance
    spread = Spread(meter, weather, scatter, resemblance)
    planned = days_needed(spread, promised)
    place = str(site.climate.attrs["site"]) + (f" ({weather_file})" if weather_file else "")
    if monitored is None:
        count = planned or LONGEST
        litres = (
            hours_of(prepare(design, sorbent, site), 24 * first_day, 24 * count, TOLERANCES["fast"])[0]
            .reshape(-1, 24)
            .sum(axis=1)
        )
        return Acceptance(
            promised, spread, planned, 0, math.nan, math.nan, math.nan, math.nan, "", band,
            first=datetime.date(PLAN_YEAR, 1, 1) + datetime.timedelta(days=first_day),
            weather=place, expected_by_day=litres, at=np.arange(count),
        )  # fmt: skip
    used = monitored.used
    if monitored.weather:
        own = ", ".join(name.replace("_", " ") for name in monitored.weather)
        place = f"the log ({own}) and {place}"
    count, ratio = int(used.sum()), monitored.ratio
    u = spread.after(count)
    return Acceptance(
        promised, spread, planned, count, float(monitored.measured[used].sum()),
        float(monitored.expected[used].sum()),
        ratio, u, verdict(ratio, u, promised), band,
        band_days=days, first=monitored.log.first, weather=place,
        expected_by_day=monitored.expected[used], measured_by_day=monitored.measured[used],
        at=np.flatnonzero(used),
    )  # fmt: skip


def _day(date: datetime.date) -> str:
    return f"{date.day} {date:%B}"


def days_needed(spread: Spread, promised: float) -> int | None:
    """Days after which a plant that does as its model passes in 9 of 10 tests, at least 7; None beyond 120.

    promised: share [1].
    """
    room = ((1.0 - promised) / (SURE + POWER)) ** 2 - spread.meter**2 - spread.weather**2
    if room <= 0.0:
        return None
    days = max(math.ceil(spread.day**2 / room - 1e-9), SHORTEST)
    return days if days <= LONGEST else None


def verdict(ratio: float, u: float, promised: float) -> str:
    """Judge a ratio with its standard uncertainty against a promised share, all [1]."""
    if ratio - SURE * u >= promised:
        return PASS
    return FAIL if ratio + SURE * u < promised else OPEN


def _scatter(monitored: Monitored) -> float:
    """Scatter of a day's litres about the ratio of all days, as a share of the mean day's expected litres."""
    used = monitored.used
    left = monitored.measured[used] - monitored.ratio * monitored.expected[used]
    return float(left.std(ddof=1) / monitored.expected[used].mean())


def _simulated(
    design: Any, sorbent: Any, site: Surroundings, first: int, days: int, known: tuple[str, ...],
    progress: Callable[[float], None] | None,
) -> tuple[dict[str, tuple[float, str]], tuple[float, float, float]]:  # fmt: skip
    """Carry the weather's uncertainty through the test's days, and draw the doubts about the design."""
    base = prepare(design, sorbent, site)
    tolerance = TOLERANCES["fast"]
    parameters = uncertain_parameters_of(design, sorbent)
    weather = [parameter for parameter in parameters if parameter.weather is not None]
    steps = [(parameter, *_known_to(parameter, known)) for parameter in weather]
    own = [parameter for parameter in parameters if parameter.weather is None]
    shares = shares_of(own, BAND_DRAWS, seed=1)
    values = (
        np.column_stack([parameter.value(shares[:, i]) for i, parameter in enumerate(own)]) if own else None
    )
    tasks: list[Any] = [
        ((parameter,), np.array([math.exp(side * u) if parameter.shape != SHIFT else side * u]))
        for parameter, u, _ in steps for side in (-1.0, 1.0)
    ]  # fmt: skip
    tasks += [] if values is None else [(own, row) for row in values]
    tasks.append(((), np.array([])))

    def run(task: Any) -> float:
        return float(hours_of(drawn(base, *task), 24 * first, 24 * days, tolerance)[0].sum()) / days

    litres = run_all(run, tasks, progress=progress)
    sound = max(litres[-1], 1e-12)
    parts = {
        parameter.key: (abs(litres[2 * i + 1] - litres[2 * i]) / 2.0 / sound, words)
        for i, (parameter, _, words) in enumerate(steps)
    }
    draws = np.array(litres[2 * len(steps) : -1]) if own else np.array([sound])
    low, middle, high = (float(np.quantile(draws, q)) for q in (0.1, 0.5, 0.9))
    return parts, (low, middle, high)


def _known_to(parameter: Any, known: tuple[str, ...]) -> tuple[float, str]:
    spread = KNOWN_TO[parameter.key] if parameter.key in known else parameter.spread
    unit = f"{spread:g} K" if parameter.shape == SHIFT else f"{100.0 * spread:.0f} %"
    return spread, f"measured, to {unit}" if parameter.key in known else f"not measured; known to {unit}"
