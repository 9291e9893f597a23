"""A declared air: its state at all hours, the place's sun left alone or a day of sun that adds up."""

import math

import numpy as np
import pytest

from box_cases import site_of
from welkinwell.climate.declared_air import air_state, declared_air
from welkinwell.climate.hourly import check_climate
from welkinwell.errors import InputError
from welkinwell.moist_air import saturation_pressure
from welkinwell.sky.plane import plane_sun
from welkinwell.sky.sun import climate_sun_path


def test_the_air_is_held_and_the_sun_is_the_places():
    before = site_of("coast").climate
    out = declared_air(before, air_state(humidity=0.5, night="20 degC", day="32 degC"))
    check_climate(out)
    T, vapour = out["temperature"].values, out["vapour_pressure"].values
    assert np.allclose(vapour / saturation_pressure(T), 0.5)
    days = T.reshape(-1, 24)
    assert days.min(axis=1) == pytest.approx(293.15, abs=0.2)
    assert days.max(axis=1) == pytest.approx(305.15, abs=0.2)
    for name in ("ghi", "dni", "dhi", "wind_speed", "pressure"):
        assert np.array_equal(out[name].values, before[name].values)
    assert not out["precipitation"].values.any() if "precipitation" in out else True
    assert out.attrs["content_hash"] != before.attrs["content_hash"]
    assert "50 % relative humidity" in out.attrs["warnings"]


def test_warm_in_the_afternoon_and_cold_at_sunrise_on_the_places_clock():
    before = site_of("tropics").climate
    out = declared_air(before, air_state(humidity=0.8, night="22 degC", day="32 degC"))
    start = out["time"].values
    utc = (start - start.astype("datetime64[D]")) / np.timedelta64(1, "h")
    local = (utc + out.attrs["utc_offset"] + out.attrs["instant_offset"] / 3600.0) % 24.0
    T = out["temperature"].values
    assert abs(local[np.argmax(T)] - 15.0) <= 1.0
    assert abs(local[np.argmin(T)] - 6.0) <= 1.0


def test_humidity_alone_keeps_the_places_temperature():
    before = site_of("coast").climate
    out = declared_air(before, air_state(humidity=0.8))
    assert np.array_equal(out["temperature"].values, before["temperature"].values)
    assert np.allclose(out["vapour_pressure"] / saturation_pressure(before["temperature"].values), 0.8)


def test_a_declared_day_has_its_sun_on_every_day():
    """On a level plane beam and sky together give what was declared, low sun among it."""
    out = declared_air(
        site_of("coast").climate, air_state(humidity=0.5, night="20 degC", day="32 degC", sun="6 kWh/m2")
    )
    check_climate(out)
    assert out["ghi"].values.reshape(-1, 24).sum(axis=1) / 1000.0 == pytest.approx(6.0, rel=1e-9)
    level = plane_sun(out, climate_sun_path(out, 2), 0.0, math.pi, 0.2).total
    assert level.reshape(365, -1).mean(axis=1) * 24.0 / 1000.0 == pytest.approx(6.0, rel=0.02)
    assert out["dni"].values.max() < 1000.0


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"humidity": 0.5, "night": "20 degC"}, "day"),
        ({"night": "30 degC", "day": "20 degC"}, "no warmer"),
        ({"sun": "6 kWh/m2"}, "humidity, night and day"),
        ({"humidity": "150 %"}, "humidity"),
        ({"humidity": 0.5, "night": "20 L", "day": "30 degC"}, "20 L"),
    ],
)
def test_what_cannot_be_an_air_is_told(given, said):
    with pytest.raises(InputError, match=said):
        air_state(**given)


def test_nothing_given_is_no_air():
    assert air_state(humidity=None, night=None, day=None, sun=None) is None
