"""Who needs how much water, by use, season and hour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import DAYS_IN_MONTH
from welkinwell.declare import (
    Declared,
    choice,
    count,
    declared_fields,
    quantity,
    read_fields,
    read_value,
    unknown_keys,
)
from welkinwell.errors import Problem
from welkinwell.quantities import amount, from_si, plain, with_article

Floats = NDArray[np.float64]

PURPOSES: Final = ("drinking", "drinking and cooking", "household", "animals", "plants", "technical")
EVEN: Final = (1.0,) * 12
PEOPLE: Final = ("person", "pupil", "outpatient", "inpatient")  # heads of uses that are not animals


@dataclass(frozen=True)
class Minimum:
    """A published least quantity for one use: litres a head and day, between low and high [L/day]."""

    litres: float
    low: float
    high: float
    head: str
    source: str
    remark: str


# The sources were read as quoted by others or are recalled, as each remark says.
MINIMA: Final[Mapping[str, Minimum]] = {
    "survival": Minimum(3.0, 2.5, 3.0, "person", "Sphere2011", "drinking and food; table seen as quoted"),
    "basic hygiene": Minimum(6.0, 2.0, 6.0, "person", "Sphere2011", "table seen as quoted"),
    "cooking": Minimum(6.0, 3.0, 6.0, "person", "Sphere2011", "basic cooking; table seen as quoted"),
    "basic needs": Minimum(15.0, 7.5, 15.0, "person", "Sphere2011", "drinking, cooking, hygiene; as quoted"),
    "drinking in heat": Minimum(
        6.0, 4.0, 10.0, "person", "", "drinking alone, hot climate and hard work; no source, from memory"
    ),
    "basic access": Minimum(
        20.0, 20.0, 20.0, "person", "Howard2003", "a tap within 1 km; as told by a public course"
    ),
    "intermediate access": Minimum(
        50.0, 50.0, 50.0, "person", "Howard2003", "a tap in the yard; as told by a public course"
    ),
    "school": Minimum(3.0, 3.0, 3.0, "pupil", "Sphere2011", "drinking and hand washing; value from memory"),
    "outpatient": Minimum(5.0, 5.0, 5.0, "outpatient", "Sphere2011", "value from memory"),
    "inpatient": Minimum(50.0, 40.0, 60.0, "inpatient", "Sphere2011", "value from memory"),
    "sheep or goats": Minimum(5.0, 5.0, 5.0, "head", "Sphere2011", "value from memory"),
    "cattle": Minimum(25.0, 20.0, 30.0, "head", "Sphere2011", "value from memory"),
}

# Shares of a day's water in each hour of the local standard day; our own rounds, no source.
PATTERNS: Final[Mapping[str, tuple[float, ...]]] = {
    "even": (1.0,) * 24,
    "waking": (0.0,) * 6 + (1.0,) * 16 + (0.0,) * 2,
    "mornings and evenings": (0.0,) * 6 + (3.0,) * 3 + (1.0,) * 8 + (3.0,) * 3 + (1.0,) * 2 + (0.0,) * 2,
    "working day": (0.0,) * 7 + (1.0,) * 10 + (0.0,) * 7,
}
RESIDENT_LITRES: Final = 4.0  # L a day to drink, some food too; common practice, no source
UNUSUAL: Final = 50.0  # L a person and day above which water from the air is no plan


@dataclass(frozen=True)
class DemandTable:
    """The [demand] table as written, without its lists and its uses."""

    residents: int | None = count("People who live there", default=None, high=1e7)
    litres_per_resident_day: float | None = quantity(
        "L/day",
        f"Water for one resident in a day; {RESIDENT_LITRES:g} L if not given",
        default=None,
        low=0,
        high=1000,
    )
    visitors: int | None = count("People who come by day", default=None, high=1e7)
    litres_per_visitor_day: float | None = quantity(
        "L/day", "Water for one visitor in a day", default=None, low=0, high=1000
    )
    litres_per_day: float | None = quantity(
        "L/day",
        "All the water asked for in a day, instead of people",
        default=None,
        low=0,
        low_open=True,
        high=1e9,
    )
    purpose: str = choice(PURPOSES, "What the water is for", default="drinking")
    hours: str = choice(tuple(PATTERNS), "When in the day the water is drawn", default="waking")


@dataclass(frozen=True)
class UseTable:
    """One [[demand.use]] table as written, without its list."""

    use: str = choice(tuple(MINIMA), "What for, a use with a published least quantity")
    heads: int = count("How many people or animals", low=1, high=1e7)
    litres_per_head_day: float | None = quantity(
        "L/day", "Water for one head in a day; the published quantity if not given", default=None,
        low=0, low_open=True, high=1000,
    )  # fmt: skip


@dataclass(frozen=True)
class Use:
    """One use: heads, litres for each in a day [L/day], factors by month, whether the case set the litres."""

    name: str
    heads: int
    litres_per_head: float
    factors: tuple[float, ...]
    given: bool

    @property
    def litres(self) -> float:
        """Mean of the year [L/day]."""
        return self.heads * self.litres_per_head * float(np.dot(self.factors, DAYS_IN_MONTH)) / 365.0


@dataclass(frozen=True)
class Demand:
    """Who needs how much water. The litres are in L/day, as their names say.

    litres_per_day: mean of the year; by_month: litres a day in each month, (12,); hours: shares of the day's
    water in each hour of the local standard day, (24,), summing to 1; uses: what it is made of, where told;
    resident_litres_assumed: whether the case leaves the litres of a resident to RESIDENT_LITRES.
    """

    litres_per_day: float
    residents: int
    litres_per_resident_day: float
    visitors: int
    litres_per_visitor_day: float
    purpose: str
    by_month: tuple[float, ...] = ()
    hours: tuple[float, ...] = tuple(share / 16.0 for share in PATTERNS["waking"])
    uses: tuple[Use, ...] = ()
    pattern: str = "waking"
    resident_litres_assumed: bool = False

    @property
    def people(self) -> int:
        """People served, visitors included [1]; 0 where the case does not say.

        Several uses of a household are those of the same people; pupils and patients come beside them.
        """
        heads = {kind: [use.heads for use in self.uses if MINIMA[use.name].head == kind] for kind in PEOPLE}
        return self.residents + self.visitors + sum(max(named, default=0) for named in heads.values())

    @property
    def months(self) -> Floats:
        """Litres a day in each month, shape (12,) [L/day]."""
        return np.array(self.by_month or (self.litres_per_day,) * 12)

    @property
    def asked(self) -> str:
        """Litres a day as a person would write them, without the unit."""
        value = self.litres_per_day
        return f"{value:,.0f}" if value >= 1000.0 else f"{round(value, 1 if value >= 10.0 else 2):g}"

    @property
    def litres_per_person(self) -> float | None:
        """What one resident, or else one of the people served, gets in a day [L/day]; None without people."""
        if self.residents and self.litres_per_resident_day > 0.0:
            return self.litres_per_resident_day
        if not self.people:
            return None
        whole = sum(use.litres for use in self.uses)
        animals = sum(use.litres for use in self.uses if MINIMA[use.name].head not in PEOPLE)
        share = 1.0 - animals / whole if whole > 0.0 else 1.0  # what is left to the people
        return share * self.litres_per_day / self.people

    @property
    def seasonal(self) -> bool:
        """Whether the demand changes through the year."""
        return bool(self.by_month) and max(self.by_month) - min(self.by_month) > 1e-9

    def daily(self, days: int) -> Floats:
        """Give the demand of each day from 1 January on, shape (days,) [L/day]."""
        return np.resize(np.repeat(self.months, DAYS_IN_MONTH), days)

    def hourly(self, days: int) -> Floats:
        """Give the demand of each hour of the local standard days, shape (24 days,) [L/h]."""
        return (self.daily(days)[:, None] * np.array(self.hours)[None, :]).ravel()


def read_demand(table: Any, where: str, problems: list[Problem]) -> Demand | None:
    """Read the [demand] table; adds what is wrong with it to problems.

    Either litres_per_day (or twelve litres_per_day_by_month), or residents and visitors, or [[demand.use]]
    tables with published least quantities; monthly_factors scale any of them by season.
    """
    if not isinstance(table, Mapping):
        problems.append(
            Problem(where, repr(table), "a table", "`welkinwell new DIR` writes a commented case.")
        )
        return None
    fields = declared_fields(DemandTable)
    found = unknown_keys(table, [*fields, *_LISTS], where)
    written, wrong = read_fields(DemandTable, {k: v for k, v in table.items() if k in fields}, where)
    found += wrong
    factors = _twelve(table, "monthly_factors", where, found)
    months = _months(table, where, found)
    shares = _day(table, where, found)
    uses = _uses(table.get("use"), where, found)
    if not found and written is not None:
        found += _contradictions(written, table, where)
    problems += found
    if found or written is None:
        return None
    demand = _made(written, factors or EVEN, months, shares, uses)
    if demand.litres_per_day <= 0.0:
        problems.append(Problem(where, "no water asked for", _EXPECTED, "A demand of zero needs no plant."))
        return None
    return demand


_LISTS: Final = ("use", "monthly_factors", "litres_per_day_by_month", "hourly_shares")
_EXPECTED: Final = "either litres_per_day, or residents, or visitors with litres_per_visitor_day"
_MONTHLY: Final = Declared("monthly_factors", "quantity", "1", "Demand of a month over the mean", None,
                           0.0, 20.0, False, ())  # fmt: skip


def _contradictions(written: DemandTable, table: Mapping[str, Any], where: str) -> list[Problem]:
    """Only one way to say how much; people with their litres."""
    people = {"residents": written.residents, "visitors": written.visitors}
    named = [key for key, value in people.items() if value is not None]
    totals = [key for key in ("litres_per_day", "litres_per_day_by_month") if key in table]
    if len(totals) > 1:
        advice = "Keep one: the twelve months already say the whole year."
        return [Problem(where, " and ".join(totals), "one of the two", advice)]
    if totals and named:
        return [Problem(where, f"{totals[0]} and {' and '.join(named)}", _EXPECTED)]
    if "use" in table and (totals or named):
        other = " and ".join([*totals, *named])
        return [Problem(where, f"[[demand.use]] and {other}", "either the uses or the other", "Keep one.")]
    if totals == ["litres_per_day_by_month"] and "monthly_factors" in table:
        given = "litres_per_day_by_month and monthly_factors"
        return [Problem(where, given, "one of the two", "Twelve months leave nothing to scale.")]
    for key, value in people.items():
        litres = getattr(written, f"litres_per_{key[:-1]}_day")
        if key == "residents" and litres is None:
            continue  # RESIDENT_LITRES each
        if (value is None) != (litres is None):
            missing = key if value is None else f"litres_per_{key[:-1]}_day"
            return [Problem(where, f"no {missing}", _EXPECTED)]
    return []


def _made(
    written: DemandTable,
    factors: tuple[float, ...],
    months: tuple[float, ...] | None,
    shares: tuple[float, ...] | None,
    uses: tuple[Use, ...],
) -> Demand:
    def litres(flow: float | None) -> float:
        return from_si(flow or 0.0, "L/day")

    residents, visitors = written.residents or 0, written.visitors or 0
    assumed = residents > 0 and written.litres_per_resident_day is None
    each_resident = RESIDENT_LITRES if assumed else litres(written.litres_per_resident_day)
    each_visitor = litres(written.litres_per_visitor_day)
    total = litres(written.litres_per_day) or residents * each_resident + visitors * each_visitor
    if months is None:
        base = np.full(12, total) + sum(
            use.heads * use.litres_per_head * np.array(use.factors) for use in uses
        )
        months = tuple(float(x) for x in base * np.array(factors))
    mean = float(np.dot(months, DAYS_IN_MONTH)) / 365.0
    if max(months) - min(months) <= 1e-12 * max(months):
        mean = months[0]  # an even year keeps its figure to the last digit
    day = shares or PATTERNS[written.hours]
    return Demand(
        mean, residents, each_resident, visitors, each_visitor, written.purpose, months,
        tuple(share / sum(day) for share in day), uses, "given by the hour" if shares else written.hours,
        assumed,
    )  # fmt: skip


def _twelve(
    table: Mapping[str, Any], key: str, where: str, problems: list[Problem]
) -> tuple[float, ...] | None:
    """Read twelve plain numbers, January first."""
    return _numbers(table, key, 12, "twelve numbers, January first", where, problems)


def _day(table: Mapping[str, Any], where: str, problems: list[Problem]) -> tuple[float, ...] | None:
    """Read 24 shares of the day."""
    shares = _numbers(table, "hourly_shares", 24, "24 numbers, from midnight on", where, problems)
    if shares is not None and sum(shares) <= 0.0:
        advice = "At least one hour must draw water."
        problems.append(Problem(f"{where}, hourly_shares", "zeros", "24 numbers, from midnight on", advice))
        return None
    if shares is not None and "hours" in table:
        advice = "Keep one: the 24 shares already say when."
        problems.append(Problem(where, "hours and hourly_shares", "one of the two", advice))
    return shares


def _numbers(
    table: Mapping[str, Any], key: str, size: int, expected: str, where: str, problems: list[Problem]
) -> tuple[float, ...] | None:
    if key not in table:
        return None
    given = table[key]
    if not isinstance(given, list) or len(given) != size:
        shown = f"{len(given)} entries" if isinstance(given, list) else repr(given)
        problems.append(Problem(f"{where}, {key}", shown, expected))
        return None
    values, found = [], []
    for number, entry in enumerate(given, start=1):
        value, wrong = read_value(_MONTHLY, entry, f"{where}, {key}, entry {number}")
        values.append(value)
        found += wrong
    problems += found
    return None if found else tuple(values)


def _months(table: Mapping[str, Any], where: str, problems: list[Problem]) -> tuple[float, ...] | None:
    """Read twelve litres a day with their units, January first [L/day]."""
    key = "litres_per_day_by_month"
    if key not in table:
        return None
    given = table[key]
    if not isinstance(given, list) or len(given) != 12:
        shown = f"{len(given)} entries" if isinstance(given, list) else repr(given)
        expected = 'twelve entries like "20 L/day", January first'
        problems.append(Problem(f"{where}, {key}", shown, expected))
        return None
    each = Declared(key, "quantity", "L/day", "Water asked for in a day of the month", None,
                    0.0, 1e9 / 86400.0 / 1000.0, False, ())  # fmt: skip
    values, found = [], []
    for number, entry in enumerate(given, start=1):
        value, wrong = read_value(each, entry, f"{where}, {key}, entry {number}")
        values.append(from_si(value, "L/day") if not wrong else 0.0)
        found += wrong
    problems += found
    return None if found else tuple(values)


def _uses(given: Any, where: str, problems: list[Problem]) -> tuple[Use, ...]:
    """Read the [[demand.use]] tables."""
    if given is None:
        return ()
    inside = where.replace("[demand]", "[[demand.use]]")
    if not isinstance(given, list) or not given:
        problems.append(
            Problem(inside, repr(given), "[[demand.use]] tables", "Two brackets: there may be several.")
        )
        return ()
    fields, read = declared_fields(UseTable), []
    for number, table in enumerate(given, start=1):
        place = f"{inside} {number}"
        if not isinstance(table, Mapping):
            problems.append(Problem(place, repr(table), "a table"))
            continue
        found = unknown_keys(table, [*fields, "monthly_factors"], place)
        written, wrong = read_fields(UseTable, {k: v for k, v in table.items() if k in fields}, place)
        found += wrong
        factors = _twelve(table, "monthly_factors", place, found)
        problems += found
        if found or written is None:
            continue
        own = written.litres_per_head_day
        litres = MINIMA[written.use].litres if own is None else from_si(own, "L/day")
        read.append(Use(written.use, written.heads, litres, factors or EVEN, own is not None))
    return tuple(read)


def demand_lines(demand: Demand) -> list[str]:
    """Say in plain words who needs how much, for `check` and the report."""
    people = [
        f"{amount(number, who)} at {plain(litres, 4)} L"
        for number, who, litres in (
            (demand.residents, "resident", demand.litres_per_resident_day),
            (demand.visitors, "visitor", demand.litres_per_visitor_day),
        )
        if number
    ]
    of_whom = f": {' and '.join(people)}" if people else ""
    lines = [f"Demand: {demand.asked} L/day for {demand.purpose}{of_whom}"]
    if demand.resident_litres_assumed:
        lines.append(
            f"  {RESIDENT_LITRES:g} L a resident and day is assumed: common practice for drinking, no source "
            f"({_least('survival')}); litres_per_resident_day sets it"
        )
    for use in demand.uses:
        known = MINIMA[use.name]
        published = f"{known.low:g} to {known.high:g}" if known.high > known.low else f"{known.low:g}"
        source = known.source or "no source"
        came = (
            f"of the case; published least: {published} L" if use.given else f"published least: {published} L"
        )
        lines.append(
            f"  {use.name}: {use.heads:,} at {plain(use.litres_per_head, 4)} L {with_article(known.head)} "
            f"and day ({came}, {source}: {known.remark})"
        )
    if demand.seasonal:
        low, high = min(demand.by_month), max(demand.by_month)
        lines.append(
            f"  from {plain(low, 4)} L/day in the least month to {plain(high, 4)} L/day in the greatest"
        )
    return lines


def _least(use: str) -> str:
    """Say what is published as least for a use, and where."""
    known = MINIMA[use]
    return f"published least for {use}: {known.low:g} to {known.high:g} L, {known.source}"


def demand_warnings(demand: Demand) -> list[str]:
    """Say what a demand asks of water from the air that it can hardly give."""
    said = []
    each = demand.litres_per_person
    if each is not None and each >= UNUSUAL:
        said.append(
            f"{each:.0f} L a person and day is asked for: far above what drinking and cooking take "
            "(3 to 15 L). Water from the air is for the few litres that must be drinkable; "
            "plan the rest otherwise."
        )
    for use in demand.uses:
        least = MINIMA[use.name].low
        if use.litres_per_head < least:
            said.append(
                f"{plain(use.litres_per_head)} L {with_article(MINIMA[use.name].head)} and day for "
                f"{use.name} is below the published least of {least:g} L."
            )
    if demand.purpose == "drinking" and demand.residents and 0.0 < demand.litres_per_resident_day < 2.5:
        said.append(
            f"{plain(demand.litres_per_resident_day)} L for a resident in a day is below the published least "
            "for survival, 2.5 to 3 L."
        )
    return said
