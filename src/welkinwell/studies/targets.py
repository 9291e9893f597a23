"""Targets on the days met and on the cost of a litre: what of the plant may change, and what forbids them."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np
import xarray as xr

from welkinwell.case import Case
from welkinwell.errors import InputError, Problem
from welkinwell.harvesters.kinds import KINDS
from welkinwell.limits.bound import Bound
from welkinwell.quantities import litres_on, to_si
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.reach import Aim
from welkinwell.studies.variables import Variable, bed_volume
from welkinwell.supply.cost import PlantSize, priced
from welkinwell.supply.net_water import net_water
from welkinwell.supply.plant import OPEN_TANK
from welkinwell.supply.tank import MET, TankYear, tank_year
from welkinwell.supply.verdict import money
from welkinwell.year import figures

MORE: Final = 4.0  # times the case's modules that a search takes at most
FEW: Final = 12  # modules that it may take in any case
TANKS: Final = (0.25, 10.0)  # times the case's tank
DAYS: Final = 365
OwnCost = Callable[..., Mapping[str, float | None]]


def plant_variables(case: Case, design: Any, vary: Sequence[str] = ()) -> tuple[Variable, ...]:
    """How many modules, and which tank where the case has one; vary: "modules=1..40", "tank=100 L..2 m3"."""
    now = float(design.modules)
    most = float(max(math.ceil(MORE * now), FEW))
    found = [_plant_variable("modules", "Modules", "1", 1.0, most, now)]
    if case.tank is not None:
        volume = case.tank.volume
        found.append(_plant_variable("tank", "Tank", "L", TANKS[0] * volume, TANKS[1] * volume, volume))
    for text in vary:
        key, _, span = text.partition("=")
        known = {one.key: number for number, one in enumerate(found)}
        if key.strip() not in known:
            raise InputError(Problem("vary", repr(text), "modules, or a tank that the case has"))
        number = known[key.strip()]
        low, dots, high = span.partition("..")
        unit = found[number].unit
        if not dots:
            raise InputError(Problem(f"vary, {key.strip()}", repr(span), "low..high, as in modules=1..40"))
        ends = [float(to_si(end.strip(), unit)) for end in (low, high)]
        if not 0.0 < ends[0] < ends[1]:
            raise InputError(Problem(f"vary, {key.strip()}", repr(span), "a rising range above zero"))
        found[number] = replace(found[number], low=ends[0], high=ends[1])
    return tuple(found)


def is_of_plant(text: str) -> bool:
    """Whether a "field=low..high" speaks of the plant."""
    return text.partition("=")[0].strip() in ("modules", "tank")


def days_aim(case: Case, plant: tuple[Variable, ...]) -> Aim:
    """A target on the share of days on which the whole demand is drawn [1]."""

    def days_met(design: Any, material: Any, year: xr.Dataset, values: Sequence[float]) -> float:
        return tank_of(case, year, *values).share_of_days_met

    return Aim(
        "share_of_days_met", "% of the days", "a share of days", False, "hours", days_met, 0.0, plant, 100.0
    )


def cost_aim(case: Case, plant: tuple[Variable, ...], own: OwnCost) -> Aim:
    """A target on what a delivered litre costs [money/L].

    own(design, sorbent, litres, electricity, tank=): figures of a design, with a tank [L], its "cost" that of
    a litre that reaches the gutter; what is drawn shares it.
    """

    def cost(design: Any, material: Any, year: xr.Dataset, values: Sequence[float]) -> float | None:
        drawn = float(tank_of(case, year, *values).delivered.mean())
        found = figures(year)
        sized = replace(design, modules=round(values[0]))
        tank = 1000.0 * values[1] if len(values) > 1 else 0.0
        collected = found["litres_per_m2_day"]
        used = found["electricity_kwh_per_litre"] or 0.0
        per_litre = own(sized, material, collected, used, tank=tank)["cost"]
        area = float(design.basis_area * sized.modules)
        return None if per_litre is None or drawn <= 0.0 else per_litre * collected * area / drawn

    unit = f"{case.cost.currency} a delivered litre"
    return Aim("cost_per_delivered_litre", unit, "a cost", True, "hours", cost, 1e3, plant)


def tank_of(
    case: Case, year: xr.Dataset, modules: float | None = None, volume: float | None = None
) -> TankYear:
    """Run a year's net water through the case's tank by day, or of other modules and tank [m3]."""
    area = float(year.attrs["basis_area"] * (modules or year.attrs["modules"]))
    net = net_water(year["water_collected"].values * area, area, case.collection, case.treatment).by_day()
    tank = OPEN_TANK
    if case.tank is not None:
        tank = case.tank.usable * 1000.0 * ((volume or case.tank.volume) / case.tank.volume)
    return tank_year(net, case.demand.daily(net.size), tank)


def days_bound(case: Case, design: Any, aim: Aim, litres: Bound) -> Bound:
    """Most days that a bound on the litres lets be met: smallest demands first, a full tank at the start."""
    modules = aim.plant[0].high
    water = litres.value * DAYS * design.basis_area * modules
    if case.tank is not None:
        tank = 1000.0 * case.tank.usable * aim.plant[1].high / case.tank.volume
        water += min(tank, water)
    else:
        water += water
    daily = case.demand.daily(DAYS)
    demands = np.cumsum(np.sort(daily[daily > MET]))
    share = float(np.searchsorted(demands, water, side="right")) / demands.size
    unit = litres_on(KINDS[design.kind].basis, "²")
    note = (
        f"{modules:.0f} such modules, the most that may stand there, give at most {litres.value:.2f} "
        f"{unit}, enough for {100.0 * share:.1f} % of the days."
    )
    return replace(litres, key="days", value=share, unit=aim.unit, by_month=(), note=note)


def cost_bound(
    case: Case,
    design: Any,
    aim: Aim,
    litres: Bound,
    own: Sorbent | None,
    held: Sorbent | None,
    variables: Sequence[Variable],
    prices: Mapping[str, float],
) -> Bound:
    """Least cost of a delivered litre that a bound on the litres and the prices leave.

    Of every number of modules: devices, the least sorbent and the least tank are paid, no electricity, and
    everything that the bound allows is drawn, up to the demand. own, held: sorbents of the design and of the
    bed; prices: central.
    """
    demand = float(case.demand.daily(DAYS).sum())
    tank = 1000.0 * aim.plant[1].low if case.tank is not None else 0.0
    mass = _least_mass(design, own, held, variables)
    least = math.inf
    for modules in range(1, round(aim.plant[0].high) + 1):
        area = float(design.basis_area * modules)
        drawn = min(demand, litres.value * area * DAYS)
        tests = case.treatment.samples_per_year
        size = PlantSize(area, modules, mass * area, tank, tests, drawn, drawn, 0.0)
        least = min(least, priced(size, prices).per_litre or math.inf)
    unit = litres_on(KINDS[design.kind].basis, "²")
    note = (
        f"with at most {litres.value:.2f} {unit}, and no more drawn than is wanted, the prices of the "
        f"case leave no litre below {money(least)} {case.cost.currency}."
    )
    name = f"{litres.name} and the prices"
    return replace(litres, key="cost", name=name, value=least, unit=aim.unit, by_month=(), note=note)


def _least_mass(
    design: Any, own: Sorbent | None, held: Sorbent | None, variables: Sequence[Variable]
) -> float:
    """Least dry sorbent within the ranges [kg/m2]."""
    volume = bed_volume(design)
    lows = {one.key: one.low for one in variables if one.of == "design" and hasattr(design, one.key)}
    if own is None or held is None or volume is None or "sorbent_mass" in lows:
        return 0.0
    sizes = ("layer_thickness", "bed_area", "bed_depth")
    thinnest = replace(design, **{k: min(lows[k], getattr(design, k)) for k in sizes if k in lows})
    return float(
        design.sorbent_mass * held.bulk_density / own.bulk_density * (bed_volume(thinnest) or 0.0) / volume
    )


def _plant_variable(key: str, name: str, unit: str, low: float, high: float, now: float) -> Variable:
    def kept(design: Any, sorbent: Any, value: float) -> tuple[Any, Any]:
        return design, sorbent

    return Variable(key, name, unit, low, high, True, "plant", lambda design, sorbent: now, kept)
