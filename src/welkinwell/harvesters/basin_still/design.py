"""Basin solar still: water under a tilted glass, heated by the sun, that condenses on the glass.

A reference device: it makes no water from the air, and what it gives by day is the most that a box with free
water could. The design as it is declared; what is computed stands in docs/theory/basin_still.md. All areas
and masses are per m2 of glazing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from welkinwell.declare import again, quantity
from welkinwell.errors import Problem
from welkinwell.harvesters import shared_fields as shared
from welkinwell.harvesters.facing import azimuth_of


@dataclass(frozen=True)
class BasinStill:
    """Sizes and materials of one still, and how many there are."""

    kind: ClassVar[str] = "basin_still"

    modules: int = again(shared.modules)
    aperture_area: float = again(shared.aperture_area, default=1.0)
    footprint_ratio: float = again(shared.footprint_ratio)
    # a flat slope: the glass lies close above the water and its drops still run
    tilt: float = again(shared.tilt, default=15.0, low=5.0, high=60.0)
    facing: str = again(shared.facing)
    glazing_thickness: float = again(shared.glazing_thickness)
    glazing_extinction: float = again(shared.glazing_extinction)
    glazing_refractive_index: float = again(shared.glazing_refractive_index)
    glazing_emissivity: float = again(shared.glazing_emissivity)
    soiling: float = again(shared.soiling)
    glazing_holdup: float = again(shared.glazing_holdup)

    water_depth: float = quantity("mm", "Depth of the water in the basin", default=20.0, low=1.0, high=300.0)
    basin_absorptance: float = quantity(
        "1", "Share of the sunlight below the glass that basin and water take", default=0.9, low=0.1, high=1.0
    )
    water_emissivity: float = quantity(
        "1", "Thermal emissivity of the water (0.96, value from memory)", default=0.96, low=0.5, high=1.0
    )
    basin_heat: float = quantity(
        "J/(m2 K)", "Heat capacity of the basin without its water", default=8000.0, low=100.0, high=1e6
    )
    water_gap: float = quantity(
        "mm", "Mean way from the water to the glass", default=120.0, low=10.0, high=500.0
    )
    base_loss: float = quantity(
        "W/(m2 K)", "Loss through bottom and sides to the air", default=1.0, low=0.0, high=30.0
    )

    wind_constant: float = again(shared.wind_constant)
    wind_slope: float = again(shared.wind_slope)
    device_height: float = again(shared.device_height)
    terrain: str = again(shared.terrain)
    shelter: float = again(shared.shelter)

    @property
    def basis_area(self) -> float:
        """Area that every figure per m2 refers to: the glazing [m2]."""
        return self.aperture_area

    def cross_checks(self) -> list[Problem]:
        """Rules between fields: none."""
        return []

    def azimuth(self, latitude: float) -> float:
        """Direction that the glass faces, clockwise from north [rad], at a latitude [rad]."""
        return azimuth_of(self.facing, latitude)
