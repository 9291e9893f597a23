"""Published tests of desiccant wheels."""

from __future__ import annotations

from typing import Any, Final

from welkinwell.constants import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_SPECIFIC_HEAT,
    STANDARD_PRESSURE,
    WATER_GAS_CONSTANT,
)
from welkinwell.harvesters.published import (
    FACE_OF_COATINGS,
    STEADY_HOURS,
    Bench,
    DrawResult,
    Fields,
    Given,
    PublishedTests,
)
from welkinwell.harvesters.published_weather import steady_air
from welkinwell.moist_air import saturation_pressure
from welkinwell.sorbents.sorbent import Sorbent

AMPLE: Final = 2.0  # heat over that of the air's own rise, so that the stated temperature is reached


def _maps(given: Given, usual: Any, sorbent: Any) -> Fields:
    """Coated channels, both streams at one face velocity, so that the ratio of the airs divides the wheel.

    The kind's hot air goes round over a condenser at the outdoor air, where the test heats room air.
    """
    size, coating = given["channel_size"], given["coating_thickness"]
    share = FACE_OF_COATINGS * size / (size + 4.0 * coating)
    mass = 4.0 * share * given["wheel_depth"] / size * coating * sorbent.bulk_density
    velocity, ratio = given["face_velocity"], given["regeneration_air_ratio"]
    density = STANDARD_PRESSURE / (DRY_AIR_GAS_CONSTANT * given["air_temperature"])
    rise = given["release_temperature"] - given["air_temperature"]
    hot_air = velocity * ratio / (1.0 + ratio) * density * DRY_AIR_SPECIFIC_HEAT
    values = {
        "channel_share": share,
        "sorbent_mass": mass,
        "wheel_substrate": given["inert_mass_ratio"] * mass,
        "process_share": 1.0 / (1.0 + ratio),
        "regeneration_velocity": velocity,
        "regeneration_temperature": given["release_temperature"],
        "heating_power": AMPLE * hot_air * rise,
    }
    used = ("inert_mass_ratio", "regeneration_air_ratio", "reference_release_temperature")
    reasons = {
        "regeneration_air_ratio": "the kind's hot air goes round over a condenser; the test's is room air"
    }
    return Fields(values, used, reasons)


def _run(experiment: Any, given: Given, material: Sorbent | None, _: int, bench: Bench) -> DrawResult:
    """Steady turning: vapour that the process air leaves, at one regeneration temperature and at another."""
    assert material is not None
    removed, left_out, passes = [], {}, 1.0
    for name in ("release_temperature", "reference_release_temperature"):
        words = {**given, "release_temperature": given[name]}
        mapped = bench.mapped("desiccant_wheel", words, material)
        design, left_out = mapped.design, dict(mapped.left_out)
        water = bench.run(design, material, steady_air(given, STEADY_HOURS))[0].water
        net = water["water_taken_up"][0] - water["water_released_open"][0]
        removed.append(float(net[-STEADY_HOURS // 2 :].mean()))
        vapour = given["relative_humidity"] * float(saturation_pressure(given["air_temperature"]))
        density = vapour / (WATER_GAS_CONSTANT * given["air_temperature"])
        passes = design.face_velocity * design.process_share * density * 3600.0
    return DrawResult(
        {"removal_ratio": removed[0] / removed[1], "removal_efficiency": removed[0] / passes}, left_out
    )


PUBLISHED: Final = PublishedTests(_maps, _run, "desiccant wheel", place=6)
