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
from dataclasses import dataclass
from itertools import combinations
from typing import Any, Final

from welkinwell.errors import InputError, SolverError, WelkinwellError
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.kinds import harvester_of
from welkinwell.harvesters.losses import Loss
from welkinwell.harvesters.study import study_of
from welkinwell.limits.bound import Bound, running_minimum
from welkinwell.simulation import simulate
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.runner import run_all
from welkinwell.year import water_account

LARGEST_COUNT: Final = 7  # mechanisms with Shapley shares: 2^7 simulations


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
    happens after the gutter, name and loss, down to delivered; left_out: losses that could not be switched
    off here, name and why.
    """

    bounds: tuple[tuple[str, float, float], ...]
    ideal: float
    steps: tuple[Step, ...]
    collected: float
    after: tuple[tuple[str, float], ...]
    delivered: float
    left_out: tuple[tuple[str, str], ...] = ()

    def most_of_it(self) -> str:
        """Say which loss takes most by its share over all orders, and which step is the longest."""
        if not self.steps:
            return "None of its losses could be switched off by itself."
        over_all = max(self.steps, key=lambda step: step.shapley)
        in_order = max(self.steps, key=lambda step: step.in_sequence)
        said = f'Averaged over all orders "{over_all.name.lower()}" takes most, {over_all.shapley:.2f}'
        if in_order is over_all:
            return f"{said}; so it does in the order of the ladder, {over_all.in_sequence:.2f}."
        return (
            f"{said}. In the order of the ladder the longest step is "
            f'"{in_order.name.lower()}", {in_order.in_sequence:.2f}: a step rests on those before it, a '
            "share does not."
        )

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
            "left_out": [{"name": name, "reason": reason} for name, reason in self.left_out],
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
    ways, mechanisms, left_out = _without(design, sorbent, site, study_of(design.kind).losses, progress)
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
        left_out=left_out,
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


Accounts = dict[frozenset[int], dict[str, float]]
Kept = tuple[tuple[str, str], ...]


def _without(
    design: Any,
    sorbent: Sorbent | None,
    site: Surroundings,
    mechanisms: Sequence[Loss],
    progress: Callable[[float], None] | None,
) -> tuple[Accounts, Sequence[Loss], Kept]:
    """Water accounts in L per m2 and day with every set of losses switched off.

    Returns them with the mechanisms that they are of, and those that had to be left out. Raises SolverError
    when the design itself cannot be simulated.
    """
    count = len(mechanisms)
    assert count <= LARGEST_COUNT
    sets = [frozenset(c) for size in range(count + 1) for c in combinations(range(count), size)]

    def run(off: frozenset[int]) -> dict[str, float] | WelkinwellError:
        new_design, new_sorbent = design, sorbent
        for number in sorted(off):
            new_design, new_sorbent = mechanisms[number].without(new_design, new_sorbent)
        try:
            year = simulate(new_design, new_sorbent, site, keep="year", accuracy="screening", audit=False)
        except (SolverError, InputError) as error:  # stopped, or a device that cannot be built
            return error
        days = float(year.attrs["days"])
        return {name: amount / days for name, amount in water_account(year).items()}

    found = dict(zip(sets, run_all(run, sets, progress=progress), strict=True))
    return _of_those_that_ran(found, mechanisms)


def _of_those_that_ran(
    found: Mapping[frozenset[int], dict[str, float] | WelkinwellError], mechanisms: Sequence[Loss]
) -> tuple[Accounts, Sequence[Loss], Kept]:
    """Leave out the fewest mechanisms, as far as a greedy choice finds them, whose sets did not run."""
    failed = {off: result for off, result in found.items() if isinstance(result, WelkinwellError)}
    kept, left_out = list(range(len(mechanisms))), []
    while failed:
        if frozenset() in failed:
            raise failed[frozenset()]
        worst = max(kept, key=lambda number: sum(number in off for off in failed))
        reason = next(error for off, error in failed.items() if worst in off)
        left_out.append((mechanisms[worst].name, f"with it switched off {reason}"))
        kept.remove(worst)
        failed = {off: error for off, error in failed.items() if worst not in off}
    place = {number: i for i, number in enumerate(kept)}
    accounts = {
        frozenset(place[number] for number in off): result
        for off, result in found.items()
        if off <= place.keys() and not isinstance(result, WelkinwellError)
    }
    return accounts, [mechanisms[number] for number in kept], tuple(left_out)


def _why(off: Mapping[str, float], on: Mapping[str, float], words: Mapping[str, str]) -> str:
    """Say where the water went that the removal of a loss cost: less taken up, or more lost on some way."""
    more = {name: off[name] - on[name] for name in words if name in off}
    more["less"] = on["water_taken_up"] - off["water_taken_up"]
    way = max(more, key=lambda name: more[name])
    if way == "less":
        return f"without it {more[way]:.2f} L/m2 a day less are taken up"
    return f"without it {more[way]:.2f} L/m2 a day more go another way: {words[way].lower()}"
