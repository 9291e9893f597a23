"""Two-stage solar box: the heat that the first condenser gives off empties a second bed.

The design as a user declares it; docs/theory/two_stage_box.md says what is computed. Sun heats the first bed;
its vapour condenses on a plate whose back carries the second bed; that bed's vapour condenses on a condenser
that outdoor air cools. Both beds lie open to the air at night. All sizes are per m2 of glazed aperture.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from welkinwell.declare import choice, count, flag, quantity
from welkinwell.errors import Problem
from welkinwell.harvesters.facing import FACINGS, azimuth_of
from welkinwell.harvesters.layer_density import SorbentLayer, form_field, plain_problems

KIND = "two_stage_box"


@dataclass(frozen=True)
class TwoStageBox:
    """Sizes, materials and operation of one module, and how many there are.

    Defaults: the glass, absorber and condenser of the passive box; gaps and layers as thin as tests of such
    devices have them (LaPotin2021), and otherwise common practice, no source.
    """

    kind: ClassVar[str] = KIND

    modules: int = count("How many equal modules stand at the site", default=1, low=1, high=100000)
    aperture_area: float = quantity(
        "m2", "Glazed area of one module that takes the sun", default=1.0, low=0.01, high=100.0
    )
    footprint_ratio: float = quantity(
        "1", "Ground taken per aperture, spacing included", default=1.5, low=0.5, high=10.0
    )
    tilt: float = quantity("deg", "Slope of the aperture from horizontal", default=30.0, low=0.0, high=90.0)
    facing: str = choice(FACINGS, "Where the aperture looks", default="equator")

    # Cover
    glazing_thickness: float = quantity("mm", "Thickness of the glass", default=3.2, low=0.5, high=20.0)
    glazing_extinction: float = quantity(
        "1/m", "Extinction of the glass (low-iron about 4)", default=4.0, low=0.0, high=100.0
    )
    glazing_refractive_index: float = quantity(
        "1", "Refractive index of the cover", default=1.526, low=1.0, high=2.5, low_open=True
    )
    glazing_emissivity: float = quantity(
        "1", "Thermal emissivity of the glass", default=0.88, low=0.05, high=1.0
    )
    front_gap: float = quantity(
        "mm", "Dry, sealed gap between glass and absorber", default=20.0, low=2.0, high=500.0
    )
    front_insulation: float = quantity(
        "1",
        "Share of the heat through the front gap's air that is left (1: air; less with a transparent"
        " insulation of aerogel or honeycomb)",
        default=1.0,
        low=0.0,
        high=1.0,
    )
    soiling: float = quantity(
        "1", "Share of the sunlight lost to dust on the glass", default=0.03, low=0.0, high=0.5
    )

    # Both stages
    absorber_absorptance: float = quantity(
        "1", "Solar absorptance of the absorber", default=0.95, low=0.1, high=1.0
    )
    absorber_emissivity: float = quantity(
        "1", "Thermal emissivity of the absorber towards the glass", default=0.15, low=0.02, high=1.0
    )
    sorbent_mass: float = quantity(
        "kg/m2", "Dry sorbent per aperture, both stages together", default=6.0, low=0.02, high=200.0
    )
    second_share: float = quantity(
        "1", "Share of that sorbent, and of the layers' area, in the second stage", default=0.5, low=0.05,
        high=0.95,
    )  # fmt: skip
    layer_thickness: float = quantity(
        "mm", "Thickness of the sorbent layers", default=3.0, low=0.05, high=100.0
    )
    bed_area: float = quantity(
        "1", "Area of sorbent layer per aperture, both stages together", default=4.0, low=0.1, high=50.0
    )
    layer_form: str | None = form_field()
    bed_effectiveness: float = quantity(
        "1", "Share of the layers' area that works as if freely exposed", default=0.8, low=0.01, high=1.0
    )
    open_faces: int = count(
        "Faces of the layers that meet the open air at night (1 or 2)", default=1, low=1, high=2
    )
    bed_metal: float = quantity(
        "kg/m2", "Metal of absorber and first bed per aperture", default=3.0, low=0.2, high=100.0
    )
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
    gap_circulation: str = choice(
        ("stratified", "inclined"),
        "What moves vapour down in the gaps: conduction and diffusion only, or the slow circulation of a"
        " tilted gap too",
        default="stratified",
    )
    gap_air_volume: float = quantity(
        "m3/m2", "Air in each closed vapour space per aperture", default=0.03, low=0.002, high=2.0
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
    holdup: float = quantity(
        "kg/m2",
        "Water that stays on one m2 of plate or condenser before it runs",
        default=0.08,
        low=0.001,
        high=1.0,
    )

    # Condenser
    condenser_mass: float = quantity(
        "kg/m2", "Mass of the condenser per aperture", default=6.0, low=0.1, high=200.0
    )
    condenser_specific_heat: float = quantity(
        "J/(kg K)", "Specific heat of the condenser (aluminium 900)", default=900.0, low=100.0, high=4500.0
    )
    condenser_outer_area: float = quantity(
        "1", "Outer, finned area of the condenser per aperture", default=3.0, low=0.05, high=50.0
    )
    condenser_fin_efficiency: float = quantity(
        "1", "Fin efficiency of the outer area", default=0.85, low=0.05, high=1.0
    )
    condenser_emissivity: float = quantity(
        "1", "Thermal emissivity of the condenser's outside", default=0.85, low=0.02, high=1.0
    )
    condenser_sky_view: float = quantity(
        "1", "Share of the condenser's outside view that is sky", default=0.07, low=0.0, high=1.0
    )
    condenser_stray_sun: float = quantity(
        "1",
        "Sun that the condenser absorbs, as a share of the sun on the aperture",
        default=0.03,
        low=0.0,
        high=1.0,
    )

    # Losses that are never zero by default
    leak: float = quantity("1/h", "Air changes of each closed vapour space", default=0.5, low=0.0, high=50.0)
    vent_temperature: float | None = quantity(
        "degC",
        "Temperature of the first bed at which the over-temperature vent begins to open; when not given, 5 K"
        " below the sorbent's service temperature, and at most 120 degC for the sake of seals and hands",
        default=None,
        low=40.0,
        high=300.0,
    )
    vent_air_changes: float = quantity(
        "1/h",
        "Air changes of the first stage's space with the vent fully open",
        default=200.0,
        low=0.0,
        high=2000.0,
    )

    # Wind
    wind_constant: float = quantity(
        "W/(m2 K)", "Surface coefficient in still air at sea level", default=2.8, low=0.5, high=20.0
    )
    wind_slope: float = quantity(
        "W s/(m3 K)", "Rise of that coefficient per m/s of wind at sea level", default=3.0, low=0.0, high=20.0
    )
    device_height: float = quantity(
        "m", "Height of the device above ground", default=2.0, low=0.1, high=100.0
    )
    terrain: str = choice(("open", "suburb", "city"), "Ground around the device", default="open")
    shelter: float = quantity(
        "1", "Wind at the device over the free wind at its height", default=0.5, low=0.0, high=1.0
    )
    open_ventilation: float = quantity(
        "1/h", "Air changes of each vapour space while open", default=200.0, low=1.0, high=5000.0
    )

    # Operation
    operation: str = choice(
        ("sun", "clock"), "When the box opens: below a sun threshold or by the clock", default="sun"
    )
    close_above: float = quantity(
        "W/m2", "Sun on the aperture above which the box is closed", default=30.0, low=0.0, high=500.0
    )
    open_at: float = quantity(
        "h", "Local standard time at which the clock opens", default=18.0, low=0.0, high=24.0
    )
    close_at: float = quantity(
        "h", "Local standard time at which the clock closes", default=7.0, low=0.0, high=24.0
    )
    closed_in_rain: bool = flag("Whether the box stays closed in hours with rain", default=True)

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
