"""Dew sheets and steady nights that several tests share."""

import numpy as np
from scipy.optimize import brentq

from welkinwell.harvesters.dew_condenser.design import DewCondenser
from welkinwell.harvesters.dew_condenser.flows import DEW_CONDENSER, sheet_numbers
from welkinwell.moist_air import dew_point, saturation_pressure

SIGMA = 5.670374419e-8
ZERO = 273.15


def berdahl_martin_sky(T, humidity):
    """Downward longwave of a clear sky [W/m2] at an air state (formula written out again)."""
    d = (float(dew_point(T, humidity)) - ZERO) / 100.0
    return (0.711 + 0.56 * d + 0.73 * d * d) * SIGMA * T**4


def night_air(T, humidity, wind=0.0, sky=None, sun=0.0):
    """Surroundings, shape (9,): temperature [K], humidity [1], wind [m/s], sky longwave and sun [W/m2]."""
    p = humidity * float(saturation_pressure(T))
    sky = berdahl_martin_sky(T, humidity) if sky is None else sky
    return np.array([T, p, 101325.0, wind, sky, sun, 0.0, sun, 0.0])


def flat_sheet(h, **fields):
    """A horizontal sheet with a fixed surface coefficient [W/(m2 K)], no buoyancy, no loss behind."""
    design = DewCondenser(tilt=0.0, wind_constant=h, wind_slope=0.0, back_loss=0.0, **fields)
    return design, sheet_numbers(design, None, 101325.0)._replace(free_hot=0.0, free_cold=0.0)


def flows_at(y, air, numbers, mode=1):
    phi, slopes = np.zeros(8), np.zeros((8, 2))
    DEW_CONDENSER.fill_flows(np.asarray(y, float), air, mode, numbers, np.zeros(1), True, phi, slopes)
    return phi, slopes


def steady(air, numbers, film=1.0):
    """Temperature [K] at which a wet sheet rests, and its flows there."""

    def gain(T):
        phi, _ = flows_at([T, film], air, numbers)
        latent = phi[6] - phi[0] * 4186.0 * (T - ZERO)  # heat of vapour less that of the water it becomes
        return phi[2] - phi[3] - phi[4] - phi[5] + latent

    T = brentq(gain, air[0] - 60.0, air[0] + 80.0, xtol=1e-9)
    return T, flows_at([T, film], air, numbers)[0]
