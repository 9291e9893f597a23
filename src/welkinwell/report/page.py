"""What every page of ours is made with: figures drawn into its folder, its template, its data beside it."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

from markupsafe import Markup

from welkinwell.report import charts, tables
from welkinwell.writing import make_folder, write_text


class Drawer:
    """Draws figures into one folder and gives what the page needs of each."""

    def __init__(self, folder: Path) -> None:
        self._folder = make_folder(folder)

    def __call__(self, figure: charts.Figure) -> dict[str, Any]:
        """Draw one figure; returns its key, caption and picture."""
        return {
            "key": figure.key,
            "caption": figure.caption,
            "picture": Markup(charts.embedded(figure, self._folder)),
        }


def write_page(template: str, context: dict[str, Any], path: Path) -> Path:
    """Fill a template and write it; returns the path."""
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("welkinwell.report"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )
    environment.filters |= {
        "number": tables.number, "litres": tables.litres, "percent": tables.percent, "words": _readable, "named": _named,
    }  # fmt: skip
    return write_text(path, environment.get_template(template).render(context))


def write_summary(summary: dict[str, Any], folder: Path) -> None:
    """Write summary.json; what is not a finite number becomes null."""
    text = json.dumps(_meaningful(summary), indent=2, allow_nan=False, ensure_ascii=False)
    write_text(folder / "summary.json", text + "\n")


def _meaningful(value: Any) -> Any:
    """Replace what is not a finite number by null, at any depth."""
    if isinstance(value, dict):
        return {key: _meaningful(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [_meaningful(entry) for entry in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def _readable(text: str) -> str:
    """Write the units of plain text as people print them; a cell of source numbers links to the sources."""
    if re.fullmatch(r"\[\d+\](, \[\d+\])*", text):
        return Markup(re.sub(r"\[(\d+)\]", r'<a href="#source-\1">[\1]</a>', text))
    text = re.sub(r"\bdegC\b", "°C", text)
    text = re.sub(r" ?\bdeg\b", "°", text)
    return re.sub(r"\b(k?m)([23])\b", lambda m: m.group(1) + {"2": "²", "3": "³"}[m.group(2)], text)


def _named(warning: str) -> Markup:
    """Set off the name that a warning about a weather file begins with."""
    name, colon, rest = warning.partition(": ")
    if not colon or not re.fullmatch(r"[a-z_]+", name):
        return Markup("{}").format(_readable(warning))
    return Markup("<b>{}</b>: {}").format(name.replace("_", " "), _readable(rest))


def unique_keys(names: list[str]) -> list[str]:
    """Turn names into words that files and anchors may be called by, each once."""
    keys: list[str] = []
    for name in names:
        stem = re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_") or "harvester"
        key, count = stem, 2
        while key in keys:
            key, count = f"{stem}_{count}", count + 1
        keys.append(key)
    return keys
