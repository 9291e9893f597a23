"""Published tests of passive solar boxes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import FREEZING_POINT
from welkinwell.harvesters.air import SUN_PLANE, AirRecord
from welkinwell.harvesters.passive_box.design import LEAST_EMISSIVITY
from welkinwell.harvesters.published import (
    HELD,
    Bench,
    DrawResult,
    Fields,
    Given,
    PublishedTests,
    glazed,
    ways_of_water,
)
from welkinwell.harvesters.published_weather import day_air, uptake_air
from welkinwell.moist_air import latent_heat
from welkinwell.sorbents.sorbent import Sorbent

RELEASE_SHARE: Final = 0.01  # of the best hour's condensate, from which an hour counts as one of release
NEARLY_FULL: Final = 0.01  # of the first hour's uptake: the protocol of the six boxes
EVENING: Final = 18  # h
EMPTIED: Final = 0.01  # relative humidity that empties a bed before uptake alone is followed (assumed)
TWO_STAGES: Final = "two_stage_box"  # what a test of a box with a second stage is mapped to


def _maps(given: Given, usual: Any, sorbent: Any) -> Fields:
    """Fields bear the words' own names; the mass of the whole device turns L/kg into grams a day."""
    values, reasons = {}, {}
    seen = given.get("bed_open_emissivity", usual.bed_open_emissivity) + given.get(
        "bed_condenser_emissivity", usual.bed_condenser_emissivity
    )
    if given.get("cover_opens", usual.cover_opens) and seen < LEAST_EMISSIVITY:
        values["bed_open_emissivity"] = LEAST_EMISSIVITY  # the least that the kind takes for a bare bed
    if "batches_per_day" in given:
        reasons["batches_per_day"] = "the kind has one cycle a day: all sorbent is released at once"
    return Fields(values, ("dry_sorbent", "second_stage"), reasons)


def _way(words: Given) -> str:
    return TWO_STAGES if words.get("second_stage") else "passive_box"


def _run(experiment: Any, given: Given, material: Sorbent | None, _: int, bench: Bench) -> DrawResult:
    """One day repeated until it repeats itself."""
    assert material is not None
    if _way(given) == TWO_STAGES:
        return _two_stages(given, material, bench)
    mapped = bench.mapped("passive_box", given, material)
    design = mapped.design
    air = day_air(given, glazed(design, design.absorber_absorptance))
    if any(figure.quantity == "hours_to_saturation" for figure in experiment.figures):
        accounts, _flows = bench.run(design, material, uptake_air(air, EVENING, EMPTIED))
        return DrawResult({"hours_to_saturation": _hours_to_saturation(accounts.water)}, mapped.left_out)
    water = bench.repeated(design, material, air)
    litres = float(water["water_collected"].sum())
    figures = {
        "litres_per_m2_day": litres,
        "litres_per_kg_day": litres / design.sorbent_mass,
        "litres_per_day": litres * design.aperture_area,
        "thermal_efficiency": _efficiency(water, air),
    }
    if "dry_sorbent" in given:
        figures["grams_per_day"] = 1000.0 * litres / design.sorbent_mass * given["dry_sorbent"]
    return DrawResult(figures, mapped.left_out, ways_of_water(water) | _held(given, material))


def _two_stages(given: Given, material: Sorbent, bench: Bench) -> DrawResult:
    """A box with two stages, and beside it the first stage alone, with its own half of the sorbent."""
    alone = {**given, "sorbent_mass": 0.5 * given["sorbent_mass"], "bed_area": 0.5 * given["bed_area"]}
    water = []
    for way, words in ((TWO_STAGES, given), ("passive_box", alone)):
        design = bench.mapped(way, words, material).design
        air = day_air(given, glazed(design, design.absorber_absorptance))
        water.append(bench.repeated(design, material, air))
    both, one = (float(each["water_collected"].sum()) for each in water)
    figures = {
        "litres_per_m2_day": both,
        "gain_over_one_stage": both / one - 1.0 if one > 0.0 else np.inf,
    }
    return DrawResult(figures, {}, ways_of_water(water[0]) | _held(given, material))


def _held(given: Given, material: Sorbent) -> dict[str, float]:
    """Water of all sorbent at rest in the night's air [kg/m2]: no less than a day's swing."""
    if "sorbent_mass" not in given:
        return {}
    T, humidity = given["lowest_air_temperature"], given["night_relative_humidity"]
    return {HELD: given["sorbent_mass"] * float(material.loading(T, humidity))}


def _efficiency(water: Mapping[str, NDArray[np.float64]], air: AirRecord) -> float:
    """Latent heat of the day's water over the sun on the aperture in the hours of release [1]."""
    condensed = water["water_condensed"]
    hours = condensed > RELEASE_SHARE * condensed.max()
    plane = air.nodes[:, SUN_PLANE]
    sun = 0.25 * (plane[0:-1:2] + 2.0 * plane[1::2] + plane[2::2]) * 3600.0
    if not sun[hours].sum() > 0.0:
        return 0.0
    heat = float(latent_heat(FREEZING_POINT + 25.0))
    return float(water["water_collected"].sum()) * heat / float(sun[hours].sum())


def _hours_to_saturation(water: Mapping[str, tuple[NDArray[np.float64], str]]) -> float:
    """Hours from the evening until a hundredth of the first hour's uptake is left, at most a day [h]."""
    uptake = (water["water_taken_up"][0] - water["water_released_open"][0])[24:]
    done = np.flatnonzero(uptake[1:] < NEARLY_FULL * uptake[0])
    return float(done[0] + 1) if done.size else float(uptake.size)


PUBLISHED: Final = PublishedTests(_maps, _run, "passive solar box", place=1, way=_way, own_words=True)
