"""What is not known for sure about a prediction: each doubt with its spread, its source, and what it changes.

A doubt is a number around 1 (a factor) or 0 (a shift) with a distribution. It changes the design, the sorbent
or the weather before the simulation; nothing multiplies litres.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.declare import declared_fields
from welkinwell.harvesters.air import WIND
from welkinwell.sorbents import row as slots
from welkinwell.studies.changes import (
    other_dust,
    other_humidity,
    other_loading,
    other_rate,
    other_sun,
    other_warmth,
)

Floats = NDArray[np.float64]
FACTOR, SHIFT, UNIFORM = "factor", "shift", "uniform"
Change = Callable[[Any, Any, float], tuple[Any, Any]]
WeatherChange = Callable[[Floats, float], None]
Exposure = Callable[[Floats, Any, Any], None]


@dataclass(frozen=True)
class Doubt:
    """One doubt.

    shape: "factor" (log-normal, `spread` the standard deviation of its logarithm), "shift" (normal, `spread`
    its standard deviation) or "uniform" (from low to high); unit and source for the reader; of: group in the
    picture (sorbent, heat and mass transfer, weather, upkeep); change: applies a value to design and sorbent;
    weather: applies it to the surroundings' nodes, in place; exposed: what the changed design does to these
    nodes, in place, given the design before and after (dust on the glass in front of the absorber); whose:
    key of the one data sheet that the doubt is about, empty for what all devices of the kind, or all at the
    site, have in common.
    """

    key: str
    name: str
    of: str
    shape: str
    source: str
    spread: float = 0.0
    low: float = 0.0
    high: float = 0.0
    unit: str = "1"
    change: Change | None = None
    weather: WeatherChange | None = None
    exposed: Exposure | None = None
    whose: str = ""

    def value(self, share: Floats) -> Floats:
        """Turn uniform shares in (0, 1) into values of this doubt."""
        if self.shape == UNIFORM:
            return self.low + share * (self.high - self.low)
        from scipy.special import ndtri

        normal = ndtri(share)
        return np.exp(self.spread * normal) if self.shape == FACTOR else self.spread * normal

    def at(self, deviations: float) -> float:
        """Value so many standard deviations from the middle (of the logarithm for a factor)."""
        if self.shape == UNIFORM:
            return self.middle + deviations * (self.high - self.low) / math.sqrt(12.0)
        return math.exp(deviations * self.spread) if self.shape == FACTOR else deviations * self.spread

    def moved(self, deviations: float) -> float:
        """Value so many standard deviations from the one that changes nothing (for a uniform doubt, low)."""
        if self.shape == UNIFORM:
            return self.low + deviations * (self.high - self.low) / math.sqrt(12.0)
        return self.at(deviations)

    @property
    def middle(self) -> float:
        """The value that changes nothing, or the middle of a uniform doubt."""
        if self.shape == UNIFORM:
            return 0.5 * (self.low + self.high)
        return 1.0 if self.shape == FACTOR else 0.0

    def in_words(self) -> str:
        """Say how wide the doubt is: the range that holds the middle 80 % of the draws."""
        low, high = sorted(float(self.value(np.array(share))) for share in (0.1, 0.9))
        if self.shape == FACTOR:
            return f"{low:.2f} to {high:.2f} times"
        return f"{low:+.3g} to {high:+.3g} {self.unit}" if self.shape == SHIFT else f"{low:.3g} to {high:.3g}"


def doubts_of(design: Any, sorbent: Any) -> list[Doubt]:
    """List the doubts that apply to a design and its sorbent."""
    found = [*([] if sorbent is None else _of_sorbent(design, sorbent)), *OF_KIND.get(design.kind, ())]
    if sorbent is not None:
        found = [replace(one, whose=sorbent.key) if _of_one_sheet(one) else one for one in found]
    return [*found, *_OF_WEATHER]


def _of_one_sheet(doubt: Doubt) -> bool:
    """Whether another sorbent in the same device would err by a number of its own."""
    return doubt.of == "sorbent" or doubt.change is other_loading


def _of_sorbent(design: Any, sorbent: Any) -> list[Doubt]:
    """Doubts that a data sheet states: sample to sample, rate, and temperature beyond the points."""
    numbers = sorbent.sheet.numbers
    spread = numbers.get("isotherm.sample_spread")
    loading = float(spread.value) if spread is not None and spread.value > 0.0 else SAMPLE_SPREAD
    stated = f"data sheet: {spread.where}" if spread is not None else "common practice, no source"
    found = []
    if "sorbent_mass" in declared_fields(type(design)):
        found.append(
            Doubt("loading", "Loading of the sorbent, sample to sample", "sorbent", FACTOR, stated, loading,
                  change=other_loading)
        )  # fmt: skip
    found += _of_fit(sorbent)
    rate = numbers.get("kinetics.diffusivity")
    if rate is not None and rate.high > rate.low > 0.0:
        # the sheet's range is read as four standard deviations of the logarithm: 95 % of what is believed
        width = 0.25 * math.log(rate.high / rate.low)
        found.append(
            Doubt("rate", "Rate of the sorbent", "sorbent", FACTOR, f"data sheet: {rate.where}", width,
                  change=other_rate)
        )  # fmt: skip
    shift = numbers.get("range.extrapolation_spread")
    if shift is not None and shift.value > 0.0 and int(sorbent.row[slots.SLOT_FORM]) == slots.FORM_SIPS_TERMS:
        found.append(
            Doubt(
                "heat_shift", "Shift of the isotherm with temperature", "sorbent", SHIFT,
                f"data sheet: {shift.where}", float(shift.value), unit="J/(mol K)", change=_temperature_shift,
            )
        )  # fmt: skip
    return found


def _of_fit(sorbent: Any) -> list[Doubt]:
    """Doubts of a fitted isotherm, drawn jointly: directions in which its numbers err together.

    The errors' covariance C = D R D (D the spreads, R the correlation that `fit` wrote) is taken apart into
    C = sum of d_k d_k'; each direction d_k moves all numbers at once by a standard normal number of its own,
    so that the draws have C. Numbers that are well above zero move by their logarithm and stay so.
    """
    given = sorbent.sheet.correlation()
    if given is None:
        return []
    keys, rows = given
    numbers = [sorbent.sheet.isotherm_number(key) for key in keys]
    values = np.array([number.value for number in numbers])
    spread = np.array([0.5 * (number.high - number.low) for number in numbers])
    lower = np.array([row + [0.0] * (len(keys) - len(row)) for row in rows])
    correlation = lower + np.tril(lower, -1).T
    np.fill_diagonal(correlation, np.where(np.diag(correlation) > 0.0, 1.0, 0.0))
    sizes, directions = np.linalg.eigh(correlation)
    found = []
    for number, (size, direction) in enumerate(zip(sizes[::-1], directions.T[::-1], strict=True), start=1):
        if size < SMALL_DIRECTION:
            continue
        move = _along(keys, values, spread, np.sqrt(size) * direction * spread)
        found.append(
            Doubt(f"fit_{number}", f"Fit of the isotherm, direction {number}", "sorbent", SHIFT,
                  "data sheet: covariance of the fit", 1.0, unit="standard deviations", change=move)
        )  # fmt: skip
    return found


def _along(keys: tuple[str, ...], values: Floats, errors: Floats, step: Floats) -> Change:
    """Move numbers of the isotherm together, by so many steps; values, errors: as fitted."""
    by_logarithm = [
        value > 4.0 * error and not key.endswith(SIGNED)
        for key, value, error in zip(keys, values, errors, strict=True)
    ]

    def change(design: Any, sorbent: Any, deviations: float) -> tuple[Any, Any]:
        moved = {}
        for key, value, by, logarithm in zip(keys, values, step, by_logarithm, strict=True):
            now = sorbent.sheet.isotherm_number(key).value
            if by != 0.0:
                moved[key] = now * math.exp(deviations * by / value) if logarithm else now + deviations * by
        return design, sorbent.refitted(moved)

    return change


def _temperature_shift(design: Any, sorbent: Any, shift: float) -> tuple[Any, Any]:
    row = sorbent.row.copy()
    first, count = slots.SLOT_PARAMETERS, int(row[slots.SLOT_COUNT])
    row[first + 3 : first + 4 * count : 4] += shift
    return design, replace(sorbent, row=row)


def _field(name: str) -> Change:
    """Scale one field of the design."""

    def change(design: Any, sorbent: Any, factor: float) -> tuple[Any, Any]:
        return replace(design, **{name: getattr(design, name) * factor}), sorbent

    return change


def _capped(name: str, most: float) -> Change:
    """Scale one field that cannot pass a value."""

    def change(design: Any, sorbent: Any, factor: float) -> tuple[Any, Any]:
        return replace(design, **{name: min(getattr(design, name) * factor, most)}), sorbent

    return change


def _wind_coefficient(design: Any, sorbent: Any, factor: float) -> tuple[Any, Any]:
    return replace(
        design, wind_constant=design.wind_constant * factor, wind_slope=design.wind_slope * factor
    ), sorbent


def _airflows(design: Any, sorbent: Any, factor: float) -> tuple[Any, Any]:
    return replace(
        design, open_airflow=design.open_airflow * factor, loop_airflow=design.loop_airflow * factor
    ), sorbent


def _wind(nodes: Floats, factor: float) -> None:
    nodes[:, WIND] *= factor


SIGNED: Final = ("slope", "energy", "potential")  # ends of keys of numbers that may fall through zero
SMALL_DIRECTION: Final = 1e-4  # of a variance of one number; smaller ones are round-off
SAMPLE_SPREAD: Final = 0.07  # of the loading, where a sheet states none: common practice, no source
_MEMORY: Final = "value from memory"
_PRACTICE: Final = "common practice, no source"

_OF_WEATHER: Final = (
    Doubt("sun", "Sun: year to year, and error of the file", "weather", FACTOR,
          f"5 % of a year's sum; {_MEMORY}", 0.05, weather=other_sun),
    Doubt("humidity", "Vapour in the air: year to year, and the site against the file", "weather", FACTOR,
          f"6 % of a year's mean; {_MEMORY}", 0.06, weather=other_humidity),
    Doubt("warmth", "Air temperature: year to year, and the site against the file", "weather", SHIFT,
          f"0.7 K of a year's mean; {_MEMORY}", 0.7, unit="K", weather=other_warmth),
    Doubt("wind", "Wind at the device against the file's wind", "weather", FACTOR,
          f"shelter and terrain known to 30 %; {_PRACTICE}", 0.3, weather=_wind),
)  # fmt: skip

_OF_PASSIVE_BOX: Final = (
    Doubt("wind_coefficient", "Heat and vapour transfer to the wind", "heat and mass transfer", FACTOR,
          "published correlations differ by 30 %; value from memory (Watmuff1977 used)", 0.3,
          change=_wind_coefficient),
    Doubt("rear_gap", "Vapour's way from bed to condenser", "heat and mass transfer", FACTOR,
          f"20 % on the transfer across the gap; {_PRACTICE}", 0.2, change=_field("rear_gap")),
    Doubt("front_gap", "Convection under the cover", "heat and mass transfer", FACTOR,
          f"15 % on the transfer across the gap (Hollands1976); {_MEMORY}", 0.15,
          change=_field("front_insulation")),
    Doubt("effectiveness", "Share of the layer that the night air reaches", "heat and mass transfer", FACTOR,
          f"20 %: fins and flaps are not modelled one by one; {_PRACTICE}", 0.2,
          change=_capped("bed_effectiveness", 1.0)),
    Doubt("emissivity", "Emissivity of the absorber, new to aged", "upkeep", FACTOR,
          f"25 %; {_PRACTICE}", 0.25, change=_capped("absorber_emissivity", 0.98)),
    Doubt("edge_loss", "Loss through edges and back", "heat and mass transfer", FACTOR,
          f"40 %: workmanship; {_PRACTICE}", 0.4, change=_field("edge_loss")),
    Doubt("leak", "Leak of the closed box", "upkeep", FACTOR,
          f"a factor of two either way; {_PRACTICE}", 0.7, change=_field("leak")),
    Doubt("holdup", "Water that stays on the condenser", "upkeep", FACTOR,
          f"0.1 to 0.3 mm on glass; {_MEMORY}", 0.5, change=_field("condenser_holdup")),
    Doubt("soiling", "Dust on the glass", "upkeep", FACTOR,
          f"a factor of two either way with the cleaning; {_PRACTICE}", 0.7,
          change=_capped("soiling", 0.5), exposed=other_dust),
    Doubt("ageing", "Sorbent lost to ageing by mid-life", "upkeep", UNIFORM,
          f"0 to 10 % of the capacity, no sheet knows; {_PRACTICE}", low=1.0, high=0.9, change=other_loading),
)  # fmt: skip


def _both_fields(first: str, second: str) -> Change:
    """Scale two fields of the design alike."""

    def change(design: Any, sorbent: Any, factor: float) -> tuple[Any, Any]:
        moved = {name: getattr(design, name) * factor for name in (first, second)}
        return replace(design, **moved), sorbent

    return change


# What a passive box has under other names is changed in both stages; the rest is the passive box's own.
_OF_BOTH_STAGES: Final[Mapping[str, Change]] = {
    "rear_gap": _both_fields("first_gap", "second_gap"),
    "edge_loss": _both_fields("first_edge_loss", "second_edge_loss"),
    "holdup": _field("holdup"),
}
_OF_TWO_STAGE_BOX: Final = tuple(
    replace(doubt, change=_OF_BOTH_STAGES.get(doubt.key, doubt.change)) for doubt in _OF_PASSIVE_BOX
)

_OF_DEW_CONDENSER: Final = (
    Doubt("wind_coefficient", "Heat and vapour transfer to the wind", "heat and mass transfer", FACTOR,
          "published correlations differ by 30 %; value from memory (Watmuff1977 used)", 0.3,
          change=_wind_coefficient),
    Doubt("emissivity", "Emissivity of the sheet, new to aged", "upkeep", UNIFORM,
          f"0 to 6 % below new; {_PRACTICE}", low=1.0, high=0.94, change=_capped("emissivity", 1.0)),
    Doubt("back_loss", "Heat through the insulation", "heat and mass transfer", FACTOR,
          f"30 %: workmanship; {_PRACTICE}", 0.3, change=_field("back_loss")),
    Doubt("holdup", "Water that hangs on the sheet", "upkeep", FACTOR,
          f"0.02 to 0.1 mm; {_MEMORY}", 0.5, change=_field("holdup")),
)  # fmt: skip

_OF_COOLING_COIL: Final = (
    Doubt("air_coefficient", "Heat and vapour transfer at the fins", "heat and mass transfer", FACTOR,
          f"20 %; {_PRACTICE}", 0.2, change=_field("air_coefficient")),
    Doubt("second_law", "Performance of the compressor", "heat and mass transfer", FACTOR,
          f"0.25 to 0.55 over small and large machines; {_MEMORY}", 0.2, change=_capped("second_law", 0.8)),
    Doubt("condenser", "Conductance of the condenser, dust included", "upkeep", FACTOR,
          f"25 %; {_PRACTICE}", 0.25, change=_field("condenser_conductance")),
    Doubt("coil_drop", "Pressure drop of coil and filter, dust included", "upkeep", FACTOR,
          f"30 %; {_PRACTICE}", 0.3, change=_field("filter_drop")),
)  # fmt: skip

_OF_ACTIVE_BED: Final = (
    Doubt("condenser", "Conductance of the condenser to the air", "heat and mass transfer", FACTOR,
          f"25 %; {_PRACTICE}", 0.25, change=_field("condenser_conductance")),
    Doubt("inside", "Transfer from the loop's air to the condenser", "heat and mass transfer", FACTOR,
          f"25 %; {_PRACTICE}", 0.25, change=_field("condenser_coefficient")),
    Doubt("edge_loss", "Loss through the bed's casing", "heat and mass transfer", FACTOR,
          f"40 %: workmanship; {_PRACTICE}", 0.4, change=_field("edge_loss")),
    Doubt("damper_leak", "Leak of the dampers", "upkeep", FACTOR,
          f"a factor of two either way; {_PRACTICE}", 0.7, change=_capped("damper_leak", 0.5)),
    Doubt("holdup", "Water that stays on the condenser", "upkeep", FACTOR,
          f"0.02 to 0.1 mm; {_MEMORY}", 0.5, change=_field("condenser_holdup")),
    Doubt("ageing", "Sorbent lost to ageing by mid-life", "upkeep", UNIFORM,
          f"0 to 10 % of the capacity, no sheet knows; {_PRACTICE}", low=1.0, high=0.9, change=other_loading),
)  # fmt: skip

_OF_LIQUID_DESICCANT: Final = (
    Doubt("wind_coefficient", "Heat and vapour transfer to the wind", "heat and mass transfer", FACTOR,
          "published correlations differ by 30 %; value from memory (Watmuff1977 used)", 0.3,
          change=_wind_coefficient),
    Doubt("absorber_area", "Wetted share of the absorber", "heat and mass transfer", FACTOR,
          f"20 %: films break up; {_PRACTICE}", 0.2, change=_field("absorber_area")),
    Doubt("still_gap", "Vapour's way from brine to glass", "heat and mass transfer", FACTOR,
          f"20 % on the transfer across the gap; {_PRACTICE}", 0.2, change=_field("still_gap")),
    Doubt("edge_loss", "Loss through bottom and edges", "heat and mass transfer", FACTOR,
          f"40 %: workmanship; {_PRACTICE}", 0.4, change=_field("edge_loss")),
    Doubt("leak", "Leak of the still", "upkeep", FACTOR,
          f"a factor of two either way; {_PRACTICE}", 0.7, change=_field("leak")),
    Doubt("soiling", "Dust on the glass", "upkeep", FACTOR,
          f"a factor of two either way with the cleaning; {_PRACTICE}", 0.7, change=_capped("soiling", 0.5),
          exposed=other_dust),
)  # fmt: skip

_OF_HYBRID: Final = (
    Doubt("wind_coefficient", "Heat and vapour transfer to the wind", "heat and mass transfer", FACTOR,
          "published correlations differ by 30 %; value from memory (Watmuff1977 used)", 0.3,
          change=_wind_coefficient),
    Doubt("front_gap", "Convection under the cover", "heat and mass transfer", FACTOR,
          f"as a gap 15 % wider or narrower (Hollands1976); {_MEMORY}", 0.15, change=_field("front_gap")),
    Doubt("bed_coefficient", "Transfer from the moving air to the layer", "heat and mass transfer", FACTOR,
          f"25 %: fins and flaps are not modelled one by one; {_PRACTICE}", 0.25,
          change=_field("bed_coefficient")),
    Doubt("inside", "Transfer from the loop's air to the condenser", "heat and mass transfer", FACTOR,
          f"25 %; {_PRACTICE}", 0.25, change=_field("condenser_coefficient")),
    Doubt("airflow", "Air that the fans move, filter and dust included", "upkeep", FACTOR,
          f"20 %; {_PRACTICE}", 0.2, change=_airflows),
    Doubt("coupling", "Heat pipes to the night radiator", "heat and mass transfer", FACTOR,
          f"30 %; {_PRACTICE}", 0.3, change=_field("radiator_coupling")),
    Doubt("radiator", "Emissivity of the night radiator, new to aged", "upkeep", UNIFORM,
          f"0 to 6 % below new; {_PRACTICE}", low=1.0, high=0.94, change=_capped("radiator_emissivity", 1.0)),
    Doubt("emissivity", "Emissivity of the absorber, new to aged", "upkeep", FACTOR,
          f"25 %; {_PRACTICE}", 0.25, change=_capped("absorber_emissivity", 0.98)),
    Doubt("second_law", "Performance of the heat pump", "heat and mass transfer", FACTOR,
          f"0.25 to 0.55 over small and large machines; {_MEMORY}", 0.2,
          change=_capped("second_law_efficiency", 0.8)),
    Doubt("edge_loss", "Loss through edges and back", "heat and mass transfer", FACTOR,
          f"40 %: workmanship; {_PRACTICE}", 0.4, change=_field("edge_loss")),
    Doubt("leak", "Leak of the closed loop", "upkeep", FACTOR,
          f"a factor of two either way; {_PRACTICE}", 0.7, change=_field("leak")),
    Doubt("holdup", "Water that stays on the condenser", "upkeep", FACTOR,
          f"0.02 to 0.1 mm; {_MEMORY}", 0.5, change=_field("condenser_holdup")),
    Doubt("soiling", "Dust on the glass", "upkeep", FACTOR,
          f"a factor of two either way with the cleaning; {_PRACTICE}", 0.7,
          change=_capped("soiling", 0.5), exposed=other_dust),
    Doubt("ageing", "Sorbent lost to ageing by mid-life", "upkeep", UNIFORM,
          f"0 to 10 % of the capacity, no sheet knows; {_PRACTICE}", low=1.0, high=0.9, change=other_loading),
)  # fmt: skip

_OF_DESICCANT_WHEEL: Final = (
    Doubt("inside", "Transfer from the loop's air to the condenser", "heat and mass transfer", FACTOR,
          f"25 %; {_PRACTICE}", 0.25, change=_field("condenser_coefficient")),
    Doubt("condenser", "Conductance of the condenser to the air, dust included", "upkeep", FACTOR,
          f"25 %; {_PRACTICE}", 0.25, change=_field("condenser_conductance")),
    Doubt("channels", "Transfer in the channels of the wheel", "heat and mass transfer", FACTOR,
          f"as channels 10 % wider or narrower: they are not alike; {_PRACTICE}", 0.1,
          change=_field("channel_size")),
    Doubt("airflow", "Outdoor air through the wheel, filter and dust included", "upkeep", FACTOR,
          f"15 %; {_PRACTICE}", 0.15, change=_field("face_velocity")),
    Doubt("recovery", "Heat recovered before the heater", "heat and mass transfer", FACTOR,
          f"10 %; {_PRACTICE}", 0.1, change=_capped("heat_recovery", 0.95)),
    Doubt("second_law", "Performance of the heat pump, where there is one", "heat and mass transfer", FACTOR,
          f"0.25 to 0.55 over small and large machines; {_MEMORY}", 0.2,
          change=_capped("second_law_efficiency", 0.8)),
    Doubt("edge_loss", "Loss through the casing of the hot part", "heat and mass transfer", FACTOR,
          f"40 %: workmanship; {_PRACTICE}", 0.4, change=_field("edge_loss")),
    Doubt("seal_leak", "Leak past the seals", "upkeep", FACTOR,
          f"a factor of two either way, more with wear; {_PRACTICE}", 0.7, change=_capped("seal_leak", 0.5)),
    Doubt("holdup", "Water that stays on the condenser", "upkeep", FACTOR,
          f"0.02 to 0.1 mm; {_MEMORY}", 0.5, change=_field("condenser_holdup")),
    Doubt("ageing", "Sorbent lost to ageing by mid-life", "upkeep", UNIFORM,
          f"0 to 10 % of the capacity, no sheet knows; {_PRACTICE}", low=1.0, high=0.9, change=other_loading),
)  # fmt: skip

# Kind to the doubts about its own parts; those of sorbent and weather hold for all.
OF_KIND: Final[Mapping[str, tuple[Doubt, ...]]] = {
    "passive_box": _OF_PASSIVE_BOX,
    "two_stage_box": _OF_TWO_STAGE_BOX,
    "dew_condenser": _OF_DEW_CONDENSER,
    "cooling_coil": _OF_COOLING_COIL,
    "active_bed": _OF_ACTIVE_BED,
    "liquid_desiccant": _OF_LIQUID_DESICCANT,
    "hybrid": _OF_HYBRID,
    "desiccant_wheel": _OF_DESICCANT_WHEEL,
}
