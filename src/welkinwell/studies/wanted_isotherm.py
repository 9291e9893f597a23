"""The isotherm that a place wants: the step, its width and its heat that would give the most water there.

A made-up solid with one Sips term, q = q_max / (1 + exp((A - A_half(T)) / s)), stands in the same box. Its
capacity is fixed, so that only the shape is sought: the potential of half filling A_half at 25 degC, the
width s, the excess heat h over the latent heat, and the mass, which must be free or the shape would make up
for a wrong mass. A_half moves with temperature by (A_half - h) / 298.15 K, which is what an isosteric heat of
latent heat plus h means at half filling (Clausius and Clapeyron; see sips_terms). The litres of typical weeks
are climbed by their gradient: central differences of simulations, all of one gradient in one batch, from the
best point of a coarse grid, inside bounds (L-BFGS-B, Byrd1995). What comes out is a maximum of this made-up
solid in this box, not of everything that chemistry allows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.moist_air import latent_heat
from welkinwell.sorbents.row import SLOT_HYSTERESIS
from welkinwell.sorbents.sips_terms import REFERENCE_TEMPERATURE, fill_row
from welkinwell.sorbents.sorbent import Sorbent, sorbent
from welkinwell.studies.rank import Bed, Ranked, bed_of
from welkinwell.studies.runner import run_all
from welkinwell.studies.typical_weeks import Days

Floats = NDArray[np.float64]

CAPACITY: Final = 0.4  # kg/kg: frameworks with a step hold 0.3 to 0.45 (common practice, no source)
BODY: Final = "aluminium_fumarate"  # whose density, specific heat, conductivity and rate the solid has
STANDS: Final = 423.15  # K: the solid never makes the box vent before the box's own limit
# Lowest, highest and difference step of each number sought: potential, width and heat over the latent heat
# [J/mol], mass [kg/m2]. Frameworks with a step are 130 to 540 wide; no sheet of the library has more heat
# over the latent heat at half filling than 15,000. Width and mass are sought in their logarithms.
RANGES: Final = {
    "potential": (300.0, 12000.0, 200.0),
    "width": (150.0, 3000.0, 0.08),
    "heat": (0.0, 15000.0, 400.0),
    "mass": (1.0, 32.0, 0.05),
}
LOGARITHMIC: Final = ("width", "mass")
GRID: Final = ((800.0, 2000.0, 3500.0, 5500.0, 8000.0), (4.0, 12.0))  # potentials and masses to begin from
BEGIN: Final = (400.0, 4000.0)  # width and heat to begin from
ROUNDS: Final = 4  # of climbing, each from the best point seen
CLIMBS: Final = 25  # steps of the climb at most
AROUND: Final = {"potential": 600.0, "width": 0.5, "heat": 2000.0, "mass": 0.3}  # how far the slices look


@dataclass(frozen=True)
class Wanted:
    """The best isotherm found at a place.

    potential: of half filling at 25 degC [J/mol]; width [J/mol]; heat: excess over the latent heat [J/mol];
    mass: dry, of a solid that holds CAPACITY [kg/m2]; litres_per_m2_day: in the mean of the typical weeks;
    at_bound: numbers that ended at a bound of the search; slices: litres with one number moved, for each
    number values and litres; nearest: keys of the nearest sheets with the mean difference of their shares
    filled, nearest first [1]; runs: simulations that it took; bed: what the bed did.
    """

    potential: float
    width: float
    heat: float
    mass: float
    litres_per_m2_day: float
    at_bound: tuple[str, ...]
    slices: dict[str, tuple[Floats, Floats]]
    nearest: tuple[tuple[str, float], ...]
    runs: int
    bed: Bed

    @property
    def humidity(self) -> float:
        """Relative humidity at which it is half full at 25 degC [1]."""
        return float(np.exp(-self.potential / (GAS_CONSTANT * REFERENCE_TEMPERATURE)))

    @property
    def isosteric_heat(self) -> float:
        """Isosteric heat at half filling and 25 degC [J/kg of water]."""
        return float(latent_heat(REFERENCE_TEMPERATURE)) + self.heat / WATER_MOLAR_MASS


def wanted_isotherm(
    days: Days,
    design: Any,
    entries: Sequence[Ranked] = (),
    progress: Callable[[float], None] | None = None,
) -> Wanted:
    """Search for the isotherm that gives the most water in a box on some days.

    Args: days: typical weeks or a whole year; design: the box, its mass and thickness aside; entries: ranked
    sheets to find the nearest among; progress: called with a rising share [1]. Returns: what was found.
    """
    from scipy.optimize import minimize

    search = _Search(days, design, progress)
    starts = [
        search.scaled((potential, BEGIN[0], BEGIN[1], mass)) for potential in GRID[0] for mass in GRID[1]
    ]
    search.litres(starts)
    for _ in range(ROUNDS):
        minimize(
            search.loss_and_slope,
            search.best,
            jac=True,
            method="L-BFGS-B",
            bounds=[(0.0, 1.0)] * len(RANGES),
            options={"maxiter": CLIMBS, "ftol": 3e-4, "gtol": 1e-3},
        )
        best, highest = search.best, search.highest  # of all points seen, which the last need not be
        slices = search.slices(best)
        if search.highest == highest:
            break
        # a neighbour gives more: the climb stopped on a ledge, and goes on from there
    else:
        best = search.best
        slices = search.slices(best)
    numbers = search.numbers(best)
    made, bed = made_up(*numbers[:3]), search.bed(best)
    return Wanted(
        *numbers,
        litres_per_m2_day=bed.litres_per_m2_day,
        at_bound=tuple(name for name, x in zip(RANGES, best, strict=True) if not 0.005 < x < 0.995),
        slices=slices,
        nearest=_nearest(made, entries),
        runs=search.runs,
        bed=bed,
    )


def made_up(potential: float, width: float, heat: float) -> Sorbent:
    """Make the solid of one Sips term.

    Args: potential: A_half at 25 degC [J/mol]; width: s [J/mol]; heat: h, excess of the isosteric over the
    latent heat at half filling [J/mol]. Returns: the sorbent.
    """
    body = sorbent(BODY)
    row = body.row.copy()
    row[SLOT_HYSTERESIS] = 0.0
    fill_row(row, [(CAPACITY, potential, width, (potential - heat) / REFERENCE_TEMPERATURE)])
    return replace(
        body,
        key="wanted",
        name="wanted",
        row=row,
        service_temperature=STANDS,
        hysteresis_width=0.0,
        temperature_range=(200.0, 500.0),
        potential_range=(-1e5, 1e5),
    )


class _Search:
    """The climb: points in a unit box, their litres, and the best seen."""

    def __init__(self, days: Days, design: Any, progress: Callable[[float], None] | None) -> None:
        self._days, self._design = days, design
        self._tell = progress or (lambda share: None)
        self.runs = 0
        self.highest = -1.0
        self.best = np.zeros(len(RANGES))

    def scaled(self, numbers: Sequence[float]) -> Floats:
        """Numbers to a point of the unit box."""
        return np.array(
            [
                (_bent(name, x) - _bent(name, low)) / (_bent(name, high) - _bent(name, low))
                for x, (name, (low, high, _)) in zip(numbers, RANGES.items(), strict=True)
            ]
        )

    def numbers(self, point: Floats) -> tuple[float, float, float, float]:
        """A point of the unit box to potential, width, heat [J/mol] and mass [kg/m2]."""
        found = []
        for x, (name, (low, high, _)) in zip(point, RANGES.items(), strict=True):
            bent = _bent(name, low) + float(x) * (_bent(name, high) - _bent(name, low))
            found.append(float(np.exp(bent)) if name in LOGARITHMIC else bent)
        return found[0], found[1], found[2], found[3]

    def bed(self, point: Floats) -> Bed:
        """Simulate one point."""
        potential, width, heat, mass = self.numbers(point)
        made = made_up(potential, width, heat)
        thickness = mass / (made.bulk_density * self._design.bed_area)
        box = replace(self._design, sorbent_mass=mass, layer_thickness=thickness)
        return bed_of(made, box, self._days, "fast")

    def litres(self, points: Sequence[Floats]) -> Floats:
        """Litres a day of several points, simulated in one batch [L/(m2 day)]."""
        found = np.array([bed.litres_per_m2_day for bed in run_all(self.bed, points)])
        self.runs += len(points)
        self._tell(1.0 - 0.5 ** (self.runs / 80.0))
        if found.max() > self.highest:
            self.highest, self.best = float(found.max()), np.array(points[int(found.argmax())])
        return found

    def loss_and_slope(self, point: Floats) -> tuple[float, Floats]:
        """Litres lost, and the slope by differences around the point, one-sided at a bound."""
        steps = self._steps()
        points = [point]
        for k, step in enumerate(steps):
            for sign in (1.0, -1.0):
                moved = point.copy()
                moved[k] = min(max(moved[k] + sign * step, 0.0), 1.0)
                points.append(moved)
        litres = self.litres(points)
        spans = np.array([points[2 * k + 1][k] - points[2 * k + 2][k] for k in range(len(steps))])
        return -float(litres[0]), -(litres[1::2] - litres[2::2]) / spans

    def slices(self, point: Floats) -> dict[str, tuple[Floats, Floats]]:
        """Litres with one number moved at a time, to see that the point is a maximum."""
        found = {}
        for k, (name, (low, high, _)) in enumerate(RANGES.items()):
            reach = AROUND[name] / (_bent(name, high) - _bent(name, low))
            line = np.unique(np.clip(point[k] + reach * np.array([-2.0, -1.0, 0.0, 1.0, 2.0]), 0.0, 1.0))
            points = [np.concatenate([point[:k], [x], point[k + 1 :]]) for x in line]
            found[name] = (np.array([self.numbers(p)[k] for p in points]), self.litres(points))
        return found

    def _steps(self) -> Floats:
        return np.array(
            [step / (_bent(name, high) - _bent(name, low)) for name, (low, high, step) in RANGES.items()]
        )


def _bent(name: str, value: float) -> float:
    return float(np.log(value)) if name in LOGARITHMIC else value


def shares_filled(one: Sorbent, humidities: Floats) -> Floats:
    """Loading over its value at relative humidity 0.9, at 25 degC.

    Args: one; humidities [1]. Returns: shares [1], shape of humidities.
    """
    full = float(one.loading(REFERENCE_TEMPERATURE, 0.9))
    return np.asarray(one.loading(REFERENCE_TEMPERATURE, humidities)) / full


def _nearest(made: Sorbent, entries: Sequence[Ranked], count: int = 3) -> tuple[tuple[str, float], ...]:
    """The sheets whose shares filled differ least from the wanted ones, evenly over the potential."""
    potentials = np.linspace(300.0, 12000.0, 118)
    humidities = np.exp(-potentials / (GAS_CONSTANT * REFERENCE_TEMPERATURE))
    wanted = shares_filled(made, humidities)
    found = [
        (entry.sorbent.key, float(np.abs(shares_filled(entry.sorbent, humidities) - wanted).mean()))
        for entry in entries
    ]
    return tuple(sorted(found, key=lambda pair: pair[1])[:count])
