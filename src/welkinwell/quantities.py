"""Text with units to SI floats and back, and the table of every variable that leaves a room.

The only place that uses pint. Units are written as an engineer types them: "2500 cm2", "12 L/day",
"30 deg", "20 degC", "35 %", "0.6 W/(m2 K)".
"""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from welkinwell.errors import Problem, QuantityError, nearest_name
from welkinwell.merged_files import files_called, refuse_duplicates

LONGEST_VALUE = 200  # characters of a number with its unit
_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*", re.DOTALL)
_POWER = re.compile(r"(?<=[A-Za-zµμ%])\*\*-?\d(?![\d.(]|\s*\*\*)")
_UNIT_TEXT = re.compile(r"[A-Za-zµμ%*/^() .\-0-9]{0,60}")
_SPELLINGS = {"²": "2", "³": "3", "°C": "degC", "℃": "degC", "°F": "degF", "°": "deg", "·": " ", "⋅": " "}
_ANGLES = {"degree", "radian", "arcminute", "arcsecond", "turn", "grade", "milliradian"}
_SHORT_TEMPERATURES = {"C": "degC", "F": "degF", "celsius": "degC", "Celsius": "degC"}
_KINDS = {
    "[length]": "a length",
    "[length] ** 2": "an area",
    "[length] ** 3": "a volume",
    "[length] ** 3 / [time]": "a volume in a time",
    "[mass]": "a mass",
    "[mass] / [length] ** 2": "a mass on an area",
    "[mass] / [length] ** 3": "a density",
    "[mass] / [time]": "a mass in a time",
    "[mass] / [length] / [time] ** 2": "a pressure",
    "[mass] / [time] ** 3": "a power on an area",
    "[mass] * [length] ** 2 / [time] ** 2": "an energy",
    "[mass] * [length] ** 2 / [time] ** 3": "a power",
    "[temperature]": "a temperature",
    "[time]": "a time",
    "1 / [time]": "a rate",
    "[length] / [time]": "a speed",
    "dimensionless": "a plain number",
}


@dataclass(frozen=True)
class Scale:
    """How a unit stands to SI: value_si = value * factor + offset."""

    factor: float
    offset: float
    dimensions: str
    is_angle: bool


@dataclass(frozen=True)
class Variable:
    """One row of quantities.toml: a name that may leave a room.

    low and high are the allowed range in the row's own unit.
    """

    name: str
    unit: str
    symbol: str
    long_name: str
    low: float
    high: float


def to_si(text: str | float, unit: str, where: str = "value") -> float:
    """Read a quantity as written by a person and give it in SI.

    text: a number with its unit, such as "2500 cm2"; a bare number only where unit is "1".
    unit: the unit that the quantity is declared in; any unit of the same kind is understood.
    where: what to call the value in an error message.
    Returns the value in SI [SI unit of the same kind; kelvin, radians, fractions].
    """
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise _refused(where, text, unit)
    if isinstance(text, (int, float)):
        return _bare_number(float(text), text, unit, where)
    match = _NUMBER.fullmatch(text) if len(text) <= LONGEST_VALUE else None
    if match is None or match.group(2).startswith(","):
        raise _refused(where, text, unit, _decimal_advice(text))
    number, unit_text = float(match.group(1)), match.group(2)
    if not unit_text:
        return _bare_number(number, text, unit, where)
    wanted = scale(unit)
    if wanted.dimensions == "[temperature]":
        unit_text = _SHORT_TEMPERATURES.get(unit_text, unit_text)
    try:
        found = scale(unit_text)
    except ValueError:
        raise _refused(where, text, unit, f"{unit_text!r} is not a known unit.") from None
    if found.dimensions != wanted.dimensions or found.is_angle != wanted.is_angle:
        raise _refused(where, text, unit, f"{unit_text!r} is the unit of {_kind(found)}.")
    return _finite(number * found.factor + found.offset, text, unit, where)


def from_si(value: float, unit: str) -> float:
    """Give a value in SI [SI] in the unit asked for [unit]."""
    wanted = scale(unit)
    return (value - wanted.offset) / wanted.factor


def as_text(value: float, unit: str, digits: int = 6) -> str:
    """Write a value in SI [SI] as text in a unit, such as '3.2 mm', in the way that a case is written."""
    text = plain(from_si(value, unit), digits).replace(",", "")
    return text if unit == "1" else f"{text} {unit}"


NONE: Final = "none"
_LEAST_SIZE: Final = -4  # powers of ten below which a number is written with its exponent


def number(value: float | None, digits: int = 3, unit: str = "") -> str:
    """Write a number for people, with so many digits that count; "none" where there is no meaning.

    All digits before the point are written, in groups of three; zeros after the point stay, as columns want.
    """
    if value is None or not math.isfinite(value):
        return NONE
    if value == 0.0:
        return f"0 {unit}".rstrip()
    mantissa, _, power = f"{value:.{digits - 1}e}".partition("e")
    size = int(power)
    text = f"{mantissa}e{size}" if size < _LEAST_SIZE else f"{value:,.{max(digits - 1 - size, 0)}f}"
    return f"{text} {unit}".rstrip()


def plain(value: float | None, digits: int = 3) -> str:
    """Write a number for a sentence: as `number` does, without zeros at its end: 1.5, 10, 15,000."""
    text, tail, power = number(value, digits).partition("e-")
    return (text.rstrip("0").rstrip(".") if "." in text else text) + tail + power


def amount(count: float, one: str, many: str = "") -> str:
    """Write how much there is of something: "1 module", "0.5 days"; many: where an s will not do."""
    text = plain(count)
    return f"{text} {one if text == '1' else many or one + 's'}"


def litres_on(area: str, square: str = "2") -> str:
    """Name the unit of litres that are counted on an area: "L a day per m2 of coil face".

    area: what the m2 are, as `ListedKind.basis` says; square: how the m2 is written.
    """
    return f"L a day per m{square} of {area}"


def with_article(noun: str) -> str:
    """Give a noun its article: "a person", "an inpatient"."""
    return f"{'an' if noun[0].lower() in 'aeiou' else 'a'} {noun}"


@lru_cache(maxsize=512)
def si_unit(unit: str) -> str:
    """Say in which unit a value in SI stands: the unit itself where it is SI, otherwise its base units.

    unit: as declared. Returns text such as "m2", "1/s" or "W/(m2 K)"; raises ValueError for no unit.
    """
    known = scale(unit)
    if known.factor == 1.0 and known.offset == 0.0:
        return unit
    base = _registry().get_base_units(_registry().parse_units(_spelled_for_pint(unit)))[1]
    return f"{base:~}".replace(" ** ", "").replace(" ", "")


@lru_cache(maxsize=512)
def scale(unit: str) -> Scale:
    """Say how a unit stands to SI; raises ValueError for text that is no unit."""
    if unit == "1":
        return Scale(1.0, 0.0, "dimensionless", False)
    registry = _registry()
    text = _spelled_for_pint(unit)
    try:
        units = registry.parse_units(text)
        at_zero = registry.Quantity(0.0, units).to_base_units()
        at_one = registry.Quantity(1.0, units).to_base_units()
    except Exception as error:  # pint raises many kinds, tokenizer errors among them
        raise ValueError(f"{unit!r} is not a unit") from error
    names = set(dict(units._units))
    return Scale(
        factor=float(at_one.magnitude - at_zero.magnitude),
        offset=float(at_zero.magnitude),
        dimensions=str(units.dimensionality),
        is_angle=bool(names & _ANGLES) and str(units.dimensionality) == "dimensionless",
    )


@lru_cache(maxsize=1)
def variables() -> dict[str, Variable]:
    """Read every quantities.toml: each variable that leaves a room, by name; raises DuplicateError."""
    tables = [(place, tomllib.loads(text)) for place, text in files_called("quantities.toml")]
    refuse_duplicates((name, place) for place, table in tables for name in table)
    return {name: Variable(name=name, **row) for _, table in tables for name, row in table.items()}


def variable(name: str) -> Variable:
    """Look up one variable; an unknown name is answered with the nearest known one."""
    table = variables()
    if name not in table:
        raise KeyError(f"{name!r} is in no quantities.toml. {nearest_name(name, table)}".rstrip())
    return table[name]


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


def _spelled_for_pint(unit: str) -> str:
    for given, plain in _SPELLINGS.items():
        unit = unit.replace(given, plain)
    # Long numbers are refused, so that no text can ask for a huge power.
    if not _UNIT_TEXT.fullmatch(unit) or re.search(r"\d\d", unit) or not re.search(r"[A-Za-zµμ%]", unit):
        raise ValueError(f"{unit!r} is not a unit")
    text = re.sub(r"([A-Za-zµμ])(-?\d)", r"\1**\2", unit.replace("^", "**"))
    # A power of a power, as in m^9^9^9, would be worked out for hours.
    if text.count("**") != len(_POWER.findall(text)):
        raise ValueError(f"{unit!r} is not a unit")
    return text


def _bare_number(number: float, text: Any, unit: str, where: str) -> float:
    if unit != "1":
        raise _refused(where, text, unit, f'Write the unit, as in "{text} {unit}".')
    return _finite(number, text, unit, where)


def _finite(value: float, text: Any, unit: str, where: str) -> float:
    if not math.isfinite(value):
        raise _refused(where, text, unit)
    return value


def _refused(where: str, text: Any, unit: str, advice: str = "") -> QuantityError:
    expected = "a plain number" if unit == "1" else f"a number with a unit of the kind {unit!r}"
    return QuantityError(Problem(where, repr(text), expected, advice))


def _decimal_advice(text: str) -> str:
    return "Write decimals with a point." if re.match(r"\s*[+-]?\d+,\d+", text) else ""


def _kind(found: Scale) -> str:
    if found.is_angle:
        return "an angle"
    return _KINDS.get(found.dimensions, f"something else ({found.dimensions})")
