"""Every field anywhere in its declared range: the box runs, finite, and a design that cannot is refused."""

import math
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.made_up_weather import SHEETS, extreme_air, ready_in
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from box_cases import SILICA, numbers_of
from welkinwell.declare import check, declared_fields
from welkinwell.errors import InputError
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX
from welkinwell.simulation import march_year, tolerance_of
from welkinwell.sorbents.potential import potential_at_loading
from welkinwell.sorbents.sorbent import sorbent

FIELDS = declared_fields(PassiveBox)
HOURS = 36


def values_of(field):
    """Anything that the field's declaration allows; its ends more often than chance has it."""
    if field.kind == "choice":
        return st.sampled_from(field.options)
    if field.kind == "flag":
        return st.booleans()
    if field.kind == "count":
        return st.integers(int(field.low), int(min(field.high, 1000)))
    low = math.nextafter(field.low, math.inf) if field.low_open else field.low
    spread = st.floats(low, field.high)
    if low > 0.0 and field.high / low > 30.0:
        spread = st.floats(math.log(low), math.log(field.high)).map(
            lambda x: min(max(math.exp(x), low), field.high)
        )
    return st.one_of(spread, st.sampled_from([low, field.high]))


# The form of the layer says what is refused and changes no litres; without it all draws that can exist run.
DRAWN = {name: values_of(field) for name, field in FIELDS.items() if name != "layer_form"}
designs = st.builds(PassiveBox, **DRAWN)


def runs(design, material, seed):
    rng = np.random.default_rng(seed)
    air = extreme_air(rng, days=2)
    ready = ready_in(design, sorbent(material), air)
    _, result = march_year(ready, tolerance=tolerance_of(ready, "normal"), last_hour=HOURS)
    assert np.isfinite(result.flows).all()
    assert np.isfinite(result.states).all()


@given(design=designs, material=st.sampled_from(SHEETS), seed=st.integers(0, 1000))
@settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)
def test_any_allowed_design_runs(design, material, seed):
    try:
        check(design)
        runs(design, material, seed)
    except InputError:  # fields that do not go together, or a depth that the sheet does not allow
        assume(False)


ENDS = [
    (name, end)
    for name, field in FIELDS.items()
    if field.kind == "quantity"
    for end in (field.low, field.high)
    if not (field.low_open and end == field.low)
]


@pytest.mark.parametrize(("name", "end"), ENDS, ids=[f"{name} {end:.4g}" for name, end in ENDS])
def test_each_field_alone_at_its_end(name, end):
    design = replace(PassiveBox(), **{name: end})
    try:
        check(design)
    except InputError as error:
        assert name in str(error) or "layer_thickness" in str(error)
        return
    runs(design, SILICA, seed=3)


# A wide gap over which warm and moist sides take turns at being the lighter one: convection sets in,
# dries the condenser, stops, and a leak of 50 air changes an hour starts it again. Drawn, then reduced.
TAKES_TURNS = {
    "rear_gap": 0.5, "condenser_position": "above", "gap_air_volume": 0.005, "leak": 50.0 / 3600.0,
    "sorbent_mass": 1.0, "layer_thickness": 0.001545, "bed_area": 0.3129, "bed_metal": 1.0, "edge_loss": 20.0,
    "bed_condenser_emissivity": 0.3036, "condenser_mass": 200.0, "condenser_specific_heat": 100.0,
    "condenser_outer_area": 0.05, "condenser_fin_efficiency": 1.0 / 3.0, "condenser_emissivity": 0.5039,
    "condenser_sky_view": 1.0, "condenser_stray_sun": 0.1868,
    "wind_constant": 0.978, "glazing_emissivity": 0.05,
}  # fmt: skip


def test_a_gap_that_starts_and_stops_runs():
    runs(PassiveBox(**TAKES_TURNS), "licl_gel", seed=112)


@pytest.mark.parametrize("celsius", [20.0, 300.0, 500.0, 800.0, 1200.0])
def test_no_temperature_is_lost_between_stocks_and_unknowns(celsius):
    """A part's temperature comes back from its energy, however hot: a lost kelvin is heat from nowhere."""
    numbers, row = numbers_of(
        replace(PassiveBox(), vent_temperature=368.15, sorbent_mass=0.01, bed_metal=0.2)
    )
    T = celsius + 273.15
    loading = float(sorbent(SILICA).loading(T, 1e-4))
    y = np.array([T, T, T, loading, 0.0, 1e-5, 1e-5, 1000.0, 1000.0])
    U, S = np.zeros(9), np.zeros((9, 9))
    A = potential_at_loading(row, loading, T, 3000.0)
    PASSIVE_BOX.fill_stocks(y, numbers, row, A, U, S)
    found = y.copy()
    found[:3] = 300.0
    PASSIVE_BOX.recover(U, numbers, row, found, 3000.0)
    assert found[:3] == pytest.approx([T] * 3, rel=1e-9)


def test_a_bare_bed_radiates_to_something():
    with pytest.raises(InputError, match=r"bed_open_emissivity.*has no temperature at which it rests"):
        check(PassiveBox(cover_opens=True, bed_condenser_emissivity=0.0))
    check(PassiveBox(cover_opens=True, bed_condenser_emissivity=0.0, bed_open_emissivity=0.02))
