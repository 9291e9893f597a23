"""A state of the air that somebody declares: laid over a place's own year, or over a declared day of sun.

What is sold is often told for one state ("at 50 %"). The relative humidity is held at all hours; the
temperature runs from the night's to the day's and back. Without a declared sun the year's own sun, wind and
pressure stay. With one, every day is that day: at the equator, the beam and the sky in fixed shares, a clear
sky, a light wind.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import xarray as xr

from welkinwell.climate.hourly import HOURS, NOMINAL_YEAR, weather_year
from welkinwell.climate.night_sky import hour_means, modelled_longwave
from welkinwell.climate.relocate import rescale_longwave, stamped
from welkinwell.declare import build, quantity
from welkinwell.errors import Problem
from welkinwell.moist_air import pressure_at_altitude, saturation_pressure
from welkinwell.sky.sun import sun_path

COLDEST_AT: Final = 6.0  # h, local: sunrise (common practice, no source)
WARMEST_AT: Final = 15.0  # h, local: some hours after noon (common practice, no source)
WIND: Final = 2.0  # m/s at 10 m on a declared day (assumed)
DIFFUSE: Final = 0.25  # of the sun on a declared day: a fair one (common practice, no source)


@dataclass(frozen=True)
class AirState:
    """A state of the air. SI inside; None where the place's own holds."""

    humidity: float | None = quantity(
        "1", "Relative humidity, held at all hours", default=None, low=0.01, high=1.0
    )
    night: float | None = quantity(
        "degC", "Temperature of the night, at sunrise", default=None, low=-30.0, high=55.0
    )
    day: float | None = quantity(
        "degC", "Temperature of the day, in the afternoon", default=None, low=-30.0, high=55.0
    )
    sun: float | None = quantity(
        "kWh/m2", "Sun of every day on a level plane", default=None, low=0.1, high=9.0
    )

    def cross_checks(self) -> list[Problem]:
        """Rules between fields."""
        given = {"night": self.night, "day": self.day}
        missing = [name for name, value in given.items() if value is None]
        problems = []
        if len(missing) == 1:
            problems.append(Problem(missing[0], "nothing", "a temperature, since the other one is given"))
        if self.night is not None and self.day is not None and self.night > self.day:
            celsius = f"{self.night - 273.15:.4g} degC by night, {self.day - 273.15:.4g} by day"
            problems.append(Problem("night", celsius, "a night no warmer than the day"))
        if self.sun is not None and (self.humidity is None or missing):
            problems.append(Problem("sun", "a declared sun alone", "humidity, night and day with it"))
        return problems

    def in_words(self) -> str:
        """Say what is declared."""
        parts = []
        if self.humidity is not None:
            parts.append(f"{100.0 * self.humidity:.3g} % relative humidity at all hours")
        if self.night is not None and self.day is not None:
            parts.append(
                f"{self.night - 273.15:.3g} degC at sunrise and {self.day - 273.15:.3g} in the afternoon"
            )
        if self.sun is not None:
            parts.append(f"{self.sun / 3.6e6:.3g} kWh/m2 of sun on every day, at the equator")
        return ", ".join(parts)


def air_state(**given: str | float | None) -> AirState | None:
    """Read a state from text with units, by field; None where nothing is given."""
    table = {name: text for name, text in given.items() if text is not None}
    return build(AirState, table, "declared air") if table else None


def declared_air(climate: xr.Dataset, state: AirState) -> xr.Dataset:
    """Lay a state of the air over a weather year.

    climate: of the climate contract. T(h) = T_night + (T_day - T_night) (1 - cos(pi x))/2, x from 0 at 6 h to
    1 at 15 h of local standard time and back to 0 at the next 6 h; p_v = RH p_sat(T). Rain is taken out of a
    year whose humidity is declared. The sky's longwave follows its model, the clouds stay. With a declared
    sun the year is one clear day again and again. Returns a new Dataset.
    """
    if state.sun is not None:
        return _declared_days(climate, state, state.sun)
    out = climate.copy(deep=True)
    T = climate["temperature"].values
    humidity = np.minimum(climate["vapour_pressure"].values / saturation_pressure(T), 1.0)
    if state.night is not None and state.day is not None:
        T = _course(_local_hours(climate), state.night, state.day)
    if state.humidity is not None:
        humidity = np.full_like(T, state.humidity)
        if "precipitation" in out:
            out["precipitation"] = out["precipitation"].copy(data=np.zeros_like(T))
    out["temperature"] = out["temperature"].copy(data=T)
    out["vapour_pressure"] = out["vapour_pressure"].copy(data=humidity * saturation_pressure(T))
    rescale_longwave(climate, out)
    words = f"declared_air: {state.in_words()}; sun, wind, pressure and clouds are the weather file's."
    return stamped(out, words, {}, words)


def _local_hours(climate: xr.Dataset) -> np.ndarray:
    """Local standard time of the instants [h]."""
    start = climate["time"].values
    seconds = (start - start.astype("datetime64[D]")) / np.timedelta64(1, "s")
    offset = float(climate.attrs["instant_offset"]) / 3600.0 + float(climate.attrs["utc_offset"])
    return np.asarray((seconds / 3600.0 + offset) % 24.0)


def _course(hours: np.ndarray, night: float, day: float) -> np.ndarray:
    """Temperature through the day [K]; hours: local time [h]."""
    rising = (hours - COLDEST_AT) / (WARMEST_AT - COLDEST_AT)
    falling = 1.0 - ((hours - WARMEST_AT) % 24.0) / (24.0 - WARMEST_AT + COLDEST_AT)
    share = np.where((hours >= COLDEST_AT) & (hours < WARMEST_AT), rising, falling)
    return np.asarray(night + (day - night) * 0.5 * (1.0 - np.cos(math.pi * share)))


def _declared_days(climate: xr.Dataset, state: AirState, sun: float) -> xr.Dataset:
    """A year of one day: sun on a level plane [J/m2]."""
    assert state.night is not None and state.day is not None and state.humidity is not None
    elevation = float(climate.attrs["elevation"])
    time = np.datetime64(f"{NOMINAL_YEAR}-01-01", "ns") + np.arange(HOURS) * np.timedelta64(1, "h")
    path = sun_path(0.0, 0.0, elevation, time, 2)
    height = (path.up * path.lit_fraction).reshape(-1, 2).mean(axis=1)
    by_day = np.repeat(height.reshape(-1, 24).sum(axis=1), 24) * 3600.0
    ghi = sun * height / by_day
    beam = (1.0 - DIFFUSE) * sun / by_day * path.lit_fraction.reshape(-1, 2).mean(axis=1)
    T = _course((np.arange(HOURS) + 0.5) % 24.0, state.night, state.day)
    vapour = state.humidity * saturation_pressure(T)
    steady = np.ones(HOURS)
    values: dict[str, np.ndarray] = {
        "temperature": T,
        "vapour_pressure": vapour,
        "pressure": float(pressure_at_altitude(elevation)) * steady,
        "ghi": ghi,
        "dni": beam,
        "dhi": DIFFUSE * ghi,
        "wind_speed": WIND * steady,
        "sky_longwave": modelled_longwave(hour_means(T, 1800.0), hour_means(vapour, 1800.0), 0.0 * steady),
    }
    words = f"declared_air: {state.in_words()}; a clear sky, {WIND:g} m/s of wind, no rain."
    attrs: dict[str, Any] = {
        "site": climate.attrs["site"], "latitude": 0.0, "longitude": 0.0, "elevation": elevation,
        "utc_offset": 0.0, "wind_height": 10.0, "source": "declared", "licence": "", "content_hash": words,
        "instant_offset": 1800.0, "warnings": [words], "repairs": {}, "longwave_model": "Prata1996",
    }  # fmt: skip
    return weather_year(
        time, values, np.full(HOURS, NOMINAL_YEAR), dict.fromkeys(values, "modelled"), **attrs
    )
