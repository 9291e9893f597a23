"""A device like that of a claim, simulated in the claim's own air and at a place, beside the claim.

The claim is carried to a place by the simulated ratio: claimed times what the same device gives there over
what it gives in the claim's air. Unlike the least work of the first drop, which falls to nothing as the air
saturates, a simulated device still has its heat to move, its fans to turn and its bed to warm.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from welkinwell.constants import DAYS_IN_MONTH, STEFAN_BOLTZMANN
from welkinwell.declare import declared_fields
from welkinwell.errors import InputError, SolverError
from welkinwell.harvesters.air import Surroundings, surroundings
from welkinwell.harvesters.claimed import RANGES, WORDS, Option, claimed
from welkinwell.harvesters.harvester import Bucketed
from welkinwell.harvesters.kinds import KINDS
from welkinwell.moist_air import latent_heat, pressure_at_altitude, saturation_pressure
from welkinwell.quantities import as_text, plain
from welkinwell.simulation import march_year, prepare, simulate, tolerance_of
from welkinwell.site_weather import place_climate
from welkinwell.sky.longwave import prata
from welkinwell.studies.check_claim import Verdict, check_claim
from welkinwell.studies.claim import Claim
from welkinwell.studies.claim_design import (
    Likeness,
    flat,
    left_out,
    likeness,
    takes_sun,
)
from welkinwell.studies.runner import Progress
from welkinwell.year import monthly

Floats = NDArray[np.float64]
IMPOSSIBLE: Final = {"note": "What is impossible there is not carried over to another place."}
SHORT_DAYS: Final = 15  # of steady air; what it gives is the mean of the last ten
COUNTED_DAYS: Final = 10
FIRST_DAY: Final = np.datetime64("2019-03-14")  # days of equal length at the equator
WIND: Final = 2.0  # m/s at 10 m
DIFFUSE: Final = 0.25  # of the sun of a fair day (common practice, no source)
KWH: Final = 3.6e6
ACCURACY: Final = "fast"
STEEP: Final = 5.0  # carried by a larger factor, a claim is called unsure (common practice, no source)
UNITS: Final = {
    "litres_per_m2_day": "L/(m2 day)",
    "litres_per_kwh": "L/kWh",
    "litres_per_kg_day": "L/(kg day)",
    "litres_per_kwh_of_heat": "L/kWh of heat",
    "litres_per_day": "L/day",
}


@dataclass(frozen=True)
class Amounts:
    """What a device gives and takes in some time, per m2 of its basis area.

    water [kg/m2]; electricity, heat [J/m2]; days [1]; arrays hold months.
    """

    water: Any
    electricity: Any
    heat: Any
    days: Any

    def figures(self, like: Likeness) -> dict[str, Any]:
        """Figures of a likeness by name, in the units of UNITS; none where a figure has no meaning."""
        mass = float(getattr(like.design, "sorbent_mass", 0.0))
        day = self.water / self.days
        found = {"litres_per_m2_day": day}
        if mass > 0.0:
            found["litres_per_kg_day"] = day / mass
        with np.errstate(divide="ignore", invalid="ignore"):
            for name, energy in (
                ("litres_per_kwh", self.electricity),
                ("litres_per_kwh_of_heat", self.heat),
            ):
                if energy is not None and np.sum(energy) > 0.0:
                    found[name] = np.where(np.asarray(energy) > 0.0, KWH * self.water / energy, 0.0)
        return found

    def whole(self) -> Amounts:
        """The months together."""
        heat = None if self.heat is None else float(np.sum(self.heat))
        return Amounts(
            float(np.sum(self.water)), float(np.sum(self.electricity)), heat, float(np.sum(self.days))
        )


def judged(
    claim: Claim,
    weather: Path | None = None,
    progress: Progress | None = None,
    columns: Path | None = None,
) -> Verdict:
    """Check a claim, simulate such a device in its air, and carry both to a place of given weather.

    columns: TOML file or case that describes the columns of a plain table of weather.
    """
    tell = progress or (lambda what, share: None)
    tell("Reading the weather" if weather is not None else "Bounds", 0.0)
    climate = None if weather is None else place_climate(weather, columns)
    verdict = check_claim(claim)
    tell("Simulating such a device in the claim's air", 0.1)
    there = simulated_there(claim, lambda share: tell("Trying what is not stated", 0.1 + 0.5 * share))
    here: dict[str, Any] = {}
    if climate is not None:
        tell("Simulating it through the year at the site", 0.7)
        here = at_site(claim, climate)
        if verdict.verdict == "impossible":
            here["scaled"] = IMPOSSIBLE
    tell("Done", 1.0)
    return replace(verdict, there=there, here=here)


def completed_air(claim: Claim) -> tuple[Claim, tuple[str, ...]]:
    """Fill the air and the sun that a claim leaves out by the middle of their ranges; says which."""
    gaps: dict[str, Any] = {
        name: RANGES[name][1]
        for name in ("temperature", "relative_humidity", "sun")
        if getattr(claim, name) is None
    }
    return replace(claim, **gaps), tuple(gaps)


def in_words(claim: Claim, name: str) -> str:
    """A condition's value as a person writes it."""
    unit, value = declared_fields(Claim)[name].unit, getattr(claim, name)
    return f"{plain(100.0 * value)} %" if unit == "1" else as_text(value, unit, 3)


def steady_air(claim: Claim, days: int = SHORT_DAYS) -> xr.Dataset:
    """The claim's air day and night, under its sun from 6 to 18 h at the equator and a clear sky."""
    assert claim.temperature is not None and claim.relative_humidity is not None and claim.sun is not None
    vapour = claim.relative_humidity * float(saturation_pressure(claim.temperature))
    black = STEFAN_BOLTZMANN * claim.temperature**4
    hour = np.arange(24 * days) % 24 + 0.5
    shape = np.maximum(np.sin(np.pi * (hour - 6.0) / 12.0), 0.0)
    ghi = shape / shape.mean() * claim.sun
    columns: dict[str, Any] = {
        "temperature": claim.temperature,
        "vapour_pressure": vapour,
        "pressure": float(pressure_at_altitude(claim.elevation)),
        "ghi": ghi,
        # at the equator at an equinox the shape is the sine of the sun's height
        "dni": np.where(shape > 0.0, (1.0 - DIFFUSE) * claim.sun / shape.mean(), 0.0),
        "dhi": DIFFUSE * ghi,
        "wind_speed": WIND,
        "sky_longwave": prata(claim.temperature, vapour) * black,
    }
    time = FIRST_DAY + np.arange(24 * days) * np.timedelta64(1, "h")
    return xr.Dataset(
        {name: ("time", np.full(24 * days, x, dtype=float)) for name, x in columns.items()},
        coords={"time": time.astype("datetime64[ns]")},
        attrs={
            "site": "the air of the claim", "latitude": 0.0, "longitude": 0.0, "elevation": claim.elevation,
            "utc_offset": 0.0, "instant_offset": 1800.0, "wind_height": 10.0, "source": "as claimed",
            "licence": "", "content_hash": "", "longwave_model": "Prata1996",
        },
    )  # fmt: skip


def simulated_there(claim: Claim, progress: Callable[[float], None] | None = None) -> dict[str, Any]:
    """Simulate such a device in the claim's own air; what is not stated is named and tried over its range."""
    full, gaps = completed_air(claim)
    try:
        like = likeness(claim)
        amounts = _in_steady_air(like, surroundings(steady_air(full)))
    except (InputError, SolverError) as error:
        return {"note": f"Not simulated: no device can be made of this claim ({_why(error)})."}
    sunny = takes_sun(like.design)
    said = [f"{WORDS[name]} {in_words(full, name)}" for name in gaps if name != "sun" or sunny]
    said += [f"wind {WIND:g} m/s"] if claimed(like.kind).aperture else []
    found = {**_told(like, amounts), "assumed": [*said, *like.assumed], "left": list(like.left)}
    found["compared"] = _compared(claim, like, found["figures"])
    if claim.litres_per_day is not None and amounts.water > 0.0:
        found["area_for_the_claim"] = claim.litres_per_day * 8.64e7 / (amounts.water / amounts.days)
    figure = _principal(like, found)
    found["tried"] = {
        "figure": figure,
        "unit": UNITS[figure],
        "conditions": _tried(claim, like, figure, found["figures"].get(figure, 0.0), progress),
    }
    return found


def at_site(claim: Claim, climate: xr.Dataset) -> dict[str, Any]:
    """Simulate such a device through a weather year, and carry the claim there by the simulated ratio."""
    found: dict[str, Any] = {"site": climate.attrs["site"]}
    full, _ = completed_air(claim)
    try:
        like = likeness(claim)
        there = _in_steady_air(like, surroundings(steady_air(full)))
        year = simulate(like.design, like.material, climate, keep="months", accuracy=ACCURACY, audit=False)
    except (InputError, SolverError) as error:
        return {**found, "scaled": {"note": f"Not simulated at the site ({_why(error)})."}}
    months = Amounts(
        monthly(year, "water_collected"),
        monthly(year, "electricity"),
        monthly(year, "release_heat") if "release_heat" in year else None,
        np.array(DAYS_IN_MONTH),
    )
    found["simulated"] = _told(like, months.whole())
    found["scaled"] = _carried(claim, like, there, months, _sun_there(like, year))
    return found


def _carried(
    claim: Claim, like: Likeness, there: Amounts, months: Amounts, sun: Floats | None
) -> dict[str, Any]:
    """Carry the claim's main figure: claimed x simulated at the site / simulated in the claim's air."""
    if there.water <= 0.0:
        return {"note": "Such a device gives nothing in the claim's air, so nothing can be carried over."}
    stated = _stated(claim, like)
    figure = next((name for name in _order(like) if name in stated), None)
    if figure is None:
        return {"note": "The claim states no figure that can be carried over."}
    basis = "litres_per_m2_day" if figure == "litres_per_day" else figure
    base, here, whole = (x.figures(like).get(basis) for x in (there, months, months.whole()))
    if base is None or here is None or whole is None or float(base) <= 0.0:
        return {"note": "The simulated device does not use the energy that the claim is counted on."}
    factor = stated[figure] / float(base)
    by_month, year, capped = factor * np.asarray(here), factor * float(whole), False
    if figure == "litres_per_m2_day" and sun is not None:
        by_month = np.minimum(by_month, sun)
        capped = bool((by_month < factor * np.asarray(here)).any())
        year = float((by_month * months.days).sum() / np.sum(months.days))
    return {
        "rule": "claimed, times what such a device gives in a simulation at the site, over what it gives "
        "in the claim's air" + ("; in some months no more than the sun's heat evaporates" if capped else ""),
        "unit": UNITS[figure],
        "by_month": [float(value) for value in by_month],
        "year": year,
        "claimed": stated[figure],
        "claimed_over_simulated": factor,
        "site_over_claim": year / stated[figure],
        "unsure": bool(max(year / stated[figure], stated[figure] / max(year, 1e-12)) > STEEP),
    }


def _sun_there(like: Likeness, year: xr.Dataset) -> Floats | None:
    """Water that the sun on the plane can evaporate, by month, where nothing else heats [L/(m2 day)]."""
    kind = claimed(like.kind)
    if not kind.once_a_day:
        return None
    times = float(kind.effects(Claim()))
    latent = latent_heat(year["temperature"].values)
    found: Floats = times * year["sun_on_plane"].values * 86400.0 / latent
    return found


def _in_steady_air(like: Likeness, site: Surroundings) -> Amounts:
    """March a likeness through steady days; amounts of the last ten."""
    ready = prepare(flat(like.design), like.material, site)
    _, result = march_year(ready, tolerance=tolerance_of(ready, ACCURACY), keep="hours")
    found = ready.harvester.accounts(Bucketed(ready.harvester.kind, ready.design, result.flows))

    def counted(values: Any) -> float:
        return float(np.asarray(values)[-24 * COUNTED_DAYS :].sum())

    return Amounts(
        counted(found.water["water_collected"][0]),
        sum((counted(each) for each in found.electricity.values()), 0.0),
        None if found.release_heat is None else counted(found.release_heat[0]),
        COUNTED_DAYS,
    )


def _told(like: Likeness, amounts: Amounts) -> dict[str, Any]:
    found = {name: float(value) for name, value in amounts.figures(like).items()}
    return {
        "device": like.words,
        "kind": like.kind,
        "basis": KINDS[like.kind].basis,
        "figures": found,
        "litres_per_m2_day": found["litres_per_m2_day"],
        "litres_per_kg_day": found.get("litres_per_kg_day"),
    }


def _stated(claim: Claim, like: Likeness) -> dict[str, float]:
    """What a claim states, by the names of UNITS, on the basis of its likeness."""
    found: dict[str, float] = {}
    per_m2 = claim.per_m2
    if per_m2 is not None and claim.area_is == "footprint":
        found["litres_per_m2_day"] = per_m2 * like.design.footprint_ratio
    elif per_m2 is not None and claimed(like.kind).aperture:
        found["litres_per_m2_day"] = per_m2
    if claim.joules_of_electricity:
        found["litres_per_kwh"] = KWH / claim.joules_of_electricity
    if claim.per_kg is not None:
        found["litres_per_kg_day"] = claim.per_kg
    if claim.heat:
        found["litres_per_kwh_of_heat"] = KWH * 1000.0 / claim.heat
    if claim.litres_per_day is not None:
        found["litres_per_day"] = claim.litres_per_day * 8.64e7
    return found


def _compared(claim: Claim, like: Likeness, figures: dict[str, float]) -> list[dict[str, Any]]:
    """Each figure of a claim beside the same of the simulated device."""
    return [
        {
            "figure": name,
            "unit": UNITS[name],
            "claimed": value,
            "simulated": figures[name],
            "claimed_over_simulated": value / figures[name] if figures[name] > 0.0 else None,
        }
        for name, value in _stated(claim, like).items()
        if name in figures
    ]


def _principal(like: Likeness, found: dict[str, Any]) -> str:
    """The figure that is followed through what is not stated: of the claim's own that furthest above."""

    def above(one: dict[str, Any]) -> tuple[float, int]:
        ratio = one["claimed_over_simulated"]
        return (math.inf if ratio is None else ratio, -_order(like).index(one["figure"]))

    highest = max(found["compared"], key=above, default={"figure": "litres_per_m2_day"})
    return str(highest["figure"])


def _order(like: Likeness) -> list[str]:
    """Figures in the order in which they say most of a kind: of machines m2 of ground say least."""
    names = list(UNITS)
    if claimed(like.kind).aperture:
        return names
    return [*names[1:4], names[0], names[4]]


def _tried(
    claim: Claim,
    like: Likeness,
    figure: str,
    usual: float,
    progress: Callable[[float], None] | None,
) -> list[dict[str, Any]]:
    """The simulated figure with each condition that is not stated at its other values, the rest as taken."""
    conditions = left_out(claim, like)
    total = sum(len(one.options) for one in conditions)
    rows, done = [], 0
    for condition in conditions:
        values = []
        for option in condition.options:
            values.append({"value": option.words, "simulated": _with_option(option, figure)})
            done += 1
            if progress is not None:
                progress(done / total)
        rows.append({"condition": condition.words, "values": values})
    return sorted(rows, key=lambda row: _span(row, usual), reverse=True)


def _span(row: dict[str, Any], usual: float) -> float:
    values = [usual, *(one["simulated"] for one in row["values"] if one["simulated"] is not None)]
    return max(values) - min(values)


def _with_option(option: Option, figure: str) -> float | None:
    try:
        like = likeness(option.claim, option.mass, option.changes)
        full, _ = completed_air(option.claim)
        amounts = _in_steady_air(like, surroundings(steady_air(full)))
    except (InputError, SolverError):
        return None
    found = amounts.figures(like).get(figure)
    return None if found is None else float(found)


def _why(error: InputError | SolverError) -> str:
    problems = getattr(error, "problems", None)
    return str(problems[0]) if problems else str(error)
