"""Harvesters side by side: counted leads, words for how sure they are, and a real pair."""

from types import SimpleNamespace

import numpy as np
import pytest

from box_cases import SILICA, box, site_of
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.compare import Compared, Entry, compare, lead
from welkinwell.studies.compare import _verdict as verdict


def made(name, litres, draws):
    entry = Entry(name, SimpleNamespace(basis_area=2.0, modules=3), None, None, "here")
    found = SimpleNamespace(litres=np.array(draws))
    return Compared(entry, {"litres_per_day": litres}, np.zeros(12), "aperture", found)


def test_a_lead_is_counted_draw_by_draw():
    first = made("a", 6.0, [1.0, 2.0, 3.0, np.nan])
    second = made("b", 5.0, [0.5, 2.5, 2.0, 1.0])
    assert lead(first, second) == pytest.approx(2 / 3)


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
