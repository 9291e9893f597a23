"""Cycles of the lengths that are best for the hour: table, schedule, and litres beside fixed lengths."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from box_cases import SILICA, site_of
from welkinwell.declare import check
from welkinwell.errors import InputError
from welkinwell.harvesters.active_bed.design import ActiveBed
from welkinwell.harvesters.best_cycles import RELEASES, UPTAKES, best_cycles, cycle_table
from welkinwell.harvesters.power_cuts import with_power_cuts
from welkinwell.simulation import prepare, simulate
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.year import figures

BEST = ActiveBed(operation="best")


@cache
def site(place):
    return site_of(place)


def litres(design, place):
    year = simulate(design, sorbent(SILICA), site(place), keep="months", accuracy="fast", audit=False)
    return figures(year)["litres_per_day"]


def test_the_table_keeps_the_pair_with_the_most_water():
    """A made-up rate that is highest at 60 min of uptake in moist air, at 180 in dry, and 45 of release."""
    air = prepare(ActiveBed(), sorbent(SILICA), site("coast")).air

    def rate(temperature, vapour_pressure, uptake, release):
        wanted = 3600.0 if vapour_pressure > 1500.0 else 10800.0
        return 1.0 - abs(uptake - wanted) / 1e5 - abs(release - 2700.0) / 1e5

    table = cycle_table(air, rate)
    assert set(np.unique(table.uptake)) == {3600.0, 10800.0}
    assert np.all(table.release == 2700.0)
    assert table.uptake[0, 0] == 10800.0  # the coldest, driest state
    assert table.uptake[-1, -1] == 3600.0
    assert table.lengths(-1.0, 0.0) == (table.uptake[0, 0], table.release[0, 0])
    plan = best_cycles(air, table)
    assert plan.switch_times[0] == 0.0
    assert np.all(np.diff(plan.switch_modes) != 0)
    lengths = np.diff(plan.switch_times)
    assert set(lengths[1:-1:2].tolist()) == {2700.0}
    assert set(np.unique(lengths[::2])) <= {3600.0, 10800.0}


@pytest.mark.parametrize("place", ["coast", "desert", "tropics"])
def test_best_for_the_hour_gives_no_less_than_fixed_lengths(place):
    best = litres(BEST, place)
    fixed = {
        (up, out): litres(ActiveBed(uptake_length=60.0 * up, release_length=60.0 * out), place)
        for up, out in ((60, 60), (45, 45), (80, 60), (80, 80), (60, 80))
    }
    print(place, f"best {best:.3f}", {pair: round(value, 3) for pair, value in fixed.items()})
    assert best > max(fixed.values()) * 0.998
    assert best > fixed[60, 60]


def test_the_year_closes_and_stops_in_power_cuts():
    off = np.isin(np.arange(8760) % 24, (18, 19, 20))
    cut = replace(site("coast"), climate=with_power_cuts(site("coast").climate, off))
    year = simulate(BEST, sorbent(SILICA), cut)
    assert abs(year.attrs["water_residual_relative"]) < 1e-9
    assert abs(year.attrs["energy_residual_relative"]) < 1e-9
    assert np.all(year["electricity"].values[off] == 0.0)


def test_a_collector_has_no_table_in_steady_air():
    with pytest.raises(InputError, match="without sun"):
        check(replace(BEST, heat_by="solar"))
    check(BEST)
    assert min(UPTAKES) == min(RELEASES) == 900.0
