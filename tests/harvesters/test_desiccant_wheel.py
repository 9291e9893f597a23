"""The desiccant wheel: its balance from outside, its parts by hand, a strip of it followed as it turns."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.integrate import quad

from box_cases import SILICA, site_of, steady_air
from welkinwell.errors import InputError
from welkinwell.harvesters.active_bed.design import ActiveBed
from welkinwell.harvesters.active_bed.flows import ACTIVE_BED, bed_numbers
from welkinwell.harvesters.active_bed.harvester import plan as bed_plan
from welkinwell.harvesters.desiccant_wheel.audit import FLOWS as AUDITED
from welkinwell.harvesters.desiccant_wheel.audit import boundary
from welkinwell.harvesters.desiccant_wheel.design import DesiccantWheel
from welkinwell.harvesters.desiccant_wheel.flows import DESICCANT_WHEEL, FLOWS, heated_loop, wheel_numbers
from welkinwell.harvesters.operation import schedule
from welkinwell.parts.wheel import sorbed_heat, turned_heat
from welkinwell.quantities import variables
from welkinwell.simulation import march_year, prepare, simulate
from welkinwell.sorbents.potential import potential_at_loading
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.year import BALANCE_LIMIT, FLOW_LIMIT, Run, audited_balance, figures

GEL = sorbent(SILICA)
DESIGNS = {
    "resistance": {"face_velocity": 1.0, "wheel_revolutions": 60.0 / 3600.0},
    "heat pump by the clock": {"heat_by": "heat_pump", "heat_pump_source": "condenser", "operation": "clock"},
    "short of heat": {"heating_power": 8000.0, "wheel_revolutions": 120.0 / 3600.0},
    # breathes with the day: every part gives back what it took up by night
    "hardly heated": {"heating_power": 1500.0},
}


@cache
def ran(name):
    ready = prepare(DesiccantWheel(**DESIGNS[name]), GEL, site_of("coast"))
    start, result = march_year(ready, tolerance=3e-3, record=True, last_hour=480)
    parts = (ready.harvester, ready.design, ready.sorbent, ready.air, site_of("coast").climate, start, result)
    return Run(name, *parts, "hours", "normal", True)


def steady(days=2, T=300.0, vapour=1500.0, tolerance=1e-4, material=GEL, **fields):
    """March a wheel through days of air that never changes."""
    ready = prepare(DesiccantWheel(**fields), material, site_of("coast"))
    air = steady_air(days, T=T, vapour=vapour, pressure=101325.0)
    numbers = wheel_numbers(ready.design, ready.sorbent, 101325.0)
    ready = replace(ready, air=air, plan=schedule(ready.design, air), numbers=numbers)
    return march_year(ready, tolerance=tolerance)[1]


def total(result, name, kind=DESICCANT_WHEEL):
    return float(result.flows.sum(axis=(0, 1))[kind.flow_number(name)])


def test_the_audit_lists_the_flows_in_the_kinds_order():
    assert AUDITED == tuple(flow.name for flow in FLOWS)


@pytest.mark.parametrize("name", DESIGNS)
def test_twenty_days_close(name):
    found = audited_balance(ran(name))
    print(f"{name}: water {found.water_residual_relative:.1e}, energy {found.energy_residual_relative:.1e}")
    assert abs(found.water_residual_relative) < 1e-9
    assert abs(found.energy_residual_relative) < 1e-9
    assert found.flow_difference < FLOW_LIMIT


@pytest.mark.parametrize("flow", [flow.name for flow in FLOWS])
def test_a_turned_sign_is_noticed(flow):
    number = DESICCANT_WHEEL.flow_number(flow)
    water_in, energy_in = boundary()
    seen = 0
    for name in DESIGNS:
        run = ran(name)
        sums = np.abs(run.result.flows.sum(axis=(0, 1)))
        total_flow = sums[number]
        if total_flow == 0.0:
            continue
        seen += 1
        found = audited_balance(run, flip=number)
        assert found.flow_difference > 10.0 * FLOW_LIMIT
        if total_flow * abs(water_in[number]) > 1e-6 * found.water_scale:
            assert abs(found.water_residual_relative) > BALANCE_LIMIT
        if total_flow * abs(energy_in[number]) > 1e-6 * found.energy_scale:
            assert abs(found.energy_residual_relative) > BALANCE_LIMIT
    assert seen > 0


def test_what_turns_by_hand():
    """2 kg/s of sorbent with 1 kJ/(kg K) of dry matter at 30 degC and 0.1, bound by 20 kJ/kg:
    2 ((1000 + 0.1 x 4186) 30 - 20000) W."""
    assert turned_heat(2.0, 1000.0, 303.15, 0.1, -20e3) == pytest.approx(2.0 * (1418.6 * 30.0 - 20e3))


def test_the_heat_of_sorption_that_turns_is_that_of_the_sheet():
    """The last sorbed water is the sheet's isosteric heat less latent heat; the trapezium between the two
    parts of a wheel is within 5 % of the sheet's heat integrated between their loadings."""
    T, low, high = 310.0, 0.08, 0.18

    def last(w):
        return sorbed_heat(potential_at_loading(GEL.row, w, T, 3000.0), T, GEL.row)[0]

    latent = 2.5009e6 - 2370.0 * (T - 273.15)
    assert last(low) == pytest.approx(latent - float(GEL.isosteric_heat(T, low)), rel=0.02, abs=2e3)
    exact = quad(last, low, high)[0]
    trapezium = 0.5 * (last(low) + last(high)) * (high - low)
    print(f"trapezium {trapezium:.0f}, integral {exact:.0f} J/kg")
    assert trapezium == pytest.approx(exact, rel=0.05)


def test_the_loop_by_hand():
    """No recovery, a wheel and a condenser that the air leaves at their own temperature: 330 K, 300 K, and
    the heater lifts 300 K by what it has, or to the temperature that it is set to."""
    before, behind, cold, unheated = heated_loop(330.0, 300.0, 1.0, 1.0, 0.0, 40.0, 400.0)
    assert (before, behind, cold, unheated) == pytest.approx((340.0, 330.0, 300.0, 300.0))
    before, _, _, _ = heated_loop(330.0, 300.0, 1.0, 1.0, 0.0, 90.0, 350.0)
    assert before == pytest.approx(350.0)
    # recovery of 0.6: 300 + 0.6 (330 - 300) at the heater
    assert heated_loop(330.0, 300.0, 1.0, 1.0, 0.6, 10.0, 400.0)[3] == pytest.approx(318.0)


def test_a_wheel_that_stands_in_still_air_keeps_its_water():
    result = steady(face_velocity=0.0, heating_power=0.0, seal_leak=0.0, wheel_revolutions=0.5 / 3600.0)
    assert total(result, "air_to_wheel_1") == 0.0
    assert total(result, "collected") == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("more", "less"),
    [
        ({"vapour": 1600.0}, {"vapour": 1500.0}),
        ({"condenser_conductance": 6000.0}, {"condenser_conductance": 1500.0}),
        ({"heating_power": 20000.0}, {"heating_power": 10000.0}),
        ({"seal_leak": 0.0}, {"seal_leak": 0.05}),
        ({"face_velocity": 2.0}, {"face_velocity": 1.0}),
    ],
)
def test_more_of_it_gives_no_less_water(more, less):
    wet, dry = (total(steady(tolerance=1e-3, **fields), "collected") for fields in (more, less))
    print(f"{more} {wet:.1f}, {less} {dry:.1f} kg/m2 in two days")
    assert wet >= 0.999 * dry > 0.0


def strip_of(wheel):
    """One strip of the wheel as an active bed: its way through both streams is a short cycle.

    While it stands in the hot air it gets all the heat and the whole condenser.
    """
    rest = 1.0 - wheel.process_share
    period = 1.0 / wheel.wheel_revolutions
    same = ("sorbent_mass", "channel_shape", "channel_size", "channel_share", "coating_thickness")
    return ActiveBed(
        form="channels",
        **{name: getattr(wheel, name) for name in same},
        bed_depth=wheel.wheel_depth,
        bed_metal=wheel.wheel_substrate,
        bed_metal_specific_heat=wheel.substrate_specific_heat,
        bed_air_volume=wheel.channel_share * wheel.wheel_depth,
        edge_loss=0.0,
        face_velocity=wheel.face_velocity,
        release_velocity=wheel.regeneration_velocity,
        heat_recovery=0.0,
        damper_leak=0.0,
        loop_fan_start=-20.0,
        heating_power=wheel.heating_power / rest,
        release_temperature=363.15,
        condenser_area=wheel.condenser_area / rest,
        condenser_conductance=wheel.condenser_conductance / rest,
        condenser_mass=wheel.condenser_mass / rest,
        uptake_length=wheel.process_share * period,
        release_length=rest * period,
    )


def test_a_strip_followed_as_it_turns():
    """Three parts in a stream against a strip that is not mixed at all: reported over two speeds.

    The strip is heated in its matrix, the wheel through its air, so they are not the same device; asserted is
    that the litres are of one size where a turn is slow against the matrix's warming, and fall with speed.
    """
    found = []
    for turns in (6.0, 12.0):
        fields = {
            "wheel_revolutions": turns / 3600.0,
            "heat_recovery": 0.0,
            "seal_leak": 0.0,
            "edge_loss": 0.0,
        }
        by_wheel = total(steady(tolerance=1e-3, **fields), "collected") / 2.0
        ready = prepare(strip_of(DesiccantWheel(**fields)), GEL, site_of("coast"))
        air = steady_air(1, T=300.0, vapour=1500.0, pressure=101325.0)
        numbers = bed_numbers(ready.design, ready.sorbent, 101325.0)
        ready = replace(ready, air=air, plan=bed_plan(ready.design, air), numbers=numbers)
        by_strip = total(march_year(ready, tolerance=1e-3)[1], "collected", ACTIVE_BED)
        print(f"{turns:.0f} turns an hour: wheel {by_wheel:.1f}, strip {by_strip:.1f} kg/m2 a day")
        found.append((by_wheel, by_strip))
    assert found[0][0] == pytest.approx(found[0][1], rel=0.35)
    assert found[1][0] < found[0][0]
    assert found[1][1] < found[0][1]


@pytest.mark.parametrize("heat_by", ["resistance", "heat_pump"])
def test_a_year_by_the_sea(heat_by):
    """Electricity per litre, reported: tests of rotors scatter over 1.5 to 5 kWh/L (values from memory)."""
    year = simulate(DesiccantWheel(heat_by=heat_by), GEL, site_of("coast"))
    found = figures(year)
    print(
        f"{heat_by}: {found['litres_per_kg_day']:.2f} L/(kg day), "
        f"{found['electricity_kwh_per_litre']:.2f} kWh/L, heat {found['heat_kwh_per_litre']:.2f} kWh/L"
    )
    assert 0.0 < found["second_law_efficiency"] < 1.0
    table = variables()
    for name, variable in year.data_vars.items():
        assert name in table, name
        slack = 0.02 if name.startswith("water_") else 1e-6
        assert table[name].low - slack <= float(variable.min()), name
        assert float(variable.max()) <= table[name].high + slack, name


@pytest.mark.parametrize("material", ["zeolite_13x", "mof_303", "cacl2_gel"])
def test_sorbents_far_apart_come_through(material):
    ready = prepare(DesiccantWheel(), sorbent(material), site_of("desert"))
    result = march_year(ready, tolerance=1e-2, last_hour=480)[1]
    assert np.isfinite(result.states).all()


def test_a_temperature_that_the_sorbent_does_not_stand_is_refused():
    with pytest.raises(InputError, match=r"regeneration_temperature.*service temperature"):
        prepare(DesiccantWheel(regeneration_temperature=473.15), GEL, site_of("coast"))


def test_a_year_with_frost_closes():
    """On the highland the film's own slope is lost in round-off unless the audit takes it by itself."""
    year = simulate(DesiccantWheel(), GEL, site_of("highland"), keep="months")
    assert abs(year.attrs["water_residual_relative"]) < 2e-10
    assert abs(year.attrs["energy_residual_relative"]) < 2e-10
