"""Work out the numbers of the brine and salt sheets: solution terms, phases, and what they miss.

    python -m benchmarks.brine_sheets           prints what the sheets hold
    python -m benchmarks.brine_sheets --write   writes the isotherms of the sheets and their computed points

Solution: Sips terms by least squares on the water activity of the brine, from just below its crystallisation
line to relative humidity 0.96, 0 to 90 C, with four times the weight at 25 C, where the osmotic tables are.
Phases: each solid is as stable as the solution on its solubility line,
    g_h = q_h A + g_s + sum_k q_k s_k ln(1 + exp(-(A - A_k) / s_k)),   A on the line,
a quadratic of the temperature; the driest hydrate against the anhydrous salt as the sheet says. The curvature
that all phases with water share is the one that gives brine of working strength its specific heat.
"""

from __future__ import annotations

import argparse
import math
import re
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from welkinwell.constants import GAS_CONSTANT as R
from welkinwell.constants import WATER_MOLAR_MASS as M
from welkinwell.moist_air.liquid_water import liquid_specific_heat
from welkinwell.moist_air.saturation import latent_heat, saturation_pressure
from welkinwell.sorbents import brine
from welkinwell.sorbents.deliquescence import saturated_humidity
from welkinwell.sorbents.hydrate import fill_row, sorbed_state
from welkinwell.sorbents.potential import potential_at_loading
from welkinwell.sorbents.row import empty_row
from welkinwell.sorbents.salt_in_host import GEL_HOST_TERMS
from welkinwell.sorbents.sorbent import sorbent

LIBRARY = Path(__file__).parents[1] / "src/welkinwell/library/sorbents"
CELSIUS = (0, 10, 20, 25, 30, 40, 50, 60, 75, 90)
ROOM = 298.15
TRACE = (0.01, 2000.0, 4000.0, 0.0)
STARTS = {
    "lithium_chloride": [
        (0.76, 9900.0, 1100.0, 12.0),
        (53.0, 0.0, 66.0, 0.2),
        (6.7, 0.0, 780.0, 2.6),
        (1.7, 3700.0, 1600.0, -3.2),
        (15.2, 0.0, 221.0, 1.3),
    ],
    "calcium_chloride": [
        (0.75, 10000.0, 2400.0, -10.0),
        (6.6, 0.0, 300.0, 1.5),
        (4.0, 0.0, 1240.0, 1.4),
        (0.27, 3760.0, 618.0, -10.0),
        (22.0, 0.0, 85.0, 0.35),
    ],
}
TOP, FLOOR = 0.96, 0.05


def states(salt, reach=0.9, floor=FLOOR, temperatures=CELSIUS):
    """Computed states of the solution: A, T, water per salt, its slope in ln a_w."""
    rows = []
    for t in temperatures:
        T = 273.15 + t
        first = max(reach * brine.crystallisation_humidity(salt, T), floor)
        for rh in (*np.linspace(first, 0.9, 30), *np.linspace(0.92, TOP, 4)):
            r, more = (brine.water_per_salt(salt, rh * f, T) for f in (1.0, 1.001))
            rows.append((-R * T * math.log(rh), T, r, math.log(more / r) / math.log(1.001)))
    return np.array(rows).T


def terms_sum(terms, A, T):
    """Loading of Sips terms."""
    terms = np.asarray(terms)
    return sum(c / (1.0 + np.exp((A - a - b * (T - ROOM)) / s)) for c, a, s, b in terms)


def potential_sum(terms, A, T):
    """Potential of Sips terms."""
    return sum(c * s * math.log1p(math.exp(-(A - a - b * (T - ROOM)) / s)) for c, a, s, b in terms)


def fit_solution(salt, reach=0.9, floor=FLOOR):
    """Fit the terms; residuals between the error of the loading and that of the activity."""
    A, T, q, slope = states(salt, reach, floor)
    weight = np.where(T == ROOM, 4.0, 1.0) / np.sqrt(slope)

    def terms_of(x):
        x = x.reshape(-1, 4)
        return np.c_[np.exp(x[:, 0]), 1e3 * x[:, 1], np.exp(x[:, 2]), x[:, 3]]

    def residual(x):
        return (np.log(terms_sum(terms_of(x), A, T)) - np.log(q)) * weight

    s = np.array(STARTS[salt])
    start = np.c_[np.log(s[:, 0]), s[:, 1] / 1e3, np.log(s[:, 2]), s[:, 3]].ravel()
    low = np.tile([-4.0, 0.0, math.log(40.0), -30.0], len(s))
    high = np.tile([5.0, 12.0, math.log(6000.0), 30.0], len(s))
    found = least_squares(
        residual, np.clip(start, low + 1e-6, high - 1e-6), bounds=(low, high), x_scale="jac", max_nfev=3000
    )
    terms = terms_of(found.x)
    terms = [(float(f"{c:.5g}"), round(a, 1), float(f"{w:.5g}"), round(b, 3)) for c, a, w, b in terms]
    error = np.log(terms_sum(terms, A, T) / q)
    print(
        f"{salt}: loading {100 * np.sqrt(np.mean(error**2)):.2f} % rms, {100 * np.abs(error).max():.2f} % "
        f"largest; activity {100 * np.abs(error / slope).max():.2f} % largest, "
        f"{100 * np.abs(error / slope)[T == ROOM].max():.2f} % at 25 C"
    )
    misfit = terms_sum(terms, A, T) - q
    return terms, (float(np.sqrt(np.mean(misfit**2))), float(np.abs(misfit).max())), (A, T, q)


def line_offset(terms, water, line, celsius, degree=2):
    """g of a solid less that of the solution, on its line of humidities; a polynomial of T - 298.15 K."""
    t = np.asarray(celsius, dtype=float) - 25.0
    A = [-R * (ROOM + x) * math.log(line(ROOM + x)) for x in t]
    values = [water * a + potential_sum(terms, a, ROOM + x) for a, x in zip(A, t, strict=True)]
    return np.polynomial.polynomial.polyfit(t, values, degree)


def three(polynomial):
    """Pad to three coefficients."""
    return tuple(float(x) for x in (*polynomial, 0.0, 0.0, 0.0)[:3])


def minus(a, b):
    """Difference of two polynomials."""
    return tuple(x - y for x, y in zip(three(a), three(b), strict=True))


def plus(a, b):
    """Sum of two polynomials."""
    return tuple(x + y for x, y in zip(three(a), three(b), strict=True))


def pair(water, A, heat):
    """g of a hydrate against anhydrous salt from the potential at 25 C and the heat of the pair [J/mol]."""
    return (water * A, water * (latent_heat(ROOM) * M + A - heat) / ROOM, 0.0)


def phases_of_lithium_chloride(terms):
    """Monohydrate: deliquescence of the humidity standard; against anhydrous salt as before (94 C)."""
    water = brine.hydrate_water("lithium_chloride", 1)
    mono = (4256.038, -16.02967, 0.0)
    line = line_offset(terms, water, lambda T: saturated_humidity("lithium_chloride", T), range(0, 81, 5))
    return minus(mono, line), [(water, *mono)]


def phases_of_calcium_chloride(terms):
    """Di-, tetra- and hexahydrate by their solubility lines; dihydrate against anhydrous salt as before."""
    rows = brine.SALTS["calcium_chloride"].solubility

    def line(row):
        return lambda T: brine.water_activity("calcium_chloride", brine.branch_solubility(row, T), T)

    waters = [brine.hydrate_water("calcium_chloride", n) for n in (2, 4, 6)]
    di = (3926.839, -6.170898, 0.0)
    ranges = (range(35, 96, 5), range(20, 51, 5), range(0, 29, 4))
    lines = [
        three(line_offset(terms, water, line(row), celsius))
        for water, row, celsius in zip(waters, (rows[2], rows[1], rows[0]), ranges, strict=True)
    ]
    solution = minus(di, lines[0])
    return solution, [(w, *plus(solution, each)) for w, each in zip(waters, lines, strict=True)]


def phases_of_lithium_bromide(terms):
    """Deliquescence of the humidity standard, dihydrate below 34.6 C; monohydrate by Wagman1982, recalled."""
    one, two = (brine.hydrate_water("lithium_bromide", n) for n in (1, 2))

    def line(T):
        return saturated_humidity("lithium_bromide", T)

    mono_line = line_offset(terms, one, line, range(35, 81, 5), 1)
    di_line = line_offset(terms, two, line, range(0, 35, 5), 1)
    gas = 8.314e-3 * ROOM
    bar = math.exp((-594.3 + 342.00 + 228.572) / gas) * 1e5
    mono = pair(one, -R * ROOM * math.log(bar / saturation_pressure(ROOM)), 69.55e3)
    solution = minus(mono, mono_line)
    return solution, [(one, *mono), (two, *plus(solution, di_line))]


def phases_of_potassium_formate(terms):
    """Anhydrous crystals only, at the recalled humidity over saturated brine, 0.225 at any temperature."""
    line = line_offset(terms, 0.0, lambda T: 0.225, range(0, 91, 10), 1)
    return minus((), line), []


def with_specific_heat(terms, phases, smoothing, fraction, brine_heat, dry_heat):
    """Give all phases with water the curvature that makes brine of working strength as warm as it is."""
    solution, hydrates = phases
    found = bed_heat(terms, phases, smoothing, fraction, dry_heat)
    curve = (brine_heat / fraction - found) * M / (2.0 * ROOM)
    print(
        f"  specific heat of brine at {fraction:g}: {fraction * found:.0f} without, {brine_heat:.0f} with "
        f"a curvature of {curve:.4f} J/(mol K2)"
    )
    return plus(solution, (0.0, 0.0, curve)), [(w, *plus(g, (0.0, 0.0, curve))) for w, *g in hydrates]


def bed_heat(terms, phases, smoothing, fraction, dry_heat):
    """Heat capacity of a kg of salt and its water at constant loading."""
    row = empty_row()
    fill_row(row, terms, phases[0], phases[1], smoothing, [TRACE])
    q = (1.0 - fraction) / fraction
    A = potential_at_loading(row, q, ROOM, 3000.0)
    _, q_A, q_T, _, E_T = sorbed_state(row, A, ROOM)
    return dry_heat + q * liquid_specific_heat(ROOM) + E_T + (A * q_A + ROOM * q_T) / M * q_T / q_A


def scaled(terms, share):
    """Terms, or hydrates, of a share of salt: water and potentials times the share."""
    return [(float(f"{c * share:.5g}"), *rest) for c, *rest in terms]


def composite(terms, phases, share=1.0):
    """Solution and phases of a share of salt in a kg of dry composite."""
    solution, hydrates = phases
    return (
        scaled(terms, share),
        tuple(share * g for g in solution),
        [tuple(share * x for x in each) for each in hydrates],
    )


FITTED = {
    "lithium_chloride": ("Patil1990", "least squares on points/licl_brine_computed.csv"),
    "calcium_chloride": ("Moller1988", "least squares on points/cacl2_brine_computed.csv"),
    "calcium_chloride_in_pores": (
        "Moller1988",
        "least squares on brine down to the dihydrate (relative humidity 0.12)",
    ),
    "lithium_bromide": ("Patek2006", "least squares of relative error on points/libr_brine_computed.csv"),
    "potassium_formate": (
        "Melinder2010",
        "least squares of relative error on points/potassium_formate_brine_computed.csv",
    ),
}
PHASES = {
    "lithium_chloride": (
        "Greenspan1977",
        "deliquescence of Greenspan1977 from 0 to 80 degC on the brine of the terms; anhydrous "
        "salt at its transition at 94 degC with a heat of 62.2 kJ/mol (Wagman1982, recalled); "
        "curvature by the specific heat of the brine (Conde2004)",
    ),
    "calcium_chloride": (
        "Conde2004",
        "solubility lines of three hydrates on the brine of the terms; dihydrate against "
        "anhydrous salt from the mean of llnl.dat and heats of Wagman1982 (recalled); "
        "curvature by the specific heat of the brine (Conde2004)",
    ),
    "calcium_chloride_in_pores": (
        "Conde2004",
        "brine and dihydrate line of Conde2004 scaled by the share of salt; heat of the "
        "dihydrate 66 to 72 kJ/mol (Pankratev2001); curvature by the specific heat of the "
        "brine (Conde2004)",
    ),
    "lithium_bromide": (
        "Greenspan1977",
        "deliquescence of Greenspan1977 (recalled) on the brine of the terms, of the dihydrate "
        "to 34.6 degC, then of the monohydrate; monohydrate against anhydrous salt by "
        "enthalpies and free energies of formation (Wagman1982, recalled); curvature by the "
        "specific heat of the brine",
    ),
    "potassium_formate": (
        "Melinder2010",
        "crystals at the recalled humidity over saturated brine, 0.225 at any temperature",
    ),
}
ROUND = "steps smoothed over 0.5 to 1 % of relative humidity"
TRACE_WORDS = "a trace of water on crystal faces and pores, so that a bed between two steps has one humidity"
POLYMER = "polyacrylate of Sultan2015 times its share"


def number(value, unit, spread, source, where, how, seen):
    """One number of a sheet as TOML."""
    return (
        f'{{ value = {value:.7g}, unit = "{unit}", spread = {spread}, source = "{source}", '
        f'where = "{where}", how = "{how}", seen = "{seen}" }}'
    )


def block(salt, terms, phases, smoothing, host, share, misfit, head):
    """The [isotherm] part of a sheet."""
    fitted, phase = FITTED[salt], PHASES[salt]
    scale = "" if share == 1.0 else f", times {share:g}"
    where = (fitted[0], fitted[1] + scale, "fitted", "second-hand")
    lines = (phase[0], phase[1] + scale if "share" not in phase[1] else phase[1], "computed", "memory")
    out = [head]
    out.append(
        "smoothing = "
        + number(smoothing, "J/mol", [smoothing / 2, smoothing * 2], "none", ROUND, "assumed", "memory")
    )
    solution, hydrates = phases
    for name, value, unit, spread in zip(
        ("", "_slope", "_curve"),
        solution,
        ("J/mol", "J/(mol K)", "J/(mol K**2)"),
        (100.0, 2.0, 0.05),
        strict=True,
    ):
        out.append(f"solution_offset{name} = " + number(value, unit, spread, *lines))
    for name, value in zip(("fit_rmse", "fit_largest_error"), misfit, strict=True):
        out.append(
            f"{name} = "
            + number(
                float(f"{share * value:.3g}"),
                "kg/kg",
                0.01,
                fitted[0],
                "solution terms, " + fitted[1] + scale,
                "computed",
                "second-hand",
            )
        )

    def table(name, keys, rows, units, spreads, by):
        for row in rows:
            out.append(f"\n[[isotherm.{name}]]")
            for key, value, unit, spread in zip(keys, row, units, spreads, strict=True):
                wide = float(f"{abs(value) * spread[1]:.2g}") if spread[0] == "share" else spread[1]
                out.append(f"{key} = " + number(value, unit, wide, *by))

    term = ("capacity", "potential", "width", "slope")
    units = ("kg/kg", "J/mol", "J/mol", "J/(mol K)")
    table("terms", term, terms, units, (("share", 0.05), ("is", 100.0), ("share", 0.03), ("is", 3.0)), where)
    table(
        "hydrates",
        ("water", "offset", "offset_slope", "offset_curve"),
        hydrates,
        ("kg/kg", "J/mol", "J/(mol K)", "J/(mol K**2)"),
        (("is", 0.0), ("is", 100.0), ("is", 2.0), ("is", 0.05)),
        (lines[0], lines[1], "computed", "memory"),
    )
    trace = host == [TRACE]
    by = ("none", TRACE_WORDS, "assumed", "memory") if trace else ("Sultan2015", POLYMER, "fitted", "source")
    wide = (("share", 1.0), ("is", 2000.0), ("is", 2000.0), ("is", 10.0))
    close = (("share", 0.05), ("is", 100.0), ("share", 0.05), ("is", 3.0))
    table("host", term, host, units, wide if trace else close, by)
    return "\n".join(out) + "\n\n"


def phases_in_pores(terms):
    """Dihydrate alone: its line, and its heat against anhydrous salt."""
    row = brine.SALTS["calcium_chloride"].solubility[2]
    water = brine.hydrate_water("calcium_chloride", 2)

    def line(T):
        return brine.water_activity("calcium_chloride", brine.branch_solubility(row, T), T)

    di = pair(water, 3926.839 / water, 69.0e3)
    return minus(di, line_offset(terms, water, line, range(10, 96, 5))), [(water, *di)]


def write(key, salt, terms, phases, smoothing, host, share, misfit):
    """Put the new isotherm in the place of the old one; its texts, points and sample spread stay."""
    path = LIBRARY / f"{key}.toml"
    old = path.read_text(encoding="utf-8")
    part = old[old.index("[isotherm]") : old.index("[range]")]
    kept = re.findall(r"(?ms)^(?:comment|low_heat_reason|sample_spread) = .*?$|^points = \[.*?^\]$", part)
    head = "\n".join(["[isotherm]", 'form = "salt_hydrates"', 'branch = "computed"', *kept])
    text = block(salt, terms, phases, smoothing, host, share, misfit, head)
    path.write_text(old.replace(part, text), encoding="utf-8")


def write_points(key, name, A, T, q):
    """Write the computed states beside the sheet."""
    lines = [
        f"# Computed, not measured: water per kg of {name}, by welkinwell.sorbents.brine.water_per_salt:",
        "# osmotic coefficient at 25 C (Robinson & Stokes 1959 by May 2011, Patil 1990, Moller "
        "1988), heat of",
        "# dilution of Conde 2004 (doi 10.1016/j.ijthermalsci.2003.09.003). Down to 0.9 of the "
        "crystals' humidity.",
        "material,branch,doi,temperature_K,pressure_Pa,loading_kg_per_kg",
    ]
    for a, t, w in zip(A, T, q, strict=True):
        p = saturation_pressure(t) * math.exp(-a / (R * t))
        lines.append(
            f"{name.capitalize()} brine,computed,10.1016/j.ijthermalsci.2003.09.003,{t:.2f},{p:.6g},{w:.6g}"
        )
    (LIBRARY / "points" / f"{key}_computed.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def terms_of_sheet(name):
    """The terms that a sheet has."""
    return [tuple(part.value for part in term.values()) for term in sorbent(name).sheet.terms]


def misfit_of_sheet(name):
    """What its terms miss, as it says."""
    return [sorbent(name).sheet.value(f"isotherm.{key}") for key in ("fit_rmse", "fit_largest_error")]


# sheet: (salt, share of salt, smoothing per kg of salt, whether a polymer carries it)
SHEETS = {
    "lithium_chloride": ("lithium_chloride", 1.0, 25.0),
    "licl_brine": ("lithium_chloride", 1.0, 25.0),
    "licl_gel": ("lithium_chloride", 0.93, 25.0),
    "calcium_chloride": ("calcium_chloride", 1.0, 4.0),
    "cacl2_brine": ("calcium_chloride", 1.0, 4.0),
    "cacl2_gel": ("calcium_chloride", 0.8, 4.0),
    "cacl2_in_silica": ("calcium_chloride_in_pores", 0.337, 60.0),
    "libr_brine": ("lithium_bromide", 1.0, 12.0),
    "potassium_formate_brine": ("potassium_formate", 1.0, 8.0),
}


def main():
    """Work out every salt, and write its sheets when asked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", action="store_true", help="write sheets and points")
    asked = parser.parse_args()
    made = {}
    for salt, finder, (fraction, heat, dry) in (
        ("lithium_chloride", phases_of_lithium_chloride, (0.40, 2718.0, 1132.0)),
        ("calcium_chloride", phases_of_calcium_chloride, (0.40, 2440.0, 657.0)),
    ):
        terms, misfit, points = fit_solution(salt)
        made[salt] = terms, misfit, with_specific_heat(terms, finder(terms), 10.0, fraction, heat, dry)
        if asked.write:
            key = "licl_brine" if salt == "lithium_chloride" else "cacl2_brine"
            write_points(key, salt.replace("_", " "), *points)
    terms, misfit, _ = fit_solution("calcium_chloride", 0.42, 0.12)
    phases = with_specific_heat(terms, phases_in_pores(terms), 10.0, 0.40, 2440.0, 657.0)
    made["calcium_chloride_in_pores"] = terms, misfit, phases
    terms = terms_of_sheet("libr_brine")
    phases = with_specific_heat(terms, phases_of_lithium_bromide(terms), 10.0, 0.55, 1928.0, 597.0)
    made["lithium_bromide"] = terms, misfit_of_sheet("libr_brine"), phases
    terms = terms_of_sheet("potassium_formate_brine")
    made["potassium_formate"] = (
        terms,
        misfit_of_sheet("potassium_formate_brine"),
        phases_of_potassium_formate(terms),
    )
    for key, (salt, share, smoothing) in SHEETS.items():
        terms, misfit, phases = made[salt]
        terms, solution, hydrates = composite(terms, phases, share)
        host = scaled(GEL_HOST_TERMS, 1.0 - share) if key.endswith("_gel") else [TRACE]
        print(key, "solution", [float(f"{x:.6g}") for x in solution], "hydrates", len(hydrates))
        if asked.write:
            write(key, salt, terms, (solution, hydrates), share * smoothing, host, share, misfit)


if __name__ == "__main__":
    main()
