"""Read what a laboratory measured: isotherms from CSV or AIF, uptake curves from CSV.

CSV columns carry their unit in the header, as in `temperature [degC],relative_humidity [1],loading [kg/kg]`;
`pressure` may stand in place of `relative_humidity`, and loadings may be in moles per mass. A column `branch`
(ads or des) is optional. AIF (adsorption information file) is read by gemmi, which knows its syntax. All bad
values are reported at once with file, line, column, value and range.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.errors import MOST_PROBLEMS, FileError, Problem, nearest_name
from welkinwell.moist_air.saturation import saturation_pressure
from welkinwell.quantities import scale
from welkinwell.text_file import RowError, read_lines, split_row, title_and_unit

Array = NDArray[np.float64]

# quantity: (kinds of unit, lowest, highest in SI, range in words)
_RANGES: Final = {
    "temperature": (("K",), 223.15, 573.15, "-50 to 300 degC"),
    "relative_humidity": (("1",), 0.0, 1.2, "0 to 1.2 (a fraction, or % in the header)"),
    "pressure": (("Pa",), 0.0, 1e7, "0 to 1e7 Pa"),
    "loading": (("1", "mol/kg"), 0.0, 100.0, "0 to 100 kg/kg of dry sorbent"),
    "time": (("s",), 0.0, 1e8, "0 to 1e8 s"),
}
MOST_POINTS: Final = 50_000  # of a file; a laboratory measures hundreds
WETTEST: Final = 0.999  # relative humidity above which a point is left out
_BRANCHES: Final = {"ads": "ads", "adsorption": "ads", "": "ads", "des": "des", "desorption": "des"}
_EXPECTED: Final = "a readable text file (CSV or AIF)"
_EXAMPLE: Final = "temperature [degC],relative_humidity [1],loading [kg/kg]"


@dataclass(frozen=True)
class LabPoints:
    """Measured equilibrium points in the order of the files.

    temperature [K], pressure [Pa], loading [kg/kg dry]; desorbing: which points belong to the release branch;
    warnings: sentences about points that were left out.
    """

    temperature: Array
    pressure: Array
    loading: Array
    desorbing: NDArray[np.bool_]
    files: tuple[str, ...]
    warnings: tuple[str, ...] = ()

    @property
    def potential(self) -> Array:
        """The adsorption potential R T ln(p_sat/p) of every point [J/mol]."""
        saturation = np.array([saturation_pressure(T) for T in self.temperature])
        return GAS_CONSTANT * self.temperature * np.log(saturation / self.pressure)

    def branch(self, desorbing: bool) -> LabPoints:
        """Give the points of one branch."""
        keep = self.desorbing == desorbing
        return LabPoints(
            self.temperature[keep],
            self.pressure[keep],
            self.loading[keep],
            self.desorbing[keep],
            self.files,
            self.warnings,
        )


@dataclass(frozen=True)
class UptakeCurve:
    """One uptake curve: time [s] and loading [kg/kg] at a constant T [K] and relative humidity [1]."""

    time: Array
    loading: Array
    temperature: float
    relative_humidity: float


@dataclass
class _Problems:
    found: list[Problem] = field(default_factory=list)

    def add(self, where: str, given: object, expected: str, advice: str = "") -> None:
        if not self.enough:
            self.found.append(Problem(where, str(given), expected, advice))

    @property
    def enough(self) -> bool:
        """Whether so much is wrong that nobody reads on."""
        return len(self.found) > MOST_PROBLEMS

    def stop(self) -> None:
        if self.found:
            raise FileError(self.found)


def read_lab_points(paths: Sequence[str | Path]) -> LabPoints:
    """Read isotherms from CSV or AIF files; a FileError holds every problem.

    Args: paths. Returns: the points; those without water and those above saturation are left out and told.
    """
    problems = _Problems()
    rows: list[tuple[float, float, float, bool]] = []
    for path in map(Path, paths):
        rows += _aif_rows(path, problems) if path.suffix.lower() == ".aif" else _csv_rows(path, problems)
    problems.stop()
    table = np.array([row[:3] for row in rows], dtype=np.float64).reshape(-1, 3)
    desorbing = np.array([row[3] for row in rows], dtype=bool)
    warnings = []
    saturation = np.array([saturation_pressure(T) for T in table[:, 0]])
    wet = table[:, 1] > WETTEST * saturation
    dry = (table[:, 1] <= 0.0) | (table[:, 2] <= 0.0)
    if wet.any():
        warnings.append(
            f"{wet.sum()} points at or above saturation were left out: they tell of liquid water."
        )
    if dry.any():
        warnings.append(f"{dry.sum()} points without water or vapour were left out.")
    keep = ~(wet | dry)
    if np.count_nonzero(keep & ~desorbing) < 5:
        names = ", ".join(Path(path).name for path in paths)
        count = np.count_nonzero(keep & ~desorbing)
        problems.add(names, f"{count} usable points of uptake", "at least 5 points")
        problems.stop()
    T, p, q = table[keep].T
    return LabPoints(T, p, q, desorbing[keep], tuple(Path(path).name for path in paths), tuple(warnings))


def read_uptake(path: str | Path) -> list[UptakeCurve]:
    """Read uptake curves from a CSV file with time, loading, temperature and relative_humidity.

    Rows of one temperature and humidity that follow each other form a curve.
    Args: path. Returns: the curves; a FileError holds every problem.
    """
    problems = _Problems()
    file = Path(path)
    wanted = ("time", "loading", "temperature", "relative_humidity")
    rows = [values for _, values, _ in _read_table(file, wanted, (), problems)]
    problems.stop()
    curves: list[list[dict[str, float]]] = []
    for row in rows:
        state = (row["temperature"], row["relative_humidity"])
        last = curves[-1][-1] if curves else None
        if last is None or state != (last["temperature"], last["relative_humidity"]):
            curves.append([])
        curves[-1].append(row)
    for k, curve in enumerate(curves):
        if len(curve) < 5:
            problems.add(
                f"{file.name}: curve {k + 1}", f"{len(curve)} points", "at least 5 points of one state"
            )
    problems.stop()
    return [
        UptakeCurve(
            np.array([row["time"] for row in curve]),
            np.array([row["loading"] for row in curve]),
            curve[0]["temperature"],
            curve[0]["relative_humidity"],
        )
        for curve in curves
    ]


def _csv_rows(path: Path, problems: _Problems) -> list[tuple[float, float, float, bool]]:
    rows = []
    for line, values, branch in _read_table(
        path, ("temperature", "loading"), ("relative_humidity", "pressure"), problems
    ):
        if "pressure" in values:
            pressure = values["pressure"]
        else:
            pressure = values["relative_humidity"] * saturation_pressure(values["temperature"])
        if branch not in _BRANCHES:
            advice = nearest_name(branch, _BRANCHES)
            problems.add(f"{path.name}: line {line}, column 'branch'", repr(branch), "ads or des", advice)
            continue
        rows.append((values["temperature"], pressure, values["loading"], _BRANCHES[branch] == "des"))
    return rows


def _read_table(
    path: Path, wanted: Iterable[str], one_of: Sequence[str], problems: _Problems
) -> list[tuple[int, dict[str, float], str]]:
    """Return (line, values in SI, branch) for each row; problems collect what is wrong."""
    lines = [
        (number, text)
        for number, text in enumerate(read_lines(path, _EXPECTED)[0], start=1)
        if text.strip() and not text.lstrip().startswith("#")
    ]
    if not lines:
        problems.add(path.name, "an empty file", f"a header such as {_EXAMPLE}, then numbers")
        return []
    try:
        titles = [title.strip() for title in split_row(lines[0][1])]
    except RowError as error:
        problems.found.append(error.at(f"{path.name}: line {lines[0][0]}"))
        return []
    columns = _columns(path.name, lines[0][0], titles, [*wanted, *one_of], problems)
    names = {name for name, _, _ in columns if name}
    for name in wanted:
        if name not in names:
            problems.add(
                f"{path.name}: line {lines[0][0]}",
                lines[0][1].strip(),
                f"a column {name}; such as {_EXAMPLE}",
            )
    if one_of and len(names & set(one_of)) != 1:
        problems.add(
            f"{path.name}: line {lines[0][0]}", lines[0][1].strip(), "one column of " + " or ".join(one_of)
        )
    if len(lines) > MOST_POINTS:
        problems.add(path.name, f"{len(lines)} rows", f"at most {MOST_POINTS} points")
    if problems.found:
        return []
    rows = []
    for number, text in lines[1:]:
        if problems.enough:
            break
        try:
            cells = split_row(text)
        except RowError as error:
            problems.found.append(error.at(f"{path.name}: line {number}"))
            continue
        if len(cells) != len(columns):
            problems.add(f"{path.name}: line {number}", text.strip(), f"{len(columns)} values")
            continue
        values: dict[str, float] = {}
        branch = ""
        for (name, unit, title), cell in zip(columns, cells, strict=True):
            if name == "branch":
                branch = cell.strip().lower()
            elif name:
                value = _value(f"{path.name}: line {number}, column {title!r}", name, unit, cell, problems)
                if value is not None:
                    values[name] = value
        if len(values) == len(names - {"branch"}):
            rows.append((number, values, branch))
    return rows


def _columns(
    file: str, number: int, titles: Sequence[str], known: Sequence[str], problems: _Problems
) -> list[tuple[str, str, str]]:
    """Return (name, unit, title) of each column; unknown columns have an empty name and are skipped."""
    found: list[tuple[str, str, str]] = []
    for title in titles:
        name, unit = title_and_unit(title)
        if name == "branch":
            found.append((name, "", title))
        elif name in known:
            place = f"{file}: line {number}, column {title!r}"
            if not unit:
                example = {"temperature": "degC", "pressure": "Pa", "loading": "kg/kg", "time": "s"}.get(
                    name, "1"
                )
                problems.add(place, "no unit", f"a unit in the header, as in '{name} [{example}]'")
            elif not _same_kind(unit, _RANGES[name][0]):
                problems.add(
                    place, repr(unit), "a unit of the kind " + " or ".join(map(repr, _RANGES[name][0]))
                )
            found.append((name, unit, title))
        else:
            if name and (advice := nearest_name(name, [*known, "branch"])):
                problems.add(
                    f"{file}: line {number}, column {title!r}", "an unknown column", ", ".join(known), advice
                )
            found.append(("", unit, title))
    return found


def _same_kind(unit: str, kinds: Iterable[str]) -> bool:
    try:
        return scale(unit).dimensions in {scale(kind).dimensions for kind in kinds}
    except ValueError:
        return False


def _si(name: str, unit: str, number: float) -> float:
    found = scale(unit)
    value = number * found.factor + found.offset
    if name == "loading" and found.dimensions == scale("mol/kg").dimensions:
        value *= WATER_MOLAR_MASS
    return value


def _value(place: str, name: str, unit: str, cell: str, problems: _Problems) -> float | None:
    _, low, high, words = _RANGES[name]
    try:
        number = float(cell)
    except ValueError:
        problems.add(place, repr(cell.strip()), f"a number: {words}")
        return None
    value = _si(name, unit, number)
    if not (math.isfinite(value) and low <= value <= high):
        problems.add(place, f"{cell.strip()} {unit}".removesuffix(" 1"), words)
        return None
    return value


def _aif_rows(path: Path, problems: _Problems) -> list[tuple[float, float, float, bool]]:
    from gemmi import cif

    text = "\n".join(read_lines(path, _EXPECTED)[0]) + "\n"
    try:
        document = cif.read_string(text)
    except (ValueError, RuntimeError) as error:  # gemmi raises either
        problems.found.append(_no_aif(path.name, str(error)))
        return []
    rows = []
    for block in document:
        rows += _aif_block(f"{path.name}: data_{block.name}", block, problems)
    return rows


def _no_aif(file: str, told: str) -> Problem:
    """Put what gemmi says, as in `string:7 in data_x: duplicate tag _a`, into our words."""
    match = re.match(r"string(?::(\d+))?(?::\d+)?(?:\(\d+\))?(?: in \S+)?:\s*(.*)", told.replace("\n", " "))
    place = f"{file}: line {match.group(1)}" if match and match.group(1) else file
    words = match.group(2) if match else told
    return Problem(place, f"text that is no AIF ({words})", "an adsorption information file, each tag once")


def _aif_block(place: str, block: Any, problems: _Problems) -> list[tuple[float, float, float, bool]]:
    from gemmi import cif

    def word(key: str) -> str:
        found = block.find_value(key)
        return cif.as_string(found).strip() if found else ""

    gas = word("_exptl_adsorptive").lower()
    if gas and gas not in ("water", "h2o"):
        problems.add(f"{place}: _exptl_adsorptive", repr(gas), "water")
        return []
    units = {
        "temperature": word("_units_temperature") or "K",
        "pressure": word("_units_pressure"),
        "loading": word("_units_loading"),
    }
    for name, unit in units.items():
        if not unit or not _same_kind(unit, _RANGES[name][0]):
            kinds = " or ".join(map(repr, _RANGES[name][0]))
            problems.add(
                f"{place}: _units_{name}", repr(unit) if unit else "nothing", f"a unit of the kind {kinds}"
            )
    if problems.found:
        return []
    temperature = _value(
        f"{place}: _exptl_temperature",
        "temperature",
        units["temperature"],
        word("_exptl_temperature"),
        problems,
    )
    rows = []
    for name, desorbing in (("adsorp", False), ("desorp", True)):
        pressures, amounts = (
            [cif.as_string(value) for value in block.find_values(f"_{name}_{what}")]
            for what in ("pressure", "amount")
        )
        if len(pressures) != len(amounts):
            problems.add(
                f"{place}: _{name}_amount", f"{len(amounts)} values", f"{len(pressures)}, one a pressure"
            )
            continue
        if len(pressures) > MOST_POINTS:
            problems.add(f"{place}: _{name}_pressure", f"{len(pressures)} values", f"at most {MOST_POINTS}")
            continue
        for k, (pressure, amount) in enumerate(zip(pressures, amounts, strict=True), start=1):
            if problems.enough:
                break
            p = _value(
                f"{place}: _{name}_pressure, row {k}", "pressure", units["pressure"], pressure, problems
            )
            q = _value(f"{place}: _{name}_amount, row {k}", "loading", units["loading"], amount, problems)
            if p is not None and q is not None and temperature is not None:
                rows.append((temperature, p, q, desorbing))
    if not rows and not problems.found:
        problems.add(place, "no points", "the loop _adsorp_pressure, _adsorp_amount")
    return rows
