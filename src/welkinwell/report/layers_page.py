"""The page of the documentation that holds every shipped layer of sorbent against its density as installed.

    python -m welkinwell.report.layers_page docs/validation/layers.md

Run at the root of the repository, where the examples lie. A test holds the page in step with cases, experiments
and sheets.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from welkinwell.case import HarvesterCase, read_case, write_starter_case
from welkinwell.errors import InputError
from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.layer_density import (
    FORMS,
    densest,
    layer_notes,
    layer_of,
    layer_problems,
    usual,
)
from welkinwell.harvesters.layer_depth import filling_time, too_deep
from welkinwell.sorbents.sorbent import sheet_names, sorbent
from welkinwell.studies.experiment_designs import mapped_design, mapped_way
from welkinwell.studies.experiment_runs import NO_PROTOCOL
from welkinwell.studies.experiments import DRAWS, SEED, Experiment, draw_conditions, library_experiments
from welkinwell.writing import write_text

EXAMPLES = Path("examples")


@dataclass(frozen=True)
class Beds:
    """Layers of the draws of one experiment: density over bulk density [1], each of shape (draws,).

    limit: density over the most that can exist [1]; filling: time to fill [h], nan where air is blown through;
    outside: share of draws beyond what is usual, those that cannot exist among them; cannot: share of these;
    deep: share too deep for a bed computed as one.
    """

    ratio: np.ndarray
    limit: np.ndarray
    filling: np.ndarray
    outside: float
    cannot: float
    deep: float


def layers_page(examples: Path = EXAMPLES) -> str:
    """Write the page as Markdown text. Args: examples: folder of the example cases. Returns: the text."""
    lines = [*_opening(), *_cases(examples), *_experiments(), *_sheets()]
    return "\n".join(lines) + "\n"


def _opening() -> list[str]:
    return [
        "# Every shipped layer against its density as installed",
        "",
        "Can the layers exist that the examples and the published experiments are simulated with? Mass, thickness and",
        "area are held against the sheet's bulk density and against the most that can exist, as `check` does it",
        "([0011](../decisions/0011-layers-that-can-exist.md)). Written by",
        "",
        "    python -m welkinwell.report.layers_page docs/validation/layers.md",
        "",
        "**× bulk**: density of the layer over the sheet's bulk density; 0.5 to 1.3 is usual where no form is declared,",
        "a gel may be stated dry or swollen. **of the most**: over the density that no layer passes. **fills in**: time in",
        "which vapour fills the layer ([layered_bed.md](../theory/layered_bed.md)), none where air is blown through it.",
        "",
    ]


def _cases(examples: Path) -> list[str]:
    lines = [
        "## Cases",
        "",
        "| case | harvester | sorbent | form | kg/m³ | × bulk | of the most | fills in, h | said by `check` |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for name, harvesters in _shipped(examples):
        lines += [_case_row(name, one) for one in harvesters if layer_of(one.design) is not None]
    return [
        *lines,
        "",
        "Liquid desiccants hold their brine in a tank whose volume is checked; they have no layer.",
        "",
    ]


def _shipped(examples: Path) -> list[tuple[str, tuple[HarvesterCase, ...]]]:
    found = [(f"{path.parent.name}/{path.name}", read_case(path).harvesters)
             for path in sorted(examples.glob("*/*.toml")) if path.parent.name != "claims"]  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        return [*found, ("`welkinwell new`", read_case(write_starter_case(Path(folder) / "new")).harvesters)]


def _case_row(name: str, one: HarvesterCase) -> str:
    layer = layer_of(one.design)
    assert layer is not None
    filling = filling_time(one.design, one.sorbent)
    said = ["unusual density"] if layer_notes(one.design, one.sorbent) else []
    said += ["too deep to be computed as one"] if too_deep(one.design, one.sorbent) else []
    most = densest(one.sorbent).density
    return (
        f"| {name} | {one.name} | `{one.sorbent_name}` | {layer.form or 'none'} | {layer.density:.0f} "
        f"| {layer.density / one.sorbent.bulk_density:.2f} | {layer.density / most:.2f} "
        f"| {'none' if filling is None else f'{filling / 3600.0:.2g}'} | {', '.join(said) or 'nothing'} |"
    )


def _experiments() -> list[str]:
    lines = [
        "## Published experiments",
        "",
        f"Ranges of the {DRAWS} draws (seed {SEED}) that each prediction is made of, lowest, median and highest. The list",
        "and its ranges were fixed before the first prediction ([experiments.md](experiments.md)) and stay as they are: a",
        "draw outside is told here, not refused, and its litres count.",
        "",
        "| case | kind | × bulk | of the most | cannot exist | unusual | fills in, h | too deep |",
        "|---|---|---|---|---|---|---|---|",
    ]
    without = []
    for experiment in library_experiments():
        beds = beds_of(experiment)
        if beds is None:
            without.append(f"`{experiment.case}`")
            continue
        filling = "none" if np.isnan(beds.filling).all() else _span(beds.filling)
        lines.append(
            f"| `{experiment.case}` | {_title(experiment)} | {_span(beds.ratio)} "
            f"| {_span(beds.limit)} | {_percent(beds.cannot)} | {_percent(beds.outside)} | {filling} "
            f"| {_percent(beds.deep)} |"
        )
    return [*lines, "", f"Without a layer of a design: {', '.join(without)}.", ""]


def _title(experiment: Experiment) -> str:
    """Kind that the draws were made of; of another way of a kind, that of the test."""
    way = _way(experiment)
    return KINDS[way if way in KINDS else experiment.kind].title.split(" (")[0]


def beds_of(experiment: Experiment) -> Beds | None:
    """Lay out the layers of an experiment's draws; None where it has none or is not simulated."""
    if experiment.case in NO_PROTOCOL or experiment.weather == "equilibrium":
        return None
    rows = []
    for given in draw_conditions(experiment):
        if "sorbent" not in given:
            return None
        material = sorbent(given["sorbent"])
        try:
            design = mapped_design(_way(experiment), given, material).design
        except InputError:
            continue  # no device can be made of this draw, and none was
        layer = layer_of(design)
        if layer is None:
            return None
        filling, cannot = filling_time(design, material), bool(layer_problems(design, material))
        rows.append((
            layer.density / material.bulk_density,
            layer.density / densest(material).density,
            np.nan if filling is None else filling / 3600.0,
            cannot or bool(layer_notes(design, material)),
            cannot,
            too_deep(design, material),
        ))  # fmt: skip
    if not rows:
        return None
    ratio, limit, hours, outside, cannot, deep = np.array(rows, dtype=float).T
    return Beds(ratio, limit, hours, float(outside.mean()), float(cannot.mean()), float(deep.mean()))


def _way(experiment: Experiment) -> str:
    return mapped_way(experiment.kind, {name: one.value for name, one in experiment.design.items()})


def _sheets() -> list[str]:
    forms = tuple(FORMS)
    lines = [
        "## Sheets",
        "",
        "Densities in kg/m³ of dry sorbent. The most is 0.74 of the skeleton (0.74: densest packing of equal spheres), the",
        "dry solid of a gel without voids, or the salt in the strongest brine of the cycle.",
        "",
        f"| sheet | bulk | grain | skeleton | usual | {' | '.join(forms[1:])} | the most |",
        f"|---|---|---|---|---|{'---|' * len(forms[1:])}---|",
    ]
    for key in sheet_names():
        one = sorbent(key)
        skeleton = "none" if one.skeletal_density is None else f"{one.skeletal_density:.0f}"
        spans = " | ".join(_range(usual(one, form)) for form in (None, *forms[1:]))
        lines.append(
            f"| `{key}` | {one.bulk_density:.0f} | {one.grain_density:.0f} | {skeleton} | {spans} "
            f"| {densest(one).density:.0f} |"
        )
    return lines


def _range(ends: Sequence[float]) -> str:
    return f"{ends[0]:.0f} to {ends[1]:.0f}"


def _span(values: Any) -> str:
    low, middle, high = np.nanquantile(values, (0.0, 0.5, 1.0))
    return f"{low:.2g}, {middle:.2g}, {high:.2g}"


def _percent(share: float) -> str:
    return "none" if share == 0.0 else f"{100.0 * share:.0f} %"


if __name__ == "__main__":
    write_text(Path(sys.argv[1]), layers_page())
