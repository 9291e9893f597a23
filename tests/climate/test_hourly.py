"""The contract's own check, and the placing of rows on the nominal year."""

import numpy as np
import pytest

from welkinwell.climate import read_climate
from welkinwell.climate.hourly import check_climate
from welkinwell.errors import ClimateError


@pytest.fixture(scope="module")
def climate(weather):
    return read_climate(weather / "desert_daggett_california_tmy.csv.gz")


def test_a_good_year_passes(climate):
    assert check_climate(climate) is None


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda c: c.drop_vars("dni"), "climate, dni: got nothing"),
        (lambda c: c.isel(time=slice(0, 100)), "100 rows"),
        (lambda c: c.assign(temperature=c["temperature"] - 273.15), "temperature"),
        (lambda c: c.assign(ghi=c["ghi"].where(c["ghi"] > 5.0)), "climate, ghi: got nan in hour 0"),
        (lambda c: c.assign_attrs(site=None).drop_attrs(deep=False), "attribute site"),
        (lambda c: c.sortby("time", ascending=False), "rising"),
    ],
)
def test_a_spoilt_year_is_told(climate, spoil, words):
    with pytest.raises(ClimateError) as told:
        check_climate(spoil(climate))
    assert words in str(told.value)


def test_every_problem_is_told_at_once(climate):
    with pytest.raises(ClimateError) as told:
        check_climate(climate.drop_vars(["dni", "dhi"]).drop_attrs(deep=False))
    assert len(told.value.problems) >= 15


def test_whole_local_days(climate):
    """Every 24 hours are one local day: 365 blocks, each from 0 to 23 o'clock of one date."""
    local = climate["time"].values + np.timedelta64(int(climate.attrs["utc_offset"]), "h")
    days = local.astype("datetime64[D]").reshape(365, 24)
    assert (days == days[:, :1]).all()
    assert len(np.unique(days)) == 365
