"""How loud a harvester is at the nearest bed, and when it runs at night."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.harvesters.study import study_of
from welkinwell.supply.sound_level import (
    Noise,
    SoundPlace,
    Source,
    added,
    heard,
    quiet_distance,
    sources_of,
    together,
)

Floats = NDArray[np.float64]

NIGHT: Final = (23.0, 7.0)  # local standard time; eight hours, as WHO2009Noise counts a night
RUNS: Final = 0.01  # of the year's highest hour of its electricity, above which something is taken to run


@dataclass(frozen=True)
class Sound:
    """How loud one harvester is. Levels in dB(A) at the listener's, -inf where nothing makes noise.

    sources: of one module; modules [1]; running: with all that can run at a time; loudest_night: loudest hour
    of the year's nights; night_mean: mean of the year's nights by energy; night_hours: share of them in which
    anything runs [1].
    """

    place: SoundPlace
    sources: list[Source]
    modules: int
    running: float
    loudest_night: float
    night_mean: float
    night_hours: float

    @property
    def silent(self) -> bool:
        """Whether there is no fan, pump or compressor."""
        return not self.sources

    def words(self) -> str:
        """Say how loud it is."""
        if self.silent:
            return "silent: no fan, pump or compressor"
        far = f"at {self.place.distance:g} m"
        if not math.isfinite(self.loudest_night):
            return f"{self.running:.0f} dB(A) {far} while it runs; still at night"
        return (
            f"{self.running:.0f} dB(A) {far} while it runs; at night {self.loudest_night:.0f} dB(A) in the "
            f"loudest hour and {self.night_mean:.0f} dB(A) in the mean"
        )

    def warnings(self, name: str) -> list[str]:
        """Say that a night is louder than its limit, and what would help."""
        if not self.loudest_night > self.place.night_limit:
            return []
        if self.place == SoundPlace():
            return [
                f"{name} has about {self.loudest_night:.0f} dB(A) at {self.place.distance:g} m at night, "
                f"over the {self.place.night_limit:g} dB(A) of the WHO's guideline. Say in [sound] how far "
                "the nearest bed is, what the place allows and what the maker says of the sound power level."
            ]
        return [
            f"{name} is loud: about {self.loudest_night:.0f} dB(A) at {self.place.distance:g} m at night, "
            f"over the {self.place.night_limit:g} dB(A) that [sound] allows there. Some "
            f"{quiet_distance(self.loudest_night, self.place):.0f} m would do, or slower and larger fans, a "
            "housing, a silencer; ask the maker for the sound power level, since an estimate is good to 5 dB."
        ]

    def as_data(self) -> dict[str, Any]:
        """Give the figures as they stand in the summary."""
        return {
            "silent": self.silent,
            "distance_m": self.place.distance,
            "night_limit_db_a": self.place.night_limit,
            "running_db_a": _or_none(self.running),
            "loudest_night_hour_db_a": _or_none(self.loudest_night),
            "night_mean_db_a": _or_none(self.night_mean),
            "share_of_night_hours_running": self.night_hours,
            "sources_of_a_module": [
                {"name": s.noise.name, "sound_power_db_a": s.level, "basis": s.basis} for s in self.sources
            ],
        }


def sound_of(design: Any, sorbent: Any, year: xr.Dataset, utc_offset: float, place: SoundPlace) -> Sound:
    """Say how loud a simulated harvester is at the nearest bed; utc_offset: of its standard time [h]."""
    sources = sources_of(noises(design, sorbent), place)
    if not sources:
        return Sound(place, [], design.modules, -math.inf, -math.inf, -math.inf, 0.0)
    level = hourly_level(year, sources)[_night(year, utc_offset)]
    mean = added(level) - 10.0 * math.log10(level.size)
    at_bed = [heard(one, design.modules, place) for one in (together(sources), float(level.max()), mean)]
    return Sound(
        place, sources, design.modules, at_bed[0], at_bed[1], at_bed[2], float(np.isfinite(level).mean())
    )  # fmt: skip


def running_level(design: Any, sorbent: Any, place: SoundPlace) -> float:
    """Level at the listener's with all that can run at a time, from the design alone; 0 for a silent one."""
    level = heard(together(sources_of(noises(design, sorbent), place)), design.modules, place)
    return max(level, 0.0)


def hourly_level(year: xr.Dataset, sources: list[Source]) -> Floats:
    """Sound power level of one module in each hour, shape (hours,), -inf where nothing runs [dB(A)].

    A source runs in an hour in which its electricity does; of phases on one meter the louder is taken.
    """
    energy = np.zeros(year.sizes["time"])
    for meters in dict.fromkeys(source.noise.meter for source in sources):
        level = together([source for source in sources if source.noise.meter == meters])
        used = sum(year[f"electricity_{meter}"].values for meter in meters.split(","))
        energy += 10.0 ** (level / 10.0) * (used > RUNS * max(float(np.max(used)), 1e-12))
    with np.errstate(divide="ignore"):
        return np.asarray(10.0 * np.log10(energy))


def _night(year: xr.Dataset, utc_offset: float) -> NDArray[np.bool_]:
    """Hours of the night, local standard time."""
    start = year["time"].values.astype("datetime64[h]").astype(np.int64)
    hour = (start + 0.5 + utc_offset) % 24.0
    return (hour >= NIGHT[0]) | (hour < NIGHT[1])


def _or_none(value: float) -> float | None:
    return value if math.isfinite(value) else None


def noises(design: Any, sorbent: Any) -> list[Noise]:
    """List what makes noise in one module of a design; nothing for a kind without moving parts."""
    return [noise for noise in study_of(design.kind).noises(design, sorbent) if noise.power > 0.0]
