"""A box simulated in a claim's own air, and at a place: what stands beside the claim. Passive boxes only."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import xarray as xr

from welkinwell.climate import read_climate
from welkinwell.constants import STEFAN_BOLTZMANN
from welkinwell.declare import check, declared_fields
from welkinwell.errors import InputError
from welkinwell.harvesters.passive_box import PassiveBox
from welkinwell.moist_air import pressure_at_altitude, saturation_pressure
from welkinwell.quantities import as_text
from welkinwell.simulate import simulate
from welkinwell.sky.longwave import prata
from welkinwell.sorbents.sorbent import Sorbent, sorbent
from welkinwell.studies.check_claim import RANGES, WORDS, Verdict, at_site, check_claim
from welkinwell.studies.claim import Claim
from welkinwell.year import figures

Progress = Callable[[str, float], None]
IMPOSSIBLE: Final = {"note": "What is impossible there is not carried over to another place."}
HOURS: Final = 8760
DEFAULT_SORBENT: Final = "silica_gel_regular_density"
DEFAULT_MASS: Final = 5.0  # kg/m2 of dry sorbent where the claim gives none
THICKNESS: Final = 2e-3  # m
WIND: Final = 2.0  # m/s at 10 m, where the claim gives none
DIFFUSE: Final = 0.25  # of the sun of a fair day (common practice, no source)


def judged(claim: Claim, weather: Path | None = None, progress: Progress | None = None) -> Verdict:
    """Check a claim, simulate a box in its air, and carry both to a place where its weather is given."""
    tell = progress or (lambda what, share: None)
    tell("Bounds", 0.0)
    verdict = check_claim(claim)
    tell("Simulating a box in the claim's air", 0.2)
    there = simulated_there(claim)
    here: dict[str, Any] = {}
    if weather is not None:
        tell("Reading the weather", 0.4)
        climate = read_climate(weather)
        tell("Simulating the box at the site", 0.7)
        here = {
            "site": climate.attrs["site"],
            "scaled": at_site(claim, climate) if verdict.verdict != "impossible" else IMPOSSIBLE,
            "simulated": simulated_here(claim, climate),
        }
    tell("Done", 1.0)
    return replace(verdict, there=there, here=here)


def box_of(claim: Claim) -> tuple[PassiveBox, Sorbent]:
    """A passive box with the claim's sorbent and mass where it states them, else a plain one."""
    material = sorbent(claim.sorbent or DEFAULT_SORBENT)
    mass = DEFAULT_MASS
    if claim.sorbent_mass is not None and claim.area is not None:
        mass = claim.sorbent_mass / claim.area
    layers = mass / (material.bulk_density * THICKNESS)
    design = PassiveBox(
        tilt=0.0,
        sorbent_mass=mass,
        layer_thickness=THICKNESS,
        bed_area=float(np.clip(layers, 0.1, 50.0)),
        gap_air_volume=float(np.clip(0.15 + THICKNESS * layers, 0.15, 2.0)),
    )
    check(design)
    return design, material


def steady_air(claim: Claim) -> xr.Dataset:
    """The claim's air day and night, under its sun from 6 to 18 h at the equator and a clear sky."""
    assert claim.temperature is not None and claim.relative_humidity is not None and claim.sun is not None
    vapour = claim.relative_humidity * float(saturation_pressure(claim.temperature))
    black = STEFAN_BOLTZMANN * claim.temperature**4
    hour = np.arange(HOURS) % 24 + 0.5
    shape = np.maximum(np.sin(np.pi * (hour - 6.0) / 12.0), 0.0)
    ghi = shape / shape.mean() * claim.sun
    columns: dict[str, Any] = {
        "temperature": claim.temperature,
        "vapour_pressure": vapour,
        "pressure": float(pressure_at_altitude(claim.elevation)),
        "ghi": ghi,
        "dni": (1.0 - DIFFUSE) * ghi,
        "dhi": DIFFUSE * ghi,
        "wind_speed": WIND,
        "sky_longwave": prata(claim.temperature, vapour) * black,
    }
    time = np.datetime64("2019-01-01") + np.arange(HOURS) * np.timedelta64(1, "h")
    return xr.Dataset(
        {name: ("time", np.full(HOURS, x, dtype=float)) for name, x in columns.items()},
        coords={"time": time.astype("datetime64[ns]")},
        attrs={
            "site": "the air of the claim", "latitude": 0.0, "longitude": 0.0, "elevation": claim.elevation,
            "utc_offset": 0.0, "instant_offset": 1800.0, "wind_height": 10.0, "source": "as claimed",
            "licence": "", "content_hash": "", "longwave_model": "Prata1996",
        },
    )  # fmt: skip


def simulated_there(claim: Claim) -> dict[str, Any]:
    """Simulate a passive box in the claim's own air; what is not stated is taken as usual and named."""
    if claim.kind not in ("passive_box", "not stated"):
        return _simulated(claim, xr.Dataset())
    names = ("temperature", "relative_humidity", "sun")
    gaps: dict[str, Any] = {name: RANGES[name][1] for name in names if getattr(claim, name) is None}
    full = replace(claim, **gaps)
    found = _simulated(full, steady_air(full))
    if gaps and "note" not in found:
        known = declared_fields(Claim)
        found["assumed"] = [f"{WORDS[n]} {as_text(value, known[n].unit, 3)}" for n, value in gaps.items()]
    return found


def simulated_here(claim: Claim, climate: xr.Dataset) -> dict[str, Any]:
    """Simulate the same box through a weather year."""
    return _simulated(claim, climate)


def _simulated(claim: Claim, climate: xr.Dataset) -> dict[str, Any]:
    if claim.kind not in ("passive_box", "not stated"):
        return {"note": "Not simulated: only passive boxes can be so far."}
    try:
        design, material = box_of(claim)
    except InputError as error:
        return {"note": f"Not simulated: no box can be made of this claim ({error.problems[0]})."}
    if climate.attrs["source"] != "as claimed":
        design = replace(design, tilt=math.radians(30.0))
    found = figures(simulate(design, material, climate, keep="months", accuracy="fast", audit=False))
    return {
        "device": f"passive box, {design.sorbent_mass:.3g} kg/m2 of {material.name} in layers of "
        f"{design.layer_thickness * 1e3:.3g} mm",
        "litres_per_m2_day": found["litres_per_m2_day"],
        "litres_per_kg_day": found["litres_per_kg_day"],
    }
