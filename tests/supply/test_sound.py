"""Sound by hand, by published tables, and in words."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from welkinwell.supply.sound_level import (
    BANDS,
    Noise,
    SoundPlace,
    a_weighting_of_fan,
    added,
    fan_level,
    heard,
    level_at,
    pump_level,
    quiet_distance,
    read_sound,
    source_of,
    sources_of,
    together,
)

FAN = Noise("Fan", "fan", "fan", "", 50.0, 0.5, 80.0)


def test_a_fan_by_hand():
    """40 + 10 lg 1 + 20 lg 100 = 80; half the flow 3.01 less, half the pressure 6.02 less."""
    assert fan_level(1.0, 100.0) == pytest.approx(80.0)
    assert fan_level(0.5, 100.0) == pytest.approx(76.990, abs=1e-3)
    assert fan_level(1.0, 50.0) == pytest.approx(73.979, abs=1e-3)
    assert fan_level(0.0, 50.0) == fan_level(1.0, 0.0) == -math.inf


def test_the_formula_agrees_with_the_source_s_own_other_forms():
    """ToolBoxFan gives three: by motor power S [kW] and p, by Q and p, and by S and Q. With S = Q p/1000/eta
    the first two are the same at eta = 0.5 (67 + 10 lg(1/eta) - 30 = 40), and so are the other two."""
    flow, pressure = 2.3, 140.0
    power = flow * pressure / 1000.0 / 0.5
    by_power = 67.0 + 10.0 * math.log10(power) + 10.0 * math.log10(pressure)
    by_both = 94.0 + 20.0 * math.log10(power) - 10.0 * math.log10(flow)
    assert fan_level(flow, pressure) == pytest.approx(by_power, abs=0.05)
    assert fan_level(flow, pressure) == pytest.approx(by_both, abs=0.1)


def test_the_same_formula_in_inches_and_cubic_feet():
    """ToolBoxFan: 55 + 10 lg q + 20 lg h, q in ft3/min, h in inches of water, in whole decibels."""
    cubic_feet, inches = 1.0 / 4.71947e-4, 100.0 / 249.089
    assert fan_level(1.0, 100.0) == pytest.approx(
        55.0 + 10.0 * math.log10(cubic_feet) + 20.0 * math.log10(inches), abs=0.5
    )


def test_a_weighted_fan_by_hand():
    """Axial bands with A: -33.2, -25.1, -15.6, -10.2, -8, -9.8, -15, -19.1; as energies 0.00048, 0.00309,
    0.02754, 0.09550, 0.15849, 0.10471, 0.03162, 0.01230 with the sum 0.43373, which is -3.63 dB."""
    assert a_weighting_of_fan("axial") == pytest.approx(10.0 * math.log10(0.43373), abs=0.005)
    assert a_weighting_of_fan("forward_curved") < a_weighting_of_fan("backward_curved") < -5.0
    # the bands are parts of the whole: together they are no more than a decibel or two from it
    for kind, bands in BANDS.items():
        assert abs(added(bands)) < 2.5, kind


def test_equal_sources_add_three_decibels():
    assert added([50.0, 50.0]) == pytest.approx(53.0103, abs=1e-4)
    assert added([50.0] * 10) == pytest.approx(60.0)
    assert added([60.0, 50.0]) == pytest.approx(60.414, abs=1e-3)
    assert added([]) == -math.inf
    place = SoundPlace()
    assert heard(60.0, 2, place) - heard(60.0, 1, place) == pytest.approx(3.0103, abs=1e-4)


def test_spreading_against_a_published_table():
    """PanasonicPlanning2022, page 99: what is taken off at Q and r, rounded to half a decibel; its example of
    67 dB(A) in a quarter space: 42 at 10 m, 36 at 20 m."""
    table = {
        "ground": {1: -8, 2: -14, 4: -20, 5: -22, 6: -23.5, 8: -26, 10: -28, 12: -29.5, 15: -31.5},
        "wall": {1: -5, 2: -11, 4: -17, 5: -19, 6: -20.5, 8: -23, 10: -25, 12: -26.5, 15: -28.5},
        "corner": {1: -2, 2: -8, 4: -14, 5: -16, 6: -17.5, 8: -20, 10: -22, 12: -23.5, 15: -25.5},
    }
    for reflecting, row in table.items():
        for distance, taken in row.items():
            assert level_at(0.0, distance, reflecting) == pytest.approx(taken, abs=0.3), (
                reflecting,
                distance,
            )
    assert round(level_at(67.0, 10.0, "wall")) == 42
    assert round(level_at(67.0, 20.0, "wall")) == 36
    # the whole sphere of ISO 9613-2: 20 lg r + 11
    assert level_at(0.0, 10.0, "none") == pytest.approx(-31.0, abs=0.01)


def test_a_pump_by_hand():
    """DA1995: 72 dB(A) at 3 ft for 1 hp; a hemisphere of 0.9144 m has 5.253 m2, 7.20 dB. Ten times the power
    is 10 dB more."""
    assert pump_level(745.7) == pytest.approx(72.0 + 7.204, abs=0.005)
    assert pump_level(7457.0) == pytest.approx(pump_level(745.7) + 10.0)
    assert level_at(pump_level(745.7), 0.9144) == pytest.approx(72.0, abs=1e-6)


def test_a_data_sheet_stands_before_every_estimate():
    place = SoundPlace(fan_sound_power=55.0, compressor_sound_power=48.0)
    assert source_of(FAN, place).level == 55.0 and source_of(FAN, place).basis == "the case"
    compressor = Noise("Compressor", "compressor", "cooling", "", 900.0)
    assert source_of(compressor, place).level == 48.0
    assert "no source" in source_of(compressor, SoundPlace()).basis
    whole = sources_of([FAN, compressor], SoundPlace(module_sound_power=62.0))
    assert [source.level for source in whole] == [62.0]
    assert whole[0].noise.meter == "fan,cooling"
    assert sources_of([], SoundPlace(module_sound_power=62.0)) == []  # nothing that moves makes no noise


def test_phases_do_not_add():
    night = source_of(Noise("a", "fan", "fan", "open", 1.0), SoundPlace(fan_sound_power=50.0))
    day = source_of(Noise("b", "fan", "fan", "closed", 1.0), SoundPlace(fan_sound_power=56.0))
    always = source_of(Noise("c", "fan", "other", "", 1.0), SoundPlace(fan_sound_power=50.0))
    assert together([night, day]) == pytest.approx(56.0)
    assert together([night, always]) == pytest.approx(53.01, abs=0.01)
    assert together([night, day, always]) == pytest.approx(added([56.0, 50.0]))
    assert together([]) == -math.inf


@given(level=st.floats(0.0, 120.0), distance=st.floats(0.5, 1e3), limit=st.floats(10.0, 80.0))
def test_at_the_quiet_distance_the_limit_is_met(level, distance, limit):
    place = SoundPlace(distance=distance, night_limit=limit)
    far = quiet_distance(heard(level, 3, place), place)
    assert heard(level, 3, SoundPlace(distance=far, night_limit=limit)) == pytest.approx(limit)


def read(table):
    problems = []
    found = read_sound(table, "case.toml, [sound]", problems)
    return found, [str(problem) for problem in problems]


def test_levels_are_read_with_and_without_their_unit():
    for written in (45, "45", "45 dB", "45 dB(A)", "45 dBA", "45.0dB (A)"):
        found, problems = read({"night_limit": written, "distance": "30 m"})
        assert problems == [] and found.night_limit == 45.0, written
    assert read({})[0] == SoundPlace()


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"distance": "0.1 m"}, ["case.toml, [sound], distance", "0.1 m", "from 0.5 m to 10000 m"]),
        ({"distance": 10}, ["distance", "10"]),
        ({"night_limit": "400 dB(A)"}, ["[sound], night_limit", "400", "from 0 to 120"]),
        ({"fan_sound_power": "loud"}, ["fan_sound_power", "'loud'"]),
        ({"fan_type": "squirrel"}, ["fan_type", "'squirrel'", "'axial'", "'forward_curved'"]),
        ({"reflecting": "snow"}, ["reflecting", "'snow'", "'corner'"]),
        ({"night_limt": 40}, ["'night_limt'", "night_limit"]),
        ([1], ["[sound]", "a table"]),
    ],
)
def test_each_mistake_is_named(table, words):
    found, problems = read(table)
    assert found is None and len(problems) == 1
    assert all(word in problems[0] for word in words), problems
