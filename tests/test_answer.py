"""From a case file to an answer: the starter case, a place without sun, and a demand that cannot be met."""

import gzip
import json
import shutil
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from box_cases import WEATHER
from welkinwell.answer import answer_case, answer_site
from welkinwell.case import read_case
from welkinwell.climate import read_climate
from welkinwell.errors import InputError
from welkinwell.plants.comparison import comparison_of
from welkinwell.plants.one_plant import plant_of
from welkinwell.site_weather import case_climate, further_climate
from welkinwell.supply.tank import tank_year
from welkinwell.year import daily, figures

CASE = """
schema_version = 1
name = "A box"
[site]
name = "Here"
weather = "{weather}"
[demand]
residents = 4
litres_per_resident_day = "{each} L/day"
{tank}
[[harvester]]
name = "Box"
kind = "passive_box"
sorbent = "silica_gel_regular_density"
modules = 3
aperture_area = "2 m2"
sorbent_mass = "8 kg/m2"
layer_thickness = "3 mm"
"""


def answered(folder: Path, weather: Path, each: float = 1.0, tank: str = '[tank]\nvolume = "50 L"'):
    path = folder / "case.toml"
    path.write_text(CASE.format(weather=weather, each=each, tank=tank), encoding="utf-8")
    return answer_case(read_case(path))


@cache
def answer(folder):
    return answered(folder, WEATHER / "coast_western_australia_2020.csv.gz")


@pytest.fixture(scope="module")
def coast(tmp_path_factory):
    return answer(tmp_path_factory.mktemp("coast"))


def test_the_tank_goes_through_further_weather_years(tmp_path):
    """The same year again gives the same litres, but for the accuracy; another place is refused."""
    weather = WEATHER / "coast_western_australia_2020.csv.gz"
    shutil.copy(weather, tmp_path / "again.csv.gz")
    text = CASE.format(weather=weather, each=1.0, tank='[tank]\nvolume = "50 L"')
    path = tmp_path / "case.toml"

    def with_years(years):
        path.write_text(text.replace("[demand]", f"further_years = {json.dumps(years)}\n[demand]"))
        return read_case(path)

    found = answer_case(with_years(["again.csv.gz"]))
    record = found.summary["harvesters"][0]["delivered"]["weather_years"]
    assert record["names"] == [weather.name, "again.csv.gz"]
    assert record["litres_per_day"][1] == pytest.approx(record["litres_per_day"][0], rel=5e-3)
    one = found.best.supply.daily
    assert record["share_of_days_met"][1] == pytest.approx(one.share_of_days_met, abs=0.02)

    desert = next(WEATHER.glob("desert*"))
    with pytest.raises(InputError, match="latitude"):
        answer_case(with_years([str(desert)]))
    with pytest.raises(InputError, match=r"further_years.*gone\.csv"):
        with_years(["gone.csv"])


def test_the_summary_has_what_it_must(coast):
    summary = coast.summary
    json.dumps(summary, allow_nan=False)
    assert summary["schema_version"] == 1
    assert {"source", "hours", "repairs", "hash"} <= set(summary["weather"])
    assert summary["weather"]["hours"] == 8760
    one = summary["harvesters"][0]
    needed = {"name", "kind", "sorbent", "litres_per_day", "litres_per_m2_day", "litres_per_kg_day"}
    needed |= {"litres_by_month", "sun_kwh_per_litre", "heat_kwh_per_litre", "electricity_kwh_per_litre"}
    needed |= {"latent_efficiency", "second_law_efficiency", "balance"}
    assert needed <= set(one)
    assert abs(one["balance"]["water_residual_relative"]) < 1e-9
    assert abs(one["balance"]["energy_residual_relative"]) < 1e-9
    assert sum(one["litres_by_month"]) == pytest.approx(365.0 * one["litres_per_day"], rel=1e-9)


def test_condensed_collected_and_delivered_are_told_apart(coast):
    """4 L/day are asked for and some 8 L/day come: more is condensed than collected, less is delivered."""
    found = coast.harvesters[0].figures
    chain = coast.summary["harvesters"][0]["delivered"]["litres_per_day"]
    steps = [found["litres_condensed_per_day"], *chain.values()]
    assert all(after <= before for before, after in pairwise(steps))
    assert chain["collected"] == pytest.approx(found["litres_per_day"], rel=1e-12)
    assert chain["delivered"] == found["litres_delivered_per_day"] <= 4.0
    stored = coast.harvesters[0].tank.stored
    balance = chain["net"] - found["litres_delivered_per_day"] - found["litres_spilled_per_day"]
    assert abs(balance) * 365.0 <= stored.max() - stored.min() + 1e-6


def test_the_tank_is_fed_with_the_net_water_of_the_days(coast):
    """By hand: 3 % drip away, 1 % washes filters, 2 L on four days, 5 % outages; 5 % of the tank is dead."""
    one = coast.harvesters[0]
    inflow = daily(one.year, "water_collected") * 6.0  # three modules of 2 m2
    assert one.daily_litres == pytest.approx(inflow)
    net = inflow * 0.97 * 0.99
    sampled = np.flatnonzero(np.abs(one.supply.net.by_day() / 0.95 - net) > 1e-9)
    assert sampled.tolist() == [45, 136, 228, 319]  # the middles of the quarters
    net[sampled] -= 2.0
    again = tank_year(0.95 * net, np.full(365, 4.0), 47.5)
    assert one.tank.delivered == pytest.approx(again.delivered)
    assert one.figures["share_of_days_met"] == np.mean(again.missing <= 1e-9)


def test_the_headline_says_litres_worst_month_and_demand(coast):
    one = coast.harvesters[0]
    assert f"{one.figures['litres_per_day']:.1f} L/day" in coast.headline
    assert "worst month" in coast.headline
    assert "Of 4 L/day asked for" in coast.headline
    assert coast.headline.startswith("Do not build where piped")


def test_the_verdict_and_its_numbers_stand_in_the_summary(coast):
    summary = coast.summary
    assert summary["verdict"]["decision"] == "do not build where other water can be had"
    assert summary["verdict"]["harvester"] == "Box"
    one = summary["harvesters"][0]
    assert {"delivered", "cost", "verdict", "parts", "field"} <= set(one)
    cost = one["cost"]["per_litre_delivered"]
    assert 0.0 < cost["low"] < cost["central"] < cost["high"]
    assert one["delivered"]["share_of_days_met"] == one["share_of_days_met"]
    assert one["field"]["light_lost_to_shade"] is None


def test_rows_shade_each_other_in_the_simulation(tmp_path, coast):
    """Three rows 1.1 slant lengths apart: less light, and fewer litres by at least as much."""
    text = (CASE.format(weather=WEATHER / "coast_western_australia_2020.csv.gz", each=1.0, tank="")
            .replace("[[harvester]]", '[field]\narranged = "rows"\nrows = 3\n[[harvester]]')
            + "footprint_ratio = 1.1\n")  # fmt: skip
    path = tmp_path / "case.toml"
    path.write_text(text, encoding="utf-8")
    found = answer_case(read_case(path)).harvesters[0]
    shade = found.decision.standing.shade
    assert 0.01 < shade.total < 0.3
    alone = coast.harvesters[0].figures["litres_per_day"]
    assert found.figures["litres_per_day"] < alone * (1.0 - 0.5 * shade.total)
    light = float(found.year["sun_on_plane"].sum() / coast.harvesters[0].year["sun_on_plane"].sum())
    assert 1.0 - light == pytest.approx(shade.total, abs=0.02)
    # the other commands meet the same sun
    litres = found.figures["litres_per_m2_day"]
    assert figures(plant_of(read_case(path)).year)["litres_per_m2_day"] == pytest.approx(litres, rel=1e-9)
    compared = comparison_of([read_case(path)], draws=0)
    assert compared.entries[0].figures["litres_per_m2_day"] == pytest.approx(litres, rel=1e-9)


def test_without_a_tank_what_nobody_draws_is_left_over(tmp_path):
    one = answered(tmp_path, WEATHER / "coast_western_australia_2020.csv.gz", tank="").harvesters[0]
    left = one.figures["litres_spilled_per_day"]
    assert left > 0.0
    assert left + one.figures["litres_delivered_per_day"] == pytest.approx(one.supply.net_per_day)


def test_a_demand_that_cannot_be_met_is_told(tmp_path):
    found = answered(tmp_path, WEATHER / "coast_western_australia_2020.csv.gz", each=250.0).harvesters[0]
    assert found.figures["share_of_days_met"] == 0.0
    assert found.figures["share_of_demand_met"] < 0.02
    assert found.figures["longest_shortfall_days"] == 365


def dark_file(folder):
    """The coast's file with every column of sunlight at zero."""
    with gzip.open(WEATHER / "coast_western_australia_2020.csv.gz", "rt") as file:
        lines = file.read().splitlines()
    names = lines[2].split(",")
    sunny = [i for i, name in enumerate(names) if name in ("GHI", "DNI", "DHI")]
    assert len(sunny) == 3
    for number in range(3, len(lines)):
        cells = lines[number].split(",")
        for i in sunny:
            cells[i] = "0"
        lines[number] = ",".join(cells)
    path = folder / "dark.csv"
    path.write_text("\n".join(lines) + "\n")
    return path


def test_no_sun_at_all_is_zero_litres_and_a_warning(tmp_path):
    found = answered(tmp_path, dark_file(tmp_path))
    one = found.harvesters[0]
    assert one.figures["litres_per_day"] == 0.0
    assert one.figures["heat_kwh_per_litre"] is None
    assert any("No sun at all" in text for text in one.warnings)
    assert "no water at all" in found.headline and found.summary["harvesters"][0]["worst_month"] is None
    json.dumps(found.summary, allow_nan=False)


def test_what_a_site_offers():
    found = answer_site(WEATHER / "desert_daggett_california_tmy.csv.gz")
    json.dumps(found.summary, allow_nan=False)
    assert "kPa" in found.headline
    assert found.summary["site"]["latitude"] == pytest.approx(34.85, abs=0.02)


def test_progress_runs_from_nothing_to_all(tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(
        CASE.format(weather=WEATHER / "coast_western_australia_2020.csv.gz", each=1.0, tank=""),
        encoding="utf-8",
    )
    told = []
    answer_case(read_case(path), progress=lambda text, share: told.append(share))
    assert told[0] == 0.0
    assert told[-1] == 1.0
    assert all(later >= earlier - 1e-12 for earlier, later in pairwise(told))


def test_what_is_worth_building_is_said_first(tmp_path):
    """A coil meets more of the demand at prices above trucked water; the box beside it is worth building."""
    weather = WEATHER / "coast_western_australia_2020.csv.gz"
    path = tmp_path / "case.toml"
    path.write_text(
        CASE.format(weather=weather, each=3.0, tank='[tank]\nvolume = "300 L"')
        + '[[harvester]]\nname = "Machine"\nkind = "cooling_coil"\n'
        + '[cost]\nelectricity_price = "2 USD/kWh"\n'
        + '[alternatives]\ntrucked = "600 USD/m3"\npiped = "none"\nbottled = "none"\n'
        + 'well = "none"\nrain = "none"\ndesalinated = "none"\n',
        encoding="utf-8",
    )
    found = answer_case(read_case(path))
    box, machine = found.harvesters
    assert machine.figures["share_of_demand_met"] > box.figures["share_of_demand_met"]
    decisions = [one.decision.verdict.decision for one in (box, machine)]
    assert decisions == ["worth building", "do not build"]
    assert found.best is box
    assert found.headline.startswith("Worth building")
    assert found.summary["verdict"]["harvester"] == "Box"


def test_the_site_s_ground_and_altitude_go_into_every_year(tmp_path):
    """A bright ground in both years; 300 m up by 6.5 K/km, thinner air and drier (climate page)."""
    weather = WEATHER / "coast_western_australia_2020.csv.gz"
    shutil.copy(weather, tmp_path / "again.csv.gz")
    text = CASE.format(weather=weather, each=1.0, tank="").replace(
        "[demand]", 'albedo = 0.6\nelevation = "383 m"\nfurther_years = ["again.csv.gz"]\n[demand]'
    )
    path = tmp_path / "case.toml"
    path.write_text(text, encoding="utf-8")
    case = read_case(path)
    first = case_climate(case)
    second = further_climate(case, first, case.further_weather[0])
    for one in (first, second):
        assert float(one["albedo"].min()) == 0.6
        assert one.attrs["elevation"] == 383.0
    plain = read_climate(weather)
    assert float((plain["temperature"] - first["temperature"]).mean()) == pytest.approx(1.95, abs=1e-9)
    assert first["pressure"].values == pytest.approx(second["pressure"].values)
    assert float(first["pressure"].mean()) < 0.97 * float(plain["pressure"].mean())
    path.write_text(text.replace("383 m", "2500 m"), encoding="utf-8")
    with pytest.raises(
        InputError, match=r"case\.toml, \[site\], elevation: got 2500 m from a station at 83 m"
    ):
        case_climate(read_case(path))
