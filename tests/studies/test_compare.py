"""Harvesters side by side: counted leads, words for how sure they are, and a real pair."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.special import ndtri

from box_cases import SILICA, box, site_of
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.compare import Compared, Entry, Plant, compare, lead, leads_of_plants
from welkinwell.studies.compare import _verdict as verdict
from welkinwell.studies.uncertainty import shares_of
from welkinwell.supply.sureness import Standing


def made(name, litres, draws):
    entry = Entry(name, SimpleNamespace(basis_area=2.0, modules=3), None, None, "here")
    found = SimpleNamespace(litres=np.array(draws))
    return Compared(entry, {"litres_per_day": litres}, np.zeros(12), "aperture", found)


def test_a_lead_is_counted_draw_by_draw():
    first = made("a", 6.0, [1.0, 2.0, 3.0, np.nan])
    second = made("b", 5.0, [0.5, 2.5, 2.0, 1.0])
    assert lead(first, second) == pytest.approx(2 / 3)


def test_two_sorbents_do_not_lead_each_other_by_what_they_do_not_share(monkeypatch):
    """Litres made as the loading alone, one sorbent ten per cent better, each uncertain by 7 % by itself.

    By hand: ln a - ln b is normal about ln 1.1 with a deviation of 0.07 times the root of two, so that the
    better one leads in 83 % of the draws; with one number for both it would lead in all of them.
    """

    def drawn(design, material, site, *, draws, seed, doubts, columns, progress):
        shares = shares_of(doubts, draws, seed, columns)
        keys = [doubt.key for doubt in doubts]
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
    assert found.leads[0][2] == pytest.approx(0.832, abs=0.02)
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
    said = verdict([most, safe], [("most", "safe", 0.55)])
    assert "do not tell the two apart" in said
    # six m2 of each: a tenth of the way up from 0.2 to 1.8, and from 0.8 to 0.9
    assert (
        "In its poor draws it gives less: 2.16 L/day are exceeded in 90 % of its draws, 4.86 in 90 % of"
        in said
    )
    assert "poor draws" not in verdict([safe, made("c", 4.0, [0.1])], [("safe", "c", 1.0)])
    costs = np.linspace(0.1, 0.4, 21)
    most, safe = (
        replace(one, plant=plant(cost, np.ones(21))) for one, cost in ((most, costs), (safe, costs - 0.05))
    )
    said = verdict([most, safe], [("most", "safe", 0.55)])
    assert "A delivered litre is cheapest from safe: 0.2 USD against 0.25 from most" in said
    assert "cheaper in 100 % of the draws" in said


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.97, "as good as sure"), (0.85, "likely, not sure"), (0.6, "do not tell the two apart")],
)
def test_the_verdict_says_how_sure_it_is(share, words):
    entries = [made("a", 6.0, [1.0]), made("b", 5.0, [1.0])]
    said = verdict(entries, [("a", "b", share)])
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
    assert found.leads == [("whole", "small", 1.0)]
    data = found.as_data()
    assert data["entries"][0]["litres_per_m2_day"] > data["entries"][1]["litres_per_m2_day"]
    assert set(data["entries"][0]["litres_per_m2_day_exceeded_in"]) == {"90 %", "50 %", "10 %"}
