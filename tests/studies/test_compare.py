"""Harvesters side by side: counted leads, words for how sure they are, and a real pair."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.special import ndtri

from box_cases import SILICA, box, site_of
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.compare import Compared, Entry, compare, lead
from welkinwell.studies.compare import _verdict as verdict
from welkinwell.studies.uncertainty import shares_of


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
