"""Weather that no file holds: extremes at random, two repeated days, and boxes to stand in them."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from welkinwell.constants import STEFAN_BOLTZMANN
from welkinwell.declare import check
from welkinwell.errors import InputError
from welkinwell.harvesters.air import SPACING, AirRecord
from welkinwell.harvesters.kinds import harvester_of
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulation import Prepared
from welkinwell.sky.plane import linear_nodes
from welkinwell.sorbents.sorbent import Sorbent, sorbent

EXTREME_DAYS: Final = 20
# Shares of the year's sun on the plane that absorber and glass of the starter module keep at four places
ABSORBED: Final = 0.805
GLASS_ABSORBED: Final = 0.015
SHEETS: Final = (
    *("aluminium_fumarate", "licl_gel", "mof_801"),
    *("silica_gel_regular_density", "zeolite_13x"),
)


def ready_in(design: PassiveBox, material: Sorbent, air: AirRecord) -> Prepared:
    """Bring a design into surroundings that were made by hand, as `simulate.prepare` does for a site."""
    harvester = harvester_of(design)
    design, material = harvester.fitted(design, material)
    numbers = harvester.numbers(design, material, air.pressure)
    return Prepared(harvester, design, material, air, harvester.plan(design, air), numbers, material.row)


def extreme_air(rng: np.random.Generator, days: int = EXTREME_DAYS) -> AirRecord:
    """Hours that have nothing to do with each other: -30 to 55 degC, RH 0.01 to 1, sun to 1200 W/m2."""
    hours = 24 * days
    low, high = np.sort(rng.uniform(243.15, 328.15, 2))
    at_hours = rng.uniform(low, high, hours + 1)
    humidity = np.exp(rng.uniform(np.log(0.01), 0.0, hours + 1))
    if rng.random() < 0.5:
        humidity = rng.uniform(0.01, 1.0, hours + 1)
    seconds = np.arange(2 * hours + 1) * SPACING
    temperature = np.interp(seconds, np.arange(hours + 1) * 3600.0, at_hours)
    vapour = np.interp(seconds, np.arange(hours + 1) * 3600.0, humidity) * saturation_pressure(temperature)
    wind = np.interp(seconds, np.arange(hours + 1) * 3600.0, rng.uniform(0.0, 20.0, hours + 1))
    sun = rng.choice([0.0, 1200.0, rng.uniform(0.0, 1200.0)], hours)
    if rng.random() < 0.5:
        sun = sun * np.tile(np.repeat([0.0, 1.0, 0.0], [6, 12, 6]), days)  # dark nights, mad days
    plane = linear_nodes(np.repeat(sun, 2), 2)
    sky = rng.uniform(0.55, 1.0) * STEFAN_BOLTZMANN * temperature**4
    pressure = rng.uniform(60000.0, 103000.0)
    rainy = rng.random(hours) < rng.choice([0.0, 0.05])
    rain = linear_nodes(np.repeat(np.where(rainy, rng.uniform(0.0, 5e-3, hours), 0.0), 2), 2)
    still = np.full_like(seconds, pressure)
    columns = [temperature, vapour, still, wind, sky, 0.82 * plane, 0.03 * plane, plane, rain]
    return AirRecord(np.column_stack(columns), SPACING, pressure, 0.0, rainy)


def extreme_box(rng: np.random.Generator) -> tuple[PassiveBox, Sorbent]:
    """A box with a bed of 0.5 to 20 mm, kinetics 0.03 to 300 times nominal, and any option."""
    while True:
        material = sorbent(str(rng.choice(SHEETS)))
        thickness = float(np.exp(rng.uniform(np.log(0.5e-3), np.log(20e-3))))
        area = float(rng.uniform(0.5, 6.0))
        face = str(rng.choice(["rear", "front", "both"]))
        design = PassiveBox(
            tilt=float(rng.uniform(0.0, 1.4)),
            layer_thickness=thickness,
            bed_area=area,
            sorbent_mass=float(np.clip(thickness * area * material.bulk_density, 0.05, 60.0)),
            bed_effectiveness=float(rng.uniform(0.3, 1.0)),
            open_faces=int(rng.integers(1, 3)),
            release_face=face,
            front_gap_sealed=face == "rear" and bool(rng.random() < 0.7),
            cover_opens=bool(rng.random() < 0.5),
            bed_open_emissivity=float(rng.choice([0.0, 0.9])),
            bed_sky_view=0.6,
            rain_catch=float(rng.choice([0.0, 0.5])),
            condenser_position=str(rng.choice(["below", "above", "beside"])),
            gap_circulation=str(rng.choice(["stratified", "inclined"])),
            rear_gap=float(rng.uniform(0.02, 0.2)),
            front_gap=float(rng.uniform(0.02, 0.2)),
            gap_air_volume=float(rng.uniform(0.05, 0.5)),
            condenser_mass=float(np.exp(rng.uniform(np.log(0.5), np.log(20.0)))),
            condenser_outer_area=float(rng.uniform(0.5, 5.0)),
            bed_condenser_emissivity=float(rng.uniform(0.05, 0.9)),
            leak=float(rng.uniform(0.0, 5.0)) / 3600.0,
            shelter=1.0,
            operation=str(rng.choice(["sun", "clock", "pressure"])),
            closed_in_rain=bool(rng.random() < 0.5),
        )
        try:
            check(design)
        except InputError:
            continue
        factor = float(np.exp(rng.uniform(np.log(0.03), np.log(300.0))))
        return design, replace(material, row=material.adjusted_row(rate_factor=factor))


def repeated_day(
    lowest: float,
    highest: float,
    dew_point: float,
    sun_on_plane: float,
    *,
    day_length: float = 12.0,
    wind: float = 3.0 * 0.798 * 0.5,
    days: int = 12,
    pressure: float = 101325.0,
) -> AirRecord:
    """The same day again and again: warmest at 15 h, half a sine of sun around noon, clear sky.

    lowest, highest, dew_point [K]; sun_on_plane [J/m2 a day]; day_length [h]; wind: at the device [m/s],
    by default 3 m/s at 10 m over open ground, brought down to 2 m, in half shelter. Sky: emissivity
    0.711 + 0.56 t + 0.73 t2, t the dew point over 100 degC (Berdahl1984).
    """
    hours = 24 * days
    seconds = np.arange(2 * hours + 1) * SPACING
    clock = seconds / 3600.0 % 24.0
    swing = np.cos((clock - 15.0) / 12.0 * np.pi)
    temperature = 0.5 * (lowest + highest) + 0.5 * (highest - lowest) * swing
    vapour = np.minimum(float(saturation_pressure(dew_point)), saturation_pressure(temperature))
    edges = np.arange(48 * days + 1) * SPACING / 3600.0 % 24.0
    begin, end = 12.0 - 0.5 * day_length, 12.0 + 0.5 * day_length

    def energy(hour):  # of half a sine from begin to the hour, 0 to 1
        return 0.5 * (1.0 - np.cos(np.pi * np.clip((hour - begin) / (end - begin), 0.0, 1.0)))

    half_hours = np.where(edges[1:] == 0.0, 24.0, edges[1:])
    means = (energy(half_hours) - energy(edges[:-1])) * sun_on_plane / SPACING
    plane = linear_nodes(means, 2)
    t = (dew_point - 273.15) / 100.0
    sky = (0.711 + 0.56 * t + 0.73 * t * t) * STEFAN_BOLTZMANN * temperature**4
    still = np.ones_like(seconds)
    columns = [temperature, vapour * still, pressure * still, wind * still, sky]
    columns += [ABSORBED * plane, GLASS_ABSORBED * plane, plane, 0.0 * still]
    return AirRecord(np.column_stack(columns), SPACING, pressure, 0.0, None)
