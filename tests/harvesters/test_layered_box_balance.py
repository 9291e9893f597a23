"""The audit's balance of the layered box: a year closes, and any flow that is wrong is noticed."""

import json
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from box_cases import SILICA, box, site_of
from welkinwell.harvesters.kinds import harvester_of_year
from welkinwell.harvesters.passive_box.layered_audit import boundary
from welkinwell.harvesters.passive_box.layered_flows import CELLS, layered_kind
from welkinwell.quantities import variables
from welkinwell.report import charts
from welkinwell.report.accounts import heat_of
from welkinwell.simulation import march_year, prepare, simulate
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.year import BALANCE_LIMIT, FLOW_LIMIT, Run, audited_balance, water_account

KIND = layered_kind(CELLS)
DESIGNS = {
    "starter": {},
    "both faces, exposed": {
        "release_face": "both",
        "front_gap_sealed": False,
        "cover_opens": True,
        "open_faces": 2,
        "layer_thickness": 6e-3,
        "bed_area": 2.0,
        "bed_open_emissivity": 0.9,
        "bed_sky_view": 0.6,
        "rain_catch": 0.5,
        "closed_in_rain": False,
        # small and hot, so that the vent opens, and dew drips from bed and glass
        "vent_temperature": 345.15,
        "bed_holdup": 0.001,
        "glazing_holdup": 0.001,
    },
}


def rained_on(ready):
    """The same surroundings with a shower at night every third day and damp air with it."""
    nodes = ready.air.nodes.copy()
    hours = np.arange(nodes.shape[0]) / 2.0
    shower = (hours % 72.0 >= 2.0) & (hours % 72.0 <= 4.0)
    nodes[shower, 8] = 5e-4
    nodes[shower, 1] = np.minimum(nodes[shower, 1] * 1.6, 3000.0)
    return replace(ready, air=replace(ready.air, nodes=nodes))


@cache
def ran(name, last_hour=None):
    ready = prepare(box(depth="layered", **DESIGNS[name]), sorbent(SILICA), site_of("coast"))
    if name != "starter":
        ready = rained_on(ready)
    start, result = march_year(ready, tolerance=1e-3, record=True, last_hour=last_hour)
    climate = site_of("coast").climate
    parts = (ready.harvester, ready.design, ready.sorbent, ready.air, climate, start, result)
    return Run(name, *parts, "hours", "normal", True)


@pytest.mark.parametrize("name", DESIGNS)
def test_a_year_closes(name):
    found = audited_balance(ran(name))
    print(f"{name}: water {found.water_residual_relative:.1e}, energy {found.energy_residual_relative:.1e}")
    assert abs(found.water_residual_relative) < 1e-9
    assert abs(found.energy_residual_relative) < 1e-9
    assert found.flow_difference < FLOW_LIMIT


def test_a_year_with_a_steep_isotherm_closes():
    """A step that the front crosses cell by cell; simulate raises when its books do not close to 1e-9."""
    year = simulate(box(depth="layered", layer_thickness=5e-3), sorbent("mof_303"), site_of("desert"))
    assert abs(year.attrs["water_residual_relative"]) < 1e-9
    assert abs(year.attrs["energy_residual_relative"]) < 1e-9


def test_every_flow_runs_in_one_of_the_two_designs():
    total = sum(np.abs(ran(name, 720).result.flows).sum(axis=(0, 1)) for name in DESIGNS)
    assert [flow.name for flow, size in zip(KIND.flows, total, strict=True) if size == 0.0] == []


@pytest.mark.parametrize("flow", [flow.name for flow in KIND.flows])
def test_a_turned_sign_is_noticed(flow):
    """Where the flow crosses the boundary the sums do not close; in any case it differs from the march's."""
    number = KIND.flow_number(flow)
    water_in, energy_in = boundary(CELLS)
    seen = 0
    for name in DESIGNS:
        run = ran(name, 720)
        if np.abs(run.result.flows[:, :, number]).sum() == 0.0:
            continue
        seen += 1
        found = audited_balance(run, flip=number)
        assert found.flow_difference > 1000.0 * FLOW_LIMIT
        total = abs(run.result.flows[:, :, number].sum())
        if total * abs(water_in[number]) > 1e-6 * found.water_scale:
            assert abs(found.water_residual_relative) > BALANCE_LIMIT
        if total * abs(energy_in[number]) > 1e-6 * found.energy_scale:
            assert abs(found.energy_residual_relative) > BALANCE_LIMIT
    assert seen > 0


@cache
def year(keep="hours"):
    return simulate(box(depth="layered"), sorbent(SILICA), site_of("coast"), keep=keep)


def test_a_year_shows_the_same_names_as_the_lumped_box():
    lumped = simulate(box(), sorbent(SILICA), site_of("coast"))
    assert set(year().data_vars) == set(lumped.data_vars)
    assert set(year().data_vars) <= set(variables())
    assert set(year("months").data_vars) <= set(year().data_vars)
    assert (year().attrs["kind"], year().attrs["depth"]) == ("passive_box", "layered")
    assert lumped.attrs["depth"] == "lumped"
    assert harvester_of_year(year().attrs).kind is KIND
    assert json.loads(year().attrs["design"])["depth"] == "layered"


def test_what_a_year_shows_of_the_bed_is_that_of_all_cells():
    """Sorption is the sum of the cells', loading their mean: one kg of sorbent, its water and its rate."""
    data = year()
    change = data["loading"].values[-1] - data["loading"].values[0]
    taken = data["sorption"].values[1:].sum() * 3600.0
    assert data.attrs["sorbent_mass"] * change == pytest.approx(taken, abs=1e-9 * 1000.0)
    assert data.attrs["highest_bed_temperature"] >= data["bed_temperature"].values.max()


def test_accounts_of_water_and_heat_add_up():
    account = water_account(year())
    kept = account["water_kept"]
    assert abs(kept) < 0.05 * account["water_taken_up"]
    heat = heat_of(year(), "bed_temperature")
    assert heat.total_in > 100.0
    assert abs(heat.stored) < 0.01 * heat.total_in


def test_the_profile_is_the_days_mean_of_the_cells():
    """Its mean over the layer is that of the shown loading at the fullest hour; the face swings most."""
    profile = json.loads(year().attrs["layer_profile"])
    by_day = year()["loading"].values.reshape(365, 24)
    assert np.mean(profile["fullest"]) == pytest.approx(by_day.max(axis=1).mean(), rel=1e-12)
    assert np.mean(profile["emptiest"]) == pytest.approx(by_day.min(axis=1).mean(), rel=1e-12)
    swing = np.array(profile["fullest"]) - np.array(profile["emptiest"])
    assert len(swing) == CELLS
    assert swing.argmax() == CELLS - 1
    figure = charts.loading_through_the_layer("box", profile, 3.0)
    assert figure.chart.to_dict()
    assert "3 mm" in figure.alternative
