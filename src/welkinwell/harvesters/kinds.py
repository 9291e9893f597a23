"""Every kind of harvester, by the name that a case gives it."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from welkinwell.harvesters.harvester import Harvester


@dataclass(frozen=True)
class ListedKind:
    """A kind as people see it, and where its parts lie: loaded on first use, since they bring the compiler.

    design: "module:class" of the declared fields; harvester: "module:name" of the assembled Harvester; basis:
    what its m2 are; depths: "module:name" of the Harvesters that compute the same design otherwise.
    """

    title: str
    basis: str
    design: str
    harvester: str
    takes_sorbent: bool = True
    depths: Mapping[str, str] = field(default_factory=dict)

    def load(self) -> type:
        """Give the declared class of the design."""
        return _named(self.design)

    def assembled(self, depth: str = "") -> Harvester:
        """Give the Harvester that simulates such designs, to a depth where the kind has several."""
        return _named(self.depths.get(depth, self.harvester))


KINDS: Final[Mapping[str, ListedKind]] = {
    "passive_box": ListedKind(
        "passive solar box (one cycle a day)",
        "aperture",
        "passive_box.design:PassiveBox",
        "passive_box.harvester:PASSIVE_BOX_HARVESTER",
        depths={"layered": "passive_box.layered_harvester:LAYERED_BOX_HARVESTER"},
    ),
    "two_stage_box": ListedKind(
        "two-stage solar box (the first condenser heats a second bed)",
        "aperture",
        "two_stage_box.design:TwoStageBox",
        "two_stage_box.harvester:TWO_STAGE_BOX_HARVESTER",
    ),
    "active_bed": ListedKind(
        "active bed (several cycles a day)",
        "bed face",
        "active_bed.design:ActiveBed",
        "active_bed.harvester:ACTIVE_BED_HARVESTER",
    ),
    "desiccant_wheel": ListedKind(
        "desiccant wheel",
        "wheel face",
        "desiccant_wheel.design:DesiccantWheel",
        "desiccant_wheel.harvester:DESICCANT_WHEEL_HARVESTER",
    ),
    "cooling_coil": ListedKind(
        "cooling coil (compressor or thermoelectric)",
        "coil face",
        "cooling_coil.design:CoolingCoil",
        "cooling_coil.harvester:COOLING_COIL_HARVESTER",
        takes_sorbent=False,
    ),
    "dew_condenser": ListedKind(
        "radiative dew condenser",
        "sheet",
        "dew_condenser.design:DewCondenser",
        "dew_condenser.harvester:DEW_CONDENSER_HARVESTER",
        takes_sorbent=False,
    ),
    "liquid_desiccant": ListedKind(
        "liquid desiccant",
        "still aperture",
        "liquid_desiccant.design:LiquidDesiccant",
        "liquid_desiccant.harvester:LIQUID_DESICCANT_HARVESTER",
    ),
    "hybrid": ListedKind(
        "hybrid of sun, night sky and electricity",
        "aperture",
        "hybrid.design:Hybrid",
        "hybrid.harvester:HYBRID_HARVESTER",
    ),
}


def harvester_of(design: Any) -> Harvester:
    """Give the Harvester that simulates a design, by the kind that its class names and by its depth."""
    return KINDS[design.kind].assembled(getattr(design, "depth", ""))


def harvester_of_year(attributes: Mapping[str, Any]) -> Harvester:
    """Give the Harvester that simulated a year, by the attributes of its Dataset."""
    return KINDS[attributes["kind"]].assembled(attributes.get("depth", ""))


def _named(place: str) -> Any:
    module, name = place.split(":")
    return getattr(importlib.import_module(f"welkinwell.harvesters.{module}"), name)
