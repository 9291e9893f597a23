"""How sure the litres, the supply and the cost of a plant are, and what their uncertainty is made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from welkinwell.case import HarvesterCase
from welkinwell.harvesters.air import Surroundings, surroundings
from welkinwell.harvesters.uncertain_parameters import UncertainParameter
from welkinwell.plants.plant import Plant, as_it_meets
from welkinwell.quantities import litres_on
from welkinwell.site_weather import further_climate
from welkinwell.studies.bias import Bias, Carried, bias_of, carry
from welkinwell.studies.effort import stages
from welkinwell.studies.gradient import Slope
from welkinwell.studies.runner import Progress
from welkinwell.studies.uncertainty import Draws, draw, elasticities, years_of_draws, years_of_slopes
from welkinwell.studies.variance_shares import VarianceShares, variance_shares
from welkinwell.supply.supply_uncertainty import SupplyUncertainty, supply_uncertainty
from welkinwell.year import DAYS_IN_MONTH, monthly

# Assumptions of the cost of which plants with another sorbent, or of another kind, have draws of their own.
OF_ITS_OWN: Final = (
    "sorbent_price", "sorbent_life", "sorbent_ageing", "device_price", "module_price", "plant_life",
)  # fmt: skip


@dataclass(frozen=True)
class PlantUncertainty:
    """Draws of one plant with what their spread is made of; shares: None with too few draws."""

    about: Plant
    draws: Draws
    shares: VarianceShares | None
    slopes: list[tuple[UncertainParameter, Slope]]
    plant: SupplyUncertainty
    headline: str
    bias: Bias | None = None
    years: tuple[str, ...] = ()

    def by_year(self) -> list[tuple[str, dict[str, float | None]]]:
        """Litres exceeded in 90, 50 and 10 % of the draws of each weather year; empty with one year."""
        of_year = self.draws.of_year
        if of_year is None:
            return []
        return [
            (name, self.draws.exceeded(self.draws.litres[of_year == number]))
            for number, name in enumerate(self.years)
        ]

    @property
    def caution(self) -> str:
        """What published tests of the kind say of its predictions."""
        return " ".join(self.cautions)

    @property
    def cautions(self) -> list[str]:
        """The caution by paragraphs: what the tests say, and what follows with their misses drawn."""
        if self.bias is None:
            return ["No published test judges the water of this kind."]
        if (carried := self.carried) is not None:
            return [self.bias.words, carried.words]
        return [
            self.bias.words,
            "So few misses are told and not drawn as a doubt: their spread is not known.",
        ]

    @property
    def carried(self) -> Carried | None:
        """Interval of the litres with published misses as one more doubt [L/m2/day]; None with too few."""
        lowest = self.about.bounds.tightest
        ceiling = lowest.value if lowest is not None else float("nan")
        return carry(self.bias, self.draws.litres, ceiling, self.draws.seed)

    def intervals(self) -> list[tuple[str, str, float | None, dict[str, float | None]]]:
        """Every figure drawn: name, unit, as simulated, and exceeded in 90, 50 and 10 % of the draws.

        Of kinds that use no heat or no electricity these are left out.
        """
        now, plant, draws = self.about.figures, self.plant, self.draws
        of_year = [
            ("Litres", litres_on(self.about.basis), now["litres_per_m2_day"], draws.litres),
            ("Heat", "kWh/L", now["heat_kwh_per_litre"], draws.heat),
            ("Electricity", "kWh/L", now["electricity_kwh_per_litre"], draws.electricity),
        ]
        of_plant = [
            ("Delivered", "L/day", plant.now.delivered, plant.delivered),
            ("Cost of a delivered litre", f"{plant.currency}/L", plant.now.cost, plant.cost),
            ("Days on which all is met", "1", plant.now.days_met, plant.days_met),
            ("Share of the demand met", "1", plant.now.demand_met, plant.demand_met),
            ("Carbon of a delivered litre", "kg/L", plant.now.carbon, plant.carbon),
        ]
        return [
            (name, unit, as_simulated, draws.exceeded(values))
            for name, unit, as_simulated, values in (*of_year, *of_plant)
            if as_simulated or float(np.nansum(np.abs(values))) > 0.0
        ]

    def as_data(self) -> dict[str, Any]:
        """Give the summary."""
        slopes = {parameter.key: slope for parameter, slope in self.slopes}
        found, carried = self.shares, self.carried
        shares = {} if found is None else {d.key: (share, half) for d, share, half in found.parts}
        return {
            **self.about.head,
            "draws": int(self.draws.litres.size),
            "failed_draws": self.draws.failed,
            "short_year": None if self.draws.tie is None else asdict(self.draws.tie),
            "seed": self.draws.seed,
            "exceeded_in": {
                "litres_per_m2_day": self.draws.exceeded(),
                "heat_kwh_per_litre": self.draws.exceeded(self.draws.heat),
                "electricity_kwh_per_litre": self.draws.exceeded(self.draws.electricity),
            },
            "plant": self.plant.as_data(),
            "published_tests": None if self.bias is None else self.bias.as_data(),
            "with_published_misses": None if carried is None else carried.as_data(),
            "litres_per_m2_day_by_weather_year": dict(self.by_year()),
            "exceeded_in_by_month": [
                self.draws.exceeded(self.draws.by_month[:, month]) for month in range(12)
            ],
            "doubts": [
                {
                    "key": parameter.key,
                    "name": parameter.name,
                    "of": parameter.of,
                    "range_of_80_percent": parameter.in_words(),
                    "source": parameter.source,
                    "share_of_variance": shares.get(parameter.key, (None, None))[0],
                    "half_width_95_percent": shares.get(parameter.key, (None, None))[1],
                    "litres_per_standard_deviation": _number_or_none(slopes[parameter.key].share),
                    "slope_said": slopes[parameter.key].in_words() or None,
                }
                for parameter in self.draws.parameters
            ],
            "shares_of_variance": None
            if found is None
            else {
                "by": found.by,
                "draws": found.draws,
                "not_explained": found.rest,
                "between_weather_years": found.between_years,
                "agree_with_the_other_way": None if found.check is None else found.agreeing,
                "words": found.words,
            },
            "headline": self.headline,
        }


def years_of_uncertainty(entry: HarvesterCase, draws: int) -> float:
    """Years that `uncertainty_of` simulates for a harvester, in quick ones."""
    return years_of_draws(draws) + years_of_slopes(entry.design, entry.sorbent)


def uncertainty_of(
    about: Plant,
    draws: int = 256,
    seed: int = 1,
    progress: Progress | None = None,
    weather: Sequence[Path] = (),
) -> PlantUncertainty:
    """Draw everything that is uncertain about a plant, and find what the spread is made of.

    weather: files of further years of the site, the case's own if none; every draw meets one of all years.
    """
    design, material, site = about.design, about.entry.sorbent, about.site
    drawing, sloping = stages(progress, years_of_draws(draws), years_of_slopes(design, material))
    drawing("Drawing", 0.0)
    weather = weather or about.case.further_weather
    drawn = draw(
        design, material, site, draws=draws, seed=seed,
        years=[_further_site(about, path) for path in weather],
        progress=lambda share: drawing("Drawing", share),
    )  # fmt: skip
    sloping("One doubt at a time", 0.0)
    slopes = elasticities(
        design, material, site, progress=lambda share: sloping("One doubt at a time", share)
    )
    shares = variance_shares(drawn)
    now = about.figures["litres_per_m2_day"]
    found = drawn.exceeded()
    plant = plant_in_the_draws(about, drawn)
    headline = (
        f"{about.entry.name}: {now:.2f} {litres_on(about.basis)} as simulated; with what is in doubt, "
        f"{_number(found['90 %'])} are exceeded in 90 % of the draws, {_number(found['50 %'])} in half "
        f"of them and {_number(found['10 %'])} in 10 %."
    )
    names = (about.case.weather_path.name, *(path.name for path in weather)) if weather else ()
    return PlantUncertainty(about, drawn, shares, slopes, plant, headline, bias_of(about.entry.kind), names)


def _further_site(about: Plant, path: Path) -> Surroundings:
    """Read a further year of a harvester's site, as it meets it."""
    site = surroundings(further_climate(about.case, about.climate, path))
    return as_it_meets(about.case, about.entry, site, about.power)


def plant_in_the_draws(about: Plant, drawn: Draws) -> SupplyUncertainty:
    """Say how sure cost, supply and verdict of a plant are, from the draws of its litres."""
    good = np.isfinite(drawn.litres)
    used = np.nan_to_num(drawn.electricity[good]) * drawn.litres[good] * 365.0 * about.area
    now = monthly(about.year, "water_collected") / np.array(DAYS_IN_MONTH)
    # what a sorbent or a kind costs and lasts is its own; the rest all plants pay alike
    goods = about.sorbent.key if about.sorbent else ""
    whose = {name: goods if name.startswith("sorbent_") else about.kind for name in OF_ITS_OWN}
    decided = about.decision
    return supply_uncertainty(
        about.supply, decided.cost, decided.verdict, now, drawn.by_month[good], used, whose,
        np.flatnonzero(good),
    )  # fmt: skip


def _number_or_none(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _number(value: float | None) -> str:
    return "none" if value is None or not np.isfinite(value) else f"{value:.2f}"
