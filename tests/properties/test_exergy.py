"""No kind makes water with less exergy than a reversible machine would: by the year and by the month."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from box_cases import site_of
from welkinwell.harvesters.kinds import KINDS
from welkinwell.limits.least_work import least_work, solar_exergy_factor
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulation import simulate
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.year import exergy_supplied, figures, monthly

DESIGNS = [
    ("passive_box", {}),
    ("passive_box", {"concentration": 1.5}),
    ("active_bed", {"operation": "clock"}),
    ("active_bed", {"operation": "sun", "heat_by": "solar"}),
    ("active_bed", {"operation": "clock", "heat_by": "waste_heat"}),
    ("cooling_coil", {}),
    ("cooling_coil", {"cooling": "thermoelectric", "module_conductance": 300.0}),
    ("dew_condenser", {}),
    (
        "dew_condenser",
        {"shelter": 0.1, "back_loss": 0.0, "holdup": 0.001, "emissivity": 1.0, "sky_view": 1.0},
    ),
    ("hybrid", {}),
    ("liquid_desiccant", {}),
    ("desiccant_wheel", {"operation": "clock"}),
    ("two_stage_box", {}),
]
WHERE = {"sun", "electricity", "heat", "sky", "swing"}


@cache
def year_of(number, place):
    kind, fields = DESIGNS[number]
    sheet = "licl_brine" if kind == "liquid_desiccant" else "silica_gel_regular_density"
    material = sorbent(sheet) if KINDS[kind].takes_sorbent else None
    return simulate(replace(KINDS[kind].load()(), **fields), material, site_of(place), audit=False)


@pytest.mark.parametrize("place", ["coast", "tropics"])
@pytest.mark.parametrize("number", range(len(DESIGNS)))
def test_exergy_supplied_is_no_less_than_the_reversible_work(number, place):
    """Kim2020's least work at the air of the hours of uptake; by month with that month's own air."""
    year = year_of(number, place)
    supplied = exergy_supplied(year)
    assert set(supplied) == WHERE
    assert min(supplied.values()) >= 0.0
    efficiency = figures(year)["second_law_efficiency"]
    print(
        DESIGNS[number],
        place,
        f"{100 * efficiency:.3g} %",
        {k: f"{v / 3.6e6:.3g}" for k, v in supplied.items()},
    )
    assert 0.0 < efficiency < 1.0
    humidity = year["vapour_pressure"].values / saturation_pressure(year["temperature"].values)
    work = (
        least_work(year["temperature"].values, np.clip(humidity, 1e-4, 1.0)) * year["water_taken_up"].values
    )
    work = np.array([part.sum() for part in np.split(work, np.cumsum(MONTH_DAYS)[:-1] * 24)])
    collected, taken = monthly(year, "water_collected"), monthly(year, "water_taken_up")
    needed = np.divide(work * collected, taken, out=np.zeros(12), where=taken > 0.0)
    share = float(solar_exergy_factor(year.attrs["mean_temperature"])) if year.attrs["takes_sun"] else 0.0
    went_in = (
        share * monthly(year, "sun_on_plane") * 3600.0
        + monthly(year, "electricity")
        + monthly(year, "sky_exergy") * 3600.0
        + taken * year.attrs["swing_exergy"]
        + supplied["heat"] / 12.0
    )
    assert np.all(needed <= went_in + 1e-9)


MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def test_a_sheet_lives_of_the_sky_and_a_machine_of_electricity():
    sheet, machine = exergy_supplied(year_of(7, "coast")), exergy_supplied(year_of(5, "coast"))
    assert sheet["sky"] == sum(sheet.values()) > 0.0
    assert machine["electricity"] == sum(machine.values()) > 0.0


def test_the_sky_s_exergy_by_hand():
    """A third of sigma T^4 less what the sky sends down (Petela1964 with a sun of no temperature): means."""
    year, climate = year_of(7, "coast"), site_of("coast").climate
    by_hand = np.maximum(5.670374e-8 * climate["temperature"] ** 4 - climate["sky_longwave"], 0.0) / 3.0
    assert float(year["sky_exergy"].mean()) == pytest.approx(float(by_hand.mean()), rel=5e-3)


def test_months_and_year_add_up_to_the_hours():
    hours = exergy_supplied(year_of(7, "coast"))["sky"]
    kind, fields = DESIGNS[7]
    for keep in ("months", "year"):
        year = simulate(
            replace(KINDS[kind].load()(), **fields), None, site_of("coast"), keep=keep, audit=False
        )
        assert exergy_supplied(year)["sky"] == pytest.approx(hours, rel=1e-9)


def test_every_kind_is_here():
    assert {kind for kind, _ in DESIGNS} == set(KINDS)
