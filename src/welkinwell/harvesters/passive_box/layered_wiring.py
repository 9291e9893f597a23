"""How flows, stocks and unknowns of the layered box hang together: the box's sums, and loops over its cells.

Written out line by line, as for other kinds, the sums of so many unknowns would take minutes to compile.
The linear system is eliminated in the order of the layer: in each cell loading first, then temperature and
pore vapour as a block of two, which touch the next cell and the carrier; what remains is the box's own ten.
"""

from __future__ import annotations

from collections.abc import Callable

from welkinwell.compiled import njit
from welkinwell.harvesters.harvester import Flow, incidence_of
from welkinwell.harvesters.passive_box.flows import POOL_ENTHALPY, PS, TB
from welkinwell.numerics.wiring import Wiring, make_wiring

IN_BOX = 10  # unknowns of the box with the face's cell
OF_BOX = 37  # its flows
TS = 9  # temperature of the face's cell, after the box's own unknowns
PER_CELL = 3  # unknowns, and flows, of each cell behind the face
CARRIER_FLOW = OF_BOX  # carrier to first cell; then sorption, diffusion and conduction of each cell


def layered_wiring(
    cells: int, of_box: tuple[Flow, ...], stock_pattern: tuple[tuple[int, int], ...]
) -> Wiring:
    """Make the sums of a box with a number of cells.

    of_box: the table of the box's flows, by its own rows; stock_pattern: (stock, unknown), where slopes of
    its stocks can differ from zero, and where taking out the cells fills in.
    """
    incidence, pattern = incidence_of(of_box)
    box = make_wiring(IN_BOX, OF_BOX, incidence, pattern, "layered_box", stock_pattern)
    texts = (*_sums(box), *_elimination(box))
    unknowns = PER_CELL * (cells - 1) + IN_BOX
    flows = OF_BOX + 1 + PER_CELL * (cells - 1)
    return Wiring(unknowns, flows, *(njit(error_model="numpy")(each) for each in texts))


def _sums(box: Wiring) -> tuple[Callable, ...]:
    """Write the sums over flows: what they bring to the stocks, and how they change in a step."""
    box_gather, box_add, box_carry = box.gather, box.add_flows, box.carry

    def gather_layers(phi, total):
        b = total.shape[0] - IN_BOX
        box_gather(phi, total[b:])
        heat = phi[CARRIER_FLOW]
        total[b + TB] -= heat
        vapour = 0.0
        f = CARRIER_FLOW + 1
        for t in range(0, b, PER_CELL):
            total[t] = POOL_ENTHALPY * phi[f] + heat - phi[f + 2]
            total[t + 1] = phi[f]
            total[t + 2] = vapour - phi[f] - phi[f + 1]
            vapour = phi[f + 1]
            heat = phi[f + 2]
            f += PER_CELL
        total[b + TS] += heat
        total[b + PS] += vapour

    def add_flows_layers(total, carried, stage, factor):
        b = total.shape[0] - IN_BOX
        box_add(total[b:], carried, stage, factor)
        heat = carried[stage, CARRIER_FLOW]
        total[b + TB] -= factor * heat
        vapour = 0.0
        f = CARRIER_FLOW + 1
        for t in range(0, b, PER_CELL):
            sorbed = carried[stage, f]
            total[t] += factor * (POOL_ENTHALPY * sorbed + heat - carried[stage, f + 2])
            total[t + 1] += factor * sorbed
            total[t + 2] += factor * (vapour - sorbed - carried[stage, f + 1])
            vapour = carried[stage, f + 1]
            heat = carried[stage, f + 2]
            f += PER_CELL
        total[b + TS] += factor * heat
        total[b + PS] += factor * vapour

    def carry_layers(phi, slopes, delta, half, carried, stage):
        b = delta.shape[0] - IN_BOX
        c = b + TB
        box_carry(phi, slopes[:, b:], delta[b:], half, carried, stage)
        f = CARRIER_FLOW
        carried[stage, f] = half * (phi[f] + slopes[f, c] * delta[c] + slopes[f, 0] * delta[0])
        f += 1
        for t in range(0, b, PER_CELL):
            t_on, p_on = _next(t, b)
            dT, dp, dT_on, dp_on = delta[t], delta[t + 2], delta[t_on], delta[p_on]
            rise = slopes[f, t] * dT + slopes[f, t + 1] * delta[t + 1] + slopes[f, t + 2] * dp
            carried[stage, f] = half * (phi[f] + rise)
            for g in (f + 1, f + 2):
                rise = slopes[g, t] * dT + slopes[g, t + 2] * dp
                rise += slopes[g, t_on] * dT_on + slopes[g, p_on] * dp_on
                carried[stage, g] = half * (phi[g] + rise)
            f += PER_CELL

    return gather_layers, add_flows_layers, carry_layers


def _elimination(box: Wiring) -> tuple[Callable, ...]:
    """Write the linear system of a step: its matrix, the elimination, and the solution."""
    box_assemble, box_factorise, box_substitute = box.assemble, box.factorise, box.substitute

    def assemble_layers(S, slopes, half, M):
        per = 1.0 / half
        b = M.shape[0] - IN_BOX
        c = b + TB
        box_assemble(S[b:, b:], slopes[:, b:], half, M[b:, b:])
        for t in range(0, b, PER_CELL):
            _assemble_cell(S, slopes, per, M, t, c, b)
        # the carrier and the face's cell, which the first and the last cell touch
        M[c, c] += slopes[CARRIER_FLOW, c]
        M[c, 0] = slopes[CARRIER_FLOW, 0]
        M[0, c] = -slopes[CARRIER_FLOW, c]
        f = CARRIER_FLOW + 1 + b - PER_CELL
        s, p = b + TS, b + PS
        M[s, s] -= slopes[f + 2, s]
        M[s, p] -= slopes[f + 2, p]
        M[p, s] -= slopes[f + 1, s]
        M[p, p] -= slopes[f + 1, p]

    def factorise_layers(M):
        b = M.shape[0] - IN_BOX
        _take_out_cells(M)
        box_factorise(M[b:, b:])

    def substitute_layers(M, x):
        b = M.shape[0] - IN_BOX
        _down_the_cells(M, x)
        box_substitute(M[b:, b:], x[b:])
        _up_the_cells(M, x)

    return assemble_layers, factorise_layers, substitute_layers


@njit(cache=True, error_model="numpy")
def _next(t, b):
    """Return the rows of temperature and pore vapour of the cell after row t; b: the box begins there."""
    if t + PER_CELL < b:
        return t + PER_CELL, t + PER_CELL + 2
    return b + TS, b + PS


@njit(cache=True, error_model="numpy")
def _assemble_cell(S, slopes, per, M, t, c, b):
    """Fill the rows of one cell, what the next one's hold of it, and zeros where elimination fills in."""
    w, p = t + 1, t + 2
    t_on, p_on = _next(t, b)
    f = CARRIER_FLOW + 1 + t
    warm_in = f - 1  # from the cell before, or from the carrier
    M[t, t] = S[t, t] * per - POOL_ENTHALPY * slopes[f, t] - slopes[warm_in, t] + slopes[f + 2, t]
    M[t, w] = S[t, w] * per - POOL_ENTHALPY * slopes[f, w]
    M[t, p] = slopes[f + 2, p] - POOL_ENTHALPY * slopes[f, p]
    M[w, t] = -slopes[f, t]
    M[w, w] = S[w, w] * per - slopes[f, w]
    M[w, p] = -slopes[f, p]
    M[p, t] = slopes[f, t] + slopes[f + 1, t]
    M[p, w] = slopes[f, w]
    M[p, p] = S[p, p] * per + slopes[f, p] + slopes[f + 1, p]
    if t > 0:
        M[t, p] -= slopes[warm_in, p]
        M[p, t] -= slopes[f - 2, t]
        M[p, p] -= slopes[f - 2, p]
    M[t, t_on] = slopes[f + 2, t_on]
    M[t, p_on] = slopes[f + 2, p_on]
    M[p, t_on] = slopes[f + 1, t_on]
    M[p, p_on] = slopes[f + 1, p_on]
    M[t_on, t] = -slopes[f + 2, t]
    M[t_on, p] = -slopes[f + 2, p]
    M[p_on, t] = -slopes[f + 1, t]
    M[p_on, p] = -slopes[f + 1, p]
    M[t, c] = 0.0
    M[p, c] = 0.0
    M[c, t] = 0.0
    M[c, p] = 0.0


@njit(cache=True, error_model="numpy")
def _eliminate(M, r, t, p, t_on, p_on, c):
    """Take temperature and pore vapour of a cell out of row r; leaves the row's factors in their place."""
    a = M[r, t] * M[t, t] + M[r, p] * M[p, t]
    d = M[r, t] * M[t, p] + M[r, p] * M[p, p]
    M[r, t] = a
    M[r, p] = d
    M[r, t_on] -= a * M[t, t_on] + d * M[p, t_on]
    M[r, p_on] -= a * M[t, p_on] + d * M[p, p_on]
    M[r, c] -= a * M[t, c] + d * M[p, c]


@njit(cache=True, error_model="numpy")
def _take_out_cells(M):
    """Overwrite the cells' rows with their factors; rows need not be exchanged (numerics.linear says why).

    The block of a cell's temperature and pore vapour is kept as its inverse.
    """
    b = M.shape[0] - IN_BOX
    c = b + TB
    for t in range(0, b, PER_CELL):
        w, p = t + 1, t + 2
        t_on, p_on = _next(t, b)
        pivot = 1.0 / M[w, w]
        M[w, w] = pivot
        heat = M[t, w] * pivot
        vapour = M[p, w] * pivot
        M[t, w] = heat
        M[p, w] = vapour
        tt = M[t, t] - heat * M[w, t]
        tp = M[t, p] - heat * M[w, p]
        pt = M[p, t] - vapour * M[w, t]
        pp = M[p, p] - vapour * M[w, p]
        per = 1.0 / (tt * pp - tp * pt)
        M[t, t] = pp * per
        M[t, p] = -tp * per
        M[p, t] = -pt * per
        M[p, p] = tt * per
        _eliminate(M, t_on, t, p, t_on, p_on, c)
        _eliminate(M, p_on, t, p, t_on, p_on, c)
        _eliminate(M, c, t, p, t_on, p_on, c)


@njit(cache=True, error_model="numpy")
def _down_the_cells(M, x):
    """Take the cells out of a right-hand side, from the closed end to the box."""
    b = M.shape[0] - IN_BOX
    c = b + TB
    for t in range(0, b, PER_CELL):
        p = t + 2
        t_on, p_on = _next(t, b)
        x[t] -= M[t, t + 1] * x[t + 1]
        x[p] -= M[p, t + 1] * x[t + 1]
        x[t_on] -= M[t_on, t] * x[t] + M[t_on, p] * x[p]
        x[p_on] -= M[p_on, t] * x[t] + M[p_on, p] * x[p]
        x[c] -= M[c, t] * x[t] + M[c, p] * x[p]


@njit(cache=True, error_model="numpy")
def _up_the_cells(M, x):
    """Overwrite the cells' part of a right-hand side with the solution, once the box's is known."""
    b = M.shape[0] - IN_BOX
    c = b + TB
    for t in range(b - PER_CELL, -1, -PER_CELL):
        w, p = t + 1, t + 2
        t_on, p_on = _next(t, b)
        heat = x[t] - M[t, t_on] * x[t_on] - M[t, p_on] * x[p_on] - M[t, c] * x[c]
        vapour = x[p] - M[p, t_on] * x[t_on] - M[p, p_on] * x[p_on] - M[p, c] * x[c]
        x[t] = M[t, t] * heat + M[t, p] * vapour
        x[p] = M[p, t] * heat + M[p, p] * vapour
        x[w] = (x[w] - M[w, t] * x[t] - M[w, p] * x[p]) * M[w, w]
