"""Harvesters side by side: counted leads, words for how sure they are, and a real pair."""

import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.special import ndtri

from box_cases import SILICA, box, site_of
from welkinwell.report.decision_charts import comparison_bars
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.compare import (
    Compared,
    Comparison,
    Entry,
    Lead,
    Plant,
    compare,
    lead,
    leads_of_plants,
)
from welkinwell.studies.compare import _verdict as verdict
from welkinwell.studies.uncertainty import shares_of
from welkinwell.supply.supply_uncertainty import Standing


def made(name, litres, draws):
    entry = Entry(name, SimpleNamespace(basis_area=2.0, modules=3), None, None, "here")
    found = SimpleNamespace(litres=np.array(draws))
    return Compared(entry, {"litres_per_day": litres}, np.zeros(12), "aperture", found)


def test_a_lead_is_counted_draw_by_draw():
    first = made("a", 6.0, [1.0, 2.0, 3.0, np.nan])
    second = made("b", 5.0, [0.5, 2.5, 2.0, 1.0])
    found = lead(first, second)
    assert (found.better, found.same, found.worse) == pytest.approx((2 / 3, 0.0, 1 / 3))


def led(of, over, better, same=0.0):
    return [Lead(of, over, "litres", better, same)]


def test_two_sorbents_do_not_lead_each_other_by_what_they_do_not_share(monkeypatch):
    """Litres made as the loading alone, one sorbent ten per cent better, each uncertain by 7 % by itself.

    By hand: ln a - ln b is normal about ln 1.1 with a deviation of 0.07 times the root of two, so that the
    better one leads in 83 % of the draws; with one number for both it would lead in all of them.
    """

    def drawn(design, material, site, *, draws, seed, parameters, columns, progress):
        shares = shares_of(parameters, draws, seed, columns)
        keys = [parameter.key for parameter in parameters]
        loading = np.exp(0.07 * ndtri(shares[:, keys.index("loading")]))
        better = 1.1 if material.key == SILICA else 1.0
        return SimpleNamespace(litres=better * loading)

    def simulated(entry):
        litres = 2.2 if entry.sorbent.key == SILICA else 2.0
        return {"litres_per_day": litres}, np.zeros(12), "aperture"

    monkeypatch.setattr("welkinwell.studies.compare.draw", drawn)
    monkeypatch.setattr("welkinwell.studies.compare._simulated", simulated)
    pair = [Entry(name, box(), sorbent(name), None, "here") for name in (SILICA, "aluminium_fumarate")]
    found = compare(pair, draws=4096)
    assert found.leads[0].better == pytest.approx(0.832, abs=0.02)
    shared, own = found.drawn_together.split("Each has a number of its own for")
    assert "loading of the sorbent" in own
    assert "leak of the closed box" in shared
    assert "sun: year to year" in shared


def plant(cost, days_met, currency="USD"):
    drawn = SimpleNamespace(
        cost=np.array(cost), days_met=np.array(days_met), demand_met=np.array(days_met),
        delivered=20.0 * np.array(days_met), carbon=0.1 * np.array(cost),
    )  # fmt: skip
    now = Standing(20.0, float(np.median(cost)), 0.02, 1.0, 1.0)
    return Plant(now, drawn, 100.0, currency)


def test_plants_are_held_against_each_other_draw_by_draw():
    """By hand over three draws: one that failed counts for nobody, and as good is not better."""
    first = replace(made("a", 6.0, [1.0, np.nan, 1.0, 1.0]), plant=plant([0.2, 0.2, 0.4], [1.0, 0.9, 0.8]))
    second = replace(made("b", 5.0, [1.0, 1.0, 1.0, 1.0]), plant=plant([0.3, 0.1, 0.1, 0.4], [1.0] * 4))
    assert list(first.of_plant("cost")) == pytest.approx([0.2, np.nan, 0.2, 0.4], nan_ok=True)
    found = {lead.figure: lead for lead in leads_of_plants(first, second)}
    assert (found["cost"].better, found["cost"].same) == pytest.approx((1 / 3, 1 / 3))  # 0.2 < 0.3, 0.4 = 0.4
    assert (found["days_met"].better, found["days_met"].same) == pytest.approx((0.0, 1 / 3))
    other = replace(second, plant=plant([0.3, 0.1, 0.1, 0.4], [1.0] * 4, "EUR"))
    assert "cost" not in {lead.figure for lead in leads_of_plants(first, other)}


def test_the_verdict_names_the_worse_downside_and_the_cheaper_litre():
    most = made("most", 6.0, np.linspace(0.2, 1.8, 21))
    safe = made("safe", 5.0, np.linspace(0.8, 0.9, 21))
    said = verdict([most, safe], led("most", "safe", 0.55))
    assert "do not tell the two apart" in said
    # six m2 of each: a tenth of the way up from 0.2 to 1.8, and from 0.8 to 0.9
    assert (
        "In its poor draws most gives less: 2.16 L/day are exceeded in 90 % of its draws, 4.86 in 90 % of"
        in said
    )
    assert "poor draws" not in verdict([safe, made("c", 4.0, [0.1])], led("safe", "c", 1.0))
    costs = np.linspace(0.1, 0.4, 21)
    most, safe = (
        replace(one, plant=plant(cost, np.ones(21))) for one, cost in ((most, costs), (safe, costs - 0.05))
    )
    said = verdict([most, safe], led("most", "safe", 0.55))
    assert "A delivered litre is cheapest from safe: 0.20 USD against 0.25 from most" in said
    assert "cheaper in 100 % of the draws" in said


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.97, "as good as sure"), (0.85, "likely, not sure"), (0.6, "do not tell the two apart")],
)
def test_the_verdict_says_how_sure_it_is(share, words):
    entries = [made("a", 6.0, [1.0]), made("b", 5.0, [1.0])]
    said = verdict(entries, led("a", "b", share))
    assert words in said
    assert f"{100 * share:.0f} %" in said
    assert "stands alone" in verdict(entries[:1], [])


def test_a_box_with_a_larger_bed_leads_its_twin_in_every_draw():
    """The same box with a tenth of the bed gives less under any weather."""
    material, site = sorbent(SILICA), site_of("coast")
    small = box(sorbent_mass=0.8, bed_area=0.4)
    found = compare(
        [Entry("small", small, material, site, "coast"), Entry("whole", box(), material, site, "coast")],
        draws=16,
    )
    assert [one.entry.name for one in found.entries] == ["whole", "small"]
    assert found.leads == led("whole", "small", 1.0)
    data = found.as_data()
    assert data["entries"][0]["litres_per_m2_day"] > data["entries"][1]["litres_per_m2_day"]
    assert set(data["entries"][0]["litres_per_m2_day_exceeded_in"]) == {"90 %", "50 %", "10 %"}


def counted(first, second):
    """The verdict of two harvesters as their draws make it, and its data as JSON."""
    leads = [lead(first, second)]
    said = verdict([first, second], leads)
    return said, json.loads(json.dumps(Comparison([], leads, said).as_data(), allow_nan=False))["leads"][0]


def test_draws_that_turn_the_order_are_told():
    """The second is ahead in every draw, which was called a tie."""
    draws = np.linspace(0.8, 1.2, 20)
    said, data = counted(made("a", 1.00, draws), made("b", 0.99, draws + 0.05))
    assert "a gives most: 1 L/day against 0.99 of b" in said
    assert (
        "But with what is in doubt drawn the order turns, and that is as good as sure: b gives more in 100 %"
        in said
    )
    assert (data["share_of_draws"], data["as_good_in"]) == (0.0, 0.0)
    said, _ = counted(
        made("a", 1.0, draws), made("b", 0.99, draws + np.where(np.arange(20) < 3, -0.05, 0.05))
    )
    assert "the order likely turns: b gives more in 85 % of the draws" in said


def test_twins_give_the_same():
    draws = np.linspace(0.8, 1.2, 20)
    said, data = counted(made("a", 1.0, draws), made("b", 1.0, draws))
    assert (
        "a and b give as much as each other: 1 L/day. With what is in doubt drawn they give the same in 100 %"
        in said
    )
    assert (data["share_of_draws"], data["as_good_in"]) == (0.0, 1.0)
    said, _ = counted(made("a", 1.0, draws), made("b", 1.0, draws - np.where(np.arange(20) < 10, 0.0, 0.1)))
    assert "do not tell the two apart: a gives more in 50 % of the draws and as much in 50 %" in said


def test_draws_that_all_failed_tell_nothing():
    nothing = np.full(20, np.nan)
    said, data = counted(made("a", 1.001, nothing), made("b", 1.0, np.linspace(0.8, 1.2, 20)))
    assert "a gives most: 1.001 L/day against 1 of b" in said  # not 1 against 1
    assert "cannot be told: no draw could be simulated" in said and "nan" not in said
    assert data["share_of_draws"] is None and data["as_good_in"] is None
    bars = comparison_bars(SimpleNamespace(entries=[made("a", 1.0, nothing), made("b", 0.9, np.ones(20))]))
    assert "a 1.0; b 0.9" in bars.alternative


def test_a_draw_without_water_has_the_dearest_litre():
    """Dry in half of the draws, a litre for 0.1 in the others, against 0.2 in all: cheaper in half."""
    half = np.arange(20) < 10
    costs = np.where(half, np.nan, 0.1)
    first = replace(made("a", 6.0, np.where(half, 0.0, 1.0)), plant=plant(costs, np.where(half, 0.0, 1.0)))
    first = replace(first, plant=replace(first.plant, now=Standing(20.0, 0.1, 0.02, 1.0, 1.0)))
    second = replace(made("b", 5.0, np.ones(20)), plant=plant(np.full(20, 0.2), np.ones(20)))
    for one, other, share in ((first, second, 0.5), (second, first, 0.5), (first, first, 0.0)):
        found = {lead.figure: lead for lead in leads_of_plants(one, other)}
        assert found["cost"].better == found["carbon"].better == share
    said = verdict([first, second], led("a", "b", 0.5))
    assert (
        "cheapest from a: 0.10 USD against 0.20 from b, the next, and cheaper in 50 % of the draws." in said
    )
    failed = replace(first, draws=SimpleNamespace(litres=np.where(half, np.nan, 1.0)))
    failed = replace(failed, plant=plant(np.full(10, 0.1), np.ones(10)))
    assert {one.figure: one.better for one in leads_of_plants(failed, second)}["cost"] == 1.0


def test_a_litre_that_is_dearer_in_most_draws_is_told():
    """As simulated the first is cheaper, in the draws the second."""
    first = replace(made("a", 6.0, np.ones(20)), plant=plant(np.full(20, 0.3), np.ones(20)))
    first = replace(first, plant=replace(first.plant, now=Standing(20.0, 0.1, 0.02, 1.0, 1.0)))
    second = replace(made("b", 5.0, np.ones(20)), plant=plant(np.full(20, 0.2), np.ones(20)))
    said = verdict([first, second], led("a", "b", 0.9))
    assert "the next; but in 100 % of the draws that of b is the cheaper one." in said
    said = verdict([second, replace(second, entry=first.entry)], led("b", "a", 0.9))
    assert "cheapest from b and a: 0.20 USD from either, and as cheap in 100 % of the draws." in said
