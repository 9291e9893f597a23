"""A tenfold tighter tolerance changes the litres by less than what is promised."""

import numpy as np
import pytest
from benchmarks.what_it_shows import PLACES, tightened

from box_cases import OPTIONS, SILICA, box, site_of
from welkinwell.simulation import prepare
from welkinwell.sorbents.sorbent import sorbent

YEAR, DAY = 3e-3, 3e-2
CRYSTAL_DAY = 5e-2  # where the bed steps between crystals and solution in the desert; measured 4.1 %


def close(ready, first_hour=0, last_hour=None):
    year, day = tightened(ready, first_hour, last_hour)
    print(f"litres change by {100 * year:.4f} %, the worst day's by {100 * day:.3f} %")
    assert year < YEAR
    assert day < (DAY if ready.sorbent.phases is None else CRYSTAL_DAY)


@pytest.mark.parametrize("option", ["starter", "both above"])
@pytest.mark.parametrize("material", [SILICA, "mof_801", "licl_gel"])
def test_sixty_days(option, material):
    close(prepare(box(**OPTIONS[option]), sorbent(material), site_of("coast")), 2160, 2160 + 60 * 24)


@pytest.mark.long
@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("option", ["starter", "both above", "inclined, steep", "front"])
@pytest.mark.parametrize("material", [SILICA, "aluminium_fumarate", "mof_801", "licl_gel"])
def test_a_year(place, option, material):
    close(prepare(box(**OPTIONS[option]), sorbent(material), site_of(place)))


@pytest.mark.long
@pytest.mark.parametrize("rule", ["clock", "pressure"])
def test_a_year_of_other_rules(rule):
    close(prepare(box(operation=rule), sorbent(SILICA), site_of("coast")))


def test_a_start_from_the_years_end_or_from_a_hot_dry_bed_is_forgotten():
    """The spin-up is long enough: another start changes the second month by less than the tolerance does."""
    from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX
    from welkinwell.numerics.march import MarchState
    from welkinwell.simulation import march_year
    from welkinwell.sorbents.potential import potential_at_loading

    ready = prepare(box(), sorbent(SILICA), site_of("coast"))

    def second_month(start):
        _, result = march_year(ready, tolerance=1e-4, keep="hours", last_hour=60 * 24, start=start)
        return result.flows[24 * 30 :, :, PASSIVE_BOX.flow_number("collected")].sum()

    y = np.array([310.0, 350.0, 310.0, 0.03, 0.0, 0.0, 0.0, 3000.0, 3000.0])
    U, S = np.zeros(9), np.zeros((9, 9))
    A = potential_at_loading(ready.row, y[3], y[1], 3000.0)
    PASSIVE_BOX.fill_stocks(y, ready.numbers, ready.row, A, U, S)
    dry = MarchState(U, y, A, 0, 1e9)
    assert second_month(dry) == pytest.approx(second_month(None), rel=1e-3)
