"""Costs by the textbook's annuity, by worked cases, and what must hold for any plant."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.sorbents.sorbent import sorbent
from welkinwell.supply.cost import (
    PARTS,
    CostChoices,
    OwnPower,
    PlantSize,
    break_even,
    default_cost,
    levelised,
    litre_carbon,
    litre_cost,
    one_price_for_many,
    priced,
    read_money_tables,
    recovery_factor,
    sorbent_assumptions,
)
from welkinwell.supply.money import price_tables

ROWS = default_cost().for_plant(sorbent("silica_gel_type_a"))
CENTRE = {name: entry.value for name, entry in ROWS.items()}
FREE = {name: 0.0 for name in CENTRE} | {"discount_rate": 0.08, "plant_life": 15.0, "sorbent_life": 100.0}
SIZE = PlantSize(
    area=18.0, modules=9, sorbent_mass=144.0, tank_litres=300.0, tests_per_year=4, net=3000.0,
    delivered=2700.0, electricity=0.0,
    masses={"glass": 144.0, "aluminium": 162.0, "frame": 180.0, "tank": 9.0},
)  # fmt: skip


def test_recovery_factor_of_the_tables():
    """Textbook tables of compound interest: 8 % and 15 years 0.11683, 10 % and 10 years 0.16275."""
    assert recovery_factor(0.08, 15) == pytest.approx(0.11683, rel=5e-5)
    assert recovery_factor(0.10, 10) == pytest.approx(0.16275, rel=5e-5)
    assert recovery_factor(0.0, 8) == 0.125


def test_an_annuity_by_hand():
    """1,000 at the start and 50 a year for 3 years at 10 %: 1000 + 45.4545 + 41.3223 + 37.5657 = 1124.3426;
    100 L a year are worth 248.6852 L; 4.52115 a litre, which is 1000 x 0.402115 / 100 + 0.5."""
    found = levelised(1000.0, 50.0, 100.0, 0.10, 3)
    assert found.present_cost == pytest.approx(1124.3426, abs=1e-4)
    assert found.present_litres == pytest.approx(248.6852, abs=1e-4)
    assert found.per_litre == pytest.approx(4.52115, abs=1e-5)


def test_replacement_ageing_and_end_by_hand():
    """No interest, 4 years, bed of 10 lasting 2: 100 + 2 x 10 + 4 x 5 + 8 = 148. The bed loses a tenth a year
    of its age: 0.95, 0.85, 0.95, 0.85 of 10 L are 36 L."""
    found = levelised(100.0, 5.0, 10.0, 0.0, 4, 10.0, 2.0, 0.1, 8.0)
    assert (found.present_cost, found.present_litres, found.replacements) == pytest.approx((148.0, 36.0, 1))


WORKED = {  # device, bed, its life, litres a day, years, upkeep, kWh/L, and the cost published in the facts
    "passive prototype": (250.0, 120.0, 3.0, 0.75, 15, 0.03, 0.0, 0.338),
    "passive, cheap": (150.0, 20.0, 5.0, 1.0, 15, 0.03, 0.0, 0.0823),
    "a gel device, 20 years": (150.0, 0.0, math.inf, 0.6, 20, 0.03, 0.0, 0.1003),
    "a gel device, 10 years": (150.0, 0.0, math.inf, 0.6, 10, 0.03, 0.0, 0.1362),
    "active sorption": (3000.0, 250.0, 3.0, 20.0, 15, 0.03, 3.0, 0.532),
    "cooling machine": (1500.0, 0.0, math.inf, 20.0, 8, 0.05, 0.5, 0.126),
}


@pytest.mark.parametrize("name", WORKED)
def test_worked_costs(name):
    """Six worked cases at 8 %, 90 % of the time, 0.15 for a kWh; their last digit is 0.5 % or less."""
    device, bed, life, litres, years, upkeep, energy, published = WORKED[name]
    found = levelised(
        device, upkeep * device, 365.0 * 0.9 * litres, 0.08, years, bed, life, yearly_per_litre=0.15 * energy
    )
    assert found.per_litre == pytest.approx(published, rel=0.005)


def test_the_first_worked_case_in_its_steps():
    """Present value of devices and beds 648.6, 83.27 a year, 246.4 L a year, 0.338 a litre."""
    found = levelised(250.0, 7.5, 365.0 * 0.9 * 0.75, 0.08, 15, 120.0, 3.0)
    assert found.present_cost * recovery_factor(0.08, 15) == pytest.approx(83.27, rel=1e-4)
    assert found.present_cost - 7.5 / recovery_factor(0.08, 15) == pytest.approx(648.6, rel=1e-4)
    assert found.replacements == 4


def test_a_whole_plant_is_the_worked_case_when_all_else_is_free():
    size = PlantSize(1.0, 1, 4.0, 0.0, 0, 246.375, 246.375, 0.0)
    found = priced(
        size,
        {**FREE, "device_price": 250.0, "sorbent_price": 30.0, "sorbent_life": 3.0, "upkeep_share": 0.03},
    )
    assert found.per_litre == pytest.approx(0.338, rel=0.001)
    assert set(found.parts) == set(PARTS)
    assert found.parts["devices"] == pytest.approx(250.0 * recovery_factor(0.08, 15) / 246.375, rel=1e-9)
    assert found.capital == 370.0 and found.yearly == 7.5


def test_every_part_by_hand():
    """Each price alone, no interest, 10 years, 3,000 L net of which 2,700 L are drawn: 27,000 L in all."""
    rows = {**FREE, "discount_rate": 0.0, "plant_life": 10.0}

    def only(size=SIZE, **prices):
        found = priced(size, {**rows, **prices})
        return found.per_litre * 27000.0

    assert only(device_price=10.0) == pytest.approx(180.0)
    assert only(sorbent_price=2.0) == pytest.approx(288.0)
    assert only(sorbent_price=2.0, sorbent_life=4.0) == pytest.approx(3 * 288.0)
    assert only(tank_price=0.5) == pytest.approx(150.0)
    assert only(treatment_price=70.0) == pytest.approx(70.0)
    assert only(device_price=10.0, tank_price=0.5, installation_share=0.1) == pytest.approx(330.0 * 1.1)
    assert only(device_price=10.0, upkeep_share=0.02) == pytest.approx(180.0 + 36.0)
    assert only(filter_price=9.0) == pytest.approx(90.0)
    assert only(sample_price=25.0) == pytest.approx(1000.0)
    # 5 + 9 x 0.5 minutes a day are 57.79 hours a year
    assert only(work_price=2.0, work_plant=5.0, work_module=0.5) == pytest.approx(20.0 * 9.5 * 365.0 / 60.0)
    electric = replace(SIZE, electricity=1000.0)
    assert only(electric, electricity_price=0.2) == pytest.approx(2000.0)
    assert only(electricity_price=0.2, treatment_energy=0.1) == pytest.approx(600.0)
    assert only(device_price=10.0, end_of_life_share=-0.5) == pytest.approx(90.0)


POWER = {
    "pv_price": 900.0, "battery_price": 400.0, "inverter_price": 300.0, "pv_life": 25.0, "battery_life": 10.0,
    "inverter_life": 6.0, "power_upkeep": 0.02,
}  # fmt: skip
OWN = OwnPower(area=10.0, peak=2.0, battery=5.0, inverter=1.0)


def test_own_electricity_by_hand():
    """2 kW at 900, 5 kWh at 400, 1 kW at 300: 1800 + 2000 + 300 = 4100 to start. Without interest, 15 years:
    the battery again after 10 (2000), the inverter after 6 and 12 (600), upkeep 15 x 82 = 1230. 7930 in
    all, on 15 x 2,700 litres; the modules outlive the plant and are paid whole. No kWh is bought."""
    rows = {**FREE, **POWER, "discount_rate": 0.0, "electricity_price": 0.3}
    own = replace(SIZE, electricity=1000.0, own_power=OWN)
    found = priced(own, rows)
    assert found.capital == pytest.approx(4100.0)
    assert found.yearly == pytest.approx(82.0)
    assert found.battery_replacements == 1
    litres = 2700.0 * 15
    assert found.per_litre * litres == pytest.approx(7930.0)
    assert found.parts["solar modules"] * litres == pytest.approx(1800.0 * (1.0 + 15 * 0.02))
    assert found.parts["battery"] * litres == pytest.approx(2 * 2000.0 + 15 * 40.0)
    assert found.parts["inverter"] * litres == pytest.approx(3 * 300.0 + 15 * 6.0)
    assert found.parts["electricity"] == 0.0
    bought = priced(replace(own, own_power=None), rows)
    assert bought.parts["electricity"] * litres == pytest.approx(1000.0 * 0.3 * 15)
    assert bought.parts["battery"] == 0.0 and bought.capital == 0.0
    treated = priced(own, {**rows, "treatment_energy": 0.01})  # not in the plant's own load
    assert treated.parts["electricity"] * litres == pytest.approx(3000.0 * 0.01 * 0.3 * 15)


def test_a_battery_bought_again_later_is_worth_less():
    """At 8 % the second battery of 2000, after 10 years, is worth 2000/1.08^10 = 926.39 at the start; over
    the annuity of 15 years (8.5595) that makes 2926.39/(2700 x 8.5595) a litre."""
    numbers = {**FREE, **POWER, "power_upkeep": 0.0}
    found = priced(replace(SIZE, own_power=OWN), numbers)
    assert found.parts["battery"] == pytest.approx(2926.39 / (2700.0 * 8.5595), rel=1e-4)
    shorter = priced(replace(SIZE, own_power=OWN), {**numbers, "battery_life": 15.0})
    assert shorter.battery_replacements == 0
    assert shorter.parts["battery"] == pytest.approx(2000.0 / (2700.0 * 8.5595), rel=1e-4)


def test_the_interval_holds_the_middle_and_moves_with_what_is_known():
    wide = litre_cost(SIZE, default_cost(), sorbent("silica_gel_type_a"))
    assert wide.low < wide.central.per_litre < wide.high
    assert sum(wide.central.parts.values()) == pytest.approx(wide.central.per_litre)
    assert wide.central.per_net_litre == pytest.approx(0.9 * wide.central.per_litre)
    again = litre_cost(SIZE, default_cost(), sorbent("silica_gel_type_a"))
    assert (again.low, again.high) == (wide.low, wide.high)
    swings = [abs(high - low) for _, low, high in wide.swings]
    assert swings == sorted(swings, reverse=True)
    exact = {n: replace(row, low=row.value, high=row.value) for n, row in ROWS.items()}
    known = litre_cost(SIZE, CostChoices("USD", 1.0, {}, {"": exact}), sorbent("silica_gel_type_a"))
    assert known.low == known.high == pytest.approx(known.central.per_litre)
    assert known.swings == []


def test_the_draws_are_what_they_claim():
    """One free price, all else zero: the cost is that price times a constant. Half of the draws lie below
    150, thinning out evenly to 100 and to 400, so by hand 10 % lie below 100 + 50 sqrt(0.2) and 10 % above
    400 - 250 sqrt(0.2)."""
    row = replace(ROWS["device_price"], low=100.0, value=150.0, high=400.0)
    rows = {n: replace(r, low=FREE[n], value=FREE[n], high=FREE[n]) for n, r in ROWS.items()}
    found = litre_cost(
        SIZE, CostChoices("USD", 1.0, {}, {"": {**rows, "device_price": row}}), sorbent("mof_303")
    )
    factor = found.central.per_litre / 150.0
    assert found.low / factor == pytest.approx(100.0 + 50.0 * math.sqrt(0.2), rel=0.02)
    assert found.median / factor == pytest.approx(150.0, abs=6.0)  # two standard errors of 2,000 draws
    assert found.high / factor == pytest.approx(400.0 - 250.0 * math.sqrt(0.2), rel=0.02)


def test_break_even_is_where_the_cost_is_the_price():
    electric = replace(SIZE, electricity=600.0)
    found = litre_cost(electric, default_cost(), sorbent("silica_gel_type_a"))
    for price in (0.3, 2.0):
        even = break_even(found, price)
        times = even.litres_per_day * 365.0 / SIZE.delivered
        more = replace(
            electric, net=SIZE.net * times, delivered=SIZE.delivered * times, electricity=600.0 * times
        )
        assert priced(more, CENTRE).per_litre == pytest.approx(price, rel=1e-9)
    price = found.central.per_litre * 0.9
    even = break_even(found, price)
    assert priced(electric, {**CENTRE, "device_price": even.device_price}).per_litre == pytest.approx(price)
    assert break_even(found, 1e-4).litres_per_day is None  # the electricity of a litre alone costs more
    assert break_even(found, 1e-4).device_price is None
    dry = litre_cost(replace(SIZE, net=0.0, delivered=0.0), default_cost(), sorbent("silica_gel_type_a"))
    assert dry.central.per_litre is None and dry.low is None and break_even(dry, 1.0).litres_per_day is None


def test_carbon_by_hand():
    """Masses of the plant at the central factors over 15 years of ageing silica gel, replaced once at 10."""
    factors = {name: row["value"] for name, row in price_tables()["carbon"].items()}
    embodied = sum(mass * factors[name] for name, mass in SIZE.masses.items())
    embodied += 2 * 144.0 * factors["sorbent"]
    litres = 2700.0 * sum(1.0 - 0.01 * ((t - 0.5) % 10) for t in range(1, 16))
    low, central, high = litre_carbon(SIZE, CENTRE)
    assert central == pytest.approx(embodied / litres, rel=1e-12)
    assert low < central < high
    own = litre_carbon(replace(SIZE, electricity=3000.0, own_power=OWN), CENTRE)[1]
    assert own - central == pytest.approx(3000.0 * 15 * factors["own_electricity"] / litres)
    more = litre_carbon(replace(SIZE, electricity=3000.0), CENTRE)[1]
    assert more - central == pytest.approx(3000.0 * 15 * factors["electricity"] / litres)


def test_the_library_of_prices_is_whole():
    """Every number in order, marked with how seen, with a source in the list of sources or "no source"."""
    from welkinwell.report.citations import reference

    tables = price_tables()
    assert tables["currency"] == "USD" and tables["year"] >= 2020
    for table in ("cost", "carbon", "alternative", "power"):
        for name, row in tables[table].items():
            assert row["low"] <= row["value"] <= row["high"], name
            assert row["seen"] in ("source", "second-hand", "memory"), name
            assert row["sentence"] and row["where"], name
            assert not row["source"] or reference(row["source"]) != row["source"], name
    listed = [key for row in tables["sorbent"].values() for key in row["keys"]]
    assert len(listed) == len(set(listed))


def test_every_sorbent_of_the_library_has_its_price():
    from importlib import resources

    sheets = {
        path.name.removesuffix(".toml")
        for path in resources.files("welkinwell").joinpath("library", "sorbents").iterdir()
        if path.name.endswith(".toml")
    }
    listed = {key for row in price_tables()["sorbent"].values() for key in row["keys"]}
    assert listed <= sheets
    assert len(sheets - listed) <= 3  # a new sheet ages as "other", over the whole range, until it is listed
    own = sorbent_assumptions("a_sheet_of_my_own")
    assert own["sorbent_price"].high / own["sorbent_price"].low > 20.0


@pytest.mark.parametrize("key", ["aluminium_fumarate", "licl_gel", "silica_gel_type_a", "zeolite_4a"])
def test_a_sorbent_costs_what_its_sheet_says(key):
    """One source: the report's cost once said 10 to 60 USD/kg where the sheet below it said 10 to 100."""
    sheet = sorbent(key).sheet.numbers["cost.price"]
    row = default_cost().for_plant(sorbent(key))["sorbent_price"]
    assert (row.low, row.value, row.high) == (sheet.low, sheet.value, sheet.high)
    assert row.where == f"data sheet: {sheet.where}"
    others = [row for family, row in price_tables()["sorbent"].items() if family != "other"]
    assert not any("price" in row for row in others)


def test_a_sheet_of_ones_own_sets_its_price(tmp_path):
    from importlib import resources

    folder = resources.files("welkinwell").joinpath("library", "sorbents")
    text = folder.joinpath("silica_gel_type_a.toml").read_text("utf-8")
    path = tmp_path / "my_gel.toml"
    path.write_text(
        re.sub(r"price = \{ value = [0-9.]+,", "price = { value = 4.5,", text).replace(
            'key = "silica_gel_type_a"', 'key = "my_gel"'
        )
    )
    assert default_cost().for_plant(sorbent(path))["sorbent_price"].value == 4.5


# ---------------------------------------------------------------- what a case says
def read(cost=None, alternatives=None):
    problems = []
    tables = {"cost": cost or {}, "alternatives": alternatives or {}}
    found = read_money_tables(tables, "case.toml", problems, ["passive_box"])
    return *found, [str(problem) for problem in problems]


def test_own_figures_rule_over_the_library():
    choices, alternatives, problems = read(
        {
            "device_price": "120 USD/m2",
            "work_price": ["1 USD/h", "2 USD/h", "4 USD/h"],
            "electricity_price": "200 USD/MWh",
            "discount_rate": 0.05,
            "plant_life": "12 year",
            "work_plant": "0.1 h/day",
            "sorbent_price": {"silica_gel_type_a": "3 USD/kg"},
        },
        {"trucked": "0.02 USD/L", "piped": "none"},
    )
    assert problems == []
    rows = choices.for_plant(sorbent("silica_gel_type_a"))
    assert (rows["device_price"].value, rows["device_price"].low) == (120.0, 120.0)
    assert rows["device_price"].given and not rows["tank_price"].given
    assert [rows["work_price"].low, rows["work_price"].value, rows["work_price"].high] == [1.0, 2.0, 4.0]
    assert rows["electricity_price"].value == pytest.approx(0.2)
    assert rows["plant_life"].value == pytest.approx(12.0)
    assert rows["work_plant"].value == pytest.approx(6.0)
    assert rows["sorbent_price"].value == 3.0
    assert choices.for_plant(sorbent("mof_303"))["sorbent_price"].value == 60.0
    told = {other.name: other for other in alternatives}
    assert told["trucked"].price.value == pytest.approx(20.0) and told["trucked"].there is True
    assert told["piped"].there is False
    assert told["bottled"].there is None and not told["bottled"].price.given


def test_a_machine_is_priced_by_the_piece_and_has_no_sorbent():
    choices, _, problems = read({"plant_life": "9 year"})
    rows = choices.for_plant(None, "cooling_coil")
    assert problems == []
    assert (rows["device_price"].value, rows["module_price"].value) == (0.0, 1500.0)
    assert rows["plant_life"].value == pytest.approx(9.0)  # the case's own rules over the kind's
    assert choices.for_plant(sorbent("silica_gel_type_a"), "a new kind")["device_price"].value == 250.0
    size = replace(SIZE, modules=2, sorbent_mass=0.0)
    found = litre_cost(size, choices, None, "cooling_coil")
    assert found.central.parts["sorbent"] == 0.0
    years = 9
    by_hand = 2 * 1500.0 * recovery_factor(0.08, years) / size.delivered
    assert found.central.parts["devices"] == pytest.approx(by_hand)
    even = break_even(found, 0.9 * found.central.per_litre)
    numbers = {name: entry.value for name, entry in found.rows.items()}
    at_even = priced(size, {**numbers, "module_price": even.device_price})
    assert at_even.per_litre == pytest.approx(0.9 * found.central.per_litre)


def test_prices_by_kind_leave_the_other_kinds_theirs():
    choices, _, problems = read({"module_price": {"cooling_coil": "2500 USD"}, "device_price": "90 USD/m2"})
    assert problems == []
    assert choices.for_plant(None, "cooling_coil")["module_price"].value == 2500.0
    box = choices.for_plant(sorbent("silica_gel_type_a"), "passive_box")
    assert (box["device_price"].value, box["module_price"].value) == (90.0, 0.0)


def test_a_machine_that_the_case_prices_by_the_m2_is_not_paid_by_the_piece_too():
    choices, _, _ = read({"device_price": {"active_bed": "250 USD/m2"}})
    bed = choices.for_plant(sorbent("silica_gel_type_a"), "active_bed")
    assert (bed["device_price"].value, bed["module_price"].value, bed["module_price"].high) == (
        250.0,
        0.0,
        0.0,
    )
    assert choices.for_plant(sorbent("silica_gel_type_a"), "liquid_desiccant")["module_price"].value == 600.0
    both, _, _ = read({"device_price": {"hybrid": "300 USD/m2"}, "module_price": {"hybrid": "50 USD"}})
    assert both.for_plant(sorbent("silica_gel_type_a"), "hybrid")["module_price"].value == 50.0


def test_one_price_for_several_kinds_is_refused():
    choices, _, _ = read({"module_price": "2500 USD"})
    assert one_price_for_many(choices, ["passive_box", "passive_box"], "case.toml, [cost]") == []
    (problem,) = one_price_for_many(choices, ["passive_box", "cooling_coil"], "case.toml, [cost]")
    assert "module_price: got one price for 2 kinds" in str(problem)
    assert 'passive_box = "...", cooling_coil = "..."' in str(problem)


def test_another_currency_with_its_rate():
    choices, alternatives, problems = read(
        {"device_price": "200 EUR/m2", "library_rate": 0.9}, {"rain": "none"}
    )
    assert problems == []
    rows = choices.for_plant(sorbent("silica_gel_type_a"))
    assert choices.currency == "EUR"
    assert rows["device_price"].value == 200.0 and rows["device_price"].unit == "EUR/m2"
    assert rows["tank_price"].value == pytest.approx(0.9 * 0.15) and rows["tank_price"].unit == "EUR/L"
    assert rows["sorbent_price"].value == pytest.approx(0.9 * 2.5)
    assert rows["discount_rate"].value == 0.08
    assert {other.price.unit for other in alternatives} == {"EUR/m3"}
    told = {other.name: other.price.value for other in alternatives}
    assert told["piped"] == pytest.approx(0.9 * 0.55)
    assert told["rain"] == pytest.approx(0.9 * 4.0)  # not there, yet shown in the case's currency


WRONG = {
    "two currencies": (
        {"device_price": "200 EUR/m2", "tank_price": "1 USD/L"},
        {},
        ["got money in 2 currencies (EUR at case.toml, [cost], device_price; USD at", "Convert them"],
    ),
    "two currencies in two tables": (
        {"device_price": "200 USD/m2"},
        {"trucked": "5 KES/m3"},
        ["KES at case.toml, [alternatives], trucked"],
    ),
    "currency key against prices": (
        {"currency": "EUR", "device_price": "200 USD/m2"}, {}, ["money in 2 currencies", "[cost], currency"],
    ),
    "no rate": (
        {"device_price": "200 EUR/m2"},
        {},
        ["library_rate: got nothing, with prices in EUR", "how many EUR one USD is worth", "tank_price"],
    ),
    "negative price": (
        {"device_price": "-200 USD/m2"}, {}, ["got '-200 USD/m2'; expected a price from 0 USD/m2 up"],
    ),
    "negative other price": ({}, {"well": "-1 USD/m3"}, ["[alternatives], well: got '-1 USD/m3'"]),
    "no currency": ({"device_price": "200 m2"}, {}, ["device_price: got '200 m2'", '"20 USD/m2"']),
    "a bare number": ({"device_price": 200}, {}, ["device_price: got 200", "three letters"]),
    "for the wrong thing": ({"device_price": "200 USD/kg"}, {}, ["got '200 USD/kg'", "a price for each m2"]),
    "as a whole": ({"treatment_price": "200 USD/m2"}, {}, ["got '200 USD/m2'", "a price as a whole"]),
    "no such kind": ({"module_price": {"coil": "9 USD"}}, {}, ["[cost], module_price", "coil"]),
    "misspelt": ({"devise_price": "200 USD/m2"}, {}, ["Did you mean 'device_price'?"]),
    "misspelt water": ({}, {"truckd": "5 USD/m3"}, ["Did you mean 'trucked'?"]),
    "share over bounds": ({"discount_rate": 8}, {}, ["discount_rate: got 8; expected from 0 to 1"]),
    "life of nothing": ({"plant_life": "0 year"}, {}, ["plant_life: got '0 year'; expected from 1 year to"]),
    "life without unit": ({"plant_life": 15}, {}, ["plant_life: got 15", '"15 year"']),
    "two of three": ({"plant_life": ["5 year", "9 year"]}, {}, ["got 2 entries; expected one value, or"]),
    "out of order": (
        {"device_price": ["9 USD/m2", "5 USD/m2", "7 USD/m2"]}, {}, ["low, central and high in this order"],
    ),
    "no table": ([1], {}, ["case.toml, [cost]: got [1]; expected a table"]),
    "odd rate": ({"device_price": "2 EUR/m2", "library_rate": -1}, {}, ["library_rate: got -1"]),
    "odd currency": ({"currency": "euros"}, {}, ["currency: got 'euros'; expected three letters"]),
}  # fmt: skip


@pytest.mark.parametrize("mistake", WRONG)
def test_each_mistake_is_named(mistake):
    cost, others, expected = WRONG[mistake]
    *_, problems = read(cost, others)
    for words in expected:
        assert any(words in problem for problem in problems), problems
    assert len(problems) == 1, problems


def test_all_mistakes_at_once():
    *_, problems = read({"device_price": "-1 USD/m2", "plant_life": "900 year"}, {"rain": "x"})
    assert len(problems) == 3


prices = st.fixed_dictionaries({name: st.floats(row.low, row.high) for name, row in ROWS.items()})


@given(numbers=prices, more=st.floats(1.0, 3.0))
@settings(deadline=None, derandomize=True, max_examples=100)
def test_parts_add_up_and_more_litres_never_cost_more(numbers, more):
    found = priced(SIZE, numbers)
    assert sum(found.parts.values()) == pytest.approx(found.per_litre)
    assert np.isfinite(found.per_litre)
    larger = priced(replace(SIZE, net=SIZE.net * more, delivered=SIZE.delivered * more), numbers)
    assert larger.per_litre <= found.per_litre * (1 + 1e-12)
    assert (
        priced(SIZE, {**numbers, "device_price": numbers["device_price"] + 1.0}).per_litre > found.per_litre
    )
