"""Sorbents ranked at four real places: what humid and arid places favour, and how long it takes.

Run as `python -m benchmarks.rank_sites`; writes benchmarks/results/rank_sites.json. What the figures say
stands in docs/validation/rank_sites.md.
"""

from __future__ import annotations

import json
import os
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
from scipy.stats import spearmanr

from welkinwell.climate.survey import survey
from welkinwell.harvesters.air import surroundings
from welkinwell.ranking import PlaceRanked, RankAnswer, answer_rank
from welkinwell.report.rank_page import write_rank_page
from welkinwell.studies.rank import Ranked, chosen_weeks, is_brine, unfit
from welkinwell.studies.wanted_isotherm import Wanted, wanted_isotherm

ROOT = Path(__file__).parent
RESULTS = ROOT / "results" / "rank_sites.json"
WEATHER = ROOT.parent / "examples" / "weather"
PLACES = {
    "desert": "desert_daggett_california_tmy.csv.gz",
    "highland": "highland_denver_colorado_tmy3.epw.gz",
    "coast": "coast_western_australia_2020.csv.gz",
    "tropics": "tropics_kuala_lumpur_2020.csv.gz",
}  # from the driest nights to the most humid


def main() -> None:
    """Rank, time, compare and write."""
    paths = [WEATHER / file for file in PLACES.values()]
    answer, seconds = _timed(paths)
    result = {
        "ranked_in_seconds": seconds,
        "places": {
            name: _place(found, _wanted(found)) for name, found in zip(PLACES, answer.places, strict=True)
        },
    }
    RESULTS.write_text(json.dumps(result, indent=2) + "\n", encoding="utf-8")
    print(json.dumps(result, indent=2))


def _timed(paths: list[Path]) -> tuple[RankAnswer, dict[str, Any]]:
    """Rank all sheets at six masses at the places, as the command does, warm, page included."""
    answer_rank(paths[:1], only=["mof_801", "calcium_chloride"], masses=(2.0, 4.0))  # compiled code is read
    wall, cpu = time.perf_counter(), time.process_time()
    answer = answer_rank(paths)
    ranked = time.perf_counter() - wall, time.process_time() - cpu
    with tempfile.TemporaryDirectory() as folder:
        write_rank_page(answer, Path(folder))
    return answer, {
        "wall": round(ranked[0], 1),
        "processor": round(ranked[1], 1),
        "wall_with_page": round(time.perf_counter() - wall, 1),
        "processor_with_page": round(time.process_time() - cpu, 1),
        "cores": os.cpu_count(),
        "load_of_the_machine_at_the_end": round(os.getloadavg()[0], 1),
        "runs": sum(len(entry.rungs) + 1 for place in answer.places for entry in place.entries),
    }


def _wanted(found: PlaceRanked) -> Wanted:
    place = found.place
    sheets = [entry.sorbent for entry in found.entries]
    days = chosen_weeks(sheets, surroundings(place.climate), place.design)
    return wanted_isotherm(days, place.design, found.entries)


def _place(found: PlaceRanked, wanted: Wanted) -> dict[str, Any]:
    looked = survey(found.place.climate)
    usable = [entry for entry in found.entries if unfit(entry) is None]
    solids = [entry for entry in usable if not is_brine(entry.sorbent)]
    miss = np.array(
        [
            e.best_on_ladder.litres_per_m2_day / max(e.best.litres_per_m2_day, 1e-6) - 1.0
            for e in found.entries
        ]
    )
    return {
        "night_relative_humidity": float(np.mean(looked["night_relative_humidity"].values)),
        "night_vapour_pressure_kPa": float(np.mean(looked["night_vapour_pressure"].values)) / 1000.0,
        "sun_on_plane_kWh_per_m2_day": float(np.mean(looked["sun_on_plane"].values)),
        "litres_per_m2_day": {e.sorbent.key: round(e.best.litres_per_m2_day, 3) for e in found.entries},
        "best_mass": {e.sorbent.key: e.best.mass for e in found.entries},
        "reason": {e.sorbent.key: e.reason for e in found.entries},
        "rank_correlation_of_litres_and_half_potential": {
            "solids": _correlation(solids),
            "all_that_may_be_used": _correlation(usable),
            "solids_by_distance_from_the_wanted": _correlation(solids, wanted.potential),
        },
        "half_potential_weighted_by_litres_J_per_mol": {
            "five_best_solids": _weighted(solids[:5]),
            "solids": _weighted(solids),
        },
        "wanted": {
            "potential_J_per_mol": round(wanted.potential),
            "relative_humidity_25_C": round(wanted.humidity, 3),
            "width_J_per_mol": round(wanted.width),
            "heat_over_latent_J_per_mol": round(wanted.heat),
            "mass_kg_per_m2": round(wanted.mass, 1),
            "litres_per_m2_day": round(wanted.litres_per_m2_day, 3),
            "at_bound": list(wanted.at_bound),
            "nearest": [key for key, _ in wanted.nearest],
        },
        "ladder_over_whole_year": {
            "mean": round(float(miss.mean()), 4),
            "root_mean_square": round(float(np.sqrt((miss**2).mean())), 4),
            "largest": round(float(np.abs(miss).max()), 4),
        },
    }


def _correlation(entries: list[Ranked], from_potential: float = 0.0) -> dict[str, float]:
    """Spearman's correlation of litres with the potential's distance, its p value, the number of sheets."""
    distances = [abs(entry.half_potential - from_potential) for entry in entries]
    found = spearmanr([entry.best.litres_per_m2_day for entry in entries], distances)
    return {"rho": round(float(found[0]), 3), "p": round(float(found[1]), 4), "sheets": len(entries)}


def _weighted(entries: list[Ranked]) -> int:
    weights = [entry.best.litres_per_m2_day for entry in entries]
    return round(float(np.average([entry.half_potential for entry in entries], weights=weights)))


if __name__ == "__main__":
    main()
