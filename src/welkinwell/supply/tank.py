"""A tank between what comes and what is drawn: its size, its years by day or hour, area against tank."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.quantities import plain

Floats = NDArray[np.float64]

MET: Final = 1e-9  # what may be missing of a demand that counts as met, in the unit of the demand
HALVINGS: Final = 20  # of the range in which a tank's size is sought
BLOCK_DAYS: Final = 7
SEASON_WEEKS: Final = 3  # a resampled week comes from at most so many weeks away


@dataclass(frozen=True)
class TankYear:
    """What a tank did: litres delivered, spilled and missing in each step, and stored at its end."""

    delivered: Floats
    spilled: Floats
    missing: Floats
    stored: Floats

    @property
    def share_of_days_met(self) -> float:
        """Share of the steps (days, where they are days) with a demand on which all of it was drawn [1]."""
        return float(share_met(self.missing, self.delivered + self.missing))

    @property
    def share_of_demand_met(self) -> float:
        """Share of the year's demand that was drawn [1]; 1 without a demand."""
        wanted = float((self.delivered + self.missing).sum())
        return float(self.delivered.sum()) / wanted if wanted > 0.0 else 1.0

    @property
    def longest_shortfall(self) -> int:
        """Longest run of steps (days, where the steps are days) through which no demand was met in full."""
        return longest_shortfall(self.missing, self.delivered + self.missing)


def share_met(missing: Floats, wanted: Floats) -> Floats:
    """Give the share of the steps with a demand on which all of it was drawn [1]; 1 without a demand.

    Days on which nothing is asked for, such as those of a school's holidays, are no days met.
    missing: shape (steps,) or (steps, plants); wanted: by step, shape (steps,) [the same unit].
    """
    asked = wanted > MET
    if not asked.any():
        return np.ones(missing.shape[1:])
    return np.asarray(np.mean(missing[asked] <= MET, axis=0))


def longest_shortfall(missing: Floats, wanted: Floats) -> int:
    """Give the longest time from an unmet demand to the last before one that is met again, in steps [1].

    Steps in which nothing is asked for, such as the hours of a night, neither end it nor lengthen it at its
    end. missing, wanted: by step, shape (steps,) [the same unit].
    """
    longest = run = asleep = 0
    for short, asked in zip((missing > MET).tolist(), (wanted > MET).tolist(), strict=True):
        if short:
            run, asleep = run + asleep + 1, 0
        elif asked:
            run = asleep = 0
        elif run:
            asleep += 1
        longest = max(longest, run)
    return longest


def tank_year(inflow: Floats, demand: Floats, volume: float, rule: str = "after") -> TankYear:
    """Run a tank through a record twice, so that the second round starts as it ends.

    Yield after spillage ("after", Fewkes2000): a step's water is drawn from what stood in the tank at its
    start, but only after the step's inflow has filled it and spilled over, so the tank never ends a step full
    to the brim unless nothing is drawn:
        drawn = min(demand, store);           store = min(store + inflow - drawn, volume - drawn).
    Yield before spillage ("before"): the step's own inflow may be drawn, and the rest spills:
        drawn = min(demand, store + inflow);  store = min(store + inflow - drawn, volume).
    The truth for a step lies between; the first is the cautious one.

    inflow, demand: by day or by hour, shape (steps,) [any unit of volume]; volume [the same unit].
    Returns a TankYear of the second round.
    """
    before = _is_before(rule)
    store = 0.0
    pairs = list(zip(inflow.tolist(), demand.tolist(), strict=True))  # plain floats: ten times faster here
    kept: list[tuple[float, float, float, float]] = []
    for _ in range(2):
        kept = []
        for came, wanted in pairs:
            drawn = min(wanted, store + came if before else store)
            full = store + came - drawn
            store = min(full, volume if before else volume - drawn)
            kept.append((drawn, full - store, wanted - drawn, store))
    return TankYear(*np.array(kept).T)


def _is_before(rule: str) -> bool:
    if rule not in ("after", "before"):
        raise ValueError(f"rule {rule!r} is neither 'after' nor 'before'")
    return rule == "before"


def tank_steps(
    inflow: Floats, demand: Floats, volume: Floats, rule: str = "after"
) -> tuple[Floats, Floats, Floats, Floats]:
    """Run several plants and tanks side by side through a record twice; rules as in `tank_year`.

    inflow: shape (steps, plants) [any unit of volume]; demand: shape (steps,); volume: shape (plants,) [the
    same unit]. Returns drawn, spilled, missing and stored of the second round, each (steps, plants).
    """
    steps, plants = inflow.shape
    before = _is_before(rule)
    drawn, stored = np.zeros((steps, plants)), np.zeros((steps, plants))
    spilled = np.zeros((steps, plants))
    store = np.zeros(plants)
    for _ in range(2):
        for step in range(steps):
            came = inflow[step]
            now = np.minimum(demand[step], store + came if before else store)
            full = store + came - now
            store = np.minimum(full, volume if before else volume - now)
            drawn[step], spilled[step], stored[step] = now, full - store, store
    return drawn, spilled, demand[:, None] - drawn, stored


@dataclass(frozen=True)
class SequentPeak:
    """The least tank with no failure in the record; volume is None where no tank is large enough."""

    deficit: Floats
    volume: float | None


def sequent_peak(inflow: Floats, demand: Floats) -> SequentPeak:
    """Give the least tank that meets every demand of the record, over and over, by the sequent peak.

    K_t = max(0, K_(t-1) + D_t - Q_t), the record run twice, volume = max K. Thomas1963. It says nothing of
    how sure that is: another year may be drier. Where the record brings less than is asked for, K grows
    without end and no tank is large enough.

    inflow, demand: by step, shape (steps,) [any unit of volume]. Returns a SequentPeak of the second round.
    """
    if inflow.sum() < demand.sum() * (1.0 - 1e-12):
        return SequentPeak(np.full(inflow.size, np.nan), None)
    gap = 0.0
    deficit = np.zeros(inflow.size)
    for _ in range(2):
        for step, short in enumerate((demand - inflow).tolist()):
            gap = max(0.0, gap + short)
            deficit[step] = gap
    return SequentPeak(deficit, float(deficit.max(initial=0.0)))


def tank_for_share(
    inflow: Floats, demand: Floats, share: float | Floats, rule: str = "after", of: str = "days"
) -> Floats:
    """Give the least tank for a share of days met, for several plants side by side, by halving.

    At the end of every step a larger tank holds no less and has no less room left (by induction on the
    rule), so it never meets fewer days: halving is sound. The answer is good
    to one part in a million of the record's demand and is nan where no tank reaches the share.

    inflow: shape (days, plants) [any unit of volume]; demand: shape (days,) [the same unit]; share: of days
    or, with of="volume", of the demanded volume, one or one a plant [1].
    Returns the volume, shape (plants,) [the same unit].
    """
    plants = inflow.shape[1]

    def reached(volume: Floats) -> NDArray[np.bool_]:
        drawn, _, missing, _ = tank_steps(inflow, demand, volume, rule)
        if of == "volume":
            return drawn.sum(axis=0) >= share * demand.sum() * (1.0 - 1e-12)
        return share_met(missing, demand) >= share - 1e-12

    low = np.zeros(plants)
    high = np.full(plants, max(float(demand.sum()), float(demand.max(initial=0.0)) * 2.0, 1.0))
    possible = reached(high)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        enough = reached(middle)
        high, low = np.where(enough, middle, high), np.where(enough, low, middle)
    return np.where(possible, high, np.nan)


@dataclass(frozen=True)
class AreaAgainstTank:
    """How many modules and what tank together reach a share of days.

    modules: shape (plants,); volume: by share, each (plants,), nan where no tank is large enough.
    """

    modules: NDArray[np.int64]
    volume: dict[float, Floats]


def area_against_tank(
    net_litres: Callable[[int], Floats],
    demand: Floats,
    modules: Sequence[int],
    shares: Sequence[float] = (0.9, 0.95, 0.99),
) -> AreaAgainstTank:
    """Give the least tank for each number of modules and each share of days met (yield after spillage).

    net_litres: the days' net water of so many modules [L/day]; demand: by day [L/day]; modules: the numbers
    to try [1]; shares: of days met [1]. Returns an AreaAgainstTank, volumes in L.
    """
    inflow = np.stack([net_litres(count) for count in modules], axis=1)
    asked = np.repeat(np.array(shares, dtype=float), len(modules))
    volume = tank_for_share(np.tile(inflow, (1, len(shares))), demand, asked)
    found = dict(zip(shares, np.split(volume, len(shares)), strict=True))
    return AreaAgainstTank(np.array(modules, dtype=np.int64), found)


def resampled_years(days: int, years: int, seed: int) -> NDArray[np.int64]:
    """Draw years from one: whole weeks, each from the same season of the record (block bootstrap).

    A typical year hides dry spells. Each week of a drawn year is a week of the record that starts at most
    three weeks earlier or later, so seasons stay and the order of good and bad weeks is new. It cannot draw
    a week worse than the record's worst. Kunsch1989 (blocks); the seasonal window is our choice.

    days: in the record [1]; years: to draw [1]; seed [1]. Returns days of the record, (years, days).
    """
    draw = np.random.default_rng(seed)
    weeks = -(-days // BLOCK_DAYS)
    starts = np.arange(weeks) * BLOCK_DAYS
    shift = draw.integers(-SEASON_WEEKS * BLOCK_DAYS, SEASON_WEEKS * BLOCK_DAYS + 1, size=(years, weeks))
    first = starts[None, :] + shift
    whole = (first[:, :, None] + np.arange(BLOCK_DAYS)[None, None, :]).reshape(years, -1)
    return whole[:, :days] % days


@dataclass(frozen=True)
class ManyYears:
    """What a tank did in resampled years: one entry a year."""

    share_of_days_met: Floats
    share_of_demand_met: Floats
    longest_shortfall: NDArray[np.int64]
    litres_per_day: Floats


@dataclass(frozen=True)
class WeatherYears:
    """What a tank did through several weather years, one after another; one entry a year.

    peak: the least tank for no shortfall in the whole record, None where none is large enough; longest:
    longest run of days without the whole demand in the record.
    """

    names: tuple[str, ...]
    litres_per_day: Floats
    share_of_days_met: Floats
    share_of_demand_met: Floats
    longest_shortfall: NDArray[np.int64]
    longest: int
    peak: float | None


def tank_through_years(
    names: Sequence[str], inflow: Sequence[Floats], demand: Sequence[Floats], volume: float
) -> WeatherYears:
    """Run a tank through weather years in their order, what is stored carried over (yield after spillage).

    inflow, demand: by day, one record a year [any unit of volume]; volume [the same unit].
    """
    came, wanted = np.concatenate(list(inflow)), np.concatenate(list(demand))
    run = tank_year(came, wanted, volume)
    ends = np.cumsum([record.size for record in inflow])[:-1]
    missing = np.split(run.missing, ends)
    delivered = [float(part.sum()) for part in np.split(run.delivered, ends)]
    asked = [float(part.sum()) for part in demand]
    return WeatherYears(
        tuple(names),
        np.array([record.mean() for record in inflow]),
        np.array([share_met(*pair) for pair in zip(missing, demand, strict=True)]),
        np.array([d / a if a > 0.0 else 1.0 for d, a in zip(delivered, asked, strict=True)]),
        np.array([longest_shortfall(*pair) for pair in zip(missing, demand, strict=True)]),
        run.longest_shortfall,
        sequent_peak(came, wanted).volume,
    )


def working_days(days: int, availability: float, outage: float, seed: int) -> NDArray[np.bool_]:
    """Draw the days on which a plant works: outages of geometric length, apart by geometric times.

    From working to broken with the chance (1 - a) / (a L), back with 1 / L, so a share a of the days is
    worked in the long run; where outages are so short that they would have to follow at once, somewhat more.

    days [1]; availability a [1]; outage: mean length L, at least one day [day]; seed [1]. Returns (days,).
    Two-state Markov chain of any textbook.
    """
    chances = np.random.default_rng(seed).random(days + 1).tolist()
    length = max(outage, 1.0)
    breaks, mends = min((1.0 - availability) / (availability * length), 1.0), 1.0 / length
    works = chances[0] < availability
    found = np.zeros(days, dtype=bool)
    for day, chance in enumerate(chances[1:]):
        found[day] = works
        works = chance >= breaks if works else chance < mends
    return found


def tank_in_many_years(
    inflow: Floats,
    demand: Floats,
    volume: float,
    years: int = 50,
    seed: int = 1,
    availability: float = 1.0,
    outage: float = 1.0,
) -> ManyYears:
    """Run a tank through years that are resampled from one record (yield after spillage).

    The years follow each other, so a dry end carries over into the next. Outages stop the whole plant for
    days on end.

    inflow, demand: one record by day, without outages, shape (days,) [any unit of volume]; volume [the same
    unit]; years: to draw [1]; seed [1]; availability: share of days worked [1]; outage: mean length [day].
    Returns a ManyYears.
    """
    order = resampled_years(inflow.size, years, seed)
    came = inflow[order] * working_days(order.size, availability, outage, seed + 1).reshape(order.shape)
    run = tank_year(came.ravel(), np.tile(demand, years), volume)
    missing = run.missing.reshape(came.shape)
    delivered = run.delivered.reshape(came.shape).sum(axis=1)
    wanted = float(demand.sum())
    return ManyYears(
        share_met(missing.T, demand),
        delivered / wanted if wanted > 0.0 else np.ones(years),
        np.array([longest_shortfall(row, demand) for row in missing]),
        came.mean(axis=1),
    )


def tank_below_a_day(usable: float, day: float) -> str:
    """Say that a tank holds less than a day's demand [L]."""
    return (
        f"the tank holds {plain(usable, 4)} L above its tap, {100.0 * usable / day:.0f} % of a day's demand "
        f"({plain(day, 4)} L): water is drawn from what stood there in the morning, so at most "
        f"{plain(usable, 4)} L can be had in a day, however much is collected."
    )
