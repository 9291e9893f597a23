"""A kind of harvester as it is listed: what is told of it before any of its code is loaded."""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import ModuleType
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from welkinwell.harvesters.harvester import Harvester

ALONE: Final = "HARVESTER"  # what every module that assembles a Harvester calls it


@dataclass(frozen=True)
class ListedKind:
    """A kind as people see it, and where its parts lie: loaded on first use, since they bring the compiler.

    key: its name in a case, which is also that of its folder; package: the folder as Python imports it;
    title, short_title: in words; basis: what its m2 are; design: class of the declared fields in `design`;
    place: its place among the kinds wherever they stand in a list; depths: a further depth of the same design
    to the module of its Harvester; from_air: whether its water comes out of the air (a reference device that
    is simulated for checks takes it elsewhere, and no study that looks for a harvester offers it);
    bound_by: groups of bounds of a place that hold for it (`limits.bound`); hazards: traits of
    `library/hazards.toml` that every device of the kind has.
    """

    key: str
    package: str
    title: str
    short_title: str
    basis: str
    design: str
    place: int
    takes_sorbent: bool = True
    from_air: bool = True
    depths: Mapping[str, str] = field(default_factory=dict)
    bound_by: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()

    def part(self, name: str) -> ModuleType:
        """Load a module of the kind's folder: `design`, `flows`, `audit`, `harvester`, `study`, ..."""
        return importlib.import_module(f"{self.package}.{name}")

    def has(self, name: str) -> bool:
        """Whether the kind's folder has such a module; nothing is loaded."""
        return importlib.util.find_spec(f"{self.package}.{name}") is not None

    def load(self) -> type:
        """Give the declared class of the design."""
        declared: type = getattr(self.part("design"), self.design)
        return declared

    def assembled(self, depth: str = "") -> Harvester:
        """Give the Harvester that simulates such designs, to a depth where the kind has several."""
        found: Harvester = getattr(self.part(self.depths.get(depth, "harvester")), ALONE)
        return found
