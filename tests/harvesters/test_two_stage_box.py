"""The two-stage box: hand cases, what the second stage adds, what sizes do, extremes and messages."""

from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hybrid_cases import in_steady_air, ran
from two_stage_cases import DESIGNS, made

from box_cases import SIGMA, SILICA, site_of
from welkinwell.declare import check
from welkinwell.errors import InputError
from welkinwell.harvesters.two_stage_box.design import TwoStageBox
from welkinwell.harvesters.two_stage_box.flows import TWO_STAGE_BOX, UNKNOWNS
from welkinwell.harvesters.two_stage_box.harvester import notes
from welkinwell.moist_air import saturation_pressure
from welkinwell.quantities import scale, variables
from welkinwell.simulation import simulate
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.bounds import limits_of_harvester
from welkinwell.year import figures, water_account

MONTH = 720


@cache
def year(name="plain", material=SILICA, place="coast"):
    return simulate(TwoStageBox(**DESIGNS[name]), sorbent(material), site_of(place))


def month_litres(**fields):
    totals = ran(made(**fields), MONTH, tolerance=1e-3)[2]
    return totals["collected"] + totals["plate_collected"]


def test_isothermal_swing_is_mass_times_loading_difference():
    """Both open beds from one air to another in steady surroundings."""
    ready = made()
    dry = in_steady_air(ready, 20, 1, T=300.0, vapour=800.0)
    wet = in_steady_air(ready, 20, 1, T=300.0, vapour=2000.0)
    end, low, _ = ran(dry, 480)
    _, high, totals = ran(wet, 480, start=end)
    for bed, flow in (("loading", "air_to_bed"), ("second_loading", "air_to_second_bed")):
        for states, vapour in ((low, 800.0), (high, 2000.0)):
            expected = float(ready.sorbent.loading(300.0, vapour / saturation_pressure(300.0)))
            assert states[bed][-1] == pytest.approx(expected, rel=2e-3)
        assert totals[flow] == pytest.approx(3.0 * (high[bed][-1] - low[bed][-1]), rel=2e-3)


def test_beds_that_the_air_does_not_reach_take_up_nothing():
    ready = in_steady_air(made(), 10, 1, T=300.0, vapour=2500.0)
    stages = {name: getattr(ready.numbers, name)._replace(open_area=0.0) for name in ("first", "second")}
    ready = replace(ready, numbers=ready.numbers._replace(**stages))
    totals = ran(ready, 240)[2]
    assert totals["air_to_bed"] == totals["air_to_second_bed"] == 0.0


def test_a_sealed_dark_box_keeps_its_water():
    ready = in_steady_air(made(leak=0.0), 10, 0, T=300.0, vapour=1500.0)
    _, states, totals = ran(ready, 240)
    held = [
        3.0 * (states["loading"][i] + states["second_loading"][i])
        + states["plate_film"][i]
        + states["condenser_film"][i]
        for i in (0, -1)
    ]
    assert held[1] == pytest.approx(held[0], rel=1e-6)
    assert totals["collected"] == totals["plate_collected"] == 0.0


def test_dry_heat_goes_down_through_both_gaps():
    """Dry, shut, tight, steady sun: by hand, what the plate gets is what it passes on and loses."""
    ready = made(
        vent_air_changes=0.0, leak=0.0, vent_temperature=560.0, sorbent_mass=0.5, layer_thickness=2e-4
    )
    ready = in_steady_air(ready, 20, 0, T=300.0, vapour=20.0, sun=1000.0, wind=2.0)
    _, states, _ = ran(ready, 480)
    Tb, Tp, Tc = (states[f"{name}_temperature"][-1] for name in ("bed", "plate", "condenser"))
    first, second = (
        0.5 * SIGMA * (hot**4 - cold**4)
        + (0.02436 + 7.34e-5 * (0.5 * (hot + cold) - 273.15)) / 0.015 * (hot - cold)
        for hot, cold in ((Tb, Tp), (Tp, Tc))
    )
    print(f"bed {Tb - 273.15:.0f}, plate {Tp - 273.15:.0f}, condenser {Tc - 273.15:.0f} C, {first:.0f} W/m2")
    assert first == pytest.approx(second + 0.3 * (Tp - 300.0), rel=2e-3)
    assert Tb > Tp + 10.0 > Tc + 15.0


def test_the_second_stage_uses_the_heat_again():
    """Litres times latent heat pass the heat that the first bed got less its own losses, but not twice it."""
    found = year()
    heat = float(found["release_heat"].sum())
    litres = water_account(found)["water_collected"]
    first, second = (float(found[name].sum()) * 3600.0 for name in ("plate_collected", "collected"))
    print(f"{litres / 365:.2f} L/m2/day, second stage {second / (first + second):.0%},"
          f" {heat / 3.6e6 / litres:.2f} kWh of heat a litre")  # fmt: skip
    assert 0.25 < second / (first + second) < 0.75
    assert litres * 2.4e6 < 2.0 * heat
    assert any("second" in line for line in notes(TwoStageBox(), None, found))


def test_nearly_all_sorbent_in_the_first_stage_is_nearly_one_stage():
    whole, first_only = month_litres(), month_litres(second_share=0.05)
    print(f"{whole:.2f} with two stages, {first_only:.2f} with nearly one")
    assert first_only < 0.95 * whole


def test_more_of_what_helps_never_gives_less():
    """Vapour and condenser: within 0.1 % of no less."""
    litres = [month_litres(condenser_outer_area=area) for area in (1.0, 3.0, 9.0)]
    print([round(float(x), 2) for x in litres])
    assert all(more >= 0.999 * less for less, more in pairwise(litres))
    base = made()
    litres = []
    for factor in (0.7, 1.0, 1.15):
        nodes = base.air.nodes.copy()
        nodes[:, 1] *= factor
        totals = ran(replace(base, air=replace(base.air, nodes=nodes)), MONTH)[2]
        litres.append(totals["collected"] + totals["plate_collected"])
    assert all(more >= 0.999 * less for less, more in pairwise(litres))


def test_less_reach_of_the_night_air_gives_less_but_more_than_half():
    whole, half = month_litres(bed_effectiveness=0.8), month_litres(bed_effectiveness=0.4)
    assert 0.49 * whole < half < whole


def test_the_year_is_within_its_bounds():
    for name in DESIGNS:
        found = year(name)
        numbers, account = figures(found), water_account(found)
        print(name, numbers["litres_per_m2_day"])
        assert 0.0 < account["water_collected"] < account["water_taken_up"] * 1.001
        assert 0.0 < numbers["second_law_efficiency"] < 1.0
        limits = limits_of_harvester(
            TwoStageBox(**DESIGNS[name]), sorbent(SILICA), found, site_of("coast").climate
        )
        values = {bound.key: bound.value for bound in limits.bounds if "two_stage_box" in bound.binds}
        assert "reversible" in values
        assert numbers["litres_per_m2_day"] < min(values.values())


def test_names_are_in_the_table():
    table = variables()
    for name in DESIGNS:
        for key, variable in year(name).data_vars.items():
            assert key in table, f"{key} is not in quantities.toml"
            if "loading" not in key:
                given, stated = scale(variable.attrs["units"]), scale(table[key].unit)
                assert given.dimensions == stated.dimensions, key
            low, high = float(variable.min()), float(variable.max())
            slack = 1e-3 + 1e-9 * max(abs(table[key].low), abs(table[key].high))
            assert table[key].low - slack <= low <= high <= table[key].high + slack, f"{key}: {low} to {high}"


def test_accuracy():
    ready = made()
    fine, default = (ran(ready, MONTH, tolerance=t)[2]["collected"] for t in (3e-5, 3e-3))
    print(f"default tolerance is {default / fine - 1.0:+.1e} off")
    assert default == pytest.approx(fine, rel=5e-3)


@pytest.mark.parametrize("mode", [0, 1])
def test_flows_use_what_they_say(mode):
    """Each flow moved by each unknown: those that it does not name leave it as it was, to the last bit."""
    ready = made(gap_circulation="inclined", vent_temperature=340.0)
    air = in_steady_air(ready, 1, mode, T=300.0, vapour=2000.0, sun=700.0).air.nodes[0]
    rng = np.random.default_rng(3)
    flows = TWO_STAGE_BOX.flows
    before, after = np.zeros(len(flows)), np.zeros(len(flows))
    slopes = np.zeros((len(flows), len(UNKNOWNS)))
    for _ in range(40):
        y = np.concatenate(
            [rng.uniform(280.0, 370.0, 4), rng.uniform(0.01, 0.3, 2), rng.uniform(0.0, 0.2, 2),
             rng.uniform(200.0, 2e4, 4)]
        )  # fmt: skip
        TWO_STAGE_BOX.fill_flows(y, air, mode, ready.numbers, ready.row, False, before, slopes)
        for i, unknown in enumerate(UNKNOWNS):
            moved = y.copy()
            moved[i] += 1e-3 * unknown.size
            TWO_STAGE_BOX.fill_flows(moved, air, mode, ready.numbers, ready.row, False, after, slopes)
            changed = {f for f in range(len(flows)) if after[f] != before[f]}
            allowed = {f for f, flow in enumerate(flows) if i in flow.uses}
            assert changed <= allowed, [flows[f].name for f in changed - allowed]


def test_extremes_are_finite():
    hard = [
        {"sorbent_mass": 100.0, "layer_thickness": 0.02, "bed_area": 10.0, "gap_air_volume": 0.5},
        {"sorbent_mass": 0.02, "layer_thickness": 5e-5, "bed_area": 0.4, "bed_metal": 0.2},
        {"condenser_outer_area": 0.05, "condenser_mass": 0.1, "vent_air_changes": 0.0},
        {
            "first_gap": 2e-3,
            "second_gap": 2e-3,
            "gap_air_volume": 2e-3,
            "leak": 0.0,
            "bed_area": 1.0,
            "sorbent_mass": 1.5,
        },
    ]
    for place, material in (("desert", SILICA), ("tropics", "mof_303")):
        for fields in hard:
            check(TwoStageBox(**fields))
            _, states, totals = ran(made(material, place, **fields), 120)
            assert all(np.isfinite(list(totals.values())))
            assert 200.0 < states["bed_temperature"].min() <= states["bed_temperature"].max() < 700.0


def test_what_does_not_fit_is_refused():
    with pytest.raises(InputError, match="a layer of 10 to 2500 kg/m3"):
        check(TwoStageBox(sorbent_mass=100.0))
    with pytest.raises(InputError, match="fit into their box"):
        check(TwoStageBox(layer_thickness=0.1, sorbent_mass=100.0))
