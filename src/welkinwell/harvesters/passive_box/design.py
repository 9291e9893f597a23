"""Passive solar sorbent box: open at night, closed and heated by the sun by day, one cycle a day.

The design as a user declares it. What is computed stands in docs/theory/passive_box.md and, compiled,
in passive_box/flows.py. All areas and masses "per aperture" are per m2 of glazing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, ClassVar

from welkinwell.declare import choice, count, flag, quantity
from welkinwell.errors import Problem
from welkinwell.harvesters.facing import FACINGS, azimuth_of
from welkinwell.harvesters.layer_density import SorbentLayer, form_field, plain_problems

KIND = "passive_box"
LABEL = "passive solar box (one cycle a day)"
LEAST_EMISSIVITY = 0.02  # of polished metal (value from memory)


@dataclass(frozen=True)
class PassiveBox:
    """Sizes, materials and operation of one module, and how many there are."""

    kind: ClassVar[str] = KIND

    modules: int = count("How many equal modules stand at the site", default=1, low=1, high=100000)
    aperture_area: float = quantity(
        "m2", "Glazed area of one module that takes the sun", default=2.0, low=0.01, high=100.0
    )
    footprint_ratio: float = quantity(
        "1", "Ground taken per aperture, spacing included", default=1.5, low=0.5, high=10.0
    )
    tilt: float = quantity("deg", "Slope of the aperture from horizontal", default=30.0, low=0.0, high=90.0)
    facing: str = choice(FACINGS, "Where the aperture looks", default="equator")

    # Cover
    glazing_thickness: float = quantity("mm", "Thickness of the glass", default=3.2, low=0.5, high=20.0)
    glazing_extinction: float = quantity(
        "1/m",
        "Extinction of the glass (low-iron about 4, window glass 16 to 32)",
        default=4.0,
        low=0.0,
        high=100.0,
    )
    glazing_refractive_index: float = quantity(
        "1", "Refractive index of the cover", default=1.526, low=1.0, high=2.5, low_open=True
    )
    glazing_emissivity: float = quantity(
        "1", "Thermal emissivity of the glass", default=0.88, low=0.05, high=1.0
    )
    front_gap: float = quantity("mm", "Air gap between glass and absorber", default=60.0, low=2.0, high=500.0)
    front_gap_sealed: bool = flag(
        "Whether the front gap is dry and sealed, so that no vapour meets the glass", default=True
    )
    front_insulation: float = quantity(
        "1",
        "Share of the heat through the front gap's air that is left (1: air; less with a transparent"
        " insulation of aerogel or honeycomb, near 0 in a vacuum)",
        default=1.0,
        low=0.0,
        high=1.0,
    )
    glazing_holdup: float = quantity(
        "kg/m2", "Water that stays on wetted glass before it runs", default=0.08, low=0.001, high=1.0
    )
    glazing_gutter: bool = flag("Whether water that runs down the glass is collected", default=True)
    wet_glass_loss: float = quantity(
        "1", "Share of the sunlight that fully wetted glass takes away", default=0.09, low=0.0, high=0.5
    )
    soiling: float = quantity(
        "1", "Share of the sunlight lost to dust on the glass", default=0.03, low=0.0, high=0.5
    )
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
    absorber_absorptance: float = quantity(
        "1", "Solar absorptance of the absorber", default=0.95, low=0.1, high=1.0
    )
    absorber_emissivity: float = quantity(
        "1", "Thermal emissivity of the absorber towards the glass", default=0.15, low=0.02, high=1.0
    )
    bed_metal: float = quantity(
        "kg/m2", "Metal of absorber and fins per aperture", default=3.0, low=0.2, high=100.0
    )
    bed_metal_specific_heat: float = quantity(
        "J/(kg K)", "Specific heat of that metal (aluminium 900)", default=900.0, low=100.0, high=2000.0
    )
    sorbent_mass: float = quantity("kg/m2", "Dry sorbent per aperture", default=8.0, low=0.01, high=200.0)
    layer_thickness: float = quantity(
        "mm", "Thickness of the sorbent layer", default=3.0, low=0.05, high=100.0
    )
    bed_area: float = quantity(
        "1", "Area of sorbent layer per aperture (fins count)", default=4.0, low=0.1, high=50.0
    )
    layer_form: str | None = form_field()
    bed_effectiveness: float = quantity(
        "1", "Share of the layer's area that works as if freely exposed", default=0.6, low=0.01, high=1.0
    )
    open_faces: int = count(
        "Faces of the layer that meet the open air at night (1 or 2)", default=1, low=1, high=2
    )
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
    gap_circulation: str = choice(
        ("stratified", "inclined"),
        "What moves vapour down to a condenser below the bed: conduction only, or the slow circulation"
        " of a tilted gap too",
        default="stratified",
    )
    gap_air_volume: float = quantity(
        "m3/m2", "Air in the closed vapour space per aperture", default=0.15, low=0.002, high=2.0
    )
    bed_condenser_emissivity: float = quantity(
        "1", "Effective emissivity between bed and condenser", default=0.5, low=0.0, high=1.0
    )
    edge_loss: float = quantity(
        "W/(m2 K)", "Heat lost through edges and back per aperture", default=0.6, low=0.0, high=20.0
    )
    condenser_mass: float = quantity(
        "kg/m2", "Mass of the condenser per aperture", default=6.0, low=0.1, high=200.0
    )
    condenser_specific_heat: float = quantity(
        "J/(kg K)", "Specific heat of the condenser (aluminium 900)", default=900.0, low=100.0, high=4500.0
    )
    condenser_inner_area: float = quantity(
        "1", "Condensing area per aperture", default=1.0, low=0.05, high=20.0
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
    condenser_holdup: float = quantity(
        "kg/m2", "Water that stays on one m2 of condenser before it runs", default=0.08, low=0.001, high=1.0
    )

    # Losses that are never zero by default
    leak: float = quantity("1/h", "Air changes of the closed vapour space", default=0.5, low=0.0, high=50.0)
    vent_temperature: float | None = quantity(
        "degC",
        "Bed temperature at which the over-temperature vent begins to open; when not given, 5 K below the"
        " sorbent's service temperature, and at most 120 degC for the sake of seals and hands",
        default=None,
        low=40.0,
        high=300.0,
    )
    vent_air_changes: float = quantity(
        "1/h", "Air changes with the over-temperature vent fully open", default=200.0, low=0.0, high=2000.0
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
        "1/h", "Air changes of the vapour space while open", default=200.0, low=1.0, high=5000.0
    )

    # Operation
    operation: str = choice(
        ("sun", "clock", "pressure"),
        "When the box opens: below a sun threshold, by the clock, or when the bed can take up vapour",
        default="sun",
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
    pressure_ratio: float = quantity(
        "1",
        "The pressure rule opens below this share of the outdoor vapour pressure",
        default=0.98,
        low=0.5,
        high=1.0,
    )
    dwell: float = quantity(
        "min", "Shortest time between two moves of the pressure rule", default=30.0, low=1.0, high=720.0
    )
    closed_in_rain: bool = flag("Whether the box stays closed in hours with rain", default=True)

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
