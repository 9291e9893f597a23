"""Weather of a published experiment, made from its drawn conditions: one repeated day, steady air, nights.

Conditions are in SI, by the names of experiment_words. Every record is as a device meets it (AirRecord).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.harvesters.air import (
    PER_HOUR,
    SPACING,
    SUN_ABSORBER,
    SUN_GLAZING,
    SUN_PLANE,
    TEMPERATURE,
    VAPOUR_PRESSURE,
    AirRecord,
)
from welkinwell.moist_air import saturation_pressure
from welkinwell.moist_air.altitude import pressure_at_altitude
from welkinwell.sky.longwave import black_body, sky_longwave
from welkinwell.sky.plane import CoverOptics, PlaneSun, absorbed_sun, linear_nodes
from welkinwell.transfer.plates import wind_at_height

Array = NDArray[np.float64]

WARMEST_HOUR: Final = 15.0  # common practice, no source
STATION_HEIGHT: Final = 10.0  # m, of the wind in the words
CLEAR_DIFFUSE: Final = 0.2  # share of a clear day's sun that is diffuse (common practice, no source)
AIR_MASS_BASE: Final = 0.7  # clear beam left at air mass 1, 0.7^(m^0.678) (values from memory)
AIR_MASS_POWER: Final = 0.678
NIGHT_BLOCK: Final = 16  # h: a night and the dry hours after it
DRY_WARMTH: Final = 10.0  # K, by which the dry hours after a night are warmer
DRY_SUN: Final = 100.0  # W/m2 that the sheet takes then
DRY_WIND: Final = 3.0  # m/s at the sheet then


@dataclass(frozen=True)
class Plane:
    """How a device meets sun and wind. tilt [rad]; cover: None for bare planes; height [m]; others [1]."""

    tilt: float
    cover: CoverOptics | None
    absorptance: float
    soiling: float
    height: float
    terrain: str
    shelter: float


def day_air(given: Mapping[str, Any], plane: Plane) -> AirRecord:
    """Make the 24 hours of a repeated day, solar time, for a plane that faces the equator.

    Warmest at 15 h; vapour pressure held at that of the coolest hour; clear beam and even diffuse light
    scaled to the day's sun on the plane, the diffuse share rising from 0.2 with the cloud; sky after Prata
    with cloud. Declination after Cooper (Duffie2013, 1.6.1a).
    Args: given: conditions [SI]; plane. Returns: the record.
    """
    clock = np.arange(24 * PER_HOUR + 1) * SPACING / 3600.0
    coolest, swing = given["lowest_air_temperature"], given["daily_temperature_swing"]
    temperature = coolest + 0.5 * swing * (1.0 + np.cos((clock - WARMEST_HOUR) / 12.0 * np.pi))
    vapour = given["night_relative_humidity"] * float(saturation_pressure(coolest))
    cloud = given["cloud_cover"]
    sky = np.array([sky_longwave(T, vapour, cloud) for T in temperature])
    wind = wind_at_height(given["wind_speed"], STATION_HEIGHT, plane.height, plane.terrain) * plane.shelter
    absorber, glazing, total = _sun_on(given, plane)
    still = np.ones_like(clock)
    pressure = pressure_at_altitude(given["elevation"])
    columns = [temperature, vapour * still, pressure * still, wind * still, sky]
    columns += [absorber * (1.0 - plane.soiling), glazing, total, 0.0 * still]
    return AirRecord(np.column_stack(columns), SPACING, pressure, 0.0, None)


def _sun_on(given: Mapping[str, Any], plane: Plane) -> tuple[Array, Array, Array]:
    """Nodes of the sun that absorber and cover take, and of that on the plane [W/m2]."""
    hours = (np.arange(24 * PER_HOUR) + 0.5) / PER_HOUR
    turn = (hours - 12.0) / 12.0 * np.pi
    latitude = given["latitude"]
    declination = math.radians(23.45) * math.sin(2.0 * math.pi * (284.0 + given["day_of_year"]) / 365.0)
    if latitude < 0.0:  # seen from the other hemisphere, so that the equator lies to the same side
        latitude, declination = -latitude, -declination

    def height(slope: float) -> Array:
        own = latitude - slope
        return math.sin(declination) * math.sin(own) + math.cos(declination) * math.cos(own) * np.cos(turn)

    up = np.maximum(height(0.0), 0.0)
    facing = np.where(up > 0.0, np.maximum(height(plane.tilt), 0.0), 0.0)
    air_mass = 1.0 / np.maximum(up, 0.02)
    beam = facing * AIR_MASS_BASE**air_mass**AIR_MASS_POWER
    diffuse_share = CLEAR_DIFFUSE + (1.0 - CLEAR_DIFFUSE) * given["cloud_cover"]
    day = given["sun_per_day"] / SPACING
    beam = beam * ((1.0 - diffuse_share) * day / beam.sum())
    diffuse = up * (diffuse_share * day / up.sum())
    none = np.zeros_like(beam)
    if plane.cover is None:
        absorber, glazing = plane.absorptance * (beam + diffuse), none
    else:
        incidence = np.arccos(np.clip(facing, 0.0, 1.0))
        # what the transposition started from is not known here, and is not asked for
        sun = PlaneSun(beam, none, diffuse, none, incidence, plane.tilt, None)  # type: ignore[arg-type]
        absorber, glazing = absorbed_sun(sun, plane.cover, plane.absorptance)
    nodes = [linear_nodes(part, PER_HOUR) for part in (absorber, glazing, beam + diffuse)]
    return nodes[0], nodes[1], nodes[2]


def uptake_air(day: AirRecord, from_hour: int, humidity: float) -> AirRecord:
    """Make a day of dry air and then a day from an hour on, both without sun: uptake into an emptied bed.

    Args: day: 24 hours; from_hour [1]; humidity of the dry day, relative [1]. Returns: 48 hours.
    """
    turned = np.roll(day.nodes[:-1], -from_hour * PER_HOUR, axis=0)
    turned[:, [SUN_ABSORBER, SUN_GLAZING, SUN_PLANE]] = 0.0
    dry = np.tile(turned[0], (turned.shape[0], 1))
    dry[:, VAPOUR_PRESSURE] = humidity * saturation_pressure(dry[:, TEMPERATURE])
    nodes = np.concatenate([dry, turned, turned[:1]])
    return AirRecord(nodes, day.spacing, day.pressure, 0.0, None)


def steady_air(given: Mapping[str, Any], hours: int, wind: float = 0.0) -> AirRecord:
    """Make hours of one state of the air without sun, under a clear or clouded sky where its cover is given.

    Args: given: conditions [SI]; hours [1]; wind at the device [m/s]. Returns: the record; indoors, where no
    cloud is given, the surroundings are as warm as the air.
    """
    count = hours * PER_HOUR + 1
    T = given["air_temperature"]
    vapour = given["relative_humidity"] * float(saturation_pressure(T))
    sky = sky_longwave(T, vapour, given["cloud_cover"]) if "cloud_cover" in given else black_body(T)
    pressure = pressure_at_altitude(given.get("elevation", 0.0))
    state = [T, vapour, pressure, wind, sky, 0.0, 0.0, 0.0, 0.0]
    return AirRecord(np.tile(state, (count, 1)), SPACING, pressure, 0.0, None)


def night_air(given: Mapping[str, Any], number: int) -> tuple[AirRecord, NDArray[np.bool_]]:
    """Make a record of nights, each steady and followed by hours that dry the sheet.

    Temperature and relative humidity from normal laws, wind from a Weibull law of shape 2 about its mean, sky
    clear or overcast in the shares that the mean cover gives.
    Args: given: conditions [SI]; number: of the draw, which seeds the nights [1]. Returns: the record, of
    NIGHT_BLOCK hours a night, and which nights rain takes away, shape (nights,).
    """
    random = np.random.default_rng([1, number])
    nights = int(given["nights"])
    temperature = random.normal(given["night_temperature_mean"], given["night_temperature_spread"], nights)
    humidity = random.normal(
        given["night_relative_humidity_mean"], given["night_relative_humidity_spread"], nights
    )
    humidity = np.clip(humidity, 0.05, 1.0)
    scale = given["wind_speed"] / math.gamma(1.5)
    wind = scale * random.weibull(2.0, nights) * given.get("sheet_shelter", 1.0)
    overcast = random.random(nights) < given["cloud_cover"]
    rainy = random.random(nights) < given["share_of_rainy_nights"]
    vapour = humidity * saturation_pressure(temperature)
    sky = [
        sky_longwave(T, e, float(cloud)) for T, e, cloud in zip(temperature, vapour, overcast, strict=True)
    ]
    pressure = pressure_at_altitude(given.get("elevation", 0.0))
    halves = NIGHT_BLOCK * PER_HOUR
    dark = np.arange(halves) <= round(given["night_length"] / SPACING)

    def spread(by_night: Any, by_day: Any) -> Array:
        nodes = np.where(dark, np.asarray(by_night)[:, None], np.broadcast_to(by_day, nights)[:, None])
        return np.append(nodes.ravel(), nodes[-1, -1])

    warm = temperature + DRY_WARMTH
    still = np.ones(nights)
    columns = [
        spread(temperature, warm),
        spread(vapour, vapour),
        spread(pressure * still, pressure),
        spread(wind, DRY_WIND),
        spread(sky, [black_body(T) for T in warm]),
        spread(0.0 * still, DRY_SUN),
        spread(0.0 * still, 0.0),
        spread(0.0 * still, DRY_SUN),
        spread(0.0 * still, 0.0),
    ]
    return AirRecord(np.column_stack(columns), SPACING, pressure, 0.0, None), rainy
