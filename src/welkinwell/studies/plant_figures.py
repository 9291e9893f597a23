"""What a design weighs, costs and how loud it is as the plant of a case, for searches."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np

from welkinwell.studies.sound_of_harvester import running_level
from welkinwell.supply.cost import CostChoices, OwnPower, PlantSize, priced
from welkinwell.supply.parts_list import parts_list
from welkinwell.supply.sound_level import SoundPlace

WET_NIGHT: Final = 0.9  # relative humidity at which a bed weighs most


@dataclass(frozen=True)
class PlantFigures:
    """Roof load, budget, cost of a litre and sound level of any design of a kind at one place.

    The cost is that of a litre that reaches the gutter, as if every one were drawn, the prices central. Off
    the grid modules, battery and inverter are those of the case's own design, by the electricity used.
    kind; choices: prices; own_power: of the case's own design, None where electricity is bought; plant_kwh:
    that the case's own design uses in a year, beside: other load on its supply [kWh/year]; tank [L];
    tests_per_year [1/year]; sound: who hears the plant. The repr holds all of it, so that a search can tell
    whether a record was made with the same.
    """

    kind: str
    choices: CostChoices
    own_power: OwnPower | None
    plant_kwh: float
    beside: float
    tank: float
    tests_per_year: int
    sound: SoundPlace

    def __call__(
        self, design: Any, material: Any, litres: float, electricity: float, tank: float | None = None
    ) -> Mapping[str, float | None]:
        """Give the figures by key.

        litres [L/m2/day] and electricity [kWh/L]: nan before the design is simulated; tank: another one [L].
        """
        tank = self.tank if tank is None else tank
        rows = self.choices.for_plant(material, self.kind)
        area = float(design.basis_area * design.modules)
        parts = parts_list(asdict(design), area, design.modules, tank)
        mass = float(getattr(design, "sorbent_mass", 0.0)) * area
        # full of water as on a wet night
        held = float(material.loading(298.15, WET_NIGHT)) * mass if material is not None else 0.0
        weight = held + sum(part.mass or 0.0 for part in parts if part.name != "Tank")
        yearly = 365.0 * area * (litres if np.isfinite(litres) else 0.0)
        used = yearly * (electricity if np.isfinite(electricity) else 0.0)
        # before it is simulated a design is taken to use what the case's own does
        known = np.isfinite(electricity) and self.plant_kwh > 0.0
        asks = (used + self.beside) / self.plant_kwh if known else 1.0
        size = PlantSize(
            area, design.modules, mass, tank, self.tests_per_year, yearly, yearly, used,
            own_power=self.own_power.times(asks) if self.own_power is not None else None,
        )  # fmt: skip
        found = priced(size, {name: entry.value for name, entry in rows.items()})
        return {
            "roof_load": weight / (area * design.footprint_ratio),
            "budget": found.capital,
            "cost": found.per_litre,
            "sound_level": running_level(design, material, self.sound),
        }
