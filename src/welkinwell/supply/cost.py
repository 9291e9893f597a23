"""What a delivered litre costs, with its interval, its parts, its break-even and its carbon."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.declare import unknown_keys
from welkinwell.errors import Problem
from welkinwell.sorbents.sheet import NO_SOURCE, Number
from welkinwell.supply.money import (
    Assumption,
    assumption,
    currency_problem,
    library_currency,
    price_tables,
    read_assumption,
)

if TYPE_CHECKING:
    from welkinwell.sorbents.sorbent import Sorbent

Floats = NDArray[np.float64]

DRAWS: Final = 2000
SEED: Final = 1
SORBENT_KEYS: Final = ("sorbent_price", "sorbent_life", "sorbent_ageing")
KIND_KEYS: Final = ("device_price", "module_price", "plant_life", "upkeep_share")  # may be tables by kind
PARTS: Final = (
    "devices", "sorbent", "tank", "treatment", "installation", "spare parts", "filters", "tests", "work",
    "electricity", "solar modules", "battery", "inverter", "end of life",
)  # fmt: skip
OWN_POWER: Final = {"solar modules": "pv", "battery": "battery", "inverter": "inverter"}  # part to its prices


def recovery_factor(rate: float, years: float) -> float:
    """Give the yearly payment for a unit of capital: i (1 + i)^n / ((1 + i)^n - 1), 1 / n without interest.

    rate: discount rate in a year [1]; years [year]. Returns the capital recovery factor [1/year]. Formula of
    any textbook of engineering economics. 8 % and 15 years: 0.1168.
    """
    if abs(rate) < 1e-12:
        return 1.0 / years
    return rate / -math.expm1(-years * math.log1p(rate))


@dataclass(frozen=True)
class Levelised:
    """Present values of what is paid and of what comes: cost of a litre = present_cost / present_litres."""

    present_cost: float
    present_litres: float
    replacements: int

    @property
    def per_litre(self) -> float | None:
        """Cost of a litre; None without a litre [money/L]."""
        return self.present_cost / self.present_litres if self.present_litres > 0.0 else None


def levelised(
    capital: float,
    yearly: float,
    litres: float,
    rate: float,
    years: int,
    replaced: float = 0.0,
    replaced_life: float = math.inf,
    ageing: float = 0.0,
    at_end: float = 0.0,
    yearly_per_litre: float = 0.0,
) -> Levelised:
    """Discount what a plant costs and what it gives through its life.

    cost = C0 + R + sum over k of R (1 + i)^(-k life) + sum over t of yearly (1 + i)^(-t) + E (1 + i)^(-n);
    litres = sum over t of litres_t (1 + i)^(-t), with k life < n and a yield that falls with the age of
    the sorbent in the middle of the year. Without ageing it is the annuity formula.

    capital: at the start, without what is replaced [money]; yearly: in each year [money/year]; litres: of the
    new plant [L/year]; rate [1/year]; years: life [year]; replaced: at the start and after each replaced_life
    [money], [year]; ageing: share of the yield lost in a year of its age [1/year]; at_end [money];
    yearly_per_litre: paid for each litre [money/L]. Returns a Levelised. Our own sum.
    """
    times = np.arange(1, years + 1)
    worth = (1.0 + rate) ** -times.astype(float)
    age = np.mod(times - 0.5, replaced_life) if math.isfinite(replaced_life) else times - 0.5
    given = litres * np.maximum(1.0 - ageing * age, 0.0)
    number = max(math.ceil(years / replaced_life - 1e-9) - 1, 0) if math.isfinite(replaced_life) else 0
    renewals = sum((1.0 + rate) ** (-k * replaced_life) for k in range(1, number + 1))
    present_litres = float(given @ worth)
    cost = capital + replaced * (1.0 + renewals) + yearly * float(worth.sum())
    cost += at_end * (1.0 + rate) ** -years + yearly_per_litre * present_litres
    return Levelised(cost, present_litres, number)


@dataclass(frozen=True)
class OwnPower:
    """Electricity of a plant's own: solar modules [m2] and [kW peak], battery [kWh], inverter [kW]."""

    area: float
    peak: float
    battery: float
    inverter: float

    def bought(self, numbers: Mapping[str, float]) -> dict[str, float]:
        """Give what each part of it costs to buy by the prices in numbers, by part of the cost [money]."""
        sizes = {"solar modules": self.peak, "battery": self.battery, "inverter": self.inverter}
        return {part: size * numbers[f"{OWN_POWER[part]}_price"] for part, size in sizes.items()}

    def times(self, share: float) -> OwnPower:
        """Give the same in other sizes; share: new over old [1]."""
        return OwnPower(share * self.area, share * self.peak, share * self.battery, share * self.inverter)


@dataclass(frozen=True)
class PlantSize:
    """What is paid for, of one plant.

    area: aperture [m2]; modules [1]; sorbent_mass [kg]; tank_litres [L]; tests_per_year [1/year]; net and
    delivered: litres a year that reach the tank and that are drawn [L/year]; electricity: of the devices
    [kWh/year]; masses: by material, for the carbon [kg]; own_power: bought with the plant, so that no kWh of
    the devices is paid for, None where electricity is bought.
    """

    area: float
    modules: int
    sorbent_mass: float
    tank_litres: float
    tests_per_year: int
    net: float
    delivered: float
    electricity: float
    masses: Mapping[str, float] = field(default_factory=dict)
    own_power: OwnPower | None = None


@dataclass(frozen=True)
class CostChoices:
    """The [cost] table laid over the library: every assumption in one currency.

    rows: by name; sorbent: rows that the case sets, by sorbent ("" for all); rate: of the case's currency for
    one of the library's; power: prices and lives of the plant's own electricity, empty where it has none;
    kind: rows that the case sets for one kind of harvester, by its name.
    """

    currency: str
    rate: float
    rows: Mapping[str, Assumption]
    sorbent: Mapping[str, Mapping[str, Assumption]]
    power: Mapping[str, Assumption] = field(default_factory=dict)
    kind: Mapping[str, Mapping[str, Assumption]] = field(default_factory=dict)

    def for_plant(self, sorbent: Sorbent | None, kind: str = "") -> dict[str, Assumption]:
        """Give every assumption for a kind of harvester with a sorbent, whose sheet has its price.

        kind: its name; one without a table of its own, or none, has the general prices.
        """
        listed = kind_assumptions(kind, self.rate, self.currency)
        rows = {
            name: listed.get(name, entry) if not entry.given else entry for name, entry in self.rows.items()
        }
        rows |= self.kind.get(kind, {})
        device, module = (rows.get(name) for name in ("device_price", "module_price"))
        if device is not None and module is not None and device.given and not module.given:
            # what the case prices by the m2 is not paid for by the piece as well
            where = "nothing: the case prices the device by the m2"
            rows["module_price"] = replace(module, value=0.0, low=0.0, high=0.0, where=where)
        if sorbent is None:
            return {**rows, **no_sorbent(self.currency), **self.power}
        price = sorbent.sheet.numbers["cost.price"]
        own = sorbent_assumptions(sorbent.key, self.rate, self.currency, price)
        for named in ("", sorbent.key):
            own.update(self.sorbent.get(named, {}))
        return {**rows, **own, **self.power}


def default_cost() -> CostChoices:
    """Give the library's assumptions as they are."""
    return CostChoices(library_currency(), 1.0, _library_rows("cost", 1.0, library_currency()), {})


def sorbent_assumptions(
    key: str, rate: float = 1.0, currency: str = "USD", price: Number | None = None
) -> dict[str, Assumption]:
    """Give price, life and ageing of a sorbent by its sheet's key; of "other" where it is not listed.

    price: of its sheet; without one the range of all.
    """
    families = price_tables()["sorbent"]
    family = next((name for name, row in families.items() if key in row["keys"]), "other")
    row = {"price": families["other"]["price"], **families[family]}
    sentences = {
        "price": ("USD/kg", "Dry sorbent, ready to use"),
        "life": ("year", "Years until the sorbent is replaced"),
        "ageing": ("1", "Share of the yield lost in a year of the sorbent's age"),
    }
    found = {}
    for name, (unit, sentence) in sentences.items():
        low, value, high = row[name]
        told = {"value": value, "low": low, "high": high, "unit": unit, "sentence": sentence}
        if name == "price" and price is not None:
            source = "" if price.source == NO_SOURCE else price.source
            told |= {"value": price.value, "low": price.low, "high": price.high, "source": source}
            told |= {"seen": price.seen, "where": f"data sheet: {price.where}"}
        entry = assumption(f"sorbent_{name}", {**row, **told})
        found[entry.name] = _converted(entry, rate, currency)
    return found


def no_sorbent(currency: str) -> dict[str, Assumption]:
    """Give the rows of a kind without a sorbent: nothing to buy, to replace or to age."""
    found = sorbent_assumptions("", 1.0, currency)
    exact = {"sorbent_price": 0.0, "sorbent_life": 100.0, "sorbent_ageing": 0.0}
    return {
        name: replace(entry, value=exact[name], low=exact[name], high=exact[name], where="no sorbent")
        for name, entry in found.items()
    }


def kind_assumptions(kind: str, rate: float = 1.0, currency: str = "USD") -> dict[str, Assumption]:
    """Give what a kind of harvester changes of the library's rows; nothing for a kind that is not listed."""
    tables = price_tables()
    found = {}
    for name, numbers in tables["kind"].get(kind, {}).items():
        if name == "where":
            continue
        value, low, high = numbers
        told = {"value": value, "low": low, "high": high, "where": tables["kind"][kind]["where"]}
        entry = assumption(name, {**tables["cost"][name], **told})
        found[name] = _converted(entry, rate, currency)
    return found


def _library_rows(table: str, rate: float, currency: str) -> dict[str, Assumption]:
    rows = price_tables()[table]
    return {name: _converted(assumption(name, row), rate, currency) for name, row in rows.items()}


def _converted(entry: Assumption, rate: float, currency: str) -> Assumption:
    """Turn a library price into the case's currency; other numbers stay."""
    if not entry.is_money or currency == library_currency():
        return entry
    unit = currency + entry.unit[3:]
    return replace(
        entry, value=entry.value * rate, low=entry.low * rate, high=entry.high * rate, unit=unit,
        where=f"{entry.where}; at {rate:g} {currency} for 1 {library_currency()}",
    )  # fmt: skip


@dataclass(frozen=True)
class Alternative:
    """Another way to get water: its price [money/m3] and what is known of it.

    there: True where the case gives its price, False where the case says "none", None where unknown.
    """

    name: str
    price: Assumption
    there: bool | None


def read_money_tables(
    tables: Mapping[str, Any], file: str, problems: list[Problem], kinds: Sequence[str] = ()
) -> tuple[CostChoices, tuple[Alternative, ...]]:
    """Read [cost] and [alternatives]; adds what is wrong with them to problems, two currencies among it.

    kinds: names of the kinds of harvester that a price may be given for.
    """
    before, currencies = len(problems), dict[str, str]()
    cost, others = tables.get("cost", {}), tables.get("alternatives", {})
    for name, table in (("cost", cost), ("alternatives", others)):
        if not isinstance(table, Mapping):
            problems.append(Problem(f"{file}, [{name}]", repr(table), "a table"))
    if len(problems) > before:
        return default_cost(), ()
    where = f"{file}, [cost]"
    rows = _library_rows("cost", 1.0, library_currency())
    problems += unknown_keys(cost, ["currency", "library_rate", *rows, *SORBENT_KEYS], where)
    of_kinds = {name: cost[name] for name in KIND_KEYS if isinstance(cost.get(name), Mapping)}
    for name, table in of_kinds.items():
        known = [*kinds, *(kind for kind in price_tables()["kind"] if kind not in kinds)]
        problems += unknown_keys(table, known, f"{where}, {name}")
    by_kind = _read_tables(of_kinds, rows, where, currencies, problems)
    own = {
        name: read_assumption(entry, cost[name], f"{where}, {name}", currencies, problems)
        for name, entry in rows.items()
        if name in cost and name not in of_kinds
    }
    of_sorbents = {
        name: cost[name] if isinstance(cost[name], Mapping) else {"": cost[name]}
        for name in SORBENT_KEYS
        if name in cost
    }
    sorbent = _read_tables(of_sorbents, sorbent_assumptions(""), where, currencies, problems)
    listed = _library_rows("alternative", 1.0, library_currency())
    prices = _read_alternatives(others, listed, f"{file}, [alternatives]", currencies, problems)
    currency = _currency(cost, where, currencies, problems)
    unset = [n for n, entry in rows.items() if entry.is_money and n not in own]
    if not any("sorbent_price" in named for named in sorbent.values()):
        unset.append("sorbent_price")
    unset += [name for name in listed if name not in others]
    rate = _rate(cost, where, currency, unset, problems)
    laid = {**_library_rows("cost", rate, currency), **{n: _in(entry, currency) for n, entry in own.items()}}
    sorbent, by_kind = (
        {key: {n: _in(entry, currency) for n, entry in named.items()} for key, named in table.items()}
        for table in (sorbent, by_kind)
    )
    alternatives = tuple(
        Alternative(name, _in(prices[name][0], currency), True)
        if name in prices and prices[name][1]
        else Alternative(name, _converted(entry, rate, currency), False)
        if name in prices
        else Alternative(name, _converted(entry, rate, currency), None)
        for name, entry in listed.items()
    )
    return CostChoices(currency, rate, laid, sorbent, kind=by_kind), alternatives


def one_price_for_many(choices: CostChoices, kinds: Sequence[str], where: str) -> list[Problem]:
    """Refuse one price of a device where a case has devices of several kinds, some sold by the piece.

    kinds: of the case's harvesters, by name; where: file and table.
    """
    several = list(dict.fromkeys(kinds))
    if len(several) < 2:
        return []
    told = ", ".join(f'{kind} = "..."' for kind in several)
    return [
        Problem(
            f"{where}, {name}",
            f"one price for {len(several)} kinds of harvester",
            f"a table by kind, as in {name} = {{ {told} }}",
            "A kind that is left out keeps the price of the library.",
        )
        for name in ("device_price", "module_price")
        if choices.rows[name].given
    ]


def _in(entry: Assumption, currency: str) -> Assumption:
    """Name the currency of a price that the case gives; it is already in it."""
    return replace(entry, unit=currency + entry.unit[3:]) if entry.is_money else entry


def _read_tables(
    given: Mapping[str, Mapping[str, Any]],
    base: Mapping[str, Assumption],
    where: str,
    currencies: dict[str, str],
    problems: list[Problem],
) -> dict[str, dict[str, Assumption]]:
    """Read what is given by sorbent or kind, "" for all; returns rows by sorbent or kind, then by name."""
    found: dict[str, dict[str, Assumption]] = {}
    for name, values in given.items():
        for key, value in values.items():
            place = f"{where}, {name}" + (f", {key}" if key else "")
            entry = read_assumption(base[name], value, place, currencies, problems)
            found.setdefault(key, {})[name] = entry
    return found


def _read_alternatives(
    others: Mapping[str, Any],
    listed: Mapping[str, Assumption],
    where: str,
    currencies: dict[str, str],
    problems: list[Problem],
) -> dict[str, tuple[Assumption, bool]]:
    """Read the prices of other water; "none" says that there is none of it."""
    problems += unknown_keys(others, list(listed), where)
    found = {}
    for name, entry in listed.items():
        if name not in others:
            continue
        if others[name] == "none":
            found[name] = (entry, False)  # the library's price, in its currency
        else:
            place = f"{where}, {name}"
            found[name] = (read_assumption(entry, others[name], place, currencies, problems), True)
    return found


def _currency(
    cost: Mapping[str, Any], where: str, currencies: dict[str, str], problems: list[Problem]
) -> str:
    """Find the one currency of a case."""
    said = cost.get("currency")
    if said is not None:
        if not (isinstance(said, str) and len(said) == 3 and said.isalpha()):
            problems.append(Problem(f"{where}, currency", repr(said), 'three letters, as in "USD"'))
        else:
            currencies[f"{where}, currency"] = said.upper()
    mixed = currency_problem(currencies)
    if mixed is not None:
        problems.append(mixed)
        return library_currency()
    return next(iter(currencies.values()), library_currency())


def _rate(
    cost: Mapping[str, Any], where: str, currency: str, unset: list[str], problems: list[Problem]
) -> float:
    """Find how much of the case's currency one of the library's is worth."""
    library = library_currency()
    given = cost.get("library_rate")
    if given is not None:
        if isinstance(given, bool) or not isinstance(given, (int, float)) or not 1e-6 <= given <= 1e6:
            expected = f"a plain number: how many {currency} one {library} is worth"
            problems.append(Problem(f"{where}, library_rate", repr(given), expected))
            return 1.0
        return float(given)
    if currency == library or not unset:
        return 1.0
    told = ", ".join(unset[:4]) + (f" and {len(unset) - 4} more" if len(unset) > 4 else "")
    problems.append(
        Problem(
            f"{where}, library_rate",
            f"nothing, with prices in {currency}",
            f"how many {currency} one {library} is worth, as in library_rate = 0.9",
            f"What the case does not price itself ({told}) is in {library}.",
        )
    )
    return 1.0


@dataclass(frozen=True)
class Priced:
    """One plant's cost at one set of numbers: by part [money/L], and the numbers behind it."""

    per_litre: float | None
    per_net_litre: float | None
    parts: Mapping[str, float]
    capital: float
    yearly: float
    replacements: int
    battery_replacements: int = 0


def priced(size: PlantSize, numbers: Mapping[str, float]) -> Priced:
    """Cost a plant at one set of numbers, in the units of `library/prices.toml`.

    size: the plant; numbers: by name of assumption. Returns a Priced: cost of a delivered litre by part, and
    of a litre that reaches the tank (what it would be if every litre were drawn).
    """
    n = numbers
    devices = size.area * n["device_price"] + size.modules * n["module_price"]
    tank = size.tank_litres * n["tank_price"]
    treatment = n["treatment_price"]
    work = 365.0 / 60.0 * n["work_price"] * (n["work_plant"] + size.modules * n["work_module"])
    years = max(round(n["plant_life"]), 1)
    drawn = size.delivered / size.net if size.net > 0.0 else 0.0
    devices_buy = size.electricity if size.own_power is None else 0.0  # their own is paid as capital
    energy = devices_buy + n["treatment_energy"] * size.net
    paid = {  # at the start, in each year, at the end
        "devices": (devices, 0.0, 0.0),
        "tank": (tank, 0.0, 0.0),
        "treatment": (treatment, 0.0, 0.0),
        "installation": (n["installation_share"] * (devices + tank), 0.0, 0.0),
        "spare parts": (0.0, n["upkeep_share"] * (devices + tank + treatment), 0.0),
        "filters": (0.0, n["filter_price"], 0.0),
        "tests": (0.0, size.tests_per_year * n["sample_price"], 0.0),
        "work": (0.0, work, 0.0),
        "electricity": (0.0, energy * n["electricity_price"], 0.0),
        "end of life": (0.0, 0.0, n["end_of_life_share"] * devices),
    }

    rate = n["discount_rate"]
    bed = size.sorbent_mass * n["sorbent_price"]
    run = levelised(
        0.0, 0.0, size.net, rate, years, bed, n["sorbent_life"], n["sorbent_ageing"]
    )  # what is replaced, and the litres; the other parts are plain annuities
    worth = 1.0 / recovery_factor(rate, years)
    present = {name: a + b * worth + c * (1.0 + rate) ** -years for name, (a, b, c) in paid.items()}
    present["sorbent"] = run.present_cost
    power = _own_power(size, n, rate, years)
    present |= {part: kept.present_cost for part, (_, kept) in power.items()}
    litres = run.present_litres * drawn
    parts = {name: present[name] / litres if litres > 0.0 else math.nan for name in PARTS}
    total = sum(parts.values()) if litres > 0.0 else None
    bought = sum(price for price, _ in power.values())
    start = bed + bought + sum(sums[0] for sums in paid.values())
    yearly = sum(sums[1] for sums in paid.values())
    yearly += n["power_upkeep"] * bought if size.own_power is not None else 0.0
    per_net = total * drawn if total is not None else None
    return Priced(
        total, per_net, parts, start, yearly, run.replacements, power["battery"][1].replacements
    )  # fmt: skip


def _own_power(
    size: PlantSize, numbers: Mapping[str, float], rate: float, years: int
) -> dict[str, tuple[float, Levelised]]:
    """Buy and replace modules, battery and inverter: price at the start, and all that follows, by part.

    Each is bought anew at the end of its own life while the plant stands; what is left of it when the plant
    ends counts nothing, as with the sorbent. Upkeep is a share of the price in each year.
    """
    if size.own_power is None:
        return dict.fromkeys(OWN_POWER, (0.0, Levelised(0.0, 0.0, 0)))
    upkeep = numbers["power_upkeep"]
    return {
        part: (
            price,
            levelised(0.0, upkeep * price, 0.0, rate, years, price, numbers[f"{OWN_POWER[part]}_life"]),
        )
        for part, price in size.own_power.bought(numbers).items()
    }


@dataclass(frozen=True)
class LitreCost:
    """What a delivered litre of one plant costs.

    central: at the central numbers; low, median, high: exceeded in 90, 50 and 10 % of draws, each assumption
    drawn by itself between its low and high, with its central number as median [money/L]; swings: cost with
    one assumption at its low and at its high, the widest first; carbon: low, central, high [kg/L]. None
    where there is no litre.
    """

    currency: str
    central: Priced
    low: float | None
    median: float | None
    high: float | None
    swings: list[tuple[Assumption, float, float]]
    carbon: tuple[float, float, float] | None
    rows: Mapping[str, Assumption]
    size: PlantSize


def litre_cost(size: PlantSize, choices: CostChoices, sorbent: Sorbent | None, kind: str = "") -> LitreCost:
    """Cost a plant with its interval, the litres taken as certain.

    sorbent: None where it has none; kind: name of the kind of harvester. Returns a LitreCost.
    """
    rows = choices.for_plant(sorbent, kind)
    centre = {name: entry.value for name, entry in rows.items()}
    central = priced(size, centre)
    if central.per_litre is None:
        return LitreCost(choices.currency, central, None, None, None, [], None, rows, size)
    costs = [priced(size, numbers).per_litre for numbers in price_draws(rows)]
    low, median, high = (float(x) for x in np.quantile(np.array(costs, dtype=float), [0.1, 0.5, 0.9]))
    swings = []
    for name, entry in rows.items():
        if entry.high > entry.low:
            at_low, at_high = (
                priced(size, {**centre, name: end}).per_litre or 0.0 for end in (entry.low, entry.high)
            )
            swings.append((entry, at_low, at_high))
    swings.sort(key=lambda swing: -abs(swing[2] - swing[1]))
    carbon = litre_carbon(size, centre)
    return LitreCost(choices.currency, central, low, median, high, swings, carbon, rows, size)


def price_draws(
    rows: Mapping[str, Assumption], whose: Mapping[str, str] | None = None
) -> list[dict[str, float]]:
    """Draw every assumption by itself; the same draws for every plant.

    whose: name of an assumption to the goods that it is about, where plants with other goods are to have
    draws of their own.
    """
    rng = np.random.default_rng(SEED)
    table: dict[str, Floats] = {}
    for name, entry in rows.items():
        chance = rng.random(DRAWS)  # drawn for fixed numbers too: the others stay the same
        if whose and name in whose:
            chance = np.random.default_rng([SEED, *f"{name} {whose[name]}".encode()]).random(DRAWS)
        span = entry.high - entry.low
        middle = (entry.value - entry.low) / span if span > 0.0 else 0.5
        table[name] = entry.low + span * two_sided(chance, middle)
    return [
        dict(zip(table, numbers, strict=True))
        for numbers in zip(*(c.tolist() for c in table.values()), strict=True)
    ]


def two_sided(chance: Floats, middle: float) -> Floats:
    """Turn chances into draws on 0 to 1: half below middle, half above, thinning out evenly to both ends.

    So the central number is the median of its assumption, however lopsided the range.
    """
    below = middle * np.sqrt(2.0 * np.minimum(chance, 0.5))
    above = 1.0 - (1.0 - middle) * np.sqrt(2.0 * (1.0 - np.maximum(chance, 0.5)))
    return np.where(chance < 0.5, below, above)


def litre_carbon(size: PlantSize, numbers: Mapping[str, float]) -> tuple[float, float, float] | None:
    """Give the carbon of a delivered litre at low, central and high factors [kg CO2-equivalent / L].

    Embodied carbon of each material over the litres of the plant's life, the sorbent as often as it is
    replaced, and the electricity; transport and water treatment chemicals are left out. Our own sum.
    """
    years = max(round(numbers["plant_life"]), 1)
    run = levelised(
        0.0, 0.0, size.delivered, 0.0, years, 0.0, numbers["sorbent_life"], numbers["sorbent_ageing"]
    )
    if run.present_litres <= 0.0:
        return None
    factors = price_tables()["carbon"]
    masses = {**size.masses, "sorbent": size.sorbent_mass * (1 + run.replacements)}
    treatment = numbers["treatment_energy"] * size.net * years
    own = "electricity" if size.own_power is None else "own_electricity"

    def at(end: str) -> float:
        embodied = sum(mass * factors[name][end] for name, mass in masses.items())
        energy = size.electricity * years * factors[own][end] + treatment * factors["electricity"][end]
        return float((embodied + energy) / run.present_litres)

    return at("low"), at("value"), at("high")


def priced_by_piece(rows: Mapping[str, Assumption]) -> bool:
    """Whether a plant is paid by the module and not by the m2."""
    return rows["module_price"].value > 0.0 and rows["device_price"].value == 0.0


@dataclass(frozen=True)
class BreakEven:
    """What would have to be for a litre to cost as much as another price; None where nothing does it.

    litres_per_day: delivered by the same plant [L/day]; device_price: [money/m2], or of a module where the
    kind is priced by the piece [money].
    """

    litres_per_day: float | None
    device_price: float | None


def break_even(cost: LitreCost, price: float) -> BreakEven:
    """Find the litres, or the price of the devices, at which a delivered litre costs a price [money/L].

    Litres: all that is paid stays and only the litres grow, electricity of the devices per litre as before.
    """
    size, numbers = cost.size, {name: entry.value for name, entry in cost.rows.items()}
    now = cost.central.per_litre
    if now is None or price <= 0.0:
        return BreakEven(None, None)
    energy = cost.central.parts["electricity"]
    litres = size.delivered / 365.0 * (now - energy) / (price - energy) if price > energy else None
    name = "module_price" if priced_by_piece(cost.rows) else "device_price"
    free = priced(size, {**numbers, name: 0.0}).per_litre or 0.0
    one = priced(size, {**numbers, name: 1.0}).per_litre or 0.0
    device = (price - free) / (one - free) if one > free else None
    return BreakEven(litres, device if device is not None and device > 0.0 else None)


def cost_summary(cost: LitreCost) -> dict[str, Any]:
    """Give the figures of a litre's cost as they stand in the summary."""
    central = cost.central
    return {
        "currency": cost.currency,
        "per_litre_delivered": {
            "low": cost.low, "central": central.per_litre, "median": cost.median, "high": cost.high,
        },
        "per_litre_reaching_the_tank": central.per_net_litre,
        "interval": f"exceeded in 90, 50 and 10 % of {DRAWS} seeded draws of prices; litres taken as certain",
        "parts_per_litre": {
            name: _or_none(value) for name, value in central.parts.items()
        },
        "capital": central.capital,
        "yearly": central.yearly,
        "sorbent_replacements": central.replacements,
        "own_power": _own_power_summary(cost),
        "carbon_kg_per_litre": dict(zip(("low", "central", "high"), cost.carbon or (None,) * 3, strict=True)),
        "assumptions": {
            name: {
                "value": entry.value, "low": entry.low, "high": entry.high, "unit": entry.unit,
                "from": "case" if entry.given else "assumption", "source": entry.source, "where": entry.where,
            }
            for name, entry in cost.rows.items()
        },
    }  # fmt: skip


def _own_power_summary(cost: LitreCost) -> dict[str, Any] | None:
    """Give what the plant's own electricity adds to capital and cost; None where electricity is bought."""
    own = cost.size.own_power
    if own is None:
        return None
    bought = own.bought({name: entry.value for name, entry in cost.rows.items()})
    return {
        "capital": sum(bought.values()),
        "capital_by_part": bought,
        "battery_replacements": cost.central.battery_replacements,
        "per_litre_delivered": _or_none(sum(cost.central.parts[part] for part in OWN_POWER)),
    }


def _or_none(value: float) -> float | None:
    return value if math.isfinite(value) else None
