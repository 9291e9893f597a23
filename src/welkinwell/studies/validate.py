"""Predicted against published: every case of the fixed list drawn, simulated and judged.

The prediction of a figure is the median of the draws, shown with its 10th and 90th percentile. Failures stay
in the list with what is known of their reason.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Final

import numpy as np

from welkinwell.errors import InputError, Problem, nearest_name
from welkinwell.harvesters.published import HELD, DrawResult
from welkinwell.studies.effort import of_kind, stages
from welkinwell.studies.experiment_runs import (
    OTHER_CONDITIONS,
    REFUSALS,
    cannot_run,
    run_draw,
)
from welkinwell.studies.experiment_words import QUANTITIES
from welkinwell.studies.experiments import (
    DRAWS,
    SEED,
    Experiment,
    Figure,
    draw_conditions,
    library_experiments,
)
from welkinwell.studies.runner import Progress
from welkinwell.writing import make_folder, write_text

LOW, HIGH = 10.0, 90.0  # percentiles shown beside the median
FEWEST_SHARE: Final = 0.5  # of the draws that must have run for a prediction
NOT_PREDICTED: Final = "not predicted: "
SHOWN: Final = ("cli", "report")  # rooms that show predictions and make none
WRITTEN: Final = "library/published_tests.json"  # made of the predictions
OF_PUBLISHED_TESTS: Final = (
    "case", "kind", "quantity", "relation", "error", "inside", "judged", "source",
)  # fmt: skip


@dataclass(frozen=True)
class Row:
    """One published figure and its prediction; predicted, low and high are None where nothing predicts it.

    error: signed, relative [1]; inside: whether the median agrees within the tolerance; reason: why it does
    not, or why there is no prediction; left_out: words of the case that the simulation does not represent,
    with the reason; draws, refused: sets of conditions asked for and impossible among them.
    """

    case: str
    kind: str
    quantity: str
    unit: str
    published: float
    relation: str
    predicted: float | None
    low: float | None
    high: float | None
    error: float | None
    tolerance: float
    inside: bool
    judged: bool
    counts: bool
    gives_water: bool
    seen: str
    source: str
    laboratory: str
    reason: str
    left_out: Mapping[str, str]
    draws: int
    refused: int


def validate(
    cases: Sequence[str] = (),
    draws: int = DRAWS,
    folder: Path | None = None,
    progress: Progress = lambda what, share: None,
) -> list[Row]:
    """Predict every figure of the list, or of the cases named.

    Args: cases: names, all when empty; draws: sets of conditions for each [1]; folder: where finished cases
    are kept and read again, so that a run that was cut off goes on; progress(what, share done).
    Returns: one row a figure, in the order of the list; raises InputError for a name that is not listed.
    """
    chosen = chosen_experiments(cases)
    kept = [_kept(experiment, draws, folder) for experiment in chosen]
    efforts = [
        0.0 if found is not None else of_kind(experiment.kind)
        for experiment, found in zip(chosen, kept, strict=True)
    ]
    rows: list[Row] = []
    for experiment, before, part in zip(chosen, kept, stages(progress, *efforts), strict=True):

        def tell(share: float, case: str = experiment.case, part: Progress = part) -> None:
            part(case, share)

        tell(0.0)
        found = before
        if found is None:
            found = predict(experiment, draws, tell)
            _keep(experiment, draws, folder, found)
        rows += found
    return rows


def chosen_experiments(cases: Sequence[str]) -> list[Experiment]:
    """Give the listed experiments with these names, in the list's order; all when none is named."""
    listed = library_experiments()
    names = [experiment.case for experiment in listed]
    for name in cases:
        if name not in names:
            raise InputError(
                Problem("--case", repr(name), "one of " + ", ".join(names), nearest_name(name, names))
            )
    return [experiment for experiment in listed if not cases or experiment.case in cases]


def predict(
    experiment: Experiment, draws: int = DRAWS, progress: Callable[[float], None] = lambda share: None
) -> list[Row]:
    """Simulate the draws of one experiment and judge its figures.

    Args: experiment; draws [1]; progress(share done). Returns: one row a figure.
    """
    why_not = cannot_run(experiment)
    results: list[DrawResult] = []
    refusals: list[str] = []
    if not why_not:
        for number, given in enumerate(draw_conditions(experiment, draws, SEED)):
            progress(number / draws)
            try:
                results.append(run_draw(experiment, given, number))
            except REFUSALS as error:
                refusals.append(_first_line(error))
        if len(results) < FEWEST_SHARE * draws:
            often = Counter(refusals).most_common(1)[0][0]
            why_not = f"{len(refusals)} of {draws} draws make no possible device, most often: {often}"
    seen: Counter[str] = Counter()
    rows = []
    for place, figure in enumerate(experiment.figures):
        seen[figure.quantity] += 1
        key = figure.quantity if seen[figure.quantity] == 1 else f"{figure.quantity} {seen[figure.quantity]}"
        reason = why_not or OTHER_CONDITIONS.get((experiment.case, place), "")
        values = [] if reason else [result.figures[key] for result in results if key in result.figures]
        if not reason and not values:
            reason = "the simulation has no such figure"
        finite = [value for value in values if np.isfinite(value)]
        if values and 2 * len(finite) <= len(values):
            reason = "half of the draws or more give no water, so that nothing can be divided by it"
        elif len(finite) < len(values):  # above every other: the ranks stay, the ends are the largest that is
            values = [value if np.isfinite(value) else max(finite) for value in values]
        left_out = {word: text for result in results for word, text in result.left_out.items()}
        row = _row(experiment, figure, values, reason, left_out, draws, len(refusals))
        if row.predicted is not None and row.reason:
            row = replace(row, reason=row.reason + _too_little(figure, results) + _ways(results))
        rows.append(row)
    return rows


def _row(
    experiment: Experiment,
    figure: Figure,
    values: Sequence[float],
    why_not: str,
    left_out: Mapping[str, str],
    draws: int,
    refused: int,
) -> Row:
    predicted = low = high = error = None
    inside = False
    if not why_not:
        low, predicted, high = (_rounded(v) for v in np.percentile(values, [LOW, 50.0, HIGH]))
        error = _rounded(predicted / figure.published - 1.0)
        inside = figure.inside(predicted)
        why_not = "" if inside else _miss(figure, low, predicted, high, left_out)
    else:
        why_not = NOT_PREDICTED + why_not
    return Row(
        case=experiment.case,
        kind=experiment.kind,
        quantity=figure.quantity,
        unit=QUANTITIES[figure.quantity][0],
        published=figure.published,
        relation=figure.relation,
        predicted=predicted,
        low=low,
        high=high,
        error=error,
        tolerance=figure.tolerance,
        inside=inside,
        judged=figure.judged,
        counts=experiment.counts,
        gives_water=experiment.gives_water,
        seen=figure.seen,
        source=experiment.source,
        laboratory=experiment.laboratory,
        reason=why_not,
        left_out=dict(left_out),
        draws=draws,
        refused=refused,
    )


def _miss(figure: Figure, low: float, predicted: float, high: float, left_out: Mapping[str, str]) -> str:
    """Say how a figure is missed, and what of the case is known not to be in the prediction."""
    edge = figure.published * (1.0 - figure.tolerance), figure.published * (1.0 + figure.tolerance)
    where = "too low" if predicted < edge[0] else "too high"
    if low <= figure.published <= high:
        said = f"median {where}; the published figure lies within the draws: the conditions decide"
    elif low > edge[1] or high < edge[0]:
        said = f"{where} under nearly all drawn conditions: what they leave open does not explain it"
    else:
        said = f"{where}; the draws reach its tolerance but not the figure"
    if left_out:
        said += "; not represented: " + ", ".join(left_out)
    return said


def _too_little(figure: Figure, results: Sequence[DrawResult]) -> str:
    """Say where the beds that the list allows could not hold the published water, whatever the device."""
    held = max((r.water.get(HELD, np.inf) for r in results), default=np.inf)
    if figure.quantity != "litres_per_m2_day" or held >= figure.published:
        return ""
    return f"; no bed that the list allows holds the published water: the fullest holds {held:.2g} kg/m2"


def _ways(results: Sequence[DrawResult]) -> str:
    """Say where the water of the draws went, medians in kg/m2 a day; nothing where it is not known."""
    if not results or not results[0].water:
        return ""
    parts = [f"{name} {np.median([r.water[name] for r in results]):.2g}" for name in results[0].water]
    return "; medians in kg/m2 a day: " + ", ".join(parts)


def met(rows: Sequence[Row]) -> dict[str, bool | None]:
    """Say of each case whether every judged figure is inside; None where one is not predicted."""
    found: dict[str, bool | None] = {}
    for case in dict.fromkeys(row.case for row in rows):
        judged = [row for row in rows if row.case == case and row.judged]
        missing = any(row.predicted is None for row in judged)
        found[case] = None if missing else all(row.inside for row in judged)
    return found


def as_json(rows: Sequence[Row]) -> str:
    """Write the rows as a JSON list."""
    return json.dumps([asdict(row) for row in rows], indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def published_tests(rows: Sequence[Row]) -> str:
    """Write the rows as library/published_tests.json holds them: a JSON list, a row a line."""
    short = [{key: asdict(row)[key] for key in OF_PUBLISHED_TESTS} for row in rows]
    lines = (json.dumps(entry, ensure_ascii=False, allow_nan=False) for entry in short)
    return "[\n " + ",\n ".join(lines) + "\n]\n"


def from_json(text: str) -> list[Row]:
    """Read rows as `as_json` writes them."""
    return [Row(**entry) for entry in json.loads(text)]


def _rounded(value: float) -> float:
    """Four figures: more would only move with the machine's last digits."""
    return float(f"{value:.4g}")


def _first_line(error: Exception) -> str:
    return str(error).strip().splitlines()[0]


def _kept(experiment: Experiment, draws: int, folder: Path | None) -> list[Row] | None:
    """Read a finished case, if the same code finished it on the same draws."""
    if folder is None:
        return None
    path = folder / f"{experiment.case}.json"
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        if kept["made_by"] != _fingerprint(experiment, draws):
            return None
        return [Row(**entry) for entry in kept["rows"]]
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _keep(experiment: Experiment, draws: int, folder: Path | None, rows: Sequence[Row]) -> None:
    if folder is None:
        return
    kept = {"made_by": _fingerprint(experiment, draws), "rows": [asdict(row) for row in rows]}
    write_text(make_folder(folder) / f"{experiment.case}.json", json.dumps(kept, allow_nan=False))


def _fingerprint(experiment: Experiment, draws: int) -> str:
    text = repr((experiment, draws, SEED, _code()))
    return hashlib.sha256(text.encode()).hexdigest()


@lru_cache(maxsize=1)
def _code() -> str:
    """Hash of everything that a prediction rests on: all code and data but those of doors and reports."""
    root = Path(str(resources.files("welkinwell")))
    digest = hashlib.sha256()
    for path in sorted(root.rglob("*")):
        name = path.relative_to(root)
        made = name.parts[0] in SHOWN or "__pycache__" in name.parts or name.as_posix() == WRITTEN
        if path.is_file() and not made:
            digest.update(name.as_posix().encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()
