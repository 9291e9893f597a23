"""How loud each kind is, when it is at night, and the limit of the search."""

import math
from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from box_cases import WEATHER
from welkinwell.case import case_from_text
from welkinwell.errors import InputError
from welkinwell.harvesters.kinds import KINDS
from welkinwell.plants.plant import Plant
from welkinwell.plants.prices import own_figures
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies.optimise import Limits, Search, best_design
from welkinwell.studies.sound_of_harvester import noises, running_level, sound_of
from welkinwell.studies.variables import field
from welkinwell.supply.sound_level import SoundPlace, a_weighting_of_fan, added, fan_level, sources_of

SILENT = ("passive_box", "two_stage_box", "dew_condenser")
PLACE = next(WEATHER.glob("coast*.gz"))
CASE = f"""
schema_version = 1
[site]
name = "Somewhere"
weather = "{PLACE.name}"
[demand]
litres_per_day = "20 L/day"
[sound]
distance = "20 m"
night_limit = "35 dB(A)"
[[harvester]]
name = "Machine"
kind = "cooling_coil"
"""


def made(kind, **given):
    material = {"liquid_desiccant": "licl_brine"}.get(kind, "silica_gel_regular_density")
    return KINDS[kind].load()(**given), sorbent(material)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_silent_or_has_sources(kind):
    found = sources_of(noises(*made(kind)), SoundPlace())
    assert (found == []) == (kind in SILENT)
    level = running_level(*made(kind), SoundPlace())
    assert level == 0.0 if kind in SILENT else 15.0 < level < 70.0
    for source in found:
        assert 40.0 < source.level < 95.0, source


@cache
def coil_sources():
    return {s.noise.name: s for s in sources_of(noises(*made("cooling_coil")), SoundPlace())}


def test_a_coil_by_hand():
    """0.1 m2 at 1.2 m/s: 0.12 m3/s against (50 x 1.35 + 30) x 0.8^1.75 Pa at the coil and 0.24 m3/s
    against 40 Pa at the condenser; 2.5 kW of cold by a compressor of 0.4 x 278.15/40 = 2.78 takes 899 W."""
    coil = coil_sources()
    pressure = (50.0 * 1.35 + 30.0) * 0.8**1.75
    for name, flow, p in (("Fan of the coil", 0.12, pressure), ("Fan of the condenser", 0.24, 40.0)):
        noise = coil[name].noise
        assert (noise.volume_flow, noise.pressure) == pytest.approx((flow, p), rel=1e-6)
        by_hand = fan_level(flow, p) + a_weighting_of_fan("axial") + 3.0
        assert coil[name].level == pytest.approx(by_hand)
    assert coil["Compressor"].noise.power == pytest.approx(2500.0 / (0.4 * 278.15 / 40.0), rel=0.01)
    assert coil["Compressor"].level == pytest.approx(60.0 + 10.0 * math.log10(0.899), abs=0.05)
    assert running_level(*made("cooling_coil"), SoundPlace(distance=10.0)) == pytest.approx(
        added(s.level for s in coil.values()) - 27.98, abs=0.01
    )


def test_ten_modules_are_ten_decibels_and_twice_as_far_is_six():
    place = SoundPlace()
    one = running_level(*made("cooling_coil"), place)
    assert running_level(*made("cooling_coil", modules=10), place) == pytest.approx(one + 10.0)
    assert running_level(*made("cooling_coil"), replace(place, distance=20.0)) == pytest.approx(
        one - 6.02, abs=0.01
    )
    assert running_level(*made("cooling_coil"), replace(place, shielding=8.0)) == pytest.approx(one - 8.0)


def test_a_thermoelectric_machine_has_no_compressor_and_open_trays_no_fan():
    peltier, _ = made("cooling_coil", cooling="thermoelectric")
    assert {noise.sort for noise in noises(peltier, None)} == {"fan"}
    by_wind, brine = made("liquid_desiccant")
    assert {noise.sort for noise in noises(by_wind, brine)} == {"pump"}
    by_fan, _ = made("liquid_desiccant", absorber_air="fan")
    assert {noise.sort for noise in noises(by_fan, brine)} == {"pump", "fan"}


class Year(dict):
    """The few entries of a year that the sound asks for: a time and electricity by meter."""

    def __init__(self, **meters):
        time = np.datetime64("2021-01-01T00") + np.arange(48).astype("timedelta64[h]")
        super().__init__({f"electricity_{name}": np.asarray(v) for name, v in meters.items()})
        self.time, self.sizes = time, {"time": time.size}

    def __getitem__(self, name):
        values = self.time if name == "time" else super().__getitem__(name)
        return SimpleNamespace(values=values)


def test_nights_are_told_from_days_by_the_site_s_own_clock():
    """A machine that runs from 9 to 17 h local time, 8 h east of UTC, is heard by day only; one that runs in
    one of eight hours of the night has 9 dB less in the mean than in the loudest hour."""
    coil, _ = made("cooling_coil")
    local = (np.arange(48) + 8) % 24
    day = ((local >= 9) & (local < 17)) * 1e5
    by_day = sound_of(coil, None, Year(coil_fan=day, condenser_fan=day, cooling=day), 8.0, SoundPlace())
    assert by_day.night_hours == 0.0 and by_day.loudest_night == -math.inf
    assert by_day.running > 30.0 and "still at night" in by_day.words()
    assert by_day.warnings("Machine") == []
    assert by_day.as_data()["loudest_night_hour_db_a"] is None
    late = (local == 2) * 1e5
    one_hour = sound_of(coil, None, Year(coil_fan=late, condenser_fan=late, cooling=late), 8.0, SoundPlace())
    assert one_hour.night_hours == pytest.approx(1.0 / 8.0)
    assert one_hour.loudest_night == pytest.approx(one_hour.running)
    assert one_hour.loudest_night - one_hour.night_mean == pytest.approx(9.03, abs=0.01)
    fans = sound_of(coil, None, Year(coil_fan=late, condenser_fan=late, cooling=0 * late), 8.0, SoundPlace())
    assert fans.loudest_night < one_hour.loudest_night


def test_a_night_over_its_limit_is_warned_of():
    coil, _ = made("cooling_coil")
    on = np.full(48, 1e5)
    year = Year(coil_fan=on, condenser_fan=on, cooling=on)
    loud = sound_of(coil, None, year, 0.0, SoundPlace(distance=5.0, night_limit=35.0))
    (said,) = loud.warnings("Machine")
    assert "over the 35 dB(A)" in said and "at 5 m" in said
    (said,) = sound_of(coil, None, year, 0.0, SoundPlace()).warnings("Machine")
    assert "WHO" in said and "[sound]" in said
    assert sound_of(coil, None, year, 0.0, SoundPlace(distance=200.0)).warnings("Machine") == []
    sheet, _ = made("dew_condenser")
    silent = sound_of(sheet, None, year, 0.0, SoundPlace())
    assert silent.words() == "silent: no fan, pump or compressor" and silent.as_data()["silent"]


class Louder(Search):
    """A search in which more air is always more litres, so that only the sound can hold it back."""

    def _figures(self, sorbent_name, values, whole):
        design, material = self.design_of(sorbent_name, values)
        litres = float(values[0]) * 10.0
        return self._all_figures(design, material, litres, 0.1)

    def litres_and_slopes(self, sorbent_name, shares):
        variable = self.variables[0]
        return 10.0 * variable.at(float(shares[0])), np.array([10.0 * (variable.at(1.0) - variable.at(0.0))])


def test_a_tighter_limit_gives_slower_air_and_the_tightest_none():
    """The fans' pressure and flow fall with the air's speed, the compressor stays: below it none is found."""
    site = SimpleNamespace(climate=SimpleNamespace(attrs={"content_hash": ""}))
    case = case_from_text(CASE, PLACE.parent / "case.toml")
    entry = case.harvesters[0]
    about = Plant(case, entry, None, site, None)

    def best(most):
        variables = [field(entry.design, "face_velocity", 0.8, 2.2)]
        limits = Limits({} if most is None else {"sound_level": (None, most)})
        search = Louder(entry.design, [None], site, variables, limits=limits, own_figures=own_figures(about))
        return best_design(search, seed=1).best

    free, forty, tight = best(None), best(40.0), best(37.0)
    assert free.values[0] == pytest.approx(2.2, rel=1e-3) and free.numbers["sound_level"] > 40.0
    assert free.values[0] > forty.values[0] > tight.values[0]
    for found, most in ((forty, 40.0), (tight, 37.0)):
        assert most - 0.3 < found.numbers["sound_level"] <= most
    with pytest.raises(InputError, match="limits that some design keeps"):
        best(25.0)
