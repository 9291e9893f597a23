"""Which sorbent suits a site: every data sheet in the same box, at its own best mass, and why it loses.

Each sheet is simulated at a ladder of masses on the same layer area, so that the thickness follows from
the mass and the sheet's bulk density. The ladder runs through typical weeks (see `typical_weeks`) or, on
request, through whole years; the best mass is then simulated hour by hour through the whole year. A sheet
is shown at its own best mass, at equal mass and at equal bed volume, with what its bed reached at night
and kept by day. The reason that it loses comes from its own working points: what it would take up and give
off there if it held its water a little harder or a little more loosely, and how far it stays behind them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import GAS_CONSTANT
from welkinwell.errors import InputError, Problem, SolverError
from welkinwell.harvesters.air import AirRecord, Surroundings
from welkinwell.harvesters.harvester import Bucketed
from welkinwell.harvesters.kinds import harvester_of, plain_design
from welkinwell.harvesters.layer_depth import filling_time, has_layered_depth, too_deep
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulation import TOLERANCES, march_year, prepare, simulate
from welkinwell.sorbents.sorbent import Sorbent
from welkinwell.studies.effort import of_sheet
from welkinwell.studies.runner import run_all
from welkinwell.studies.typical_weeks import Days, typical_weeks, whole_year
from welkinwell.year import daily

Floats = NDArray[np.float64]

MASSES: Final = (1.0, 2.0, 4.0, 8.0, 16.0, 32.0)  # kg of dry sorbent per m2 of aperture
EQUAL_MASS: Final = 4.0  # kg/m2
EQUAL_VOLUME: Final = 0.008  # m3 of bed per m2 of aperture: 2 mm on 4 m2
HALF_FILLED_OF: Final = (298.15, 0.9)  # K and relative humidity at which a sheet counts as full
NUDGE: Final = 500.0  # J/mol by which a sheet is thought to hold harder or more loosely
GOOD_ENOUGH: Final = 0.9  # of the best sheet's litres: no reason to lose
TELLING: Final = 0.1  # gain that names a reason
LAGGING: Final = 1.3  # reach over swing, above which the grains stay behind
FILLED: Final = 2.0 / 3.0  # of what it holds when full, above which a sheet does fill
BARELY: Final = 0.2  # of what it holds when full, below which a solid never fills, however it is moved
KEPT: Final = 0.75  # of the night's loading still there by day, above which a solid never empties
HOTTER: Final = 5.0  # K above what a sheet stands, more than the vent's own band; assumed, no source
WET_NIGHTS: Final = 0.05  # share of days beyond the leak limit, above which brine is lost
REFERENCES: Final = (0.25, 0.5, 0.75)  # places in the order of half potentials of the beds that choose weeks
REFERENCE_MASS: Final = 8.0  # kg/m2
STIFF: Final = 0.35  # rejected over accepted steps, above which a tight tolerance is the quicker way
REASONS: Final = {
    "best": "gives the most here",
    "close": "close to the best",
    "dissolves": "humid nights carry it beyond the loading at which brine runs out of it",
    "too hot": "the day gets hotter than it stands, so that the box must vent and loses its vapour",
    "never fills": "by night its bed stays below the humidity at which it fills: it takes up little of what"
    " it could hold",
    "never empties": "it holds too hard for its days: much of its water stays, or leaves only in great heat",
    "too slow": "it takes up and lets go too slowly for one night and one day",
    "holds little": "it swings well but holds little for what must be warmed with it",
}


@dataclass(frozen=True)
class Bed:
    """What one sheet at one mass did: for a m2 of aperture, in the mean of the days that count.

    mass [kg/m2]; thickness [m]; litres_by_month: in the whole month [L/m2], shape (12,);
    heat_kwh_per_litre: heat that reached the bed while closed, None without water; swing: loading gained in
    a day [kg/kg]; hottest [K]; night, day: temperature and vapour pressure of the bed when a day finds it
    fullest and emptiest [K, Pa]; night_spread, day_spread: relative humidity there on a tenth and on nine
    tenths of days [1]; night_loading, day_loading [kg/kg]; reach: what the loading would swing in a day if
    the grains kept up with the bed's surface [kg/kg]; gain_if_harder, gain_if_looser: of the swing between
    night and day, with the isotherm moved by NUDGE [1] (for a brine, of the share of its water that swings:
    a brine that holds harder is only more brine, which the mass decides already); vented: share of the
    water taken up [1]; wet_days: share of days beyond the leak limit [1]; condenser: temperature weighted
    by what condenses [K]; stiff: whether the march rejected many steps.
    """

    mass: float
    thickness: float
    litres_by_month: Floats
    heat_kwh_per_litre: float | None
    swing: float
    hottest: float
    night: tuple[float, float]
    day: tuple[float, float]
    night_spread: tuple[float, float]
    day_spread: tuple[float, float]
    night_loading: float
    day_loading: float
    reach: float
    gain_if_harder: float
    gain_if_looser: float
    vented: float
    wet_days: float
    condenser: float | None
    stiff: bool

    @property
    def litres_per_m2_day(self) -> float:
        """Litres collected a day, mean of the year [L/(m2 day)]."""
        return float(self.litres_by_month.sum()) / 365.0

    @property
    def litres_per_kg_day(self) -> float:
        """The same over the dry sorbent [L/(kg day)]."""
        return self.litres_per_m2_day / self.mass


@dataclass(frozen=True)
class Ranked:
    """One sheet at a site.

    rungs: the ladder, lightest first, over the days of the ladder; best: the mass that gave most, through
    the whole year; best_on_ladder: the same mass as the ladder saw it; litres at equal terms [L/(m2 day)]:
    from the ladder, its best mass through the whole year; release_temperature: at which the best bed would
    have given nine tenths of its night's loading to its condenser [K], None when nothing condensed;
    half_potential [J/mol]; left_out: masses whose bed does not fit into the box [kg/m2]; filling: time in
    which vapour fills the best layer where that is too deep to be computed as one [s], else None; layered:
    what the best then gives with its bed in cells [L/(m2 day)], None where its sheet knows no pores.
    """

    sorbent: Sorbent
    rungs: tuple[Bed, ...]
    best: Bed
    best_on_ladder: Bed
    litres_at_equal_mass: float
    litres_at_equal_volume: float
    release_temperature: float | None
    half_potential: float
    left_out: tuple[float, ...] = ()
    filling: float | None = None
    layered: float | None = None
    reason: str = ""
    words: str = ""


@dataclass(frozen=True)
class Contest:
    """What is ranked together: sheets, the place [surroundings of a year], and the box, mass aside."""

    sorbents: Sequence[Sorbent]
    site: Surroundings
    design: Any


def rank(
    sorbents: Sequence[Sorbent],
    site: Surroundings,
    design: Any = None,
    masses: Sequence[float] = MASSES,
    whole_years: bool = False,
    progress: Callable[[float], None] | None = None,
) -> list[Ranked]:
    """Rank sorbents by the water that they would deliver in the same box at a site, best first.

    Args: sorbents; site: surroundings of a year; design: the plain box if none, its mass and thickness aside;
    masses: at least two, those that do not fit into the box are left out [kg/m2]; whole_years: whether the
    ladder too runs through the whole year; progress: called with the share done [1].
    Returns: one entry a sheet. Raises InputError when a sheet fits at fewer than two masses.
    """
    contest = Contest(sorbents, site, design or plain_design())
    return rank_all([contest], masses, whole_years, progress)[0]


def rank_all(
    contests: Sequence[Contest],
    masses: Sequence[float] = MASSES,
    whole_years: bool = False,
    progress: Callable[[float], None] | None = None,
) -> list[list[Ranked]]:
    """Rank at several places in one go, so that no thread waits between them.

    Args: contests; masses, whole_years, progress: as in `rank`. Returns: what `rank` gives, a contest each.
    """
    for contest in contests:
        for sorbent in contest.sorbents:
            _fitting(sorbent, masses, contest.design)
    years = [whole_year(contest.site) for contest in contests]
    ladders = years
    if not whole_years:
        ladders = [chosen_weeks(one.sorbents, one.site, one.design) for one in contests]
    in_year = [air_of(one.design, days) for one, days in zip(contests, years, strict=True)]
    on_ladder = in_year
    if not whole_years:
        on_ladder = [air_of(one.design, days) for one, days in zip(contests, ladders, strict=True)]
    tasks = [(n, k) for n, contest in enumerate(contests) for k in range(len(contest.sorbents))]
    # The slow ones first, so that none is left alone at the end.
    tasks.sort(key=lambda task: not _has_steps(contests[task[0]].sorbents[task[1]]))

    def work(task: tuple[int, int]) -> Ranked:
        number, k = task
        contest = contests[number]
        sorbent, base = contest.sorbents[k], contest.design
        rungs = _ladder(sorbent, _fitting(sorbent, masses, base), base, ladders[number], on_ladder[number])
        found = _ranked(sorbent, rungs, base, years[number], whole_years, in_year[number])
        left_out = sorted(set(masses) - {rung.mass for rung in rungs})
        return replace(found, left_out=tuple(left_out))

    efforts = [of_sheet(contests[number].sorbents[k]) for number, k in tasks]
    found = dict(zip(tasks, run_all(work, tasks, progress=progress, efforts=efforts), strict=True))
    return [
        judged([found[number, k] for k in range(len(contest.sorbents))])
        for number, contest in enumerate(contests)
    ]


def _has_steps(sorbent: Sorbent) -> bool:
    """Whether hydrates make the isotherm a flight of steps, which takes the march many of its own."""
    return sorbent.sheet.texts["isotherm.form"] == "salt_hydrates"


def chosen_weeks(sorbents: Sequence[Sorbent], site: Surroundings, base: Any) -> Days:
    """Choose the typical weeks of a site by beds of some of the sheets, spread over how hard they hold.

    Args: sorbents; site: surroundings of a year; base: the box. Returns: the days.
    """
    plain = [one for one in sorbents if not _has_steps(one)] or list(sorbents)
    order = sorted(plain, key=half_potential)
    chosen = {round(share * (len(order) - 1)) for share in REFERENCES}

    def daily_litres(number: int) -> Floats:
        design = _sized(order[number], REFERENCE_MASS, base)
        year = simulate(design, order[number], site, keep="hours", accuracy="screening", audit=False)
        return daily(year, "water_collected")

    return typical_weeks(site, np.column_stack(run_all(daily_litres, sorted(chosen))))


def judged(found: Sequence[Ranked]) -> list[Ranked]:
    """Put entries in order, best first, and say of each why it does not give the most.

    Args: found. Returns: the entries with reason and words.
    """
    fit = [entry for entry in found if unfit(entry) is None]
    top = max((entry.best.litres_per_m2_day for entry in fit), default=0.0)
    named = [replace(entry, reason=_reason(entry, top)) for entry in found]
    named = [replace(entry, words=REASONS[entry.reason]) for entry in named]
    return sorted(named, key=lambda entry: -entry.best.litres_per_m2_day)


def half_potential(sorbent: Sorbent) -> float:
    """Return the adsorption potential at which a sheet holds half of what it holds when full.

    Full means at 25 degC and relative humidity 0.9. Args: sorbent. Returns: A = R T ln(1/rh) [J/mol].
    """
    T, wet = HALF_FILLED_OF
    half = 0.5 * float(sorbent.loading(T, wet))
    pressure = float(sorbent.pressure(T, half))
    return GAS_CONSTANT * T * float(np.log(saturation_pressure(T) / pressure))


def is_brine(sorbent: Sorbent) -> bool:
    """Say whether a sheet goes on taking up without end as air nears saturation, as brines and gels do.

    Args: sorbent. Returns: whether it holds more than 1.5 times as much at relative humidity 0.9 as at 0.7
    and goes on, by 1.12 times and more to 0.97; a solid with a late step does the one and not the other.
    """
    T, wet = HALF_FILLED_OF
    before, full, after = (float(sorbent.loading(T, rh)) for rh in (0.7, wet, 0.97))
    return full > 1.5 * before and after > 1.12 * full


def _fitting(sorbent: Sorbent, masses: Sequence[float], base: Any) -> list[float]:
    """Masses, heaviest first, at which the bed fits into the box."""
    fit = [mass for mass in masses if not _sized(sorbent, mass, base).cross_checks()]
    if len(set(fit)) < 2:
        raise InputError(
            Problem(
                f"masses for {sorbent.key}",
                ", ".join(f"{mass:g}" for mass in masses) + " kg/m2",
                "at least two masses whose bed fits into the box",
                "Choose other masses, or a box with more room.",
            )
        )
    return sorted(set(fit), reverse=True)


def _sized(sorbent: Sorbent, mass: float, base: Any) -> Any:
    thickness = mass / (sorbent.bulk_density * base.bed_area)
    return replace(base, sorbent_mass=mass, layer_thickness=thickness)


def _ladder(sorbent: Sorbent, masses: Sequence[float], base: Any, days: Days, air: AirRecord) -> list[Bed]:
    """Simulate the masses from the heaviest down, lightest first in the result.

    Thin layers of a sharp isotherm make the march reject its steps; from the first such rung on, the
    lighter ones run at a tighter tolerance, which is then the quicker way.
    """
    beds: list[Bed] = []
    for mass in masses:
        stiff = bool(beds) and beds[-1].stiff
        beds.append(bed_of(sorbent, _sized(sorbent, mass, base), days, _accuracy(sorbent, stiff), air))
        if stiff:
            beds[-1] = replace(beds[-1], stiff=True)
    return beds[::-1]


def _accuracy(sorbent: Sorbent, stiff: bool) -> str:
    """The tolerance that is quickest: a loose one makes the march stumble over steps of the isotherm.

    Steps of hydrates want the tight one, grains whose rate falls at their step the one between.
    """
    if _has_steps(sorbent):
        return "fine" if stiff else "normal"
    return "normal" if stiff else "screening"


def bed_of(sorbent: Sorbent, design: Any, days: Days, accuracy: str, air: AirRecord | None = None) -> Bed:
    """Simulate one design through the days, and keep what a comparison needs.

    Args: sorbent; design; days; accuracy: as in `simulate`; air: `air_of` the box, made here if not given.
    Returns: the Bed.
    """
    try:
        year = _hours(sorbent, design, days, accuracy, air)
    except SolverError:
        year = _hours(sorbent, design, days, "check", air)
    by_month = days.monthly(year.collected)
    collected = float(by_month.sum())
    taken, vented, heat = (
        float(days.monthly(part).sum()) for part in (year.taken_up, year.vented, year.heat)
    )
    night, day = _working_points(sorbent, year, days)
    return Bed(
        mass=design.sorbent_mass,
        thickness=design.layer_thickness,
        litres_by_month=by_month,
        heat_kwh_per_litre=heat / (3.6e6 * collected) if collected > 0.0 else None,
        swing=taken / design.sorbent_mass / 365.0,
        hottest=year.hottest,
        night=night.mean,
        day=day.mean,
        night_spread=night.spread,
        day_spread=day.spread,
        night_loading=float(night.loading.mean()),
        day_loading=float(day.loading.mean()),
        reach=_reach(sorbent, year, days),
        gain_if_harder=_gain_if_moved(night, day, NUDGE),
        gain_if_looser=_gain_if_moved(night, day, -NUDGE),
        vented=vented / taken if taken > 0.0 else 0.0,
        wet_days=_wet_days(sorbent, night),
        condenser=_condenser(year),
        stiff=year.rejected > STIFF * year.steps,
    )


@dataclass(frozen=True)
class _Hours:
    """What is kept of a march, hour by hour: amounts of the hour, states at its end.

    taken_up, collected, vented, condensed [kg/m2]; heat [J/m2]; loading [kg/kg]; T, condenser [K]; p [Pa].
    """

    taken_up: Floats
    collected: Floats
    vented: Floats
    condensed: Floats
    heat: Floats
    loading: Floats
    T: Floats
    p: Floats
    condenser: Floats
    hottest: float
    steps: int
    rejected: int


def _hours(sorbent: Sorbent, design: Any, days: Days, accuracy: str, air: AirRecord | None) -> _Hours:
    ready = prepare(design, sorbent, days.site, air)
    _, result = march_year(ready, tolerance=TOLERANCES[accuracy])
    kind = ready.harvester.kind
    accounts = ready.harvester.accounts(Bucketed(kind, ready.design, result.flows))
    at = kind.shown_unknowns()

    def state(name: str) -> Floats:
        return np.asarray(result.states[:, at[name]].mean(axis=1))

    assert accounts.release_heat is not None  # every passive box accounts for its heat
    return _Hours(
        taken_up=accounts.water["water_taken_up"][0],
        collected=accounts.water["water_collected"][0],
        vented=accounts.water["water_vented"][0],
        condensed=result.flows[:, :, kind.flow_number("condensation")].sum(axis=1),
        heat=accounts.release_heat[0],
        loading=state("loading"),
        T=state("bed_temperature"),
        p=state("bed_vapour_pressure"),
        condenser=state("condenser_temperature"),
        hottest=float(result.extremes[1, at["bed_temperature"]].max()),
        steps=result.steps,
        rejected=result.rejected,
    )


def air_of(design: Any, days: Days) -> AirRecord:
    """Make the air of a box once for all its masses, which see the same sun and wind.

    Args: design: the box, its mass and thickness aside; days. Returns: the record.
    """
    return harvester_of(design).air(design, days.site)


@dataclass(frozen=True)
class _Points:
    """The bed at one moment of each counted day: loading [kg/kg], T [K], p [Pa], shape (days,).

    width: by which the branch there lies at higher potentials than that of uptake: the sheet's hysteresis
    where the bed lets go, else zero [J/mol].
    """

    sorbent: Sorbent
    loading: Floats
    T: Floats
    p: Floats
    width: float

    @property
    def mean(self) -> tuple[float, float]:
        return float(self.T.mean()), float(self.p.mean())

    @property
    def humidity(self) -> Floats:
        return np.clip(self.p / saturation_pressure(self.T), 1e-9, 1.0)

    @property
    def spread(self) -> tuple[float, float]:
        low, high = np.quantile(self.humidity, (0.1, 0.9))
        return float(low), float(high)

    @property
    def held(self) -> Floats:
        """Loading in equilibrium with the bed's surface, on the branch that holds there [kg/kg]."""
        return self.moved(0.0)

    def moved(self, nudge: float) -> Floats:
        """The same if the isotherm lay at potentials higher by a nudge [J/mol]: it would hold harder."""
        rh = self.humidity * np.exp((nudge + self.width) / (GAS_CONSTANT * self.T))
        return np.asarray(self.sorbent.loading(self.T, np.minimum(rh, 0.98)))


def _working_points(sorbent: Sorbent, year: _Hours, days: Days) -> tuple[_Points, _Points]:
    """The bed when each counted day finds it fullest, and when it leaves it emptiest."""
    loading, T, p = (part.reshape(-1, 24)[days.counted] for part in (year.loading, year.T, year.p))
    rows = np.arange(loading.shape[0])
    found = []
    for at, width in ((loading.argmax(axis=1), 0.0), (loading.argmin(axis=1), sorbent.hysteresis_width)):
        found.append(_Points(sorbent, loading[rows, at], T[rows, at], p[rows, at], width))
    return found[0], found[1]


def _reach(sorbent: Sorbent, year: _Hours, days: Days) -> float:
    """Mean daily range of the loading in equilibrium with the bed's surface [kg/kg].

    With hysteresis the loading stands still between the branches: it is pushed up by that of uptake and
    down by that of release, hour after hour.
    """
    T = year.T
    humidity = np.clip(year.p / saturation_pressure(T), 1e-9, 1.0)
    held = np.asarray(sorbent.loading(T, humidity))
    if sorbent.hysteresis_width > 0.0:
        wetter = np.minimum(humidity * np.exp(sorbent.hysteresis_width / (GAS_CONSTANT * T)), 0.98)
        held = _between_branches(held, np.maximum(np.asarray(sorbent.loading(T, wetter)), held))
    held = held.reshape(-1, 24)[days.counted]
    return float((held.max(axis=1) - held.min(axis=1)).mean())


def _between_branches(up: Floats, down: Floats) -> Floats:
    """Follow a loading that rises only with the one branch and falls only with the other, shape (hours,)."""
    found = np.empty_like(up)
    now = 0.5 * (up[0] + down[0])
    for hour, (low, high) in enumerate(zip(up.tolist(), down.tolist(), strict=True)):
        now = min(max(now, low), high)
        found[hour] = now
    return found


def _gain_if_moved(night: _Points, day: _Points, nudge: float) -> float:
    """Gain of the mean daily swing with the isotherm moved, at the working points as they are [1]."""
    swing = float(np.maximum(night.held - day.held, 0.0).mean())
    moved = float(np.maximum(night.moved(nudge) - day.moved(nudge), 0.0).mean())
    if is_brine(night.sorbent):
        moved *= float(night.held.mean()) / max(float(night.moved(nudge).mean()), 1e-9)
    return moved / max(swing, 1e-6) - 1.0


def _wet_days(sorbent: Sorbent, night: _Points) -> float:
    """Share of days on which the bed holds more than at the humidity at which brine leaves it."""
    if sorbent.leak_humidity >= 1.0:
        return 0.0
    limit = np.asarray(sorbent.loading(night.T, sorbent.leak_humidity))
    return float((night.loading > limit).mean())


def _condenser(year: _Hours) -> float | None:
    water = np.maximum(year.condensed, 0.0)
    total = float(water.sum())
    return float((year.condenser * water).sum()) / total if total > 0.0 else None


def _ranked(
    sorbent: Sorbent, rungs: list[Bed], base: Any, year: Days, whole_years: bool, air: AirRecord
) -> Ranked:
    """Take the best rung of a ladder through the whole year, and put the rest beside it."""
    top = max(rungs, key=lambda rung: rung.litres_per_m2_day)
    best = top
    if not whole_years:
        design = _sized(sorbent, top.mass, base)
        best = bed_of(sorbent, design, year, _accuracy(sorbent, top.stiff), air)
    deep = too_deep(_sized(sorbent, best.mass, base), sorbent)
    masses = np.array([rung.mass for rung in rungs])
    # What is known of the whole year takes the place of the ladder's figure.
    litres = np.array([(best if rung is top else rung).litres_per_m2_day for rung in rungs])
    return Ranked(
        sorbent=sorbent,
        rungs=tuple(rungs),
        best=best,
        best_on_ladder=top,
        litres_at_equal_mass=_between(masses, litres, EQUAL_MASS),
        litres_at_equal_volume=_between(masses, litres, EQUAL_VOLUME * sorbent.bulk_density),
        release_temperature=_release_temperature(sorbent, best),
        half_potential=half_potential(sorbent),
        filling=filling_time(_sized(sorbent, best.mass, base), sorbent) if deep else None,
        layered=_in_cells(sorbent, best, base, year, air) if deep else None,
    )


def _in_cells(sorbent: Sorbent, best: Bed, base: Any, year: Days, air: AirRecord) -> float | None:
    """Litres of the best bed in cells [L/(m2 day)]; None where its sheet knows no pores."""
    design = replace(_sized(sorbent, best.mass, base), depth="layered")
    if not has_layered_depth(design, sorbent):
        return None
    return bed_of(sorbent, design, year, _accuracy(sorbent, best.stiff), air).litres_per_m2_day


def _between(masses: Floats, litres: Floats, mass: float) -> float:
    """Litres at a mass between the rungs, on a monotone curve in log mass; the ends are held."""
    from scipy.interpolate import PchipInterpolator

    return float(PchipInterpolator(np.log(masses), litres)(np.log(np.clip(mass, masses[0], masses[-1]))))


def _release_temperature(sorbent: Sorbent, bed: Bed) -> float | None:
    """Bed temperature at which nine tenths of the night's loading has gone to the condenser [K]."""
    if bed.condenser is None:
        return None
    p = float(saturation_pressure(bed.condenser))
    goal = 0.1 * bed.night_loading
    low, high = bed.condenser, 600.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        rh = min(p / float(saturation_pressure(middle)), 1.0)
        if float(sorbent.release_loading(middle, rh)) > goal:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def unfit(entry: Ranked) -> str | None:
    """Say why a sheet must not be used so, whatever it gives.

    Args: entry. Returns: "dissolves", "too hot" or None.
    """
    best = entry.best
    if best.wet_days > WET_NIGHTS:
        return "dissolves"
    if best.hottest > entry.sorbent.service_temperature + HOTTER:
        return "too hot"
    return None


def _reason(entry: Ranked, top: float) -> str:
    """Name the one reason that weighs most."""
    best = entry.best
    barred = unfit(entry)
    if barred is not None:
        return barred
    if best.litres_per_m2_day >= top > 0.0:
        return "best"
    if best.litres_per_m2_day >= GOOD_ENOUGH * top > 0.0:
        return "close"
    swung = max(best.night_loading - best.day_loading, 1e-6)
    held_back = {
        "too hot": best.vented / max(1.0 - best.vented, 1e-6),
        "too slow": best.reach / swung - 1.0 if best.reach > LAGGING * swung else 0.0,
    }
    full = float(entry.sorbent.loading(*HALF_FILLED_OF))
    fills = best.night_loading > FILLED * full
    moved = {
        "never fills": 0.0 if fills else best.gain_if_harder,
        "never empties": best.gain_if_looser,
    }
    brine = is_brine(entry.sorbent)
    if not brine and held_back["too slow"] <= TELLING:
        if best.night_loading < BARELY * full:
            return "never fills"
        if best.day_loading > KEPT * best.night_loading:
            return "never empties"
    # How hard a brine holds says little: its mass makes up for it. What the box does to it comes first.
    for gains in (held_back, moved) if brine else (held_back | moved,):
        reason = max(gains, key=lambda name: gains[name])
        if gains[reason] > TELLING:
            return reason
    return "holds little"
