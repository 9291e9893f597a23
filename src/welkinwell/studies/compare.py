"""Harvesters, sorbents, sites or weather files side by side on the same figures, and how sure a lead is.

Every entry is simulated once at the "normal" accuracy for its figures, and all are drawn together: draw n of
one entry and draw n of another have the same number for what both are in doubt about (a correlation of the
model, upkeep, the weather of one place) and numbers of their own for what is of each sorbent's data sheet
alone (`uncertainty.columns_of`). So a lead is counted draw by draw.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.uncertain_parameters import UncertainParameter
from welkinwell.quantities import plain
from welkinwell.simulation import simulate
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.digits import told_apart
from welkinwell.studies.effort import many_years, stages
from welkinwell.studies.runner import Progress, run_all
from welkinwell.studies.uncertain_parameters import uncertain_parameters_of
from welkinwell.studies.uncertainty import Columns, Draws, columns_of, draw, years_of_draws
from welkinwell.supply.supply_uncertainty import Standing, SupplyUncertainty
from welkinwell.supply.verdict import money
from welkinwell.year import DAYS_IN_MONTH, figures, monthly

Floats = NDArray[np.float64]
SURE: Final = 0.95  # of the draws
LIKELY: Final = 0.8
WORTH_TELLING: Final = 0.02  # of the litres by which another's poor draws are better
# Figures of a plant as `Sureness` and `Standing` name them, and as the summary does.
OF_A_PLANT: Final = {
    "delivered": "litres_delivered_per_day",
    "days_met": "share_of_days_met",
    "demand_met": "share_of_demand_met",
    "cost": "cost_per_delivered_litre",
    "carbon": "carbon_kg_per_delivered_litre",
}
LESS_IS_BETTER: Final = ("cost", "carbon")


@dataclass(frozen=True)
class Entry:
    """What is compared: a name, a design with its sorbent, and where it stands.

    weather: name of the weather, the same for entries that meet the same; the place where none is given;
    year: simulated by hours, where it is there already.
    """

    name: str
    design: Any
    sorbent: Sorbent | None
    site: Surroundings
    place: str
    weather: str = ""
    year: xr.Dataset | None = None


@dataclass(frozen=True)
class Plant:
    """What an entry is as a plant: as it stands, in the draws (None without), dry mass without tank [kg]."""

    now: Standing
    sure: SupplyUncertainty | None
    mass: float
    currency: str


@dataclass(frozen=True)
class Compared:
    """One entry with its figures (as in the summary), litres by month [L/m2/day], draws and plant."""

    entry: Entry
    figures: dict[str, Any]
    by_month: Floats
    basis: str
    draws: Draws | None
    plant: Plant | None = None

    def of_plant(self, name: str) -> Floats | None:
        """A figure of the plant in every draw, shape (draws,), nan where the draw failed."""
        if self.plant is None or self.plant.sure is None or self.draws is None:
            return None
        good = np.isfinite(self.draws.litres)
        values = np.full(good.size, np.nan)
        values[good] = getattr(self.plant.sure, name)
        return values

    def plant_data(self) -> dict[str, Any] | None:
        """Figures of the plant as JSON-ready data: as it stands, and exceeded in so many of the draws."""
        if self.plant is None:
            return None
        data: dict[str, Any] = {"dry_mass_kg": self.plant.mass, "currency": self.plant.currency}
        for name, key in OF_A_PLANT.items():
            values = self.of_plant(name)
            data[key] = {
                "as_simulated": getattr(self.plant.now, name),
                "exceeded_in": self.draws.exceeded(values) if self.draws and values is not None else None,
            }
        return data


@dataclass(frozen=True)
class Lead:
    """Shares of the draws in which the first is better than the second in one figure, and as good [1].

    Of the draws that could be simulated for both; nan where there is none.
    """

    of: str
    over: str
    figure: str
    better: float
    same: float

    @property
    def worse(self) -> float:
        """Share of the draws in which the second is the better one [1]."""
        return 1.0 - self.better - self.same


@dataclass(frozen=True)
class Comparison:
    """All entries, most litres first; leads: for each next pair, how often the first gives more litres."""

    entries: list[Compared]
    leads: list[Lead]
    verdict: str
    drawn_together: str = ""
    of_plants: tuple[Lead, ...] = ()

    def as_data(self) -> dict[str, Any]:
        """Give all of it as JSON-ready data."""
        return {
            "verdict": self.verdict,
            "drawn_together": self.drawn_together or None,
            "entries": [
                {
                    "name": one.entry.name,
                    "place": one.entry.place,
                    "kind": one.entry.design.kind,
                    "sorbent": one.entry.sorbent.key if one.entry.sorbent else None,
                    "area_basis": one.basis,
                    **one.figures,
                    "litres_per_m2_day_exceeded_in": one.draws.exceeded() if one.draws else None,
                    "plant": one.plant_data(),
                }
                for one in self.entries
            ],
            "leads": [
                {
                    "of": one.of,
                    "over": one.over,
                    "share_of_draws": _or_none(one.better),
                    "as_good_in": _or_none(one.same),
                }
                for one in self.leads
            ],
            "leads_of_plants": [
                {
                    "of": one.of,
                    "over": one.over,
                    "figure": OF_A_PLANT[one.figure],
                    "better_in": one.better,
                    "as_good_in": one.same,
                }
                for one in self.of_plants
            ],
        }


def compare(
    entries: Sequence[Entry],
    *,
    draws: int = 64,
    seed: int = 1,
    plants: Callable[[int, Draws | None], Plant] | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """Compare entries by litres a day of all modules; draws: 0 leaves the doubts out.

    plants: turns an entry's number and its draws into its plant, where there is a demand to be a plant for.
    """
    once = [many_years(1, one.design, one.sorbent) for one in entries]
    drawn_years = [effort * years_of_draws(draws) for effort in once]
    simulating, *parts = stages(progress, sum(once), *drawn_years)
    plain = run_all(_simulated, entries, progress=lambda share: simulating("Simulating", share), efforts=once)
    lists = [uncertain_parameters_of(entry.design, entry.sorbent) for entry in entries]
    columns = columns_of(lists, [entry.weather or entry.place for entry in entries])
    compared = []
    for number, (entry, (found, by_month, basis)) in enumerate(zip(entries, plain, strict=True)):

        def told(share: float, part: Progress = parts[number], name: str = entry.name) -> None:
            part(f"Drawing {name}", share)

        drawn = None
        if draws:
            drawn = draw(
                entry.design, entry.sorbent, entry.site, draws=draws, seed=seed,
                parameters=lists[number], columns=columns[number], progress=told,
            )  # fmt: skip
        plant = plants(number, drawn) if plants is not None else None
        compared.append(Compared(entry, found, by_month, basis, drawn, plant))
    compared.sort(key=lambda one: -one.figures["litres_per_day"])
    leads = [lead(*pair) for pair in pairwise(compared)] if draws else []
    together = together_in_words(lists, columns) if draws and len(entries) > 1 else ""
    of_plants = tuple(found for pair in pairwise(compared) for found in leads_of_plants(*pair))
    return Comparison(compared, leads, _verdict(compared, leads), together, of_plants)


def leads_of_plants(first: Compared, second: Compared) -> list[Lead]:
    """Hold two plants against each other in each figure, draw by draw; cost only in one currency.

    In a draw without a litre the litre has no cost: it counts as dearer than any that is there.
    """
    found = []
    for name in OF_A_PLANT:
        a, b = first.of_plant(name), second.of_plant(name)
        if a is None or b is None or first.plant is None or second.plant is None:
            continue
        if name == "cost" and first.plant.currency != second.plant.currency:
            continue
        if name in LESS_IS_BETTER:
            a, b = -_dear_where_dry(a, first), -_dear_where_dry(b, second)
        one = _counted(first, second, name, a, b)
        if np.isfinite(one.better):
            found.append(one)
    return found


def _dear_where_dry(values: Floats, of: Compared) -> Floats:
    """Put infinity where a draw was simulated and gave no litre to share the cost."""
    assert of.draws is not None
    return np.where(np.isfinite(of.draws.litres) & np.isnan(values), np.inf, values)


def _counted(first: Compared, second: Compared, figure: str, a: Floats, b: Floats) -> Lead:
    """Count draws in which a is more than b, and as much; those that failed in either (nan) left out."""
    good = ~(np.isnan(a) | np.isnan(b))
    better = same = float("nan")
    if good.any():
        equal = np.isclose(a[good], b[good], rtol=1e-9, atol=0.0)
        better, same = float(((a[good] > b[good]) & ~equal).mean()), float(equal.mean())
    return Lead(first.entry.name, second.entry.name, figure, better, same)


def together_in_words(lists: Sequence[Sequence[UncertainParameter]], columns: Sequence[Columns]) -> str:
    """Say which doubts draw n of every entry has the same number for, and which each has its own for."""
    entries_of: dict[int, int] = {}
    for taken in columns:
        for column in taken.of:
            entries_of[column] = entries_of.get(column, 0) + 1
    everywhere: list[str] = []
    some: list[str] = []
    alone: list[str] = []
    for parameters, taken in zip(lists, columns, strict=True):
        for parameter, column in zip(parameters, taken.of, strict=True):
            met = entries_of[column]
            (everywhere if met == len(lists) else alone if met == 1 else some).append(_told(parameter))
    said = "Draw n of one and draw n of another are counted against each other. "
    for names, words in (
        (everywhere, "All share their numbers for"),
        (some, "Some of them share theirs for"),
        (alone, "Each has a number of its own for"),
    ):
        if names:
            said += f"{words}: {'; '.join(dict.fromkeys(names))}. "
    return said.strip()


def _told(parameter: UncertainParameter) -> str:
    """A doubt as part of a sentence; the directions of a fit are one thing to a reader."""
    return (
        "fit of the isotherm"
        if parameter.key.startswith("fit_")
        else parameter.name[0].lower() + parameter.name[1:]
    )


def lead(first: Compared, second: Compared) -> Lead:
    """Count the draws in which the first gives more litres a day than the second, all modules of each."""
    assert first.draws is not None and second.draws is not None
    a, b = first.draws.litres * _area(first), second.draws.litres * _area(second)
    return _counted(first, second, "litres", a, b)


def _area(one: Compared) -> float:
    return float(one.entry.design.basis_area * one.entry.design.modules)


def _simulated(entry: Entry) -> tuple[dict[str, Any], Floats, str]:
    year = entry.year
    if year is None:
        year = simulate(entry.design, entry.sorbent, entry.site, name=entry.name, keep="months")
    by_month = monthly(year, "water_collected") / np.array(DAYS_IN_MONTH)
    return figures(year), by_month, str(year.attrs["basis"])


def _verdict(compared: Sequence[Compared], leads: Sequence[Lead]) -> str:
    """Say in plain words which gives most and how sure that is."""
    if len(compared) == 1:
        return f"{compared[0].entry.name} stands alone: there is nothing to compare it with."
    first, second = compared[0], compared[1]
    a, b = first.figures["litres_per_day"], second.figures["litres_per_day"]
    if math.isclose(a, b, rel_tol=1e-9):
        said = f"{first.entry.name} and {second.entry.name} give as much as each other: {plain(a)} L/day."
    else:
        most, less = told_apart(plain, a, b)
        said = f"{first.entry.name} gives most: {most} L/day against {less} of {second.entry.name}, the next."
    if not leads:
        return said + " How sure that is was not asked for." + _of_plants(compared)
    return said + _how_sure(leads[0]) + _poor_draws(compared) + _of_plants(compared)


def _how_sure(one: Lead) -> str:
    """Say what the draws make of a lead: it holds, it turns, it is none, or it cannot be told."""
    if not np.isfinite(one.better):
        return " How sure that is cannot be told: no draw could be simulated."
    counted = f"gives more in {_percent(one.better)} of the draws{_and_same(one)}"
    turned = f"{one.over} gives more in {_percent(one.worse)} of the draws{_and_same(one)}"
    if one.better >= SURE:
        return f" That is as good as sure: it {counted}."
    if one.better >= LIKELY:
        return f" That is likely, not sure: it {counted}."
    if one.worse >= SURE:
        return f" But with what is in doubt drawn the order turns, and that is as good as sure: {turned}."
    if one.worse >= LIKELY:
        return f" But with what is in doubt drawn the order likely turns: {turned}."
    if one.same >= SURE:
        return f" With what is in doubt drawn they give the same in {_percent(one.same)} of the draws."
    return f" But the doubts do not tell the two apart: {one.of} {counted}."


def _and_same(one: Lead) -> str:
    return f" and as much in {_percent(one.same)}" if one.same >= 0.005 else ""


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _or_none(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _poor_draws(compared: Sequence[Compared]) -> str:
    """Say where the one that gives most has the worse downside; empty where it has not."""
    floors = [(_floor(one), one.entry.name) for one in compared]
    safest, name = max(floors)
    if not safest > floors[0][0] * (1.0 + WORTH_TELLING):
        return ""
    return (
        f" In its poor draws {floors[0][1]} gives less: {plain(floors[0][0])} L/day are exceeded in 90 % of "
        f"its draws, {plain(safest)} in 90 % of those of {name}."
    )


def _floor(one: Compared) -> float:
    assert one.draws is not None
    litres = one.draws.litres[np.isfinite(one.draws.litres)]
    return float(np.quantile(litres, 0.1)) * _area(one) if litres.size else 0.0


def _of_plants(compared: Sequence[Compared]) -> str:
    """Say whose delivered litre is cheapest, and how sure that is."""
    priced = [
        (one.plant.now.cost, one)
        for one in compared
        if one.plant is not None and one.plant.now.cost is not None
    ]
    if len(priced) < 2 or len({one.plant.currency for _, one in priced if one.plant}) > 1:
        return ""
    (least, cheapest), (next_cost, second) = sorted(priced, key=lambda entry: entry[0])[:2]
    assert cheapest.plant is not None
    currency = cheapest.plant.currency
    if math.isclose(least, next_cost, rel_tol=1e-9):
        names = f"{cheapest.entry.name} and {second.entry.name}"
        said = f" A delivered litre is cheapest from {names}: {money(least)} {currency} from either"
    else:
        said = (
            f" A delivered litre is cheapest from {cheapest.entry.name}: {money(least)} {currency} against "
            f"{money(next_cost)} from {second.entry.name}, the next"
        )
    for one in leads_of_plants(cheapest, second):
        if one.figure == "cost":
            return said + _how_surely_cheaper(one)
    return said + "."


def _how_surely_cheaper(one: Lead) -> str:
    if one.same >= SURE:
        return f", and as cheap in {_percent(one.same)} of the draws."
    same = f" and as cheap in {_percent(one.same)}" if one.same >= 0.005 else ""
    if one.worse >= LIKELY:
        return f"; but in {_percent(one.worse)} of the draws that of {one.over} is the cheaper one{same}."
    return f", and cheaper in {_percent(one.better)} of the draws{same}."
