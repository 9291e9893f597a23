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
from welkinwell.harvesters.audit import integral_enthalpies, uptake_rate
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


def stocks_by_row(states: ArrayLike, design: Any, sorbent: Any) -> Array:
    """Work out the stock of every row.

    states: (3 (N - 1) + 10, k) in the order of the theory page [K, kg/kg, kg/m2, Pa]
    design: a PassiveBox
    sorbent: a Sorbent
    returns: as the states, heat rows [J/m2] and water rows [kg/m2], per aperture, as for the lumped box
    source: docs/theory/layered_bed.md, section 2
    """
    T, w, p, of_box = _cells(np.asarray(states, float))
    cells = len(T)
    mass = design.sorbent_mass / cells
    pores = max(sorbent.layer_porosity, 0.05) * design.layer_thickness * design.bed_area / cells
    Tg, Tb, Tc, _, ml, mg, mc, _, pv = of_box
    sorbed = np.array([integral_enthalpies(sorbent, *each) for each in zip(w, T, strict=True)])
    heat = sorbent.dry_specific_heat + w * LIQUID_SPECIFIC_HEAT
    warm = mass * (heat * (T - FREEZING_POINT) + sorbed)
    water, vapour = mass * w, box.MOLE * pores * p
    behind = np.stack([warm[:-1], water[:-1], vapour[:-1]], axis=1).reshape(3 * (cells - 1), -1)
    carrier = design.bed_metal * design.bed_metal_specific_heat * (Tb - FREEZING_POINT)
    glass, condenser = box.energy_of_glass(design, Tg, mg), box.energy_of_condenser(design, Tc, mc)
    of_gap = box.MOLE * design.gap_air_volume * pv
    around = [glass, carrier, condenser, water[-1], ml, mg, mc, vapour[-1], of_gap]
    face = warm[-1] + ml * LIQUID_SPECIFIC_HEAT * (T[-1] - FREEZING_POINT)
    return np.concatenate([behind, around, [face]])


def audited_stocks(state: ArrayLike, design: Any, sorbent: Any) -> dict[str, float]:
    """Work out the water [kg/m2] and the energy [J/m2] that it holds in one state, as in stocks_by_row."""
    found = stocks_by_row(np.asarray(state)[:, None], design, sorbent)[:, 0]
    behind, around, face = found[:-10].reshape(-1, 3), found[-10:-1], found[-1]
    vapour = float(behind[:, 2].sum() + around[7:].sum())
    energy = float(behind[:, 0].sum() + around[:3].sum() + face)
    water = float(behind[:, 1].sum() + around[3:7].sum()) + vapour
    return {"water": water, "energy": energy + box.BOOKED_HEAT * vapour}


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
