"""Sun on a tilted plane and through its glazing, with every hour's energy kept exactly.

Arrays run over sub-intervals, shape (hours * per_hour,), and hold means over the whole sub-interval in
W/m2. Tilt is from the horizontal and azimuth clockwise from north, both in radians.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from welkinwell.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from welkinwell.sky.sun import SunPath

    Floats = NDArray[np.float64]

# Beam fades as exp(-B / cos z) towards the horizon; B is 0.14 to 0.21 by month in Threlkeld1958 (from
# memory). It only shapes the beam inside an hour; the hour's energy is the file's.
BEAM_EXTINCTION: Final = 0.17

DIFFUSE_BACK_ANGLE: Final = math.radians(60.0)  # light from the absorber meets the cover so, Duffie2013


class CoverOptics(NamedTuple):
    """A clear flat cover: thickness [m], refractive_index [1], extinction [1/m].

    Extinction is about 4 for low-iron glass and 32 for greenish float glass (Duffie2013, ch. 5).
    """

    thickness: float
    refractive_index: float
    extinction: float


class HorizontalSun(NamedTuple):
    """Sun on the horizontal in each sub-interval, and how far the file had to be bent.

    beam_normal: beam normal to the sun, mean over the whole sub-interval [W/m2]; diffuse: on the
    horizontal [W/m2]; global_horizontal: [W/m2]; hours_without_sun_in_sky: hours in which the file has
    light and the sky no sun, kept as diffuse [1]; hours_beam_capped: hours whose beam would exceed the
    extraterrestrial, the excess made diffuse [1]; energy_made_diffuse: by that cap, on the horizontal
    [J/m2]; hours_diffuse_above_global: hours whose diffuse was cut to the global [1].
    """

    beam_normal: Floats
    diffuse: Floats
    global_horizontal: Floats
    hours_without_sun_in_sky: int
    hours_beam_capped: int
    energy_made_diffuse: float
    hours_diffuse_above_global: int


class PlaneSun(NamedTuple):
    """Sun on a tilted plane in each sub-interval, by where it comes from.

    beam: direct [W/m2]; circumsolar: diffuse from around the sun, arriving as the beam does [W/m2];
    sky_diffuse: the even rest of the sky's diffuse [W/m2]; ground: reflected [W/m2]; incidence: of the
    beam [rad]; tilt: of the plane [rad]; horizontal: what the transposition started from.
    """

    beam: Floats
    circumsolar: Floats
    sky_diffuse: Floats
    ground: Floats
    incidence: Floats
    tilt: float
    horizontal: HorizontalSun

    @property
    def total(self) -> Floats:
        """Sum the four parts [W/m2]."""
        return self.beam + self.circumsolar + self.sky_diffuse + self.ground


@njit(cache=True)
def incidence_cosine(east: float, north: float, up: float, tilt: float, azimuth: float) -> float:
    """Give the cosine of the angle between the sun and a plane's normal: the two unit vectors' product.

    east, north, up: unit vector to the sun [1]; tilt: from the horizontal [rad]; azimuth: that the
    plane faces, clockwise from north [rad]. Returns the cosine [1], negative behind the plane.
    """
    sine = math.sin(tilt)
    return sine * (math.sin(azimuth) * east + math.cos(azimuth) * north) + math.cos(tilt) * up


@njit(cache=True)
def circumsolar_share(
    beam_normal: float, diffuse: float, extraterrestrial: float, zenith_cosine: float
) -> float:
    """Give the share of diffuse light that comes from around the sun: beam over extraterrestrial.

    A = min(Gbn / G0, (G0 - Gbn) cos(zenith) / Gd): the second bound keeps beam and circumsolar together
    below the extraterrestrial, so that a low sun cannot blow up a steep plane. Hay1980; the bound is ours.

    beam_normal: while the sun is up [W/m2]; diffuse: on the horizontal while the sun is up [W/m2];
    extraterrestrial: normal to the beam [W/m2]; zenith_cosine: [1]. Returns the share [1].
    """
    if diffuse <= 0.0 or zenith_cosine <= 0.0:
        return 0.0
    room = max(extraterrestrial - beam_normal, 0.0) * zenith_cosine / diffuse
    return min(beam_normal / extraterrestrial, room, 1.0)


@njit(cache=True)
def face_reflectances(incidence_cos: float, refractive_index: float) -> tuple[float, float]:
    """Give the Fresnel reflectances of one face for light polarised across and along the incidence plane.

    r1 = ((cos - n cos') / (cos + n cos'))^2, r2 = ((cos' - n cos) / (cos' + n cos))^2, sin' = sin / n.

    incidence_cos: cosine of incidence in air, above 0 [1]; refractive_index: n of the sheet [1].
    Returns (perpendicular, parallel) reflectance [1]. Duffie2013, eqs. 5.1.1 and 5.1.2.
    """
    inside = refraction_cosine(incidence_cos, refractive_index)
    across = (incidence_cos - refractive_index * inside) / (incidence_cos + refractive_index * inside)
    along = (inside - refractive_index * incidence_cos) / (inside + refractive_index * incidence_cos)
    return across * across, along * along


@njit(cache=True)
def refraction_cosine(incidence_cos: float, refractive_index: float) -> float:
    """Give the cosine of the angle inside a sheet by Snell's law.

    incidence_cos: in air [1]; refractive_index: of the sheet [1]. Returns the cosine [1].
    """
    return math.sqrt(1.0 - (1.0 - incidence_cos * incidence_cos) / (refractive_index * refractive_index))


@njit(cache=True)
def cover_beam(
    incidence_cos: float, thickness: float, refractive_index: float, extinction: float
) -> tuple[float, float]:
    """Give transmittance and reflectance of one clear sheet for unpolarised light.

    Fresnel at both faces for each polarisation, Bouguer inside, a = exp(-K L / cos'), and all internal
    passes summed: t = a (1 - r)^2 / (1 - r^2 a^2), rho = r (1 + a t). Duffie2013, section 5.3.

    incidence_cos: cosine of incidence [1]; thickness: L [m]; refractive_index: n [1]; extinction: K
    [1/m]. Returns (transmittance, reflectance) [1]; the rest is absorbed.
    """
    if incidence_cos < 1e-9:  # grazing or behind: a mirror; below this the series is 0 / 0
        return 0.0, 1.0
    once = math.exp(-extinction * thickness / refraction_cosine(incidence_cos, refractive_index))
    across, along = face_reflectances(incidence_cos, refractive_index)
    through_across = once * (1.0 - across) ** 2 / (1.0 - (across * once) ** 2)
    through_along = once * (1.0 - along) ** 2 / (1.0 - (along * once) ** 2)
    back = 0.5 * (across * (1.0 + once * through_across) + along * (1.0 + once * through_along))
    return 0.5 * (through_across + through_along), back


@njit(cache=True)
def effective_sky_angle(tilt: float) -> float:
    """Give the incidence at which a beam passes a cover as an even sky's diffuse does.

    59.68 - 0.1388 b + 0.001497 b^2, b the tilt in degrees. Fitted 0 to 90 degrees of tilt, one glass
    cover. Brandemuehl1980.

    tilt: from the horizontal [rad]. Returns the angle [rad].
    """
    b = min(max(math.degrees(tilt), 0.0), 90.0)
    return math.radians(59.68 - 0.1388 * b + 0.001497 * b * b)


@njit(cache=True)
def effective_ground_angle(tilt: float) -> float:
    """Give the incidence at which a beam passes a cover as the ground's reflected light does.

    90 - 0.5788 b + 0.002693 b^2, b the tilt in degrees. Fitted 0 to 90 degrees of tilt. Brandemuehl1980.

    tilt: from the horizontal [rad]. Returns the angle [rad].
    """
    b = min(max(math.degrees(tilt), 0.0), 90.0)
    return math.radians(90.0 - 0.5788 * b + 0.002693 * b * b)


@njit(cache=True)
def absorbed_shares(
    incidence_cos: float, thickness: float, refractive_index: float, extinction: float, absorptance: float
) -> tuple[float, float]:
    """Give what an absorber and its cover keep of light that falls on the cover.

    absorber: t a / (1 - (1 - a) r60); cover: (1 - t - rho) + (1 - t60 - r60) t (1 - a) / (1 - (1 - a) r60),
    the second term from light that the absorber sends back diffusely. Duffie2013, eq. 5.5.1.

    incidence_cos: cosine of incidence [1]; thickness: of the cover [m]; refractive_index: [1];
    extinction: [1/m]; absorptance: of the absorber for sunlight a [1].
    Returns (absorber, cover) shares of the incident light [1].
    """
    through, reflected = cover_beam(incidence_cos, thickness, refractive_index, extinction)
    back_through, back_reflected = cover_beam(
        math.cos(DIFFUSE_BACK_ANGLE), thickness, refractive_index, extinction
    )
    arriving = through / (1.0 - (1.0 - absorptance) * back_reflected)
    sent_back = (1.0 - absorptance) * arriving
    cover = (1.0 - through - reflected) + (1.0 - back_through - back_reflected) * sent_back
    return absorptance * arriving, cover


def sub_hourly(climate: Any, path: SunPath) -> HorizontalSun:
    """Spread each hour's sun over its sub-intervals as the sun climbs, keeping the hour's energy.

    Diffuse follows the cosine of the zenith z over the lit part; the beam is global minus diffuse, so
    that the file's own dni is not used, and follows cos(z) exp(-B / cos z), as the air thickens towards
    the horizon. The beam never exceeds the extraterrestrial: the rest becomes diffuse and is counted.

    climate: the weather Dataset, with ghi and dhi [W/m2]; path: the sun's path through its hours.
    Returns a HorizontalSun [W/m2].
    """
    ghi = np.ascontiguousarray(climate["ghi"].values, dtype=np.float64)
    dhi = np.ascontiguousarray(climate["dhi"].values, dtype=np.float64)
    if ghi.size != path.hours:
        raise ValueError(f"the sun's path covers {path.hours} hours, the weather {ghi.size}")
    beam, diffuse, counts, moved = _spread(
        ghi, dhi, path.up, path.lit_fraction, path.extraterrestrial, path.per_hour
    )
    return HorizontalSun(
        beam, diffuse, beam * np.maximum(path.up, 0.0) + diffuse, counts[0], counts[1], moved, counts[2]
    )


@njit(cache=True, nogil=True)
def _spread(ghi, dhi, up, lit, extraterrestrial, per_hour):  # type: ignore[no-untyped-def]
    """Fill beam and diffuse of every sub-interval; see sub_hourly."""
    beam = np.zeros(ghi.size * per_hour)
    diffuse = np.zeros(ghi.size * per_hour)
    no_sun = 0
    capped = 0
    cut = 0
    moved = 0.0
    for hour in range(ghi.size):
        total = max(ghi[hour], 0.0)
        scattered = max(dhi[hour], 0.0)
        if scattered > total * (1.0 + 1e-9):
            cut += 1
        scattered = min(scattered, total)
        begin, end = hour * per_hour, (hour + 1) * per_hour
        weight = 0.0
        highest = 0.0
        for i in range(begin, end):
            weight += lit[i] * max(up[i], 0.0)
            if lit[i] > 0.0:
                highest = max(highest, up[i])
        if weight <= 0.0:
            if total > 0.0:
                no_sun += 1
            diffuse[begin:end] = total
            continue
        faded = 0.0
        for i in range(begin, end):
            if lit[i] > 0.0:
                beam[i] = math.exp(BEAM_EXTINCTION * (1.0 / highest - 1.0 / up[i]))
                faded += lit[i] * up[i] * beam[i]
        normal = (total - scattered) * per_hour / faded
        excess = 0.0
        for i in range(begin, end):
            if lit[i] > 0.0:
                excess += max(normal * beam[i] - extraterrestrial[i], 0.0) * lit[i] * up[i] / per_hour
                beam[i] = min(normal * beam[i], extraterrestrial[i]) * lit[i]
        if excess > 0.0:
            capped += 1
            moved += excess * 3600.0
        for i in range(begin, end):
            diffuse[i] = (scattered + excess) * per_hour * lit[i] * max(up[i], 0.0) / weight
    return beam, diffuse, (no_sun, capped, cut), moved


def plane_sun(climate: Any, path: SunPath, tilt: float, azimuth: float, albedo: Any) -> PlaneSun:
    """Give the sun on a tilted plane by the Hay and Davies transposition.

    beam Gbn cos(i); circumsolar Gd A cos(i) / cos(z); sky Gd (1 - A)(1 + cos b) / 2;
    ground Gh albedo (1 - cos b) / 2. Hay1980.

    climate: the weather Dataset, or a HorizontalSun made of it by sub_hourly; path: the sun's path
    through its hours; tilt: b, from the horizontal [rad]; azimuth: that the plane faces, clockwise from
    north [rad]; albedo: of the ground, one number or one an hour [1].
    Returns a PlaneSun [W/m2].
    """
    sun = climate if isinstance(climate, HorizontalSun) else sub_hourly(climate, path)
    ground_albedo = np.broadcast_to(np.asarray(albedo, dtype=np.float64), (path.hours,))
    beam, circumsolar, sky, ground, incidence = _transpose(
        sun.beam_normal,
        sun.diffuse,
        sun.global_horizontal,
        path.east,
        path.north,
        path.up,
        path.lit_fraction,
        path.extraterrestrial,
        np.ascontiguousarray(ground_albedo),
        path.per_hour,
        float(tilt),
        float(azimuth),
    )
    return PlaneSun(beam, circumsolar, sky, ground, incidence, float(tilt), sun)


@njit(cache=True, nogil=True)
def _transpose(  # type: ignore[no-untyped-def]
    beam_normal,
    diffuse,
    global_horizontal,
    east,
    north,
    up,
    lit,
    extraterrestrial,
    albedo,
    per_hour,
    tilt,
    azimuth,
):
    """Fill the four parts and the incidence of every sub-interval; see plane_sun."""
    beam = np.zeros(up.size)
    circumsolar = np.zeros(up.size)
    sky = np.zeros(up.size)
    ground = np.zeros(up.size)
    incidence = np.zeros(up.size)
    sky_view = 0.5 * (1.0 + math.cos(tilt))
    ground_view = 0.5 * (1.0 - math.cos(tilt))
    for i in range(up.size):
        cosine = incidence_cosine(east[i], north[i], up[i], tilt, azimuth)
        incidence[i] = math.acos(min(max(cosine, -1.0), 1.0))
        if global_horizontal[i] <= 0.0:
            continue
        share = 0.0
        if lit[i] > 0.0:
            share = circumsolar_share(
                beam_normal[i] / lit[i], diffuse[i] / lit[i], extraterrestrial[i], up[i]
            )
            beam[i] = beam_normal[i] * max(cosine, 0.0)
            circumsolar[i] = diffuse[i] * share * max(cosine, 0.0) / max(up[i], 1e-300)
        sky[i] = diffuse[i] * (1.0 - share) * sky_view
        ground[i] = global_horizontal[i] * albedo[i // per_hour] * ground_view
    return beam, circumsolar, sky, ground, incidence


def absorbed_sun(sun: PlaneSun, cover: CoverOptics, absorptance: float) -> tuple[Floats, Floats]:
    """Give the sunlight that an absorber under one cover, and the cover itself, absorb.

    Beam and circumsolar pass at the incidence of the beam, sky and ground at their effective angles.

    sun: on the plane [W/m2]; cover: its optics; absorptance: of the absorber for sunlight [1].
    Returns (absorber, glazing) [W/m2 of aperture] in each sub-interval. Duffie2013, Brandemuehl1980.
    """
    return _absorb(
        sun.beam,
        sun.circumsolar,
        sun.sky_diffuse,
        sun.ground,
        sun.incidence,
        sun.tilt,
        float(cover.thickness),
        float(cover.refractive_index),
        float(cover.extinction),
        float(absorptance),
    )


@njit(cache=True, nogil=True)
def _absorb(  # type: ignore[no-untyped-def]
    beam, circumsolar, sky, ground, incidence, tilt, thickness, refractive_index, extinction, absorptance
):
    """Fill absorber and glazing of every sub-interval; see absorbed_sun."""
    absorber = np.zeros(beam.size)
    glazing = np.zeros(beam.size)
    from_sky = absorbed_shares(
        math.cos(effective_sky_angle(tilt)), thickness, refractive_index, extinction, absorptance
    )
    from_ground = absorbed_shares(
        math.cos(effective_ground_angle(tilt)), thickness, refractive_index, extinction, absorptance
    )
    for i in range(beam.size):
        absorber[i] = sky[i] * from_sky[0] + ground[i] * from_ground[0]
        glazing[i] = sky[i] * from_sky[1] + ground[i] * from_ground[1]
        direct = beam[i] + circumsolar[i]
        if direct > 0.0:
            kept, in_cover = absorbed_shares(
                math.cos(incidence[i]), thickness, refractive_index, extinction, absorptance
            )
            absorber[i] += direct * kept
            glazing[i] += direct * in_cover
    return absorber, glazing


def linear_nodes(means: Floats, per_hour: int) -> Floats:
    """Give a continuous piecewise linear curve that keeps each hour's energy and never goes below zero.

    At hour edges the mean of the two neighbouring sub-intervals, but at most twice the smaller: that
    leaves each hour room to keep its own energy, and is zero beside a dark sub-interval. Inside the hour
    the nodes start in the same way and are scaled together until the trapezoids add up to the hour.

    means: over consecutive sub-intervals, not negative, shape (hours * per_hour,) [any]; per_hour:
    sub-intervals in an hour, 2 or more [1].
    Returns the values at the sub-interval edges, shape (hours * per_hour + 1,) [as the means].
    """
    if per_hour < 2 or means.size % per_hour:
        raise ValueError(f"whole hours of 2 or more sub-intervals needed, got {means.size} in {per_hour}s")
    return _nodes(np.ascontiguousarray(means, dtype=np.float64), per_hour)


@njit(cache=True, nogil=True)
def _nodes(means, per_hour):  # type: ignore[no-untyped-def]
    """Fill the node values; see linear_nodes."""
    size = means.size
    nodes = np.zeros(size + 1)
    if size == 0:
        return nodes
    nodes[0] = means[0]
    nodes[size] = means[size - 1]
    for j in range(1, size):
        nodes[j] = min(0.5 * (means[j - 1] + means[j]), 2.0 * min(means[j - 1], means[j]))
    for begin in range(0, size, per_hour):
        end = begin + per_hour
        energy = 0.0
        for j in range(begin, end):
            energy += means[j]
        inside = 0.0
        for j in range(begin + 1, end):
            inside += nodes[j]
        wanted = max(energy - 0.5 * (nodes[begin] + nodes[end]), 0.0)
        for j in range(begin + 1, end):
            share = nodes[j] / inside if inside > 0.0 else 1.0 / (per_hour - 1)
            nodes[j] = share * wanted
    return nodes
