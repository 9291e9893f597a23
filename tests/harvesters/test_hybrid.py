"""The hybrid: hand cases, when the top-up runs, what sizes do, extremes and messages."""

from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hybrid_cases import DESIGNS, in_steady_air, made, ran, ready_of

from box_cases import SIGMA, SILICA, site_of
from welkinwell.declare import check
from welkinwell.errors import InputError
from welkinwell.harvesters.hybrid.design import Hybrid
from welkinwell.harvesters.hybrid.flows import HYBRID, loop_numbers, top_up_share
from welkinwell.harvesters.hybrid.harvester import notes
from welkinwell.moist_air import saturation_pressure
from welkinwell.quantities import scale, variables
from welkinwell.simulation import simulate
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.bounds import limits_of_harvester
from welkinwell.year import figures, water_account

MONTH = 720
KWH = 3.6e6


@cache
def year(name="heat pump", material=SILICA, place="coast"):
    return simulate(Hybrid(**DESIGNS[name]), sorbent(material), site_of(place))


def test_isothermal_swing_is_mass_times_loading_difference():
    """The open bed from one air to another in steady surroundings without radiator."""
    ready = made(radiator_coupling=0.0)
    dry = in_steady_air(ready, 20, 1, T=300.0, vapour=800.0)
    wet = in_steady_air(ready, 20, 1, T=300.0, vapour=2000.0)
    end, states, _ = ran(dry, 480)
    low = states["loading"][-1]
    _, states, totals = ran(wet, 480, start=end)
    high = states["loading"][-1]
    material = ready.sorbent
    for held, vapour in ((low, 800.0), (high, 2000.0)):
        expected = float(material.loading(300.0, vapour / saturation_pressure(300.0)))
        assert held == pytest.approx(expected, rel=2e-3)
    assert totals["air_to_bed"] == pytest.approx(8.0 * (high - low), rel=2e-3)


def test_no_air_movement_gives_no_uptake():
    ready = in_steady_air(made(open_airflow=0.0), 10, 1, T=300.0, vapour=2500.0)
    assert abs(ran(ready, 240)[2]["air_to_bed"]) < 1e-3


def test_a_sealed_dark_box_keeps_its_water():
    ready = in_steady_air(made(leak=0.0, top_up="none"), 10, 0, T=300.0, vapour=1500.0)
    _, states, totals = ran(ready, 240)
    held = [8.0 * states["loading"][i] + states["condenser_film"][i] for i in (0, -1)]
    assert held[1] == pytest.approx(held[0], rel=1e-6)
    assert totals["collected"] == 0.0


def test_a_bed_in_the_sun_with_no_water_stagnates():
    """By hand: 800 W/m2 leave through the edges and by radiation and air to the glass; no loop, no vent."""
    ready = made(loop_start=60.0, vent_air_changes=0.0, leak=0.0, top_up="none", vent_temperature=560.0)
    ready = in_steady_air(ready, 20, 0, T=300.0, vapour=500.0, sun=1000.0, wind=2.0)
    ready = replace(ready, numbers=ready.numbers._replace(loop_start=500.0))
    _, states, _ = ran(ready, 480)
    T, Tg = states["bed_temperature"][-1], states["glazing_temperature"][-1]
    through = 800.0 - 0.8 * (T - 300.0) - SIGMA * (T**4 - Tg**4) / (1 / 0.15 + 1 / 0.88 - 1.0)
    print(
        f"stagnates at {T - 273.15:.0f} C, glass {Tg - 273.15:.0f} C, air {through / (T - Tg):.1f} W/(m2 K)"
    )
    assert 400.0 < T < 520.0
    # 40 mm of air at this slope carries 2 to 5 W/(m2 K) (Hollands1976, by the curves of Duffie2013)
    assert 2.0 < through / (T - Tg) < 5.0


def test_a_radiator_cools_the_bed_as_far_as_sky_and_air_allow():
    """Clear steady night: the plate's balance by hand, 70 W/m2 of sky deficit, 2.8 W/(m2 K) in still air."""
    T = 295.0
    ready = made(open_airflow=0.0, radiator_area=1.0, radiator_coupling=1000.0, edge_loss=0.0, tilt=0.0)
    ready = in_steady_air(ready, 5, 1, T=T, vapour=800.0, wind=0.0, sky=SIGMA * T**4 - 70.0)
    _, states, totals = ran(ready, 120)
    Tb, Tr = states["bed_temperature"][-1], states["radiator_temperature"][-1]
    print(f"bed {T - Tb:.1f} K, radiator {T - Tr:.1f} K below the air")
    assert Tr < T - 3.0 and Tb < T - 2.0
    lost = 0.92 * (SIGMA * Tr**4 - (SIGMA * T**4 - 70.0))
    # constant 2.8 and, for a cold plate that looks up, 1.810/(1.382 + 1) of free convection (Walton1983)
    gained = np.cbrt(2.8**3 + (1.810 / 2.382) ** 3 * (T - Tr)) * (T - Tr)
    assert lost == pytest.approx(gained, abs=6.0)  # what the bed still brings through the glass
    assert totals["radiator_from_bed"] > 0.0


def test_the_loop_by_hand():
    """Without recovery, both sides perfect: all the air's heat; one unit a side: e = 0.632, 1/(2/e - 1)."""
    design = Hybrid(bed_coefficient=200.0, bed_area=100.0, condenser_area=50.0, condenser_coefficient=200.0)
    material = sorbent("licl_gel")
    given = loop_numbers(replace(design, loop_recovery=0.0), material, 101325.0)
    assert given[2] == pytest.approx(15.0 / 3600.0, rel=1e-6)
    assert given[3] == pytest.approx(15.0 / 3600.0, rel=1e-6)
    kept = loop_numbers(replace(design, loop_recovery=0.75), material, 101325.0)
    # a perfect bed and condenser with recovery r: the air carries (1 - r) of its heat
    assert kept[3] == pytest.approx(0.25 * 15.0 / 3600.0, rel=1e-6)
    content = 101325.0 / (287.05 * 313.15) * 1006.0
    one = Hybrid(
        bed_area=1.0, condenser_area=1.0, bed_coefficient=20.0, condenser_coefficient=20.0, loop_recovery=0.0,
        loop_airflow=20.0 / content, sorbent_mass=1.0,
    )  # fmt: skip
    e = 1.0 - np.exp(-1.0)
    assert loop_numbers(one, material, 101325.0)[3] / one.loop_airflow == pytest.approx(
        1.0 / (2.0 / e - 1.0), rel=1e-4
    )


def test_when_the_top_up_runs():
    """Bed 60 C, condenser 25 C: lift 45 K with 5 K on each side, COP 0.4 x 293.15/45 = 2.61 (by hand)."""
    n = made().numbers
    share, cop = top_up_share(333.15, 298.15, 0.0, n)
    assert cop == pytest.approx(0.4 * 293.15 / 45.0, rel=1e-9)
    cost = 2.5009e6 / (1.0 + cop)  # 0.19 kWh a litre
    assert cost / KWH == pytest.approx(0.192, abs=0.001)
    assert share == 1.0
    assert top_up_share(333.15, 298.15, 0.0, n._replace(top_up_limit=0.99 * cost))[0] == 0.0
    assert top_up_share(349.15, 298.15, 0.0, n)[0] == 0.0  # above its end
    assert top_up_share(333.15, 273.0, 0.0, n)[0] == 0.0  # frost
    # by resistance a litre costs at least 0.69 kWh
    assert top_up_share(333.15, 298.15, 0.0, n._replace(pumps=0.0))[0] == 0.0


def test_a_limit_of_nothing_is_no_top_up():
    none = year_litres(top_up="none")
    assert year_litres(top_up_limit=0.0) == pytest.approx(none, rel=1e-6)
    found = simulate(Hybrid(top_up_limit=0.0), sorbent(SILICA), site_of("coast"))
    assert any("never runs" in line for line in notes(Hybrid(top_up_limit=0.0), None, found))


def year_litres(**fields):
    return ran(made(**fields), MONTH, tolerance=1e-3)[2]["collected"]


def test_more_of_what_helps_never_gives_less():
    """Vapour, condenser, radiator and electricity: within 0.1 % of no less."""
    for name, sizes in {
        "condenser_outer_area": (0.3, 3.0, 12.0),
        "radiator_area": (0.01, 1.0, 3.0),
        "top_up_power": (0.0, 60.0, 150.0),
    }.items():
        litres = [year_litres(**{name: size}) for size in sizes]
        print(name, [round(float(x), 2) for x in litres])
        assert all(more >= 0.999 * less for less, more in pairwise(litres)), name
    base = made()
    litres = []
    for factor in (0.7, 1.0, 1.15):
        nodes = base.air.nodes.copy()
        nodes[:, 1] *= factor
        litres.append(ran(replace(base, air=replace(base.air, nodes=nodes)), MONTH)[2]["collected"])
    assert all(more >= 0.999 * less for less, more in pairwise(litres))


def test_half_the_air_by_night_gives_less_but_more_than_half():
    whole, half = year_litres(), year_litres(open_airflow=60.0 / 3600.0)
    assert 0.49 * whole < half < whole


def test_the_year_is_within_its_bounds():
    for name in DESIGNS:
        found = year(name)
        numbers, account = figures(found), water_account(found)
        print(name, {k: numbers[k] for k in ("litres_per_m2_day", "electricity_kwh_per_litre")})
        assert 0.0 < account["water_collected"] < account["water_taken_up"] * 1.001
        assert 0.0 < numbers["second_law_efficiency"] < 1.0
        assert account["water_collected"] * 2.45e6 < float(found["release_heat"].sum()) * 1.2
        parts = ("electricity_top_up", "electricity_fan", "electricity_control")
        whole = float(sum(found[part] for part in parts).sum())
        assert whole == pytest.approx(float(found["electricity"].sum()), rel=1e-12)
        # never more vapour than the fan brings
        brought = 120.0 / 3600.0 * (found["vapour_pressure"] / (461.5 * found["temperature"])).sum() * 3600.0
        assert account["water_taken_up"] < float(brought)


def test_the_litres_stay_below_every_bound():
    """Heat once, the fan's air, and the exergy that went in."""
    found = year()
    limits = limits_of_harvester(Hybrid(), sorbent(SILICA), found, site_of("coast").climate)
    values = {bound.key: bound.value for bound in limits.bounds if "hybrid" in bound.binds}
    litres = figures(found)["litres_per_m2_day"]
    print(values, litres)
    assert {"single_effect", "air_drawn", "reversible"} <= set(values)
    assert litres < min(values.values())


def test_the_heat_pump_gives_what_it_takes():
    """First law and Carnot: heat to the bed over work between 1 and that of a reversible pump."""
    found = year()
    work, pumped = float(found["top_up_work"].sum()), float(found["heat_pumped"].sum())
    mean = 1.0 + pumped / work
    print(f"heat pump: {mean:.2f} of heat for each of work")
    assert 1.0 < mean < 20.0
    share, cop = top_up_share(330.0, 310.0, 0.0, ready_of().numbers)
    assert cop < 0.4 * 305.0 / 30.0 * 1.001 and share == 1.0


def test_names_are_in_the_table():
    table = variables()
    for name in DESIGNS:
        for key, variable in year(name).data_vars.items():
            assert key in table, f"{key} is not in quantities.toml"
            if key != "loading":
                given, stated = scale(variable.attrs["units"]), scale(table[key].unit)
                assert given.dimensions == stated.dimensions, key
            low, high = float(variable.min()), float(variable.max())
            slack = 1e-3 + 1e-9 * max(abs(table[key].low), abs(table[key].high))
            assert table[key].low - slack <= low <= high <= table[key].high + slack, f"{key}: {low} to {high}"


def test_frost_stops_the_heat_pump_and_is_told():
    design = Hybrid()
    found = simulate(design, sorbent("licl_gel"), site_of("highland"))
    assert any("near freezing" in line for line in notes(design, None, found))
    cold = found["condenser_temperature"].values < 272.0
    assert cold.any()


def test_accuracy():
    ready = made()
    fine, default = (ran(ready, MONTH, tolerance=t)[2]["collected"] for t in (3e-5, 3e-3))
    print(f"default tolerance is {default / fine - 1.0:+.1e} off")
    assert default == pytest.approx(fine, rel=5e-3)


def test_extremes_are_finite():
    hard = [
        {"sorbent_mass": 200.0, "layer_thickness": 0.1, "bed_area": 10.0, "bed_metal": 200.0},
        {"sorbent_mass": 0.01, "layer_thickness": 5e-5, "bed_area": 0.2, "bed_metal": 0.2},
        {"radiator_area": 20.0, "radiator_coupling": 1000.0, "radiator_heat": 500.0},
        {
            "top_up_power": 5000.0,
            "top_up_below": 473.15,
            "top_up_limit": 50.0 * KWH,
            "condenser_outer_area": 0.0,
        },
        {"open_airflow": 5e3 / 3600.0, "loop_airflow": 2000.0 / 3600.0, "loop_recovery": 1.0},
        {"condenser_area": 0.05, "loop_airflow": 0.1 / 3600.0, "bed_air_volume": 2e-3, "leak": 0.0},
    ]
    for place, material in (("desert", SILICA), ("tropics", "mof_303")):
        for fields in hard:
            check(Hybrid(**fields))
            _, states, totals = ran(made(material, place, **fields), 120)
            assert all(np.isfinite(list(totals.values())))
            assert 200.0 < states["bed_temperature"].min() <= states["bed_temperature"].max() < 600.0


def test_what_does_not_fit_is_refused():
    with pytest.raises(InputError, match="a layer of 10 to 2500 kg/m3"):
        check(Hybrid(sorbent_mass=100.0))
    assert len(HYBRID.flows) == 27
