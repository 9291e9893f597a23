"""What is not known for sure about a prediction: its sorbent's, its kind's and its weather's parameters."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.declare import declared_fields
from welkinwell.harvesters.changes import (
    SizedChange,
    other_humidity,
    other_loading,
    other_rate,
    other_sun,
    other_warmth,
    other_wind,
)
from welkinwell.harvesters.study import study_of
from welkinwell.harvesters.uncertain_parameters import FACTOR, MEMORY, PRACTICE, SHIFT, UncertainParameter
from welkinwell.sorbents import row as slots

Floats = NDArray[np.float64]


def uncertain_parameters_of(design: Any, sorbent: Any) -> list[UncertainParameter]:
    """List what is uncertain about a design and its sorbent."""
    found = [*([] if sorbent is None else _of_sorbent(design, sorbent)), *study_of(design.kind).parameters]
    if sorbent is not None:
        found = [replace(one, whose=sorbent.key) if _of_one_sheet(one) else one for one in found]
    return [*found, *_OF_WEATHER]


def _of_one_sheet(one: UncertainParameter) -> bool:
    """Whether another sorbent in the same device would err by a number of its own."""
    return one.of == "sorbent" or one.change is other_loading


def _of_sorbent(design: Any, sorbent: Any) -> list[UncertainParameter]:
    """What a data sheet states as uncertain: sample to sample, rate, and temperature beyond the points."""
    numbers = sorbent.sheet.numbers
    spread = numbers.get("isotherm.sample_spread")
    loading = float(spread.value) if spread is not None and spread.value > 0.0 else SAMPLE_SPREAD
    stated = f"data sheet: {spread.where}" if spread is not None else "common practice, no source"
    found = []
    if "sorbent_mass" in declared_fields(type(design)):
        found.append(
            UncertainParameter(
                "loading",
                "Loading of the sorbent, sample to sample",
                "sorbent",
                FACTOR,
                stated,
                loading,
                change=other_loading,
            )
        )
    found += _of_fit(sorbent)
    rate = numbers.get("kinetics.diffusivity")
    if rate is not None and rate.high > rate.low > 0.0:
        # the sheet's range is read as four standard deviations of the logarithm: 95 % of what is believed
        width = 0.25 * math.log(rate.high / rate.low)
        found.append(
            UncertainParameter(
                "rate",
                "Rate of the sorbent",
                "sorbent",
                FACTOR,
                f"data sheet: {rate.where}",
                width,
                change=other_rate,
            )
        )
    shift = numbers.get("range.extrapolation_spread")
    if shift is not None and shift.value > 0.0 and int(sorbent.row[slots.SLOT_FORM]) == slots.FORM_SIPS_TERMS:
        found.append(
            UncertainParameter(
                "heat_shift",
                "Shift of the isotherm with temperature",
                "sorbent",
                SHIFT,
                f"data sheet: {shift.where}",
                float(shift.value),
                unit="J/(mol K)",
                change=_temperature_shift,
            )
        )
    return found


def _of_fit(sorbent: Any) -> list[UncertainParameter]:
    """Uncertainty of a fitted isotherm, drawn jointly: directions in which its numbers err together.

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
            UncertainParameter(
                f"fit_{number}",
                f"Fit of the isotherm, direction {number}",
                "sorbent",
                SHIFT,
                "data sheet: covariance of the fit",
                1.0,
                unit="standard deviations",
                change=move,
            )
        )
    return found


def _along(keys: tuple[str, ...], values: Floats, errors: Floats, step: Floats) -> SizedChange:
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


SIGNED: Final = ("slope", "energy", "potential")  # ends of keys of numbers that may fall through zero
SMALL_DIRECTION: Final = 1e-4  # of a variance of one number; smaller ones are round-off
SAMPLE_SPREAD: Final = 0.07  # of the loading, where a sheet states none: common practice, no source

_OF_WEATHER: Final = (
    UncertainParameter(
        "sun",
        "Sun: year to year, and error of the file",
        "weather",
        FACTOR,
        f"5 % of a year's sum; {MEMORY}",
        0.05,
        weather=other_sun,
    ),
    UncertainParameter(
        "humidity",
        "Vapour in the air: year to year, and the site against the file",
        "weather",
        FACTOR,
        f"6 % of a year's mean; {MEMORY}",
        0.06,
        weather=other_humidity,
    ),
    UncertainParameter(
        "warmth",
        "Air temperature: year to year, and the site against the file",
        "weather",
        SHIFT,
        f"0.7 K of a year's mean; {MEMORY}",
        0.7,
        unit="K",
        weather=other_warmth,
    ),
    UncertainParameter(
        "wind",
        "Wind at the device against the file's wind",
        "weather",
        FACTOR,
        f"shelter and terrain known to 30 %; {PRACTICE}",
        0.3,
        weather=other_wind,
    ),
)
