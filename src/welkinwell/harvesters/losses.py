"""The losses of a harvester, and how each is switched off in a simulation.

A loss is switched off by a change of the design or the sorbent that leaves the balances as they are: a glass
without reflection, a bed of a hundredth of the heat capacity. Those of a kind stand in its `study`; here are
the ones that kinds share.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from welkinwell.harvesters.changes import Change, rate_times, scale_fields


@dataclass(frozen=True)
class Loss:
    """One loss: what it is called, how it is switched off in words, and the change that does it."""

    key: str
    name: str
    how: str
    without: Change


def _clear(design: Any, sorbent: Any) -> tuple[Any, Any]:
    dry = {"wet_glass_loss": 0.0} if hasattr(design, "wet_glass_loss") else {}
    return replace(design, **CLEAR_GLASS, absorber_absorptance=1.0, **dry), sorbent


def _ample(design: Any, sorbent: Any) -> tuple[Any, Any]:
    larger = replace(
        design,
        sorbent_mass=3.0 * design.sorbent_mass,
        bed_area=3.0 * design.bed_area,
        bed_effectiveness=1.0,
    )
    return larger, sorbent


def lighter(**factors: float) -> Change:
    """Scale fields of the design and take the sorbent's own heat capacity down to a hundredth."""
    scaled = scale_fields(**factors)

    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        design, sorbent = scaled(design, sorbent)
        return design, replace(sorbent, dry_specific_heat=0.01 * sorbent.dry_specific_heat)

    return change


# an index just above that of air: no reflection is left
CLEAR_GLASS: Final = {"glazing_extinction": 0.0, "glazing_refractive_index": 1.0 + 1e-6, "soiling": 0.0}
QUICK: Final = rate_times(100.0)
OPTICAL: Final = Loss(
    "optical",
    "Sun that does not reach the absorber",
    "clear, clean, non-reflecting glass; black absorber",
    _clear,
)
KINETICS: Final = Loss("kinetics", "Slow grains", "a hundred times the rate inside the grains", QUICK)
BED: Final = Loss(
    "bed",
    "Too little bed for the night",
    "three times the sorbent in three times the layers, freely exposed",
    _ample,
)
LOOP_CONDENSER: Final = Loss(
    "condenser",
    "Condenser warmer than the air",
    "twenty times its area, a thousand times its conductance to the air",
    scale_fields(condenser_area=20.0, condenser_conductance=1000.0),
)
