"""Brines, gels and salts below their crystallisation line: the stable phase, its heat, and what is told."""

import math

import numpy as np
import pytest

from box_cases import site_of
from welkinwell.constants import GAS_CONSTANT as R
from welkinwell.constants import WATER_MOLAR_MASS as M
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.moist_air.liquid_water import liquid_specific_heat
from welkinwell.moist_air.saturation import latent_heat
from welkinwell.simulation import simulate
from welkinwell.sorbents.brine import hydrate_water, solubility
from welkinwell.sorbents.deliquescence import saturated_humidity
from welkinwell.sorbents.potential import potential_at_loading, sorbed_state
from welkinwell.sorbents.sorbent import sorbent

# sheet: (moles of water in the crystal below its line at 25 C, salt, share of salt); lithium bromide has its
# dihydrate from relative humidity 0.054 to 0.064 only
CRYSTALS = {
    "licl_brine": (1, "lithium_chloride", 1.0),
    "licl_gel": (1, "lithium_chloride", 0.93),
    "cacl2_brine": (6, "calcium_chloride", 1.0),
    "libr_brine": (1, "lithium_bromide", 1.0),
    "potassium_formate_brine": (0, "potassium_formate", 1.0),
    "cacl2_in_silica": (2, "calcium_chloride", 0.337),
}


@pytest.mark.parametrize("name", sorted(CRYSTALS))
def test_at_the_line_the_loading_falls_to_the_crystal(name):
    """Within 1.5 % of relative humidity below the line only the hydrate is left (and a trace on faces);
    as much above, all is solution."""
    moles, salt, share = CRYSTALS[name]
    found = sorbent(name)
    # the step in pores is smeared, as the sheet says
    wide = {"cacl2_in_silica": 0.03, "libr_brine": 0.025}.get(name, 0.015)
    T, line = 298.15, found.crystallisation_humidity(298.15)
    crystal = share * hydrate_water(salt, moles)
    below, above = (float(found.loading(T, line + d)) for d in (-wide, wide))
    polymer = 0.02 if name == "licl_gel" else 0.0
    assert below == pytest.approx(crystal + polymer, abs=0.06 * share + 0.01)
    assert above == pytest.approx(float(found.as_solution().loading(T, line + wide)), rel=0.02)
    print(f"{name}: line {line:.4f}, {above:.3f} kg/kg above, {below:.3f} below")
    assert above > below + 0.1 * share


@pytest.mark.parametrize("name", ["licl_brine", "cacl2_brine", "libr_brine", "potassium_formate_brine"])
def test_the_fall_takes_half_to_one_percent_of_humidity(name):
    """Width by the steepest slope and the height between the plateaus, 25 C."""
    found = sorbent(name)
    line = found.crystallisation_humidity(298.15)
    rh = np.linspace(line - 0.02, line + 0.02, 4001)
    q = np.asarray(found.loading(298.15, rh))
    below, above = (float(found.loading(298.15, line + d)) for d in (-0.012, 0.012))
    width = (above - below) / np.gradient(q, rh).max()
    print(f"{name}: crystals over {100 * width:.2f} % RH")
    assert 0.004 < width < 0.0125


def test_the_lines_are_those_that_the_sheets_name():
    """Lithium salts by the humidity standard within 0.2 % RH, calcium chloride by its solubility lines."""
    for t in (10, 25, 40, 60, 80):
        T = 273.15 + t
        assert sorbent("licl_brine").crystallisation_humidity(T) == pytest.approx(
            saturated_humidity("lithium_chloride", T), abs=1e-3
        )
        assert sorbent("libr_brine").crystallisation_humidity(T) == pytest.approx(
            saturated_humidity("lithium_bromide", T), abs=2.5e-3
        )
    for t in (5, 15, 25, 40, 60, 80):
        T = 273.15 + t
        saturated = solubility("calcium_chloride", T)
        found = sorbent("cacl2_brine").saturated_loading(T)
        assert found == pytest.approx((1.0 - saturated) / saturated, rel=0.02)


@pytest.mark.parametrize("name", ["licl_brine", "cacl2_brine", "libr_brine", "licl_gel"])
def test_heat_over_the_step_is_the_difference_of_the_enthalpies(name):
    """Integral of the isosteric heat from crystal to solution at 25 C against h_fg dq - dE: a closed loop."""
    found, T = sorbent(name), 298.15
    line = found.crystallisation_humidity(T)
    ends = [float(found.loading(T, line + d)) for d in (-0.012, 0.02)]
    q = np.linspace(*ends, 4001)
    heat = np.asarray(found.isosteric_heat(T, q))
    summed = float(np.sum(0.5 * (heat[1:] + heat[:-1]) * np.diff(q)))
    E = [sorbed_state(found.row, potential_at_loading(found.row, w, T, 3000.0), T)[3] for w in ends]
    whole = latent_heat(T) * (ends[1] - ends[0]) - (E[1] - E[0])
    assert summed == pytest.approx(whole, rel=1e-4)


@pytest.mark.parametrize(
    ("name", "fraction"),
    [("licl_brine", 0.40), ("cacl2_brine", 0.40), ("libr_brine", 0.55), ("potassium_formate_brine", 0.70)],
)
def test_the_bed_is_as_warm_as_its_brine(name, fraction):
    """Heat capacity at constant loading, with its crystals and as solution: 1 % (3 % where recalled)."""
    q, T = (1.0 - fraction) / fraction, 298.15
    for found in (sorbent(name), sorbent(name).as_solution()):
        A = potential_at_loading(found.row, q, T, 3000.0)
        _, q_A, q_T, _, E_T = sorbed_state(found.row, A, T)
        own = E_T + (A * q_A + T * q_T) / M * q_T / q_A
        bed = fraction * (found.dry_specific_heat + q * liquid_specific_heat(T) + own)
        print(f"{name}: {bed:.0f} J/(kg K), brine {found.sheet.value('brine.specific_heat'):.0f}")
        assert bed == pytest.approx(
            found.sheet.value("brine.specific_heat"), rel=0.03 if fraction > 0.6 else 0.01
        )


def test_the_solution_alone_goes_on_below_the_line():
    found = sorbent("cacl2_brine")
    dissolved = found.as_solution()
    line = found.crystallisation_humidity(298.15)
    assert dissolved.as_solution() is dissolved
    assert dissolved.crystallisation_humidity(298.15) == line
    assert float(dissolved.loading(298.15, 0.9 * line)) > float(found.loading(298.15, 0.9 * line)) + 0.1
    for rh in (0.4, 0.7, 0.9):
        assert float(dissolved.loading(298.15, rh)) == pytest.approx(
            float(found.loading(298.15, rh)), rel=1e-6
        )


def test_a_dry_year_stands_in_crystals_and_says_so():
    """An open tray of calcium chloride brine in dry air: crystals, counted, never beyond the line."""
    brine = sorbent("cacl2_brine")
    year = simulate(PassiveBox(sorbent_mass=4.0), brine, site_of("desert"))
    T, rh = year["bed_temperature"].values, year["bed_vapour_pressure"].values
    from welkinwell.moist_air import saturation_pressure

    rh = rh / saturation_pressure(T)
    dry = rh < 0.8 * np.array([brine.crystallisation_humidity(t) for t in T])
    assert dry.any()
    held = year["loading"].values[dry]
    assert year.attrs["hours_with_crystals"] > 0.9 * dry.sum()
    assert year.attrs["hours_beyond_crystallisation"] == 0.0
    # where the bed has come to rest it holds no more than its hexahydrate
    assert np.median(held) < 1.05 * hydrate_water("calcium_chloride", 6)


def test_potentials_of_saturation_are_where_the_loading_is_in_mid_fall():
    found = sorbent("licl_brine")
    for T in (280.0, 300.0, 340.0):
        line = found.crystallisation_humidity(T)
        A = -R * T * math.log(line)
        q = sorbed_state(found.row, A, T)[0]
        middle = 0.5 * (hydrate_water("lithium_chloride", 1) + found.saturated_loading(T))
        assert q == pytest.approx(middle, abs=0.02)
