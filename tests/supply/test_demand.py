"""Demands by people, use and season; by hand, and as a case says them."""

import numpy as np
import pytest

from welkinwell.supply.demand import (
    MINIMA,
    PATTERNS,
    demand_lines,
    demand_warnings,
    read_demand,
)


def read(**table):
    problems = []
    found = read_demand(table, "case.toml, [demand]", problems)
    return found, [str(problem) for problem in problems]


def good(**table):
    found, problems = read(**table)
    assert problems == []
    return found


def test_people():
    found = good(
        residents=4, litres_per_resident_day="4 L/day", visitors=8, litres_per_visitor_day="0.5 L/day"
    )
    assert found.litres_per_day == 20.0
    assert found.people == 12
    assert found.daily(365).tolist() == [20.0] * 365


def test_uses_with_published_quantities():
    """By hand: 6 people at Sphere's 15 L, 40 pupils at 3 L in ten months of twelve, 2 goats at our 4 L."""
    found = good(
        use=[
            {"use": "basic needs", "heads": 6},
            {"use": "school", "heads": 40, "monthly_factors": [1, 1, 1, 1, 1, 1, 0, 0, 1, 1, 1, 1]},
            {"use": "sheep or goats", "heads": 2, "litres_per_head_day": "4 L/day"},
        ]
    )
    assert found.by_month[0] == 6 * 15 + 40 * 3 + 2 * 4
    assert found.by_month[6] == 6 * 15 + 2 * 4
    year = found.daily(365)
    assert year.sum() == pytest.approx(365 * 98 + (365 - 62) * 120)
    assert found.litres_per_day == pytest.approx(year.mean())
    assert (found.people, found.seasonal) == (46, True)
    said = " ".join(demand_lines(found))
    assert "Sphere2011" in said and "published least: 5 L" in said and "from 98 L/day" in said


def test_seasons():
    factors = [2, 2, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1]
    scaled = good(litres_per_day="10 L/day", monthly_factors=factors)
    assert scaled.daily(365).sum() == pytest.approx(10 * (365 + 59))
    table = good(litres_per_day_by_month=[f"{10 * f} L/day" for f in factors])
    assert table.daily(365) == pytest.approx(scaled.daily(365))
    assert scaled.daily(730)[365:] == pytest.approx(scaled.daily(365))


def test_hours_share_out_the_day():
    for pattern in PATTERNS:
        found = good(litres_per_day="12 L/day", hours=pattern)
        hours = found.hourly(3).reshape(3, 24)
        assert hours.sum(axis=1) == pytest.approx([12.0] * 3)
    own = good(litres_per_day="12 L/day", hourly_shares=[0] * 7 + [2] + [0] * 10 + [1] + [0] * 5)
    hours = own.hourly(1)
    assert (hours[7], hours[18], hours.sum()) == pytest.approx((8.0, 4.0, 12.0))
    assert np.count_nonzero(hours) == 2


WRONG = {
    "zero": ({"residents": 0, "litres_per_resident_day": "3 L/day"}, "got no water asked for"),
    "zero months": ({"litres_per_day_by_month": ["0 L/day"] * 12}, "got no water asked for"),
    "zero litres": ({"litres_per_day": "0 L/day"}, "litres_per_day: got '0 L/day'"),
    "two totals": (
        {"litres_per_day": "9 L/day", "litres_per_day_by_month": ["9 L/day"] * 12},
        "got litres_per_day and litres_per_day_by_month; expected one of the two",
    ),
    "total and people": (
        {"litres_per_day": "9 L/day", "residents": 3, "litres_per_resident_day": "3 L/day"},
        "got litres_per_day and residents; expected either",
    ),
    "uses and people": (
        {"use": [{"use": "survival", "heads": 3}], "residents": 3, "litres_per_resident_day": "3 L/day"},
        "got [[demand.use]] and residents",
    ),
    "months scaled": (
        {"litres_per_day_by_month": ["9 L/day"] * 12, "monthly_factors": [1] * 12},
        "got litres_per_day_by_month and monthly_factors",
    ),
    "eleven months": ({"litres_per_day": "9 L/day", "monthly_factors": [1] * 11}, "got 11 entries"),
    "a month in words": (
        {"litres_per_day": "9 L/day", "monthly_factors": [1] * 11 + ["much"]},
        "monthly_factors, entry 12: got 'much'",
    ),
    "negative month": (
        {"litres_per_day": "9 L/day", "monthly_factors": [-1] + [1] * 11},
        "monthly_factors, entry 1: got -1; expected a plain number, from 0 to 20",
    ),
    "months without a unit": ({"litres_per_day_by_month": [9] * 12}, "entry 1: got 9"),
    "unknown use": ({"use": [{"use": "survivl", "heads": 3}]}, "Did you mean 'survival'?"),
    "no heads": ({"use": [{"use": "survival"}]}, "[[demand.use]] 1, heads: got nothing"),
    "use without brackets": ({"use": {"use": "survival", "heads": 3}}, "Two brackets"),
    "all hours dry": ({"litres_per_day": "9 L/day", "hourly_shares": [0] * 24}, "hourly_shares: got zeros"),
    "hours twice": (
        {"litres_per_day": "9 L/day", "hourly_shares": [1] * 24, "hours": "even"},
        "got hours and hourly_shares",
    ),
    "misspelt key": ({"litres_per_day": "9 L/day", "resident": 3}, "Did you mean 'residents'?"),
}  # fmt: skip


@pytest.mark.parametrize("mistake", WRONG)
def test_each_mistake_is_named(mistake):
    table, words = WRONG[mistake]
    found, problems = read(**table)
    assert found is None
    assert any(words in problem for problem in problems), problems
    assert all(problem.startswith("case.toml, [") for problem in problems)


def test_residents_alone_get_the_usual_litres_and_it_is_said():
    """4 L a resident and day: common practice, no source; beside it the published least (Sphere2011)."""
    alone = good(residents=6)
    assert alone.litres_per_day == pytest.approx(24.0)
    assert alone.resident_litres_assumed
    assert not good(residents=6, litres_per_resident_day="4 L/day").resident_litres_assumed
    said = " ".join(demand_lines(alone))
    practice = "common practice for drinking, no source"
    for words in ("24 L/day", "6 residents at 4 L", practice, "2.5 to 3 L, Sphere2011"):
        assert words in said, words
    found, problems = read(visitors=8)
    assert found is None and "no litres_per_visitor_day" in problems[0]
    found, problems = read(litres_per_resident_day="4 L/day")
    assert found is None and "no residents" in problems[0]


def test_one_and_many_are_told_apart_and_large_litres_are_written_out():
    one = good(residents=1, litres_per_resident_day="4 L/day", visitors=1, litres_per_visitor_day="1 L/day")
    assert "1 resident at 4 L and 1 visitor at 1 L" in demand_lines(one)[0]
    patients = good(use=[{"use": "inpatient", "heads": 12000, "litres_per_head_day": "30 L/day"}])
    said = " ".join([*demand_lines(patients), *demand_warnings(patients)])
    assert "12,000 at 30 L an inpatient and day" in said and "30 L an inpatient and day for inpatient" in said
    seasons = good(litres_per_day="25000 L/day", monthly_factors=[0.8, 1.2] * 6)
    assert "from 20,000 L/day in the least month to 30,000 L/day" in " ".join(demand_lines(seasons))


def test_what_is_asked_too_much_or_too_little_is_said():
    assert "far above" in demand_warnings(good(residents=2, litres_per_resident_day="120 L/day"))[0]
    assert "survival" in demand_warnings(good(residents=2, litres_per_resident_day="2 L/day"))[0]
    low = good(use=[{"use": "basic needs", "heads": 1, "litres_per_head_day": "5 L/day"}])
    assert "published least of 7.5 L" in demand_warnings(low)[0]
    assert demand_warnings(good(use=[{"use": "basic needs", "heads": 1}])) == []


def test_the_published_quantities_are_in_their_own_bounds_and_sourced():
    from welkinwell.report.citations import reference

    for name, least in MINIMA.items():
        assert least.low <= least.litres <= least.high, name
        assert (least.source and reference(least.source) != least.source) or "no source" in least.remark, name


def test_uses_of_a_household_are_of_the_same_people():
    """By hand: 6 people at 3 + 6 + 6 L, and cattle that drink no person's water."""
    uses = [{"use": use, "heads": 6} for use in ("survival", "basic hygiene", "cooking")]
    found = good(use=[*uses, {"use": "cattle", "heads": 20}])
    assert found.people == 6
    assert found.litres_per_day == pytest.approx(90.0 + 500.0)
    assert found.litres_per_person == pytest.approx(15.0)
    assert demand_warnings(found) == []
    herd = good(use=[{"use": "cattle", "heads": 20}])
    assert (herd.people, herd.litres_per_person) == (0, None)


def test_what_a_resident_gets_is_what_was_asked_for_a_resident():
    """Visitors and animals do not thin it; people of uses share what is left to people."""
    found = good(
        residents=4, litres_per_resident_day="4 L/day", visitors=8, litres_per_visitor_day="0.5 L/day"
    )
    assert found.litres_per_person == pytest.approx(4.0)
