"""One harvester, one year: what is asked wrongly is refused, and odd years still have an answer."""

import warnings
from dataclasses import replace

import numpy as np
import pytest

from box_cases import SILICA, box, site_of
from welkinwell.errors import InputError
from welkinwell.harvesters.air import surroundings
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX
from welkinwell.harvesters.passive_box.harvester import HOTTEST_VENT, VENT_MARGIN
from welkinwell.simulation import march_year, month_of_hour, prepare, simulate
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.year import DAYS_IN_MONTH, figures


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"accuracy": "exact"}, ("accuracy", "'exact'", "fast, normal, fine, check")),
        ({"keep": "weeks"}, ("keep", "'weeks'", "hours, months, year")),
    ],
)
def test_wrong_words_are_answered_with_the_right_ones(wrong, words):
    with pytest.raises(InputError) as caught:
        simulate(box(), sorbent(SILICA), site_of("coast"), **wrong)
    assert all(word in str(caught.value) for word in words)


def test_the_vent_spares_the_sorbent():
    """Not given: 5 K below the sheet's service temperature, and at most 120 C."""
    for key in (SILICA, "licl_gel"):
        material = sorbent(key)
        ready = prepare(PassiveBox(), material, site_of("coast"))
        expected = min(material.service_temperature - VENT_MARGIN, HOTTEST_VENT)
        assert ready.design.vent_temperature == expected
        assert ready.numbers.vent_temperature == expected


def test_a_gel_dries_at_the_rate_of_its_own_layer():
    """A slab's rate falls with the square of its thickness: 2 mm against 1 mm is four times slower."""
    thin, thick = (
        prepare(box(sorbent_mass=2.0, layer_thickness=x), sorbent("licl_gel"), site_of("coast"))
        for x in (1e-3, 2e-3)
    )
    assert thin.numbers.layer_resistance == thick.numbers.layer_resistance == 0.0
    ratio = float(thin.sorbent.rate(330.0) / thick.sorbent.rate(330.0))
    assert ratio == pytest.approx(4.0, rel=1e-12)


def test_months_are_those_of_the_calendar():
    months = month_of_hour(8760)
    assert np.bincount(months).tolist() == [24 * days for days in DAYS_IN_MONTH]
    assert np.all(np.diff(months) >= 0)


def test_a_year_from_a_climate_and_from_its_surroundings_is_the_same():
    site = site_of("coast")
    one = simulate(box(), sorbent(SILICA), site, keep="year", audit=False)
    other = simulate(box(), sorbent(SILICA), surroundings(site.climate), keep="year", audit=False)
    assert float(one["water_collected"].sum()) == float(other["water_collected"].sum())


def test_the_year_begins_where_it_ends():
    """The last days are run first: stocks at both ends differ by less than a day's swing."""
    ready = prepare(box(), sorbent(SILICA), site_of("coast"))
    start, result = march_year(ready, tolerance=1e-3)
    assert abs(result.state.y[3] - start.y[3]) < 0.02
    assert result.state.y[1] == pytest.approx(start.y[1], abs=1.0)


def test_a_month_alone_is_the_month_of_the_year():
    """Marched from the state that the year had there, a piece gives the year's own hours."""
    ready = prepare(box(), sorbent(SILICA), site_of("coast"))
    start, whole = march_year(ready, tolerance=1e-3, last_hour=40 * 24)
    _, first = march_year(ready, tolerance=1e-3, last_hour=20 * 24, start=start)
    _, second = march_year(ready, tolerance=1e-3, first_hour=20 * 24, last_hour=40 * 24, start=first.state)
    joined = np.concatenate([first.flows, second.flows])
    size = np.abs(whole.flows).sum(axis=(0, 1))
    apart = np.abs(joined - whole.flows).sum(axis=(0, 1))
    assert np.all(apart <= 3e-3 * size + 1e-9)


def test_no_sun_at_all_is_no_error():
    climate = site_of("coast").climate
    dark = climate.assign({name: climate[name] * 0.0 for name in ("ghi", "dni", "dhi")})
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = figures(simulate(box(), sorbent(SILICA), dark))
    assert found["litres_per_day"] == pytest.approx(0.0, abs=1e-12)
    for name in ("sun_kwh_per_litre", "heat_kwh_per_litre", "latent_efficiency"):
        assert found[name] is None
    assert found["second_law_efficiency"] == pytest.approx(0.0, abs=1e-12)  # the cold sky still offers work
    assert abs(found["balance"]["water_residual_relative"]) < 1e-9


def test_a_bone_dry_place_gives_next_to_nothing():
    climate = site_of("desert").climate
    dry = climate.assign(vapour_pressure=climate["vapour_pressure"] * 0.0 + 5.0)
    found = figures(simulate(box(), sorbent(SILICA), dry, keep="months"))
    assert 0.0 <= found["litres_per_m2_day"] < 0.01


@pytest.mark.parametrize("accuracy", ["fast", "normal"])
def test_every_accuracy_closes_its_books(accuracy):
    found = figures(simulate(PassiveBox(), sorbent(SILICA), site_of("highland"), accuracy=accuracy))
    assert abs(found["balance"]["water_residual_relative"]) < 1e-9
    assert abs(found["balance"]["energy_residual_relative"]) < 1e-9
    ready = prepare(PassiveBox(), sorbent(SILICA), site_of("highland"))
    _, fine = march_year(ready, tolerance=1e-6, keep="year")
    expected = float(fine.flows[:, :, PASSIVE_BOX.flow_number("collected")].sum()) / 365.0
    assert found["litres_per_m2_day"] == pytest.approx(expected, rel=3e-3)


def test_modules_scale_litres_and_nothing_else():
    one = figures(simulate(box(), sorbent(SILICA), site_of("coast"), keep="months", audit=False))
    nine = figures(simulate(box(modules=9), sorbent(SILICA), site_of("coast"), keep="months", audit=False))
    assert nine["litres_per_day"] == pytest.approx(9.0 * one["litres_per_day"], rel=1e-12)
    assert nine["litres_per_m2_day"] == one["litres_per_m2_day"]


def test_inputs_are_left_as_they_were():
    site, design, material = site_of("coast"), PassiveBox(), sorbent(SILICA)
    before = site.climate.copy(deep=True)
    row = material.row.copy()
    simulate(design, material, site, keep="year", audit=False)
    assert site.climate.identical(before)
    assert np.array_equal(material.row, row)
    assert design == PassiveBox()
    assert replace(design) == design


def test_a_condenser_beside_the_bed_closes_its_books():
    """The audit's free convection of a vertical condenser is the march's."""
    year = simulate(PassiveBox(condenser_position="beside"), sorbent(SILICA), site_of("coast"))
    assert abs(year.attrs["energy_residual_relative"]) < 1e-9


def test_a_strict_run_keeps_every_step_for_the_audit():
    """At "check" a highland year takes more steps than are set aside at first."""
    year = simulate(box(), sorbent(SILICA), site_of("highland"), accuracy="check")
    assert abs(year.attrs["water_residual_relative"]) < 1e-9


def test_a_fast_sorbent_closes_its_books():
    """MOF-801 at 100 times its rate: the audit's differences keep enough digits."""
    material = sorbent("mof_801")
    fast = replace(material, row=material.adjusted_row(rate_factor=100.0))
    year = simulate(PassiveBox(sorbent_mass=4.0), fast, site_of("coast"))
    assert abs(year.attrs["water_residual_relative"]) < 1e-9
