"""Published tests of liquid desiccants."""

from __future__ import annotations

from typing import Any, Final

from welkinwell.constants import DRY_AIR_GAS_CONSTANT
from welkinwell.harvesters.published import (
    Bench,
    DrawResult,
    Fields,
    Given,
    PublishedTests,
    glazed,
    ways_of_water,
)
from welkinwell.harvesters.published_weather import day_air
from welkinwell.moist_air import saturation_pressure
from welkinwell.moist_air.altitude import pressure_at_altitude
from welkinwell.moist_air.transport import dry_air_conductivity, dry_air_viscosity
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.transfer.condensation import lewis_mass_coefficient, stefan_flow

WETTEST_BRINE: Final = 0.9  # relative humidity of the second figure (its basis in the file)
AIR_PRANDTL: Final = 0.71  # Bergman2011


def _maps(given: Given, usual: Any, sorbent: Any) -> Fields:
    """A film on the outside of the cover is an open, sky-facing surface of brine as large as the aperture."""
    values = {"absorber": "tray", "absorber_area": 1.0, "absorber_sky_area": 1.0, "condenser": "glass"}
    reasons = {
        "brine_salt_share": "the loop settles its own strength; the usual salt per aperture stands",
        "surface_length": "an open surface of brine has no length in the kind",
    }
    return Fields(values, (), reasons)


def _run(experiment: Any, given: Given, material: Sorbent | None, _: int, bench: Bench) -> DrawResult:
    """One day repeated until it repeats itself; brine alone where no water is given."""
    assert material is not None
    if not experiment.gives_water:
        return _brine(given, material)
    mapped = bench.mapped("liquid_desiccant", given, material)
    design = mapped.design
    water = bench.repeated(design, material, day_air(given, glazed(design, design.still_absorptance)))
    figures = {"litres_per_m2_day": float(water["water_collected"].sum())}
    return DrawResult(figures, mapped.left_out, ways_of_water(water))


def _brine(given: Given, material: Sorbent) -> DrawResult:
    """Vapour that a film of air and a membrane let through to brine of constant strength.

    Laminar flow along the sample, Nu = 0.664 Re^0.5 Pr^(1/3) (Bergman2011, 7.30), heat and mass alike
    (Chilton1934), Stefan flow.
    """
    figures = {}
    for key, humidity in (("", given["relative_humidity"]), (" 2", WETTEST_BRINE)):
        flow = _captured(given, humidity, material)
        figures[f"kg_captured_per_m2_day{key}"] = flow * 86400.0
    return DrawResult(figures)


def _captured(given: Given, humidity: float, material: Sorbent) -> float:
    """Vapour taken up by the brine [kg/(m2 s)]."""
    T, pressure = given["air_temperature"], pressure_at_altitude(given.get("elevation", 0.0))
    brine = T + given["brine_above_air"]
    mean = 0.5 * (T + brine)
    reynolds = given["wind_speed"] * given["surface_length"] / _air_viscosity(mean, pressure)
    nusselt = 0.664 * reynolds**0.5 * AIR_PRANDTL ** (1.0 / 3.0)
    heat = nusselt * dry_air_conductivity(mean) / given["surface_length"]
    mass = lewis_mass_coefficient(heat, mean, pressure) / (1.0 + given["membrane_share"])
    salt = given["brine_salt_share"]
    over = float(material.pressure(brine, (1.0 - salt) / salt))
    outside = humidity * float(saturation_pressure(T))
    return float(stefan_flow(mass, mean, outside, over, pressure))


def _air_viscosity(temperature: float, pressure: float) -> float:
    """Kinematic viscosity of dry air [m2/s]."""
    return dry_air_viscosity(temperature) * DRY_AIR_GAS_CONSTANT * temperature / pressure


PUBLISHED: Final = PublishedTests(_maps, _run, "liquid desiccant", place=3)
