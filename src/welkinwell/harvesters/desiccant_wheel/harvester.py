"""The desiccant wheel as the year sees it: its surroundings and schedule, its audit and its accounts."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

import numpy as np

from welkinwell.errors import InputError, Problem
from welkinwell.harvesters.air import AirRecord, Surroundings, device_air
from welkinwell.harvesters.desiccant_wheel.audit import audited_flows, audited_stocks, boundary
from welkinwell.harvesters.desiccant_wheel.design import DesiccantWheel
from welkinwell.harvesters.desiccant_wheel.flows import (
    CELLS,
    DESICCANT_WHEEL,
    STOPPED,
    TURNING,
    wheel_numbers,
)
from welkinwell.harvesters.harvester import Accounts, Array, Bucketed, Harvester, StateRule
from welkinwell.harvesters.operation import schedule
from welkinwell.harvesters.power_cuts import Unpowered
from welkinwell.quantities import as_text

SERVICE_MARGIN: Final = 5.0  # K below the sorbent's service temperature
HOTTEST_BY_ITSELF: Final = 363.15  # K, what most sorbents need and plastics stand; assumed, no source
NEVER: Final = 1e9


def fitted(design: DesiccantWheel, sorbent: Any) -> tuple[DesiccantWheel, Any]:
    """Set the regeneration temperature where the design leaves it open, and put the sorbent into its coating.

    Raises InputError for a temperature that the sorbent does not stand.
    """
    if design.regeneration_temperature is None:
        highest = min(sorbent.service_temperature - SERVICE_MARGIN, HOTTEST_BY_ITSELF)
        design = replace(design, regeneration_temperature=highest)
    elif design.regeneration_temperature > sorbent.service_temperature:
        raise InputError(
            Problem(
                "regeneration_temperature",
                as_text(design.regeneration_temperature, "degC"),
                f"at most {as_text(sorbent.service_temperature, 'degC')}, the service temperature of"
                f" {sorbent.name}",
                "Lower regeneration_temperature, or take a sorbent that stands more.",
            )
        )
    sorbent = sorbent.in_layer(design.coating_thickness)
    # grains of a coating are no larger than the coating
    if not sorbent.rate_covers_layer and design.coating_thickness < 2.0 * sorbent.grain_radius:
        sorbent = sorbent.of_grain(0.5 * design.coating_thickness)
    return design, sorbent


def wheel_air(design: DesiccantWheel, site: Surroundings) -> AirRecord:
    """Make the surroundings of a wheel: the air alone; sun and wind do not matter to it."""
    return device_air(
        site,
        tilt=0.0,
        azimuth=0.0,
        cover=None,
        absorptance=1.0,
        soiling=0.0,
        device_height=2.0,
        terrain="open",
        shelter=1.0,
    )


def rule(design: DesiccantWheel) -> StateRule:
    """No rule on the state: the wheel turns by the clock or always."""
    return StateRule(-NEVER, NEVER, NEVER)


def unpowered(design: DesiccantWheel) -> Unpowered:
    """Wheel, fans and heater stand still."""
    return Unpowered(replace(design, control_power=0.0), STOPPED)


def accounts(run: Bucketed) -> Accounts:
    """Read the wheel's water, electricity and heat from its flows."""
    flow = run.flow
    leak = flow("leak")
    onto = [flow("condensation", mode) for mode in (STOPPED, TURNING)]
    water = {
        "water_taken_up": (
            _summed(run, "air_to_wheel") + np.maximum(-leak, 0.0),
            "Water taken from the outdoor air",
        ),
        "water_condensed": (np.sum([np.maximum(each, 0.0) for each in onto], axis=0), "Water condensed"),
        "water_reevaporated": (
            np.sum([np.maximum(-each, 0.0) for each in onto], axis=0),
            "Water that evaporated from the condenser again",
        ),
        "water_collected": (flow("collected"), "Water that ran into the gutter"),
        "water_released_open": (_summed(run, "wheel_to_air"), "Water given back to the outdoor air"),
        "water_leaked": (np.maximum(leak, 0.0), "Vapour lost past the seals"),
    }
    electricity = {
        "wheel_fan": flow("wheel_fan_power"),
        "cooling_fan": flow("cooling_fan_power"),
        "heating": flow("heater_power"),
        "wheel_control": flow("wheel_control_power"),
    }
    heat = (_summed(run, "wheel_heating") + flow("loop_fan_heat"), "Heat that reached the air of the loop")
    return Accounts(water, heat, electricity)


def _summed(run: Bucketed, name: str) -> Array:
    """Sum a flow over the parts of the wheel."""
    parts = [run.flow(f"{name}_{k + 1}") for k in range(CELLS)]
    return np.sum(parts, axis=0)


# Words for a way of heat into a part and out of it: most ways run in both directions through a year.
HEAT_WORDS: Final = {
    "condenser_temperature": {
        "condensation": ("Heat of the vapour condensed", "Evaporating water again"),
        **{
            f"loop_heat_{k + 1}": (
                f"In the loop's air from part {k + 1} of the wheel",
                f"To part {k + 1} of the wheel with the loop's air",
            )
            for k in range(CELLS)
        },
        "condenser_convection": ("From the outdoor air", "To the outdoor air"),
        "source_heat": ("", "Drawn by the heat pump"),
        "collected_heat": ("In the water collected", "In the water collected"),
    },
}

HARVESTER: Final = Harvester(
    kind=DESICCANT_WHEEL,
    fitted=fitted,
    air=wheel_air,
    plan=schedule,
    numbers=wheel_numbers,
    rule=rule,
    audited_flows=audited_flows,
    audited_stocks=audited_stocks,
    boundary=boundary,
    accounts=accounts,
    drives=(
        "wheel_heating_1",
        "wheel_heating_2",
        "wheel_heating_3",
        "wheel_fan_power",
        "wheel_control_power",
    ),
    takes_sun=False,
    unpowered=unpowered,
    citations=("Shah1978", "Bergman2011"),
    heat_parts={"condenser_temperature": "condenser"},
    heat_words=HEAT_WORDS,
    water_words={
        "water_released_open": "Given back to the outdoor air",
        "water_leaked": "Lost past the seals",
    },
)
