"""The audit of the layered box: flows and stocks worked out again from what the march left behind.

Written from docs/theory/layered_bed.md for whole arrays of states; the box around the layer is that of the
lumped box's audit. It shares no function with the march but the saturation curves.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from welkinwell.constants import (
    FREEZING_POINT,
    GAS_CONSTANT,
    LIQUID_SPECIFIC_HEAT,
    STANDARD_PRESSURE,
    VAPOUR_SPECIFIC_HEAT,
    WATER_MOLAR_MASS,
)
from welkinwell.harvesters.audit import integral_enthalpy, uptake_rate
from welkinwell.harvesters.passive_box import audit as box
from welkinwell.moist_air import saturation_pressure

Array = NDArray[np.float64]


def flow_names(cells: int) -> tuple[str, ...]:
    """Names of the flows in the order of the theory page."""
    inner = ("sorption", "pore_diffusion", "layer_conduction")
    return (*box.FLOWS, "carrier_conduction", *(f"{name}_{i}" for i in range(cells - 1) for name in inner))


def audited_flows(
    states: ArrayLike, air: ArrayLike, mode: ArrayLike, design: Any, sorbent: Any, site_pressure: float
) -> Array:
    """Work out every flow at given states.

    states: (3 (N - 1) + 10, n) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    air: (9, n) in the order of AirRecord [K, Pa, m/s, W/m2, kg/(m2 s)]
    mode: (n,) 1 open, 0 closed
    design: a PassiveBox
    sorbent: a Sorbent
    site_pressure: mean pressure of the site [Pa]
    returns: (37 + 1 + 3 (N - 1), n), rows as in flow_names [kg/(m2 s) and W/m2]
    source: docs/theory/layered_bed.md
    """
    given = np.asarray(states, float)
    T, w, p, of_box = _cells(given)
    cells = len(T)
    surroundings = np.asarray(air, float)
    seen = box.Seen(of_box, surroundings, np.asarray(mode), design, site_pressure, face=T[-1])
    width = design.layer_thickness / design.open_faces / cells
    area = design.bed_area * design.open_faces
    working = area * design.bed_effectiveness
    half = 0.5 * width / float(_diffusivity(sorbent, box.BOOKING_TEMPERATURE, site_pressure)) / working
    mass = design.sorbent_mass / cells
    flow = box.flows_of_the_box(seen, sorbent, mass, half, half)

    conducts = sorbent.layer_conductivity * area / width
    flow["carrier_conduction"] = 2.0 * conducts * (seen.Tb - T[0])
    humidity = 0.5 * (p + np.sqrt(p**2 + box.NEARLY_DRY**2)) / saturation_pressure(T)
    for i in range(cells - 1):
        flow[f"sorption_{i}"] = mass * uptake_rate(sorbent, T[i], humidity[i], w[i])
        between = 0.5 * (T[i] + T[i + 1])
        passes = _diffusivity(sorbent, between, surroundings[2]) * working / width
        vapour = box._stefan(passes, between, p[i], p[i + 1], surroundings[2])
        flow[f"pore_diffusion_{i}"] = vapour
        warm = vapour * VAPOUR_SPECIFIC_HEAT * (between - box.BOOKING_TEMPERATURE)
        flow[f"layer_conduction_{i}"] = conducts * (T[i] - T[i + 1]) + warm
    return np.array([np.broadcast_to(flow[name], T[0].shape) for name in flow_names(cells)])


def audited_stocks(states: ArrayLike, design: Any, sorbent: Any) -> dict[str, float]:
    """Work out the water and the energy that the box holds.

    states: (3 (N - 1) + 10,) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    design: a PassiveBox
    sorbent: a Sorbent
    returns: water [kg/m2] and energy [J/m2], per aperture, as for the lumped box
    source: docs/theory/layered_bed.md
    """
    T, w, p, of_box = _cells(np.asarray(states, float))
    mass = design.sorbent_mass / len(T)
    pores = max(sorbent.layer_porosity, 0.05) * design.layer_thickness * design.bed_area / len(T)
    Tg, Tb, Tc, _, ml, mg, mc, _, pv = (float(x) for x in of_box)
    vapour = box.MOLE * (pores * float(p.sum()) + design.gap_air_volume * pv)
    energy = design.bed_metal * design.bed_metal_specific_heat * (Tb - FREEZING_POINT)
    for T_i, w_i in zip(T.tolist(), w.tolist(), strict=True):
        heat = sorbent.dry_specific_heat + w_i * LIQUID_SPECIFIC_HEAT
        energy += mass * (heat * (T_i - FREEZING_POINT) + integral_enthalpy(sorbent, w_i, T_i))
    energy += ml * LIQUID_SPECIFIC_HEAT * (float(T[-1]) - FREEZING_POINT)
    energy += box.energy_of_glass(design, Tg, mg) + box.energy_of_condenser(design, Tc, mc)
    return {
        "water": mass * float(w.sum()) + ml + mg + mc + vapour,
        "energy": energy + box.BOOKED_HEAT * vapour,
    }


def boundary(cells: int) -> tuple[Array, Array]:
    """What one unit of each flow brings into the whole box, as for the lumped box; nothing inside the layer.

    cells: N [1]. Returns: water [kg per kg] and energy [J per kg or J per J], rows as in flow_names.
    """
    inside = np.zeros(1 + 3 * (cells - 1))
    water, energy = box.boundary()
    return np.concatenate([water, inside]), np.concatenate([energy, inside])


def _cells(states: Array) -> tuple[Array, Array, Array, Array]:
    """Temperature, loading and pore vapour of every cell from the closed end on, and the box's nine."""
    hidden = (len(states) - 10) // 3
    behind, of_box, face = states[: 3 * hidden], states[3 * hidden : -1], states[-1:]
    T = np.concatenate([behind[0::3], face])
    w = np.concatenate([behind[1::3], of_box[3:4]])
    p = np.concatenate([behind[2::3], of_box[7:8]])
    return T, w, p, of_box


def _diffusivity(sorbent: Any, T: Any, pressure: Any) -> Any:
    """Effective diffusivity of the layer: molecular and Knudsen by Bosanquet's rule, times e^(3/2)."""
    molecular = 2.178e-5 * (T / FREEZING_POINT) ** 1.81 * (STANDARD_PRESSURE / pressure)
    speed = np.sqrt(8.0 * GAS_CONSTANT * T / (np.pi * WATER_MOLAR_MASS))
    knudsen = 2.0 / 3.0 * (sorbent.grain_radius / 3.0) * speed
    return sorbent.layer_porosity**1.5 / (1.0 / molecular + 1.0 / knudsen)
