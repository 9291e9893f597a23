"""A claim held against the bounds of its own conditions: possible or not, and by which bound.

What is not stated is assumed within a range, or assumed to be absent; a bound that rests on an assumption can
only say "possible only if", and the missing condition that moves the verdict most is named.
docs/theory/limits.md, section 7, says what is granted to a claim before it is called impossible.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final

import numpy as np

from welkinwell.constants import GAS_CONSTANT, STEFAN_BOLTZMANN
from welkinwell.declare import declared_fields
from welkinwell.harvesters.claimed import COOLING, DEW, RANGES, SORPTION, WORDS, claimed
from welkinwell.harvesters.kinds import KINDS
from welkinwell.limits import solar_bounds as solar
from welkinwell.limits.bound import Bound
from welkinwell.limits.day_bounds import DayBounds
from welkinwell.limits.electric_bounds import dew_point_work, plain_coil_work
from welkinwell.limits.least_work import least_work
from welkinwell.limits.regeneration import least_release_temperature, potential
from welkinwell.moist_air import dew_point, latent_heat, pressure_at_altitude, saturation_pressure
from welkinwell.quantities import as_text, plain
from welkinwell.sky.longwave import prata
from welkinwell.studies.claim import Claim

KWH: Final = 3.6e6
DAY: Final = 86400.0
ROUNDING: Final = 1.01  # a claim may pass a bound by its own rounding

# What a claim may have without saying so: taken to be absent, and what to say where a bound rests on that
ABSENT: Final = {
    "heat_recovery": "With it that bound does not bind: ask for it.",
    "other_energy": "Sun, heat or the cold of the sky might allow it: ask for all that goes in.",
    "heat_pump": "Such a machine might allow it: ask what its electricity does.",
    "solar_cells": "Cells might allow it: ask what the sun does.",
    "salt": "Ask for the sorbent that it holds on a m2.",
    "moving_potential": "A screening figure and no law: name the sorbent, and its data sheet is asked.",
    "better_sorbent": "Ask for the isotherm of its own sorbent.",
}
GRANTED: Final = {"single_effect": "single_effect_and_cold", "sky": "sky_and_stores"}  # bounds with the cold
FOOTPRINT_FACTOR: Final = (
    3.0  # footprint with spacing and reflectors over absorber, at most (common practice)
)
AIR_SWING: Final = 30.0  # K between the claim's air and a warmer or cooler hour of its day, at most; assumed


@dataclass(frozen=True)
class Held:
    """A claim beside one bound, in the bound's unit: ratio above 1 passes it.

    rests_on: conditions that the bound uses; assumed: those of them that the claim does not state.
    """

    bound: Bound
    claimed: float
    rests_on: tuple[str, ...]
    assumed: tuple[str, ...]

    @property
    def ratio(self) -> float:
        """Claimed over allowed [1]."""
        return self.claimed / self.bound.value if self.bound.value > 0.0 else math.inf

    @property
    def passes(self) -> bool:
        """Whether the claim lies above the bound by more than its rounding."""
        return self.ratio > ROUNDING


@dataclass(frozen=True)
class Missing:
    """A condition that is not stated: claimed over the nearest bound at the two ends of its range."""

    field: str
    low: float
    high: float
    ratio_low: float
    ratio_high: float

    @property
    def moves(self) -> float:
        """By which factor it moves the nearest bound [1]."""
        low, high = sorted((self.ratio_low, self.ratio_high))
        return high / low if low > 0.0 else math.inf


@dataclass(frozen=True)
class Verdict:
    """What can be said of a claim.

    verdict: "impossible", "possible only if", "possible" or "cannot be judged"; sentence: the same in words;
    held: every bound, the most passed first; missing: conditions not stated, the weightiest first;
    warnings: sentences on bases; figures: numbers worked out from the claim; there, here: what a simulated
    device gives in the claim's air and what the claim becomes at a place, empty where not asked for.
    """

    claim: Claim
    verdict: str
    sentence: str
    held: list[Held]
    missing: list[Missing]
    warnings: list[str]
    figures: dict[str, float]
    there: dict[str, Any]
    here: dict[str, Any]

    def as_data(self) -> dict[str, Any]:
        """Give all of it as JSON-ready data."""
        return {
            "schema_version": 1,
            "claim": self.claim.name,
            "source": self.claim.source,
            "verdict": self.verdict,
            "sentence": self.sentence,
            "figures": self.figures,
            "bounds": [
                {
                    **{k: v for k, v in one.bound.as_data().items() if k != "by_month"},
                    "claimed": one.claimed,
                    "claimed_over_bound": one.ratio if math.isfinite(one.ratio) else None,
                    "assumed": list(one.assumed),
                }
                for one in self.held
            ],
            "missing": [
                {"condition": one.field, "words": WORDS[one.field], "moves_nearest_bound_by": one.moves}
                for one in self.missing
                if math.isfinite(one.moves)
            ],
            "warnings": self.warnings,
            "simulated_there": self.there,
            "at_the_site": self.here,
        }


def check_claim(claim: Claim) -> Verdict:
    """Hold a claim against the bounds of its own conditions."""
    held = sorted(held_against(claim), key=lambda one: -one.ratio)
    verdict, sentence = _verdict(claim, held)
    missing = missing_conditions(claim)
    return Verdict(claim, verdict, sentence, held, missing, _warnings(claim, held), _figures(claim), {}, {})


def held_against(claim: Claim) -> list[Held]:
    """Every bound that the claim's figures can be held against."""
    full, assumed = completed(claim)
    energies = {"electricity", "heat"}  # an assumed energy is no claim to be held against anything
    return [one for one in _all_held(full, assumed) if not energies & set(one.assumed)]


def _all_held(claim: Claim, assumed: frozenset[str]) -> list[Held]:
    makers = (_reversible, _one_effect, _carnot, _coil, _inventory, _release, _dew)
    return [one for make in makers for one in make(claim, assumed)]


def completed(claim: Claim) -> tuple[Claim, frozenset[str]]:
    """Fill what the claim leaves out by the middle of its range; also says which fields were filled."""
    filled: dict[str, Any] = {}
    for name in ("temperature", "relative_humidity", *_wanted(claim)):
        if getattr(claim, name) is None:
            filled[name] = RANGES[name][1]
    if "effects" in filled:
        filled["effects"] = 1
    if "swing" in filled and claim.sorbent is not None:
        del filled["swing"]
    return replace(claim, **filled), frozenset(filled)


def missing_conditions(claim: Claim) -> list[Missing]:
    """Try each condition that is not stated over its range; what moves the nearest bound most comes first."""
    full, assumed = completed(claim)
    found = []
    for name in sorted(assumed):
        low, _, high = RANGES[name]
        ends = [_nearest(_with(full, name, value), assumed) for value in (low, high)]
        found.append(Missing(name, low, high, *ends))
    if claim.per_m2 is not None and claim.area_is in ("not stated", "absorber"):
        here = _nearest(full, assumed, per_m2_only=True)
        if here > 0.0:
            found.append(Missing("area_is", 1.0, FOOTPRINT_FACTOR, here, here / FOOTPRINT_FACTOR))
    weighty = [one for one in found if one.moves > 1.0 + 1e-6]
    # at an end of a range where nothing at all comes off the factor has no end, and says less than a number
    return sorted(weighty, key=lambda one: (math.isinf(one.moves), -one.moves))


def _with(claim: Claim, name: str, value: float) -> Claim:
    changed: dict[str, Any] = {name: round(value) if name == "effects" else value}
    return replace(claim, **changed)


def _wanted(claim: Claim) -> tuple[str, ...]:
    """Conditions beyond the air that the bounds of this claim need."""
    silent = all(value is None for value in (claim.sun, claim.joules_of_electricity, claim.heat))
    wanted: list[str] = []
    kind = claimed(claim.kind)
    takes_sun = kind.sun_driven or (silent and kind.under_the_sky)
    if claim.per_m2 is not None and claim.sun is None and takes_sun:
        wanted.append("sun")
    elif silent and not kind.passive:
        wanted.append("electricity")
    if claim.per_kg is not None:
        wanted.append("cycles_per_day")
        if claim.sorbent is None:
            wanted.append("swing")
    if (
        claim.sun is not None or claim.heat is not None or "sun" in wanted
    ) and not claim.joules_of_electricity:
        wanted.append("cycles_per_day" if kind.once_a_day else "effects")
    if claim.heat_temperature is not None:
        wanted.append("condenser_temperature")
    if claim.heat is not None:
        wanted.append("heat_temperature")
    return tuple(dict.fromkeys(wanted))


def _nearest(claim: Claim, assumed: frozenset[str], per_m2_only: bool = False) -> float:
    """Largest ratio of claimed to allowed of a claim without gaps."""
    ratios = [
        one.ratio for one in _all_held(claim, assumed) if not per_m2_only or one.bound.unit == "L/(m2 day)"
    ]
    return max(ratios, default=0.0)


def _held(
    key: str, name: str, value: float, unit: str, formula: str, source: str, claimed: float,
    rests_on: tuple[str, ...], assumed: frozenset[str], note: str = "", absent: tuple[str, ...] = (),
) -> Held:  # fmt: skip
    """A claim beside a bound; absent: what the bound takes to be absent, though the claim does not say so."""
    bound = Bound(key, name, float(value), unit, formula, source, tuple(KINDS), (), note)
    taken = (*sorted(set(rests_on) & assumed), *dict.fromkeys(absent))
    return Held(bound, float(claimed), (*rests_on, *absent), taken)


def _work(claim: Claim) -> float:
    return float(least_work(claim.temperature, min(claim.relative_humidity or 1.0, 1.0)))


def _sky(claim: Claim) -> float:
    """Heat that a surface at air temperature loses to a clear sky in 24 h [J/m2]."""
    assert claim.relative_humidity is not None
    air = _air(claim)
    vapour = claim.relative_humidity * float(saturation_pressure(air))
    return float(solar.sky_cooling(air, prata(air, vapour) * STEFAN_BOLTZMANN * air**4)) * DAY


def _sky_area(claim: Claim) -> float:
    """Area that may look at the sky: no more than the ground that the device takes, per m2 claimed [1]."""
    return 1.0 if claim.area_is == "footprint" else FOOTPRINT_FACTOR


def _sun_and_cold(claim: Claim) -> tuple[float, float]:
    """Sun of a day, and the work that a clear sky and the swing of the air could yield in it [J/m2]."""
    assert claim.sun is not None
    swing = solar.swing_exergy(DayBounds.carried_heat, _air(claim) - AIR_SWING, _air(claim))
    return claim.sun * DAY, _sky(claim) / 3.0 * _sky_area(claim) + float(swing)


def _heat_exergy(claim: Claim) -> float:
    """Work that the heat for a litre could do [J/kg]; all of it where its temperature is not stated."""
    if claim.heat is None:
        return 0.0
    share = 1.0 if claim.heat_temperature is None else max(1.0 - _air(claim) / claim.heat_temperature, 0.0)
    return claim.heat / 1000.0 * share


def _air(claim: Claim) -> float:
    assert claim.temperature is not None
    return claim.temperature


def _more_than_stated(claim: Claim) -> tuple[str, ...]:
    """Whether energy beyond the electricity and heat that are stated may go in."""
    return ("other_energy",) if claimed(claim.kind).more_than_stated(claim) else ()


def _more_than_sun(claim: Claim) -> tuple[str, ...]:
    """Whether energy beyond the sun, the sky and what else is stated may go in."""
    if claim.heat is None and claim.heat_by == "waste_heat":
        return ("other_energy",)
    passive = claimed(claim.kind).passive
    return ("other_energy",) if claim.joules_of_electricity is None and not passive else ()


def _reversible(claim: Claim, assumed: frozenset[str]) -> list[Held]:
    """No device, whatever it is made of: exergy supplied over the least work of the first drop."""
    work = _work(claim)
    if work <= 0.0:
        return []
    air = ("temperature", "relative_humidity")
    other = (claim.joules_of_electricity or 0.0) + _heat_exergy(claim)
    if claim.sun is not None and claim.per_m2 is not None:
        sun, cold = _sun_and_cold(claim)
        allowed = solar.reversible_solar_water(sun, _air(claim), work, cold + other * claim.per_m2)
        absent = _more_than_sun(claim)
        return [
            _held(
                "reversible", "reversible limit of the sun", allowed, "L/(m2 day)",
                "exergy of sun, clear sky and the swing of the air, and of any other energy stated, over the "
                "least work of the first drop",
                "Petela1964, Kim2020", claim.per_m2, (*air, "sun"), assumed, absent=absent,
            )
        ]  # fmt: skip
    if other <= 0.0 or claim.sun is not None:  # a sun that nothing says how to weigh goes in as well
        return []
    rests = (*air, "electricity") if claim.heat is None else (*air, "electricity", "heat", "heat_temperature")
    energy = "electricity" if claim.heat is None else "electricity and heat, the heat by Carnot"
    return [
        _held(
            "least_work", "least work of separation", KWH / work, "L/kWh",
            f"one kWh of {energy}, over the least work of the first drop",
            "Kim2020", KWH / other, rests, assumed,
            "Holds when no other energy, such as sun, goes in.", _more_than_stated(claim),
        )
    ]  # fmt: skip


def _one_effect(claim: Claim, assumed: frozenset[str]) -> list[Held]:
    """Heat evaporates water once for each effect."""
    absent: tuple[str, ...] = ()
    kind = claimed(claim.kind)
    if (claim.joules_of_electricity or 0.0) > 0.0:
        if not kind.once_a_day:
            return []  # its electricity may move heat
        absent = ("heat_pump",)
    if kind.way != SORPTION:
        return []
    times = kind.effects(claim)
    rests = ("temperature",) if kind.once_a_day else ("temperature", "effects")
    name = "one effect" if times == 1 else f"{times} effects"
    if claim.sun is not None and claim.per_m2 is not None:
        return _effects_of_sun(claim, assumed, times, name, (*rests, "sun"), absent)
    if claim.heat is None or claim.heat <= 0.0:
        return []
    return [
        _held(
            "single_effect", name, times * KWH / float(latent_heat(_air(claim))), "L/kWh",
            _times("heat over latent heat", times), "first law",
            KWH / (claim.heat / 1000.0), (*rests, "heat"), assumed,
            absent=(*absent, *_more_than_stated(claim)),
        )
    ]  # fmt: skip


def _effects_of_sun(
    claim: Claim, assumed: frozenset[str], times: int, name: str, rests: tuple[str, ...],
    absent: tuple[str, ...],
) -> list[Held]:  # fmt: skip
    """The sun's heat alone, and with all that the cold of the sky and of cooler hours may add."""
    assert claim.sun is not None and claim.per_m2 is not None
    supplied = (claim.heat or 0.0) / 1000.0 + (claim.joules_of_electricity or 0.0)
    heat = claim.sun * DAY + supplied * claim.per_m2
    cold = _sky_area(claim) * _sky(claim) + DayBounds.carried_heat
    saved, salt = _saved_by_salt(claim, assumed)
    most = times * ((heat + cold) / float(latent_heat(_air(claim) + AIR_SWING)) + saved)
    return [
        _held(
            "single_effect", name, times * heat / float(latent_heat(_air(claim))), "L/(m2 day)",
            _times("heat over latent heat", times), "first law", claim.per_m2, rests, assumed,
            "Holds for what is driven by heat and neither condenses under a cold sky nor keeps the cold of "
            "cooler hours.", (*absent, "cold"),
        ),
        _held(
            "single_effect_and_cold", f"{name} and all the cold that sky and cooler hours give", most,
            "L/(m2 day)",
            _times(
                f"heat, what {_sky_area(claim):g} m2 lose to a clear sky in 24 h and "
                f"{DayBounds.carried_heat / 1e6:g} MJ that masses carry from warm to cool hours, over the "
                "latent heat in the warmest air", times,
            ),
            "Prata1996", claim.per_m2, (*rests, "relative_humidity"), assumed,
            "Holds for sorbents that give off water with no less than its latent heat: all but salts whose "
            "crystals dissolve.", (*absent, *salt),
        ),
    ]  # fmt: skip


def _times(formula: str, times: int) -> str:
    return formula if times == 1 else f"{formula}, {times} times"


def _saved_by_salt(claim: Claim, assumed: frozenset[str]) -> tuple[float, tuple[str, ...]]:
    """Water that dissolving crystals of the named sorbent pay for [kg/m2], or that nobody knows how much."""
    if claim.sorbent is None:
        return 0.0, ()
    saved = _saved_in_a_cycle(claim.sorbent, _air(claim) - AIR_SWING)
    if saved <= 0.0:
        return 0.0, ()
    once = claimed(claim.kind).once_a_day
    known = once or "cycles_per_day" not in assumed
    cycles = 1.0 if once else claim.cycles_per_day
    if claim.per_m2 is None or claim.per_kg is None or cycles is None or not known:
        return 0.0, ("salt",)
    return saved * cycles * claim.per_m2 / claim.per_kg, ()


@lru_cache
def _saved_in_a_cycle(name: str, coldest: float) -> float:
    """What a kg of a sorbent saves of the latent heat in a cycle [kg/kg]; coldest: air of the day [K]."""
    from welkinwell.harvesters.size_bounds import saved_release_heat
    from welkinwell.sorbents.sorbent import sorbent

    return float(saved_release_heat(sorbent(name), np.asarray(saturation_pressure(np.array([coldest]))))[0])


def _carnot(claim: Claim, assumed: frozenset[str]) -> list[Held]:
    """Sun taken as heat at the stated temperature, by Carnot."""
    work = _work(claim)
    if claim.heat_temperature is None or claim.sun is None or claim.per_m2 is None or work <= 0.0:
        return []
    if "heat_temperature" in assumed:
        return []
    sun, cold = _sun_and_cold(claim)
    other = cold + ((claim.joules_of_electricity or 0.0) + _heat_exergy(claim)) * claim.per_m2
    allowed = solar.heat_driven_water(sun, _air(claim), claim.heat_temperature, work, other)
    heat_alone = claimed(claim.kind).once_a_day or claim.joules_of_electricity is not None
    cells = () if heat_alone else ("solar_cells",)
    return [
        _held(
            "heat", f"heat at {claim.heat_temperature - 273.15:.0f} degC, by Carnot", allowed, "L/(m2 day)",
            "sun taken as heat at that temperature, a clear sky and the swing of the air, over the least "
            "work of the first drop",
            "Kim2020", claim.per_m2, ("temperature", "relative_humidity", "sun", "heat_temperature"), assumed,
            absent=(*cells, *_more_than_sun(claim)),
        )
    ]  # fmt: skip


def _coil(claim: Claim, assumed: frozenset[str]) -> list[Held]:
    """Cooling air to its dew point, with and without recovery of the cold."""
    electricity = claim.joules_of_electricity
    if claimed(claim.kind).way != COOLING or not electricity:
        return []
    energy = electricity + _heat_exergy(claim)  # heat may drive a machine that cools
    humidity = claim.relative_humidity or 1.0
    rests: tuple[str, ...] = ("temperature", "relative_humidity", "electricity")
    rests = rests if claim.heat is None else (*rests, "heat", "heat_temperature")
    more = _more_than_stated(claim)
    found = []
    ideal = float(dew_point_work(_air(claim), humidity))
    if ideal > 0.0:
        found.append(
            _held(
                "dew_point", "cooling to the dew point", KWH / ideal, "L/kWh",
                "one kWh, over latent heat lifted from dew point to air by Carnot, all sensible "
                "heat recovered",
                "Carnot", KWH / energy, rests, assumed, absent=more,
            )
        )  # fmt: skip
    if not claim.heat_recovery:
        plain = plain_coil_work(_air(claim), humidity, float(pressure_at_altitude(claim.elevation)))
        found.append(
            _held(
                "plain_coil", "a coil that lets its cold air go", KWH / plain, "L/kWh",
                "one kWh, over latent and sensible heat lifted by Carnot at the best coil temperature",
                "Carnot and an energy balance", KWH / energy, rests, assumed,
                absent=(*more, "heat_recovery"),
            )
        )  # fmt: skip
    return found


def _inventory(claim: Claim, assumed: frozenset[str]) -> list[Held]:
    """What a kg of sorbent can carry: swing times cycles."""
    if claim.per_kg is None or claim.cycles_per_day is None:
        return []
    swing = claim.swing
    formula = "water of one cycle times cycles in a day"
    if swing is None and claim.sorbent is not None:
        from welkinwell.sorbents.sorbent import sorbent

        material = sorbent(claim.sorbent)
        swing = float(material.loading(claim.temperature, claim.relative_humidity))
        formula = f"all that {material.name} holds in this air, times cycles in a day"
    if swing is None:
        return []
    rests = ("cycles_per_day",) + (
        ("swing",) if claim.swing is not None else ("temperature", "relative_humidity")
    )
    return [
        _held(
            "inventory", "what the sorbent can carry", swing * claim.cycles_per_day, "L/(kg day)", formula,
            "water balance", claim.per_kg, rests, assumed,
        )
    ]  # fmt: skip


def _release(claim: Claim, assumed: frozenset[str]) -> list[Held]:
    """Whether heat of the stated temperature drives vapour towards the condenser at all: never a law.

    A named sorbent's data sheet is asked; without one, the potential of the air against that of the heat, as
    a screening figure.
    """
    if claim.heat_temperature is None or "heat_temperature" in assumed or claim.condenser_temperature is None:
        return []
    if claimed(claim.kind).way != SORPTION:
        return []
    rests = ("temperature", "relative_humidity", "condenser_temperature")
    if claim.sorbent is not None:
        return _release_of_sheet(claim, assumed, rests)
    needed = float(potential(_air(claim), claim.relative_humidity))
    pressures = saturation_pressure(np.array([claim.heat_temperature, claim.condenser_temperature]))
    given = GAS_CONSTANT * claim.heat_temperature * math.log(float(pressures[0] / pressures[1]))
    least = float(least_release_temperature(needed, claim.condenser_temperature))
    return [
        _held(
            "release", f"release from {least - 273.15:.0f} degC on", max(given, 1e-9), "J/mol",
            "potential of the air against that which this heat can lift towards this condenser",
            "Kim2020", needed, rests, assumed,
            "A screening figure, for sorbents whose potential does not move with temperature.",
            ("moving_potential",),
        )
    ]  # fmt: skip


def _release_of_sheet(claim: Claim, assumed: frozenset[str], rests: tuple[str, ...]) -> list[Held]:
    """What the sheet holds in this air, less what it still holds once heated towards this condenser."""
    from welkinwell.sorbents.sorbent import sorbent

    assert claim.sorbent is not None and claim.heat_temperature is not None
    assert claim.condenser_temperature is not None
    material = sorbent(claim.sorbent)
    hot, cold = claim.heat_temperature, claim.condenser_temperature
    pressures = saturation_pressure(np.array([hot, cold]))
    full = float(material.loading(_air(claim), claim.relative_humidity))
    left = float(material.release_loading(hot, min(float(pressures[1] / pressures[0]), 1.0)))
    given = max(full - left, 0.0)
    claimed = claim.swing
    if claimed is None and claim.per_kg is not None and "cycles_per_day" not in assumed:
        claimed = claim.per_kg / claim.cycles_per_day if claim.cycles_per_day is not None else None
    if claimed is None and given > 0.0:
        return []
    return [
        _held(
            "release_of_sheet", f"what {material.name} gives off by its data sheet", given, "kg/kg",
            f"{plain(full)} kg/kg held in this air, less {plain(left)} kg/kg held at {hot - 273.15:.0f} degC "
            f"towards a condenser of {cold - 273.15:.0f} degC",
            "the data sheet", claimed or 0.0, rests, assumed,
            "In balance, and for the sorbent that was measured for the sheet.", ("better_sorbent",),
        )
    ]  # fmt: skip


def _dew(claim: Claim, assumed: frozenset[str]) -> list[Held]:
    """Dew under the clearest sky for this air, day and night, the sun kept out."""
    if claimed(claim.kind).way != DEW or claim.per_m2 is None:
        return []
    cooling, carried = _sky(claim), DayBounds.carried_heat
    latent, warmest = float(latent_heat(_air(claim))), float(latent_heat(_air(claim) + AIR_SWING))
    rests = ("temperature", "relative_humidity")
    moved = ("heat_pump",) if claim.joules_of_electricity else ()
    return [
        _held(
            "sky", "dew under a clear sky", cooling / latent, "L/(m2 day)",
            "heat that a surface at air temperature loses to a clear sky in 24 h, over the latent heat",
            "Prata1996", claim.per_m2, rests, assumed, absent=(*moved, "stores"),
        ),
        _held(
            "sky_and_stores", "dew under a clear sky, and on masses that cooler hours cooled",
            (cooling + carried) / warmest, "L/(m2 day)",
            f"the same with {carried / 1e6:g} MJ that masses carry from warm to cool hours, over the latent "
            "heat in the warmest air",
            "Prata1996", claim.per_m2, rests, assumed, absent=moved,
        ),
    ]  # fmt: skip


def _verdict(claim: Claim, held: list[Held]) -> tuple[str, str]:
    """The verdict and its sentence; held: the most passed first."""
    hard = [one for one in held if one.passes and not one.assumed]
    if hard:
        first = _most_fundamental(hard)
        return "impossible", (
            f"Impossible under its own conditions: {_said(first)}. It passes this bound "
            f"{plain(first.ratio, 2)} times."
        )
    soft = [one for one in held if one.passes]
    if soft:
        first = soft[0]
        what = " and ".join(_assumed(claim, name) for name in first.assumed)
        end = _favourable(claim, first)
        if first.bound.key == "inventory" and claim.swing is not None and claim.per_kg is not None:
            end = f"It takes {claim.per_kg / claim.swing:.1f} cycles a day."
        return "possible only if", (
            f"It hangs on what is not stated. With {what} it passes a bound: {_said(first)}. {end}"
        )
    if not held:
        return "cannot be judged", (
            "It cannot be judged: what it states gives no bound to hold it against. State the "
            "energy that goes in, "
            "the area with its sun, or the sorbent with its cycles."
        )
    nearest = held[0]
    doubt = f" (with {', '.join(taken(n) for n in nearest.assumed)} assumed)" if nearest.assumed else ""
    return "possible", (
        f"Possible as far as its conditions tell: {_said(nearest)}{doubt}. It is "
        f"{plain(100 * nearest.ratio, 2)} % of the "
        "nearest bound. That a bound allows it does not show that a device reaches it."
    )


def _assumed(claim: Claim, name: str) -> str:
    """A condition that is not stated, with the value taken for it."""
    value = getattr(completed(claim)[0], name, None)
    if name not in RANGES or value is None:
        return taken(name)
    entry = declared_fields(Claim)[name]
    return f"{WORDS[name]} taken as {as_text(value, entry.unit, 3) if entry.kind == 'quantity' else value}"


def taken(name: str) -> str:
    """What a bound takes without its being stated: a value of a condition, or that something is absent."""
    return WORDS[name] if name in RANGES else f"no {WORDS[name]}"


def _favourable(claim: Claim, held: Held) -> str:
    """Say whether favourable values of what a bound assumes allow the claim, one alone or only together."""
    freed = [name for name in held.assumed if name in ABSENT]
    if freed:
        return ABSENT[freed[0]]
    named = list(held.assumed)
    together = _at_best(claim, held, named)
    if together > ROUNDING:
        return f"Even the most favourable values that are believed leave it {plain(together, 2)} times above."
    alone = [name for name in named if _at_best(claim, held, [name]) <= ROUNDING]
    if named in (["cold"], ["stores"]):
        return "It might allow it: ask what cools its condenser."
    if len(named) == 1:
        return "A favourable value would allow it: ask for it."
    if alone:
        words = " or ".join(WORDS[name] for name in alone)
        return f"A favourable value of one would allow it ({words}): ask for it."
    words = " and ".join(WORDS[name] for name in named)
    return f"No favourable value of one alone would allow it, only of {words} together: ask for all of them."


def _at_best(claim: Claim, held: Held, named: list[str]) -> float:
    """Claimed over one bound with some of what it assumes at the most favourable ends of their ranges."""
    full, assumed = completed(claim)
    values = [name for name in named if name in RANGES]
    # what takes no cold for granted is looked up where the cold is
    key = GRANTED[held.bound.key] if len(values) < len(named) else held.bound.key
    ratios = []
    for ends in itertools.product((0, 2), repeat=len(values)):
        tried = full
        for name, end in zip(values, ends, strict=True):
            tried = _with(tried, name, RANGES[name][end])
        ratios += [one.ratio for one in _all_held(tried, assumed) if one.bound.key == key]
    return min(ratios, default=held.ratio)


def _most_fundamental(passed: list[Held]) -> Held:
    """The bound with the fewest conditions of kind: it cannot be argued with."""
    order = (
        "reversible", "least_work", "heat", "sky_and_stores", "single_effect_and_cold", "single_effect",
        "dew_point", "inventory",
    )  # fmt: skip
    return min(passed, key=lambda one: order.index(one.bound.key) if one.bound.key in order else len(order))


def _said(one: Held) -> str:
    if one.bound.unit == "J/mol":
        return (
            f"the air asks for {one.claimed:.0f} J/mol and this heat gives {one.bound.value:.0f} J/mol "
            f"({one.bound.name})"
        )
    if one.bound.key == "release_of_sheet" and one.bound.value <= 0.0:
        return f"{one.bound.name} is nothing: {one.bound.formula}"
    unit = one.bound.unit
    return f"claimed {plain(one.claimed)} {unit}, bound {plain(one.bound.value)} {unit} ({one.bound.name})"


def _figures(claim: Claim) -> dict[str, float]:
    """Numbers that follow from the claim."""
    found: dict[str, float] = {}
    if claim.per_m2 is not None:
        found["litres_per_m2_day"] = claim.per_m2
    if claim.per_kg is not None:
        found["litres_per_kg_day"] = claim.per_kg
    if claim.joules_of_electricity:
        found["electricity_kwh_per_litre"] = claim.joules_of_electricity / KWH
    if claim.per_kg is not None and claim.swing is not None:
        found["cycles_needed_per_day"] = claim.per_kg / claim.swing
    if claim.per_kg is not None and claim.litres_per_day is not None and claim.sorbent_mass is None:
        found["sorbent_mass_implied_kg"] = claim.litres_per_day * DAY * 1000.0 / claim.per_kg
    if claim.litres_per_day is not None and claim.joules_of_electricity:
        found["mean_power_watt"] = claim.litres_per_day * 1000.0 * claim.joules_of_electricity
    if claim.per_m2 is not None and claim.sun is not None and claim.temperature is not None:
        latent = float(latent_heat(claim.temperature))
        found["latent_efficiency"] = claim.per_m2 * latent / (claim.sun * DAY)
    if claim.temperature is not None and claim.relative_humidity is not None:
        found["least_work_kwh_per_litre"] = _work(claim) / KWH
        exergy = (claim.joules_of_electricity or 0.0) + _heat_exergy(claim)
        if exergy > 0.0 and claim.sun is None:
            found["second_law_efficiency"] = _work(claim) / exergy
    return found


def _warnings(claim: Claim, held: list[Held]) -> list[str]:
    """Sentences on bases that are easily mixed up."""
    tests: tuple[Callable[[Claim], str], ...] = (_cycles, _area, _condenser, _projection, _energy, _frost)
    return [said for said in (test(claim) for test in tests) if said]


def _cycles(claim: Claim) -> str:
    if claim.per_kg is None:
        return ""
    if claim.swing is not None:
        needed = claim.per_kg / claim.swing
        if needed > 1.2:
            return (
                f"Per kg of many cycles: {plain(claim.per_kg)} L/kg a day at {plain(claim.swing)} kg/kg "
                "a cycle take "
                f"{needed:.1f} cycles a day. A box that cycles once with the sun gives "
                f"{plain(claim.swing)} L/kg a day."
            )
        return ""
    if (claim.cycles_per_day or 2.0) > 1.2:
        return (
            "Litres per kg and day depend on how often a day the sorbent is cycled; with a thin "
            "layer that may be tens of "
            "times. Ask for the water of one cycle."
        )
    return ""


def _area(claim: Claim) -> str:
    if claim.per_m2 is None or claim.area_is == "footprint":
        return ""
    if claim.area_is == "not stated":
        return (
            "Which area is not stated: litres on the absorber can be up to about three times "
            "those on the ground that the "
            "device takes, with condenser, reflectors and spacing."
        )
    return f"Counted on the {claim.area_is}: a field of such devices gives less on each m2 of ground."


def _condenser(claim: Claim) -> str:
    cold = claim.condenser_temperature
    if claim.condenser == "cooled" or (
        cold is not None and claim.temperature is not None and cold < claim.temperature - 1.0
    ):
        return (
            "The condenser is colder than the air, so something cools it. Unless that energy is "
            "counted, and the cold is "
            "there at your site, the figure does not carry over."
        )
    if claim.condenser == "not stated" and claimed(claim.kind).condenser_asked:
        return "What cools the condenser is not stated; early devices used external cooling."
    return ""


def _projection(claim: Claim) -> str:
    if not claim.projected:
        return ""
    return (
        "The day is reckoned from shorter tests: take it as a hope until a whole day, with its "
        "night, was measured."
    )


def _energy(claim: Claim) -> str:
    other = claim.heat is not None or claim.sun is not None
    if claim.joules_of_electricity is None or other or claimed(claim.kind).way != SORPTION:
        return ""
    return (
        "Only electricity is stated: ask whether heat or sun goes in too, and whether fans and "
        "controls count."
    )


def _frost(claim: Claim) -> str:
    if claimed(claim.kind).way != COOLING or claim.temperature is None or claim.relative_humidity is None:
        return ""
    dew = float(dew_point(claim.temperature, claim.relative_humidity))
    if dew < 274.15:
        return (
            f"The dew point of this air is {dew - 273.15:.0f} degC: the coil freezes, and ice "
            "must be melted off, which costs "
            "time and energy that no bound here counts."
        )
    return ""
