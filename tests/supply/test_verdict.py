"""Whether to build: each decision by a plant and prices made for it; the parts list by hand."""

import json
from dataclasses import asdict, replace

import numpy as np
import pytest

from welkinwell.harvesters.kinds import KINDS
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.supply.cost import default_cost, price_draws, read_money_tables
from welkinwell.supply.decision import decision, decision_summary, standing
from welkinwell.supply.demand import read_demand
from welkinwell.supply.field import Field
from welkinwell.supply.net_water import Collection, Treatment
from welkinwell.supply.parts_list import masses_by_material, parts_list
from welkinwell.supply.plant import modules_to_try, plant_supply
from welkinwell.supply.supply_uncertainty import supply_uncertainty
from welkinwell.supply.verdict import CLOSE, ELSEWHERE, NO, NOT_THIS, YES, money

DESIGN = {
    "glazing_thickness": 0.004, "bed_metal": 3.0, "bed_area": 4.0, "sorbent_mass": 8.0,
    "layer_thickness": 0.003, "condenser_mass": 6.0, "condenser_outer_area": 3.0,
}  # fmt: skip
MACHINE, CASE, METAL = "Case, fans, control", "Case, insulation, seals", "Metal of absorber, bed and fins"
EVERY = ("piped", "trucked", "bottled", "well", "rain", "desalinated")


def decided(litres=1.5, alternatives=None, each="4 L/day", modules=9, tank=285.0, cost=None):
    """Four people beside a plant of 2 m2 modules that gives so many litres a m2 on each morning."""
    problems = []
    demand = read_demand({"residents": 4, "litres_per_resident_day": each}, "case.toml, [demand]", problems)
    choices, others = read_money_tables(
        {"cost": cost or {}, "alternatives": alternatives or {}}, "case.toml", problems
    )
    assert problems == []
    hours = np.zeros((365, 24))
    hours[:, 10] = litres
    supply = plant_supply(hours.ravel(), 2.0, modules, demand, tank, Collection(), Treatment())
    stand = standing(
        Field(), supply, modules, 2.0, 1.5, hours.ravel(), np.full(8760, 2.0), np.full(8760, 0.01), None
    )
    found = decision(
        supply,
        demand,
        DESIGN,
        2.0,
        modules,
        sorbent("silica_gel_type_a"),
        "passive_box",
        0.0,
        300.0,
        4,
        choices,
        others,
        stand,
    )
    return supply, found


def test_the_water_of_a_working_module_is_not_cut_by_outages():
    """Ten modules give 25 L a day while all work, 2.5 L each: 20 L take eight of them."""
    problems = []
    demand = read_demand({"litres_per_day": "20 L/day"}, "case.toml, [demand]", problems)
    hours = np.zeros((365, 24))
    hours[:, 10] = 1.25  # of modules of 2 m2
    for availability in (1.0, 0.8):
        treatment = Treatment(availability=availability, backwash=0.0, samples_per_year=0)
        supply = plant_supply(hours.ravel(), 2.0, 10, demand, 300.0, Collection(drips=0.0), treatment)
        field = Field(module_availability=0.6)
        stand = standing(
            field, supply, 10, 2.0, 1.5, hours.ravel(), np.full(8760, 2.0), np.full(8760, 0.01), None
        )
        assert stand.needed == 8
        assert stand.chance == pytest.approx(0.1673, abs=1e-4)  # of ten at 0.6, eight or more: binomial table
    assert problems == []


def test_no_water_no_plant():
    _, found = decided(litres=0.0, alternatives={"trucked": "5 USD/m3"})
    assert found.verdict.decision == NO
    assert "delivers no water" in found.verdict.sentence
    assert found.verdict.area_needed is None and found.cost.central.per_litre is None


def test_cheaper_water_that_is_there_says_no_first_and_plainly():
    _, found = decided(alternatives={"trucked": "5.5 USD/m3"})
    assert found.verdict.decision == NO
    assert found.verdict.sentence.startswith("Do not build: trucked water is there at 0.0055 USD a litre")
    ratio = found.cost.central.per_litre / 0.0055
    assert f"{ratio:,.0f} times as much" in found.verdict.sentence


def test_without_prices_of_ones_own_it_depends_on_other_water():
    _, found = decided()
    assert found.verdict.decision == ELSEWHERE
    assert found.verdict.sentence.startswith(
        "Do not build where piped, desalinated, well, rain or trucked water"
    )
    told = {other.name: other for other in found.verdict.compared}
    assert told["piped"].there is None and "Barranquilla" in told["piped"].source
    costs = [other.central for other in found.verdict.compared]
    assert costs == sorted(costs)


def test_too_little_water_is_not_this_design():
    supply, found = decided(modules=1)
    assert supply.daily.share_of_demand_met < 0.5
    assert found.verdict.decision == NOT_THIS
    assert any("modules with" in reason for reason in found.verdict.reasons)
    assert any("Published prices of piped" in reason for reason in found.verdict.reasons)


def test_overlapping_prices_are_too_close_to_call():
    others = {name: "none" for name in EVERY} | {"bottled": ["0.2 USD/L", "0.3 USD/L", "0.6 USD/L"]}
    _, found = decided(alternatives=others)
    assert found.verdict.decision == CLOSE


def test_where_all_other_water_is_dear_or_missing_it_is_worth_building():
    nothing = {name: "none" for name in EVERY}
    _, found = decided(alternatives=nothing)
    assert found.verdict.decision == YES and "no other water is there" in found.verdict.sentence
    _, found = decided(alternatives=nothing | {"trucked": "3 USD/L"})
    assert found.verdict.decision == YES and "less than any other water" in found.verdict.sentence


def test_areas_by_hand():
    """1.5 L/m2 less 3, 1 and 5 % and samples are 1.367 L/m2 a day: 16 L/day take 11.7 m2, 4 L 2.92 m2."""
    supply, found = decided()
    net = (1.5 * 0.97 * 0.99 - 4 * 2.0 / 365.0 / 18.0) * 0.95
    assert supply.net_per_day == pytest.approx(18.0 * net)
    assert found.verdict.area_needed == pytest.approx(16.0 / net)
    assert found.verdict.area_per_person == pytest.approx(4.0 / net)
    assert found.verdict.area_needed_worst_month == pytest.approx(16.0 / net, rel=0.01)
    assert any("4 L/day for one person take 2.9 m²" in reason for reason in found.verdict.reasons)


def test_the_spilled_litres_are_paid_for():
    _, found = decided(each="1 L/day")
    assert any("is not drawn" in reason for reason in found.verdict.reasons)
    central = found.cost.central
    assert central.per_net_litre < 0.3 * central.per_litre


def test_a_tank_below_a_day_is_warned_of_with_a_number_and_no_error():
    supply, _ = decided(tank=12.0)
    assert (
        supply.warnings
        and "12 L" in supply.warnings[0]
        and "75 % of a day's demand (16 L)" in supply.warnings[0]
    )
    assert supply.daily.delivered.max() <= 12.0 + 1e-9
    assert supply.hourly.share_of_demand_met > supply.daily.share_of_demand_met
    coarse, _ = decided(tank=40.0)
    assert "by the hour are the better ones" in coarse.warnings[0]
    assert decided(tank=285.0)[0].warnings == []
    assert decided(tank=None)[0].warnings == []


def test_much_asked_for_is_said():
    _, found = decided(each="120 L/day")
    assert "far above" in found.verdict.doubts[0]


def test_the_parts_list_by_hand():
    parts = {part.name: part for part in parts_list(DESIGN, 18.0, 9, 300.0)}
    assert parts["Glass"].mass == pytest.approx(18.0 * 0.004 * 2500.0)
    assert (parts["Dry sorbent"].area, parts["Dry sorbent"].mass) == (72.0, 144.0)
    assert (parts["Condenser"].area, parts["Condenser"].mass) == (54.0, 108.0)
    assert parts["Tank"].mass == pytest.approx(9.0)
    masses = masses_by_material(list(parts.values()))
    assert masses == pytest.approx({"glass": 180.0, "aluminium": 54.0 + 108.0, "frame": 180.0, "tank": 9.0})
    machine = {"heat_by": "resistance", "heating_power": 4000.0, "face_velocity": 0.25, "sorbent_mass": 21.0}
    told = {part.name: part for part in parts_list(machine, 0.2, 2, 0.0)}
    assert set(told) == {"Dry sorbent", "Heating", "Fan", "Case, fans, control"}
    assert (
        told["Heating"].remark == "0.8 kW of heat in all" and told["Fan"].remark == "180 m³/h of air in all"
    )
    assert told["Case, fans, control"].mass == 40.0


def test_spares_and_dried_air_of_a_plant():
    """1.5 kg/m2 in one hour over 1.5 m2 of ground, 27 m2 of ground in all, 2 m/s, 2 m high, 10 g/m3."""
    supply, found = decided()
    stand = found.standing
    by_hand = 1.5 / 1.5 / 3600.0 * 27.0**0.5 / (2.0 * 2.0 * 0.01)
    assert (stand.dried_highest, stand.dried) == pytest.approx((by_hand, by_hand))
    each = supply.net_per_day / 9 / 0.95
    assert stand.needed == int(np.ceil(16.0 / each))
    assert 0.0 < stand.chance <= 1.0 and stand.installed_for_confidence >= stand.needed


def test_modules_to_try_bracket_the_demand():
    tried = modules_to_try(np.full(365, 10.0), np.full(365, 20.0), 5)
    assert tried == sorted(set(tried)) and {5, 10} <= set(tried)
    assert min(tried) < 10 < max(tried)
    assert modules_to_try(np.zeros(365), np.full(365, 20.0), 5) == [5]


def test_the_summary_is_plain_data():
    import json

    for litres in (0.0, 1.5):
        supply, found = decided(litres=litres)
        told = json.loads(json.dumps(decision_summary(supply, found), allow_nan=False))
        assert {"delivered", "cost", "verdict", "parts", "field"} == set(told)
        assert told["cost"]["currency"] == "USD"
        assert {row["from"] for row in told["cost"]["assumptions"].values()} == {"assumption"}
    parts = sum(told["cost"]["parts_per_litre"].values())
    assert parts == pytest.approx(told["cost"]["per_litre_delivered"]["central"])


def test_a_known_price_narrows_the_interval():
    wide = decided()[1].cost
    rows = default_cost().for_plant(sorbent("silica_gel_type_a"))
    dearest = max(wide.swings, key=lambda swing: abs(swing[2] - swing[1]))[0]
    own = {dearest.name: f"{rows[dearest.name].value:g} {rows[dearest.name].unit}"}
    known = decided(cost=own)[1].cost
    assert known.high - known.low < wide.high - wide.low
    assert replace(dearest, given=True).provenance() == "the case"


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        ("cooling_coil", {"Coil: fins and tubes", "Heat rejection", "Compressor", "Fan", MACHINE}),
        ("dew_condenser", {"Sheet", "Insulation and frame"}),
        (
            "liquid_desiccant",
            {"Glass", "Dry salt", "Absorber (film)", "Tank of the solution", "Pump", CASE},
        ),
        (
            "hybrid",
            {"Glass", METAL, "Dry sorbent", "Condenser", "Night radiator", "Heat pump", "Fan", CASE},
        ),
    ],
)  # fmt: skip
def test_each_kind_lists_its_own_parts(kind, expected):
    design = asdict(KINDS[kind].load()())
    assert {part.name for part in parts_list(design, 2.0, 1, 0.0)} == expected


def test_a_dew_sheet_weighs_sheet_and_frame():
    """10 m2 of 0.5 kg/m2 sheet on 3 kg/m2 of foam and frame."""
    parts = {part.name: part for part in parts_list(asdict(KINDS["dew_condenser"].load()()), 10.0, 1, 0.0)}
    assert (parts["Sheet"].mass, parts["Insulation and frame"].mass) == (5.0, 30.0)


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_has_prices_of_its_own(kind):
    rows = default_cost().for_plant(None, kind)
    assert rows["device_price"].value + rows["module_price"].value > 0.0
    assert (
        kind == "passive_box"
        or "judgement" in rows["plant_life"].where
        or "memory" in rows["plant_life"].where
    )


def in_draws(by_month, **given):
    supply, found = decided(**given)
    case = np.full(12, 1.5)
    return (
        supply,
        found,
        supply_uncertainty(supply, found.cost, found.verdict, case, by_month, np.zeros(len(by_month))),
    )


def test_draws_that_are_the_case_give_its_cost_and_its_verdict():
    supply, found, sure = in_draws(np.full((8, 12), 1.5), alternatives={"trucked": "5 USD/m3"})
    assert sure.by_litres == pytest.approx(found.cost.central.per_litre, rel=1e-12)
    assert sure.days_met == pytest.approx(supply.daily.share_of_days_met)
    assert np.ptp(sure.cost) > 0.0  # the prices are drawn
    assert found.verdict.decision == NO
    assert sure.cheaper == [("trucked", 1.0)]
    assert sure.stands == 1.0
    assert "trucked water costs less in 100 % of them" in " ".join(sure.words())


def test_draws_with_a_quarter_of_the_water_meet_what_they_bring():
    """A flat year: of 16 L/day asked for, a quarter of the plant's net water comes and is drawn."""
    none = dict.fromkeys(EVERY, "none")
    supply, found, sure = in_draws(np.outer([1.0, 0.25], np.full(12, 1.5)), alternatives=none)
    brought = 0.25 * supply.net_per_day
    assert sure.demand_met[1] == pytest.approx(brought / 16.0, rel=1e-9)
    assert sure.days_met[1] == 0.0
    assert sure.by_litres[1] > 2.0 * sure.by_litres[0]
    assert sure.share_that_supplies == 0.5
    assert found.verdict.decision == YES
    assert sure.stands == 0.5  # the other draw brings less than half of the demand


def test_draws_hold_delivered_litres_and_carbon_too():
    """A draw that is the case delivers what the case does; drawn factors stay between their ends."""
    supply, found, sure = in_draws(np.full((64, 12), 1.5))
    assert sure.delivered == pytest.approx(supply.daily.delivered.mean())
    assert sure.now.delivered == pytest.approx(supply.daily.delivered.mean())
    assert sure.now.carbon == found.cost.carbon[1]
    fixed = {
        name: replace(entry, low=entry.value, high=entry.value) for name, entry in found.cost.rows.items()
    }
    plain = supply_uncertainty(
        supply, replace(found.cost, rows=fixed), found.verdict, np.full(12, 1.5), np.full((64, 12), 1.5),
        np.zeros(64),
    )  # fmt: skip
    low, central, high = found.cost.carbon
    assert low <= plain.carbon.min() < plain.carbon.max() <= high
    assert np.median(plain.carbon) == pytest.approx(central, rel=0.2)
    data = sure.as_data()
    assert data["litres_delivered_per_day_exceeded_in"]["50 %"] == pytest.approx(sure.delivered[0])
    assert data["carbon_kg_per_delivered_litre_exceeded_in"]["50 %"] > 0.0


def test_other_goods_have_prices_of_their_own():
    """Two sorbents' prices are two doubts; all else that two plants pay is one."""
    _, found = decided()
    plain, silica, gel = (
        price_draws(found.cost.rows, whose)
        for whose in (None, {"sorbent_price": "silica_gel"}, {"sorbent_price": "licl_gel"})
    )
    for name in ("device_price", "discount_rate"):
        assert [one[name] for one in silica] == [one[name] for one in gel] == [one[name] for one in plain]
    prices = np.array([[one["sorbent_price"] for one in draws] for draws in (silica, gel)])
    assert abs(np.corrcoef(prices)[0, 1]) < 0.15


def test_a_draw_that_failed_leaves_the_others_their_prices():
    supply, found, whole = in_draws(np.full((8, 12), 1.5))
    rest = np.array([0, 1, 4, 7])
    left = supply_uncertainty(
        supply, found.cost, found.verdict, np.full(12, 1.5), np.full((4, 12), 1.5), np.zeros(4), numbers=rest
    )
    assert left.cost == pytest.approx(whole.cost[rest], rel=1e-12)
    assert left.carbon == pytest.approx(whole.carbon[rest], rel=1e-12)


def test_draws_without_water_have_no_cost():
    _, _, sure = in_draws(np.zeros((4, 12)))
    assert np.isnan(sure.cost).all()
    assert sure.as_data()["cost_per_delivered_litre_exceeded_in"]["50 %"] is None
    assert "In no draw" in sure.words()[0]
    _, _, sure = in_draws(np.outer([1.0, 1.0, 1.0, 0.0], np.full(12, 1.5)))
    assert "of the draws that deliver any; 25 % of the draws deliver none." in sure.words()[0]


def test_without_a_draw_nothing_is_told():
    """All draws failed: no share is a share of nothing, and the data is JSON."""
    _, _, sure = in_draws(np.zeros((0, 12)), alternatives={"trucked": "5 USD/m3"})
    assert sure.words() == ["No draw could be simulated, so nothing tells how sure cost and supply are."]
    assert json.loads(json.dumps(sure.as_data(), allow_nan=False))["other_water_cheaper_in"] == {}


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (0.0234, "0.023"),
        (9.96, "10"),
        (99.4, "99"),
        (99.6, "100"),
        (-99.6, "-100"),
        (1550.0, "1,550"),
    ],
)
def test_a_price_has_no_exponent(value, text):
    """99.6 stood as 1e+02."""
    assert money(value) == text
