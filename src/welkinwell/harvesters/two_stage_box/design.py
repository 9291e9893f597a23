"""Two-stage solar box: the heat that the first condenser gives off empties a second bed.

The design as a user declares it; docs/theory/two_stage_box.md says what is computed. Sun heats the first bed;
its vapour condenses on a plate whose back carries the second bed; that bed's vapour condenses on a condenser
that outdoor air cools. Both beds lie open to the air at night. All sizes are per m2 of glazed aperture.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from welkinwell.declare import again, quantity
from welkinwell.errors import Problem
from welkinwell.harvesters import shared_fields as shared
from welkinwell.harvesters.facing import azimuth_of
from welkinwell.harvesters.layer_density import SorbentLayer, form_field, plain_problems

KIND = "two_stage_box"


@dataclass(frozen=True)
class TwoStageBox:
    """Sizes, materials and operation of one module, and how many there are.

    Defaults: the glass, absorber and condenser of the passive box; gaps and layers as thin as tests of such
    devices have them (LaPotin2021), and otherwise common practice, no source.
    """

    kind: ClassVar[str] = KIND

    modules: int = again(shared.modules)
    aperture_area: float = again(shared.aperture_area, default=1.0)
    footprint_ratio: float = again(shared.footprint_ratio)
    tilt: float = again(shared.tilt)
    facing: str = again(shared.facing)

    # Cover
    glazing_thickness: float = again(shared.glazing_thickness)
    glazing_extinction: float = again(
        shared.glazing_extinction, sentence="Extinction of the glass (low-iron about 4)"
    )
    glazing_refractive_index: float = again(shared.glazing_refractive_index)
    glazing_emissivity: float = again(shared.glazing_emissivity)
    front_gap: float = again(
        shared.front_gap, sentence="Dry, sealed gap between glass and absorber", default=20.0
    )
    front_insulation: float = again(
        shared.front_insulation,
        sentence="Share of the heat through the front gap's air that is left (1: air; less with a transparent"
        " insulation of aerogel or honeycomb)",
    )
    soiling: float = again(shared.soiling)

    # Both stages
    absorber_absorptance: float = again(shared.absorber_absorptance)
    absorber_emissivity: float = again(shared.absorber_emissivity)
    sorbent_mass: float = again(
        shared.sorbent_mass, sentence="Dry sorbent per aperture, both stages together", default=6.0, low=0.02
    )
    second_share: float = quantity(
        "1", "Share of that sorbent, and of the layers' area, in the second stage", default=0.5, low=0.05,
        high=0.95,
    )  # fmt: skip
    layer_thickness: float = again(shared.layer_thickness, sentence="Thickness of the sorbent layers")
    bed_area: float = again(
        shared.bed_area, sentence="Area of sorbent layer per aperture, both stages together"
    )
    layer_form: str | None = form_field()
    bed_effectiveness: float = again(
        shared.bed_effectiveness,
        sentence="Share of the layers' area that works as if freely exposed",
        default=0.8,
    )
    open_faces: int = again(
        shared.open_faces, sentence="Faces of the layers that meet the open air at night (1 or 2)"
    )
    bed_metal: float = again(shared.bed_metal, sentence="Metal of absorber and first bed per aperture")
    plate_metal: float = quantity(
        "kg/m2", "Metal of the plate between the stages per aperture", default=3.0, low=0.2, high=100.0
    )
    metal_specific_heat: float = quantity(
        "J/(kg K)", "Specific heat of that metal (aluminium 900)", default=900.0, low=100.0, high=2000.0
    )
    first_gap: float = quantity(
        "mm", "Gap between the first bed and the plate", default=15.0, low=2.0, high=500.0
    )
    second_gap: float = quantity(
        "mm", "Gap between the second bed and the condenser", default=15.0, low=2.0, high=500.0
    )
    gap_circulation: str = again(
        shared.gap_circulation,
        sentence="What moves vapour down in the gaps: conduction and diffusion only, or the slow"
        " circulation of"
        " a tilted gap too",
    )
    gap_air_volume: float = again(
        shared.gap_air_volume, sentence="Air in each closed vapour space per aperture", default=0.03
    )
    gap_emissivity: float = quantity(
        "1", "Effective emissivity between a bed and what lies under it", default=0.5, low=0.0, high=1.0
    )
    first_edge_loss: float = quantity(
        "W/(m2 K)", "Heat lost from the first stage through its edges", default=0.4, low=0.0, high=20.0
    )
    second_edge_loss: float = quantity(
        "W/(m2 K)", "Heat lost from the plate between the stages through its edges", default=0.3, low=0.0,
        high=20.0,
    )  # fmt: skip
    holdup: float = again(shared.holdup)

    # Condenser
    condenser_mass: float = again(shared.condenser_mass)
    condenser_specific_heat: float = again(shared.condenser_specific_heat)
    condenser_outer_area: float = again(shared.condenser_outer_area)
    condenser_fin_efficiency: float = again(shared.condenser_fin_efficiency)
    condenser_emissivity: float = again(shared.condenser_emissivity)
    condenser_sky_view: float = again(shared.condenser_sky_view)
    condenser_stray_sun: float = again(shared.condenser_stray_sun)

    # Losses that are never zero by default
    leak: float = again(shared.leak, sentence="Air changes of each closed vapour space")
    vent_temperature: float | None = again(
        shared.vent_temperature,
        sentence="Temperature of the first bed at which the over-temperature vent begins to open; when"
        " not given,"
        " 5 K below the sorbent's service temperature, and at most 120 degC for the sake of seals and hands",
    )
    vent_air_changes: float = again(
        shared.vent_air_changes, sentence="Air changes of the first stage's space with the vent fully open"
    )

    # Wind
    wind_constant: float = again(shared.wind_constant)
    wind_slope: float = again(shared.wind_slope)
    device_height: float = again(shared.device_height)
    terrain: str = again(shared.terrain)
    shelter: float = again(shared.shelter)
    open_ventilation: float = again(
        shared.open_ventilation, sentence="Air changes of each vapour space while open"
    )

    # Operation
    operation: str = again(
        shared.operation,
        options=("sun", "clock"),
        sentence="When the box opens: below a sun threshold or by the clock",
    )
    close_above: float = again(shared.close_above)
    open_at: float = again(shared.open_at)
    close_at: float = again(shared.close_at)
    closed_in_rain: bool = again(shared.closed_in_rain)

    def cross_checks(self) -> list[Problem]:
        """Rules between fields."""
        problems = []
        volume = self.layer_thickness * self.bed_area
        room = 2.0 * self.gap_air_volume + self.first_gap + self.second_gap
        if volume > room:
            problems.append(
                Problem(
                    "layer_thickness",
                    f"{self.layer_thickness * 1e3:.3g} mm on {self.bed_area:.3g} m2 per m2 of aperture",
                    f"beds that fit into their box (at most {room * 1e3:.3g} L/m2)",
                    "Make the beds smaller or the box deeper.",
                )
            )
        problems += plain_problems(self.sorbent_layer)
        return problems

    @property
    def sorbent_layer(self) -> SorbentLayer:
        """The layers, both stages together, that its sorbent makes."""
        fields = ("sorbent_mass", "layer_thickness", "bed_area")
        return SorbentLayer(self.sorbent_mass, self.layer_thickness, self.bed_area, fields, self.layer_form)

    @property
    def basis_area(self) -> float:
        """Area of one module that everything "per m2" refers to [m2]."""
        return self.aperture_area

    def azimuth(self, latitude: float) -> float:
        """Direction that the aperture faces, clockwise from north [rad], at a latitude [rad]."""
        return azimuth_of(self.facing, latitude)
