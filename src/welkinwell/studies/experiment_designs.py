"""How the words of a published experiment become the declared fields of a kind: one mapping for each kind.

A mapping is decided from the words, before the result is looked at. A word that no field can take is named
with the result. A mapping that was mended after a prediction had been seen stands in CHANGES.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Final

from welkinwell.declare import check
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.passive_box import LEAST_EMISSIVITY
from welkinwell.studies.experiment_words import WEATHER

NO_FIELD: Final = "no field of the kind takes it"
LEAST_HOLDUP: Final = 0.001  # kg/m2, the least that a dew condenser may declare


@dataclass(frozen=True)
class Change:
    """A mapping that was mended after a prediction was seen. before, after: signed relative error [1]."""

    case: str
    quantity: str
    what: str
    before: float
    after: float


CHANGES: Final[tuple[Change, ...]] = (
    Change(
        "corrugated_calcium_chloride_collector",
        "litres_per_m2_day",
        "Half of the draws were refused: a bed that lies bare at night needs some emissivity. It now gets the"
        " least that the kind takes; so does taif_sand_bed, of which no draw could run.",
        -0.51,
        -0.68,
    ),
    Change(
        "six_composite_boxes",
        "hours_to_saturation",
        "The boxes were closed and heated by day and closed again in the morning; now uptake alone is"
        " followed from 18:00 into an emptied bed, as the protocol says.",
        0.73,
        2.2,
    ),
)


@dataclass(frozen=True)
class Mapped:
    """A design made from a draw; left_out: words that it does not represent, with the reason."""

    design: Any
    left_out: Mapping[str, str]


def mapped_design(kind: str, given: Mapping[str, Any], sorbent: Any = None) -> Mapped:
    """Make the declared design of a kind from one draw of an experiment's conditions.

    Args: kind; given: conditions and design words [SI]; sorbent: for kinds whose sizes follow from its
    density. Returns: the design and what it leaves out; raises InputError where the draw makes no possible
    device.
    """
    declared = KINDS[kind].load()
    own = {field.name for field in fields(declared)}
    values = {name: value for name, value in given.items() if name in own}
    used = {*values, "sorbent", *(name for names in WEATHER.values() for name in names), "elevation"}
    reasons: dict[str, str] = {}
    more = _MAPPINGS[kind](given, declared(), sorbent)
    values |= more.values
    used |= set(more.used)
    reasons |= more.reasons
    design = replace(declared(), **values)
    check(design)
    left_out = {name: reasons.get(name, NO_FIELD) for name in given if name not in used or name in reasons}
    return Mapped(design, left_out)


@dataclass(frozen=True)
class _More:
    """What a mapping adds: values of fields, words that it has used, and why words are left out."""

    values: Mapping[str, Any]
    used: tuple[str, ...] = ()
    reasons: Mapping[str, str] = ()  # type: ignore[assignment]


def _passive_box(given: Mapping[str, Any], usual: Any, sorbent: Any) -> _More:
    """Fields bear the words' own names; the mass of the whole device turns L/kg into grams a day."""
    values, reasons = {}, {}
    seen = given.get("bed_open_emissivity", usual.bed_open_emissivity) + given.get(
        "bed_condenser_emissivity", usual.bed_condenser_emissivity
    )
    if given.get("cover_opens", usual.cover_opens) and seen < LEAST_EMISSIVITY:
        values["bed_open_emissivity"] = LEAST_EMISSIVITY  # the least that the kind takes for a bare bed
    if "second_stage" in given:
        reasons["second_stage"] = "the kind has one stage: one box of the stated layers stands in"
    if "batches_per_day" in given:
        reasons["batches_per_day"] = "the kind has one cycle a day: all sorbent is released at once"
    return _More(values, ("dry_sorbent",), reasons)


def _dew_condenser(given: Mapping[str, Any], usual: Any, sorbent: Any) -> _More:
    """Rename; the shelter is in the wind of the record; a stated coefficient replaces the wind's."""
    names = {
        "sheet_area": "sheet_area",
        "sheet_tilt": "tilt",
        "sheet_emissivity": "emissivity",
        "sheet_sky_view": "sky_view",
        "back_conductance": "back_loss",
    }
    values = {field: given[word] for word, field in names.items() if word in given}
    used = [word for word in names if word in given]
    reasons: dict[str, str] = {}
    if "sheet_holdup" in given:
        values["holdup"] = max(given["sheet_holdup"], LEAST_HOLDUP)
        used.append("sheet_holdup")
    if "surface_coefficient" in given:
        values |= {"wind_constant": given["surface_coefficient"], "wind_slope": 0.0}
        used.append("surface_coefficient")
    return _More(values, (*used, "sheet_shelter"), reasons)


_MAPPINGS: Final[Mapping[str, Callable[[Mapping[str, Any], Any, Any], _More]]] = {
    "passive_box": _passive_box,
    "dew_condenser": _dew_condenser,
}


def is_mapped(kind: str) -> bool:
    """Say whether a kind is built and has a mapping."""
    return kind in KINDS and kind in _MAPPINGS
