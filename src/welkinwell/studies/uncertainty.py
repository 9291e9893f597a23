"""How sure the litres are: draws of everything that is in doubt, each simulated through the year.

Draws are a scrambled Sobol sequence with a seed. Figures are given as "exceeded in 90, 50 and 10 % of draws".
What the doubt is made of is read from the same draws (`studies.shares_of_doubt`), local elasticities are
slopes at the case as it stands (`studies.gradient`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.errors import InputError, Problem, SolverError
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.uncertain_parameters import UncertainParameter
from welkinwell.simulation import Prepared, prepare
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.drawn import drawn
from welkinwell.studies.gradient import Slope, gradient, of_uncertain
from welkinwell.studies.runner import run_all
from welkinwell.studies.short_year import (
    COLUMNS,
    ELECTRICITY,
    HEAT,
    WHOLE_YEARS,
    Tie,
    amounts,
    litres,
    short_year,
    tie,
    tied,
)
from welkinwell.studies.typical_weeks import Days
from welkinwell.studies.uncertain_parameters import uncertain_parameters_of
from welkinwell.year import DAYS_IN_MONTH

Floats = NDArray[np.float64]
EXCEEDED: Final = (0.9, 0.5, 0.1)  # shares of draws
LEAST_DRAWS: Final = 16
SEQUENCE: Final = 32  # columns of the sequence
WELL_TIED: Final = 0.99  # of the pairs' variance; below, every draw runs through the whole year
SHORT_FROM: Final = 4 * WHOLE_YEARS  # draws; fewer all run through the whole year
SHORT_SHARE: Final = 0.2  # of a year's effort that a draw's chosen days take
FINER: Final = 4.0  # times the effort of a quick year that one for an elasticity takes
FOR_A_PICTURE: Final = 3e-4  # tolerance of the elasticities, which are told to a tenth of a per cent


@dataclass(frozen=True)
class Columns:
    """Columns of the sequence that the doubts of one design take, in their order, and how wide it is."""

    of: tuple[int, ...]
    width: int


@dataclass(frozen=True)
class Draws:
    """What the draws gave.

    values: shape (draws, doubts); litres [L/m2/day], electricity and heat [kWh/L], shape (draws,), nan where
    meaningless; by_month: [L/m2/day], shape (draws, 12); failed: draws that could not be simulated; tie: how
    the days that most draws ran through stand to the (first) year, None where all ran through the whole year;
    of_year: number of the weather year that each draw met.
    """

    parameters: tuple[UncertainParameter, ...]
    values: Floats
    litres: Floats
    by_month: Floats
    heat: Floats
    electricity: Floats
    failed: int
    seed: int
    tie: Tie | None = None
    of_year: NDArray[np.int64] | None = None

    def exceeded(self, of: Floats | None = None) -> dict[str, float | None]:
        """The figure that is exceeded in 90, 50 and 10 % of the draws; litres where none is given."""
        values = self.litres if of is None else of
        values = values[np.isfinite(values)]
        if values.size == 0:
            return {f"{100 * share:.0f} %": None for share in EXCEEDED}
        return {f"{100 * share:.0f} %": float(np.quantile(values, 1.0 - share)) for share in EXCEEDED}


def draw(
    design: Any,
    sorbent: Sorbent | None,
    site: Surroundings,
    *,
    draws: int = 256,
    seed: int = 1,
    parameters: Sequence[UncertainParameter] | None = None,
    accuracy: str = "screening",
    whole_years: bool = False,
    years: Sequence[Surroundings] = (),
    columns: Columns | None = None,
    progress: Callable[[float], None] | None = None,
) -> Draws:
    """Simulate a design with everything in doubt drawn at once.

    draws: at least 16, rounded up to a power of two for the sequence and cut back; doubts: those of the kind
    and the sheet where none are given; whole_years: whether every draw runs through the whole year, as few
    draws do in any case, or most through some days of each month where these tell the year well enough (see
    `short_year`); years: further weather years of the site, each draw meeting one of all by chance; columns:
    of the sequence that the doubts take where several designs are drawn together (`columns_of`).
    """
    if draws < LEAST_DRAWS:
        raise InputError(Problem("draws", str(draws), f"at least {LEAST_DRAWS}"))
    listed = tuple(uncertain_parameters_of(design, sorbent) if parameters is None else parameters)
    shares = shares_of(listed, draws, seed, columns)
    values = np.column_stack([parameter.value(shares[:, i]) for i, parameter in enumerate(listed)])
    sites = [site, *years]
    # as many draws in each year as in any other, in an order that the sequence does not know
    of_year = np.random.default_rng(seed).permutation(np.arange(draws) % len(sites))
    rows, how = np.full((draws, COLUMNS), np.nan), None
    tell = progress or (lambda share: None)
    for number, one in enumerate(sites):

        def told(share: float, number: int = number) -> None:
            tell((number + share) / len(sites))

        base = prepare(design, sorbent, one)
        own = of_year == number
        rows[own], tie_of_year = _through(base, one, listed, values[own], accuracy, seed, whole_years, told)
        how = tie_of_year if number == 0 else how
    return _as_draws(listed, values, rows, seed, how, of_year)


def years_of_draws(draws: int) -> float:
    """Quick years that `draw` takes: one a draw where they are few, else some and chosen days of the rest."""
    return draws if draws < SHORT_FROM else WHOLE_YEARS + SHORT_SHARE * draws


def years_of_slopes(design: Any, sorbent: Sorbent | None) -> float:
    """Quick years that `elasticities` takes: two finer ones for each doubt."""
    return 2.0 * FINER * len(uncertain_parameters_of(design, sorbent))


def _through(
    base: Prepared,
    site: Surroundings,
    parameters: Sequence[UncertainParameter],
    values: Floats,
    accuracy: str,
    seed: int,
    whole_years: bool,
    tell: Callable[[float], None],
) -> tuple[Floats, Tie | None]:
    """Amounts of every draw in one weather year, and how the short year was tied to it, if it was."""
    if whole_years or values.shape[0] < SHORT_FROM:
        return _rows(base, parameters, values, accuracy, None, tell), None
    year = short_year(base, site, accuracy)
    pairs, rest = values[:WHOLE_YEARS], values[WHOLE_YEARS:]
    efforts = [len(pairs), SHORT_SHARE * len(pairs), SHORT_SHARE * len(rest)]
    once, twice, _ = (effort / sum(efforts) for effort in efforts)
    whole = _rows(base, parameters, pairs, accuracy, None, lambda done: tell(once * done))
    short = _rows(year.ready, parameters, pairs, accuracy, year.days, lambda done: tell(once + twice * done))
    how = tie(year, whole, tied(short, whole, seed)[1])

    def told(done: float) -> None:
        tell(once + twice + (1.0 - once - twice) * done)

    if how.explained < WELL_TIED:
        return np.vstack([whole, _rows(base, parameters, rest, accuracy, None, told)]), None
    more = _rows(year.ready, parameters, rest, accuracy, year.days, told)
    return tied(np.vstack([short, more]), whole, seed)[0], how


def _rows(
    base: Prepared,
    parameters: Sequence[UncertainParameter],
    values: Floats,
    accuracy: str,
    days: Days | None,
    tell: Callable[[float], None],
) -> Floats:
    """Amounts of every draw, shape (draws, 14); nan where it could not be simulated."""

    def run(row: Floats) -> Floats:
        try:
            return amounts(drawn(base, parameters, row), accuracy, days)
        except SolverError:
            return np.full(COLUMNS, np.nan)

    return np.array(run_all(run, list(values), progress=tell))


def _as_draws(
    parameters: tuple[UncertainParameter, ...],
    values: Floats,
    rows: Floats,
    seed: int,
    how: Tie | None,
    of_year: NDArray[np.int64],
) -> Draws:  # fmt: skip
    water = rows[:, :12].sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        per_litre = np.where(water[:, None] > 0.0, rows[:, 12:] / (3.6e6 * water[:, None]), np.nan)
    return Draws(
        parameters=parameters,
        values=values,
        litres=litres(rows),
        by_month=rows[:, :12] / np.array(DAYS_IN_MONTH),
        heat=per_litre[:, HEAT - 12],
        electricity=per_litre[:, ELECTRICITY - 12],
        failed=int((~np.isfinite(water)).sum()),
        seed=seed,
        tie=how,
        of_year=of_year,
    )


def columns_of(lists: Sequence[Sequence[UncertainParameter]], places: Sequence[str]) -> list[Columns]:
    """Hand out columns of one sequence to the doubts of several designs that are drawn together.

    places: name of the weather that each design stands in. What is of the model and the upkeep is one column
    for all whose doubt reads the same, what is of one data sheet a column for each sheet, what is of the
    weather one for each place: two designs err together in the first and apart in the others.
    """
    streams = [
        [(d.weather is None, d.whose or (place if d.weather is not None else ""), d.key, d.name) for d in one]
        for one, place in zip(lists, places, strict=True)
    ]
    # the weather first, then what is shared, so that the best columns go to what matters to all
    order = {stream: column for column, stream in enumerate(sorted({s for one in streams for s in one}))}
    # of a fixed width, since the scrambling of a column depends on how many there are
    width = max(len(order), SEQUENCE)
    return [Columns(tuple(order[stream] for stream in one), width) for one in streams]


def shares_of(
    parameters: Sequence[UncertainParameter], draws: int, seed: int, columns: Columns | None = None
) -> Floats:
    """Uniform shares in (0, 1) for every draw and doubt, shape (draws, doubts).

    columns: those of `columns_of`; without them a column for each doubt of this list.
    """
    from scipy.stats import qmc

    taken = columns or columns_of([parameters], [""])[0]
    sequence = qmc.Sobol(taken.width, scramble=True, seed=seed)
    whole = sequence.random_base2(int(np.ceil(np.log2(draws))))[:draws]
    return np.clip(whole[:, list(taken.of)], 1e-6, 1.0 - 1e-6)


def elasticities(
    design: Any,
    sorbent: Sorbent | None,
    site: Surroundings,
    parameters: Sequence[UncertainParameter] | None = None,
    progress: Callable[[float], None] | None = None,
) -> list[tuple[UncertainParameter, Slope]]:
    """Slope of the year's litres in each doubt, for one standard deviation of it; the steepest first."""
    listed = tuple(uncertain_parameters_of(design, sorbent) if parameters is None else parameters)
    base = prepare(design, sorbent, site)
    moved = of_uncertain(base, listed)
    slopes = gradient(base, moved, tolerance=FOR_A_PICTURE, weak=0.0, progress=progress)
    found = list(zip(listed, slopes, strict=True))
    return sorted(found, key=lambda entry: -abs(np.nan_to_num(entry[1].value)))
