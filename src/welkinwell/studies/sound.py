"""How loud a harvester is at the nearest bed: what makes noise in each kind, and when it runs at night."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.constants import GRAVITY, STANDARD_PRESSURE
from welkinwell.harvesters.active_bed.flows import bed_numbers
from welkinwell.harvesters.cooling_coil.flows import DROP_EXPONENT, RATED_VELOCITY
from welkinwell.harvesters.desiccant_wheel.flows import wheel_numbers
from welkinwell.harvesters.liquid_desiccant.flows import night_flow
from welkinwell.parts.fan import REFERENCE_DENSITY, pressure_drop
from welkinwell.parts.heat_pump import cooling_cop, heating_cop
from welkinwell.supply.sound import (
    ASSUMED_PRESSURE,
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
RATED: Final = (278.15, 318.15)  # K, evaporating and condensing, at which a compressor's capacity is rated
MILD: Final = 288.15  # K, outdoor air from which a heat pump is taken to draw its heat; assumed


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


# ---------------------------------------------------------------- what makes noise in each kind
def noises(design: Any, sorbent: Any) -> list[Noise]:
    """List what makes noise in one module of a design; nothing for a kind without moving parts."""
    of_kind = OF_KIND.get(design.kind)
    if of_kind is None:
        return []
    return [noise for noise in of_kind(design, sorbent) if noise.power > 0.0]


def _fan(name: str, meter: str, flow: float, power: float, efficiency: float, phase: str = "") -> Noise:
    """Make a fan of its flow [m3/s] and its power [W], whose pressure is what the power leaves."""
    pressure = power * efficiency / flow if flow > 0.0 else 0.0
    return Noise(name, "fan", meter, phase, power, flow, pressure)


def _fan_of_power(name: str, meter: str, power: float, efficiency: float, phase: str = "") -> Noise:
    """Make a fan of which only the power is known: against an assumed pressure."""
    return Noise(name, "fan", meter, phase, power, power * efficiency / ASSUMED_PRESSURE, ASSUMED_PRESSURE)


def _heat_pump(design: Any, sorbent: Any, hot: float | None, meter: str, phase: str = "") -> Noise:
    """Make the compressor of a heat pump that heats to a temperature from mild air."""
    hottest = hot if hot is not None else min(sorbent.service_temperature - 5.0, 363.15)
    approach = design.heat_pump_approach
    cop = heating_cop(MILD - approach, hottest + approach, design.second_law_efficiency)
    power = design.heating_power * design.basis_area / max(float(cop), 1.0)
    return Noise("Compressor of the heat pump", "compressor", meter, phase, power)


def _active_bed(d: Any, sorbent: Any) -> list[Noise]:
    hot = d.release_temperature or min(sorbent.service_temperature - 5.0, 363.15)
    bed = bed_numbers(replace(d, release_temperature=hot), sorbent, STANDARD_PRESSURE)
    area, eta = d.basis_area, d.fan_efficiency
    found = [
        _fan("Fan, uptake", "bed_fan", d.face_velocity * area, bed.uptake_fan * area, eta, "uptake"),
        _fan("Fan, release", "bed_fan", d.release_velocity * area, bed.release_fan * area, eta, "release"),
        _fan_of_power("Fan of the condenser", "cooling_fan", d.condenser_fan_power * area, eta, "release"),
    ]
    if d.heat_by in ("solar", "waste_heat"):
        power = d.heating_pump_power * area
        found.append(Noise("Pump of the heating", "pump", "heating_pump", "release", power))
    if d.heat_by == "heat_pump":
        found.append(_heat_pump(d, sorbent, hot, "heating", "release"))
    return found


def _cooling_coil(d: Any, sorbent: Any) -> list[Noise]:
    speed, area, eta = d.face_velocity, d.basis_area, d.fan_efficiency
    wet = d.coil_drop * (1.0 + d.wet_coil_drop) + d.filter_drop
    wet += d.recovery_drop if d.recovery > 0.0 else 0.0
    drop = float(pressure_drop(speed, RATED_VELOCITY, wet, DROP_EXPONENT, REFERENCE_DENSITY))
    own_air = d.condenser_air == "outdoor"
    if not own_air:
        drop += d.condenser_drop
    flow = speed * area
    found = [_fan("Fan of the coil", "coil_fan", flow, flow * drop / eta, eta)]
    if own_air:
        other = d.condenser_air_ratio * flow
        found.append(
            _fan("Fan of the condenser", "condenser_fan", other, other * d.condenser_drop / eta, eta)
        )
    if d.cooling == "vapour_compression":
        power = d.rated_capacity * area / float(cooling_cop(*RATED, d.second_law))
        found.append(Noise("Compressor", "compressor", "cooling", "", power))
    return found


def _desiccant_wheel(d: Any, sorbent: Any) -> list[Noise]:
    hot = d.regeneration_temperature or min(sorbent.service_temperature - 5.0, 363.15)
    wheel = wheel_numbers(replace(d, regeneration_temperature=hot), sorbent, STANDARD_PRESSURE)
    area, eta = d.basis_area, d.fan_efficiency
    found = [
        _fan("Fan, outdoor air", "wheel_fan", wheel.process_velocity * area, wheel.process_fan * area, eta),
        _fan("Fan of the loop", "wheel_fan", wheel.loop_velocity * area, wheel.loop_fan * area, eta),
        _fan_of_power("Fan of the condenser", "cooling_fan", d.condenser_fan_power * area, eta),
    ]
    if d.heat_by == "heat_pump":
        found.append(_heat_pump(d, sorbent, hot, "heating"))
    return found


def _hybrid(d: Any, sorbent: Any) -> list[Noise]:
    area, eta = d.basis_area, d.fan_efficiency
    night, loop = d.open_airflow * area, d.loop_airflow * area
    found = [
        _fan("Fan, open", "fan", night, night * d.open_pressure / eta, eta, "open"),
        _fan("Fan of the loop", "fan", loop, loop * d.loop_pressure / eta, eta, "closed"),
    ]
    if d.top_up == "heat_pump":
        found.append(
            Noise("Compressor of the heat pump", "compressor", "top_up", "closed", d.top_up_power * area)
        )
    return found


def _liquid_desiccant(d: Any, sorbent: Any) -> list[Noise]:
    area, eta = d.basis_area, d.fan_efficiency
    lifted = GRAVITY * d.pump_head / d.pump_efficiency * area
    by_night = night_flow(d)
    by_day = d.day_circulation + (by_night if d.absorbs_by_day else 0.0)
    found = [
        Noise("Pump, absorbing", "pump", "pump", "open", lifted * by_night),
        Noise("Pump, still", "pump", "pump", "closed", lifted * by_day),
    ]
    if d.absorber_air == "fan" and d.absorber != "tray":
        flow = d.fan_flow * area
        phase = "" if d.absorbs_by_day else "open"
        found.append(_fan("Fan of the absorber", "fan", flow, flow * d.fan_pressure / eta, eta, phase))
    if d.condenser == "separate":
        found.append(_fan_of_power("Fan of the condenser", "fan", d.condenser_power * area, eta, "closed"))
    return found


OF_KIND: Final[Mapping[str, Callable[[Any, Any], list[Noise]]]] = {
    "active_bed": _active_bed,
    "cooling_coil": _cooling_coil,
    "desiccant_wheel": _desiccant_wheel,
    "hybrid": _hybrid,
    "liquid_desiccant": _liquid_desiccant,
}
