"""Radiative dew condenser: a sheet that the night sky cools below the dew point.

The design as a user declares it. What is computed stands in docs/theory/dew_condenser.md and, compiled,
in dew_condenser_flows.py. All areas and masses are per m2 of sheet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

from welkinwell.declare import again, quantity
from welkinwell.errors import Problem
from welkinwell.harvesters import shared_fields as shared
from welkinwell.harvesters.facing import azimuth_of


@dataclass(frozen=True)
class DewCondenser:
    """Sizes, surface and operation of one sheet, and how many there are."""

    kind: ClassVar[str] = "dew_condenser"

    modules: int = again(shared.modules, sentence="How many equal sheets stand at the site")
    sheet_area: float = quantity("m2", "Area of one sheet", default=10.0, low=0.01, high=10000.0)
    footprint_ratio: float = again(
        shared.footprint_ratio, sentence="Ground taken per sheet, spacing included", default=1.3, low=0.2
    )
    # 30 degrees: what the large plane foils of the trade have; water runs and the horizon is shaded little
    tilt: float = again(shared.tilt, sentence="Slope of the sheet from horizontal")
    facing: str = again(
        shared.facing,
        sentence="Where the sheet looks; away from the rising sun the dew lasts longer",
        default="west",
    )

    # Surface: a white polyethylene foil with mineral pigments; all five values from memory
    emissivity: float = quantity(
        "1", "Thermal emissivity of the sheet, dry or wet", default=0.94, low=0.05, high=1.0
    )
    solar_absorptance: float = quantity(
        "1", "Share of the sunlight that the sheet takes", default=0.15, low=0.0, high=1.0
    )
    soiling: float = again(
        shared.soiling, sentence="Further share of the sunlight that dust takes", default=0.05
    )
    sheet_mass: float = quantity(
        "kg/m2", "Mass of the sheet with what follows its temperature", default=0.5, low=0.05, high=100.0
    )
    sheet_specific_heat: float = quantity(
        "J/(kg K)", "Specific heat of the sheet (polyethylene 2,000)", default=2000.0, low=100.0, high=4500.0
    )
    # drops of some tenths of a millimetre hang on a tilted foil (value from memory)
    holdup: float = again(
        shared.holdup, sentence="Water that hangs on the sheet before it runs", default=0.03
    )
    # 30 mm of polystyrene foam and the air behind it
    back_loss: float = quantity(
        "W/(m2 K)", "Heat through the insulation to the air behind", default=1.0, low=0.0, high=30.0
    )
    sky_view: float | None = quantity(
        "1",
        "Share of the sheet's view that is sky; from the tilt, (1 + cos)/2, when not given",
        default=None,
        low=0.0,
        high=1.0,
    )

    # Wind: the plate correlation of the other kinds
    wind_constant: float = again(shared.wind_constant)
    wind_slope: float = again(shared.wind_slope)
    device_height: float = again(
        shared.device_height, sentence="Height of the sheet above ground", default=1.0
    )
    terrain: str = again(shared.terrain, sentence="Ground around the sheet")
    # hollow shapes and wind breaks go down to a half or less (common practice, no source)
    shelter: float = again(
        shared.shelter, sentence="Wind at the sheet over the free wind at its height", default=1.0
    )

    # Operation
    operation: str = again(
        shared.operation,
        options=("always", "sun", "clock"),
        sentence="When the sheet lies bare: always, below a sun threshold, or by the clock; else it is"
        " covered",
        default="always",
    )
    close_above: float = again(
        shared.close_above, sentence="Sun on the sheet above which it is covered", default=100.0
    )
    open_at: float = again(shared.open_at, sentence="Local standard time at which the clock uncovers it")
    close_at: float = again(
        shared.close_at, sentence="Local standard time at which the clock covers it", default=8.0
    )
    closed_in_rain: bool = again(
        shared.closed_in_rain, sentence="Whether the sheet is covered in hours with rain", default=False
    )
    covered_exchange: float = quantity(
        "1",
        "Share of the still-air exchange of heat and vapour that goes on under the cover",
        default=0.1,
        low=0.0,
        high=1.0,
    )

    @property
    def basis_area(self) -> float:
        """Area that every figure per m2 refers to: the sheet [m2]."""
        return self.sheet_area

    @property
    def seen_sky(self) -> float:
        """Share of the sheet's view that is sky [1]."""
        return 0.5 * (1.0 + math.cos(self.tilt)) if self.sky_view is None else self.sky_view

    def cross_checks(self) -> list[Problem]:
        """Rules between fields."""
        problems = []
        if self.soiling + self.solar_absorptance > 1.0:
            problems.append(
                Problem(
                    "soiling",
                    f"{self.soiling:.3g}, with solar_absorptance {self.solar_absorptance:.3g}",
                    "at most 1 in all",
                    "A sheet takes no more than all of the sunlight.",
                )
            )
        if self.operation != "always" and self.open_at == self.close_at and self.operation == "clock":
            problems.append(Problem("open_at", f"{self.open_at / 3600.0:g} h", "another hour than close_at"))
        return problems

    def azimuth(self, latitude: float) -> float:
        """Direction that the sheet faces, clockwise from north [rad], at a latitude [rad]."""
        return azimuth_of(self.facing, latitude)
