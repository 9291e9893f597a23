"""The passive box written a second time, from docs/theory/passive_box.md alone, in plain Python floats.

The natural form: temperatures, loading and films as unknowns, dT/dt from the stocks by the product rule.
It shares nothing with the march but the data sheet's numbers, the saturation curve and the enclosure
correlation (both are tested on their own). `simulate_reference` marches it with library integrators.

The same text serves twice: as it stands, and compiled by numba (`compiled=True`), so that a library
solver can be timed without the cost of a Python right-hand side.
"""

from __future__ import annotations

import math
import time
from dataclasses import replace
from itertools import pairwise
from types import FunctionType

import numpy as np
from numba import njit
from numba.core.dispatcher import Dispatcher

from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.moist_air import saturation
from welkinwell.sorbents import row as slots
from welkinwell.transfer import enclosures

DAY = 86400.0
SPIN_UP_DAYS = 5
STATES = (
    "glazing",
    "bed",
    "condenser",
    "loading",
    "bed_liquid",
    "glazing_film",
    "condenser_film",
    "pores",
    "gap",
)
LEDGERS = ("litres", "collected", "air_to_bed", "leak", "vent", "sun_absorber", "other_water")
FLOWS = (
    "sorption",
    "bed_condensation",
    "gap_to_bed",
    "air_to_bed",
    "condensation",
    "glazing_condensation",
    "leak",
    "vent",
    "collected",
    "glazing_drained",
    "bed_runoff",
    "rain_on_bed",
    "air_to_condenser",
    "air_to_glazing",
    "sun_absorber",
    "sun_glazing",
    "sun_condenser",
    "cover_radiation",
    "cover_convection",
    "rear_radiation",
    "rear_convection",
    "glazing_longwave",
    "glazing_convection",
    "condenser_convection",
    "condenser_longwave",
    "edge_loss",
    "bed_convection",
    "bed_longwave",
    "leak_heat_bed",
    "leak_heat_condenser",
    "collected_heat",
    "glazing_drained_heat",
    "bed_runoff_heat",
    "rain_heat",
    "air_vapour_to_bed",
    "air_vapour_to_condenser",
    "air_vapour_to_glazing",
)
ALL_LEDGERS = len(LEDGERS)
# other_water: rain on the bed and dew on the films, less what drains from glass and bed
# What counts as 1 for an absolute tolerance: K, kg/kg, kg/m2, Pa; then the ledgers of a stretch (kg, J)
SCALE = np.array([30.0] * 3 + [0.2] + [0.1] * 3 + [500.0] * 2 + [0.5] * 5 + [1e7, 0.5])

R = 8.314462618
SIGMA = 5.670374419e-8
MW = 0.018015268
RW = R / MW
RD = R / 0.028966
G = 9.80665
CL = 4186.0
CV = 1816.0
L0 = 2.5009e6
LF = 3.336e5
CPA = 1006.0
T0 = 273.15
TR = 313.15
HR = L0 + CV * (TR - T0)
LEWIS = 0.905


def plain(function):
    """Return the Python text behind a compiled function, with everything that it calls also uncompiled."""
    text = function.py_func if isinstance(function, Dispatcher) else function
    scope = dict(text.__globals__)
    for name in text.__code__.co_names:
        if isinstance(scope.get(name), Dispatcher):
            scope[name] = plain(scope[name])
    return FunctionType(text.__code__, scope, text.__name__, text.__defaults__, text.__closure__)


def right_hand_side(design, sorbent, site_pressure, compiled=False):
    """Write the balances for one design.

    Returns core(closed, 9 unknowns, 9 of the air, record) -> 9 slopes and the rates of LEDGERS; `record`
    is None or something with 37 places that takes the flows.
    """
    jit = njit if compiled else (lambda function: function)
    keep = (lambda function: function) if compiled else plain
    d = design
    exp, log, log1p, sqrt, tanh = math.exp, math.log, math.log1p, math.sqrt, math.tanh

    # Sizes
    M = d.sorbent_mass
    bed_dry = M * sorbent.dry_specific_heat + d.bed_metal * d.bed_metal_specific_heat
    Cg = 2500.0 * 720.0 * d.glazing_thickness
    Cc = d.condenser_mass * d.condenser_specific_heat
    porosity = sorbent.layer_porosity
    ks = max(porosity, 0.05) * d.layer_thickness * d.bed_area / (RW * TR)
    Vgap = d.gap_air_volume
    kv = Vgap / (RW * TR)
    ac = d.condenser_inner_area
    face = d.bed_area * d.bed_effectiveness
    ab = face * d.open_faces
    De = porosity**1.5 * 2.178e-5 * (TR / T0) ** 1.81 * 101325.0 / site_pressure
    in_rate = porosity <= 0.0 or getattr(sorbent, "rate_covers_layer", False)
    Rl = 0.0 if in_rate else d.layer_thickness / (3.0 * De)
    gl = d.bed_area * 0.05 / (RW * TR)
    Hc, Hg, Hb = d.condenser_holdup * ac, d.glazing_holdup, d.bed_holdup * d.bed_area
    front = d.release_face in ("front", "both")
    rear = d.release_face in ("rear", "both")
    exposed = not d.front_gap_sealed
    lifts = d.cover_opens
    gutter = 1.0 if d.glazing_gutter else 0.0

    # Surfaces
    tilt = d.tilt
    slope = abs(math.cos(tilt))
    thin = site_pressure / 101325.0
    loose = (9.482 / (7.283 - slope)) ** 3 * thin * thin
    tight = (1.810 / (1.382 + slope)) ** 3 * thin * thin
    upright = 0.0
    if d.condenser_position == "below":
        hot_c, cold_c = tight, loose
    elif d.condenser_position == "above":
        hot_c, cold_c = loose, tight
    else:
        hot_c = (9.482 / (7.283 - upright)) ** 3 * thin * thin
        cold_c = (1.810 / (1.382 + upright)) ** 3 * thin * thin
    wa, wb = d.wind_constant * thin ** (2.0 / 3.0), d.wind_slope * thin
    Fg = 0.5 * (1.0 + math.cos(tilt))
    eg, ec, eo = d.glazing_emissivity, d.condenser_emissivity, d.bed_open_emissivity
    Fc, Fo = d.condenser_sky_view, d.bed_sky_view
    pair = SIGMA / (1.0 / d.absorber_emissivity + 1.0 / eg - 1.0)
    ebc = d.bed_condenser_emissivity * SIGMA
    outer = d.condenser_outer_area * d.condenser_fin_efficiency
    Ue, stray, wet_loss, catch = d.edge_loss, d.condenser_stray_sun, d.wet_glass_loss, d.rain_catch
    n_leak, n_open, n_vent, T_vent = d.leak, d.open_ventilation, d.vent_air_changes, d.vent_temperature
    Lf_gap, Lr_gap = d.front_gap, d.rear_gap
    left = d.front_insulation
    stratified = d.condenser_position == "below" and d.gap_circulation == "stratified"
    rear_angle = {"below": math.pi - tilt, "above": tilt, "beside": 0.5 * math.pi}[d.condenser_position]

    # Sorbent (Sips terms)
    row = sorbent.row
    if int(row[slots.SLOT_FORM]) != slots.FORM_SIPS_TERMS:
        raise ValueError("the reference knows Sips terms only")
    first, count = slots.SLOT_PARAMETERS, int(row[slots.SLOT_COUNT])
    terms = tuple(tuple(float(x) for x in row[first + 4 * k : first + 4 * k + 4]) for k in range(count))
    total = sum(term[0] for term in terms)
    A1, s1, b1 = terms[0][1:]
    k0 = float(
        row[slots.SLOT_SHAPE_FACTOR] * row[slots.SLOT_DIFFUSIVITY] / row[slots.SLOT_DIFFUSION_LENGTH] ** 2
    )
    Ea = float(row[slots.SLOT_ACTIVATION_ENERGY] / R)
    band = float(row[slots.SLOT_HYSTERESIS])
    darken = int(row[slots.SLOT_RATE_LAW]) == slots.RATE_BY_POTENTIAL
    c_wet, swells = float(row[slots.SLOT_LOADING_EXPONENT]), float(row[slots.SLOT_SWELLING])

    liquid_elsewhere = keep(saturation.saturation_pressure)
    ice = keep(saturation.ice_saturation_pressure)
    enclosure = keep(enclosures.enclosure_nusselt)
    cos_tilt = math.cos(tilt)
    damping = 1708.0 * max(math.sin(1.8 * tilt), 0.0) ** 1.6

    @jit
    def liquid(T):  # the project's curve, value only, within its fitted range
        if T < 223.15 or T > 600.0:
            return liquid_elsewhere(T)
        t = 1.0 - T / 647.096
        r = sqrt(t)
        t2 = t * t
        x = t * (
            -7.85951783
            + 1.84408259 * r
            + t2 * (-11.7866497 + 22.6807411 * r + t * (-15.9618719 + 1.80122502 * t2 * t * r))
        )
        y = 647.096 * x / T
        if T < T0:
            z = (T - T0) / 100.0
            y += z * z * (-0.0632698122 + z * (-0.382734452 - 0.838973969 * z))
        return 22.064e6 * exp(y)

    @jit
    def at_film(T, x):  # saturation over a film that is ice for the share x
        if x < 1e-17:
            return liquid(T)
        return (1.0 - x) * liquid(T) + x * ice(T)

    @jit
    def wet(m):
        square = (m / 0.002) ** 2
        part = square / (1.0 + square)
        return part if m > 0.0 else -part

    @jit
    def share(excess, m):  # of a surface that exchanges vapour: all condenses, what is wet evaporates
        w = wet(m)
        if excess <= 0.0:
            return w
        if excess >= 20.0:
            return 1.0
        z = 0.05 * excess
        return w + (1.0 - w) * z * z * (3.0 - 2.0 * z)

    @jit
    def ramp(z, s):
        if z <= -s:
            return 0.0
        return z if z >= s else (z + s) ** 2 / (4.0 * s)

    @jit
    def surface(forced, rise, hot, cold):  # forced: the cube of a + b V
        square = rise * rise
        return (forced + (hot if rise > 0.0 else cold) * square / sqrt(square + 1.0)) ** (1.0 / 3.0)

    @jit
    def tangent(P, p):  # ln(P - p), straight above 0.9 P
        return log(P - p) if p <= 0.9 * P else log(0.1 * P) - (p - 0.9 * P) / (0.1 * P)

    @jit
    def stefan(K, T, p1, p2, P):
        if p1 <= 0.9 * P and p2 <= 0.9 * P:
            return K * P / (RW * T) * log1p((p1 - p2) / (P - p1))
        return K * P / (RW * T) * (tangent(P, p2) - tangent(P, p1))

    @jit
    def ackermann(x):
        return 1.0 if abs(x) < 1e-6 else 0.5 * x / tanh(0.5 * x)

    @jit
    def corner(z):
        return 0.0 if z <= -0.05 else (z if z >= 0.05 else (z + 0.05) ** 2 / 0.2)

    @jit
    def gentle(ra):  # enclosures.tilted_nusselt at this tilt, value only
        x = min(ra, 1e12) * cos_tilt
        if x < 1000.0:
            return 1.0
        turbulent = corner((x / 5830.0) ** (1.0 / 3.0) - 1.0)
        return 1.0 + 1.44 * corner(1.0 - 1708.0 / x) * (1.0 - damping / x) + turbulent

    @jit
    def gap(T1, T2, p1, p2, L, angle, P):  # -> heat and mass transfer coefficients between two plates
        Tm = 0.5 * (T1 + T2)
        t = Tm - T0
        k = 0.02436 + 7.34e-5 * t
        v1 = T1 / (1.0 - 0.378 * min(max(p1 / P, -0.5), 0.95))
        v2 = T2 / (1.0 - 0.378 * min(max(p2 / P, -0.5), 0.95))
        if v1 > v2:
            mu = 1.7218e-5 + 4.72e-8 * t
            rho = P / (RD * Tm)
            ra = G * 2.0 * (v1 - v2) / (v1 + v2) * L**3 * rho * rho * CPA / (mu * k)
            nu = gentle(ra) if angle == tilt and tilt <= math.pi / 3.0 else enclosure(ra, angle)[0]
        else:
            nu = 1.0
        return nu * k / L, nu * 2.178e-5 * (Tm / T0) ** 1.81 * 101325.0 / (P * L)

    @jit
    def still(T1, T2, L, P):  # the same without circulation
        Tm = 0.5 * (T1 + T2)
        k = 0.02436 + 7.34e-5 * (Tm - T0)
        return k / L, 2.178e-5 * (Tm / T0) ** 1.81 * 101325.0 / (P * L)

    @jit
    def loading(A, T):
        q = 0.0
        for capacity, A_k, s, b in terms:
            q += capacity * 0.5 * (1.0 - tanh(0.5 * (A - A_k - b * (T - 298.15)) / s))
        return q

    @jit
    def held(w, T):  # the potential at which the loading is w, and sums of its slopes there
        w = min(max(w, 1e-12 * total), (1.0 - 1e-12) * total)
        goal = log(w / (total - w))
        low = 1e300
        high = -1e300
        for _, A_k, s, b in terms:
            alone = A_k + b * (T - 298.15) - s * goal
            low = min(low, alone)
            high = max(high, alone)
        A = 0.5 * (low + high)
        s0 = s1_ = s2 = 0.0
        for turn in range(200):
            full = empty = s0 = s1_ = s2 = 0.0
            for capacity, A_k, s, b in terms:
                u = (A - A_k - b * (T - 298.15)) / s
                e = exp(-abs(u))
                f = 1.0 / (1.0 + e)
                if u > 0.0:
                    full += capacity * e * f
                    empty += capacity * f
                else:
                    full += capacity * f
                    empty += capacity * e * f
                g = capacity * e * f * f / s
                s0 += g
                s1_ += g * b
                s2 += g * b * b
            if full <= 0.0 or empty <= 0.0:
                A = 0.5 * (low + high)
                continue
            miss = log(full / empty) - goal
            if miss > 0.0:
                low = A
            else:
                high = A
            step = miss * full * empty / (s0 * total)
            if abs(step) < 1e-12 * (abs(A) + 1000.0):
                break
            A += step
            if not low <= A <= high or turn % 8 == 7:
                A = 0.5 * (low + high)
        return A, s0, s1_, s2

    @jit
    def bed_heat(w, T):  # -> de/dw at constant T, de/dT at constant w
        if count == 1:
            w = min(max(w, 1e-12 * total), (1.0 - 1e-12) * total)
            goal = log(w / (total - w))
            return -(A1 + b1 * (T - 298.15) - s1 * goal - T * b1) / MW, 0.0
        A, s0, s1_, s2 = held(w, T)
        mean = s1_ / s0
        return -(A - T * mean) / MW, T * (s2 - s1_ * mean) / MW

    @jit
    def bend(z):  # ln(1 + exp(z))
        return max(z, 0.0) + log1p(exp(-abs(z)))

    @jit
    def uptake(As, T, w):  # of a kg of dry sorbent
        k = k0 * exp(-Ea / T)
        if band == 0.0 and not darken and c_wet == 0.0 and swells == 0.0:
            return k * (loading(As, T) - w)
        wet = max(w, 0.0)
        k = k * exp(c_wet * wet / (1.0 + wet)) / (1.0 + swells * wet) ** 2
        if band == 0.0 and not darken:
            return k * (loading(As, T) - w)
        rest = held(w, T)[0]
        lag = As - rest
        if band > 0.0:
            s = 0.01 * band
            lag = s * (bend((lag - band) / s - 3.0) - bend(-lag / s - 3.0))
        q = loading(rest + lag, T)
        return k * 0.5 * (wet + q) * -lag / (R * T) if darken else k * (q - w)

    @jit
    def core(closed, Tg, Tb, Tc, w, ml, mg, mc, ps, pv, Ta, pa, P, V, Lsky, Sa, Sg, Gp, rain, record):
        rho = P / (RD * Ta)
        wind = wa + wb * V
        forced = wind**3
        lewis = rho * CPA * LEWIS
        bodies = (Tb * Tb, Tg * Tg, Tc * Tc, Ta * Ta)
        b4 = bodies[0] * bodies[0]
        g4 = bodies[1] * bodies[1]
        c4 = bodies[2] * bodies[2]
        a4 = bodies[3] * bodies[3]
        hg_t = tanh((Tg - T0 + 0.25) / 0.25)
        hc_t = tanh((Tc - T0 + 0.25) / 0.25)
        xg = 0.5 * (1.0 - hg_t)
        xc = 0.5 * (1.0 - hc_t)
        sat_b = liquid(Tb)

        # Sorption and liquid on the bed
        As = R * Tb * log(sat_b / (0.5 * (ps + sqrt(ps * ps + 1.0))))
        j0 = M * uptake(As, Tb, w)
        j1 = gl * (ps - sat_b) * share(ps - sat_b, ml)
        j2 = j3 = j4 = j5 = j7 = j11 = j12 = j13 = 0.0
        h18 = h20 = h26 = h27 = h28 = h29 = 0.0
        h17 = pair * (b4 - g4)
        h23 = surface(forced, Tc - Ta, hot_c, cold_c) * outer * (Tc - Ta)

        if closed:
            Tmr = 0.5 * (Tb + Tc)
            Tmf = 0.5 * (Tb + Tg)
            beyond = 2.0 * pv - ps
            if stratified:
                hr, kmr = still(Tb, Tc, Lr_gap, P)
            else:
                hr, kmr = gap(Tb, Tc, ps, beyond, Lr_gap, rear_angle, P)
            if exposed:
                hf, kmf = gap(Tb, Tg, ps, beyond, Lf_gap, tilt, P)
            else:
                hf, kmf = gap(Tb, Tg, 0.0, 0.0, Lf_gap, tilt, P)
                hf *= left
            out = (2.0 * kmr if rear else 0.0) + (2.0 * kmf if front else 0.0)
            j2 = stefan(1.0 / (1.0 / out + Rl / face), Tmr if rear else Tmf, pv, ps, P)
            sat_c = at_film(Tc, xc)
            j4 = stefan(2.0 * kmr * ac, Tmr, pv, sat_c, P) * share(pv - sat_c, mc)
            if exposed:
                sat_g = at_film(Tg, xg)
                j5 = stefan(2.0 * kmf, Tmf, pv, sat_g, P) * share(pv - sat_g, mg)
                h18 = hf * ackermann(j5 * CV / hf) * (Tb - Tg) + j5 * CV * (Tmf - TR)
            else:
                h18 = hf * (Tb - Tg)
            h20 = hr * ackermann(j4 * CV / hr) * (Tb - Tc) + j4 * CV * (Tmr - TR)
            z = (Tb - T_vent) / 5.0
            valve = 0.0 if z <= 0.0 else (1.0 if z >= 1.0 else z * z * (3.0 - 2.0 * z))
            j6 = n_leak * kv * (pv - pa)
            j7 = n_vent * valve * kv * (pv - pa)
            air = 0.5 * (n_leak + n_vent * valve) * Vgap * rho * CPA
            h28 = air * (Tb - Ta)
            h29 = air * (Tc - Ta)
        else:
            hb = surface(forced, Tb - Ta, loose, loose)
            Ko = ab / (lewis / hb + Rl)
            j3 = stefan(Ko, 0.5 * (Ta + Tb), pa, ps, P)
            j6 = n_open * kv * (pv - pa)
            j11 = catch * rain
            sat_c = at_film(Tc, xc)
            j12 = stefan(wind / lewis * ac, 0.5 * (Ta + Tc), pa, sat_c, P) * share(pa - sat_c, mc)
            if exposed:
                sat_g = at_film(Tg, xg)
                j13 = stefan(wind / lewis, 0.5 * (Ta + Tg), pa, sat_g, P) * share(pa - sat_g, mg)
            if lifts:
                h17 = 0.0
            elif not exposed:
                hf, kmf = gap(Tb, Tg, 0.0, 0.0, Lf_gap, tilt, P)
                hf *= left
                h18 = hf * (Tb - Tg)
            h23 += wind * ac * (Tc - Ta)
            h26 = hb * ab * (Tb - Ta)
            h27 = eo * (SIGMA * b4 - Fo * Lsky - (1.0 - Fo) * SIGMA * a4)

        j8 = (1.0 - xc) * ramp(mc - Hc, 0.1 * Hc) / 120.0
        j9 = (1.0 - xg) * ramp(mg - Hg, 0.1 * Hg) / 120.0
        j10 = ramp(ml - Hb, 0.1 * Hb) / 120.0
        h14 = Sa * (1.0 - wet_loss * wet(mg)) if exposed else Sa
        h16 = stray * Gp
        h19 = ebc * (b4 - c4)
        h21 = eg * (SIGMA * g4 - Fg * Lsky - (1.0 - Fg) * SIGMA * a4)
        h22 = surface(forced, Tg - Ta, loose, tight) * (Tg - Ta)
        h24 = ec * (SIGMA * c4 - Fc * Lsky - (1.0 - Fc) * SIGMA * a4)
        h25 = Ue * (Tb - Ta)
        h30 = j8 * CL * (Tc - T0)
        h31 = j9 * CL * (Tg - T0)
        h32 = j10 * CL * (Tb - T0)
        h33 = j11 * CL * (Ta - T0)
        h34 = j3 * CV * (0.5 * (Ta + Tb) - TR)
        h35 = j12 * (L0 + CV * (0.5 * (Ta + Tc) - T0))
        h36 = j13 * (L0 + CV * (0.5 * (Ta + Tg) - T0))

        # Stocks' rates
        eg_rate = Sg + h17 + h18 + HR * j5 - h21 - h22 - h31 + h36
        eb_rate = h14 - h17 - h18 - h19 - h20 - h25 - h26 - h27 - h28 - h32 + h33 + h34 + HR * (j0 + j1)
        ec_rate = h16 + h19 + h20 + HR * j4 - h23 - h24 - h29 - h30 + h35
        dw = j0 / M
        dml = j1 + j11 - j10
        dmg = j5 + j13 - j9
        dmc = j4 + j12 - j8

        # Product rule: what is left for dT
        e_w, e_T = bed_heat(w, Tb)
        dTb = (eb_rate - M * (CL * (Tb - T0) + e_w) * dw - CL * (Tb - T0) * dml) / (
            bed_dry + M * (w * CL + e_T) + ml * CL
        )
        film = CL + LF * 2.0 * (1.0 - hg_t * hg_t)
        dTg = (eg_rate - (CL * (Tg - T0) - xg * LF) * dmg) / (Cg + mg * film)
        film = CL + LF * 2.0 * (1.0 - hc_t * hc_t)
        dTc = (ec_rate - (CL * (Tc - T0) - xc * LF) * dmc) / (Cc + mc * film)
        if record is not None:
            record[0], record[1], record[2], record[3], record[4], record[5] = j0, j1, j2, j3, j4, j5
            record[6], record[7], record[8], record[9], record[10], record[11] = j6, j7, j8, j9, j10, j11
            record[12], record[13], record[14], record[15], record[16] = j12, j13, h14, Sg, h16
            record[17], record[18], record[19], record[20], record[21] = h17, h18, h19, h20, h21
            record[22], record[23], record[24], record[25], record[26] = h22, h23, h24, h25, h26
            record[27], record[28], record[29], record[30], record[31] = h27, h28, h29, h30, h31
            record[32], record[33], record[34], record[35], record[36] = h32, h33, h34, h35, h36
        return (
            dTg,
            dTb,
            dTc,
            dw,
            dml,
            dmg,
            dmc,
            (j2 + j3 - j0 - j1) / ks,
            -(j2 + j4 + j5 + j6 + j7) / kv,
            j8 + gutter * j9,
            j8,
            j3,
            j6,
            j7,
            h14,
            j11 + j12 + j13 - j9 - j10,
        )

    return core


def weather(air):
    """Return nodes and slopes of the air as lists of tuples of plain floats, with their spacing [s]."""
    nodes = np.asarray(air.nodes, dtype=np.float64)
    slopes = np.diff(nodes, axis=0) / air.spacing
    return [tuple(x) for x in nodes.tolist()], [tuple(x) for x in slopes.tolist()], float(air.spacing)


def air_at(air, t):
    """Return the nine of the air at a time [s] after the record's start."""
    nodes = np.asarray(air.nodes)
    i = min(int(t / air.spacing), len(nodes) - 2)
    return nodes[i] + (nodes[i + 1] - nodes[i]) * (t / air.spacing - i)


def equilibrium_start(design, sorbent, air, t):
    """Return the unknowns of a bed at rest with the air, its relative humidity held below 0.6."""
    Ta, pa = air_at(air, t)[:2]
    humidity = min(pa / plain(saturation.saturation_pressure)(Ta), 0.6)
    row = sorbent.row
    A = -R * Ta * math.log(humidity)
    w = 0.0
    for k in range(int(row[slots.SLOT_COUNT])):
        q_k, A_k, s_k, b_k = row[slots.SLOT_PARAMETERS + 4 * k : slots.SLOT_PARAMETERS + 4 * k + 4]
        w += q_k / (1.0 + math.exp((A - A_k - b_k * (Ta - 298.15)) / s_k))
    return [Ta, Ta, Ta, w, 0.0, 0.0, 0.0, pa, pa]


def stretches(schedule, begin, end):
    """Return (begin, end, mode) between switches, within a span [s]."""
    times = [float(t) for t in schedule.switch_times]
    modes = [int(m) for m in schedule.switch_modes]
    edges = [*times[1:], math.inf]
    return [
        (max(a, begin), min(b, end), mode)
        for a, b, mode in zip(times, edges, modes, strict=True)
        if min(b, end) > max(a, begin)
    ]


class Marcher:
    """The balances of one case as f(t, y) for library integrators, in each mode."""

    def __init__(self, design, sorbent, air, site_pressure=None, compiled=False, ledgers=ALL_LEDGERS):
        pressure = air.pressure if site_pressure is None else site_pressure
        self.core = right_hand_side(design, sorbent, pressure, compiled)
        self.size = 9 + ledgers
        self.air = air
        self.calls = 0
        make = self._compiled if compiled else self._floats
        self.slope = {0: make(True), 1: make(False)}

    def _floats(self, closed):
        core, size = self.core, self.size
        nodes, slopes, spacing = weather(self.air)
        last = len(slopes) - 1

        def slope(t, y):
            i = int(t / spacing)
            i = i if i <= last else last
            s = t - i * spacing
            T, p, P, V, L, Sa, Sg, Gp, r = nodes[i]
            dT, dp, dP, dV, dL, dSa, dSg, dGp, dr = slopes[i]
            Tg, Tb, Tc, w, ml, mg, mc, ps, pv = y.tolist()[:9]
            return core(
                closed,
                Tg,
                Tb,
                Tc,
                w,
                ml,
                mg,
                mc,
                ps,
                pv,
                T + s * dT,
                p + s * dp,
                P + s * dP,
                V + s * dV,
                L + s * dL,
                Sa + s * dSa,
                Sg + s * dSg,
                Gp + s * dGp,
                r + s * dr,
                None,
            )[:size]

        return slope

    def _compiled(self, closed):
        core, size = self.core, self.size
        nodes = np.ascontiguousarray(self.air.nodes, dtype=np.float64)
        spacing = float(self.air.spacing)
        last = len(nodes) - 2

        @njit
        def fill(t, y, out, n):
            i = min(int(t / spacing), last)
            s = (t - i * spacing) / spacing
            a = n[i]
            b = n[i + 1]
            slopes = core(
                closed,
                y[0],
                y[1],
                y[2],
                y[3],
                y[4],
                y[5],
                y[6],
                y[7],
                y[8],
                a[0] + s * (b[0] - a[0]),
                a[1] + s * (b[1] - a[1]),
                a[2] + s * (b[2] - a[2]),
                a[3] + s * (b[3] - a[3]),
                a[4] + s * (b[4] - a[4]),
                a[5] + s * (b[5] - a[5]),
                a[6] + s * (b[6] - a[6]),
                a[7] + s * (b[7] - a[7]),
                a[8] + s * (b[8] - a[8]),
                None,
            )
            for k in range(size):
                out[k] = slopes[k]

        @njit
        def value(t, y, n):
            out = np.empty(size)
            fill(t, y, out, n)
            return out

        def slope(t, y):
            return value(t, y, nodes)

        slope.fill = lambda t, y, out: fill(t, y, out, nodes)
        return slope


def _by_class(method):
    """March a stretch with one of SciPy's integrator classes, step by step."""
    from scipy.integrate import BDF, LSODA, Radau

    kind = {"BDF": BDF, "LSODA": LSODA, "Radau": Radau}[method]

    def advance(f, t0, t1, y, rtol, atol, at):
        solver = kind(f, t0, y, t1, rtol=rtol, atol=atol)
        found, steps, k = [], 0, 0
        while solver.status == "running":
            message = solver.step()
            if solver.status == "failed":
                raise RuntimeError(f"{method} failed at t = {solver.t:.6g} s: {message}")
            steps += 1
            if k < len(at) and at[k] <= solver.t:
                curve = solver.dense_output()
                while k < len(at) and at[k] <= solver.t:
                    found.append(curve(at[k]))
                    k += 1
        return solver.y, found, steps, solver.nfev

    return advance


def _odeint(f, t0, t1, y, rtol, atol, at):
    """March a stretch with LSODA in one call, so that its loop runs compiled."""
    from scipy.integrate import odeint

    times = np.array([t0, *at, t1]) if not at or at[-1] < t1 else np.array([t0, *at])
    path, said = odeint(
        f, y, times, tfirst=True, rtol=rtol, atol=atol, tcrit=[t1], mxstep=1000000, full_output=True
    )
    if said["message"] != "Integration successful.":
        raise RuntimeError(f"LSODA failed after t = {t0:.6g} s: {said['message']}")
    return path[-1], list(path[1 : 1 + len(at)]), int(said["nst"][-1]), int(said["nfe"][-1])


def _cvode(f, t0, t1, y, rtol, atol, at, depth=0):
    """March a stretch with CVODE (BDF, dense); where it gives up, restart in the middle."""
    from sksundae.cvode import CVODE

    fill = getattr(f, "fill", None)
    if fill is None:

        def fill(t, y, out):
            out[:] = f(t, y)

    solver = CVODE(fill, method="BDF", rtol=rtol, atol=atol, max_num_steps=1000000)
    times = np.array([t0, *at, t1]) if not at or at[-1] < t1 else np.array([t0, *at])
    times = times if len(times) > 2 else np.array([t0, 0.5 * (t0 + t1), t1])
    said = solver.solve(times, np.array(y))
    if said.success:
        return said.y[-1], list(said.y[1 : 1 + len(at)]), 0, int(said.nfev)
    if depth > 12:
        raise RuntimeError(f"CVODE failed after t = {t0:.6g} s: {said.message}")
    middle = 0.5 * (t0 + t1)
    early, late = [t for t in at if t <= middle], [t for t in at if t > middle]
    y, found, _, calls = _cvode(f, t0, middle, y, rtol, atol, early, depth + 1)
    y, more, _, again = _cvode(f, middle, t1, y, rtol, atol, late, depth + 1)
    return y, found + more, 0, int(said.nfev) + calls + again


def advance_with(method):
    """Return the function that marches one stretch: "BDF", "Radau", "LSODA", "odeint" or "CVODE"."""
    return {"odeint": _odeint, "CVODE": _cvode}.get(method) or _by_class(method)


def simulate_reference(
    design,
    sorbent,
    air,
    schedule,
    rtol=1e-6,
    atol=None,
    method="LSODA",
    start=None,
    hours=None,
    *,
    site_pressure=None,
    compiled=False,
    ledgers=ALL_LEDGERS,
    outputs=(),
    marcher=None,
    restart=0.0,
):
    """March the record, or its first `hours` (or from hour, to hour), with a library integrator.

    atol: absolute tolerances are atol times SCALE; None takes rtol. start: nine unknowns; None runs the last
    five days first. outputs: times [s] at which the unknowns are kept. ledgers: how many of LEDGERS are
    integrated. Seconds are those of the processor. restart: also restart at multiples of this [s]; 0 at
    changes of mode only (the faster choice).
    """
    marcher = marcher or Marcher(design, sorbent, air, site_pressure, compiled, ledgers)
    size, year = marcher.size, (len(air.nodes) - 1) * air.spacing
    begin, end = (0.0, year) if hours is None else tuple(3600.0 * h for h in np.broadcast_to(hours, 2))
    if hours is not None and np.ndim(hours) == 0:
        begin = 0.0
    advance = advance_with("odeint" if method == "LSODA" else method)
    tolerances = (rtol if atol is None else atol) * SCALE[:size]
    midnights = np.arange(math.ceil(begin / DAY) + 1, math.floor(end / DAY) + 1) * DAY
    wanted = np.unique(np.concatenate([np.asarray(outputs, dtype=float), midnights]))

    def run(y, a, b, at):
        total, count = np.zeros(size - 9), np.zeros(2, dtype=int)
        kept, books = [], []
        for t0, t1, mode in stretches(schedule, a, b):
            cuts = [t0, t1]
            if restart > 0.0:
                inner = np.arange(math.floor(t0 / restart) + 1, math.ceil(t1 / restart)) * restart
                cuts = [t0, *inner.tolist(), t1]
            for c0, c1 in pairwise(cuts):
                here = [t for t in at if c0 < t <= c1]
                y0 = np.concatenate([y, np.zeros(size - 9)])
                last, found, steps, calls = advance(marcher.slope[mode], c0, c1, y0, rtol, tolerances, here)
                kept += [x[:9] for x in found]
                books += [total + x[9:] for x in found]
                y, total = last[:9], total + last[9:]
                count += (steps, calls)
        return y, total, np.array(kept), np.array(books), count

    clock = time.process_time()
    if start is None:
        early = year - SPIN_UP_DAYS * DAY
        start = run(np.array(equilibrium_start(design, sorbent, air, early)), early, year, [])[0]
    spun = time.process_time()
    y, total, kept, books, count = run(np.asarray(start, dtype=float), begin, end, wanted.tolist())
    done = time.process_time()
    at_midnight = books[np.isin(wanted, midnights), 0] if len(books) else np.zeros(0)
    return {
        **dict(zip(LEDGERS, total.tolist(), strict=False)),
        "daily_litres": np.diff(at_midnight, prepend=0.0),
        "start": np.asarray(start, dtype=float),
        "end": y,
        "states": kept[np.isin(wanted, outputs)] if len(outputs) else np.zeros((0, 9)),
        "steps": int(count[0]),
        "calls": int(count[1]),
        "seconds": done - spun,
        "seconds_spin_up": spun - clock,
    }


def flows_of(design, sorbent, site_pressure, states, air, mode):
    """Return the 37 flows (37, n) of this text at n states (9, n), airs (9, n) and modes (n,)."""
    core = right_hand_side(design, sorbent, site_pressure)
    out = np.zeros((len(FLOWS), len(mode)))
    for k, (state, outside, m) in enumerate(zip(states.T.tolist(), air.T.tolist(), mode, strict=True)):
        record = [0.0] * len(FLOWS)
        core(m == 0, *state, *outside, record)
        out[:, k] = record
    return out


def ordinary_design(rng):
    """Draw a box that somebody might build."""

    def between(low, high):
        return float(rng.uniform(low, high))

    release = str(rng.choice(["rear", "rear", "rear", "front", "both"]))
    return PassiveBox(
        tilt=between(0.1, 0.8),
        front_gap=between(0.02, 0.08),
        front_gap_sealed=release == "rear" and bool(rng.random() < 0.8),
        absorber_emissivity=between(0.05, 0.95),
        bed_metal=between(1.0, 6.0),
        sorbent_mass=between(2.0, 10.0),
        layer_thickness=between(0.001, 0.005),
        bed_area=between(2.0, 6.0),
        bed_effectiveness=between(0.3, 1.0),
        open_faces=int(rng.integers(1, 3)),
        release_face=release,
        cover_opens=bool(rng.random() < 0.3),
        bed_open_emissivity=between(0.0, 0.9),
        bed_sky_view=between(0.0, 0.8),
        rear_gap=between(0.02, 0.1),
        condenser_position=str(rng.choice(["below", "below", "above", "beside"])),
        gap_circulation=str(rng.choice(["stratified", "inclined"])),
        gap_air_volume=between(0.03, 0.2),
        bed_condenser_emissivity=between(0.1, 0.9),
        edge_loss=between(0.3, 2.0),
        condenser_mass=between(2.0, 10.0),
        condenser_inner_area=between(0.7, 2.0),
        condenser_outer_area=between(1.0, 6.0),
        condenser_stray_sun=between(0.0, 0.1),
        condenser_holdup=between(0.03, 0.15),
        leak=between(0.0, 2.0) / 3600.0,
        shelter=between(0.2, 1.0),
        operation=str(rng.choice(["sun", "sun", "clock"])),
        close_above=between(10.0, 150.0),
    )


def period(air, first_hour, last_hour):
    """Cut an air record to some of its hours; its first hour must begin a day of the record."""
    per_hour = round(3600.0 / air.spacing)
    rainy = None if air.rainy is None else air.rainy[first_hour:last_hour]
    return replace(air, nodes=air.nodes[first_hour * per_hour : last_hour * per_hour + 1], rainy=rainy)
