"""Every field anywhere in its declared range: the box runs, finite, and a design that cannot is refused."""

import math
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.made_up_weather import SHEETS, extreme_air, ready_in

from box_cases import SILICA, numbers_of
from welkinwell.declare import check, declared_fields
from welkinwell.errors import InputError
from welkinwell.harvesters.kinds import harvester_of
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX
from welkinwell.simulation import march_year, tolerance_of
from welkinwell.sorbents.potential import potential_at_loading
from welkinwell.sorbents.sorbent import sorbent

FIELDS = declared_fields(PassiveBox)
HOURS = 36


DRAWS = 60
AT_AN_END = 0.3  # of the fields, more often than chance has it
# The form of the layer says what is refused and changes no litres; without it all draws that can exist run.
DRAWN = [field for name, field in FIELDS.items() if name != "layer_form"]


def any_value(field, rng):
    """Anything that the field's declaration allows."""
    if field.kind == "choice":
        return str(rng.choice(field.options))
    if field.kind == "flag":
        return bool(rng.random() < 0.5)
    if field.kind == "count":
        return int(rng.integers(int(field.low), int(min(field.high, 1000)) + 1))
    low = math.nextafter(field.low, math.inf) if field.low_open else field.low
    if rng.random() < AT_AN_END:
        return float(rng.choice([low, field.high]))
    if low > 0.0 and field.high / low > 30.0:
        value = math.exp(rng.uniform(math.log(low), math.log(field.high)))
    else:
        value = rng.uniform(low, field.high)
    return float(min(max(value, low), field.high))


def any_design(seed):
    """A design that its check allows, a sheet that it can take and the seed of its weather.

    Numbers of a seed and not of Hypothesis, which draws among the constants of all modules that happen to be
    loaded: each worker would try other designs.
    """
    rng = np.random.default_rng(seed)
    while True:
        design = PassiveBox(**{field.name: any_value(field, rng) for field in DRAWN})
        material = str(rng.choice(SHEETS))
        weather = int(rng.integers(0, 1001))
        try:
            check(design)
            harvester_of(design).fitted(design, sorbent(material))
        except InputError:  # fields that do not go together, or a depth that the sheet does not allow
            continue
        return design, material, weather


def runs(design, material, seed):
    rng = np.random.default_rng(seed)
    air = extreme_air(rng, days=2)
    ready = ready_in(design, sorbent(material), air)
    _, result = march_year(ready, tolerance=tolerance_of(ready, "normal"), last_hour=HOURS)
    assert np.isfinite(result.flows).all()
    assert np.isfinite(result.states).all()


@pytest.mark.parametrize("seed", range(DRAWS))
def test_any_allowed_design_runs(seed):
    runs(*any_design(seed))


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


# A layer of 0.06 mm whose pores hold next to no vapour. When the box opens, their pressure moves by a
# thousand pascals within a microsecond, and the steps must become shorter than that. Drawn, then reduced.
PORES_OF_A_MICROSECOND = {
    "sorbent_mass": 0.01, "layer_thickness": 5.829466373086881e-05, "bed_area": 1.0, "open_faces": 2,
    "bed_effectiveness": 1.0, "bed_metal": 1.0, "bed_metal_specific_heat": 100.0, "absorber_emissivity": 1.0,
    "glazing_emissivity": 1.0, "front_insulation": 0.0, "rear_gap": 0.36787944117144233,
    "gap_air_volume": 1.0, "bed_condenser_emissivity": 0.0, "leak": 0.0, "vent_temperature": 314.0,
    "vent_air_changes": 0.0, "wind_slope": 14.0, "close_above": 0.0,
}  # fmt: skip


# The same in twelve cells: the pressure rule opens late in a half hour of many steps, judged strictly.
CELLS_OF_A_MICROSECOND = {
    "sorbent_mass": 0.01, "layer_thickness": 5e-05, "open_faces": 2, "depth": "layered",
    "gap_air_volume": 1.127745447376384, "operation": "pressure",
}  # fmt: skip


@pytest.mark.parametrize(
    ("fields", "material", "seed"),
    [(PORES_OF_A_MICROSECOND, "licl_gel", 0), (CELLS_OF_A_MICROSECOND, "aluminium_fumarate", 185)],
    ids=["lumped", "in cells"],
)
def test_pores_that_settle_within_a_microsecond_run(fields, material, seed):
    runs(PassiveBox(**fields), material, seed)


def test_steps_are_as_short_at_the_end_of_the_year():
    """Counted from the year's start, the time in December would hide steps of nanoseconds."""
    days = extreme_air(np.random.default_rng(0), days=2)
    year = replace(
        days,
        nodes=np.vstack([days.nodes[:1], np.tile(days.nodes[1:], (183, 1))]),
        rainy=np.tile(days.rainy, 183),
    )
    ready = ready_in(PassiveBox(**PORES_OF_A_MICROSECOND), sorbent("licl_gel"), year)
    marched = []
    for first in (48, 48 * 182):  # the first node of the record is not the one that ends it
        start = marched[0][0] if marched else None
        tolerance = tolerance_of(ready, "normal")
        marched.append(
            march_year(
                ready,
                tolerance=tolerance,
                first_hour=first,
                last_hour=first + HOURS,
                start=start,
                record=True,
            )
        )
    (_, early), (_, late) = marched
    assert early.record_time[:, 1].min() < 1e-7
    assert late.record_time[:, 1] == pytest.approx(early.record_time[:, 1], rel=1e-6)
    assert late.flows.sum(axis=0) == pytest.approx(early.flows.sum(axis=0), rel=1e-9, abs=1e-12)


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
