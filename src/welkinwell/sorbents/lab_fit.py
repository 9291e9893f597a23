"""From a laboratory's points to a form: fitted, judged, with its doubt.

Each candidate is fitted by weighted least squares (scipy). Errors of measurement are taken as a share of
the loading with a floor, sigma_i = s sqrt(q_i^2 + (f q_max)^2); s comes from the misfit, and f is the one of
FLOORS that makes the misfit of a first fit most likely. Candidates whose isosteric heat falls below 0.98 of
the latent heat within the measured range are not admissible. Among the rest the smallest AICc wins,
    AICc = N ln(S / N) + 2 k + 2 k (k + 1) / (N - k - 1),   k = parameters and one for the variance.
Sips terms without a shift compete only where no shift can be told (one temperature) or allowed, since a
shift that is set to zero by choice would hide the doubt of the heat.
Doubt of a parameter: covariance s^2 (J^T J)^-1 of the weighted Jacobian, 95 % by Student's t; parameters
that rest on a bound count as known. Doubt of a loading or a heat: that of each admissible form within 7 of
the smallest AICc and its distance from the winner, by Akaike weights w = exp(-difference / 2),
    half^2 = sum w (half_i^2 + (value_i - value)^2) / sum w     (Buckland1997)
so that a form that was chosen by chance does not hide its rivals. One temperature adds a shift of
0 +- 15 J/(mol K) to the doubt of the heat.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.compiled import njit
from welkinwell.constants import GAS_CONSTANT, WATER_MOLAR_MASS
from welkinwell.errors import FileError, Problem
from welkinwell.moist_air.saturation import latent_heat
from welkinwell.sorbents import dual_site_langmuir, dubinin_astakhov, gab, sips_terms, toth
from welkinwell.sorbents.lab_data import LabPoints
from welkinwell.sorbents.potential import potential_at_loading, sorbed_state
from welkinwell.sorbents.row import SLOT_HYSTERESIS, empty_row

Array = NDArray[np.float64]

LEAST_HEAT_RATIO: Final = 0.98
NEAR: Final = 7.0  # AICc within which a form is a rival
FLOORS: Final = (0.003, 0.03, 0.1, 0.3, 1.0)  # shares of the largest loading below which errors stay
UNKNOWN_SHIFT: Final = 15.0  # J/(mol K); one standard deviation where one temperature was measured
STEEP: Final = 500.0  # J/mol; a term narrower than this is a step
_LOWEST_WIDTH, _HIGHEST_WIDTH = 20.0, 9000.0
_HIGHEST_POTENTIAL, _STEEPEST_SHIFT = 4e4, 60.0


@dataclass(frozen=True)
class Part:
    """One parameter of a sheet: key, unit, value and standard error in that unit (zero when it was held)."""

    key: str
    unit: str
    value: float
    error: float


@dataclass(frozen=True)
class Candidate:
    """A form that may be tried: how unknowns become a row, and first guesses.

    name: for people; form: of the sheet; fill: writes unknowns into a row; starts: first guesses;
    parts: gives (key, unit, value) for the sheet; last_resort: competes only when nothing else is admissible.
    """

    name: str
    form: str
    fill: Callable[[Array, Array], None]
    starts: tuple[tuple[float, ...], ...]
    parts: Callable[[Array], list[tuple[str, str, float]]]
    last_resort: bool = False


@dataclass(frozen=True)
class Trial:
    """A fitted candidate: its unknowns, row, AICc, lowest heat ratio; admissible says whether it may win."""

    candidate: Candidate
    unknowns: Array
    row: Array
    aicc: float
    heat_ratio: float
    admissible: bool
    covariance: Array
    freedom: int
    misfit: float
    largest: float


@dataclass(frozen=True)
class LabFit:
    """What came of it: the trial that won, all trials, sentences of warning, width between the branches.

    parts: numbers of the sheet; correlation: of their errors, shape (parts, parts), 0 for those held.
    """

    points: LabPoints
    best: Trial
    trials: tuple[Trial, ...]
    warnings: tuple[str, ...]
    hysteresis: float
    parts: tuple[Part, ...]
    correlation: Array

    def loading(self, T: float, A: float) -> float:
        """Give the loading of the fit.

        Args: T [K]; A: potential [J/mol]. Returns: loading [kg/kg].
        """
        return float(sorbed_state(self.best.row, A, T)[0])

    def loading_band(self, T: float, A: float) -> tuple[float, float]:
        """Give the 95 % band of the loading of the fitted curve.

        Args: T [K]; A: potential [J/mol]. Returns: low, high [kg/kg].
        """
        return self._band(lambda row: float(sorbed_state(row, A, T)[0]))

    def heat(self, T: float, loading: float) -> float:
        """Give the isosteric heat.

        Args: T [K]; loading [kg/kg]. Returns: heat [J/kg of water].
        """
        return isosteric_heat(self.best.row, T, loading)

    def heat_band(self, T: float, loading: float) -> tuple[float, float]:
        """Give the 95 % band of the isosteric heat.

        Args: T [K]; loading [kg/kg]. Returns: low, high [J/kg of water].
        """
        low, high = self._band(lambda row: isosteric_heat(row, T, loading))
        if np.ptp(self.points.temperature) > 1.0:
            return low, high
        unknown = 1.96 * UNKNOWN_SHIFT * T / WATER_MOLAR_MASS
        middle, half = 0.5 * (low + high), math.hypot(0.5 * (high - low), unknown)
        return middle - half, middle + half

    def _band(self, of: Callable[[Array], float]) -> tuple[float, float]:
        value = of(self.best.row)
        total, square = 0.0, 0.0
        for rival in self.rivals():
            weight = math.exp(0.5 * (self.best.aicc - rival.aicc))
            total += weight
            square += weight * (half_width(rival, of) ** 2 + (of(rival.row) - value) ** 2)
        half = math.sqrt(square / total)
        return value - half, value + half

    def rivals(self) -> list[Trial]:
        """Give the winner and every admissible form that the points hardly tell from it."""
        return [
            trial
            for trial in self.trials
            if trial.admissible
            and trial.aicc < self.best.aicc + NEAR
            and (trial.candidate.last_resort <= self.best.candidate.last_resort)
        ]


def fit_lab_points(points: LabPoints) -> LabFit:
    """Fit every candidate, keep the admissible one with the smallest AICc, and say what is doubtful.

    Args: points. Returns: the fit; FileError when no candidate is admissible.
    """
    uptake = points.branch(False)
    temperatures = np.unique(np.round(uptake.temperature, 0))
    tried = candidates(uptake, several=len(temperatures) > 1)
    problem = _likely_weights(
        uptake, [one for one in tried if one.form == "sips_terms" and not one.last_resort]
    )
    trials = [trial for one in tried if (trial := _fitted(one, problem)) is not None]
    admissible = [trial for trial in trials if trial.admissible]
    if not admissible:
        ratio = max((trial.heat_ratio for trial in trials), default=math.nan)
        raise FileError(
            Problem(
                ", ".join(points.files),
                f"points whose best form has a heat of {ratio:.2f} times the latent heat",
                f"at least {LEAST_HEAT_RATIO} in the measured range",
                "Check that the temperatures belong together and that pressures are of water alone.",
            )
        )
    best = min(admissible, key=lambda trial: (trial.candidate.last_resort, trial.aicc))
    width = _hysteresis(points.branch(True), best)
    best.row[SLOT_HYSTERESIS] = width
    warnings = [*points.warnings, *_warnings(uptake, best, trials, temperatures, problem)]
    return LabFit(points, best, tuple(trials), tuple(warnings), width, *_parts(best))


def isosteric_heat(row: Array, T: float, loading: float) -> float:
    """Return the isosteric heat of a row.

    Args: row [1]; T [K]; loading [kg/kg]. Returns: heat [J/kg of water].
    """
    A = potential_at_loading(row, loading, T, 3000.0)
    _, q_A, q_T, _, _ = sorbed_state(row, A, T)
    return float(latent_heat(T) + (A + T * q_T / q_A) / WATER_MOLAR_MASS)


def half_width(trial: Trial, of: Callable[[Array], float]) -> float:
    """Return half the 95 % band of a figure of one fitted form, linear in the unknowns.

    Args: trial; of: the figure of a row. Returns: half width, in the unit of the figure.
    """
    from scipy.stats import t as student

    gradient = np.array([_slope(trial, of, k) for k in range(trial.unknowns.size)])
    variance = max(gradient @ trial.covariance @ gradient, 0.0)
    return float(student.ppf(0.975, trial.freedom)) * math.sqrt(variance)


def _slope(trial: Trial, of: Callable[[Array], float], k: int) -> float:
    step = 1e-4 * max(abs(trial.unknowns[k]), 0.1)
    ends = []
    for sign in (1.0, -1.0):
        unknowns = trial.unknowns.copy()
        unknowns[k] += sign * step
        row = empty_row()
        trial.candidate.fill(row, unknowns)
        ends.append(of(row))
    return (ends[0] - ends[1]) / (2.0 * step)


# --- the problem of least squares


@njit(cache=True)
def _loadings(row, A, T, result):
    for i in range(A.size):
        result[i] = sorbed_state(row, A[i], T[i])[0]


@njit(cache=True)
def _lowest_heat(row, potentials, temperatures, full):
    """Return the lowest heat over latent heat where the loading is above 1 % of full."""
    worst = 1e9
    for T in temperatures:
        latent = WATER_MOLAR_MASS * latent_heat(T)
        for A in potentials:
            q, q_A, q_T, _, _ = sorbed_state(row, A, T)
            if q > 0.01 * full and q_A < 0.0:
                worst = min(worst, 1.0 + (A + T * q_T / q_A) / latent)
    return worst


@dataclass(frozen=True)
class _Problem:
    A: Array
    T: Array
    q: Array
    weight: Array

    @staticmethod
    def of(points: LabPoints, floor: float) -> _Problem:
        q = points.loading
        # scaled so that the weights multiply to one and likelihoods compare by the misfit alone
        weight = 1.0 / np.hypot(q, floor * q.max())
        return _Problem(
            points.potential, points.temperature, q, weight / math.exp(float(np.log(weight).mean()))
        )

    def model(self, candidate: Candidate, unknowns: Array) -> Array:
        row = empty_row()
        candidate.fill(row, unknowns)
        result = np.empty_like(self.q)
        _loadings(row, self.A, self.T, result)
        return result

    def misses(self, candidate: Candidate, unknowns: Array) -> Array:
        found = (self.model(candidate, unknowns) - self.q) * self.weight
        return np.where(np.isfinite(found), found, 1e3)

    def jacobian(self, candidate: Candidate, unknowns: Array) -> Array:
        columns = []
        for k in range(unknowns.size):
            step = 1e-5 * max(abs(unknowns[k]), 0.1)
            up, down = unknowns.copy(), unknowns.copy()
            up[k] += step
            down[k] -= step
            columns.append((self.misses(candidate, up) - self.misses(candidate, down)) / (2.0 * step))
        return np.array(columns).T


def _likely_weights(points: LabPoints, tried: Sequence[Candidate]) -> _Problem:
    """Return the problem with the floor of errors that suits the misfit of a first fit best."""
    floors = [_Problem.of(points, floor) for floor in FLOORS]
    first = [trial for one in tried if (trial := _fitted(one, floors[2])) is not None]
    if not first:
        return floors[2]
    best = min(first, key=lambda trial: trial.aicc)
    error = floors[0].model(best.candidate, best.unknowns) - points.loading
    return min(floors, key=lambda problem: float(np.sum((error * problem.weight) ** 2)))


def _fitted(candidate: Candidate, problem: _Problem) -> Trial | None:
    from scipy.optimize import least_squares

    count = len(candidate.starts[0])
    if problem.q.size < count + 3:
        return None
    best: Any = None
    for start in candidate.starts:
        found = least_squares(
            lambda x: problem.misses(candidate, x),
            np.array(start),
            jac=lambda x: problem.jacobian(candidate, x),
            method="lm",
            ftol=1e-9,
            xtol=1e-9,
            max_nfev=60 * count,
        )
        if best is None or found.cost < best.cost:
            best = found
    return _judged(candidate, best.x, problem)


def _judged(candidate: Candidate, unknowns: Array, problem: _Problem) -> Trial:
    row = empty_row()
    candidate.fill(row, unknowns)
    misses = problem.misses(candidate, unknowns)
    N, count = misses.size, unknowns.size
    S = float(misses @ misses)
    jacobian = problem.jacobian(candidate, unknowns)
    free = np.linalg.norm(jacobian, axis=0) > 1e-7
    k = int(free.sum()) + 1
    freedom = max(N - k, 1)  # the floor of the errors was chosen too
    aicc = N * math.log(max(S, 1e-300) / N) + 2.0 * k + 2.0 * k * (k + 1) / max(N - k - 1, 0.5)
    covariance = np.zeros((count, count))
    inner = jacobian[:, free]
    covariance[np.ix_(free, free)] = np.linalg.pinv(inner.T @ inner, rcond=1e-12) * S / freedom
    spread = np.linspace(problem.A.min(), problem.A.max(), 40)
    warm = np.linspace(problem.T.min(), problem.T.max(), 3)
    heat = float(_lowest_heat(row, spread, warm, float(problem.q.max())))
    error = problem.model(candidate, unknowns) - problem.q
    return Trial(
        candidate,
        unknowns,
        row,
        aicc,
        heat,
        heat >= LEAST_HEAT_RATIO,
        covariance,
        freedom,
        float(np.sqrt(np.mean(error**2))),
        float(np.max(np.abs(error))),
    )


# --- the candidates


def candidates(points: LabPoints, several: bool) -> list[Candidate]:
    """Return the forms worth trying on these points.

    Args: points; several: whether more than one temperature was measured, without which no shift and no form
    in pressure can be told. Returns: candidates.
    """
    found = [
        _sips(count, shifts, points)
        for count in (1, 2, 3)
        for shifts in ("none", "shared", "each")[: 3 if several else 1]
        if not (count == 1 and shifts == "each") and not (count == 3 and shifts == "each")
    ]
    top = float(points.loading.max())
    middle = float(np.median(points.potential))
    found.append(
        Candidate(
            "Dubinin-Astakhov",
            "dubinin_astakhov",
            _fill_dubinin,
            (
                (math.log(1.1 * top), math.log(max(1.3 * middle, 500.0)), 0.0),
                (math.log(1.1 * top), math.log(6000.0), 1.0),
            ),
            lambda x: [
                ("capacity", "kg/kg", math.exp(x[0])),
                ("energy", "J/mol", math.exp(x[1])),
                ("exponent", "1", _dubinin_exponent(x[2])),
            ],
        )
    )
    found.append(_gab(several, top))
    if several:
        found += [_langmuir(points), _toth(points)]
    return found


def _term_starts(points: LabPoints, count: int) -> list[list[tuple[float, float, float]]]:
    """Return first guesses (q, A, s): the steepest rise as a step, and a slow rise."""
    A, q = points.potential, points.loading
    order = np.argsort(A)
    A, q = A[order], q[order]
    top = float(q.max())
    half = float(A[np.argmin(np.abs(q - 0.5 * top))])
    cut = np.searchsorted(A, np.linspace(A[0], A[-1], 12))
    pieces = [(a, b) for a, b in pairwise(cut) if b - a >= 2]
    rises = [
        (
            (q[a:b].mean() - q[c:d].mean()) / max(A[c:d].mean() - A[a:b].mean(), 1.0),
            0.5 * (A[a:b].mean() + A[c:d].mean()),
        )
        for (a, b), (c, d) in pairwise(pieces)
    ]
    steep = float(max(rises)[1]) if rises else half
    if count == 1:
        return [[(1.1 * top, half, 400.0)], [(1.2 * top, half, 2500.0)]]
    if count == 2:
        return [
            [(0.6 * top, steep, 250.0), (0.5 * top, 0.6 * half + 200.0, 2200.0)],
            [(0.6 * top, steep, 700.0), (0.6 * top, 0.6 * half, 3500.0)],
            [(0.4 * top, half, 400.0), (0.7 * top, 2.0 * half, 3000.0)],
        ]
    return [
        [(0.5 * top, steep, 250.0), (0.4 * top, half, 1800.0), (0.2 * top, 300.0, 500.0)],
        [(0.4 * top, steep, 300.0), (0.3 * top, 2.0 * steep, 2000.0), (0.4 * top, 0.4 * half, 1500.0)],
    ]


def _sips(count: int, shifts: str, points: LabPoints) -> Candidate:
    number = {"none": 0, "shared": 1, "each": count}[shifts]
    starts = tuple(
        (
            *(v for q, A, s in terms for v in (math.log(q), max(A, 100.0) / 1000.0, math.log(s))),
            *([0.0] * number),
        )
        for terms in _term_starts(points, count)
    )

    def terms_of(x: Array) -> list[tuple[float, float, float, float]]:
        terms = []
        for k in range(count):
            q, A, s = x[3 * k : 3 * k + 3]
            beta = 0.0 if number == 0 else 10.0 * x[3 * count + (k if number > 1 else 0)]
            terms.append(
                (
                    math.exp(min(max(q, -14.0), 4.6)),
                    min(max(1000.0 * A, 0.0), _HIGHEST_POTENTIAL),
                    min(max(math.exp(min(s, 20.0)), _LOWEST_WIDTH), _HIGHEST_WIDTH),
                    min(max(beta, -_STEEPEST_SHIFT), _STEEPEST_SHIFT),
                )
            )
        return terms

    def parts(x: Array) -> list[tuple[str, str, float]]:
        keys = (("capacity", "kg/kg"), ("potential", "J/mol"), ("width", "J/mol"), ("slope", "J/(mol K)"))
        return [
            (f"terms[{k}].{key}", unit, value)
            for k, term in enumerate(terms_of(x))
            for (key, unit), value in zip(keys, term, strict=True)
        ]

    words = {"none": "no shift", "shared": "one shift", "each": "a shift each"}[shifts]
    name = f"{count} Sips term{'s' if count > 1 else ''}, {words}"
    return Candidate(
        name,
        "sips_terms",
        lambda row, x: sips_terms.fill_row(row, terms_of(x)),
        starts,
        parts,
        last_resort=shifts == "none" and bool(np.ptp(points.temperature) > 1.0),
    )


def _dubinin_exponent(x: float) -> float:
    return 1.05 + math.exp(min(max(x, -12.0), 2.9)) * 0.5


def _fill_dubinin(row: Array, x: Array) -> None:
    dubinin_astakhov.fill_row(
        row,
        math.exp(min(max(x[0], -14.0), 1.6)),
        math.exp(min(max(x[1], 5.3), 10.5)),
        _dubinin_exponent(x[2]),
        False,
    )


def _gab(several: bool, top: float) -> Candidate:
    def numbers(x: Array) -> tuple[float, float, float, float, float]:
        K = 0.97 / (1.0 + math.exp(-min(max(x[2], -30.0), 30.0)))
        energies = (1e4 * x[3], 1e3 * x[4]) if several else (0.0, 0.0)
        return (
            math.exp(min(max(x[0], -14.0), 3.0)),
            math.exp(min(max(x[1], -4.0), 13.0)),
            energies[0],
            K,
            energies[1],
        )

    def parts(x: Array) -> list[tuple[str, str, float]]:
        keys = ("monolayer", "affinity", "affinity_energy", "multilayer", "multilayer_energy")
        units = ("kg/kg", "1", "J/mol", "1", "J/mol")
        return list(zip(keys, units, numbers(x), strict=True))

    tail = (0.0, 0.0) if several else ()
    starts = ((math.log(0.4 * top), 2.0, 1.0, *tail), (math.log(0.8 * top), 1.0, -1.0, *tail))

    def fill(row: Array, x: Array) -> None:
        w, C, dC, K, dK = numbers(x)
        gab.fill_row(row, w, C, dC, K, dK)

    return Candidate("GAB", "gab", fill, starts, parts)


def _langmuir(points: LabPoints) -> Candidate:
    top = float(points.loading.max())
    T = float(points.temperature.mean())
    middle = math.log(float(np.median(points.pressure)))

    def sites_of(x: Array) -> list[tuple[float, float, float]]:
        sites = []
        for w, log_b, Q in (x[:3], x[3:]):
            energy = min(max(1e4 * Q, 1e4), 1.5e5)
            # x holds ln b at the mean temperature, which is far better known than b at infinity
            log_b0 = min(max(log_b, -40.0), 20.0) - energy / (GAS_CONSTANT * T)
            sites.append((math.exp(min(max(w, -14.0), 4.6)), math.exp(log_b0), energy))
        return sites

    def parts(x: Array) -> list[tuple[str, str, float]]:
        keys = (("capacity", "kg/kg"), ("affinity", "1/Pa"), ("energy", "J/mol"))
        return [
            (f"sites[{k}].{key}", unit, value)
            for k, site in enumerate(sites_of(x))
            for (key, unit), value in zip(keys, site, strict=True)
        ]

    starts = ((math.log(0.5 * top), -middle + 1.0, 5.2, math.log(0.8 * top), -middle - 1.5, 4.7),)
    return Candidate(
        "dual-site Langmuir",
        "dual_site_langmuir",
        lambda row, x: dual_site_langmuir.fill_row(row, sites_of(x)),
        starts,
        parts,
    )


def _toth(points: LabPoints) -> Candidate:
    top = float(points.loading.max())
    T = float(points.temperature.mean())
    middle = math.log(float(np.median(points.pressure)))

    def numbers(x: Array) -> tuple[float, float, float, float]:
        energy = min(max(1e3 * x[2], 1e3), 15000.0)
        log_b0 = min(max(x[1], -40.0), 20.0) - energy / T
        n = 0.05 + 0.95 / (1.0 + math.exp(-min(max(x[3], -30.0), 30.0)))
        return math.exp(min(max(x[0], -14.0), 4.6)), math.exp(log_b0), energy, n

    def parts(x: Array) -> list[tuple[str, str, float]]:
        keys = ("saturation", "affinity", "energy", "exponent", "exponent_slope")
        return list(zip(keys, ("kg/kg", "1/Pa", "K", "1", "K"), (*numbers(x), 0.0), strict=True))

    starts = (
        (math.log(1.2 * top), -middle, 6.0, -0.5),
        (math.log(1.1 * top), -middle + 5.0, 6.5, -0.5),
        (math.log(2.0 * top), -middle + 2.0, 6.0, -2.0),
    )
    return Candidate("Toth", "toth", lambda row, x: toth.fill_row(row, *numbers(x), 0.0), starts, parts)


# --- what to say


def _parts(trial: Trial) -> tuple[tuple[Part, ...], Array]:
    values = trial.candidate.parts(trial.unknowns)
    gradient = np.zeros((len(values), trial.unknowns.size))
    for k in range(trial.unknowns.size):
        step = 1e-5 * max(abs(trial.unknowns[k]), 0.1)
        up, down = trial.unknowns.copy(), trial.unknowns.copy()
        up[k] += step
        down[k] -= step
        ends = zip(trial.candidate.parts(up), trial.candidate.parts(down), strict=True)
        gradient[:, k] = [(a[2] - b[2]) / (2.0 * step) for a, b in ends]
    covariance = gradient @ trial.covariance @ gradient.T
    errors = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    inverse = np.divide(1.0, errors, out=np.zeros_like(errors), where=errors > 0.0)
    correlation = covariance * np.outer(inverse, inverse)
    parts = tuple(Part(*value, float(error)) for value, error in zip(values, errors, strict=True))
    return parts, np.clip(correlation, -1.0, 1.0)


def _hysteresis(release: LabPoints, best: Trial) -> float:
    """Return the mean distance of the release branch from the fit where it carries water, in potential."""
    if release.loading.size < 3:
        return 0.0
    top = float(release.loading.max())
    inner = (release.loading > 0.2 * top) & (release.loading < 0.9 * top)
    if inner.sum() < 3:
        return 0.0
    gaps = [
        A - potential_at_loading(best.row, q, T, A)
        for A, q, T in zip(
            release.potential[inner], release.loading[inner], release.temperature[inner], strict=True
        )
    ]
    return float(max(np.median(gaps), 0.0))


def _warnings(
    points: LabPoints, best: Trial, trials: Sequence[Trial], temperatures: Array, problem: _Problem
) -> list[str]:
    said = []
    if len(temperatures) == 1:
        said.append(
            f"One temperature only ({temperatures[0] - 273.15:.0f} degC): the heat and every release at "
            "another temperature rest on a rule, not on a measurement."
        )
    steps = [
        value
        for key, _, value in best.candidate.parts(best.unknowns)
        if key.endswith((".potential", ".width"))
    ]
    for A, width in zip(steps[::2], steps[1::2], strict=True):
        near = int(np.count_nonzero(np.abs(points.potential - A) < 2.5 * width))
        if width < STEEP and near < 3 * len(temperatures):
            RH = math.exp(-A / (GAS_CONSTANT * 298.15))
            said.append(
                f"Too few points near the step at relative humidity {RH:.2f}: {near} within its width, where "
                f"{3 * len(temperatures)} would tell its shape."
            )
    if drift := _drift(points, best, problem):
        said.append(drift)
    refused = [trial for trial in trials if not trial.admissible and trial.aicc < best.aicc]
    for trial in refused:
        said.append(
            f"{trial.candidate.name} would fit better but has a heat of {trial.heat_ratio:.2f} times the "
            "latent heat, which no sorbent that likes water has: the temperatures may not belong together."
        )
    close = [t.candidate.name for t in trials if t.admissible and t is not best and t.aicc < best.aicc + 2.0]
    if close:
        said.append(f"The points cannot tell {best.candidate.name} from {', '.join(close)}.")
    return said


def _drift(points: LabPoints, best: Trial, problem: _Problem) -> str:
    """Say so when the misfit runs with the order of the measurement, beyond what chance does (3 sigma)."""
    from scipy.stats import rankdata

    misses = -problem.misses(best.candidate, best.unknowns)
    order, found = [], []
    for T in np.unique(np.round(points.temperature, 0)):
        of_T = np.round(points.temperature, 0) == T
        if (count := int(of_T.sum())) >= 5:
            order.append((np.arange(count) - 0.5 * (count - 1)) / count)
            found.append((rankdata(misses[of_T]) - 0.5 * (count + 1)) / count)
    if not order or (size := sum(map(len, order))) < 10:
        return ""
    along, ranks = np.concatenate(order), np.concatenate(found)
    rank = float(along @ ranks / math.sqrt((along @ along) * (ranks @ ranks)))
    if abs(rank) * math.sqrt(size - len(order)) < 3.0:
        return ""
    way = "rises" if rank > 0.0 else "falls"
    return (
        f"Drift: the misfit {way} with the order of the points (rank correlation {rank:+.2f}); was the "
        "sample weighed dry again?"
    )
