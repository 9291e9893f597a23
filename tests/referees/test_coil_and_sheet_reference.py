"""Dew sheet and cooling coil against SciPy: the audit's flows, integrated by LSODA at tight tolerance.

The march and this share the surroundings and nothing else: flows are those of the audit modules, temperatures
are found from stocks by bisection.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from box_cases import site_of
from welkinwell.harvesters.cooling_coil.design import CoolingCoil
from welkinwell.harvesters.dew_condenser.design import DewCondenser
from welkinwell.simulation import march_year, prepare

ZERO = 273.15


def film_enthalpy(T):
    return 4186.0 * (T - ZERO) - 0.5 * (1.0 - np.tanh((T - ZERO + 0.25) / 0.25)) * 3.336e5


def with_film(energy, heat, film):
    """Temperature of a plate with its film, by bisection."""
    return brentq(lambda T: heat * (T - ZERO) + film * film_enthalpy(T) - energy, 150.0, 500.0, xtol=1e-11)


def integrate(ready, start, hours, temperatures, mode):
    """Water collected [kg/m2] by LSODA from the state that the march began with."""
    harvester, nodes = ready.harvester, ready.air.nodes
    flows = harvester.kind.flows
    collected = harvester.kind.flow_number("collected")

    def rates(t, U):
        place = min(t / ready.air.spacing, nodes.shape[0] - 1.000001)
        k = int(place)
        air = nodes[k] + (place - k) * (nodes[k + 1] - nodes[k])
        state = np.array(temperatures(U))[:, None]
        found = harvester.audited_flows(
            state, air[:, None], np.array([mode]), ready.design, None, ready.air.pressure
        )[:, 0]
        change = np.zeros(U.size)
        for flow, value in zip(flows, found, strict=True):
            if flow.start >= 0:
                change[flow.start] -= value
            if flow.end >= 0:
                change[flow.end] += value
        change[-1] = found[collected]
        return change

    begin = np.append(start.U, 0.0)
    total = 0.0
    for k in range(2 * hours):  # from node to node, where the surroundings have corners
        span = (k * ready.air.spacing, (k + 1) * ready.air.spacing)
        found = solve_ivp(rates, span, begin, method="LSODA", rtol=1e-7, atol=1e-9)
        assert found.success
        begin = found.y[:, -1]
        total = begin[-1]
    return total


def marched(design, place, hours, accuracy):
    ready = prepare(design, None, site_of(place))
    start, result = march_year(ready, tolerance=accuracy, keep="year", last_hour=hours)
    number = ready.harvester.kind.flow_number("collected")
    return ready, start, float(result.flows[:, :, number].sum())


@pytest.mark.parametrize(("accuracy", "within"), [(1e-5, 1e-4), (3e-3, 3e-3)])
def test_three_days_of_dew(accuracy, within):
    ready, start, found = marched(DewCondenser(), "tropics", 72, accuracy)
    d = ready.design
    heat = d.sheet_mass * d.sheet_specific_heat
    expected = integrate(ready, start, 72, lambda U: (with_film(U[0], heat, U[1]), U[1]), 1)
    print(f"dew at {accuracy:g}: {found:.5f} kg/m2, by LSODA {expected:.5f}")
    assert expected > 0.05
    assert found == pytest.approx(expected, rel=within)


@pytest.mark.parametrize(("accuracy", "within"), [(1e-5, 1e-5), (3e-3, 1e-3)])
def test_half_a_day_of_a_machine(accuracy, within):
    """In the tropics, where it runs without a stop."""
    ready, start, found = marched(CoolingCoil(), "tropics", 12, accuracy)
    d = ready.design

    def temperatures(U):
        return (
            ZERO + U[0] / d.evaporator_heat,
            with_film(U[1], d.fin_heat, U[3]),
            ZERO + U[2] / d.condenser_heat,
            U[3],
        )

    expected = integrate(ready, start, 12, temperatures, 1)
    print(f"machine at {accuracy:g}: {found:.4f} kg/m2, by LSODA {expected:.4f}")
    assert found == pytest.approx(expected, rel=within)
