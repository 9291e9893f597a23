"""Hybrid and liquid desiccant against SciPy: the audit's flows, integrated by LSODA at tight tolerance.

The march and this share the surroundings and nothing else: flows are those of the audit modules; unknowns are
moved by their stocks' slopes, differences of the audit's enthalpies.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from box_cases import site_of
from welkinwell.harvesters.audit import integral_enthalpy
from welkinwell.harvesters.hybrid.design import Hybrid
from welkinwell.harvesters.liquid_desiccant.design import LiquidDesiccant
from welkinwell.harvesters.operation import segments
from welkinwell.simulation import march_year, prepare
from welkinwell.sorbents.sorbent import sorbent

ZERO, WATER = 273.15, 4186.0


def film_heat(T):
    return WATER * (T - ZERO) - 0.5 * (1.0 - np.tanh((T - ZERO + 0.25) / 0.25)) * 3.336e5


def wet_part(material, T, w, heat, mass):
    """Slopes of the enthalpy of bed or solution in temperature and loading [J/(m2 K)], [J/m2]."""
    by_T = (integral_enthalpy(material, w, T + 0.01) - integral_enthalpy(material, w, T - 0.01)) / 0.02
    step = 1e-4 * max(w, 0.01)
    by_w = integral_enthalpy(material, w + step, T) - integral_enthalpy(material, w - step, T)
    solid = heat + mass * material.dry_specific_heat
    return solid + mass * (w * WATER + by_T), mass * (WATER * (T - ZERO) + by_w / (2.0 * step))


def integrate(ready, start, hours, change_of):
    """Water collected [kg/m2] by LSODA from the state that the march began with."""
    harvester, nodes = ready.harvester, ready.air.nodes
    flows = harvester.kind.flows
    out = [i for i, flow in enumerate(flows) if flow.name in ("collected", "glazing_drained")]

    def rates(t, y, mode, k):
        share = t / ready.air.spacing - k
        air = nodes[k] + share * (nodes[k + 1] - nodes[k])
        found = harvester.audited_flows(
            y[:-1, None], air[:, None], np.array([mode]), ready.design, ready.sorbent, ready.air.pressure
        )[:, 0]
        into = np.zeros(y.size - 1)
        for flow, value in zip(flows, found, strict=True):
            if flow.start >= 0:
                into[flow.start] -= value
            if flow.end >= 0:
                into[flow.end] += value
            for row, weight in flow.carries:
                into[row] += weight * value
        return np.append(change_of(y, into), found[out].sum())

    y = np.append(start.y, 0.0)
    for begin, end, k, mode, _ in zip(*segments(ready.plan, ready.air, 0, hours), strict=True):
        found = solve_ivp(rates, (begin, end), y, method="LSODA", rtol=1e-6, atol=1e-8, args=(mode, k))
        assert found.success
        y = found.y[:, -1]
    return y[-1]


def marched(design, material, hours, accuracy):
    ready = prepare(design, sorbent(material), site_of("coast"))
    start, result = march_year(ready, tolerance=accuracy, keep="year", last_hour=hours)
    kind = ready.harvester.kind
    names = [flow.name for flow in kind.flows if flow.name in ("collected", "glazing_drained")]
    return ready, start, float(sum(result.flows[:, :, kind.flow_number(n)].sum() for n in names))


def hybrid_change(ready):
    d, material = ready.design, ready.sorbent
    air = d.bed_air_volume / (461.52 * 313.15)

    def change(y, into):
        moved = np.empty(7)
        moved[4] = into[4] / d.sorbent_mass
        moved[5] = into[5]
        moved[6] = into[6] / air
        moved[0] = into[0] / (2500.0 * 720.0 * d.glazing_thickness)
        by_T, by_w = wet_part(material, y[1], y[4], d.bed_metal * d.bed_metal_specific_heat, d.sorbent_mass)
        moved[1] = (into[1] - by_w * moved[4]) / by_T
        slope = (film_heat(y[2] + 0.01) - film_heat(y[2] - 0.01)) / 0.02
        moved[2] = (into[2] - film_heat(y[2]) * moved[5]) / (d.condenser_heat + y[5] * slope)
        moved[3] = into[3] / (d.radiator_heat * d.radiator_area)
        return moved

    return change


def liquid_change(ready):
    d, material = ready.design, ready.sorbent
    parts = ((1, 4, d.still_heat, d.still_salt), (2, 5, d.absorber_heat, d.salt_mass - d.still_salt))
    films = ((0, 6, 2500.0 * 720.0 * d.glazing_thickness), (3, 7, d.condenser_heat))

    def change(y, into):
        moved = np.empty(9)
        for T, w, heat, salt in parts:
            moved[w] = into[w] / salt
            by_T, by_w = wet_part(material, y[T], y[w], heat, salt)
            moved[T] = (into[T] - by_w * moved[w]) / by_T
        for T, m, heat in films:
            moved[m] = into[m]
            slope = (film_heat(y[T] + 0.01) - film_heat(y[T] - 0.01)) / 0.02
            moved[T] = (into[T] - film_heat(y[T]) * moved[m]) / (heat + y[m] * slope)
        moved[8] = into[8] / (d.still_gap / (461.52 * 313.15))
        return moved

    return change


@pytest.mark.parametrize(
    ("design", "material", "change_of"),
    [
        (Hybrid(), "silica_gel_regular_density", hybrid_change),
        (LiquidDesiccant(), "licl_brine", liquid_change),
    ],
)
def test_a_day(design, material, change_of):
    """From the first hour on, over a night and a day; at the tightest and at the default tolerance."""
    ready, start, tight = marched(design, material, 24, 1e-5)
    expected = integrate(ready, start, 24, change_of(ready))
    _, _, default = marched(design, material, 24, 3e-3)
    print(f"{design.kind}: {tight:.5f} and {default:.5f} kg/m2, by LSODA {expected:.5f}")
    assert expected > 0.5
    assert tight == pytest.approx(expected, rel=3e-4)
    assert default == pytest.approx(expected, rel=5e-3)
