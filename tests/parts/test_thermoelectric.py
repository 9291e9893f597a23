"""Thermoelectric modules against the textbook's best performance and a real module's data sheet class."""

import numpy as np
import pytest

from welkinwell.parts.thermoelectric import (
    best_performance,
    current_of_best_performance,
    drawn_power,
    pumped_heat,
)

Z = 0.0025
ZERO = 273.15


@pytest.mark.parametrize(
    ("cold", "hot", "cop"), [(10.0, 40.0, 0.87), (5.0, 40.0, 0.66), (10.0, 50.0, 0.56), (15.0, 35.0, 1.56)]
)
def test_best_performance_as_computed_elsewhere(cold, hot, cop):
    """Computed figures for Z = 0.0025 1/K, two decimals."""
    assert best_performance(cold + ZERO, hot + ZERO, Z) == pytest.approx(cop, abs=0.006)


def test_best_performance_is_the_best_of_all_currents():
    cold, hot = 283.15, 313.15
    currents = np.linspace(0.05, 0.75, 2001)
    found = [pumped_heat(j, cold, hot, Z, 300.0) / drawn_power(j, cold, hot, Z, 300.0) for j in currents]
    assert max(found) == pytest.approx(best_performance(cold, hot, Z), rel=1e-5)
    best = current_of_best_performance(cold, hot, Z)
    assert currents[int(np.argmax(found))] == pytest.approx(best, abs=1e-3)


def test_a_module_of_127_couples():
    """A 40 mm module by its electric numbers: alpha 0.0508 V/K, R 1.98 ohm, K 0.52 W/K at 3 A, 10 and 40 C:
    Q = 0.0508 x 3 x 283.15 - 4.5 x 1.98 - 0.52 x 30 = 18.64 W, P = 0.0508 x 3 x 30 + 9 x 1.98 = 22.39 W."""
    alpha, R, K, I = 0.0508, 1.98, 0.52, 3.0  # noqa: E741
    j, merit = alpha * I / K, alpha**2 / (R * K)
    assert pumped_heat(j, 283.15, 313.15, merit, K) == pytest.approx(18.64, abs=0.01)
    assert drawn_power(j, 283.15, 313.15, merit, K) == pytest.approx(22.39, abs=0.01)


def test_without_current_heat_leaks_back():
    assert pumped_heat(0.0, 280.0, 310.0, Z, 2.0) == -60.0
    assert drawn_power(0.0, 280.0, 310.0, Z, 2.0) == 0.0


def test_the_largest_difference():
    """No heat at all is pumped at dT = Z T_c^2/2, at the current j = Z T_c."""
    cold = 250.0
    assert pumped_heat(Z * cold, cold, cold + 0.5 * Z * cold**2, Z, 1.0) == pytest.approx(0.0, abs=1e-9)
