"""From places to a ranking of sorbents: the same box at each, every data sheet, and what is shown of it."""

from __future__ import annotations

import importlib.metadata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import xarray as xr

from welkinwell.case import read_case
from welkinwell.climate.hourly import site_entry, weather_entry
from welkinwell.errors import CaseError, InputError, Problem
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.kinds import PLAIN, plain_design
from welkinwell.moist_air import saturation_pressure
from welkinwell.plants.summary import MONTHS
from welkinwell.site_weather import case_climate, descriptions_for, place_climate
from welkinwell.sorbents.sorbent import Sorbent, sheet_names, sorbent
from welkinwell.studies.effort import (
    DRAWING,
    READING,
    compile_kind,
    getting_ready,
    many_years,
    stages,
)
from welkinwell.studies.rank import (
    EQUAL_MASS,
    EQUAL_VOLUME,
    MASSES,
    Bed,
    Contest,
    Ranked,
    chosen_weeks,
    rank_all,
)
from welkinwell.studies.runner import Progress
from welkinwell.studies.wanted_isotherm import CAPACITY, Wanted, wanted_isotherm
from welkinwell.year import SCHEMA_VERSION

OUTSIDE: Final = 0.5  # K by which a mean working point may lie outside the measured temperatures
OF_A_LADDER: Final = 1.5  # quick years that all masses of a sheet take in typical weeks
OF_A_SEARCH: Final = 30.0  # quick years that the search for a wanted isotherm takes


@dataclass(frozen=True)
class Place:
    """One place to rank at: its weather, the box, and where both come from.

    box: name of the harvester of the case that gave the box, empty for the standard box; sorbents: sheets of
    the case that are not in the library.
    """

    name: str
    climate: xr.Dataset
    design: Any
    box: str
    sorbents: tuple[Sorbent, ...] = ()


@dataclass(frozen=True)
class PlaceRanked:
    """A place and its entries, the most water first; wanted: the isotherm sought there, if asked for."""

    place: Place
    entries: list[Ranked]
    wanted: Wanted | None = None

    @property
    def best(self) -> Ranked | None:
        """The sheet that gives the most and may be used so."""
        return next((entry for entry in self.entries if entry.reason == "best"), None)


@dataclass(frozen=True)
class RankAnswer:
    """Sorbents ranked at one place or several."""

    places: list[PlaceRanked]
    masses: tuple[float, ...]
    whole_years: bool
    summary: dict[str, Any]
    headline: str


def answer_rank(
    paths: Sequence[Path],
    own_sheets: Sequence[str | Path] = (),
    only: Sequence[str] = (),
    masses: Sequence[float] = MASSES,
    whole_years: bool = False,
    wanted: bool = False,
    progress: Progress | None = None,
    columns: Sequence[Path] = (),
) -> RankAnswer:
    """Rank every data sheet, and the user's own, at one place or several.

    paths: weather files, or cases whose site and first passive box are taken; own_sheets: paths of further
    sheets; only: names of the library's sheets, all when empty; masses: of dry sorbent per aperture
    [kg/m2]; whole_years: whether every mass runs through the whole year; wanted: whether to seek the isotherm
    that each place wants; columns: TOML files that describe plain tables among the weather files, one for all
    or one for each of them in order. Raises InputError for what is not there or not a sheet.
    """
    sheets = _sheets(own_sheets, only)
    years = (len(masses) if whole_years else OF_A_LADDER) + 1.0
    reading, ready, ranking, seeking, writing = stages(
        progress,
        READING * len(paths),
        *getting_ready([plain_design()]),
        sum(many_years(years, plain_design(), one) for one in sheets) * len(paths),
        many_years(OF_A_SEARCH, plain_design(), None) * len(paths) if wanted else 0.0,
        DRAWING * len(paths),
    )
    reading("Reading the weather", 0.0)
    files = [Path(path) for path in paths if not _is_case(Path(path))]
    described = dict(zip(files, descriptions_for(files, columns), strict=True))
    places = [_place(Path(path), described.get(Path(path))) for path in paths]
    library = {sheet.key for sheet in sheets}
    contests = [
        Contest(
            [*sheets, *(one for one in place.sorbents if one.key not in library)],
            surroundings(place.climate),
            place.design,
        )
        for place in places
    ]
    count = sum(len(contest.sorbents) for contest in contests)
    doing = f"Ranking {count} sheets and places"
    ready("Compiling or loading the passive box", 0.0)
    compile_kind(contests[0].design, contests[0].sorbents[0], contests[0].site)
    ranking(doing, 0.0)
    ranked = rank_all(contests, masses, whole_years, lambda share: ranking(doing, share))
    found = [PlaceRanked(place, entries) for place, entries in zip(places, ranked, strict=True)]
    if wanted:
        parts = stages(seeking, *[1.0] * len(found))
        found = [
            _with_wanted(one, contest, part)
            for one, contest, part in zip(found, contests, parts, strict=True)
        ]
    writing("Writing the page", 0.0)
    summary = _summary(found, masses, whole_years)
    return RankAnswer(found, tuple(masses), whole_years, summary, _headline(found))


def _with_wanted(found: PlaceRanked, contest: Contest, tell: Progress) -> PlaceRanked:
    days = chosen_weeks(contest.sorbents, contest.site, contest.design)

    def show(share: float) -> None:
        tell(f"Seeking the isotherm that {found.place.name} wants", share)

    return replace(found, wanted=wanted_isotherm(days, contest.design, found.entries, show))


def _sheets(own_sheets: Sequence[str | Path], only: Sequence[str]) -> list[Sorbent]:
    """The library's sheets and the user's own, each key once."""
    found = [sorbent(name) for name in dict.fromkeys(only or sheet_names())]
    for given in own_sheets:
        one = sorbent(given)
        if any(one.key == other.key for other in found):
            problem = Problem(
                f"--sorbent {given}",
                f"key = {one.key!r}, which another sheet has too",
                "a key of its own in each sheet",
                "Change `key` at the top of the sheet.",
            )
            raise InputError(problem)
        found.append(one)
    return found


def _place(path: Path, columns: Path | None) -> Place:
    if not _is_case(path):
        climate = place_climate(path, columns)
        name = f"{climate.attrs['site']} ({path.name.split('.')[0]})"
        return Place(name, climate, plain_design(), "")
    case = read_case(path)
    box = next((one for one in case.harvesters if one.kind == PLAIN), None)
    if box is None:
        given = ", ".join(sorted({one.kind for one in case.harvesters}))
        expected = f"a case with a harvester of kind {PLAIN}"
        raise CaseError(Problem(path.name, given, expected, "Rank at its weather file instead."))
    library = sheet_names()
    own = {one.sorbent.key: one.sorbent for one in case.harvesters if one.sorbent.key not in library}
    return Place(case.site.name, case_climate(case), box.design, box.name, tuple(own.values()))


def _is_case(path: Path) -> bool:
    return path.suffix.lower() == ".toml" or path.is_dir()


def caveats(entry: Ranked) -> list[str]:
    """Say what stands behind a sheet's litres that a reader must know.

    Args: entry. Returns: sentences.
    """
    best, one = entry.best, entry.sorbent
    said = []
    low, high = one.temperature_range
    if high - low < 1.0:
        said.append(f"measured at {low - 273.15:.0f} degC only")
    elif best.day[0] > high + OUTSIDE:
        said.append(f"measured up to {high - 273.15:.0f} degC")
    if best.wet_days > 0.0:
        said.append(f"beyond its leak limit on {100 * best.wet_days:.0f} % of days")
    if best.hottest > one.service_temperature:
        said.append(
            f"reaches {best.hottest - 273.15:.0f} degC and stands {one.service_temperature - 273.15:.0f} degC"
        )
    if one.family == "liquid desiccant":
        said.append("a liquid: taken as a still film of its thickness, which a box must hold")
    said += deep_words(entry)
    if entry.left_out:
        left = ", ".join(f"{mass:g}" for mass in entry.left_out)
        said.append(f"left out, since their beds do not fit into the box: {left} kg/m2")
    ladder = sorted(rung.mass for rung in entry.rungs)
    if best.mass in (ladder[0], ladder[-1]):
        said.append("its best mass lies at the end of the ladder")
    return said


def deep_words(entry: Ranked) -> list[str]:
    """Say that the best layer is too deep to be computed as one, and what it gives in cells; else nothing."""
    if entry.filling is None:
        return []
    said = (
        f"{1000.0 * entry.best.thickness:.2g} mm take {entry.filling / 3600.0:.2g} h to fill, too deep for a "
        "bed computed as one"
    )
    if entry.layered is None:
        return [f"{said}; no layered depth to compare with, since its sheet knows no pores"]
    return [f'{said}; {entry.layered:.2f} L/m2/day with depth = "layered"']


def _point(point: tuple[float, float], spread: tuple[float, float], loading: float) -> dict[str, Any]:
    T, p = point
    return {
        "bed_temperature_celsius": T - 273.15,
        "bed_vapour_pressure_pascal": p,
        "relative_humidity": min(p / float(saturation_pressure(T)), 1.0),
        "relative_humidity_on_80_percent_of_days": list(spread),
        "loading_kg_per_kg": loading,
    }


def _bed_entry(bed: Bed) -> dict[str, Any]:
    return {
        "mass_kg_per_m2": bed.mass,
        "layer_thickness_mm": 1000.0 * bed.thickness,
        "litres_per_m2_day": bed.litres_per_m2_day,
        "litres_per_kg_day": bed.litres_per_kg_day,
        "litres_per_m2_by_month": [float(x) for x in bed.litres_by_month],
        "heat_kwh_per_litre": bed.heat_kwh_per_litre,
        "night": _point(bed.night, bed.night_spread, bed.night_loading),
        "day": _point(bed.day, bed.day_spread, bed.day_loading),
        "daily_swing_kg_per_kg": bed.swing,
        "highest_bed_temperature_celsius": bed.hottest - 273.15,
        "share_vented": bed.vented,
        "share_of_days_beyond_leak_limit": bed.wet_days,
    }


def _sheet_entry(number: int, entry: Ranked) -> dict[str, Any]:
    needed = entry.release_temperature
    return {
        "rank": number,
        "sheet": entry.sorbent.key,
        "name": entry.sorbent.name,
        "family": entry.sorbent.family,
        "reason": entry.reason,
        "reason_in_words": entry.words,
        "best": _bed_entry(entry.best),
        "litres_per_m2_day_at_equal_mass": entry.litres_at_equal_mass,
        "litres_per_m2_day_at_equal_volume": entry.litres_at_equal_volume,
        "release_temperature_celsius": None if needed is None else needed - 273.15,
        "half_filled_at_joule_per_mol": entry.half_potential,
        "hours_to_fill_if_too_deep": None if entry.filling is None else entry.filling / 3600.0,
        "layered_litres_per_m2_day": entry.layered,
        "masses_left_out_kg_per_m2": list(entry.left_out),
        "ladder": [
            {"mass_kg_per_m2": rung.mass, "litres_per_m2_day": rung.litres_per_m2_day} for rung in entry.rungs
        ],
        "doubts": caveats(entry),
    }


def _wanted_entry(wanted: Wanted) -> dict[str, Any]:
    return {
        "half_filled_at_joule_per_mol": wanted.potential,
        "half_filled_at_relative_humidity_25_celsius": wanted.humidity,
        "width_joule_per_mol": wanted.width,
        "heat_over_latent_joule_per_mol": wanted.heat,
        "isosteric_heat_kilojoule_per_kg": wanted.isosteric_heat / 1000.0,
        "mass_kg_per_m2": wanted.mass,
        "capacity_kg_per_kg": CAPACITY,
        "litres_per_m2_day": wanted.litres_per_m2_day,
        "at_bound_of_search": list(wanted.at_bound),
        "litres_with_one_number_moved": {
            name: {"values": [float(x) for x in values], "litres_per_m2_day": [float(x) for x in litres]}
            for name, (values, litres) in wanted.slices.items()
        },
        "nearest_sheets": [{"sheet": key, "mean_difference": value} for key, value in wanted.nearest],
        "simulations": wanted.runs,
    }


def _place_entry(found: PlaceRanked) -> dict[str, Any]:
    climate = found.place.climate
    return {
        "site": {**site_entry(climate), "name": found.place.name},
        "weather": weather_entry(climate),
        "box": found.place.box or "standard box",
        "sheets": [_sheet_entry(number, entry) for number, entry in enumerate(found.entries, start=1)],
        "wanted_isotherm": None if found.wanted is None else _wanted_entry(found.wanted),
    }


def _summary(found: list[PlaceRanked], masses: Sequence[float], whole_years: bool) -> dict[str, Any]:
    sheets = {key for place in found for entry in place.entries for key in entry.sorbent.sources}
    return {
        "schema_version": SCHEMA_VERSION,
        "masses_kg_per_m2": list(masses),
        "ladder_through": "whole years" if whole_years else "typical weeks",
        "best_mass_through": "the whole year",
        "equal_mass_kg_per_m2": EQUAL_MASS,
        "equal_bed_volume_litres_per_m2": 1000.0 * EQUAL_VOLUME,
        "months": list(MONTHS),
        "places": [_place_entry(place) for place in found],
        "version": importlib.metadata.version("welkinwell"),
        "citations": sorted(sheets),
    }


def _headline(found: list[PlaceRanked]) -> str:
    """One sentence a place."""
    return "\n".join(_sentence(place) for place in found)


def _sentence(found: PlaceRanked) -> str:
    best = found.best
    if best is None or best.best.litres_per_m2_day <= 0.0:
        return f"{found.place.name}: no sheet gives water here in this box."
    said = (
        f"{found.place.name}: {best.sorbent.name} gives the most of what may be used so, "
        f"{best.best.litres_per_m2_day:.2f} L a day per m2 of aperture at {best.best.mass:g} kg/m2"
    )
    close = [entry.sorbent.name for entry in found.entries if entry.reason == "close"]
    if close:
        said += f"; within a tenth of it: {'; '.join(close)}"
    last = found.entries[-1]
    return f"{said}. Least: {last.sorbent.name}, {last.best.litres_per_m2_day:.2f} ({last.reason})."
