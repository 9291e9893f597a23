"""Longwave radiation of the sky: clear-sky emissivity models, clouds, sky temperature, night cooling.

A measured or modelled downward longwave in the weather file is better than any formula here; the
formulas differ among themselves by about 0.05 in emissivity, which is 20 W/m2 or a quarter of the
cooling of a dew surface (docs/theory/sky.md). Those that know only the air temperature (Swinbank,
Idso and Jackson) fail in hot dry air and are kept for comparison.
"""

import math
from typing import Final

from welkinwell.compiled import njit
from welkinwell.constants import FREEZING_POINT, STEFAN_BOLTZMANN

# Emissivity of the clouds times exp(-base height / 8.2 km), for a base at 2 km and black clouds:
# common practice for low and middle clouds; Martin1984 gives the form.
CLOUD_FACTOR: Final = math.exp(-2.0 / 8.2)

# Band of believable sky emissivities; a file outside it has a unit or sign mistake, not weather. Common
# practice, no source.
EMISSIVITY_RANGE: Final = (0.55, 1.0)


@njit(cache=True)
def prata(temperature: float, vapour_pressure: float) -> float:
    """Give the emissivity of a clear sky after Prata (1996); the default.

    1 - (1 + x) exp(-sqrt(1.2 + 3 x)), x = 46.5 e / T [e in hPa, T in K], the precipitable water in cm.

    temperature: air at screen height [K]; vapour_pressure: same place [Pa].
    Returns the emissivity [1]. Fitted to sea-level and low-altitude stations. Prata1996, eq. 5
    (constants from memory).
    """
    water = 46.5 * (vapour_pressure / 100.0) / temperature
    return 1.0 - (1.0 + water) * math.exp(-math.sqrt(1.2 + 3.0 * water))


@njit(cache=True)
def brutsaert(temperature: float, vapour_pressure: float) -> float:
    """Give the emissivity of a clear sky after Brutsaert (1975): 1.24 (e / T)^(1/7).

    temperature: air at screen height [K]; vapour_pressure: same place [Pa] (e is in hPa).
    Returns the emissivity [1]. Derived for a standard lapse rate near sea level. Brutsaert1975.
    """
    return 1.24 * (vapour_pressure / 100.0 / temperature) ** (1.0 / 7.0)


@njit(cache=True)
def brunt(vapour_pressure: float, intercept: float, slope: float) -> float:
    """Give the emissivity of a clear sky after Brunt (1932): a + b sqrt(e).

    vapour_pressure: at screen height [Pa] (e is in hPa); intercept: a, 0.51 to 0.61 by place [1];
    slope: b, 0.044 to 0.066 by place [1/hPa^0.5]. Brunt's own pair is 0.52 and 0.065 (from memory).
    Returns the emissivity [1]. A local fit: no pair serves everywhere. Brunt1932.
    """
    return intercept + slope * math.sqrt(vapour_pressure / 100.0)


@njit(cache=True)
def berdahl_martin(dew_point: float) -> float:
    """Give the monthly mean emissivity of a clear sky after Berdahl and Martin (1984).

    0.711 + 0.56 d + 0.73 d^2, d = dew point in hundreds of degrees Celsius.

    dew_point: at screen height [K]. Returns the emissivity [1], both day and night, sea level.
    Berdahl1984.
    """
    d = (dew_point - FREEZING_POINT) / 100.0
    return 0.711 + 0.56 * d + 0.73 * d * d


@njit(cache=True)
def berdahl_martin_shift(solar_hour: float, pressure: float) -> float:
    """Give what hour and altitude add to the Berdahl and Martin emissivity.

    0.013 cos(2 pi t / 24) + 0.00012 (P - 1000), t in hours from solar midnight, P in hPa.

    solar_hour: hours from solar midnight [h]; pressure: of the station [Pa].
    Returns an addition to the emissivity [1]. Berdahl1984 (reference pressure from memory).
    """
    return 0.013 * math.cos(2.0 * math.pi * solar_hour / 24.0) + 0.00012 * (pressure / 100.0 - 1000.0)


@njit(cache=True)
def clark_allen(dew_point: float) -> float:
    """Give the emissivity of a clear sky after Clark and Allen (1978): 0.787 + 0.764 ln(Td / 273).

    dew_point: at screen height [K]. Returns the emissivity [1]. Clark1978.
    """
    return 0.787 + 0.764 * math.log(dew_point / 273.0)


@njit(cache=True)
def berger(dew_point: float) -> float:
    """Give the emissivity of a clear sky after Berger, Buriot and Garnier (1984): 0.770 + 0.0038 Td.

    dew_point: at screen height [K] (Td in Celsius). Returns the emissivity [1]. Carpentras, France.
    Berger1984 (from memory).
    """
    return 0.770 + 0.0038 * (dew_point - FREEZING_POINT)


@njit(cache=True)
def swinbank(temperature: float) -> float:
    """Give the emissivity of a clear sky after Swinbank (1963): 9.365e-6 T^2; wrong in dry air.

    temperature: air at screen height [K]. Returns the emissivity [1]. Swinbank1963.
    """
    return 9.365e-6 * temperature * temperature


@njit(cache=True)
def idso_jackson(temperature: float) -> float:
    """Give the emissivity of a clear sky after Idso and Jackson (1969); wrong in hot dry air.

    1 - 0.261 exp(-7.77e-4 (273 - T)^2)

    temperature: air at screen height [K]. Returns the emissivity [1]. Idso1969 (from memory).
    """
    return 1.0 - 0.261 * math.exp(-7.77e-4 * (273.0 - temperature) ** 2)


@njit(cache=True)
def dilley_obrien(temperature: float, vapour_pressure: float) -> float:
    """Give the emissivity of a clear sky after Dilley and O'Brien (1998).

    L = 59.38 + 113.7 (T / 273.16)^6 + 96.96 sqrt(w / 25) W/m2, w = 465 e / T mm of precipitable water.

    temperature: air at screen height [K]; vapour_pressure: same place [Pa] (e is in hPa).
    Returns the emissivity [1], L over the black body at T. Dilley1998 (w after Prata1996, from memory).
    """
    water = 465.0 * (vapour_pressure / 100.0) / temperature
    longwave = 59.38 + 113.7 * (temperature / 273.16) ** 6 + 96.96 * math.sqrt(water / 25.0)
    return longwave / black_body(temperature)


@njit(cache=True)
def cloudy_emissivity(clear_emissivity: float, cloud_cover: float, cloud_factor: float) -> float:
    """Add clouds to a clear sky by filling the atmospheric window: e0 + (1 - e0) C f.

    clear_emissivity: e0 [1]; cloud_cover: opaque cover C, a fraction [1]; cloud_factor: cloud
    emissivity times exp(-base height / 8.2 km) f, 1 for fog, 0.78 for a base at 2 km, 0.3 for cirrus [1].
    Returns the emissivity [1], never above 1. Martin1984, eq. 3 (from memory).
    """
    cover = min(max(cloud_cover, 0.0), 1.0)
    return clear_emissivity + (1.0 - clear_emissivity) * cover * cloud_factor


@njit(cache=True)
def walton_cloud_multiplier(cloud_cover: float) -> float:
    """Give the factor by which clouds raise a clear sky's emissivity after Walton (1983).

    1 + 0.0224 N - 0.0035 N^2 + 0.00028 N^3, N the opaque cover in tenths.

    cloud_cover: opaque cover as a fraction [1]. Returns the factor [1]; made for Clark and Allen's
    clear sky: on a humid one the product passes 1, so clip it. Walton1983.
    """
    tenths = 10.0 * min(max(cloud_cover, 0.0), 1.0)
    return 1.0 + tenths * (0.0224 + tenths * (-0.0035 + tenths * 0.00028))


@njit(cache=True)
def black_body(temperature: float) -> float:
    """Give the hemispheric emission of a black surface: sigma T^4.

    temperature: of the surface [K]. Returns the emission [W/m2].
    """
    return STEFAN_BOLTZMANN * temperature**4


@njit(cache=True)
def sky_longwave(temperature: float, vapour_pressure: float, cloud_cover: float) -> float:
    """Give the downward longwave on a horizontal surface: Prata's clear sky with clouds at 2 km.

    L = (e0 + (1 - e0) C f) sigma T^4, f = CLOUD_FACTOR = 0.784.

    temperature: air at screen height [K]; vapour_pressure: same place [Pa]; cloud_cover: opaque cover,
    a fraction [1]. Returns L [W/m2]. Prata1996, Martin1984.
    """
    clear = prata(temperature, vapour_pressure)
    return cloudy_emissivity(clear, cloud_cover, CLOUD_FACTOR) * black_body(temperature)


@njit(cache=True)
def sky_temperature(longwave: float) -> float:
    """Give the temperature of the black sky that sends a given longwave: (L / sigma)^(1/4).

    longwave: downward [W/m2]. Returns the temperature [K].
    """
    return (max(longwave, 0.0) / STEFAN_BOLTZMANN) ** 0.25


@njit(cache=True)
def sky_emissivity(longwave: float, temperature: float) -> float:
    """Give the emissivity of the sky that a longwave means beside an air temperature: L / (sigma T^4).

    longwave: downward [W/m2]; temperature: air at screen height [K]. Returns the emissivity [1].
    """
    return longwave / black_body(temperature)


@njit(cache=True)
def net_cooling(surface_temperature: float, longwave: float, emissivity: float) -> float:
    """Give what a horizontal surface loses to the sky by longwave: e (sigma Ts^4 - L).

    surface_temperature: [K]; longwave: downward [W/m2]; emissivity: of the surface, also its longwave
    absorptance [1]. Returns the net loss [W/m2], negative when the sky warms the surface.
    """
    return emissivity * (black_body(surface_temperature) - longwave)


@njit(cache=True)
def sky_view(tilt: float) -> float:
    """Give the share of an evenly bright sky that a tilted plane sees: (1 + cos tilt) / 2.

    tilt: from the horizontal [rad]. Returns the view factor [1]. The sky glows brighter towards the
    horizon, so a tilted radiator loses a little more than this says.
    """
    return 0.5 * (1.0 + math.cos(tilt))
