"""Every column against its neighbours: what is said of one that is scaled, stuck or moved."""

import gzip
import json
import re

import numpy as np
import pytest

from welkinwell.climate import read_climate
from welkinwell.climate.audit_clock import (
    changes,
    crest,
    kink_of_dew_point,
    lag_of_humidity,
    lagged_correlation,
    tide_of,
    tide_of_place,
)
from welkinwell.climate.hourly import weather_entry
from welkinwell.errors import ClimateError

FIRST = 8  # header lines of the EPW file
T, RH, G, B, D, WIND, P = 1, 2, 3, 4, 5, 7, 9  # fields of the PVGIS table


def said(climate):
    """Names to sentences of all warnings and of all notes."""
    return [{w.split(":")[0]: w for w in json.loads(climate.attrs[level])} for level in ("warnings", "notes")]


def columns_changed(lines, first, change, *fields):
    """Change whole columns, each given as numbers and returned as numbers."""
    rows = [line.split(",") for line in lines[first:]]
    for field in fields:
        new = change(np.array([float(row[field]) for row in rows]))
        for row, value in zip(rows, new, strict=True):
            row[field] = f"{value:.4g}" if abs(value) < 9000 else f"{value:.0f}"
    return lines[:first] + [",".join(row) for row in rows]


@pytest.fixture
def changed_epw(epw):
    """Change whole columns of the EPW file; returns the climate."""
    return lambda change, *fields: read_climate(
        epw(lambda lines: columns_changed(lines, FIRST, change, *fields))
    )


@pytest.fixture(scope="module")
def pvgis_lines(data):
    text = gzip.decompress((data / "pvgis_45N_8E_tmy.csv.gz").read_bytes()).decode().splitlines()
    start = next(i for i, line in enumerate(text) if line.startswith("time(UTC)")) + 1
    return text[: start + 8760], start


@pytest.fixture
def changed_pvgis(pvgis_lines, tmp_path):
    """Change whole columns of the PVGIS file, whose one humidity is relative; returns the climate."""

    def write(change, *fields):
        lines, start = pvgis_lines
        path = tmp_path / "typical.csv"
        path.write_text("\n".join(columns_changed(lines, start, change, *fields)) + "\n")
        return read_climate(path)

    return write


def half(column):
    return 0.5 * column


def held(column):
    return np.full(column.size, round(column.mean(), 1))


def later(column):
    return np.roll(column, 3)


@pytest.mark.parametrize("fault", [half, held, later])
@pytest.mark.parametrize("fields", [(7,), (8,)])
def test_one_of_two_humidities_is_told_beside_the_other(changed_epw, fault, fields):
    try:
        warnings, _ = said(changed_epw(fault, *fields))
    except ClimateError as refusal:  # a dew point above the air
        assert "dew point" in str(refusal)
        return
    words = warnings["humidity_mismatch"]
    assert "weather.epw, relative humidity beside dew point: got" in words
    assert "% of hours over 5 points apart" in words and "expected at most 5 % of hours" in words
    assert "Compare some rows with another source" in words


def test_halved_humidity_alone_is_told_by_its_dampest_hours(changed_pvgis):
    warnings, _ = said(changed_pvgis(half, RH))
    assert "typical.csv, relative humidity: got air never damper than 50 %" in warnings["humidity_level"]
    assert "expected over 65 % in some hours" in warnings["humidity_level"]
    assert "halved" in warnings["humidity_level"]


@pytest.mark.parametrize(("move", "words"), [(3, "3 h later"), (-3, "3 h earlier")])
def test_moved_humidity_answers_temperature_too_late_or_too_early(changed_pvgis, move, words):
    warnings, _ = said(changed_pvgis(lambda column: np.roll(column, move), RH))
    assert words in warnings["humidity_clock"]
    assert "relative humidity beside temperature" in warnings["humidity_clock"]


@pytest.mark.parametrize(
    ("field", "label"),
    [(T, "temperature"), (RH, "relative humidity"), (WIND, "wind speed")],
)
def test_a_column_that_never_moves_is_told(changed_pvgis, field, label):
    warnings, _ = said(changed_pvgis(held, field))
    assert f"typical.csv, {label}: got" in warnings["stuck_column"]
    assert "in every hour of the year; expected a value that changes" in warnings["stuck_column"]


def test_pressure_of_the_elevation_all_year_is_a_note_and_any_other_a_warning(changed_pvgis):
    warnings, notes = said(changed_pvgis(lambda column: np.full(column.size, 98400.0), P))
    assert "stuck_column" not in warnings
    assert "got 98400 Pa in every hour" in notes["pressure_filled"]
    assert "this is usual" in notes["pressure_filled"]
    warnings, notes = said(changed_pvgis(lambda column: np.full(column.size, 90000.0), P))
    assert "got 90000 Pa in every hour" in warnings["stuck_column"]
    assert "pressure_elevation" in warnings


def test_halved_pressure_and_pressure_of_sea_level_are_told(changed_pvgis, changed_epw):
    warnings, _ = said(changed_pvgis(half, P))
    assert "pressure_elevation" in warnings
    warnings, _ = said(changed_epw(lambda column: column + 18000.0, 9))  # 1,650 m, with its weather
    words = warnings["pressure_elevation"]
    assert "weather.epw, station pressure: got" in words and "expected 83011 Pa within 2 %" in words
    assert "that of the sea" in words
    warnings, notes = said(changed_pvgis(lambda column: column + 2000.0, P))  # 250 m, reduced to the sea
    assert "pressure_elevation" not in warnings and "that of the sea" in notes["pressure_elevation"]


@pytest.mark.parametrize("move", [3, -3])
def test_moved_pressure_is_noted_by_its_tide(changed_pvgis, changed_epw, move):
    for changed, field in ((changed_pvgis, P), (changed_epw, 9)):
        _, notes = said(changed(lambda column: np.roll(column, move), field))
        assert "station pressure: got a twice-daily wave with crests at" in notes["pressure_clock"]
        assert re.search("moved by about [34] h", notes["pressure_clock"])


@pytest.mark.parametrize("fields", [(G, B, D), (G,), (B,), (D,)])
@pytest.mark.parametrize("fault", [half, held, later])
def test_sun_scaled_held_or_moved_is_told_or_refused(changed_pvgis, fault, fields):
    try:
        warnings, notes = said(changed_pvgis(fault, *fields))
    except ClimateError as refusal:
        assert "sun" in str(refusal) or "radiation" in str(refusal)
        return
    names = {
        "sun_level",
        "sun_closure",
        "stuck_column",
        "sun_limits",
        "diffuse_above_global",
        "diffuse_level",
    }
    assert names & {*warnings, *notes}


def test_halved_sun_is_told_by_its_brightest_hours(changed_pvgis):
    warnings, _ = said(changed_pvgis(half, G, B, D))
    assert "brightest hours reach 5" in warnings["sun_level"] and "halved" in warnings["sun_level"]


def test_sun_that_never_changes_is_refused_by_its_own_words(changed_pvgis):
    with pytest.raises(
        ClimateError, match=r"got 1\d\d W/m2 in every hour, day and night; expected 0 at night"
    ):
        changed_pvgis(held, G)


def test_a_few_hours_brighter_than_clear_are_a_note_and_many_a_warning(changed_pvgis):
    def brighter(hours):
        def change(column):
            column[np.flatnonzero(column > 700.0)[:hours]] = 1180.0  # in January: a low sun
            return column

        return change

    warnings, notes = said(changed_pvgis(brighter(8), B))
    assert "sun_limits" not in warnings
    assert "direct normal sun: got 1180 W/m2, and 8 hours" in notes["sun_limits"]
    assert "0 over what is possible" in notes["sun_limits"]
    assert "nothing was changed" in notes["sun_limits"]
    warnings, _ = said(changed_pvgis(brighter(400), B))
    assert "typical.csv, line" in warnings["sun_limits"] and "LongShi2008" in warnings["sun_limits"]


def test_a_long_spell_at_one_value_is_told_with_its_line(changed_pvgis, pvgis_lines):
    def stuck(column):
        column[2000:2100] = column[2000]
        return column

    warnings, _ = said(changed_pvgis(stuck, T))
    assert "temperature: got" in warnings["stuck_spell"] and "100 hours on end" in warnings["stuck_spell"]
    first = pvgis_lines[1] + 2000  # stuck from this row of the table
    assert f"typical.csv, line {first + 1}, temperature" in warnings["stuck_spell"]
    _, notes = said(changed_pvgis(stuck, P))
    assert "at most 72 hours at one value" in notes["stuck_spell"]


def test_days_of_fog_are_a_note(changed_pvgis):
    def fog(column):
        column[2000:2100] = 99.0
        return column

    warnings, notes = said(changed_pvgis(fog, RH))
    assert "stuck_spell" not in warnings
    assert "relative humidity: got 99 % for 100 hours on end" in notes["stuck_spell"]


def test_moved_temperature_is_noted_by_its_crest(changed_pvgis):
    warnings, notes = said(changed_pvgis(later, T))
    assert (
        "crest at 1" in notes["temperature_clock"] and "expected 12.5 to 16 h" in notes["temperature_clock"]
    )
    assert "humidity_clock" in warnings


def test_untouched_files_have_none_of_these_warnings(weather, data):
    """What the audit says of them: one pressure in steps of 10 hPa."""
    new = {
        *(
            "stuck_column",
            "stuck_spell",
            "humidity_mismatch",
            "humidity_level",
            "humidity_clock",
            "sun_limits",
        ),
        *("sun_level", "diffuse_level", "pressure_elevation", "sun_closure", "sun_clock"),
    }
    noted = {}
    for path in [*weather.glob("*.gz"), *data.glob("*.gz")]:
        warnings, notes = said(read_climate(path))
        assert not new & {*warnings}, path.name
        noted[path.name.split("_")[0]] = sorted(notes)
    assert {name: names for name, names in noted.items() if names} == {"desert": ["stuck_spell"]}


def test_notes_stand_in_the_summary_and_are_shown_by_check(changed_pvgis):
    from welkinwell.cli.check import _weather_lines

    climate = changed_pvgis(later, P)
    assert weather_entry(climate)["notes"][0].startswith("pressure_clock: ")
    assert any(line.startswith("note: pressure_clock: typical.csv") for line in _weather_lines(climate))
    del climate.attrs["notes"]  # a climate made by an earlier version
    assert weather_entry(climate)["notes"] == []


def test_tide_of_a_place_against_66_years_at_copenhagen():
    """Chapman (1969): 225 microbar sin(2 t + 130.8 degrees) at 55.7 N, 12.6 E, mean local time."""
    wave = tide_of_place(55.7, 12.6)
    assert abs(wave) == pytest.approx(22.5, rel=0.05)
    assert crest(wave) == pytest.approx((90.0 - 130.8) / 30.0 % 12.0, abs=0.7)


def test_tide_is_found_under_weather():
    """A known wave of 80 Pa under slow weather of 500 Pa, a trend and a daily wave."""
    rng = np.random.default_rng(3)
    hours = np.arange(8760) % 24 + 0.3
    weather = np.cumsum(rng.normal(0.0, 30.0, 8760))
    p = 1e5 + weather + 60.0 * np.cos(2 * np.pi * (hours - 5.0) / 24.0)
    p = p + 80.0 * np.cos(4 * np.pi * (hours - 9.5) / 24.0)
    wave, error = tide_of(p, hours)
    assert abs(wave) == pytest.approx(80.0, abs=4.0 * error)
    assert crest(wave) == pytest.approx(9.5, abs=0.3)


def test_lags_are_those_that_were_made():
    rng = np.random.default_rng(4)
    a = rng.normal(size=8760)
    match = lagged_correlation(a, np.roll(a, 2), 4)
    assert int(np.argmax(match)) - 4 == 2 and match.max() == pytest.approx(1.0)
    temperature = 290.0 + np.convolve(a, np.ones(5), "same")
    assert lag_of_humidity(temperature, -0.01 * np.roll(temperature, -3)) == -3
    dew = 0.3 * temperature + rng.normal(size=8760)
    assert kink_of_dew_point(temperature, np.roll(dew, 3))[0] == 3


def test_changes_forget_the_season_and_the_daily_course_and_bridge_gaps():
    hours = np.arange(8760)
    course = 10.0 * np.sin(2 * np.pi * hours / 24.0) + 8.0 * np.sin(2 * np.pi * hours / 8760.0)
    assert np.abs(changes(course)).max() < 0.01
    course[100:103] = np.nan
    assert np.isfinite(changes(course)).all()


def test_a_seeded_sample_of_planted_faults_is_told():
    """Of `python -m benchmarks.audit_faults`, which does the same with 100 files a format."""
    from benchmarks.audit_faults import told
    from benchmarks.weather_formats import FORMATS

    for number in range(9):  # every fault of every column once, every format at least once
        one, words = told([*FORMATS][number % len(FORMATS)], 4995 + number)
        assert words, one


def test_the_full_count_is_kept_and_none_passes_without_a_word():
    from benchmarks.audit_faults import FILES, RESULTS

    kept = json.loads(RESULTS.read_text(encoding="utf-8"))
    assert all(sum(counts.values()) == FILES for counts in kept["formats"].values())
    assert kept["without a word"] == []
