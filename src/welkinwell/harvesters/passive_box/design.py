"""Passive solar sorbent box: open at night, closed and heated by the sun by day, one cycle a day.

The design as a user declares it. What is computed stands in docs/theory/passive_box.md and, compiled,
in passive_box/flows.py. All areas and masses "per aperture" are per m2 of glazing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, ClassVar

from welkinwell.declare import again, choice, flag, quantity
from welkinwell.errors import Problem
from welkinwell.harvesters import shared_fields as shared
from welkinwell.harvesters.facing import azimuth_of
from welkinwell.harvesters.layer_density import SorbentLayer, form_field, plain_problems

KIND = "passive_box"
LEAST_EMISSIVITY = 0.02  # of polished metal (value from memory)


@dataclass(frozen=True)
class PassiveBox:
    """Sizes, materials and operation of one module, and how many there are."""

    kind: ClassVar[str] = KIND

    modules: int = again(shared.modules)
    aperture_area: float = again(shared.aperture_area)
    footprint_ratio: float = again(shared.footprint_ratio)
    tilt: float = again(shared.tilt)
    facing: str = again(shared.facing)

    # Cover
    glazing_thickness: float = again(shared.glazing_thickness)
    glazing_extinction: float = again(shared.glazing_extinction)
    glazing_refractive_index: float = again(shared.glazing_refractive_index)
    glazing_emissivity: float = again(shared.glazing_emissivity)
    front_gap: float = again(shared.front_gap)
    front_gap_sealed: bool = flag(
        "Whether the front gap is dry and sealed, so that no vapour meets the glass", default=True
    )
    front_insulation: float = again(shared.front_insulation)
    glazing_holdup: float = again(shared.glazing_holdup)
    glazing_gutter: bool = flag("Whether water that runs down the glass is collected", default=True)
    wet_glass_loss: float = again(shared.wet_glass_loss)
    soiling: float = again(shared.soiling)
    concentration: float = quantity(
        "1",
        "Entrance of fixed reflectors over the glass (1 for none); every figure stays per m2 of glass",
        default=1.0,
        low=1.0,
        high=10.0,
    )
    reflector_reflectance: float = quantity(
        "1", "What reflectors leave of a ray that they send to the glass", default=0.85, low=0.1, high=1.0
    )
    reflector_acceptance: float = quantity(
        "deg",
        "Half-angle from the glass's normal within which their sun arrives",
        default=30.0,
        low=2.0,
        high=90.0,
    )

    # Absorber and bed
    absorber_absorptance: float = again(shared.absorber_absorptance)
    absorber_emissivity: float = again(shared.absorber_emissivity)
    bed_metal: float = again(shared.bed_metal)
    bed_metal_specific_heat: float = again(shared.bed_metal_specific_heat)
    sorbent_mass: float = again(shared.sorbent_mass)
    layer_thickness: float = again(shared.layer_thickness)
    bed_area: float = again(shared.bed_area)
    layer_form: str | None = form_field()
    bed_effectiveness: float = again(shared.bed_effectiveness)
    open_faces: int = again(shared.open_faces)
    depth: str = choice(
        ("lumped", "layered"),
        "How finely the sorbent layer is computed: as one, or in cells from its carrier to its open face",
        default="lumped",
    )
    release_face: str = choice(
        ("rear", "front", "both"), "Face of the bed that gives off vapour by day", default="rear"
    )
    cover_opens: bool = flag(
        "Whether the cover is lifted at night, so that the bed's front lies bare", default=False
    )
    bed_open_emissivity: float = quantity(
        "1", "Emissivity of the bare bed at night (0 when it sees no sky)", default=0.0, low=0.0, high=1.0
    )
    bed_sky_view: float = quantity(
        "1", "Share of the bare bed's view that is sky", default=0.0, low=0.0, high=1.0
    )
    bed_holdup: float = quantity(
        "kg/m2",
        "Dew and rain that one m2 of layer holds before it drips to the ground",
        default=0.2,
        low=0.001,
        high=5.0,
    )
    rain_catch: float = quantity(
        "1", "Share of the rain on the aperture that reaches the open bed", default=0.0, low=0.0, high=1.0
    )

    # Rear gap and condenser
    rear_gap: float = quantity("mm", "Gap between bed and condenser", default=60.0, low=2.0, high=500.0)
    condenser_position: str = choice(
        ("below", "above", "beside"), "Where the condenser lies as seen from the bed", default="below"
    )
    gap_circulation: str = again(shared.gap_circulation)
    gap_air_volume: float = again(shared.gap_air_volume)
    bed_condenser_emissivity: float = quantity(
        "1", "Effective emissivity between bed and condenser", default=0.5, low=0.0, high=1.0
    )
    edge_loss: float = again(shared.edge_loss)
    condenser_mass: float = again(shared.condenser_mass)
    condenser_specific_heat: float = again(shared.condenser_specific_heat)
    condenser_inner_area: float = quantity(
        "1", "Condensing area per aperture", default=1.0, low=0.05, high=20.0
    )
    condenser_outer_area: float = again(shared.condenser_outer_area)
    condenser_fin_efficiency: float = again(shared.condenser_fin_efficiency)
    condenser_emissivity: float = again(shared.condenser_emissivity)
    condenser_sky_view: float = again(shared.condenser_sky_view)
    condenser_stray_sun: float = again(shared.condenser_stray_sun)
    condenser_holdup: float = again(shared.condenser_holdup)

    # Losses that are never zero by default
    leak: float = again(shared.leak)
    vent_temperature: float | None = again(shared.vent_temperature)
    vent_air_changes: float = again(shared.vent_air_changes)

    # Wind
    wind_constant: float = again(shared.wind_constant)
    wind_slope: float = again(shared.wind_slope)
    device_height: float = again(shared.device_height)
    terrain: str = again(shared.terrain)
    shelter: float = again(shared.shelter)
    open_ventilation: float = again(shared.open_ventilation)

    # Operation
    operation: str = again(shared.operation)
    close_above: float = again(shared.close_above)
    open_at: float = again(shared.open_at)
    close_at: float = again(shared.close_at)
    pressure_ratio: float = quantity(
        "1",
        "The pressure rule opens below this share of the outdoor vapour pressure",
        default=0.98,
        low=0.5,
        high=1.0,
    )
    dwell: float = again(shared.dwell)
    closed_in_rain: bool = again(shared.closed_in_rain)

    def cross_checks(self) -> list[Problem]:
        """Rules between fields."""
        problems = []
        most = 1.0 / math.sin(self.reflector_acceptance) ** 2  # Duffie2013, chapter 7
        if self.concentration > most:
            problems.append(
                Problem(
                    "concentration",
                    f"{self.concentration:.3g}",
                    f"at most {most:.3g} at this reflector_acceptance",
                    "No fixed reflectors pass 1/sin2 of the angle that they accept.",
                )
            )
        return [*problems, *self._bed_problems(), *self._front_problems()]

    def _bed_problems(self) -> list[Problem]:
        """A layer and a bed that do not fit into their gap and their box, or radiate to nothing."""
        problems = []
        gap = {"rear": self.rear_gap, "front": self.front_gap, "both": min(self.rear_gap, self.front_gap)}
        room = gap[self.release_face]
        if self.layer_thickness >= room and self.bed_area <= 2.0:
            problems.append(
                Problem(
                    "layer_thickness",
                    f"{self.layer_thickness * 1e3:.3g} mm",
                    f"a layer thinner than the gap that it faces ({room * 1e3:.3g} mm)",
                    "Make the layer thinner or the gap wider.",
                )
            )
        volume = self.layer_thickness * self.bed_area
        box = self.gap_air_volume + 0.5 * (self.front_gap + self.rear_gap)
        if volume > box:
            problems.append(
                Problem(
                    "layer_thickness",
                    f"{self.layer_thickness * 1e3:.3g} mm on {self.bed_area:.3g} m2 per m2 of aperture",
                    f"a bed that fits into its box (at most {box * 1e3:.3g} L/m2)",
                    "Make the bed smaller or the box deeper.",
                )
            )
        problems += plain_problems(self.sorbent_layer)
        if self.cover_opens and self.bed_open_emissivity + self.bed_condenser_emissivity < LEAST_EMISSIVITY:
            problems.append(
                Problem(
                    "bed_open_emissivity",
                    f"{self.bed_open_emissivity:.3g}, with bed_condenser_emissivity "
                    f"{self.bed_condenser_emissivity:.3g}",
                    f"at least {LEAST_EMISSIVITY:g} in all where the cover opens",
                    "A bed in the sun that radiates to nothing has no temperature at which it rests.",
                )
            )
        return problems

    def _front_problems(self) -> list[Problem]:
        """What a sealed or an insulated front gap cannot do."""
        problems = []
        if self.front_insulation < 1.0 and not self.front_gap_sealed:
            problems.append(
                Problem(
                    "front_insulation",
                    f"{self.front_insulation:.3g}",
                    "1 when front_gap_sealed is false",
                    "Insulation in the gap would stand in the way of the vapour.",
                )
            )
        if self.release_face != "rear" and self.front_gap_sealed:
            problems.append(
                Problem(
                    "front_gap_sealed",
                    "true",
                    f"false when release_face is {self.release_face!r}",
                    "Vapour that leaves the front of the bed meets the glass.",
                )
            )
        return problems

    def sorbent_checks(self, sorbent: Any) -> list[Problem]:
        """Rules between the design and its sorbent."""
        if self.depth == "lumped" or (sorbent.layer_porosity > 0.0 and not sorbent.rate_covers_layer):
            return []
        return [
            Problem(
                "depth",
                repr(self.depth),
                f"'lumped' with {sorbent.name}",
                "Its sheet knows no pores between grains: its rate already covers the way through the layer.",
            )
        ]

    @property
    def sorbent_layer(self) -> SorbentLayer:
        """The layer that its sorbent makes."""
        fields = ("sorbent_mass", "layer_thickness", "bed_area")
        return SorbentLayer(self.sorbent_mass, self.layer_thickness, self.bed_area, fields, self.layer_form)

    @property
    def basis_area(self) -> float:
        """Area of one module that everything "per m2" refers to [m2]."""
        return self.aperture_area

    def azimuth(self, latitude: float) -> float:
        """Direction that the aperture faces, clockwise from north [rad], at a latitude [rad]."""
        return azimuth_of(self.facing, latitude)
