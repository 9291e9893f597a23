"""Fit the numbers of a form to measured points by least squares on the loading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources.abc import Traversable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import GAS_CONSTANT
from welkinwell.errors import FileError, Problem
from welkinwell.sorbents.sips_terms import REFERENCE_TEMPERATURE
from welkinwell.text_file import RowError, read_lines, split_row

Array = NDArray[np.float64]
COLUMNS = ("material", "branch", "doi", "temperature_K", "pressure_Pa", "loading_kg_per_kg")
SLOPE_BOUND = 60.0  # J/(mol K); no published shift is larger


@dataclass(frozen=True)
class Points:
    """Measured equilibrium points: temperature [K], vapour pressure [Pa], loading [kg/kg dry], in order."""

    temperature: Array
    pressure: Array
    loading: Array
    sources: tuple[str, ...]

    def potential(self) -> Array:
        """Return the adsorption potential A = R T ln(p_sat/p) of every point [J/mol]."""
        from welkinwell.moist_air.saturation import saturation_pressure

        saturation = np.array([saturation_pressure(T) for T in self.temperature])
        return GAS_CONSTANT * self.temperature * np.log(saturation / self.pressure)


@dataclass(frozen=True)
class SipsFit:
    """A fit of Sips terms: rows of (q_k, A_k, s_k, beta_k), their standard errors, and the misfit [kg/kg]."""

    terms: Array
    standard_errors: Array
    rmse: float
    largest_error: float


def read_points(*paths: str | Path | Traversable) -> Points:
    """Read measured points from CSV files with the columns COLUMNS; lines that start with # are comments.

    Args: paths to the files. Returns: the points of all of them.
    """
    rows = [row for path in paths for row in _rows(Path(path) if isinstance(path, str) else path)]
    temperature, pressure, loading = np.array([row[:3] for row in rows], dtype=float).reshape(-1, 3).T
    return Points(temperature, pressure, loading, tuple(sorted({row[3] for row in rows})))


def _rows(file: Path | Traversable) -> list[tuple[float, float, float, str]]:
    """Read temperature [K], pressure [Pa], loading [kg/kg] and source of each row of one file."""
    expected = "the columns " + ", ".join(COLUMNS)
    if isinstance(file, Path):
        text = read_lines(file, f"a readable CSV file with {expected}")[0]
    else:
        text = file.read_text(encoding="utf-8").splitlines()
    lines = [(n, line) for n, line in enumerate(text, start=1) if line.strip() and not line.startswith("#")]
    found: list[tuple[float, float, float, str]] = []
    names: list[str] | None = None
    for number, line in lines:
        where = f"{file.name}, line {number}"
        try:
            cells = split_row(line)
        except RowError as error:
            raise FileError(error.at(where)) from None
        if names is None:
            names = cells
            missing = [name for name in COLUMNS if name not in names]
            if missing:
                raise FileError(Problem(str(file), f"no column {', '.join(missing)}", expected))
            continue
        if len(cells) != len(names):
            raise FileError(Problem(where, f"{len(cells)} cells", f"{len(names)}, as in the heading"))
        row = dict(zip(names, cells, strict=True))
        try:
            temperature, pressure, loading = (float(row[name]) for name in COLUMNS[3:])
        except ValueError:
            given = ", ".join(repr(row[name]) for name in COLUMNS[3:])
            raise FileError(Problem(where, given, "three numbers: " + ", ".join(COLUMNS[3:]))) from None
        found.append((temperature, pressure, loading, row["doi"]))
    if not found:
        raise FileError(Problem(str(file), "no rows", expected))
    return found


def sips_loading(terms: Array, temperature: Array, potential: Array) -> Array:
    """Return sum_k q_k / (1 + exp((A - A_k(T)) / s_k)) for arrays; the plain text of `sips_terms`.

    Args: terms: rows of (q_k [kg/kg], A_k [J/mol], s_k [J/mol], beta_k [J/(mol K)]); temperature [K];
    potential [J/mol]. Returns: loading [kg/kg].
    """
    q, A_k, s, beta = (column[:, None] for column in np.asarray(terms).T)
    u = (potential - A_k - beta * (temperature - REFERENCE_TEMPERATURE)) / s
    return np.sum(q * 0.5 * (1.0 - np.tanh(0.5 * u)), axis=0)


def fit_sips_terms(
    points: Points,
    start: Sequence[tuple[float, float, float, float]],
    free_slopes: Sequence[bool],
    weight_power: float = 0.0,
    lowest_potential: float = -3000.0,
) -> SipsFit:
    """Fit Sips terms to points by least squares (scipy's trust region within bounds).

    Args: points; start: first guess of each term (q_k [kg/kg], A_k [J/mol], s_k [J/mol], beta_k
    [J/(mol K)]); free_slopes: whether beta_k is fitted or kept; weight_power: residuals are divided by
    loading to this power [1]; lowest_potential: bound on A_k [J/mol].
    Returns: the fit; standard errors are those of the linearised problem.
    """
    from scipy.optimize import least_squares

    first = np.asarray(start, dtype=np.float64)
    free = np.ones_like(first, dtype=bool)
    free[:, 3] = free_slopes
    lower = np.broadcast_to([1e-6, lowest_potential, 10.0, -SLOPE_BOUND], first.shape)[free]
    upper = np.broadcast_to([100.0, 5e4, 2e4, SLOPE_BOUND], first.shape)[free]
    potential = points.potential()
    weight = points.loading**-weight_power

    def terms_of(unknowns: Array) -> Array:
        terms = first.copy()
        terms[free] = unknowns
        return terms

    def misses(unknowns: Array) -> Array:
        model = sips_loading(terms_of(unknowns), points.temperature, potential)
        return (model - points.loading) * weight

    begin = np.clip(first[free], lower + 1e-9, upper - 1e-9)
    scale = np.maximum(np.abs(begin), 1.0)
    result = least_squares(
        misses, begin, bounds=(lower, upper), x_scale=scale, xtol=1e-12, ftol=1e-12, max_nfev=20000
    )
    errors = np.zeros_like(first)
    errors[free] = _standard_errors(result.jac, result.fun)
    terms = terms_of(result.x)
    rmse, largest = misfit(sips_loading(terms, points.temperature, potential), points)
    return SipsFit(terms, errors, rmse, largest)


def misfit(model: Array, points: Points) -> tuple[float, float]:
    """Return root mean square and largest absolute error of a model [kg/kg] at the points [kg/kg, kg/kg]."""
    error = np.asarray(model) - points.loading
    return float(np.sqrt(np.mean(error**2))), float(np.max(np.abs(error)))


def _standard_errors(jacobian: Array, residuals: Array) -> Array:
    freedom = max(1, residuals.size - jacobian.shape[1])
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * float(residuals @ residuals) / freedom
    return np.sqrt(np.diag(covariance))
