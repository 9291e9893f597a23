"""Designs at random for any kind: sizes that somebody might build, some of them foolish."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, Final

import numpy as np

from welkinwell.declare import Declared, check, declared_fields
from welkinwell.errors import InputError
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.simulation import Prepared, prepare
from welkinwell.sorbents.sorbent import sheet_names, sorbent

WIDER: Final = 4.0  # times and over the default, where no span is given
WARMER: Final = 15.0  # K, the same for temperatures
SPANS: Final[dict[str, dict[str, tuple[float, float]]]] = {
    "passive_box": {
        "sorbent_mass": (0.5, 30.0), "layer_thickness": (0.3e-3, 20e-3), "bed_area": (0.5, 12.0),
        "bed_effectiveness": (0.2, 1.0), "absorber_emissivity": (0.05, 0.95),
        "condenser_outer_area": (0.5, 12.0), "condenser_sky_view": (0.0, 0.9), "rear_gap": (10e-3, 150e-3),
        "gap_air_volume": (0.03, 0.5), "leak": (1e-6, 5.0 / 3600.0), "edge_loss": (0.1, 5.0),
        "shelter": (0.1, 1.0), "bed_metal": (0.5, 20.0), "condenser_holdup": (0.005, 0.3),
        "tilt": (0.02, 1.5), "close_above": (1.0, 300.0),
    },
}  # fmt: skip
# Left as they are: the hour is set by the place, and these two options take minutes a design
STAYS: Final = {"open_at", "close_at", "modules", "depth", "layer_form"}
NOT_DRAWN: Final = {"operation": ("best",)}
BRINES: Final = ("licl_brine", "cacl2_brine")


def random_design(kind: str, rng: np.random.Generator) -> Any:
    """A design of a kind that passes its own checks, drawn evenly in the logarithm of each size."""
    base = KINDS[kind].load()()
    spans = SPANS.get(kind, {})
    known = {name: f for name, f in declared_fields(type(base)).items() if name not in STAYS}
    while True:
        values: dict[str, Any] = {}
        for name, field in known.items():
            if field.kind == "choice":
                options = [o for o in field.options if o not in NOT_DRAWN.get(name, ())]
                values[name] = options[rng.integers(len(options))]
            elif field.kind == "flag":
                values[name] = bool(rng.integers(2))
            elif name in spans:
                values[name] = _between(*spans[name], rng)
            elif not spans and (span := _span(field, getattr(base, name))):
                values[name] = _between(*span, rng)
        if kind == "passive_box" and values["release_face"] != "rear":
            values["front_gap_sealed"] = False
        design = replace(base, **values)
        try:
            check(design)
        except InputError:
            continue
        return design


def random_device(
    kind: str, site: Surroundings, rng: np.random.Generator, refused: list[str] | None = None
) -> Prepared:
    """A random design with a random sorbent that suits its kind, prepared at a place.

    refused: gets a line for each that could not be built and was drawn again: its layer, say, cannot exist.
    """
    while True:
        design = random_design(kind, rng)
        names = BRINES if kind == "liquid_desiccant" else sheet_names()
        material = sorbent(str(rng.choice(names))) if KINDS[kind].takes_sorbent else None
        try:
            return prepare(design, material, site)
        except InputError as error:
            if refused is not None:
                refused.append(str(error))


def _span(field: Declared, now: float | None) -> tuple[float, float] | None:
    """Range of a size around its default; None for what is not drawn."""
    if now is None or field.kind != "quantity" or now <= 0.0:
        return None
    if field.unit == "degC":
        return max(field.low, now - WARMER), min(field.high, now + WARMER)
    return max(field.low, now / WIDER), min(field.high, now * WIDER)


def _between(low: float, high: float, rng: np.random.Generator) -> float:
    return math.exp(rng.uniform(math.log(max(low, 1e-9)), math.log(high)))


def ordinary_box(rng: np.random.Generator) -> PassiveBox:
    """Draw a passive box that somebody might build."""

    def between(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    release = str(rng.choice(["rear", "rear", "rear", "front", "both"]))
    return PassiveBox(
        tilt=between(0.1, 0.8),
        front_gap=between(0.02, 0.08),
        front_gap_sealed=release == "rear" and bool(rng.random() < 0.8),
        absorber_emissivity=between(0.05, 0.95),
        bed_metal=between(1.0, 6.0),
        sorbent_mass=between(2.0, 10.0),
        layer_thickness=between(0.001, 0.005),
        bed_area=between(2.0, 6.0),
        bed_effectiveness=between(0.3, 1.0),
        open_faces=int(rng.integers(1, 3)),
        release_face=release,
        cover_opens=bool(rng.random() < 0.3),
        bed_open_emissivity=between(0.0, 0.9),
        bed_sky_view=between(0.0, 0.8),
        rear_gap=between(0.02, 0.1),
        condenser_position=str(rng.choice(["below", "below", "above", "beside"])),
        gap_circulation=str(rng.choice(["stratified", "inclined"])),
        gap_air_volume=between(0.03, 0.2),
        bed_condenser_emissivity=between(0.1, 0.9),
        edge_loss=between(0.3, 2.0),
        condenser_mass=between(2.0, 10.0),
        condenser_inner_area=between(0.7, 2.0),
        condenser_outer_area=between(1.0, 6.0),
        condenser_stray_sun=between(0.0, 0.1),
        condenser_holdup=between(0.03, 0.15),
        leak=between(0.0, 2.0) / 3600.0,
        shelter=between(0.2, 1.0),
        operation=str(rng.choice(["sun", "sun", "clock"])),
        close_above=between(10.0, 150.0),
    )
