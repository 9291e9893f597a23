"""The balance that the audit keeps: it closes, and it notices any flow that is wrong."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from benchmarks.made_up_weather import SHEETS
from scipy.integrate import quad

from box_cases import SILICA, box, site_of
from welkinwell.errors import SolverError
from welkinwell.harvesters.harvester import Kind
from welkinwell.harvesters.passive_box.audit import audited_stocks, boundary
from welkinwell.harvesters.passive_box.flows import FLOWS, PASSIVE_BOX, box_numbers
from welkinwell.simulation import march_year, prepare
from welkinwell.sorbents.row import FORM_SALT_HYDRATES, SLOT_FORM
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.year import BALANCE_LIMIT, FLOW_LIMIT, Run, audited_balance

DESIGNS = {
    "starter": {},
    "both faces, exposed": {
        "release_face": "both",
        "front_gap_sealed": False,
        "cover_opens": True,
        "open_faces": 2,
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
    """The same surroundings with a shower at night every third day: the coast's file has no rain."""
    nodes = ready.air.nodes.copy()
    hours = np.arange(nodes.shape[0]) / 2.0
    shower = (hours % 72.0 >= 2.0) & (hours % 72.0 <= 4.0)
    nodes[shower, 8] = 5e-4
    nodes[shower, 1] = np.minimum(nodes[shower, 1] * 1.6, 3000.0)  # damp air: dew on bed, glass and metal
    return replace(ready, air=replace(ready.air, nodes=nodes))


@cache
def ran(name, last_hour=None):
    ready = prepare(box(**DESIGNS[name]), sorbent(SILICA), site_of("coast"))
    if name != "starter":
        ready = rained_on(ready)
    start, result = march_year(ready, tolerance=1e-3, record=True, last_hour=last_hour)
    climate = site_of("coast").climate
    return Run(
        name,
        ready.harvester,
        ready.design,
        ready.sorbent,
        ready.air,
        climate,
        start,
        result,
        "hours",
        "normal",
        True,
    )


@pytest.mark.parametrize("name", DESIGNS)
def test_a_year_closes(name):
    found = audited_balance(ran(name))
    print(f"{name}: water {found.water_residual_relative:.1e}, energy {found.energy_residual_relative:.1e}")
    assert abs(found.water_residual_relative) < 1e-9
    assert abs(found.energy_residual_relative) < 1e-9
    assert found.flow_difference < FLOW_LIMIT


def test_what_it_is_judged_by():
    """Water taken up, and sun absorbed: by hand, 365 days of some kg/m2 and of 10 to 30 MJ/m2."""
    found = audited_balance(ran("starter"))
    assert 100.0 < found.water_scale < 3000.0
    assert 365 * 10e6 < found.energy_scale < 365 * 30e6
    march = ran("starter").result.flows.sum(axis=(0, 1))
    sun = sum(march[PASSIVE_BOX.flow_number(n)] for n in ("sun_absorber", "sun_glazing", "sun_condenser"))
    assert found.energy_scale == pytest.approx(sun, rel=1e-12)


def test_every_flow_runs_in_one_of_the_two_designs():
    """So that no flow is left out of the next test."""
    total = sum(np.abs(ran(name, 720).result.flows).sum(axis=(0, 1)) for name in DESIGNS)
    assert [flow.name for flow, size in zip(FLOWS, total, strict=True) if size == 0.0] == []


@pytest.mark.parametrize("flow", [flow.name for flow in FLOWS])
def test_a_turned_sign_is_noticed(flow):
    """Where the flow crosses the boundary the sums do not close; in any case it differs from the march's."""
    number = PASSIVE_BOX.flow_number(flow)
    water_in, energy_in = boundary()
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


# One sheet or more of each form; the salts step from hydrate to hydrate
SMOOTH = (*SHEETS, "cacl2_brine", "mil_101_cr", "zeolite_4a")
SALTS = ("calcium_chloride", "lithium_chloride", "magnesium_chloride", "cacl2_in_silica")


def corners(material, low_T, high_T):
    """Loadings between which the potential jumps: those of the hydrates, and where the solution begins."""
    if int(material.row[SLOT_FORM]) != FORM_SALT_HYDRATES:
        return []
    waters = [group["water"].value for group in material.sheet.tables["hydrates"]]
    rh = np.linspace(0.02, 0.9, 2000)
    begins = [
        float(q[np.argmax(np.diff(np.log(q)))] + np.diff(q).max())
        for q in (material.loading(T, rh) for T in (low_T, high_T))
    ]
    return [*waters, *begins]


@pytest.mark.parametrize("key", SMOOTH + SALTS)
def test_a_closed_loop_in_temperature_and_loading_returns_the_beds_enthalpy(key):
    """Heat along the loop from the sheet's own heat capacity and differential heat, against nothing.

    Along T at constant loading dH = (dH/dT) dT, along the loading dH = (dH/dw) dw: both slopes are those
    that the march uses, integrated by quadrature, while the stocks are the audit's.
    """
    material, design = sorbent(key), box()
    numbers = box_numbers(design, material, 101325.0)
    low_w, high_w = (float(material.loading(T, rh)) for T, rh in ((340.0, 0.15), (300.0, 0.45)))
    low_w, high_w = min(low_w, high_w), max(low_w, high_w)
    low_T, high_T = 295.0, 345.0

    def slopes(T, w):
        y, U, S = np.zeros(9), np.zeros(9), np.zeros((9, 9))
        y[:4] = T, T, T, w
        A = simulation_potential(material, w, T)
        PASSIVE_BOX.fill_stocks(y, numbers, material.row, A, U, S)
        return S[1, 1], S[1, 3], U[1]

    def along_T(begin, end, w):
        return quad(lambda T: slopes(T, w)[0], begin, end, epsrel=1e-12, epsabs=1e-3, limit=200)[0]

    def along_w(begin, end, T):
        low, high = sorted((begin, end))
        breaks = sorted({w for w in corners(material, low_T, high_T) if low < w < high}) or None
        return quad(
            lambda w: slopes(T, w)[1], begin, end, epsrel=1e-12, epsabs=1e-3, limit=2000, points=breaks
        )[0]

    legs = [
        along_T(low_T, high_T, low_w),
        along_w(low_w, high_w, high_T),
        along_T(high_T, low_T, high_w),
        along_w(high_w, low_w, low_T),
    ]
    assert abs(sum(legs)) < 1e-9 * sum(abs(leg) for leg in legs)
    # and the audit's stocks, worked out another way, moved by the same heat
    state = np.array([low_T, low_T, low_T, low_w, 0, 0, 0, 0, 0.0])
    before = audited_stocks(state, design, material)["energy"]
    state[1], state[3] = high_T, high_w
    after = audited_stocks(state, design, material)["energy"]
    assert after - before == pytest.approx(legs[0] + legs[1], rel=1e-7)


def simulation_potential(material, w, T):
    from welkinwell.sorbents.potential import potential_at_loading

    return potential_at_loading(material.row, w, T, 3000.0)


def turned(kind: Kind, name: str) -> Kind:
    """The kind with one flow's two ends exchanged in the table that the march is made from."""
    flows = tuple(
        replace(flow, start=flow.end, end=flow.start, carries=tuple((r, -x) for r, x in flow.carries))
        if flow.name == name
        else flow
        for flow in kind.flows
    )
    return replace(kind, name=f"turned_{name}", flows=flows)


@pytest.mark.long
@pytest.mark.parametrize(
    ("flow", "noticed"),
    [("edge_loss", "does not close"), ("sun_glazing", "does not close"), ("air_to_bed", "stopped in hour")],
)
def test_a_turned_flow_inside_the_march_is_noticed(flow, noticed):
    """The march itself is built wrongly: the audit's sums do not close, or no five days come of it."""
    ready = prepare(box(), sorbent(SILICA), site_of("coast"))
    start, _ = march_year(ready, tolerance=1e-3, last_hour=120)
    wrong = replace(ready, harvester=replace(ready.harvester, kind=turned(PASSIVE_BOX, flow)))
    with pytest.raises(SolverError, match=noticed):
        _, result = march_year(wrong, tolerance=1e-3, record=True, last_hour=120, start=start)
        run = replace(ran("starter", 720), start=start, result=result, design=ready.design, air=ready.air)
        audited_balance(run)
