"""The bounds of a place, day by day, from its weather: what no device there can pass."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.constants import DAYS_IN_MONTH
from welkinwell.limits import solar_bounds as solar
from welkinwell.limits.bound import DEW, ONE_EFFECT, PROCESSED_AIR, SINGLE_EFFECT, SUN_AND_SKY, Bound
from welkinwell.limits.least_work import least_work, least_work_at_recovery
from welkinwell.limits.regeneration import release_temperature_from_ambient
from welkinwell.moist_air import latent_heat, saturation_pressure
from welkinwell.sky.plane import plane_sun
from welkinwell.sky.sun import climate_sun_path

Floats = NDArray[np.float64]
PER_LITRE: Final = "L/(m2 day)"
DRIEST: Final = 1e-4  # relative humidity below which weather files are not believed
CONDENSER_LIFTS: Final = (0.0, 10.0, 20.0)  # K above the day's mean air, of the table of release temperatures


ALONE: Final = "Electricity or heat from elsewhere comes on top."
BoundBy = Callable[[str], tuple[str, ...]]


def itself(group: str) -> tuple[str, ...]:
    """Give a group of bounds by its own name, where no kinds of harvester are known."""
    return (group,)


@dataclass(frozen=True)
class DayBounds:
    """What is taken as given for the bounds of a place.

    tilt, azimuth: of the plane that takes the sun [rad], azimuth towards the equator where None; hot: highest
    temperature at which heat enters the process [K]; recovery: share of the vapour taken from the processed
    air, for the bounds that say so [1]; effects: of the n-effect bound; cells: electricity over sun [1];
    carried_heat: that stores carry between the warm and the cool hours of a day [J/m2]; sky_area: area that
    looks at the whole sky, over the area that takes the sun [1].
    """

    tilt: float = math.radians(30.0)
    azimuth: float | None = None
    hot: float = 373.15
    recovery: float = 0.5
    effects: int = 3
    cells: float = solar.BEST_MODULES
    carried_heat: float = 5e6  # 20 kg of water warmed by 60 K, over a m2: more than devices hold; assumed
    sky_area: float = 1.0
    albedo: float = 0.2


def days_of(climate: xr.Dataset, given: DayBounds) -> xr.Dataset:
    """Gather what each day of a weather year offers: sun, sky, swing and the least work of its hours.

    A day's hours run from noon before to midnight after: the night that fills a bed belongs to the day.
    climate: a weather Dataset; given: choices. Returns a Dataset on day: sun_on_plane, sky_cooling,
    sky_exergy, swing_exergy [J/m2]; coldest, warmest, mean_temperature, night_temperature [K];
    night_humidity [1]; least_work, least_work_at_recovery [J/kg]; saturated_hours [1].
    """
    temperature = climate["temperature"].values
    pressure = climate["pressure"].values
    saturation = saturation_pressure(temperature)
    vapour = np.clip(climate["vapour_pressure"].values, DRIEST * saturation, saturation)
    first = least_work(temperature, vapour / saturation)
    shared = least_work_at_recovery(temperature, vapour, saturation, pressure, given.recovery)
    sun, dark = _sun(climate, given)
    longwave = climate["sky_longwave"].values
    coldest, warmest = _over_day(temperature, np.min), _over_day(temperature, np.max)
    cooling = solar.sky_cooling(temperature, longwave) * 3600.0 * given.sky_area
    swing = solar.swing_exergy(given.carried_heat, coldest, warmest)
    weight = np.where(dark, 1.0, 1e-9)  # a day without night takes the mean of all its hours
    columns = {
        "sun_on_plane": (_day_sum(sun * 3600.0), "J/m2", "Sun on the tilted plane"),
        "sky_cooling": (_day_sum(cooling), "J/m2", "Heat that a surface at air temperature loses to the sky"),
        "sky_exergy": (_day_sum(cooling) / 3.0, "J/m2", "Work that the cold sky could yield"),
        "swing_exergy": (swing, "J/m2", "Work that the swing of the air could yield"),
        "coldest": (coldest, "K", "Lowest air temperature"),
        "warmest": (warmest, "K", "Highest air temperature"),
        "mean_temperature": (_day_sum(temperature) / 24.0, "K", "Mean air temperature"),
        "night_temperature": (_weighted(temperature, weight), "K", "Air temperature in the dark hours"),
        "night_humidity": (
            _weighted(vapour / saturation, weight),
            "1",
            "Relative humidity in the dark hours",
        ),
        "least_work": (_over_day(first, np.min), "J/kg", "Least work of the first drop, best hour"),
        "least_work_at_recovery": (_over_day(shared, np.min), "J/kg", "Least work at a recovery, best hour"),
        "saturated_hours": (_day_sum((first <= 0.0).astype(float)), "1", "Hours of saturated air"),
    }
    return xr.Dataset(
        {name: ("day", values, {"units": u, "long_name": w}) for name, (values, u, w) in columns.items()},
        coords={"day": np.arange(1, temperature.size // 24 + 1)},
        attrs={"recovery": given.recovery},
    )


def site_bounds(climate: xr.Dataset, given: DayBounds | None = None) -> list[Bound]:
    """List the bounds of a place, loosest first: yearly means with the same by month.

    climate: a weather Dataset; given: choices, defaults where None. Returns bounds in L per m2 and day.
    """
    given = given or DayBounds()
    return bounds_of_days(days_of(climate, given), given)


def bounds_of_days(days: xr.Dataset, given: DayBounds, bound_by: BoundBy = itself) -> list[Bound]:
    """List the bounds from what each day offers (see `days_of`).

    bound_by: gives the kinds of harvester that a group of bounds holds for; the group's name if left out.
    """
    at = {str(name): days[name].values for name in days.data_vars}
    reversible, shared, cells = _reversible_bounds(at, given, bound_by)
    heat, several, once, dew = _heat_bounds(at, given, bound_by)
    return [reversible, shared, cells, heat, several, once, dew]


def _reversible_bounds(at: Mapping[str, Floats], given: DayBounds, bound_by: BoundBy) -> list[Bound]:
    """What the day's exergy allows: the first drop, a share of the vapour, and electricity of solar cells."""
    sun, cold, shared = at["sun_on_plane"], at["coldest"], at["least_work_at_recovery"]
    other, share = _other_exergy(at), f"{100 * given.recovery:.0f} %"
    saturated = int((at["saturated_hours"] > 0.0).sum())
    note = (
        f"On {saturated} days the air is saturated at some hour: the first drop is free and unbounded there."
        if saturated
        else ""
    )
    return [
        _bound(
            "reversible", "reversible, first drop",
            solar.reversible_solar_water(sun, cold, at["least_work"], other),
            "exergy of the day's sun, cold sky and swing of the air, over the least work of its best hour",
            "Petela1964, Kim2020", bound_by(SUN_AND_SKY), f"{ALONE} {note}".rstrip(),
        ),
        _bound(
            "reversible_at_recovery", f"reversible, {share} of the vapour taken",
            solar.reversible_solar_water(sun, cold, shared, other),
            f"the same over the least work of taking {share} of the vapour of the processed air",
            "Petela1964, Kim2020", bound_by(PROCESSED_AIR), _processed(given),
        ),
        _bound(
            "photovoltaic", f"solar cells of {100 * given.cells:.0f} % and a reversible machine",
            solar.photovoltaic_water(sun, shared, given.cells),
            "electricity of cells on the plane, over the least work at that recovery",
            "first and second law", (),
            f"Binds a machine that takes at least {share} of the vapour from its air, and whose only energy "
            "is electricity from cells of the same area.",
        ),
    ]  # fmt: skip


def _heat_bounds(at: Mapping[str, Floats], given: DayBounds, bound_by: BoundBy) -> list[Bound]:
    """What the day's heat allows: by Carnot, by several effects, by one, and by the sky's cold alone."""
    sun, cold, warm, hot = at["sun_on_plane"], at["coldest"], at["warmest"], given.hot
    other, processed, degrees = _other_exergy(at), _processed(given), f"{given.hot - 273.15:.0f} degC"
    once = solar.single_effect_water(sun + at["sky_cooling"], warm)
    heat = solar.heat_driven_water(sun, cold, hot, at["least_work_at_recovery"], other)
    strict = np.minimum(once, solar.heat_driven_water(sun, cold, hot, at["least_work"], other))
    return [
        _bound(
            "heat", f"heat at {degrees}", heat,
            f"sun taken as heat at no more than {degrees}: Carnot against the day's coldest air, with sky "
            "and swing, over the least work at that recovery",
            "Kim2020", bound_by(PROCESSED_AIR), processed,
        ),
        _bound(
            "several_effects", f"{given.effects} effects with heat at {degrees}",
            np.minimum(given.effects * once, heat),
            "sun over latent heat, as often as the effects, and never above the bound before",
            "first and second law", bound_by(PROCESSED_AIR), processed,
        ),
        _bound(
            *SINGLE_EFFECT, strict,
            "sun, and what is lost to the sky, over the latent heat at the day's warmest air; at most Carnot "
            f"at {degrees}, first drop",
            "first and second law", bound_by(ONE_EFFECT),
            "Binds what boils off water once and throws the heat of condensation away. Stores that warm air "
            "warms, and salts whose crystals dissolve, come on top.",
        ),
        _bound(
            "sky", "dew under this sky", at["sky_cooling"] / latent_heat(warm),
            "heat that a surface at air temperature loses to the sky, over the latent heat",
            "Stefan and Boltzmann", bound_by(DEW),
            "Whatever the surface sends out and reflects; the sun on it is left out.",
        ),
    ]  # fmt: skip


def _other_exergy(at: Mapping[str, Floats]) -> Floats:
    """Exergy of sky and swing of the air on each day [J/m2]."""
    return at["sky_exergy"] + at["swing_exergy"]


def _processed(given: DayBounds) -> str:
    share = f"{100 * given.recovery:.0f} %"
    return f"Binds devices that take at least {share} of the vapour from the air that they process. {ALONE}"


def release_temperatures(days: xr.Dataset) -> Floats:
    """Least release temperature by month for condensers some kelvin above the mean air: a screening figure.

    The bed's state is the mean of the dark outdoor hours. days: from `days_of`.
    Returns kelvin, shape (12, number of CONDENSER_LIFTS) [K].
    """
    night, humid, mean = (
        monthly_mean(days[name].values)
        for name in ("night_temperature", "night_humidity", "mean_temperature")
    )
    lifts = np.array(CONDENSER_LIFTS)
    return np.asarray(
        release_temperature_from_ambient(night[:, None], humid[:, None], mean[:, None] + lifts[None, :])
    )


def monthly_mean(by_day: Any) -> Floats:
    """Mean of daily values in each month of a year of 365 days; infinite where one of them is."""
    values = np.asarray(by_day, dtype=np.float64)[: sum(DAYS_IN_MONTH)]
    parts = np.split(values, np.cumsum(DAYS_IN_MONTH)[:-1])
    return np.array([part.mean() if part.size else np.nan for part in parts])


def _bound(
    key: str, name: str, by_day: Floats, formula: str, source: str, binds: tuple[str, ...], note: str = ""
) -> Bound:
    months = tuple(float(value) for value in monthly_mean(by_day))
    return Bound(key, name, float(np.mean(by_day)), PER_LITRE, formula, source, binds, months, note)


def _sun(climate: xr.Dataset, given: DayBounds) -> tuple[Floats, NDArray[np.bool_]]:
    """Sun on the plane, hourly means [W/m2], and the hours without any sun in the sky."""
    path = climate_sun_path(climate, 2)
    azimuth = given.azimuth
    if azimuth is None:
        azimuth = math.pi if float(climate.attrs["latitude"]) >= 0.0 else 0.0
    albedo: Any = given.albedo
    if "albedo" in climate:
        known = climate["albedo"].values
        albedo = np.where((known > 0.0) & (known < 1.0), known, given.albedo)
    plane = plane_sun(climate, path, given.tilt, azimuth, albedo).total
    lit = path.lit_fraction.reshape(-1, path.per_hour).max(axis=1)
    return plane.reshape(-1, path.per_hour).mean(axis=1), lit == 0.0


def _windows(values: Floats) -> Floats:
    """Hours of each day with the twelve before it, shape (days, 36); the year closes on itself."""
    days = values[: values.size // 24 * 24].reshape(-1, 24)
    return np.hstack([np.roll(days, 1, axis=0)[:, 12:], days])


def _over_day(values: Floats, what: Any) -> Floats:
    return np.asarray(what(_windows(values), axis=1))


def _day_sum(values: Floats) -> Floats:
    return values[: values.size // 24 * 24].reshape(-1, 24).sum(axis=1)


def _weighted(values: Floats, weight: Floats) -> Floats:
    weights = _windows(weight)
    return (_windows(values) * weights).sum(axis=1) / weights.sum(axis=1)
