"""Columns of the air moved in time against each other or against the sun's clock.

The sun's own columns are held against the coordinates in sunlight.py. Here:

- temperature: its daily wave has its crest some hours after noon;
- humidity: changes of relative humidity run against those of temperature in the same hour; changes of the
  dew point, whichever way they go, are tied to those of temperature in the same hour by a kink in their
  correlation over the lag;
- pressure: twice a day the whole atmosphere swells, on the sun's clock.
"""

from __future__ import annotations

import math

import numpy as np

from welkinwell.climate.audit_stuck import label_of, moves
from welkinwell.climate.hourly import FileYear
from welkinwell.climate.moisture import dew_points
from welkinwell.climate.sunlight import equation_of_time
from welkinwell.errors import Problem

DAY = 24
# Solar time of the crest of temperature's daily wave [h]: 13.0 to 15.5 in 45 untouched files, and half an
# hour more
EARLIEST_CREST, LATEST_CREST = 12.5, 16.0
SMALLEST_DAILY_WAVE = 1.0  # K; below, weather fronts make the hour
MOVED = 2  # h; in 45 untouched files lags are 0 or 1
FARTHEST_LAG = 6
FARTHEST_MOVE = 4  # h; a kink farther away is chance
CLEAR_KINK, FAINT_KINK = 5.0, 3.0  # times the median kink of the other lags
# Hours that the pressure tide may be off: half of a move by 3 h; 44 of 45 untouched files -1.3 to 0.9
LARGEST_TIDE_ERROR = 1.5
CLEAR_TIDE = 3.0  # standard errors


def audit_clock_of_air(year: FileYear, starts: np.ndarray) -> None:
    """Tell of temperature, humidity or pressure that is moved in time.

    year: with temperature, vapour pressure and pressure whole, and the file's own humidity columns; starts:
    of the hours, UTC [datetime64].
    """
    hours = solar_hours(starts, year.instant_offset, year.longitude)
    _tell_crest(year, hours)
    _tell_humidity(year)
    _tell_tide(year, hours)


def solar_hours(starts: np.ndarray, instant_offset: float, longitude: float) -> np.ndarray:
    """Give the apparent solar time of each hour's instant, 0 to 24 [h].

    starts: of the hours, UTC [datetime64]; instant_offset: after them [s]; longitude: east positive [degree].
    """
    seconds = np.asarray(starts, dtype="datetime64[s]").astype(np.int64) + instant_offset
    return (seconds / 3600.0 + longitude / 15.0 + equation_of_time(starts) / 60.0) % 24.0


def _tell_crest(year: FileYear, hours: np.ndarray) -> None:
    temperature = year.values["temperature"]
    if not moves(temperature):
        return
    daily = temperature - np.repeat(temperature.reshape(-1, DAY).mean(axis=1), DAY)
    wave = 2.0 * np.mean(daily * np.exp(-2j * math.pi * hours / 24.0))
    crest = float(-np.angle(wave) * 24.0 / (2.0 * math.pi)) % 24.0
    if abs(wave) > SMALLEST_DAILY_WAVE and not EARLIEST_CREST <= crest <= LATEST_CREST:
        year.note(
            "temperature_clock",
            Problem(
                f"{year.text.path.name}, temperature",
                f"a daily wave with its crest at {crest:.1f} h solar time",
                f"{EARLIEST_CREST:g} to {LATEST_CREST:g} h",
                "Its hours may be moved; a sea breeze at noon can do it too.",
            ),
        )


def changes(column: np.ndarray) -> np.ndarray:
    """Give the hourly changes of what is left when the mean course of the 31 days around is taken off.

    column: any unit, the year closed on itself, NaN where missing. Returns the changes, same unit.
    """
    known = np.flatnonzero(~np.isnan(column))
    whole = np.interp(np.arange(column.size), known, column[known], period=column.size)
    days = whole.reshape(-1, DAY)
    wrapped = np.cumsum(np.concatenate((np.zeros((1, DAY)), days[-15:], days, days[:15])), axis=0)
    rest = (days - (wrapped[31:] - wrapped[:-31]) / 31.0).ravel()
    return np.roll(rest, -1) - rest


def lagged_correlation(first: np.ndarray, second: np.ndarray, farthest: int) -> np.ndarray:
    """Give the correlation of one series with another k hours later, k = -farthest ... farthest [1].

    first, second: any unit, closed on themselves; farthest: lag [h].
    """
    a, b = first - first.mean(), second - second.mean()
    scale = a.std() * b.std() * a.size
    return np.array([float(a @ np.roll(b, -k)) for k in range(-farthest, farthest + 1)]) / scale


def lag_of_humidity(temperature: np.ndarray, humidity: np.ndarray) -> int:
    """Give how much later relative humidity answers temperature [h]: lag of the strongest opposite change.

    temperature: [K]; humidity: relative [1]. Hours of one clock give 0.
    """
    match = lagged_correlation(changes(temperature), changes(humidity), FARTHEST_LAG)
    return int(np.argmin(match)) - FARTHEST_LAG


def kink_of_dew_point(temperature: np.ndarray, dew_point: np.ndarray) -> tuple[int, float]:
    """Give the lag at which the correlation of changes has its sharpest kink, and how sharp it is.

    temperature, dew_point: [K]. Returns the lag [h] and the kink over the median of all [1]; hours of one
    clock give -1 to 1 h.
    """
    match = lagged_correlation(changes(temperature), changes(dew_point), FARTHEST_LAG)
    kinks = np.abs(match[:-2] - 2.0 * match[1:-1] + match[2:])
    sharpest = int(np.argmax(kinks))
    return sharpest - (FARTHEST_LAG - 1), float(kinks[sharpest] / max(np.median(kinks), 1e-12))


def _tell_humidity(year: FileYear) -> None:
    temperature = year.values["temperature"]
    if not moves(temperature):
        return
    humidity, dew = year.values.get("relative_humidity"), year.values.get("dew_point")
    if humidity is not None and moves(humidity):
        lag = lag_of_humidity(temperature, humidity)
        if abs(lag) >= MOVED:
            _tell_lag(year, "relative_humidity", lag, True)
    if dew is None and humidity is None:
        dew = dew_points(year.values["vapour_pressure"])
    if dew is not None and moves(dew):
        lag, sharpness = kink_of_dew_point(temperature, dew)
        if MOVED <= abs(lag) <= FARTHEST_MOVE and sharpness > FAINT_KINK:
            name = "dew_point" if "dew_point" in year.values else "vapour_pressure"
            _tell_lag(year, name, lag, sharpness > CLEAR_KINK)


def _tell_lag(year: FileYear, name: str, lag: int, clear: bool) -> None:
    later = "later" if lag > 0 else "earlier"
    (year.warn if clear else year.note)(
        "humidity_clock",
        Problem(
            f"{year.text.path.name}, {label_of(name)} beside temperature",
            f"humidity that answers temperature {abs(lag)} h {later}",
            "an answer within the hour",
            "One of the two columns is moved in time."
            if clear
            else "One of the two columns may be moved in time; the sign is faint.",
        ),
    )


def tide_of_place(latitude: float, longitude: float) -> complex:
    """Give the twice-daily pressure wave z of a place, p = Re(z exp(4 pi i t / 24 h)), t solar time [Pa].

    116 cos^3(lat) sin(2 t + 158 deg) + 8.5 (3 sin^2(lat) - 1) / 2 sin(2 t_u + 118 deg), t_u the time of
    longitude 0. At 55.7 N 12.6 E: 23.0 Pa, crest at 10.1 h; seen there in 66 years 22.5 Pa at 10.6 h
    (Chapman1969).

    latitude, longitude: north and east positive [degree]. Chapman1970 (constants from memory).
    """
    sine = math.sin(math.radians(latitude))
    travelling = 116.0 * math.cos(math.radians(latitude)) ** 3
    standing = 8.5 * 0.5 * (3.0 * sine * sine - 1.0)
    return travelling * _wave(158.0) + standing * _wave(118.0 - 2.0 * longitude)


def _wave(degrees: float) -> complex:
    """Turn sin(2 t + phase) into the factor of exp(2 i t)."""
    angle = math.radians(degrees - 90.0)
    return complex(math.cos(angle), math.sin(angle))


def crest(wave: complex) -> float:
    """Give the first solar time of day at which a twice-daily wave stands highest, 0 to 12 [h].

    wave: as of tide_of_place, any unit.
    """
    return float(-np.angle(wave) * 24.0 / (4.0 * math.pi)) % 12.0


def tide_of(pressure: np.ndarray, hours: np.ndarray) -> tuple[complex, float]:
    """Give the twice-daily wave of a pressure column and its standard error [Pa].

    Each day is fitted by a mean, a drift, a daily and a twice-daily wave; of the days the calmer half is
    averaged, since storms drown the tide (as Chapman1969 chose days), or all where that half shows none.

    pressure: [Pa]; hours: solar time of each [h].
    """
    days = pressure.reshape(-1, DAY)
    step = 2.0 * math.pi * np.arange(DAY) / DAY
    terms = [np.ones(DAY), np.arange(DAY) - 11.5, *(f(k * step) for k in (1, 2) for f in (np.cos, np.sin))]
    fits = np.linalg.pinv(np.column_stack(terms)) @ days.T
    waves = (fits[4] - 1j * fits[5]) * np.exp(-4j * math.pi * hours.reshape(-1, DAY)[:, 0] / 24.0)
    spread = (days - np.median(days, axis=0)).std(axis=1) if days.size else np.zeros(0)
    calm = waves[spread <= np.median(spread)]
    for chosen in (calm, waves):
        mean, error = complex(chosen.mean()), float(chosen.std() / math.sqrt(chosen.size))
        if abs(mean) > max(CLEAR_TIDE * error, 1.0):
            return mean, error
    return mean, error


def _tell_tide(year: FileYear, hours: np.ndarray) -> None:
    pressure = year.values["pressure"]
    if not moves(pressure):
        return
    seen, error = tide_of(pressure, hours)
    if abs(seen) <= max(CLEAR_TIDE * error, 1.0):
        return  # too much weather to tell
    expected = crest(tide_of_place(year.latitude, year.longitude))
    off = (crest(seen) - expected + 6.0) % 12.0 - 6.0
    if abs(off) <= LARGEST_TIDE_ERROR:
        return
    year.note(
        "pressure_clock",
        Problem(
            f"{year.text.path.name}, station pressure",
            f"a twice-daily wave with crests at {crest(seen):.1f} and {crest(seen) + 12:.1f} h solar time",
            f"within {LARGEST_TIDE_ERROR:g} h of {expected:.1f} and {expected + 12:.1f} h (Chapman1970)",
            f"The column may be moved by about {abs(off):.0f} h, or made from pressure at sea level; the "
            "litres hardly feel it.",
        ),
    )
