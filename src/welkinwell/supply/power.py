"""Electricity off the grid, hour by hour: solar cells, a battery and an inverter under a plant's own load.

Cells: the sun that enters them, their temperature, their loss with it. Battery: a store between a floor and
full, with losses on the way in, on the way out and with time. Inverter: its efficiency at part load, and what
it draws while nothing runs. From these: what a pair of array and battery leaves unserved, which pairs meet a
wanted share, and the cheapest or smallest of them. docs/theory/off_grid.md holds the equations.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import DAYS_IN_MONTH
from welkinwell.declare import choice, declared_fields, quantity, read_fields, unknown_keys
from welkinwell.errors import Problem
from welkinwell.parts.battery import battery_hours
from welkinwell.supply.cost import OWN_POWER, CostChoices, OwnPower, recovery_factor
from welkinwell.supply.money import Assumption, assumption, library_currency, price_tables, read_assumption

Floats = NDArray[np.float64]

HOUR: Final = 3600.0  # s
KWH: Final = 3.6e6  # J
MONTH: Final = 30.0 * 86400.0  # s, to which self-discharge refers
STANDARD_SUN: Final = 1000.0  # W/m2, and
STANDARD_CELL: Final = 298.15  # K: standard test conditions of cells
# Heat from a module to the air, W/(m2 K) and W s/(m3 K); means of measured modules, Faiman2008
MODULE_STILL: Final = 25.0
MODULE_WIND: Final = 6.84
# Loss curve of an inverter over its load: Dobos2014, eq. 12 (coefficients), for 0.9637 at full load
CURVE: Final = (-0.0162, 0.9858, -0.0059)
CURVE_AT_FULL: Final = 0.9637
AREA_STEPS: Final = tuple(float(x) for x in np.geomspace(0.8, 8.0, 19))  # of the area that serves the mean
MOST_DAYS: Final = 60.0  # of the mean load, beyond which no battery is looked for
HALVINGS: Final = 24
OFFERED: Final = (0.001, 0.01, 0.05, 0.2)  # shares of energy unserved, for the curves
PRICE_KEYS: Final = (
    *("pv_price", "battery_price", "inverter_price", "pv_life", "battery_life", "inverter_life"),
    "power_upkeep",
)
CITATIONS: Final = ("Dobos2014", "Faiman2008", "DeSoto2006", "Borowy1996")


@dataclass(frozen=True)
class OffGridSupply:
    """The [power] table: electricity from the plant's own cells and battery. SI inside.

    Defaults are common practice without a source where none is named: modules of crystalline silicon, a
    lithium iron phosphate battery.
    """

    pv_area: float | None = quantity(
        "m2", "Area of solar modules; sized here when not given", default=None, low=0.0, high=1e6
    )
    battery: float | None = quantity(
        "kWh", "Capacity of the battery; sized here when not given", default=None, low=0.0, high=1e6
    )
    unserved: float = quantity(
        "1", "Share of the year's electricity that may stay unserved", default=0.01, low=0.0, high=0.5
    )
    choose: str = choice(
        ("least cost", "least area"), "Which pair of array and battery is taken", default="least cost"
    )
    other_load: float = quantity(
        "W", "Electricity beside the plant's own, round the clock: pumps, light", default=0.0, low=0, high=1e6
    )

    # Cells
    tilt: float = quantity("deg", "Slope of the modules from horizontal", default=30.0, low=0.0, high=90.0)
    facing: str = choice(
        ("equator", "north", "east", "south", "west"), "Where the modules look", default="equator"
    )
    module_efficiency: float = quantity(
        "1", "Electricity over sun at 1000 W/m2 and cells of 25 degC", default=0.20, low=0.03, high=0.4
    )
    temperature_coefficient: float = quantity(
        "1/K", "Change of that power for each kelvin of the cells (Dobos2014: -0.0035 to -0.0047)",
        default=-0.0037, low=-0.01, high=0.0,
    )  # fmt: skip
    system_losses: float = quantity(
        "1", "Lost to dirt, wiring, mismatch, age (Dobos2014: 0.14)", default=0.14, low=0.0, high=0.9
    )
    controller_efficiency: float = quantity(
        "1", "Charge controller, in over out", default=0.97, low=0.5, high=1.0
    )

    # Battery
    charge_efficiency: float = quantity("1", "Into the battery", default=0.96, low=0.5, high=1.0)
    discharge_efficiency: float = quantity("1", "Out of the battery", default=0.96, low=0.5, high=1.0)
    depth_of_discharge: float = quantity(
        "1", "Share of the capacity that may be used", default=0.8, low=0.05, high=1.0
    )
    self_discharge: float = quantity(
        "1", "Share of what it holds that a battery loses in 30 days", default=0.03, low=0.0, high=0.9
    )
    charge_rate: float = quantity(
        "1/h", "Highest power in or out over the capacity", default=0.5, low=0.01, high=10.0
    )

    # Inverter
    inverter_power: float | None = quantity(
        "W", "Rating; 1.25 times the highest hour when not given", default=None, low=1.0, high=1e7
    )
    inverter_efficiency: float = quantity(
        "1", "At full load (Dobos2014: 0.96)", default=0.96, low=0.5, high=0.995
    )
    standby_share: float = quantity(
        "1", "Drawn while nothing runs, over the rating", default=0.005, low=0.0, high=0.2
    )


@dataclass(frozen=True)
class PowerChoices:
    """The [power] table as read: the supply, and its prices in the case's currency by name."""

    supply: OffGridSupply
    prices: Mapping[str, Assumption]


def read_power(table: Any, where: str, cost: CostChoices, problems: list[Problem]) -> PowerChoices | None:
    """Read the [power] table; adds what is wrong with it to problems, and is then None."""
    if not isinstance(table, Mapping):
        problems.append(Problem(where, repr(table), "a table"))
        return None
    before = len(problems)
    fields = declared_fields(OffGridSupply)
    problems += unknown_keys(table, [*fields, *PRICE_KEYS], where)
    supply, found = read_fields(OffGridSupply, {k: table[k] for k in table if k in fields}, where)
    problems += found
    currencies: dict[str, str] = {}
    prices = {}
    for name, row in power_prices(cost).items():
        prices[name] = row
        if name in table:
            told = read_assumption(row, table[name], f"{where}, {name}", currencies, problems)
            prices[name] = told
    for place, currency in currencies.items():
        if currency != cost.currency:
            problems.append(
                Problem(place, f"money in {currency}", f"money in {cost.currency}, as the rest of the case",
                        "Convert it; nothing is converted here, since rates change.")
            )  # fmt: skip
    return None if len(problems) > before or supply is None else PowerChoices(supply, prices)


def power_prices(cost: CostChoices) -> dict[str, Assumption]:
    """Give the library's prices of modules, battery and inverter in a case's currency, by name."""
    found = {}
    for name, row in price_tables()["power"].items():
        entry = assumption(name, row)
        if entry.is_money and cost.currency != library_currency():
            entry = Assumption(
                name, entry.value * cost.rate, entry.low * cost.rate, entry.high * cost.rate,
                cost.currency + entry.unit[3:], entry.sentence, entry.year, entry.source, entry.seen,
                f"{entry.where}; at {cost.rate:g} {cost.currency} for 1 {library_currency()}",
            )  # fmt: skip
        found[name] = entry
    return found


# ---------------------------------------------------------------- parts
def cell_temperature(air: Any, sun: Any, wind: Any) -> Any:
    """Temperature of cells in an open rack, T_a + G/(u0 + u1 v).

    air: outdoor temperature [K]; sun: on the plane [W/m2]; wind: at the modules [m/s]; any one shape.
    Returns [K]. Source: Faiman2008, eq. 5 with its mean coefficients.
    """
    return np.asarray(air) + np.asarray(sun) / (MODULE_STILL + MODULE_WIND * np.asarray(wind))


def array_power(entered: Any, cells: Any, supply: OffGridSupply) -> Any:
    """Power of a m2 of modules behind its charge controller, eta G (1 + gamma (T - 25 degC)) (1 - losses).

    entered: sun on the plane as far as it enters the glass, over what enters at normal incidence [W/m2];
    cells: temperature of the cells [K]; supply: the [power] table. Returns [W/m2]. Source: Dobos2014,
    equations 8 and 9.
    """
    hot = 1.0 + supply.temperature_coefficient * (np.asarray(cells) - STANDARD_CELL)
    bare = supply.module_efficiency * np.asarray(entered) * np.maximum(hot, 0.0)
    return bare * (1.0 - supply.system_losses) * supply.controller_efficiency


def inverter_input(load: Any, rating: float, efficiency: float, standby_share: float) -> Any:
    """Direct current that an inverter takes for a load, the loss curve turned round.

    P_ac = (eta/0.9637)(-0.0162 z + 0.9858 - 0.0059/z) P_dc with z = P_dc/P_0 and P_0 = rating/eta, so that
    z = (0.9858 - sqrt(0.9858^2 - 4 x 0.0162 (0.0059 + 0.9637 P_ac/rating)))/(2 x 0.0162); without load its
    standby.

    load: alternating current, no more than the rating [W]; rating [W]; efficiency: eta at full load [1];
    standby_share: of the rating [1]. Returns [W]. Source: Dobos2014, eqs. 10 to 12.
    """
    a, b, c = CURVE
    served = np.minimum(np.asarray(load, dtype=float), rating)
    z = (b - np.sqrt(b * b + 4.0 * a * (-c + CURVE_AT_FULL * served / rating))) / (-2.0 * a)
    return np.where(served > 0.0, z * rating / efficiency, standby_share * rating)


@dataclass(frozen=True)
class BatteryYear:
    """What a battery did through a year: missing direct current, charge and unused sun by hour [J]."""

    short: Floats
    stored: Floats
    spilled: Floats


def battery_year(supply: Floats, load: Floats, capacity: float, choices: OffGridSupply) -> BatteryYear:
    """Run a battery under a supply and a load, both direct current by hour [W]; capacity [J]."""
    found = [np.zeros(load.size) for _ in range(3)]
    battery_hours(
        supply, load, capacity, (1.0 - choices.depth_of_discharge) * capacity,
        (1.0 - choices.self_discharge) ** (HOUR / MONTH), choices.charge_efficiency,
        choices.discharge_efficiency, choices.charge_rate * capacity, *found,
    )  # fmt: skip
    return BatteryYear(*found)


# ---------------------------------------------------------------- sizing
@dataclass(frozen=True)
class Pair:
    """Modules [m2] and battery [J] together, and what they cost in a year [money/year]."""

    area: float
    battery: float
    yearly: float


def lacking(missing: Floats, load: Floats) -> NDArray[np.bool_]:
    """Say in which hours some of a load is missing. missing [J], load [W]: by hour, shape (hours,)."""
    return np.asarray(missing > 1e-6 * load * HOUR) & (load > 0.0)


@dataclass(frozen=True)
class OffGrid:
    """A plant's electricity off the grid.

    load: alternating current by hour [W]; made: by a m2 of modules [W/m2]; inverter: rating [W]; curves: by
    share unserved, areas (n,) [m2] and least batteries (n,) [J], nan where none is large enough; pair: the
    one that is taken; year: what its battery did; unserved: alternating current by hour that is missing [J];
    sized: whether area and battery come from here.
    """

    choices: PowerChoices
    load: Floats
    made: Floats
    inverter: float
    curves: Mapping[float, tuple[Floats, Floats]]
    pair: Pair
    year: BatteryYear
    unserved: Floats
    sized: tuple[bool, bool]
    rate: float

    @property
    def energy(self) -> float:
        """Electricity asked for in the year [J]."""
        return float(self.load.sum() * HOUR)

    @property
    def unserved_share(self) -> float:
        """Share of that energy that is missing [1]."""
        return float(self.unserved.sum()) / self.energy if self.energy > 0.0 else 0.0

    @property
    def dark(self) -> NDArray[np.bool_]:
        """Hours in which some of the load is missing, shape (hours,)."""
        return lacking(self.unserved, self.load)

    @property
    def unserved_by_month(self) -> Floats:
        """Missing electricity of each month, shape (12,) [J]."""
        parts = np.split(self.unserved, np.cumsum(DAYS_IN_MONTH)[:-1] * 24)
        return np.array([float(part.sum()) for part in parts])

    @property
    def peak_power(self) -> float:
        """Power of the modules under standard test conditions [W]."""
        return self.pair.area * self.choices.supply.module_efficiency * STANDARD_SUN

    @property
    def sizes(self) -> OwnPower:
        """Modules, battery and inverter as they are paid for."""
        return _sizes(self.pair.area, self.pair.battery, self.inverter, self.choices.supply)

    @property
    def capital(self) -> float:
        """What modules, battery and inverter cost to start [money]."""
        value = {name: entry.value for name, entry in self.choices.prices.items()}
        return sum(self.sizes.bought(value).values())

    def per_kwh(self, end: str = "value") -> float | None:
        """Cost of a served kWh, every price at its low, value or high; None without one [money/kWh]."""
        served = (self.energy - float(self.unserved.sum())) / KWH
        numbers = {name: float(getattr(entry, end)) for name, entry in self.choices.prices.items()}
        if end != "value":  # a long life is a low cost
            other = {"low": "high", "high": "low"}[end]
            for name in ("pv_life", "battery_life", "inverter_life"):
                numbers[name] = float(getattr(self.choices.prices[name], other))
        sum_ = yearly_cost(
            self.pair.area, self.pair.battery, self.inverter, self.choices.supply, numbers, self.rate
        )
        return sum_ / served if served > 0.0 else None


def _sizes(area: float, battery: float, inverter: float, supply: OffGridSupply) -> OwnPower:
    peak = area * supply.module_efficiency * STANDARD_SUN / 1000.0
    return OwnPower(area, peak, battery / KWH, inverter / 1000.0)


def yearly_cost(
    area: float,
    battery: float,
    inverter: float,
    supply: OffGridSupply,
    numbers: Mapping[str, float],
    rate: float,
) -> float:
    """Yearly payment for modules, battery and inverter, each over its own life, and their upkeep.

    area: of modules [m2]; battery: capacity [J]; inverter: rating [W]; supply: the [power] table; numbers:
    prices and lives by name, in the units of prices.toml; rate: discount rate [1/year]. Returns [money/year].
    Annuities.
    """
    total = 0.0
    for part, price in _sizes(area, battery, inverter, supply).bought(numbers).items():
        life = numbers[f"{OWN_POWER[part]}_life"]
        total += price * (recovery_factor(rate, life) + numbers["power_upkeep"])
    return total


def size_off_grid(made: Floats, load: Floats, choices: PowerChoices, rate: float) -> OffGrid:
    """Size modules and battery for a plant's load, or see what a given pair serves.

    made: power of a m2 of modules by hour [W/m2]; load: alternating current by hour, the [power] table's
    other load in it [W]; choices: the table; rate: discount rate [1/year]. Returns an OffGrid.
    """
    supply = choices.supply
    rating = supply.inverter_power or 1.25 * float(load.max())
    taken = inverter_input(load, rating, supply.inverter_efficiency, supply.standby_share)
    study = _Study(made, load, taken, np.maximum(load - rating, 0.0) * HOUR, choices, rating, rate)
    curves = {}
    for share in sorted({*OFFERED, supply.unserved}):
        areas = study.areas()
        curves[share] = (areas, np.array([study.least_battery(area, share) for area in areas]))
    pair = study.chosen(curves[supply.unserved])
    year = study.year(pair.area, pair.battery)
    return OffGrid(
        choices, load, made, rating, curves, pair, year, study.missing(year),
        (supply.pv_area is None, supply.battery is None), rate,
    )  # fmt: skip


@dataclass(frozen=True)
class _Study:
    """What stays the same while pairs are tried."""

    made: Floats
    load: Floats
    taken: Floats
    beyond: Floats
    choices: PowerChoices
    rating: float
    rate: float

    def year(self, area: float, battery: float) -> BatteryYear:
        return battery_year(area * self.made, self.taken, battery, self.choices.supply)

    def missing(self, year: BatteryYear) -> Floats:
        """Alternating current that the missing direct current stands for, and what exceeds the rating."""
        share = np.divide(year.short, self.taken * HOUR, out=np.zeros(self.load.size), where=self.taken > 0.0)
        return np.minimum(self.load, self.rating) * HOUR * np.minimum(share, 1.0) + self.beyond

    def share(self, area: float, battery: float) -> float:
        energy = float(self.load.sum() * HOUR)
        return float(self.missing(self.year(area, battery)).sum()) / energy if energy > 0.0 else 0.0

    def areas(self) -> Floats:
        """Areas round the one whose yearly mean equals what the inverter takes."""
        per_area = float(self.made.mean())
        if per_area <= 0.0:
            return np.zeros(0)
        return np.array(AREA_STEPS) * float(self.taken.mean()) / per_area

    def least_battery(self, area: float, share: float) -> float:
        """Least capacity that leaves no more than a share unserved, by halving; nan where none does [J]."""
        low, high = 0.0, MOST_DAYS * 86400.0 * float(self.taken.mean())
        if self.share(area, high) > share:
            return math.nan
        if self.share(area, low) <= share:
            return 0.0
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if self.share(area, middle) <= share else (middle, high)
        return high

    def least_area(self, battery: float, share: float) -> float:
        """Least area of modules for a battery; nan where none is large enough [m2]."""
        areas = self.areas()
        if areas.size == 0 or self.share(20.0 * areas[-1], battery) > share:
            return math.nan
        low, high = 0.0, 20.0 * float(areas[-1])
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if self.share(middle, battery) <= share else (middle, high)
        return high

    def pair(self, area: float, battery: float) -> Pair:
        numbers = {name: entry.value for name, entry in self.choices.prices.items()}
        cost = yearly_cost(area, battery, self.rating, self.choices.supply, numbers, self.rate)
        return Pair(area, battery, cost)

    def chosen(self, curve: tuple[Floats, Floats]) -> Pair:
        """Give the pair as drawn, or the best that leaves no more than the wanted share unserved.

        Where no pair does, the largest that was tried: its own figures say how far that is.
        """
        supply = self.choices.supply
        if supply.pv_area is not None and supply.battery is not None:
            return self.pair(supply.pv_area, supply.battery)
        largest = MOST_DAYS * 86400.0 * float(self.taken.mean())
        if supply.pv_area is not None:
            battery = self.least_battery(supply.pv_area, supply.unserved)
            return self.pair(supply.pv_area, battery if math.isfinite(battery) else largest)
        areas, batteries = curve
        if supply.battery is not None:
            area = self.least_area(supply.battery, supply.unserved)
            most = float(areas[-1]) if areas.size else 0.0
            return self.pair(area if math.isfinite(area) else most, supply.battery)
        pairs = [
            self.pair(float(a), float(b)) for a, b in zip(areas, batteries, strict=True) if math.isfinite(b)
        ]
        if not pairs:
            return self.pair(float(areas[-1]) if areas.size else 0.0, largest)
        if supply.choose == "least area":
            return min(pairs, key=lambda pair: pair.area)
        return min(pairs, key=lambda pair: pair.yearly)


def power_summary(found: OffGrid) -> dict[str, Any]:
    """Give the figures of an off-grid supply as they stand in the summary."""
    return {
        "pv_area_m2": found.pair.area,
        "pv_peak_kw": found.peak_power / 1000.0,
        "battery_kwh": found.pair.battery / KWH,
        "inverter_kw": found.inverter / 1000.0,
        "sized_here": {"pv_area": found.sized[0], "battery": found.sized[1]},
        "wanted_unserved_share": found.choices.supply.unserved,
        "unserved_share": found.unserved_share,
        "hours_without_full_power": int(found.dark.sum()),
        "electricity_kwh_per_year": found.energy / KWH,
        "unserved_kwh_by_month": [float(x) / KWH for x in found.unserved_by_month],
        "unused_sun_kwh_per_year": float(found.year.spilled.sum()) / KWH,
        "capital": found.capital,
        "cost_per_kwh": {
            "low": found.per_kwh("low"), "central": found.per_kwh(), "high": found.per_kwh("high"),
        },
        "area_against_battery": [
            {
                "unserved_share": share,
                "pv_area_m2": [float(a) for a in areas],
                "battery_kwh": [float(b) / KWH if math.isfinite(b) else None for b in batteries],
            }
            for share, (areas, batteries) in found.curves.items()
        ],
    }  # fmt: skip
