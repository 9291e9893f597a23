"""The passive box with a layered bed inside the march: cells of sorbent behind the one at the open face.

docs/theory/layered_bed.md holds the equations. The cell at the open face, and all of the box around it, are
the flows of passive_box/flows.py with one cell's sorbent; here are the cells behind it, the carrier at the
closed end and the ways between them. Unknowns: temperature, loading and pore vapour of each cell from the
closed end on, then the nine of the box, then the temperature of the face's cell.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache, partial
from typing import Final, NamedTuple

import numpy as np

from welkinwell.compiled import njit
from welkinwell.constants import FREEZING_POINT, GAS_CONSTANT, VAPOUR_SPECIFIC_HEAT, WATER_GAS_CONSTANT
from welkinwell.harvesters.harvester import OUTSIDE, Flow, Kind, Unknown, with_uses
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.passive_box.flows import (
    MC,
    MG,
    ML,
    POOL_ENTHALPY,
    POOL_TEMPERATURE,
    PS,
    SYMBOLS,
    TB,
    TC,
    TG,
    UNKNOWNS,
    BoxNumbers,
    W,
    box_flows,
    box_numbers,
    passive_box,
    pore_scale,
    stocks_with_face,
    unknowns_with_face,
)
from welkinwell.harvesters.passive_box.flows import error_scales as box_error_scales
from welkinwell.harvesters.passive_box.flows import resting_state as box_at_rest
from welkinwell.harvesters.passive_box.layered_wiring import IN_BOX, OF_BOX, PER_CELL, TS, layered_wiring
from welkinwell.kernels.kernel import flow_kernel, with_slopes
from welkinwell.kernels.marks import written_out
from welkinwell.moist_air.saturation import log_saturation_pressure
from welkinwell.parts.bed import bed_enthalpy, bed_temperature, sorption
from welkinwell.parts.gap import vapour_diffusivity
from welkinwell.sorbents.potential import largest_loading
from welkinwell.transfer.condensation import stefan_potential
from welkinwell.transfer.layers import effective_diffusivity, knudsen_diffusivity

CELLS: Final = 12  # through the layer; litres within 0.5 % of 24 cells (docs/theory/layered_bed.md)


# Slopes of the box's stocks, by its own rows, and places of its system that taking out the cells fills
STOCK_SLOPES: Final = (*((i, i) for i in range(IN_BOX)), (TG, MG), (TC, MC), (TS, W), (TS, ML))
FILLED_IN: Final = tuple((row, column) for row in (TB, PS, TS) for column in (TB, PS, TS))


# The box around the face's cell: the flows of the lumped box, with the face's temperature at TS
FACE: Final = flow_kernel(
    passive_box, {**SYMBOLS, "T_s": TS}, [flow.name for flow in box_flows(TS)], "passive_box_face"
)
face_flows = FACE.fill


class LayeredNumbers(NamedTuple):
    """What the compiled layered box reads: SI numbers per m2 of aperture, made once from a design."""

    face: BoxNumbers  # the box, with the sorbent of the face's cell alone
    cell_mass: float  # kg/m2, dry sorbent of one cell
    cell_heat: float  # J/(m2 K), the same
    cell_pores: float  # kg/(m2 Pa)
    carrier_heat: float  # J/(m2 K), absorber and fins
    contact: float  # W/(m2 K), carrier to the middle of the first cell
    conduction: float  # W/(m2 K), from cell to cell
    passage: float  # m, open cross-section over the way from cell to cell, e^(3/2) area/dx
    knudsen: float  # m2/(s K^1/2), D_K over the root of the temperature


def layered_numbers(design: PassiveBox, sorbent, site_pressure: float, cells: int = CELLS) -> LayeredNumbers:
    """Turn a design, a sorbent and the site's pressure [Pa] into the numbers that the march reads.

    A layer that is open on both faces is two halves back to back with the carrier between them.
    """
    whole = box_numbers(design, sorbent, site_pressure)
    way = design.layer_thickness / design.open_faces / cells
    area = design.bed_area * design.open_faces
    radius = sorbent.grain_radius / 3.0
    diffusivity = effective_diffusivity(radius, sorbent.layer_porosity, POOL_TEMPERATURE, site_pressure)
    half_cell = 0.5 * way / diffusivity
    mass = design.sorbent_mass / cells
    heat = mass * sorbent.dry_specific_heat
    pores = whole.pore_capacity / cells
    working = area * design.bed_effectiveness
    face = whole._replace(
        bed_heat=heat,
        sorbent_mass=mass,
        pore_capacity=pores,
        layer_resistance=half_cell,
        release_resistance=half_cell / working,
    )
    return LayeredNumbers(
        face=face,
        cell_mass=mass,
        cell_heat=heat,
        cell_pores=pores,
        carrier_heat=design.bed_metal * design.bed_metal_specific_heat,
        contact=2.0 * sorbent.layer_conductivity * area / way,
        conduction=sorbent.layer_conductivity * area / way,
        passage=sorbent.layer_porosity**1.5 * working / way,
        knudsen=knudsen_diffusivity(radius, 1.0),
    )


@written_out
@njit(cache=True, error_model="numpy")
def pore_passage(T, pressure, layer):
    """Return the vapour between two cells per unit of Stefan potential [kg/(m2 s)].

    T: mean of the two cells [K]; pressure [Pa]. Bosanquet's rule over the open cross-section, by p/(R_w T).
    """
    molecular = vapour_diffusivity(T, pressure)[0]
    knudsen = layer.knudsen * math.sqrt(T)
    share = knudsen / (knudsen + molecular)
    return layer.passage * molecular * share * pressure / (WATER_GAS_CONSTANT * T)


@written_out
@njit(cache=True, error_model="numpy")
def cell(T, w, p, T_on, p_on, pressure, layer, row):
    """Return what a cell takes up, and the vapour and heat that go on to the next [kg/(m2 s), W/m2].

    T, w, p: of the cell [K, kg/kg, Pa]; T_on, p_on: of the next one towards the face; pressure [Pa].
    """
    sorbed = sorption(T, p, w, layer.cell_mass, row)[0]
    middle = 0.5 * (T + T_on)
    moved = stefan_potential(p / pressure)[0] - stefan_potential(p_on / pressure)[0]
    moved *= pore_passage(middle, pressure, layer)
    lift = VAPOUR_SPECIFIC_HEAT * (middle - POOL_TEMPERATURE)
    return sorbed, moved, layer.conduction * (T - T_on) + moved * lift


CELL: Final = with_slopes(cell, ("T", "w", "p", "T_on", "p_on"), "passive_box_cell")
cell_with_slopes = CELL.run
# Places in what it returns: three values, then the slopes of each in the arguments that it depends on
SORBED_IN: Final = tuple(CELL.places[0].items())
MOVED_IN: Final = tuple(CELL.places[1].items())
HEAT_IN: Final = tuple(CELL.places[2].items())


@njit(cache=True, error_model="numpy")
def flows(y, air, mode, layer, row, want, phi, slopes):
    """Fill phi with the flows, and where wanted slopes[flow, unknown] with their slopes.

    y, phi, slopes: as in `layered_kind`; air, mode: as for the lumped box. Entries of the slopes that a flow
    does not use are left as they are.
    """
    hidden = (y.shape[0] - IN_BOX) // PER_CELL
    b = PER_CELL * hidden
    face_flows(y[b:], air, mode, layer.face, row, want, phi, slopes[:, b:])
    pressure = air[2]
    phi[OF_BOX] = layer.contact * (y[b + TB] - y[0])
    if want:
        slopes[OF_BOX, b + TB] = layer.contact
        slopes[OF_BOX, 0] = -layer.contact
    for i in range(hidden):
        t = PER_CELL * i
        f = OF_BOX + 1 + PER_CELL * i
        t_on = t + PER_CELL if i + 1 < hidden else b + TS
        p_on = t + PER_CELL + 2 if i + 1 < hidden else b + PS
        if want:
            found = cell_with_slopes(y[t], y[t + 1], y[t + 2], y[t_on], y[p_on], pressure, layer, row)
            phi[f] = found[0]
            phi[f + 1] = found[1]
            phi[f + 2] = found[2]
            at = (t, t + 1, t + 2, t_on, p_on)
            for k in range(len(SORBED_IN)):
                slopes[f, at[SORBED_IN[k][0]]] = found[SORBED_IN[k][1]]
            for k in range(len(MOVED_IN)):
                slopes[f + 1, at[MOVED_IN[k][0]]] = found[MOVED_IN[k][1]]
            for k in range(len(HEAT_IN)):
                slopes[f + 2, at[HEAT_IN[k][0]]] = found[HEAT_IN[k][1]]
        else:
            phi[f], phi[f + 1], phi[f + 2] = cell(
                y[t], y[t + 1], y[t + 2], y[t_on], y[p_on], pressure, layer, row
            )


@njit(cache=True, error_model="numpy")
def stocks(y, layer, row, A, U, S):
    """Fill the stocks U and their slopes S[row, unknown] from the unknowns; returns nothing.

    A: adsorption potential of each cell at its loading and temperature [J/mol], the face's last.
    """
    hidden = A.shape[0] - 1
    b = PER_CELL * hidden
    stocks_with_face(y[b:], layer.face, row, A[hidden], TS, U[b:], S[b:, b:])
    U[b + TB] = layer.carrier_heat * (y[b + TB] - FREEZING_POINT)
    S[b + TB, b + TB] = layer.carrier_heat
    M = layer.cell_mass
    for i in range(hidden):
        t = PER_CELL * i
        U[t], S[t, t], S[t, t + 1] = bed_enthalpy(y[t], y[t + 1], 0.0, A[i], layer.cell_heat, M, row)
        U[t + 1] = M * y[t + 1]
        S[t + 1, t + 1] = M
        U[t + 2] = layer.cell_pores * y[t + 2]
        S[t + 2, t + 2] = layer.cell_pores


@njit(cache=True, error_model="numpy")
def unknowns(U, layer, row, y, A):
    """Recover the unknowns y from the stocks U, starting from y and the cells' potentials A.

    Returns a new array of the potentials [J/mol] at the new loadings and temperatures, for the next call.
    """
    hidden = A.shape[0] - 1
    b = PER_CELL * hidden
    found = np.empty(hidden + 1)
    M = layer.cell_mass
    for i in range(hidden):
        t = PER_CELL * i
        y[t + 1] = U[t + 1] / M
        y[t + 2] = U[t + 2] / layer.cell_pores
        y[t], found[i] = bed_temperature(U[t], layer.cell_heat, U[t + 1], M, y[t + 1], row, y[t], A[i])
    found[hidden] = unknowns_with_face(U[b:], layer.face, row, y[b:], A[hidden], TS)
    y[b + TB] = FREEZING_POINT + U[b + TB] / layer.carrier_heat
    return found


@njit(cache=True, error_model="numpy")
def opening_drive(y, air, layer, row, A):
    """Return the equilibrium pressure of the face's cell over the outdoor one, for the pressure rule [1]."""
    T = y[y.shape[0] - 1]
    p = math.exp(log_saturation_pressure(T)[0] - A[-1] / (GAS_CONSTANT * T))
    return p / max(air[1], 1.0)


@njit(cache=True, error_model="numpy")
def resting_state(air, layer, row, y):
    """Fill y with a box at rest in an air state, all cells in equilibrium; returns the cells' potentials."""
    hidden = (y.shape[0] - IN_BOX) // PER_CELL
    b = PER_CELL * hidden
    A = box_at_rest(air, layer.face, row, y[b:])
    y[b + TS] = y[b + TB]
    for i in range(hidden):
        y[PER_CELL * i] = y[b + TB]
        y[PER_CELL * i + 1] = y[b + W]
        y[PER_CELL * i + 2] = y[b + PS]
    return np.full(hidden + 1, A)


@njit(cache=True, error_model="numpy")
def error_scales(y, layer, row, scales):
    """Fill the size by which the step error of each unknown is judged, before the tolerance."""
    hidden = (y.shape[0] - IN_BOX) // PER_CELL
    b = PER_CELL * hidden
    box_error_scales(y[b:], layer.face, row, scales[b:])
    scales[b + TS] = 100.0
    most = largest_loading(row, y[b + TB])
    for i in range(hidden):
        t = PER_CELL * i
        scales[t] = 100.0
        scales[t + 1] = most
        scales[t + 2] = pore_scale(y[t + 2], y[t], row)


def layered_flows(cells: int) -> tuple[Flow, ...]:
    """Give the table of flows: the box's, carrier to first cell, and three of each cell behind the face."""
    b = PER_CELL * (cells - 1)

    def placed(row: int) -> int:
        return row if row == OUTSIDE else row + b

    found = [
        replace(
            flow,
            start=placed(flow.start),
            end=placed(flow.end),
            uses=tuple(placed(u) for u in flow.uses),
            carries=tuple((placed(row), weight) for row, weight in flow.carries),
        )
        for flow in with_uses(box_flows(TS), FACE)
    ]
    found.append(Flow("carrier_conduction", "W/m2", b + TB, 0, shown=None, uses=(b + TB, 0)))
    for i in range(cells - 1):
        T, w, p = (PER_CELL * i + k for k in range(3))
        T_on, p_on = (T + 3, p + 3) if i < cells - 2 else (b + TS, b + PS)
        both = (T, T_on, p, p_on)
        found += [
            Flow(f"sorption_{i}", "kg/(m2 s)", p, w, ((T, POOL_ENTHALPY),), "sorption", (T, w, p)),
            Flow(f"pore_diffusion_{i}", "kg/(m2 s)", p, p_on, shown=None, uses=both),
            Flow(f"layer_conduction_{i}", "W/m2", T, T_on, shown=None, uses=both),
        ]
    return tuple(found)


def layered_unknowns(cells: int) -> tuple[Unknown, ...]:
    """Give the table of unknowns; in a year the bed's are shown as means over carrier and cells."""
    T, w, p = "bed_temperature", "loading", "bed_vapour_pressure"
    found = []
    for i in range(cells - 1):
        found += [
            Unknown(f"{T}_{i}", "K", 100.0, "heat", 300.0, shown=T),
            Unknown(f"{w}_{i}", "kg/kg", 1.0, "water", 0.1, shown=w),
            Unknown(f"{p}_{i}", "Pa", 20.0, "water", 2000.0, shown=p),
        ]
    box = list(UNKNOWNS)
    box[TB] = replace(box[TB], name="carrier_temperature", shown=T, label="")
    return (*found, *box, Unknown(T, "K", 100.0, "heat", 300.0, "bed"))


@cache
def layered_kind(cells: int) -> Kind:
    """Give the layered box as the march sees it, with a number of cells of at least two."""
    return Kind(
        name=f"passive_box_layered_{cells}",
        unknowns=layered_unknowns(cells),
        flows=layered_flows(cells),
        fill_flows=flows,
        fill_stocks=stocks,
        recover=unknowns,
        opening_drive=opening_drive,
        rest=resting_state,
        error_scales=error_scales,
        own_wiring=partial(
            layered_wiring, cells, with_uses(box_flows(TS), FACE), (*STOCK_SLOPES, *FILLED_IN)
        ),
    )
