"""A device like that of a claim: the fields that the claim gives, the rest its kind's defaults, each named.

What the claim leaves out is listed with the values that are believed, so that each can be tried in turn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from welkinwell.declare import check, declared_fields
from welkinwell.harvesters.claimed import (
    COOLING,
    DEW,
    RANGES,
    WORDS,
    ClaimedKind,
    Condition,
    Notes,
    Option,
    claimed,
    claimed_kinds,
    heat_or_power,
)
from welkinwell.harvesters.kinds import KINDS, PLAIN
from welkinwell.quantities import as_text
from welkinwell.quantities import plain as plain_number
from welkinwell.sorbents.sorbent import Sorbent, sorbent
from welkinwell.studies.claim import Claim


@dataclass(frozen=True)
class Likeness:
    """A device like that of a claim.

    assumed: what was taken because the claim does not state it; left: what the claim states and the device
    does not have, both in words; mass_known: whether its sorbent per m2 follows from the claim.
    """

    design: Any
    material: Sorbent | None
    assumed: tuple[str, ...]
    left: tuple[str, ...]
    mass_known: bool = False

    @property
    def kind(self) -> str:
        """Kind of harvester."""
        return str(self.design.kind)

    @property
    def words(self) -> str:
        """Say in a few words what it is."""
        title = KINDS[self.kind].short_title
        if self.material is None:
            return title
        basis = KINDS[self.kind].basis
        mass = plain_number(self.design.sorbent_mass)
        return f"{title} with {mass} kg of {self.material.name} per m2 of {basis}"


def kind_of(claim: Claim) -> str:
    """Give the kind that a claim speaks of, or the commonest that its fields point to."""
    if claim.kind != "not stated":
        return claim.kind
    if claim.sorbent is not None:
        family = sorbent(claim.sorbent).family
        alone = [kind for kind in claimed_kinds() if claimed(kind).family == family]
        if alone:
            return alone[0]
    if claim.joules_of_electricity and claim.sun is None and claim.heat is None:
        sorbs = any(x is not None for x in (claim.sorbent, claim.sorbent_mass, claim.swing, claim.per_kg))
        return next(kind for kind in claimed_kinds() if _lives_on_electricity(claimed(kind), sorbs))
    return PLAIN


def _lives_on_electricity(kind: ClaimedKind, sorbs: bool) -> bool:
    return kind.more_than_stated is heat_or_power if sorbs else kind.way == COOLING


def likeness(claim: Claim, mass: float | None = None, changes: Mapping[str, Any] | None = None) -> Likeness:
    """Make a device like that of a claim; raises InputError where none can be made of it.

    mass: dry sorbent to take instead of what follows from the claim [kg/m2]; changes: fields of the design
    to set last, SI.
    """
    notes = Notes()
    kind = kind_of(claim)
    if claim.kind == "not stated":
        notes.assumed.append(f"kind: {KINDS[kind].short_title}")
    material = _material(claim, kind, notes)
    design = replace(claimed(kind).make(claim, material, mass, notes), **(changes or {}))
    _condenser(claim, design, notes)
    check(design)
    return Likeness(design, material, tuple(notes.assumed), tuple(notes.left), notes.mass_known)


def flat(design: Any) -> Any:
    """Lay what takes the sun level: a claim's sun is that on its own m2. A dew sheet keeps its slope."""
    if claimed(design.kind).way == DEW or not hasattr(design, "tilt"):
        return design
    return replace(design, tilt=0.0)


def left_out(claim: Claim, like: Likeness) -> list[Condition]:
    """List what a claim leaves out and a simulation needs, with the values that are believed."""
    found = [_air(claim, name) for name in ("temperature", "relative_humidity", "sun")]
    found += [_sorbents(claim, like), *claimed(like.kind).conditions(claim, like)]
    if not takes_sun(like.design):
        found = [one for one in found if one is None or one.words != WORDS["sun"]]
    return [one for one in found if one is not None]


def takes_sun(design: Any) -> bool:
    """Whether the sun drives a device."""
    return claimed(design.kind).sun_drives(design)


def _material(claim: Claim, kind: str, notes: Notes) -> Sorbent | None:
    if not KINDS[kind].takes_sorbent:
        return None
    if claim.sorbent is not None:
        return sorbent(claim.sorbent)
    found = sorbent(claimed(kind).sorbents[0])
    notes.assumed.append(f"sorbent: {found.name}")
    return found


def _condenser(claim: Claim, design: Any, notes: Notes) -> None:
    cooled = claim.condenser == "cooled" or claim.condenser_temperature is not None
    if cooled and claimed(design.kind).way != DEW and getattr(design, "heat_pump_source", "") != "condenser":
        notes.left.append("its condenser is cooled by the outdoor air")


def _air(claim: Claim, name: str) -> Condition | None:
    if getattr(claim, name) is not None:
        return None
    unit = declared_fields(Claim)[name].unit
    low, _, high = RANGES[name]
    given: list[dict[str, Any]] = [{name: low}, {name: high}]
    return Condition(
        WORDS[name],
        tuple(
            Option(_told(value, unit), replace(claim, **change))
            for value, change in zip((low, high), given, strict=True)
        ),
    )


def _told(value: float, unit: str) -> str:
    return f"{plain_number(100.0 * value)} %" if unit == "1" else as_text(value, unit, 3)


def _sorbents(claim: Claim, like: Likeness) -> Condition | None:
    if like.material is None or claim.sorbent is not None:
        return None
    others = claimed(like.kind).sorbents[1:]
    return Condition(
        "sorbent", tuple(Option(sorbent(name).name, replace(claim, sorbent=name)) for name in others)
    )
