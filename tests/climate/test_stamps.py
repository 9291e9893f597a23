"""Clocks of a table's stamps: standard time, UTC, hours ahead of it, and zones with summer time."""

import datetime
import zoneinfo
from pathlib import Path

import numpy as np
import pytest

from welkinwell.climate.stamps import clock_problem, instants_of, step_of
from welkinwell.climate.weather_file import WeatherText
from welkinwell.errors import ClimateError, FileError

TEXT = WeatherText(Path("log.csv"), (), "")


def read(cells, utc_offset=1.0, **options):
    return instants_of(TEXT, list(cells), list(range(1, len(cells) + 1)), options, utc_offset)


def local(text, hours=0.0):
    """Seconds since 1970 of a stamp on the site's standard time [s]."""
    return (
        datetime.datetime.fromisoformat(text) - datetime.datetime(1970, 1, 1)
    ).total_seconds() + 3600 * hours


@pytest.mark.parametrize(
    ("clock", "ahead"),
    [("local", 1.0), ("UTC", 0.0), ("utc", 0.0), ("UTC+02:00", 2.0), ("GMT-3", -3.0), ("UTC+0530", 5.5)],
)
def test_a_clock_without_summer_time(clock, ahead):
    assert clock_problem(clock, "clock") is None
    assert read(["2024-07-01T12:00"], clock=clock)[0] == local("2024-07-01T12:00", 1.0 - ahead)


def test_an_offset_in_the_stamp_wins():
    assert read(["2024-07-01T12:00+05:00"], clock="UTC")[0] == local("2024-07-01T08:00")


def every_half_hour(zone, first, count):
    """Stamps as a clock with summer time shows them, and the instants they stand for on standard time."""
    begin = datetime.datetime.fromisoformat(first).replace(tzinfo=datetime.UTC)
    instants = [begin + datetime.timedelta(minutes=30 * k) for k in range(count)]
    shown = [one.astimezone(zoneinfo.ZoneInfo(zone)).strftime("%d.%m.%Y %H:%M") for one in instants]
    return shown, np.array([one.timestamp() for one in instants])


@pytest.mark.parametrize(
    ("zone", "utc_offset", "first"),
    [
        ("Europe/Madrid", 1.0, "2024-03-31T00:00"),  # 02:00 is 03:00
        ("Europe/Madrid", 1.0, "2024-10-26T22:00"),  # 02:00 to 03:00 comes twice
        ("America/Los_Angeles", -8.0, "2024-11-03T07:00"),
        ("Australia/Adelaide", 9.5, "2024-04-06T14:00"),
        ("Europe/Dublin", 0.0, "2024-10-27T00:00"),
    ],
)
def test_a_zone_with_summer_time(zone, utc_offset, first):
    shown, instants = every_half_hour(zone, first, 12)
    found = read(shown, utc_offset, clock=zone, time_format="%d.%m.%Y %H:%M")
    np.testing.assert_array_equal(found, instants + 3600.0 * utc_offset)
    seconds, order = step_of(TEXT, found, list(range(12)))
    assert seconds == 1800.0 and order.tolist() == list(range(12))


def test_summer_time_without_its_zone_is_told_what_to_do():
    shown, _ = every_half_hour("Europe/Madrid", "2024-10-26T22:00", 12)
    found = read(shown, time_format="%d.%m.%Y %H:%M")
    with pytest.raises(ClimateError, match=r'time that came before.*as in clock = "Europe/Madrid"'):
        step_of(TEXT, found, list(range(12)))


def test_a_zone_of_another_place_is_refused():
    with pytest.raises(FileError, match="clock: got 'Europe/Athens', whose standard time is \\+2 h from UTC"):
        read(["2024-07-01T12:00"], 1.0, clock="Europe/Athens")


@pytest.mark.parametrize(
    ("clock", "words"),
    [
        ("Europe/Madird", "Did you mean 'Europe/Madrid'?"),
        ("locla", "Did you mean 'local'?"),
        ("UTC+25", "expected local, UTC, UTC+02:00, or a time zone"),
        (3, "got 3"),
        ("", "got ''"),
        ("../etc/passwd", "got '../etc/passwd'"),
    ],
)
def test_a_wrong_clock_is_told(clock, words):
    assert words in str(clock_problem(clock, "case.toml, [site.columns], clock"))


@pytest.mark.parametrize("time_format", [None, "%d/%m/%Y", "%Q", "%d%d", "%"])
def test_a_stamp_that_cannot_be_read_names_line_and_form(time_format):
    options = {} if time_format is None else {"time_format": time_format}
    with pytest.raises(ClimateError, match=r"log\.csv, line 2, time: got 'noon'; expected a time as"):
        read(["noon"], **options)
