"""The dew condenser: steady nights computed elsewhere, its ceiling, its hand cases, its extremes."""

import math
from dataclasses import replace

import numpy as np
import pytest
from dew_cases import SIGMA, ZERO, flat_sheet, flows_at, night_air, steady

from box_cases import PLACES, WEATHER, site_of
from welkinwell.case import case_from_text
from welkinwell.errors import CaseError
from welkinwell.harvesters.dew_condenser.design import DewCondenser
from welkinwell.harvesters.dew_condenser.flows import TS, UNKNOWNS, sheet_numbers
from welkinwell.harvesters.dew_condenser.harvester import radiative_ceiling
from welkinwell.moist_air import saturation_pressure
from welkinwell.simulation import march_year, prepare, simulate
from welkinwell.year import figures

NIGHT = 36000.0  # s, ten hours

# Yields of ten steady hours [mm] at surface coefficients of 3, 8 and 15 W/(m2 K): emissivity 0.94, clear sky
# after Berdahl1984. Computed once for these facts with the balance that the dew literature writes (radiation,
# convection, Lewis); what they took behind the sheet is not recorded, so a loss of nothing is compared.
COMPUTED = [
    (5.0, 0.9, (0.26, 0.34, 0.32)),
    (15.0, 0.7, (0.18, 0.07, 0.0)),
    (15.0, 0.8, (0.24, 0.22, 0.05)),
    (15.0, 0.9, (0.31, 0.37, 0.31)),
    (15.0, 1.0, (0.37, 0.51, 0.57)),
    (25.0, 0.7, (0.08, 0.0, 0.0)),
    (25.0, 0.9, (0.24, 0.22, 0.12)),
]


@pytest.mark.parametrize(("celsius", "humidity", "yields"), COMPUTED)
def test_ten_steady_hours(celsius, humidity, yields):
    """Within 0.035 mm, always above: the drive here is a logarithm of pressures, the heat of the vapour is
    counted at the mean temperature, the Lewis factor is 0.905; what those figures took is not recorded."""
    for h, expected in zip((3.0, 8.0, 15.0), yields, strict=True):
        _, numbers = flat_sheet(h)
        _, phi = steady(night_air(celsius + ZERO, humidity), numbers, film=0.0)
        found = phi[0] * NIGHT
        print(f"{celsius:g} C {humidity:.0%} h {h:g}: {found:.3f} mm, computed {expected:.2f}")
        assert found == pytest.approx(expected, abs=0.035)


# All of the net radiation at the dew point made latent, saturated air, nothing lost [mm in 10 h] (computed).
@pytest.mark.parametrize(("celsius", "most"), [(5.0, 1.26), (15.0, 1.05), (20.0, 0.88), (25.0, 0.66)])
def test_ceiling_of_a_saturated_night(celsius, most):
    """Those figures lie 0.01 to 0.03 mm below a black sheet's; the one here has 0.94. In saturated air
    convection brings its sensible share too: even a storm reaches only s/(s + gamma) of the ceiling."""
    T = celsius + ZERO
    air = night_air(T, 1.0)
    ceiling = (SIGMA * T**4 - air[4]) * NIGHT / (2.5009e6 - 2370.0 * celsius)
    assert ceiling == pytest.approx(most, abs=0.03)
    found = [
        steady(air, flat_sheet(h)[1], film=1.0)[1][0] * NIGHT / (0.94 * ceiling)
        for h in (1.0, 3.0, 8.0, 15.0, 60.0, 400.0)
    ]
    assert found == sorted(found)
    slope = float(saturation_pressure(T + 0.5) - saturation_pressure(T - 0.5))
    gamma = 101325.0 * 1006.0 / (0.622 * (2.5009e6 - 2370.0 * celsius))  # psychrometric constant [Pa/K]
    lewis = 0.905
    assert found[-1] == pytest.approx(slope / (slope + gamma * lewis), rel=0.02)
    assert found[-1] < 1.0


def test_no_air_movement_gives_no_dew():
    """A cold sheet in still air without buoyancy cools far below the dew point and takes nothing."""
    _, numbers = flat_sheet(0.0)
    air = night_air(288.15, 0.9)
    T, phi = steady(air, numbers, film=0.0)
    assert T < 275.0
    assert phi[0] * NIGHT < 1e-3
    # at rest without air: emitted = taken from the sky, by hand
    assert pytest.approx(air[4] / SIGMA, rel=2e-3) == T**4


def test_dry_stagnation_in_the_sun():
    """Dry sheet in sun of 800 W/m2 at h = 10: absorbed = radiated + convected, at the temperature found."""
    _, numbers = flat_sheet(10.0, solar_absorptance=0.9)
    air = night_air(300.0, 0.3, sky=350.0, sun=0.9 * 800.0)
    T, phi = steady(air, numbers, film=0.0)
    assert 0.9 * 800.0 == pytest.approx(0.94 * (SIGMA * T**4 - 350.0) + 10.0 * (T - 300.0), rel=2e-4)
    assert abs(phi[0]) < 1e-12
    assert T == pytest.approx(335.5, abs=2.0)


def test_a_wet_sheet_in_the_sun_dries():
    _, numbers = flat_sheet(10.0)
    air = night_air(300.0, 0.5, sky=350.0, sun=150.0)
    phi, _ = flows_at([303.0, 0.05], air, numbers)
    assert phi[0] < 0.0


def test_slopes_are_those_of_the_flows():
    """Against sixth-order differences at random states, bare and covered, thawed, freezing and frozen."""
    rng = np.random.default_rng(7)
    design = DewCondenser(covered_exchange=0.3)
    numbers = sheet_numbers(design, None, 80000.0)
    step = np.array([1e-4, 1e-6])
    for case in range(60):
        T_a = rng.uniform(265.0, 310.0)
        air = night_air(T_a, rng.uniform(0.2, 1.0), rng.uniform(0.0, 8.0), rng.uniform(200.0, 400.0), 100.0)
        y = np.array([T_a + rng.uniform(-10.0, 10.0), rng.uniform(0.0, 0.08)])
        if case % 5 == 0:
            y[TS] = ZERO - 0.25 + rng.uniform(-0.4, 0.4)
        _, slopes = flows_at(y, air, numbers, case % 2)
        for u in (0, 1):
            parts = []
            for k in (1, 2, 3):
                up, down = y.copy(), y.copy()
                up[u] += k * step[u]
                down[u] -= k * step[u]
                above, below = (flows_at(at, air, numbers, case % 2)[0] for at in (up, down))
                parts.append(above - below)
            expected = (45.0 * parts[0] - 9.0 * parts[1] + parts[2]) / (60.0 * step[u])
            size = np.array([1e-7, 1e-7, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0]) / (1.0, 1e-3)[u]
            assert np.all(np.abs(slopes[:, u] - expected) < 1e-5 * np.abs(expected) + 1e-4 * size)


@pytest.mark.parametrize("place", PLACES)
def test_no_night_passes_the_ceiling_of_its_net_radiation(place):
    """Hour by hour: dew at most what radiation at air temperature could take, plus what the sheet gave up by
    cooling. And so for the year, many times less."""
    design = DewCondenser()
    site = site_of(place)
    year = simulate(design, None, site, audit=False)
    ready = prepare(design, None, site)
    ceiling = radiative_ceiling(ready.design, ready.air)
    T = year["sheet_temperature"].values
    fall = np.maximum(np.concatenate([[0.0], T[:-1] - T[1:]]), 0.0)
    stored = (design.sheet_mass * design.sheet_specific_heat + 0.1 * 4186.0) * fall / 2.5009e6
    # an hour's own fall and rise hide within it: the hours on both sides lend a kelvin each
    dew = year["water_condensed"].values
    assert np.all(dew <= 1.02 * ceiling + stored + 1e-3)
    assert 0.0 < year["water_collected"].values.sum() < dew.sum() < ceiling.sum()
    print(
        f"{place}: {dew.sum():.2f} mm of {ceiling.sum():.0f}, "
        f"in the gutter {figures(year)['litres_per_m2_day'] * 365:.2f}"
    )


def test_least_work_is_below_the_exergy_of_the_cold_sky():
    """Dew costs no work but uses the sky's cold: exergy of the net radiation at the sky's temperature."""
    for place in PLACES:
        ready = prepare(DewCondenser(), None, site_of(place))
        year = simulate(DewCondenser(), None, site_of(place), audit=False)
        T, sky = year["temperature"].values, ready.air.nodes[1::2, 4]
        cold = (sky / SIGMA) ** 0.25
        taken = np.maximum(year["sheet_longwave"].values, 0.0) * 3600.0
        exergy = float((taken * np.maximum(T / cold - 1.0, 0.0)).sum())
        assert exergy > float(year["water_condensed"].values.sum()) * year.attrs["least_work"]


def test_more_vapour_gives_no_less():
    """Two per cent more vapour at the same temperature and sky, all year: no fewer litres (0.1 %)."""
    ready = prepare(DewCondenser(), None, site_of("coast"))
    collected = []
    for factor in (1.0, 1.02):
        nodes = ready.air.nodes.copy()
        nodes[:, 1] *= factor
        _, result = march_year(
            replace(ready, air=replace(ready.air, nodes=nodes)), tolerance=1e-3, keep="year"
        )
        collected.append(result.flows[:, :, 1].sum())
    assert collected[1] >= 0.999 * collected[0]


def test_wind_helps_at_saturation_and_hurts_below():
    """Halving the exchange: fewer litres in fog, more at 70 %: the air's distance to dew has the sign."""
    fog = [steady(night_air(288.15, 1.0), flat_sheet(h)[1], 0.0)[1][0] for h in (4.0, 8.0)]
    dry = [steady(night_air(288.15, 0.7), flat_sheet(h)[1], 0.0)[1][0] for h in (4.0, 8.0)]
    assert fog[0] < fog[1]
    assert dry[0] > dry[1]


def test_frost_forms_and_only_runs_when_it_thaws():
    _, numbers = flat_sheet(5.0)
    air = night_air(271.0, 0.95)
    T, phi = steady(air, numbers, film=0.1)
    assert T < ZERO - 1.0
    assert phi[0] > 0.0
    assert phi[1] < 1e-6 * 0.07 / 120.0
    assert flows_at([275.5, 0.1], air, numbers)[0][1] == pytest.approx(0.07 / 120.0, rel=1e-3)


def test_a_covered_sheet_sees_neither_sun_nor_sky():
    _, numbers = flat_sheet(5.0)
    air = night_air(290.0, 0.8, sky=250.0, sun=200.0)
    phi, _ = flows_at([290.0, 0.02], air, numbers, mode=0)
    assert phi[2] == 0.0
    assert phi[3] == pytest.approx(0.0, abs=1e-9)
    assert phi[0] == pytest.approx(0.1 * flows_at([290.0, 0.02], air, numbers)[0][0], rel=0.05)


def test_a_sealed_dark_sheet_keeps_its_water():
    """Covered so that nothing is exchanged, at air temperature: no flow of water or heat."""
    design = DewCondenser(covered_exchange=0.0)
    numbers = sheet_numbers(design, None, 101325.0)
    phi, _ = flows_at([290.0, 0.02], night_air(290.0, 0.3, wind=5.0, sky=250.0, sun=800.0), numbers, mode=0)
    assert np.all(np.abs(phi) < 1e-9)


def test_covering_by_day_saves_dew():
    """On the coast a cover by day keeps water that the sun would dry from the sheet."""
    bare = figures(simulate(DewCondenser(), None, site_of("coast"), audit=False))
    covered = figures(simulate(DewCondenser(operation="sun"), None, site_of("coast"), audit=False))
    assert covered["litres_per_day"] > bare["litres_per_day"]


@pytest.mark.parametrize(
    "fields",
    [
        {"holdup": 0.001, "sheet_mass": 0.05, "sheet_specific_heat": 100.0},
        {"wind_slope": 20.0, "back_loss": 30.0, "tilt": math.pi / 2},
        {"wind_constant": 0.5, "wind_slope": 0.0, "shelter": 0.0},
        {"sheet_mass": 100.0, "sheet_specific_heat": 4500.0, "emissivity": 0.05},
        {"operation": "clock", "closed_in_rain": True},
        {"closed_in_rain": True, "solar_absorptance": 1.0, "soiling": 0.0},
    ],
)
def test_extremes_are_finite(fields):
    year = simulate(DewCondenser(**fields), None, site_of("highland"), keep="months")
    found = figures(year)
    assert math.isfinite(found["litres_per_day"])
    assert found["litres_per_day"] >= -1e-6
    for unknown in UNKNOWNS[:1]:
        assert 180.0 < year.attrs[f"lowest_{unknown.name}"] < year.attrs[f"highest_{unknown.name}"] < 500.0


CASE = """
schema_version = 1
name = "Sheets"
[site]
name = "Coast"
weather = "{weather}"
[demand]
purpose = "drinking"
litres_per_day = "2 L/day"
[[harvester]]
name = "Foil"
kind = "dew_condenser"
sheet_area = "30 m2"
{line}
"""


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('tilt = "120 deg"', "tilt: got '120 deg'; expected a number with its unit"),
        ("emisivity = 0.9", "emissivity"),
        ("solar_absorptance = 0.9\nsoiling = 0.3", "at most 1 in all"),
        ('operation = "clock"\nopen_at = "7 h"\nclose_at = "7 h"', "another hour than close_at"),
    ],
)
def test_a_wrong_field_is_one_clear_message(line, words, tmp_path):
    weather = next(WEATHER.glob("coast*.gz"))
    with pytest.raises(CaseError) as told:
        case_from_text(CASE.format(weather=weather, line=line), tmp_path / "case.toml")
    assert words in str(told.value)
    assert "'Foil'" in str(told.value)


def test_a_case_without_a_sorbent_is_read(tmp_path):
    weather = next(WEATHER.glob("coast*.gz"))
    case = case_from_text(CASE.format(weather=weather, line=""), tmp_path / "case.toml")
    assert case.harvesters[0].design.basis_area == 30.0
