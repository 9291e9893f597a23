"""How loud a plant is where somebody sleeps: the sound power of fans, pumps and compressors, spread outdoors.

Fans by the handbook's formula over air flow and pressure with a spectrum for each type, A-weighted; pumps by
their power; compressors by an assumed figure. Figures of a data sheet stand before all of these. Sources add
by energy, and spread over the part of a sphere that the ground and the walls leave. A screening: air, ground,
weather, tones and the direction of a fan are left out; a small fan misses a handbook by 5 dB and more.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from welkinwell.declare import choice, declared_fields, quantity, read_fields
from welkinwell.errors import Problem

# Octave bands 63 Hz to 8 kHz: each over a fan's whole level [dB] (ToolBoxFan), and A [dB] (IEC61672)
BANDS: Final = {
    "axial": (-7, -9, -7, -7, -8, -11, -16, -18),
    "backward_curved": (-4, -6, -9, -11, -13, -16, -19, -22),
    "forward_curved": (-2, -6, -13, -18, -19, -22, -25, -30),
    "radial": (-3, -5, -7, -7, -8, -11, -16, -18),
}
A_WEIGHTING: Final = (-26.2, -16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1)
FAN_LEVEL: Final = 40.0  # dB, of 1 m3/s against 1 Pa (ToolBoxFan)
ASSUMED_PRESSURE: Final = 50.0  # Pa, of a fan of which only the power is known; assumed, no source
# Pumps at 1500 to 1800 1/min below 75 kW: 72 dB(A) at 3 ft for 1 hp (DA1995, table C-11)
PUMP_LEVEL: Final = 72.0
PUMP_DISTANCE: Final = 3.0 * 0.3048
HORSEPOWER: Final = 745.7  # W
# A refrigerator's compressor of 100 W has some 40 to 50 dB(A), a heat pump of 6 kW of heat some 60: no source
COMPRESSOR_LEVEL: Final = 60.0  # dB(A), for 1 kW of electricity; assumed, no source
OPEN_SPACE: Final = {"none": 1.0, "ground": 2.0, "wall": 4.0, "corner": 8.0}  # whole sphere over what is left
NEAREST: Final = 0.5  # m, closer than which no level is given
CITATIONS: Final = ("ToolBoxFan", "DA1995", "SiemensSound", "ISO9613", "WHO2009Noise", "IEC61672")
_DECIBELS: Final = re.compile(r"\s*([+-]?\d+(?:\.\d*)?)\s*dB\s*(?:\(?A\)?)?\s*")


@dataclass(frozen=True)
class SoundPlace:
    """The [sound] table: who hears the plant from where, and what its data sheets say. Levels in dB(A)."""

    distance: float = quantity(
        "m", "From the plant to the nearest bed or dwelling", default=10.0, low=NEAREST, high=1e4
    )
    night_limit: float = quantity(
        "1", "Most dB(A) there at night (WHO2009Noise: 40 outside); a code of the place stands before it",
        default=40.0, low=0.0, high=120.0,
    )  # fmt: skip
    reflecting: str = choice(
        tuple(OPEN_SPACE), "What throws sound back: nothing, the ground, ground and a wall, or a corner",
        default="ground",
    )  # fmt: skip
    shielding: float = quantity(
        "1", "dB that a housing, a silencer or a wall between takes off", default=0.0, low=0.0, high=40.0
    )
    fan_type: str = choice(tuple(BANDS), "Type of the fans, where no level is given", default="axial")
    fan_off_peak: float = quantity(
        "1", "dB added to the estimate of a fan that runs off its best point: 0 from 90 % of the best "
        "efficiency up, 3 from 85 %, 6 from 75 %, 9 from 65 %, 12 from 55 % (SiemensSound)",
        default=3.0, low=0.0, high=20.0,
    )  # fmt: skip
    module_sound_power: float | None = quantity(
        "1", "Sound power level of one whole module by its data sheet, dB(A)", default=None, low=0, high=140
    )
    fan_sound_power: float | None = quantity(
        "1", "Sound power level of each fan by its data sheet, dB(A)", default=None, low=0.0, high=140.0
    )
    pump_sound_power: float | None = quantity(
        "1", "Sound power level of each pump by its data sheet, dB(A)", default=None, low=0.0, high=140.0
    )
    compressor_sound_power: float | None = quantity(
        "1", "Sound power level of each compressor by its data sheet, dB(A)", default=None, low=0, high=140
    )


def read_sound(table: Any, where: str, problems: list[Problem]) -> SoundPlace | None:
    """Read the [sound] table, levels as plain numbers or as "45 dB(A)"; adds what is wrong to problems."""
    if not isinstance(table, Mapping):
        problems.append(Problem(where, repr(table), "a table"))
        return None
    plain = {
        name: entry.unit == "1"
        for name, entry in declared_fields(SoundPlace).items()
        if entry.kind == "quantity"
    }
    place, found = read_fields(
        SoundPlace,
        {name: _level(value) if plain.get(name) else value for name, value in table.items()},
        where,
    )
    problems += found
    return None if found else place


def _level(value: Any) -> Any:
    """Take the unit off a level: as a ratio of ten it would be read as another number."""
    match = _DECIBELS.fullmatch(value) if isinstance(value, str) else None
    return float(match.group(1)) if match else value


def added(levels: Iterable[float]) -> float:
    """Add sound levels by energy, 10 lg of the sum of 10^(L/10); -inf without any [dB]."""
    total = sum(10.0 ** (level / 10.0) for level in levels)
    return 10.0 * math.log10(total) if total > 0.0 else -math.inf


def fan_level(volume_flow: float, pressure: float) -> float:
    """Sound power level of a fan at its best point, 40 + 10 lg Q + 20 lg p, not weighted [dB].

    volume_flow: Q [m3/s]; pressure: p, that the fan makes [Pa]. -inf without flow or pressure. Source:
    ToolBoxFan, equation 1b. 1 m3/s against 100 Pa: 80 dB.
    """
    if volume_flow <= 0.0 or pressure <= 0.0:
        return -math.inf
    return FAN_LEVEL + 10.0 * math.log10(volume_flow) + 20.0 * math.log10(pressure)


def a_weighting_of_fan(fan_type: str) -> float:
    """Weight a fan's level as the ear does: its bands, each with its A-weighting, over its level [dB(A)]."""
    return added(part + weight for part, weight in zip(BANDS[fan_type], A_WEIGHTING, strict=True))


def pump_level(power: float) -> float:
    """Sound power level of a pump, from its level at 3 ft over a hemisphere [dB(A)].

    power: of its motor [W]; -inf without. Source: DA1995, table C-11, 1500 to 1800 1/min; made for pumps of
    more than a kilowatt, smaller ones by the same line.
    """
    if power <= 0.0:
        return -math.inf
    at_3_ft = PUMP_LEVEL + 10.0 * math.log10(power / HORSEPOWER)
    return at_3_ft + 10.0 * math.log10(2.0 * math.pi * PUMP_DISTANCE**2)


def compressor_level(power: float) -> float:
    """Sound power level of a compressor of a small machine: assumed, 60 dB(A) for a kilowatt [dB(A)].

    power: electricity [W]; -inf without.
    """
    return COMPRESSOR_LEVEL + 10.0 * math.log10(power / 1000.0) if power > 0.0 else -math.inf


def level_at(power_level: float, distance: float, reflecting: str = "ground") -> float:
    """Sound pressure level at a distance, L_W + 10 lg(Q/(4 pi r^2)) [dB].

    power_level: L_W [dB]; distance: r [m]; reflecting: key of OPEN_SPACE, which gives Q: 1 in free space, 2
    above ground, 4 before a wall, 8 in a corner. Source: ISO9613 (spherical spreading, 20 lg r + 11 dB).
    Above ground: 28 dB less at 10 m, 6 dB less at twice the distance.
    """
    return power_level + 10.0 * math.log10(OPEN_SPACE[reflecting] / (4.0 * math.pi * distance**2))


@dataclass(frozen=True)
class Noise:
    """What makes noise in one module.

    sort: fan, pump, compressor or module; meter: the electricity that tells when it runs; phase: "" where it
    may run at any time, otherwise sources of unlike phases never run together; power: electricity [W];
    volume_flow [m3/s] and pressure [Pa] of a fan, 0 where only its power is known.
    """

    name: str
    sort: str
    meter: str
    phase: str = ""
    power: float = 0.0
    volume_flow: float = 0.0
    pressure: float = 0.0


@dataclass(frozen=True)
class Source:
    """A noise with its sound power level [dB(A)] and where the figure comes from."""

    noise: Noise
    level: float
    basis: str


def source_of(noise: Noise, place: SoundPlace) -> Source:
    """Give a noise its level: the data sheet's where the case has it, otherwise the estimate of its sort."""
    given = getattr(place, f"{noise.sort}_sound_power")
    if given is not None:
        return Source(noise, given, "the case")
    if noise.sort == "pump":
        return Source(noise, pump_level(noise.power), "estimated from its power (DA1995)")
    if noise.sort == "compressor":
        return Source(noise, compressor_level(noise.power), "assumed from its power, no source")
    words = f"estimated as {place.fan_type.replace('_', ' ')} from flow and pressure (ToolBoxFan)"
    flow, pressure = noise.volume_flow, noise.pressure
    level = fan_level(flow, pressure) + a_weighting_of_fan(place.fan_type) + place.fan_off_peak
    return Source(noise, level, words)


def sources_of(noises: Iterable[Noise], place: SoundPlace) -> list[Source]:
    """Give the sources of one module that make any sound; a level of the whole module stands for all."""
    listed = list(noises)
    if listed and place.module_sound_power is not None:
        meters = ",".join(dict.fromkeys(noise.meter for noise in listed))
        return [Source(Noise("Module", "module", meters), place.module_sound_power, "the case")]
    found = [source_of(noise, place) for noise in listed]
    return [source for source in found if math.isfinite(source.level)]


def together(sources: Iterable[Source]) -> float:
    """Level of one module with all that can run at a time, its loudest phase; -inf if silent [dB(A)]."""
    listed = list(sources)
    phases = {source.noise.phase for source in listed if source.noise.phase} or {""}
    return max(
        (added(s.level for s in listed if s.noise.phase in ("", phase)) for phase in phases),
        default=-math.inf,
    )


def heard(level: float, modules: int, place: SoundPlace) -> float:
    """Level of equal modules at the listener's [dB(A)].

    level: sound power of one module [dB(A)]; modules [1], all of them at the listener's distance, which is
    cautious; place: the [sound] table.
    """
    whole = level + 10.0 * math.log10(modules) - place.shielding
    return level_at(whole, place.distance, place.reflecting)


def quiet_distance(level: float, place: SoundPlace) -> float:
    """Distance at which a level at the listener's falls to the night limit [m]."""
    return float(place.distance * 10.0 ** ((level - place.night_limit) / 20.0))
