"""Passive boxes and states that several tests share."""

from functools import cache
from pathlib import Path

import numpy as np

from welkinwell.climate import read_climate
from welkinwell.harvesters.air import AirRecord, surroundings
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.passive_box.flows import PASSIVE_BOX, box_numbers
from welkinwell.moist_air import saturation_pressure
from welkinwell.sorbents.sorbent import sorbent

WEATHER = Path(__file__).parents[1] / "examples" / "weather"
PLACES = ("coast", "desert", "highland", "tropics")
SILICA = "silica_gel_regular_density"
SIGMA = 5.670374419e-8
SITE_PRESSURE = 95000.0

# Every option of the box that changes which flows exist; "beside" also turns the condenser's outer side.
OPTIONS = {
    "starter": {},
    "front": {"release_face": "front", "front_gap_sealed": False, "cover_opens": True},
    "both above": {"release_face": "both", "front_gap_sealed": False, "condenser_position": "above"},
    "rear, exposed": {"front_gap_sealed": False, "rain_catch": 0.4, "condenser_position": "above"},
    "both, inclined": {"release_face": "both", "front_gap_sealed": False, "gap_circulation": "inclined"},
    "inclined, steep": {
        "gap_circulation": "inclined",
        "tilt": 1.2,
        "open_faces": 2,
        "rain_catch": 0.4,
        "front_insulation": 0.3,
    },
    "beside, bare": {
        "condenser_position": "beside",
        "cover_opens": True,
        "bed_open_emissivity": 0.9,
        "bed_sky_view": 0.6,
        "tilt": 0.5 * np.pi,
    },
}


def box(**fields):
    """A starter box with the vent's temperature given, as `prepare` would."""
    return PassiveBox(**{"vent_temperature": 368.15, **fields})


@cache
def site_of(place):
    return surroundings(read_climate(next(WEATHER.glob(f"{place}*.gz"))))


def numbers_of(design, material=None, pressure=SITE_PRESSURE):
    material = material or sorbent(SILICA)
    return box_numbers(design, material, pressure), material.row


def flows_at(y, air, mode, numbers, row):
    """Flows and slopes of the compiled box at one state."""
    phi, slopes = np.full(37, np.nan), np.zeros((37, 9))
    PASSIVE_BOX.fill_flows(
        np.asarray(y, float), np.asarray(air, float), int(mode), numbers, row, True, phi, slopes
    )
    return phi, slopes


def named(phi):
    return dict(zip([flow.name for flow in PASSIVE_BOX.flows], phi, strict=True))


def steady_air(
    days, *, T=300.0, vapour=1500.0, wind=1.0, sun=0.0, sky=None, pressure=SITE_PRESSURE, rain=0.0, local=0.0
):
    """Air that never changes."""
    sky = SIGMA * T**4 if sky is None else sky
    row = [T, vapour, pressure, wind, sky, 0.8 * sun, 0.03 * sun, sun, rain]
    hours = 24 * days
    return AirRecord(np.tile(row, (2 * hours + 1, 1)).astype(float), 1800.0, pressure, local, None)


def random_states(n, seed):
    """States and surroundings all over the place, in both modes; shapes (n, 9), (n, 9), (n,)."""
    rng = np.random.default_rng(seed)
    Ta = rng.uniform(250.0, 325.0, n)
    Tb = rng.uniform(255.0, 400.0, n)
    Tc = Ta + rng.uniform(-10.0, 30.0, n)
    Tg = Ta + rng.uniform(-15.0, 60.0, n)
    films = rng.uniform(-1e-4, [[1.2], [0.3], [0.3]], (3, n)) * rng.choice([0.01, 1.0], n)
    ps = saturation_pressure(Tb) * rng.uniform(0.005, 1.2, n)
    ps = np.minimum(ps, 0.8 * 7e4)
    pv = rng.uniform(50.0, 40000.0, n)
    # a third of them where condensation begins
    pv[::3] = saturation_pressure(Tc[::3]) + rng.uniform(-5.0, 25.0, len(pv[::3]))
    ps[1::3] = np.minimum(saturation_pressure(Tb[1::3]), 5e4) + rng.uniform(-5.0, 25.0, len(ps[1::3]))
    pressure = rng.uniform(7e4, 1.03e5, n)
    # the gap's far side lies at 2 pv - ps, which the model follows down to half an atmosphere below zero
    ps = np.minimum(ps, 2.0 * pv + 0.45 * pressure)
    y = np.column_stack([Tg, Tb, Tc, rng.uniform(0.005, 0.36, n), *films, ps, pv])
    rest = rng.uniform([[150], [0], [0], [0], [0]], [[450], [900], [40], [1100], [1e-3]], (5, n))
    air = np.column_stack([Ta, rng.uniform(50.0, 5000.0, n), pressure, rng.uniform(0.0, 15.0, n), *rest])
    return y, air, rng.integers(0, 2, n)
