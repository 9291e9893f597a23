"""The report's accounts of heat and water add up, and agree with the year by another way."""

import numpy as np
import pytest

from welkinwell.report.accounts import heat_of, sun_on_aperture, water_ways
from welkinwell.report.charts import HEAT_RAMP, SERIES, WATER_RAMP
from welkinwell.report.days import date_of_day, day_at_quantile, day_series, first_hour


@pytest.mark.parametrize("part", ["bed_temperature", "condenser_temperature", "glazing_temperature"])
def test_heat_in_is_heat_out(answer, part):
    """The year starts as it ends, so each part gives off what it gets."""
    account = heat_of(answer.harvesters[0].year, part)
    assert account.total_in > 100.0
    assert abs(account.stored) < 1e-6 * account.total_in
    assert all(amount > 0.0 for _, _, amount in account.entries)


def test_heat_agrees_with_the_year(answer):
    """The same flows as summed hour by hour, in kWh."""
    year = answer.harvesters[0].year
    joules = {name: float(year[name].sum()) * 3600.0 for name in year.data_vars}
    bed = {name: amount for side, name, amount in heat_of(year, "bed_temperature").entries if side == "out"}
    for words, key in (
        ("To the glass by radiation", "cover_radiation"),
        ("To the condenser by radiation", "rear_radiation"),
        ("Through edges and back", "edge_loss"),
    ):
        assert bed[words] == pytest.approx(joules[key] / 3.6e6, rel=1e-12)
    sun = sun_on_aperture(year)
    assert sun["total"] == pytest.approx(joules["sun_on_plane"] / 3.6e6, rel=1e-12)
    assert sun["rest"] > 0.0


def test_water_adds_up(answer):
    taken, ways = water_ways(answer.harvesters[0].year)
    assert sum(amount for _, amount in ways) == pytest.approx(taken, rel=1e-12)
    assert ways[0][0] == "Collected in the gutter"


def test_days_are_chosen_by_quantile():
    litres = np.arange(365.0)[::-1]
    assert day_at_quantile(litres, 0.9) == 364 - round(0.9 * 364)
    assert day_at_quantile(np.zeros(365), 0.1) == 0
    assert [date_of_day(day) for day in (0, 58, 59, 364)] == [
        "1 January",
        "28 February",
        "1 March",
        "31 December",
    ]


def test_a_day_shows_the_hours_that_it_says(answer):
    """The day's collected water in the picture is that of the year, and the sun stands highest near noon."""
    one = answer.harvesters[0]
    clock = first_hour(one.year, float(answer.climate.attrs["utc_offset"]))
    assert clock == pytest.approx(0.5)
    for day in (0, 200):
        series = day_series(one.year, day, clock, "a day")
        area = one.year.attrs["aperture_area"] * one.year.attrs["modules"]
        assert series.water["collected"][-24:].sum() * area / 1000.0 == pytest.approx(one.daily_litres[day])
        today = series.hour > 0.5
        assert 10.5 <= series.hour[today][series.sun[today].argmax()] - 0.5 <= 14.0
        assert all(-12.0 <= a < b <= 25.0 for a, b in series.open_hours)


def lightness(colour: str) -> float:
    """Lightness L* of a colour (CIE 1976, from the sRGB of IEC 61966-2-1)."""
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [x / 12.92 if x <= 0.04045 else ((x + 0.055) / 1.055) ** 2.4 for x in parts]
    y = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return 116.0 * y ** (1.0 / 3.0) - 16.0 if y > 216.0 / 24389.0 else y * 24389.0 / 27.0


@pytest.mark.parametrize("ramp", [WATER_RAMP, HEAT_RAMP])
def test_ramps_keep_their_order_in_grey(ramp):
    """Lightness falls in steps of like size: no step more than 1.6 times another."""
    steps = -np.diff([lightness(colour) for colour in ramp])
    assert steps.min() > 10.0
    assert steps.max() / steps.min() < 1.6


def test_the_first_three_lines_differ_in_grey():
    three = sorted(lightness(colour) for colour in SERIES[:3])
    assert np.diff(three).min() > 12.0
