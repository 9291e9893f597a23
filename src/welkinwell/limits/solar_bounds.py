"""How much water the sun's energy can pay for: reversible, by heat, by electricity, once or several times.

All take energies per area [J/m2] (or any energy: the unit carries over) and give kg of water on the same
base; one kg counts as one litre.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from welkinwell.constants import STEFAN_BOLTZMANN
from welkinwell.limits.least_work import solar_exergy_factor
from welkinwell.moist_air import latent_heat

BEST_MODULES: Final = (
    0.25  # electricity over sun of the best photovoltaic modules on sale (value from memory)
)


def reversible_solar_water(sun: Any, surroundings: Any, work: Any, other_exergy: Any = 0.0) -> Any:
    """Water that the exergy of sunlight pays for, whatever the machine: (psi G + E) / w.

    sun: G, energy on the area [J/m2]; surroundings: T0 [K]; work: least work w of a kg [J/kg];
    other_exergy: E, of a cold sky and of the swing of the air [J/m2]. Returns [kg/m2], infinite where the
    work is zero. Source: Petela1964, Kim2020.
    """
    exergy = solar_exergy_factor(surroundings) * np.asarray(sun) + other_exergy
    return _over(exergy, work)


def heat_driven_water(heat: Any, surroundings: Any, hot: Any, work: Any, other_exergy: Any = 0.0) -> Any:
    """Water that heat given at one temperature pays for: Q (1 - T0/Th) / w, by Carnot.

    heat: Q [J/m2]; surroundings: T0 [K]; hot: Th, at which the heat enters the process [K]; work: w [J/kg];
    other_exergy: from a cold sky and the swing of the air [J/m2]. Returns [kg/m2]. Source: Kim2020.
    """
    share = np.maximum(1.0 - np.asarray(surroundings) / hot, 0.0)
    return _over(share * heat + other_exergy, work)


def photovoltaic_water(sun: Any, work: Any, efficiency: Any = BEST_MODULES) -> Any:
    """Water that the electricity of solar cells pays for: eta G / w.

    sun: G [J/m2]; work: w [J/kg]; efficiency: eta [1]. Returns [kg/m2]. Source: first and second law.
    """
    return _over(np.asarray(efficiency) * sun, work)


def single_effect_water(heat: Any, temperature: Any) -> Any:
    """Water that heat can evaporate once, the heat of condensation thrown away: Q / h_fg.

    heat: Q [J/m2]; temperature: at which the latent heat is taken [K]; the warmest air of the day keeps it a
    bound, since heat below it is free. Returns [kg/m2]. Source: first law.
    """
    return np.asarray(heat) / latent_heat(temperature)


def sorption_water(heat: Any, release_heat: Any, sensible: Any = 0.0) -> Any:
    """Water that heat can drive out of a sorbent once: Q / (q_st + s).

    heat: Q that reaches the bed [J/m2]; release_heat: q_st [J/kg]; sensible: s, heat that warms sorbent,
    metal and held water for a kg given off [J/kg]. Returns [kg/m2]. Source: first law.
    """
    return np.asarray(heat) / (np.asarray(release_heat) + sensible)


def ideal_release_heat(temperature: Any, potential_heat: Any) -> Any:
    """Least heat of release of a sorbent that just takes up water from the air: h_fg + A / M.

    temperature [K]; potential_heat: A / M, the least work at vanishing recovery [J/kg]. Returns [J/kg]. It
    holds for a sorbent whose potential does not move with temperature. Source: Kim2020.
    """
    return latent_heat(temperature) + potential_heat


def sensible_heat(
    lift: Any,
    swing: Any,
    sorbent_specific_heat: Any,
    metal_ratio: Any,
    metal_specific_heat: Any,
    water_specific_heat: Any,
) -> Any:
    """Heat that warms sorbent, metal and water for each kg given off: ((c_s + r c_m)/dx + c_w) dT.

    lift: dT from rest to release [K]; swing: dx, loading given off [kg/kg]; sorbent_specific_heat,
    metal_specific_heat, water_specific_heat: c_s, c_m, c_w [J/(kg K)]; metal_ratio: r, metal over dry
    sorbent [1]. Returns [J/kg of water]. Source: first law.
    """
    dry = np.asarray(sorbent_specific_heat) + np.asarray(metal_ratio) * metal_specific_heat
    return (dry / np.asarray(swing) + water_specific_heat) * np.asarray(lift)


def n_effect_water(heat: Any, release_heat: Any, effects: Any, surroundings: Any, hot: Any, work: Any) -> Any:
    """Water of n effects in a row, each using the heat of condensation of the one before.

    min(n Q / q, Q (1 - T0/Th) / w): more effects than the heat's temperature allows give nothing.
    heat: Q [J/m2]; release_heat: q [J/kg]; effects: n [1]; surroundings, hot: T0, Th [K]; work: w [J/kg].
    Returns [kg/m2]. Source: first and second law.
    """
    return np.minimum(
        np.asarray(effects) * heat / release_heat, heat_driven_water(heat, surroundings, hot, work)
    )


def most_effects(surroundings: Any, hot: Any, work: Any, latent: Any | None = None) -> Any:
    """How many effects heat of a temperature can pay for: (1 - T0/Th) h_fg / w.

    surroundings, hot: T0, Th [K]; work: w [J/kg]; latent: h_fg [J/kg], at T0 where not given.
    Returns a number, not whole [1]; below 1 not even one effect is possible. Source: first and second law.
    """
    heat = latent_heat(surroundings) if latent is None else latent
    return _over((1.0 - np.asarray(surroundings) / hot) * heat, work)


def sky_exergy(temperature: Any, sky_longwave: Any) -> Any:
    """Most work that a surface can make of a cold sky: (sigma T^4 - L) / 3.

    Where the sky is transparent a black sky of no temperature yields a third of what is sent out to it
    (Petela1964 with the sun's temperature set to nothing); where it is opaque it is as warm as the air and
    yields nothing. The third is the mean over the spectrum; below about 18 um, where the sky's window lies,
    it is less, so this stays a bound.
    temperature: of the air [K]; sky_longwave: L, what the sky sends down [W/m2]. Returns [W/m2].
    """
    return sky_cooling(temperature, sky_longwave) / 3.0


def sky_cooling(temperature: Any, sky_longwave: Any) -> Any:
    """Most heat that a surface at air temperature can lose to the sky: sigma T^4 - L, not below zero.

    temperature [K]; sky_longwave: L [W/m2]. Returns [W/m2]. A surface that sends out only in the sky's window
    gains nothing over this while it is no warmer than the air. Source: Stefan and Boltzmann.
    """
    black = STEFAN_BOLTZMANN * np.asarray(temperature) ** 4
    return np.maximum(black - np.asarray(sky_longwave), 0.0)


def swing_exergy(carried_heat: Any, coldest: Any, warmest: Any) -> Any:
    """Most work of heat taken from the warm hours of a day and given to the cool ones: Q (1 - Tc/Tw).

    carried_heat: Q that the stores of the device carry from one to the other in a day [J/m2]; coldest,
    warmest: air of the day [K]. Returns [J/m2]. Source: second law.
    """
    return np.asarray(carried_heat) * (1.0 - np.asarray(coldest) / warmest)


def _over(energy: Any, work: Any) -> Any:
    """Energy over work; infinite where no work is needed."""
    given, needed = np.broadcast_arrays(
        np.asarray(energy, dtype=np.float64), np.asarray(work, dtype=np.float64)
    )
    found = np.full(given.shape, np.inf)
    np.divide(given, needed, out=found, where=needed > 0.0)
    return found[()]
