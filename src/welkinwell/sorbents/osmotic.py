"""Osmotic coefficients of lithium and calcium chloride brine at 25 C, from dilute to beyond saturation.

    ln a_w = -nu m M_w phi(m)
Pieced from published functions, each where it meets the osmotic tables (Robinson1959) within 0.5 %:
    lithium chloride   Pitzer's equations (May2011) to 4, Patil1990 from 6 mol/kg, a mean of both between;
                       the maximum of Patil's phi, near the end of his measurements at 18.5 mol/kg, is held
                       beyond: it gives 0.112 at saturation, the humidity standard 0.113
    calcium chloride   Pitzer's equations (Moller1988) to 4 mol/kg, the table itself from 5 to 8, constant
                       beyond: PitzerShi1993 found it constant from about 7 mol/kg to saturation
How they leave 25 C is said in `brine.water_activity`.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from functools import lru_cache
from typing import Final

from welkinwell.constants import WATER_MOLAR_MASS
from welkinwell.moist_air.saturation import saturation_pressure
from welkinwell.sorbents import pitzer
from welkinwell.sorbents.pitzer import ELECTROLYTES

ROOM: Final = 298.15  # K
PITZER_END: Final = 4.0  # mol/kg, up to which Pitzer's equations are taken alone
PATIL_START: Final = 6.0  # mol/kg, from which Patil1990 is taken alone
PATIL_END: Final = 17.7  # mol/kg, maximum of his osmotic coefficient at 25 C
# Cubics in molality of log10(p / kPa) = A + B / T + C / T^2 for lithium chloride, from one open library
PATIL: Final = (
    (7.323355, -0.0623661, 0.0061613, -0.0001042),
    (-1718.157, 8.2255, -2.2131, 0.0246),
    (-97575.68, 3839.979, -421.429, 16.731),
)
# Calcium chloride at 5 to 8 mol/kg (Robinson1959, recalled)
CALCIUM_CHLORIDE: Final = ((5.0, 2.574), (6.0, 2.891), (7.0, 3.081), (8.0, 3.151))


def osmotic_coefficient(salt: str, m: float) -> float:
    """Return the osmotic coefficient at 25 C.

    Args: salt: lithium_chloride or calcium_chloride; m: molality [mol/kg]. Returns: phi [1].
    """
    if salt == "lithium_chloride":
        return _lithium_chloride(m)
    if m <= PITZER_END:
        return pitzer.osmotic_coefficient(salt, m)
    return _between(_calcium_chloride_nodes(), m)


def patil_water_activity(m: float, T: float) -> float:
    """Return the water activity of lithium chloride brine by Patil1990, 10^(A + B/T + C/T^2) / p_sat.

    A, B and C are cubics in the molality. Fitted from 3 to 18.5 mol/kg and 30 to 70 C; at 25 C it is within
    0.5 % of the osmotic tables from 3 to 10 mol/kg.
    Args: m: molality [mol/kg]; T [K]. Returns: water activity [1].
    """
    a, b, c = (sum(x * m**k for k, x in enumerate(row)) for row in PATIL)
    return float(1e3 * 10.0 ** (a + b / T + c / (T * T)) / saturation_pressure(T))


def _lithium_chloride(m: float) -> float:
    if m <= PITZER_END:
        return pitzer.osmotic_coefficient("lithium_chloride", m)
    by_patil = _patil_coefficient(min(m, PATIL_END))
    if m >= PATIL_START:
        return by_patil
    share = (m - PITZER_END) / (PATIL_START - PITZER_END)
    share *= share * (3.0 - 2.0 * share)
    return (1.0 - share) * pitzer.osmotic_coefficient("lithium_chloride", m) + share * by_patil


def _patil_coefficient(m: float) -> float:
    ions = ELECTROLYTES["lithium_chloride"].cations + ELECTROLYTES["lithium_chloride"].anions
    return -math.log(patil_water_activity(m, ROOM)) / (ions * m * WATER_MOLAR_MASS)


@lru_cache(maxsize=1)
def _calcium_chloride_nodes() -> tuple[tuple[float, float, float], ...]:
    """Molality, coefficient and its slope: Pitzer's at the join, central differences, flat at the end."""
    start, step = PITZER_END, 1e-4
    first = pitzer.osmotic_coefficient("calcium_chloride", start)
    before = pitzer.osmotic_coefficient("calcium_chloride", start - step)
    points = ((start, first), *CALCIUM_CHLORIDE)
    slopes = [(first - before) / step]
    slopes += [(points[i + 1][1] - points[i - 1][1]) / 2.0 for i in range(1, len(points) - 1)]
    return tuple((m, phi, slope) for (m, phi), slope in zip(points, [*slopes, 0.0], strict=True))


def _between(nodes: tuple[tuple[float, float, float], ...], m: float) -> float:
    """A cubic through two neighbours with their slopes (Hermite); constant beyond the last."""
    if m >= nodes[-1][0]:
        return nodes[-1][1]
    at = bisect_right([node[0] for node in nodes], m) - 1
    (m0, y0, s0), (m1, y1, s1) = nodes[at], nodes[at + 1]
    h = m1 - m0
    x = (m - m0) / h
    rest = 1.0 - x
    return rest * rest * ((1.0 + 2.0 * x) * y0 + x * h * s0) + x * x * ((3.0 - 2.0 * x) * y1 - rest * h * s1)
