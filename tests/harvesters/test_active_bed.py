"""The active bed's physics: hand cases, limits, and the ways in which it must move."""

from dataclasses import replace

import numpy as np
import pytest

from box_cases import SILICA, site_of, steady_air
from welkinwell.errors import InputError
from welkinwell.harvesters.active_bed.design import ActiveBed
from welkinwell.harvesters.active_bed.flows import ACTIVE_BED, bed_numbers, heat_supplied
from welkinwell.harvesters.active_bed.harvester import plan
from welkinwell.limits.least_work import least_work
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulation import march_year, prepare, simulate
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.year import figures

GEL = sorbent(SILICA)
T_AIR, VAPOUR = 300.0, 1500.0
W, MC = 2, 3


def steady(days=2, material=GEL, T=T_AIR, vapour=VAPOUR, sun=0.0, tolerance=1e-4, **fields):
    """March a bed through days of air that never changes; returns the run and its design."""
    ready = prepare(ActiveBed(**fields), material, site_of("coast"))
    air = steady_air(days, T=T, vapour=vapour, sun=sun, pressure=101325.0)
    numbers = bed_numbers(ready.design, ready.sorbent, 101325.0)
    ready = replace(ready, air=air, plan=plan(ready.design, air), numbers=numbers)
    start, result = march_year(ready, tolerance=tolerance)
    return start, result, ready.design


def total(result, name):
    return float(result.flows.sum(axis=(0, 1))[ACTIVE_BED.flow_number(name)])


def test_a_swing_is_the_mass_times_the_difference_of_loadings():
    """Long parts of a cycle, quick grains, a large condenser: the sheet's loadings at both ends, by hand."""
    _, result, design = steady(
        face_velocity=0.6,  # air carries the heat of sorption away: slower, it is what the bed waits for
        uptake_length=9 * 3600.0,
        release_length=3 * 3600.0,
        condenser_conductance=1e5,
        condenser_area=200.0,
        damper_leak=0.0,
        release_temperature=353.15,
        edge_loss=0.0,
    )
    full = float(GEL.loading(T_AIR, VAPOUR / float(saturation_pressure(T_AIR))))
    ends = result.states[:, W]
    assert ends[8::12] == pytest.approx(full, rel=2e-3)
    # heating fades below the release temperature: the bed as it is, over a condenser as warm as air
    T_b, T_c = result.states[11, :2]
    assert 348.0 < T_b < 353.2
    assert pytest.approx(T_AIR, abs=0.3) == T_c
    empty = float(GEL.loading(T_b, float(saturation_pressure(T_c)) / float(saturation_pressure(T_b))))
    assert ends[11::12] == pytest.approx(empty, rel=0.02)
    swing = design.sorbent_mass * (ends[8] - ends[11])
    # four cycles in two days; what the uptake air brings and what runs off are the swing each time
    assert total(result, "air_to_bed") - total(result, "bed_to_air") == pytest.approx(4 * swing, rel=1e-3)
    assert total(result, "condensation") == pytest.approx(4 * swing, rel=5e-3)


def test_no_air_gives_no_water():
    _, result, _ = steady(face_velocity=0.0, damper_leak=0.0)
    assert total(result, "air_to_bed") == 0.0
    assert total(result, "bed_fan_power") > 0.0  # the loop's fan runs all the same
    start, result, design = steady(face_velocity=0.0, damper_leak=0.0, heating_power=0.0)
    before = design.sorbent_mass * start.y[W] + start.y[MC]
    after = design.sorbent_mass * result.state.y[W] + result.state.y[MC]
    assert after == pytest.approx(before, abs=1e-3)  # sealed and unheated: it keeps its water


def test_a_bed_as_wet_as_the_air_takes_nothing_up():
    """At rest in steady air and never heated: loading stays where the sheet puts it."""
    _, result, _ = steady(heating_power=0.0, damper_leak=0.0)
    full = float(GEL.loading(T_AIR, VAPOUR / float(saturation_pressure(T_AIR))))
    assert result.states[:, W] == pytest.approx(full, rel=1e-3)
    assert total(result, "collected") == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("more", "less"),
    [
        ({"vapour": 1600.0}, {"vapour": 1500.0}),
        ({"condenser_area": 0.4}, {"condenser_area": 0.1}),  # starved; beyond, see the next test
        ({"condenser_conductance": 800.0}, {"condenser_conductance": 200.0}),
        ({"heating_power": 4000.0}, {"heating_power": 2000.0}),
        ({"damper_leak": 0.0}, {"damper_leak": 0.05}),
        ({"face_velocity": 0.25}, {"face_velocity": 0.125}),
    ],
)
def test_more_of_it_gives_no_less_water(more, less):
    wet, dry = (total(steady(tolerance=1e-3, **fields)[1], "collected") for fields in (more, less))
    print(f"{more} {wet:.3f}, {less} {dry:.3f} kg/m2 in two days")
    assert wet >= 0.999 * dry > 0.0


def test_past_its_best_more_release_air_takes_heat_from_the_bed():
    """Heat is short at 4 kW/m2: air that goes round faster, or comes back colder from a larger condenser,
    carries heat past the bed. Both have a best size; neither is a fault of the sums: heat per litre rises."""
    for less, more in (
        ({"release_velocity": 0.05}, {"release_velocity": 0.2}),
        ({"condenser_area": 10.0}, {"condenser_area": 40.0}),
    ):
        runs = [steady(tolerance=1e-3, **fields)[1] for fields in (less, more)]
        heat = [total(run, "heating") / total(run, "collected") for run in runs]
        assert total(runs[1], "collected") < total(runs[0], "collected")
        assert heat[1] > heat[0]


def test_uptake_is_within_the_vapour_that_passes():
    _, result, design = steady(face_velocity=0.03)
    ratio = 0.62198 * VAPOUR / (101325.0 - VAPOUR)
    density = (101325.0) / (287.04 * T_AIR)  # dry-air equivalent at the fan
    passed = 0.5 * 2 * 86400.0 * design.face_velocity * density * ratio
    assert 0.3 * passed < total(result, "air_to_bed") < passed


def test_open_release_air_takes_vapour_away():
    fields = {"release_velocity": 0.01, "condenser_conductance": 2000.0}
    closed = total(steady(**fields)[1], "collected")
    opened = steady(air_loop="open", **fields)[1]
    assert total(opened, "exhaust") > 0.0
    assert total(opened, "collected") < closed


def test_recovery_saves_heat():
    with_it, without = (steady(heat_recovery=r)[1] for r in (0.8, 0.0))
    heat = [total(run, "heating") / total(run, "collected") for run in (with_it, without)]
    print("kWh of heat per litre with recovery of 0.8 and without:", *(h / 3.6e6 for h in heat))
    assert heat[0] < heat[1]
    assert heat[0] > float(GEL.isosteric_heat(330.0, 0.2))  # no less than vapour that leaves the sorbent


def test_heaters_by_hand():
    """Solar: eta G - U (T_b - T_a), nothing at stagnation; waste heat: conductance times difference; heat
    pump: Carnot between the approaches, times the second-law efficiency, plus one."""
    numbers = bed_numbers(prepare(ActiveBed(heat_by="solar"), GEL, site_of("coast")).design, GEL, 101325.0)
    heat, power, pump, drawn = heat_supplied(320.0, 300.0, 300.0, 800.0, numbers)
    gain = 8.0 * (0.75 * 800.0 - 4.0 * 20.0)
    assert heat == pytest.approx(gain / (1.0 + 8.0 * 4.0 / 300.0), rel=1e-12)
    assert (power, pump, drawn) == (0.0, 30.0, 0.0)
    hot = replace_release(numbers, 600.0)
    assert heat_supplied(300.0 + 0.75 * 800.0 / 4.0, 300.0, 300.0, 800.0, hot)[0] == pytest.approx(0.0)
    assert heat_supplied(500.0, 300.0, 300.0, 800.0, hot) == (0.0, 0.0, 0.0, 0.0)
    waste = prepare(ActiveBed(heat_by="waste_heat"), GEL, site_of("coast")).design
    numbers = bed_numbers(waste, GEL, 101325.0)
    assert heat_supplied(323.15, 300.0, 300.0, 0.0, numbers)[0] == pytest.approx(300.0 * 40.0)
    assert heat_supplied(364.0, 300.0, 300.0, 0.0, numbers)[0] == 0.0
    pumped = prepare(
        ActiveBed(heat_by="heat_pump", heat_pump_source="condenser"), GEL, site_of("coast")
    ).design
    numbers = bed_numbers(pumped, GEL, 101325.0)
    heat, power, _, drawn = heat_supplied(340.0, 310.0, 300.0, 0.0, numbers)
    assert heat / power == pytest.approx(1.0 + 0.4 * 304.0 / 42.0)
    assert drawn == pytest.approx(heat - power)


def replace_release(numbers, temperature):
    return numbers._replace(release_temperature=temperature)


@pytest.mark.parametrize("heat_by", ["resistance", "heat_pump", "waste_heat"])
def test_a_year_by_the_sea(heat_by):
    """Electricity per litre beside the energy ladder of an all-electric bed, 1.6 to 2.4 kWh/L: reported, not
    asserted. Exergy supplied exceeds the least work; every name is in the table of quantities."""
    from welkinwell.quantities import variables

    year = simulate(ActiveBed(heat_by=heat_by), GEL, site_of("coast"))
    found = figures(year)
    print(
        f"{heat_by}: {found['litres_per_kg_day']:.2f} L/(kg day), "
        f"{found['electricity_kwh_per_litre']:.2f} kWh/L, heat {found['heat_kwh_per_litre']:.2f} kWh/L"
    )
    assert 0.0 < found["second_law_efficiency"] < 1.0
    assert year.attrs["least_work"] == pytest.approx(float(least_work(293.0, 0.65)), rel=0.5)
    table = variables()
    for name, variable in year.data_vars.items():
        assert name in table, name
        # an hour's sum of a flow that ends within it may fall short of zero by the step control's error
        slack = 0.02 if name.startswith("water_") else 1e-6
        assert table[name].low - slack <= float(variable.min()), name
        assert float(variable.max()) <= table[name].high + slack, name


@pytest.mark.parametrize("material", [SILICA, "zeolite_13x", "mof_303", "lithium_chloride", "cacl2_gel"])
@pytest.mark.parametrize("place", ["desert", "highland"])
def test_sorbents_and_places_far_apart_come_through(material, place):
    ready = prepare(ActiveBed(sorbent_mass=12.0), sorbent(material), site_of(place))
    _, result = march_year(ready, tolerance=1e-2, last_hour=480)
    assert np.isfinite(result.states).all()
    assert result.steps < 480 * 200


def test_frost_stays_on_the_condenser():
    """Freezing air: what condenses on a frozen condenser does not run off."""
    _, result, _ = steady(T=258.0, vapour=100.0, loop_fan_start=-20.0, condenser_conductance=5000.0)
    assert result.states[:, 1].max() < 273.0
    assert total(result, "condensation") > 0.0
    assert total(result, "collected") == pytest.approx(0.0, abs=1e-6)


def test_a_release_temperature_that_the_sorbent_does_not_stand_is_refused():
    with pytest.raises(InputError, match=r"release_temperature.*service temperature"):
        prepare(ActiveBed(release_temperature=473.15), GEL, site_of("coast"))


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"sorbent_mass": 500.0}, "10 to 2500 kg/m3"),
        ({"form": "channels", "coating_thickness": 0.005, "sorbent_mass": 20.0}, "coatings that fit"),
        ({"operation": "threshold", "empty_below": 0.9}, "less than full_above"),
    ],
)
def test_fields_that_do_not_go_together_are_refused(fields, words):
    from welkinwell.declare import check

    with pytest.raises(InputError, match=words):
        check(ActiveBed(**fields))
