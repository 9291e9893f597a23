"""The audit of the passive box: every flow against the march's, hand cases, and its integral enthalpy."""

from types import SimpleNamespace

import library_solution as library
import numpy as np
import pytest
from scipy.optimize import brentq

from welkinwell.harvesters.audit import integral_enthalpy, integrated_enthalpy
from welkinwell.harvesters.passive_box.audit import FLOWS, audited_flows, audited_stocks
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX, box_numbers
from welkinwell.harvesters.passive_box.harvester import HARVESTER as PASSIVE_BOX_HARVESTER
from welkinwell.moist_air import saturation_pressure
from welkinwell.sorbents import dubinin_astakhov, potential, sips_terms, toth
from welkinwell.sorbents.row import (
    SLOT_ACTIVATION_ENERGY,
    SLOT_DIFFUSION_LENGTH,
    SLOT_DIFFUSIVITY,
    SLOT_SHAPE_FACTOR,
    empty_row,
)

SITE = 95000.0
SIGMA = 5.670374419e-8
ONE_TERM = ((0.36, 4000.0, 1900.0, -6.0),)
TWO_TERMS = ((0.25, 2500.0, 1800.0, -5.0), (0.12, 7000.0, 1500.0, 3.0))
EMPTY = np.array([0, 0, 0, 0, 0, 0, 0, 0, 0.0])


def box(**fields):
    return PassiveBox(**{"vent_temperature": 368.15, **fields})


def sorbent_of(row, porosity=0.35):
    """A stand-in for a data sheet: silica-gel-like kinetics of 0.5 mm grains."""
    row[SLOT_SHAPE_FACTOR], row[SLOT_DIFFUSIVITY] = 15.0, 2.5e-4
    row[SLOT_ACTIVATION_ENERGY], row[SLOT_DIFFUSION_LENGTH] = 42000.0, 0.5e-3

    def loading(T, humidity):
        T, humidity = np.broadcast_arrays(np.asarray(T, float), np.asarray(humidity, float))
        A = -8.314462618 * T * np.log(humidity)
        flat = [potential.sorbed_state(row, a, t)[0] for a, t in zip(A.ravel(), T.ravel(), strict=True)]
        return np.reshape(flat, A.shape)

    return SimpleNamespace(
        row=row,
        dry_specific_heat=920.0,
        layer_porosity=porosity,
        rate_covers_layer=False,
        loading=loading,
    )


def sips(terms=TWO_TERMS, porosity=0.35):
    row = empty_row()
    sips_terms.fill_row(row, terms)
    return sorbent_of(row, porosity)


def steady(days, sun=0.0, T=300.0, pa=1500.0, wind=1.0, sky=None):
    """Air that never changes."""
    sky = SIGMA * T**4 if sky is None else sky
    row = [T, pa, SITE, wind, sky, 0.8 * sun, 0.03 * sun, sun, 0.0]
    return SimpleNamespace(nodes=np.tile(row, (48 * days + 1, 1)), spacing=1800.0, pressure=SITE)


def random_states(n, seed):
    """States and surroundings all over the place, and both modes."""
    rng = np.random.default_rng(seed)
    Ta = rng.uniform(258.0, 318.0, n)
    Tb = rng.uniform(260.0, 385.0, n)
    films = rng.uniform(-1e-4, [[1.2], [0.3], [0.3]], (3, n)) * rng.choice([0.01, 1.0], n)
    ps = saturation_pressure(Tb) * rng.uniform(0.02, 1.3, n)
    pv = rng.uniform(50.0, 60000.0, n)
    # some vapour pressures just above those of the surfaces, where condensation begins
    Tc = Ta + rng.uniform(-5.0, 25.0, n)
    pv[::5] = saturation_pressure(Tc[::5]) + rng.uniform(-10.0, 30.0, len(pv[::5]))
    ps[1::5] = saturation_pressure(Tb[1::5]) + rng.uniform(-10.0, 30.0, len(ps[1::5]))
    T = [Ta + rng.uniform(-15.0, 40.0, n), Tb, Tc]
    state = np.array([*T, rng.uniform(0.01, 0.36, n), *films, ps, pv])
    outside = [Ta, rng.uniform(50.0, 3500.0, n), rng.uniform(7e4, 1.03e5, n), rng.uniform(0.0, 8.0, n)]
    rest = rng.uniform([[150], [0], [0], [0], [0]], [[450], [900], [40], [1100], [1e-3]], (5, n))
    return state, np.array([*outside, *rest]), rng.integers(0, 2, n)


def marched_flows(design, sorbent, states, air, modes):
    """The flows of the march at states side by side."""
    numbers, slopes = box_numbers(design, sorbent, SITE), np.zeros((37, 9))
    found = np.zeros((37, len(modes)))
    for k, mode in enumerate(modes):
        phi = np.zeros(37)
        y, outside = states[:, k].copy(), air[:, k].copy()
        PASSIVE_BOX.fill_flows(y, outside, int(mode), numbers, sorbent.row, True, phi, slopes)
        found[:, k] = phi
    return found


DESIGNS = {
    "as declared": {},
    "front releases onto the glass": {
        "release_face": "front",
        "front_gap_sealed": False,
        "cover_opens": True,
    },
    "both faces, condenser above": {
        "release_face": "both",
        "front_gap_sealed": False,
        "condenser_position": "above",
        "tilt": 0.1,
    },
    "inclined gap, steep": {"gap_circulation": "inclined", "tilt": 1.2, "open_faces": 2, "rain_catch": 0.4},
    "condenser beside, bare bed": {
        "condenser_position": "beside",
        "cover_opens": True,
        "bed_open_emissivity": 0.9,
        "bed_sky_view": 0.6,
        "tilt": 0.5 * np.pi,
    },
    "circulating, flat, no gutter": {"gap_circulation": "inclined", "tilt": 0.0, "glazing_gutter": False},
}


@pytest.mark.parametrize("name", DESIGNS)
@pytest.mark.parametrize("porosity", [0.35, 0.0])
def test_the_audit_and_the_march_agree_on_every_flow(name, porosity):
    design, sorbent = box(**DESIGNS[name]), sips(porosity=porosity)
    state, air, mode = random_states(200, seed=len(name))
    theirs = marched_flows(design, sorbent, state, air, mode)
    ours = audited_flows(state, air, mode, design, sorbent, SITE)
    assert ours.shape == (37, 200)
    assert tuple(flow.name for flow in PASSIVE_BOX.flows) == FLOWS
    # relative to each value; where its own terms cancel, to 1e-4 of the largest of that flow
    scale = np.maximum(np.abs(theirs), 1e-4 * np.max(np.abs(theirs), axis=1, keepdims=True))
    miss = np.abs(ours - theirs) / np.where(scale == 0.0, 1.0, scale)
    worst = np.unravel_index(np.argmax(miss), miss.shape)
    # the march takes a film more than 2 K above freezing as liquid, where some 1e-8 of it is ice
    assert miss.max() < 5e-8, f"{FLOWS[worst[0]]}: {ours[worst]} against {theirs[worst]}"


def test_every_flow_is_met_by_some_design():
    seen = np.zeros(37, dtype=bool)
    for fields in DESIGNS.values():
        state, air, mode = random_states(100, seed=3)
        seen |= np.any(audited_flows(state, air, mode, box(**fields), sips(), SITE) != 0.0, axis=1)
    assert [name for name, met in zip(FLOWS, seen, strict=True) if not met] == []


def prepared(design, sorbent, air, mode):
    """As `prepare` gives it, in one mode throughout."""
    plan = SimpleNamespace(switch_times=np.array([0.0]), switch_modes=np.array([mode]))
    return SimpleNamespace(
        design=design, sorbent=sorbent, air=air, plan=plan, harvester=PASSIVE_BOX_HARVESTER, row=sorbent.row
    )


def test_a_sealed_dark_box_keeps_its_water():
    design, sorbent = box(leak=0.0, vent_air_changes=0.0), sips()
    start = np.array([310.0, 350.0, 300.0, 0.25, 0.0, 0.0, 0.01, 8000.0, 3000.0])
    ready = prepared(design, sorbent, steady(2, sky=250.0), 0)
    *soon, first = library.solve(ready, start, (0, 1), rtol=1e-7)
    assert soon[6] > 0.02  # it did condense, though the cold bed takes it back later
    *end, litres = library.solve(ready, np.array(soon), (1, 12), rtol=1e-7)
    before, after = (audited_stocks(state, design, sorbent)["water"] for state in (start, end))
    assert after + first + litres == pytest.approx(before, abs=1e-6)


def test_an_open_bed_in_still_conditions_comes_to_rest_with_the_air():
    sorbent, air = sips(), steady(20, sky=SIGMA * 300.0**4)
    start = np.array([290.0, 310.0, 300.0, 0.05, 0.0, 0.0, 0.0, 500.0, 500.0])
    end = library.solve(prepared(box(cover_opens=True), sorbent, air, 1), start, (0, 480), rtol=1e-7)
    at_rest = sorbent.loading(300.0, 1500.0 / saturation_pressure(300.0))
    assert end[:3] == pytest.approx([300.0] * 3, abs=1e-3)
    assert end[3] == pytest.approx(float(at_rest), rel=1e-4)
    assert end[7:9] == pytest.approx([1500.0] * 2, rel=1e-4)


def test_top_loss_at_stagnation_meets_the_textbook_example():
    """Duffie and Beckman, Solar Engineering of Thermal Processes, example 6.4.1: 6.6 W/(m2 K).

    (Value from memory.) Black plate at 100 C, one glass, gap 25 mm, tilt 45 degrees, air and sky 10 C,
    wind coefficient 10 W/(m2 K).
    """
    plate, air_T = 373.15, 283.15
    design = box(front_gap=0.025, absorber_emissivity=0.95, tilt=np.pi / 4.0, wind_slope=0.0)
    sky = np.array([air_T, 500.0, 101325.0, 0.0, SIGMA * air_T**4, 0.0, 0.0, 0.0, 0.0])[:, None]

    def flows(glass):
        free = (9.482 / (7.283 - np.cos(np.pi / 4.0))) ** 3 * (glass - air_T)
        windy = box(**{**vars(design), "wind_constant": (1000.0 - free) ** (1.0 / 3.0)})
        state = np.array([glass, plate, 300.0, 0.01, 0.0, 0.0, 0.0, 1000.0, 1000.0])[:, None]
        found = audited_flows(state, sky, np.array([0]), windy, sips(), 101325.0)
        return dict(zip(FLOWS, found[:, 0], strict=True))

    def excess(glass):
        f = flows(glass)
        return f["cover_radiation"] + f["cover_convection"] - f["glazing_longwave"] - f["glazing_convection"]

    f = flows(brentq(excess, 290.0, 370.0))
    top_loss = (f["cover_radiation"] + f["cover_convection"]) / (plate - air_T)
    assert top_loss == pytest.approx(6.6, rel=0.02)


@pytest.mark.parametrize("terms", [ONE_TERM, TWO_TERMS])
def test_integral_enthalpy_is_the_same_by_closed_form_and_by_quadrature(terms):
    sorbent = sips(terms)
    for w in (0.02, 0.15, 0.3):
        for T in (285.0, 360.0):
            assert integral_enthalpy(sorbent, w, T) == pytest.approx(
                integrated_enthalpy(sorbent, w, T), rel=1e-8
            )


@pytest.mark.parametrize("form", ["toth", "dubinin_astakhov", "sips_terms"])
def test_integral_enthalpy_meets_the_potential_of_every_form(form):
    row = empty_row()
    if form == "toth":
        toth.fill_row(row, 0.3, 1.1e-9, 6500.0, 0.35, 20.0)
    elif form == "dubinin_astakhov":
        dubinin_astakhov.fill_row(row, 0.35, 4000.0, 1.5, False)
    else:
        sips_terms.fill_row(row, TWO_TERMS)
    sorbent = sorbent_of(row)
    for A in (1500.0, 4000.0, 9000.0):
        for T in (285.0, 350.0):
            q, _, _, enthalpy, _ = potential.sorbed_state(row, A, T)
            assert integral_enthalpy(sorbent, q, T) == pytest.approx(enthalpy, rel=1e-7), (A, T)
