"""The page of a monitored device, or of a planned acceptance test, with its figures as data beside it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from welkinwell.harvesters.uncertain_parameters import SHIFT
from welkinwell.plants.monitoring import MonitoredPlant
from welkinwell.report import monitor_charts as drawn
from welkinwell.report.acceptance_section import acceptance_section
from welkinwell.report.decision_pages import _page
from welkinwell.report.page import Drawer
from welkinwell.report.tables import Table
from welkinwell.studies.monitor import KNOWN_TO, Monitored
from welkinwell.writing import together

SOURCES = ("KassRaftery1995", "Fritsch1980", "Broyden1965")


@together()
def write_monitoring(plant: MonitoredPlant, folder: Path) -> Path:
    """Write monitor.html, summary.json and charts; returns the page's path."""
    draw = Drawer(folder / "charts")
    found, test = plant.found, plant.test
    lead: list[Any] = []
    sections: list[dict[str, Any]] = []
    sources: list[str] = []
    if found is not None:
        lead.append(draw(drawn.ratio_by_day(found)))
        sections.append(
            {"heading": "What explains the gap", "parts": [draw(drawn.weights(found)), _explanations(found)],
             "words": _explained(found)}
        )  # fmt: skip
        if any(one.parameter.weather is None for one in found.learned):
            sections.append(_learned(found))
        sources += SOURCES
        if found.weeks:
            sections.append(
                {"heading": "The weeks ahead", "parts": [draw(drawn.weeks_ahead(found))], "words": [
                    "The weather file stands for typical weather; the explanations count by their weight, each at its fitted "
                    "value, and nothing is mended. The band holds what the fit leaves open, the meter, and how far weeks next to "
                    "each other differ in the file."]}
            )  # fmt: skip
    if test is not None:
        sections.append(acceptance_section(test, draw))
        sources.append("JCGM106")
    title = "The device against its model" if found is not None else "A test for the new plant"
    return _page(
        plant.about,
        title,
        plant.headline,
        lead,
        sections,
        plant.as_data(),
        folder,
        "monitor.html",
        sources,
    )


def _explanations(found: Monitored) -> Table:
    rows = []
    for one in found.explanations:
        tried = ", at the end of what was tried" if one.held and one.explanation is not None else ""
        rows.append(
            (
                one.name,
                f"{100.0 * one.weight:.1f} %",
                f"{one.misfit:.1f}",
                one.now + tried if one.now else "–",
            )
        )
    return Table(
        "The explanations, the heaviest first; in brackets the interval that holds 90 %",
        ("Explanation", "Weight", "Misfit", "The case, the data sheet or the instrument then"),
        rows, frozenset({0, 3}),
        "Misfit: sum of squared residuals over their variances, with the coefficients in doubt where they fit best. Each row "
        "changes one number; the weight counts all sizes that it may have, so it need not follow the misfit.",
    )  # fmt: skip


def _learned(found: Monitored) -> dict[str, Any]:
    rows = []
    for one in sorted(found.learned, key=lambda one: one.spread):
        low, high = one.interval
        shift = one.parameter.shape == SHIFT
        unit = f" {one.parameter.unit}" if shift else " times"
        after = (
            f"{one.value:+.3g} ({low:+.3g} to {high:+.3g}){unit}"
            if shift
            else f"{one.value:.2f} ({low:.2f} to {high:.2f}){unit}"
        )
        rows.append(
            (
                one.parameter.name,
                one.parameter.of,
                one.parameter.in_words(),
                after,
                f"{100 * (1 - one.spread):.0f} %",
            )
        )
    table = Table(
        "Coefficients before and after the log, the best known first; in brackets what holds 90 %",
        ("Coefficient", "Of", "Before, middle 80 %", "After", "UncertainParameter taken away"), rows, frozenset({0, 1, 2, 3}),
        "Under the heaviest explanation, found by simulating all of them at once. Coefficients that move the days alike share "
        "what is left.",
    )  # fmt: skip
    return {"heading": "What the log says about the coefficients", "parts": [table], "words": [
        "Beside the one fault, every coefficient in doubt may have been a little different from the start, and the weather too. "
        "The log narrows what it can tell."]}  # fmt: skip


def _explained(found: Monitored) -> list[str]:
    log = found.log
    weather = ", ".join(name.replace("_", " ") for name in found.weather)
    channels = ", ".join(name.replace("_", " ") for name in found.channels)
    a = found.accuracy
    same = set(found.known) == set(KNOWN_TO)
    words = [
        f"{int(found.used.sum())} of {log.days} days count, from {log.date(0):%d %B %Y}. "
        + (f"The log's own {weather} were used; all other weather" if weather else "The weather")
        + " is that of the case's file for the same days"
        + (", of the same year." if same else " of the year, though of another year: part of the gap may be weather, and the "
           "weights allow for it. Log air temperature, humidity and sun."),
        "Fitted were the litres of each day"
        + (f" and the midday means of {channels}" if channels else
           "; no temperature was logged, and litres alone tell explanations apart less well")
        + f". Instruments were taken to scatter by {100 * a.litres:.0f} % of a day's litres and {a.temperature:g} K, with "
        f"constant errors of {100 * a.meter:.0f} % and {a.offset:g} K.",
    ]  # fmt: skip
    raised = {name: factor for name, factor in found.scatter.items() if factor > 1.05}
    if raised:
        said = ", ".join(f"{name.replace('_', ' ')} {factor:.1f} times" for name, factor in raised.items())
        words.append(
            f"Even the best explanation leaves more scatter than the instruments have ({said}); weights and intervals allow "
            "for it. Weather of another year, several faults at once, or something that the model lacks may be behind it."
        )
    if found.blamed is not None:
        words.append(
            "An explanation is a place to look first, not proof: look at the device before anything is replaced."
        )
    return [*words, *log.warnings]
