"""A published or advertised figure of water from air, as stated: what it gives and what it leaves out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Final

from welkinwell.declare import choice, count, flag, quantity, read_fields, words
from welkinwell.errors import InputError, Problem
from welkinwell.harvesters.claimed import claimed_kinds
from welkinwell.text_file import read_toml

AGREE: Final = 0.05  # two bases that should say the same may differ by this much, for rounding
AREAS: Final = ("not stated", "aperture", "absorber", "footprint")
CONDENSERS: Final = ("not stated", "ambient air", "cooled")
HEATERS: Final = ("not stated", "resistance", "solar", "waste_heat", "heat_pump")
COOLINGS: Final = ("not stated", "vapour_compression", "thermoelectric")
BASES: Final = ("litres_per_day", "litres_per_m2_day", "litres_per_kg_day")
RATES: Final = ("litres_per_kwh", "electricity")


@dataclass(frozen=True)
class Claim:
    """What is claimed, and under what conditions; SI, None where it is not stated.

    One at least of litres_per_day, litres_per_m2_day, litres_per_kg_day, litres_per_kwh.
    """

    name: str = words("What is claimed, in a few words", default="the claim")
    source: str = words("Where it was published or advertised", default="")
    kind: str = choice(("not stated", *claimed_kinds()), "Kind of harvester", default="not stated")

    litres_per_day: float | None = quantity(
        "L/day", "Water in a day, of the whole device", default=None, low=0, low_open=True, high=1e9
    )
    litres_per_m2_day: float | None = quantity(
        "L/(m2 day)", "Water in a day and m2", default=None, low=0, low_open=True, high=1e5
    )
    litres_per_kg_day: float | None = quantity(
        "L/(kg day)", "Water in a day and kg of dry sorbent", default=None, low=0, low_open=True, high=1e5
    )
    litres_per_kwh: float | None = quantity(
        "L/kWh", "Water for a kWh of electricity", default=None, low=0, low_open=True, high=1e6
    )
    area: float | None = quantity(
        "m2", "Area that the litres are counted on", default=None, low=1e-6, high=1e9
    )
    area_is: str = choice(AREAS, "What that area is", default="not stated")
    sorbent_mass: float | None = quantity("kg", "Dry sorbent", default=None, low=1e-6, high=1e9)
    sorbent: str | None = words("Data sheet of the sorbent, by name", default=None)
    swing: float | None = quantity(
        "kg/kg", "Water given off by a kg of dry sorbent in one cycle", default=None, low=1e-4, high=50
    )
    cycles_per_day: float | None = quantity(
        "1", "Cycles of uptake and release in a day", default=None, low=0.01, high=1e4
    )

    temperature: float | None = quantity(
        "degC", "Temperature of the air that the water is taken from", default=None, low=-30, high=60
    )
    relative_humidity: float | None = quantity(
        "1", "Relative humidity of that air", default=None, low=0.01, high=1.0
    )
    elevation: float = quantity("m", "Height above the sea", default=0.0, low=-430, high=6000)

    sun: float | None = quantity(
        "kWh/(m2 day)", "Sun on a m2 of the area in a day", default=None, low=0.01, high=15
    )
    electricity: float | None = quantity("kWh/L", "Electricity for a litre", default=None, low=0, high=1e4)
    heat: float | None = quantity("kWh/L", "Heat for a litre, other than sun", default=None, low=0, high=1e4)
    heat_temperature: float | None = quantity(
        "degC", "Temperature at which the bed or process is heated", default=None, low=20, high=600
    )
    heat_by: str = choice(HEATERS, "What heats the bed", default="not stated")
    cooling: str = choice(COOLINGS, "What makes a coil cold", default="not stated")
    effects: int | None = count("Times that the heat of condensation is used", default=None, low=1, high=50)
    heat_recovery: bool = flag("Whether a coil's cold air cools the air that comes in", default=False)
    condenser: str = choice(CONDENSERS, "What cools the condenser", default="not stated")
    condenser_temperature: float | None = quantity(
        "degC", "Temperature of the condenser", default=None, low=-20, high=120
    )
    projected: bool = flag("Whether the day is reckoned from shorter tests", default=False)

    def cross_checks(self) -> list[Problem]:
        """Rules between fields: some litres, and bases that agree."""
        return [*self._litres_stated(), *self._bases_agree(), *self._energy_agrees()]

    def _litres_stated(self) -> list[Problem]:
        if any(getattr(self, name) is not None for name in (*BASES, "litres_per_kwh")):
            return []
        expected = "one of litres_per_day, litres_per_m2_day, litres_per_kg_day, litres_per_kwh"
        return [Problem("claim", "no litres", expected, "A claim without litres cannot be checked.")]

    def _bases_agree(self) -> list[Problem]:
        found = []
        for total, each, size, what in (
            ("litres_per_day", "litres_per_m2_day", "area", "m2"),
            ("litres_per_day", "litres_per_kg_day", "sorbent_mass", "kg"),
        ):
            day, per, base = (getattr(self, name) for name in (total, each, size))
            if day is None or per is None or base is None:
                continue
            implied = per * base
            if abs(implied - day) > AGREE * max(implied, day):
                given = (
                    f"{day * _DAY:.4g} L/day, and {per * _DAY:.4g} L/day for each of {base:.4g} {what}, "
                    f"which makes {implied * _DAY:.4g} L/day"
                )
                found.append(
                    Problem(f"{total}, {each}", given, "two figures that agree", "State one of them.")
                )
        return found

    def _energy_agrees(self) -> list[Problem]:
        if self.litres_per_kwh is None or self.electricity is None:
            return []
        implied = 1.0 / self.litres_per_kwh
        if abs(implied - self.electricity) <= AGREE * max(implied, self.electricity):
            return []
        given = (
            f"{self.litres_per_kwh * _KWH / 1e-3:.4g} L/kWh and {self.electricity / _KWH * 1e-3:.4g} kWh/L"
        )
        return [Problem("litres_per_kwh, electricity", given, "two figures that agree", "State one of them.")]

    @property
    def per_m2(self) -> float | None:
        """Litres per m2 and day, worked out where it is not stated [L/(m2 day)]."""
        return self._worked("litres_per_m2_day", self.area)

    @property
    def per_kg(self) -> float | None:
        """Litres per kg of sorbent and day, worked out where it is not stated [L/(kg day)]."""
        return self._worked("litres_per_kg_day", self.sorbent_mass)

    @property
    def joules_of_electricity(self) -> float | None:
        """Electricity for a litre [J/kg]; None where it is not stated."""
        if self.electricity is not None:
            return self.electricity / 1000.0
        return None if self.litres_per_kwh is None else 1.0 / (1000.0 * self.litres_per_kwh)

    def _worked(self, name: str, size: float | None) -> float | None:
        stated = getattr(self, name)
        if stated is not None:
            return float(stated * _DAY)
        if self.litres_per_day is None or size is None:
            return None
        return float(self.litres_per_day * _DAY / size)


_DAY: Final = 86400.0 * 1000.0  # L/day in m3/s
_KWH: Final = 3.6e6


def read_claim(path: Path) -> Claim:
    """Read a claim from a TOML file; raises one InputError that holds every problem."""
    path = Path(path)
    return claim_from(read_toml(path, "a claim in TOML", _ADVICE), path.name)


def claim_from(table: Mapping[str, Any], where: str) -> Claim:
    """Check a claim given as text with units; raises one InputError that holds every problem."""
    claim, problems = read_fields(Claim, table, where)
    if claim is None or problems:
        raise InputError(problems)
    if claim.sorbent is not None:
        from welkinwell.sorbents.sorbent import sorbent

        sorbent(claim.sorbent)  # a wrong name is refused here, with the nearest
    return claim


def stated(claim: Claim) -> dict[str, Any]:
    """List what the claim states, by field, in SI."""
    silent = (None, "not stated", "", False)
    return {f.name: getattr(claim, f.name) for f in fields(claim) if getattr(claim, f.name) not in silent}


_ADVICE: Final = "`welkinwell check-claim --help` shows an example."
