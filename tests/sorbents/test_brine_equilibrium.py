"""Water activity of strong brines against published tables, and the sheets and gels that rest on it."""

import math

import numpy as np
import pytest

from welkinwell.constants import WATER_MOLAR_MASS as M
from welkinwell.moist_air import saturation_pressure
from welkinwell.sorbents import brine
from welkinwell.sorbents.brine import conde_water_activity, water_activity, water_per_salt
from welkinwell.sorbents.fit import misfit, read_points, sips_loading
from welkinwell.sorbents.osmotic import osmotic_coefficient, patil_water_activity
from welkinwell.sorbents.salt_in_host import gel_loading
from welkinwell.sorbents.sorbent import points_path, sorbent

# Osmotic coefficients at 25 C of Robinson1959 (recalled to 3 or 4 digits)
TABLE = {
    "lithium_chloride": {1.0: 1.018, 3.0: 1.286, 5.0: 1.619, 6.0: 1.791, 8.0: 2.143, 10.0: 2.464},
    "calcium_chloride": {0.1: 0.854, 1.0: 1.046, 2.0: 1.376, 3.0: 1.779, 4.0: 2.182, 5.0: 2.574, 6.0: 2.891},
}


def fraction_of(salt, m):
    """Salt fraction of a molality."""
    w = m * brine.SALTS[salt].molar_mass
    return w / (1.0 + w)


@pytest.mark.parametrize(
    ("salt", "activities"),
    [
        (0.10, (0.8813, 0.8815, 0.8817, 0.8820, 0.8823)),
        (0.20, (0.6846, 0.6898, 0.6949, 0.7018, 0.7086)),
        (0.30, (0.4068, 0.4215, 0.4361, 0.4557, 0.4753)),
        (0.45, (0.0998, 0.1151, 0.1305, 0.1510, 0.1715)),
    ],
)
def test_conde_as_computed_elsewhere(salt, activities):
    """Conde2004's vapour pressure by an independent evaluation, at 10, 25, 40, 60 and 80 C."""
    for t, expected in zip((10, 25, 40, 60, 80), activities, strict=True):
        found = conde_water_activity("lithium_chloride", salt, 273.15 + t)
        assert found == pytest.approx(expected, abs=6e-5)


@pytest.mark.parametrize("salt", sorted(TABLE))
def test_water_activity_meets_the_osmotic_tables(salt):
    """Within 0.5 % at 25 C. Calcium chloride at 5 and 6 mol/kg is the table itself."""
    for m, phi in TABLE[salt].items():
        table = math.exp(-brine.IONS[salt] * m * M * phi)
        found = water_activity(salt, fraction_of(salt, m), 298.15)
        print(f"{salt} {m:g} mol/kg: {found:.5f}, table {table:.5f}, {100 * (found / table - 1):+.2f} %")
        assert found == pytest.approx(table, rel=0.005)


@pytest.mark.parametrize("name", ["licl_brine", "lithium_chloride", "cacl2_brine", "calcium_chloride"])
def test_sheets_meet_the_osmotic_tables(name):
    """Humidity over the sheet's solution at the molality of the table, within 1 %, up to 0.97."""
    found = sorbent(name)
    for m, phi in TABLE[found.salt].items():
        table = math.exp(-brine.IONS[found.salt] * m * M * phi)
        if table > 0.97:
            continue
        held = 1.0 / (m * brine.SALTS[found.salt].molar_mass)
        rh = float(found.pressure(298.15, held)) / saturation_pressure(298.15)
        print(f"{name} {m:g} mol/kg: {rh:.5f}, table {table:.5f}, {100 * (rh / table - 1):+.2f} %")
        assert rh == pytest.approx(table, rel=0.01)


def test_lithium_chloride_when_hot_against_another_equation():
    """Patil1990, fitted to vapour pressures from 30 to 70 C: 1.1 % to 15 mol/kg, 1.7 % at 18."""
    for m in (3.0, 5.0, 8.0, 10.0, 12.0, 15.0, 18.0):
        for t in (30, 50, 70):
            found = water_activity("lithium_chloride", fraction_of("lithium_chloride", m), 273.15 + t)
            other = patil_water_activity(m, 273.15 + t)
            print(f"{m:g} mol/kg {t} C: {found:.4f}, Patil {other:.4f}, {100 * (found / other - 1):+.2f} %")
            assert found == pytest.approx(other, rel=0.011 if m < 16.0 else 0.017)


def test_calcium_chloride_when_hot_against_another_equation():
    """Pitzer's equations with the parameters of Moller1988 (25 to 250 C) and the limiting slope of Bradley
    and Pitzer, evaluated elsewhere; our own activity takes only his 25 C. Within 1.1 % at 40, 60 and 80 C."""
    moller = {
        2.0: (0.8639, 0.8677, 0.8717),
        3.0: (0.7565, 0.7652, 0.7739),
        4.0: (0.6341, 0.6494, 0.6645),
        5.0: (0.5086, 0.5313, 0.5533),
    }
    for m, row in moller.items():
        for t, other in zip((40, 60, 80), row, strict=True):
            found = water_activity("calcium_chloride", fraction_of("calcium_chloride", m), 273.15 + t)
            print(f"{m:g} mol/kg {t} C: {found:.4f}, Moller {other:.4f}, {100 * (found / other - 1):+.2f} %")
            assert found == pytest.approx(other, rel=0.011)


def test_saturated_brine_meets_what_is_printed():
    """Humidity over saturated brine: lithium chloride 11.3 % at 25 C (Greenspan1977), calcium chloride 32.3 %
    at 20 C and 29 % at 25 C (handbooks, recalled); within 0.6 % of relative humidity."""
    assert water_activity("lithium_chloride", 0.458, 298.15) == pytest.approx(0.113, abs=0.002)
    for t, printed in ((20, 0.323), (25, 0.29)):
        assert brine.crystallisation_humidity("calcium_chloride", 273.15 + t) == pytest.approx(
            printed, abs=0.006
        )


def test_osmotic_coefficients_join_without_a_step():
    """Across the joins of the pieces, also in the slope (to a few per cent of the steepest)."""
    for salt, joins in (("lithium_chloride", (4.0, 6.0, 17.7)), ("calcium_chloride", (4.0, 6.0, 8.0))):
        for m in joins:
            low, at, high = (osmotic_coefficient(salt, m + d) for d in (-1e-4, 0.0, 1e-4))
            assert high - low == pytest.approx(0.0, abs=2e-4)
            assert (high - at) / 1e-4 == pytest.approx((at - low) / 1e-4, abs=0.02)


def test_water_per_salt_is_the_inverse():
    for salt in TABLE:
        for rh in (0.15, 0.4, 0.7, 0.9):
            r = water_per_salt(salt, rh, 310.0)
            assert water_activity(salt, 1.0 / (1.0 + r), 310.0) == pytest.approx(rh, rel=1e-9)


def test_gel_meets_the_two_published_loadings():
    """Graeber2023: 1.79 at RH 0.30 and 3.86 at 0.70; his share of the salt limit, 0.93, meets both to 2 %."""
    assert gel_loading(0.30, 298.15) == pytest.approx(1.79, rel=0.02)
    assert gel_loading(0.70, 298.15) == pytest.approx(3.86, rel=0.01)


@pytest.mark.parametrize(
    ("name", "share", "salt"),
    [("licl_gel", 0.93, "lithium_chloride"), ("cacl2_gel", 0.8, "calcium_chloride")],
)
def test_gel_sheets_hold_their_brine_and_their_polymer(name, share, salt):
    """Above the crystallisation line, against q = f r + (1 - f) q_host computed from the activity: 2.4 %."""
    found = sorbent(name)
    for T in (283.15, 298.15, 323.15, 353.15):
        for rh in np.linspace(found.crystallisation_humidity(T) + 0.02, 0.95, 12):
            assert float(found.loading(T, rh)) == pytest.approx(gel_loading(rh, T, share, salt), rel=0.024)


@pytest.mark.parametrize("name", ["licl_brine", "cacl2_brine"])
def test_points_of_the_brine_sheets_are_computed_by_this_code(name):
    """Each point by the activity again, and the misfit of the solution terms as the sheet says."""
    found = sorbent(name)
    points = read_points(points_path(f"{name}_computed.csv"))
    rh = points.pressure / saturation_pressure(points.temperature)
    again = [water_per_salt(found.salt, h, T) for h, T in zip(rh, points.temperature, strict=True)]
    assert np.allclose(again, points.loading, rtol=1e-4)
    terms = np.array([[part.value for part in term.values()] for term in found.sheet.terms])
    rmse, largest = misfit(sips_loading(terms, points.temperature, points.potential()), points)
    print(f"{name}: {len(rh)} states, root mean square {rmse:.4f}, largest {largest:.4f} kg/kg")
    assert rmse == pytest.approx(found.sheet.value("isotherm.fit_rmse"), rel=0.02)
    assert largest == pytest.approx(found.sheet.value("isotherm.fit_largest_error"), rel=0.02)
