"""Plane irradiance and glazing against pvlib, worked examples, conservation and the low sun."""

import math

import numpy as np
import pvlib
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

from welkinwell.sky import plane as pl
from welkinwell.sky.sun import climate_sun_path, sun_path

LOW_IRON = pl.CoverOptics(thickness=0.0032, refractive_index=1.526, extinction=4.0)
TILTS = [0.0, 0.3, 0.9, math.pi / 2]


def by_hour(values, path):
    return values.reshape(-1, path.per_hour).mean(axis=1)


def horizontal(path, ghi, dhi):
    time = np.datetime64("2021-01-01T00", "ns") + np.arange(path.hours) * np.timedelta64(1, "h")
    return xr.Dataset({"ghi": ("time", ghi), "dhi": ("time", dhi)}, coords={"time": time})


# --- the hour's sun inside the hour ---------------------------------------------------------------


@pytest.mark.parametrize("per_hour", [1, 2, 4])
def test_each_hour_keeps_its_energy_exactly(greensboro, per_hour):
    path = climate_sun_path(greensboro, per_hour)
    sun = pl.sub_hourly(greensboro, path)
    assert by_hour(sun.global_horizontal, path) == pytest.approx(greensboro.ghi.values, rel=1e-13, abs=1e-12)
    assert (sun.diffuse >= 0).all() and (sun.beam_normal >= 0).all()
    expected = np.minimum(greensboro.dhi.values, greensboro.ghi.values)
    excess = by_hour(sun.diffuse, path) - expected
    assert (excess > -1e-10).all()
    assert excess.sum() * 3600 == pytest.approx(sun.energy_made_diffuse, rel=1e-9, abs=1e-3)
    assert (excess > 1e-9).sum() == sun.hours_beam_capped


def test_beam_agrees_with_the_file_where_the_sun_stands_well(greensboro, greensboro_path):
    sun = pl.sub_hourly(greensboro, greensboro_path)
    beam = by_hour(sun.beam_normal, greensboro_path)
    high = by_hour(greensboro_path.up, greensboro_path) > 0.25
    dni = greensboro.dni.values
    # The file's own closure (ghi = dhi + dni cos z) is good to a few percent, not better.
    assert beam[high].sum() == pytest.approx(dni[high].sum(), rel=0.01)
    assert np.median(np.abs(beam - dni)[high & (dni > 100)] / dni[high & (dni > 100)]) < 0.02


def test_light_without_sun_in_the_sky_is_kept_and_counted(greensboro_path):
    ghi = np.full(8760, 30.0)
    sun = pl.sub_hourly(horizontal(greensboro_path, ghi, 0.2 * ghi), greensboro_path)
    dark = by_hour(greensboro_path.lit_fraction, greensboro_path) == 0
    assert sun.hours_without_sun_in_sky == dark.sum() > 3000
    assert by_hour(sun.global_horizontal, greensboro_path) == pytest.approx(ghi, rel=1e-13)
    assert by_hour(sun.diffuse, greensboro_path)[dark] == pytest.approx(ghi[dark], rel=1e-13)


def test_sunrise_and_sunset_stay_inside_the_lit_part(greensboro, greensboro_path):
    sun = pl.sub_hourly(greensboro, greensboro_path)
    dark = greensboro_path.lit_fraction == 0
    lit_hours = np.repeat(by_hour(greensboro_path.lit_fraction, greensboro_path) > 0, 2)
    assert (sun.global_horizontal[dark & lit_hours] == 0).all()


def test_diffuse_above_global_is_cut_and_counted(greensboro_path):
    sun = pl.sub_hourly(
        horizontal(greensboro_path, np.full(8760, 10.0), np.full(8760, 12.0)), greensboro_path
    )
    assert sun.hours_diffuse_above_global == 8760
    assert sun.beam_normal.max() == 0.0


def test_wrong_path_is_refused(greensboro):
    with pytest.raises(ValueError, match="covers 2 hours, the weather 8760"):
        pl.sub_hourly(greensboro, sun_path(0.0, 0.0, 0.0, greensboro.time.values[:2], 2))


@pytest.mark.parametrize("tilt", TILTS)
def test_low_sun_cannot_explode(greensboro_path, tilt):
    # All beam, 200 W/m2 in every hour: at sunrise that would be tens of kW/m2 normal to the beam.
    path = greensboro_path
    sun = pl.sub_hourly(horizontal(path, np.full(8760, 200.0), np.zeros(8760)), path)
    outside = path.extraterrestrial
    assert (sun.beam_normal <= outside * (1 + 1e-12)).all()
    assert sun.hours_beam_capped > 100
    assert sun.energy_made_diffuse > 0
    for azimuth in (math.pi / 2, math.pi, 1.5 * math.pi):
        plane = pl.plane_sun(sun, path, tilt, azimuth, 0.0)
        assert (plane.beam + plane.circumsolar <= outside * path.lit_fraction * (1 + 1e-9)).all()


@settings(deadline=None, derandomize=True, max_examples=60)
@given(
    st.floats(1e-4, 1.0),
    st.floats(0.0, 1400.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, math.pi / 2),
    st.floats(0.0, 2 * math.pi),
)
def test_beam_and_circumsolar_stay_below_the_extraterrestrial(up, ghi, part, tilt, azimuth):
    diffuse = part * ghi
    normal = min((ghi - diffuse) / up, 1361.0)
    share = pl.circumsolar_share(normal, diffuse, 1361.0, up)
    assert 0.0 <= share <= 1.0
    assert normal + diffuse * share / up <= 1361.0 * (1 + 1e-12)


# --- transposition -------------------------------------------------------------------------------


@pytest.mark.parametrize("tilt", TILTS)
@pytest.mark.parametrize("azimuth", [math.pi, 1.0, 5.5])
def test_transposition_agrees_with_pvlib(greensboro, greensboro_path, tilt, azimuth):
    path = greensboro_path
    plane = pl.plane_sun(greensboro, path, tilt, azimuth, 0.25)
    sun = plane.horizontal
    whole = (path.lit_fraction == 1.0) & (sun.global_horizontal > 0)
    degrees = [np.degrees(x) for x in (tilt, azimuth, path.zenith[whole], path.azimuth[whole])]
    assert np.degrees(plane.incidence[whole]) == pytest.approx(pvlib.irradiance.aoi(*degrees), abs=1e-5)
    parts = pvlib.irradiance.haydavies(
        degrees[0],
        degrees[1],
        sun.diffuse[whole],
        sun.beam_normal[whole],
        path.extraterrestrial[whole],
        degrees[2],
        degrees[3],
        return_components=True,
    )
    cosine = np.maximum(np.cos(plane.incidence[whole]), 0)
    assert plane.beam[whole] == pytest.approx(sun.beam_normal[whole] * cosine, rel=1e-9, abs=1e-9)
    # pvlib stops dividing below 1 degree of height; our own bound acts only on a very low sun.
    high = path.up[whole] > 0.04
    assert plane.circumsolar[whole][high] == pytest.approx(parts["poa_circumsolar"][high], rel=1e-9, abs=1e-7)
    assert plane.sky_diffuse[whole][high] == pytest.approx(parts["poa_isotropic"][high], rel=1e-9, abs=1e-9)
    ground = pvlib.irradiance.get_ground_diffuse(degrees[0], sun.global_horizontal, 0.25)
    assert plane.ground == pytest.approx(ground, rel=1e-12, abs=1e-12)


def test_a_horizontal_plane_sees_the_file(greensboro, greensboro_path):
    plane = pl.plane_sun(greensboro, greensboro_path, 0.0, 0.0, 0.3)
    assert by_hour(plane.total, greensboro_path) == pytest.approx(greensboro.ghi.values, rel=1e-12, abs=1e-10)


def test_albedo_may_change_by_the_hour(greensboro, greensboro_path):
    albedo = np.where(np.arange(8760) < 1000, 0.8, 0.2)
    changing = pl.plane_sun(greensboro, greensboro_path, 1.0, math.pi, albedo)
    snow = pl.plane_sun(greensboro, greensboro_path, 1.0, math.pi, 0.8)
    bare = pl.plane_sun(greensboro, greensboro_path, 1.0, math.pi, 0.2)
    assert (changing.ground[:2000] == snow.ground[:2000]).all()
    assert (changing.ground[2000:] == bare.ground[2000:]).all()


DAYS = ("2021-01-15", "2021-03-21", "2021-06-21", "2021-10-05")


@pytest.fixture(scope="module", params=[(24.4, 3.0), (24.4, 6.0), (45.0, 3.0)], ids=str)
def clear_minutes(request):
    """Clear days minute by minute (Ineichen's clear sky in pvlib) and the hours that a file would hold."""
    latitude, turbidity = request.param
    place = (latitude, 54.6, 5.0)
    hours = np.concatenate([np.datetime64(d, "ns") + np.arange(24) * np.timedelta64(1, "h") for d in DAYS])
    path = sun_path(*place, hours, 60)
    zenith = np.minimum(np.degrees(path.zenith), 89.99)
    airmass = pvlib.atmosphere.get_relative_airmass(zenith)
    sky = pvlib.clearsky.ineichen(zenith, airmass, turbidity, dni_extra=path.extraterrestrial)
    ghi = sky["ghi"] * (path.lit_fraction > 0)
    dhi = np.minimum(sky["dhi"], ghi)
    return place, hours, path, ghi, dhi


@pytest.mark.parametrize(
    ("tilt", "azimuth", "tolerance"),
    [(0.52, math.pi, 0.003), (0.52, math.pi / 2, 0.006), (1.2, 1.5 * math.pi, 0.012)],
)
def test_day_on_the_plane_agrees_with_minutes(clear_minutes, tilt, azimuth, tolerance):
    place, hours, minutes, ghi, dhi = clear_minutes
    path = sun_path(*place, hours, 2)
    mean = [x.reshape(-1, 60).mean(axis=1) for x in (ghi, dhi)]
    coarse = pl.plane_sun(horizontal(path, *mean), path, tilt, azimuth, 0.2)
    normal = np.where(minutes.up > 0, (ghi - dhi) / np.maximum(minutes.up, 1e-6), 0.0)
    sun = pl.HorizontalSun(normal, dhi, ghi, 0, 0, 0.0, 0)
    fine = pl.plane_sun(sun, minutes, tilt, azimuth, 0.2)
    days = [pl.absorbed_sun(p, LOW_IRON, 0.95)[0].reshape(4, -1).mean(axis=1) for p in (coarse, fine)]
    print(place, tilt, azimuth, days[0] / days[1] - 1)
    assert days[0] == pytest.approx(days[1], rel=tolerance)


# --- glazing -------------------------------------------------------------------------------------


def test_face_reflectance_meets_the_textbook():
    # Duffie and Beckman, example 5.1.1 (values from memory): n 1.526, 0.0434 at normal incidence, and at
    # 60 degrees 0.185 and 0.001, mean 0.093.
    assert pl.face_reflectances(1.0, 1.526) == pytest.approx((0.0434, 0.0434), abs=5e-5)
    across, along = pl.face_reflectances(0.5, 1.526)
    assert (across, along) == pytest.approx((0.185, 0.001), abs=6e-4)
    assert 0.5 * (across + along) == pytest.approx(0.093, abs=5e-4)


def test_cover_meets_the_textbook():
    # Duffie and Beckman, example 5.3.1 (from memory): 2.3 mm, K 32 1/m, 60 degrees: one pass 0.9145.
    inside = pl.refraction_cosine(0.5, 1.526)
    assert math.degrees(math.acos(inside)) == pytest.approx(34.58, abs=0.01)
    assert math.exp(-32.0 * 0.0023 / inside) == pytest.approx(0.9145, abs=5e-5)
    through, back = pl.cover_beam(0.5, 0.0023, 1.526, 32.0)
    assert through == pytest.approx(0.768, abs=5e-4)  # worked by hand from the two polarisations
    assert 1.0 - through - back == pytest.approx(1.0 - 0.9145, abs=2e-3)


@pytest.mark.parametrize("extinction", [0.0, 4.0, 32.0])
def test_first_face_and_absorption_agree_with_pvlib(extinction):
    # pvlib's physical model is the light that has entered and crossed once: (1 - r) exp(-K L / cos).
    n, thickness = 1.526, 0.0032
    for degrees in np.arange(0.0, 89.5, 2.5):
        cosine = math.cos(math.radians(degrees))
        inside = pl.refraction_cosine(cosine, n)
        entered = 1.0 - 0.5 * sum(pl.face_reflectances(cosine, n))
        normal = 1.0 - pl.face_reflectances(1.0, n)[0]
        ours = entered / normal * math.exp(-extinction * thickness * (1 / inside - 1))
        theirs = pvlib.iam.physical(degrees, n=n, K=extinction, L=thickness)
        assert ours == pytest.approx(float(theirs), rel=1e-10)


def test_internal_passes_add_up_to_an_explicit_series():
    for degrees in (0.0, 35.0, 60.0, 80.0, 89.0):
        cosine = math.cos(math.radians(degrees))
        once = math.exp(-32.0 * 0.004 / pl.refraction_cosine(cosine, 1.526))
        through = back = 0.0
        for face in pl.face_reflectances(cosine, 1.526):
            ray = 1.0 - face
            back += face / 2
            for bounce in range(200):
                ray *= once
                if bounce % 2 == 0:
                    through += ray * (1.0 - face) / 2
                else:
                    back += ray * (1.0 - face) / 2
                ray *= face
        assert pl.cover_beam(cosine, 0.004, 1.526, 32.0) == pytest.approx((through, back), rel=1e-12)


@settings(deadline=None, derandomize=True, max_examples=200)
@given(
    st.floats(0.0, 1.0),
    st.floats(0.0, 0.02),
    st.floats(1.01, 2.0),
    st.floats(0.0, 60.0),
    st.floats(0.0, 1.0),
)
def test_no_light_is_made_or_lost(cosine, thickness, n, extinction, absorptance):
    through, back = pl.cover_beam(cosine, thickness, n, extinction)
    assert 0.0 <= through <= 1.0 and 0.0 <= back <= 1.0 and through + back <= 1.0 + 1e-12
    absorber, cover = pl.absorbed_shares(cosine, thickness, n, extinction, absorptance)
    back_through, back_reflected = pl.cover_beam(0.5, thickness, n, extinction)
    escaping = through * (1 - absorptance) / (1 - (1 - absorptance) * back_reflected) * back_through
    assert absorber + cover + back + escaping == pytest.approx(1.0, abs=1e-9)
    assert absorber >= 0.0 and cover >= -1e-12


def test_absorber_share_meets_the_textbook_rule_of_thumb():
    # Duffie and Beckman, section 5.5: (tau alpha) is close to 1.01 tau alpha for practical collectors.
    through, _ = pl.cover_beam(math.cos(math.radians(50)), 0.0023, 1.526, 16.1)
    absorber, _ = pl.absorbed_shares(math.cos(math.radians(50)), 0.0023, 1.526, 16.1, 0.93)
    assert absorber / (through * 0.93) == pytest.approx(1.01, abs=0.003)


@pytest.mark.parametrize("tilt_degrees", [0, 15, 30, 45, 60, 75, 90])
def test_effective_angles_agree_with_an_integral_over_the_sky(tilt_degrees):
    tilt = math.radians(tilt_degrees)

    def modifier(degrees):
        cosines = np.cos(np.radians(degrees))
        values = [pl.cover_beam(float(c), *LOW_IRON)[0] for c in np.ravel(cosines)]
        return np.array(values).reshape(np.shape(degrees))

    def marion(region):
        return float(pvlib.iam.marion_integrate(modifier, tilt_degrees, region, num=180))

    sky = pl.cover_beam(math.cos(pl.effective_sky_angle(tilt)), *LOW_IRON)[0]
    assert sky == pytest.approx(marion("sky"), abs=0.003)
    if tilt_degrees > 0:  # a level plane sees no ground
        ground = pl.cover_beam(math.cos(pl.effective_ground_angle(tilt)), *LOW_IRON)[0]
        assert ground == pytest.approx(marion("ground"), abs=0.005)


def test_absorbed_sun_weights_each_part_at_its_own_angle(greensboro, greensboro_path):
    plane = pl.plane_sun(greensboro, greensboro_path, 0.6, math.pi, 0.2)
    absorber, glazing = pl.absorbed_sun(plane, LOW_IRON, 0.95)
    i = int(np.argmax(plane.beam))
    shares = [
        pl.absorbed_shares(math.cos(angle), *LOW_IRON, 0.95)
        for angle in (plane.incidence[i], pl.effective_sky_angle(0.6), pl.effective_ground_angle(0.6))
    ]
    light = (plane.beam[i] + plane.circumsolar[i], plane.sky_diffuse[i], plane.ground[i])
    assert absorber[i] == pytest.approx(sum(x * s[0] for x, s in zip(light, shares, strict=True)), rel=1e-12)
    assert glazing[i] == pytest.approx(sum(x * s[1] for x, s in zip(light, shares, strict=True)), rel=1e-12)
    assert (absorber + glazing <= plane.total * (1 + 1e-12)).all()
    assert absorber.sum() / plane.total.sum() == pytest.approx(0.85, abs=0.04)


# --- the continuous curve ------------------------------------------------------------------------


def hour_energy(nodes, per_hour):
    pieces = 0.5 * (nodes[:-1] + nodes[1:])
    return pieces.reshape(-1, per_hour).sum(axis=1)


IRRADIANCE = st.one_of(st.just(0.0), st.just(1200.0), st.floats(1e-6, 1500.0))


@settings(deadline=None, derandomize=True, max_examples=400)
@given(st.integers(2, 6), st.data())
def test_curve_keeps_hours_and_never_dips_below_zero(per_hour, data):
    hours = data.draw(st.integers(1, 12))
    size = hours * per_hour
    means = np.array(data.draw(st.lists(IRRADIANCE, min_size=size, max_size=size)))
    if data.draw(st.booleans()):
        means = np.repeat(means[:hours], per_hour)
    nodes = pl.linear_nodes(means, per_hour)
    assert nodes.shape == (size + 1,)
    assert (nodes >= 0.0).all()
    wanted = means.reshape(hours, per_hour).sum(axis=1)
    assert hour_energy(nodes, per_hour) == pytest.approx(wanted, rel=1e-12, abs=0.0)
    for hour in np.flatnonzero(wanted == 0.0):
        assert (nodes[hour * per_hour : (hour + 1) * per_hour + 1] == 0.0).all()


def test_curve_of_a_jump_from_dark_to_full():
    means = np.repeat([0.0, 1200.0, 0.0, 1200.0, 1200.0], 2)
    nodes = pl.linear_nodes(means, 2)
    assert hour_energy(nodes, 2) == pytest.approx([0, 2400, 0, 2400, 2400], rel=1e-12)
    assert nodes[:5].tolist() == [0, 0, 0, 2400, 0]


def test_curve_of_a_straight_climb_is_straight():
    means = 50.0 + 10.0 * np.arange(24)
    nodes = pl.linear_nodes(means, 2)
    assert nodes[2:-2] == pytest.approx((45.0 + 10.0 * np.arange(25))[2:-2], rel=1e-13)


def test_curve_of_a_real_year_keeps_every_hour(greensboro, greensboro_path):
    plane = pl.plane_sun(greensboro, greensboro_path, 0.52, math.pi, 0.2)
    absorber, _ = pl.absorbed_sun(plane, LOW_IRON, 0.95)
    nodes = pl.linear_nodes(absorber, 2)
    assert (nodes >= 0).all()
    wanted = absorber.reshape(-1, 2).sum(axis=1)
    assert hour_energy(nodes, 2) == pytest.approx(wanted, rel=1e-12, abs=1e-300)
    print("highest node", nodes.max(), "highest mean", absorber.max())
    assert nodes.max() < 1.35 * absorber.max()


def test_half_hours_are_needed():
    with pytest.raises(ValueError, match="2 or more"):
        pl.linear_nodes(np.ones(24), 1)
