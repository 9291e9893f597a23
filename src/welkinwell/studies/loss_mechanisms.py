"""The losses of each kind of harvester, and how each is switched off in a simulation.

A loss is switched off by a change of the design or the sorbent that leaves the balances as they are: a glass
without reflection, a bed of a hundredth of the heat capacity. The order is that of the ladder
(`studies.losses`), which switches them on again one after another.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

Change = Callable[[Any, Any], tuple[Any, Any]]


@dataclass(frozen=True)
class Mechanism:
    """One loss: what it is called, and how it is switched off."""

    key: str
    name: str
    how: str
    without: Change


def _fields(**values: float) -> Change:
    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        return replace(design, **values), sorbent

    return change


def _clear(design: Any, sorbent: Any) -> tuple[Any, Any]:
    # an index just above that of air: no reflection is left
    dry = {"wet_glass_loss": 0.0} if hasattr(design, "wet_glass_loss") else {}
    return replace(
        design,
        glazing_extinction=0.0,
        glazing_refractive_index=1.0 + 1e-6,
        absorber_absorptance=1.0,
        soiling=0.0,
        **dry,
    ), sorbent


def _warm(design: Any, sorbent: Any) -> tuple[Any, Any]:
    left = 1e-3 if design.front_gap_sealed else 1.0
    return replace(design, absorber_emissivity=1e-4, edge_loss=0.0, front_insulation=left), sorbent


def _light(design: Any, sorbent: Any) -> tuple[Any, Any]:
    # a hundredth, so that the bed still has a temperature
    lighter = replace(sorbent, dry_specific_heat=0.01 * sorbent.dry_specific_heat)
    return replace(design, bed_metal=0.01 * design.bed_metal), lighter


def _cold(design: Any, sorbent: Any) -> tuple[Any, Any]:
    return replace(
        design,
        condenser_outer_area=1000.0 * design.condenser_outer_area,
        condenser_stray_sun=0.0,
        bed_condenser_emissivity=0.0,
    ), sorbent


def _quick(design: Any, sorbent: Any) -> tuple[Any, Any]:
    return design, replace(sorbent, row=sorbent.adjusted_row(rate_factor=100.0))


def _ample(design: Any, sorbent: Any) -> tuple[Any, Any]:
    larger = replace(
        design,
        sorbent_mass=3.0 * design.sorbent_mass,
        bed_area=3.0 * design.bed_area,
        bed_effectiveness=1.0,
    )
    return larger, sorbent


def _times(**factors: float) -> Change:
    """Scale fields of the design."""

    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        values = {name: getattr(design, name) * factor for name, factor in factors.items()}
        return replace(design, **values), sorbent

    return change


def larger_store(times: float) -> Change:
    """Enlarge tank and its salt; the still keeps its own, so that the solution is as strong as before."""

    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        salt = design.still_salt + times * design.store_salt
        return replace(design, salt_mass=salt, store_volume=times * design.store_volume), sorbent

    return change


# Losses that several kinds share
_OPTICAL: Final = Mechanism(
    "optical",
    "Sun that does not reach the absorber",
    "clear, clean, non-reflecting glass; black absorber",
    _clear,
)
_KINETICS: Final = Mechanism("kinetics", "Slow grains", "a hundred times the rate inside the grains", _quick)
_BED: Final = Mechanism(
    "bed",
    "Too little bed for the night",
    "three times the sorbent in three times the layers, freely exposed",
    _ample,
)
_LOOP_CONDENSER: Final = Mechanism(
    "condenser",
    "Condenser warmer than the air",
    "twenty times its area, a thousand times its conductance to the air",
    _times(condenser_area=20.0, condenser_conductance=1000.0),
)

_OF_PASSIVE_BOX: Final = (
    _OPTICAL,
    Mechanism(
        "heat",
        "Heat lost through cover and edges",
        "no radiation, convection or edge loss from the absorber",
        _warm,
    ),
    Mechanism(
        "sensible",
        "Heat that warms sorbent and metal",
        "a hundredth of their heat capacity",
        _light,
    ),
    Mechanism(
        "condenser",
        "Condenser warmer than the air",
        "a condenser at air temperature that the bed does not warm",
        _cold,
    ),
    Mechanism(
        "surfaces",
        "Leak and water left on surfaces",
        "no leak, next to no hold-up",
        _fields(leak=0.0, condenser_holdup=1e-3, glazing_holdup=1e-3),
    ),
    _KINETICS,
    _BED,
)


def _both(first: Change, second: Change) -> Change:
    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        return second(*first(design, sorbent))

    return change


def _lighter(**factors: float) -> Change:
    """Scale fields of the design and take the sorbent's own heat capacity down to a hundredth."""
    scaled = _times(**factors)

    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        design, sorbent = scaled(design, sorbent)
        return design, replace(sorbent, dry_specific_heat=0.01 * sorbent.dry_specific_heat)

    return change


_CLEAR_GLASS: Final = {"glazing_extinction": 0.0, "glazing_refractive_index": 1.0 + 1e-6, "soiling": 0.0}

_OF_HYBRID: Final = (
    Mechanism(
        "optical",
        "Sun that does not reach the absorber",
        "clear, clean, non-reflecting glass; black absorber",
        _fields(**_CLEAR_GLASS, absorber_absorptance=1.0),
    ),
    Mechanism(
        "heat",
        "Heat lost through cover and edges",
        "no radiation from the absorber, no edge loss; the air under the glass stays",
        _fields(absorber_emissivity=1e-4, edge_loss=0.0),
    ),
    Mechanism(
        "sensible",
        "Heat that warms sorbent, metal and the loop's air",
        "a hundredth of their heat capacity; all of the loop's own heat recovered",
        _both(_lighter(bed_metal=0.01), _fields(loop_recovery=1.0)),
    ),
    Mechanism(
        "condenser",
        "Condenser warmer than the air",
        "a thousand times its outer area",
        _times(condenser_outer_area=1000.0),
    ),
    Mechanism(
        "surfaces",
        "Leak and water left on the condenser",
        "no leak, next to no hold-up",
        _fields(leak=0.0, condenser_holdup=1e-3),
    ),
    Mechanism(
        "air",
        "Too little night air, or a slow way to the layer",
        "ten times the night fan's air, the coefficient and the rate inside the grains",
        _both(_times(open_airflow=10.0, bed_coefficient=10.0), _quick),
    ),
    Mechanism(
        "bed",
        "Too little bed for the night",
        "three times the sorbent in three times the layers",
        _times(sorbent_mass=3.0, bed_area=3.0),
    ),
)

_OF_ACTIVE_BED: Final = (
    Mechanism(
        "heat",
        "Heat lost through casing and with the air",
        "no loss through the casing; all heat of the air that leaves the bed recovered",
        _fields(edge_loss=0.0, heat_recovery=0.99),
    ),
    Mechanism(
        "sensible",
        "Heat that warms sorbent and metal",
        "a hundredth of their heat capacity",
        _lighter(bed_metal=0.01),
    ),
    Mechanism(
        "supply",
        "Too little heat in the time for release",
        "five times the power, the collector and the conductance",
        _times(heating_power=5.0, collector_area=5.0, heat_conductance=5.0),
    ),
    _LOOP_CONDENSER,
    Mechanism(
        "surfaces",
        "Leak and water left on the condenser",
        "tight dampers, next to no hold-up",
        _fields(damper_leak=0.0, condenser_holdup=1e-3),
    ),
    _KINETICS,
    Mechanism(
        "bed",
        "Too little bed and air for the time of uptake",
        "three times the sorbent in three times the depth, three times the air",
        _times(sorbent_mass=3.0, bed_depth=3.0, face_velocity=3.0),
    ),
)

_OF_DESICCANT_WHEEL: Final = (
    Mechanism(
        "heat",
        "Heat lost through the casing and with the air",
        "no loss through the casing; all heat of the air that leaves the wheel recovered",
        _fields(edge_loss=0.0, heat_recovery=0.99),
    ),
    Mechanism(
        "sensible",
        "Heat that the wheel carries to and fro",
        "a hundredth of the heat capacity of sorbent and carrier",
        _lighter(wheel_substrate=0.01),
    ),
    Mechanism(
        "supply",
        "Too little heat for release",
        "five times the power",
        _times(heating_power=5.0),
    ),
    _LOOP_CONDENSER,
    Mechanism(
        "surfaces",
        "Leak and water left on the condenser",
        "tight seals, next to no hold-up",
        _fields(seal_leak=0.0, condenser_holdup=1e-3),
    ),
    _KINETICS,
    Mechanism(
        "bed",
        "Too little wheel and outdoor air",
        "three times the sorbent in three times the depth, three times the outdoor air",
        _times(sorbent_mass=3.0, wheel_depth=3.0, face_velocity=3.0),
    ),
)

_OF_COOLING_COIL: Final = (
    Mechanism(
        "rejection",
        "Condenser warmer than the air",
        "thirty times the condenser's conductance and its air",
        _times(condenser_conductance=30.0, condenser_air_ratio=30.0),
    ),
    Mechanism(
        "machine",
        "Work lost in compressor or modules",
        "ninety-nine hundredths of Carnot's performance; ten times the figure of merit",
        _both(_fields(second_law=0.99), _times(figure_of_merit=10.0)),
    ),
    Mechanism(
        "fins",
        "Fins warmer than what evaporates",
        "ten times the way from the fins to the cold side",
        _times(refrigerant_conductance=10.0),
    ),
    Mechanism(
        "sensible",
        "Cold spent on cooling dry air",
        "nineteen twentieths of it given back to the air that enters",
        _fields(recovery=0.95),
    ),
    Mechanism(
        "bypass",
        "Air that the fins do not touch",
        "five times the fins",
        _times(fin_area=5.0),
    ),
    Mechanism(
        "off",
        "Frost, and hours in which it is off",
        "running at any dew point, frost melted at once",
        _both(_fields(run_above_dew_point=253.15), _times(defrost_power=100.0)),
    ),
    Mechanism(
        "surfaces",
        "Water left on the fins",
        "next to no hold-up",
        _fields(fin_holdup=1e-3),
    ),
)

_OF_DEW_CONDENSER: Final = (
    Mechanism(
        "sky",
        "Cold of the sky that the sheet does not take",
        "a black sheet that sees nothing but sky",
        _fields(emissivity=1.0, sky_view=1.0),
    ),
    Mechanism(
        "back",
        "Heat from behind",
        "no heat through the insulation",
        _fields(back_loss=0.0),
    ),
    Mechanism(
        "wind",
        "Wind that warms the sheet",
        "a fifth of the wind: less heat, and less vapour with it",
        _times(shelter=0.2),
    ),
    Mechanism(
        "sensible",
        "Heat of the sheet itself",
        "a tenth of its heat capacity",
        _times(sheet_mass=0.1),
    ),
    Mechanism(
        "sun",
        "Sun that dries the sheet",
        "a sheet, and dust on it, that take no sunlight",
        _fields(solar_absorptance=0.0, soiling=0.0),
    ),
    Mechanism(
        "surfaces",
        "Drops that hang on the sheet",
        "next to no hold-up",
        _fields(holdup=1e-3),
    ),
)

_OF_LIQUID_DESICCANT: Final = (
    Mechanism(
        "optical",
        "Sun that does not reach the solution",
        "clear, clean, non-reflecting glass that no drops dim; a black still",
        _fields(**_CLEAR_GLASS, still_absorptance=1.0, wet_glass_loss=0.0),
    ),
    Mechanism(
        "heat",
        "Heat lost by still and tank",
        "no edge loss, no loss of the tank, next to no radiation from the solution to the glass",
        _fields(edge_loss=0.0, tank_loss=0.0, still_emissivity=0.01),
    ),
    Mechanism(
        "exchange",
        "Heat that goes with the solution, and warms the plate",
        "a heat exchanger of 0.99, a tenth of the plate's heat capacity",
        _both(_fields(exchanger_effectiveness=0.99), _times(still_heat=0.1)),
    ),
    Mechanism(
        "condenser",
        "Glass or condenser warmer than the air",
        "ten times the wind's cooling of the glass, a thousand times a separate condenser's area",
        _times(wind_constant=10.0, wind_slope=10.0, condenser_outer_area=1000.0),
    ),
    Mechanism(
        "surfaces",
        "Leak and water left on surfaces",
        "no leak, next to no hold-up",
        _fields(leak=0.0, condenser_holdup=1e-3, glazing_holdup=1e-3),
    ),
    Mechanism(
        "kinetics",
        "Slow diffusion in the solution",
        "a hundred times the rate",
        _quick,
    ),
    Mechanism(
        "absorber",
        "Too little absorber, air or salt for the night",
        "three times absorber, its face, its fan, the salt in tank and absorber and the tank",
        _both(_times(absorber_area=3.0, absorber_face=3.0, fan_flow=3.0), larger_store(3.0)),
    ),
)

_OF_TWO_STAGE_BOX: Final = (
    _OPTICAL,
    Mechanism(
        "heat",
        "Heat lost through cover and edges",
        "no radiation, convection or edge loss from absorber and plate",
        _fields(absorber_emissivity=1e-4, first_edge_loss=0.0, second_edge_loss=0.0, front_insulation=1e-3),
    ),
    Mechanism(
        "sensible",
        "Heat that warms sorbent and metal",
        "a hundredth of their heat capacity",
        _lighter(bed_metal=0.01, plate_metal=0.01),
    ),
    Mechanism(
        "condenser",
        "Plate and condenser warmer than the air",
        "a condenser at air temperature, no radiation down to it or to the plate",
        _both(_times(condenser_outer_area=1000.0), _fields(condenser_stray_sun=0.0, gap_emissivity=0.0)),
    ),
    Mechanism(
        "surfaces",
        "Leak and water left on surfaces",
        "no leak, next to no hold-up",
        _fields(leak=0.0, holdup=1e-3),
    ),
    _KINETICS,
    _BED,
)

# Kind to its losses, in the order in which the ladder switches them on again.
MECHANISMS: Final[Mapping[str, tuple[Mechanism, ...]]] = {
    "passive_box": _OF_PASSIVE_BOX,
    "two_stage_box": _OF_TWO_STAGE_BOX,
    "active_bed": _OF_ACTIVE_BED,
    "desiccant_wheel": _OF_DESICCANT_WHEEL,
    "cooling_coil": _OF_COOLING_COIL,
    "dew_condenser": _OF_DEW_CONDENSER,
    "liquid_desiccant": _OF_LIQUID_DESICCANT,
    "hybrid": _OF_HYBRID,
}
