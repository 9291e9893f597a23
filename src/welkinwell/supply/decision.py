"""From a plant's water to a decision: its parts, a litre's cost, how it stands, whether to build."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from welkinwell.supply.cost import (
    Alternative,
    CostChoices,
    LitreCost,
    OwnPower,
    PlantSize,
    cost_summary,
    litre_cost,
)
from welkinwell.supply.demand import Demand
from welkinwell.supply.field import Field, FieldShade, chance_enough_work, dried_air, modules_with_spares
from welkinwell.supply.parts_list import Part, masses_by_material, parts_list
from welkinwell.supply.plant import PlantSupply, supply_summary
from welkinwell.supply.verdict import Verdict, verdict, verdict_summary

if TYPE_CHECKING:
    from welkinwell.sorbents.sorbent import Sorbent

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Standing:
    """How the modules stand to each other.

    shade: light that rows take from each other, None where they stand apart; dried: share of the passing
    vapour that the field takes, mean of the hours of uptake weighted by it, and its highest hour [1]; needed:
    modules whose water meets the demand over the year [1], None without water; chance: that so many work at a
    time [1]; installed_for_confidence: modules that give the wanted chance [1].
    """

    shade: FieldShade | None
    dried: float
    dried_highest: float
    needed: int | None
    chance: float | None
    installed_for_confidence: int | None


@dataclass(frozen=True)
class Decision:
    """All that follows from a plant's water."""

    parts: list[Part]
    cost: LitreCost
    verdict: Verdict
    standing: Standing


def decision(
    supply: PlantSupply,
    demand: Demand,
    design: Mapping[str, Any],
    module_area: float,
    modules: int,
    sorbent: Sorbent | None,
    kind: str,
    electricity: float,
    tank_litres: float,
    tests_per_year: int,
    choices: CostChoices,
    alternatives: Sequence[Alternative],
    standing: Standing,
    basis: str = "aperture",
    own_power: OwnPower | None = None,
) -> Decision:
    """Price a plant and say whether to build it.

    design: its fields by name, SI; module_area [m2]; modules [1]; sorbent: None without
    one; kind: of harvester; electricity: of the devices [kWh/day]; tank_litres: 0
    without a tank [L]; tests_per_year [1]; basis: what the kind's m2 are; own_power: bought with the plant.
    """
    area = module_area * modules
    parts = parts_list(design, area, modules, tank_litres, own_power)
    size = PlantSize(
        area,
        modules,
        float(design.get("sorbent_mass") or design.get("salt_mass") or 0.0) * area,
        tank_litres,
        tests_per_year,
        365.0 * supply.net_per_day,
        365.0 * supply.delivered_per_day,
        365.0 * electricity,
        masses_by_material(parts),
        own_power,
    )
    cost = litre_cost(size, choices, sorbent, kind)
    return Decision(parts, cost, verdict(demand, supply, cost, alternatives, area, basis), standing)


def standing(
    field: Field,
    supply: PlantSupply,
    modules: int,
    module_area: float,
    footprint_ratio: float,
    uptake: Floats,
    wind: Floats,
    vapour_density: Floats,
    shade: FieldShade | None,
) -> Standing:
    """Say what the modules do to each other and how many spares a wanted chance takes.

    uptake: water taken up by hour [kg per m2 of aperture]; wind: at the device, by hour [m/s]; vapour_density
    of the air, by hour [kg/m3]; footprint_ratio: ground per aperture [1]; shade: of the rows, or None. The
    field's length along the wind is the side of a square of its ground.
    """
    ground = module_area * modules * footprint_ratio
    taken = np.maximum(uptake, 0.0)
    rate = taken / footprint_ratio / 3600.0
    share = dried_air(rate, wind, vapour_density, ground**0.5, field.mixing_height)
    mean = float((share * taken).sum() / taken.sum()) if taken.sum() > 0.0 else 0.0
    # of one that works: outages of the plant and of modules are counted in the chance, not in the litres
    each = float(supply.net.after_samples.sum()) / supply.demand.size / modules
    needed = int(np.ceil(float(supply.demand.mean()) / each - 1e-9)) if each > 0.0 else None
    if needed is None:
        return Standing(shade, mean, float(share.max()), None, None, None)
    return Standing(
        shade,
        mean,
        float(share.max()),
        needed,
        chance_enough_work(modules, needed, field.module_availability),
        modules_with_spares(needed, field.module_availability, field.confidence),
    )


def decision_summary(supply: PlantSupply, found: Decision) -> dict[str, Any]:
    """Give everything that follows from a plant's water as it stands in the summary."""
    stand = found.standing
    return {
        "delivered": supply_summary(supply),
        "cost": cost_summary(found.cost),
        "verdict": verdict_summary(found.verdict),
        "parts": [
            {
                "name": part.name, "number": part.number, "area_m2": part.area, "mass_kg": part.mass,
                "remark": part.remark,
            }
            for part in found.parts
        ],
        "field": {
            "light_lost_to_shade": stand.shade.total if stand.shade else None,
            "vapour_taken_from_passing_air": stand.dried,
            "vapour_taken_highest_hour": stand.dried_highest,
            "modules_that_must_work": stand.needed,
            "chance_that_enough_work": stand.chance,
            "modules_for_wanted_chance": stand.installed_for_confidence,
        },
    }  # fmt: skip
