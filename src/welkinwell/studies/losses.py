"""The loss ladder: from what physics allows at a site down to the litres delivered, mechanism by mechanism.

The upper rungs are bounds, each the lowest so far. The lower ones are simulations of the same design with
losses switched off: all of them at first, then one after another switched on. Since the size of a step
depends on the order, each mechanism also has its Shapley share: its step averaged over all orders
(Shapley1953).
Nothing is clipped: a loss whose removal costs water stands as a negative loss, with where the water went.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any, Final

from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.kinds import harvester_of
from welkinwell.limits.bound import Bound, running_minimum
from welkinwell.simulate import simulate
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.runner import run_all
from welkinwell.year import water_account

Change = Callable[[Any, Any], tuple[Any, Any]]
LARGEST_COUNT: Final = 7  # mechanisms with Shapley shares: 2^7 simulations


@dataclass(frozen=True)
class Mechanism:
    """One loss: what it is called, and how it is switched off."""

    key: str
    name: str
    how: str
    without: Change


@dataclass(frozen=True)
class Step:
    """One mechanism's loss in L/m2/day: in the ladder's order, and as its Shapley share."""

    key: str
    name: str
    how: str
    in_sequence: float
    shapley: float
    reason: str  # why the loss is negative, where it is


@dataclass(frozen=True)
class LossLadder:
    """From bounds to litres, all in L per m2 of basis area and day.

    bounds: name, value and the lowest so far; ideal: simulated without any of the losses; steps: from the
    ideal down to the design, adding up; collected: the design as simulated in the same batch; after: what
    happens after the gutter, name and loss, down to delivered.
    """

    bounds: tuple[tuple[str, float, float], ...]
    ideal: float
    steps: tuple[Step, ...]
    collected: float
    after: tuple[tuple[str, float], ...]
    delivered: float

    def as_data(self) -> dict[str, Any]:
        """Give all of it as JSON-ready data."""
        return {
            "unit": "L/m2/day",
            "bounds": [
                {"name": name, "value": value, "lowest_so_far": low} for name, value, low in self.bounds
            ],
            "ideal": self.ideal,
            "losses": [
                {
                    "key": step.key,
                    "name": step.name,
                    "switched_off_by": step.how,
                    "in_sequence": step.in_sequence,
                    "shapley": step.shapley,
                    "reason_if_negative": step.reason or None,
                }
                for step in self.steps
            ],
            "collected": self.collected,
            "after_the_gutter": [{"name": name, "loss": loss} for name, loss in self.after],
            "delivered": self.delivered,
        }


def loss_ladder(
    design: Any,
    sorbent: Sorbent | None,
    site: Surroundings,
    bounds: Sequence[Bound] = (),
    after: Sequence[tuple[str, float]] = (),
    progress: Callable[[float], None] | None = None,
) -> LossLadder:
    """Simulate a design with every set of its losses switched off, and lay the steps out.

    bounds: loosest first, of this kind; after: losses behind the gutter [L/m2/day] in their order. One batch
    of 2^n years at the "screening" accuracy, n the number of mechanisms of the kind.
    """
    mechanisms = MECHANISMS[design.kind]
    ways = _without(design, sorbent, site, mechanisms, progress)
    litres = {off: account["water_collected"] for off, account in ways.items()}
    everything = frozenset(range(len(mechanisms)))
    ideal, collected = litres[everything], litres[frozenset()]
    words = harvester_of(design).water_words
    steps = []
    off = everything
    for number, mechanism in enumerate(mechanisms):
        on = off - {number}
        in_sequence = litres[off] - litres[on]
        share = shapley_share(litres, number, len(mechanisms))
        reason = _why(ways[off], ways[on], words) if in_sequence < 0.0 else ""
        if share < 0.0 and not reason:
            reason = _why(ways[frozenset({number})], ways[frozenset()], words)
        steps.append(Step(mechanism.key, mechanism.name, mechanism.how, in_sequence, share, reason))
        off = on
    lowest = running_minimum(bound.value for bound in bounds)
    return LossLadder(
        bounds=tuple((b.name, b.value, low) for b, low in zip(bounds, lowest, strict=True)),
        ideal=ideal,
        steps=tuple(steps),
        collected=collected,
        after=tuple(after),
        delivered=collected - sum(loss for _, loss in after),
    )


def shapley_share(litres: Mapping[frozenset[int], float], number: int, count: int) -> float:
    """Loss of one mechanism averaged over all orders in which the losses can be switched off.

    litres: litres with a set of losses switched off, for every set. Source: Shapley1953.
    """
    others = [i for i in range(count) if i != number]
    total = 0.0
    for size in range(count):
        weight = math.factorial(size) * math.factorial(count - size - 1) / math.factorial(count)
        for chosen in combinations(others, size):
            before = frozenset(chosen)
            total += weight * (litres[before | {number}] - litres[before])
    return total


def _without(
    design: Any,
    sorbent: Sorbent | None,
    site: Surroundings,
    mechanisms: Sequence[Mechanism],
    progress: Callable[[float], None] | None,
) -> dict[frozenset[int], dict[str, float]]:
    """Water accounts in L per m2 and day with every set of losses switched off."""
    count = len(mechanisms)
    assert count <= LARGEST_COUNT
    sets = [frozenset(c) for size in range(count + 1) for c in combinations(range(count), size)]

    def run(off: frozenset[int]) -> dict[str, float]:
        new_design, new_sorbent = design, sorbent
        for number in sorted(off):
            new_design, new_sorbent = mechanisms[number].without(new_design, new_sorbent)
        year = simulate(new_design, new_sorbent, site, keep="months", accuracy="screening", audit=False)
        days = float(year.attrs["days"])
        return {name: amount / days for name, amount in water_account(year).items()}

    return dict(zip(sets, run_all(run, sets, progress=progress), strict=True))


def _why(off: Mapping[str, float], on: Mapping[str, float], words: Mapping[str, str]) -> str:
    """Say where the water went that the removal of a loss cost: less taken up, or more lost on some way."""
    more = {name: off[name] - on[name] for name in words if name in off}
    more["less"] = on["water_taken_up"] - off["water_taken_up"]
    way = max(more, key=lambda name: more[name])
    if way == "less":
        return f"without it {more[way]:.2f} L/m2 a day less are taken up"
    return f"without it {more[way]:.2f} L/m2 a day more go another way: {words[way].lower()}"


def _fields(**values: float) -> Change:
    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        return replace(design, **values), sorbent

    return change


def _clear(design: Any, sorbent: Any) -> tuple[Any, Any]:
    # an index just above that of air: no reflection is left
    dry = {"wet_glass_loss": 0.0} if hasattr(design, "wet_glass_loss") else {}
    return replace(
        design,
        glazing_extinction=0.0,
        glazing_refractive_index=1.0 + 1e-6,
        absorber_absorptance=1.0,
        soiling=0.0,
        **dry,
    ), sorbent


def _warm(design: Any, sorbent: Any) -> tuple[Any, Any]:
    left = 1e-3 if design.front_gap_sealed else 1.0
    return replace(design, absorber_emissivity=1e-4, edge_loss=0.0, front_insulation=left), sorbent


def _light(design: Any, sorbent: Any) -> tuple[Any, Any]:
    # a hundredth, so that the bed still has a temperature
    lighter = replace(sorbent, dry_specific_heat=0.01 * sorbent.dry_specific_heat)
    return replace(design, bed_metal=0.01 * design.bed_metal), lighter


def _cold(design: Any, sorbent: Any) -> tuple[Any, Any]:
    return replace(
        design,
        condenser_outer_area=1000.0 * design.condenser_outer_area,
        condenser_stray_sun=0.0,
        bed_condenser_emissivity=0.0,
    ), sorbent


def _quick(design: Any, sorbent: Any) -> tuple[Any, Any]:
    return design, replace(sorbent, row=sorbent.adjusted_row(rate_factor=100.0))


def _ample(design: Any, sorbent: Any) -> tuple[Any, Any]:
    larger = replace(
        design,
        sorbent_mass=3.0 * design.sorbent_mass,
        bed_area=3.0 * design.bed_area,
        bed_effectiveness=1.0,
    )
    return larger, sorbent


_OF_PASSIVE_BOX: Final = (
    Mechanism(
        "optical",
        "Sun that does not reach the absorber",
        "clear, clean, non-reflecting glass; black absorber",
        _clear,
    ),
    Mechanism(
        "heat",
        "Heat lost through cover and edges",
        "no radiation, convection or edge loss from the absorber",
        _warm,
    ),
    Mechanism(
        "sensible",
        "Heat that warms sorbent and metal",
        "a hundredth of their heat capacity",
        _light,
    ),
    Mechanism(
        "condenser",
        "Condenser warmer than the air",
        "a condenser at air temperature that the bed does not warm",
        _cold,
    ),
    Mechanism(
        "surfaces",
        "Leak and water left on surfaces",
        "no leak, next to no hold-up",
        _fields(leak=0.0, condenser_holdup=1e-3, glazing_holdup=1e-3),
    ),
    Mechanism(
        "kinetics",
        "Slow grains",
        "a hundred times the rate inside the grains",
        _quick,
    ),
    Mechanism(
        "bed",
        "Too little bed for the night",
        "three times the sorbent in three times the layers, freely exposed",
        _ample,
    ),
)


def _times(**factors: float) -> Change:
    """Scale fields of the design."""

    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        values = {name: getattr(design, name) * factor for name, factor in factors.items()}
        return replace(design, **values), sorbent

    return change


def _both(first: Change, second: Change) -> Change:
    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        return second(*first(design, sorbent))

    return change


def _lighter(**factors: float) -> Change:
    """Scale fields of the design and take the sorbent's own heat capacity down to a hundredth."""
    scaled = _times(**factors)

    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        design, sorbent = scaled(design, sorbent)
        return design, replace(sorbent, dry_specific_heat=0.01 * sorbent.dry_specific_heat)

    return change


_CLEAR_GLASS: Final = {"glazing_extinction": 0.0, "glazing_refractive_index": 1.0 + 1e-6, "soiling": 0.0}
_KINETICS: Final = Mechanism("kinetics", "Slow grains", "a hundred times the rate inside the grains", _quick)

_OF_HYBRID: Final = (
    Mechanism(
        "optical",
        "Sun that does not reach the absorber",
        "clear, clean, non-reflecting glass; black absorber",
        _fields(**_CLEAR_GLASS, absorber_absorptance=1.0),
    ),
    Mechanism(
        "heat",
        "Heat lost through cover and edges",
        "no radiation from the absorber, no edge loss; the air under the glass stays",
        _fields(absorber_emissivity=1e-4, edge_loss=0.0),
    ),
    Mechanism(
        "sensible",
        "Heat that warms sorbent, metal and the loop's air",
        "a hundredth of their heat capacity; all of the loop's own heat recovered",
        _both(_lighter(bed_metal=0.01), _fields(loop_recovery=1.0)),
    ),
    Mechanism(
        "condenser",
        "Condenser warmer than the air",
        "a thousand times its outer area",
        _times(condenser_outer_area=1000.0),
    ),
    Mechanism(
        "surfaces",
        "Leak and water left on the condenser",
        "no leak, next to no hold-up",
        _fields(leak=0.0, condenser_holdup=1e-3),
    ),
    Mechanism(
        "air",
        "Too little night air, or a slow way to the layer",
        "ten times the night fan's air, the coefficient and the rate inside the grains",
        _both(_times(open_airflow=10.0, bed_coefficient=10.0), _quick),
    ),
    Mechanism(
        "bed",
        "Too little bed for the night",
        "three times the sorbent in three times the layers",
        _times(sorbent_mass=3.0, bed_area=3.0),
    ),
)

_OF_ACTIVE_BED: Final = (
    Mechanism(
        "heat",
        "Heat lost through casing and with the air",
        "no loss through the casing; all heat of the air that leaves the bed recovered",
        _fields(edge_loss=0.0, heat_recovery=0.99),
    ),
    Mechanism(
        "sensible",
        "Heat that warms sorbent and metal",
        "a hundredth of their heat capacity",
        _lighter(bed_metal=0.01),
    ),
    Mechanism(
        "supply",
        "Too little heat in the time for release",
        "five times the power, the collector and the conductance",
        _times(heating_power=5.0, collector_area=5.0, heat_conductance=5.0),
    ),
    Mechanism(
        "condenser",
        "Condenser warmer than the air",
        "twenty times its area, a thousand times its conductance to the air",
        _times(condenser_area=20.0, condenser_conductance=1000.0),
    ),
    Mechanism(
        "surfaces",
        "Leak and water left on the condenser",
        "tight dampers, next to no hold-up",
        _fields(damper_leak=0.0, condenser_holdup=1e-3),
    ),
    _KINETICS,
    Mechanism(
        "bed",
        "Too little bed and air for the time of uptake",
        "three times the sorbent in three times the depth, three times the air",
        _times(sorbent_mass=3.0, bed_depth=3.0, face_velocity=3.0),
    ),
)

_OF_DESICCANT_WHEEL: Final = (
    Mechanism(
        "heat",
        "Heat lost through the casing and with the air",
        "no loss through the casing; all heat of the air that leaves the wheel recovered",
        _fields(edge_loss=0.0, heat_recovery=0.99),
    ),
    Mechanism(
        "sensible",
        "Heat that the wheel carries to and fro",
        "a hundredth of the heat capacity of sorbent and carrier",
        _lighter(wheel_substrate=0.01),
    ),
    Mechanism(
        "supply",
        "Too little heat for release",
        "five times the power",
        _times(heating_power=5.0),
    ),
    Mechanism(
        "condenser",
        "Condenser warmer than the air",
        "twenty times its area, a thousand times its conductance to the air",
        _times(condenser_area=20.0, condenser_conductance=1000.0),
    ),
    Mechanism(
        "surfaces",
        "Leak and water left on the condenser",
        "tight seals, next to no hold-up",
        _fields(seal_leak=0.0, condenser_holdup=1e-3),
    ),
    _KINETICS,
    Mechanism(
        "bed",
        "Too little wheel and outdoor air",
        "three times the sorbent in three times the depth, three times the outdoor air",
        _times(sorbent_mass=3.0, wheel_depth=3.0, face_velocity=3.0),
    ),
)

_OF_COOLING_COIL: Final = (
    Mechanism(
        "rejection",
        "Condenser warmer than the air",
        "thirty times the condenser's conductance and its air",
        _times(condenser_conductance=30.0, condenser_air_ratio=30.0),
    ),
    Mechanism(
        "machine",
        "Work lost in compressor or modules",
        "ninety-nine hundredths of Carnot's performance; ten times the figure of merit",
        _both(_fields(second_law=0.99), _times(figure_of_merit=10.0)),
    ),
    Mechanism(
        "fins",
        "Fins warmer than what evaporates",
        "ten times the way from the fins to the cold side",
        _times(refrigerant_conductance=10.0),
    ),
    Mechanism(
        "sensible",
        "Cold spent on cooling dry air",
        "nineteen twentieths of it given back to the air that enters",
        _fields(recovery=0.95),
    ),
    Mechanism(
        "bypass",
        "Air that the fins do not touch",
        "five times the fins",
        _times(fin_area=5.0),
    ),
    Mechanism(
        "off",
        "Frost, and hours in which it is off",
        "running at any dew point, frost melted at once",
        _both(_fields(run_above_dew_point=253.15), _times(defrost_power=100.0)),
    ),
    Mechanism(
        "surfaces",
        "Water left on the fins",
        "next to no hold-up",
        _fields(fin_holdup=1e-3),
    ),
)

_OF_DEW_CONDENSER: Final = (
    Mechanism(
        "sky",
        "Cold of the sky that the sheet does not take",
        "a black sheet that sees nothing but sky",
        _fields(emissivity=1.0, sky_view=1.0),
    ),
    Mechanism(
        "back",
        "Heat from behind",
        "no heat through the insulation",
        _fields(back_loss=0.0),
    ),
    Mechanism(
        "wind",
        "Wind that warms the sheet",
        "a fifth of the wind: less heat, and less vapour with it",
        _times(shelter=0.2),
    ),
    Mechanism(
        "sensible",
        "Heat of the sheet itself",
        "a tenth of its heat capacity",
        _times(sheet_mass=0.1),
    ),
    Mechanism(
        "sun",
        "Sun that dries the sheet",
        "a sheet, and dust on it, that take no sunlight",
        _fields(solar_absorptance=0.0, soiling=0.0),
    ),
    Mechanism(
        "surfaces",
        "Drops that hang on the sheet",
        "next to no hold-up",
        _fields(holdup=1e-3),
    ),
)

_OF_LIQUID_DESICCANT: Final = (
    Mechanism(
        "optical",
        "Sun that does not reach the solution",
        "clear, clean, non-reflecting glass that no drops dim; a black still",
        _fields(**_CLEAR_GLASS, still_absorptance=1.0, wet_glass_loss=0.0),
    ),
    Mechanism(
        "heat",
        "Heat lost by still and tank",
        "no edge loss, no loss of the tank, next to no radiation from the solution to the glass",
        _fields(edge_loss=0.0, tank_loss=0.0, still_emissivity=0.01),
    ),
    Mechanism(
        "exchange",
        "Heat that goes with the solution, and warms the plate",
        "a heat exchanger of 0.99, a tenth of the plate's heat capacity",
        _both(_fields(exchanger_effectiveness=0.99), _times(still_heat=0.1)),
    ),
    Mechanism(
        "condenser",
        "Glass or condenser warmer than the air",
        "ten times the wind's cooling of the glass, a thousand times a separate condenser's area",
        _times(wind_constant=10.0, wind_slope=10.0, condenser_outer_area=1000.0),
    ),
    Mechanism(
        "surfaces",
        "Leak and water left on surfaces",
        "no leak, next to no hold-up",
        _fields(leak=0.0, condenser_holdup=1e-3, glazing_holdup=1e-3),
    ),
    Mechanism(
        "kinetics",
        "Slow diffusion in the solution",
        "a hundred times the rate",
        _quick,
    ),
    Mechanism(
        "absorber",
        "Too little absorber, air or salt for the night",
        "three times absorber, its face, its fan, the salt and the tank",
        _times(absorber_area=3.0, absorber_face=3.0, fan_flow=3.0, salt_mass=3.0, store_volume=3.0),
    ),
)

_OF_TWO_STAGE_BOX: Final = (
    Mechanism(
        "optical",
        "Sun that does not reach the absorber",
        "clear, clean, non-reflecting glass; black absorber",
        _clear,
    ),
    Mechanism(
        "heat",
        "Heat lost through cover and edges",
        "no radiation, convection or edge loss from absorber and plate",
        _fields(absorber_emissivity=1e-4, first_edge_loss=0.0, second_edge_loss=0.0, front_insulation=1e-3),
    ),
    Mechanism(
        "sensible",
        "Heat that warms sorbent and metal",
        "a hundredth of their heat capacity",
        _lighter(bed_metal=0.01, plate_metal=0.01),
    ),
    Mechanism(
        "condenser",
        "Plate and condenser warmer than the air",
        "a condenser at air temperature, no radiation down to it or to the plate",
        _both(_times(condenser_outer_area=1000.0), _fields(condenser_stray_sun=0.0, gap_emissivity=0.0)),
    ),
    Mechanism(
        "surfaces",
        "Leak and water left on surfaces",
        "no leak, next to no hold-up",
        _fields(leak=0.0, holdup=1e-3),
    ),
    Mechanism(
        "kinetics",
        "Slow grains",
        "a hundred times the rate inside the grains",
        _quick,
    ),
    Mechanism(
        "bed",
        "Too little bed for the night",
        "three times the sorbent in three times the layers, freely exposed",
        _ample,
    ),
)

# Kind to its losses, in the order in which the ladder switches them on again.
MECHANISMS: Final[Mapping[str, tuple[Mechanism, ...]]] = {
    "passive_box": _OF_PASSIVE_BOX,
    "two_stage_box": _OF_TWO_STAGE_BOX,
    "active_bed": _OF_ACTIVE_BED,
    "desiccant_wheel": _OF_DESICCANT_WHEEL,
    "cooling_coil": _OF_COOLING_COIL,
    "dew_condenser": _OF_DEW_CONDENSER,
    "liquid_desiccant": _OF_LIQUID_DESICCANT,
    "hybrid": _OF_HYBRID,
}
