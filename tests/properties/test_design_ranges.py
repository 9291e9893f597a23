"""Every field anywhere in its declared range: the box runs, finite, and a design that cannot is refused."""

import math
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.made_up_weather import SHEETS, extreme_air, ready_in
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from box_cases import SILICA
from welkinwell.declare import check, declared_fields
from welkinwell.errors import InputError
from welkinwell.harvesters.passive_box import PassiveBox
from welkinwell.simulate import TOLERANCES, march_year
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


designs = st.builds(PassiveBox, **{name: values_of(field) for name, field in FIELDS.items()})


def runs(design, material, seed):
    rng = np.random.default_rng(seed)
    air = extreme_air(rng, days=2)
    ready = ready_in(design, sorbent(material), air)
    _, result = march_year(ready, tolerance=TOLERANCES["normal"], last_hour=HOURS)
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
    except InputError:
        assume(False)
    runs(design, material, seed)


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
