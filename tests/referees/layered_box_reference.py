"""The layered box written a second time, from docs/theory/layered_bed.md alone, for library integrators.

The natural form: temperatures, potentials and pressures as unknowns, slopes by the product rule. The
potential stands for the loading, q(A, T), so that no isotherm has to be inverted: the form in which a library
solver is quickest. It covers the default box: sealed front gap, release to the rear, a stratified gap to a
condenser below, no reflectors, Sips terms with a plain rate, and days without frost. Nothing is shared with
the march but the data sheet's numbers.

The box is one text; the cells are written twice, over arrays for NumPy (with any number of states side by
side, as SciPy's `vectorized` wants them) and as loops for the compiler.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from welkinwell.sorbents import row as slots

R = 8.314462618
MW = 0.018015268
RW = R / MW
RD = R / 0.028966
SIGMA = 5.670374419e-8
G = 9.80665
CL, CV, CPA = 4186.0, 1816.0, 1006.0
L0, T0, TR = 2.5009e6, 273.15, 313.15
HR = L0 + CV * (TR - T0)
LEWIS = 0.905
# Glazing, carrier, condenser, bed liquid, condenser film, gap; then T, A and p of all cells; then litres
BOX = 6


def pick_array(condition, one, other):
    return np.where(condition, one, other)


def pick_number(condition, one, other):
    return one if condition else other


pick_compiled = njit(pick_number)


def right_hand_side(design, sorbent, site_pressure, cells, compiled=False):
    """Write the balances of one design: f(closed) -> g(y, air), y of shape (n,) or, in NumPy, (n, k).

    Unknowns: BOX of the box, temperature, potential and pore pressure of each cell, and the litres collected.
    """
    d = design
    assert d.front_gap_sealed
    assert d.release_face == "rear"
    assert not d.cover_opens
    assert d.condenser_position == "below"
    assert d.gap_circulation == "stratified"
    N = cells
    dx = d.layer_thickness / d.open_faces / N
    a = d.bed_area * d.open_faces
    aw = a * d.bed_effectiveness
    Mi = d.sorbent_mass / N
    cs = sorbent.dry_specific_heat
    eps = sorbent.layer_porosity
    ki = eps * d.layer_thickness * d.bed_area / N / (RW * TR)
    kv = d.gap_air_volume / (RW * TR)
    carrier = d.bed_metal * d.bed_metal_specific_heat
    radius = sorbent.grain_radius / 3.0
    dk = 2.0 / 3.0 * radius * math.sqrt(8.0 * R / (math.pi * MW))
    opening = eps**1.5 * aw / dx
    D_pool = 2.178e-5 * (TR / T0) ** 1.81 * 101325.0 / site_pressure
    half = 0.5 * dx / (eps**1.5 / (1.0 / D_pool + 1.0 / (dk * math.sqrt(TR)))) / aw
    solid = sorbent.layer_conductivity * a / dx
    gl = d.bed_area * 0.05 / (RW * TR)
    ac = d.condenser_inner_area
    Hc, Hb = d.condenser_holdup * ac, d.bed_holdup * d.bed_area
    Cg = 2500.0 * 720.0 * d.glazing_thickness
    Cc = d.condenser_mass * d.condenser_specific_heat
    thin = site_pressure / 101325.0
    slope = abs(math.cos(d.tilt))
    loose = (9.482 / (7.283 - slope)) ** 3 * thin * thin
    tight = (1.810 / (1.382 + slope)) ** 3 * thin * thin
    wa, wb = d.wind_constant * thin ** (2.0 / 3.0), d.wind_slope * thin
    Fg, eg = 0.5 * (1.0 + math.cos(d.tilt)), d.glazing_emissivity
    ec, Fc = d.condenser_emissivity, d.condenser_sky_view
    pair = SIGMA / (1.0 / d.absorber_emissivity + 1.0 / eg - 1.0)
    ebc = d.bed_condenser_emissivity * SIGMA
    outer = d.condenser_outer_area * d.condenser_fin_efficiency
    Ue, stray, Vgap = d.edge_loss, d.condenser_stray_sun, d.gap_air_volume
    n_leak, n_open, n_vent, T_vent = d.leak, d.open_ventilation, d.vent_air_changes, d.vent_temperature
    Lf, Lr, left = d.front_gap, d.rear_gap, d.front_insulation
    cosine = math.cos(d.tilt)
    damping = 1708.0 * max(math.sin(1.8 * d.tilt), 0.0) ** 1.6
    row = sorbent.row
    assert int(row[slots.SLOT_FORM]) == slots.FORM_SIPS_TERMS
    assert row[slots.SLOT_HYSTERESIS] == 0.0
    assert row[slots.SLOT_RATE_LAW] == 0.0
    first, count = slots.SLOT_PARAMETERS, int(row[slots.SLOT_COUNT])
    terms = tuple(tuple(float(x) for x in row[first + 4 * k : first + 4 * k + 4]) for k in range(count))
    k0 = float(
        row[slots.SLOT_SHAPE_FACTOR] * row[slots.SLOT_DIFFUSIVITY] / row[slots.SLOT_DIFFUSION_LENGTH] ** 2
    )
    Ea = float(row[slots.SLOT_ACTIVATION_ENERGY] / R)

    def texts(jit, pick, maths):
        """The box's text: over arrays, in plain floats or compiled."""
        exp, log, sqrt, tanh = maths.exp, maths.log, maths.sqrt, maths.tanh

        @jit
        def liquid(T):  # above freezing
            t = 1.0 - T / 647.096
            r = sqrt(t)
            t2 = t * t
            x = t * (
                -7.85951783
                + 1.84408259 * r
                + t2 * (-11.7866497 + 22.6807411 * r + t * (-15.9618719 + 1.80122502 * t2 * t * r))
            )
            return 22.064e6 * exp(647.096 * x / T)

        @jit
        def share(excess, m):
            square = (m / 0.002) ** 2
            wet = square / (1.0 + square)
            wet = pick(m > 0.0, wet, -wet)
            z = 0.05 * pick(excess < 0.0, 0.0, pick(excess > 20.0, 20.0, excess))
            return wet + (1.0 - wet) * z * z * (3.0 - 2.0 * z)

        @jit
        def ramp(z, s):
            return pick(z <= -s, 0.0, pick(z >= s, z, (z + s) ** 2 / (4.0 * s)))

        @jit
        def surface(forced, rise, hot, cold):
            square = rise * rise
            return (forced + pick(rise > 0.0, hot, cold) * square / sqrt(square + 1.0)) ** (1.0 / 3.0)

        @jit
        def potential(share_of_pressure):  # -ln(1 - x), straight above 0.9
            low = pick(share_of_pressure > 0.9, 0.9, share_of_pressure)
            return -log(1.0 - low) + (share_of_pressure - low) * 10.0

        @jit
        def stefan(K, T, p1, p2, P):
            return K * P / (RW * T) * (potential(p1 / P) - potential(p2 / P))

        @jit
        def corner(z):
            return pick(z <= -0.05, 0.0, pick(z >= 0.05, z, (z + 0.05) ** 2 / 0.2))

        @jit
        def front(Tb, Tg, P):  # a sealed gap tilted by up to 60 degrees
            Tm = 0.5 * (Tb + Tg)
            t = Tm - T0
            k = 0.02436 + 7.34e-5 * t
            mu = 1.7218e-5 + 4.72e-8 * t
            rho = P / (RD * Tm)
            lift = pick(Tb > Tg, Tb - Tg, 0.0)
            x = G * lift / Tm * Lf**3 * rho * rho * CPA / (mu * k) * cosine
            x = pick(x < 1000.0, 1000.0, x)
            nu = 1.0 + 1.44 * corner(1.0 - 1708.0 / x) * (1.0 - damping / x)
            nu = nu + corner((x / 5830.0) ** (1.0 / 3.0) - 1.0)
            return left * nu * k / Lf

        @jit
        def around(closed, Tg, Tb, Tc, Ts, ml, mc, ps, pv, Ta, pa, P, V, L, Sa, Sg, Gp):
            """The box: slopes of its unknowns and of the litres; heat to carrier and face, vapour to it."""
            rho = P / (RD * Ta)
            wind = wa + wb * V
            forced = wind**3
            b4, s4, g4, c4, a4 = Tb**4, Ts**4, Tg**4, Tc**4, Ta**4
            sat_s = liquid(Ts)
            j1 = gl * (ps - sat_s) * share(ps - sat_s, ml)
            j10 = ramp(ml - Hb, 0.1 * Hb) / 120.0
            j8 = ramp(mc - Hc, 0.1 * Hc) / 120.0
            sat_c = liquid(Tc)
            h23 = surface(forced, Tc - Ta, tight, loose) * outer * (Tc - Ta)
            h18 = front(Tb, Tg, P) * (Tb - Tg)
            h17 = pair * (b4 - g4)
            to_face = -ebc * (s4 - c4) - j10 * CL * (Ts - T0)
            to_carrier = Sa - h17 - h18 - Ue * (Tb - Ta)
            to_condenser = stray * Gp + ebc * (s4 - c4) - ec * (SIGMA * c4 - Fc * L - (1.0 - Fc) * SIGMA * a4)
            if closed:
                Tm = 0.5 * (Ts + Tc)
                hr = (0.02436 + 7.34e-5 * (Tm - T0)) / Lr
                km = 2.178e-5 * (Tm / T0) ** 1.81 * 101325.0 / (P * Lr)
                into = stefan(1.0 / (0.5 / km + half), Tm, pv, ps, P)
                j4 = stefan(2.0 * km * ac, Tm, pv, sat_c, P) * share(pv - sat_c, mc)
                x = 0.5 * j4 * CV / hr
                x = pick(abs(x) < 1e-6, 1e-6, x)
                h20 = hr * x / tanh(x) * (Ts - Tc) + j4 * CV * (Tm - TR)
                z = (Tb - T_vent) / 5.0
                z = pick(z < 0.0, 0.0, pick(z > 1.0, 1.0, z))
                valve = n_vent * z * z * (3.0 - 2.0 * z)
                out = (n_leak + valve) * kv * (pv - pa)
                air = 0.5 * (n_leak + valve) * Vgap * rho * CPA
                to_carrier = to_carrier - air * (Tb - Ta)
                to_condenser = to_condenser - h23 - air * (Tc - Ta) + h20 + HR * j4
                to_face = to_face - h20
                dpv = -(into + j4 + out) / kv
                onto = j4
            else:
                lewis = rho * CPA * LEWIS
                hb = surface(forced, Ts - Ta, loose, loose)
                Tm = 0.5 * (Ta + Ts)
                into = stefan(1.0 / (lewis / hb / aw + half), Tm, pa, ps, P)
                to_face = to_face - hb * aw * (Ts - Ta) + into * CV * (Tm - TR)
                Tm = 0.5 * (Ta + Tc)
                onto = stefan(wind / lewis * ac, Tm, pa, sat_c, P) * share(pa - sat_c, mc)
                to_condenser = to_condenser - h23 - wind * ac * (Tc - Ta) + onto * (L0 + CV * (Tm - T0))
                dpv = -n_open * (pv - pa)
            dTg = Sg + h17 + h18 - eg * (SIGMA * g4 - Fg * L - (1.0 - Fg) * SIGMA * a4)
            dTg = (dTg - surface(forced, Tg - Ta, loose, tight) * (Tg - Ta)) / Cg
            dmc = onto - j8
            dTc = (to_condenser - j8 * CL * (Tc - T0) - CL * (Tc - T0) * dmc) / (Cc + mc * CL)
            return dTg, dTc, j1 - j10, dmc, dpv, j8, to_carrier, to_face + HR * j1, into - j1

        return liquid, potential, around

    def over_arrays(closed):
        liquid, potential, side_by_side = texts(lambda function: function, pick_array, np)
        _, _, alone = texts(lambda function: function, pick_number, math)

        def slopes(y, air):
            out = np.empty_like(y)
            T, A, p = y[BOX : BOX + N], y[BOX + N : BOX + 2 * N], y[BOX + 2 * N : BOX + 3 * N]
            if y.ndim == 1:  # plain floats are quicker than arrays of one
                g, b, c, film, onto, v = y[:BOX].tolist()
                found = alone(closed, g, b, c, float(T[-1]), film, onto, float(p[-1]), v, *air)
            else:
                found = side_by_side(closed, y[0], y[1], y[2], T[-1], y[3], y[4], p[-1], y[5], *air)
            out[0], out[2], out[3], out[4], out[5], out[-1] = found[:6]
            rest = R * T * np.log(liquid(T) / (0.5 * (p + np.sqrt(p * p + 1.0))))
            w, g0, g1, g2, q = 0.0, 0.0, 0.0, 0.0, 0.0
            for capacity, A_k, s, b in terms:
                shift = A_k + b * (T - 298.15)
                f = 1.0 / (1.0 + np.exp((A - shift) / s))
                q = q + capacity / (1.0 + np.exp((rest - shift) / s))
                w = w + capacity * f
                g = capacity / s * f * (1.0 - f)
                g0, g1, g2 = g0 + g, g1 + g * b, g2 + g * b * b
            taken = Mi * k0 * np.exp(-Ea / T) * (q - w)
            middle = 0.5 * (T[1:] + T[:-1])
            D = 2.178e-5 * (middle / T0) ** 1.81 * (101325.0 / air[2])
            K = dk * np.sqrt(middle)
            V = potential(p / air[2])
            J = opening * D * K / (D + K) * air[2] / (RW * middle) * (V[:-1] - V[1:])
            q_heat = solid * (T[:-1] - T[1:]) + J * CV * (middle - TR)
            first_heat = 2.0 * solid * (y[1] - T[0])
            out[1] = (found[6] - first_heat) / carrier
            heat, vapour = HR * taken, -taken
            heat[0] += first_heat
            heat[:-1] -= q_heat
            heat[1:] += q_heat
            heat[-1] += found[7]
            vapour[:-1] -= J
            vapour[1:] += J
            vapour[-1] += found[8]
            mean = g1 / g0
            capacity = Mi * (cs + w * CL + T * (g2 - g1 * mean) / MW)
            heat -= (CL * (T - T0) - (A - T * mean) / MW) * taken
            heat[-1] -= CL * (T[-1] - T0) * out[3]
            capacity[-1] += y[3] * CL
            dT = heat / capacity
            out[BOX : BOX + N] = dT
            out[BOX + N : BOX + 2 * N] = (g1 * dT - taken / Mi) / g0
            out[BOX + 2 * N : BOX + 3 * N] = vapour / ki
            return out

        return slopes

    def in_loops(closed):
        liquid, potential, around = texts(njit, pick_compiled, math)
        exp, log, sqrt = math.exp, math.log, math.sqrt

        @njit
        def fill(y, air, out):
            found = around(closed, y[0], y[1], y[2], y[BOX + N - 1], y[3], y[4], y[BOX + 3 * N - 1], y[5],
                           air[0], air[1], air[2], air[3], air[4], air[5], air[6], air[7])  # fmt: skip
            out[0], out[2], out[3], out[4], out[5] = found[0], found[1], found[2], found[3], found[4]
            out[BOX + 3 * N] = found[5]
            P = air[2]
            warm = 2.0 * solid * (y[1] - y[BOX])
            out[1] = (found[6] - warm) / carrier
            came = 0.0
            T, p = y[BOX], y[BOX + 2 * N]
            V = potential(p / P)
            for i in range(N):
                A = y[BOX + N + i]
                rest = R * T * log(liquid(T) / (0.5 * (p + sqrt(p * p + 1.0))))
                w = g0 = g1 = g2 = q = 0.0
                for capacity, A_k, s, b in terms:
                    shift = A_k + b * (T - 298.15)
                    f = 1.0 / (1.0 + exp((A - shift) / s))
                    q += capacity / (1.0 + exp((rest - shift) / s))
                    w += capacity * f
                    g = capacity / s * f * (1.0 - f)
                    g0 += g
                    g1 += g * b
                    g2 += g * b * b
                taken = Mi * k0 * exp(-Ea / T) * (q - w)
                mean = g1 / g0
                room = Mi * (cs + w * CL + T * (g2 - g1 * mean) / MW)
                heat = HR * taken + warm - (CL * (T - T0) - (A - T * mean) / MW) * taken
                vapour = came - taken
                T_on, p_on, V_on = T, p, V
                if i < N - 1:
                    T_on, p_on = y[BOX + i + 1], y[BOX + 2 * N + i + 1]
                    V_on = potential(p_on / P)
                    middle = 0.5 * (T + T_on)
                    D = 2.178e-5 * (middle / T0) ** 1.81 * (101325.0 / P)
                    K = dk * sqrt(middle)
                    came = opening * D * K / (D + K) * P / (RW * middle) * (V - V_on)
                    warm = solid * (T - T_on) + came * CV * (middle - TR)
                    heat -= warm
                    vapour -= came
                else:
                    heat += found[7] - CL * (T - T0) * out[3]
                    vapour += found[8]
                    room += y[3] * CL
                dT = heat / room
                out[BOX + i] = dT
                out[BOX + N + i] = (g1 * dT - taken / Mi) / g0
                out[BOX + 2 * N + i] = vapour / ki
                T, p, V = T_on, p_on, V_on

        return fill

    return in_loops if compiled else over_arrays


def scales(cells):
    """What counts as 1 for an absolute tolerance: K, kg/m2, Pa, J/mol, and the litres of a stretch."""
    return np.concatenate(
        [[30.0] * 3, [0.1] * 2, [500.0], [30.0] * cells, [1000.0] * cells, [500.0] * cells, [0.5]]
    )


def start_of(march_y, potentials, cells):
    """Bring a state of the march into this order; potentials: of the cells, the face's last [J/mol]."""
    b = 3 * (cells - 1)
    Tg, Tb, Tc, _, ml, _, mc, ps, pv, Ts = march_y[b:]
    T = [*march_y[0:b:3], Ts]
    p = [*march_y[2:b:3], ps]
    return np.array([Tg, Tb, Tc, ml, mc, pv, *T, *potentials, *p, 0.0])


class Balances:
    """f(t, y) of one case for library integrators, in each mode; y of shape (n,), in NumPy also (n, k)."""

    def __init__(self, design, sorbent, air, cells, compiled=False):
        make = right_hand_side(design, sorbent, air.pressure, cells, compiled)
        self.cells, self.nodes, self.spacing = (
            cells,
            np.ascontiguousarray(air.nodes, dtype=float),
            float(air.spacing),
        )
        self.slope = {
            mode: (self._compiled if compiled else self._arrays)(make(mode == 0)) for mode in (0, 1)
        }

    def _arrays(self, slopes):
        nodes, rises, spacing = self.nodes[:, :8], np.diff(self.nodes[:, :8], axis=0), self.spacing
        last = len(rises) - 1

        def f(t, y):
            i = min(int(t / spacing), last)
            air = (nodes[i] + (t / spacing - i) * rises[i]).tolist()
            return slopes(y, air)

        return f

    def _compiled(self, fill):
        nodes, spacing, last = self.nodes, self.spacing, len(self.nodes) - 2

        @njit
        def at(t, y, out, n):
            i = min(int(t / spacing), last)
            s = t / spacing - i
            air = np.empty(8)
            for k in range(8):
                air[k] = n[i, k] + s * (n[i + 1, k] - n[i, k])
            fill(y, air, out)

        @njit
        def value(t, y, n):
            out = np.empty(y.shape[0])
            at(t, y, out, n)
            return out

        def f(t, y):
            return value(t, y, nodes)

        f.fill = lambda t, y, out: at(t, y, out, nodes)
        return f
