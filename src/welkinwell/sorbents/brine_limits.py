"""How long crystals stood in a brine or it was beyond the limit of its host, and what that may cost.

A sheet with crystals (`hydrate`) follows the stable phase: below its crystallisation line the loading falls
at the humidity of the saturated solution to that of the hydrate or the dry salt. The hours in which crystals
stand, and the water that crystals and their solution gave off meanwhile, are counted here: in an open tray
that is what the model computes, in pipes and sprays crystals block. A sheet of a salt that names no crystals
goes on as a solution below the line, where it is supersaturated and only metastable; then hours and water
count as beyond the line. No sheet of the library does.

Above the leak humidity brine leaves its host. What may run out in a year is bounded by the sum of all rises
of the loading above the limit, as if each ran off at once, with the salt that is dissolved in it:
    water = M sum max(e_i - e_(i-1), 0),   e = max(w - w_leak, 0),
    salt <= min(water / r, f M),   brine <= salt (1 + r),
r the water per kg of salt in the brine at the limit, f M all the salt that there is. No model of what comes
after stands behind it: a host that has lost salt holds less water and soon loses none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from welkinwell.moist_air import saturation_pressure
from welkinwell.sorbents.brine import SALTS, solubility, water_per_salt

if TYPE_CHECKING:
    from welkinwell.sorbents.sorbent import Sorbent

Array = NDArray[np.float64]
ROOM: Final = 298.15  # K, at which a leak humidity is stated
SATURATED: Final = 0.02  # share below the saturated loading from which on crystals are counted
STEP: Final = 0.01  # of relative humidity below the limit, where a smoothed deliquescence has not begun
NONE: Final = {
    "hours_with_crystals": 0.0,
    "water_with_crystals": 0.0,
    "hours_beyond_crystallisation": 0.0,
    "water_beyond_crystallisation": 0.0,
    "hours_above_leak_humidity": 0.0,
    "brine_lost_bound": 0.0,
    "salt_lost_bound": 0.0,
}


def brine_limits(
    sorbent: Sorbent, mass: float, T: Array, pressure: Array, loading: Array
) -> dict[str, float]:
    """Count what lay beyond the two limits of a brine.

    Args: sorbent; mass: dry sorbent [kg/m2]; T: of the bed at the end of each hour [K]; pressure: of the
    vapour in its pores [Pa]; loading [kg/kg], all of one shape (hours,).
    Returns: hours_with_crystals [h], water_with_crystals: given off meanwhile [kg/m2],
    hours_beyond_crystallisation [h], water_beyond_crystallisation: given off meanwhile [kg/m2],
    hours_above_leak_humidity [h], brine_lost_bound and salt_lost_bound [kg/m2].
    """
    found = dict(NONE)
    if not sorbent.salt:
        return found
    below = loading < (1.0 - SATURATED) * crystallisation_loading(sorbent, T)
    given_off = mass * np.maximum(-np.diff(loading, prepend=loading[:1]), 0.0)
    what = "beyond_crystallisation" if sorbent.phases is None else "with_crystals"
    found[f"hours_{what}"] = float(below.sum())
    found[f"water_{what}"] = float(given_off[below].sum())
    if sorbent.leak_humidity < 1.0:
        found["hours_above_leak_humidity"] = float(
            (pressure > sorbent.leak_humidity * saturation_pressure(T)).sum()
        )
        excess = np.maximum(loading - float(sorbent.loading(ROOM, sorbent.leak_humidity - STEP)), 0.0)
        water = mass * float(np.maximum(np.diff(excess, prepend=0.0), 0.0).sum())
        r = _water_per_salt(sorbent)
        share = min(float(sorbent.loading(ROOM, sorbent.leak_humidity + STEP)) / r, 1.0)
        found["salt_lost_bound"] = min(water / r, share * mass)
        found["brine_lost_bound"] = found["salt_lost_bound"] * (1.0 + r)
    return found


def crystallisation_loading(sorbent: Sorbent, T: Array) -> Array:
    """Return the loading at the crystallisation line, under which its solution is supersaturated.

    Args: sorbent: with a salt; T [K]. Returns: loading [kg/kg dry], 0 where no line is known.
    """
    grid = np.linspace(float(T.min()) - 1.0, float(T.max()) + 1.0, 60)
    line = np.array([sorbent.crystallisation_humidity(float(t)) for t in grid])
    held = np.asarray(sorbent.as_solution().loading(grid, np.maximum(line, 1e-9)))
    return np.interp(T, grid, np.where(line > 0.0, held, 0.0))


def _water_per_salt(sorbent: Sorbent) -> float:
    """Water per kg of salt in the brine at the leak limit, at least that of the saturated one."""
    saturated = solubility(sorbent.salt, ROOM)
    least = (1.0 - saturated) / saturated
    if SALTS[sorbent.salt].conde is None:
        return least
    return max(water_per_salt(sorbent.salt, sorbent.leak_humidity, ROOM), least)
