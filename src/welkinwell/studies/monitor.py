"""A built device against its model: how it does by day, what best explains the gap, and the weeks ahead.

Every explanation is one changed number of the simulation (or of an instrument): more dust, less capacity, a
leak, a condenser that hardly meets the air, a meter that reads wrong. It is simulated at a few values over
the days of the log; between them the expected litres and temperatures of each day are interpolated (monotone
cubic, Fritsch1980). The number is fitted by maximum likelihood on daily litres and on midday temperatures
where they were logged. The explanations are weighed, "nothing" among them and each as likely as the next
beforehand, by their likelihood over all sizes that they may have (Bayes factors, KassRaftery1995): one that
had to be tuned finely to fit pays for it, and one that hardly matters how large pays little.

What all days share is allowed for (`evidence`): the offset of each instrument, the weather's error, and what
is in doubt about the design before anything is blamed (`doubts`; a device that was calibrated has none of
these). Errors of litres are shares, so they shrink with the litres that an explanation leaves. Where even the
best explanation leaves more scatter than the instruments have, or days that resemble the day before, the
variances are raised until it fits, so that a poor model does not pass for evidence.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.declare import declared_fields
from welkinwell.errors import InputError, Problem
from welkinwell.harvesters.air import Surroundings
from welkinwell.harvesters.changes import other_dust, other_humidity, other_loading, other_sun
from welkinwell.harvesters.harvester import Bucketed
from welkinwell.harvesters.uncertain_parameters import FACTOR, SHIFT, UNIFORM, UncertainParameter
from welkinwell.numerics.march import MarchState
from welkinwell.simulation import TOLERANCES, Prepared, march_year, prepare
from welkinwell.studies.device_log import INSIDE, DeviceLog
from welkinwell.studies.drawn import drawn
from welkinwell.studies.evidence import Accuracy, Settled, evidence_of
from welkinwell.studies.fault_likelihood import (
    FEWEST_DAYS,
    Curve,
    Explanation,
    FaultLikelihoods,
    Fitted,
    Task,
    parameter_at,
    with_parameters,
)
from welkinwell.studies.runner import run_all
from welkinwell.studies.uncertain_parameters import uncertain_parameters_of

Floats = NDArray[np.float64]
LEAD_IN: Final = 5 * 24  # h before the log, so that its first day does not start from rest
SOUND: Final = 0.05  # weight of "nothing" above which nothing is blamed
CLEAR: Final = 0.9  # weight above which one explanation stands alone
WEIGHED: Final = 0.02  # least weight that counts in the forecast
NORMAL_90: Final = 1.645  # standard deviations to either end of the middle 90 %
SAME_YEAR: Final = 0.9  # of a log's hours whose year is that of the weather file
BLAMED_BY_NAME: Final = ("soiling", "leak", "ageing")
# Parameter of the weather to its spread where it was measured: sun, vapour and wind as shares, air in K.
# Common practice, no source.
KNOWN_TO: Final = {"sun": 0.03, "humidity": 0.03, "warmth": 0.3, "wind": 0.15}
NARROWS: Final = {"sun": "sun", "relative_humidity": "humidity", "air_temperature": "warmth"}
READ: Final = (1.0, 0.7, 0.85, 1.2, 1.4)  # of what an instrument of the weather reads
NEAR_WEEKS: Final = (-14, -7, 0, 7, 14)  # days to the weeks that show how weeks differ


@dataclass(frozen=True)
class Week:
    """One week: first day (0: the day after the log), litres with a band that holds 90 %, sound litres."""

    first: int
    litres: float
    low: float
    high: float
    sound: float


@dataclass(frozen=True)
class Learned:
    """A doubt after the log: mean and spread in its own standard deviations (0 and 1 before)."""

    parameter: UncertainParameter
    mean: float
    spread: float

    @property
    def value(self) -> float:
        """The doubt's value afterwards, in its own unit: a factor or a shift."""
        return parameter_at(self.parameter, self.mean)

    @property
    def interval(self) -> tuple[float, float]:
        """The values between which 90 % of the belief lies afterwards."""
        ends = (self.mean - NORMAL_90 * self.spread, self.mean + NORMAL_90 * self.spread)
        low, high = sorted(parameter_at(self.parameter, end) for end in ends)
        return low, high


@dataclass(frozen=True)
class Monitored:
    """What a log tells of a device.

    measured, expected: litres by day of the log [L], nan where a day was not whole; channels: temperatures
    used; explanations: weighed, the heaviest first; scatter: what the residuals' standard deviation had to be
    multiplied by, for each quantity; resemblance: correlation of litres' residuals with those of the day
    before; weather: what of the log's weather was used; explained: expected litres by day under the heaviest
    explanation [L]; known: doubts of the weather that were narrowed; learned: what the log says about each
    doubt.
    """

    log: DeviceLog
    measured: Floats
    expected: Floats
    explained: Floats
    channels: tuple[str, ...]
    explanations: tuple[Fitted, ...]
    scatter: Mapping[str, float]
    resemblance: float
    weather: tuple[str, ...]
    accuracy: Accuracy
    known: tuple[str, ...] = ()
    learned: tuple[Learned, ...] = ()
    weeks: tuple[Week, ...] = ()

    @property
    def used(self) -> NDArray[np.bool_]:
        """The days that count."""
        return np.isfinite(self.measured) & np.isfinite(self.expected)

    @property
    def ratio(self) -> float:
        """Litres measured over litres expected, all days that count [1]."""
        return float(self.measured[self.used].sum() / self.expected[self.used].sum())

    @property
    def by_day(self) -> Floats:
        """Performance ratio of each day [1], nan where little was expected: under a tenth of the mean day."""
        mean = float(self.expected[self.used].mean())
        with np.errstate(invalid="ignore"):
            sensible = self.used & (self.expected > 0.1 * mean)
        return np.where(sensible, self.measured / np.where(sensible, self.expected, 1.0), np.nan)

    @property
    def blamed(self) -> Fitted | None:
        """The explanation that is blamed: the heaviest, unless "nothing" keeps a weight of 5 % or more."""
        nothing = next(one for one in self.explanations if one.explanation is None)
        return None if nothing.weight >= SOUND or self.explanations[0] is nothing else self.explanations[0]

    @property
    def clear(self) -> bool:
        """Whether one explanation stands alone."""
        return self.blamed is None or self.blamed.weight >= CLEAR


@dataclass(frozen=True)
class _Days:
    """Daily quantities, name to values with nan: "litres" [L] and temperatures [K]."""

    of: Mapping[str, Floats]


def monitor(
    design: Any,
    sorbent: Any,
    site: Surroundings,
    log: DeviceLog,
    *,
    typical: Surroundings | None = None,
    weather: Sequence[str] = (),
    weeks: int = 8,
    accuracy: Accuracy | None = None,
    known: Sequence[str] = (),
    calibrated: bool = False,
    march: str = "fast",
    progress: Callable[[float], None] | None = None,
) -> Monitored:
    """Hold a log against its model.

    design, sorbent: as built; site: surroundings with the log's weather laid over them; typical: those of the
    weather file alone, for the weeks ahead; weather: names of what was laid over; weeks: to look ahead, 0 for
    none; accuracy: of the instruments; known: keys of the weather's doubts that measurement has narrowed
    (`known_weather`); calibrated: whether the coefficients of the design are beyond doubt; march: accuracy of
    the simulation. Raises InputError where too few days count.
    """
    accuracy = accuracy or Accuracy()
    tell = progress or (lambda share: None)
    base = prepare(design, sorbent, site)
    tolerance = TOLERANCES[march]
    listed = explanations_of(base, log, weather)
    parameters = doubts_about(base, () if calibrated else ("design",), known)
    tasks: list[Task] = [((), ())]
    tasks += [
        ((one.parameter,), (value,))
        for one in listed
        if one.parameter is not None
        for value in one.values[1:]
    ]
    tasks += [
        ((parameter,), (parameter_at(parameter, side),)) for parameter in parameters for side in (-1.0, 1.0)
    ]

    def run(task: Task) -> _Days:
        return _modelled(drawn(base, task[0], np.array(task[1])), log, tolerance)

    days = run_all(run, tasks, progress=lambda share: tell(0.8 * share))
    sound, found = days[0], dict(zip(tasks, days, strict=True))
    measured = _common(_measured(log), sound)
    of_uncertain = [day.of for day in days[len(days) - 2 * len(parameters) :]]
    curves = [lambda size: sound.of, *(_curve(one, sound, found) for one in listed)]
    evidence = evidence_of(
        measured, sound.of, list(zip(of_uncertain[::2], of_uncertain[1::2], strict=True)), accuracy
    )
    fault_likelihood = FaultLikelihoods([None, *listed], curves, parameters, lambda task: run(task).of)
    profiles, scatter, resemblance = fault_likelihood.done(evidence)
    fitted = tuple(replace(one.fitted, now=value_now(one.fitted, base)) for one in profiles)
    best = profiles[0].settled
    explained = fault_likelihood.expected(fitted[0])["litres"]
    offsets = len(measured)
    spread = np.sqrt(np.diag(best.covariance))
    result = Monitored(
        log, measured["litres"], sound.of["litres"], explained,
        tuple(n for n in measured if n != "litres"), fitted, scatter, resemblance, tuple(weather), accuracy,
        tuple(known), tuple(
            Learned(parameter, float(fitted[0].shares[offsets + i]), float(spread[offsets + i]))
            for i, parameter in enumerate(parameters)
        ),
    )  # fmt: skip
    if weeks <= 0:
        return result
    ahead = base if typical is None else prepare(design, sorbent, typical)
    unsure = _share_unsure(best, evidence.of_litres, explained)
    return replace(
        result,
        weeks=_forecast(result, ahead, weeks, unsure, tolerance, lambda share: tell(0.8 + 0.2 * share)),
    )


def doubts_about(base: Prepared, of: Sequence[str], known: Sequence[str]) -> list[UncertainParameter]:
    """What is in doubt before anything is blamed: the design, if "design" is in `of`, and the weather.

    Doubts of dust, leak and ageing are left out: they are what the explanations are about. known: keys of the
    weather's doubts that measurement has narrowed.
    """
    listed = [
        parameter
        for parameter in uncertain_parameters_of(base.design, base.sorbent)
        if parameter.shape != UNIFORM
    ]
    design = [
        parameter for parameter in listed if parameter.weather is None and parameter.key not in BLAMED_BY_NAME
    ]
    weather = [
        replace(parameter, spread=KNOWN_TO[parameter.key]) if parameter.key in known else parameter
        for parameter in listed
        if parameter.weather is not None
    ]
    return [*(design if "design" in of else []), *weather]


def known_weather(climate: Any, log: DeviceLog, replaced: Sequence[str]) -> tuple[str, ...]:
    """Keys of the weather's doubts that are narrowed: by the log's columns, or all in the file's own year.

    climate: the weather Dataset, with source_year; replaced: columns of the log that were laid over it.
    """
    hours = (24 * log.first_day + np.arange(24 * log.days)) % climate.sizes["time"]
    years = np.repeat([log.date(day).year for day in range(log.days)], 24)
    if (climate["source_year"].values[hours] == years).mean() > SAME_YEAR:
        return tuple(KNOWN_TO)
    return tuple(NARROWS[name] for name in replaced if name in NARROWS)


def _share_unsure(best: Settled, of_litres: NDArray[np.bool_], litres: Floats) -> float:
    """Standard uncertainty of all litres, as a share, that the shared uncertainties still leave."""
    moved = best.effects[of_litres].sum(axis=0) / np.nansum(litres)
    return float(np.sqrt(moved @ best.covariance @ moved))


def hours_of(ready: Prepared, first: int, count: int, tolerance: float) -> tuple[Floats, Floats]:
    """March some hours of the year, over its end if need be, after a lead-in of five days.

    first: hour of the year; count: hours. Returns litres of all modules in each hour [L], shape (count,), and
    the unknowns at the end of each hour, SI, shape (count, unknowns).
    """
    state: MarchState | None = None
    hours = ready.air.hours
    for begin, end in _pieces((first - LEAD_IN) % hours, LEAD_IN, hours):
        state = march_year(
            ready, tolerance=tolerance, keep="year", first_hour=begin, last_hour=end, start=state
        )[1].state
    litres, states = [], []
    area = ready.design.basis_area * ready.design.modules
    for begin, end in _pieces(first, count, hours):
        _, result = march_year(ready, tolerance=tolerance, first_hour=begin, last_hour=end, start=state)
        state = result.state
        water = ready.harvester.accounts(Bucketed(ready.harvester.kind, ready.design, result.flows)).water
        litres.append(water["water_collected"][0] * area)
        states.append(result.states)
    return np.concatenate(litres), np.concatenate(states)


def _pieces(first: int, count: int, hours: int) -> list[tuple[int, int]]:
    first %= hours
    pieces = []
    while count > 0:
        length = min(count, hours - first)
        pieces.append((first, first + length))
        first, count = 0, count - length
    return pieces


def explanations_of(base: Prepared, log: DeviceLog, weather: Sequence[str] = ()) -> list[Explanation]:
    """List what may explain a gap, for the parts that a design has and the instruments that a log has."""
    design = base.design
    found = []

    def listed(key: str, name: str, values: tuple[float, ...], unit: str, **parameter: Any) -> None:
        change = UncertainParameter(
            key, name, "explanation", parameter.pop("shape", FACTOR), "a planted value", **parameter
        )
        found.append(Explanation(key, name, values, unit, change))

    if hasattr(design, "soiling"):
        listed("soiling", "Soiling: dust takes more of the sun", (0.0, 0.08, 0.18, 0.32, 0.5), "of the sun",
               shape=SHIFT, change=_dust, exposed=other_dust)  # fmt: skip
    if base.sorbent is not None and "sorbent_mass" in declared_fields(type(design)):
        listed("ageing", "Ageing: the sorbent holds less", (1.0, 0.85, 0.7, 0.5, 0.3), "of the capacity",
               change=other_loading)  # fmt: skip
    if hasattr(design, "leak"):
        listed("leak", "Leak: the closed box changes more air", (0.0, 1.0, 3.0, 8.0, 20.0, 50.0), "1/h more",
               shape=SHIFT, change=_open_leak)  # fmt: skip
    if hasattr(design, "condenser_outer_area"):
        listed("condenser", "Starved condenser: less heat from it to the air", (1.0, 0.7, 0.45, 0.25, 0.1),
               "of the coefficient", change=_starved)  # fmt: skip
    if "relative_humidity" in weather:
        listed("hygrometer", "Hygrometer: the vapour is not as it reads", READ, "of the reading",
               weather=other_humidity)  # fmt: skip
    if "sun" in weather:
        listed("pyranometer", "Pyranometer: the sun is not as it reads", READ, "of the reading",
               weather=other_sun)  # fmt: skip
    found.append(Explanation("meter", "Meter of the litres, or the model, is off by a constant share",
                             (0.3, 2.0), "of the litres", reading="litres"))  # fmt: skip
    unknowns = {unknown.name for unknown in base.harvester.kind.unknowns}
    for name in INSIDE:
        if name in log.values and name in unknowns:
            words = name.removesuffix("_temperature")
            found.append(
                Explanation(name, f"Thermometer of the {words} reads wrong", (-15.0, 15.0), "K", reading=name)
            )
    return found


def _dust(design: Any, sorbent: Any, share: float) -> tuple[Any, Any]:
    return replace(design, soiling=1.0 - (1.0 - design.soiling) * (1.0 - share)), sorbent


def _open_leak(design: Any, sorbent: Any, changes: float) -> tuple[Any, Any]:
    return replace(design, leak=design.leak + changes / 3600.0), sorbent


def _starved(design: Any, sorbent: Any, share: float) -> tuple[Any, Any]:
    return replace(design, condenser_outer_area=design.condenser_outer_area * share), sorbent


def value_now(fitted: Fitted, base: Prepared) -> str:
    """Write the recalibrated value as the case or the data sheet would have it, with its interval."""
    one, design = fitted.explanation, base.design
    ends = (fitted.value, *sorted((fitted.low, fitted.high)))
    if one is None:
        return ""
    if one.key == "soiling":
        return "soiling = {:.2f} ({:.2f} to {:.2f})".format(
            *(1 - (1 - design.soiling) * (1 - x) for x in ends)
        )
    if one.key == "leak":
        return 'leak = "{:.2g} 1/h" ({:.2g} to {:.2g})'.format(*(3600.0 * design.leak + x for x in ends))
    if one.key == "condenser":
        area = design.condenser_outer_area
        return "condenser_outer_area = {:.2g} ({:.2g} to {:.2g})".format(*(area * x for x in ends))
    if one.key == "ageing":
        return "loadings of the data sheet times {:.2f} ({:.2f} to {:.2f})".format(*ends)
    if one.parameter is None and one.reading != "litres":
        return "readings less {:+.1f} K ({:+.1f} to {:+.1f})".format(*ends)
    if one.parameter is None:
        return "readings divided by {:.2f} ({:.2f} to {:.2f})".format(*ends)
    return "readings times {:.2f} ({:.2f} to {:.2f})".format(*ends)


def _measured(log: DeviceLog) -> dict[str, Floats]:
    measured, _ = log.daily_litres(np.zeros(24 * log.days))
    return {"litres": measured} | {name: log.sunny_mean(name) for name in INSIDE if name in log.values}


def _modelled(ready: Prepared, log: DeviceLog, tolerance: float) -> _Days:
    litres, states = hours_of(ready, 24 * log.first_day, 24 * log.days, tolerance)
    of = {"litres": log.daily_litres(litres)[1]}
    for i, unknown in enumerate(ready.harvester.kind.unknowns):
        if unknown.name in INSIDE and unknown.name in log.values:
            of[unknown.name] = log.sunny_mean(unknown.name, states[:, i])
    return _Days(of)


def _common(measured: dict[str, Floats], sound: _Days) -> dict[str, Floats]:
    """Keep what both log and model have; refuse a log that tells too little."""
    kept = {
        name: values for name, values in measured.items() if name in sound.of and np.isfinite(values).any()
    }
    count = int(np.isfinite(kept.get("litres", np.array([np.nan]))).sum())
    if count < FEWEST_DAYS:
        raise InputError(
            Problem("log", f"{count} whole days with litres", f"at least {FEWEST_DAYS}",
                    "A day counts where readings of the litres cover 20 h of it.")
        )  # fmt: skip
    if not np.nansum(sound.of["litres"]) > 0.0:
        raise InputError(
            Problem("log", "days on which the model gives no water", "days with water to compare")
        )
    return kept


def _curve(one: Explanation, sound: _Days, found: Mapping[Task, _Days]) -> Curve:
    """Expected daily quantities as a function of an explanation's number."""
    if one.parameter is None:
        if one.reading == "litres":
            return lambda x: {**sound.of, "litres": sound.of["litres"] * x}
        return lambda x: {**sound.of, one.reading: sound.of[one.reading] + x}
    from scipy.interpolate import PchipInterpolator

    order = np.argsort(one.values)
    days = [sound if i == 0 else found[(one.parameter,), (one.values[i],)] for i in order]
    at = np.array(one.values)[order]
    through = {
        # days that were not whole are nan in every simulation; they are put back after the interpolation
        name: (PchipInterpolator(at, np.nan_to_num(np.array([day.of[name] for day in days])), axis=0),
               np.isnan(sound.of[name]))
        for name in sound.of
    }  # fmt: skip
    return lambda x: {name: np.where(missing, np.nan, curve(x)) for name, (curve, missing) in through.items()}


def _forecast(
    found: Monitored,
    base: Prepared,
    weeks: int,
    unsure: float,
    tolerance: float,
    tell: Callable[[float], None],
) -> tuple[Week, ...]:
    """Litres of the weeks ahead in typical weather: by weight, with intervals and how weeks differ.

    unsure: standard uncertainty that all weeks share, as a share [1].
    """
    log = found.log
    margin, days = max(NEAR_WEEKS), 7 * weeks
    first = 24 * (log.first_day + log.days - margin)
    counted = [one for one in found.explanations if one.weight >= WEIGHED]
    own = [one.parameter for one in found.learned if one.parameter.weather is None]
    ends = [(one, value) for one in counted for value in (one.value, one.low, one.high)]
    tasks = [_as_learned(found, own, one, value) for one, value in ends]

    def run(task: Task | None) -> Floats:
        ready = base if task is None else drawn(base, task[0], np.array(task[1]))
        begin, count = (first, days + 2 * margin) if task is None else (first + 24 * margin, days)
        return hours_of(ready, begin, 24 * count, tolerance)[0].reshape(-1, 24).sum(axis=1)

    listed = list(dict.fromkeys(tasks))
    runs = run_all(run, [None, *listed], progress=tell)
    wide = runs[0]
    sound = wide[margin : margin + days].reshape(weeks, 7).sum(axis=1)
    by_week = {task: run.reshape(weeks, 7).sum(axis=1) for task, run in zip(listed, runs[1:], strict=True)}
    starts = [margin + 7 * week for week in range(weeks)]
    near = np.array([[wide[start + d : start + d + 7].sum() for d in NEAR_WEEKS] for start in starts])
    differ = near.std(axis=1, ddof=1) / np.maximum(near.mean(axis=1), 1e-12)
    litres = np.array([
        by_week[task] * _as_read(found, one, value) for (one, value), task in zip(ends, tasks, strict=True)
    ]).reshape(len(counted), 3, weeks)  # fmt: skip
    share = np.array([one.weight for one in counted])[:, None]
    share = share / share.sum()
    mean = (share * litres[:, 0]).sum(axis=0)
    spread = np.abs(litres[:, 2] - litres[:, 1]) / (2.0 * NORMAL_90)
    variance = (share * (spread**2 + (litres[:, 0] - mean) ** 2)).sum(axis=0)
    half = NORMAL_90 * np.sqrt(variance + (unsure * mean) ** 2 + (differ * mean) ** 2)
    return tuple(
        Week(
            7 * w,
            float(mean[w]),
            max(float(mean[w] - half[w]), 0.0),
            float(mean[w] + half[w]),
            float(sound[w]),
        )
        for w in range(weeks)
    )


def _as_learned(found: Monitored, own: Sequence[UncertainParameter], one: Fitted, value: float) -> Task:
    """The change of an explanation together with the doubts about the design as its fit has them."""
    offsets = 1 + len(found.channels)
    return with_parameters(one.explanation, value, own, one.shares[offsets:])


def _as_read(found: Monitored, one: Fitted, value: float) -> float:
    """What the meter of the litres makes of them, as its fit has it: a factor."""
    gain = 1.0 + found.accuracy.meter * one.shares[0]
    if one.explanation is not None and one.explanation.reading == "litres":
        gain *= value
    return gain
