"""Hours and water beyond the crystallisation line and the leak limit, against cases made by hand."""

from dataclasses import replace

import numpy as np
import pytest

from box_cases import site_of
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulation import simulate
from welkinwell.sorbents.brine import solubility
from welkinwell.sorbents.brine_limits import NONE, brine_limits, crystallisation_loading
from welkinwell.sorbents.sorbent import sorbent


def in_air(material, humidity, T=298.15):
    """A bed at rest in air of these humidities."""
    T = np.full(len(humidity), T)
    humidity = np.array(humidity)
    return T, humidity * saturation_pressure(T), np.asarray(material.loading(T, humidity))


def test_a_solid_without_salt_has_no_such_limits():
    gel = sorbent("silica_gel_regular_density")
    assert brine_limits(gel, 8.0, *in_air(gel, [0.02, 0.5, 0.95])) == NONE


@pytest.mark.parametrize(
    ("key", "T"),
    [(key, T) for key in ("licl_brine", "cacl2_brine") for T in (298.15, 330.0)] + [("cacl2_brine", 285.0)],
)
def test_the_line_holds_the_water_of_a_saturated_solution(key, T):
    """(1 - xi)/xi of the solubility (Conde2004) against the sheet's terms at the line's humidity. Lithium
    chloride above 19 C only, since the sheet knows no dihydrate."""
    brine = sorbent(key)
    saturated = solubility(brine.salt, T)
    line = crystallisation_loading(brine, np.array([T]))[0]
    assert line == pytest.approx((1.0 - saturated) / saturated, rel=0.04)


def test_hours_below_the_line_and_the_water_given_off_there_are_counted():
    """With crystals, and for a sheet of a salt that has none: then it is beyond the line."""
    brine = sorbent("licl_brine")  # crystals form below 0.113 at 25 C
    alone = replace(brine.as_solution(), phases=None)
    for found, own, other in (
        (brine, "with_crystals", "beyond_crystallisation"),
        (alone, "beyond_crystallisation", "with_crystals"),
    ):
        T, p, w = in_air(found, [0.3, 0.2, 0.125, 0.09, 0.06, 0.09, 0.3])
        limits = brine_limits(found, 5.0, T, p, w)
        assert limits[f"hours_{own}"] == 3
        assert limits[f"water_{own}"] == pytest.approx(5.0 * (w[2] - w[4]), rel=1e-12)
        assert limits[f"hours_{other}"] == 0.0


def test_a_sheet_with_crystals_is_never_beyond_its_line():
    salt = sorbent("lithium_chloride")
    found = brine_limits(salt, 5.0, *in_air(salt, [0.3, 0.05, 0.02]))
    assert found["hours_beyond_crystallisation"] == 0


def test_what_may_run_out_is_the_sum_of_the_rises_above_the_limit():
    gel = sorbent("licl_gel")  # leaks above 0.75
    T, p, w = in_air(gel, [0.5, 0.76, 0.77, 0.6, 0.78, 0.5])
    found = brine_limits(gel, 2.0, T, p, w)
    limit = float(gel.loading(298.15, 0.74))
    rises = (w[2] - limit) + (w[4] - limit)
    water_per_salt = 4.80  # lithium chloride at 0.75, 4.91 mol/kg (Robinson1959: 0.747 at 5 mol/kg)
    assert found["hours_above_leak_humidity"] == 3
    assert found["brine_lost_bound"] - found["salt_lost_bound"] == pytest.approx(2.0 * rises, rel=1e-9)
    assert found["salt_lost_bound"] == pytest.approx(2.0 * rises / water_per_salt, rel=0.02)


def test_no_more_brine_is_lost_than_there_is_salt():
    composite = sorbent("cacl2_in_silica")  # 0.337 of salt
    found = brine_limits(composite, 2.0, *in_air(composite, [0.3, 0.7] * 50))
    assert found["salt_lost_bound"] == pytest.approx(0.337 * 2.0, rel=0.1)


def test_a_year_says_what_lay_beyond():
    year = simulate(PassiveBox(), sorbent("cacl2_in_silica"), site_of("tropics"))
    leak = sorbent("cacl2_in_silica").leak_humidity
    humid = year["bed_vapour_pressure"].values / saturation_pressure(year["bed_temperature"].values)
    assert year.attrs["hours_above_leak_humidity"] == (humid > leak).sum() > 100
    assert year.attrs["brine_lost_bound"] > year.attrs["salt_lost_bound"] > 0.0
    assert year.attrs["hours_beyond_crystallisation"] == 0.0
