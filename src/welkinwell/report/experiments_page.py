"""The page of the documentation that lists the published experiments, written from their files.

    python -m welkinwell.report.experiments_page docs/validation/experiments.md

A test holds the page in step with the files.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from welkinwell.harvesters.published import kinds_with_tests
from welkinwell.report.citations import References
from welkinwell.studies.experiment_words import QUANTITIES
from welkinwell.studies.experiments import (
    DRAWS,
    FEWEST_CASES,
    FEWEST_KINDS,
    LARGEST_TOLERANCE,
    MOST_PER_LABORATORY,
    NO_SOURCE,
    SEED,
    SEEN,
    Condition,
    Experiment,
    Figure,
    library_experiments,
)
from welkinwell.writing import write_text


def experiments_page(experiments: Sequence[Experiment]) -> str:
    """Write the page as Markdown text, the experiments in the order given."""
    references = References()
    sections = [_section(experiment, references) for experiment in experiments]
    lines = [*_opening(experiments), *_summary(experiments)]
    for kind, label in kinds_with_tests().items():
        own = [text for e, text in zip(experiments, sections, strict=True) if e.kind == kind]
        if own:
            lines += [f"## {label[0].upper()}{label[1:]}", "", *own]
    lines += ["## Sources", ""]
    lines += [f"{number}. {text}" for number, text in references.listed()]
    return "\n".join(lines) + "\n"


def _opening(experiments: Sequence[Experiment]) -> list[str]:
    counted = [e for e in experiments if e.counts]
    kinds = {e.kind for e in counted}
    read = [e for e in counted if all(f.seen in ("source", "computed") for f in e.figures if f.judged)]
    whole = [e for e in counted if e.gives_water]
    return [
        "# Published experiments, fixed before the first prediction",
        "",
        "How far can you trust the litres? This page lists the published tests that the simulation is held against,",
        "what each of them measured, and every condition that goes into the prediction with its source. The list",
        "and its ranges were written down before anything was predicted, so that nothing could be chosen to agree.",
        "What is changed later stands under *Changes* with the error before and after.",
        "",
        "It is written from `src/welkinwell/library/experiments/*.toml`, one file a case, by",
        "",
        "    python -m welkinwell.report.experiments_page docs/validation/experiments.md",
        "",
        "## The rules",
        f"- {len(experiments)} cases are listed, {len(counted)} count, over {len(kinds)} kinds; at least"
        f" {FEWEST_CASES} over {FEWEST_KINDS} were asked for. A case that",
        "  does not count is predicted all the same and says why it does not.",
        f"- At most {MOST_PER_LABORATORY} cases of one laboratory count. A projection for many cycles, a calculation"
        " by others and a figure that",
        "  is only recalled never count.",
        f"- Of the {len(counted)} that count, the judged figures of {len(read)} were read in the source itself, most"
        " often its abstract; those of the",
        "  others in a text that quotes it. No full paper was at hand: most sizes and much of the weather are ranges.",
        f"- {len(counted) - len(whole)} of the {len(counted)} test a part or an equilibrium: no water ran into a cup. The"
        f" other {len(whole)} are over {len({e.kind for e in whole})} kinds.",
        "- One data sheet for each sorbent and nothing tuned to a device. Where a source does not name its sorbent,",
        "  several sheets are drawn.",
        f"- A condition that is not known is drawn evenly from its range ({DRAWS} draws, Latin hypercube, seed {SEED});"
        " fields of a",
        "  design that a file does not state keep the kind's defaults. **The prediction is the median of the draws**,",
        "  shown with its 10th and 90th percentile.",
        "- A figure is met when the median lies within its relative tolerance (for ≥: not below it by more); a case",
        f"  when every judged figure is. No tolerance is wider than {100 * LARGEST_TOLERANCE:.0f} %.",
        "- Only the passive box was built when the list was fixed. The conditions of the other kinds are named in plain",
        "  words; a case that nothing can simulate yet stands without a prediction.",
        "- A wide range can let a poor model pass and a narrow one a good model fail: look at the spread as well.",
        "",
        "How a figure or a condition was come by:",
        "",
        *(f"- **{word}**: {meaning}." for word, meaning in SEEN.items()),
        "",
        "## Changes",
        "None since the list was fixed. Predictions, and ways of simulating a case that were mended after one was seen,",
        "stand in [predicted_against_published.md](predicted_against_published.md).",
        "",
    ]


def _summary(experiments: Sequence[Experiment]) -> list[str]:
    lines = [
        "## All cases",
        "",
        "| case | kind | judged figures | seen | laboratory | counts | gives water |",
        "|---|---|---|---|---|---|---|",
    ]
    for e in experiments:
        judged = [figure for figure in e.figures if figure.judged]
        figures = "; ".join(_figure_text(figure) for figure in judged)
        seen = ", ".join(dict.fromkeys(figure.seen for figure in judged))
        lines.append(
            f"| `{e.case}` | {kinds_with_tests()[e.kind]} | {figures} | {seen} | {e.laboratory}"
            f" | {_yes(e.counts)} | {_yes(e.gives_water)} |"
        )
    return [*lines, ""]


def _section(experiment: Experiment, references: References) -> str:
    """Write one case: what was measured, how it is simulated, and every condition."""
    lines = [f"### {experiment.title}", ""]
    lines.append(f"`{experiment.case}`, {experiment.laboratory} [{references.number(experiment.source)}].")
    lines.append(f"{_sentence(experiment.place)}.")
    lines.append("" if experiment.counts else f"**Does not count:** {experiment.reason}\n")
    for figure in experiment.figures:
        judged = "judged" if figure.judged else "shown beside"
        lines.append(f"- {_figure_text(figure)} ({QUANTITIES[figure.quantity][1]}; {judged}; {figure.seen}).")
        lines.append(f"  {figure.basis} Tolerance: {figure.tolerance_source}.")
    lines += ["", f"*How:* {experiment.protocol}"]
    if experiment.sorbents:
        sheets = ", ".join(f"`{name}`" for name in experiment.sorbents)
        lines.append(f"*Sorbent:* {sheets}. {experiment.sorbent_note}")
    lines += [f"*Mind:* {caution}" for caution in experiment.cautions]
    lines += ["", "| condition | value or range | source | seen |", "|---|---|---|---|"]
    for table in (experiment.conditions, experiment.design):
        lines += _rows(table, references)
    return "\n".join([*lines, ""])


def _rows(table: Mapping[str, Condition], references: References) -> list[str]:
    rows = []
    for condition in table.values():
        source = condition.where
        if condition.source != NO_SOURCE:
            source = f"[{references.number(condition.source)}] {source}"
        text = condition.text + (" (in equal ratios)" if condition.logarithmic else "")
        rows.append(f"| `{condition.name}` | {text} | {source} | {condition.seen} |")
    return rows


def _figure_text(figure: Figure) -> str:
    unit = QUANTITIES[figure.quantity][0]
    relation = "≥ " if figure.relation == ">=" else ""
    units = "" if unit == "1" else f" {unit}"
    return f"{figure.quantity} {relation}{figure.published:g}{units} ± {100 * figure.tolerance:.0f} %"


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:]


def _yes(flag: bool) -> str:
    return "yes" if flag else "no"


if __name__ == "__main__":
    write_text(Path(sys.argv[1]), experiments_page(library_experiments()))
