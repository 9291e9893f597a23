"""Sums of money as people write them ("250 USD/m2"), and the assumptions that a cost starts from."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any, Final

from welkinwell.errors import Problem, QuantityError, nearest_name
from welkinwell.quantities import LONGEST_VALUE, scale, to_si

_MONEY: Final = re.compile(
    r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([A-Za-z]{3})\s*(?:/\s*(\S.*?))?\s*"
)
_TAIL_WORDS: Final = {"yr": "year", "a": "year", "litre": "L", "liter": "L"}


@dataclass(frozen=True)
class Assumption:
    """One number of `library/prices.toml`: value between low and high, and where it comes from.

    unit as people write it: money as "USD/m2", other numbers as "1", "year", "min/day"; the values are in it.
    """

    name: str
    value: float
    low: float
    high: float
    unit: str
    sentence: str
    year: int
    source: str
    seen: str
    where: str
    given: bool = False  # by the case

    @property
    def is_money(self) -> bool:
        """Whether it is a price."""
        return bool(re.match(r"[A-Z]{3}(/|$)", self.unit))

    def provenance(self) -> str:
        """Say whose figure it is, in words for a table."""
        if self.given:
            return "the case"
        return f"assumption, {self.year}: {self.where}"


@lru_cache(maxsize=1)
def price_tables() -> dict[str, Any]:
    """Read library/prices.toml."""
    text = resources.files("welkinwell").joinpath("library", "prices.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def library_currency() -> str:
    """Give the currency of the shipped prices."""
    return str(price_tables()["currency"])


def assumption(name: str, row: Mapping[str, Any]) -> Assumption:
    """Make an assumption from a row of the library."""
    return Assumption(
        name, row["value"], row["low"], row["high"], row["unit"], row["sentence"],
        row.get("year", price_tables()["year"]), row["source"], row["seen"], row["where"],
    )  # fmt: skip


def read_money(text: Any, per: str, where: str, low: float = 0.0) -> tuple[float, str, Problem | None]:
    """Read a price such as "30 USD/kg".

    text: as written; per: the unit that it is for, such as "kg" ("" for a plain sum); where: file and key.
    Returns the value per that unit, the currency, and what is wrong with it.
    """
    example = f'a sum with its currency, as in "20 USD{"/" + per if per else ""}"'
    match = _MONEY.fullmatch(text) if isinstance(text, str) and len(text) <= LONGEST_VALUE else None
    if match is None:
        advice = "Write the currency as three letters after the number."
        return 0.0, "", Problem(where, repr(text), example, advice)
    number, currency, tail = float(match.group(1)), match.group(2).upper(), match.group(3) or ""
    if not per:
        factor = 1.0 if not tail else math.nan
    else:
        factor = _per(tail, per)
    if not math.isfinite(factor):
        return (
            0.0,
            currency,
            Problem(
                where, repr(text), example, f"It is a price {'for each ' + per if per else 'as a whole'}."
            ),
        )
    value = number * factor
    if not math.isfinite(value) or value < low:
        wanted = f"a price from {low:g} {currency}{'/' + per if per else ''} up"
        return 0.0, currency, Problem(where, repr(text), wanted, "A price below zero is no price.")
    return value, currency, None


def _per(tail: str, per: str) -> float:
    """Turn a price for one `tail` into one for one `per` (1 USD/L: 1000 USD/m3); nan for unlike kinds."""
    try:
        given, wanted = scale(_TAIL_WORDS.get(tail, tail)), scale(per)
    except ValueError:
        return math.nan
    return wanted.factor / given.factor if given.dimensions == wanted.dimensions else math.nan


def read_assumption(
    base: Assumption, given: Any, where: str, currencies: dict[str, str], problems: list[Problem]
) -> Assumption:
    """Read what a case says of an assumption: one value, or a list of low, central and high.

    base: the library's; given: as written; currencies: by place, filled as they are met; problems: filled.
    Returns the case's assumption, exact where one value is given.
    """
    entries = given if isinstance(given, list) else [given]
    if len(entries) not in (1, 3):
        expected = "one value, or three: low, central, high"
        problems.append(Problem(where, f"{len(entries)} entries", expected))
        return base
    values = []
    for entry in entries:
        value, problem = _read_one(base, entry, where, currencies)
        if problem is not None:
            problems.append(problem)
            return base
        values.append(value)
    if values != sorted(values):
        problems.append(Problem(where, repr(given), "low, central and high in this order", "Sort the three."))
        return base
    low, central, high = values if len(values) == 3 else values * 3
    return Assumption(
        base.name, central, low, high, base.unit, base.sentence, base.year, "", "", "the case", given=True
    )


def _read_one(
    base: Assumption, entry: Any, where: str, currencies: dict[str, str]
) -> tuple[float, Problem | None]:
    if base.is_money:
        value, currency, problem = read_money(entry, base.unit.partition("/")[2], where)
        if currency:
            currencies[where] = currency
        return value, problem
    try:
        value = to_si(entry, base.unit) / scale(base.unit).factor
    except QuantityError as error:
        advice = error.problems[0].advice if isinstance(error.problems[0], Problem) else ""
        example = f"{base.value:g}" if base.unit == "1" else f'"{base.value:g} {base.unit}"'
        return 0.0, Problem(where, repr(entry), f"a value such as {example}", advice)
    bounds = price_tables()["bounds"].get(base.name, [0.0, 1e9])
    if not bounds[0] <= value <= bounds[1]:
        unit = "" if base.unit == "1" else f" {base.unit}"
        expected = f"from {bounds[0]:g}{unit} to {bounds[1]:g}{unit}"
        return 0.0, Problem(where, repr(entry), expected, base.sentence + ".")
    return value, None


def currency_problem(currencies: Mapping[str, str]) -> Problem | None:
    """Say that a case mixes currencies, and where each stands."""
    kinds = sorted(set(currencies.values()))
    if len(kinds) <= 1:
        return None
    told = "; ".join(
        f"{kind} at {', '.join(place for place, own in currencies.items() if own == kind)}" for kind in kinds
    )
    advice = "Convert them all to one; nothing is converted here, since rates change."
    return Problem(
        next(iter(currencies)), f"money in {len(kinds)} currencies ({told})", "one currency", advice
    )


def nearest_price(name: str, known: Mapping[str, Any]) -> str:
    """Say which known price is closest to a misspelt one."""
    return nearest_name(name, known)
