"""The layered bed: its slopes and sums, its two limits (thin and thick), its ends and what it refuses."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from benchmarks.made_up_weather import extreme_air, extreme_box, ready_in
from hypothesis import given, settings
from hypothesis import strategies as st

from box_cases import OPTIONS, SILICA, box, random_states, site_of, steady_air
from welkinwell.constants import GAS_CONSTANT, WATER_GAS_CONSTANT
from welkinwell.errors import InputError, StepLimitError
from welkinwell.harvesters.harvester import incidence_of
from welkinwell.harvesters.kinds import harvester_of
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX, POOL_ENTHALPY
from welkinwell.harvesters.passive_box.layered_audit import audited_flows, flow_names
from welkinwell.harvesters.passive_box.layered_flows import CELLS, layered_kind, layered_numbers
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulation import march_year, prepare
from welkinwell.sorbents.sips_terms import fill_row
from welkinwell.sorbents.sorbent import sheet_names, sorbent
from welkinwell.transfer.layers import effective_diffusivity, front_time

KIND = layered_kind(CELLS)
UNKNOWNS, FLOWS = KIND.unknowns, KIND.flows
N, M = len(UNKNOWNS), len(FLOWS)
BOX = N - 10  # where the box's unknowns begin
USES = np.zeros((M, N), dtype=bool)
for number, flow in enumerate(FLOWS):
    USES[number, list(flow.uses)] = True
STEPS = {"K": 1e-3, "kg/kg": 1e-5, "kg/m2": 1e-6, "Pa": 0.05}
SIZES = {"K": 1.0, "kg/kg": 1e-3, "kg/m2": 1e-3, "Pa": 10.0}
STEP = np.array([STEPS[unknown.unit] for unknown in UNKNOWNS])
SIZE = np.array([SIZES[unknown.unit] for unknown in UNKNOWNS])


def layered(**fields):
    return box(depth="layered", **fields)


def states(n, seed):
    """The lumped box's random states with cells that lie around them, and a face of its own temperature."""
    y, air, mode = random_states(n, seed)
    rng = np.random.default_rng(seed + 1)
    cells = np.empty((n, CELLS - 1, 3))
    cells[:, :, 0] = y[:, None, 1] + rng.uniform(-15.0, 15.0, (n, CELLS - 1))
    cells[:, :, 1] = rng.uniform(0.005, 0.36, (n, CELLS - 1))
    cells[:, :, 2] = y[:, None, 7] * rng.uniform(0.2, 1.2, (n, CELLS - 1))
    face = y[:, 1] + rng.uniform(-10.0, 10.0, n)
    return np.column_stack([cells.reshape(n, -1), y, face]), air, mode


def flows_at(y, air, mode, numbers, row):
    phi, slopes = np.full(M, np.nan), np.zeros((M, N))
    KIND.fill_flows(y, air, int(mode), numbers, row, True, phi, slopes)
    return phi, slopes


def misses(y, air, mode, numbers, row):
    """Where a slope is off by more than 1e-5 and more than the differences' own doubt."""

    def at(step):
        found = np.zeros((M, N))
        for u in range(N):
            up, down, further, back = y.copy(), y.copy(), y.copy(), y.copy()
            for moved, k in ((up, 1), (down, -1), (further, 2), (back, -2)):
                moved[u] += k * step[u]
            values = [flows_at(moved, air, mode, numbers, row)[0] for moved in (up, down, further, back)]
            found[:, u] = (8.0 * (values[0] - values[1]) - values[2] + values[3]) / (12.0 * step[u])
        return found

    phi, slopes = flows_at(y, air, mode, numbers, row)
    fine, coarse = at(STEP), at(2.0 * STEP)
    least = np.array([1e-11 if flow.unit == "kg/(m2 s)" else 1e-5 for flow in FLOWS])
    scale = np.maximum(np.abs(fine) * SIZE, np.abs(phi)[:, None] * 1e-3 + least[:, None])
    allowed = 1e-5 * scale.max(axis=1, keepdims=True) + 10.0 * np.abs(fine - coarse) * SIZE
    wrong = np.abs(np.where(USES, slopes, 0.0) - fine) * SIZE > allowed
    return [
        f"d({FLOWS[f].name})/d({UNKNOWNS[u].name}): {slopes[f, u]:.6e}, by difference {fine[f, u]:.6e}"
        for f, u in np.argwhere(wrong)
    ]


@given(option=st.sampled_from(sorted(OPTIONS)), key=st.sampled_from((SILICA, "mof_303", "mil_101_cr")),
       seed=st.integers(0, 2**31))  # fmt: skip
@settings(max_examples=40, deadline=None, derandomize=True)
def test_slopes_meet_differences(option, key, seed):
    material = sorbent(key)
    numbers = layered_numbers(layered(**OPTIONS[option]), material, 95000.0)
    y, air, mode = states(1, seed)
    assert misses(y[0], air[0], mode[0], numbers, material.row) == []


@pytest.mark.parametrize("option", OPTIONS)
def test_the_audit_gives_the_same_flows(option):
    """Two texts of one page: every flow at random states, of the size of what it is made of."""
    design, material = layered(**OPTIONS[option]), sorbent(SILICA)
    numbers = layered_numbers(design, material, 95000.0)
    y, air, mode = states(40, seed=len(option))
    expected = audited_flows(y.T, air.T, mode, design, material, 95000.0)
    for k in range(len(y)):
        phi, _ = flows_at(y[k], air[k], mode[k], numbers, material.row)
        assert phi == pytest.approx(expected[:, k], rel=1e-8, abs=1e-12)
    assert flow_names(CELLS) == tuple(flow.name for flow in FLOWS)


def test_the_loops_are_the_table():
    """The kind's own sums and its elimination against the table of flows and a general solver."""
    wiring = KIND.wiring()
    rng = np.random.default_rng(0)
    incidence = np.zeros((N, M))
    for f, row, weight in incidence_of(FLOWS)[0]:
        incidence[row, f] += weight
    phi, slopes = rng.normal(size=M), np.where(USES, rng.normal(size=(M, N)), 0.0)
    total, carried = np.zeros(N), np.zeros((4, M))
    wiring.gather(phi, total)
    assert total == pytest.approx(incidence @ phi, rel=1e-12, abs=1e-9)
    delta = rng.normal(size=N)
    wiring.carry(phi, slopes, delta, 20.0, carried, 2)
    assert carried[2] == pytest.approx(20.0 * (phi + slopes @ delta), rel=1e-12, abs=1e-12)
    stock = np.ones(N)
    wiring.add_flows(stock, carried, 2, 0.5)
    assert stock == pytest.approx(1.0 + 0.5 * incidence @ carried[2], rel=1e-12, abs=1e-6)
    S = np.diag(rng.uniform(1.0, 2.0, N)) * 1e9
    for i in range(CELLS - 1):
        S[3 * i, 3 * i + 1] = rng.normal() * 1e8
    expected = S / 20.0 - incidence @ slopes
    system = np.full((N, N), 7.0)  # of another step
    wiring.assemble(S, slopes, 20.0, system)
    within = np.argwhere(expected != 0.0).T
    assert system[tuple(within)] == pytest.approx(expected[tuple(within)], rel=1e-12)
    b = rng.normal(size=N)
    found = b.copy()
    wiring.factorise(system)
    wiring.substitute(system, found)
    assert found == pytest.approx(np.linalg.solve(expected, b), rel=1e-9)


def test_rows_of_the_table_keep_water_and_heat():
    water = np.array([unknown.stock == "water" for unknown in UNKNOWNS])
    held = np.where(["vapour_pressure" in u.name for u in UNKNOWNS], POOL_ENTHALPY, 0.0)
    _, energy_in = harvester_of(layered()).boundary()
    water_in, _ = harvester_of(layered()).boundary()
    change = np.zeros((M, N))
    for f, row, weight in incidence_of(FLOWS)[0]:
        change[f, row] += weight
    is_water = np.array([flow.unit == "kg/(m2 s)" for flow in FLOWS])
    assert change[:, water].sum(axis=1) == pytest.approx(np.where(is_water, water_in, 0.0), abs=1e-12)
    energy = change[:, ~water].sum(axis=1) + change @ np.where(water, held, 0.0)
    assert energy == pytest.approx(energy_in, abs=1e-9 * POOL_ENTHALPY)


# --- the thin limit ----------------------------------------------------------------------------------
def litres(ready, last_hour=None):
    flows = march_year(ready, tolerance=1e-3, keep="year", last_hour=last_hour)[1].flows.sum(axis=(0, 1))
    return {flow.name: float(x) for flow, x in zip(ready.harvester.kind.flows, flows, strict=True)}


@pytest.mark.parametrize("key", [SILICA, "mof_303"])
@pytest.mark.parametrize("options", ["starter", "both above", "inclined, steep"])
def test_a_thin_layer_is_the_lumped_bed(key, options):
    """A quarter of a millimetre on four times the area: litres and uptake within half a per cent."""
    thin = {**OPTIONS[options], "layer_thickness": 0.25e-3, "bed_area": 16.0, "sorbent_mass": 2.0}
    found = [
        litres(prepare(make(**thin), sorbent(key), site_of("coast")), 24 * 40) for make in (box, layered)
    ]
    for name in ("collected", "condensation", "air_to_bed"):
        assert found[0][name] != 0.0
        assert found[1][name] == pytest.approx(found[0][name], rel=5e-3), name


def test_cells_without_resistance_are_the_lumped_bed():
    """At any thickness: pores and solid that conduct without limit leave twelve cells in one state."""
    material, site = sorbent(SILICA), site_of("coast")
    lumped, cells = (prepare(make(), material, site) for make in (box, layered))
    free = lumped.numbers._replace(layer_resistance=0.0, release_resistance=0.0)
    numbers = cells.numbers
    face = numbers.face._replace(layer_resistance=0.0, release_resistance=0.0)
    open_wide = numbers._replace(
        face=face, passage=1e4 * numbers.passage, conduction=1e4 * numbers.conduction, contact=1e8
    )
    expected = litres(replace(lumped, numbers=free), 24 * 40)
    found = litres(replace(cells, numbers=open_wide), 24 * 40)
    for name in ("collected", "condensation", "air_to_bed", "glazing_convection", "rear_convection"):
        assert found[name] == pytest.approx(expected[name], rel=5e-4), name


def test_a_layer_open_on_both_faces_is_two_halves():
    material = sorbent(SILICA)
    two = layered_numbers(layered(open_faces=2, layer_thickness=6e-3, bed_area=2.0), material, 95000.0)
    one = layered_numbers(layered(open_faces=1, layer_thickness=3e-3, bed_area=4.0), material, 95000.0)
    same = one.face._replace(bed_holdup=two.face.bed_holdup, liquid_conductance=two.face.liquid_conductance)
    for a, b in zip(two[1:], one[1:], strict=True):
        assert a == pytest.approx(b, rel=1e-12)
    assert np.array(two.face) == pytest.approx(np.array(same), rel=1e-12)


# --- the thick limit ---------------------------------------------------------------------------------
def stepped(width=30.0):
    """A solid that takes up 0.25 kg/kg within a narrow step at 20 %, fast and well conducting."""
    material = sorbent(SILICA)
    row = material.adjusted_row(rate_factor=1000.0)
    row.flags.writeable = True
    fill_row(row, [(0.25, -GAS_CONSTANT * 298.15 * np.log(0.2), width, 0.0)])
    return replace(material, row=row, layer_porosity=0.6, layer_conductivity=10.0)


@cache
def filling(thickness, share):
    """Loading over its end by time [s] of a dry layer in a storm at 25 °C, 20 % + share of humidity."""
    material = stepped()
    saturated = float(saturation_pressure(298.15))
    air = steady_air(3, T=298.15, vapour=(0.2 + share) * saturated, wind=15.0, pressure=101325.0)
    design = layered(
        layer_thickness=thickness,
        sorbent_mass=500.0 * thickness,
        bed_area=1.0,
        bed_effectiveness=1.0,
        wind_slope=20.0,
        shelter=1.0,
        bed_metal=100.0,
    )
    ready = ready_in(design, material, air)
    dry = replace(ready, air=steady_air(1, T=298.15, vapour=0.05 * saturated, pressure=101325.0))
    start, _ = march_year(dry, tolerance=1e-3)
    _, result = march_year(ready, tolerance=1e-3, record=True, last_hour=72, start=start)
    places = KIND.shown_unknowns()["loading"]
    return result.record_time[:, 0], result.record[:, 0, places].mean(axis=1) / 0.25


@pytest.mark.parametrize(
    ("thickness", "share", "hours"), [(3e-3, 0.2, 2.9), (3e-3, 0.4, 1.4), (1e-2, 0.2, 32), (1e-2, 0.4, 16)]
)
def test_a_front_takes_the_time_of_the_formula(thickness, share, hours):
    """L^2 rho dq/(2 D_e dc), shrinking front: 3 mm fill in an evening, 10 mm not in a night.

    Nine tenths of the layer fill in 0.81 of the time of all of it, half in a quarter. Hours: worked example.
    """
    diffusivity = effective_diffusivity(sorbent(SILICA).grain_radius / 3.0, 0.6, 298.15, 101325.0)
    difference = share * float(saturation_pressure(298.15)) / (WATER_GAS_CONSTANT * 298.15)
    whole = front_time(thickness, 500.0, 0.25, diffusivity, difference) / 3600.0
    assert whole == pytest.approx(hours, rel=0.07)
    seconds, filled = filling(thickness, share)
    reached = np.interp([0.5, 0.9], filled, seconds) / 3600.0
    print(f"{thickness * 1e3:.0f} mm, {share:.1f}: nine tenths in {reached[1]:.2f} h ({0.81 * whole:.2f})")
    assert reached[1] == pytest.approx(0.81 * whole, rel=0.10)
    assert reached[1] - reached[0] == pytest.approx((0.81 - 0.25) * whole, rel=0.10)


def test_a_night_does_not_fill_a_thick_layer():
    """Ten hours of the drier air: three millimetres are full, of ten millimetres little more than half."""
    seconds, filled = filling(3e-3, 0.2)
    assert np.interp(36000.0, seconds, filled) > 0.98
    seconds, filled = filling(1e-2, 0.2)
    assert np.interp(36000.0, seconds, filled) == pytest.approx(np.sqrt(10.0 / 31.0), rel=0.05)


def test_heat_crosses_the_layer_by_its_conductivity():
    """A sorbent that takes up nothing, lit steadily: the carrier is warmer by what leaves times L/(k A)."""
    material = stepped()
    row = material.row.copy()
    fill_row(row, [(1e-6, 3000.0, 500.0, 0.0)])
    material = replace(material, row=row, layer_conductivity=0.15)
    air = steady_air(4, T=298.15, vapour=1000.0, wind=1.0, sun=700.0, pressure=101325.0)
    design = layered(bed_area=1.0, layer_thickness=10e-3, sorbent_mass=5.0, close_above=10.0, leak=0.0)
    ready = ready_in(design, material, air)
    _, result = march_year(ready, tolerance=1e-4, keep="hours", last_hour=96)
    last = dict(zip([u.name for u in UNKNOWNS], result.states[-1], strict=True))
    flow = dict(zip([f.name for f in FLOWS], result.flows[-1].sum(axis=0) / 3600.0, strict=True))
    leaves = flow["rear_radiation"] + flow["rear_convection"]
    assert leaves > 50.0
    # to the middle of the last cell: half a cell less than the layer
    way = 10e-3 * (1.0 - 0.5 / CELLS) / 0.15
    assert last["carrier_temperature"] - last["bed_temperature"] == pytest.approx(leaves * way, rel=1e-3)


# --- the ends of what can be, and refusals --------------------------------------------------------------
def with_pores():
    return [key for key in sheet_names() if layered().sorbent_checks(sorbent(key)) == []]


@pytest.mark.parametrize("key", ["zeolite_13x", "mil_101_cr", "aluminium_fumarate", "cacl2_in_silica"])
def test_thick_and_fast_layers_finish_in_a_few_hundred_steps_a_day(key):
    material = sorbent(key)
    for thickness in (0.5e-3, 3e-3, 20e-3):
        for factor in (0.03, 1.0, 300.0):
            design = layered(layer_thickness=thickness, sorbent_mass=material.bulk_density * thickness * 4.0)
            faster = replace(material, row=material.adjusted_row(rate_factor=factor))
            _, result = march_year(prepare(design, faster, site_of("coast")), tolerance=3e-3, keep="year",
                                   last_hour=24 * 8)  # fmt: skip
            assert np.isfinite(result.flows).all()
            assert (result.steps + result.rejected) / 8 < 800


def attempts(seed, depth):
    """Steps and rejections a day of ten days of hourly noise, -30 to 55 °C and any humidity."""
    rng = np.random.default_rng(seed)
    air = extreme_air(rng)
    design, material = extreme_box(rng)
    if layered().sorbent_checks(material):
        material = sorbent(with_pores()[seed % len(with_pores())])
    ready = ready_in(replace(design, depth=depth), material, air)
    _, result = march_year(ready, tolerance=3e-3, keep="year", last_hour=240)
    assert np.isfinite(result.flows).all()
    return (result.steps + result.rejected) / 10.0


def test_extreme_weather_and_boxes_finish():
    """0.5 to 20 mm, 0.03 to 300 times the rate: all finish, with few more attempts than the lumped bed."""
    found = np.array([[attempts(seed, depth) for depth in ("lumped", "layered")] for seed in range(16)])
    print(f"attempts a day: median {np.median(found[:, 1]):.0f}, largest {found[:, 1].max():.0f}")
    assert np.median(found[:, 1]) < 1000
    assert found[:, 1].max() < 4000
    assert (found[:, 1] / found[:, 0]).max() < 2.5


def test_a_capped_run_is_refused_by_name(monkeypatch):
    monkeypatch.setattr("welkinwell.simulation.STEP_LIMIT", 3)
    with pytest.raises(StepLimitError, match="more than 3 steps within half an hour"):
        march_year(prepare(layered(), sorbent(SILICA), site_of("coast")), tolerance=1e-4, last_hour=48)


def test_a_sorbent_whose_rate_covers_the_layer_is_refused():
    with pytest.raises(InputError, match="no pores between grains"):
        prepare(layered(), sorbent("licl_gel"), site_of("coast"))
    assert len(with_pores()) >= 12


def test_both_depths_share_the_boxs_flows():
    assert [f.name for f in FLOWS[: len(PASSIVE_BOX.flows)]] == [f.name for f in PASSIVE_BOX.flows]
