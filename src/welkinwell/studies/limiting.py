"""What holds the litres back: the same year again with one thing made easier at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.errors import InputError, SolverError
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.kinds import harvester_of
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.power_cuts import spells_of, without_power_cuts
from welkinwell.simulation import simulate
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.loss_mechanisms import larger_store
from welkinwell.studies.runner import run_all
from welkinwell.year import figures

Change = Callable[[Any, Any], tuple[Any, Any]]
Relaxation = tuple[str, str, str, Change]  # key, name, how, change of design and sorbent


@dataclass(frozen=True)
class Relaxed:
    """One thing made easier: what, how, and the litres by month that it would give (all modules)."""

    key: str
    name: str
    how: str
    litres_per_day: float
    litres_by_month: NDArray[np.float64]


def _sized(**factors: float) -> Change:
    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        new = {name: getattr(design, name) * factor for name, factor in factors.items()}
        return replace(design, **new), sorbent

    return change


def _set(**values: Any) -> Change:
    def change(design: Any, sorbent: Any) -> tuple[Any, Any]:
        return replace(design, **values), sorbent

    return change


def _faster(design: PassiveBox, sorbent: Sorbent) -> tuple[PassiveBox, Sorbent]:
    return design, replace(sorbent, row=sorbent.adjusted_row(rate_factor=10.0))


def _ample(design: PassiveBox, sorbent: Sorbent) -> tuple[PassiveBox, Sorbent]:
    # twice the bed in twice the layers, so that thickness stays
    return replace(design, sorbent_mass=2.0 * design.sorbent_mass, bed_area=2.0 * design.bed_area), sorbent


def _exposed(design: PassiveBox, sorbent: Sorbent) -> tuple[PassiveBox, Sorbent]:
    return replace(design, bed_effectiveness=1.0), sorbent


def _tight(design: PassiveBox, sorbent: Sorbent) -> tuple[PassiveBox, Sorbent]:
    return replace(design, leak=0.0, condenser_holdup=0.001, glazing_holdup=0.001), sorbent


_OF_PASSIVE_BOX: Final[tuple[Relaxation, ...]] = (
    ("sorbent", "Amount of sorbent", "twice the sorbent in twice the layers", _ample),
    ("air", "Air reaching the bed at night", "the whole layer freely exposed", _exposed),
    ("kinetics", "Speed of the sorbent", "ten times the rate inside the grains", _faster),
    ("heat", "Heat by day", "0.4 of the absorber's emissivity and of the edge loss, clean glass", _sized(
        absorber_emissivity=0.4, edge_loss=0.4, soiling=0.0)),
    ("gap", "Way from bed to condenser", "half the gap", _sized(rear_gap=0.5, front_gap=1.0)),
    ("condenser", "Cold condenser", "three times the outer area", _sized(condenser_outer_area=3.0)),
    ("losses", "Leak and water left on surfaces", "no leak, no hold-up", _tight),
)  # fmt: skip


def _tight_stages(design: Any, sorbent: Any) -> tuple[Any, Any]:
    return replace(design, leak=0.0, holdup=0.001), sorbent


_OF_TWO_STAGE_BOX: Final[tuple[Relaxation, ...]] = (
    ("sorbent", "Amount of sorbent", "twice the sorbent in twice the layers", _ample),
    ("air", "Air reaching the beds at night", "the whole layers freely exposed", _exposed),
    ("kinetics", "Speed of the sorbent", "ten times the rate inside the grains", _faster),
    ("heat", "Heat by day", "0.4 of the absorber's emissivity and of the edge losses, clean glass", _sized(
        absorber_emissivity=0.4, first_edge_loss=0.4, second_edge_loss=0.4, soiling=0.0)),
    ("gap", "Way from beds to plate and condenser", "half the gaps", _sized(first_gap=0.5, second_gap=0.5)),
    ("condenser", "Cold condenser", "three times the outer area", _sized(condenser_outer_area=3.0)),
    ("losses", "Leak and water left on surfaces", "no leak, no hold-up", _tight_stages),
)  # fmt: skip


def _deeper(design: Any, sorbent: Sorbent) -> tuple[Any, Sorbent]:
    # twice the bed at twice the depth, so that grains and coatings stay
    return replace(design, sorbent_mass=2.0 * design.sorbent_mass, bed_depth=2.0 * design.bed_depth), sorbent


def _shut(design: Any, sorbent: Sorbent) -> tuple[Any, Sorbent]:
    return replace(design, damper_leak=0.0, condenser_holdup=0.001), sorbent


_OF_ACTIVE_BED: Final[tuple[Relaxation, ...]] = (
    ("sorbent_in_cycle", "Amount of sorbent", "twice the sorbent in a bed of twice the depth", _deeper),
    ("air_blown", "Air through the bed", "twice the velocity", _sized(face_velocity=2.0)),
    ("kinetics", "Speed of the sorbent", "ten times the rate inside the grains", _faster),
    ("release_heat", "Heat for release", "twice the power, collector and conductance", _sized(
        heating_power=2.0, collector_area=2.0, heat_conductance=2.0)),
    ("release_air", "Air between bed and condenser", "twice the velocity", _sized(release_velocity=2.0)),
    ("condenser", "Cold condenser", "three times its area and conductance", _sized(
        condenser_area=3.0, condenser_conductance=3.0)),
    ("losses", "Leak and water left on surfaces", "tight dampers, no hold-up", _shut),
)  # fmt: skip


def _in_drier_air(design: Any, sorbent: Any) -> tuple[Any, Any]:
    lower = max(design.run_above_dew_point - 5.0, 263.15)
    return replace(design, run_above_dew_point=lower), sorbent


_OF_COOLING_COIL: Final[tuple[Relaxation, ...]] = (
    ("cold", "Cold made", "twice the compressor or the modules", _sized(
        rated_capacity=2.0, module_conductance=2.0)),
    ("fins", "Fins", "twice the fins, and twice their way to the cold side", _sized(
        fin_area=2.0, refrigerant_conductance=2.0)),
    ("air_drawn", "Air through the coil", "half as much air again", _sized(face_velocity=1.5)),
    ("rejection", "Heat given off", "three times the condenser and its air", _sized(
        condenser_conductance=3.0, condenser_air_ratio=3.0)),
    ("frost", "Frost", "three times the frost before it is melted, three times as fast", _sized(
        frost_limit=3.0, defrost_power=3.0)),
    ("dry_air", "Hours in which it runs", "down to 5 K less of dew point", _in_drier_air),
    ("holdup", "Water left on the surfaces", "every drop runs", _sized(fin_holdup=0.05)),
)  # fmt: skip
_OF_DEW_CONDENSER: Final[tuple[Relaxation, ...]] = (
    ("sky", "Cold of the sky", "a black sheet that sees nothing but sky", _set(emissivity=1.0, sky_view=1.0)),
    ("wind", "Warm wind", "half the wind", _sized(shelter=0.5)),
    ("back", "Heat from behind", "no heat through the insulation", _set(back_loss=0.0)),
    ("drying", "Sun by day", "covered while the sun shines", _set(operation="sun")),
    ("holdup", "Water left on the surfaces", "every drop runs", _set(holdup=0.001)),
)


def _tight_still(design: Any, sorbent: Sorbent) -> tuple[Any, Sorbent]:
    return replace(design, leak=0.0, condenser_holdup=0.001, glazing_holdup=0.001), sorbent


def _free_solution(design: Any, sorbent: Sorbent) -> tuple[Any, Sorbent]:
    return replace(design, exchanger_effectiveness=0.95), sorbent


_OF_LIQUID_DESICCANT: Final[tuple[Relaxation, ...]] = (
    ("sorbent", "Amount of salt", "twice the salt in a tank twice as large", larger_store(2.0)),
    ("air", "Air reaching the solution", "twice the absorber, its face and its fan", _sized(
        absorber_area=2.0, absorber_face=2.0, fan_flow=2.0)),
    ("kinetics", "Diffusion in the solution", "ten times the rate", _faster),
    ("heat", "Heat by day", "0.4 of edge and tank loss, clean glass, twice the way of supplied heat", _sized(
        edge_loss=0.4, tank_loss=0.4, soiling=0.0, heat_conductance=2.0)),
    ("exchange", "Heat lost with the solution", "a heat exchanger of 0.95", _free_solution),
    ("gap", "Way from solution to glass", "half the gap", _sized(still_gap=0.5)),
    ("condenser", "Cold condenser", "twice the wind's cooling, three times a separate condenser", _sized(
        wind_constant=2.0, wind_slope=2.0, condenser_outer_area=3.0)),
    ("losses", "Leak and water left on surfaces", "no leak, no hold-up", _tight_still),
)  # fmt: skip


_OF_HYBRID: Final[tuple[Relaxation, ...]] = (
    ("sorbent", "Amount of sorbent", "twice the sorbent in twice the layers", _ample),
    ("air", "Air reaching the bed at night", "twice the night fan's air and the bed's coefficient", _sized(
        open_airflow=2.0, bed_coefficient=2.0)),
    ("kinetics", "Speed of the sorbent", "ten times the rate inside the grains", _faster),
    ("heat", "Heat by day", "0.4 of the absorber's emissivity and of the edge loss, clean glass", _sized(
        absorber_emissivity=0.4, edge_loss=0.4, soiling=0.0)),
    ("power", "Electricity of the top-up", "twice its power and its limit", _sized(
        top_up_power=2.0, top_up_limit=2.0)),
    ("gap", "Way from bed to condenser", "twice the loop's air", _sized(loop_airflow=2.0)),
    ("condenser", "Cold condenser", "three times the outer area", _sized(condenser_outer_area=3.0)),
    ("radiator", "Night radiator", "twice the plate", _sized(radiator_area=2.0)),
    ("losses", "Leak and water left on surfaces", "no leak, no hold-up", _set(
        leak=0.0, condenser_holdup=0.001)),
)  # fmt: skip


def _sealed(design: Any, sorbent: Sorbent) -> tuple[Any, Sorbent]:
    return replace(design, seal_leak=0.0, condenser_holdup=0.001), sorbent


def _thicker(design: Any, sorbent: Sorbent) -> tuple[Any, Sorbent]:
    # twice the wheel at twice the depth, so that the coating stays
    double = {"sorbent_mass": 2.0 * design.sorbent_mass, "wheel_depth": 2.0 * design.wheel_depth}
    return replace(design, **double), sorbent


_OF_DESICCANT_WHEEL: Final[tuple[Relaxation, ...]] = (
    ("sorbent_in_turn", "Amount of sorbent", "twice the sorbent in a wheel of twice the depth", _thicker),
    ("air_blown", "Air through the wheel", "twice the velocity", _sized(face_velocity=2.0)),
    ("turning", "Speed of the wheel", "half the turns", _sized(wheel_revolutions=0.5)),
    ("kinetics", "Speed of the sorbent", "ten times the rate inside the grains", _faster),
    ("release_heat", "Heat for release", "twice the power", _sized(heating_power=2.0)),
    ("release_air", "Air between wheel and condenser", "twice the velocity", _sized(
        regeneration_velocity=2.0)),
    ("condenser", "Cold condenser", "three times its area and conductance", _sized(
        condenser_area=3.0, condenser_conductance=3.0)),
    ("losses", "Leak and water left on surfaces", "tight seals, no hold-up", _sealed),
)  # fmt: skip
# Kind to what is relaxed for it.
RELAXATIONS: Final[Mapping[str, tuple[Relaxation, ...]]] = {
    "passive_box": _OF_PASSIVE_BOX,
    "two_stage_box": _OF_TWO_STAGE_BOX,
    "active_bed": _OF_ACTIVE_BED,
    "desiccant_wheel": _OF_DESICCANT_WHEEL,
    "cooling_coil": _OF_COOLING_COIL,
    "dew_condenser": _OF_DEW_CONDENSER,
    "liquid_desiccant": _OF_LIQUID_DESICCANT,
    "hybrid": _OF_HYBRID,
}
POWER_CUTS: Final = "power_cuts"  # relaxed for every kind that meets them
# Why a step limits, in words for people; kinds whose parts have other names stand below.
REASONS: Final = {
    POWER_CUTS: "there is no electricity in some of its hours",
    "sorbent_in_turn": "a turn of the wheel carries too little water",
    "cold": "too little cold is made",
    "fins": "the fins take too little from the air",
    "air_drawn": "too little air comes by",
    "rejection": "the heat does not get away",
    "frost": "frost stops the machine",
    "dry_air": "it is off while the air is dry",
    "sky": "the sheet loses too little heat to the sky",
    "wind": "the wind warms the sheet",
    "back": "heat comes through the insulation",
    "drying": "dew dries before it runs",
    "holdup": "drops stay on the surfaces",
    "sorbent": "the bed is full before the night ends or empty before the day does",
    "air": "too little vapour reaches the bed at night",
    "kinetics": "the grains take up and let go too slowly",
    "heat": "too little heat stays in the bed",
    "gap": "vapour reaches the condenser too slowly",
    "condenser": "the condenser is too warm",
    "exchange": "warm solution takes the still's heat to the tank",
    "power": "too little electricity tops the heat up, or it costs too much for a litre",
    "radiator": "the sky takes too little of the bed's and the condenser's heat",
    "losses": "water leaks out or stays on surfaces",
    "sorbent_in_cycle": "the bed is full before uptake ends or empty before release does",
    "air_blown": "too little air is blown through the bed",
    "turning": "the wheel turns so fast that it carries heat to and fro",
    "release_heat": "the bed gets too little heat in the time that it has",
    "release_air": "too little air carries vapour from bed to condenser",
}

REASONS_OF: Final[Mapping[str, Mapping[str, str]]] = {
    "active_bed": {"losses": "vapour leaks through the dampers or water stays on surfaces"},
    "desiccant_wheel": {
        "air_blown": "too little air is blown through the wheel",
        "kinetics": "the coating takes up and lets go too slowly",
        "release_heat": "the hot air gets too little heat",
        "release_air": "too little air carries vapour from the wheel to the condenser",
        "losses": "vapour leaks past the seals or water stays on surfaces",
    },
    "liquid_desiccant": {
        "sorbent": "the solution is diluted before the night ends or strong before the day does",
        "air": "too little vapour reaches the solution at night",
        "kinetics": "water moves too slowly inside the solution",
        "heat": "too little heat stays in the still",
        "gap": "vapour reaches the glass or the condenser too slowly",
        "condenser": "what the vapour condenses on is too warm",
    },
    "hybrid": {
        "air": "too little vapour is blown to the bed at night",
        "gap": "too little air carries vapour to the condenser",
    },
}


def reasons(kind: str) -> dict[str, str]:
    """Give the words for why each step of a kind limits, by key."""
    return {**REASONS, **REASONS_OF.get(kind, {})}


def limiting_steps(
    design: Any,
    sorbent: Sorbent | None,
    site: Surroundings,
    progress: Callable[[float], None] | None = None,
) -> list[Relaxed]:
    """Relax each step in turn and simulate the year again; the largest gain names what limits.

    Returns one entry a relaxation, in the order that RELAXATIONS has for the kind, and one more where the
    weather year has power cuts that stop it: the same device with electricity in every hour. A relaxation
    that cannot be simulated is left out; SolverError where that leaves none.
    """
    never_cut = replace(site, climate=without_power_cuts(site.climate))

    def relaxed(entry: Relaxation) -> Relaxed | None:
        key, name, how, change = entry
        new_design, new_sorbent = change(design, sorbent)
        place = never_cut if key == POWER_CUTS else site
        try:
            year = simulate(new_design, new_sorbent, place, keep="months", accuracy="fast", audit=False)
        except (SolverError, InputError):
            return None
        found = figures(year)
        return Relaxed(key, name, how, found["litres_per_day"], np.array(found["litres_by_month"]))

    entries = RELAXATIONS[design.kind]
    if meets_power_cuts(design, site):
        entries = (*entries, (POWER_CUTS, "Power cuts", "electricity in every hour", _set()))
    found = [one for one in run_all(relaxed, entries, progress=progress) if one is not None]
    if not found:
        raise SolverError("what limits the litres cannot be told: no step could be eased")
    return found


def not_eased(relaxed: Sequence[Relaxed], kind: str) -> str:
    """Name the steps of a kind that could not be eased; empty where all were."""
    tried = {one.key for one in relaxed}
    names = [name.lower() for key, name, _, _ in RELAXATIONS[kind] if key not in tried]
    if not names:
        return ""
    return f"What limits the litres was sought without these steps, whose easing stopped: {', '.join(names)}."


def meets_power_cuts(design: Any, site: Surroundings) -> bool:
    """Whether a design uses electricity and the weather year has hours without it."""
    return harvester_of(design).unpowered is not None and len(spells_of(site.climate)) > 0


def limit_by_month(relaxed: list[Relaxed], litres_by_month: NDArray[np.float64]) -> list[tuple[str, float]]:
    """Name the step with the largest gain in each month, and the gain over the litres of that month."""
    named = []
    for month in range(12):
        gains = [entry.litres_by_month[month] - litres_by_month[month] for entry in relaxed]
        best = int(np.argmax(gains))
        base = max(float(litres_by_month[month]), 1e-9)
        named.append((relaxed[best].key, float(gains[best]) / base))
    return named
