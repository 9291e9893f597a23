"""Dual-site Langmuir: q = sum_i w_i b_i p / (1 + b_i p), b_i = b_i0 exp(Q_i / R T) (Langmuir1918).

It is the Sips form in pressure with exponent one, so it shares that form's potential,
Omega = R T sum_i w_i ln(1 + b_i p), and its compiled functions (`dual_site_sips`). Henry's law holds
at low pressure; steps cannot be drawn, since no site is steeper than exponent one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from welkinwell.constants import GAS_CONSTANT
from welkinwell.sorbents import dual_site_sips


def fill_row(row: NDArray[np.float64], sites: Iterable[tuple[float, float, float]]) -> None:
    """Write the sites into a row.

    Args: row [1]; sites: (w [kg/kg], b0 at infinite temperature [1/Pa], Q [J/mol]) for each site.
    """
    at_reference = GAS_CONSTANT * dual_site_sips.REFERENCE_TEMPERATURE
    dual_site_sips.fill_row(row, [(w, b * math.exp(Q / at_reference), Q, 1.0, 0.0) for w, b, Q in sites])
