"""A claim held against the bounds of its own conditions: possible or not, and by which bound.

What is not stated is assumed within a range; a bound that rests on an assumption can only say "possible only
if", and the missing condition that moves the verdict most is named.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from welkinwell.constants import GAS_CONSTANT, STEFAN_BOLTZMANN
from welkinwell.declare import declared_fields
from welkinwell.limits import solar_bounds as solar
from welkinwell.limits.bound import EVERY_KIND, Bound
from welkinwell.limits.electric_bounds import dew_point_work, plain_coil_work
from welkinwell.limits.least_work import least_work
from welkinwell.limits.regeneration import least_release_temperature, potential
from welkinwell.moist_air import dew_point, latent_heat, pressure_at_altitude, saturation_pressure
from welkinwell.quantities import as_text
from welkinwell.sky.longwave import prata
from welkinwell.studies.claim import Claim

KWH: Final = 3.6e6
DAY: Final = 86400.0
ROUNDING: Final = 1.01  # a claim may pass a bound by its own rounding

# Conditions that a claim may leave out: lowest, middle, highest believed, in SI (common practice, no source)
RANGES: Final[dict[str, tuple[float, float, float]]] = {
    "temperature": (283.15, 298.15, 313.15),
    "relative_humidity": (0.1, 0.5, 0.9),
    "sun": (3e3 / 24, 6e3 / 24, 8e3 / 24),
    "electricity": (0.2e9 * 3.6, 1.0e9 * 3.6, 5.0e9 * 3.6),
    "heat": (0.7e9 * 3.6, 1.5e9 * 3.6, 5.0e9 * 3.6),
    "heat_temperature": (333.15, 363.15, 423.15),
    "condenser_temperature": (278.15, 303.15, 333.15),
    "swing": (0.05, 0.3, 1.5),
    "cycles_per_day": (1.0, 5.0, 24.0),
    "effects": (1.0, 1.0, 4.0),
}
WORDS: Final = {
    "temperature": "temperature of the air",
    "relative_humidity": "relative humidity of the air",
    "sun": "sun on the area",
    "electricity": "electricity for a litre",
    "heat": "heat for a litre",
    "heat_temperature": "temperature of the heat",
    "condenser_temperature": "temperature of the condenser",
    "swing": "water given off in one cycle",
    "cycles_per_day": "cycles in a day",
    "effects": "times that the heat of condensation is used",
    "area_is": "which area: absorber, aperture or footprint",
    "heat_recovery": "heat recovery from the cold air",
}
FOOTPRINT_FACTOR: Final = (
    3.0  # footprint with spacing and reflectors over absorber, at most (common practice)
)
SUNNY_KINDS: Final = ("passive_box", "dew_condenser", "hybrid", "not stated")


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
    return sorted(weighty, key=lambda one: -one.moves)


def _with(claim: Claim, name: str, value: float) -> Claim:
    changed: dict[str, Any] = {name: round(value) if name == "effects" else value}
    return replace(claim, **changed)


def _wanted(claim: Claim) -> tuple[str, ...]:
    """Conditions beyond the air that the bounds of this claim need."""
    energy = [claim.sun, claim.joules_of_electricity, claim.heat]
    wanted: list[str] = []
    if all(value is None for value in energy):
        if claim.per_m2 is not None and claim.kind in SUNNY_KINDS:
            wanted.append("sun")
        elif claim.kind not in ("passive_box", "dew_condenser"):
            wanted.append("electricity")
    if claim.per_kg is not None:
        wanted.append("cycles_per_day")
        if claim.sorbent is None:
            wanted.append("swing")
    if (
        claim.sun is not None or claim.heat is not None or "sun" in wanted
    ) and not claim.joules_of_electricity:
        wanted.append("effects" if claim.kind != "passive_box" else "cycles_per_day")
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
    rests_on: tuple[str, ...], assumed: frozenset[str], note: str = "",
) -> Held:  # fmt: skip
    bound = Bound(key, name, float(value), unit, formula, source, EVERY_KIND, (), note)
    return Held(bound, float(claimed), rests_on, tuple(sorted(set(rests_on) & assumed)))


def _work(claim: Claim) -> float:
    return float(least_work(claim.temperature, min(claim.relative_humidity or 1.0, 1.0)))


def _sun_and_sky(claim: Claim) -> tuple[float, float]:
    """Sun of a day, and the work that a clear sky could yield in it [J/m2]."""
    assert claim.sun is not None and claim.temperature is not None and claim.relative_humidity is not None
    vapour = claim.relative_humidity * float(saturation_pressure(claim.temperature))
    black = STEFAN_BOLTZMANN * claim.temperature**4
    sky = float(solar.sky_exergy(claim.temperature, prata(claim.temperature, vapour) * black))
    return claim.sun * DAY, sky * DAY


def _heat_exergy(claim: Claim) -> float:
    """Work that the heat for a litre could do [J/kg]; all of it where its temperature is not stated."""
    if claim.heat is None:
        return 0.0
    share = 1.0 if claim.heat_temperature is None else max(1.0 - _air(claim) / claim.heat_temperature, 0.0)
    return claim.heat / 1000.0 * share


def _air(claim: Claim) -> float:
    assert claim.temperature is not None
    return claim.temperature


def _reversible(claim: Claim, assumed: frozenset[str]) -> list[Held]:
    """No device, whatever it is made of: exergy supplied over the least work of the first drop."""
    work = _work(claim)
    if work <= 0.0:
        return []
    air = ("temperature", "relative_humidity")
    other = (claim.joules_of_electricity or 0.0) + _heat_exergy(claim)
    if claim.sun is not None and claim.per_m2 is not None:
        sun, sky = _sun_and_sky(claim)
        allowed = solar.reversible_solar_water(sun, _air(claim), work, sky + other * claim.per_m2)
        return [
            _held(
                "reversible", "reversible limit of the sun", allowed, "L/(m2 day)",
                "exergy of sun and clear sky, and of any other energy stated, over the least "
                "work of the first drop",
                "Petela1964, Kim2020", claim.per_m2, (*air, "sun"), assumed,
            )
        ]  # fmt: skip
    if other <= 0.0:
        return []
    rests = (*air, "electricity") if claim.heat is None else (*air, "electricity", "heat", "heat_temperature")
    energy = "electricity" if claim.heat is None else "electricity and heat, the heat by Carnot"
    return [
        _held(
            "least_work", "least work of separation", KWH / work, "L/kWh",
            f"one kWh of {energy}, over the least work of the first drop",
            "Kim2020", KWH / other, rests, assumed,
            "Holds when no other energy, such as sun, goes in.",
        )
    ]  # fmt: skip


def _one_effect(claim: Claim, assumed: frozenset[str]) -> list[Held]:
    """Heat evaporates water once for each effect."""
    if (claim.joules_of_electricity or 0.0) > 0.0 or claim.kind in ("cooling_coil", "dew_condenser"):
        return []
    times = 1 if claim.kind == "passive_box" else (claim.effects or 1)
    latent = float(latent_heat(_air(claim)))
    rests = ("temperature",) if claim.kind == "passive_box" else ("temperature", "effects")
    name = "one effect" if times == 1 else f"{times} effects"
    formula = "heat over latent heat" + ("" if times == 1 else f", {times} times")
    if claim.sun is not None and claim.per_m2 is not None:
        heat = claim.sun * DAY + (claim.heat or 0.0) / 1000.0 * claim.per_m2
        return [
            _held(
                "single_effect", name, times * heat / latent, "L/(m2 day)", formula, "first law",
                claim.per_m2, (*rests, "sun"), assumed,
                "Holds for what is driven by heat and does not condense under a cold sky.",
            )
        ]  # fmt: skip
    if claim.heat is None or claim.heat <= 0.0:
        return []
    return [
        _held(
            "single_effect", name, times * KWH / latent, "L/kWh", formula, "first law",
            KWH / (claim.heat / 1000.0), (*rests, "heat"), assumed,
        )
    ]  # fmt: skip


def _carnot(claim: Claim, assumed: frozenset[str]) -> list[Held]:
    """Sun taken as heat at the stated temperature, by Carnot."""
    work = _work(claim)
    if claim.heat_temperature is None or claim.sun is None or claim.per_m2 is None or work <= 0.0:
        return []
    if "heat_temperature" in assumed:
        return []
    sun, sky = _sun_and_sky(claim)
    other = sky + ((claim.joules_of_electricity or 0.0) + _heat_exergy(claim)) * claim.per_m2
    allowed = solar.heat_driven_water(sun, _air(claim), claim.heat_temperature, work, other)
    return [
        _held(
            "heat", f"heat at {claim.heat_temperature - 273.15:.0f} degC, by Carnot", allowed, "L/(m2 day)",
            "sun taken as heat at that temperature, and a clear sky, over the least work of the first drop",
            "Kim2020", claim.per_m2, ("temperature", "relative_humidity", "sun", "heat_temperature"), assumed,
        )
    ]  # fmt: skip


def _coil(claim: Claim, assumed: frozenset[str]) -> list[Held]:
    """Cooling air to its dew point, with and without recovery of the cold."""
    electricity = claim.joules_of_electricity
    if claim.kind != "cooling_coil" or not electricity:
        return []
    humidity = claim.relative_humidity or 1.0
    rests = ("temperature", "relative_humidity", "electricity")
    found = []
    ideal = float(dew_point_work(_air(claim), humidity))
    if ideal > 0.0:
        found.append(
            _held(
                "dew_point", "cooling to the dew point", KWH / ideal, "L/kWh",
                "one kWh, over latent heat lifted from dew point to air by Carnot, all sensible "
                "heat recovered",
                "Carnot", KWH / electricity, rests, assumed,
            )
        )  # fmt: skip
    if not claim.heat_recovery:
        plain = plain_coil_work(_air(claim), humidity, float(pressure_at_altitude(claim.elevation)))
        found.append(
            _held(
                "plain_coil", "a coil that lets its cold air go", KWH / plain, "L/kWh",
                "one kWh, over latent and sensible heat lifted by Carnot at the best coil temperature",
                "Carnot and an energy balance", KWH / electricity, (*rests, "heat_recovery"),
                assumed | {"heat_recovery"},
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
    """Whether heat of the stated temperature drives vapour towards the condenser at all."""
    if claim.heat_temperature is None or "heat_temperature" in assumed or claim.condenser_temperature is None:
        return []
    if claim.kind in ("cooling_coil", "dew_condenser"):
        return []
    needed = float(potential(_air(claim), claim.relative_humidity))
    pressures = saturation_pressure(np.array([claim.heat_temperature, claim.condenser_temperature]))
    given = GAS_CONSTANT * claim.heat_temperature * math.log(float(pressures[0] / pressures[1]))
    least = float(least_release_temperature(needed, claim.condenser_temperature))
    return [
        _held(
            "release", f"release from {least - 273.15:.0f} degC on", max(given, 1e-9), "J/mol",
            "potential of the air against that which this heat can lift towards this condenser",
            "Kim2020", needed, ("temperature", "relative_humidity", "condenser_temperature"), assumed,
            "For sorbents whose potential does not move with temperature.",
        )
    ]  # fmt: skip


def _dew(claim: Claim, assumed: frozenset[str]) -> list[Held]:
    """Dew under the clearest sky for this air, day and night, the sun kept out."""
    if claim.kind != "dew_condenser" or claim.per_m2 is None:
        return []
    air = _air(claim)
    vapour = (claim.relative_humidity or 1.0) * float(saturation_pressure(air))
    black = STEFAN_BOLTZMANN * air**4
    cooling = float(solar.sky_cooling(air, prata(air, vapour) * black)) * DAY
    return [
        _held(
            "sky", "dew under a clear sky", cooling / float(latent_heat(air)), "L/(m2 day)",
            "heat that a surface at air temperature loses to a clear sky in 24 h, over the latent heat",
            "Prata1996", claim.per_m2, ("temperature", "relative_humidity"), assumed,
        )
    ]  # fmt: skip


def _verdict(claim: Claim, held: list[Held]) -> tuple[str, str]:
    """The verdict and its sentence; held: the most passed first."""
    hard = [one for one in held if one.passes and not one.assumed]
    if hard:
        first = _most_fundamental(hard)
        return "impossible", (
            f"Impossible under its own conditions: {_said(first)}. It passes this bound "
            f"{first.ratio:.2g} times."
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
    doubt = " (with " + ", ".join(WORDS[n] for n in nearest.assumed) + " assumed)" if nearest.assumed else ""
    return "possible", (
        f"Possible as far as its conditions tell: {_said(nearest)}{doubt}. It is "
        f"{100 * nearest.ratio:.2g} % of the "
        "nearest bound. That a bound allows it does not show that a device reaches it."
    )


def _assumed(claim: Claim, name: str) -> str:
    """A condition that is not stated, with the value taken for it."""
    value = getattr(completed(claim)[0], name, None)
    if name not in RANGES or value is None:
        return f"no {WORDS[name]}"
    entry = declared_fields(Claim)[name]
    return f"{WORDS[name]} taken as {as_text(value, entry.unit, 3) if entry.kind == 'quantity' else value}"


def _favourable(claim: Claim, held: Held) -> str:
    """Say whether favourable values of what a bound assumes allow the claim, one alone or only together."""
    named = [name for name in held.assumed if name in RANGES]
    if "heat_recovery" in held.assumed:
        return "A favourable value would allow it: ask for it."  # with recovery that bound does not bind
    together = _at_best(claim, held, named)
    if together > ROUNDING:
        return f"Even the most favourable values that are believed leave it {together:.2g} times above."
    alone = [name for name in named if _at_best(claim, held, [name]) <= ROUNDING]
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
    ratios = []
    for ends in itertools.product((0, 2), repeat=len(named)):
        tried = full
        for name, end in zip(named, ends, strict=True):
            tried = _with(tried, name, RANGES[name][end])
        ratios += [one.ratio for one in _all_held(tried, assumed) if one.bound.key == held.bound.key]
    return min(ratios, default=held.ratio)


def _most_fundamental(passed: list[Held]) -> Held:
    """The bound with the fewest conditions of kind: it cannot be argued with."""
    order = ("reversible", "least_work", "heat", "sky", "single_effect", "dew_point", "inventory", "release")
    return min(passed, key=lambda one: order.index(one.bound.key) if one.bound.key in order else len(order))


def _said(one: Held) -> str:
    if one.bound.unit == "J/mol":
        return (
            f"the air asks for {one.claimed:.0f} J/mol and this heat gives {one.bound.value:.0f} J/mol "
            f"({one.bound.name})"
        )
    unit = one.bound.unit
    return f"claimed {one.claimed:.3g} {unit}, bound {one.bound.value:.3g} {unit} ({one.bound.name})"


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
                f"Per kg of many cycles: {claim.per_kg:.3g} L/kg a day at {claim.swing:.3g} kg/kg "
                "a cycle take "
                f"{needed:.1f} cycles a day. A box that cycles once with the sun gives "
                f"{claim.swing:.3g} L/kg a day."
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
    if claim.condenser == "not stated" and claim.kind in ("passive_box", "active_bed", "not stated"):
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
    if claim.joules_of_electricity is None or other or claim.kind in ("cooling_coil", "dew_condenser"):
        return ""
    return (
        "Only electricity is stated: ask whether heat or sun goes in too, and whether fans and "
        "controls count."
    )


def _frost(claim: Claim) -> str:
    if claim.kind != "cooling_coil" or claim.temperature is None or claim.relative_humidity is None:
        return ""
    dew = float(dew_point(claim.temperature, claim.relative_humidity))
    if dew < 274.15:
        return (
            f"The dew point of this air is {dew - 273.15:.0f} degC: the coil freezes, and ice "
            "must be melted off, which costs "
            "time and energy that no bound here counts."
        )
    return ""
